//! A check that is made again.

use etui_tests::happenings::receive_lot;
use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

use crate::checks::{PATH, made};
use crate::packs::{RULES, grounds, own_rule};

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
    assert!(why("verdict").contains("A pack of rules was added"), "{}", why("verdict"));
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

/// "A rules pack changed under the same name; replay: same": a sentence, a latest day or the
/// period of a rule that did not even speak. Each is told, and a pack put back as it was is the same.
#[test]
fn a_replay_names_a_pack_that_changed_under_its_name() {
    let running = Running::start();
    let mut pack = own_rule("race");
    pack["rule"][0]["todo"] = json!({ "who": "client", "lead": "P2D" });
    pack["rule"][0]["basis"]["lead"] = grounds();
    pack["texts"]["rule.race.say"] = json!({ "en": "We call you by {due}." });
    let path = format!("{RULES}/house");
    let put = |pack: &Value| {
        let held = running.call(&Request::get(&*path));
        let mut request = Request::put(&*path, pack);
        if let Some(tag) = held.header("etag") {
            request = request.header("If-Match", tag);
        }
        let answer = running.call(&request);
        assert!(answer.status < 300, "{}", answer.text());
    };
    put(&pack);
    let check = made(&running, &json!({ "race_asked": true }), &json!({}));
    let replay = || {
        let path = format!("{PATH}/{}/replays", check["id"].as_str().expect("an id"));
        running.call(&Request::new("POST", path)).json()
    };
    assert_eq!(replay()["same"], json!(true), "{}", replay());
    let with = |pointer: &str, value: Value| {
        let mut next = pack.clone();
        *next.pointer_mut(pointer).expect("a member") = value;
        next
    };
    let mut silent = pack.clone();
    silent["tighten"] = json!([{ "rule": "isotretinoin_recent", "period": "P13M" }]);
    for (case, next, parts) in [
        ("a day", with("/rule/0/todo/lead", json!("P7D")), &["todo", "rulebook"][..]),
        (
            "a sentence",
            with("/texts/rule.race.say/en", json!("Do call us by {due}.")),
            &["rulebook"],
        ),
        ("a rule that was silent", silent, &["rulebook"]),
    ] {
        put(&next);
        let told = replay();
        assert_eq!(told["same"], json!(false), "{case}: {told}");
        let differs = told["differences"].as_array().expect("a list");
        for part in parts {
            let found = differs.iter().find(|one| one["part"] == *part);
            let found = found.unwrap_or_else(|| panic!("{case}: no {part} in {told}"));
            assert_ne!(found["before"], found["now"], "{case}");
            assert!(!found["because"].as_str().expect("why").is_empty(), "{case}");
        }
        put(&pack);
        assert_eq!(replay()["same"], json!(true), "{case}, put back");
    }
}

/// "Another configuration enters the ranking; replay: same": further down than the first place too.
#[test]
fn a_replay_names_a_configuration_that_enters_the_ranking() {
    let running = Running::start();
    let lot = |text: &str| {
        let body = json!({ "text": format!("{text} EXP 2036-01 STERILE EO"), "packs": 5 });
        let answer = running.call(&Request::post("/v1/lots", &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
        answer.json()
    };
    lot("0.25 1RL LOT A1");
    lot("0.30 3RS LOT A2");
    let check = made(&running, &json!({}), &json!({ "candidates": "drawer" }));
    let path = format!("{PATH}/{}/replays", check["id"].as_str().expect("an id"));
    let replay = || running.call(&Request::new("POST", path.as_str())).json();
    assert_eq!(replay()["same"], json!(true), "{}", replay());
    for (text, code) in [("0.30 5RS", "B1"), ("0.35 7RM", "B2"), ("0.20 1RL", "B3")] {
        lot(&format!("{text} LOT {code}"));
    }
    let told = replay();
    assert_eq!(told["same"], json!(false), "{told}");
    let differs = told["differences"].as_array().expect("a list");
    let needles = differs.iter().find(|one| one["part"] == "needles").expect("needles");
    let count = |side: &str| needles[side].as_str().expect("a list").split(", ").count();
    assert!(count("before") < count("now"), "{needles}");
    assert!(needles["because"].as_str().expect("why").contains("drawer"), "{needles}");
}

/// What is kept of client, artist and machine may have changed since: a replay names it.
#[test]
fn a_replay_names_what_is_kept_otherwise_by_now() {
    let running = Running::start();
    let put = |path: &str, body: &Value| {
        let held = running.call(&Request::get(path)).header("etag").map(str::to_owned);
        let put = Request::put(path, body);
        let answer = running.call(&match held {
            Some(tag) => put.header("If-Match", tag),
            None => put,
        });
        assert!(answer.status < 300, "{path}: {}", answer.text());
    };
    put("/v1/clients/client-1", &json!({ "skin": { "thickness": "fine" } }));
    put("/v1/artists/artist-1", &json!({ "hand": "light" }));
    put("/v1/machines/machine-1", &json!({ "stroke_mm": 3.0, "rate_hz": 90, "give": "medium" }));
    let of = json!({ "artist_ref": "artist-1", "machine_ref": "machine-1" });
    let check = made(&running, &json!({}), &of);
    let because = || {
        let path = format!("{PATH}/{}/replays", check["id"].as_str().expect("an id"));
        let told = running.call(&Request::new("POST", path)).json();
        let all = told["differences"].as_array().expect("a list").iter();
        all.map(|one| one["because"].as_str().expect("why").to_owned()).collect::<String>()
    };
    assert_eq!(because(), "");
    put("/v1/artists/artist-1", &json!({ "hand": "heavy" }));
    assert!(because().contains("artist or of the machine"), "{}", because());
    put("/v1/artists/artist-1", &json!({ "hand": "light" }));
    assert_eq!(because(), "");
    put("/v1/machines/machine-1", &json!({ "stroke_mm": 2.5, "rate_hz": 90, "give": "medium" }));
    assert!(because().contains("artist or of the machine"), "{}", because());
    put("/v1/machines/machine-1", &json!({ "stroke_mm": 3.0, "rate_hz": 90, "give": "medium" }));
    put("/v1/clients/client-1", &json!({ "skin": { "thickness": "thick" } }));
    assert!(because().contains("client's skin"), "{}", because());
}

/// What was kept is told with the language that it is in, whatever the call asks for; where it
/// names none, with none.
#[test]
fn a_kept_answer_tells_its_own_language() {
    let running = Running::start();
    let lot = receive_lot(&running, "L1", "2029-01-31");
    let check = json!({ "booking_ref": "b1", "born_on": "1990-05-02", "treatment": "lips",
                        "effect": "soft_shading", "starts_at": "2027-04-06T08:00:00Z" });
    let treatment = json!({ "client_ref": "client-1", "artist_ref": "anna", "treatment": "lips", "performed_at": "2027-03-16T07:30:00Z",
                            "packs": [{ "lot_id": lot, "intact": true, "site": "lip" }] });
    for (path, body, repeated) in
        [("/v1/appointment-checks", check, Some("de")), ("/v1/treatments", treatment, None)]
    {
        let send = |language: &str| {
            let request = Request::post(path, &body).header("Idempotency-Key", "\"k\"");
            running.call(&request.header("Accept-Language", language))
        };
        let (made, again) = (send("de"), send("en"));
        assert_eq!((made.status, again.text()), (201, made.text()), "{}", again.text());
        assert_eq!(made.header("content-language"), Some("de"), "{path}");
        assert_eq!(again.header("content-language"), repeated, "{path}");
        let place = made.header("location").expect("a place").to_owned();
        let read =
            |place: String| running.call(&Request::get(place).header("Accept-Language", "en"));
        if repeated.is_some() {
            assert_eq!(read(place.clone()).header("content-language"), repeated);
            for short in [format!("{place}?short=true"), format!("{place}/summary")] {
                let short = read(short);
                let named = short.json()["language"].clone();
                assert_eq!(short.header("content-language"), named.as_str(), "{}", short.text());
            }
        }
    }
}
