//! Working hints beside the ranking: pace, passes, taper, stroke, stretch,
//! depth.

use etui_schema::vocabulary::{Hand, Treatment};

use super::answer::{Said, SelectionError};
use super::notes::{Occasion, short};
use super::rules::{Hints, Signal};
use super::{Sources, is_lid};
use crate::configuration::Circumstances;

/// The hints for a request. `circumstances` are the setting with its
/// assumptions: the rate of the pace comes from there.
pub(super) fn hints(
    sources: &Sources,
    hints: &Hints,
    occasion: &Occasion<'_>,
    circumstances: &Circumstances,
) -> Vec<Said> {
    let said = |code: &str, text: String, source: &std::sync::Arc<str>| Said {
        code: code.into(),
        text: text.into(),
        basis: sources.basis(&sources.about_hint, source),
        agreement: "".into(),
    };
    let mut list = vec![
        said("pace", pace(hints, occasion, circumstances), &hints.pace.source),
        said("passes", passes(hints, occasion), &hints.passes.source),
        said("taper", hints.taper.of(occasion.want.taper).to_owned(), &hints.taper.source),
    ];
    let heard = |signal| occasion.heard.speaks(signal);
    let on_lid = is_lid(circumstances.site);
    let stroke = &hints.stroke;
    for (speaks, text) in [
        (on_lid, &stroke.lid),
        (heard(Signal::HeavyHand), &stroke.heavy_hand),
        (
            occasion.setting.hand == Some(Hand::Light) && !on_lid && !heard(Signal::FragileSkin),
            &stroke.light_hand,
        ),
        (heard(Signal::FragileSkin), &stroke.fragile_skin),
    ] {
        if speaks {
            list.push(said("stroke", text.clone(), &stroke.source));
        }
    }
    if occasion.treatment == Treatment::Lips {
        list.push(said("stretch", hints.stretch.lips.clone(), &hints.stretch.source));
    }
    let depth = if on_lid { &hints.depth.lid } else { &hints.depth.text };
    list.push(said("depth", depth.clone(), &hints.depth.source));
    list
}

fn pace(hints: &Hints, occasion: &Occasion<'_>, circumstances: &Circumstances) -> String {
    let rate_hz = circumstances.rate_hz;
    let told = occasion.setting.machine.is_some_and(|machine| machine.rate_hz.is_some());
    let text = if told { &hints.pace.text } else { &hints.pace.text_assumed };
    let [low_mm, high_mm] = occasion.want.spacing_mm;
    fill(
        text,
        &[
            ("{rate}", short(rate_hz)),
            ("{from}", short(low_mm * rate_hz)),
            ("{to}", short(high_mm * rate_hz)),
            ("{low}", short(low_mm)),
            ("{high}", short(high_mm)),
        ],
    )
}

fn passes(hints: &Hints, occasion: &Occasion<'_>) -> String {
    let [from, to] = occasion.want.passes;
    fill(&hints.passes.text, &[("{from}", from.to_string()), ("{to}", to.to_string())])
}

fn fill(text: &str, values: &[(&str, String)]) -> String {
    values.iter().fold(text.to_owned(), |text, (place, value)| text.replace(place, value))
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
