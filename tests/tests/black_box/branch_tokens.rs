//! A token that is limited to some branches reaches their records and nobody else's.

use etui_tests::document::Document;
use etui_tests::running::Running;
use etui_tests::tour::Tour;
use etui_tests::wire::Request;
use serde_json::{Value, json};

use crate::branches::{chain, get, lot, moved, post, put, text, treatment};
use crate::reach::{given, rows, send};

pub(crate) fn limited(service: &Running, name: &str, branches: &[&str]) -> String {
    let (answer, secret) = given(service, name, &json!({}), &json!({ "branches": branches }));
    assert_eq!(answer.status, 201, "{}", answer.text());
    secret
}

/// What the tour made is of no branch, or of one that the token does not name: in no operation is
/// there an answer that tells of it, but for what the whole chain has in common.
#[test]
fn a_token_of_a_branch_sees_nothing_of_others_in_any_operation() {
    let tour = Tour::make();
    put(&tour.running, "/v1/branches/far", &json!({ "name": "Far" }));
    let token = limited(&tour.running, "far", &["far"]);
    let mut private: Vec<String> = ["artist-07", "liner-1", "harbour"].map(str::to_owned).into();
    for (operation, pointer) in [
        ("record_treatment", "/id"),
        ("create_appointment_check", "/id"),
        ("move_lot", "/lot/id"),
        ("receive_delivery", "/outcomes/1/lot/id"),
        ("make_practice_sheet", "/id"),
        ("give_sign_off", "/id"),
        ("recall_lots", "/id"),
    ] {
        private.push(tour.text(operation, pointer));
    }
    let of_branch = [
        "treatments",
        "appointment-checks",
        "reminders",
        "lots",
        "machines",
        "artists",
        "hand-profiles",
        "practice-sheets",
        "sign-offs",
        "branches",
    ];
    let (mut refused, mut answered) = (0, 0);
    for operation in Document::of_this_build().operations() {
        let Some(heard) = tour.find(&operation.id).filter(|_| operation.needs_token) else {
            continue;
        };
        let id = &operation.id;
        let answer = tour.running.call(&heard.request.clone().token(&token));
        let by_path =
            of_branch.iter().any(|what| operation.path.starts_with(&format!("/v1/{what}/{{")));
        if by_path {
            assert!(
                [403, 404].contains(&answer.status),
                "{id}: {} {}",
                answer.status,
                answer.text()
            );
        }
        if 300 <= answer.status {
            refused += 1;
            continue;
        }
        answered += 1;
        let (text, sent) =
            (answer.text(), heard.request.json_body().unwrap_or_default().to_string());
        for name in &private {
            assert!(!text.contains(name) || sent.contains(name), "{id} tells of `{name}`: {text}");
        }
    }
    assert!(60 < refused && 15 < answered, "{refused} refused, {answered} answered");
}

/// What a token of a branch writes is of its branch, and names it; packs do not leave for elsewhere.
#[test]
fn what_a_token_of_a_branch_writes_is_of_its_branch() {
    let service = chain();
    let desk = limited(&service, "desk", &["mitte"]);
    let (own, other) =
        (lot(&service, "L1", Some("mitte"), 9), lot(&service, "L2", Some("hill"), 9));
    let nowhere = lot(&service, "L3", None, 9);
    put(&service, "/v1/artists/clara", &json!({ "hand": "light", "branch_ref": "hill" }));
    let here = json!({ "branch_ref": "mitte" });
    let check = json!({ "booking_ref": "b1", "born_on": "1990-05-02", "treatment": "lips", "candidates": "usual",
        "effect": "soft_shading", "starts_at": "2027-04-06T08:00:00Z" });
    let with = |body: &Value, more: &Value| {
        let mut body = body.clone();
        for (name, value) in more.as_object().into_iter().flatten() {
            body[name] = value.clone();
        }
        body
    };
    let of_hill = text(&post(&service, "/v1/treatments", &treatment(&[&other], &json!({})))["id"]);
    let packet = json!({ "text": "0.25 3RL LOT N9 EXP 2029-01-31 STERILE EO", "packs": 2 });
    let move_to = |lot: &str, to: &str| {
        Request::post(format!("/v1/lots/{lot}/moves"), &json!({ "branch_ref": to }))
    };
    for (what, request, status, pointer) in [
        (
            "no branch",
            Request::post("/v1/treatments", &treatment(&[&own], &json!({}))),
            403,
            "#/branch_ref",
        ),
        (
            "another's",
            Request::post("/v1/treatments", &treatment(&[&own], &json!({ "branch_ref": "hill" }))),
            403,
            "#/branch_ref",
        ),
        (
            "another's pack",
            Request::post("/v1/treatments", &treatment(&[&other], &here)),
            422,
            "#/packs/0/lot_id",
        ),
        (
            "nobody's pack",
            Request::post("/v1/treatments", &treatment(&[&nowhere], &here)),
            422,
            "#/packs/0/lot_id",
        ),
        ("its own", Request::post("/v1/treatments", &treatment(&[&own], &here)), 201, ""),
        ("a check without", Request::post("/v1/appointment-checks", &check), 403, "#/branch_ref"),
        ("its check", Request::post("/v1/appointment-checks", &with(&check, &here)), 201, ""),
        (
            "another's artist",
            Request::post(
                "/v1/appointment-checks",
                &with(&with(&check, &here), &json!({ "artist_ref": "clara" })),
            ),
            403,
            "#/artist_ref",
        ),
        (
            "nobody",
            Request::post(
                "/v1/appointment-checks",
                &with(&with(&check, &here), &json!({ "artist_ref": "dora" })),
            ),
            403,
            "#/artist_ref",
        ),
        ("a lot without", Request::post("/v1/lots", &packet), 403, "#/branch_ref"),
        ("its lot", Request::post("/v1/lots", &with(&packet, &here)), 201, ""),
        (
            "a delivery elsewhere",
            Request::post(
                "/v1/deliveries",
                &json!({ "lots": [with(&packet, &here), packet.clone()] }),
            ),
            403,
            "#/lots/1/branch_ref",
        ),
        (
            "another's artist put",
            Request::put("/v1/artists/clara", &json!({ "hand": "heavy", "branch_ref": "mitte" })),
            403,
            "path:artist_ref",
        ),
        (
            "an artist without",
            Request::put("/v1/artists/eva", &json!({ "hand": "heavy" })),
            403,
            "#/branch_ref",
        ),
        (
            "its artist",
            Request::put("/v1/artists/eva", &json!({ "hand": "heavy", "branch_ref": "mitte" })),
            201,
            "",
        ),
        (
            "its artist away",
            Request::merge("/v1/artists/eva", &json!({ "branch_ref": null }))
                .header("If-Match", "*"),
            403,
            "#/branch_ref",
        ),
        (
            "its artist changed",
            Request::merge("/v1/artists/eva", &json!({ "hand": "light" })).header("If-Match", "*"),
            200,
            "",
        ),
        ("a pack of another's away", move_to(&other, "mitte"), 404, ""),
        ("a pack of nobody's away", move_to(&nowhere, "mitte"), 404, ""),
        ("its packs elsewhere", move_to(&own, "hill"), 403, "#/branch_ref"),
        ("its packs nowhere", move_to(&own, "no-such"), 403, "#/branch_ref"),
        ("a branch", Request::put("/v1/branches/mitte", &json!({ "name": "x" })), 403, ""),
        ("another's treatment", Request::get(format!("/v1/treatments/{of_hill}")), 404, ""),
        (
            "a recall",
            Request::post("/v1/recalls", &json!({ "lot": "L1", "reason": "notice" })),
            403,
            "",
        ),
        (
            "the chain's client",
            Request::put("/v1/clients/client-9", &json!({ "answers": {} })),
            201,
            "",
        ),
    ] {
        let answer = send(&service, &desk, request);
        assert_eq!(answer.status, status, "{what}: {}", answer.text());
        let named =
            pointer.is_empty() || answer.problem().errors.iter().any(|one| one.pointer == pointer);
        assert!(named, "{what}: {}", answer.text());
    }
    for (list, count) in
        [("lots", 2), ("treatments", 1), ("appointment-checks", 1), ("artists", 1), ("branches", 1)]
    {
        let found = rows(&service, &desk, &format!("/v1/{list}"));
        assert_eq!(found.len(), count, "{list}: {found:?}");
    }
    assert!(!rows(&service, &desk, "/v1/reminders").is_empty());
    let all = limited(&service, "both", &["mitte", "hill"]);
    assert_eq!(send(&service, &all, move_to(&own, "hill")).status, 201);
}

/// What was answered to a token before it was narrowed is not told to it again, where it names what is
/// beyond it now; nor is it done again.
#[test]
fn a_narrowed_token_is_told_no_kept_answer_of_another_branch() {
    let service = chain();
    let (made, desk) =
        given(&service, "desk", &json!({}), &json!({ "branches": ["mitte", "hill"] }));
    let plugin = format!("/v1/plugins/{}", text(&made.json()["plugin_id"]));
    let from_hill = lot(&service, "L1", Some("hill"), 9);
    moved(&service, &from_hill, "mitte", None);
    let own = lot(&service, "L2", Some("mitte"), 9);
    let adjust = |lot: &str| {
        let body = json!({ "change": -1, "reason": "damaged" });
        let post = Request::post(format!("/v1/lots/{lot}/adjustments"), &body);
        send(&service, &desk, post.header("Idempotency-Key", format!("\"{lot}\"")))
    };
    let first = [adjust(&from_hill), adjust(&own)];
    assert_eq!([first[0].status, first[1].status], [201, 201], "{}", first[0].text());
    assert!(first[0].text().contains("hill"));
    let patch = Request::merge(plugin, &json!({ "branches": ["mitte"] }));
    assert_eq!(service.call(&patch.header("If-Match", "*")).status, 200);
    let again = [adjust(&from_hill), adjust(&own)];
    assert_eq!([again[0].status, again[1].status], [403, 201], "{}", again[0].text());
    assert_eq!(again[1].text(), first[1].text());
    let left = get(&service, &format!("/v1/lots/{from_hill}"));
    assert_eq!(left["packs"], 8, "once");
}

/// A branch beyond the token is refused as one that is not there, whatever is asked, and a dry run says
/// what the call would.
#[test]
fn a_branch_beyond_is_told_like_none() {
    let service = chain();
    let desk = limited(&service, "desk", &["mitte"]);
    for (branch, is_hers) in
        [("mitte", true), ("hill", false), ("no-such", false), ("unassigned", false)]
    {
        for candidates in ["drawer", "usual"] {
            let asked = json!({ "treatment": "lips", "effect": "soft_shading",
                "candidates": candidates, "branch_ref": branch });
            let answer = send(&service, &desk, Request::post("/v1/needle-selections", &asked));
            assert_eq!(answer.status, if is_hers { 200 } else { 403 }, "{}", answer.text());
            if !is_hers {
                let at = &answer.problem().errors[0].pointer;
                assert_eq!(at, "#/branch_ref", "{}", answer.text());
            }
        }
    }
    let packet = |branch: Option<&str>| {
        let mut one = json!({ "text": "0.25 3RL LOT N9 EXP 2029-01-31 STERILE EO", "packs": 2 });
        if let Some(branch) = branch {
            one["branch_ref"] = branch.into();
        }
        one
    };
    for branch in [None, Some("unassigned"), Some("hill"), Some("no-such"), Some("mitte")] {
        let body = json!({ "lots": [packet(Some("mitte")), packet(branch)] });
        let told = ["/v1/deliveries?dry_run=true", "/v1/deliveries"]
            .map(|path| send(&service, &desk, Request::post(path, &body)));
        if branch == Some("mitte") {
            assert_eq!(told.map(|answer| answer.status), [200, 201]);
            continue;
        }
        let [dry, done] = told.map(|answer| {
            assert_eq!(answer.status, 403, "{branch:?}: {}", answer.text());
            answer.problem().errors
        });
        assert_eq!((&dry, dry[0].pointer.as_str()), (&done, "#/lots/1/branch_ref"));
    }
}
