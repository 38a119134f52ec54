//! Short views of long answers.

use etui_schema::aftercare_plans::AftercarePlanRequest;
use etui_schema::appointment_checks::AppointmentCheckRequest;
use etui_schema::configuration_comparisons::ConfigurationComparisonRequest;
use etui_schema::endpoints::{self, At};
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
    /// Where it is sent to.
    const AT: At;
}

macro_rules! has_short {
    ($($endpoint:ident $request:ty => $short:ty;)*) => {$(
        impl HasShort for $request {
            type Short = $short;
            const AT: At = endpoints::$endpoint().at;
        }
    )*};
}

has_short! {
    create_appointment_check AppointmentCheckRequest => CheckSummary;
    create_skin_assessment SkinAssessmentRequest => ShortAssessment;
    select_needles NeedleSelectionRequest => ShortSelection;
    compare_configurations ConfigurationComparisonRequest => ShortComparison;
    make_aftercare_plan AftercarePlanRequest => ShortPlan;
    judge_symptom_report SymptomReportRequest => ShortReport;
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
        shortly(self.to(R::AT, &[]).json(request)?).await
    }

    /// The aftercare of a treatment in short.
    ///
    /// # Errors
    /// As [`Client::get_treatment_aftercare`].
    pub async fn short_aftercare(&self, treatment: Uuid) -> Result<ShortPlan, Error> {
        shortly(self.to(endpoints::get_treatment_aftercare().at, &[&treatment])).await
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
        let asked = self.to(endpoints::record_observation().at, &[&treatment]);
        shortly(asked.json(request)?).await
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
        let asked = self.to(endpoints::keep_symptom_report().at, &[&treatment]);
        shortly(asked.json(request)?).await
    }
}

async fn shortly<S: DeserializeOwned>(request: Request<'_>) -> Result<S, Error> {
    request.query("short", "true").accept(MEDIA_TYPE).read().await
}
