//! Reading from a million records.

use std::path::PathBuf;
use std::time::Duration;

use etui_service::store::SyncPath;
use etui_tests::child::Child;
use etui_tests::keep_alive::Connection;
use etui_tests::wire::Request;
use serde_json::Value;

use crate::generate::{EXPOSED, Made, fill};
use crate::timed::{ask, quantile};
use crate::{figure, setting};

const PROGRAM: &str = env!("CARGO_BIN_EXE_etui_under_test");
/// Longer than the sweep at the start takes.
const SWEEP: Duration = Duration::from_secs(10);
/// Requests a figure rests on.
const TIMES: usize = 500;

pub(crate) fn measure(sync_path: &SyncPath) {
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
            let made = runtime.block_on(fill(&data, sync_path, records, reminders));
            let note = serde_json::json!({ "recalled": made.recalled, "client": made.client });
            std::fs::write(&notes, note.to_string()).expect("a note can be written");
            made
        }
    };
    let arguments = ["--backup-every", "0s"];
    let mut child = Child::spawn_with(PROGRAM, &folder.join("data"), &arguments);
    figure("open after a clean close", &format!("{:.2} s", child.took.as_secs_f64()), "< 3 s");
    // A million messages are due at once here, and each is told of: thousands at the start, more
    // every half minute. What is measured lies between two such sweeps.
    std::thread::sleep(SWEEP);
    measure_all(&child, &made);
    let resident = memory(child.id());
    figure("resident memory after it, at most", &format!("{resident} MB"), "< 400 MB");
    child.terminate();
    assert!(child.wait(Duration::from_secs(60)).is_some(), "it stops");
}

fn read(text: &[u8]) -> Option<Made> {
    let note: Value = serde_json::from_slice(text).ok()?;
    let recalled = note["recalled"].as_str()?.parse().ok()?;
    Some(Made { recalled, client: note["client"].as_str()?.to_owned() })
}

fn measure_all(child: &Child, made: &Made) {
    let mut connection = Connection::open(child.address(), child.token()).expect("a connection");
    let path = format!("/v1/lots/{}/exposures", made.recalled);
    let (answer, first) = ask(&mut connection, &Request::get(&path));
    let rows = answer.json()["treatments"].as_array().map_or(0, Vec::len);
    assert!(EXPOSED.min(rows) == rows && 0 < rows, "{rows} rows");
    let goal =
        Duration::from_millis(10) + Duration::from_micros(20) * u32::try_from(rows).unwrap_or(0);
    let mut all: Vec<Duration> =
        (0..TIMES / 5).map(|_| ask(&mut connection, &Request::get(&path)).1).collect();
    let what = format!("exposures of one lot, {rows} rows");
    figure(&format!("{what}, the first time"), &milliseconds(first), &milliseconds(goal));
    figure(&format!("{what}, p50"), &milliseconds(quantile(&mut all, 0.5)), &milliseconds(goal));
    figure(&format!("{what}, p99"), &milliseconds(quantile(&mut all, 0.99)), &milliseconds(goal));
    page(&mut connection, "a page of 100 lots", "/v1/lots?limit=100");
    // Each client of the bulk has ten; one of many is asked for each time.
    let target = format!("/v1/treatments?client_ref={}&limit=100", made.client);
    page(&mut connection, "a client's treatments", &target);
    let soon = "/v1/reminders?state=scheduled&due_before=2999-01-01T00:00:00Z&limit=100";
    page(&mut connection, "a page of 100 due reminders", soon);
}

/// Walks from page to page, so that no two requests are for the same rows.
fn page(connection: &mut Connection, what: &str, target: &str) {
    let mut all = Vec::new();
    let mut next = target.to_owned();
    for _ in 0..TIMES {
        let (answer, took) = ask(connection, &Request::get(&next));
        all.push(took);
        next = match answer.json()["next_cursor"].as_str() {
            Some(cursor) => format!("{target}&cursor={cursor}"),
            None => target.to_owned(),
        };
    }
    figure(&format!("{what}, p50"), &milliseconds(quantile(&mut all, 0.5)), "");
    figure(&format!("{what}, p99"), &milliseconds(quantile(&mut all, 0.99)), "< 5 ms");
}

fn milliseconds(time: Duration) -> String {
    format!("{:.2} ms", time.as_secs_f64() * 1e3)
}

/// Largest resident memory of a process so far, in MB.
fn memory(process: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap_or_default();
    let kilobytes: u64 =
        line.split_whitespace().next().and_then(|text| text.parse().ok()).unwrap_or(0);
    kilobytes / 1024
}
