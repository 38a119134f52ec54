//! Packs as they are stored.

use etui_schema::packs::PackKind;
use etui_schema::vocabulary::{Instant, Reference};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use sha2::{Digest, Sha256};

use super::PackBody;
use crate::store::key::{KeyReader, KeyWriter};
use crate::store::record::{Record, decode, encode, hex};
use crate::store::{Batch, Bytes, Order, Read, Space, shared};
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::paging;

/// Packs by kind and name.
pub const PACKS: Space = Space::new("packs");
/// The one row that every change of a pack expects and writes.
pub const CHANGES: Space = shared::PACKS.0;
const ALL: &[u8] = shared::PACKS.1;
/// More rows than there can be packs.
const MOST_ROWS: usize = 1_000;

/// A pack as stored.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct StoredPack {
    /// What it adds to.
    pub kind: PackKind,
    /// The studio's name for it.
    pub name: Reference,
    /// Whether it is to be applied.
    pub enabled: bool,
    /// Counts the changes, from 1.
    pub revision: u64,
    /// SHA-256 over its content, hexadecimal.
    pub digest: String,
    /// When it was last changed.
    pub updated_at: Instant,
    /// Who changed it last.
    pub updated_by: String,
    /// The pack as it was put.
    pub pack: Value,
}

impl Record for StoredPack {
    const KIND: &'static str = "pack";
}

impl StoredPack {
    /// A pack that is put now.
    pub(super) fn new<P: PackBody>(
        moment: &Moment,
        name: &Reference,
        pack: &P,
        revision: u64,
    ) -> Result<Self, Error> {
        let value = serde_json::to_value(pack).map_err(|e| Error::Internal(e.to_string()))?;
        Ok(Self {
            kind: P::KIND,
            name: name.clone(),
            enabled: pack.is_enabled(),
            revision,
            digest: digest(&value),
            updated_at: Instant(moment.now),
            updated_by: moment.holder.clone(),
            pack: value,
        })
    }

    /// What the loader reads: the pack without what only concerns its keeping.
    pub(super) fn content(&self) -> Value {
        content(&self.pack)
    }
}

fn content(pack: &Value) -> Value {
    let mut pack = pack.clone();
    if let Some(members) = pack.as_object_mut() {
        for member in ["version", "about", "read_by", "enabled"] {
            members.remove(member);
        }
    }
    pack
}

/// SHA-256 over a pack's content, hexadecimal.
fn digest(pack: &Value) -> String {
    hex(&Sha256::digest(content(pack).to_string()))
}

/// A row of the space: what could be read, or why not.
#[derive(Debug, Clone)]
pub struct Held {
    pub(super) kind: PackKind,
    pub(super) name: Reference,
    pub(super) bytes: Option<Bytes>,
    pub(super) record: Result<StoredPack, String>,
}

impl Held {
    pub(super) fn of(record: StoredPack) -> Self {
        Self { kind: record.kind, name: record.name.clone(), bytes: None, record: Ok(record) }
    }

    pub(super) fn is(&self, kind: PackKind, name: &Reference) -> bool {
        self.kind == kind && self.name == *name
    }

    /// The record, or an empty one in place of one that cannot be read.
    pub(super) fn readable(&self) -> StoredPack {
        self.record.clone().unwrap_or_else(|_| StoredPack {
            kind: self.kind,
            name: self.name.clone(),
            enabled: false,
            revision: 0,
            digest: String::new(),
            updated_at: Instant(jiff::Timestamp::UNIX_EPOCH),
            updated_by: String::new(),
            pack: Value::Object(serde_json::Map::new()),
        })
    }

    /// A row out of its key and value. The key names the pack even where the
    /// value is damaged.
    pub(super) fn read(key: &[u8], bytes: Option<Bytes>) -> Result<Option<Self>, Error> {
        let Some(bytes) = bytes else { return Ok(None) };
        let mut reader = KeyReader::new(key);
        let kind = reader.text().and_then(|kind| kind.parse().ok());
        let name = reader.text().and_then(|name| name.parse().ok());
        let (Some(kind), Some(name)) = (kind, name) else { return Err(paging::broken(PACKS)) };
        let record = decode::<StoredPack>(&bytes).map_err(|error| error.to_string());
        Ok(Some(Self { kind, name, bytes: Some(bytes), record }))
    }
}

pub(super) fn key_of(kind: PackKind, name: &Reference) -> Bytes {
    KeyWriter::new().text(kind.as_str()).text(name.as_str()).finish()
}

/// Where a pack lies, in the words of the audit trail.
pub(super) fn place_of(kind: PackKind, name: &Reference) -> String {
    format!("{PACKS}/{kind}/{name}")
}

/// In the order in which packs are applied.
pub(super) fn sort(all: &mut [Held]) {
    all.sort_by(|a, b| (a.kind.as_str(), a.name.as_str()).cmp(&(b.kind.as_str(), b.name.as_str())));
}

/// Every pack, in the order in which they are applied.
///
/// # Errors
/// What the store met.
pub async fn load_all<R: Read>(snap: &mut R) -> Result<Vec<Held>, Error> {
    let whole = Bytes::new()..Bytes::new();
    let rows = snap.scan(PACKS, whole, Order::Ascending, MOST_ROWS).await?;
    let mut all = Vec::with_capacity(rows.len());
    for (key, value) in rows {
        all.extend(Held::read(&key, Some(value))?);
    }
    sort(&mut all);
    Ok(all)
}

/// How often a pack was changed, whichever it was.
#[derive(Debug, Default, Serialize, Deserialize)]
pub struct StoredChanges {
    count: u64,
}

impl Record for StoredChanges {
    const KIND: &'static str = "pack_changes";
}

/// Adds to the batch of a change that no other pack was changed meanwhile, and
/// that this one was. A count that cannot be read begins anew: it only has to
/// differ.
pub(super) async fn count_change<R: Read>(snap: &mut R, batch: Batch) -> Result<Batch, Error> {
    let held = snap.get(CHANGES, ALL).await?;
    let before = held.as_ref().and_then(|bytes| decode::<StoredChanges>(bytes).ok());
    let count = before.unwrap_or_default().count.saturating_add(1);
    let next = encode(&StoredChanges { count })?;
    Ok(batch.expect(CHANGES, ALL, held).put(CHANGES, ALL, next))
}

/// One pack, if it is there.
pub(super) async fn find<R: Read>(
    snap: &mut R,
    kind: PackKind,
    name: &Reference,
) -> Result<Option<Held>, Error> {
    let key = key_of(kind, name);
    let bytes = snap.get(PACKS, &key).await?;
    Held::read(&key, bytes)
}
