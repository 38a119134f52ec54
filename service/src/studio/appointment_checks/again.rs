//! A check made again: a replay of a stored one, and what changed since the
//! check before of the same booking.
//!
//! A replay computes from what the check was made from, with the rules, the
//! drawer and the date of today. What is kept of the client may have changed
//! since; a replay does not use it, and says so.

use etui_craft::screening::gate::may_begin;
use etui_craft::visit;
use etui_craft::visit::record::SKIN_TEST;
use etui_schema::answers::Answer;
use etui_schema::appointment_checks::{AppointmentCheck, Changes, Difference, OfferedLot, Replay};
use etui_schema::clients::OtherAnswer;
use etui_schema::problem::Fault;
use etui_schema::skin_assessments::Finding;
use etui_schema::vocabulary::{Instant, Language, Treatment, Verdict};
use jiff::Timestamp;
use uuid::Uuid;

use super::compare::{self, Told};
use super::gather::{self, Gathered, Making};
use super::keep::{self, CheckTrace};
use super::readiness::Words;
use super::seen::CheckSeen;
use super::{materials, training};
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::moment::Moment;
use crate::studio::sealed::StoredSealed;
use crate::studio::{Craft, Studio, branches, lots, sealed};

/// Computes a stored check again from what it was made from.
///
/// # Errors
/// [`Error::NotFound`] if there is none, or if the person was erased.
pub async fn replay(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    language: Language,
    id: Uuid,
) -> Result<Replay, Error> {
    let record = sealed::load::<CheckTrace>(snap, id).await?;
    let here = branches::at(studio, snap, record.trace.branch_ref.as_ref()).await?;
    let (studio, moment) = (&*here, &moment.by(&here.zone));
    let gathered: Gathered = record.input(studio, snap).await?;
    let before = record.said(studio, snap).await?;
    let how = (language, Making::Again);
    let now = super::make(studio, snap, moment, how, id, &gathered).await?;
    let recalled = recalled(snap, &before).await?;
    let told = told(studio, language, &before, &recalled);
    let mut differences = compare::differences(&before, &now, told);
    differences.extend(since(studio, snap, &gathered, told).await?);
    Ok(Replay {
        check_id: id,
        replayed_at: Instant(moment.now),
        same: differences.is_empty(),
        differences,
        verdict: now.verdict,
    })
}

/// A kept check with its sentences in a language.
///
/// One that was written in another language is made again as of the moment it
/// was made with the needles that it offered, whatever lies in the drawer by now, and stands
/// for the kept one only if it says the same; else the kept one is answered, in its own
/// language. What was set aside or passed over is not told in another.
///
/// # Errors
/// As [`replay`].
pub async fn in_language(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    language: Language,
    record: &StoredSealed<CheckTrace>,
) -> Result<AppointmentCheck, Error> {
    let before = record.said(studio, snap).await?;
    if before.language == Some(language) {
        return Ok(before);
    }
    let gathered: Gathered = record.input(studio, snap).await?;
    let here = branches::at(studio, snap, record.trace.branch_ref.as_ref()).await?;
    let studio = &*here;
    let then = moment.then(before.made_at.0, &studio.zone);
    let making = before.needles.as_ref().map_or(Making::Again, Making::Retold);
    let how = (language, making);
    let made = match super::make(studio, snap, &then, how, before.id, &gathered).await {
        Ok(made) => made,
        // What it was made from no longer fits today's rules.
        Err(Error::Refused(_)) => return Ok(before),
        Err(error) => return Err(error),
    };
    Ok(if told_alike(&before, &made) { made } else { before })
}

/// Whether a kept check that lets the visit go ahead would not do so by now: made anew of its request,
/// on the day of `moment`, with what has been kept of the client and of earlier sessions since, `but`
/// of one.
///
/// # Errors
/// What the store met.
pub async fn is_overtaken(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    seen: &CheckSeen,
    but: Option<Uuid>,
) -> Result<bool, Error> {
    const STOPS: u8 = may_begin(Verdict::Hold);
    if seen.verdict().is_some_and(|verdict| STOPS <= may_begin(verdict)) {
        return Ok(false);
    }
    let here = branches::at(studio, snap, seen.trace.branch_ref.as_ref()).await?;
    let (studio, moment) = (&*here, &moment.by(&here.zone));
    let said = &seen.said;
    // What asks for something that nobody was told of is no less than what stops.
    let is_new = |found: &Finding| {
        found.verdict != Verdict::Proceed && said.findings.iter().all(|it| it.rule != found.rule)
    };
    let before = &seen.gathered;
    let when = (moment.now, moment.today);
    let now = match gather::gather(studio, snap, &before.request, when, but).await {
        Ok(now) => now,
        // What is kept now contradicts what was sent.
        Err(Error::Refused(_)) => return Ok(true),
        Err(error) => return Err(error),
    };
    let now = training::answered_as(now, before);
    let how = (Language::En, Making::Again);
    match super::make(studio, snap, moment, how, seen.id, &now).await {
        Ok(check) => {
            let verdict = check.verdict.known();
            Ok(verdict.is_none_or(|verdict| STOPS <= may_begin(verdict))
                || check.findings.iter().any(is_new))
        }
        // The rules of today cannot read it.
        Err(Error::Refused(_)) => Ok(true),
        Err(error) => Err(error),
    }
}

/// Whether two checks tell a person the same: outcome, days, rules, tasks and
/// needles.
fn told_alike(one: &AppointmentCheck, other: &AppointmentCheck) -> bool {
    let outcome =
        |check: &AppointmentCheck| (check.verdict.clone(), check.hold_until, check.not_before);
    let found = |check: &AppointmentCheck| {
        let found = check.findings.iter().map(|it| (it.rule.clone(), it.verdict.clone(), it.due));
        found.collect::<Vec<_>>()
    };
    let tasks = |check: &AppointmentCheck| {
        let tasks = check.todo.iter().map(|it| (it.key.clone(), it.who.clone(), it.due, it.late));
        tasks.collect::<Vec<_>>()
    };
    let needles = |check: &AppointmentCheck| {
        let ranked = check.needles.iter().flat_map(|needles| &needles.ranked);
        let lots = |lots: &[OfferedLot]| lots.iter().map(|it| it.lot_id).collect::<Vec<_>>();
        ranked.map(|it| (it.canonical.clone(), lots(&it.lots))).collect::<Vec<_>>()
    };
    let ready = |check: &AppointmentCheck| {
        check.readiness.iter().map(|it| (it.about.clone(), it.ready)).collect::<Vec<_>>()
    };
    outcome(one) == outcome(other)
        && ready(one) == ready(other)
        && found(one) == found(other)
        && tasks(one) == tasks(other)
        && needles(one) == needles(other)
        && one.unanswered == other.unanswered
}

/// What changed since the check before of the same booking.
///
/// # Errors
/// What the store met.
pub(super) async fn changes(
    studio: &Studio,
    snap: &mut Snap,
    language: Language,
    check: &AppointmentCheck,
) -> Result<Option<Changes>, Error> {
    let Some(since) = keep::newest(studio, snap, &check.booking_ref).await? else {
        return Ok(None);
    };
    // The earlier check may belong to somebody who was erased since.
    let Some(record) = readable(sealed::load::<CheckTrace>(snap, since).await)? else {
        return Ok(None);
    };
    let Some(before) = readable(record.said(studio, snap).await)? else { return Ok(None) };
    if before.client_ref != check.client_ref {
        // Nobody is told of one person's health in what is kept of another.
        return Ok(None);
    }
    let recalled = recalled(snap, &before).await?;
    let told = told(studio, language, &before, &recalled);
    Ok(Some(Changes { since, differences: compare::differences(&before, check, told) }))
}

fn told<'a>(
    studio: &'a Studio,
    language: Language,
    before: &AppointmentCheck,
    recalled: &'a [String],
) -> Told<'a> {
    let book = &studio.craft.rulebook;
    let words = Words { sentences: book.sentences(), language };
    let since = studio.zone.rules().to_datetime(before.made_at.0).date();
    Told { book, words, recalled, since }
}

/// The codes of lots that were offered and have been called back.
async fn recalled(snap: &mut Snap, before: &AppointmentCheck) -> Result<Vec<String>, Error> {
    let needles = before.needles.iter().flat_map(|needles| &needles.ranked);
    let mut found = Vec::new();
    for offered in needles.flat_map(|needle| &needle.lots) {
        let lot = match lots::load(snap, offered.lot_id).await {
            Ok((lot, _)) => lot,
            Err(Error::NotFound { .. }) => continue,
            Err(error) => return Err(error),
        };
        if lot.recalled.is_some() {
            found.push(lot.lot.clone().unwrap_or_else(|| lot.id.to_string()));
        }
    }
    Ok(found)
}

/// What has changed since of the client and of the earlier sessions. The replay
/// did not use it.
async fn since(
    studio: &Studio,
    snap: &mut Snap,
    gathered: &Gathered,
    told: Told<'_>,
) -> Result<Vec<Difference>, Error> {
    let differs = |part: &str, now: String, because: String| Difference {
        part: part.to_owned(),
        before: String::new(),
        now,
        because,
    };
    // A request that no longer fits what is kept now is no fault of a replay, and is named.
    // What is looked at below goes by no day of practice.
    let when = (Timestamp::MAX, gathered.day());
    let today = match gather::gather(studio, snap, &gathered.request, when, None).await {
        Ok(today) => today,
        Err(Error::Refused(faults)) => {
            let of = |fault: &Fault| match fault.pointer.as_str() {
                "#/artist_ref" | "#/machine_ref" => ("readiness", "", "hands"),
                "#/born_on" => ("client", "born_on", "born_on"),
                _ => ("client", "skin", "skin"),
            };
            let found = faults.iter().map(of);
            return Ok(found
                .map(|(part, now, why)| differs(part, now.to_owned(), told.say(why, &[])))
                .collect());
        }
        Err(error) => return Err(error),
    };
    let mut found = Vec::new();
    let changed = changed_answers(&studio.craft, gathered, &today);
    if !changed.is_empty() {
        let asked = changed.iter().filter_map(|id| told.question(id));
        let about: Vec<&str> = asked.map(|question| told.about(question)).collect();
        let because = told.say("client", &[("list", &about.join("; "))]);
        found.push(differs("client", changed.join(", "), because));
    }
    if today.born_on != gathered.born_on {
        found.push(differs("client", "born_on".to_owned(), told.say("born_on", &[])));
    }
    if today.skin != gathered.skin {
        found.push(differs("client", "skin".to_owned(), told.say("skin", &[])));
    }
    let hands = |of: &Gathered| (of.setting.hand, of.setting.machine);
    if hands(&today) != hands(gathered) || !training::stands_alike(&today, gathered) {
        found.push(differs("readiness", String::new(), told.say("hands", &[])));
    }
    let record = |of: &Gathered| {
        let sessions = of.previous.iter().map(|one| (one.treatment_id, one.on)).collect::<Vec<_>>();
        (sessions, of.recorded.clone())
    };
    if record(&today) != record(gathered) {
        found.push(differs("record", String::new(), told.say("record", &[])));
    }
    Ok(found)
}

/// Questions whose kept answer is another one now.
fn changed_answers(craft: &Craft, before: &Gathered, now: &Gathered) -> Vec<String> {
    let (rules, sent) = ((&craft.rulebook, &craft.freshness), &before.request.answers);
    let goes_on = |id: &str| {
        let is_told = |end: &str| sent.contains_key(end);
        sent.iter().any(|(of, answer)| visit::goes_on(rules, (of, answer), is_told).contains(&id))
    };
    let Some(kept) = &before.kept else { return Vec::new() };
    let now = now.kept.as_deref().unwrap_or_default();
    let of = |list: &[OtherAnswer], id: &str| -> Vec<(Option<Treatment>, Answer)> {
        let of = list.iter().filter(|one| one.question == id);
        let mut all: Vec<_> = of.map(|one| (one.treatment, one.answer.clone())).collect();
        all.sort_by_key(|one| one.0.map(|treatment| treatment as u8));
        all
    };
    let mut ids: Vec<String> = kept.iter().chain(now).map(|one| one.question.clone()).collect();
    ids.sort();
    ids.dedup();
    ids.retain(|id| of(kept, id) != of(now, id));
    // What the check itself has noted is no news.
    ids.retain(|id| {
        let (kept, now) = (of(kept, id), of(now, id));
        let is_noted = |one: &(_, Answer)| {
            kept.contains(one) || is_noted_by(craft, before, id, (one.0, &one.1))
        };
        now.len() < kept.len() && !goes_on(id) || !now.iter().all(is_noted)
    });
    ids
}

/// Whether all that is kept under a question was sent with a check, or was kept before.
fn is_noted_by(
    craft: &Craft,
    check: &Gathered,
    id: &str,
    (of, now): (Option<Treatment>, &Answer),
) -> bool {
    let mut kept = check.kept.iter().flatten().filter(|one| one.question == id);
    let kept = kept.find(|one| one.treatment == of).map(|one| &one.answer);
    let all = &check.request.answers;
    let implied = all.iter().flat_map(|(id, sent)| visit::implied(&craft.freshness, (id, sent)));
    let implied: Vec<Answer> = implied.filter(|one| one.0 == id).map(|one| one.1).collect();
    let sent = all.get(id);
    let tells = |answer: Option<&Answer>, option: &String| matches!(answer, Some(Answer::Choices(told)) if told.contains(option));
    match now {
        Answer::Choices(now) => now.iter().all(|one| {
            tells(sent, one)
                || tells(kept, one)
                || implied.iter().any(|implied| tells(Some(implied), one))
        }),
        Answer::YesNo(true) if id == SKIN_TEST => materials::has_reacted(&check.request),
        Answer::YesNo(_) | Answer::Number(_) | Answer::Text(_) => {
            sent == Some(now) || implied.contains(now)
        }
    }
}
