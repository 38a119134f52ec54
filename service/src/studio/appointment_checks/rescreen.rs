//! Screening a stored check again, from what it was made from.

use etui_craft::screening::gate::Visit;
use etui_schema::skin_assessments::SkinAssessment;
use etui_schema::vocabulary::Language;
use uuid::Uuid;

use super::gather::{Gathered, Making};
use super::keep::{BY_START, CheckTrace};
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::{Craft, Studio, branches, sealed, skin_assessments};

/// A stored check, ready to be screened again.
pub struct Rescreening {
    /// Its id.
    pub id: Uuid,
    /// What stays of it.
    pub trace: CheckTrace,
    gathered: Gathered,
    visit: Visit,
}

/// The check of a row of [`super::BY_START`]; `None` if the person was erased, or if it cannot be
/// read.
///
/// # Errors
/// What the store met.
pub async fn rescreening(
    studio: &Studio,
    snap: &mut Snap,
    key: &[u8],
) -> Result<Option<Rescreening>, Error> {
    let (_, id) = BY_START.read(key)?;
    let Some(record) = readable(sealed::load::<CheckTrace>(snap, id).await)? else {
        return Ok(None);
    };
    let Some(gathered) = readable(record.input(studio, snap).await)? else { return Ok(None) };
    let here = branches::at(studio, snap, record.trace.branch_ref.as_ref()).await?;
    let studio = &*here;
    let made_on = studio.zone.rules().to_datetime(record.trace.made_at.0).date();
    let visit = gathered.visit(studio, made_on);
    Ok(Some(Rescreening { id, trace: record.trace, gathered, visit }))
}

impl Rescreening {
    /// The screening as it would have come out on the day the check was made.
    ///
    /// # Errors
    /// [`Error::Refused`] for an override that this book does not take.
    pub fn screen(&self, craft: &Craft) -> Result<SkinAssessment, Error> {
        let Self { gathered, visit, .. } = self;
        let (skin, overrides) = (gathered.skin.as_ref(), gathered.overrides());
        let heard = gathered.hear(craft, visit, (Language::En, Making::Again))?;
        let book = &craft.rulebook;
        let words = (book, Language::En);
        skin_assessments::screened_as_read(words, visit, &heard.answers, skin, overrides, |found| {
            skin_assessments::answer(book, found, visit, overrides, Language::En)
        })
    }
}
