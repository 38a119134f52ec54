//! Questions that a rules pack adds.

use crate::describe::JsonSchema;
use crate::kinds::sent;
use garde::Validate;
use serde::{Deserialize, Serialize};

use crate::vocabulary::{Treatment, words};

words! {
    /// What kind of answer a question wants.
    PackQuestionKind, "kind of question" {
        /// `true` or `false`; *yes* is the answer under which a rule may speak.
        YesNo = "yes_no",
        /// One of the options.
        Choice = "choice",
        /// Several of the options.
        Choices = "choices",
        /// A calendar day.
        Date = "date",
        /// A number.
        Number = "number",
    }
}

words! {
    /// When a question is asked.
    QuestionStage, "stage" {
        /// From the booking on.
        Booking = "booking",
        /// On the day only.
        Day = "day",
    }
}

words! {
    /// The latest day a date question accepts.
    QuestionLatest, "latest day" {
        /// Today: something that has ended.
        Today = "today",
        /// The day of the treatment.
        Treatment = "treatment",
        /// Any day: something planned.
        Open = "open",
    }
}

words! {
    /// Who answers a question or does a thing.
    PackWho, "doer" {
        /// The client.
        Client = "client",
        /// The artist or her studio.
        Studio = "studio",
    }
}

/// A question that a pack adds.
#[sent(free)]
pub struct PackQuestion {
    /// Its id, new among all questions: 1 to 48 of a-z 0-9 _, a letter first.
    #[garde(length(chars, min = 1, max = 60))]
    pub id: String,
    /// What kind of answer it wants.
    pub kind: PackQuestionKind,
    /// For which treatments; all if absent.
    #[garde(length(min = 1, max = 5))]
    pub treatments: Option<Vec<Treatment>>,
    /// Asked only after certain answers to an earlier question.
    #[garde(dive)]
    pub ask_if: Option<PackAskIf>,
    /// What a choice offers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 30), dive)]
    pub options: Vec<PackOption>,
    /// The option of a choice under which no rule speaks.
    #[garde(length(chars, min = 1, max = 60))]
    pub clear: Option<String>,
    /// Whether it may stay open.
    #[serde(default)]
    pub optional: bool,
    /// Whether a check on the day of the visit asks for it although it may stay open.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub wanted_on_the_day: bool,
    /// When it is asked; from the booking on if absent.
    pub stage: Option<QuestionStage>,
    /// Who answers it; the client if absent.
    pub asked_of: Option<PackWho>,
    /// The latest day of a date question; that of the treatment if absent.
    pub latest: Option<QuestionLatest>,
    /// Smallest number, inclusive.
    pub min: Option<f64>,
    /// Largest number, inclusive.
    pub max: Option<f64>,
    /// Unit of the number.
    #[garde(length(chars, min = 1, max = 20))]
    pub unit: Option<String>,
}

/// After which answers a question is asked.
#[sent(Eq)]
pub struct PackAskIf {
    /// The earlier question.
    #[garde(length(chars, min = 1, max = 60))]
    pub question: String,
    /// Options of a choice; left out for a yes/no question, which must be yes.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 30))]
    pub any_of: Vec<String>,
}

/// One option of a choice.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema, Validate)]
#[serde(deny_unknown_fields)]
pub struct PackOption {
    /// Its id.
    #[garde(length(chars, min = 1, max = 60))]
    pub id: String,
    /// For which treatments it is offered; those of the question if absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[garde(length(min = 1, max = 5))]
    pub treatments: Option<Vec<Treatment>>,
}
