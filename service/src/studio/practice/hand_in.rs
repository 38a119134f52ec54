//! Handing a sheet in, and marking it: each once.

use etui_craft::refusal::Refusal;
use etui_schema::drills::{DrillGrade, TrainerMarks};
use etui_schema::events::EventType;
use etui_schema::practice_sheets::{
    HandInRequest, HandedIn, PanelAttempt, PracticeSheet, SheetMarked, SheetMarksRequest,
};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::sheet_readings::{PanelPlace, PictureQuality};
use etui_schema::vocabulary::{Instant, Language};
use uuid::Uuid;

use super::stored::{HandInTrace, MARKED, MarksTrace};
use super::{add, get, own_alone, pictures, progress};
use crate::store::Batch;
use crate::studio::artists::StoredArtist;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::outbox::{self, Happened};
use crate::studio::plan::Planned;
use crate::studio::{Studio, documents, drills, sign_offs};

/// What an entry of a sheet came to, and what its picture told beside.
#[derive(Clone)]
pub(super) struct Got {
    pub(super) panels: Vec<DrillGrade>,
    pub(super) picture: Option<PictureQuality>,
    pub(super) places: Vec<PanelPlace>,
}

/// Plans to hand a sheet in.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Conflict`] if it was handed in before or its day is over;
/// [`Error::Refused`] for a panel or quantity that it does not have.
pub async fn hand_in(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    language: Language,
    sheet_id: Uuid,
    request: &HandInRequest,
) -> Result<Planned, Error> {
    let sheet = get(studio, snap, moment, sheet_id).await?;
    own_alone(moment, &sheet.artist_ref, "#")?;
    if let Some(before) = &sheet.handed_in {
        return Err(Error::conflict(format!("it was handed in on {} before", before.at))
            .means(Refusal::SheetHandedIn));
    }
    on_time(moment, &sheet)?;
    drills::measurable(&request.panels)?;
    let panels = graded(studio, &sheet, &request.panels, |_| None, language)?;
    let got = Got { panels, picture: None, places: Vec::new() };
    entered(studio, snap, moment, &sheet, request, got).await
}

/// Refuses what comes after the day of a sheet.
pub(super) fn on_time(moment: &Moment, sheet: &PracticeSheet) -> Result<(), Error> {
    if moment.today <= sheet.hand_in_until.0 {
        return Ok(());
    }
    let why = format!("its last day was {}; it counts as missed", sheet.hand_in_until);
    Err(Error::conflict(why).means(Refusal::SheetLate.of_day(sheet.hand_in_until.0)))
}

/// Plans an entry of a sheet: the first counts, the others come after it.
pub(super) async fn entered(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    sheet: &PracticeSheet,
    input: &HandInRequest,
    Got { panels, picture, places }: Got,
) -> Result<Planned, Error> {
    let (sheet_id, id, at) = (sheet.id, moment.id()?, Instant(moment.now));
    let repeats = sheet.handed_in.as_ref().map(|before| before.id);
    let artist_ref = sheet.artist_ref.clone();
    let again = match repeats {
        Some(_) => pictures::next(snap, sheet_id).await?,
        None => 0,
    };
    let trace = HandInTrace { artist_ref, sheet_id, at, again };
    let answer = HandedIn { id, sheet_id, at, picture, repeats, panels, places };
    let about = format!("practice-sheets/{sheet_id}");
    let row = trace.row();
    let parts = (id, trace, row);
    let what = ("practice-sheet.hand-in", about.as_str());
    let mut planned = add(studio, snap, moment, parts, (input, &answer), what).await?;
    // What comes while it is marked comes too late, and is told so.
    let (marks, of_sheet) = MARKED.row(&(sheet_id,));
    planned.batch.expect.extend(Batch::new().expect(marks, of_sheet, None).expect);
    Ok(planned)
}

/// Plans to mark a sheet.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Conflict`] if nothing was handed in or it was marked
/// before; [`Error::Refused`] for whoever is no trainer.
pub async fn mark(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    language: Language,
    sheet_id: Uuid,
    request: &SheetMarksRequest,
) -> Result<Planned, Error> {
    let sheet = get(studio, snap, moment, sheet_id).await?;
    let answers = sign_offs::answers_for(studio, snap, moment, &sheet.artist_ref).await?;
    let Some(marked_by) = moment.signer().filter(|_| answers) else {
        let why =
            "a sheet is marked with a token that acts for a trainer, and not for her whose it is";
        return Err(Error::at("#", FaultCode::NotAllowed, why).means(Refusal::NeedsTrainer));
    };
    if let Some(before) = &sheet.marked {
        return Err(Error::conflict(format!("it was marked on {} before", before.at))
            .means(Refusal::SheetMarked));
    }
    let Some((attempts, batch)) = pictures::attempts(studio, snap, &sheet).await? else {
        return Err(Error::conflict("nothing of it was handed in").means(Refusal::SheetEmpty));
    };
    check(request, &attempts)?;
    let marks =
        |panel: u8| request.panels.iter().find(|one| one.panel == panel).map(|one| one.marks);
    let panels = graded(studio, &sheet, &attempts, marks, language)?;
    let before = progress::states(studio, snap, moment.today, &sheet.artist_ref, None).await?;
    let (id, at) = (moment.id()?, Instant(moment.now));
    let artist_ref = sheet.artist_ref.clone();
    let trace =
        MarksTrace { artist_ref: artist_ref.clone(), sheet_id, marked_by: marked_by.clone(), at };
    let note = request.note.clone();
    let answer = SheetMarked { id, sheet_id, at, marked_by: marked_by.clone(), panels, note };
    let about = format!("practice-sheets/{sheet_id}");
    let parts = (id, trace, MARKED.row(&(sheet_id,)));
    let with = Some((sheet_id, &answer));
    let after = progress::states(studio, snap, moment.today, &artist_ref, with).await?;
    let what = ("practice-sheet.mark", about.as_str());
    let mut planned = add(studio, snap, moment, parts, (request, &answer), what).await?;
    planned.batch.expect.extend(batch.expect);
    // Who is trainer no longer when it is written has marked nothing.
    let (expected, _) =
        documents::expected::<StoredArtist, _>(studio, snap, Batch::new(), &marked_by).await?;
    planned.batch.expect.extend(expected.expect);
    if after.ready > before.ready {
        let happened = Happened::practice(EventType::PracticeReady, artist_ref.clone());
        planned.batch = outbox::add(planned.batch, moment, happened)?;
    }
    if after.in_doubt > before.in_doubt {
        let happened = Happened::practice(EventType::PracticeInDoubt, artist_ref);
        planned.batch = outbox::add(planned.batch, moment, happened)?;
    }
    Ok(planned)
}

/// A panel is marked once, and only one that was handed in.
fn check(request: &SheetMarksRequest, attempts: &[PanelAttempt]) -> Result<(), Error> {
    let mut faults = Vec::new();
    for (at, one) in request.panels.iter().enumerate() {
        let place = format!("#/panels/{at}/panel");
        if request.panels[..at].iter().any(|before| before.panel == one.panel) {
            faults.push(Fault::new(&place, FaultCode::Duplicate, "it is marked twice"));
        }
        if !attempts.iter().any(|attempt| attempt.panel == one.panel) {
            let why = "this panel was not handed in";
            faults.push(Fault::new(&place, FaultCode::UnknownReference, why));
        }
    }
    if faults.is_empty() { Ok(()) } else { Err(Error::Refused(faults)) }
}

/// The grades of what was got, with the marks that there are.
pub(super) fn graded(
    studio: &Studio,
    sheet: &PracticeSheet,
    attempts: &[PanelAttempt],
    marks: impl Fn(u8) -> Option<TrainerMarks>,
    language: Language,
) -> Result<Vec<DrillGrade>, Error> {
    let mut all = Vec::with_capacity(attempts.len());
    for (at, attempt) in attempts.iter().enumerate() {
        let PanelAttempt { panel, values } = attempt;
        let panel = *panel;
        if attempts[..at].iter().any(|before| before.panel == panel) {
            let place = format!("#/panels/{at}/panel");
            return Err(Error::at(place, FaultCode::Duplicate, "this panel stands here twice"));
        }
        let worked = (panel, values.as_slice(), marks(panel));
        let place = format!("#/panels/{at}");
        all.push(drills::grade_on(&studio.craft, &sheet.drills, worked, &place, language)?);
    }
    Ok(all)
}
