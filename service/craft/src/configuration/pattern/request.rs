//! What to simulate, and when it is refused.

use super::super::circumstances::Circumstances;
use super::super::complete::Complete;

/// Most punctures in one pattern.
pub const PUNCTURES_MAX: u32 = 200_000;

/// What the hand draws.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Ground {
    /// A straight stroke.
    Straight {
        /// Its length in mm, 1 to 100.
        length_mm: f64,
    },
    /// A curved hair stroke that lifts off over its last quarter.
    Hair {
        /// Its length in mm, 1 to 30.
        length_mm: f64,
        /// How far its direction turns from end to end, in degrees, 0 to 120.
        bend_deg: f64,
    },
    /// A rectangle, filled in small circles.
    Area {
        /// Its width in mm, 0.5 to 50.
        width_mm: f64,
        /// Its height in mm, 0.5 to 50.
        height_mm: f64,
    },
}

/// How unsteady the hand is. Assumptions; nothing published fixes them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jitter {
    /// How far the hand runs ahead of its pace or falls behind, as a share of
    /// the distance between strokes (standard deviation), 0 to 1.
    pub pace: f64,
    /// How far the group turns around its axis, in degrees (standard
    /// deviation), 0 to 30.
    pub turn_deg: f64,
    /// How far the hand wanders sideways, in mm (standard deviation), 0 to 0.5.
    pub wander_mm: f64,
}

impl Default for Jitter {
    fn default() -> Self {
        Self { pace: 0.15, turn_deg: 5.0, wander_mm: 0.03 }
    }
}

/// What to simulate.
#[derive(Debug, Clone, PartialEq)]
pub struct PatternRequest {
    /// The configuration.
    pub configuration: Complete,
    /// Under which circumstances; their passes count.
    pub circumstances: Circumstances,
    /// What the hand draws.
    pub ground: Ground,
    /// How unsteady the hand is.
    pub jitter: Jitter,
    /// The seed of chance.
    pub seed: u64,
}

/// Why a pattern was not simulated.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum PatternError {
    /// A measure of the ground or the jitter is outside its range.
    #[error("{what} = {found} is outside {low} to {high}")]
    Range {
        /// Which one.
        what: &'static str,
        /// What was given.
        found: f64,
        /// Lowest accepted.
        low: f64,
        /// Highest accepted.
        high: f64,
    },
    /// More punctures than one pattern may have.
    #[error(
        "{found:.0} punctures; at most {most} are simulated: a smaller ground, fewer passes or a faster hand will do"
    )]
    TooMany {
        /// How many it would be.
        found: f64,
        /// How many are accepted.
        most: u32,
    },
}

impl PatternRequest {
    pub(super) fn check(&self, punctures: f64) -> Result<(), PatternError> {
        let Jitter { pace, turn_deg, wander_mm } = self.jitter;
        let mut ranges = vec![
            ("pace", pace, 0.0, 1.0),
            ("turn_degrees", turn_deg, 0.0, 30.0),
            ("wander_mm", wander_mm, 0.0, 0.5),
        ];
        match self.ground {
            Ground::Straight { length_mm } => ranges.push(("length_mm", length_mm, 1.0, 100.0)),
            Ground::Hair { length_mm, bend_deg } => {
                ranges.push(("length_mm", length_mm, 1.0, 30.0));
                ranges.push(("bend_degrees", bend_deg, 0.0, 120.0));
            }
            Ground::Area { width_mm, height_mm } => {
                ranges.push(("width_mm", width_mm, 0.5, 50.0));
                ranges.push(("height_mm", height_mm, 0.5, 50.0));
            }
        }
        let bad = ranges.into_iter().find(|(_, found, low, high)| !(low..=high).contains(&found));
        if let Some((what, found, low, high)) = bad {
            return Err(PatternError::Range { what, found, low, high });
        }
        if f64::from(PUNCTURES_MAX) < punctures {
            return Err(PatternError::TooMany { found: punctures, most: PUNCTURES_MAX });
        }
        Ok(())
    }
}
