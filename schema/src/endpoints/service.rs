//! What the service says about itself.

use crate::*;

/// The table of `service`.
#[macro_export]
macro_rules! service_endpoints {
    ($each:ident $($about:tt)*) => { $each! {
        [$($about)*] "service"
        methods {
            /// whether the process answers at all.
            ///
            /// # Errors
            /// [`Error`] if it does not.
            Get get_liveness "/health/live" => service::Health;
            /// what time it is there, and whether that is believed.
            ///
            /// # Errors
            /// [`Error`], among others for a token without the scope `admin`.
            Get get_clock "/v1/clock" [Admin] => service::Clock;
            /// says that the service's clock is right.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 if it says another time.
            Post confirm_clock "/v1/clock-confirmations" [Admin], body service::ClockConfirmation => service::Clock;
            /// the names of the JSON Schemas.
            ///
            /// # Errors
            /// [`Error`] if the service cannot be reached.
            Get list_schemas "/v1/schemas" => service::SchemaNames;
            /// the register that every number points into.
            ///
            /// # Errors
            /// [`Error`] if the service cannot be reached.
            Get list_sources "/v1/sources" => service::Sources;
            /// operations with their scopes, languages, zone.
            ///
            /// # Errors
            /// [`Error`] if the service cannot be reached.
            Get get_capabilities "/v1/capabilities" => service::Capabilities;
            /// the closed list of error codes.
            ///
            /// # Errors
            /// [`Error`] if the service cannot be reached.
            Get list_problems "/problems" => service::ProblemKinds;
            /// what a sweep would remove.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 403 without the scope `admin`.
            Get get_retention "/v1/retention" [Admin] => retention::RetentionReport;
            /// removes what was looked at.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 409 if something has changed since.
            Post sweep_records "/v1/retention-sweeps" [Admin],
                body retention::SweepRequest => retention::Sweep, dry would_sweep_records;
            /// one error code, explained.
            ///
            /// # Errors
            /// [`Error`] if the service cannot be reached.
            Get get_problem "/problems/{code}" (code: problem::ErrorCode) => service::ProblemKind;
            /// one page of the backups that are there.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 403 without the scope `admin`.
            List list_backups "/v1/backups" [Admin], query page::PageQuery => backups::Backup;
            /// makes a backup while the service goes on.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 507 if the disk of the backups is full.
            Post make_backup "/v1/backups" [Admin] => backups::BackupMade;
            /// the page on which a person reads and tries the interface.
            ///
            /// # Errors
            /// [`Error`] if the service cannot be reached.
            Text get_docs "/docs", as "text/html";
            /// the figures of the process as OpenMetrics text.
            ///
            /// # Errors
            /// [`Error`], among others for a token without the scope `admin`.
            Text get_metrics "/metrics" [Admin], as "application/openmetrics-text";
            /// where the documents of this host lie.
            ///
            /// # Errors
            /// [`Error`] if the service cannot be reached.
            Get get_api_catalog "/.well-known/api-catalog" => service::ApiCatalog, as "application/linkset+json";
        }
        own {
            Get get_readiness "/health/ready" => service::Health;
            Get get_openapi "/openapi.json";
            Get get_schema "/v1/schemas/{name}", as "application/schema+json";
            Get get_docs_file "/docs/{file}", as "text/javascript";
        }
    }};
}

service_endpoints!(values);
