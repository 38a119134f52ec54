//! What is not told of a report is taken for what it may be: how strong it is,
//! where it is going, when it began and, without a zone, on which day it is told.

use etui_schema::vocabulary::Treatment;
use etui_schema::vocabulary::aftercare::{Level, Severity, Symptom, Trend};
use jiff::SignedDuration;
use jiff::tz::TimeZone;
use proptest::prelude::*;

use super::super::triage::{Report, Told};
use super::triage::{any_report, any_told, level, report, told, triage};
use super::zone;

use Level::{Expected, SameDay};
use Severity::{Mild, Moderate, Severe};
use Trend::{Better, Same, Worse};

/// Zones whose clocks never change. At 13:00 UTC, when all of these sessions end,
/// midnight is 18, 11, 2 and 21 hours away.
const ZONES: [&str; 4] = ["America/Phoenix", "UTC", "Asia/Tokyo", "Pacific/Honolulu"];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(40_000)))]

    #[test]
    fn what_is_left_out_never_reassures(
        any in any_report(),
        first in any_told(),
        at in any::<prop::sample::Index>(),
    ) {
        let mut one = any;
        if one.symptoms.is_empty() {
            one.symptoms.push(first);
        }
        let i = at.index(one.symptoms.len());
        let before = level(&one);
        let mut less = one.clone();
        less.symptoms[i].severity = None;
        less.symptoms[i].trend = None;
        let after = triage().judge(&less).unwrap();
        prop_assert!(before <= after.level, "{:?}", one);
        // What somebody wears or takes has no strength that could be asked for.
        let worn = [Symptom::ContactLensWorn, Symptom::BloodThinnerTaken];
        let is_worn = worn.contains(&one.symptoms[i].symptom);
        // Nothing is graver than an emergency: there is no more to ask.
        prop_assert!(is_worn || after.level == Level::Emergency || !after.ask.is_empty());
    }
}

/// The days on which a report may be told, each once and with a zone of it.
fn days(one: &Report, zones: &[TimeZone]) -> Vec<(TimeZone, i32)> {
    let day = |zone: &TimeZone| {
        let there = Report { zone: Some(zone.clone()), symptoms: Vec::new(), ..one.clone() };
        (zone.clone(), triage().judge(&there).unwrap().day)
    };
    let mut days: Vec<_> = zones.iter().map(day).collect();
    days.sort_by_key(|(_, day)| *day);
    days.dedup_by_key(|(_, day)| *day);
    days
}

/// One level down: what began at a time that nobody told is at most that much milder.
fn below(level: Level) -> Level {
    Level::ALL.iter().rev().copied().find(|one| *one < level).unwrap_or(Expected)
}

/// What a report comes to at least: what was not told is severe and gets worse, and may
/// have begun on the day itself.
fn at_least(one: &Report, days: &[(TimeZone, i32)]) -> Level {
    gravest(one, days, false).max(below(gravest(one, days, true)))
}

fn gravest(one: &Report, days: &[(TimeZone, i32)], late: bool) -> Level {
    let on = |(zone, day): &(TimeZone, i32)| {
        let mut there = Report { zone: Some(zone.clone()), ..one.clone() };
        for told in &mut there.symptoms {
            told.severity.get_or_insert(Severe);
            told.trend.get_or_insert(Worse);
            told.began_on_day = told.began_on_day.or(late.then_some(*day));
        }
        level(&there)
    };
    days.iter().map(on).max().unwrap()
}

#[test]
fn a_lid_that_may_be_getting_worse_on_its_second_day_is_not_expected() {
    let mut one = report(Treatment::Brows, 0, vec![told(Symptom::LidSwelling, Mild, Worse)]);
    one.performed_at = "2026-10-01T14:00:00Z".parse().unwrap();
    one.reported_at = "2026-10-02T16:00:00Z".parse().unwrap();
    assert_eq!(level(&one), SameDay);
    one.symptoms[0].trend = None;
    let answer = triage().judge(&one).unwrap();
    assert_eq!((answer.level, answer.day, answer.ask.len()), (SameDay, 1, 1));
    one.symptoms[0].trend = Some(Same);
    assert_eq!(level(&one), Expected);
}

/// From 13:00 to 22:00 of a day in London, midnight lies between in Tokyo.
#[test]
fn what_began_today_is_taken_on_every_day_that_today_may_be() {
    let mut one = report(Treatment::Brows, 0, vec![told(Symptom::Scabs, Mild, Same)]);
    one.performed_at = "2026-10-01T13:00:00Z".parse().unwrap();
    one.reported_at = "2026-10-01T22:00:00Z".parse().unwrap();
    for (place, began, is_taken) in [
        (None, 0, true),
        (None, 1, true),
        (None, 2, false),
        (None, -1, false),
        (Some("UTC"), 1, false),
        (Some("Asia/Tokyo"), 1, true),
        (Some("Asia/Tokyo"), 2, false),
    ] {
        one.zone = place.map(zone);
        one.symptoms[0].began_on_day = Some(began);
        assert_eq!(triage().judge(&one).is_ok(), is_taken, "{place:?} {began}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(10_000)))]

    #[test]
    fn no_zone_is_never_milder_than_the_zone_it_is_told_in(
        any in any_report(),
        at in 0..ZONES.len(),
        began in 0..3_i32,
    ) {
        let there = TimeZone::get(ZONES[at]).unwrap();
        let mut one = Report { zone: Some(there), ..any };
        if let Some(first) = one.symptoms.first_mut() {
            first.began_on_day = Some(began);
        }
        if let Ok(known) = triage().judge(&one) {
            one.zone = None;
            let untold = triage().judge(&one);
            prop_assert!(untold.is_ok_and(|answer| known.level <= answer.level), "{:?}", one);
        }
    }
}

#[test]
fn no_sign_is_taken_lightly_on_any_day_that_it_may_be() {
    let zones = ZONES.map(zone);
    for treatment in Treatment::ALL {
        for (day, hours) in (0..=30).flat_map(|day| [(day, 2), (day, 20)]) {
            let mut one = report(*treatment, day, Vec::new());
            one.reported_at += SignedDuration::from_hours(hours);
            let days = days(&one, &zones);
            for symptom in Symptom::ALL {
                for (severity, trend) in [(None, None), (Some(Mild), None), (None, Some(Better))] {
                    let began_on_day = None;
                    one.symptoms = vec![Told { symptom: *symptom, severity, trend, began_on_day }];
                    let (got, may_be) = (level(&one), at_least(&one, &days));
                    assert!(may_be <= got, "{may_be} {got}: {one:?}");
                }
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(10_000)))]

    #[test]
    fn several_signs_are_not_taken_lightly_either(
        any in any_report(),
        first in any_told(),
        minutes in 0_i64..60,
    ) {
        let mut one = any;
        if one.symptoms.is_empty() {
            one.symptoms.push(first);
        }
        one.reported_at += SignedDuration::from_mins(minutes);
        let may_be = at_least(&one, &days(&one, &ZONES.map(zone)));
        prop_assert!(may_be <= level(&one), "{may_be}: {one:?}");
    }
}

/// The words of ordinary healing are for what gets no worse, once the first day is over.
#[test]
fn what_gets_worse_is_not_calmed() {
    for treatment in Treatment::ALL {
        for (symptom, day) in Symptom::ALL.iter().flat_map(|s| [2, 3, 6, 10, 20].map(|d| (*s, d))) {
            let one = report(*treatment, day, vec![told(symptom, Mild, Worse)]);
            let answer = triage().judge(&one).unwrap();
            assert!(Expected < answer.level, "{treatment} day {day} {symptom}");
            let calmed = answer.now.iter().any(|say| &*say.key == "do_expected");
            assert!(!calmed, "{treatment} day {day} {symptom}");
        }
    }
}

/// A reason is of the sign that was told, on the day on which it was told.
#[test]
fn reasons_fit_sign_and_day() {
    let why = |treatment, day, symptom, trend| -> Vec<String> {
        let answer = triage().judge(&report(treatment, day, vec![told(symptom, Moderate, trend)]));
        answer.unwrap().findings.iter().map(|finding| finding.because.key.to_string()).collect()
    };
    for (treatment, day, symptom, trend, reasons) in [
        (Treatment::Scalp, 3, Symptom::Fever, Same, &["why_fever_told"][..]),
        (Treatment::Scalp, 57, Symptom::Fever, Same, &["why_fever_told"]),
        (Treatment::Lips, 5, Symptom::HoneyCrusts, Same, &["why_impetigo"]),
        (Treatment::Brows, 5, Symptom::Itching, Same, &["why_itching"]),
        (Treatment::Areola, 50, Symptom::Itching, Same, &["why_not_better"]),
        (Treatment::Brows, 40, Symptom::SlowFlaking, Same, &["why_not_better"]),
        (Treatment::Brows, 1, Symptom::Pain, Worse, &["why_pain_grows"]),
        (Treatment::Brows, 3, Symptom::Swelling, Worse, &["why_grows"]),
    ] {
        assert_eq!(why(treatment, day, symptom, trend), reasons, "{treatment} {day} {symptom}");
    }
    // Measured and told it is one reason, measured alone it names the figure.
    let mut one = report(Treatment::Brows, 3, vec![told(Symptom::Fever, Moderate, Same)]);
    one.temperature_c = Some(38.4);
    for (symptoms, reason) in [(1, "why_fever_told"), (0, "why_fever")] {
        one.symptoms.truncate(symptoms);
        let found = triage().judge(&one).unwrap().findings;
        let reasons: Vec<&str> = found.iter().map(|finding| &*finding.because.key).collect();
        assert_eq!(reasons, [reason]);
    }
}

#[test]
fn nobody_is_asked_for_a_photo_of_an_areola() {
    let photos = ["do_artist", "do_wait", "do_review"];
    for (symptom, day) in Symptom::ALL.iter().flat_map(|s| [1, 5, 20, 40].map(|d| (*s, d))) {
        let one = report(Treatment::Areola, day, vec![told(symptom, Mild, Same)]);
        let answer = triage().judge(&one).unwrap();
        let asked = answer.now.iter().any(|say| photos.contains(&&*say.key));
        assert!(!asked, "day {day} {symptom}");
    }
}
