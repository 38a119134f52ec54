//! Bodies that are small to send and large to read: each is refused in words
//! that are no larger than what was sent, and the service goes on.

use std::fmt::Write;

use etui_schema::problem::ErrorCode;
use etui_tests::wire::Request;

use super::{TOUR, bodies};

/// Below the smallest limit of a body.
const SIZE: usize = 200 * 1024;
/// What a problem body may have besides what it repeats.
const FRAME: usize = 64 * 1024;

fn repeated(piece: &str, before: &str, after: &str) -> String {
    let mut text = before.to_owned();
    while text.len() + piece.len() + after.len() < SIZE {
        text.push_str(piece);
    }
    text.push_str(after);
    text
}

fn members(mut value: impl FnMut(usize) -> String) -> String {
    let mut text = "{\"a\":0".to_owned();
    for number in 0.. {
        let member = value(number);
        if SIZE < text.len() + member.len() {
            break;
        }
        let _ = write!(text, ",{member}");
    }
    text.push('}');
    text
}

fn bombs() -> Vec<(&'static str, String)> {
    vec![
        ("deep lists", repeated("[", "", "")),
        ("deep lists, closed", format!("{}{}", "[".repeat(SIZE / 2), "]".repeat(SIZE / 2))),
        ("deep objects", repeated("{\"a\":", "", "")),
        ("deep inside a member", repeated("[", "{\"a\":", "")),
        ("a long number", repeated("9", "{\"a\":", "}")),
        ("a long fraction", repeated("0", "{\"a\":0.", "1}")),
        ("a long exponent", repeated("9", "{\"a\":1e-", "}")),
        ("a long list", repeated("1,", "{\"a\":[", "1]}")),
        ("a list of lists", repeated("[],", "{\"a\":[", "1]}")),
        ("a long text", repeated("x", "{\"a\":\"", "\"}")),
        ("a long name", repeated("x", "{\"", "\":1}")),
        ("a text of escapes", repeated("\\u0000", "{\"a\":\"", "\"}")),
        ("many members", members(|number| format!("\"m{number}\":0"))),
        ("one member many times", members(|_| "\"a\":0".to_owned())),
        ("names that need escaping", members(|number| format!("\"~/~/{number}\":0"))),
        ("nothing but blanks", " ".repeat(SIZE)),
        ("blanks before a wrong body", format!("{}[]", "\n".repeat(SIZE))),
        ("lone surrogates", repeated("\\ud800", "{\"a\":\"", "\"}")),
    ]
}

#[test]
fn a_body_that_explodes_is_refused_in_few_words() {
    let address = TOUR.running.address();
    for (what, text) in bombs() {
        for good in bodies() {
            let sent = good.clone().bytes("application/json", text.clone());
            let answer = sent.send(address);
            let place = format!("{} {}: {what}", good.method, good.target);
            assert!(matches!(answer.status, 400 | 413 | 422), "{place}: {}", answer.status);
            assert!(answer.body.len() < text.len() + FRAME, "{place}: {}", answer.body.len());
            assert!(answer.problem().errors.len() <= 100, "{place}");
        }
        let live = Request::get("/health/live").send(address);
        assert_eq!(live.status, 200, "after {what}");
    }
}

/// What is good in itself, and too much of it: a member of the good body that
/// takes a list gets a very long one.
#[test]
fn a_list_without_end_is_refused() {
    let address = TOUR.running.address();
    let mut seen = 0;
    for good in bodies() {
        let body = good.json_body().unwrap_or_default();
        for (name, value) in body.as_object().into_iter().flatten() {
            let Some(first) = value.as_array().and_then(|list| list.first()) else { continue };
            seen += 1;
            let copies = SIZE / (first.to_string().len() + 1);
            let mut many = body.clone();
            many[name] = vec![first.clone(); copies].into();
            let answer = good.clone().json(&many).send(address);
            let place = format!("{} {}: {copies} of {name}", good.method, good.target);
            assert!(matches!(answer.status, 413 | 422), "{place}: {}", answer.status);
        }
    }
    assert!(0 < seen, "no body has a list");
}

/// Compression is not undone, so nothing can unfold.
#[test]
fn nothing_is_unpacked() {
    let address = TOUR.running.address();
    for good in bodies() {
        for coding in ["gzip", "deflate", "br", "zstd", "gzip, gzip", "identity, gzip"] {
            let answer = good.clone().header("Content-Encoding", coding).send(address);
            let unsupported = ErrorCode::UnsupportedMediaType;
            assert_eq!(answer.problem().code, unsupported, "{} {coding}", good.target);
        }
    }
}

/// A body in many small pieces, and pieces with endless ornaments.
#[test]
fn chunks_that_are_mostly_frame() {
    let address = TOUR.running.address();
    let good = bodies().into_iter().find(|r| r.path() == "/v1/label-readings").expect("labels");
    let body = good.body.clone().unwrap_or_default();
    let mut tiny = String::new();
    for byte in &body {
        let _ = write!(tiny, "1\r\n{}\r\n", char::from(*byte));
    }
    tiny.push_str("0\r\n\r\n");
    let chunked = good.clone().header("Transfer-Encoding", "chunked");
    let sent = |text: String| {
        let headers = chunked.headers.clone();
        Request { body: Some(text.into_bytes()), headers, ..chunked.clone() }.try_send(address)
    };
    assert_eq!(
        sent(tiny).expect("an answer").status,
        200,
        "one byte a chunk is a body all the same"
    );
    for (what, text) in [
        ("a long ornament", format!("1;{}\r\n{{\r\n0\r\n\r\n", "a".repeat(1 << 20))),
        ("a length without end", format!("{}1\r\n{{\r\n0\r\n\r\n", "0".repeat(1 << 20))),
        ("a length that overflows", "ffffffffffffffffff\r\n{\r\n0\r\n\r\n".to_owned()),
        ("endless trailers", format!("1\r\n{{\r\n0\r\n{}\r\n", "A: b\r\n".repeat(1 << 17))),
    ] {
        if let Ok(answer) = sent(text) {
            assert!((400..500).contains(&answer.status), "{what}: {}", answer.status);
        }
        assert_eq!(Request::get("/health/live").send(address).status, 200, "after {what}");
    }
}
