//! What every worker shares, and what one request sees of it.

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
use crate::studio::{Craft, Studio};

/// The shared state of one server.
pub(crate) struct State {
    current: RwLock<Arc<Studio>>,
    pub(crate) tokens: Tokens,
    pub(crate) hosts: Hosts,
    pub(crate) figures: Figures,
    /// One claim on reminders at a time.
    pub(crate) claims: tokio::sync::Mutex<()>,
    /// One wrong secret of a calendar at a time.
    pub(crate) guesses: tokio::sync::Mutex<()>,
    /// One change of a pack at a time.
    pub(crate) packs: tokio::sync::Mutex<()>,
    /// Turns of writers who met.
    pub(crate) turns: Turns,
    /// Places for long computing.
    pub(crate) computing: Computing,
    /// Those who follow events as they happen.
    pub(crate) followers: Followers,
    pub(crate) sources: Arc<dyn Sources>,
}

impl State {
    pub(crate) fn new(
        studio: Studio,
        tokens: Tokens,
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
            claims: tokio::sync::Mutex::default(),
            guesses: tokio::sync::Mutex::default(),
            packs: tokio::sync::Mutex::default(),
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
