//! The data folder: backups that make themselves, the restore drill, modes of
//! files, a second process, a full disk.

use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use etui_tests::child::Child;
use etui_tests::engine;
use etui_tests::happenings::until;
use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

const PROGRAM: &str = env!("CARGO_BIN_EXE_etui_under_test");

fn backups(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut found: Vec<PathBuf> = entries
        .flatten()
        .map(|entry| entry.path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "backup"))
        .collect();
    found.sort();
    found
}

/// Waits until so many backups are there.
fn wait_for(folder: &Path, count: usize) -> Vec<PathBuf> {
    let started = Instant::now();
    loop {
        let found = backups(folder);
        if count <= found.len() {
            return found;
        }
        assert!(started.elapsed() < Duration::from_secs(60), "no backup was made");
        std::thread::sleep(Duration::from_millis(20));
    }
}

fn etui(arguments: &[&str]) -> Value {
    let done = engine::command(PROGRAM, arguments).output().expect("the program runs");
    assert!(done.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
    serde_json::from_slice(&done.stdout).expect("one JSON line")
}

fn fill(child: &Child) {
    let client = json!({ "born_on": "1990-05-02", "skin": { "oiliness": "oily" } });
    assert_eq!(child.call(&Request::put("/v1/clients/client-1", &client)).status, 201);
    let lot = json!({ "text": "0.30 3RS LOT A1 EXP 2036-01 STERILE EO", "packs": 5 });
    let lot = child.call(&Request::post("/v1/lots", &lot)).json();
    let treatment = json!({
        "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "brows",
        "performed_at": "2026-01-05T09:00:00Z",
        "packs": [{ "lot_id": lot["id"], "intact": true }],
    });
    assert_eq!(child.call(&Request::post("/v1/treatments", &treatment)).status, 201);
}

/// Back up, lose the folder, restore: the same bytes by the digest of an
/// export.
#[test]
fn the_restore_drill() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let (data, elsewhere) = (folder.path().join("data"), folder.path().join("elsewhere"));
    let at = |path: &Path| path.display().to_string();
    let off = ["--backup-every", "0s", "--backups", &at(&elsewhere)];
    let mut child = Child::spawn_with(PROGRAM, &data, &off);
    fill(&child);
    child.terminate();
    assert!(child.wait(Duration::from_secs(10)).is_some());
    assert!(backups(&elsewhere).is_empty(), "none are made when they are off");

    let on = ["--backup-every", "24h", "--backups", &at(&elsewhere)];
    let mut child = Child::spawn_with(PROGRAM, &data, &on);
    let backup = wait_for(&elsewhere, 1).remove(0);
    child.terminate();
    assert!(child.wait(Duration::from_secs(10)).is_some_and(|status| status.success()));
    let dump = at(&folder.path().join("before.jsonl"));
    let before = etui(&["export", "--data", &at(&data), "--to", &dump]);
    let key = folder.path().join("key-kept-elsewhere");
    std::fs::copy(data.join("studio-key"), &key).expect("the key can be copied");
    std::fs::remove_dir_all(&data).expect("the folder can be lost");

    etui(&["restore", "--from", &at(&backup), "--data", &at(&data), "--studio-key", &at(&key)]);
    let dump = at(&folder.path().join("after.jsonl"));
    let after = etui(&["export", "--data", &at(&data), "--to", &dump]);
    assert_eq!(before["content_sha256"], after["content_sha256"]);
    assert_eq!(before["records"], after["records"]);
    assert_eq!(etui(&["verify", "--data", &at(&data)])["sound"], true);
    let child = Child::spawn_with(PROGRAM, &data, &off);
    let client = child.call(&Request::get("/v1/clients/client-1"));
    assert_eq!(client.json()["born_on"], "1990-05-02", "{}", client.text());
}

/// The oldest go, the newest stay, and `/health/ready` says how many there are.
#[test]
fn backups_are_kept_as_long_as_the_settings_say() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let data = folder.path().join("data");
    let keep = ["--backup-every", "1s", "--backup-keep", "2", "--backup-keep-days", "0"];
    let mut newest = PathBuf::new();
    for _ in 0..4 {
        let mut child = Child::spawn_with(PROGRAM, &data, &keep);
        let started = Instant::now();
        let found = loop {
            let found = backups(&data.join("backups"));
            if found.last().is_some_and(|last| *last != newest) {
                break found;
            }
            assert!(started.elapsed() < Duration::from_secs(60), "no backup was made");
            std::thread::sleep(Duration::from_millis(20));
        };
        newest.clone_from(found.last().expect("a backup"));
        let ready = child.call(&Request::get("/health/ready")).json();
        let told = ready["checks"].as_array().into_iter().flatten();
        let told: Vec<&Value> = told.filter(|check| check["component"] == "backups").collect();
        assert!(told[0]["output"].as_str().is_some_and(|text| text.contains("kept")), "{ready}");
        child.terminate();
        assert!(child.wait(Duration::from_secs(10)).is_some());
        assert!(backups(&data.join("backups")).len() <= 2);
        // The next one is due a second later.
        std::thread::sleep(Duration::from_millis(1100));
    }
    assert_eq!(backups(&data.join("backups")).len(), 2);
}

/// Nobody but the owner of the folder reads what lies in it.
#[test]
fn files_and_folders_are_private() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let data = folder.path().join("data");
    let mut child = Child::spawn(PROGRAM, &data);
    fill(&child);
    wait_for(&data.join("backups"), 1);
    child.terminate();
    assert!(child.wait(Duration::from_secs(10)).is_some());
    let mut count = 0;
    look(&data, &mut count);
    assert!(5 < count, "{count} files");
}

/// "keyring and owner-token with mode 0666 are neither refused nor put right."
#[test]
fn modes_of_key_files_are_put_right() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let data = folder.path().join("data");
    let end = |mut child: Child| {
        child.terminate();
        assert!(child.wait(Duration::from_secs(10)).is_some());
    };
    end(Child::spawn_with(PROGRAM, &data, &["--backup-every", "0s"]));
    let mode = |path: &Path| path.metadata().expect("it is there").permissions().mode() & 0o777;
    let loosen = |path: &Path, mode: u32| {
        std::fs::set_permissions(path, PermissionsExt::from_mode(mode)).expect("a mode");
    };
    // On a database the key ring lies there.
    let keys = ["owner-token", "studio-key", "keyring"];
    let keys = if engine::is_postgres() { &keys[..2] } else { &keys[..] };
    for loose in [0o666, 0o644, 0o660, 0o777] {
        for name in keys {
            loosen(&data.join(name), loose);
        }
        loosen(&data, 0o755);
        end(Child::spawn_with(PROGRAM, &data, &["--backup-every", "0s"]));
        for name in keys {
            assert_eq!(mode(&data.join(name)), 0o600, "{name} was {loose:o}");
        }
        assert_eq!(mode(&data), 0o700);
    }
}

/// "`--backup-keep 0 --backup-keep-days 0` starts; each backup removes itself."
#[test]
fn settings_under_which_no_backup_is_kept_are_refused() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let data = folder.path().join("data").display().to_string();
    for (command, every, starts) in [
        ("serve", "24h", false),
        ("serve", "1s", false),
        ("check-settings", "24h", false),
        ("check-settings", "0s", true),
    ] {
        let keep = ["--backup-keep", "0", "--backup-keep-days", "0", "--backup-every", every];
        let mut command =
            engine::command(PROGRAM, &[&[command, "--data", &data], &keep[..]].concat());
        let done = command.output().expect("the program runs");
        assert_eq!(done.status.success(), starts, "{every}: {done:?}");
        let told = String::from_utf8_lossy(&done.stderr);
        assert!(starts || told.contains("--backup-keep"), "{every}: {told}");
    }
}

/// "No backup for three years": one that a clock which ran ahead has dated is kept, and is never
/// the newest.
#[test]
fn backups_go_on_after_the_clock_was_wrong() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let service = Running::start_at_with(&folder.path().join("data"), |config| {
        config.backup.every = Duration::from_secs(1);
        config.backup.keep = 2;
        config.backup.keep_days = 0;
    });
    let dir = folder.path().join("data/backups");
    let names = || -> Vec<String> {
        let name = |path: PathBuf| path.file_name().map(|n| n.to_string_lossy().into_owned());
        backups(&dir).into_iter().filter_map(name).collect()
    };
    let dated = |day: &str| until(day, || names().iter().any(|n| n.contains(day)).then_some(()));
    dated("20270316T0800");
    service.leap_clock("2030-03-16T08:00:00Z");
    dated("20300316");
    service.leap_clock("2027-03-16T09:00:00Z");
    dated("20270316T0900");
    service.set_clock("2027-03-21T09:00:00Z");
    dated("20270321");
    let ready = service.call(&Request::get("/health/ready")).json();
    let told = ready["checks"].as_array().into_iter().flatten();
    let told: Vec<&Value> = told.filter(|check| check["component"] == "backups").collect();
    let output = told[0]["output"].as_str().expect("words");
    assert!(output.contains("2027-03-21"), "the newest is not of the future: {output}");
    // Two are kept, and the one that nobody can date is kept beside them.
    until("the older ones go", || (names().len() == 3).then_some(()));
    assert!(names().iter().any(|name| name.contains("20300316")), "{:?}", names());
}

fn look(path: &Path, count: &mut usize) {
    let mode = path.metadata().expect("it is there").permissions().mode() & 0o777;
    let wanted = if path.is_dir() { 0o700 } else { 0o600 };
    assert_eq!(mode, wanted, "{}: {mode:o}", path.display());
    *count += 1;
    if path.is_dir() {
        for entry in std::fs::read_dir(path).expect("a folder").flatten() {
            look(&entry.path(), count);
        }
    }
}

#[test]
fn a_second_process_is_told_that_the_folder_is_in_use() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let first = Child::spawn(PROGRAM, folder.path());
    for command in ["serve", "verify"] {
        let data = folder.path().display().to_string();
        let mut second = engine::command(PROGRAM, &[command, "--data", &data]);
        if command == "serve" {
            second.args(["--listen", "127.0.0.1:0"]);
        }
        let done = second.output().expect("the program runs");
        let told = String::from_utf8_lossy(&done.stderr);
        assert!(!done.status.success(), "{command}");
        assert!(told.contains("in use by another etui process"), "{command}: {told}");
    }
    assert_eq!(first.call(&Request::get("/health/ready")).status, 200);
}

/// Stands in every field that may hold something of a person's health.
const PLANTED: &str = "planted-phrase-51c8";

/// What is told of a client's health stands nowhere on the disk in the clear,
/// neither in the store nor in a backup nor in a log.
#[test]
fn nothing_of_health_lies_in_the_clear() {
    if !engine::lies_in_folder("nothing of health lies in the clear") {
        return;
    }
    let folder = tempfile::tempdir().expect("a temporary folder");
    let data = folder.path().join("data");
    let logs = folder.path().join("logs");
    std::fs::create_dir(&logs).expect("a folder for the log");
    let log = logs.join("log.jsonl");
    let mut child = Child::spawn_logged(PROGRAM, &data, &["--backup-every", "0s"], &log);
    let answers = json!({
        "long_term_conditions": ["diabetes"], "cold_sore_history": true,
    });
    let client = json!({
        "born_on": "1984-05-02", "answers": answers, "skin": { "oiliness": "combination" },
    });
    assert_eq!(child.call(&Request::put("/v1/clients/client-1", &client)).status, 201);
    let lot = json!({ "text": "0.30 3RS LOT A1 EXP 2036-01 STERILE EO", "packs": 5 });
    let lot = child.call(&Request::post("/v1/lots", &lot)).json();
    let packs = json!([{ "lot_id": lot["id"], "intact": true }]);
    let treatment = json!({
        "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "brows",
        "performed_at": "2026-01-05T09:00:00Z", "packs": packs,
    });
    // What is kept for a repeat is kept as well as the record.
    let keyed = |path: &str, body: &Value| {
        let key = format!("\"{}\"", path.replace('/', "-"));
        child.call(&Request::post(path, body).header("Idempotency-Key", key))
    };
    let check = json!({
        "booking_ref": "booking-1", "client_ref": "client-1", "treatment": "lips", "effect": "soft_shading",
        "starts_at": "2099-03-01T10:00:00Z",
    });
    let check = keyed("/v1/appointment-checks", &check);
    assert_eq!(check.status, 201, "{}", check.text());
    let treatment = keyed("/v1/treatments", &treatment).json();
    let path = format!("/v1/treatments/{}", treatment["id"].as_str().expect("an id"));
    let kept = json!([{ "zone": "whole", "kept": "under_25" }]);
    let call = json!({ "artist": PLANTED });
    for (of, body) in [
        (
            "observations",
            json!({ "signs": ["shredded"], "note": PLANTED, "at": "2026-01-05T09:10:00Z" }),
        ),
        ("symptom-reports", json!({ "symptoms": [{ "kind": "swelling" }], "contacts": call })),
        ("reviews", json!({ "zones": kept, "surface": "growing_scar", "note": PLANTED })),
        ("amendments", json!({ "reason": PLANTED, "values": { "worked": { "hand": "heavy" } } })),
    ] {
        let answer = keyed(&format!("{path}/{of}"), &body);
        assert_eq!(answer.status, 201, "{}", answer.text());
    }
    // What is refused is not logged either.
    for body in [
        json!({ "signs": ["weeping"], "note": PLANTED, "at": "2090-01-01T00:00:00Z" }),
        json!({ "signs": [PLANTED] }),
        json!({ "signs": ["weeping"], "planted-phrase-51c8": 1 }),
    ] {
        let answer = child.call(&Request::post(format!("{path}/observations"), &body));
        assert_eq!(answer.status, 422, "{}", answer.text());
    }
    let whole = child.call(&Request::get(&path)).text();
    assert!(3 <= whole.matches(PLANTED).count(), "notes and reason: {whole}");
    child.terminate();
    assert!(child.wait(Duration::from_secs(10)).is_some());
    let mut child = Child::spawn(PROGRAM, &data);
    wait_for(&data.join("backups"), 1);
    child.terminate();
    assert!(child.wait(Duration::from_secs(10)).is_some());
    // Words of the vocabulary are health data too.
    let words = [
        "growing_scar",
        "shredded",
        "under_25",
        "diabetes",
        "cold_sore",
        "combination",
        "verdict",
        "1984-05-02",
    ];
    for phrase in [PLANTED].into_iter().chain(words) {
        assert_eq!(holders(folder.path(), phrase), Vec::<PathBuf>::new(), "{phrase}");
    }
    assert_ne!(std::fs::read(&log).expect("the log").len(), 0, "nothing was logged");
    // The search itself is able to find something.
    assert_ne!(holders(&data, "client-1"), Vec::<PathBuf>::new());
}

fn holders(folder: &Path, phrase: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).expect("a folder").flatten() {
        let path = entry.path();
        if path.is_dir() {
            found.extend(holders(&path, phrase));
        } else {
            let bytes = std::fs::read(&path).unwrap_or_default();
            if bytes.windows(phrase.len()).any(|window| window == phrase.as_bytes()) {
                found.push(path);
            }
        }
    }
    found
}

/// Below the reserve nothing is written and everything is read.
#[test]
fn a_disk_that_is_nearly_full_takes_no_writes() {
    if !engine::lies_in_folder("a disk that is nearly full") {
        return;
    }
    let folder = tempfile::tempdir().expect("a temporary folder");
    let running = Running::start_at(folder.path());
    let machine = json!({ "stroke_mm": 3.5, "rate_hz": 110.0, "give": "medium" });
    let put = Request::put("/v1/machines/machine-1", &machine);
    assert_eq!(running.call(&put).status, 201);
    running.stop();
    // More than any disk has: 1 EiB.
    let running =
        Running::start_at_with(folder.path(), |config| config.min_free_mb = Some(1 << 40));
    let lot = json!({ "text": "0.30 3RS LOT A1 EXP 2036-01 STERILE EO", "packs": 5 });
    let refused = running.call(&Request::post("/v1/lots", &lot));
    assert_eq!(refused.status, 507, "{}", refused.text());
    assert_eq!(refused.json()["code"], "no_space");
    assert_eq!(running.call(&Request::get("/v1/machines/machine-1")).status, 200);
    let ready = running.call(&Request::get("/health/ready"));
    assert_eq!(ready.status, 200, "reads go on: {}", ready.text());
    assert_eq!(ready.json()["status"], "warn", "{}", ready.text());
}

#[cfg(not(feature = "postgres"))]
#[test]
fn a_program_without_the_engine_says_how_it_is_built() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let data = folder.path().display().to_string();
    for command in ["serve", "verify"] {
        let told = std::process::Command::new(PROGRAM)
            .args([command, "--data", &data, "--database", "postgres://etui@localhost/studio"])
            .output()
            .expect("the program runs");
        let text = String::from_utf8_lossy(&told.stderr).into_owned();
        assert!(
            !told.status.success() && text.contains("--features postgres"),
            "{command}: {text}"
        );
    }
}
