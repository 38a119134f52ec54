//! Lots of sterile packets.

use etui_schema::treatments::{Exposures, NamedRecallRequest, RecallReport, RecallRequest};
use uuid::Uuid;

use crate::builder::Client;
use crate::error::Error;

/// The drawer and what a recall needs.
impl Client {
    /// `POST /v1/recalls`: acts on a notice that names a lot code.
    ///
    /// # Errors
    /// [`Error::Problem`] with a fault for each value that is refused.
    pub async fn recall_lots(&self, request: &NamedRecallRequest) -> Result<RecallReport, Error> {
        self.post(&["v1", "recalls"]).json(request)?.once().read().await
    }

    /// `POST /v1/lots/{id}/recalls`: calls a lot back, with those of its code.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is no such lot.
    pub async fn recall_lot(
        &self,
        id: Uuid,
        request: &RecallRequest,
    ) -> Result<RecallReport, Error> {
        self.post(&["v1", "lots", &id.to_string(), "recalls"]).json(request)?.once().read().await
    }

    /// `GET /v1/lots/{id}/exposures`: who was exposed to a lot.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is no such lot.
    pub async fn list_exposures(&self, id: Uuid) -> Result<Exposures, Error> {
        self.get(&["v1", "lots", &id.to_string(), "exposures"]).read().await
    }

    /// The same as a table for an authority, as CSV.
    ///
    /// # Errors
    /// As [`Client::list_exposures`].
    pub async fn list_exposures_csv(&self, id: Uuid) -> Result<String, Error> {
        let path = ["v1", "lots", &id.to_string(), "exposures"];
        self.get(&path).accept("text/csv").read_text().await
    }
}
