//! Use cases: craft, store and the time that is passed in.
//!
//! One file a resource. Nothing here reads a clock, draws an id or names a
//! web framework or a store engine.

use etui_craft::evidence::{EvidenceError, Register};
use etui_schema::problem::Fault;
use etui_schema::service::{Health, HealthStatus};
use etui_schema::vocabulary::Zone;

/// Why a use case refused.
#[derive(Debug)]
pub enum Error {
    /// There is no such record.
    NotFound {
        /// What was looked for.
        what: &'static str,
        /// Under which id or reference.
        id: String,
    },
    /// Values were refused, each with its place.
    Refused(Vec<Fault>),
}

/// Everything of the craft that is loaded once.
#[derive(Debug)]
pub struct Craft {
    /// The register of sources.
    pub register: Register,
}

/// Why the craft's data was refused at the start.
#[derive(Debug, thiserror::Error)]
pub enum CraftError {
    /// The register of sources.
    #[error("the register of sources is not sound")]
    Evidence(#[from] EvidenceError),
}

impl Craft {
    /// Loads and checks all rule data.
    ///
    /// # Errors
    /// [`CraftError`] names the data that is not sound.
    pub fn load() -> Result<Self, CraftError> {
        Ok(Self { register: Register::builtin()? })
    }
}

/// One studio.
#[derive(Debug)]
pub struct Studio {
    /// The trade, computed.
    pub craft: Craft,
    /// The studio's time zone.
    pub zone: Zone,
}

impl Studio {
    /// The state of every component.
    pub async fn health(&self) -> Health {
        Health {
            status: HealthStatus::Pass,
            version: env!("CARGO_PKG_VERSION").to_owned(),
            checks: Vec::new(),
        }
    }
}
