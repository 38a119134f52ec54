//! `configuration.toml`: how labels write sizes, counts, groupings and tapers.

use etui_schema::kinds::loaded;
use etui_schema::vocabulary::Grouping;

use super::{Code, MarkWord, Size, TaperWord, Words};
use crate::label::grammar::{Certainty, Counts, Inch, Shaft, Slang, Zeros};
use crate::rules::{Origin, RuleFault};

/// `configuration.toml`.
#[loaded]
pub(crate) struct ConfigurationFile {
    source: Origin,
    pub(crate) range: Range,
    pub(crate) size: Vec<Size>,
    pub(crate) zeros: Vec<Zeros>,
    pub(crate) slang: Vec<Slang>,
    pub(crate) inch: Inch,
    pub(crate) shaft: Shaft,
    /// From here on a length alone makes it an acupuncture needle.
    pub(crate) filiform: Shaft,
    pub(crate) counts: Counts,
    pub(crate) certainty: Certainty,
    pub(crate) hundredths: Numbers,
    pub(crate) pack: Quantities,
    pub(crate) needle_bar: Millimetres,
    pub(crate) gauge: Vec<Gauge>,
    pub(crate) code: Vec<Code>,
    pub(crate) taper: Vec<TaperWord>,
    pub(crate) mark: Vec<MarkWord>,
    pub(crate) usual: Vec<Usual>,
    pub(crate) noise: Words,
}

impl ConfigurationFile {
    /// The source of what names no other.
    pub(crate) fn source(&self) -> &Origin {
        &self.source
    }

    /// Refuses a grouping that is not read by its own code, or has no usual counts.
    pub(super) fn check(&self, file: &str) -> Result<(), RuleFault> {
        Grouping::ALL.iter().try_for_each(|grouping| {
            let is_code = |c: &Code| c.text == grouping.code() && c.grouping == *grouping;
            let why = format!("no code reads {grouping} by its own letters, {}", grouping.code());
            RuleFault::unless(self.code.iter().any(is_code), file, "/code", why)?;
            let has_counts = self.usual.iter().any(|row| row.grouping == *grouping);
            RuleFault::unless(has_counts, file, "/usual", format!("{grouping} has no usual counts"))
        })
    }
}

#[loaded]
pub(crate) struct Range {
    pub(crate) least_mm: f64,
    pub(crate) most_mm: f64,
    pub(crate) source: Origin,
}

#[loaded]
pub(crate) struct Numbers {
    pub(crate) values: Vec<u8>,
    pub(crate) source: Origin,
}

#[loaded]
pub(crate) struct Quantities {
    pub(crate) quantities: Vec<u8>,
    pub(crate) source: Origin,
}

#[loaded]
pub(crate) struct Millimetres {
    pub(crate) values_mm: Vec<f64>,
    pub(crate) source: Origin,
}

#[loaded]
pub(crate) struct Gauge {
    pub(crate) number: u8,
    pub(crate) mm: f64,
    pub(crate) source: Origin,
}

#[loaded]
pub(crate) struct Usual {
    pub(crate) grouping: Grouping,
    pub(crate) counts: Vec<u8>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Register;
    use crate::rules::{self, rule_file};

    #[test]
    fn a_grouping_that_no_label_writes_is_told_by_the_loader() {
        let register = Register::builtin().unwrap();
        let file = rule_file!("label/configuration.toml");
        for (row, place) in [
            ("[[code]]\ntext = \"M2\"\ngrouping = \"stacked_magnum\"\n", "/code"),
            (
                "[[usual]]\ngrouping = \"flat\"\ncounts = [2, 3, 4, 5, 6, 7, 9, 11, 13, 15]\n",
                "/usual",
            ),
        ] {
            assert!(file.text.contains(row), "{row}");
            let text = Box::leak(file.text.replacen(row, "", 1).into_boxed_str());
            let read: ConfigurationFile =
                rules::load(&register, rules::RuleFile { text, ..file }).unwrap();
            assert_eq!(read.check(file.name).unwrap_err().pointer, place, "{row}");
        }
    }
}
