//! Writing down when tokens were used last: many at once, and now and then,
//! since a durable write for every request would cost more than the request.

use etui_schema::vocabulary::Instant;
use jiff::Timestamp;
use uuid::Uuid;

use super::stored::StoredUse;
use super::{TOKENS, USES, token_key};
use crate::store::record::{decode, encode};
use crate::store::{Batch, Read};
use crate::studio::engine::Snap;
use crate::studio::error::Error;

/// A token and when it was used last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Use {
    /// Whose token.
    pub plugin: Uuid,
    /// Which.
    pub token: Uuid,
    /// When.
    pub at: Timestamp,
}

/// The batch that writes uses down, each unless a later one is; a token that is gone by now is left out,
/// and one that goes in the same moment keeps the batch from being committed.
///
/// # Errors
/// What the store met.
pub async fn keep_uses(snap: &mut Snap, uses: &[Use]) -> Result<Batch, Error> {
    let mut batch = Batch::new();
    for used in uses {
        let key = token_key(used.plugin, used.token);
        let Some(held) = snap.get(TOKENS, &key).await? else { continue };
        let before = snap.get(USES, &key).await?;
        let last = before.as_deref().and_then(|bytes| decode::<StoredUse>(bytes).ok());
        if last.is_some_and(|last| used.at <= last.at.0) {
            continue;
        }
        let stored = StoredUse { at: Instant(used.at) };
        batch = batch
            .expect(TOKENS, key.clone(), Some(held))
            .expect(USES, key.clone(), before)
            .put(USES, key, encode(&stored)?);
    }
    Ok(batch)
}
