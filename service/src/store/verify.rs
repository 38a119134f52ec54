//! The walk over everything: `etui verify`.
//!
//! Reading a value checks its checksum. Beyond that, the walk checks the audit
//! chain from its first link to the head, that each client's key opens, and
//! whatever the callers' [`Checker`]s know of their spaces: that a record is
//! readable, and which index entries it must have. An index entry that no record
//! asks for is reported as well.

use std::collections::{BTreeMap, BTreeSet};

use sha2::{Digest, Sha256};

use super::{
    AUDIT, Bytes, Order, Read, Serve, Space, StoreError, Walk,
    audit::{self, AUDIT_HEAD, HEAD_KEY},
    key,
    keyring::{CLIENT_KEYS, Keyring},
    progress,
    record::hex,
    seal::ClientId,
};

const PAGE_ROWS: usize = 500;
/// How many findings are listed one by one; more are only counted.
const LISTED_FINDINGS: usize = 100;

/// The index entries that a record must have.
pub type IndexEntries = Vec<(Space, Bytes)>;

/// What a record must be: the entries it must have in indexes, or what is wrong with it. The text
/// must hold nothing of the value.
pub type Check<'a> = Box<dyn FnMut(&[u8], &[u8]) -> Result<IndexEntries, String> + Send + 'a>;

/// A space that holds index entries only.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Indexed {
    /// It holds every entry that a record asks for, and no other.
    Whole(Space),
    /// It holds no entry that no record asks for, and may lack some.
    Part(Space),
}

impl Indexed {
    /// The space.
    #[must_use]
    pub const fn space(self) -> Space {
        match self {
            Self::Whole(space) | Self::Part(space) => space,
        }
    }
}

/// Knows the records of a space.
pub struct Checker<'a> {
    /// The space.
    pub space: Space,
    /// Looks at one record: key, value.
    pub check: Check<'a>,
}

/// Something that is not as it must be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// The space.
    pub space: String,
    /// Start of the key, hexadecimal; empty when it is about the whole space.
    pub key: String,
    /// What is wrong.
    pub what: String,
}

/// What the walk saw.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct VerifyReport {
    /// Rows of each space.
    pub records: BTreeMap<String, u64>,
    /// Sequence number of the moment that was looked at.
    pub sequence: u64,
    /// Links of the audit trail.
    pub audit_links: u64,
    /// How many findings there are.
    pub findings: u64,
    /// The first 100 of them.
    pub listed: Vec<Finding>,
}

impl VerifyReport {
    /// Whether nothing was found.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.findings == 0
    }

    /// Adds what others found.
    pub fn add(&mut self, findings: Vec<Finding>) {
        self.findings += findings.len() as u64;
        let room = LISTED_FINDINGS.saturating_sub(self.listed.len());
        self.listed.extend(findings.into_iter().take(room));
    }

    fn note(&mut self, space: &str, key: &[u8], what: impl Into<String>) {
        self.findings += 1;
        if self.listed.len() < LISTED_FINDINGS {
            let key = hex(&key[..key.len().min(16)]);
            self.listed.push(Finding { space: space.to_owned(), key, what: what.into() });
        }
    }
}

/// Walks over one moment of the store. The checkers say which entries the indexes must hold.
///
/// # Errors
/// [`StoreError::Damaged`] when a value fails its checksum; the store then serves nobody any more.
/// Other [`StoreError`]s as for reads.
pub async fn verify<S: Serve>(
    store: &S,
    keyring: Option<&Keyring>,
    checkers: Vec<Checker<'_>>,
    indexes: &[Indexed],
) -> Result<VerifyReport, StoreError> {
    let mut snap = store.snapshot().await?;
    let mut walk = Walker {
        report: VerifyReport { sequence: snap.version(), ..VerifyReport::default() },
        checkers: checkers.into_iter().map(|c| (c.space.name(), c.check)).collect(),
        entries: BTreeMap::new(),
        chain: audit::Head::default(),
        keyring,
    };
    let spaces = snap.spaces().await?;
    for space in spaces.iter().filter(|s| !indexes.iter().any(|i| i.space().name() == **s)) {
        walk.space(&mut snap, space).await?;
    }
    for index in indexes {
        walk.index(&mut snap, *index).await?;
    }
    walk.end_of_chain(snap.get(AUDIT_HEAD, HEAD_KEY).await?.as_deref());
    Ok(walk.report)
}

struct Walker<'a, 'b> {
    report: VerifyReport,
    checkers: BTreeMap<&'static str, Check<'a>>,
    /// Short digests of the index entries that records ask for, by space.
    entries: BTreeMap<&'static str, BTreeSet<u128>>,
    chain: audit::Head,
    keyring: Option<&'b Keyring>,
}

impl Walker<'_, '_> {
    async fn space(&mut self, snap: &mut impl Walk, space: &str) -> Result<(), StoreError> {
        let mut start = Bytes::new();
        loop {
            let page =
                snap.scan_named(space, start..Bytes::new(), Order::Ascending, PAGE_ROWS).await?;
            for (key, value) in &page {
                self.row(space, key, value);
            }
            progress::records(page.len() as u64);
            *self.report.records.entry(space.to_owned()).or_default() += page.len() as u64;
            let Some((last, _)) = page.last().filter(|_| page.len() == PAGE_ROWS) else {
                return Ok(());
            };
            start = key::after(last);
        }
    }

    fn row(&mut self, space: &str, key: &[u8], value: &[u8]) {
        if space == AUDIT.name() {
            return self.link(key, value);
        }
        if space == CLIENT_KEYS.name() {
            return self.client_key(key, value);
        }
        let Some(check) = self.checkers.get_mut(space) else { return };
        match check(key, value) {
            Ok(entries) => {
                for (index, entry) in entries {
                    self.entries.entry(index.name()).or_default().insert(short(&entry));
                }
            }
            Err(what) => self.report.note(space, key, what),
        }
    }

    fn link(&mut self, key: &[u8], value: &[u8]) {
        let Ok(link) = serde_json::from_slice::<audit::Link>(value) else {
            return self.report.note(AUDIT.name(), key, "audit trail: a link is unreadable");
        };
        self.report.audit_links += 1;
        if let Err(error) = self.chain.follow(&link) {
            self.report.note(AUDIT.name(), key, error.to_string());
            // Go on behind the break, so that it is told once.
            self.chain = audit::Head { number: link.number, hash: link.hash };
        }
    }

    fn end_of_chain(&mut self, head: Option<&[u8]>) {
        let head = match head.map(serde_json::from_slice::<audit::Head>) {
            None => audit::Head::default(),
            Some(Ok(head)) => head,
            Some(Err(_)) => {
                return self.report.note(AUDIT_HEAD.name(), HEAD_KEY, "the head is unreadable");
            }
        };
        if head != self.chain {
            let what = format!(
                "audit trail: it ends at link {}, and {} were written",
                self.chain.number, head.number
            );
            self.report.note(AUDIT.name(), &[], what);
        }
    }

    fn client_key(&mut self, key: &[u8], wrapped: &[u8]) {
        let Some(keyring) = self.keyring else { return };
        let opens =
            key.try_into().is_ok_and(|id| keyring.unwrap(&ClientId::new(id), wrapped).is_ok());
        if !opens {
            self.report.note(CLIENT_KEYS.name(), key, "a client's key does not open");
        }
    }

    /// Compares an index with what the records ask for.
    async fn index(&mut self, snap: &mut impl Walk, index: Indexed) -> Result<(), StoreError> {
        let space = index.space().name();
        let mut wanted = self.entries.remove(space).unwrap_or_default();
        let mut start = Bytes::new();
        let mut rows = 0;
        loop {
            let page =
                snap.scan_named(space, start..Bytes::new(), Order::Ascending, PAGE_ROWS).await?;
            for (key, _) in &page {
                rows += 1;
                if !wanted.remove(&short(key)) {
                    self.report.note(space, key, "index entry without a record");
                }
            }
            let Some((last, _)) = page.last().filter(|_| page.len() == PAGE_ROWS) else { break };
            start = key::after(last);
        }
        self.report.records.insert(space.to_owned(), rows);
        if !wanted.is_empty() && matches!(index, Indexed::Whole(_)) {
            let what = format!("{} index entries are missing", wanted.len());
            self.report.note(space, &[], what);
        }
        Ok(())
    }
}

/// Enough of the digest of a key to tell it from all others.
fn short(key: &[u8]) -> u128 {
    let digest = Sha256::digest(key);
    u128::from_be_bytes(std::array::from_fn(|i| digest[i]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::{AuditEntry, Batch, EmbeddedStore, Op, Store, StoreConfig};

    const LOTS: Space = Space::new("lots");
    const BY_NUMBER: Space = Space::new("lots-by-number");

    fn lots<'a>() -> Vec<Checker<'a>> {
        let check: Check<'a> = Box::new(|key, value| match value {
            b"broken" => Err("lot is unreadable".into()),
            number => Ok(vec![(BY_NUMBER, [number, key].concat())]),
        });
        vec![Checker { space: LOTS, check }]
    }

    async fn filled(dir: &std::path::Path) -> EmbeddedStore {
        let config = StoreConfig { min_free_bytes: 0, ..StoreConfig::new(dir) };
        let (store, _) = EmbeddedStore::open(config).unwrap();
        for n in 1..=3_u64 {
            let audit = AuditEntry {
                at: "2026-03-01T10:00:00Z".into(),
                who: "owner".into(),
                what: "lot.receive".into(),
                record: format!("lots/{n}"),
                version: 1,
            };
            let (key, number) = (format!("k{n}"), format!("A{n}"));
            let batch = Batch::new()
                .put(LOTS, key.clone(), number.clone())
                .put(BY_NUMBER, number + &key, "")
                .audit(audit);
            store.commit(batch).await.unwrap();
        }
        store
    }

    #[tokio::test]
    async fn a_sound_store_has_no_findings() {
        let dir = tempfile::tempdir().unwrap();
        let store = filled(dir.path()).await;
        let report = verify(&store, None, lots(), &[Indexed::Whole(BY_NUMBER)]).await.unwrap();
        assert_eq!(report.listed, []);
        assert!(report.is_sound());
        assert_eq!((report.sequence, report.audit_links), (3, 3));
        assert_eq!((report.records["lots"], report.records["lots-by-number"]), (3, 3));
    }

    #[tokio::test]
    async fn every_kind_of_fault_is_found() {
        let link = |number| Op::Del(AUDIT, audit::key(number));
        let put = |space, key: &str, value: &str| Op::Put(space, key.into(), value.into());
        for (case, op, want) in [
            ("unreadable record", put(LOTS, "k2", "broken"), vec!["without a record", "lot is un"]),
            (
                "record without its entry",
                put(LOTS, "k9", "A9"),
                vec!["1 index entries are missing"],
            ),
            ("entry without a record", put(BY_NUMBER, "A9k9", ""), vec!["without a record"]),
            ("missing link", link(2), vec!["link 2 is missing"]),
            ("cut trail", link(3), vec!["ends at link 2, and 3 were"]),
            (
                "unreadable link",
                Op::Put(AUDIT, audit::key(3), b"{}".into()),
                vec!["link is unreadable", "ends at link 2"],
            ),
        ] {
            let dir = tempfile::tempdir().unwrap();
            let store = filled(dir.path()).await;
            store.commit(Batch { ops: vec![op], ..Batch::default() }).await.unwrap();
            let report = verify(&store, None, lots(), &[Indexed::Whole(BY_NUMBER)]).await.unwrap();
            let found: Vec<_> = report.listed.iter().map(|f| f.what.as_str()).collect();
            assert_eq!(found.len(), want.len(), "{case}: {found:?}");
            for want in want {
                assert!(found.iter().any(|f| f.contains(want)), "{case}: {found:?}");
            }
        }
    }
}
