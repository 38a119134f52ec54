//! Amendments: what is put right in a treatment record afterwards. What was
//! recorded before stays readable; nothing is overwritten.

use crate::kinds::{sent, told};
use uuid::Uuid;

use crate::treatments::{Flag, OpenedPack, PackUse, PigmentUse, Worked};
use crate::vocabulary::{Effect, Instant, Reference, Zone};
use crate::written::NAMED;

/// What is put right. Client and kind of treatment are what a record is found
/// by: if one of them is wrong, strike its packs and record the treatment anew.
#[sent]
pub struct AmendmentRequest {
    /// Why.
    #[garde(length(chars, min = 3, max = 500), pattern(NAMED))]
    pub reason: String,
    /// The right values; those that are absent stay.
    #[serde(default, skip_serializing_if = "AmendedValues::is_empty")]
    #[garde(dive)]
    pub values: AmendedValues,
    /// Packs that were opened and not recorded; they leave the drawer now.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 20), dive)]
    pub add_packs: Vec<PackUse>,
    /// Packs that were recorded and not opened, by their place in the record
    /// from 0; they go back into the drawer.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 40))]
    pub strike_packs: Vec<u8>,
}

/// Values of a record that can be put right.
#[sent(Default, free)]
pub struct AmendedValues {
    /// When the treatment was. Its reminders, its calendar entries and its
    /// exposure rows move with it.
    pub performed_at: Option<Instant>,
    /// The artist.
    pub artist_ref: Option<Reference>,
    /// The machine.
    pub machine_ref: Option<Reference>,
    /// What the result should look like.
    pub effect: Option<Effect>,
    /// Every pigment that was used, in place of those recorded.
    #[garde(length(max = 20), dive)]
    pub pigments: Option<Vec<PigmentUse>>,
    /// How it was worked, in place of what was recorded.
    #[garde(dive)]
    pub worked: Option<Worked>,
    /// Where it was done.
    pub branch_ref: Option<Reference>,
}

impl AmendedValues {
    /// Whether no value is put right.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

/// One amendment.
#[told]
pub struct Amendment {
    /// Its id.
    pub id: Uuid,
    /// The treatment.
    pub treatment_id: Uuid,
    /// Its place in the history, from 1.
    pub number: u32,
    /// When it was made.
    pub at: Instant,
    /// Who made it: `owner` or the name of a plug-in.
    pub by: String,
    /// Why.
    pub reason: String,
    /// The values as they were; those that had none are absent.
    pub was: AmendedValues,
    /// The values as they are now.
    pub now: AmendedValues,
    /// Packs that were added, with what their label said. They follow the
    /// record's other packs.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub added: Vec<OpenedPack>,
    /// Packs that were struck, by their place in the record from 0.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub struck: Vec<u8>,
    /// What about the amendment wants a second look.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub flags: Vec<Flag>,
    /// Flags of the record that hold no longer.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub no_longer: Vec<Flag>,
    /// The record's zone since, if it followed the branch.
    #[serde(default)]
    pub zone: Option<Zone>,
}
