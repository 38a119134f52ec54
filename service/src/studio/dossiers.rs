//! Everything that is held on a client, put together from where it lies.
//!
//! After an erasure there is nothing left to put together; the trace of the
//! treatments, which stays, is found by lot and not by client.

use std::collections::BTreeSet;

use etui_schema::dossiers::{AuditRow, CheckInDossier, Dossier};
use etui_schema::vocabulary::{Instant, Reference};
use jiff::Timestamp;
use uuid::Uuid;

use super::appointment_checks::{self, CheckTrace};
use super::engine::Snap;
use super::error::{Error, readable};
use super::sealed;
use super::vault::{self, Subject};
use super::{Studio, calendars, clients, history, reminders, treatments};
use crate::store::AuditEntry;
use crate::store::audit::{AUDIT, Link};
use crate::store::rows::Rows;

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
        return Err(Error::NotFound { what: super::clients::CLIENT, id: client_ref.to_string() });
    }
    let mut unreadable = Vec::new();
    let name = format!("clients/{client_ref}");
    let mut about = BTreeSet::from([name.clone()]);
    let client = told(clients::get(studio, snap, client_ref).await, name, &mut unreadable)?;
    let mut checks = Vec::new();
    // What was erased, should the client have come back, is held no more; only its trace is.
    for id in appointment_checks::of_client(studio, snap, client_ref).await? {
        about.insert(format!("checks/{id}"));
        let found = check(studio, snap, id).await;
        checks.extend(told(found, format!("checks/{id}"), &mut unreadable)?);
    }
    let (mut records, mut messages) = (Vec::new(), Vec::new());
    for id in treatments::of_client(studio, snap, client_ref).await? {
        about.insert(format!("treatments/{id}"));
        let found = history::whole(studio, snap, id).await;
        records.extend(told(found, format!("treatments/{id}"), &mut unreadable)?);
        messages.extend(reminders::of_treatment(studio, snap, id).await?);
    }
    about.extend(messages.iter().map(|reminder| format!("reminders/{}", reminder.id)));
    let calendars = calendars::of_client(snap, client_ref).await?;
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
        unreadable,
    })
}

/// What was found, or its name among what cannot be read.
fn told<T>(
    found: Result<T, Error>,
    name: String,
    unreadable: &mut Vec<String>,
) -> Result<Option<T>, Error> {
    if matches!(found, Err(Error::Unreadable(_))) {
        unreadable.push(name);
    }
    readable(found)
}

async fn check(studio: &Studio, snap: &mut Snap, id: Uuid) -> Result<CheckInDossier, Error> {
    let stored = sealed::load::<CheckTrace>(snap, id).await?;
    let check = stored.said(studio, snap).await?;
    let made_from = serde_json::to_value(stored.input(studio, snap).await?)
        .map_err(|error| Error::Internal(error.to_string()))?;
    Ok(CheckInDossier { check, made_from })
}

/// The entries about these records. The trail is one list in the order of time,
/// so all of it is walked; that is rare and holds up nobody.
async fn audit(snap: &mut Snap, about: &BTreeSet<String>) -> Result<Vec<AuditRow>, Error> {
    let (mut rows, mut found) = (Rows::all(AUDIT), Vec::new());
    while let Some((_, value)) = rows.next(snap).await? {
        // A link that cannot be read is found by `etui verify`.
        let Ok(link) = serde_json::from_slice::<Link>(&value) else { continue };
        if about.contains(&link.entry.record) {
            found.extend(row(link));
        }
    }
    Ok(found)
}

fn row(link: Link) -> Option<AuditRow> {
    let Link { number, entry, previous: _, hash: _ } = link;
    let AuditEntry { at, who, what, record, version } = entry;
    Some(AuditRow { number, at: at.parse().ok()?, who, what, record, version })
}
