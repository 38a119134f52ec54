//! Events: the outbox, and its signed deliveries to other programs.
//!
//! # How an event travels
//!
//! A use case adds it to the batch of its change; the committer numbers it
//! ([`crate::store::outbox`]). From there it can be read by number
//! ([`log`]: pulled, or followed as a stream), and it is delivered to every
//! subscription that wants its type.
//!
//! ```text
//! outbox ──▶ lane (one a subscription) ──▶ delivery (pending) ──▶ POST, signed
//!                                              ▲                     │
//!                                              └── back-off, jitter ─┤
//!                                   delivered / dead / cancelled ◀───┘
//! ```
//!
//! # What is promised
//!
//! - Every event is delivered at least once to every subscription that wanted
//!   it when it happened, or becomes a dead letter that can be sent by hand.
//! - What is delivered twice carries the same id (`webhook-id`, and `id` of the
//!   event), since the id of a delivery *is* that of its event.
//! - Events of one subject reach a subscription in their order: a later one
//!   waits until the earlier one is delivered or dead.
//! - All of it survives a restart: what is pending lies in the store.
//! - A slow or dead receiver holds up nobody: each subscription has a lane of
//!   its own, with its own bound on what is in flight, on a thread beside the
//!   one that answers requests.
//!
//! # Layers in here
//!
//! | file | what |
//! |---|---|
//! | `stored`, `log` | an event as stored; reading the outbox, clearing old events away |
//! | `subscription`, `delivery` | records and their index rows |
//! | `target` | which addresses may be called |
//! | `sign` | Standard Webhooks signatures |
//! | `retry` | when to try again |
//! | `post`, `tls` | one attempt over the network |
//! | `lane`, `deliverer` | the work of one subscription; all of them beside the service |
//!
//! # What is absent
//!
//! No use case, no web framework, no clock and no randomness: the time comes
//! from a function that is passed in, and jitter from a hash. No log line holds
//! an address, a reference or a body.

pub mod deliverer;
pub mod delivery;
pub mod lane;
pub mod log;
pub mod post;
pub mod retry;
pub mod sign;
pub mod stored;
pub mod subscription;
pub mod target;
#[cfg(feature = "tls")]
mod tls;

#[cfg(test)]
mod tests;

use crate::store::StoreError;
use crate::store::record::RecordError;
use crate::store::seal::SealError;

/// Why something about events could not be done.
#[derive(Debug, thiserror::Error)]
pub enum EventsError {
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A stored value.
    #[error(transparent)]
    Record(#[from] RecordError),
    /// A secret.
    #[error(transparent)]
    Seal(#[from] SealError),
    /// A row that does not have its form.
    #[error("a row of {0} does not have its form")]
    Broken(&'static str),
}
