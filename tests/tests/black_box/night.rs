//! A message goes out by day where she is, whenever it is tried again, comes back or is claimed late.

use std::collections::BTreeSet;

use etui_schema::reminders::{Reminder, ReminderState};
use etui_tests::wire::Request;
use serde_json::json;

use super::reminders::House;

/// A day in Berlin (CET, UTC+1): messages go out from 08:00 to 21:00, that is from 07:00 to 20:00 UTC.
const EVENING: &str = "2027-03-16T19:59:00Z";
const NIGHT: [&str; 3] = ["2027-03-16T20:00:00Z", "2027-03-16T23:30:00Z", "2027-03-17T06:59:59Z"];
const MORNING: &str = "2027-03-17T07:00:00Z";
/// What waited comes within the first second, in its order.
const BY_THEN: &str = "2027-03-17T07:00:01Z";

/// What a claim gives out.
fn claimed(house: &House) -> Vec<Reminder> {
    house.claim(200, 60).reminders
}

/// A failure that is tried again, a lease that ends, and what nobody claimed by day: none goes out by
/// night, none is lost, and each says when it comes.
#[test]
fn what_falls_into_the_night_waits_for_the_morning() {
    let house = House::open();
    house.treat("c-1", "lips", "2027-03-16T07:00:00Z");
    house.running.set_clock(EVENING);
    let claim = house.claim(2, 60);
    let [tried, lost] = &claim.reminders[..] else { panic!("{claim:?}") };
    let again = json!({ "outcome": "failed", "reason": "unreachable", "retry_after_seconds": 600 });
    house.outcome(&claim, tried, &again);
    house.treat("c-2", "brows", "2027-03-16T07:00:00Z");
    let late: Vec<_> = house.list(&format!("due_before={}&limit=200", NIGHT[0])).items;
    assert!(late.iter().any(|one| one.client_ref.as_str() == "c-2"), "{late:?}");
    for clock in NIGHT {
        house.running.set_clock(clock);
        assert_eq!(claimed(&house), [], "{clock}");
    }
    let due = house.list(&format!("due_before={}&limit=200", NIGHT[2])).items;
    assert_eq!(due, [], "what may not go out is not due");
    let waiting = house.list(&format!("due_from={MORNING}&due_before={BY_THEN}&limit=200"));
    for one in &waiting.items {
        assert!(one.local.starts_with("2027-03-17T08:00:00") && one.local.ends_with("+01:00"));
        assert!(one.due_at < one.latest, "{one:?}");
    }
    house.running.set_clock(BY_THEN);
    let morning = claimed(&house);
    let of_one = |all: &[Reminder]| -> Vec<_> {
        all.iter().filter(|one| one.client_ref.as_str() == "c-2").map(|one| one.id).collect()
    };
    assert_eq!(of_one(&morning), of_one(&late), "in the order in which they were due");
    for one in late.iter().chain([tried, lost]) {
        let came = morning.iter().find(|it| it.id == one.id).unwrap_or_else(|| panic!("{one:?}"));
        assert_eq!(came.maybe_sent, one.id == lost.id);
    }
    assert_eq!(house.count(ReminderState::Overtaken), 0);
}

/// The night is hers, and not the studio's.
#[test]
fn it_is_her_night() {
    let house = House::open();
    let put = Request::put("/v1/clients/c-1", &json!({ "zone": "America/New_York" }));
    assert_eq!(house.running.call(&put).status, 201);
    house.treat("c-1", "lips", "2027-03-15T07:00:00Z");
    house.treat("c-2", "lips", "2027-03-15T07:00:00Z");
    // EDT, UTC-4: from 01:00 to 12:00 UTC it is night there.
    for (clock, whom) in [
        ("2027-03-16T08:00:00Z", &["c-2"][..]),
        ("2027-03-16T11:59:59Z", &["c-2"]),
        ("2027-03-16T12:00:01Z", &["c-1", "c-2"]),
        ("2027-03-16T22:00:00Z", &["c-1"]),
        ("2027-03-17T01:30:00Z", &[]),
    ] {
        house.running.set_clock(clock);
        let given = claimed(&house);
        let named: BTreeSet<&str> = given.iter().map(|one| one.client_ref.as_str()).collect();
        assert_eq!(named, whom.iter().copied().collect(), "{clock}");
    }
}

/// Where she has moved to, and not where she was when the messages were written.
#[test]
fn the_night_moves_with_her() {
    let house = House::open();
    let lives = |zone: &str, seen: &str| {
        let put = Request::put("/v1/clients/c-1", &json!({ "zone": zone }));
        let put = if seen.is_empty() { put } else { put.header("If-Match", seen) };
        let answer = house.running.call(&put);
        assert!([200, 201].contains(&answer.status), "{}", answer.text());
    };
    lives("Europe/Berlin", "");
    house.treat("c-1", "lips", "2027-03-15T07:00:00Z");
    lives("Asia/Tokyo", "*");
    // 22:00 in Tokyo (UTC+9), and 08:00 there on the next day.
    house.running.set_clock("2027-03-16T13:00:00Z");
    assert_eq!(claimed(&house), []);
    house.running.set_clock("2027-03-16T23:00:01Z");
    assert!(!claimed(&house).is_empty());
}
