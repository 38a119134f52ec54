//! Where the tips of a configuration lie.
//!
//! Lengths are in needle diameters; *x* runs across the travel of the hand,
//! *y* along it. Nothing published gives the tip spacing of real groupings, so
//! every spacing is a named parameter.
//!
//! | grouping | tips | band width |
//! |---|---|---|
//! | round liner, round shader, round | best packing, spread by *k* | (ratio − 1)·k + 1 |
//! | hollow liner | ring, spread by *k* | same |
//! | flat, sloped flat | one row of pitch *p* | (n − 1)·p + 1 |
//! | stacked magnum | two rows of pitch *p*, nested | odd n: (n − 1)/2·p + 1 |
//! | woven magnum, magnum | two rows of pitch *p*, row gap *g* | odd n: (n − 1)/2·p + 1 |
//! | curved magnum | as woven, tips on an arc of radius *R* | same |
//! | hand blade | one row along the travel | 1 |

use etui_schema::vocabulary::Grouping;

use super::hull::{Point, hull_area_of_discs};
use super::packing::{Bundle, Packing, nearest};
use super::parameters::{Parameter, Parameters};

/// How the tips of a grouping stand together. A new grouping has to say it here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stand {
    /// In a bundle or a ring.
    Round,
    /// Level, in one row or two.
    Level,
    /// In a row on a slant.
    Slanted,
    /// In rows on an arc.
    Arched,
    /// In a row along the travel, held by hand.
    Along,
}

impl Stand {
    /// How those of a grouping stand.
    #[must_use]
    pub const fn of(grouping: Grouping) -> Self {
        match grouping {
            Grouping::RoundLiner
            | Grouping::RoundShader
            | Grouping::Round
            | Grouping::HollowLiner => Self::Round,
            Grouping::Flat | Grouping::WovenMagnum | Grouping::StackedMagnum | Grouping::Magnum => {
                Self::Level
            }
            Grouping::SlopedFlat => Self::Slanted,
            Grouping::CurvedMagnum => Self::Arched,
            Grouping::HandBlade => Self::Along,
        }
    }
}

impl Parameter {
    /// The parameters that shape the layout of this grouping.
    #[must_use]
    pub const fn of_layout(grouping: Grouping) -> &'static [Self] {
        match grouping {
            Grouping::RoundLiner => &[Self::SpreadRoundLiner],
            Grouping::RoundShader => &[Self::SpreadRoundShader],
            Grouping::Round => &[Self::SpreadRound],
            Grouping::HollowLiner => &[Self::SpreadHollowLiner],
            Grouping::Flat | Grouping::HandBlade => &[Self::PitchFlat],
            Grouping::SlopedFlat => &[Self::PitchFlat, Self::SlopeDeg],
            Grouping::StackedMagnum => &[Self::PitchStacked],
            Grouping::WovenMagnum | Grouping::Magnum => &[Self::PitchWoven, Self::RowGapWoven],
            Grouping::CurvedMagnum => &[Self::PitchWoven, Self::RowGapWoven, Self::ArcRadiusMm],
        }
    }
}

/// The tips of one grouping and count, in needle diameters.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// Tip centres around the middle of the group.
    pub tips: Box<[Point]>,
    /// How far each tip of a sloped flat stands back, in needle diameters;
    /// empty where all tips lie in one plane or on an arc.
    pub set_back: Box<[f64]>,
    /// Width across the travel, from shaft edge to shaft edge.
    pub band_width: f64,
    /// Area of the hull of the shafts.
    pub footprint: f64,
    /// Distance of the two nearest tip centres; none for a single.
    pub nearest: Option<f64>,
}

impl Layout {
    /// Lays out one grouping.
    pub(super) fn new(
        packing: &Packing,
        grouping: Grouping,
        count: u8,
        parameters: &Parameters,
    ) -> Self {
        let value = |parameter| parameters.get(parameter);
        let woven = || rows(count, value(Parameter::PitchWoven), value(Parameter::RowGapWoven));
        match grouping {
            Grouping::RoundLiner => {
                Self::round(packing.bundle(count), value(Parameter::SpreadRoundLiner))
            }
            Grouping::RoundShader => {
                Self::round(packing.bundle(count), value(Parameter::SpreadRoundShader))
            }
            Grouping::Round => Self::round(packing.bundle(count), value(Parameter::SpreadRound)),
            Grouping::HollowLiner => {
                Self::round(&Bundle::ring(count), value(Parameter::SpreadHollowLiner))
            }
            Grouping::Flat => Self::plane(row(count, value(Parameter::PitchFlat))),
            Grouping::SlopedFlat => Self::sloped(count, parameters),
            Grouping::HandBlade => {
                let turned = row(count, value(Parameter::PitchFlat))
                    .into_iter()
                    .map(|tip| Point { x: tip.y, y: tip.x });
                Self::plane(turned.collect())
            }
            Grouping::StackedMagnum => {
                let pitch = value(Parameter::PitchStacked);
                // Rows nest: shafts of neighbouring rows touch.
                let gap = (1.0 - 0.25 * pitch * pitch).max(0.0).sqrt();
                Self::plane(rows(count, pitch, gap))
            }
            Grouping::WovenMagnum | Grouping::Magnum | Grouping::CurvedMagnum => {
                Self::plane(woven())
            }
        }
    }

    fn round(bundle: &Bundle, spread: f64) -> Self {
        // Centres are in needle radii; half of that in diameters.
        let scale = 0.5 * spread;
        let tips = bundle.centres.iter().map(|c| Point { x: c.x * scale, y: c.y * scale });
        let mut layout = Self::plane(tips.collect());
        layout.band_width = (bundle.ratio - 1.0) * spread + 1.0;
        layout
    }

    fn sloped(count: u8, parameters: &Parameters) -> Self {
        let pitch = parameters.get(Parameter::PitchFlat);
        let slant = parameters.get(Parameter::SlopeDeg).to_radians().tan();
        let mut layout = Self::plane(row(count, pitch));
        layout.set_back = (0..count).map(|i| f64::from(i) * pitch * slant).collect();
        layout
    }

    fn plane(tips: Vec<Point>) -> Self {
        let (least, most) = tips
            .iter()
            .fold((f64::MAX, f64::MIN), |(least, most), t| (least.min(t.x), most.max(t.x)));
        Self {
            band_width: most - least + 1.0,
            footprint: hull_area_of_discs(&tips, 0.5),
            nearest: nearest(&tips),
            tips: tips.into(),
            set_back: Box::default(),
        }
    }

    /// How many tips lie in each ring from the outside inwards, such as
    /// `[12, 6, 1]` for nineteen. Tips whose distances from the middle differ
    /// by less than a fifth of a diameter count as one ring.
    #[must_use]
    pub fn rings(&self) -> Vec<u8> {
        let mut reaches: Vec<f64> = self.tips.iter().map(|t| t.x.hypot(t.y)).collect();
        reaches.sort_by(|a, b| b.total_cmp(a));
        let mut rings: Vec<u8> = Vec::new();
        let mut outer = f64::MAX;
        for reach in reaches {
            match rings.last_mut() {
                Some(ring) if outer - reach < 0.2 => *ring += 1,
                _ => {
                    outer = reach;
                    rings.push(1);
                }
            }
        }
        rings
    }
}

/// One row across the travel.
fn row(count: u8, pitch: f64) -> Vec<Point> {
    let middle = 0.5 * (f64::from(count) - 1.0);
    (0..count).map(|i| Point { x: (f64::from(i) - middle) * pitch, y: 0.0 }).collect()
}

/// Two rows, staggered by half a pitch; the front row has the odd one more.
fn rows(count: u8, pitch: f64, gap: f64) -> Vec<Point> {
    let middle = 0.5 * (f64::from(count) - 1.0);
    (0..count)
        .map(|i| Point {
            x: (f64::from(i) - middle) * 0.5 * pitch,
            y: if i % 2 == 0 { 0.5 * gap } else { -0.5 * gap },
        })
        .collect()
}

/// How far a tip at `x_mm` from the middle stands back on an arc.
///
/// Beyond the arc's radius the tip stands back by the whole radius.
#[must_use]
pub fn arc_set_back_mm(x_mm: f64, arc_radius_mm: f64) -> f64 {
    let inside = (arc_radius_mm * arc_radius_mm - x_mm * x_mm).max(0.0);
    arc_radius_mm - inside.sqrt()
}
