//! What the guard of the interface has to know of plug-ins: who holds which
//! token, for what, until when.

use etui_schema::access::Scope;
use etui_schema::vocabulary::Reference;
use jiff::Timestamp;
use uuid::Uuid;

use super::secret::TokenDigest;
use super::{PLUGINS, StoredPlugin, tokens};
use crate::store::key::after;
use crate::store::record::decode;
use crate::store::rows::Rows;
use crate::studio::engine::Snap;
use crate::studio::error::Error;

/// A plug-in that is not removed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Known {
    /// Its id.
    pub id: Uuid,
    /// Its name.
    pub name: String,
    /// Requests a minute.
    pub per_minute: Option<u32>,
    /// Requests a day.
    pub per_day: Option<u32>,
    /// Its tokens that are not revoked.
    pub tokens: Vec<KnownToken>,
}

/// A token that is not revoked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KnownToken {
    /// Its id.
    pub id: Uuid,
    /// SHA-256 of its text.
    pub digest: TokenDigest,
    /// What it may do: never more than its plug-in.
    pub scopes: Vec<Scope>,
    /// When it stops to open anything.
    pub expires_at: Option<Timestamp>,
    /// The artist that it acts for.
    pub acts_for: Option<Reference>,
    /// The artists whose work alone it reaches.
    pub artists: Option<Vec<Reference>>,
    /// The branches whose records alone it reaches.
    pub branches: Option<Vec<Reference>>,
}

/// Every plug-in that is not removed, or the one of an id.
///
/// # Errors
/// What the store met.
pub async fn known(snap: &mut Snap, only: Option<Uuid>) -> Result<Vec<Known>, Error> {
    let mut rows = match only {
        Some(id) => Rows::of(PLUGINS, id.as_bytes().to_vec()..after(id.as_bytes())),
        None => Rows::all(PLUGINS),
    };
    let mut all = Vec::new();
    while let Some((_, bytes)) = rows.next(snap).await? {
        let plugin: StoredPlugin = decode(&bytes)?;
        if plugin.removed_at.is_none() {
            all.push(one(snap, plugin).await?);
        }
    }
    Ok(all)
}

async fn one(snap: &mut Snap, plugin: StoredPlugin) -> Result<Known, Error> {
    let mut held = Vec::new();
    for (_, token) in tokens::of(snap, plugin.id).await? {
        if token.revoked_at.is_some() {
            continue;
        }
        held.push(KnownToken {
            id: token.id,
            digest: token.digest,
            scopes: token.scopes.into_iter().filter(|scope| plugin.reaches(*scope)).collect(),
            expires_at: token.expires_at.map(|end| end.0),
            acts_for: token.acts_for,
            artists: token.artists,
            branches: token.branches,
        });
    }
    Ok(Known {
        id: plugin.id,
        name: plugin.name.to_string(),
        per_minute: plugin.requests_per_minute,
        per_day: plugin.requests_per_day,
        tokens: held,
    })
}
