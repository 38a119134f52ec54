//! Use cases: craft, store and the time that is passed in.
//!
//! One file a resource. Nothing here reads a clock, draws an id or names a
//! web framework or a store engine. A use case that writes gives back a
//! [`plan::Planned`] batch; `http::write` commits it.

pub mod aftercare_plans;
pub mod amendments;
pub mod appointment_checks;
pub mod artists;
pub mod batch;
pub mod branches;
pub mod calendars;
pub mod clients;
pub mod clock;
pub mod common;
pub mod configuration_drawings;
pub mod configuration_labels;
pub mod configurations;
pub mod countersignatures;
pub mod craft;
pub mod days;
pub mod documents;
pub mod dossiers;
pub mod drills;
pub mod engine;
pub mod entries;
pub mod erasures;
pub mod error;
pub mod events;
mod forgetting;
pub mod habits;
pub mod hand_profiles;
pub mod healed;
pub mod health;
pub mod history;
pub mod idempotency;
pub mod kept;
pub mod kinds;
pub mod label_readings;
pub mod lots;
pub mod machines;
pub mod merge;
pub mod moment;
pub mod needle_selections;
pub mod observations;
pub mod opener;
pub mod outbox;
pub mod outcome;
pub mod packs;
pub mod paging;
pub mod plan;
pub mod plugins;
pub mod practice;
pub mod puncture_patterns;
pub mod recalls;
pub mod redeliveries;
pub mod reminders;
pub mod restored;
pub mod retention;
pub mod reviews;
pub mod screening_questions;
pub mod sealed;
mod sealed_parts;
pub mod sent_back;
pub mod sheet_readings;
pub mod sheets;
pub mod sight;
pub mod sign_offs;
pub mod skin_assessments;
pub mod skin_typing;
pub mod standing;
pub mod subscriptions;
pub mod sweep;
pub mod symptom_reports;
pub mod treatment_aftercare;
pub mod treatments;
pub mod triage;
pub mod vault;
pub mod watch;
pub mod whose;

use std::path::PathBuf;
use std::sync::Arc;

use etui_craft::screening::country::Country;
use etui_schema::vocabulary::{Address, Language, Zone};

pub use craft::{Craft, CraftError};
pub use error::Error;

use self::branches::StoredBranch;
use self::clock::Clock;
use self::engine::Engine;
use self::watch::Watch;
use crate::config::KeepConfig;
use crate::events::target::Policy;
use crate::store::SyncPath;
use crate::store::keyring::Keyring;
use crate::store::record::HashKey;

/// One studio. A copy shares everything but the craft it computes with.
#[derive(Clone)]
pub struct Studio {
    /// The trade, computed: what is built in, with the studio's packs.
    pub craft: Arc<Craft>,
    /// The trade as it is built in.
    pub builtin: Arc<Craft>,
    /// The memory.
    pub engine: Engine,
    /// The data folder: keys, tokens, what a restore left to be done.
    pub folder: PathBuf,
    /// Whether the clock can be believed.
    pub clock: Arc<Clock>,
    /// The studio's time zone: "today" is its local date.
    pub zone: Zone,
    /// The country it works in; `None` if it was not told.
    pub country: Option<Country>,
    /// The branch that it stands at.
    pub here: Option<Arc<StoredBranch>>,
    /// What it speaks to whoever told no language.
    pub language: Language,
    /// How its German texts speak to clients.
    pub german: Address,
    /// The `source` of its events.
    pub event_source: Arc<str>,
    /// The keys that open what is sealed.
    pub keyring: Arc<Keyring>,
    /// Secret behind the hashes that stand for references in keys.
    pub index_key: HashKey,
    /// Secret behind page cursors.
    pub cursor_key: HashKey,
    /// Where its backups lie.
    pub backups: PathBuf,
    /// What becomes of its backups.
    pub watch: Watch,
    /// How long records are kept.
    pub keep: KeepConfig,
    /// Whether a flush of the engine reaches the disk.
    pub sync_path: SyncPath,
    /// Which addresses events may be delivered to.
    pub targets: Policy,
}

impl Studio {
    /// The same studio over another handle on its memory.
    #[must_use]
    pub fn on(&self, engine: Engine) -> Self {
        Self { engine, ..self.clone() }
    }

    /// The same studio, computing with another craft.
    #[must_use]
    pub fn with_craft(&self, craft: Craft) -> Self {
        Self { craft: Arc::new(craft), ..self.clone() }
    }
}
