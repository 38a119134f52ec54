//! Handing a sheet in, and marking it: each once.

use etui_schema::drills::{DrillGrade, DrillGradeRequest, TrainerMarks};
use etui_schema::practice_sheets::{
    HandInRequest, HandedIn, PanelAttempt, PracticeSheet, SheetMarked, SheetMarksRequest,
};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::{Instant, Language};
use uuid::Uuid;

use super::stored::{HANDED_IN, HandInTrace, MARKED, MarksTrace};
use super::{add, get, own_alone, progress};
use crate::store::Batch;
use crate::studio::artists::StoredArtist;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::outbox::{self, Happened};
use crate::studio::plan::Planned;
use crate::studio::{Studio, documents, drills, sealed, sign_offs};

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
        return Err(Error::Conflict(format!("it was handed in on {} before", before.at)));
    }
    if sheet.hand_in_until.0 < moment.today {
        let why = format!("its last day was {}; it counts as missed", sheet.hand_in_until);
        return Err(Error::Conflict(why));
    }
    let panels = graded(studio, &sheet, &request.panels, |_| None, language)?;
    let (id, at) = (moment.id()?, Instant(moment.now));
    let trace = HandInTrace { artist_ref: sheet.artist_ref.clone(), sheet_id, at };
    let answer = HandedIn { id, sheet_id, at, panels };
    let about = format!("practice-sheets/{sheet_id}");
    let parts = (id, trace, HANDED_IN.row(&(sheet_id,)));
    add(studio, snap, moment, parts, (request, &answer), ("practice-sheet.hand-in", &about)).await
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
        return Err(Error::at("#", FaultCode::NotAllowed, why));
    };
    if let Some(before) = &sheet.marked {
        return Err(Error::Conflict(format!("it was marked on {} before", before.at)));
    }
    let Some(handed_in) = super::under(snap, HANDED_IN, sheet_id).await? else {
        return Err(Error::Conflict("nothing of it was handed in".to_owned()));
    };
    let stored = sealed::load::<HandInTrace>(snap, handed_in).await?;
    let attempts = stored.input(studio, snap).await?.panels;
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
    // Who is trainer no longer when it is written has marked nothing.
    let (expected, _) =
        documents::expected::<StoredArtist, _>(studio, snap, Batch::new(), &marked_by).await?;
    planned.batch.expect.extend(expected.expect);
    if after.ready > before.ready {
        let happened = Happened::PracticeReady { artist_ref: artist_ref.clone() };
        planned.batch = outbox::add(planned.batch, moment, happened)?;
    }
    if after.in_doubt > before.in_doubt {
        let happened = Happened::PracticeInDoubt { artist_ref };
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
fn graded(
    studio: &Studio,
    sheet: &PracticeSheet,
    attempts: &[PanelAttempt],
    marks: impl Fn(u8) -> Option<TrainerMarks>,
    language: Language,
) -> Result<Vec<DrillGrade>, Error> {
    let mut all = Vec::with_capacity(attempts.len());
    for (at, attempt) in attempts.iter().enumerate() {
        let PanelAttempt { panel, values } = attempt.clone();
        if attempts[..at].iter().any(|before| before.panel == panel) {
            let place = format!("#/panels/{at}/panel");
            return Err(Error::at(place, FaultCode::Duplicate, "this panel stands here twice"));
        }
        let drills = sheet.request.clone();
        let request = DrillGradeRequest { drills, panel, values, marks: marks(panel) };
        let place = format!("#/panels/{at}");
        all.push(drills::grade_at(studio.craft.as_ref(), &request, &place, language)?);
    }
    Ok(all)
}
