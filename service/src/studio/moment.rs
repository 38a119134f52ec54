//! When something happens, who asks for it, and where ids and random bytes
//! come from: all of it handed in.

use std::sync::Arc;
use std::time::Duration;

use etui_schema::vocabulary::{Reference, Zone};
use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

use super::error::Error;
use crate::store::AuditEntry;
use crate::store::seal;

/// Where the service gets the time and random bytes from. `http::clock` has
/// the system's own and a scripted one for tests.
pub trait Sources: Send + Sync + 'static {
    /// The current moment, as the clock on the wall has it.
    fn now(&self) -> Timestamp;
    /// Time that only ever passes: since some moment of the past, whatever the
    /// clock on the wall is set to.
    fn steady(&self) -> Duration;
    /// Fills a buffer with unpredictable bytes.
    ///
    /// # Errors
    /// If the system has none to give.
    fn fill(&self, bytes: &mut [u8]) -> Result<(), NoEntropy>;

    /// A new id (UUID version 7) for the current moment.
    ///
    /// # Errors
    /// If the system has no random bytes to give.
    fn id(&self) -> Result<Uuid, NoEntropy> {
        let mut random = [0; 10];
        self.fill(&mut random)?;
        let millis = u64::try_from(self.now().as_millisecond()).unwrap_or(0);
        Ok(uuid::Builder::from_unix_timestamp_millis(millis, &random).into_uuid())
    }
}

/// The system has no random bytes to give.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the system has no random bytes to give")]
pub struct NoEntropy;

/// Whose token the owner's is.
pub const OWNER: &str = "owner";

/// For whom a caller acts, and how far. Nothing of it is ever read from a body.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Mandate {
    /// The artist that the token was bound to by an `admin`.
    pub acts_for: Option<Reference>,
    /// The artists whose work alone the token reaches; everybody's if it is not limited.
    pub artists: Option<Arc<[Reference]>>,
    /// The branches whose records alone the token reaches; all if it is not limited.
    pub branches: Option<Arc<[Reference]>>,
    /// Whether the token may sign off others.
    pub signs: bool,
    /// Whether the token holds `admin`.
    pub is_admin: bool,
}

impl Mandate {
    /// Whether work is within reach that is of this artist; what is nobody's by name is of
    /// nobody whom a limited token names.
    #[must_use]
    pub fn reaches(&self, artist: Option<&Reference>) -> bool {
        let among = |all: &Arc<[Reference]>| artist.is_some_and(|artist| all.contains(artist));
        self.artists.as_ref().is_none_or(among)
    }

    /// Whether what is of this branch is within reach; what is of none is of none that a limited
    /// token names.
    #[must_use]
    pub fn reaches_branch(&self, branch: Option<&Reference>) -> bool {
        let among = |all: &Arc<[Reference]>| branch.is_some_and(|branch| all.contains(branch));
        self.branches.as_ref().is_none_or(among)
    }

    /// Whether an artist's work at a branch is within reach.
    #[must_use]
    pub fn reaches_work(&self, artist: Option<&Reference>, branch: Option<&Reference>) -> bool {
        self.reaches(artist) && self.reaches_branch(branch)
    }

    /// Whether the token is limited to some artists or branches.
    #[must_use]
    pub const fn is_limited(&self) -> bool {
        self.artists.is_some() || self.branches.is_some()
    }
}

/// The moment and the caller of a use case.
#[derive(Clone)]
pub struct Moment {
    /// Now.
    pub now: Timestamp,
    /// The instant by which days are told: now, and never before what is on record.
    pub dated: Timestamp,
    /// The local date of the studio, or of the branch that it stands at.
    pub today: Date,
    /// Who calls: `owner` or the name of a plug-in.
    pub holder: String,
    /// For whom, and whether she may sign.
    pub mandate: Mandate,
    /// What the events of it say they come from.
    pub event_source: Arc<str>,
    /// Ids and random bytes.
    pub sources: Arc<dyn Sources>,
}

impl Moment {
    /// The same moment by the calendar of a studio that stands at a branch.
    #[must_use]
    pub fn by(&self, zone: &Zone) -> Self {
        Self { today: zone.rules().to_datetime(self.dated).date(), ..self.clone() }
    }

    /// Another moment, by a calendar.
    #[must_use]
    pub fn then(&self, now: Timestamp, zone: &Zone) -> Self {
        Self { now, dated: now, ..self.clone() }.by(zone)
    }

    /// Who signs: the artist that the token acts for. The owner's own token, which
    /// binds the others, acts for the owner; that of a plug-in without an artist for
    /// nobody.
    #[must_use]
    pub fn signer(&self) -> Option<Reference> {
        let owner = || (self.holder == OWNER).then(|| OWNER.parse().ok()).flatten();
        self.mandate.acts_for.clone().or_else(owner).filter(|_| self.mandate.signs)
    }

    /// A new id.
    ///
    /// # Errors
    /// [`Error::Internal`] if there are no random bytes.
    pub fn id(&self) -> Result<Uuid, Error> {
        self.sources.id().map_err(|e| Error::Internal(e.to_string()))
    }

    /// Random bytes for sealing.
    pub fn entropy(&self) -> impl FnMut(&mut [u8]) -> Result<(), seal::NoEntropy> + Send + '_ {
        |bytes| self.sources.fill(bytes).map_err(|_| seal::NoEntropy)
    }

    /// An entry of the audit trail for something done now.
    #[must_use]
    pub fn entry(&self, what: &str, record: &str, version: u64) -> AuditEntry {
        AuditEntry {
            at: self.now.to_string(),
            who: self.holder.clone(),
            what: what.to_owned(),
            record: record.to_owned(),
            version,
        }
    }
}
