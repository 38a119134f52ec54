//! Every list of words that is looked up, built once.

use std::collections::{BTreeSet, HashMap};

use super::conditional::Clauses;
use super::general::General;
use super::maker::Maker;
use super::near::Near;
use super::words::{Found, Words};
use crate::label::dates::{Language, Languages, Months};
use crate::label::fold::{self, Class, class};
use crate::label::reading::Method;
use crate::label::tables::{ConfigurationFile, Field, FieldFile};
use etui_schema::vocabulary::EvidenceKind;

/// Longest beginning of a phrase about opening and keeping, in characters.
const PHRASE: usize = 16;

/// What a field's word means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Means {
    pub(crate) field: Field,
    pub(crate) language: Option<Language>,
    /// Every language that has the word.
    pub(crate) languages: Languages,
    /// Known from memory only: it may hold a pack and never clear one.
    pub(crate) unproven: bool,
}

/// What a word near a sterile word is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Context {
    Negation,
    Doubt,
    First,
    Again,
    Joining,
    /// Joins what it was done with.
    By,
    Condition,
    /// How a pack is kept or spoilt, by which its content is sterile or not.
    Intact,
    /// A part of a needle.
    Part,
    /// Makes a claim less than one of the whole pack: only, pending.
    Partial,
    /// What packs are said to be free of.
    Free,
    /// A word of print and of the trade that denies nothing.
    Trade,
}

impl Context {
    pub(crate) const fn joins(self) -> bool {
        matches!(self, Self::Joining | Self::By)
    }
}

/// Everything that is looked up.
#[derive(Debug, Clone)]
pub(crate) struct Lists {
    pub(crate) fields: Words<Means>,
    pub(crate) methods: Words<Method>,
    pub(crate) pieces: Words<()>,
    pub(crate) context: Words<Context>,
    pub(crate) stems: Words<()>,
    /// Stems of words of damage, as they are compared.
    pub(crate) spoilt: Vec<Box<[char]>>,
    /// Words of damage and use with a fault in them.
    pub(crate) near: Near,
    /// Phrases about opening and keeping, and ordinary words that are near one of damage.
    plain: Words<()>,
    /// What stands where the code of a lot would stand, and is none.
    pub(crate) no_lot: Words<()>,
    /// The same and what else is typed where no code is known, by their small letters. One letter
    /// alone may be a code.
    pub(crate) no_code: BTreeSet<String>,
    /// What goes on with a notice.
    pub(crate) goes_on: Words<()>,
    /// Words of sentences on all packs.
    pub(crate) general: Words<General>,
    /// Words of sentences under a condition.
    pub(crate) clauses: Clauses,
    /// Words that codes of lots are numbered with.
    pub(crate) lot_parts: Words<()>,
    /// What names of streets end in.
    pub(crate) streets: Words<()>,
    /// Words at a date that say until when.
    pub(crate) limits: Words<()>,
    /// What else ends on a day: a warranty, an ink.
    pub(crate) others: Words<()>,
    /// Words of a configuration and of the trade, as this build knows them, and which of them are
    /// groupings: what packs of spellings add hides nothing.
    pub(crate) known: Words<bool>,
    /// What stands before numbers of the maker's and in lines of his.
    pub(crate) maker: Words<Maker>,
}

impl Lists {
    pub(crate) fn new(
        file: &FieldFile,
        configuration: &ConfigurationFile,
        months: &Months,
    ) -> Self {
        let of = languages(file, months);
        let mut fields = Vec::new();
        for row in &file.field {
            let source = row.source.as_ref();
            let unproven = source.is_some_and(|source| source.kind() == EvidenceKind::Memory);
            let language = row.language.as_deref().and_then(|code| months.language(code));
            // Short words of other languages are too easily misread into.
            let lenient = if row.language.is_some() { 6 } else { 3 };
            let field = row.field;
            fields.extend(row.words.iter().map(|word| {
                let languages = of.get(&closed_up(word)).copied().unwrap_or_default();
                (word.clone(), Means { field, language, languages, unproven }, lenient)
            }));
            if field == Field::Notice {
                let with = row.words.iter().filter_map(|word| with_comma(word, file));
                let means = Means { field, language, languages: Languages::default(), unproven };
                fields.extend(with.map(|word| (word, means, lenient)));
            }
        }
        let methods =
            file.method.iter().flat_map(|m| m.words.iter().map(move |w| (&**w, m.method, 2)));
        let around = &file.sterility;
        let context = [
            (&around.negations, Context::Negation),
            (&around.doubts, Context::Doubt),
            (&around.first, Context::First),
            (&around.again, Context::Again),
            (&around.joining, Context::Joining),
            (&around.by, Context::By),
            (&around.intact, Context::Intact),
            (&around.parts, Context::Part),
            (&around.partial, Context::Partial),
            (&around.free_of, Context::Free),
            (&around.conditions, Context::Condition),
            (&around.trade, Context::Trade),
        ];
        let codes = configuration.code.iter().map(|c| (&*c.text, true, usize::MAX));
        let tapers = configuration.taper.iter().map(|t| (&*t.text, false, usize::MAX));
        let marks = configuration.mark.iter().map(|m| (&*m.text, false, usize::MAX));
        let noise = configuration.noise.words.iter().map(|w| (&**w, false, usize::MAX));
        let makers = [
            (&file.maker.numbers, Maker::Number),
            (&file.maker.calls, Maker::Call),
            (&file.maker.bodies, Maker::Body),
            (&file.maker.places, Maker::Place),
            (&file.maker.firms, Maker::Firm),
        ];
        let general = [
            (&file.general.many, General::Many),
            (&file.general.many_first, General::ManyFirst),
            (&file.general.duty, General::Duty),
            (&file.general.helper, General::Helper),
            (&file.general.article, General::Article),
        ];
        Self {
            fields: Words::new(fields.iter().map(|(word, means, own)| (&**word, *means, *own))),
            methods: Words::new(methods),
            pieces: Words::new(plain(&file.pieces.words)),
            context: Words::new(each(&context, 2)),
            stems: Words::new(plain(&around.stems)),
            spoilt: file
                .damage
                .stems
                .iter()
                .map(|s| s.chars().map(fold::letter).map(fold::skeleton).collect())
                .collect(),
            near: Near::new(file),
            plain: Words::new(
                plain(&file.damage.plain)
                    .chain(file.damage.ordinary.iter().map(|word| (&**word, (), usize::MAX))),
            ),
            no_lot: Words::new(plain(&file.no_lot.words)),
            no_code: no_code(file),
            goes_on: Words::new(plain(&file.damage.joining)),
            lot_parts: Words::new(plain(&file.lot_parts.words)),
            streets: Words::new(file.streets.words.iter().map(|word| (&**word, (), usize::MAX))),
            limits: Words::new(plain(&file.date.limits)),
            others: Words::new(plain(&file.date.others)),
            known: Words::new(codes.chain(tapers).chain(marks).chain(noise)),
            maker: Words::new(each(&makers, usize::MAX)),
            general: Words::new(each(&general, usize::MAX)),
            clauses: Clauses::new(&file.conditional),
        }
    }

    /// The word of a field at a place.
    pub(crate) fn field(&self, letters: &[char], at: usize) -> Option<Found<Means>> {
        let found = self.fields.at(letters, at)?;
        let doubtful = found.means.field == Field::Doubtful;
        (!doubtful || self.is_asked_about(letters, at, found.end)).then_some(found)
    }

    /// Whether a word that may say something else stands alone: in no code (`NAT2308`), behind no
    /// number that it is a unit of (`20 UD`), in no phrase about opening and keeping.
    fn is_asked_about(&self, letters: &[char], at: usize, end: usize) -> bool {
        let mut words = letters[..at].rsplit(|c| c.is_whitespace());
        let number = words.find(|word| !word.is_empty()).filter(|word| word.len() < 4);
        let counted = number.is_some_and(|word| word.iter().all(char::is_ascii_digit));
        let unit = end - at < 3 && class(letters[at]) == Class::Letter && counted;
        let code = letters.get(end).is_some_and(char::is_ascii_digit);
        !unit && !code && !self.is_plain(letters, at)
    }

    /// Whether a place lies in a phrase that says nothing of this pack.
    pub(crate) fn is_plain(&self, letters: &[char], at: usize) -> bool {
        (at.saturating_sub(PHRASE)..=at).any(|from| {
            let begins = from == 0 || class(letters[from - 1]) != Class::Letter;
            begins && self.plain.at(letters, from).is_some_and(|found| at < found.end)
        })
    }
}

/// A word as the lists compare it.
fn closed_up(word: &str) -> String {
    word.chars().filter(|c| !matches!(c, ' ' | '.')).map(fold::letter).collect()
}

/// The languages that have a word, whatever it means in them.
fn languages(file: &FieldFile, months: &Months) -> HashMap<String, Languages> {
    let mut all: HashMap<String, Languages> = HashMap::new();
    for row in &file.field {
        let own = Languages::of(row.language.as_deref().and_then(|code| months.language(code)));
        for word in &row.words {
            let known = all.entry(closed_up(word)).or_default();
            *known = known.and(own);
        }
    }
    all
}

/// A notice with the comma that many languages put before its condition.
fn with_comma(notice: &str, file: &FieldFile) -> Option<String> {
    let conditions = &file.sterility.conditions;
    let parts: Vec<&str> = notice.split(' ').collect();
    let at = parts.iter().skip(1).position(|part| {
        conditions.iter().any(|condition| closed_up(condition) == closed_up(part))
    })?;
    Some(format!("{}, {}", parts[..=at].join(" "), parts[at + 1..].join(" ")))
}

/// What stands for no code, by its small letters.
fn no_code(file: &FieldFile) -> BTreeSet<String> {
    let words = file.no_lot.words.iter().chain(&file.no_code.words);
    let small =
        words.map(|word| word.to_lowercase().chars().filter(|c| c.is_alphabetic()).collect());
    small.filter(|word: &String| 1 < word.len()).collect()
}

/// The words of several lists, each with what its list means.
fn each<'a, T: Copy>(
    lists: &'a [(&'a Vec<String>, T)],
    lenient: usize,
) -> impl Iterator<Item = (&'a str, T, usize)> {
    lists.iter().flat_map(move |(list, is)| list.iter().map(move |word| (&**word, *is, lenient)))
}

fn plain(words: &[String]) -> impl Iterator<Item = (&str, (), usize)> {
    words.iter().map(|word| (&**word, (), 3))
}
