//! What a claim was given, for a repeat of the same request.
//!
//! Each reminder as it was when it was claimed: what becomes of it afterwards
//! changes nothing of the answer. What it says stays sealed under its client's key,
//! so an erasure takes it out of every repeat; the others are given all the same.

use etui_schema::reminders::{Lease, ReminderClaim};
use etui_schema::vocabulary::Instant;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use uuid::Uuid;

use super::stored::{StoredReminder, find};
use crate::store::Space;
use crate::store::record::{Record, RecordError, decode, of_first};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::moment::Mandate;
use crate::studio::opener::Verified;
use crate::studio::plan::to_json;
use crate::studio::treatments::is_reached;
use crate::studio::vault::{self, Subject};

/// Where former builds kept claims; today they lie with the key of the request.
pub(super) const CLAIMS: Space = Space::new("reminder-claims");

/// A claim as stored.
#[derive(Debug, Serialize, Deserialize)]
pub struct StoredClaim {
    claim_id: Uuid,
    until: Instant,
    /// The reminders as they were given.
    #[serde(default)]
    given: Vec<StoredReminder>,
    /// Of former builds: which were given.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    reminders: Vec<Uuid>,
    overtaken: u32,
    more: bool,
}

impl Record for StoredClaim {
    const KIND: &'static str = "reminder_claim";
    /// 2: the reminders themselves.
    const VERSION: u32 = 2;

    fn upgrade(version: u32, data: Value) -> Result<Self, RecordError> {
        of_first(version, data)
    }
}

impl Verified for StoredClaim {
    const SPACE: Space = CLAIMS;
}

impl StoredClaim {
    pub(super) fn of(lease: Lease, given: Vec<StoredReminder>, overtaken: u32, more: bool) -> Self {
        let Lease { claim_id, until } = lease;
        Self { claim_id, until, given, reminders: Vec::new(), overtaken, more }
    }
}

/// The answer of an earlier claim, without what the token does not reach any more.
///
/// # Errors
/// What the store met.
pub async fn repeat(
    studio: &Studio,
    snap: &mut Snap,
    mandate: &Mandate,
    stored: &[u8],
) -> Result<Vec<u8>, Error> {
    let StoredClaim { claim_id, until, given, reminders, overtaken, more } = decode(stored)?;
    let mut answers = Vec::new();
    let subjects = given.iter().map(|one| Subject::Client(one.client_ref.clone()));
    let keys = vault::for_many(studio, snap, subjects).await?;
    for (one, access) in given.into_iter().zip(keys) {
        let said = access.and_then(|access| one.said(access.as_ref()));
        answers.extend(readable(said)?.flatten().map(|said| one.saying(said)));
    }
    for id in reminders {
        let Some((reminder, _)) = readable(find(snap, id).await)?.flatten() else { continue };
        answers.extend(readable(reminder.answer(studio, snap).await)?.flatten());
    }
    let mut reached = Vec::with_capacity(answers.len());
    for one in answers {
        if is_reached(snap, mandate, one.treatment_id).await? {
            reached.push(one);
        }
    }
    let claim_id = Some(claim_id);
    to_json(&ReminderClaim { claim_id, until, reminders: reached, overtaken, more })
}
