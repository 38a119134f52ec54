//! Code lists of other standards that the elements of a symbol point into.

use serde::Deserialize;

use crate::rules::Origin;

/// Code lists of other standards that GS1 elements point into.
#[derive(Debug, Clone)]
pub(crate) struct CodeLists {
    countries: [u64; 16],
    currencies: [u64; 16],
    alpha2: [u32; 26],
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct CodeListFile {
    #[serde(rename = "source")]
    _source: Origin,
    countries_alpha2: String,
    countries_numeric: String,
    currencies_numeric: String,
}

impl CodeLists {
    fn country_index(code: &[u8]) -> Option<usize> {
        match code {
            [a, b, c] if code.iter().all(u8::is_ascii_digit) => Some(
                usize::from(a - b'0') * 100 + usize::from(b - b'0') * 10 + usize::from(c - b'0'),
            ),
            _ => None,
        }
    }

    fn holds(set: &[u64; 16], code: &[u8]) -> bool {
        Self::country_index(code).is_some_and(|n| set[n / 64] >> (n % 64) & 1 == 1)
    }

    /// ISO 3166-1, three digits.
    pub(crate) fn country(&self, code: &[u8]) -> bool {
        Self::holds(&self.countries, code)
    }

    /// ISO 4217, three digits.
    pub(crate) fn currency(&self, code: &[u8]) -> bool {
        Self::holds(&self.currencies, code)
    }

    /// ISO 3166-1, two letters.
    pub(crate) fn country_alpha2(&self, code: &[u8]) -> bool {
        match code {
            [a @ b'A'..=b'Z', b @ b'A'..=b'Z'] => {
                self.alpha2[usize::from(a - b'A')] >> (b - b'A') & 1 == 1
            }
            _ => false,
        }
    }

    pub(crate) fn new(parsed: &CodeListFile) -> Self {
        let mut lists = Self { countries: [0; 16], currencies: [0; 16], alpha2: [0; 26] };
        for (text, set) in [
            (&parsed.countries_numeric, &mut lists.countries),
            (&parsed.currencies_numeric, &mut lists.currencies),
        ] {
            for n in text.split_whitespace().filter_map(|c| Self::country_index(c.as_bytes())) {
                set[n / 64] |= 1 << (n % 64);
            }
        }
        for code in parsed.countries_alpha2.split_whitespace() {
            if let [a @ b'A'..=b'Z', b @ b'A'..=b'Z'] = code.as_bytes() {
                lists.alpha2[usize::from(a - b'A')] |= 1 << (b - b'A');
            }
        }
        lists
    }
}
