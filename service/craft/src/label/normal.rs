//! Text as the reader wants it: one byte a character, upper case beside the
//! original, with the way back to the characters as sent.
//!
//! Full width forms, dashes, the diameter sign, micro signs, multiplication
//! signs and blanks of other scripts are folded; words of other scripts that
//! packets carry are put into ours (`rules/label/fields.toml`, `script`).
//! What must not be read at all is refused with what to do.

use super::reading::Refusal;
use super::tables::Script;

/// Longest text of one packet, in characters.
pub(crate) const LONGEST_TEXT: usize = 2_000;

/// Stands for a character that the reader does not know.
pub(crate) const STRANGE: u8 = 0x7f;
/// Stands for the diameter sign.
pub(crate) const DIAMETER: u8 = 0x01;

/// The text, folded.
#[derive(Debug, Clone)]
pub(crate) struct Normal {
    /// One byte a character, as written.
    pub(crate) raw: Vec<u8>,
    /// The same in upper case.
    pub(crate) up: Vec<u8>,
    /// For each byte, the character of the text as sent; none if they agree.
    offsets: Option<Vec<u32>>,
    /// Number of characters as sent.
    chars: usize,
}

impl Normal {
    /// Folds a text.
    ///
    /// # Errors
    /// [`Refusal`] for what must not be read: nothing, too much, control or
    /// direction marks, pictures.
    pub(crate) fn fold(text: &str, scripts: &[Script]) -> Result<Self, Refusal> {
        if LONGEST_TEXT < text.len() && LONGEST_TEXT < text.chars().count() {
            return Err(Refusal::TooLong);
        }
        if text.is_ascii() {
            return Self::ascii(text.as_bytes());
        }
        let mut normal =
            Self { raw: Vec::with_capacity(text.len()), up: Vec::new(), offsets: None, chars: 0 };
        let mut offsets = Vec::with_capacity(text.len());
        let mut at = 0;
        let mut rest = text;
        while let Some(c) = rest.chars().next() {
            let place = u32::try_from(at).unwrap_or(u32::MAX);
            if let Some(script) = scripts.iter().find(|s| rest.starts_with(s.from.as_str())) {
                normal.raw.extend_from_slice(script.to.as_bytes());
                offsets.resize(normal.raw.len(), place);
                at += script.from.chars().count();
                rest = &rest[script.from.len()..];
                continue;
            }
            fold_char(c, &mut normal.raw)?;
            offsets.resize(normal.raw.len(), place);
            at += 1;
            rest = &rest[c.len_utf8()..];
        }
        normal.chars = at;
        normal.offsets = Some(offsets);
        normal.up = normal.raw.to_ascii_uppercase();
        normal.refuse_empty()
    }

    fn ascii(bytes: &[u8]) -> Result<Self, Refusal> {
        if bytes.iter().any(|b| b.is_ascii_control() && !matches!(b, b'\t' | b'\n' | b'\r')) {
            return Err(Refusal::ControlCharacters);
        }
        let up = bytes.to_ascii_uppercase();
        Self { raw: bytes.to_vec(), up, offsets: None, chars: bytes.len() }.refuse_empty()
    }

    fn refuse_empty(self) -> Result<Self, Refusal> {
        if self.raw.iter().all(u8::is_ascii_whitespace) { Err(Refusal::Empty) } else { Ok(self) }
    }

    /// The character of the text as sent that a byte stands for.
    pub(crate) fn char_at(&self, byte: usize) -> usize {
        match &self.offsets {
            None => byte,
            Some(offsets) => offsets.get(byte).map_or(self.chars, |at| *at as usize),
        }
    }

    /// The characters as sent between two bytes.
    pub(crate) fn as_sent<'t>(&self, text: &'t str, start: usize, end: usize) -> &'t str {
        // Without offsets a byte here is a character of the text as sent.
        if self.offsets.is_none() && text.is_ascii() {
            return text.get(start..end).unwrap_or_default();
        }
        let (from, to) = (self.char_at(start), self.char_at(end));
        let byte = |n| text.char_indices().nth(n).map_or(text.len(), |(at, _)| at);
        text.get(byte(from)..byte(to)).unwrap_or_default()
    }
}

/// Puts one character into our set.
fn fold_char(c: char, into: &mut Vec<u8>) -> Result<(), Refusal> {
    let byte = match c {
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
        'Ä' | 'ä' => b'A',
        'Ö' | 'ö' => b'O',
        'Ü' | 'ü' => b'U',
        '\u{a9}' | '\u{ae}' | '\u{2122}' | '\u{b0}' | '\u{fe0f}' => b' ',
        '\u{2600}'..='\u{27bf}' | '\u{1f000}'..='\u{1faff}' => return Err(Refusal::Pictures),
        _ => STRANGE,
    };
    into.push(byte);
    Ok(())
}
