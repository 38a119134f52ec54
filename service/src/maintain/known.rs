//! What `etui verify` knows of the spaces: how their records are read, and which
//! index rows each must have.

use uuid::Uuid;

use super::opener::Opener;
use crate::events::delivery::{self, DELIVERIES, PENDING, StoredDelivery};
use crate::events::stored::StoredEvent;
use crate::events::subscription::{SUBSCRIPTIONS, StoredSecret, StoredSubscription};
use crate::store::outbox::{EVENTS, EVENTS_BY_ID};
use crate::store::record::{self, Record};
use crate::store::seal::ClientId;
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
use crate::studio::packs::{self, StoredChanges, StoredPack};
use crate::studio::plugins::{self, StoredPlugin, StoredToken};
use crate::studio::reminders::{self, StoredReminder};
use crate::studio::restored::{self, StoredEpoch};
use crate::studio::reviews::{self, ReviewTrace};
use crate::studio::sealed::{StoredSealed, Trace, is_bound};
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
pub(super) fn checkers<'a>(opener: &'a Opener<'a>) -> Vec<Checker<'a>> {
    let keyring = opener.keyring;
    vec![
        records(StoredArtist::SPACE, |_, _: StoredArtist| Ok(Vec::new())),
        records(StoredMachine::SPACE, |_, _: StoredMachine| Ok(Vec::new())),
        records(restored::EPOCHS, |_, _: StoredEpoch| Ok(Vec::new())),
        records(StoredHabit::SPACE, |_, _: StoredHabit| Ok(Vec::new())),
        records(packs::PACKS, |_, _: StoredPack| Ok(Vec::new())),
        records(packs::CHANGES, |_, _: StoredChanges| Ok(Vec::new())),
        records(clients::CLIENTS, |key, client: StoredClient| {
            let id = key.try_into().map_err(|_| "its key is not a hash".to_owned())?;
            let (field, sealed_at, sealed) = client.part();
            let place = (clients::CLIENTS, key, field);
            opener.look(&ClientId::new(id), place, sealed_at, sealed)?;
            Ok(Vec::new())
        }),
        records(plugins::TOKENS, |_, _: StoredToken| Ok(Vec::new())),
        records(lots::LOTS, |_, lot: StoredLot| Ok(lots::rows(&lot))),
        records(reminders::REMINDERS, |key, reminder: StoredReminder| {
            if key != reminders::place_of(&reminder) {
                return Err("it lies in another's place".to_owned());
            }
            let (subject, place, sealed_at, sealed) = reminder.part();
            opener.look(&subject.id_in(keyring), place, sealed_at, sealed)?;
            Ok(reminders::rows(&reminder))
        }),
        records(plugins::PLUGINS, |_, plugin: StoredPlugin| {
            Ok(plugins::rows(&keyring.index_key(), &plugin))
        }),
        sealed_records(opener, |id, trace: &TreatmentTrace| {
            let mut rows = treatments::rows(keyring, id, trace);
            rows.extend(treatments::serial_rows(&trace.packs));
            rows
        }),
        sealed_records(opener, |id, trace: &CheckTrace| {
            appointment_checks::rows(keyring, id, trace)
        }),
        entries(opener, |_, trace: &AmendmentTrace| {
            let mut rows = amendments::exposure_rows(trace);
            rows.extend(treatments::serial_rows(&trace.added));
            rows
        }),
        entries(opener, |_, _: &ObservationTrace| Vec::new()),
        entries(opener, |_, _: &ReportTrace| Vec::new()),
        entries(opener, |_, _: &SettlementTrace| Vec::new()),
        entries(opener, |id, trace: &ReviewTrace| {
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

/// Looks at the records of one kind that are sealed but for their trace: the trace is the one that
/// was written, and the rest opens or was erased.
fn sealed_records<'a, T: Trace + 'a>(
    opener: &'a Opener<'a>,
    rows: impl Fn(Uuid, &T) -> IndexEntries + Send + 'a,
) -> Checker<'a> {
    let check = move |key: &[u8], value: &[u8]| {
        let record = record::decode::<StoredSealed<T>>(value).map_err(|error| error.to_string())?;
        if !is_bound::<T>(opener.keyring, value) {
            return Err("its trace is not the one that was written".to_owned());
        }
        let client = record.trace.subject().id_in(opener.keyring);
        for (field, sealed) in record.parts() {
            opener.look(&client, (T::SPACE, key, field), record.sealed_at(), sealed)?;
        }
        Ok(rows(record.id, &record.trace))
    };
    Checker { space: T::SPACE, check: Box::new(check) }
}

/// Looks at the entries of one kind; `more` are the index rows they have besides
/// the one under their treatment.
fn entries<'a, E: Entry + 'a>(
    opener: &'a Opener<'a>,
    more: impl Fn(Uuid, &E) -> Vec<(Space, Bytes)> + Send + 'a,
) -> Checker<'a> {
    sealed_records(opener, move |id, trace: &E| {
        let mut rows = more(id, trace);
        rows.push((E::BY_TREATMENT, trace.row(id)));
        rows
    })
}
