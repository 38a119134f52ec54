//! What every worker shares, and what one request sees of it.
//!
//! # What others changed
//!
//! Tokens and packs are held in memory. Where several processes may serve one store,
//! the store is asked before each request that carries a token whether they moved
//! ([`State::keep_up`]), and what did is read anew before the guard looks and before a
//! craft is chosen. A store that cannot be asked is a 503: what was known before may
//! have been revoked.

use std::ops::Deref;
use std::sync::{Arc, PoisonError, RwLock};

use actix_web::web;

use super::clock::Sources;
use super::compute::Computing;
use super::event_stream::Followers;
use super::figures::Figures;
use super::hosts::Hosts;
use super::tokens::Tokens;
use super::write::Turns;
use crate::store::shared::{self, Looked};
use crate::store::{Bytes, Serve, Store, StoreError};
use crate::studio::error::Error;
use crate::studio::packs;
use crate::studio::reminders::Taking;
use crate::studio::{Craft, Studio};

/// The shared state of one server.
pub(crate) struct State {
    current: RwLock<Arc<Studio>>,
    pub(crate) tokens: Tokens,
    pub(crate) hosts: Hosts,
    pub(crate) figures: Figures,
    /// What claims on reminders are about to take.
    pub(crate) claims: Taking,
    /// One wrong secret of a calendar at a time.
    pub(crate) guesses: tokio::sync::Mutex<()>,
    /// One change of a pack at a time.
    pub(crate) packs: tokio::sync::Mutex<()>,
    /// How far it is with what other processes change.
    pub(crate) followed: Followed,
    /// Turns of writers who met.
    pub(crate) turns: Turns,
    /// Places for long computing.
    pub(crate) computing: Computing,
    /// Those who follow events as they happen.
    pub(crate) followers: Followers,
    pub(crate) sources: Arc<dyn Sources>,
}

/// How far this process has followed.
#[derive(Debug, Default)]
pub(crate) struct Followed {
    known: RwLock<Option<Looked>>,
    /// The settings that it was started with.
    settings: Option<Bytes>,
}

impl Followed {
    pub(crate) fn new(settings: Option<Bytes>) -> Self {
        Self { known: RwLock::default(), settings }
    }

    fn known(&self) -> Option<Looked> {
        self.known.read().unwrap_or_else(PoisonError::into_inner).clone()
    }

    fn is(&self, found: &Looked) -> bool {
        self.known.read().unwrap_or_else(PoisonError::into_inner).as_ref() == Some(found)
    }
}

impl State {
    pub(crate) fn new(
        studio: Studio,
        (tokens, followed): (Tokens, Followed),
        hosts: Hosts,
        followers: Followers,
        sources: Arc<dyn Sources>,
    ) -> Self {
        let figures = Figures::new(|registry| studio.engine.register(registry));
        Self {
            current: RwLock::new(Arc::new(studio)),
            tokens,
            hosts,
            figures,
            claims: Taking::default(),
            guesses: tokio::sync::Mutex::default(),
            packs: tokio::sync::Mutex::default(),
            followed,
            turns: Turns::default(),
            computing: Computing::default(),
            followers,
            sources,
        }
    }

    /// The studio as it computes now. Whoever asks twice may get two crafts;
    /// a request asks once ([`Seen`]).
    pub(crate) fn studio(&self) -> Arc<Studio> {
        // Nothing panics while it holds the lock: it only swaps a pointer.
        self.current.read().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Lets every request from now on compute with this craft. Those under way
    /// end with the one they began with.
    pub(crate) fn adopt(&self, craft: Craft) {
        let next = Arc::new(self.studio().with_craft(craft));
        *self.current.write().unwrap_or_else(PoisonError::into_inner) = next;
    }
}

/// The shared state as one request sees it: with one studio from its beginning
/// to its end, whatever is adopted meanwhile.
pub(crate) struct Seen {
    shared: web::Data<State>,
    pub(crate) studio: Arc<Studio>,
}

impl Seen {
    pub(crate) fn of(shared: web::Data<State>) -> Self {
        Self { studio: shared.studio(), shared }
    }

    /// The state itself, for what goes on after the request.
    pub(crate) fn shared(&self) -> web::Data<State> {
        self.shared.clone()
    }
}

impl Deref for Seen {
    type Target = State;

    fn deref(&self) -> &State {
        &self.shared
    }
}

impl State {
    /// Reads anew what others have changed.
    ///
    /// # Errors
    /// What the store met; another process was started with other settings.
    pub(crate) async fn keep_up(&self) -> Result<(), Error> {
        match self.studio().engine.look().await? {
            Some(found) if !self.followed.is(&found) => self.follow().await,
            Some(_) | None => Ok(()),
        }
    }

    async fn follow(&self) -> Result<(), Error> {
        // One at a time, and none while a pack is changed here: an older craft must not follow a
        // newer one.
        let _one = self.packs.lock().await;
        let studio = self.studio();
        let mut snap = studio.engine.snapshot().await?;
        let found = shared::looked(&mut snap).await?;
        if self.followed.is(&found) {
            return Ok(());
        }
        let before = self.followed.known().unwrap_or_default();
        let ([packs, tokens, settings], [old_packs, old_tokens, _]) = (&found, &before);
        if *settings != self.followed.settings {
            let why = "this studio is served with other settings now; start this process anew";
            tracing::error!(why, "store.overtaken");
            // It gives up what it does for all, too, and its health says so.
            let _ = studio.engine.close().await;
            return Err(StoreError::Unavailable(why.into()).into());
        }
        if packs != old_packs {
            let kept = packs::load_all(&mut snap).await?;
            self.adopt(packs::with_packs(&studio.builtin, &kept));
        }
        drop(snap);
        if tokens != old_tokens {
            self.tokens.load(&studio).await?;
        }
        *self.followed.known.write().unwrap_or_else(PoisonError::into_inner) = Some(found);
        Ok(())
    }
}
