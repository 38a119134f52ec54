//! What every worker shares.

use std::sync::Arc;

use super::clock::Sources;
use super::event_stream::Followers;
use super::figures::Figures;
use super::hosts::Hosts;
use super::tokens::Tokens;
use crate::studio::Studio;

/// The shared state of one server.
pub(crate) struct State {
    pub(crate) studio: Arc<Studio>,
    pub(crate) tokens: Tokens,
    pub(crate) hosts: Hosts,
    pub(crate) figures: Figures,
    /// One claim on reminders at a time.
    pub(crate) claims: tokio::sync::Mutex<()>,
    /// Those who follow events as they happen.
    pub(crate) followers: Followers,
    pub(crate) sources: Arc<dyn Sources>,
}
