//! The pre-appointment check: screening, needle, readiness, to-do list and
//! aftercare in one answer, kept as given.
//!
//! The verdict is the screening's, or harder where a skin test or a bottle asks
//! for it: no needle, score or wish softens it. What artist, machine and drawer
//! lack goes on the to-do list.

mod compare;
mod gather;
mod keep;
mod materials;
mod needles;
mod previous;
mod readiness;
mod rescreen;
mod summary;

pub use keep::{
    BY_BOOKING, BY_CLIENT, BY_START, CheckTrace, list, newest, newest_of_client, of_client, rows,
    starting_before, upcoming_with,
};
pub use rescreen::{Rescreening, rescreening};

use etui_craft::screening::gate::Visit;
use etui_craft::screening::question::Who as Doer;
use etui_craft::screening::todo::{Todo, only_way_out};
use etui_schema::aftercare_plans::AftercarePlanRequest;
use etui_schema::appointment_checks::{
    AppointmentCheck, AppointmentCheckRequest, Changes, Replay, TodoItem, Who,
};
use etui_schema::skin_assessments::SkinAssessment;
use etui_schema::vocabulary::{CivilDate, Instant, Language};
use uuid::Uuid;

use self::gather::Gathered;
use self::readiness::Words;
use super::engine::Snap;
use super::error::Error;
use super::moment::Moment;
use super::outbox::{self, Happened};
use super::plan::{Planned, Repeat, to_json};
use super::sealed::{self, Trace};
use super::{Studio, aftercare_plans, clients, skin_assessments, vault};
use crate::store::Batch;

/// Plans to make and keep a check.
///
/// # Errors
/// [`Error::Refused`] names every value that was refused.
pub async fn create(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    language: Language,
    request: &AppointmentCheckRequest,
) -> Result<Planned, Error> {
    clients::check_birth(request.born_on.map(|day| day.0), moment.today)?;
    materials::check(request, moment.now)?;
    let gathered = gather::gather(studio, snap, request).await?;
    let id = moment.id()?;
    let mut check = make(studio, snap, moment, language, id, &gathered).await?;
    check.changes = changes(studio, snap, &check).await?;
    let answer = to_json(&check)?;
    let trace = trace_of(&check);
    let access = vault::for_write(studio, snap, moment, &trace.subject()).await?;
    let mut batch =
        sealed::add(Batch::new(), &access, moment, (id, trace.clone()), &gathered, &answer)?;
    batch = keep::index(studio, batch, id, &trace)?;
    batch = outbox::add(batch, moment, completed(id, &trace))?;
    batch = batch.audit(moment.entry("check.make", &format!("checks/{id}"), 1));
    Ok(Planned {
        created: true,
        answer,
        location: Some(format!("/v1/appointment-checks/{id}")),
        batch: access.guard(batch),
        repeat: Repeat::Record(CheckTrace::SPACE, id.as_bytes().to_vec()),
    })
}

fn completed(check_id: Uuid, trace: &CheckTrace) -> Happened {
    Happened::CheckCompleted {
        check_id,
        booking_ref: trace.booking_ref.clone(),
        client_ref: trace.client_ref.clone(),
    }
}

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
    let gathered: Gathered = record.input(studio, snap).await?;
    let before = read(&record.answer(studio, snap).await?)?;
    let now = make(studio, snap, moment, language, id, &gathered).await?;
    let differences = compare::differences(&before, &now);
    Ok(Replay {
        check_id: id,
        replayed_at: Instant(moment.now),
        same: differences.is_empty(),
        differences,
        verdict: now.verdict,
    })
}

fn read(bytes: &[u8]) -> Result<AppointmentCheck, Error> {
    serde_json::from_slice(bytes)
        .map_err(|_| Error::Internal("a stored check cannot be read".to_owned()))
}

async fn changes(
    studio: &Studio,
    snap: &mut Snap,
    check: &AppointmentCheck,
) -> Result<Option<Changes>, Error> {
    let Some(since) = newest(studio, snap, &check.booking_ref).await? else { return Ok(None) };
    let record = sealed::load::<CheckTrace>(snap, since).await?;
    match record.answer(studio, snap).await {
        Ok(bytes) => {
            let differences = compare::differences(&read(&bytes)?, check);
            Ok(Some(Changes { since, differences }))
        }
        // The earlier check belongs to somebody who was erased since.
        Err(Error::NotFound { .. }) => Ok(None),
        Err(error) => Err(error),
    }
}

fn trace_of(check: &AppointmentCheck) -> CheckTrace {
    let lots =
        check.needles.iter().flat_map(|needles| &needles.ranked).flat_map(|needle| &needle.lots);
    CheckTrace {
        booking_ref: check.booking_ref.clone(),
        client_ref: check.client_ref.clone(),
        treatment: check.treatment,
        starts_at: check.starts_at,
        made_at: check.made_at,
        lot_ids: lots.map(|lot| lot.lot_id).collect(),
    }
}

async fn make(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    language: Language,
    id: Uuid,
    gathered: &Gathered,
) -> Result<AppointmentCheck, Error> {
    let request = &gathered.request;
    let visit = Visit {
        treatment: request.treatment,
        on: gathered.day(),
        on_in_studio: studio.zone.rules().to_datetime(request.starts_at.0).date(),
        country: None,
        as_of: moment.today,
        born_on: gathered.born_on.0,
    };
    let book = &studio.craft.rulebook;
    let (screening, mut listed) = skin_assessments::screened(
        book,
        &visit,
        &gathered.answers,
        gathered.skin.as_ref(),
        gathered.overrides(),
        |assessment| {
            let answer =
                skin_assessments::answer(book, assessment, &visit, gathered.overrides(), language);
            (answer, book.todo(assessment, visit.on, moment.today, language))
        },
    )?;
    let needles = needles::choose(studio, snap, gathered).await?;
    let craft = &studio.craft;
    let judged = materials::judge(&craft.typing, gathered);
    let materials = judged.as_materials();
    let days = (visit.on, moment.today);
    listed.extend(book.materials_todo(&craft.typing.patch_test, &materials, days, language));
    only_way_out(materials.verdict(screening.verdict, moment.today), &mut listed);
    let words = Words { sentences: book.sentences(), language };
    let readiness = readiness::readiness(&craft.plans, gathered, needles.as_ref(), words);
    let to_be_ready = readiness::todo(&readiness, gathered.on, moment.today, words);
    let todo = todo(listed, to_be_ready);
    let aftercare =
        aftercare_plans::make(&studio.craft.plans, &preview(gathered, moment), language)?;
    let SkinAssessment {
        verdict: screened,
        as_of: _,
        hold_until,
        not_before: _,
        waits_for_event: _,
        findings,
        unanswered,
        not_used: _,
        score,
        rulebook,
        cautions,
    } = screening;
    let verdict = materials.verdict(screened, moment.today);
    Ok(AppointmentCheck {
        id,
        made_at: Instant(moment.now),
        booking_ref: request.booking_ref.clone(),
        client_ref: request.client_ref.clone(),
        treatment: request.treatment,
        effect: request.effect,
        starts_at: request.starts_at,
        zone: gathered.zone.clone(),
        on: gathered.on,
        verdict,
        summary: summary::summary(words.sentences, verdict, hold_until, unanswered.len(), language),
        hold_until,
        findings,
        unanswered,
        score,
        rulebook,
        todo,
        needles,
        patch_test: Some(materials::test_check(craft, &judged, language)),
        pigments: materials::pigment_checks(craft, gathered, &judged, language),
        previous_sessions: gathered.previous.clone(),
        readiness,
        aftercare,
        cautions: gathered.remark(words).into_iter().chain(cautions).collect(),
        changes: None,
    })
}

fn preview(gathered: &Gathered, _: &Moment) -> AftercarePlanRequest {
    AftercarePlanRequest {
        treatment: gathered.request.treatment,
        performed_at: gathered.request.starts_at,
        zone: gathered.zone.clone(),
        country: None,
        skin: gathered.skin.clone(),
        conditions: Vec::new(),
        message_time: None,
        quiet_hours: None,
        closed_days: Vec::new(),
        opening_hours: None,
    }
}

fn todo(listed: Vec<Todo>, ready: impl Iterator<Item = TodoItem>) -> Vec<TodoItem> {
    let item = |todo: Todo| TodoItem {
        key: format!("{}.{}", todo.kind.as_str(), todo.from),
        text: todo.text,
        who: match todo.who {
            Doer::Client => Who::Client,
            Doer::Studio => Who::Studio,
        },
        due: todo.due.map(CivilDate),
        late: todo.is_late,
        from: todo.from.to_string(),
    };
    let mut items: Vec<TodoItem> = listed.into_iter().map(item).chain(ready).collect();
    items.sort_by_key(|item| (item.due.is_none(), item.due));
    items
}
