//! A sheet that is handed in as a picture: measured, graded, and dropped.
//!
//! What was measured is kept as if it had been typed. The first entry of a sheet counts;
//! a picture that comes after it can only lower what was told before, quantity by
//! quantity: nothing that is known of a sheet is passed over. Who has a picture read
//! without handing it in has shown it to nobody; what is typed beside a picture is her word.

use std::collections::BTreeMap;

use etui_craft::refusal::Refusal;
use etui_craft::training::lower;
use etui_schema::drills::MeasuredQuantity;
use etui_schema::open::Open;
use etui_schema::practice_sheets::{
    HandInRequest, HandedIn, PanelAttempt, PracticeSheet, SheetPictureRequest,
};
use etui_schema::problem::FaultCode;
use etui_schema::vocabulary::{Language, Paper, QuantityFault};
use uuid::Uuid;

use super::hand_in::{Got, entered, graded, on_time};
use super::stored::{AGAIN, HANDED_IN, HandInTrace, number_key};
use super::{get, own_alone, under};
use crate::store::Batch;
use crate::store::index::Key;
use crate::store::rows::Rows;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::moment::Moment;
use crate::studio::paging::broken;
use crate::studio::plan::Planned;
use crate::studio::{Studio, drills, sealed, sheet_readings};

/// Pictures of one sheet after it was handed in: our own bound, no source.
const MOST_AGAIN: usize = 20;

/// Places of one picture that are kept: our own bound, no source.
const MOST_PLACES: usize = 500;

/// What a picture told of a sheet.
pub struct Measured {
    panels: Vec<PanelAttempt>,
    got: Got,
}

/// What the frame of a sheet carries: the end of its id, which was drawn.
pub(super) fn code_of(id: Uuid) -> u32 {
    let [.., a, b, c] = *id.as_bytes();
    u32::from_be_bytes([0, a, b, c])
}

/// The sheet, if a picture of it is still taken.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Conflict`] if it was marked, its day is over, or there
/// are too many; [`Error::Refused`] if it is not the caller's own.
pub async fn awaited(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
) -> Result<PracticeSheet, Error> {
    let sheet = get(studio, snap, moment, id).await?;
    own_alone(moment, &sheet.artist_ref, "#")?;
    if let Some(marked) = &sheet.marked {
        return Err(Error::conflict(format!("it was marked on {} before", marked.at))
            .means(Refusal::SheetMarked));
    }
    on_time(moment, &sheet)?;
    if MOST_AGAIN <= sheet.again.len() {
        let why = format!("{MOST_AGAIN} pictures of it were taken after it was handed in");
        return Err(Error::conflict(why).means(Refusal::SheetPictures));
    }
    Ok(sheet)
}

/// Measures a picture of a sheet and grades what it tells, with what was typed of the rest.
///
/// # Errors
/// [`Error::Refused`] for a picture that cannot be measured or is of another sheet, and for
/// typed values of what the sheet does not have or the picture tells.
pub fn measured(
    studio: &Studio,
    sheet: &PracticeSheet,
    request: SheetPictureRequest,
    language: Language,
) -> Result<Measured, Error> {
    let SheetPictureRequest { bar_mm, picture, panels: typed } = request;
    drills::measurable(&typed)?;
    graded(studio, sheet, &typed, |_| None, language)?;
    let printed = (&sheet.drills, sheet.request.paper.unwrap_or(Paper::A4), code_of(sheet.id));
    let reading =
        sheet_readings::read_numbered(&studio.craft, printed, (picture, bar_mm), language)?;
    let mut cannot: BTreeMap<(u8, &str), Open<QuantityFault>> = BTreeMap::new();
    let mut panels = Vec::with_capacity(reading.panels.len());
    for panel in &reading.panels {
        let mut values = Vec::with_capacity(panel.quantities.len());
        for one in &panel.quantities {
            match (one.got, &one.cannot) {
                (Some(got), _) => values.push(MeasuredQuantity { quantity: one.quantity, got }),
                (None, Some(why)) => {
                    cannot.insert((panel.number, one.quantity.as_str()), why.clone());
                }
                (None, None) => {}
            }
        }
        panels.push(PanelAttempt { panel: panel.number, values });
    }
    with_typed(&mut panels, &typed)?;
    let mut grades = graded(studio, sheet, &panels, |_| None, language)?;
    for grade in &mut grades {
        for one in grade.quantities.iter_mut().filter(|one| one.cannot.is_some()) {
            let why = cannot.get(&(grade.panel, one.quantity.as_str()));
            one.cannot = why.map(ToString::to_string).or(one.cannot.take());
        }
    }
    let places = reading.panels.into_iter().flat_map(|panel| panel.places);
    let places = places.take(MOST_PLACES).collect();
    Ok(Measured { panels, got: Got { panels: grades, picture: reading.quality, places } })
}

/// Adds what was typed; not in the place of what the picture tells.
fn with_typed(panels: &mut [PanelAttempt], typed: &[PanelAttempt]) -> Result<(), Error> {
    for (at, more) in typed.iter().enumerate() {
        let Some(panel) = panels.iter_mut().find(|panel| panel.panel == more.panel) else {
            continue;
        };
        for (of, value) in more.values.iter().enumerate() {
            if panel.values.iter().any(|one| one.quantity == value.quantity) {
                let place = format!("#/panels/{at}/values/{of}/quantity");
                let why =
                    format!("the picture tells `{}`; type only what it does not", value.quantity);
                return Err(Error::at(place, FaultCode::Contradiction, why));
            }
            panel.values.push(*value);
        }
    }
    Ok(())
}

/// Plans to hand a sheet in as it was measured.
///
/// # Errors
/// What the store met.
pub async fn hand_in_picture(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    sheet: &PracticeSheet,
    Measured { panels, got }: &Measured,
) -> Result<Planned, Error> {
    let input = HandInRequest { panels: panels.clone() };
    entered(studio, snap, moment, sheet, &input, got.clone()).await
}

/// The number of the next picture of a sheet after it was handed in, of those that cannot be read
/// as well.
pub(super) async fn next(snap: &mut Snap, sheet: Uuid) -> Result<u32, Error> {
    Ok(number(&after(snap, sheet).await?))
}

fn number(before: &[Uuid]) -> u32 {
    u32::try_from(before.len()).map_or(u32::MAX, |before| before + 1)
}

/// Pictures of a sheet after it was handed in, first taken first.
pub(super) async fn again(
    studio: &Studio,
    snap: &mut Snap,
    sheet: Uuid,
) -> Result<Vec<HandedIn>, Error> {
    let mut all = Vec::new();
    for id in after(snap, sheet).await? {
        let Some(stored) = readable(sealed::load::<HandInTrace>(snap, id).await)? else { continue };
        all.extend(readable(stored.said(studio, snap).await)?);
    }
    Ok(all)
}

async fn after(snap: &mut Snap, sheet: Uuid) -> Result<Vec<Uuid>, Error> {
    let mut rows = Rows::of(AGAIN.space(), (sheet,).write().prefix_range());
    let mut all = Vec::new();
    while let Some((_, id)) = rows.next(snap).await? {
        all.push(Uuid::from_slice(&id).map_err(|_| broken(AGAIN.space()))?);
    }
    Ok(all)
}

/// What counts of a sheet, lowered by every picture since; and that none comes to it until
/// it is written.
pub(super) async fn attempts(
    studio: &Studio,
    snap: &mut Snap,
    sheet: &PracticeSheet,
) -> Result<Option<(Vec<PanelAttempt>, Batch)>, Error> {
    let Some(first) = under(snap, HANDED_IN, sheet.id).await? else { return Ok(None) };
    let stored = sealed::load::<HandInTrace>(snap, first).await?;
    let mut stands = stored.input(studio, snap).await?.panels;
    let again = after(snap, sheet.id).await?;
    let next = number(&again);
    for id in again {
        let stored = sealed::load::<HandInTrace>(snap, id).await?;
        let later = stored.input(studio, snap).await?.panels;
        for attempt in &mut stands {
            let asked = sheet.drills.panels.iter().find(|panel| panel.number == attempt.panel);
            let later = later.iter().find(|later| later.panel == attempt.panel);
            if let (Some(asked), Some(later)) = (asked, later) {
                lower(asked, &mut attempt.values, &later.values);
            }
        }
    }
    let (space, row) = AGAIN.row(&(sheet.id, number_key(next)));
    Ok(Some((stands, Batch::new().expect(space, row, None))))
}
