//! What each thing costs with a thousand records, ten thousand, and so on, and
//! how fast that grows: the exponent *e* for which cost is as records to the *e*.
//!
//! It is the slope of a line through the logarithms, by least squares over the
//! sizes from the second on: below that a call costs what a call costs. 0 is
//! inherent in a page and in what one lot was used for; 1 in what reads
//! everything.

use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use etui_service::http::clock::System;
use etui_service::store::SyncPath;
use etui_service::studio::moment::Sources;
use etui_tests::child::Child;
use etui_tests::keep_alive::Connection;
use etui_tests::wire::Request;
use jiff::SignedDuration;
use serde_json::{Value, json};

use crate::figures::Spent;
use crate::generate::{Made, fill};
use crate::ledger::{Better, Ledger};
use crate::timed::{ask, milliseconds, quantile, walk};
use crate::{PROGRAM, setting};

/// Requests a figure rests on.
const TIMES: usize = 100;
/// Messages to come, in the order in which they are due.
const SOON: &str = "/v1/reminders?state=scheduled&due_before=2999-01-01T00:00:00Z&limit=10";
/// Messages that are due; claims take them.
const DUE: usize = 600;
/// Until the sweep at the start is over.
const FIRST_SWEEP: Duration = Duration::from_secs(10);
/// From one sweep to the next.
const SWEEP: Duration = Duration::from_secs(31);

/// Most that a backup takes.
const A_BACKUP: Duration = Duration::from_secs(900);

/// A cost at each size.
struct Costs {
    what: &'static str,
    /// The exponent that is inherent.
    inherent: f64,
    milliseconds: Vec<f64>,
}

pub(crate) fn measure(ledger: &mut Ledger, sync_path: &SyncPath) {
    let most = setting("ETUI_LOAD_RECORDS", 1_000_000);
    let sizes: Vec<usize> =
        (3..).map(|tens| 10_usize.pow(tens)).take_while(|size| *size <= most).collect();
    let mut all: Vec<Costs> = Vec::new();
    for &size in &sizes {
        let folder = tempfile::tempdir().expect("a temporary folder");
        for (at, (what, inherent, cost)) in
            costs(folder.path(), sync_path, size).into_iter().enumerate()
        {
            match all.get_mut(at) {
                Some(known) => known.milliseconds.push(cost),
                None => all.push(Costs { what, inherent, milliseconds: vec![cost] }),
            }
        }
    }
    for costs in all {
        for (size, cost) in sizes.iter().zip(&costs.milliseconds) {
            ledger.note(&format!("{}, of {size}", costs.what), *cost, "ms", Better::Less, "");
        }
        let aim = format!("≤ {}", costs.inherent);
        let name = format!("{}: exponent", costs.what);
        ledger.note(&name, exponent(&sizes, &costs.milliseconds), "", Better::Less, &aim);
    }
}

/// The slope through the logarithms, from the second size on.
fn exponent(sizes: &[usize], costs: &[f64]) -> f64 {
    let points: Vec<(f64, f64)> = sizes
        .iter()
        .zip(costs)
        .skip(1)
        .map(|(size, cost)| (f64::from(u32::try_from(*size).unwrap_or(u32::MAX)).ln(), cost.ln()))
        .collect();
    let count = f64::from(u32::try_from(points.len()).unwrap_or(u32::MAX));
    let (x, y) =
        points.iter().fold((0.0, 0.0), |(x, y), point| (x + point.0 / count, y + point.1 / count));
    let (over, under) = points.iter().fold((0.0, 0.0), |(over, under), point| {
        (over + (point.0 - x) * (point.1 - y), under + (point.0 - x) * (point.0 - x))
    });
    over / under
}

/// Everything at one size: what, the exponent that is inherent, milliseconds.
fn costs(folder: &Path, sync_path: &SyncPath, size: usize) -> Vec<(&'static str, f64, f64)> {
    let data = folder.join("data");
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build();
    let made = runtime.expect("a runtime").block_on(fill(&data, sync_path, (size, size), DUE));
    let backups = folder.join("backups");
    let more = ["--backup-every", "0s", "--backups", &backups.display().to_string()];
    let mut child = Child::spawn_with(PROGRAM, &data, &more);
    let mut all = vec![("open after a clean close", 1.0, milliseconds(child.took))];
    std::thread::sleep(FIRST_SWEEP);
    all.extend(lists(&child, &made));
    let before = Spent::by(child.id());
    std::thread::sleep(SWEEP);
    all.push((
        "a sweep, processor time of half a minute",
        0.0,
        1e3 * Spent::by(child.id()).since(&before),
    ));
    let mut connection = Connection::open(child.address(), child.token()).expect("a connection");
    all.extend(writes(&mut connection));
    connection.waits(A_BACKUP).expect("a longer wait");
    all.push((
        "a backup",
        1.0,
        milliseconds(ask(&mut connection, &Request::new("POST", "/v1/backups")).1),
    ));
    drop(connection);
    child.terminate();
    assert!(child.wait(Duration::from_secs(120)).is_some(), "it stops");
    all.push(("verify", 1.0, command(&["verify", "--data", &data.display().to_string()])));
    let to = folder.join("all.jsonl").display().to_string();
    all.push((
        "export",
        1.0,
        command(&["export", "--data", &data.display().to_string(), "--to", &to]),
    ));
    all
}

/// What is done each day, and a recall. A check reads every lot that lies in the drawer.
fn writes(connection: &mut Connection) -> Vec<(&'static str, f64, f64)> {
    let claim = json!({ "limit": 10, "lease_seconds": 600 });
    let lot = |n: usize| {
        let text = format!("0.30 3RS LOT NEW-{n} EXP 2090-01-01 STERILE EO");
        json!({ "text": text, "packs": 100, "maker": "south" })
    };
    let drawn = ask(connection, &Request::post("/v1/lots", &lot(TIMES))).0.json()["id"].clone();
    let treatment = |n: usize| {
        json!({
            "client_ref": format!("new-{n}"), "artist_ref": "artist-1", "treatment": "brows",
            "performed_at": "2026-01-05T09:00:00Z", "packs": [{ "lot_id": drawn, "intact": true }],
        })
    };
    let starts_at = (System.now() + SignedDuration::from_hours(48)).to_string();
    let check = |n: usize| {
        json!({
            "booking_ref": format!("booking-{n}"), "client_ref": format!("new-{n}"),
            "treatment": "brows", "effect": "soft_shading", "starts_at": starts_at,
            "born_on": "1990-05-02",
        })
    };
    let recall = |n: usize| json!({ "lot": format!("new {n}"), "maker": "south", "reason": "sterility in doubt" });
    let mut middle = |path: &str, body: &dyn Fn(usize) -> Value| {
        let one = |n| ask(connection, &Request::post(path, &body(n))).1;
        let mut took: Vec<Duration> = (0..TIMES / 2).map(one).collect();
        milliseconds(quantile(&mut took, 0.5))
    };
    vec![
        ("a claim of 10", 0.0, middle("/v1/reminder-claims", &|_| claim.clone())),
        ("a lot received", 0.0, middle("/v1/lots", &lot)),
        ("a treatment with one pack", 0.0, middle("/v1/treatments", &treatment)),
        ("a check", 1.0, middle("/v1/appointment-checks", &check)),
        ("a recall of a code", 0.0, middle("/v1/recalls", &recall)),
    ]
}

/// A page of each list, and what one lot was used for, a row.
fn lists(child: &Child, made: &Made) -> Vec<(&'static str, f64, f64)> {
    let mut connection = Connection::open(child.address(), child.token()).expect("a connection");
    let of_client = format!("/v1/treatments?client_ref={}&limit=10", made.client);
    let exposures = format!("/v1/lots/{}/exposures", made.recalled);
    let lists = [
        ("a page of 10 lots", "/v1/lots?limit=10"),
        ("the lots of a code", "/v1/lots?lot=L1&limit=10"),
        ("a page of 10 treatments", "/v1/treatments?limit=10"),
        ("10 treatments of a client", &of_client),
        ("a page of 10 reminders", "/v1/reminders?limit=10"),
        ("a page of 10 scheduled reminders", SOON),
        ("a page of 10 events", "/v1/events?limit=10"),
        ("what one lot was used for", &exposures),
        ("what a code was used for", "/v1/exposures?lot=l-2&maker=north"),
    ];
    let one = |(what, target): (&'static str, &str)| {
        let mut took = walk(&mut connection, target, TIMES);
        (what, 0.0, milliseconds(quantile(&mut took, 0.5)))
    };
    lists.into_iter().map(one).collect()
}

/// How long a command takes on a folder that nobody serves.
fn command(arguments: &[&str]) -> f64 {
    let began = Instant::now();
    let done = Command::new(PROGRAM).args(arguments).output().expect("the program runs");
    assert!(done.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
    milliseconds(began.elapsed())
}
