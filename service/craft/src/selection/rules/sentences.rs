//! The sentences that code says, beside those that the files name.

use crate::rules::RuleFault;
use crate::selection::form::Form;
use crate::text::{Catalogue, texts};

/// Every such sentence, but for the names of forms.
const KEYS: &[&str] = &[
    "site.foreign",
    "size.fits",
    "size.fits_not_skin",
    "size.fine",
    "size.thick",
    "count.few",
    "count.many",
    "hand.untold",
    "hand.medium",
    "hand.heavy.group",
    "hand.heavy.few",
    "hand.heavy.fine",
    "hand.heavy.sturdy",
    "hand.light.many",
    "hand.light.few",
    "hand.light.fragile",
    "machine.untold",
    "machine.weak.few",
    "machine.weak.part",
    "machine.weak.many",
    "machine.hard.many",
    "machine.hard.few",
    "machine.other",
    "machine.stroke",
    "machine.rate",
    "machine.give.soft",
    "machine.give.medium",
    "machine.give.firm",
    "skin.untold",
    "skin.other",
    "skin.scarred",
    "skin.both",
    "skin.thin.small.few",
    "skin.thin.small.group",
    "skin.thin.large.few",
    "skin.thin.large.group",
    "skin.firm.large.few",
    "skin.firm.large.group",
    "skin.firm.small.few",
    "skin.firm.small.group",
    "skin.is.fine",
    "skin.is.thick",
    "skin.is.dry",
    "skin.is.oily",
    "skin.is.partly_oily",
    "skin.is.sensitive",
    "skin.is.mature",
    "skin.is.flaking",
    "skin.is.cracked",
    "skin.is.bruises_easily",
    "skin.is.purpura",
    "skin.is.pseudoscars",
    "skin.is.tears_easily",
    "skin.is.broken_vessels",
    "skin.is.lax",
    "skin.is.large_pores",
    "aside.hand_blade",
    "aside.form",
    "aside.few",
    "aside.many",
    "aside.thin",
    "aside.thick",
    "aside.narrow",
    "aside.broad",
    "aside.place",
    "aside.pull.hand",
    "aside.pull.machine",
    "aside.pull.skin",
    "change.first",
    "change.none",
    "if.hand.light",
    "if.hand.medium",
    "if.hand.heavy",
    "if.stroke",
    "if.give.soft",
    "if.give.medium",
    "if.give.firm",
    "if.thickness.fine",
    "if.thickness.normal",
    "if.thickness.thick",
    "if.oiliness.dry",
    "if.oiliness.normal",
    "if.oiliness.oily",
    "if.sensitivity.high",
    "if.sensitivity.normal",
    "if.effect.hair_strokes",
    "if.effect.pixelated",
    "if.effect.soft_shading",
    "if.effect.dense_fill",
    "if.effect.fine_line",
    "if.effect.bold_line",
    "if.effect.scalp_dots",
    "if.effect.areola_shading",
    "view.absent",
    "own.none",
    "own.alike",
    "own.above",
    "own.below",
    "own.silent",
    "own.all",
    "own.few",
    "own.forgotten",
    "statement",
];

/// The sentences compiled into this build.
///
/// # Errors
/// [`RuleFault`] if the languages differ or a sentence is missing.
pub(super) fn texts() -> Result<Catalogue, RuleFault> {
    let named = |form: &Form| [".a", ".in"].map(|case| format!("form.{form}{case}"));
    let forms = Form::ALL.iter().flat_map(named);
    texts!("selection", KEYS.iter().map(|key| (*key).to_owned()).chain(forms))
}

#[cfg(test)]
pub(in crate::selection) fn is_said_by_code(key: &str) -> bool {
    let key = key.strip_suffix(".one").unwrap_or(key);
    KEYS.contains(&key) || key.starts_with("form.")
}
