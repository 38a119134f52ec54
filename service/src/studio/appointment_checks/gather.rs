//! What a check is made from: the request, and what is kept of client,
//! artist and machine where the request is silent.

use etui_schema::appointment_checks::{AppointmentCheckRequest, PreviousSession};
use etui_schema::artists::Practice;
use etui_schema::problem::FaultCode;
use etui_schema::skin_assessments::Override;
use etui_schema::vocabulary::{CivilDate, Setting, Skin, Zone};
use etui_schema::{answers::Answers, vocabulary::Reference};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::previous;
use super::readiness::Words;
use crate::studio::artists::StoredArtist;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::machines::StoredMachine;
use crate::studio::{Studio, clients, documents};

/// Everything a check is computed from, kept for replays.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Gathered {
    /// The request as it came.
    pub request: AppointmentCheckRequest,
    /// The zone whose calendar counts.
    pub zone: Zone,
    /// The appointment's local date.
    pub on: CivilDate,
    /// Date of birth.
    pub born_on: CivilDate,
    /// Answers of the request over those kept.
    pub answers: Answers,
    /// The skin.
    pub skin: Option<Skin>,
    /// Hand, machine and skin as far as they are known.
    pub setting: Setting,
    /// What the artist has practised; `None` if no artist was named.
    pub practice: Option<Vec<Practice>>,
    /// Sessions in the area that the studio has on record, newest first.
    #[serde(default)]
    pub previous: Vec<PreviousSession>,
    /// Whether they counted against the answers.
    #[serde(default)]
    pub record_counted: bool,
}

impl Gathered {
    /// The appointment's local date.
    #[must_use]
    pub(super) fn day(&self) -> Date {
        self.on.0
    }

    /// What is to be said of how the input was put together.
    #[must_use]
    pub(super) fn remark(&self, words: Words<'_>) -> Option<String> {
        let last = self.previous.first().filter(|_| self.record_counted)?;
        Some(words.fill("on_record", &[("date", &words.day(last.on.0))]))
    }

    /// Findings that somebody answers for.
    #[must_use]
    pub(super) fn overrides(&self) -> &[Override] {
        &self.request.overrides
    }
}

/// Gathers.
///
/// # Errors
/// [`Error::Refused`] for references to nothing, or without a date of birth.
pub(super) async fn gather(
    studio: &Studio,
    snap: &mut Snap,
    request: &AppointmentCheckRequest,
) -> Result<Gathered, Error> {
    let kept = match &request.client_ref {
        Some(client_ref) => clients::find(studio, snap, client_ref).await?.unwrap_or_default(),
        None => etui_schema::clients::ClientRecord::default(),
    };
    let born_on = request.born_on.or(kept.born_on).ok_or_else(|| {
        Error::at(
            "#/born_on",
            FaultCode::Missing,
            "the date of birth is needed, here or with the client",
        )
    })?;
    let mut answers = kept.answers;
    answers.extend(request.answers.clone());
    let skin = request.skin.clone().or(kept.skin);
    let zone = request.zone.clone().unwrap_or_else(|| studio.zone.clone());
    let on = CivilDate(zone.rules().to_datetime(request.starts_at.0).date());
    let previous = match &request.client_ref {
        Some(client_ref) => {
            let at = (request.starts_at, &zone);
            previous::sessions(studio, snap, client_ref, request.treatment, at).await?
        }
        None => Vec::new(),
    };
    let record_counted = previous::correct(&mut answers, &previous);
    let artist =
        named::<StoredArtist>(studio, snap, request.artist_ref.as_ref(), "#/artist_ref").await?;
    let machine =
        named::<StoredMachine>(studio, snap, request.machine_ref.as_ref(), "#/machine_ref").await?;
    let told = request.setting.clone().unwrap_or_default();
    let setting = Setting {
        hand: told.hand.or(artist.as_ref().map(StoredArtist::hand)),
        machine: told.machine.or(machine.as_ref().map(StoredMachine::machine)),
        skin: told.skin.clone().or_else(|| skin.clone()),
        ..told
    };
    Ok(Gathered {
        request: request.clone(),
        zone,
        on,
        born_on,
        answers,
        skin,
        setting,
        practice: artist.map(|artist| artist.practice().to_vec()),
        previous,
        record_counted,
    })
}

async fn named<D: documents::Document>(
    studio: &Studio,
    snap: &mut Snap,
    reference: Option<&Reference>,
    pointer: &str,
) -> Result<Option<D>, Error> {
    let Some(reference) = reference else { return Ok(None) };
    match documents::find::<D, _>(studio, snap, reference).await? {
        Some(found) => Ok(Some(found)),
        None => Err(Error::at(
            pointer,
            FaultCode::UnknownReference,
            format!("no {} is kept under `{reference}`; put it first", D::WHAT),
        )),
    }
}
