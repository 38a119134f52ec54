//! A client who was forgotten, by an erasure or by a sweep, and comes back
//! under the same reference. What was sealed before stays erased; what is
//! answered about everybody else stays as it was, to the byte.

use etui_tests::engine;
use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

const PERFORMED: &str = "2027-01-20T09:00:00Z";

/// Everything that can be kept of one client; the ids of treatment and check.
fn live(running: &Running, lot: &Value, client: &str) -> (String, String) {
    let put = Request::put(format!("/v1/clients/{client}"), &json!({ "born_on": "1990-05-02" }));
    assert_eq!(running.call(&put).status, 201, "{client}");
    let check = json!({
        "booking_ref": format!("booking-{client}"), "client_ref": client, "treatment": "brows",
        "effect": "soft_shading", "starts_at": "2027-04-03T09:00:00Z",
    });
    let check = running.call(&Request::post("/v1/appointment-checks", &check));
    assert_eq!(check.status, 201, "{}", check.text());
    let mut made = Vec::new();
    for performed_at in [PERFORMED, "2027-03-16T07:00:00Z"] {
        let body = json!({
            "client_ref": client, "artist_ref": "artist-1", "treatment": "brows",
            "effect": "soft_shading", "performed_at": performed_at,
            "packs": [{ "lot_id": lot, "intact": true }],
        });
        let treatment = running.call(&Request::post("/v1/treatments", &body));
        assert_eq!(treatment.status, 201, "{}", treatment.text());
        made.push(treatment.json()["id"].as_str().expect("an id").to_owned());
    }
    let treatment = made.swap_remove(0);
    for (of, body) in [
        ("observations", json!({ "signs": ["weeping"], "at": "2027-01-20T09:10:00Z" })),
        ("symptom-reports", json!({ "symptoms": [{ "kind": "swelling" }] })),
        ("reviews", json!({ "zones": [{ "zone": "whole", "kept": "from_75" }] })),
        ("amendments", json!({ "reason": "a slip", "values": { "worked": { "hand": "heavy" } } })),
    ] {
        let path = format!("/v1/treatments/{treatment}/{of}");
        let answer = running.call(&Request::post(path, &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
    }
    let check = check.json()["id"].as_str().expect("an id").to_owned();
    (treatment, check)
}

fn lot(running: &Running) -> Value {
    let lot = json!({ "text": "0.30 3RS LOT Z1 EXP 2036-01", "packs": 900, "maker": "north" });
    running.call(&Request::post("/v1/lots", &lot)).json()["id"].clone()
}

/// What is read of one client alone.
fn own(client: &str, (treatment, check): &(String, String)) -> Vec<String> {
    vec![
        format!("/v1/treatments/{treatment}"),
        format!("/v1/treatments/{treatment}/aftercare"),
        format!("/v1/treatments/{treatment}/aftercare.ics"),
        format!("/v1/appointment-checks/{check}"),
        format!("/v1/clients/{client}"),
    ]
}

/// What is answered about others, with what is told of `gone` taken out.
fn of_others(running: &Running, paths: &[String], gone: &str) -> Vec<Value> {
    let mut seen = Vec::new();
    for path in paths {
        let answer = running.call(&Request::get(path));
        assert_eq!(answer.status, 200, "{path}: {}", answer.text());
        let mut told = match answer.media() {
            "text/calendar" => json!(answer.text()),
            _ => answer.json(),
        };
        if let Some(items) = told.get_mut("items").and_then(Value::as_array_mut) {
            items.retain(|item| item["client_ref"] != gone);
        }
        if let Some(made_at) = told.get_mut("made_at") {
            *made_at = Value::Null;
        }
        seen.push(told);
    }
    seen
}

fn profile(running: &Running) -> (Value, Value) {
    let told = running.call(&Request::get("/v1/hand-profiles/artist-1"));
    assert_eq!(told.status, 200, "{}", told.text());
    (told.json()["results"].clone(), told.json()["forgotten"].clone())
}

fn claimed(running: &Running) -> Vec<Value> {
    let body = json!({ "limit": 200, "lease_seconds": 10 });
    let claim = running.call(&Request::post("/v1/reminder-claims", &body));
    assert_eq!(claim.status, 201, "{}", claim.text());
    let claimed = claim.json()["reminders"].as_array().expect("reminders").clone();
    assert!(claimed.iter().all(|one| one["client_ref"] != "anna"), "{}", claim.text());
    claimed
}

/// Everything that is asked about many at once goes on, and tells nothing of
/// what was forgotten.
fn others_go_on(running: &Running, paths: &[String], before: &[Value], feed: &str) {
    assert_eq!(of_others(running, paths, "anna"), before);
    let calendar = Request::get(feed).send(running.address());
    assert_eq!(calendar.status, 200, "{}", calendar.text());
    assert!(calendar.text().contains("BEGIN:VEVENT"), "{}", calendar.text());
    let pack =
        json!({ "pack": { "tighten": [{ "rule": "cold_sore_history", "verdict": "decline" }] } });
    let dry = running.call(&Request::post("/v1/packs/rules/strict/dry-runs", &pack));
    assert_eq!(dry.status, 200, "{}", dry.text());
    let list = running.call(&Request::get("/v1/reminders?limit=200"));
    assert_eq!(list.status, 200, "{}", list.text());
    let ready = running.call(&Request::get("/health/ready")).json();
    let keys = ready["checks"].as_array().into_iter().flatten();
    let keys: Vec<&Value> = keys.filter(|check| check["component"] == "keys").collect();
    assert_eq!(keys[0]["status"], "pass", "{ready}");
}

/// The ways in which a key for a forgotten client comes to be again.
fn come_back(running: &Running, way: usize, lot: &Value) {
    let answer = match way {
        0 => {
            let body = json!({ "born_on": "1990-05-02" });
            running.call(&Request::put("/v1/clients/anna", &body))
        }
        1 => {
            let body = json!({
                "client_ref": "anna", "artist_ref": "artist-1", "treatment": "brows",
                "performed_at": "2027-03-16T07:30:00Z", "packs": [{ "lot_id": lot, "intact": true }],
            });
            running.call(&Request::post("/v1/treatments", &body))
        }
        _ => {
            let body = json!({
                "booking_ref": "booking-anna", "client_ref": "anna", "treatment": "brows",
                "effect": "soft_shading", "starts_at": "2027-04-20T09:00:00Z", "born_on": "1990-05-02",
            });
            running.call(&Request::post("/v1/appointment-checks", &body))
        }
    };
    assert_eq!(answer.status, 201, "way {way}: {}", answer.text());
}

#[test]
fn whoever_comes_back_after_an_erasure_changes_nothing_for_others() {
    for way in 0..3 {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let running = Running::start_at(folder.path());
        let lot = lot(&running);
        let berta = live(&running, &lot, "berta");
        let anna = live(&running, &lot, "anna");
        let mut paths = own("berta", &berta);
        paths.push("/v1/clients/berta/dossier".to_owned());
        paths.push("/v1/treatments?client_ref=berta".to_owned());
        paths.push("/v1/reminders?limit=200".to_owned());
        let before = of_others(&running, &paths, "anna");
        let feed = running.call(&Request::post("/v1/calendars", &json!({ "of": "studio" }))).json();
        let feed = feed["path"].as_str().expect("a path").to_owned();
        assert_eq!(profile(&running), (json!(2), json!(0)));

        let erase = Request::new("DELETE", "/v1/clients/anna").header("If-Match", "*");
        assert_eq!(running.call(&erase).status, 200);
        let erased = of_others(&running, &paths, "anna");
        assert_eq!(erased, before);
        come_back(&running, way, &lot);
        others_go_on(&running, &paths, &before, &feed);
        assert_eq!(profile(&running), (json!(1), json!(1)));
        // Of what was erased nothing is there but the trace.
        for path in own("anna", &anna).iter().filter(|path| !path.contains("clients")) {
            assert_eq!(running.call(&Request::get(path)).status, 404, "way {way}: {path}");
        }
        let replay = format!("/v1/appointment-checks/{}/replays", anna.1);
        assert_eq!(running.call(&Request::new("POST", replay)).status, 404);
        let more = format!("/v1/treatments/{}/observations", anna.0);
        let seen = json!({ "signs": ["weeping"] });
        assert_eq!(running.call(&Request::post(more, &seen)).status, 404);
        let dossier = running.call(&Request::get("/v1/clients/anna/dossier"));
        assert_eq!(dossier.status, 200, "{}", dossier.text());
        let dossier = dossier.json();
        let count = |of: &str| dossier[of].as_array().map_or(0, Vec::len);
        assert_eq!(
            (dossier.get("client").is_some(), count("treatments"), count("checks")),
            [(true, 0, 0), (false, 1, 0), (false, 0, 1)][way],
            "way {way}"
        );
        // She is treated like anybody else from then on.
        come_back(&running, 2, &lot);
        come_back(&running, 1, &lot);
        running.set_clock("2027-03-24T12:00:00Z");
        assert!(running.call(&Request::get("/v1/treatments?client_ref=anna")).status == 200);
        let mine = running.call(&Request::post(
            "/v1/reminder-claims",
            &json!({ "limit": 200, "lease_seconds": 10 }),
        ));
        assert_eq!(mine.status, 201, "{}", mine.text());
        let of = |who: &str| {
            let all = mine.json()["reminders"].as_array().cloned().unwrap_or_default();
            all.iter().filter(|one| one["client_ref"] == who).count()
        };
        assert!(0 < of("berta") && 0 < of("anna"), "{}", mine.text());
        let exposures = running.call(&Request::get("/v1/exposures?lot=Z1")).json();
        assert_eq!(exposures["clients"], json!(["anna", "berta"]), "the trace stays");
        running.stop();
        sound(folder.path());
    }
}

/// A sweep is an erasure of those whose time is over.
#[test]
fn whoever_comes_back_after_a_sweep_changes_nothing_for_others() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let running = Running::start_at(folder.path());
    let lot = lot(&running);
    let anna = live(&running, &lot, "anna");
    running.set_clock("2030-04-01T08:00:00Z");
    let body = json!({
        "client_ref": "berta", "artist_ref": "artist-1", "treatment": "brows",
        "performed_at": "2030-04-01T07:00:00Z", "packs": [{ "lot_id": lot, "intact": true }],
    });
    assert_eq!(running.call(&Request::post("/v1/treatments", &body)).status, 201);
    running.set_clock("2030-04-04T08:00:00Z");
    let looked = running.call(&Request::get("/v1/retention")).json();
    let order = json!({ "digest": looked["digest"] });
    let swept = running.call(&Request::post("/v1/retention-sweeps", &order));
    assert_eq!(swept.status, 200, "{}", swept.text());
    let health = swept.json()["removed"].as_array().expect("kinds").clone();
    let health: Vec<&Value> = health.iter().filter(|one| one["kind"] == "health").collect();
    assert_eq!(
        (&health[0]["records"], health[0].get("failed")),
        (&json!(1), None),
        "{}",
        swept.text()
    );
    let put = Request::put("/v1/clients/anna", &json!({ "born_on": "1990-05-02" }));
    assert_eq!(running.call(&put).status, 201);
    let feed = running.call(&Request::post("/v1/calendars", &json!({ "of": "studio" }))).json();
    others_go_on(&running, &[], &[], feed["path"].as_str().expect("a path"));
    assert!(!claimed(&running).is_empty(), "berta's messages are due");
    assert_eq!(profile(&running), (json!(0), json!(1)));
    for path in own("anna", &anna).iter().filter(|path| path.contains("treatments")) {
        assert_eq!(running.call(&Request::get(path)).status, 404, "{path}");
    }
    let dossier = running.call(&Request::get("/v1/clients/anna/dossier"));
    assert_eq!(dossier.status, 200, "{}", dossier.text());
    running.stop();
    sound(folder.path());
}

/// A backup from before an erasure, restored, and the client comes back: the
/// same as on the store itself.
#[test]
fn whoever_comes_back_to_a_restored_store_changes_nothing_for_others() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let data = folder.path().join("data");
    let running = Running::start_at(&data);
    let lot = lot(&running);
    let berta = live(&running, &lot, "berta");
    let anna = live(&running, &lot, "anna");
    running.stop();
    let every = |config: &mut etui_service::config::Config| {
        config.backup.every = std::time::Duration::from_secs(86_400);
    };
    let running = Running::start_at_with(&data, every);
    let started = std::time::Instant::now();
    let backup = loop {
        let found = std::fs::read_dir(data.join("backups")).into_iter().flatten().flatten();
        let mut found = found.map(|entry| entry.path());
        if let Some(made) = found.find(|path| path.extension().is_some_and(|e| e == "backup")) {
            break made;
        }
        assert!(started.elapsed().as_secs() < 60, "no backup was made");
        std::thread::sleep(std::time::Duration::from_millis(20));
    };
    let erase = Request::new("DELETE", "/v1/clients/anna").header("If-Match", "*");
    let receipt = running.call(&erase);
    assert_eq!(receipt.json()["backups"].as_array().map(Vec::len), Some(1), "{}", receipt.text());
    running.stop();
    let again = folder.path().join("again");
    let key = data.join("studio-key");
    etui(&[
        "restore",
        "--from",
        &backup.display().to_string(),
        "--data",
        &again.display().to_string(),
        "--studio-key",
        &key.display().to_string(),
    ]);
    sound(&again);
    let running = Running::start_at(&again);
    for path in own("anna", &anna) {
        assert_eq!(running.call(&Request::get(&path)).status, 404, "{path}");
    }
    for path in own("berta", &berta) {
        assert_eq!(running.call(&Request::get(&path)).status, 200, "{path}");
    }
    come_back(&running, 2, &lot);
    come_back(&running, 0, &lot);
    let feed = running.call(&Request::post("/v1/calendars", &json!({ "of": "studio" }))).json();
    others_go_on(&running, &[], &[], feed["path"].as_str().expect("a path"));
    assert_eq!(running.call(&Request::get(format!("/v1/treatments/{}", anna.0))).status, 404);
    running.stop();
    sound(&again);
}

fn sound(folder: &std::path::Path) {
    let told = etui(&["verify", "--data", &folder.display().to_string()]);
    assert_eq!(told["sound"], true, "{told}");
}

fn etui(arguments: &[&str]) -> Value {
    let program = env!("CARGO_BIN_EXE_etui_under_test");
    let done = engine::command(program, arguments).output();
    let done = done.expect("the program runs");
    let told = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "{arguments:?}: {told}");
    serde_json::from_slice(&done.stdout).expect("a line of JSON")
}
