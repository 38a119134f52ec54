//! The service under bad luck: a clock that leaps, a restore, damage, a crowd
//! at one lot, long work beside short, a log that nobody reads.
//!
//! How far a clock is believed and how long it must stand are our own choice
//! (no source); the tests stay well on either side of them.

use std::path::Path;
use std::time::{Duration, Instant};

use etui_schema::problem::{ErrorCode, FaultCode};
use etui_schema::reminders::ReminderState;
use etui_schema::service::{Clock, ClockDoubtKind, Health, HealthStatus};
use etui_tests::child::Child;
use etui_tests::engine;
use etui_tests::happenings::{page, put_client};
use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

use crate::reminders::House;

const PROGRAM: &str = env!("CARGO_BIN_EXE_etui_under_test");

fn doubt(running: &Running) -> Option<ClockDoubtKind> {
    let clock: Clock = running.call(&Request::get("/v1/clock")).read();
    clock.doubt.and_then(|doubt| doubt.kind.known())
}

fn try_to_claim(running: &Running) -> Answer {
    let body = json!({ "limit": 200, "lease_seconds": 3600 });
    running.call(&Request::post("/v1/reminder-claims", &body))
}

fn confirm(running: &Running, now: &str) -> Answer {
    running.call(&Request::post("/v1/clock-confirmations", &json!({ "now": now })))
}

/// One wrong minute, three years ahead: nothing is closed by it.
#[test]
fn a_minute_of_a_wrong_clock_overtakes_nothing() {
    let house = House::open();
    house.treat("c-1", "lips", "2027-03-16T07:00:00Z");
    let scheduled = house.count(ReminderState::Scheduled);
    let keyed = Request::put("/v1/clients/c-9", &json!({ "answers": {} }));
    assert_eq!(house.running.call(&keyed).status, 201);

    house.running.leap_clock("2030-03-16T08:00:00Z");
    assert_eq!(doubt(&house.running), Some(ClockDoubtKind::Ahead));
    let held = try_to_claim(&house.running);
    assert_eq!(held.status, 503, "{}", held.text());
    assert!(held.problem().detail.contains("clock"), "{}", held.text());
    let ready = house.running.call(&Request::get("/health/ready"));
    let health: Health = ready.read();
    assert_eq!((ready.status, health.status), (200, HealthStatus::Warn.into()));
    let digest = house.running.call(&Request::get("/v1/retention")).json()["digest"].clone();
    let sweep = Request::post("/v1/retention-sweeps", &json!({ "digest": digest }));
    assert_eq!(house.running.call(&sweep).status, 503);

    house.running.leap_clock("2027-03-16T08:01:00Z");
    assert_eq!(doubt(&house.running), None);
    assert_eq!(house.count(ReminderState::Scheduled), scheduled);
    assert_eq!(house.count(ReminderState::Overtaken), 0);
    assert!(!house.claim(200, 600).reminders.is_empty());
}

/// Whoever says that the leap is right has to have looked.
#[test]
fn an_owner_says_that_the_clock_is_right() {
    let house = House::open();
    house.treat("c-1", "lips", "2027-03-16T07:00:00Z");
    house.running.leap_clock("2030-03-16T08:00:00Z");
    assert_eq!(doubt(&house.running), Some(ClockDoubtKind::Ahead));
    let wrong = confirm(&house.running, "2027-03-16T08:00:00Z");
    assert_eq!(wrong.status, 422, "{}", wrong.text());
    assert_eq!(wrong.problem().errors[0].pointer, "#/now");
    let right = confirm(&house.running, "2030-03-16T09:05:00+01:00");
    assert_eq!(right.status, 200, "{}", right.text());
    assert_eq!(doubt(&house.running), None);
    let claim = house.claim(200, 600);
    assert!(0 < claim.overtaken && claim.reminders.is_empty(), "{claim:?}");
}

/// A clock that has stood for an hour is believed without anybody's word.
#[test]
fn a_clock_that_stands_is_believed() {
    let house = House::open();
    house.running.leap_clock("2030-03-16T08:00:00Z");
    assert!(doubt(&house.running).is_some());
    house.running.set_clock("2030-03-16T08:50:00Z");
    assert!(doubt(&house.running).is_some());
    house.running.set_clock("2030-03-16T09:01:00Z");
    assert_eq!(doubt(&house.running), None);
}

/// A service that starts with a dead battery: what has expired by the records
/// has expired.
#[test]
fn packs_are_not_younger_than_the_records() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let running = Running::start_at(folder.path());
    put_client(&running, "c-1");
    running.stop();
    let running = Running::start_when(folder.path(), "2019-01-01T00:00:00Z");
    assert_eq!(doubt(&running), Some(ClockDoubtKind::Behind));
    let body = json!({ "labels": [{ "text": "0.30 3RL LOT A1 EXP 2021-05-31 STERILE EO" }] });
    let read = running.call(&Request::post("/v1/label-readings", &body)).json();
    assert_eq!(read["readings"][0]["fitness"]["usable"], false, "{read}");
    assert_eq!(try_to_claim(&running).status, 503);
}

/// A lease that a clock ran ahead for ends with its own length.
#[test]
fn leases_of_a_wrong_minute_do_not_last() {
    let house = House::open();
    house.treat("c-1", "lips", "2027-03-16T07:00:00Z");
    // Not far enough to be doubted.
    house.running.leap_clock("2027-03-18T08:00:00Z");
    let first = house.claim(200, 3600);
    assert!(!first.reminders.is_empty());
    house.running.leap_clock("2027-03-16T08:05:00Z");
    confirm(&house.running, "2027-03-16T08:05:00Z");
    let second = house.claim(200, 600);
    assert!(!second.reminders.is_empty());
    assert!(second.reminders.iter().all(|reminder| reminder.maybe_sent), "{second:?}");
}

pub(crate) fn etui(arguments: &[&str]) -> Value {
    let done = engine::command(PROGRAM, arguments).output().expect("the program runs");
    assert!(done.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
    serde_json::from_slice(&done.stdout).expect("one JSON line")
}

fn head(running: &Running) -> u64 {
    let mut after = 0;
    loop {
        let next = page(running, after, 200);
        after = next.next_after.0;
        if !next.more {
            return after;
        }
    }
}

/// Saved, worked on, lost, restored: what a consumer of events, a script that
/// sends messages and a calendar see of it.
#[test]
fn after_a_restore_everybody_is_told() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let data = folder.path().join("data");
    let at = |path: &Path| path.display().to_string();
    let dump = folder.path().join("saved.jsonl");
    let key = folder.path().join("key-kept-elsewhere");

    let house = House::with(Running::start_at(&data));
    house.treat("c-1", "lips", "2027-03-16T07:00:00Z");
    let calendar = Request::post("/v1/calendars", &json!({ "of": "studio" }));
    let calendar = house.running.call(&calendar);
    assert_eq!(calendar.status, 201, "{}", calendar.text());
    let calendar = calendar.json()["path"].as_str().expect("a path").to_owned();
    let saved = head(&house.running);
    house.running.stop();
    std::fs::copy(data.join("studio-key"), &key).expect("the key can be copied");
    etui(&["export", "--data", &at(&data), "--to", &at(&dump)]);
    let mut again = engine::command(PROGRAM, &["export", "--data", &at(&data), "--to", &at(&dump)]);
    let again = again.output().expect("the program runs");
    assert!(!again.status.success(), "an export replaced another");

    let running = Running::start_at(&data);
    for name in ["c-2", "c-3", "c-4"] {
        put_client(&running, name);
    }
    let sent = try_to_claim(&running).json()["reminders"].as_array().map_or(0, Vec::len);
    assert!(0 < sent);
    let lost = head(&running);
    assert!(saved < lost);
    running.stop();
    std::fs::remove_dir_all(&data).expect("the folder can be lost");

    etui(&["import", "--from", &at(&dump), "--data", &at(&data), "--studio-key", &at(&key)]);
    let house = House { running: Running::start_at(&data), lot_id: house.lot_id };
    let running = &house.running;
    // Who had read what was lost is told, whichever way it asks.
    let pulled = running.call(&Request::get(format!("/v1/events?after={lost}")));
    let streamed = Request::get("/v1/events/stream?for_seconds=1");
    let streamed = running.call(&streamed.header("Last-Event-ID", lost.to_string()));
    for gone in [pulled, streamed] {
        assert_eq!(gone.status, 410, "{}", gone.text());
        assert_eq!(gone.problem().code, ErrorCode::SequenceGone);
        let way = format!("after={saved:018}");
        assert!(gone.problem().detail.contains(&way), "{}", gone.text());
    }
    let beyond = running.call(&Request::get("/v1/events?after=999999999999999999"));
    assert_eq!(beyond.status, 410, "{}", beyond.text());
    // Who goes on from there sees what happens from now on, under numbers nobody has seen.
    put_client(running, "c-5");
    let told = page(running, saved, 100).items;
    assert!(!told.is_empty() && told.iter().all(|event| lost < event.sequence.0), "{told:?}");
    assert_eq!(running.call(&Request::get(calendar)).status, 200);
    // The script that sends is told that it may have sent.
    let claim = house.claim(200, 600);
    assert_eq!(claim.reminders.len(), sent);
    assert!(claim.reminders.iter().all(|reminder| reminder.maybe_sent), "{claim:?}");
    // What falls due after the restore was sent by nobody.
    house.running.set_clock("2027-03-17T12:00:00Z");
    let later = house.claim(200, 600).reminders;
    assert!(later.iter().any(|reminder| !reminder.maybe_sent), "{later:?}");
    // Only the first start after the restore counts anew.
    let before = head(&house.running);
    house.running.stop();
    let running = Running::start_when(&data, "2027-03-17T12:05:00Z");
    assert!(head(&running) < before + 10_000);
}

/// Flipped bytes in the log: every call is answered, and with the way back.
#[test]
fn a_damaged_store_says_so_to_everybody() {
    if !engine::lies_in_folder("a damaged store") {
        return;
    }
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut child = Child::spawn(PROGRAM, folder.path());
    assert_eq!(child.call(&Request::put("/v1/clients/c-1", &json!({}))).status, 201);
    child.terminate();
    assert!(child.wait(Duration::from_secs(10)).is_some());
    let log = folder.path().join("store/db");
    let mut bytes = std::fs::read(&log).expect("the log of the store");
    let middle = bytes.len() / 2;
    for byte in &mut bytes[middle..middle + 64] {
        *byte ^= 0x5a;
    }
    std::fs::write(&log, bytes).expect("the log can be written");

    let mut child = Child::spawn(PROGRAM, folder.path());
    assert_eq!(child.call(&Request::get("/health/live")).status, 200);
    let ready = child.call(&Request::get("/health/ready"));
    assert_eq!(ready.status, 503);
    assert_eq!(ready.read::<Health>().status, HealthStatus::Fail);
    for request in [
        Request::get("/v1/clients/c-1"),
        Request::post("/v1/label-readings", &json!({ "labels": [{ "text": "0.30 3RL" }] })),
        Request::put("/v1/clients/c-2", &json!({})),
    ] {
        let answer = child.call(&request);
        assert_eq!(answer.status, 503, "{}", answer.text());
        assert!(answer.problem().detail.contains("etui restore"), "{}", answer.text());
    }
    child.terminate();
    assert!(child.wait(Duration::from_secs(10)).is_some());
}

/// Sixteen artists reach for one lot that has packs for all of them.
#[test]
fn a_crowd_at_one_lot_waits_in_turn() {
    const EACH: usize = 6;
    let house = House::open();
    std::thread::scope(|scope| {
        for artist in 0..16 {
            let house = &house;
            scope.spawn(move || {
                for n in 0..EACH {
                    house.treat(&format!("c-{artist}-{n}"), "lips", "2027-03-16T07:00:00Z");
                }
            });
        }
    });
    let lot = house.running.call(&Request::get(format!("/v1/lots/{}", house.lot_id))).json();
    assert_eq!(lot["packs"], json!(1000 - 16 * EACH), "{lot}");
}

/// How long somebody waits who only asks whether it lives.
const AT_ONCE: Duration = Duration::from_millis(100);
/// Bytes of the longest body of labels, with room for what stands around them.
const LONGEST_BODY: usize = 1024 * 1024 - 64;
/// The longest that a single one waits. A body is taken apart on the thread that it comes to, so that
/// of eight at once four stand before whoever asks next: some milliseconds each, and half a second
/// each where nothing is optimised and the tests beside this one share the cores.
const EVER: Duration = if cfg!(debug_assertions) { Duration::from_secs(5) } else { AT_ONCE };

/// The longest batches at once, labels and symbols, beside a caller who only asks whether it lives.
#[test]
fn long_work_keeps_nobody_waiting() {
    let running = Running::start();
    let label = format!("0.30 3RL LOT {} EXP 2030-01-31 STERILE R", "A1B2 ".repeat(195));
    let symbol = format!("]d2{}", "10A\u{1d}".repeat(1023));
    for (what, one) in
        [("labels", json!({ "text": label })), ("symbols", json!({ "symbol": symbol }))]
    {
        // As many as the service takes, in a body as long as it takes.
        let most = (LONGEST_BODY / (one.to_string().len() + 1)).min(1000);
        let body = json!({ "labels": vec![one; most] });
        let (worked, mut waits) = waits_beside_eight(&running, &body);
        waits.sort_unstable();
        let (median, longest) = (waits[waits.len() / 2], waits[waits.len() - 1]);
        println!(
            "8 batches of {what} in {worked:?}; /health/live asked {} times, {median:?} in the \
             middle, at most {longest:?}",
            waits.len()
        );
        assert!(median < AT_ONCE, "{what}: {median:?} of {worked:?}");
        assert!(longest < EVER, "{what}: {longest:?} of {worked:?}");
    }
}

/// Eight batches at once: how long the last of them took, and each who asked beside them.
fn waits_beside_eight(running: &Running, body: &Value) -> (Duration, Vec<Duration>) {
    let mut waits = Vec::new();
    let worked = std::thread::scope(|scope| {
        let work = |_: usize| {
            scope.spawn(move || {
                let began = Instant::now();
                let answer = running.call(&Request::post("/v1/label-readings", body));
                assert_eq!(answer.status, 200, "{}", answer.text());
                began.elapsed()
            })
        };
        let working: Vec<_> = (0..8).map(work).collect();
        while working.iter().any(|one| !one.is_finished()) {
            let began = Instant::now();
            assert_eq!(running.call(&Request::get("/health/live")).status, 200);
            waits.push(began.elapsed());
            std::thread::sleep(Duration::from_millis(5));
        }
        working.into_iter().map(|one| one.join().expect("an answer")).max().unwrap_or_default()
    });
    (worked, waits)
}

/// A pipe that is full stops the log and not the service.
#[test]
fn a_log_that_nobody_reads_stops_nothing() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut child = Child::spawn_unread(PROGRAM, folder.path());
    let body = json!({ "labels": [{ "text": "0.30 3RL" }] });
    for n in 0..1500 {
        let answer = child.call(&Request::post("/v1/label-readings", &body));
        assert_eq!(answer.status, 200, "call {n}");
    }
    child.terminate();
    assert!(child.wait(Duration::from_secs(10)).is_some(), "it did not stop");
}

#[test]
fn an_answer_about_health_is_given_once() {
    let running = Running::shared();
    let body = r#"{"treatment":"lips","born_on":"1990-05-02","on":"2027-03-20",
        "answers":{"pregnant":true,"pregnant":false}}"#;
    let answer =
        running.call(&Request::new("POST", "/v1/skin-assessments").bytes("application/json", body));
    assert_eq!(answer.status, 422, "{}", answer.text());
    let fault = &answer.problem().errors[0];
    let found = (fault.pointer.as_str(), fault.code.known());
    assert_eq!(found, ("#/answers/pregnant", Some(FaultCode::Duplicate)));
}

/// What is refused does not come back in the refusal.
#[test]
fn refusals_do_not_repeat_what_was_said_of_a_client() {
    let running = Running::shared();
    let visit = |more: Value| {
        let mut body = json!({
            "treatment": "lips", "born_on": "1990-05-02", "on": "2027-03-20", "answers": {},
        });
        for (name, value) in more.as_object().expect("an object") {
            body[name] = value.clone();
        }
        body
    };
    let report = |more: Value| {
        json!({
            "treatment": "lips", "performed_at": "2027-03-10T09:00:00Z", "symptoms": [more],
        })
    };
    let over =
        json!([{ "rule": "planted", "reason": "she says it is fine", "by_ref": "artist-1" }]);
    for (path, method, body, planted) in [
        ("/v1/skin-assessments", "POST", visit(json!({ "born_on": "1890-13-57" })), "1890"),
        ("/v1/skin-assessments", "POST", visit(json!({ "born_on": "2091-01-02" })), "2091"),
        ("/v1/skin-assessments", "POST", visit(json!({ "born_on": 19 })), "19"),
        ("/v1/skin-assessments", "POST", visit(json!({ "overrides": over })), "planted"),
        ("/v1/clients/c-1", "PUT", json!({ "born_on": "2091-01-02" }), "2091"),
        ("/v1/clients/c-1", "PUT", json!({ "born_on": "1790-01-02" }), "1790"),
        ("/v1/symptom-reports", "POST", report(json!({ "kind": "planted" })), "planted"),
        ("/v1/symptom-reports", "POST", report(json!({ "kind": 8765 })), "8765"),
    ] {
        let answer = running.call(&Request::new(method, path).json(&body));
        assert_eq!(answer.status, 422, "{body}: {}", answer.text());
        for fault in answer.problem().errors {
            assert!(!fault.message.contains(planted), "{body}: {}", fault.message);
        }
        assert!(!answer.problem().detail.contains(planted), "{}", answer.text());
    }
}

/// Nobody writes over a record on the word of a weak tag (RFC 9110, 13.1.1).
#[test]
fn a_weak_tag_is_no_proof() {
    let running = Running::start();
    let first = running.call(&Request::put("/v1/clients/c-1", &json!({})));
    let tag = first.header("etag").expect("a tag").to_owned();
    let change = Request::put("/v1/clients/c-1", &json!({ "answers": {} }));
    let weak = running.call(&change.clone().header("If-Match", format!("W/{tag}")));
    assert_eq!(weak.status, 412, "{}", weak.text());
    assert_eq!(running.call(&change.header("If-Match", tag)).status, 200);
}
