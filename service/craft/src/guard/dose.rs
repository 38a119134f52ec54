//! Doses that are told in words.

use super::find;

const TAKING: &[&str] = &[
    "take", "taking", "swallow", "inject", "drink", "chew", "nehm", "nimm", "einnehm", "schluck",
    "trink", "spritz", "kau",
];

const RHYTHM: &[&str] = &[
    "hourly",
    "stündlich",
    "times a day",
    "mal täglich",
    "mal am tag",
    "twice a day",
    "once a day",
];

const NUMBERS: &[&str] = &[
    "half", "one", "two", "three", "four", "five", "six", "eight", "ten", "twelve", "ein", "eine",
    "einen", "zwei", "drei", "vier", "fünf", "sechs", "acht", "zehn", "zwölf", "halbe",
];

const MEASURES: &[&str] = &[
    "gram",
    "grams",
    "milligram",
    "milligrams",
    "millilitre",
    "millilitres",
    "milliliter",
    "gramm",
    "milligramm",
    "mg",
    "g",
    "ml",
    "drops",
    "tropfen",
    "spoonful",
    "löffel",
    "teelöffel",
];

/// A measure behind a number in words, or something taken by the clock.
pub(super) fn dose_in_words(text: &str) -> Option<String> {
    let words: Vec<&str> =
        text.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).collect();
    let number =
        |word: &str| NUMBERS.contains(&word) || word.starts_with(|c: char| c.is_ascii_digit());
    let measured = words.windows(2).find(|two| number(two[0]) && MEASURES.contains(&two[1]));
    if let Some(two) = measured {
        return Some(two.join(" "));
    }
    let taking = find(text, TAKING)?;
    let clock = words.windows(3).any(|three| {
        matches!(three[0], "every" | "each" | "alle" | "jede") && {
            let unit = if number(three[1]) { three[2] } else { three[1] };
            ["hour", "stunde"].iter().any(|hour| unit.starts_with(hour))
        }
    });
    (clock || find(text, RHYTHM).is_some()).then_some(taking)
}
