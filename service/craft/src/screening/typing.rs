//! The limits of skin typing, colour differences and skin tests, read from
//! `rules/screening/typing.toml` with their sources.

use etui_schema::kinds::loaded;
use etui_schema::vocabulary::Phototype;

use super::period::Period;
use super::tone::ToneClass;
use crate::evidence::{Basis, Register};
use crate::rules::{self, Origin, RuleFault, RuleFile, rule_file};

const FILE: RuleFile = rule_file!("screening/typing.toml");

/// Every limit of this area.
#[loaded(PartialEq)]
pub struct Typing {
    /// The ten-question sun-reaction score.
    pub phototype: PhototypeLimits,
    /// Classes of the individual typology angle.
    pub tone: ToneLimits,
    /// Colour differences in words.
    pub difference: DifferenceLimits,
    /// The studio's skin test.
    pub patch_test: PatchTestLimits,
    /// The label of a bottle of pigment.
    pub pigment_label: PigmentLabelGrounds,
}

/// One band of the sun-reaction score.
#[loaded(Copy, PartialEq, Eq)]
pub struct PhototypeBand {
    /// The type.
    pub phototype: Phototype,
    /// Its highest number of points, inclusive.
    pub points: u8,
}

/// Limits of the sun-reaction score.
#[loaded(PartialEq, Eq)]
pub struct PhototypeLimits {
    /// Most points of one answer.
    pub highest_answer: u8,
    /// The bands, lowest first.
    pub up_to: Vec<PhototypeBand>,
    /// How many types on either side are still plausible.
    pub steps_of_doubt: u8,
    /// Source of the bands.
    pub source: Origin,
    /// Source of the doubt.
    pub doubt_source: Origin,
}

/// One class of the individual typology angle.
#[loaded(Copy, PartialEq)]
pub struct ToneLimit {
    /// The class.
    pub class: ToneClass,
    /// It begins above this angle, exclusive.
    pub degrees: f64,
}

/// Classes of the individual typology angle.
#[loaded(PartialEq)]
pub struct ToneLimits {
    /// Lightest first.
    pub above: Vec<ToneLimit>,
    /// The class at and below the last limit.
    pub below_all: ToneClass,
    /// Source of the limits.
    pub source: Origin,
}

/// Colour differences in words, in units of CIEDE2000.
#[loaded(PartialEq)]
pub struct DifferenceLimits {
    /// Below this: the same.
    pub same_below: f64,
    /// Below this: close.
    pub close_below: f64,
    /// Up to and with this: visible; above: different.
    pub visible_up_to: f64,
    /// Source of the limits.
    pub source: Origin,
    /// What they rest on.
    #[serde(rename = "sources")]
    pub rests_on: Vec<Origin>,
}

/// Limits of the studio's skin test.
#[loaded(PartialEq, Eq)]
pub struct PatchTestLimits {
    /// Fewest hours between test and treatment.
    pub at_least_h: i64,
    /// Up to this many hours a test is early: late reactions are missed.
    pub early_until_h: i64,
    /// A result read before this many hours is early too.
    pub reads_from_h: i64,
    /// Source of the hours.
    pub source_timing: Origin,
    /// Source on late reactions.
    pub source_late: Origin,
    /// How long a test counts.
    pub validity: Period,
    /// Shortest and longest validity in use.
    pub validity_range: (Period, Period),
    /// Source of the validity.
    pub source_validity: Origin,
    /// Source on what a test of ink can show.
    pub source_ink: Origin,
}

/// What the check of a bottle's label stands on.
#[loaded(PartialEq, Eq)]
pub struct PigmentLabelGrounds {
    /// Source of the duty.
    pub source_law: Origin,
    /// Source of the list of items.
    pub source_items: Origin,
    /// Source on safety instructions, and on what a label proves.
    pub source_safety: Origin,
    /// Source on passing the label on to the client.
    pub source_pass_on: Origin,
}

impl PatchTestLimits {
    /// What each limit stands on.
    #[must_use]
    pub fn basis(&self) -> Vec<Basis> {
        vec![
            self.source_timing.basis("hours between test and treatment"),
            self.source_late.basis("late reactions"),
            self.source_validity.basis("how long a test counts"),
            self.source_ink.basis("what a test of ink can show"),
        ]
    }
}

impl PigmentLabelGrounds {
    /// What each part of the check stands on.
    #[must_use]
    pub fn basis(&self) -> Vec<Basis> {
        vec![
            self.source_law.basis("what must stand on the label"),
            self.source_items.basis("the list of items"),
            self.source_safety.basis("safety instructions"),
            self.source_pass_on.basis("showing the label to the client"),
        ]
    }
}

impl Typing {
    /// The limits compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] for an unknown source, limits out of order, or a validity
    /// outside its range.
    pub fn builtin(register: &Register) -> Result<Self, RuleFault> {
        let typing: Self = rules::load(register, FILE)?;
        for (holds, why) in [
            (
                typing.phototype.up_to.windows(2).all(|pair| pair[0].points < pair[1].points),
                "points of phototypes must rise",
            ),
            (
                typing.tone.above.windows(2).all(|pair| pair[1].degrees < pair[0].degrees),
                "degrees of tones must fall",
            ),
            (
                typing.difference.same_below < typing.difference.close_below
                    && typing.difference.close_below < typing.difference.visible_up_to,
                "limits of differences must rise",
            ),
            (
                typing.patch_test.validity.covers(typing.patch_test.validity_range.0)
                    && typing.patch_test.validity_range.1.covers(typing.patch_test.validity),
                "the validity of a skin test must lie in its range",
            ),
        ] {
            RuleFault::unless(holds, FILE.name, "", why)?;
        }
        Ok(typing)
    }
}
