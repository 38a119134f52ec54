//! The sentences of a choice, and those of them that no file and no code names by the whole key.

use etui_schema::vocabulary::{Effect, Give, Hand, Thickness};

use crate::rules::RuleFault;
use crate::selection::form::Form;
use crate::text::{Catalogue, texts};

/// The sentences compiled into this build.
///
/// # Errors
/// [`RuleFault`] if the languages differ or a sentence is missing.
pub(super) fn texts() -> Result<Catalogue, RuleFault> {
    let named = |form: &Form| [".a", ".in"].map(|case| format!("form.{form}{case}"));
    let forms = Form::ALL.iter().flat_map(named);
    let hands = Hand::ALL.iter().map(|to| format!("if.hand.{to}"));
    let gives = Give::ALL.iter().map(|to| format!("if.give.{to}"));
    let thickness = Thickness::ALL.iter().map(|to| format!("if.thickness.{to}"));
    let effects = Effect::ALL.iter().map(|to| format!("if.effect.{to}"));
    let changes = hands.chain(gives).chain(thickness).chain(effects);
    let others = ["oiliness.dry", "oiliness.normal", "oiliness.oily"].into_iter();
    let others = others.chain(["sensitivity.high", "sensitivity.normal"]);
    texts!("selection", forms.chain(changes).chain(others.map(|to| format!("if.{to}"))))
}
