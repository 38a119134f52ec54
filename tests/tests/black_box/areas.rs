//! What was told of one area stands beside what was told of another: our own rule, since nothing
//! published says how a studio keeps two answers.

use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

use super::packs::healthy;

const CLIENT: &str = "/v1/clients/client-1";

fn check(running: &Running, treatment: &str, told: &Value) -> Value {
    let body = json!({
        "booking_ref": format!("booking-{treatment}"), "client_ref": "client-1",
        "treatment": treatment, "effect": "soft_shading", "starts_at": "2027-04-06T08:00:00Z",
        "born_on": "1990-06-15", "candidates": "usual", "answers": healthy(running, treatment, told),
    });
    let answer = running.call(&Request::post("/v1/appointment-checks", &body));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()
}

#[test]
fn what_was_told_of_the_lips_is_not_forgotten_over_the_brows() {
    let running = Running::start();
    let spot = json!({ "skin_in_area": ["changing_spot"] });
    assert_eq!(check(&running, "lips", &spot)["verdict"], "refer");
    check(&running, "brows", &json!({ "skin_in_area": ["eczema"] }));

    let read = || running.call(&Request::get(CLIENT));
    let of = |client: &Value| {
        let others = client["other_answers"].as_array().cloned().unwrap_or_default();
        let others = others.iter().map(|one| (one["treatment"].clone(), one["answer"].clone()));
        let first = &client["answered"]["skin_in_area"]["treatment"];
        let first = (first.clone(), client["answers"]["skin_in_area"].clone());
        (first, others.collect::<Vec<_>>())
    };
    let (brows, lips) = (json!("brows"), json!("lips"));
    let kept = read();
    assert_eq!(
        of(&kept.json()),
        ((brows.clone(), json!(["eczema"])), vec![(lips.clone(), json!(["changing_spot"]))])
    );
    // A healthy form for the lips does not take it back, with or without a form for the brows.
    assert_eq!(check(&running, "lips", &json!({}))["verdict"], "refer");
    let tag = |answer: &etui_tests::wire::Answer| answer.header("etag").expect("a tag").to_owned();
    let put = |body: &Value| {
        let current = tag(&read());
        running.call(&Request::put(CLIENT, body).header("If-Match", current))
    };
    let form = json!({
        "born_on": "1990-06-15", "answers": { "skin_in_area": ["none_of_these"] },
        "given": { "treatment": "brows" },
    });
    let kept = put(&form);
    assert_eq!(kept.status, 200, "{}", kept.text());
    assert_eq!(of(&kept.json()).1, [(lips.clone(), json!(["changing_spot"]))]);
    assert_eq!(check(&running, "lips", &json!({}))["verdict"], "refer");

    // What was read is taken as it was read, and nothing else under that name.
    let kept = read().json();
    let again = put(&kept);
    assert_eq!(again.status, 200, "{}", again.text());
    assert_eq!(of(&again.json()), of(&kept));
    let mut other = again.json();
    other["other_answers"] = json!([]);
    let refused = put(&other);
    assert_eq!(refused.status, 422, "{}", refused.text());
    assert_eq!(refused.json()["errors"][0]["pointer"], "#/other_answers");

    // It is put right by an answer for the lips.
    let right = json!({
        "answers": { "skin_in_area": ["none_of_these"] }, "given": { "treatment": "lips" },
    });
    let current = tag(&read());
    let kept = running.call(&Request::merge(CLIENT, &right).header("If-Match", current));
    assert_eq!(kept.status, 200, "{}", kept.text());
    let none = json!(["none_of_these"]);
    assert_eq!(of(&kept.json()), ((lips, none.clone()), vec![(brows, none)]));
    assert_eq!(check(&running, "lips", &json!({}))["verdict"], "proceed_with_conditions");
}

/// Under one reference there is one date of birth, whichever check told it first.
#[test]
fn a_child_is_not_grown_up_by_the_next_check() {
    let running = Running::start();
    let ask = |born_on: &str| {
        let body = json!({
            "booking_ref": "booking-1", "client_ref": "client-2", "treatment": "brows",
            "effect": "soft_shading", "starts_at": "2027-04-06T08:00:00Z", "born_on": born_on,
            "candidates": "usual", "answers": healthy(&running, "brows", &json!({})),
        });
        running.call(&Request::post("/v1/appointment-checks", &body))
    };
    let first = ask("2010-06-15");
    assert_eq!(first.status, 201, "{}", first.text());
    let second = ask("1990-06-15");
    assert_eq!(second.status, 422, "{}", second.text());
    let fault = &second.json()["errors"][0];
    assert_eq!((&fault["pointer"], &fault["code"]), (&json!("#/born_on"), &json!("contradiction")));
    assert_eq!(ask("2010-06-15").json()["verdict"], first.json()["verdict"]);
}

/// What was told for no treatment may be of any, and is taken away where it is seen.
#[test]
fn what_was_told_for_no_treatment_can_be_put_right() {
    let asked = Asked::new();
    let spot = json!({ "born_on": "1990-06-15", "answers": { "skin_in_area": ["changing_spot"] } });
    assert_eq!(asked.put(&spot).0, 200);
    let none = json!({
        "answers": { "skin_in_area": ["none_of_these"] }, "given": { "treatment": "brows" },
    });
    assert_eq!(asked.patch(&none).0, 200);
    let held = asked.rules("brows", &json!({}));
    assert_eq!(held.0, "refer", "it may be of the brows: {held:?}");
    assert_eq!(
        asked.patch(&json!({ "other_answers": [{ "question": "pregnant", "answer": false }] })).0,
        422
    );
    let (status, kept) = asked.patch(&json!({ "other_answers": [] }));
    assert_eq!(status, 200, "{kept}");
    assert!(kept.get("other_answers").is_none(), "{kept}");
    assert_eq!(asked.rules("brows", &json!({})).0, "proceed_with_conditions");
}

/// A client, and what is asked of her.
struct Asked {
    running: Running,
}

impl Asked {
    fn new() -> Self {
        let running = Running::start();
        let born = json!({ "born_on": "1990-06-15" });
        assert_eq!(running.call(&Request::put(CLIENT, &born)).status, 201);
        Self { running }
    }

    fn send(&self, request: Request) -> (u16, Value) {
        let answer = self.running.call(&request.header("If-Match", "*"));
        (answer.status, answer.json())
    }

    fn read(&self) -> Value {
        self.running.call(&Request::get(CLIENT)).json()
    }

    fn put(&self, body: &Value) -> (u16, Value) {
        self.send(Request::put(CLIENT, body))
    }

    fn patch(&self, body: &Value) -> (u16, Value) {
        self.send(Request::merge(CLIENT, body))
    }

    fn rules(&self, treatment: &str, told: &Value) -> (String, Vec<String>) {
        let found = check(&self.running, treatment, told);
        let rules = found["findings"].as_array().expect("findings").iter();
        let rules = rules.map(|one| one["rule"].as_str().expect("a rule").to_owned()).collect();
        (found["verdict"].as_str().expect("a verdict").to_owned(), rules)
    }

    /// A form without an answer to a question.
    fn silent(&self, treatment: &str, question: &str) -> Value {
        let mut told = healthy(&self.running, treatment, &json!({}));
        told.as_object_mut().expect("answers").remove(question);
        let body = json!({
            "booking_ref": "booking-1", "client_ref": "client-1", "treatment": treatment,
            "effect": "soft_shading", "starts_at": "2027-04-06T08:00:00Z", "born_on": "1990-06-15",
            "candidates": "usual", "answers": told,
        });
        let answer = self.running.call(&Request::post("/v1/appointment-checks", &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
        answer.json()
    }
}

/// Told again without its end it goes on, and an end that is not believed is not kept.
#[test]
fn what_is_taken_again_has_no_end_of_before() {
    let asked = Asked::new();
    let before = json!({
        "born_on": "1990-06-15", "given": { "treatment": "brows", "on": "2027-02-20" },
        "answers": { "warfarin": true, "warfarin_ended_on": "2027-01-01" },
    });
    assert_eq!(asked.put(&before).0, 200);
    let again = asked.rules("brows", &json!({ "warfarin": true }));
    assert_eq!(again.0, "refer", "{again:?}");
    let calm = asked.rules("brows", &json!({}));
    assert_eq!(calm, again, "a calm form right after");
    // The end that was not believed.
    asked.rules("brows", &json!({ "warfarin": true, "warfarin_ended_on": "2027-01-01" }));
    assert_eq!(asked.rules("lips", &json!({})).0, "refer");
    let kept = asked.read();
    assert_eq!(kept["answers"]["warfarin"], true, "{kept}");
    assert!(kept["answers"].get("warfarin_ended_on").is_none(), "{kept}");
}

/// What counts wherever it was told counts beside a calm answer for this area as it does without.
#[test]
fn a_calm_answer_of_one_area_does_not_silence_another() {
    let asked = Asked::new();
    let calm = json!({
        "born_on": "1990-06-15", "given": { "treatment": "brows" },
        "answers": { "recent_procedures": ["none_of_these"] },
    });
    assert_eq!(asked.put(&calm).0, 200);
    let filler = json!({ "recent_procedures": ["filler"], "filler_on": "2027-03-14" });
    let told = asked.rules("lips", &filler);
    assert!(told.1.contains(&"filler".to_owned()), "{told:?}");
    let found = asked.silent("brows", "recent_procedures");
    assert!(!["proceed", "proceed_with_conditions"].contains(&found["verdict"].as_str().unwrap()));
}

/// What was told later is not taken back by what was told before it, for whichever area.
#[test]
fn an_older_word_takes_nothing_back() {
    let asked = Asked::new();
    let chemotherapy = json!({ "cancer_treatment": ["chemotherapy_now"] });
    let held = asked.rules("brows", &chemotherapy).0;
    let older = json!({
        "answers": { "cancer_treatment": ["none_of_these"] },
        "answered": { "cancer_treatment": { "on": "2027-02-20", "treatment": "lips" } },
    });
    let (status, kept) = asked.patch(&older);
    assert_eq!(status, 200, "{kept}");
    for treatment in ["brows", "lips"] {
        assert_eq!(asked.rules(treatment, &json!({})).0, held, "{treatment}: {kept}");
    }
}

/// A date of birth that a check told goes by another date alone.
#[test]
fn a_date_of_birth_is_not_left_out() {
    let running = Running::start();
    let path = "/v1/clients/client-3";
    let body = json!({
        "booking_ref": "booking-1", "client_ref": "client-3", "treatment": "brows",
        "effect": "soft_shading", "starts_at": "2027-04-06T08:00:00Z", "born_on": "2010-06-15",
        "candidates": "usual", "answers": {},
    });
    assert_eq!(running.call(&Request::post("/v1/appointment-checks", &body)).status, 201);
    let bare = Request::put(path, &json!({ "zone": "Europe/Berlin" })).header("If-Match", "*");
    assert_eq!(running.call(&bare).json()["born_on"], "2010-06-15");
    let null = Request::merge(path, &json!({ "born_on": null })).header("If-Match", "*");
    assert_eq!(running.call(&null).json()["born_on"], "2010-06-15");
    let right = Request::merge(path, &json!({ "born_on": "2000-06-15" })).header("If-Match", "*");
    assert_eq!(running.call(&right).json()["born_on"], "2000-06-15");
}

/// What followed an answer for the lips stands with it, and the record takes what it gave.
#[test]
fn what_followed_an_answer_goes_with_it() {
    let asked = Asked::new();
    let scar = json!({
        "born_on": "1990-06-15", "given": { "treatment": "lips" },
        "answers": { "skin_in_area": ["scar"], "scar_since": "2020-08-01",
                     "scar_state": "past_its_edge" },
    });
    assert_eq!(asked.put(&scar).0, 200);
    let lips = asked.rules("lips", &json!({}));
    assert_eq!(lips.0, "refer", "{lips:?}");
    let calm = json!({
        "answers": { "skin_in_area": ["none_of_these"] }, "given": { "treatment": "brows" },
    });
    let (status, kept) = asked.patch(&calm);
    assert_eq!(status, 200, "{kept}");
    let others: Vec<&str> = kept["other_answers"]
        .as_array()
        .expect("others")
        .iter()
        .map(|one| one["question"].as_str().expect("a question"))
        .collect();
    assert_eq!(others, ["scar_since", "scar_state", "skin_in_area"], "{kept}");
    assert_eq!(asked.rules("lips", &json!({})), lips);
    assert_eq!(asked.rules("brows", &json!({})).0, "refer", "who grows one scar may grow another");
    // A check that displaces it leaves a record that is taken as it was given.
    asked.rules("lips", &json!({ "skin_in_area": ["changing_spot"] }));
    let kept = asked.read();
    assert_eq!(asked.put(&kept).0, 200, "{kept}");
    assert_eq!(asked.patch(&json!({ "answers": { "pregnant": true } })).0, 200);
}

/// Skin that was seen at a visit was seen, also where the next check says nothing of it.
#[test]
fn skin_that_was_seen_is_kept() {
    let asked = Asked::new();
    // Nothing, or another thing, that was told of it first does not keep the next from being kept.
    for first in [json!({}), json!({ "oiliness": "dry" })] {
        let body = json!({
            "booking_ref": "booking-1", "client_ref": "client-1", "treatment": "brows",
            "effect": "soft_shading", "starts_at": "2027-04-06T08:00:00Z", "born_on": "1990-06-15",
            "candidates": "usual", "answers": {}, "skin": first,
        });
        let answer = asked.running.call(&Request::post("/v1/appointment-checks", &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
    }
    let body = json!({
        "booking_ref": "booking-1", "client_ref": "client-1", "treatment": "brows",
        "effect": "soft_shading", "starts_at": "2027-04-06T08:00:00Z", "born_on": "1990-06-15",
        "candidates": "usual", "answers": healthy(&asked.running, "brows", &json!({})),
        "skin": { "phototype": "VI", "signs": ["scarred"] },
    });
    let seen = asked.running.call(&Request::post("/v1/appointment-checks", &body)).json();
    let rules = |check: &Value| check["findings"].to_string();
    assert!(rules(&seen).contains("scar_seen_not_told"), "{seen}");
    let after = check(&asked.running, "brows", &json!({}));
    assert_eq!(after["verdict"], seen["verdict"]);
    let older = json!({ "skin": { "phototype": "II" }, "given": { "on": "2027-02-01" } });
    assert_eq!(asked.patch(&older).0, 422);
}

/// A fact that is told twice is kept as well as one that is told once.
#[test]
fn told_by_a_check_too_it_stays() {
    let asked = Asked::new();
    let told = json!({
        "born_on": "1990-06-15", "answers": { "warfarin": true }, "given": { "treatment": "brows" },
    });
    assert_eq!(asked.put(&told).0, 200);
    assert_eq!(asked.rules("brows", &json!({ "warfarin": true })).0, "refer");
    assert_eq!(asked.put(&json!({ "born_on": "1990-06-15", "zone": "Europe/Berlin" })).0, 200);
    assert_eq!(asked.rules("brows", &json!({})).0, "refer");
    // A cold sore that was told says that she has them, also when it is over.
    asked.rules("lips", &json!({ "cold_sore_active": true }));
    let healed =
        json!({ "answers": { "cold_sore_active": false }, "given": { "treatment": "lips" } });
    assert_eq!(asked.patch(&healed).0, 200);
    let found = asked.rules("lips", &json!({}));
    assert!(found.1.contains(&"cold_sore_history".to_owned()), "{found:?}");
}
