//! The short view of a check.

use etui_schema::appointment_checks::{AppointmentCheck, OfferedNeedle, TodoItem, Who};
use etui_schema::open::Open;
use etui_schema::sheets::{CheckSummary, SheetFor, SummaryNeedle, SummaryTask};
use etui_schema::skin_assessments::Finding;
use etui_schema::vocabulary::{CivilDate, Language, Verdict};

use super::client::{is_waiting, topic_of};
use super::{NEEDLES_MAX, Sheets};
use crate::text::{day, list, sentences};

/// What begins the key of a question that is still open.
pub(super) const QUESTION: &str = "answer.";

/// What begins the key of a visit's new day.
const REBOOK: &str = "rebook.";

/// What begins the key of an errand that brings a doctor's answer.
pub(super) const WRITTEN_VIEW: &str = "written_view";

/// The language a check is written in; before it was noted, English was all
/// that is sure.
pub(super) fn language_of(check: &AppointmentCheck) -> Language {
    check.language.unwrap_or(Language::En)
}

/// What one of them has to do, the client's questions apart, each sentence once. What would make
/// a refusal another answer is told with its reason ([`told`]) and is no errand.
pub(super) fn tasks(check: &AppointmentCheck, is_theirs: fn(&Open<Who>) -> bool) -> Vec<&TodoItem> {
    let of_refusal = |item: &TodoItem| {
        check.findings.iter().any(|finding| is_refusal(finding) && finding.rule == item.from)
    };
    let mut tasks: Vec<&TodoItem> = Vec::new();
    for item in check.todo.iter().filter(|item| !of_refusal(item)) {
        let known = tasks.iter().any(|one| one.text == item.text && one.due == item.due);
        if is_theirs(&item.who) && !is_question_to(item, is_clients) && !known {
            tasks.push(item);
        }
    }
    tasks
}

fn is_question_to(item: &TodoItem, is_theirs: fn(&Open<Who>) -> bool) -> bool {
    item.key.starts_with(QUESTION) && is_theirs(&item.who)
}

/// The questions to the client that are still open, as they are asked. Those to the studio are
/// among its tasks.
pub(super) fn questions(check: &AppointmentCheck) -> impl Iterator<Item = &TodoItem> {
    check.todo.iter().filter(|item| is_question_to(item, is_clients))
}

/// Whether the visit is refused for it.
pub(super) fn is_refusal(finding: &Finding) -> bool {
    finding.verdict == Verdict::Decline && finding.overridden.is_none()
}

/// Whether no list says what is to be known of a finding: the studio's has each wait as a visit to
/// be moved, the client's only what she has to do meanwhile.
pub(super) fn is_note(check: &AppointmentCheck, finding: &Finding, audience: SheetFor) -> bool {
    let listed = |whose: fn(&Open<Who>) -> bool| {
        check.todo.iter().any(|item| item.from == finding.rule && whose(&item.who))
    };
    match audience {
        _ if is_refusal(finding) => true,
        SheetFor::Client if is_waiting(finding) => !listed(is_clients),
        SheetFor::Client | SheetFor::Studio => {
            matches!(finding.verdict.known(), None | Some(Verdict::Proceed | Verdict::Decline))
                && !listed(|_| true)
        }
    }
}

/// Why, and what to know of it where no list says that.
pub(super) fn told(check: &AppointmentCheck, finding: &Finding, audience: SheetFor) -> String {
    let more = finding.condition.as_deref().filter(|_| is_note(check, finding, audience));
    format!("{} {}", finding.because, more.unwrap_or_default()).trim_end().to_owned()
}

/// Whether it is of the client: what is found of the artist's training is the studio's own.
pub(super) fn is_of_client(finding: &Finding) -> bool {
    !finding.rule.starts_with("training.")
}

/// All that was found, each sentence once; for the client what is of her.
pub(super) fn found(check: &AppointmentCheck, audience: SheetFor) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    let is_hers = |finding: &&Finding| audience == SheetFor::Studio || is_of_client(finding);
    for finding in check.findings.iter().filter(is_hers) {
        let said = told(check, finding, audience);
        // A reason by itself does not always say what it is about.
        let topic = finding.short.as_deref().and_then(topic_of);
        let said = match topic.filter(|_| audience == SheetFor::Client) {
            Some(topic) => format!("{topic}: {said}"),
            None => said,
        };
        // What another reason says with more beside it is not said again.
        if found.iter().all(|known| !known.contains(&said)) {
            found.retain(|known| !said.contains(known.as_str()));
            found.push(said);
        }
    }
    found
}

/// Whether the client does it, or has to see to it that her doctor does.
pub(super) fn is_clients(who: &Open<Who>) -> bool {
    who.known().is_some_and(|who| match who {
        Who::Client | Who::Doctor => true,
        Who::Artist | Who::Studio => false,
    })
}

/// Whether the studio does it.
pub(super) fn is_studios(who: &Open<Who>) -> bool {
    !is_clients(who)
}

impl Sheets {
    /// The short view of a check, in the check's own language.
    #[must_use]
    pub fn summary(&self, check: &AppointmentCheck) -> CheckSummary {
        let language = language_of(check);
        let best = best(check);
        let of_all = shared(&best);
        let lines = self.client_lines(check, language);
        let mind = check.needles.iter().flat_map(|needles| needles.cautions.clone());
        CheckSummary {
            check_id: check.id,
            booking_ref: check.booking_ref.clone(),
            client_ref: check.client_ref.clone(),
            treatment: check.treatment,
            effect: check.effect,
            starts_at: check.starts_at,
            on: check.on,
            made_at: check.made_at,
            language,
            verdict: check.verdict.clone(),
            says: self.says(check, !lines.is_empty()),
            says_studio: self.says_studio(check),
            hold_until: check.hold_until,
            not_before: check.not_before,
            client: lines,
            studio: self.studio_tasks(check, language),
            needles: needle_lines(&best, of_all),
            mind: mind.chain(of_all.cloned()).collect(),
            caution: check.cautions.first().cloned(),
        }
    }

    /// What the studio has to do: a visit that is to be moved for several reasons is moved once.
    /// Until when is the client's, and the whole page's.
    fn studio_tasks(&self, check: &AppointmentCheck, language: Language) -> Vec<SummaryTask> {
        let (moved, rest): (Vec<&TodoItem>, Vec<&TodoItem>) =
            tasks(check, is_studios).into_iter().partition(|item| is_only_moved(check, item));
        let about: Vec<&str> = moved.iter().filter_map(|item| topic_of(&item.text)).collect();
        let text = self.texts.fill(language, "studio.move", &[("what", &list(language, &about))]);
        let moved = (!about.is_empty()).then_some(SummaryTask { text, due: None, late: false });
        let task = |item: &TodoItem| {
            let TodoItem { key: _, text, who: _, due, late, from: _ } = item.clone();
            SummaryTask { text, due, late }
        };
        moved.into_iter().chain(rest.into_iter().map(task)).collect()
    }

    /// What is to be done, and behind it by when, where it does not say that itself. A day
    /// before it would bound all of it: also the medicine that she goes on with.
    pub(super) fn dated(&self, errand: &Errand<'_>, on: CivilDate, language: Language) -> String {
        match errand.until(on, language) {
            Some((key, day)) => {
                let until = self.texts.fill(language, key, &[("day", &day)]);
                format!("{} {until}", errand.text)
            }
            None => errand.text.to_owned(),
        }
    }
}

/// Whether it asks for nothing but another day, which is what its finding says last.
fn is_only_moved(check: &AppointmentCheck, item: &TodoItem) -> bool {
    let mut of = check.findings.iter().filter(|finding| finding.rule == item.from);
    let last = |text| sentences(text).last();
    let condition = of.next().and_then(|finding| last(finding.condition.as_deref()?));
    item.key.starts_with(REBOOK)
        && topic_of(&item.text).is_some()
        && condition.is_some_and(|said| item.text.ends_with(said))
}

/// Something to do, wherever it is listed.
pub(super) struct Errand<'a> {
    pub(super) text: &'a str,
    pub(super) due: Option<CivilDate>,
    pub(super) late: bool,
    /// Whether an answer is fetched from somebody else.
    pub(super) is_answer: bool,
}

impl Errand<'_> {
    /// By when, of the errand alone, and that it is late if it is: a key and its day. Nothing
    /// where the sentence names days itself, or where it is for the day of the visit.
    pub(super) fn until(
        &self,
        on: CivilDate,
        language: Language,
    ) -> Option<(&'static str, String)> {
        let due = self.due?;
        let said = day(language, due.0);
        let names_days = self.text.contains(&format!(" {}", due.0.year()));
        let key = match (self.late, self.is_answer) {
            (true, _) if self.text.contains(&said) => return None,
            (true, true) => "answer_late",
            (true, false) => "late",
            (false, _) if due == on || names_days => return None,
            (false, true) => "answer_by",
            (false, false) => "by",
        };
        Some((key, said))
    }
}

impl<'a> From<&'a TodoItem> for Errand<'a> {
    fn from(item: &'a TodoItem) -> Self {
        let is_answer = item.key.starts_with(WRITTEN_VIEW) && is_clients(&item.who);
        Self { text: &item.text, due: item.due, late: item.late, is_answer }
    }
}

impl<'a> From<&'a SummaryTask> for Errand<'a> {
    fn from(task: &'a SummaryTask) -> Self {
        Self { text: &task.text, due: task.due, late: task.late, is_answer: false }
    }
}

/// The needles that are named: the first of the ranking, in its order. None for a
/// visit that is declined or for others to judge.
pub(super) fn best(check: &AppointmentCheck) -> Vec<&OfferedNeedle> {
    if matches!(check.verdict.known(), None | Some(Verdict::Decline | Verdict::Refer)) {
        return Vec::new();
    }
    check.needles.iter().flat_map(|needles| &needles.ranked).take(NEEDLES_MAX).collect()
}

/// What is first to mind with each of several needles alike, and is said once above them.
fn shared<'a>(needles: &[&'a OfferedNeedle]) -> Option<&'a String> {
    let (first, rest) = needles.split_first()?;
    let said = first.cautions.first()?;
    let is_same = |needle: &&OfferedNeedle| needle.cautions.first() == Some(said);
    (!rest.is_empty() && rest.iter().all(is_same)).then_some(said)
}

/// What a line says beyond what was said before it, with its subject; nothing if that is all.
fn beyond(said: &str, line: &str) -> Option<String> {
    let core = |sentence: &str| {
        sentence.split_once(": ").map_or_else(|| sentence.to_owned(), |(_, rest)| rest.to_owned())
    };
    let all: Vec<&str> = sentences(line).collect();
    let new: Vec<&str> =
        all.iter().copied().filter(|sentence| !said.contains(&core(sentence))).collect();
    if new.len() == all.len() {
        return Some(line.to_owned());
    }
    let subject = line.split_once(": ").map(|(subject, _)| subject);
    let subject = subject.filter(|subject| !subject.contains(['.', '!', '?']));
    let rest = new.join(" ");
    let told = match subject.filter(|subject| !rest.starts_with(subject)) {
        Some(subject) => format!("{subject}: {rest}"),
        None => rest,
    };
    (!new.is_empty()).then_some(told)
}

/// A line for each needle. Why it fits is said once of several, but for its last sentence; what
/// is to be minded stands with each.
fn needle_lines(best: &[&OfferedNeedle], of_all: Option<&String>) -> Vec<SummaryNeedle> {
    let mut said = String::new();
    let mut lines = Vec::new();
    for needle in best {
        let why = needle.answers.iter().find(|answer| answer.question == "effect");
        let why = why.map_or("", |answer| answer.because.as_str());
        let last = || sentences(why).last().unwrap_or_default().to_owned();
        let told = beyond(&said, why).unwrap_or_else(last);
        said.push_str(why);
        said.push('\n');
        lines.push(needle_line(needle, told, of_all));
    }
    lines
}

/// Why it fits the effect, and the first thing to mind with it that is not of all.
fn needle_line(needle: &OfferedNeedle, why: String, of_all: Option<&String>) -> SummaryNeedle {
    let mind = needle.cautions.iter().find(|said| Some(*said) != of_all).cloned();
    let parts = [Some(why).filter(|why| !why.is_empty()), mind];
    SummaryNeedle {
        canonical: needle.canonical.clone(),
        line: parts.into_iter().flatten().collect::<Vec<_>>().join(" "),
        lot_ids: needle.lots.iter().map(|lot| lot.lot_id).collect(),
    }
}
