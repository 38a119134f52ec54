//! All lanes, beside the service: made when a subscription appears, ended with
//! it, woken when there is something new on disk.

use std::collections::HashMap;
use std::sync::Arc;
use std::time::Duration;

use jiff::Timestamp;
use tokio::sync::watch;
use tokio::task::JoinHandle;
use uuid::Uuid;

use super::lane::{Lane, Rest, Shared};
use super::post::Post;
use super::{EventsError, retry, subscription};
use crate::store::Store;

/// How often the clock is looked at. It is not waited for directly: a clock that
/// is set, or that a test moves, is noticed all the same.
const TICK: Duration = Duration::from_millis(200);
/// Pause after the store refused.
const PAUSE: Duration = Duration::from_secs(1);

/// Delivers until it is dropped. `grown` tells that something new is on disk.
pub async fn run<S, P>(shared: Arc<Shared<S, P>>, mut grown: watch::Receiver<u64>)
where
    S: Store + Clone,
    P: Post,
{
    let mut lanes = Lanes(HashMap::new());
    loop {
        grown.borrow_and_update();
        if let Err(error) = lanes.open(&shared, &grown).await {
            tracing::warn!(reason = %error, "subscriptions cannot be read");
            tokio::time::sleep(PAUSE).await;
            continue;
        }
        if grown.changed().await.is_err() {
            return; // the store is gone
        }
    }
}

/// The running lanes; they end with their owner.
struct Lanes(HashMap<Uuid, JoinHandle<()>>);

impl Lanes {
    /// Makes a lane for every subscription that has none.
    async fn open<S, P>(
        &mut self,
        shared: &Arc<Shared<S, P>>,
        grown: &watch::Receiver<u64>,
    ) -> Result<(), EventsError>
    where
        S: Store + Clone,
        P: Post,
    {
        self.0.retain(|_, lane| !lane.is_finished());
        let mut snap = shared.store.snapshot().await?;
        for subscription in subscription::all(&mut snap).await? {
            if subscription.gone_at.is_some() || self.0.contains_key(&subscription.id) {
                continue;
            }
            let lane = Lane::new(Arc::clone(shared), subscription.id);
            let work = follow(lane, Arc::clone(shared), grown.clone());
            self.0.insert(subscription.id, tokio::spawn(work));
        }
        Ok(())
    }
}

impl Drop for Lanes {
    fn drop(&mut self) {
        for lane in self.0.values() {
            lane.abort();
        }
    }
}

/// One lane, round after round.
async fn follow<S, P>(
    mut lane: Lane<S, P>,
    shared: Arc<Shared<S, P>>,
    mut grown: watch::Receiver<u64>,
) where
    S: Store + Clone,
    P: Post,
{
    loop {
        grown.borrow_and_update();
        match lane.round().await {
            Ok(Rest::Ended) => return,
            Ok(Rest::Until(due)) => {
                if !wait(due, &shared, &mut grown).await {
                    return;
                }
            }
            Err(error) => {
                tracing::warn!(reason = %error, "events cannot be delivered now");
                tokio::time::sleep(PAUSE).await;
            }
        }
    }
}

/// Waits for something new or for the clock; `false` if the store is gone.
async fn wait<S, P>(
    due: Option<Timestamp>,
    shared: &Shared<S, P>,
    grown: &mut watch::Receiver<u64>,
) -> bool {
    let Some(due) = due else { return grown.changed().await.is_ok() };
    loop {
        tokio::select! {
            changed = grown.changed() => return changed.is_ok(),
            () = tokio::time::sleep(TICK) => {
                if retry::is_due(due, (shared.now)()) {
                    return true;
                }
            }
        }
    }
}
