//! What is done to a data folder while the service is stopped: export, import, restore,
//! verify, erase.

use std::path::{Path, PathBuf};

use etui_schema::vocabulary::{Reference, Zone};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::config::Config;
use crate::events::delivery::{self, DELIVERIES, PENDING, StoredDelivery};
use crate::events::stored::StoredEvent;
use crate::events::subscription::{SUBSCRIPTIONS, StoredSecret, StoredSubscription};
use crate::http::boot;
use crate::http::clock::{Sources, System};
use crate::store::backup;
use crate::store::dump::{self, ImportReport};
use crate::store::keyring::{KeyStorage, Keyring};
use crate::store::outbox::{EVENTS, EVENTS_BY_ID};
use crate::store::studio_key::StudioKey;
use crate::store::verify::{Checker, verify};
use crate::store::{Bytes, EmbeddedStore, Space, StoreConfig, record, seal};
use crate::studio::amendments::{self, AmendmentTrace};
use crate::studio::appointment_checks::{self, CheckTrace};
use crate::studio::artists::StoredArtist;
use crate::studio::clients::{self, StoredClient};
use crate::studio::documents::Document;
use crate::studio::history::Entry;
use crate::studio::kept_reports::ReportTrace;
use crate::studio::lots::{self, StoredLot};
use crate::studio::machines::StoredMachine;
use crate::studio::moment::Moment;
use crate::studio::observations::ObservationTrace;
use crate::studio::packs::{self, StoredPack};
use crate::studio::plan::Precondition;
use crate::studio::plugins::{self, StoredPlugin, StoredToken};
use crate::studio::reviews::{self, ReviewTrace};
use crate::studio::sealed::{StoredSealed, Trace};
use crate::studio::treatments::{self, TreatmentTrace};

/// Why something could not be done.
type Failed = Box<dyn std::error::Error>;

fn entropy(bytes: &mut [u8]) -> Result<(), seal::NoEntropy> {
    System.fill(bytes).map_err(|_| seal::NoEntropy)
}

/// Opens a data folder that exists.
fn open(data: &Path) -> Result<(EmbeddedStore, Keyring), Failed> {
    if !data.join("store").is_dir() {
        return Err(format!("{} holds no store", data.display()).into());
    }
    let (store, _) = EmbeddedStore::open(StoreConfig::new(data))?;
    let given = std::env::var("ETUI_STUDIO_KEY").ok();
    let studio = StudioKey::find_or_make(data, given.as_deref(), &mut entropy)?;
    let keyring = Keyring::open(data, studio, &mut entropy)?;
    Ok((store, keyring))
}

/// Writes everything as JSON Lines with a digest, and the clients' keys beside
/// it, sealed under the studio's key.
///
/// # Errors
/// Whatever kept it from being whole; then there is no file of that name.
pub async fn export(data: &Path, to: &Path) -> Result<Value, Failed> {
    let (store, keyring) = open(data)?;
    let at = System.now().to_string();
    let report = dump::export(&store, &keyring, to, &at, &mut entropy).await?;
    store.close().await?;
    Ok(json!({
        "file": to.display().to_string(),
        "records": report.records,
        "content_sha256": report.content_sha256,
        "sequence": report.sequence,
    }))
}

/// Restores an export into a new folder, under the studio's key it was made
/// with.
///
/// # Errors
/// An export that is not whole, a folder that is not empty, another key.
pub async fn import(from: &Path, data: &Path, key_file: Option<&PathBuf>) -> Result<Value, Failed> {
    let (studio, storage) = studio_key(key_file)?;
    let report = dump::import(from, StoreConfig::new(data), studio, storage, &mut entropy).await?;
    Ok(restored(data, &report))
}

/// Restores a backup into a new folder, under the studio's key it was made
/// with.
///
/// # Errors
/// A backup that is not whole, a folder that is not empty, another key.
pub async fn restore(
    from: &Path,
    data: &Path,
    key_file: Option<&PathBuf>,
) -> Result<Value, Failed> {
    let (studio, storage) = studio_key(key_file)?;
    let report =
        backup::restore(from, StoreConfig::new(data), studio, storage, &mut entropy).await?;
    Ok(restored(data, &report))
}

fn restored(data: &Path, report: &ImportReport) -> Value {
    json!({
        "data": data.display().to_string(),
        "records": report.records,
        "content_sha256": report.content_sha256,
        "exported_at": report.exported_at,
        "client_keys": report.client_keys,
    })
}

/// The studio's key out of a file or the environment.
fn studio_key(key_file: Option<&PathBuf>) -> Result<(StudioKey, KeyStorage), Failed> {
    let (text, storage) = match (key_file, std::env::var("ETUI_STUDIO_KEY")) {
        (Some(file), _) => (std::fs::read_to_string(file)?, KeyStorage::File),
        (None, Ok(text)) => (text, KeyStorage::Environment),
        (None, Err(_)) => {
            return Err(
                "say --studio-key FILE (the old folder's `studio-key`) or set ETUI_STUDIO_KEY"
                    .into(),
            );
        }
    };
    Ok((StudioKey::parse(&text)?, storage))
}

/// Walks every record, every index row, the audit chain and the clients' keys.
///
/// # Errors
/// A store that does not open or fails a checksum, or, with the report in its
/// text, one that is not sound.
pub async fn check(data: &Path) -> Result<Value, Failed> {
    let (store, keyring) = open(data)?;
    let indexes = [
        lots::BY_EXPIRY,
        lots::BY_CODE,
        treatments::BY_CLIENT,
        treatments::BY_LOT,
        appointment_checks::BY_BOOKING,
        appointment_checks::BY_START,
        plugins::BY_NAME,
        appointment_checks::BY_CLIENT,
        AmendmentTrace::BY_TREATMENT,
        ObservationTrace::BY_TREATMENT,
        ReportTrace::BY_TREATMENT,
        ReviewTrace::BY_TREATMENT,
        reviews::BY_ARTIST,
        EVENTS_BY_ID,
        PENDING,
    ];
    let report = verify(&store, Some(&keyring), checkers(&keyring), &indexes).await?;
    store.close().await?;
    let listed: Vec<Value> = report
        .listed
        .iter()
        .map(|finding| json!({ "space": finding.space, "key": finding.key, "what": finding.what }))
        .collect();
    let told = json!({
        "sound": report.is_sound(),
        "records": report.records,
        "sequence": report.sequence,
        "audit_links": report.audit_links,
        "findings": report.findings,
        "listed": listed,
    });
    if report.is_sound() { Ok(told) } else { Err(format!("the store is not sound: {told}").into()) }
}

/// Looks at the entries of one kind; `more` are the index rows they have besides
/// the one under their treatment.
fn entries<'a, E: Entry>(
    more: impl Fn(Uuid, &E) -> Vec<(Space, Bytes)> + Send + 'a,
) -> Checker<'a> {
    Checker {
        space: E::SPACE,
        check: Box::new(move |_, value| {
            let record: StoredSealed<E> =
                record::decode(value).map_err(|error| error.to_string())?;
            let mut rows = more(record.id, &record.trace);
            rows.push((E::BY_TREATMENT, record.trace.row(record.id)));
            Ok(rows)
        }),
    }
}

fn checkers(keyring: &Keyring) -> Vec<Checker<'_>> {
    let unreadable = |error: record::RecordError| error.to_string();
    vec![
        Checker {
            space: StoredArtist::SPACE,
            check: Box::new(move |_, value| {
                record::decode::<StoredArtist>(value).map(|_| Vec::new()).map_err(unreadable)
            }),
        },
        Checker {
            space: StoredMachine::SPACE,
            check: Box::new(move |_, value| {
                record::decode::<StoredMachine>(value).map(|_| Vec::new()).map_err(unreadable)
            }),
        },
        Checker {
            space: packs::PACKS,
            check: Box::new(move |_, value| {
                record::decode::<StoredPack>(value).map(|_| Vec::new()).map_err(unreadable)
            }),
        },
        Checker {
            space: clients::CLIENTS,
            check: Box::new(move |_, value| {
                record::decode::<StoredClient>(value).map(|_| Vec::new()).map_err(unreadable)
            }),
        },
        Checker {
            space: lots::LOTS,
            check: Box::new(move |_, value| {
                record::decode::<StoredLot>(value).map(|lot| lots::rows(&lot)).map_err(unreadable)
            }),
        },
        Checker {
            space: TreatmentTrace::SPACE,
            check: Box::new(move |_, value| {
                let record: StoredSealed<TreatmentTrace> =
                    record::decode(value).map_err(unreadable)?;
                Ok(treatments::rows(keyring, record.id, &record.trace))
            }),
        },
        Checker {
            space: CheckTrace::SPACE,
            check: Box::new(move |_, value| {
                let record: StoredSealed<CheckTrace> = record::decode(value).map_err(unreadable)?;
                Ok(appointment_checks::rows(keyring, record.id, &record.trace))
            }),
        },
        Checker {
            space: EVENTS,
            check: Box::new(move |_, value| {
                let event: StoredEvent = record::decode(value).map_err(unreadable)?;
                Ok(vec![(EVENTS_BY_ID, event.id.as_bytes().to_vec())])
            }),
        },
        Checker {
            space: SUBSCRIPTIONS,
            check: Box::new(move |key, value| {
                let held: StoredSubscription = record::decode(value).map_err(unreadable)?;
                let place = (SUBSCRIPTIONS, key);
                let opens = |s: &StoredSecret| keyring.studio_seal().open(place, &s.sealed).is_ok();
                let all = held.secrets.iter().all(opens);
                if all { Ok(Vec::new()) } else { Err("a secret does not open".to_owned()) }
            }),
        },
        Checker {
            space: DELIVERIES,
            check: Box::new(move |key, value| {
                let held: StoredDelivery = record::decode(value).map_err(unreadable)?;
                let row = delivery::pending_row(&held).map(|_| (PENDING, key.to_vec()));
                Ok(row.into_iter().collect())
            }),
        },
        Checker {
            space: plugins::PLUGINS,
            check: Box::new(move |_, value| {
                let plugin: StoredPlugin = record::decode(value).map_err(unreadable)?;
                Ok(plugins::rows(&keyring.index_key(), &plugin))
            }),
        },
        Checker {
            space: plugins::TOKENS,
            check: Box::new(move |_, value| {
                record::decode::<StoredToken>(value).map(|_| Vec::new()).map_err(unreadable)
            }),
        },
        entries(|_, trace: &AmendmentTrace| amendments::exposure_rows(trace)),
        entries(|_, _: &ObservationTrace| Vec::new()),
        entries(|_, _: &ReportTrace| Vec::new()),
        entries(|id, trace: &ReviewTrace| {
            vec![(reviews::BY_ARTIST, reviews::artist_row(keyring, id, trace))]
        }),
        Checker {
            space: EVENTS,
            check: Box::new(move |_, value| {
                let event: StoredEvent = record::decode(value).map_err(unreadable)?;
                Ok(vec![(EVENTS_BY_ID, event.id.as_bytes().to_vec())])
            }),
        },
        Checker {
            space: SUBSCRIPTIONS,
            check: Box::new(move |key, value| {
                let held: StoredSubscription = record::decode(value).map_err(unreadable)?;
                let place = (SUBSCRIPTIONS, key);
                let opens = |s: &StoredSecret| keyring.studio_seal().open(place, &s.sealed).is_ok();
                let all = held.secrets.iter().all(opens);
                if all { Ok(Vec::new()) } else { Err("a secret does not open".to_owned()) }
            }),
        },
        Checker {
            space: DELIVERIES,
            check: Box::new(move |key, value| {
                let held: StoredDelivery = record::decode(value).map_err(unreadable)?;
                let row = delivery::pending_row(&held).map(|_| (PENDING, key.to_vec()));
                Ok(row.into_iter().collect())
            }),
        },
    ]
}

/// Forgets a client while the service is stopped.
///
/// # Errors
/// If nothing is kept of the client, or what kept it from being done.
pub async fn erase(data: &Path, zone: Zone, client_ref: &Reference) -> Result<Value, Failed> {
    if !data.join("store").is_dir() {
        return Err(format!("{} holds no store", data.display()).into());
    }
    let config = Config::in_folder(data.to_owned(), zone);
    let sources = std::sync::Arc::new(System);
    let (studio, _) =
        boot::open_studio(&config, sources.as_ref(), crate::store::harden_sync()).await?;
    let now = sources.now();
    let moment = Moment {
        now,
        today: studio.zone.rules().to_datetime(now).date(),
        holder: "command line".to_owned(),
        sources,
    };
    let whatever = Precondition { if_match: Some("*".to_owned()), only_new: false };
    let receipt = clients::erase(&studio, &moment, client_ref, &whatever)
        .await
        .map_err(|error| format!("the client was not erased: {error:?}"))?;
    studio.engine.close().await?;
    Ok(serde_json::to_value(&receipt)?)
}
