//! Whoever wants no messages gets none until a person says otherwise.

use etui_schema::reminders::{FailureReason, ReleaseOutcome, ReminderState};
use etui_tests::wire::Request;
use serde_json::{Value, json};

use super::reminders::{House, delivered};

fn stop() -> Value {
    json!({ "outcome": "failed", "reason": "unwanted" })
}

/// How many messages of a client are in a state.
fn count(house: &House, client_ref: &str, state: ReminderState) -> usize {
    let all = house.list(&format!("state={state}&limit=200")).items;
    all.iter().filter(|one| one.client_ref.to_string() == client_ref).count()
}

/// Sends one of her messages that are held.
fn release_one(house: &House, client_ref: &str) {
    let held = house.list("state=held&limit=200").items;
    let one = held.iter().find(|one| one.client_ref.to_string() == client_ref).expect("held");
    let body = json!({ "decision": "send", "reminders": [one.id] });
    let answer = house.running.call(&Request::post("/v1/reminder-releases", &body));
    assert_eq!(answer.status, 201, "{}", answer.text());
    let outcomes = answer.json()["outcomes"].clone();
    let outcomes: Vec<ReleaseOutcome> = serde_json::from_value(outcomes).expect("outcomes");
    assert!(outcomes[0].released);
}

/// Whoever wants no messages gets none, whichever of them it was said of; a person lets them go on.
#[test]
fn what_is_not_wanted_stops() {
    let house = House::open();
    house.treat("c-1", "lips", "2027-03-16T07:00:00Z");
    house.treat("c-2", "lips", "2027-03-16T07:00:00Z");
    let others = house.count(ReminderState::Scheduled) / 2;
    let claim = house.claim(1, 600);
    let refused = &claim.reminders[0];
    let hers = refused.client_ref.to_string();
    house.outcome(&claim, refused, &json!({ "outcome": "failed", "reason": "unwanted" }));
    assert_eq!(house.count(ReminderState::Scheduled), others);
    let held = house.list("state=held&limit=200").items;
    assert_eq!(held.len(), others - 1);
    assert!(held.iter().all(|one| one.client_ref.to_string() == hers));
    // Her next treatment waits for the same person.
    house.running.set_clock("2027-03-18T09:00:00Z");
    let brows = house.treat(&hers, "brows", "2027-03-18T08:00:00Z");
    let of = |state: ReminderState| {
        let all = house.list(&format!("state={state}&limit=200")).items;
        all.iter().filter(|one| one.treatment_id.to_string() == brows).count()
    };
    assert_eq!(of(ReminderState::Scheduled), 0);
    assert!(3 < of(ReminderState::Held));
    let asked = house.list("state=held&limit=200").items;
    let asked: Vec<_> = asked.iter().filter(|one| one.treatment_id.to_string() == brows).collect();
    let ids: Vec<_> = asked.iter().map(|one| one.id).collect();
    let release = json!({ "decision": "send", "reminders": ids });
    let released = house.running.call(&Request::post("/v1/reminder-releases", &release));
    assert!(released.status < 300, "{}", released.text());
    assert_eq!(of(ReminderState::Held), 0);
    loop {
        let claim = house.claim(1, 600);
        let next = claim.reminders.first().expect("due");
        house.outcome(&claim, next, &delivered());
        if next.treatment_id.to_string() == brows {
            break;
        }
    }
    house.running.set_clock("2027-03-19T09:00:00Z");
    let again = house.treat(&hers, "brows", "2027-03-19T08:00:00Z");
    let all = house.list("state=scheduled&limit=200").items;
    assert!(all.iter().any(|one| one.treatment_id.to_string() == again));
}

/// What others have is held once it comes back; that something went out, or that three more
/// sessions followed, lifts nothing; a stop is not tried again.
#[test]
fn a_stop_outlasts_leases_deliveries_and_treatments() {
    let house = House::open();
    house.treat("c-1", "lips", "2027-03-16T07:00:00Z");
    house.treat("c-2", "lips", "2027-03-16T07:00:00Z");
    house.running.set_clock("2027-03-18T09:00:00Z");
    let claim = house.claim(200, 60);
    let mine: Vec<_> =
        claim.reminders.iter().filter(|one| one.client_ref.to_string() == "c-1").collect();
    let [refused, sent, back, rest @ ..] = &mine[..] else { panic!("{claim:?}") };
    assert!(!rest.is_empty());
    let mut tried = stop();
    tried["retry_after_seconds"] = json!(600);
    let receipt = house.outcome(&claim, refused, &tried);
    assert_eq!((receipt.state, receipt.due_at), (ReminderState::Failed.into(), None));
    house.outcome(&claim, sent, &delivered());
    let path = format!("/v1/reminder-claims/{}/returns", claim.claim_id.expect("an id"));
    let returned = house.running.call(&Request::post(path, &json!({ "reminders": [back.id] })));
    assert_eq!(returned.json()["outcomes"][0]["state"], "held", "{}", returned.text());
    let other = json!({ "outcome": "failed", "reason": "unreachable", "retry_after_seconds": 60 });
    house.outcome(&claim, rest[0], &other);
    for (clock, treatment) in [
        ("2027-03-18T09:05:00Z", "brows"),
        ("2027-03-19T09:00:00Z", "scalp"),
        ("2027-03-20T09:00:00Z", "eyeliner"),
        ("2027-03-21T09:00:00Z", "lips"),
    ] {
        house.running.set_clock(clock);
        let again = house.claim(200, 60).reminders;
        assert!(again.iter().all(|one| one.client_ref.to_string() != "c-1"), "{again:?}");
        assert_eq!(count(&house, "c-1", ReminderState::Scheduled), 0, "{clock}");
        house.treat("c-1", treatment, "2027-03-18T08:00:00Z");
        assert!(0 < count(&house, "c-1", ReminderState::Held), "{clock}");
    }
    assert!(0 < count(&house, "c-2", ReminderState::Scheduled));
    release_one(&house, "c-1");
    let before = count(&house, "c-1", ReminderState::Scheduled);
    house.treat("c-1", "areola", "2027-03-21T08:00:00Z");
    assert!(before + 3 < count(&house, "c-1", ReminderState::Scheduled));
}

/// A stop that is the reply to a message that went out, and one that is said again after a release.
#[test]
fn a_stop_may_be_the_reply_to_what_went_out() {
    let house = House::open();
    house.treat("c-1", "lips", "2027-03-16T07:00:00Z");
    let claim = house.claim(1, 60);
    let sent = &claim.reminders[0];
    house.outcome(&claim, sent, &delivered());
    for _ in 0..2 {
        assert!(0 < count(&house, "c-1", ReminderState::Scheduled));
        for _ in 0..2 {
            let receipt = house.outcome(&claim, sent, &stop());
            assert_eq!(receipt.state, ReminderState::Delivered);
            assert_eq!(count(&house, "c-1", ReminderState::Scheduled), 0);
        }
        release_one(&house, "c-1");
    }
    let said = house.list("state=delivered").items;
    assert_eq!(said[0].reason, Some(FailureReason::Unwanted));
    // What went out and failed for another reason is a contradiction still.
    let other = json!({ "outcome": "failed", "reason": "refused" });
    assert_eq!(house.post_outcome(&claim, sent, &other).status, 409);
}

/// What she said outlasts the messages of which it was said, and an erasure; a release ends it for good.
#[test]
fn a_stop_outlasts_the_messages_it_was_said_of() {
    let house = House::open();
    let scheduled = |client: &str| count(&house, client, ReminderState::Scheduled);
    let swept = || loop {
        let looked = house.running.call(&Request::get("/v1/retention")).json();
        let body = json!({ "digest": looked["digest"] });
        let swept = house.running.call(&Request::post("/v1/retention-sweeps", &body));
        assert_eq!(swept.status, 200, "{}", swept.text());
        if swept.json()["more"] == false {
            break;
        }
    };
    for client in ["c-1", "c-2"] {
        house.treat(client, "lips", "2027-03-16T07:00:00Z");
        let claim = house.claim(200, 600);
        house.outcome(&claim, &claim.reminders[0], &stop());
        for one in &claim.reminders[1..] {
            house.outcome(&claim, one, &delivered());
        }
        let held: Vec<_> = house.list("state=held&limit=200").items;
        let ids: Vec<_> = held.iter().map(|one| one.id).collect();
        let skip = json!({ "decision": "skip", "reminders": ids });
        assert_eq!(house.running.call(&Request::post("/v1/reminder-releases", &skip)).status, 201);
    }
    house.treat("c-2", "areola", "2027-03-16T07:00:00Z");
    let hers: Vec<_> = house.list("state=held&limit=200").items.iter().map(|one| one.id).collect();
    let erase = Request::new("DELETE", "/v1/clients/c-2").header("If-Match", "*");
    let erased = house.running.call(&erase);
    assert_eq!(erased.status, 200, "{}", erased.text());
    assert!(
        erased.json()["kept_records"].to_string().contains("message stop"),
        "{}",
        erased.text()
    );
    // A message of hers that lies there still is released by nobody.
    let send = json!({ "decision": "send", "reminders": hers });
    let released = house.running.call(&Request::post("/v1/reminder-releases", &send)).json();
    let outcomes = released["outcomes"].as_array().expect("outcomes");
    assert!(!outcomes.is_empty() && outcomes.iter().all(|one| one["released"] == false));
    // Two years later none of the messages is left.
    house.running.set_clock("2029-06-16T09:00:00Z");
    swept();
    assert_eq!(house.list("state=skipped&state=failed&state=delivered&limit=200").items, []);
    for client in ["c-1", "c-2"] {
        house.treat(client, "brows", "2029-06-16T07:00:00Z");
        assert_eq!(scheduled(client), 0, "{client}");
        assert!(3 < count(&house, client, ReminderState::Held), "{client}");
        release_one(&house, client);
        house.treat(client, "scalp", "2029-06-16T07:00:00Z");
        assert!(3 < scheduled(client), "{client}");
    }
}
