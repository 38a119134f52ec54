//! Packs: what a studio adds to the built-in data over HTTP.
//!
//! A pack is kept as it was put. The craft with all packs is made anew from
//! what is built in whenever one changes ([`apply`](mod@apply)), by the same loaders that
//! read the built-in data; they refuse what would loosen a rule or replace a
//! row. Packs of one kind are applied in the order of their names.
//!
//! A change is refused if the pack itself is not sound, or if another pack
//! that is applied would no longer be (its rule tightens one that is gone, the
//! same id stands in both). So what is kept is sound, until a later build
//! changes the built-in data under it: such a pack is not applied, and named
//! by the health check, the log and its own record.
//!
//! Two changes that are sound each by itself need not be sound together. So every
//! change expects and raises one count that all packs share: of two that were
//! planned from the same state one is planned again, with the other in place.
//!
//! | space | key | value |
//! |---|---|---|
//! | `packs` | kind, name | the pack |
//! | `pack-changes` | `all` | how often a pack was changed |

mod affects;
mod apply;
mod dry_run;
mod faults;
mod stored;

#[cfg(test)]
mod tests;

pub use apply::with_packs;
pub use dry_run::dry_run;
pub use stored::{CHANGES, PACKS, StoredChanges, StoredPack, load_all};

use etui_schema::packs::{
    AftercarePack, KeptPack, LabelSpellingsPack, PackAffects, PackKind, PackQuery, PackRow,
    RulesPack,
};
use etui_schema::page::Page;
use etui_schema::vocabulary::Reference;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};

use self::affects::affects;
use self::apply::apply;
use self::stored::{Held, count_change, find, key_of, place_of};
use super::Studio;
use super::craft::{Craft, PackState};
use super::engine::Snap;
use super::error::Error;
use super::moment::Moment;
use super::outbox::{self, Happened};
use super::paging::Walk;
use super::plan::{Planned, Precondition, Repeat, to_json};
use super::sent_back::only_shown;
use crate::store::key::KeyWriter;
use crate::store::record::encode;
use crate::store::{Batch, Read};

/// Most packs of one kind: each change makes all of them anew.
const MOST_PACKS: usize = 50;

/// The body of one kind of pack.
pub trait PackBody: Serialize + DeserializeOwned {
    /// The kind.
    const KIND: PackKind;
    /// Whether it is to be applied.
    fn is_enabled(&self) -> bool;
}

impl PackBody for RulesPack {
    const KIND: PackKind = PackKind::Rules;
    fn is_enabled(&self) -> bool {
        self.enabled
    }
}

impl PackBody for LabelSpellingsPack {
    const KIND: PackKind = PackKind::LabelSpellings;
    fn is_enabled(&self) -> bool {
        self.enabled
    }
}

impl PackBody for AftercarePack {
    const KIND: PackKind = PackKind::Aftercare;
    fn is_enabled(&self) -> bool {
        self.enabled
    }
}

/// A planned change, and the craft to compute with once it is committed.
pub struct Change {
    /// What is to be written.
    pub planned: Planned,
    /// The craft with the packs as they will be.
    pub craft: Craft,
}

/// Plans to put a pack; `beside` is what came back with it of what is shown.
///
/// # Errors
/// [`Error::Refused`] with every fault of the pack; [`Error::Conflict`] if
/// another pack would no longer be sound, or there are too many; a precondition
/// that does not hold.
pub async fn put<P: PackBody>(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    name: &Reference,
    (pack, beside): (&P, &Map<String, Value>),
    precondition: &Precondition,
) -> Result<Change, Error> {
    let mut all = load_all(snap).await?;
    let at = all.iter().position(|held| held.is(P::KIND, name));
    let current = at.map(|at| all[at].readable());
    let shown = current.as_ref().map(|record| to_json(&kept(&studio.craft, record))).transpose()?;
    precondition.check(shown.as_deref())?;
    let shown: Option<Value> = shown.and_then(|bytes| serde_json::from_slice(&bytes).ok());
    only_shown(beside, shown.as_ref())?;
    let revision = current.as_ref().map_or(1, |record| record.revision + 1);
    let next = StoredPack::new(moment, name, pack, revision)?;
    let before = at.and_then(|at| all[at].bytes.clone());
    let held = Held::of(next.clone());
    match at {
        Some(at) => all[at] = held,
        None => all.push(held),
    }
    check_room(&all, P::KIND)?;
    let craft = changed(studio, all, Some(&next))?;
    let batch = Batch::new().expect(PACKS, key_of(P::KIND, name), before).put(
        PACKS,
        key_of(P::KIND, name),
        encode(&next)?,
    );
    let batch = count_change(snap, batch).await?;
    let affects = affects(studio, snap, P::KIND, current.iter().chain([&next])).await?;
    let told = Told { what: "put", created: at.is_none(), kept: kept(&craft, &next), affects };
    Ok(Change { planned: planned(batch, moment, &next, told)?, craft })
}

/// Plans to take a pack away.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Conflict`] if another pack needs it; a
/// precondition that does not hold.
pub async fn remove(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    kind: PackKind,
    name: &Reference,
    precondition: &Precondition,
) -> Result<Change, Error> {
    let mut all = load_all(snap).await?;
    let at =
        all.iter().position(|held| held.is(kind, name)).ok_or_else(|| not_found(kind, name))?;
    let held = all.remove(at);
    let gone = held.readable();
    let kept = kept(&studio.craft, &gone);
    precondition.check(Some(&to_json(&kept)?))?;
    let craft = changed(studio, all, None)?;
    let key = key_of(kind, name);
    let batch = Batch::new().expect(PACKS, key.clone(), held.bytes).del(PACKS, key);
    let batch = count_change(snap, batch).await?;
    let affects = affects(studio, snap, kind, [&gone]).await?;
    let told = Told { what: "delete", created: false, kept, affects };
    Ok(Change { planned: planned(batch, moment, &gone, told)?, craft })
}

/// What is told of a change.
struct Told {
    what: &'static str,
    created: bool,
    kept: KeptPack<Value>,
    affects: Option<PackAffects>,
}

/// The one place where a change of a pack is put together: record, audit
/// entry, and whatever else must be told of it in the same batch.
fn planned(
    batch: Batch,
    moment: &Moment,
    pack: &StoredPack,
    Told { what, created, kept, affects }: Told,
) -> Result<Planned, Error> {
    let entry =
        moment.entry(&format!("pack.{what}"), &place_of(pack.kind, &pack.name), pack.revision);
    let (kind, name) = (pack.kind.to_string(), pack.name.to_string());
    let batch = outbox::add(batch.audit(entry), moment, Happened::pack(kind, name))?;
    // The tag is that of the pack as it will be read, without what was counted.
    let repeat = Repeat::Instead(to_json(&kept)?);
    let answer = to_json(&KeptPack { affects, ..kept })?;
    Ok(Planned { created, answer, location: None, batch, repeat })
}

/// The craft with the packs as they will be, if they may.
fn changed(studio: &Studio, mut all: Vec<Held>, new: Option<&StoredPack>) -> Result<Craft, Error> {
    stored::sort(&mut all);
    let craft = with_packs(&studio.builtin, &all);
    if let Some(new) = new {
        // One that is not applied is checked on top of those that are.
        let mut told = match new.enabled {
            true => craft.pack(new.kind, &new.name).map_or_else(Vec::new, |s| s.faults.clone()),
            false => apply(&mut craft.clone(), &studio.builtin, new).err().unwrap_or_default(),
        };
        if told.is_empty() {
            told = faults::unread(&new.pack);
        }
        if !told.is_empty() {
            return Err(Error::Refused(told));
        }
    }
    let was_sound = |state: &PackState| {
        studio.craft.pack(state.kind, &state.name).is_none_or(|before| before.faults.is_empty())
    };
    let hurt = craft.packs.iter().find(|state| !state.faults.is_empty() && was_sound(state));
    match hurt {
        None => Ok(craft),
        Some(PackState { kind, name, faults, .. }) => {
            let why = faults.first().map(|f| format!(" ({}: {})", f.pointer, f.message));
            let why = why.unwrap_or_default();
            Err(Error::conflict(format!(
                "the pack `{kind}/{name}` would no longer be sound{why}; change that one first"
            )))
        }
    }
}

fn check_room(all: &[Held], kind: PackKind) -> Result<(), Error> {
    let count = all.iter().filter(|held| held.kind == kind).count();
    if count <= MOST_PACKS {
        return Ok(());
    }
    Err(Error::conflict(format!("there are {MOST_PACKS} packs of this kind; delete one first")))
}

fn not_found(kind: PackKind, name: &Reference) -> Error {
    Error::NotFound { what: "pack", id: format!("{kind}/{name}") }
}

/// Reads a pack.
///
/// # Errors
/// [`Error::NotFound`], or what the store met.
pub async fn get<R: Read>(
    studio: &Studio,
    snap: &mut R,
    kind: PackKind,
    name: &Reference,
) -> Result<KeptPack<Value>, Error> {
    let held = find(snap, kind, name).await?.ok_or_else(|| not_found(kind, name))?;
    Ok(kept(&studio.craft, &held.readable()))
}

/// A pack in the words of the wire.
fn kept(craft: &Craft, record: &StoredPack) -> KeptPack<Value> {
    let StoredPack { kind, name, enabled, revision, digest, updated_at, updated_by, pack } =
        record.clone();
    let state = craft.pack(kind, &name);
    KeptPack {
        applied: enabled && state.is_some_and(|state| state.faults.is_empty()),
        faults: state.map_or_else(Vec::new, |state| state.faults.clone()),
        kind: kind.into(),
        name,
        enabled,
        revision,
        digest,
        updated_at,
        updated_by,
        affects: None,
        pack,
    }
}

/// One page of packs, by kind and name.
///
/// # Errors
/// [`Error::Refused`] for a limit or a cursor that is not one; what the store met.
pub async fn list(
    studio: &Studio,
    snap: &mut Snap,
    query: &PackQuery,
) -> Result<Page<PackRow>, Error> {
    let PackQuery { kind, limit, cursor } = query;
    let prefix = kind.iter().fold(KeyWriter::new(), |key, kind| key.text(kind.as_str()));
    let name = format!("packs kind={kind:?}");
    let walk = Walk::begin(studio, name, PACKS, prefix.prefix_range(), *limit, cursor.as_deref())?;
    walk.page(snap, async |_, rows| {
        let held = rows.into_iter().map(|(key, bytes)| Held::read(&key, Some(bytes)));
        Ok(held.map(|one| Ok(one?.map(|held| row(&studio.craft, held)))).collect())
    })
    .await
}

fn row(craft: &Craft, held: Held) -> PackRow {
    let Held { kind, name, bytes: _, record } = held;
    let faults = craft.pack(kind, &name).map_or(0, |state| state.faults.len());
    let Ok(record) = record else {
        return PackRow {
            kind: kind.into(),
            name,
            version: None,
            about: None,
            enabled: false,
            applied: false,
            revision: 0,
            digest: String::new(),
            updated_at: None,
            faults,
        };
    };
    let text = |field: &str| record.pack.get(field).and_then(Value::as_str).map(str::to_owned);
    PackRow {
        kind: kind.into(),
        name,
        version: text("version"),
        about: text("about"),
        enabled: record.enabled,
        applied: record.enabled && faults == 0,
        revision: record.revision,
        digest: record.digest.clone(),
        updated_at: Some(record.updated_at),
        faults,
    }
}
