//! Short views and printed pages: what was kept is loaded, `craft::sheet` writes.

use etui_schema::appointment_checks::{AppointmentCheck, CheckRow, TodoItem, Who};
use etui_schema::sheets::{CheckSummary, SheetFor};
use etui_schema::vocabulary::chair::LotState;
use etui_schema::vocabulary::{CivilDate, Language, Verdict};
use jiff::civil::Date;
use uuid::Uuid;

use super::appointment_checks::{self, CheckSeen, CheckTrace};
use super::engine::Snap;
use super::error::{Error, Found, or_unreadable, readable};
use super::lots::StoredLot;
use super::moment::Moment;
use super::needle_selections::ELSEWHERE;
use super::sealed::{self, StoredSealed};
use super::{Studio, branches, lots, treatment_aftercare};

/// A page and the language that it is in.
pub struct Sheet {
    /// HTML.
    pub page: String,
    /// Its language.
    pub language: Language,
}

/// A kept check as it is printed today: of the lots that it offered, those whose
/// packs may still be used. One that was called back since is on no page, and a visit that what was
/// kept since stands against goes ahead on none.
async fn read(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    language: Language,
    record: &StoredSealed<CheckTrace>,
) -> Result<AppointmentCheck, Error> {
    let here = branches::at(studio, snap, record.trace.branch_ref.as_ref()).await?;
    let (studio, moment) = (&*here, &moment.by(&here.zone));
    let mut check = appointment_checks::in_language(studio, snap, moment, language, record).await?;
    if let Some(needles) = check.needles.as_mut().filter(|_| moment.mandate.branches.is_some()) {
        needles.passed_over.retain(|lot| !lot.reasons.iter().any(|why| why == ELSEWHERE));
    }
    let (at, zones) = (check.starts_at.0.max(moment.dated), [&check.zone, &studio.zone]);
    let days = branches::Days::judging(studio, snap, at, zones).await?;
    let mut gone: Vec<String> = Vec::new();
    for needle in check.needles.iter_mut().flat_map(|needles| &mut needles.ranked) {
        let mut kept = Vec::with_capacity(needle.lots.len());
        for offered in &needle.lots {
            let lot = readable(lots::load(snap, offered.lot_id).await)?;
            let standing = |lot: &StoredLot| lot.standing(days.of(lot.branch_ref.as_ref()));
            if lot.is_some_and(|(lot, _)| standing(&lot).state == LotState::Usable) {
                kept.push(offered.clone());
            }
        }
        if kept.is_empty() && !needle.lots.is_empty() {
            gone.push(needle.canonical.clone());
        }
        needle.lots = kept;
    }
    // For a visit that is over nothing is chosen anew.
    if moment.today <= check.on.0 && !gone.is_empty() {
        without(studio, &mut check, &gone);
    }
    if moment.today <= check.on.0 && is_overtaken(studio, snap, moment, record).await? {
        overtaken(studio, moment, &mut check);
    }
    Ok(check)
}

async fn is_overtaken(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    record: &StoredSealed<CheckTrace>,
) -> Result<bool, Error> {
    let seen = CheckSeen::of(studio, snap, record.clone()).await?;
    appointment_checks::is_overtaken(studio, snap, moment, &seen, None).await
}

/// Leaves out needles of which no pack that was offered may be used any more, and says so.
fn without(studio: &Studio, check: &mut AppointmentCheck, gone: &[String]) {
    if let Some(needles) = &mut check.needles {
        needles.ranked.retain(|needle| !gone.contains(&needle.canonical));
    }
    let language = check.language.unwrap_or(Language::En);
    let listed = [("needles", gone.join(", "))];
    let listed = listed.each_ref().map(|(place, value)| (*place, value.as_str()));
    let text = studio.craft.rulebook.sentences().fill(language, "check.lots_gone", &listed);
    let (key, from) = ("ready.drawer".to_owned(), "drawer".to_owned());
    let due = Some(check.on);
    check.todo.insert(0, TodoItem { key, text, who: Who::Studio.into(), due, late: false, from });
}

/// Says of a check nothing but that it has to be made again: what was kept since stands against it.
fn overtaken(studio: &Studio, moment: &Moment, check: &mut AppointmentCheck) {
    let language = check.language.unwrap_or(Language::En);
    let text = studio.craft.rulebook.sentences().get(language, "check.overtaken").to_owned();
    check.verdict = Verdict::Incomplete.into();
    check.summary.clone_from(&text);
    check.needles = None;
    let (key, from) = ("answer.check".to_owned(), "check".to_owned());
    let due = Some(CivilDate(moment.today));
    check.todo.insert(0, TodoItem { key, text, who: Who::Studio.into(), due, late: false, from });
}

/// The short view of a kept check.
///
/// # Errors
/// [`Error::NotFound`] if there is none, or if the person was erased.
pub async fn summary(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    language: Language,
    id: Uuid,
) -> Result<CheckSummary, Error> {
    let record = sealed::load::<CheckTrace>(snap, id).await?;
    let check = read(studio, snap, moment, language, &record).await?;
    Ok(studio.craft.sheets.summary(&check))
}

/// Adds its short view to each row of a list; of an erased client there is none.
///
/// # Errors
/// What the store met.
pub async fn shorten(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    language: Language,
    rows: &mut [CheckRow],
) -> Result<(), Error> {
    for row in rows {
        row.summary = readable(summary(studio, snap, moment, language, row.id).await)?;
    }
    Ok(())
}

/// A kept check as a page.
///
/// # Errors
/// As [`summary`].
pub async fn visit(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (language, audience): (Language, SheetFor),
    id: Uuid,
) -> Result<Sheet, Error> {
    let record = sealed::load::<CheckTrace>(snap, id).await?;
    let check = read(studio, snap, moment, language, &record).await?;
    let page = studio.craft.sheets.visit(&check, audience, &studio.craft.model);
    Ok(Sheet { page, language: check.language.unwrap_or(Language::En) })
}

/// The aftercare of a treatment as a page.
///
/// # Errors
/// [`Error::NotFound`] if there is no such treatment or its client was erased.
pub async fn aftercare(
    studio: &Studio,
    snap: &mut Snap,
    language: Language,
    id: Uuid,
) -> Result<Sheet, Error> {
    let plan = treatment_aftercare::plan(studio, snap, id, language).await?;
    Ok(Sheet { page: studio.craft.sheets.aftercare(language, &plan), language })
}

/// The newest check of each booking whose appointment is on a day where it takes
/// place, in the order of their appointments.
///
/// # Errors
/// What the store met.
pub async fn day(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (language, on): (Language, Date),
) -> Result<Sheet, Error> {
    let (records, mut unreadable) = appointment_checks::on_day(studio, snap, on).await?;
    let (sheets, mut checks) = (&studio.craft.sheets, Vec::new());
    let reached = |trace: &CheckTrace| trace.clone().whose().is_reached(&moment.mandate);
    for record in records.iter().filter(|record| reached(&record.trace)) {
        let check = read(studio, snap, moment, language, record).await;
        match or_unreadable(check.map(Some))? {
            Found::Read(check) => {
                let branch = record.trace.branch_ref.as_ref();
                let zone = branches::at(studio, snap, branch).await?.zone.clone();
                checks.extend(check.map(|check| (sheets.summary(&check), zone.rules().clone())));
            }
            Found::Unreadable => unreadable += 1,
        }
    }
    Ok(Sheet { page: sheets.day(language, on, &checks, unreadable), language })
}
