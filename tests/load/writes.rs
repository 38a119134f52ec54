//! Durable writes: the service over 16 connections against the bare engine.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use etui_tests::child::Child;
use etui_tests::keep_alive::Connection;

use crate::PROGRAM;
use crate::engine::{self, Write};
use crate::figures::median;
use crate::ledger::{Better, Ledger};

/// Connections, and writers on the bare engine.
const WRITERS: usize = 16;
/// How long each side writes in each round.
const LASTS: Duration = Duration::from_secs(5);
/// Rounds, one side after the other in each: a busy machine is busy for both.
const ROUNDS: usize = 5;

pub(crate) fn measure(ledger: &mut Ledger) {
    let (mut shares, mut rates) = (Vec::new(), Vec::new());
    for _ in 0..ROUNDS {
        let bare = {
            let folder = tempfile::tempdir().expect("a temporary folder");
            engine::writes_a_second(&folder.path().join("db"), WRITERS, LASTS, bare_write)
        };
        let service = of_service();
        shares.push(100.0 * service / bare);
        rates.push(service);
    }
    ledger.note(
        "durable writes over 16 connections",
        median(&mut rates),
        "a second",
        Better::More,
        "",
    );
    let what = "durable writes, of the bare engine's with the same syncs";
    ledger.note(what, median(&mut shares), "%", Better::More, "≥ 80");
}

/// The bytes that a delivery comes to in the store: record, two index rows,
/// link of the trail, its head, the counts.
fn bare_write(writer: usize, n: u64) -> Write {
    let id =
        [&[0; 6], &n.to_be_bytes()[..], &u16::try_from(writer).unwrap_or(0).to_be_bytes()].concat();
    let row = |prefix: &str| [prefix.as_bytes(), &id].concat();
    [
        (id.clone(), vec![b'x'; 620]),
        (row("2099-06-30"), Vec::new()),
        (row("L-0-0"), Vec::new()),
        (row(""), vec![b'y'; 380]),
        (b"head".to_vec(), vec![b'z'; 90]),
        (b"counts".to_vec(), n.to_be_bytes().to_vec()),
    ]
}

/// A request without any work that is not the service's.
fn delivery(child: &Child, writer: usize, n: u64) -> Vec<u8> {
    let (address, token) = (child.address(), child.token());
    let body = format!(
        r#"{{"text":"0.30 3RS\nLOT L-{writer}-{n}\nEXP 2099-06-30\nSTERILE EO","packs":5,"maker":"north"}}"#
    );
    format!(
        "POST /v1/lots HTTP/1.1\r\nHost: {address}\r\nAuthorization: Bearer {token}\r\n\
         Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    )
    .into_bytes()
}

fn of_service() -> f64 {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let child = Child::spawn_with(PROGRAM, folder.path(), &["--backup-every", "0s"]);
    let (done, count) = (AtomicBool::new(false), AtomicU64::new(0));
    let started = Instant::now();
    std::thread::scope(|scope| {
        for writer in 0..WRITERS {
            let (child, done, count) = (&child, &done, &count);
            scope.spawn(move || {
                let connection = Connection::open(child.address(), child.token());
                let mut connection = connection.expect("a connection");
                for n in 0.. {
                    if done.load(Ordering::Relaxed) {
                        return;
                    }
                    let answer = connection.exchange(&delivery(child, writer, n));
                    assert_eq!(answer.expect("an answer").status, 201);
                    count.fetch_add(1, Ordering::Relaxed);
                }
            });
        }
        std::thread::sleep(LASTS);
        done.store(true, Ordering::Relaxed);
    });
    #[expect(clippy::cast_precision_loss, reason = "a count of some thousands")]
    let written = count.load(Ordering::Relaxed) as f64;
    written / started.elapsed().as_secs_f64()
}
