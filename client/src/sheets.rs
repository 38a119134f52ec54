//! Short views and pages to print.

use etui_schema::sheets::{CheckSummary, SheetFor};
use etui_schema::vocabulary::CivilDate;
use uuid::Uuid;

use crate::builder::Client;
use crate::error::Error;

const HTML: &str = "text/html";

/// What a person reads of an answer, on one page.
impl Client {
    /// `GET /v1/appointment-checks/{id}/summary`: a check in its few lines.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none, or if its client
    /// was erased.
    pub async fn get_check_summary(&self, id: Uuid) -> Result<CheckSummary, Error> {
        self.get(&["v1", "appointment-checks", &id.to_string(), "summary"]).read().await
    }

    /// `GET /v1/appointment-checks/{id}/sheet`: a check as HTML to print.
    ///
    /// # Errors
    /// As [`Client::get_check_summary`].
    pub async fn get_check_sheet(&self, id: Uuid, audience: SheetFor) -> Result<String, Error> {
        self.get(&["v1", "appointment-checks", &id.to_string(), "sheet"])
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
        self.get(&["v1", "day-sheets", &on.to_string()]).accept(HTML).read_text().await
    }

    /// `GET /v1/treatments/{id}/aftercare-sheet`: the aftercare of a treatment as
    /// HTML to print.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if the client was erased.
    pub async fn get_aftercare_sheet(&self, id: Uuid) -> Result<String, Error> {
        self.get(&["v1", "treatments", &id.to_string(), "aftercare-sheet"])
            .accept(HTML)
            .read_text()
            .await
    }
}
