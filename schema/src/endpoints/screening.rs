//! May this skin be treated, when, and under which conditions?

use crate::*;

/// The table of `screening`.
#[macro_export]
macro_rules! screening_endpoints {
    ($each:ident $($about:tt)*) => { $each! {
        [$($about)*] "screening"
        methods {
            /// what to ask before a treatment.
            ///
            /// # Errors
            /// [`Error`] if the service cannot be reached or refuses the token.
            Get list_screening_questions "/v1/screening-questions",
                query screening_questions::ScreeningQuery => screening_questions::ScreeningQuestions;
            /// verdict, findings and score.
            ///
            /// # Errors
            /// [`Error::Problem`] with a fault for each answer that is refused.
            Post create_skin_assessment "/v1/skin-assessments" [Compute],
                body skin_assessments::SkinAssessmentRequest => skin_assessments::SkinAssessment;
            /// the sun-reaction type from ten answers.
            ///
            /// # Errors
            /// [`Error::Problem`] with a fault for each answer that is refused.
            Post create_phototype_score "/v1/phototype-scores" [Compute],
                body skin_typing::PhototypeRequest => skin_typing::PhototypeAnswer;
            /// class and difference of measured colours.
            ///
            /// # Errors
            /// [`Error::Problem`] with a fault for each value that is refused.
            Post create_skin_colour "/v1/skin-colours" [Compute],
                body skin_typing::SkinColourRequest => skin_typing::SkinColour;
        }
        own {}
    }};
}

screening_endpoints!(values);
