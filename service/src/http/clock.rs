//! The clock, ids and random bytes: read here, and passed on as arguments.

use std::sync::{LazyLock, Mutex};
use std::time::{Duration, Instant};

use jiff::Timestamp;
use sha2::{Digest, Sha256};

pub use crate::studio::moment::{NoEntropy, Sources};

/// The system's own clock and randomness.
#[derive(Debug, Clone, Copy, Default)]
pub struct System;

impl Sources for System {
    #[expect(clippy::disallowed_methods, reason = "the one place that reads the clock")]
    fn now(&self) -> Timestamp {
        let now = Timestamp::now();
        // To the millisecond, as keys have it and as other programs can hold it.
        Timestamp::from_millisecond(now.as_millisecond()).unwrap_or(now)
    }

    fn steady(&self) -> Duration {
        static BEGAN: LazyLock<Instant> = LazyLock::new(Instant::now);
        BEGAN.elapsed()
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
    passed: Mutex<Duration>,
    drawn: Mutex<u64>,
}

impl Scripted {
    /// Starts at a moment.
    #[must_use]
    pub fn at(now: Timestamp) -> Self {
        Self { now: Mutex::new(now), passed: Mutex::default(), drawn: Mutex::new(0) }
    }

    /// Lets time pass until a moment; the clock goes back if that is before.
    pub fn set(&self, now: Timestamp) {
        let before = self.leap(now);
        let passed = Duration::try_from(now.duration_since(before)).unwrap_or_default();
        if let Ok(mut held) = self.passed.lock() {
            *held += passed;
        }
    }

    /// Sets the clock without any time passing; what it said before.
    pub fn leap(&self, now: Timestamp) -> Timestamp {
        self.now.lock().map_or(now, |mut held| std::mem::replace(&mut *held, now))
    }
}

impl Sources for Scripted {
    fn now(&self) -> Timestamp {
        self.now.lock().map_or(Timestamp::UNIX_EPOCH, |held| *held)
    }

    fn steady(&self) -> Duration {
        self.passed.lock().map_or(Duration::ZERO, |held| *held)
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
