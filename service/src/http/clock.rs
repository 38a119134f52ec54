//! The clock, ids and random bytes: read here, and passed on as arguments.

use std::sync::Mutex;

use jiff::Timestamp;
use sha2::{Digest, Sha256};
use uuid::Uuid;

/// Where the service gets the time, ids and random bytes from.
pub trait Sources: Send + Sync + 'static {
    /// The current moment.
    fn now(&self) -> Timestamp;
    /// Fills a buffer with unpredictable bytes.
    ///
    /// # Errors
    /// If the system has none to give.
    fn fill(&self, bytes: &mut [u8]) -> Result<(), NoEntropy>;

    /// A new id (UUID version 7) for the current moment.
    ///
    /// # Errors
    /// If the system has no random bytes to give.
    fn id(&self) -> Result<Uuid, NoEntropy> {
        let mut random = [0; 10];
        self.fill(&mut random)?;
        let millis = u64::try_from(self.now().as_millisecond()).unwrap_or(0);
        Ok(uuid::Builder::from_unix_timestamp_millis(millis, &random).into_uuid())
    }
}

/// The system has no random bytes to give.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the system has no random bytes to give")]
pub struct NoEntropy;

/// The system's own clock and randomness.
#[derive(Debug, Clone, Copy, Default)]
pub struct System;

impl Sources for System {
    #[expect(clippy::disallowed_methods, reason = "the one place that reads the clock")]
    fn now(&self) -> Timestamp {
        Timestamp::now()
    }

    #[expect(clippy::disallowed_methods, reason = "the one place that draws random bytes")]
    fn fill(&self, bytes: &mut [u8]) -> Result<(), NoEntropy> {
        getrandom::fill(bytes).map_err(|_| NoEntropy)
    }
}

/// A clock that stands still and bytes that repeat: for tests and recorded
/// examples only, never for a studio.
#[derive(Debug)]
pub struct Scripted {
    now: Mutex<Timestamp>,
    drawn: Mutex<u64>,
}

impl Scripted {
    /// Starts at a moment.
    #[must_use]
    pub fn at(now: Timestamp) -> Self {
        Self { now: Mutex::new(now), drawn: Mutex::new(0) }
    }

    /// Moves the clock.
    pub fn set(&self, now: Timestamp) {
        if let Ok(mut held) = self.now.lock() {
            *held = now;
        }
    }
}

impl Sources for Scripted {
    fn now(&self) -> Timestamp {
        self.now.lock().map_or(Timestamp::UNIX_EPOCH, |held| *held)
    }

    fn fill(&self, bytes: &mut [u8]) -> Result<(), NoEntropy> {
        let mut drawn = self.drawn.lock().map_err(|_| NoEntropy)?;
        for chunk in bytes.chunks_mut(32) {
            *drawn += 1;
            let block = Sha256::digest(drawn.to_be_bytes());
            chunk.copy_from_slice(&block[..chunk.len()]);
        }
        Ok(())
    }
}
