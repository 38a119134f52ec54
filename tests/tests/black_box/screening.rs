//! Screening over HTTP: the questions as a form gets them, and what comes of
//! their answers.

use etui_schema::answers::Answers;
use etui_schema::problem::{ErrorCode, Fault, FaultCode};
use etui_schema::screening_questions::{ScreeningQuestion, ScreeningQuestions};
use etui_schema::skin_assessments::SkinAssessment;
use etui_schema::skin_typing::{PhototypeAnswer, SkinColour};
use etui_schema::vocabulary::{Phototype, Treatment, Verdict};
use etui_tests::running::{Running, with_token};
use etui_tests::wire::{Answer, Request};
use serde_json::{Map, Value, json};

const ASSESSMENTS: &str = "/v1/skin-assessments";
/// The shared service's clock stands on 16 March 2027.
const ON: &str = "2027-04-06";

fn send(request: &Request) -> Answer {
    let running = Running::shared();
    running.call(&with_token(request, running.token()))
}

fn questions(treatment: &str, on: &str) -> ScreeningQuestions {
    let answer =
        send(&Request::get(format!("/v1/screening-questions?treatment={treatment}&on={on}")));
    assert_eq!(answer.status, 200, "{}", answer.text());
    answer.read()
}

fn clear(asked: &ScreeningQuestions) -> Answers {
    let first = asked.questions.iter().filter(|question| question.ask_if.is_none());
    first
        .filter_map(|question| Some((question.id.clone(), question.clear_answer.clone()?)))
        .collect()
}

/// A body on top of the clear answers; `members` may replace whole members.
fn body(treatment: &str, answers: &Value, members: &Value) -> Value {
    let clear = serde_json::to_value(clear(&questions(treatment, ON))).expect("JSON");
    let mut all = clear.as_object().expect("an object").clone();
    all.extend(answers.as_object().cloned().unwrap_or_default());
    let mut body = Map::new();
    body.insert("treatment".into(), json!(treatment));
    body.insert("on".into(), json!(ON));
    body.insert("born_on".into(), json!("1990-06-15"));
    body.insert("answers".into(), Value::Object(all));
    body.extend(members.as_object().cloned().unwrap_or_default());
    Value::Object(body)
}

fn assess(treatment: &str, answers: &Value, members: &Value) -> SkinAssessment {
    let answer = send(&Request::post(ASSESSMENTS, &body(treatment, answers, members)));
    assert_eq!(answer.status, 200, "{}", answer.text());
    answer.read()
}

/// Pointers and codes of what is refused.
fn refused(answers: &Value, members: &Value) -> Vec<(String, FaultCode)> {
    let answer = send(&Request::post(ASSESSMENTS, &body("lips", answers, members)));
    assert_eq!(answer.status, 422, "{}", answer.text());
    let problem = answer.problem();
    assert_eq!(problem.code, ErrorCode::InvalidValue);
    let code = |fault: Fault| Some((fault.pointer, fault.code.known()?));
    problem.errors.into_iter().filter_map(code).collect()
}

#[test]
fn a_form_can_be_drawn_from_the_questions_and_a_healthy_client_may_come() {
    for treatment in Treatment::ALL {
        let asked = questions(treatment.as_str(), ON);
        let base = asked.questions.iter().filter(|question| question.ask_if.is_none()).count();
        assert!((15..=26).contains(&base), "{treatment}: {base}");
        let has = |id: &str| asked.questions.iter().any(|question| question.id == id);
        assert!(has("pregnant") && has("warfarin") && !has("on_the_day"), "{treatment}");
        for question in &asked.questions {
            let property = &asked.answers_schema["properties"][&question.id];
            assert_eq!(property["title"], question.text, "{}", question.id);
            assert!(!question.why.is_empty());
        }
        let found = assess(treatment.as_str(), &json!({}), &json!({}));
        assert_eq!(found.verdict, Verdict::Proceed, "{treatment}");
        assert_eq!(found.score.band.as_deref(), Some("low"));
        assert_eq!(found.rulebook.digest.len(), 64);
    }
    let today = questions("brows", "2027-03-16");
    assert!(today.questions.iter().any(|question| question.id == "on_the_day"));
}

#[test]
fn questions_speak_the_language_asked_for() {
    let request = Request::get("/v1/screening-questions?treatment=brows")
        .header("Accept-Language", "de-AT, en;q=0.5");
    let answer = send(&request);
    let asked: ScreeningQuestions = answer.read();
    let pregnant = |question: &&ScreeningQuestion| question.id == "pregnant";
    assert_eq!(
        asked.questions.iter().find(pregnant).expect("it is asked").text,
        "Falls das auf Sie zutreffen kann: Sind Sie schwanger?"
    );
    assert_eq!(asked.on.to_string(), "2027-03-16", "today unless a day is named");
    let tag = answer.header("ETag").expect("a tag").to_owned();
    assert_eq!(send(&request.header("If-None-Match", tag)).status, 304);
}

/// Tattooing of Minors Act 1969; a birthday counts from its first hour.
#[test]
fn eighteen_on_the_day_is_allowed_and_a_day_before_is_not() {
    let born = |born_on: &str| assess("brows", &json!({}), &json!({ "born_on": born_on }));
    assert_eq!(born("2009-04-06").verdict, Verdict::Proceed);
    let minor = born("2009-04-07");
    assert_eq!(minor.verdict, Verdict::Decline);
    assert_eq!(minor.findings[0].rule, "under_18");
    assert!(!minor.findings[0].law, "no country was told: it is the studio's own rule");
    let wish =
        json!([{ "rule": "under_18", "reason": "the parents agree", "by_ref": "artist-07" }]);
    let members = json!({ "born_on": "2009-04-07", "overrides": wish });
    assert_eq!(
        refused(&json!({}), &members),
        [("#/overrides/0/rule".into(), FaultCode::NotAllowed)]
    );
}

#[test]
fn a_booking_of_lips_gets_conditions_with_their_days() {
    let found = assess(
        "lips",
        &json!({ "cold_sore_history": true, "recent_on_area": ["acids"] }),
        &json!({ "skin": { "phototype": "III" } }),
    );
    assert_eq!(found.verdict, Verdict::ProceedWithConditions);
    let acids =
        found.findings.iter().find(|finding| finding.rule == "acids_on_area").expect("it spoke");
    assert_eq!(acids.due.expect("a day").to_string(), "2027-03-23");
    let text = acids.condition.as_deref().expect("a sentence");
    assert!(text.contains("23 March 2027"), "{text}");
    let cold_sore = found
        .findings
        .iter()
        .find(|finding| finding.rule == "cold_sore_history")
        .expect("it spoke");
    assert!(cold_sore.condition.as_deref().expect("a sentence").contains("Ask your doctor"));
    assert!(found.findings.iter().all(|finding| !finding.evidence.is_empty()));
    assert_eq!(
        found.score.points,
        found.score.contributions.iter().map(|given| given.counted).sum::<u16>()
    );
}

#[test]
fn holds_combine_by_the_latest_and_a_reason_takes_one_away() {
    let answers = json!({
        "isotretinoin": "stopped", "isotretinoin_stopped_on": "2026-12-31",
        "recent_procedures": ["filler"], "filler_on": "2027-03-15",
    });
    let found = assess("lips", &answers, &json!({}));
    assert_eq!(
        (found.verdict, found.hold_until.map(|day| day.to_string())),
        (Verdict::Hold.into(), Some("2027-06-30".into()))
    );
    let wish = json!([{ "rule": "isotretinoin_recent", "reason": "skin doctor agreed on 1 March", "by_ref": "artist-07" }]);
    let found = assess("lips", &answers, &json!({ "overrides": wish }));
    assert_eq!(
        (found.verdict, found.hold_until.map(|day| day.to_string())),
        (Verdict::Hold.into(), Some("2027-04-12".into()))
    );
    let overridden = found
        .findings
        .iter()
        .find(|finding| finding.rule == "isotretinoin_recent")
        .expect("it stays");
    assert_eq!(
        overridden.overridden.as_ref().expect("a reason").reason,
        "skin doctor agreed on 1 March"
    );
}

#[test]
fn unknown_is_incomplete_and_named() {
    let found = assess("brows", &json!({}), &json!({ "answers": {} }));
    assert_eq!(found.verdict, Verdict::Incomplete);
    assert!(found.unanswered.contains(&"warfarin".to_owned()));
    assert!(found.score.points < found.score.range.max && found.score.band.is_none());
    let found = assess("brows", &json!({}), &json!({ "answers": { "pregnant": true } }));
    assert_eq!(found.verdict, Verdict::Hold, "a certain hold is no less certain");
    assert!(found.waits_for_event && !found.unanswered.is_empty());
}

#[test]
fn bad_answers_are_refused_by_pointer_all_at_once() {
    let faults = refused(
        &json!({
            "pregnent": true,
            "warfarin": "no",
            "isotretinoin": "stopped", "isotretinoin_stopped_on": "2027-03-17",
            "nickel_allergy": false, "nickel_allergy_severe": true,
        }),
        &json!({}),
    );
    for want in [
        ("#/answers/pregnent", FaultCode::UnknownField),
        ("#/answers/warfarin", FaultCode::WrongType),
        ("#/answers/isotretinoin_stopped_on", FaultCode::OutOfRange),
        ("#/answers/nickel_allergy_severe", FaultCode::Contradiction),
    ] {
        assert!(faults.contains(&(want.0.to_owned(), want.1)), "{want:?} in {faults:?}");
    }
    for born_on in ["1850-01-01", "2027-03-17"] {
        let faults = refused(&json!({}), &json!({ "born_on": born_on }));
        assert_eq!(faults, [("#/born_on".into(), FaultCode::OutOfRange)], "{born_on}");
    }
}

#[test]
fn the_same_case_gets_the_same_bytes() {
    let case = body("eyeliner", &json!({ "eyes": ["glaucoma"], "warfarin": true }), &json!({}));
    let once = send(&Request::post(ASSESSMENTS, &case));
    assert_eq!(once.text(), send(&Request::post(ASSESSMENTS, &case)).text());
}

/// The ten-question score as published on three pages.
#[test]
fn a_phototype_needs_ten_answers() {
    let score = |answers: &Value| -> PhototypeAnswer {
        let answer = send(&Request::post("/v1/phototype-scores", answers));
        assert_eq!(answer.status, 200, "{}", answer.text());
        answer.read()
    };
    let eight = json!({ "eyes": 4, "hair": 4, "skin": 4, "freckles": 4, "long_sun": 4,
        "depth_of_tan": 4, "tans_within_hours": 4, "face_to_sun": 4 });
    let found = score(&eight);
    assert_eq!(
        (found.outcome.as_str(), found.points, found.phototype),
        ("eight_questions", 32, None)
    );
    assert_eq!(found.missing, ["last_exposure", "area_tans"]);
    let mut ten = eight.clone();
    ten["last_exposure"] = json!(0);
    ten["area_tans"] = json!(2);
    let found = score(&ten);
    assert_eq!(
        (found.phototype, found.plausible),
        (Some(Phototype::V), vec![Phototype::IV, Phototype::VI])
    );
    ten["eyes"] = json!(5);
    assert_eq!(send(&Request::post("/v1/phototype-scores", &ten)).status, 422);
}

/// Sharma, Wu and Dalal 2005, pair 25; a worked angle.
#[test]
fn colours_are_classed_and_compared() {
    let colour = |body: &Value| send(&Request::post("/v1/skin-colours", body));
    let found: SkinColour =
        colour(&json!({ "lab": { "l": 65.0, "a": 7.0, "b": 15.0 }, "site": "brow" })).read();
    assert!((found.ita_degrees - 45.0).abs() < 1e-9 && found.class == "light");
    let pair = json!({ "lab": { "l": 60.2574, "a": -34.0099, "b": 36.2677 }, "other": { "l": 60.4626, "a": -34.1751, "b": 39.4387 } });
    let found: SkinColour = colour(&pair).read();
    let difference = found.difference.expect("a second colour was given");
    assert!((difference.delta_e_2000 - 1.2644).abs() < 1e-4 && difference.seen == "close");
    assert_eq!(colour(&json!({ "lab": { "l": 65.0, "a": 7.0, "b": 0.0 } })).status, 422);
}

/// A day that is past, one to come, and a birthday in a leap year are not passed over.
#[test]
fn a_day_that_is_no_today_is_named() {
    for (members, said) in [
        (json!({ "on": "2027-02-01", "answers": {} }), "looks back"),
        (json!({ "on": "2029-06-01", "as_of": "2029-06-01", "answers": {} }), "has not come yet"),
        (json!({ "born_on": "2012-02-29" }), "29 February"),
    ] {
        let cautions = assess("brows", &json!({}), &members).cautions;
        assert!(cautions.iter().any(|caution| caution.contains(said)), "{said}: {cautions:?}");
    }
}

/// Seen from a day to come, a day before it has still not been: nothing ended on it.
#[test]
fn what_has_not_happened_yet_is_no_day_that_has_been() {
    let body = |stopped_on: &str| {
        let answers = json!({ "isotretinoin": "stopped", "isotretinoin_stopped_on": stopped_on });
        json!({ "treatment": "brows", "on": "2039-06-01", "as_of": "2039-05-01", "born_on": "1990-05-01", "answers": answers })
    };
    let told = |stopped_on: &str| send(&Request::post("/v1/skin-assessments", &body(stopped_on)));
    assert_eq!(told("2025-01-10").status, 200);
    let ahead = told("2038-01-10");
    assert_eq!(ahead.status, 422);
    assert!(ahead.text().contains("#/answers/isotretinoin_stopped_on"), "{}", ahead.text());
}

/// Who tells no skin type is asked to look; who tells one is not.
#[test]
fn a_skin_that_nobody_typed_is_looked_at() {
    let asks = |members: &Value| {
        let cautions = assess("brows", &json!({}), members).cautions;
        cautions.iter().any(|caution| caution.contains("test spot"))
    };
    for (skin, is_asked) in [
        (json!({}), true),
        (json!({ "skin": { "oiliness": "dry" } }), true),
        (json!({ "skin": { "phototype": "II" } }), false),
        (json!({ "skin": { "lab": { "l": 65.0, "a": 8.0, "b": 15.0 } } }), false),
        (json!({ "skin": { "phototype": "V" } }), false),
    ] {
        assert_eq!(asks(&skin), is_asked, "{skin}");
    }
}
