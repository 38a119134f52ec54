//! Short views of long answers.

use etui_schema::aftercare_plans::AftercarePlanRequest;
use etui_schema::appointment_checks::AppointmentCheckRequest;
use etui_schema::configuration_comparisons::ConfigurationComparisonRequest;
use etui_schema::needle_selections::NeedleSelectionRequest;
use etui_schema::sheets::CheckSummary;
use etui_schema::short::{
    MEDIA_TYPE, ShortAssessment, ShortComparison, ShortKeptReport, ShortObservation, ShortPlan,
    ShortReport, ShortSelection,
};
use etui_schema::skin_assessments::SkinAssessmentRequest;
use etui_schema::symptom_reports::{KeptSymptomReportRequest, SymptomReportRequest};
use etui_schema::treatments::ObservationRequest;
use serde::Serialize;
use serde::de::DeserializeOwned;
use uuid::Uuid;

use crate::builder::Client;
use crate::error::Error;
use crate::send::Request;

/// A request whose answer has a short view.
pub trait HasShort: Serialize {
    /// The short view.
    type Short: DeserializeOwned;
    /// Where it is sent to, below `/v1`.
    const PATH: &'static str;
    /// Whether what is made is kept.
    const WRITES: bool = false;
}

impl HasShort for AppointmentCheckRequest {
    type Short = CheckSummary;
    const PATH: &'static str = "appointment-checks";
    const WRITES: bool = true;
}

impl HasShort for SkinAssessmentRequest {
    type Short = ShortAssessment;
    const PATH: &'static str = "skin-assessments";
}

impl HasShort for NeedleSelectionRequest {
    type Short = ShortSelection;
    const PATH: &'static str = "needle-selections";
}

impl HasShort for ConfigurationComparisonRequest {
    type Short = ShortComparison;
    const PATH: &'static str = "configuration-comparisons";
}

impl HasShort for AftercarePlanRequest {
    type Short = ShortPlan;
    const PATH: &'static str = "aftercare-plans";
}

impl HasShort for SymptomReportRequest {
    type Short = ShortReport;
    const PATH: &'static str = "symptom-reports";
}

/// The same answers in their few lines, by `short=true`.
///
/// ```no_run
/// # async fn run(client: etui_client::Client) -> Result<(), Box<dyn std::error::Error>> {
/// # let request: etui_schema::needle_selections::NeedleSelectionRequest =
/// #     serde_json::from_value(serde_json::json!({}))?;
/// for needle in client.short(&request).await?.ranked {
///     println!("{}: {}", needle.canonical, needle.answers.effect.because);
/// }
/// # Ok(())
/// # }
/// ```
impl Client {
    /// Sends a request, and reads the short view of its answer.
    ///
    /// # Errors
    /// As the method that gives the whole.
    pub async fn short<R: HasShort>(&self, request: &R) -> Result<R::Short, Error> {
        let sent = self.post(&["v1", R::PATH]).json(request)?;
        shortly(if R::WRITES { sent.once() } else { sent }).await
    }

    /// The aftercare of a treatment in short.
    ///
    /// # Errors
    /// As [`Client::get_treatment_aftercare`].
    pub async fn short_aftercare(&self, treatment: Uuid) -> Result<ShortPlan, Error> {
        shortly(self.get(&["v1", "treatments", &treatment.to_string(), "aftercare"])).await
    }

    /// Records what is seen, and says what to do in short.
    ///
    /// # Errors
    /// As [`Client::record_observation`].
    pub async fn short_observation(
        &self,
        treatment: Uuid,
        request: &ObservationRequest,
    ) -> Result<ShortObservation, Error> {
        self.entered(treatment, "observations", request).await
    }

    /// Keeps what the client tells, and says in short how urgent it is.
    ///
    /// # Errors
    /// As [`Client::keep_symptom_report`].
    pub async fn short_kept_report(
        &self,
        treatment: Uuid,
        request: &KeptSymptomReportRequest,
    ) -> Result<ShortKeptReport, Error> {
        self.entered(treatment, "symptom-reports", request).await
    }

    async fn entered<S: DeserializeOwned>(
        &self,
        treatment: Uuid,
        kind: &str,
        request: &impl Serialize,
    ) -> Result<S, Error> {
        let path = ["v1", "treatments", &treatment.to_string(), kind];
        shortly(self.post(&path).json(request)?.once()).await
    }
}

async fn shortly<S: DeserializeOwned>(request: Request<'_>) -> Result<S, Error> {
    request.query("short", "true").accept(MEDIA_TYPE).read().await
}
