//! Cautions and differences in words.

use std::cmp::Ordering;

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

/// Up to which share of the whole which part is named: the ends lie half way between
/// neighbours.
const PARTS: [(f64, &str); 8] = [
    (0.07, "part_little"),
    (0.15, "part_tenth"),
    (0.225, "part_fifth"),
    (0.29, "part_quarter"),
    (0.415, "part_third"),
    (0.58, "part_half"),
    (0.705, "part_two_thirds"),
    (0.825, "part_three_quarters"),
];

/// What is named above them.
const NEARLY_ALL: &str = "part_nine_tenths";

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
        let parts = PARTS.iter().map(|(_, key)| *key).chain([NEARLY_ALL]);
        let unplaced = ["through_skin_unplaced", "nearly_through_skin_unplaced"];
        let other = parts.chain(unplaced).map(str::to_owned);
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
        let assumed = circumstances.assumed.contains(&"/depth_mm");
        // Outside the rates that were measured there is one side above 100, and one below.
        let outside = measured.measures.cautions.contains(Caution::RateOutside);
        let is_low = outside && circumstances.rate_hz < 100.0;
        let other = [
            (Caution::ThroughSkin, assumed, "through_skin_assumed"),
            (Caution::NearlyThroughSkin, assumed, "nearly_through_skin_assumed"),
            (Caution::RateOutside, is_low, "rate_outside_low"),
            // Nobody is told to lower a rate that is too low, or that a fast machine is slow.
            (Caution::Overwork, is_low, "overwork_low_rate"),
            (Caution::Gaps, outside && !is_low, "gaps_high_rate"),
        ];
        let other = other.into_iter().find(|(of, holds, _)| *holds && *of == caution);
        let key = other.map_or(caution.as_str(), |(_, _, key)| key);
        self.measured(language, key, measured, circumstances)
    }

    /// A caution for a depth that was told for no site, where the skin is thinnest of the
    /// sites that it may be for. `circumstances` are those of that site.
    #[must_use]
    pub fn unplaced(
        &self,
        language: Language,
        caution: Caution,
        measured: Measured<'_>,
        circumstances: &Circumstances,
    ) -> String {
        let is_through = matches!(caution, Caution::ThroughSkin | Caution::NearlyThroughSkin);
        if is_through && !circumstances.assumed.contains(&"/depth_mm") {
            let key = format!("{}_unplaced", caution.as_str());
            return self.measured(language, &key, measured, circumstances);
        }
        self.caution(language, caution, measured, circumstances)
    }

    /// A sentence with the numbers that were measured.
    fn measured(
        &self,
        language: Language,
        key: &str,
        measured: Measured<'_>,
        circumstances: &Circumstances,
    ) -> String {
        let Measured { configuration, measures } = measured;
        let number = |value: f64, digits: usize| decimal(language, value, digits);
        self.texts.fill(
            language,
            key,
            &[
                ("depth", &number(circumstances.depth_mm, 2)),
                ("skin", &number(measures.skin_mm, 2)),
                ("stroke", &number(circumstances.stroke_mm, 1)),
                ("rate", &number(circumstances.rate_hz, 0)),
                ("strokes", &number(measures.strokes_per_mm, 0)),
                ("spacing", &apart(language, 1.0 / measures.strokes_per_mm)),
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
        let counts = (first.configuration.count, other.configuration.count);
        let points = self.points(language, ratio < 1.0, counts.0, counts.1);
        self.texts.fill(
            language,
            key,
            &[
                ("part", self.part(language, ratio)),
                ("times", &times(language, ratio)),
                ("points", &points),
                ("diameter", &number(other.configuration.diameter_mm, 2)),
                ("diameter_first", &number(first.configuration.diameter_mm, 2)),
            ],
        )
    }

    /// How the force of the other is shared: by how many points, if their number
    /// changed that way.
    fn points(&self, language: Language, is_less: bool, first: u8, other: u8) -> String {
        let key = match (is_less, other.cmp(&first)) {
            (true, Ordering::Greater) => "points_more",
            (true, _) => "points_wider",
            (false, Ordering::Less) => "points_fewer",
            (false, _) => "points_narrower",
        };
        self.texts.fill(language, key, &[("n", &other.to_string())])
    }

    /// A share as a person says it.
    fn part(&self, language: Language, share: f64) -> &str {
        let part = PARTS.iter().find(|(end, _)| share < *end);
        self.texts.get(language, part.map_or(NEARLY_ALL, |(_, key)| key))
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
            ("part", self.part(language, ratio)),
            ("times", &*times(language, ratio)),
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
                ("time", &self.time(language, other.seconds_per_cm2)),
                ("time_first", &self.time(language, first.seconds_per_cm2)),
            ],
        )
    }

    /// A time as a person says it: seconds, from half a minute on in fives; from two
    /// minutes on whole minutes.
    fn time(&self, language: Language, seconds: f64) -> String {
        let step = if seconds < 30.0 { 1.0 } else { 5.0 };
        let (key, n) = match seconds < 117.5 {
            true => ("cover_seconds", (seconds / step).round() * step),
            false => ("cover_minutes", (seconds / 60.0).round()),
        };
        self.texts.fill(language, key, &[("n", &decimal(language, n, 0))])
    }
}

/// Whether a ratio is 1 as far as a sentence is concerned.
fn alike(ratio: f64) -> bool {
    (ratio - 1.0).abs() < 0.05
}

/// How many times as much, as a person says it: 1.1, 1.5, 2, 2.5, 3, 4.
fn times(language: Language, ratio: f64) -> String {
    if ratio < 1.35 {
        decimal(language, ratio, 1)
    } else if ratio < 2.75 {
        text::number(language, &((2.0 * ratio).round() / 2.0).to_string())
    } else {
        decimal(language, ratio, 0)
    }
}

/// A distance as a person says it: tenths from 1 mm on, else hundredths.
fn apart(language: Language, mm: f64) -> String {
    decimal(language, mm, if mm < 0.995 { 2 } else { 1 })
}

/// A number with so many decimals.
pub(super) fn decimal(language: Language, value: f64, digits: usize) -> String {
    text::number(language, &format!("{value:.digits$}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::configuration::Model;

    /// A share within every part, and what lies beyond: nobody says 27 %, or 1.7 times.
    #[test]
    fn parts_and_times_are_said_as_a_person_says_them() {
        let model = Model::builtin().unwrap();
        let part = |share| model.wording().part(Language::En, share).to_owned();
        for (share, said) in [
            (0.03, "less than a tenth"),
            (0.1, "about a tenth"),
            (0.2, "about a fifth"),
            (0.27, "about a quarter"),
            (0.33, "about a third"),
            (0.5, "about half"),
            (0.67, "about two thirds"),
            (0.76, "about three quarters"),
            (0.94, "about nine tenths"),
        ] {
            assert_eq!(part(share), said, "{share}");
        }
        assert!(PARTS.is_sorted_by(|(one, _), (other, _)| one < other));
        let said = [1.07, 1.34, 1.4, 1.7, 1.8, 2.3, 3.4, 12.2];
        let said = said.map(|ratio| times(Language::De, ratio));
        assert_eq!(said, ["1,1", "1,3", "1,5", "1,5", "2", "2,5", "3", "12"]);
        let said = [18.6, 29.4, 47.6, 117.0, 133.0, 475.0];
        let said = said.map(|value| model.wording().time(Language::En, value));
        assert_eq!(said, ["19 s", "29 s", "50 s", "115 s", "2 min", "8 min"]);
        let said = [0.057, 0.4, 1.0, 2.67].map(|mm| apart(Language::De, mm));
        assert_eq!(said, ["0,06", "0,40", "1,0", "2,7"]);
    }
}
