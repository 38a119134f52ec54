//! Claiming what is due.

use std::ops::Range;

use etui_schema::reminders::{Lease, ReminderClaim, ReminderClaimRequest, ReminderState};
use etui_schema::vocabulary::Instant;
use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

use super::given::{CLAIMS, StoredClaim};
use super::stored::{self, BY_LEASE, REMINDERS, StoredReminder, replace, state_prefix};
use super::taking::{Taken, Turn};
use super::told::Handing;
use super::unwanted;
use crate::store::key::{KeyWriter, after};
use crate::store::record::{decode, encode};
use crate::store::rows::Rows;
use crate::store::{Batch, Bytes, Order, Read, Space};
use crate::studio::Studio;
use crate::studio::branches;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::moment::Moment;
use crate::studio::plan::{Planned, Repeat, to_json};
use crate::studio::treatments::is_reached;

/// How long a claim of a former build is kept: longer than an idempotency key.
const KEPT: SignedDuration = SignedDuration::from_hours(25);
/// Old claims that one new claim clears away.
const CLEARED: usize = 4;
/// Most reminders that one claim closes on its way: the batch stays small.
const MOST_CLOSED: usize = 300;
/// No lease is longer (the request allows an hour): one that ends later was given by a clock that
/// ran ahead, and has run out.
const LONGEST_LEASE: SignedDuration = SignedDuration::from_hours(1);
/// Index rows fetched at a time, at most.
const STRIDE: usize = 128;

/// A claim in the making.
struct Picked<'m, 't> {
    moment: &'m Moment,
    turn: Turn<'t>,
    lease: Lease,
    now: Timestamp,
    limit: usize,
    batch: Batch,
    taken: Vec<StoredReminder>,
    answers: Vec<etui_schema::reminders::Reminder>,
    /// What it takes or closes.
    touched: Vec<Uuid>,
    closed: usize,
    overtaken: u32,
}

/// Plans a claim: leases that ran out first, then what is due. What it takes is to be kept until the
/// plan is on disk.
///
/// # Errors
/// [`Error::Held`] while the clock is in doubt; what the store met.
pub async fn claim<'t>(
    studio: &Studio,
    snap: &mut Snap,
    (moment, turn): (&Moment, Turn<'t>),
    request: &ReminderClaimRequest,
) -> Result<(Planned, Taken<'t>), Error> {
    // What a claim closes stays closed: not by a clock that may be wrong.
    studio.clock.check(moment.sources.as_ref())?;
    let ReminderClaimRequest { limit, lease_seconds } = *request;
    let until = moment
        .now
        .checked_add(SignedDuration::from_secs(lease_seconds.into()))
        .map_err(|e| Error::Internal(e.to_string()))?;
    let lease = Lease { claim_id: moment.id()?, until: Instant(until) };
    let mut picked = Picked {
        moment,
        turn,
        lease,
        now: moment.now,
        limit: limit.into(),
        batch: Batch::new(),
        taken: Vec::new(),
        answers: Vec::new(),
        touched: Vec::new(),
        closed: 0,
        overtaken: 0,
    };
    // The end of a lease and the due time count themselves: `<= now`.
    let now = KeyWriter::new().instant(moment.now).fixed(&[0xff; 16]).finish();
    picked.walk(studio, snap, BY_LEASE, Bytes::new()..after(&now)).await?;
    if let Ok(longest) = moment.now.checked_add(LONGEST_LEASE) {
        let beyond = KeyWriter::new().instant(longest).fixed(&[0xff; 16]).finish();
        picked.walk(studio, snap, BY_LEASE, after(&beyond)..Bytes::new()).await?;
    }
    let due = state_prefix(ReminderState::Scheduled);
    let end = due.clone().instant(moment.now).fixed(&[0xff; 16]).finish();
    picked.walk(studio, snap, REMINDERS, due.finish()..after(&end)).await?;
    picked.planned(snap).await
}

impl<'t> Picked<'_, 't> {
    fn is_full(&self) -> bool {
        self.limit <= self.taken.len() || MOST_CLOSED <= self.closed
    }

    async fn walk(
        &mut self,
        studio: &Studio,
        snap: &mut Snap,
        space: Space,
        range: Range<Bytes>,
    ) -> Result<(), Error> {
        let stride = (self.limit + self.turn.others()).clamp(1, STRIDE);
        let mut rows = Rows::of(space, range).by(stride);
        while !self.is_full()
            && let Some((key, value)) = rows.next(snap).await?
        {
            // Both kinds of rows end in the id.
            let id = key.last_chunk().map(|id| Uuid::from_bytes(*id));
            if id.is_some_and(|id| self.turn.is_taken(id)) {
                continue;
            }
            // An index row holds the place of its record.
            let found = if space == REMINDERS {
                decode(&value).map_err(Error::from).map(|old| (old, value))
            } else {
                stored::at(snap, &value).await
            };
            let Some((old, bytes)) = readable(found)? else { continue };
            if !is_reached(snap, &self.moment.mandate, old.treatment_id).await? {
                continue;
            }
            self.pick(studio, snap, old, bytes).await?;
        }
        Ok(())
    }

    async fn pick(
        &mut self,
        studio: &Studio,
        snap: &mut Snap,
        old: StoredReminder,
        bytes: Bytes,
    ) -> Result<(), Error> {
        let mut next = old.clone();
        let ran_out = old.lease.is_some();
        next.maybe_sent |= ran_out;
        if old.latest.0 <= self.now {
            next.close(ReminderState::Overtaken, Instant(self.now));
            self.closed += 1;
            self.overtaken += 1;
        } else if old.paused || Self::is_unwanted(studio, snap, &old).await? {
            // Its lease ran out while a report is open, or after she said that she wants none.
            if !old.paused {
                next.stop();
            }
            next.wait();
            self.closed += 1;
        } else {
            next.state = ReminderState::Leased;
            next.lease = Some(self.lease);
            next.claims.push(self.lease.claim_id);
            match readable(next.hand_out(studio, snap, self.moment).await)? {
                // What it says cannot be read: it stays until its time is over.
                None => return Ok(()),
                Some(Handing::Sent(answer, calls)) => {
                    if calls {
                        let branch = next.branch_ref.as_ref();
                        let batch = std::mem::take(&mut self.batch);
                        self.batch = branches::held(studio, snap, batch, branch).await?.0;
                    }
                    self.answers.push(*answer);
                    self.taken.push(next.clone());
                }
                Some(Handing::Waits) => {
                    next.claims.pop();
                    next.wait();
                    self.closed += 1;
                }
                Some(Handing::Over) => {
                    next = old.clone();
                    next.close(ReminderState::Cancelled, Instant(self.now));
                    self.closed += 1;
                }
            }
        }
        self.batch = replace(std::mem::take(&mut self.batch), Some((&old, bytes)), &next)?;
        self.touched.push(old.id);
        Ok(())
    }

    /// Whether its client wants no messages: it says so, or came while she was saying it.
    async fn is_unwanted(
        studio: &Studio,
        snap: &mut Snap,
        reminder: &StoredReminder,
    ) -> Result<bool, Error> {
        Ok(match reminder.wanted {
            Some(wanted) => !wanted,
            None => unwanted::is_wanted(studio, snap, &reminder.client_ref).await? == Some(false),
        })
    }

    async fn planned(self, snap: &mut Snap) -> Result<(Planned, Taken<'t>), Error> {
        let more = self.is_full();
        let Self { moment, turn, lease, now, batch, .. } = self;
        let Self { taken, answers, touched, closed, overtaken, .. } = self;
        let answer = to_json(&ReminderClaim {
            claim_id: (!taken.is_empty()).then_some(lease.claim_id),
            until: lease.until,
            reminders: answers,
            overtaken,
            more,
        })?;
        if taken.is_empty() {
            // Nothing of a client in the answer: it can be kept as it is.
            let batch = if closed == 0 { batch } else { clear(snap, batch, now).await? };
            let repeat = Repeat::Answer;
            let planned = Planned { created: true, answer, location: None, batch, repeat };
            return Ok((planned, turn.take(touched)));
        }
        let kept = StoredClaim::of(lease, taken, overtaken, more);
        let about = format!("reminder-claims/{}", lease.claim_id);
        let location = Some(format!("/v1/{about}"));
        let batch = clear(snap, batch, now).await?.audit(moment.entry("reminder.claim", &about, 1));
        let repeat = Repeat::Copy(CLAIMS, encode(&kept)?);
        let planned = Planned { created: true, answer, location, batch, repeat };
        Ok((planned, turn.take(touched)))
    }
}

/// Clears a few old claims away.
async fn clear(snap: &mut Snap, mut batch: Batch, now: Timestamp) -> Result<Batch, Error> {
    let Ok(old) = now.checked_sub(KEPT) else { return Ok(batch) };
    let range = Bytes::new()..KeyWriter::new().instant(old).finish();
    for (key, _) in snap.scan(CLAIMS, range, Order::Ascending, CLEARED).await? {
        batch = batch.del(CLAIMS, key);
    }
    Ok(batch)
}
