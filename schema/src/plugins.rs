//! Plug-ins: other programs of the studio, each with its own tokens, scopes
//! and limits.

use crate::kinds::{sent, told};
use uuid::Uuid;

use crate::access::Scope;
use crate::open::Open;
use crate::vocabulary::{Instant, Reference, words};

words! {
    /// Whether a token opens anything.
    TokenState, "token state" {
        /// It does.
        Active = "active",
        /// Its time is over.
        Expired = "expired",
        /// It was taken back.
        Revoked = "revoked",
    }
}

/// A program that is to get tokens of its own.
#[sent(Eq, free)]
pub struct PluginRequest {
    /// Its name in logs and in the audit trail. Unique whatever the case of its
    /// letters, and never given twice, not even after a removal.
    pub name: Reference,
    /// What it is for.
    #[garde(length(chars, min = 1, max = 200))]
    pub description: Option<String>,
    /// The most that its tokens may do.
    #[garde(length(min = 1, max = 32))]
    pub scopes: Vec<Scope>,
    /// The artists whose work alone its tokens reach, by the studio's references; everybody's if
    /// absent.
    #[garde(length(min = 1, max = 100))]
    pub artists: Option<Vec<Reference>>,
    /// The branches whose records alone are reached; all if absent. Clients are the whole chain's.
    #[garde(length(min = 1, max = 100))]
    pub branches: Option<Vec<Reference>>,
    /// Has to be true if `scopes` holds `admin`; only the owner's own token can
    /// say so.
    pub allow_admin: Option<bool>,
    /// Requests a minute, over all its tokens; not limited if absent.
    #[garde(range(min = 1, max = 60_000))]
    pub requests_per_minute: Option<u32>,
    /// Requests a day of the studio's zone, over all its tokens; not limited if
    /// absent.
    #[garde(range(min = 1, max = 10_000_000))]
    pub requests_per_day: Option<u32>,
}

/// A plug-in as it is after a merge patch: what of it can be changed.
#[sent(Eq, free)]
pub struct PluginSettings {
    /// What it is for.
    #[garde(length(chars, min = 1, max = 200))]
    pub description: Option<String>,
    /// The most that its tokens may do.
    #[garde(length(min = 1, max = 32))]
    pub scopes: Vec<Scope>,
    /// The artists whose work alone its tokens reach, by the studio's references; everybody's if
    /// absent.
    #[garde(length(min = 1, max = 100))]
    pub artists: Option<Vec<Reference>>,
    /// The branches whose records alone are reached; all if absent. Clients are the whole chain's.
    #[garde(length(min = 1, max = 100))]
    pub branches: Option<Vec<Reference>>,
    /// Has to be true if `scopes` gets `admin`; only the owner's own token can say so.
    pub allow_admin: Option<bool>,
    /// Requests a minute, over all its tokens; not limited if absent.
    #[garde(range(min = 1, max = 60_000))]
    pub requests_per_minute: Option<u32>,
    /// Requests a day of the studio's zone, over all its tokens; not limited if
    /// absent.
    #[garde(range(min = 1, max = 10_000_000))]
    pub requests_per_day: Option<u32>,
}

/// A program with tokens of its own.
#[told(Eq)]
pub struct Plugin {
    /// Its id.
    pub id: Uuid,
    /// Its name in logs and in the audit trail.
    pub name: Reference,
    /// What it is for.
    pub description: Option<String>,
    /// The most that its tokens may do.
    pub scopes: Vec<Scope>,
    /// The artists whose work alone its tokens reach.
    pub artists: Option<Vec<Reference>>,
    /// The branches whose records alone its tokens reach.
    pub branches: Option<Vec<Reference>>,
    /// Requests a minute, over all its tokens; not limited if absent.
    pub requests_per_minute: Option<u32>,
    /// Requests a day of the studio's zone; not limited if absent.
    pub requests_per_day: Option<u32>,
    /// When it was registered.
    pub registered_at: Instant,
    /// When it was removed, in the answer to its removal.
    pub removed_at: Option<Instant>,
    /// Counts the changes, from 1; a token that it gets or loses is one.
    pub version: u64,
}

/// A token that a plug-in is to get.
#[sent(Eq, free)]
pub struct PluginTokenRequest {
    /// What the token is called, such as the machine it lies on.
    pub name: Reference,
    /// Fewer scopes than the plug-in has; all of them if absent.
    #[garde(length(min = 1, max = 32))]
    pub scopes: Option<Vec<Scope>>,
    /// When it stops to open anything; never if absent.
    pub expires_at: Option<Instant>,
    /// The artist that the token acts for, by the studio's reference: whoever holds
    /// it signs as her. Nobody's if absent.
    pub acts_for: Option<Reference>,
    /// The artists whose work alone it reaches, `acts_for` among them; the plug-in's if absent.
    #[garde(length(min = 1, max = 100))]
    pub artists: Option<Vec<Reference>>,
    /// The branches whose records alone are reached; all if absent. Clients are the whole chain's.
    #[garde(length(min = 1, max = 100))]
    pub branches: Option<Vec<Reference>>,
}

/// The exchange of a token for a new one.
#[sent(Default, Eq, free)]
pub struct TokenRotationRequest {
    /// Seconds for which the old token goes on to work beside the new one, 0 to
    /// 604 800 (a week); an hour if absent. It never works longer than it would
    /// have.
    #[garde(range(min = 0, max = 604_800))]
    pub overlap_seconds: Option<u32>,
    /// When the new token stops to open anything. If absent it lives as long
    /// as the old one was given when it was made.
    pub expires_at: Option<Instant>,
}

/// A token of a plug-in.
#[told(Eq)]
pub struct PluginToken {
    /// Its id, by which it is rotated and revoked.
    pub id: Uuid,
    /// Whose it is.
    pub plugin_id: Uuid,
    /// What it is called.
    pub name: Reference,
    /// What it may do.
    pub scopes: Vec<Scope>,
    /// The artist that it acts for.
    pub acts_for: Option<Reference>,
    /// The artists whose work alone it reaches; everybody's if absent, nobody's if empty.
    pub artists: Option<Vec<Reference>>,
    /// The branches whose records alone it reaches; all if absent, none if empty.
    pub branches: Option<Vec<Reference>>,
    /// Whether it opens anything.
    pub state: Open<TokenState>,
    /// When it was made.
    pub created_at: Instant,
    /// When it stops to open anything; never if absent.
    pub expires_at: Option<Instant>,
    /// When it was taken back.
    pub revoked_at: Option<Instant>,
    /// When it was used last; after a crash up to a minute may be missing.
    pub last_used_at: Option<Instant>,
    /// The token that it took the place of.
    pub replaces: Option<Uuid>,
    /// What goes behind `Bearer`. Shown once, in the first answer to its
    /// making, and kept nowhere: a repeat with the same `Idempotency-Key` is
    /// answered without it.
    pub secret: Option<String>,
}

/// One thing that a plug-in did, from the audit trail.
#[told(Eq)]
pub struct PluginAct {
    /// Its place in the audit trail of the studio.
    pub number: u64,
    /// When.
    pub at: Instant,
    /// What was done, for example `lot.receive`.
    pub what: String,
    /// The record it was done to, for example `lots/0198…`.
    pub record: String,
    /// The version that the record had then; 0 when it was gone.
    pub version: u64,
}

/// Whose token this is, and what it opens.
#[told(Eq)]
pub struct Identity {
    /// `owner`, or the name of the plug-in.
    pub holder: String,
    /// What the token may do; `admin` allows everything.
    pub scopes: Vec<Scope>,
    /// The plug-in; absent for the owner.
    pub plugin: Option<Plugin>,
    /// The token itself; absent for the owner's.
    pub token: Option<PluginToken>,
}
