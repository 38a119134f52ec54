//! What every sentence of every catalogue keeps to, in every language.

use serde::Deserialize;

use super::*;
use crate::screening::wording::objection;
use crate::text::tongue::{Ease, tongue};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Turns {
    longest: usize,
    easy: f64,
    hardest: f64,
    hard: BTreeSet<String>,
    long: BTreeSet<String>,
    guarded: BTreeSet<String>,
    turn: Vec<Turn>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Turn {
    about: String,
    language: Language,
    #[serde(default)]
    areas: Vec<String>,
    form: Option<String>,
    /// Only in a sentence that has one of these parts.
    #[serde(default)]
    beside: Vec<String>,
    #[serde(default)]
    words: Vec<String>,
    #[serde(default)]
    parts: Vec<String>,
}

impl Turn {
    fn is_in(&self, text: &str) -> bool {
        let is_beside = |said: &str| self.beside.iter().any(|part| said.contains(&**part));
        match self.beside.is_empty() {
            true => self.is_said(text),
            false => sentences(text).any(|said| is_beside(said) && self.is_said(said)),
        }
    }

    fn is_said(&self, text: &str) -> bool {
        let mut words = text.split(|c: char| !c.is_alphanumeric());
        self.parts.iter().any(|part| text.contains(&**part))
            || words.any(|word| self.words.iter().any(|turn| turn == word))
    }
}

fn turns() -> Turns {
    toml::from_str(include_str!("turns.toml")).unwrap()
}

/// Every text with its language and `area:key`, those with du too.
fn all() -> Vec<(Language, String, String)> {
    let texts = written().into_iter().filter_map(|((area, language), texts)| {
        let (language, area) = match language.split_once('-') {
            Some((language, form)) => (language.to_owned(), format!("{area}-{form}")),
            None => (language, area),
        };
        let language: Language = language.parse().ok()?;
        Some(texts.into_iter().map(move |(key, text)| (language, format!("{area}:{key}"), text)))
    });
    texts.flatten().collect()
}

/// A text without what stands between braces.
fn plain(text: &str) -> String {
    let mut parts = text.split('{');
    let first = parts.next().unwrap_or_default().to_owned();
    parts.fold(first, |text, part| text + part.split_once('}').map_or(part, |(_, rest)| rest))
}

/// The sentences of a text.
fn sentences(text: &str) -> impl Iterator<Item = &str> {
    text.split_inclusive(['.', '!', '?']).map(str::trim).filter(|sentence| !sentence.is_empty())
}

#[test]
fn sentences_are_short() {
    let Turns { longest, long, .. } = turns();
    let mut over = BTreeSet::new();
    let mut counted: BTreeMap<(Language, String), usize> = BTreeMap::new();
    for (language, key, text) in all() {
        let area = key.split(':').next().unwrap().to_owned();
        *counted.entry((language, area)).or_default() += sentences(&text).count();
        if sentences(&text).any(|sentence| longest < sentence.chars().count()) {
            over.insert(key.replace("-du:", ":"));
        }
    }
    println!("{counted:#?}");
    assert_eq!(over, long, "sentences over {longest} characters");
}

/// Words, sentences and syllables of texts.
#[derive(Default, Clone, Copy)]
pub(crate) struct Counted {
    words: f64,
    sentences: f64,
    syllables: f64,
}

impl Counted {
    pub(crate) fn of(language: Language, text: &str) -> Self {
        let text = plain(text);
        let said = |part: &&str| part.chars().any(char::is_alphanumeric);
        let parts = text.split(['.', '!', '?', ':', ';']).filter(said).map(|_| 1.0);
        let sentences: f64 = parts.sum();
        let words = text.split(|c: char| !c.is_alphabetic()).filter(|word| !word.is_empty());
        words.fold(Self { sentences: sentences.max(1.0), ..Self::default() }, |sum, word| Self {
            words: sum.words + 1.0,
            syllables: sum.syllables + syllables(language, word),
            ..sum
        })
    }

    pub(crate) fn and(self, other: Self) -> Self {
        Self {
            words: self.words + other.words,
            sentences: self.sentences + other.sentences,
            syllables: self.syllables + other.syllables,
        }
    }

    /// As the language's file counts it.
    pub(crate) fn ease(self, language: Language) -> f64 {
        let (length, weight) = (self.words / self.sentences, self.syllables / self.words);
        let Ease { whole, length: longer, weight: heavier, .. } = &tongue(language).unwrap().ease;
        whole - longer * length - heavier * weight
    }
}

/// Groups of vowels; a silent one at the end of a word is none.
fn syllables(language: Language, word: &str) -> f64 {
    let ease = &tongue(language).unwrap().ease;
    let word = word.to_lowercase();
    let spoken = ease.silent.and_then(|silent| word.strip_suffix(silent));
    let word = spoken.filter(|rest| !rest.is_empty()).unwrap_or(&word);
    let groups = word.split(|c| !ease.vowels.contains(c)).filter(|group| !group.is_empty());
    groups.map(|_| 1.0).sum::<f64>().max(1.0)
}

#[test]
fn sentences_are_easy_to_read() {
    let Turns { easy, hardest, hard, .. } = turns();
    let mut of: BTreeMap<(Language, String), Counted> = BTreeMap::new();
    let mut found = BTreeSet::new();
    for (language, key, text) in all() {
        let counted = Counted::of(language, &text);
        if 8.0 <= counted.words && counted.ease(language) < hardest {
            found.insert(key.replace("-du:", ":"));
        }
        let area = key.split(':').next().unwrap().to_owned();
        let sum = of.entry((language, area)).or_default();
        *sum = sum.and(counted);
    }
    for ((language, area), counted) in &of {
        let ease = counted.ease(*language);
        println!(
            "{language} {area}: {ease:.0}, {:.1} words a sentence",
            counted.words / counted.sentences
        );
        // A few words alone are no text.
        assert!(easy <= ease || counted.words < 100.0, "{language} {area}: {ease:.0}");
    }
    assert_eq!(found, hard, "harder to read than {hardest}");
}

/// The two examples that the formulas are explained with: the easier is easier.
#[test]
fn ease_is_counted_as_the_formulas_say() {
    for (language, text, want) in [
        (Language::En, "The cat sat on the mat.", 116.145),
        (Language::De, "Die Katze saß auf der Matte.", 180.0 - 6.0 - 58.5 * 8.0 / 6.0),
    ] {
        let ease = Counted::of(language, text).ease(language);
        assert!((ease - want).abs() < 1e-9, "{text}: {ease}");
    }
}

#[test]
fn no_sentence_says_what_none_may() {
    let Turns { turn: turns, guarded, .. } = turns();
    let mut found = Vec::new();
    for (language, key, text) in all() {
        let area = key.split(':').next().unwrap();
        let (area, form) = area.split_once('-').unwrap_or((area, "sie"));
        let lower = plain(&text).to_lowercase();
        for turn in turns.iter().filter(|turn| turn.language == language) {
            let here = (turn.areas.is_empty() || turn.areas.iter().any(|one| one == area))
                && turn.form.as_ref().is_none_or(|of| of == form);
            if here && turn.is_in(&lower) {
                found.push(format!("{language} {key}, {}: {text}", turn.about));
            }
        }
        if let Some(objection) = objection(language, &text)
            && !guarded.contains(&key.replace("-du:", ":"))
        {
            found.push(format!("{language} {key}, {objection:?}: {text}"));
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

/// A place that is filled with the name of a rule, a pack or a revision says it as surely as
/// the sentence itself would; what a label says is quoted.
#[test]
fn no_place_is_filled_with_a_name_that_nobody_says() {
    for (language, key, text) in all() {
        let places = text.split('{').skip(1).filter_map(|part| part.split_once('}'));
        for (place, _) in places {
            let is_name = ["rule", "pack", "id", "key", "code", "revision"].contains(&place);
            assert!(!is_name, "{language} {key}: {text}");
        }
        let quoted = text.contains("`{") && !key.starts_with("label:");
        assert!(!quoted, "{language} {key}: {text}");
    }
}

/// What may not be said is found where it is said.
#[test]
fn every_turn_is_found() {
    for turn in turns().turn {
        for said in turn.words.iter().chain(&turn.parts) {
            let beside = turn.beside.first().map_or("", String::as_str);
            let text = format!("so {said} und {beside}").to_lowercase();
            assert!(turn.is_in(&text), "{}: {said}", turn.about);
            let apart = format!("so {said} und. {beside}").to_lowercase();
            assert_eq!(turn.is_in(&apart), turn.beside.is_empty(), "{}: {said}", turn.about);
        }
        assert!(!turn.is_in("nichts davon"), "{}", turn.about);
    }
}

#[test]
fn no_language_is_left_english() {
    let by: BTreeMap<(Language, String), String> =
        all().into_iter().map(|(language, key, text)| ((language, key), text)).collect();
    let others = by.iter().filter(|((language, _), _)| *language != Language::En);
    for ((language, key), text) in others {
        let english = &by[&(Language::En, key.replace("-du:", ":"))];
        let words =
            plain(text).split_whitespace().filter(|w| w.chars().any(char::is_alphabetic)).count();
        assert!(words < 3 || english != text, "{language} {key}: {text}");
    }
}

/// A line on the list begins with its subject and a colon: a second one in its first
/// sentence reads as a stutter, and a third stands on paper, behind the day.
#[test]
fn a_line_that_begins_with_its_subject_has_no_second_colon() {
    let all = all();
    let has_topic =
        |rule: &str| all.iter().any(|(_, key, _)| *key == format!("screening:rule.{rule}.topic"));
    let mut lines = 0;
    for (language, key, text) in &all {
        let rule = key.split_once(":rule.").and_then(|(_, rest)| rest.split_once('.'));
        let Some((rule, "say" | "client" | "studio" | "by" | "late" | "dated")) = rule else {
            continue;
        };
        if has_topic(rule) {
            lines += 1;
            let first = sentences(text).next().unwrap_or_default();
            assert!(!first.contains(':'), "{language} {key}: {text}");
        }
    }
    assert!(150 < lines, "{lines} lines");
}

/// Clients are women and men: where German names one, it names the other.
#[test]
fn german_names_no_client_by_one_gender() {
    for ((area, language), texts) in written().into_iter().filter(|((_, l), _)| l.starts_with("de"))
    {
        for (key, text) in &texts {
            for (at, word) in text.match_indices("Kundin") {
                let after = &text[at + word.len()..];
                assert!(after.starts_with(" oder de"), "{area}.{language}:{key}: {text}");
            }
        }
    }
}
