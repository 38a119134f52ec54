//! A record that was kept for the wrong client and struck: nothing goes out about work that she never
//! had, and nothing is counted from it.

use etui_schema::reminders::{Reminder, ReminderState};
use etui_tests::wire::Request;
use serde_json::{Value, json};

use super::checks;
use super::reminders::{House, delivered};

/// Puts a record right.
fn amend(house: &House, treatment: &str, change: &Value) {
    let mut body = json!({ "reason": "another client" });
    for (name, value) in change.as_object().expect("an object") {
        body[name] = value.clone();
    }
    let path = format!("/v1/treatments/{treatment}/amendments");
    let answer = house.running.call(&Request::post(path, &body));
    assert_eq!(answer.status, 201, "{}", answer.text());
}

fn strike(house: &House, treatment: &str) {
    amend(house, treatment, &json!({ "strike_packs": [0] }));
}

/// The messages of a treatment.
fn of(house: &House, treatment: &str) -> Vec<Reminder> {
    let states = "scheduled leased paused held delivered failed skipped overtaken cancelled";
    let states: Vec<String> = states.split(' ').map(|state| format!("state={state}")).collect();
    house.list(&format!("treatment_id={treatment}&limit=200&{}", states.join("&"))).items
}

fn count(house: &House, treatment: &str, state: ReminderState) -> usize {
    of(house, treatment).iter().filter(|one| one.state == state).count()
}

/// What waits, is paused, is held or is on its way; what went out all the same is a fact. With a pack
/// it is a record again.
#[test]
fn no_message_goes_out_about_what_was_struck() {
    let house = House::open();
    let wrong = house.treat("c-1", "brows", "2027-03-16T07:00:00Z");
    let other = house.treat("c-1", "lips", "2027-03-16T07:00:00Z");
    let pigment =
        json!([{ "kind": "spreading_redness", "severity": "moderate", "trend": "worse" }]);
    super::pausing::report(&house, &wrong, &pigment);
    let all = of(&house, &wrong).len();
    let lips = count(&house, &other, ReminderState::Scheduled);
    let claim = house.claim(200, 600);
    let mine: Vec<_> =
        claim.reminders.iter().filter(|one| one.treatment_id.to_string() == wrong).collect();
    assert!(!mine.is_empty() && 0 < count(&house, &wrong, ReminderState::Paused));
    strike(&house, &wrong);
    assert_eq!(count(&house, &wrong, ReminderState::Cancelled), all);
    let sent = house.outcome(&claim, mine[0], &delivered());
    assert_eq!(sent.state, ReminderState::Delivered);
    for clock in ["2027-03-16T12:00:00Z", "2027-03-18T12:00:00Z", "2027-05-01T12:00:00Z"] {
        house.running.set_clock(clock);
        let claimed = house.claim(200, 60).reminders;
        assert!(claimed.iter().all(|one| one.treatment_id.to_string() != wrong), "{clock}");
    }
    assert!(lips != 0 && count(&house, &other, ReminderState::Scheduled) != 0);
    amend(&house, &wrong, &json!({ "add_packs": [{ "lot_id": house.lot_id, "intact": true }] }));
    // Whoever had one when it was cancelled may have sent it.
    for one in of(&house, &wrong).iter().filter(|one| one.state == ReminderState::Scheduled) {
        let was_mine = mine.iter().any(|it| it.id == one.id);
        assert!(one.maybe_sent || !was_mine, "{one:?}");
    }
    let open = [ReminderState::Scheduled, ReminderState::Paused];
    assert!(0 < open.iter().map(|state| count(&house, &wrong, *state)).sum::<usize>());
}

/// The session before it is the last again, and one that is recorded as before it has its messages.
#[test]
fn the_session_before_is_the_last_again() {
    let house = House::open();
    let first = house.treat("c-1", "brows", "2027-03-12T07:00:00Z");
    let before = count(&house, &first, ReminderState::Scheduled);
    let wrong = house.treat("c-1", "brows", "2027-03-16T07:00:00Z");
    assert_eq!(count(&house, &first, ReminderState::Scheduled), 0);
    strike(&house, &wrong);
    let now = count(&house, &first, ReminderState::Scheduled);
    assert!(3 < now && now <= before, "{now} of {before}");
    let late = house.treat("c-1", "brows", "2027-03-15T07:00:00Z");
    assert!(3 < count(&house, &late, ReminderState::Scheduled));
    assert_eq!(count(&house, &first, ReminderState::Scheduled), 0);
    assert_eq!(count(&house, &wrong, ReminderState::Scheduled), 0);
}

/// A check counts no days from it, her calendar takes its entries back, and nobody is asked to look at
/// the result.
#[test]
fn nothing_is_counted_from_it() {
    let house = House::open();
    let first = house.treat("client-1", "brows", "2026-01-10T09:00:00Z");
    let held = checks::made(&house.running, &json!({}), &json!({}));
    let wrong = house.treat("client-1", "brows", "2027-03-15T09:00:00Z");
    let near = checks::made(&house.running, &json!({}), &json!({}));
    assert_eq!(near["previous_sessions"][0]["treatment_id"], wrong);
    let calendar = house
        .running
        .call(&Request::post("/v1/calendars", &json!({ "of": "client", "reference": "client-1" })));
    assert_eq!(calendar.status, 201, "{}", calendar.text());
    let path = calendar.json()["path"].as_str().expect("a path").to_owned();
    let entries = || {
        let feed = Request::get(path.as_str()).send(house.running.address()).text();
        let cancelled = feed.matches("STATUS:CANCELLED").count();
        (cancelled, feed.matches("STATUS:CONFIRMED").count())
    };
    let (_, confirmed) = entries();
    strike(&house, &wrong);
    let after = checks::made(&house.running, &json!({}), &json!({}));
    let sessions = after["previous_sessions"].as_array().expect("sessions");
    assert_eq!(sessions.len(), 1);
    assert_eq!(sessions[0]["treatment_id"], first);
    assert_eq!(after["verdict"], held["verdict"]);
    assert_eq!(after["not_before"], held["not_before"]);
    let (cancelled, still) = entries();
    assert!(0 < cancelled && still < confirmed, "{cancelled} {still} {confirmed}");
}
