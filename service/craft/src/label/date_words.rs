//! Rows of the rule data: words inside dates and at them, and of damage.

use crate::rules::Origin;
use etui_schema::kinds::loaded;

/// Words and signs inside dates.
#[loaded(PartialEq)]
pub(crate) struct DateWords {
    pub(crate) year: Vec<String>,
    pub(crate) month: Vec<String>,
    pub(crate) day: Vec<String>,
    pub(crate) years: Vec<String>,
    pub(crate) months: Vec<String>,
    pub(crate) filler: Vec<String>,
    /// Until, through, to, end: a date at one is no day of manufacture.
    pub(crate) limits: Vec<String>,
    /// What else ends on a day, right before a word of expiry.
    pub(crate) others: Vec<String>,
    pub(crate) era: Vec<Era>,
    source: Origin,
}

/// An era: its words, and what to add to its years.
#[loaded(PartialEq)]
pub(crate) struct Era {
    pub(crate) words: Vec<String>,
    pub(crate) add: i16,
}

#[loaded(PartialEq)]
pub(crate) struct Damage {
    /// Beginnings of words of damage that are known with one letter wrong.
    pub(crate) stems: Vec<String>,
    /// Phrases about opening and keeping, with words that else are asked about.
    pub(crate) plain: Vec<String>,
    /// Words that one letter parts from one of damage or use.
    pub(crate) ordinary: Vec<String>,
    /// What goes on with a notice: or, and.
    pub(crate) joining: Vec<String>,
    source: Origin,
}
