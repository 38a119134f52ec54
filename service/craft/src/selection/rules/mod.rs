//! The rule data of selection, read and checked once.
//!
//! | file | holds |
//! |---|---|
//! | `general.toml` | weights, the usual range, how a setting is read, the pulls |
//! | `brows.toml` … `areola.toml` | what each treatment and effect wants |
//! | `notes.toml` | cautions and remarks |
//! | `hints.toml` | working hints |
//! | `views.toml` | where the trade is split |
//! | `../texts/selection.*.toml` | every sentence, behind the keys that the others name |
//!
//! A file that is unreadable, points at an unknown source, or holds a wish
//! or a pull that would break a law of the ranking is refused at the start.

mod general;
mod notes;
mod sentences;
mod views;
mod want;

use etui_schema::vocabulary::{Effect, Treatment};

pub use self::general::Signal;
pub(super) use self::general::{General, Limits, MachineReading, Property, Pull, taper_step};
pub(super) use self::notes::{Hints, Note, NoteKind, StrokeHints, Told, When};
pub(super) use self::views::{School, View};
pub(super) use self::want::{FormWish, SiteWish, Want};
#[cfg(test)]
pub(crate) use self::{
    general::General as GeneralFile,
    notes::{Hints as HintFile, NoteFile},
};
use super::answer::Question;
use super::desirability::Wish;
use crate::evidence::Register;
use crate::rules::{self, RuleFault, RuleFile, rule_file};
use crate::text::Catalogue;

/// What one treatment accepts and wants.
#[derive(Debug, Clone, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct TreatmentRules {
    pub(super) site: SiteWish,
    pub(super) want: Vec<Want>,
}

/// Everything that selection is ruled by.
#[derive(Debug, Clone)]
pub(super) struct Rules {
    pub(super) general: General,
    pub(super) treatments: Vec<TreatmentRules>,
    pub(super) notes: Vec<Note>,
    pub(super) hints: Hints,
    pub(super) views: Vec<View>,
    pub(super) texts: Catalogue,
}

/// The members of the files that hold the key of a text.
const SAYING: &[&str] = &[
    "fits",
    "strains",
    "asks",
    "because",
    "text",
    "text_assumed",
    "dots",
    "short",
    "medium",
    "long",
    "extra_long",
    "lips",
    "question",
    "view",
    "reason",
    "choose",
    "takes",
];

/// The files of the treatments.
const TREATMENTS: &[RuleFile] = &[
    rule_file!("selection/brows.toml"),
    rule_file!("selection/lips.toml"),
    rule_file!("selection/eyeliner.toml"),
    rule_file!("selection/scalp.toml"),
    rule_file!("selection/areola.toml"),
];
const GENERAL: RuleFile = rule_file!("selection/general.toml");

impl Rules {
    /// Reads the files compiled into this build and checks them.
    pub(super) fn builtin(register: &Register) -> Result<Self, RuleFault> {
        let texts = sentences::texts()?;
        let treatments = TREATMENTS
            .iter()
            .map(|file| {
                let rules: TreatmentRules = rules::load_saying(register, &texts, SAYING, *file)?;
                want::check(file.name, &rules)?;
                Ok(rules)
            })
            .collect::<Result<Vec<_>, RuleFault>>()?;
        let found =
            |one: &Treatment| treatments.iter().filter(|t| t.site.treatment == *one).count();
        for treatment in Treatment::ALL {
            let why = format!("{treatment} needs exactly one file");
            RuleFault::unless(found(treatment) == 1, "selection", "", why)?;
        }
        let general: General = rules::load(register, GENERAL)?;
        general.check(GENERAL.name)?;
        let (notes, hints) =
            (rule_file!("selection/notes.toml"), rule_file!("selection/hints.toml"));
        let notes: notes::NoteFile = rules::load_saying(register, &texts, SAYING, notes)?;
        let hints = rules::load_saying(register, &texts, SAYING, hints)?;
        let views = rule_file!("selection/views.toml");
        let views: views::ViewFile = rules::load_saying(register, &texts, SAYING, views)?;
        Ok(Self { general, treatments, notes: notes.note, hints, views: views.view, texts })
    }

    /// What one treatment accepts and wants. Every treatment has its file:
    /// loading refuses anything else.
    pub(super) fn treatment(&self, treatment: Treatment) -> Option<&TreatmentRules> {
        self.treatments.iter().find(|t| t.site.treatment == treatment)
    }
}

impl TreatmentRules {
    /// What an effect wants here; none where the pair makes no sense.
    pub(super) fn want(&self, effect: Effect) -> Option<&Want> {
        self.want.iter().find(|want| want.effect == effect)
    }
}

fn check_wish(file: &str, place: &str, wish: Wish) -> Result<(), RuleFault> {
    wish.check().map_err(|fault| RuleFault::new(file, "", format!("{place}: {fault}")))
}

/// Whether this question may be pulled at at all.
fn pulls(question: Question) -> bool {
    matches!(question, Question::Hand | Question::Machine | Question::Skin)
}
