//! Configurations: side by side, drawn, and as patterns of punctures.

use crate::*;

/// The table of `configurations`.
#[macro_export]
macro_rules! configurations_endpoints {
    ($each:ident $($about:tt)*) => { $each! {
        [$($about)*] "configurations"
        methods {
            /// configurations side by side.
            ///
            /// # Errors
            /// [`Error::Problem`] with a fault for each configuration that is not read.
            Post compare_configurations "/v1/configuration-comparisons" [Compute],
                body configuration_comparisons::ConfigurationComparisonRequest
                => configuration_comparisons::ConfigurationComparison;
            /// which needle, and why.
            ///
            /// # Errors
            /// [`Error::Problem`] for an effect that makes no sense for the treatment, with a fault for each
            /// candidate that is not read, or if the token may not see the drawer that is to be chosen from.
            Post select_needles "/v1/needle-selections" [Compute],
                body needle_selections::NeedleSelectionRequest => needle_selections::NeedleSelection;
            /// the numbers of a simulated pattern.
            ///
            /// # Errors
            /// [`Error::Problem`] with a fault for each value that is refused.
            Post simulate_pattern "/v1/puncture-patterns" [Compute],
                body puncture_patterns::PuncturePatternRequest => puncture_patterns::PuncturePattern;
        }
        own {
            Get draw_configurations "/v1/configuration-drawings" [Compute],
                query configuration_drawings::DrawingQuery, as "image/svg+xml";
        }
    }};
}

configurations_endpoints!(values);
