//! What the client reads of a check on her phone: the outcome in a sentence, and at most four more.
//!
//! Each is of one thing and opens with it. What is graver comes first, so that what there is no
//! room for, which is counted, is never graver than what is said.

use etui_schema::appointment_checks::{AppointmentCheck, TodoItem};
use etui_schema::sheets::SheetFor;
use etui_schema::skin_assessments::Finding;
use etui_schema::vocabulary::{Language, Verdict};

use super::summary::{
    Errand, QUESTION, WRITTEN_VIEW, is_clients, is_note, is_of_client, is_refusal, language_of,
    questions, tasks, told,
};
use super::{CLIENT_MAX, Sheets};
use crate::text::{day, list, sentences};

/// Rules that tell a client to go on with a medicine, without sending her to a doctor.
pub(super) const GO_ON: [&str; 2] = ["prescribed_antiplatelet", "own_choice_painkillers"];

/// How much hangs on a line, gravest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Weight {
    /// The visit is refused for it.
    Refused,
    /// Somebody else is asked first.
    Asks,
    /// The visit waits for it, nobody knows how long.
    Waits,
    /// It waits until a day: the latest is said with the outcome.
    WaitsUntil,
    /// Something is to be done before a day.
    Dated,
    /// A medicine goes on.
    GoesOn,
    /// Questions are open: that they are is said with the outcome.
    Open,
    /// Something is to be done, or to be known of the visit.
    Done,
    /// Nothing has to be done about it.
    Noted,
}

/// Whether a visit waits for it.
pub(super) fn is_waiting(finding: &Finding) -> bool {
    finding.verdict == Verdict::Hold && finding.overridden.is_none()
}

impl Sheets {
    /// The outcome in one sentence or two, as the client is told. `is_listed` if more follows.
    pub(super) fn says(&self, check: &AppointmentCheck, is_listed: bool) -> String {
        let language = language_of(check);
        let not_before = || {
            let day = day(language, check.not_before?.0);
            Some(self.texts.fill(language, "says.not_before", &[("day", &day)]))
        };
        let first = match (check.verdict.known(), check.hold_until) {
            _ if is_overtaken(check) => return check.summary.clone(),
            // What it waits for is said line by line.
            (Some(Verdict::Hold), None) => {
                let waits = check.findings.iter().any(|one| is_of_client(one) && is_waiting(one));
                let key = if waits || is_listed { "says.hold" } else { "says.hold_studio" };
                self.word(language, key)
            }
            (Some(Verdict::Decline), _) => self.word(language, "says.decline"),
            (Some(Verdict::Incomplete), _) => self.word(language, "says.incomplete"),
            (Some(Verdict::ProceedWithConditions), _) if !is_listed => {
                self.word(language, "says.prepared")
            }
            _ => sentences(&check.summary).next().unwrap_or_default(),
        };
        let open = matches!(check.verdict.known(), Some(Verdict::Hold | Verdict::Refer));
        let day = not_before().filter(|_| open && check.hold_until.is_none());
        [Some(first.to_owned()), day].into_iter().flatten().collect::<Vec<_>>().join(" ")
    }

    /// The outcome, what it hangs on, and its day, as the studio is told.
    pub(super) fn says_studio(&self, check: &AppointmentCheck) -> String {
        if is_overtaken(check) {
            return check.summary.clone();
        }
        let language = language_of(check);
        let mut about: Vec<&str> = Vec::new();
        let stands = |one: &&Finding| one.verdict == check.verdict && one.overridden.is_none();
        for finding in check.findings.iter().filter(stands) {
            let lines = check.todo.iter().filter(|item| item.from == finding.rule);
            let said = lines.map(|item| &*item.text).chain(finding.short.as_deref());
            let topic = said.filter_map(topic_of).next();
            about.extend(topic.filter(|topic| !about.contains(topic)));
        }
        let verdict = self.word(language, &format!("verdict.{}", check.verdict)).to_owned();
        let about = list(language, &about);
        let what = if about.is_empty() { String::new() } else { format!(": {about}") };
        let (key, on) = match (check.hold_until, check.not_before) {
            (Some(until), _) => ("studio.says_from", Some(until)),
            (None, Some(day)) => ("studio.says_not_before", Some(day)),
            (None, None) => ("studio.says", None),
        };
        let on = on.map_or_else(String::new, |on| day(language, on.0));
        self.texts.fill(language, key, &[("verdict", &verdict), ("what", &what), ("day", &on)])
    }

    /// At most four, of one sentence each: open questions count as one, and the last says how
    /// many more there are if they do not all fit.
    pub(super) fn client_lines(&self, check: &AppointmentCheck, language: Language) -> Vec<String> {
        let mut lines: Vec<(Weight, String)> = Vec::new();
        for item in tasks(check, is_clients) {
            let finding = finding(check, &item.from);
            let line = self.client_line(check, item, language);
            lines.push((weight(check, item, finding), line));
        }
        // Early checks listed no question.
        let is_listed = check.todo.iter().any(|item| item.key.starts_with(QUESTION));
        let open = if is_listed { questions(check).count() } else { check.unanswered.len() };
        if 0 < open && check.verdict != Verdict::Decline {
            let open = self.texts.fill(language, "open_short", &[("n", &open.to_string())]);
            lines.push((Weight::Open, open));
        }
        let hers = check.findings.iter().filter(|finding| is_of_client(finding));
        for finding in hers.filter(|finding| is_note(check, finding, SheetFor::Client)) {
            let weight = match (is_refusal(finding), is_waiting(finding)) {
                (true, _) => Weight::Refused,
                // What a refusal makes idle is not told.
                (false, true) if check.verdict == Verdict::Decline => continue,
                (false, true) => waits(finding),
                (false, false) => Weight::Noted,
            };
            let whole = told(check, finding, SheetFor::Client);
            let short = finding.short.as_deref().or_else(|| sentences(&whole).next());
            lines.extend(short.map(|short| (weight, short.to_owned())));
        }
        if check.verdict == Verdict::Decline {
            // What a refusal makes idle is not told.
            lines.retain(|(weight, _)| *weight <= Weight::Asks);
        }
        self.fitted(lines, language)
    }

    /// What she has to do in one sentence, with its day.
    pub(super) fn client_line(
        &self,
        check: &AppointmentCheck,
        item: &TodoItem,
        language: Language,
    ) -> String {
        let short = finding(check, &item.from).and_then(|finding| finding.short.as_deref());
        let text = short.or_else(|| sentences(&item.text).next()).unwrap_or(&item.text);
        let errand = Errand { text, ..Errand::from(item) };
        match errand.until(check.on, language) {
            Some((key, day)) => {
                let until = self.texts.fill(language, &format!("{key}_short"), &[("day", &day)]);
                format!("{} ({until}).", text.trim_end_matches('.'))
            }
            None => text.to_owned(),
        }
    }

    /// The gravest of them, each once, and how many more there are.
    fn fitted(&self, mut lines: Vec<(Weight, String)>, language: Language) -> Vec<String> {
        lines.sort_by_key(|(weight, _)| *weight);
        let mut fitted: Vec<String> = Vec::new();
        for (_, line) in lines {
            if !fitted.contains(&line) {
                fitted.push(line);
            }
        }
        if CLIENT_MAX < fitted.len() {
            let left = fitted.split_off(CLIENT_MAX - 1).len().to_string();
            fitted.push(self.texts.fill(language, "more", &[("n", &left)]));
        }
        fitted
    }
}

/// What a rule found.
fn finding<'a>(check: &'a AppointmentCheck, rule: &str) -> Option<&'a Finding> {
    check.findings.iter().find(|finding| finding.rule == rule)
}

/// Whether it has to be made again before anything of it counts.
pub(super) fn is_overtaken(check: &AppointmentCheck) -> bool {
    check.todo.iter().any(|item| item.text == check.summary)
}

/// What a line on the list is about.
pub(super) fn topic_of(line: &str) -> Option<&str> {
    let (topic, _) = line.split_once(": ")?;
    (!topic.contains(['.', '!', '?'])).then_some(topic)
}

/// How much hangs on a wait.
const fn waits(finding: &Finding) -> Weight {
    if finding.not_before.is_none() { Weight::Waits } else { Weight::WaitsUntil }
}

/// How much hangs on what the client has to do.
fn weight(check: &AppointmentCheck, item: &TodoItem, finding: Option<&Finding>) -> Weight {
    match finding {
        Some(finding) if is_waiting(finding) => waits(finding),
        Some(finding) if GO_ON.contains(&&*finding.rule) => Weight::GoesOn,
        _ if item.key.starts_with(WRITTEN_VIEW) => Weight::Asks,
        _ if item.due.is_some_and(|due| due < check.on) => Weight::Dated,
        _ => Weight::Done,
    }
}
