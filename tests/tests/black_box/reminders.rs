//! Reminders over HTTP: claimed once, forgotten never.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Mutex;

use etui_schema::page::Page;
use etui_schema::problem::{ErrorCode, FaultCode};
use etui_schema::reminders::{OutcomeReceipt, Reminder, ReminderClaim, ReminderState};
use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

/// A studio of its own with one lot in the drawer.
pub(crate) struct House {
    pub(crate) running: Running,
    pub(crate) lot_id: String,
}

impl House {
    pub(crate) fn open() -> Self {
        Self::with(Running::start())
    }

    pub(crate) fn with(running: Running) -> Self {
        let lot = json!({
            "text": "0.30 3RL LOT A1 EXP 2030-01-31 STERILE R",
            "packs": 1000,
            "confirmed": {
                "configuration": { "diameter_mm": 0.3, "count": 3, "grouping": "round_liner" },
                "lot": "A1",
                "expires_on": "2030-01-31",
            },
        });
        let answer = running.call(&Request::post("/v1/lots", &lot));
        assert_eq!(answer.status, 201, "{}", answer.text());
        let lot_id = answer.json()["id"].as_str().expect("an id").to_owned();
        Self { running, lot_id }
    }

    pub(crate) fn treat(&self, client_ref: &str, treatment: &str, performed_at: &str) -> String {
        let body = json!({
            "client_ref": client_ref,
            "artist_ref": "artist-07",
            "treatment": treatment,
            "performed_at": performed_at,
            "zone": "Europe/Berlin",
            "packs": [{ "lot_id": self.lot_id, "intact": true }],
        });
        let answer = self.running.call(&Request::post("/v1/treatments", &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
        answer.json()["id"].as_str().expect("an id").to_owned()
    }

    pub(crate) fn claim(&self, limit: u16, lease_seconds: u16) -> ReminderClaim {
        let body = json!({ "limit": limit, "lease_seconds": lease_seconds });
        let answer = self.running.call(&Request::post("/v1/reminder-claims", &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
        serde_json::from_value(answer.json()).expect("a claim")
    }

    pub(crate) fn post_outcome(
        &self,
        claim: &ReminderClaim,
        reminder: &Reminder,
        more: &Value,
    ) -> Answer {
        let mut body = json!({ "claim_id": claim.claim_id });
        for (name, value) in more.as_object().expect("an object") {
            body[name] = value.clone();
        }
        let path = format!("/v1/reminders/{}/outcomes", reminder.id);
        self.running.call(&Request::post(path, &body))
    }

    pub(crate) fn outcome(
        &self,
        claim: &ReminderClaim,
        reminder: &Reminder,
        more: &Value,
    ) -> OutcomeReceipt {
        let answer = self.post_outcome(claim, reminder, more);
        assert!(matches!(answer.status, 200 | 201), "{}", answer.text());
        serde_json::from_value(answer.json()).expect("a receipt")
    }

    pub(crate) fn list(&self, query: &str) -> Page<Reminder> {
        let answer = self.running.call(&Request::get(format!("/v1/reminders?{query}")));
        assert_eq!(answer.status, 200, "{}", answer.text());
        serde_json::from_value(answer.json()).expect("a page")
    }

    pub(crate) fn count(&self, state: ReminderState) -> usize {
        self.list(&format!("state={state}&limit=200")).items.len()
    }
}

pub(crate) fn delivered() -> Value {
    json!({ "outcome": "delivered" })
}

#[test]
fn a_treatment_brings_its_reminders_and_each_is_handed_out_once() {
    let house = House::open();
    house.treat("c-1", "lips", "2027-03-16T07:00:00Z");
    let scheduled = house.count(ReminderState::Scheduled);
    assert!(8 < scheduled, "{scheduled}");
    let claim = house.claim(200, 600);
    assert!(!claim.reminders.is_empty());
    for reminder in &claim.reminders {
        assert!(reminder.text.chars().count() <= 320 && !reminder.maybe_sent);
        assert_eq!(reminder.attempts, 1);
    }
    assert!(house.claim(200, 600).reminders.is_empty());
    for reminder in &claim.reminders {
        let receipt = house.outcome(&claim, reminder, &delivered());
        assert_eq!((receipt.state, receipt.late), (ReminderState::Delivered.into(), false));
    }
    let again = house.outcome(&claim, &claim.reminders[0], &delivered());
    assert_eq!(again.deliveries, 1, "the same report twice counts once");
    assert_eq!(house.count(ReminderState::Delivered), claim.reminders.len());
    // Messages lie some time apart: the others of the day come until the evening.
    house.running.set_clock("2027-03-16T18:00:00Z");
    let evening = house.claim(200, 600);
    assert!(!evening.reminders.is_empty());
    for reminder in &evening.reminders {
        house.outcome(&evening, reminder, &delivered());
    }
    house.running.set_clock("2027-03-17T12:00:00Z");
    let next = house.claim(200, 600);
    assert!(next.reminders.iter().all(|r| r.due_at.to_string().starts_with("2027-03-17")));
    assert!(!next.reminders.is_empty());
}

#[test]
fn a_lease_that_ran_out_is_claimed_again_and_late_reports_are_told() {
    let house = House::open();
    house.treat("c-1", "brows", "2027-03-16T07:00:00Z");
    let first = house.claim(1, 60);
    let reminder = &first.reminders[0];
    house.running.set_clock("2027-03-16T08:01:00Z"); // the very end of the lease
    let second = house.claim(1, 60);
    assert_eq!(second.reminders[0].id, reminder.id);
    assert!(second.reminders[0].maybe_sent);
    assert_eq!(second.reminders[0].attempts, 2);

    let refused = house.post_outcome(&first, reminder, &json!({ "outcome": "skipped" }));
    assert_eq!(refused.problem().code, ErrorCode::Conflict);
    let late = house.outcome(&first, reminder, &delivered());
    assert_eq!(
        (late.state, late.late, late.deliveries),
        (ReminderState::Delivered.into(), true, 1)
    );
    let twice = house.outcome(&second, &second.reminders[0], &delivered());
    assert_eq!((twice.late, twice.deliveries), (true, 2));
}

#[test]
fn a_failure_is_tried_again_if_it_asks_and_there_is_time() {
    let house = House::open();
    house.treat("c-1", "brows", "2027-03-15T07:00:00Z");
    let claim = house.claim(2, 600);
    let failed = |more: Value| {
        let mut all = json!({ "outcome": "failed", "reason": "unreachable" });
        for (name, value) in more.as_object().expect("an object") {
            all[name] = value.clone();
        }
        all
    };
    let again =
        house.outcome(&claim, &claim.reminders[0], &failed(json!({ "retry_after_seconds": 300 })));
    assert_eq!(again.state, ReminderState::Scheduled);
    assert_eq!(again.due_at.expect("a time").to_string(), "2027-03-16T08:05:00.000Z");
    let over = failed(json!({ "retry_after_seconds": 604_800 }));
    let end = house.outcome(&claim, &claim.reminders[1], &over);
    assert_eq!(end.state, ReminderState::Failed, "a week later it would be overtaken");
    house.running.set_clock("2027-03-16T08:05:00Z");
    let next = house.claim(200, 600);
    assert!(next.reminders.iter().any(|r| r.id == claim.reminders[0].id && !r.maybe_sent));
}

#[test]
fn what_no_longer_makes_sense_is_overtaken_and_not_sent() {
    let house = House::open();
    house.treat("c-1", "brows", "2027-03-16T07:00:00Z");
    house.running.set_clock("2027-03-25T12:00:00Z"); // day 9
    let claim = house.claim(200, 600);
    assert!(0 < claim.overtaken);
    assert!(claim.reminders.iter().all(|r| r.key != "brows_day_2_3"), "{claim:?}");
    let overtaken = house.list("state=overtaken&limit=200").items;
    assert!(overtaken.iter().any(|r| r.key == "brows_day_2_3"));
    assert_eq!(overtaken.len(), usize::try_from(claim.overtaken).expect("a count"));
}

#[test]
fn a_touch_up_restarts_the_clock() {
    let house = House::open();
    let first = house.treat("c-1", "brows", "2027-03-16T07:00:00Z");
    let lips = house.treat("c-1", "lips", "2027-03-16T07:30:00Z");
    house.running.set_clock("2027-05-04T08:00:00Z");
    let touch_up = house.treat("c-1", "brows", "2027-05-04T07:00:00Z");
    for reminder in house.list("state=scheduled&limit=200").items {
        let of = reminder.treatment_id.to_string();
        assert!(of == touch_up || of == lips, "{}", reminder.key);
    }
    let cancelled = house.list("state=cancelled&limit=200").items;
    assert!(!cancelled.is_empty());
    assert!(cancelled.iter().all(|r| r.treatment_id.to_string() == first));
    // An older session that is recorded late gets none.
    let before = house.count(ReminderState::Scheduled);
    house.treat("c-1", "brows", "2027-04-20T07:00:00Z");
    assert_eq!(house.count(ReminderState::Scheduled), before);
}

#[test]
fn an_erased_client_hears_nothing() {
    let house = House::open();
    let put = Request::put("/v1/clients/c-1", &json!({ "language": "de" }));
    let put = house.running.call(&put);
    assert_eq!(put.status, 201, "{}", put.text());
    house.treat("c-1", "brows", "2027-03-16T07:00:00Z");
    house.treat("c-2", "brows", "2027-03-16T07:00:00Z");
    let spoken = house.list("limit=200").items;
    assert!(spoken.iter().any(|r| r.text.contains("Ihre Brauen")));
    assert!(spoken.iter().any(|r| r.text.contains("Your brows")));
    let etag = put.header("etag").expect("an entity tag").to_owned();
    let erase = Request::new("DELETE", "/v1/clients/c-1").header("If-Match", etag);
    let erased = house.running.call(&erase);
    assert_eq!(erased.status, 200, "{}", erased.text());
    let claim = house.claim(200, 600);
    assert!(!claim.reminders.is_empty());
    assert!(claim.reminders.iter().all(|r| r.client_ref.as_str() == "c-2"));
    assert!(house.list("limit=200").items.iter().all(|r| r.client_ref.as_str() == "c-2"));
}

#[test]
fn pages_are_in_the_order_of_their_time_and_end_before_the_instant() {
    let house = House::open();
    for client in 0..4 {
        house.treat(&format!("c-{client}"), "brows", "2027-03-16T07:00:00Z");
    }
    let mut seen = Vec::new();
    let mut query = "due_before=2027-04-01T00:00:00Z&limit=7".to_owned();
    loop {
        let page = house.list(&query);
        seen.extend(page.items);
        let Some(cursor) = page.next_cursor else { break };
        query = format!("due_before=2027-04-01T00:00:00Z&limit=7&cursor={cursor}");
    }
    assert!(seen.is_sorted_by_key(|r| (r.due_at, r.id)));
    assert!(20 < seen.len());
    assert!(seen.iter().all(|r| r.due_at.to_string().as_str() < "2027-04-01T00:00:00Z"));
    let wrong = house.running.call(&Request::get("/v1/reminders?state=lost"));
    assert_eq!(wrong.status, 400, "{}", wrong.text());
}

#[test]
fn bad_claims_and_outcomes_are_named() {
    let house = House::open();
    house.treat("c-1", "brows", "2027-03-16T07:00:00Z");
    let year = json!({ "limit": 0, "lease_seconds": 31_536_000 });
    let problem = house.running.call(&Request::post("/v1/reminder-claims", &year)).problem();
    for pointer in ["#/limit", "#/lease_seconds"] {
        let found =
            problem.errors.iter().any(|f| f.pointer == pointer && f.code == FaultCode::OutOfRange);
        assert!(found, "{pointer}: {problem}");
    }
    let claim = house.claim(1, 60);
    let reminder = &claim.reminders[0];
    for (outcome, pointer) in [
        (json!({ "outcome": "failed" }), "#/reason"),
        (json!({ "outcome": "delivered", "reason": "other" }), "#/reason"),
        (json!({ "outcome": "skipped", "retry_after_seconds": 60 }), "#/retry_after_seconds"),
        (
            json!({ "outcome": "delivered", "claim_id": "0198c6a2-7d5e-7000-8000-000000000001" }),
            "#/claim_id",
        ),
    ] {
        let problem = house.post_outcome(&claim, reminder, &outcome).problem();
        assert_eq!(problem.errors[0].pointer, pointer, "{outcome}: {problem}");
    }
}

#[test]
fn the_same_claim_again_gives_the_same_answer() {
    let house = House::open();
    house.treat("c-1", "brows", "2027-03-16T07:00:00Z");
    let sent = Request::post("/v1/reminder-claims", &json!({ "limit": 1, "lease_seconds": 60 }))
        .header("Idempotency-Key", "\"run-1\"");
    let (one, two) = (house.running.call(&sent), house.running.call(&sent));
    assert_eq!(one.status, 201, "{}", one.text());
    assert_eq!(one.body, two.body);
    assert_eq!(two.header("idempotent-replayed"), Some("true"));
}

/// Eight scripts share the work; every third of them dies before it reports.
#[test]
fn eight_claimers_with_crashes_lose_nothing_and_double_nothing_unsaid() {
    let house = House::open();
    for client in 0..60 {
        house.treat(&format!("c-{client}"), "brows", "2027-03-16T07:00:00Z");
    }
    let due = house.list("due_before=2027-03-16T08:00:00.001Z&limit=200").items.len();
    assert!(60 <= due, "{due}");
    let sent: Mutex<BTreeMap<String, (u32, bool)>> = Mutex::default();
    let round = |crashes: bool| {
        std::thread::scope(|scope| {
            for script in 0..8 {
                let (house, sent) = (&house, &sent);
                scope.spawn(move || {
                    loop {
                        let claim = house.claim(7, 60);
                        if claim.reminders.is_empty() {
                            return;
                        }
                        for reminder in &claim.reminders {
                            let mut sent = sent.lock().expect("the list");
                            let entry = sent.entry(reminder.id.to_string()).or_insert((0, true));
                            // Whoever sends a second time must have been told.
                            entry.1 &= entry.0 == 0 || reminder.maybe_sent;
                            entry.0 += 1;
                            drop(sent);
                            if crashes && script % 3 == 0 {
                                return;
                            }
                            house.outcome(&claim, reminder, &delivered());
                        }
                    }
                });
            }
        });
    };
    round(true);
    house.running.set_clock("2027-03-16T08:02:00Z");
    round(false);
    let sent = sent.into_inner().expect("the list");
    assert_eq!(sent.len(), due, "each is sent");
    assert!(sent.values().all(|(_, told)| *told), "none is sent twice unsaid");
    assert!(sent.values().all(|(times, _)| *times <= 2));
    assert_eq!(house.count(ReminderState::Delivered), due);
}

#[test]
fn leases_survive_a_restart() {
    let folder = tempfile::tempdir().expect("a folder");
    let path: &Path = folder.path();
    let house = House::with(Running::start_at(path));
    house.treat("c-1", "brows", "2027-03-16T07:00:00Z");
    let claim = house.claim(1, 600);
    house.running.stop();
    let lot_id = house.lot_id;
    let house = House { running: Running::start_at(path), lot_id };
    assert!(house.claim(200, 600).reminders.iter().all(|r| r.id != claim.reminders[0].id));
    let receipt = house.outcome(&claim, &claim.reminders[0], &delivered());
    assert!(!receipt.late);
}
