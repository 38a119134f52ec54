//! The questions of a screening.

use crate::kinds::{asked, told};
use serde_json::Value;

use crate::answers::Answer;
use crate::vocabulary::{CivilDate, Language, Treatment};

/// Which questions.
#[asked(Eq)]
pub struct ScreeningQuery {
    /// What is to be treated.
    pub treatment: Treatment,
    /// The local day of the treatment; today if absent. On the day itself the
    /// questions of the day are asked too.
    pub on: Option<CivilDate>,
}

/// The questions for a treatment, in a considerate order.
#[told]
pub struct ScreeningQuestions {
    /// What is to be treated.
    pub treatment: Treatment,
    /// The day they are asked for.
    pub on: CivilDate,
    /// The language of the texts.
    pub language: Language,
    /// Revision of the rulebook they come from.
    pub revision: u32,
    /// The questions; ask a follow-up only when its condition holds.
    pub questions: Vec<ScreeningQuestion>,
    /// JSON Schema (2020-12) of the answers, to draw and check a form with.
    pub answers_schema: Value,
}

/// One question.
#[told]
pub struct ScreeningQuestion {
    /// The key in the answers.
    pub id: String,
    /// `yes_no`, `choice`, `choices`, `date` or `number`.
    pub kind: String,
    /// The question in words.
    pub text: String,
    /// Why it is asked.
    pub why: String,
    /// What is offered, for `choice` and `choices`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub options: Vec<QuestionOption>,
    /// For a follow-up: ask it only if this holds.
    pub ask_if: Option<AskIf>,
    /// Whether a screening is complete without it.
    pub optional: bool,
    /// Who answers it: `client` or `studio`.
    pub asked_of: String,
    /// The answer under which no rule speaks, for `yes_no`, `choice` and
    /// `choices`. It is for tests; a form must never fill it in.
    pub clear_answer: Option<Answer>,
    /// For a `date`, the latest accepted: `today`, `treatment` (its day) or
    /// `open` (something planned).
    pub latest: Option<String>,
    /// Smallest number.
    pub min: Option<f64>,
    /// Largest number.
    pub max: Option<f64>,
    /// Unit of the number.
    pub unit: Option<String>,
    /// The rules pack that asks it; absent if it is built in.
    pub pack: Option<String>,
}

/// One option.
#[told(Eq)]
pub struct QuestionOption {
    /// The spelling used in answers.
    pub id: String,
    /// In words.
    pub label: String,
}

/// On which answers a follow-up is asked.
#[told(Eq)]
pub struct AskIf {
    /// The question it depends on.
    pub question: String,
    /// The answers that lead to it: option ids, or `yes`.
    pub any_of: Vec<String>,
}
