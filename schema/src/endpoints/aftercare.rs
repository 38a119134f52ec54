//! Aftercare plans and symptom reports that are not kept.

use crate::*;

/// The table of `aftercare`.
#[macro_export]
macro_rules! aftercare_endpoints {
    ($each:ident $($about:tt)*) => { $each! {
        [$($about)*] "aftercare"
        methods {
            /// dates the aftercare of a session.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for quiet hours of a whole day.
            Post make_aftercare_plan "/v1/aftercare-plans" [Compute],
                body aftercare_plans::AftercarePlanRequest => aftercare_plans::AftercarePlan;
            /// how urgent is what a client tells?
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for a report from before the session.
            Post judge_symptom_report "/v1/symptom-reports" [Compute],
                body symptom_reports::SymptomReportRequest => symptom_reports::SymptomReport;
        }
        own {
            Get list_symptom_questions "/v1/symptom-questions" [Compute],
                query symptom_reports::SymptomQuestionsQuery => symptom_reports::SymptomQuestions;
        }
    }};
}

aftercare_endpoints!(values);
