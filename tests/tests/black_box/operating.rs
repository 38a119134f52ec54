//! What an operator does beside calling: settings that are checked, a backup on demand, health
//! from the command line, figures.

use std::path::Path;
use std::process::{Command, Output};
use std::time::Duration;

use etui_tests::child::Child;
use etui_tests::engine;
use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::Value;

const PROGRAM: &str = env!("CARGO_BIN_EXE_etui_under_test");

fn etui(arguments: &[&str], folder: &Path) -> Output {
    Command::new(PROGRAM)
        .args(arguments)
        .current_dir(folder)
        .env_remove("ETUI_SETTINGS")
        .output()
        .expect("the program runs")
}

fn told(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout).unwrap_or_else(|error| {
        panic!("{error}: {}", String::from_utf8_lossy(&output.stderr));
    })
}

#[test]
fn a_backup_is_made_while_the_service_goes_on() {
    let folder = tempfile::tempdir().expect("a folder");
    let child = Child::spawn(PROGRAM, folder.path());
    let listen = child.address().to_string();
    let data = folder.path().to_str().expect("a path");
    let there = ["--data", data, "--listen", &listen];
    let made = etui(&[&["backup"], &there[..]].concat(), folder.path());
    assert!(made.status.success(), "{made:?}");
    let made = told(&made);
    let name = made["backup"]["name"].as_str().expect("a name").to_owned();
    let path = folder.path().join("backups").join(&name);
    assert!(path.is_file() && path.with_file_name(format!("{name}.keys")).is_file());
    let listed = child.call(&Request::get("/v1/backups")).json();
    let listed = listed["items"].as_array().expect("a list");
    assert!(listed.iter().any(|one| one == &made["backup"]), "{listed:?}");
    let well = etui(&[&["health"], &there[..]].concat(), folder.path());
    assert!(well.status.success(), "{well:?}");
    // It opens: a restore makes the same of it.
    let again = folder.path().join("again");
    let key = folder.path().join("studio-key");
    let restored = Command::new(PROGRAM)
        .arg("restore")
        .args(["--from".as_ref(), path.as_os_str(), "--data".as_ref(), again.as_os_str()])
        .args(["--studio-key".as_ref(), key.as_os_str()])
        .output()
        .expect("the program runs");
    assert!(restored.status.success(), "{restored:?}");
    assert_eq!(told(&restored)["content_sha256"], made["content_sha256"]);
    drop(child);
    let gone = etui(&[&["health"], &there[..]].concat(), folder.path());
    assert!(!gone.status.success());
}

#[test]
fn settings_are_checked_without_starting() {
    let folder = tempfile::tempdir().expect("a folder");
    let write = |text: &str| {
        let file = folder.path().join("etui.toml");
        std::fs::write(&file, text).expect("a file");
        file.to_str().expect("a path").to_owned()
    };
    let good = write("data = \"studio\"\nzone = \"Europe/Berlin\"\nworkers = 3\n");
    let checked = etui(&["check-settings", "--settings", &good], folder.path());
    assert!(checked.status.success(), "{checked:?}");
    let checked = told(&checked);
    assert_eq!((&checked["ok"], &checked["workers"]), (&true.into(), &3.into()));
    assert_eq!(checked["zone"], "Europe/Berlin");
    assert!(!folder.path().join("studio").exists(), "nothing is made");
    let public = write("listen = \"0.0.0.0:80\"\n");
    let refused = etui(&["check-settings", "--settings", &public], folder.path());
    assert!(!refused.status.success());
    assert!(told(&refused)["faults"][0].as_str().is_some_and(|f| f.contains("--allow-public")));
    // Every value of the file that cannot be used, at once.
    let wrong = write(
        "workers = 900\nwrokers = 3\nzone = \"Atlantis\"\nbackup-every = \"soon\"\nmin-free-mb = 1.5\n",
    );
    let refused = etui(&["check-settings", "--settings", &wrong], folder.path());
    assert!(!refused.status.success(), "{refused:?}");
    let refused = told(&refused);
    assert_eq!(refused["ok"], false);
    let faults = refused["faults"].to_string();
    for name in ["--workers", "`wrokers`", "--zone", "--backup-every", "`min-free-mb`"] {
        assert!(faults.contains(name), "{name}: {faults}");
    }
    assert_eq!(refused["faults"].as_array().map(Vec::len), Some(5), "{faults}");
    assert!(faults.contains("etui.toml"), "{faults}");
    let unknown = write("wrokers = 3\n");
    let refused = etui(&["verify", "--settings", &unknown], folder.path());
    let words = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(words.contains("`wrokers` is not a setting"), "{words}");
    // A command takes the folder from the file, and passes over what is for `serve` alone.
    let elsewhere = write("data = \"studio\"\nworkers = 3\n");
    let refused = etui(&["verify", "--settings", &elsewhere], folder.path());
    let words = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(words.contains("studio holds no store"), "{words}");
}

/// What keeps `serve` from starting, or is never met, keeps `check-settings` from saying that all
/// is well: folders, the studio's key, the address, names and origins.
#[test]
fn settings_that_would_not_start_are_no_good_settings() {
    let folder = tempfile::tempdir().expect("a folder");
    let taken = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
    let taken = taken.local_addr().expect("an address").to_string();
    let with_key = |name: &str, key: &str, keyring: bool| {
        let data = folder.path().join(name);
        std::fs::create_dir(&data).expect("a folder");
        std::fs::write(data.join("studio-key"), key).expect("a file");
        if keyring {
            std::fs::write(data.join("keyring"), "no key ring").expect("a file");
        }
        data.to_str().expect("a path").to_owned()
    };
    let broken = with_key("broken", "no key", false);
    let other = with_key("other", &"ab".repeat(32), true);
    for (arguments, named) in [
        (vec!["--data", "/proc/nowhere"], "--data"),
        (vec!["--backups", "/proc/nowhere"], "--backups"),
        (vec!["--data", &broken], "--data"),
        (vec!["--data", &other], "--data"),
        (vec!["--listen", &taken], "--listen"),
        (vec!["--host", "bad host"], "--host"),
        (vec!["--host", "studio.example:80"], "--host"),
        (vec!["--origin", "x"], "--origin"),
        (vec!["--origin", "https://desk.example/page"], "--origin"),
    ] {
        let mut all = vec!["check-settings", "--listen", "127.0.0.1:0"];
        if arguments[0] == "--listen" {
            all.truncate(1);
        }
        all.extend(&arguments);
        let refused = etui(&all, folder.path());
        assert!(!refused.status.success(), "{arguments:?}: {refused:?}");
        let refused = told(&refused);
        let faults = refused["faults"].as_array().expect("faults").clone();
        assert_eq!(faults.len(), 1, "{arguments:?}: {refused}");
        assert!(faults[0].as_str().is_some_and(|one| one.starts_with(named)), "{faults:?}");
    }
    let good = etui(
        &[
            "check-settings",
            "--listen",
            "127.0.0.1:0",
            "--host",
            "studio.example",
            "--host",
            "[2001:db8::1]",
            "--origin",
            "https://desk.example:8443",
        ],
        folder.path(),
    );
    assert!(good.status.success(), "{good:?}");
}

#[test]
fn the_program_says_what_it_is() {
    let folder = tempfile::tempdir().expect("a folder");
    let version = etui(&["--version"], folder.path());
    let words = String::from_utf8_lossy(&version.stdout).into_owned();
    assert!(words.starts_with(&format!("etui {} (", env!("CARGO_PKG_VERSION"))), "{words}");
    for (arguments, want) in [
        (&["completions", "bash"][..], "complete"),
        (&["completions", "fish"][..], "complete -c etui"),
        (&["man"][..], ".TH etui"),
        (&["man", "serve"][..], ".TH etui-serve"),
        (&["man", "check-settings"][..], ".TH etui-check-settings"),
    ] {
        let out = etui(arguments, folder.path());
        assert!(String::from_utf8_lossy(&out.stdout).contains(want), "{arguments:?}");
    }
}

/// "The word of `erase` for an unknown client is Rust debug text."
#[test]
fn an_erasure_of_nobody_is_told_in_a_plain_sentence() {
    let folder = tempfile::tempdir().expect("a folder");
    let data = folder.path().to_str().expect("a path");
    let mut child = Child::spawn(PROGRAM, folder.path());
    child.terminate();
    assert!(child.wait(Duration::from_secs(10)).is_some());
    let mut command =
        engine::command(PROGRAM, &["erase", "--data", data, "--client", "client-0042"]);
    let refused = command.output().expect("the program runs");
    let words = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(!refused.status.success() && refused.stdout.is_empty(), "{refused:?}");
    let last = words.lines().last().unwrap_or_default();
    assert_eq!(last, "etui: nothing is kept of a client `client-0042`");
    assert!(!words.contains(['{', '"']), "text for programmers: {words}");
}

#[test]
fn figures_say_what_waits() {
    let service = Running::start();
    let lot = serde_json::json!({ "text": "0.30 3RS LOT F1", "packs": 5 });
    assert_eq!(service.call(&Request::post("/v1/lots", &lot)).status, 201);
    let text = service.call(&Request::get("/metrics")).text();
    let figure = |name: &str| {
        let line = text.lines().find(|line| line.starts_with(&format!("{name} ")));
        let value = line.and_then(|line| line.rsplit(' ').next()?.parse::<i64>().ok());
        value.unwrap_or_else(|| panic!("no {name} in\n{text}"))
    };
    assert_eq!(figure("etui_lots_held"), 1);
    assert_eq!(figure("etui_backup_age_seconds"), -1);
    for name in ["etui_outbox_lag_events", "etui_deliveries_pending", "etui_deliveries_dead"] {
        assert_eq!(figure(name), 0, "{name}");
    }
    assert_eq!(figure("etui_lease_overdue_seconds"), 0);
    assert!(0 < figure("etui_commit_groups_total"));
    assert!(figure("etui_commit_groups_total") <= figure("etui_commits_total"));
}
