//! Hostile bytes: a clear refusal, and the service goes on.

use std::io::{Read, Write};
use std::net::SocketAddr;
use std::time::{Duration, Instant};

use etui_tests::running::Running;
use etui_tests::wire::{Request, connect, exchange, read_answer};

/// The service answers as if nothing had happened.
fn goes_on(address: SocketAddr, after: &str) {
    let answer = Request::get("/health/live").send(address);
    assert_eq!(answer.status, 200, "after {after}: {}", answer.text());
}

/// What no parser can take: an empty 400 of the HTTP layer, or a closed
/// connection, and never an answer that claims success.
#[test]
fn what_is_no_request() {
    let address = Running::shared().address();
    let long = "x".repeat(130_000);
    for (what, bytes) in [
        ("no request line", "\u{0}\u{1}\u{2}\r\n\r\n".to_owned()),
        ("no version", "GET /health/live\r\n\r\n".to_owned()),
        ("another version", "GET /health/live HTTP/9.9\r\nHost: localhost\r\n\r\n".to_owned()),
        ("a space in a name", "GET / HTTP/1.1\r\nHost : localhost\r\n\r\n".to_owned()),
        ("a folded header", "GET / HTTP/1.1\r\nHost: localhost\r\nA: b\r\n c\r\n\r\n".to_owned()),
        ("a control character", "GET / HTTP/1.1\r\nHost: localhost\r\nA: \u{1}\r\n\r\n".to_owned()),
        ("a very long path", format!("GET /{long} HTTP/1.1\r\nHost: localhost\r\n\r\n")),
        (
            "a very long header",
            format!("GET / HTTP/1.1\r\nHost: localhost\r\nA: {long}{long}\r\n\r\n"),
        ),
        (
            "a thousand headers",
            format!("GET / HTTP/1.1\r\nHost: localhost\r\n{}\r\n", "A: b\r\n".repeat(1000)),
        ),
    ] {
        if let Ok(answer) = exchange(address, bytes.as_bytes()) {
            assert!((400..500).contains(&answer.status), "{what}: {}", answer.status);
        }
        goes_on(address, what);
    }
}

/// Two readings of where a request ends are what smuggling lives on: such a
/// request is refused, and nothing after it on that connection is read.
#[test]
fn what_could_be_read_in_two_ways() {
    let address = Running::shared().address();
    let hidden = "GET /health/live HTTP/1.1\r\nHost: localhost\r\n\r\n";
    for (what, head) in [
        ("both lengths", "Content-Length: 6\r\nTransfer-Encoding: chunked\r\n"),
        ("two lengths", "Content-Length: 0\r\nContent-Length: 44\r\n"),
        ("a signed length", "Content-Length: +0\r\n"),
        ("a list of lengths", "Content-Length: 0, 44\r\n"),
        ("a length in hexadecimal", "Content-Length: 0x2c\r\n"),
        ("a coding not known", "Transfer-Encoding: xchunked\r\n"),
        ("chunked not last", "Transfer-Encoding: chunked, identity\r\n"),
        ("chunked twice", "Transfer-Encoding: chunked\r\nTransfer-Encoding: chunked\r\n"),
    ] {
        let mut bytes = format!("POST /v1/nothing HTTP/1.1\r\nHost: localhost\r\n{head}\r\n");
        bytes.push_str("0\r\n\r\n");
        bytes.push_str(hidden);
        let mut stream = connect(address).expect("a connection");
        stream.write_all(bytes.as_bytes()).expect("the bytes are taken");
        stream.set_read_timeout(Some(Duration::from_secs(8))).expect("a time limit");
        let mut heard = Vec::new();
        let _ = stream.read_to_end(&mut heard);
        let heard = String::from_utf8_lossy(&heard);
        assert!(
            !heard.contains("HTTP/1.1 200"),
            "{what}: the hidden request was carried out: {heard}"
        );
        goes_on(address, what);
    }
}

#[test]
fn a_head_that_comes_slowly() {
    let address = Running::shared().address();
    let mut stream = connect(address).expect("a connection");
    let started = Instant::now();
    stream.write_all(b"GET /health/live HTTP/1.1\r\nHost: local").expect("the bytes are taken");
    // Nothing more comes. The service must not wait for ever, nor answer 200.
    let mut heard = Vec::new();
    let _ = stream.read_to_end(&mut heard);
    let heard = String::from_utf8_lossy(&heard);
    assert!(!heard.contains("HTTP/1.1 200"), "{heard}");
    assert!(started.elapsed() < Duration::from_secs(25), "it waited for ever");
    goes_on(address, "a slow head");
}

/// Many connections that say nothing keep nobody else from an answer.
#[test]
fn many_that_say_nothing() {
    let service = Running::start();
    let address = service.address();
    let mut silent: Vec<_> = (0..500).filter_map(|_| connect(address).ok()).collect();
    for stream in &mut silent {
        let _ = stream.write_all(b"POST /v1/label-readings HTTP/1.1\r\n");
    }
    goes_on(address, "500 silent connections");
    drop(silent);
    goes_on(address, "500 silent connections that left");
}

/// A connection that goes away in the middle of a body takes nothing with it.
#[test]
fn a_body_that_breaks_off() {
    let service = Running::shared();
    let mut stream = connect(service.address()).expect("a connection");
    let head = format!(
        "POST /v1/label-readings HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {}\r\n\
         Content-Type: application/json\r\nContent-Length: 1000\r\n\r\n{{\"labels\": [",
        service.token()
    );
    stream.write_all(head.as_bytes()).expect("the bytes are taken");
    drop(stream);
    goes_on(service.address(), "a body that broke off");
}

/// Requests one behind the other on one connection get their answers in order.
#[test]
fn requests_in_a_row_on_one_connection() {
    let address = Running::shared().address();
    let mut stream = connect(address).expect("a connection");
    for _ in 0..20 {
        let request = Request::get("/health/live").header("Connection", "keep-alive");
        stream.write_all(&request.to_bytes(address)).expect("the bytes are taken");
        assert_eq!(read_answer(&stream, false).expect("an answer").status, 200);
    }
}

/// The framework refuses `Expect` that it does not know, and takes the known.
#[test]
fn a_client_that_asks_before_it_sends() {
    let address = Running::shared().address();
    let request = Request::new("POST", "/v1/nothing")
        .bytes("application/json", "{}")
        .header("Expect", "100-continue");
    let answer = request.try_send(address);
    assert!(answer.is_ok_and(|answer| matches!(answer.status, 100 | 404)));
    goes_on(address, "Expect");
}

/// Lines that end in LF alone may be read (RFC 9112, 2.2), as long as nobody can read them in two
/// ways: such a head is one request, whatever it hides.
#[test]
fn lines_that_end_in_a_bare_line_feed() {
    let address = Running::shared().address();
    let hidden = "GET /health/live HTTP/1.1\nHost: localhost\n\n";
    for (what, head, body) in [
        ("both lengths", "Content-Length: 6\nTransfer-Encoding: chunked\n", "0\n\n"),
        ("two lengths", "Content-Length: 0\nContent-Length: 44\n", ""),
        ("chunks", "Transfer-Encoding: chunked\n", "0\n\n"),
        ("a length in a folded line", "A: b\n Content-Length: 44\nContent-Length: 0\r\n", ""),
    ] {
        let bytes = format!("POST /v1/nothing HTTP/1.1\nHost: localhost\n{head}\n{body}{hidden}");
        let mut stream = connect(address).expect("a connection");
        stream.write_all(bytes.as_bytes()).expect("the bytes are taken");
        stream.set_read_timeout(Some(Duration::from_secs(8))).expect("a time limit");
        let mut heard = Vec::new();
        let _ = stream.read_to_end(&mut heard);
        let heard = String::from_utf8_lossy(&heard);
        assert!(!heard.contains("HTTP/1.1 200"), "{what}: {heard}");
        goes_on(address, what);
    }
    let plain = "GET /health/live HTTP/1.1\nHost: localhost\nConnection: close\n\n";
    let answer = exchange(address, plain.as_bytes()).expect("an answer");
    assert!(matches!(answer.status, 200 | 400), "{}", answer.status);
}
