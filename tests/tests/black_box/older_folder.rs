//! A folder of the build before: every kind of record that it kept opens, and
//! says what it said then; checks are made again, all of it is sound and goes out.
//!
//! `tests/data/folder-0.1` is the data folder that a build of 0.1 left behind
//! after a clean stop, with every kind of record in it; `folder-0.1.json` are
//! its answers to the calls that read them. It is never renewed: a build that
//! cannot open it any more would shut somebody's studio.

use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

use etui_schema::vocabulary::Instant;
use etui_tests::engine;
use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Map, Value, json};

const PROGRAM: &str = env!("CARGO_BIN_EXE_etui_under_test");

/// The moment at which the folder was left.
const LEFT: &str = "2027-03-16T08:00:00Z";

/// A moment before it, at which a clock may stand that somebody says is right.
const BEFORE: &str = "2027-03-01T08:00:00Z";

/// Members that may say something else today, and why.
const MOVED: &[(&str, &str)] = &[
    ("state", "a lot of which something is not known waits for a person now"),
    ("reasons", "why it waits is told in more words"),
    ("cautions", "composed when they are read"),
    ("basis", "numbers say where they come from in today's words"),
    ("record_counted", "the record itself stands beside what a check was made from"),
    ("scopes", "what one scope opened has several names now, and the token holds them all"),
    ("next_cursor", "good for the list and the filters that it was given for, which are more now"),
    ("version", "a reminder that was brought up to date counts as changed"),
];

/// A copy with the modes that a folder of ours has: they are not kept with the test data.
fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).expect("a folder");
    std::fs::set_permissions(to, PermissionsExt::from_mode(0o700)).expect("its mode");
    for entry in std::fs::read_dir(from).expect("the kept folder") {
        let entry = entry.expect("an entry");
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), &target).expect("a copy");
            std::fs::set_permissions(&target, PermissionsExt::from_mode(0o600)).expect("its mode");
        }
    }
}

/// Collects where `now` no longer holds what `then` held.
fn compare(place: &str, then: &Value, now: &Value, found: &mut Vec<String>) {
    match (then, now) {
        (Value::Object(old), Value::Object(new)) => {
            for (name, value) in old.iter().filter(|(name, _)| !moved(name)) {
                let here = format!("{place}/{name}");
                match new.get(name) {
                    Some(other) => compare(&here, value, other, found),
                    None => found.push(format!("{here} is gone; it was {value}")),
                }
            }
        }
        (Value::Array(old), Value::Array(new)) if old.len() == new.len() => {
            for (at, (value, other)) in old.iter().zip(new).enumerate() {
                compare(&format!("{place}/{at}"), value, other, found);
            }
        }
        _ if then == now || same_instant(then, now) => {}
        _ => found.push(format!("{place} was {then} and is {now}")),
    }
}

/// Instants have one width since: the same moment in more digits is what it was.
fn same_instant(then: &Value, now: &Value) -> bool {
    let read = |value: &Value| value.as_str().and_then(|text| text.parse::<Instant>().ok());
    read(then).is_some_and(|then| read(now) == Some(then))
}

fn moved(name: &str) -> bool {
    MOVED.iter().any(|(moved, _)| *moved == name)
}

/// The kept folder, copied into a room.
fn lent(room: &Path) -> PathBuf {
    let folder = room.join("data");
    copy(&PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("data/folder-0.1"), &folder);
    folder
}

/// She was erased, and came back, while the clock stood before her records: what was sealed for
/// her then is told as erased, and as nothing else.
#[test]
fn who_was_erased_before_her_records_came_to_be_is_erased() {
    let room = tempfile::tempdir().expect("a temporary folder");
    let folder = lent(room.path());
    let running = Running::start_at_with(&folder, |config| config.trust_clock = true);
    running.set_clock(BEFORE);
    let listed = running.call(&Request::get("/v1/treatments")).json();
    let treatment = &listed["items"][0];
    let (id, client) = (treatment["id"].as_str().unwrap(), treatment["client_ref"].as_str());
    let record = format!("/v1/clients/{}", client.unwrap());
    let erase = Request::new("DELETE", &record).header("If-Match", "*");
    assert_eq!(running.call(&erase).status, 200);
    let path = format!("/v1/treatments/{id}");
    assert_eq!(running.call(&Request::get(&path)).status, 404);
    let back = Request::new("PUT", &record).json(&json!({ "born_on": "1980-01-01" }));
    assert_eq!(running.call(&back).status, 201);
    for path in [path.clone(), format!("{path}/aftercare"), format!("{path}/observations")] {
        let answer = running.call(&Request::get(&path));
        assert!(matches!(answer.status, 200 | 404), "{path}: {}", answer.text());
    }
    assert_eq!(running.call(&Request::get(&path)).status, 404);
    running.stop();
    let verify = ["verify", "--data", folder.to_str().unwrap()];
    let done = engine::command(PROGRAM, &verify).output().expect("the program runs");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
}

#[test]
fn a_folder_of_the_build_before_opens_and_says_what_it_said() {
    let data = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("data");
    let room = tempfile::tempdir().expect("a temporary folder");
    let folder = lent(room.path());
    let kept = std::fs::read_to_string(data.join("folder-0.1.json")).expect("the answers");
    let kept: Map<String, Value> = serde_json::from_str(&kept).expect("JSON");
    let running = Running::start_at(&folder);
    running.set_clock(LEFT);
    let mut found = Vec::new();
    for (path, then) in &kept {
        let answer = running.call(&Request::get(path));
        if answer.status == 200 {
            compare(path, then, &answer.json(), &mut found);
        } else {
            found.push(format!("{path}: {} {}", answer.status, answer.text()));
        }
    }
    let checks = kept.keys().filter(|path| path.starts_with("/v1/appointment-checks/"));
    for path in checks {
        let again = running.call(&Request::new("POST", format!("{path}/replays")));
        if again.status != 200 {
            found.push(format!("{path}/replays: {} {}", again.status, again.text()));
        }
    }
    running.stop();
    for command in
        [vec!["verify"], vec!["export", "--to", room.path().join("dump").to_str().unwrap()]]
    {
        let command = [&command[..], &["--data", folder.to_str().unwrap()]].concat();
        let done = engine::command(PROGRAM, &command).output().expect("the program runs");
        if !done.status.success() {
            found.push(format!("{command:?}: {}", String::from_utf8_lossy(&done.stderr)));
        }
    }
    assert!(found.is_empty(), "{} differences:\n{}", found.len(), found.join("\n"));
}
