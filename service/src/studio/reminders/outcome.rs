//! Reporting what became of a reminder.

use etui_schema::problem::FaultCode;
use etui_schema::reminders::{
    FailureReason, Lease, OutcomeReceipt, OutcomeRequest, ReminderOutcome, ReminderState,
};
use etui_schema::vocabulary::Instant;
use jiff::SignedDuration;
use uuid::Uuid;

use super::stored::{StoredReminder, count, load, replace};
use super::unwanted;
use crate::store::Batch;
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::plan::{Planned, Repeat, to_json};

/// Plans to take a report.
///
/// # Errors
/// [`Error::NotFound`] for an unknown reminder; [`Error::Refused`] for a claim
/// that never held it or a reason that does not fit; [`Error::Conflict`] if
/// somebody else holds it, or it came to another end.
pub async fn report(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
    request: &OutcomeRequest,
) -> Result<Planned, Error> {
    check(request)?;
    let (old, bytes) = load(snap, id).await?;
    if !old.claims.contains(&request.claim_id) {
        return Err(Error::at(
            "#/claim_id",
            FaultCode::UnknownReference,
            "this claim never held this reminder; send the `claim_id` of `POST /v1/reminder-claims`",
        ));
    }
    let mut next = old.clone();
    let late = take(&mut next, request, moment)?;
    let what = |one: &StoredReminder| (one.state, one.reason, one.wanted, count(&one.delivered_by));
    let changed = what(&next) != what(&old);
    let mut batch = if changed {
        replace(Batch::new(), Some((&old, bytes)), &next)?.audit(moment.entry(
            &format!("reminder.{}", request.outcome),
            &format!("reminders/{id}"),
            count(&next.claims).into(),
        ))
    } else {
        Batch::new()
    };
    // Also where it is said again: a person may have released some meanwhile.
    if request.reason == Some(FailureReason::Unwanted) {
        batch = unwanted::hold_others(studio, snap, moment, (batch, &next)).await?;
    }
    let receipt = OutcomeReceipt {
        reminder_id: id,
        state: next.state.into(),
        late,
        deliveries: count(&next.delivered_by),
        due_at: (next.state == ReminderState::Scheduled).then_some(next.due_at),
    };
    Ok(Planned {
        created: changed,
        answer: to_json(&receipt)?,
        location: None,
        batch,
        repeat: Repeat::Answer,
    })
}

fn check(request: &OutcomeRequest) -> Result<(), Error> {
    let OutcomeRequest { claim_id: _, outcome, reason, retry_after_seconds } = request;
    match outcome {
        ReminderOutcome::Failed if reason.is_none() => Err(Error::at(
            "#/reason",
            FaultCode::Missing,
            "a failure needs its reason: no_address, unwanted, refused, unreachable or other",
        )),
        ReminderOutcome::Failed => Ok(()),
        ReminderOutcome::Delivered | ReminderOutcome::Skipped => {
            let pointer = match (reason, retry_after_seconds) {
                (Some(_), _) => "#/reason",
                (None, Some(_)) => "#/retry_after_seconds",
                (None, None) => return Ok(()),
            };
            let why = format!("`{outcome}` takes no such member; only `failed` does");
            Err(Error::at(pointer, FaultCode::Contradiction, why))
        }
    }
}

/// Takes a report; whether it came late.
fn take(
    reminder: &mut StoredReminder,
    request: &OutcomeRequest,
    moment: &Moment,
) -> Result<bool, Error> {
    let OutcomeRequest { claim_id, outcome, reason, retry_after_seconds } = *request;
    let holds = |lease: Lease| lease.claim_id == claim_id;
    let held = reminder.lease.is_some_and(holds);
    let late = !held || reminder.lease.is_some_and(|lease| lease.until.0 <= moment.now);
    let now = Instant(moment.now);
    match outcome {
        ReminderOutcome::Delivered => {
            // That it went out is a fact, whoever else holds it now.
            let known = reminder.delivered_by.contains(&claim_id);
            if known {
                return Ok(false);
            }
            reminder.delivered_by.push(claim_id);
            reminder.reason = reminder.reason.filter(|_| reminder.wanted == Some(false));
            reminder.close(ReminderState::Delivered, now);
            Ok(late)
        }
        ReminderOutcome::Skipped if held => {
            reminder.close(ReminderState::Skipped, now);
            Ok(late)
        }
        ReminderOutcome::Failed if reason == Some(FailureReason::Unwanted) => {
            // It is tried no more, whatever the report asks for.
            unwanted::refuse(reminder, held, now);
            Ok(late)
        }
        ReminderOutcome::Failed if held => {
            reminder.reason = reason;
            let again = retry_after_seconds
                .and_then(|s| moment.now.checked_add(SignedDuration::from_secs(s.into())).ok())
                .filter(|due| *due < reminder.latest.0);
            match again {
                Some(due) => {
                    reminder.wait();
                    reminder.due_at = Instant(due);
                }
                None => reminder.close(ReminderState::Failed, now),
            }
            Ok(late)
        }
        ReminderOutcome::Skipped | ReminderOutcome::Failed => already(reminder, request),
    }
}

/// A report that changes nothing, if it says what is known already.
fn already(reminder: &StoredReminder, request: &OutcomeRequest) -> Result<bool, Error> {
    let same = match request.outcome {
        ReminderOutcome::Skipped => reminder.state == ReminderState::Skipped,
        ReminderOutcome::Failed => reminder.state == ReminderState::Failed,
        ReminderOutcome::Delivered => reminder.state == ReminderState::Delivered,
    };
    if same && reminder.claims.last() == Some(&request.claim_id) {
        return Ok(false);
    }
    Err(Error::conflict(match reminder.state {
        ReminderState::Leased => "the lease ended and another claim holds it now".to_owned(),
        ReminderState::Scheduled => "it is due again and nobody holds it".to_owned(),
        ReminderState::Paused => "it waits for a symptom report to be settled".to_owned(),
        ReminderState::Held => "it is held until a person releases it".to_owned(),
        ReminderState::Delivered
        | ReminderState::Failed
        | ReminderState::Skipped
        | ReminderState::Overtaken
        | ReminderState::Cancelled => format!("it is {} already", reminder.state),
    }))
}
