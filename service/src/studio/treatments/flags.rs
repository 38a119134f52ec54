//! What about a treatment wants a second look from the owner: the client's age,
//! and what the check before it said.
//!
//! What has happened is always kept; a flag never refuses it. Where something
//! is not known (no date of birth, no check, one that cannot be read) that is
//! flagged too, so that telling less never looks better.

use etui_craft::drawer::{FlagCode, Sentences};
use etui_craft::screening::age;
use etui_schema::clients::ClientRecord;
use etui_schema::treatments::{Flag, TreatmentRecord, TreatmentRequest};
use etui_schema::vocabulary::{Effect, Instant, Language, Reference, Treatment, Verdict, Zone};
use jiff::civil::Date;
use uuid::Uuid;

use crate::studio::appointment_checks::{self, CheckSeen, Unchecked};
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::moment::Moment;
use crate::studio::{Studio, observations};

/// What is looked at of a treatment.
#[derive(Debug, Clone, Copy)]
pub(in crate::studio) struct Looked<'a> {
    /// Its record, if it is kept already: what that says itself is no other's.
    kept: Option<Uuid>,
    client_ref: &'a Reference,
    artist_ref: &'a Reference,
    treatment: Treatment,
    effect: Option<Effect>,
    performed_at: Instant,
    zone: &'a Zone,
    check_id: Option<Uuid>,
}

impl<'a> Looked<'a> {
    /// One that is told now.
    pub(super) fn told(request: &'a TreatmentRequest, zone: &'a Zone) -> Self {
        Self {
            kept: None,
            client_ref: &request.client_ref,
            artist_ref: &request.artist_ref,
            treatment: request.treatment,
            effect: request.effect,
            performed_at: request.performed_at,
            zone,
            check_id: request.check_id,
        }
    }

    /// One that is kept.
    pub(in crate::studio) fn kept(record: &'a TreatmentRecord) -> Self {
        Self {
            kept: Some(record.id),
            client_ref: &record.client_ref,
            artist_ref: &record.artist_ref,
            treatment: record.treatment,
            effect: record.effect,
            performed_at: record.performed_at,
            zone: &record.zone,
            check_id: record.check_id,
        }
    }
}

/// The codes that [`of`] gives.
const OF_THESE: [FlagCode; 17] = [
    FlagCode::AgeNotKnown,
    FlagCode::Under18,
    FlagCode::CheckUnknown,
    FlagCode::NoCheck,
    FlagCode::CheckMadeAfter,
    FlagCode::CheckOfAnotherClient,
    FlagCode::CheckOfAnotherTreatment,
    FlagCode::CheckOfAnotherDay,
    FlagCode::CheckOfAnotherArtist,
    FlagCode::CheckOfAnotherEffect,
    FlagCode::StoppedThatDay,
    FlagCode::CheckOvertaken,
    FlagCode::OnRecordAgainst,
    FlagCode::CheckSaidHold,
    FlagCode::CheckSaidRefer,
    FlagCode::CheckSaidDecline,
    FlagCode::CheckSaidIncomplete,
];
/// What was on record on a day.
const ON_RECORD: [FlagCode; 2] = [FlagCode::CheckOvertaken, FlagCode::OnRecordAgainst];
/// Those by which nothing more can be known of their place.
const NOT_KNOWN: [FlagCode; 2] = [FlagCode::AgeNotKnown, FlagCode::CheckUnknown];

/// What of a record's flags no longer holds by what is flagged `now`, and what was not flagged before.
/// Where something is not known now, what was flagged of it stays; what was on record on a day is gone
/// by another day alone.
pub(in crate::studio) fn moved(
    before: &[Flag],
    now: Vec<Flag>,
    is_another_day: bool,
) -> (Vec<Flag>, Vec<Flag>) {
    let is_one_of =
        |codes: &[FlagCode], flag: &Flag| codes.iter().any(|it| it.as_str() == flag.code);
    let same =
        |one: &Flag, other: &Flag| (&one.pointer, &one.code) == (&other.pointer, &other.code);
    let is_not_known =
        |at: &str| now.iter().any(|it| it.pointer == at && is_one_of(&NOT_KNOWN, it));
    let is_gone = |flag: &&Flag| {
        let stays = !is_another_day && is_one_of(&ON_RECORD, flag);
        is_one_of(&OF_THESE, flag)
            && !stays
            && !is_not_known(&flag.pointer)
            && !now.iter().any(|it| same(it, flag))
    };
    let gone = before.iter().filter(is_gone).cloned().collect();
    let anew = now.iter().filter(|it| !before.iter().any(|flag| same(flag, it))).cloned();
    (gone, anew.collect())
}

/// The flags of a treatment.
///
/// # Errors
/// What the store met.
pub(in crate::studio) async fn of(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    looked: &Looked<'_>,
    (seen, client): (Option<&CheckSeen>, Option<&ClientRecord>),
) -> Result<Vec<Flag>, Error> {
    let request = looked;
    let day_in = |zone: &Zone| zone.rules().to_datetime(request.performed_at.0).date();
    // Nobody comes of age by a zone: the earlier calendar counts.
    let day = day_in(request.zone).min(day_in(&studio.zone));
    let mut flags = Vec::new();
    let told = seen.filter(|seen| seen.client_ref() == Some(request.client_ref));
    let born = client.and_then(|client| client.born_on.map(|born| born.0));
    flags.extend(of_age(born.or_else(|| told.map(|seen| seen.gathered.born_on.0)), day));
    flags.extend(of_check(request, seen, day_in(request.zone)));
    let session = (request.client_ref, request.treatment, request.performed_at.0);
    if observations::is_stopped(studio, snap, session, request.kept).await? {
        flags.push(flag("#/treatment", FlagCode::StoppedThatDay));
    }
    flags.extend(of_record(studio, snap, moment, request, (seen, client)).await?);
    Ok(flags)
}

/// Whether what was on record by the time of the treatment stood against it, although its check did
/// not say so, or none was made of her for it.
async fn of_record(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    request: &Looked<'_>,
    (seen, client): (Option<&CheckSeen>, Option<&ClientRecord>),
) -> Result<Option<Flag>, Error> {
    let then = moment.then(request.performed_at.0, &studio.zone);
    let of_this = |seen: &&CheckSeen| {
        (seen.client_ref(), seen.treatment()) == (Some(request.client_ref), request.treatment)
    };
    let (code, found) = if let Some(seen) = seen.filter(of_this) {
        let found = appointment_checks::is_overtaken(studio, snap, &then, seen, request.kept).await;
        (FlagCode::CheckOvertaken, found)
    } else {
        let visit = Unchecked {
            kept: request.kept,
            client_ref: request.client_ref,
            client,
            treatment: request.treatment,
            effect: request.effect,
            at: request.performed_at,
            zone: request.zone,
        };
        let found = appointment_checks::stood_against(studio, snap, &then, &visit).await;
        (FlagCode::OnRecordAgainst, found)
    };
    Ok(readable(found)?.unwrap_or(false).then(|| flag("#/check_id", code)))
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

fn of_check(request: &Looked<'_>, seen: Option<&CheckSeen>, day: Date) -> Vec<Flag> {
    let here = |code: FlagCode| flag("#/check_id", code);
    let Some(seen) = seen else {
        let unknown =
            if request.check_id.is_some() { FlagCode::CheckUnknown } else { FlagCode::NoCheck };
        return vec![here(unknown)];
    };
    let mut flags = Vec::new();
    // What is written down afterwards prepared nothing.
    if request.performed_at.0 < seen.made_at() {
        flags.push(here(FlagCode::CheckMadeAfter));
    }
    if seen.client_ref() != Some(request.client_ref) {
        flags.push(here(FlagCode::CheckOfAnotherClient));
    }
    if seen.treatment() != request.treatment {
        flags.push(here(FlagCode::CheckOfAnotherTreatment));
    }
    if seen.artist_ref().is_some_and(|artist| artist != request.artist_ref) {
        flags.push(here(FlagCode::CheckOfAnotherArtist));
    }
    if request.effect != Some(seen.effect()) {
        flags.push(here(FlagCode::CheckOfAnotherEffect));
    }
    if seen.on() != day {
        flags.push(here(FlagCode::CheckOfAnotherDay));
    }
    flags.extend(said(seen.verdict()).map(here));
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

    /// What cannot be looked up any more lifts nothing, and other flags are none of these.
    #[test]
    fn what_no_longer_holds_goes_and_what_is_not_known_stays() {
        use FlagCode::{
            AgeNotKnown, CheckOfAnotherDay, CheckOvertaken, CheckUnknown, NoPackLeft, Under18,
        };
        let flags = |all: &[(&str, FlagCode)]| -> Vec<Flag> {
            all.iter().map(|(at, code)| flag(*at, *code)).collect()
        };
        let (client, check, packs) = ("#/client_ref", "#/check_id", "#/packs");
        for (before, now, is_another_day, gone, anew) in [
            (vec![], vec![(client, Under18)], false, vec![], vec![(client, Under18)]),
            (vec![(client, Under18)], vec![], true, vec![(client, Under18)], vec![]),
            (vec![(client, Under18)], vec![(client, Under18)], true, vec![], vec![]),
            (
                vec![(client, AgeNotKnown)],
                vec![(client, Under18)],
                false,
                vec![(client, AgeNotKnown)],
                vec![(client, Under18)],
            ),
            (
                vec![(client, Under18), (check, CheckOfAnotherDay)],
                vec![(client, AgeNotKnown), (check, CheckUnknown)],
                true,
                vec![],
                vec![(client, AgeNotKnown), (check, CheckUnknown)],
            ),
            (vec![(check, CheckOvertaken)], vec![], false, vec![], vec![]),
            (vec![(check, CheckOvertaken)], vec![], true, vec![(check, CheckOvertaken)], vec![]),
            (vec![(packs, NoPackLeft)], vec![], true, vec![], vec![]),
        ] {
            let found = moved(&flags(&before), flags(&now), is_another_day);
            assert_eq!(found, (flags(&gone), flags(&anew)), "{before:?} {now:?}");
        }
    }

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
