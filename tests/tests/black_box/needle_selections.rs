//! Choosing needles over HTTP: usual range, list, drawer.

use etui_schema::needle_selections::{NeedleSelection, NeedleSetAside};
use etui_schema::problem::{ErrorCode, FaultCode, Problem};
use etui_tests::running::{Running, with_token};
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

const SELECTIONS: &str = "/v1/needle-selections";

fn post(running: &Running, target: &str, body: &Value) -> Answer {
    running.call(&with_token(&Request::post(target, body), running.token()))
}

fn select(body: &Value) -> NeedleSelection {
    let answer = post(Running::shared(), SELECTIONS, body);
    assert_eq!(answer.status, 200, "{}", answer.text());
    answer.read()
}

fn refused(body: &Value) -> Problem {
    let answer = post(Running::shared(), SELECTIONS, body);
    assert_eq!(answer.status, 422, "{}", answer.text());
    answer.problem()
}

fn canonical(selection: &NeedleSelection) -> Vec<&str> {
    selection.ranked.iter().map(|one| one.canonical.as_str()).collect()
}

/// Common practice: 11 of 14 pages take a single or the finest liner.
#[test]
fn the_usual_range_is_what_an_absent_choice_means() {
    let asked = json!({ "treatment": "brows", "effect": "hair_strokes" });
    let found = select(&asked);
    let named = select(&json!({
        "treatment": "brows", "effect": "hair_strokes", "candidates": "usual",
    }));
    assert_eq!(found, named);
    let order = canonical(&found);
    assert!(["0.18 1RL", "0.20 1RL"].contains(&order[0]), "{order:?}");
    let magnum = |one: &NeedleSetAside| one.canonical.contains("M1") && one.reason == "form";
    let whole = select(&json!({
        "treatment": "brows", "effect": "hair_strokes", "limit": 250,
    }));
    assert!(whole.set_aside.iter().any(magnum));
    // A third diameter of the kind stands on the long list alone.
    assert!(!order.contains(&"0.30 1RL"), "{order:?}");
    let broad = whole.ranked.iter().find(|one| one.canonical == "0.30 1RL");
    let remarks = &broad.expect("a single of 0.30 mm").remarks;
    assert!(remarks.iter().any(|r| &*r.code == "too_broad_for_hairs"), "{remarks:?}");
    // What is not told is counted, by what it fails in, and of each one is told.
    assert_eq!(found.set_aside.len(), 12);
    let counted: u32 = found.set_aside_reasons.iter().map(|one| one.count).sum();
    assert_eq!(counted, found.set_aside_not_shown);
    assert_eq!(u32::try_from(whole.set_aside.len()).ok(), Some(counted + 12));
    for one in &found.set_aside_reasons {
        assert!(found.set_aside.iter().any(|told| told.reason == one.reason), "{one:?}");
    }
    // One needle in several diameters is one entry.
    assert!(found.ranked[0].alike.iter().all(|one| one.ends_with(" 1RL")));
    assert!(!found.ranked[0].alike.is_empty());
    assert_eq!(found.step_up[0].kind, "leave_spot");
    assert!(!found.differing_views.is_empty() && !found.hints.is_empty());
    assert!(found.would_change.iter().any(|one| one.change == "/setting/hand"));
    assert!(found.basis.iter().any(|one| &*one.source == "derringer-suich-1980"));
    assert!(found.assumed.contains(&"/machine/stroke_mm".to_owned()), "{:?}", found.assumed);
}

#[test]
fn a_list_is_ranked_whole_and_each_need_that_fails_is_said() {
    let found = select(&json!({
        "treatment": "lips",
        "effect": "dense_fill",
        "setting": { "hand": "heavy", "site": "lip" },
        "candidates": [
            { "label": "0.30 1RL" },
            { "diameter_mm": 0.3, "count": 6, "grouping": "flat" },
            { "label": "0.30 9M1" },
        ],
    }));
    assert_eq!(canonical(&found), ["0.30 6F", "0.30 9M1"]);
    let answers = &found.ranked[0].answers;
    assert_eq!(answers.effect.agreement.as_deref(), Some("2/5"));
    assert!(
        answers.hand.because.starts_with("A heavy hand: 6 points share its force"),
        "{answers:?}"
    );
    assert_eq!(
        (found.set_aside[0].canonical.as_str(), found.set_aside[0].question.as_str()),
        ("0.30 1RL", "effect")
    );
}

/// A repeated request and one that differs in skin colour alone are answered
/// with the same bytes.
#[test]
fn the_same_question_gets_the_same_bytes_whatever_the_colour() {
    let ask = |skin: Value| {
        let body =
            json!({ "treatment": "brows", "effect": "pixelated", "setting": { "skin": skin } });
        post(Running::shared(), SELECTIONS, &body).text()
    };
    let plain = ask(json!({ "thickness": "fine" }));
    assert_eq!(plain, ask(json!({ "thickness": "fine" })));
    let dark = json!({ "thickness": "fine", "phototype": "VI", "lab": { "l": 32.0, "a": 9.0, "b": 12.0 } });
    assert_eq!(plain, ask(dark));
}

#[test]
fn what_makes_no_sense_is_refused_at_its_place() {
    let pair = refused(&json!({ "treatment": "lips", "effect": "scalp_dots" }));
    assert_eq!(pair.code, ErrorCode::InvalidValue);
    let fault = &pair.errors[0];
    assert_eq!(
        (fault.pointer.as_str(), fault.code.known()),
        ("#/effect", Some(FaultCode::Contradiction))
    );
    assert!(fault.message.contains("fine_line, bold_line, pixelated"), "{}", fault.message);

    let list = refused(&json!({
        "treatment": "brows",
        "effect": "pixelated",
        "candidates": [{ "label": "nonsense" }, { "label": "0.25 1RL" }, { "count": 3 }],
    }));
    let places: Vec<&str> = list.errors.iter().map(|fault| fault.pointer.as_str()).collect();
    assert_eq!(places, ["#/candidates/0/label", "#/candidates/2/diameter_mm"]);

    for (candidates, at) in [
        (json!("cupboard"), "#/candidates"),
        (json!([]), "#/candidates"),
        (json!([{ "labl": "0.25 1RL" }]), "#/candidates/0/labl"),
        (json!(7), "#/candidates"),
    ] {
        let body = json!({ "treatment": "brows", "effect": "pixelated", "candidates": candidates });
        let problem = refused(&body);
        assert!(problem.errors.iter().any(|f| f.pointer == at), "{candidates}: {problem:?}");
    }
    let limit = refused(&json!({ "treatment": "brows", "effect": "pixelated", "limit": 0 }));
    assert_eq!(limit.errors[0].pointer, "#/limit");
}

#[test]
fn the_drawer_comes_first_expired_first_out() {
    let running = Running::start();
    let lot = |grouping: &str, count: u8, lot: &str, expires_on: &str| {
        let configuration = json!({ "diameter_mm": 0.2, "count": count, "grouping": grouping });
        let body = json!({
            "packs": 10,
            "confirmed": {
                "configuration": configuration, "lot": lot, "expires_on": expires_on,
                "sterile": true, "by": "artist-1",
            },
        });
        let answer = post(&running, "/v1/lots", &body);
        assert_eq!(answer.status, 201, "{}", answer.text());
    };
    let body = json!({ "treatment": "brows", "effect": "hair_strokes", "candidates": "drawer" });
    let empty: NeedleSelection = post(&running, SELECTIONS, &body).read();
    assert!(empty.ranked.is_empty() && empty.set_aside.is_empty());
    lot("round_liner", 1, "LATE", "2036-12-31");
    lot("round_liner", 1, "SOON", "2035-01-31");
    lot("round_liner", 1, "GONE", "2001-01-31");
    lot("woven_magnum", 9, "WIDE", "2036-06-30");
    let found: NeedleSelection = post(&running, SELECTIONS, &body).read();
    assert_eq!(canonical(&found), ["0.20 1RL"]);
    let lots: Vec<_> =
        found.ranked[0].lots.iter().map(|l| l.lot.as_deref().unwrap_or("")).collect();
    assert_eq!(lots, ["SOON", "LATE"]);
    assert_eq!(found.set_aside[0].lots[0].lot.as_deref(), Some("WIDE"));
    running.stop();
}

/// How many needles a check tells moves none of them, and nothing is left out unsaid.
#[test]
fn a_choice_tells_as_many_needles_as_are_wanted() {
    let running = Running::start();
    let list = ["0.20 1RL", "0.25 1RL", "0.30 3RL", "0.30 5RS", "0.30 7M1", "0.30 9RM"];
    let list: Vec<Value> = list.iter().map(|label| json!({ "label": label })).collect();
    for candidates in [json!("usual"), json!(list)] {
        let told = |limit: Option<u16>| -> NeedleSelection {
            let mut body = json!({
                "treatment": "brows", "effect": "soft_shading", "candidates": candidates,
            });
            if let Some(limit) = limit {
                body["limit"] = json!(limit);
            }
            post(&running, SELECTIONS, &body).read()
        };
        let names = |found: &NeedleSelection| -> Vec<String> {
            found.ranked.iter().map(|one| one.canonical.to_string()).collect()
        };
        let suiting = |found: &NeedleSelection| {
            let alike: usize = found.ranked.iter().map(|one| one.alike.len()).sum();
            found.ranked.len() + alike + usize::try_from(found.not_shown).unwrap()
        };
        let aside = |found: &NeedleSelection| {
            found.set_aside.len() + usize::try_from(found.set_aside_not_shown).unwrap()
        };
        let all = told(Some(250));
        for limit in [1, 2, 3, 12] {
            let found = told(Some(limit));
            let most = usize::from(limit);
            assert_eq!(found.ranked.len(), most.min(all.ranked.len()), "{candidates} {limit}");
            assert_eq!(names(&found), names(&all)[..found.ranked.len()], "{candidates} {limit}");
            assert!(found.set_aside.len() <= most, "{candidates} {limit}");
            assert_eq!(suiting(&found), suiting(&all), "{candidates} {limit}");
            assert_eq!(aside(&found), aside(&all), "{candidates} {limit}");
        }
        // Who names no number sees the best of every kind, too.
        let best = told(None);
        assert_eq!(names(&best)[0], names(&all)[0]);
    }
}

#[test]
fn a_check_tells_as_many_needles_as_are_wanted() {
    let running = Running::start();
    let check = |limit: Option<u16>| {
        let mut body = json!({
            "booking_ref": "booking-1", "treatment": "brows", "effect": "hair_strokes",
            "starts_at": "2027-04-06T08:00:00Z", "born_on": "1990-06-15", "candidates": "usual",
        });
        if let Some(limit) = limit {
            body["limit"] = json!(limit);
        }
        running.call(&Request::post("/v1/appointment-checks", &body))
    };
    let lists = |check: &Value| {
        ["ranked", "set_aside"].map(|name| check["needles"][name].as_array().unwrap().clone())
    };
    let counts = |check: &Value| {
        ["not_shown", "set_aside_not_shown"].map(|name| check["needles"][name].as_u64().unwrap())
    };
    let usual = check(None).json();
    let [all_ranked, all_aside] = lists(&check(Some(20)).json());
    assert_eq!(lists(&usual)[0].len(), 5);
    for limit in [1, 3, 5, 12, 20] {
        let told = check(Some(limit)).json();
        let [ranked, aside] = lists(&told);
        let canonical =
            |list: &[Value]| list.iter().map(|one| one["canonical"].clone()).collect::<Vec<_>>();
        assert_eq!(canonical(&ranked), canonical(&all_ranked[..ranked.len()]), "{limit}");
        assert_eq!(aside, all_aside[..aside.len()], "{limit}");
        let most = usize::from(limit);
        assert!(ranked.len() <= most && aside.len() <= most, "{limit}");
        let whole = [0, 1].map(|at| lists(&usual)[at].len() as u64 + counts(&usual)[at]);
        let sums = [ranked.len() as u64 + counts(&told)[0], aside.len() as u64 + counts(&told)[1]];
        assert_eq!(sums, whole, "{limit}");
        for name in ["verdict", "summary", "todo", "readiness"] {
            assert_eq!(told[name], usual[name], "{limit}: {name}");
        }
    }
    for limit in [0, 21] {
        let problem = check(Some(limit)).problem();
        assert_eq!(problem.errors[0].pointer, "#/limit", "{problem}");
    }
}
