use std::collections::BTreeSet;

use etui_schema::vocabulary::aftercare::{Condition, DayOfWeek, HealingPhase, Shift, StepKind};
use etui_schema::vocabulary::{
    CivilDate, EvidenceKind, Lab, Language, Oiliness, Phototype, Treatment,
};
use jiff::civil::{date, time};
use proptest::prelude::*;

use super::super::PlanError;
use super::super::dating::{ClosedDay, days_between};
use super::super::healing::Phase;
use super::{aged, plans, request, step};

#[test]
fn phases_overlap_as_published() {
    use HealingPhase::{CleanUp, Haemostasis, Inflammation, Maturation, Proliferation};
    // Beldon, Nursing in Practice: inflammation 0-3, clean-up 1-6,
    // proliferation 3-24, maturation from 24 on.
    let healing = plans().plan(&request(Treatment::Brows)).unwrap().healing;
    for (day, want) in [
        (0, vec![Haemostasis, Inflammation]),
        (2, vec![Inflammation, CleanUp]),
        (3, vec![Inflammation, CleanUp, Proliferation]),
        (10, vec![Proliferation]),
        (24, vec![Proliferation, Maturation]),
        (30, vec![Maturation]),
    ] {
        let on = |p: &&Phase| p.from_day <= day && day <= p.to_day;
        let got: Vec<HealingPhase> = healing.iter().filter(on).map(|p| p.phase).collect();
        assert_eq!(got, want, "day {day}");
    }
}

#[test]
fn milestones_fall_on_the_days_their_sources_name() {
    let plans = plans();
    for (treatment, review, refresh_months) in [
        // common practice, no source for the windows; floor Int J Dermatol 1987
        (Treatment::Brows, (28, 42), (12, 18)), // AAD Insights May 2024
        (Treatment::Lips, (28, 56), (12, 18)),  // common practice, no source
        (Treatment::Eyeliner, (28, 42), (12, 18)), // common practice, no source
        (Treatment::Scalp, (28, 42), (12, 18)), // common practice, no source
        (Treatment::Areola, (28, 42), (36, 60)), // hospital leaflets, 3 to 5 years
    ] {
        let plan = plans.plan(&aged(treatment, 30)).unwrap();
        let day = |on| days_between(plan.performed_on, on);
        let m = &plan.milestones;
        assert_eq!((day(m.review.from), day(m.review.until)), review, "{treatment}");
        assert_eq!((day(m.healed.from), day(m.healed.until)), (24, 28), "{treatment}"); // 14 + 10 to 14
        assert_eq!((day(m.touch_up.from), day(m.touch_up.until)), (28, 84), "{treatment}");
        assert_eq!((day(m.touch_up_usual.from), day(m.touch_up_usual.until)), (42, 56));
        let months = |n| date(2027, 3, 18).checked_add(jiff::Span::new().months(n)).unwrap();
        assert_eq!(
            (m.colour_refresh.from, m.colour_refresh.until),
            (months(refresh_months.0), months(refresh_months.1)),
            "{treatment}"
        );
        assert_eq!(m.next_session.is_some(), treatment == Treatment::Scalp);
    }
}

#[test]
fn blood_may_be_given_four_calendar_months_after_the_last_session() {
    // NHS Blood and Transplant; month ends clamp, and a touch-up restarts it.
    for (session, want) in [
        ("2027-03-18T13:00:00Z", date(2027, 7, 18)),
        ("2027-10-31T12:00:00Z", date(2028, 2, 29)),
        ("2026-10-31T12:00:00Z", date(2027, 2, 28)),
        ("2027-08-31T12:00:00Z", date(2027, 12, 31)),
        ("2028-02-29T12:00:00Z", date(2028, 6, 29)),
    ] {
        let mut request = aged(Treatment::Brows, 30);
        request.performed_at = session.parse().unwrap();
        request.country = Some("GB".into());
        let plan = plans().plan(&request).unwrap();
        assert_eq!(plan.milestones.donation.on, want, "{session}");
        assert!(plan.milestones.donation_dated);
        assert_eq!(step(&plan, "donation_open").at.local.date(), want, "{session}");
    }
}

#[test]
fn restrictions_last_as_long_as_their_sources_ask() {
    let plans = plans();
    for (treatment, key, least, to) in [
        (Treatment::Brows, "no_swimming", Some(14), Some(28)), // Dudley Group NHS; four weeks cautious
        (Treatment::Brows, "no_sun", Some(14), Some(28)),      // haut.de two weeks; until healed
        (Treatment::Areola, "dressing", None, Some(1)),        // Dudley Group NHS, 24 hours
        (Treatment::Brows, "sunscreen", None, None),           // for good
        // common practice, no source:
        (Treatment::Brows, "no_soaking", Some(7), Some(14)),
        (Treatment::Scalp, "no_shampoo", Some(3), Some(5)),
        (Treatment::Brows, "no_makeup_brows", Some(10), Some(14)),
        (Treatment::Lips, "no_makeup_lips", Some(7), Some(10)),
        (Treatment::Eyeliner, "no_mascara", None, Some(7)),
        (Treatment::Eyeliner, "no_contact_lenses", Some(1), Some(3)),
        (Treatment::Eyeliner, "no_lash_extensions", Some(14), Some(28)),
        (Treatment::Lips, "no_hot_or_spicy", Some(3), Some(7)),
        (Treatment::Scalp, "no_sauna", None, Some(14)),
        (Treatment::Scalp, "no_heavy_sweat", Some(7), Some(10)),
        (Treatment::Lips, "no_acids", None, Some(28)),
        (Treatment::Lips, "no_alcohol", Some(1), Some(2)),
        (Treatment::Lips, "no_face_down_sleep", None, Some(7)),
    ] {
        let plan = plans.plan(&aged(treatment, 30)).unwrap();
        let step = step(&plan, key);
        assert_eq!((step.to_day_least, step.to_day), (least, to), "{treatment} {key}");
    }
}

#[test]
fn each_treatment_shows_its_own_course() {
    // common practice, no source, where no other is named
    let plans = plans();
    for (treatment, key, days) in [
        (Treatment::Brows, "brows_day_6_7", (6, 7)),
        (Treatment::Brows, "brows_day_11_14", (11, 14)),
        (Treatment::Lips, "lips_day_1", (1, 2)), // peak of the swelling
        (Treatment::Lips, "lips_day_7_14", (7, 14)), // ghost
        (Treatment::Eyeliner, "eyeliner_day_1", (1, 2)), // peak on waking
        (Treatment::Scalp, "scalp_day_7_10", (7, 10)),
        (Treatment::Areola, "areola_day_10_14", (10, 14)),
        (Treatment::Areola, "areola_day_15_21", (15, 21)), // Dudley Group NHS, 14-21
    ] {
        let plan = plans.plan(&aged(treatment, 30)).unwrap();
        let step = step(&plan, key);
        assert_eq!((step.from_day, step.to_day), (days.0, Some(days.1)), "{key}");
        assert_eq!(step.kind, StepKind::Tell);
    }
    for treatment in Treatment::ALL {
        let plan = plans.plan(&request(*treatment)).unwrap();
        let tells: BTreeSet<i32> = plan
            .steps
            .iter()
            .filter(|s| s.kind == StepKind::Tell && s.spread_days < 4)
            .flat_map(|s| s.from_day..=s.to_day.unwrap_or(s.from_day))
            .collect();
        for day in 0..=28 {
            assert!(tells.contains(&day), "{treatment}: nothing is told about day {day}");
        }
    }
}

#[test]
fn skin_moves_dates_later_and_never_earlier() {
    let plans = plans();
    let plain = plans.plan(&aged(Treatment::Brows, 30)).unwrap();
    let mut dry = aged(Treatment::Brows, 30);
    dry.skin.oiliness = Some(Oiliness::Dry);
    let dry = plans.plan(&dry).unwrap();
    let mature = plans.plan(&aged(Treatment::Brows, 68)).unwrap();
    let end = |plan, key| step(plan, key).to_day.unwrap();
    // common practice, no source: dry skin flakes 1 to 3 days longer
    assert_eq!(end(&dry, "brows_day_8_10"), end(&plain, "brows_day_8_10") + 3);
    // Effect of age on wound healing in healthy humans: 1.9 days over 65
    assert_eq!(end(&mature, "brows_day_8_10"), end(&plain, "brows_day_8_10") + 2);
    assert!(plain.milestones.healed.until < mature.milestones.healed.until);
    // common practice, no source: oily skin wants a refresh after 9 to 12 months
    let mut oily = aged(Treatment::Brows, 30);
    oily.skin.oiliness = Some(Oiliness::Oily);
    let oily = plans.plan(&oily).unwrap();
    assert_eq!(oily.milestones.colour_refresh.from, date(2027, 12, 18));
    assert_eq!(oily.milestones.colour_refresh.until, date(2028, 3, 18));
}

#[test]
fn skin_colour_adds_words_and_moves_nothing() {
    // StatPearls NBK559150: dark marks last for months; the signs are the same.
    let plans = plans();
    let plain = plans.plan(&aged(Treatment::Lips, 30)).unwrap();
    let darker = [
        (Some(Lab { l: 35.0, a: 10.0, b: 12.0 }), None),
        (None, Some(Phototype::IV)),
        (None, Some(Phototype::VI)),
    ];
    for (lab, phototype) in darker {
        let mut request = aged(Treatment::Lips, 30);
        request.skin.lab = lab;
        request.skin.phototype = phototype;
        let plan = plans.plan(&request).unwrap();
        assert_eq!(plan.steps, plain.steps);
        assert_eq!(plan.milestones, plain.milestones);
        assert!(plan.cautions.iter().any(|c| &*c.key == "darker_skin"), "{lab:?} {phototype:?}");
    }
    let mut light = aged(Treatment::Lips, 30);
    light.skin.lab = Some(Lab { l: 65.0, a: 7.0, b: 13.0 });
    light.skin.phototype = Some(Phototype::VI); // a measured colour goes before the type
    let light = plans.plan(&light).unwrap();
    assert!(!light.cautions.iter().any(|c| &*c.key == "darker_skin"));
    assert!(plain.cautions.iter().any(|c| &*c.key == "signs_on_any_skin"));
}

#[test]
fn what_the_client_tells_adds_its_step_or_caution() {
    let plans = plans();
    let mut told = aged(Treatment::Lips, 30);
    told.conditions = vec![Condition::ColdSoreHistory, Condition::Diabetes, Condition::Smoker];
    let plan = plans.plan(&told).unwrap();
    // Acta Dermatovenerol Croat 2018;26:75-76: vesicles on day 2
    let watch = step(&plan, "cold_sore_watch");
    assert!(watch.message && watch.from_day <= 2 && 2 <= watch.to_day.unwrap());
    for key in ["cold_sore_history", "diabetes", "smoker"] {
        assert!(plan.cautions.iter().any(|c| &*c.key == key), "{key}");
    }
    let mut brows = told;
    brows.treatment = Treatment::Brows;
    let plan = plans.plan(&brows).unwrap();
    assert!(plan.steps.iter().all(|s| &*s.key != "cold_sore_watch"));
}

#[test]
fn closed_days_move_appointments_and_no_message() {
    let plans = plans();
    let open = plans.plan(&aged(Treatment::Brows, 30)).unwrap();
    // 15 April 2027, day 28, is a Thursday.
    let mut request = aged(Treatment::Brows, 30);
    request.closed_days = vec![
        ClosedDay::Weekly(DayOfWeek::Thursday),
        ClosedDay::Weekly(DayOfWeek::Sunday),
        ClosedDay::On(CivilDate(date(2027, 4, 16))),
    ];
    request.opening_hours = Some((time(9, 30, 0, 0), time(18, 0, 0, 0)));
    let plan = plans.plan(&request).unwrap();
    assert_eq!(plan.steps, open.steps);
    let suggested = plan.milestones.review.suggested.as_ref().unwrap();
    assert_eq!(suggested.local.datetime().to_string(), "2027-04-17T09:30:00");
    assert_eq!(suggested.shifts, [Shift::ClosedDay]);
    assert_eq!(plan.milestones.review.from, date(2027, 4, 15));
}

#[test]
fn a_message_that_no_longer_makes_sense_is_overtaken() {
    let plan = plans().plan(&aged(Treatment::Brows, 30)).unwrap();
    let day_2 = step(&plan, "brows_day_2_3");
    let day_9: jiff::Timestamp = "2027-03-27T08:00:00Z".parse().unwrap();
    assert!(day_2.latest < day_9);
    assert_eq!(day_2.latest.to_string(), "2027-03-21T23:00:00Z"); // end of day 3 in Berlin
    for step in &plan.steps {
        assert!(step.at.at < step.latest, "{}", step.key);
    }
}

#[test]
fn a_touch_up_restarts_the_clock_under_the_same_keys() {
    let plans = plans();
    let first = aged(Treatment::Eyeliner, 30);
    let mut again = first.clone();
    again.performed_at = "2027-05-06T09:00:00Z".parse().unwrap();
    let (first, again) = (plans.plan(&first).unwrap(), plans.plan(&again).unwrap());
    let keys = |plan: &super::Plan| -> BTreeSet<String> {
        plan.steps.iter().map(|s| s.key.to_string()).collect()
    };
    assert_eq!(keys(&first), keys(&again));
    assert_eq!(again.milestones.donation.on, date(2027, 9, 6));
}

#[test]
fn a_date_for_giving_blood_is_told_only_where_it_is_known() {
    // Four months: NHS Blood and Transplant; three at most: a US collector; four
    // where the premises are not known to be licensed: Australian news of 2023.
    let session = date(2027, 3, 18);
    for (country, months) in [
        (Some("GB"), Some(4)),
        (Some("US"), Some(3)),
        (Some("AU"), Some(4)),
        (Some("DE"), None),
        (Some("AT"), None),
        (Some("FR"), None),
        (Some("CA"), None),
        (Some("NZ"), None),
        (Some("ZZ"), None),
        (None, None),
    ] {
        let mut request = aged(Treatment::Lips, 30);
        request.country = country.map(Into::into);
        let plan = plans().plan(&request).unwrap();
        let told = |key: &str| plan.steps.iter().find(|step| &*step.key == key);
        let donation = &plan.milestones;
        assert_eq!(donation.donation_dated, months.is_some(), "{country:?}");
        assert_eq!(told("donation_open").is_some(), months.is_some(), "{country:?}");
        assert_eq!(told("donation_ask").is_some(), months.is_none(), "{country:?}");
        let wait = session.checked_add(jiff::Span::new().months(months.unwrap_or(4)));
        assert_eq!(donation.donation.on, wait.unwrap(), "{country:?}");
        if let Some(ask) = told("donation_ask") {
            let said = ask.say.in_language(plans().texts(), Language::De);
            assert!(said.contains("18. März 2027"), "{said}");
        }
    }
}

#[test]
fn bad_requests_name_every_fault() {
    let mut request = request(Treatment::Brows);
    request.performed_at = "9500-01-01T00:00:00Z".parse().unwrap();
    request.quiet_hours = Some((time(22, 0, 0, 0), time(22, 0, 0, 0)));
    request.opening_hours = Some((time(18, 0, 0, 0), time(9, 0, 0, 0)));
    request.closed_days = DayOfWeek::ALL.iter().map(|d| ClosedDay::Weekly(*d)).collect();
    let faults = plans().plan(&request).unwrap_err();
    let pointers: Vec<&str> = faults.iter().map(PlanError::pointer).collect();
    assert_eq!(pointers, ["/performed_at", "/quiet_hours", "/opening_hours", "/closed_days"]);
    assert!(faults[1].to_string().contains("24 hours"), "{}", faults[1]);
}

#[test]
fn what_is_not_told_is_said() {
    let plan = plans().plan(&request(Treatment::Brows)).unwrap();
    let pointers: Vec<&str> = plan.assumed.iter().map(|a| a.pointer).collect();
    assert_eq!(pointers, ["/skin/age_years", "/skin/oiliness", "/country", "/opening_hours"]);
}

#[test]
fn every_value_has_a_source_that_may_be_shown() {
    for treatment in Treatment::ALL {
        let plan = plans().plan(&request(*treatment)).unwrap();
        for step in &plan.steps {
            assert!(2 <= step.basis.len(), "{}", step.key);
            assert!(step.basis.iter().all(|b| b.kind != EvidenceKind::Memory), "{}", step.key);
        }
        assert!(plan.milestones.touch_up.basis.iter().any(|b| b.kind == EvidenceKind::Model));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

    #[test]
    fn plans_are_ordered_complete_and_never_quiet(
        treatment in prop::sample::select(Treatment::ALL),
        seconds in 0_i64..4_000_000_000,
        age in prop::option::of(0_u8..=120),
        zone in prop::sample::select(&["Europe/Berlin", "Australia/Lord_Howe", "Pacific/Apia", "America/Santiago", "Asia/Kathmandu"]),
        quiet in prop::option::of((0_i8..24, 0_i8..24, 0_i8..60)),
    ) {
        let mut request = request(treatment);
        request.performed_at = jiff::Timestamp::from_second(seconds).unwrap();
        request.zone = super::zone(zone);
        request.skin.age_years = age;
        request.quiet_hours = quiet
            .map(|(from, until, minute)| (time(from, 0, 0, 0), time(until, minute, 0, 0)))
            .filter(|(from, until)| from != until);
        let plan = plans().plan(&request).unwrap();
        prop_assert!(plan.steps.is_sorted_by_key(|s| s.at.at));
        let keys: BTreeSet<&str> = plan.steps.iter().map(|s| &*s.key).collect();
        prop_assert_eq!(keys.len(), plan.steps.len());
        for step in &plan.steps {
            prop_assert!(request.performed_at < step.at.at);
            prop_assert!(step.at.at < step.latest);
            if let Some((from, until)) = request.quiet_hours {
                let quiet = super::super::dating::QuietHours::new(from, until).unwrap();
                prop_assert!(!quiet.cover(step.at.local.time()), "{} at {}", step.key, step.at.local);
            }
        }
        prop_assert!(28 <= days_between(plan.performed_on, plan.milestones.touch_up.from));
    }
}
