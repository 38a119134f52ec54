//! Names of months in the languages that packets carry.
//!
//! `rules/label/months.toml`. A name counts whole, or by a beginning of at
//! least three letters. Where languages differ, those that the label speaks
//! decide, as far as they agree; otherwise every month is a reading.

use std::collections::BTreeMap;

use crate::label::fields::words::Words;
use crate::label::fold::{Class, SKIP, class, joins};
use crate::label::tables::MonthFile;

/// Fewest letters of a beginning.
const FEWEST: usize = 3;

/// The bit of the first month of the Persian year.
pub(super) const PERSIAN: u8 = 12;

/// A language, by its place in the file.
pub(crate) type Language = u8;

/// Languages, each a bit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Languages(u64);

impl Languages {
    pub(crate) fn of(language: Option<Language>) -> Self {
        Self(language.map_or(0, |n| 1_u64.checked_shl(n.into()).unwrap_or(0)))
    }

    pub(crate) fn and(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    pub(crate) fn any(self) -> bool {
        self.0 != 0
    }

    fn has(self, language: Language) -> bool {
        self.0 & Self::of(Some(language)).0 != 0
    }
}

/// The names, ready.
#[derive(Debug, Clone)]
pub(crate) struct Months {
    codes: Vec<String>,
    /// Folded letters of a whole name: languages and months.
    names: BTreeMap<String, Vec<(Language, u8)>>,
    /// Names of more than one word, or of scripts without blanks.
    phrases: Words<u32>,
}

impl Months {
    pub(crate) fn new(file: &MonthFile) -> Self {
        let mut names: BTreeMap<String, Vec<(Language, u8)>> = BTreeMap::new();
        let mut phrases: Vec<(&str, u32, usize)> = Vec::new();
        for (language, row) in (0..).zip(&file.language) {
            let first = if row.persian { PERSIAN } else { 0 };
            for (month, words) in (first..).zip(&row.months) {
                for word in words {
                    let letters: String = word.chars().map(crate::label::fold::letter).collect();
                    if letters.chars().all(|c| class(c) == Class::Letter) {
                        let list = names.entry(letters).or_default();
                        list.push((language, month));
                    } else {
                        phrases.push((word, 1 << month, usize::MAX));
                    }
                }
            }
        }
        let codes = file.language.iter().map(|row| row.code.clone()).collect();
        Self { codes, names, phrases: Words::new(phrases.into_iter()) }
    }

    /// The place of a language.
    pub(crate) fn language(&self, code: &str) -> Option<Language> {
        self.codes.iter().position(|c| c == code).and_then(|at| u8::try_from(at).ok())
    }

    /// Whether a month that is told by its number (`tháng 7`) stands here, and a year behind it, all
    /// on one line: else `24 tháng` are months, and what follows is another field's.
    pub(super) fn is_numbered(&self, text: &[char], at: usize) -> bool {
        self.phrases.at(text, at).is_some_and(|found| {
            !text[at..found.end].contains(&'\n') && is_before_year(&text[found.end..])
        })
    }

    /// The months that a name at a place can be (bit 0 is January, bit 12 the first
    /// of the Persian year), and where it ends.
    pub(crate) fn at(&self, text: &[char], at: usize, speaks: Languages) -> Option<(u32, usize)> {
        if let Some(found) = self.phrases.at(text, at) {
            return Some((found.means, found.end));
        }
        // A mark of its own belongs to the letter before it.
        let part = |c: &&char| class(**c) == Class::Letter || **c == SKIP;
        let written = text[at..].iter().take_while(part).take(32);
        let word: String = written.clone().filter(|c| **c != SKIP).collect();
        if word.chars().count() < FEWEST {
            return None;
        }
        let end = at + written.count();
        let whole = self.names.get(&word).map_or(&[][..], Vec::as_slice);
        let begun: Vec<(Language, u8)> = self
            .names
            .range(word.clone()..)
            .take_while(|(name, _)| name.starts_with(&word))
            .flat_map(|(_, list)| list.iter().copied())
            .collect();
        let own = |row: &&(Language, u8)| speaks.has(row.0);
        let exact = mask(whole.iter().filter(own));
        let spoken = if exact == 0 { mask(begun.iter().filter(own)) } else { exact };
        // A beginning alone is taken in the language that the label speaks, or
        // if several languages share the month: one stray letter makes a
        // beginning in some language of the world.
        let few =
            begun.iter().map(|row| row.0).collect::<std::collections::BTreeSet<_>>().len() < 2;
        let all = mask(whole.iter());
        let all = if whole.is_empty() && !few { mask(begun.iter()) } else { all };
        let decided = exact != 0 || whole.is_empty() && spoken != 0;
        let months = if decided { spoken } else { all | spoken };
        (months != 0).then_some((months, end))
    }
}

/// Whether a year of this century follows on the same line, with nothing but joints between, or the
/// word for a year.
fn is_before_year(text: &[char]) -> bool {
    const YEAR: [char; 3] = ['N', 'Ă', 'M'];
    let joint = |c: &&char| joins(**c) && **c != '\n' || **c == ',';
    let behind = text.iter().skip_while(joint);
    let skipped =
        behind.clone().take(YEAR.len()).eq(&YEAR) || behind.clone().take(3).eq(&['N', 'A', 'M']);
    let number = behind.skip(if skipped { YEAR.len() } else { 0 }).skip_while(joint);
    let number: String = number.take_while(|c| c.is_ascii_digit()).collect();
    number.len() == 4 && number.starts_with("20")
}

fn mask<'a>(list: impl Iterator<Item = &'a (Language, u8)>) -> u32 {
    list.fold(0, |mask, (_, month)| mask | 1 << month)
}
