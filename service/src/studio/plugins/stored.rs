//! Plug-ins and tokens as they are kept.

use etui_schema::access::Scope;
use etui_schema::plugins::{Plugin, PluginToken, TokenState};
use etui_schema::vocabulary::{Instant, Reference};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use uuid::Uuid;

use super::secret::TokenDigest;
use crate::store::record::{Record, RecordError, of_first};

/// A plug-in as stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StoredPlugin {
    /// Its id.
    pub id: Uuid,
    /// Its name.
    pub name: Reference,
    /// What it is for.
    pub description: Option<String>,
    /// The most that its tokens may do.
    pub scopes: Vec<Scope>,
    /// The artists whose work alone its tokens reach; everybody's if there are none.
    #[serde(default)]
    pub artists: Option<Vec<Reference>>,
    /// The branches whose records alone are reached; all if there are none.
    #[serde(default)]
    pub branches: Option<Vec<Reference>>,
    /// Requests a minute.
    pub requests_per_minute: Option<u32>,
    /// Requests a day.
    pub requests_per_day: Option<u32>,
    /// When it was registered.
    pub registered_at: Instant,
    /// When it was removed.
    pub removed_at: Option<Instant>,
    /// The number of the newest link of the audit trail at its registration:
    /// whatever it did stands behind it.
    pub trail_from: u64,
    /// Counts the changes, from 1.
    pub version: u64,
}

impl Record for StoredPlugin {
    const KIND: &'static str = "plugin";
    /// 2: checks, erasing and events have scopes of their own. 3: it may be limited to some
    /// artists, 4: to some branches, which a build that does not know of it must not pass over.
    const VERSION: u32 = 4;

    fn upgrade(version: u32, data: Value) -> Result<Self, RecordError> {
        former(version, data, |plugin: &mut Self| &mut plugin.scopes)
    }
}

/// A record of a former version: of the first the scopes meant more.
fn former<T: Record>(
    version: u32,
    data: Value,
    scopes: impl Fn(&mut T) -> &mut Vec<Scope>,
) -> Result<T, RecordError> {
    // Nothing but a limit came with the third and the fourth.
    let mut former: T = of_first(if matches!(version, 2 | 3) { 1 } else { version }, data)?;
    if version == 1 {
        let held = scopes(&mut former);
        *held = widened(std::mem::take(held));
    }
    Ok(former)
}

/// Scopes of former builds by today's names: what they opened stays open.
fn widened(mut scopes: Vec<Scope>) -> Vec<Scope> {
    let meant = [
        (Scope::ClientsRead, Scope::ChecksRead),
        (Scope::ClientsWrite, Scope::ChecksWrite),
        (Scope::ClientsWrite, Scope::ClientsErase),
    ];
    for (held, also) in meant {
        if scopes.contains(&held) && !scopes.contains(&also) {
            scopes.push(also);
        }
    }
    scopes
}

impl StoredPlugin {
    /// What a caller gets.
    #[must_use]
    pub fn answer(&self) -> Plugin {
        Plugin {
            id: self.id,
            name: self.name.clone(),
            description: self.description.clone(),
            scopes: self.scopes.clone(),
            artists: self.artists.clone(),
            branches: self.branches.clone(),
            requests_per_minute: self.requests_per_minute,
            requests_per_day: self.requests_per_day,
            registered_at: self.registered_at,
            removed_at: self.removed_at,
            version: self.version,
        }
    }

    /// Whether a token of this plug-in may hold a scope.
    #[must_use]
    pub fn reaches(&self, scope: Scope) -> bool {
        self.scopes.contains(&scope) || self.scopes.contains(&Scope::Admin)
    }

    /// Of the artists that a token is limited to, those whom this plug-in reaches. What loses
    /// all of them reaches nobody, and not everybody.
    #[must_use]
    pub fn within(&self, artists: Option<Vec<Reference>>) -> Option<Vec<Reference>> {
        within(self.artists.as_ref(), artists)
    }

    /// The same of branches.
    #[must_use]
    pub fn within_branches(&self, branches: Option<Vec<Reference>>) -> Option<Vec<Reference>> {
        within(self.branches.as_ref(), branches)
    }
}

/// Of what a token is limited to, what its plug-in reaches.
fn within(most: Option<&Vec<Reference>>, some: Option<Vec<Reference>>) -> Option<Vec<Reference>> {
    match (most, some) {
        (None, some) => some,
        (Some(most), None) => Some(most.clone()),
        (Some(most), Some(mut some)) => {
            some.retain(|one| most.contains(one));
            Some(some)
        }
    }
}

/// A token as stored: its hash, never its text.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StoredToken {
    /// Its id.
    pub id: Uuid,
    /// Whose it is.
    pub plugin_id: Uuid,
    /// What it is called.
    pub name: Reference,
    /// What it may do.
    pub scopes: Vec<Scope>,
    /// SHA-256 of its text.
    pub digest: TokenDigest,
    /// When it was made.
    pub created_at: Instant,
    /// How long it was given when it was made, as a moment.
    pub given_until: Option<Instant>,
    /// When it stops to open anything; a rotation brings it forward.
    pub expires_at: Option<Instant>,
    /// When it was taken back.
    pub revoked_at: Option<Instant>,
    /// The token that it took the place of.
    pub replaces: Option<Uuid>,
    /// The artist that it acts for; nobody in tokens of before there was one.
    #[serde(default)]
    pub acts_for: Option<Reference>,
    /// The artists whose work alone it reaches; everybody's if there are none.
    #[serde(default)]
    pub artists: Option<Vec<Reference>>,
    /// The branches whose records alone are reached; all if there are none.
    #[serde(default)]
    pub branches: Option<Vec<Reference>>,
}

impl Record for StoredToken {
    const KIND: &'static str = "plugin-token";
    /// As of a plug-in.
    const VERSION: u32 = 4;

    fn upgrade(version: u32, data: Value) -> Result<Self, RecordError> {
        former(version, data, |token: &mut Self| &mut token.scopes)
    }
}

impl StoredToken {
    /// The artist that it acts for and does not reach.
    #[must_use]
    pub fn beyond(&self) -> Option<&Reference> {
        let artists = self.artists.as_ref()?;
        self.acts_for.as_ref().filter(|artist| !artists.contains(artist))
    }

    /// Whether it opens anything at a moment; at the very end no more.
    #[must_use]
    pub fn state_at(&self, now: Timestamp) -> TokenState {
        if self.revoked_at.is_some() {
            TokenState::Revoked
        } else if self.expires_at.is_some_and(|end| end.0 <= now) {
            TokenState::Expired
        } else {
            TokenState::Active
        }
    }

    /// What a caller gets; the secret is not here to be had.
    #[must_use]
    pub fn answer(&self, now: Timestamp, last_used_at: Option<Timestamp>) -> PluginToken {
        PluginToken {
            id: self.id,
            plugin_id: self.plugin_id,
            name: self.name.clone(),
            scopes: self.scopes.clone(),
            acts_for: self.acts_for.clone(),
            artists: self.artists.clone(),
            branches: self.branches.clone(),
            state: self.state_at(now).into(),
            created_at: self.created_at,
            expires_at: self.expires_at,
            revoked_at: self.revoked_at,
            last_used_at: last_used_at.map(Instant),
            replaces: self.replaces,
            secret: None,
        }
    }
}

/// When a token was used last. A record of its own, so that writing it down
/// never gets in the way of a change of the token.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct StoredUse {
    pub(super) at: Instant,
}

impl Record for StoredUse {
    const KIND: &'static str = "plugin-token-use";
}

#[cfg(test)]
mod tests {
    use super::super::secret::digest_of;
    use super::*;
    use crate::store::record::decode;

    #[test]
    fn a_token_of_a_former_build_opens_what_it_opened() {
        use Scope::{
            ChecksRead, ChecksWrite, ClientsErase, ClientsRead, ClientsWrite, Compute, DrawerRead,
        };
        for (former, want) in [
            (vec![Compute, DrawerRead], vec![Compute, DrawerRead]),
            (vec![ClientsRead], vec![ClientsRead, ChecksRead]),
            (vec![ClientsWrite], vec![ClientsWrite, ChecksWrite, ClientsErase]),
            (vec![Scope::Admin], vec![Scope::Admin]),
        ] {
            let token = |version: u32| {
                let text = serde_json::json!({ "v": version, "kind": "plugin-token", "data": {
                    "id": Uuid::nil(), "plugin_id": Uuid::nil(), "name": "t", "scopes": former,
                    "digest": digest_of("t"), "created_at": "2027-03-16T08:00:00Z",
                } });
                decode::<StoredToken>(text.to_string().as_bytes()).expect("a token")
            };
            assert_eq!((token(1).scopes, token(2).scopes), (want, former.clone()));
            assert_eq!(token(2).artists, None, "whoever was limited by nothing stays so");
        }
    }
}
