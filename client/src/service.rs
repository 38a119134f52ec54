//! What the service says about itself.

use etui_schema::backups::{Backup, BackupMade};
use etui_schema::page::{Page, PageQuery};
use etui_schema::problem::ErrorCode;
use etui_schema::retention::{RetentionReport, Sweep, SweepRequest};
use etui_schema::service::{
    ApiCatalog, Capabilities, Clock, ClockConfirmation, Health, ProblemKind, ProblemKinds,
    SchemaNames, Sources,
};
use serde_json::Value;

use crate::builder::Client;
use crate::error::Error;

/// Health, figures, documents.
impl Client {
    /// `GET /health/live`: whether the process answers at all.
    ///
    /// # Errors
    /// [`Error`] if it does not.
    pub async fn get_liveness(&self) -> Result<Health, Error> {
        self.get(&["health", "live"]).read().await
    }

    /// `GET /health/ready`: the state of every component; `status` is `fail`
    /// if the service answers but cannot work.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached.
    pub async fn get_readiness(&self) -> Result<Health, Error> {
        self.get(&["health", "ready"]).also(503).read().await
    }

    /// `GET /v1/clock`: what time it is there, and whether that is believed.
    ///
    /// # Errors
    /// [`Error`], among others for a token without the scope `admin`.
    pub async fn get_clock(&self) -> Result<Clock, Error> {
        self.get(&["v1", "clock"]).read().await
    }

    /// `POST /v1/clock-confirmations`: says that the service's clock is right.
    ///
    /// # Errors
    /// [`ErrorCode::InvalidValue`] if it says another time.
    pub async fn confirm_clock(&self, time: &ClockConfirmation) -> Result<Clock, Error> {
        self.post(&["v1", "clock-confirmations"]).json(time)?.read().await
    }

    /// `GET /metrics`: the figures of the process as OpenMetrics text.
    ///
    /// # Errors
    /// [`Error`], among others for a token without the scope `admin`.
    pub async fn get_metrics(&self) -> Result<String, Error> {
        self.get(&["metrics"]).accept("application/openmetrics-text").read_text().await
    }

    /// `GET /openapi.json`: the document of the interface.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached.
    pub async fn get_openapi(&self) -> Result<Value, Error> {
        self.get(&["openapi.json"]).read().await
    }

    /// `GET /v1/schemas`: the names of the JSON Schemas.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached.
    pub async fn list_schemas(&self) -> Result<SchemaNames, Error> {
        self.get(&["v1", "schemas"]).read().await
    }

    /// `GET /v1/schemas/{name}`: one JSON Schema with all it refers to.
    ///
    /// # Errors
    /// [`ErrorCode::NotFound`] for a name that is not in [`Client::list_schemas`].
    pub async fn get_schema(&self, name: &str) -> Result<Value, Error> {
        self.get(&["v1", "schemas", name]).accept("application/schema+json").read().await
    }

    /// `GET /v1/sources`: the register that every number points into.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached.
    pub async fn list_sources(&self) -> Result<Sources, Error> {
        self.get(&["v1", "sources"]).read().await
    }

    /// `GET /v1/capabilities`: operations with their scopes, languages, zone.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached.
    pub async fn get_capabilities(&self) -> Result<Capabilities, Error> {
        self.get(&["v1", "capabilities"]).read().await
    }

    /// `GET /.well-known/api-catalog`: where the documents of this host lie.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached.
    pub async fn get_api_catalog(&self) -> Result<ApiCatalog, Error> {
        self.get(&[".well-known", "api-catalog"]).accept("application/linkset+json").read().await
    }

    /// `GET /problems`: the closed list of error codes.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached.
    pub async fn list_problems(&self) -> Result<ProblemKinds, Error> {
        self.get(&["problems"]).read().await
    }

    /// `GET /v1/retention`: what a sweep would remove.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 403 without the scope `admin`.
    pub async fn get_retention(&self) -> Result<RetentionReport, Error> {
        self.get(&["v1", "retention"]).read().await
    }

    /// `POST /v1/retention-sweeps`: removes what was looked at.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 409 if something has changed since.
    pub async fn sweep_records(&self, request: &SweepRequest) -> Result<Sweep, Error> {
        self.post(&["v1", "retention-sweeps"]).json(request)?.read().await
    }

    /// The same as a dry run: what would be removed, and nothing done.
    ///
    /// # Errors
    /// As [`Client::sweep_records`].
    pub async fn would_sweep_records(&self, request: &SweepRequest) -> Result<Sweep, Error> {
        let path = ["v1", "retention-sweeps"];
        self.post(&path).query("dry_run", "true").json(request)?.read().await
    }

    /// `GET /problems/{code}`: one error code, explained.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached.
    pub async fn get_problem(&self, code: ErrorCode) -> Result<ProblemKind, Error> {
        self.get(&["problems", code.as_str()]).read().await
    }

    /// `GET /docs`: the page on which a person reads and tries the interface.
    ///
    /// # Errors
    /// [`Error`] if the service cannot be reached.
    pub async fn get_docs(&self) -> Result<String, Error> {
        self.get(&["docs"]).accept("text/html").read_text().await
    }

    /// `GET /docs/{file}`: a script or style of that page.
    ///
    /// # Errors
    /// [`Error::Problem`] with status 404 for a file it does not have.
    pub async fn get_docs_file(&self, file: &str) -> Result<Vec<u8>, Error> {
        self.get(&["docs", file]).accept("*/*").read_bytes().await
    }

    /// `GET /v1/backups`: one page of the backups that are there.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 403 without the scope `admin`.
    pub async fn list_backups(&self, query: &PageQuery) -> Result<Page<Backup>, Error> {
        self.get(&["v1", "backups"]).query_of(query)?.read().await
    }

    /// `POST /v1/backups`: makes a backup while the service goes on.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 507 if the disk of the backups is full.
    pub async fn make_backup(&self) -> Result<BackupMade, Error> {
        self.post(&["v1", "backups"]).read().await
    }
}
