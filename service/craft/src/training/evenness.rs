//! How uneven a field is by chance alone.
//!
//! Groups of marks that fall at random cover a share C on average. The spread of
//! that share from one cell to the next is, for a cell that is large beside the
//! group, (1−C)·√(∫(e^{λγ(h)} − 1) 2πh dh / cell), with λ groups a mm² and γ(h)
//! the mean area that the marks of a group share with themselves moved by h. Marks
//! of one group come down together, so a group is less even than as many singles.

use std::f64::consts::{PI, TAU};

use super::line::Line;

/// Classes of the distances between two tips of one group.
const CLASSES: usize = 48;
/// Steps of h, and turns that are averaged over.
const STEPS: u32 = 160;
const TURNS: u32 = 24;

/// Standard deviation of the share under colour from one square millimetre to
/// the next, where a share `cover` is under it on average.
#[must_use]
pub fn chance_evenness(line: &Line, cover: f64) -> f64 {
    let tips = as_number(line.tips.len().max(1));
    let per_mm2 = line.density_at(cover) / tips;
    let pairs = Pairs::of(line);
    let reach = line.mark_mm + pairs.longest;
    let step = reach / f64::from(STEPS);
    // The overlap of marks within a group is counted once, as in their mean area.
    let share = line.mark_area_mm2 / line.full_mark_mm2();
    let mut sum = 0.0;
    for at in 0..STEPS {
        let h = (f64::from(at) + 0.5) * step;
        let shared = pairs.shared(h, line.mark_mm) * share;
        sum += (per_mm2 * shared).exp_m1() * TAU * h * step;
    }
    // A cell is never less even than its single points.
    ((1.0 - cover) * sum.sqrt()).min((cover * (1.0 - cover)).sqrt())
}

/// How often two tips of a group stand so far apart.
struct Pairs {
    /// Distance and how many ordered pairs have it, each tip with itself first.
    classes: Vec<(f64, f64)>,
    longest: f64,
}

impl Pairs {
    fn of(line: &Line) -> Self {
        let tips = &line.tips;
        let apart = || {
            tips.iter().enumerate().flat_map(|(i, a)| {
                tips.iter().enumerate().filter(move |(j, _)| *j != i).map(|(_, b)| a.distance(*b))
            })
        };
        let longest = apart().fold(0.0, f64::max);
        let mut classes = vec![(0.0, 0.0); CLASSES];
        for distance in apart() {
            let (sum, pairs) = &mut classes[class(distance, longest)];
            *sum += distance;
            *pairs += 1.0;
        }
        let mut means = vec![(0.0, as_number(tips.len().max(1)))];
        let held = classes.into_iter().filter(|(_, pairs)| 0.0 < *pairs);
        means.extend(held.map(|(sum, pairs)| (sum / pairs, pairs)));
        Self { classes: means, longest }
    }

    /// Mean area that the marks share with themselves moved by `h`.
    fn shared(&self, h: f64, mark_mm: f64) -> f64 {
        let one = |(distance, pairs): &(f64, f64)| {
            if *distance <= 0.0 {
                return pairs * lens(h, mark_mm);
            }
            if h + mark_mm < *distance || distance + mark_mm < h {
                return 0.0;
            }
            let turned = |turn: u32| {
                let angle = PI * (f64::from(turn) + 0.5) / f64::from(TURNS);
                let squared = h * h + distance * distance - 2.0 * h * distance * angle.cos();
                lens(squared.max(0.0).sqrt(), mark_mm)
            };
            pairs * (0..TURNS).map(turned).sum::<f64>() / f64::from(TURNS)
        };
        self.classes.iter().map(one).sum()
    }
}

/// What two discs of one diameter share at a distance.
fn lens(distance: f64, diameter: f64) -> f64 {
    if diameter <= distance {
        return 0.0;
    }
    let x = distance / diameter;
    0.5 * diameter * diameter * (x.acos() - x * (1.0 - x * x).sqrt())
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "between 0 and the number of classes"
)]
fn class(distance: f64, longest: f64) -> usize {
    let at = (distance / longest * as_number(CLASSES)) as usize;
    at.min(CLASSES - 1)
}

#[expect(clippy::cast_precision_loss, reason = "few tips and classes")]
fn as_number(count: usize) -> f64 {
    count as f64
}

/// Side of the largest square that a random field of this cover leaves bare
/// about once in an area.
///
/// A square of side s is bare with the chance e^{−λ(A + P·2s/π + s²)}, A and P the
/// area of a group's marks and the perimeter of their hull; about λ times the
/// area of such squares can be told apart.
pub(super) fn bare_square_mm(line: &Line, cover: f64, area_mm2: f64) -> f64 {
    let tips = as_number(line.tips.len().max(1));
    let per_mm2 = line.density_at(cover) / tips;
    let perimeter = PI * line.width_mm();
    let places = (per_mm2 * area_mm2).max(1.0);
    let seldom = |side: f64| {
        let grown = tips * line.mark_area_mm2 + perimeter * 2.0 * side / PI + side * side;
        places.ln() < per_mm2 * grown
    };
    let (mut low, mut high) = (0.0, area_mm2.sqrt());
    for _ in 0..50 {
        let middle = f64::midpoint(low, high);
        if seldom(middle) { high = middle } else { low = middle }
    }
    high
}
