//! A question as the rulebook asks it.
//!
//! A *yes* always is the answer under which a rule may speak, a *no* never is;
//! a choice names its clear option; several choices end with
//! [`NONE_OF_THESE`]. That keeps one law simple: an unknown answer is never
//! better than the clear one.

use std::sync::Arc;

use etui_schema::vocabulary::{Language, Treatment};

use super::answers::Given;
pub use super::data::{Latest, Stage, Who};
use crate::text::Catalogue;

/// The option that stands for "none of these" in a question of several choices.
pub const NONE_OF_THESE: &str = "none_of_these";

/// The bit of a *yes*.
pub(super) const YES: u32 = 1;

/// A set of treatments.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Treatments(u8);

impl Treatments {
    /// Every treatment.
    pub const ALL: Self = Self(0b1_1111);

    /// The set of the listed ones.
    #[must_use]
    pub fn of(list: &[Treatment]) -> Self {
        Self(list.iter().fold(0, |set, treatment| set | bit(*treatment)))
    }

    /// Whether the treatment is in the set.
    #[must_use]
    pub fn has(self, treatment: Treatment) -> bool {
        self.0 & bit(treatment) != 0
    }

    /// What both sets have.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }

    /// What either set has.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// The treatments of the set in the order of the trade's list.
    pub fn iter(self) -> impl Iterator<Item = Treatment> {
        Treatment::ALL.iter().copied().filter(move |treatment| self.has(*treatment))
    }
}

const fn bit(treatment: Treatment) -> u8 {
    1 << treatment as u8
}

/// One option of a choice.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// The spelling used in answers.
    pub id: Arc<str>,
    /// For which treatments it is offered.
    pub treatments: Treatments,
    pub(super) key: Arc<str>,
}

/// What kind of answer a question wants.
#[derive(Debug, Clone, PartialEq)]
pub enum Kind {
    /// `true` or `false`.
    YesNo,
    /// One of the options.
    Choice {
        /// What is offered.
        options: Vec<Choice>,
        /// Index of the option under which no rule speaks.
        clear: usize,
    },
    /// One or more of the options; the last is [`NONE_OF_THESE`].
    Choices {
        /// What is offered.
        options: Vec<Choice>,
    },
    /// A calendar day.
    Date {
        /// The latest day accepted.
        latest: Latest,
    },
    /// A number within limits, both inclusive.
    Number {
        /// Smallest.
        min: f64,
        /// Largest.
        max: f64,
        /// Its unit.
        unit: Arc<str>,
    },
}

impl Kind {
    /// The word used in answers.
    #[must_use]
    pub const fn as_str(&self) -> &'static str {
        match self {
            Self::YesNo => "yes_no",
            Self::Choice { .. } => "choice",
            Self::Choices { .. } => "choices",
            Self::Date { .. } => "date",
            Self::Number { .. } => "number",
        }
    }

    /// The options of a choice; empty for the other kinds.
    #[must_use]
    pub fn options(&self) -> &[Choice] {
        match self {
            Self::Choice { options, .. } | Self::Choices { options } => options,
            Self::YesNo | Self::Date { .. } | Self::Number { .. } => &[],
        }
    }
}

/// On which answer a follow-up is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Follows {
    /// Index of the question it depends on; always an earlier one.
    pub question: usize,
    /// Bits of the answers that lead to it.
    pub(super) mask: u32,
}

/// One question.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Stable id, snake_case; the key in the answers.
    pub id: Arc<str>,
    /// The pack that asks it; `None` if it is built in.
    pub pack: Option<Arc<str>>,
    /// What kind of answer it wants.
    pub kind: Kind,
    /// For which treatments it is asked.
    pub treatments: Treatments,
    /// The answer it depends on, for a follow-up.
    pub follows: Option<Follows>,
    /// Whether the screening is complete without it.
    pub optional: bool,
    /// Whether the day of the visit waits for it although the screening does not: a plan that may
    /// be left out as long as nothing is planned yet.
    pub wanted_on_the_day: bool,
    /// When it is asked.
    pub stage: Stage,
    /// Who answers it.
    pub asked_of: Who,
    pub(super) ask_key: Arc<str>,
    pub(super) why_key: Arc<str>,
}

impl Question {
    /// Whether one of these bits of the answer it depends on leads to it.
    #[must_use]
    pub fn is_led_to_by(&self, bits: u32) -> bool {
        self.follows.is_some_and(|follows| follows.mask & bits != 0)
    }

    /// The bits of an answer; none for what has none, or is no option of it.
    #[must_use]
    pub fn bits(&self, given: Given<'_>) -> u32 {
        let bit = |id: &str| {
            let found = self.kind.options().iter().position(|option| *option.id == *id);
            found.map_or(0, |bit| 1 << bit)
        };
        match given {
            Given::YesNo(yes) => u32::from(yes) * YES,
            Given::Text(id) => bit(id),
            Given::Choices(list) => list.iter().fold(0, |bits, id| bits | bit(id)),
            Given::Number(_) => 0,
        }
    }

    /// The labels of some of its options.
    #[must_use]
    pub fn labels<'a>(
        &'a self,
        sentences: &'a Catalogue,
        language: Language,
        ids: &[Arc<str>],
    ) -> Vec<&'a str> {
        let named = self.kind.options().iter().filter(|option| ids.contains(&option.id));
        named.map(|option| sentences.get(language, &option.key)).collect()
    }

    /// The bits that may be so where what led to a follow-up is over: the same
    /// again, or of one choice anything but the clear option.
    #[must_use]
    pub fn bits_like(&self, follow_up: &Self) -> u32 {
        match &self.kind {
            Kind::Choice { options, clear } => {
                (0..options.len()).filter(|bit| bit != clear).fold(0, |bits, bit| bits | 1 << bit)
            }
            Kind::YesNo | Kind::Choices { .. } | Kind::Date { .. } | Kind::Number { .. } => {
                follow_up.follows.map_or(0, |follows| follows.mask)
            }
        }
    }

    /// What it is about, in a word or two; a pack's question has only its own words.
    #[must_use]
    pub fn about<'a>(&'a self, sentences: &'a Catalogue, language: Language) -> &'a str {
        let topic = sentences.find(language, &format!("question.{}.topic", self.id));
        topic.unwrap_or_else(|| self.ask(sentences, language))
    }

    /// The question in words.
    #[must_use]
    pub fn ask<'a>(&'a self, sentences: &'a Catalogue, language: Language) -> &'a str {
        sentences.get(language, &self.ask_key)
    }

    /// Why it is asked, in words.
    #[must_use]
    pub fn why<'a>(&'a self, sentences: &'a Catalogue, language: Language) -> &'a str {
        sentences.get(language, &self.why_key)
    }

    /// The options offered for a treatment with their labels.
    pub fn offered<'a>(
        &'a self,
        sentences: &'a Catalogue,
        language: Language,
        treatment: Treatment,
    ) -> impl Iterator<Item = (&'a Choice, &'a str)> {
        self.kind
            .options()
            .iter()
            .filter(move |option| option.treatments.has(treatment))
            .map(move |option| (option, sentences.get(language, &option.key)))
    }
}
