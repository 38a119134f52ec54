//! On a server of the tests' own, where one is installed.

use std::{
    collections::BTreeMap,
    sync::{
        Arc,
        atomic::{AtomicUsize, Ordering},
    },
    time::Duration,
};

use proptest::prelude::*;

use super::*;
use crate::store::{
    AUDIT, AuditEntry, Bytes, Op, Order, Outgoing, Read, Space, Walk,
    audit::{self, AUDIT_HEAD},
    conformance,
    database::NOTE,
    outbox::{self, EVENT_HEAD},
    shared,
};

#[path = "../../../../tests/src/database.rs"]
#[expect(dead_code, unreachable_pub, reason = "shared with the harness of the black-box tests")]
mod server;

use self::server::Server;

const SPACE: Space = Space::new("space");

fn database(address: String) -> Database {
    Database { address, password: None, root: None }
}

/// A store in a schema of its own; `None` where no server is installed.
async fn fresh() -> Option<(PostgresStore, Database)> {
    Some(fresh_on(Server::shared()?).await)
}

async fn fresh_on(server: &Server) -> (PostgresStore, Database) {
    let database = database(server.schema().1);
    init(&database, None).await.unwrap();
    (PostgresStore::open(&database, None, Entry::Alone).await.unwrap(), database)
}

/// A server whose connections may be cut without harm to other tests.
fn own_server() -> Option<Server> {
    Server::shared()?;
    Some(Server::start(&server::installed()?).unwrap())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn it_conforms() {
    let Some((store, _)) = fresh().await else { return };
    conformance::check(Arc::new(store.clone())).await;
    assert_eq!(store.health(), Health::Ready);
    store.close().await.unwrap();
    assert_eq!(store.health(), Health::Closed);
    assert_eq!(store.commit(Batch::new()).await, Err(StoreError::Stopping));
}

/// Two handles of one database, as two processes have them: what is asked goes to one and the other.
#[derive(Clone)]
struct Pair {
    both: [PostgresStore; 2],
    turn: Arc<AtomicUsize>,
}

impl Pair {
    async fn on(database: &Database) -> Self {
        let first = PostgresStore::open(database, None, Entry::Beside).await.unwrap();
        assert!(first.is_alone());
        first.let_in().await.unwrap();
        let second = PostgresStore::open(database, None, Entry::Beside).await.unwrap();
        assert!(!second.is_alone());
        Self { both: [first, second], turn: Arc::default() }
    }

    fn next(&self) -> &PostgresStore {
        &self.both[self.turn.fetch_add(1, Ordering::SeqCst) % 2]
    }
}

impl Store for Pair {
    type Snap = PostgresSnap;

    async fn commit(&self, batch: Batch) -> Result<(), StoreError> {
        self.next().commit(batch).await
    }

    async fn snapshot(&self) -> Result<PostgresSnap, StoreError> {
        self.next().snapshot().await
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_conform_as_one() {
    let Some(server) = Server::shared() else { return };
    let database = database(server.schema().1);
    init(&database, None).await.unwrap();
    let pair = Pair::on(&database).await;
    conformance::check(Arc::new(pair.clone())).await;
    let [first, second] = &pair.both;
    // What one wrote wakes whoever waits at the other, and is seen by a look that began later.
    let mut grown = second.grown();
    grown.borrow_and_update();
    for n in 0..20_u64 {
        let (space, key) = shared::TOKENS;
        first.commit(Batch::new().put(space, key, outbox::key(n))).await.unwrap();
        let looked = second.look().await.unwrap().unwrap();
        assert_eq!(looked[1], Some(outbox::key(n)));
    }
    tokio::time::timeout(Duration::from_secs(5), grown.changed()).await.unwrap().unwrap();
    let entry = AuditEntry {
        at: "2027-03-16T08:00:00Z".into(),
        who: "owner".into(),
        what: "lot.adjust".into(),
        record: "lots/1".into(),
        version: 1,
    };
    for _ in 0..40 {
        pair.commit(Batch::new().audit(entry.clone())).await.unwrap();
    }
    let mut snap = pair.snapshot().await.unwrap();
    let links = snap.scan(AUDIT, vec![]..vec![], Order::Ascending, 99).await.unwrap();
    let mut chain = audit::Head::default();
    for (_, link) in &links {
        chain.follow(&serde_json::from_slice(link).unwrap()).unwrap();
    }
    assert_eq!(chain.number, 40);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn who_comes_alone_waits_for_the_others() {
    let Some(server) = Server::shared() else { return };
    let database = database(server.schema().1);
    init(&database, None).await.unwrap();
    let first = PostgresStore::open(&database, None, Entry::Beside).await.unwrap();
    // Nobody comes beside the first before it has done what is done once.
    let beside = tokio::spawn({
        let database = database.clone();
        async move { PostgresStore::open(&database, None, Entry::Beside).await }
    });
    tokio::time::sleep(Duration::from_millis(700)).await;
    assert!(!beside.is_finished());
    first.let_in().await.unwrap();
    let second = beside.await.unwrap().unwrap();
    let alone = PostgresStore::open(&database, None, Entry::Alone).await.map(drop);
    assert_eq!(alone, Err(DatabaseError::InUse));
    first.close().await.unwrap();
    second.close().await.unwrap();
    PostgresStore::open(&database, None, Entry::Alone).await.unwrap();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_lead_is_one_and_changes_hands() {
    let Some(own) = own_server() else { return };
    let database = database(own.schema().1);
    init(&database, None).await.unwrap();
    let Pair { both: [first, second], .. } = Pair::on(&database).await;
    let mine = first.lead().await;
    assert!(first.leads() && !second.leads());
    mine.commit(Batch::new().put(SPACE, "a", "1")).await.unwrap();
    // Its connection is cut: the other has the lead, and what was begun under the old one is refused.
    let holder = "SELECT pid FROM pg_locks WHERE locktype = 'advisory' AND mode = 'ExclusiveLock'";
    let other = format!(
        "SELECT DISTINCT pid FROM pg_locks WHERE locktype = 'advisory' AND pid NOT IN ({holder})"
    );
    let other = own.sql(&other).unwrap();
    let cut =
        format!("SELECT pg_terminate_backend(pid) FROM ({holder} AND pid <> {other}) AS held");
    let began = std::time::Instant::now();
    while !second.leads() {
        own.sql(&cut).unwrap();
        tokio::time::sleep(Duration::from_millis(20)).await;
        assert!(began.elapsed() < Duration::from_secs(30), "nobody takes the lead over");
    }
    let told = mine.commit(Batch::new().put(SPACE, "a", "2")).await;
    assert!(matches!(told, Err(StoreError::Unavailable(_))), "{told:?}");
    mine.over().await;
    let theirs = second.lead().await;
    theirs.commit(Batch::new().put(SPACE, "a", "3")).await.unwrap();
    // A write that is nobody's work alone goes on at both.
    let began = std::time::Instant::now();
    while first.commit(Batch::new().put(SPACE, "b", "1")).await.is_err() {
        tokio::time::sleep(Duration::from_millis(50)).await;
        assert!(began.elapsed() < Duration::from_secs(20));
    }
    let mut snap = first.snapshot().await.unwrap();
    assert_eq!(snap.get(SPACE, b"a").await, Ok(Some(b"3".to_vec())));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_guard_is_had_again() {
    let Some(own) = own_server() else { return };
    let (store, _) = fresh_on(&own).await;
    store.commit(Batch::new().put(SPACE, "a", "1")).await.unwrap();
    // Every connection, those that lie idle too.
    let cut =
        "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name = 'etui'";
    own.sql(cut).unwrap();
    let began = std::time::Instant::now();
    while let Err(error) = store.commit(Batch::new().put(SPACE, "a", "2")).await {
        assert!(matches!(error, StoreError::Unavailable(_)), "{error}");
        assert!(began.elapsed() < std::time::Duration::from_secs(20), "{error}");
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    let mut snap = store.snapshot().await.unwrap();
    assert_eq!(snap.get(SPACE, b"a").await, Ok(Some(b"2".to_vec())));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_is_not_ready_is_refused() {
    let Some(server) = Server::shared() else { return };
    let (name, address) = server.schema();
    let database = database(address);
    let open = async || PostgresStore::open(&database, None, Entry::Alone).await.map(drop);
    assert_eq!(open().await, Err(DatabaseError::NoLayout));
    assert_eq!(init(&database, None).await, Ok(0));
    assert_eq!(init(&database, None).await, Ok(1), "twice does no harm");
    for (change, want) in [
        ("state = 'importing'", Err(DatabaseError::Importing)),
        ("state = 'ready', version = 2", Err(DatabaseError::Newer { found: 2, known: 1 })),
        ("version = 0", Err(DatabaseError::Older { found: 0, known: 1 })),
        ("version = 1", Ok(())),
    ] {
        server.sql(&format!("UPDATE {name}.layout SET {change}")).unwrap();
        assert_eq!(open().await, want, "{change}");
    }
    let away = Database { address: "postgres://owner@127.0.0.1:1/none".into(), ..database };
    let told = PostgresStore::open(&away, None, Entry::Alone).await.map(drop);
    assert!(matches!(told, Err(DatabaseError::Reach(_))), "{told:?}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_database_of_another_encoding_is_neither_prepared_nor_served() {
    let Some(server) = Server::shared() else { return };
    server.sql("CREATE DATABASE latin ENCODING 'LATIN1' TEMPLATE template0").unwrap();
    let database = database(server.address("owner", "public").replace("/postgres?", "/latin?"));
    let want = Err(DatabaseError::Server("its encoding is LATIN1; wanted: UTF8".into()));
    assert_eq!(init(&database, None).await.map(drop), want);
    assert_eq!(PostgresStore::open(&database, None, Entry::Alone).await.map(drop), want);
}

/// Whatever address leads there, and whoever has the database now.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_folder_knows_its_database_again() {
    let Some(server) = Server::shared() else { return };
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let [(own, there), (other, elsewhere)] = [server.schema(), server.schema()];
    let (there, elsewhere) = (database(there), database(elsewhere));
    for database in [&there, &elsewhere] {
        init(database, None).await.unwrap();
    }
    let keep = async |database: &Database| {
        let store = PostgresStore::open(database, None, Entry::Alone).await.unwrap();
        store.keep_in(folder).await.unwrap();
        store.close().await.unwrap();
    };
    assert_eq!(judge_folder(&there, folder).await, Ok(()), "a new folder is nobody's");
    keep(&there).await;
    assert_eq!(judge_folder(&there, folder).await, Ok(()));
    let told = judge_folder(&elsewhere, folder).await.unwrap_err().to_string();
    for word in [format!("schema `{own}`"), format!("schema `{other}`"), "--data".to_owned()] {
        assert!(told.contains(&word), "{told}");
    }
    assert!(!told.contains("owner"), "{told}");
    // It was looked at and no more.
    let state = format!("SELECT state, (SELECT count(*) FROM {other}.kv) FROM {other}.layout");
    assert_eq!(server.sql(&state).unwrap(), "empty|0");
    // The same under another name, and another under the same.
    server.sql(&format!("ALTER SCHEMA {own} RENAME TO {own}_moved")).unwrap();
    let moved = database(server.address("owner", &format!("{own}_moved")));
    assert_eq!(judge_folder(&moved, folder).await, Ok(()));
    server.sql(&format!("ALTER SCHEMA {other} RENAME TO {own}")).unwrap();
    assert!(matches!(judge_folder(&there, folder).await, Err(DatabaseError::OtherFolder { .. })));
    // Former builds noted the address, and their databases have no name.
    let note = folder.join(NOTE);
    std::fs::write(&note, &there.address).unwrap();
    assert_eq!(judge_folder(&there, folder).await, Ok(()));
    std::fs::write(&note, there.address.replace("owner@", "clerk@")).unwrap();
    assert_eq!(judge_folder(&there, folder).await, Ok(()));
    for strange in [moved.address.as_str(), "", "no address"] {
        std::fs::write(&note, strange).unwrap();
        assert!(judge_folder(&there, folder).await.is_err(), "{strange}");
    }
    // Who takes the note away says that it is meant.
    std::fs::remove_file(&note).unwrap();
    keep(&there).await;
    assert_eq!(judge_folder(&there, folder).await, Ok(()));
    assert!(judge_folder(&moved, folder).await.is_err());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_role_of_the_service_can_do_its_work_and_no_more() {
    let Some(server) = Server::shared() else { return };
    let (name, address) = server.schema();
    server.sql("DROP ROLE IF EXISTS clerk; CREATE ROLE clerk LOGIN").unwrap();
    server.sql(&format!("GRANT USAGE ON SCHEMA {name} TO clerk")).unwrap();
    init(&database(address), Some("clerk")).await.unwrap();
    let store = PostgresStore::open(&database(server.address("clerk", &name)), None, Entry::Alone)
        .await
        .unwrap();
    store.commit(Batch::new().put(SPACE, "a", "1")).await.unwrap();
    store.commit(Batch::new().put(SPACE, "a", "2").del(SPACE, "b")).await.unwrap();
    store.snapshot().await.unwrap().spaces().await.unwrap();
    for forbidden in [
        "CREATE TABLE mine (n int)",
        "DROP TABLE kv",
        "TRUNCATE kv",
        "UPDATE journal SET event = 0",
        "DELETE FROM journal",
        "ALTER TABLE kv ADD COLUMN n int",
    ] {
        let tried = format!("SET search_path = {name}; SET ROLE clerk; {forbidden}");
        assert!(server.sql(&tried).is_err(), "{forbidden}");
    }
    store.close().await.unwrap();
    server.sql("DROP OWNED BY clerk; DROP ROLE clerk").unwrap();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn heads_are_rows_as_elsewhere() {
    let Some((store, database)) = fresh().await else { return };
    let memory = crate::store::MemoryStore::new();
    let entry = AuditEntry {
        at: "2027-03-16T08:00:00Z".into(),
        who: "owner".into(),
        what: "lot.adjust".into(),
        record: "lots/1".into(),
        version: 1,
    };
    for n in 1..4_u128 {
        let event = Outgoing { id: uuid::Uuid::from_u128(n), value: b"told".to_vec() };
        let batch = Batch::new().audit(entry.clone()).event(event);
        store.commit(batch.clone()).await.unwrap();
        memory.commit(batch).await.unwrap();
    }
    let moved = Batch::new().expect(EVENT_HEAD, outbox::HEAD_KEY, Some(outbox::key(3))).put(
        EVENT_HEAD,
        outbox::HEAD_KEY,
        outbox::key(4096),
    );
    store.commit(moved.clone()).await.unwrap();
    memory.commit(moved).await.unwrap();
    store.close().await.unwrap();
    drop(store);
    let store = PostgresStore::open(&database, None, Entry::Alone).await.unwrap();
    let (mut here, mut there) = (store.snapshot().await.unwrap(), memory.snapshot().await.unwrap());
    for (space, key) in [(EVENT_HEAD, outbox::HEAD_KEY), (AUDIT_HEAD, audit::HEAD_KEY)] {
        let want = there.get(space, key).await;
        assert!(matches!(want, Ok(Some(_))));
        assert_eq!(here.get(space, key).await, want, "{space}");
        assert_eq!(here.get_many(space, &[key.to_vec()]).await.unwrap(), [want.unwrap()]);
    }
    for space in [EVENT_HEAD, AUDIT_HEAD, AUDIT] {
        for order in [Order::Ascending, Order::Descending] {
            let all = Bytes::new()..Bytes::new();
            let want = there.scan(space, all.clone(), order, 9).await.unwrap();
            assert_eq!(here.scan(space, all, order, 9).await.unwrap(), want, "{space}");
        }
    }
    let spaces = here.spaces().await.unwrap();
    assert_eq!(spaces, ["_audit-head", "_event-head", "audit", "events", "events-by-id"]);
}

/// Keys of every kind, and any range of them, as a map in memory has them.
#[test]
fn bytes_are_bytes() {
    let mut runtime = tokio::runtime::Builder::new_multi_thread();
    let runtime = runtime.worker_threads(1).enable_all().build().unwrap();
    let Some((store, _)) = runtime.block_on(fresh()) else { return };
    let key = || {
        prop::collection::vec(
            prop_oneof![Just(0_u8), Just(0xff), Just(b'\''), Just(b'\\'), any::<u8>()],
            0..5,
        )
    };
    let change = (key(), prop::option::of(key()));
    let asked = (key(), key(), any::<bool>(), 0..9_usize);
    let known = std::cell::RefCell::new(BTreeMap::<Bytes, Bytes>::new());
    proptest!(ProptestConfig::with_cases(crate::laws::cases(64)), |(
        changes in prop::collection::vec(change, 1..20),
        asked in prop::collection::vec(asked, 1..10),
    )| {
        let mut known = known.borrow_mut();
        let mut batch = Batch::new();
        for (key, value) in changes {
            match value.clone() {
                Some(value) => known.insert(key.clone(), value),
                None => known.remove(&key),
            };
            batch.ops.push(match value {
                Some(value) => Op::Put(SPACE, key, value),
                None => Op::Del(SPACE, key),
            });
        }
        runtime.block_on(async {
            store.commit(batch).await.unwrap();
            let mut snap = store.snapshot().await.unwrap();
            for (start, end, down, limit) in asked {
                let range = start.clone()..end.clone();
                let order = if down { Order::Descending } else { Order::Ascending };
                let inside = |key: &Bytes| start <= *key && (end.is_empty() || *key < end);
                let mut want: Vec<_> = known
                    .iter()
                    .filter(|(key, _)| inside(key))
                    .map(|(key, value)| (key.clone(), value.clone()))
                    .collect();
                if down {
                    want.reverse();
                }
                want.truncate(limit);
                assert_eq!(snap.scan(SPACE, range, order, limit).await.unwrap(), want);
                let found = snap.get_many(SPACE, &[start.clone(), end.clone()]).await.unwrap();
                assert_eq!(found, [known.get(&start).cloned(), known.get(&end).cloned()]);
            }
        });
    });
}

/// A server with a certificate for `localhost` of a maker of our own.
fn encrypted(port: u16) -> Option<std::io::Result<Server>> {
    use std::{io, os::unix::fs::PermissionsExt, process::Command};
    let made = |folder: &Path| {
        let new = "req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 2";
        let maker = "-keyout ca.key -out ca.pem -subj /CN=maker";
        let own = "-keyout own.key -out own.pem -subj /CN=own -CA ca.pem -CAkey ca.key \
                   -addext subjectAltName=DNS:localhost -addext basicConstraints=critical,CA:FALSE";
        for told in [maker, own] {
            let mut command = Command::new("openssl");
            command.args(new.split_whitespace()).args(told.split_whitespace());
            let done = command.current_dir(folder).output()?;
            if !done.status.success() {
                return Err(io::Error::other(String::from_utf8_lossy(&done.stderr).into_owned()));
            }
        }
        let private = std::fs::Permissions::from_mode(0o600);
        std::fs::set_permissions(folder.join("own.key"), private)
    };
    let bin = server::installed()?;
    Command::new("openssl").arg("version").output().ok()?;
    let more = [
        "listen_addresses=127.0.0.1",
        "ssl=on",
        "ssl_cert_file=../own.pem",
        "ssl_key_file=../own.key",
    ];
    Some(Server::start_with(&bin, port, &more, made))
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn names_are_verified() {
    let port = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let Some(server) = encrypted(port) else {
        eprintln!("SKIPPED: no server or no openssl is installed; TLS was not tested");
        return;
    };
    let server = server.unwrap();
    server.sql("CREATE SCHEMA studio").unwrap();
    let at = |host: &str| {
        format!(
            "postgres://owner@{host}:{port}/postgres?sslmode=verify-full&options=-c%20search_path%3Dstudio"
        )
    };
    let root = Some(server.folder().join("ca.pem"));
    let known = Database { address: at("localhost"), password: None, root: root.clone() };
    init(&known, None).await.unwrap();
    let store = PostgresStore::open(&known, None, Entry::Alone).await.unwrap();
    store.commit(Batch::new().put(SPACE, "a", "1")).await.unwrap();
    let used = "SELECT bool_and(ssl) FROM pg_stat_ssl JOIN pg_stat_activity USING (pid) WHERE \
                application_name = 'etui'";
    assert_eq!(server.sql(used).unwrap(), "t");
    // The same server under a name that its certificate does not have, or with a maker nobody knows.
    let other_name = Database { address: at("127.0.0.1"), password: None, root };
    let stranger = server.folder().join("stranger.pem");
    std::fs::copy(server.folder().join("own.pem"), &stranger).unwrap();
    let unknown = Database { address: at("localhost"), password: None, root: Some(stranger) };
    for database in [other_name, unknown] {
        let told = PostgresStore::open(&database, None, Entry::Alone).await.map(drop);
        assert!(matches!(told, Err(DatabaseError::Reach(_))), "{told:?}");
    }
}
