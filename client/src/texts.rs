//! Answers that are no JSON: pages to print, calendars, tables, figures.

use etui_schema::endpoints;
use etui_schema::sheets::SheetFor;
use etui_schema::vocabulary::CivilDate;
use uuid::Uuid;

use crate::builder::Client;
use crate::error::Error;

const HTML: &str = "text/html";
const CALENDAR: &str = "text/calendar";

/// What a person or another program reads.
impl Client {
    /// `GET /v1/appointment-checks/{id}/sheet`: a check as HTML to print.
    ///
    /// # Errors
    /// As [`Client::get_check_summary`].
    pub async fn get_check_sheet(&self, id: Uuid, audience: SheetFor) -> Result<String, Error> {
        self.to(endpoints::get_check_sheet().at, &[&id])
            .query("for", audience.as_str())
            .accept(HTML)
            .read_text()
            .await
    }

    /// `GET /v1/day-sheets/{date}`: the checks of a day as HTML to print.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached or refuses the token.
    pub async fn get_day_sheet(&self, on: CivilDate) -> Result<String, Error> {
        self.to(endpoints::get_day_sheet().at, &[&on]).accept(HTML).read_text().await
    }

    /// `GET /v1/treatments/{id}/aftercare-sheet`: the aftercare of a treatment as
    /// HTML to print.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if the client was erased.
    pub async fn get_aftercare_sheet(&self, id: Uuid) -> Result<String, Error> {
        self.to(endpoints::get_aftercare_sheet().at, &[&id]).accept(HTML).read_text().await
    }

    /// `GET /v1/treatments/{id}/aftercare.ics`: the same as iCalendar.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if the client was erased.
    pub async fn get_treatment_calendar(&self, id: Uuid, detail: bool) -> Result<String, Error> {
        self.to(endpoints::get_treatment_calendar().at, &[&id])
            .query("detail", if detail { "true" } else { "false" })
            .accept(CALENDAR)
            .read_text()
            .await
    }

    /// `GET /v1/calendars/{token}.ics`: the calendar behind a secret.
    ///
    /// # Errors
    /// [`Error::Problem`] with 404 once it is closed.
    pub async fn get_calendar(&self, token: &str) -> Result<String, Error> {
        self.to(endpoints::get_calendar().at, &[&token]).accept(CALENDAR).read_text().await
    }

    /// [`Client::list_exposures`] as a table for an authority, as CSV.
    ///
    /// # Errors
    /// As [`Client::list_exposures`].
    pub async fn list_exposures_csv(&self, id: Uuid) -> Result<String, Error> {
        self.to(endpoints::list_exposures().at, &[&id]).accept("text/csv").read_text().await
    }

    /// `GET /metrics`: the figures of the process as OpenMetrics text.
    ///
    /// # Errors
    /// [`Error`], among others for a token without the scope `admin`.
    pub async fn get_metrics(&self) -> Result<String, Error> {
        self.to(endpoints::get_metrics().at, &[])
            .accept("application/openmetrics-text")
            .read_text()
            .await
    }

    /// `GET /docs`: the page on which a person reads and tries the interface.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached.
    pub async fn get_docs(&self) -> Result<String, Error> {
        self.to(endpoints::get_docs().at, &[]).accept(HTML).read_text().await
    }

    /// `GET /docs/{file}`: a script or style of that page.
    ///
    /// # Errors
    /// [`Error::Problem`] with status 404 for a file it does not have.
    pub async fn get_docs_file(&self, file: &str) -> Result<Vec<u8>, Error> {
        self.to(endpoints::get_docs_file().at, &[&file]).accept("*/*").read_bytes().await
    }
}
