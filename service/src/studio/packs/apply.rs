//! The craft with packs on top of it.

use etui_craft::label::Spellings;
use etui_schema::packs::PackKind;
use etui_schema::problem::{Fault, FaultCode};
use serde_json::Value;

use super::faults;
use super::stored::{Held, StoredPack};
use crate::studio::craft::{Craft, PackState};

/// What is built in, with every pack that is to be applied and can be. One
/// that cannot is left out and named in [`Craft::packs`].
#[must_use]
pub fn with_packs(builtin: &Craft, packs: &[Held]) -> Craft {
    let mut craft = builtin.clone();
    for Held { kind, name, bytes: _, record } in packs {
        let faults = match record {
            Ok(pack) if pack.enabled => apply(&mut craft, builtin, pack).err().unwrap_or_default(),
            Ok(_) => Vec::new(),
            Err(why) => vec![Fault::new("#", FaultCode::WrongFormat, why.clone())],
        };
        craft.packs.push(PackState { kind: *kind, name: name.clone(), faults });
    }
    craft
}

/// What the rulebook of the screening reads of a rules pack.
pub(super) fn screened(mut content: Value) -> Value {
    if let Some(members) = content.as_object_mut() {
        members.remove("training");
    }
    content
}

/// Applies one pack, or leaves the craft as it was.
///
/// # Errors
/// Every fault of the pack.
pub(super) fn apply(
    craft: &mut Craft,
    builtin: &Craft,
    pack: &StoredPack,
) -> Result<(), Vec<Fault>> {
    let (name, content) = (pack.name.as_str(), pack.content());
    match pack.kind {
        PackKind::Rules => {
            let training = craft.training.with_place(&craft.register, name, &content);
            let training = training.map_err(|found| faults::of_rules(&found))?;
            let book = craft.rulebook.with_pack(name, &screened(content));
            craft.rulebook = book.map_err(|found| faults::of_rules(&found))?;
            craft.training = training;
        }
        PackKind::LabelSpellings => {
            let spellings =
                Spellings::from_json(&content).map_err(|fault| faults::unreadable(&fault))?;
            let mut found = builtin.reader.spelling_faults(&spellings);
            found.extend(craft.spellings.iter().flat_map(|other| spellings.contradictions(other)));
            if !found.is_empty() {
                return Err(faults::of_spellings(&found));
            }
            let mut all = craft.spellings.clone();
            all.push(spellings.named(name));
            let reader = builtin.reader.with_spellings(&all);
            craft.reader = reader.map_err(|fault| faults::unreadable(&fault))?;
            craft.spellings = all;
        }
        PackKind::Aftercare => {
            let plans = craft.plans.with_pack(&builtin.register, name, &content);
            craft.plans = plans.map_err(|found| faults::of_aftercare(&found))?;
        }
    }
    Ok(())
}
