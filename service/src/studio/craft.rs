//! Everything of the craft: loaded once at the start, then with the studio's
//! packs on top of it.
//!
//! A [`Craft`] never changes. When a pack does, a new one is made from what is
//! built in and put in the place of the old (`http::state`); a request that is
//! under way keeps the one it began with.

use etui_craft::aftercare::{Plans, Reviews, Triage};
use etui_craft::configuration::Model;
use etui_craft::drawer;
use etui_craft::evidence::Register;
use etui_craft::hand::Hands;
use etui_craft::label::{Reader, Spellings};
use etui_craft::refusal::Refusals;
use etui_craft::rules::RuleFault;
use etui_craft::screening::faults::BookFaults;
use etui_craft::screening::rulebook::Rulebook;
use etui_craft::screening::typing::Typing;
use etui_craft::selection::Selector;
use etui_craft::sheet::Sheets;
use etui_craft::training::Training;
use etui_craft::visit::freshness::Freshness;
use etui_schema::packs::PackKind;
use etui_schema::problem::Fault;
use etui_schema::vocabulary::{Address, Reference};

/// The loaded rule data and models.
#[derive(Debug, Clone)]
pub struct Craft {
    /// The register of sources.
    pub register: Register,
    /// The reader of packets.
    pub reader: Reader,
    /// The model of a needle in skin.
    pub model: Model,
    /// The chooser of needles.
    pub selector: Selector,
    /// The maker of short views and printed pages.
    pub sheets: Sheets,
    /// What people read when something is refused.
    pub refusals: Refusals,
    /// What is said of the drawer.
    pub drawer: drawer::Sentences,
    /// The aftercare of every treatment.
    pub plans: Plans,
    /// How urgent is what a client tells.
    pub triage: Triage,
    /// What a healed result asks for.
    pub reviews: Reviews,
    /// How healed results are counted.
    pub hands: Hands,
    /// What practice comes to.
    pub training: Training,
    /// The rulebook of the screening.
    pub rulebook: Rulebook,
    /// How long a kept answer stays true.
    pub freshness: Freshness,
    /// Limits of skin typing.
    pub typing: Typing,
    /// The spellings that packs added to the reader.
    pub spellings: Vec<Spellings>,
    /// Every pack the studio keeps, applied or not.
    pub packs: Vec<PackState>,
}

/// How one pack fares.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackState {
    /// What it adds to.
    pub kind: PackKind,
    /// The studio's name for it.
    pub name: Reference,
    /// What keeps it from being applied; empty if it is sound, or not to be
    /// applied.
    pub faults: Vec<Fault>,
}

/// Why the craft's data was refused at the start.
#[derive(Debug, thiserror::Error)]
pub enum CraftError {
    /// A rule file.
    #[error("the rule data is not sound")]
    Rules(#[from] RuleFault),
    /// The rules of the screening.
    #[error("the rulebook of the screening is not sound")]
    Rulebook(#[from] BookFaults),
}

impl Craft {
    /// Loads and checks all rule data; clients are spoken to as the studio does.
    ///
    /// # Errors
    /// [`CraftError`] names the data that is not sound.
    pub fn load(address: Address) -> Result<Self, CraftError> {
        std::thread::scope(|scope| {
            // A third of the work, which needs nothing of the rest.
            let reading = scope.spawn(Reader::builtin);
            let register = Register::builtin()?;
            Ok(Self {
                model: Model::builtin()?,
                selector: Selector::builtin(&register)?,
                sheets: Sheets::builtin()?.speaking(address),
                refusals: Refusals::builtin()?,
                drawer: drawer::Sentences::builtin()?,
                plans: Plans::builtin(&register)?.speaking(address),
                triage: Triage::builtin(&register)?.speaking(address),
                reviews: Reviews::builtin(&register)?,
                hands: Hands::builtin(&register)?,
                training: Training::builtin(&register)?,
                rulebook: Rulebook::builtin(&register)?.speaking(address),
                freshness: Freshness::builtin(&register)?,
                typing: Typing::builtin(&register)?,
                reader: reading.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))?,
                register,
                spellings: Vec::new(),
                packs: Vec::new(),
            })
        })
    }

    /// How a pack fares, if it is kept.
    #[must_use]
    pub fn pack(&self, kind: PackKind, name: &Reference) -> Option<&PackState> {
        self.packs.iter().find(|state| state.kind == kind && state.name == *name)
    }
}
