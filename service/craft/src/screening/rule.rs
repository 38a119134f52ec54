//! A rule as the gate evaluates it: everything looked up, nothing to parse.

use std::collections::BTreeMap;
use std::sync::Arc;

use etui_schema::vocabulary::{Confidence, EvidenceKind, Phototype, SkinSign, Verdict};

use super::country::Country;
use super::data::Who;
use super::period::Period;
use super::question::Treatments;
use crate::words::words;

/// One way for a rule to speak.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Clause {
    /// A yes, or one of the options behind the mask.
    Chosen { question: usize, mask: u32 },
    /// A number at or beyond the limit.
    AtLeast { question: usize, limit: f64 },
    /// A number beyond the limit.
    Above { question: usize, limit: f64 },
    /// Not yet this old on the day of the treatment.
    YoungerThan { years: u8 },
    /// One of the signs was seen on the skin.
    Signs { mask: u32 },
    /// One of the sun-reaction types, or a measured colour at or below the
    /// limit. Either is enough; unknown only if neither is known.
    Tone { phototypes: u32, ita_at_most: f64 },
    /// The question was answered without any option behind the mask.
    Denied { question: usize, mask: u32 },
    /// The studio works in this country.
    In(Country),
    /// In any case.
    Always,
}

pub(super) const fn sign_bit(sign: SkinSign) -> u32 {
    1 << sign as u32
}

pub(super) const fn phototype_bit(phototype: Phototype) -> u32 {
    1 << phototype as u32
}

/// Where a period begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    /// On the day of the treatment.
    Treatment,
    /// On the day given in the answer to this question.
    Answer(usize),
}

/// How time bears on a rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mode {
    /// Speaks until the period has passed, and while no date is known.
    Until,
    /// As `Until`; while no date is known the period is counted from today,
    /// because the client can begin at once. What is only planned may still be
    /// left out, which the words say; until then its day counts.
    Avoidable,
    /// Speaks once the period has passed.
    Once,
    /// Speaks if the treatment lies less than the period before the date, and up to it.
    Ahead,
    /// Speaks anyway and tells the day.
    Tell,
}

/// A period of a rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Time {
    pub(super) after: Anchor,
    pub(super) period: Period,
    pub(super) mode: Mode,
    /// Never shorter than the rule of healing says.
    pub(super) rests: bool,
}

words! {
    /// Which field of a rule a source stands behind.
    Field {
        /// That the condition matters, and the verdict.
        Condition = "condition",
        /// The length of the wait.
        Wait = "wait",
        /// A number in the text.
        Values = "values",
        /// How long before the treatment something must be done.
        Lead = "lead",
        /// The points.
        Points = "points",
    }
}

/// What one field of a rule stands on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Grounds {
    /// Which field.
    pub field: Field,
    /// Ids in the register of sources, best first.
    pub sources: Vec<Arc<str>>,
    /// Kind of the best evidence among them.
    pub evidence: EvidenceKind,
    /// How sure we are that the value is right as stated; not how strong the
    /// science is.
    pub confidence: Confidence,
}

/// Something to be done because of a rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Task {
    /// Who does it.
    pub who: Who,
    /// How long before the treatment at the latest; `None`: on the day.
    pub lead: Option<Period>,
    /// Whether the client is told it whatever the outcome is, as what is said of a medicine.
    pub stays: bool,
}

/// One rule.
#[derive(Debug, Clone, PartialEq)]
pub struct Rule {
    /// Stable id, snake_case.
    pub id: Arc<str>,
    /// The pack it comes from or was tightened by, several joined by `+`; `None`
    /// if it is as built in.
    pub pack: Option<Arc<str>>,
    /// For which treatments it stands.
    pub treatments: Treatments,
    /// Whether it is law, which nothing overrides.
    pub law: bool,
    /// Whether nothing overrides it; what is law always is firm.
    pub firm: bool,
    /// What it asks for when it speaks. `Proceed` is a note.
    pub verdict: Verdict,
    /// Points it adds to the caution score, 0 to 4.
    pub points: u8,
    /// Index of its group of points; `None` without points.
    pub group: Option<usize>,
    /// What each of its fields stands on.
    pub grounds: Vec<Grounds>,
    /// What is to be done because of it.
    pub task: Option<Task>,
    /// Any of them makes it speak.
    pub(super) clauses: Vec<Clause>,
    /// If there are any, one of them must hold too.
    pub(super) also: Vec<Clause>,
    /// It is silent if one of them holds for certain.
    pub(super) unless: Vec<Clause>,
    /// Holds once the event of its hold has come or its person has agreed.
    pub(super) release: Option<Clause>,
    pub(super) time: Option<Time>,
    pub(super) values: BTreeMap<String, f64>,
    pub(super) keys: Keys,
    /// The rule before packs tightened it; `None` if none did.
    pub(super) built: Option<Arc<Self>>,
}

impl Rule {
    /// The rule before any pack touched it.
    #[must_use]
    pub fn as_built(&self) -> &Self {
        self.built.as_deref().unwrap_or(self)
    }

    /// Kind of the evidence behind its condition.
    #[must_use]
    pub fn evidence(&self) -> EvidenceKind {
        self.grounds
            .iter()
            .find(|grounds| grounds.field == Field::Condition)
            .map_or(EvidenceKind::CommonPractice, |grounds| grounds.evidence)
    }

    /// The wait of the rule, if it has one.
    #[must_use]
    pub fn period(&self) -> Option<Period> {
        self.time.map(|time| time.period)
    }
}

/// Keys of a rule's sentences.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Keys {
    pub(super) because: Arc<str>,
    pub(super) say: Option<Arc<str>>,
    pub(super) by: Option<Arc<str>>,
    pub(super) until: Option<Arc<str>>,
    pub(super) whom: Option<Arc<str>>,
    /// The sentence of a referral, if its person has one of its own.
    pub(super) refer: Arc<str>,
    /// What the rule is about, in a word or two.
    pub(super) topic: Option<Arc<str>>,
    /// For what the law of the country says: why.
    pub(super) law: Option<Arc<str>>,
    /// Instead of `say`, if the day on which its period begins is known.
    pub(super) dated: Option<Arc<str>>,
    /// Instead of `say`, if its latest day is past.
    pub(super) late: Option<Arc<str>>,
    /// Once the wait has passed and the event or the person is open.
    pub(super) stays: Option<Arc<str>>,
    /// Until what it holds, if a day is known.
    pub(super) until_dated: Option<Arc<str>>,
    /// What it says instead, if something without a day is open beside it.
    pub(super) beside: Option<Arc<str>>,
    /// What is told to the client, and to the studio, on the list.
    pub(super) client: Option<Arc<str>>,
    pub(super) studio: Option<Arc<str>>,
}

/// What is waited for beside a day: the words for a known day say both.
const BESIDE_A_DAY: [&str; 9] = [
    "until.previous_pmu",
    "until.scar",
    "until.breast_surgery",
    "until.sun_settled",
    "until.transplant",
    "until.removal",
    "until.eye_surgery",
    "until.chemotherapy",
    "until.radiotherapy",
];

/// What somebody of the two can change at once: nothing has to be waited for.
const AT_ONCE: [&str; 5] = [
    "until.weaker_cream",
    "until.other_cream",
    "until.no_cream",
    "until.other_line",
    "until.scar_told",
];

/// What lasts for months and ends by nobody's word.
const MONTHS: [&str; 4] =
    ["until.pregnancy", "until.breastfeeding", "until.scar_settled", "until.scar_flat"];

impl Keys {
    /// Whether what a hold waits for lasts for months.
    pub(super) fn lasts_months(&self) -> bool {
        self.until.as_deref().is_some_and(|until| MONTHS.contains(&until))
    }

    /// Whether a hold waits for something that no day stands for, beside its day.
    pub(super) fn waits_beside_a_day(&self) -> bool {
        self.until.as_deref().is_some_and(|until| BESIDE_A_DAY.contains(&until))
    }

    /// Whether a hold ends as soon as somebody chooses or tells something.
    pub(super) fn ends_at_once(&self) -> bool {
        self.until.as_deref().is_some_and(|until| AT_ONCE.contains(&until))
    }
}

impl Clause {
    /// The question it looks at, if it does.
    const fn question(&self) -> Option<usize> {
        match self {
            Self::Chosen { question, .. }
            | Self::Denied { question, .. }
            | Self::AtLeast { question, .. }
            | Self::Above { question, .. } => Some(*question),
            Self::YoungerThan { .. }
            | Self::Signs { .. }
            | Self::Tone { .. }
            | Self::In(_)
            | Self::Always => None,
        }
    }
}

impl Rule {
    /// The questions whose answers it uses.
    pub(super) fn questions(&self) -> impl Iterator<Item = usize> {
        let clauses = self.clauses.iter().chain(&self.also).chain(&self.unless);
        let anchor = self.time.and_then(|time| match time.after {
            Anchor::Answer(question) => Some(question),
            Anchor::Treatment => None,
        });
        clauses.chain(&self.release).filter_map(Clause::question).chain(anchor)
    }
}
