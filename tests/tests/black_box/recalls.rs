//! Recalls, whatever comes at the same moment and however a code is spelled: our
//! rule, no source.

use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

fn receive(running: &Running, code: &str) -> Value {
    let text = format!("0.30 5RS LOT {code} EXP 2036-01 STERILE EO");
    let body = json!({ "text": text, "packs": 5, "maker": "north" });
    let answer = running.call(&Request::post("/v1/lots", &body));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()
}

fn typed(running: &Running, code: &str) -> Value {
    let confirmed = json!({
        "configuration": { "diameter_mm": 0.3, "count": 5, "grouping": "round_shader" },
        "lot": code, "expires_on": "2036-01-31", "sterile": true, "by": "Ada",
    });
    let body = json!({ "packs": 5, "maker": "north", "confirmed": confirmed });
    let answer = running.call(&Request::post("/v1/lots", &body));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()
}

fn recall(running: &Running, code: &str) {
    let notice = json!({ "lot": code, "maker": "north", "reason": "sterility in doubt" });
    let answer = running.call(&Request::post("/v1/recalls", &notice));
    assert_eq!(answer.status, 201, "{}", answer.text());
}

fn state(running: &Running, lot: &Value) -> Value {
    let id = lot["id"].as_str().expect("an id");
    running.call(&Request::get(format!("/v1/lots/{id}"))).json()["state"].clone()
}

#[test]
fn what_comes_at_the_moment_of_a_recall_is_called_back_too() {
    let running = Running::start();
    for round in 0..20 {
        let code = format!("Q7{round}");
        let mut lots = vec![receive(&running, &code)];
        lots.extend(std::thread::scope(|scope| {
            let (running, code) = (&running, &code);
            let calls: Vec<_> =
                (0..4).map(|_| scope.spawn(move || receive(running, code))).collect();
            recall(running, code);
            calls.into_iter().map(|call| call.join().expect("a lot")).collect::<Vec<_>>()
        }));
        for lot in &lots {
            assert_eq!(state(&running, lot), "recalled", "round {round}");
        }
    }
}

#[test]
fn a_code_is_recalled_in_every_spelling() {
    let running = Running::start();
    // Greek and Cyrillic capitals that look like A and B.
    let same = ["AB31", "ab31", "AB-31", "\u{391}\u{392}31", "\u{410}\u{412}31"];
    let before: Vec<Value> = same.iter().map(|code| typed(&running, code)).collect();
    let other = typed(&running, "AC31");
    let alike = [("Z3K811", "23K811"), ("23KG11", "23K611")];
    let misread: Vec<Value> = alike.iter().map(|(read, _)| typed(&running, read)).collect();
    for ((_, code), lot) in alike.iter().zip(&misread) {
        typed(&running, code);
        recall(&running, code);
        assert_eq!(state(&running, lot), "recalled", "{code}");
    }
    recall(&running, "\u{391}B31");
    for lot in &before {
        assert_eq!(state(&running, lot), "recalled", "{lot}");
    }
    for code in same {
        assert_eq!(typed(&running, code)["state"], "recalled", "{code}");
    }
    assert_eq!(state(&running, &other), "usable");
}

/// Packs whose code nobody told may be of the lot that is called back. Those of its maker are taken,
/// those of another stay, and of those of nobody's a person is told.
#[test]
fn packs_without_a_code_are_no_safer() {
    let running = Running::start();
    typed(&running, "R8");
    let nameless = |maker: Option<&str>| {
        let text = "0.30 5RS EXP 2036-01 STERILE EO";
        let body = json!({ "text": text, "packs": 5, "maker": maker });
        let mut body = body.as_object().cloned().expect("an object");
        body.retain(|_, value| !value.is_null());
        running.call(&Request::post("/v1/lots", &Value::Object(body))).json()
    };
    let (north, south, nobodys) =
        (nameless(Some("north")), nameless(Some("south")), nameless(None));
    let notice = json!({ "lot": "LOT: R8", "maker": "north", "reason": "sterility in doubt" });
    let answer = running.call(&Request::post("/v1/recalls", &notice));
    assert_eq!(answer.status, 201, "{}", answer.text());
    assert_eq!(state(&running, &north), "recalled");
    assert_eq!(state(&running, &south), "usable");
    assert_eq!(state(&running, &nobodys), "held");
    assert_eq!(answer.json()["exposures"]["similar_lot_ids"], json!([nobodys["id"]]));
    // What comes after the notice: nobody knows that it is not of it, but for packs of another maker.
    for (maker, then) in [(Some("north"), "held"), (None, "held"), (Some("south"), "usable")] {
        let late = nameless(maker);
        assert_eq!(late["state"], then, "{late}");
        if then == "usable" {
            continue;
        }
        assert_eq!(
            (&late["reasons"], &late["questions"]),
            (&json!(["recall_possible"]), &json!(["lot"]))
        );
        let one = |confirmed: Value| {
            let body = json!({
                "by": "Ada", "lots": [{ "lot_id": late["id"], "confirmed": confirmed }],
            });
            running.call(&Request::post("/v1/lot-confirmations", &body)).json()
        };
        one(json!({ "expires_on": "2036-01-31" }));
        assert_eq!(state(&running, &late), "held", "a date says nothing of the code");
        one(json!({ "lot": if maker.is_some() { "R8" } else { "R9" } }));
        assert_eq!(state(&running, &late), if maker.is_some() { "recalled" } else { "usable" });
    }
    // Where no code stands on the packs, whoever looked at them answers for it.
    let bare = nameless(None);
    let path = format!("/v1/lots/{}/adjustments", bare["id"].as_str().expect("an id"));
    let release = |confirmed: Value| {
        running
            .call(&Request::post(&path, &json!({ "reason": "released", "confirmed": confirmed })))
            .status
    };
    assert_eq!(release(json!({})), 422);
    assert_eq!(release(json!({ "by": "Ada", "reference": "K-1" })), 201);
    assert_eq!(state(&running, &bare), "usable");
}

/// A notice may come before the goods: it is kept, says that nothing here has its code, and takes
/// what comes later, in whatever spelling, but no packs of another maker or another code.
#[test]
fn a_notice_ahead_of_the_goods_waits_for_them() {
    let running = Running::start();
    let notice = json!({ "lot": "AB31", "maker": "north", "reason": "sterility in doubt" });
    let dry = running.call(&Request::post("/v1/recalls?dry_run=true", &notice));
    assert_eq!((dry.status, &dry.json()["lots_with_code"]), (200, &json!(0)), "{}", dry.text());
    assert_eq!(typed(&running, "ab31")["state"], "usable", "nothing was done yet");
    let other = json!({ "lot": "ZZ9", "reason": "sterility in doubt" });
    let german = Request::post("/v1/recalls", &other).header("Accept-Language", "de");
    let made = running.call(&german);
    assert_eq!(made.status, 201, "{}", made.text());
    let made = made.json();
    assert!(made["says"].as_str().is_some_and(|says| says.starts_with("Keine Charge")), "{made}");
    assert_eq!(made["exposures"]["lot_ids"], json!([]), "{made}");
    let late = typed(&running, "zz-9");
    assert_eq!(
        (&late["state"], &late["recall"]["id"]),
        (&json!("recalled"), &made["id"]),
        "{late}"
    );
    assert_eq!(typed(&running, "ZZ8")["state"], "usable");
    let made = running.call(&Request::post("/v1/recalls", &notice)).json();
    assert_eq!(made["lots_with_code"], 1, "{made}");
    assert!(made.get("says").is_none(), "{made}");
    // A pack tells its code when it is opened.
    let text = "0.30 5RS EXP 2036-01 STERILE EO";
    let other = |maker: &str| {
        let body = json!({ "text": text, "packs": 5, "maker": maker });
        running.call(&Request::post("/v1/lots", &body)).json()
    };
    let south = json!({ "lot": "Q5", "maker": "south", "reason": "sterility in doubt" });
    let bare = other("south");
    assert_eq!(bare["state"], "held", "any maker's notice of ZZ9: {bare}");
    assert_eq!(running.call(&Request::post("/v1/recalls", &south)).status, 201);
    assert_eq!(state(&running, &bare), "recalled", "of the maker that is named");
    let treat = |lot: &Value| {
        let body = json!({
            "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "lips",
            "performed_at": "2027-03-15T09:00:00Z",
            "packs": [{ "lot_id": lot["id"], "intact": true, "text": format!("{text} LOT ZZ9") }],
        });
        running.call(&Request::post("/v1/treatments", &body))
    };
    let refused = treat(&other("west"));
    assert_eq!(refused.status, 422, "{}", refused.text());
    assert_eq!(refused.problem().errors[0].pointer, "#/packs/0/lot_id");
    for several in [
        "B7, B8",
        "B7 to B12",
        "B7\u{2026}B9",
        "KL12-KL15",
        "all lots",
        "*",
        "unknown",
        "B1?",
        "LOT KL61 LOT KL62",
        "LOT KL63_",
    ] {
        let notice = json!({ "lot": several, "reason": "sterility in doubt" });
        let refused = running.call(&Request::post("/v1/recalls", &notice));
        assert_eq!(refused.status, 422, "{several}: {}", refused.text());
        assert_eq!(refused.problem().errors[0].pointer, "#/lot");
    }
}

/// A code that somebody tells later was the code all along.
#[test]
fn a_code_that_is_told_later_is_recalled_with_the_others() {
    let running = Running::start();
    typed(&running, "R8");
    let text = json!({ "text": "0.30 5RS EXP 2036-01 STERILE EO", "packs": 5 });
    let nameless = running.call(&Request::post("/v1/lots", &text)).json();
    recall(&running, "R8");
    assert_eq!(state(&running, &nameless), "held");
    let told = json!({
        "by": "Ada", "lots": [{ "lot_id": nameless["id"], "confirmed": { "lot": "R8" } }],
    });
    let answer = running.call(&Request::post("/v1/lot-confirmations", &told));
    assert!(answer.status < 300, "{}", answer.text());
    assert_eq!(state(&running, &nameless), "recalled", "{}", answer.text());
}

/// A code that a person confirmed over the print, a second one in print, and one that only an opened
/// pack told: a recall of each is meant for the packs.
#[test]
fn every_code_on_a_pack_counts() {
    let running = Running::start();
    let lot = |text: &str, confirmed: Option<&str>| {
        let mut body = json!({ "text": text, "packs": 5, "maker": "north" });
        if let Some(code) = confirmed {
            body["confirmed"] = json!({ "lot": code, "by": "Ada" });
        }
        let answer = running.call(&Request::post("/v1/lots", &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
        answer.json()
    };
    let good = |code: &str| format!("0.30 5RS {code} EXP 2036-01 STERILE EO");
    let over = lot(&good("LOT C41"), Some("Z9"));
    let second = lot(&good("LOT X1 LOT C41"), Some("X1"));
    let other = lot(&good("LOT X7"), None);
    let bare = lot(&good(""), None);
    let open = |text: &str, intact: bool| {
        let body = json!({
            "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "lips",
            "performed_at": "2027-03-15T09:00:00Z",
            "packs": [{ "lot_id": bare["id"], "intact": intact, "text": text }],
        });
        running.call(&Request::post("/v1/treatments", &body))
    };
    assert_eq!(open(&good("LOT C41"), true).status, 201);
    recall(&running, "C41");
    for (lot, state_then) in
        [(&over, "recalled"), (&second, "recalled"), (&bare, "recalled"), (&other, "usable")]
    {
        assert_eq!(state(&running, lot), state_then, "{lot}");
    }
    let exposed = running.call(&Request::get("/v1/exposures?lot=C41&maker=north")).json();
    assert_eq!(exposed["clients"], json!(["client-1"]), "{exposed}");
    // Known to be called back before the pack is opened.
    let fresh = lot(&good("").replace("2036-01", "2036-02"), None);
    let body = json!({
        "client_ref": "client-2", "artist_ref": "artist-1", "treatment": "lips",
        "performed_at": "2027-03-15T09:00:00Z",
        "packs": [{ "lot_id": fresh["id"], "intact": true, "text": good("LOT C41").replace("2036-01", "2036-02") }],
    });
    let refused = running.call(&Request::post("/v1/treatments", &body));
    assert_eq!(refused.status, 422, "{}", refused.text());
    assert_eq!(refused.problem().errors[0].pointer, "#/packs/0/lot_id");
}

/// A lot or a date that is told again answers nothing about a word such as "do not use".
#[test]
fn a_ban_in_print_is_lifted_by_whoever_releases_the_packs() {
    let running = Running::start();
    let text = "0.30 5RS LOT D1 EXP 2036-01 STERILE EO do not use";
    let confirmed = json!({ "by": "Ada", "lot": "D1", "expires_on": "2036-01-31" });
    let body = json!({ "text": text, "packs": 5, "confirmed": confirmed });
    let lot = running.call(&Request::post("/v1/lots", &body)).json();
    assert_eq!(state(&running, &lot), "held");
    let all =
        json!({ "by": "Ada", "lots": [{ "lot_id": lot["id"], "confirmed": { "lot": "D1" } }] });
    assert_eq!(running.call(&Request::post("/v1/lot-confirmations", &all)).status, 201);
    assert_eq!(state(&running, &lot), "held");
    let path = format!("/v1/lots/{}/adjustments", lot["id"].as_str().expect("an id"));
    let release = |confirmed: Value| {
        let body = json!({ "reason": "released", "confirmed": confirmed });
        running.call(&Request::post(&path, &body)).status
    };
    assert_eq!(release(json!({ "lot": "D1" })), 422);
    assert_eq!(release(json!({ "by": "Ada" })), 201);
    assert_eq!(state(&running, &lot), "usable");
    // What the pack itself says is kept with the record.
    let body = json!({
        "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "lips",
        "performed_at": "2027-03-15T09:00:00Z",
        "packs": [{ "lot_id": lot["id"], "intact": true, "text": "0.30 5RS EXP 2036-01 STERILE EO for practice only" }],
    });
    let kept = running.call(&Request::post("/v1/treatments", &body));
    assert!(kept.text().contains("pack_to_be_confirmed"), "{}", kept.text());
}

/// What is legible of a date bounds what a person may say of it.
#[test]
fn a_date_that_is_read_in_part_bounds_what_is_confirmed() {
    let running = Running::start();
    for (text, day, status) in [
        ("EXP 2035-13", "2039-08-31", 422),
        ("EXP 2035-13", "2035-12-31", 201),
        ("EXP 20?5-13", "2036-08-31", 201),
    ] {
        let text = format!("0.30 5RS LOT D7 STERILE EO {text}");
        let confirmed = json!({ "by": "Ada", "expires_on": day });
        let body = json!({ "text": text, "packs": 5, "confirmed": confirmed });
        let answer = running.call(&Request::post("/v1/lots", &body));
        assert_eq!(answer.status, status, "{text}: {}", answer.text());
    }
}

/// What was done about a notice is read afterwards: when, why, by whom, and which lots it took.
/// A lot keeps the first; a delivery that comes later is called back by it too.
#[test]
fn a_recall_is_kept_and_read() {
    let running = Running::start();
    let lots = [receive(&running, "R1"), receive(&running, "R1"), receive(&running, "R2")];
    let id = |lot: &Value| lot["id"].as_str().expect("an id").to_owned();
    let by_lot = Request::post(
        format!("/v1/lots/{}/recalls", id(&lots[2])),
        &json!({ "reason": "by mistake", "same_code": false }),
    );
    let named = Request::post(
        "/v1/recalls",
        &json!({ "lot": "R1", "maker": "north", "reason": "notice of March" }),
    );
    let mut kept = Vec::new();
    for (request, lot, maker, took) in
        [(by_lot, None, "north", &lots[2..]), (named, Some("R1"), "north", &lots[..2])]
    {
        let dry = Request { target: format!("{}?dry_run=true", request.target), ..request.clone() };
        let told = running.call(&dry).json();
        assert!(told.get("id").is_none(), "nothing is kept of a dry run: {told}");
        let made = running.call(&request);
        assert_eq!(made.status, 201, "{}", made.text());
        let place = made.header("location").expect("a place").to_owned();
        let read = running.call(&Request::get(place)).json();
        assert_eq!(read["id"], made.json()["id"]);
        assert_eq!((&read["by"], read["maker"].as_str()), (&json!("owner"), Some(maker)), "{read}");
        assert_eq!(read["lot"].as_str(), lot, "{read}");
        assert_eq!(read["at"], made.json()["recalled_at"]);
        let mut ids: Vec<String> = took.iter().map(&id).collect();
        ids.sort_unstable();
        let mut taken: Vec<&str> =
            read["lot_ids"].as_array().expect("ids").iter().filter_map(Value::as_str).collect();
        taken.sort_unstable();
        assert_eq!(taken, ids);
        for lot in took {
            let lot = running.call(&Request::get(format!("/v1/lots/{}", id(lot)))).json();
            let want = json!({
                "id": read["id"], "at": read["at"], "reason": read["reason"], "by": "owner",
            });
            assert_eq!(lot["recall"], want, "{lot}");
        }
        kept.push(read);
        // Ids of one moment are in no order of their own.
        running.set_clock("2027-03-16T08:00:01Z");
    }
    let late = receive(&running, "R1");
    let late = running.call(&Request::get(format!("/v1/lots/{}", id(&late)))).json();
    assert_eq!(late["recall"]["id"], kept[1]["id"], "{late}");
    let first = running.call(&Request::get("/v1/recalls?limit=1")).json();
    assert_eq!(first["items"], json!([kept[0]]));
    let cursor = first["next_cursor"].as_str().expect("a cursor");
    let rest = running.call(&Request::get(format!("/v1/recalls?cursor={cursor}"))).json();
    assert_eq!(rest["items"], json!([kept[1]]));
    let nobody = "/v1/recalls/0198c6a2-7d5e-7000-8000-000000000001";
    assert_eq!(running.call(&Request::get(nobody)).status, 404);
}

/// Exposures page by page are the same rows as all of them at once, as JSON and as a table.
#[test]
fn exposures_come_page_by_page() {
    let running = Running::start();
    let lot = receive(&running, "P1");
    for hour in 10..15 {
        let body = json!({
            "client_ref": format!("client-{hour}"), "artist_ref": "artist-1", "treatment": "lips",
            "performed_at": format!("2027-03-15T{hour}:00:00Z"),
            "packs": [{ "lot_id": lot["id"], "intact": true }],
        });
        let made = running.call(&Request::post("/v1/treatments", &body));
        assert_eq!(made.status, 201, "{}", made.text());
    }
    let of_lot = format!("/v1/lots/{}/exposures", lot["id"].as_str().expect("an id"));
    for path in [of_lot, "/v1/exposures?lot=P1&maker=north".to_owned()] {
        let whole = running.call(&Request::get(path.as_str())).json();
        assert_eq!(whole["treatments"].as_array().map(Vec::len), Some(5), "{whole}");
        assert!(whole.get("next_cursor").is_none());
        let joint = if path.contains('?') { '&' } else { '?' };
        let (mut rows, mut clients) = (Vec::new(), Vec::new());
        let mut next = format!("{path}{joint}limit=2");
        loop {
            let answer = running.call(&Request::get(next.as_str()));
            let page = answer.json();
            assert_eq!(page["lot_ids"], whole["lot_ids"]);
            rows.extend(page["treatments"].as_array().expect("rows").clone());
            clients.extend(page["clients"].as_array().expect("clients").clone());
            let Some(cursor) = page["next_cursor"].as_str() else { break };
            assert!(answer.header("link").is_some_and(|link| link.contains("rel=\"next\"")));
            next = format!("{path}{joint}limit=2&cursor={cursor}");
        }
        assert_eq!(json!(rows), whole["treatments"], "{path}");
        assert_eq!(json!(clients), whole["clients"], "{path}");
        let table = Request::get(format!("{path}{joint}limit=2")).header("Accept", "text/csv");
        assert_eq!(running.call(&table).text().lines().count(), 3, "a head and two rows");
    }
}

/// What is copied with a code off a box or a notice is no part of it, whether the goods are here or
/// come later; words before a code as ISO 15223-1, 5.1.5, and packs in many languages have them.
#[test]
fn a_code_is_found_in_what_was_copied_with_it() {
    let running = Running::start();
    let copied = [
        ("KL40", "Los KL40"),
        ("KL41", "(10)KL41"),
        ("KL42", "KL42 EXP 2028-01"),
        ("KL44", "Lot no. KL44"),
        ("KL45", "Nr serii KL45"),
        ("KL46", "\u{6279}\u{53f7} KL46"),
        ("KL47", "Charge KL47"),
    ];
    for (code, told) in copied {
        let notice = json!({ "lot": told, "maker": "Nord GmbH", "reason": "sterility in doubt" });
        let made = running.call(&Request::post("/v1/recalls", &notice));
        assert_eq!(made.status, 201, "{told}: {}", made.text());
        assert_eq!(typed(&running, code)["state"], "usable", "of another maker: {told}");
        let text = format!("0.30 5RS LOT {code} EXP 2036-01 STERILE EO");
        let body = json!({ "text": text, "packs": 5, "maker": "Nord" });
        let late = running.call(&Request::post("/v1/lots", &body)).json();
        assert_eq!(late["state"], "recalled", "{told}: {late}");
    }
    // The same of what somebody says of packs whose code nobody told: no word settles it.
    let text = json!({ "text": "0.30 5RS EXP 2036-01 STERILE EO", "packs": 5, "maker": "nord ag" });
    let late = running.call(&Request::post("/v1/lots", &text)).json();
    assert_eq!(late["state"], "held", "{late}");
    for (told, then) in [
        ("-", "held"),
        ("n/a", "held"),
        ("KL4?", "held"),
        ("A1, KL40", "held"),
        ("LOS: KL40", "recalled"),
    ] {
        let body = json!({ "by": "Ada", "lots": [{ "lot_id": late["id"], "confirmed": { "lot": told } }] });
        let said = running.call(&Request::post("/v1/lot-confirmations", &body));
        assert_eq!(state(&running, &late), then, "{told}: {}", said.text());
    }
}

/// A longer code is another code. Where a serial number may stand behind one, packs of the maker are
/// held until somebody has looked, whichever came first.
#[test]
fn a_code_that_begins_another_is_another_unless_a_serial_number_follows() {
    let running = Running::start();
    let lots: Vec<Value> =
        ["23K8", "23K811", "23K8-11", "23K"].iter().map(|code| typed(&running, code)).collect();
    let text = "0.30 5RS LOT 23K8-12 EXP 2036-01 STERILE EO";
    let south = json!({ "text": text, "packs": 5, "maker": "south" });
    let south = running.call(&Request::post("/v1/lots", &south)).json();
    let notice = json!({ "lot": "23K8", "maker": "north", "reason": "sterility in doubt" });
    let report = running.call(&Request::post("/v1/recalls", &notice)).json();
    assert_eq!(report["exposures"]["lot_ids"], json!([lots[0]["id"]]), "{report}");
    assert_eq!(report["exposures"]["similar_lot_ids"], json!([lots[2]["id"]]), "{report}");
    let states: Vec<Value> = lots.iter().map(|lot| state(&running, lot)).collect();
    assert_eq!(states, ["recalled", "usable", "held", "usable"]);
    assert_eq!(state(&running, &south), "usable");
    assert_eq!(typed(&running, "23K811")["state"], "usable");
    let late = typed(&running, "23K8/13");
    assert_eq!((&late["state"], &late["questions"]), (&json!("held"), &json!(["lot"])), "{late}");
    let path = format!("/v1/lots/{}/adjustments", late["id"].as_str().expect("an id"));
    let looked = json!({ "reason": "released", "confirmed": { "by": "Ada" } });
    assert_eq!(running.call(&Request::post(path, &looked)).json()["state"], "usable");
    // The other way about: the notice has the number, and the packs have none.
    let bare = typed(&running, "77B");
    let notice = json!({ "lot": "77B-0042", "maker": "north", "reason": "sterility in doubt" });
    let report = running.call(&Request::post("/v1/recalls", &notice));
    assert_eq!(report.status, 201, "{}", report.text());
    assert_eq!(state(&running, &bare), "held");
}

fn call(running: &Running, path: &str, body: &Value) -> Value {
    let answer = running.call(&Request::post(path, body));
    assert!(answer.status < 300, "{}", answer.text());
    answer.json()
}

/// What somebody who is named settled about a notice stays settled while nothing else is told of the
/// packs; another code and another notice ask anew.
#[test]
fn what_was_settled_about_a_notice_stays_settled() {
    let running = Running::start();
    recall(&running, "V1-3");
    for first in ["a code", "a look"] {
        let lot = typed(&running, "V1");
        assert_eq!(lot["state"], "held", "{lot}");
        let confirm = |said: Value| {
            let body = json!({ "by": "Ada", "lots": [{ "lot_id": lot["id"], "confirmed": said }] });
            call(&running, "/v1/lot-confirmations", &body)["outcomes"][0]["outcome"].clone()
        };
        if first == "a look" {
            let path = format!("/v1/lots/{}/adjustments", lot["id"].as_str().expect("an id"));
            let looked = json!({ "reason": "released", "confirmed": { "by": "Ada" } });
            assert_eq!(call(&running, &path, &looked)["state"], "usable");
        }
        for said in [
            json!({ "lot": "V1" }),
            json!({ "lot": "V1" }),
            json!({ "lot": "V1", "expires_on": "2036-01-31" }),
            json!({ "lot": "v-1" }),
            json!({ "lot": "V1" }),
            json!({ "reference": "K-1" }),
            json!({ "reference": "K-1", "lot": "V1" }),
        ] {
            assert_eq!(confirm(said.clone()), "released", "{first}: {said}");
            assert_eq!(state(&running, &lot), "usable", "{first}: {said}");
        }
        assert_eq!(confirm(json!({ "lot": "V1-3-8" })), "still_held", "{first}");
        assert_eq!(confirm(json!({ "lot": "V1-3-8" })), "released", "{first}");
        recall(&running, "V1-4");
        assert_eq!(state(&running, &lot), "held", "{first}: a new notice");
    }
}

/// However a serial number stands behind a code, on the notice or on the packs, and whichever came
/// first: the packs are held, and the notice says so.
#[test]
fn a_serial_number_is_known_however_it_is_written() {
    let running = Running::start();
    for (code, behind) in [
        ("26A7", "26A7 3"),
        ("26B7", "26B7_003"),
        ("26C7", "26C7 SN 11"),
        ("26D7", "26D7 S/N 11"),
        ("26E7", "26E7 Serial: 11"),
        ("26F7", "26F7SN11"),
        ("26H7", "26H7-A"),
        ("26J7", "26J7-11-4"),
        ("26K7", "26K7/X9B4"),
        ("26M7", "26M7.0A"),
    ] {
        for (own, named) in [(code, behind), (behind, code)] {
            let running = Running::start();
            let before = typed(&running, own);
            let longer = typed(&running, &format!("{code}88"));
            let notice = json!({ "lot": named, "maker": "north", "reason": "sterility in doubt" });
            let german = Request::post("/v1/recalls", &notice).header("Accept-Language", "de");
            let report = running.call(&german).json();
            assert_eq!(report["exposures"]["similar_lot_ids"], json!([before["id"]]), "{report}");
            let says = report["says"].as_str().unwrap_or_default();
            assert!(says.contains("Seriennummer stehen kann: 1. Sie sind"), "{report}");
            assert_eq!(state(&running, &before), "held", "{own} {named}");
            assert_eq!(typed(&running, own)["state"], "held", "{own} {named}");
            assert_eq!(state(&running, &longer), "usable", "{own} {named}");
            assert_eq!(typed(&running, &format!("{code}88"))["state"], "usable", "{named}");
        }
    }
    // A notice whose code is here says of the others beside it.
    ["N4", "N4-1", "N4-2"].iter().for_each(|code| drop(typed(&running, code)));
    let notice = json!({ "lot": "N4", "maker": "north", "reason": "sterility in doubt" });
    let report = call(&running, "/v1/recalls", &notice);
    assert_eq!(report["lots_with_code"], 1, "{report}");
    assert!(report["says"].as_str().is_some_and(|says| says.contains("code: 2.")), "{report}");
}
