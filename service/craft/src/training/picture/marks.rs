//! The bull's-eyes: a ring of 3.0 and 2.0 mm around a dot of 1.0 mm (radii).
//!
//! Looked for in a picture of at most 1,600 pixels a side, dark against the mean around.
//! A ring has an area of 5π and a mean squared radius of 6.5, in radii of its dot; a
//! disc, a bar and a stroke have other proportions.

use super::decode::Page;
use super::plane::{Plane, components, single, whole};

/// A mark in the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Found {
    pub(super) x: f64,
    pub(super) y: f64,
    /// Radius of its dot, in pixels.
    pub(super) unit: f64,
    /// Mean squares of its ring from its middle: across, along, and across times along, in
    /// square pixels.
    pub(super) ring: [f64; 3],
}

const LONGEST: usize = 1_600;
/// More dark spots than this are no sheet.
const MOST: usize = 40_000;

/// What is known of a dark spot.
struct Spot {
    x: f64,
    y: f64,
    area: f64,
    /// Mean squared distance from its middle.
    squared: f64,
    /// The lesser over the greater of its two spreads.
    roundness: f64,
    /// Mean squares across, along, and across times along.
    squares: [f64; 3],
}

impl Spot {
    fn of(pixels: &[(usize, usize)]) -> Self {
        let area = pixels.len() as f64;
        let sum = |value: &dyn Fn(f64, f64) -> f64| {
            pixels.iter().map(|(x, y)| value(*x as f64, *y as f64)).sum::<f64>() / area
        };
        let (x, y) = (sum(&|x, _| x), sum(&|_, y| y));
        let xx = sum(&|px, _| (px - x).powi(2));
        let yy = sum(&|_, py| (py - y).powi(2));
        let xy = sum(&|px, py| (px - x) * (py - y));
        let apart = ((0.5 * (xx - yy)).powi(2) + xy * xy).sqrt();
        let middle = 0.5 * (xx + yy);
        // A pixel is a square and no point.
        let (greater, lesser) = (middle + apart + 1.0 / 12.0, middle - apart + 1.0 / 12.0);
        let (squared, roundness) = (greater + lesser, lesser / greater);
        Self { x, y, area, squared, roundness, squares: [xx, yy, xy] }
    }

    /// Area over π times the mean squared radius: 2 of a disc, 0.77 of the ring.
    fn fullness(&self) -> f64 {
        self.area / (std::f64::consts::PI * self.squared)
    }

    fn is_ring(&self) -> bool {
        40.0 <= self.area && 0.4 <= self.roundness && (0.45..=1.2).contains(&self.fullness())
    }

    fn is_dot_of(&self, ring: &Self) -> bool {
        let radius = (ring.squared / 6.5).sqrt() * 3.0;
        let apart = (self.x - ring.x).hypot(self.y - ring.y);
        apart <= 0.15 * radius
            && (0.06..=0.5).contains(&(self.area / ring.area))
            && (1.5..=2.3).contains(&self.fullness())
            && 0.4 <= self.roundness
            && (5.0..=40.0).contains(&(ring.squared / self.squared))
    }
}

/// Every mark that is found, its middle to a fraction of a pixel.
pub(super) fn find(page: &Page) -> Vec<Found> {
    let step = page.width.max(page.height).div_ceil(LONGEST).max(1);
    let (width, height) = (page.width / step, page.height / step);
    if width < 40 || height < 40 {
        return Vec::new();
    }
    let small = Plane::of(width, height, |x, y| {
        let (left, top) = ((x * step).cast_signed(), (y * step).cast_signed());
        let side = step.cast_signed();
        let sum: f32 = (0..side)
            .flat_map(|j| (0..side).map(move |i| (i, j)))
            .map(|(i, j)| page.light(left + i, top + j))
            .sum();
        sum / single((step * step) as f64)
    });
    // Noise tears rings; so little blur closes them and moves no middle.
    let small = small.blurred(0.8, 0.8);
    let dark = Dark::of(&small);
    let spots = components(width, height, |x, y| dark.is(&small, x, y));
    if MOST < spots.len() {
        return Vec::new();
    }
    let spots: Vec<Spot> =
        spots.iter().filter(|spot| 5 <= spot.len()).map(|spot| Spot::of(spot)).collect();
    let rings = spots.iter().filter(|spot| spot.is_ring());
    let marks = rings.filter(|ring| spots.iter().any(|spot| spot.is_dot_of(ring)));
    let scale = step as f64;
    let place = |at: f64| (at + 0.5) * scale - 0.5;
    marks
        .map(|ring| Found {
            x: place(ring.x),
            y: place(ring.y),
            unit: (ring.squared / 6.5).sqrt() * scale,
            ring: ring.squares.map(|square| square * scale * scale),
        })
        .map(|found| middle(page, found))
        .collect()
}

/// What is dark against the mean of a window around it.
struct Dark {
    sums: Vec<f64>,
    width: usize,
    height: usize,
    reach: usize,
}

impl Dark {
    fn of(plane: &Plane) -> Self {
        let (width, height) = (plane.width, plane.height);
        let mut sums = vec![0.0; (width + 1) * (height + 1)];
        for y in 0..height {
            let mut row = 0.0;
            for x in 0..width {
                row += f64::from(plane.get(x, y));
                sums[(y + 1) * (width + 1) + x + 1] = sums[y * (width + 1) + x + 1] + row;
            }
        }
        Self { sums, width, height, reach: (width.min(height) / 16).max(4) }
    }

    fn is(&self, plane: &Plane, x: usize, y: usize) -> bool {
        let (left, right) = (x.saturating_sub(self.reach), (x + self.reach + 1).min(self.width));
        let (top, low) = (y.saturating_sub(self.reach), (y + self.reach + 1).min(self.height));
        let sum = |x: usize, y: usize| self.sums[y * (self.width + 1) + x];
        let all = sum(right, low) - sum(left, low) - sum(right, top) + sum(left, top);
        let mean = all / ((right - left) * (low - top)) as f64;
        f64::from(plane.get(x, y)) < 0.72 * mean
    }
}

/// The middle of the dot: the centroid of what is darker than the white ring, three
/// times over.
fn middle(page: &Page, found: Found) -> Found {
    let mut at = found;
    for _ in 0..3 {
        let (mut white, mut many) = (0.0, 0.0);
        let each = |use_it: &mut dyn FnMut(f64, f64, f64, f64)| {
            let reach = whole(1.8 * at.unit) + 2;
            let (cx, cy) = (whole(at.x + 0.5), whole(at.y + 0.5));
            for y in cy - reach..=cy + reach {
                for x in cx - reach..=cx + reach {
                    let (px, py) = (x as f64, y as f64);
                    let r = (px - at.x).hypot(py - at.y) / at.unit;
                    use_it(px, py, r, f64::from(page.light(x, y)));
                }
            }
        };
        each(&mut |_, _, r, light| {
            if (1.35..=1.7).contains(&r) {
                white += light;
                many += 1.0;
            }
        });
        if many < 1.0 {
            return at;
        }
        let white = white / many;
        let (mut weight, mut sx, mut sy) = (0.0, 0.0, 0.0);
        each(&mut |px, py, r, light| {
            if r <= 1.5 {
                let dark = (white - light).max(0.0);
                weight += dark;
                sx += dark * px;
                sy += dark * py;
            }
        });
        if weight <= 0.0 {
            return at;
        }
        at = Found { x: sx / weight, y: sy / weight, ..at };
    }
    at
}
