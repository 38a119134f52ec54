//! Aftercare plans and symptom reports, over HTTP.

use etui_schema::aftercare_plans::AftercarePlan;
use etui_schema::problem::FaultCode;
use etui_schema::symptom_reports::{SymptomQuestions, SymptomReport};
use etui_schema::vocabulary::aftercare::{Level, Shift};
use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

fn post(path: &str, body: &Value) -> Answer {
    Running::shared().call(&Request::post(path, body))
}

fn plan_request() -> Value {
    json!({
        "treatment": "brows",
        "performed_at": "2027-03-26T14:00:00+01:00",
        "zone": "Europe/Berlin",
        "skin": { "age_years": 30 },
    })
}

fn plan(body: &Value) -> AftercarePlan {
    let answer = post("/v1/aftercare-plans", body);
    assert_eq!(answer.status, 200, "{}", answer.text());
    serde_json::from_value(answer.json()).expect("a plan")
}

fn report(body: &Value) -> SymptomReport {
    let answer = post("/v1/symptom-reports", body);
    assert_eq!(answer.status, 200, "{}", answer.text());
    serde_json::from_value(answer.json()).expect("a report")
}

#[test]
fn a_message_at_nine_is_at_nine_across_the_change() {
    let plan = plan(&plan_request());
    let day_2 = plan.steps.iter().find(|step| step.key == "brows_day_2_3").expect("a step");
    assert_eq!(day_2.local, "2027-03-28T09:00:00+02:00");
    assert_eq!(day_2.at.to_string(), "2027-03-28T07:00:00.000Z");
    assert_eq!(plan.milestones.touch_up_earliest.to_string(), "2027-04-23");
    assert_eq!(plan.milestones.donation_date.to_string(), "2027-07-26");
    for step in &plan.steps {
        assert!(step.text.chars().count() <= 320, "{}", step.key);
        assert!(step.at < step.latest && !step.basis.is_empty(), "{}", step.key);
    }
}

#[test]
fn quiet_hours_closed_days_and_the_gap_are_kept_and_said() {
    let mut body = plan_request();
    body["message_time"] = json!("02:30");
    body["closed_days"] = json!(["friday", "saturday", "2027-04-25"]);
    body["opening_hours"] = json!({ "from": "09:30", "until": "18:00" });
    let gap = plan(&body);
    let day_2 = gap.steps.iter().find(|step| step.key == "brows_day_2_3").expect("a step");
    assert_eq!(day_2.local, "2027-03-28T03:30:00+02:00");
    assert_eq!(day_2.shifts, [Shift::Gap]);
    let suggested = gap.milestones.review_window.suggested.expect("a day");
    assert_eq!(suggested.local, "2027-04-26T09:30:00+02:00"); // Friday 23rd, then closed to Sunday
    assert_eq!(suggested.shifts, [Shift::ClosedDay]);
    body["quiet_hours"] = json!({ "from": "21:00", "until": "08:00" });
    let quiet = plan(&body);
    for step in quiet.steps {
        let hour: u8 = step.local[11..13].parse().expect("an hour");
        assert!((8..21).contains(&hour), "{} at {}", step.key, step.local);
    }
}

#[test]
fn texts_follow_the_language_asked_for() {
    let ask = |language| {
        let sent = Request::post("/v1/aftercare-plans", &plan_request());
        Running::shared().call(&sent.header("Accept-Language", language)).text()
    };
    assert!(ask("de-AT, en;q=0.5").contains("Ihre Brauen"));
    assert!(ask("en").contains("Your brows"));
}

#[test]
fn the_country_brings_its_numbers_and_no_language_does() {
    let first = |country: Option<&str>| {
        let mut body = plan_request();
        if let Some(country) = country {
            body["country"] = json!(country);
        }
        let plan = plan(&body);
        let first = plan.steps.iter().find(|step| step.message).expect("a message").clone();
        let assumed = plan.assumed.iter().any(|taken| taken.pointer == "#/country");
        (first.key, first.text, assumed, plan.milestones.donation_dated)
    };
    // NHS; Directive (EU) 2018/1972, article 109; general knowledge
    for (country, number, dated) in [
        ("GB", "999 or 112", true),
        ("AT", "112", false),
        ("US", "911", true),
        ("NZ", "111", false),
    ] {
        let (key, text, assumed, donation) = first(Some(country));
        assert_eq!(key, "red_flags_brows");
        assert!(text.contains(number) && !assumed, "{country}: {text}");
        assert_eq!(donation, dated, "{country}");
    }
    let (_, text, assumed, donation) = first(None);
    assert!(text.contains("Your local emergency number") && assumed && !donation, "{text}");
    let mut wrong = plan_request();
    wrong["country"] = json!("Austria");
    assert_eq!(post("/v1/aftercare-plans", &wrong).problem().errors[0].pointer, "#/country");
}

#[test]
fn what_was_not_told_is_asked() {
    let empty = report(&report_request(&json!([])));
    assert!(8 < empty.ask.len() && empty.level == Level::Artist, "{empty:?}");
    let half = report(&report_request(&json!([{ "kind": "pain" }])));
    let keys: Vec<&str> = half.ask.iter().map(|one| one.key.as_str()).collect();
    assert_eq!(keys, ["ask_how", "ask_fever"]);
    let told = json!([{ "kind": "pain", "severity": "mild", "trend": "same" }]);
    let mut told = report_request(&told);
    assert_eq!(report(&told).ask[0].key, "ask_fever");
    told["temperature_c"] = json!(36.8);
    assert!(report(&told).ask.is_empty());
}

#[test]
fn the_same_request_gives_the_same_bytes() {
    let (one, two) = (
        post("/v1/aftercare-plans", &plan_request()),
        post("/v1/aftercare-plans", &plan_request()),
    );
    assert_eq!(one.body, two.body);
}

#[test]
fn bad_plans_name_every_fault() {
    let mut body = plan_request();
    body["quiet_hours"] = json!({ "from": "22:00", "until": "22:00" });
    body["closed_days"] =
        json!(["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]);
    body["opening_hours"] = json!({ "from": "18:00", "until": "09:00" });
    let problem = post("/v1/aftercare-plans", &body).problem();
    let found: Vec<&str> = problem.errors.iter().map(|fault| fault.pointer.as_str()).collect();
    assert_eq!(found, ["#/quiet_hours", "#/opening_hours", "#/closed_days"]);
    assert!(problem.errors[0].message.contains("24 hours"), "{problem}");

    let mut body = plan_request();
    body["zone"] = json!("Europe/Atlantis");
    body["message_time"] = json!("25:00");
    body["closed_days"] = json!(["caturday"]);
    let problem = post("/v1/aftercare-plans", &body).problem();
    for (pointer, code) in
        [("#/message_time", FaultCode::WrongFormat), ("#/closed_days/0", FaultCode::WrongFormat)]
    {
        let found = problem.errors.iter().any(|f| f.pointer == pointer && f.code == code);
        assert!(found, "{pointer}: {problem}");
    }
    let mut body = plan_request();
    body["zone"] = json!("Europe/Atlantis");
    let problem = post("/v1/aftercare-plans", &body).problem();
    assert_eq!(problem.errors[0].pointer, "#/zone", "{problem}");
    assert!(problem.errors[0].message.contains("IANA"), "{problem}");
}

fn report_request(symptoms: &Value) -> Value {
    json!({
        "treatment": "lips",
        "performed_at": "2027-03-18T14:00:00+01:00",
        "reported_at": "2027-03-20T09:00:00+01:00",
        "zone": "Europe/Berlin",
        "symptoms": symptoms,
        "country": "DE",
    })
}

#[test]
fn reports_are_sorted_by_urgency() {
    for (symptoms, want) in [
        (json!([]), Level::Artist), // nothing told reassures nobody
        (json!([{ "kind": "swelling", "severity": "moderate", "trend": "same" }]), Level::Expected),
        (json!([{ "kind": "swelling", "severity": "moderate", "trend": "worse" }]), Level::Artist),
        (json!([{ "kind": "itching", "severity": "mild" }]), Level::Artist),
        (json!([{ "kind": "nodules", "severity": "mild" }]), Level::Doctor),
        (json!([{ "kind": "blisters", "severity": "mild", "trend": "better" }]), Level::SameDay),
        (
            json!([{ "kind": "heat", "trend": "worse" }, { "kind": "throbbing", "trend": "worse" }]),
            Level::SameDay,
        ),
        (
            json!([{ "kind": "flaking" }, { "kind": "wheeze", "severity": "mild" }]),
            Level::Emergency,
        ),
    ] {
        let report = report(&report_request(&symptoms));
        assert_eq!(report.level, want, "{symptoms}");
        assert!(!report.do_now.is_empty() && !report.findings.is_empty(), "{symptoms}");
        assert_eq!(report.call.is_some(), Level::Expected < want, "{symptoms}");
    }
    let report = report(&report_request(&json!([{ "kind": "wheeze" }])));
    assert_eq!(report.call.as_deref(), Some("112"));
}

#[test]
fn the_colour_of_the_skin_changes_nothing() {
    let symptoms = json!([{ "kind": "swelling", "severity": "severe", "trend": "worse" }]);
    let with = |skin: Value| {
        let mut body = report_request(&symptoms);
        body["skin"] = skin;
        post("/v1/symptom-reports", &body).body
    };
    let light = with(json!({ "lab": { "l": 67.9, "a": 8.0, "b": 15.0 } })); // ITA 50°
    let dark = with(json!({ "lab": { "l": 37.4, "a": 9.0, "b": 15.0 } })); // ITA -40°
    assert_eq!(light, dark);
    assert_eq!(light, post("/v1/symptom-reports", &report_request(&symptoms)).body);
}

#[test]
fn bad_reports_name_every_fault() {
    let mut body =
        report_request(&json!([{ "kind": "heat" }, { "kind": "heat", "began_on_day": 9 }]));
    body["reported_at"] = json!("2027-03-18T13:59:59+01:00");
    let problem = post("/v1/symptom-reports", &body).problem();
    let found: Vec<&str> = problem.errors.iter().map(|fault| fault.pointer.as_str()).collect();
    assert_eq!(found, ["#/reported_at", "#/symptoms/1/kind", "#/symptoms/1/began_on_day"]);
    let mut body = report_request(&json!([{ "kind": "sparkles", "trend": "sideways" }]));
    body["temperature_c"] = json!(98.6);
    let problem = post("/v1/symptom-reports", &body).problem();
    for pointer in ["#/symptoms/0/kind", "#/symptoms/0/trend", "#/temperature_c"] {
        assert!(problem.errors.iter().any(|f| f.pointer == pointer), "{pointer}: {problem}");
    }
}

#[test]
fn questions_begin_with_what_cannot_wait() {
    let asked = Running::shared().call(&Request::get("/v1/symptom-questions?treatment=eyeliner"));
    let asked: SymptomQuestions = serde_json::from_value(asked.json()).expect("questions");
    assert_eq!(asked.questions[0].key, "ask_breathing");
    assert!(asked.questions.iter().any(|question| question.key == "ask_eye"));
}

/// What a check was told of the client counts after the treatment too, also where it is not kept.
#[test]
fn what_the_check_was_told_is_in_the_plan_of_its_treatment() {
    let service = Running::start();
    let made = |path: &str, body: &Value| {
        let answer = service.call(&Request::post(path, body));
        assert_eq!(answer.status, 201, "{path}: {}", answer.text());
        answer.json()
    };
    assert_eq!(service.call(&Request::put("/v1/clients/c1", &json!({}))).status, 201);
    let lot = json!({ "text": "0.30 3RS LOT L1 EXP 2029-06-30 STERILE EO", "packs": 5 });
    let lot = made("/v1/lots", &lot)["id"].clone();
    let steps = |check: Option<&Value>| {
        let body = json!({
            "client_ref": "c1", "artist_ref": "a1", "treatment": "lips", "check_id": check,
            "performed_at": "2027-03-15T09:00:00Z", "packs": [{ "lot_id": lot, "intact": true }],
        });
        let mut body = body;
        if check.is_none() {
            body.as_object_mut().expect("an object").remove("check_id");
        }
        let id = made("/v1/treatments", &body)["id"].clone();
        let path = format!("/v1/treatments/{}/aftercare", id.as_str().expect("an id"));
        let plan = service.call(&Request::get(path)).json();
        plan["steps"].as_array().expect("steps").iter().any(|step| step["key"] == "cold_sore_watch")
    };
    assert!(!steps(None));
    let check = json!({
        "booking_ref": "b1", "client_ref": "c1", "treatment": "lips", "effect": "soft_shading",
        "starts_at": "2027-04-03T09:00:00Z", "born_on": "1990-05-02",
        "answers": { "cold_sore_history": true },
    });
    let check = made("/v1/appointment-checks", &check)["id"].clone();
    // What was told for good is kept with the client, and counts without the check too.
    assert!(steps(Some(&check)) && steps(None));
}
