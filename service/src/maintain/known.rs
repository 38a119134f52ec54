//! What `etui verify` knows of the spaces: how their records are read, and which
//! index rows each must have.

use uuid::Uuid;

use crate::events::delivery::{self, DELIVERIES, PENDING, StoredDelivery};
use crate::events::stored::StoredEvent;
use crate::events::subscription::{SUBSCRIPTIONS, StoredSecret, StoredSubscription};
use crate::store::keyring::Keyring;
use crate::store::outbox::{EVENTS, EVENTS_BY_ID};
use crate::store::record::{self, Record};
use crate::store::verify::{Checker, Index, IndexEntries};
use crate::store::{Bytes, Space};
use crate::studio::amendments::{self, AmendmentTrace};
use crate::studio::appointment_checks::{self, CheckTrace};
use crate::studio::artists::StoredArtist;
use crate::studio::clients::{self, StoredClient};
use crate::studio::documents::Document;
use crate::studio::habits::StoredHabit;
use crate::studio::history::Entry;
use crate::studio::idempotency::{self, StoredAttempt};
use crate::studio::kept_reports::{ReportTrace, SettlementTrace};
use crate::studio::lots::{self, StoredLot};
use crate::studio::machines::StoredMachine;
use crate::studio::observations::ObservationTrace;
use crate::studio::packs::{self, StoredPack};
use crate::studio::plugins::{self, StoredPlugin, StoredToken};
use crate::studio::reminders::{self, StoredReminder};
use crate::studio::restored::{self, StoredEpoch};
use crate::studio::reviews::{self, ReviewTrace};
use crate::studio::sealed::{StoredSealed, Trace};
use crate::studio::treatments::{self, TreatmentTrace};

/// Every space that holds index rows only.
pub(super) const INDEXES: [Index; 20] = [
    Index::Whole(lots::BY_EXPIRY),
    Index::Whole(lots::BY_CODE),
    Index::Whole(treatments::BY_CLIENT),
    Index::Whole(treatments::BY_LOT),
    // A serial number is free again when its pack was struck.
    Index::Part(treatments::BY_SERIAL),
    Index::Whole(appointment_checks::BY_BOOKING),
    Index::Whole(appointment_checks::BY_START),
    Index::Whole(appointment_checks::BY_CLIENT),
    Index::Whole(plugins::BY_NAME),
    Index::Whole(AmendmentTrace::BY_TREATMENT),
    Index::Whole(ObservationTrace::BY_TREATMENT),
    Index::Whole(ReportTrace::BY_TREATMENT),
    Index::Whole(SettlementTrace::BY_TREATMENT),
    Index::Whole(ReviewTrace::BY_TREATMENT),
    Index::Whole(reviews::BY_ARTIST),
    Index::Whole(reminders::BY_ID),
    Index::Whole(reminders::BY_LEASE),
    // Keys from before they were forgotten have no row.
    Index::Part(idempotency::BY_END),
    Index::Whole(EVENTS_BY_ID),
    Index::Whole(PENDING),
];

/// Knows the records of every space that has some.
pub(super) fn checkers(keyring: &Keyring) -> Vec<Checker<'_>> {
    vec![
        records(StoredArtist::SPACE, |_, _: StoredArtist| Ok(Vec::new())),
        records(StoredMachine::SPACE, |_, _: StoredMachine| Ok(Vec::new())),
        records(restored::EPOCHS, |_, _: StoredEpoch| Ok(Vec::new())),
        records(StoredHabit::SPACE, |_, _: StoredHabit| Ok(Vec::new())),
        records(packs::PACKS, |_, _: StoredPack| Ok(Vec::new())),
        records(clients::CLIENTS, |_, _: StoredClient| Ok(Vec::new())),
        records(plugins::TOKENS, |_, _: StoredToken| Ok(Vec::new())),
        records(lots::LOTS, |_, lot: StoredLot| Ok(lots::rows(&lot))),
        records(reminders::REMINDERS, |key, reminder: StoredReminder| {
            if key == reminders::place_of(&reminder) {
                Ok(reminders::rows(&reminder))
            } else {
                Err("it lies in another's place".to_owned())
            }
        }),
        records(plugins::PLUGINS, |_, plugin: StoredPlugin| {
            Ok(plugins::rows(&keyring.index_key(), &plugin))
        }),
        records(TreatmentTrace::SPACE, |_, record: StoredSealed<TreatmentTrace>| {
            let mut rows = treatments::rows(keyring, record.id, &record.trace);
            rows.extend(treatments::serial_rows(&record.trace.packs));
            Ok(rows)
        }),
        records(CheckTrace::SPACE, |_, record: StoredSealed<CheckTrace>| {
            Ok(appointment_checks::rows(keyring, record.id, &record.trace))
        }),
        entries(|_, trace: &AmendmentTrace| {
            let mut rows = amendments::exposure_rows(trace);
            rows.extend(treatments::serial_rows(&trace.added));
            rows
        }),
        entries(|_, _: &ObservationTrace| Vec::new()),
        entries(|_, _: &ReportTrace| Vec::new()),
        entries(|_, _: &SettlementTrace| Vec::new()),
        entries(|id, trace: &ReviewTrace| {
            vec![(reviews::BY_ARTIST, reviews::artist_row(keyring, id, trace))]
        }),
        records(idempotency::ATTEMPTS, |key, attempt: StoredAttempt| {
            let key = key.try_into().map_err(|_| "its key is not a hash".to_owned())?;
            Ok(vec![idempotency::row(key, &attempt)])
        }),
        records(EVENTS, |_, event: StoredEvent| {
            Ok(vec![(EVENTS_BY_ID, event.id.as_bytes().to_vec())])
        }),
        records(SUBSCRIPTIONS, |key, held: StoredSubscription| {
            let place = (SUBSCRIPTIONS, key);
            let opens = |s: &StoredSecret| keyring.studio_seal().open(place, &s.sealed).is_ok();
            let all = held.secrets.iter().all(opens);
            if all { Ok(Vec::new()) } else { Err("a secret does not open".to_owned()) }
        }),
        records(DELIVERIES, |key, held: StoredDelivery| {
            let row = delivery::pending_row(&held).map(|_| (PENDING, key.to_vec()));
            Ok(row.into_iter().collect())
        }),
    ]
}

/// Looks at the records of one space: `rows` are the index rows that one must
/// have, or what is wrong with it.
fn records<'a, T: Record>(
    space: Space,
    rows: impl Fn(&[u8], T) -> Result<IndexEntries, String> + Send + 'a,
) -> Checker<'a> {
    let check = move |key: &[u8], value: &[u8]| {
        let record = record::decode(value).map_err(|error| error.to_string())?;
        rows(key, record)
    };
    Checker { space, check: Box::new(check) }
}

/// Looks at the entries of one kind; `more` are the index rows they have besides
/// the one under their treatment.
fn entries<'a, E: Entry + 'a>(
    more: impl Fn(Uuid, &E) -> Vec<(Space, Bytes)> + Send + 'a,
) -> Checker<'a> {
    records(E::SPACE, move |_, record: StoredSealed<E>| {
        let mut rows = more(record.id, &record.trace);
        rows.push((E::BY_TREATMENT, record.trace.row(record.id)));
        Ok(rows)
    })
}
