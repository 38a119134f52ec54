//! Practice sheets: numbered when they are made, handed in by a day, marked by a trainer.

use crate::kinds::{asked, sent, told};
use uuid::Uuid;

use crate::drills::{DrillGrade, DrillRequest, Drills, MeasuredQuantity, TrainerMarks};
use crate::open::Open;
use crate::service::Basis;
use crate::sheet_readings::{PanelPlace, PictureQuality};
use crate::sign_offs::SignOff;
use crate::vocabulary::{
    ArtistStanding, CivilDate, Configuration, Effect, Instant, PracticeState, Reference, Rung,
    SheetState, Site,
};

/// A sheet to be made.
#[sent(free)]
pub struct PracticeSheetRequest {
    /// Who practises. A token that acts for an artist makes sheets for her alone.
    pub artist_ref: Reference,
    /// What is practised; `effect` is needed. Sheets of the level `first` are kept and
    /// count for nothing.
    #[garde(dive)]
    pub drills: DrillRequest,
    /// That she begins anew with this sheet: what came before no longer counts.
    #[serde(default)]
    pub anew: bool,
}

/// A practice sheet.
#[told]
pub struct PracticeSheet {
    /// Its id.
    pub id: Uuid,
    /// Who practises.
    pub artist_ref: Reference,
    /// Its number among her sheets, from 1.
    pub number: u32,
    /// When it was made.
    pub made_at: Instant,
    /// The day for which it was made.
    pub made_on: CivilDate,
    /// The last day on which it may be handed in; after that it counts as missed.
    pub hand_in_until: CivilDate,
    /// Whether she begins anew with it.
    pub anew: bool,
    /// What it was made from.
    pub request: DrillRequest,
    /// What it asks.
    pub drills: Drills,
    /// How it stands today.
    pub state: Open<SheetState>,
    /// What was handed in; absent while nothing was.
    pub handed_in: Option<HandedIn>,
    /// Pictures of it after it was handed in: they never make a panel better.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub again: Vec<HandedIn>,
    /// What a trainer marked; absent while none did.
    pub marked: Option<SheetMarked>,
}

/// What was got on a sheet, handed in once.
#[sent(free)]
pub struct HandInRequest {
    /// The panels; one that is not here counts as missed.
    #[garde(length(min = 1, max = 60), dive)]
    pub panels: Vec<PanelAttempt>,
}

/// A picture of a sheet that is handed in.
#[sent(free)]
pub struct SheetPictureRequest {
    /// As in `SheetReadingRequest`.
    #[garde(range(min = 90.0, max = 110.0))]
    pub bar_mm: Option<f64>,
    /// As in `SheetReadingRequest`; dropped once it is measured.
    #[garde(length(chars, min = 8, max = 33_600_000))]
    pub picture: String,
    /// What no picture tells, by hand, such as circles.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 60), dive)]
    pub panels: Vec<PanelAttempt>,
}

/// What was got on one panel.
#[sent(free)]
pub struct PanelAttempt {
    /// Its number on the sheet.
    #[garde(range(min = 1, max = 99))]
    pub panel: u8,
    /// What was measured, each quantity once.
    #[garde(length(max = 32), dive)]
    pub values: Vec<MeasuredQuantity>,
}

/// What was handed in.
#[told]
pub struct HandedIn {
    /// Its id.
    pub id: Uuid,
    /// The sheet.
    pub sheet_id: Uuid,
    /// When.
    pub at: Instant,
    /// The picture that was measured; absent of what was typed.
    pub picture: Option<PictureQuality>,
    /// The entry that counts, where this one came after it.
    pub repeats: Option<Uuid>,
    /// Each panel that was handed in, as far as it can be graded without a trainer's
    /// marks.
    pub panels: Vec<DrillGrade>,
    /// Places on the sheet that are worth a look, as its picture was read: at most 500. None
    /// of what was typed, and of pictures that were handed in before places were kept.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub places: Vec<PanelPlace>,
}

/// What a trainer saw of a sheet.
#[sent(free)]
pub struct SheetMarksRequest {
    /// Each panel; what is not marked is not met.
    #[garde(length(min = 1, max = 60), dive)]
    pub panels: Vec<PanelMarks>,
    /// What else there is to say.
    #[garde(length(chars, min = 1, max = 2_000))]
    pub note: Option<String>,
}

/// What a trainer saw of one panel.
#[sent(Eq, free)]
pub struct PanelMarks {
    /// Its number on the sheet.
    #[garde(range(min = 1, max = 99))]
    pub panel: u8,
    /// Depth, stretch, torn skin.
    pub marks: TrainerMarks,
}

/// A sheet as a trainer marked it.
#[told]
pub struct SheetMarked {
    /// Its id.
    pub id: Uuid,
    /// The sheet.
    pub sheet_id: Uuid,
    /// When.
    pub at: Instant,
    /// Who marked it, by the studio's reference.
    pub marked_by: Reference,
    /// Each panel that was handed in, with what it came to.
    pub panels: Vec<DrillGrade>,
    /// What else was said.
    pub note: Option<String>,
}

/// Whose sheets to list.
#[asked(Eq)]
pub struct PracticeSheetQuery {
    /// Whose.
    pub artist_ref: Reference,
    /// Rows a page, 1 to 200; 50 if absent.
    #[schemars(range(min = 1, max = 200))]
    pub limit: Option<u16>,
    /// The `next_cursor` of the page before.
    #[schemars(length(min = 1, max = 600))]
    pub cursor: Option<String>,
}

/// Whose way to tell besides those that are practised.
#[asked(Copy, Default, Eq)]
pub struct ProgressQuery {
    /// Tells the way for this effect, practised or not; with `site`.
    pub effect: Option<Effect>,
    /// Where.
    pub site: Option<Site>,
}

/// How far an artist's practice is.
#[told]
pub struct PracticeProgress {
    /// Whose.
    pub artist_ref: Reference,
    /// How she stands.
    pub standing: ArtistStanding,
    /// The studio's day it is told of.
    pub as_of: CivilDate,
    /// Everything she practised, each with a configuration, an effect and a site.
    pub practice: Vec<PracticeOf>,
    /// For each effect and site that she practises, and the one that was asked for, the way
    /// through the configurations that suit it best.
    pub ways: Vec<PracticeWay>,
    /// How many sheets cannot be read; they count as if they were not handed in.
    pub unreadable: u32,
    /// What to bear in mind.
    pub cautions: Vec<String>,
    /// Where the numbers come from.
    pub basis: Vec<Basis>,
}

/// The way of a beginner through the configurations of an effect: the one that forgives
/// most first. It advises; a trainer decides.
#[told]
pub struct PracticeWay {
    /// For which effect.
    pub effect: Effect,
    /// Where.
    pub site: Site,
    /// Its steps, in their order.
    pub steps: Vec<PracticeWayStep>,
}

/// One configuration on the way.
#[told]
pub struct PracticeWayStep {
    /// The configuration, as a sheet is asked for it.
    pub configuration: Configuration,
    /// The configuration, in canonical text.
    pub canonical: String,
    /// Why it stands here.
    pub because: String,
    /// Where practice with it stands.
    pub state: Open<PracticeState>,
    /// The rung that holds today; absent if none does.
    pub rung: Option<Rung>,
    /// Whether it is the first that is not signed for work alone.
    pub next: bool,
}

/// How far practice with one configuration is.
#[told]
pub struct PracticeOf {
    /// The configuration, in canonical text.
    pub canonical: String,
    /// For which effect.
    pub effect: Effect,
    /// Where.
    pub site: Site,
    /// Where it stands. Results propose; a person signs.
    pub state: Open<PracticeState>,
    /// The rung that holds today; absent if none does.
    pub rung: Option<Rung>,
    /// Panels that count in this round.
    pub counted: u32,
    /// Days on which one of them was adequate.
    pub days: u32,
    /// The sum after the last panel that counts.
    pub value: f64,
    /// The sum that proposes.
    pub limit: f64,
    /// Adequate panels in a row that would still reach it.
    pub straight: u32,
    /// Days that are still wanted, by the days asked for and by the panels of which a day counts.
    pub days_wanted: u32,
    /// The sheet that is waited for: until it is marked, or its day is over, nothing
    /// behind it counts.
    pub waits_for: Option<u32>,
    /// Sheets that were not handed in and count as missed.
    pub not_handed_in: Vec<u32>,
    /// Sheets that were handed in and that no trainer has marked.
    pub not_marked: Vec<u32>,
    /// Sheets of the level `first`, which count for nothing.
    pub not_counted: u32,
    /// Whether the round is over without a proposal: time for a talk.
    pub is_over: bool,
    /// How often she may still begin anew.
    pub rounds_left: u32,
    /// The sum of the watch after the last sign-off; absent if none was given.
    pub watched: Option<f64>,
    /// In words.
    pub text: String,
}

/// Everything that is held on an artist's practice.
#[told]
pub struct PracticeDossier {
    /// Whose.
    pub artist_ref: Reference,
    /// When this was put together.
    pub made_at: Instant,
    /// Her sheets, with what was handed in and marked.
    pub sheets: Vec<PracticeSheet>,
    /// What was signed for her.
    pub sign_offs: Vec<SignOff>,
    /// How many records cannot be read.
    pub unreadable: u32,
}

/// That an artist's practice was forgotten.
#[told]
pub struct PracticeErasure {
    /// The number of the receipt; a dry run has none.
    pub receipt_id: Option<String>,
    /// Whose.
    pub artist_ref: Reference,
    /// When; when this was answered, in a dry run.
    pub erased_at: Instant,
    /// Whether this only says what would happen.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub dry_run: bool,
    /// What nobody can read any more.
    pub unreadable: String,
    /// What stays.
    pub kept: String,
    /// Backups from which the key was taken too, by file name.
    pub backups: Vec<String>,
    /// Backups that were not.
    pub not_reached: Vec<String>,
}
