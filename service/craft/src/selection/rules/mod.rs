//! The rule data of selection, read and checked once.
//!
//! | file | holds |
//! |---|---|
//! | `general.toml` | weights, the usual range, how a setting is read, the pulls |
//! | `brows.toml` … `areola.toml` | what each treatment and effect wants |
//! | `notes.toml` | cautions and remarks |
//! | `hints.toml` | working hints |
//! | `views.toml` | where the trade is split |
//!
//! A file that is unreadable, points at an unknown source, or holds a wish
//! or a pull that would break a law of the ranking is refused at the start.

mod general;
mod notes;
mod views;
mod want;

use std::sync::Arc;

use etui_schema::vocabulary::{Effect, Treatment};
use serde::de::DeserializeOwned;

pub use self::general::Signal;
pub(super) use self::general::{General, Limits, MachineReading, Property, Pull, taper_step};
pub(super) use self::notes::{Hints, Note, NoteKind, StrokeHints, Told, When};
pub(super) use self::views::{School, View};
pub(super) use self::want::{FormWish, SiteWish, Want};
use super::answer::Question;
use super::desirability::{Wish, WishError};
use crate::evidence::{EvidenceError, Register};
use crate::text::TextError;
use crate::trauma::TraumaError;

/// Why the rule data was refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RulesError {
    /// A file is not readable.
    #[error("selection rules `{file}`: {why}")]
    Unreadable {
        /// Which file.
        file: &'static str,
        /// What the reader said.
        why: String,
    },
    /// A rule points at a source that is not registered.
    #[error(transparent)]
    Evidence(#[from] EvidenceError),
    /// The sentences about measures are faulty.
    #[error(transparent)]
    Texts(#[from] TextError),
    /// The rules of the chair are faulty.
    #[error(transparent)]
    Trauma(#[from] TraumaError),
    /// A wish makes no sense.
    #[error("selection rules, {place}: {fault}")]
    Wish {
        /// Where it stands.
        place: String,
        /// What is wrong.
        fault: WishError,
    },
    /// A pull would let a signal move the choice to both sides.
    #[error("selection rules, pull of {signal:?}: {why}")]
    Pull {
        /// The signal.
        signal: Signal,
        /// What is wrong.
        why: &'static str,
    },
    /// A treatment or a form of it is entered twice or not at all.
    #[error("selection rules, {place}: {why}")]
    Incomplete {
        /// Where.
        place: String,
        /// What is wrong.
        why: &'static str,
    },
}

/// What one treatment accepts and wants.
#[derive(Debug, Clone, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct TreatmentRules {
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
}

/// The files of the treatments.
const TREATMENTS: &[(&str, &str)] = &[
    ("brows", include_str!("../../../rules/selection/brows.toml")),
    ("lips", include_str!("../../../rules/selection/lips.toml")),
    ("eyeliner", include_str!("../../../rules/selection/eyeliner.toml")),
    ("scalp", include_str!("../../../rules/selection/scalp.toml")),
    ("areola", include_str!("../../../rules/selection/areola.toml")),
];

impl Rules {
    /// Reads the files compiled into this build and checks them.
    pub(super) fn builtin(register: &Register) -> Result<Self, RulesError> {
        let treatments = TREATMENTS
            .iter()
            .map(|(file, text)| read::<TreatmentRules>(file, text))
            .collect::<Result<Vec<_>, _>>()?;
        let notes: notes::NoteFile =
            read("notes", include_str!("../../../rules/selection/notes.toml"))?;
        let views: views::ViewFile =
            read("views", include_str!("../../../rules/selection/views.toml"))?;
        let rules = Self {
            general: read("general", include_str!("../../../rules/selection/general.toml"))?,
            treatments,
            notes: notes.note,
            hints: read("hints", include_str!("../../../rules/selection/hints.toml"))?,
            views: views.view,
        };
        rules.check(register)?;
        Ok(rules)
    }

    fn check(&self, register: &Register) -> Result<(), RulesError> {
        self.general.check()?;
        for treatment in Treatment::ALL {
            let found = self.treatments.iter().filter(|t| t.site.treatment == *treatment).count();
            if found != 1 {
                return Err(RulesError::Incomplete {
                    place: treatment.to_string(),
                    why: "each treatment needs exactly one file",
                });
            }
        }
        for rules in &self.treatments {
            want::check(rules)?;
        }
        for source in self.sources() {
            register.get(source)?;
        }
        Ok(())
    }

    /// Every source that a rule points at.
    fn sources(&self) -> impl Iterator<Item = &Arc<str>> {
        let wants = self.treatments.iter().flat_map(|t| {
            std::iter::once(&t.site.source).chain(t.want.iter().map(|want| &want.source))
        });
        let notes = self.notes.iter().map(|note| &note.source);
        self.general.sources().chain(wants).chain(notes).chain(self.hints.sources())
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

fn read<T: DeserializeOwned>(file: &'static str, text: &str) -> Result<T, RulesError> {
    toml::from_str(text).map_err(|e| RulesError::Unreadable { file, why: e.to_string() })
}

fn check_wish(place: &str, wish: Wish) -> Result<(), RulesError> {
    wish.check().map_err(|fault| RulesError::Wish { place: place.to_owned(), fault })
}

/// Whether this question may be pulled at at all.
fn pulls(question: Question) -> bool {
    matches!(question, Question::Hand | Question::Machine | Question::Skin)
}
