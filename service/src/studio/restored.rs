//! The first start after a restore.
//!
//! A restored store is an earlier state under which the world has gone on. What
//! others saw after the backup was made is not known here, so two things are
//! done before anything is answered:
//!
//! - The numbers of events go on far above all that were ever given
//!   ([`first_number`]), and where the former numbers ended is kept
//!   ([`EPOCHS`]). Whoever has read beyond that end is told so, and no number
//!   stands for two events.
//! - Messages that fell due until now may have been sent by the store that was
//!   lost. They are marked so, and held back if the settings say so.
//!
//! | space | key | value |
//! |---|---|---|
//! | `event-epochs` | the number after which an epoch's events begin | where those before it end, when the restored state was saved |

use std::path::Path;

use etui_schema::vocabulary::Instant;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::Studio;
use super::error::Error;
use super::reminders;
use crate::config::AfterRestore;
use crate::events::log;
use crate::store::dump::RESTORED;
use crate::store::outbox::{self, EVENT_HEAD, HEAD_KEY};
use crate::store::record::{Record, decode, encode};
use crate::store::shared::{self, SHARED};
use crate::store::{Batch, Bytes, Order, Read, Space, Store, files};

/// Where the numbers of events begin anew.
pub const EPOCHS: Space = Space::new("event-epochs");
/// Numbers of one epoch: as many events as nobody has in the time of two restores.
const EPOCH_BITS: u32 = 28;
/// Epochs are numbered by the minute, so that two restores of one backup do not
/// give the same numbers: minutes from 1970 until the first that counts (2020).
const FIRST_MINUTE: i64 = 26_297_280;

/// The beginning of an epoch.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StoredEpoch {
    /// Number of the last event before it.
    pub ended: u64,
    /// When the restored state was saved.
    pub saved_at: Option<Instant>,
}

impl Record for StoredEpoch {
    const KIND: &'static str = "event_epoch";
}

/// What was done after a restore.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Settled {
    /// Messages that may have been sent already.
    pub maybe_sent: usize,
}

/// Does what is to be done if the store was restored and has not been started
/// since. A start that is cut short does it again.
///
/// # Errors
/// What the store met, or a file that cannot be read or removed.
pub async fn settle(
    studio: &Studio,
    now: Timestamp,
    how: AfterRestore,
) -> Result<Option<Settled>, Error> {
    let path = studio.folder.join(RESTORED);
    let row = studio.engine.snapshot().await?.get(SHARED, shared::RESTORED).await?;
    let Some(saved_at) = saved_at(&path, row.as_deref())? else { return Ok(None) };
    let maybe_sent = reminders::mark_maybe_sent(studio, now, how).await?;
    let mut snap = studio.engine.snapshot().await?;
    let held = snap.get(EVENT_HEAD, HEAD_KEY).await?;
    let ended = log::head(&mut snap).await?;
    let first = outbox::key(first_number(ended, now));
    let epoch = StoredEpoch { ended, saved_at };
    let batch = Batch::new()
        .expect(EVENT_HEAD, HEAD_KEY, held)
        .put(EVENT_HEAD, HEAD_KEY, first.clone())
        .put(EPOCHS, first, encode(&epoch)?)
        .del(SHARED, shared::RESTORED);
    studio.engine.commit(batch).await?;
    files::remove(&path).map_err(|error| Error::Internal(error.to_string()))?;
    Ok(Some(Settled { maybe_sent }))
}

/// When the restored state was saved, as the row of a store says that several processes serve, or
/// the file in the folder; `None` if it was not restored.
fn saved_at(path: &Path, row: Option<&[u8]>) -> Result<Option<Option<Instant>>, Error> {
    let row = row.map(|row| String::from_utf8_lossy(row).into_owned());
    let told = match row {
        Some(row) => Some(row),
        None => files::read_if_there(path).map_err(|error| Error::Internal(error.to_string()))?,
    };
    Ok(told.map(|text| text.trim().parse().ok().map(Instant)))
}

/// The number after which events begin: above all that were given, here or by
/// the store that was lost.
fn first_number(ended: u64, now: Timestamp) -> u64 {
    let minute = u64::try_from(now.as_second() / 60 - FIRST_MINUTE).unwrap_or(0);
    let above = (ended >> EPOCH_BITS) + 1;
    minute.max(above) << EPOCH_BITS
}

/// Refuses a number that a reader can only have from elsewhere: from a state
/// that was lost with a former store, or from none at all.
///
/// # Errors
/// [`Error::Gone`], with the number to go on from.
pub async fn check_number<R: Read>(snap: &mut R, number: u64) -> Result<(), Error> {
    let range = outbox::key(number.saturating_add(1))..Bytes::new();
    let next = snap.scan(EPOCHS, range, Order::Ascending, 1).await?;
    if let Some((_, value)) = next.first() {
        let StoredEpoch { ended, saved_at } = decode(value)?;
        return if ended < number { Err(gone(ended, saved_at)) } else { Ok(()) };
    }
    let head = log::head(snap).await?;
    if head < number { Err(gone(head, None)) } else { Ok(()) }
}

fn gone(from: u64, saved_at: Option<Instant>) -> Error {
    let sequence = etui_schema::events::Sequence(from);
    Error::Gone(match saved_at {
        Some(Instant(at)) => format!(
            "this store was restored to what it was at {at}; events behind {sequence} that were \
             told before that are gone. Read the records that you follow anew, then go on with \
             after={sequence}"
        ),
        None => format!(
            "no event of this store has that number; the newest it can be is {sequence}. Read the \
             records that you follow anew, then go on with after={sequence}"
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::MemoryStore;

    fn at(text: &str) -> Timestamp {
        text.parse().unwrap()
    }

    #[test]
    fn numbers_are_never_given_twice() {
        let mut last = 0;
        for (ended, now) in [
            (21, "2027-03-16T08:00:00Z"),
            // The same backup once more, a minute later.
            (21, "2027-03-16T08:01:00Z"),
            // A clock that stands before the first minute.
            (u64::MAX >> 8, "1999-01-01T00:00:00Z"),
        ] {
            let first = first_number(ended, at(now));
            assert!(ended < first && last < first, "{ended} at {now}: {first}");
            last = first;
        }
        // Eighteen digits are enough until long after all of us.
        assert!(first_number(0, at("2300-01-01T00:00:00Z")) < 1_000_000_000_000_000_000);
    }

    #[tokio::test]
    async fn a_number_from_a_lost_state_is_refused() {
        let store = MemoryStore::new();
        let first = first_number(21, at("2027-03-16T08:00:00Z"));
        let epoch = StoredEpoch { ended: 21, saved_at: None };
        let batch = Batch::new().put(EVENT_HEAD, HEAD_KEY, outbox::key(first + 2)).put(
            EPOCHS,
            outbox::key(first),
            encode(&epoch).unwrap(),
        );
        store.commit(batch).await.unwrap();
        for (number, is_good) in [
            (0, true),
            (20, true),
            (21, true),
            (22, false),
            (first - 1, false),
            (first, true),
            (first + 2, true),
            (first + 3, false),
            (999_999_999_999_999_999, false),
        ] {
            let mut snap = store.snapshot().await.unwrap();
            let got = check_number(&mut snap, number).await;
            assert_eq!(got.is_ok(), is_good, "{number}: {got:?}");
        }
    }
}
