//! Screening a stored check again, from what it was made from.

use etui_craft::screening::gate::Visit;
use etui_craft::screening::rulebook::Rulebook;
use etui_schema::skin_assessments::SkinAssessment;
use etui_schema::vocabulary::Language;
use jiff::civil::Date;
use uuid::Uuid;

use super::gather::Gathered;
use super::keep::{CheckTrace, id_by_start};
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::{Studio, sealed, skin_assessments};

/// A stored check, ready to be screened again.
pub struct Rescreening {
    /// Its id.
    pub id: Uuid,
    /// What stays of it.
    pub trace: CheckTrace,
    gathered: Gathered,
    on_in_studio: Date,
    made_on: Date,
}

/// The check of a row of [`super::BY_START`]; `None` if the person was erased.
///
/// # Errors
/// What the store met.
pub async fn rescreening(
    studio: &Studio,
    snap: &mut Snap,
    key: &[u8],
) -> Result<Option<Rescreening>, Error> {
    let id = id_by_start(key)?;
    let record = sealed::load::<CheckTrace>(snap, id).await?;
    let gathered: Gathered = match record.input(studio, snap).await {
        Ok(gathered) => gathered,
        Err(Error::NotFound { .. }) => return Ok(None),
        Err(error) => return Err(error),
    };
    let made_on = studio.zone.rules().to_datetime(record.trace.made_at.0).date();
    let on_in_studio = studio.zone.rules().to_datetime(gathered.request.starts_at.0).date();
    Ok(Some(Rescreening { id, trace: record.trace, gathered, on_in_studio, made_on }))
}

impl Rescreening {
    /// The screening as it would have come out on the day the check was made.
    ///
    /// # Errors
    /// [`Error::Refused`] if an answer belongs to no question of this book.
    pub fn screen(&self, book: &Rulebook) -> Result<SkinAssessment, Error> {
        let gathered = &self.gathered;
        let visit = Visit {
            treatment: gathered.request.treatment,
            on: gathered.day(),
            on_in_studio: self.on_in_studio,
            country: None,
            as_of: self.made_on,
            born_on: gathered.born_on.0,
        };
        let (skin, overrides) = (gathered.skin.as_ref(), gathered.overrides());
        skin_assessments::screened(book, &visit, &gathered.answers, skin, overrides, |found| {
            skin_assessments::answer(book, found, &visit, overrides, Language::En)
        })
    }
}
