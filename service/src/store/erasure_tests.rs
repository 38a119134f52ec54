//! What becomes of others when clients are erased and come back: nothing.
//!
//! The law is tried on random sequences over a model that knows nothing of
//! keys: what was put under a client since its last erasure is read, what was
//! put before is erased, and no step on one client shows in what is read of
//! another.

use std::{
    collections::BTreeMap,
    path::Path,
    sync::{
        Arc,
        atomic::{AtomicUsize, Ordering},
    },
};

use jiff::{SignedDuration, Timestamp};
use proptest::{prelude::*, test_runner::TestRunner};

use crate::laws;

use super::{
    Batch, EmbeddedStore, Identity, Keyring, MemoryStore, Read, Sealed, Serve, Space, Store,
    StoreConfig, StoreError, StudioKey,
    erasure::{self, Erasure},
    keyring::KeyringError,
    receipts::Receipt,
    seal::{self, ClientId, ClientKey, NoEntropy, SealError, test_entropy},
    shared::{RING, SHARED},
};

const RECORDS: Space = Space::new("records");

/// One thing that happens to one of a few clients.
#[derive(Debug, Clone, Copy)]
enum Step {
    Put(u8),
    Erase(u8),
    /// Some of the eight together: those whose bits are set.
    EraseAll(u8),
    /// A start of the service, after whatever the crash left.
    Settle,
}

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let step = prop_oneof![
        5 => (0..8_u8).prop_map(Step::Put),
        3 => (0..8_u8).prop_map(Step::Erase),
        2 => any::<u8>().prop_map(Step::EraseAll),
        1 => Just(Step::Settle),
    ];
    proptest::collection::vec(step, 1..16)
}

/// Clients whose ids fall into two buckets only, so that most are neighbours.
fn client(n: u8) -> ClientId {
    let mut id = [n; 32];
    id[0] = n % 2;
    ClientId::new(id)
}

fn now(step: usize) -> Timestamp {
    Timestamp::UNIX_EPOCH + SignedDuration::from_hours(i64::try_from(step).unwrap())
}

fn identity<'a>(client: &'a ClientId, record: &'a [u8]) -> Identity<'a> {
    Identity { client, space: RECORDS, key: record, field: "said" }
}

fn keyring(dir: &Path) -> Keyring {
    let mut entropy = test_entropy(1);
    let studio = StudioKey::find_or_make(dir, None, &mut entropy).unwrap();
    Keyring::open(dir, studio, &mut entropy).unwrap()
}

/// The key of a client as a service would get it: a view that is too old is taken anew.
async fn key_of<S: Store>(
    store: &S,
    keyring: &Keyring,
    client: &ClientId,
) -> Result<Option<ClientKey>, KeyringError> {
    loop {
        let mut snap = store.snapshot().await?;
        match keyring.key_of(&mut snap, client).await {
            Err(KeyringError::Renewed) => {}
            held => return Ok(held?.map(|held| held.key)),
        }
    }
}

/// Puts a record under a client, with a key if there is none.
async fn put<S: Store>(
    store: &S,
    keyring: &Keyring,
    client: &ClientId,
    record: &[u8],
    at: Timestamp,
    entropy: &mut seal::Entropy<'_>,
) {
    loop {
        let mut snap = store.snapshot().await.unwrap();
        let (key, guard) = match keyring.key_of(&mut snap, client).await {
            Ok(Some(held)) => {
                let (space, key, value) = held.expect;
                (held.key, Batch::new().expect(space, key, value))
            }
            Ok(None) => {
                let issue = keyring.issue(&mut snap, client, at, entropy).await.unwrap();
                (issue.key.clone(), issue.add_to(Batch::new()))
            }
            Err(KeyringError::Renewed) => continue,
            Err(error) => panic!("{error}"),
        };
        let sealed = key.seal(&identity(client, record), record, entropy).unwrap();
        match store.commit(guard.put(RECORDS, record, sealed.bytes())).await {
            Ok(()) => return,
            Err(StoreError::Conflict { .. }) => {}
            Err(error) => panic!("{error}"),
        }
    }
}

/// A batch that is refused.
fn impossible() -> Batch {
    Batch::new().expect(RECORDS, b"never".to_vec(), Some(b"put".to_vec()))
}

async fn erase<S: Store>(
    store: &S,
    keyring: &Keyring,
    dir: &Path,
    client: ClientId,
    (name, at): (&str, Timestamp),
    entropy: &mut seal::Entropy<'_>,
) -> Receipt {
    let erasure = Erasure { client, receipt_id: name.to_owned(), at, batch: Batch::new() };
    let folder = dir.join("backups");
    let erased = erasure::erase_all(store, keyring, &folder, vec![erasure], entropy).await;
    erased.unwrap().remove(0).unwrap()
}

/// Whether a record is read; `false` if it was erased.
async fn reads<S: Store>(store: &S, keyring: &Keyring, client: &ClientId, record: &[u8]) -> bool {
    let bytes = store.snapshot().await.unwrap().get(RECORDS, record).await.unwrap().unwrap();
    let Some(key) = key_of(store, keyring, client).await.unwrap() else { return false };
    match key.open(&identity(client, record), &Sealed::from_bytes(bytes)) {
        Ok(value) => value == record,
        Err(SealError::OtherKey) => false,
        Err(error) => panic!("{error}"),
    }
}

/// Runs a sequence and holds what is read against the model after each step.
async fn obeys<S: Store>(store: &S, dir: &Path, steps: &[Step]) {
    let keyring = keyring(dir);
    let mut entropy = test_entropy(2);
    let mut model: BTreeMap<Vec<u8>, (u8, bool)> = BTreeMap::new();
    for (at, step) in steps.iter().enumerate() {
        match *step {
            Step::Put(n) => {
                let record = format!("record-{at}").into_bytes();
                put(store, &keyring, &client(n), &record, now(at), &mut entropy).await;
                model.insert(record, (n, true));
            }
            Step::Erase(n) => {
                let name = format!("receipt-{at}");
                let had = model.values().any(|(of, kept)| *of == n && *kept);
                let receipt =
                    erase(store, &keyring, dir, client(n), (&name, now(at)), &mut entropy).await;
                assert_eq!((receipt.had_key, receipt.complete), (had, true), "{steps:?}");
                for (of, kept) in model.values_mut() {
                    *kept &= *of != n;
                }
            }
            Step::EraseAll(some) => {
                let some: Vec<u8> = (0..8).filter(|n| some >> n & 1 == 1).collect();
                let erasures = some.iter().map(|n| Erasure {
                    client: client(*n),
                    receipt_id: format!("receipt-{at}-{n}"),
                    at: now(at),
                    // One of them in vain: what it expects was never there.
                    batch: if *n == 3 { impossible() } else { Batch::new() },
                });
                let (erasures, folder) = (erasures.collect(), dir.join("backups"));
                let done =
                    erasure::erase_all(store, &keyring, &folder, erasures, &mut entropy).await;
                for (n, outcome) in some.iter().zip(done.unwrap()) {
                    if *n == 3 {
                        assert!(matches!(outcome, Err(StoreError::Conflict { .. })), "{steps:?}");
                        continue;
                    }
                    let had = model.values().any(|(of, kept)| of == n && *kept);
                    let receipt = outcome.unwrap();
                    assert_eq!((receipt.had_key, receipt.complete), (had, true), "{steps:?}");
                    for (of, kept) in model.values_mut() {
                        *kept &= of != n;
                    }
                }
            }
            Step::Settle => {
                let folder = dir.join("backups");
                let settled = erasure::settle(store, &keyring, &folder, &mut entropy).await;
                assert_eq!(settled.unwrap(), [], "{steps:?}");
            }
        }
        for (record, (of, kept)) in &model {
            let found = reads(store, &keyring, &client(*of), record).await;
            assert_eq!(found, *kept, "client {of} after step {at} of {steps:?}");
        }
    }
    assert_eq!(keyring.lost(), 0);
}

fn runtime() -> tokio::runtime::Runtime {
    tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap()
}

/// Key rings are written through to the disk; a disk in memory is faster.
fn folder() -> tempfile::TempDir {
    tempfile::tempdir_in("/dev/shm").or_else(|_| tempfile::tempdir()).unwrap()
}

fn try_many(cases: u32, run: impl Fn(Vec<Step>)) {
    let config = ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() };
    TestRunner::new(config)
        .run(&steps(), |steps| {
            run(steps);
            Ok(())
        })
        .unwrap();
}

/// 200 sequences, or `ETUI_LAW_CASES`.
#[test]
fn no_step_on_one_client_shows_in_another() {
    let runtime = runtime();
    try_many(laws::cases(200), |steps| {
        let dir = folder();
        runtime.block_on(obeys(&MemoryStore::new(), dir.path(), &steps));
    });
}

/// 20 sequences, or `ETUI_LAW_CASES`.
#[test]
fn nor_in_the_embedded_store() {
    let runtime = runtime();
    try_many(laws::cases(20), |steps| {
        let dir = folder();
        runtime.block_on(async {
            let config = StoreConfig { min_free_bytes: 0, ..StoreConfig::new(dir.path()) };
            let (store, _) = EmbeddedStore::open(config).unwrap();
            obeys(&store, dir.path(), &steps).await;
            store.close().await.unwrap();
        });
    });
}

/// Sixteen writers bring new clients into the bucket in which others are erased. Every erasure
/// ends, and every client that was acknowledged can be read.
#[test]
fn erasures_end_beside_writers_of_new_clients_in_the_same_bucket() {
    const WRITERS: usize = 16;
    const ERASED: usize = 20;
    /// Each erasure wraps all of its bucket anew, so the bucket must stay small.
    const MOST: usize = 40;
    let dir = folder();
    let ring = Arc::new(keyring(dir.path()));
    let id = |writer: usize, n: usize| {
        let mut id = [0; 32];
        id[1..9].copy_from_slice(&(writer as u64).to_be_bytes());
        id[9..17].copy_from_slice(&(n as u64).to_be_bytes());
        ClientId::new(id)
    };
    let name = |writer: usize, n: usize| format!("{writer}/{n}").into_bytes();
    runtime().block_on(async {
        let store = Arc::new(MemoryStore::new());
        let mut entropy = chance();
        for n in 0..ERASED {
            put(&*store, &ring, &id(99, n), &name(99, n), now(0), &mut entropy).await;
        }
        let left = Arc::new(AtomicUsize::new(ERASED));
        let mut writers = tokio::task::JoinSet::new();
        for writer in 0..WRITERS {
            let (store, ring, left) = (store.clone(), ring.clone(), left.clone());
            writers.spawn(async move {
                let mut written = 0;
                let mut entropy = chance();
                while written < MOST && 0 < left.load(Ordering::Relaxed) {
                    let (client, record) = (id(writer, written), name(writer, written));
                    put(&*store, &ring, &client, &record, now(1), &mut entropy).await;
                    written += 1;
                    tokio::task::yield_now().await;
                }
                (writer, written)
            });
        }
        for n in 0..ERASED {
            let told = (format!("receipt-{n}"), now(2));
            let told = (told.0.as_str(), told.1);
            let receipt = erase(&*store, &ring, dir.path(), id(99, n), told, &mut entropy).await;
            assert!(receipt.had_key && receipt.complete);
            left.fetch_sub(1, Ordering::Relaxed);
        }
        while let Some(ended) = writers.join_next().await {
            let (writer, written) = ended.unwrap();
            for n in 0..written {
                assert!(reads(&*store, &ring, &id(writer, n), &name(writer, n)).await);
            }
        }
        for n in 0..ERASED {
            assert!(!reads(&*store, &ring, &id(99, n), &name(99, n)).await);
        }
    });
    assert_eq!(ring.lost(), 0);
}

/// Bytes that differ between tasks; how good they are does not matter here.
fn chance() -> impl FnMut(&mut [u8]) -> Result<(), NoEntropy> + Send {
    static TASKS: AtomicUsize = AtomicUsize::new(0);
    test_entropy(u8::try_from(TASKS.fetch_add(1, Ordering::Relaxed) % 256).unwrap())
}

/// A key that was lost costs nobody else anything: neighbours are erased, and copies are made.
#[test]
fn a_lost_key_is_the_loss_of_its_client_alone() {
    let dir = folder();
    let ring = keyring(dir.path());
    let store = MemoryStore::new();
    let mut entropy = test_entropy(3);
    runtime().block_on(async {
        for n in [0, 2, 4] {
            put(&store, &ring, &client(n), &[n], now(0), &mut entropy).await;
        }
        let damaged = Batch::new().put(super::keyring::CLIENT_KEYS, client(2).bytes(), "damaged");
        store.commit(damaged).await.unwrap();
        let receipt =
            erase(&store, &ring, dir.path(), client(0), ("a", now(1)), &mut entropy).await;
        assert!(receipt.complete);
        assert!(reads(&store, &ring, &client(4), &[4]).await);
        assert_eq!(ring.lost(), 1, "and it is told");
        // The client whose key was lost can be forgotten, and comes back like any other.
        let receipt =
            erase(&store, &ring, dir.path(), client(2), ("b", now(2)), &mut entropy).await;
        assert!(receipt.had_key);
        assert_eq!(ring.lost(), 0);
        put(&store, &ring, &client(2), &[22], now(3), &mut entropy).await;
        assert!(reads(&store, &ring, &client(2), &[22]).await);
        assert!(!reads(&store, &ring, &client(2), &[2]).await);
    });
}

/// What the first builds sealed does not name its key. It opens under it, and under a later key
/// it is told as erased if it is older.
#[test]
fn what_does_not_name_its_key_is_told_by_its_time() {
    let (who, record) = (client(1), b"former".as_slice());
    let bound = |identity: &Identity<'_>| {
        let parts = [identity.client.bytes().as_slice(), b"records", identity.key, b"said"];
        parts.iter().fold(Vec::new(), |mut all, part| {
            all.extend_from_slice(&(part.len() as u64).to_be_bytes());
            all.extend_from_slice(part);
            all
        })
    };
    let here = identity(&who, record);
    let bytes = seal::seal(&[7; 32], &bound(&here), b"said", &mut test_entropy(4)).unwrap();
    let sealed = Sealed::from_bytes(bytes);
    assert!(sealed.is_former());
    assert_eq!(ClientKey::new([7; 32], None).open(&here, &sealed).unwrap(), b"said");
    let later = ClientKey::new([8; 32], Some(now(5)));
    assert_eq!(later.open(&here, &sealed), Err(SealError::Unopened));
    // Also where the clock stood ahead when it was sealed: such a key has every value name it.
    for (sealed_at, younger) in [(now(4), true), (now(5), true), (now(6), false)] {
        assert_eq!(later.is_younger_than(sealed_at), younger, "{sealed_at}");
        assert!(later.is_after_former(sealed_at), "{sealed_at}");
    }
    // A key of a first build does not know when it was issued: then the receipt tells.
    let dir = folder();
    let ring = keyring(dir.path());
    let mut entropy = test_entropy(5);
    let former =
        super::keyring::wrap(&ring.current(1), &who, &ClientKey::new([8; 32], None), &mut entropy);
    let former = former.unwrap();
    assert!(!ring.unwrap(&who, &former).unwrap().is_after_former(now(4)));
    ring.note_erased(&who, now(5));
    assert!(ring.unwrap(&who, &former).unwrap().is_after_former(now(4)));
    assert!(!ring.unwrap(&who, &former).unwrap().is_after_former(now(6)));
}

/// Two processes on one store, each with its own copy of the ring: they erase by turns and at the
/// same time, new clients come in between, and nobody else loses anything.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_key_rings_of_one_store() {
    let store = MemoryStore::new();
    let (first_dir, second_dir) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let first = keyring(first_dir.path());
    first.move_into(&store, &mut test_entropy(3)).await.unwrap();
    assert!(!first_dir.path().join(super::keyring::FILE).exists());
    let key = std::fs::read_to_string(first_dir.path().join("studio-key")).unwrap();
    let again = || async {
        let row = store.snapshot().await.unwrap().get(SHARED, RING).await.unwrap().unwrap();
        Keyring::of_row(second_dir.path(), Some(&key), &row).unwrap()
    };
    let second = again().await;
    let both = [(&first, first_dir.path()), (&second, second_dir.path())];
    let id = |n: u8| ClientId::new([0, n].repeat(16).try_into().unwrap());
    let record = |n: u8| format!("record-{n}").into_bytes();
    let mut entropy = test_entropy(4);
    for n in 0..60 {
        let (keyring, _) = both[usize::from(n % 2)];
        put(&store, keyring, &id(n), &record(n), now(0), &mut entropy).await;
    }
    for n in 0..20 {
        let erase_at = async |at: usize| {
            let n = 2 * n + u8::try_from(at).unwrap();
            let (keyring, dir) = both[(at + usize::from(n)) % 2];
            let told = (&*format!("{n}"), now(usize::from(n) + 1));
            erase(&store, keyring, dir, id(n), told, &mut test_entropy(n + 9)).await
        };
        let (a, b) = futures_util::future::join(erase_at(0), erase_at(1)).await;
        assert!(a.complete && b.complete && a.had_key && b.had_key);
        // Whoever comes now, at either, is not left out of the next one.
        let (keyring, _) = both[usize::from(n % 2)];
        put(&store, keyring, &id(100 + n), &record(100 + n), now(99), &mut entropy).await;
    }
    let third = again().await;
    for keyring in [&first, &second, &third] {
        for n in (0..60).chain(100..120) {
            let is_read = reads(&store, keyring, &id(n), &record(n)).await;
            assert_eq!(is_read, 40 <= n, "client {n}");
        }
        assert_eq!(keyring.lost(), 0);
    }
    // One who comes back does not open what was sealed before, whichever process she comes to.
    put(&store, &second, &id(1), b"back", Timestamp::UNIX_EPOCH, &mut entropy).await;
    for keyring in both.map(|(keyring, _)| keyring) {
        assert!(!reads(&store, keyring, &id(1), &record(1)).await);
        assert!(reads(&store, keyring, &id(1), b"back").await);
    }
    let wrong = Keyring::of_row(second_dir.path(), Some(&"0a".repeat(32)), &{
        store.snapshot().await.unwrap().get(SHARED, RING).await.unwrap().unwrap()
    });
    assert!(
        wrong.is_err_and(|error| error.to_string().contains("was sealed under the studio key"))
    );
}
