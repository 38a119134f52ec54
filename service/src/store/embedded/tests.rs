//! Opening and closing, and what is found after every kind of end.

use std::{fs, os::unix::fs::PermissionsExt, path::Path};

use super::{marks::ClosedMark, *};
use crate::store::{AUDIT, AuditEntry, Order, Read, Space, audit, harden_sync};

const SPACE: Space = Space::new("records");

fn config(dir: &Path) -> StoreConfig {
    StoreConfig { min_free_bytes: 0, ..StoreConfig::new(dir) }
}

fn open(dir: &Path) -> (EmbeddedStore, OpenReport) {
    assert!(harden_sync().is_durable());
    EmbeddedStore::open(config(dir)).unwrap()
}

async fn fill(store: &EmbeddedStore, numbers: std::ops::Range<u64>) {
    for n in numbers {
        let batch = Batch::new().put(SPACE, n.to_be_bytes(), format!("value {n}").repeat(40));
        store.commit(batch).await.unwrap();
    }
}

async fn count(store: &EmbeddedStore) -> usize {
    let mut snap = store.snapshot().await.unwrap();
    snap.scan(SPACE, vec![]..vec![], Order::Ascending, 10_000).await.unwrap().len()
}

/// The folder as a killed process leaves it.
fn copy_of(dir: &Path) -> tempfile::TempDir {
    let copy = tempfile::tempdir().unwrap();
    for (path, _) in files::walk(dir).unwrap() {
        let target = copy.path().join(path.strip_prefix(dir).unwrap());
        fs::create_dir_all(target.parent().unwrap()).unwrap();
        fs::copy(path, target).unwrap();
    }
    copy
}

#[tokio::test]
async fn each_end_is_told_from_the_others() {
    let dir = tempfile::tempdir().unwrap();
    let (store, report) = open(dir.path());
    assert_eq!(report.previous_end, PreviousEnd::None);
    fill(&store, 0..30).await;
    let killed = copy_of(dir.path());
    store.close().await.unwrap();
    store.close().await.unwrap();
    assert_eq!(store.health(), Health::Closed);
    assert_eq!(store.commit(Batch::new()).await, Err(StoreError::Stopping));
    assert!(matches!(store.snapshot().await, Err(StoreError::Stopping)));

    let (store, report) = open(dir.path());
    assert_eq!(report.previous_end, PreviousEnd::Orderly);
    assert_eq!((report.sequence, report.probe, report.damage), (30, None, None));
    assert_eq!(count(&store).await, 30);

    let (store, report) = open(killed.path());
    assert_eq!(report.previous_end, PreviousEnd::Unclean);
    let probe = report.probe.unwrap();
    assert_eq!((probe.on_copy, probe.records, report.sequence), (true, 30, 30));
    assert!(!killed.path().join("store.probe").exists());
    fill(&store, 30..31).await;
    assert_eq!((count(&store).await, store.sequence()), (31, 31));
}

#[tokio::test]
async fn a_second_process_gets_a_clear_refusal() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    let refused = EmbeddedStore::open(config(dir.path())).err().unwrap();
    assert!(matches!(refused, OpenError::InUse { .. }));
    assert!(refused.to_string().contains("in use by another etui process"), "{refused}");
    store.close().await.unwrap();
    open(dir.path());
}

#[tokio::test]
async fn dropping_the_last_handle_closes_in_good_order() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    fill(&store, 0..3).await;
    drop(store);
    while !ClosedMark::path(dir.path()).exists() {
        tokio::task::yield_now().await;
    }
    assert_eq!(ClosedMark::read(dir.path()).unwrap().unwrap().sequence, 3);
}

#[tokio::test]
async fn everything_in_the_folder_is_private() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    fill(&store, 0..3).await;
    store.close().await.unwrap();
    drop(open(dir.path()));
    let mode = |path: &Path| path.metadata().unwrap().permissions().mode() & 0o777;
    for (path, _) in files::walk(dir.path()).unwrap() {
        assert_eq!(mode(&path), 0o600, "{}", path.display());
        assert_eq!(mode(path.parent().unwrap()), 0o700, "{}", path.display());
    }
}

/// Damages a copy, opens it, and checks that it is reported, that nothing is served, and that no
/// byte of the engine's files is changed.
async fn check_refused(what: &str, dir: &Path, says: &str) {
    let before: Vec<_> = snapshot_of(&dir.join("store"));
    let (store, report) = open(dir);
    let damage = report.damage.unwrap_or_else(|| panic!("{what}: not noticed"));
    assert!(damage.contains(says) && damage.contains("restore"), "{what}: {damage}");
    assert_eq!(store.health(), Health::Damaged(damage.clone()), "{what}");
    let refused = Err(StoreError::Damaged(damage.clone()));
    assert_eq!(store.commit(Batch::new().put(SPACE, "k", "v")).await, refused, "{what}");
    assert_eq!(store.snapshot().await.err(), Some(StoreError::Damaged(damage)), "{what}");
    store.close().await.unwrap();
    assert_eq!(snapshot_of(&dir.join("store")), before, "{what}: the files were changed");
    assert!(!ClosedMark::path(dir).exists() || what.contains("orderly"), "{what}");
}

fn snapshot_of(dir: &Path) -> Vec<(std::path::PathBuf, Vec<u8>)> {
    let Ok(found) = files::walk(dir) else { return Vec::new() };
    found.into_iter().map(|(path, _)| (path.clone(), fs::read(path).unwrap())).collect()
}

#[tokio::test]
async fn damage_is_reported_and_never_overwritten() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    fill(&store, 0..50).await;
    let older = copy_of(dir.path());
    fill(&store, 50..60).await;
    let killed = copy_of(dir.path());
    store.close().await.unwrap();
    let closed = copy_of(dir.path());

    // The log of an earlier moment beside today's acknowledgements.
    let lost_tail = copy_of(killed.path());
    fs::copy(older.path().join("store/db"), lost_tail.path().join("store/db")).unwrap();
    check_refused("lost tail", lost_tail.path(), "newest 10 acknowledged").await;

    let missing = copy_of(killed.path());
    fs::remove_file(missing.path().join("store/db")).unwrap();
    check_refused("missing log", missing.path(), "is missing").await;

    let flipped = copy_of(closed.path());
    let db = flipped.path().join("store/db");
    let mut bytes = fs::read(&db).unwrap();
    bytes[700] ^= 4;
    fs::write(&db, bytes).unwrap();
    check_refused("bit flip after an orderly end", flipped.path(), "changed while closed").await;
}

#[tokio::test]
async fn data_of_a_newer_program_are_refused() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    store.close().await.unwrap();
    let mark = ClosedMark::path(dir.path());
    let text = fs::read_to_string(&mark).unwrap().replace(r#""schema":1"#, r#""schema":2"#);
    fs::write(&mark, text).unwrap();
    let refused = EmbeddedStore::open(config(dir.path())).err().unwrap();
    assert!(matches!(refused, OpenError::Newer { found: 2, known: 1, .. }), "{refused}");
}

#[tokio::test]
async fn below_the_reserve_writes_are_refused_and_reads_go_on() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    fill(&store, 0..3).await;
    store.close().await.unwrap();
    let config = StoreConfig { min_free_bytes: u64::MAX, ..StoreConfig::new(dir.path()) };
    let (store, _) = EmbeddedStore::open(config).unwrap();
    assert_eq!(store.health(), Health::Full);
    assert_eq!(store.commit(Batch::new().put(SPACE, "k", "v")).await, Err(StoreError::Full));
    assert_eq!(count(&store).await, 3);
}

#[tokio::test]
async fn the_audit_trail_follows_the_batches() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    let entry = |version| AuditEntry {
        at: "2026-03-01T10:00:00Z".into(),
        who: "owner".into(),
        what: "record.put".into(),
        record: "records/1".into(),
        version,
    };
    for version in 1..=3 {
        store.commit(Batch::new().audit(entry(version))).await.unwrap();
    }
    let refused = Batch::new().expect(SPACE, "k", Some(vec![])).audit(entry(9));
    store.commit(refused).await.unwrap_err();
    let mut snap = store.snapshot().await.unwrap();
    let rows = snap.scan(AUDIT, vec![]..vec![], Order::Ascending, 9).await.unwrap();
    let mut head = audit::Head::default();
    for (number, (key, value)) in (1..).zip(&rows) {
        assert_eq!(*key, audit::key(number));
        let link: audit::Link = serde_json::from_slice(value).unwrap();
        head.follow(&link).unwrap();
        assert_eq!(link.entry, entry(number));
    }
    assert_eq!(rows.len(), 3);
}

#[tokio::test]
async fn a_full_queue_refuses_and_a_closing_store_finishes_what_waits() {
    let dir = tempfile::tempdir().unwrap();
    let config = StoreConfig { queue_len: 1, ..config(dir.path()) };
    let (store, _) = EmbeddedStore::open(config).unwrap();
    let mut tasks = tokio::task::JoinSet::new();
    for n in 0..200_u64 {
        let store = store.clone();
        tasks.spawn(
            async move { store.commit(Batch::new().put(SPACE, n.to_be_bytes(), "v")).await },
        );
    }
    let mut stored = 0;
    for answer in tasks.join_all().await {
        match answer {
            Ok(()) => stored += 1,
            Err(error) => {
                assert_eq!(error, StoreError::Unavailable("too many writes are waiting".into()))
            }
        }
    }
    assert_eq!(count(&store).await, stored);
    let last = store.clone();
    let waiting = tokio::spawn(async move { last.commit(Batch::new().put(SPACE, "z", "v")).await });
    tokio::task::yield_now().await;
    store.close().await.unwrap();
    assert_eq!(waiting.await.unwrap(), Ok(()));
}
