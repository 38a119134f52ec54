//! Messages that a store which was lost may have sent.

use etui_schema::reminders::ReminderState;
use jiff::Timestamp;

use super::stored::{REMINDERS, StoredReminder, replace, state_prefix};
use crate::config::AfterRestore;
use crate::store::key::after;
use crate::store::record::decode;
use crate::store::{Batch, Order, Read, Store};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};

/// Messages marked in one batch.
const MARKED: usize = 100;
/// Those that somebody may have sent without it being on record here. What is paused may
/// have gone on elsewhere; what is held is marked already.
const DOUBTFUL: [ReminderState; 3] =
    [ReminderState::Scheduled, ReminderState::Leased, ReminderState::Paused];

/// Marks every message that is due until now and not closed, and holds it back if that
/// is wanted; how many there were.
///
/// # Errors
/// What the store met.
pub async fn mark_maybe_sent(
    studio: &Studio,
    now: Timestamp,
    how: AfterRestore,
) -> Result<usize, Error> {
    let mut marked = 0;
    for state in DOUBTFUL {
        let begin = state_prefix(state);
        let end = begin.clone().instant(now).fixed(&[0xff; 16]).finish();
        let mut range = begin.finish()..after(&end);
        loop {
            let mut snap: Snap = studio.engine.snapshot().await?;
            let rows = snap.scan(REMINDERS, range.clone(), Order::Ascending, MARKED).await?;
            let Some((last, _)) = rows.last() else { break };
            range.start = after(last);
            let mut batch = Batch::new();
            for (_, bytes) in rows {
                let old = decode::<StoredReminder>(&bytes).map_err(Error::from);
                let Some(old) = readable(old)? else { continue };
                let mut next = StoredReminder { maybe_sent: true, ..old.clone() };
                match how {
                    AfterRestore::Mark => {}
                    AfterRestore::Hold => next.hold(),
                }
                batch = replace(batch, Some((&old, bytes)), &next)?;
                marked += 1;
            }
            studio.engine.commit(batch).await?;
        }
    }
    Ok(marked)
}
