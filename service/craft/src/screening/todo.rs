//! What must happen before the treatment, with the latest day for each.
//!
//! Days are counted back from the appointment. An item whose latest day is
//! past when the list is made is marked late: the appointment must move, or
//! the thing must be done at once.

use std::sync::Arc;

use etui_schema::vocabulary::{Language, Verdict};
use jiff::civil::Date;

use super::gate::{Assessment, Finding};
use super::question::Who;
use super::rulebook::Rulebook;

/// What kind of thing is to be done; also the key of a message that a booking
/// system can send.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// Answer what is still open.
    Answer,
    /// Get a written view of the doctor or specialist named.
    WrittenView,
    /// Move the appointment; the day is then the earliest possible, not the latest.
    Rebook,
    /// Keep something off the area from a day on.
    KeepOff,
    /// Meet a condition.
    Condition,
    /// Ask again on the day.
    AskOnTheDay,
    /// Make a skin test.
    SkinTest,
    /// Look at the skin test.
    ReadSkinTest,
    /// Look at a bottle's label.
    PigmentLabel,
    /// Take another bottle.
    OtherPigment,
}

impl Kind {
    /// The word used in answers.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Answer => "answer",
            Self::WrittenView => "written_view",
            Self::Rebook => "rebook",
            Self::KeepOff => "keep_off",
            Self::Condition => "condition",
            Self::AskOnTheDay => "ask_on_the_day",
            Self::SkinTest => "skin_test",
            Self::ReadSkinTest => "read_skin_test",
            Self::PigmentLabel => "pigment_label",
            Self::OtherPigment => "other_pigment",
        }
    }
}

/// One thing to be done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Todo {
    /// What kind of thing.
    pub kind: Kind,
    /// The rule it comes from, or the question that is open.
    pub from: Arc<str>,
    /// What to do, in words.
    pub text: String,
    /// The latest day; `None` if no day can be named.
    pub due: Option<Date>,
    /// Whether that day is past.
    pub is_late: bool,
    /// Who does it.
    pub who: Who,
}

impl Rulebook {
    /// The list for an assessment: earliest day first, what has no day last.
    ///
    /// `on` is the day of the treatment, `made_on` the day of the list. What
    /// was overridden is not on it, except as the condition it has become.
    #[must_use]
    pub fn todo(
        &self,
        assessment: &Assessment<'_>,
        on: Date,
        made_on: Date,
        language: Language,
    ) -> Vec<Todo> {
        let findings =
            assessment.findings.iter().filter_map(|finding| self.item(finding, on, language));
        let open = assessment.unanswered.iter().map(|question| Todo {
            kind: Kind::Answer,
            from: question.id.clone(),
            text: question.ask(&self.sentences, language).to_owned(),
            due: Some(made_on.min(on)),
            is_late: false,
            who: question.asked_of,
        });
        let mut list: Vec<Todo> = open.chain(findings).collect();
        if made_on < on {
            list.push(Todo {
                kind: Kind::AskOnTheDay,
                from: "on_the_day".into(),
                text: self.sentences.get(language, "todo.on_the_day").to_owned(),
                due: Some(on),
                is_late: false,
                who: Who::Studio,
            });
        }
        for todo in &mut list {
            todo.is_late = todo.due.is_some_and(|due| due < made_on);
        }
        list.sort_by_key(|todo| (todo.due.is_none(), todo.due));
        list
    }

    fn item(&self, finding: &Finding<'_>, on: Date, language: Language) -> Option<Todo> {
        let task = finding.rule.task;
        let lead = task.and_then(|task| task.lead);
        let on_the_day = lead.map_or(on, |lead| lead.before(on));
        let (kind, due, who) = match (finding.verdict, finding.due) {
            (Verdict::ProceedWithConditions, Some(due)) => (Kind::KeepOff, Some(due), Who::Client),
            (Verdict::ProceedWithConditions, None) => {
                (Kind::Condition, Some(on_the_day), task.map_or(Who::Studio, |task| task.who))
            }
            (Verdict::Refer, _) => {
                let lead = lead.unwrap_or(self.refer_lead);
                (Kind::WrittenView, Some(lead.before(on)), Who::Client)
            }
            (Verdict::Hold, _) => (Kind::Rebook, finding.hold_until, Who::Studio),
            // A note is on the list only if it gives somebody something to do.
            (Verdict::Proceed, _) => (Kind::Condition, Some(on_the_day), task?.who),
            // A decline leaves nothing to do before a treatment.
            (Verdict::Incomplete | Verdict::Decline, _) => return None,
        };
        let text = self.condition(finding, on, language);
        Some(Todo { kind, from: finding.rule.id.clone(), text, due, is_late: false, who })
    }
}
