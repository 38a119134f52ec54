//! A chain of five branches: records are where they belong, and what names no branch is told as such.

use etui_service::maintain::{self, Saved};
use etui_tests::engine;
use etui_tests::happenings::{receive_lot, record_treatment};
use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

use crate::altered_exports::with_footer;
use crate::branch_tokens::limited;
use crate::reach::{rows, send};

pub(crate) const ALL: [&str; 5] = ["mitte", "harbour", "hill", "lisbon", "auckland"];

pub(crate) fn put(service: &Running, path: &str, body: &Value) -> Answer {
    let answer = service.call(&Request::put(path, body));
    assert!([200, 201].contains(&answer.status), "{path}: {}", answer.text());
    answer
}

pub(crate) fn post(service: &Running, path: &str, body: &Value) -> Value {
    let answer = service.call(&Request::post(path, body));
    assert_eq!(answer.status, 201, "{path}: {}", answer.text());
    answer.json()
}

pub(crate) fn get(service: &Running, path: &str) -> Value {
    let answer = service.call(&Request::get(path));
    assert_eq!(answer.status, 200, "{path}: {}", answer.text());
    answer.json()
}

pub(crate) fn text(value: &Value) -> String {
    value.as_str().unwrap_or_default().to_owned()
}

/// Five branches; those abroad have zones of their own.
pub(crate) fn chain() -> Running {
    chained(Running::start())
}

fn chained(service: Running) -> Running {
    for branch in ALL {
        let mut body = json!({ "name": branch });
        match branch {
            "lisbon" => body["zone"] = "Europe/Lisbon".into(),
            "auckland" => body["zone"] = "Pacific/Auckland".into(),
            _ => {}
        }
        put(&service, &format!("/v1/branches/{branch}"), &body);
    }
    service
}

pub(crate) fn lot(service: &Running, code: &str, branch: Option<&str>, packs: u32) -> String {
    let text = format!("0.30 mm 3RS Long Taper\nLOT {code}\nEXP 2029-01-31\nSTERILE EO");
    let mut body = json!({ "text": text, "packs": packs, "maker": "north" });
    if let Some(branch) = branch {
        body["branch_ref"] = branch.into();
    }
    self::text(&post(service, "/v1/lots", &body)["id"])
}

pub(crate) fn treatment(lots: &[&str], more: &Value) -> Value {
    let pack = |lot: &&str| json!({ "lot_id": lot, "intact": true });
    let mut body = json!({
        "client_ref": "client-1", "artist_ref": "guest", "treatment": "lips",
        "performed_at": "2027-03-16T07:30:00Z", "packs": lots.iter().map(pack).collect::<Vec<_>>(),
    });
    for (name, value) in more.as_object().into_iter().flatten() {
        body[name] = value.clone();
    }
    body
}

fn codes(record: &Value) -> Vec<String> {
    let flags = record["flags"].as_array().into_iter().flatten();
    flags.map(|flag| text(&flag["code"])).collect()
}

pub(crate) fn moved(service: &Running, lot: &str, to: &str, packs: Option<u32>) -> Value {
    let mut body = json!({ "branch_ref": to });
    if let Some(packs) = packs {
        body["packs"] = packs.into();
    }
    post(service, &format!("/v1/lots/{lot}/moves"), &body)
}

/// A branch is kept, changed, and taken away when nothing is of it any more.
#[test]
fn a_branch_goes_when_nothing_is_of_it() {
    let service = chain();
    let taken = |branch: &str| {
        let path = format!("/v1/branches/{branch}");
        service.call(&Request::new("DELETE", path).header("If-Match", "*"))
    };
    assert_eq!(taken("hill").status, 200);
    assert_eq!(service.call(&Request::get("/v1/branches/hill")).status, 404);
    lot(&service, "L1", Some("harbour"), 3);
    put(&service, "/v1/artists/anna", &json!({ "hand": "light", "branch_ref": "harbour" }));
    let refused = taken("harbour");
    assert_eq!(refused.status, 409, "{}", refused.text());
    let said = refused.problem().detail;
    assert!(said.contains("artists") && said.contains("lots"), "{said}");
    for (path, body, status, pointer) in [
        ("/v1/branches/unassigned", json!({ "name": "x" }), 400, "path:branch_ref"),
        ("/v1/branches/Unassigned", json!({ "name": "x" }), 400, "path:branch_ref"),
        ("/v1/branches/Mitte", json!({ "name": "x" }), 400, "path:branch_ref"),
        ("/v1/branches/harb-our", json!({ "name": "x" }), 400, "path:branch_ref"),
        (
            "/v1/branches/new",
            json!({ "name": "x", "hours": [{ "day": "monday", "from": "12:00", "until": "09:00" }] }),
            422,
            "#/hours/0/until",
        ),
        ("/v1/branches/new", json!({ "name": "x", "zone": "Europe/Atlantis" }), 422, "#/zone"),
    ] {
        let answer = service.call(&Request::put(path, &body));
        assert_eq!(answer.status, status, "{path}: {}", answer.text());
        assert_eq!(answer.problem().errors[0].pointer, pointer, "{}", answer.text());
    }
}

/// A branch is taken away while something comes to be of it: one of both is refused.
#[test]
fn a_branch_does_not_go_while_something_comes() {
    let service = chain();
    let held = lot(&service, "L1", Some("mitte"), 900);
    let made = post(&service, "/v1/treatments", &treatment(&[&held], &json!({})));
    let (address, mut gone) = (service.address(), 0);
    for round in 0..48 {
        let branch = format!("pop-{round}");
        put(&service, &format!("/v1/branches/{branch}"), &json!({ "name": "Pop" }));
        let here = json!({ "branch_ref": branch });
        let writes = match round % 8 {
            0 => Request::post(
                "/v1/lots",
                &json!({ "text": "0.25 3RL", "packs": 1, "branch_ref": branch }),
            ),
            1 => Request::put(
                format!("/v1/artists/a{round}"),
                &json!({ "hand": "light", "branch_ref": branch }),
            ),
            2 => Request::post(
                format!("/v1/lots/{held}/moves"),
                &json!({ "branch_ref": branch, "packs": 1 }),
            ),
            3 => Request::post("/v1/treatments", &treatment(&[&held], &here)),
            4 => Request::post(
                "/v1/plugins",
                &json!({ "name": format!("p{round}"), "scopes": ["drawer:read"], "branches": [branch] }),
            ),
            5 => Request::post(
                format!("/v1/treatments/{}/amendments", text(&made["id"])),
                &json!({ "reason": "a slip", "values": here }),
            ),
            6 => Request::post(
                "/v1/deliveries",
                &json!({ "lots": [{ "text": "0.25 3RL", "packs": 1, "branch_ref": branch }] }),
            ),
            _ => Request::post(
                "/v1/appointment-checks",
                &json!({ "booking_ref": branch, "born_on": "1990-05-02", "treatment": "lips",
                    "effect": "soft_shading", "starts_at": "2027-04-06T08:00:00Z",
                    "candidates": "usual", "branch_ref": branch }),
            ),
        };
        let takes =
            Request::new("DELETE", format!("/v1/branches/{branch}")).header("If-Match", "*");
        let (writes, takes) = (writes.token(service.token()), takes.token(service.token()));
        let (wrote, took) = std::thread::scope(|scope| {
            let wrote = scope.spawn(|| writes.send(address));
            let took = takes.send(address);
            (wrote.join().expect("no panic"), took)
        });
        // A delivery tells of each lot whether it was refused.
        let is_done = wrote.status < 300 && wrote.json().pointer("/outcomes/0/errors/0").is_none();
        assert!([200, 409].contains(&took.status), "{round}: {}", took.text());
        assert_ne!(is_done, took.status == 200, "{round}: {} {}", wrote.text(), took.text());
        gone += usize::from(took.status == 200);
    }
    println!("{gone} of 48 were gone first");
}

/// What names a branch that is not there is refused at its place.
#[test]
fn an_unknown_branch_is_refused() {
    let service = chain();
    let held = lot(&service, "L1", Some("harbour"), 3);
    let here = json!({ "branch_ref": "nowhere" });
    for (request, pointer) in [
        (
            Request::put("/v1/artists/anna", &json!({ "hand": "light", "branch_ref": "nowhere" })),
            "#/branch_ref",
        ),
        (Request::post(format!("/v1/lots/{held}/moves"), &here), "#/branch_ref"),
        (Request::post("/v1/treatments", &treatment(&[&held], &here)), "#/branch_ref"),
        (
            Request::post(
                "/v1/lots",
                &json!({ "text": "0.25 3RL", "packs": 1, "branch_ref": "nowhere" }),
            ),
            "#/branch_ref",
        ),
        (
            Request::post(
                "/v1/plugins",
                &json!({ "name": "p", "scopes": ["drawer:read"], "branches": ["nowhere"] }),
            ),
            "#/branches/0",
        ),
        (
            Request::post(
                "/v1/plugins",
                &json!({ "name": "p", "scopes": ["drawer:read"], "branches": ["hill", "unassigned"] }),
            ),
            "#/branches/1",
        ),
        (
            Request::post(
                "/v1/needle-selections",
                &json!({ "treatment": "lips", "effect": "soft_shading", "candidates": "drawer", "branch_ref": "nowhere" }),
            ),
            "#/branch_ref",
        ),
    ] {
        let answer = service.call(&request);
        assert_eq!(answer.status, 422, "{}", answer.text());
        assert_eq!(answer.problem().errors[0].pointer, pointer, "{}", answer.text());
    }
}

/// Where a treatment was done: by its own word, its check, its packs, its artist; else nowhere, which
/// is told. A pack of another branch is recorded and told.
#[test]
fn what_points_to_one_branch_decides_and_is_told() {
    let service = chain();
    put(&service, "/v1/artists/anna", &json!({ "hand": "light", "branch_ref": "hill" }));
    let (there, other) =
        (lot(&service, "L1", Some("harbour"), 10), lot(&service, "L2", Some("mitte"), 9));
    let nowhere = lot(&service, "L3", None, 9);
    assert_eq!(get(&service, &format!("/v1/lots/{nowhere}"))["branch_ref"], "unassigned");
    let check = json!({ "booking_ref": "b1", "client_ref": "client-1", "born_on": "1990-05-02", "treatment": "lips",
        "effect": "soft_shading", "starts_at": "2027-04-06T08:00:00Z", "branch_ref": "lisbon", "candidates": "usual" });
    let check = post(&service, "/v1/appointment-checks", &check);
    assert_eq!((&check["branch_ref"], &check["zone"]), (&json!("lisbon"), &json!("Europe/Lisbon")));
    let check = json!({ "check_id": check["id"] });
    let anna = json!({ "artist_ref": "anna" });
    for (lots, more, branch, from, flag) in [
        (vec![&there], json!({ "branch_ref": "harbour" }), "harbour", "request", None),
        (
            vec![&there],
            json!({ "branch_ref": "mitte" }),
            "mitte",
            "request",
            Some("pack_of_another_branch"),
        ),
        (vec![&there], check.clone(), "lisbon", "check", Some("pack_of_another_branch")),
        (vec![&there, &there], json!({}), "harbour", "packs", None),
        (vec![&there], anna.clone(), "harbour", "packs", Some("artist_of_another_branch")),
        (vec![&there, &other], anna.clone(), "hill", "artist", Some("pack_of_another_branch")),
        (vec![&nowhere], anna, "hill", "artist", Some("pack_of_another_branch")),
        (vec![&there, &other], json!({}), "unassigned", "", Some("branch_unassigned")),
        (vec![&nowhere], json!({}), "unassigned", "", Some("branch_unassigned")),
        (
            vec![&there],
            json!({ "branch_ref": "unassigned" }),
            "unassigned",
            "",
            Some("branch_unassigned"),
        ),
    ] {
        let lots: Vec<&str> = lots.into_iter().map(String::as_str).collect();
        let made = post(&service, "/v1/treatments", &treatment(&lots, &more));
        assert_eq!(made["branch_ref"], branch, "{made}");
        assert_eq!(text(&made["branch_from"]), from, "{made}");
        let told = codes(&made);
        for code in ["pack_of_another_branch", "branch_unassigned", "artist_of_another_branch"] {
            assert_eq!(
                told.iter().any(|told| told == code),
                flag == Some(code),
                "{branch} {from}: {told:?}"
            );
        }
    }
    let mut contradicting = check;
    contradicting["branch_ref"] = "harbour".into();
    let made = post(&service, "/v1/treatments", &treatment(&[&there], &contradicting));
    assert!(codes(&made).contains(&"check_of_another_branch".to_owned()), "{made}");
    for (branch, count) in [("harbour", 4), ("hill", 2), ("unassigned", 3), ("auckland", 0)] {
        let found = rows(
            &service,
            service.token(),
            &format!("/v1/treatments?branch_ref={branch}&limit=50"),
        );
        assert_eq!(found.len(), count, "{branch}");
        assert!(found.iter().all(|row| row["branch_ref"] == branch), "{found:?}");
    }
    for (list, branch, count) in [
        ("lots", "harbour", 1),
        ("lots", "unassigned", 1),
        ("artists", "hill", 1),
        ("artists", "mitte", 0),
        ("appointment-checks", "lisbon", 1),
        ("appointment-checks", "unassigned", 0),
    ] {
        let found = rows(&service, service.token(), &format!("/v1/{list}?branch_ref={branch}"));
        assert_eq!(found.len(), count, "{list} {branch}: {found:?}");
    }
}

/// A record that was put into no branch, or the wrong one, is put right; its messages follow.
#[test]
fn a_branch_is_put_right() {
    let service = chain();
    let nowhere = lot(&service, "L3", None, 9);
    let made = post(&service, "/v1/treatments", &treatment(&[&nowhere], &json!({})));
    let path = format!("/v1/treatments/{}", text(&made["id"]));
    let all = |branch: &str| {
        rows(&service, service.token(), &format!("/v1/reminders?branch_ref={branch}&limit=100"))
    };
    let before = all("unassigned").len();
    assert!(0 < before && all("hill").is_empty());
    let right = json!({ "reason": "a slip", "values": { "branch_ref": "hill" } });
    let amended = post(&service, &format!("{path}/amendments"), &right);
    assert_eq!(
        (&amended["was"]["branch_ref"], &amended["now"]["branch_ref"]),
        (&json!("unassigned"), &json!("hill"))
    );
    let stands = get(&service, &path);
    assert_eq!(stands["branch_ref"], "hill");
    assert!(!codes(&stands).contains(&"branch_unassigned".to_owned()), "{stands}");
    assert_eq!((all("hill").len(), all("unassigned").len()), (before, 0));
    assert_eq!(rows(&service, service.token(), "/v1/treatments?branch_ref=hill").len(), 1);
}

/// A choice for a branch offers what lies there, and tells of the rest where it lies.
#[test]
fn a_choice_offers_this_branchs_packs_alone() {
    let service = chain();
    let (here, there) =
        (lot(&service, "L1", Some("mitte"), 3), lot(&service, "L2", Some("hill"), 3));
    let nowhere = lot(&service, "L3", None, 3);
    let mut asked =
        json!({ "treatment": "lips", "effect": "soft_shading", "candidates": "drawer" });
    let offered = |asked: &Value, token: &str| {
        let answer = send(&service, token, Request::post("/v1/needle-selections", asked)).json();
        let all = ["ranked", "set_aside"]
            .map(|part| answer[part].as_array().cloned().unwrap_or_default());
        let lots = all
            .iter()
            .flatten()
            .flat_map(|one| one["lots"].as_array().cloned().unwrap_or_default());
        let mut ids: Vec<String> = lots.map(|lot| text(&lot["id"])).collect();
        ids.sort();
        let over = answer["passed_over"].as_array().cloned().unwrap_or_default();
        let over = over
            .iter()
            .map(|lot| (text(&lot["id"]), text(&lot["reasons"][0]), text(&lot["branch_ref"])));
        (ids, over.collect::<Vec<_>>())
    };
    let (ids, over) = offered(&asked, service.token());
    assert_eq!((ids.len(), over.len()), (3, 0), "the whole chain");
    asked["branch_ref"] = "mitte".into();
    let (ids, mut over) = offered(&asked, service.token());
    over.sort_by_key(|one| one.1.clone());
    assert_eq!(ids, std::slice::from_ref(&here));
    let want = [
        (nowhere, "branch_unassigned".to_owned(), String::new()),
        (there, "in_another_branch".to_owned(), "hill".to_owned()),
    ];
    assert_eq!(over, want);
    let token = limited(&service, "desk", &["mitte"]);
    assert_eq!(offered(&asked, &token), (vec![here], Vec::new()), "to its own token only its own");
}

/// What day it is at a branch decides what has expired there, and the day of a treatment.
#[test]
fn today_is_the_branchs_own() {
    let service = chain();
    let until = |branch: &str| {
        let body = json!({ "text": "0.30 mm 3RS\nLOT Z1\nEXP 2027-03-16\nSTERILE EO", "packs": 5, "branch_ref": branch });
        text(&post(&service, "/v1/lots", &body)["id"])
    };
    let lots = ["mitte", "lisbon", "auckland"].map(until);
    for (now, states) in [
        // 12:30 in Berlin, 11:30 in Lisbon, 00:30 of the next day in Auckland.
        ("2027-03-16T11:30:00Z", ["usable", "usable", "expired"]),
        // 00:30 of the next day in Berlin, 23:30 in Lisbon.
        ("2027-03-16T23:30:00Z", ["expired", "usable", "expired"]),
        ("2027-03-17T00:30:00Z", ["expired", "expired", "expired"]),
    ] {
        service.set_clock(now);
        let told = lots.clone().map(|id| text(&get(&service, &format!("/v1/lots/{id}"))["state"]));
        assert_eq!(told, states, "{now}");
        let usable = rows(&service, service.token(), "/v1/lots?state=usable").len();
        assert_eq!(usable, states.iter().filter(|state| **state == "usable").count(), "{now}");
    }
    let at = json!({ "branch_ref": "auckland", "performed_at": "2027-03-16T12:30:00Z" });
    let held = lot(&service, "L9", Some("auckland"), 3);
    let made = post(&service, "/v1/treatments", &treatment(&[&held], &at));
    assert_eq!(made["zone"], "Pacific/Auckland");
    let plan = get(&service, &format!("/v1/treatments/{}/aftercare", text(&made["id"])));
    assert_eq!(plan["performed_on"], "2027-03-17");
    let day = |branch: &str, on: &str| {
        let path = format!("/v1/treatments?branch_ref={branch}&from={on}&to={on}");
        rows(&service, service.token(), &path).len()
    };
    assert_eq!((day("auckland", "2027-03-17"), day("auckland", "2027-03-16")), (1, 0));
}

/// Its days and its numbers are in what the client hears.
#[test]
fn hours_and_numbers_are_the_branchs() {
    let service = chain();
    let body = json!({
        "name": "Hill", "hours": [{ "day": "saturday", "from": "11:30", "until": "16:00" }],
        "numbers": { "artist": "the desk, 030 1234", "same_day": "the practice, 030 5678" },
    });
    let put = Request::put("/v1/branches/hill", &body).header("If-Match", "*");
    assert_eq!(service.call(&put).status, 200);
    let held = lot(&service, "L1", Some("hill"), 3);
    let made = post(&service, "/v1/treatments", &treatment(&[&held], &json!({})));
    let path = format!("/v1/treatments/{}", text(&made["id"]));
    let plan = get(&service, &format!("{path}/aftercare"));
    let review = text(&plan["milestones"]["review_window"]["suggested"]["local"]);
    let day: jiff::civil::Date = review[..10].parse().expect("a day");
    assert_eq!(
        (day.weekday(), &review[11..16]),
        (jiff::civil::Weekday::Saturday, "11:30"),
        "{review}"
    );
    let said = plan["steps"].as_array().expect("steps").iter().map(|step| text(&step["text"]));
    assert!(
        said.into_iter().any(|said| said.contains("030 5678") || said.contains("030 1234")),
        "{plan}"
    );
    let report =
        json!({ "symptoms": [{ "kind": "fever", "severity": "severe", "trend": "worse" }] });
    let told = service.call(&Request::post(format!("{path}/symptom-reports"), &report));
    assert_eq!(told.status, 201, "{}", told.text());
    assert!(text(&told.json()["judgement"]["call"]).contains("030 5678"), "{}", told.text());
}

/// Nobody is told a former number: what waits says the new one, and what was given out says what
/// it said.
#[test]
fn a_message_calls_whom_the_branch_calls_when_it_is_claimed() {
    let service = chain();
    let number = |number: &str| {
        let numbers = json!({ "numbers": { "same_day": number, "doctor": number } });
        let patch = Request::merge("/v1/branches/hill", &numbers).header("If-Match", "*");
        assert_eq!(service.call(&patch).status, 200);
    };
    number("030 1111");
    let held = lot(&service, "L1", Some("hill"), 3);
    post(&service, "/v1/treatments", &treatment(&[&held], &json!({})));
    let of = |told: &Value| -> Vec<Value> {
        let all = told["reminders"].as_array().or(told["items"].as_array()).cloned();
        let all = all.unwrap_or_default().into_iter();
        all.filter(|one| text(&one["text"]).contains("030 ")).collect()
    };
    let waiting = || of(&get(&service, "/v1/reminders?limit=200"));
    let all_say = |told: &[Value], number: &str| {
        assert!(
            !told.is_empty() && told.iter().all(|one| text(&one["text"]).contains(number)),
            "{told:?}"
        );
    };
    all_say(&waiting(), "030 1111");
    number("030 2222");
    all_say(&waiting(), "030 2222");
    let claim = |key: &str| {
        let body = json!({ "limit": 50, "lease_seconds": 60 });
        let post = Request::post("/v1/reminder-claims", &body);
        let told = service.call(&post.header("Idempotency-Key", format!("\"{key}\"")));
        assert_eq!(told.status, 201, "{}", told.text());
        of(&told.json())
    };
    // Day after day, until one comes that says whom to call.
    let days = (17..28).map(|day| {
        service.set_clock(&format!("2027-03-{day}T18:00:00Z"));
        (day, claim(&format!("day-{day}")))
    });
    let (day, given) = days.into_iter().find(|(_, given)| !given.is_empty()).expect("a message");
    all_say(&given, "030 2222");
    number("030 3333");
    assert_eq!(claim(&format!("day-{day}")), given, "a repeat is what it was");
    let one = get(&service, &format!("/v1/reminders/{}", text(&given[0]["id"])));
    all_say(&[one], "030 2222");
    all_say(&waiting(), "030 3333");
    // Whoever claims what ran out sends what holds then.
    service.set_clock(&format!("2027-03-{day}T18:10:00Z"));
    let again = claim("again");
    assert_eq!(again.len(), given.len());
    all_say(&again, "030 3333");
}

/// Verified, exported and imported, the chain is as it was, and so is a token of a branch.
#[tokio::test]
async fn a_chain_moves_with_the_data() {
    let folder = tempfile::tempdir().expect("a folder");
    let place = |name: &str| folder.path().join(name);
    let (from, dump, to) = (place("from"), place("dump.jsonl"), place("to"));
    let service = chained(Running::start_at(&from));
    let first = lot(&service, "L1", Some("mitte"), 9);
    moved(&service, &first, "hill", Some(4));
    post(&service, "/v1/treatments", &treatment(&[&first], &json!({})));
    let desk = limited(&service, "desk", &["hill"]);
    let seen = |service: &Running| {
        let lists = ["branches", "lots", "treatments?branch_ref=mitte"];
        lists.map(|list| rows(service, service.token(), &format!("/v1/{list}")))
    };
    let (before, hers) = (seen(&service), rows(&service, &desk, "/v1/lots"));
    service.stop();
    maintain::check(engine::place(&from)).await.expect("a sound store");
    maintain::export(engine::place(&from), &dump).await.expect("an export");
    let key = from.join("studio-key");
    let filled = maintain::fill((Saved::Export, &dump), engine::place(&to), Some(&key)).await;
    filled.expect("an import");
    maintain::check(engine::place(&to)).await.expect("a sound store");
    let service = Running::start_at(&to);
    assert_eq!(seen(&service), before);
    assert!(!rows(&service, service.token(), "/v1/reminders?branch_ref=mitte").is_empty());
    assert_eq!((rows(&service, &desk, "/v1/lots"), hers.len()), (hers, 1));
    service.stop();

    let text = std::fs::read_to_string(&dump).expect("an export");
    let all: Vec<String> = text.lines().map(str::to_owned).collect();
    let is_hill =
        |line: &String| line.starts_with("{\"space\":\"branches\",") && line.contains("hill");
    let body = &all[..all.len() - 1];
    let lacking: Vec<String> = body.iter().filter(|line| !is_hill(line)).cloned().collect();
    assert_eq!(lacking.len() + 1, body.len());
    std::fs::write(&dump, with_footer(&lacking)).expect("written");
    let to = place("lacking");
    let filled = maintain::fill((Saved::Export, &dump), engine::place(&to), Some(&key)).await;
    filled.expect("an import");
    let found = maintain::check(engine::place(&to)).await.expect_err("a lot is nowhere");
    let found = found.to_string();
    assert!(found.contains("a branch that is not kept") && !found.contains("client-1"), "{found}");
}

/// One studio without branches sees none of it.
#[test]
fn a_studio_without_branches_sees_none_of_it() {
    let service = Running::start();
    let held = receive_lot(&service, "L1", "2029-01-31");
    let id = record_treatment(&service, "client-1", &held);
    let recall = post(&service, "/v1/recalls", &json!({ "lot": "L1", "reason": "a notice", }));
    let told = [
        recall.to_string(),
        get(&service, "/v1/lots").to_string(),
        get(&service, &format!("/v1/treatments/{id}")).to_string(),
        get(&service, "/v1/treatments").to_string(),
        get(&service, "/v1/reminders").to_string(),
    ];
    assert!(
        told.iter().all(|told| !told.contains("branch") && !told.contains("unassigned")),
        "{told:?}"
    );
    assert_eq!(rows(&service, service.token(), "/v1/lots?branch_ref=unassigned").len(), 1);
}
