//! A treatment whose date is put right: everything that is reckoned from it
//! moves, in one batch, and nothing is sent twice or lost.

use std::collections::BTreeMap;

use etui_service::maintain;
use etui_tests::engine;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

use crate::reminders::House;

/// Sends an amendment of the date.
fn move_to(house: &House, treatment: &str, performed_at: &str) -> Answer {
    let body = json!({
        "reason": "the wrong day was written down",
        "values": { "performed_at": performed_at },
    });
    let path = format!("/v1/treatments/{treatment}/amendments");
    house.running.call(&Request::post(path, &body))
}

fn get(house: &House, path: &str) -> Value {
    let answer = house.running.call(&Request::get(path));
    assert_eq!(answer.status, 200, "{path}: {}", answer.text());
    answer.json()
}

/// When each step of a treatment is due, by state.
fn due(house: &House, treatment: &str, state: &str) -> BTreeMap<String, String> {
    let page = get(house, &format!("/v1/reminders?state={state}&limit=200"));
    let items = page["items"].as_array().expect("items").iter();
    let of = items.filter(|item| item["treatment_id"] == treatment);
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    of.map(|item| (text(&item["key"]), text(&item["due_at"]))).collect()
}

/// A day later; the messages that are due by the plan of the right day, and only
/// they, are scheduled, each a day later than before.
#[test]
fn its_reminders_its_plan_and_its_calendar_move_with_it() {
    let house = House::open();
    let treatment = house.treat("c-1", "brows", "2027-03-14T07:00:00Z");
    let before = due(&house, &treatment, "scheduled");
    let calendar = |house: &House| {
        let path = format!("/v1/treatments/{treatment}/aftercare.ics");
        house.running.call(&Request::get(path)).text().replace("\r\n ", "")
    };
    let calendar_before = calendar(&house);
    assert!(calendar_before.contains("SEQUENCE:0\r\n"), "{calendar_before}");

    let moved = move_to(&house, &treatment, "2027-03-15T07:00:00Z");
    assert_eq!(moved.status, 201, "{}", moved.text());
    assert_eq!(moved.json()["was"]["performed_at"], "2027-03-14T07:00:00.000Z");

    let record = get(&house, &format!("/v1/treatments/{treatment}"));
    assert_eq!(record["performed_at"], "2027-03-15T07:00:00.000Z");
    let plan = get(&house, &format!("/v1/treatments/{treatment}/aftercare"));
    assert_eq!(plan["performed_at"], "2027-03-15T07:00:00.000Z");
    let after = due(&house, &treatment, "scheduled");
    assert!(before.len() <= after.len(), "{before:?} {after:?}");
    let steps = plan["steps"].as_array().expect("steps");
    for (key, at) in &after {
        let step = steps.iter().find(|step| step["key"] == **key).expect("a step of the plan");
        assert_eq!(step["at"], **at, "{key}");
        if let Some(earlier) = before.get(key) {
            let (earlier, at): (jiff::Timestamp, jiff::Timestamp) =
                (earlier.parse().expect("an instant"), at.parse().expect("an instant"));
            // The clocks change on 28 March: the local time stays.
            let hours = at.duration_since(earlier).as_hours();
            assert!((23..=25).contains(&hours), "{key}: {hours}");
        }
    }
    let calendar_after = calendar(&house);
    assert!(calendar_after.contains("SEQUENCE:2\r\n"), "{calendar_after}");
    assert!(!calendar_after.contains("SEQUENCE:0\r\n"), "{calendar_after}");
    let uids = |text: &str| {
        let mut all: Vec<String> =
            text.lines().filter(|line| line.starts_with("UID:")).map(str::to_owned).collect();
        all.sort();
        all
    };
    assert_eq!(uids(&calendar_before), uids(&calendar_after), "an entry keeps its UID");
}

/// What went out stays out; what is held by a script moves and is still held.
#[test]
fn what_was_sent_stays_sent() {
    let house = House::open();
    let treatment = house.treat("c-1", "brows", "2027-03-16T07:00:00Z");
    let claim = house.claim(200, 600);
    assert!(!claim.reminders.is_empty());
    let sent = &claim.reminders[0];
    house.outcome(&claim, sent, &json!({ "outcome": "delivered" }));
    assert_eq!(move_to(&house, &treatment, "2027-03-16T06:00:00Z").status, 201);
    let delivered = due(&house, &treatment, "delivered");
    assert_eq!(delivered.keys().collect::<Vec<_>>(), [&sent.key]);
    assert_eq!(due(&house, &treatment, "leased").len(), claim.reminders.len() - 1);
    assert!(house.claim(200, 600).reminders.is_empty(), "nothing is handed out twice");
    for reminder in &claim.reminders[1..] {
        let receipt = house.outcome(&claim, reminder, &json!({ "outcome": "delivered" }));
        assert_eq!((receipt.deliveries, receipt.late), (1, false));
    }
}

/// A wrong date in the future of the right one had put another session in the
/// past: the last session of all has the reminders, whatever order they were
/// written in.
#[test]
fn of_several_sessions_the_last_one_has_the_reminders() {
    let house = House::open();
    let first = house.treat("c-1", "brows", "2027-03-10T07:00:00Z");
    let second = house.treat("c-1", "brows", "2027-03-15T07:00:00Z");
    let open = |treatment: &str| due(&house, treatment, "scheduled").len();
    assert_eq!(open(&first), 0);
    let both = open(&second);
    assert!(0 < both);
    // It was a week earlier: now the other session is the last.
    assert_eq!(move_to(&house, &second, "2027-03-08T07:00:00Z").status, 201);
    assert_eq!(open(&second), 0);
    assert!(0 < open(&first), "its reminders are open again");
    let feed = |treatment: &str| {
        let path = format!("/v1/treatments/{treatment}/aftercare.ics");
        house.running.call(&Request::get(path)).text()
    };
    assert!(!feed(&first).contains("STATUS:CANCELLED"));
    assert!(feed(&second).contains("STATUS:CANCELLED"));
    // And back.
    assert_eq!(move_to(&house, &second, "2027-03-15T07:00:00Z").status, 201);
    assert_eq!((open(&first), open(&second)), (0, both));
    assert!(feed(&first).contains("SEQUENCE:5\r\n"), "cancelled again, and counted on");
}

/// Lists, exposures and the walk over everything know the right date.
#[test]
fn it_is_found_under_its_right_date() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let house = House::with(etui_tests::running::Running::start_at(folder.path()));
    let moved = house.treat("c-1", "brows", "2027-03-10T07:00:00Z");
    let other = house.treat("c-1", "lips", "2027-03-12T07:00:00Z");
    let added = json!({
        "reason": "a pack was forgotten",
        "add_packs": [{ "lot_id": house.lot_id, "intact": true, "serial": "55" }],
    });
    let path = format!("/v1/treatments/{moved}/amendments");
    let answer = house.running.call(&Request::post(&path, &added));
    assert_eq!(answer.status, 201, "{}", answer.text());
    assert_eq!(move_to(&house, &moved, "2027-03-14T07:00:00Z").status, 201);
    let rows = get(&house, "/v1/treatments?client_ref=c-1");
    let listed: Vec<(&Value, &Value)> = rows["items"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|row| (&row["id"], &row["performed_at"]))
        .collect();
    assert_eq!(
        listed,
        [
            (&json!(other), &json!("2027-03-12T07:00:00.000Z")),
            (&json!(moved), &json!("2027-03-14T07:00:00.000Z")),
        ]
    );
    let exposures = get(&house, &format!("/v1/lots/{}/exposures", house.lot_id));
    let told: Vec<(&Value, &Value, &Value)> = exposures["treatments"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|row| (&row["treatment_id"], &row["performed_at"], &row["packs"]))
        .collect();
    assert_eq!(
        told,
        [
            (&json!(other), &json!("2027-03-12T07:00:00.000Z"), &json!(1)),
            (&json!(moved), &json!("2027-03-14T07:00:00.000Z"), &json!(2)),
        ]
    );
    drop(house);
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let report =
        runtime.expect("a runtime").block_on(maintain::check(engine::place(folder.path())));
    report.expect("a sound store");
}

#[test]
fn a_date_that_cannot_be_is_named_and_one_past_the_pack_is_flagged() {
    let house = House::open();
    let born = json!({ "born_on": "1990-05-02" });
    assert_eq!(house.running.call(&Request::put("/v1/clients/c-1", &born)).status, 201);
    let treatment = house.treat("c-1", "brows", "2027-03-14T07:00:00Z");
    for wrong in ["2027-03-17T07:00:00Z", "1990-05-01T07:00:00Z"] {
        let answer = move_to(&house, &treatment, wrong);
        assert_eq!(answer.problem().errors[0].pointer, "#/values/performed_at", "{wrong}");
    }
    // A birthday that is put right later stands against no other amendment.
    let etag = house.running.call(&Request::get("/v1/clients/c-1"));
    let etag = etag.header("etag").expect("an entity tag").to_owned();
    let born = Request::put("/v1/clients/c-1", &json!({ "born_on": "2027-03-15" }));
    assert_eq!(house.running.call(&born.header("If-Match", etag)).status, 200);
    let path = format!("/v1/treatments/{treatment}/amendments");
    let machine = json!({ "reason": "forgotten", "values": { "machine_ref": "machine-1" } });
    assert_eq!(house.running.call(&Request::post(path, &machine)).status, 201);
    let etag = house.running.call(&Request::get("/v1/clients/c-1"));
    let etag = etag.header("etag").expect("an entity tag").to_owned();
    let born = Request::put("/v1/clients/c-1", &json!({ "born_on": "1990-05-02" }));
    assert_eq!(house.running.call(&born.header("If-Match", etag)).status, 200);
    house.running.set_clock("2030-03-01T08:00:00Z");
    let late = move_to(&house, &treatment, "2030-02-01T07:00:00Z");
    assert_eq!(late.status, 201, "{}", late.text());
    assert_eq!(late.json()["flags"][0]["pointer"], "#/packs/0/expires_on");
    assert_eq!(late.json()["flags"][0]["code"], "pack_expired");
}
