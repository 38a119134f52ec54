//! What sealing, erasure, rotation, export and backup promise, tried on real files.

use std::{fs, path::Path};

use super::{
    Batch, EmbeddedStore, Identity, KeyStorage, Keyring, Read, Sealed, Serve, Space, Store,
    StoreConfig, StoreError, StudioKey, backup, dump,
    erasure::{self, Erasure},
    files,
    keyring::{CLIENT_KEYS, KeyringError},
    receipts::{ERASURES, Receipt},
    record::hex,
    seal::{ClientId, test_entropy},
    studio_key::unhex,
    verify,
};

const RECORDS: Space = Space::new("records");
const PHRASE: &[u8] = b"planted phrase: cold sores twice a year";

struct Studio {
    store: EmbeddedStore,
    keyring: Keyring,
}

fn config(dir: &Path) -> StoreConfig {
    StoreConfig { min_free_bytes: 0, ..StoreConfig::new(dir) }
}

fn open(dir: &Path) -> Studio {
    let mut entropy = test_entropy(1);
    let (store, report) = EmbeddedStore::open(config(dir)).unwrap();
    assert_eq!(report.damage, None);
    let studio = StudioKey::find_or_make(dir, None, &mut entropy).unwrap();
    let keyring = Keyring::open(dir, studio, &mut entropy).unwrap();
    Studio { store, keyring }
}

fn at(day: i8) -> jiff::Timestamp {
    let noon = jiff::civil::date(2026, 3, day).at(10, 0, 0, 0);
    jiff::tz::TimeZone::UTC.to_timestamp(noon).unwrap()
}

fn identity(client: &ClientId) -> Identity<'_> {
    Identity { client, space: RECORDS, key: b"answers", field: "answers" }
}

impl Studio {
    fn client(&self, n: usize) -> ClientId {
        self.keyring.client_id(&format!("client-{n}"))
    }

    async fn add(&self, n: usize) {
        let mut entropy = test_entropy(u8::try_from(100 + n % 100).unwrap());
        let client = self.client(n);
        let mut snap = self.store.snapshot().await.unwrap();
        let issue = self.keyring.issue(&mut snap, &client, at(1), &mut entropy).await.unwrap();
        let sealed = issue.key.seal(&identity(&client), PHRASE, &mut entropy).unwrap();
        let value = serde_json::to_vec(&sealed).unwrap();
        let batch = issue.add_to(Batch::new().put(RECORDS, client.bytes(), value));
        self.store.commit(batch).await.unwrap();
    }

    async fn sealed(&self, n: usize) -> Sealed {
        let mut snap = self.store.snapshot().await.unwrap();
        let value = snap.get(RECORDS, self.client(n).bytes()).await.unwrap().unwrap();
        serde_json::from_slice(&value).unwrap()
    }

    async fn reads(&self, n: usize) -> bool {
        let mut snap = self.store.snapshot().await.unwrap();
        let client = self.client(n);
        let Some(held) = self.keyring.key_of(&mut snap, &client).await.unwrap() else {
            return false;
        };
        held.key.open(&identity(&client), &self.sealed(n).await).unwrap() == PHRASE
    }

    async fn erase(&self, dir: &Path, n: usize) -> Receipt {
        let erasure = Erasure {
            client: self.client(n),
            receipt_id: format!("receipt-{n}"),
            at: "2026-03-02T09:00:00Z".parse().unwrap(),
            batch: Batch::new(),
        };
        let folder = dir.join(backup::FOLDER);
        let mut entropy = test_entropy(77);
        let erasures = vec![erasure];
        let erased =
            erasure::erase_all(&self.store, &self.keyring, &folder, erasures, &mut entropy).await;
        erased.unwrap().remove(0).unwrap()
    }

    async fn backup(&self, dir: &Path, day: i8) -> backup::Backup {
        let now = jiff::civil::date(2026, 3, day).at(10, 0, 0, 0);
        let now = jiff::tz::TimeZone::UTC.to_timestamp(now).unwrap();
        let mut entropy = test_entropy(u8::try_from(day).unwrap());
        let folder = dir.join(backup::FOLDER);
        backup::make(&self.store, &self.keyring, &folder, now, &mut entropy).await.unwrap().0
    }

    async fn close(self) {
        self.store.close().await.unwrap();
    }
}

fn all_bytes(dir: &Path) -> Vec<u8> {
    files::walk(dir).unwrap().iter().flat_map(|(path, _)| fs::read(path).unwrap()).collect()
}

fn holds(haystack: &[u8], needle: &[u8]) -> bool {
    haystack.windows(needle.len()).any(|window| window == needle)
}

#[tokio::test]
async fn no_plaintext_reaches_any_file() {
    let dir = tempfile::tempdir().unwrap();
    let studio = open(dir.path());
    for n in 0..5 {
        studio.add(n).await;
    }
    assert!(studio.reads(3).await);
    studio.backup(dir.path(), 1).await;
    studio.close().await;
    let bytes = all_bytes(dir.path());
    assert!(!holds(&bytes, PHRASE));
    assert!(!holds(&bytes, b"client-3"), "the caller's reference lies open");
}

#[tokio::test]
async fn an_erased_client_cannot_be_read_by_anybody() {
    let dir = tempfile::tempdir().unwrap();
    let studio = open(dir.path());
    for n in 0..600 {
        studio.add(n).await;
    }
    let erased = studio.client(7);
    let same_bucket =
        (0..600).filter(|n| studio.client(*n).bytes()[0] == erased.bytes()[0]).count();
    assert!(1 < same_bucket, "the test needs a neighbour in the bucket");
    let backup = studio.backup(dir.path(), 1).await;
    let wrapped = {
        let mut snap = studio.store.snapshot().await.unwrap();
        snap.get(CLIENT_KEYS, erased.bytes()).await.unwrap().unwrap()
    };
    let sealed = studio.sealed(7).await;
    let key = studio.keyring.unwrap(&erased, &wrapped).unwrap();
    let bucket_key = studio.keyring.current(erased.bytes()[0]).key;
    let old_keyring = fs::read(dir.path().join("keyring")).unwrap();

    let receipt = studio.erase(dir.path(), 7).await;
    assert!(receipt.had_key && receipt.complete);
    assert_eq!(receipt.client, erased.hex());
    assert_eq!(receipt.backups, ["etui-20260301T100000Z.backup"]);
    for n in 0..600 {
        assert_eq!(studio.reads(n).await, n != 7, "client {n}");
    }
    studio.close().await;

    // The engine's log still holds the wrapped key: deleting alone would not have been enough.
    let bytes = all_bytes(dir.path());
    assert!(holds(&bytes, &wrapped), "the log was rewritten; this test proves nothing");
    assert!(!holds(&bytes, &old_keyring), "the old key ring lies about");
    // It does not open any more, with the studio's key and the key ring as they are on disk.
    let studio = open(dir.path());
    assert!(matches!(studio.keyring.unwrap(&erased, &wrapped), Err(KeyringError::Renewed)));
    // Neither the client's key nor the bucket's old one lies in any file, in any form we write.
    let bucket_key = unhex(&bucket_key).unwrap();
    for secret in [key.bytes(), &bucket_key] {
        assert!(!holds(&bytes, secret) && !holds(&bytes, hex(secret).as_bytes()));
    }
    assert_eq!(key.open(&identity(&erased), &sealed).unwrap(), PHRASE, "it was the right key");
    studio.close().await;

    // Nor does a backup made before give it back; the others it does.
    let target = dir.path().join("restored");
    let key = StudioKey::find_or_make(dir.path(), None, &mut test_entropy(3)).unwrap();
    let mut entropy = test_entropy(4);
    let key = (key, KeyStorage::File);
    backup::restore(&backup.path, &target, &config(&target), key, &mut entropy).await.unwrap();
    let restored = open(&target);
    for n in [0, 7, 8, 599] {
        assert_eq!(restored.reads(n).await, n != 7, "client {n} of the restored backup");
    }
    restored.close().await;
}

#[tokio::test]
async fn an_erasure_cut_short_is_settled_at_the_next_start() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join(backup::FOLDER);
    let studio = open(dir.path());
    studio.add(1).await;
    let bucket = studio.client(1).bytes()[0];
    let mut entropy = test_entropy(9);

    // Cut after step 1: nothing has happened.
    studio.keyring.begin(&[bucket].into(), &mut entropy).unwrap();
    let settled = erasure::settle(&studio.store, &studio.keyring, &folder, &mut entropy).await;
    assert_eq!(settled.unwrap(), []);
    assert!(studio.reads(1).await && studio.keyring.next(bucket).is_none());

    // Cut after step 2: the old key ring's file and the receipt as the batch left it.
    studio.keyring.begin(&[bucket].into(), &mut entropy).unwrap();
    let both = fs::read(dir.path().join("keyring")).unwrap();
    studio.keyring.abandon(&[bucket].into(), &mut entropy).unwrap();
    let receipt = studio.erase(dir.path(), 1).await;
    let early = Receipt { complete: false, ..receipt.clone() };
    let early = super::record::encode(&early).unwrap();
    studio.store.commit(Batch::new().put(ERASURES, receipt.id.clone(), early)).await.unwrap();
    fs::write(dir.path().join("keyring"), both).unwrap();
    studio.close().await;

    let studio = open(dir.path());
    assert!(studio.keyring.next(bucket).is_some());
    let settled = erasure::settle(&studio.store, &studio.keyring, &folder, &mut entropy).await;
    assert_eq!(settled.unwrap(), [receipt]);
    assert!(studio.keyring.next(bucket).is_none());
    assert!(!studio.reads(1).await);
    studio.close().await;
}

#[tokio::test]
async fn a_refused_erasure_leaves_everything() {
    let dir = tempfile::tempdir().unwrap();
    let studio = open(dir.path());
    studio.add(1).await;
    let erasure = Erasure {
        client: studio.client(1),
        receipt_id: "r".into(),
        at: "2026-03-02T09:00:00Z".parse().unwrap(),
        batch: Batch::new().expect(RECORDS, "not there", Some(vec![])),
    };
    let folder = dir.path().join(backup::FOLDER);
    let mut entropy = test_entropy(5);
    let erasures = vec![erasure];
    let refused =
        erasure::erase_all(&studio.store, &studio.keyring, &folder, erasures, &mut entropy).await;
    let conflict = StoreError::Conflict { index: 0, space: RECORDS };
    assert_eq!(refused.unwrap(), [Err(conflict)]);
    assert!(studio.reads(1).await);
    studio.close().await;
}

#[tokio::test]
async fn a_client_that_arrives_during_an_erasure_is_not_lost() {
    let dir = tempfile::tempdir().unwrap();
    let studio = open(dir.path());
    studio.add(1).await;
    let neighbour = (2..).find(|n| studio.client(*n).bytes()[0] == studio.client(1).bytes()[0]);
    let client = studio.client(neighbour.unwrap());
    // Wrapped before the erasure, committed after it: refused, since the old key is destroyed.
    let mut snap = studio.store.snapshot().await.unwrap();
    let mut entropy = test_entropy(6);
    let issue = studio.keyring.issue(&mut snap, &client, at(1), &mut entropy).await.unwrap();
    studio.erase(dir.path(), 1).await;
    let late = studio.store.commit(issue.add_to(Batch::new())).await;
    assert!(matches!(late, Err(StoreError::Conflict { .. })), "{late:?}");
    studio.add(neighbour.unwrap()).await;
    assert!(studio.reads(neighbour.unwrap()).await);
    // And a client erased before may come back, with a new key.
    studio.add(1).await;
    assert!(studio.reads(1).await);
    studio.close().await;
}

#[tokio::test]
async fn a_new_studio_key_opens_everything_and_the_old_one_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let studio = open(dir.path());
    studio.add(1).await;
    let backup = studio.backup(dir.path(), 1).await;
    let before = fs::read(dir.path().join("store/db")).unwrap();
    let (old, new) = (studio.keyring.studio_key(), StudioKey::new([9; 32]));
    let mut entropy = test_entropy(8);
    let folder = dir.path().join(backup::FOLDER);
    let (both, file) = ((&old, &new), KeyStorage::File);
    let of = (&studio.store, &studio.keyring);
    let done = backup::change_studio_key(of, &folder, both, file, &mut entropy).await;
    assert_eq!(done.unwrap(), Vec::<String>::new());
    assert_eq!(fs::read(dir.path().join("store/db")).unwrap(), before, "records were rewritten");
    studio.close().await;

    assert!(Keyring::open(dir.path(), old.clone(), &mut entropy).is_err());
    let studio = open(dir.path());
    assert!(studio.reads(1).await);
    studio.close().await;
    for (key, restores) in [(old, false), (new, true)] {
        let target = dir.path().join("restored");
        let studio = (key, KeyStorage::File);
        let config = config(&target);
        let done = backup::restore(&backup.path, &target, &config, studio, &mut entropy).await;
        assert_eq!(done.is_ok(), restores);
    }
}

/// Wherever a change of the studio's key is cut short: everything opens at the next start, the
/// backups too, and in the end one key is there.
#[tokio::test]
async fn a_change_of_the_studio_key_cut_short_is_finished_or_undone() {
    for (case, began, rekeyed) in [
        ("the new key was written", false, false),
        ("the key ring is sealed anew", true, false),
        ("the keys of the backups too", true, true),
    ] {
        let dir = tempfile::tempdir().unwrap();
        let folder = dir.path().join(backup::FOLDER);
        let studio = open(dir.path());
        studio.add(1).await;
        let backup = studio.backup(dir.path(), 1).await;
        let mut entropy = test_entropy(8);
        let key_file = dir.path().join("studio-key");
        let (old, new) = (studio.keyring.studio_key(), StudioKey::new([9; 32]));
        new.write(&dir.path().join("studio-key.next")).unwrap();
        if began {
            let file = KeyStorage::File;
            let (store, keyring) = (&studio.store, &studio.keyring);
            keyring.begin_change(store, new.clone(), file, &mut entropy).await.unwrap();
        }
        if rekeyed {
            // As if it had been cut short between the last two steps.
            backup::finish_change(&studio.keyring, &folder, &mut entropy).unwrap();
            old.write(&key_file).unwrap();
            new.write(&dir.path().join("studio-key.next")).unwrap();
        }
        studio.close().await;
        let studio = open(dir.path());
        assert!(studio.reads(1).await, "{case}");
        erasure::settle(&studio.store, &studio.keyring, &folder, &mut entropy).await.unwrap();
        let left = if began { new } else { old };
        assert_eq!(studio.keyring.studio_key().name(), left.name(), "{case}");
        let kept = StudioKey::read(&key_file).unwrap().unwrap();
        assert_eq!(kept.name(), left.name(), "{case}");
        assert!(!dir.path().join("studio-key.next").exists(), "{case}");
        studio.close().await;
        let target = dir.path().join("restored");
        let (studio, config) = ((left, KeyStorage::File), config(&target));
        backup::restore(&backup.path, &target, &config, studio, &mut entropy).await.unwrap();
    }
}

#[tokio::test]
async fn a_lost_key_ring_is_told() {
    let dir = tempfile::tempdir().unwrap();
    let studio = open(dir.path());
    studio.add(1).await;
    studio.close().await;
    fs::remove_file(dir.path().join("keyring")).unwrap();
    let studio = open(dir.path());
    let settled =
        erasure::settle(&studio.store, &studio.keyring, dir.path(), &mut test_entropy(1)).await;
    assert!(matches!(settled, Err(erasure::EraseError::Keyring(KeyringError::Missing))));
    studio.close().await;
}

#[tokio::test]
async fn an_export_comes_back_as_it_was() {
    let dir = tempfile::tempdir().unwrap();
    let studio = open(&dir.path().join("data"));
    for n in 0..450 {
        studio.add(n).await;
    }
    let odd = Batch::new()
        .put(RECORDS, "json", r#"{"v":1, "kind":"odd","data":{"n":1.50,"z":1e3}}"#)
        .put(RECORDS, [0, 255, 10], [0, 1, 2, 255])
        .put(RECORDS, "long", vec![b'x'; 100_000])
        .put(Space::new("records-by-number"), "entry", "");
    studio.store.commit(odd).await.unwrap();
    let path = dir.path().join("etui.jsonl");
    let mut entropy = test_entropy(2);
    let at = "2026-03-01T10:00:00Z";
    let exported = dump::export(&studio.store, &studio.keyring, &path, at, &mut entropy).await;
    let exported = exported.unwrap();
    let key = studio.keyring.studio_key();
    studio.close().await;

    let target = dir.path().join("copy");
    let import = async |key| {
        let mut entropy = test_entropy(3);
        let studio = (key, KeyStorage::File);
        dump::import(&path, &target, &config(&target), studio, &mut entropy).await
    };
    let imported = import(key.clone()).await.unwrap();
    assert_eq!(imported.content_sha256, exported.content_sha256);
    assert_eq!((imported.records, imported.client_keys), (454, 450));
    assert_eq!(imported.exported_at, at);
    assert!(matches!(import(key.clone()).await, Err(dump::ImportError::NotEmpty { .. })));
    let copy = open(&target);
    assert!(copy.reads(449).await);
    let report = verify::verify(&copy.store, Some(&copy.keyring), vec![], &[]).await.unwrap();
    assert!(report.is_sound(), "{:?}", report.listed);
    copy.close().await;
    fs::remove_dir_all(&target).unwrap();

    // A touched export is refused, and nothing is left behind.
    let good = fs::read_to_string(&path).unwrap();
    let lines: Vec<&str> = good.lines().collect();
    let without = |n: usize| [&lines[..n], &lines[n + 1..]].concat().join("\n");
    for (case, text) in [
        ("a row missing", without(5)),
        ("the footer missing", without(lines.len() - 1)),
        ("the header missing", without(0)),
        ("a letter changed", good.replacen("records", "recordz", 1)),
        ("cut short", good[..good.len() / 2].to_owned()),
        ("empty", String::new()),
        ("newer", good.replacen(r#""schema":1"#, r#""schema":9"#, 1)),
    ] {
        fs::write(&path, text).unwrap();
        let refused = import(key.clone()).await;
        assert!(refused.is_err(), "{case}");
        assert!(!target.exists() && !dir.path().join("copy.importing").exists(), "{case}");
    }
}

#[tokio::test]
async fn backups_are_dated_kept_and_expired() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join(backup::FOLDER);
    let studio = open(dir.path());
    let day = |day| {
        let at = jiff::civil::date(2026, 3, day).at(10, 0, 0, 0);
        jiff::tz::TimeZone::UTC.to_timestamp(at).unwrap()
    };
    let daily = jiff::SignedDuration::from_hours(24);
    assert!(backup::is_due(&folder, day(1), daily).unwrap());
    for n in 1..=5 {
        studio.backup(dir.path(), n).await;
    }
    assert!(!backup::is_due(&folder, day(5), daily).unwrap());
    assert!(backup::is_due(&folder, day(6), daily).unwrap());
    let expired = |keep_last, keep_days: i64| {
        let keep_for = jiff::SignedDuration::from_hours(24 * keep_days);
        let retention = backup::Retention { keep_last, keep_for };
        backup::expired(&folder, day(10), retention).unwrap()
    };
    for (keep_last, keep_days, want) in
        [(0, 0, 5), (2, 0, 3), (0, 6, 3), (1, 6, 3), (4, 6, 1), (9, 0, 0)]
    {
        let found = expired(keep_last, keep_days).len();
        assert_eq!(found, want, "keep the last {keep_last} and {keep_days} days");
    }
    for gone in expired(2, 0) {
        backup::remove(&gone).unwrap();
    }
    let left = backup::list(&folder).unwrap();
    assert_eq!(left.iter().map(|b| b.at).collect::<Vec<_>>(), [day(4), day(5)]);
    assert_eq!(files::entries(&folder).unwrap().len(), 4, "two backups with their keys");
    studio.close().await;
}
