//! What is said to whoever gave an answer that cannot be taken: at its field, and without a
//! name of the interface.

use etui_schema::vocabulary::Language;

use super::faults::Problem;
use super::question::NONE_OF_THESE;
use super::rulebook::Rulebook;
use crate::text::{day, number};

impl Rulebook {
    /// What is wrong with an answer and what would be accepted; `None` for what a person who
    /// answers does not meet.
    #[must_use]
    pub fn refusal(&self, problem: &Problem, language: Language) -> Option<String> {
        let say = |key: &str, values: &[(&str, &str)]| {
            Some(self.sentences().fill(language, &format!("fault.{key}"), values))
        };
        match problem {
            Problem::Kind { kind, .. } => say(&format!("kind.{kind}"), &[]),
            Problem::NotOffered { .. } => say("not_offered", &[]),
            Problem::TooLate { latest, .. } => {
                say("too_late", &[("latest", &day(language, *latest))])
            }
            Problem::TooEarly { earliest, .. } => {
                say("too_early", &[("earliest", &day(language, *earliest))])
            }
            Problem::OutOfRange { min, max, unit, .. } => {
                let [min, max] = [min, max].map(|limit| number(language, &limit.to_string()));
                say("out_of_range", &[("min", &min), ("max", &max), ("unit", unit)])
            }
            Problem::Contradiction { other, .. } if other == NONE_OF_THESE => {
                say("none_stands_alone", &[])
            }
            Problem::Contradiction { other, .. } => {
                let id = other.rsplit('/').next().unwrap_or_default();
                let question = self.question(id).and_then(|at| self.all_questions().get(at))?;
                say("contradiction", &[("about", question.about(self.sentences(), language))])
            }
            Problem::UnknownQuestion { .. } => say("unknown_question", &[]),
            Problem::UnknownRule { .. }
            | Problem::LawStands { .. }
            | Problem::Reason { .. }
            | Problem::OverriddenTwice { .. }
            | Problem::ImplausibleColour { .. } => None,
        }
    }
}
