//! Doses that are told in words.

use super::lists::{Lists, find};

/// A measure behind a number in words, or something taken by the clock.
pub(super) fn dose_in_words(lists: &Lists, text: &str) -> Option<String> {
    let words: Vec<&str> =
        text.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).collect();
    let number = |word: &str| {
        lists.numbers.iter().any(|n| n == word) || word.starts_with(|c: char| c.is_ascii_digit())
    };
    let measured =
        words.windows(2).find(|two| number(two[0]) && lists.measures.iter().any(|m| m == two[1]));
    if let Some(two) = measured {
        return Some(two.join(" "));
    }
    let taking = find(text, &lists.taking)?;
    let clock = words.windows(3).any(|three| {
        lists.every.iter().any(|every| every == three[0]) && {
            let unit = if number(three[1]) { three[2] } else { three[1] };
            lists.hours.iter().any(|hour| unit.starts_with(&**hour))
        }
    });
    (clock || find(text, &lists.rhythm).is_some()).then_some(taking)
}
