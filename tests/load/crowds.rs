//! Many who want the same: due messages, packs of one lot.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use etui_service::store::SyncPath;
use etui_tests::child::Child;
use etui_tests::keep_alive::Connection;
use etui_tests::wire::Request;
use serde_json::json;

use crate::PROGRAM;
use crate::generate::fill;
use crate::ledger::{Better, Ledger};
use crate::timed::{ask, milliseconds, quantile};

/// Connections that claim.
const CLAIMERS: usize = 64;
/// Messages that are due.
const DUE: usize = 40_000;
/// How long they claim.
const LASTS: Duration = Duration::from_secs(5);
/// Writers on one lot, what each wants, and what is there.
const WRITERS: usize = 16;
const EACH: usize = 12;
const PACKS: usize = 150;

pub(crate) fn measure(ledger: &mut Ledger, sync_path: &SyncPath) {
    claims(ledger, sync_path);
    one_lot(ledger);
}

fn claims(ledger: &mut Ledger, sync_path: &SyncPath) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let data = folder.path().join("data");
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build();
    runtime.expect("a runtime").block_on(fill(&data, sync_path, (1_000, DUE), usize::MAX));
    let child = Child::spawn_with(PROGRAM, &data, &["--backup-every", "0s"]);
    let claim = Request::post("/v1/reminder-claims", &json!({ "limit": 5, "lease_seconds": 600 }));
    let began = Instant::now();
    let all: Vec<(Duration, Duration)> = std::thread::scope(|scope| {
        let one = || {
            let connection = Connection::open(child.address(), child.token());
            let mut connection = connection.expect("a connection");
            let mut took = Vec::new();
            // Until all are taken: what comes back empty costs next to nothing and is not counted.
            while began.elapsed() < LASTS {
                let (answer, time) = ask(&mut connection, &claim);
                if answer.json()["claim_id"].is_null() {
                    break;
                }
                took.push((time, began.elapsed()));
            }
            took
        };
        let claimers: Vec<_> = (0..CLAIMERS).map(|_| scope.spawn(one)).collect();
        claimers.into_iter().flat_map(|claimer| claimer.join().expect("a claimer")).collect()
    });
    let lasted = all.iter().map(|(_, at)| *at).max().unwrap_or(LASTS);
    let mut times: Vec<Duration> = all.into_iter().map(|(time, _)| time).collect();
    let what = "claims of 5 by 64 connections";
    ledger.note(
        &format!("{what}, p99"),
        milliseconds(quantile(&mut times, 0.99)),
        "ms",
        Better::Less,
        "< 150",
    );
    let rate = f64::from(u32::try_from(times.len()).unwrap_or(u32::MAX)) / lasted.as_secs_f64();
    ledger.note(what, rate, "a second", Better::More, "");
}

/// Writers on the packs of one lot: whoever is refused must be so for want of packs.
fn one_lot(ledger: &mut Ledger) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let child = Child::spawn(PROGRAM, folder.path());
    let text = "0.30 3RS LOT A1 EXP 2090-01 STERILE EO";
    let lot = child
        .call(&Request::post("/v1/lots", &json!({ "text": text, "packs": PACKS })))
        .json()["id"]
        .clone();
    let recorded = AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for writer in 0..WRITERS {
            let (child, lot, recorded) = (&child, &lot, &recorded);
            scope.spawn(move || {
                for n in 0..EACH {
                    let body = json!({
                        "client_ref": format!("client-{writer}-{n}"), "artist_ref": "artist-1", "treatment": "brows",
                        "performed_at": "2026-01-05T09:00:00Z", "packs": [{ "lot_id": lot, "intact": true }],
                    });
                    let status = child.call(&Request::post("/v1/treatments", &body)).status;
                    recorded.fetch_add(usize::from(status == 201), Ordering::Relaxed);
                }
            });
        }
    });
    let lacking = PACKS.saturating_sub(recorded.into_inner());
    let lacking = f64::from(u32::try_from(lacking).unwrap_or(u32::MAX));
    let what = format!(
        "{WRITERS} writers, {} draws on {PACKS} packs: refused while packs were left",
        WRITERS * EACH
    );
    ledger.note(&what, lacking, "draws", Better::Less, "0");
}
