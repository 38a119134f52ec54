//! The question that settles a configuration which is not clear, and the
//! readings among which it chooses.

use super::reading::{Because, Candidate, Outcome, Reading};

/// One question; its text stands under `key` in `rules/texts/label.*.toml`.
#[derive(Debug, Clone, PartialEq)]
pub struct Question<'a> {
    /// The key of the text.
    pub key: &'static str,
    /// The readings that may be chosen, best first; none if what is asked for
    /// is not on the label at all.
    pub choices: &'a [Candidate],
}

/// Every key that a question may have.
pub(crate) const KEYS: &[&str] = &[PACK, DIAMETER, COUNT, GROUPING, TAPER, READING, CONFIRM];

const PACK: &str = "configuration_pack";
const DIAMETER: &str = "configuration_diameter";
const COUNT: &str = "configuration_count";
const GROUPING: &str = "configuration_grouping";
const TAPER: &str = "configuration_taper";
const READING: &str = "configuration_reading";
const CONFIRM: &str = "configuration_confirm";

impl Reading {
    /// What a person must say so that the configuration is settled; none if it
    /// is clear, or if nothing was read of it.
    #[must_use]
    pub fn question(&self) -> Option<Question<'_>> {
        if matches!(self.outcome, Outcome::Clear | Outcome::Refused) {
            return None;
        }
        let best = self.candidates.first()?;
        let choices = self.candidates.as_slice();
        if let [only] = choices {
            return Some(match only.missing().next() {
                Some(field) => Question { key: asks_for(field), choices: &[] },
                None => Question { key: CONFIRM, choices },
            });
        }
        let differs = |field: fn(&Candidate, &Candidate) -> bool| {
            choices.iter().any(|other| field(best, other))
        };
        let differing = [
            (DIAMETER, differs(|a, b| a.configuration.diameter_mm != b.configuration.diameter_mm)),
            (COUNT, differs(|a, b| a.configuration.count != b.configuration.count)),
            (GROUPING, differs(|a, b| a.configuration.grouping != b.configuration.grouping)),
            (TAPER, differs(|a, b| a.configuration.taper != b.configuration.taper)),
        ];
        let mut keys = differing.iter().filter(|(_, differs)| *differs).map(|(key, _)| *key);
        let pack = |c: &Candidate| {
            c.because().iter().any(|r| matches!(r, Because::Pack(_) | Because::MayBePack(_)))
        };
        let key = match (keys.next(), keys.next()) {
            (Some(DIAMETER), None) if choices.iter().any(pack) => PACK,
            (Some(key), None) => key,
            _ => READING,
        };
        Some(Question { key, choices })
    }
}

fn asks_for(field: &str) -> &'static str {
    match field {
        "diameter_mm" => DIAMETER,
        "count" => COUNT,
        _ => GROUPING,
    }
}
