//! Erasures, sweeps and new clients at the same time, and clients who come back.
//!
//! Whatever races: every client that was acknowledged can be read, every
//! erasure is done, and nothing that is asked about many fails for one.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use etui_tests::keep_alive::Connection;
use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

use crate::child::setting;

const PROGRAM: &str = env!("CARGO_BIN_EXE_etui_under_test");
const WRITERS: u64 = 16;
/// Past every period of what was put at the usual time of the tests.
const LATER: &str = "2031-06-01T08:00:00Z";

fn open(running: &Running) -> Connection {
    Connection::open(running.address(), running.token()).unwrap()
}

fn put(connection: &mut Connection, client: &str) {
    let body = json!({ "born_on": "1990-05-02", "answers": { "cold_sore_history": true } });
    let answer = connection.ask(&Request::put(format!("/v1/clients/{client}"), &body)).unwrap();
    assert_eq!(answer.status, 201, "{client}: {}", answer.text());
}

fn erase(connection: &mut Connection, client: &str) {
    let request = Request::new("DELETE", format!("/v1/clients/{client}")).header("If-Match", "*");
    let answer = connection.ask(&request).unwrap();
    assert_eq!(answer.status, 200, "{client}: {}", answer.text());
}

/// Sweeps until nothing is past its period; how many were removed.
fn sweep(connection: &mut Connection) -> u64 {
    let mut removed = 0;
    loop {
        let looked = connection.ask(&Request::get("/v1/retention")).unwrap().json();
        let order = json!({ "digest": looked["digest"] });
        let swept = connection.ask(&Request::post("/v1/retention-sweeps", &order)).unwrap();
        assert_eq!(swept.status, 200, "{}", swept.text());
        let swept = swept.json();
        for kind in swept["removed"].as_array().unwrap() {
            assert_eq!(kind.get("failed"), None, "{swept}");
            removed += kind["records"].as_u64().unwrap();
        }
        if swept["more"] == false {
            return removed;
        }
    }
}

/// 60 erasures and 60 clients past their period, or `ETUI_ERASURES` of each.
#[test]
fn erasures_beside_writers_and_a_sweep_cost_nobody_a_key() {
    let erasures = setting("ETUI_ERASURES", 60);
    let dir = tempfile::tempdir().unwrap();
    let running = Running::start_at(dir.path());
    in_parallel(&running, erasures, |connection, n| put(connection, &format!("old-{n}")));
    running.set_clock(LATER);
    in_parallel(&running, erasures, |connection, n| put(connection, &format!("gone-{n}")));
    let (done, written) = (AtomicBool::new(false), AtomicU64::new(0));
    let started = Instant::now();
    let (swept, counts) = std::thread::scope(|scope| {
        let (running, done, written) = (&running, &done, &written);
        // Whatever fails here, the writers come to their end.
        let _over = Over(done);
        let writers: Vec<_> = (0..WRITERS)
            .map(|writer| {
                scope.spawn(move || {
                    let (mut connection, mut count) = (open(running), 0);
                    while !done.load(Ordering::Relaxed) {
                        put(&mut connection, &format!("new-{writer}-{count}"));
                        count += 1;
                        written.fetch_add(1, Ordering::Relaxed);
                    }
                    count
                })
            })
            .collect();
        let sweeping = scope.spawn(move || sweep(&mut open(running)));
        let mut connection = open(running);
        (0..erasures).for_each(|n| erase(&mut connection, &format!("gone-{n}")));
        let swept = sweeping.join().unwrap();
        done.store(true, Ordering::Relaxed);
        (swept, writers.into_iter().map(|w| w.join().unwrap()).collect::<Vec<u64>>())
    });
    let took = started.elapsed();
    assert_eq!(swept, erasures, "what was past its period");
    for writer in 0..WRITERS {
        let mut connection = open(&running);
        for n in 0..counts[usize::try_from(writer).unwrap()] {
            let path = format!("/v1/clients/new-{writer}-{n}");
            let answer = connection.ask(&Request::get(path)).unwrap();
            assert_eq!(answer.status, 200, "new-{writer}-{n}: {}", answer.text());
        }
    }
    let mut connection = open(&running);
    for n in 0..erasures {
        for name in ["old", "gone"] {
            let path = format!("/v1/clients/{name}-{n}");
            assert_eq!(connection.ask(&Request::get(&path)).unwrap().status, 404, "{path}");
        }
    }
    running.stop();
    is_sound(dir.path());
    eprintln!(
        "{erasures} erasures and a sweep of {swept} beside {WRITERS} writers, {:.0} s: {} new \
         clients, 0 lost",
        took.as_secs_f64(),
        written.load(Ordering::Relaxed)
    );
}

/// Ends the writers when it goes.
struct Over<'a>(&'a AtomicBool);

impl Drop for Over<'_> {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// Does something so many times over a few connections.
fn in_parallel(running: &Running, count: u64, work: impl Fn(&mut Connection, u64) + Sync) {
    std::thread::scope(|scope| {
        for lane in 0..8 {
            let work = &work;
            scope.spawn(move || {
                let mut connection = open(running);
                (0..count).filter(|n| n % 8 == lane).for_each(|n| work(&mut connection, n));
            });
        }
    });
}

/// 20 clients who are erased and come back, or `ETUI_RETURNS`.
#[test]
fn clients_who_come_back_change_nothing_for_others() {
    let returns = setting("ETUI_RETURNS", 20);
    let dir = tempfile::tempdir().unwrap();
    let running = Running::start_at(dir.path());
    let lots: Vec<Value> = (0..8).map(|_| lot(&running)).collect();
    let live = |connection: &mut Connection, client: String| {
        put(connection, &client);
        let lane = client.bytes().last().map_or(0, usize::from) % lots.len();
        treat(connection, &client, &lots[lane]);
    };
    in_parallel(&running, returns, |connection, n| live(connection, format!("gone-{n}")));
    in_parallel(&running, returns, |connection, n| live(connection, format!("kept-{n}")));
    let before = about(&running, returns);
    let feed = running.call(&Request::post("/v1/calendars", &json!({ "of": "studio" }))).json();
    let mut connection = open(&running);
    for n in 0..returns {
        erase(&mut connection, &format!("gone-{n}"));
        put(&mut connection, &format!("gone-{n}"));
        // Every few, everything that is asked about many.
        if n % 10 == 0 || n + 1 == returns {
            for path in ["/v1/reminders?limit=200", "/v1/hand-profiles/artist-1"] {
                assert_eq!(connection.ask(&Request::get(path)).unwrap().status, 200, "{path}");
            }
            let path = feed["path"].as_str().unwrap();
            assert_eq!(Request::get(path).send(running.address()).status, 200);
        }
    }
    assert_eq!(about(&running, returns), before);
    let profile = running.call(&Request::get("/v1/hand-profiles/artist-1")).json();
    assert_eq!((&profile["results"], &profile["forgotten"]), (&json!(returns), &json!(returns)));
    running.set_clock("2027-03-17T12:00:00Z");
    let body = json!({ "limit": 200, "lease_seconds": 10 });
    let mut claimed = 0;
    loop {
        let claim = connection.ask(&Request::post("/v1/reminder-claims", &body)).unwrap();
        assert_eq!(claim.status, 201, "{}", claim.text());
        let claim = claim.json();
        let reminders = claim["reminders"].as_array().unwrap();
        let of = |one: &Value| one["client_ref"].as_str().unwrap_or_default().to_owned();
        assert!(reminders.iter().all(|one| of(one).starts_with("kept-")), "{claim}");
        claimed += reminders.len();
        if claim["more"] == false {
            break;
        }
    }
    assert!(usize::try_from(returns).unwrap() <= claimed, "{claimed} reminders were due");
    running.stop();
    is_sound(dir.path());
    eprintln!("{returns} clients erased and come back: {} answers as before", before.len());
}

fn lot(running: &Running) -> Value {
    let lot = json!({ "text": "0.30 3RS LOT Z1 EXP 2099-01", "packs": 900 });
    running.call(&Request::post("/v1/lots", &lot)).json()["id"].clone()
}

/// An old session that was reviewed, and one of today.
fn treat(connection: &mut Connection, client: &str, lot: &Value) {
    for (performed_at, reviewed) in
        [("2027-01-20T09:00:00Z", true), ("2027-03-16T07:00:00Z", false)]
    {
        let body = json!({
            "client_ref": client, "artist_ref": "artist-1", "treatment": "brows",
            "performed_at": performed_at, "packs": [{ "lot_id": lot, "intact": true }],
        });
        let made = loop {
            let made = connection.ask(&Request::post("/v1/treatments", &body)).unwrap();
            // Others take packs of the same lot at the same moment.
            if made.status != 409 {
                break made;
            }
        };
        assert_eq!(made.status, 201, "{}", made.text());
        if reviewed {
            let path = format!("/v1/treatments/{}/reviews", made.json()["id"].as_str().unwrap());
            let body = json!({ "zones": [{ "zone": "whole", "kept": "from_75" }] });
            let review = connection.ask(&Request::post(path, &body)).unwrap();
            assert_eq!(review.status, 201, "{}", review.text());
        }
    }
}

/// Everything that is answered about those who stay, by its path.
fn about(running: &Running, count: u64) -> BTreeMap<String, Vec<u8>> {
    let mut connection = open(running);
    let mut all = BTreeMap::new();
    for n in 0..count {
        let mut paths = vec![format!("/v1/clients/kept-{n}")];
        let list = format!("/v1/treatments?client_ref=kept-{n}");
        let listed = connection.ask(&Request::get(&list)).unwrap().json();
        for one in listed["items"].as_array().unwrap() {
            let id = one["id"].as_str().unwrap();
            paths.push(format!("/v1/treatments/{id}"));
            paths.push(format!("/v1/treatments/{id}/aftercare"));
            paths.push(format!("/v1/treatments/{id}/aftercare.ics"));
        }
        paths.push(list);
        for path in paths {
            let answer = connection.ask(&Request::get(&path)).unwrap();
            assert_eq!(answer.status, 200, "{path}: {}", answer.text());
            all.insert(path, answer.body);
        }
    }
    all
}

/// A walk over everything finds nothing; it can be exported, and backs itself up.
fn is_sound(folder: &Path) {
    let out = tempfile::tempdir().unwrap();
    let export = out.path().join("all.jsonl");
    for arguments in [vec!["verify"], vec!["export", "--to", export.to_str().unwrap()]] {
        let mut command = Command::new(PROGRAM);
        let done = command.args(&arguments).arg("--data").arg(folder).output().unwrap();
        let told = String::from_utf8_lossy(&done.stderr);
        assert!(done.status.success(), "{arguments:?}: {told}");
    }
    let running = Running::start_at_with(folder, |config| {
        config.backup.every = Duration::from_secs(24 * 60 * 60);
    });
    let started = Instant::now();
    let told = loop {
        let ready = running.call(&Request::get("/health/ready")).json();
        let backups = ready["checks"].as_array().unwrap().clone();
        let backups = backups.into_iter().find(|check| check["component"] == "backups").unwrap();
        if backups["output"].as_str().unwrap().contains("kept") {
            break ready;
        }
        assert!(started.elapsed() < Duration::from_secs(120), "no backup was made: {backups}");
        std::thread::sleep(Duration::from_millis(50));
    };
    for check in told["checks"].as_array().unwrap() {
        if matches!(check["component"].as_str(), Some("keys" | "backups" | "store")) {
            assert_eq!(check["status"], "pass", "{told}");
        }
    }
}
