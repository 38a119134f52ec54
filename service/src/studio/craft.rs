//! Everything of the craft that is loaded once, at the start.

use etui_craft::aftercare::{LoadError, Plans, Reviews, Triage};
use etui_craft::configuration::{Model, ModelError};
use etui_craft::evidence::{EvidenceError, Register};

/// The loaded rule data and models.
#[derive(Debug)]
pub struct Craft {
    /// The register of sources.
    pub register: Register,
    /// The model of a needle in skin.
    pub model: Model,
    /// The aftercare of every treatment.
    pub plans: Plans,
    /// How urgent is what a client tells.
    pub triage: Triage,
    /// What a healed result asks for.
    pub reviews: Reviews,
}

/// Why the craft's data was refused at the start.
#[derive(Debug, thiserror::Error)]
pub enum CraftError {
    /// The register of sources.
    #[error("the register of sources is not sound")]
    Evidence(#[from] EvidenceError),
    /// The model of a needle in skin.
    #[error("the rule data of configurations is not sound")]
    Model(#[from] ModelError),
    /// The rules of aftercare.
    #[error("the rules of aftercare are not sound")]
    Aftercare(#[from] LoadError),
}

impl Craft {
    /// Loads and checks all rule data.
    ///
    /// # Errors
    /// [`CraftError`] names the data that is not sound.
    pub fn load() -> Result<Self, CraftError> {
        let register = Register::builtin()?;
        Ok(Self {
            model: Model::builtin()?,
            plans: Plans::builtin(&register)?,
            triage: Triage::builtin(&register)?,
            reviews: Reviews::builtin(&register)?,
            register,
        })
    }
}
