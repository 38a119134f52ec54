//! The pre-appointment check: screening, needle, readiness, to-do list and
//! aftercare in one answer, kept as given.
//!
//! The verdict is the screening's alone: no needle, score or wish softens it.
//! What artist and drawer lack goes on the to-do list.

mod compare;
mod gather;
mod keep;
mod needles;

pub use keep::{BY_BOOKING, BY_START, CheckTrace, list, newest, rows, upcoming_with};

use etui_craft::screening::gate::Visit;
use etui_craft::screening::todo::Todo;
use etui_schema::aftercare_plans::AftercarePlanRequest;
use etui_schema::appointment_checks::{
    AppointmentCheck, AppointmentCheckRequest, Changes, CheckNeedles, Readiness, Replay, TodoItem,
    Who,
};
use etui_schema::skin_assessments::SkinAssessment;
use etui_schema::vocabulary::{CivilDate, Confidence, Grouping, Instant, Language, Verdict};
use uuid::Uuid;

use self::gather::Gathered;
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
        as_of: moment.today,
        born_on: gathered.born_on.0,
    };
    let book = &studio.craft.rulebook;
    let (screening, listed) = skin_assessments::screened(
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
    let readiness = readiness(gathered, needles.as_ref());
    let aftercare =
        aftercare_plans::make(&studio.craft.plans, &preview(gathered, moment), language)?;
    let SkinAssessment {
        verdict,
        as_of: _,
        hold_until,
        waits_for_event: _,
        findings,
        unanswered,
        not_used: _,
        score,
        rulebook,
        cautions,
    } = screening;
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
        summary: summary(verdict, hold_until, unanswered.len(), language),
        hold_until,
        findings,
        unanswered,
        score,
        rulebook,
        todo: todo(listed, &readiness, gathered.on, moment.today),
        needles,
        readiness,
        aftercare,
        cautions,
        changes: None,
    })
}

fn preview(gathered: &Gathered, _: &Moment) -> AftercarePlanRequest {
    AftercarePlanRequest {
        treatment: gathered.request.treatment,
        performed_at: gathered.request.starts_at,
        zone: gathered.zone.clone(),
        skin: gathered.skin.clone(),
        conditions: Vec::new(),
        message_time: None,
        quiet_hours: None,
        closed_days: Vec::new(),
        opening_hours: None,
    }
}

/// The outcome in one or two sentences, to be read aloud.
fn summary(
    verdict: Verdict,
    hold_until: Option<CivilDate>,
    open: usize,
    language: Language,
) -> String {
    let day = hold_until.map(|day| day.to_string());
    match (language, verdict) {
        (Language::En, Verdict::Proceed) => "Nothing stands against this appointment.".to_owned(),
        (Language::En, Verdict::ProceedWithConditions) => {
            "The appointment can go ahead if what is on the list is done in time.".to_owned()
        }
        (Language::En, Verdict::Hold) => match day {
            Some(day) => format!("Not yet: please move the appointment to {day} or later."),
            None => "Not yet: something has to settle first; the list says what.".to_owned(),
        },
        (Language::En, Verdict::Refer) => {
            "Somebody licensed should look first; the list says who.".to_owned()
        }
        (Language::En, Verdict::Decline) => "This studio will not do this treatment.".to_owned(),
        (Language::En, Verdict::Incomplete) => {
            format!("Answers are missing ({open}); nothing is assumed until they are there.")
        }
        (Language::De, Verdict::Proceed) => "Nichts spricht gegen diesen Termin.".to_owned(),
        (Language::De, Verdict::ProceedWithConditions) => {
            "Der Termin kann stattfinden, wenn rechtzeitig erledigt ist, was auf der Liste steht."
                .to_owned()
        }
        (Language::De, Verdict::Hold) => match day {
            Some(day) => format!("Noch nicht: bitte den Termin auf {day} oder später verlegen."),
            None => "Noch nicht: etwas muss sich erst klären; die Liste sagt, was.".to_owned(),
        },
        (Language::De, Verdict::Refer) => {
            "Erst sollte jemand mit Zulassung darauf sehen; die Liste sagt, wer.".to_owned()
        }
        (Language::De, Verdict::Decline) => {
            "Dieses Studio führt diese Behandlung nicht durch.".to_owned()
        }
        (Language::De, Verdict::Incomplete) => {
            format!("Es fehlen Antworten ({open}); bis dahin wird nichts angenommen.")
        }
    }
}

/// Whether drawer and artist are ready for the needle that comes first.
fn readiness(gathered: &Gathered, needles: Option<&CheckNeedles>) -> Vec<Readiness> {
    let first = needles.and_then(|needles| needles.ranked.first());
    let mut list = vec![match first {
        Some(needle) => Readiness {
            about: "drawer".to_owned(),
            ready: true,
            because: format!("{} is there to choose.", needle.canonical),
            confidence: Confidence::High,
        },
        None => Readiness {
            about: "drawer".to_owned(),
            ready: false,
            because: "no needle that suits and may be used on the day is there to choose."
                .to_owned(),
            confidence: Confidence::High,
        },
    }];
    if let (Some(practice), Some(needle)) = (&gathered.practice, first) {
        let (count, grouping) = (needle.configuration.count, needle.configuration.grouping);
        let same = |g: Option<Grouping>, c: Option<u8>| g == grouping && c == count;
        let practised =
            practice.iter().find(|one| same(one.configuration.grouping, one.configuration.count));
        list.push(match practised {
            Some(one) if one.signed_off_by.is_some() => Readiness {
                about: "practice".to_owned(),
                ready: true,
                because: format!("{} was practised and signed off.", needle.canonical),
                confidence: Confidence::High,
            },
            Some(_) => Readiness {
                about: "practice".to_owned(),
                ready: false,
                because: format!("{} was practised, but nobody signed it off.", needle.canonical),
                confidence: Confidence::Medium,
            },
            None => Readiness {
                about: "practice".to_owned(),
                ready: false,
                because: format!(
                    "no practice with {} is on record for this artist.",
                    needle.canonical
                ),
                confidence: Confidence::Medium,
            },
        });
    }
    list
}

fn todo(
    listed: Vec<Todo>,
    readiness: &[Readiness],
    on: CivilDate,
    today: jiff::civil::Date,
) -> Vec<TodoItem> {
    let mut items: Vec<TodoItem> = listed
        .into_iter()
        .map(|todo| TodoItem {
            key: format!("{}.{}", todo.kind.as_str(), todo.from),
            text: todo.text,
            who: match todo.who.as_str() {
                "client" => Who::Client,
                _ => Who::Studio,
            },
            due: todo.due.map(CivilDate),
            late: todo.is_late,
            from: todo.from.to_string(),
        })
        .collect();
    for ready in readiness.iter().filter(|ready| !ready.ready) {
        let (who, text) = match ready.about.as_str() {
            "drawer" => (Who::Studio, format!("Order or release packs: {}", ready.because)),
            _ => (Who::Artist, format!("Practise before the day: {}", ready.because)),
        };
        items.push(TodoItem {
            key: format!("ready.{}", ready.about),
            text,
            who,
            due: Some(on),
            late: on.0 < today,
            from: ready.about.clone(),
        });
    }
    items.sort_by_key(|item| (item.due.is_none(), item.due));
    items
}
