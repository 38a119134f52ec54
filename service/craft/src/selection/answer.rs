//! What a selection asks for and what it answers.

use std::sync::Arc;

pub use etui_schema::needle_selections::{DifferingView, NeedleChange, NeedleNote, School};
use etui_schema::vocabulary::{Effect, Language, Setting, Treatment};
use jiff::civil::Date;

use super::rules::Signal;
use crate::configuration::Complete;
use crate::evidence::Basis;
use crate::hand::OwnShare;
use crate::trauma::Step;
use crate::words::words;

words! {
    /// The five questions of the artist.
    Question {
        /// Does it suit what is treated?
        Treatment = "treatment",
        /// Does it give the wanted effect?
        Effect = "effect",
        /// Does it suit her hand?
        Hand = "hand",
        /// Does it suit her machine?
        Machine = "machine",
        /// Does it suit this skin?
        Skin = "skin",
    }
}

/// What is asked.
#[derive(Debug, Clone)]
pub struct Request<'a> {
    /// What is treated.
    pub treatment: Treatment,
    /// What it should look like.
    pub effect: Effect,
    /// Hand, machine, skin, site; what is not told is not held against
    /// anything.
    pub setting: &'a Setting,
    /// What may be chosen from; see [`super::Selector::usual`]. Nothing to
    /// choose from gives an empty ranking, with all that holds without one.
    pub candidates: &'a [Candidate],
    /// How many ranked candidates are described. The best of every form is
    /// described beyond that.
    pub limit: usize,
    /// Whether needles of one kind that serve about as well stand as one, with
    /// the others named.
    pub folds: bool,
    /// The language of the answer.
    pub language: Language,
}

/// One configuration that may be chosen, with the lots it lies in.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// The configuration.
    pub configuration: Complete,
    /// Lots at hand; empty where the candidate is not out of a drawer.
    pub lots: Vec<Lot>,
}

impl From<Complete> for Candidate {
    fn from(configuration: Complete) -> Self {
        Self { configuration, lots: Vec::new() }
    }
}

/// One lot in the drawer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lot {
    /// The caller's name for it, handed back as it is.
    pub id: Arc<str>,
    /// Last day of use; a lot without one is taken last.
    pub expires_on: Option<Date>,
}

/// Why a request cannot be answered.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SelectionError {
    /// The effect makes no sense for the treatment.
    #[error("`{effect}` is no effect of `{treatment}`; accepted: {accepted}")]
    Pair {
        /// The treatment.
        treatment: Treatment,
        /// The effect that was asked for.
        effect: Effect,
        /// The effects of this treatment, comma separated.
        accepted: String,
    },
    /// There are too many to choose from.
    #[error("{found} candidates are more than the {most} that are ranked at once")]
    TooMany {
        /// How many came.
        found: usize,
        /// How many are accepted.
        most: usize,
    },
}

/// What is answered.
#[derive(Debug, Clone, PartialEq)]
pub struct Selection {
    /// Best first. Beyond the limit only the best of each further form.
    pub ranked: Vec<Ranked>,
    /// How many suitable candidates are not described.
    pub not_shown: usize,
    /// Candidates that fail one need outright.
    pub set_aside: Vec<SetAside>,
    /// What to change to when the skin shows trauma.
    pub step_up: Vec<Step>,
    /// Single changes that would put another candidate first.
    pub would_change: Vec<NeedleChange>,
    /// Where the trade is split on this request.
    pub differing_views: Vec<DifferingView>,
    /// Working hints.
    pub hints: Vec<NeedleNote>,
    /// Pointers into the setting that were assumed.
    pub assumed: Vec<&'static str>,
    /// What is to be said of the artist's own results as a whole; `None` unless asked.
    pub own: Option<OwnQuestion>,
    /// Where all this comes from.
    pub basis: Vec<Basis>,
}

/// One suitable candidate.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranked {
    /// The configuration.
    pub configuration: Complete,
    /// Weighted geometric mean of the five answers, and of her own results where they
    /// count; above 0, up to 1.
    pub desirability: f64,
    /// The five answers, in the order of [`Question::ALL`].
    pub answers: [Answer; 5],
    /// What the artist's own results say; `None` unless asked, and with too few in all.
    pub own: Option<OwnAnswer>,
    /// What can hurt or spoil the work.
    pub cautions: Vec<NeedleNote>,
    /// Good to know.
    pub remarks: Vec<NeedleNote>,
    /// Lots at hand, first expired first.
    pub lots: Vec<Lot>,
    /// Needles of the same kind that serve about as well and have nothing more
    /// to mind, best first.
    pub alike: Vec<Complete>,
}

/// The answer to one question.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// The question.
    pub question: Question,
    /// How well the candidate does here, above 0, up to 1.
    pub desirability: f64,
    /// Why, in a sentence or two.
    pub because: String,
    /// How many pages of the trade agree, where that was counted.
    pub agreement: Option<Arc<str>>,
}

/// What an artist's own results say of one candidate.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnAnswer {
    /// The share that held; `None` if there are no results with it.
    pub share: Option<OwnShare>,
    /// What counts of it, above 0, up to 1.
    pub desirability: f64,
    /// Why, in a sentence or two.
    pub because: String,
}

/// The question of an artist's own results as a whole.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnQuestion {
    /// Its weight beside those of the five.
    pub weight: f64,
    /// Her healed results of this treatment and effect.
    pub results: u32,
    /// Results of clients who were forgotten.
    pub forgotten: u32,
    /// The share that held of them; `None` if there are too few to count.
    pub mean: Option<f64>,
    /// What is said of it.
    pub because: String,
    /// Where the numbers come from.
    pub basis: Vec<Basis>,
}

/// A candidate that fails one need outright.
#[derive(Debug, Clone, PartialEq)]
pub struct SetAside {
    /// The configuration.
    pub configuration: Complete,
    /// The question it fails.
    pub question: Question,
    /// What it fails in, as one word.
    pub reason: &'static str,
    /// Why.
    pub because: String,
    /// Lots at hand, first expired first.
    pub lots: Vec<Lot>,
}

/// What the choice heard in a setting; levels are 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heard {
    pub(super) levels: [f64; Signal::COUNT],
    pub(super) speaks_from: f64,
}

impl Heard {
    /// How loudly a signal speaks, 0 to 1.
    #[must_use]
    pub const fn level(&self, signal: Signal) -> f64 {
        self.levels[signal as usize]
    }

    /// Whether a signal is loud enough to be put into words.
    #[must_use]
    pub fn speaks(&self, signal: Signal) -> bool {
        self.speaks_from <= self.level(signal)
    }
}
