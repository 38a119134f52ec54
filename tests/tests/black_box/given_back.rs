//! Claims that are held for longer or given back, subscriptions that wait, many events sent again,
//! whole deliveries that are only looked at.

use etui_schema::page::Page;
use etui_schema::reminders::{
    ClaimExtension, ClaimReturn, HeldClaim, ReminderClaim, ReminderState,
};
use etui_schema::subscriptions::{Redeliveries, Subscription, SubscriptionState};
use etui_tests::document::Document;
use etui_tests::happenings::{deliveries, page, put_client, subscribe, until};
use etui_tests::receiver::{Manner, Receiver};
use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::reminders::House;

fn busy() -> House {
    let house = House::open();
    for client in ["c-1", "c-2", "c-3"] {
        house.treat(client, "lips", "2027-03-16T07:00:00Z");
    }
    house.running.set_clock("2027-03-17T12:00:00Z");
    house
}

fn claim(house: &House, limit: u16) -> ReminderClaim {
    let body = json!({ "limit": limit, "lease_seconds": 600 });
    let answer = house.running.call(&Request::post("/v1/reminder-claims", &body));
    let place = answer.header("location").map(str::to_owned);
    let claim: ReminderClaim = answer.read();
    let held = !claim.reminders.is_empty();
    // An id that nothing knows is not given.
    assert_eq!(claim.claim_id.is_some(), held);
    assert_eq!(place, claim.claim_id.map(|id| format!("/v1/reminder-claims/{id}")));
    claim
}

fn id_of(claim: &ReminderClaim) -> Uuid {
    claim.claim_id.expect("a claim that holds something")
}

fn of_claim(house: &House, claim: Uuid, what: &str, body: &Value) -> Answer {
    let target = format!("/v1/reminder-claims/{claim}/{what}");
    house.running.call(&Request::post(target, body))
}

#[test]
fn a_claim_is_held_for_longer_or_given_back() {
    let house = busy();
    let first = claim(&house, 3);
    assert_eq!(first.reminders.len(), 3);
    let read =
        || house.running.call(&Request::get(format!("/v1/reminder-claims/{}", id_of(&first))));
    assert_eq!(read().read::<ReminderClaim>().reminders, first.reminders);
    // Shortly before its end it is held for an hour more, from now on.
    house.running.set_clock("2027-03-17T12:09:00Z");
    let longer = of_claim(&house, id_of(&first), "extensions", &json!({ "lease_seconds": 3600 }));
    let longer: ClaimExtension = longer.read();
    assert_eq!(longer.until.to_string(), "2027-03-17T13:09:00.000Z");
    assert_eq!(longer.reminders.len(), 3);
    house.running.set_clock("2027-03-17T12:30:00Z");
    let others = claim(&house, 200);
    let own = |id: &Uuid| first.reminders.iter().any(|held| held.id == *id);
    assert!(!others.reminders.iter().any(|held| own(&held.id)), "somebody else holds them");
    // One is given back by name, twice and with a stranger; then what is left.
    let stranger = others.reminders.first().map_or_else(Uuid::nil, |held| held.id);
    let one = first.reminders[0].id;
    let body = json!({ "reminders": [one, one, stranger] });
    let returned = of_claim(&house, id_of(&first), "returns", &body);
    let returned: ClaimReturn = returned.read();
    let outcomes: Vec<_> =
        returned.outcomes.iter().map(|o| (o.returned, o.state.clone())).collect();
    assert_eq!(
        outcomes,
        [(true, Some(ReminderState::Scheduled.into())), (false, None), (false, None)]
    );
    let again = claim(&house, 200);
    list_says_what_each_holds(&house, &[longer.claim_id, id_of(&others), id_of(&again)]);
    let back = again.reminders.iter().find(|held| held.id == one).expect("claimed again at once");
    assert!(!back.maybe_sent, "what was given back was not sent");
    assert_eq!(read().read::<ReminderClaim>().reminders.len(), 2);
    let rest: ClaimReturn = of_claim(&house, id_of(&first), "returns", &json!({})).read();
    assert!(rest.outcomes.iter().all(|outcome| outcome.returned) && rest.outcomes.len() == 2);
    for (what, body) in [("returns", json!({})), ("extensions", json!({ "lease_seconds": 60 }))] {
        assert_eq!(of_claim(&house, id_of(&first), what, &body).status, 404, "{what}");
    }
    assert_eq!(read().status, 404);
    assert_eq!(of_claim(&house, Uuid::nil(), "returns", &json!({})).status, 404);
}

/// The list, page by page: what each claim holds by itself, the one that ends first first.
fn list_says_what_each_holds(house: &House, all: &[Uuid]) {
    for limit in [1, 2, 50] {
        let (mut listed, mut target) = (Vec::new(), format!("/v1/reminder-claims?limit={limit}"));
        loop {
            let rows: Page<HeldClaim> = house.running.call(&Request::get(target)).read();
            listed.extend(rows.items);
            let Some(cursor) = rows.next_cursor else { break };
            target = format!("/v1/reminder-claims?limit={limit}&cursor={cursor}");
        }
        assert!(listed.is_sorted_by_key(|one| one.until), "{listed:?}");
        let mut held = 0;
        for id in all {
            let one = house.running.call(&Request::get(format!("/v1/reminder-claims/{id}")));
            let row = listed.iter().find(|row| row.claim_id == *id);
            if one.status == 404 {
                assert_eq!(row, None, "{id} holds nothing");
                continue;
            }
            let one: ReminderClaim = one.read();
            let row = row.unwrap_or_else(|| panic!("{limit}: {id} is not listed"));
            assert_eq!((row.until, row.reminders), (one.until, count(&one)), "{limit}: {id}");
            held += 1;
        }
        assert_eq!(listed.len(), held, "{limit}: {listed:?}");
    }
}

fn count(claim: &ReminderClaim) -> u32 {
    u32::try_from(claim.reminders.len()).expect("a few")
}

/// A lease that has run out is nobody's: it is neither extended nor given back.
#[test]
fn what_has_run_out_is_not_held_any_more() {
    let house = busy();
    let first = claim(&house, 2);
    house.running.set_clock("2027-03-17T12:10:00Z");
    let late = of_claim(&house, id_of(&first), "extensions", &json!({ "lease_seconds": 60 }));
    assert_eq!(late.status, 404, "{}", late.text());
    let named = json!({ "reminders": [first.reminders[0].id] });
    assert_eq!(of_claim(&house, id_of(&first), "returns", &named).status, 404);
    let again = claim(&house, 2);
    assert!(again.reminders.iter().all(|held| held.maybe_sent), "it may have been sent");
}

fn change(service: &Running, id: Uuid, patch: &Value) -> Answer {
    let path = format!("/v1/subscriptions/{id}");
    let tag = service.call(&Request::get(path.as_str())).header("etag").expect("a tag").to_owned();
    service.call(&Request::merge(path, patch).header("If-Match", tag))
}

#[test]
fn a_subscription_waits_and_goes_on() {
    let service = Running::start();
    let receiver = Receiver::start(Manner::Answers(200));
    let id = subscribe(&service, &receiver).id;
    put_client(&service, "client-1");
    receiver.wait_for(1);
    let paused: Subscription = change(&service, id, &json!({ "paused": true })).read();
    assert_eq!((paused.state, paused.paused), (SubscriptionState::Paused.into(), true));
    put_client(&service, "client-2");
    put_client(&service, "client-3");
    std::thread::sleep(std::time::Duration::from_millis(600));
    assert_eq!(receiver.heard().len(), 1, "nothing is sent while it is paused");
    let active: Subscription = change(&service, id, &json!({ "paused": false })).read();
    assert_eq!(active.state, SubscriptionState::Active);
    // Something happens again, and with it comes what happened meanwhile, in order.
    put_client(&service, "client-4");
    let sequences: Vec<u64> =
        receiver.wait_for(4).iter().map(|heard| heard.event().sequence.0).collect();
    let told: Vec<u64> = page(&service, 0, 9).items.iter().map(|e| e.sequence.0).collect();
    let mut sorted = sequences.clone();
    sorted.sort_unstable();
    assert_eq!(sorted, told);
    let types: Subscription = change(&service, id, &json!({ "types": ["lot.recalled"] })).read();
    assert_eq!(types.types.len(), 1);
    let every: Subscription = change(&service, id, &json!({ "types": null })).read();
    assert!(9 < every.types.len());
    for (patch, status, pointer) in [
        (json!({ "url": "ftp://example.org/x" }), 422, "#/url"),
        (json!({ "url": null }), 422, "#/url"),
        (json!({ "state": "gone" }), 422, "#/state"),
        (json!({ "paused": "yes" }), 422, "#/paused"),
    ] {
        let refused = change(&service, id, &patch);
        assert_eq!(refused.status, status, "{patch}: {}", refused.text());
        assert!(refused.problem().errors.iter().any(|f| f.pointer == pointer), "{patch}");
    }
    let path = format!("/v1/subscriptions/{id}");
    let stale = Request::merge(path.as_str(), &json!({})).header("If-Match", "\"stale\"");
    assert_eq!(service.call(&stale).status, 412);
    assert_eq!(service.call(&Request::merge(path, &json!({}))).status, 428);
}

#[test]
fn many_events_are_sent_again() {
    let service = Running::start();
    let receiver = Receiver::start(Manner::Answers(500));
    let id = subscribe(&service, &receiver).id;
    for client in ["client-1", "client-2", "client-3"] {
        put_client(&service, client);
    }
    until("three attempts", || (3 <= receiver.heard().len()).then_some(()));
    let path = format!("/v1/subscriptions/{id}/redeliveries");
    let many = |target: &str, body: &Value| service.call(&Request::post(target, body));
    let ids: Vec<Uuid> = page(&service, 0, 9).items.iter().map(|event| event.id).collect();
    let body = json!({ "deliveries": [ids[0], ids[0], Uuid::nil(), ids[1]] });
    let told: Redeliveries = many(&format!("{path}?dry_run=true"), &body).read();
    assert!(told.dry_run);
    let done = many(&path, &body);
    assert_eq!(done.status, 201, "{}", done.text());
    let done: Redeliveries = done.read();
    assert!(!done.dry_run && !done.more);
    let sent: Vec<bool> = done.outcomes.iter().map(|one| one.delivery.is_some()).collect();
    assert_eq!(sent, [true, false, false, true]);
    let faults: Vec<_> = done.outcomes.iter().flat_map(|one| &one.errors).collect();
    assert_eq!(faults[0].pointer, "#/deliveries/1");
    assert_eq!(faults[1].pointer, "#/deliveries/2");
    let none: Redeliveries = many(&path, &json!({})).read();
    assert!(none.outcomes.is_empty(), "nothing was given up yet");
    // Long after, in vain: all are given up, and go out again by one request.
    service.set_clock("2027-03-20T09:00:00Z");
    until("the end of every delivery", || {
        let all = deliveries(&service, id);
        all.iter().all(|one| one.finished_at.is_some()).then_some(())
    });
    let again: Redeliveries = many(&path, &json!({})).read();
    assert_eq!(again.outcomes.len(), 3, "{again:?}");
    assert!(again.outcomes.iter().all(|one| one.delivery.is_some()));
}

/// The same outcomes as the deed, and nothing in the drawer.
#[test]
fn a_whole_delivery_can_be_looked_at_first() {
    let service = Running::start();
    let body = json!({ "lots": [
        { "text": "0.30 3RS LOT W1 EXP 2029-06-30 STERILE EO", "packs": 5 },
        { "text": "nothing that says what it is", "packs": 5 },
    ] });
    let post = |target: &str| service.call(&Request::post(target, &body));
    let told = post("/v1/deliveries?dry_run=true");
    assert_eq!(told.status, 200, "{}", told.text());
    let told = told.json();
    assert_eq!(told["dry_run"], true);
    let empty = service.call(&Request::get("/v1/lots")).json();
    assert_eq!(empty["items"], json!([]));
    let done = post("/v1/deliveries");
    assert_eq!(done.status, 201, "{}", done.text());
    let done = done.json();
    for at in ["/outcomes/0/lot/state", "/outcomes/0/lot/configuration", "/outcomes/1/errors"] {
        assert_eq!(told.pointer(at), done.pointer(at), "{at}");
        assert!(done.pointer(at).is_some(), "{at}");
    }
}

/// A row that does not hold to the schema keeps a whole delivery out, as the document says; a count
/// may be written as any JSON number that is whole.
#[test]
fn a_row_that_breaks_the_schema_keeps_all_out() {
    let service = Running::start();
    let good = json!({ "text": "0.30 3RS LOT W1 EXP 2029-06-30 STERILE EO", "packs": 20.0 });
    let post =
        |lots: Value| service.call(&Request::post("/v1/deliveries", &json!({ "lots": lots })));
    let refused = post(json!([good, { "text": "x", "packs": 0 }, { "text": "x", "packs": 1.5 }]));
    assert_eq!(refused.status, 422, "{}", refused.text());
    let places: Vec<String> =
        refused.problem().errors.into_iter().map(|fault| fault.pointer).collect();
    assert_eq!(places, ["#/lots/1/packs", "#/lots/2/packs"]);
    assert_eq!(service.call(&Request::get("/v1/lots")).json()["items"], json!([]));
    let says =
        Document::of_this_build().operation("receive_delivery").object["description"].clone();
    assert!(says.as_str().is_some_and(|says| says.contains("keeps all of them out")), "{says}");
    let taken = post(json!([good]));
    assert_eq!(taken.status, 201, "{}", taken.text());
    assert_eq!(taken.json()["outcomes"][0]["lot"]["packs"], 20);
    let text = r#"{"text":"0.30 3RS LOT W2 EXP 2029-06-30 STERILE EO","packs":2e1}"#;
    let one = Request::new("POST", "/v1/lots").bytes("application/json", text);
    assert_eq!(service.call(&one).json()["packs"], 20);
}
