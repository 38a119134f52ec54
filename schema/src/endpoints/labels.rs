//! Packets: what their print and their symbol say.

use crate::*;

/// The table of `labels`.
#[macro_export]
macro_rules! labels_endpoints {
    ($each:ident $($about:tt)*) => { $each! {
        [$($about)*] "labels"
        methods {
            /// up to 1,000 labels, each with an outcome of its own.
            ///
            /// # Errors
            /// [`Error::Problem`] with a fault for each label that has neither print nor symbol. A label that
            /// cannot be read is no error.
            Post read_labels "/v1/label-readings" [Compute],
                body label_readings::LabelReadingsRequest => label_readings::LabelReadings;
        }
        own {}
    }};
}

labels_endpoints!(values);
