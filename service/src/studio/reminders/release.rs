//! Releasing what is held after a restore, or because she wants no messages.

use etui_schema::reminders::{ReleaseOutcome, ReminderRelease, ReminderReleaseRequest};
use etui_schema::vocabulary::Instant;

use super::stored::{count, find, replace};
use super::unwanted;
use crate::store::Batch;
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::moment::Moment;
use crate::studio::plan::Planned;

/// Plans to do what a person decided about reminders that are held.
///
/// # Errors
/// [`Error::Held`] while the clock is in doubt; what the store met.
pub async fn release(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    request: &ReminderReleaseRequest,
) -> Result<Planned, Error> {
    // One whose time has passed is closed, and stays so: not by a clock that may be wrong.
    studio.clock.check(moment.sources.as_ref())?;
    let ReminderReleaseRequest { decision, reminders } = request;
    let mut batch = Batch::new();
    let mut outcomes: Vec<ReleaseOutcome> = Vec::with_capacity(reminders.len());
    for id in reminders {
        if let Some(known) = outcomes.iter().find(|known| known.reminder_id == *id) {
            outcomes.push(ReleaseOutcome { released: false, ..known.clone() });
            continue;
        }
        let Some((old, bytes)) = readable(find(snap, *id).await)?.flatten() else {
            outcomes.push(ReleaseOutcome { reminder_id: *id, released: false, state: None });
            continue;
        };
        // Of one who was erased nothing is sent, and what she wanted stands.
        if readable(old.answer(studio, snap).await)?.flatten().is_none() {
            outcomes.push(ReleaseOutcome { reminder_id: *id, released: false, state: None });
            continue;
        }
        let mut next = old.clone();
        let released = next.release(*decision, moment.now);
        if released {
            let about = format!("reminders/{id}");
            let entry = moment.entry("reminder.release", &about, count(&next.claims).into());
            batch = replace(batch, Some((&old, bytes)), &next)?.audit(entry);
            if (old.wanted, next.wanted) == (Some(false), Some(true)) {
                batch = unwanted::keep(studio, moment, batch, (&old.client_ref, true))?;
            }
        }
        outcomes.push(ReleaseOutcome {
            reminder_id: *id,
            released,
            state: Some(next.state.into()),
        });
    }
    let done = ReminderRelease { released_at: Instant(moment.now), outcomes };
    Planned::made(&done, batch)
}
