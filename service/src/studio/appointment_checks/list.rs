//! Listing checks: by booking, by client or by day, each with its verdict.
//!
//! The verdict is a client's health data, so no index knows it: it is read from
//! the sealed answer of each row, the keys of a page asked for at once. Of an erased
//! client the row stays, without it.

use etui_schema::appointment_checks::{CheckQuery, CheckRow};
use etui_schema::page::Page;
use etui_schema::vocabulary::Verdict;
use jiff::Timestamp;
use serde::Deserialize;
use uuid::Uuid;

use super::keep::{BY_BOOKING, BY_CLIENT, BY_START, CheckTrace, booking_hash};
use crate::store::Space;
use crate::store::index::{IndexError, Key};
use crate::studio::Studio;
use crate::studio::branches;
use crate::studio::days;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::lots::Wanted;
use crate::studio::moment::Mandate;
use crate::studio::paging::{self, Walk};
use crate::studio::sealed::{self, StoredSealed, Trace};
use crate::studio::vault::{self, Access};

/// One page of checks: of one booking in the order they were made, else in the
/// order of their appointments.
///
/// # Errors
/// [`Error::Refused`] for days in the wrong order, for a limit or a cursor that is
/// not one; what the store met.
pub async fn list(
    studio: &Studio,
    snap: &mut Snap,
    mandate: &Mandate,
    query: &CheckQuery,
) -> Result<Page<CheckRow>, Error> {
    let CheckQuery {
        booking_ref,
        client_ref,
        artist_ref,
        branch_ref,
        from,
        to,
        verdict,
        configuration,
        maker,
        short: _,
        limit,
        cursor,
    } = query;
    let asked = Wanted::of(studio, configuration.as_deref(), maker.as_deref())?;
    let here = branches::at(studio, snap, branch_ref.as_ref()).await?;
    let time = days::between(&here, *from, *to)?;
    let (space, range) = match (booking_ref, client_ref) {
        (Some(booking), _) => {
            let booking = booking_hash(&studio.index_key, booking);
            (BY_BOOKING.space(), (booking,).write().prefix_range())
        }
        (None, Some(client)) => {
            let client = studio.keyring.client_id(client.as_str());
            let bound = |at: Timestamp| (client, at).write().finish();
            (BY_CLIENT.space(), bound(time.start)..bound(time.end))
        }
        (None, None) => {
            let bound = |at: Timestamp| (at,).write().finish();
            (BY_START.space(), bound(time.start)..bound(time.end))
        }
    };
    let name = paging::named("checks", query)?;
    let walk = Walk::begin(studio, name, space, range, *limit, cursor.as_deref())?;
    let wanted = |trace: &CheckTrace| {
        is(booking_ref.as_ref(), Some(&trace.booking_ref))
            && is(client_ref.as_ref(), trace.client_ref.as_ref())
            && is(artist_ref.as_ref(), trace.artist_ref.as_ref())
            && branches::is_of(branch_ref.as_ref(), trace.branch_ref.as_ref())
            && mandate.reaches_work(trace.artist_ref.as_ref(), trace.branch_ref.as_ref())
            && time.contains(&trace.starts_at.0)
    };
    walk.page(snap, async |snap, rows| {
        let ids = rows.iter().map(|(key, _)| id_in(space, key));
        let ids: Vec<Uuid> = ids.collect::<Result<_, _>>()?;
        let (mut found, mut broken) = (Vec::new(), Vec::new());
        for one in sealed::load_many::<CheckTrace>(snap, &ids).await? {
            match one {
                Ok(one) => found.extend(Some(one).filter(|record| wanted(&record.trace))),
                Err(error) => broken.push(Err(error)),
            }
        }
        let named = found.iter().flat_map(|record| &record.trace.lot_ids).copied();
        if let Some(fitting) = asked.among(snap, named).await? {
            found.retain(|record| record.trace.lot_ids.iter().any(|id| fitting.contains(id)));
        }
        let rows = with_verdicts(studio, snap, found).await?.into_iter();
        let shown = |row: &CheckRow| {
            verdict.is_empty()
                || verdict
                    .iter()
                    .any(|wanted| row.verdict.as_ref().is_some_and(|found| found == wanted))
        };
        Ok(rows.map(|row| row.map(|row| Some(row).filter(shown))).chain(broken).collect())
    })
    .await
}

/// Whether it is what was asked for; nothing asked for is everything.
fn is<T: PartialEq>(wanted: Option<&T>, found: Option<&T>) -> bool {
    wanted.is_none() || wanted == found
}

fn id_in(space: Space, key: &[u8]) -> Result<Uuid, IndexError> {
    if space == BY_BOOKING.space() {
        BY_BOOKING.read(key).map(|(.., id)| id)
    } else if space == BY_CLIENT.space() {
        BY_CLIENT.read(key).map(|(.., id)| id)
    } else {
        BY_START.read(key).map(|(_, id)| id)
    }
}

async fn with_verdicts(
    studio: &Studio,
    snap: &mut Snap,
    found: Vec<StoredSealed<CheckTrace>>,
) -> Result<Vec<Result<CheckRow, Error>>, Error> {
    let subjects = found.iter().map(|record| record.trace.subject());
    let keys = vault::for_many(studio, snap, subjects).await?;
    let told = |(record, access): (StoredSealed<CheckTrace>, Result<Option<Access>, Error>)| {
        let verdict = said_in(&record, access?.as_ref())?;
        Ok(row(record, verdict))
    };
    Ok(found.into_iter().zip(keys).map(told).collect())
}

/// What is read of an answer; the rest of it is passed over.
#[derive(Deserialize)]
struct Said {
    verdict: Verdict,
}

fn said_in(
    record: &StoredSealed<CheckTrace>,
    access: Option<&Access>,
) -> Result<Option<Verdict>, Error> {
    let Some(access) = access else { return Ok(None) };
    let Some(json) = record.json_by(access)? else { return Ok(None) };
    let said: Result<Said, _> = serde_json::from_slice(&json);
    said.map(|said| Some(said.verdict))
        .map_err(|error| Error::Unreadable(format!("a check has no verdict: {}", error.line())))
}

fn row(record: StoredSealed<CheckTrace>, verdict: Option<Verdict>) -> CheckRow {
    let (id, trace) = (record.id, record.trace);
    let CheckTrace {
        booking_ref,
        client_ref,
        treatment,
        starts_at,
        made_at,
        lot_ids: _,
        artist_ref,
        branch_ref,
    } = trace;
    CheckRow {
        id,
        made_at,
        booking_ref,
        client_ref,
        treatment,
        starts_at,
        artist_ref,
        verdict: verdict.map(Into::into),
        summary: None,
        branch_ref,
    }
}
