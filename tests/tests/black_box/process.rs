//! Start, stop and kill, seen from outside.

use std::io::Write;
use std::time::{Duration, Instant};

use etui_tests::child::Child;
use etui_tests::wire::{Request, connect};

const PROGRAM: &str = env!("CARGO_BIN_EXE_etui_under_test");

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

#[test]
fn it_says_where_it_listens_and_answers_there() {
    let folder = folder();
    let child = Child::spawn(PROGRAM, folder.path());
    assert!(child.address().ip().is_loopback());
    let answer = child.call(&Request::get("/health/ready"));
    assert_eq!(answer.status, 200, "{}", answer.text());
}

#[test]
fn it_stops_when_asked_to_and_says_that_all_is_well() {
    let folder = folder();
    let mut child = Child::spawn(PROGRAM, folder.path());
    // An idle connection that is held open does not keep it from stopping.
    let mut idle = connect(child.address()).expect("a connection");
    let request = Request::get("/health/live").header("Connection", "keep-alive");
    idle.write_all(&request.to_bytes(child.address())).expect("the bytes are taken");
    let started = Instant::now();
    child.terminate();
    let status = child.wait(Duration::from_secs(10)).expect("an end");
    assert!(status.success(), "{status}");
    assert!(started.elapsed() < Duration::from_secs(6), "{:?}", started.elapsed());
}

/// A body that is still on its way when the stop comes is waited for.
#[test]
fn what_is_in_flight_finishes() {
    let folder = folder();
    let mut child = Child::spawn(PROGRAM, folder.path());
    let address = child.address();
    let body = "{\"no_such_member\": 1}";
    let request = Request::new("POST", "/v1/label-readings")
        .bytes("application/json", body)
        .token(child.token());
    let bytes = request.to_bytes(address);
    let (first, last) = bytes.split_at(bytes.len() - 5);
    let mut stream = connect(address).expect("a connection");
    stream.write_all(first).expect("the bytes are taken");
    std::thread::sleep(Duration::from_millis(300));
    child.terminate();
    std::thread::sleep(Duration::from_millis(300));
    stream.write_all(last).expect("the bytes are taken");
    let answer = etui_tests::wire::read_answer(&stream, false).expect("an answer");
    assert!((400..500).contains(&answer.status), "{}", answer.text());
    drop(stream);
    assert!(child.wait(Duration::from_secs(10)).is_some_and(|status| status.success()));
}

#[test]
fn an_address_of_the_open_network_needs_a_flag() {
    let folder = folder();
    let mut process = std::process::Command::new(PROGRAM)
        .args(["serve", "--listen", "0.0.0.0:0", "--data"])
        .arg(folder.path())
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .expect("the program starts");
    let status = process.wait().expect("an end");
    assert!(!status.success());
    let output = process.wait_with_output().expect("its output");
    assert!(output.stdout.is_empty());
    assert!(String::from_utf8_lossy(&output.stderr).contains("--allow-public"));
}
