//! Targets against published examples and against the simulator of patterns.

use etui_schema::drills::{DrillRequest, Drills};
use etui_schema::vocabulary::{
    Configuration, DrillKey, DrillLevel, Effect, Grouping, Hand, Language, Machine, Quantity,
    Setting, Site, Taper,
};

use super::super::{DrillError, Line, chance_evenness};
use super::{near, tools, training};
use crate::configuration::hull::Point;
use crate::configuration::pattern::{Ground, Jitter, Pattern, PatternRequest};
use crate::configuration::{Complete, Model};

const STEADY: Jitter = Jitter { pace: 0.0, turn_deg: 0.0, wander_mm: 0.0 };

const LINER: Complete = Complete {
    diameter_mm: 0.30,
    count: 3,
    grouping: Grouping::RoundLiner,
    taper: Some(Taper::Long),
};
const SHADER: Complete =
    Complete { diameter_mm: 0.25, count: 3, grouping: Grouping::RoundShader, taper: None };
const SINGLE: Complete =
    Complete { diameter_mm: 0.30, count: 1, grouping: Grouping::RoundLiner, taper: None };

fn brow() -> Setting {
    Setting { hand: Some(Hand::Medium), site: Some(Site::Brow), ..Setting::default() }
}

fn line(model: &Model, configuration: &Complete) -> Line {
    Line::of(model, configuration, &model.circumstances(&brow()), None)
}

#[test]
fn widths_paces_and_passes_as_reckoned_by_hand() {
    let (model, _) = tools();
    let liner = line(model, &LINER);
    near(liner.mark_mm, 0.102, 0.0006, "mark");
    near(liner.extent_mm(), 3.0 * 0.30 / std::f64::consts::PI, 1e-9, "perimeter over pi");
    near(liner.width_mm(), 0.388, 0.0006, "width");
    let [narrowest, widest] = liner.width_range_mm();
    near(narrowest, 0.362, 0.0006, "narrowest");
    near(widest, 0.402, 0.0006, "widest");
    near(liner.unbroken_mm_s(0.8), 6.1, 0.05, "unbroken");
    near(Line { mark_mm: 0.10, ..liner }.apart_mm_s(0.15) / 100.0, 0.25, 1e-9, "apart");
    let shader = line(model, &SHADER);
    near(shader.per_mm2, 23.99, 0.006, "marks a mm² of one pass");
    near(shader.mark_area_mm2, 0.01008, 0.000_01, "area of a mark");
    for (cover, passes) in [(0.2, 1), (0.5, 3), (0.8, 7)] {
        assert_eq!(shader.field(cover).0, passes, "cover {cover}");
    }
}

/// A measured mark takes the place of the reckoned one in everything.
#[test]
fn a_measured_mark_counts() {
    let (model, _) = tools();
    let at = model.circumstances(&brow());
    let (told, reckoned) =
        (Line::of(model, &LINER, &at, Some(0.15)), Line::of(model, &LINER, &at, None));
    near(told.width_mm() - reckoned.width_mm(), 0.15 - reckoned.mark_mm, 1e-9, "width");
    near(
        told.unbroken_mm_s(0.8) / reckoned.unbroken_mm_s(0.8),
        0.15 / reckoned.mark_mm,
        1e-9,
        "pace",
    );
    let share = (0.15 / reckoned.mark_mm).powi(2);
    near(told.mark_area_mm2 / reckoned.mark_area_mm2, share, 1e-9, "area");
}

#[test]
fn evenness_by_chance_as_reckoned_by_hand() {
    for (mark_mm, want) in [(0.12, [0.041, 0.048, 0.033]), (0.20, [0.069, 0.080, 0.056])] {
        let line = Line {
            tips: vec![Point::default()],
            mark_mm,
            mark_area_mm2: std::f64::consts::FRAC_PI_4 * mark_mm * mark_mm,
            per_mm2: 20.0,
            rate_hz: 100.0,
            hand_speed_mm_s: 20.0,
            is_round: true,
        };
        for (cover, want) in [0.2, 0.5, 0.8].into_iter().zip(want) {
            near(chance_evenness(&line, cover), want, 0.0006, &format!("mark {mark_mm}, {cover}"));
        }
    }
}

fn drawn(
    model: &Model,
    configuration: Complete,
    setting: &Setting,
    ground: Ground,
    jitter: Jitter,
    seed: u64,
) -> Pattern {
    let circumstances = model.circumstances(setting);
    model.pattern(&PatternRequest { configuration, circumstances, ground, jitter, seed }).unwrap()
}

#[test]
fn a_simulated_line_is_as_wide_as_asked() {
    let (model, _) = tools();
    for (configuration, lines) in [(LINER, 400_u32), (SINGLE, 3)] {
        let asked = line(model, &configuration);
        let ground = Ground::Straight { length_mm: 5.0 };
        let width = |seed: u32| {
            let pattern = drawn(model, configuration, &brow(), ground, STEADY, u64::from(seed));
            let edges = pattern
                .dots
                .iter()
                .map(|dot| (dot.across_mm - dot.radius_mm, dot.across_mm + dot.radius_mm));
            let (low, high) =
                edges.fold((f64::MAX, f64::MIN), |(low, high), (a, b)| (low.min(a), high.max(b)));
            high - low
        };
        let widths: Vec<f64> = (0..lines).map(width).collect();
        let mean = widths.iter().sum::<f64>() / f64::from(lines);
        near(mean, asked.width_mm(), 0.005, &configuration.canonical());
        let [narrowest, widest] = asked.width_range_mm();
        assert!(widths.iter().all(|w| narrowest - 1e-4 <= *w && *w <= widest + 1e-4));
    }
}

#[test]
fn so_many_passes_give_the_cover() {
    let (model, _) = tools();
    for configuration in [SHADER, SINGLE] {
        for cover in [0.2, 0.5, 0.8] {
            let (passes, speed) = line(model, &configuration).field(cover);
            let setting = Setting { hand_speed_mm_s: Some(speed), passes: Some(passes), ..brow() };
            let ground = Ground::Area { width_mm: 12.0, height_mm: 12.0 };
            let found: f64 = (0..4)
                .map(|seed| {
                    let pattern = drawn(model, configuration, &setting, ground, STEADY, seed);
                    pattern.statistics(seed).coverage.simulated / 4.0
                })
                .sum();
            near(found, cover, 0.03, &format!("{} to {cover}", configuration.canonical()));
        }
    }
}

/// Shares under colour of every square millimetre, on a fine grid of points.
fn cells(pattern: &Pattern, side: u32) -> Vec<f64> {
    const FINE: u32 = 40;
    let (points, fine) = (side * FINE, f64::from(FINE));
    let at = |x: u32, y: u32| usize::try_from(y * points + x).unwrap();
    let mut under = vec![false; usize::try_from(points * points).unwrap()];
    for dot in &pattern.dots {
        let first = |middle: f64| ((middle - dot.radius_mm) * fine).floor().max(0.0);
        let mut y = first(dot.across_mm);
        while y <= (dot.across_mm + dot.radius_mm) * fine && y < f64::from(points) {
            let mut x = first(dot.along_mm);
            while x <= (dot.along_mm + dot.radius_mm) * fine && x < f64::from(points) {
                let off = ((x + 0.5) / fine - dot.along_mm).hypot((y + 0.5) / fine - dot.across_mm);
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "points of the grid"
                )]
                if off <= dot.radius_mm {
                    under[at(x as u32, y as u32)] = true;
                }
                x += 1.0;
            }
            y += 1.0;
        }
    }
    let share = |column: u32, row: u32| {
        let points =
            (0..FINE * FINE).filter(|n| under[at(column * FINE + n % FINE, row * FINE + n / FINE)]);
        f64::from(u32::try_from(points.count()).unwrap()) / (fine * fine)
    };
    (0..side * side).map(|n| share(n % side, n / side)).collect()
}

#[test]
fn a_simulated_field_is_as_even_as_chance() {
    let (model, _) = tools();
    const SIDE: u32 = 18;
    for configuration in [SINGLE, SHADER] {
        let line = line(model, &configuration);
        for cover in [0.2, 0.5, 0.8] {
            let (passes, speed) = line.field(cover);
            let setting = Setting { hand_speed_mm_s: Some(speed), passes: Some(passes), ..brow() };
            let side = f64::from(SIDE);
            let ground = Ground::Area { width_mm: side, height_mm: side };
            // Groups turn as they happen to lie: as the formula has them.
            let turning = Jitter { turn_deg: 30.0, ..STEADY };
            let pattern = drawn(model, configuration, &setting, ground, turning, 5);
            let cells = cells(&pattern, SIDE);
            let count = f64::from(SIDE * SIDE);
            let mean = cells.iter().sum::<f64>() / count;
            let spread =
                (cells.iter().map(|c| (c - mean).powi(2)).sum::<f64>() / (count - 1.0)).sqrt();
            near(
                spread,
                chance_evenness(&line, mean),
                0.01,
                &format!("{} {cover}", configuration.canonical()),
            );
        }
    }
}

/// The hand that the simulator takes for usual keeps distances well enough to
/// work with, and mostly not for fine work: 0.15·√(2·0.4) = 0.134.
#[test]
fn the_usual_hand_passes_working_and_not_fine() {
    let (model, _) = tools();
    let training = training();
    let machine = Some(Machine { stroke_mm: None, rate_hz: Some(20.0), give: None });
    let setting = Setting { machine, hand_speed_mm_s: Some(20.0), ..brow() };
    let spread = |seed: u64| {
        let ground = Ground::Straight { length_mm: 21.0 };
        let pattern = drawn(model, SINGLE, &setting, ground, Jitter::default(), seed);
        let mut at: Vec<f64> = pattern.dots.iter().map(|dot| dot.along_mm).collect();
        at.sort_by(f64::total_cmp);
        let gaps: Vec<f64> = at.windows(2).map(|two| two[1] - two[0]).collect();
        let count = f64::from(u32::try_from(gaps.len()).unwrap());
        let mean = gaps.iter().sum::<f64>() / count;
        (gaps.iter().map(|gap| (gap - mean).powi(2)).sum::<f64>() / count).sqrt() / mean
    };
    let spreads: Vec<f64> = (0..400).map(spread).collect();
    let within = |level| {
        let most = training.rules.drills.level(level).cv;
        f64::from(u32::try_from(spreads.iter().filter(|cv| **cv <= most).count()).unwrap()) / 400.0
    };
    near(spreads.iter().sum::<f64>() / 400.0, 0.134, 0.01, "mean spread");
    assert!(0.9 < within(DrillLevel::Working), "{}", within(DrillLevel::Working));
    assert!(within(DrillLevel::Fine) < 0.4, "{}", within(DrillLevel::Fine));
    assert!((1.0 - within(DrillLevel::First)).abs() < 1e-9);
}

pub(super) fn request() -> DrillRequest {
    DrillRequest {
        configuration: Configuration::from(LINER),
        effect: None,
        site: Site::Brow,
        setting: None,
        level: DrillLevel::Working,
        seed: 7,
        mark_mm: None,
        paper: None,
    }
}

fn drills(request: &DrillRequest) -> Result<Drills, DrillError> {
    let (model, selector) = tools();
    training().drills((model, selector), request, Language::En)
}

#[test]
fn an_effect_has_its_drills_and_single_dots_come_first() {
    let keys = |effect, configuration: Complete, site| {
        let asked = DrillRequest {
            effect: Some(effect),
            configuration: configuration.into(),
            site,
            ..request()
        };
        let found = drills(&asked).unwrap();
        let mut keys: Vec<DrillKey> = found.panels.iter().map(|panel| panel.drill).collect();
        keys.dedup();
        keys
    };
    use DrillKey::*;
    for (effect, configuration, site, want) in [
        (Effect::HairStrokes, SINGLE, Site::Brow, vec![SingleDots, StraightStrokes, CurvedStrokes]),
        (Effect::Pixelated, SINGLE, Site::Brow, vec![SingleDots, DotRows]),
        (Effect::ScalpDots, LINER, Site::Scalp, vec![SingleDots, ScatteredDots]),
        (Effect::SoftShading, SHADER, Site::Brow, vec![SingleDots, Field, FadingField]),
        (Effect::FineLine, LINER, Site::UpperLid, vec![SingleDots, StraightStrokes, LongLine]),
    ] {
        assert_eq!(keys(effect, configuration, site), want, "{effect}");
    }
}

#[test]
fn what_the_choice_sets_aside_is_not_practised() {
    let wide = Complete { diameter_mm: 0.35, count: 49, grouping: Grouping::Magnum, taper: None };
    let asked =
        DrillRequest { configuration: wide.into(), effect: Some(Effect::HairStrokes), ..request() };
    let found = drills(&asked).unwrap();
    assert!(found.panels.is_empty());
    assert_eq!(found.set_aside.len(), 1);
    let pair = DrillRequest { effect: Some(Effect::ScalpDots), ..request() };
    assert!(matches!(drills(&pair), Err(DrillError::Effect { .. })));
    let half = Configuration { count: None, ..LINER.into() };
    let asked = DrillRequest { configuration: half, ..request() };
    assert!(matches!(drills(&asked), Err(DrillError::Configuration(_))));
}

#[test]
fn the_same_seed_gives_the_same_sheet() {
    let text = |seed| {
        serde_json::to_string(&drills(&DrillRequest { seed, ..request() }).unwrap()).unwrap()
    };
    assert_eq!(text(7), text(7));
    let orders: std::collections::BTreeSet<String> = (0..12)
        .map(|seed| {
            let found = drills(&DrillRequest { seed, ..request() }).unwrap();
            found.panels.iter().map(|panel| format!("{} ", panel.step)).collect()
        })
        .collect();
    assert!(1 < orders.len(), "the seed chooses the order");
}

/// A stricter level asks for no less of anything, and what is asked can be met.
#[test]
fn levels_are_nested_and_hold_what_they_ask() {
    let of = |level| drills(&DrillRequest { level, ..request() }).unwrap();
    let [first, working, fine] = [DrillLevel::First, DrillLevel::Working, DrillLevel::Fine].map(of);
    for (wide, narrow) in [(&first, &working), (&working, &fine)] {
        for (a, b) in wide.panels.iter().zip(&narrow.panels) {
            assert_eq!((a.drill, a.number), (b.drill, b.number));
            for (a, b) in a.targets.iter().zip(&b.targets) {
                let holds = |x: &etui_schema::drills::Target| {
                    (x.least.unwrap_or(f64::MIN), x.most.unwrap_or(f64::MAX))
                };
                let ((al, ah), (bl, bh)) = (holds(a), holds(b));
                assert!(al <= bl && bh <= ah, "{:?}: {a:?} {b:?}", a.quantity);
                assert!(bl <= b.asked && b.asked <= bh, "{b:?}");
            }
        }
    }
    let bow = fine.panels.iter().flat_map(|panel| &panel.targets);
    for target in bow.filter(|target| target.quantity == Quantity::BowMm) {
        // An arc of 10 mm that turns by 15, 30, 60 degrees.
        let known = [0.327, 0.651, 1.279];
        assert!(known.iter().any(|bow| (bow - target.asked).abs() < 0.002), "{target:?}");
    }
}

/// Every quantity that is judged has its reason, in each language, with its number filled in;
/// another level holds it otherwise.
#[test]
fn every_number_has_its_reason() {
    let (model, selector) = tools();
    let mut seen = std::collections::BTreeSet::new();
    for language in [Language::En, Language::De] {
        for (diameter_mm, count, grouping, site) in [
            (0.30, 1, Grouping::RoundLiner, Site::Brow),
            (0.30, 3, Grouping::RoundShader, Site::Lip),
            (0.35, 7, Grouping::Flat, Site::Lip),
            (0.25, 1, Grouping::RoundLiner, Site::Scalp),
            (0.30, 5, Grouping::RoundShader, Site::Areola),
        ] {
            let configuration = Configuration {
                diameter_mm: Some(diameter_mm),
                count: Some(count),
                grouping: Some(grouping),
                ..request().configuration
            };
            let asked = DrillRequest { configuration, site, effect: None, ..request() };
            let drills = training().drills((model, selector), &asked, language).unwrap();
            let judged: std::collections::BTreeSet<&str> = drills
                .panels
                .iter()
                .flat_map(|panel| &panel.targets)
                .map(|target| target.quantity.as_str())
                .collect();
            let told: Vec<&str> = drills.reasons.iter().map(|one| one.quantity.as_str()).collect();
            assert_eq!(told.iter().copied().collect::<std::collections::BTreeSet<_>>(), judged);
            assert_eq!(told.len(), judged.len(), "each once");
            for one in &drills.reasons {
                assert!(!one.because.contains(['{', '}']) && 5 < one.because.len(), "{one:?}");
                seen.insert(one.quantity.as_str());
            }
        }
    }
    assert_eq!(seen.len(), Quantity::ALL.len(), "{seen:?}");
    let said = |level: DrillLevel| {
        let drills = drills(&DrillRequest { level, ..request() }).unwrap();
        let spacing = Quantity::SpacingMm;
        drills.reasons.into_iter().find(|one| one.quantity == spacing).map(|one| one.because)
    };
    let (first, fine) = (said(DrillLevel::First).unwrap(), said(DrillLevel::Fine).unwrap());
    assert!(first.starts_with("15 %") && fine.starts_with("7 %"), "{first} {fine}");
}
