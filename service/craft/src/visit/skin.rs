//! Which of two words on a skin counts, and for how long.

use etui_schema::vocabulary::{Skin, SkinSign, Treatment};
use jiff::civil::Date;

use super::freshness::Freshness;
use crate::screening::rulebook::Rulebook;

/// What of a kept skin counts for a visit, with the day and the treatment it was told for: a type
/// or colour that has grown old, or was of another area, speaks only where it asks for care.
#[must_use]
pub fn kept_skin(
    (book, freshness): (&Rulebook, &Freshness),
    visit: (Treatment, Date),
    skin: &Skin,
    (on, treatment): (Option<Date>, Option<Treatment>),
) -> Skin {
    let holds = freshness.skin;
    let is_fresh = on.is_some_and(|on| visit.1 <= holds.until(on));
    if is_fresh && holds.holds_for.holds(treatment, visit.0) {
        return skin.clone();
    }
    let Skin { phototype, lab, .. } = *skin;
    // A scar is where it was seen; of one that was seen nobody knows where, it may be here.
    let is_elsewhere = treatment.is_some_and(|treatment| treatment != visit.0);
    let signs = skin.signs.iter().copied();
    Skin {
        phototype: phototype.filter(|_| book.is_tone_of_note(phototype, None)),
        lab: lab.filter(|_| book.is_tone_of_note(None, lab)),
        signs: signs.filter(|sign| !is_elsewhere || *sign != SkinSign::Scarred).collect(),
        ..skin.clone()
    }
}

/// What is known of a skin from two voices: the first goes before the second, which counts where the
/// first is silent. A sign that one of them saw was seen, and of two types or colours the one that
/// asks for care counts.
#[must_use]
pub fn joined_skin(book: &Rulebook, first: Option<Skin>, second: Option<Skin>) -> Option<Skin> {
    let (first, second) = match (first, second) {
        (Some(first), Some(second)) => (first, second),
        (one, other) => return one.or(other),
    };
    let careful = second.phototype.filter(|_| book.is_tone_of_note(second.phototype, None));
    let dark = second.lab.filter(|_| book.is_tone_of_note(None, second.lab));
    let Skin { age_years, phototype, lab, oiliness, thickness, sensitivity, mut signs } = first;
    let seen = |sign: &_| !signs.contains(sign);
    let more: Vec<_> = second.signs.iter().copied().filter(seen).collect();
    signs.extend(more);
    Some(Skin {
        age_years: age_years.or(second.age_years),
        phototype: phototype
            .filter(|_| careful.is_none() || book.is_tone_of_note(phototype, None))
            .or(careful)
            .or(second.phototype),
        lab: lab
            .filter(|_| dark.is_none() || book.is_tone_of_note(None, lab))
            .or(dark)
            .or(second.lab),
        oiliness: oiliness.or(second.oiliness),
        thickness: thickness.or(second.thickness),
        sensitivity: sensitivity.or(second.sensitivity),
        signs,
    })
}
