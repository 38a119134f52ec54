//! What about a treatment wants a second look from the owner: the client's age,
//! and what the check before it said.
//!
//! What has happened is always kept; a flag never refuses it. Where something
//! is not known (no date of birth, no check, one that cannot be read) that is
//! flagged too, so that telling less never looks better.

use etui_craft::drawer::{FlagCode, Sentences};
use etui_craft::screening::age;
use etui_schema::clients::ClientRecord;
use etui_schema::treatments::{Flag, TreatmentRequest};
use etui_schema::vocabulary::{Language, Verdict, Zone};
use jiff::civil::Date;

use crate::studio::appointment_checks::{self, CheckSeen, CheckTrace};
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::moment::Moment;
use crate::studio::{Studio, observations, sealed};

/// The flags of a treatment.
///
/// # Errors
/// What the store met.
pub(super) async fn of(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    request: &TreatmentRequest,
    (zone, client): (&Zone, Option<&ClientRecord>),
) -> Result<Vec<Flag>, Error> {
    let seen = match request.check_id {
        Some(id) => appointment_checks::seen(studio, snap, id).await?,
        None => None,
    };
    let day_in = |zone: &Zone| zone.rules().to_datetime(request.performed_at.0).date();
    // Nobody comes of age by a zone: the earlier calendar counts.
    let day = day_in(zone).min(day_in(&studio.zone));
    let mut flags = Vec::new();
    let told = seen.as_ref().filter(|seen| seen.client_ref.as_ref() == Some(&request.client_ref));
    let born = client.and_then(|client| client.born_on.map(|born| born.0));
    flags.extend(of_age(born.or_else(|| told.map(|seen| seen.born_on)), day));
    flags.extend(of_check(request, seen.as_ref(), day_in(zone)));
    let session = (&request.client_ref, request.treatment, request.performed_at.0);
    if observations::is_stopped(studio, snap, session).await? {
        flags.push(flag("#/treatment", FlagCode::StoppedThatDay));
    }
    if is_overtaken(studio, snap, moment, request).await? {
        flags.push(flag("#/check_id", FlagCode::CheckOvertaken));
    }
    Ok(flags)
}

/// Whether what was on record by the time of the treatment stood against it, although its check did
/// not say so.
async fn is_overtaken(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    request: &TreatmentRequest,
) -> Result<bool, Error> {
    let Some(id) = request.check_id else { return Ok(false) };
    let Some(record) = readable(sealed::load::<CheckTrace>(snap, id).await)? else {
        return Ok(false);
    };
    let now = request.performed_at.0;
    let then = moment.then(now, &studio.zone);
    let found = appointment_checks::is_overtaken(studio, snap, &then, &record).await;
    Ok(readable(found)?.unwrap_or(false))
}

fn of_age(born: Option<Date>, day: Date) -> Option<Flag> {
    match born {
        None => Some(flag("#/client_ref", FlagCode::AgeNotKnown)),
        Some(born) if day < age::reaches(born, age::OF_AGE_YEARS) => {
            Some(flag("#/client_ref", FlagCode::Under18))
        }
        Some(_) => None,
    }
}

fn of_check(request: &TreatmentRequest, seen: Option<&CheckSeen>, day: Date) -> Vec<Flag> {
    let here = |code: FlagCode| flag("#/check_id", code);
    let Some(seen) = seen else {
        let unknown =
            if request.check_id.is_some() { FlagCode::CheckUnknown } else { FlagCode::NoCheck };
        return vec![here(unknown)];
    };
    let mut flags = Vec::new();
    if seen.client_ref.as_ref() != Some(&request.client_ref) {
        flags.push(here(FlagCode::CheckOfAnotherClient));
    }
    if seen.treatment != request.treatment {
        flags.push(here(FlagCode::CheckOfAnotherTreatment));
    }
    if seen.artist_ref.as_ref().is_some_and(|artist| *artist != request.artist_ref) {
        flags.push(here(FlagCode::CheckOfAnotherArtist));
    }
    if request.effect != Some(seen.effect) {
        flags.push(here(FlagCode::CheckOfAnotherEffect));
    }
    if seen.on != day {
        flags.push(here(FlagCode::CheckOfAnotherDay));
    }
    flags.extend(said(seen.verdict.known()).map(here));
    flags
}

fn said(verdict: Option<Verdict>) -> Option<FlagCode> {
    let Some(verdict) = verdict else { return Some(FlagCode::CheckUnknown) };
    match verdict {
        Verdict::Proceed | Verdict::ProceedWithConditions => None,
        Verdict::Hold => Some(FlagCode::CheckSaidHold),
        Verdict::Refer => Some(FlagCode::CheckSaidRefer),
        Verdict::Decline => Some(FlagCode::CheckSaidDecline),
        Verdict::Incomplete => Some(FlagCode::CheckSaidIncomplete),
    }
}

/// A flag without its sentence, which [`say`] gives it.
pub(in crate::studio) fn flag(pointer: impl Into<String>, code: FlagCode) -> Flag {
    Flag { pointer: pointer.into(), code: code.to_string(), message: String::new() }
}

/// Flags with their sentences.
pub(in crate::studio) fn say(
    sentences: &Sentences,
    language: Language,
    flags: Vec<Flag>,
) -> Vec<Flag> {
    let one = |Flag { pointer, code, message: _ }| {
        let message = sentences.flag(language, &code);
        Flag { pointer, code, message }
    };
    flags.into_iter().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn age_is_flagged_where_it_is_too_low_or_not_known() {
        let born = date(2009, 3, 18);
        for (born, day, code) in [
            (None, date(2027, 3, 18), Some("age_not_known")),
            (Some(born), date(2027, 3, 17), Some("under_18")),
            (Some(born), date(2027, 3, 18), None),
        ] {
            let found = of_age(born, day).map(|flag| flag.code);
            assert_eq!(found.as_deref(), code, "{born:?} on {day}");
        }
    }
}
