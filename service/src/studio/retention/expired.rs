//! Finding what is past its period.

use std::collections::BTreeSet;

use etui_schema::retention::RecordKind;
use etui_schema::vocabulary::Reference;
use jiff::Timestamp;
use uuid::Uuid;

use super::MOST;
use crate::store::Bytes;
use crate::store::index::Index;
use crate::store::record::decode;
use crate::store::rows::Rows;
use crate::store::seal::ClientId;
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::sealed::{StoredSealed, Trace};
use crate::studio::treatments::{self, TreatmentTrace};
use crate::studio::{appointment_checks, clients, reminders};

/// How many clients are asked about with one question. Each question waits for whoever writes.
const AT_ONCE: usize = 128;

/// One record that is past its period.
pub(super) enum Item {
    /// Under its id.
    Record(Uuid),
    /// A client.
    Client(Reference),
}

impl Item {
    /// Which client it is, if it is one.
    pub(super) fn client(&self) -> Option<&Reference> {
        match self {
            Self::Record(_) => None,
            Self::Client(client_ref) => Some(client_ref),
        }
    }
}

/// What is past the period of one kind, as far as one sweep goes.
pub(super) struct Expired {
    pub(super) kind: RecordKind,
    pub(super) items: Vec<Item>,
    pub(super) more: bool,
}

impl Expired {
    /// A name for each, for the digest.
    pub(super) fn names(&self) -> Vec<String> {
        let name = |item: &Item| match item {
            Item::Record(id) => format!("{}/{id}", self.kind),
            Item::Client(client_ref) => format!("{}/{client_ref}", self.kind),
        };
        self.items.iter().map(name).collect()
    }
}

/// Finds what of a kind is past its period: what lies before an instant.
pub(super) async fn find(
    studio: &Studio,
    snap: &mut Snap,
    kind: RecordKind,
    before: Timestamp,
) -> Result<Expired, Error> {
    // One more than a sweep removes tells whether there is more.
    let most = MOST + 1;
    let records = |ids: Vec<Uuid>| ids.into_iter().map(Item::Record).collect();
    let mut items: Vec<Item> = match kind {
        RecordKind::Reminders => records(reminders::closed_before(snap, before, most).await?),
        RecordKind::Checks => {
            records(appointment_checks::starting_before(snap, before, most).await?)
        }
        RecordKind::Traces => records(recorded_before(snap, before, most).await?),
        RecordKind::Health => {
            let unseen = unseen_since(studio, snap, before, most).await?;
            unseen.into_iter().map(Item::Client).collect()
        }
    };
    let more = most == items.len();
    items.truncate(most - 1);
    Ok(Expired { kind, items, more })
}

/// Treatments recorded before an instant, oldest first: an id begins with its
/// time.
async fn recorded_before(
    snap: &mut Snap,
    before: Timestamp,
    most: usize,
) -> Result<Vec<Uuid>, Error> {
    const IDS: Index<(Uuid,)> = Index::in_space(TreatmentTrace::SPACE);
    let rows = Rows::of(IDS.space(), Bytes::new()..id_at(before));
    Ok(IDS.keys(rows).most(snap, most).await?.into_iter().map(|(id,)| id).collect())
}

/// The first id of an instant.
fn id_at(at: Timestamp) -> Bytes {
    let millis = u64::try_from(at.as_millisecond()).unwrap_or(0);
    uuid::Builder::from_unix_timestamp_millis(millis, &[0; 10]).into_uuid().as_bytes().to_vec()
}

/// Clients of whom something is still sealed and who were not seen since an
/// instant. Everything older is walked; that is rare and holds up nobody.
async fn unseen_since(
    studio: &Studio,
    snap: &mut Snap,
    before: Timestamp,
    most: usize,
) -> Result<Vec<Reference>, Error> {
    let mut candidates: BTreeSet<Reference> =
        clients::put_before(snap, before).await?.into_iter().collect();
    // A client need not have been put to be treated.
    let mut rows = Rows::of(TreatmentTrace::SPACE, Bytes::new()..id_at(before));
    while let Some((_, bytes)) = rows.next(snap).await? {
        let record = decode::<StoredSealed<TreatmentTrace>>(&bytes).map_err(Error::from);
        candidates.extend(readable(record)?.map(|record| record.trace.client_ref));
    }
    let candidates: Vec<Reference> = candidates.into_iter().collect();
    let mut unseen = Vec::new();
    for some in candidates.chunks(AT_ONCE) {
        unseen.extend(unseen_of(studio, snap, some, before).await?);
        if most <= unseen.len() {
            unseen.truncate(most);
            break;
        }
    }
    Ok(unseen)
}

/// Those of some clients of whom nothing is as young as an instant, and who still
/// have a key to destroy.
pub(super) async fn unseen_of(
    studio: &Studio,
    snap: &mut Snap,
    clients: &[Reference],
    before: Timestamp,
) -> Result<Vec<Reference>, Error> {
    let ids = clients.iter().map(|client| studio.keyring.client_id(client.as_str()));
    let ids: Vec<ClientId> = ids.collect();
    let has_key = studio.keyring.have_keys(snap, &ids).await?;
    let named = clients.iter().zip(ids).zip(has_key);
    let named: Vec<(&Reference, ClientId)> =
        named.filter_map(|(named, has_key)| has_key.then_some(named)).collect();

    let ids: Vec<ClientId> = named.iter().map(|(_, id)| *id).collect();
    let put = clients::are_put_since(snap, &ids, before).await?;
    let under = || ids.iter().map(|id| (*id,));
    let treated = treatments::BY_CLIENT.last_of_many(snap, under()).await?;
    let checked = appointment_checks::BY_CLIENT.last_of_many(snap, under()).await?;
    let is_young =
        |last: Option<(ClientId, Timestamp, Uuid)>| last.is_some_and(|(_, at, _)| before <= at);
    let seen = put.into_iter().zip(treated).zip(checked);
    let seen = seen.map(|((put, treated), checked)| put || is_young(treated) || is_young(checked));
    let unseen = named.into_iter().zip(seen).filter(|(_, seen)| !seen);
    Ok(unseen.map(|((client, _), _)| client.clone()).collect())
}
