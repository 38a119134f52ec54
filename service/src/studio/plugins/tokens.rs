//! Making, listing, rotating and revoking the tokens of a plug-in.

use etui_schema::access::Scope;
use etui_schema::page::{Page, PageQuery};
use etui_schema::plugins::{PluginToken, PluginTokenRequest};
use etui_schema::plugins::{TokenRotationRequest, TokenState};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::{Instant, Reference};
use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

use super::secret;
use super::stored::StoredUse;
use super::{
    Limits, faults_of, kept_branches, limited, load, not_mistaken, owner_acts, token_key, touch,
};
use super::{StoredPlugin, StoredToken, TOKENS, USES};
use crate::store::key::KeyWriter;
use crate::store::record::{decode, encode};
use crate::store::{Batch, Bytes, Order, Read};
use crate::studio::Studio;
use crate::studio::artists;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::paging::Walk;
use crate::studio::plan::{Planned, Precondition, Repeat, to_json};

/// Most tokens of one plug-in, those that open nothing any more included
/// (common practice, no source; a list of them fits one answer).
const MOST: usize = 50;
/// How long a rotated token goes on to work if nothing is said: whoever looks
/// for a new one once an hour finds it in time (common practice, no source).
const OVERLAP_S: u32 = 3600;

/// Every token of a plug-in, in the order in which they were made, with its key.
pub(super) async fn of(snap: &mut Snap, plugin: Uuid) -> Result<Vec<(Bytes, StoredToken)>, Error> {
    let range = KeyWriter::new().uuid(plugin).prefix_range();
    let rows = snap.scan(TOKENS, range, Order::Ascending, MOST + 1).await?;
    let mut all = Vec::new();
    for (key, bytes) in rows {
        all.push((key, decode::<StoredToken>(&bytes)?));
    }
    // Ids of one millisecond are in no order of their own.
    all.sort_by_key(|(_, token)| (token.created_at, token.id));
    Ok(all)
}

/// Plans to make a token.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Refused`] for a scope that the plug-in does
/// not hold, an end that has passed, or `admin` without the owner;
/// [`Error::Conflict`] if there are too many.
pub async fn issue(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
    request: &PluginTokenRequest,
) -> Result<Planned, Error> {
    let (plugin, held_bytes) = load(snap, id).await?;
    owner_acts(moment, &plugin.scopes, "#")?;
    let PluginTokenRequest { name, scopes, expires_at, acts_for, artists, branches } =
        request.clone();
    let scopes = scopes.unwrap_or_else(|| plugin.scopes.clone());
    check(&plugin, &scopes, expires_at, moment.now)?;
    for_herself(moment, acts_for.as_ref(), "#/acts_for")?;
    let named = request.scopes.is_some();
    let place = |at: usize| if named { format!("#/scopes/{at}") } else { "#/acts_for".to_owned() };
    no_students_hand(studio, snap, (acts_for.as_ref(), &scopes), place).await?;
    let limits = Limits { artists: artists.as_deref(), branches: branches.as_deref() };
    beyond_the_plugin(&plugin, limits)?;
    not_mistaken(studio, snap, artists.as_deref(), plugin.artists.as_deref()).await?;
    let artists = plugin.within(artists);
    let (some, held) = (branches.as_deref(), plugin.branches.as_deref());
    let batch = touch(snap, &plugin, held_bytes).await?;
    let batch = kept_branches(studio, snap, batch, some, held).await?;
    let branches = plugin.within_branches(branches);
    limited(&scopes, Limits { artists: artists.as_deref(), branches: branches.as_deref() })?;
    let text = secret::draw(moment)?;
    let token = StoredToken {
        id: moment.id()?,
        plugin_id: id,
        name,
        scopes,
        digest: secret::digest_of(&text),
        created_at: Instant(moment.now),
        given_until: expires_at,
        expires_at,
        revoked_at: None,
        replaces: None,
        acts_for,
        artists,
        branches,
    };
    if let Some(artist) = token.beyond() {
        let why = format!("`{artist}` is not among `artists`: it would not reach her own work");
        return Err(Error::at("#/acts_for", FaultCode::Contradiction, why));
    }
    let batch = make_room(batch, snap, id, moment.now).await?;
    shown_once(moment, batch, &token, text, "plugin.token.issue")
}

/// Refuses what the plug-in does not reach.
fn beyond_the_plugin(plugin: &StoredPlugin, limits: Limits<'_>) -> Result<(), Error> {
    let most = Limits { artists: plugin.artists.as_deref(), branches: plugin.branches.as_deref() };
    let mut faults = Vec::new();
    for (member, some) in limits.told() {
        let Some((_, most)) = most.told().find(|(of, _)| *of == member) else { continue };
        for (at, one) in some.iter().enumerate().filter(|(_, one)| !most.contains(one)) {
            let why = format!("the plug-in does not reach `{one}`");
            faults.push(Fault::new(format!("#/{member}/{at}"), FaultCode::NotAllowed, why));
        }
    }
    if faults.is_empty() { Ok(()) } else { Err(Error::Refused(faults)) }
}

/// Refuses to a token that acts for somebody one that acts for another, or for nobody:
/// it would reach further than itself.
fn for_herself(moment: &Moment, acts_for: Option<&Reference>, pointer: &str) -> Result<(), Error> {
    let Some(acting) = &moment.mandate.acts_for else { return Ok(()) };
    if acts_for == Some(acting) {
        return Ok(());
    }
    let why = format!("this token acts for `{acting}`, and gives only tokens that do");
    Err(Error::at(pointer, FaultCode::NotAllowed, why))
}

/// Refuses a student's token what signs, forgets, or reaches everything. At use it is refused as
/// well: whoever is made a student later keeps her token.
async fn no_students_hand(
    studio: &Studio,
    snap: &mut Snap,
    (acts_for, scopes): (Option<&Reference>, &[Scope]),
    pointer: impl Fn(usize) -> String,
) -> Result<(), Error> {
    let beyond =
        |scope: &Scope| matches!(scope, Scope::SignOffs | Scope::ClientsErase | Scope::Admin);
    let (Some(artist), Some(at)) = (acts_for, scopes.iter().position(beyond)) else {
        return Ok(());
    };
    if !artists::may_be_student(studio, snap, artist).await? {
        return Ok(());
    }
    let why = format!(
        "`{artist}` is a student, or not on record where students are: her token holds no `{}`",
        scopes[at]
    );
    Err(Error::at(pointer(at), FaultCode::NotAllowed, why))
}

fn check(
    plugin: &StoredPlugin,
    scopes: &[Scope],
    expires_at: Option<Instant>,
    now: Timestamp,
) -> Result<(), Error> {
    let held = plugin.scopes.iter().map(|scope| scope.as_str()).collect::<Vec<_>>().join(", ");
    let mut faults = faults_of(scopes, |scope| {
        if plugin.reaches(scope) { Ok(()) } else { Err(format!("the plug-in holds only {held}")) }
    });
    faults.extend(passed(expires_at, now));
    if faults.is_empty() { Ok(()) } else { Err(Error::Refused(faults)) }
}

fn passed(end: Option<Instant>, now: Timestamp) -> Option<Fault> {
    let end = end.filter(|end| end.0 <= now)?;
    let why = format!("{end} has passed; it is {now}");
    Some(Fault::new("#/expires_at", FaultCode::OutOfRange, why))
}

/// Lets the oldest token go that opens nothing any more, if there are too many.
async fn make_room(
    batch: Batch,
    snap: &mut Snap,
    plugin: Uuid,
    now: Timestamp,
) -> Result<Batch, Error> {
    let all = of(snap, plugin).await?;
    if all.len() < MOST {
        return Ok(batch);
    }
    let dead = all.into_iter().find(|(_, token)| token.state_at(now) != TokenState::Active);
    let Some((key, _)) = dead else {
        return Err(Error::conflict(format!("the plug-in has {MOST} tokens; revoke one first")));
    };
    Ok(batch.del(TOKENS, key.clone()).del(USES, key))
}

/// The plan of a new token: its text is in the answer and nowhere else.
fn shown_once(
    moment: &Moment,
    batch: Batch,
    token: &StoredToken,
    text: String,
    what: &str,
) -> Result<Planned, Error> {
    let (plugin, id) = (token.plugin_id, token.id);
    let record = format!("plugins/{plugin}/tokens/{id}");
    let without = token.answer(moment.now, None);
    let shown = PluginToken { secret: Some(text), ..without.clone() };
    Ok(Planned {
        created: true,
        answer: to_json(&shown)?,
        location: Some(format!("/v1/{record}")),
        batch: batch
            .put(TOKENS, token_key(plugin, id), encode(token)?)
            .audit(moment.entry(what, &record, 1)),
        repeat: Repeat::Instead(to_json(&without)?),
    })
}

/// A token of a plug-in, with the bytes it was read from.
async fn find(snap: &mut Snap, plugin: Uuid, id: Uuid) -> Result<(StoredToken, Bytes), Error> {
    let absent = || Error::NotFound { what: "token", id: id.to_string() };
    let bytes = snap.get(TOKENS, &token_key(plugin, id)).await?.ok_or_else(absent)?;
    Ok((decode(&bytes)?, bytes))
}

/// Plans to put a new token in the place of one, which goes on to work for a
/// while beside it.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Conflict`] for a token that opens nothing any
/// more; [`Error::Refused`] as for [`issue`].
pub async fn rotate(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    plugin_id: Uuid,
    id: Uuid,
    request: &TokenRotationRequest,
) -> Result<Planned, Error> {
    let (plugin, held) = load(snap, plugin_id).await?;
    let (old, old_bytes) = find(snap, plugin_id, id).await?;
    owner_acts(moment, &plugin.scopes, "#")?;
    for_herself(moment, old.acts_for.as_ref(), "#")?;
    let given = (old.acts_for.as_ref(), old.scopes.as_slice());
    no_students_hand(studio, snap, given, |_| "#".to_owned()).await?;
    if old.state_at(moment.now) != TokenState::Active {
        let why = format!("the token is {}; issue a new one", old.state_at(moment.now));
        return Err(Error::conflict(why));
    }
    let TokenRotationRequest { overlap_seconds, expires_at } = request;
    if let Some(fault) = passed(*expires_at, moment.now) {
        return Err(Error::Refused(vec![fault]));
    }
    let text = secret::draw(moment)?;
    let until = expires_at.or_else(|| as_long(&old, moment.now));
    let new = StoredToken {
        id: moment.id()?,
        digest: secret::digest_of(&text),
        created_at: Instant(moment.now),
        given_until: until,
        expires_at: until,
        replaces: Some(id),
        ..old.clone()
    };
    let overlap = SignedDuration::from_secs(overlap_seconds.unwrap_or(OVERLAP_S).into());
    let end = moment.now.checked_add(overlap).unwrap_or(Timestamp::MAX);
    let end = old.expires_at.map_or(end, |before| before.0.min(end));
    let leaving = StoredToken { expires_at: Some(Instant(end)), ..old };
    let batch = touch(snap, &plugin, held)
        .await?
        .expect(TOKENS, token_key(plugin_id, id), Some(old_bytes))
        .put(TOKENS, token_key(plugin_id, id), encode(&leaving)?);
    let batch = make_room(batch, snap, plugin_id, moment.now).await?;
    shown_once(moment, batch, &new, text, "plugin.token.rotate")
}

/// As long as the old token was given when it was made.
fn as_long(old: &StoredToken, now: Timestamp) -> Option<Instant> {
    let given = old.given_until?.0.duration_since(old.created_at.0);
    Some(Instant(now.checked_add(given).unwrap_or(Timestamp::MAX)))
}

/// Plans to take a token back. One that was taken back before stays so.
///
/// # Errors
/// [`Error::NotFound`]; a precondition that does not hold.
pub async fn revoke(
    snap: &mut Snap,
    moment: &Moment,
    (plugin_id, id): (Uuid, Uuid),
    fresh: Option<Timestamp>,
    precondition: &Precondition,
) -> Result<Planned, Error> {
    let (plugin, held) = load(snap, plugin_id).await?;
    let (token, bytes) = find(snap, plugin_id, id).await?;
    let last = used(snap, &token).await?;
    precondition.check_if_sent(&to_json(&token.answer(moment.now, fresh.max(last)))?)?;
    let key = token_key(plugin_id, id);
    let (token, batch) = if token.revoked_at.is_some() {
        (token, Batch::new().expect(TOKENS, key, Some(bytes)))
    } else {
        let revoked = StoredToken { revoked_at: Some(Instant(moment.now)), ..token };
        let record = format!("plugins/{plugin_id}/tokens/{id}");
        let batch = touch(snap, &plugin, held)
            .await?
            .expect(TOKENS, key.clone(), Some(bytes))
            .put(TOKENS, key, encode(&revoked)?)
            .audit(moment.entry("plugin.token.revoke", &record, 0));
        (revoked, batch)
    };
    Planned::changed(&token.answer(moment.now, last), batch)
}

/// When a token was used last, as far as it is written down.
async fn used(snap: &mut Snap, token: &StoredToken) -> Result<Option<Timestamp>, Error> {
    let found = snap.get(USES, &token_key(token.plugin_id, token.id)).await?;
    let stored = found.map(|bytes| decode::<StoredUse>(&bytes)).transpose()?;
    Ok(stored.map(|stored| stored.at.0))
}

/// One page of the tokens of a plug-in, in the order in which they were made. `fresh` knows of
/// uses that are not written down yet, by the token's id.
///
/// # Errors
/// [`Error::NotFound`] if there is no such plug-in; [`Error::Refused`] for a limit or a cursor
/// that is not one.
pub async fn list_tokens(
    studio: &Studio,
    snap: &mut Snap,
    now: Timestamp,
    (plugin, query): (Uuid, &PageQuery),
    fresh: impl Fn(Uuid) -> Option<Timestamp> + Send,
) -> Result<Page<PluginToken>, Error> {
    load(snap, plugin).await?;
    let (name, range) = (format!("tokens of={plugin}"), KeyWriter::new().uuid(plugin));
    let PageQuery { limit, cursor } = query;
    let walk = Walk::begin(studio, name, TOKENS, range.prefix_range(), *limit, cursor.as_deref())?;
    walk.page(snap, async |snap, rows| {
        let mut told = Vec::with_capacity(rows.len());
        for (_, bytes) in rows {
            let token = decode::<StoredToken>(&bytes)?;
            let written = used(snap, &token).await?;
            told.push(Ok(Some(token.answer(now, fresh(token.id).max(written)))));
        }
        Ok(told)
    })
    .await
}

/// One token of a plug-in, as [`list_tokens`] tells it.
///
/// # Errors
/// [`Error::NotFound`].
pub async fn get_token(
    snap: &mut Snap,
    now: Timestamp,
    (plugin, id): (Uuid, Uuid),
    fresh: Option<Timestamp>,
) -> Result<PluginToken, Error> {
    let token = find(snap, plugin, id).await?.0;
    let written = used(snap, &token).await?;
    Ok(token.answer(now, fresh.max(written)))
}

/// One token of a plug-in, as its holder sees it.
///
/// # Errors
/// [`Error::NotFound`].
pub async fn one_token(
    snap: &mut Snap,
    now: Timestamp,
    plugin: Uuid,
    id: Uuid,
) -> Result<PluginToken, Error> {
    Ok(find(snap, plugin, id).await?.0.answer(now, Some(now)))
}
