//! What is said when the skin shows trauma. Common practice: leave the spot
//! (1 page) and ask about stretch and power (2 pages); no page names a needle
//! to change to, so none is named for the spot.

use super::*;

/// Law: over the whole grid nothing is ever deeper, thicker, faster, and the
/// first word is to leave the spot.
#[test]
fn nothing_is_ever_harder_than_before() {
    let house = House::open();
    for (treatment, effect) in house.pairs() {
        for setting in [
            Setting::default(),
            hand(Hand::Heavy),
            machine(3.5, 120.0, Give::Firm),
            machine(2.0, 60.0, Give::Soft),
            skin(|s| s.thickness = Some(Thickness::Fine)),
        ] {
            let candidates = house.selector.usual();
            let request = Request { treatment, effect, setting: &setting, candidates, limit: 1 };
            let circumstances = house.model.circumstances(&setting);
            for current in ["0.20 1RL", "0.30 1RL", "0.30 3RL", "0.35 7RS", "0.30 6F", "0.30 9M1"] {
                let current = needle(current);
                let steps = house.selector.gentler(&house.model, &request, &current).unwrap();
                let pressure = |c: &Complete| house.model.measure(c, &circumstances).pressure_index;
                assert_eq!(steps[0].kind, StepKind::LeaveSpot);
                assert_eq!(steps[1].kind, StepKind::Ask);
                assert_eq!(steps.last().unwrap().kind, StepKind::Stop);
                for step in &steps {
                    let case = format!("{treatment} {effect} {current:?}: {step:?}");
                    if let Some(next) = step.configuration {
                        assert_eq!(step.kind, StepKind::Configuration, "{case}");
                        assert!(next.diameter_mm <= current.diameter_mm, "{case}");
                        assert!(next == current || pressure(&next) < pressure(&current), "{case}");
                        assert!(next.count <= 3 * current.count, "{case}");
                        assert!(step.change.contains("not for this spot"), "{case}");
                    }
                    let words = format!("{} {}", step.change, step.because).to_lowercase();
                    for never in
                        ["deeper", "faster", "higher rate", "more pressure", "longer stroke"]
                    {
                        assert!(!words.contains(never), "{case}");
                    }
                }
            }
        }
    }
}

#[test]
fn a_single_that_slices_is_followed_by_more_points_of_the_same_size_or_finer() {
    let house = House::open();
    let setting = machine(3.5, 100.0, Give::Firm);
    let candidates = list(&["0.20 1RL", "0.20 3RL", "0.25 3RL", "0.18 3RS", "0.20 5RS"]);
    let (treatment, effect) = (Treatment::Brows, Effect::HairStrokes);
    let request =
        Request { treatment, effect, setting: &setting, candidates: &candidates, limit: 9 };
    let steps = house.selector.gentler(&house.model, &request, &needle("0.20 1RL")).unwrap();
    let named: Vec<_> =
        steps.iter().filter_map(|s| s.configuration).map(|c| c.canonical()).collect();
    assert_eq!(named, ["0.20 3RL", "0.18 3RS"]);
    let kinds: Vec<_> = steps.iter().map(|s| s.kind).collect();
    assert!(kinds.contains(&StepKind::ShorterStroke) && kinds.contains(&StepKind::LowerRate));
    // On a short stroke there is nothing to shorten.
    let setting = machine(2.5, 100.0, Give::Firm);
    let request = Request { setting: &setting, ..request };
    let steps = house.selector.gentler(&house.model, &request, &needle("0.20 1RL")).unwrap();
    assert!(steps.iter().all(|s| s.kind != StepKind::ShorterStroke));
}

#[test]
fn with_nothing_gentler_the_same_needle_stays_lighter_and_slower() {
    let house = House::open();
    let setting = Setting::default();
    let candidates = list(&["0.25 5RS", "0.35 5RS", "0.25 3RS"]);
    let (treatment, effect) = (Treatment::Brows, Effect::SoftShading);
    let request =
        Request { treatment, effect, setting: &setting, candidates: &candidates, limit: 9 };
    let steps = house.selector.gentler(&house.model, &request, &needle("0.25 5RS")).unwrap();
    let step = steps.iter().find(|s| s.kind == StepKind::Configuration).unwrap();
    assert_eq!(step.configuration, Some(needle("0.25 5RS")));
    assert!(step.because.contains("lighter and slower"), "{step:?}");
}
