use std::sync::LazyLock;

use etui_schema::vocabulary::Treatment;
use etui_schema::vocabulary::aftercare::{HealedColour, HealedSurface, Retention, ReviewZone};
use jiff::civil::date;
use proptest::prelude::*;

use super::super::review::{Before, Healed, Judgement, Outcome, ReviewError, Reviews};
use crate::evidence::Register;

fn reviews() -> &'static Reviews {
    static RULES: LazyLock<Reviews> =
        LazyLock::new(|| Reviews::builtin(&Register::builtin().unwrap()).unwrap());
    &RULES
}

fn healed(kept: &[(ReviewZone, Retention)]) -> Healed {
    Healed {
        treatment: Treatment::Brows,
        performed_at: "2027-03-18T13:00:00Z".parse().unwrap(),
        reviewed_at: "2027-05-06T13:00:00Z".parse().unwrap(), // day 49
        zone: super::zone("Europe/Berlin"),
        age_years: Some(30),
        kept: kept.to_vec(),
        colour: Some(HealedColour::AsPlanned),
        surface: Some(HealedSurface::Smooth),
        trauma_seen: Some(false),
        before: Before::default(),
    }
}

fn says(judgement: &Judgement) -> Vec<&str> {
    judgement.advice.iter().map(|advice| &*advice.key).collect()
}

#[test]
fn nothing_is_judged_before_day_28() {
    // Int J Dermatol 1987;26:453-8: about a month to normal structure
    let mut early = healed(&[(ReviewZone::Whole, Retention::Under25)]);
    for (reviewed_at, outcome) in [
        ("2027-04-14T20:00:00Z", Outcome::TooEarly), // day 27
        ("2027-04-15T06:00:00Z", Outcome::TouchUp),  // day 28
    ] {
        early.reviewed_at = reviewed_at.parse().unwrap();
        let judgement = reviews().judge(&early).unwrap();
        assert_eq!(judgement.outcome, outcome, "{reviewed_at}");
        assert_eq!(judgement.not_before, Some(date(2027, 4, 15)), "{reviewed_at}");
    }
}

#[test]
fn retention_decides_part_by_part() {
    // common practice, no source
    use Retention::{From25To50, From50To75, From75, Under25};
    use ReviewZone::{BrowBody, BrowTail, Whole};
    for (kept, outcome, says_too) in [
        (vec![(Whole, From75)], Outcome::Nothing, vec!["review_nothing"]),
        (
            vec![(BrowBody, From75), (BrowTail, From50To75)],
            Outcome::TouchUp,
            vec!["review_spots", "review_stretch"],
        ),
        (
            vec![(BrowBody, From75), (BrowTail, From25To50)],
            Outcome::TouchUp,
            vec!["review_spots", "review_uneven_zones"],
        ),
        (vec![(Whole, Under25)], Outcome::TouchUp, vec!["review_whole", "review_stretch"]),
    ] {
        let judgement = reviews().judge(&healed(&kept)).unwrap();
        assert_eq!(judgement.outcome, outcome, "{kept:?}");
        for key in says_too {
            assert!(says(&judgement).contains(&key), "{kept:?}: {:?}", says(&judgement));
        }
    }
}

#[test]
fn hurt_skin_is_answered_with_less_and_never_with_depth() {
    // common practice, no source
    let mut hurt = healed(&[(ReviewZone::Whole, Retention::Under25)]);
    for (trauma_seen, surface, key) in [
        (Some(true), HealedSurface::Smooth, "review_trauma"),
        (None, HealedSurface::Smooth, "review_trauma_unknown"),
        (Some(false), HealedSurface::Textured, "review_trauma"),
    ] {
        hurt.trauma_seen = trauma_seen;
        hurt.surface = Some(surface);
        let judgement = reviews().judge(&hurt).unwrap();
        assert!(says(&judgement).contains(&key), "{trauma_seen:?}: {:?}", says(&judgement));
    }
}

/// What has spread or turned cool often lay too deep; no other advice says the same depth again.
#[test]
fn what_lay_too_deep_is_not_worked_as_deep_again() {
    for colour in HealedColour::ALL {
        let deep = matches!(colour, HealedColour::Blurred | HealedColour::TooCool);
        for kept in [Retention::Under25, Retention::From25To50] {
            let one = Healed { colour: Some(*colour), ..healed(&[(ReviewZone::Whole, kept)]) };
            let judgement = reviews().judge(&one).unwrap();
            let (same, less): (Vec<_>, Vec<_>) = says(&judgement)
                .into_iter()
                .filter(|key| key.starts_with("review_spots") || key.starts_with("review_whole"))
                .partition(|key| !key.ends_with("_shallower"));
            assert_eq!((same.is_empty(), less.len()), (deep, usize::from(deep)), "{colour} {kept}");
        }
    }
}

#[test]
fn scars_and_lumps_go_to_a_doctor_before_anything_else() {
    // granulomas after microblading: doi 10.3389/fmed.2022.1009135
    let mut one = healed(&[(ReviewZone::Whole, Retention::Under25)]);
    for (surface, outcome) in [
        (HealedSurface::GrowingScar, Outcome::Refer),
        (HealedSurface::Lumps, Outcome::Refer),
        (HealedSurface::Raised, Outcome::Refer),
        (HealedSurface::Unhealed, Outcome::Wait),
    ] {
        one.surface = Some(surface);
        let judgement = reviews().judge(&one).unwrap();
        assert_eq!(judgement.outcome, outcome);
        assert_eq!(judgement.advice.len(), 1);
        assert_eq!(judgement.not_before, None);
    }
}

#[test]
fn a_touch_up_waits_for_the_age_of_the_skin() {
    let mut old = healed(&[(ReviewZone::Whole, Retention::From25To50)]);
    old.age_years = Some(66);
    old.reviewed_at = "2027-04-20T13:00:00Z".parse().unwrap(); // day 33
    let judgement = reviews().judge(&old).unwrap();
    assert_eq!(judgement.not_before, Some(date(2027, 4, 29))); // day 42
    assert!(says(&judgement).contains(&"review_wait"));
}

#[test]
fn bad_reviews_name_every_fault() {
    let mut bad = healed(&[
        (ReviewZone::LowerLip, Retention::From75),
        (ReviewZone::Whole, Retention::From75),
        (ReviewZone::Whole, Retention::From75),
    ]);
    bad.reviewed_at = "2027-03-17T13:00:00Z".parse().unwrap();
    let faults = reviews().judge(&bad).unwrap_err();
    let pointers: Vec<String> = faults.iter().map(ReviewError::pointer).collect();
    assert_eq!(pointers, ["/reviewed_at", "/zones/0/zone", "/zones/2/zone"]);
    assert!(faults[1].to_string().contains("accepted: whole, brow_front"), "{}", faults[1]);
    assert_eq!(reviews().judge(&healed(&[])).unwrap_err(), [ReviewError::NothingKept]);
}

/// The wait is for judging colour; what a doctor has to see does not wait.
#[test]
fn a_grave_surface_is_sent_to_a_doctor_on_any_day() {
    for reviewed_at in ["2027-03-19T06:00:00Z", "2027-04-10T06:00:00Z", "2028-03-01T06:00:00Z"] {
        let mut one = healed(&[(ReviewZone::Whole, Retention::From75)]);
        one.reviewed_at = reviewed_at.parse().unwrap();
        for surface in [HealedSurface::GrowingScar, HealedSurface::Lumps, HealedSurface::Raised] {
            one.surface = Some(surface);
            let judgement = reviews().judge(&one).unwrap();
            assert_eq!(judgement.outcome, Outcome::Refer, "{reviewed_at} {surface}");
        }
        one.surface = Some(HealedSurface::Smooth);
        one.before.needs_doctor = true;
        assert_eq!(reviews().judge(&one).unwrap().outcome, Outcome::Refer, "{reviewed_at}");
    }
}

#[test]
fn an_open_report_speaks_in_every_review() {
    let before = Before { is_report_open: true, needs_doctor: false };
    for surface in [None, Some(HealedSurface::Smooth), Some(HealedSurface::Unhealed)] {
        for kept in Retention::ALL {
            let one = Healed { surface, before, ..healed(&[(ReviewZone::Whole, *kept)]) };
            let judgement = reviews().judge(&one).unwrap();
            let said = says(&judgement);
            assert!(said.contains(&"review_open_report"), "{surface:?} {said:?}");
            assert!(!said.contains(&"review_nothing"), "{surface:?} {said:?}");
            let refers = judgement.outcome == Outcome::Refer;
            assert_eq!(refers, surface != Some(HealedSurface::Smooth), "{surface:?} {said:?}");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

    #[test]
    fn what_nobody_said_of_the_surface_is_asked_and_settles_nothing(
        kept in prop::sample::select(Retention::ALL),
        colour in prop::option::of(prop::sample::select(HealedColour::ALL)),
        trauma_seen in prop::option::of(any::<bool>()),
        hours in 0_i64..4000,
        (is_report_open, needs_doctor) in any::<(bool, bool)>(),
    ) {
        let mut one = healed(&[(ReviewZone::Whole, kept)]);
        one.before = Before { is_report_open, needs_doctor };
        (one.colour, one.trauma_seen, one.surface) = (colour, trauma_seen, None);
        one.reviewed_at = one.performed_at + jiff::SignedDuration::from_hours(hours);
        let judgement = reviews().judge(&one).unwrap();
        let settled = [Outcome::Nothing, Outcome::TouchUp].contains(&judgement.outcome);
        prop_assert!(!settled, "{:?}", judgement);
        let asks = says(&judgement).contains(&"review_ask_surface");
        prop_assert!(asks || judgement.outcome == Outcome::Refer, "{:?}", judgement);
    }

    #[test]
    fn every_answer_to_poor_hold_speaks_of_trauma_or_technique(
        kept in prop::sample::subsequence(&[ReviewZone::BrowFront, ReviewZone::BrowBody, ReviewZone::BrowArch, ReviewZone::BrowTail], 1..=4),
        classes in prop::collection::vec(prop::sample::select(Retention::ALL), 4),
        colour in prop::option::of(prop::sample::select(HealedColour::ALL)),
        surface in prop::option::of(prop::sample::select(HealedSurface::ALL)),
        trauma_seen in prop::option::of(any::<bool>()),
    ) {
        let kept: Vec<_> = kept.into_iter().zip(classes).collect();
        let one = Healed { colour, surface, trauma_seen, ..healed(&kept) };
        let judgement = reviews().judge(&one).unwrap();
        let lost = kept.iter().any(|(_, kept)| *kept < Retention::From75);
        let technique = says(&judgement).iter().any(|key| ["review_trauma", "review_stretch", "review_trauma_unknown"].contains(key));
        if judgement.outcome == Outcome::TouchUp && lost {
            prop_assert!(technique, "{:?}", says(&judgement));
        }
        prop_assert!(!judgement.advice.is_empty());
    }
}
