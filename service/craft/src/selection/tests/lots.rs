//! Candidates out of the drawer.

use jiff::civil::date;

use super::*;

fn lot(id: &str, expires_on: Option<jiff::civil::Date>) -> Lot {
    Lot { id: id.into(), expires_on }
}

#[test]
fn lots_come_first_expired_first_out_and_same_needles_are_one() {
    let house = House::open();
    let single = |lots| Candidate { configuration: needle("0.20 1RL"), lots };
    let candidates = [
        single(vec![lot("no date", None), lot("b", Some(date(2028, 3, 1)))]),
        Candidate { configuration: needle("0.30 7M1"), lots: vec![lot("m", None)] },
        single(vec![lot("c", Some(date(2027, 1, 31))), lot("a", Some(date(2028, 3, 1)))]),
    ];
    let selection =
        house.among(Treatment::Brows, Effect::HairStrokes, &Setting::default(), &candidates);
    assert_eq!(selection.ranked.len(), 1);
    let ids: Vec<_> = selection.ranked[0].lots.iter().map(|lot| &*lot.id).collect();
    assert_eq!(ids, ["c", "a", "b", "no date"]);
    // What is set aside keeps its lots too: the drawer stays whole.
    assert_eq!(selection.set_aside[0].lots, [lot("m", None)]);
}

#[test]
fn of_many_lots_of_a_needle_those_that_expire_first_are_told() {
    let house = House::open();
    let months = |at: i16| date(2027 + at / 12, i8::try_from(at % 12).unwrap() + 1, 1);
    let lots = (0..60).rev().map(|at| lot(&at.to_string(), Some(months(at)))).collect();
    let many = [Candidate { configuration: needle("0.20 1RL"), lots }];
    let selection = house.among(Treatment::Brows, Effect::HairStrokes, &Setting::default(), &many);
    let ids: Vec<_> = selection.ranked[0].lots.iter().map(|lot| lot.id.to_string()).collect();
    let first: Vec<_> = (0..50).map(|at| at.to_string()).collect();
    assert_eq!(ids, first);
}

#[test]
fn an_empty_drawer_ranks_nothing_and_an_overfull_one_is_refused() {
    let house = House::open();
    let setting = Setting::default();
    let select = |candidates: &[Candidate]| {
        let (treatment, effect) = (Treatment::Brows, Effect::HairStrokes);
        let language = Language::En;
        let limit = 1;
        let request = Request {
            treatment,
            effect,
            setting: &setting,
            candidates,
            limit,
            folds: false,
            language,
        };
        house.selector.select(&house.model, &request)
    };
    let nothing = select(&[]).unwrap();
    assert!(nothing.ranked.is_empty() && nothing.set_aside.is_empty());
    assert!(!nothing.hints.is_empty() && !nothing.differing_views.is_empty());
    assert!(nothing.would_change.is_empty());
    // Any number of lots of one configuration is one candidate.
    let lots = vec![Candidate::from(needle("0.20 1RL")); MOST_CANDIDATES + 1];
    assert_eq!(select(&lots).unwrap().ranked.len(), 1);
    let many: Vec<_> = (1..=MOST_CANDIDATES + 1)
        .map(|at| {
            let count = u8::try_from(at % 40 + 1).unwrap();
            let step = f64::from(u16::try_from(at / 40).unwrap());
            let diameter_mm = 0.15 + 0.005 * step;
            Candidate::from(Complete { diameter_mm, count, ..needle("0.20 1RL") })
        })
        .collect();
    assert_eq!(
        select(&many).unwrap_err().to_string(),
        "1001 candidates are more than the 1000 that are ranked at once"
    );
    assert!(select(&many[1..]).is_ok());
}

#[test]
fn only_unsuitable_candidates_leave_an_empty_ranking_with_reasons() {
    let house = House::open();
    let candidates = list(&["0.30 9M1", "0.20 14BLADE"]);
    let selection =
        house.among(Treatment::Brows, Effect::HairStrokes, &Setting::default(), &candidates);
    assert!(selection.ranked.is_empty() && selection.step_up.is_empty());
    assert_eq!(selection.set_aside[1].question, Question::Machine);
    assert_eq!(selection.set_aside[1].because, "a hand blade is not driven by a machine");
    let change = selection.would_change.iter().find(|c| c.to == "dense_fill").unwrap();
    assert_eq!(change.then_first.as_deref(), Some("0.30 9M1"));
}

#[test]
fn the_limit_describes_the_first_and_the_best_of_every_form() {
    let house = House::open();
    let setting = Setting::default();
    let request = Request {
        treatment: Treatment::Lips,
        effect: Effect::DenseFill,
        setting: &setting,
        candidates: house.selector.usual(),
        limit: 5,
        folds: false,
        language: Language::En,
    };
    let selection = house.selector.select(&house.model, &request).unwrap();
    let all = house.usual(Treatment::Lips, Effect::DenseFill, &setting);
    assert_eq!(selection.ranked[..5], all.ranked[..5]);
    assert_eq!(selection.ranked.len() + selection.not_shown, all.ranked.len());
    for form in Form::ALL {
        let of = |r: &&Ranked| {
            Form::of(r.configuration.grouping, r.configuration.count) == Some((*form, None))
        };
        assert_eq!(selection.ranked.iter().find(of), all.ranked.iter().find(of), "{form}");
    }
}

/// Beside the first of its kind stands what differs in the diameter alone, serves
/// about as well and has nothing more to mind; so the next that is shown is another
/// needle, and nothing is lost.
#[test]
fn near_identical_needles_stand_as_one() {
    let house = House::open();
    for (treatment, effect) in house.pairs() {
        for setting in super::voice::settings().iter().step_by(11) {
            let request = Request {
                treatment,
                effect,
                setting,
                candidates: house.selector.usual(),
                limit: 4,
                folds: true,
                language: Language::En,
            };
            let folded = house.selector.select(&house.model, &request).unwrap();
            let all = house.usual(treatment, effect, setting);
            let case = || format!("{treatment} {effect} {setting:?}");
            let whole = |one: &Complete| {
                all.ranked.iter().find(|ranked| ranked.configuration == *one).unwrap()
            };
            let beside: usize = folded.ranked.iter().map(|one| one.alike.len()).sum();
            let count = folded.ranked.len() + beside + folded.not_shown;
            assert_eq!(count, all.ranked.len(), "{}", case());
            assert_eq!(folded.ranked[0].configuration, all.ranked[0].configuration, "{}", case());
            for one in &folded.ranked {
                let noted = |own: &NeedleNote| {
                    one.cautions.iter().chain(&one.remarks).any(|note| note.code == own.code)
                };
                for other in &one.alike {
                    let Complete { diameter_mm, .. } = *other;
                    assert_eq!(Complete { diameter_mm, ..one.configuration }, *other, "{}", case());
                    let ranked = whole(other);
                    assert!(0.9 * one.desirability <= ranked.desirability + 1e-12, "{}", case());
                    for note in ranked.cautions.iter().chain(&ranked.remarks) {
                        assert!(noted(note), "{} {}", case(), note.code);
                    }
                }
            }
        }
    }
}

/// Law: among the first five of the usual range no kind stands in three diameters, and no
/// grouping fills them alone, whatever is told. Our own rule.
#[test]
fn the_first_five_are_no_one_needle_in_five_diameters() {
    let house = House::open();
    for (treatment, effect) in house.pairs() {
        for setting in super::voice::settings().iter().step_by(7) {
            let candidates = house.selector.usual();
            let (limit, folds, language) = (12, true, Language::En);
            let request =
                Request { treatment, effect, setting, candidates, limit, folds, language };
            let shown = house.selector.select(&house.model, &request).unwrap();
            let first: Vec<Complete> =
                shown.ranked.iter().take(5).map(|one| one.configuration).collect();
            let case = || format!("{treatment} {effect} {setting:?}: {:?}", texts(&shown));
            for one in &first {
                let kind =
                    |other: &&Complete| (other.grouping, other.count) == (one.grouping, one.count);
                assert!(first.iter().filter(kind).count() <= 2, "{}", case());
            }
            assert!(
                shown.ranked.is_sorted_by(|a, b| b.desirability <= a.desirability),
                "{}",
                case()
            );
        }
    }
}

/// Not told which of two: never better than the less suitable.
#[test]
fn a_packet_that_does_not_tell_is_judged_as_the_less_suitable() {
    let house = House::open();
    let candidates = list(&["0.25 3RL", "0.25 3R", "0.25 3RS"]);
    let selection =
        house.among(Treatment::Lips, Effect::FineLine, &Setting::default(), &candidates);
    assert_eq!(selection.ranked[0].configuration, needle("0.25 3RL"));
    let round =
        selection.ranked.iter().find(|r| r.configuration.grouping == Grouping::Round).unwrap();
    assert!(round.remarks.iter().any(|r| r.message.contains("does not say which kind")));
    let magnums = list(&["0.30 9M1", "0.30 9M", "0.30 9M2"]);
    let selection = house.among(Treatment::Lips, Effect::DenseFill, &Setting::default(), &magnums);
    assert_ne!(selection.ranked[0].configuration.grouping, Grouping::Magnum);
}
