//! What a pattern amounts to, beside what the Boolean model expects.
//!
//! Coverage is counted on a grid of points laid over the ground at a random
//! place, so that the count is right on average. Points stand about half a
//! mark's radius apart, a quarter of a million at most.

use super::super::mechanics::{coverage, repeat_hits};
use super::chance::Chance;
use super::request::Ground;
use super::simulate::{Dot, Pattern, count_of};

/// An expected share beside the simulated one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Against {
    /// By the Boolean model.
    pub expected: f64,
    /// As counted in the pattern.
    pub simulated: f64,
}

/// How the dots lie to one another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spacing {
    /// Mean distance between strokes along the travel, in mm; none over an area.
    pub strokes_mm: Option<f64>,
    /// Mean distance from a dot to its nearest neighbour, in mm; 0 for fewer
    /// than two dots.
    pub nearest_mm: f64,
    /// That mean over the mean of dots thrown at random (Clark and Evans):
    /// 1 = random, above = evenly spread, below = in clusters.
    pub regularity: f64,
}

/// What a pattern amounts to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Statistics {
    /// Dots whose middle lies on the ground.
    pub punctures: u32,
    /// Area of the ground, in mm²: the band of a stroke, or the rectangle.
    pub ground_mm2: f64,
    /// Punctures per mm² of ground.
    pub punctures_per_mm2: f64,
    /// Share of the ground under colour.
    pub coverage: Against,
    /// Share of the ground hit at least twice.
    pub repeat_hits: Against,
    /// How the dots lie to one another.
    pub spacing: Spacing,
    /// How ragged the outline is: the standard deviation of its distance from
    /// the mean edge, in mm. Smaller is sharper.
    pub edge_roughness_mm: f64,
    /// The largest gap, in mm: along a stroke the longest stretch without
    /// colour, over an area the side of the largest bare square.
    pub largest_gap_mm: f64,
}

impl Pattern {
    /// Counts the pattern.
    #[must_use]
    pub fn statistics(&self, seed: u64) -> Statistics {
        let frame = Frame::of(self);
        let inside = self.dots.iter().filter(|dot| frame.holds(dot)).count();
        let punctures = u32::try_from(inside).unwrap_or(u32::MAX);
        let ground_mm2 = frame.along_mm * frame.across_mm;
        let per_mm2 = f64::from(punctures) / ground_mm2;
        let grid = Grid::count(self, &frame, &mut Chance::new(seed ^ 0x6772_6964));
        let area_mm2 = self.dot_area_mm2;
        Statistics {
            punctures,
            ground_mm2,
            punctures_per_mm2: per_mm2,
            coverage: Against { expected: coverage(per_mm2, area_mm2), simulated: grid.share(1) },
            repeat_hits: Against {
                expected: repeat_hits(per_mm2, area_mm2),
                simulated: grid.share(2),
            },
            spacing: self.spacing(&frame, per_mm2),
            edge_roughness_mm: self.edge_roughness_mm(&frame),
            largest_gap_mm: match self.ground {
                Ground::Area { .. } => grid.largest_bare_square_mm(),
                Ground::Straight { .. } | Ground::Hair { .. } => self.longest_bare_mm(&frame),
            },
        }
    }

    fn spacing(&self, frame: &Frame, per_mm2: f64) -> Spacing {
        let nearest_mm = Neighbours::of(&self.dots, frame).mean_nearest_mm();
        let random_mm = if 0.0 < per_mm2 { 0.5 / per_mm2.sqrt() } else { f64::INFINITY };
        Spacing {
            strokes_mm: self.stroke_spacing_mm,
            nearest_mm,
            regularity: nearest_mm / random_mm,
        }
    }

    /// Outermost colour in slices of half a millimetre, on both sides.
    fn edge_roughness_mm(&self, frame: &Frame) -> f64 {
        let slices = index(frame.along_mm / 0.5).max(1);
        let mut low = vec![f64::INFINITY; slices];
        let mut high = vec![f64::NEG_INFINITY; slices];
        for dot in self.dots.iter().filter(|dot| frame.spans(dot)) {
            let slice = index(dot.along_mm / 0.5).min(slices - 1);
            low[slice] = low[slice].min(dot.across_mm - dot.radius_mm);
            high[slice] = high[slice].max(dot.across_mm + dot.radius_mm);
        }
        0.5 * (deviation(&low) + deviation(&high))
    }

    /// The longest stretch of a line on which no mark lies.
    fn longest_bare_mm(&self, frame: &Frame) -> f64 {
        let mut marks: Vec<(f64, f64)> = self
            .dots
            .iter()
            .map(|dot| (dot.along_mm - dot.radius_mm, dot.along_mm + dot.radius_mm))
            .collect();
        marks.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (mut reached, mut longest) = (0.0_f64, 0.0_f64);
        for (from, to) in marks {
            longest = longest.max(from.min(frame.along_mm) - reached);
            reached = reached.max(to);
        }
        longest.max(frame.along_mm - reached)
    }
}

/// Standard deviation of the finite values.
fn deviation(values: &[f64]) -> f64 {
    let finite: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    if finite.len() < 2 {
        return 0.0;
    }
    let mean = finite.iter().sum::<f64>() / count_of(&finite);
    let squares: f64 = finite.iter().map(|v| (v - mean) * (v - mean)).sum();
    (squares / (count_of(&finite) - 1.0)).sqrt()
}

/// The ground in the coordinates of the dots.
struct Frame {
    along_mm: f64,
    across_mm: f64,
    /// Where the ground begins across.
    from_mm: f64,
}

impl Frame {
    fn of(pattern: &Pattern) -> Self {
        match pattern.ground {
            Ground::Straight { length_mm } | Ground::Hair { length_mm, .. } => Self {
                along_mm: length_mm,
                across_mm: pattern.band_width_mm,
                from_mm: -0.5 * pattern.band_width_mm,
            },
            Ground::Area { width_mm, height_mm } => {
                Self { along_mm: width_mm, across_mm: height_mm, from_mm: 0.0 }
            }
        }
    }

    fn spans(&self, dot: &Dot) -> bool {
        0.0 <= dot.along_mm && dot.along_mm < self.along_mm
    }

    fn holds(&self, dot: &Dot) -> bool {
        let across = dot.across_mm - self.from_mm;
        self.spans(dot) && 0.0 <= across && across < self.across_mm
    }
}

/// How many marks lie on each point of a grid.
struct Grid {
    step_mm: f64,
    columns: usize,
    counts: Vec<u8>,
}

/// Most points of the grid.
const POINTS_MAX: f64 = 250_000.0;

impl Grid {
    fn count(pattern: &Pattern, frame: &Frame, chance: &mut Chance) -> Self {
        let finest = (frame.along_mm * frame.across_mm / POINTS_MAX).sqrt();
        let step_mm = (0.25 * pattern.dot_diameter_mm).max(finest);
        let columns = index(frame.along_mm / step_mm).max(1);
        let rows = index(frame.across_mm / step_mm).max(1);
        // Whole steps exactly fill the ground; the grid starts inside the first.
        let (step_x, step_y) = (frame.along_mm / size(columns), frame.across_mm / size(rows));
        let (first_x, first_y) = (chance.unit() * step_x, chance.unit() * step_y);
        let mut counts = vec![0_u8; columns * rows];
        for dot in &pattern.dots {
            let squared = dot.radius_mm * dot.radius_mm;
            let y = dot.across_mm - frame.from_mm - first_y;
            let from = ceiling((y - dot.radius_mm) / step_y).min(rows);
            let to = index((y + dot.radius_mm) / step_y + 1.0).min(rows);
            for row in from..to {
                let off = size(row) * step_y - y;
                let half = (squared - off * off).max(0.0).sqrt();
                let x = dot.along_mm - first_x;
                let left = ceiling((x - half) / step_x).min(columns);
                let right = index((x + half) / step_x + 1.0).min(columns);
                if left < right {
                    for count in &mut counts[row * columns + left..row * columns + right] {
                        *count = count.saturating_add(1);
                    }
                }
            }
        }
        Self { step_mm: step_x.min(step_y), columns, counts }
    }

    /// Share of the points under at least this many marks.
    fn share(&self, least: u8) -> f64 {
        let hit = self.counts.iter().filter(|count| least <= **count).count();
        size(hit) / count_of(&self.counts)
    }

    /// Side of the largest square without a marked point.
    fn largest_bare_square_mm(&self) -> f64 {
        let mut above = vec![0_u32; self.columns + 1];
        let mut largest = 0;
        for row in self.counts.chunks(self.columns) {
            let mut diagonal = 0;
            for (column, count) in row.iter().enumerate() {
                let kept = above[column + 1];
                above[column + 1] =
                    if *count == 0 { 1 + kept.min(above[column]).min(diagonal) } else { 0 };
                largest = largest.max(above[column + 1]);
                diagonal = kept;
            }
        }
        f64::from(largest) * self.step_mm
    }
}

/// Dots sorted into cells, to find neighbours.
struct Neighbours<'a> {
    dots: &'a [Dot],
    cell_mm: f64,
    columns: usize,
    rows: usize,
    origin: (f64, f64),
    starts: Vec<u32>,
    sorted: Vec<u32>,
}

/// Most dots whose nearest neighbour is looked for.
const LOOKED_AT: usize = 2_000;

impl<'a> Neighbours<'a> {
    fn of(dots: &'a [Dot], frame: &Frame) -> Self {
        // About two dots a cell, and no more cells than dots.
        let area = (frame.along_mm + 1.0) * (frame.across_mm + 1.0);
        let cell_mm = (2.0 * area / count_of(dots).max(1.0)).sqrt();
        let origin = (-0.5, frame.from_mm - 0.5);
        let columns = index((frame.along_mm + 1.0) / cell_mm) + 1;
        let rows = index((frame.across_mm + 1.0) / cell_mm) + 1;
        let mut found =
            Self { dots, cell_mm, columns, rows, origin, starts: Vec::new(), sorted: Vec::new() };
        let mut starts = vec![0_u32; columns * rows + 1];
        let cells: Vec<u32> = dots
            .iter()
            .map(|dot| {
                let (column, row) = found.cell(dot);
                u32::try_from(row * columns + column).unwrap_or(0)
            })
            .collect();
        for cell in &cells {
            starts[*cell as usize + 1] += 1;
        }
        for i in 1..starts.len() {
            starts[i] += starts[i - 1];
        }
        let mut next = starts.clone();
        found.sorted = vec![0; dots.len()];
        for (dot, cell) in (0_u32..).zip(&cells) {
            let at = &mut next[*cell as usize];
            found.sorted[*at as usize] = dot;
            *at += 1;
        }
        found.starts = starts;
        found
    }

    fn cell(&self, dot: &Dot) -> (usize, usize) {
        let column = index((dot.along_mm - self.origin.0) / self.cell_mm);
        let row = index((dot.across_mm - self.origin.1) / self.cell_mm);
        (column.min(self.columns - 1), row.min(self.rows - 1))
    }

    fn mean_nearest_mm(&self) -> f64 {
        if self.dots.len() < 2 {
            return 0.0;
        }
        let stride = self.dots.len().div_ceil(LOOKED_AT);
        let (mut sum, mut looked_at) = (0.0, 0.0);
        for at in (0..self.dots.len()).step_by(stride) {
            sum += self.nearest_squared(at).sqrt();
            looked_at += 1.0;
        }
        sum / looked_at
    }

    /// Squared distance to the nearest neighbour, ring of cells by ring.
    fn nearest_squared(&self, at: usize) -> f64 {
        let dot = &self.dots[at];
        let (column, row) = self.cell(dot);
        let mut least = f64::INFINITY;
        for ring in 0..self.columns.max(self.rows) {
            let reach = self.cell_mm * (size(ring) - 1.0);
            if 0.0 < reach && least <= reach * reach {
                break;
            }
            let rows = row.saturating_sub(ring)..=(row + ring).min(self.rows - 1);
            for r in rows {
                let whole_row = r.abs_diff(row) == ring;
                let from = column.saturating_sub(ring);
                let to = (column + ring).min(self.columns - 1);
                for c in from..=to {
                    if whole_row || c.abs_diff(column) == ring {
                        least = least.min(self.nearest_in(r * self.columns + c, at, dot));
                    }
                }
            }
        }
        least
    }

    fn nearest_in(&self, cell: usize, at: usize, dot: &Dot) -> f64 {
        let span = self.starts[cell] as usize..self.starts[cell + 1] as usize;
        self.sorted[span]
            .iter()
            .filter(|other| **other as usize != at)
            .map(|other| {
                let other = &self.dots[*other as usize];
                let (x, y) = (other.along_mm - dot.along_mm, other.across_mm - dot.across_mm);
                x * x + y * y
            })
            .fold(f64::INFINITY, f64::min)
    }
}

/// A whole number below a position; 0 for what lies before the start.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "negative and huge positions saturate, which is what is wanted"
)]
fn index(position: f64) -> usize {
    position as usize
}

/// The whole number not below a position; 0 for what lies before the start.
fn ceiling(position: f64) -> usize {
    index(position.ceil())
}

#[expect(clippy::cast_precision_loss, reason = "far fewer than 2^53 cells")]
fn size(count: usize) -> f64 {
    count as f64
}
