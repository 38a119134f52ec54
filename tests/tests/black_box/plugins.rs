//! Plug-ins: who may register them, what their tokens open, how often, and
//! what is told of what they did. How a token lives and ends: [`crate::plugin_tokens`].

use etui_schema::access::Scope;
use etui_schema::page::PageQuery;
use etui_schema::plugins::{Identity, Plugin, PluginToken};
use etui_schema::problem::{ErrorCode, FaultCode};
use etui_tests::running::{NOW, Running, client_of, moment};
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};
use uuid::Uuid;

/// Registers a plug-in of these scopes and limits.
pub(crate) fn register(service: &Running, name: &str, more: Value) -> Uuid {
    let mut body = json!({ "name": name, "scopes": ["compute"] });
    body.as_object_mut().expect("an object").extend(more.as_object().cloned().unwrap_or_default());
    let answer = service.call(&Request::post("/v1/plugins", &body));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.read::<Plugin>().id
}

/// Makes a token.
pub(crate) fn issue(service: &Running, plugin: Uuid, body: &Value) -> PluginToken {
    let answer = service.call(&Request::post(format!("/v1/plugins/{plugin}/tokens"), body));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.read()
}

/// The text of a token that has just been made.
pub(crate) fn text(token: &PluginToken) -> String {
    token.secret.clone().expect("a secret")
}

/// Asks whose token this is.
pub(crate) fn me(service: &Running, token: &str) -> Answer {
    service.call(&Request::get("/v1/plugins/me").token(token))
}

/// The answer is a refusal of this code.
pub(crate) fn refused(answer: &Answer, want: ErrorCode, what: &str) {
    assert_eq!(answer.problem().code, want, "{what}: {}", answer.text());
}

#[test]
fn a_token_opens_what_it_names_and_nothing_else() {
    let service = Running::start();
    let plugin = register(&service, "booking", json!({ "scopes": ["compute", "drawer:read"] }));
    let token = issue(&service, plugin, &json!({ "name": "desk", "scopes": ["drawer:read"] }));
    let told: Identity = me(&service, &text(&token)).read();
    assert_eq!((told.holder.as_str(), told.scopes), ("booking", vec![Scope::DrawerRead]));
    assert_eq!(told.plugin.map(|plugin| plugin.id), Some(plugin));
    let own = told.token.expect("the token itself");
    assert_eq!((own.id, own.secret), (token.id, None));
    let ask = |request: Request| service.call(&request.token(&text(&token)));
    assert_eq!(ask(Request::get("/v1/lots")).status, 200);
    for request in [
        Request::post("/v1/label-readings", &json!({ "labels": [{ "text": "0.30 3RS" }] })),
        Request::get("/v1/clients/client-1"),
        Request::get("/metrics"),
        Request::get("/v1/plugins"),
        Request::get(format!("/v1/plugins/{plugin}")),
        Request::get(format!("/v1/plugins/{plugin}/tokens")),
    ] {
        refused(&ask(request.clone()), ErrorCode::InsufficientScope, &request.target);
    }
    let owner: Identity = service.call(&Request::get("/v1/plugins/me")).read();
    assert_eq!((owner.holder.as_str(), owner.scopes), ("owner", vec![Scope::Admin]));
    assert!(owner.plugin.is_none() && owner.token.is_none());
}

#[test]
fn what_is_refused_at_registration() {
    let service = Running::start();
    register(&service, "Booking", json!({}));
    let post = |body: Value| service.call(&Request::post("/v1/plugins", &body));
    for name in ["booking", "BOOKING", "Booking"] {
        refused(&post(json!({ "name": name, "scopes": ["compute"] })), ErrorCode::Conflict, name);
    }
    for (body, at, kind) in [
        (json!({ "name": "owner", "scopes": ["compute"] }), "#/name", FaultCode::NotAllowed),
        (json!({ "name": "Anyone", "scopes": ["compute"] }), "#/name", FaultCode::NotAllowed),
        (json!({ "name": "a b", "scopes": ["compute"] }), "#/name", FaultCode::WrongFormat),
        (json!({ "name": "x", "scopes": [] }), "#/scopes", FaultCode::WrongLength),
        (json!({ "name": "x", "scopes": ["nothing"] }), "#/scopes/0", FaultCode::UnknownValue),
        (
            json!({ "name": "x", "scopes": ["compute", "compute"] }),
            "#/scopes/1",
            FaultCode::Duplicate,
        ),
        (
            json!({ "name": "x", "scopes": ["compute", "admin"] }),
            "#/scopes/1",
            FaultCode::NotAllowed,
        ),
        (
            json!({ "name": "x", "scopes": ["admin"], "allow_admin": false }),
            "#/scopes/0",
            FaultCode::NotAllowed,
        ),
        (
            json!({ "name": "x", "scopes": ["compute"], "requests_per_minute": 0 }),
            "#/requests_per_minute",
            FaultCode::OutOfRange,
        ),
        (
            json!({ "name": "x", "scopes": ["compute"], "requests_per_day": 10_000_001 }),
            "#/requests_per_day",
            FaultCode::OutOfRange,
        ),
    ] {
        let problem = post(body.clone()).problem();
        let found = problem.errors.iter().any(|fault| fault.pointer == at && fault.code == kind);
        assert!(found, "{body}: {problem}");
    }
}

#[test]
fn admin_comes_from_the_owner_in_person() {
    let service = Running::start();
    let admin = json!({ "scopes": ["admin"], "allow_admin": true });
    let steward = register(&service, "steward", admin.clone());
    let token = text(&issue(&service, steward, &json!({ "name": "one" })));
    let ask = |request: Request| service.call(&request.token(&token));
    // It may do what an administrator does …
    let made = ask(Request::post("/v1/plugins", &json!({ "name": "a", "scopes": ["compute"] })));
    let plugin: Plugin = made.read();
    let tokens = format!("/v1/plugins/{}/tokens", plugin.id);
    assert_eq!(ask(Request::post(tokens, &json!({ "name": "t" }))).status, 201);
    // … but hand `admin` on to nobody, not even to itself.
    let mut second = json!({ "name": "second" });
    second
        .as_object_mut()
        .expect("an object")
        .extend(admin.as_object().cloned().unwrap_or_default());
    let own = format!("/v1/plugins/{steward}/tokens");
    for request in [
        Request::post("/v1/plugins", &second),
        Request::post(own.clone(), &json!({ "name": "two" })),
        Request::post(own, &json!({ "name": "less", "scopes": ["compute"] })),
    ] {
        let problem = ask(request).problem();
        assert_eq!(problem.errors[0].code, FaultCode::NotAllowed, "{problem}");
    }
}

#[test]
fn a_token_never_holds_more_than_its_plugin() {
    let service = Running::start();
    let plugin = register(&service, "small", json!({ "scopes": ["compute", "drawer:read"] }));
    let target = format!("/v1/plugins/{plugin}/tokens");
    for (scopes, at, kind) in [
        (json!(["compute", "drawer:write"]), "#/scopes/1", FaultCode::NotAllowed),
        (json!(["admin"]), "#/scopes/0", FaultCode::NotAllowed),
        (json!(["compute", "compute"]), "#/scopes/1", FaultCode::Duplicate),
        (json!([]), "#/scopes", FaultCode::WrongLength),
    ] {
        let body = json!({ "name": "t", "scopes": scopes });
        let problem = service.call(&Request::post(target.clone(), &body)).problem();
        let found = problem.errors.iter().any(|fault| fault.pointer == at && fault.code == kind);
        assert!(found, "{body}: {problem}");
    }
    let body = json!({ "name": "t", "expires_at": NOW });
    let problem = service.call(&Request::post(target, &body)).problem();
    assert_eq!(problem.errors[0].pointer, "#/expires_at", "the moment itself is too late");
}

/// draft-ietf-httpapi-ratelimit-headers-10; RFC 6585, 4 for the 429.
#[test]
fn who_asks_too_often_is_told_when_to_come_back() {
    let service = Running::start();
    let limits = json!({ "requests_per_minute": 2, "requests_per_day": 3 });
    let plugin = register(&service, "eager", limits);
    let token = issue(&service, plugin, &json!({ "name": "a" }));
    let second = issue(&service, plugin, &json!({ "name": "b" }));
    let ask = |token: &PluginToken| me(&service, &text(token));
    let first = ask(&token);
    let policy = "\"minute\";q=2;w=60, \"day\";q=3;w=86400";
    assert_eq!(first.header("ratelimit-policy"), Some(policy));
    // It is nine in the morning in Berlin: fifteen hours to midnight.
    assert_eq!(first.header("ratelimit"), Some("\"minute\";r=1;t=30, \"day\";r=2;t=54000"));
    // More tokens are not more requests, and what lacks a scope counts too.
    let lacking = service.call(&Request::get("/v1/lots").token(&text(&second)));
    refused(&lacking, ErrorCode::InsufficientScope, "a missing scope");
    assert_eq!(lacking.header("ratelimit"), Some("\"minute\";r=0;t=30, \"day\";r=1;t=54000"));
    let over = ask(&token);
    assert_eq!(over.status, 429);
    refused(&over, ErrorCode::RateLimited, "the third within a minute");
    assert_eq!(over.header("retry-after"), Some("30"));
    assert_eq!(over.header("ratelimit-policy"), Some(policy));
    let third = issue(&service, plugin, &json!({ "name": "c" }));
    assert_eq!(ask(&third).status, 429, "a new token is no new allowance");
    service.set_clock("2027-03-16T08:00:30Z");
    assert_eq!(ask(&token).status, 200, "as soon as was said");
    service.set_clock("2027-03-16T12:00:00Z");
    assert_eq!(ask(&token).header("retry-after"), Some("39600"), "the day is spent");
    service.set_clock("2027-03-16T23:00:00Z");
    assert_eq!(ask(&token).status, 200, "midnight in Berlin");
    for _ in 0..5 {
        let owner = service.call(&Request::get("/v1/plugins/me"));
        assert_eq!((owner.status, owner.header("ratelimit")), (200, None), "the owner");
    }
}

#[tokio::test]
async fn what_a_plugin_did_is_told_newest_first() {
    let service = Running::start();
    let plugin = register(&service, "busy", json!({ "scopes": ["drawer:write", "drawer:read"] }));
    let token = issue(&service, plugin, &json!({ "name": "t" }));
    let client = client_of(service.address(), &text(&token));
    let lot = |code: u32| {
        let body = json!({ "text": format!("0.30 3RS\nLOT A{code}\nEXP 2029-06-30 STERILE EO"), "packs": 5 });
        serde_json::from_value(body).expect("a lot")
    };
    let owner = service.client();
    let mut wanted = Vec::new();
    for number in 0..7 {
        let made = client.receive_lot(&lot(number)).await.expect("a lot");
        wanted.insert(0, format!("lots/{}", made.id));
        owner.receive_lot(&lot(100 + number)).await.expect("a lot of the owner's");
    }
    let all = owner.plugin_activity(plugin).all().await.expect("every entry");
    let told: Vec<_> = all.iter().map(|act| act.record.clone()).collect();
    assert_eq!(told, wanted);
    assert!(all.iter().all(|act| act.what == "lot.receive" && act.at.0 == moment(NOW)));
    // Page by page, while both go on.
    let mut query = PageQuery { limit: Some(3), cursor: None };
    let mut paged = Vec::new();
    loop {
        let page = owner.list_plugin_activity(plugin, &query).await.expect("a page");
        paged.extend(page.items.into_iter().map(|act| act.record));
        client.receive_lot(&lot(200)).await.expect("another lot");
        if page.next_cursor.is_none() {
            break;
        }
        query.cursor = page.next_cursor;
    }
    assert_eq!(paged, wanted);
    // A cursor belongs to its plug-in; what was done outlives who did it.
    let other = register(&service, "idle", json!({}));
    assert!(owner.plugin_activity(other).all().await.expect("no entry").is_empty());
    query.cursor = owner
        .list_plugin_activity(plugin, &PageQuery { limit: Some(1), cursor: None })
        .await
        .expect("a page")
        .next_cursor;
    let foreign = owner.list_plugin_activity(other, &query).await.expect_err("a foreign cursor");
    assert_eq!(foreign.code(), Some(ErrorCode::UnreadableRequest));
    owner.remove_plugin(plugin).await.expect("a removal");
    let after = owner.plugin_activity(plugin).all().await.expect("every entry");
    assert!(wanted.len() < after.len());
}

/// The memory of idempotency is each holder's own.
#[test]
fn a_key_of_one_is_not_a_key_of_another() {
    let service = Running::start();
    let token = |name: &str| {
        let plugin = register(&service, name, json!({ "scopes": ["drawer:write"] }));
        text(&issue(&service, plugin, &json!({ "name": "t" })))
    };
    let body = json!({ "text": "0.30 3RS\nLOT A1\nEXP 2029-06-30 STERILE EO", "packs": 5 });
    let request = Request::post("/v1/lots", &body).header("Idempotency-Key", "\"delivery-1\"");
    let of = |token: &str| service.call(&request.clone().token(token));
    let (one, two) = (of(&token("one")), of(&token("two")));
    assert_eq!((one.status, two.status), (201, 201));
    assert_eq!(two.header("idempotent-replayed"), None);
    assert_ne!(one.json()["id"], two.json()["id"]);
}

/// What a change takes from a plug-in its tokens lose at once and for good; what it
/// gives they do not get. Limits go on from what is spent.
#[test]
fn scopes_and_limits_change_under_the_tokens() {
    let service = Running::start();
    let more = json!({ "scopes": ["compute", "drawer:read"], "requests_per_minute": 10 });
    let plugin = register(&service, "typo", more);
    let target = format!("/v1/plugins/{plugin}");
    let token = text(&issue(&service, plugin, &json!({ "name": "t" })));
    let lots = || service.call(&Request::get("/v1/lots").token(&token));
    assert_eq!(lots().status, 200);
    let tag = || service.call(&Request::get(target.clone())).header("etag").map(str::to_owned);
    let change = |patch: Value| {
        let tag = tag().expect("an ETag");
        service.call(&Request::merge(target.clone(), &patch).header("If-Match", tag))
    };
    let without = service.call(&Request::merge(target.clone(), &json!({})));
    refused(&without, ErrorCode::PreconditionRequired, "no version");
    let stale = Request::merge(target.clone(), &json!({})).header("If-Match", "\"old\"");
    refused(&service.call(&stale), ErrorCode::PreconditionFailed, "another version");
    for (patch, at) in [
        (json!({ "name": "right" }), "#/name"),
        (json!({ "scopes": null }), "#/scopes"),
        (json!({ "scopes": [] }), "#/scopes"),
        (json!({ "scopes": ["compute", "admin"] }), "#/scopes/1"),
        (json!({ "requests_per_minute": 0 }), "#/requests_per_minute"),
    ] {
        let problem = change(patch.clone()).problem();
        assert_eq!(problem.errors[0].pointer, at, "{patch}: {problem}");
    }
    let same: Plugin = service.call(&Request::get(target.clone())).read();
    let again = Plugin { version: same.version + 1, ..same };
    assert_eq!(change(json!({})).read::<Plugin>(), again, "it was said again");

    let less: Plugin = change(json!({ "scopes": ["compute"], "requests_per_minute": 3 })).read();
    assert_eq!((less.scopes, less.requests_per_minute), (vec![Scope::Compute], Some(3)));
    refused(&lots(), ErrorCode::InsufficientScope, "taken away");
    let again = change(json!({ "scopes": ["drawer:read", "compute"], "description": "a till" }));
    assert_eq!(again.read::<Plugin>().description.as_deref(), Some("a till"));
    let told: Identity = me(&service, &token).read();
    assert_eq!(told.scopes, [Scope::Compute], "given back to the plug-in, not to the token");
    assert_eq!(told.token.map(|own| own.scopes), Some(vec![Scope::Compute]));
    assert_eq!(me(&service, &token).status, 429, "what was spent stays spent");
    let free: Plugin = change(json!({ "requests_per_minute": null })).read();
    assert_eq!(free.requests_per_minute, None);
    assert_eq!(me(&service, &token).status, 200);
    assert_eq!(service.call(&Request::new("DELETE", target.clone())).status, 200);
    let gone = Request::merge(target, &json!({})).header("If-Match", "*");
    refused(&service.call(&gone), ErrorCode::NotFound, "removed");
}
