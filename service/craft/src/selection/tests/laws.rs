//! Relations that hold over the whole grid of treatments, effects, hands,
//! machines and skins.

use etui_schema::vocabulary::{Lab, Phototype, SkinSign};
use proptest::prelude::*;

use super::super::hearing::hear;
use super::super::score::{Field, pull_logarithms};
use super::*;

const STROKES_MM: [f64; 4] = [1.8, 2.5, 3.0, 4.0];
const RATES_HZ: [f64; 3] = [50.0, 100.0, 180.0];

fn thicknesses() -> [Option<Thickness>; 4] {
    [None, Some(Thickness::Fine), Some(Thickness::Normal), Some(Thickness::Thick)]
}

/// Runs `look` for every pair with a way to rank the usual range.
fn everywhere(mut look: impl FnMut((Treatment, Effect), &dyn Fn(&Setting) -> Vec<Complete>)) {
    let house = House::open();
    let general = &house.selector.rules.general;
    let traits: Vec<_> = traits_of(&house.model, house.selector.usual(), &Setting::default());
    let pull_lns = pull_logarithms(general, &traits);
    for (treatment, effect) in house.pairs() {
        let (rules, want) = house.selector.want(treatment, effect).unwrap();
        let field = Field::new(general, rules, want, &traits, &pull_lns);
        look((treatment, effect), &|setting| {
            let setting = with_site(setting, rules, effect);
            let ranking = field.ranking(&hear(general, &setting, want.into()));
            ranking.order.iter().map(|(i, _)| traits[*i].configuration).collect()
        });
    }
}

/// A place on the lid that nobody told is no better than the worst that it can be: what is
/// warned of at the lash margin or on the lid is warned of without a place. The lash margin
/// is 0.32 mm thick, the lid 0.70 (Hwang 2006).
#[test]
fn a_depth_without_a_place_is_judged_where_the_skin_is_thinnest() {
    use etui_schema::vocabulary::Site;
    let house = House::open();
    let gravity = |setting: &Setting, effect| {
        let selection = house.usual(Treatment::Eyeliner, effect, setting);
        let codes = selection.ranked.iter().flat_map(|one| &one.cautions).map(|note| &*note.code);
        let of = |code| match code {
            "through_skin" => 2,
            "nearly_through_skin" => 1,
            _ => 0,
        };
        codes.map(of).max().unwrap_or(0)
    };
    for effect in house.selector.effects(Treatment::Eyeliner) {
        for depth_mm in [None, Some(0.2), Some(0.27), Some(0.3), Some(0.4), Some(0.6), Some(0.8)] {
            for thickness in thicknesses() {
                for hand in hands() {
                    let skin = Some(Skin { thickness, ..Skin::default() });
                    let untold = Setting { depth_mm, hand, skin, ..Setting::default() };
                    let told = [Site::UpperLid, Site::LashLine]
                        .map(|site| Setting { site: Some(site), ..untold.clone() });
                    let worst = told.iter().map(|told| gravity(told, effect)).max();
                    assert_eq!(Some(gravity(&untold, effect)), worst, "{effect} {untold:?}");
                }
            }
        }
        let told = Setting { depth_mm: Some(0.4), ..Setting::default() };
        assert_eq!(gravity(&told, effect), 2, "{effect}");
        let lid = Setting { site: Some(Site::UpperLid), ..told };
        assert_eq!(gravity(&lid, effect), 0, "{effect}");
    }
}

fn hands() -> [Option<Hand>; 4] {
    [None, Some(Hand::Light), Some(Hand::Medium), Some(Hand::Heavy)]
}

fn machines() -> Vec<Option<Machine>> {
    let mut machines = vec![None];
    for stroke_mm in STROKES_MM {
        for rate_hz in RATES_HZ {
            machines.extend(Give::ALL.iter().map(|give| {
                Some(Machine {
                    stroke_mm: Some(stroke_mm),
                    rate_hz: Some(rate_hz),
                    give: Some(*give),
                })
            }));
        }
    }
    machines
}

fn skins() -> Vec<Skin> {
    let mut skins = Vec::new();
    for thickness in thicknesses() {
        for oiliness in [None, Some(Oiliness::Dry), Some(Oiliness::Oily)] {
            for sensitivity in [None, Some(Sensitivity::High)] {
                for signs in [vec![], vec![SkinSign::TearsEasily], vec![SkinSign::LargePores]] {
                    for age_years in [None, Some(68)] {
                        let signs = signs.clone();
                        let skin = Skin {
                            age_years,
                            thickness,
                            oiliness,
                            sensitivity,
                            signs,
                            ..Skin::default()
                        };
                        skins.push(skin);
                    }
                }
            }
        }
    }
    skins
}

/// Law: a weak machine never raises the best count. Common practice, 4 pages
/// (larger groups need more drive), 3 (a weak machine means repeated passes).
#[test]
fn a_weaker_machine_never_raises_the_best_count() {
    let skins = skins();
    everywhere(|pair, rank| {
        for hand in hands() {
            for skin in &skins {
                let at = |machine| {
                    let skin = Some(skin.clone());
                    rank(&Setting { hand, machine, skin, ..Setting::default() })[0]
                };
                let weak =
                    |stroke_mm, rate_hz, give| at(Some(Machine { stroke_mm, rate_hz, give })).count;
                let rising = [
                    weak(Some(1.8), Some(50.0), Some(Give::Soft)),
                    weak(Some(2.0), None, Some(Give::Soft)),
                    weak(Some(2.5), Some(80.0), None),
                    weak(Some(3.0), Some(100.0), Some(Give::Medium)),
                    weak(Some(3.5), Some(100.0), Some(Give::Medium)),
                    weak(Some(4.0), Some(200.0), Some(Give::Firm)),
                ];
                assert!(rising.is_sorted(), "{pair:?} {hand:?} {skin:?}: {rising:?}");
                assert!(weak(None, None, Some(Give::Soft)) <= at(None).count, "{pair:?} {skin:?}");
            }
        }
    });
}

/// Law: oily or thick skin never lowers the best diameter, thin, dry or very
/// sensitive skin never raises it. Common practice: 1 page and 3 pages.
#[test]
fn the_skin_moves_the_best_diameter_to_its_own_side_only() {
    let machines = machines();
    let skins = skins();
    everywhere(|pair, rank| {
        for hand in hands() {
            // Every third machine keeps the grid wide and the test short.
            for machine in machines.iter().step_by(3) {
                for base in &skins {
                    let at = |change: &dyn Fn(&mut Skin)| {
                        let mut skin = base.clone();
                        change(&mut skin);
                        let setting = Setting {
                            hand,
                            machine: *machine,
                            skin: Some(skin),
                            ..Setting::default()
                        };
                        rank(&setting)[0].diameter_mm
                    };
                    let as_is = at(&|_| {});
                    let case = || format!("{pair:?} {hand:?} {machine:?} {base:?}");
                    if matches!(base.thickness, None | Some(Thickness::Normal)) {
                        assert!(
                            as_is <= at(&|s| s.thickness = Some(Thickness::Thick)),
                            "{}",
                            case()
                        );
                        assert!(
                            at(&|s| s.thickness = Some(Thickness::Fine)) <= as_is,
                            "{}",
                            case()
                        );
                    }
                    if base.oiliness.is_none() {
                        assert!(as_is <= at(&|s| s.oiliness = Some(Oiliness::Oily)), "{}", case());
                        assert!(at(&|s| s.oiliness = Some(Oiliness::Dry)) <= as_is, "{}", case());
                    }
                    if base.sensitivity.is_none() {
                        assert!(
                            at(&|s| s.sensitivity = Some(Sensitivity::High)) <= as_is,
                            "{}",
                            case()
                        );
                    }
                }
            }
        }
    });
}

/// Law: for line effects the best round liner stands above the best round
/// shader; for a solid fill the best group stands above the best single, which
/// is set aside. Roles: every page that speaks of them.
#[test]
fn roles_hold_under_every_hand_machine_and_skin() {
    let skins = skins();
    everywhere(|pair, rank| {
        for hand in hands() {
            for machine in machines().into_iter().step_by(7) {
                for skin in skins.iter().step_by(5) {
                    let skin = Some(skin.clone());
                    let setting = Setting { hand, machine, skin, ..Setting::default() };
                    check_roles(pair, &rank(&setting), &setting);
                }
            }
        }
    });
}

fn check_roles((treatment, effect): (Treatment, Effect), ranked: &[Complete], setting: &Setting) {
    let place = |is: &dyn Fn(&Complete) -> bool| ranked.iter().position(is).unwrap_or(usize::MAX);
    let single = place(&|c| c.count == 1);
    let liner = place(&|c| c.grouping == Grouping::RoundLiner && 1 < c.count);
    let shader = place(&|c| c.grouping == Grouping::RoundShader);
    let holds = match effect {
        Effect::HairStrokes | Effect::FineLine | Effect::BoldLine => liner < shader,
        Effect::DenseFill => single == usize::MAX,
        Effect::SoftShading | Effect::AreolaShading => 0 < single,
        Effect::Pixelated | Effect::ScalpDots => single.min(liner) < shader,
    };
    assert!(holds, "{treatment} {effect} {setting:?}");
}

/// Law: skin colour alone changes nothing at all. Common practice: no page of
/// the survey ties a needle to it.
#[test]
fn colour_alone_changes_nothing_at_all() {
    let house = House::open();
    for (treatment, effect) in house.pairs() {
        for base in [Skin::default(), Skin { thickness: Some(Thickness::Fine), ..Skin::default() }]
        {
            let plain = Setting { skin: Some(base.clone()), ..Setting::default() };
            let want = house.usual(treatment, effect, &plain);
            for phototype in Phototype::ALL {
                let lab = Some(Lab { l: 35.0, a: 11.0, b: 14.0 });
                let skin = Skin { phototype: Some(*phototype), lab, ..base.clone() };
                let setting = Setting { skin: Some(skin), ..Setting::default() };
                assert_eq!(house.usual(treatment, effect, &setting), want, "{treatment} {effect}");
            }
        }
        let nothing = house.usual(treatment, effect, &Setting::default());
        let empty = Setting { skin: Some(Skin::default()), ..Setting::default() };
        assert_eq!(house.usual(treatment, effect, &empty), nothing);
    }
}

/// Law: the same request gives the same answer, whatever the order in which
/// the candidates came.
#[test]
fn the_order_of_the_candidates_does_not_matter() {
    let house = House::open();
    let mut backwards = house.selector.usual().to_vec();
    backwards.reverse();
    for (treatment, effect) in house.pairs() {
        let setting = hand(Hand::Heavy);
        let forth = house.usual(treatment, effect, &setting);
        let back = house.among(treatment, effect, &setting, &backwards);
        assert_eq!(forth.ranked, back.ranked, "{treatment} {effect}");
        assert_eq!(forth.would_change, back.would_change, "{treatment} {effect}");
    }
}

/// Law: every desirability lies above 0 and at most at 1, the order is by it,
/// every candidate is either ranked or set aside, and the whole is the
/// weighted geometric mean of its five answers.
#[test]
fn numbers_and_lists_are_sound() {
    let house = House::open();
    for (treatment, effect) in house.pairs() {
        for machine in machines().into_iter().step_by(9) {
            let setting = Setting { hand: Some(Hand::Heavy), machine, ..Setting::default() };
            let selection = house.usual(treatment, effect, &setting);
            assert_eq!(
                selection.ranked.len() + selection.set_aside.len(),
                house.selector.usual().len()
            );
            let order: Vec<_> = selection.ranked.iter().map(|r| -r.desirability).collect();
            assert!(order.windows(2).all(|w| w[0] <= w[1] + 1e-9), "{treatment} {effect}");
            for ranked in &selection.ranked {
                let weights = [1.0, 4.0, 1.0, 1.0, 1.0];
                let sum: f64 =
                    ranked.answers.iter().zip(weights).map(|(a, w)| w * a.desirability.ln()).sum();
                assert!(((sum / 8.0).exp() - ranked.desirability).abs() < 1e-9);
                for answer in &ranked.answers {
                    assert!(0.0 < answer.desirability && answer.desirability <= 1.0, "{answer:?}");
                    assert!(answer.because.ends_with('.'), "{answer:?}");
                    assert!(!answer.because.contains(['{', '}']), "{answer:?}");
                }
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(200)))]

    /// Law: the machine's law holds for any drawer, not only for the usual
    /// range.
    #[test]
    fn any_drawer_keeps_the_law_of_the_machine(
        picks in proptest::collection::vec(0usize..205, 2..30),
        pair in 0usize..21,
        strokes in (1.5..4.0f64, 0.0..2.0f64),
    ) {
        let house = House::open();
        let candidates: Vec<_> =
            picks.iter().map(|i| house.selector.usual()[*i].clone()).collect();
        let (treatment, effect) = house.pairs()[pair];
        let first = |stroke_mm| {
            let selection =
                house.among(treatment, effect, &machine(stroke_mm, 100.0, Give::Medium), &candidates);
            selection.ranked.first().map(|r| r.configuration.count)
        };
        prop_assert!(first(strokes.0) <= first(strokes.0 + strokes.1));
    }
}
