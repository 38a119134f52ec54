//! The reader with packs of spellings.
//!
//! Packs settle what the built-in spellings leave open. Where those are clear and a
//! pack reads otherwise, a person is asked ([`ask_where_they_differ`]), whoever's pack
//! it is.

use std::borrow::Cow;

use super::Reader;
use super::grammar::{self, Interpreted, Lexicon};
use super::lineage::Lineage;
use super::reading::{Because, Candidate};
use super::spellings::{SpellingFault, Spellings, closed_up};
use crate::rules::RuleFault;

impl Reader {
    /// The same reader with the spellings of packs; earlier packs win. Those that name
    /// whose labels they read are used for these alone.
    ///
    /// # Errors
    /// [`RuleFault`] if a pack holds a text or a diameter that cannot be.
    pub fn with_spellings(&self, packs: &[Spellings]) -> Result<Self, RuleFault> {
        for pack in packs {
            pack.check()?;
        }
        let plain = (!packs.is_empty()).then(|| Box::new(Lexicon::new(&self.file, &[])));
        let mut reader = Self { plain, packs: packs.into(), ..self.clone() };
        reader.lexicon = reader.words_for(&Lineage::default());
        Ok(reader)
    }

    /// The words to read a label of one lineage with.
    pub(super) fn lexicon_for(&self, lineage: &Lineage<'_>) -> Cow<'_, Lexicon> {
        if self.packs.iter().any(|pack| pack.whose().speaks_of(lineage)) {
            Cow::Owned(self.words_for(lineage))
        } else {
            Cow::Borrowed(&self.lexicon)
        }
    }

    fn words_for(&self, lineage: &Lineage<'_>) -> Lexicon {
        let all = (0..=u8::MAX).zip(self.packs.iter());
        let used = |(_, pack): &(u8, &Spellings)| {
            let whose = pack.whose();
            !whose.names_somebody() || whose.speaks_of(lineage)
        };
        Lexicon::new(&self.file, &all.filter(used).collect::<Vec<_>>())
    }

    /// Everything that is wrong with a pack beside the built-in data: what
    /// [`Spellings::faults`] finds, texts that say something of a date, a lot or
    /// sterility (those no pack touches), and, where the pack does not name whose
    /// labels it reads, what is read without it already.
    #[must_use]
    pub fn spelling_faults(&self, pack: &Spellings) -> Vec<SpellingFault> {
        let mut faults = pack.faults();
        let theirs = self.fields.file().words();
        let touching = pack.texts().filter(|(_, text)| theirs.contains(&closed_up(text)));
        let why = "this word says something of a date, a lot or sterility; no pack changes that";
        faults.extend(touching.map(|(pointer, _)| SpellingFault::new(pointer, why)));
        if !pack.whose().names_somebody() {
            faults.extend(self.read_already(pack));
        }
        faults
    }

    /// What of a pack for every label is read without it.
    fn read_already(&self, pack: &Spellings) -> Vec<SpellingFault> {
        let why = |what: &str| {
            format!(
                "{what} without a pack; for one supplier it may stand in a pack that names whose \
                 labels it reads: `maker`, `gtin_prefix` or `reference_prefix`"
            )
        };
        let plain = self.plain.as_deref().unwrap_or(&self.lexicon);
        // A code may be put together of words that are known.
        let together = |text: &str| {
            let label = format!("0.30 5{text}").into_bytes();
            grammar::read(&label, &label, &[], plain).is_clear()
        };
        let known = pack
            .texts()
            .filter(|(at, text)| plain.knows(text) || at.starts_with("/code/") && together(text));
        let known = known.map(|(at, text)| (at, why(&format!("`{text}` is read"))));
        let sizes = pack.size.iter().enumerate();
        let sizes = sizes.filter(|(_, size)| plain.has_size(size.number));
        let sizes = sizes.map(|(n, size)| {
            (format!("/size/{n}/number"), why(&format!("#{} is read", size.number)))
        });
        let order = pack.count_first.then(|| {
            ("/count_first".to_owned(), why("four digits are read as diameter, then count,"))
        });
        let all = known.chain(sizes).chain(order);
        all.map(|(pointer, why)| SpellingFault::new(pointer, why)).collect()
    }

    /// The packs whose spellings a reading used, in the order of the reader.
    pub fn packs_of<'a>(&'a self, candidate: &'a Candidate) -> impl Iterator<Item = &'a str> {
        let used = |number: u8| candidate.because().contains(&Because::FromPack(number));
        (0..).zip(self.packs.iter()).filter(move |(number, _)| used(*number)).map(|(_, p)| &*p.name)
    }
}

/// A pack may settle what the built-in spellings leave open. Where those are clear
/// and a pack reads otherwise, both readings are shown and a person is asked.
pub(super) fn ask_where_they_differ(own: Interpreted, read: &mut Interpreted) {
    if !own.is_clear() {
        return;
    }
    let Some(theirs) = own.candidates.into_iter().next() else { return };
    let same = |c: &Candidate| c.configuration == theirs.configuration;
    if read.is_clear() && read.candidates.first().is_some_and(same) {
        return;
    }
    read.confirm = true;
    if !read.candidates.iter().any(same) {
        read.candidates.push(theirs);
    }
}
