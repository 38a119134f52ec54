//! A panel, drawn anew square to the card, as darkness.

use super::Layout;
use super::card::{Card, FRAME_MM};
use super::decode::Page;
use super::fit::solve;
use super::plane::{Plane, pixels, quantile, single, spread, whole};

/// Where a panel lies, what is drawn around it, and where its neighbours are.
pub(super) struct Panel {
    /// Left, top, right, bottom.
    box_mm: [f64; 4],
    drawn_mm: [f64; 4],
    others_mm: Vec<[f64; 4]>,
}

/// Its darkness, pixel by pixel.
pub(super) struct Drawn {
    pub(super) darkness: Plane,
    /// Pixels a millimetre.
    pub(super) scale: f64,
    /// The card's place of the middle of the first pixel.
    origin_mm: (f64, f64),
    pub(super) box_mm: [f64; 4],
}

/// Skin that is drawn around a panel: short of the printed line along which it is cut out,
/// as paper is lighter than skin. And blocks in which its background is looked for.
pub(in super::super) const AROUND_MM: f64 = 0.7;
const BLOCK_MM: f64 = 0.25;
/// Blocks whose middles lie farther off tell no background: who cuts inside the line leaves
/// paper there.
const BESIDE_MM: f64 = 0.15;
/// Around a field skin is bare from where its marks end to where a cut inside the line may run.
const RING_MM: (f64, f64) = (0.2, 0.45);
const WINDOW_MM: f64 = 5.0;
/// The background is looked for at every so many blocks; skin changes slowly.
const SPARSE: usize = 4;

impl Panel {
    pub(super) fn place(layout: &Layout, at: usize) -> Self {
        let (width, height) = layout.card_mm;
        let inside = FRAME_MM + 0.2;
        let clamped = |[left, top, right, low]: [f64; 4], by: f64| {
            [
                (left - by).max(inside),
                (top - by).max(inside),
                (right + by).min(width - inside),
                (low + by).min(height - inside),
            ]
        };
        let others = layout.panels.iter().enumerate().filter(|(other, _)| *other != at);
        let box_mm = layout.panels.get(at).map_or([0.0; 4], |place| place.box_mm);
        Self {
            box_mm,
            drawn_mm: clamped(box_mm, AROUND_MM),
            others_mm: others.map(|(_, place)| place.box_mm).collect(),
        }
    }

    /// Its darkness over a background from within: for what leaves most of it bare.
    pub(super) fn draw(&self, page: &Page, card: &Card) -> Drawn {
        let light = self.light(page, card);
        let blocks = Blocks::of(&light, card.scale);
        let reach = whole(0.5 * WINDOW_MM / BLOCK_MM);
        let (across, down) = (blocks.plane.width, blocks.plane.height);
        let background = Plane::of(across.div_ceil(SPARSE), down.div_ceil(SPARSE), |x, y| {
            let (x, y) = ((x * SPARSE).cast_signed(), (y * SPARSE).cast_signed());
            let (w, h) = (across.cast_signed(), down.cast_signed());
            let mut window: Vec<f64> = ((y - reach).max(0)..(y + reach + 1).min(h))
                .flat_map(|j| ((x - reach).max(0)..(x + reach + 1).min(w)).map(move |i| (i, j)))
                .filter(|(i, j)| self.is_near(&blocks, *i, *j, card.scale))
                .map(|(i, j)| f64::from(blocks.plane.at(i, j)))
                .collect();
            single(quantile(&mut window, 0.8))
        });
        let background = background.blurred(1.0, 1.0);
        let back = |pixel: f64| blocks.back(pixel) / SPARSE as f64;
        self.over(light, card.scale, |x, y| background.linear(back(x), back(y)))
    }

    /// Whether the middle of a block lies in the panel, or hardly beside it.
    fn is_near(&self, blocks: &Blocks, x: isize, y: isize, scale: f64) -> bool {
        let at = |at: isize| (at as f64 + 0.5) * blocks.side / scale;
        within(self.box_mm, BESIDE_MM, self.drawn_mm[0] + at(x), self.drawn_mm[1] + at(y))
    }

    /// Its darkness over the bare skin around it: a field hides its own background.
    pub(super) fn draw_field(&self, page: &Page, card: &Card) -> Drawn {
        let light = self.light(page, card);
        let blocks = Blocks::of(&light, card.scale);
        let ring = self.ring(&light, &blocks, card.scale);
        let slope = sloped(ring);
        self.over(light, card.scale, |x, y| {
            slope[0] + slope[1] * blocks.back(x) + slope[2] * blocks.back(y)
        })
    }

    /// Bare skin around a field: the means of it in each block that has enough.
    fn ring(&self, light: &Plane, blocks: &Blocks, scale: f64) -> Vec<(f64, f64, f64)> {
        let (from, to) = RING_MM;
        let side = pixels(blocks.side).max(1);
        let mut found = vec![(0.0, 0.0); blocks.plane.width * blocks.plane.height];
        for y in 0..light.height {
            for x in 0..light.width {
                let at = |at: usize| (at as f64 + 0.5) / scale;
                let (px, py) = (self.drawn_mm[0] + at(x), self.drawn_mm[1] + at(y));
                let is_bare = within(self.box_mm, to, px, py)
                    && !within(self.box_mm, from, px, py)
                    && !self.others_mm.iter().any(|other| within(*other, from, px, py));
                let block = found.get_mut(y / side * blocks.plane.width + x / side);
                if let Some(block) = block.filter(|_| is_bare) {
                    *block = (block.0 + f64::from(light.get(x, y)), block.1 + 1.0);
                }
            }
        }
        let wide = blocks.plane.width.max(1);
        let enough = 0.3 * blocks.side * blocks.side;
        found
            .into_iter()
            .enumerate()
            .filter(|(_, (_, many))| enough <= *many)
            .map(|(at, (sum, many))| ((at % wide) as f64, (at / wide) as f64, sum / many))
            .collect()
    }

    fn light(&self, page: &Page, card: &Card) -> Plane {
        let [left, top, right, low] = self.drawn_mm;
        let scale = card.scale;
        let (width, height) = (pixels((right - left) * scale), pixels((low - top) * scale));
        Plane::of(width, height, |x, y| {
            let at = |from: f64, at: usize| from + (at as f64 + 0.5) / scale;
            single(card.light(page, at(left, x), at(top, y)))
        })
    }

    fn over(&self, light: Plane, scale: f64, background: impl Fn(f64, f64) -> f64) -> Drawn {
        let darkness = Plane::of(light.width, light.height, |x, y| {
            let bare = background(x as f64, y as f64).max(1e-4);
            single(1.0 - f64::from(light.get(x, y)) / bare)
        });
        let [left, top, ..] = self.drawn_mm;
        let origin_mm = (left + 0.5 / scale, top + 0.5 / scale);
        Drawn { darkness, scale, origin_mm, box_mm: self.box_mm }
    }
}

impl Drawn {
    /// A pixel's place on the card.
    pub(super) fn on_card(&self, x: f64, y: f64) -> (f64, f64) {
        (self.origin_mm.0 + x / self.scale, self.origin_mm.1 + y / self.scale)
    }

    /// The pixel of a place on the card.
    pub(super) fn in_panel(&self, x: f64, y: f64) -> (f64, f64) {
        ((x - self.origin_mm.0) * self.scale, (y - self.origin_mm.1) * self.scale)
    }

    /// The pixels whose middles lie in the box: left, top, right, bottom, the last two
    /// not in it.
    pub(super) fn pixels(&self) -> [usize; 4] {
        let [left, top, right, low] = self.box_mm;
        let (left, top) = self.in_panel(left, top);
        let (right, low) = self.in_panel(right, low);
        let end = |value: f64, most: usize| pixels(value + 0.5).min(most);
        let (w, h) = (self.darkness.width, self.darkness.height);
        [end(left, w), end(top, h), end(right, w), end(low, h)]
    }

    /// The same panel, its rows for columns.
    pub(super) fn turned(&self) -> Self {
        let [left, top, right, low] = self.box_mm;
        Self {
            darkness: self.darkness.turned(),
            scale: self.scale,
            origin_mm: (self.origin_mm.1, self.origin_mm.0),
            box_mm: [top, left, low, right],
        }
    }
}

fn within([left, top, right, low]: [f64; 4], by: f64, x: f64, y: f64) -> bool {
    left - by <= x && x <= right + by && top - by <= y && y <= low + by
}

/// Means of square blocks.
struct Blocks {
    plane: Plane,
    /// Side of one, in pixels.
    side: f64,
}

impl Blocks {
    fn of(light: &Plane, scale: f64) -> Self {
        let side = pixels(BLOCK_MM * scale).max(1);
        let (width, height) = (light.width.div_ceil(side), light.height.div_ceil(side));
        let plane = Plane::of(width, height, |x, y| {
            let (mut sum, mut many) = (0.0, 0.0);
            for j in y * side..((y + 1) * side).min(light.height) {
                for i in x * side..((x + 1) * side).min(light.width) {
                    sum += light.get(i, j);
                    many += 1.0;
                }
            }
            if many < 1.0 { 0.0 } else { sum / many }
        });
        Self { plane, side: side as f64 }
    }

    /// The block, as a fraction, of a pixel.
    fn back(&self, pixel: f64) -> f64 {
        (pixel + 0.5) / self.side - 0.5
    }
}

/// A plane through points, what lies far below it left out.
fn sloped(mut points: Vec<(f64, f64, f64)>) -> [f64; 3] {
    let mut found = [1.0, 0.0, 0.0];
    for _ in 0..4 {
        let mut rows = vec![vec![0.0; 4]; 3];
        for (x, y, value) in &points {
            let by = [1.0, *x, *y];
            for i in 0..3 {
                for j in 0..3 {
                    rows[i][j] += by[i] * by[j];
                }
                rows[i][3] += by[i] * value;
            }
        }
        let Some(solved) = solve(rows) else { break };
        found.iter_mut().zip(solved).for_each(|(by, found)| *by = found);
        let off = |(x, y, value): &(f64, f64, f64)| value - found[0] - found[1] * x - found[2] * y;
        let far = 2.0 * spread(&points.iter().map(off).collect::<Vec<_>>());
        let kept: Vec<_> = points.iter().filter(|point| -far <= off(point)).copied().collect();
        if kept.len() == points.len() || kept.len() < 12 {
            break;
        }
        points = kept;
    }
    found
}
