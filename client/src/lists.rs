//! Lists and questions that are asked for by one thing, which the method takes by itself.

use etui_schema::endpoints;
use etui_schema::recalls::Exposures;
use etui_schema::reminders::{Reminder, ReminderState};
use etui_schema::symptom_reports::SymptomQuestions;
use etui_schema::treatments::TreatmentRow;
use etui_schema::vocabulary::{Reference, Treatment};
use uuid::Uuid;

use crate::builder::Client;
use crate::error::Error;
use crate::pages::Pages;

/// By one thing.
impl Client {
    /// `GET /v1/symptom-questions`: what to ask on a day after a session.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached or refuses the token.
    pub async fn list_symptom_questions(
        &self,
        treatment: Treatment,
        day: u16,
    ) -> Result<SymptomQuestions, Error> {
        self.to(endpoints::list_symptom_questions().at, &[])
            .query("treatment", treatment.as_str())
            .query("day", &day.to_string())
            .read()
            .await
    }

    /// `GET /v1/lots/{id}/exposures`: who was exposed to a lot.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is no such lot.
    pub async fn list_exposures(&self, id: Uuid) -> Result<Exposures, Error> {
        self.to(endpoints::list_exposures().at, &[&id]).read().await
    }

    /// Every reminder of one state, by the time they are due.
    #[must_use]
    pub fn reminders(&self, state: ReminderState) -> Pages<Reminder> {
        let query = vec![("state", state.to_string())];
        Pages::new(self, endpoints::list_reminders().at, &[], query)
    }

    /// Every treatment of a client, oldest first.
    #[must_use]
    pub fn treatments(&self, client_ref: &Reference) -> Pages<TreatmentRow> {
        let query = vec![("client_ref", client_ref.to_string())];
        Pages::new(self, endpoints::list_treatments().at, &[], query)
    }
}
