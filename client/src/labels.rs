//! Packets: what their print and their symbol say.

use etui_schema::label_readings::{LabelReadings, LabelReadingsRequest};
use reqwest::Method;

use crate::builder::Client;
use crate::error::Error;

/// Reading packets.
impl Client {
    /// `POST /v1/label-readings`: up to 1,000 labels, each with an outcome of
    /// its own.
    ///
    /// # Errors
    /// [`Error::Problem`] with a fault for each label that has neither print
    /// nor symbol. A label that cannot be read is no error.
    pub async fn read_labels(
        &self,
        request: &LabelReadingsRequest,
    ) -> Result<LabelReadings, Error> {
        self.request(Method::POST, &["v1", "label-readings"]).json(request)?.read().await
    }
}
