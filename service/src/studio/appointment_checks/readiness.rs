//! Whether drawer, artist, machine and skin are ready, and what to do if not.

use std::collections::BTreeSet;

use etui_craft::aftercare::Plans;
use etui_craft::aftercare::healing::Next;
use etui_craft::screening::age;
use etui_craft::text::{self, Catalogue};
use etui_schema::appointment_checks::{
    CheckNeedles, NeedleSource, OfferedNeedle, Readiness, TodoItem, Who,
};
use etui_schema::artists::Practice;
use etui_schema::vocabulary::{Confidence, Instant, Language};
use jiff::Span;
use jiff::civil::Date;

use super::gather::Gathered;
use super::training::Judged;
use crate::studio::craft::Craft;

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
    craft: &Craft,
    gathered: &Gathered,
    (needles, trained, next): (&CheckNeedles, &Judged, Next),
    words: Words<'_>,
) -> Vec<Readiness> {
    let first = needles.ranked.first();
    let practice = gathered.practice.as_deref();
    let mut list = vec![drawer(first, words)];
    list.extend(practice.zip(first).map(|(all, needle)| {
        let signed = trained.readiness(craft, needle, words.language);
        signed.unwrap_or_else(|| practised(craft, all, needle, words))
    }));
    if gathered.request.artist_ref.is_none() {
        list.push(nobody_named(words));
    }
    if gathered.is_client_unknown() {
        list.push(client_unknown(gathered, words));
    }
    list.extend(booked(&craft.plans, gathered, next, words));
    list.extend(first.and_then(|needle| machine(gathered, needle)));
    list.extend(healing(&craft.plans, gathered, next, words));
    list
}

/// Whether there are packs to choose: what was not chosen from the drawer was not looked for there.
fn drawer(first: Option<&OfferedNeedle>, words: Words<'_>) -> Readiness {
    let ready = first.is_some_and(|needle| !needle.lots.is_empty());
    let said = |key, needle: &OfferedNeedle| words.fill(key, &[("needle", &needle.canonical)]);
    Readiness {
        about: "drawer".to_owned(),
        ready,
        because: match first {
            Some(needle) if ready => said("drawer_ready", needle),
            Some(needle) => said("drawer_unseen", needle),
            None => words.fill("drawer_empty", &[]),
        },
        confidence: Confidence::High,
    }
}

/// Whoever works may be a student; who is not named was not looked at.
fn nobody_named(words: Words<'_>) -> Readiness {
    Readiness {
        about: "artist".to_owned(),
        ready: false,
        because: words.fill("artist_unknown", &[]),
        confidence: Confidence::High,
    }
}

/// Who is not named, or not known under that name, may have a record that says no.
fn client_unknown(gathered: &Gathered, words: Words<'_>) -> Readiness {
    let key = match gathered.request.client_ref {
        None => "client_unnamed",
        Some(_) => "client_unknown",
    };
    Readiness {
        about: "client".to_owned(),
        ready: false,
        because: words.fill(key, &[]),
        confidence: Confidence::High,
    }
}

/// Whether the artist is told to have practised the needle that comes first. What
/// is told is no sign-off, however it is told.
fn practised(
    craft: &Craft,
    practice: &[Practice],
    needle: &OfferedNeedle,
    words: Words<'_>,
) -> Readiness {
    let same = |one: &&Practice| craft.training.alike(&one.configuration, &needle.configuration);
    let found = practice.iter().filter(same);
    let found = found.max_by_key(|one| one.signed_off_by.is_some());
    let canonical = [("needle", needle.canonical.as_str())];
    let (ready, because, confidence) = match found {
        Some(one) if one.signed_off_by.is_some() => {
            (true, craft.training.told_only(&needle.canonical, words.language), Confidence::Low)
        }
        Some(_) => (false, words.fill("practice_unsigned", &canonical), Confidence::Medium),
        None => (false, words.fill("practice_none", &canonical), Confidence::Medium),
    };
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
fn healing(plans: &Plans, gathered: &Gathered, next: Next, words: Words<'_>) -> Option<Readiness> {
    let last = gathered.previous.first()?;
    // The age on the day of the session, as in its plan.
    let years = age::on(gathered.born_on.0, last.on.0);
    let years = years.and_then(|years| u8::try_from(years).ok());
    let days = plans.rested(gathered.request.treatment, next, years).days;
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

/// Bookings of the client in this area so near that the skin has not had its time between them.
fn booked(plans: &Plans, gathered: &Gathered, next: Next, words: Words<'_>) -> Option<Readiness> {
    let years = age::on(gathered.born_on.0, gathered.day());
    let years = years.and_then(|years| u8::try_from(years).ok());
    let apart = plans.rested(gathered.request.treatment, next, years).days;
    let day = |at: &Instant| gathered.zone.rules().to_datetime(at.0).date();
    let days_off = |on: Date| on.since(gathered.day()).map_or(0, |span| span.get_days().abs());
    let near = gathered.booked.iter().map(day).filter(|on| days_off(*on) < apart);
    let days: BTreeSet<Date> = near.collect();
    let said: Vec<String> = days.into_iter().map(|on| words.day(on)).collect();
    (!said.is_empty()).then(|| Readiness {
        about: "booked".to_owned(),
        ready: false,
        because: words.fill("booked", &[("days", &said.join(", ")), ("n", &apart.to_string())]),
        confidence: Confidence::Medium,
    })
}

/// What has to be done where something is not ready.
pub(super) fn todo(
    readiness: &[Readiness],
    gathered: &Gathered,
    today: Date,
    words: Words<'_>,
) -> impl Iterator<Item = TodoItem> {
    let on = gathered.on;
    let is_named = gathered.request.client_ref.is_some();
    let source = gathered.request.candidates.as_ref().unwrap_or(&NeedleSource::Drawer);
    let is_unseen = *source != NeedleSource::Drawer;
    readiness.iter().filter(|ready| !ready.ready).map(move |ready| {
        let who = match ready.about.as_str() {
            "drawer" | "healing" | "artist" | "client" | "booked" => Who::Studio,
            _ => Who::Artist,
        };
        let key = match ready.about.as_str() {
            // Who is named need not be named again.
            "client" if is_named => "todo_client_unknown".to_owned(),
            "drawer" if is_unseen => "todo_drawer_unseen".to_owned(),
            about => format!("todo_{about}"),
        };
        TodoItem {
            key: format!("ready.{}", ready.about),
            text: words.fill(&key, &[("why", &ready.because)]),
            who: who.into(),
            due: Some(on),
            late: on.0 < today,
            from: ready.about.clone(),
        }
    })
}
