use jiff::civil::date;
use jiff::{SignedDuration, Timestamp};
use proptest::prelude::*;

use super::super::calendar::{Calendar, Event, Status, When, duration, escape, fold, utc};

fn event() -> Event {
    Event {
        uid: "019a3c7e-brows_day_2_3@etui".into(),
        stamp: "2027-03-18T13:00:00Z".parse().unwrap(),
        modified: Some("2027-03-18T13:00:00Z".parse().unwrap()),
        sequence: 0,
        when: When::Instant {
            from: "2027-03-20T08:00:00Z".parse().unwrap(),
            lasts: SignedDuration::from_mins(15),
        },
        summary: "Appointment".into(),
        description: None,
        status: Status::Confirmed,
        alarm_before: None,
    }
}

fn calendar(events: Vec<Event>) -> Calendar {
    Calendar {
        product: "-//etui//aftercare//EN".into(),
        name: "Studio".into(),
        refresh: Some(SignedDuration::from_hours(12)),
        events,
    }
}

/// What a reader does first: unfold, then split into lines.
fn unfold(written: &str) -> Vec<String> {
    written.replace("\r\n ", "").split_terminator("\r\n").map(str::to_owned).collect()
}

#[test]
fn text_is_escaped_as_the_standard_shows() {
    // RFC 5545 section 3.3.11
    for (text, want) in [
        (
            "Project XYZ Final Review\nConference Room - 3B\nCome Prepared.",
            "Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared.",
        ),
        ("a;b,c\\d", "a\\;b\\,c\\\\d"),
        ("one\r\ntwo\rthree", "one\\ntwo\\nthree"),
        ("bell\u{7}gone", "bellgone"),
        ("\"quoted\": kept", "\"quoted\": kept"),
    ] {
        assert_eq!(escape(text), want);
    }
}

#[test]
fn long_lines_are_folded_as_the_standard_shows() {
    // RFC 5545 section 3.1: a long description, split anywhere, unfolds to itself
    let text = "DESCRIPTION:This is a long description that exists on a long line.";
    assert_eq!(fold(text), format!("{text}\r\n"));
    let longer = format!("{text}{text}");
    assert_eq!(unfold(&fold(&longer)), [longer]);
    for (characters, lines) in [(75, 1), (76, 2), (149, 2), (150, 3)] {
        let folded = fold(&"x".repeat(characters));
        assert_eq!(folded.matches("\r\n").count(), lines, "{characters}");
    }
}

#[test]
fn date_times_and_durations_have_the_forms_of_the_standard() {
    // RFC 5545 section 3.3.5 (form 2) and 3.3.6
    let at = |text: &str| utc(text.parse::<Timestamp>().unwrap());
    assert_eq!(at("1998-01-19T07:00:00Z"), "19980119T070000Z");
    assert_eq!(at("2027-03-28T09:00:00.9+02:00"), "20270328T070000Z");
    for (seconds, want) in [
        (15 * 86_400 + 5 * 3_600 + 20, "P15DT5H0M20S"), // the standard's own example
        (49 * 86_400, "P49D"),                          // the standard's P7W, in days
        (900, "PT15M"),
        (3_600, "PT1H"),
        (3_601, "PT1H0M1S"),
        (0, "PT0S"),
        (-5, "PT0S"),
    ] {
        assert_eq!(duration(SignedDuration::from_secs(seconds)), want, "{seconds} s");
    }
}

#[test]
fn an_event_carries_what_readers_need() {
    let mut days = event();
    days.uid = "review@etui".into();
    days.when = When::Days { from: date(2027, 12, 31), until: date(2028, 2, 29) };
    days.alarm_before = Some(SignedDuration::from_hours(24));
    let mut gone = event();
    gone.status = Status::Cancelled;
    gone.sequence = 3;
    gone.alarm_before = Some(SignedDuration::from_hours(1));
    let lines = unfold(&calendar(vec![event(), days, gone]).write());
    for want in [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "REFRESH-INTERVAL;VALUE=DURATION:PT12H",
        "DTSTAMP:20270318T130000Z",
        "DTSTART:20270320T080000Z",
        "DURATION:PT15M",
        "DTSTART;VALUE=DATE:20271231",
        "DTEND;VALUE=DATE:20280301",
        "TRIGGER:-P1D",
        "SEQUENCE:3",
        "STATUS:CANCELLED",
        "END:VCALENDAR",
    ] {
        assert!(lines.iter().any(|line| line == want), "{want} in {lines:#?}");
    }
    assert_eq!(lines.iter().filter(|line| *line == "BEGIN:VALARM").count(), 1);
    assert_eq!(lines.iter().filter(|line| line.starts_with("UID:")).count(), 3);
}

/// Undoes [`escape`] as a reader does.
fn unescape(text: &str) -> String {
    let mut out = String::new();
    let mut chars = text.chars();
    while let Some(c) = chars.next() {
        match (c, c == '\\') {
            (_, false) => out.push(c),
            (_, true) => match chars.next() {
                Some('n' | 'N') => out.push('\n'),
                Some(other) => out.push(other),
                None => {}
            },
        }
    }
    out
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

    #[test]
    fn any_text_survives_writing_and_no_line_is_too_long(text in "\\PC{0,200}(\n\\PC{0,60})?") {
        let mut one = event();
        one.summary.clone_from(&text);
        one.description = Some(text.clone());
        let written = calendar(vec![one]).write();
        for line in written.split_terminator("\r\n") {
            prop_assert!(line.len() <= 75, "{} octets", line.len());
            prop_assert!(!line.contains(['\r', '\n']));
        }
        let lines = unfold(&written);
        let summary = lines.iter().find_map(|line| line.strip_prefix("SUMMARY:")).unwrap();
        prop_assert_eq!(unescape(summary), text);
    }
}
