//! The drawer: what is not known holds a lot, and somebody who is named settles
//! it. Common practice, no source: a sterile pack shows its last day of use.

use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

fn post(running: &Running, path: &str, body: &Value) -> Answer {
    running.call(&Request::post(path, body))
}

fn receive(running: &Running, text: &str) -> Value {
    let answer = post(running, "/v1/lots", &json!({ "text": text, "packs": 5, "maker": "north" }));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()
}

fn id(lot: &Value) -> &str {
    lot["id"].as_str().expect("an id")
}

/// What the drawer offers for soft shading of brows.
fn offered(running: &Running) -> Value {
    let body = json!({ "treatment": "brows", "effect": "soft_shading", "candidates": "drawer" });
    let answer = post(running, "/v1/needle-selections", &body);
    assert_eq!(answer.status, 200, "{}", answer.text());
    answer.json()
}

#[test]
fn what_nobody_knows_holds_a_lot_and_is_not_offered() {
    let running = Running::start();
    for (text, state, questions) in [
        ("0.30 5RS LOT A1 EXP 2036-01 STERILE EO", "usable", json!(null)),
        ("0.30 5RS LOT A2 STERILE EO", "held", json!(["expiry"])),
        ("0.30 5RS LOT A3 EXP 2036-01", "held", json!(["sterility"])),
        ("0.30 5RS LOT A4", "held", json!(["expiry", "sterility"])),
        ("0.30 5RS LOT A5 EXP 2036-01 NON-STERILE", "held", json!(null)),
    ] {
        let lot = receive(&running, text);
        assert_eq!(lot["state"], state, "{text}: {lot}");
        assert_eq!(lot["questions"], questions, "{text}: {lot}");
    }
    let found = offered(&running);
    let lots = &found["ranked"][0]["lots"];
    assert_eq!(lots.as_array().map(Vec::len), Some(1), "{found}");
    assert_eq!(lots[0]["lot"], "A1", "{found}");
    // What would suit and may not be used is named, with the reason.
    let passed = found["passed_over"].as_array().expect("a list");
    let passed: Vec<_> = passed.iter().filter_map(|lot| lot["lot"].as_str()).collect();
    for code in ["A2", "A3", "A4", "A5"] {
        assert!(passed.contains(&code), "{code}: {found}");
    }
    running.stop();
}

#[test]
fn an_empty_drawer_says_so_and_names_what_lies_there() {
    let running = Running::start();
    let says = |found: &Value| found["drawer"].as_str().unwrap_or_default().to_owned();
    assert!(says(&offered(&running)).contains("nothing that may be used"));
    receive(&running, "0.30 5RS LOT OLD EXP 2027-01 STERILE EO");
    running.set_clock("2027-03-16T08:00:00Z");
    let found = offered(&running);
    assert!(says(&found).contains("nothing that may be used"), "{found}");
    assert_eq!(found["passed_over"][0]["state"], "expired", "{found}");
    receive(&running, "0.30 15M1 LOT WIDE EXP 2036-01 STERILE EO");
    let body = json!({ "treatment": "brows", "effect": "hair_strokes", "candidates": "drawer" });
    let unsuited = post(&running, "/v1/needle-selections", &body).json();
    assert!(says(&unsuited).contains("Nothing in the drawer suits"), "{unsuited}");
    running.stop();
}

/// A drawer may hold any number of lots of one configuration.
#[test]
fn many_lots_of_one_kind_are_one_candidate() {
    let running = Running::start();
    let one = json!({ "text": "0.30 5RS LOT A1 EXP 2036-01 STERILE EO", "packs": 1 });
    // Not too many at a time for a busy machine and a database that is asked about each.
    for _ in 0..24 {
        let delivery = json!({ "lots": vec![one.clone(); 50] });
        assert_eq!(post(&running, "/v1/deliveries", &delivery).status, 201);
    }
    let found = offered(&running);
    // An answer does not grow with the drawer.
    assert_eq!(found["ranked"].as_array().map(Vec::len), Some(1));
    assert_eq!(found["ranked"][0]["lots"].as_array().map(Vec::len), Some(50));
    running.stop();
}

/// One call confirms a delivery, and each lot has an outcome of its own.
#[test]
fn somebody_who_is_named_confirms_a_delivery() {
    let running = Running::start();
    let lots = json!({ "lots": [
        { "text": "0.30 5RS LOT A1", "packs": 5 },
        { "text": "0.30 5RS LOT A2 EXP 2036-01", "packs": 5 },
        { "text": "0.30 5RS LOT A3 EXP 2036-01 NON-STERILE", "packs": 5 },
        { "packs": 5 },
    ] });
    let delivery = post(&running, "/v1/deliveries", &lots);
    assert_eq!(delivery.status, 201, "{}", delivery.text());
    let delivery = delivery.json();
    assert_eq!(delivery["outcomes"][3]["errors"][0]["pointer"], "#/lots/3/confirmed/configuration");
    let at = |n: usize| delivery["outcomes"][n]["lot"]["id"].clone();
    let missing = "0198c6a2-7d5e-7000-8000-000000000001";
    let body = json!({
        "by": "artist-1",
        "confirmed": { "sterile": true },
        "lots": [
            { "lot_id": at(0) },
            { "lot_id": at(1) },
            { "lot_id": at(2) },
            { "lot_id": missing },
        ],
    });
    let done = post(&running, "/v1/lot-confirmations", &body);
    assert_eq!(done.status, 201, "{}", done.text());
    let done = done.json();
    let outcomes: Vec<_> = (0..4).map(|n| done["outcomes"][n]["outcome"].clone()).collect();
    assert_eq!(outcomes, ["still_held", "released", "refused", "refused"], "{done}");
    assert_eq!(done["outcomes"][0]["open"], json!(["expiry"]), "{done}");
    let lot = &done["outcomes"][1]["lot"];
    assert_eq!((&lot["settled"][0]["by"], &lot["state"]), (&json!("artist-1"), &json!("usable")));
    // A day later than the print is nobody's to say.
    let later = json!({ "by": "artist-1", "lots": [
        { "lot_id": at(1), "confirmed": { "expires_on": "2036-02-29" } },
    ] });
    let later = post(&running, "/v1/lot-confirmations", &later).json();
    assert_eq!(
        later["outcomes"][0]["errors"][0]["pointer"], "#/lots/0/confirmed/expires_on",
        "{later}"
    );
    let twice = json!({ "by": "artist-1", "lots": [{ "lot_id": at(0) }, { "lot_id": at(0) }] });
    assert_eq!(post(&running, "/v1/lot-confirmations", &twice).status, 422);
    running.stop();
}

#[test]
fn nobody_named_settles_nothing() {
    let running = Running::start();
    let lot = receive(&running, "0.30 5RS LOT A1");
    let path = format!("/v1/lots/{}/adjustments", id(&lot));
    let release = |confirmed: Value| {
        post(&running, &path, &json!({ "reason": "released", "confirmed": confirmed }))
    };
    for (confirmed, pointer) in [
        (json!({}), "#/confirmed/expires_on"),
        (json!({ "expires_on": "2036-01-31", "sterile": true }), "#/confirmed/by"),
        (json!({ "expires_on": "2036-01-31", "by": "artist-1" }), "#/confirmed/sterile"),
    ] {
        let answer = release(confirmed.clone());
        assert_eq!(answer.status, 422, "{confirmed}: {}", answer.text());
        assert_eq!(answer.json()["errors"][0]["pointer"], pointer, "{}", answer.text());
    }
    let done = release(json!({ "expires_on": "2036-01-31", "sterile": true, "by": "artist-1" }));
    assert_eq!((done.status, &done.json()["state"]), (201, &json!("usable")), "{}", done.text());
    // A date that came with the delivery and that nobody stands for asks on.
    let typed = json!({ "packs": 5, "confirmed": {
        "configuration": { "diameter_mm": 0.3, "count": 5, "grouping": "round_shader" },
        "expires_on": "2036-01-31",
    } });
    let typed = post(&running, "/v1/lots", &typed).json();
    assert_eq!(typed["state"], "held", "{typed}");
    assert_eq!(typed["questions"], json!(["expiry", "sterility"]), "{typed}");
    running.stop();
}

/// Whoever looks reads a day or a month better than the print was read, and no other year.
#[test]
fn nobody_confirms_a_later_year_than_is_printed() {
    let running = Running::start();
    for printed in ["EXP 2026", "EXP 02/25", "EXP 01/02/25", "Use by end of 2026", "EXP 04/05/2026"]
    {
        let body = json!({
            "text": format!("0.18 1RL\nLOT U1\n{printed}\nSTERILE EO"), "packs": 3,
            "confirmed": { "expires_on": "2030-06-30", "by": "artist-1" },
        });
        let answer = post(&running, "/v1/lots", &body);
        let is_usable = answer.status == 201 && answer.json()["state"] == "usable";
        assert!(!is_usable, "{printed}: {}", answer.text());
    }
    let body = json!({
        "text": "0.18 1RL LOT U2 EXP 04/05/2036 STERILE EO", "packs": 3,
        "confirmed": { "expires_on": "2036-05-04", "by": "artist-1" },
    });
    let usable = post(&running, "/v1/lots", &body).json();
    assert_eq!((&usable["state"], &usable["expires_on"]), (&json!("usable"), &json!("2036-05-04")));
}

/// A supplier's habit is kept once and settles later deliveries, and never what
/// a label says otherwise.
#[test]
fn a_suppliers_habit_is_followed() {
    let running = Running::start();
    let before = receive(&running, "0.30 5RS LOT A1 USE BY 12/2035");
    assert_eq!(before["questions"], json!(["expiry", "sterility"]), "{before}");
    let nameless = json!({ "month": "last_day", "confirmed_by": "artist-1" });
    let path = "/v1/supplier-habits/north";
    assert_eq!(running.call(&Request::put(path, &nameless)).status, 422);
    let habit = json!({
        "maker": "north", "month": "last_day", "sterile": true, "confirmed_by": "artist-1",
    });
    assert_eq!(running.call(&Request::put(path, &habit)).status, 201);
    assert_eq!(running.call(&Request::get(path)).json()["maker"], "north");
    let after = receive(&running, "0.30 5RS LOT A2 USE BY 12/2035");
    assert_eq!(after["state"], "usable", "{after}");
    assert_eq!(after["expires_on"], "2035-12-31", "{after}");
    assert_eq!(after["settled"][0]["habit"], "north", "{after}");
    for said in [
        "NON-STERILE",
        "sterilization pending",
        "Sterilisation ausstehend",
        "halbsteril",
        "aseptic only",
        "Rohware",
        "Training needle",
    ] {
        let held = receive(&running, &format!("0.30 5RS LOT A3 USE BY 12/2035\n{said}"));
        assert_eq!(held["state"], "held", "{said}: {held}");
    }
    let other = json!({ "text": "0.30 5RS LOT A4 USE BY 12/2035", "packs": 5, "maker": "south" });
    assert_eq!(post(&running, "/v1/lots", &other).json()["state"], "held");
    // It is listed, and taken away with its version only; later lots ask again.
    let listed = running.call(&Request::get("/v1/supplier-habits")).json();
    assert_eq!(listed["items"][0]["habit_ref"], "north", "{listed}");
    let bare = Request::new("DELETE", path);
    assert_eq!(running.call(&bare).status, 428);
    let etag = running.call(&Request::get(path)).header("etag").expect("a tag").to_owned();
    let taken = running.call(&bare.header("If-Match", &etag));
    assert_eq!((taken.status, &taken.json()["maker"]), (200, &json!("north")), "{}", taken.text());
    assert_eq!(running.call(&Request::get(path)).status, 404);
    let listed = running.call(&Request::get("/v1/supplier-habits")).json();
    assert_eq!(listed["items"], json!([]), "{listed}");
    let again = receive(&running, "0.30 5RS LOT A5 USE BY 12/2035");
    assert_eq!(again["questions"], json!(["expiry", "sterility"]), "{again}");
    running.stop();
}

/// A treatment with packs of which something is not known is recorded, flagged
/// for each, and told of.
#[test]
fn a_treatment_with_unknown_packs_is_recorded_and_flagged() {
    let running = Running::start();
    let lot = receive(&running, "0.30 5RS LOT A1");
    let body = json!({
        "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "brows",
        "effect": "soft_shading", "performed_at": "2027-03-01T09:00:00Z",
        "packs": [{ "lot_id": id(&lot), "intact": true }],
    });
    let made = post(&running, "/v1/treatments", &body);
    assert_eq!(made.status, 201, "{}", made.text());
    let made = made.json();
    let codes: Vec<_> = made["flags"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|flag| flag["code"].as_str())
        .collect();
    for code in ["pack_expiry_unknown", "pack_sterility_unknown", "pigment_unknown"] {
        assert!(codes.contains(&code), "{code}: {codes:?}");
    }
    let events = running.call(&Request::get("/v1/events")).text();
    assert!(events.contains("treatment.flagged"), "{events}");
    // A pack whose own label forbids its use is refused.
    let mut forbidden = body.clone();
    forbidden["packs"][0]["text"] = json!("0.30 5RS LOT A1 NON-STERILE");
    let refused = post(&running, "/v1/treatments", &forbidden);
    assert_eq!(refused.status, 422, "{}", refused.text());
    assert_eq!(refused.json()["errors"][0]["pointer"], "#/packs/0/text", "{}", refused.text());
    running.stop();
}

/// A day that is said of a doubtful print is one that it can mean; a day without any print is one
/// until which packs last; and what is clear on the label is not said otherwise.
#[test]
fn what_a_label_cannot_mean_is_not_confirmed() {
    let running = Running::start();
    let sent = |text: &str, symbol: Option<&str>, confirmed: Value| {
        let mut body = json!({ "text": text, "packs": 5, "confirmed": confirmed });
        if let Some(symbol) = symbol {
            body["symbol"] = json!(symbol);
        }
        post(&running, "/v1/lots", &body)
    };
    let ends = |day: &str| json!({ "by": "Ada", "expires_on": day });
    for (print, day, status) in [
        ("EXP 04/03/2028", "2028-04-04", 422),
        ("EXP 04/03/2028", "2028-04-03", 201),
        ("EXP 06.28", "2028-12-31", 422),
        ("EXP 6/28", "2028-12-31", 422),
        ("EXP 6/28", "2028-06-30", 201),
        ("EXP 2 0 2 8 - 0 6", "2028-07-01", 422),
        ("EXP Q1 2028", "2028-04-01", 422),
        ("", "2099-06-30", 422),
        ("", "9999-12-31", 422),
        ("", "2036-06-30", 201),
    ] {
        let answer = sent(&format!("0.25 5RS LOT B7 STERILE EO {print}"), None, ends(day));
        assert_eq!(answer.status, status, "{print} {day}: {}", answer.text());
        if status == 422 {
            let pointer = &answer.json()["errors"][0]["pointer"];
            assert_eq!(pointer, "#/confirmed/expires_on", "{print} {day}");
        }
    }
    let symbol = |lot: &str| format!("]d2010952123454321317280831\u{1d}10{lot}");
    let both = "0.30 3RL LOT 23A115 EXP 2028-08 STERILE EO";
    let code = |code: &str| json!({ "by": "Ada", "lot": code });
    let other = sent(both, Some(&symbol("23A114")), code("ZZZ"));
    assert_eq!(other.status, 422, "{}", other.text());
    assert_eq!(other.json()["errors"][0]["pointer"], "#/confirmed/lot");
    assert_eq!(sent(both, Some(&symbol("23A114")), code("23A114")).status, 201);
    // A code in print alone may be misread: whoever is named says which is right.
    let named = sent(both, None, code("Y41")).json();
    assert_eq!(named["state"], "usable", "{named}");
    let nobody = sent(both, None, json!({ "lot": "Y41" })).json();
    assert_eq!((&nobody["state"], &nobody["questions"]), (&json!("held"), &json!(["print"])));
    let needle = |count: u8| {
        json!({ "by": "Ada", "configuration":
            { "diameter_mm": 0.3, "count": count, "grouping": "round_liner" } })
    };
    let clear = "1003RL LOT N1 EXP 2028-08 STERILE EO";
    assert_eq!(sent(clear, None, needle(3)).status, 201);
    let other = sent(clear, None, needle(7));
    assert_eq!(other.json()["errors"][0]["pointer"], "#/confirmed/configuration");
    // Of several readings a person says which, or another.
    let unsure = "103RL LOT N2 EXP 2028-08 STERILE EO";
    assert_eq!(sent(unsure, None, needle(7)).status, 201);
}

/// A pack with another needle on it is of another lot; one on which nothing is read is asked about.
#[test]
fn a_pack_of_another_needle_is_not_booked() {
    let running = Running::start();
    let lot = receive(&running, "0.25 3RL LOT J8 EXP 2028-01 STERILE EO");
    let open = |text: &str| {
        let body = json!({
            "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "lips",
            "performed_at": "2027-03-15T07:00:00Z",
            "packs": [{ "lot_id": id(&lot), "intact": true, "text": text }],
        });
        post(&running, "/v1/treatments", &body)
    };
    for text in [
        "0.35 7RL LOT J8 EXP 2028-01 STERILE EO",
        "0.35 3RL LOT J8 EXP 2028-01 STERILE EO",
        "0.25 3RS LOT J8 EXP 2028-01 STERILE EO",
        "7RL LOT J8 EXP 2028-01 STERILE EO",
    ] {
        let refused = open(text);
        assert_eq!(refused.status, 422, "{text}: {}", refused.text());
        assert_eq!(refused.json()["errors"][0]["pointer"], "#/packs/0/text", "{text}");
    }
    for (text, asks) in [
        ("0.25 3RL LOT J8 EXP 2028-01 STERILE EO", false),
        ("LOT J8 EXP 2028-01 STERILE EO", false),
        ("xx", true),
    ] {
        let made = open(text);
        assert_eq!(made.status, 201, "{text}: {}", made.text());
        assert_eq!(made.text().contains("pack_to_be_confirmed"), asks, "{text}: {}", made.text());
    }
}
