//! Rows of dots: how many, how evenly, and where one is missing.

use etui_schema::vocabulary::{Quantity, QuantityFault};

use super::dots::{all_of, profile};
use super::fit::Curve;
use super::panel::Drawn;
use super::peaks::{Dot, Dots};
use super::plane::{mean, pixels, spread};
use super::{Measured, Seen};

/// A skip can be told from a wide gap while the spread is below this.
const TELLING_CV: f64 = 0.17;
/// A gap of so many distances or more may be a skip, and of so many is one.
const MAYBE: f64 = 1.5;
const SURELY: f64 = 1.75;
/// So far beside a panel a dot of a row may lie; what is printed there stands farther off.
const BESIDE_MM: f64 = 0.5;
/// A panel that nobody counted is so near to whole distances wide, and at neither end of a row
/// as much is bare, if it was laid for a dot in the middle of each.
const WHOLE: f64 = 0.02;
const BARE: f64 = 2.1;

const ROWS: &[Quantity] = &[
    Quantity::Count,
    Quantity::Doubled,
    Quantity::Skipped,
    Quantity::SpacingMm,
    Quantity::SpacingCv,
    Quantity::OffLineMm,
    Quantity::MarkMm,
];

/// Rows of dots as they were asked.
pub(super) struct Wanted {
    pub(super) rows: usize,
    pub(super) spacing_mm: f64,
    /// Dots of one row, if that was told.
    pub(super) dots: Option<usize>,
}

/// How many dots a panel of rows has if it is full.
pub(super) fn expected(drawn: &Drawn, rows: usize, spacing_mm: f64) -> usize {
    let [left, _, right, _] = drawn.box_mm;
    pixels((right - left) / spacing_mm.max(0.05)).clamp(1, 2_000) * rows.max(1)
}

/// Measures rows of dots.
pub(super) fn measure(drawn: &Drawn, wanted: &Wanted, seen: &Seen) -> Measured {
    let Wanted { rows, spacing_mm, .. } = *wanted;
    let many = expected(drawn, rows, spacing_mm);
    let dots = Dots::find(drawn, &seen.quality, many, (0.25 * spacing_mm).min(BESIDE_MM));
    let dots = match dots {
        Ok(dots) => dots,
        Err(fault) => return all_of(ROWS, fault),
    };
    let scale = drawn.scale;
    let (mut gaps, mut off, mut skipped, mut gaps_mm) = (Vec::new(), Vec::new(), 0, Vec::new());
    for row in in_rows(&dots.all, rows) {
        let apart = row.iter().zip(row.iter().skip(1)).map(|(a, b)| (b.x - a.x) / scale);
        // Two that nearly touch are two, as they are counted.
        gaps.extend(apart.filter(|gap| *gap < MAYBE * spacing_mm));
        let found = skips(drawn, &row, wanted);
        skipped += found.many;
        gaps_mm.extend(found.places);
        let points: Vec<(f64, f64, f64)> = row.iter().map(|dot| (dot.x, dot.y, 1.0)).collect();
        if let Some(line) = Curve::of(&points, false) {
            off.extend(points.iter().map(|(x, y, _)| (y - line.at(*x)) / scale));
        }
    }
    let few = QuantityFault::TooFew;
    let enough = 3 <= gaps.len();
    let cv = spread(&gaps) / mean(&gaps).max(1e-9);
    let mark = profile(drawn, &dots, seen.quality.blur_mm).filter(|_| 5 <= dots.all.len());
    let diameter = match mark {
        Some(mark) if seen.sees_mark(mark, dots.width / scale) => Ok(mark.diameter_mm),
        Some(_) => Err(QuantityFault::TooFine),
        None => Err(few),
    };
    let doubled = match mark {
        Some(mark) if seen.is_lost(mark) => Err(QuantityFault::TooFine),
        mark => Ok(dots.twice(mark.map(|mark| mark.darkness))),
    };
    let skips = match (enough, cv < TELLING_CV) {
        (false, _) => Err(few),
        (true, false) => Err(QuantityFault::TooUneven),
        (true, true) => Ok(skipped as f64),
    };
    let spaced = |value: f64| if enough { Ok(value) } else { Err(few) };
    let values = vec![
        (Quantity::Count, Ok(dots.all.len() as f64)),
        (Quantity::Doubled, doubled),
        (Quantity::Skipped, skips),
        (Quantity::SpacingMm, spaced(mean(&gaps))),
        (Quantity::SpacingCv, spaced(cv)),
        (Quantity::OffLineMm, if enough { Ok(spread(&off)) } else { Err(few) }),
        (Quantity::MarkMm, diameter),
    ];
    Measured { values, spots_mm: Vec::new(), gaps_mm }
}

/// What is missing of a row.
#[derive(Default)]
struct Skips {
    many: usize,
    /// On the card, in mm.
    places: Vec<(f64, f64)>,
}

/// Dots that are missing: within the row where a gap is wide, and at its ends where fewer
/// lie there than were asked.
fn skips(drawn: &Drawn, row: &[&Dot], wanted: &Wanted) -> Skips {
    let (spacing, scale) = (wanted.spacing_mm, drawn.scale);
    let mut wide: Vec<(f64, &Dot, &Dot)> = row
        .iter()
        .zip(row.iter().skip(1))
        .map(|(a, b)| ((b.x - a.x) / scale / spacing, *a, *b))
        .filter(|(gap, ..)| MAYBE <= *gap)
        .collect();
    wide.sort_by(|a, b| b.0.total_cmp(&a.0));
    let asked = wanted.dots.or_else(|| laid_for(drawn, row, spacing));
    let absent = asked.map(|asked| asked.saturating_sub(row.len()));
    let mut found = Skips::default();
    for (gap, a, b) in wide {
        // Where as many lie as were asked, a gap that is hardly too wide is no skip.
        if gap < SURELY && absent.is_some_and(|absent| absent <= found.many) {
            break;
        }
        found.many += pixels(gap).saturating_sub(1).max(1);
        found.places.push(drawn.on_card(f64::midpoint(a.x, b.x), f64::midpoint(a.y, b.y)));
    }
    let [left, _, right, _] = drawn.pixels();
    let (Some(first), Some(last)) = (row.first(), row.last()) else { return found };
    let step = spacing * scale;
    let (mut before, mut after) = (first.x, last.x);
    for _ in found.many..absent.unwrap_or(0) {
        let (at, y) = if right as f64 - after < before - left as f64 {
            before -= step;
            (before, first.y)
        } else {
            after += step;
            (after, last.y)
        };
        found.many += 1;
        if left as f64 <= at && at <= right as f64 {
            found.places.push(drawn.on_card(at, y));
        }
    }
    found
}

/// For how many dots of a row a panel was laid, as far as that shows.
fn laid_for(drawn: &Drawn, row: &[&Dot], spacing_mm: f64) -> Option<usize> {
    let [left, _, right, _] = drawn.box_mm;
    let many = (right - left) / spacing_mm.max(0.05);
    let (first, last) = (row.first()?, row.last()?);
    let before = drawn.on_card(first.x, first.y).0 - left;
    let after = right - drawn.on_card(last.x, last.y).0;
    let is_laid = (many - many.round()).abs() <= WHOLE && before.max(after) < BARE * spacing_mm;
    is_laid.then_some(pixels(many))
}

/// Dots by their rows, parted at the widest distances down the panel, each along x.
fn in_rows(dots: &[Dot], rows: usize) -> Vec<Vec<&Dot>> {
    let mut down: Vec<&Dot> = dots.iter().collect();
    down.sort_by(|a, b| a.y.total_cmp(&b.y));
    let mut steps: Vec<usize> = (1..down.len()).collect();
    steps.sort_by(|a, b| (down[*b].y - down[*b - 1].y).total_cmp(&(down[*a].y - down[*a - 1].y)));
    let mut cuts: Vec<usize> = steps.into_iter().take(rows.saturating_sub(1)).collect();
    cuts.sort_unstable();
    cuts.push(down.len());
    let mut from = 0;
    let mut all = Vec::with_capacity(cuts.len());
    for cut in cuts {
        let mut row = down[from..cut].to_vec();
        row.sort_by(|a, b| a.x.total_cmp(&b.x));
        all.push(row);
        from = cut;
    }
    all
}
