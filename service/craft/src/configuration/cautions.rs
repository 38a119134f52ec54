//! What a measure has to warn of.
//!
//! A [`Cautions`] is a small set, so that measuring allocates nothing; the
//! sentences are made from `rules/texts/configuration.*.toml` when an answer
//! is written ([`super::Wording`]).

use etui_schema::vocabulary::{Grouping, Site};

use super::circumstances::{Circumstances, Defaults};
use super::complete::Complete;
use super::holes::TipDepths;
use super::measures::Travel;
use super::parameters::{Parameter, Parameters};
use super::skin::{SkinTable, Tolerance};
use crate::evidence::MODEL;
use crate::words::words;

words! {
    /// One thing to warn of, the gravest first.
    Caution {
        /// The depth reaches through the whole skin of the site.
        ThroughSkin = "through_skin",
        /// The depth reaches nearly through, by a named share of the thickness.
        NearlyThroughSkin = "nearly_through_skin",
        /// A stroke of 3.5 mm or more on a lid.
        LongStrokeOnLid = "long_stroke_on_lid",
        /// A slow hand on a fast machine.
        Overwork = "overwork",
        /// A fast hand on a slow machine.
        Gaps = "gaps",
        /// A rate outside 40 to 200 Hz.
        RateOutside = "rate_outside",
        /// The depth is not below the stroke.
        DepthBeyondStroke = "depth_beyond_stroke",
        /// The depth does not reach below the epidermis.
        EpidermisOnly = "epidermis_only",
        /// Some tips do not reach the skin at this depth.
        TipsOutOfSkin = "tips_out_of_skin",
        /// A hand blade is not driven by a machine.
        HandBlade = "hand_blade",
        /// Round; liner or shader is not told.
        RoundNotTold = "round_not_told",
        /// Magnum; woven or stacked is not told.
        MagnumNotTold = "magnum_not_told",
        /// A diameter outside 0.15 to 0.45 mm.
        UnusualDiameter = "unusual_diameter",
        /// The site's thickness was not found measured.
        ThicknessAssumed = "thickness_assumed",
        /// The thickness was lowered for age, which is contested.
        AgeContested = "age_contested",
    }
}

/// A set of cautions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Cautions(u32);

impl Cautions {
    /// Adds one if the condition holds.
    pub fn add_if(&mut self, condition: bool, caution: Caution) {
        if condition {
            self.0 |= 1 << caution as u32;
        }
    }

    /// Whether it is in the set.
    #[must_use]
    pub const fn contains(self, caution: Caution) -> bool {
        self.0 & (1 << caution as u32) != 0
    }

    /// The cautions, the gravest first.
    pub fn iter(self) -> impl Iterator<Item = Caution> {
        Caution::ALL.iter().copied().filter(move |caution| self.contains(*caution))
    }
}

/// What was found on the way to the measures and has to be judged.
pub(super) struct Found<'a> {
    pub(super) tolerance: &'a Tolerance,
    pub(super) travel: &'a Travel,
    pub(super) depths: &'a TipDepths,
}

impl Found<'_> {
    /// Everything to warn of.
    pub(super) fn cautions(
        &self,
        configuration: &Complete,
        circumstances: &Circumstances,
        skin: &SkinTable,
        defaults: &Defaults,
        parameters: &Parameters,
    ) -> Cautions {
        let mut cautions = Cautions::default();
        self.of_skin(&mut cautions, circumstances, skin);
        self.of_machine(&mut cautions, circumstances, defaults, parameters);
        let grouping = configuration.grouping;
        cautions.add_if(self.depths.in_skin < configuration.count, Caution::TipsOutOfSkin);
        cautions.add_if(grouping == Grouping::HandBlade, Caution::HandBlade);
        cautions.add_if(grouping == Grouping::Round, Caution::RoundNotTold);
        cautions.add_if(grouping == Grouping::Magnum, Caution::MagnumNotTold);
        let usual = USUAL_DIAMETER_MM.contains(&configuration.diameter_mm);
        cautions.add_if(!usual, Caution::UnusualDiameter);
        cautions
    }

    fn of_skin(&self, cautions: &mut Cautions, circumstances: &Circumstances, skin: &SkinTable) {
        let depth_mm = circumstances.depth_mm;
        let through = self.tolerance.total_mm <= depth_mm;
        cautions.add_if(through, Caution::ThroughSkin);
        let nearly = self.tolerance.nearly_mm <= depth_mm && !through;
        cautions.add_if(nearly, Caution::NearlyThroughSkin);
        cautions.add_if(depth_mm <= self.tolerance.epidermis_mm, Caution::EpidermisOnly);
        let source = &skin.site(circumstances.site).total_mm.source;
        cautions.add_if(**source.id() == *MODEL, Caution::ThicknessAssumed);
        cautions.add_if(self.tolerance.thinned_by_age, Caution::AgeContested);
    }

    fn of_machine(
        &self,
        cautions: &mut Cautions,
        circumstances: &Circumstances,
        defaults: &Defaults,
        parameters: &Parameters,
    ) {
        let lid = matches!(circumstances.site, Site::UpperLid | Site::LashLine);
        let long = defaults.lid_stroke_limit_mm() <= circumstances.stroke_mm;
        cautions.add_if(lid && long, Caution::LongStrokeOnLid);
        let [low, high] = defaults.rate_limits_hz();
        let rate_hz = circumstances.rate_hz;
        cautions.add_if(rate_hz < low || high < rate_hz, Caution::RateOutside);
        let strokes = self.travel.strokes_per_mm;
        let overwork = parameters.get(Parameter::OverworkStrokesPerMm) < strokes;
        cautions.add_if(overwork, Caution::Overwork);
        let gaps = parameters.get(Parameter::GapSpacingMm) * strokes < 1.0;
        cautions.add_if(gaps, Caution::Gaps);
        let beyond = circumstances.stroke_mm <= circumstances.depth_mm;
        cautions.add_if(beyond, Caution::DepthBeyondStroke);
    }
}

/// Diameters seen in the trade, in millimetres.
const USUAL_DIAMETER_MM: std::ops::RangeInclusive<f64> = 0.15..=0.45;
