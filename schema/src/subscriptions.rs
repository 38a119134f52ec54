//! Subscriptions: where events are delivered to, and what became of each.

use crate::kinds::{asked, sent, told};
use uuid::Uuid;

use crate::events::{EventType, Sequence};
use crate::open::Open;
use crate::problem::Fault;
use crate::vocabulary::{Instant, words};

words! {
    /// Whether a subscription is delivered to.
    SubscriptionState, "subscription state" {
        /// Events are delivered.
        Active = "active",
        /// Its owner paused it: events are kept for it, at most for 30 days.
        Paused = "paused",
        /// The receiver answered 410: nothing is sent any more.
        Gone = "gone",
    }
}

words! {
    /// How far a delivery is.
    DeliveryState, "delivery state" {
        /// It will be tried, or tried again.
        Pending = "pending",
        /// The receiver took it.
        Delivered = "delivered",
        /// It was tried for three days in vain; only by hand it goes out again.
        Dead = "dead",
        /// The receiver is gone; it is not tried any more.
        Cancelled = "cancelled",
    }
}

words! {
    /// What one attempt came to.
    AttemptOutcome, "outcome" {
        /// A status from 200 to 299.
        Delivered = "delivered",
        /// Status 410: the receiver wants no more.
        Gone = "gone",
        /// A status from 300 to 399; redirects are not followed.
        Redirected = "redirected",
        /// Another status.
        Refused = "refused",
        /// No answer in time.
        Timeout = "timeout",
        /// The name leads to no address.
        NoAddress = "no_address",
        /// The name leads to an address that may not be called.
        AddressNotAllowed = "address_not_allowed",
        /// No connection, or it broke.
        NoConnection = "no_connection",
        /// The certificate is not good, or no TLS was spoken.
        NoTls = "no_tls",
    }
}

/// Where events are to be delivered.
#[sent(Eq)]
pub struct SubscriptionRequest {
    /// An `https` address without credentials and fragment. `http`, and
    /// addresses of the own machine or network, only if the owner allows
    /// them (`--allow-private-targets`).
    #[garde(length(chars, min = 8, max = 2000))]
    pub url: String,
    /// Which types; every type if absent.
    #[garde(length(min = 1, max = 20))]
    pub types: Option<Vec<EventType>>,
}

/// A subscription as it is after a merge patch: what of it can be changed.
#[sent(Eq, free)]
pub struct SubscriptionSettings {
    /// Where events are delivered, as for a new subscription. Another address is another
    /// receiver: one that was gone is delivered to again.
    #[garde(length(chars, min = 8, max = 2000))]
    pub url: String,
    /// Which types; every type if absent.
    #[garde(length(min = 1, max = 20))]
    pub types: Option<Vec<EventType>>,
    /// Whether delivery waits.
    #[serde(default)]
    pub paused: bool,
}

/// A subscription.
#[told(Eq)]
pub struct Subscription {
    /// Its id.
    pub id: Uuid,
    /// Where events are delivered.
    pub url: String,
    /// Which types.
    pub types: Vec<EventType>,
    /// Whether it is delivered to.
    pub state: Open<SubscriptionState>,
    /// Whether delivery waits.
    #[serde(default)]
    pub paused: bool,
    /// When the receiver said that it is gone.
    pub gone_at: Option<Instant>,
    /// When it was made.
    pub created_at: Instant,
    /// The secret that signs (Standard Webhooks, `whsec_…`). It is shown when
    /// it is made, and never again.
    pub secret: Option<String>,
    /// The secrets that sign, the newest first. While there are two, every
    /// delivery carries both signatures.
    pub secrets: Vec<SecretInfo>,
    /// Counts the changes, from 1.
    pub version: u64,
}

/// What is told of a secret.
#[told(Eq)]
pub struct SecretInfo {
    /// When it was made.
    pub made_at: Instant,
    /// Until when it signs, if a newer one took its place.
    pub until: Option<Instant>,
}

/// A new secret in place of the old one.
#[sent(Eq)]
pub struct SecretRequest {
    /// How long the old secret signs beside the new one, 0 to 604 800 (a week);
    /// 86 400 (a day) if absent.
    #[garde(range(min = 0, max = 604_800))]
    pub overlap_seconds: Option<u32>,
}

/// One event on its way to one subscription.
#[told(Eq)]
pub struct Delivery {
    /// Its id: that of the event, which is also the `webhook-id` of every
    /// attempt.
    pub id: Uuid,
    /// The subscription.
    pub subscription_id: Uuid,
    /// Type of the event.
    #[serde(rename = "type")]
    pub kind: EventType,
    /// Subject of the event.
    pub subject: String,
    /// Place of the event.
    pub sequence: Sequence,
    /// How far it is.
    pub state: Open<DeliveryState>,
    /// How often it was tried.
    pub attempts: u32,
    /// The latest attempts, oldest first.
    pub recent: Vec<DeliveryAttempt>,
    /// When it is tried next; a later event of the same subject waits for it.
    pub next_attempt_at: Option<Instant>,
    /// When it was made.
    pub made_at: Instant,
    /// When it came to its end.
    pub finished_at: Option<Instant>,
}

/// One attempt.
#[told(Eq)]
pub struct DeliveryAttempt {
    /// When it began.
    pub at: Instant,
    /// What it came to.
    pub outcome: Open<AttemptOutcome>,
    /// The status that was answered.
    pub status: Option<u16>,
}

/// Which deliveries to list.
#[asked(Default, Eq)]
pub struct DeliveryQuery {
    /// Only deliveries in this state; repeated: in one of these.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 10))]
    pub state: Vec<DeliveryState>,
    /// Rows a page, 1 to 200; 50 if absent.
    #[schemars(range(min = 1, max = 200))]
    pub limit: Option<u16>,
    /// The `next_cursor` of the page before.
    #[schemars(length(min = 1, max = 600))]
    pub cursor: Option<String>,
}

/// An event is to be delivered again, or for the first time.
#[sent(Default, Eq, free)]
pub struct RedeliveryRequest {
    /// Send it even if the receiver took it before. Absent: no.
    pub even_if_delivered: Option<bool>,
}

/// Many events are to be delivered again.
#[sent(Default, Eq, free)]
pub struct RedeliveriesRequest {
    /// Which, 1 to 200; every dead letter if absent, at most 200 at a time.
    #[garde(length(min = 1, max = 200))]
    pub deliveries: Option<Vec<Uuid>>,
    /// Send also those that the receiver took before. Absent: no.
    pub even_if_delivered: Option<bool>,
}

/// What became of many events that were to be delivered again.
#[told(Eq)]
pub struct Redeliveries {
    /// When.
    pub resent_at: Instant,
    /// Whether this only says what would happen.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub dry_run: bool,
    /// What became of each, in the order of the request or of the events.
    pub outcomes: Vec<RedeliveryOutcome>,
    /// Whether there are more dead letters: ask again.
    pub more: bool,
}

/// What became of one of them.
#[told(Eq)]
pub struct RedeliveryOutcome {
    /// The delivery: the id of its event.
    pub delivery_id: Uuid,
    /// It is due at once; absent if it is not sent.
    pub delivery: Option<Delivery>,
    /// Why it is not sent.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<Fault>,
}
