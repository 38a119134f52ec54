//! Grades: what is met, what is missed, what is not told.

use etui_schema::drills::{
    DrillGrade, DrillGradeRequest, DrillRequest, MeasuredQuantity, Panel, TrainerMarks,
};
use etui_schema::vocabulary::{DrillKey, Language, Quantity, TrainerMark};

use proptest::prelude::*;

use super::super::{GradeError, lower, measurable};
use super::drills::request;
use super::{tools, training};
use crate::laws::cases;

const GOOD: TrainerMarks = TrainerMarks {
    depth: Some(TrainerMark::Good),
    stretch: Some(TrainerMark::Fair),
    tears: Some(TrainerMark::Good),
};

fn panels() -> Vec<Panel> {
    let (model, selector) = tools();
    training().drills((model, selector), &request(), Language::En).unwrap().panels
}

/// Values that meet every target exactly as asked.
fn as_asked(panel: &Panel) -> DrillGradeRequest {
    let got = |target: &etui_schema::drills::Target| MeasuredQuantity {
        quantity: target.quantity,
        got: target.asked,
    };
    DrillGradeRequest {
        drills: request(),
        panel: panel.number,
        values: panel.targets.iter().map(got).collect(),
        marks: Some(GOOD),
    }
}

fn grade(request: &DrillGradeRequest) -> Result<DrillGrade, GradeError> {
    let (model, selector) = tools();
    training().grade((model, selector), request, Language::En)
}

#[test]
fn every_panel_is_adequate_as_asked_and_not_just_beyond_any_limit() {
    for panel in panels() {
        let whole = as_asked(&panel);
        assert!(grade(&whole).unwrap().adequate, "{:?} {}", panel.drill, panel.number);
        for (at, target) in panel.targets.iter().enumerate() {
            for (limit, beyond) in [(target.least, -0.0002), (target.most, 0.0002)] {
                let Some(limit) = limit else { continue };
                for (got, adequate) in [(limit, true), (limit + beyond, false)] {
                    let mut request = whole.clone();
                    request.values[at].got = got;
                    let found = grade(&request).unwrap();
                    assert_eq!(found.adequate, adequate, "{:?} {:?} {got}", panel.drill, target);
                    let margin = found.quantities[at].margin.unwrap();
                    assert_eq!(0.0 <= margin, adequate, "{:?} {got}: {margin}", target.quantity);
                }
            }
        }
    }
}

#[test]
fn what_is_not_told_is_not_met() {
    for panel in panels() {
        let whole = as_asked(&panel);
        for at in 0..whole.values.len() {
            let mut request = whole.clone();
            let gone = request.values.remove(at).quantity;
            let found = grade(&request).unwrap();
            assert!(!found.adequate, "{gone}");
            let open = found.quantities.iter().find(|one| one.quantity == gone).unwrap();
            assert_eq!((open.adequate, open.cannot.as_deref()), (None, Some("not_given")));
        }
        for marks in [
            None,
            Some(TrainerMarks { depth: None, ..GOOD }),
            Some(TrainerMarks { stretch: None, ..GOOD }),
            Some(TrainerMarks { tears: Some(TrainerMark::Poor), ..GOOD }),
            Some(TrainerMarks { depth: Some(TrainerMark::Poor), ..GOOD }),
        ] {
            let request = DrillGradeRequest { marks, ..whole.clone() };
            assert!(!grade(&request).unwrap().adequate, "{marks:?}");
        }
    }
}

#[test]
fn what_cannot_be_graded_is_refused() {
    let panels = panels();
    let dots = panels.iter().find(|panel| panel.drill == DrillKey::SingleDots).unwrap();
    let whole = as_asked(dots);
    let with = |change: &dyn Fn(&mut DrillGradeRequest)| {
        let mut request = whole.clone();
        change(&mut request);
        grade(&request).unwrap_err()
    };
    let twice = with(&|r| r.values.push(r.values[0]));
    assert!(matches!(twice, GradeError::Twice { at: 3, .. }), "{twice}");
    let other = with(&|r| r.values[1] = MeasuredQuantity { quantity: Quantity::Cover, got: 0.5 });
    assert!(matches!(other, GradeError::NotJudged { at: 1, .. }), "{other}");
    let none = with(&|r| r.panel = 99);
    assert!(matches!(none, GradeError::Panel { found: 99, .. }), "{none}");
    let half = with(&|r| {
        r.drills = DrillRequest {
            configuration: etui_schema::vocabulary::Configuration {
                count: None,
                ..r.drills.configuration
            },
            ..request()
        }
    });
    assert!(matches!(half, GradeError::Drills(_)), "{half}");
}

fn off() -> impl Strategy<Value = Vec<Option<f64>>> {
    // Mostly as asked, else far off either way; or not told.
    let got = prop_oneof![
        6 => Just(Some(0.0)),
        1 => Just(Some(900.0)),
        1 => Just(Some(-900.0)),
        2 => Just(None),
    ];
    proptest::collection::vec(got, 12)
}

fn told(panel: &Panel, off: &[Option<f64>]) -> Vec<MeasuredQuantity> {
    let of = panel.targets.iter().zip(off);
    of.filter_map(|(target, off)| {
        let got = |off| MeasuredQuantity { quantity: target.quantity, got: target.asked + off };
        // What nobody can have measured is refused before.
        let possible = |one| if measurable(&[one]).is_ok() { one } else { got(-target.asked) };
        off.map(got).map(possible)
    })
    .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(cases(64)))]

    /// Measured again, a panel is adequate only if it was so and everything that was measured
    /// again is; what was not told at first is not told by a later picture.
    #[test]
    fn a_later_picture_never_makes_a_panel_better(at in any::<prop::sample::Index>(), first in off(), later in off()) {
        let panels = panels();
        let panel = at.get(&panels);
        let is_adequate = |values: &[MeasuredQuantity]| {
            let request = DrillGradeRequest { values: values.to_vec(), ..as_asked(panel) };
            grade(&request).unwrap().adequate
        };
        let (stood, again) = (told(panel, &first), told(panel, &later));
        let mut stands = stood.clone();
        lower(panel, &mut stands, &again);
        let all_met = again.iter().all(|one| {
            let target = panel.targets.iter().find(|target| target.quantity == one.quantity).unwrap();
            target.least.is_none_or(|least| least <= one.got) && target.most.is_none_or(|most| one.got <= most)
        });
        prop_assert_eq!(is_adequate(&stands), is_adequate(&stood) && all_met);
        prop_assert_eq!(stands.len(), stood.len());
        let once = stands.clone();
        lower(panel, &mut stands, &again);
        prop_assert_eq!(stands, once);
    }
}

/// There is never less than none of a quantity; a bow and a trend go both ways.
#[test]
fn what_nobody_can_have_measured_is_refused() {
    let mut two_sided = std::collections::BTreeSet::new();
    for panel in panels() {
        let whole = as_asked(&panel);
        for (at, target) in panel.targets.iter().enumerate() {
            let mut request = whole.clone();
            request.values[at].got = -0.01;
            let found = grade(&request);
            let quantity = target.quantity;
            if found.is_ok() {
                two_sided.insert(quantity);
            } else {
                assert_eq!(found, Err(GradeError::BelowNone { at, quantity }));
            }
            request.values[at].got = 0.0;
            assert!(grade(&request).is_ok(), "{quantity}");
        }
    }
    assert!(two_sided.iter().all(|one| [Quantity::BowMm, Quantity::TrendPerMm].contains(one)));
    assert!(two_sided.contains(&Quantity::BowMm));
}
