//! What is added to a treatment afterwards: reviews, symptom reports,
//! amendments.

use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

/// Stands in health fields; must be gone from a dossier after an erasure.
pub(crate) const NOTE: &str = "the left side held less";

fn receive(running: &Running, body: &Value) -> String {
    let answer = running.call(&Request::post("/v1/lots", body));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()["id"].as_str().expect("an id").to_owned()
}

pub(crate) fn lot(running: &Running, code: &str) -> String {
    let text = format!("0.30 3RS LOT {code} EXP 2036-01 STERILE EO");
    receive(running, &json!({ "text": text, "packs": 5, "maker": "north" }))
}

/// A treatment of the brows on 2027-01-20 with one pack.
pub(crate) fn record(running: &Running, lot: &str) -> Value {
    let body = json!({
        "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "brows",
        "effect": "soft_shading", "performed_at": "2027-01-20T09:00:00Z",
        "packs": [{ "lot_id": lot, "intact": true }],
    });
    let answer = running.call(&Request::post("/v1/treatments", &body));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()
}

pub(crate) fn path(treatment: &Value, of: &str) -> String {
    format!("/v1/treatments/{}{of}", treatment["id"].as_str().expect("an id"))
}

fn pointer(answer: &Answer) -> String {
    assert_eq!(answer.status, 422, "{}", answer.text());
    answer.json()["errors"][0]["pointer"].as_str().unwrap_or_default().to_owned()
}

fn packs_left(running: &Running, lot: &str) -> Value {
    running.call(&Request::get(format!("/v1/lots/{lot}"))).json()["packs"].clone()
}

/// Nothing is judged before day 28 (Int J Dermatol 1987;26:453-8); after it,
/// the parts that lost colour are named.
#[test]
fn a_review_is_judged_from_day_28_on() {
    let running = Running::start();
    let lot = lot(&running, "V1");
    let treatment = record(&running, &lot);
    let reviews = path(&treatment, "/reviews");
    let seen = |at: &str| {
        let body = json!({
            "reviewed_at": at, "note": NOTE, "colour": "as_planned", "surface": "smooth",
            "zones": [
                { "zone": "brow_body", "kept": "from_75" },
                { "zone": "brow_tail", "kept": "from_25_to_50" },
            ],
        });
        let answer = running.call(&Request::post(&reviews, &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
        answer.json()
    };
    let early = seen("2027-02-16T09:00:00Z");
    assert_eq!((&early["day"], &early["outcome"]), (&json!(27), &json!("too_early")));
    assert_eq!(early["not_before"], "2027-02-17");
    let judged = seen("2027-02-17T09:00:00Z");
    assert_eq!(judged["outcome"], "touch_up");
    let advice: Vec<&str> = judged["advice"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|one| one["key"].as_str())
        .collect();
    assert!(advice.contains(&"review_spots") && advice.contains(&"review_uneven_zones"));
    assert!(judged["advice"][0]["basis"][0]["source"].is_string(), "{judged}");
    let whole = running.call(&Request::get(path(&treatment, ""))).json();
    assert_eq!(whole["reviews"], json!([early, judged]));
}

/// Signs of trauma that were recorded while working count, whatever is told
/// weeks later.
#[test]
fn a_review_remembers_what_was_seen_while_working() {
    let running = Running::start();
    let treatment = record(&running, &lot(&running, "V2"));
    let seen = json!({ "signs": ["shredded"], "at": "2027-01-20T09:10:00Z" });
    let seen = running.call(&Request::post(path(&treatment, "/observations"), &seen));
    assert_eq!(seen.status, 201, "{}", seen.text());
    let kept = json!([{ "zone": "whole", "kept": "under_25" }]);
    let mut body = json!({ "zones": kept, "surface": "smooth" });
    let reviews = path(&treatment, "/reviews");
    let judged = running.call(&Request::post(&reviews, &body)).json();
    assert_eq!(judged["trauma_seen"], true);
    assert!(judged["advice"].to_string().contains("review_trauma"), "{judged}");
    body["trauma_seen"] = json!(false);
    assert_eq!(pointer(&running.call(&Request::post(&reviews, &body))), "#/trauma_seen");
}

#[test]
fn bad_reviews_and_reports_are_named() {
    let running = Running::start();
    let treatment = record(&running, &lot(&running, "V3"));
    let whole = json!([{ "zone": "whole", "kept": "from_75" }]);
    for (of, body, at) in [
        (
            "/reviews",
            json!({ "zones": [{ "zone": "lip_border", "kept": "from_75" }] }),
            "#/zones/0/zone",
        ),
        ("/reviews", json!({ "zones": [] }), "#/zones"),
        (
            "/reviews",
            json!({ "zones": whole, "reviewed_at": "2026-01-01T00:00:00Z" }),
            "#/reviewed_at",
        ),
        (
            "/reviews",
            json!({ "zones": whole, "reviewed_at": "2090-01-01T00:00:00Z" }),
            "#/reviewed_at",
        ),
        ("/reviews", json!({ "zones": whole, "healed": true }), "#/healed"),
        (
            "/symptom-reports",
            json!({ "symptoms": [{ "kind": "swelling" }, { "kind": "swelling" }] }),
            "#/symptoms/1/kind",
        ),
        (
            "/symptom-reports",
            json!({ "symptoms": [], "reported_at": "2090-01-01T00:00:00Z" }),
            "#/reported_at",
        ),
    ] {
        let answer = running.call(&Request::post(path(&treatment, of), &body));
        assert_eq!(pointer(&answer), at, "{body}: {}", answer.text());
    }
    let nowhere = "/v1/treatments/0198c6a2-7d5e-7000-8000-000000000001/reviews";
    let answer = running.call(&Request::post(nowhere, &json!({ "zones": whole })));
    assert_eq!(answer.status, 404, "{}", answer.text());
}

/// A kept report is judged like one that is not kept.
#[test]
fn a_report_is_kept_with_its_treatment() {
    let running = Running::start();
    let treatment = record(&running, &lot(&running, "V4"));
    let told = json!([{ "kind": "throat_or_tongue_swelling" }]);
    let body = json!({ "symptoms": told, "reported_at": "2027-01-20T12:00:00Z" });
    let kept = running.call(&Request::post(path(&treatment, "/symptom-reports"), &body));
    assert_eq!(kept.status, 201, "{}", kept.text());
    let kept = kept.json();
    assert_eq!(kept["judgement"]["level"], "emergency", "{kept}");
    let alone = json!({
        "treatment": "brows", "performed_at": "2027-01-20T09:00:00Z", "zone": "Europe/Berlin",
        "reported_at": "2027-01-20T12:00:00Z", "symptoms": told,
    });
    let alone = running.call(&Request::post("/v1/symptom-reports", &alone)).json();
    assert_eq!(kept["judgement"], alone);
    let whole = running.call(&Request::get(path(&treatment, ""))).json();
    assert_eq!(whole["symptom_reports"], json!([kept]));
}

/// What she takes or wears is kept with her, or was told for the check; where nobody knows it and
/// it would make the answer graver, it is asked, and so is a temperature.
#[test]
fn what_is_kept_of_her_counts_in_a_report() {
    let running = Running::start();
    let first = record(&running, &lot(&running, "V5"));
    let client = running.call(&Request::get(path(&first, ""))).json()["client_ref"].clone();
    let there = format!("/v1/clients/{}", client.as_str().expect("a client"));
    let count = std::cell::Cell::new(0);
    let report = |kind: &str, severity: &str| {
        count.set(count.get() + 1);
        let treatment = record(&running, &lot(&running, &format!("V5{}", count.get())));
        let told = json!([{ "kind": kind, "severity": severity, "trend": "same" }]);
        let body = json!({ "symptoms": told, "reported_at": "2027-01-20T09:40:00Z" });
        let kept = running.call(&Request::post(path(&treatment, "/symptom-reports"), &body));
        assert_eq!(kept.status, 201, "{}", kept.text());
        let kept = kept.json();
        // One area of one client: what is open there would count in the next.
        let id = kept["id"].as_str().expect("an id");
        let settled = path(&treatment, &format!("/symptom-reports/{id}/settlements"));
        let by = json!({ "settled_by": "Ada Lind" });
        assert_eq!(running.call(&Request::post(settled, &by)).status, 201);
        kept["judgement"].clone()
    };
    for (warfarin, kind, severity, level, asks) in [
        (false, "bleeding", "moderate", "artist", &["ask_fever", "ask_bleeding"][..]),
        (false, "bleeding", "severe", "same_day", &["ask_bleeding"]),
        (true, "bleeding", "moderate", "same_day", &[]),
        (true, "bleeding", "severe", "emergency", &[]),
        (true, "bleeding_will_not_stop", "mild", "emergency", &[]),
        (true, "redness", "mild", "expected", &["ask_fever"]),
    ] {
        let body = json!({ "answers": { "warfarin": warfarin } });
        let put = running.call(&Request::put(there.as_str(), &body).header("If-Match", "*"));
        let put =
            if put.status < 300 { put } else { running.call(&Request::put(there.as_str(), &body)) };
        assert!(put.status < 300, "{}", put.text());
        let found = report(kind, severity);
        let asked: Vec<&str> = found["ask"].as_array().map_or_else(Vec::new, |all| {
            all.iter().filter_map(|one| one["key"].as_str()).collect()
        });
        assert_eq!((&found["level"], asked), (&json!(level), asks.to_vec()), "{kind}: {found}");
        let says = found["assumed"].to_string().contains("blood thinner is on record");
        assert_eq!(says, warfarin && kind != "redness", "{kind}: {found}");
    }
}

/// Reports of a treatment are heard together until they are settled: what was told an hour ago is
/// not gone because the next report does not say it again.
#[test]
fn reports_of_a_treatment_are_heard_together() {
    let running = Running::start();
    let told = |treatment: &Value, kind: &str, at: &str| {
        let body = json!({ "symptoms": [{ "kind": kind }], "reported_at": at });
        let kept = running.call(&Request::post(path(treatment, "/symptom-reports"), &body));
        assert_eq!(kept.status, 201, "{}", kept.text());
        kept.json()
    };
    let level = |report: &Value| report["judgement"]["level"].as_str().expect("a level").to_owned();
    for (nth, (first, then)) in [
        ("hives", "vomiting"),
        ("vomiting", "hives"),
        ("bleeding_will_not_stop", "blood_thinner_taken"),
        ("throat_or_tongue_swelling", "redness"),
    ]
    .into_iter()
    .enumerate()
    {
        let treatment = record(&running, &lot(&running, &format!("V6{nth}")));
        let before = told(&treatment, first, "2027-01-20T12:00:00Z");
        let after = told(&treatment, then, "2027-01-20T12:30:00Z");
        assert_eq!(level(&after), "emergency", "{first}, then {then}");
        assert_eq!(after["symptoms"], json!([{ "kind": then }]), "kept as it was told");
        // Settled, and told anew as it is by then.
        for report in [&before, &after] {
            let id = report["id"].as_str().expect("an id");
            let settle = path(&treatment, &format!("/symptom-reports/{id}/settlements"));
            let body = json!({ "settled_by": "artist-1" });
            let settled = running.call(&Request::post(settle, &body));
            assert_eq!(settled.status, 201, "{}", settled.text());
        }
        let alone = told(&treatment, "redness", "2027-01-20T13:00:00Z");
        assert_ne!(level(&alone), "emergency", "{first} is settled");
    }
    // What could wait is heard for a day.
    let treatment = record(&running, &lot(&running, "V70"));
    assert_eq!(level(&told(&treatment, "tingling", "2027-01-20T12:00:00Z")), "artist");
    let late = told(&treatment, "redness", "2027-01-21T13:30:00Z");
    let fresh = record(&running, &lot(&running, "V71"));
    assert_eq!(level(&late), level(&told(&fresh, "redness", "2027-01-21T13:30:00Z")));
}

/// Nothing is overwritten: the record shows what is right, each amendment what
/// was, and drawer and recall follow.
#[test]
fn a_record_is_put_right_and_its_history_kept() {
    let running = Running::start();
    let (wrong, right) = (lot(&running, "W1"), lot(&running, "R1"));
    let treatment = record(&running, &wrong);
    let before = running.call(&Request::get(path(&treatment, "")));
    let body = json!({
        "reason": "the other packet was opened",
        "values": { "effect": "pixelated", "worked": { "hand": "light" } },
        "add_packs": [{ "lot_id": right, "intact": true }],
        "strike_packs": [0],
    });
    let amend = path(&treatment, "/amendments");
    let made = running.call(&Request::post(&amend, &body));
    assert_eq!(made.status, 201, "{}", made.text());
    let made = made.json();
    assert_eq!(made["was"], json!({ "effect": "soft_shading" }));
    assert_eq!((&made["number"], &made["by"]), (&json!(1), &json!("owner")));
    let after = running.call(&Request::get(path(&treatment, "")));
    assert_ne!(before.header("etag"), after.header("etag"));
    let after = after.json();
    assert_eq!(after["effect"], "pixelated");
    assert_eq!(after["packs"][0]["struck_in"], 1);
    assert_eq!(after["packs"][1]["lot"], "R1");
    assert_eq!(after["amendments"], json!([made]));
    assert_eq!((packs_left(&running, &wrong), packs_left(&running, &right)), (json!(5), json!(4)));
    for (lot, exposed) in [(&wrong, 0), (&right, 1)] {
        let found = running.call(&Request::get(format!("/v1/lots/{lot}/exposures"))).json();
        assert_eq!(found["treatments"].as_array().map(Vec::len), Some(exposed), "{found}");
    }
    for (body, at) in [
        (json!({ "reason": "again", "strike_packs": [0] }), "#/strike_packs/0"),
        (json!({ "reason": "again", "strike_packs": [7] }), "#/strike_packs/0"),
        (json!({ "reason": "again", "strike_packs": [1, 1] }), "#/strike_packs/1"),
        (json!({ "reason": "nothing at all" }), "#"),
        (
            json!({ "reason": "again", "add_packs": [{ "lot_id": right, "intact": false }] }),
            "#/add_packs/0/intact",
        ),
        (
            json!({ "reason": "again", "values": { "client_ref": "client-2" } }),
            "#/values/client_ref",
        ),
    ] {
        let answer = running.call(&Request::post(&amend, &body));
        assert_eq!(pointer(&answer), at, "{body}");
    }
}

fn flagged(running: &Running, treatment: &Value) -> Vec<String> {
    let kept = running.call(&Request::get(path(treatment, ""))).json();
    let flags = kept["flags"].as_array().cloned().unwrap_or_default();
    flags.iter().filter_map(|flag| flag["code"].as_str().map(str::to_owned)).collect()
}

fn amend(running: &Running, treatment: &Value, values: &Value) -> Value {
    let body = json!({ "reason": "mistyped", "values": values });
    let made = running.call(&Request::post(path(treatment, "/amendments"), &body));
    assert_eq!(made.status, 201, "{values}: {}", made.text());
    made.json()
}

/// What is put right is looked at as what is recorded: what holds anew is flagged and told of, what
/// holds no longer goes.
#[test]
fn an_amendment_is_flagged_as_a_record_is() {
    let running = Running::start();
    let lot = lot(&running, "F1");
    for artist in ["artist-1", "artist-2"] {
        let put = Request::put(format!("/v1/artists/{artist}"), &json!({ "hand": "light" }));
        assert_eq!(running.call(&put).status, 201, "{artist}");
    }
    let today = json!({ "starts_at": "2027-03-16T07:00:00Z", "artist_ref": "artist-1" });
    let check = crate::checks::made(&running, &json!({}), &today)["id"].clone();
    let told = |client: &str, check: Option<&Value>| {
        let mut body = json!({
            "client_ref": client, "artist_ref": "artist-1", "treatment": "brows",
            "effect": "soft_shading", "performed_at": "2027-03-16T07:30:00Z",
            "packs": [{ "lot_id": lot, "intact": true, "site": "brow" }],
        });
        if let Some(check) = check {
            body["check_id"] = check.clone();
        }
        let answer = running.call(&Request::post("/v1/treatments", &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
        answer.json()
    };
    let events = || {
        let all = running.call(&Request::get("/v1/events")).text().to_owned();
        all.matches("treatment.flagged").count()
    };
    // Whatever the check is of, its flags come and go with artist, effect and day.
    let treatment = told("client-1", Some(&check));
    let before = flagged(&running, &treatment);
    for (wrong, right, code) in [
        (json!({ "artist_ref": "artist-2" }), json!({ "artist_ref": "artist-1" }), "artist"),
        (json!({ "effect": "pixelated" }), json!({ "effect": "soft_shading" }), "effect"),
        (
            json!({ "performed_at": "2027-03-14T07:30:00Z" }),
            json!({ "performed_at": "2027-03-16T07:30:00Z" }),
            "day",
        ),
    ] {
        let (code, told) = (format!("check_of_another_{code}"), events());
        assert!(!before.contains(&code), "{before:?}");
        let amended = amend(&running, &treatment, &wrong);
        assert!(amended["flags"].to_string().contains(&code), "{amended}");
        assert!(flagged(&running, &treatment).contains(&code), "{wrong}");
        assert_eq!(events(), told + 1, "{wrong}");
        let amended = amend(&running, &treatment, &right);
        assert!(amended["no_longer"].to_string().contains(&code), "{amended}");
        assert_eq!(flagged(&running, &treatment), before, "{right}");
    }
    // Her age is not known, then known: she comes of age on the day.
    let treatment = told("client-2", None);
    assert!(flagged(&running, &treatment).contains(&"age_not_known".to_owned()));
    let put =
        running.call(&Request::put("/v1/clients/client-2", &json!({ "born_on": "2009-03-16" })));
    assert_eq!(put.status, 201, "{}", put.text());
    let of_age = |flags: Vec<String>| {
        let age = ["age_not_known", "under_18"];
        flags.into_iter().filter(|code| age.contains(&code.as_str())).collect::<Vec<_>>()
    };
    for (at, flags) in
        [("2027-03-15T07:30:00Z", vec!["under_18"]), ("2027-03-16T07:20:00Z", vec![])]
    {
        amend(&running, &treatment, &json!({ "performed_at": at }));
        assert_eq!(of_age(flagged(&running, &treatment)), flags, "{at}");
    }
}

/// A record is moved into a session that was stopped, and out of it; the record on which it was
/// stopped is not flagged by itself. A site of another treatment is flagged.
#[test]
fn an_amendment_hides_no_stop() {
    let running = Running::start();
    let lot = lot(&running, "F1");
    let told = |at: &str, site: &str| {
        let body = json!({
            "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "brows",
            "effect": "soft_shading", "performed_at": at,
            "packs": [{ "lot_id": lot, "intact": true, "site": site }],
        });
        running.call(&Request::post("/v1/treatments", &body)).json()
    };
    let stopped = told("2027-03-16T07:30:00Z", "brow");
    let seen =
        Request::post(path(&stopped, "/observations"), &json!({ "signs": ["heavy_bleeding"] }));
    assert_eq!(running.call(&seen).json()["stop"], true);
    let before = told("2027-03-10T07:30:00Z", "lip");
    let code = "stopped_that_day".to_owned();
    for (treatment, values, is_flagged) in [
        (&stopped, json!({ "effect": "pixelated" }), false),
        (&before, json!({ "performed_at": "2027-03-16T07:40:00Z" }), true),
        (&before, json!({ "performed_at": "2027-03-10T07:30:00Z" }), false),
    ] {
        amend(&running, treatment, &values);
        assert_eq!(flagged(&running, treatment).contains(&code), is_flagged, "{values}");
    }
    let site = "pack_of_another_site".to_owned();
    assert!(flagged(&running, &before).contains(&site), "{before}");
    assert!(!flagged(&running, &stopped).contains(&site), "{stopped}");
    let lip = json!({ "reason": "one more", "add_packs": [{ "lot_id": lot, "intact": true, "site": "lip" }] });
    let added = running.call(&Request::post(path(&stopped, "/amendments"), &lip)).json();
    assert_eq!(added["flags"][0]["pointer"], "#/packs/1/site", "{added}");
}

/// Two that put the same record right at once both happen, one after the
/// other; sent twice under one key, once.
#[test]
fn amendments_are_numbered_without_gaps() {
    let running = Running::start();
    let treatment = record(&running, &lot(&running, "N1"));
    let amend = path(&treatment, "/amendments");
    let mut numbers: Vec<u64> = std::thread::scope(|scope| {
        let calls: Vec<_> = (0..8)
            .map(|n| {
                let (running, amend) = (&running, &amend);
                scope.spawn(move || {
                    let body =
                        json!({ "reason": "passes", "values": { "worked": { "passes": n + 1 } } });
                    let answer = running.call(&Request::post(amend, &body));
                    assert_eq!(answer.status, 201, "{}", answer.text());
                    answer.json()["number"].as_u64().expect("a number")
                })
            })
            .collect();
        calls.into_iter().map(|call| call.join().expect("an answer")).collect()
    });
    numbers.sort_unstable();
    assert_eq!(numbers, (1..=8).collect::<Vec<u64>>());
    let body = json!({ "reason": "once", "values": { "effect": "pixelated" } });
    let once = Request::post(&amend, &body).header("Idempotency-Key", "\"one\"");
    let (first, second) = (running.call(&once), running.call(&once));
    assert_eq!(first.json()["number"], 9);
    assert_eq!(first.text(), second.text());
}

/// A serial number is used once; a pack that is struck gives it free.
#[test]
fn a_pack_is_used_once() {
    let running = Running::start();
    let lot = lot(&running, "S1");
    let with_serial = json!({
        "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "brows",
        "performed_at": "2027-01-20T09:00:00Z",
        "packs": [{ "lot_id": lot, "intact": true, "serial": "0007" }],
    });
    let first = running.call(&Request::post("/v1/treatments", &with_serial));
    assert_eq!(first.status, 201, "{}", first.text());
    let again = running.call(&Request::post("/v1/treatments", &with_serial));
    assert_eq!(pointer(&again), "#/packs/0/serial");
    let strike = json!({ "reason": "not opened after all", "strike_packs": [0] });
    let strike = running.call(&Request::post(path(&first.json(), "/amendments"), &strike));
    assert_eq!(strike.status, 201, "{}", strike.text());
    assert_eq!(running.call(&Request::post("/v1/treatments", &with_serial)).status, 201);
    // No pack is left, which wants a second look until one is named.
    let is_flagged = |told: &Value| {
        let mut flags = told["flags"].as_array().into_iter().flatten();
        flags.any(|flag| flag["code"] == "no_pack_left" && flag["pointer"] == "#/packs")
    };
    let record = || running.call(&Request::get(path(&first.json(), ""))).json();
    assert!(is_flagged(&strike.json()) && is_flagged(&record()), "{}", record());
    let added = json!({ "reason": "this one", "add_packs": [{ "lot_id": lot, "intact": true }] });
    let added = running.call(&Request::post(path(&first.json(), "/amendments"), &added));
    assert_eq!(added.status, 201, "{}", added.text());
    assert!(!is_flagged(&added.json()) && !is_flagged(&record()), "{}", record());
}

/// Two makers' lots share a number: the pack's own symbol tells them apart,
/// and a record without one is flagged. Article numbers: GS1 General
/// Specifications, worked check digits.
#[test]
fn a_lot_of_another_maker_with_the_same_number() {
    let running = Running::start();
    let text = "0.30 3RS";
    let north = receive(
        &running,
        &json!({ "text": text, "symbol": "(01)04012345678901(17)290131(10)X9", "packs": 5, "maker": "north" }),
    );
    let south = receive(
        &running,
        &json!({ "text": text, "symbol": "(01)05012345678900(17)290131(10)X9", "packs": 5, "maker": "south" }),
    );
    let with = |pack: Value| {
        let body = json!({
            "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "brows",
            "performed_at": "2027-01-20T09:00:00Z", "packs": [pack],
        });
        running.call(&Request::post("/v1/treatments", &body))
    };
    let of_south = "(01)05012345678900(17)290131(10)X9(21)55";
    let refused = with(json!({ "lot_id": north, "intact": true, "symbol": of_south }));
    assert_eq!(pointer(&refused), "#/packs/0/symbol");
    assert!(refused.text().contains("article number"), "{}", refused.text());
    let taken = with(json!({ "lot_id": south, "intact": true, "symbol": of_south }));
    assert_eq!(taken.status, 201, "{}", taken.text());
    let taken = taken.json();
    assert_eq!(taken["packs"][0]["serial"], "55", "{taken}");
    assert_eq!(taken["packs"][0]["symbol"], of_south);
    let flagged = with(json!({ "lot_id": north, "intact": true })).json();
    let codes: Vec<&str> = flagged["flags"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|flag| flag["code"].as_str())
        .filter(|code| code.starts_with("lot_"))
        .collect();
    assert_eq!(codes, ["lot_code_shared"], "{flagged}");
}

#[test]
fn no_treatment_before_the_clients_birth_or_in_the_future() {
    let running = Running::start();
    let lot = lot(&running, "D1");
    let put = Request::put("/v1/clients/client-1", &json!({ "born_on": "1990-05-02" }));
    assert_eq!(running.call(&put).status, 201);
    for at in ["1990-05-01T09:00:00Z", "2090-01-01T09:00:00Z"] {
        let body = json!({
            "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "brows",
            "performed_at": at, "packs": [{ "lot_id": lot, "intact": true }],
        });
        let answer = running.call(&Request::post("/v1/treatments", &body));
        assert_eq!(pointer(&answer), "#/performed_at", "{at}");
    }
}

/// What is of the whole body is heard with whatever is told of other work: hives after the brows and
/// vomiting after the lips are an allergy of two systems (NHS, anaphylaxis).
#[test]
fn signs_of_the_body_are_heard_across_her_treatments() {
    let running = Running::start();
    let lot = lot(&running, "V9");
    let brows = record(&running, &lot);
    let body = json!({
        "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "lips",
        "performed_at": "2027-01-20T11:00:00Z", "packs": [{ "lot_id": lot, "intact": true }],
    });
    let lips = running.call(&Request::post("/v1/treatments", &body)).json();
    let other = json!({ "client_ref": "client-2" });
    let mut body = body;
    body["client_ref"] = other["client_ref"].clone();
    let stranger = running.call(&Request::post("/v1/treatments", &body)).json();
    let told = |treatment: &Value, kind: &str, at: &str| {
        let symptoms = json!([{ "kind": kind, "severity": "mild", "trend": "better" }]);
        let report = json!({ "symptoms": symptoms, "reported_at": at });
        let answer = running.call(&Request::post(path(treatment, "/symptom-reports"), &report));
        assert_eq!(answer.status, 201, "{}", answer.text());
        answer.json()["judgement"]["level"].clone()
    };
    assert_eq!(told(&brows, "hives", "2027-01-20T14:00:00Z"), "same_day");
    assert_eq!(told(&stranger, "vomiting", "2027-01-20T15:00:00Z"), "same_day");
    assert_eq!(told(&lips, "vomiting", "2027-01-20T15:00:00Z"), "emergency");
}
