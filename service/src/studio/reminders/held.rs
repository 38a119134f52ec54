//! What a claim still holds: read, kept for longer, given back.
//!
//! A sender that needs more time says so before its lease ends; one that stops gives back
//! what it has not begun, so that nobody waits for the lease. What it gives back it did not
//! send: it is due again at once, and does not say that it may have been sent.

use etui_schema::page::{Page, PageQuery};
use etui_schema::reminders::{
    ClaimExtension, ClaimExtensionRequest, ClaimReturn, ClaimReturnRequest, HeldClaim, Lease,
    ReminderClaim, ReminderState, ReturnOutcome,
};
use etui_schema::vocabulary::Instant;
use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

use super::stored::{self, BY_LEASE, StoredReminder, count, replace};
use crate::store::key::{KeyReader, KeyWriter, after};
use crate::store::rows::Rows;
use crate::store::{Batch, Bytes, cursor};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, Found, or_unreadable, readable};
use crate::studio::moment::{Mandate, Moment};
use crate::studio::paging::{foreign_cursor, limit_of};
use crate::studio::plan::Planned;
use crate::studio::treatments::is_reached;

/// What the claim holds at a moment of what the caller reaches, those that were due first first.
async fn held(
    snap: &mut Snap,
    mandate: &Mandate,
    claim_id: Uuid,
    now: Timestamp,
) -> Result<Vec<(StoredReminder, Lease, Bytes)>, Error> {
    // Leases that have run out lie before.
    let from = KeyWriter::new().instant(now).finish();
    let mut rows = Rows::of(BY_LEASE, from..Bytes::new());
    let mut all = Vec::new();
    while let Some((_, place)) = rows.next(snap).await? {
        let Some((reminder, bytes)) = readable(stored::at(snap, &place).await)? else { continue };
        let its = reminder.lease.filter(|it| it.claim_id == claim_id && now < it.until.0);
        let Some(lease) = its else { continue };
        if is_reached(snap, mandate, reminder.treatment_id).await? {
            all.push((reminder, lease, bytes));
        }
    }
    all.sort_by_key(|(reminder, _, _)| (reminder.due_at, reminder.id));
    Ok(all)
}

/// When the oldest lease that nobody took up again ended, or will end.
///
/// # Errors
/// What the store met.
pub async fn oldest_lease(snap: &mut Snap) -> Result<Option<Timestamp>, Error> {
    let rows = Rows::of(BY_LEASE, Bytes::new()..Bytes::new()).take(snap, 1).await?;
    Ok(rows.first().and_then(|(key, _)| KeyReader::new(key).instant()))
}

/// One page of the claims that hold anything, those that end first first.
///
/// # Errors
/// [`Error::Refused`] for a limit or a cursor that is not one; what the store met.
pub async fn claims(
    studio: &Studio,
    snap: &mut Snap,
    mandate: &Mandate,
    query: &PageQuery,
    now: Timestamp,
) -> Result<Page<HeldClaim>, Error> {
    const NAME: &str = "reminder claims";
    let limit = limit_of(query.limit)?;
    let mut from = KeyWriter::new().instant(now).finish();
    if let Some(text) = &query.cursor {
        let last = cursor::decode(&studio.cursor_key, NAME, text).map_err(|_| foreign_cursor())?;
        from = from.max(after(&last));
    }
    let mut rows = Rows::of(BY_LEASE, from..Bytes::new());
    let (mut items, mut last): (Vec<HeldClaim>, Option<Bytes>) = (Vec::new(), None);
    let (mut next_cursor, mut unreadable) = (None, 0_u32);
    while let Some((key, place)) = rows.next(snap).await? {
        let (reminder, _) = match or_unreadable(stored::at(snap, &place).await.map(Some))? {
            Found::Read(Some(found)) => found,
            Found::Read(None) => continue,
            Found::Unreadable => {
                unreadable += 1;
                continue;
            }
        };
        let Some(Lease { claim_id, until }) = reminder.lease.filter(|it| now < it.until.0) else {
            continue;
        };
        if !is_reached(snap, mandate, reminder.treatment_id).await? {
            continue;
        }
        // What one claim holds ends at one moment: its rows lie beside those of few others.
        let same = items.iter_mut().rev().take_while(|one| one.until == until);
        if let Some(known) = same.into_iter().find(|one| one.claim_id == claim_id) {
            known.reminders += 1;
        } else if limit <= items.len() && items.last().is_some_and(|one| one.until != until) {
            next_cursor = last.map(|last| cursor::encode(&studio.cursor_key, NAME, &last));
            break;
        } else {
            items.push(HeldClaim { claim_id, until, reminders: 1 });
        }
        last = Some(key);
    }
    Ok(Page { items, next_cursor, unreadable: (0 < unreadable).then_some(unreadable) })
}

fn nothing(claim_id: Uuid) -> Error {
    Error::NotFound { what: "claim that holds anything", id: claim_id.to_string() }
}

/// The claim with what it still holds.
///
/// # Errors
/// [`Error::NotFound`] if it holds nothing any more.
pub async fn claimed(
    studio: &Studio,
    snap: &mut Snap,
    mandate: &Mandate,
    claim_id: Uuid,
    now: Timestamp,
) -> Result<ReminderClaim, Error> {
    let held = held(snap, mandate, claim_id, now).await?;
    let until = held.first().map(|(_, lease, _)| lease.until).ok_or_else(|| nothing(claim_id))?;
    let answers = StoredReminder::answers(studio, snap, held.iter().map(|(one, _, _)| one)).await?;
    let mut reminders = Vec::with_capacity(answers.len());
    for answer in answers {
        reminders.extend(readable(answer)?.flatten());
    }
    let claim_id = Some(claim_id);
    Ok(ReminderClaim { claim_id, until, reminders, overtaken: 0, more: false })
}

/// Plans to keep what a claim holds for longer.
///
/// # Errors
/// [`Error::NotFound`] if it holds nothing any more; [`Error::Held`] while the clock is in doubt.
pub async fn extend(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    claim_id: Uuid,
    request: &ClaimExtensionRequest,
) -> Result<Planned, Error> {
    studio.clock.check(moment.sources.as_ref())?;
    let until = moment
        .now
        .checked_add(SignedDuration::from_secs(request.lease_seconds.into()))
        .map_err(|e| Error::Internal(e.to_string()))?;
    let lease = Lease { claim_id, until: Instant(until) };
    let mut batch = Batch::new();
    let mut reminders = Vec::new();
    for (old, _, bytes) in held(snap, &moment.mandate, claim_id, moment.now).await? {
        let next = StoredReminder { lease: Some(lease), ..old.clone() };
        batch = replace(batch, Some((&old, bytes)), &next)?;
        reminders.push(next.id);
    }
    if reminders.is_empty() {
        return Err(nothing(claim_id));
    }
    let about = format!("reminder-claims/{claim_id}");
    let batch = batch.audit(moment.entry("reminder.extend", &about, 1));
    Planned::made(&ClaimExtension { claim_id, until: lease.until, reminders }, batch)
}

/// Plans to give back what a claim holds, or some of it.
///
/// # Errors
/// [`Error::NotFound`] if it holds nothing. [`Error::Held`] while the clock is in doubt: one whose time has passed is closed, and stays so.
pub async fn give_back(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    claim_id: Uuid,
    request: &ClaimReturnRequest,
) -> Result<Planned, Error> {
    studio.clock.check(moment.sources.as_ref())?;
    let held = held(snap, &moment.mandate, claim_id, moment.now).await?;
    if held.is_empty() {
        return Err(nothing(claim_id));
    }
    let named: Vec<Uuid> = match &request.reminders {
        Some(named) => named.clone(),
        None => held.iter().map(|(reminder, _, _)| reminder.id).collect(),
    };
    let mut batch = Batch::new();
    let mut outcomes: Vec<ReturnOutcome> = Vec::with_capacity(named.len());
    for reminder_id in named {
        let again = outcomes.iter().any(|known| known.reminder_id == reminder_id);
        let found = held.iter().find(|(reminder, _, _)| reminder.id == reminder_id && !again);
        let Some((old, _, bytes)) = found else {
            outcomes.push(ReturnOutcome { reminder_id, returned: false, state: None });
            continue;
        };
        let mut next = old.clone();
        next.give_back(moment.now);
        let about = format!("reminders/{reminder_id}");
        let entry = moment.entry("reminder.return", &about, count(&next.claims).into());
        batch = replace(batch, Some((old, bytes.clone())), &next)?.audit(entry);
        let state = Some(next.state);
        outcomes.push(ReturnOutcome { reminder_id, returned: true, state: state.map(Into::into) });
    }
    Planned::made(&ClaimReturn { claim_id, returned_at: Instant(moment.now), outcomes }, batch)
}

impl StoredReminder {
    /// Is held by nobody any more, and was not sent.
    fn give_back(&mut self, now: Timestamp) {
        if self.latest.0 <= now {
            self.close(ReminderState::Overtaken, Instant(now));
        } else {
            self.wait();
        }
    }
}
