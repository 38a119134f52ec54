//! Clients that begin and never finish. What is asserted is that others are
//! answered, not how fast.

use std::io::Write;
use std::net::TcpStream;

use etui_tests::child::Child;
use etui_tests::running::Running;
use etui_tests::wire::{Request, connect, read_answer};
use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
use serde_json::json;

/// Sockets that hold on; both ends of each are files of this process.
const CLIENTS: usize = 1000;

/// Asks for as many open files as the system grants.
fn allow_files() {
    let held = getrlimit(Resource::Nofile);
    let _ = setrlimit(Resource::Nofile, Rlimit { current: held.maximum, ..held });
}

fn begin(service: &Running, bytes: &[u8]) -> TcpStream {
    let mut stream = connect(service.address()).expect("a connection");
    stream.write_all(bytes).expect("the bytes are taken");
    stream
}

#[test]
fn a_thousand_that_never_finish_keep_nobody_waiting() {
    allow_files();
    let service = Running::start();
    let label = Request::post("/v1/label-readings", &json!({ "labels": [{ "text": "0.30 3RS" }] }));
    let lot = json!({ "text": "0.30 3RS\nLOT A1\nEXP 2029-06-30 STERILE EO", "packs": 5 });
    let lot = Request::post("/v1/lots", &lot);
    let half_body = format!(
        "POST /v1/lots HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {}\r\n\
         Content-Type: application/json\r\nContent-Length: 1000\r\n\r\n{{\"packs\":",
        service.token()
    );
    for (what, bytes) in [
        ("half a request line", "GET /heal".to_owned()),
        ("half a head", "GET /health/live HTTP/1.1\r\nHost: loc".to_owned()),
        ("half a body", half_body),
        ("nothing", String::new()),
    ] {
        let held: Vec<_> = (0..CLIENTS).map(|_| begin(&service, bytes.as_bytes())).collect();
        assert_eq!(held.len(), CLIENTS);
        for round in 0..5 {
            assert_eq!(Request::get("/health/live").send(service.address()).status, 200, "{what}");
            assert_eq!(service.call(&label).status, 200, "{what}, round {round}");
            assert_eq!(service.call(&lot).status, 201, "{what}, round {round}");
        }
    }
    assert_eq!(Request::get("/health/ready").send(service.address()).status, 200, "afterwards");
}

/// One who is merely slow is served like everybody else, as long as the whole
/// head comes in time.
#[test]
fn one_who_comes_in_pieces_is_served() {
    let service = Running::shared();
    let mut stream = begin(service, b"");
    for piece in ["GE", "T /health", "/live HT", "TP/1.1\r", "\nHost: local", "host\r\n\r", "\n"] {
        stream.write_all(piece.as_bytes()).expect("the bytes are taken");
        std::thread::yield_now();
    }
    assert_eq!(read_answer(&stream, false).expect("an answer").status, 200);
}

/// Memory of a process in bytes.
fn resident(id: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{id}/status")).expect("a status");
    let line = status.lines().find(|line| line.starts_with("VmRSS:")).expect("its memory");
    let kib = line.split_whitespace().nth(1).and_then(|kib| kib.parse::<u64>().ok());
    kib.expect("a number") * 1024
}

/// "Memory by slow readers without a token": requests one behind the other for the largest that
/// anybody may ask for, and nothing is read. Each connection costs a bounded little, and others
/// are answered.
#[test]
fn readers_that_do_not_read_cost_little() {
    const READERS: u64 = 300;
    const EACH: usize = 100;
    allow_files();
    let folder = tempfile::tempdir().expect("a temporary folder");
    let child = Child::spawn(env!("CARGO_BIN_EXE_etui_under_test"), folder.path());
    for target in ["/openapi.json", "/docs"] {
        // Made once, whoever asks.
        let whole = Request::get(target).send(child.address());
        let ask = Request::get(target).header("Connection", "keep-alive").to_bytes(child.address());
        let before = resident(child.id());
        let mut held = Vec::new();
        for _ in 0..READERS {
            let mut stream = connect(child.address()).expect("a connection");
            stream.set_write_timeout(Some(std::time::Duration::from_millis(200))).expect("a limit");
            // What does not fit any more need not.
            let _ = stream.write_all(&ask.repeat(EACH));
            held.push(stream);
        }
        std::thread::sleep(std::time::Duration::from_secs(1));
        assert_eq!(Request::get("/health/live").send(child.address()).status, 200, "{target}");
        let each = resident(child.id()).saturating_sub(before) / READERS;
        println!("{target} ({} bytes): {each} bytes of memory a reader", whole.body.len());
        // At most the answer that is being sent, of the hundred that were asked for, and what a
        // connection takes: our own choice, no source.
        let most = whole.body.len() as u64 + 512 * 1024;
        assert!(each < most, "{target}: {each} bytes a reader, and {most} would do");
        drop(held);
    }
}
