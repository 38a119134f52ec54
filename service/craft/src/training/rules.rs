//! The rule data of practice.

use etui_schema::kinds::loaded;
use etui_schema::vocabulary::DrillLevel;

use crate::rules::{Origin, Parameter};

/// `rules/training.toml`.
#[loaded]
pub(crate) struct Rules {
    pub(super) sign_off: SignOffRules,
    pub(super) progress: ProgressRules,
    pub(super) drills: DrillRules,
    pub(super) way: WayRules,
    pub(super) reading: ReadingRules,
}

#[loaded]
pub(super) struct ReadingRules {
    pub(super) source: Origin,
}

#[loaded]
pub(super) struct WayRules {
    pub(super) steps: Parameter<u8>,
    /// How far a diameter has to be the one that the effect wishes for.
    pub(super) diameter: Parameter<f64>,
}

#[loaded]
pub(super) struct SignOffRules {
    pub(super) diameter_tolerance_mm: Parameter<f64>,
    pub(super) longest_months: Parameter<u8>,
    pub(super) rung_days: Parameter<i32>,
    pub(super) source: Origin,
}

#[loaded]
pub(super) struct ProgressRules {
    pub(super) adequate: Parameter<f64>,
    pub(super) inadequate: Parameter<f64>,
    pub(super) limit: Parameter<f64>,
    pub(super) least_days: Parameter<u32>,
    pub(super) counted_per_day: Parameter<u32>,
    pub(super) horizon: Parameter<u32>,
    pub(super) rounds: Parameter<u32>,
    pub(super) hand_in_days: Parameter<i64>,
    pub(super) doubt_limit: Parameter<f64>,
    pub(super) prior_results: Parameter<f64>,
    pub(super) sources: ProgressSources,
}

#[loaded]
pub(super) struct ProgressSources {
    pub(super) learning: Origin,
    pub(super) kept: Origin,
    pub(super) few: Origin,
}

#[loaded]
pub(super) struct DrillRules {
    pub(super) gap_mm: Parameter<f64>,
    pub(super) waist: Parameter<f64>,
    pub(super) evenness: Parameter<f64>,
    pub(super) cover_tolerance: Parameter<f64>,
    pub(super) bow_tolerance_mm: Parameter<f64>,
    pub(super) closure_mm: Parameter<f64>,
    pub(super) lift_off: Parameter<f64>,
    pub(super) doubled: Parameter<f64>,
    pub(super) regularity_least: Parameter<f64>,
    pub(super) regularity_most: Parameter<f64>,
    pub(super) bare_square: Parameter<f64>,
    pub(super) sources: DrillSources,
    level: Levels,
}

#[loaded]
pub(super) struct DrillSources {
    pub(super) width: Origin,
    pub(super) cover: Origin,
    pub(super) kinds: Origin,
}

#[loaded]
struct Levels {
    first: Level,
    working: Level,
    fine: Level,
}

/// How close a level is held.
#[loaded]
pub(super) struct Level {
    /// Share of the distance that was asked.
    pub(super) spacing: f64,
    /// Spread of a distance or a width over its mean.
    pub(super) cv: f64,
    /// How far a dot or a middle line may stray, in mm.
    pub(super) off_line_mm: f64,
    /// Share of the width that was asked.
    pub(super) width: f64,
    pub(super) source: Origin,
}

impl DrillRules {
    pub(super) const fn level(&self, level: DrillLevel) -> &Level {
        match level {
            DrillLevel::First => &self.level.first,
            DrillLevel::Working => &self.level.working,
            DrillLevel::Fine => &self.level.fine,
        }
    }
}
