//! Strokes side by side: counted, and each measured along its own middle.
//!
//! What belongs to one stroke is found in darkness blurred along the travel, breaks and
//! lanes closed; bent strokes are first brought upright together ([`Lean`]), since what
//! closes breaks along the panel would join neighbours that run across it. Then the stroke
//! is straightened ([`Strip`]). Its width is that of the mean profile between the outermost places of half height, so
//! that lanes of one group are one stroke; blur and wander are taken out by the table of
//! a bar under a Gaussian.

use etui_schema::vocabulary::{Quantity, QuantityFault};

use super::dots::{all_of, darkest};
use super::doubt::tells_widths_apart;
use super::fit::{Curve, true_width};
use super::lean::Lean;
use super::panel::Drawn;
use super::plane::{components, mean, pixels, spread};
use super::strip::{Frame, STEP, Strip, half_width, profile};
use super::{Bend, Measured, Seen};

/// What was asked of them.
pub(super) struct Wanted {
    pub(super) spacing_mm: f64,
    pub(super) length_mm: f64,
    pub(super) width_mm: f64,
    pub(super) bend: Bend,
    pub(super) runs_down: bool,
}

const ALL: &[Quantity] = &[
    Quantity::Count,
    Quantity::SpacingMm,
    Quantity::SpacingCv,
    Quantity::WidthMm,
    Quantity::WidthCv,
    Quantity::StraightnessMm,
    Quantity::LiftOff,
    Quantity::BowMm,
    Quantity::Gaps,
];

/// Pixels along and across that are one stroke although bare skin lies between, in mm.
const CLOSED_ALONG_MM: f64 = 0.9;
const FAINT: f64 = 0.05;
const MOST: usize = 200;

/// One stroke, straightened.
struct Stroke {
    /// Where it lies across at 40 % of its length, in mm.
    place_mm: f64,
    /// Its seen width of the mean profile, and the spread of its middle, in mm.
    seen_mm: f64,
    straightness_mm: f64,
    lift_off: f64,
    bow_mm: f64,
    gaps: Vec<(f64, f64)>,
    /// Spread over mean of what it holds, from one millimetre to the next.
    uneven: f64,
}

/// Measures the strokes of a panel.
pub(super) fn measure(drawn: &Drawn, wanted: &Wanted, seen: &Seen) -> Measured {
    let turned;
    let drawn = if wanted.runs_down {
        turned = drawn.turned();
        &turned
    } else {
        drawn
    };
    let strokes = match find(drawn, wanted, seen.quality.blur_mm) {
        Ok(strokes) => strokes,
        Err(fault) => return all_of(ALL, fault),
    };
    let few = || Err(QuantityFault::TooFew);
    let of = |value: fn(&Stroke) -> f64| strokes.iter().map(value).collect::<Vec<_>>();
    let mut places = of(|one| one.place_mm);
    places.sort_by(f64::total_cmp);
    let gaps: Vec<f64> = places.iter().zip(places.iter().skip(1)).map(|(a, b)| b - a).collect();
    let spaced = |value: f64| if gaps.len() < 2 { few() } else { Ok(value) };
    let any = |value: f64| if strokes.is_empty() { few() } else { Ok(value) };
    let blur = seen.quality.blur_mm;
    let widths: Vec<f64> = strokes
        .iter()
        .map(|one| true_width(one.seen_mm, blur.hypot(one.straightness_mm)))
        .collect();
    let narrowest = strokes.iter().map(|one| one.seen_mm).fold(f64::INFINITY, f64::min);
    let fine = !seen.sees_width(narrowest);
    let width = |value: f64| if fine { Err(QuantityFault::TooFine) } else { any(value) };
    let apart = strokes.is_empty() || tells_widths_apart(mean(&widths), &seen.quality);
    let width_cv = match strokes.as_slice() {
        [one] => one.uneven,
        _ => spread(&widths) / mean(&widths).max(1e-9),
    };
    let values = vec![
        (Quantity::Count, Ok(strokes.len() as f64)),
        (Quantity::SpacingMm, spaced(mean(&gaps))),
        (Quantity::SpacingCv, spaced(spread(&gaps) / mean(&gaps).max(1e-9))),
        (Quantity::WidthMm, width(mean(&widths))),
        (Quantity::WidthCv, if apart { width(width_cv) } else { Err(QuantityFault::TooFine) }),
        (Quantity::StraightnessMm, any(mean(&of(|one| one.straightness_mm)))),
        (Quantity::LiftOff, any(mean(&of(|one| one.lift_off)))),
        (Quantity::BowMm, any(bow_mm(&of(|one| one.bow_mm), wanted.bend))),
        (Quantity::Gaps, any(strokes.iter().map(|one| one.gaps.len()).sum::<usize>() as f64)),
    ];
    let gaps_mm = strokes
        .iter()
        .flat_map(|one| &one.gaps)
        .map(|(x, y)| if wanted.runs_down { (*y, *x) } else { (*x, *y) });
    Measured { values, spots_mm: Vec::new(), gaps_mm: gaps_mm.collect() }
}

/// The bow of all of them, above 0 to the side that was asked. One that bends the other way
/// is told instead of the mean, in which it would hide. Where no side was asked, it is
/// above 0 with the belly to the right of strokes that run down, below those that run across.
fn bow_mm(bows: &[f64], bend: Bend) -> f64 {
    let side = match bend {
        Bend::Right => 1.0,
        Bend::Left => -1.0,
        Bend::None | Bend::Either => mean(bows).signum(),
    };
    let least = bows.iter().map(|bow| side * bow).fold(f64::INFINITY, f64::min);
    let told = if least < 0.0 { least } else { side * mean(bows) };
    if matches!(bend, Bend::Left | Bend::Right) { told } else { side * told }
}

fn find(drawn: &Drawn, wanted: &Wanted, blur_mm: f64) -> Result<Vec<Stroke>, QuantityFault> {
    let scale = drawn.scale;
    let lean = if wanted.bend == Bend::None { Lean::none() } else { Lean::of(drawn) };
    let (upright, above) = lean.upright(&drawn.darkness);
    let along = upright.blurred(0.3 * scale, 0.02 * scale);
    let [left, box_top, right, box_low] = drawn.pixels();
    let within = [left, box_top, right, box_low + 2 * above];
    let top = darkest(&along, within, 0.965).max(0.5 * darkest(&along, within, 0.995));
    if top < FAINT {
        return Err(QuantityFault::TooFaint);
    }
    let mut dark: Vec<bool> = (0..along.width * along.height)
        .map(|at| {
            let (x, y) = (at % along.width, at / along.width);
            (left..right).contains(&x) && 0.4 * top < f64::from(along.get(x, y))
        })
        .collect();
    let room = (0.5 * (wanted.spacing_mm - wanted.width_mm)).max(0.0);
    let lanes = if 0.0 < wanted.spacing_mm { wanted.width_mm.min(room) } else { wanted.width_mm };
    close(&mut dark, (along.width, along.height), pixels(lanes * scale), true);
    close(&mut dark, (along.width, along.height), pixels(CLOSED_ALONG_MM * scale), false);
    let spots = components(along.width, along.height, |x, y| dark[y * along.width + x]);
    if 20 * MOST < spots.len() {
        return Err(QuantityFault::TooFaint);
    }
    let mut strokes = Vec::new();
    for spot in &spots {
        let spot = &lean.back(spot, above, drawn.darkness.height);
        let xs = spot.iter().map(|(x, _)| *x);
        let long = (xs.clone().max().unwrap_or(0) - xs.min().unwrap_or(0)) as f64 / scale;
        let middle = mean(&spot.iter().map(|(_, y)| *y as f64).collect::<Vec<_>>());
        let inside = box_top as f64 - 0.5 <= middle && middle < box_low as f64;
        if long < 0.4 * wanted.length_mm || !inside {
            continue;
        }
        if let Some(stroke) = straightened(drawn, spot, wanted, blur_mm) {
            strokes.push(stroke);
        }
        if MOST < strokes.len() {
            return Err(QuantityFault::TooFaint);
        }
    }
    Ok(strokes)
}

/// Fills bare runs that are no longer than this and have dark at both ends.
fn close(dark: &mut [bool], (width, height): (usize, usize), most: usize, across: bool) {
    let (lines, length) = if across { (width, height) } else { (height, width) };
    for line in 0..lines {
        let place = |at: usize| if across { at * width + line } else { line * width + at };
        let mut last: Option<usize> = None;
        for at in 0..length {
            if !dark[place(at)] {
                continue;
            }
            if let Some(last) = last
                && at - last <= most + 1
            {
                (last + 1..at).for_each(|at| dark[place(at)] = true);
            }
            last = Some(at);
        }
    }
}

fn straightened(
    drawn: &Drawn,
    spot: &[(usize, usize)],
    wanted: &Wanted,
    blur_mm: f64,
) -> Option<Stroke> {
    let scale = drawn.scale;
    let plane = &drawn.darkness;
    let is_bent = wanted.bend != Bend::None;
    let weighed = |x: usize, y: usize| f64::from(plane.get(x, y)).max(0.0);
    let points = spot.iter().map(|(x, y)| (*x as f64, *y as f64, weighed(*x, *y)));
    let frame = Frame::along(&points.clone().collect::<Vec<_>>())?;
    let points: Vec<(f64, f64, f64)> = points
        .map(|(x, y, weight)| {
            let (u, v) = frame.within(x, y);
            (u, v, weight)
        })
        .collect();
    let mut curve = Curve::of(&points, is_bent)?;
    let pad = 0.4 * scale;
    let ends = points.iter().fold((f64::MAX, f64::MIN), |(a, b), (u, ..)| (a.min(*u), b.max(*u)));
    let ends = (ends.0 - pad, ends.1 + pad);
    let wide = 0.75 * wanted.width_mm + 4.0 * blur_mm + 0.18;
    let room = 0.5 * wanted.spacing_mm * frame.least_apart(&curve, ends);
    let half = if 0.0 < room { wide.min(room) } else { wide } * scale;
    let mut strip = Strip::along(plane, (&frame, &curve), ends, half, scale);
    let mut span = strip.span()?;
    for _ in 0..2 {
        let top = strip.top(span);
        let middles = strip.middles(span, (0.03, 0.9), 0.25 * top, &curve);
        curve = Curve::of(&middles, is_bent)?;
        strip = Strip::along(plane, (&frame, &curve), ends, half, scale);
        span = strip.span()?;
    }
    let top = strip.top(span);
    let body = strip.part(span, 0.10, 0.70);
    let profile = profile(&strip.rows[body.0..body.1]);
    let seen = half_width(&profile)? * STEP / scale;
    let middles = strip.middles(span, (0.10, 0.70), 0.25 * top, &curve);
    let own = Curve::of(&middles, is_bent)?;
    let off: Vec<f64> = middles.iter().map(|(u, v, _)| (v - own.at(*u)) / scale).collect();
    let held = strip.held();
    let all = mean(&held[body.0..body.1]);
    let end = strip.part(span, 0.92, 0.99);
    let at = strip.u(span.0 + 0.4 * (span.1 - span.0));
    let (x, y) = frame.out(at, curve.at(at));
    let millimetres = held[body.0..body.1].chunks(pixels(scale).max(1)).map(mean);
    let millimetres: Vec<f64> = millimetres.collect();
    let chord = strip.u(span.1) - strip.u(span.0);
    Some(Stroke {
        place_mm: drawn.on_card(x, y).1,
        seen_mm: seen,
        straightness_mm: spread(&off),
        lift_off: if all <= 0.0 { 1.0 } else { (mean(&held[end.0..end.1]) / all).max(0.0) },
        bow_mm: if is_bent { curve.bow(chord) / scale } else { 0.0 },
        gaps: strip.gaps(span, all, drawn, (&frame, &curve)),
        uneven: spread(&millimetres) / all.max(1e-9),
    })
}
