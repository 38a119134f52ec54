//! A check that is made again.

use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::json;

use crate::checks::{PATH, made};

/// A replay says "same", or what differs and why: rules, stock, time.
#[test]
fn a_replay_says_what_differs_and_why() {
    let running = Running::start();
    let members = json!({ "candidates": "drawer" });
    let answers = json!({ "fish_oil": true, "isotretinoin": "stopped", "isotretinoin_stopped_on": "2026-01-01" });
    let check = made(&running, &answers, &members);
    let replay = || {
        let path = format!("{PATH}/{}/replays", check["id"].as_str().expect("an id"));
        running.call(&Request::new("POST", path)).json()
    };
    let same = replay();
    assert_eq!(
        (same["same"].clone(), same["differences"].clone()),
        (json!(true), json!([])),
        "{same}"
    );
    let why = |part: &str| {
        let told = replay();
        let differs = told["differences"].as_array().expect("a list").iter();
        let found = differs.clone().find(|one| one["part"] == part);
        found.unwrap_or_else(|| panic!("{part}: {told}"))["because"]
            .as_str()
            .expect("why")
            .to_owned()
    };
    let lot = json!({ "text": "0.30 3RS LOT A1 EXP 2036-01 STERILE EO", "packs": 5 });
    assert_eq!(running.call(&Request::post("/v1/lots", &lot)).status, 201);
    assert!(why("first_needle").contains("drawer"));
    let pack = json!({ "tighten": [{ "rule": "fish_oil", "verdict": "decline" }] });
    assert_eq!(running.call(&Request::put("/v1/packs/rules/house", &pack)).status, 201);
    assert!(why("verdict").contains("pack `house` was added"), "{}", why("verdict"));
    assert_eq!(replay()["verdict"], "decline");
}

/// With the same rules and answers, only time makes a difference: what was in
/// time becomes late, and on the day the questions of the day are open.
#[test]
fn a_replay_tells_that_time_has_passed() {
    let running = Running::start();
    let check = made(&running, &json!({}), &json!({}));
    let replay = || {
        let path = format!("{PATH}/{}/replays", check["id"].as_str().expect("an id"));
        running.call(&Request::new("POST", path)).json()
    };
    running.set_clock("2027-04-05T22:30:00Z");
    let told = replay();
    let differs = told["differences"].as_array().expect("a list");
    let part = |part: &str| differs.iter().find(|one| one["part"] == part).expect(part);
    assert!(
        part("todo")["now"].as_str().expect("keys").contains("skin_test.patch_test (late)"),
        "{told}"
    );
    assert!(
        part("unanswered")["because"].as_str().expect("why").contains("time passed since"),
        "{told}"
    );
    // There is no time left for a skin test; none is no better than a bad one.
    assert_eq!(told["verdict"], "hold");
}
