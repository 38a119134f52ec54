//! The client crate: typed calls, what it repeats and what not.

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpListener};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use etui_client::{Client, Error, Retries};
use etui_schema::problem::ErrorCode;
use etui_tests::document::Document;
use etui_tests::running::Running;

/// The operations of the rows of [`etui_schema::entries`](mod@etui_schema::entries), of which lines and methods are made.
const OF_ROWS: &[&str] = {
    macro_rules! operations {
        ([] $($(#[$doc:meta])* $member:ident $name:ident $types:tt [$($operation:ident)*] $more:tt)*) => {
            &[$($(stringify!($operation)),*),*]
        };
    }
    etui_schema::entries!(operations)
};

/// Each operation has its method: made of its line where the line is one of those, else written out
/// in the client and naming what it calls.
#[test]
fn every_operation_has_a_method() {
    let text_of = |folder: &str| -> String {
        let folder = format!("{}/../{folder}", env!("CARGO_MANIFEST_DIR"));
        let files = std::fs::read_dir(folder).expect("a folder of sources").flatten();
        files.filter_map(|f| std::fs::read_to_string(f.path()).ok()).collect()
    };
    let (client, tables) = (text_of("client/src"), text_of("schema/src/endpoints"));
    let lines = tables.lines().filter(|line| !line.trim_start().starts_with("//"));
    let tables: String = lines.flat_map(|line| [line, "\n"]).collect();
    let parts = tables.split(" own {");
    let made: Vec<&str> = parts.filter_map(|part| Some(part.split_once(" methods {")?.1)).collect();
    for operation in Document::of_this_build().operations() {
        let (id, path) = (&operation.id, &operation.path);
        if OF_ROWS.contains(&id.as_str()) {
            continue;
        }
        let line = format!(" {id} \"{path}\"");
        assert_eq!(tables.matches(&line).count(), 1, "{id}: its line is there once");
        if !made.iter().any(|part| part.contains(&line)) {
            let found = client.contains(&format!("pub async fn {id}("));
            assert!(found, "the client has no method `{id}`");
            let names = format!("`{} {path}`", operation.method);
            assert!(client.contains(&names), "{id}: the client's method does not name {names}");
        }
    }
}

#[tokio::test]
async fn typed_calls() -> Result<(), Error> {
    let client = Running::shared().client();
    assert_eq!(client.get_liveness().await?.version, env!("CARGO_PKG_VERSION"));
    client.get_readiness().await?;
    assert!(!client.get_capabilities().await?.operations.is_empty());
    let names = client.list_schemas().await?.names;
    for name in &names {
        assert!(client.get_schema(name).await?.is_object(), "{name}");
    }
    assert_eq!(client.list_problems().await?.items.len(), ErrorCode::ALL.len());
    assert_eq!(client.get_problem(ErrorCode::NotFound).await?.status, 404);
    client.list_sources().await?;
    assert!(client.get_openapi().await?["paths"].is_object());
    assert!(client.get_metrics().await?.ends_with("# EOF\n"));
    Ok(())
}

#[tokio::test]
async fn a_refusal_is_typed() {
    let client = Running::shared().client();
    let error = client.get_schema("no-such-schema").await.expect_err("a refusal");
    assert_eq!(error.code(), Some(ErrorCode::NotFound));
    let told = error.problem().expect("a problem");
    assert_eq!(told.instance, "/v1/schemas/no-such-schema");
    assert!(error.to_string().starts_with("404 not_found"), "{error}");
}

#[tokio::test]
async fn nobody_there() {
    let free = TcpListener::bind("127.0.0.1:0").expect("a port").local_addr().expect("its address");
    let client = Client::builder(format!("http://{free}")).retries(quick(2)).build();
    let error = client.expect("a client").get_liveness().await.expect_err("nobody");
    assert!(matches!(&error, Error::Transport(why) if why.is_connect()), "{error:?}");
}

const LIVE: &str = r#"{"status": "pass", "version": "0", "checks": []}"#;

#[tokio::test]
async fn what_passes_is_waited_for() {
    let (address, heard) = scripted(vec![
        problem(ErrorCode::Unavailable, "Retry-After: 0\r\n"),
        Vec::new(), // the connection breaks without an answer
        problem(ErrorCode::RateLimited, ""),
        answer(200, "application/json", LIVE),
    ]);
    let client = client(address, 4);
    assert_eq!(client.get_liveness().await.expect("the fourth attempt").version, "0");
    assert_eq!(heard.lock().expect("what was heard").len(), 4);
}

#[tokio::test]
async fn attempts_are_bounded() {
    let busy = problem(ErrorCode::Unavailable, "");
    let (address, heard) = scripted(vec![busy; 9]);
    let error = client(address, 3).get_liveness().await.expect_err("three refusals");
    assert_eq!(error.code(), Some(ErrorCode::Unavailable));
    assert_eq!(heard.lock().expect("what was heard").len(), 3);
}

#[tokio::test]
async fn a_wait_too_long_is_told_and_not_waited() {
    let (address, heard) = scripted(vec![problem(ErrorCode::RateLimited, "Retry-After: 3600\r\n")]);
    let error = client(address, 3).get_liveness().await.expect_err("a refusal");
    let Error::Problem { retry_after, .. } = error else { panic!("{error:?}") };
    assert_eq!(retry_after, Some(Duration::from_secs(3600)));
    assert_eq!(heard.lock().expect("what was heard").len(), 1);
}

#[tokio::test]
async fn what_does_not_pass_is_not_repeated() {
    for (bytes, status) in [
        (problem(ErrorCode::InvalidValue, ""), 422),
        (problem(ErrorCode::NoSpace, ""), 507),
        (answer(404, "text/html", "<h1>another program</h1>"), 404),
        (answer(200, "application/json", "{\"another\": \"shape\"}"), 200),
        (answer(302, "text/html", "elsewhere"), 302),
    ] {
        let (address, heard) = scripted(vec![bytes; 3]);
        let error = client(address, 3).get_liveness().await.expect_err("a refusal");
        match error {
            Error::Problem { problem, .. } => assert_eq!(problem.status, status),
            Error::Unexpected { status: got, .. } => assert_eq!(got, status),
            Error::Transport(_) | Error::Newer(_) | Error::Unusable(_) => panic!("{error:?}"),
        }
        assert_eq!(heard.lock().expect("what was heard").len(), 1, "{status}");
    }
}

fn quick(attempts: u32) -> Retries {
    Retries {
        attempts,
        first_wait: Duration::from_millis(1),
        longest_wait: Duration::from_millis(50),
    }
}

fn client(address: SocketAddr, attempts: u32) -> Client {
    let builder = Client::builder(format!("http://{address}")).token("etui_test");
    builder.retries(quick(attempts)).build().expect("a client")
}

fn answer(status: u16, media: &str, body: &str) -> Vec<u8> {
    with_headers(status, media, "", body)
}

fn problem(code: ErrorCode, headers: &str) -> Vec<u8> {
    let body = serde_json::json!({
        "type": format!("/problems/{code}"), "title": code.title(), "status": code.status(),
        "detail": "as scripted", "instance": "/", "code": code, "request_id": "1",
    });
    with_headers(code.status(), "application/problem+json", headers, &body.to_string())
}

fn with_headers(status: u16, media: &str, headers: &str, body: &str) -> Vec<u8> {
    let length = body.len();
    format!(
        "HTTP/1.1 {status} X\r\nContent-Type: {media}\r\nContent-Length: {length}\r\n\
         Connection: close\r\n{headers}\r\n{body}"
    )
    .into_bytes()
}

/// A server that answers as it is told, one connection an answer, and keeps
/// what it heard. An empty answer breaks the connection.
fn scripted(answers: Vec<Vec<u8>>) -> (SocketAddr, Arc<Mutex<Vec<String>>>) {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = listener.local_addr().expect("its address");
    let heard = Arc::new(Mutex::new(Vec::new()));
    let kept = heard.clone();
    std::thread::spawn(move || {
        for bytes in answers {
            let Ok((mut stream, _)) = listener.accept() else { return };
            let mut request = Vec::new();
            let mut buffer = [0; 4096];
            while !request.windows(4).any(|w| w == b"\r\n\r\n") {
                match stream.read(&mut buffer) {
                    Ok(read) if 0 < read => request.extend_from_slice(&buffer[..read]),
                    _ => break,
                }
            }
            if let Ok(mut all) = kept.lock() {
                all.push(String::from_utf8_lossy(&request).into_owned());
            }
            let _ = stream.write_all(&bytes);
        }
    });
    (address, heard)
}
