//! Densest known packings of equal circles in a circle: how the needles of a
//! round bundle lie.
//!
//! `rules/configuration/packing.toml` holds the centres for 1 to 49 needles in
//! units of the needle's radius, found by this project's own solver
//! (`examples/pack.rs`). The ratio of bundle radius to needle radius is
//! recomputed from the centres when the table is loaded, so it can never claim
//! more than the centres show. Up to 14 and for 19 the ratios are proved
//! optimal in the literature; above 20 they are the best the solver found.

use serde::Deserialize;

use super::hull::Point;
use crate::rules::{self, RuleFault, RuleFile, rule_file};

const FILE: RuleFile = rule_file!("configuration/packing.toml");

/// The centres of one bundle and its size.
#[derive(Debug, Clone)]
pub(super) struct Bundle {
    /// Centres in needle radii around the middle of the bundle.
    pub(super) centres: Vec<Point>,
    /// Bundle radius over needle radius.
    pub(super) ratio: f64,
}

/// Bundles of 1 to 49 needles.
#[derive(Debug, Clone)]
pub(super) struct Packing {
    bundles: Vec<Bundle>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    packing: Vec<Entry>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    count: usize,
    centres: Vec<[f64; 2]>,
}

impl Packing {
    /// The table compiled into this build.
    pub(super) fn builtin() -> Result<Self, RuleFault> {
        let file: File = rules::plain(FILE)?;
        let mut bundles = Vec::with_capacity(file.packing.len());
        for (index, entry) in file.packing.into_iter().enumerate() {
            let fits = entry.count == index + 1 && entry.centres.len() == entry.count;
            RuleFault::unless(fits, FILE.name, format!("/packing/{index}"), "is out of order")?;
            bundles.push(Bundle::normalised(entry.centres));
        }
        let all = bundles.len() == usize::from(super::complete::COUNT_MAX);
        RuleFault::unless(all, FILE.name, "/packing", "49 entries are wanted")?;
        Ok(Self { bundles })
    }

    /// The bundle of this many needles, 1 to 49; outside, the nearest.
    pub(super) fn bundle(&self, count: u8) -> &Bundle {
        let index = usize::from(count.max(1)) - 1;
        &self.bundles[index.min(self.bundles.len() - 1)]
    }
}

impl Bundle {
    /// Scales centres so that the nearest two needles just touch.
    fn normalised(centres: Vec<[f64; 2]>) -> Self {
        let mut centres: Vec<Point> = centres.into_iter().map(|[x, y]| Point { x, y }).collect();
        let scale = nearest(&centres).map_or(1.0, |nearest| 2.0 / nearest);
        for centre in &mut centres {
            centre.x *= scale;
            centre.y *= scale;
        }
        let reach = centres.iter().map(|c| c.x.hypot(c.y)).fold(0.0, f64::max);
        Self { centres, ratio: reach + 1.0 }
    }

    /// Centres of a plain ring: no needle in the middle.
    pub(super) fn ring(count: u8) -> Self {
        if count < 2 {
            return Self { centres: vec![Point::default()], ratio: 1.0 };
        }
        let reach = 1.0 / (std::f64::consts::PI / f64::from(count)).sin();
        let centre = |i: u8| {
            let angle = std::f64::consts::TAU * f64::from(i) / f64::from(count);
            Point { x: reach * angle.sin(), y: reach * angle.cos() }
        };
        Self { centres: (0..count).map(centre).collect(), ratio: reach + 1.0 }
    }
}

/// Distance of the two nearest points; none for fewer than two.
pub(super) fn nearest(points: &[Point]) -> Option<f64> {
    let mut found: Option<f64> = None;
    for (i, a) in points.iter().enumerate() {
        for b in &points[i + 1..] {
            let distance = a.distance(*b);
            found = Some(found.map_or(distance, |least| least.min(distance)));
        }
    }
    found
}
