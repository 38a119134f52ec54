//! Writing down when tokens were used last: once a minute and at the end.

use std::time::Duration;

use actix_web::rt::time::{Instant, interval_at};

use super::state::State;
use crate::store::Store;
use crate::studio::error::Error;
use crate::studio::plugins::keep_uses;

/// Between two writings. What a crash takes is at most this much; what the
/// disk is spared is a durable write for every request.
const EVERY: Duration = Duration::from_mins(1);

/// Writes uses down for as long as the service runs.
pub(crate) async fn keep(state: &State) {
    let mut pace = interval_at(Instant::now() + EVERY, EVERY);
    loop {
        pace.tick().await;
        save(state).await;
    }
}

/// Writes down what is not written down yet. What fails is tried again the
/// next time: a use is no reason to disturb anybody.
pub(crate) async fn save(state: &State) {
    let uses = state.tokens.unsaved();
    if uses.is_empty() {
        return;
    }
    let written = async {
        let mut snap = state.studio().engine.snapshot().await?;
        let batch = keep_uses(&mut snap, &uses).await?;
        Ok::<(), Error>(state.studio().engine.commit(batch).await?)
    };
    match written.await {
        Ok(()) => state.tokens.saved(&uses),
        Err(error) => {
            tracing::warn!(reason = ?error, "the last uses of tokens were not written down");
        }
    }
}
