//! Whether drawer, artist, machine and skin are ready, and what to do if not.

use etui_craft::aftercare::Plans;
use etui_craft::aftercare::healing::Next;
use etui_craft::screening::age;
use etui_craft::text::{self, Catalogue};
use etui_schema::appointment_checks::{CheckNeedles, OfferedNeedle, Readiness, TodoItem, Who};
use etui_schema::artists::Practice;
use etui_schema::vocabulary::{CivilDate, Confidence, Grouping, Language};
use jiff::Span;
use jiff::civil::Date;

use super::gather::Gathered;

/// What the sentences are made with.
#[derive(Clone, Copy)]
pub(super) struct Words<'a> {
    pub sentences: &'a Catalogue,
    pub language: Language,
}

impl Words<'_> {
    pub(super) fn fill(self, key: &str, values: &[(&str, &str)]) -> String {
        self.sentences.fill(self.language, &format!("check.{key}"), values)
    }

    pub(super) fn day(self, day: Date) -> String {
        text::day(self.language, day)
    }
}

/// Whether drawer, artist and machine are ready for the needle that comes
/// first, and the skin for another session.
pub(super) fn readiness(
    plans: &Plans,
    gathered: &Gathered,
    needles: &CheckNeedles,
    words: Words<'_>,
) -> Vec<Readiness> {
    let first = needles.ranked.first();
    let practice = gathered.practice.as_deref();
    let mut list = vec![drawer(first, words)];
    list.extend(practice.zip(first).map(|(all, needle)| practised(all, needle, words)));
    list.extend(first.and_then(|needle| machine(gathered, needle)));
    list.extend(healing(plans, gathered, words));
    list
}

fn drawer(first: Option<&OfferedNeedle>, words: Words<'_>) -> Readiness {
    Readiness {
        about: "drawer".to_owned(),
        ready: first.is_some(),
        because: match first {
            Some(needle) => words.fill("drawer_ready", &[("needle", &needle.canonical)]),
            None => words.fill("drawer_empty", &[]),
        },
        confidence: Confidence::High,
    }
}

/// Whether the artist has practised the needle that comes first.
fn practised(practice: &[Practice], needle: &OfferedNeedle, words: Words<'_>) -> Readiness {
    let (count, grouping) = (needle.configuration.count, needle.configuration.grouping);
    let same = |g: Option<Grouping>, c: Option<u8>| g == grouping && c == count;
    let found =
        practice.iter().find(|one| same(one.configuration.grouping, one.configuration.count));
    let (ready, key, confidence) = match found {
        Some(one) if one.signed_off_by.is_some() => (true, "practice_signed", Confidence::High),
        Some(_) => (false, "practice_unsigned", Confidence::Medium),
        None => (false, "practice_none", Confidence::Medium),
    };
    let because = words.fill(key, &[("needle", &needle.canonical)]);
    Readiness { about: "practice".to_owned(), ready, because, confidence }
}

/// Whether the machine that was named suits the needle.
fn machine(gathered: &Gathered, needle: &OfferedNeedle) -> Option<Readiness> {
    gathered.setting.machine.as_ref()?;
    let answer = needle.answers.iter().find(|answer| answer.question == "machine")?;
    Some(Readiness {
        about: "machine".to_owned(),
        ready: 0.0 < answer.desirability,
        because: answer.because.clone(),
        confidence: Confidence::Medium,
    })
}

/// Whether the skin has had its time since the last session on record.
fn healing(plans: &Plans, gathered: &Gathered, words: Words<'_>) -> Option<Readiness> {
    let last = gathered.previous.first()?;
    // The age on the day of the session, as in its plan; whoever does not say
    // that it is the next pass gets the days of a touch-up.
    let years = age::on(gathered.born_on.0, last.on.0);
    let years = years.and_then(|years| u8::try_from(years).ok());
    let days = plans.rested(gathered.request.treatment, Next::TouchUp, years).days;
    let from = last.on.0.saturating_add(Span::new().days(days));
    let values =
        [("date", words.day(last.on.0)), ("days", days.to_string()), ("from", words.day(from))];
    let values = values.each_ref().map(|(place, value)| (*place, value.as_str()));
    Some(Readiness {
        about: "healing".to_owned(),
        ready: days <= last.days_before,
        because: words.fill("healing", &values),
        confidence: Confidence::Medium,
    })
}

/// What has to be done where something is not ready.
pub(super) fn todo(
    readiness: &[Readiness],
    on: CivilDate,
    today: Date,
    words: Words<'_>,
) -> impl Iterator<Item = TodoItem> {
    readiness.iter().filter(|ready| !ready.ready).map(move |ready| {
        let who = match ready.about.as_str() {
            "drawer" | "healing" => Who::Studio,
            _ => Who::Artist,
        };
        TodoItem {
            key: format!("ready.{}", ready.about),
            text: words.fill(&format!("todo_{}", ready.about), &[("why", &ready.because)]),
            who,
            due: Some(on),
            late: on.0 < today,
            from: ready.about.clone(),
        }
    })
}
