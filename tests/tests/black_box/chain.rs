//! Several processes on one database are one service: what is changed at one holds
//! at the other when it is answered, what one does at a time is done once, and what
//! befalls one of them costs the others nothing.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::time::{Duration, Instant};

use etui_tests::child::Child;
use etui_tests::database::Server;
use etui_tests::keep_alive::Connection;
use etui_tests::receiver::{Manner, Receiver};
use etui_tests::wire::{Answer, Request, connect};
use serde_json::{Value, json};
use tempfile::TempDir;

const PROGRAM: &str = env!("CARGO_BIN_EXE_etui_under_test");
/// Events may be delivered to this machine; no backup makes itself.
pub(crate) const USUAL: &[&str] = &["--allow-private-targets", "--backup-every", "0s"];
/// The other process has taken the work over by then: the database ends the connection of one that
/// says nothing for 8 s.
const TAKEN_OVER: Duration = Duration::from_secs(25);

/// One database, and processes on it.
pub(crate) struct Chain {
    folder: TempDir,
    server: &'static Server,
    schema: String,
    address: String,
}

impl Chain {
    /// A database with its tables; `None` where no server is installed.
    pub(crate) fn new() -> Option<Self> {
        let server = Server::shared()?;
        let (schema, address) = server.schema();
        let made = Command::new(PROGRAM).args(["init", "--database", &address]).output();
        assert!(made.is_ok_and(|made| made.status.success()));
        let folder = tempfile::tempdir().expect("a temporary folder");
        Some(Self { folder, server, schema, address })
    }

    /// Two processes, of which the first does what one does at a time.
    fn both(&self) -> [Child; 2] {
        let first = self.start("a", USUAL);
        self.introduce("b");
        let second = self.start("b", USUAL);
        self.wait_for_lead(1);
        [first, second]
    }

    fn data(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn start(&self, name: &str, more: &[&str]) -> Child {
        Child::spawn_on_with(PROGRAM, &self.data(name), &self.address, more)
    }

    /// Gives another process the studio's key and the owner's token.
    pub(crate) fn introduce(&self, name: &str) {
        std::fs::create_dir(self.data(name)).expect("a folder");
        for file in ["studio-key", "owner-token"] {
            let from = self.data("a").join(file);
            std::fs::copy(from, self.data(name).join(file)).expect("a copy");
        }
    }

    /// What a start says that is refused.
    fn refused(&self, name: &str, more: &[&str], key: Option<&str>) -> String {
        let mut command = Command::new(PROGRAM);
        command.args(["serve", "--listen", "127.0.0.1:0", "--zone", "Europe/Berlin"]).args(more);
        command.arg("--data").arg(self.data(name)).args(["--database", &self.address]);
        command.envs(key.map(|key| ("ETUI_STUDIO_KEY", key)));
        let Output { status, stderr, .. } = command.output().expect("the program runs");
        assert!(!status.success());
        String::from_utf8_lossy(&stderr).into_owned()
    }

    pub(crate) fn sql(&self, question: &str) -> String {
        let question = format!("SET search_path = {}; {question}", self.schema);
        self.server.sql(&question).expect("an answer")
    }

    /// How often the work of one at a time changed hands.
    fn lead(&self) -> u64 {
        let row = self
            .sql("SELECT encode(value, 'hex') FROM kv WHERE space = '_shared' AND key = 'lead'");
        u64::from_str_radix(&row, 16).unwrap_or(0)
    }

    fn wait_for_lead(&self, times: u64) {
        let began = Instant::now();
        while self.lead() < times {
            assert!(began.elapsed() < TAKEN_OVER, "nobody has taken the work over");
            std::thread::sleep(Duration::from_millis(50));
        }
    }
}

fn made(service: &Child, path: &str, body: &Value) -> Value {
    let answer = service.call(&Request::post(path, body));
    assert_eq!(answer.status, 201, "{path}: {}", answer.text());
    answer.json()
}

fn put_client(service: &Child, name: &str) {
    let put = Request::put(format!("/v1/clients/{name}"), &json!({ "born_on": "1990-05-02" }));
    let answer = service.call(&put);
    assert_eq!(answer.status, 201, "{name}: {}", answer.text());
}

fn get_client(service: &Child, name: &str) -> u16 {
    service.call(&Request::get(format!("/v1/clients/{name}"))).status
}

fn delete(service: &Child, path: impl Into<String>) -> Answer {
    let answer = service.call(&Request::new("DELETE", path).header("If-Match", "*"));
    assert_eq!(answer.status, 200, "{}", answer.text());
    answer
}

fn stop(mut service: Child) {
    service.terminate();
    assert!(service.wait(Duration::from_secs(20)).is_some_and(|status| status.success()));
}

#[test]
fn a_token_opens_and_is_shut_at_both_at_once() {
    let Some(chain) = Chain::new() else { return };
    let both = chain.both();
    let plugin = made(&both[0], "/v1/plugins", &json!({ "name": "p", "scopes": ["compute"] }));
    let tokens = format!("/v1/plugins/{}/tokens", plugin["id"].as_str().expect("an id"));
    for n in 0..200 {
        let (here, there) = (&both[n % 2], &both[(n + 1) % 2]);
        let token = made(here, &tokens, &json!({ "name": "t" }));
        let text = token["secret"].as_str().expect("a secret");
        let me = |service: &Child| service.call(&Request::get("/v1/plugins/me").token(text)).status;
        assert_eq!((me(there), me(here)), (200, 200), "round {n}");
        delete(here, format!("{tokens}/{}", token["id"].as_str().expect("an id")));
        assert_eq!((me(there), me(here)), (401, 401), "round {n}");
    }
    // Narrowed at one, it is narrow at the other; removed, it is gone.
    let token = made(&both[0], &tokens, &json!({ "name": "t" }));
    let text = token["secret"].as_str().expect("a secret");
    delete(&both[1], format!("/v1/plugins/{}", plugin["id"].as_str().expect("an id")));
    let me = Request::get("/v1/plugins/me").token(text);
    assert_eq!(both[0].call(&me).status, 401);
}

#[test]
fn a_pack_computes_at_the_other_in_the_next_request() {
    let Some(chain) = Chain::new() else { return };
    let both = chain.both();
    let label = json!({ "labels": [{ "text": "10-03LN" }] });
    let clear = |service: &Child| {
        let read = service.call(&Request::post("/v1/label-readings", &label)).json();
        read["readings"][0]["outcome"] == "clear"
    };
    let pack = json!({ "code": [{ "text": "LN", "grouping": "round_liner" }] });
    for n in 0..10 {
        let (here, there) = (&both[n % 2], &both[(n + 1) % 2]);
        let path = "/v1/packs/label-spellings/north";
        assert!(!clear(there) && !clear(here));
        assert_eq!(here.call(&Request::put(path, &pack)).status, 201);
        assert!(clear(there) && clear(here), "round {n}");
        delete(there, path);
    }
    // Sound alone, and not together: whichever comes second is refused, wherever it comes.
    for n in 0..10 {
        let path = |which: usize| format!("/v1/packs/label-spellings/x{n}-{which}");
        let put = |which: usize| {
            let grouping = ["flat", "round_liner"][which];
            let code = json!([{ "text": "ZZ", "grouping": grouping }]);
            both[which].call(&Request::put(path(which), &json!({ "code": code }))).status
        };
        let told = std::thread::scope(|scope| {
            let other = scope.spawn(|| put(1));
            [put(0), other.join().expect("no panic")]
        });
        let kept: Vec<usize> = (0..2).filter(|which| told[*which] == 201).collect();
        assert_eq!(kept.len(), 1, "{told:?}");
        delete(&both[kept[0]], path(kept[0]));
    }
}

#[test]
fn events_are_delivered_once_and_by_the_other_when_one_dies() {
    let Some(chain) = Chain::new() else { return };
    let [first, second] = chain.both();
    let receiver = Receiver::start(Manner::Answers(200));
    made(&second, "/v1/subscriptions", &json!({ "url": receiver.url() }));
    for n in 0..40 {
        put_client([&first, &second][n % 2], &format!("client-{n}"));
    }
    receiver.wait_for(40);
    std::thread::sleep(Duration::from_secs(2));
    let count = || {
        let mut counts = BTreeMap::<String, usize>::new();
        for heard in receiver.heard() {
            *counts.entry(heard.header("webhook-id").to_owned()).or_default() += 1;
        }
        counts
    };
    assert!(count().len() == 40 && count().values().all(|n| *n == 1), "{:?}", count());
    // The one that delivers dies with some on their way: nothing is lost, and what comes twice are
    // at most the four that were.
    for n in 40..60 {
        put_client(&second, &format!("client-{n}"));
    }
    first.kill();
    let began = Instant::now();
    for n in 60..80 {
        put_client(&second, &format!("client-{n}"));
    }
    while count().len() < 80 {
        assert!(began.elapsed() < TAKEN_OVER, "{} of 80", count().len());
        std::thread::sleep(Duration::from_millis(50));
    }
    println!("the other delivers {:.1} s after a kill", began.elapsed().as_secs_f64());
    std::thread::sleep(Duration::from_secs(1));
    assert!(count().values().filter(|n| 1 < **n).count() <= 4, "{:?}", count());
}

#[test]
fn erasures_by_turns_cost_nobody_else_anything() {
    let Some(chain) = Chain::new() else { return };
    let mut both = chain.both();
    for n in 0..90 {
        put_client(&both[n % 2], &format!("client-{n}"));
    }
    for n in 0..30 {
        delete(&both[n % 2], format!("/v1/clients/client-{n}"));
        // Of the same buckets some come anew meanwhile.
        put_client(&both[(n + 1) % 2], &format!("later-{n}"));
    }
    for round in 0..2 {
        for service in &both {
            for n in 0..90 {
                let want = if n < 30 { 404 } else { 200 };
                assert_eq!(get_client(service, &format!("client-{n}")), want, "{n}, round {round}");
            }
            for n in 0..30 {
                assert_eq!(get_client(service, &format!("later-{n}")), 200, "{n}, round {round}");
            }
            let health = service.call(&Request::get("/health/ready")).json();
            let keys = health["checks"].as_array().expect("checks").iter();
            let keys = keys.filter(|check| check["component"] == "keys");
            assert!(keys.into_iter().all(|check| check["status"] == "pass"), "{health}");
        }
        for service in both {
            stop(service);
        }
        both = [chain.start("a", USUAL), chain.start("b", USUAL)];
    }
}

#[test]
fn an_erasure_reaches_the_backups_of_every_folder() {
    let Some(chain) = Chain::new() else { return };
    let both = chain.both();
    put_client(&both[0], "client-1");
    put_client(&both[0], "client-2");
    let backups = |name: &str| -> BTreeMap<PathBuf, Vec<u8>> {
        let folder = chain.data(name).join("backups");
        let files = std::fs::read_dir(folder).expect("a folder").flatten().map(|file| file.path());
        files
            .filter(|path| path.to_string_lossy().ends_with(".keys"))
            .map(|path| (path.clone(), std::fs::read(path).expect("a file")))
            .collect()
    };
    for service in &both {
        assert_eq!(service.call(&Request::new("POST", "/v1/backups")).status, 201);
    }
    let before = ["a", "b"].map(backups);
    assert!(before.iter().all(|files| files.len() == 1));
    let receipt = delete(&both[0], "/v1/clients/client-1").json();
    // What it says of its own folder is done; of the other it does not claim more than it knows.
    assert_ne!(backups("a"), before[0]);
    let open = receipt["not_reached"].to_string();
    let other = chain.data("b").join("backups").display().to_string();
    let of_other = chain.sql("SELECT convert_from(value, 'UTF8') FROM kv WHERE space = 'erasures'");
    assert!(open.contains(&other) || of_other.contains("\"complete\":true"), "{receipt}");
    let began = Instant::now();
    let stored =
        || chain.sql("SELECT convert_from(value, 'UTF8') FROM kv WHERE space = 'erasures'");
    while !stored().contains("\"complete\":true") {
        assert!(began.elapsed() < Duration::from_secs(20), "{}", stored());
        std::thread::sleep(Duration::from_millis(100));
    }
    assert_ne!(backups("b"), before[1]);
    // Whoever stands still hears of it at its next start.
    let [first, second] = both;
    stop(second);
    let before = backups("b");
    delete(&first, "/v1/clients/client-2");
    assert!(stored().contains("\"complete\":false") && stored().contains(&other), "{}", stored());
    let _second = chain.start("b", USUAL);
    assert!(!stored().contains("\"complete\":false"), "{}", stored());
    assert_ne!(backups("b"), before);
}

#[test]
fn a_repeat_is_one_wherever_it_comes() {
    let Some(chain) = Chain::new() else { return };
    let both = chain.both();
    for n in 0..40 {
        let text = format!("0.30 3RS LOT Z{n} EXP 2036-01 STERILE EO");
        let lot = json!({ "text": text, "packs": 9 });
        let post =
            Request::post("/v1/lots", &lot).header("Idempotency-Key", format!("\"key-{n}\""));
        let [one, other] = std::thread::scope(|scope| {
            let other = scope.spawn(|| both[1].call(&post));
            [both[0].call(&post), other.join().expect("no panic")]
        });
        assert_eq!((one.status, other.status), (201, 201), "{} {}", one.text(), other.text());
        assert_eq!(one.json()["id"], other.json()["id"]);
    }
    let all = both[1].call(&Request::get("/v1/lots?limit=100")).json();
    assert_eq!(all["items"].as_array().map(Vec::len), Some(40));
}

#[test]
fn a_stream_at_one_tells_what_happens_at_the_other() {
    let Some(chain) = Chain::new() else { return };
    let both = chain.both();
    let request = Request::get("/v1/events/stream?after=0").token(both[1].token());
    let mut stream = connect(both[1].address()).expect("a connection");
    stream.write_all(&request.to_bytes(both[1].address())).expect("sent");
    for n in 0..60 {
        put_client(&both[n % 3 / 2], &format!("client-{n}"));
    }
    let mut text = String::new();
    let mut buffer = [0; 4096];
    while text.matches("\nevent: ").count() < 60 {
        let read = stream.read(&mut buffer).expect("more of the stream");
        assert!(0 < read, "it ended: {text}");
        text.push_str(&String::from_utf8_lossy(&buffer[..read]));
    }
    let ids = text.lines().filter_map(|line| line.strip_prefix("id: "));
    let ids: Vec<u64> = ids.map(|id| id.trim().parse().expect("a number")).collect();
    let want: Vec<u64> = (ids[0]..).take(ids.len()).collect();
    assert_eq!(ids, want, "in their order, without a gap");
}

#[test]
fn who_was_frozen_does_nothing_that_was_taken_over() {
    let Some(chain) = Chain::new() else { return };
    let [frozen, other] = chain.both();
    let receiver = Receiver::start(Manner::Answers(200));
    made(&other, "/v1/subscriptions", &json!({ "url": receiver.url() }));
    let plugin = made(&other, "/v1/plugins", &json!({ "name": "p", "scopes": ["compute"] }));
    let tokens = format!("/v1/plugins/{}/tokens", plugin["id"].as_str().expect("an id"));
    let token = made(&other, &tokens, &json!({ "name": "t" }));
    let text = token["secret"].as_str().expect("a secret");
    let me = Request::get("/v1/plugins/me").token(text);
    assert_eq!(frozen.call(&me).status, 200);
    frozen.freeze();
    let began = Instant::now();
    delete(&other, format!("{tokens}/{}", token["id"].as_str().expect("an id")));
    for n in 0..10 {
        put_client(&other, &format!("client-{n}"));
    }
    chain.wait_for_lead(2);
    println!("taken over {:.1} s after a freeze", began.elapsed().as_secs_f64());
    receiver.wait_for(10);
    std::thread::sleep(Duration::from_secs(15).saturating_sub(began.elapsed()));
    frozen.thaw();
    assert_eq!(frozen.call(&me).status, 401, "its first answer is of the present");
    assert_eq!(get_client(&frozen, "client-3"), 200);
    std::thread::sleep(Duration::from_secs(3));
    let heard: Vec<String> =
        receiver.heard().iter().map(|heard| heard.header("webhook-id").to_owned()).collect();
    let once: BTreeSet<&String> = heard.iter().collect();
    assert_eq!((heard.len(), once.len()), (10, 10), "nothing is sent twice");
    assert_eq!(chain.lead(), 2, "the work stays where it was taken");
    // It writes again as soon as it has the way to the database again.
    let began = Instant::now();
    let put = Request::put("/v1/clients/after", &json!({ "born_on": "1990-05-02" }));
    while frozen.call(&put).status != 201 {
        assert!(began.elapsed() < Duration::from_secs(20), "it writes no more");
        std::thread::sleep(Duration::from_millis(100));
    }
    assert_eq!(get_client(&other, "after"), 200);
}

/// Runs a command on the database.
fn run(chain: &Chain, data: &Path, words: &[&str]) -> Output {
    let mut command = Command::new(PROGRAM);
    command.args(words).arg("--data").arg(data).args(["--database", &chain.address]);
    command.output().expect("the program runs")
}

/// The same, which has to end well; what it printed.
fn done(chain: &Chain, data: &Path, words: &[&str]) -> Value {
    let Output { status, stdout, stderr } = run(chain, data, words);
    assert!(status.success(), "{words:?}: {}", String::from_utf8_lossy(&stderr));
    serde_json::from_slice(&stdout).expect("one JSON line")
}

#[test]
fn a_new_studio_key_is_every_processs() {
    let Some(chain) = Chain::new() else { return };
    let [first, second] = chain.both();
    put_client(&first, "client-1");
    assert_eq!(second.call(&Request::new("POST", "/v1/backups")).status, 201);
    stop(first);
    stop(second);
    let [a, b] = ["a", "b"].map(|name| chain.data(name));
    done(&chain, &a, &["change-studio-key"]);
    let first = chain.start("a", USUAL);
    assert_eq!(get_client(&first, "client-1"), 200);
    let told = chain.refused("b", &[], None);
    assert!(told.contains("sealed under the studio key named"), "{told}");
    stop(first);
    // The same once more for the other folder: its backups, and the key in its place. A third time
    // there is nothing to do.
    let key = |data: &Path| std::fs::read_to_string(data.join("studio-key")).expect("a file");
    let new = a.join("studio-key").display().to_string();
    for _ in 0..2 {
        let told = done(&chain, &b, &["change-studio-key", "--new-key", &new]);
        assert_eq!(told["not_reached"], json!([]), "{told}");
        assert_eq!(key(&b), key(&a));
        assert!(!b.join("studio-key.next").exists());
    }
    let second = chain.start("b", USUAL);
    assert_eq!(get_client(&second, "client-1"), 200);
    stop(second);
    let backups = std::fs::read_dir(b.join("backups")).expect("a folder").flatten();
    let backup = backups
        .map(|file| file.path())
        .find(|path| path.extension().is_some_and(|end| end == "backup"));
    let backup = backup.expect("a backup").display().to_string();
    let restore = ["restore", "--from", &backup, "--studio-key", &new, "--data"];
    let restored = Command::new(PROGRAM).args(restore).arg(chain.data("restored")).output();
    assert!(restored.is_ok_and(|done| done.status.success()), "its keys lie under the new key");
}

/// Of an export or a backup that was moved into a database any process may be the first.
#[test]
fn after_an_import_it_does_not_matter_who_starts_first() {
    let Some(chain) = Chain::new() else { return };
    let first = chain.start("a", USUAL);
    put_client(&first, "client-1");
    stop(first);
    let file = chain.data("export.jsonl").display().to_string();
    done(&chain, &chain.data("a"), &["export", "--to", &file]);
    let key = chain.data("a").join("studio-key").display().to_string();
    let import = ["import", "--from", &file, "--studio-key", &key];
    let told = String::from_utf8_lossy(&run(&chain, &chain.data("c"), &import).stderr).into_owned();
    assert!(told.contains("holds a store already"), "{told}");
    let other = Chain::new().expect("a server");
    done(&other, &chain.data("c"), &import);
    // Not the one whose folder the import made, but one that has the key and nothing else.
    std::fs::create_dir(chain.data("d")).expect("a folder");
    std::fs::copy(&key, chain.data("d").join("studio-key")).expect("a copy");
    let start =
        |name: &str| Child::spawn_on_with(PROGRAM, &chain.data(name), &other.address, USUAL);
    let second = start("d");
    assert_eq!(get_client(&second, "client-1"), 200);
    assert!(!chain.data("d").join("keyring").exists());
    assert_eq!(other.sql("SELECT count(*) FROM kv WHERE space = 'event-epochs'"), "1");
    std::fs::copy(chain.data("d").join("owner-token"), chain.data("c").join("owner-token"))
        .expect("a copy");
    let third = start("c");
    assert_eq!(get_client(&third, "client-1"), 200);
    assert_eq!(other.sql("SELECT count(*) FROM kv WHERE space = 'event-epochs'"), "1");
    stop(second);
    stop(third);
    // As former builds left it: the ring lies in the folder of the import alone.
    other.sql("DELETE FROM kv WHERE space = '_shared'");
    let refused = ["serve", "--listen", "127.0.0.1:0"];
    std::fs::remove_file(chain.data("d").join("database")).expect("a file");
    let told =
        String::from_utf8_lossy(&run(&other, &chain.data("d"), &refused).stderr).into_owned();
    assert!(told.contains("start the process of that folder first"), "{told}");
    assert!(!chain.data("d").join("keyring").exists());
}

#[test]
fn a_folder_is_not_taken_to_another_database() {
    let Some(chain) = Chain::new() else { return };
    let first = chain.start("a", USUAL);
    put_client(&first, "client-1");
    stop(first);
    let other = Chain::new().expect("a server");
    let note = std::fs::read(chain.data("a").join("database")).expect("a file");
    let file = chain.data("export.jsonl").display().to_string();
    for words in
        [&["serve", "--listen", "127.0.0.1:0"][..], &["verify"], &["export", "--to", &file]]
    {
        let told = run(&other, &chain.data("a"), words);
        assert!(!told.status.success(), "{words:?}");
        let told = String::from_utf8_lossy(&told.stderr).into_owned();
        let own = format!("its own is `postgres` on {}", chain.server.folder().display());
        for word in [&own, &chain.schema, &other.schema, "--database", "--data"] {
            assert!(told.contains(word), "{words:?}: {told}");
        }
    }
    assert_eq!(std::fs::read(chain.data("a").join("database")).expect("a file"), note);
    assert_eq!(other.sql("SELECT state FROM layout"), "empty");
    // What an import fills is another database: its folder is its own from the first moment on, and
    // the folders of the former one are let in when somebody says so.
    done(&chain, &chain.data("a"), &["export", "--to", &file]);
    let key = chain.data("a").join("studio-key").display().to_string();
    done(&other, &chain.data("c"), &["import", "--from", &file, "--studio-key", &key]);
    let told = run(&chain, &chain.data("c"), &["verify"]);
    assert!(String::from_utf8_lossy(&told.stderr).contains("belongs to another database"));
    let told = run(&other, &chain.data("a"), &["verify"]);
    assert!(String::from_utf8_lossy(&told.stderr).contains("remove the file `database`"));
    std::fs::remove_file(chain.data("a").join("database")).expect("a file");
    let second = Child::spawn_on_with(PROGRAM, &chain.data("a"), &other.address, USUAL);
    assert_eq!(get_client(&second, "client-1"), 200);
}

#[test]
fn who_is_another_studio_is_refused_with_words() {
    let Some(chain) = Chain::new() else { return };
    let first = chain.start("a", USUAL);
    chain.introduce("b");
    let told = chain.refused("b", &["--keep-checks", "P4Y"], None);
    assert!(told.contains("--keep-checks is P3Y there and P4Y here"), "{told}");
    let told = chain.refused("c", &[], Some(&"0a".repeat(32)));
    assert!(told.contains("sealed under the studio key named"), "{told}");
    let told = chain.refused("d", &[], None);
    assert!(told.contains("the studio key is missing"), "{told}");
    assert!(!chain.data("d").join("studio-key").exists());
    // The owner's token is one for all, and drawn anew on purpose.
    std::fs::remove_file(chain.data("b").join("owner-token")).expect("a file");
    let second = chain.start("b", USUAL);
    let mine = |service: &Child, token: &str| {
        service.call(&Request::get("/v1/plugins/me").token(token)).status
    };
    assert_eq!(mine(&second, first.token()), 200);
    stop(second);
    let second = chain.start("b", &[USUAL, &["--new-owner-token"]].concat());
    assert_ne!(second.token(), first.token());
    assert_eq!((mine(&first, second.token()), mine(&first, first.token())), (200, 401));
    // With all of them stopped, whoever starts says what holds.
    stop(second);
    stop(first);
    stop(chain.start("b", &["--keep-checks", "P4Y"]));
    assert!(!Path::new(&chain.data("a").join("keyring")).exists(), "the ring lies in the database");
}

/// Calls for so long, over so many connections: how many a second, and the middle one in milliseconds.
fn rate(service: &Child, request: &Request, connections: usize) -> (f64, f64) {
    const LONG: Duration = Duration::from_secs(4);
    let call_on = || {
        let mut connection =
            Connection::open(service.address(), service.token()).expect("a connection");
        let (began, mut took) = (Instant::now(), Vec::new());
        while began.elapsed() < LONG {
            let asked = Instant::now();
            assert_eq!(connection.ask(request).expect("an answer").status, 200);
            took.push(asked.elapsed().as_secs_f64() * 1e3);
        }
        took
    };
    let mut took: Vec<f64> = std::thread::scope(|scope| {
        let callers: Vec<_> = (0..connections).map(|_| scope.spawn(call_on)).collect();
        callers.into_iter().flat_map(|caller| caller.join().expect("no panic")).collect()
    });
    took.sort_by(f64::total_cmp);
    (took.len() as f64 / LONG.as_secs_f64(), took[took.len() / 2])
}

#[test]
#[ignore = "measures; by hand on a quiet machine"]
fn what_a_look_costs() {
    let Some(chain) = Chain::new() else { return };
    let label = json!({ "labels": [{ "text": "0.30 3RS LOT Z1 EXP 2036-01 STERILE EO" }] });
    let label = Request::post("/v1/label-readings", &label);
    let services = [
        ("folder", Child::spawn_embedded(PROGRAM, &chain.data("folder"))),
        ("database", chain.start("a", USUAL)),
    ];
    for connections in [1, 16] {
        for _ in 0..3 {
            for (name, service) in &services {
                let (rate, middle) = rate(service, &label, connections);
                println!("{connections:>2} connections, {name}: {rate:.0}/s, {middle:.2} ms");
            }
        }
    }
}
