//! Catalogues: how they are read, what every sentence keeps to, and what a
//! further language lacks.

mod forms;
pub(crate) mod literals;
pub(crate) mod sentences;

use std::path::Path;

use super::*;

fn read(en: &'static str, de: &'static str) -> Result<Catalogue, RuleFault> {
    let of = |language: &Language| if *language == Language::De { ("de", de) } else { ("en", en) };
    let files = Language::ALL.iter().map(of).map(|(name, text)| RuleFile { name, text });
    Catalogue::read(&files.collect::<Vec<_>>())
}

/// The texts of every language, by area and language.
fn files() -> BTreeMap<(String, String), Texts> {
    written().into_iter().filter(|((_, language), _)| !language.contains('-')).collect()
}

/// The texts of every file of `rules/texts`, by area and language; `de-du` is
/// German with du.
fn written() -> BTreeMap<(String, String), Texts> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("rules/texts");
    let one = |entry: std::io::Result<std::fs::DirEntry>| {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap();
        let (area, language) = name.strip_suffix(".toml").unwrap().split_once('.').unwrap();
        let texts = toml::from_str(&std::fs::read_to_string(&path).unwrap()).unwrap();
        ((area.to_owned(), language.to_owned()), texts)
    };
    std::fs::read_dir(folder).unwrap().map(one).collect()
}

#[test]
fn a_language_must_say_everything_and_nothing_more() {
    let en = "a = \"Wait {days} days.\"";
    assert!(read(en, "a = \"Bitte {days} Tage warten.\"").is_ok());
    for (de, why) in [
        ("", "missing"),
        ("a = \"Warten.\"", "other places"),
        ("a = \"{days}\"\nb = \"x\"", "unknown"),
    ] {
        let fault = read(en, de).unwrap_err().to_string();
        assert!(fault.contains(why), "{fault}");
    }
    let only = Catalogue::read(&[RuleFile { name: "en", text: en }]).unwrap_err().to_string();
    assert!(only.contains("no file for `de`"), "{only}");
}

/// Every language that lies in the folder says everything: of one that is not
/// complete, all that it lacks is told at once.
#[test]
fn a_language_is_added_by_its_files() {
    let files = files();
    let areas = || files.keys().filter(|(_, language)| language == "en").map(|(area, _)| area);
    let languages: BTreeSet<&String> = files.keys().map(|(_, language)| language).collect();
    for known in Language::ALL {
        assert!(languages.contains(&known.to_string()), "no files for `{known}`");
    }
    let mut lacking = Vec::new();
    for language in languages {
        let tongue = format!("languages/{language}.toml");
        if !Path::new(env!("CARGO_MANIFEST_DIR")).join("rules").join(&tongue).exists() {
            lacking.push(RuleFault::new(&tongue, "", "is missing"));
        }
        if !Language::ALL.iter().any(|known| known.as_str() == language) {
            let why = format!("`{language}` has no line in the table of `Language`");
            lacking.push(RuleFault::new("texts", "", why));
        }
        for area in areas() {
            let name = format!("texts/{area}.{language}.toml");
            let english = &files[&(area.clone(), "en".to_owned())];
            match files.get(&(area.clone(), language.clone())) {
                Some(texts) => lacking.extend(lacks(english, texts, &name)),
                None => lacking.push(RuleFault::new(&name, "", "is missing")),
            }
        }
    }
    for known in Language::ALL {
        lacking.extend(tongue(*known).err());
    }
    let lacking: Vec<String> = lacking.iter().map(ToString::to_string).collect();
    assert!(lacking.is_empty(), "{}", lacking.join("\n"));
}

#[test]
fn all_that_a_third_language_lacks_is_told_at_once() {
    for ((area, language), english) in files().into_iter().filter(|((_, l), _)| l == "en") {
        let third: Texts = english
            .iter()
            .enumerate()
            .filter(|(at, _)| at % 3 != 0)
            .map(|(_, (key, text))| (key.clone(), text.clone()))
            .collect();
        let missing: Vec<String> =
            english.keys().filter(|key| !third.contains_key(*key)).cloned().collect();
        let told: Vec<String> = lacks(&english, &third, "third")
            .into_iter()
            .map(|fault| fault.pointer.trim_start_matches('/').to_owned())
            .collect();
        assert_eq!(told, missing, "{area} {language}");
        assert!(!missing.is_empty(), "{area}");
    }
}

#[test]
fn places_are_filled() {
    let texts = read("a = \"Wait {days} days.\"", "a = \"{days} Tage warten.\"").unwrap();
    assert_eq!(texts.fill(Language::De, "a", &[("days", "14")]), "14 Tage warten.");
    assert_eq!(texts.voice(Language::En).fill("a", &[("days", "2")]), "Wait 2 days.");
    assert_eq!(texts.get(Language::En, "nothing"), "nothing");
    let (en, de) =
        ("a = \"{n} days\"\n\"a.one\" = \"{n} day\"", "a = \"{n} Tage\"\n\"a.one\" = \"{n} Tag\"");
    let texts = read(en, de).unwrap();
    for (n, want) in [("0", "0 Tage"), ("1", "1 Tag"), ("11", "11 Tage")] {
        assert_eq!(texts.fill(Language::De, "a", &[("n", n)]), want);
    }
    let texts = read("a = \"{b} {c} {\"", "a = \"{b} {c} {\"").unwrap();
    assert_eq!(texts.fill(Language::En, "a", &[("b", "{c}")]), "{c} {c} {");
}

#[test]
fn days_numbers_and_lists_are_written_as_the_language_writes_them() {
    let all = texts!("common", [] as [&str; 0]).unwrap();
    for month in 1..=12 {
        assert!(all.has(&format!("month.{month}")), "{month}");
    }
    let march = jiff::civil::date(2027, 3, 14);
    for (language, at, figure, row) in [
        (Language::En, "14 March 2027", "0.25", "a, b and c"),
        (Language::De, "14. März 2027", "0,25", "a, b und c"),
    ] {
        assert_eq!(day(language, march), at);
        assert_eq!(number(language, "0.25"), figure);
        assert_eq!(list(language, &["a", "b", "c"]), row);
        assert_eq!(list(language, &["a"]), "a");
        assert_eq!(list(language, &[]), "");
    }
}

/// Of the languages, code names English, the reference, and German where it says du. Whatever else
/// is one language's lies in its files.
#[test]
fn no_code_names_a_language_but_the_reference() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let mut folders: Vec<_> = ["schema/src", "service/src", "service/craft/src", "client/src"]
        .map(|at| root.join(at))
        .into();
    let mut found = Vec::new();
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_str().unwrap();
            if path.is_dir() && name != "tests" {
                folders.push(path);
            } else if name.ends_with(".rs") && name != "tests.rs" {
                let code = std::fs::read_to_string(&path).unwrap();
                let code = code.split("#[cfg(test)]\nmod tests {").next().unwrap_or_default();
                let lines = code.lines().filter(|line| !line.trim_start().starts_with("//"));
                let named = Language::ALL.iter().filter(|language| **language != Language::En);
                let named: Vec<String> = named.map(|one| format!("Language::{one:?}")).collect();
                let of = |line: &&str| named.iter().any(|name| line.contains(&**name));
                found
                    .extend(lines.filter(of).map(|line| (name.to_owned(), line.trim().to_owned())));
            }
        }
    }
    found.retain(|(file, _)| file != "text.rs");
    assert!(found.is_empty(), "{found:#?}");
}
