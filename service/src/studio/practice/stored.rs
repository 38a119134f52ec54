//! Practice sheets as they are kept: three records, each made once.
//!
//! Open lie references, numbers and days. What was practised, got and marked is sealed
//! under the artist's own key, so that it goes with her.

use etui_schema::practice_sheets::{
    HandInRequest, HandedIn, PracticeSheet, PracticeSheetRequest, SheetMarked, SheetMarksRequest,
};
use etui_schema::vocabulary::{CivilDate, Instant, Reference};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::store::index::Index;
use crate::store::keyring::Keyring;
use crate::store::seal::ClientId;
use crate::store::verify::Indexed;
use crate::store::{Bytes, Space};
use crate::studio::sealed::Trace;
use crate::studio::vault::{Subject, artist_id};

/// Ids of an artist's sheets, by their number.
pub(super) const BY_ARTIST: Index<(ClientId, String)> = Index::new("practice-sheets-by-artist");
/// What was handed in of a sheet: one at most.
pub(super) const HANDED_IN: Index<(Uuid,)> = Index::new("practice-hand-ins-by-sheet");
/// Pictures of a sheet after it was handed in, by their number.
pub(super) const AGAIN: Index<(Uuid, String)> = Index::new("practice-hand-ins-again");
/// What was marked of a sheet: one at most.
pub(super) const MARKED: Index<(Uuid,)> = Index::new("practice-marks-by-sheet");

/// A number as it stands in keys: its order is that of the texts.
pub(super) fn number_key(number: u32) -> String {
    format!("{number:010}")
}

/// What stays of a sheet.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct SheetTrace {
    /// Whose.
    pub artist_ref: Reference,
    /// Its number among hers.
    pub number: u32,
    /// The day for which it was made.
    pub made_on: CivilDate,
    /// The last day on which it may be handed in.
    pub hand_in_until: CivilDate,
}

impl Trace for SheetTrace {
    const SPACE: Space = Space::new("practice-sheets");
    const INDEXES: &'static [Indexed] = &[Indexed::Whole(BY_ARTIST.space())];
    const WHAT: &'static str = "practice-sheet";
    type Input = PracticeSheetRequest;
    type Answer = PracticeSheet;

    fn subject(&self) -> Subject {
        Subject::Artist(self.artist_ref.clone())
    }

    fn rows(&self, keyring: &Keyring, _: Uuid) -> Vec<(Space, Bytes)> {
        let artist = artist_id(keyring, &self.artist_ref);
        vec![BY_ARTIST.row(&(artist, number_key(self.number)))]
    }
}

/// What stays of a sheet that was handed in.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct HandInTrace {
    /// Whose.
    pub artist_ref: Reference,
    /// Which sheet.
    pub sheet_id: Uuid,
    /// When.
    pub at: Instant,
    /// Which of those that came after the one that counts; 0 for that one.
    #[serde(default, skip_serializing_if = "is_first")]
    pub again: u32,
}

const fn is_first(again: &u32) -> bool {
    *again == 0
}

impl HandInTrace {
    /// Its index row: one counts, the others come after it.
    pub(super) fn row(&self) -> (Space, Bytes) {
        match self.again {
            0 => HANDED_IN.row(&(self.sheet_id,)),
            later => AGAIN.row(&(self.sheet_id, number_key(later))),
        }
    }
}

impl Trace for HandInTrace {
    const SPACE: Space = Space::new("practice-hand-ins");
    const INDEXES: &'static [Indexed] =
        &[Indexed::Whole(HANDED_IN.space()), Indexed::Whole(AGAIN.space())];
    const WHAT: &'static str = "practice-hand-in";
    type Input = HandInRequest;
    type Answer = HandedIn;

    fn subject(&self) -> Subject {
        Subject::Artist(self.artist_ref.clone())
    }

    fn rows(&self, _: &Keyring, _: Uuid) -> Vec<(Space, Bytes)> {
        vec![self.row()]
    }
}

/// What stays of a sheet that was marked.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct MarksTrace {
    /// Whose sheet.
    pub artist_ref: Reference,
    /// Which sheet.
    pub sheet_id: Uuid,
    /// Who marked it.
    pub marked_by: Reference,
    /// When.
    pub at: Instant,
}

impl Trace for MarksTrace {
    const SPACE: Space = Space::new("practice-marks");
    const INDEXES: &'static [Indexed] = &[Indexed::Whole(MARKED.space())];
    const WHAT: &'static str = "practice-marks";
    type Input = SheetMarksRequest;
    type Answer = SheetMarked;

    fn subject(&self) -> Subject {
        Subject::Artist(self.artist_ref.clone())
    }

    fn rows(&self, _: &Keyring, _: Uuid) -> Vec<(Space, Bytes)> {
        vec![MARKED.row(&(self.sheet_id,))]
    }
}
