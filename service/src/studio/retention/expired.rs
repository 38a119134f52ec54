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
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::sealed::{StoredSealed, Trace};
use crate::studio::treatments::{self, TreatmentTrace};
use crate::studio::vault::Subject;
use crate::studio::{appointment_checks, clients, reminders};

/// One record that is past its period.
pub(super) enum Item {
    /// Under its id.
    Record(Uuid),
    /// A client.
    Client(Reference),
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
    let more = MOST < items.len();
    items.truncate(MOST);
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
    let mut unseen = Vec::new();
    for client_ref in candidates {
        if is_unseen(studio, snap, &client_ref, before).await? {
            unseen.push(client_ref);
            if unseen.len() == most {
                break;
            }
        }
    }
    Ok(unseen)
}

/// Whether nothing of a client is as young as an instant, and there is still a
/// key to destroy.
pub(super) async fn is_unseen(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
    before: Timestamp,
) -> Result<bool, Error> {
    let put_at = readable(clients::put_at(studio, snap, client_ref).await)?.flatten();
    if put_at.is_some_and(|at| before <= at.0) {
        return Ok(false);
    }
    let treated = treatments::newest_of_client(studio, snap, client_ref).await?;
    let checked = appointment_checks::newest_of_client(studio, snap, client_ref).await?;
    if [treated, checked].into_iter().flatten().any(|at| before <= at) {
        return Ok(false);
    }
    let id = Subject::Client(client_ref.clone()).id(studio);
    Ok(studio.keyring.has_key(snap, &id).await?)
}
