//! What was used on whom.

use crate::*;

/// The table of `treatments`.
#[macro_export]
macro_rules! treatments_endpoints {
    ($each:ident $($about:tt)*) => { $each! {
        [$($about)*]
        methods {
            /// records a treatment; its packs leave the drawer.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for a pack that may not be used.
            Once record_treatment "/v1/treatments",
                body treatments::TreatmentRequest => treatments::TreatmentRecord;
            /// records what is seen while
            /// working, and says what to do.
            ///
            /// # Errors
            /// [`Error::Problem`] if there is no such treatment, or with a fault for
            /// each value that was refused.
            Once record_observation "/v1/treatments/{id}/observations" (id: Uuid),
                body treatments::ObservationRequest => treatments::Observation;
            /// keeps what the client tells
            /// afterwards, and says how urgent it is.
            ///
            /// # Errors
            /// [`Error::Problem`] if there is no such treatment, or with a fault for
            /// each value that was refused.
            Once keep_symptom_report "/v1/treatments/{id}/symptom-reports" (id: Uuid),
                body symptom_reports::KeptSymptomReportRequest => symptom_reports::KeptSymptomReport;
            /// a
            /// named person has looked into a report; paused messages go on.
            ///
            /// # Errors
            /// [`Error::Problem`] if there is no such report, if it is settled already,
            /// or with a fault for each value that was refused.
            Once settle_symptom_report "/v1/treatments/{id}/symptom-reports/{report_id}/settlements" (id: Uuid, report_id: Uuid),
                body symptom_reports::SettlementRequest => symptom_reports::Settlement;
            /// records how it healed, and says what
            /// to change next time.
            ///
            /// # Errors
            /// [`Error::Problem`] if there is no such treatment, or with a fault for
            /// each value that was refused.
            Once record_review "/v1/treatments/{id}/reviews" (id: Uuid),
                body reviews::ReviewRequest => reviews::Review;
            /// puts a record right; its history
            /// is kept.
            ///
            /// # Errors
            /// [`Error::Problem`] if there is no such treatment, or with a fault for
            /// each value that was refused.
            Once amend_treatment "/v1/treatments/{id}/amendments" (id: Uuid),
                body amendments::AmendmentRequest => amendments::Amendment;
            /// reads an observation.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            Get get_observation "/v1/treatments/{id}/observations/{observation_id}" (treatment: Uuid, id: Uuid)
                => treatments::Observation;
            /// reads a kept report with its settlement.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            Get get_symptom_report "/v1/treatments/{id}/symptom-reports/{report_id}" (treatment: Uuid, id: Uuid)
                => symptom_reports::KeptSymptomReport;
            /// reads a review.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            Get get_review "/v1/treatments/{id}/reviews/{review_id}" (treatment: Uuid, id: Uuid) => reviews::Review;
            /// reads an amendment.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            Get get_amendment "/v1/treatments/{id}/amendments/{amendment_id}" (treatment: Uuid, id: Uuid)
                => amendments::Amendment;
            /// one page of the observations of a treatment.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            List list_observations "/v1/treatments/{id}/observations" (treatment: Uuid),
                query page::PageQuery => treatments::Observation;
            /// one page of the symptom reports of a treatment.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            List list_symptom_reports "/v1/treatments/{id}/symptom-reports" (treatment: Uuid),
                query page::PageQuery => symptom_reports::KeptSymptomReport;
            /// one page of the reviews of a treatment.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            List list_reviews "/v1/treatments/{id}/reviews" (treatment: Uuid),
                query page::PageQuery => reviews::Review;
            /// one page of the amendments of a treatment.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            List list_amendments "/v1/treatments/{id}/amendments" (treatment: Uuid),
                query page::PageQuery => amendments::Amendment;
            /// one page of treatments, of a client, an artist or a period.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_treatments "/v1/treatments", query treatments::TreatmentQuery => treatments::TreatmentRow;
            /// reads a treatment.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none, or if its client
            /// was erased.
            Tagged get_treatment "/v1/treatments/{id}" (id: Uuid) => treatments::TreatmentRecord;
        }
        own {}
    }};
}

treatments_endpoints!(values);
