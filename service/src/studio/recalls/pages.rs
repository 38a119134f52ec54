//! Exposures page by page: treatments in their order, then checks to come in theirs.
//!
//! Without `limit` or `cursor` all of them are told: whoever acts on a recall and does not know
//! of pages must not miss anybody.

use std::collections::BTreeSet;

use etui_schema::page::PageQuery;
use etui_schema::recalls::{Exposure, Exposures, UpcomingCheck};
use etui_schema::vocabulary::Reference;

use crate::store::key::KeyWriter;
use crate::store::{Bytes, cursor};
use crate::studio::Studio;
use crate::studio::error::Error;
use crate::studio::paging::{foreign_cursor, limit_of};

/// One page of exposures. `name` is all that decides what is listed.
///
/// # Errors
/// [`Error::Refused`] for a limit or a cursor that is not one.
pub fn page(
    studio: &Studio,
    whole: Exposures,
    name: &str,
    query: &PageQuery,
) -> Result<Exposures, Error> {
    let PageQuery { limit, cursor: given } = query;
    if limit.is_none() && given.is_none() {
        return Ok(whole);
    }
    let mut left = limit_of(*limit)?;
    let after = match given {
        Some(text) => {
            cursor::decode(&studio.cursor_key, name, text).map_err(|_| foreign_cursor())?
        }
        None => Bytes::new(),
    };
    let Exposures {
        lot_ids,
        similar_lot_ids,
        treatments,
        upcoming_checks,
        unreadable,
        branches,
        clients: _,
        next_cursor: _,
    } = whole;
    let mut last = None;
    let (treatments, more) = part(treatments, of_treatment, (&after, &mut left, &mut last));
    let (upcoming_checks, others) = part(upcoming_checks, of_check, (&after, &mut left, &mut last));
    let is_last = !(more || others);
    let clients: BTreeSet<Reference> =
        treatments.iter().map(|row| row.client_ref.clone()).collect();
    let next = last.filter(|_| !is_last);
    Ok(Exposures {
        lot_ids,
        similar_lot_ids,
        treatments,
        clients: clients.into_iter().collect(),
        upcoming_checks,
        unreadable: unreadable.filter(|_| is_last),
        next_cursor: next.map(|key| cursor::encode(&studio.cursor_key, name, &key)),
        branches,
    })
}

/// The rows behind a key, as many as there is room for, and whether there are more.
fn part<T>(
    mut rows: Vec<T>,
    key: fn(&T) -> Bytes,
    (after, left, last): (&Bytes, &mut usize, &mut Option<Bytes>),
) -> (Vec<T>, bool) {
    rows.retain(|row| *after < key(row));
    let more = *left < rows.len();
    rows.truncate(*left);
    *left -= rows.len();
    *last = rows.last().map(key).or_else(|| last.take());
    (rows, more)
}

fn of_treatment(row: &Exposure) -> Bytes {
    let key = KeyWriter::new().text("1").instant(row.performed_at.0);
    key.uuid(row.treatment_id).uuid(row.lot_id).finish()
}

fn of_check(row: &UpcomingCheck) -> Bytes {
    KeyWriter::new().text("2").instant(row.starts_at.0).uuid(row.check_id).finish()
}
