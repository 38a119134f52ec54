//! A studio with a long memory.
//!
//! Most treatments lie years back and are written as the use case would write
//! them, many in one batch, so that a million take minutes. The newest are
//! recorded by the use case itself: they bring the reminders.

use std::path::Path;
use std::sync::Arc;
use std::time::Instant as Clock;

use etui_schema::treatments::{OpenedPack, PackUse, TreatmentRequest};
use etui_schema::vocabulary::{
    CivilDate, Configuration, Grouping, Instant, Language, Reference, Treatment,
};
use etui_service::config::Config;
use etui_service::http::boot::open_studio;
use etui_service::http::clock::System;
use etui_service::store::{Batch, Op, Serve, Store, SyncPath};
use etui_service::studio::Studio;
use etui_service::studio::lots::{self, StoredLot};
use etui_service::studio::moment::{Mandate, Moment, Sources};
use etui_service::studio::plan::to_json;
use etui_service::studio::reminders::REMINDERS;
use etui_service::studio::sealed::{self, Trace};
use etui_service::studio::treatments::{self, TreatmentTrace};
use etui_service::studio::vault;
use etui_tests::zone_by_day;
use jiff::SignedDuration;
use uuid::Uuid;

/// Treatments of one client in the bulk.
const PER_CLIENT: usize = 10;
/// Treatments of the one client whose list fills pages.
const OF_REGULAR: usize = 500;
/// Clients written in one batch.
const CLIENTS_A_BATCH: usize = 20;
/// Treatments with a pack of one lot in the bulk, about.
const PER_LOT: usize = 100;
/// Exposures of the lot that is called back.
pub(crate) const EXPOSED: usize = 2_000;
/// Recorded at once by the use case.
const TASKS: usize = 16;

/// What was made.
pub(crate) struct Made {
    /// The lot that is called back.
    pub(crate) recalled: Uuid,
    /// A client with treatments.
    pub(crate) client: String,
}

/// Fills an empty folder. Of the newest treatments the first `due` have messages that are due now;
/// those of the others come.
pub(crate) async fn fill(
    folder: &Path,
    sync_path: &SyncPath,
    (records, reminders): (usize, usize),
    due: usize,
) -> Made {
    let zone = zone_by_day(System.now()).parse().expect("a zone");
    let config = Config::in_folder(folder.to_owned(), zone);
    let opened = open_studio(&config, &System, sync_path.clone()).await;
    let studio = Arc::new(opened.expect("the studio opens").0);
    let lots = received(&studio, records / PER_LOT + TASKS + 1).await;
    let started = Clock::now();
    bulk(&studio, &lots, records).await;
    println!("{records} treatments written in {:.0} s", started.elapsed().as_secs_f64());
    let started = Clock::now();
    let made = recent(&studio, &lots, reminders, due).await;
    println!("{made} reminders written in {:.0} s", started.elapsed().as_secs_f64());
    studio.engine.close().await.expect("the store closes");
    Made { recalled: lots[0].id, client: client_of(0).to_string() }
}

pub(crate) fn moment(studio: &Studio) -> Moment {
    let now = System.now();
    let today = studio.zone.rules().to_datetime(now).date();
    let (holder, mandate) = ("load".to_owned(), Mandate::default());
    let event_source = studio.event_source.clone();
    Moment { now, dated: now, today, holder, mandate, event_source, sources: Arc::new(System) }
}

fn client_of(n: usize) -> Reference {
    format!("client-{n}").parse().expect("a reference")
}

async fn received(studio: &Studio, count: usize) -> Vec<StoredLot> {
    let moment = moment(studio);
    let one = |n: usize| StoredLot {
        id: moment.id().expect("an id"),
        configuration: Some(Configuration {
            diameter_mm: Some(0.3),
            count: Some(3),
            grouping: Some(Grouping::RoundShader),
            taper: None,
        }),
        lot: Some(format!("L{n}")),
        expires_on: Some(CivilDate(jiff::civil::date(2090, 1, 1))),
        reference: None,
        gtin: None,
        maker: Some("north".to_owned()),
        packs: 1_000_000,
        text: Some(format!("0.30 3RS\nLOT L{n}\nEXP 2090-01-01\nSTERILE EO")),
        symbol: None,
        received_at: Instant(moment.now),
        adjustments: Vec::new(),
        held: Vec::new(),
        recalled: None,
        version: 1,
        sterile: Some(true),
        printed_until: None,
        settled: Vec::new(),
        other_codes: Vec::new(),
        branch_ref: None,
        part_of: None,
        moves: Vec::new(),
        came_with: None,
        held_with: Vec::new(),
    };
    let all: Vec<StoredLot> = (0..count).map(one).collect();
    for part in all.chunks(500) {
        let mut batch = Batch::new();
        for lot in part {
            batch = lots::replace(batch, None, lot).expect("a lot can be written down");
        }
        studio.engine.commit(batch).await.expect("lots are written");
    }
    all
}

/// Treatments of years back, many in a batch.
async fn bulk(studio: &Arc<Studio>, lots: &[StoredLot], records: usize) {
    let clients = records.div_ceil(PER_CLIENT);
    let starts: Vec<usize> = (0..clients).step_by(CLIENTS_A_BATCH).collect();
    let mut running = tokio::task::JoinSet::new();
    for start in starts {
        if running.len() == TASKS {
            running.join_next().await;
        }
        let (studio, lots) = (studio.clone(), lots.to_vec());
        running.spawn(async move {
            let batch = batch_of(&studio, &lots, start..(start + CLIENTS_A_BATCH).min(clients));
            studio.engine.commit(batch.await).await.expect("treatments are written");
        });
    }
    while running.join_next().await.is_some() {}
}

async fn batch_of(studio: &Studio, lots: &[StoredLot], clients: std::ops::Range<usize>) -> Batch {
    let moment = moment(studio);
    let mut snap = studio.engine.snapshot().await.expect("a view");
    let mut batch = Batch::new();
    for client in clients {
        let subject = vault::Subject::Client(client_of(client));
        let access = vault::for_write(studio, &mut snap, &moment, &subject).await;
        let access = access.expect("a key");
        let count = if client == 0 { OF_REGULAR } else { PER_CLIENT };
        for of_client in 0..count {
            let n = client * PER_CLIENT + of_client;
            // The first lot is the one that is called back; the others share the rest.
            let lot =
                if 0 < client && n < EXPOSED { &lots[0] } else { &lots[1 + n % (lots.len() - 1)] };
            let request = request(n, client_of(client), lot, 2_000);
            batch = add(studio, &moment, batch, &access, (lot, request));
        }
        batch = access.guard(batch);
    }
    batch
}

fn request(n: usize, client_ref: Reference, lot: &StoredLot, days_back: i64) -> TreatmentRequest {
    let minutes = i64::try_from(n % 1_000_000).unwrap_or(0);
    let back = SignedDuration::from_hours(24 * days_back) - SignedDuration::from_mins(minutes);
    // The clock has gone on since the moment of the plan was read.
    let back = back + SignedDuration::from_secs(60);
    TreatmentRequest {
        client_ref,
        artist_ref: "artist-1".parse().expect("a reference"),
        machine_ref: None,
        treatment: Treatment::ALL[n % Treatment::ALL.len()],
        effect: None,
        performed_at: Instant(System.now() - back),
        branch_ref: None,
        zone: None,
        check_id: None,
        packs: vec![PackUse {
            lot_id: lot.id,
            intact: true,
            text: None,
            symbol: None,
            serial: None,
            site: None,
            used_although: None,
        }],
        pigments: Vec::new(),
        worked: None,
    }
}

/// Adds one treatment as the use case would, its reminders aside.
fn add(
    studio: &Studio,
    moment: &Moment,
    batch: Batch,
    access: &vault::Access,
    (lot, request): (&StoredLot, TreatmentRequest),
) -> Batch {
    let id = moment.id().expect("an id");
    let opened = |pack: &PackUse| OpenedPack {
        lot_id: pack.lot_id,
        lot: lot.lot.clone(),
        maker: lot.maker.clone(),
        reference: None,
        expires_on: lot.expires_on,
        serial: None,
        configuration: lot.configuration,
        canonical: lot.configuration.map(|c| c.canonical()),
        intact: true,
        text: None,
        symbol: None,
        site: None,
        used_although: None,
        struck_in: None,
    };
    let record = etui_schema::entries! { [etui_schema::recorded]
        id,
        client_ref: request.client_ref.clone(),
        artist_ref: request.artist_ref.clone(),
        machine_ref: None,
        treatment: request.treatment,
        effect: None,
        performed_at: request.performed_at,
        zone: studio.zone.clone(),
        check_id: None,
        packs: request.packs.iter().map(opened).collect(),
        pigments: Vec::new(),
        worked: None,
        flags: Vec::new(),
        recorded_at: Instant(moment.now),
        branch_ref: None,
        branch_from: None,
    };
    let trace = TreatmentTrace::of(&record);
    let answer = to_json(&record).expect("JSON");
    let keys = (&*studio.keyring, access);
    let made = sealed::add(batch, keys, moment, (id, trace.clone()), &request, &answer);
    let mut batch = made.expect("a record can be sealed");
    let exposures = trace.exposures(id);
    for (space, key) in trace.rows(&studio.keyring, id) {
        let value = if space == treatments::BY_LOT.space() {
            to_json(&exposures[0]).expect("JSON")
        } else {
            Vec::new()
        };
        batch = batch.put(space, key, value);
    }
    batch
}

/// Treatments of today, by the use case, until so many reminders are there.
async fn recent(studio: &Arc<Studio>, lots: &[StoredLot], reminders: usize, due: usize) -> usize {
    let mut made = 0;
    let mut n = 0;
    while made < reminders {
        // Each brings about eighteen messages: few at a time towards the end.
        let each = ((reminders - made) / (TASKS * 18)).clamp(1, 64);
        let mut running = tokio::task::JoinSet::new();
        for task in 0..TASKS {
            let studio = studio.clone();
            // A lot of its own each, so that none waits for another's count.
            let lot = lots[lots.len() - 1 - task].clone();
            let first = n + task * each;
            running.spawn(async move {
                let mut made = 0;
                for n in first..first + each {
                    made += record(&studio, &lot, n, n < due).await;
                }
                made
            });
        }
        n += TASKS * each;
        while let Some(done) = running.join_next().await {
            made += done.expect("a task");
        }
    }
    made
}

async fn record(studio: &Studio, lot: &StoredLot, n: usize, is_due: bool) -> usize {
    let moment = moment(studio);
    let client: Reference = format!("recent-{n}").parse().expect("a reference");
    let (minutes, days) = if is_due { (n % 1_000, 1) } else { (0, 0) };
    let request = request(minutes, client, lot, days);
    let mut snap = studio.engine.snapshot().await.expect("a view");
    let planned = treatments::create(studio, &mut snap, &moment, Language::En, &request).await;
    let batch = planned.expect("a treatment is recorded").batch;
    let is_reminder = |op: &Op| matches!(op, Op::Put(space, _, _) if *space == REMINDERS);
    let made = batch.ops.iter().filter(|op| is_reminder(op)).count();
    studio.engine.commit(batch).await.expect("it is written");
    made
}
