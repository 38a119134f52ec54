//! The drill: a studio is saved, works on, loses its folder and is restored. What everybody who
//! works with it sees then, and that `service/OPERATING.md` says so.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use etui_schema::events::Event;
use etui_schema::plugins::PluginToken;
use etui_schema::problem::ErrorCode;
use etui_schema::reminders::ReminderState;
use etui_service::config::{AfterRestore, Config};
use etui_tests::happenings::{page, put_client};
use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::json;
use uuid::Uuid;

use crate::luck::etui;
use crate::plugins::{issue, me, register, text};
use crate::reminders::House;

const OPERATING: &str = include_str!("../../../service/OPERATING.md");

/// Everything behind a sequence, page by page, as a consumer reads it.
fn follow(running: &Running, mut after: u64) -> (Vec<Event>, u64) {
    let mut all = Vec::new();
    loop {
        let next = page(running, after, 3);
        all.extend(next.items);
        after = next.next_after.0;
        if !next.more {
            return (all, after);
        }
    }
}

/// A calendar of the studio: its id and the path to subscribe to.
fn feed(running: &Running) -> (String, String) {
    let opened = running.call(&Request::post("/v1/calendars", &json!({ "of": "studio" })));
    assert_eq!(opened.status, 201, "{}", opened.text());
    let opened = opened.json();
    let text = |name: &str| opened[name].as_str().expect("a text").to_owned();
    (text("id"), text("path"))
}

/// What the booking program sends; the id of what came of it.
fn book(running: &Running, key: &str) -> String {
    let lot = json!({ "text": "0.30 3RS LOT B7 EXP 2036-01 STERILE EO", "packs": 5 });
    let sent = Request::post("/v1/lots", &lot).header("Idempotency-Key", format!("\"{key}\""));
    let answer = running.call(&sent);
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()["id"].as_str().expect("an id").to_owned()
}

/// What the others hold when the folder is lost.
struct Others {
    /// The consumer: everything that it was told, and where it goes on.
    told: Vec<Event>,
    cursor: u64,
    /// The script: what it has sent of the client who was there when it was saved.
    sent: BTreeSet<Uuid>,
    calendars: [(String, String); 3],
    tokens: [PluginToken; 3],
    plugin: Uuid,
    owner: String,
    /// What the booking program got for its key from before, and for the one from after.
    bookings: [String; 2],
    late_treatment: String,
}

/// A backup in a safe place: the file, and its keys as they were and as they were copied again.
struct Safe {
    folder: PathBuf,
    backup: PathBuf,
    first_keys: PathBuf,
    key: PathBuf,
}

fn keys_of(backup: &Path) -> PathBuf {
    backup.with_extension("backup.keys")
}

/// Saves the studio and copies what was saved, with the studio's key.
fn saved(house: &House, data: &Path, folder: &Path) -> Safe {
    let made = house.running.call(&Request::new("POST", "/v1/backups"));
    assert_eq!(made.status, 201, "{}", made.text());
    let name = made.json()["backup"]["name"].as_str().expect("a name").to_owned();
    std::fs::create_dir(folder).expect("a safe place");
    let (from, backup) = (data.join("backups").join(&name), folder.join(&name));
    let (first_keys, key) = (folder.join("first-keys"), folder.join("studio-key"));
    for (from, to) in [
        (from.clone(), &backup),
        (keys_of(&from), &keys_of(&backup)),
        (keys_of(&from), &first_keys),
        (data.join("studio-key"), &key),
    ] {
        std::fs::copy(from, to).expect("a copy");
    }
    Safe { folder: folder.to_owned(), backup, first_keys, key }
}

/// The studio before it was saved, and after; then the folder is lost.
fn lived(data: &Path, safe: &Path) -> (Others, Safe, String) {
    let house = House::with(Running::start_at(data));
    let running = &house.running;
    for client in ["c-1", "c-gone"] {
        put_client(running, client);
    }
    house.treat("c-1", "lips", "2027-03-16T07:00:00Z");
    let (kept, closed) = (feed(running), feed(running));
    let plugin = register(running, "desk", json!({ "scopes": ["drawer:read"] }));
    let token = |name: &str| issue(running, plugin, &json!({ "name": name }));
    let (good, revoked) = (token("good"), token("revoked"));
    let before = book(running, "before");
    let (mut told, cursor) = follow(running, 0);
    let safe = saved(&house, data, safe);

    put_client(running, "c-9");
    let late_treatment = house.treat("c-9", "brows", "2027-03-16T07:30:00Z");
    let claim = house.claim(200, 600);
    for reminder in &claim.reminders {
        house.outcome(&claim, reminder, &json!({ "outcome": "delivered" }));
    }
    let hers = claim.reminders.iter().filter(|one| one.client_ref.as_str() == "c-1");
    let sent: BTreeSet<Uuid> = hers.map(|one| one.id).collect();
    assert!(!sent.is_empty() && sent.len() < claim.reminders.len(), "of both");
    let opened = feed(running);
    for (path, version) in [
        (format!("/v1/calendars/{}", closed.0), None),
        (format!("/v1/plugins/{plugin}/tokens/{}", revoked.id), None),
        ("/v1/clients/c-gone".to_owned(), Some("*")),
    ] {
        let request = Request::new("DELETE", &path);
        let request = version.map_or(request.clone(), |any| request.header("If-Match", any));
        let answer = running.call(&request);
        assert_eq!(answer.status, 200, "{path}: {}", answer.text());
    }
    let issued = token("issued");
    let after = book(running, "after");
    // The small file is copied again after an erasure, as the owner is told.
    let name = safe.backup.file_name().expect("a name");
    let keys = keys_of(&data.join("backups").join(name));
    std::fs::copy(keys, keys_of(&safe.backup)).expect("a copy");
    let (more, cursor) = follow(running, cursor);
    told.extend(more);
    let others = Others {
        told,
        cursor,
        sent,
        calendars: [kept, closed, opened],
        tokens: [good, revoked, issued],
        plugin,
        owner: running.token().to_owned(),
        bookings: [before, after],
        late_treatment,
    };
    let lot_id = house.lot_id.clone();
    house.running.stop();
    std::fs::remove_dir_all(data).expect("the folder can be lost");
    (others, safe, lot_id)
}

fn restored(safe: &Safe, data: &Path, how: AfterRestore) -> Running {
    let at = |path: &Path| path.display().to_string();
    let (from, to, key) = (at(&safe.backup), at(data), at(&safe.key));
    etui(&["restore", "--from", &from, "--data", &to, "--studio-key", &key]);
    assert_eq!(etui(&["verify", "--data", &to])["sound"], true);
    Running::start_at_with(data, |config: &mut Config| config.after_restore = how)
}

/// Saved, worked on, lost, restored.
#[test]
fn after_a_restore_the_others_see_what_the_owner_was_told() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let data = folder.path().join("data");
    let (others, safe, lot_id) = lived(&data, &folder.path().join("safe"));
    let running = restored(&safe, &data, AfterRestore::Mark);
    consumer_reads_anew(&running, &others);
    calendars_and_tokens_are_those_of_then(&running, &others);
    // The booking program: the key of before has its answer, the one of after is as if new.
    let [before, after] = &others.bookings;
    assert_eq!(&book(&running, "before"), before);
    assert_eq!(running.call(&Request::get(format!("/v1/lots/{after}"))).status, 404);
    let anew = book(&running, "after");
    assert_ne!(&anew, after, "it is done as if for the first time");
    assert_eq!(book(&running, "after"), anew, "and once");
    // What was recorded after is gone; who was forgotten after stays forgotten.
    for (path, status) in [
        (format!("/v1/treatments/{}", others.late_treatment), 404),
        ("/v1/clients/c-9".to_owned(), 404),
        ("/v1/clients/c-gone".to_owned(), 404),
        ("/v1/clients/c-1".to_owned(), 200),
    ] {
        assert_eq!(running.call(&Request::get(&path)).status, status, "{path}");
    }
    script_is_told_what_it_may_have_sent(&House { running, lot_id }, &others);
}

/// The setting holds the messages, and the keys of before an erasure bring back whom it forgot.
#[test]
fn a_restore_that_holds_messages_and_one_with_keys_of_before() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let data = folder.path().join("data");
    let (others, safe, lot_id) = lived(&data, &folder.path().join("safe"));
    std::fs::copy(&safe.first_keys, keys_of(&safe.backup)).expect("a copy");
    let house = House { running: restored(&safe, &data, AfterRestore::Hold), lot_id };
    assert!(house.claim(200, 600).reminders.is_empty(), "nobody gets them");
    let held = house.list("state=held&limit=200").items;
    assert!(held.iter().all(|one| one.maybe_sent), "{held:?}");
    let ids: BTreeSet<Uuid> = held.iter().map(|one| one.id).collect();
    assert!(others.sent.is_subset(&ids), "{held:?}");
    assert_eq!(house.count(ReminderState::Held), held.len());
    assert_eq!(house.running.call(&Request::get("/v1/clients/c-gone")).status, 200, "she is back");
    let gone = Request::new("DELETE", "/v1/clients/c-gone").header("If-Match", "*");
    assert_eq!(house.running.call(&gone).status, 200, "and is forgotten again");
    assert!(safe.folder.is_dir());
}

/// Its cursor is told the way; whoever reads anew gets every event once, and no number was used
/// twice.
fn consumer_reads_anew(running: &Running, others: &Others) {
    let cursor = others.cursor;
    let pulled = running.call(&Request::get(format!("/v1/events?after={cursor}")));
    let streamed = Request::get("/v1/events/stream?for_seconds=1");
    let streamed = running.call(&streamed.header("Last-Event-ID", cursor.to_string()));
    for gone in [&pulled, &streamed] {
        assert_eq!(gone.status, 410, "{}", gone.text());
        assert_eq!(gone.problem().code, ErrorCode::SequenceGone);
    }
    let detail = pulled.problem().detail;
    let (_, way) = detail.split_once("after=").expect("the way");
    let way: u64 = way.trim_end_matches(|c: char| !c.is_ascii_digit()).parse().expect("a sequence");
    assert!(way < cursor, "{detail}");
    put_client(running, "c-10");
    let (behind, _) = follow(running, way);
    assert!(!behind.is_empty());
    assert!(behind.iter().all(|event| cursor < event.sequence.0), "{behind:?}");
    let (all, _) = follow(running, 0);
    let ids: BTreeSet<Uuid> = all.iter().map(|event| event.id).collect();
    assert_eq!(ids.len(), all.len(), "an event came twice");
    assert!(all.windows(2).all(|two| two[0].sequence.0 < two[1].sequence.0), "{all:?}");
    let before: BTreeMap<u64, &Event> =
        others.told.iter().map(|event| (event.sequence.0, event)).collect();
    for event in &all {
        let known = before.get(&event.sequence.0);
        assert!(known.is_none_or(|known| *known == event), "a number stands for two: {event:?}");
        assert_eq!(event.source, others.told[0].source, "it is the same studio");
    }
    let kept = all.iter().filter(|event| event.sequence.0 <= way).count();
    assert_eq!(kept, others.told.iter().filter(|event| event.sequence.0 <= way).count());
}

/// What was opened or issued after is unknown, what was closed or revoked after is good again until
/// somebody closes or revokes it again; the owner has a new token.
fn calendars_and_tokens_are_those_of_then(running: &Running, others: &Others) {
    let read = |path: &str| Request::get(path).send(running.address()).status;
    let [kept, closed, opened] = &others.calendars;
    assert_eq!([read(&kept.1), read(&closed.1), read(&opened.1)], [200, 200, 404]);
    let [good, revoked, issued] = &others.tokens;
    let opens = |token: &PluginToken| me(running, &text(token)).status;
    assert_eq!([opens(good), opens(revoked), opens(issued)], [200, 200, 401]);
    let owner = Request::get("/v1/lots").token(&others.owner);
    assert_eq!(running.call(&owner).status, 401, "a restored folder has a new owner's token");
    for path in [
        format!("/v1/calendars/{}", closed.0),
        format!("/v1/plugins/{}/tokens/{}", others.plugin, revoked.id),
    ] {
        let again = running.call(&Request::new("DELETE", &path));
        assert_eq!(again.status, 200, "{path}: {}", again.text());
    }
    assert_eq!((read(&closed.1), opens(revoked)), (404, 401));
}

/// Everything that was due may have been sent; what falls due later was sent by nobody.
fn script_is_told_what_it_may_have_sent(house: &House, others: &Others) {
    let claim = house.claim(200, 600);
    assert!(claim.reminders.iter().all(|one| one.maybe_sent), "{claim:?}");
    let ids: BTreeSet<Uuid> = claim.reminders.iter().map(|one| one.id).collect();
    assert_eq!(ids, others.sent, "those of c-1, and nothing of c-9");
    for reminder in &claim.reminders {
        house.outcome(&claim, reminder, &json!({ "outcome": "delivered" }));
    }
    house.running.set_clock("2027-03-17T12:00:00Z");
    let later = house.claim(200, 600).reminders;
    assert!(!later.is_empty() && later.iter().all(|one| !one.maybe_sent), "{later:?}");
}

/// Each thing that the drill sees is said to the owner, in one row of the table.
#[test]
fn the_owner_is_told_each_of_these() {
    let (_, section) = OPERATING.split_once("## After a restore or an import").expect("a section");
    let section = section.split("\n## ").next().unwrap_or_default();
    let rows: Vec<&str> = section.lines().filter(|line| line.starts_with("| ")).collect();
    for words in [
        &["reads events", "410", "`sequence_gone`", "read the records anew"][..],
        &["sends messages", "`maybe_sent: true`", "`--after-restore hold`"],
        &["calendar", "opened after", "404", "open it anew"],
        &["calendar", "closed after", "open again", "close it again"],
        &["token", "issued after", "401", "issue another"],
        &["token", "revoked after", "works again", "revoke it again"],
        &["owner's token", "401", "new one"],
        &["`Idempotency-Key` from after", "for the first time"],
        &["`Idempotency-Key` from before", "the answer of then"],
        &["treatments", "after the saved state", "404", "record them again"],
        &["forgotten after", "`.keys`", "erase her again"],
    ] {
        let said = rows.iter().any(|row| words.iter().all(|word| row.contains(word)));
        assert!(said, "no row says {words:?}");
    }
    assert!(section.contains("`black_box drill::`"));
}
