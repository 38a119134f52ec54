//! What was used on whom, and what came of it.

use crate::*;

/// The table of `treatments`.
#[macro_export]
macro_rules! treatments_endpoints {
    ($each:ident $($about:tt)*) => { $each! {
        [$($about)*] "treatments"
        methods {
            /// the aftercare of a recorded treatment.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            Tagged get_treatment_aftercare "/v1/treatments/{id}/aftercare" (id: Uuid) [TreatmentsRead]
                => aftercare_plans::AftercarePlan;
            /// reads an open calendar, without its path.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 once it is closed.
            Get get_calendar_feed "/v1/calendars/{id}" (id: Uuid) [TreatmentsRead] => calendars::CalendarFeed;
            /// opens a calendar; its path is shown once.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for an artist's calendar without the artist.
            Once open_calendar "/v1/calendars" [TreatmentsWrite],
                body calendars::CalendarRequest => calendars::CalendarFeed;
            /// one page of the open calendars, first opened first.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_calendars "/v1/calendars" [TreatmentsRead], query page::PageQuery => calendars::CalendarFeed;
            /// closes a calendar.
            ///
            /// # Errors
            /// [`Error::Problem`] with 404 if there is none.
            Close close_calendar "/v1/calendars/{id}" (id: Uuid) [TreatmentsWrite] => calendars::CalendarFeed;
            /// confirms that the trainer that the token acts for was in the room.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for whoever is no trainer.
            Once countersign_treatment "/v1/treatments/{id}/countersignatures" (id: Uuid) [SignOffs],
                body countersignatures::CountersignatureRequest => countersignatures::Countersignature;
            /// reads a countersignature.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            Get get_countersignature "/v1/treatments/{id}/countersignatures/{countersignature_id}"
                (treatment: Uuid, id: Uuid) [TreatmentsRead]
                => countersignatures::Countersignature;
            /// one page of the countersignatures of a treatment.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            List list_countersignatures "/v1/treatments/{id}/countersignatures" (treatment: Uuid) [TreatmentsRead],
                query page::PageQuery => countersignatures::Countersignature;
            /// records a treatment; its packs leave the drawer.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for a pack that may not be used.
            Once record_treatment "/v1/treatments" [TreatmentsWrite],
                body treatments::TreatmentRequest => treatments::TreatmentRecord;
            /// records what is seen while working, and says what to do.
            ///
            /// # Errors
            /// [`Error::Problem`] if there is no such treatment, or with a fault for each value that was
            /// refused.
            Once record_observation "/v1/treatments/{id}/observations" (id: Uuid) [TreatmentsWrite],
                body treatments::ObservationRequest => treatments::Observation;
            /// keeps what the client tells afterwards, and says how urgent it is.
            ///
            /// # Errors
            /// [`Error::Problem`] if there is no such treatment, or with a fault for each value that was
            /// refused.
            Once keep_symptom_report "/v1/treatments/{id}/symptom-reports" (id: Uuid) [TreatmentsWrite],
                body symptom_reports::KeptSymptomReportRequest => symptom_reports::KeptSymptomReport;
            /// a named person has looked into a report; paused messages go on.
            ///
            /// # Errors
            /// [`Error::Problem`] if there is no such report, if it is settled already, or with a fault for
            /// each value that was refused.
            Once settle_symptom_report "/v1/treatments/{id}/symptom-reports/{report_id}/settlements"
                (id: Uuid, report_id: Uuid) [TreatmentsWrite],
                body symptom_reports::SettlementRequest => symptom_reports::Settlement;
            /// records how it healed, and says what to change next time.
            ///
            /// # Errors
            /// [`Error::Problem`] if there is no such treatment, or with a fault for each value that was
            /// refused.
            Once record_review "/v1/treatments/{id}/reviews" (id: Uuid) [TreatmentsWrite],
                body reviews::ReviewRequest => reviews::Review;
            /// puts a record right; its history is kept.
            ///
            /// # Errors
            /// [`Error::Problem`] if there is no such treatment, or with a fault for each value that was
            /// refused.
            Once amend_treatment "/v1/treatments/{id}/amendments" (id: Uuid) [TreatmentsWrite],
                body amendments::AmendmentRequest => amendments::Amendment;
            /// reads an observation.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            Get get_observation "/v1/treatments/{id}/observations/{observation_id}"
                (treatment: Uuid, id: Uuid) [TreatmentsRead]
                => treatments::Observation;
            /// reads a kept report with its settlement.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            Get get_symptom_report "/v1/treatments/{id}/symptom-reports/{report_id}"
                (treatment: Uuid, id: Uuid) [TreatmentsRead]
                => symptom_reports::KeptSymptomReport;
            /// reads a review.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            Get get_review "/v1/treatments/{id}/reviews/{review_id}" (treatment: Uuid, id: Uuid) [TreatmentsRead]
                => reviews::Review;
            /// reads an amendment.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            Get get_amendment "/v1/treatments/{id}/amendments/{amendment_id}"
                (treatment: Uuid, id: Uuid) [TreatmentsRead]
                => amendments::Amendment;
            /// one page of the observations of a treatment.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            List list_observations "/v1/treatments/{id}/observations" (treatment: Uuid) [TreatmentsRead],
                query page::PageQuery => treatments::Observation;
            /// one page of the symptom reports of a treatment.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            List list_symptom_reports "/v1/treatments/{id}/symptom-reports" (treatment: Uuid) [TreatmentsRead],
                query page::PageQuery => symptom_reports::KeptSymptomReport;
            /// one page of the reviews of a treatment.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            List list_reviews "/v1/treatments/{id}/reviews" (treatment: Uuid) [TreatmentsRead],
                query page::PageQuery => reviews::Review;
            /// one page of the amendments of a treatment.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            List list_amendments "/v1/treatments/{id}/amendments" (treatment: Uuid) [TreatmentsRead],
                query page::PageQuery => amendments::Amendment;
            /// one page of treatments, of a client, an artist or a period.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_treatments "/v1/treatments" [TreatmentsRead],
                query treatments::TreatmentQuery => treatments::TreatmentRow;
            /// reads a treatment.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none, or if its client was erased.
            Tagged get_treatment "/v1/treatments/{id}" (id: Uuid) [TreatmentsRead] => treatments::TreatmentRecord;
            /// the calendar behind a secret.
            ///
            /// # Errors
            /// [`Error::Problem`] with 404 once it is closed.
            Text get_calendar "/v1/calendars/{token}.ics" (token: &str), as "text/calendar";
            /// the aftercare of a treatment as
            /// HTML to print.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            Text get_aftercare_sheet "/v1/treatments/{id}/aftercare-sheet" (id: Uuid) [TreatmentsRead],
                as "text/html";
        }
        own {
            Get get_treatment_calendar "/v1/treatments/{id}/aftercare.ics" [TreatmentsRead],
                query aftercare_plans::CalendarQuery, as "text/calendar";
        }
    }};
}

treatments_endpoints!(values);
