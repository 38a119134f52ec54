//! Everything that is held on a client, put together from where it lies.
//!
//! After an erasure there is nothing left to put together; the trace of the
//! treatments, which stays, is found by lot and not by client.

use std::collections::BTreeSet;

use etui_schema::appointment_checks::AppointmentCheck;
use etui_schema::dossiers::{AuditRow, CheckInDossier, Dossier};
use etui_schema::vocabulary::{Instant, Reference};
use jiff::Timestamp;
use serde_json::Value;
use uuid::Uuid;

use super::appointment_checks::{self, CheckTrace};
use super::engine::Snap;
use super::error::Error;
use super::sealed;
use super::vault::{self, Subject};
use super::{Studio, calendars, clients, history, reminders, treatments};
use crate::store::audit::{AUDIT, Link};
use crate::store::key::after;
use crate::store::{AuditEntry, Bytes, Order, Read};

/// Links of the audit trail fetched at a time.
const STRIDE: usize = 512;

/// Puts the dossier of a client together.
///
/// # Errors
/// [`Error::NotFound`] if nothing is held, or if the client was erased.
pub async fn get(
    studio: &Studio,
    snap: &mut Snap,
    now: Timestamp,
    client_ref: &Reference,
) -> Result<Dossier, Error> {
    let subject = Subject::Client(client_ref.clone());
    if vault::for_read(studio, snap, &subject).await?.is_none() {
        return Err(Error::NotFound { what: "client", id: client_ref.to_string() });
    }
    let client = match clients::get(studio, snap, client_ref).await {
        Ok(client) => Some(client),
        Err(Error::NotFound { .. }) => None,
        Err(error) => return Err(error),
    };
    let mut about = BTreeSet::from([format!("clients/{client_ref}")]);
    let mut checks = Vec::new();
    for id in appointment_checks::of_client(studio, snap, client_ref).await? {
        about.insert(format!("checks/{id}"));
        checks.push(check(studio, snap, id).await?);
    }
    let (mut records, mut messages) = (Vec::new(), Vec::new());
    for id in treatments::of_client(studio, snap, client_ref).await? {
        about.insert(format!("treatments/{id}"));
        records.push(history::whole(studio, snap, id).await?);
        messages.extend(reminders::of_treatment(studio, snap, id).await?);
    }
    about.extend(messages.iter().map(|reminder| format!("reminders/{}", reminder.id)));
    let open = calendars::list(snap).await?.items.into_iter();
    let calendars: Vec<_> =
        open.filter(|calendar| calendar.reference.as_ref() == Some(client_ref)).collect();
    about.extend(calendars.iter().map(|calendar| format!("calendars/{}", calendar.id)));
    Ok(Dossier {
        client_ref: client_ref.clone(),
        made_at: Instant(now),
        client,
        checks,
        treatments: records,
        reminders: messages,
        calendars,
        audit: audit(snap, &about).await?,
    })
}

async fn check(studio: &Studio, snap: &mut Snap, id: Uuid) -> Result<CheckInDossier, Error> {
    let stored = sealed::load::<CheckTrace>(snap, id).await?;
    let answer = stored.answer(studio, snap).await?;
    let check: AppointmentCheck = serde_json::from_slice(&answer)
        .map_err(|_| Error::Internal("a stored check cannot be read".to_owned()))?;
    Ok(CheckInDossier { check, made_from: stored.input::<Value>(studio, snap).await? })
}

/// The entries about these records. The trail is one list in the order of time,
/// so all of it is walked; that is rare and holds up nobody.
async fn audit(snap: &mut Snap, about: &BTreeSet<String>) -> Result<Vec<AuditRow>, Error> {
    let mut from = Bytes::new();
    let mut found = Vec::new();
    loop {
        let rows = snap.scan(AUDIT, from.clone()..Bytes::new(), Order::Ascending, STRIDE).await?;
        let more = rows.len() == STRIDE;
        for (key, value) in rows {
            let link: Link =
                serde_json::from_slice(&value).map_err(|_| super::paging::broken(AUDIT))?;
            if about.contains(&link.entry.record) {
                found.push(row(link));
            }
            from = after(&key);
        }
        if !more {
            return Ok(found);
        }
    }
}

fn row(link: Link) -> AuditRow {
    let Link { number, entry, previous: _, hash: _ } = link;
    let AuditEntry { at, who, what, record, version } = entry;
    AuditRow { number, at, who, what, record, version }
}
