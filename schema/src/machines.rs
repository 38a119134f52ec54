//! Machines: stroke, rate, give.

use crate::kinds::{sent, told};
use crate::vocabulary::{Give, Instant, Reference};

/// What is kept of a machine. Its make does not matter.
#[sent(free)]
pub struct MachineRecord {
    /// Full travel of the needle in millimetres, 0.5 to 6.0.
    #[garde(range(min = 0.5, max = 6.0))]
    pub stroke_mm: f64,
    /// Strokes per second, 10 to 300, as usually run.
    #[garde(range(min = 10.0, max = 300.0))]
    pub rate_hz: f64,
    /// How far the drive yields.
    pub give: Give,
    /// Where it stands; as before if absent.
    pub branch_ref: Option<Reference>,
    /// As it was read; the path says it.
    pub machine_ref: Option<Reference>,
    /// As it was read; the service counts.
    pub version: Option<u64>,
    /// As it was read; the service sets it.
    pub updated_at: Option<Instant>,
}

impl MachineRecord {
    /// A machine of this stroke, rate and give.
    #[must_use]
    pub const fn new(stroke_mm: f64, rate_hz: f64, give: Give) -> Self {
        Self {
            stroke_mm,
            rate_hz,
            give,
            branch_ref: None,
            machine_ref: None,
            version: None,
            updated_at: None,
        }
    }
}

/// A machine as stored.
#[told]
pub struct MachineAsStored {
    /// The studio's reference.
    pub machine_ref: Reference,
    /// Full travel of the needle in millimetres.
    pub stroke_mm: f64,
    /// Strokes per second.
    pub rate_hz: f64,
    /// How far the drive yields.
    pub give: Give,
    /// Where it stands.
    pub branch_ref: Option<Reference>,
    /// Counts the changes, from 1.
    pub version: u64,
    /// When it was last changed.
    pub updated_at: Instant,
}
