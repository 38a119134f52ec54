//! Aftercare plans, symptom reports, reminders and calendars.

use etui_schema::aftercare_plans::{AftercarePlan, AftercarePlanRequest};
use etui_schema::calendars::{CalendarFeed, CalendarRequest};
use etui_schema::page::{Page, PageQuery};
use etui_schema::reminders::{
    ClaimExtension, ClaimExtensionRequest, ClaimReturn, ClaimReturnRequest, HeldClaim,
    OutcomeReceipt, OutcomeRequest, Reminder, ReminderClaim, ReminderClaimRequest, ReminderQuery,
    ReminderRelease, ReminderReleaseRequest, ReminderState,
};
use etui_schema::symptom_reports::{SymptomQuestions, SymptomReport, SymptomReportRequest};
use etui_schema::vocabulary::Treatment;
use reqwest::Method;
use uuid::Uuid;

use crate::builder::Client;
use crate::error::Error;
use crate::pages::Pages;
use crate::tagged::Tagged;

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
/// let Some(claim_id) = claim.claim_id else { return Ok(()) };
/// for reminder in &claim.reminders {
///     println!("to {}: {}", reminder.client_ref, reminder.text);
///     let sent = OutcomeRequest {
///         claim_id,
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
    /// [`Error::Problem`], among others 400 for a cursor of another list.
    pub async fn list_reminders(&self, query: &ReminderQuery) -> Result<Page<Reminder>, Error> {
        self.get(&["v1", "reminders"]).query_of(query)?.read().await
    }

    /// Every reminder of one state, by the time they are due.
    #[must_use]
    pub fn reminders(&self, state: ReminderState) -> Pages<Reminder> {
        Pages::new(self, &["v1", "reminders"], vec![("state", state.to_string())])
    }

    /// `GET /v1/reminders/{id}`: reads a reminder.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if the client was erased.
    pub async fn get_reminder(&self, id: Uuid) -> Result<Reminder, Error> {
        self.get(&["v1", "reminders", &id.to_string()]).read().await
    }

    /// `GET /v1/treatments/{id}/aftercare`: the aftercare of a recorded
    /// treatment.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if the client was erased.
    pub async fn get_treatment_aftercare(&self, id: Uuid) -> Result<Tagged<AftercarePlan>, Error> {
        self.get(&["v1", "treatments", &id.to_string(), "aftercare"]).read_tagged().await
    }

    /// `GET /v1/treatments/{id}/aftercare.ics`: the same as iCalendar.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if the client was erased.
    pub async fn get_treatment_calendar(&self, id: Uuid, detail: bool) -> Result<String, Error> {
        self.get(&["v1", "treatments", &id.to_string(), "aftercare.ics"])
            .query("detail", if detail { "true" } else { "false" })
            .accept("text/calendar")
            .read_text()
            .await
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

    /// `GET /v1/reminder-claims`: one page of the claims that hold anything.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 400 for a cursor that is not ours.
    pub async fn list_claims(&self, query: &PageQuery) -> Result<Page<HeldClaim>, Error> {
        self.get(&["v1", "reminder-claims"]).query_of(query)?.read().await
    }

    /// `GET /v1/reminder-claims/{id}`: what a claim still holds.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if it holds nothing any more.
    pub async fn get_claim(&self, id: Uuid) -> Result<ReminderClaim, Error> {
        self.get(&["v1", "reminder-claims", &id.to_string()]).read().await
    }

    /// `POST /v1/reminder-claims/{id}/extensions`: holds it for longer.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if it holds nothing any more.
    pub async fn extend_claim(
        &self,
        id: Uuid,
        request: &ClaimExtensionRequest,
    ) -> Result<ClaimExtension, Error> {
        let path = ["v1", "reminder-claims", &id.to_string(), "extensions"];
        self.post(&path).json(request)?.once().read().await
    }

    /// `POST /v1/reminder-claims/{id}/returns`: gives back what was not sent.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if it holds nothing any more.
    pub async fn return_claim(
        &self,
        id: Uuid,
        request: &ClaimReturnRequest,
    ) -> Result<ClaimReturn, Error> {
        let path = ["v1", "reminder-claims", &id.to_string(), "returns"];
        self.post(&path).json(request)?.once().read().await
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

/// Messages that are held after a restore.
impl Client {
    /// `POST /v1/reminder-releases`: does what a person decided about them.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 503 while the clock is in doubt.
    pub async fn release_reminders(
        &self,
        request: &ReminderReleaseRequest,
    ) -> Result<ReminderRelease, Error> {
        self.post(&["v1", "reminder-releases"]).json(request)?.once().read().await
    }
}

/// Calendars to subscribe to.
impl Client {
    /// `GET /v1/calendars/{id}`: reads an open calendar, without its path.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 once it is closed.
    pub async fn get_calendar_feed(&self, id: Uuid) -> Result<CalendarFeed, Error> {
        self.get(&["v1", "calendars", &id.to_string()]).read().await
    }

    /// `POST /v1/calendars`: opens a calendar; its path is shown once.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 for an artist's calendar without
    /// the artist.
    pub async fn open_calendar(&self, request: &CalendarRequest) -> Result<CalendarFeed, Error> {
        self.post(&["v1", "calendars"]).json(request)?.once().read().await
    }

    /// `GET /v1/calendars`: one page of the open calendars, first opened first.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 400 for a cursor that is not ours.
    pub async fn list_calendars(&self, query: &PageQuery) -> Result<Page<CalendarFeed>, Error> {
        let PageQuery { limit, cursor } = query;
        self.get(&["v1", "calendars"])
            .query_if("limit", limit.as_ref())
            .query_if("cursor", cursor.as_ref())
            .read()
            .await
    }

    /// `GET /v1/calendars/{token}.ics`: the calendar behind a secret.
    ///
    /// # Errors
    /// [`Error::Problem`] with 404 once it is closed.
    pub async fn get_calendar(&self, token: &str) -> Result<String, Error> {
        let name = format!("{token}.ics");
        self.get(&["v1", "calendars", &name]).accept("text/calendar").read_text().await
    }

    /// `DELETE /v1/calendars/{id}`: closes a calendar.
    ///
    /// # Errors
    /// [`Error::Problem`] with 404 if there is none.
    pub async fn close_calendar(&self, id: Uuid) -> Result<CalendarFeed, Error> {
        self.request(Method::DELETE, &["v1", "calendars", &id.to_string()]).read().await
    }
}
