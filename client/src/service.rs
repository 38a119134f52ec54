//! What the service says about itself, as far as it is more than its record.

use etui_schema::endpoints;
use etui_schema::service::{ApiCatalog, Health};
use serde_json::Value;

use crate::builder::Client;
use crate::error::Error;

/// Health and documents.
impl Client {
    /// `GET /health/ready`: the state of every component; `status` is `fail`
    /// if the service answers but cannot work.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached.
    pub async fn get_readiness(&self) -> Result<Health, Error> {
        self.to(endpoints::get_readiness().at, &[]).also(503).read().await
    }

    /// `GET /openapi.json`: the document of the interface.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached.
    pub async fn get_openapi(&self) -> Result<Value, Error> {
        self.to(endpoints::get_openapi().at, &[]).read().await
    }

    /// `GET /v1/schemas/{name}`: one JSON Schema with all it refers to.
    ///
    /// # Errors
    /// [`Error::Problem`] with 404 for a name that is not in [`Client::list_schemas`].
    pub async fn get_schema(&self, name: &str) -> Result<Value, Error> {
        self.to(endpoints::get_schema().at, &[&name]).accept("application/schema+json").read().await
    }

    /// `GET /.well-known/api-catalog`: where the documents of this host lie.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached.
    pub async fn get_api_catalog(&self) -> Result<ApiCatalog, Error> {
        self.to(endpoints::get_api_catalog().at, &[])
            .accept("application/linkset+json")
            .read()
            .await
    }
}
