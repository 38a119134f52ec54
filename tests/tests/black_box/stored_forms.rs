//! What lies in the folder: former forms are brought up to date, what is over
//! is cleared away, and a walk over everything finds nothing amiss.

use etui_service::http::boot::open_studio;
use etui_service::http::clock::System;
use etui_service::maintain;
use etui_service::store::key::{KeyReader, KeyWriter};
use etui_service::store::{Batch, Bytes, Order, Read, Serve, Space, Store, harden_sync};
use etui_service::studio::lots;
use etui_service::studio::reminders::{BY_ID, REMINDERS};
use etui_service::studio::{Studio, idempotency};
use etui_tests::engine;
use etui_tests::running::{Running, moment};
use etui_tests::wire::Request;
use serde_json::{Value, json};
use std::path::Path;

fn treat(running: &Running) {
    treat_under(running, 0);
}

/// A treatment with a lot of its own; the lots are of one code.
fn treat_under(running: &Running, attempt: u8) {
    treat_on(running, attempt, "2027-03-16T07:00:00Z");
}

fn treat_on(running: &Running, attempt: u8, performed_at: &str) {
    let lot = json!({ "text": "0.30 3RL LOT A1 EXP 2030-01-31 STERILE R", "packs": 9 });
    let lot = running.call(&Request::post("/v1/lots", &lot)).json();
    let body = json!({
        "client_ref": "client-1",
        "artist_ref": "artist-1",
        "treatment": "brows",
        "performed_at": performed_at,
        "packs": [{ "lot_id": lot["id"], "intact": true, "serial": format!("{attempt:04}") }],
    });
    let request = Request::post("/v1/treatments", &body)
        .header("Idempotency-Key", format!("\"treat-{attempt}\""));
    let answer = running.call(&request);
    assert_eq!(answer.status, 201, "{}", answer.text());
}

fn listed(running: &Running) -> Value {
    running.call(&Request::get("/v1/reminders?limit=200")).json()
}

/// Does something with the store of a folder that nobody has open.
fn in_store(folder: &Path, run: impl AsyncFnOnce(&Studio)) {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    runtime.expect("a runtime").block_on(async {
        let config = engine::settings(folder);
        let opened = open_studio(&config, &System, harden_sync()).await;
        let studio = opened.expect("the studio opens").0;
        run(&studio).await;
        studio.engine.close().await.expect("the store closes");
    });
}

async fn rows(studio: &Studio, space: Space) -> Vec<(Bytes, Bytes)> {
    let mut snap = studio.engine.snapshot().await.expect("a view");
    let all = Bytes::new()..Bytes::new();
    snap.scan(space, all, Order::Ascending, 1_000).await.expect("rows")
}

fn walk(folder: &Path) -> Value {
    looked_through(folder).expect("a sound store")
}

/// What a walk says, or what it found.
fn looked_through(folder: &Path) -> Result<Value, String> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let report = runtime.expect("a runtime").block_on(maintain::check(engine::place(folder)));
    report.map_err(|why| why.to_string())
}

/// Before, the records lay by id, with rows of their own by state and by
/// treatment.
#[test]
fn reminders_in_their_former_form_are_moved_at_the_start() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let running = Running::start_at(folder.path());
    treat(&running);
    let before = listed(&running);
    assert!(before["items"].as_array().is_some_and(|items| 8 < items.len()), "{before}");
    drop(running);
    let counts = walk(folder.path())["records"].clone();
    in_store(folder.path(), async |studio| {
        let mut batch = Batch::new();
        for (place, record) in rows(studio, REMINDERS).await {
            let mut reader = KeyReader::new(&place);
            let id = reader.text().and_then(|_| reader.instant()).and_then(|_| reader.uuid());
            let id = id.expect("a place");
            let stored: Value = serde_json::from_slice(&record).expect("JSON");
            let of = stored["data"]["treatment_id"].as_str().and_then(|text| text.parse().ok());
            let of = KeyWriter::new().uuid(of.expect("a treatment")).uuid(id).finish();
            batch = batch
                .del(REMINDERS, place.clone())
                .del(BY_ID, id.as_bytes().to_vec())
                .put(Space::new("reminders"), id.as_bytes().to_vec(), record)
                .put(Space::new("reminders-by-state"), place, Bytes::new())
                .put(Space::new("reminders-by-treatment"), of, Bytes::new());
        }
        studio.engine.commit(batch).await.expect("it is written");
    });
    let running = Running::start_at(folder.path());
    assert_eq!(listed(&running), before);
    drop(running);
    let after = walk(folder.path())["records"].clone();
    for space in ["reminders-by-due", "reminders-by-id", "reminders-by-lease"] {
        assert_eq!(after[space], counts[space], "{space}");
    }
    for space in ["reminders", "reminders-by-state", "reminders-by-treatment"] {
        assert_eq!(after[space].as_u64().unwrap_or(0), 0, "{space}");
    }
}

/// Before, that a client wants no messages was kept with those of which she said it; it outlasts them.
#[test]
fn a_stop_of_a_former_build_outlasts_its_messages() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let running = Running::start_at(folder.path());
    treat(&running);
    let post = |running: &Running, path: &str, body: &Value| {
        let answer = running.call(&Request::post(path, body));
        assert!(answer.status < 300, "{}", answer.text());
        answer.json()
    };
    let limits = json!({ "limit": 1, "lease_seconds": 60 });
    let claim = post(&running, "/v1/reminder-claims", &limits);
    let path = format!("/v1/reminders/{}/outcomes", claim["reminders"][0]["id"].as_str().unwrap());
    let stop = json!({ "claim_id": claim["claim_id"], "outcome": "failed", "reason": "unwanted" });
    post(&running, &path, &stop);
    let held = |running: &Running| {
        let held = running.call(&Request::get("/v1/reminders?state=held&limit=200")).json();
        let ids = held["items"].as_array().expect("a list").iter().map(|one| one["id"].clone());
        ids.collect::<Vec<Value>>()
    };
    let skip = json!({ "decision": "skip", "reminders": held(&running) });
    post(&running, "/v1/reminder-releases", &skip);
    drop(running);
    let stops = Space::new("message-stops");
    in_store(folder.path(), async |studio| {
        let all = rows(studio, stops).await;
        assert_eq!(all.len(), 1);
        let gone = all.into_iter().fold(Batch::new(), |batch, (row, _)| batch.del(stops, row));
        studio.engine.commit(gone).await.expect("it is written");
    });
    let running = Running::start_at(folder.path());
    running.set_clock("2029-06-16T09:00:00Z");
    let looked = running.call(&Request::get("/v1/retention")).json();
    let swept = post(&running, "/v1/retention-sweeps", &json!({ "digest": looked["digest"] }));
    assert!(0 < swept["removed"][0]["records"].as_u64().unwrap(), "{swept}");
    treat_on(&running, 1, "2029-06-16T07:00:00Z");
    assert_eq!(listed(&running)["items"], json!([]));
    assert!(!held(&running).is_empty());
    drop(running);
    walk(folder.path());
}

/// Before, lots had no rows by what they have in common; a walk does not miss them until the start
/// has made them.
#[test]
fn lots_of_a_former_build_are_found_in_every_spelling_after_the_start() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let running = Running::start_at(folder.path());
    let lot =
        json!({ "text": "0.30 3RL LOT A1 EXP 2030-01-31 STERILE R", "packs": 9, "maker": "north" });
    let id = running.call(&Request::post("/v1/lots", &lot)).json()["id"].clone();
    drop(running);
    let counts = walk(folder.path())["records"].clone();
    in_store(folder.path(), async |studio| {
        let mut batch = Batch::new();
        for (row, _) in rows(studio, lots::ALIKE.space()).await {
            batch = batch.del(lots::ALIKE.space(), row);
        }
        for (row, _) in rows(studio, lots::BY_EXPIRY.space()).await {
            batch = batch.put(lots::BY_EXPIRY.space(), row, Bytes::new());
        }
        studio.engine.commit(batch).await.expect("it is written");
    });
    walk(folder.path());
    let running = Running::start_at(folder.path());
    let notice = json!({ "lot": "a-1", "maker": "north", "reason": "sterility in doubt" });
    let report = running.call(&Request::post("/v1/recalls", &notice)).json();
    assert_eq!(report["exposures"]["lot_ids"], json!([id]), "{report}");
    drop(running);
    let after = walk(folder.path())["records"].clone();
    for space in ["lots", "lots-alike", "lots-by-code", "lots-by-expiry"] {
        assert_eq!(after[space], counts[space], "{space}");
    }
    in_store(folder.path(), async |studio| {
        let (row, _) = rows(studio, lots::ALIKE.space()).await.remove(0);
        let batch = Batch::new().del(lots::ALIKE.space(), row);
        studio.engine.commit(batch).await.expect("it is written");
    });
    let why = looked_through(folder.path()).expect_err("a row is missing");
    assert!(why.contains("lots-alike"), "{why}");
}

#[test]
fn an_idempotency_key_is_forgotten_after_its_day() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let running = Running::start_at(folder.path());
    treat(&running);
    drop(running);
    assert_eq!(walk(folder.path())["records"]["idempotency"], 1);
    in_store(folder.path(), async |studio| {
        for (now, forgets) in [("2027-03-17T07:59:59Z", false), ("2027-03-17T08:00:01Z", true)] {
            let mut snap = studio.engine.snapshot().await.expect("a view");
            let batch = idempotency::forget(&mut snap, moment(now)).await.expect("rows");
            assert_eq!(batch.is_some(), forgets, "{now}");
            if let Some(batch) = batch {
                studio.engine.commit(batch).await.expect("it is written");
            }
        }
    });
    let records = walk(folder.path())["records"].clone();
    for space in ["idempotency", "idempotency-by-end"] {
        assert_eq!(records[space].as_u64().unwrap_or(0), 0, "{space}");
    }
}

/// Rows that are missing, too many or in another's place are found.
#[test]
fn a_walk_finds_what_is_amiss_with_reminders_and_serial_numbers() {
    let serial = KeyWriter::new().text("A1").text("0008").finish();
    type Harm = fn(&(Bytes, Bytes), Bytes) -> Batch;
    let harms: [(&str, Harm); 4] = [
        ("missing", |(_, record), _| {
            let stored: Value = serde_json::from_slice(record).expect("JSON");
            let id: uuid::Uuid =
                stored["data"]["id"].as_str().and_then(|t| t.parse().ok()).expect("an id");
            Batch::new().del(BY_ID, id.as_bytes().to_vec())
        }),
        ("without a record", |(place, _), _| Batch::new().del(REMINDERS, place.clone())),
        ("another's place", |(place, record), _| {
            let mut elsewhere = place.clone();
            elsewhere.push(0);
            Batch::new().del(REMINDERS, place.clone()).put(REMINDERS, elsewhere, record.clone())
        }),
        ("packs-by-serial", |_, serial| {
            Batch::new().put(Space::new("packs-by-serial"), serial, Bytes::new())
        }),
    ];
    for (found, harm) in harms {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let running = Running::start_at(folder.path());
        treat(&running);
        drop(running);
        walk(folder.path());
        in_store(folder.path(), async |studio| {
            let first = rows(studio, REMINDERS).await.remove(0);
            studio.engine.commit(harm(&first, serial.clone())).await.expect("it is written");
        });
        let why = looked_through(folder.path()).expect_err("a store that is not sound");
        assert!(why.contains(found), "{found}: {why}");
    }
}

/// One record in each list is broken: the list goes on, and says how many are
/// missing in it.
#[test]
fn lists_tell_how_many_records_they_cannot_read() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let running = Running::start_at(folder.path());
    (0..2).for_each(|n| treat_under(&running, n));
    let check = json!({
        "booking_ref": "booking-1", "treatment": "brows",
        "effect": "hair_strokes", "starts_at": "2027-04-16T07:00:00Z", "born_on": "1990-05-02",
    });
    let checked = running.call(&Request::post("/v1/appointment-checks", &check));
    assert_eq!(checked.status, 201, "{}", checked.text());
    let lots = running.call(&Request::get("/v1/lots")).json();
    let lot = lots["items"][0]["id"].as_str().expect("an id").to_owned();
    let lists = [
        ("lots", "/v1/lots".to_owned()),
        ("treatments", "/v1/treatments?client_ref=client-1".to_owned()),
        ("checks", "/v1/appointment-checks".to_owned()),
        ("reminders-by-due", "/v1/reminders?limit=200".to_owned()),
        ("treatments-by-lot", format!("/v1/lots/{lot}/exposures")),
    ];
    let count = |answer: &Value| {
        let rows = answer.get("items").or(answer.get("treatments"));
        rows.and_then(Value::as_array).expect("rows").len()
    };
    let read = |running: &Running| {
        let answers = lists.iter().map(|(_, path)| {
            let answer = running.call(&Request::get(path.as_str()));
            assert_eq!(answer.status, 200, "{path}: {}", answer.text());
            answer.json()
        });
        answers.collect::<Vec<Value>>()
    };
    let before = read(&running);
    drop(running);
    in_store(folder.path(), async |studio| {
        let mut batch = Batch::new();
        for (space, _) in &lists {
            // One of each; of the index, which lies by lot, both.
            let most = if *space == "treatments-by-lot" { 2 } else { 1 };
            // What is scheduled lies last.
            for (key, _) in rows(studio, Space::new(space)).await.into_iter().rev().take(most) {
                batch = batch.put(Space::new(space), key, b"{".to_vec());
            }
        }
        studio.engine.commit(batch).await.expect("a commit");
    });
    let running = Running::start_at(folder.path());
    for ((list, before), after) in lists.iter().zip(&before).zip(&read(&running)) {
        assert_eq!(before.get("unreadable"), None, "{list:?}: {before}");
        if list.0 == "treatments-by-lot" {
            // Both rows, the lot of the same code, and the check that offered them.
            assert!(3 <= after["unreadable"].as_u64().unwrap_or(0), "{after}");
            assert_eq!((count(before), count(after)), (2, 0), "{after}");
            continue;
        }
        assert_eq!(after["unreadable"], 1, "{list:?}: {after}");
        assert_eq!(count(after) + 1, count(before), "{list:?}: {after}");
    }
}
