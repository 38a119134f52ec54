//! How a text has to be written: patterns that garde holds a body against, each beside the same as a
//! regular expression for its JSON Schema.
//!
//! They are few and short: an engine for regular expressions would be compiled once more for them, for
//! garde's derive.

use std::fmt;

use garde::rules::AsStr;
use garde::rules::pattern::Matcher;

/// A letter or digit of any script: blanks and signs alone name nothing.
pub const NAMED: Written = Written {
    pattern: "[0-9A-Za-z\\u00c0-\\u1fff\\u3040-\\ud7ff]",
    is_met: |text| text.chars().any(is_letter_or_digit),
};

/// A country by its two capitals (ISO 3166-1).
pub const COUNTRY: Written = Written {
    pattern: "^[A-Z]{2}$",
    is_met: |text| text.len() == 2 && text.bytes().all(|byte| byte.is_ascii_uppercase()),
};

/// A period of whole years, months, weeks and days, in that order (ISO 8601).
pub const PERIOD: Written = Written {
    pattern: "^P([0-9]{1,2}Y)?([0-9]{1,3}M)?([0-9]{1,4}W)?([0-9]{1,5}D)?$",
    is_met: is_period,
};

/// How a text has to be written.
#[derive(Clone, Copy)]
pub struct Written {
    /// As a regular expression of ECMA-262, as JSON Schema writes them.
    pattern: &'static str,
    is_met: fn(&str) -> bool,
}

impl Written {
    /// The regular expression.
    #[must_use]
    pub const fn pattern(&self) -> &'static str {
        self.pattern
    }
}

impl fmt::Debug for Written {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(self.pattern)
    }
}

impl fmt::Display for Written {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(self.pattern)
    }
}

impl AsStr for Written {
    fn as_str(&self) -> &str {
        self.pattern
    }
}

impl Matcher for Written {
    fn is_match(&self, text: &str) -> bool {
        (self.is_met)(text)
    }
}

const fn is_letter_or_digit(sign: char) -> bool {
    sign.is_ascii_alphanumeric() || matches!(sign, '\u{c0}'..='\u{1fff}' | '\u{3040}'..='\u{d7ff}')
}

fn is_period(text: &str) -> bool {
    let Some(mut rest) = text.strip_prefix('P') else { return false };
    for (unit, most) in [('Y', 2), ('M', 3), ('W', 4), ('D', 5)] {
        let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
        let (number, behind) = rest.split_at(digits);
        if let Some(behind) = behind.strip_prefix(unit)
            && (1..=most).contains(&number.len())
        {
            rest = behind;
        }
    }
    rest.is_empty()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use regex::Regex;

    use super::*;

    /// Of texts of its own signs, of the pattern's making and of any, each says what the regular
    /// expression says (the `regex` crate).
    #[test]
    fn each_holds_what_its_expression_holds() {
        for written in [NAMED, COUNTRY, PERIOD] {
            let expression = Regex::new(written.pattern).unwrap();
            let near =
                "[ PYMWD0-9AZa\u{c0}\u{1fff}\u{2000}\u{303f}\u{3040}\u{d7ff}\u{e000}\n]{0,9}";
            let made = "P?([0-9]{0,3}Y)?([0-9]{0,4}M)?([0-9]{0,5}W)?([0-9]{0,6}D)?P?";
            let texts = prop_oneof![near, made, "[A-Z]{1,3}", ".{0,4}"];
            proptest!(|(text in texts)| {
                prop_assert_eq!(written.is_match(&text), expression.is_match(&text), "{:?}", text);
            });
        }
    }
}
