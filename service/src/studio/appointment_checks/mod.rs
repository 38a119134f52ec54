//! The pre-appointment check: screening, needle, readiness, to-do list and
//! aftercare in one answer, kept as given.
//!
//! The verdict is the screening's, or harder where a skin test or a bottle asks
//! for it: no needle, score or wish softens it. What artist, machine and drawer
//! lack goes on the to-do list.

mod again;
mod compare;
mod gather;
mod keep;
mod list;
mod materials;
mod needles;
mod place;
mod previous;
mod readiness;
mod remarks;
mod rescreen;
mod reworded;
mod seen;
mod training;
mod unchecked;

pub use again::{in_language, is_overtaken, replay};
pub use gather::Gathered;
pub use keep::{
    BY_BOOKING, BY_CLIENT, BY_START, CheckTrace, by_start, newest, of_client, on_day,
    starting_before, upcoming_with,
};
pub use list::list;
pub(super) use needles::{check_pair, check_pair_at};
pub use place::of_branches;
pub use rescreen::{Rescreening, rescreening};
pub use seen::{CheckSeen, seen};
pub use unchecked::{Unchecked, stood_against};

use etui_craft::screening::question::Who as Doer;
use etui_craft::screening::todo::{Kind, Todo, only_way_out};
use etui_craft::visit::record::SKIN_TEST;
use etui_schema::aftercare_plans::AftercarePlanRequest;
use etui_schema::appointment_checks::{AppointmentCheck, AppointmentCheckRequest, TodoItem, Who};
use etui_schema::clients::{AnswerGiven, ClientRecord};
use etui_schema::endpoints;
use etui_schema::skin_assessments::SkinAssessment;
use etui_schema::vocabulary::{CivilDate, Instant, Language, Reference, Verdict};
use uuid::Uuid;

use self::gather::Making;
use self::place::place;
use self::readiness::Words;
use super::engine::Snap;
use super::error::{Error, Faults};
use super::moment::Moment;
use super::outbox::{self, Happened};
use super::outcome::{self, Outcome};
use super::plan::{Planned, Repeat, to_json};
use super::sealed::{self, Trace};
use super::{Studio, aftercare_plans, branches, clients, reminders, skin_assessments, vault};
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
    let id = moment.id()?;
    let (branch, from) = place(studio, snap, request).await?;
    let at = (branch.as_ref(), "#/branch_ref");
    let (here, named) = branches::there(studio, snap, at).await?;
    let (studio, moment) = (&*here, &moment.by(&here.zone));
    let (mut held, gathered, mut check) = made(studio, snap, moment, language, id, request).await?;
    held.expect.extend(named.expect);
    (check.branch_ref, check.branch_from) = (branch, from.map(Into::into));
    check.changes = again::changes(studio, snap, language, &check).await?;
    previous::veil(snap, moment, &mut check.previous_sessions).await?;
    let answer = to_json(&check)?;
    let trace = trace_of(&check, request.artist_ref.clone());
    let access = vault::for_write(studio, snap, moment, &trace.subject()).await?;
    let (keys, kept) = ((&*studio.keyring, &access), (id, trace.clone()));
    let mut batch = sealed::add(held, keys, moment, kept, &gathered, &answer)?;
    batch = keep::index(studio, batch, id, &trace)?;
    if let Some(client_ref) = &request.client_ref {
        let (tested, seen) = materials::reaction(studio, request, moment);
        let sent = AnswerGiven { on: Some(CivilDate(moment.today)), ..seen.clone() };
        let told = [(&request.answers, sent), (&tested, seen)];
        let client = (client_ref, &access);
        let (born_on, is_minor) = (request.born_on, gathered.is_of_a_minor());
        let of = clients::ToldOf { born_on, is_minor, skin: request.skin.as_ref() };
        batch = clients::note(studio, snap, moment, client, (of, &told), batch).await?;
    }
    batch = outbox::add(batch, moment, completed(id, &trace))?;
    batch = batch.audit(moment.entry("check.make", &format!("checks/{id}"), 1));
    Ok(Planned {
        created: true,
        answer,
        location: Some(endpoints::get_appointment_check().at.filled(&[&id])),
        batch: access.guard(batch),
        repeat: Repeat::Record(CheckTrace::SPACE, id.as_bytes().to_vec()),
    })
}

/// The check that a request comes to, what it was made from, and what holds it to that.
///
/// # Errors
/// [`Error::Refused`] with every fault of the request that can be seen beside the others.
async fn made(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    language: Language,
    id: Uuid,
    request: &AppointmentCheckRequest,
) -> Result<(Batch, Gathered, AppointmentCheck), Error> {
    let mut faults = Faults::default();
    faults.of(clients::check_birth(request.born_on.map(|day| day.0), moment.today))?;
    faults.of(materials::check(request, moment.now))?;
    faults.of(check_pair(studio, request.treatment, request.effect))?;
    faults.of(needles::check_labels(studio, request))?;
    let answered = faults.of(training::overridden(studio, snap, moment, request).await)?;
    let (held, overridden) = answered.unwrap_or_default();
    let today = moment.today;
    let gathered =
        gather::gather_past(studio, snap, request, ((moment.now, today), None), &mut faults)
            .await?;
    let Some(mut gathered) = gathered else { return faults.whole(None) };
    training::answered_for(&mut gathered, overridden);
    let how = (language, Making::Now);
    let check = faults.of(make(studio, snap, moment, how, id, &gathered).await)?;
    faults.whole(check.map(|check| (held, gathered, check)))
}

fn completed(check_id: Uuid, trace: &CheckTrace) -> Happened {
    Happened::check(check_id, trace.booking_ref.clone(), trace.client_ref.clone())
}

fn trace_of(check: &AppointmentCheck, artist_ref: Option<Reference>) -> CheckTrace {
    let lots =
        check.needles.iter().flat_map(|needles| &needles.ranked).flat_map(|needle| &needle.lots);
    CheckTrace {
        booking_ref: check.booking_ref.clone(),
        client_ref: check.client_ref.clone(),
        treatment: check.treatment,
        starts_at: check.starts_at,
        made_at: check.made_at,
        lot_ids: lots.map(|lot| lot.lot_id).collect(),
        artist_ref,
        branch_ref: check.branch_ref.clone(),
    }
}

async fn make(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (language, making): (Language, Making<'_>),
    id: Uuid,
    gathered: &Gathered,
) -> Result<AppointmentCheck, Error> {
    let request = &gathered.request;
    let visit = gathered.visit(studio, moment.today);
    let book = &studio.craft.rulebook;
    let heard = gathered.hear(&studio.craft, &visit, (language, making))?;
    let needles = needles::choose(studio, snap, gathered, making, (moment, language)).await?;
    let craft = &studio.craft;
    let judged = materials::judge(&craft.typing, gathered);
    let materials = judged.as_materials();
    let trained = training::judge(craft, gathered, &needles, language);
    // Nobody knows on which day a trainer will have signed, or a doctor looked at a test.
    let asks = materials.verdict(Verdict::Proceed, moment.today) == Verdict::Refer;
    let is_open = asks || trained.holds();
    let (screening, (mut listed, waits, is_to_be_seen, open)) = skin_assessments::screened_as_read(
        (book, language),
        &visit,
        &heard.answers,
        gathered.skin.as_ref(),
        gathered.overrides(),
        |assessment| {
            let open = is_open.then(|| assessment.clone().while_more_is_open());
            let assessment = open.as_ref().unwrap_or(assessment);
            let answer =
                skin_assessments::answer(book, assessment, &visit, gathered.overrides(), language);
            let todo = book.todo(assessment, visit.on, moment.today, language);
            let waits = book.waits(&assessment.findings, visit.on, language);
            let open = assessment.unanswered.len();
            (answer, (todo, waits, assessment.is_to_be_seen(), open))
        },
    )?;
    let days = (visit.on, moment.today);
    let of_materials = book.materials_todo(&craft.typing.patch_test, &materials, days, language);
    // The reaction of a test that is told now is a finding too: it is listed once.
    if of_materials.iter().any(|todo| todo.kind == Kind::WrittenView) {
        listed.retain(|todo| &*todo.from != SKIN_TEST);
    }
    listed.extend(of_materials);
    // It is of this build; what nobody knew would stop the visit.
    let screened = screening.verdict.known().unwrap_or(Verdict::Decline);
    let mut verdict = trained.harden(materials.verdict(screened, moment.today));
    let words = Words { sentences: book.sentences(), language };
    let next = book.next_session(&heard.answers);
    let readiness = readiness::readiness(craft, gathered, (&needles, &trained, next), words);
    let is_booked_twice = readiness.iter().any(|one| one.about == "booked");
    let is_unsure = gathered.is_client_unknown() || is_to_be_seen || is_booked_twice;
    if verdict == Verdict::Proceed && is_unsure {
        verdict = Verdict::ProceedWithConditions;
    }
    // A hold of the person moves the visit; one of skin test or training is what
    // the list lets end in time.
    let moves = screened == Verdict::Hold;
    only_way_out(if verdict == Verdict::Hold { screened } else { verdict }, &mut listed);
    let to_be_ready = readiness::todo(&readiness, gathered, moment.today, words)
        .filter(|item| !trained.asks() || !matches!(&*item.from, "practice" | "artist"));
    let again = gathered.ask_again(&heard, moment.today, words);
    let comes = verdict != Verdict::Decline && verdict != Verdict::Refer;
    let practise = trained.todo(craft, gathered.on, moment.today, language);
    // Of a visit that is to be moved: its new day, and whom it is about.
    let leads_out = |item: &TodoItem| matches!(&*item.from, "healing" | "client");
    let ready = to_be_ready.chain(again).chain(practise);
    let todo = todo(listed, ready.filter(|item| comes && (!moves || leads_out(item))));
    let preview = preview(studio, gathered);
    let told = branches::planned(studio, aftercare_plans::of_wire(&preview));
    let aftercare = aftercare_plans::made(&craft.plans, (&preview, told), language)?;
    let SkinAssessment {
        verdict: _,
        says: _,
        as_of: _,
        hold_until,
        not_before,
        waits_for_event: _,
        mut findings,
        unanswered,
        not_used: _,
        score,
        rulebook,
        cautions,
    } = screening;
    trained.join(&mut findings);
    let remarks = [
        gathered.contradicted(book, &heard, words),
        gathered.skin_contradicted(book, words),
        Gathered::withdrawn(book, &heard, words),
        gathered.remark(&heard, words),
    ];
    let is_listed = |said: &String| todo.iter().any(|item| item.text == *said);
    let cautions = cautions.into_iter().filter(|said| !is_listed(said));
    let cautions = remarks.into_iter().flatten().chain(cautions).collect();
    let outcome = Outcome {
        verdict,
        hold_until,
        not_before,
        findings: &findings,
        waits: &waits,
        open,
        others_refer: asks,
    };
    let summary = outcome::summary(words.sentences, &outcome, language);
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
        language: Some(language),
        verdict: verdict.into(),
        summary,
        hold_until,
        not_before,
        findings,
        unanswered,
        answers_used: gathered.answers_used(&heard),
        score,
        rulebook,
        todo,
        needles: Some(needles),
        patch_test: Some(materials::test_check(craft, &judged, language)),
        pigments: materials::pigment_checks(craft, gathered, &judged, language),
        previous_sessions: gathered.previous.clone(),
        readiness,
        aftercare,
        cautions,
        changes: None,
        branch_ref: None,
        branch_from: None,
    })
}

/// The aftercare that would follow, from all that the check knows of the person.
fn preview(studio: &Studio, gathered: &Gathered) -> AftercarePlanRequest {
    let client = ClientRecord {
        born_on: Some(gathered.born_on),
        skin: gathered.skin.clone(),
        answers: gathered.answers.clone(),
        ..ClientRecord::default()
    };
    AftercarePlanRequest {
        treatment: gathered.request.treatment,
        performed_at: gathered.request.starts_at,
        zone: gathered.zone.clone(),
        country: studio.country.map(|country| country.to_string()),
        skin: Some(reminders::skin_on(&client, gathered.day())),
        conditions: reminders::conditions(&client),
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
            Doer::Client => Who::Client.into(),
            Doer::Studio => Who::Studio.into(),
        },
        due: todo.due.map(CivilDate),
        late: todo.is_late,
        from: todo.from.to_string(),
    };
    let mut items: Vec<TodoItem> = listed.into_iter().map(item).chain(ready).collect();
    items.sort_by_key(|item| (item.due.is_none(), item.due));
    items
}
