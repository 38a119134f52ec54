//! What was acknowledged is there after the process was killed, whole; what
//! was not may be absent, but never half.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::time::Duration;

use etui_tests::child::Child;
use etui_tests::running::with_token;
use etui_tests::wire::Request;
use serde_json::{Value, json};

const PROGRAM: &str = env!("CARGO_BIN_EXE_etui_under_test");
/// Rounds of two kills unless `ETUI_LOSS_ROUNDS` says how many.
const ROUNDS: u32 = 20;
const WRITERS: u32 = 4;

/// Acknowledged bodies by the path under which they can be read.
type Acknowledged = BTreeMap<String, Vec<u8>>;

#[test]
fn nothing_acknowledged_is_lost_in_a_kill() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut kept = Acknowledged::new();
    let mut sent = BTreeMap::new();
    let rounds = std::env::var("ETUI_LOSS_ROUNDS").ok().and_then(|n| n.parse().ok());
    let rounds = rounds.unwrap_or(ROUNDS);
    for round in 0..rounds {
        let (acknowledged, asked) = write_until_killed(folder.path(), round);
        sent.extend(asked);
        let child = Child::spawn(PROGRAM, folder.path());
        holds(&child, &acknowledged);
        kept.extend(acknowledged);
        child.kill();
    }
    assert!(rounds * WRITERS < u32::try_from(kept.len()).unwrap_or(0), "too few were written");
    let child = Child::spawn(PROGRAM, folder.path());
    holds(&child, &kept);
    no_halves(&child, &kept);
    repeated_once(&child, &sent);
}

/// Deliveries and checks from several writers until the process is killed in
/// the middle of them: what was acknowledged, and what was asked by its key.
fn write_until_killed(folder: &Path, round: u32) -> (Acknowledged, BTreeMap<String, Request>) {
    let child = Child::spawn(PROGRAM, folder);
    let (address, token) = (child.address(), child.token().to_owned());
    let acknowledged = Mutex::new(Acknowledged::new());
    let asked = Mutex::new(BTreeMap::new());
    let done = AtomicBool::new(false);
    let count = AtomicU32::new(0);
    std::thread::scope(|scope| {
        for writer in 0..WRITERS {
            let (acknowledged, asked, done, count) = (&acknowledged, &asked, &done, &count);
            let token = token.as_str();
            scope.spawn(move || {
                for n in 0.. {
                    let key = format!("{round}-{writer}-{n}");
                    let request = with_token(&request(&key, n), token);
                    asked.lock().expect("a lock").insert(key, request.clone());
                    let Ok(answer) = request.try_send(address) else { return };
                    assert_eq!(answer.status, 201, "{}", answer.text());
                    let place = answer.header("location").expect("a location").to_owned();
                    acknowledged.lock().expect("a lock").insert(place, answer.body);
                    count.fetch_add(1, Ordering::Relaxed);
                    if done.load(Ordering::Relaxed) {
                        return;
                    }
                }
            });
        }
        // Some are through, others on their way, at another moment each round.
        while count.load(Ordering::Relaxed) < WRITERS + round {
            std::thread::sleep(Duration::from_millis(1));
        }
        std::thread::sleep(Duration::from_micros(u64::from(round) * 700));
        child.kill();
        done.store(true, Ordering::Relaxed);
    });
    (acknowledged.into_inner().expect("a lock"), asked.into_inner().expect("a lock"))
}

/// A delivery or a check, in turn.
fn request(key: &str, n: u32) -> Request {
    let request = if n.is_multiple_of(2) {
        let text = format!("0.30 3RS\nLOT L{key}\nEXP 2036-06-30 STERILE EO");
        Request::post("/v1/lots", &json!({ "text": text, "packs": 5 }))
    } else {
        let body = json!({
            "booking_ref": format!("booking-{key}"),
            "treatment": "brows",
            "effect": "hair_strokes",
            "starts_at": "2099-03-01T09:00:00Z",
            "born_on": "1990-05-02",
            "candidates": ["0.20 1RL"],
        });
        Request::post("/v1/appointment-checks", &body)
    };
    request.header("Idempotency-Key", format!("\"{key}\""))
}

fn holds(child: &Child, acknowledged: &Acknowledged) {
    for (place, body) in acknowledged {
        let answer = child.call(&Request::get(place.clone()));
        assert_eq!(answer.status, 200, "{place} was acknowledged and is gone");
        assert_eq!(answer.text(), String::from_utf8_lossy(body), "{place}");
    }
}

/// Every row of every list leads to its record, and no record is missing in
/// its list.
fn no_halves(child: &Child, kept: &Acknowledged) {
    for list in ["/v1/lots", "/v1/appointment-checks"] {
        let rows = all_ids(child, list);
        for id in &rows {
            let answer = child.call(&Request::get(format!("{list}/{id}")));
            assert_eq!(answer.status, 200, "{list} names {id}, which cannot be read");
        }
        for place in kept.keys().filter(|place| place.starts_with(list)) {
            let id = place.rsplit('/').next().unwrap_or_default();
            assert!(rows.contains(id), "{list} leaves out {id}");
        }
    }
}

/// Sent again under their keys, all are there, and each once.
fn repeated_once(child: &Child, sent: &BTreeMap<String, Request>) {
    let mut places = BTreeSet::new();
    for request in sent.values() {
        let answer = child.call(request);
        assert_eq!(answer.status, 201, "{}", answer.text());
        places.insert(answer.header("location").expect("a location").to_owned());
    }
    assert_eq!(places.len(), sent.len(), "two keys, one record");
    let rows = all_ids(child, "/v1/lots").len() + all_ids(child, "/v1/appointment-checks").len();
    assert_eq!(rows, sent.len(), "one key, two records");
}

fn all_ids(child: &Child, list: &str) -> BTreeSet<String> {
    let mut all = BTreeSet::new();
    let mut target = format!("{list}?limit=200");
    loop {
        let page: Value = child.call(&Request::get(target)).json();
        for row in page["items"].as_array().into_iter().flatten() {
            let id = row["id"].as_str().unwrap_or_default().to_owned();
            assert!(all.insert(id), "{list} names a record twice: {row}");
        }
        match page["next_cursor"].as_str() {
            Some(cursor) => target = format!("{list}?limit=200&cursor={cursor}"),
            None => return all,
        }
    }
}
