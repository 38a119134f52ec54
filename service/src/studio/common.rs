//! What all processes that serve one studio must have in common, where several may:
//! the settings that decide what is answered, and the owner's token.
//!
//! The first process of a studio says what they are; one that comes to others and
//! was started with something else is refused, with both said. So they are changed
//! by stopping all of them. A build of another version is such a setting too: it may
//! store what the others cannot read.
//!
//! Of the owner's token the store has the SHA-256, and no process needs the file in
//! which the first one laid it. It is drawn anew by a start with
//! `--new-owner-token`; the others know at their next request.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::engine::Engine;
use super::error::Error;
use super::plugins::secret::TokenDigest;
use crate::config::Config;
use crate::store::record::{Record, decode, encode};
use crate::store::shared::{OWNER, SETTINGS, SHARED, raise_tokens};
use crate::store::{Batch, Bytes, Read, Serve, Store, StoreError};

/// How often a row is written anew because another process changed it.
const MOST_TRIES: usize = 20;

/// Another process serves this studio with other settings.
#[derive(Debug, PartialEq, Eq, thiserror::Error)]
pub enum Differs {
    /// Which, with what the others have and what this one was given.
    #[error(
        "this studio is served by another process with other settings ({0}); start this one with the \
         same, or stop all of them and start with the new ones"
    )]
    Settings(String),
    /// They could not be compared.
    #[error("the settings of the other processes cannot be read: {0}")]
    Unread(String),
}

/// The settings that decide what is answered, by the name of their flag.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
struct Settings(BTreeMap<String, String>);

impl Record for Settings {
    const KIND: &'static str = "settings";
}

impl Settings {
    fn of(config: &Config, studio_key: &str) -> Self {
        let or_none = |told: Option<String>| told.unwrap_or_else(|| "none".to_owned());
        let keep = &config.keep;
        let all = [
            ("version", env!("CARGO_PKG_VERSION").to_owned()),
            // A name from which it cannot be told: one that slept while it was changed has to notice.
            ("the studio's key", studio_key.to_owned()),
            ("--zone", config.zone.name().to_owned()),
            ("--country", or_none(config.country.map(|country| country.to_string()))),
            ("--language", config.language.to_string()),
            ("--german", config.german.to_string()),
            ("--event-source", or_none(config.event_source.clone())),
            ("--keep-traces", keep.traces.to_string()),
            ("--keep-health", keep.health.to_string()),
            ("--keep-checks", keep.checks.to_string()),
            ("--keep-reminders", keep.reminders.to_string()),
        ];
        Self(all.map(|(name, value)| (name.to_owned(), value)).into())
    }

    /// What is not the same in another's, in words.
    fn against(&self, others: &Self) -> String {
        let none = || "nothing".to_owned();
        let of = |all: &Self, name: &str| all.0.get(name).cloned().unwrap_or_else(none);
        let names = self.0.keys().filter(|name| self.0.get(*name) != others.0.get(*name));
        let told = names.map(|name| {
            format!("{name} is {} there and {} here", of(others, name), of(self, name))
        });
        told.collect::<Vec<_>>().join(", ")
    }
}

/// The row that says what this process was started with.
///
/// # Errors
/// [`Error::Internal`].
pub fn row(config: &Config, studio_key: &str) -> Result<Bytes, Error> {
    Ok(encode(&Settings::of(config, studio_key))?)
}

/// Says what this process was started with, if it is the first, or compares.
///
/// # Errors
/// [`Differs`].
pub async fn agree(engine: &Engine, config: &Config, studio_key: &str) -> Result<(), Differs> {
    let unread = |error: Error| Differs::Unread(format!("{error:?}"));
    let ours = row(config, studio_key).map_err(unread)?;
    let (space, key) = SETTINGS;
    for _ in 0..MOST_TRIES {
        let read = async { engine.snapshot().await?.get(space, key).await };
        let held = read.await.map_err(|error| unread(error.into()))?;
        if held.as_ref() == Some(&ours) {
            return Ok(());
        }
        if let Some(held) = held.as_deref().filter(|_| !engine.is_alone()) {
            let theirs: Settings = decode(held).map_err(|error| unread(error.into()))?;
            return Err(Differs::Settings(Settings::of(config, studio_key).against(&theirs)));
        }
        let batch = Batch::new().expect(space, key, held).put(space, key, ours.clone());
        match engine.commit(batch).await {
            Ok(()) => return Ok(()),
            Err(StoreError::Conflict { .. }) => {}
            Err(error) => return Err(unread(error.into())),
        }
    }
    Err(Differs::Unread("they keep changing".to_owned()))
}

/// The digest of the owner's token, if a process has said which it is.
///
/// # Errors
/// What the store met.
pub async fn owner<R: Read>(snap: &mut R) -> Result<Option<TokenDigest>, Error> {
    let held = snap.get(SHARED, OWNER).await?;
    let broken = |_| Error::Unreadable("the owner's token in the database".to_owned());
    held.map(|bytes| bytes.try_into().map_err(broken)).transpose()
}

/// Makes a token the owner's, for every process.
///
/// # Errors
/// What the store met.
pub async fn set_owner(engine: &Engine, digest: TokenDigest) -> Result<TokenDigest, Error> {
    for _ in 0..MOST_TRIES {
        let mut snap = engine.snapshot().await?;
        let held = snap.get(SHARED, OWNER).await?;
        let batch = Batch::new().expect(SHARED, OWNER, held).put(SHARED, OWNER, digest);
        let batch = raise_tokens(&mut snap, batch).await?;
        drop(snap);
        match engine.commit(batch).await {
            Ok(()) => return Ok(digest),
            Err(StoreError::Conflict { .. }) => {}
            Err(error) => return Err(error.into()),
        }
    }
    Err(StoreError::Unavailable("others keep changing tokens".into()).into())
}
