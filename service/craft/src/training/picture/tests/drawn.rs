//! Sheets that are drawn, so that what lies on them is known.
//!
//! A card is drawn as density at 48 pixels a millimetre, marks of pigment as discs whose
//! densities add up, strokes as the union of discs. It is then blurred, laid into a
//! picture by a homography, made noisy and written down as eight bits.

use std::f64::consts::PI;

use crate::configuration::pattern::Chance;

/// Pixels a millimetre of the drawing.
const PER_MM: f64 = 48.0;
const SKIN: f64 = 0.62;
/// Places a millimetre between which grain is straight.
const GRAIN_PER_MM: f64 = 6.0;
const PAPER: f64 = 0.90;
const INK: f64 = 0.05;
const FRAME_MM: f64 = 10.0;
const MARK_MM: f64 = 5.0;

pub(super) struct Drawing {
    pub(super) size_mm: (f64, f64),
    width: usize,
    height: usize,
    density: Vec<f32>,
    chance: Chance,
    /// Middles of the six marks, and whether each is there.
    pub(super) marks: Vec<((f64, f64), bool)>,
}

/// What was drawn of a row.
pub(super) struct Row {
    pub(super) spacing_mm: f64,
    pub(super) cv: f64,
}

/// How a picture is taken.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shot {
    pub(super) dpi: f64,
    pub(super) blur_mm: f64,
    pub(super) noise: f64,
    /// Perspective, and whether it is upside down.
    pub(super) tilt: f64,
    pub(super) is_turned: bool,
    /// Light of all of it.
    pub(super) exposure: f64,
    /// What bare skin reflects, and the spread of its grain over that.
    pub(super) skin: f64,
    pub(super) grain: f64,
}

pub(super) const SCAN: Shot = Shot {
    dpi: 600.0,
    blur_mm: 0.025,
    noise: 0.006,
    tilt: 0.0,
    is_turned: false,
    exposure: 1.0,
    skin: SKIN,
    grain: 0.0,
};

impl Drawing {
    pub(super) fn new(size_mm: (f64, f64), seed: u64) -> Self {
        let (width, height) = (count(size_mm.0 * PER_MM), count(size_mm.1 * PER_MM));
        let (w, h) = size_mm;
        let places = [
            (MARK_MM, MARK_MM),
            (w - MARK_MM, MARK_MM),
            (w - MARK_MM, h - MARK_MM),
            (MARK_MM, h - MARK_MM),
            (0.5 * w, MARK_MM),
            (0.5 * w, h - MARK_MM),
        ];
        let marks = places.map(|place| (place, true)).to_vec();
        let chance = Chance::new(seed);
        Self { size_mm, width, height, density: vec![0.0; width * height], chance, marks }
    }

    fn cover(&mut self, x: f64, y: f64, radius: f64, put: impl Fn(f32) -> f32) {
        let (cx, cy, r) = (x * PER_MM - 0.5, y * PER_MM - 0.5, radius * PER_MM);
        for py in count(cy - r - 1.0)..=count(cy + r + 1.0).min(self.height - 1) {
            for px in count(cx - r - 1.0)..=count(cx + r + 1.0).min(self.width - 1) {
                if (px as f64 - cx).hypot(py as f64 - cy) <= r {
                    let own = &mut self.density[py * self.width + px];
                    *own = put(*own);
                }
            }
        }
    }

    /// A row of dots along x; some are missing, some struck twice.
    pub(super) fn row(
        &mut self,
        (x, y): (f64, f64),
        (many, spacing, cv): (usize, f64, f64),
        diameter: f64,
        (missing, doubled): (&[usize], &[usize]),
    ) -> Row {
        let mut xs = Vec::new();
        for at in 0..many {
            let px = x + spacing * (at as f64 + cv * self.chance.bell());
            let py = y + 0.02 * self.chance.bell();
            if missing.contains(&at) {
                continue;
            }
            self.cover(px, py, 0.5 * diameter, |own| own + 0.42);
            if doubled.contains(&at) {
                self.cover(px + 0.1 * diameter, py, 0.5 * diameter, |own| own + 0.42);
            }
            xs.push(px);
        }
        let gaps: Vec<f64> = xs.iter().zip(xs.iter().skip(1)).map(|(a, b)| b - a).collect();
        let whole: Vec<f64> = gaps.into_iter().filter(|gap| *gap < 1.5 * spacing).collect();
        let mean = whole.iter().sum::<f64>() / whole.len() as f64;
        let squares: f64 = whole.iter().map(|gap| (gap - mean).powi(2)).sum();
        Row { spacing_mm: mean, cv: (squares / whole.len().saturating_sub(1) as f64).sqrt() / mean }
    }

    /// A stroke along x or down y, bent by a bow, of one lane or of three.
    pub(super) fn stroke(
        &mut self,
        (x, y): (f64, f64),
        length: f64,
        (mark, lanes): (f64, &[f64]),
        (bow, is_down): (f64, bool),
    ) {
        let mut along = 0.0;
        while along < length {
            let way = along / length;
            let thin = if 0.75 < way { 1.0 - 0.7 * (way - 0.75) / 0.25 } else { 1.0 };
            let off = bow * (1.0 - (2.0 * way - 1.0).powi(2));
            for lane in lanes {
                let (px, py) = (along, off + lane);
                let (px, py) = if is_down { (x + py, y + px) } else { (x + px, y + py) };
                self.cover(px, py, 0.5 * mark * thin, |own| own.max(0.42));
            }
            along += 0.04;
        }
    }

    /// A stroke drawn from the top down that turns evenly by so many degrees, its belly to
    /// the right above 0, and its first step upright or its chord; light at its end or not.
    pub(super) fn arc(
        &mut self,
        (x, y): (f64, f64),
        (length, turn_deg): (f64, f64),
        width: f64,
        (is_chord_upright, is_light): (bool, bool),
    ) {
        let turn = turn_deg.to_radians();
        let (mut x, mut y, step) = (x, y, 0.02);
        let mut heading = if is_chord_upright { -0.5 * turn } else { 0.0 };
        let mut along = 0.0;
        while along <= length {
            let way = along / length;
            let thin = if is_light && 0.75 < way { 1.0 - 0.8 * (way - 0.75) / 0.25 } else { 1.0 };
            self.cover(x, y, 0.5 * width * thin, |own| own.max(0.42));
            (x, y) = (x - step * heading.sin(), y + step * heading.cos());
            heading += turn * step / length;
            along += step;
        }
    }

    /// A field of marks that fall anyhow, overworked in some places; the share that is
    /// under colour.
    pub(super) fn field(
        &mut self,
        [left, top, right, low]: [f64; 4],
        (cover, diameter): (f64, f64),
        overworked: &[(f64, f64, f64)],
    ) -> f64 {
        let (width, height) = (right - left, low - top);
        let area = 0.25 * PI * diameter * diameter;
        let many = count(-(1.0 - cover).ln() / area * width * height);
        for _ in 0..many {
            let (x, y) = (self.chance.unit() * width, self.chance.unit() * height);
            self.cover(left + x, top + y, 0.5 * diameter, |own| own + 0.42);
        }
        for (x, y, radius) in overworked {
            for _ in 0..250 {
                let (turn, r) = (self.chance.unit() * 2.0 * PI, radius * self.chance.unit().sqrt());
                let (px, py) = (x + r * turn.cos(), y + r * turn.sin());
                self.cover(px, py, 0.5 * diameter, |own| own + 0.42);
            }
        }
        let mut dark = 0.0;
        let (mut all, half) = (0.0, 0.2);
        for py in count(top * PER_MM)..count(low * PER_MM) {
            for px in count(left * PER_MM)..count(right * PER_MM) {
                all += 1.0;
                dark += f64::from(u8::from(half < self.density[py * self.width + px]));
            }
        }
        dark / all
    }

    /// What the card reflects, 0 to 1.
    fn reflectance(&mut self, skin: f64, grain: f64) -> Vec<f32> {
        let (w, h) = self.size_mm;
        let grain = self.grain(grain);
        let mut all = Vec::with_capacity(self.density.len());
        for py in 0..self.height {
            for px in 0..self.width {
                let (x, y) = ((px as f64 + 0.5) / PER_MM, (py as f64 + 0.5) / PER_MM);
                let in_window =
                    FRAME_MM < x && x < w - FRAME_MM && FRAME_MM < y && y < h - FRAME_MM;
                let light = if in_window {
                    let density = f64::from(self.density[py * self.width + px]);
                    let rough = 1.0
                        + straight(
                            &grain,
                            count(w * GRAIN_PER_MM),
                            x * GRAIN_PER_MM,
                            y * GRAIN_PER_MM,
                        );
                    skin * rough * 10.0_f64.powf(-1.3 * (1.0 - (-density / 1.3).exp()))
                } else if self.is_ink(x, y) {
                    INK
                } else {
                    PAPER
                };
                all.push(narrow(light));
            }
        }
        all
    }

    /// Grain of the skin, about as wide as a dot.
    fn grain(&mut self, spread: f64) -> Vec<f32> {
        let (w, h) = self.size_mm;
        let (wide, high) = (count(w * GRAIN_PER_MM), count(h * GRAIN_PER_MM));
        if spread <= 0.0 {
            return vec![0.0; wide * high];
        }
        let rough: Vec<f32> = (0..wide * high).map(|_| narrow(self.chance.bell())).collect();
        let soft = blurred(&rough, wide, 1.0);
        let squares: f64 = soft.iter().map(|value| f64::from(*value).powi(2)).sum();
        let by = narrow(spread / (squares / soft.len() as f64).sqrt());
        soft.into_iter().map(|value| by * value).collect()
    }

    fn is_ink(&self, x: f64, y: f64) -> bool {
        let bar = (MARK_MM - 1.0..=MARK_MM + 1.0).contains(&y)
            && (MARK_MM + 4.0..=MARK_MM + 9.0).contains(&x);
        let in_mark = |((mx, my), is_there): &((f64, f64), bool)| {
            let r = (x - mx).hypot(y - my);
            *is_there && (r <= 1.0 || (2.0..=3.0).contains(&r))
        };
        bar || self.marks.iter().any(in_mark)
    }

    /// Takes a picture: width, height, and a byte a pixel.
    pub(super) fn shoot(&mut self, shot: &Shot) -> (u32, u32, Vec<u8>) {
        let flat =
            blurred(&self.reflectance(shot.skin, shot.grain), self.width, shot.blur_mm * PER_MM);
        let per_mm = shot.dpi / 25.4;
        let margin = if shot.tilt == 0.0 { 0.0 } else { 0.06 };
        let (w, h) = self.size_mm;
        let wide = count(w * per_mm * (1.0 + 2.0 * margin));
        let high = count(h * per_mm * (1.0 + 2.0 * margin));
        let mut bytes = Vec::with_capacity(wide * high);
        for v in 0..high {
            for u in 0..wide {
                let (u, v) = if shot.is_turned { (wide - 1 - u, high - 1 - v) } else { (u, v) };
                // From the middle, nearer on one side.
                let (a, b) = (
                    (u as f64 + 0.5) / (wide as f64) - 0.5,
                    (v as f64 + 0.5) / (high as f64) - 0.5,
                );
                let near = 1.0 + shot.tilt * (a + 0.6 * b);
                let (x, y) = (
                    w * (0.5 + a * (1.0 + 2.0 * margin) / near),
                    h * (0.5 + b * (1.0 + 2.0 * margin) / near),
                );
                let light = if (0.0..w).contains(&x) && (0.0..h).contains(&y) {
                    straight(&flat, self.width, x * PER_MM - 0.5, y * PER_MM - 0.5)
                } else {
                    0.35
                };
                let light = light * shot.exposure + shot.noise * self.chance.bell();
                bytes.push(byte(255.0 * light.clamp(0.0, 1.0).powf(1.0 / 2.2)));
            }
        }
        (number(wide), number(high), bytes)
    }
}

/// Blurred by a Gaussian of so many pixels.
fn blurred(data: &[f32], width: usize, sigma: f64) -> Vec<f32> {
    let reach = count(3.0 * sigma).max(1);
    let weights: Vec<f64> = (0..=2 * reach)
        .map(|at| (-0.5 * ((at as f64 - reach as f64) / sigma).powi(2)).exp())
        .collect();
    let all: f64 = weights.iter().sum();
    let weights: Vec<f32> = weights.iter().map(|weight| narrow(weight / all)).collect();
    let height = data.len() / width;
    let mut across = vec![0.0_f32; data.len()];
    for (row, out) in data.chunks(width).zip(across.chunks_mut(width)) {
        for (x, out) in out.iter_mut().enumerate() {
            for (at, weight) in weights.iter().enumerate() {
                *out += weight * row[(x + at).saturating_sub(reach).min(width - 1)];
            }
        }
    }
    let mut down = vec![0.0_f32; data.len()];
    for (y, out) in down.chunks_mut(width).enumerate() {
        for (at, weight) in weights.iter().enumerate() {
            let from = (y + at).saturating_sub(reach).min(height - 1) * width;
            for (out, value) in out.iter_mut().zip(&across[from..from + width]) {
                *out += weight * value;
            }
        }
    }
    down
}

fn straight(data: &[f32], width: usize, x: f64, y: f64) -> f64 {
    let (left, top) = (x.floor().max(0.0), y.floor().max(0.0));
    let height = data.len() / width;
    let of = |i: usize, j: usize| {
        let (x, y) = ((count(left) + i).min(width - 1), (count(top) + j).min(height - 1));
        f64::from(data[y * width + x])
    };
    let (dx, dy) = (x - left, y - top);
    let upper = of(0, 0) * (1.0 - dx) + of(1, 0) * dx;
    let lower = of(0, 1) * (1.0 - dx) + of(1, 1) * dx;
    upper * (1.0 - dy) + lower * dy
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small and clamped")]
pub(super) fn count(value: f64) -> usize {
    value.round().max(0.0) as usize
}

fn number(value: usize) -> u32 {
    u32::try_from(value).unwrap()
}

#[expect(clippy::cast_possible_truncation, reason = "a picture's precision")]
fn narrow(value: f64) -> f32 {
    value as f32
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
fn byte(value: f64) -> u8 {
    value.round().clamp(0.0, 255.0) as u8
}

/// Writes a PNG of grey bytes.
pub(super) fn png((width, height, bytes): &(u32, u32, Vec<u8>)) -> Vec<u8> {
    written(*width, *height, png::ColorType::Grayscale, bytes)
}

pub(super) fn written(width: u32, height: u32, colour: png::ColorType, bytes: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    let mut encoder = png::Encoder::new(&mut out, width, height);
    encoder.set_color(colour);
    encoder.set_depth(png::BitDepth::Eight);
    let mut writer = encoder.write_header().unwrap();
    writer.write_image_data(bytes).unwrap();
    writer.finish().unwrap();
    out
}
