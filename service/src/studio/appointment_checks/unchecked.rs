//! What is on record of a client whom no check of hers prepared: there was none, or it was another's or
//! for another treatment.
//!
//! The check is made that nobody made, once of her and once of somebody of whom nothing is kept. What
//! only the first says comes from what is kept: what stops there was known to the studio that day.

use std::collections::BTreeSet;

use etui_craft::screening::gate::may_begin;
use etui_schema::answers::Answers;
use etui_schema::appointment_checks::{AppointmentCheckRequest, NeedleSource};
use etui_schema::clients::ClientRecord;
use etui_schema::vocabulary::{
    CivilDate, Effect, Instant, Language, Reference, Treatment, Verdict, Zone,
};
use jiff::ToSpan;
use uuid::Uuid;

use super::gather::{self, Making};
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::{Studio, clients};

/// A visit of which no check told.
#[derive(Debug, Clone, Copy)]
pub struct Unchecked<'a> {
    /// The record of the visit, if it is kept already: what that says itself is no other's.
    pub kept: Option<Uuid>,
    /// Who was treated.
    pub client_ref: &'a Reference,
    /// What is kept of her, if anything is.
    pub client: Option<&'a ClientRecord>,
    /// What was treated.
    pub treatment: Treatment,
    /// The effect, if it was told.
    pub effect: Option<Effect>,
    /// When.
    pub at: Instant,
    /// By which calendar.
    pub zone: &'a Zone,
}

/// Whether what is kept of her stood against the visit.
///
/// # Errors
/// What the store met.
pub async fn stood_against(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    visit: &Unchecked<'_>,
) -> Result<bool, Error> {
    let effect = visit.effect.or_else(|| studio.craft.selector.effects(visit.treatment).next());
    let Some(effect) = effect else { return Ok(false) };
    let nobody = AppointmentCheckRequest {
        booking_ref: visit.client_ref.clone(),
        client_ref: None,
        treatment: visit.treatment,
        effect,
        starts_at: visit.at,
        branch_ref: None,
        zone: Some(visit.zone.clone()),
        artist_ref: None,
        machine_ref: None,
        born_on: Some(born_on(visit)),
        answers: Answers::default(),
        skin: None,
        setting: None,
        patch_test: None,
        pigments: Vec::new(),
        // Of the needles nothing is asked, and the drawer is not read for it.
        candidates: Some(NeedleSource::Usual),
        limit: None,
        overrides: Vec::new(),
    };
    let hers =
        AppointmentCheckRequest { client_ref: Some(visit.client_ref.clone()), ..nobody.clone() };
    let (said, usual) = (
        stopping(studio, snap, moment, (&hers, visit.kept)).await?,
        stopping(studio, snap, moment, (&nobody, None)).await?,
    );
    Ok(match (said, usual) {
        (Some(said), Some(usual)) => !said.is_subset(&usual),
        // What is kept contradicts itself, or today's rules cannot read it.
        (None, _) | (_, None) => true,
    })
}

/// The rules of a check that stop the visit; `None` where none can be made.
async fn stopping(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (request, kept): (&AppointmentCheckRequest, Option<Uuid>),
) -> Result<Option<BTreeSet<String>>, Error> {
    let when = (moment.now, moment.today);
    let made = match gather::gather(studio, snap, request, when, kept).await {
        Ok(made) => {
            let how = (Language::En, Making::Again);
            super::make(studio, snap, moment, how, Uuid::nil(), &made).await
        }
        Err(error) => Err(error),
    };
    let check = match made {
        Ok(check) => check,
        Err(Error::Refused(_)) => return Ok(None),
        Err(error) => return Err(error),
    };
    let stops = |verdict: Option<Verdict>| {
        verdict.is_none_or(|verdict| may_begin(Verdict::Hold) <= may_begin(verdict))
    };
    let found = check.findings.into_iter().filter(|found| stops(found.verdict.known()));
    Ok(Some(found.map(|found| found.rule).collect()))
}

/// Her date of birth; one that goes with the age that was told; else that of somebody who is of age, since
/// an age that nobody knows is flagged by itself.
fn born_on(visit: &Unchecked<'_>) -> CivilDate {
    const OF_AGE: u8 = 30;
    let kept = visit.client.and_then(|client| client.born_on);
    kept.unwrap_or_else(|| {
        let day = visit.zone.rules().to_datetime(visit.at.0).date();
        let told = visit.client.and_then(|client| {
            let years = client.skin.as_ref()?.age_years?;
            Some((years, clients::age_told_on(client).map_or(day, |on| on.0)))
        });
        let (years, on) = told.unwrap_or((OF_AGE, day));
        CivilDate(on.saturating_sub(i16::from(years).years()))
    })
}
