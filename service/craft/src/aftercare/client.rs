//! What is known of a client, as far as it changes a plan.
//!
//! Skin colour changes no date and no level of urgency. It only adds words,
//! and the signs the plan asks for (heat, pain, swelling) are the same for
//! everybody, since redness is hard to see on darker skin.

use etui_schema::vocabulary::aftercare::Condition;
use etui_schema::vocabulary::{Oiliness, Phototype, Skin, SkinSign};

use super::rows::{ModifierRow, Trait};

/// ITA° at or below which a colour counts as tan or darker (Chardon 1991).
const DARKER_ITA_DEGREES: f64 = 28.0;

/// Whether a modifier or step applies to this client.
pub(crate) fn has(wanted: Trait, from_age: Option<u8>, skin: &Skin, told: &[Condition]) -> bool {
    match wanted {
        Trait::Always => true,
        Trait::Oily => skin.oiliness == Some(Oiliness::Oily),
        Trait::Dry => {
            skin.oiliness == Some(Oiliness::Dry)
                || skin.signs.contains(&SkinSign::Flaking)
                || skin.signs.contains(&SkinSign::Cracked)
        }
        Trait::Mature => skin.age_years.zip(from_age).is_some_and(|(age, from)| from <= age),
        Trait::Darker => darker(skin),
        Trait::Diabetes => told.contains(&Condition::Diabetes),
        Trait::Smoker => told.contains(&Condition::Smoker),
        Trait::ColdSoreHistory => told.contains(&Condition::ColdSoreHistory),
        // Of the country, not of the client: the plan decides.
        Trait::DonationDated | Trait::DonationAsked => false,
    }
}

/// Whether a modifier applies.
pub(crate) fn applies(row: &ModifierRow, skin: &Skin, told: &[Condition]) -> bool {
    has(row.when, row.from_age_years, skin, told)
}

/// Tan or darker by measurement, else by phototype IV to VI. A colour whose
/// b* is not positive is no skin colour and is passed over.
fn darker(skin: &Skin) -> bool {
    if let Some(lab) = skin.lab.filter(|lab| 0.0 < lab.b) {
        return ((lab.l - 50.0) / lab.b).atan().to_degrees() <= DARKER_ITA_DEGREES;
    }
    matches!(skin.phototype, Some(Phototype::IV | Phototype::V | Phototype::VI))
}
