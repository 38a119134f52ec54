//! Words that are plain wherever they stand: `plain` in `rules/languages`.

use etui_schema::vocabulary::Language;

use super::lists::lists;
use super::{Speaks, is_question, sends, sentences};
use crate::text::{Plain, tongue};

impl Plain {
    fn knows(&self, word: &str) -> bool {
        let is_stem = |stem: &str| self.words.contains(stem);
        let ends = |ending: &String| word.strip_suffix(&**ending).is_some_and(is_stem);
        let is_number = word.bytes().all(|b| b.is_ascii_digit());
        is_number || is_stem(word) || self.endings.iter().any(ends)
    }

    /// How many words there are before the first that is not known; that word.
    fn strange<'a>(&self, said: &[&'a str]) -> Option<(usize, &'a str)> {
        said.iter().copied().enumerate().find(|(_, word)| !self.knows(word))
    }
}

/// The first word of a text that is not among the plain ones of its language, in small letters.
/// Before a visit somebody may be asked about anything that [`objection`](super::objection) lets
/// pass, and what sends somebody to a doctor in words that do nothing else needs nobody's word.
///
/// ```
/// use etui_craft::guard::{Speaks, strange_word};
/// let (asking, after) = (Speaks::Asking, Speaks::AfterVisit);
/// assert_eq!(strange_word("Sleep on your back for the first nights.", after), None);
/// assert_eq!(strange_word("Skip meals and take espresso.", after).as_deref(), Some("skip"));
/// assert_eq!(strange_word("Do you play the alphorn?", asking), None);
/// assert_eq!(strange_word("Do you play the alphorn?", after).as_deref(), Some("alphorn"));
/// assert_eq!(strange_word("Bei Schüttelfrost sofort zum Arzt.", after), None);
/// ```
#[must_use]
pub fn strange_word(text: &str, speaks: Speaks) -> Option<String> {
    let lower = text.to_lowercase().replace(['\u{2018}', '\u{2019}'], "'");
    if lists().is_ok_and(|lists| sends(lists, &lower)) {
        return None;
    }
    // Without the lists nothing is asked.
    let asks = |one: &str| lists().is_ok_and(|lists| is_question(lists, one));
    let is_asked = |one: &&str| speaks == Speaks::Asking && asks(one);
    let lower = without_places(&lower);
    let said: Vec<&str> = sentences(&lower)
        .filter(|one| !is_asked(one))
        .flat_map(|one| one.split(|c: char| !c.is_alphanumeric() && c != '\''))
        .map(|word| word.trim_matches('\''))
        .filter(|word| !word.is_empty())
        .collect();
    // A sentence is of the language that knows more of it; without its words none is known.
    let none = Plain::default();
    let mut most: Option<(usize, &str)> = None;
    for language in Language::ALL {
        let plain = tongue(*language).map_or(&none, |tongue| &tongue.plain);
        most = most.max(Some(plain.strange(&said)?));
    }
    most.map(|(_, word)| word.to_owned())
}

/// A text without its places (`{due}`), which are filled with days and numbers.
fn without_places(text: &str) -> String {
    let mut parts = text.split('{');
    let mut left = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let is_name = |name: &str| name.bytes().all(|b| b.is_ascii_lowercase() || b == b'_');
        left.push(' ');
        left.push_str(match part.split_once('}') {
            Some((name, rest)) if is_name(name) => rest,
            _ => part,
        });
    }
    left
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::guard::lists::find;

    #[test]
    fn a_place_is_no_word_and_what_is_none_is_read() {
        for (text, strange) in [
            ("We call you by {due}.", None),
            ("We call you by {due, skip meals}.", Some("due")),
            ("We call you {by skip.", Some("skip")),
        ] {
            assert_eq!(strange_word(text, Speaks::AfterVisit).as_deref(), strange, "{text}");
        }
    }

    /// No plain word, and nothing that its endings make of it, is for a sign, a medicine, somebody
    /// who helps, a promise, or somebody at risk.
    #[test]
    fn no_plain_word_is_of_what_a_pack_leaves_alone() {
        let lists = lists().unwrap();
        let kept: [(&str, &[String]); 5] = [
            ("a sign", &lists.red_flag),
            ("a medicine", &lists.medicine),
            ("help", &lists.help),
            ("a promise", &lists.promise),
            ("a risk", &lists.risk.words),
        ];
        // Spoken of with care alone, which another list sees to.
        let spoken_of = ["pregnan", "schwanger"];
        // Made by endings of *hat*, *Monat* and *März*, and no words.
        let unsaid = ["hatem", "monatem", "märzt", "märzte", "märzten"];
        let mut found = Vec::new();
        for of in Language::ALL.iter().map(|language| &tongue(*language).unwrap().plain) {
            let ends = of.endings.iter().map(String::as_str).chain([""]);
            let made = ends.flat_map(|end| of.words.iter().map(move |word| format!("{word}{end}")));
            let is_left = |word: &String| {
                unsaid.contains(&&**word) || spoken_of.iter().any(|one| word.starts_with(one))
            };
            for word in made.filter(|word| !is_left(word)) {
                let of = kept.iter().filter(|(_, list)| find(&word, list).is_some());
                found.extend(of.map(|(what, _)| format!("{word} is of {what}")));
            }
        }
        assert_eq!(found, [""; 0]);
    }
}
