//! The register of kinds: every kind of record that is kept has one line here.
//!
//! What one kind is stands with its type: its space, its version, its index rows,
//! whose key seals it. What is done with *all* of them is read from here: an
//! answer that is given again, `etui verify`, the entries of a treatment that
//! stay after an erasure or go with it.
//!
//! `history::whole` names the kinds of entries once more, since each has its
//! own member in the answer.

use std::pin::Pin;

use serde_json::Value;
use uuid::Uuid;

use super::appointment_checks::CheckTrace;
use super::artists::StoredArtist;
use super::branches::StoredBranch;
use super::calendars::{self, StoredCalendar};
use super::clients::StoredClient;
use super::documents::Document;
use super::engine::Snap;
use super::entries::{self, Entry, EntryKind};
use super::error::{Error, readable};
use super::habits::StoredHabit;
use super::idempotency::{Kept, StoredAttempt};
use super::machines::StoredMachine;
use super::moment::Mandate;
use super::opener::{Opener, Verified};
use super::packs::{CHANGES, PACKS, StoredChanges, StoredPack};
use super::plugins::{StoredPlugin, StoredToken, TOKENS};
use super::practice::{HandInTrace, MarksTrace, SheetTrace};
use super::reminders::{self, StoredClaim, StoredReminder, StoredStop};
use super::restored::{EPOCHS, StoredEpoch};
use super::sealed::{self, StoredSealed, Trace, answer_of, is_bound};
use super::sight;
use super::sign_offs::{self, StoredSignOff};
use super::symptom_reports::Settled;
use super::treatments::TreatmentTrace;
use super::{
    Studio,
    lots::{StoredLot, StoredRecall},
};
use crate::events::delivery::{self, DELIVERIES, PENDING, StoredDelivery};
use crate::events::stored::StoredEvent;
use crate::events::subscription::{SUBSCRIPTIONS, StoredSecret, StoredSubscription};
use crate::store::keyring::Keyring;
use crate::store::outbox::{EVENTS, EVENTS_BY_ID};
use crate::store::record::{self, Record};
use crate::store::verify::{Check, Checker, IndexEntries, Indexed};
use crate::store::{Batch, Read, Space};

/// Every kind.
pub fn kinds() -> impl Iterator<Item = &'static Kind> {
    ENTRIES.iter().map(|entries| &entries.kind).chain(KINDS)
}

macro_rules! of_entries {
    ([] $($(#[$doc:meta])* $member:ident $name:ident $types:tt $calls:tt $more:tt)*) => {
        &[$(OfTreatment::kind::<super::$member::Own>(),)* OfTreatment::kind::<Settled>()]
    };
}

/// The entries of a treatment.
const ENTRIES: &[OfTreatment] = etui_schema::entries!(of_entries);

/// Every other kind.
const KINDS: &[Kind] = &[
    Kind::sealed::<TreatmentTrace>(),
    Kind::sealed::<CheckTrace>(),
    Kind::sealed::<SheetTrace>(),
    Kind::sealed::<HandInTrace>(),
    Kind::sealed::<MarksTrace>(),
    Kind::document::<StoredArtist>(),
    Kind::document::<StoredMachine>(),
    Kind::document::<StoredBranch>(),
    Kind::document::<StoredHabit>(),
    Kind::record::<StoredClient>(),
    Kind::record::<StoredLot>(),
    Kind::record::<StoredRecall>(),
    Kind::record::<StoredReminder>(),
    Kind::record::<StoredStop>(),
    Kind::record::<StoredClaim>()
        .repeated(|s, snap, by, stored| Box::pin(reminders::repeat(s, snap, by, stored))),
    Kind::record::<StoredCalendar>()
        .repeated(|s, snap, _, stored| Box::pin(calendars::repeat(s, snap, stored))),
    Kind::record::<StoredSignOff>()
        .repeated(|s, snap, _, stored| Box::pin(sign_offs::repeat(s, snap, stored))),
    Kind::record::<StoredPack>(),
    Kind::record::<StoredChanges>(),
    Kind::record::<StoredPlugin>(),
    Kind::record::<StoredToken>(),
    Kind::record::<StoredAttempt>(),
    Kind::record::<StoredEpoch>(),
    Kind::record::<StoredEvent>(),
    Kind::record::<StoredSubscription>(),
    Kind::record::<StoredDelivery>(),
];

/// Where no record of a kind lies: keys and heads, index rows that only some records have,
/// what is still to be told or asked, receipts, and where reminders lay in former builds.
const BESIDE: &[&str] = &[
    "_audit-head",
    "_client-keys",
    "_event-head",
    "_key-epochs",
    "_shared",
    "artists-removed",
    "audit",
    "countersignatures-to-ask",
    "erasures",
    "lots-code-turns",
    "lots-told",
    "plugin-token-uses",
    "reminders",
    "reminders-by-state",
    "reminders-by-treatment",
    "reminders-to-tell",
    "reviews-to-tell",
    "sign-offs-told",
    "subscription-cursors",
    "subscriptions-removed",
];

/// Whether this program keeps anything in a space of that name.
#[must_use]
pub fn keeps_in(space: &str) -> bool {
    let of_kind = |kind: &Kind| {
        kind.space.name() == space || kind.indexes.iter().any(|index| index.space().name() == space)
    };
    kinds().any(of_kind) || BESIDE.contains(&space)
}

type Later<'a, T> = Pin<Box<dyn Future<Output = Result<T, Error>> + Send + 'a>>;
/// The answer that follows from a record as stored, of it what the caller reaches.
type Repeats = for<'a> fn(&'a Studio, &'a mut Snap, &'a Mandate, &'a [u8]) -> Later<'a, Vec<u8>>;

/// One kind of record.
pub struct Kind {
    /// Where its records lie.
    pub space: Space,
    /// What they are called.
    pub what: &'static str,
    /// Where their index rows lie, and only they.
    pub indexes: &'static [Indexed],
    check: for<'a> fn(&'a Opener<'a>) -> Check<'a>,
    repeat: Option<Repeats>,
}

/// One kind of entry, and what is done with those of a treatment.
struct OfTreatment {
    kind: Kind,
    open: for<'a> fn(&'a mut Snap, Uuid) -> Later<'a, Vec<Value>>,
    remove: for<'a> fn(&'a Keyring, &'a mut Snap, Batch, Uuid) -> Later<'a, Batch>,
}

impl OfTreatment {
    const fn kind<K: EntryKind>() -> Self {
        Self {
            kind: Kind::sealed::<Entry<K>>(),
            open: |snap, treatment| Box::pin(open::<K>(snap, treatment)),
            remove: |keyring, snap, batch, treatment| {
                Box::pin(remove::<K>(keyring, snap, batch, treatment))
            },
        }
    }
}

impl Kind {
    const fn record<T: Verified>() -> Self {
        Self {
            space: T::SPACE,
            what: T::KIND,
            indexes: T::INDEXES,
            check: |opener| checked::<T>(move |key, record| record.rows(key, opener)),
            repeat: None,
        }
    }

    const fn document<D: Document>() -> Self {
        Self {
            space: D::SPACE,
            what: D::WHAT,
            indexes: &[],
            check: |_| checked::<D>(|_, _| Ok(Vec::new())),
            repeat: None,
        }
    }

    const fn sealed<T: Trace>() -> Self {
        Self {
            space: T::SPACE,
            what: T::WHAT,
            indexes: T::INDEXES,
            check: |opener| {
                Box::new(move |key: &[u8], value: &[u8]| look_at_sealed::<T>(opener, key, value))
            },
            repeat: Some(|studio, snap, _, stored| Box::pin(answer_of::<T>(studio, snap, stored))),
        }
    }

    const fn repeated(self, repeat: Repeats) -> Self {
        Self { repeat: Some(repeat), ..self }
    }

    /// What `etui verify` looks at in its records.
    #[must_use]
    pub fn checker<'a>(&self, opener: &'a Opener<'a>) -> Checker<'a> {
        Checker { space: self.space, check: (self.check)(opener) }
    }
}

/// The answer that was given to an earlier attempt.
///
/// # Errors
/// [`Error::Erased`] if it was sealed for a client who was erased since, or if the record it was
/// sealed with was removed; [`Error::Beyond`] if it names what the caller does not reach any more;
/// what the store met.
pub async fn repeat(
    studio: &Studio,
    snap: &mut Snap,
    mandate: &Mandate,
    kept: Kept,
) -> Result<Vec<u8>, Error> {
    let of = |name: &str| {
        let kind = kinds().find(|kind| kind.space.name() == name);
        let found = kind.and_then(|kind| Some((kind.space, kind.repeat?)));
        found.ok_or_else(|| Error::Unreadable(format!("nothing is repeated from {name}")))
    };
    let (repeat, stored) = match kept {
        Kept::Answer(text) => {
            sight::kept(mandate, &text)?;
            return Ok(text.into_bytes());
        }
        Kept::Copy(space, stored) => (of(&space)?.1, Some(stored.into_bytes())),
        Kept::Record(space, key) => {
            let (space, repeat) = of(&space)?;
            (repeat, snap.get(space, &key).await?)
        }
    };
    match repeat(studio, snap, mandate, &stored.ok_or(Error::Erased)?).await {
        Err(Error::NotFound { .. }) => Err(Error::Erased),
        repeated => repeated,
    }
}

/// What lies open of the entries of a treatment, each with its kind.
///
/// # Errors
/// What the store met.
pub async fn open_of(
    snap: &mut Snap,
    treatment: Uuid,
) -> Result<Vec<(&'static str, Value)>, Error> {
    let mut all = Vec::new();
    for entries in ENTRIES {
        let open = (entries.open)(snap, treatment).await?;
        all.extend(open.into_iter().map(|open| (entries.kind.what, open)));
    }
    Ok(all)
}

/// Adds to a batch that every entry of a treatment is gone.
///
/// # Errors
/// What the store met.
pub async fn remove_of(
    keyring: &Keyring,
    snap: &mut Snap,
    mut batch: Batch,
    treatment: Uuid,
) -> Result<Batch, Error> {
    for entries in ENTRIES {
        batch = (entries.remove)(keyring, snap, batch, treatment).await?;
    }
    Ok(batch)
}

async fn open<K: EntryKind>(snap: &mut Snap, treatment: Uuid) -> Result<Vec<Value>, Error> {
    let ids = entries::ids::<K>(snap, treatment).await?;
    let mut all = Vec::with_capacity(ids.len());
    for stored in sealed::load_many::<Entry<K>>(snap, &ids).await? {
        let Some(stored) = readable(stored)? else { continue };
        let open = serde_json::to_value(stored.trace);
        all.push(open.map_err(|e| Error::Internal(e.to_string()))?);
    }
    Ok(all)
}

async fn remove<K: EntryKind>(
    keyring: &Keyring,
    snap: &mut Snap,
    mut batch: Batch,
    treatment: Uuid,
) -> Result<Batch, Error> {
    for id in entries::ids::<K>(snap, treatment).await? {
        batch = sealed::remove::<Entry<K>>(keyring, snap, batch, id).await?;
    }
    Ok(batch)
}

/// Looks at a record: whether it can be read, and which index rows it must have.
fn checked<'a, T: Record>(
    rows: impl Fn(&[u8], T) -> Result<IndexEntries, String> + Send + 'a,
) -> Check<'a> {
    Box::new(move |key, value| rows(key, record::decode(value).map_err(|error| error.to_string())?))
}

/// Looks at a record that is sealed but for its trace: the trace is the one that was written, and
/// the rest opens or was erased.
fn look_at_sealed<T: Trace>(
    opener: &Opener<'_>,
    key: &[u8],
    value: &[u8],
) -> Result<IndexEntries, String> {
    let record = record::decode::<StoredSealed<T>>(value).map_err(|error| error.to_string())?;
    if !is_bound::<T>(opener.keyring, value) {
        return Err("its trace is not the one that was written".to_owned());
    }
    let client = record.trace.subject().id_in(opener.keyring);
    for (field, sealed) in record.parts() {
        opener.look(&client, (T::SPACE, key, field), record.sealed_at(), sealed)?;
    }
    Ok(record.trace.rows(opener.keyring, record.id))
}

impl Verified for StoredPack {
    const SPACE: Space = PACKS;
}

impl Verified for StoredChanges {
    const SPACE: Space = CHANGES;
}

impl Verified for StoredToken {
    const SPACE: Space = TOKENS;
}

impl Verified for StoredEpoch {
    const SPACE: Space = EPOCHS;
}

impl Verified for StoredEvent {
    const SPACE: Space = EVENTS;
    const INDEXES: &'static [Indexed] = &[Indexed::Whole(EVENTS_BY_ID)];

    fn rows(&self, _: &[u8], _: &Opener<'_>) -> Result<IndexEntries, String> {
        Ok(vec![(EVENTS_BY_ID, self.id.as_bytes().to_vec())])
    }
}

impl Verified for StoredSubscription {
    const SPACE: Space = SUBSCRIPTIONS;

    fn rows(&self, key: &[u8], opener: &Opener<'_>) -> Result<IndexEntries, String> {
        let seal = opener.keyring.studio_seal();
        let opens = |secret: &StoredSecret| seal.open((SUBSCRIPTIONS, key), &secret.sealed).is_ok();
        let all = self.secrets.iter().all(opens);
        if all { Ok(Vec::new()) } else { Err("a secret does not open".to_owned()) }
    }
}

impl Verified for StoredDelivery {
    const SPACE: Space = DELIVERIES;
    const INDEXES: &'static [Indexed] = &[Indexed::Whole(PENDING)];

    fn rows(&self, key: &[u8], _: &Opener<'_>) -> Result<IndexEntries, String> {
        let row = delivery::pending_row(self).map(|_| (PENDING, key.to_vec()));
        Ok(row.into_iter().collect())
    }
}
