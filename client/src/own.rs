//! The methods that have something of their own: a status that is an answer too, one thing of a
//! query that is taken by itself, another media type than the first.

use etui_schema::configuration_drawings::{DrawingQuery, PictureFormat};
use etui_schema::endpoints;
use etui_schema::puncture_patterns::PuncturePatternRequest;
use etui_schema::recalls::Exposures;
use etui_schema::reminders::{Reminder, ReminderState};
use etui_schema::service::Health;
use etui_schema::sheets::SheetFor;
use etui_schema::symptom_reports::SymptomQuestions;
use etui_schema::treatments::TreatmentRow;
use etui_schema::vocabulary::{Reference, Treatment};
use serde_json::Value;
use uuid::Uuid;

use crate::builder::Client;
use crate::error::Error;
use crate::pages::Pages;

/// Answers in other forms, and questions by one thing.
impl Client {
    /// `GET /health/ready`: the state of every component; `status` is `fail`
    /// if the service answers but cannot work.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached.
    pub async fn get_readiness(&self) -> Result<Health, Error> {
        self.to(endpoints::get_readiness().at, &[]).also(503).read().await
    }

    /// `GET /openapi.json`: the document of the interface.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached.
    pub async fn get_openapi(&self) -> Result<Value, Error> {
        self.to(endpoints::get_openapi().at, &[]).read().await
    }

    /// `GET /v1/schemas/{name}`: one JSON Schema with all it refers to.
    ///
    /// # Errors
    /// [`Error::Problem`] with 404 for a name that is not in [`Client::list_schemas`].
    pub async fn get_schema(&self, name: &str) -> Result<Value, Error> {
        self.to(endpoints::get_schema().at, &[&name]).read().await
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

    /// `GET /v1/appointment-checks/{id}/sheet`: a check as HTML to print.
    ///
    /// # Errors
    /// As [`Client::get_check_summary`].
    pub async fn get_check_sheet(&self, id: Uuid, audience: SheetFor) -> Result<String, Error> {
        self.to(endpoints::get_check_sheet().at, &[&id])
            .query("for", audience.as_str())
            .read_text()
            .await
    }

    /// `GET /v1/treatments/{id}/aftercare.ics`: the same as iCalendar.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if the client was erased.
    pub async fn get_treatment_calendar(&self, id: Uuid, detail: bool) -> Result<String, Error> {
        self.to(endpoints::get_treatment_calendar().at, &[&id])
            .query("detail", if detail { "true" } else { "false" })
            .read_text()
            .await
    }

    /// [`Client::list_exposures`] as a table for an authority, as CSV.
    ///
    /// # Errors
    /// As [`Client::list_exposures`].
    pub async fn list_exposures_csv(&self, id: Uuid) -> Result<String, Error> {
        self.to(endpoints::list_exposures().at, &[&id]).accept("text/csv").read_text().await
    }

    /// `GET /docs/{file}`: a script or style of that page.
    ///
    /// # Errors
    /// [`Error::Problem`] with status 404 for a file it does not have.
    pub async fn get_docs_file(&self, file: &str) -> Result<Vec<u8>, Error> {
        self.to(endpoints::get_docs_file().at, &[&file]).accept("*/*").read_bytes().await
    }

    /// `GET /v1/configuration-drawings`: the bytes of a picture, SVG unless the
    /// query asks for PNG.
    ///
    /// # Errors
    /// [`Error::Problem`] with a fault for each label that is not read.
    pub async fn draw_configurations(&self, query: &DrawingQuery) -> Result<Vec<u8>, Error> {
        let media = media_of(query.format.unwrap_or(PictureFormat::Svg));
        let asked = self.to(endpoints::draw_configurations().at, &[]).query_of(query)?;
        asked.accept(media).read_bytes().await
    }

    /// [`Client::simulate_pattern`] as a picture.
    ///
    /// # Errors
    /// As [`Client::simulate_pattern`].
    pub async fn draw_pattern(
        &self,
        request: &PuncturePatternRequest,
        format: PictureFormat,
    ) -> Result<Vec<u8>, Error> {
        let asked = self.to(endpoints::simulate_pattern().at, &[]).json(request)?;
        asked.accept(media_of(format)).read_bytes().await
    }
}

const fn media_of(format: PictureFormat) -> &'static str {
    match format {
        PictureFormat::Svg => "image/svg+xml",
        PictureFormat::Png => "image/png",
    }
}
