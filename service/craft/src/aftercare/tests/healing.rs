use etui_schema::vocabulary::aftercare::{HealedColour, HealedSurface, Retention, ReviewZone};
use etui_schema::vocabulary::{Language, Treatment};
use proptest::prelude::*;

use super::super::dating::days_between;
use super::super::healing::{Healing, Next};
use super::super::review::{Before, Healed, Reviews};
use super::{aged, plans, request, step, zone};
use crate::evidence::Register;

fn days(treatment: Treatment, next: Next, age: Option<u8>) -> i32 {
    let healing = Healing::builtin(&Register::builtin().unwrap()).unwrap();
    healing.after(treatment, next, age).days
}

#[test]
fn skin_rests_longer_the_older_it_is() {
    // Touch-up: inference from J Soc Cosmet Chem 1981;32:15-26 (28.1 / 19.8 days
    // = 1.42) over the 28 days of Int J Dermatol 1987;26:453-8. Pass: common
    // practice (10 to 14 days), no source.
    for (age, touch_up, pass) in [
        (Some(0), 28, 10),
        (Some(18), 28, 10),
        (Some(35), 28, 10),
        (Some(36), 35, 11),
        (Some(38), 35, 11),
        (Some(47), 35, 12),
        (Some(48), 35, 13),
        (Some(50), 42, 13),
        (Some(59), 42, 14),
        (Some(60), 42, 14),
        (Some(255), 42, 14),
        (None, 42, 14), // not told: the slowest skin
    ] {
        for treatment in Treatment::ALL {
            assert_eq!(days(*treatment, Next::TouchUp, age), touch_up, "{treatment} {age:?}");
            let pass = if *treatment == Treatment::Scalp { pass } else { touch_up };
            assert_eq!(days(*treatment, Next::Pass, age), pass, "{treatment} {age:?}");
        }
    }
}

#[test]
fn only_a_pass_needs_a_look_at_the_skin_before() {
    let healing = Healing::builtin(&Register::builtin().unwrap()).unwrap();
    for treatment in Treatment::ALL {
        for next in [Next::TouchUp, Next::Pass] {
            let rested = healing.after(*treatment, next, Some(40));
            assert_eq!(rested.bare, *treatment == Treatment::Scalp && next == Next::Pass);
            assert!(!rested.basis.is_empty(), "{treatment}");
        }
    }
}

#[test]
fn plan_invitation_and_review_name_the_same_day() {
    let reviews = Reviews::builtin(&Register::builtin().unwrap()).unwrap();
    for treatment in Treatment::ALL {
        for age in [None, Some(28), Some(38), Some(52), Some(65)] {
            let mut asked = request(*treatment);
            asked.skin.age_years = age;
            let plan = plans().plan(&asked).unwrap();
            let rested = plans().rested(*treatment, Next::TouchUp, age);
            let from = plan.milestones.touch_up.from;
            assert_eq!(rested.from(plan.performed_on), Ok(from), "{treatment} {age:?}");
            let invited = format!("{:?}", step(&plan, "touch_up_invite").say);
            assert!(invited.contains(&format!("Date({from})")), "{treatment} {age:?}: {invited}");
            let review = reviews.judge(&Healed {
                treatment: *treatment,
                performed_at: asked.performed_at,
                reviewed_at: asked.performed_at + jiff::SignedDuration::from_hours(24 * 28),
                zone: zone("Europe/Berlin"),
                age_years: age,
                kept: vec![(ReviewZone::Whole, Retention::Under25)],
                colour: Some(HealedColour::TooLight),
                surface: Some(HealedSurface::Smooth),
                trauma_seen: None,
                before: Before::default(),
            });
            assert_eq!(review.unwrap().not_before, Some(from), "{treatment} {age:?}");
            if let Some(next) = plan.milestones.next_session {
                let pass = plans().rested(*treatment, Next::Pass, age);
                assert_eq!(days_between(plan.performed_on, next.from), pass.days, "{age:?}");
            }
        }
    }
    let young = plans().plan(&aged(Treatment::Scalp, 30)).unwrap().milestones;
    let next = young.next_session.unwrap();
    assert_eq!(days_between(next.from, next.until), 4);
}

/// What speaks of healed skin goes out on the day of the one rule, asks for a look
/// at the skin, and waits while somebody has to look.
#[test]
fn nothing_calls_skin_healed_by_the_calendar() {
    for treatment in Treatment::ALL {
        for age in [None, Some(30), Some(47), Some(60), Some(80)] {
            let mut asked = request(*treatment);
            asked.skin.age_years = age;
            let plan = plans().plan(&asked).unwrap();
            let rested = days(*treatment, Next::TouchUp, age);
            let mut keys = vec!["care_healed", "sunscreen"];
            keys.extend((*treatment == Treatment::Areola).then_some("chlorine_fades"));
            for key in keys {
                let step = step(&plan, key);
                assert_eq!(step.from_day, rested, "{treatment} {age:?} {key}");
                assert!(plans().is_friendly(key, step.kind), "{key}");
                let said = step.say.in_language(plans().texts(), Language::En);
                assert!(said.starts_with("If the skin is closed and smooth"), "{said}");
                let said = step.say.in_language(plans().texts(), Language::De);
                assert!(said.starts_with("Ist die Haut geschlossen und glatt"), "{said}");
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

    #[test]
    fn to_know_less_is_never_sooner(
        treatment in prop::sample::select(Treatment::ALL),
        age in any::<u8>(),
        older in 0_u8..=60,
    ) {
        for next in [Next::TouchUp, Next::Pass] {
            let told = days(treatment, next, Some(age));
            prop_assert!(told <= days(treatment, next, None));
            prop_assert!(told <= days(treatment, next, Some(age.saturating_add(older))));
            prop_assert!(days(treatment, Next::Pass, Some(age)) <= days(treatment, Next::TouchUp, Some(age)));
        }
    }
}
