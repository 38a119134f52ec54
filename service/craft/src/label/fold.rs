//! Letters as words are compared: no case, no marks, digits of every script.
//!
//! One character stays one character, so that places in the folded text are
//! places in the text as sent. What Unicode writes with a base letter and a
//! mark loses the mark (UnicodeData, canonical decomposition); letters without
//! a decomposition that have a plain neighbour (Polish l with stroke, Danish o
//! with stroke) take it.

/// Stands for a mark that belongs to the letter before it.
pub(crate) const SKIP: char = '\0';

/// The first digit of each script that is folded; the other nine follow it.
const ZEROS: &[char] = &[
    '\u{660}',
    '\u{6f0}',
    '\u{966}',
    '\u{9e6}',
    '\u{a66}',
    '\u{ae6}',
    '\u{b66}',
    '\u{be6}',
    '\u{c66}',
    '\u{ce6}',
    '\u{d66}',
    '\u{e50}',
    '\u{ed0}',
    '\u{f20}',
    '\u{1040}',
    '\u{17e0}',
    '\u{ff10}',
    '\u{1d7ce}',
    '\u{1d7d8}',
    '\u{1d7e2}',
    '\u{1d7ec}',
    '\u{1d7f6}',
];

/// Whether a character is a mark over, under or through another one that belongs
/// to no letter of a language that packets carry: strikes, rings, lines. It stays
/// what it is, so that no word is read through it.
fn is_strange_mark(c: char) -> bool {
    const OF_LETTERS: &[std::ops::RangeInclusive<char>] = &[
        '\u{300}'..='\u{304}',
        '\u{306}'..='\u{30c}',
        '\u{311}'..='\u{314}',
        '\u{31b}'..='\u{31b}',
        '\u{323}'..='\u{328}',
        '\u{32d}'..='\u{32e}',
        '\u{331}'..='\u{331}',
        '\u{340}'..='\u{345}',
    ];
    match c {
        '\u{300}'..='\u{36f}' => !OF_LETTERS.iter().any(|marks| marks.contains(&c)),
        '\u{488}'..='\u{489}'
        | '\u{1ab0}'..='\u{1aff}'
        | '\u{1dc0}'..='\u{1dff}'
        | '\u{20d0}'..='\u{20ff}'
        | '\u{fe20}'..='\u{fe2f}' => true,
        _ => false,
    }
}

/// The digit that a character of another script stands for.
pub(crate) fn digit(c: char) -> Option<u8> {
    if c.is_ascii_digit() {
        return u8::try_from(c).ok();
    }
    let zero = ZEROS.iter().rev().find(|zero| **zero <= c)?;
    let value = u8::try_from(u32::from(c) - u32::from(*zero)).ok().filter(|v| *v < 10)?;
    Some(b'0' + value)
}

/// Points and vowel signs of Hebrew and Arabic, without what stands between words.
fn is_point(c: char) -> bool {
    matches!(
        c,
        '\u{591}'
            ..='\u{5bd}' | '\u{5bf}' | '\u{5c1}' | '\u{5c2}' | '\u{5c4}' | '\u{5c5}' | '\u{5c7}'
    ) || matches!(c, '\u{64b}'..='\u{65f}' | '\u{670}')
}

/// Whether a folded character is a mark that belongs to no letter.
pub(crate) fn is_left_mark(folded: char) -> bool {
    is_strange_mark(folded) || is_point(folded)
}

/// A text without case and marks. Points over letters of another script stay.
pub(crate) fn letters(text: &str) -> Vec<char> {
    let mut base = ' ';
    let fold = |c| {
        if is_point(c) {
            let own = match c {
                ..'\u{600}' => '\u{590}'..'\u{600}',
                _ => '\u{600}'..'\u{780}',
            };
            return if own.contains(&base) { SKIP } else { c };
        }
        let folded = letter(c);
        base = if folded == SKIP { base } else { c };
        folded
    };
    text.chars().map(fold).collect()
}

/// A character without case and mark.
pub(crate) fn letter(c: char) -> char {
    if c.is_ascii() {
        return c.to_ascii_uppercase();
    }
    if let Some(digit) = digit(c) {
        return char::from(digit);
    }
    match c {
        _ if is_strange_mark(c) => c,
        '\u{300}'..='\u{36f}'
        | '\u{64b}'..='\u{65f}'
        | '\u{640}'
        | '\u{670}'
        | '\u{591}'..='\u{5c7}'
        | '\u{5f3}'
        | '\u{5f4}' => SKIP,
        // Full width forms lie 0xfee0 above ASCII.
        '\u{ff01}'..='\u{ff5e}' => {
            char::from_u32(u32::from(c) - 0xfee0).map_or(c, |ascii| ascii.to_ascii_uppercase())
        }
        '\u{2010}'..='\u{2015}' | '\u{2212}' | '\u{fe58}' | '\u{fe63}' => '-',
        '\u{a0}' | '\u{2000}'..='\u{200a}' | '\u{202f}' | '\u{205f}' | '\u{3000}' => ' ',
        '\u{3001}' | '\u{b7}' | '\u{30fb}' => ' ',
        '\u{3002}' | '\u{2024}' => '.',
        '\u{2018}' | '\u{2019}' | '\u{2032}' | '\u{2bc}' => '\'',
        '\u{622}' | '\u{623}' | '\u{625}' | '\u{671}' => '\u{627}',
        '\u{649}' | '\u{6cc}' => '\u{64a}',
        '\u{629}' => '\u{647}',
        '\u{6a9}' => '\u{643}',
        '無' => '无',
        '滅' => '灭',
        '產' | '産' => '产',
        '製' => '制',
        '號' => '号',
        '効' => '效',
        '環' => '环',
        _ => marked(c),
    }
}

/// Letters with marks, and small letters, of Latin, Greek and Cyrillic.
fn marked(c: char) -> char {
    match c {
        'À'..='Æ' | 'à'..='æ' | 'Ā'..='ą' | 'Ǎ' | 'ǎ' | 'Ạ'..='ặ' => 'A',
        'Ç' | 'ç' | 'Ć'..='č' => 'C',
        'Ð' | 'ð' | 'Ď'..='đ' => 'D',
        'È'..='Ë' | 'è'..='ë' | 'Ē'..='ě' | 'Ẹ'..='ệ' => 'E',
        'Ĝ'..='ģ' => 'G',
        'Ĥ'..='ħ' => 'H',
        'Ì'..='Ï' | 'ì'..='ï' | 'Ĩ'..='ı' | 'Ǐ' | 'ǐ' | 'Ỉ'..='ị' => 'I',
        'Ĵ' | 'ĵ' => 'J',
        'Ķ'..='ĸ' => 'K',
        'Ĺ'..='ľ' | 'Ł' | 'ł' => 'L',
        'Ñ' | 'ñ' | 'Ń'..='ŋ' => 'N',
        'Ò'..='Ö' | 'Ø' | 'ò'..='ö' | 'ø' | 'Ō'..='œ' | 'Ơ' | 'ơ' | 'Ǒ' | 'ǒ' | 'Ọ'..='ợ' => {
            'O'
        }
        'Ŕ'..='ř' => 'R',
        'ß' | 'Ś'..='š' | 'ſ' | 'Ș' | 'ș' => 'S',
        'Þ' | 'þ' | 'Ţ'..='ŧ' | 'Ț' | 'ț' => 'T',
        'Ù'..='Ü' | 'ù'..='ü' | 'Ũ'..='ų' | 'Ư' | 'ư' | 'Ǔ'..='ǜ' | 'Ụ'..='ự' => 'U',
        'Ŵ' | 'ŵ' => 'W',
        'Ý' | 'ý' | 'ÿ' | 'Ŷ'..='Ÿ' | 'Ỳ'..='ỹ' => 'Y',
        'Ź'..='ž' => 'Z',
        'Ά' | 'ά' => 'Α',
        'Έ' | 'έ' => 'Ε',
        'Ή' | 'ή' => 'Η',
        'Ί' | 'ΐ' | 'Ϊ' | 'ί' | 'ϊ' => 'Ι',
        'Ό' | 'ό' => 'Ο',
        'Ύ' | 'Ϋ' | 'ΰ' | 'ϋ' | 'ύ' => 'Υ',
        'Ώ' | 'ώ' => 'Ω',
        'Ї' | 'ї' => 'І',
        'Ѓ' | 'ѓ' => 'Г',
        'Ѐ' | 'Ё' | 'ѐ' | 'ё' => 'Е',
        'Ѝ' | 'Й' | 'й' | 'ѝ' => 'И',
        'Ќ' | 'ќ' => 'К',
        'Ў' | 'ў' => 'У',
        'ĳ' | 'ŀ' | 'α'..='ω' | 'а'..='я' | 'ђ'..='џ' | 'ґ' => {
            c.to_uppercase().next().unwrap_or(c)
        }
        other => other,
    }
}

/// Letters and digits that OCR takes for each other, put into one.
#[inline]
pub(crate) fn skeleton(folded: char) -> char {
    match folded {
        '0' | 'Q' => 'O',
        '1' | 'L' => 'I',
        '5' => 'S',
        '8' => 'B',
        ..='\u{7f}' => folded,
        'О' | 'Ο' => 'O',
        'І' | 'Ι' => 'I',
        'Ѕ' => 'S',
        'В' | 'Β' => 'B',
        'А' | 'Α' => 'A',
        'Е' | 'Ε' => 'E',
        'К' | 'Κ' => 'K',
        'М' | 'Μ' => 'M',
        'Н' | 'Η' => 'H',
        'Р' | 'Ρ' => 'P',
        'С' => 'C',
        'Т' | 'Τ' => 'T',
        'Х' | 'Χ' => 'X',
        'У' | 'Υ' => 'Y',
        'Ј' => 'J',
        'Ζ' => 'Z',
        'Ν' => 'N',
        other => other,
    }
}

/// What a folded character is to the words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Class {
    /// A digit.
    Digit,
    /// A letter of a script that puts blanks between words.
    Letter,
    /// A sign of a script that does not.
    Sign,
    /// Blank, line break and punctuation.
    Other,
}

/// What a folded character is.
#[inline]
pub(crate) fn class(c: char) -> Class {
    match c {
        '0'..='9' => Class::Digit,
        'A'..='Z' => Class::Letter,
        '\0'..='\u{7f}' => Class::Other,
        '\u{e00}'..='\u{e7f}'
        | '\u{3005}'..='\u{3007}'
        | '\u{3040}'..='\u{30ff}'
        | '\u{3400}'..='\u{9fff}'
        | '\u{ac00}'..='\u{d7a3}' => Class::Sign,
        _ if c.is_alphabetic() => Class::Letter,
        _ => Class::Other,
    }
}

/// Whether a character may stand between the parts of a phrase without
/// changing its meaning.
#[inline]
pub(crate) fn joins(c: char) -> bool {
    matches!(c, ' ' | '\n' | '\r' | '\t' | '.' | '-' | '_' | '/' | ':' | '\'' | SKIP)
}
