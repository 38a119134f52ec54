//! Fields: how much is under colour, how evenly, and where too much was done.
//!
//! Under colour is what is darker than half of one mark. Blur fills what is bare between
//! marks; [`Correction`] takes that back, of the whole and of each square millimetre.

use etui_schema::vocabulary::{Quantity, QuantityFault};

use super::cover::Correction;
use super::dots::{all_of, bare_square_mm, darkest};
use super::panel::Drawn;
use super::plane::{components, mean, median, spread};
use super::{Mark, Measured, Seen};

const ALL: &[Quantity] = &[
    Quantity::Cover,
    Quantity::Evenness,
    Quantity::TrendPerMm,
    Quantity::Stripes,
    Quantity::BareSquareMm,
    Quantity::Overworked,
];
/// A mark has to be so many times wider than the blur's standard deviation.
pub(super) const WIDE: f64 = 3.8;
/// An overworked spot: density blurred by so much, above the middle by at least so
/// much or so many robust standard deviations, over such an area.
const BLUR_MM: f64 = 0.15;
const ABOVE: f64 = 0.30;
const DEVIATIONS: f64 = 4.5;
const AREA_MM2: f64 = 0.20;
/// A field with a lesser share under colour was not drawn. Where no mark tells what colour
/// is, one whose darkest is lighter than this.
const BARE: f64 = 0.02;
const FAINT: f64 = 0.12;

/// Measures a field.
pub(super) fn measure(drawn: &Drawn, seen: &Seen) -> Measured {
    let spots_mm = overworked(drawn);
    let cover = match seen.mark {
        None => Err(QuantityFault::NoMark),
        Some(mark) if !seen.sees_cover(mark) => Err(QuantityFault::TooFine),
        Some(mark) => Ok(Cover::of(drawn, mark, seen.correction(mark))),
    };
    let mut measured = match cover {
        Err(fault) => all_of(ALL, fault),
        Ok(cover) => cover.measured(drawn),
    };
    // What is bare is as even as can be: that is nobody's work.
    let is_bare = match cover_of(&measured) {
        Some(cover) => cover < BARE,
        None => {
            let soft = drawn.darkness.blurred(0.05 * drawn.scale, 0.05 * drawn.scale);
            darkest(&soft, drawn.pixels(), 1.0 - BARE) < FAINT
        }
    };
    if is_bare {
        measured = all_of(ALL, QuantityFault::TooFaint);
    }
    for (measure, value) in &mut measured.values {
        if *measure == Quantity::Overworked && !(is_bare && spots_mm.is_empty()) {
            *value = Ok(spots_mm.len() as f64);
        }
    }
    Measured { spots_mm, ..measured }
}

fn cover_of(measured: &Measured) -> Option<f64> {
    let cover = measured.values.iter().find(|(one, _)| *one == Quantity::Cover);
    cover.and_then(|(_, value)| value.ok())
}

/// Share under colour of each square millimetre, row by row.
struct Cover {
    all: f64,
    cells: Vec<Vec<f64>>,
    threshold: f64,
}

impl Cover {
    fn of(drawn: &Drawn, mark: Mark, correction: &Correction) -> Self {
        let found = Self::above(drawn, 0.5 * mark.darkness);
        let cells =
            found.cells.iter().map(|row| row.iter().map(|seen| correction.apply(*seen)).collect());
        Self { all: correction.apply(found.all), cells: cells.collect(), ..found }
    }

    /// On a grid of half pixels.
    fn above(drawn: &Drawn, threshold: f64) -> Self {
        let [left, top, right, low] = drawn.box_mm;
        let step = 0.5 / drawn.scale;
        let many = |from: f64, to: f64| super::plane::pixels((to - from) / step).clamp(1, 20_000);
        let (wide, high) = (many(left, right), many(top, low));
        let whole =
            |from: f64, to: f64| super::plane::pixels((to - from - 0.499).max(0.0)).min(400);
        let (columns, rows) = (whole(left, right), whole(top, low));
        let mut cells = vec![vec![(0.0, 0.0); columns]; rows];
        let mut dark = 0.0;
        for j in 0..high {
            let y = top + (j as f64 + 0.5) * step;
            let row = super::plane::whole(y - top).cast_unsigned();
            for i in 0..wide {
                let x = left + (i as f64 + 0.5) * step;
                let (px, py) = drawn.in_panel(x, y);
                let is_dark = f64::from(u8::from(threshold < drawn.darkness.cubic(px, py)));
                dark += is_dark;
                let column = super::plane::whole(x - left).cast_unsigned();
                if let Some(cell) = cells.get_mut(row).and_then(|row| row.get_mut(column)) {
                    cell.0 += is_dark;
                    cell.1 += 1.0;
                }
            }
        }
        let share = |(dark, all): &(f64, f64)| if *all < 1.0 { 0.0 } else { dark / all };
        let cells = cells.iter().map(|row| row.iter().map(share).collect()).collect();
        Self { all: dark / (wide * high) as f64, cells, threshold }
    }

    fn measured(&self, drawn: &Drawn) -> Measured {
        let rows: Vec<f64> = self.cells.iter().map(|row| mean(row)).collect();
        let wide = self.cells.first().map_or(0, Vec::len);
        let columns: Vec<f64> = (0..wide)
            .map(|at| {
                mean(&self.cells.iter().filter_map(|row| row.get(at).copied()).collect::<Vec<_>>())
            })
            .collect();
        let middle = mean(&columns);
        let from_middle = |at: usize| at as f64 - (wide as f64 - 1.0) / 2.0;
        let squares: f64 = (0..wide).map(|at| from_middle(at).powi(2)).sum();
        let product: f64 =
            columns.iter().enumerate().map(|(at, cover)| from_middle(at) * cover).sum();
        let trend = if squares <= 0.0 { 0.0 } else { product / squares };
        let left: Vec<f64> = self
            .cells
            .iter()
            .flat_map(|row| row.iter().enumerate())
            .map(|(at, cover)| cover - middle - trend * from_middle(at))
            .collect();
        let told = |value: f64| {
            if self.cells.len() < 3 || wide < 3 { Err(QuantityFault::TooFew) } else { Ok(value) }
        };
        let values = vec![
            (Quantity::Cover, Ok(self.all)),
            (Quantity::Evenness, told(spread(&left))),
            (Quantity::TrendPerMm, told(trend)),
            (Quantity::Stripes, told(spread(&rows))),
            (Quantity::BareSquareMm, Ok(bare_square_mm(drawn, self.threshold))),
            (Quantity::Overworked, Ok(0.0)),
        ];
        Measured { values, ..Measured::default() }
    }
}

/// Middles of the overworked spots, in mm on the card.
fn overworked(drawn: &Drawn) -> Vec<(f64, f64)> {
    let mut density = drawn.darkness.clone();
    for value in &mut density.data {
        *value = -(1.0 - *value).clamp(0.02, 1.5).log10();
    }
    let density = density.blurred(BLUR_MM * drawn.scale, BLUR_MM * drawn.scale);
    let [left, top, right, low] = drawn.pixels();
    let values: Vec<f64> = (top..low)
        .flat_map(|y| (left..right).map(move |x| (x, y)))
        .map(|(x, y)| f64::from(density.get(x, y)))
        .collect();
    let middle = median(values.clone());
    let off = 1.4826 * median(values.iter().map(|value| (value - middle).abs()).collect());
    let from = middle + ABOVE.max(DEVIATIONS * off);
    let (wide, high) = (right.saturating_sub(left), low.saturating_sub(top));
    let spots = components(wide, high, |x, y| from < f64::from(density.get(left + x, top + y)));
    let pixel = drawn.scale.powi(-2);
    let large = spots.iter().filter(|spot| AREA_MM2 <= spot.len() as f64 * pixel);
    large
        .map(|spot| {
            let of = |value: fn(&(usize, usize)) -> usize| {
                mean(&spot.iter().map(|at| value(at) as f64).collect::<Vec<_>>())
            };
            drawn.on_card(left as f64 + of(|at| at.0), top as f64 + of(|at| at.1))
        })
        .collect()
}
