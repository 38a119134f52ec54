//! Afternoons of a studio, played through and written down: what happened, the
//! call that was made, and what was read aloud of its answer, in each language.
//!
//! Each is played on a service of its own, whose clock stands where the scene
//! puts it and whose random bytes repeat, so that a sentence that changes shows
//! in `openapi/examples/afternoons` (the test `drift` compares and renews them).

mod chair;
mod front;
mod training;

use std::collections::BTreeMap;
use std::fmt::Write;

use serde_json::{Map, Value, json};

use crate::running::Running;
use crate::wire::Request;

/// What is said in English and in German.
type Both = [&'static str; 2];

/// Languages in which every afternoon is played.
const LANGUAGES: Both = ["en", "de"];

/// One afternoon.
pub struct Afternoon {
    /// The name of its file.
    name: &'static str,
    title: Both,
    scenes: Vec<Scene>,
}

/// One call, with what happened before it and what is read of its answer.
pub struct Scene {
    /// What happened; empty for what is only set up.
    happened: Both,
    /// Where the clock stands, if it moves.
    now: Option<&'static str>,
    name: &'static str,
    ask: Box<dyn Fn(&Played) -> Request>,
    /// Who hears what: places in the answer, `*` for every entry of a list.
    aloud: &'static [(Who, &'static str)],
}

/// Who is told.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Who {
    Client,
    Studio,
    Artist,
    Program,
}

impl Who {
    const fn named(self) -> Both {
        match self {
            Self::Client => ["To the client", "Der Kundin"],
            Self::Studio => ["To the studio", "Dem Studio"],
            Self::Artist => ["To the artist", "Der Pigmentiererin"],
            Self::Program => ["To the program", "Dem Programm"],
        }
    }
}

/// What was answered so far, by the name of its scene.
pub struct Played {
    language: usize,
    answers: BTreeMap<&'static str, Value>,
}

impl Played {
    /// The language it is played in.
    fn language(&self) -> &'static str {
        LANGUAGES[self.language]
    }

    /// A text of an earlier answer.
    fn text(&self, scene: &str, pointer: &str) -> String {
        let answer = &self.answers[scene];
        let found = answer.pointer(pointer).and_then(Value::as_str);
        found.unwrap_or_else(|| panic!("no text at {pointer} of {scene}: {answer}")).to_owned()
    }

    /// The answers of somebody whom nothing concerns, to the questions heard in
    /// a scene; then what concerns her after all.
    fn answered(&self, scene: &str, told: Value) -> Value {
        let questions = self.answers[scene]["questions"].as_array().expect("questions");
        let clear = |question: &&Value| {
            question.get("ask_if").is_none() && question.get("clear_answer").is_some()
        };
        let mut all: Map<String, Value> = questions
            .iter()
            .filter(clear)
            .filter(|question| question["optional"] == json!(false))
            .map(|question| {
                (
                    question["id"].as_str().expect("an id").to_owned(),
                    question["clear_answer"].clone(),
                )
            })
            .collect();
        all.extend(told.as_object().cloned().unwrap_or_default());
        Value::Object(all)
    }
}

impl Scene {
    fn new(name: &'static str, ask: impl Fn(&Played) -> Request + 'static) -> Self {
        Self { happened: ["", ""], now: None, name, ask: Box::new(ask), aloud: &[] }
    }

    fn at(mut self, now: &'static str) -> Self {
        self.now = Some(now);
        self
    }

    fn tells(mut self, happened: Both, aloud: &'static [(Who, &'static str)]) -> Self {
        self.happened = happened;
        self.aloud = aloud;
        self
    }
}

/// Every afternoon in every language: the name of a file below
/// `openapi/examples/afternoons`, and what stands in it.
///
/// # Panics
/// If a service does not start, or an answer has not what is to be read of it.
#[must_use]
pub fn recorded() -> BTreeMap<String, String> {
    let mut made = BTreeMap::new();
    for afternoon in
        front::afternoons().into_iter().chain(chair::afternoons()).chain(training::afternoons())
    {
        for (at, language) in LANGUAGES.iter().enumerate() {
            let name = format!("{}.{language}.md", afternoon.name);
            made.insert(name, play(&afternoon, at));
        }
    }
    made
}

fn play(afternoon: &Afternoon, language: usize) -> String {
    let running = Running::start();
    let mut played = Played { language, answers: BTreeMap::new() };
    let mut text = format!("# {}\n", afternoon.title[language]);
    for scene in &afternoon.scenes {
        if let Some(now) = scene.now {
            running.set_clock(now);
        }
        let request = (scene.ask)(&played);
        let sent = request.clone().header("Accept-Language", LANGUAGES[language]);
        let answer = running.call(&sent);
        // Only what is told may be refused.
        let is_told = !scene.happened[language].is_empty();
        assert!(is_told || answer.status < 300, "{}: {}", scene.name, answer.text());
        let value = answer.json();
        if is_told {
            tell(&mut text, scene, language, &request, (answer.status, &value));
        }
        played.answers.insert(scene.name, value);
    }
    text
}

/// Writes a scene down.
fn tell(
    text: &mut String,
    scene: &Scene,
    language: usize,
    request: &Request,
    (status, answer): (u16, &Value),
) {
    let _ = writeln!(text, "\n{}\n", scene.happened[language]);
    let _ = writeln!(text, "    {} {} -> {status}", request.method, plain(&request.target));
    let mut before = None;
    let mut told: Vec<String> = Vec::new();
    for (who, path) in scene.aloud {
        for line in pick(answer, path) {
            let line = plain(&line);
            // What was said, alone or within more, is not read twice.
            if told.iter().any(|one| one.contains(&line)) {
                continue;
            }
            assert!(*who == Who::Program || is_said(&line), "{}: no sentence: {line}", scene.name);
            if before == Some(*who) {
                text.push_str(">\n");
            } else {
                let _ = writeln!(text, "\n{}:\n", who.named()[language]);
            }
            before = Some(*who);
            let _ = writeln!(text, "> {line}");
            told.push(line);
        }
    }
    assert!(before.is_some(), "{}: nothing is read of {answer}", scene.name);
}

/// The texts at a place; `*` stands for every entry of a list, `+` joins the
/// members of one entry, `.` leads into one.
fn pick(value: &Value, path: &str) -> Vec<String> {
    let Some((step, rest)) =
        path.strip_prefix('/').map(|path| path.split_once('/').unwrap_or((path, "")))
    else {
        return match value {
            Value::String(text) => vec![text.clone()],
            Value::Number(number) => vec![number.to_string()],
            Value::Null => Vec::new(),
            other @ (Value::Bool(_) | Value::Array(_) | Value::Object(_)) => {
                panic!("no text: {other}")
            }
        };
    };
    let rest = if rest.is_empty() { String::new() } else { format!("/{rest}") };
    if step == "*" {
        let all = value.as_array().map_or(&[][..], Vec::as_slice);
        return all.iter().flat_map(|one| pick(one, &rest)).collect();
    }
    if let Some((name, more)) = step.split_once('+') {
        let at = |place: &str| pick(value, &format!("/{}", place.replace('.', "/"))).join(" ");
        let more: Vec<String> = more.split('+').map(at).filter(|text| !text.is_empty()).collect();
        return vec![format!("{}: {}", at(name), more.join(" "))];
    }
    value.get(step).map_or_else(Vec::new, |one| pick(one, &rest))
}

/// Whether a person says it so: codes and days of the wire are for programs.
fn is_said(line: &str) -> bool {
    line.contains(' ') && !line.contains('_')
}

/// Without ids, which say nothing to a reader.
fn plain(text: &str) -> String {
    let is_id = |word: &str| word.len() == 36 && word.matches('-').count() == 4;
    let parts = text.split('/').map(|part| if is_id(part) { "…" } else { part });
    parts.collect::<Vec<_>>().join("/")
}
