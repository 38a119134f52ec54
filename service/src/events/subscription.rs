//! A subscription as it is stored, and its secrets.
//!
//! | space | key | value |
//! |---|---|---|
//! | [`SUBSCRIPTIONS`] | id | address, types, sealed secrets, state |
//! | [`CURSORS`] | id | number of the last event that was looked at for it |
//! | [`REMOVED`] | id | – ; its deliveries are still to be cleared away |

use etui_schema::events::EventType;
use etui_schema::subscriptions::{SecretInfo, Subscription, SubscriptionState};
use etui_schema::vocabulary::Instant;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::EventsError;
use crate::store::record::{Record, decode};
use crate::store::seal::{Entropy, SealError, Sealed};
use crate::store::{Bytes, Order, Read, Space, StudioSeal};

/// The records.
pub const SUBSCRIPTIONS: Space = Space::new("subscriptions");
/// How far the outbox was looked through for each.
pub const CURSORS: Space = Space::new("subscription-cursors");
/// Those that were removed and have deliveries left.
pub const REMOVED: Space = Space::new("subscriptions-removed");
/// Most subscriptions of one studio: each has a lane of its own.
pub const MOST: usize = 50;
/// Most secrets that sign at the same time: each makes the header of a delivery longer.
pub const MOST_SECRETS: usize = 8;

/// A subscription as stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StoredSubscription {
    /// Its id.
    pub id: Uuid,
    /// Where events are delivered.
    pub url: String,
    /// Which types, in the order of the vocabulary.
    pub types: Vec<EventType>,
    /// Newest first.
    pub secrets: Vec<StoredSecret>,
    /// When it was made.
    pub created_at: Instant,
    /// When its receiver said that it is gone.
    pub gone_at: Option<Instant>,
    /// Whether its owner lets delivery wait.
    #[serde(default)]
    pub paused: bool,
    /// Counts the changes, from 1.
    pub version: u64,
}

/// A secret as stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StoredSecret {
    /// Its bytes, sealed for the studio.
    pub sealed: Sealed,
    /// When it was made.
    pub made_at: Instant,
    /// Until when it signs.
    pub until: Option<Instant>,
}

impl Record for StoredSubscription {
    const KIND: &'static str = "subscription";
}

impl StoredSubscription {
    /// Puts a new secret first; the one before signs until the end of the overlap, and those before
    /// it until what was told of them. Without an overlap all of them end at once.
    ///
    /// # Errors
    /// [`SealError`] if it cannot be sealed.
    pub fn add_secret(
        &mut self,
        seal: &StudioSeal,
        secret: &[u8],
        (now, until): (Timestamp, Timestamp),
        entropy: &mut Entropy<'_>,
    ) -> Result<(), SealError> {
        let sealed = seal.seal((SUBSCRIPTIONS, self.id.as_bytes()), secret, entropy)?;
        if let Some(before) = self.secrets.first_mut() {
            before.until = Some(Instant(until));
        }
        if until <= now {
            // No overlap was asked for: one of them may have leaked, so all that signed are gone.
            self.secrets.clear();
        }
        self.secrets.insert(0, StoredSecret { sealed, made_at: Instant(now), until: None });
        self.secrets.retain(|secret| secret.signs_at(now));
        Ok(())
    }

    /// The secrets that sign at a moment, newest first.
    ///
    /// # Errors
    /// [`SealError`] if one does not open.
    pub fn secrets_at(&self, seal: &StudioSeal, now: Timestamp) -> Result<Vec<Bytes>, SealError> {
        let place = (SUBSCRIPTIONS, self.id.as_bytes().as_slice());
        let good = self.secrets.iter().filter(|secret| secret.signs_at(now));
        good.map(|secret| seal.open(place, &secret.sealed)).collect()
    }

    /// How many secrets sign at a moment.
    #[must_use]
    pub fn signing_at(&self, now: Timestamp) -> usize {
        self.secrets.iter().filter(|secret| secret.signs_at(now)).count()
    }

    /// Whether events of a type are wanted.
    #[must_use]
    pub fn wants(&self, kind: EventType) -> bool {
        self.gone_at.is_none() && self.types.contains(&kind)
    }

    /// The subscription as its owner sees it.
    #[must_use]
    pub fn told(self, secret: Option<String>) -> Subscription {
        let Self { id, url, types, secrets, created_at, gone_at, paused, version } = self;
        let info = |secret: StoredSecret| {
            let StoredSecret { sealed: _, made_at, until } = secret;
            SecretInfo { made_at, until }
        };
        Subscription {
            id,
            url,
            types,
            state: if gone_at.is_some() {
                SubscriptionState::Gone.into()
            } else if paused {
                SubscriptionState::Paused.into()
            } else {
                SubscriptionState::Active.into()
            },
            paused,
            gone_at,
            created_at,
            secret,
            secrets: secrets.into_iter().map(info).collect(),
            version,
        }
    }
}

impl StoredSecret {
    fn signs_at(&self, now: Timestamp) -> bool {
        self.until.is_none_or(|until| now < until.0)
    }
}

/// Looks a subscription up, with the bytes it was read from.
///
/// # Errors
/// What the store met.
pub async fn find<R: Read>(
    snap: &mut R,
    id: Uuid,
) -> Result<Option<(StoredSubscription, Bytes)>, EventsError> {
    match snap.get(SUBSCRIPTIONS, id.as_bytes()).await? {
        Some(bytes) => Ok(Some((decode(&bytes)?, bytes))),
        None => Ok(None),
    }
}

/// Every subscription, in the order in which they were made.
///
/// # Errors
/// What the store met.
pub async fn all<R: Read>(snap: &mut R) -> Result<Vec<StoredSubscription>, EventsError> {
    let range = Bytes::new()..Bytes::new();
    let rows = snap.scan(SUBSCRIPTIONS, range, Order::Ascending, MOST).await?;
    rows.into_iter().map(|(_, value)| Ok(decode(&value)?)).collect()
}
