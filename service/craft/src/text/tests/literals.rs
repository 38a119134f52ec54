//! No text for people stands in code: a literal of more than three words is a
//! fault of a file or a call, for whoever sent it, or is listed.

use std::fs;
use std::path::PathBuf;

use serde::Deserialize;

use super::*;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Listed {
    /// Files whose literals are refusals: of rule data, packs, requests, calls.
    refusals: BTreeSet<String>,
    /// Files that say what a number is about, for its basis.
    basis: BTreeSet<String>,
    /// Files that speak to who runs the service.
    operating: BTreeSet<String>,
    /// Files of pictures.
    marks: BTreeSet<String>,
    /// Members of answers that people read: no literal is one, in no file.
    members: BTreeSet<String>,
}

/// The code before its tests, without comments.
fn code(text: &str) -> String {
    let text = text.split("#[cfg(test)]\nmod tests {").next().unwrap_or_default();
    let lines = text.lines().filter(|line| !line.trim_start().starts_with("//"));
    lines.collect::<Vec<_>>().join("\n")
}

/// What a literal may be wrapped in where it is put into a member.
const WRAPS: [&str; 4] = ["format!(", "Some(", "Cow::Borrowed(", "&"];

/// The member that the code before a literal puts it into.
fn member(before: &str) -> Option<&str> {
    let mut before = before.trim_end();
    while let Some(rest) = WRAPS.iter().find_map(|wrap| before.strip_suffix(wrap)) {
        before = rest.trim_end();
    }
    let name = before.strip_suffix(':')?;
    name.rsplit(|c: char| !c.is_alphanumeric() && c != '_').next()
}

/// The literals of a piece of code that are neither an attribute's nor bytes.
fn literals(code: &str) -> Vec<String> {
    found(code).into_iter().map(|(_, text)| text).collect()
}

/// The same, each with the member it is put into.
fn found(code: &str) -> Vec<(Option<String>, String)> {
    let mut found = Vec::new();
    let mut all = String::new();
    let mut chars = code.chars().peekable();
    let (mut line, mut before) = (String::new(), ' ');
    while let Some(c) = chars.next() {
        match c {
            '\n' => line.clear(),
            '\'' => {
                // A character, not the mark of a lifetime.
                let mut ahead = chars.clone();
                let first = ahead.next();
                if first == Some('\\') || ahead.next() == Some('\'') {
                    chars.next();
                    chars.next();
                }
            }
            '"' => {
                let raw = before == '#';
                let mut text = String::new();
                while let Some(c) = chars.next() {
                    match c {
                        '"' if !raw => break,
                        '"' if chars.peek() == Some(&'#') => break,
                        '\\' if !raw => text.extend(chars.next()),
                        c => text.push(c),
                    }
                }
                let attribute = line.trim_start().starts_with("#[") || line.contains("reason = ");
                if !attribute {
                    found.push((member(&all).map(str::to_owned), text));
                }
                all.clear();
            }
            c => line.push(c),
        }
        all.push(c);
        before = c;
    }
    found
}

fn words(text: &str) -> usize {
    let word = |part: &&str| part.chars().filter(|c| c.is_alphabetic()).count() > 1;
    text.split_whitespace().filter(word).count()
}

pub(crate) fn sources(folder: PathBuf, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(path, found);
        } else if path.extension().is_some_and(|end| end == "rs") {
            found.push(path);
        }
    }
}

#[test]
fn no_text_for_people_stands_in_code() {
    let Listed { refusals, basis, operating, marks, members } =
        toml::from_str(include_str!("literals.toml")).unwrap();
    let listed: BTreeSet<String> =
        [refusals, basis, operating, marks].into_iter().flatten().collect();
    let service = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let mut paths = Vec::new();
    for folder in ["craft/src", "src/studio"] {
        sources(service.join(folder), &mut paths);
    }
    let (mut speaking, mut loose, mut told) = (BTreeSet::new(), Vec::new(), Vec::new());
    for path in paths {
        let name = path.strip_prefix(&service).unwrap().to_string_lossy().into_owned();
        if name.contains("/tests") {
            continue;
        }
        let code = code(&fs::read_to_string(&path).unwrap());
        let mut said = Vec::new();
        for (member, text) in found(&code).into_iter().filter(|(_, text)| 3 < words(text)) {
            if member.as_ref().is_some_and(|member| members.contains(member)) {
                told.push(format!("{name}: {text}"));
            }
            said.push(text);
        }
        if said.is_empty() {
            continue;
        }
        if !listed.contains(&name) {
            loose.push(format!("{name}: {said:#?}"));
        }
        speaking.insert(name);
    }
    assert!(loose.is_empty(), "put these into rules/texts:\n{}", loose.join("\n"));
    assert!(told.is_empty(), "put these into rules/texts:\n{}", told.join("\n"));
    let idle: Vec<_> = listed.difference(&speaking).collect();
    assert!(idle.is_empty(), "listed and without a literal: {idle:?}");
}

/// What the code of an area says: the literals of its folder, or of its file.
pub(crate) fn said_by_code(area: &str) -> BTreeSet<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let area = if area == "common" { "text" } else { area };
    let (folder, file) = (root.join(area), root.join(format!("{area}.rs")));
    let mut paths = Vec::new();
    if folder.is_dir() {
        sources(folder, &mut paths);
    }
    paths.extend(file.is_file().then_some(file));
    paths.retain(|path| !path.strip_prefix(&root).unwrap().to_string_lossy().contains("tests"));
    let said = |path| literals(&code(&fs::read_to_string(path).unwrap()));
    paths.into_iter().flat_map(said).collect()
}

/// Begin like a key and are none: places of sentences, members, parts of keys.
const NO_KEYS: [&str; 8] = [
    "cold_measured",
    "not_expected_today",
    "not_given",
    "not_told_how",
    "told_height",
    "told_width",
    "form.",
    "whom.",
];

/// How a key of several parts begins.
fn begins(key: &str, between: char) -> Option<&str> {
    let is_key = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_' || c == between;
    key.split_once(between).filter(|_| key.chars().all(is_key)).map(|(begins, _)| begins)
}

/// Whatever code says begins as some sentence of its area does; that it ends as one does, too, is
/// looked up here. A key that is not there would be read by people.
#[test]
fn what_code_says_has_a_sentence() {
    let parameters = crate::configuration::Parameter::ALL.iter().map(|one| one.as_str());
    let no_keys: BTreeSet<&str> = parameters.chain(NO_KEYS).collect();
    let mut missing = Vec::new();
    for ((area, _), texts) in files().into_iter().filter(|((_, language), _)| language == "en") {
        let has_parts = texts.keys().any(|key| key.trim_end_matches(".one").contains('.'));
        let between = if has_parts { '.' } else { '_' };
        let known: BTreeSet<&str> = texts.keys().filter_map(|key| begins(key, between)).collect();
        let said = said_by_code(&area);
        assert!(texts.keys().any(|key| said.contains(key)), "{area}: no code was found");
        let is_key = |said: &String| {
            begins(said, between).is_some_and(|begins| known.contains(begins))
                && !no_keys.contains(&**said)
        };
        let lost = said.into_iter().filter(is_key).filter(|said| !texts.contains_key(said));
        missing.extend(lost.map(|key| format!("{area}: {key}")));
    }
    assert!(missing.is_empty(), "there is no text under {missing:#?}");
}

#[test]
fn literals_are_found() {
    let code = "let a = \"one two three four\"; let b = 'x'; let c = b\"\\\"\"; #[error(\"a b c d e\")]\n\
                let d = r#\"five \"six\" seven\"#; fn e<'a>() { \"eight\" }";
    let found = literals(code);
    assert!(found.contains(&"one two three four".to_owned()), "{found:?}");
    assert!(found.contains(&"five \"six\" seven".to_owned()), "{found:?}");
    let code =
        "One { because: \"a b c d\", text: format!(\n\"e f g h\"), x: Some(\"i\"), y = \"j\" }";
    let members: Vec<_> = self::found(code).into_iter().map(|(member, _)| member).collect();
    let want = [Some("because"), Some("text"), Some("x"), None];
    assert_eq!(members, want.map(|member| member.map(str::to_owned)));
    assert_eq!(words("a {b} at 2 mm of cd"), 4, "letters alone are no words");
}
