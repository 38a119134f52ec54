//! Countersignatures: a trainer confirms that she was there.

use crate::kinds::{sent, told};
use uuid::Uuid;

use crate::vocabulary::{Instant, Reference};

/// A trainer confirms that she was in the room. Who confirms is told by the token alone.
#[sent(Eq, free)]
pub struct CountersignatureRequest {
    /// What else there is to say.
    #[garde(length(chars, min = 1, max = 2_000))]
    pub note: Option<String>,
}

/// That a trainer was there.
#[told(Eq)]
pub struct Countersignature {
    /// Its id.
    pub id: Uuid,
    /// The treatment.
    pub treatment_id: Uuid,
    /// When it was confirmed.
    pub at: Instant,
    /// Who confirmed it, by the studio's reference.
    pub signed_by: Reference,
    /// What else was said.
    pub note: Option<String>,
}
