//! What a sign-off covers, one case inside and one just outside of each limit.

use etui_schema::sign_offs::{Covers, DiameterRange};
use etui_schema::vocabulary::{
    ArtistStanding, Configuration, Effect, Grouping, Language, PracticeState, Rung, Site,
    Treatment, Verdict,
};
use jiff::Timestamp;
use jiff::civil::{Date, date};

use super::super::{Confirmed, Counted, Demand, Held, SignedOff, Work};
use super::training;

const ON: Date = date(2027, 3, 14);

fn signed(rung: Rung) -> SignedOff {
    SignedOff {
        covers: Covers {
            grouping: Grouping::RoundLiner,
            count: 3,
            diameter_mm: DiameterRange { from: 0.25, to: 0.30 },
            effect: Effect::FineLine,
            site: Site::UpperLid,
        },
        rung,
        from: date(2027, 1, 1),
        until: date(2027, 12, 31),
        given_at: Some(Timestamp::UNIX_EPOCH),
        is_withdrawn: false,
        withdrawn_at: None,
        is_in_doubt: false,
    }
}

fn work() -> Work {
    Work {
        configuration: Configuration {
            diameter_mm: Some(0.30),
            count: Some(3),
            grouping: Some(Grouping::RoundLiner),
            taper: None,
        },
        effect: Effect::FineLine,
        sites: vec![Site::UpperLid],
    }
}

#[test]
fn a_sign_off_covers_what_it_says_and_nothing_beside() {
    type Change = fn(&mut Work);
    let cases: [(&str, Change, bool); 14] = [
        ("as signed", |_| {}, true),
        ("0.35 mm", |w| w.configuration.diameter_mm = Some(0.35), true),
        ("0.36 mm", |w| w.configuration.diameter_mm = Some(0.36), false),
        ("0.20 mm", |w| w.configuration.diameter_mm = Some(0.20), true),
        ("0.18 mm", |w| w.configuration.diameter_mm = Some(0.18), false),
        ("no diameter", |w| w.configuration.diameter_mm = None, false),
        ("another count", |w| w.configuration.count = Some(5), false),
        ("no count", |w| w.configuration.count = None, false),
        ("shader", |w| w.configuration.grouping = Some(Grouping::RoundShader), false),
        ("a round of some kind", |w| w.configuration.grouping = Some(Grouping::Round), false),
        ("another effect", |w| w.effect = Effect::BoldLine, false),
        ("another site", |w| w.sites = vec![Site::LashLine], false),
        ("either site", |w| w.sites = vec![Site::UpperLid, Site::LashLine], false),
        ("nowhere", |w| w.sites = Vec::new(), false),
    ];
    let training = training();
    for (case, change, covered) in cases {
        let mut work = work();
        change(&mut work);
        let held = training.held(&[signed(Rung::Alone)], &work, ON);
        let want = covered.then_some(Rung::Alone);
        assert_eq!(held.rung, want, "{case}");
    }
}

#[test]
fn days_and_doubts_lower_a_rung() {
    type Change = fn(&mut SignedOff);
    let alone = Some(Rung::Alone);
    let (eye, skin) = (Some(Rung::UnderEye), Some(Rung::PracticeSkin));
    let cases: [(&str, Change, Option<Rung>, PracticeState); 9] = [
        ("today is its last day", |s| s.until = ON, alone, PracticeState::Signed),
        ("yesterday was", |s| s.until = date(2027, 3, 13), eye, PracticeState::Lapsed),
        ("a year ago to the day", |s| s.until = date(2026, 3, 14), eye, PracticeState::Lapsed),
        ("a day longer", |s| s.until = date(2026, 3, 13), skin, PracticeState::Lapsed),
        ("three years ago", |s| s.until = date(2024, 3, 10), None, PracticeState::Lapsed),
        ("taken back", |s| s.is_withdrawn = true, eye, PracticeState::Withdrawn),
        ("in doubt", |s| s.is_in_doubt = true, eye, PracticeState::InDoubt),
        ("today is its first day", |s| s.from = ON, alone, PracticeState::Signed),
        ("from tomorrow on", |s| s.from = date(2027, 3, 15), None, PracticeState::Practising),
    ];
    let training = training();
    for (case, change, rung, state) in cases {
        let mut one = signed(Rung::Alone);
        change(&mut one);
        assert_eq!(training.held(&[one], &work(), ON), Held { rung, state }, "{case}");
    }
    let mut lowest = signed(Rung::PracticeSkin);
    lowest.is_withdrawn = true;
    assert_eq!(training.held(&[lowest.clone()], &work(), ON).rung, None);
    // A fresh word stands beside what was taken back.
    let mut both = [lowest, signed(Rung::PracticeSkin)];
    both[0].withdrawn_at = Some(Timestamp::from_second(10).unwrap());
    both[1].given_at = Some(Timestamp::from_second(11).unwrap());
    let held = training.held(&both, &work(), ON);
    assert_eq!((held.rung, held.state), (skin, PracticeState::Signed));
}

/// Of two words for the same work one is taken back: that speaks against the other, unless it was
/// given afterwards.
#[test]
fn what_is_taken_back_takes_every_earlier_word_with_it() {
    let at = |second: i64| Some(Timestamp::from_second(second).unwrap());
    let training = training();
    for (case, given, back, from, to, alone) in [
        ("given before", at(5), at(10), 0.25, 0.30, false),
        ("given in that moment", at(10), at(10), 0.25, 0.30, false),
        ("given afterwards", at(11), at(10), 0.25, 0.30, true),
        ("nobody knows when it was given", None, at(10), 0.25, 0.30, false),
        ("nobody knows when it was taken back", at(11), None, 0.25, 0.30, false),
        ("a wider word was taken back", at(5), at(10), 0.20, 0.40, false),
        ("one for other needles was", at(5), at(10), 0.18, 0.20, true),
    ] {
        let stands = SignedOff { given_at: given, ..signed(Rung::Alone) };
        let mut back = SignedOff { withdrawn_at: back, is_withdrawn: true, ..signed(Rung::Alone) };
        back.covers.diameter_mm = DiameterRange { from, to };
        let both = [stands.clone(), back];
        let held = training.held(&both, &work(), ON);
        let (rung, state) = if alone {
            (Rung::Alone, PracticeState::Signed)
        } else {
            (Rung::UnderEye, PracticeState::Withdrawn)
        };
        assert_eq!(held, Held { rung: Some(rung), state }, "{case}");
        let covers =
            Covers { diameter_mm: DiameterRange { from: 0.28, to: 0.30 }, ..stands.covers };
        assert_eq!(training.may_sign(&stands, &both, &covers, ON), alone, "{case}");
    }
}

/// What is recorded twice counts once, however it is told.
#[test]
fn a_double_of_a_treatment_counts_once() {
    let (brows, lips) = (Treatment::Brows, Treatment::Lips);
    for (case, all, want) in [
        ("nothing", vec![], (0, 0)),
        ("two", vec![("a", brows, 0), ("b", brows, 60)], (2, 2)),
        ("the same", vec![("a", brows, 0), ("a", brows, 0)], (1, 1)),
        ("two at one moment", vec![("a", brows, 0), ("b", brows, 14)], (1, 1)),
        ("one after the other", vec![("a", brows, 0), ("b", brows, 15)], (2, 2)),
        ("a client's area on a day", vec![("a", brows, 0), ("a", brows, 600)], (1, 1)),
        ("her areas", vec![("a", brows, 0), ("a", lips, 120)], (2, 1)),
        ("a day later", vec![("a", brows, 0), ("a", brows, 1440)], (2, 2)),
    ] {
        let at = |minutes: i64| Timestamp::from_second(60 * minutes).unwrap();
        let counted = |(client, treatment, minutes): &(&str, Treatment, i64)| Counted {
            client: (*client).to_owned(),
            treatment: *treatment,
            at: at(*minutes),
        };
        let mut all: Vec<Counted> = all.iter().map(counted).collect();
        for _ in 0..2 {
            let found = Confirmed::of(&all, brows);
            assert_eq!((found.all, found.of_treatment), want, "{case}");
            all.reverse();
        }
        // To record all of them once more adds nothing.
        all.extend(all.clone());
        assert_eq!(Confirmed::of(&all, brows).all, want.0, "{case}");
    }
}

#[test]
fn who_works_alone_signs_for_no_more_than_that() {
    type Change = fn(&mut SignedOff, &mut Covers);
    let cases: [(&str, Change, bool); 12] = [
        ("as she holds it", |_, _| {}, true),
        ("a part of it", |_, c| c.diameter_mm.from = 0.30, true),
        ("finer", |_, c| c.diameter_mm.from = 0.24, false),
        ("thicker", |_, c| c.diameter_mm.to = 0.35, false),
        ("another count", |_, c| c.count = 5, false),
        ("another grouping", |_, c| c.grouping = Grouping::Round, false),
        ("another effect", |_, c| c.effect = Effect::BoldLine, false),
        ("another site", |_, c| c.site = Site::LashLine, false),
        ("under an eye herself", |s, _| s.rung = Rung::UnderEye, false),
        ("taken back", |s, _| s.is_withdrawn = true, false),
        ("in doubt", |s, _| s.is_in_doubt = true, false),
        ("lapsed", |s, _| s.until = date(2027, 3, 13), false),
    ];
    let training = training();
    for (case, change, may) in cases {
        let mut held = signed(Rung::Alone);
        let mut covers = held.covers;
        change(&mut held, &mut covers);
        let all = std::slice::from_ref(&held);
        assert_eq!(training.may_sign(&held, all, &covers, ON), may, "{case}");
    }
}

#[test]
fn a_demand_only_ever_hardens() {
    for verdict in Verdict::ALL {
        let [eye, not] = [Demand::UnderEye, Demand::NotPractised].map(|one| one.harden(*verdict));
        let [eye_want, not_want] = match verdict {
            Verdict::Proceed | Verdict::ProceedWithConditions => {
                [Verdict::ProceedWithConditions, Verdict::Hold]
            }
            Verdict::Incomplete => [Verdict::Incomplete, Verdict::Hold],
            Verdict::Hold | Verdict::Refer | Verdict::Decline => [*verdict, *verdict],
        };
        assert_eq!((eye, not), (eye_want, not_want), "{verdict}");
    }
}

#[test]
fn what_is_asked_of_whom() {
    let held = |rung| Held { rung, state: PracticeState::Signed };
    for (standing, rung, want) in [
        (ArtistStanding::Artist, None, None),
        (ArtistStanding::Student, None, Some((Demand::NotPractised, Verdict::Hold))),
        (
            ArtistStanding::Student,
            Some(Rung::PracticeSkin),
            Some((Demand::UnderEye, Verdict::ProceedWithConditions)),
        ),
        (
            ArtistStanding::Student,
            Some(Rung::UnderEye),
            Some((Demand::UnderEye, Verdict::ProceedWithConditions)),
        ),
        (ArtistStanding::Student, Some(Rung::Alone), None),
    ] {
        let found = Demand::of(standing, held(rung));
        assert_eq!(found.map(|one| (one, one.verdict())), want, "{standing} {rung:?}");
    }
}

#[test]
fn a_finding_says_where_it_comes_from_and_claims_no_law() {
    let training = training();
    let held = Held { rung: None, state: PracticeState::Withdrawn };
    for language in [Language::En, Language::De] {
        for demand in [Demand::NotPractised, Demand::UnderEye] {
            let found = training.finding(demand, (Some("0.30 3RL"), held), None, language);
            assert!(found.rule.starts_with("training.") && !found.law, "{}", found.rule);
            assert!(found.because.contains("0.30 3RL"), "{}", found.because);
            assert_eq!(found.evidence[0].sources, ["common-practice"]);
        }
    }
    for key in training.texts.keys() {
        for language in [Language::En, Language::De] {
            let text = training.texts.get(language, key).to_lowercase();
            for word in
                ["required by law", "legal", "gesetzlich", "vorgeschrieben", "deeper", "tiefer"]
            {
                assert!(!text.contains(word), "{key}: {text}");
            }
        }
    }
}

#[test]
fn a_year_ends_on_its_day() {
    let training = training();
    for (from, last) in
        [(date(2027, 3, 14), date(2028, 3, 14)), (date(2028, 2, 29), date(2029, 2, 28))]
    {
        assert_eq!(training.latest_end(from), last);
    }
}
