//! Writing the reminders of a treatment, in the batch of its record.

use std::collections::BTreeMap;

use etui_craft::aftercare::say::Say;
use etui_craft::aftercare::triage::Contacts;
use etui_craft::aftercare::{Plan, Request, Step};
use etui_craft::visit;
use etui_schema::answers::Answer;
use etui_schema::clients::ClientRecord;
use etui_schema::reminders::ReminderState;
use etui_schema::treatments::TreatmentRecord;
use etui_schema::vocabulary::aftercare::Condition;
use etui_schema::vocabulary::{CivilDate, Instant, Language, Reference, Skin};
use jiff::civil::Date;
use uuid::Uuid;

use super::alarm::is_alarmed;
use super::said::{Said, Wording};
use super::sessions::standing;
use super::stored::{self, StoredReminder, replace, time_of};
use super::tell::{review_not_to_tell, review_to_tell};
use super::unwanted::are_unwanted;
use crate::store::{Batch, Bytes};
use crate::studio::Studio;
use crate::studio::appointment_checks::{self, CheckSeen};
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::vault::Access;
use crate::studio::{aftercare_plans, branches, history};

/// The aftercare plan of a recorded treatment, from what is known of the client.
///
/// # Errors
/// [`Error::Refused`] if the treatment lies outside the calendar; what the store met.
pub async fn plan_of(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
    client: Option<&ClientRecord>,
) -> Result<Plan, Error> {
    let here = branches::at(studio, snap, record.branch_ref.as_ref()).await?;
    let zone = client.and_then(|client| client.zone.clone()).unwrap_or_else(|| record.zone.clone());
    let session = zone.rules().to_datetime(record.performed_at.0).date();
    let request = Request {
        treatment: record.treatment,
        performed_at: record.performed_at.0,
        zone: zone.rules().clone(),
        skin: client.map_or_else(Skin::default, |client| skin_on(client, session)),
        country: here.country.map(|country| country.to_string().into()),
        conditions: client.map_or_else(Vec::new, conditions),
        message_time: None,
        quiet_hours: None,
        closed_days: Vec::new(),
        opening_hours: None,
        opens_on: Vec::new(),
        contacts: Contacts::default(),
    };
    let request = branches::planned(&here, request);
    studio.craft.plans.plan(&request).map_err(|faults| aftercare_plans::refused(&faults))
}

/// What is known of a client for the aftercare of a treatment: what is kept of her, and what
/// its check was told beside it. Neither takes anything of the other away.
///
/// # Errors
/// What the store met.
pub async fn known_of(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
    client: Option<&ClientRecord>,
) -> Result<Option<ClientRecord>, Error> {
    let seen = appointment_checks::seen(studio, snap, record.check_id).await?;
    Ok(known_with(studio, &record.client_ref, seen, client))
}

/// The same, with the check at hand; one of another client tells nothing.
#[must_use]
pub fn known_with(
    studio: &Studio,
    client_ref: &Reference,
    seen: Option<CheckSeen>,
    client: Option<&ClientRecord>,
) -> Option<ClientRecord> {
    let Some(seen) = seen.filter(|seen| seen.client_ref() == Some(client_ref)) else {
        return client.cloned();
    };
    let seen = seen.gathered;
    let mut known = client.cloned().unwrap_or_default();
    known.born_on = known.born_on.or(Some(seen.born_on));
    known.skin = visit::joined_skin(&studio.craft.rulebook, seen.skin, known.skin);
    for (id, told) in seen.answers {
        match (known.answers.get_mut(&id), told) {
            (Some(Answer::Choices(kept)), Answer::Choices(told)) => {
                kept.extend(told.into_iter().filter(|one| !kept.contains(one)).collect::<Vec<_>>());
            }
            (Some(kept @ Answer::YesNo(_)), Answer::YesNo(true)) => *kept = Answer::YesNo(true),
            (Some(_), _) => {}
            (None, told) => _ = known.answers.insert(id, told),
        }
    }
    Some(known)
}

/// The skin with the age on a day; a date of birth goes before a told age.
#[must_use]
pub fn skin_on(client: &ClientRecord, day: Date) -> Skin {
    let mut skin = client.skin.clone().unwrap_or_default();
    if let Some(CivilDate(born)) = client.born_on {
        let had_birthday = (born.month(), born.day()) <= (day.month(), day.day());
        let years = day.year() - born.year() - i16::from(!had_birthday);
        skin.age_years = u8::try_from(years).ok().or(skin.age_years);
    }
    skin
}

/// What the answers to the screening questions tell that changes the aftercare.
#[must_use]
pub fn conditions(client: &ClientRecord) -> Vec<Condition> {
    let mut told = Vec::new();
    if let Some(Answer::Choices(all)) = client.answers.get("long_term_conditions")
        && all.iter().any(|one| one == "diabetes")
    {
        told.push(Condition::Diabetes);
    }
    if client.answers.get("cold_sore_history") == Some(&Answer::YesNo(true)) {
        told.push(Condition::ColdSoreHistory);
    }
    told
}

/// Adds the reminders of a treatment to the batch of its record. A session
/// starts the clock again: what was still open for earlier sessions of the same
/// treatment is cancelled, and a session that is recorded after a later one
/// gets no reminders.
///
/// # Errors
/// What the store met, or a treatment outside the calendar.
pub async fn schedule(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    batch: Batch,
    (record, client): (&TreatmentRecord, Option<&ClientRecord>),
    access: &Access,
) -> Result<Batch, Error> {
    let sessions = standing(studio, snap, record).await?;
    let mut batch = batch;
    for (_, id) in sessions.iter().filter(|(at, _)| at.0 <= record.performed_at.0) {
        batch = cancel(snap, moment, batch, (*id, None)).await?;
    }
    if sessions.iter().any(|(at, _)| record.performed_at.0 < at.0) {
        return Ok(batch);
    }
    let language = client.and_then(|client| client.language).unwrap_or(studio.language);
    let plan = plan_of(studio, snap, record, client).await?;
    let review = &plan.milestones.review;
    batch = review_to_tell(batch, record, (review.from, review.until), moment.now)?;
    let alarm = is_alarmed(studio, snap, record).await?;
    let unwanted = are_unwanted(studio, snap, &record.client_ref).await?;
    for step in plan.steps.iter().filter(|step| step.message && moment.now < step.latest) {
        let mut reminder = reminder_of(studio, moment, record, step, language, access)?;
        if alarm && studio.craft.plans.is_friendly(&step.key, step.kind) {
            reminder.pause();
        }
        if unwanted {
            reminder.stop();
        }
        batch = replace(batch, None, &reminder)?;
    }
    Ok(batch)
}

/// Whether a message still lies ahead, or is held by a script.
pub(super) fn open(reminder: &StoredReminder) -> bool {
    stored::OPEN.contains(&reminder.state)
}

/// Adds what becomes of the reminders when the date or the branch of a treatment is put right, or
/// its record is struck (`before`, `record`): their texts are made anew. What is open moves with it, what no longer lies ahead
/// is overtaken, and what the wrong date had closed without being sent is open
/// again. The other sessions of the same treatment follow: of all of them only
/// the last has reminders ahead, and one that was struck has none.
///
/// # Errors
/// What the store met, or a treatment outside the calendar.
pub async fn reschedule(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    batch: Batch,
    (before, record, client): (&TreatmentRecord, &TreatmentRecord, Option<&ClientRecord>),
    access: &Access,
) -> Result<Batch, Error> {
    let review = plan_of(studio, snap, before, client).await?.milestones.review;
    let mut batch = review_not_to_tell(batch, before, review.from)?;
    let sessions = standing(studio, snap, record).await?;
    let is_struck = history::is_struck(record);
    let last = sessions.iter().max().filter(|(at, _)| is_struck || record.performed_at.0 < at.0);
    for (_, id) in sessions.iter().filter(|session| Some(*session) != last) {
        batch = cancel(snap, moment, batch, (*id, None)).await?;
    }
    if last.is_none() && !is_struck {
        return bring(studio, snap, moment, batch, (record, client), access).await;
    }
    batch = cancel(snap, moment, batch, (record.id, Some(record))).await?;
    let Some((_, last)) = last else { return Ok(batch) };
    let last = history::record(studio, snap, *last).await?;
    bring(studio, snap, moment, batch, (&last, client), access).await
}

/// Brings the reminders of the last session to where its plan has them.
async fn bring(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    mut batch: Batch,
    (record, client): (&TreatmentRecord, Option<&ClientRecord>),
    access: &Access,
) -> Result<Batch, Error> {
    let language = client.and_then(|client| client.language).unwrap_or(studio.language);
    let plan = plan_of(studio, snap, record, client).await?;
    let review = &plan.milestones.review;
    batch = review_to_tell(batch, record, (review.from, review.until), moment.now)?;
    let alarm = is_alarmed(studio, snap, record).await?;
    let unwanted = are_unwanted(studio, snap, &record.client_ref).await?;
    let held = stored::of(snap, record.id).await?;
    let mut held: BTreeMap<Uuid, (StoredReminder, Bytes)> =
        held.into_iter().map(|(old, bytes)| (old.id, (old, bytes))).collect();
    for step in plan.steps.iter().filter(|step| step.message) {
        let mut next = reminder_of(studio, moment, record, step, language, access)?;
        let ahead = moment.now < next.latest.0;
        let paused = alarm && studio.craft.plans.is_friendly(&step.key, step.kind);
        let Some((old, bytes)) = held.remove(&next.id) else {
            if ahead {
                if paused {
                    next.pause();
                }
                if unwanted {
                    next.stop();
                }
                batch = replace(batch, None, &next)?;
            }
            continue;
        };
        next.state = match old.state {
            ReminderState::Leased => ReminderState::Leased,
            ReminderState::Scheduled | ReminderState::Paused | ReminderState::Held if !ahead => {
                ReminderState::Overtaken
            }
            // It may still have been sent, whenever it is due.
            ReminderState::Held => ReminderState::Held,
            ReminderState::Scheduled | ReminderState::Paused => ReminderState::Scheduled,
            ReminderState::Cancelled | ReminderState::Overtaken if ahead => {
                ReminderState::Scheduled
            }
            ReminderState::Cancelled
            | ReminderState::Overtaken
            | ReminderState::Delivered
            | ReminderState::Failed
            | ReminderState::Skipped => {
                batch = close(moment, batch, (old, bytes), record.branch_ref.clone())?;
                continue;
            }
        };
        next.closed_at = (next.state == ReminderState::Overtaken).then_some(Instant(moment.now));
        next.lease = old.lease.filter(|_| next.state == ReminderState::Leased);
        next.claims.clone_from(&old.claims);
        next.maybe_sent = old.maybe_sent;
        next.wanted = old.wanted;
        if paused && open(&next) {
            next.pause();
        }
        if unwanted && open(&next) {
            next.stop();
        }
        batch = replace(batch, Some((&old, bytes)), &next)?;
    }
    // Steps that the plan of this date does not have.
    for (old, bytes) in held.into_values() {
        batch = close(moment, batch, (old, bytes), record.branch_ref.clone())?;
    }
    Ok(batch)
}

fn reminder_of(
    studio: &Studio,
    moment: &Moment,
    record: &TreatmentRecord,
    step: &Step,
    language: Language,
    access: &Access,
) -> Result<StoredReminder, Error> {
    let id = id_of(studio, record.id, &step.key);
    let say = |say: &Say| say.in_language(studio.craft.plans.texts(), language);
    let open = step.say.open();
    let said = Said {
        key: step.key.to_string(),
        kind: step.kind,
        text: say(&step.say),
        open: open.map(|open| Wording { language, sentence: say(&open) }),
        local: aftercare_plans::local(&step.at),
        zone: step.at.local.time_zone().iana_name().and_then(|name| name.parse().ok()),
        wording: step.pack.as_ref().and_then(|_| {
            let sentence = studio.craft.plans.pack_sentence(&step.key, language)?.to_owned();
            Some(Wording { language, sentence })
        }),
    };
    Ok(StoredReminder {
        id,
        treatment_id: record.id,
        client_ref: record.client_ref.clone(),
        treatment: record.treatment,
        due_at: Instant(step.at.at),
        latest: Instant(step.latest),
        state: ReminderState::Scheduled,
        lease: None,
        claims: Vec::new(),
        maybe_sent: false,
        delivered_by: Vec::new(),
        reason: None,
        closed_at: None,
        paused: false,
        wanted: None,
        branch_ref: record.branch_ref.clone(),
        said: StoredReminder::seal(access, moment, id, &said)?,
    })
}

/// The id of one step of one treatment: the treatment's own time, and a keyed
/// hash in place of random bits, so that it tells nothing of the step.
#[must_use]
pub fn id_of(studio: &Studio, treatment_id: Uuid, step: &str) -> Uuid {
    let hash = studio.index_key.hash("reminder", &[treatment_id.as_bytes(), step.as_bytes()]);
    let mut bits = [0; 10];
    bits.copy_from_slice(&hash[..10]);
    let mut millis = [0; 8];
    millis[2..].copy_from_slice(&time_of(treatment_id));
    uuid::Builder::from_unix_timestamp_millis(u64::from_be_bytes(millis), &bits).into_uuid()
}

/// Cancels what is still open of a treatment; all are of the branch that it is put right to.
async fn cancel(
    snap: &mut Snap,
    moment: &Moment,
    mut batch: Batch,
    (treatment_id, record): (Uuid, Option<&TreatmentRecord>),
) -> Result<Batch, Error> {
    let held = match record {
        Some(_) => stored::of(snap, treatment_id).await?,
        None => stored::sendable_of(snap, treatment_id).await?,
    };
    for (old, bytes) in held {
        let branch = record.map_or(&old.branch_ref, |record| &record.branch_ref).clone();
        batch = close(moment, batch, (old, bytes), branch)?;
    }
    Ok(batch)
}

/// Cancels a reminder that is still open; it is of this branch.
fn close(
    moment: &Moment,
    batch: Batch,
    (old, bytes): (StoredReminder, Bytes),
    branch_ref: Option<Reference>,
) -> Result<Batch, Error> {
    let mut next = StoredReminder { branch_ref, ..old.clone() };
    if open(&old) {
        next.close(ReminderState::Cancelled, Instant(moment.now));
    } else if next.branch_ref == old.branch_ref {
        return Ok(batch);
    }
    replace(batch, Some((&old, bytes)), &next)
}
