//! What stays of a client after an erasure, counted where it lies.
//!
//! The members are taken from the records themselves: what a trace holds is
//! told, whatever it comes to hold.

use std::collections::{BTreeMap, BTreeSet};

use etui_schema::clients::KeptRecords;
use etui_schema::vocabulary::Reference;
use serde::Serialize;
use serde_json::Value;
use uuid::Uuid;

use super::appointment_checks::{self, CheckTrace};
use super::engine::Snap;
use super::error::{Error, readable};
use super::reminders::StoredStop;
use super::sealed::{self, Trace};
use super::treatments::{self, TreatmentTrace};
use super::{Studio, kinds, reminders};
use crate::store::record::Record;

/// Kinds with their count and the members that lie open.
#[derive(Default)]
struct Tally(BTreeMap<&'static str, (u32, BTreeSet<String>)>);

impl Tally {
    fn add(&mut self, kind: &'static str, open: &impl Serialize) -> Result<(), Error> {
        let value = serde_json::to_value(open).map_err(|e| Error::Internal(e.to_string()))?;
        let (count, members) = self.0.entry(kind).or_default();
        *count += 1;
        if let Value::Object(open) = value {
            members.extend(open.into_iter().map(|(name, _)| name));
        }
        Ok(())
    }

    async fn record<T: Trace>(&mut self, snap: &mut Snap, id: Uuid) -> Result<(), Error> {
        match readable(sealed::load::<T>(snap, id).await)? {
            Some(record) => self.add(T::WHAT, &record.trace),
            None => Ok(()),
        }
    }
}

/// Everything that stays of a client.
///
/// # Errors
/// What the store met.
pub async fn of_client(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
) -> Result<Vec<KeptRecords>, Error> {
    let mut tally = Tally::default();
    for id in appointment_checks::of_client(studio, snap, client_ref).await? {
        tally.record::<CheckTrace>(snap, id).await?;
    }
    for id in treatments::of_client(studio, snap, client_ref).await? {
        tally.record::<TreatmentTrace>(snap, id).await?;
        for (kind, open) in kinds::open_of(snap, id).await? {
            tally.add(kind, &open)?;
        }
        for open in reminders::open_of(snap, id).await? {
            tally.add("reminder", &open)?;
        }
    }
    if let Some(stop) = readable(reminders::stop_of(studio, snap, client_ref).await)?.flatten() {
        tally.add(StoredStop::KIND, &stop)?;
    }
    let kept = |(kind, (records, members)): (&str, (u32, BTreeSet<String>))| KeptRecords {
        kind: kind.to_owned(),
        records,
        members: members.into_iter().collect(),
    };
    Ok(tally.0.into_iter().map(kept).collect())
}
