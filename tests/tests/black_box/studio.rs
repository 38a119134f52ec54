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
    ] {
        let answer = with(packs.clone());
        assert_eq!(answer.status, 422, "{packs}: {}", answer.text());
        assert_eq!(answer.json()["errors"][0]["pointer"], pointer, "{}", answer.text());
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

/// A stop stands for every place it was told of, whatever the clock of the tablet says.
#[test]
fn a_stop_stands_in_every_place_and_at_every_moment() {
    let running = Running::start();
    let lot = receive(&running, "0.30 3RS LOT T1 EXP 2036-01 STERILE EO", 9);
    let of_new = |client: &str| {
        let treatment = running.call(&record(&lot, client)).json();
        format!("/v1/treatments/{}/observations", treatment["id"].as_str().expect("an id"))
    };
    let see = |path: &str, body: Value| {
        let seen = running.call(&Request::post(path, &body));
        assert_eq!(seen.status, 201, "{}", seen.text());
        seen.json()
    };
    let stops = |seen: &Value| {
        assert_eq!((&seen["stop"], &seen["stop_scope"]), (&json!(true), &json!("session")));
        let steps = seen["steps"].as_array().expect("steps");
        assert!(steps.iter().all(|step| step.get("configuration").is_none()), "{seen}");
    };
    let tail = || json!({ "signs": ["pinpoint_bleeding"], "place": "brow_tail" });
    // The whole area, then a part of it.
    let path = of_new("client-1");
    stops(&see(&path, json!({ "signs": ["weeping"], "place": "whole" })));
    stops(&see(&path, tail()));
    // A part, then the whole.
    let path = of_new("client-2");
    see(&path, json!({ "signs": ["weeping"], "place": "brow_tail" }));
    stops(&see(&path, json!({ "signs": ["pinpoint_bleeding"], "place": "whole" })));
    // What ended one spot shows at another.
    let path = of_new("client-3");
    assert_eq!(see(&path, json!({ "signs": ["weeping"], "place": "brow_tail" }))["stop"], false);
    stops(&see(&path, json!({ "signs": ["weeping"], "place": "brow_front" })));
    // Told with a moment before the stop.
    let path = of_new("client-4");
    let stopped = see(&path, json!({ "signs": ["heavy_bleeding"] }));
    let at: jiff::Timestamp = stopped["at"].as_str().expect("a moment").parse().expect("a moment");
    let before = at - jiff::SignedDuration::from_mins(10);
    let body = json!({ "signs": ["pinpoint_bleeding"], "place": "brow_tail", "at": before });
    stops(&see(&path, body));
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
