//! What is known of the backups, for `/health/ready`.

use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

use jiff::{SignedDuration, Timestamp};

use crate::config::BackupConfig;
use crate::store::backup::{self, Retention};

/// Where backups lie, and what became of the last one.
#[derive(Debug, Clone)]
pub struct Watch {
    /// Where they lie.
    pub folder: PathBuf,
    /// How often they are made, and which are kept.
    pub config: BackupConfig,
    failed: Arc<Mutex<Option<String>>>,
}

/// What is known of the backups.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum State {
    /// None are made.
    Off,
    /// So many are there, the newest from then.
    Kept {
        /// How many.
        count: usize,
        /// When the newest was made.
        newest: Timestamp,
    },
    /// None was made yet.
    None,
    /// The last one could not be made, or the folder cannot be read.
    Failed(String),
}

impl Watch {
    /// Watches a folder.
    #[must_use]
    pub fn new(folder: PathBuf, config: BackupConfig) -> Self {
        Self { folder, config, failed: Arc::default() }
    }

    /// What is known of the backups. One that is dated in the future counts as one that is there,
    /// and never as the newest.
    #[must_use]
    pub fn state(&self, now: Timestamp) -> State {
        if self.config.every.is_zero() {
            return State::Off;
        }
        if let Some(why) = self.failed.lock().unwrap_or_else(PoisonError::into_inner).clone() {
            return State::Failed(why);
        }
        match backup::list(&self.folder) {
            Err(error) => State::Failed(error.to_string()),
            Ok(all) => match backup::newest(&all, now) {
                Some(newest) => State::Kept { count: all.len(), newest },
                None => State::None,
            },
        }
    }

    /// Notes what became of the last one: why it failed, if it did.
    pub fn note(&self, failed: Option<String>) {
        *self.failed.lock().unwrap_or_else(PoisonError::into_inner) = failed;
    }

    /// Which of them are kept.
    #[must_use]
    pub fn retention(&self) -> Retention {
        Retention {
            keep_last: usize::from(self.config.keep),
            keep_for: SignedDuration::from_hours(24 * i64::from(self.config.keep_days)),
        }
    }
}
