//! Everything of the craft that is loaded once, at the start.

use etui_craft::evidence::{EvidenceError, Register};

/// The loaded rule data and models.
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
