//! Working hints beside the ranking: pace, passes, taper, stroke, stretch,
//! depth.

use etui_schema::vocabulary::{Effect, Treatment};

use super::answer::{NeedleNote, SelectionError};
use super::notes::{Occasion, short};
use super::rules::{Hints, Note, Rules, Signal, StrokeHints};
use super::{Sources, is_lid};
use crate::configuration::Circumstances;
use crate::rules::Origin;

/// The hints for a request. `circumstances` are the setting with its
/// assumptions: the rate of the pace comes from there.
pub(super) fn hints(
    sources: &Sources,
    Rules { hints, notes, .. }: &Rules,
    occasion: &Occasion<'_>,
    circumstances: &Circumstances,
) -> Vec<NeedleNote> {
    let voice = occasion.voice;
    let said = |code: &str, text: String, source: &Origin| NeedleNote {
        code: code.into(),
        message: text.into(),
        basis: source.basis(sources.about_hint.clone()),
        agreement: None,
    };
    let plain = |code: &str, key: &str, source: &Origin| said(code, voice.fill(key, &[]), source);
    let mut list = Vec::new();
    let heard = |signal| occasion.heard.speaks(signal);
    if occasion.effect == Effect::ScalpDots {
        list.push(plain("pace", &hints.pace.dots, &hints.pace.dots_source));
    } else if !heard(Signal::CrowdedHits) && !heard(Signal::SparseHits) {
        // What a caution says of the hand that was told is not said again.
        list.push(said("pace", pace(hints, occasion, circumstances), &hints.pace.source));
    }
    list.push(said("passes", passes(hints, occasion), &hints.passes.source));
    // What a note warns of is not recommended beside it.
    let taper = occasion.want.taper;
    let warned = |note: &Note| note.when.tapers.contains(&taper) && note.when.touches(occasion);
    if !notes.iter().any(warned) {
        list.push(plain("taper", hints.taper.of(taper), &hints.taper.source));
    }
    let on_lid = is_lid(circumstances.site);
    if let Some(key) = stroke(&hints.stroke, occasion, on_lid) {
        list.push(plain("stroke", key, &hints.stroke.source));
    }
    if occasion.treatment == Treatment::Lips {
        list.push(plain("stretch", &hints.stretch.lips, &hints.stretch.source));
    }
    let depth = if on_lid { &hints.depth.lid } else { &hints.depth.text };
    list.push(plain("depth", depth, &hints.depth.source));
    list
}

/// The narrowest advice on the stroke, unless the stroke that was told keeps to it, or a
/// caution on a long one gives the figure already.
fn stroke<'a>(hints: &'a StrokeHints, occasion: &Occasion<'_>, on_lid: bool) -> Option<&'a str> {
    let heard = |signal| occasion.heard.speaks(signal);
    if heard(Signal::LongStroke) {
        return None;
    }
    let encouraged = heard(Signal::LightHand)
        && !heard(Signal::Scarred)
        && !hints.short_only.contains(&occasion.treatment);
    let (_, hint) = [
        (on_lid, &hints.lid),
        (heard(Signal::FragileSkin), &hints.fragile_skin),
        (heard(Signal::HeavyHand), &hints.heavy_hand),
        (encouraged, &hints.light_hand),
    ]
    .into_iter()
    .find(|(speaks, _)| *speaks)?;
    let told_mm = occasion.setting.machine.and_then(|machine| machine.stroke_mm);
    told_mm.is_none_or(|told_mm| hint.to_mm < told_mm).then_some(&*hint.text)
}

fn pace(hints: &Hints, occasion: &Occasion<'_>, circumstances: &Circumstances) -> String {
    let rate_hz = circumstances.rate_hz;
    let told = occasion.setting.machine.is_some_and(|machine| machine.rate_hz.is_some());
    let sentence = if told { &hints.pace.text } else { &hints.pace.text_assumed };
    let [low_mm, high_mm] = occasion.want.spacing_mm;
    let number = |x: f64| occasion.voice.number(&short(x));
    // Nobody holds a hand's speed to a tenth of a millimetre.
    let speed = |x: f64| number(if x < 10.0 { (2.0 * x).round() / 2.0 } else { x.round() });
    occasion.voice.fill(
        sentence,
        &[
            ("rate", &number(rate_hz)),
            ("from", &speed(low_mm * rate_hz)),
            ("to", &speed(high_mm * rate_hz)),
            ("low", &number(low_mm)),
            ("high", &number(high_mm)),
        ],
    )
}

fn passes(hints: &Hints, occasion: &Occasion<'_>) -> String {
    let [from, to] = occasion.want.passes.map(|n| n.to_string());
    occasion.voice.fill(&hints.passes.text, &[("from", &from), ("to", &to)])
}

/// The effects a treatment accepts, for the refusal of any other.
pub(super) fn pair_error(
    treatment: Treatment,
    effect: etui_schema::vocabulary::Effect,
    accepted: impl Iterator<Item = etui_schema::vocabulary::Effect>,
) -> SelectionError {
    let accepted: Vec<_> = accepted.map(|effect| effect.as_str()).collect();
    SelectionError::Pair { treatment, effect, accepted: accepted.join(", ") }
}
