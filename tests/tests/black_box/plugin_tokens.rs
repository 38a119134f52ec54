//! The life of a plug-in's token: made, used, rotated, ended, revoked, moved.

use std::io::{Read, Write};
use std::path::Path;

use etui_schema::plugins::{Plugin, PluginToken, TokenState};
use etui_schema::problem::ErrorCode;
use etui_service::maintain::{self, Saved};
use etui_tests::engine;
use etui_tests::happenings::put_client;
use etui_tests::running::{NOW, Running};
use etui_tests::wire::{Answer, Request, connect};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::plugins::{issue, me, refused, register, text};

fn revoke(service: &Running, plugin: Uuid, token: Uuid) -> Answer {
    let target = format!("/v1/plugins/{plugin}/tokens/{token}");
    service.call(&Request::new("DELETE", target))
}

#[test]
fn a_token_ends_at_its_end_and_no_later() {
    let service = Running::start();
    let plugin = register(&service, "short", json!({}));
    let body = json!({ "name": "t", "expires_at": "2027-03-16T09:00:00Z" });
    let token = issue(&service, plugin, &body);
    for (now, status) in
        [(NOW, 200), ("2027-03-16T08:59:59.999Z", 200), ("2027-03-16T09:00:00Z", 401)]
    {
        service.set_clock(now);
        assert_eq!(me(&service, &text(&token)).status, status, "{now}");
    }
    let challenge = me(&service, &text(&token));
    let challenge = challenge.header("www-authenticate").unwrap_or_default();
    assert!(challenge.contains("error=\"invalid_token\""), "{challenge}");
}

#[test]
fn a_rotated_token_overlaps_with_the_new_one() {
    let service = Running::start();
    let plugin = register(&service, "turning", json!({}));
    let body = json!({ "name": "t", "expires_at": "2027-03-17T08:00:00Z" });
    let old = issue(&service, plugin, &body);
    let target = format!("/v1/plugins/{plugin}/tokens/{}/rotations", old.id);
    let rotate = |body: Value| service.call(&Request::post(target.clone(), &body));
    let new: PluginToken = rotate(json!({ "overlap_seconds": 60 })).read();
    assert_eq!((new.replaces, new.name.as_str()), (Some(old.id), "t"));
    assert_eq!(new.expires_at, old.expires_at, "as long as the old one was given");
    assert_ne!(new.secret, old.secret);
    for (now, old_status) in
        [(NOW, 200), ("2027-03-16T08:00:59Z", 200), ("2027-03-16T08:01:00Z", 401)]
    {
        service.set_clock(now);
        assert_eq!(me(&service, &text(&old)).status, old_status, "the old one at {now}");
        assert_eq!(me(&service, &text(&new)).status, 200, "the new one at {now}");
    }
    refused(&rotate(json!({})), ErrorCode::Conflict, "a token that has ended");
    // Without overlap the old one is shut in the same moment.
    let target = format!("/v1/plugins/{plugin}/tokens/{}/rotations", new.id);
    let newest: PluginToken =
        service.call(&Request::post(target, &json!({ "overlap_seconds": 0 }))).read();
    assert_eq!(me(&service, &text(&new)).status, 401);
    assert_eq!(me(&service, &text(&newest)).status, 200);
}

#[test]
fn a_revoked_token_opens_nothing_from_then_on() {
    let service = Running::start();
    let plugin = register(&service, "leaving", json!({}));
    let (one, two) = (
        issue(&service, plugin, &json!({ "name": "a" })),
        issue(&service, plugin, &json!({ "name": "b" })),
    );
    assert_eq!(me(&service, &text(&one)).status, 200);
    let told: PluginToken = revoke(&service, plugin, one.id).read();
    assert_eq!(told.state, TokenState::Revoked);
    refused(&me(&service, &text(&one)), ErrorCode::InvalidToken, "revoked");
    assert_eq!(me(&service, &text(&two)).status, 200, "the other one is not meant");
    let again: PluginToken = revoke(&service, plugin, one.id).read();
    assert_eq!(again, told, "what is revoked stays so");
    let other = register(&service, "other", json!({}));
    refused(&revoke(&service, other, two.id), ErrorCode::NotFound, "under another plug-in");
    let gone = service.call(&Request::new("DELETE", format!("/v1/plugins/{plugin}")));
    assert!(gone.read::<Plugin>().removed_at.is_some());
    refused(&me(&service, &text(&two)), ErrorCode::InvalidToken, "of a removed plug-in");
    for target in ["", "/tokens"] {
        let read = service.call(&Request::get(format!("/v1/plugins/{plugin}{target}")));
        refused(&read, ErrorCode::NotFound, target);
    }
    let body = json!({ "name": "LEAVING", "scopes": ["compute"] });
    refused(&service.call(&Request::post("/v1/plugins", &body)), ErrorCode::Conflict, "its name");
    let listed = service.call(&Request::get("/v1/plugins")).json();
    assert_eq!(listed["items"].as_array().map(Vec::len), Some(1), "{listed}");
}

/// What a stop and a start leave: tokens, ends, revocations, last uses.
#[test]
fn a_restart_forgets_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let service = Running::start_at(folder.path());
    let plugin = register(&service, "lasting", json!({}));
    let used = issue(&service, plugin, &json!({ "name": "used" }));
    service.set_clock("2027-03-16T08:01:00Z");
    let unused = issue(&service, plugin, &json!({ "name": "unused" }));
    service.set_clock("2027-03-16T08:02:00Z");
    let revoked = issue(&service, plugin, &json!({ "name": "revoked" }));
    service.set_clock("2027-03-16T08:03:00Z");
    let body = json!({ "name": "ended", "expires_at": "2027-03-16T08:04:00Z" });
    let ended = issue(&service, plugin, &body);
    revoke(&service, plugin, revoked.id);
    service.set_clock("2027-03-16T08:30:00Z");
    assert_eq!(me(&service, &text(&used)).status, 200);
    service.stop();
    let service = Running::start_at(folder.path());
    service.set_clock("2027-03-16T09:00:00Z");
    let target = format!("/v1/plugins/{plugin}/tokens");
    let listed = service.call(&Request::get(target)).json();
    let told = |at: usize, member: &str| listed["items"][at][member].clone();
    for (at, name, state, last) in [
        (0, "used", "active", json!("2027-03-16T08:30:00.000Z")),
        (1, "unused", "active", Value::Null),
        (2, "revoked", "revoked", Value::Null),
        (3, "ended", "expired", Value::Null),
    ] {
        assert_eq!((told(at, "name"), told(at, "state")), (json!(name), json!(state)), "{listed}");
        assert_eq!(told(at, "last_used_at"), last, "{name}: {listed}");
        assert_eq!(told(at, "secret"), Value::Null, "{name}");
    }
    for (token, status) in [(&used, 200), (&unused, 200), (&revoked, 401), (&ended, 401)] {
        assert_eq!(me(&service, &text(token)).status, status, "{}", token.name);
    }
}

/// The secret is in one answer; it is in no repeat of it, in no list, and
/// nowhere on the disk, where only its hash is.
#[test]
fn a_secret_is_shown_once_and_kept_nowhere() {
    let folder = tempfile::tempdir().expect("a folder");
    let service = Running::start_at(folder.path());
    let plugin = register(&service, "quiet", json!({}));
    let request = Request::post(format!("/v1/plugins/{plugin}/tokens"), &json!({ "name": "t" }))
        .header("Idempotency-Key", "\"make-one\"");
    let (first, again) = (service.call(&request), service.call(&request));
    assert_eq!(again.header("idempotent-replayed"), Some("true"));
    assert_eq!(first.header("etag"), again.header("etag"));
    let (first, again): (PluginToken, PluginToken) = (first.read(), again.read());
    assert_eq!((again.id, again.secret), (first.id, None));
    let secret = text(&first);
    // 256 bits in base64url (RFC 4648, 5) behind the prefix.
    assert_eq!((secret.len(), secret.starts_with("etui_")), (48, true), "{secret}");
    let listed = service.call(&Request::get(format!("/v1/plugins/{plugin}/tokens"))).text();
    assert!(!listed.contains(&secret), "{listed}");
    assert_eq!(me(&service, &secret).status, 200);
    service.stop();
    for file in files_of(folder.path()) {
        let bytes = std::fs::read(&file).expect("a readable file");
        let found = bytes.windows(secret.len()).any(|window| window == secret.as_bytes());
        assert!(!found, "the secret lies in {}", file.display());
    }
}

fn files_of(folder: &Path) -> Vec<std::path::PathBuf> {
    let mut all = Vec::new();
    for entry in std::fs::read_dir(folder).expect("a folder").flatten() {
        let path = entry.path();
        if path.is_dir() { all.extend(files_of(&path)) } else { all.push(path) }
    }
    all
}

/// The list of a plug-in's tokens has an end: what is dead makes room.
#[test]
fn a_plugin_has_fifty_tokens_at_most() {
    let service = Running::start();
    let plugin = register(&service, "many", json!({}));
    let tokens: Vec<_> =
        (0..50).map(|at| issue(&service, plugin, &json!({ "name": format!("t{at}") }))).collect();
    let target = format!("/v1/plugins/{plugin}/tokens");
    let more = Request::post(target.clone(), &json!({ "name": "more" }));
    refused(&service.call(&more), ErrorCode::Conflict, "the fifty-first");
    let rotation = Request::post(format!("{target}/{}/rotations", tokens[0].id), &json!({}));
    refused(&service.call(&rotation), ErrorCode::Conflict, "a rotation is one more");
    revoke(&service, plugin, tokens[7].id);
    assert_eq!(service.call(&more).status, 201);
    let listed = service.call(&Request::get(target)).json();
    let all = listed["items"].as_array().cloned().unwrap_or_default();
    assert_eq!(all.len(), 50);
    assert!(all.iter().all(|token| token["id"] != json!(tokens[7].id)), "the dead one went");
    assert_eq!(me(&service, &text(&tokens[49])).status, 200);
}

/// Whoever asks for a revocation and does not wait for the answer gets it all
/// the same: what the disk says, the guard does.
#[test]
fn a_revocation_outlives_its_caller() {
    let service = Running::start();
    let plugin = register(&service, "hasty", json!({}));
    let tokens: Vec<_> =
        (0..20).map(|_| issue(&service, plugin, &json!({ "name": "t" }))).collect();
    for token in &tokens {
        let request = Request::new("DELETE", format!("/v1/plugins/{plugin}/tokens/{}", token.id))
            .token(service.token());
        let mut stream = connect(service.address()).expect("a connection");
        stream.write_all(&request.to_bytes(service.address())).expect("the bytes are taken");
        drop(stream);
    }
    // The last change of all is waited for; by then the others are through or
    // were never begun.
    let last = issue(&service, plugin, &json!({ "name": "last" }));
    revoke(&service, plugin, last.id);
    let agree = || {
        let target = format!("/v1/plugins/{plugin}/tokens");
        let listed = service.call(&Request::get(target)).json();
        let states = listed["items"].as_array().cloned().unwrap_or_default();
        tokens.iter().all(|token| {
            let told = states.iter().find(|state| state["id"] == json!(token.id));
            let revoked = told.is_some_and(|told| told["state"] == "revoked");
            revoked == (me(&service, &text(token)).status == 401)
        })
    };
    // Between disk and memory lies a moment; it has to end.
    let agreed = (0..100).any(|_| {
        agree() || {
            std::thread::sleep(std::time::Duration::from_millis(20));
            false
        }
    });
    assert!(agreed, "a token that is revoked on the disk still opens");
}

/// Tokens go with the data: verified, exported, imported, they open as before.
#[tokio::test]
async fn tokens_move_with_the_data() {
    let folder = tempfile::tempdir().expect("a folder");
    let (from, dump, to) =
        (folder.path().join("from"), folder.path().join("dump.jsonl"), folder.path().join("to"));
    let service = Running::start_at(&from);
    let plugin = register(&service, "moving", json!({}));
    let kept = issue(&service, plugin, &json!({ "name": "kept" }));
    let revoked = issue(&service, plugin, &json!({ "name": "revoked" }));
    revoke(&service, plugin, revoked.id);
    let gone = register(&service, "gone", json!({}));
    assert_eq!(service.call(&Request::new("DELETE", format!("/v1/plugins/{gone}"))).status, 200);
    service.stop();
    let told = maintain::check(engine::place(&from)).await.expect("a sound store");
    assert_eq!(told["records"]["plugins"], 2, "{told}");
    maintain::export(engine::place(&from), &dump).await.expect("an export");
    let key = from.join("studio-key");
    maintain::fill((Saved::Export, &dump), engine::place(&to), Some(&key))
        .await
        .expect("an import");
    maintain::check(engine::place(&to)).await.expect("a sound store");
    let service = Running::start_at(&to);
    assert_eq!(me(&service, &text(&kept)).status, 200);
    assert_eq!(me(&service, &text(&revoked)).status, 401);
    let body = json!({ "name": "gone", "scopes": ["compute"] });
    refused(&service.call(&Request::post("/v1/plugins", &body)), ErrorCode::Conflict, "its name");
}

/// A stream that was begun with a token ends with it: what happens after the
/// revocation is not told.
#[test]
fn a_stream_ends_with_its_token() {
    let service = Running::start();
    let more = json!({ "scopes": ["admin"], "allow_admin": true });
    let plugin = register(&service, "listening", more);
    let token = issue(&service, plugin, &json!({ "name": "t" }));
    let request = Request::get("/v1/events/stream").token(&text(&token));
    let mut stream = connect(service.address()).expect("a connection");
    stream.write_all(&request.to_bytes(service.address())).expect("the bytes are taken");
    let mut heard = Vec::new();
    let mut buffer = [0; 1024];
    let hears = |heard: &[u8], words: &str| String::from_utf8_lossy(heard).contains(words);
    while !hears(&heard, ": etui") {
        let read = stream.read(&mut buffer).expect("more of the stream");
        heard.extend_from_slice(&buffer[..read]);
    }
    put_client(&service, "before");
    while !hears(&heard, "clients/before") {
        let read = stream.read(&mut buffer).expect("more of the stream");
        assert!(0 < read, "it ended too early");
        heard.extend_from_slice(&buffer[..read]);
    }
    revoke(&service, plugin, token.id);
    put_client(&service, "after");
    stream.read_to_end(&mut heard).expect("the end of the stream");
    assert!(!hears(&heard, "clients/after"), "told after the revocation");
}
