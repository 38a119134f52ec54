//! The loader: turns written rules into rules that can be evaluated, and
//! refuses what it cannot stand behind.
//!
//! It refuses an unknown source, a number without grounds, a missing or
//! forbidden sentence, an answer or a branch that can never be reached, a
//! question no rule uses, and statements that contradict each other. It
//! reports every fault it finds, each with its place. A studio's pack goes
//! through the same loader; [`super::tighten`] holds what only packs may do.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::Arc;

use etui_schema::vocabulary::Language;

use super::data::{Chapter, RawText};
use super::faults::{BookFault, BookFaults, BookProblem};
use super::question::Question;
use super::rule::Rule;
use super::wording::objection;
use crate::evidence::{Register, Source};
use crate::guard::{self, Speaks};
use crate::text::Catalogue;

/// Most questions and rules one book may have, packs included.
const MOST_QUESTIONS: usize = 200;
const MOST_RULES: usize = 500;
/// Longest sentence of a pack, in characters.
const LONGEST_TEXT: usize = 500;

/// What the loader works on.
pub(super) struct Loader<'a> {
    pub(super) register: &'a Register,
    pub(super) sources: BTreeMap<Arc<str>, Source>,
    pub(super) sentences: Catalogue,
    pub(super) groups: &'a [super::score::Group],
    pub(super) questions: Vec<Question>,
    pub(super) question_ids: HashMap<Arc<str>, usize>,
    pub(super) rules: Vec<Rule>,
    pub(super) rule_ids: HashMap<Arc<str>, usize>,
    pub(super) faults: Vec<BookFault>,
    pub(super) file: String,
    pub(super) pack: Option<Arc<str>>,
    /// Keys of sentences that something says.
    pub(super) spoken: BTreeSet<Arc<str>>,
}

impl Loader<'_> {
    /// Reads one file, or one pack.
    pub(super) fn chapter(&mut self, file: &str, pack: Option<&str>, chapter: Chapter) {
        file.clone_into(&mut self.file);
        self.pack = pack.map(Arc::from);
        let Chapter { question, rule, tighten, source, texts } = chapter;
        if MOST_QUESTIONS < self.questions.len() + question.len()
            || MOST_RULES < self.rules.len() + rule.len()
        {
            let accepted = format!("{MOST_QUESTIONS} questions, {MOST_RULES} rules in all");
            self.fault("", BookProblem::Range { what: "the size of the book".into(), accepted });
            return;
        }
        for (at, source) in source.into_iter().enumerate() {
            self.source(&format!("/source/{at}"), source);
        }
        let brought: Vec<String> = texts.keys().cloned().collect();
        for (key, text) in texts {
            self.text(&key, text);
        }
        for (at, raw) in question.into_iter().enumerate() {
            self.question(&format!("/question/{at}"), &raw);
        }
        for (at, raw) in rule.into_iter().enumerate() {
            self.rule(&format!("/rule/{at}"), &raw);
        }
        for (at, raw) in tighten.into_iter().enumerate() {
            self.tighten(&format!("/tighten/{at}"), &raw);
        }
        if self.pack.is_some() {
            self.unspoken(&brought);
        }
    }

    /// A sentence that nothing says is a slip of its key.
    fn unspoken(&mut self, brought: &[String]) {
        for key in brought.iter().filter(|key| !self.spoken.contains(key.as_str())).cloned() {
            let pointer = format!("/texts/{}", super::faults::step(&key));
            let why = "nothing of this pack says this sentence";
            self.faults.push(BookFault {
                file: self.file.clone(),
                pointer,
                problem: BookProblem::Text { key, why },
            });
        }
    }

    /// Checks what only the whole book can show.
    pub(super) fn finish(&mut self) {
        let mut used = vec![false; self.questions.len()];
        for question in &self.questions {
            if let Some(follows) = question.follows {
                used[follows.question] = true;
            }
        }
        for rule in &self.rules {
            rule.questions().for_each(|question| used[question] = true);
        }
        for (question, _) in self.questions.clone().iter().zip(used).filter(|(_, used)| !used) {
            let why = format!("no rule uses the answer to `{}`", question.id);
            self.fault("/question", BookProblem::Unreachable { why });
        }
    }

    /// Checks every sentence that is built in.
    pub(super) fn check_wording(&mut self) {
        let keys: Vec<String> = self.sentences.keys().map(str::to_owned).collect();
        for key in keys {
            for language in Language::ALL {
                let found = objection(*language, self.sentences.get(*language, &key));
                if let Some(objection) = found {
                    self.fault("/texts", BookProblem::Wording { key: key.clone(), objection });
                }
            }
        }
    }

    /// The faults found, as an error if there is any.
    pub(super) fn verdict(&mut self) -> Result<(), BookFaults> {
        match std::mem::take(&mut self.faults) {
            faults if faults.is_empty() => Ok(()),
            faults => Err(BookFaults(faults)),
        }
    }

    pub(super) fn fault(&mut self, pointer: &str, problem: BookProblem) {
        self.faults.push(BookFault {
            file: self.file.clone(),
            pointer: pointer.to_owned(),
            problem,
        });
    }

    /// Notes a contradiction if `holds` is true.
    pub(super) fn contradicts(&mut self, pointer: &str, holds: bool, why: &str) {
        if holds {
            self.fault(pointer, BookProblem::Contradiction { why: why.to_owned() });
        }
    }

    /// Checks the shape of an id and that it is new.
    pub(super) fn id(&mut self, pointer: &str, id: &str, is_new: bool) {
        let shape = (1..=48).contains(&id.len())
            && id.starts_with(|c: char| c.is_ascii_lowercase())
            && id.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_');
        let pointer = format!("{pointer}/id");
        if !shape {
            self.fault(&pointer, BookProblem::Id { id: id.chars().take(60).collect() });
        } else if !is_new {
            self.fault(&pointer, BookProblem::Twice { id: id.to_owned() });
        } else if id.split('_').any(|word| word == "hiv" || word == "aids") {
            let objection = super::wording::Objection::Hiv;
            self.fault(&pointer, BookProblem::Wording { key: id.to_owned(), objection });
        }
    }

    /// The key of a sentence that must be there.
    pub(super) fn sentence(&mut self, pointer: &str, key: String) -> Arc<str> {
        if !self.sentences.has(&key) {
            let why = "a sentence is wanted under this key";
            self.fault(pointer, BookProblem::Text { key: key.clone(), why });
        }
        let key: Arc<str> = key.into();
        self.spoken.insert(key.clone());
        key
    }

    /// A registered source, or one the pack brought along.
    pub(super) fn known_source(&self, id: &str) -> Option<&Source> {
        self.register.get(id).ok().or_else(|| self.sources.get(id))
    }

    fn source(&mut self, pointer: &str, source: Source) {
        if self.known_source(&source.id).is_some() {
            self.fault(pointer, BookProblem::Twice { id: source.id.to_string() });
            return;
        }
        self.sources.insert(source.id.clone(), source);
    }

    fn text(&mut self, key: &str, text: RawText) {
        let pointer = format!("/texts/{}", super::faults::step(key));
        if self.sentences.has(key) {
            self.fault(&pointer, BookProblem::Twice { id: key.to_owned() });
            return;
        }
        for (_, sentence) in text.said() {
            if sentence.trim().is_empty() || LONGEST_TEXT < sentence.chars().count() {
                let accepted = format!("1 to {LONGEST_TEXT} characters");
                self.fault(&pointer, BookProblem::Range { what: "the text".into(), accepted });
            } else if let Some(objection) = guard::objection(sentence, Speaks::of_key(key)) {
                self.fault(&pointer, BookProblem::Wording { key: key.to_owned(), objection });
            }
        }
        self.sentences.add(key, &text);
    }
}
