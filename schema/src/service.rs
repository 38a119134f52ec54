//! What the service says about itself: health, capabilities, sources, schemas.

use crate::kinds::{sent, told};
use std::sync::Arc;

use crate::open::Open;
use crate::vocabulary::{CivilDate, EvidenceKind, Instant, words};

/// Health of the process (in the manner of the health check draft:
/// `pass`, `warn`, `fail`).
#[told(Eq)]
pub struct Health {
    /// `pass`, `warn` or `fail`.
    pub status: Open<HealthStatus>,
    /// Version of the service.
    pub version: String,
    /// What was looked at, one line a component.
    pub checks: Vec<HealthCheck>,
}

/// One component's state.
#[told(Eq)]
pub struct HealthCheck {
    /// Name of the component.
    pub component: String,
    /// Its state.
    pub status: Open<HealthStatus>,
    /// In words; what to do if it is not `pass`.
    pub output: String,
}

words! {
    /// A state of health.
    HealthStatus, "state of health" {
        /// Fine.
        Pass = "pass",
        /// Works, but somebody should look.
        Warn = "warn",
        /// Does not work.
        Fail = "fail",
    }
}

/// The service's clock, and whether it is believed.
#[told(Eq)]
pub struct Clock {
    /// What it says.
    pub now: Instant,
    /// The date in the studio's zone by which packs are judged.
    pub today: CivilDate,
    /// Why it is not believed; absent if it is.
    pub doubt: Option<ClockDoubt>,
}

/// Why the clock is not believed. Meanwhile what cannot be undone is held.
#[told(Eq)]
pub struct ClockDoubt {
    /// What it did.
    pub kind: Open<ClockDoubtKind>,
    /// What it should say.
    pub believed: Instant,
    /// When it will be believed if it does not leap again, by its own time.
    pub until: Instant,
}

words! {
    /// What a clock did that is not believed.
    ClockDoubtKind, "doubt" {
        /// It has leapt ahead by more than a week.
        Ahead = "ahead",
        /// It stands more than a quarter of an hour behind what is on record.
        Behind = "behind",
    }
}

/// Says that the clock is right.
#[sent(Copy, Eq, free)]
pub struct ClockConfirmation {
    /// What time it is, to ten minutes: whoever confirms has looked.
    pub now: Instant,
}

/// One source of the register.
#[told(Eq)]
pub struct Source {
    /// Id that `basis[]` and findings point to.
    pub id: String,
    /// The citation.
    pub citation: String,
    /// What kind of thing it is.
    pub kind: EvidenceKind,
    /// How much of it was read: `whole`, `page`, `abstract`, `data`,
    /// `second_hand`, `title`, `none`.
    pub read: String,
}

/// The register of sources.
#[told(Eq)]
pub struct Sources {
    /// In the order of their ids.
    pub items: Vec<Source>,
}

/// Where one value of an answer came from.
#[told(Eq, PartialOrd, Ord)]
pub struct Basis {
    /// What the value is, in a few words.
    pub about: Arc<str>,
    /// Id in `GET /v1/sources`.
    pub source: Arc<str>,
    /// The kind of that source.
    pub kind: EvidenceKind,
}

/// What this service can do.
#[told(Eq)]
pub struct Capabilities {
    /// Version of the service.
    pub version: String,
    /// Every operation, by id.
    pub operations: Vec<CapableOperation>,
    /// Languages of the texts.
    pub languages: Vec<String>,
    /// The studio's language: of messages to a client whose own is not told.
    #[serde(default)]
    pub language: String,
    /// How German texts speak to clients: `sie` or `du`.
    #[serde(default)]
    pub german: String,
    /// Time zone of the studio: "today" is its local date.
    pub zone: String,
    /// Media types of pictures.
    pub pictures: Vec<String>,
    /// Every scope that a token can have.
    #[serde(default)]
    pub scopes: Vec<String>,
    /// What is accepted at most.
    #[serde(default)]
    pub limits: Limits,
}

/// What is accepted at most.
#[told(Copy, Default, Eq)]
pub struct Limits {
    /// Bytes of a request body, unless the operation has a limit of its own.
    pub body_bytes: u64,
    /// Rows of one page of a list.
    pub page_rows: u16,
    /// Hours for which an `Idempotency-Key` is remembered.
    pub idempotency_hours: u64,
}

/// One operation, for discovery.
#[told(Eq)]
pub struct CapableOperation {
    /// Operation id, the same as in the OpenAPI document.
    pub id: String,
    /// HTTP method.
    pub method: String,
    /// Path template.
    pub path: String,
    /// Scope that a token needs; absent if any token will do, or none.
    pub scope: Option<String>,
    /// Whether a token is needed at all.
    pub needs_token: bool,
    /// Media types that it answers in; the first is the usual one.
    #[serde(default)]
    pub media_types: Vec<String>,
    /// Largest request body in bytes; absent if it takes none.
    pub body_bytes: Option<u64>,
}

/// The catalogue of a host's interfaces (RFC 9727), a linkset (RFC 9264).
#[told(Eq)]
pub struct ApiCatalog {
    /// One entry an interface.
    pub linkset: Vec<CatalogContext>,
}

/// One interface of the catalogue, and where to read about it.
#[told(Eq)]
#[serde(rename_all = "kebab-case")]
pub struct CatalogContext {
    /// The path below which the interface stands.
    pub anchor: String,
    /// The OpenAPI document (RFC 8631).
    pub service_desc: Vec<CatalogTarget>,
    /// The pages for people (RFC 8631).
    pub service_doc: Vec<CatalogTarget>,
    /// What this service can do (RFC 8631).
    pub service_meta: Vec<CatalogTarget>,
    /// Its health (RFC 8631).
    pub status: Vec<CatalogTarget>,
    /// The JSON Schemas.
    pub describedby: Vec<CatalogTarget>,
    /// The error codes.
    pub help: Vec<CatalogTarget>,
}

/// Where a link leads.
#[told(Eq)]
pub struct CatalogTarget {
    /// The path.
    pub href: String,
    /// The media type that is found there.
    #[serde(rename = "type")]
    pub media: String,
}

/// The names of the published JSON Schemas.
#[told(Eq)]
pub struct SchemaNames {
    /// Each is served at `/v1/schemas/{name}`.
    pub names: Vec<String>,
}

/// One error code, explained.
#[told(Eq)]
pub struct ProblemKind {
    /// The code.
    pub code: Open<crate::problem::ErrorCode>,
    /// The status it comes with.
    pub status: u16,
    /// Its title.
    pub title: String,
    /// What to do about it.
    pub advice: String,
}

/// The closed list of error codes.
#[told(Eq)]
pub struct ProblemKinds {
    /// In the order of their statuses.
    pub items: Vec<ProblemKind>,
}
