//! Cautions and remarks: which speak, and how their sentences are filled.

use std::sync::Arc;

use etui_schema::vocabulary::{Effect, Setting, Treatment};

use super::Sources;
use super::answer::{Heard, NeedleNote};
use super::form::Form;
use super::rules::{Note, NoteKind, Told, Want, When};
use super::score::Traits;
use crate::text::Voice;

/// What a request says, as far as notes and views ask.
pub(super) struct Occasion<'a> {
    pub(super) voice: Voice<'a>,
    pub(super) treatment: Treatment,
    pub(super) effect: Effect,
    pub(super) setting: &'a Setting,
    pub(super) heard: &'a Heard,
    pub(super) want: &'a Want,
}

impl When {
    /// Whether the request touches it.
    pub(super) fn touches(&self, occasion: &Occasion<'_>) -> bool {
        let heard = |signal| occasion.heard.speaks(signal);
        (self.treatments.is_empty() || self.treatments.contains(&occasion.treatment))
            && (self.effects.is_empty() || self.effects.contains(&occasion.effect))
            && self.signals.iter().all(|signal| heard(*signal))
            && !self.unless.iter().any(|signal| heard(*signal))
            && (self.signals_any.is_empty() || self.signals_any.iter().any(|s| heard(*s)))
            && (self.given.is_empty() || self.given.iter().any(|f| told(*f, occasion.setting)))
    }

    /// Whether it concerns single candidates rather than the whole request.
    pub(super) fn is_of_candidates(&self) -> bool {
        !self.forms.is_empty()
            || !self.groupings.is_empty()
            || !self.tapers.is_empty()
            || self.count.is_some()
            || self.diameter_mm.is_some()
    }

    /// Whether it concerns this candidate.
    pub(super) fn admits(&self, traits: &Traits) -> bool {
        let configuration = &traits.configuration;
        (self.groupings.is_empty() || self.groupings.contains(&configuration.grouping))
            && (self.tapers.is_empty()
                || configuration.taper.is_some_and(|t| self.tapers.contains(&t)))
            && admits(&self.forms, self.count, self.diameter_mm, traits)
    }
}

/// Whether forms, count and diameter (inclusive) admit a candidate.
pub(super) fn admits(
    forms: &[Form],
    count: Option<[u8; 2]>,
    diameter_mm: Option<[f64; 2]>,
    traits: &Traits,
) -> bool {
    let configuration = &traits.configuration;
    let form = traits.forms.is_some_and(|(form, other)| {
        forms.contains(&form) || other.is_some_and(|other| forms.contains(&other))
    });
    (forms.is_empty() || form)
        && count.is_none_or(|[low, high]| (low..=high).contains(&configuration.count))
        && diameter_mm.is_none_or(|[low, high]| (low..=high).contains(&configuration.diameter_mm))
}

fn told(field: Told, setting: &Setting) -> bool {
    match field {
        Told::RateHz => setting.machine.is_some_and(|machine| machine.rate_hz.is_some()),
        Told::HandSpeedMmS => setting.hand_speed_mm_s.is_some(),
        Told::DepthMm => setting.depth_mm.is_some(),
    }
}

/// The notes that a request touches: those for every candidate, already
/// filled, and those to be asked about each.
pub(super) struct Speaking<'a> {
    voice: Voice<'a>,
    cautions: Vec<NeedleNote>,
    remarks: Vec<NeedleNote>,
    each: Vec<&'a Note>,
}

impl<'a> Speaking<'a> {
    pub(super) fn new(sources: &Sources, notes: &'a [Note], occasion: &Occasion<'a>) -> Self {
        let voice = occasion.voice;
        let mut speaking =
            Self { voice, cautions: Vec::new(), remarks: Vec::new(), each: Vec::new() };
        for note in notes.iter().filter(|note| note.when.touches(occasion)) {
            if note.when.is_of_candidates() {
                speaking.each.push(note);
            } else {
                let values = values_of(occasion);
                let said = said(sources, voice, note, &values);
                speaking.list(note.kind).push(said);
            }
        }
        speaking
    }

    fn list(&mut self, kind: NoteKind) -> &mut Vec<NeedleNote> {
        match kind {
            NoteKind::Caution => &mut self.cautions,
            NoteKind::Remark => &mut self.remarks,
        }
    }

    /// Adds cautions for every candidate.
    pub(super) fn cautions_of_all(&mut self, said: Option<NeedleNote>) {
        self.cautions.extend(said);
    }

    /// Whether nothing is noted of one that is not of the other.
    pub(super) fn adds_nothing(&self, other: &Traits, one: &Traits) -> bool {
        let mut own = self.each.iter().filter(|note| note.when.admits(one));
        own.all(|note| note.when.admits(other))
    }

    /// Cautions and remarks for one candidate: its own first.
    pub(super) fn of(
        &self,
        sources: &Sources,
        traits: &Traits,
    ) -> (Vec<NeedleNote>, Vec<NeedleNote>) {
        let (mut cautions, mut remarks) = (Vec::new(), Vec::new());
        for note in self.each.iter().filter(|note| note.when.admits(traits)) {
            // No figure of the one needle: what holds of all of them is said once above all.
            let said = said(sources, self.voice, note, &[]);
            match note.kind {
                NoteKind::Caution => cautions.push(said),
                NoteKind::Remark => remarks.push(said),
            }
        }
        cautions.extend(self.cautions.iter().cloned());
        remarks.extend(self.remarks.iter().cloned());
        (cautions, remarks)
    }
}

fn said(
    sources: &Sources,
    voice: Voice<'_>,
    note: &Note,
    values: &[(&'static str, String)],
) -> NeedleNote {
    let about = match note.kind {
        NoteKind::Caution => &sources.about_caution,
        NoteKind::Remark => &sources.about_remark,
    };
    let values: Vec<(&str, &str)> =
        values.iter().map(|(place, value)| (*place, &**value)).collect();
    NeedleNote {
        code: Arc::clone(&note.code),
        message: voice.fill(&note.text, &values).into(),
        basis: note.source.basis(Arc::clone(about)),
        agreement: Some(note.agreement.in_words(voice.language())),
    }
}

/// What a sentence on the whole request may be filled with.
fn values_of(occasion: &Occasion<'_>) -> Vec<(&'static str, String)> {
    let Occasion { voice, setting, want, .. } = occasion;
    let machine = setting.machine.as_ref();
    let rate_hz = machine.and_then(|m| m.rate_hz);
    let speed_mm_s = setting.hand_speed_mm_s;
    let spacing_mm = speed_mm_s.zip(rate_hz).map(|(speed, rate)| speed / rate);
    let told = [
        ("stroke", machine.and_then(|m| m.stroke_mm)),
        ("rate", rate_hz),
        ("speed", speed_mm_s),
        ("low", Some(want.spacing_mm[0])),
        ("high", Some(want.spacing_mm[1])),
    ];
    let mut values = vec![("most", want.passes[1].to_string())];
    values.extend(setting.passes.map(|passes| ("passes", passes.to_string())));
    let number = |x: f64| voice.number(&short(x));
    let apart = spacing_mm.map(|mm| apart(mm, want.spacing_mm));
    values.extend(apart.map(|mm| ("spacing", voice.number(&mm))));
    values.extend(told.into_iter().filter_map(|(place, told)| Some((place, number(told?)))));
    values
}

/// A distance that was reckoned, for people: tenths from 1 mm on, else hundredths; a figure
/// more where it would not stand apart from the bounds that it is held against.
fn apart(mm: f64, bounds_mm: [f64; 2]) -> String {
    let digits = if mm < 0.995 { 2 } else { 1 };
    let rounded = |digits: usize| format!("{mm:.digits$}");
    let stands = |text: &str| {
        text.parse().is_ok_and(|said: f64| {
            bounds_mm
                .iter()
                .all(|bound| (said < *bound) == (mm < *bound) && (*bound < said) == (*bound < mm))
        })
    };
    let text = (digits..5).map(rounded).find(|text| stands(text));
    let text = text.unwrap_or_else(|| rounded(digits));
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

/// A number for people: about three figures, no trailing zeros.
pub(super) fn short(x: f64) -> String {
    let text = if x < 0.1 {
        format!("{x:.3}")
    } else if x < 10.0 {
        format!("{x:.2}")
    } else if x < 100.0 {
        format!("{x:.1}")
    } else {
        format!("{x:.0}")
    };
    match text.split_once('.') {
        Some(_) => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As a person says it, and never on the wrong side of what it is held against.
    #[test]
    fn a_distance_is_said_as_a_person_says_it() {
        for (mm, bounds, said) in [
            (2.67, [0.1, 0.5], "2.7"),
            (0.057, [0.1, 0.5], "0.06"),
            (0.0567, [0.06, 0.5], "0.057"),
            (1.04, [0.1, 1.0], "1.04"),
            (3.0, [0.1, 0.5], "3"),
            (30.0, [0.1, 0.5], "30"),
        ] {
            assert_eq!(apart(mm, bounds), said);
        }
    }

    #[test]
    fn numbers_are_short_and_keep_their_figures() {
        for (x, want) in [
            (0.013_333, "0.013"),
            (0.15, "0.15"),
            (3.0, "3"),
            (3.5, "3.5"),
            (12.34, "12.3"),
            (100.0, "100"),
            (150.4, "150"),
        ] {
            assert_eq!(short(x), want);
        }
    }
}
