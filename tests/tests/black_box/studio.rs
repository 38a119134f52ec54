//! The studio's memory as its people use it: drawer, treatments, recall,
//! forgetting, and what the command line does to the folder.

use std::path::Path;
use std::time::Duration;

use etui_tests::child::Child;
use etui_tests::engine;
use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

const PROGRAM: &str = env!("CARGO_BIN_EXE_etui_under_test");
/// Stands in every health field; must be found nowhere on the disk.
const PLANTED: &str = "planted-phrase-7f3a";

fn receive(running: &Running, text: &str, packs: u32) -> String {
    let body = json!({ "text": text, "packs": packs, "maker": "north" });
    let answer = running.call(&Request::post("/v1/lots", &body));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()["id"].as_str().expect("an id").to_owned()
}

fn record(lot_id: &str, client: &str) -> Request {
    let body = json!({
        "client_ref": client, "artist_ref": "artist-1", "treatment": "brows",
        "effect": "soft_shading", "performed_at": "2027-03-01T09:00:00Z",
        "packs": [{ "lot_id": lot_id, "intact": true }],
    });
    Request::post("/v1/treatments", &body)
}

/// 32 draw from a lot of 10: ten get a pack, the others are told why not.
#[test]
fn nobody_takes_the_last_pack_twice() {
    let running = Running::start();
    let lot = receive(&running, "0.30 3RS LOT A1 EXP 2036-01 STERILE EO", 10);
    let answers: Vec<Answer> = std::thread::scope(|scope| {
        let calls: Vec<_> = (0..32)
            .map(|n| {
                let (running, lot) = (&running, &lot);
                scope.spawn(move || running.call(&record(lot, &format!("client-{n}"))))
            })
            .collect();
        calls.into_iter().map(|call| call.join().expect("an answer")).collect()
    });
    let created = answers.iter().filter(|answer| answer.status == 201).count();
    let refused: Vec<&Answer> = answers.iter().filter(|answer| answer.status == 409).collect();
    assert_eq!((created, refused.len()), (10, 22));
    assert!(refused[0].text().contains("holds 0 packs"), "{}", refused[0].text());
    let left = running.call(&Request::get(format!("/v1/lots/{lot}")));
    assert_eq!(left.json()["state"], "empty");
}

#[test]
fn packs_that_may_not_be_used_are_named() {
    let running = Running::start();
    let expired = receive(&running, "0.30 3RS LOT OLD EXP 2020-01 STERILE EO", 5);
    let fine = receive(&running, "0.30 3RS LOT NEW EXP 2036-01 STERILE EO", 5);
    let with = |packs: Value| {
        let mut request = record(&fine, "client-1").json_body().expect("a body");
        request["packs"] = packs;
        running.call(&Request::post("/v1/treatments", &request))
    };
    for (packs, pointer) in [
        (json!([{ "lot_id": expired, "intact": true }]), "#/packs/0/lot_id"),
        (
            json!([{ "lot_id": fine, "intact": true }, { "lot_id": fine, "intact": false }]),
            "#/packs/1/intact",
        ),
        (
            json!([{ "lot_id": "0198c6a2-7d5e-7000-8000-000000000001", "intact": true }]),
            "#/packs/0/lot_id",
        ),
        (
            json!([{ "lot_id": fine, "intact": true, "serial": "S1" }, { "lot_id": fine, "intact": true, "serial": "S1" }]),
            "#/packs/1/serial",
        ),
        (
            json!([{ "lot_id": fine, "intact": true, "serial": "ab1" }, { "lot_id": fine, "intact": true, "serial": "aB1" }]),
            "#/packs/1/serial",
        ),
    ] {
        let answer = with(packs.clone());
        assert_eq!(answer.status, 422, "{packs}: {}", answer.text());
        assert_eq!(answer.json()["errors"][0]["pointer"], pointer, "{}", answer.text());
    }
    let first = json!([{ "lot_id": fine, "intact": true, "serial": "Cd2" }]);
    assert_eq!(with(first).status, 201);
    for serial in ["Cd2", "CD2", "cd2"] {
        let again = with(json!([{ "lot_id": fine, "intact": true, "serial": serial }]));
        assert_eq!(again.json()["errors"][0]["pointer"], "#/packs/0/serial", "{serial}");
    }
    let all_the_same =
        with(json!([{ "lot_id": expired, "intact": true, "used_although": "seen too late" }]));
    assert_eq!(all_the_same.status, 201, "{}", all_the_same.text());
    assert_eq!(all_the_same.json()["flags"][0]["code"], "used_although_expired");
}

/// A recall finds who was exposed, also after a client was forgotten, and the
/// lot is offered to nobody from that moment.
#[test]
fn a_recall_reaches_everyone_and_ends_the_use() {
    let running = Running::start();
    let lot = receive(&running, "0.30 3RS LOT R7 EXP 2036-01 STERILE EO", 5);
    let other = running.call(&Request::post(
        "/v1/lots",
        &json!({ "text": "0.30 5RS LOT R7 EXP 2036-01 STERILE EO", "packs": 5, "maker": "south" }),
    ));
    assert_eq!(other.status, 201);
    for client in ["client-1", "client-2"] {
        assert_eq!(running.call(&record(&lot, client)).status, 201);
    }
    let forgotten = Request::new("DELETE", "/v1/clients/client-1").header("If-Match", "*");
    let receipt = running.call(&forgotten);
    assert_eq!(receipt.status, 200, "{}", receipt.text());
    let notice = json!({ "lot": "R7", "maker": "north", "reason": "sterility in doubt" });
    let report = running.call(&Request::post("/v1/recalls", &notice));
    assert_eq!(report.status, 201, "{}", report.text());
    let report = report.json();
    assert_eq!(report["exposures"]["clients"], json!(["client-1", "client-2"]));
    assert_eq!(report["exposures"]["similar_lot_ids"].as_array().map(Vec::len), Some(1));
    let blocked = running.call(&record(&lot, "client-3"));
    assert_eq!(blocked.status, 422);
    assert!(blocked.text().contains("recalled"), "{}", blocked.text());
    let table = Request::get(format!("/v1/lots/{lot}/exposures")).header("Accept", "text/csv");
    assert_eq!(running.call(&table).text().lines().count(), 3);
}

/// Trauma is answered by leaving the spot, and by nothing that is harder.
#[test]
fn trauma_is_answered_by_less() {
    let running = Running::start();
    let lot = receive(&running, "0.30 3RS LOT T1 EXP 2036-01 STERILE EO", 5);
    let recorded = record(&lot, "client-1").header("Accept-Language", "de");
    let treatment = running.call(&recorded).json();
    let flags = treatment["flags"].as_array().expect("flags");
    let says = |code: &str| flags.iter().find(|flag| flag["code"] == code).cloned();
    let unknown = says("pigment_unknown").expect("no pigment was told");
    assert!(unknown["message"].as_str().is_some_and(|text| text.starts_with("Es ist keine Farbe")));
    let spoken = |flag: &Value| flag["message"].as_str().is_some_and(|text| text.contains(' '));
    assert!(flags.iter().all(spoken), "{treatment}");
    let path = format!("/v1/treatments/{}/observations", treatment["id"].as_str().expect("an id"));
    let at_the_tail = json!({ "signs": ["weeping"], "place": "brow_tail" });
    let seen = running.call(&Request::post(&path, &at_the_tail));
    assert_eq!(seen.status, 201, "{}", seen.text());
    let seen = seen.json();
    assert_eq!(seen["steps"][0]["kind"], "leave_spot", "{seen}");
    assert_eq!((&seen["stop"], &seen["stop_scope"]), (&json!(false), &json!("spot")));
    assert_eq!(seen["place"], "brow_tail");
    let german = Request::post(&path, &at_the_tail).header("Accept-Language", "de");
    let german = running.call(&german).json();
    let says = german["steps"][0]["change"].as_str().unwrap_or_default();
    assert!(says.starts_with("Hören Sie an dieser Stelle"), "{german}");
    // Nobody told where it weeps, or it bleeds heavily: no needle is named.
    for signs in [["weeping"], ["heavy_bleeding"]] {
        let stops = running.call(&Request::post(&path, &json!({ "signs": signs }))).json();
        assert_eq!(stops["stop"], true, "{stops}");
        assert_eq!(stops["steps"][0]["kind"], "stop", "{stops}");
        let steps = stops["steps"].as_array().expect("steps");
        assert!(steps.iter().all(|step| step.get("configuration").is_none()), "{stops}");
    }
    // And it stays so: what is seen at the tail afterwards opens nothing again.
    let after = running.call(&Request::post(&path, &at_the_tail)).json();
    assert_eq!((&after["stop"], &after["stop_scope"]), (&json!(true), &json!("session")));
    for (body, pointer) in [
        (json!({ "signs": [] }), "#/signs"),
        (json!({ "signs": ["weeping"], "pack": 7 }), "#/pack"),
        (json!({ "signs": ["weeping"], "place": "lid_inner" }), "#/place"),
        (json!({ "signs": ["weeping"], "at": "2090-01-01T00:00:00Z" }), "#/at"),
    ] {
        let answer = running.call(&Request::post(&path, &body));
        assert_eq!(answer.status, 422, "{body}");
        assert_eq!(answer.json()["errors"][0]["pointer"], pointer, "{}", answer.text());
    }
}

/// Where the record speaks against the pack in use, the same needle out of another lot is named; the
/// lots of its code are none.
#[test]
fn a_needle_of_a_spoilt_pack_is_put_away() {
    let running = Running::start();
    let lot = receive(&running, "0.30 3RS LOT T1 EXP 2036-01 STERILE EO", 9);
    receive(&running, "0.30 7RS LOT T2 EXP 2036-01 STERILE EO", 9);
    receive(&running, "0.30 3RS LOT t-1 EXP 2036-01 STERILE EO", 9);
    let mut body = record(&lot, "client-1").json_body().expect("a body");
    body["effect"] = json!("soft_shading");
    body["packs"][0]["intact"] = json!(false);
    body["packs"][0]["used_although"] = json!("seen too late");
    let made = running.call(&Request::post("/v1/treatments", &body));
    assert_eq!(made.status, 201, "{}", made.text());
    let path =
        format!("/v1/treatments/{}/observations", made.json()["id"].as_str().expect("an id"));
    let sees = || {
        let sign = json!({ "signs": ["pinpoint_bleeding"], "place": "brow_tail" });
        running.call(&Request::post(&path, &sign)).json()
    };
    let named = |seen: &Value| -> Vec<Value> {
        let steps = seen["steps"].as_array().expect("steps");
        steps.iter().filter_map(|step| step.get("configuration").cloned()).collect()
    };
    let none = sees();
    assert!(none.to_string().contains("Put the needle away"), "{none}");
    assert!(named(&none).iter().all(|it| it["count"] != 3), "{none}");
    receive(&running, "0.30 3RS LOT T3 EXP 2036-01 STERILE EO", 9);
    let fresh = sees();
    assert!(fresh.to_string().contains("fresh pack of another lot"), "{fresh}");
    let counts: Vec<Value> = named(&fresh).iter().map(|it| it["count"].clone()).collect();
    assert_eq!(counts, [3], "{fresh}");
}

/// What is answered to a sign on a treatment of a client of her own.
struct AtTheChair<'a> {
    running: &'a Running,
    path: String,
}

impl<'a> AtTheChair<'a> {
    fn with(running: &'a Running, recorded: &Request) -> Self {
        let treatment = running.call(recorded);
        assert_eq!(treatment.status, 201, "{}", treatment.text());
        let treatment = treatment.json();
        let path = format!("/v1/treatments/{}", treatment["id"].as_str().expect("an id"));
        Self { running, path }
    }

    /// The same with another treatment and effect than brows.
    fn of(running: &'a Running, lot: &str, client: &str, told: [&str; 2]) -> Self {
        Self::with(running, &recording(lot, client, told))
    }

    fn sees(&self, body: &Value) -> Value {
        let seen = self.running.call(&Request::post(format!("{}/observations", self.path), body));
        assert_eq!(seen.status, 201, "{body}: {}", seen.text());
        seen.json()
    }

    /// Sees a sign at a place.
    fn at(&self, place: &str, sign: &str) -> Value {
        self.sees(&json!({ "signs": [sign], "place": place }))
    }
}

/// A record of a treatment with an effect.
fn recording(lot: &str, client: &str, [treatment, effect]: [&str; 2]) -> Request {
    let mut body = record(lot, client).json_body().expect("a body");
    body["treatment"] = json!(treatment);
    body["effect"] = json!(effect);
    Request::post("/v1/treatments", &body)
}

fn names_a_needle(seen: &Value) -> bool {
    let steps = seen["steps"].as_array().expect("steps");
    steps.iter().any(|step| step.get("configuration").is_some())
}

fn ends_the_session(seen: &Value) {
    let stop = (&seen["stop"], &seen["stop_scope"]);
    assert_eq!(stop, (&json!(true), &json!("session")), "{seen}");
    assert!(!names_a_needle(seen), "{seen}");
    assert!(!seen.to_string().contains("not said where"), "{seen}");
}

fn finishes_a_spot(seen: &Value) {
    let stop = (&seen["stop"], &seen["stop_scope"]);
    assert_eq!(stop, (&json!(false), &json!("spot")), "{seen}");
}

/// A stop stands for every place it was told of: the whole area for its parts, a part for the
/// whole, and afterwards for every other part too.
#[test]
fn a_stop_stands_in_every_place() {
    let running = Running::start();
    let lot = receive(&running, "0.30 3RS LOT T1 EXP 2036-01 STERILE EO", 9);
    let lips = |client: &str| AtTheChair::of(&running, &lot, client, ["lips", "soft_shading"]);
    let chair = lips("client-1");
    ends_the_session(&chair.at("whole", "weeping"));
    ends_the_session(&chair.at("lip_border", "pinpoint_bleeding"));
    let chair = lips("client-2");
    finishes_a_spot(&chair.at("lip_border", "weeping"));
    ends_the_session(&chair.at("whole", "pinpoint_bleeding"));
    ends_the_session(&chair.at("upper_lip", "pinpoint_bleeding"));
    ends_the_session(&chair.at("upper_lip", "poor_uptake"));
}

/// What finished one spot and shows at a second is no longer one spot.
#[test]
fn what_shows_at_a_second_spot_ends_the_session() {
    let running = Running::start();
    let lot = receive(&running, "0.30 3RS LOT T1 EXP 2036-01 STERILE EO", 9);
    let lips = |client: &str| AtTheChair::of(&running, &lot, client, ["lips", "soft_shading"]);
    let chair = lips("client-1");
    finishes_a_spot(&chair.at("lower_lip", "weeping"));
    finishes_a_spot(&chair.at("lower_lip", "weeping"));
    ends_the_session(&chair.at("upper_lip", "weeping"));
    ends_the_session(&chair.at("lip_border", "weeping"));
    ends_the_session(&chair.at("lip_border", "pinpoint_bleeding"));
    // Two spots are finished, each by its own sign.
    let chair = lips("client-2");
    finishes_a_spot(&chair.at("lower_lip", "weeping"));
    ends_the_session(&chair.at("upper_lip", "bruising"));
    // Pinpoints finish no spot; elsewhere too, as their own step says, they end it.
    let chair = lips("client-4");
    finishes_a_spot(&chair.at("lower_lip", "weeping"));
    let elsewhere = chair.at("lip_border", "pinpoint_bleeding");
    assert_eq!(elsewhere["stop"], false, "{elsewhere}");
    ends_the_session(&chair.at("lower_lip", "pinpoint_bleeding"));
    // Where nobody says where, it may be a second spot.
    let chair = lips("client-5");
    let bleeds = json!({ "signs": ["pinpoint_bleeding"] });
    assert_eq!(chair.sees(&bleeds)["stop"], false);
    ends_the_session(&chair.sees(&bleeds));
    let chair = lips("client-6");
    assert_eq!(chair.at("lower_lip", "pinpoint_bleeding")["stop"], false);
    ends_the_session(&chair.sees(&bleeds));
    ends_the_session(&lips("client-3").at("whole", "pinpoint_bleeding"));
}

/// What stopped the work is named where it stands, and a spot that nobody named is settled by being
/// recorded again with its place.
#[test]
fn what_was_recorded_before_is_told_as_that() {
    let running = Running::start();
    let lot = receive(&running, "0.30 3RS LOT T1 EXP 2036-01 STERILE EO", 9);
    let weeping = json!({ "signs": ["weeping"] });
    let at = |place: &str, sign: &str| json!({ "signs": [sign], "place": place });
    let bleeds = json!({ "signs": ["heavy_bleeding"] });
    for (n, (before, now, stop, says, not)) in [
        (vec![], weeping.clone(), true, "Where is it?", "recorded earlier"),
        (vec![&weeping], at("brow_tail", "weeping"), false, "Stop at this spot", "Where is it?"),
        (
            vec![&weeping],
            at("brow_front", "poor_uptake"),
            true,
            "without its place: weeping",
            "Stop here",
        ),
        (
            vec![&weeping, &at("brow_tail", "weeping")],
            at("brow_front", "poor_uptake"),
            false,
            "pale spot",
            "Stop",
        ),
        (
            vec![&weeping, &at("brow_tail", "weeping")],
            at("brow_front", "weeping"),
            true,
            "Stop for today.",
            "Where is it?",
        ),
        // A spot that is seen without its place may be another than the one before.
        (
            vec![&at("brow_tail", "weeping"), &weeping],
            at("brow_front", "poor_uptake"),
            true,
            "recorded earlier: weeping",
            "Stop here",
        ),
        (
            vec![&bleeds],
            at("brow_tail", "poor_uptake"),
            true,
            "recorded earlier: heavy bleeding",
            "Press on it",
        ),
        (vec![&bleeds], bleeds.clone(), true, "Press on it", "recorded earlier"),
    ]
    .into_iter()
    .enumerate()
    {
        let chair = AtTheChair::with(&running, &record(&lot, &format!("client-{n}")));
        for (m, body) in before.iter().enumerate() {
            // What is recorded in one moment is in no order of its own.
            running.set_clock(&format!("2027-03-16T08:{n:02}:{m:02}Z"));
            chair.sees(body);
        }
        let seen = chair.sees(&now);
        let steps = seen["steps"].to_string();
        assert_eq!(seen["stop"], stop, "{before:?} {now}: {seen}");
        assert!(steps.contains(says) && !steps.contains(not), "{before:?} {now}: {says}: {steps}");
    }
}

/// A stop is of the client's area on that day, on whichever record it was written down.
#[test]
fn a_stop_stands_on_every_record_of_the_session() {
    let running = Running::start();
    let lot = receive(&running, "0.30 3RS LOT T1 EXP 2036-01 STERILE EO", 9);
    let chair = AtTheChair::with(&running, &record(&lot, "client-1"));
    ends_the_session(&chair.sees(&json!({ "signs": ["heavy_bleeding"] })));
    let recorded = running.call(&record(&lot, "client-1")).json();
    assert!(recorded["flags"].to_string().contains("stopped_that_day"), "{recorded}");
    let again = AtTheChair::with(&running, &record(&lot, "client-1"));
    let seen = again.at("brow_tail", "pinpoint_bleeding");
    ends_the_session(&seen);
    assert!(seen["steps"].to_string().contains("recorded earlier: heavy bleeding"), "{seen}");
    // Neither of another client, nor of another area, nor of another day.
    let before = |client: &str, at: &str| {
        let mut body = record(&lot, client).json_body().expect("a body");
        body["performed_at"] = json!(at);
        Request::post("/v1/treatments", &body)
    };
    let at = record(&lot, "client-1").json_body().expect("a body")["performed_at"].clone();
    let at: jiff::Timestamp = at.as_str().expect("a moment").parse().expect("a moment");
    let hours = |hours: i64| (at - jiff::SignedDuration::from_hours(hours)).to_string();
    for (case, recorded, stop) in [
        ("another client", record(&lot, "client-2"), false),
        ("another area", recording(&lot, "client-1", ["lips", "soft_shading"]), false),
        // What is seen now is of now, whenever its record says that it was begun.
        ("seen now, on a record of two days before", before("client-1", &hours(48)), true),
        ("that morning", before("client-1", &hours(3)), true),
    ] {
        let chair = AtTheChair::with(&running, &recorded);
        let seen = chair.sees(&json!({ "signs": ["pinpoint_bleeding"] }));
        assert_eq!(seen["stop"], stop, "{case}: {seen}");
    }
}

/// A stop hangs on when it was seen and told, not on what its record says of its day.
#[test]
fn no_other_day_of_its_record_lifts_a_stop() {
    let running = Running::start();
    let lot = receive(&running, "0.30 3RS LOT T1 EXP 2036-01 STERILE EO", 9);
    let at = |client: &str, at: &str| {
        let mut body = record(&lot, client).json_body().expect("a body");
        body["performed_at"] = json!(at);
        Request::post("/v1/treatments", &body)
    };
    let bleeds = json!({ "signs": ["heavy_bleeding"] });
    let (now, moved) = ("2027-03-16T07:50:00Z", "2027-03-15T06:30:00Z");
    // Put right to the day before, or done then and told of today.
    let first = AtTheChair::with(&running, &at("client-1", "2027-03-16T07:30:00Z"));
    ends_the_session(&first.sees(&bleeds));
    let body = json!({ "reason": "mistyped", "values": { "performed_at": moved } });
    let amended = running.call(&Request::post(format!("{}/amendments", first.path), &body));
    assert_eq!(amended.status, 201, "{}", amended.text());
    ends_the_session(&AtTheChair::with(&running, &at("client-2", moved)).sees(&bleeds));
    for client in ["client-1", "client-2"] {
        let recorded = running.call(&at(client, now));
        assert!(recorded.text().contains("stopped_that_day"), "{client}: {}", recorded.text());
        let chair = AtTheChair::with(&running, &at(client, now));
        ends_the_session(&chair.at("brow_tail", "pinpoint_bleeding"));
    }
    ends_the_session(&first.at("brow_tail", "pinpoint_bleeding"));
    // It is over after a day.
    running.set_clock("2027-03-18T09:00:00Z");
    let later = "2027-03-18T08:30:00Z";
    let recorded = running.call(&at("client-2", later));
    assert!(!recorded.text().contains("stopped_that_day"), "{}", recorded.text());
    let chair = AtTheChair::with(&running, &at("client-2", later));
    assert_eq!(chair.at("brow_tail", "pinpoint_bleeding")["stop"], false);
}

/// What is seen is kept and answered also where no pack is left on the record; a pack that was struck
/// was not in use.
#[test]
fn a_stop_is_told_without_a_pack() {
    let running = Running::start();
    let lot = receive(&running, "0.30 3RS LOT T1 EXP 2036-01 STERILE EO", 9);
    let chair = AtTheChair::with(&running, &record(&lot, "client-1"));
    let struck = json!({ "reason": "another lot", "strike_packs": [0] });
    let struck = running.call(&Request::post(format!("{}/amendments", chair.path), &struck));
    assert_eq!(struck.status, 201, "{}", struck.text());
    let named = json!({ "signs": ["heavy_bleeding"], "pack": 0 });
    let refused = running.call(&Request::post(format!("{}/observations", chair.path), &named));
    assert_eq!(refused.status, 422, "{}", refused.text());
    assert_eq!(refused.json()["errors"][0]["pointer"], "#/pack", "{}", refused.text());
    let seen = chair.sees(&json!({ "signs": ["heavy_bleeding"] }));
    ends_the_session(&seen);
    assert!(seen.get("in_use").is_none(), "{seen}");
}

/// Advice is given now: no clock of a tablet goes round a stop.
#[test]
fn a_stop_stands_at_every_moment() {
    let running = Running::start();
    let lot = receive(&running, "0.30 3RS LOT T1 EXP 2036-01 STERILE EO", 9);
    let chair = AtTheChair::with(&running, &record(&lot, "client-1"));
    let stopped = chair.sees(&json!({ "signs": ["heavy_bleeding"] }));
    let at: jiff::Timestamp = stopped["at"].as_str().expect("a moment").parse().expect("a moment");
    let before = (at - jiff::SignedDuration::from_mins(10)).to_string();
    // The second lies before the treatment itself.
    for at in [before.as_str(), "2027-03-01T08:30:00Z"] {
        let body = json!({ "signs": ["pinpoint_bleeding"], "place": "brow_tail", "at": at });
        ends_the_session(&chair.sees(&body));
    }
}

/// An effect of another site is refused where a treatment is recorded or put right; where none is told,
/// nobody is kept from being told to stop.
#[test]
fn an_effect_of_another_site_is_refused_and_an_untold_one_hides_no_stop() {
    let running = Running::start();
    let lot = receive(&running, "0.30 3RS LOT T1 EXP 2036-01 STERILE EO", 9);
    let wrong = running.call(&recording(&lot, "client-1", ["scalp", "soft_shading"]));
    assert_eq!(wrong.status, 422, "{}", wrong.text());
    let wrong = wrong.json();
    assert_eq!(wrong["errors"][0]["pointer"], "#/effect", "{wrong}");
    assert!(wrong["errors"][0].to_string().contains("accepted: scalp_dots"), "{wrong}");
    let left = running.call(&Request::get(format!("/v1/lots/{lot}"))).json();
    assert_eq!(left["packs"], 9, "{left}");
    let chair = AtTheChair::with(&running, &record(&lot, "client-1"));
    let amended = json!({ "reason": "mistyped", "values": { "effect": "scalp_dots" } });
    let amend = Request::post(format!("{}/amendments", chair.path), &amended);
    let amended = running.call(&amend);
    assert_eq!(amended.status, 422, "{}", amended.text());
    assert_eq!(amended.json()["errors"][0]["pointer"], "#/values/effect", "{}", amended.text());
    // Where no effect was recorded it is asked, and no needle is named.
    let mut untold = record(&lot, "client-2").json_body().expect("a body");
    untold.as_object_mut().expect("an object").remove("effect");
    let chair = AtTheChair::with(&running, &Request::post("/v1/treatments", &untold));
    let seen = chair.at("brow_tail", "pinpoint_bleeding");
    assert!(seen["stop"] == false && !names_a_needle(&seen), "{seen}");
    assert!(seen.to_string().contains("Which effect is it?"), "{seen}");
    ends_the_session(&chair.sees(&json!({ "signs": ["heavy_bleeding"] })));
}

fn planted(folder: &Path) -> bool {
    let mut found = false;
    for entry in std::fs::read_dir(folder).expect("a folder").flatten() {
        let path = entry.path();
        found |= if path.is_dir() {
            planted(&path)
        } else {
            let bytes = std::fs::read(&path).unwrap_or_default();
            bytes.windows(PLANTED.len()).any(|window| window == PLANTED.as_bytes())
        };
    }
    found
}

fn etui(arguments: &[&str]) -> (bool, String) {
    let done = engine::command(PROGRAM, arguments).output().expect("the program runs");
    let text =
        String::from_utf8_lossy(&done.stdout).into_owned() + &String::from_utf8_lossy(&done.stderr);
    (done.status.success(), text)
}

/// Export, import, verify and erase on a folder with everything in it; what
/// was planted into health fields stands nowhere on the disk.
#[test]
fn the_folder_is_verified_moved_and_keeps_its_secrets() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let data = folder.path().join("data");
    let mut child = Child::spawn(PROGRAM, &data);
    let put = Request::put("/v1/clients/client-1", &json!({ "answers": { "pregnant": true } }));
    assert_eq!(child.call(&put).status, 201);
    let lot = json!({ "text": "0.30 3RS LOT A1 EXP 2036-01 STERILE EO", "packs": 5 });
    let lot = child.call(&Request::post("/v1/lots", &lot)).json();
    let mut treatment =
        record(lot["id"].as_str().expect("an id"), "client-1").json_body().expect("a body");
    treatment["performed_at"] = json!("2026-01-05T09:00:00Z");
    let treatment = child.call(&Request::post("/v1/treatments", &treatment));
    assert_eq!(treatment.status, 201, "{}", treatment.text());
    let id = treatment.json()["id"].as_str().expect("an id").to_owned();
    let note = json!({ "signs": ["weeping"], "note": PLANTED, "at": "2026-01-05T09:10:00Z" });
    let seen = child.call(&Request::post(format!("/v1/treatments/{id}/observations"), &note));
    assert_eq!(seen.status, 201, "{}", seen.text());
    child.terminate();
    assert!(child.wait(Duration::from_secs(10)).is_some());
    assert!(!planted(&data), "health data in the clear");

    let at = |path: &Path| path.display().to_string();
    let (from, dump, to) =
        (at(&data), at(&folder.path().join("dump.jsonl")), at(&folder.path().join("again")));
    let (sound, told) = etui(&["verify", "--data", &from]);
    assert!(sound, "{told}");
    let (done, told) = etui(&["export", "--data", &from, "--to", &dump]);
    assert!(done, "{told}");
    assert!(!planted(folder.path()), "health data in an export");
    let key = at(&data.join("studio-key"));
    let (done, told) = etui(&["import", "--from", &dump, "--data", &to, "--studio-key", &key]);
    assert!(done, "{told}");
    let (done, told) = etui(&["import", "--from", &dump, "--data", &to, "--studio-key", &key]);
    assert!(!done && told.contains("not empty"), "{told}");
    let (sound, told) = etui(&["verify", "--data", &to]);
    assert!(sound, "{told}");

    let child = Child::spawn(PROGRAM, &folder.path().join("again"));
    let read = child.call(&Request::get(format!("/v1/treatments/{id}")));
    assert!(read.text().contains(PLANTED), "{}", read.text());
    child.kill();
    let (done, told) = etui(&["erase", "--data", &to, "--client", "client-1"]);
    assert!(done, "{told}");
    let child = Child::spawn(PROGRAM, &folder.path().join("again"));
    assert_eq!(child.call(&Request::get("/v1/clients/client-1")).status, 404);
    assert_eq!(child.call(&Request::get(format!("/v1/treatments/{id}"))).status, 404);
    child.kill();
}
