//! What was used on whom.

use etui_schema::amendments::{Amendment, AmendmentRequest};
use etui_schema::page::{Page, PageQuery};
use etui_schema::reviews::{Review, ReviewRequest};
use etui_schema::symptom_reports::{
    KeptSymptomReport, KeptSymptomReportRequest, Settlement, SettlementRequest,
};
use etui_schema::treatments::{
    Observation, ObservationRequest, TreatmentQuery, TreatmentRecord, TreatmentRequest,
    TreatmentRow,
};
use etui_schema::vocabulary::Reference;
use serde::de::DeserializeOwned;
use uuid::Uuid;

use crate::builder::Client;
use crate::error::Error;
use crate::pages::Pages;
use crate::tagged::Tagged;

/// Treatment records.
impl Client {
    /// `POST /v1/treatments`: records a treatment; its packs leave the drawer.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 for a pack that may not be used.
    pub async fn record_treatment(
        &self,
        request: &TreatmentRequest,
    ) -> Result<TreatmentRecord, Error> {
        self.post(&["v1", "treatments"]).json(request)?.once().read().await
    }

    /// `POST /v1/treatments/{id}/observations`: records what is seen while
    /// working, and says what to do.
    ///
    /// # Errors
    /// [`Error::Problem`] if there is no such treatment, or with a fault for
    /// each value that was refused.
    pub async fn record_observation(
        &self,
        id: Uuid,
        request: &ObservationRequest,
    ) -> Result<Observation, Error> {
        self.post(&["v1", "treatments", &id.to_string(), "observations"])
            .json(request)?
            .once()
            .read()
            .await
    }

    /// `POST /v1/treatments/{id}/symptom-reports`: keeps what the client tells
    /// afterwards, and says how urgent it is.
    ///
    /// # Errors
    /// [`Error::Problem`] if there is no such treatment, or with a fault for
    /// each value that was refused.
    pub async fn keep_symptom_report(
        &self,
        id: Uuid,
        request: &KeptSymptomReportRequest,
    ) -> Result<KeptSymptomReport, Error> {
        self.post(&["v1", "treatments", &id.to_string(), "symptom-reports"])
            .json(request)?
            .once()
            .read()
            .await
    }

    /// `POST /v1/treatments/{id}/symptom-reports/{report_id}/settlements`: a
    /// named person has looked into a report; paused messages go on.
    ///
    /// # Errors
    /// [`Error::Problem`] if there is no such report, if it is settled already,
    /// or with a fault for each value that was refused.
    pub async fn settle_symptom_report(
        &self,
        id: Uuid,
        report_id: Uuid,
        request: &SettlementRequest,
    ) -> Result<Settlement, Error> {
        let (id, report_id) = (id.to_string(), report_id.to_string());
        self.post(&["v1", "treatments", &id, "symptom-reports", &report_id, "settlements"])
            .json(request)?
            .once()
            .read()
            .await
    }

    /// `POST /v1/treatments/{id}/reviews`: records how it healed, and says what
    /// to change next time.
    ///
    /// # Errors
    /// [`Error::Problem`] if there is no such treatment, or with a fault for
    /// each value that was refused.
    pub async fn record_review(&self, id: Uuid, request: &ReviewRequest) -> Result<Review, Error> {
        self.post(&["v1", "treatments", &id.to_string(), "reviews"])
            .json(request)?
            .once()
            .read()
            .await
    }

    /// `POST /v1/treatments/{id}/amendments`: puts a record right; its history
    /// is kept.
    ///
    /// # Errors
    /// [`Error::Problem`] if there is no such treatment, or with a fault for
    /// each value that was refused.
    pub async fn amend_treatment(
        &self,
        id: Uuid,
        request: &AmendmentRequest,
    ) -> Result<Amendment, Error> {
        self.post(&["v1", "treatments", &id.to_string(), "amendments"])
            .json(request)?
            .once()
            .read()
            .await
    }

    /// `GET /v1/treatments/{id}/observations/{observation_id}`: reads an observation.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if the client was erased.
    pub async fn get_observation(&self, treatment: Uuid, id: Uuid) -> Result<Observation, Error> {
        self.entry(treatment, "observations", id).await
    }

    /// `GET /v1/treatments/{id}/symptom-reports/{report_id}`: reads a kept report with its settlement.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if the client was erased.
    pub async fn get_symptom_report(
        &self,
        treatment: Uuid,
        id: Uuid,
    ) -> Result<KeptSymptomReport, Error> {
        self.entry(treatment, "symptom-reports", id).await
    }

    /// `GET /v1/treatments/{id}/reviews/{review_id}`: reads a review.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if the client was erased.
    pub async fn get_review(&self, treatment: Uuid, id: Uuid) -> Result<Review, Error> {
        self.entry(treatment, "reviews", id).await
    }

    /// `GET /v1/treatments/{id}/amendments/{amendment_id}`: reads an amendment.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if the client was erased.
    pub async fn get_amendment(&self, treatment: Uuid, id: Uuid) -> Result<Amendment, Error> {
        self.entry(treatment, "amendments", id).await
    }

    /// `GET /v1/treatments/{id}/observations`: one page of the observations of a treatment.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if the client was erased.
    pub async fn list_observations(
        &self,
        treatment: Uuid,
        query: &PageQuery,
    ) -> Result<Page<Observation>, Error> {
        self.entries(treatment, "observations", query).await
    }

    /// `GET /v1/treatments/{id}/symptom-reports`: one page of the symptom reports of a treatment.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if the client was erased.
    pub async fn list_symptom_reports(
        &self,
        treatment: Uuid,
        query: &PageQuery,
    ) -> Result<Page<KeptSymptomReport>, Error> {
        self.entries(treatment, "symptom-reports", query).await
    }

    /// `GET /v1/treatments/{id}/reviews`: one page of the reviews of a treatment.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if the client was erased.
    pub async fn list_reviews(
        &self,
        treatment: Uuid,
        query: &PageQuery,
    ) -> Result<Page<Review>, Error> {
        self.entries(treatment, "reviews", query).await
    }

    /// `GET /v1/treatments/{id}/amendments`: one page of the amendments of a treatment.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if the client was erased.
    pub async fn list_amendments(
        &self,
        treatment: Uuid,
        query: &PageQuery,
    ) -> Result<Page<Amendment>, Error> {
        self.entries(treatment, "amendments", query).await
    }

    /// One page of the entries of a treatment.
    pub(crate) async fn entries<T: DeserializeOwned>(
        &self,
        treatment: Uuid,
        name: &str,
        query: &PageQuery,
    ) -> Result<Page<T>, Error> {
        let path = ["v1", "treatments", &treatment.to_string(), name];
        self.get(&path).query_of(query)?.read().await
    }

    /// An entry of a treatment.
    pub(crate) async fn entry<T: DeserializeOwned>(
        &self,
        treatment: Uuid,
        name: &str,
        id: Uuid,
    ) -> Result<T, Error> {
        self.get(&["v1", "treatments", &treatment.to_string(), name, &id.to_string()]).read().await
    }

    /// `GET /v1/treatments`: one page of treatments, of a client, an artist or a period.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 400 for a cursor that is not ours.
    pub async fn list_treatments(
        &self,
        query: &TreatmentQuery,
    ) -> Result<Page<TreatmentRow>, Error> {
        self.get(&["v1", "treatments"]).query_of(query)?.read().await
    }

    /// Every treatment of a client, oldest first.
    #[must_use]
    pub fn treatments(&self, client_ref: &Reference) -> Pages<TreatmentRow> {
        Pages::new(self, &["v1", "treatments"], vec![("client_ref", client_ref.to_string())])
    }

    /// `GET /v1/treatments/{id}`: reads a treatment.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none, or if its client
    /// was erased.
    pub async fn get_treatment(&self, id: Uuid) -> Result<Tagged<TreatmentRecord>, Error> {
        self.get(&["v1", "treatments", &id.to_string()]).read_tagged().await
    }
}
