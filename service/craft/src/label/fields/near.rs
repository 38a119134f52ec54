//! Words that a pack is not to be used, with one letter lost, wrong or too many.
//!
//! A reader that loses one letter of *geöffnet* must not make the pack fit. Every such word of six
//! letters or more is known with one fault: a letter, a sign for one, a blank or a line break inside
//! it. Umlauts may be written with an E. What is only near is asked about, and forbids nothing.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

use crate::label::fold::{self, Class, SKIP, class, joins, skeleton};
use crate::label::tables::{Field, FieldFile};

/// Letters of a word from which on it is known with a fault.
const LONG: usize = 6;
/// Letters by which the words that may be meant are found: of the beginning and of what follows it.
const KEY: usize = 3;
/// Signs that a break or a stain leaves inside a word.
const GAP: usize = 3;
/// Characters within which the letters of the keys stand.
const SOON: usize = 14;

/// The words, by letters that one fault leaves whole.
#[derive(Debug, Clone, Default)]
pub(crate) struct Near {
    words: Vec<Box<[char]>>,
    heads: ByKey,
    tails: ByKey,
}

type ByKey = HashMap<u64, Vec<u32>, BuildHasherDefault<Mixed>>;

/// Mixes a key that is a number already: of a text every word is looked up four times, and it is the
/// lists that are in the table and no text.
#[derive(Debug, Clone, Default)]
struct Mixed(u64);

impl Hasher for Mixed {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        bytes.iter().for_each(|byte| self.write_u64(self.0 ^ u64::from(*byte)));
    }

    fn write_u64(&mut self, key: u64) {
        // The golden ratio, as in Fibonacci hashing; the table goes by the low bits.
        self.0 = key.wrapping_mul(0x9e37_79b9_7f4a_7c15).rotate_left(32);
    }
}

impl Near {
    /// The words of damage and of use, in whatever language.
    pub(crate) fn new(file: &FieldFile) -> Self {
        let mut all = Self::default();
        let of = [Field::Damaged, Field::Doubtful, Field::NotForUse];
        let rows = file.field.iter().filter(|row| of.contains(&row.field));
        for word in rows.flat_map(|row| &row.words) {
            let letters: Box<[char]> =
                word.chars().map(fold::letter).filter(|c| *c != SKIP).map(skeleton).collect();
            let own: Vec<char> = letters.iter().copied().filter(|c| !joins(*c)).collect();
            let plain = own.iter().all(|c| class(*c) == Class::Letter);
            if let (Some(head), Some(tail)) = (key(&own, 0), key(&own, KEY))
                && plain
                && LONG <= own.len()
            {
                let number = u32::try_from(all.words.len()).unwrap_or(u32::MAX);
                all.heads.entry(head).or_default().push(number);
                all.tails.entry(tail).or_default().push(number);
                all.words.push(letters);
            }
        }
        all
    }

    /// Where a word ends that begins here with one fault at most.
    pub(crate) fn at(&self, text: &[char], at: usize) -> Option<usize> {
        let soon = &text[at..text.len().min(at + SOON)];
        let mut own = ['\0'; KEY * 2 + 1];
        let letters = soon.iter().filter(|c| class(**c) != Class::Other);
        let count = own.iter_mut().zip(letters).map(|(to, c)| *to = skeleton(*c)).count();
        let own = &own[..count];
        let heads = key(own, 0).and_then(|key| self.heads.get(&key));
        // In the beginning one letter is lost, wrong or too many.
        let places = [KEY - 1, KEY, KEY + 1];
        let tails = places.iter().filter_map(|from| self.tails.get(&key(own, *from)?));
        let words = heads.into_iter().chain(tails).flatten();
        words
            .filter_map(|number| self.words.get(*number as usize))
            .find_map(|word| behind(text, at, word, true))
    }
}

/// Three letters as one number.
fn key(letters: &[char], from: usize) -> Option<u64> {
    let three = letters.get(from..from + KEY)?;
    Some(three.iter().fold(0, |key, c| key << 21 | u64::from(*c)))
}

/// Where a word ends of which the text goes on here, with one fault if `may`.
fn behind(text: &[char], at: usize, word: &[char], may: bool) -> Option<usize> {
    let here = text.get(at).copied();
    let own = here.is_some_and(|c| matches!(class(c), Class::Letter | Class::Digit));
    let [wanted, rest @ ..] = word else {
        return match own {
            false => Some(at),
            true if may => behind(text, at + 1, word, false),
            true => None,
        };
    };
    if here == Some(SKIP) {
        return behind(text, at + 1, word, may);
    }
    if joins(*wanted) {
        let joints = text[at.min(text.len())..].iter().take_while(|c| joins(**c)).count();
        let whole = behind(text, at + joints, rest, may);
        let more = || behind(text, at + 1, word, false);
        return whole.or_else(|| if may && own { more() } else { None });
    }
    if here.map(skeleton) == Some(*wanted)
        && let Some(end) = behind(text, at + 1, rest, may)
    {
        return Some(end);
    }
    // `geoeffnet`
    let umlaut = at.checked_sub(1).is_some_and(|i| matches!(text[i], 'A' | 'O' | 'U'));
    if here == Some('E')
        && umlaut
        && let Some(end) = behind(text, at + 1, word, may)
    {
        return Some(end);
    }
    if !may {
        return None;
    }
    if own {
        let lost = behind(text, at, rest, false);
        return lost
            .or_else(|| behind(text, at + 1, rest, false))
            .or_else(|| behind(text, at + 1, word, false));
    }
    let gap = text[at.min(text.len())..].iter().take_while(|c| class(**c) == Class::Other).count();
    let over = at + gap;
    let broken = || behind(text, over, word, false).or_else(|| behind(text, over, rest, false));
    let broken = if (1..=GAP).contains(&gap) { broken() } else { None };
    broken.or_else(|| behind(text, at, rest, false))
}
