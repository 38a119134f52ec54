//! The card in the picture: where a millimetre of it lies, and how good the picture is.

use etui_schema::vocabulary::SheetFault;

use super::super::code::{HALF_MM, halves_mm};
use super::decode::Page;
use super::fit::{below, least, scaled, solve};
use super::marks::{self, Found};
use super::plane::{cubic, mean, median, pixels, quantile, whole};
use super::{Quality, ReadError};

/// Where a mark's middle stands from the edges, and the width of the frame, in mm.
const MARK_MM: f64 = 5.0;
pub(super) const FRAME_MM: f64 = 10.0;

/// Pixels a millimetre from which a panel is drawn as it is.
const FINE: f64 = 20.0;

/// Of a bit of the code one half is darker by so much of paper minus ink.
const PLAIN: f64 = 0.5;
const LEAST_CONTRAST: f64 = 0.10;
const MOST_CLIPPED: f64 = 0.02;
const LEAST_DPI: f64 = 140.0;
const MOST_BLUR_MM: f64 = 0.12;
const MOST_BEND_MM: f64 = 0.10;
const MOST_NOISE: f64 = 0.08;
/// Below this quality a JPEG leaves out what is measured: to here it was held against
/// drawn sheets.
const LEAST_JPEG: u8 = 70;
/// Marks that are so much larger or smaller than those of the card are those of another.
const OTHER_SIZE: f64 = 0.10;
/// Mean square of a ring of 3 and 2 mm from its middle, along one axis, in mm².
const RING_MM2: f64 = 3.25;

/// Card to picture, both flat.
#[derive(Debug, Clone)]
pub(super) struct Card {
    by: [f64; 9],
    size_mm: (f64, f64),
    /// Pixels a millimetre of panels that are drawn anew.
    pub(super) scale: f64,
}

impl Card {
    /// Finds the card and judges the picture.
    pub(super) fn find(page: &Page, size_mm: (f64, f64)) -> Result<(Self, Quality), ReadError> {
        let missing = || ReadError::Sheet(vec![SheetFault::MarksMissing], None);
        let found = marks::find(page);
        let corners = corners(&found).ok_or_else(missing)?;
        let (width, height) = size_mm;
        let (right, low) = (width - MARK_MM, height - MARK_MM);
        let on_card = [(MARK_MM, MARK_MM), (right, MARK_MM), (right, low), (MARK_MM, low)];
        let turned = (0..4).filter_map(|turn| {
            let of = |at: usize| corners[(at + turn) % 4];
            let four = [of(0), of(1), of(2), of(3)];
            let card = Self::through(&on_card, &four, size_mm)?;
            let marks = card.marks(&on_card, &four)?;
            Some((card.bar(page, marks), card, marks))
        });
        let (bar, card, marks) = turned.min_by(|a, b| a.0.total_cmp(&b.0)).ok_or_else(missing)?;
        if OTHER_SIZE < (marks.0 - 1.0).abs().max((marks.1 - 1.0).abs()) {
            let size = |own: f64, by: f64| 2.0 * MARK_MM + (own - 2.0 * MARK_MM) / by;
            let is_up = bar < card.half_way(page, marks);
            let (width, height) = (size(width, marks.0), size(height, marks.1));
            return Err(if is_up { ReadError::Size(width, height) } else { missing() });
        }
        let mut bent = 0.0_f64;
        let mut marks = on_card.map(|at| at).to_vec();
        for at in [(0.5 * width, MARK_MM), (0.5 * width, low)] {
            let (x, y) = card.map(at.0, at.1);
            let scale = card.pixels_a_mm(at.0, at.1);
            let apart = |one: &Found| (one.x - x).hypot(one.y - y) / scale;
            let near = found.iter().map(apart).fold(f64::INFINITY, f64::min);
            if 3.0 < near {
                return Err(missing());
            }
            bent = bent.max(near);
            if near < 0.02 {
                marks.push(at);
            }
        }
        let scale = card.pixels_a_mm(0.5 * width, 0.5 * height);
        // Coarse pictures are drawn finer: what is measured between pixels then loses less.
        let finer = if scale < FINE { 2.0 } else { 1.0 };
        let card = Self { scale: (finer * scale.round()).clamp(4.0, 48.0), ..card };
        let seen = card.look(page, &marks);
        // The bar of the card that was laid the right way up is ink.
        if 0.5 * (seen.paper + seen.ink) < bar {
            return Err(missing());
        }
        let quality = Quality {
            dpi: 25.4 * scale,
            blur_mm: seen.blur_mm,
            noise: seen.noise,
            flatness_mm: bent,
            contrast: seen.paper - seen.ink,
            jpeg: page.jpeg,
        };
        let faults = faults(&quality, seen.clipped);
        if faults.is_empty() {
            Ok((card, quality))
        } else {
            Err(ReadError::Sheet(faults, Some(quality)))
        }
    }

    /// The homography through four points.
    fn through(card: &[(f64, f64); 4], picture: &[Found; 4], size_mm: (f64, f64)) -> Option<Self> {
        let mut rows = Vec::with_capacity(8);
        for ((x, y), to) in card.iter().copied().zip(picture) {
            let Found { x: u, y: v, .. } = *to;
            rows.push(vec![x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y, u]);
            rows.push(vec![0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y, v]);
        }
        let solved = solve(rows)?;
        let mut by = [1.0; 9];
        by.iter_mut().zip(solved).for_each(|(by, found)| *by = found);
        Some(Self { by, size_mm, scale: 1.0 })
    }

    /// Where a point of the card lies in the picture, pixels by their middles.
    pub(super) fn map(&self, x: f64, y: f64) -> (f64, f64) {
        let [a, b, c, d, e, f, g, h, i] = self.by;
        let w = g * x + h * y + i;
        let w = if w.abs() < 1e-9 { 1e-9 } else { w };
        ((a * x + b * y + c) / w, (d * x + e * y + f) / w)
    }

    fn pixels_a_mm(&self, x: f64, y: f64) -> f64 {
        let (from, right, low) = (self.map(x, y), self.map(x + 0.5, y), self.map(x, y + 0.5));
        let (ax, ay) = (right.0 - from.0, right.1 - from.1);
        let (bx, by) = (low.0 - from.0, low.1 - from.1);
        2.0 * (ax * by - ay * bx).abs().sqrt()
    }

    /// The light at a point of the card, by a cubic through its neighbours: a straight
    /// line between pixels would blur.
    pub(super) fn light(&self, page: &Page, x: f64, y: f64) -> f64 {
        let (x, y) = self.map(x, y);
        let (left, top) = (whole(x), whole(y));
        let across = cubic(x - left as f64);
        let down = cubic(y - top as f64);
        (-1..3)
            .zip(down)
            .map(|(j, wy)| {
                let row = page
                    .four(left - 1, top + j)
                    .unwrap_or_else(|| [-1, 0, 1, 2].map(|i| page.light(left + i, top + j)));
                let row = row.iter().zip(across).map(|(light, wx)| wx * f64::from(*light));
                wy * row.sum::<f64>()
            })
            .sum()
    }

    fn byte(&self, page: &Page, x: f64, y: f64) -> u8 {
        let (x, y) = self.map(x, y);
        page.byte(whole(x + 0.5), whole(y + 0.5))
    }

    /// How large the marks are, along both axes of the card: 1 where it has the size that was
    /// told. A card that is larger than that has smaller marks on it.
    fn marks(&self, places: &[(f64, f64); 4], found: &[Found; 4]) -> Option<(f64, f64)> {
        let (mut across, mut along) = (Vec::new(), Vec::new());
        for ((x, y), mark) in places.iter().zip(found) {
            let (left, right) = (self.map(x - 0.5, *y), self.map(x + 0.5, *y));
            let (above, below) = (self.map(*x, y - 0.5), self.map(*x, y + 0.5));
            let (a, b) = (right.0 - left.0, below.0 - above.0);
            let (c, d) = (right.1 - left.1, below.1 - above.1);
            let det = a * d - b * c;
            let [xx, yy, xy] = mark.ring;
            // The ring as it lies on the card, by the way back from the picture.
            across.push((d * d * xx + b * b * yy - 2.0 * b * d * xy) / (det * det));
            along.push((c * c * xx + a * a * yy - 2.0 * a * c * xy) / (det * det));
        }
        let size = |squares: &[f64]| (mean(squares) / RING_MM2).sqrt();
        let (across, along) = (size(&across), size(&along));
        (across.is_normal() && along.is_normal()).then_some((across, along))
    }

    /// Half way from the ink of the first mark to the white of its ring.
    fn half_way(&self, page: &Page, (across, along): (f64, f64)) -> f64 {
        let at = |x: f64, y: f64| {
            self.light(page, MARK_MM + 1.5 * x * across, MARK_MM + 1.5 * y * along)
        };
        let white = [at(1.0, 0.0), at(-1.0, 0.0), at(0.0, 1.0), at(0.0, -1.0)];
        f64::midpoint(at(0.0, 0.0), mean(&white))
    }

    /// Mean light where the bar would be, beside a mark of such a size.
    fn bar(&self, page: &Page, (across, along): (f64, f64)) -> f64 {
        let points = (0..16).flat_map(|i| (0..5).map(move |j| (i, j)));
        let lights: Vec<f64> = points
            .map(|(i, j)| {
                let x = MARK_MM + across * (4.5 + 0.25 * f64::from(i));
                self.light(page, x, MARK_MM + along * (0.3 * f64::from(j) - 0.6))
            })
            .collect();
        mean(&lights)
    }

    /// The code on the frame; none if a bit of it is not plain.
    pub(super) fn code(&self, page: &Page, contrast: f64) -> Option<u32> {
        let (wide, high) = HALF_MM;
        let around = |(x, y): (f64, f64)| {
            let points = (-2..=2).flat_map(|i| (-2..=2).map(move |j| (f64::from(i), f64::from(j))));
            let light = |(i, j)| self.light(page, x + 0.12 * wide * i, y + 0.15 * high * j);
            mean(&points.map(light).collect::<Vec<_>>())
        };
        halves_mm(self.size_mm).try_fold(0, |code, (bit, [left, right])| {
            let (left, right) = (around(left), around(right));
            let is_plain = PLAIN * contrast <= (left - right).abs();
            is_plain.then_some(code | u32::from(left < right) << bit)
        })
    }

    fn look(&self, page: &Page, marks: &[(f64, f64)]) -> Look {
        let (width, height) = self.size_mm;
        let step = 1.0 / self.scale;
        // The two short sides of the frame are blank.
        let (mut paper, mut high) = (Vec::new(), Vec::new());
        for side in [2.5, width - 7.5] {
            let long = pixels((height - 2.0 * (FRAME_MM + 1.0)) / step).min(1_200);
            let thin = pixels(5.0 / step).min(60);
            for j in 0..long {
                for i in 0..thin {
                    let (x, y) = self.map(side + i as f64 * step, FRAME_MM + 1.0 + j as f64 * step);
                    let (x, y) = (whole(x), whole(y));
                    let of = |i: isize, j: isize| f64::from(page.light(x + i, y + j));
                    let own = of(0, 0);
                    paper.push(own);
                    high.push((own - 0.25 * (of(1, 0) + of(-1, 0) + of(0, 1) + of(0, -1))).abs());
                }
            }
        }
        let paper = quantile(&mut paper, 0.5);
        let ink: Vec<f64> = marks.iter().map(|(x, y)| self.light(page, *x, *y)).collect();
        let ink = mean(&ink);
        let contrast = (paper - ink).max(1e-6);
        let noise = 1.4826 * median(high) / 1.25_f64.sqrt() / contrast;
        Look { paper, ink, noise, clipped: self.clipped(page), blur_mm: self.blur_mm(page, marks) }
    }

    /// Share of the window that is as white as it gets.
    fn clipped(&self, page: &Page) -> f64 {
        let (width, height) = self.size_mm;
        let (wide, high) = (width - 2.0 * FRAME_MM, height - 2.0 * FRAME_MM);
        let points = (0..100).flat_map(|j| (0..100).map(move |i| (i, j)));
        let white = points.filter(|(i, j)| {
            let x = FRAME_MM + wide * (f64::from(*i) + 0.5) / 100.0;
            let y = FRAME_MM + high * (f64::from(*j) + 0.5) / 100.0;
            254 <= self.byte(page, x, y)
        });
        white.count() as f64 / 10_000.0
    }

    /// The blur: the mean profile of the marks' dots as a straight edge under a Gaussian.
    fn blur_mm(&self, page: &Page, marks: &[(f64, f64)]) -> f64 {
        const BIN_MM: f64 = 0.015;
        let mut bins = vec![(0.0, 0.0); 110];
        let step = 1.0 / self.scale;
        let reach = whole(1.65 / step) + 1;
        for (cx, cy) in marks {
            for j in -reach..=reach {
                for i in -reach..=reach {
                    let (dx, dy) = (i as f64 * step, j as f64 * step);
                    let r = dx.hypot(dy);
                    if let Some(bin) = bins.get_mut(pixels(r / BIN_MM - 0.5)) {
                        bin.0 += self.light(page, cx + dx, cy + dy);
                        bin.1 += 1.0;
                    }
                }
            }
        }
        let profile: Vec<(f64, f64, f64)> = (0..)
            .zip(&bins)
            .filter(|(_, (_, many))| 0.0 < *many)
            .map(|(at, (sum, many))| ((f64::from(at) + 0.5) * BIN_MM, sum / many, *many))
            .collect();
        let cost = |blur: f64, edge: f64| scaled(&profile, |r| below((r - edge) / blur)).2;
        let edge = |blur: f64| least(0.8, 1.2, |edge| cost(blur, edge));
        let found = least((0.008_f64).ln(), (0.5_f64).ln(), |blur| {
            let blur = blur.exp();
            cost(blur, edge(blur))
        });
        found.exp()
    }
}

struct Look {
    paper: f64,
    ink: f64,
    noise: f64,
    clipped: f64,
    blur_mm: f64,
}

fn faults(quality: &Quality, clipped: f64) -> Vec<SheetFault> {
    let Quality { dpi, blur_mm, noise, flatness_mm, contrast, jpeg } = *quality;
    let all = [
        (contrast < LEAST_CONTRAST, SheetFault::TooDark),
        (MOST_CLIPPED < clipped, SheetFault::TooBright),
        (dpi < LEAST_DPI, SheetFault::TooCoarse),
        (MOST_BLUR_MM < blur_mm, SheetFault::TooBlurry),
        (MOST_BEND_MM < flatness_mm, SheetFault::NotFlat),
        (MOST_NOISE < noise, SheetFault::TooNoisy),
        (jpeg.is_some_and(|jpeg| jpeg < LEAST_JPEG), SheetFault::TooCompressed),
    ];
    all.into_iter().filter(|(holds, _)| *holds).map(|(_, fault)| fault).collect()
}

/// The outermost marks, clockwise from the upper left.
fn corners(found: &[Found]) -> Option<[Found; 4]> {
    if found.len() < 6 {
        return None;
    }
    let by = |value: fn(&Found) -> f64| {
        found.iter().min_by(|a, b| value(a).total_cmp(&value(b))).copied()
    };
    let four = [by(|m| m.x + m.y)?, by(|m| m.y - m.x)?, by(|m| -m.x - m.y)?, by(|m| m.x - m.y)?];
    let apart = |a: &Found, b: &Found| (a.x - b.x).hypot(a.y - b.y);
    let distinct = (0..4).all(|i| (0..i).all(|j| 6.0 * four[i].unit < apart(&four[i], &four[j])));
    distinct.then_some(four)
}
