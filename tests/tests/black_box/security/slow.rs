//! Clients that begin and never finish. What is asserted is that others are
//! answered, not how fast.

use std::io::Write;
use std::net::TcpStream;

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
