//! Cautions that come from the measures rather than from the notes: depth
//! against the skin, tips that do not reach it, rates nobody measured.

use super::Work;
use super::answer::NeedleNote;
use crate::configuration::{Caution, Complete, Measured, Measures};

impl Work<'_> {
    /// What the measures of one candidate warn of. Pace, stroke on a lid and
    /// packets that do not tell are left out: the notes say them for the
    /// effect at hand.
    pub(super) fn measured(
        &self,
        configuration: &Complete,
        measures: &Measures,
    ) -> Vec<NeedleNote> {
        let depth_told = self.setting.depth_mm.is_some();
        let skin = &self.model.skin().site(self.circumstances.site).total_mm.source;
        let model = &self.selector.sources.model;
        let mut said = Vec::new();
        for caution in measures.cautions.iter() {
            let source = match caution {
                Caution::ThroughSkin | Caution::NearlyThroughSkin | Caution::EpidermisOnly => skin,
                Caution::ThicknessAssumed | Caution::AgeContested if depth_told => model,
                Caution::TipsOutOfSkin
                | Caution::RateOutside
                | Caution::DepthBeyondStroke
                | Caution::UnusualDiameter => model,
                Caution::ThicknessAssumed
                | Caution::AgeContested
                | Caution::Overwork
                | Caution::Gaps
                | Caution::LongStrokeOnLid
                | Caution::HandBlade
                | Caution::RoundNotTold
                | Caution::MagnumNotTold => continue,
            };
            let measured = Measured { configuration, measures };
            let wording = &self.selector.wording;
            let text =
                wording.caution(self.request.language, caution, measured, self.circumstances);
            let sources = &self.selector.sources;
            said.push(NeedleNote {
                code: caution.as_str().into(),
                message: text.into(),
                basis: source.basis(sources.about_caution.clone()),
                agreement: None,
            });
        }
        said
    }
}
