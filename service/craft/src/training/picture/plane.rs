//! A rectangle of numbers, and the few things that are done with one.

use std::collections::BTreeMap;

/// Numbers in rows.
#[derive(Debug, Clone)]
pub(super) struct Plane {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) data: Vec<f32>,
}

impl Plane {
    pub(super) fn of(width: usize, height: usize, value: impl Fn(usize, usize) -> f32) -> Self {
        let mut data = Vec::with_capacity(width * height);
        for y in 0..height {
            data.extend((0..width).map(|x| value(x, y)));
        }
        Self { width, height, data }
    }

    /// A number; beyond the edge that of the edge, 0 of nothing.
    pub(super) fn at(&self, x: isize, y: isize) -> f32 {
        if self.data.is_empty() {
            return 0.0;
        }
        let x = x.clamp(0, self.width.cast_signed() - 1).cast_unsigned();
        let y = y.clamp(0, self.height.cast_signed() - 1).cast_unsigned();
        self.data[y * self.width + x]
    }

    /// The same of whole pixels that are inside.
    pub(super) fn get(&self, x: usize, y: usize) -> f32 {
        if x < self.width && y < self.height {
            return self.data[y * self.width + x];
        }
        self.at(x.cast_signed(), y.cast_signed())
    }

    /// Between pixels, straight.
    pub(super) fn linear(&self, x: f64, y: f64) -> f64 {
        let (left, top) = (whole(x), whole(y));
        let (dx, dy) = (x - left as f64, y - top as f64);
        let of = |i, j| f64::from(self.at(left + i, top + j));
        let upper = of(0, 0) * (1.0 - dx) + of(1, 0) * dx;
        let lower = of(0, 1) * (1.0 - dx) + of(1, 1) * dx;
        upper * (1.0 - dy) + lower * dy
    }

    /// Between pixels, by a cubic: a straight line would blur.
    pub(super) fn cubic(&self, x: f64, y: f64) -> f64 {
        let (left, top) = (whole(x), whole(y));
        let (across, down) = (cubic(x - left as f64), cubic(y - top as f64));
        let mut sum = 0.0;
        // Away from the edge four neighbours lie in a row.
        let inside = |at: isize, many: usize| 1 <= at && at.cast_unsigned() + 3 <= many;
        if inside(left, self.width) && inside(top, self.height) {
            for (j, wy) in (0..).zip(down) {
                let from = (top.cast_unsigned() - 1 + j) * self.width + left.cast_unsigned() - 1;
                for (value, wx) in self.data[from..from + 4].iter().zip(across) {
                    sum += wy * wx * f64::from(*value);
                }
            }
            return sum;
        }
        for (j, wy) in (-1..3).zip(down) {
            for (i, wx) in (-1..3).zip(across) {
                sum += wy * wx * f64::from(self.at(left + i, top + j));
            }
        }
        sum
    }

    /// Rows for columns.
    pub(super) fn turned(&self) -> Self {
        Self::of(self.height, self.width, |x, y| self.get(y, x))
    }

    /// Blurred by Gaussians of so many pixels.
    pub(super) fn blurred(&self, along: f64, across: f64) -> Self {
        self.along(along).turned().along(across).turned()
    }

    fn along(&self, sigma: f64) -> Self {
        if sigma < 0.05 {
            return self.clone();
        }
        let reach = pixels(3.0 * sigma).max(1).cast_signed();
        let weight = |at: isize| (-0.5 * (at as f64 / sigma).powi(2)).exp();
        let all: f64 = (-reach..=reach).map(weight).sum();
        let weights: Vec<f32> = (-reach..=reach).map(|at| single(weight(at) / all)).collect();
        let side = reach.cast_unsigned();
        Self::of(self.width, self.height, |x, y| {
            if side <= x && x + side < self.width {
                let from = y * self.width + x - side;
                let near = &self.data[from..=from + 2 * side];
                return near.iter().zip(&weights).map(|(value, weight)| weight * value).sum();
            }
            let (x, y) = (x.cast_signed(), y.cast_signed());
            let from = x - reach;
            (from..).zip(&weights).map(|(x, weight)| weight * self.at(x, y)).sum()
        })
    }
}

/// Connected pixels: pixels that touch, corners counted, under one number.
pub(super) fn components(
    width: usize,
    height: usize,
    is_in: impl Fn(usize, usize) -> bool,
) -> Vec<Vec<(usize, usize)>> {
    let mut parent: Vec<u32> = Vec::new();
    let mut labels = vec![u32::MAX; width * height];
    for y in 0..height {
        for x in 0..width {
            if !is_in(x, y) {
                continue;
            }
            let above = |x: usize| if y == 0 { u32::MAX } else { labels[(y - 1) * width + x] };
            let left = if x == 0 { u32::MAX } else { labels[y * width + x - 1] };
            let near = [
                left,
                if x == 0 { u32::MAX } else { above(x - 1) },
                above(x),
                if x + 1 < width { above(x + 1) } else { u32::MAX },
            ];
            let mut own = u32::MAX;
            for label in near.into_iter().filter(|label| *label != u32::MAX) {
                let root = root(&mut parent, label);
                if own == u32::MAX {
                    own = root;
                } else if root != own {
                    let (low, high) = (own.min(root), own.max(root));
                    if let Some(up) = parent.get_mut(high as usize) {
                        *up = low;
                    }
                    own = low;
                }
            }
            if own == u32::MAX {
                own = u32::try_from(parent.len()).unwrap_or(u32::MAX - 1);
                parent.push(own);
            }
            labels[y * width + x] = own;
        }
    }
    let mut found: BTreeMap<u32, Vec<(usize, usize)>> = BTreeMap::new();
    for y in 0..height {
        for x in 0..width {
            let label = labels[y * width + x];
            if label != u32::MAX {
                found.entry(root(&mut parent, label)).or_default().push((x, y));
            }
        }
    }
    found.into_values().collect()
}

fn root(parent: &mut [u32], label: u32) -> u32 {
    let mut at = label;
    while let Some(up) = parent.get(at as usize).copied().filter(|up| *up != at) {
        let further = parent.get(up as usize).copied().unwrap_or(up);
        if let Some(own) = parent.get_mut(at as usize) {
            *own = further;
        }
        at = further;
    }
    at
}

/// Weights of four neighbours at a place between the middle two (Catmull and Rom).
pub(super) fn cubic(t: f64) -> [f64; 4] {
    let (t2, t3) = (t * t, t * t * t);
    [
        0.5 * (2.0 * t2 - t3 - t),
        0.5 * (3.0 * t3 - 5.0 * t2 + 2.0),
        0.5 * (4.0 * t2 - 3.0 * t3 + t),
        0.5 * (t3 - t2),
    ]
}

pub(super) fn mean(values: &[f64]) -> f64 {
    if values.is_empty() { 0.0 } else { values.iter().sum::<f64>() / values.len() as f64 }
}

/// Standard deviation, with n − 1; 0 of fewer than two.
pub(super) fn spread(values: &[f64]) -> f64 {
    if values.len() < 2 {
        return 0.0;
    }
    let middle = mean(values);
    let squares: f64 = values.iter().map(|v| (v - middle).powi(2)).sum();
    (squares / (values.len() - 1) as f64).sqrt()
}

/// The value below which a share lies; 0 of nothing.
pub(super) fn quantile(values: &mut [f64], share: f64) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let at = pixels(share * (values.len() - 1) as f64).min(values.len() - 1);
    *values.select_nth_unstable_by(at, f64::total_cmp).1
}

pub(super) fn median(mut values: Vec<f64>) -> f64 {
    quantile(&mut values, 0.5)
}

/// The nearest whole number of pixels, 0 to a million.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped; NaN is 0")]
pub(super) fn pixels(value: f64) -> usize {
    value.round().clamp(0.0, 1e6) as usize
}

/// The whole number below, far from every end.
#[expect(clippy::cast_possible_truncation, reason = "clamped; NaN is 0")]
pub(super) fn whole(value: f64) -> isize {
    value.floor().clamp(-1e6, 1e6) as isize
}

#[expect(clippy::cast_possible_truncation, reason = "six figures are enough for a pixel")]
pub(super) fn single(value: f64) -> f32 {
    value as f32
}
