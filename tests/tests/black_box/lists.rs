//! Lists: everything under the caller's own references, and what each filter finds.

use etui_schema::events::EventPage;
use etui_tests::happenings::{page, put_client, receive_lot, record_treatment};
use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

pub(crate) fn made(running: &Running, path: &str, body: &Value) -> Value {
    let answer = running.call(&Request::post(path, body));
    assert_eq!(answer.status, 201, "{path}: {}", answer.text());
    answer.json()
}

/// Rows of a list, read page by page, as one member of each.
pub(crate) fn listed(running: &Running, target: &str, member: &str) -> Vec<String> {
    let mut all = Vec::new();
    let mut next = Some(target.to_owned());
    while let Some(target) = next {
        let page = running.call(&Request::get(target.clone()));
        assert_eq!(page.status, 200, "{target}: {}", page.text());
        let rows = page.json();
        for row in rows["items"].as_array().expect("items") {
            all.push(row[member].as_str().unwrap_or("none").to_owned());
        }
        let link = page.header("link").and_then(|l| l.strip_prefix('<')?.split('>').next());
        next = link.map(str::to_owned);
    }
    all
}

pub(crate) fn sorted(mut all: Vec<String>) -> Vec<String> {
    all.sort();
    all
}

#[test]
fn records_under_references_are_listed_without_what_is_sealed() {
    let service = Running::start();
    for n in 0..5 {
        let client = json!({ "born_on": "1990-05-02", "zone": "Europe/Vienna" });
        let put = |path: String, body: &Value| {
            assert_eq!(service.call(&Request::put(path, body)).status, 201);
        };
        put(format!("/v1/clients/c{n}"), &client);
        put(format!("/v1/artists/a{n}"), &json!({ "hand": "light" }));
        let machine = json!({ "stroke_mm": 3.0, "rate_hz": 90.0, "give": "soft" });
        put(format!("/v1/machines/m{n}"), &machine);
    }
    let erase = Request::new("DELETE", "/v1/clients/c1").header("If-Match", "*");
    assert_eq!(service.call(&erase).status, 200);
    for (list, member, want) in [
        ("/v1/clients?limit=2", "client_ref", vec!["c0", "c2", "c3", "c4"]),
        ("/v1/artists?limit=2", "artist_ref", vec!["a0", "a1", "a2", "a3", "a4"]),
        ("/v1/machines?limit=2", "machine_ref", vec!["m0", "m1", "m2", "m3", "m4"]),
    ] {
        assert_eq!(sorted(listed(&service, list, member)), want, "{list}");
    }
    let rows = service.call(&Request::get("/v1/clients")).json();
    for row in rows["items"].as_array().expect("items") {
        let mut names: Vec<&str> =
            row.as_object().expect("a row").keys().map(String::as_str).collect();
        names.sort_unstable();
        assert_eq!(names, ["client_ref", "updated_at", "version"]);
    }
}

/// Three bookings on three days: one whose client may not be treated, one without a client.
#[test]
fn checks_are_found_by_whom_whose_when_and_what_was_found() {
    let service = Running::start();
    for artist in ["a1", "a2"] {
        let put = Request::put(format!("/v1/artists/{artist}"), &json!({ "hand": "light" }));
        assert_eq!(service.call(&put).status, 201);
    }
    for client in ["c1", "c2"] {
        let put =
            Request::put(format!("/v1/clients/{client}"), &json!({ "born_on": "1990-05-02" }));
        assert_eq!(service.call(&put).status, 201);
    }
    let check =
        |booking: &str, client: Option<&str>, artist: Option<&str>, starts: &str, born: &str| {
            let mut body = json!({
                "booking_ref": booking, "treatment": "brows", "effect": "soft_shading",
                "starts_at": starts, "born_on": born,
            });
            for (name, reference) in [("client_ref", client), ("artist_ref", artist)] {
                if let Some(reference) = reference {
                    body[name] = json!(reference);
                }
            }
            let made = made(&service, "/v1/appointment-checks", &body);
            (made["id"].as_str().expect("an id").to_owned(), made["verdict"].clone())
        };
    // 23:30 in Berlin is still the third.
    let (one, open) = check("b1", Some("c1"), Some("a1"), "2027-04-03T21:30:00Z", "1990-05-02");
    let (two, same) = check("b2", Some("c2"), Some("a2"), "2027-04-04T09:00:00Z", "1990-05-02");
    let (three, child) = check("b3", None, Some("a1"), "2027-04-05T09:00:00Z", "2015-05-02");
    assert_eq!(open, same);
    assert_ne!(open, child, "a child is another matter");
    let (open, child) = (open.as_str().expect("a word"), child.as_str().expect("a word"));
    let all = [one.as_str(), &two, &three];
    for (query, want) in [
        (String::new(), vec![0, 1, 2]),
        ("limit=1".to_owned(), vec![0, 1, 2]),
        ("client_ref=c1".to_owned(), vec![0]),
        ("client_ref=nobody".to_owned(), vec![]),
        ("artist_ref=a1".to_owned(), vec![0, 2]),
        ("artist_ref=a1&client_ref=c2".to_owned(), vec![]),
        ("booking_ref=b2".to_owned(), vec![1]),
        ("booking_ref=b2&client_ref=c1".to_owned(), vec![]),
        ("from=2027-04-04".to_owned(), vec![1, 2]),
        ("to=2027-04-04".to_owned(), vec![0, 1]),
        ("from=2027-04-03&to=2027-04-03".to_owned(), vec![0]),
        ("client_ref=c2&from=2027-04-05".to_owned(), vec![]),
        (format!("verdict={child}"), vec![2]),
        (format!("verdict={open}&limit=1"), vec![0, 1]),
        (format!("verdict={child}&to=2027-04-04"), vec![]),
        (format!("verdict={child}&verdict={open}"), vec![0, 1, 2]),
        (format!("verdict={child}&verdict={open}&to=2027-04-04&limit=1"), vec![0, 1]),
    ] {
        let want: Vec<&str> = want.into_iter().map(|n: usize| all[n]).collect();
        let target = format!("/v1/appointment-checks?{query}");
        assert_eq!(listed(&service, &target, "id"), want, "{query}");
    }
    let wrong = "/v1/appointment-checks?from=2027-04-05&to=2027-04-04";
    assert_eq!(service.call(&Request::get(wrong)).status, 400);
    let verdicts = || listed(&service, "/v1/appointment-checks", "verdict");
    assert_eq!(verdicts(), [open, open, child]);
    let erase = Request::new("DELETE", "/v1/clients/c1").header("If-Match", "*");
    assert_eq!(service.call(&erase).status, 200);
    assert_eq!(verdicts(), ["none", open, child], "the row stays, and says nothing of her");
}

#[test]
fn treatments_reminders_and_lots_are_found_by_what_they_name() {
    let service = Running::start();
    let lot = |code: &str, date: &str, maker: Option<&str>| {
        let text = format!("0.30 3RS LOT {code} EXP {date} STERILE EO");
        let mut body = json!({ "text": text, "packs": 5 });
        if let Some(maker) = maker {
            body["maker"] = json!(maker);
        }
        made(&service, "/v1/lots", &body)["id"].clone()
    };
    let lots = [
        lot("L1", "2029-06-30", Some("north")),
        lot("L1", "2029-07-31", None),
        lot("L2", "2026-06-30", Some("north")),
    ];
    let text = |id: &Value| id.as_str().expect("an id").to_owned();
    for (query, want) in [
        ("lot=L1", vec![0, 1]),
        ("lot=L1&expires_by=2029-06-30", vec![0]),
        ("lot=L3", vec![]),
        // Of a maker that nobody told, with another last day than the same code has.
        ("state=held", vec![1]),
        ("state=usable", vec![0]),
        ("state=usable&state=expired", vec![0, 2]),
        ("state=expired&lot=L2", vec![2]),
        ("state=held&state=recalled", vec![1]),
        ("configuration=0.30+3RS", vec![0, 1, 2]),
        ("configuration=3RS+0.30&lot=L1", vec![0, 1]),
        ("configuration=0.30+3RL", vec![]),
        ("maker=north", vec![0, 2]),
        ("maker=N+Orth&lot=L1", vec![0]),
        ("maker=south", vec![]),
    ] {
        let want = want.into_iter().map(|n: usize| text(&lots[n])).collect();
        let found = listed(&service, &format!("/v1/lots?{query}"), "id");
        assert_eq!(sorted(found), sorted(want), "{query}");
    }
    let treat = |client: &str, artist: &str, at: &str| {
        let body = json!({
            "client_ref": client, "artist_ref": artist, "treatment": "brows", "performed_at": at,
            "packs": [{ "lot_id": lots[0], "intact": true }],
        });
        text(&made(&service, "/v1/treatments", &body)["id"])
    };
    let all = [
        treat("c1", "a1", "2027-03-14T22:30:00Z"),
        treat("c2", "a2", "2027-03-15T09:00:00Z"),
        treat("c1", "a2", "2027-03-15T10:00:00Z"),
    ];
    for (query, want) in [
        ("", vec![0, 1, 2]),
        ("limit=1&", vec![0, 1, 2]),
        ("client_ref=c1", vec![0, 2]),
        ("client_ref=c1&artist_ref=a2", vec![2]),
        ("artist_ref=a2", vec![1, 2]),
        ("from=2027-03-15", vec![1, 2]),
        ("to=2027-03-14", vec![0]),
        ("client_ref=c1&from=2027-03-15&to=2027-03-15", vec![2]),
        ("configuration=0.30+3RS&maker=north", vec![0, 1, 2]),
        ("configuration=0.30+3RS&client_ref=c2", vec![1]),
        ("configuration=0.30+5RS", vec![]),
        ("maker=south", vec![]),
    ] {
        let want = want.into_iter().map(|n: usize| all[n].clone()).collect();
        let found = listed(&service, &format!("/v1/treatments?{query}"), "id");
        // Ids of the same moment have no order.
        assert_eq!(sorted(found), sorted(want), "{query}");
    }
    let of = |query: &str| listed(&service, &format!("/v1/reminders?{query}"), "treatment_id");
    let every = of("limit=200");
    let count =
        |wanted: &[usize]| every.iter().filter(|id| wanted.iter().any(|n| all[*n] == **id)).count();
    // The first treatment of c1 was followed by another, and has no messages left.
    let (one, other) = (count(&[1]), count(&[2]));
    assert!(0 < one && 0 < other && one + other == every.len(), "{every:?}");
    assert_eq!(of("client_ref=c1&limit=3").len(), other);
    assert_eq!(of(&format!("treatment_id={}&limit=2", all[1])), vec![all[1].clone(); one]);
    assert_eq!(of(&format!("treatment_id={}&client_ref=c1", all[1])), [""; 0]);
    // Of several states state by state, as if each were asked for by itself.
    let ids = |query: &str| listed(&service, &format!("/v1/reminders?{query}"), "id");
    let (cancelled, scheduled) = (ids("state=cancelled"), ids("state=scheduled"));
    assert!(!scheduled.is_empty());
    let both = ids("state=scheduled&state=cancelled&limit=2");
    assert_eq!(both, [cancelled, scheduled.clone()].concat());
    let before = "due_before=2027-03-20T00:00:00Z";
    let early = ids(&format!("state=scheduled&{before}"));
    assert!(!early.is_empty() && early.len() < scheduled.len());
    assert_eq!(ids(&format!("state=scheduled&state=held&{before}")), early);
}

/// A day at the front desk in one page: each check with its verdict and its few lines.
#[test]
fn a_days_checks_come_with_their_short_views() {
    let service = Running::start();
    let lot = json!({ "text": "0.30 3RS LOT D1 EXP 2029-06-30 STERILE EO", "packs": 5, "maker": "north" });
    made(&service, "/v1/lots", &lot);
    for (booking, starts) in [("b1", "2027-04-03T09:00:00Z"), ("b2", "2027-04-03T11:00:00Z")] {
        let body = json!({
            "booking_ref": booking, "client_ref": format!("c-{booking}"), "treatment": "brows",
            "effect": "soft_shading", "starts_at": starts, "born_on": "1990-05-02",
        });
        made(&service, "/v1/appointment-checks", &body);
    }
    let rows = |query: &str| {
        let target = format!("/v1/appointment-checks?from=2027-04-03&to=2027-04-03{query}");
        let page = service.call(&Request::get(target).header("Accept-Language", "de"));
        page.json()["items"].as_array().expect("items").clone()
    };
    let (long, short) = (rows(""), rows("&short=true"));
    assert_eq!((long.len(), short.len()), (2, 2));
    for (plain, row) in long.iter().zip(&short) {
        let target = format!("/v1/appointment-checks/{}/summary", row["id"].as_str().unwrap());
        let alone = service.call(&Request::get(target).header("Accept-Language", "de")).json();
        assert_eq!(row["summary"], alone);
        let mut rest = row.clone();
        rest.as_object_mut().unwrap().remove("summary");
        assert_eq!(rest, *plain);
    }
    // What a check offered finds it, and no other maker does.
    let offers = short[0]["summary"]["needles"][0]["canonical"].as_str().map(str::to_owned);
    assert_eq!(offers.as_deref(), Some("0.30 3RS"));
    assert_eq!(rows("&configuration=0.30+3RS&maker=NORTH").len(), 2);
    assert_eq!(rows("&configuration=0.30+5RS").len(), 0);
    assert_eq!(rows("&maker=south").len(), 0);
    let erase = Request::new("DELETE", "/v1/clients/c-b1").header("If-Match", "*");
    assert_eq!(service.call(&erase).status, 200);
    assert_eq!(rows("&short=true")[0].get("summary"), None);
    let wrong = service.call(&Request::get("/v1/lots?configuration=needle"));
    assert_eq!(wrong.problem().errors[0].pointer, "query:configuration");
}

pub(crate) fn tag(answer: &Answer) -> String {
    answer.header("etag").expect("an entity tag").to_owned()
}

/// What GET gives, PUT takes, and changes nothing by it but the version.
#[test]
fn what_was_read_can_be_put_back() {
    let service = Running::start();
    let client = json!({
        "born_on": "1990-05-02", "skin": { "phototype": "II" },
        "answers": { "cold_sore_history": true }, "given": { "on": "2027-03-01", "treatment": "lips" },
        "zone": "Europe/Berlin", "language": "de",
    });
    for (path, body) in [
        ("/v1/clients/r1", client),
        ("/v1/artists/r1", json!({ "hand": "light" })),
        ("/v1/machines/r1", json!({ "stroke_mm": 3.0, "rate_hz": 90.0, "give": "soft" })),
        ("/v1/supplier-habits/r1", json!({ "maker": "north", "confirmed_by": "a1" })),
    ] {
        let first = service.call(&Request::put(path, &body));
        assert_eq!(first.status, 201, "{path}: {}", first.text());
        let read = service.call(&Request::get(path));
        let back = Request::put(path, &read.json()).header("If-Match", tag(&read));
        let again = service.call(&back);
        assert_eq!(again.status, 200, "{path}: {}", again.text());
        let mut same = again.json();
        same["version"] = json!(1);
        assert_eq!(same, read.json(), "{path}");
        for (name, wrong) in [
            (format!("{}_ref", path.split('/').nth(2).map_or("", singular)), json!("other")),
            ("version".to_owned(), json!(7)),
            ("updated_at".to_owned(), json!("2020-01-01T00:00:00Z")),
        ] {
            let mut other = service.call(&Request::get(path)).json();
            other[&name] = wrong;
            let refused = service.call(&Request::put(path, &other).header("If-Match", "*"));
            assert_eq!(refused.status, 422, "{path} {name}: {}", refused.text());
            let problem = refused.problem();
            assert_eq!(problem.errors[0].pointer, format!("#/{name}"), "{problem}");
        }
    }
}

fn singular(list: &str) -> &str {
    if list == "supplier-habits" { "habit" } else { list.trim_end_matches('s') }
}

/// A patch changes what it names and nothing else; what it makes is held to the limits of a PUT.
#[test]
fn a_patch_changes_what_it_names() {
    let service = Running::start();
    let path = "/v1/clients/p1";
    let body = json!({
        "born_on": "1990-05-02", "skin": { "phototype": "II", "oiliness": "dry" },
        "answers": { "cold_sore_history": true, "pregnant": false },
        "given": { "on": "2027-03-01", "treatment": "lips", "asked_by": "front-desk" },
        "zone": "Europe/Berlin",
    });
    let kept = service.call(&Request::put(path, &body));
    assert_eq!(kept.status, 201, "{}", kept.text());
    let (before, first) = (kept.json(), tag(&kept));
    let patch = |patch: &Value, tag: &str| {
        service.call(&Request::merge(path, patch).header("If-Match", tag))
    };
    let moved = patch(&json!({ "zone": "Europe/Vienna" }), &first);
    assert_eq!(moved.status, 200, "{}", moved.text());
    let mut want = before.clone();
    want["zone"] = json!("Europe/Vienna");
    want["version"] = json!(2);
    assert_eq!(moved.json(), want, "answers, skin and date of birth stay, with their days");
    let stale = patch(&json!({ "zone": "Europe/Paris" }), &first);
    assert_eq!(stale.status, 412);
    let unnamed = service.call(&Request::merge(path, &json!({})));
    assert_eq!(unnamed.status, 428);
    let told = json!({
        "skin": { "oiliness": null, "thickness": "fine" }, "answers": { "cold_sore_history": false },
        "zone": null,
    });
    let told = patch(&told, &tag(&moved)).json();
    assert_eq!(told["skin"], json!({ "phototype": "II", "thickness": "fine" }));
    assert_eq!(told["answers"], json!({ "cold_sore_history": false, "pregnant": false }));
    assert_eq!(told["answered"]["cold_sore_history"]["on"], json!("2027-03-16"), "told today");
    assert_eq!(told["answered"]["pregnant"], before["answered"]["pregnant"]);
    assert_eq!(told.get("zone"), None);
    let gone = patch(&json!({ "answers": { "pregnant": null } }), "*").json();
    assert_eq!(gone["answers"], json!({ "cold_sore_history": false }));
    assert_eq!(gone["answered"].get("pregnant"), None);
    let none = patch(&json!({ "answers": null }), "*").json();
    let origins = none["answered"].as_object().map(|all| all.keys().collect::<Vec<_>>());
    assert_eq!((&none["answers"], origins), (&json!({}), Some(vec![&"skin".to_owned()])));
    let last = service.call(&Request::get(path)).json();
    for (wrong, at) in [
        (json!({ "born_on": "2050-01-01" }), "#/born_on"),
        (json!({ "answers": { "pregnent": true } }), "#/answers/pregnent"),
        (json!({ "skin": { "thickness": "paper" } }), "#/skin/thickness"),
        (json!({ "nickname": "x" }), "#/nickname"),
        // What is taken away has a name too, that may be mistyped.
        (json!({ "nickname": null }), "#/nickname"),
        (json!({ "answers": { "pregnent": null } }), "#/answers/pregnent"),
        (json!({ "skin": { "oilinesss": null } }), "#/skin/oilinesss"),
        (json!({ "version": 1 }), "#/version"),
        (json!({ "client_ref": null, "updated_at": "2020-01-01T00:00:00Z" }), "#/updated_at"),
        (json!([]), "#"),
    ] {
        let refused = patch(&wrong, "*");
        assert_eq!(refused.status, 422, "{wrong}: {}", refused.text());
        let problem = refused.problem();
        assert!(problem.errors.iter().any(|fault| fault.pointer == at), "{wrong}: {problem}");
    }
    let plain = Request::merge(path, &json!({})).header("Content-Type", "application/json");
    assert_eq!(service.call(&plain.header("If-Match", "*")).status, 415);
    let twice = br#"{"zone": "Europe/Paris", "zone": "Europe/Vienna"}"#;
    let twice = Request::merge(path, &json!({})).bytes("application/merge-patch+json", twice);
    assert_eq!(service.call(&twice.header("If-Match", "*")).status, 422);
    assert_eq!(service.call(&Request::get(path)).json(), last, "nothing was written");
    let nobody = Request::merge("/v1/clients/nobody", &json!({})).header("If-Match", "*");
    assert_eq!(service.call(&nobody).status, 404);
}

/// What a body leaves out of an artist stays; what a patch takes away is gone.
#[test]
fn a_patch_takes_away_what_an_artist_may_do() {
    let service = Running::start();
    let path = "/v1/artists/ann";
    let told = json!({ "hand": "medium", "trainer": true, "licensed_on": "2010-01-01" });
    assert_eq!(service.call(&Request::put(path, &told)).status, 201);
    let hand = Request::put(path, &json!({ "hand": "light" })).header("If-Match", "*");
    let kept = service.call(&hand).json();
    assert_eq!((&kept["trainer"], &kept["licensed_on"]), (&json!(true), &json!("2010-01-01")));
    let taken = json!({ "trainer": null, "licensed_on": null });
    let taken = Request::merge(path, &taken).header("If-Match", "*");
    let taken = service.call(&taken).json();
    assert_eq!((&taken["trainer"], taken.get("licensed_on")), (&json!(false), None), "{taken}");
    // Whoever wants a new one alone gets none in its place, whatever else is sent.
    let anew = Request::put(path, &told).header("If-Match", "*").header("If-None-Match", "*");
    assert_eq!(service.call(&anew).status, 412);
}

/// An artist who has left: what was recorded goes on naming her.
#[test]
fn what_names_an_artist_who_was_taken_away_stays_readable() {
    let service = Running::start();
    let artist = service.call(&Request::put("/v1/artists/left", &json!({ "hand": "heavy" })));
    let lot = json!({ "text": "0.30 3RS LOT L1 EXP 2029-06-30 STERILE EO", "packs": 5 });
    let lot = made(&service, "/v1/lots", &lot)["id"].clone();
    let body = json!({
        "client_ref": "c1", "artist_ref": "left", "treatment": "brows",
        "performed_at": "2027-03-15T09:00:00Z", "packs": [{ "lot_id": lot, "intact": true }],
    });
    let treatment = made(&service, "/v1/treatments", &body);
    let check = json!({
        "booking_ref": "b1", "treatment": "brows", "effect": "soft_shading", "artist_ref": "left",
        "starts_at": "2027-04-03T09:00:00Z", "born_on": "1990-05-02",
    });
    let kept = made(&service, "/v1/appointment-checks", &check);
    let remove = |tag: &str| {
        service.call(&Request::new("DELETE", "/v1/artists/left").header("If-Match", tag))
    };
    let unnamed = service.call(&Request::new("DELETE", "/v1/artists/left"));
    assert_eq!((unnamed.status, remove("\"stale\"").status), (428, 412));
    assert_eq!(remove(&tag(&artist)).status, 200);
    assert_eq!(service.call(&Request::get("/v1/artists/left")).status, 404);
    for (path, was) in [("/v1/treatments", &treatment), ("/v1/appointment-checks", &kept)] {
        let path = format!("{path}/{}", was["id"].as_str().expect("an id"));
        assert_eq!(service.call(&Request::get(path)).json(), *was);
    }
    assert_eq!(listed(&service, "/v1/treatments?artist_ref=left", "artist_ref"), ["left"]);
    let refused = service.call(&Request::post("/v1/appointment-checks", &check));
    assert_eq!(refused.status, 422, "{}", refused.text());
}

/// Messages by the time they are due, from one instant to another, in every order of filters.
#[test]
fn reminders_are_found_by_a_range() {
    let service = Running::start();
    let lot = receive_lot(&service, "L1", "2029-01-31");
    record_treatment(&service, "client-1", &lot);
    let all = listed(&service, "/v1/reminders?limit=2", "due_at");
    assert!(3 < all.len(), "{all:?}");
    let (first, last) = (&all[0], &all[all.len() - 1]);
    for (query, want) in [
        (format!("due_from={first}"), all.clone()),
        (format!("due_from={first}&due_before={last}"), all[..all.len() - 1].to_vec()),
        (format!("due_from={last}"), all[all.len() - 1..].to_vec()),
        (format!("due_from={last}&due_before={first}"), vec![]),
        (format!("due_from={last}&state=scheduled&state=delivered"), all[all.len() - 1..].to_vec()),
    ] {
        assert_eq!(
            listed(&service, &format!("/v1/reminders?limit=2&{query}"), "due_at"),
            want,
            "{query}"
        );
    }
}

/// Events of one type, or of several; whoever goes on misses none of them.
#[test]
fn events_are_found_by_type() {
    let service = Running::start();
    let lot = receive_lot(&service, "L1", "2029-01-31");
    for n in 0..4 {
        put_client(&service, &format!("c{n}"));
        record_treatment(&service, &format!("c{n}"), &lot);
    }
    let all = page(&service, 0, 500).items;
    let kinds = |query: &str| {
        let (mut found, mut after) = (Vec::new(), 0);
        loop {
            let target = format!("/v1/events?limit=1&after={after}{query}");
            let told: EventPage = service.call(&Request::get(target)).read();
            found.extend(told.items.iter().map(|event| (event.sequence, event.kind.to_string())));
            after = told.next_after.0;
            if !told.more {
                return found;
            }
        }
    };
    for wanted in
        [&["client.changed"][..], &["treatment.recorded", "client.changed"], &["lot.recalled"]]
    {
        let query: String = wanted.iter().map(|kind| format!("&type={kind}")).collect();
        let fits = |kind: &str| wanted.contains(&kind);
        let want = all.iter().map(|event| (event.sequence, event.kind.to_string()));
        let want: Vec<_> = want.filter(|(_, kind)| fits(kind)).collect();
        assert_eq!(kinds(&query), want, "{query}");
    }
    let unknown = service.call(&Request::get("/v1/events?type=client.changes"));
    assert_eq!(unknown.status, 400, "{}", unknown.text());
}

/// Backups come in pages like everything that grows.
#[test]
fn backups_come_in_pages() {
    let service = Running::start();
    let day = ["2027-03-16T09:00:00Z", "2027-03-16T10:00:00Z", "2027-03-16T11:00:00Z"];
    let mut made = Vec::new();
    for now in day {
        service.set_clock(now);
        let backup = service.call(&Request::new("POST", "/v1/backups"));
        assert_eq!(backup.status, 201, "{}", backup.text());
        made.push(backup.json()["backup"]["name"].as_str().expect("a name").to_owned());
    }
    for limit in [1, 2, 3, 200] {
        assert_eq!(
            listed(&service, &format!("/v1/backups?limit={limit}"), "name"),
            made,
            "{limit}"
        );
    }
    assert_eq!(service.call(&Request::get("/v1/backups?limit=0")).status, 400);
}

/// A notice about a pigment reaches whom it was put into, also where the batch was put right later.
#[test]
fn treatments_are_found_by_the_batch_of_a_pigment() {
    let house = crate::reminders::House::open();
    let treat = |batch: Option<&str>| {
        let mut body = json!({
            "client_ref": "c-1", "artist_ref": "artist-07", "treatment": "brows",
            "performed_at": "2027-03-16T07:00:00Z", "packs": [{ "lot_id": house.lot_id, "intact": true }],
        });
        if let Some(batch) = batch {
            body["pigments"] = json!([{ "pigment_ref": "umber", "batch": batch }]);
        }
        let answer = house.running.call(&Request::post("/v1/treatments", &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
        answer.json()["id"].as_str().expect("an id").to_owned()
    };
    let found = |batch: &str| {
        let path = format!("/v1/treatments?pigment_batch={batch}");
        let page = house.running.call(&Request::get(path)).json();
        let items = page["items"].as_array().expect("a list").iter();
        let ids = items.map(|one| one["id"].as_str().expect("an id").to_owned());
        ids.collect::<std::collections::BTreeSet<_>>()
    };
    let (one, other) = (treat(Some("PG-77")), treat(None));
    assert_eq!((found("PG-77"), found("PG-78")), ([one.clone()].into(), [].into()));
    let amend = |values: &Value| {
        let body = json!({ "reason": "the bottle was looked at again", "values": values });
        house.running.call(&Request::post(format!("/v1/treatments/{other}/amendments"), &body))
    };
    let right = amend(&json!({ "pigments": [{ "pigment_ref": "umber", "batch": "PG 77" }] }));
    assert_eq!(right.status, 201, "{}", right.text());
    assert_eq!(found("pg77"), [one, other.clone()].into());
    // What a record would refuse an amendment refuses too.
    let wrong = amend(&json!({ "effect": "full_lip" }));
    assert_eq!(wrong.status, 422, "{}", wrong.text());
    assert!(wrong.text().contains("#/values/effect"), "{}", wrong.text());
}

/// Blanks and dots are no reason, and no name.
#[test]
fn what_says_nothing_is_no_reason() {
    let house = crate::reminders::House::open();
    let lot = format!("/v1/lots/{}", house.lot_id);
    for nothing in ["   ", "...", "\u{200b}\u{200b}\u{200b}", "\u{a0}\u{2003}-"] {
        let recall = house
            .running
            .call(&Request::post(format!("{lot}/recalls"), &json!({ "reason": nothing })));
        assert_eq!(recall.status, 422, "{nothing:?}: {}", recall.text());
    }
    for (change, reason, status) in [
        (5, "damaged", 422),
        (0, "practice", 422),
        (2, "returned", 422),
        (2, "held", 422),
        (-2, "damaged", 201),
        (2, "recount", 201),
    ] {
        let body = json!({ "change": change, "reason": reason });
        let answer = house.running.call(&Request::post(format!("{lot}/adjustments"), &body));
        assert_eq!(answer.status, status, "{change} {reason}: {}", answer.text());
    }
    let recall = json!({ "reason": "Rückruf" });
    let recalled = house.running.call(&Request::post(format!("{lot}/recalls"), &recall));
    assert!(recalled.status < 300, "{}", recalled.text());
}
