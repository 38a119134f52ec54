//! Skin by what can be seen and told: oil, photo-ageing, fragility.
//!
//! | result | who uses it |
//! |---|---|
//! | oiliness | selection (softer effects last better on oily skin), aftercare (how long colour holds) |
//! | photo-ageing | a referral, if there was skin cancer; else for the artist's eye only |
//! | fragility | the gate (a condition), selection (smaller diameter, more points) |
//! | sun-reaction type, typology angle | the gate (test spot, sun), aftercare (how redness is judged); never the needle |
//!
//! None of these is an instrument with limits that somebody validated for
//! permanent make-up, and each result says so in its basis.

use etui_schema::vocabulary::{Oiliness, SkinSign};

/// Four yes/no answers of the client. Common practice, no source: measured
/// sebum does not match what people say of their skin (facial sebum, Seoul
/// 2002), so the result is a self-report and no more.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct OilReport {
    /// Forehead and nose shine by noon.
    pub shine_t_zone: bool,
    /// The cheeks shine.
    pub shine_cheeks: bool,
    /// The skin feels tight after washing.
    pub tight_after_washing: bool,
    /// Flakes can be seen.
    pub flakes: bool,
}

/// Oiliness from four answers.
///
/// Shining cheeks mean oily; a shine on forehead and nose alone means
/// combination; without shine, tightness or flakes mean dry, and nothing of
/// all that means normal.
///
/// ```
/// use etui_craft::screening::skin_type::{OilReport, oiliness};
/// use etui_schema::vocabulary::Oiliness;
/// let report = OilReport { shine_t_zone: true, ..OilReport::default() };
/// assert_eq!(oiliness(report), Oiliness::Combination);
/// ```
#[must_use]
pub const fn oiliness(report: OilReport) -> Oiliness {
    match (report.shine_cheeks, report.shine_t_zone, report.tight_after_washing || report.flakes) {
        (true, _, _) => Oiliness::Oily,
        (false, true, _) => Oiliness::Combination,
        (false, false, true) => Oiliness::Dry,
        (false, false, false) => Oiliness::Normal,
    }
}

/// When wrinkles are seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Wrinkles {
    /// None.
    None,
    /// In motion only.
    InMotion,
    /// At rest.
    AtRest,
    /// Everywhere; no skin without them.
    Everywhere,
}

/// What is seen of photo-ageing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct AgeingSigns {
    /// When wrinkles are seen, if that was looked at.
    pub wrinkles: Option<Wrinkles>,
    /// First sun spots, or rough spots that are felt and not seen.
    pub early_spots: bool,
    /// Marked discolouration, broken vessels, or rough spots that are seen.
    pub visible_damage: bool,
    /// Yellow-grey skin.
    pub yellow_grey: bool,
    /// There was skin cancer.
    pub past_skin_cancer: bool,
}

/// Glogau's class of photo-ageing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Glogau {
    /// Mild: no wrinkles.
    I,
    /// Moderate: wrinkles in motion.
    II,
    /// Advanced: wrinkles at rest.
    III,
    /// Severe: only wrinkles.
    IV,
}

impl Glogau {
    /// The numeral used in answers.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::I => "I",
            Self::II => "II",
            Self::III => "III",
            Self::IV => "IV",
        }
    }
}

/// Photo-ageing by its signs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PhotoAgeing {
    /// The class; `None` if the wrinkles, its key sign, were not looked at.
    pub class: Option<Glogau>,
    /// Whether a skin doctor should see the skin first.
    pub refer: bool,
}

/// Photo-ageing by signs: wrinkles set the class, other signs can only raise
/// it. Age plays no part, because the usual ages of the classes overlap.
#[must_use]
pub fn photo_ageing(signs: AgeingSigns) -> PhotoAgeing {
    let by_wrinkles = signs.wrinkles.map(|wrinkles| match wrinkles {
        Wrinkles::None => Glogau::I,
        Wrinkles::InMotion => Glogau::II,
        Wrinkles::AtRest => Glogau::III,
        Wrinkles::Everywhere => Glogau::IV,
    });
    let at_least = if signs.yellow_grey || signs.past_skin_cancer {
        Glogau::IV
    } else if signs.visible_damage {
        Glogau::III
    } else if signs.early_spots {
        Glogau::II
    } else {
        Glogau::I
    };
    let class = by_wrinkles.map(|class| class.max(at_least));
    PhotoAgeing { class, refer: signs.past_skin_cancer }
}

/// The usual signs of fragile, ageing skin that were seen, in their order.
/// There is no validated score for the face; the signs are listed, not added
/// up (Dyer and Miller 2018).
#[must_use]
pub fn fragility_signs(signs: &[SkinSign]) -> Vec<SkinSign> {
    [SkinSign::Purpura, SkinSign::Pseudoscars, SkinSign::TearsEasily, SkinSign::BruisesEasily]
        .into_iter()
        .filter(|sign| signs.contains(sign))
        .collect()
}

/// HbA1c in mmol/mol (IFCC) from per cent (NGSP): `10.929 · (x − 2.15)`.
#[must_use]
pub fn hba1c_mmol_mol(percent: f64) -> f64 {
    10.929 * (percent - 2.15)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn oiliness_of_all_sixteen_reports() {
        for bits in 0_u8..16 {
            let has = |bit: u8| bits & (1 << bit) != 0;
            let report = OilReport {
                shine_t_zone: has(0),
                shine_cheeks: has(1),
                tight_after_washing: has(2),
                flakes: has(3),
            };
            // Common practice, no source.
            let want = match (has(1), has(0), bits & 0b1100 != 0) {
                (true, _, _) => "oily",
                (_, true, _) => "combination",
                (_, _, true) => "dry",
                _ => "normal",
            };
            assert_eq!(oiliness(report).as_str(), want, "{report:?}");
        }
    }

    #[test]
    fn signs_and_not_age_set_the_class() {
        // Glogau's classes as given on three medical pages.
        let none = AgeingSigns::default();
        let seen = |wrinkles| AgeingSigns { wrinkles: Some(wrinkles), ..none };
        for (signs, class, refer) in [
            (none, None, false),
            (seen(Wrinkles::None), Some("I"), false),
            (seen(Wrinkles::InMotion), Some("II"), false),
            (seen(Wrinkles::AtRest), Some("III"), false),
            (seen(Wrinkles::Everywhere), Some("IV"), false),
            (AgeingSigns { early_spots: true, ..seen(Wrinkles::None) }, Some("II"), false),
            (AgeingSigns { visible_damage: true, ..seen(Wrinkles::InMotion) }, Some("III"), false),
            (AgeingSigns { early_spots: true, ..seen(Wrinkles::AtRest) }, Some("III"), false),
            (AgeingSigns { past_skin_cancer: true, ..seen(Wrinkles::AtRest) }, Some("IV"), true),
            (AgeingSigns { past_skin_cancer: true, ..none }, None, true),
        ] {
            let found = photo_ageing(signs);
            assert_eq!((found.class.map(Glogau::as_str), found.refer), (class, refer), "{signs:?}");
        }
    }

    #[test]
    fn fragility_is_a_list_and_ignores_other_signs() {
        let seen = [SkinSign::Flaking, SkinSign::BruisesEasily, SkinSign::Purpura];
        assert_eq!(fragility_signs(&seen), [SkinSign::Purpura, SkinSign::BruisesEasily]);
        assert_eq!(fragility_signs(&[SkinSign::LargePores]), []);
    }

    #[test]
    fn hba1c_converts_as_printed() {
        // Master equation of the two standards, rounded as in printed tables.
        for (percent, mmol) in [(7.0, 53.0), (8.0, 63.9), (8.5, 69.4), (9.0, 74.9)] {
            assert!((hba1c_mmol_mol(percent) - mmol).abs() < 0.05, "{percent}");
        }
    }
}
