//! The rulebook: questions and rules, loaded once, with its name, revision
//! and digest.

use std::collections::{BTreeMap, HashMap};
use std::fmt::Write;
use std::sync::Arc;

use etui_schema::vocabulary::{Address, Treatment};
use jiff::civil::Date;
use sha2::{Digest, Sha256};

use super::country::{Country, CountryLaw};
use super::data::{Chapter, Head};
use super::faults::{BookFaults, BookProblem};
use super::load::Loader;
use super::period::Period;
use super::question::{Question, Stage};
use super::rule::{Field, Grounds, Rule};
use super::score::{Band, Group};
use crate::aftercare::healing::Healing;
use crate::evidence::{Register, Source};
use crate::rules::{self, RuleFault, RuleFile, rule_file, shape};
use crate::text::{Catalogue, du_file, text_files};

const HEAD: RuleFile = rule_file!("screening/book.toml");
const TEXTS: &[RuleFile] = &text_files!("screening");
const DU: RuleFile = du_file!("screening");

/// The chapters in the order in which their rules are listed in an answer.
const CHAPTERS: &[RuleFile] = &[
    rule_file!("screening/questions.toml"),
    rule_file!("screening/law.toml"),
    rule_file!("screening/area.toml"),
    rule_file!("screening/recent.toml"),
    rule_file!("screening/eyes.toml"),
    rule_file!("screening/allergies.toml"),
    rule_file!("screening/skin.toml"),
    rule_file!("screening/body.toml"),
    rule_file!("screening/medicines.toml"),
    rule_file!("screening/person.toml"),
    rule_file!("screening/record.toml"),
];

/// A pack that the rulebook contains.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackMark {
    /// The studio's name for it.
    pub name: Arc<str>,
    /// SHA-256 over its canonical JSON, hexadecimal.
    pub digest: String,
}

/// Questions and rules, ready to be asked and evaluated.
///
/// ```
/// use etui_craft::{evidence::Register, screening::rulebook::Rulebook};
/// use etui_schema::vocabulary::Treatment;
/// let book = Rulebook::builtin(&Register::builtin().unwrap()).unwrap();
/// assert!(book.rules(Treatment::Lips).any(|rule| &*rule.id == "cold_sore_history"));
/// assert!(!book.rules(Treatment::Brows).any(|rule| &*rule.id == "cold_sore_history"));
/// ```
#[derive(Debug, Clone)]
pub struct Rulebook {
    /// Its name.
    pub name: Arc<str>,
    /// Its revision; rises with every change of a built-in rule.
    pub revision: u32,
    /// SHA-256 over all its files and packs, hexadecimal.
    pub digest: String,
    /// The packs it contains, in the order in which they were added.
    pub packs: Vec<PackMark>,
    pub(super) register: Arc<Register>,
    pub(super) pack_sources: BTreeMap<Arc<str>, Source>,
    pub(super) sentences: Catalogue,
    pub(super) groups: Vec<Group>,
    pub(super) bands: Vec<Band>,
    pub(super) refer_lead: Period,
    pub(super) oldest_years: u8,
    /// When worked skin may be worked again.
    pub(super) healing: Healing,
    pub(super) questions: Vec<Question>,
    pub(super) question_ids: HashMap<Arc<str>, usize>,
    pub(super) rules: Vec<Rule>,
    rule_ids: HashMap<Arc<str>, usize>,
    /// Indices of the rules of each treatment, in the order of the book.
    plans: [Vec<usize>; 5],
    /// What the points stand on.
    pub(super) points_grounds: Grounds,
    /// What the law of countries says.
    pub(super) countries: BTreeMap<Country, CountryLaw>,
}

impl Rulebook {
    /// The rulebook compiled into this build.
    ///
    /// # Errors
    /// [`BookFaults`] with every fault the loader found.
    pub fn builtin(register: &Register) -> Result<Self, BookFaults> {
        let head: Head = rules::load_by_id(register, HEAD)?;
        let sentences = Catalogue::read(TEXTS)?.with_du(DU)?;
        let chapters: Vec<(&str, Chapter)> = CHAPTERS
            .iter()
            .map(|file| Ok((file.name, rules::load_by_id(register, *file)?)))
            .collect::<Result<_, RuleFault>>()?;
        let files = CHAPTERS.iter().chain([&HEAD, &super::country::FILE, &DU]).chain(TEXTS);
        let digest = hex(files.map(|file| file.text));
        Self::assemble(register, head, sentences, chapters, digest)
    }

    fn assemble(
        register: &Register,
        head: Head,
        sentences: Catalogue,
        chapters: Vec<(&str, Chapter)>,
        digest: String,
    ) -> Result<Self, BookFaults> {
        super::score::check_tables(&head)?;
        let healing = Healing::builtin(register)?;
        let mut loader = Loader {
            register,
            sources: BTreeMap::new(),
            sentences,
            groups: &head.group,
            questions: Vec::new(),
            question_ids: HashMap::new(),
            rules: Vec::new(),
            rule_ids: HashMap::new(),
            faults: Vec::new(),
            file: HEAD.name.to_owned(),
            pack: None,
            spoken: std::collections::BTreeSet::new(),
        };
        let points_grounds = loader.grounds("", Field::Points, &head.points_basis);
        // Nobody is told what the lead rests on; that it rests on something is looked up.
        loader.grounds("", Field::Lead, &head.refer_lead_basis);
        for (file, chapter) in chapters {
            loader.chapter(file, None, chapter);
        }
        loader.check_wording();
        loader.finish();
        loader.verdict()?;
        let Loader { sources, sentences, questions, question_ids, rules, rule_ids, .. } = loader;
        let plans = plans(&rules);
        Ok(Self {
            name: head.name.into(),
            revision: head.revision,
            digest,
            packs: Vec::new(),
            register: Arc::new(register.clone()),
            pack_sources: sources,
            sentences,
            groups: head.group,
            bands: head.band,
            refer_lead: head.refer_lead,
            oldest_years: head.oldest_years,
            healing,
            questions,
            question_ids,
            rules,
            rule_ids,
            plans,
            points_grounds,
            countries: super::country::read(register)?,
        })
    }

    /// This rulebook in a studio's form of address. Packs come after it: what
    /// they say stays as they say it.
    #[must_use]
    pub fn speaking(mut self, address: Address) -> Self {
        self.sentences.speak(address);
        self
    }

    /// This rulebook with a studio's pack added. The pack is a JSON object of
    /// the shape described in [`super::data`]; it may add sources, texts,
    /// questions and rules, and tighten built-in rules.
    ///
    /// # Errors
    /// [`BookFaults`] with every fault: what the loader refuses, and whatever
    /// would loosen a rule or replace one.
    pub fn with_pack(&self, name: &str, pack: &serde_json::Value) -> Result<Self, BookFaults> {
        if !pack.is_object() {
            return Err(unreadable(name, &"a pack is a JSON object"));
        }
        let chapter: Chapter = shape(name, pack)?;
        let mut book = self.clone();
        let mut loader = Loader {
            register: &self.register,
            sources: book.pack_sources,
            sentences: book.sentences,
            groups: &self.groups,
            questions: book.questions,
            question_ids: book.question_ids,
            rules: book.rules,
            rule_ids: book.rule_ids,
            faults: Vec::new(),
            file: name.to_owned(),
            pack: None,
            spoken: std::collections::BTreeSet::new(),
        };
        if self.packs.iter().any(|known| &*known.name == name) {
            loader.fault("", BookProblem::Twice { id: name.to_owned() });
        }
        loader.chapter(name, Some(name), chapter);
        loader.finish();
        loader.verdict()?;
        book.pack_sources = loader.sources;
        book.sentences = loader.sentences;
        book.questions = loader.questions;
        book.question_ids = loader.question_ids;
        book.rules = loader.rules;
        book.rule_ids = loader.rule_ids;
        book.plans = plans(&book.rules);
        let digest = hex([pack.to_string().as_str()]);
        book.digest = hex([book.digest.as_str(), name, digest.as_str()]);
        book.packs.push(PackMark { name: name.into(), digest });
        Ok(book)
    }

    /// The rules that stand for a treatment, in the order of the book.
    pub fn rules(&self, treatment: Treatment) -> impl Iterator<Item = &Rule> {
        self.plans[treatment as usize].iter().map(|index| &self.rules[*index])
    }

    /// Every rule of the book.
    #[must_use]
    pub fn all_rules(&self) -> &[Rule] {
        &self.rules
    }

    /// A rule by its id.
    #[must_use]
    pub fn rule(&self, id: &str) -> Option<&Rule> {
        self.rule_ids.get(id).map(|index| &self.rules[*index])
    }

    /// Every question of the book in the order of asking; [`super::question::Follows`]
    /// counts in this list.
    #[must_use]
    pub fn all_questions(&self) -> &[Question] {
        &self.questions
    }

    /// Where a question stands in [`Rulebook::all_questions`].
    #[must_use]
    pub fn question(&self, id: &str) -> Option<usize> {
        self.question_ids.get(id).copied()
    }

    /// The questions for a treatment on a day, in the order of asking, with
    /// their follow-ups. Those of the day itself are among them only when
    /// `today` has reached it.
    pub fn questions(
        &self,
        treatment: Treatment,
        on: Date,
        today: Date,
    ) -> impl Iterator<Item = &Question> {
        self.questions.iter().filter(move |question| {
            let is_time = match question.stage {
                Stage::Booking => true,
                Stage::Day => on <= today,
                Stage::Record => false,
            };
            question.treatments.has(treatment) && is_time
        })
    }

    /// The sentences of the book.
    #[must_use]
    pub fn sentences(&self) -> &Catalogue {
        &self.sentences
    }

    /// The groups of points, in the order of the book.
    #[must_use]
    pub fn groups(&self) -> &[Group] {
        &self.groups
    }

    /// The bands of the score, lowest first.
    #[must_use]
    pub fn bands(&self) -> &[Band] {
        &self.bands
    }

    /// What points, caps and bands stand on.
    #[must_use]
    pub fn points_grounds(&self) -> &Grounds {
        &self.points_grounds
    }

    /// What the law of a country says, if its own text was read.
    #[must_use]
    pub fn law_of(&self, country: Country) -> Option<&CountryLaw> {
        self.countries.get(&country)
    }

    /// Sources that packs brought along, in the order of their ids.
    pub fn pack_sources(&self) -> impl Iterator<Item = &Source> {
        self.pack_sources.values()
    }
}

fn plans(rules: &[Rule]) -> [Vec<usize>; 5] {
    let mut plans: [Vec<usize>; 5] = std::array::from_fn(|_| Vec::new());
    for (index, rule) in rules.iter().enumerate() {
        rule.treatments.iter().for_each(|treatment| plans[treatment as usize].push(index));
    }
    plans
}

/// A pack that is not of its shape.
fn unreadable(pack: &str, why: &dyn std::fmt::Display) -> BookFaults {
    RuleFault::new(pack, "", why.to_string()).into()
}

/// SHA-256 over the texts, each preceded by its length.
fn hex<'a>(texts: impl IntoIterator<Item = &'a str>) -> String {
    let mut hash = Sha256::new();
    for text in texts {
        hash.update((text.len() as u64).to_be_bytes());
        hash.update(text.as_bytes());
    }
    hash.finalize().iter().fold(String::with_capacity(64), |mut text, byte| {
        // Writing to a String cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}
