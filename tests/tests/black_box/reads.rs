//! A page costs a handful of questions to the store, however many rows it has.

use std::path::Path;
use std::sync::Arc;

use etui_schema::appointment_checks::CheckQuery;
use etui_schema::lots::LotQuery;
use etui_schema::page::PageQuery;
use etui_schema::reminders::ReminderQuery;
use etui_schema::treatments::TreatmentQuery;
use etui_service::http::boot::open_studio;
use etui_service::http::clock::System;
use etui_service::store::{Serve, Store, harden_sync};
use etui_service::studio::branches::Days;
use etui_service::studio::moment::{Mandate, Moment};
use etui_service::studio::{Studio, appointment_checks, lots, plugins, reminders, treatments};
use etui_tests::engine;
use etui_tests::running::{Running, moment};
use etui_tests::wire::Request;
use serde_json::json;

fn post(running: &Running, path: &str, body: &serde_json::Value) -> serde_json::Value {
    let answer = running.call(&Request::post(path, body));
    assert_eq!(answer.status, 201, "{path}: {}", answer.text());
    answer.json()
}

/// A drawer of 120 lots, 12 treatments of one client and 20 of others, 30 checks, 5 plug-ins.
fn fill(running: &Running) {
    let lot = json!({ "text": "0.30 3RL LOT A1 EXP 2030-01-31 STERILE R", "packs": 90 });
    post(running, "/v1/deliveries", &json!({ "lots": vec![lot.clone(); 119] }));
    let lot = post(running, "/v1/lots", &lot)["id"].clone();
    let others = (0..20).map(|n| format!("client-{n}"));
    for (n, client) in others.chain(vec!["regular".to_owned(); 12]).enumerate() {
        let body = json!({
            "client_ref": client,
            "artist_ref": "artist-1",
            "treatment": "brows",
            "performed_at": format!("2027-03-16T07:{n:02}:00Z"),
            "packs": [{ "lot_id": lot, "intact": true }],
        });
        post(running, "/v1/treatments", &body);
    }
    for n in 0..30 {
        let body = json!({
            "booking_ref": format!("booking-{n}"), "treatment": "brows", "effect": "soft_shading",
            "starts_at": "2027-04-03T09:00:00Z", "born_on": "1990-05-02",
        });
        post(running, "/v1/appointment-checks", &body);
    }
    for n in 0..5 {
        let body = json!({ "name": format!("plug-in-{n}"), "scopes": ["drawer:read"] });
        post(running, "/v1/plugins", &body);
    }
}

/// Asserts how many questions each page took: fewer than ten, and one more for a hundred rows.
async fn look(studio: &Studio) {
    let limit = Some(100);
    let today = studio.zone.rules().to_datetime(moment("2027-03-16T08:00:00Z")).date();
    let check = |what: &str, rows: usize, least: usize, reads: usize| {
        assert!(least <= rows, "{what}: {rows} rows");
        assert!(reads <= 10 + rows / 100, "{what}: {reads} reads for {rows} rows");
    };
    let mut snap = studio.engine.snapshot().await.expect("a view");
    let query = LotQuery { limit, ..LotQuery::default() };
    let now = moment("2027-03-16T08:00:00Z");
    let asked = Moment {
        now,
        dated: now,
        today,
        holder: "owner".to_owned(),
        mandate: Mandate::default(),
        event_source: studio.event_source.clone(),
        sources: Arc::new(System),
    };
    let page = lots::list(studio, &mut snap, &asked, &query).await.expect("lots");
    check("lots", page.items.len(), 100, snap.reads());

    let mut snap = studio.engine.snapshot().await.expect("a view");
    let usable = lots::usable_on(&mut snap, &Days::only(today), None).await.expect("lots");
    check("the drawer", usable.len(), 120, snap.reads());

    let mut snap = studio.engine.snapshot().await.expect("a view");
    let client_ref = "regular".parse().expect("a reference");
    let query = TreatmentQuery { client_ref: Some(client_ref), limit, ..TreatmentQuery::default() };
    let page =
        treatments::list(studio, &mut snap, &Mandate::default(), &query).await.expect("treatments");
    check("treatments", page.items.len(), 12, snap.reads());

    let mut snap = studio.engine.snapshot().await.expect("a view");
    let query = CheckQuery { limit, ..CheckQuery::default() };
    let page = appointment_checks::list(studio, &mut snap, &Mandate::default(), &query)
        .await
        .expect("checks");
    check("checks", page.items.len(), 30, snap.reads());

    let with_verdict = page.items.iter().filter(|row| row.verdict.is_some());
    assert_eq!(with_verdict.count(), 30, "a row of checks has its verdict");

    let mut snap = studio.engine.snapshot().await.expect("a view");
    let artist_ref = Some("artist-1".parse().expect("a reference"));
    let query = TreatmentQuery { artist_ref, limit, ..TreatmentQuery::default() };
    let page =
        treatments::list(studio, &mut snap, &Mandate::default(), &query).await.expect("treatments");
    check("treatments of an artist", page.items.len(), 32, snap.reads());

    let mut snap = studio.engine.snapshot().await.expect("a view");
    let query = ReminderQuery { limit, ..ReminderQuery::default() };
    let page =
        reminders::list(studio, &mut snap, &Mandate::default(), &query).await.expect("reminders");
    check("reminders", page.items.len(), 100, snap.reads());

    let mut snap = studio.engine.snapshot().await.expect("a view");
    let query = PageQuery { limit, cursor: None };
    let page = plugins::list(studio, &mut snap, &query).await.expect("plug-ins");
    check("plug-ins", page.items.len(), 5, snap.reads());
}

fn in_store(folder: &Path) {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    runtime.expect("a runtime").block_on(async {
        let config = engine::settings(folder);
        let opened = open_studio(&config, &System, harden_sync()).await;
        let studio = opened.expect("the studio opens").0;
        look(&studio).await;
        studio.engine.close().await.expect("the store closes");
    });
}

#[test]
fn a_page_takes_few_questions_however_many_rows_it_has() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let running = Running::start_at(folder.path());
    fill(&running);
    drop(running);
    in_store(folder.path());
}
