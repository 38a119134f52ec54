//! The lane of one subscription: what is delivered to it, and in which order.
//!
//! A round looks through the outbox for events that are wanted, makes deliveries
//! of them, and tries those that are due. Of one subject only the earliest that
//! has not come to an end is ever tried, so events of one subject arrive in
//! their order however often the earlier ones fail; subjects do not wait for
//! each other. What a round did not finish is in the store, and the next one,
//! in this process or after a restart, goes on from there.

use std::collections::HashSet;
use std::sync::Arc;

use etui_schema::subscriptions::AttemptOutcome;
use etui_schema::vocabulary::Instant;
use jiff::Timestamp;
use tokio::task::JoinSet;
use uuid::Uuid;

use super::delivery::{self, Outcome, PENDING, PendingRow, Stands, StoredDelivery};
use super::post::{Message, Post};
use super::subscription::{self, CURSORS, SUBSCRIPTIONS, StoredSubscription};
use super::{EventsError, log, retry, sign};
use crate::store::outbox;
use crate::store::record::encode;
use crate::store::rows::Rows;
use crate::store::{Batch, Read, Store, StoreError, StudioSeal};

/// The current moment, from whoever may read the clock.
pub type Now = Arc<dyn Fn() -> Timestamp + Send + Sync>;

/// Attempts of one subscription that are in flight at the same time.
const IN_FLIGHT: usize = 4;
/// Events looked through at a time.
const STRIDE: usize = 100;
/// Index rows fetched at a time.
const ROWS: usize = 256;
/// Results are written anew this often when somebody else wrote in between.
const MOST_TRIES: usize = 12;

/// What every lane shares.
pub struct Shared<S, P> {
    /// The store.
    pub store: S,
    /// What opens the secrets.
    pub seal: StudioSeal,
    /// The clock by which attempts are due.
    pub now: Now,
    /// The clock whose time is signed: receivers compare it with theirs.
    pub wall: Now,
    /// What sends.
    pub post: P,
}

/// The work of one subscription.
pub struct Lane<S, P> {
    shared: Arc<Shared<S, P>>,
    id: Uuid,
    /// How far the outbox was looked through; the store knows less.
    looked: Option<u64>,
}

/// How a round ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rest {
    /// Nothing is due; the earliest that will be, if any.
    Until(Option<Timestamp>),
    /// The subscription was removed or its receiver is gone.
    Ended,
}

/// What is to be tried now.
struct Due {
    numbers: Vec<u64>,
    next: Option<Timestamp>,
}

impl<S, P> Lane<S, P>
where
    S: Store + Clone,
    P: Post,
{
    /// The lane of a subscription.
    #[must_use]
    pub fn new(shared: Arc<Shared<S, P>>, id: Uuid) -> Self {
        Self { shared, id, looked: None }
    }

    /// Does what is to be done, until nothing is due.
    ///
    /// # Errors
    /// What the store met; the next round goes on where this one stopped.
    pub async fn round(&mut self) -> Result<Rest, EventsError> {
        loop {
            let mut snap = self.shared.store.snapshot().await?;
            let Some((subscription, _)) = subscription::find(&mut snap, self.id).await? else {
                return Ok(Rest::Ended);
            };
            if subscription.gone_at.is_some() {
                return Ok(Rest::Ended);
            }
            if subscription.paused {
                // What happens meanwhile is found again by its number.
                return Ok(Rest::Until(None));
            }
            if self.look(&mut snap, &subscription).await? {
                continue;
            }
            let now = (self.shared.now)();
            let due = self.due(&mut snap, now).await?;
            if due.numbers.is_empty() {
                return Ok(Rest::Until(due.next));
            }
            self.send(&mut snap, &subscription, due.numbers, now).await?;
        }
    }

    /// Makes deliveries of the next events; whether there may be more.
    async fn look(
        &mut self,
        snap: &mut S::Snap,
        subscription: &StoredSubscription,
    ) -> Result<bool, EventsError> {
        let held = snap.get(CURSORS, self.id.as_bytes()).await?;
        let stored = held.as_deref().and_then(outbox::number).unwrap_or(0);
        let after = self.looked.unwrap_or(0).max(stored);
        let events = log::read(snap, after, STRIDE).await?;
        let Some(last) = events.last().map(|(number, _)| *number) else { return Ok(false) };
        let now = (self.shared.now)();
        let mut batch = Batch::new();
        for (number, event) in events.iter().filter(|(_, event)| subscription.wants(event.kind)) {
            // One that was sent by hand before its turn is there already.
            if delivery::find(snap, self.id, *number).await?.is_none() {
                let made = StoredDelivery::due(*number, event, now);
                batch = delivery::replace(batch, self.id, None, &made)?;
            }
        }
        // What concerns nobody is only remembered here: after a restart it is looked at again.
        if !batch.ops.is_empty() || STRIDE <= events.len() {
            let key = self.id.as_bytes().to_vec();
            let batch =
                batch.expect(CURSORS, key.clone(), held).put(CURSORS, key, outbox::key(last));
            match self.shared.store.commit(batch).await {
                Ok(()) => {}
                // Somebody sent one of them by hand, or removed the subscription: look again.
                Err(StoreError::Conflict { .. }) => return Ok(true),
                Err(error) => return Err(error.into()),
            }
        }
        self.looked = Some(last);
        Ok(true)
    }

    /// The earliest of each subject that is due.
    async fn due(&self, snap: &mut S::Snap, now: Timestamp) -> Result<Due, EventsError> {
        let mut rows = Rows::of(PENDING, delivery::range(self.id)).by(ROWS);
        let mut subjects = HashSet::new();
        let mut due = Due { numbers: Vec::new(), next: None };
        while due.numbers.len() < IN_FLIGHT
            && let Some((at, value)) = rows.next(snap).await?
        {
            let row: PendingRow =
                serde_json::from_slice(&value).map_err(|_| EventsError::Broken(PENDING.name()))?;
            if !subjects.insert(row.subject) {
                continue;
            }
            if retry::is_due(row.due.0, now) {
                due.numbers.push(delivery::number_in(&at)?);
            } else {
                due.next = Some(due.next.map_or(row.due.0, |next| next.min(row.due.0)));
            }
        }
        Ok(due)
    }

    /// Tries some deliveries side by side and writes down what became of each.
    async fn send(
        &self,
        snap: &mut S::Snap,
        subscription: &StoredSubscription,
        numbers: Vec<u64>,
        now: Timestamp,
    ) -> Result<(), EventsError> {
        let secrets = subscription.secrets_at(&self.shared.seal, now)?;
        let mut attempts = JoinSet::new();
        for number in numbers {
            let Some(event) = log::at(snap, number).await? else {
                self.finish(number, None, now).await?;
                continue;
            };
            let id = event.id;
            let body = serde_json::to_vec(&event.told(number))
                .map_err(|_| EventsError::Broken(outbox::EVENTS.name()))?;
            let timestamp = (self.shared.wall)().as_second();
            let signature = sign::signatures(&secrets, id, timestamp, &body);
            let message = Message { url: subscription.url.clone(), id, timestamp, signature, body };
            let shared = Arc::clone(&self.shared);
            attempts.spawn(async move { (number, shared.post.post(message).await) });
        }
        while let Some(ended) = attempts.join_next().await {
            // An attempt that did not come to its end is made again.
            let Ok((number, outcome)) = ended else { continue };
            tracing::info!(
                subscription.id = %self.id,
                event.sequence = number,
                outcome = %outcome.what,
                status = outcome.status,
                "event sent"
            );
            self.finish(number, Some(outcome), now).await?;
        }
        Ok(())
    }

    /// Writes down what an attempt came to; without an outcome, that the event
    /// is no longer kept.
    async fn finish(
        &self,
        number: u64,
        outcome: Option<Outcome>,
        at: Timestamp,
    ) -> Result<(), EventsError> {
        for _ in 0..MOST_TRIES {
            let now = (self.shared.now)();
            let mut snap = self.shared.store.snapshot().await?;
            let Some((mut stored, bytes)) = delivery::find(&mut snap, self.id, number).await?
            else {
                return Ok(()); // removed with its subscription
            };
            match outcome {
                Some(outcome) => stored.take(outcome, at, now),
                None => stored.stands = Stands::Dead(Instant(now)),
            }
            let mut batch = delivery::replace(Batch::new(), self.id, Some(bytes), &stored)?;
            if outcome.is_some_and(|outcome| outcome.what == AttemptOutcome::Gone) {
                batch = self.gone(&mut snap, batch, now).await?;
            }
            match self.shared.store.commit(batch).await {
                Ok(()) => return Ok(()),
                Err(StoreError::Conflict { .. }) => {}
                Err(error) => return Err(error.into()),
            }
        }
        Err(StoreError::Unavailable("others keep changing the same delivery".into()).into())
    }

    /// Adds that the receiver is gone.
    async fn gone(
        &self,
        snap: &mut S::Snap,
        batch: Batch,
        now: Timestamp,
    ) -> Result<Batch, EventsError> {
        let Some((mut stored, bytes)) = subscription::find(snap, self.id).await? else {
            return Ok(batch);
        };
        stored.gone_at.get_or_insert(Instant(now));
        stored.version += 1;
        let key = self.id.as_bytes().to_vec();
        Ok(batch.expect(SUBSCRIPTIONS, key.clone(), Some(bytes)).put(
            SUBSCRIPTIONS,
            key,
            encode(&stored)?,
        ))
    }
}
