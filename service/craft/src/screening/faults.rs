//! What can be wrong with rule data, and with a request to assess.

use std::fmt;

use crate::rules::RuleFault;

/// One fault of rule data.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{file}{pointer}: {problem}")]
pub struct BookFault {
    /// The file, or the name of the pack.
    pub file: String,
    /// JSON pointer into it.
    pub pointer: String,
    /// What is wrong.
    pub problem: BookProblem,
}

/// What is wrong with rule data.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BookProblem {
    /// Not readable at all.
    #[error("{why}")]
    Unreadable {
        /// What the reader said.
        why: String,
    },
    /// One id twice.
    #[error("`{id}` is there already; a new id is wanted, what is built in cannot be replaced")]
    Twice {
        /// The id.
        id: String,
    },
    /// An id of another shape.
    #[error("`{id}` must be 1 to 48 characters out of a-z 0-9 _ beginning with a letter")]
    Id {
        /// The id.
        id: String,
    },
    /// A source nobody registered.
    #[error("source `{id}` is not registered")]
    Source {
        /// The id.
        id: String,
    },
    /// No source at all, or an evidence grade that none of them has.
    #[error("{why}")]
    Evidence {
        /// What is wrong.
        why: String,
    },
    /// A sentence is missing or lacks a place.
    #[error("text `{key}` is missing or lacks what it must say: {why}")]
    Text {
        /// Its key.
        key: String,
        /// What is wanted.
        why: &'static str,
    },
    /// A sentence that may not be said.
    #[error("text `{key}`: {objection}")]
    Wording {
        /// Its key.
        key: String,
        /// Why not.
        objection: super::wording::Objection,
    },
    /// Something that can never come to pass.
    #[error("can never be reached: {why}")]
    Unreachable {
        /// Why not.
        why: String,
    },
    /// Two statements that cannot both hold.
    #[error("contradiction: {why}")]
    Contradiction {
        /// Which.
        why: String,
    },
    /// A value outside what is accepted.
    #[error("{what} is out of range; accepted: {accepted}")]
    Range {
        /// Which value.
        what: String,
        /// What would be accepted.
        accepted: String,
    },
    /// A name that stands for nothing.
    #[error("there is no {what} `{id}`")]
    Unknown {
        /// What was looked for.
        what: &'static str,
        /// The name.
        id: String,
    },
    /// A pack that would loosen a rule.
    #[error("a pack may add or tighten, never loosen: {why}")]
    Loosens {
        /// How it would.
        why: String,
    },
}

/// Every fault of rule data that was found; never empty.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BookFaults(pub Vec<BookFault>);

impl fmt::Display for BookFaults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, fault) in self.0.iter().enumerate() {
            if 0 < at {
                f.write_str("; ")?;
            }
            write!(f, "{fault}")?;
        }
        Ok(())
    }
}

impl std::error::Error for BookFaults {}

impl From<RuleFault> for BookFaults {
    fn from(RuleFault { file, pointer, why }: RuleFault) -> Self {
        Self(vec![BookFault { file, pointer, problem: BookProblem::Unreadable { why } }])
    }
}

/// One fault of a request to assess.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{pointer}: {problem}")]
pub struct Fault {
    /// JSON pointer into the request.
    pub pointer: String,
    /// What is wrong.
    pub problem: Problem,
}

/// What is wrong with a request to assess.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Problem {
    /// No question has this id.
    #[error("there is no question `{id}`; `GET /v1/screening-questions` lists them")]
    UnknownQuestion {
        /// The id.
        id: String,
    },
    /// An answer of another kind.
    #[error("this question wants {wanted}")]
    Kind {
        /// The kind of answer, as answers are written.
        kind: &'static str,
        /// What would be accepted.
        wanted: String,
    },
    /// An option of other treatments.
    #[error("an option of it is not offered for this treatment; accepted: {offered}")]
    NotOffered {
        /// What the treatment offers.
        offered: String,
    },
    /// A date after the last day that makes sense.
    #[error("this day lies after {latest}, {why}")]
    TooLate {
        /// The date.
        found: jiff::civil::Date,
        /// The latest accepted.
        latest: jiff::civil::Date,
        /// What that day is.
        why: &'static str,
    },
    /// A date before the birth, or a birth too long ago.
    #[error("this day lies before {why}")]
    TooEarly {
        /// The date.
        found: jiff::civil::Date,
        /// The earliest accepted.
        earliest: jiff::civil::Date,
        /// What that day is.
        why: &'static str,
    },
    /// A number outside its limits.
    #[error("this number is out of range; accepted: {min} to {max} {unit}")]
    OutOfRange {
        /// The number.
        found: f64,
        /// Smallest.
        min: f64,
        /// Largest.
        max: f64,
        /// Its unit.
        unit: String,
    },
    /// Answers that cannot both be true.
    #[error("contradicts `{other}`: {why}")]
    Contradiction {
        /// Pointer to the other one.
        other: String,
        /// Why they cannot both be true.
        why: &'static str,
    },
    /// No rule has this id.
    #[error("no rule for this treatment has this id")]
    UnknownRule {
        /// The id.
        id: String,
    },
    /// An attempt to override the law.
    #[error("this rule is law or firm; nothing overrides it")]
    LawStands {
        /// The rule.
        id: String,
    },
    /// A reason that says nothing.
    #[error("a reason of {min} to {max} characters is wanted")]
    Reason {
        /// Fewest characters.
        min: usize,
        /// Most characters.
        max: usize,
    },
    /// Two overrides of one rule.
    #[error("this rule is overridden twice; once is wanted")]
    OverriddenTwice {
        /// The rule.
        id: String,
    },
    /// A colour no skin has.
    #[error("this b* is no colour of skin; a value above 0 is wanted")]
    ImplausibleColour {
        /// The b* found.
        b: f64,
    },
}

pub(crate) use etui_schema::places::step;
