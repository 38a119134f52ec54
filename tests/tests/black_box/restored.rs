//! Messages that a store which was lost may have sent: marked, or held until a person
//! releases them.

use std::path::Path;

use etui_schema::reminders::{Reminder, ReminderState};
use etui_service::config::{AfterRestore, Config};
use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

use crate::luck::etui;
use crate::pausing::{report, settle, spreading};
use crate::reminders::House;

/// The same studio after its folder was lost and restored from what was saved last.
fn lost_and_restored(folder: &Path, house: House, how: AfterRestore) -> House {
    let (data, dump, key) = (folder.join("data"), folder.join("dump"), folder.join("key"));
    let at = |path: &Path| path.display().to_string();
    house.running.stop();
    std::fs::copy(data.join("studio-key"), &key).expect("the key can be copied");
    etui(&["export", "--data", &at(&data), "--to", &at(&dump)]);
    std::fs::remove_dir_all(&data).expect("the folder can be lost");
    etui(&["import", "--from", &at(&dump), "--data", &at(&data), "--studio-key", &at(&key)]);
    let change = |config: &mut Config| config.after_restore = how;
    House { running: Running::start_at_with(&data, change), lot_id: house.lot_id }
}

/// One message was claimed when the state was saved, others were due.
fn restored(folder: &Path, how: AfterRestore) -> House {
    let house = House::with(Running::start_at(&folder.join("data")));
    house.treat("c-1", "lips", "2027-03-15T07:00:00Z");
    house.treat("c-2", "brows", "2027-03-15T07:00:00Z");
    assert_eq!(house.claim(1, 600).reminders.len(), 1);
    lost_and_restored(folder, house, how)
}

fn listed(house: &House, state: ReminderState) -> Vec<Reminder> {
    let answer =
        house.running.call(&Request::get(format!("/v1/reminders?state={state}&limit=200")));
    serde_json::from_value(answer.json()["items"].clone()).expect("reminders")
}

fn release(house: &House, decision: &str, ids: &[Value]) -> Value {
    let body = json!({ "decision": decision, "reminders": ids });
    let answer = house.running.call(&Request::post("/v1/reminder-releases", &body));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()["outcomes"].clone()
}

#[test]
fn what_may_have_been_sent_is_marked_and_handed_out() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let house = restored(folder.path(), AfterRestore::Mark);
    assert!(listed(&house, ReminderState::Held).is_empty());
    let claim = house.claim(200, 600).reminders;
    assert!(2 < claim.len() && claim.iter().all(|one| one.maybe_sent), "{claim:?}");
    let ids = [json!(claim[0].id)];
    let told = release(&house, "send", &ids);
    assert_eq!(told[0]["released"], json!(false), "it is not held: {told}");
    assert_eq!(told[0]["state"], json!("leased"));
}

#[test]
fn what_may_have_been_sent_is_held_until_a_person_releases_it() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let house = restored(folder.path(), AfterRestore::Hold);
    let held = listed(&house, ReminderState::Held);
    assert!(4 < held.len(), "{held:?}");
    assert!(held.iter().all(|one| one.maybe_sent && one.lease.is_none()), "{held:?}");
    assert!(house.claim(200, 600).reminders.is_empty(), "no claim gets them");
    // Not even when their time has passed, and what falls due later is handed out as always.
    house.running.set_clock("2027-03-18T12:00:00Z");
    let later = house.claim(200, 600).reminders;
    assert!(!later.is_empty() && later.iter().all(|one| !one.maybe_sent), "{later:?}");
    assert_eq!(listed(&house, ReminderState::Held).len(), held.len());
    // One is sent on, one was sent, one nobody knows.
    let now = "2027-03-18T12:00:00Z".parse().expect("an instant");
    let late = held.iter().find(|one| one.latest.0 <= now).expect("one whose time has passed");
    let ahead = held.iter().find(|one| now < one.latest.0).expect("one that can still be sent");
    let other = held.iter().find(|one| one.id != late.id && one.id != ahead.id).expect("another");
    let nobody = "01890000-0000-7000-8000-000000000000";
    let ids = [json!(ahead.id), json!(late.id), json!(ahead.id), json!(nobody)];
    let told = release(&house, "send", &ids);
    for (at, released, state) in [
        (0, true, json!("scheduled")),
        (1, true, json!("overtaken")),
        (2, false, json!("scheduled")),
        (3, false, Value::Null),
    ] {
        assert_eq!(
            (&told[at]["released"], &told[at]["state"]),
            (&json!(released), &state),
            "{told}"
        );
    }
    let told = release(&house, "skip", &[json!(other.id)]);
    assert_eq!((&told[0]["released"], &told[0]["state"]), (&json!(true), &json!("skipped")));
    let claim = house.claim(200, 600).reminders;
    assert_eq!(claim.iter().map(|one| one.id).collect::<Vec<_>>(), [ahead.id]);
    assert!(claim[0].maybe_sent, "whoever sends it is told");
    assert_eq!(listed(&house, ReminderState::Held).len(), held.len() - 3);
}

/// A message that waits for a symptom report may have gone on in the store that was lost.
/// Released, it waits again.
#[test]
fn what_was_paused_is_held_and_paused_again() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let house = House::with(Running::start_at(&folder.path().join("data")));
    let brows = house.treat("c-1", "brows", "2027-03-14T07:00:00Z");
    let made = report(&house, &brows, &spreading());
    let now = etui_tests::running::NOW.parse().expect("an instant");
    let mut due = listed(&house, ReminderState::Paused);
    due.retain(|one| one.due_at.0 <= now);
    assert!(!due.is_empty(), "one of those that are paused is due");
    let house = lost_and_restored(folder.path(), house, AfterRestore::Hold);
    let ids: Vec<Value> = due.iter().map(|one| json!(one.id)).collect();
    let held = listed(&house, ReminderState::Held);
    assert!(due.iter().all(|one| held.iter().any(|other| other.id == one.id)), "{held:?}");
    let told = release(&house, "send", &ids);
    assert!(
        told.as_array().expect("outcomes").iter().all(|one| one["state"] == "paused"),
        "{told}"
    );
    assert_eq!(settle(&house, &brows, &made).status, 201);
    let claim = house.claim(200, 600).reminders;
    assert_eq!(claim.len(), due.len());
    assert!(claim.iter().all(|one| one.maybe_sent), "{claim:?}");
}
