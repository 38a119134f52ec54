//! Comparison of configurations: each against the first, three orders, and
//! how firm the orders are.
//!
//! An order is *highest first*: most pressure, most trauma, most area covered
//! per second. Sensitivity moves each parameter that was not set by the caller
//! to the ends of its range; where that changes an order, the answer says so.
//! Parameters that scale every configuration alike (the hand, the skin) cannot
//! change an order and are left out.

use super::circumstances::Circumstances;
use super::complete::Complete;
use super::layout::Layout;
use super::measures::{Measures, RANKINGS, rankings};
use super::model::Model;
use super::parameters::{Parameter, Parameters};

/// Most configurations in one comparison.
pub const COMPARED_MAX: usize = 24;

/// What the configurations are ordered by, highest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum OrderBy {
    /// Pressure on each tip.
    Pressure,
    /// Trauma index.
    Trauma,
    /// Area covered per second.
    CoverRate,
}

impl OrderBy {
    /// Every order.
    pub const ALL: [Self; RANKINGS] = [Self::Pressure, Self::Trauma, Self::CoverRate];

    /// The name used in answers.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Pressure => "by_pressure",
            Self::Trauma => "by_trauma",
            Self::CoverRate => "by_cover_rate",
        }
    }
}

/// One configuration and its measures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compared {
    /// The configuration.
    pub configuration: Complete,
    /// Its measures.
    pub measures: Measures,
}

/// An order that changes when one parameter goes to an end of its range.
#[derive(Debug, Clone, PartialEq)]
pub struct Flip {
    /// Which order.
    pub order: OrderBy,
    /// Which parameter.
    pub parameter: Parameter,
    /// The end of its range.
    pub value: f64,
    /// The order there, as indices of the compared configurations.
    pub becomes: Vec<usize>,
}

/// Configurations side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// In the order in which they were given.
    pub compared: Vec<Compared>,
    orders: [Vec<usize>; RANKINGS],
    /// Where an order depends on an assumption, by parameter.
    pub flips: Vec<Flip>,
}

/// How many configurations were given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("{found} configurations to compare; 1 to 24 are accepted")]
pub struct CompareError {
    /// How many.
    pub found: usize,
}

impl Comparison {
    /// One order, highest first, as indices of the compared configurations.
    #[must_use]
    pub fn order(&self, by: OrderBy) -> &[usize] {
        &self.orders[by as usize]
    }

    /// Whether one order stays the same at both ends of every parameter.
    #[must_use]
    pub fn holds(&self, by: OrderBy) -> bool {
        self.flips.iter().all(|flip| flip.order != by)
    }
}

/// The rankings of each configuration.
type Ranks = [f64; RANKINGS];

impl Model {
    /// Compares 1 to 24 configurations under the same circumstances.
    ///
    /// # Errors
    /// [`CompareError`] for none or more than 24.
    pub fn compare(
        &self,
        configurations: &[Complete],
        circumstances: &Circumstances,
    ) -> Result<Comparison, CompareError> {
        if configurations.is_empty() || COMPARED_MAX < configurations.len() {
            return Err(CompareError { found: configurations.len() });
        }
        let measured = |configuration: &Complete| Compared {
            configuration: *configuration,
            measures: self.measure(configuration, circumstances),
        };
        let compared: Vec<Compared> = configurations.iter().map(measured).collect();
        let ranks: Vec<Ranks> = configurations
            .iter()
            .map(|c| {
                let layout = self.layout(c.grouping, c.count);
                rankings(c, layout, circumstances, self.parameters())
            })
            .collect();
        let orders = OrderBy::ALL.map(|by| order_of(&ranks, by));
        let flips = self.flips(configurations, circumstances, &ranks, &orders);
        Ok(Comparison { compared, orders, flips })
    }

    fn flips(
        &self,
        configurations: &[Complete],
        circumstances: &Circumstances,
        ranks: &[Ranks],
        orders: &[Vec<usize>; RANKINGS],
    ) -> Vec<Flip> {
        let mut flips = Vec::new();
        let mut moved = ranks.to_vec();
        for parameter in Parameter::ALL.iter().copied().filter(|p| can_reorder(*p)) {
            let told = self.parameters().specification(parameter);
            if self.parameters().is_changed(parameter) {
                continue;
            }
            for (end, value) in told.range.into_iter().enumerate() {
                let parameters = self.parameters().with(parameter, value);
                moved.copy_from_slice(ranks);
                for (rank, configuration) in moved.iter_mut().zip(configurations) {
                    if !touches(parameter, configuration) {
                        continue;
                    }
                    let layout = self.layout_at(configuration, parameter, end, &parameters);
                    *rank = rankings(configuration, layout, circumstances, &parameters);
                }
                for by in OrderBy::ALL {
                    if !still_holds(&moved, &orders[by as usize], by) {
                        let becomes = order_of(&moved, by);
                        flips.push(Flip { order: by, parameter, value, becomes });
                    }
                }
            }
        }
        flips
    }

    /// The layout with one parameter at an end of its range.
    fn layout_at(
        &self,
        configuration: &Complete,
        parameter: Parameter,
        end: usize,
        parameters: &Parameters,
    ) -> &Layout {
        let Complete { grouping, count, .. } = *configuration;
        match Parameter::of_layout(grouping).iter().position(|p| *p == parameter) {
            Some(slot) => self.end_layout(grouping, count, 2 * slot + end, parameters),
            None => self.layout(grouping, count),
        }
    }
}

/// Whether a parameter can change an order at all.
const fn can_reorder(parameter: Parameter) -> bool {
    !matches!(
        parameter,
        Parameter::HandLight
            | Parameter::HandHeavy
            | Parameter::GiveSoft
            | Parameter::GiveFirm
            | Parameter::GapSpacingMm
            | Parameter::TraumaDepthExponent
            | Parameter::TraumaImpactExponent
            | Parameter::OverworkStrokesPerMm
            | Parameter::TraumaOverworkExponent
            | Parameter::SkinSensitive
            | Parameter::SkinFragile
            | Parameter::SkinDry
            | Parameter::SkinFineThickness
            | Parameter::SkinThickThickness
            | Parameter::AgeThinningPerDecade
            | Parameter::NearlyThroughShare
    )
}

/// Whether a parameter changes this configuration's rankings.
fn touches(parameter: Parameter, configuration: &Complete) -> bool {
    if parameter <= Parameter::ArcRadiusMm {
        return Parameter::of_layout(configuration.grouping).contains(&parameter);
    }
    let of_tapers = Parameter::TaperShortMm..=Parameter::TaperUnstatedMm;
    !of_tapers.contains(&parameter) || Parameter::of_taper(configuration.taper) == parameter
}

/// Indices by one ranking, highest first; equals keep their places.
fn order_of(ranks: &[Ranks], by: OrderBy) -> Vec<usize> {
    let mut order: Vec<usize> = (0..ranks.len()).collect();
    order.sort_by(|a, b| ranks[*b][by as usize].total_cmp(&ranks[*a][by as usize]));
    order
}

/// Whether an order is still one under other rankings. A difference below a
/// billionth is rounding.
fn still_holds(ranks: &[Ranks], order: &[usize], by: OrderBy) -> bool {
    order.is_sorted_by(|a, b| {
        let (a, b) = (ranks[*a][by as usize], ranks[*b][by as usize]);
        b <= a * (1.0 + 1e-9)
    })
}
