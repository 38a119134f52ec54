//! An open symptom report holds the friendly messages back, and a person lets
//! them go on.

use etui_schema::problem::ErrorCode;
use etui_schema::reminders::ReminderState;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

use super::reminders::House;

/// What invites, or says that all looks as it should.
const FRIENDLY: [&str; 6] = [
    "brows_day_2_3",
    "brows_day_11_14",
    "review_invite",
    "touch_up_invite",
    "touch_up_closing",
    "refresh_invite",
];
/// What is to be done, avoided or watched.
const SAFETY: [&str; 4] = ["red_flags_brows", "care_skin", "check_worse", "check_late"];

fn post(house: &House, path: &str, body: &Value) -> Answer {
    house.running.call(&Request::post(path.to_owned(), body))
}

pub(crate) fn report(house: &House, treatment: &str, symptoms: &Value) -> Value {
    let body = json!({ "symptoms": symptoms, "country": "DE" });
    let answer = post(house, &format!("/v1/treatments/{treatment}/symptom-reports"), &body);
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()
}

pub(crate) fn settle(house: &House, treatment: &str, report: &Value) -> Answer {
    let report = report["id"].as_str().expect("an id");
    let path = format!("/v1/treatments/{treatment}/symptom-reports/{report}/settlements");
    post(house, &path, &json!({ "settled_by": "Ada Lind", "note": "A cold sore, treated." }))
}

/// Keys of the messages of a treatment in a state.
fn keys(house: &House, treatment: &str, state: ReminderState) -> Vec<String> {
    let answer =
        house.running.call(&Request::get(format!("/v1/reminders?state={state}&limit=200")));
    assert_eq!(answer.status, 200, "{}", answer.text());
    let page = answer.json();
    let items = page["items"].as_array().expect("a list").iter();
    let of = items.filter(|one| one["treatment_id"] == treatment);
    of.map(|one| one["key"].as_str().expect("a key").to_owned()).collect()
}

pub(crate) fn spreading() -> Value {
    json!([{ "kind": "spreading_redness", "severity": "moderate", "trend": "worse" }])
}

#[test]
fn an_open_report_pauses_what_is_friendly_until_a_person_settles_it() {
    let house = House::open();
    let brows = house.treat("c-1", "brows", "2027-03-16T07:00:00Z");
    let lips = house.treat("c-1", "lips", "2027-03-16T07:00:00Z");
    let other = house.treat("c-2", "brows", "2027-03-16T07:00:00Z");
    let before = keys(&house, &brows, ReminderState::Scheduled);
    let made = report(&house, &brows, &spreading());
    assert_eq!(made["judgement"]["level"], "same_day");

    let paused = keys(&house, &brows, ReminderState::Paused);
    let scheduled = keys(&house, &brows, ReminderState::Scheduled);
    for key in FRIENDLY {
        assert!(paused.iter().any(|one| one == key), "{key}: {paused:?}");
    }
    for key in SAFETY {
        assert!(scheduled.iter().any(|one| one == key), "{key}: {scheduled:?}");
    }
    assert_eq!(paused.len() + scheduled.len(), before.len());
    assert!(keys(&house, &lips, ReminderState::Paused).is_empty());
    assert!(keys(&house, &other, ReminderState::Paused).is_empty());

    // No claim gets one, however long it stands.
    house.running.set_clock("2027-04-12T12:00:00Z");
    let claimed = house.claim(200, 600).reminders;
    let mine = claimed.iter().filter(|one| one.treatment_id.to_string() == brows);
    for reminder in mine {
        assert!(!FRIENDLY.contains(&reminder.key.as_str()), "{}", reminder.key);
    }
    assert!(claimed.iter().any(|one| one.key == "review_invite"), "the other client's");

    let answer = settle(&house, &brows, &made);
    assert_eq!(answer.status, 201, "{}", answer.text());
    assert_eq!(answer.json()["settled_by"], "Ada Lind");
    assert!(keys(&house, &brows, ReminderState::Paused).is_empty());
    // What lies ahead or is still of use goes on; what has passed is closed.
    let claimed = house.claim(200, 600).reminders;
    let mine: Vec<&str> = claimed
        .iter()
        .filter(|one| one.treatment_id.to_string() == brows)
        .map(|one| one.key.as_str())
        .collect();
    assert!(mine.contains(&"review_invite"), "{mine:?}");
    let overtaken = keys(&house, &brows, ReminderState::Overtaken);
    assert!(overtaken.iter().any(|key| key == "brows_day_2_3"), "{overtaken:?}");
    let again = settle(&house, &brows, &made).problem();
    assert_eq!(again.code, ErrorCode::Conflict);

    let record = house.running.call(&Request::get(format!("/v1/treatments/{brows}"))).json();
    assert_eq!(record["symptom_reports"][0]["settled"]["settled_by"], "Ada Lind");
}

#[test]
fn only_the_last_settlement_lets_messages_go_on() {
    let house = House::open();
    let brows = house.treat("c-1", "brows", "2027-03-16T07:00:00Z");
    // A mild report pauses nothing.
    let mild = json!([{ "kind": "tightness", "severity": "mild", "trend": "same" }]);
    report(&house, &brows, &mild);
    assert!(keys(&house, &brows, ReminderState::Paused).is_empty());
    let one = report(&house, &brows, &spreading());
    let two = report(
        &house,
        &brows,
        &json!([{ "kind": "nodules", "severity": "mild", "trend": "same" }]),
    );
    // Nodules alone are for a doctor; they are heard beside what is open.
    assert_eq!(two["judgement"]["level"], "same_day");
    let paused = keys(&house, &brows, ReminderState::Paused);
    assert_eq!(settle(&house, &brows, &one).status, 201);
    assert_eq!(keys(&house, &brows, ReminderState::Paused), paused, "another report is open");
    assert_eq!(settle(&house, &brows, &two).status, 201);
    assert!(keys(&house, &brows, ReminderState::Paused).is_empty());

    // A report of another treatment, or of none, cannot be settled here.
    let lips = house.treat("c-1", "lips", "2027-03-16T07:00:00Z");
    assert_eq!(settle(&house, &lips, &one).status, 404);
    let id = one["id"].as_str().expect("an id");
    let path = format!("/v1/treatments/{brows}/symptom-reports/{id}/settlements");
    for nobody in ["  ", "\u{200b}", "\u{a0}\u{2060}"] {
        let refused = post(&house, &path, &json!({ "settled_by": nobody }));
        assert_eq!(refused.problem().errors[0].pointer, "#/settled_by");
    }
}

#[test]
fn what_a_script_holds_is_not_given_out_again_while_a_report_is_open() {
    let house = House::open();
    let brows = house.treat("c-1", "brows", "2027-03-16T07:00:00Z");
    house.running.set_clock("2027-03-18T08:00:00Z");
    let held = house.claim(200, 60);
    assert!(held.reminders.iter().any(|one| one.key == "brows_day_2_3"), "{held:?}");
    report(&house, &brows, &spreading());
    assert!(!keys(&house, &brows, ReminderState::Paused).iter().any(|k| k == "brows_day_2_3"));
    house.running.set_clock("2027-03-18T08:05:00Z");
    let again = house.claim(200, 600).reminders;
    assert!(again.iter().all(|one| one.key != "brows_day_2_3"), "{again:?}");
    assert!(keys(&house, &brows, ReminderState::Paused).iter().any(|k| k == "brows_day_2_3"));
    // A session that is recorded meanwhile begins paused, too.
    let second = house.treat("c-1", "brows", "2027-03-18T07:30:00Z");
    assert!(keys(&house, &second, ReminderState::Paused).iter().any(|k| k == "review_invite"));
}

fn scheduled(house: &House, treatment: &str, key: &str) -> bool {
    keys(house, treatment, ReminderState::Scheduled).iter().any(|one| one == key)
}

/// Nothing friendly goes out while somebody has to look, and what speaks of healed
/// skin is such a message.
#[test]
fn messages_wait_for_the_artist_for_bleeding_and_for_unhealed_skin() {
    let house = House::open();
    let itching = json!([{ "kind": "itching", "severity": "mild", "trend": "same" }]);
    let told = house.treat("c-1", "brows", "2027-03-16T07:00:00Z");
    assert!(scheduled(&house, &told, "care_healed"));
    let made = report(&house, &told, &itching);
    assert_eq!(made["judgement"]["level"], "artist");
    assert!(!scheduled(&house, &told, "care_healed"));
    assert!(scheduled(&house, &told, "check_worse"));
    assert_eq!(settle(&house, &told, &made).status, 201);
    assert!(scheduled(&house, &told, "care_healed"));

    let bled = house.treat("c-2", "brows", "2027-03-16T07:00:00Z");
    let body = json!({ "signs": ["heavy_bleeding"] });
    let seen = post(&house, &format!("/v1/treatments/{bled}/observations"), &body);
    assert_eq!((seen.status, seen.json()["stop"] == true), (201, true), "{}", seen.text());
    assert!(!scheduled(&house, &bled, "care_healed"));

    let unhealed = house.treat("c-3", "brows", "2027-03-16T07:00:00Z");
    let review = |treatment: &str, surface: &str| {
        let kept = json!([{ "zone": "whole", "kept": "from_75" }]);
        let body = json!({ "zones": kept, "surface": surface });
        let answer = post(&house, &format!("/v1/treatments/{treatment}/reviews"), &body);
        assert_eq!(answer.status, 201, "{}", answer.text());
        answer.json()["outcome"].clone()
    };
    house.running.set_clock("2027-04-11T12:00:00Z");
    assert_eq!(review(&unhealed, "unhealed"), "too_early");
    assert!(!scheduled(&house, &unhealed, "care_healed"));
    house.running.set_clock("2027-04-16T12:00:00Z");
    for treatment in [&bled, &unhealed] {
        assert_eq!(review(treatment, "smooth"), "nothing");
        assert!(scheduled(&house, treatment, "care_healed"));
    }
}

/// A touch-up goes over the same skin: what was seen of it under one record is over once it was seen
/// smooth under the other, and not before.
#[test]
fn a_look_is_of_the_skin_and_not_of_the_record_it_is_kept_with() {
    let house = House::open();
    let first = house.treat("c-1", "brows", "2027-01-10T07:00:00Z");
    let look = |treatment: &str, surface: &str| {
        let kept = json!([{ "zone": "whole", "kept": "from_75" }]);
        let body = json!({ "zones": kept, "surface": surface });
        let answer = post(&house, &format!("/v1/treatments/{treatment}/reviews"), &body);
        assert_eq!(answer.status, 201, "{}", answer.text());
    };
    look(&first, "unhealed");
    let bled = json!({ "signs": ["heavy_bleeding"], "at": "2027-01-10T07:00:00Z" });
    assert_eq!(post(&house, &format!("/v1/treatments/{first}/observations"), &bled).status, 201);
    let second = house.treat("c-1", "brows", "2027-03-16T07:00:00Z");
    assert!(!scheduled(&house, &second, "care_healed"));
    house.running.set_clock("2027-04-20T12:00:00Z");
    look(&second, "raised");
    assert!(!scheduled(&house, &second, "care_healed"));
    house.running.set_clock("2027-04-21T12:00:00Z");
    look(&second, "smooth");
    assert!(scheduled(&house, &second, "care_healed"));
    look(&first, "unhealed");
    assert!(!scheduled(&house, &second, "care_healed"));
}
