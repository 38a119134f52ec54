//! What a plan is: steps, milestones and phases with their days.

use std::sync::Arc;

use etui_schema::vocabulary::aftercare::StepKind;
use jiff::Timestamp;
use jiff::civil::Date;

use super::dating::Placed;
use super::healing::Phase;
use super::milestones::Milestones;
use super::say::Say;
use crate::evidence::Basis;

/// One step of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Stable key, unique within a plan.
    pub key: Arc<str>,
    /// What it is.
    pub kind: StepKind,
    /// First day, counted from the session (day 0).
    pub from_day: i32,
    /// Last day; absent for good.
    pub to_day: Option<i32>,
    /// The shortest the trade asks for, where `to_day` is the longest.
    pub to_day_least: Option<i32>,
    /// Trade sources put it this many days earlier or later.
    pub spread_days: i32,
    /// Whether it is sent; else it stands on the aftercare sheet only.
    pub message: bool,
    /// When it is sent, or begins.
    pub at: Placed,
    /// From this instant on it is overtaken.
    pub latest: Timestamp,
    /// What it says.
    pub say: Say,
    /// Where it comes from.
    pub basis: Vec<Basis>,
    /// The pack that added it, if it is not built in.
    pub pack: Option<Arc<str>>,
}

/// Something to bear in mind with the whole plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Caution {
    /// Stable key.
    pub key: Arc<str>,
    /// What it says.
    pub say: Say,
    /// Where it comes from.
    pub basis: Vec<Basis>,
}

/// Something that was not told.
#[derive(Debug, Clone, PartialEq)]
pub struct Assumed {
    /// Pointer to the field of the request.
    pub pointer: &'static str,
    /// What was taken instead.
    pub say: Say,
}

/// A client's aftercare.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Revision of the rules.
    pub revision: u32,
    /// Local date of the session: day 0.
    pub performed_on: Date,
    /// In the order of their instants.
    pub steps: Vec<Step>,
    /// The dates it works towards.
    pub milestones: Milestones,
    /// How the skin heals meanwhile.
    pub healing: Vec<Phase>,
    /// What to bear in mind.
    pub cautions: Vec<Caution>,
    /// What was not told.
    pub assumed: Vec<Assumed>,
}
