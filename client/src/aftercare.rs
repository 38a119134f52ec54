//! Aftercare plans and symptom reports.

use etui_schema::aftercare_plans::{AftercarePlan, AftercarePlanRequest};
use etui_schema::symptom_reports::{SymptomQuestions, SymptomReport, SymptomReportRequest};
use etui_schema::vocabulary::Treatment;

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
