//! Deliveries of one code beside each other: one lot has one last day of use, and what keeps packs of a
//! code out of use is asked of the others. Common practice, no source.

use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

const DAY: &str = "0.30 5RS LOT D7 EXP 2036-06 STERILE EO";
const EARLIER: &str = "0.30 5RS LOT d-7 EXP 2036-01 STERILE EO";

fn post(running: &Running, path: &str, body: &Value) -> Answer {
    let answer = running.call(&Request::post(path, body));
    assert!([200, 201, 422].contains(&answer.status), "{}", answer.text());
    answer
}

fn of(maker: &str, text: &str) -> Value {
    json!({ "text": text, "packs": 5, "maker": maker })
}

fn receive(running: &Running, text: &str) -> Value {
    post(running, "/v1/lots", &of("north", text)).json()
}

/// A lot as it is now.
fn now(running: &Running, lot: &Value) -> Value {
    running.call(&Request::get(path(lot))).json()
}

fn path(lot: &Value) -> String {
    format!("/v1/lots/{}", lot["id"].as_str().expect("an id"))
}

fn adjust(running: &Running, lot: &Value, body: &Value) -> Answer {
    post(running, &format!("{}/adjustments", path(lot)), body)
}

fn confirm(running: &Running, lot: &Value, said: &Value, by: &str) -> Value {
    let body = json!({ "by": by, "lots": [{ "lot_id": lot["id"], "confirmed": said }] });
    post(running, "/v1/lot-confirmations", &body).json()["outcomes"][0].clone()
}

fn asks(lot: &Value) -> (Value, Value) {
    (lot["reasons"].clone(), lot["questions"].clone())
}

/// What is said of the lots that a choice from the drawer passes over.
fn passed(running: &Running, language: &str) -> Value {
    let body = json!({ "treatment": "brows", "effect": "soft_shading", "candidates": "drawer" });
    let asked = Request::post("/v1/needle-selections", &body).header("Accept-Language", language);
    running.call(&asked).json()
}

/// The later day is asked about, whichever came first, and until somebody who is named has looked.
#[test]
fn two_last_days_of_one_code_are_asked_about() {
    let (differs, free) =
        ((json!(["expiry_differs"]), json!(["expiry"])), (json!([]), json!(null)));
    for at_once in [false, true] {
        for order in [[DAY, EARLIER], [EARLIER, DAY]] {
            let running = Running::start();
            let lots: Vec<Value> = if at_once {
                let all: Vec<Value> = order.iter().map(|text| of("north", text)).collect();
                let done = post(&running, "/v1/deliveries", &json!({ "lots": all })).json();
                done["outcomes"]
                    .as_array()
                    .expect("a list")
                    .iter()
                    .map(|it| it["lot"].clone())
                    .collect()
            } else {
                order.iter().map(|text| receive(&running, text)).collect()
            };
            let later = order.iter().position(|text| *text == DAY).expect("it is one");
            let (later, earlier) = (&lots[later], &lots[1 - later]);
            assert_eq!(asks(&now(&running, later)), differs, "{order:?} {at_once}");
            assert_eq!(asks(&now(&running, earlier)), free, "{order:?} {at_once}");
            for (language, says) in [("en", "have an earlier one"), ("de", "einen früheren Tag")] {
                let found = passed(&running, language);
                assert_eq!(found["passed_over"][0]["id"], later["id"], "{found}");
                let message = found["passed_over"][0]["message"].as_str().unwrap_or_default();
                assert!(message.contains(says), "{message}");
            }
            let released = json!({ "reason": "released", "confirmed": { "by": "ada" } });
            assert_eq!(adjust(&running, later, &released).status, 422, "no day was said");
            let day = json!({ "expires_on": "2036-06-30" });
            assert_eq!(confirm(&running, later, &day, "ada")["outcome"], "released");
            assert_eq!(asks(&now(&running, earlier)), free);
            // What is settled of two days stays so, whatever more of them comes.
            let late = [DAY, EARLIER].map(|text| receive(&running, text));
            for lot in late.iter().chain([later]) {
                assert_eq!(asks(&now(&running, lot)), free, "{lot}");
            }
            // Another day is held against each of them.
            receive(&running, "0.30 5RS LOT D7 EXP 2035-12 STERILE EO");
            for lot in late.iter().chain([later]) {
                assert_eq!(asks(&now(&running, lot)), differs, "{lot}");
            }
        }
    }
}

/// What is of another maker, needle or code says nothing of the day; a day that is told later does.
#[test]
fn only_packs_of_one_lot_have_one_last_day() {
    let running = Running::start();
    let later = receive(&running, DAY);
    for (maker, text) in [
        ("south", EARLIER),
        ("north", "0.25 3RL LOT D7 EXP 2036-01 STERILE EO"),
        ("north", "0.30 5RS LOT D71 EXP 2036-01 STERILE EO"),
        ("north", "0.30 5RS LOT D7 EXP 2036-06-30 STERILE EO"),
    ] {
        let other = post(&running, "/v1/lots", &of(maker, text)).json();
        assert_eq!(other["state"], "usable", "{text}: {other}");
        assert_eq!(now(&running, &later)["state"], "usable", "{text}");
    }
    let dateless = receive(&running, "0.30 5RS LOT D7 STERILE EO");
    assert_eq!(now(&running, &later)["state"], "usable");
    confirm(&running, &dateless, &json!({ "expires_on": "2035-12-31" }), "ada");
    assert_eq!(now(&running, &later)["reasons"], json!(["expiry_differs"]));
}

/// What keeps packs out of use may be of all of their code: the others ask, before and after, and
/// whoever looks at them by name settles it.
#[test]
fn what_is_known_of_a_code_is_asked_of_its_other_deliveries() {
    const GOOD: &str = "0.30 5RS LOT D7 EXP 2036-06 STERILE EO";
    let by_hand = json!({ "reason": "held", "note": "wet" });
    let unsterile = json!({ "reason": "released", "confirmed": { "sterile": false, "by": "ada" } });
    for (case, first, then, is_asked, says) in [
        ("nothing", GOOD, None, false, ""),
        ("a count", GOOD, Some(json!({ "reason": "damaged", "change": -1 })), false, ""),
        ("put aside", GOOD, Some(by_hand), true, "put aside by hand, since 16 March 2027"),
        ("said not to be sterile", GOOD, Some(unsterile), true, "not sterile"),
        ("not sterile", "0.30 5RS LOT D7 EXP 2036-06 NON-STERILE", None, true, "not sterile"),
        ("no word of it", "0.30 5RS LOT D7 EXP 2036-06", None, false, ""),
        ("no date", "0.30 5RS LOT D7 STERILE EO", None, false, ""),
        ("do not use", "0.30 5RS LOT D7 EXP 2036-06 STERILE EO DO NOT USE", None, true, "against"),
    ] {
        let running = Running::start();
        let before = receive(&running, GOOD);
        let lot = receive(&running, first);
        if let Some(then) = then {
            assert_eq!(adjust(&running, &lot, &then).status, 201, "{case}");
        }
        let after = receive(&running, "0.30 5RS LOT D7 EXP 2036-06 STERILE EO");
        let want = if is_asked {
            (json!(["code_held"]), json!(["hand"]))
        } else {
            (json!([]), json!(null))
        };
        for other in [&before, &after] {
            assert_eq!(asks(&now(&running, other)), want, "{case}");
        }
        let elsewhere = post(&running, "/v1/lots", &of("south", GOOD)).json();
        assert_eq!(elsewhere["state"], "usable", "{case}");
        if !is_asked {
            continue;
        }
        assert_kept_aside(&running, &before);
        let found = passed(&running, "en");
        let told = found["passed_over"].as_array().expect("a list");
        let message = told.iter().find(|it| it["id"] == after["id"]).expect("it is told");
        assert!(message["message"].as_str().unwrap_or_default().contains(says), "{message}");
        let nobody = adjust(&running, &after, &json!({ "reason": "released" }));
        assert_eq!(nobody.status, 422, "{case}: {}", nobody.text());
        let named = json!({ "reason": "released", "confirmed": { "by": "ada" } });
        assert_eq!(adjust(&running, &after, &named).json()["state"], "usable", "{case}");
        // It is not asked again by what is done with them since.
        let counted = json!({ "reason": "recount", "change": 1 });
        assert_eq!(adjust(&running, &after, &counted).json()["state"], "usable", "{case}");
    }
}

/// No pack of a lot goes into a record in silence; whoever used one all the same takes no more of it.
fn assert_kept_aside(running: &Running, lot: &Value) {
    let mut body = treatment(lot);
    let silent = post(running, "/v1/treatments", &body);
    assert_eq!(silent.status, 422, "{}", silent.text());
    body["packs"][0]["used_although"] = json!("seen too late");
    let made = post(running, "/v1/treatments", &body).json();
    let codes = codes(&made);
    assert!(codes.contains(&"used_although_held".to_owned()), "{codes:?}");
    assert!(!codes.contains(&"pack_to_be_confirmed".to_owned()), "{codes:?}");
    puts_away(running, &made);
}

fn treatment(lot: &Value) -> Value {
    json!({
        "client_ref": "client-1", "artist_ref": "ada", "treatment": "brows",
        "performed_at": "2027-03-16T07:30:00Z", "packs": [{ "lot_id": lot["id"], "intact": true }],
    })
}

fn codes(made: &Value) -> Vec<String> {
    let flags = made["flags"].as_array().expect("flags").iter();
    flags.filter_map(|flag| flag["code"].as_str().map(str::to_owned)).collect()
}

/// What hurts may be the needle itself: the advice on a sign keeps it no longer.
fn puts_away(running: &Running, made: &Value) {
    let path = format!("/v1/treatments/{}/observations", made["id"].as_str().expect("an id"));
    let seen = post(running, &path, &json!({ "signs": ["pinpoint_bleeding"] })).json();
    assert!(!seen["steps"].to_string().contains("keep 0.30"), "{seen}");
}

/// What a notice or another day speaks against is kept out of a record as well, and what came to light
/// after the record puts the needle away.
#[test]
fn what_may_be_called_back_or_over_is_used_by_nobody_in_silence() {
    const GOOD: &str = "0.30 5RS LOT D7 EXP 2036-06 STERILE EO";
    for (case, then) in [("a notice", "D7-3"), ("a day", EARLIER)] {
        let running = Running::start();
        let lot = receive(&running, GOOD);
        let made = post(&running, "/v1/treatments", &treatment(&lot)).json();
        if case == "a notice" {
            let notice = json!({ "lot": then, "maker": "north", "reason": "a notice" });
            let kept = post(&running, "/v1/recalls", &notice);
            assert_eq!(kept.status, 201, "{}", kept.text());
        } else {
            receive(&running, then);
        }
        assert_eq!(now(&running, &lot)["state"], "held", "{case}");
        puts_away(&running, &made);
        assert_kept_aside(&running, &lot);
    }
}

/// A pack whose own label forbids its use is flagged where it was used all the same, and the others of
/// its lot wait until somebody who is named has looked at them.
#[test]
fn what_a_pack_says_of_itself_is_told_of_its_lot() {
    let running = Running::start();
    for said in ["NON STERILE", "STERILE EO package damaged"] {
        let lot = receive(&running, "0.30 5RS LOT D7 EXP 2036-06 STERILE EO");
        let mut body = treatment(&lot);
        body["packs"][0]["text"] = json!(format!("0.30 5RS LOT D7 EXP 2036-06 {said}"));
        assert_eq!(post(&running, "/v1/treatments", &body).status, 422, "{said}");
        assert_eq!(now(&running, &lot)["state"], "usable", "{said}");
        body["packs"][0]["used_although"] = json!("the only one");
        let made = post(&running, "/v1/treatments", &body).json();
        assert!(codes(&made).contains(&"used_although_forbidden".to_owned()), "{said}: {made}");
        assert_eq!(asks(&now(&running, &lot)), (json!(["code_held"]), json!(["hand"])), "{said}");
        let named = json!({ "reason": "released", "confirmed": { "by": "ada" } });
        assert_eq!(adjust(&running, &lot, &named).json()["state"], "usable", "{said}");
    }
}

/// Twelve are told, and how many more there are.
#[test]
fn lots_that_are_passed_over_are_counted() {
    let running = Running::start();
    for count in 1..=14_usize {
        receive(&running, &format!("0.30 5RS LOT H{count} STERILE EO"));
        let found = passed(&running, "en");
        let told = found["passed_over"].as_array().expect("a list").len();
        let more = found["passed_over_not_shown"].as_u64();
        assert_eq!(
            (told, more),
            (count.min(12), (12 < count).then(|| count as u64 - 12)),
            "{found}"
        );
    }
    let check = json!({
        "booking_ref": "b1", "treatment": "brows", "effect": "soft_shading",
        "starts_at": "2027-04-06T08:00:00Z", "born_on": "1990-06-15", "candidates": "drawer",
    });
    let made = post(&running, "/v1/appointment-checks", &check).json();
    assert_eq!(made["needles"]["passed_over_not_shown"], 2, "{made}");
}

/// Whoever is named and says the day of packs as they come, or of packs that are there, has said it.
#[test]
fn a_day_is_said_once() {
    for (by, is_asked) in [(Some("ada"), false), (None, true)] {
        for way in ["a lot", "a delivery"] {
            let running = Running::start();
            receive(&running, EARLIER);
            let mut said = json!({ "expires_on": "2036-06-30" });
            if let Some(by) = by {
                said["by"] = json!(by);
            }
            let mut body = of("north", DAY);
            body["confirmed"] = said;
            let lot = if way == "a lot" {
                post(&running, "/v1/lots", &body).json()
            } else {
                let done = post(&running, "/v1/deliveries", &json!({ "lots": [body] })).json();
                done["outcomes"][0]["lot"].clone()
            };
            assert_eq!(asks(&lot).0 == json!(["expiry_differs"]), is_asked, "{way}: {lot}");
            assert_eq!(now(&running, &lot)["state"] == "usable", !is_asked, "{way}: {lot}");
        }
    }
    let running = Running::start();
    receive(&running, EARLIER);
    let dateless = receive(&running, "0.30 5RS LOT D7 STERILE EO");
    let day = json!({ "expires_on": "2036-06-30" });
    let done = confirm(&running, &dateless, &day, "ada");
    assert_eq!((&done["outcome"], &done["open"]), (&json!("released"), &json!([])), "{done}");
}

/// Packs of which nobody told the code.
fn uncoded(running: &Running) -> Value {
    let confirmed = json!({
        "configuration": { "diameter_mm": 0.3, "count": 5, "grouping": "round_shader" },
        "expires_on": "2036-06-30", "sterile": true, "by": "ada",
    });
    let body = json!({ "packs": 5, "maker": "north", "confirmed": confirmed });
    let lot = post(running, "/v1/lots", &body).json();
    let looked = json!({ "reason": "released", "confirmed": { "by": "ada" } });
    adjust(running, &lot, &looked);
    lot
}

/// What comes to light by what is said is named as open, and who is to say it.
#[test]
fn what_holds_a_lot_is_named_as_open() {
    for (case, question) in [("hand", "hand"), ("day", "expiry"), ("notice", "lot")] {
        let running = Running::start();
        match case {
            "hand" => {
                let lot = receive(&running, DAY);
                adjust(&running, &lot, &json!({ "reason": "held" }));
            }
            "day" => drop(receive(&running, EARLIER)),
            _ => {
                let notice = json!({ "lot": "D7-3", "maker": "north", "reason": "in doubt" });
                post(&running, "/v1/recalls", &notice);
            }
        }
        let lot = uncoded(&running);
        assert_eq!(now(&running, &lot)["state"], "usable", "{case}");
        let done = confirm(&running, &lot, &json!({ "lot": "D7" }), "ada");
        assert_eq!(
            (&done["outcome"], &done["open"], &done["lot"]["questions"]),
            (&json!("still_held"), &json!([question]), &json!([question])),
            "{case}: {done}"
        );
    }
    for (language, says) in [("en", "release them with your name"), ("de", "mit Ihrem Namen frei")]
    {
        let running = Running::start();
        let lot = receive(&running, DAY);
        adjust(&running, &receive(&running, DAY), &json!({ "reason": "held" }));
        let path = format!("{}/adjustments", path(&lot));
        let nobody = Request::post(path, &json!({ "reason": "released" }));
        let refused = running.call(&nobody.header("Accept-Language", language)).json();
        assert!(refused.to_string().contains(says), "{refused}");
    }
}

/// What was held for a hold by hand alone goes with it, once somebody who is named takes it back.
#[test]
fn a_hold_by_hand_takes_along_what_it_held() {
    const BAN: &str = "0.30 5RS LOT D7 EXP 2036-06 STERILE EO DO NOT USE";
    let named = json!({ "reason": "released", "confirmed": { "by": "ada" } });
    let held = json!({ "reason": "held" });
    for (case, text, others, release, is_free) in [
        ("by name", DAY, &[][..], &named, true),
        ("by nobody", DAY, &[], &json!({ "reason": "released" }), false),
        ("another is held", DAY, &[(DAY, &held)], &named, false),
        ("another was held", DAY, &[(DAY, &named)], &named, true),
        ("another's label says it", DAY, &[(BAN, &held)], &named, false),
        ("another's label said it", DAY, &[(BAN, &named)], &named, false),
        ("its label said it", BAN, &[], &named, false),
    ] {
        let running = Running::start();
        let twin = receive(&running, DAY);
        let lot = receive(&running, text);
        assert_eq!(adjust(&running, &lot, &held).status, 201, "{case}");
        for (text, then) in others {
            let other = receive(&running, text);
            assert_eq!(adjust(&running, &other, then).status, 201, "{case}");
        }
        assert_eq!(asks(&now(&running, &twin)).0, json!(["code_held"]), "{case}");
        assert_eq!(adjust(&running, &lot, release).status, 201, "{case}");
        let want = if is_free { json!([]) } else { json!(["code_held"]) };
        assert_eq!(asks(&now(&running, &twin)).0, want, "{case}");
    }
}
