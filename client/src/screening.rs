//! May this skin be treated, when, and under which conditions?

use etui_schema::screening_questions::{ScreeningQuery, ScreeningQuestions};
use etui_schema::skin_assessments::{SkinAssessment, SkinAssessmentRequest};
use etui_schema::skin_typing::{PhototypeAnswer, PhototypeRequest, SkinColour, SkinColourRequest};

use crate::builder::Client;
use crate::error::Error;

/// Questions, assessments, skin typing. Nothing of it is stored.
impl Client {
    /// `GET /v1/screening-questions`: what to ask before a treatment.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached or refuses the token.
    pub async fn list_screening_questions(
        &self,
        query: &ScreeningQuery,
    ) -> Result<ScreeningQuestions, Error> {
        let ScreeningQuery { treatment, on } = query;
        self.get(&["v1", "screening-questions"])
            .query("treatment", treatment.as_str())
            .query_if("on", on.as_ref())
            .read()
            .await
    }

    /// `POST /v1/skin-assessments`: verdict, findings and score.
    ///
    /// # Errors
    /// [`Error::Problem`] with a fault for each answer that is refused.
    pub async fn create_skin_assessment(
        &self,
        request: &SkinAssessmentRequest,
    ) -> Result<SkinAssessment, Error> {
        self.post(&["v1", "skin-assessments"]).json(request)?.read().await
    }

    /// `POST /v1/phototype-scores`: the sun-reaction type from ten answers.
    ///
    /// # Errors
    /// [`Error::Problem`] with a fault for each answer that is refused.
    pub async fn create_phototype_score(
        &self,
        request: &PhototypeRequest,
    ) -> Result<PhototypeAnswer, Error> {
        self.post(&["v1", "phototype-scores"]).json(request)?.read().await
    }

    /// `POST /v1/skin-colours`: class and difference of measured colours.
    ///
    /// # Errors
    /// [`Error::Problem`] with a fault for each value that is refused.
    pub async fn create_skin_colour(
        &self,
        request: &SkinColourRequest,
    ) -> Result<SkinColour, Error> {
        self.post(&["v1", "skin-colours"]).json(request)?.read().await
    }
}
