//! What was told before counts, under whichever record of hers.

use etui_tests::wire::Request;
use serde_json::{Value, json};

use super::pausing::{report, settle};
use super::reminders::House;

fn sign(kind: &str, severity: &str, trend: &str) -> Value {
    json!({ "kind": kind, "severity": severity, "trend": trend })
}

fn says(report: &Value, words: &str) -> bool {
    report["judgement"].to_string().contains(words)
}

#[test]
fn an_open_report_holds_the_area_until_it_is_settled() {
    let house = House::open();
    let brows = house.treat("c-1", "brows", "2027-03-12T07:00:00Z");
    let grave = json!([sign("pain", "severe", "worse"), sign("fever", "moderate", "same")]);
    let first = report(&house, &brows, &grave);
    assert_eq!(first["judgement"]["level"], "emergency");
    house.running.set_clock("2027-03-16T09:00:00Z");
    let calm = json!([
        sign("pain", "mild", "better"),
        sign("fever", "mild", "better"),
        sign("redness", "mild", "better"),
    ]);
    let second = report(&house, &brows, &calm);
    assert_eq!(second["judgement"]["level"], "emergency", "{second}");
    assert!(says(&second, "16 March 2027") && says(&second, "Have it seen"), "{second}");
    assert!(!says(&second, "This is what healing looks like"));
    for one in [&first, &second] {
        assert_eq!(settle(&house, &brows, one).status, 201);
    }
    let redness = json!([sign("redness", "mild", "better")]);
    let third = report(&house, &brows, &redness);
    assert_eq!(third["judgement"]["level"], "expected", "{third}");
}

/// An emergency that nobody closed is for today when three days have passed, however often she tells of
/// her skin meanwhile, and one again with a sign of it.
#[test]
fn an_emergency_that_nobody_closed_is_for_today_after_days() {
    let house = House::open();
    let brows = house.treat("c-1", "brows", "2027-03-12T07:00:00Z");
    let airway = json!([sign("breathing_trouble", "moderate", "same")]);
    let calm = json!([sign("redness", "mild", "better")]);
    for (clock, told, level) in [
        ("2027-03-16T09:00:00Z", &airway, "emergency"),
        ("2027-03-17T09:00:00Z", &calm, "emergency"),
        ("2027-03-19T08:00:00Z", &calm, "emergency"),
        ("2027-03-19T10:00:00Z", &calm, "same_day"),
        ("2027-04-19T10:00:00Z", &calm, "same_day"),
        ("2027-04-20T10:00:00Z", &airway, "emergency"),
        ("2027-04-21T10:00:00Z", &calm, "emergency"),
    ] {
        house.running.set_clock(clock);
        let heard = report(&house, &brows, told);
        assert_eq!(heard["judgement"]["level"], level, "{clock}: {heard}");
        let is_named = says(&heard, "called for an ambulance, and nobody has closed it");
        assert_eq!(is_named, level == "same_day", "{clock}: {heard}");
        assert!(level != "same_day" || says(&heard, "16 March 2027"), "{clock}: {heard}");
    }
}

/// A touch-up, a record twice, another area of the same face, in either order.
#[test]
fn signs_of_other_records_are_heard() {
    let house = House::open();
    for (client, first, second, told, then, level) in [
        (
            "c-1",
            "brows",
            "brows",
            sign("fever", "mild", "same"),
            sign("pain", "severe", "same"),
            "emergency",
        ),
        (
            "c-2",
            "eyeliner",
            "brows",
            json!({ "kind": "chemical_in_eye" }),
            sign("eye_pain", "severe", "same"),
            "emergency",
        ),
        (
            "c-3",
            "brows",
            "lips",
            sign("fever", "mild", "same"),
            sign("pain", "severe", "same"),
            "emergency",
        ),
        (
            "c-4",
            "lips",
            "brows",
            sign("pain", "severe", "same"),
            sign("fever", "mild", "same"),
            "emergency",
        ),
        (
            "c-5",
            "lips",
            "brows",
            sign("pain", "severe", "same"),
            sign("redness", "mild", "better"),
            "expected",
        ),
    ] {
        let one = house.treat(client, first, "2027-03-13T07:00:00Z");
        let two = house.treat(client, second, "2027-03-13T07:30:00Z");
        report(&house, &one, &json!([told]));
        let heard = report(&house, &two, &json!([then]));
        assert_eq!(heard["judgement"]["level"], level, "{client}: {heard}");
    }
}

/// An allergy is hers and not the area's.
#[test]
fn an_unsettled_allergy_is_asked_for_in_a_review_of_other_work() {
    let house = House::open();
    let brows = house.treat("c-1", "brows", "2027-02-01T07:00:00Z");
    let liner = house.treat("c-1", "eyeliner", "2027-03-15T07:00:00Z");
    let allergy = json!([{ "kind": "hives" }, { "kind": "vomiting" }]);
    let told = report(&house, &liner, &allergy);
    assert_eq!(told["judgement"]["level"], "emergency");
    assert!(says(&told, "Lie down"));
    let body = json!({ "zones": [{ "zone": "whole", "kept": "under_25" }], "surface": "smooth" });
    let path = format!("/v1/treatments/{brows}/reviews");
    let review = house.running.call(&Request::post(path, &body));
    assert_eq!(review.status, 201, "{}", review.text());
    assert_eq!(review.json()["outcome"], "refer", "{}", review.text());
    assert!(review.json()["not_before"].is_null());
}
