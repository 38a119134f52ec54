//! A check as the treatment after it sees it.
//!
//! A check is long, most of it sentences, needles and a plan that no treatment is held against: of what
//! was answered only the outcome and the rules that spoke are read, and all of it once.

use etui_schema::appointment_checks::AppointmentCheck;
use etui_schema::open::Open;
use etui_schema::vocabulary::{Effect, Reference, Treatment, Verdict};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{CheckTrace, Gathered};
use crate::store::record::{Came, Record};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::sealed::{self, StoredSealed};

/// A check that was made before a treatment.
#[derive(Debug, Clone)]
pub struct CheckSeen {
    pub(super) id: Uuid,
    pub(super) trace: CheckTrace,
    pub(super) said: Said,
    /// What it was made from.
    pub gathered: Gathered,
}

/// What a check came to. The rest of the answer is not read.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Said {
    pub(super) verdict: Open<Verdict>,
    pub(super) findings: Vec<Found>,
}

/// A rule that spoke.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Found {
    pub(super) rule: String,
}

/// It is the answer's own document.
impl Record for Said {
    const KIND: &'static str = AppointmentCheck::KIND;
    const CAME: &'static [Came] = AppointmentCheck::CAME;
    const VERSION: u32 = AppointmentCheck::VERSION;
}

impl CheckSeen {
    /// A kept check.
    ///
    /// # Errors
    /// [`Error::NotFound`] if the person was erased; [`Error::Unreadable`]; what the store met.
    pub async fn of(
        studio: &Studio,
        snap: &mut Snap,
        record: StoredSealed<CheckTrace>,
    ) -> Result<Self, Error> {
        let access = record.access(studio, snap).await?;
        let (gathered, said) = (record.input_by(&access)?, record.said_as(&access)?);
        Ok(Self { id: record.id, trace: record.trace, said, gathered })
    }

    /// The client.
    #[must_use]
    pub fn client_ref(&self) -> Option<&Reference> {
        self.trace.client_ref.as_ref()
    }

    /// What was to be treated.
    #[must_use]
    pub const fn treatment(&self) -> Treatment {
        self.trace.treatment
    }

    /// The effect.
    #[must_use]
    pub const fn effect(&self) -> Effect {
        self.gathered.request.effect
    }

    /// Who was to do it, if that was said.
    #[must_use]
    pub fn artist_ref(&self) -> Option<&Reference> {
        self.trace.artist_ref.as_ref()
    }

    /// When it was made.
    #[must_use]
    pub const fn made_at(&self) -> Timestamp {
        self.trace.made_at.0
    }

    /// The appointment's local date.
    #[must_use]
    pub fn on(&self) -> Date {
        self.gathered.day()
    }

    /// The outcome, if this build knows it.
    #[must_use]
    pub fn verdict(&self) -> Option<Verdict> {
        self.said.verdict.known()
    }
}

/// The check that a treatment names; `None` if it names none, if there is none, or if the person was
/// erased.
///
/// # Errors
/// What the store met.
pub async fn seen(
    studio: &Studio,
    snap: &mut Snap,
    id: Option<Uuid>,
) -> Result<Option<CheckSeen>, Error> {
    let Some(id) = id else { return Ok(None) };
    let Some(record) = readable(sealed::load(snap, id).await)? else { return Ok(None) };
    readable(CheckSeen::of(studio, snap, record).await)
}
