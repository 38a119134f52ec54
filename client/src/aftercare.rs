//! Aftercare plans, symptom reports and reminders.

use etui_schema::aftercare_plans::{AftercarePlan, AftercarePlanRequest};
use etui_schema::page::Page;
use etui_schema::reminders::{
    OutcomeReceipt, OutcomeRequest, Reminder, ReminderClaim, ReminderClaimRequest, ReminderQuery,
};
use etui_schema::symptom_reports::{SymptomQuestions, SymptomReport, SymptomReportRequest};
use etui_schema::vocabulary::Treatment;
use uuid::Uuid;

use crate::builder::Client;
use crate::error::Error;

/// What happens after, and what cannot wait.
impl Client {
    /// `POST /v1/aftercare-plans`: dates the aftercare of a session.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 for quiet hours of a whole day.
    pub async fn make_aftercare_plan(
        &self,
        request: &AftercarePlanRequest,
    ) -> Result<AftercarePlan, Error> {
        self.post(&["v1", "aftercare-plans"]).json(request)?.read().await
    }

    /// `GET /v1/symptom-questions`: what to ask on a day after a session.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached or refuses the token.
    pub async fn list_symptom_questions(
        &self,
        treatment: Treatment,
        day: u16,
    ) -> Result<SymptomQuestions, Error> {
        self.get(&["v1", "symptom-questions"])
            .query("treatment", treatment.as_str())
            .query("day", &day.to_string())
            .read()
            .await
    }

    /// `POST /v1/symptom-reports`: how urgent is what a client tells?
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 for a report from before the
    /// session.
    pub async fn judge_symptom_report(
        &self,
        request: &SymptomReportRequest,
    ) -> Result<SymptomReport, Error> {
        self.post(&["v1", "symptom-reports"]).json(request)?.read().await
    }
}

/// Due messages, shared among scripts.
///
/// ```no_run
/// # async fn run(client: etui_client::Client) -> Result<(), Box<dyn std::error::Error>> {
/// use etui_schema::reminders::{OutcomeRequest, ReminderClaimRequest, ReminderOutcome};
///
/// let wanted = ReminderClaimRequest { limit: 50, lease_seconds: 600 };
/// let claim = client.claim_reminders(&wanted).await?;
/// for reminder in &claim.reminders {
///     println!("to {}: {}", reminder.client_ref, reminder.text);
///     let sent = OutcomeRequest {
///         claim_id: claim.claim_id,
///         outcome: ReminderOutcome::Delivered,
///         reason: None,
///         retry_after_seconds: None,
///     };
///     client.report_reminder(reminder.id, &sent).await?;
/// }
/// # Ok(())
/// # }
/// ```
impl Client {
    /// `GET /v1/reminders`: one page of reminders of one state.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 for a cursor of another list.
    pub async fn list_reminders(&self, query: &ReminderQuery) -> Result<Page<Reminder>, Error> {
        let ReminderQuery { state, due_before, limit, cursor } = query;
        let mut request = self.get(&["v1", "reminders"]);
        if let Some(state) = state {
            request = request.query("state", state.as_str());
        }
        if let Some(before) = due_before {
            request = request.query("due_before", &before.to_string());
        }
        if let Some(limit) = limit {
            request = request.query("limit", &limit.to_string());
        }
        if let Some(cursor) = cursor {
            request = request.query("cursor", cursor);
        }
        request.read().await
    }

    /// `POST /v1/reminder-claims`: takes due reminders for a time.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 for a lease of more than an hour.
    pub async fn claim_reminders(
        &self,
        request: &ReminderClaimRequest,
    ) -> Result<ReminderClaim, Error> {
        self.post(&["v1", "reminder-claims"]).json(request)?.once().read().await
    }

    /// `POST /v1/reminders/{id}/outcomes`: tells what became of a reminder.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 409 if another claim holds it now.
    pub async fn report_reminder(
        &self,
        id: Uuid,
        request: &OutcomeRequest,
    ) -> Result<OutcomeReceipt, Error> {
        self.post(&["v1", "reminders", &id.to_string(), "outcomes"])
            .json(request)?
            .once()
            .read()
            .await
    }
}
