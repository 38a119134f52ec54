//! Label readings, over HTTP.

use etui_schema::label_readings::{FitnessReason, LabelReadings, Origin, ReadingOutcome};
use etui_schema::problem::FaultCode;
use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

fn post(body: &Value) -> Answer {
    Running::shared().call(&Request::post("/v1/label-readings", body))
}

fn read(labels: &Value) -> LabelReadings {
    let answer = post(&json!({ "as_of": "2026-11-25", "labels": labels }));
    assert_eq!(answer.status, 200, "{}", answer.text());
    serde_json::from_value(answer.json()).expect("readings")
}

#[test]
fn each_label_has_its_own_outcome_in_the_order_of_the_request() {
    let readings = read(&json!([
        { "text": "1003RL" },
        { "text": "103RL" },
        { "text": "7M1" },
        { "text": "1003RL 1005RS" },
        { "text": "\u{1f642}".to_owned() },
        { "text": "x".repeat(100_000) },
        { "symbol": "]d20109521234543213172708311023A114" },
        { "symbol": "]d20109521234543214172708311023A114" },
        { "text": "" },
    ]));
    let outcomes: Vec<_> = readings.readings.iter().map(|r| r.outcome.clone()).collect();
    assert_eq!(
        outcomes,
        [
            ReadingOutcome::Clear,
            ReadingOutcome::Ambiguous,
            ReadingOutcome::Incomplete,
            ReadingOutcome::Refused,
            ReadingOutcome::Refused,
            ReadingOutcome::Refused,
            ReadingOutcome::Incomplete,
            ReadingOutcome::Refused,
            ReadingOutcome::Refused,
        ]
    );
    for reading in &readings.readings[3..6] {
        let refusal = reading.refusal.as_ref().expect("a refusal says what to do");
        assert!(!refusal.message.is_empty() && !reading.fitness.usable);
    }
    let fault = &readings.readings[7].symbol.as_ref().expect("a symbol").faults[0];
    assert_eq!((fault.at, &*fault.code), (18, "incorrect_check_digit"));
}

#[test]
fn print_and_symbol_are_merged_and_a_conflict_holds_the_pack() {
    let readings = read(&json!([
        {
            "text": "1203RLST LOT 23A114 EXP 2027-08 STERILE R",
            "symbol": "]d20109521234543213172708001023A114",
        },
        { "text": "1203RLST LOT 23A114 EXP 2027-08", "symbol": "]d20109521234543213172612311023A114" },
    ]));
    let [agreed, torn] = readings.readings.as_slice() else { panic!("two readings") };
    assert!(agreed.conflicts.is_empty() && agreed.fitness.usable);
    assert_eq!(agreed.candidates[0].canonical, "0.35 3RL ST");
    let expiry = agreed.packet.expires_on.as_ref().expect("an expiry");
    assert_eq!(
        (expiry.value.to_string(), expiry.from.clone()),
        ("2027-08-31".into(), Origin::Symbol.into())
    );
    assert!(!torn.fitness.usable);
    assert!(torn.fitness.reasons.contains(&FitnessReason::LabelConflict.into()));
    assert_eq!(torn.conflicts[0].field, "expires_on");
    let earlier = torn.packet.expires_on.as_ref().expect("an expiry");
    assert_eq!(earlier.value.to_string(), "2026-12-31");
}

/// What nothing is known of is held, and the question is asked in the caller's
/// language.
#[test]
fn an_open_point_holds_the_pack_and_asks_in_the_language_of_the_caller() {
    let body = json!({ "as_of": "2026-11-25", "labels": [{ "text": "1003RL EXP 2027-08" }] });
    for (language, word) in [("en", "sterility"), ("de", "Sterilität")] {
        let request =
            Request::post("/v1/label-readings", &body).header("accept-language", language);
        let fitness = Running::shared().call(&request).json()["readings"][0]["fitness"].clone();
        assert_eq!(fitness["state"], "to_confirm", "{fitness}");
        assert_eq!(fitness["usable"], false, "{fitness}");
        let questions = fitness["questions"].as_array().expect("questions");
        assert_eq!(questions.len(), 1, "{fitness}");
        assert_eq!(questions[0]["reason"], "sterility_unknown", "{fitness}");
        assert!(questions[0]["text"].as_str().is_some_and(|t| t.contains(word)), "{fitness}");
    }
}

#[test]
fn arrays_are_there_even_if_empty_and_the_day_defaults_to_today() {
    let answer = post(&json!({ "labels": [{ "text": "RL" }] })).json();
    let reading = &answer["readings"][0];
    for name in ["candidates", "spans", "unread", "conflicts"] {
        assert!(reading[name].is_array(), "{name}");
    }
    assert_eq!(reading["candidates"][0]["missing"], json!(["diameter_mm", "count"]));
    assert!(reading["candidates"][0]["configuration"]["grouping"].is_string());
    assert!(answer["as_of"].is_string());
}

#[test]
fn use_by_with_a_month_follows_the_request() {
    for (rule, day) in [("end_of_month", "2027-08-31"), ("end_of_month_before", "2027-07-31")] {
        let answer = post(&json!({
            "labels": [{ "text": "1003RL USE BY 2027-08" }],
            "use_by_month": rule,
        }));
        let expiry = &answer.json()["readings"][0]["packet"]["expires_on"];
        assert_eq!(expiry["value"], *day, "{rule}");
    }
}

#[test]
fn a_label_of_nothing_and_a_batch_out_of_limits_are_refused() {
    let answer = post(&json!({ "labels": [{ "text": "1003RL" }, {}, {}] }));
    assert_eq!(answer.status, 422);
    let problem = answer.problem();
    let pointers: Vec<_> =
        problem.errors.iter().filter_map(|e| Some((e.pointer.as_str(), e.code.known()?))).collect();
    assert_eq!(pointers, [("#/labels/1", FaultCode::Missing), ("#/labels/2", FaultCode::Missing)]);
    for labels in [json!([]), json!(vec![json!({ "text": "1003RL" }); 1001])] {
        assert_eq!(post(&json!({ "labels": labels })).status, 422);
    }
    let unknown = post(&json!({ "labels": [{ "text": "1003RL", "colour": "red" }] }));
    assert_eq!(unknown.status, 422);
    let batch = json!(vec![json!({ "text": "1003RL" }); 1000]);
    assert_eq!(read(&batch).readings.len(), 1000);
}
