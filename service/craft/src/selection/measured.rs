//! Cautions that come from the measures rather than from the notes: depth
//! against the skin, tips that do not reach it, rates nobody measured.

use super::Work;
use super::answer::NeedleNote;
use crate::configuration::{Caution, Circumstances, Complete, Measured, Measures};
use crate::rules::Origin;

impl Work<'_> {
    /// What the measures of one candidate warn of. Pace, stroke on a lid and
    /// packets that do not tell are left out: the notes say them for the
    /// effect at hand. How much of the skin the depth takes is judged where the
    /// skin is thinnest, as long as nobody said where.
    pub(super) fn measured(
        &self,
        configuration: &Complete,
        measures: &Measures,
    ) -> Vec<NeedleNote> {
        let Some(there) = self.thinnest else {
            return self.noted(configuration, measures, self.circumstances, |_| true);
        };
        let through = self.model.measure(configuration, there);
        let mut said = self.noted(configuration, &through, there, goes_through);
        let rest = |caution| !goes_through(caution);
        said.extend(self.noted(configuration, measures, self.circumstances, rest));
        said
    }

    /// The cautions of one kind that the measures hold under these circumstances.
    fn noted(
        &self,
        configuration: &Complete,
        measures: &Measures,
        circumstances: &Circumstances,
        is_wanted: fn(Caution) -> bool,
    ) -> Vec<NeedleNote> {
        let (wording, language) = (&self.selector.wording, self.request.language);
        let is_placed = circumstances.site == self.circumstances.site;
        let measured = Measured { configuration, measures };
        let cautions = measures.cautions.iter().filter(|caution| is_wanted(*caution));
        let note = |caution: Caution| {
            let source = self.source_of(caution, circumstances)?;
            let text = match is_placed {
                true => wording.caution(language, caution, measured, circumstances),
                false => wording.unplaced(language, caution, measured, circumstances),
            };
            Some(NeedleNote {
                code: caution.as_str().into(),
                message: text.into(),
                basis: source.basis(self.selector.sources.about_caution.clone()),
                agreement: None,
            })
        };
        cautions.filter_map(note).collect()
    }

    /// What a caution rests on; none where the notes say it, or nobody told the depth.
    fn source_of(&self, caution: Caution, at: &Circumstances) -> Option<&Origin> {
        let depth_told = self.setting.depth_mm.is_some();
        match caution {
            Caution::ThroughSkin | Caution::NearlyThroughSkin | Caution::EpidermisOnly => {
                Some(&self.model.skin().site(at.site).total_mm.source)
            }
            Caution::ThicknessAssumed | Caution::AgeContested if !depth_told => None,
            Caution::ThicknessAssumed
            | Caution::AgeContested
            | Caution::TipsOutOfSkin
            | Caution::RateOutside
            | Caution::DepthBeyondStroke
            | Caution::UnusualDiameter => Some(&self.selector.sources.model),
            Caution::Overwork
            | Caution::Gaps
            | Caution::LongStrokeOnLid
            | Caution::HandBlade
            | Caution::RoundNotTold
            | Caution::MagnumNotTold => None,
        }
    }
}

/// Whether a caution is of a depth that takes too much of the skin.
const fn goes_through(caution: Caution) -> bool {
    matches!(caution, Caution::ThroughSkin | Caution::NearlyThroughSkin)
}
