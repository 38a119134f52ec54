//! Reminders under crashes: claimers that die between any two steps, and a
//! service that is killed (SIGKILL) while they work.
//!
//! Each claimer keeps to what the interface asks of it: it sends only while
//! its lease lasts, and reports what it sent. What it "sends" goes into a
//! ledger in this process, which outlives every crash. At the end the ledger
//! must say of each message that it went out, once, or more than once where a
//! claimer could not report before its lease ended and the next one was told so
//! (`maybe_sent`).

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::net::SocketAddr;
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Mutex, RwLock};
use std::time::{Duration, Instant};

use etui_schema::reminders::{Lease, Reminder, ReminderClaim, ReminderState};
use etui_service::http::clock::{Sources, System};
use etui_tests::child::Child;
use etui_tests::keep_alive::Connection;
use etui_tests::wire::{Answer, Request};
use etui_tests::zone_by_day;
use jiff::{SignedDuration, Timestamp};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::child::{Dice, setting};

const PROGRAM: &str = env!("CARGO_BIN_EXE_etui_under_test");
const CLAIMERS: u64 = 8;
/// The shortest lease there is: what a dead claimer held comes back soonest.
const LEASE_SECONDS: u64 = 10;
/// A claimer stops sending this long before its lease ends.
const MARGIN: SignedDuration = SignedDuration::from_secs(1);
/// One in so many messages sees its claimer die before it is sent, and as many
/// after it was sent and before it is reported.
const DEATHS: u64 = 400;
/// How long the whole may take without any progress.
const PATIENCE: Duration = Duration::from_secs(60);

/// One message that a claimer sent.
#[derive(Debug, Clone)]
struct Sent {
    lease: Lease,
    /// When the claim that brought it was answered.
    handed_out: Timestamp,
    maybe_sent: bool,
    /// When the service had taken the report; `None`: the claimer died first,
    /// or never heard.
    reported: Option<Timestamp>,
}

/// The service as it is reached now; it moves with every start.
struct Service {
    at: RwLock<(SocketAddr, String)>,
    kills: AtomicU64,
}

impl Service {
    fn at(&self) -> (SocketAddr, String) {
        self.at.read().unwrap().clone()
    }

    fn moved_to(&self, child: &Child) {
        *self.at.write().unwrap() = (child.address(), child.token().to_owned());
    }
}

/// A claimer's connection, opened again when the service went away.
struct Line<'s> {
    service: &'s Service,
    open: Option<Connection>,
}

impl Line<'_> {
    fn try_ask(&mut self, request: &Request) -> io::Result<Answer> {
        let mut connection = match self.open.take() {
            Some(connection) => connection,
            None => {
                let (address, token) = self.service.at();
                Connection::open(address, &token)?
            }
        };
        let answer = connection.ask(request)?;
        self.open = Some(connection);
        Ok(answer)
    }

    /// Asks until the service is there to answer. `key` makes that safe.
    fn ask(&mut self, request: &Request, key: Uuid) -> Answer {
        let request = request.clone().header("Idempotency-Key", format!("\"{key}\""));
        let started = Instant::now();
        loop {
            match self.try_ask(&request) {
                Ok(answer) if answer.status < 500 => return answer,
                _ => std::thread::sleep(Duration::from_millis(20)),
            }
            assert!(started.elapsed() < PATIENCE, "{}: no answer", request.target);
        }
    }
}

/// 2,000 messages and 4 kills, or `ETUI_REMINDERS` and `ETUI_REMINDER_KILLS`.
#[test]
fn every_message_goes_out_whatever_dies() {
    let dir = tempfile::tempdir().unwrap();
    let wanted = usize::try_from(setting("ETUI_REMINDERS", 2_000)).unwrap();
    let kills = setting("ETUI_REMINDER_KILLS", 4);
    let child = start(dir.path());
    treat(&child, wanted);
    let due = due_now(&child);
    assert!(wanted <= due.len(), "{} messages are due", due.len());
    let service = Service {
        at: RwLock::new((child.address(), child.token().to_owned())),
        kills: AtomicU64::new(0),
    };
    let ledger: Mutex<BTreeMap<Uuid, Vec<Sent>>> = Mutex::new(BTreeMap::new());
    let (deaths, done) = (AtomicU64::new(0), AtomicBool::new(false));
    let started = Instant::now();
    let child = std::thread::scope(|scope| {
        for claimer in 0..CLAIMERS {
            let (service, ledger, deaths, done) = (&service, &ledger, &deaths, &done);
            scope.spawn(move || claim(service, ledger, deaths, done, Dice(claimer)));
        }
        let child = kill_now_and_then(child, dir.path(), &service, kills);
        wait_for_the_end(&child, &ledger);
        done.store(true, Ordering::Relaxed);
        child
    });
    let ledger = ledger.into_inner().unwrap();
    let again = judge(&child, &due, &ledger);
    eprintln!(
        "{} due messages, {} claimers, {} deaths of claimers, {} kills of the service, {:.0} s: \
         {} sent, {again} of them more than once and told so, 0 lost",
        due.len(),
        CLAIMERS,
        deaths.load(Ordering::Relaxed),
        service.kills.load(Ordering::Relaxed),
        started.elapsed().as_secs_f64(),
        ledger.len(),
    );
}

/// The clock that the service reads too.
fn now() -> Timestamp {
    System.now()
}

fn start(folder: &Path) -> Child {
    Child::spawn_with(PROGRAM, folder, &["--backup-every", "0s"])
}

/// Packs of one lot: as many as the drawer takes at once.
const PACKS: u64 = 10_000;

/// Records treatments until so many of their messages are due. Each writer has
/// lots of its own, so that none waits for another's count.
fn treat(child: &Child, wanted: usize) {
    let performed_at = now() - SignedDuration::from_hours(30);
    let mut connection = open(child);
    let lot = receive(&mut connection);
    record(&mut connection, &lot, performed_at, 0);
    let due = format!("/v1/reminders?due_before={}", now());
    let page = connection.ask(&Request::get(due)).unwrap().json();
    let each = page["items"].as_array().map_or(0, Vec::len);
    assert!(0 < each, "nothing is due: {page}");
    let treatments = u64::try_from(wanted.div_ceil(each)).unwrap();
    std::thread::scope(|scope| {
        for writer in 0..CLAIMERS {
            scope.spawn(move || {
                let mut connection = open(child);
                let mut lot = Value::Null;
                let mine = (1..=treatments).filter(|n| n % CLAIMERS == writer);
                for (used, n) in (0..).zip(mine) {
                    if used % PACKS == 0 {
                        lot = receive(&mut connection);
                    }
                    record(&mut connection, &lot, performed_at, n);
                }
            });
        }
    });
}

fn receive(connection: &mut Connection) -> Value {
    let lot = json!({ "text": "0.30 3RL LOT A1 EXP 2090-01-31 STERILE R", "packs": PACKS });
    let answer = connection.ask(&Request::post("/v1/lots", &lot)).unwrap();
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()["id"].clone()
}

/// Records one treatment.
fn record(connection: &mut Connection, lot: &Value, performed_at: Timestamp, n: u64) {
    let body = json!({
        "client_ref": format!("client-{n}"),
        "artist_ref": "artist-07",
        "treatment": "brows",
        "performed_at": performed_at.to_string(),
        "zone": zone_by_day(now()),
        "packs": [{ "lot_id": lot, "intact": true }],
    });
    let answer = connection.ask(&Request::post("/v1/treatments", &body)).unwrap();
    assert_eq!(answer.status, 201, "{}", answer.text());
}

fn open(child: &Child) -> Connection {
    Connection::open(child.address(), child.token()).unwrap()
}

/// Every message that is due, in the order of the list.
fn due_now(child: &Child) -> BTreeMap<Uuid, Reminder> {
    let mut connection = open(child);
    let first = format!("/v1/reminders?due_before={}&limit=200", now());
    let mut next = first.clone();
    let mut due = BTreeMap::new();
    loop {
        let answer = connection.ask(&Request::get(&next)).unwrap();
        assert_eq!(answer.status, 200, "{}", answer.text());
        let page = answer.json();
        let items: Vec<Reminder> = serde_json::from_value(page["items"].clone()).unwrap();
        due.extend(items.into_iter().map(|reminder| (reminder.id, reminder)));
        match page["next_cursor"].as_str() {
            Some(cursor) => next = format!("{first}&cursor={cursor}"),
            None => return due,
        }
    }
}

/// One claimer: when it dies, another takes its place at once and knows nothing.
fn claim(
    service: &Service,
    ledger: &Mutex<BTreeMap<Uuid, Vec<Sent>>>,
    deaths: &AtomicU64,
    done: &AtomicBool,
    mut dice: Dice,
) {
    while !done.load(Ordering::Relaxed) {
        let mut line = Line { service, open: None };
        while !done.load(Ordering::Relaxed) {
            let limit = 20 + dice.below(100);
            let body = json!({ "limit": limit, "lease_seconds": LEASE_SECONDS });
            let answer = line.ask(&Request::post("/v1/reminder-claims", &body), key());
            assert_eq!(answer.status, 201, "{}", answer.text());
            let claim: ReminderClaim = serde_json::from_value(answer.json()).unwrap();
            if claim.reminders.is_empty() {
                std::thread::sleep(Duration::from_millis(200));
            }
            if !work(&mut line, &claim, ledger, &mut dice) {
                deaths.fetch_add(1, Ordering::Relaxed);
                break;
            }
        }
    }
}

/// Sends and reports; `false` when the claimer died over it.
fn work(
    line: &mut Line<'_>,
    claim: &ReminderClaim,
    ledger: &Mutex<BTreeMap<Uuid, Vec<Sent>>>,
    dice: &mut Dice,
) -> bool {
    let handed_out = now();
    let Some(claim_id) = claim.claim_id else { return true };
    let lease = Lease { claim_id, until: claim.until };
    for reminder in &claim.reminders {
        if claim.until.0 - MARGIN <= now() {
            return true;
        }
        if dice.below(DEATHS) == 0 {
            return false;
        }
        let maybe_sent = reminder.maybe_sent;
        let sent = Sent { lease, handed_out, maybe_sent, reported: None };
        ledger.lock().unwrap().entry(reminder.id).or_default().push(sent);
        if dice.below(DEATHS) == 0 {
            return false;
        }
        let path = format!("/v1/reminders/{}/outcomes", reminder.id);
        let body = json!({ "claim_id": claim_id, "outcome": "delivered" });
        let answer = line.ask(&Request::post(path, &body), key());
        assert!(answer.status < 300, "{}", answer.text());
        let mut ledger = ledger.lock().unwrap();
        let sent = ledger
            .get_mut(&reminder.id)
            .and_then(|all| all.iter_mut().find(|sent| sent.lease.claim_id == claim_id));
        sent.unwrap().reported = Some(now());
    }
    true
}

/// A key of its own for each request.
fn key() -> Uuid {
    static KEYS: AtomicU64 = AtomicU64::new(0);
    Uuid::from_u64_pair(0, KEYS.fetch_add(1, Ordering::Relaxed))
}

fn kill_now_and_then(child: Child, folder: &Path, service: &Service, kills: u64) -> Child {
    let mut dice = Dice(99);
    let mut child = child;
    for _ in 0..kills {
        std::thread::sleep(Duration::from_millis(200 + dice.below(2_000)));
        child.kill();
        child = start(folder);
        service.moved_to(&child);
        service.kills.fetch_add(1, Ordering::Relaxed);
    }
    child
}

/// Waits until nothing is due and nobody holds anything.
fn wait_for_the_end(child: &Child, ledger: &Mutex<BTreeMap<Uuid, Vec<Sent>>>) {
    let (mut sent, mut since) = (0, Instant::now());
    loop {
        std::thread::sleep(Duration::from_millis(500));
        let is_empty = |state: ReminderState| {
            let list = format!("/v1/reminders?state={state}&due_before={}", now());
            child.call(&Request::get(list)).json()["items"].as_array().is_some_and(Vec::is_empty)
        };
        if is_empty(ReminderState::Scheduled) && is_empty(ReminderState::Leased) {
            return;
        }
        let count = ledger.lock().unwrap().values().map(Vec::len).sum();
        if sent < count {
            (sent, since) = (count, Instant::now());
        }
        assert!(since.elapsed() < PATIENCE, "{sent} sent, then nothing more");
    }
}

/// Holds the ledger against the rules; how many went out more than once.
fn judge(
    child: &Child,
    due: &BTreeMap<Uuid, Reminder>,
    ledger: &BTreeMap<Uuid, Vec<Sent>>,
) -> usize {
    let at_the_end = now();
    let lost: Vec<&Uuid> = due
        .iter()
        .filter(|(id, reminder)| !ledger.contains_key(id) && at_the_end < reminder.latest.0)
        .map(|(id, _)| id)
        .collect();
    assert!(lost.is_empty(), "{} messages were never sent", lost.len());
    for (id, all) in ledger {
        let claims: BTreeSet<Uuid> = all.iter().map(|sent| sent.lease.claim_id).collect();
        assert_eq!(claims.len(), all.len(), "{id} was handed out twice by one claim");
        for pair in all.windows(2) {
            let [first, second] = pair else { continue };
            assert!(first.lease.until.0 <= second.handed_out, "{id}: two leases at once");
            assert!(second.maybe_sent, "{id}: sent again, and nobody was told");
            assert!(
                first.reported.is_none_or(|at| second.handed_out <= at),
                "{id}: sent again after its report was taken"
            );
        }
    }
    let mut connection = open(child);
    for state in [ReminderState::Failed, ReminderState::Skipped] {
        let list = format!("/v1/reminders?state={state}");
        let answer = connection.ask(&Request::get(list)).unwrap().json();
        assert!(answer["items"].as_array().is_some_and(Vec::is_empty), "{state}: {answer}");
    }
    ledger.values().filter(|all| 1 < all.len()).count()
}
