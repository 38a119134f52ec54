//! Cautions and differences in words.

use etui_schema::vocabulary::{Language, Site};

use super::cautions::Caution;
use super::circumstances::Circumstances;
use super::complete::Complete;
use super::measures::Measures;
use super::trauma::Cause;
use crate::rules::RuleFault;
use crate::text::{self, Catalogue, texts};

/// The sentences of this area in every language.
#[derive(Debug, Clone)]
pub struct Wording {
    texts: Catalogue,
}

/// What is said beside cautions and causes.
const OTHER_KEYS: &[&str] = &[
    "through_skin_assumed",
    "nearly_through_skin_assumed",
    "first",
    "same",
    "pressure_less_tips",
    "pressure_more_tips",
    "pressure_less_diameter",
    "pressure_more_diameter",
    "pressure_equal",
    "trauma_less",
    "trauma_more",
    "trauma_equal",
    "cover_by",
    "cover_equal",
    "sentence",
    "statement",
];

/// One measured configuration.
#[derive(Debug, Clone, Copy)]
pub struct Measured<'a> {
    /// The configuration.
    pub configuration: &'a Complete,
    /// Its measures.
    pub measures: &'a Measures,
}

impl Wording {
    /// The sentences compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if a file is unreadable, the languages differ, or a
    /// caution or cause has no sentence.
    pub fn builtin() -> Result<Self, RuleFault> {
        let other = OTHER_KEYS.iter().map(|key| (*key).to_owned());
        let causes = Cause::ALL.iter().map(|c| format!("cause_{}", c.as_str()));
        let cautions = Caution::ALL.iter().map(|c| c.as_str().to_owned());
        Ok(Self { texts: texts!("configuration", cautions.chain(causes).chain(other))? })
    }

    /// A caution as a sentence with its numbers.
    #[must_use]
    pub fn caution(
        &self,
        language: Language,
        caution: Caution,
        measured: Measured<'_>,
        circumstances: &Circumstances,
    ) -> String {
        let Measured { configuration, measures } = measured;
        let number = |value: f64, digits: usize| decimal(language, value, digits);
        let assumed = circumstances.assumed.contains(&"/depth_mm");
        let spoken = [
            (Caution::ThroughSkin, "through_skin_assumed"),
            (Caution::NearlyThroughSkin, "nearly_through_skin_assumed"),
        ];
        let spoken = spoken.into_iter().find(|(one, _)| assumed && *one == caution);
        let key = spoken.map_or(caution.as_str(), |(_, key)| key);
        self.texts.fill(
            language,
            key,
            &[
                ("depth", &number(circumstances.depth_mm, 2)),
                ("skin", &number(measures.skin_mm, 2)),
                ("stroke", &number(circumstances.stroke_mm, 1)),
                ("rate", &number(circumstances.rate_hz, 0)),
                ("strokes", &number(measures.strokes_per_mm, 0)),
                ("spacing", &number(1.0 / measures.strokes_per_mm, 2)),
                ("in_skin", &measures.depths.in_skin.to_string()),
                ("count", &configuration.count.to_string()),
                ("diameter", &number(configuration.diameter_mm, 2)),
            ],
        )
    }

    /// What is said of the configuration that the others are compared with.
    #[must_use]
    pub fn first(&self, language: Language) -> &str {
        self.texts.get(language, "first")
    }

    /// What changed from the first to the other, and why, in one sentence.
    #[must_use]
    pub fn difference(
        &self,
        language: Language,
        first: Measured<'_>,
        other: Measured<'_>,
    ) -> String {
        let name = first.configuration.canonical();
        if first.configuration == other.configuration {
            return self.texts.fill(language, "same", &[("first", &name)]);
        }
        self.texts.fill(
            language,
            "sentence",
            &[
                ("first", &name),
                ("pressure", &self.pressure(language, first, other)),
                ("trauma", &self.trauma(language, first.measures, other.measures)),
                ("cover", &self.cover(language, first.measures, other.measures)),
            ],
        )
    }

    /// The name of a site.
    pub(crate) fn site(&self, language: Language, site: Site) -> String {
        self.word(language, &format!("site_{site}"))
    }

    /// How every comparison is to be taken.
    #[must_use]
    pub fn statement(&self, language: Language) -> &str {
        self.texts.get(language, "statement")
    }

    /// A word or line of a picture.
    pub(super) fn word(&self, language: Language, key: &str) -> String {
        self.texts.get(language, key).to_owned()
    }

    /// A line of a picture with its numbers.
    pub(super) fn filled(&self, language: Language, key: &str, values: &[(&str, &str)]) -> String {
        self.texts.fill(language, key, values)
    }

    fn pressure(&self, language: Language, first: Measured<'_>, other: Measured<'_>) -> String {
        let ratio = other.measures.pressure_index / first.measures.pressure_index;
        if alike(ratio) {
            return self.texts.get(language, "pressure_equal").to_owned();
        }
        let shared = other.measures.sharing_tips / first.measures.sharing_tips;
        // What is left of the ratio once sharing is taken out is diameter.
        let by_tips = (ratio * shared).ln().abs() <= shared.ln().abs();
        let key = match (ratio < 1.0, by_tips) {
            (true, true) => "pressure_less_tips",
            (false, true) => "pressure_more_tips",
            (true, false) => "pressure_less_diameter",
            (false, false) => "pressure_more_diameter",
        };
        let number = |value: f64, digits: usize| decimal(language, value, digits);
        self.texts.fill(
            language,
            key,
            &[
                ("percent", &number(100.0 * ratio, 0)),
                ("times", &number(ratio, 1)),
                ("diameter", &number(other.configuration.diameter_mm, 2)),
                ("diameter_first", &number(first.configuration.diameter_mm, 2)),
            ],
        )
    }

    fn trauma(&self, language: Language, first: &Measures, other: &Measures) -> String {
        let ratio = other.trauma_index / first.trauma_index;
        if alike(ratio) {
            return self.texts.get(language, "trauma_equal").to_owned();
        }
        let part = |cause: Cause| (other.trauma.factor(cause) / first.trauma.factor(cause)).ln();
        // The cause that pulls hardest the way that the whole went.
        let pull = |cause: Cause| part(cause) * ratio.ln().signum();
        let cause = Cause::ALL.iter().copied().max_by(|a, b| pull(*a).total_cmp(&pull(*b)));
        let cause = format!("cause_{}", cause.unwrap_or(Cause::Depth).as_str());
        let key = if ratio < 1.0 { "trauma_less" } else { "trauma_more" };
        let values = [
            ("percent", &*decimal(language, 100.0 * ratio, 0)),
            ("times", &decimal(language, ratio, 1)),
            ("cause", self.texts.get(language, &cause)),
        ];
        self.texts.fill(language, key, &values)
    }

    fn cover(&self, language: Language, first: &Measures, other: &Measures) -> String {
        if alike(other.seconds_per_cm2 / first.seconds_per_cm2) {
            return self.texts.get(language, "cover_equal").to_owned();
        }
        self.texts.fill(
            language,
            "cover_by",
            &[
                ("seconds", &decimal(language, other.seconds_per_cm2, 0)),
                ("seconds_first", &decimal(language, first.seconds_per_cm2, 0)),
            ],
        )
    }
}

/// Whether a ratio is 1 as far as a sentence is concerned.
fn alike(ratio: f64) -> bool {
    (ratio - 1.0).abs() < 0.05
}

/// A number with so many decimals.
pub(super) fn decimal(language: Language, value: f64, digits: usize) -> String {
    text::number(language, &format!("{value:.digits$}"))
}
