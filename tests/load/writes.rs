//! Durable writes: the service over 16 connections against the bare engine.
//!
//! The engine writes rows as long, and into as many trees, as those that the service plans for the
//! same calls.

use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use etui_schema::vocabulary::Language;
use etui_service::config::Config;
use etui_service::http::boot::open_studio;
use etui_service::http::clock::System;
use etui_service::store::{Batch, Op, Serve, Store, SyncPath};
use etui_service::studio::engine::Snap;
use etui_service::studio::moment::{Moment, Sources};
use etui_service::studio::plan::{Planned, Precondition};
use etui_service::studio::{Error, Studio, appointment_checks, clients, lots, treatments};
use etui_tests::child::Child;
use etui_tests::keep_alive::Connection;
use jiff::SignedDuration;

use crate::PROGRAM;
use crate::engine::{self, Write};
use crate::figures::median;
use crate::generate::moment;
use crate::ledger::{Better, Ledger};

/// Connections, and writers on the bare engine.
const WRITERS: usize = 16;
/// How long each side writes in each round.
const LASTS: Duration = Duration::from_secs(4);
/// Rounds, one side after the other in each: a busy machine is busy for both.
const ROUNDS: usize = 5;
/// Visits of a client, one after the other.
const VISITS: u64 = 4;
/// Packs of the lot that each writer draws from.
const PACKS: u32 = 10_000;

/// What is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// The check of an appointment, then the treatment with a pack from the drawer.
    Visit,
    /// A lot, read from its label.
    Delivery,
    /// The record of a client who is new.
    Client,
}

pub(crate) fn measure(ledger: &mut Ledger, sync_path: &SyncPath) {
    for (kind, what, aim) in [
        (Kind::Visit, "durable checks and treatments", "≥ 80"),
        (Kind::Delivery, "durable deliveries", ""),
        (Kind::Client, "durable records of clients", ""),
    ] {
        let rows = rows_of(sync_path, kind);
        let (mut shares, mut rates) = (Vec::new(), Vec::new());
        for _ in 0..ROUNDS {
            let bare = {
                let folder = tempfile::tempdir().expect("a temporary folder");
                let folder = folder.path().join("db");
                engine::writes_a_second(&folder, WRITERS, LASTS, |at, n| bare(&rows, at, n))
            };
            let service = of_service(kind);
            shares.push(100.0 * service / bare);
            rates.push(service);
        }
        let name = format!("{what} over 16 connections");
        ledger.note(&name, median(&mut rates), "a second", Better::More, "");
        let name = format!("{what}, of the bare engine's with the same rows and syncs");
        ledger.note(&name, median(&mut shares), "%", Better::More, aim);
    }
}

fn lot(writer: usize, n: u64, packs: u32) -> String {
    let text = format!(r"0.30 3RS\nLOT L-{writer}-{n}\nEXP 2099-06-30\nSTERILE EO");
    format!(r#"{{"text":"{text}","packs":{packs},"maker":"north"}}"#)
}

fn client_of(writer: usize, n: u64) -> String {
    format!("client-{writer}-{n}")
}

fn check(writer: usize, n: u64) -> String {
    let starts_at = System.now() + SignedDuration::from_hours(48);
    format!(
        r#"{{"booking_ref":"booking-{writer}-{n}","client_ref":"{}","treatment":"brows",
        "effect":"soft_shading","starts_at":"{starts_at}","born_on":"1990-05-02"}}"#,
        client_of(writer, n / VISITS)
    )
}

fn treatment(writer: usize, n: u64, (check, lot): (&str, &str)) -> String {
    let performed_at = System.now() - SignedDuration::from_secs(60);
    format!(
        r#"{{"client_ref":"{}","artist_ref":"artist-1","treatment":"brows","check_id":"{check}",
        "performed_at":"{performed_at}","packs":[{{"lot_id":"{lot}","intact":true}}]}}"#,
        client_of(writer, n / VISITS)
    )
}

const CLIENT: &str = r#"{"born_on":"1990-05-02"}"#;

/// The rows of each batch that the service plans, one call after the other.
fn rows_of(sync_path: &SyncPath, kind: Kind) -> Vec<Write> {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build();
    runtime.expect("a runtime").block_on(async {
        let batches = batches_of(folder.path(), sync_path, kind).await;
        let mut trees = Vec::new();
        batches.iter().map(|batch| shape(batch, &mut trees)).collect()
    })
}

async fn batches_of(folder: &Path, sync_path: &SyncPath, kind: Kind) -> Vec<Batch> {
    let config = Config::in_folder(folder.to_owned(), "UTC".parse().expect("a zone"));
    let opened = open_studio(&config, &System, sync_path.clone()).await;
    let studio = opened.expect("the studio opens").0;
    let plan = Plan { studio: &studio, moment: moment(&studio) };
    let received = async |snap: &mut Snap, moment: &Moment| {
        lots::receive(&studio, snap, moment, &read(&lot(0, 0, PACKS))).await
    };
    let batches = match kind {
        Kind::Visit => {
            let (lot, _) = plan.done(received).await;
            let (check, first) = plan
                .done(async |snap, moment| {
                    let request = read(&check(0, 0));
                    appointment_checks::create(&studio, snap, moment, Language::En, &request).await
                })
                .await;
            let (_, second) = plan
                .done(async |snap, moment| {
                    let request = read(&treatment(0, 0, (&check, &lot)));
                    treatments::create(&studio, snap, moment, Language::En, &request).await
                })
                .await;
            vec![first, second]
        }
        Kind::Delivery => vec![plan.done(received).await.1],
        Kind::Client => {
            let put = async |snap: &mut Snap, moment: &Moment| {
                let (client, new) =
                    (client_of(0, 0), Precondition { if_match: None, only_new: true });
                let client = client.parse().expect("a reference");
                clients::put(&studio, snap, moment, &client, &read(CLIENT), &new).await
            };
            vec![plan.done(put).await.1]
        }
    };
    studio.engine.close().await.expect("the store closes");
    batches
}

fn read<T: serde::de::DeserializeOwned>(body: &str) -> T {
    serde_json::from_str(body).expect("a request")
}

/// Where batches are planned and committed without a server.
struct Plan<'s> {
    studio: &'s Studio,
    moment: Moment,
}

impl Plan<'_> {
    /// The id of what comes to be, and the batch that brought it.
    async fn done(
        &self,
        plan: impl AsyncFn(&mut Snap, &Moment) -> Result<Planned, Error>,
    ) -> (String, Batch) {
        let mut snap = self.studio.engine.snapshot().await.expect("a view");
        let Planned { answer, batch, .. } = plan(&mut snap, &self.moment).await.expect("a plan");
        drop(snap);
        self.studio.engine.commit(batch.clone()).await.expect("it is written");
        (id_in(&String::from_utf8_lossy(&answer)).to_owned(), batch)
    }
}

/// The first id in an answer: its record's.
fn id_in(answer: &str) -> &str {
    let after = answer.split_once(r#""id":""#).map_or("", |(_, after)| after);
    after.split('"').next().unwrap_or_default()
}

/// The rows of a batch, with what the committer adds: links of the trail, numbers of events, counts.
fn shape(batch: &Batch, trees: &mut Vec<&'static str>) -> Write {
    let mut rows: Vec<(&'static str, Vec<u8>, Vec<u8>)> = Vec::new();
    for op in &batch.ops {
        if let Op::Put(space, key, value) = op {
            rows.push((space.name(), key.clone(), value.clone()));
        }
    }
    for event in &batch.events {
        rows.push(("events", vec![0; 8], event.value.clone()));
        rows.push(("events-by-id", vec![0; 16], vec![0; 8]));
        rows.push(("_event-head", b"head".to_vec(), vec![0; 8]));
    }
    if batch.audit.is_some() {
        rows.push(("audit", vec![0; 8], vec![b'y'; 380]));
        rows.push(("_audit-head", b"head".to_vec(), vec![b'z'; 90]));
    }
    rows.push(("counts", b"counts".to_vec(), vec![0; 8]));
    let mut tree = |name| match trees.iter().position(|known| *known == name) {
        Some(at) => at,
        None => {
            trees.push(name);
            trees.len() - 1
        }
    };
    rows.into_iter().map(|(name, key, value)| (tree(name), key, value)).collect()
}

/// One of these batches, its rows under keys of their own but for those that every batch writes.
fn bare(rows: &[Write], writer: usize, n: u64) -> Write {
    let own = [&n.to_be_bytes()[2..], &u16::try_from(writer).unwrap_or(0).to_be_bytes()].concat();
    let at = usize::try_from(n).unwrap_or(0) % rows.len();
    let mut write = rows[at].clone();
    for (place, (_, key, _)) in write.iter_mut().enumerate() {
        if let Some(start) = key.len().checked_sub(own.len()) {
            key[start..].copy_from_slice(&own);
            // Rows of one batch in one tree are not one row.
            key[start] ^= u8::try_from(place).unwrap_or(0);
        }
    }
    write
}

/// A request without any work that is not the service's.
fn bytes(child: &Child, line: &str, body: &str) -> Vec<u8> {
    let (address, token) = (child.address(), child.token());
    format!(
        "{line} HTTP/1.1\r\nHost: {address}\r\nAuthorization: Bearer {token}\r\n\
         Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    )
    .into_bytes()
}

/// One writer of the service.
struct Writer<'c> {
    child: &'c Child,
    connection: Connection,
    at: usize,
}

impl Writer<'_> {
    /// Sends it; the id of what came to be.
    fn send(&mut self, line: &str, body: &str) -> String {
        let answer = self.connection.exchange(&bytes(self.child, line, body)).expect("an answer");
        assert_eq!(answer.status, 201, "{line}: {}", answer.text());
        id_in(&answer.text()).to_owned()
    }

    /// Writes once more; how many writes that were.
    fn write(&mut self, kind: Kind, n: u64, drawn: &str) -> u64 {
        match kind {
            Kind::Visit => {
                let check = self.send("POST /v1/appointment-checks", &check(self.at, n));
                let body = treatment(self.at, n, (&check, drawn));
                self.send("POST /v1/treatments", &body);
                return 2;
            }
            Kind::Delivery => self.send("POST /v1/lots", &lot(self.at, n, 5)),
            Kind::Client => {
                self.send(&format!("PUT /v1/clients/{}", client_of(self.at, n)), CLIENT)
            }
        };
        1
    }
}

fn of_service(kind: Kind) -> f64 {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let child = Child::spawn_with(PROGRAM, folder.path(), &["--backup-every", "0s"]);
    let (done, count) = (AtomicBool::new(false), AtomicU64::new(0));
    let writers: Vec<(Writer<'_>, String)> = (0..WRITERS)
        .map(|at| {
            let connection = Connection::open(child.address(), child.token());
            let connection = connection.expect("a connection");
            let mut writer = Writer { child: &child, connection, at };
            let is_drawn = kind == Kind::Visit;
            let drawn = is_drawn.then(|| writer.send("POST /v1/lots", &lot(at, 0, PACKS)));
            (writer, drawn.unwrap_or_default())
        })
        .collect();
    let started = Instant::now();
    std::thread::scope(|scope| {
        for (mut writer, drawn) in writers {
            let (done, count) = (&done, &count);
            scope.spawn(move || {
                for n in 0.. {
                    if done.load(Ordering::Relaxed) {
                        return;
                    }
                    count.fetch_add(writer.write(kind, n, &drawn), Ordering::Relaxed);
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
