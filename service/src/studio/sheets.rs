//! Short views and printed pages: what was kept is loaded, `craft::sheet` writes.

use etui_schema::sheets::{CheckSummary, SheetFor};
use etui_schema::vocabulary::Language;
use jiff::civil::Date;
use uuid::Uuid;

use super::appointment_checks::{self, CheckTrace};
use super::engine::Snap;
use super::error::{Error, Found, or_unreadable};
use super::moment::Moment;
use super::sealed;
use super::{Studio, treatment_aftercare};

/// A page and the language that it is in.
pub struct Sheet {
    /// HTML.
    pub page: String,
    /// Its language.
    pub language: Language,
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
    let check = appointment_checks::in_language(studio, snap, moment, language, &record).await?;
    Ok(studio.craft.sheets.summary(&check))
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
    let check = appointment_checks::in_language(studio, snap, moment, language, &record).await?;
    let page = studio.craft.sheets.visit(&check, audience);
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

/// The newest check of each booking whose appointment is on a day of the
/// studio's calendar, in the order of their appointments.
///
/// # Errors
/// What the store met.
pub async fn day(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (language, on): (Language, Date),
) -> Result<Sheet, Error> {
    let rules = studio.zone.rules();
    let (records, mut unreadable) = appointment_checks::on_day(studio, snap, on).await?;
    let mut checks = Vec::new();
    for record in &records {
        let check = appointment_checks::in_language(studio, snap, moment, language, record).await;
        match or_unreadable(check.map(Some))? {
            Found::Read(check) => checks.extend(check),
            Found::Unreadable => unreadable += 1,
        }
    }
    let sheets = &studio.craft.sheets;
    let short: Vec<CheckSummary> = checks.iter().map(|check| sheets.summary(check)).collect();
    Ok(Sheet { page: sheets.day(language, (on, rules), &short, unreadable), language })
}
