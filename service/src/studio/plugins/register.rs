//! Registering, reading, changing and removing plug-ins.

use etui_schema::access::Scope;
use etui_schema::endpoints;
use etui_schema::page::{Page, PageQuery};
use etui_schema::plugins::{Plugin, PluginRequest, PluginSettings, TokenState};
use etui_schema::problem::FaultCode;
use etui_schema::vocabulary::{Instant, Reference};
use jiff::Timestamp;
use serde_json::Value;
use uuid::Uuid;

use super::{BY_NAME, OWNER, PLUGINS, StoredPlugin, StoredToken, TOKENS, USES};
use super::{Limits, faults_of, kept_branches, limited, load, not_mistaken, owner_acts, tokens};
use crate::store::audit::{AUDIT_HEAD, HEAD_KEY, Head};
use crate::store::record::{HashKey, decode, encode};
use crate::store::shared::raise_tokens;
use crate::store::verify::{IndexEntries, Indexed};
use crate::store::{Batch, Bytes, Read, Space};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::merge::{read_merged, told_anew};
use crate::studio::moment::Moment;
use crate::studio::opener::{Opener, Verified};
use crate::studio::paging::{Walk, broken};
use crate::studio::plan::{Planned, Precondition, to_json};

/// Names that stand for somebody else in logs and in the audit trail.
const RESERVED: &[&str] = &[OWNER, "anyone", "none", "etui", "service", "system"];

impl Verified for StoredPlugin {
    const SPACE: Space = PLUGINS;
    const INDEXES: &'static [Indexed] = &[Indexed::Whole(BY_NAME)];

    /// A removed one keeps its name.
    fn rows(&self, _: &[u8], opener: &Opener<'_>) -> Result<IndexEntries, String> {
        Ok(vec![(BY_NAME, name_key(&opener.keyring.index_key(), &self.name))])
    }
}

fn name_key(index_key: &HashKey, name: &Reference) -> Bytes {
    index_key.reference("plugin", &name.as_str().to_ascii_lowercase()).to_vec()
}

/// Plans to register a plug-in. It can do nothing before it gets a token.
///
/// # Errors
/// [`Error::Refused`] for a reserved name, a scope that stands twice, or
/// `admin` without the owner's word; [`Error::Conflict`] if the name is taken.
pub async fn register(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    request: &PluginRequest,
) -> Result<Planned, Error> {
    check(moment, request)?;
    not_mistaken(studio, snap, request.artists.as_deref(), None).await?;
    let (new, some) = (Batch::new(), request.branches.as_deref());
    let batch = kept_branches(studio, snap, new, some, None).await?;
    let PluginRequest {
        name,
        description,
        scopes,
        artists,
        branches,
        allow_admin: _,
        requests_per_minute,
        requests_per_day,
    } = request.clone();
    let by_name = name_key(&studio.index_key, &name);
    if snap.get(BY_NAME, &by_name).await?.is_some() {
        let why = format!("a plug-in has or had the name `{name}`; a name is never given twice");
        return Err(Error::conflict(why));
    }
    let id = moment.id()?;
    let plugin = StoredPlugin {
        id,
        name,
        description,
        scopes,
        artists,
        branches,
        requests_per_minute,
        requests_per_day,
        registered_at: Instant(moment.now),
        removed_at: None,
        trail_from: newest_link(snap).await?,
        version: 1,
    };
    Ok(Planned::made(
        &plugin.answer(),
        batch
            .expect(BY_NAME, by_name.clone(), None)
            .put(BY_NAME, by_name, id.as_bytes().to_vec())
            .put(PLUGINS, id.as_bytes().to_vec(), encode(&plugin)?)
            .audit(moment.entry("plugin.register", &format!("plugins/{id}"), 1)),
    )?
    .at(endpoints::get_plugin().at.filled(&[&id])))
}

fn check(moment: &Moment, request: &PluginRequest) -> Result<(), Error> {
    let name = request.name.as_str();
    if RESERVED.iter().any(|reserved| name.eq_ignore_ascii_case(reserved)) {
        let why = format!("`{name}` stands for somebody else in the audit trail");
        return Err(Error::at("#/name", FaultCode::NotAllowed, why));
    }
    check_scopes(moment, &request.scopes, request.allow_admin == Some(true))?;
    let PluginRequest { artists, branches, .. } = request;
    let limits = Limits { artists: artists.as_deref(), branches: branches.as_deref() };
    limited(&request.scopes, limits)
}

fn check_scopes(moment: &Moment, scopes: &[Scope], said: bool) -> Result<(), Error> {
    let faults = faults_of(scopes, |scope| {
        if scope == Scope::Admin && !said {
            return Err(
                "`admin` allows everything; it is given only with `allow_admin`: true".to_owned()
            );
        }
        Ok(())
    });
    if !faults.is_empty() {
        return Err(Error::Refused(faults));
    }
    owner_acts(moment, scopes, "#/allow_admin")
}

/// Refuses to narrow a plug-in so that a token would act for somebody whom it does not reach.
fn still_hers(token: &StoredToken, now: Timestamp) -> Result<(), Error> {
    let opens = token.state_at(now) == TokenState::Active;
    let Some(artist) = token.beyond().filter(|_| opens) else { return Ok(()) };
    let why = format!("its token `{}` acts for `{artist}`; take that back first", token.name);
    Err(Error::at("#/artists", FaultCode::NotAllowed, why))
}

/// The number of the newest link of the audit trail.
async fn newest_link(snap: &mut Snap) -> Result<u64, Error> {
    match snap.get(AUDIT_HEAD, HEAD_KEY).await? {
        None => Ok(0),
        Some(bytes) => serde_json::from_slice::<Head>(&bytes)
            .map(|head| head.number)
            .map_err(|_| broken(AUDIT_HEAD)),
    }
}

/// Reads a plug-in.
///
/// # Errors
/// [`Error::NotFound`], also if it was removed.
pub async fn get(snap: &mut Snap, id: Uuid) -> Result<Plugin, Error> {
    Ok(load(snap, id).await?.0.answer())
}

/// One page of the plug-ins, in the order in which they were registered.
///
/// # Errors
/// [`Error::Refused`] for a limit or a cursor that is not one.
pub async fn list(
    studio: &Studio,
    snap: &mut Snap,
    query: &PageQuery,
) -> Result<Page<Plugin>, Error> {
    let PageQuery { limit, cursor } = query;
    let all = Bytes::new()..Bytes::new();
    let name = "plugins".to_owned();
    let walk = Walk::begin(studio, name, PLUGINS, all, *limit, cursor.as_deref())?;
    walk.page(snap, async |_, rows| {
        let shown = |bytes: &[u8]| {
            let plugin: StoredPlugin = decode(bytes)?;
            Ok(plugin.removed_at.is_none().then(|| plugin.answer()))
        };
        Ok(rows.iter().map(|(_, bytes)| shown(bytes)).collect())
    })
    .await
}

/// Plans to change what a plug-in is for, its scopes and its limits. Its tokens lose
/// what it loses and get nothing that it gets.
///
/// # Errors
/// [`Error::NotFound`], a precondition that does not hold, what `read` refuses, and
/// [`Error::Refused`] as for a registration.
pub async fn change(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
    (patch, read): (&Value, impl Fn(&Value) -> Result<PluginSettings, Error>),
    precondition: &Precondition,
) -> Result<Planned, Error> {
    let (plugin, bytes) = load(snap, id).await?;
    precondition.check(Some(&to_json(&plugin.answer())?))?;
    owner_acts(moment, &plugin.scopes, "#")?;
    let held_admin = plugin.scopes.contains(&Scope::Admin);
    let held = PluginSettings {
        description: plugin.description.clone(),
        scopes: plugin.scopes.clone(),
        artists: plugin.artists.clone(),
        branches: plugin.branches.clone(),
        allow_admin: None,
        requests_per_minute: plugin.requests_per_minute,
        requests_per_day: plugin.requests_per_day,
    };
    let value = |error: serde_json::Error| Error::Internal(error.to_string());
    let shown = serde_json::to_value(plugin.answer()).map_err(value)?;
    let held = serde_json::to_value(&held).map_err(value)?;
    let PluginSettings {
        description,
        scopes,
        artists,
        branches,
        allow_admin,
        requests_per_minute,
        requests_per_day,
    } = read_merged(held, &told_anew(patch, &shown), read)?;
    check_scopes(moment, &scopes, held_admin || allow_admin == Some(true))?;
    limited(&scopes, Limits { artists: artists.as_deref(), branches: branches.as_deref() })?;
    not_mistaken(studio, snap, artists.as_deref(), plugin.artists.as_deref()).await?;
    let (some, held) = (branches.as_deref(), plugin.branches.as_deref());
    let batch = kept_branches(studio, snap, Batch::new(), some, held).await?;
    let next = StoredPlugin {
        description,
        scopes,
        artists,
        branches,
        requests_per_minute,
        requests_per_day,
        version: plugin.version + 1,
        ..plugin
    };
    let key = id.as_bytes().to_vec();
    let mut batch =
        batch.expect(PLUGINS, key.clone(), Some(bytes)).put(PLUGINS, key, encode(&next)?);
    for (key, mut token) in tokens::of(snap, id).await? {
        // No expectation of its own: whatever changes a token writes its plug-in anew.
        let before = token.clone();
        token.scopes.retain(|scope| next.reaches(*scope));
        token.artists = next.within(token.artists);
        token.branches = next.within_branches(token.branches);
        still_hers(&token, moment.now)?;
        if token != before {
            batch = batch.put(TOKENS, key, encode(&token)?);
        }
    }
    let batch = raise_tokens(snap, batch).await?;
    let entry = moment.entry("plugin.change", &format!("plugins/{id}"), next.version);
    Planned::changed(&next.answer(), batch.audit(entry))
}

/// Plans to remove a plug-in and every token of it.
///
/// # Errors
/// [`Error::NotFound`], also if it was removed before; a precondition that does not hold.
pub async fn remove(
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
    precondition: &Precondition,
) -> Result<Planned, Error> {
    let (plugin, held) = load(snap, id).await?;
    precondition.check_if_sent(&to_json(&plugin.answer())?)?;
    let gone = StoredPlugin {
        removed_at: Some(Instant(moment.now)),
        version: plugin.version + 1,
        ..plugin
    };
    let key = id.as_bytes().to_vec();
    let mut batch =
        Batch::new().expect(PLUGINS, key.clone(), Some(held)).put(PLUGINS, key, encode(&gone)?);
    for (key, _) in tokens::of(snap, id).await? {
        batch = batch.del(TOKENS, key.clone()).del(USES, key);
    }
    let batch = raise_tokens(snap, batch).await?;
    Planned::changed(
        &gone.answer(),
        batch.audit(moment.entry("plugin.remove", &format!("plugins/{id}"), 0)),
    )
}
