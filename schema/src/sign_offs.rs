//! Sign-offs: a trainer answers for what another artist may do.

use crate::kinds::{asked, sent, told};
use uuid::Uuid;

use crate::vocabulary::{CivilDate, Effect, Grouping, Instant, Reference, Rung, Site};
use crate::written::NAMED;

/// Diameters of one needle's shaft, in millimetres.
#[sent(Copy)]
pub struct DiameterRange {
    /// The finest, 0.10 to 0.60.
    #[garde(range(min = 0.10, max = 0.60))]
    pub from: f64,
    /// The thickest, not below `from`.
    #[garde(range(min = 0.10, max = 0.60))]
    pub to: f64,
}

/// What a sign-off covers: nothing beside it.
#[sent(Copy, free)]
pub struct Covers {
    /// How the needles are bound together.
    pub grouping: Grouping,
    /// How many needles.
    #[garde(range(min = 1, max = 49))]
    pub count: u8,
    /// Which diameters.
    #[garde(dive)]
    pub diameter_mm: DiameterRange,
    /// Which effect.
    pub effect: Effect,
    /// Where on the body.
    pub site: Site,
}

/// A sign-off to be given. Who signs is told by the token alone.
#[sent(free)]
pub struct SignOffRequest {
    /// Who is signed off.
    pub artist_ref: Reference,
    /// For what.
    #[garde(dive)]
    pub covers: Covers,
    /// How far it goes.
    pub rung: Rung,
    /// Its last day, at most a year from today.
    pub valid_until: CivilDate,
    /// What else there is to say.
    #[garde(length(chars, min = 1, max = 2_000))]
    pub note: Option<String>,
}

/// A sign-off.
#[told]
pub struct SignOff {
    /// Its id.
    pub id: Uuid,
    /// Who is signed off.
    pub artist_ref: Reference,
    /// For what.
    pub covers: Covers,
    /// How far it goes.
    pub rung: Rung,
    /// Who signed, by the studio's reference.
    pub signed_by: Reference,
    /// When.
    pub signed_at: Instant,
    /// Its last day.
    pub valid_until: CivilDate,
    /// What else was said.
    pub note: Option<String>,
    /// That it was taken back; absent while it was not.
    pub withdrawn: Option<Withdrawal>,
}

/// That a sign-off was taken back.
#[told(Eq)]
pub struct Withdrawal {
    /// When.
    pub at: Instant,
    /// By whom: an artist, or `owner`.
    pub by: Reference,
    /// Why.
    pub reason: String,
}

/// Takes a sign-off back.
#[sent(Eq)]
pub struct WithdrawalRequest {
    /// Why, in words, 3 to 500 characters.
    #[garde(length(chars, min = 3, max = 500), pattern(NAMED))]
    pub reason: String,
}

/// Which sign-offs to list.
#[asked(Default, Eq)]
pub struct SignOffQuery {
    /// Only those of this artist.
    pub artist_ref: Option<Reference>,
    /// Rows a page, 1 to 200; 50 if absent.
    #[schemars(range(min = 1, max = 200))]
    pub limit: Option<u16>,
    /// The `next_cursor` of the page before.
    #[schemars(length(min = 1, max = 600))]
    pub cursor: Option<String>,
}
