//! Skin test and bottles: what they make of a verdict, and by when what is done.

use etui_schema::vocabulary::{Language, Verdict};
use jiff::tz::TimeZone;

use super::support::{ON, book, day};
use crate::evidence::Register;
use crate::screening::gate::severity;
use crate::screening::materials::{Bottle, Materials};
use crate::screening::patch_test::{Appointment, Judgement, PatchTest, Result, judge};
use crate::screening::pigment::{
    self, Fitness, METALS_ASKED, MetalAllergies, PigmentLabel, Printed,
};
use crate::screening::typing::{PatchTestLimits, Typing};

fn limits() -> PatchTestLimits {
    Typing::builtin(&Register::builtin().unwrap()).unwrap().patch_test
}

fn judged(made_at: &str, result: Result) -> Judgement {
    let test = PatchTest {
        made_at: made_at.parse().unwrap(),
        // Looked at before the visit, and two days after it was made where that is possible.
        read_at: (result != Result::NotRead)
            .then(|| "2027-03-18T13:00:00Z".parse().unwrap())
            .filter(|at| made_at.parse::<jiff::Timestamp>().unwrap() <= *at),
        result,
        pigment_batch: Some("B1".to_owned()),
    };
    let test = Some(&test).filter(|_| !made_at.starts_with("1970"));
    let appointment = Appointment {
        starts_at: "2027-03-18T14:00:00Z".parse().unwrap(),
        zone: &TimeZone::UTC,
        pigment_batch: Some("B1"),
    };
    judge(&limits(), test, &appointment)
}

fn usable() -> Bottle {
    Bottle { fitness: Fitness::Usable, remarks: Vec::new() }
}

const NONE: &str = "1970-01-01T00:00:00Z";

#[test]
fn a_verdict_gets_harder_or_stays() {
    use Verdict::{Decline, Hold, Incomplete, Proceed, ProceedWithConditions, Refer};
    let bad = [Bottle { fitness: Fitness::NotUsable, remarks: Vec::new() }];
    let seen = [usable()];
    let good = "2027-03-10T10:00:00Z";
    let on_the_day = "2027-03-18";
    for (test, today, bottles, screened, verdict) in [
        (judged(good, Result::Clear), on_the_day, &seen[..], Proceed, Proceed),
        // Nobody said which bottle it will be.
        (judged(good, Result::Clear), on_the_day, &[], Proceed, ProceedWithConditions),
        // No test, while there is time for one, and once there is none.
        (judged(NONE, Result::Clear), "2027-03-17", &[], Proceed, ProceedWithConditions),
        (judged(NONE, Result::Clear), on_the_day, &[], Proceed, Hold),
        (judged(good, Result::NotRead), on_the_day, &[], Proceed, ProceedWithConditions),
        // Made four hours before.
        (judged("2027-03-18T10:00:00Z", Result::Clear), on_the_day, &[], Proceed, Hold),
        (judged(good, Result::Reacted), on_the_day, &[], Proceed, Refer),
        (judged(good, Result::Reacted), on_the_day, &[], Hold, Refer),
        (judged(good, Result::Reacted), on_the_day, &[], Decline, Decline),
        (judged(good, Result::Clear), on_the_day, &bad, Proceed, ProceedWithConditions),
        (judged(NONE, Result::Clear), "2027-03-01", &bad, Incomplete, Incomplete),
    ] {
        let found = Materials { test: &test, bottles }.verdict(screened, day(today));
        assert_eq!(found, verdict, "{:?} on {today} after {screened}", test.standing);
        assert!(severity(screened) <= severity(found));
    }
}

#[test]
fn no_test_is_never_better_than_a_bad_one() {
    for today in ["2027-03-01", "2027-03-16", "2027-03-17", "2027-03-18"] {
        let verdict = |test: &Judgement| {
            severity(Materials { test, bottles: &[] }.verdict(Verdict::Proceed, day(today)))
        };
        let none = verdict(&judged(NONE, Result::Clear));
        for (made_at, result) in [
            ("2027-03-10T10:00:00Z", Result::Clear),
            ("2027-03-10T10:00:00Z", Result::NotRead),
            ("2027-03-18T10:00:00Z", Result::Clear),
            ("2025-03-10T10:00:00Z", Result::Clear),
        ] {
            assert!(verdict(&judged(made_at, result)) <= none, "{made_at} on {today}");
        }
    }
}

#[test]
fn the_latest_day_of_a_test_is_counted_back() {
    // Hospital leaflets on areola tattooing: 24 hours; the visit is at 14:00 on the 18th.
    for (made_on, due, is_late, says) in [
        ("2027-03-01", "2027-03-16", false, "between 1 March 2027 and 16 March 2027"),
        ("2027-03-16", "2027-03-16", false, "Skin test on 16 March 2027; look at it"),
        ("2027-03-17", "2027-03-17", false, "Late reactions will be missed"),
        ("2027-03-18", "2027-03-17", true, "needs 24 hours"),
    ] {
        let test = judged(NONE, Result::Clear);
        let materials = Materials { test: &test, bottles: &[usable()] };
        let list = book().materials_todo(&limits(), &materials, (ON, day(made_on)), Language::En);
        // The client hears when to come, as long as there is a when.
        let doers: Vec<&str> = list.iter().map(|todo| todo.who.as_str()).collect();
        assert_eq!(doers, if is_late { &["studio"][..] } else { &["studio", "client"] });
        assert_eq!((list[0].due, list[0].is_late), (Some(day(due)), is_late), "{made_on}");
        assert!(list[0].text.contains(says), "{}", list[0].text);
        assert_eq!(list[0].kind.as_str(), "skin_test");
    }
}

#[test]
fn what_is_to_be_done_is_said_in_every_language() {
    let label = PigmentLabel {
        statement: Printed::No,
        nickel_notice: Printed::Yes,
        ..PigmentLabel::default()
    };
    let (fitness, remarks) = pigment::judge(label, MetalAllergies::told(true));
    let bottles = [Bottle { fitness, remarks }, usable()];
    for (result, kinds) in [
        (Result::NotRead, &["read_skin_test", "read_skin_test", "other_pigment"][..]),
        (Result::Reacted, &["written_view", "other_pigment"]),
    ] {
        let test = judged("2027-03-10T10:00:00Z", result);
        let materials = Materials { test: &test, bottles: &bottles };
        for language in Language::ALL {
            let list =
                book().materials_todo(&limits(), &materials, (ON, day("2027-03-12")), *language);
            let found: Vec<&str> = list.iter().map(|todo| todo.kind.as_str()).collect();
            assert_eq!(found, kinds);
            for todo in &list {
                assert!(
                    !todo.text.contains(['{', '}']) && todo.text.contains(' '),
                    "{}",
                    todo.text
                );
            }
        }
    }
    assert!(book().all_questions().iter().any(|question| &*question.id == METALS_ASKED));
}
