//! Reminders of a store that was written before their records lay in the order
//! in which they are due.
//!
//! | space | key | value |
//! |---|---|---|
//! | `reminders` | id | the record |
//! | `reminders-by-state` | state, due at, id | – |
//! | `reminders-by-treatment` | treatment id, id | – |
//!
//! They are moved when the service starts, some in each batch; a start that is
//! cut short goes on where it was.

use super::stored::{StoredReminder, place_of, put};
use crate::store::key::KeyWriter;
use crate::store::record::decode;
use crate::store::{Batch, Bytes, Order, Read, Space, Store};
use crate::studio::Studio;
use crate::studio::error::Error;

const RECORDS: Space = Space::new("reminders");
const BY_STATE: Space = Space::new("reminders-by-state");
const BY_TREATMENT: Space = Space::new("reminders-by-treatment");
/// Records moved in one batch.
const MOVED: usize = 200;

/// Moves what lies in the former way; how many there were.
///
/// # Errors
/// What the store met.
pub async fn bring_up_to_date(studio: &Studio) -> Result<usize, Error> {
    let mut moved = 0;
    loop {
        let mut snap = studio.engine.snapshot().await?;
        let all = Bytes::new()..Bytes::new();
        let rows = snap.scan(RECORDS, all, Order::Ascending, MOVED).await?;
        if rows.is_empty() {
            return Ok(moved);
        }
        moved += rows.len();
        let mut batch = Batch::new();
        for (key, bytes) in rows {
            let reminder: StoredReminder = decode(&bytes)?;
            let of = KeyWriter::new().uuid(reminder.treatment_id).uuid(reminder.id).finish();
            batch = batch
                .expect(RECORDS, key.clone(), Some(bytes))
                .del(RECORDS, key)
                .del(BY_STATE, place_of(&reminder))
                .del(BY_TREATMENT, of);
            batch = put(batch, &reminder)?;
        }
        studio.engine.commit(batch).await?;
    }
}
