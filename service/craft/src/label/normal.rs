//! Text as the reader wants it: one byte a character for the configuration,
//! one folded letter a character for the words.
//!
//! Full width forms, dashes, the diameter sign, micro signs, multiplication
//! signs, digits and blanks of other scripts are folded. A character as sent
//! stays one character in both, so that a place in one is a place in the other
//! and in the text as sent. What must not be read at all is refused with what
//! to do.

use super::fold;
use super::reading::Refusal;

/// Longest text of one packet, in characters.
pub(crate) const LONGEST_TEXT: usize = 2_000;

/// Stands for a character that the reader does not know.
pub(crate) const STRANGE: u8 = 0x7f;
/// Stands for a letter with a mark that no configuration has.
pub(crate) const MARKED: u8 = 0x02;
/// Stands for the diameter sign.
pub(crate) const DIAMETER: u8 = 0x01;

/// The text, folded.
#[derive(Debug, Clone)]
pub(crate) struct Normal {
    /// One byte a character, as written.
    pub(crate) raw: Vec<u8>,
    /// The same in upper case.
    pub(crate) up: Vec<u8>,
    /// One letter a character, without case and marks.
    pub(crate) letters: Vec<char>,
}

impl Normal {
    /// Folds a text. `latin` is the same text, character for character, in our
    /// letters and digits; the configuration is read from it.
    ///
    /// # Errors
    /// [`Refusal`] for what must not be read: nothing, too much, control or
    /// direction marks, pictures.
    pub(crate) fn fold(text: &str, latin: &str) -> Result<Self, Refusal> {
        if LONGEST_TEXT < text.len() && LONGEST_TEXT < text.chars().count() {
            return Err(Refusal::TooLong);
        }
        let mut raw = Vec::with_capacity(text.len());
        if latin.is_ascii() && text.is_ascii() {
            let bad = |b: &u8| b.is_ascii_control() && !matches!(b, b'\t' | b'\n' | b'\r');
            if text.bytes().any(|b| bad(&b)) {
                return Err(Refusal::ControlCharacters);
            }
            raw.extend_from_slice(text.as_bytes());
        } else {
            for c in latin.chars() {
                let folded = match (raw.last(), c) {
                    // The abbreviation of *numero*.
                    (Some(b'N' | b'n'), '°' | 'º') => b'O',
                    _ => fold_char(c)?,
                };
                raw.push(folded);
            }
        }
        if raw.iter().all(u8::is_ascii_whitespace) {
            return Err(Refusal::Empty);
        }
        let letters = fold::letters(text);
        Ok(Self { up: raw.to_ascii_uppercase(), raw, letters })
    }

    /// The characters as sent between two places.
    pub(crate) fn as_sent<'t>(&self, text: &'t str, start: usize, end: usize) -> &'t str {
        if text.len() == self.raw.len() {
            return text.get(start..end).unwrap_or_default();
        }
        let byte = |n| text.char_indices().nth(n).map_or(text.len(), |(at, _)| at);
        text.get(byte(start)..byte(end)).unwrap_or_default()
    }
}

/// Puts one character into our set.
fn fold_char(c: char) -> Result<u8, Refusal> {
    if let Some(digit) = fold::digit(c) {
        return Ok(digit);
    }
    Ok(match c {
        '\t' | '\n' | '\r' => b' ',
        '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => {
            return Err(Refusal::DirectionMarks);
        }
        '\u{200b}'..='\u{200d}' | '\u{2060}' | '\u{feff}' | '\u{ad}' => {
            return Err(Refusal::InvisibleCharacters);
        }
        _ if c.is_control() => return Err(Refusal::ControlCharacters),
        ' '..='~' => u8::try_from(c).unwrap_or(STRANGE),
        // Full width forms lie 0xfee0 above ASCII.
        '\u{ff01}'..='\u{ff5e}' => u8::try_from(u32::from(c) - 0xfee0).unwrap_or(STRANGE),
        '\u{2010}'..='\u{2015}' | '\u{2212}' | '\u{fe58}' | '\u{fe63}' => b'-',
        '\u{a0}' | '\u{2000}'..='\u{200a}' | '\u{202f}' | '\u{205f}' | '\u{3000}' => b' ',
        '\u{d8}' | '\u{f8}' | '\u{2205}' | '\u{2300}' | '\u{3a6}' | '\u{3c6}' => DIAMETER,
        '\u{b5}' | '\u{3bc}' => b'u',
        '\u{d7}' | '\u{2715}' => b'x',
        '\u{3001}' | '\u{b7}' | '\u{30fb}' => b' ',
        '\u{3002}' | '\u{2024}' => b'.',
        // Behind or before a number they say that it is a size.
        '号' | '號' | '호' | '№' => b'#',
        '″' | '”' | '“' => b'"',
        '’' | '‘' => b'\'',
        'ß' => b'S',
        'º' => b' ',
        'Ä' | 'ä' => b'A',
        'Ö' | 'ö' => b'O',
        'Ü' | 'ü' => b'U',
        '\u{a9}' | '\u{ae}' | '\u{2122}' | '\u{b0}' | '\u{fe0f}' => b' ',
        '\u{2600}'..='\u{27bf}' | '\u{1f000}'..='\u{1faff}' => return Err(Refusal::Pictures),
        _ if fold::letter(c).is_ascii_uppercase() => MARKED,
        _ => STRANGE,
    })
}
