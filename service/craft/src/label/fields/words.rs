//! The field words, looked up with the misreadings of OCR in mind.

use crate::label::tables::{Field, FieldFile, Method};

/// Letters and digits that OCR takes for each other, put into one.
pub(super) fn fold(byte: u8) -> u8 {
    match byte {
        b'0' | b'Q' => b'O',
        b'1' | b'L' => b'I',
        b'5' => b'S',
        b'8' => b'B',
        other => other,
    }
}

#[derive(Debug, Clone)]
struct Word<T> {
    plain: Box<[u8]>,
    means: T,
}

/// A list of words, longest first within their first letter.
#[derive(Debug, Clone)]
pub(super) struct Words<T> {
    words: Vec<Word<T>>,
    first: [(u16, u16); 26],
}

impl<T: Copy> Words<T> {
    fn new(all: impl Iterator<Item = (String, T)>) -> Self {
        let mut words: Vec<_> =
            all.map(|(text, means)| Word { plain: text.as_bytes().into(), means }).collect();
        let key = |w: &Word<T>| fold(w.plain[0]);
        words.sort_by(|a, b| key(a).cmp(&key(b)).then(b.plain.len().cmp(&a.plain.len())));
        let mut first = [(0, 0); 26];
        for letter in b'A'..=b'Z' {
            let from = words.partition_point(|w| key(w) < letter);
            let to = words.partition_point(|w| key(w) <= letter);
            let short = |n: usize| u16::try_from(n).unwrap_or(u16::MAX);
            first[usize::from(letter - b'A')] = (short(from), short(to));
        }
        Self { words, first }
    }

    /// The longest word at a place: meaning, end, whether it is written so.
    pub(super) fn at(&self, up: &[u8], at: usize) -> Option<(T, usize, bool)> {
        let letter = fold(*up.get(at)?);
        let slot = usize::from(letter.checked_sub(b'A')?);
        let (from, to) = *self.first.get(slot)?;
        self.words[usize::from(from)..usize::from(to)].iter().find_map(|word| {
            let (end, exact) = phrase(up, at, &word.plain)?;
            // A word ends where no letter follows, nor a letter in disguise.
            let closed = !up.get(end).is_some_and(u8::is_ascii_alphabetic);
            let sure = exact || 3 <= word.plain.len();
            (closed && sure).then_some((word.means, end, exact))
        })
    }

    /// The word written exactly so at a place, whatever follows.
    pub(super) fn glued(&self, up: &[u8], at: usize) -> Option<(T, usize)> {
        let slot = usize::from(fold(*up.get(at)?).checked_sub(b'A')?);
        let (from, to) = *self.first.get(slot)?;
        self.words[usize::from(from)..usize::from(to)].iter().find_map(|word| {
            let (end, exact) = phrase(up, at, &word.plain)?;
            exact.then_some((word.means, end))
        })
    }
}

fn phrase(up: &[u8], at: usize, word: &[u8]) -> Option<(usize, bool)> {
    let mut end = at;
    let mut exact = true;
    for letter in word {
        if *letter == b' ' {
            while up.get(end).is_some_and(|b| matches!(b, b' ' | b'.' | b'-' | b'_' | b'/')) {
                end += 1;
            }
            continue;
        }
        let here = *up.get(end)?;
        if here != *letter {
            if fold(here) != fold(*letter) {
                return None;
            }
            exact = false;
        }
        end += 1;
    }
    Some((end, exact))
}

/// Everything that is looked up.
#[derive(Debug, Clone)]
pub(super) struct Lists {
    pub(super) fields: Words<Field>,
    pub(super) methods: Words<Method>,
    pub(super) pieces: Words<()>,
}

impl Lists {
    pub(super) fn new(file: &FieldFile) -> Self {
        let fields = file.field.iter();
        let methods = file.method.iter();
        Self {
            fields: Words::new(fields.flat_map(|f| f.words.iter().map(|w| (w.clone(), f.field)))),
            methods: Words::new(
                methods.flat_map(|m| m.words.iter().map(|w| (w.clone(), m.method))),
            ),
            pieces: Words::new(file.pieces.words.iter().map(|w| (w.clone(), ()))),
        }
    }
}
