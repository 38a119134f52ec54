//! What must happen before the treatment, with the latest day for each.
//!
//! Days are counted back from the appointment. An item whose latest day is
//! past when the list is made is marked late and says so: the appointment must
//! move, or the thing must be done at once.
//!
//! A line opens with its topic and speaks to the one who does it: what concerns
//! client and studio has a line for each. Where the outcome is a decline, a
//! referral or a hold, only what leads out of it is on the list: nobody runs
//! errands for a treatment that will not be, or not on that day. What the client
//! is told to go on with (a medicine) stays under every outcome.

use std::sync::Arc;

use etui_schema::vocabulary::{Language, Treatment, Verdict};
use jiff::civil::Date;

use super::outcome::{Assessment, Finding, severity};
use super::question::{Question, Who};
use super::rulebook::Rulebook;
use crate::text;
use crate::words::words;

words! {
    /// What kind of thing is to be done; also the key of a message that a booking
    /// system can send.
    Kind {
        /// Answer what is still open.
        Answer = "answer",
        /// Get a written view of the doctor or specialist named.
        WrittenView = "written_view",
        /// Move the appointment; the day is then the earliest possible, not the latest.
        Rebook = "rebook",
        /// Keep something off the area from a day on.
        KeepOff = "keep_off",
        /// Meet a condition.
        Condition = "condition",
        /// Ask again on the day.
        AskOnTheDay = "ask_on_the_day",
        /// Make a skin test.
        SkinTest = "skin_test",
        /// Look at the skin test.
        ReadSkinTest = "read_skin_test",
        /// Look at a bottle's label.
        PigmentLabel = "pigment_label",
        /// Take another bottle.
        OtherPigment = "other_pigment",
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
    /// Whether it is said whatever the outcome is.
    pub stays: bool,
}

/// What a list's days hang on.
#[derive(Debug, Clone, Copy)]
struct Days {
    /// The day of the treatment.
    on: Date,
    /// The day of the list.
    made_on: Date,
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
        let verdict = assessment.verdict;
        let declined = verdict == Verdict::Decline;
        let findings = assessment.findings.iter().filter(|finding| {
            !declined
                || (finding.verdict == Verdict::Decline && finding.overridden.is_none())
                || stays(finding)
        });
        let days = Days { on, made_on };
        let findings = findings.flat_map(|finding| self.items(finding, days, language));
        let open = assessment.unanswered.iter().chain(&assessment.wanted_on_the_day).copied();
        let asked = |question: &Question| self.asked(question, assessment.treatment, language);
        let open = open.map(|question| (question, asked(question)));
        let sooner = assessment.ends_sooner.map(|question| {
            let asked = asked(question);
            (question, self.sentences.fill(language, "todo.ends_sooner", &[("question", &asked)]))
        });
        let open = open.chain(sooner).filter(|_| !declined).map(|(question, text)| Todo {
            kind: Kind::Answer,
            from: question.id.clone(),
            text,
            due: Some(made_on.min(on)),
            is_late: false,
            who: question.asked_of,
            stays: false,
        });
        let look = (assessment.is_tone_unknown && !declined).then(|| Todo {
            kind: Kind::Condition,
            from: "skin".into(),
            text: self.sentences.get(language, "todo.look_at_tone").to_owned(),
            due: Some(on),
            is_late: false,
            who: Who::Studio,
            stays: false,
        });
        let mut list: Vec<Todo> = open.chain(findings).chain(look).collect();
        if made_on < on {
            list.push(Todo {
                kind: Kind::AskOnTheDay,
                from: "on_the_day".into(),
                text: self.sentences.get(language, "todo.on_the_day").to_owned(),
                due: Some(on),
                is_late: false,
                who: Who::Studio,
                stays: false,
            });
        }
        only_way_out(verdict, &mut list);
        for todo in &mut list {
            todo.is_late = todo.due.is_some_and(|due| due < made_on);
        }
        list.sort_by_key(|todo| (todo.due.is_none(), todo.due));
        told_once(list)
    }

    /// A question with all that can be chosen: who reads it on a list has no form
    /// before her that shows the options.
    fn asked(&self, question: &Question, treatment: Treatment, language: Language) -> String {
        let ask = question.ask(&self.sentences, language);
        let options = question.offered(&self.sentences, language, treatment);
        let options: Vec<&str> = options.map(|(_, label)| label).collect();
        if options.is_empty() {
            return ask.to_owned();
        }
        let values = [("question", ask), ("options", &*options.join("; "))];
        self.sentences.fill(language, "todo.answer", &values)
    }

    /// The lines of one finding: at most one for the client and one for the
    /// studio.
    fn items(
        &self,
        finding: &Finding<'_>,
        days: Days,
        language: Language,
    ) -> impl Iterator<Item = Todo> {
        let item = |who| self.item(finding, who, days, language);
        [item(Who::Client), item(Who::Studio)].into_iter().flatten()
    }

    fn item(
        &self,
        finding: &Finding<'_>,
        who: Who,
        days: Days,
        language: Language,
    ) -> Option<Todo> {
        let Days { on, made_on, .. } = days;
        let (kind, due, said) = if is_answered_for(finding) {
            // What is left is the care that it asks of the studio.
            let own = own_line(finding, Who::Studio).filter(|_| who == Who::Studio)?;
            (Kind::Condition, Some(on), Some(self.said(finding, own, on, language)))
        } else {
            self.line(finding, who, days, language)?
        };
        let mut text = said.filter(|text| !text.is_empty())?;
        let keys = &finding.rule.keys;
        if due.is_some_and(|due| due < made_on) && (keys.late.is_none() || !finding.is_late) {
            let due = due.map_or_else(String::new, |due| text::day(language, due));
            text.push(' ');
            text.push_str(&self.sentences.fill(language, "todo.late", &[("due", &due)]));
        }
        if let Some(topic) = &keys.topic {
            text = self.about(topic, &text, language);
        }
        let stays = stays(finding) && who == Who::Client;
        Some(Todo { kind, from: finding.rule.id.clone(), text, due, is_late: false, who, stays })
    }

    /// Kind, latest day and words of a finding's line for one of the two.
    fn line(
        &self,
        finding: &Finding<'_>,
        who: Who,
        days: Days,
        language: Language,
    ) -> Option<(Kind, Option<Date>, Option<String>)> {
        let on = days.on;
        let (kind, due, doer) = self.task(finding, on)?;
        let condition = || self.condition(finding, on, language);
        Some(match (who == doer, who, finding.verdict) {
            (true, Who::Studio, Verdict::Hold) => {
                (kind, due, Some(self.rebook(finding, days, language)))
            }
            // The client's side of a hold: what to ask, to do or to wait for while it lasts.
            (false, Who::Client, Verdict::Hold) => {
                let asks = finding.person().map(|_| Kind::WrittenView);
                let waits = || finding.waits_for_event.then_some(Kind::Condition);
                let kind = asks.or_else(|| kind_of_own(finding)).or_else(waits)?;
                (kind, None, Some(condition()))
            }
            (is_doer, _, _) => {
                let own = own_line(finding, who).map(|key| self.said(finding, key, on, language));
                (kind, due, own.or_else(|| is_doer.then(condition)))
            }
        })
    }

    /// What kind of thing a finding asks for, by when, and of whom first.
    pub(super) fn task(
        &self,
        finding: &Finding<'_>,
        on: Date,
    ) -> Option<(Kind, Option<Date>, Who)> {
        let task = finding.rule.task;
        let lead = task.and_then(|task| task.lead);
        let on_the_day = lead.map_or(on, |lead| lead.before(on));
        let asked = lead.unwrap_or(self.refer_lead).before(on);
        Some(match (finding.verdict, finding.due) {
            (Verdict::ProceedWithConditions, Some(due)) => (Kind::KeepOff, Some(due), Who::Client),
            (Verdict::ProceedWithConditions, None)
                if finding.stays && finding.person().is_some() =>
            {
                (Kind::WrittenView, Some(asked), Who::Client)
            }
            (Verdict::ProceedWithConditions, None) => {
                (Kind::Condition, Some(on_the_day), task.map_or(Who::Studio, |task| task.who))
            }
            (Verdict::Refer, _) => (Kind::WrittenView, Some(asked), Who::Client),
            (Verdict::Hold, _) if finding.rule.keys.ends_at_once() => {
                (Kind::Condition, None, Who::Studio)
            }
            (Verdict::Hold, _) => (Kind::Rebook, finding.hold_until, Who::Studio),
            // A note is on the list only if it gives somebody something to do.
            (Verdict::Proceed, _) => (Kind::Condition, Some(on_the_day), task?.who),
            // What would make a decline another answer, if anything would.
            (Verdict::Decline, _) => {
                finding.rule.keys.say.as_ref()?;
                (Kind::Condition, None, Who::Client)
            }
            (Verdict::Incomplete, _) => return None,
        })
    }

    /// The studio's side of a hold.
    fn rebook(&self, finding: &Finding<'_>, days: Days, language: Language) -> String {
        let hold = self.hold_sentence(finding, language);
        let at_once = finding.rule.keys.ends_at_once();
        let key = if at_once { "todo.change_plan" } else { "todo.rebook" };
        let mut text = self.sentences.fill(language, key, &[("hold", &hold)]);
        if let Some(own) = own_line(finding, Who::Studio) {
            text.push(' ');
            text.push_str(&self.said(finding, own, days.on, language));
        }
        text
    }
}

/// What two rules ask of the same one by the same day, in the same words, stands once.
fn told_once(list: Vec<Todo>) -> Vec<Todo> {
    let mut once: Vec<Todo> = Vec::new();
    for todo in list {
        let is_same = |known: &&mut Todo| {
            (&known.text, known.kind, known.who, known.due)
                == (&todo.text, todo.kind, todo.who, todo.due)
        };
        match once.iter_mut().find(is_same) {
            Some(known) => known.stays |= todo.stays,
            None => once.push(todo),
        }
    }
    once
}

/// Whether somebody answers for a finding that would ask for something.
pub(super) fn is_answered_for(finding: &Finding<'_>) -> bool {
    finding.overridden.is_some() && severity(Verdict::Proceed) < severity(finding.verdict)
}

/// The sentence that a rule has for one of the two.
fn own_line<'b>(finding: &Finding<'b>, who: Who) -> Option<&'b str> {
    let keys = &finding.rule.keys;
    match who {
        Who::Client => keys.client.as_deref(),
        Who::Studio => keys.studio.as_deref(),
    }
}

/// What the client has to do while a hold lasts; `None` if nothing but wait.
fn kind_of_own(finding: &Finding<'_>) -> Option<Kind> {
    let keys = &finding.rule.keys;
    keys.say.as_ref().or(keys.client.as_ref()).map(|_| Kind::Condition)
}

/// Whether the client is to go on with something whatever the outcome is.
fn stays(finding: &Finding<'_>) -> bool {
    finding.verdict == Verdict::ProceedWithConditions && finding.rule.task.is_some_and(|t| t.stays)
}

/// Takes from a list what does not lead out of its outcome: of a referral and of
/// a hold stay open answers, written views, the visit's new day, and what is to
/// be done while it lasts; errands and days that were counted back from a visit
/// which is to be moved are not told to anybody. A decline keeps only its own
/// sentence, so nothing of skin tests and bottles.
pub fn only_way_out(verdict: Verdict, list: &mut Vec<Todo>) {
    let undated = |todo: &Todo| todo.kind == Kind::Condition && todo.due.is_none();
    let leads_out = |todo: &Todo| match verdict {
        Verdict::Decline => undated(todo),
        Verdict::Refer | Verdict::Hold => {
            matches!(todo.kind, Kind::Answer | Kind::WrittenView | Kind::Rebook) || undated(todo)
        }
        Verdict::Proceed | Verdict::ProceedWithConditions | Verdict::Incomplete => true,
    };
    list.retain(|todo| todo.stays || leads_out(todo));
    let ends = matches!(verdict, Verdict::Decline | Verdict::Refer | Verdict::Hold);
    for todo in list.iter_mut().filter(|_| ends) {
        if todo.stays || verdict == Verdict::Hold && todo.kind == Kind::WrittenView {
            todo.due = None;
        }
    }
}
