//! What cannot be of a client.

use etui_craft::refusal::Refusal;
use etui_craft::visit::Kept;
use etui_schema::answers::Answer;
use etui_schema::clients::ClientRecord;
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::CivilDate;
use jiff::civil::Date;

use super::{AGE, SKIN, SealedClient, every_answer, heard, others};
use crate::studio::documents::Sent;
use crate::studio::error::Error;
use crate::studio::{Studio, skin_assessments};

/// A birth date further back is taken for a slip of the pen.
const OLDEST_YEARS: i16 = 120;

/// Refuses birth dates that cannot be.
///
/// # Errors
/// [`Error::Refused`] at `#/born_on`.
pub fn check_birth(born_on: Option<Date>, today: Date) -> Result<(), Error> {
    let Some(born_on) = born_on else { return Ok(()) };
    if today < born_on {
        let why = "this day is in the future";
        return Err(Error::at("#/born_on", FaultCode::OutOfRange, why).means(Refusal::BornInFuture));
    }
    if born_on.year() < today.year() - OLDEST_YEARS {
        let why = format!("this day is more than {OLDEST_YEARS} years ago");
        return Err(Error::at("#/born_on", FaultCode::OutOfRange, why).means(Refusal::BornTooEarly));
    }
    Ok(())
}

/// The day on which the age was told that is kept with the skin.
pub(in crate::studio) fn age_told_on(record: &ClientRecord) -> Option<CivilDate> {
    let given = record.answered.get(AGE).or_else(|| record.answered.get(SKIN));
    given.or(record.given.as_ref()).and_then(|given| given.on)
}

/// Where an answer stands in the request.
pub(super) fn place_of(id: &str) -> String {
    format!("#/answers/{}", id.replace('~', "~0").replace('/', "~1"))
}

/// Refuses answers that no check could use, and origins that cannot be.
///
/// An answer that is kept already, to a question that is no more, is left where it is.
pub(super) fn check_answers(
    studio: &Studio,
    today: Date,
    (record, sent): (&ClientRecord, Sent),
    kept: Option<&SealedClient>,
) -> Result<(), Error> {
    let book = &studio.craft.rulebook;
    let is_orphan = |id: &String, answer: &Answer| {
        book.question(id).is_none() && kept.is_some_and(|kept| kept.answers.get(id) == Some(answer))
    };
    let mut asked = record.clone();
    asked.answers.retain(|id, answer| !is_orphan(id, answer));
    let mut faults = skin_assessments::unusable(book, today, &asked);
    let is_new = kept.is_none_or(|kept| {
        (kept.skin.as_ref(), kept.born_on) != (record.skin.as_ref(), record.born_on)
    });
    if let Some(CivilDate(born_on)) = record.born_on.filter(|_| is_new) {
        let seen = age_told_on(record).map_or(today, |day| day.0);
        let skin = record.skin.as_ref();
        faults.extend(skin_assessments::other_age(skin, "#/skin", (born_on, seen)));
    }
    let whole = record.given.iter().map(|given| ("#/given/on".to_owned(), given));
    let single = record.answered.iter().map(|(id, given)| (format!("#/answered/{id}/on"), given));
    for (place, given) in whole.chain(single) {
        if given.on.is_some_and(|on| today < on.0) {
            let why = "an answer of a day that has not come yet";
            let fault = Fault::new(place, FaultCode::OutOfRange, why);
            faults.push(fault.means(Refusal::InFuture));
        }
    }
    // What was told later counts, in whatever order it comes in.
    for (id, answer) in &record.answers {
        let given = record.answered.get(id).or(record.given.as_ref());
        let place = given.and_then(|given| given.treatment);
        let before = kept.and_then(|kept| kept.of_place(studio, id, place));
        if let (Some(CivilDate(on)), Some((held, from))) = (given.and_then(|g| g.on), before)
            && let Some(CivilDate(since)) = from.on
            && on < since
            && (held != answer || kept.is_some_and(|kept| kept.noted.contains(id)))
        {
            let why = format!(
                "an answer of {since} is kept, and this one is of {on}; what is told otherwise is of {since} or later"
            );
            let fault = Fault::new(place_of(id), FaultCode::Contradiction, why);
            faults.push(fault.means(Refusal::AnswerOlder.of_day(since)));
        }
    }
    faults.extend(others::check((record, sent), kept));
    let told = record.answered.get(SKIN).or(record.given.as_ref()).and_then(|given| given.on);
    let held = kept.and_then(|kept| Some((kept.skin.as_ref()?, kept.answered.get(SKIN)?.on?)));
    if let (Some(on), Some((skin, since))) = (told, held)
        && on < since
        && record.skin.as_ref().is_some_and(|now| now != skin)
    {
        let why = format!("the skin that is kept was seen on {since}, and this one on {on}");
        let fault = Fault::new("#/skin", FaultCode::Contradiction, why);
        faults.push(fault.means(Refusal::AnswerOlder.of_day(since.0)));
    }
    let known = kept.map(|kept| every_answer(&kept.clone().record())).unwrap_or_default();
    let known: Vec<Kept<'_>> = known.iter().map(heard).collect();
    for (id, on) in studio.craft.freshness.ends_too_early(&record.answers, &known) {
        let why = format!("on {on} it was told to go on; it did not end before");
        let fault = Fault::new(place_of(id), FaultCode::Contradiction, why);
        faults.push(fault.means(Refusal::GoesOn.of_day(on)));
    }
    let has_age = record.skin.as_ref().is_some_and(|skin| skin.age_years.is_some());
    let is_told = |id: &str| {
        super::told(&record.answers, record.skin.as_ref()).any(|one| one == id)
            || has_age && id == AGE
    };
    for id in record.answered.keys().filter(|id| !is_told(id)) {
        let why = "there is no answer to this question here";
        faults.push(Fault::new(format!("#/answered/{id}"), FaultCode::UnknownReference, why));
    }
    if faults.is_empty() { Ok(()) } else { Err(Error::Refused(faults)) }
}
