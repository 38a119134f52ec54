//! Reading from a million records.

use std::path::PathBuf;
use std::time::Duration;

use etui_service::store::SyncPath;
use etui_tests::child::Child;
use etui_tests::keep_alive::Connection;
use etui_tests::wire::Request;
use serde_json::Value;

use crate::generate::{EXPOSED, Made, fill};
use crate::ledger::{Better, Ledger};
use crate::timed::{ask, milliseconds, quantile, walk};
use crate::{PROGRAM, setting};

/// Longer than the sweep at the start takes.
const SWEEP: Duration = Duration::from_secs(10);
/// Requests a figure rests on.
const TIMES: usize = 500;

pub(crate) fn measure(ledger: &mut Ledger, sync_path: &SyncPath) {
    let records = setting("ETUI_LOAD_RECORDS", 1_000_000);
    let reminders = setting("ETUI_LOAD_REMINDERS", records);
    let kept = std::env::var_os("ETUI_LOAD_FOLDER").map(PathBuf::from);
    let own = tempfile::tempdir().expect("a temporary folder");
    let folder = kept.unwrap_or_else(|| own.path().to_owned());
    let notes = folder.join("load.json");
    let made = match std::fs::read(&notes).ok().and_then(|text| read(&text)) {
        Some(made) => made,
        None => {
            let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build();
            let runtime = runtime.expect("a runtime");
            let data = folder.join("data");
            let made = runtime.block_on(fill(&data, sync_path, (records, reminders), usize::MAX));
            let note = serde_json::json!({ "recalled": made.recalled, "client": made.client });
            std::fs::write(&notes, note.to_string()).expect("a note can be written");
            made
        }
    };
    let arguments = ["--backup-every", "0s"];
    let mut child = Child::spawn_with(PROGRAM, &folder.join("data"), &arguments);
    ledger.note(
        &format!("{records} records: open after a clean close"),
        child.took.as_secs_f64(),
        "s",
        Better::Less,
        "< 1.5",
    );
    // A million messages are due at once here, and each is told of: thousands at the start, more
    // every half minute. What is measured lies between two such sweeps.
    std::thread::sleep(SWEEP);
    measure_all(ledger, &child, &made);
    ledger.note(
        &format!("{records} records: resident after it, at most"),
        memory(child.id()),
        "MB",
        Better::Less,
        "< 400",
    );
    child.terminate();
    assert!(child.wait(Duration::from_secs(60)).is_some(), "it stops");
}

fn read(text: &[u8]) -> Option<Made> {
    let note: Value = serde_json::from_slice(text).ok()?;
    let recalled = note["recalled"].as_str()?.parse().ok()?;
    Some(Made { recalled, client: note["client"].as_str()?.to_owned() })
}

fn measure_all(ledger: &mut Ledger, child: &Child, made: &Made) {
    let mut connection = Connection::open(child.address(), child.token()).expect("a connection");
    let path = format!("/v1/lots/{}/exposures", made.recalled);
    let (answer, _) = ask(&mut connection, &Request::get(&path));
    let rows = answer.json()["treatments"].as_array().map_or(0, Vec::len);
    assert!(EXPOSED.min(rows) == rows && 0 < rows, "{rows} rows");
    let mut all: Vec<Duration> =
        (0..TIMES / 5).map(|_| ask(&mut connection, &Request::get(&path)).1).collect();
    let what = format!("exposures of one lot, {rows} rows");
    spread(ledger, &what, &mut all, &format!("< {}", 10 + rows / 50));
    page(ledger, &mut connection, "a page of 100 lots", "/v1/lots?limit=100");
    // Each client of the bulk has ten; one of many is asked for each time.
    let target = format!("/v1/treatments?client_ref={}&limit=100", made.client);
    page(ledger, &mut connection, "a client's treatments", &target);
    let soon = "/v1/reminders?state=scheduled&due_before=2999-01-01T00:00:00Z&limit=100";
    page(ledger, &mut connection, "a page of 100 due reminders", soon);
    page(ledger, &mut connection, "a page of 100 reminders", "/v1/reminders?limit=100");
}

/// Walks from page to page, so that no two requests are for the same rows.
fn page(ledger: &mut Ledger, connection: &mut Connection, what: &str, target: &str) {
    let mut all = walk(connection, target, TIMES);
    spread(ledger, what, &mut all, "< 5");
}

/// The middle, and what one in a hundred is slower than.
fn spread(ledger: &mut Ledger, what: &str, all: &mut [Duration], aim: &str) {
    for (share, name, aim) in [(0.5, "in the middle", ""), (0.99, "p99", aim)] {
        ledger.note(
            &format!("{what}, {name}"),
            milliseconds(quantile(all, share)),
            "ms",
            Better::Less,
            aim,
        );
    }
}

/// Largest resident memory of a process so far, in MB.
fn memory(process: u32) -> f64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap_or_default();
    let kilobytes: f64 =
        line.split_whitespace().next().and_then(|text| text.parse().ok()).unwrap_or(0.0);
    kilobytes / 1024.0
}
