//! What is said when the skin shows damage. Common practice: leave the spot
//! (1 page), ask about stretch and power (2 pages), heavy bleeding ends it (3
//! pages); no page names a needle to change to. That a lid is stricter, and
//! what is worth opening a pack for, is our own choice.
//!
//! What is gentler is told here by the comparison of configurations alone.

use etui_schema::vocabulary::Site;
use etui_schema::vocabulary::aftercare::ReviewZone;
use etui_schema::vocabulary::chair::{StopScope, TraumaSign};

use super::*;
use crate::trauma::{Advice, Earlier, Step, StepKind};

/// The least share of the pressure that an offer must take away.
const WORTH: f64 = 0.15;
/// The least share of the present needle's desirability that an offer must keep.
const FITS: f64 = 0.85;

/// One case at the chair.
#[derive(Clone)]
struct Case<'a> {
    pair: (Treatment, Effect),
    setting: Setting,
    candidates: &'a [Candidate],
    current: Option<Complete>,
    signs: &'a [TraumaSign],
    place: Option<ReviewZone>,
    earlier: Option<Earlier<'a>>,
    effect_told: bool,
    spoilt: bool,
    language: Language,
}

impl<'a> Case<'a> {
    fn new(pair: (Treatment, Effect), current: &str, signs: &'a [TraumaSign]) -> Self {
        Self {
            pair,
            setting: Setting::default(),
            candidates: &[],
            current: Some(needle(current)),
            signs,
            place: None,
            earlier: None,
            effect_told: true,
            spoilt: false,
            language: Language::En,
        }
    }

    fn advice(&self, house: &House) -> Advice {
        let request = Request {
            treatment: self.pair.0,
            effect: self.pair.1,
            setting: &self.setting,
            candidates: self.candidates,
            limit: 1,
            folds: false,
            language: self.language,
        };
        let trauma = Trauma {
            signs: self.signs,
            place: self.place,
            earlier: self.earlier,
            current: self.current.as_ref(),
            effect_told: self.effect_told,
            spoilt: self.spoilt,
        };
        house.selector.on_trauma(&house.model, &request, &trauma).unwrap()
    }
}

fn kinds(advice: &Advice) -> Vec<StepKind> {
    advice.steps.iter().map(|step| step.kind).collect()
}

fn named(steps: &[Step]) -> Vec<Complete> {
    steps.iter().filter_map(|step| step.configuration).collect()
}

fn worded(advice: &Advice) -> String {
    let words = advice.steps.iter().map(|step| format!("{} {}", step.change, step.because));
    words.chain(advice.cautions.iter().cloned()).collect::<Vec<_>>().join("\n")
}

const BROWS: (Treatment, Effect) = (Treatment::Brows, Effect::SoftShading);
const LINER: (Treatment, Effect) = (Treatment::Eyeliner, Effect::FineLine);

/// Whoever stands at the chair is answered out of any drawer.
#[test]
fn a_drawer_of_any_size_is_looked_through() {
    let house = House::open();
    let all: Vec<Candidate> = (0..40_u16)
        .flat_map(|step| (1..=40_u8).map(move |count| (step, count)))
        .map(|(step, count)| {
            let diameter_mm = 0.15 + 0.005 * f64::from(step);
            Candidate::from(Complete { diameter_mm, count, ..needle("0.20 1RL") })
        })
        .collect();
    assert!(MOST_CANDIDATES < all.len());
    let signs = [TraumaSign::PinpointBleeding];
    let offered = |candidates: &[Candidate]| {
        named(&Case { candidates, ..Case::new(BROWS, "0.35 6F", &signs) }.advice(house).steps)
    };
    let (few, many) = (offered(&all[..MOST_CANDIDATES]), offered(&all));
    assert!(few.is_empty() || !many.is_empty(), "what is more takes no offer away");
}

/// Law: for every pair, hand, machine and skin, whatever is offered presses
/// less on each point and hurts less, by the comparison; it is worth taking, no
/// thicker, driven by the machine, suits nearly as well, and not one of a kind twice.
#[test]
fn whatever_is_offered_is_gentler_by_the_comparison() {
    let house = House::open();
    let machines = [
        None,
        Some((2.0, 60.0, Give::Soft)),
        Some((3.0, 100.0, Give::Medium)),
        Some((4.2, 140.0, Give::Firm)),
    ];
    let skins = [
        Skin::default(),
        Skin { thickness: Some(Thickness::Fine), age_years: Some(70), ..Skin::default() },
        Skin { oiliness: Some(Oiliness::Oily), ..Skin::default() },
    ];
    let currents = ["0.25 1RL", "0.35 3RL", "0.30 5RS", "0.35 6F"];
    for pair in house.pairs() {
        for hand in [Hand::Light, Hand::Heavy] {
            for machine in machines {
                for skin in &skins {
                    let setting = Setting {
                        hand: Some(hand),
                        machine: machine.map(|(stroke_mm, rate_hz, give)| Machine {
                            stroke_mm: Some(stroke_mm),
                            rate_hz: Some(rate_hz),
                            give: Some(give),
                        }),
                        skin: Some(skin.clone()),
                        ..Setting::default()
                    };
                    let strong = machine.is_some_and(|(stroke_mm, _, _)| 3.0 <= stroke_mm);
                    for current in currents {
                        let case = Case {
                            setting: setting.clone(),
                            candidates: house.selector.usual(),
                            ..Case::new(pair, current, &[TraumaSign::PinpointBleeding])
                        };
                        check_offers(house, &case, strong);
                    }
                }
            }
        }
    }
}

fn check_offers(house: &House, case: &Case<'_>, strong: bool) {
    let advice = case.advice(house);
    let current = case.current.unwrap();
    let circumstances = house.model.circumstances(&case.setting);
    let of = |c: &Complete| {
        let measures = house.model.measure(c, &circumstances);
        (measures.pressure_index, measures.trauma_index)
    };
    let now = of(&current);
    let offers: Vec<_> = named(&advice.steps).into_iter().filter(|c| *c != current).collect();
    let what = format!("{:?} {} {:?}: {offers:?}", case.pair, current.canonical(), case.setting);
    assert!(offers.len() <= 2, "{what}");
    let request = Request {
        treatment: case.pair.0,
        effect: case.pair.1,
        setting: &case.setting,
        candidates: &[case.candidates, &[Candidate::from(current)]].concat(),
        limit: 1,
        folds: false,
        language: Language::En,
    };
    let by_fit = house.selector.by_fit(&house.model, &request).unwrap();
    let fit = |of: &Complete| by_fit.iter().find(|(one, _)| one == of).map(|(_, ln)| ln.exp());
    let held_against = fit(&current).or(by_fit.first().map(|(_, ln)| ln.exp()));
    for next in &offers {
        let (fit, least) = (fit(next).unwrap(), FITS * held_against.unwrap());
        assert!(least - 1e-9 <= fit, "suits {fit}, least {least}, {what}");
        let then = of(next);
        assert!(then.0 <= (1.0 - WORTH) * now.0 + 1e-9, "pressure, {what}");
        assert!(then.1 < now.1, "trauma index, {what}");
        assert!(next.diameter_mm <= current.diameter_mm, "thicker, {what}");
        assert!(strong || next.count <= current.count, "the machine does not drive it, {what}");
    }
    if let [one, other] = &offers[..] {
        assert!(one.grouping != other.grouping, "one of a kind, {what}");
        assert!(other.grouping != current.grouping, "its own grouping first, {what}");
    }
}

/// Law: where work stops, stopping is the first word and no needle is named,
/// whatever the signs, the site and the place; and no sentence makes anything
/// harder, in neither language.
#[test]
fn where_work_stops_no_needle_is_named() {
    let house = House::open();
    let candidates = list(&["0.20 1RL", "0.25 3RL", "0.25 5RS", "0.20 7RS", "0.30 7M1"]);
    let places = [None, Some(ReviewZone::Whole), Some(ReviewZone::BrowTail)];
    let never = [
        "deeper",
        "faster",
        "higher rate",
        "more pressure",
        "longer stroke",
        "tiefer arbeiten",
        "schneller arbeiten",
    ];
    for pair in [BROWS, LINER, (Treatment::Lips, Effect::DenseFill)] {
        for first in TraumaSign::ALL {
            for second in TraumaSign::ALL {
                for place in places {
                    for language in [Language::En, Language::De] {
                        let signs = [*first, *second];
                        let case = Case {
                            candidates: &candidates,
                            setting: machine(3.5, 120.0, Give::Firm),
                            place,
                            language,
                            ..Case::new(pair, "0.30 3RL", &signs)
                        };
                        let advice = case.advice(house);
                        let what = format!("{pair:?} {signs:?} {place:?}: {advice:?}");
                        let words = worded(&advice);
                        assert!(!words.contains('{'), "{what}");
                        for word in never {
                            assert!(!words.to_lowercase().contains(word), "{word}: {what}");
                        }
                        if advice.stop {
                            assert_eq!(advice.steps[0].kind, StepKind::Stop, "{what}");
                            assert!(named(&advice.steps).is_empty(), "{what}");
                            assert!(
                                candidates
                                    .iter()
                                    .all(|c| !words.contains(&c.configuration.canonical())),
                                "{what}"
                            );
                        } else {
                            assert_eq!(advice.steps[0].kind, StepKind::LeaveSpot, "{what}");
                        }
                    }
                }
            }
        }
    }
}

/// Law: another sign beside what was seen, or a place that nobody told, never
/// lets work go on that would have stopped.
#[test]
fn seeing_more_or_telling_less_never_lets_work_go_on() {
    let house = House::open();
    for pair in [BROWS, LINER] {
        for sign in TraumaSign::ALL {
            let signs = [*sign];
            let told =
                Case { place: Some(ReviewZone::BrowTail), ..Case::new(pair, "0.30 3RL", &signs) };
            let untold = Case::new(pair, "0.30 3RL", &signs);
            let (told, untold) = (told.advice(house), untold.advice(house));
            assert!(!told.stop || untold.stop, "{sign}");
            assert!(told.scope == untold.scope, "{sign}");
            for other in TraumaSign::ALL {
                let both = [*sign, *other];
                let both = Case::new(pair, "0.30 3RL", &both).advice(house);
                assert!(!untold.stop || both.stop, "{sign} {other}");
                assert!(untold.scope <= both.scope, "{sign} {other}");
            }
        }
    }
}

/// Law: what stops a spot, or of which a step says to stop altogether if it shows elsewhere too,
/// ends the session on the whole area, and nobody is told that it was not said where; what lets
/// work go on there does so here. Where nobody told the place, it is asked.
#[test]
fn what_stops_a_spot_ends_the_session_on_the_whole_area() {
    let house = House::open();
    for sign in TraumaSign::ALL {
        let signs = [*sign];
        for language in [Language::En, Language::De] {
            let spot = Case {
                place: Some(ReviewZone::BrowTail),
                language,
                ..Case::new(BROWS, "0.30 3RL", &signs)
            };
            let at_a_spot = spot.advice(house);
            let scope = at_a_spot.scope;
            let says = worded(&at_a_spot);
            let warns = ["shows elsewhere too", "auch an anderer Stelle zeigt"]
                .iter()
                .any(|words| says.contains(words));
            let unplaced = Case { place: None, ..spot.clone() }.advice(house);
            let where_is_it = ["record it again with its place", "noch einmal mit der Stelle fest"];
            let asks = where_is_it
                .iter()
                .any(|words| worded(&unplaced).to_lowercase().contains(&words.to_lowercase()));
            let whole = Case { place: Some(ReviewZone::Whole), ..spot }.advice(house);
            let ends = warns || scope.is_some();
            assert_eq!(whole.scope, ends.then_some(StopScope::Session), "{sign}");
            assert_eq!(whole.stop, ends, "{sign}");
            assert_eq!(asks, ends && scope != Some(StopScope::Session), "{sign}");
            assert_eq!(house.selector.finishes_spot(*sign), scope.is_some(), "{sign}");
            assert_eq!(house.selector.spreads(*sign), ends, "{sign}");
            let words = worded(&whole);
            for untrue in ["not said where", "nicht gesagt, wo"] {
                assert!(!words.contains(untrue), "{sign}: {words}");
            }
        }
    }
}

/// What was recorded before and alone stops the work is named, and nothing that is done for it is
/// said of the spot that is seen now.
#[test]
fn what_was_recorded_before_is_named_where_it_stops_the_work() {
    use TraumaSign::{Bruising, HeavyBleeding, PinpointBleeding, PoorUptake, Weeping};
    let house = House::open();
    let (tail, whole) = (Some(ReviewZone::BrowTail), Some(ReviewZone::Whole));
    for (sign, earlier, together, en, de) in [
        (
            PoorUptake,
            &[HeavyBleeding][..],
            whole,
            "earlier: heavy bleeding.",
            "wurde: starke Blutung.",
        ),
        (
            PinpointBleeding,
            &[HeavyBleeding, PoorUptake],
            whole,
            "earlier: heavy bleeding.",
            "starke Blutung.",
        ),
        (Weeping, &[HeavyBleeding], whole, "earlier: heavy bleeding.", "starke Blutung."),
        (
            PoorUptake,
            &[Weeping],
            None,
            "without its place: weeping.",
            "ohne Angabe der Stelle festgehalten wurde: Nässen.",
        ),
        (
            Weeping,
            &[Bruising],
            None,
            "without its place: a bruise.",
            "festgehalten wurde: Bluterguss.",
        ),
        // What stops by itself is said of itself.
        (HeavyBleeding, &[HeavyBleeding], whole, "Press on it", "Drücken Sie"),
        // A spot that is finished lets the rest go on.
        (PoorUptake, &[Weeping], tail, "Stop at this spot", "Hören Sie an dieser Stelle"),
    ] {
        for (language, words) in [(Language::En, en), (Language::De, de)] {
            let signs = [sign];
            let earlier = Some(Earlier { signs: earlier, place: together });
            let case =
                Case { place: tail, earlier, language, ..Case::new(BROWS, "0.30 3RL", &signs) };
            let advice = case.advice(house);
            let said = worded(&advice);
            assert!(said.contains(words), "{sign} {words}: {said}");
            assert!(!said.contains('{'), "{said}");
            assert_eq!(advice.stop, together != tail, "{said}");
            let presses = said.contains("Press on it") || said.contains("Drücken Sie mit");
            assert_eq!(presses, sign == HeavyBleeding, "{said}");
        }
    }
}

#[test]
fn each_sign_stops_as_far_as_its_site_asks() {
    let house = House::open();
    use StopScope::{Session, Spot};
    for (sign, on_a_brow, on_a_lid) in [
        (TraumaSign::PinpointBleeding, None, None),
        (TraumaSign::HeavyBleeding, Some(Session), Some(Session)),
        (TraumaSign::Weeping, Some(Spot), Some(Session)),
        (TraumaSign::Shredded, Some(Session), Some(Session)),
        (TraumaSign::Swelling, None, Some(Session)),
        (TraumaSign::Bruising, Some(Spot), Some(Session)),
        (TraumaSign::SpreadingRedness, Some(Session), Some(Session)),
        (TraumaSign::StrongPain, None, Some(Session)),
        (TraumaSign::PoorUptake, None, None),
        (TraumaSign::Blowout, Some(Session), Some(Session)),
    ] {
        let signs = [sign];
        assert_eq!(Case::new(BROWS, "0.30 3RL", &signs).advice(house).scope, on_a_brow, "{sign}");
        assert_eq!(Case::new(LINER, "0.30 3RL", &signs).advice(house).scope, on_a_lid, "{sign}");
        let site = Setting { site: Some(Site::UpperLid), ..Setting::default() };
        let lid = Case { setting: site, ..Case::new(LINER, "0.30 3RL", &signs) };
        assert_eq!(lid.advice(house).scope, on_a_lid, "{sign}");
    }
}

#[test]
fn a_spot_that_weeps_is_finished_and_the_rest_goes_on_where_it_was_told() {
    let house = House::open();
    let candidates = list(&["0.25 3RS", "0.25 7RS", "0.25 5RS"]);
    let weeps = Case {
        candidates: &candidates,
        setting: machine(3.5, 100.0, Give::Firm),
        place: Some(ReviewZone::BrowTail),
        ..Case::new(BROWS, "0.25 3RS", &[TraumaSign::Weeping])
    };
    let advice = weeps.advice(house);
    assert_eq!((advice.stop, advice.scope), (false, Some(StopScope::Spot)));
    assert_eq!(advice.steps[0].kind, StepKind::LeaveSpot);
    assert_eq!(named(&advice.steps), [needle("0.25 7RS")]);
    let kinds = kinds(&advice);
    for kind in [StepKind::Ask, StepKind::LighterHand, StepKind::LowerRate, StepKind::Stop] {
        assert!(kinds.contains(&kind), "{kind:?}: {kinds:?}");
    }
    // Nobody told where: nothing around it is advised, and it is asked.
    let nowhere = Case { place: None, ..weeps }.advice(house);
    assert!(nowhere.stop && named(&nowhere.steps).is_empty());
    assert!(nowhere.steps.iter().any(|step| step.change.contains("Where is it?")));
}

#[test]
fn skin_that_takes_nothing_is_asked_about_and_left() {
    let house = House::open();
    let candidates = list(&["0.25 3RS", "0.25 7RS"]);
    let setting = machine(3.5, 100.0, Give::Firm);
    let pale = Case {
        candidates: &candidates,
        setting: setting.clone(),
        ..Case::new(BROWS, "0.25 3RS", &[TraumaSign::PoorUptake])
    };
    let advice = pale.advice(house);
    assert_eq!(kinds(&advice), [StepKind::LeaveSpot, StepKind::Ask, StepKind::TouchUp]);
    let words = worded(&advice);
    for asked in ["stretched", "drive", "points"] {
        assert!(advice.steps[1].change.contains(asked), "{words}");
    }
    let bleeds = Case {
        candidates: &candidates,
        setting,
        ..Case::new(BROWS, "0.25 3RS", &[TraumaSign::PinpointBleeding])
    };
    assert_ne!(advice.steps, bleeds.advice(house).steps);
}

/// A rate is lowered where there is room, a stroke shortened where it is long,
/// and on a weak machine neither: its needles may not be entering.
#[test]
fn the_machine_is_turned_down_where_there_is_room() {
    let house = House::open();
    for (setting, rate, stroke) in [
        (machine(3.5, 120.0, Give::Firm), true, true),
        (machine(3.5, 30.0, Give::Firm), false, true),
        (machine(2.5, 120.0, Give::Firm), true, false),
        (machine(2.0, 120.0, Give::Soft), false, false),
        (Setting::default(), true, true),
    ] {
        let signs = [TraumaSign::PinpointBleeding];
        let case = Case { setting, ..Case::new(BROWS, "0.25 3RS", &signs) };
        let kinds = kinds(&case.advice(house));
        let found = [StepKind::LowerRate, StepKind::ShorterStroke].map(|k| kinds.contains(&k));
        assert_eq!(found, [rate, stroke], "{:?}", case.setting);
    }
}

/// A machine of which less is known drives no larger a group.
#[test]
fn an_untold_machine_is_not_a_strong_one() {
    let house = House::open();
    let told = Machine { stroke_mm: Some(3.5), rate_hz: Some(100.0), give: Some(Give::Firm) };
    let offers = |machine| {
        let case = Case {
            candidates: house.selector.usual(),
            setting: Setting { machine, ..Setting::default() },
            ..Case::new(BROWS, "0.25 3RS", &[TraumaSign::PinpointBleeding])
        };
        named(&case.advice(house).steps).into_iter().filter(|next| 3 < next.count).count()
    };
    assert!(0 < offers(Some(told)));
    for machine in [
        None,
        Some(Machine { stroke_mm: None, ..told }),
        Some(Machine { stroke_mm: Some(2.0), give: Some(Give::Soft), ..told }),
    ] {
        assert_eq!(offers(machine), 0, "{machine:?}");
    }
}

/// What suits the effect, and is of the grouping in the hand, comes before what is gentlest.
#[test]
fn what_is_offered_is_a_needle_for_the_effect() {
    let house = House::open();
    let usual = house.selector.usual().to_vec();
    let strokes = list(&["0.25 3RL", "0.25 3RS", "0.25 3F"]);
    for (pair, current, candidates) in [
        ((Treatment::Brows, Effect::HairStrokes), "0.25 1RL", &strokes),
        (BROWS, "0.30 5RS", &usual),
        ((Treatment::Lips, Effect::Pixelated), "0.25 3RL", &usual),
        ((Treatment::Eyeliner, Effect::SoftShading), "0.25 5RS", &usual),
    ] {
        let case = Case {
            candidates,
            setting: machine(3.5, 100.0, Give::Firm),
            ..Case::new(pair, current, &[TraumaSign::PinpointBleeding])
        };
        let named = named(&case.advice(house).steps);
        let found: Vec<String> = named.iter().map(Complete::canonical).collect();
        assert_eq!(named[0].grouping, needle(current).grouping, "{pair:?} {current}: {found:?}");
    }
}

/// Where only a machine of which more was told would drive what is gentler, that is said.
#[test]
fn the_machine_that_was_not_told_is_named_where_nothing_is_gentler() {
    let house = House::open();
    let strokes = list(&["0.25 3RL"]);
    let told = Machine { stroke_mm: Some(2.0), rate_hz: Some(60.0), give: Some(Give::Soft) };
    for (language, words) in [(Language::En, "machine's stroke"), (Language::De, "Zum Gerät fehlt")]
    {
        for (candidates, machine, named) in [
            (&strokes[..], None, true),
            (&strokes, Some(Machine { give: None, ..told }), true),
            (&strokes, Some(told), false),
            (&[], None, false),
        ] {
            let case = Case {
                candidates,
                language,
                setting: Setting { machine, ..Setting::default() },
                ..Case::new(
                    (Treatment::Brows, Effect::HairStrokes),
                    "0.25 1RL",
                    &[TraumaSign::PinpointBleeding],
                )
            };
            let said = worded(&case.advice(house));
            assert_eq!(said.contains(words), named, "{machine:?}: {said}");
        }
    }
}

#[test]
fn a_needle_that_does_not_suit_the_effect_is_named_as_such() {
    let house = House::open();
    let candidates = list(&["0.20 1RL"]);
    let strokes = Case {
        candidates: &candidates,
        place: Some(ReviewZone::BrowTail),
        ..Case::new((Treatment::Brows, Effect::HairStrokes), "0.35 7M1", &[TraumaSign::Weeping])
    };
    let advice = strokes.advice(house);
    assert!(worded(&advice).contains("0.35 7M1 is not a needle for hair strokes"), "{advice:?}");
    assert!(!named(&advice.steps).contains(&needle("0.35 7M1")));
    let german = Case { language: Language::De, ..strokes }.advice(house);
    assert!(worded(&german).contains("keine Nadel für Härchenzeichnung"), "{german:?}");
}

#[test]
fn without_an_effect_no_needle_is_named_and_it_is_asked() {
    let house = House::open();
    let case = Case {
        candidates: house.selector.usual(),
        setting: machine(3.5, 100.0, Give::Firm),
        effect_told: false,
        ..Case::new(BROWS, "0.25 3RS", &[TraumaSign::PinpointBleeding])
    };
    let advice = case.advice(house);
    assert!(named(&advice.steps).is_empty(), "{advice:?}");
    assert!(worded(&advice).contains("Which effect"), "{advice:?}");
}

/// Of needles that differ in thickness alone the one that presses less is
/// enough: fine points cut.
#[test]
fn a_finer_needle_that_presses_more_is_not_offered() {
    let house = House::open();
    let candidates = list(&["0.25 3RL", "0.20 3RL", "0.18 3RL"]);
    let case = Case {
        candidates: &candidates,
        setting: machine(3.5, 100.0, Give::Firm),
        ..Case::new(
            (Treatment::Brows, Effect::Pixelated),
            "0.25 1RL",
            &[TraumaSign::PinpointBleeding],
        )
    };
    assert_eq!(named(&case.advice(house).steps), [needle("0.25 3RL")]);
}

#[test]
fn with_nothing_gentler_the_same_needle_stays_and_the_hand_moves() {
    let house = House::open();
    let candidates = list(&["0.25 5RS", "0.35 5RS", "0.25 3RS"]);
    let case = Case {
        candidates: &candidates,
        ..Case::new(BROWS, "0.25 5RS", &[TraumaSign::PinpointBleeding])
    };
    let advice = case.advice(house);
    assert_eq!(named(&advice.steps), [needle("0.25 5RS")]);
    let words = worded(&advice);
    assert!(words.contains("keep moving") && !words.contains("slower"), "{words}");
}

/// Planning ahead is the same function with nothing seen yet.
#[test]
fn what_to_change_to_is_planned_by_the_same_rules() {
    let house = House::open();
    for setting in
        [Setting::default(), machine(2.0, 30.0, Give::Soft), machine(3.5, 140.0, Give::Firm)]
    {
        for (treatment, effect) in house.pairs() {
            let selection = house.usual(treatment, effect, &setting);
            let first = selection.ranked[0].configuration;
            let case = Case {
                pair: (treatment, effect),
                setting: setting.clone(),
                candidates: house.selector.usual(),
                current: Some(first),
                signs: &[],
                place: None,
                earlier: None,
                effect_told: true,
                spoilt: false,
                language: Language::En,
            };
            assert_eq!(selection.step_up, case.advice(house).steps, "{treatment} {effect}");
        }
    }
}

/// Common practice, no source: a group one of whose tips hangs in the air is
/// worth less than the same work with all of them in the skin.
#[test]
fn tips_that_hang_in_the_air_cost() {
    let house = House::open();
    let (treatment, effect) = (Treatment::Areola, Effect::DenseFill);
    let selection = house.usual(treatment, effect, &Setting::default());
    let hangs = |r: &Ranked| r.cautions.iter().any(|c| &*c.code == "tips_out_of_skin");
    let place = selection.ranked.iter().position(hangs).unwrap();
    assert!(3 < place, "{:?}", texts(&selection)[..5].to_vec());
}

/// A track that is exactly as broad as the limit is judged alike in every
/// thickness: it is the layout that is compared.
#[test]
fn an_exact_limit_does_not_turn_on_the_last_bit() {
    let house = House::open();
    let candidates: Vec<_> = (150..=450)
        .step_by(5)
        .map(|um| {
            let diameter_mm = f64::from(um) / 1000.0;
            Candidate::from(Complete { diameter_mm, ..needle("0.30 7F") })
        })
        .collect();
    let selection =
        house.among(Treatment::Lips, Effect::BoldLine, &Setting::default(), &candidates);
    assert!(selection.ranked.is_empty(), "{:?}", texts(&selection));
}

/// Pigment that spread is not worked over: nobody is told to finish it, to chase it, or that
/// the skin would not hold it. Common practice.
#[test]
fn pigment_that_spread_is_not_finished_at_the_touch_up() {
    let house = House::open();
    for other in TraumaSign::ALL {
        for (language, never) in [
            (Language::En, ["touch-up", "Finish it", "holds no pigment"]),
            (Language::De, ["Nachbehandlung", "fertig, leichter", "hält Pigment schlecht"]),
        ] {
            let signs = [TraumaSign::Blowout, *other];
            let case = Case { language, ..Case::new(BROWS, "0.30 3RL", &signs) };
            let advice = case.advice(house);
            let words = worded(&advice);
            for said in never {
                assert!(!words.contains(said), "{other}: {words}");
            }
            assert!(!kinds(&advice).contains(&StepKind::TouchUp), "{other}: {words}");
        }
    }
}

/// Of whatever is seen, wherever, no sentence of an answer is said twice, and none begins as
/// if it were the first; where skin is not hurt nobody is told when to get help.
#[test]
fn nothing_is_said_twice_at_the_chair() {
    let house = House::open();
    let places = [None, Some(ReviewZone::Whole), Some(ReviewZone::BrowTail)];
    for pair in [BROWS, LINER] {
        for first in TraumaSign::ALL {
            for second in TraumaSign::ALL {
                for place in places {
                    for language in [Language::En, Language::De] {
                        let signs = [*first, *second];
                        let case = Case { place, language, ..Case::new(pair, "0.30 3RL", &signs) };
                        check_once(&case.advice(house), &signs);
                    }
                }
            }
        }
    }
}

fn check_once(advice: &Advice, signs: &[TraumaSign]) {
    let words = worded(advice);
    let ends = |c: char| matches!(c, '.' | '?' | '!' | ';' | '\n');
    let mut said: Vec<String> = Vec::new();
    for sentence in words.split(ends).map(|one| one.trim().to_lowercase()) {
        if !sentence.is_empty() {
            assert!(!said.contains(&sentence), "{signs:?} {sentence}: {words}");
            said.push(sentence);
        }
    }
    for first in ["Before anything else", "Zuerst:"] {
        assert!(!words.contains(first), "{signs:?}: {words}");
    }
    let helps = words.contains("client feels unwell, or if the skin gets hot")
        || words.contains("wird die Haut heiß und schwillt schnell an");
    assert_eq!(helps, signs.iter().any(|sign| *sign != TraumaSign::PoorUptake), "{words}");
}

/// Where the record speaks against the pack in use, another kind of needle is no answer: the same out
/// of another lot is, and where none lies ready the one in the hand is put away all the same.
#[test]
fn a_needle_out_of_a_spoilt_pack_is_replaced_by_the_same() {
    let house = House::open();
    let gentler = Candidate::from(needle("0.30 9F"));
    let same = Candidate::from(needle("0.35 6F"));
    let (both, other) = ([gentler.clone(), same], [gentler]);
    for signs in [[TraumaSign::PinpointBleeding], [TraumaSign::PoorUptake]] {
        for effect_told in [true, false] {
            let sound = Case { effect_told, ..Case::new(BROWS, "0.35 6F", &signs) };
            let advice = Case { candidates: &both, spoilt: true, ..sound.clone() }.advice(house);
            assert_eq!(named(&advice.steps), [needle("0.35 6F")], "{}", worded(&advice));
            assert!(worded(&advice).contains("fresh pack"), "{}", worded(&advice));
            let advice = Case { candidates: &other, spoilt: true, ..sound.clone() }.advice(house);
            assert!(!named(&advice.steps).contains(&needle("0.35 6F")), "{}", worded(&advice));
            assert!(worded(&advice).contains("Put the needle away"), "{}", worded(&advice));
            let advice = Case { candidates: &both, ..sound }.advice(house);
            assert!(!worded(&advice).contains("fresh pack"), "{}", worded(&advice));
        }
    }
    let stops = [TraumaSign::HeavyBleeding];
    let ends = Case { candidates: &both, spoilt: true, ..Case::new(BROWS, "0.35 6F", &stops) };
    assert!(named(&ends.advice(house).steps).is_empty());
}
