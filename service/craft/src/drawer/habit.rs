//! A supplier's habits.

use crate::label::MonthRule;

/// Where a lot comes from.
#[derive(Debug, Clone, Copy, Default)]
pub struct Lineage<'a> {
    /// The maker or supplier as the studio calls it.
    pub maker: Option<&'a str>,
    /// The GTIN in its 14-digit form.
    pub gtin: Option<&'a str>,
    /// The catalogue number.
    pub reference: Option<&'a str>,
}

/// How a supplier prints its packs.
#[derive(Debug, Clone, Copy)]
pub struct Habit<'a> {
    /// The maker or supplier it speaks of.
    pub maker: Option<&'a str>,
    /// How its article numbers begin.
    pub gtin_prefix: Option<&'a str>,
    /// How its catalogue numbers begin.
    pub reference_prefix: Option<&'a str>,
    /// Which day it means by a month.
    pub month: Option<MonthRule>,
    /// Whether its packs are sterile although the label does not say so.
    pub sterile: Option<bool>,
}

impl Habit<'_> {
    /// Whether it speaks of a lot: everything that it names must be known of
    /// the lot and fit. A habit that names nothing speaks of nothing.
    #[must_use]
    pub fn speaks_of(&self, lot: &Lineage<'_>) -> bool {
        let same = |named: Option<&str>, found: Option<&str>| match (named, found) {
            (None, _) => true,
            (Some(named), Some(found)) => named.eq_ignore_ascii_case(found),
            (Some(_), None) => false,
        };
        let begins = |named: Option<&str>, found: Option<&str>| match (named, found) {
            (None, _) => true,
            (Some(named), Some(found)) => {
                found.get(..named.len()).is_some_and(|head| head.eq_ignore_ascii_case(named))
            }
            (Some(_), None) => false,
        };
        let names =
            self.maker.is_some() || self.gtin_prefix.is_some() || self.reference_prefix.is_some();
        names
            && same(self.maker, lot.maker)
            && begins(self.gtin_prefix, lot.gtin)
            && begins(self.reference_prefix, lot.reference)
    }
}
