//! Packs and what is stored: dry runs over stored checks, and stored packs that
//! are no longer sound.

use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

use crate::packs::{ON, RULES, assess, case, created, healthy, own_rule};

/// A dry run counts what it looked at, names what would change, writes nothing.
#[test]
fn a_dry_run_shows_what_would_change() {
    let running = Running::start();
    for (n, but) in [json!({}), json!({ "cold_sore_history": true }), json!({ "fish_oil": true })]
        .iter()
        .enumerate()
    {
        let body = json!({
            "booking_ref": format!("booking-{n}"), "client_ref": format!("client-{n}"), "treatment": "lips",
            "effect": "soft_shading", "starts_at": format!("{ON}T08:00:00Z"), "born_on": "1990-06-15",
            "answers": healthy(&running, "lips", but), "candidates": "usual",
        });
        let answer = running.call(&Request::post("/v1/appointment-checks", &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
    }
    let ask = |body: &Value| running.call(&Request::post(format!("{RULES}/strict/dry-runs"), body));
    assert_eq!(ask(&json!({})).status, 404, "nothing sent, nothing kept");
    let pack = json!({ "tighten": [{ "rule": "cold_sore_history", "verdict": "decline" }, { "rule": "fish_oil", "points": 0 }] });
    let told = ask(&json!({ "pack": pack })).json();
    assert_eq!(told["errors"][0]["pointer"], "#/pack/tighten/1/points", "{told}");
    let pack = json!({ "tighten": [{ "rule": "cold_sore_history", "verdict": "decline" }] });
    let told = ask(&json!({ "pack": pack })).json();
    assert_eq!(
        (told["checks"].clone(), told["not_screened"].clone()),
        (json!(3), json!(0)),
        "{told}"
    );
    assert_eq!(told["changes"].as_array().map(Vec::len), Some(1), "{told}");
    let change = &told["changes"][0];
    assert_eq!(change["booking_ref"], "booking-1");
    assert_eq!(
        (change["from"].clone(), change["to"].clone()),
        (json!("proceed_with_conditions"), json!("decline"))
    );
    assert_eq!(change["rules"], json!(["cold_sore_history"]));
    // A question nobody has answered yet leaves every check open.
    let told = ask(&json!({ "pack": own_rule("race"), "limit": 2 })).json();
    assert_eq!(
        (told["checks"].clone(), told["changes"][0]["to"].clone()),
        (json!(2), json!("incomplete"))
    );
    assert_eq!(told["changes"][0]["unanswered"], json!(["race_asked"]));
    let rest =
        ask(&json!({ "pack": own_rule("race"), "limit": 2, "cursor": told["next_cursor"] })).json();
    assert_eq!(rest["checks"], json!(1), "{rest}");
    let wrong = ask(&json!({ "pack": pack, "cursor": "x" })).json();
    assert_eq!(wrong["errors"][0]["pointer"], "#/cursor", "{wrong}");
    // One that is kept but switched off is tried as if it were on.
    let mut off = pack.clone();
    off["enabled"] = json!(false);
    created(&running, &format!("{RULES}/strict"), &off);
    assert_eq!(ask(&json!({})).json()["changes"].as_array().map(Vec::len), Some(1));
    // An erased client's check is counted and not screened.
    let erased = Request::new("DELETE", "/v1/clients/client-1").header("If-Match", "*");
    assert_eq!(running.call(&erased).status, 200);
    let told = ask(&json!({ "pack": pack })).json();
    assert_eq!(
        (told["checks"].clone(), told["not_screened"].clone()),
        (json!(3), json!(1)),
        "{told}"
    );
    let packs = running.call(&Request::get("/v1/packs")).json();
    assert_eq!(packs["items"].as_array().map(Vec::len), Some(1), "a dry run keeps nothing");
}

/// A pack that is damaged, or that a later build no longer takes, keeps nobody
/// from working: it is left out and named.
#[test]
fn an_unsound_stored_pack_does_not_stop_the_service() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let running = Running::start_at(folder.path());
    let fine = json!({ "tighten": [{ "rule": "fish_oil", "verdict": "decline" }] });
    created(&running, &format!("{RULES}/fine"), &fine);
    running.stop();
    let outdated = json!({
        "v": 1, "kind": "pack", "data": {
            "kind": "rules", "name": "outdated", "enabled": true, "revision": 4, "digest": "",
            "updated_at": "2027-03-01T00:00:00Z", "updated_by": "owner",
            "pack": { "enabled": true, "tighten": [{ "rule": "rule_of_old", "points": 1 }] },
        },
    });
    plant(
        folder.path(),
        &[("damaged", "{\"v\":1,\"kind".to_owned()), ("outdated", outdated.to_string())],
    );
    let running = Running::start_at(folder.path());
    let ready = running.call(&Request::get("/health/ready"));
    assert_eq!(ready.status, 200, "{}", ready.text());
    let told = ready.json();
    let packs = told["checks"].as_array().expect("checks").iter();
    let packs = packs.clone().find(|check| check["component"] == "packs").expect("packs");
    assert_eq!(packs["status"], "warn");
    let output = packs["output"].as_str().expect("words");
    assert!(output.contains("rules/damaged") && output.contains("rules/outdated"), "{output}");
    assert!(!output.contains("fine"), "{output}");
    let found = assess(&running, &case(&running, &json!({ "fish_oil": true })));
    assert_eq!(
        (found["verdict"].clone(), found["rulebook"]["packs"].clone()),
        (json!("decline"), json!(["fine"]))
    );
    let outdated = running.call(&Request::get(format!("{RULES}/outdated")));
    assert_eq!(outdated.json()["faults"][0]["pointer"], "#/tighten/0/rule", "{}", outdated.text());
    assert_eq!(outdated.json()["applied"], false);
    // The unsound ones do not stand in the way of others, and can be mended or taken away.
    created(&running, &format!("{RULES}/other"), &own_rule("race"));
    for (name, request) in [
        ("outdated", Request::put(format!("{RULES}/outdated"), &json!({}))),
        ("damaged", Request::new("DELETE", format!("{RULES}/damaged"))),
    ] {
        let held = running.call(&Request::get(format!("{RULES}/{name}")));
        let tag = held.header("etag").expect("a tag").to_owned();
        let answer = running.call(&request.header("If-Match", tag));
        assert_eq!(answer.status, 200, "{name}: {}", answer.text());
    }
    let ready = running.call(&Request::get("/health/ready")).json();
    assert!(!ready.to_string().contains("unsound: "), "{ready}");
}

/// Writes rows into the space of packs while the service is stopped.
fn plant(folder: &std::path::Path, rows: &[(&str, String)]) {
    use etui_service::store::database::Entry;
    use etui_service::store::key::KeyWriter;
    use etui_service::store::{Batch, Serve, Store, StoreConfig};
    use etui_service::studio::engine::Engine;
    use etui_service::studio::packs::PACKS;
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    runtime.expect("a runtime").block_on(async {
        let database = etui_tests::engine::database(folder).find().expect("no file is named");
        let opened = Engine::open(StoreConfig::new(folder), database.as_ref(), Entry::Alone).await;
        let (store, _) = opened.expect("the store opens");
        let mut batch = Batch::new();
        for (name, value) in rows {
            let key = KeyWriter::new().text("rules").text(name).finish();
            batch = batch.put(PACKS, key, value.clone().into_bytes());
        }
        store.commit(batch).await.expect("written");
        store.close().await.expect("closed");
    });
}

#[tokio::test]
async fn the_client_keeps_tries_and_takes_packs_away() -> Result<(), Box<dyn std::error::Error>> {
    use etui_schema::packs::{
        LabelSpellingsPack, PackDryRunRequest, PackKind, PackQuery, RulesPack,
    };
    let running = Running::start();
    let client = running.client();
    let name = "house".parse()?;
    let pack: RulesPack = serde_json::from_value(
        json!({ "tighten": [{ "rule": "fish_oil", "verdict": "decline" }] }),
    )?;
    let ask = PackDryRunRequest { pack: Some(pack.clone()), ..PackDryRunRequest::default() };
    let tried = client.dry_run_rules_pack(&name, &ask).await?;
    assert_eq!((tried.checks, tried.changes.len()), (0, 0));
    assert_ne!(tried.digest_before, tried.digest_after);
    let kept = client.put_rules_pack(&name, &pack, None).await?;
    assert!(kept.value.applied && kept.value.kind == PackKind::Rules);
    let spellings =
        LabelSpellingsPack { noise: vec!["ZETA".to_owned()], ..LabelSpellingsPack::default() };
    client.put_label_spellings_pack(&name, &spellings, None).await?;
    let read = client.get_rules_pack(&name).await?;
    assert_eq!((read.value.pack, read.etag.clone()), (pack.clone(), kept.etag));
    let again = client.put_rules_pack(&name, &pack, Some(&read.etag)).await?;
    assert_eq!(
        (again.value.revision, again.value.digest.as_str()),
        (2, kept.value.digest.as_str())
    );
    let rules = PackQuery { kind: Some(PackKind::Rules), ..PackQuery::default() };
    assert_eq!(client.list_packs(&rules).await?.items.len(), 1);
    let mut pages = client.packs();
    let mut names = Vec::new();
    while let Some(row) = pages.next().await? {
        names.push(format!("{}/{}", row.kind, row.name));
    }
    assert_eq!(names, ["label-spellings/house", "rules/house"]);
    let gone = client.delete_rules_pack(&name, Some(&again.etag)).await?;
    assert_eq!(gone.revision, 2);
    assert!(client.get_rules_pack(&name).await.is_err());
    Ok(())
}
