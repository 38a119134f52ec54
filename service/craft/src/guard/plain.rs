//! Words that are plain wherever they stand: `rules/guard-words.toml`.

use std::collections::HashSet;
use std::sync::LazyLock;

use serde::Deserialize;

use super::lists::lists;
use super::{is_question, sends, sentences};
use crate::rules::{self, RuleFault, rule_file};

static PLAIN: LazyLock<Result<Plain, RuleFault>> =
    LazyLock::new(|| rules::plain(rule_file!("guard-words.toml")));

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Plain {
    endings: Vec<String>,
    english: HashSet<String>,
    german: HashSet<String>,
}

impl Plain {
    fn has(&self, word: &str) -> bool {
        self.english.contains(word) || self.german.contains(word)
    }

    fn knows(&self, word: &str) -> bool {
        let stem =
            |ending: &String| word.strip_suffix(&**ending).is_some_and(|stem| self.has(stem));
        self.has(word) || word.bytes().all(|b| b.is_ascii_digit()) || self.endings.iter().any(stem)
    }
}

/// The first word of a text that is not among the plain ones, in small letters. Somebody who is
/// asked may be asked about anything that [`objection`](super::objection) lets pass, and what sends
/// somebody to a doctor in words that do nothing else needs nobody's word.
///
/// ```
/// use etui_craft::guard::strange_word;
/// assert_eq!(strange_word("Sleep on your back for the first nights."), None);
/// assert_eq!(strange_word("Skip meals and drink espresso.").as_deref(), Some("skip"));
/// assert_eq!(strange_word("Do you play the alphorn?"), None);
/// assert_eq!(strange_word("Bei Schüttelfrost sofort zum Arzt."), None);
/// ```
#[must_use]
pub fn strange_word(text: &str) -> Option<String> {
    let lower = text.to_lowercase().replace(['\u{2018}', '\u{2019}'], "'");
    if lists().is_ok_and(|lists| sends(lists, &lower)) {
        return None;
    }
    // Without the words none is known.
    let known = |word: &str| PLAIN.as_ref().is_ok_and(|plain| plain.knows(word));
    let stated = sentences(&lower).filter(|sentence| !is_question(sentence));
    stated
        .flat_map(|sentence| sentence.split(|c: char| !c.is_alphanumeric() && c != '\''))
        .map(|word| word.trim_matches('\''))
        .find(|word| !word.is_empty() && !known(word))
        .map(str::to_owned)
}
