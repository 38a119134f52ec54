//! Letters and digits of other scripts, put into ours character by character.
//!
//! A digit is a digit in every script. A letter of another alphabet is taken for
//! the one it looks like only inside a word or number that is ours otherwise:
//! `9М1` with a Cyrillic M, but no Russian word. The number of characters stays,
//! so that places in the text stay what they are.

use std::borrow::Cow;

/// Zeros of the scripts whose digits are read; nine more follow each.
const ZEROS: &[u32] =
    &[0x660, 0x6f0, 0x966, 0x9e6, 0xe50, 0x1d7ce, 0x1d7d8, 0x1d7e2, 0x1d7ec, 0x1d7f6];

/// Letters that look alike: theirs, ours.
const PAIRS: &[(&str, &str)] = &[
    // Cyrillic.
    ("АВЕКМНОРСТУХЅІЈԌ", "ABEKMHOPCTYXSIJG"),
    ("аеорсухѕіјмткԁӏ", "aeopcyxsijmtkdl"),
    // Greek.
    ("ΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "ABEZHIKMNOPTYX"),
    ("ονρικ", "ovpik"),
    // Cherokee capitals, which some fonts draw like ours.
    ("ᎡᏞᏚᎷᎢ", "RLSMT"),
];

/// The same text in our letters and digits.
pub(crate) fn latin(text: &str) -> Cow<'_, str> {
    if text.is_ascii() || !text.chars().any(|c| digit(c).is_some() || letter(c).is_some()) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while !rest.is_empty() {
        let len = rest.find(|c: char| !c.is_alphanumeric()).unwrap_or(rest.len());
        let (word, after) = rest.split_at(len);
        let ours = word.chars().any(|c| c.is_ascii_alphanumeric() || digit(c).is_some())
            && word.chars().all(|c| c.is_ascii() || digit(c).is_some() || letter(c).is_some());
        out.extend(
            word.chars().map(|c| digit(c).or_else(|| letter(c).filter(|_| ours)).unwrap_or(c)),
        );
        let mut signs = after.chars();
        out.extend(signs.next());
        rest = signs.as_str();
    }
    Cow::Owned(out)
}

/// Whether a character is a letter of another alphabet that looks like ours.
pub(crate) fn is_letter(c: char) -> bool {
    letter(c).is_some()
}

fn digit(c: char) -> Option<char> {
    let code = u32::from(c);
    let zero = ZEROS.iter().find(|zero| (**zero..**zero + 10).contains(&code))?;
    char::from_digit(code - zero, 10)
}

/// The letter of ours that a letter of another alphabet looks like.
pub(crate) fn letter(c: char) -> Option<char> {
    if c.is_ascii() {
        return None;
    }
    let code = u32::from(c);
    if (0x1d400..0x1d6a4).contains(&code) {
        // Mathematical alphabets: capitals, then small letters, again and again.
        let at = u8::try_from((code - 0x1d400) % 52).ok()?;
        let first = if at < 26 { b'A' + at } else { b'a' + at - 26 };
        return Some(char::from(first));
    }
    PAIRS.iter().find_map(|(theirs, ours)| {
        let at = theirs.chars().position(|t| t == c)?;
        ours.chars().nth(at)
    })
}

#[cfg(test)]
mod tests {
    use super::latin;

    #[test]
    fn only_what_is_ours_otherwise_is_put_into_our_letters() {
        for (text, want) in [
            ("9М1", "9M1"),
            ("0.30 3RL SТ", "0.30 3RL ST"),
            ("١٠٠٣RL", "1003RL"),
            ("𝟎.𝟑𝟎 3RL", "0.30 3RL"),
            ("๑๐๐๓RL", "1003RL"),
            ("1003𝐑𝐋", "1003RL"),
            ("годен до", "годен до"),
            ("М", "М"),
            ("1003RL М", "1003RL М"),
            ("2027年", "2027年"),
        ] {
            assert_eq!(latin(text), want);
            assert_eq!(latin(text).chars().count(), text.chars().count());
        }
    }
}
