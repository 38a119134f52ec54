//! Whose a label is.

use super::spellings::SpellingFault;

/// Where a packet comes from, as far as it is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Lineage<'a> {
    /// The maker or supplier as the studio calls it.
    pub maker: Option<&'a str>,
    /// The GTIN in its 14-digit form.
    pub gtin: Option<&'a str>,
    /// The catalogue number.
    pub reference: Option<&'a str>,
}

impl<'a> Lineage<'a> {
    /// What is known out of several tellings. Where two differ, neither is known.
    #[must_use]
    pub fn agreed(told: impl IntoIterator<Item = Self>) -> Self {
        let told: Vec<Self> = told.into_iter().collect();
        let one = |member: fn(&Self) -> Option<&'a str>| {
            let mut said = told.iter().filter_map(member);
            let first = said.next()?;
            said.all(|other| other.eq_ignore_ascii_case(first)).then_some(first)
        };
        Self {
            maker: one(|lineage| lineage.maker),
            gtin: one(|lineage| lineage.gtin),
            reference: one(|lineage| lineage.reference),
        }
    }
}

/// Whose packets something speaks of: a supplier's habit, a pack of spellings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Whose<'a> {
    /// The maker or supplier.
    pub maker: Option<&'a str>,
    /// How its article numbers begin.
    pub gtin_prefix: Option<&'a str>,
    /// How its catalogue numbers begin.
    pub reference_prefix: Option<&'a str>,
}

impl Whose<'_> {
    /// Whether anybody is named.
    #[must_use]
    pub const fn names_somebody(&self) -> bool {
        self.maker.is_some() || self.gtin_prefix.is_some() || self.reference_prefix.is_some()
    }

    /// Whether it speaks of a packet: everything that it names must be known of the
    /// packet and fit. What names nothing speaks of nothing.
    #[must_use]
    pub fn speaks_of(&self, packet: &Lineage<'_>) -> bool {
        let fits = |named: Option<&str>, found: Option<&str>, fit: fn(&str, &str) -> bool| {
            named.is_none_or(|named| found.is_some_and(|found| fit(named, found)))
        };
        self.names_somebody()
            && fits(self.maker, packet.maker, |named, found| named.eq_ignore_ascii_case(found))
            && fits(self.gtin_prefix, packet.gtin, begins)
            && fits(self.reference_prefix, packet.reference, begins)
    }

    /// Whether there may be a packet of which both speak; what names nobody is taken
    /// to speak of all.
    #[must_use]
    pub fn meets(&self, other: &Self) -> bool {
        let fit = |one: Option<&str>, other: Option<&str>, fit: fn(&str, &str) -> bool| {
            one.zip(other).is_none_or(|(one, other)| fit(one, other) || fit(other, one))
        };
        fit(self.maker, other.maker, |one, other| one.eq_ignore_ascii_case(other))
            && fit(self.gtin_prefix, other.gtin_prefix, begins)
            && fit(self.reference_prefix, other.reference_prefix, begins)
    }

    /// What is named and can never fit.
    pub(super) fn faults(&self) -> Vec<SpellingFault> {
        let blank = |text: &str| text.trim().is_empty();
        let no_digits = |text: &str| {
            !(4..=14).contains(&text.len()) || !text.bytes().all(|b| b.is_ascii_digit())
        };
        let too_short = |text: &str| text.trim().chars().count() < 2;
        let faults = [
            (self.maker.is_some_and(blank), "/maker", "name a maker as lots name it"),
            (
                self.gtin_prefix.is_some_and(no_digits),
                "/gtin_prefix",
                "an article number begins with 4 to 14 digits here",
            ),
            (
                self.reference_prefix.is_some_and(too_short),
                "/reference_prefix",
                "a catalogue number begins with 2 characters or more here",
            ),
        ];
        let wrong = faults.into_iter().filter(|(wrong, _, _)| *wrong);
        wrong.map(|(_, pointer, why)| SpellingFault::new(pointer, why)).collect()
    }
}

/// Whether a number begins so, in whatever case.
fn begins(named: &str, found: &str) -> bool {
    found.get(..named.len()).is_some_and(|head| head.eq_ignore_ascii_case(named))
}
