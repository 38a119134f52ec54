//! Plug-ins: other programs of the studio, and the tokens they call with.
//!
//! A plug-in is the most that its tokens may do: its scopes and its limits. A
//! token holds the same scopes or fewer, and only `admin` reaches further than
//! what is written down, so only the owner's own token can give `admin`, and
//! has to say so. Nobody else can make a token of a plug-in that holds it:
//! whoever steals such a token cannot make himself a second one.
//!
//! Of a token's 256 random bits only the SHA-256 is kept ([`secret`]). They are
//! shown in the one answer that made the token; the memory of that answer
//! under its `Idempotency-Key` is kept without them, so that they lie nowhere
//! on the disk. Who loses that answer rotates or revokes the token.
//!
//! A removed plug-in loses its tokens at once. Its record stays, and with it
//! its name, so that a name in the audit trail is one program for ever.
//!
//! | space | key | value |
//! |---|---|---|
//! | `plugins` | id | the record |
//! | `plugins-by-name` | keyed hash of the name in lower case | id |
//! | `plugin-tokens` | id of the plug-in, id | the record, with the hash |
//! | `plugin-token-uses` | id of the plug-in, id | when it was used last |
//!
//! Each change of a plug-in's tokens also writes the plug-in's record anew and
//! names what it was before: a token that is made while its plug-in is removed
//! is made before or not at all.

mod activity;
mod known;
mod register;
pub mod secret;
mod stored;
mod tokens;
mod uses;

pub use activity::activity;
pub use known::{Known, KnownToken, known};
pub use register::{change, get, list, register, remove};
pub use stored::{StoredPlugin, StoredToken};
pub use tokens::{get_token, issue, list_tokens, one_token, revoke, rotate};
pub use uses::{Use, keep_uses};

pub use super::moment::OWNER;

use etui_schema::access::Scope;
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::Reference;
use uuid::Uuid;

use super::Studio;
use super::artists::mistaken;
use super::branches;
use super::engine::Snap;
use super::error::Error;
use super::moment::Moment;
use crate::store::key::KeyWriter;
use crate::store::record::{decode, encode};
use crate::store::shared::raise_tokens;
use crate::store::{Batch, Bytes, Read, Space};

/// The records.
pub const PLUGINS: Space = Space::new("plugins");
/// Ids by name.
pub const BY_NAME: Space = Space::new("plugins-by-name");
/// The tokens.
pub const TOKENS: Space = Space::new("plugin-tokens");
/// When each token was used last.
pub const USES: Space = Space::new("plugin-token-uses");

/// A plug-in that is not removed, with the bytes it was read from.
async fn load(snap: &mut Snap, id: Uuid) -> Result<(StoredPlugin, Bytes), Error> {
    let (plugin, bytes) = load_removed_too(snap, id).await?;
    if plugin.removed_at.is_some() { Err(missing(id)) } else { Ok((plugin, bytes)) }
}

async fn load_removed_too(snap: &mut Snap, id: Uuid) -> Result<(StoredPlugin, Bytes), Error> {
    let bytes = snap.get(PLUGINS, id.as_bytes()).await?.ok_or_else(|| missing(id))?;
    Ok((decode(&bytes)?, bytes))
}

fn missing(id: Uuid) -> Error {
    Error::NotFound { what: "plug-in", id: id.to_string() }
}

/// The key of a token, and of its use.
fn token_key(plugin: Uuid, token: Uuid) -> Bytes {
    KeyWriter::new().uuid(plugin).uuid(token).finish()
}

/// A batch that goes through only on the plug-in as it was read, and leaves it
/// as the next version, for the guard of every process to see.
async fn touch(snap: &mut Snap, plugin: &StoredPlugin, held: Bytes) -> Result<Batch, Error> {
    let next = StoredPlugin { version: plugin.version + 1, ..plugin.clone() };
    let key = plugin.id.as_bytes().to_vec();
    let batch =
        Batch::new().expect(PLUGINS, key.clone(), Some(held)).put(PLUGINS, key, encode(&next)?);
    Ok(raise_tokens(snap, batch).await?)
}

/// Where `admin` is in play, the owner has to act in person.
fn owner_acts(moment: &Moment, scopes: &[Scope], pointer: &str) -> Result<(), Error> {
    if !scopes.contains(&Scope::Admin) || moment.holder == OWNER {
        return Ok(());
    }
    let why =
        "a plug-in with the scope `admin` gets it, and its tokens, from the owner's own token";
    Err(Error::at(pointer, FaultCode::NotAllowed, why))
}

/// Whether a scope reaches everybody's work, so that what holds it cannot be limited to some.
#[must_use]
pub fn is_of_everybody(scope: Scope) -> bool {
    matches!(scope, Scope::Admin | Scope::ClientsErase | Scope::EventsRead)
}

/// What a plug-in or a token is limited to.
#[derive(Clone, Copy)]
struct Limits<'a> {
    artists: Option<&'a [Reference]>,
    branches: Option<&'a [Reference]>,
}

impl<'a> Limits<'a> {
    /// Each with its member.
    fn told(self) -> impl Iterator<Item = (&'static str, &'a [Reference])> {
        let all = [("artists", self.artists), ("branches", self.branches)];
        all.into_iter().filter_map(|(member, some)| Some((member, some?)))
    }
}

/// Refuses a limit that would be none.
fn limited(scopes: &[Scope], limits: Limits<'_>) -> Result<(), Error> {
    let mut faults = Vec::new();
    for (member, all) in limits.told() {
        for (at, one) in all.iter().enumerate().filter(|(at, one)| all[..*at].contains(one)) {
            let why = format!("`{one}` stands here twice");
            faults.push(Fault::new(format!("#/{member}/{at}"), FaultCode::Duplicate, why));
        }
        if let Some(scope) = scopes.iter().find(|scope| is_of_everybody(**scope)) {
            let why = format!("`{scope}` reaches everybody's work: what is limited cannot hold it");
            faults.push(Fault::new(format!("#/{member}"), FaultCode::Contradiction, why));
        }
    }
    if faults.is_empty() { Ok(()) } else { Err(Error::Refused(faults)) }
}

/// Refuses branches that are not there, and adds to a batch that the others still are. Those in
/// `held` stand there already.
async fn kept_branches(
    studio: &Studio,
    snap: &mut Snap,
    mut batch: Batch,
    some: Option<&[Reference]>,
    held: Option<&[Reference]>,
) -> Result<Batch, Error> {
    for (at, branch) in some.into_iter().flatten().enumerate() {
        if held.is_none_or(|held| !held.contains(branch)) {
            let pointer = format!("#/branches/{at}");
            if branches::named(Some(branch)).is_none() {
                let why = "what is of no branch is nobody's whom branches limit";
                return Err(Error::at(&pointer, FaultCode::NotAllowed, why));
            }
            batch = branches::expect(studio, snap, batch, (Some(branch), &pointer)).await?;
        }
    }
    Ok(batch)
}

/// Refuses artists who are nobody, beside whom somebody of nearly the same reference is kept: a
/// limit to her would open nothing. Those in `held` stand there already.
async fn not_mistaken(
    studio: &Studio,
    snap: &mut Snap,
    artists: Option<&[Reference]>,
    held: Option<&[Reference]>,
) -> Result<(), Error> {
    let mut faults = Vec::new();
    for (at, artist) in artists.into_iter().flatten().enumerate() {
        if held.is_some_and(|held| held.contains(artist)) {
            continue;
        }
        faults.extend(mistaken(studio, snap, artist, &format!("#/artists/{at}")).await?);
    }
    if faults.is_empty() { Ok(()) } else { Err(Error::Refused(faults)) }
}

/// Faults of a list of scopes: one that stands twice, one that is out of reach.
fn faults_of(scopes: &[Scope], reach: impl Fn(Scope) -> Result<(), String>) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (at, scope) in scopes.iter().enumerate() {
        let mut fault = |code, why: String| {
            faults.push(Fault::new(format!("#/scopes/{at}"), code, why));
        };
        if scopes[..at].contains(scope) {
            fault(FaultCode::Duplicate, format!("`{scope}` stands here twice"));
        } else if let Err(why) = reach(*scope) {
            fault(FaultCode::NotAllowed, why);
        }
    }
    faults
}
