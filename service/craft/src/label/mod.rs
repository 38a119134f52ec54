//! What a packet says.
//!
//! A packet carries print, typed by a person or read by OCR, and often a
//! symbol. The [`Reader`] turns both into readings with a certainty, never into
//! one pretended truth, and says whether the pack may be used on a given day.
//!
//! ```
//! use etui_craft::label::{Outcome, Policy, Printed, Reader};
//! let reader = Reader::builtin().unwrap();
//! let as_of = jiff::civil::date(2026, 11, 25);
//! let read = |text| reader.read(&Printed { text: Some(text), symbol: None }, as_of, Policy::default());
//! let one = read("1203RLST LOT 23A114 EXP 2027-08");
//! assert_eq!(one.outcome, Outcome::Clear);
//! assert_eq!(one.candidates[0].canonical(), "0.35 3RL ST");
//! assert_eq!(one.packet.expires_on.unwrap().date, jiff::civil::date(2027, 8, 31));
//! assert_eq!(read("103RL").outcome, Outcome::Ambiguous);
//! ```
//!
//! # The way of a label
//!
//! text → `normal` (fold, refuse) → `fields` (LOT, EXP … and what they take) →
//! `grammar` (the rest: lexer, numbers, groupings, repair);
//! symbol → `symbol` (carrier) → `gs1` or `hibc`; both → `verdict` (agreement,
//! conflict, fitness).
//!
//! # Grammar of a configuration
//!
//! After folding (full width to ASCII, dashes to `-`, lower case to upper):
//!
//! ```text
//! label     = canonical / ordinary / prong / tool / slang / label sep label ; twice the same
//! ordinary  = [ diameter sep ] count [sep] code *( sep / word )   ; 10-03RL, 3RL
//!           / digits4 [sep] code *( sep / word )                  ; 1003RL
//!           / digits3 [sep] code                                  ; 103RL, ambiguous
//!           / count [sep] code sep diameter                       ; 3RL 0.30, 3RL 10 ambiguous
//!           / code [sep] ( digits4 / count [ sep diameter ] / diameter sep count )
//! prong     = count "PRONG" [ sep diameter ]
//! tool      = [ diameter sep ] pins [sep] ( "BLADE" / "FLEX" / "PINS" / "U" )
//! slang     = ordinary sep ( "BUGPIN" / "BP" / "STANDARD" / "NANO" )
//! diameter  = numbered / millimetre / inch / gauge / zeros ; or two that agree
//! numbered  = "#" *SP 1*2DIGIT / 1*2DIGIT ( "#" / "'S" )      ; size number
//!           / ( "NO" / "NR" / "SIZE" … ) *( "." / ":" / SP ) 1*2DIGIT
//!           / 2DIGIT                            ; size number, or hundredths 18 20 22 25 30 35 40 45
//!           / ( "6" / "8" )                     ; size number before a separate count
//! millimetre = [ "0" / diasign ] ( "." / "," ) 1*DIGIT [ *SP "MM" ] / 3DIGIT [ *SP "UM" ]
//! inch      = "0." 3*DIGIT [ *SP ( "IN" / DQUOTE … ) ] / "0" 2DIGIT / 1*2DIGIT *SP ( "THOU" / "MIL" )
//! gauge     = 2DIGIT *SP ( "G" / "GA" / "GAUGE" ) / ( "G" / "GAUGE" SP ) 2DIGIT ; ambiguous
//! zeros     = 1*3"0"                            ; slang, ambiguous
//! digits4   = 2DIGIT 2DIGIT                     ; diameter, count
//! digits3   = 3DIGIT                            ; 2 + 1 or 1 + 2
//! count     = 1*2DIGIT                          ; 1 to 49
//! code      = "RL" / "RS" / "M1" / …            ; rules/label/configuration.toml, longest first
//!           / "R" SP "L" …                      ; the same letter by letter
//! word      = taper / mark / pack-word / shaft / ( "X" / "*" ) pieces
//! shaft     = number *SP "MM"                   ; from 4 mm on
//! sep       = *( SP / "-" / "/" / "_" / "," / ";" / ":" / "|" )
//! ```
//!
//! `canonical` is exact and always clear: see `grammar::canonical`. What is
//! missing stays missing. What no rule places makes a label ambiguous, and so does
//! every sign that is no separator; what the first reading does not use is told
//! as unread. Every number that is not a word (how sure a reading is, inches,
//! usual counts) is rule data with its source: `grammar::parameters`.

mod basis;
mod because;
pub(crate) mod code_lists;
mod date_words;
mod dates;
mod elements;
mod faults;
mod fields;
pub(crate) mod fold;
mod grammar;
pub(crate) mod gs1;
mod hibc;
mod lineage;
pub(crate) mod lookalike;
mod normal;
mod packs;
mod question;
mod reading;
mod spellings;
mod symbol;
pub(crate) mod tables;
mod verdict;

pub use basis::Topics;
pub use etui_schema::vocabulary::label::MonthRule;
pub use lineage::{Lineage, Whose};
pub use question::Question;
pub use reading::*;
pub use spellings::{SpellingFault, Spellings};
pub use tables::{Code, Note, Size, TaperWord};

use crate::evidence::Basis;
use crate::rules::RuleFault;
use crate::text::{Catalogue, Voice};
use basis::Origins;
use etui_schema::vocabulary::Language;
use fields::{FieldReader, Fields};
use grammar::{Interpreted, Lexicon};
use gs1::Gs1;
use jiff::civil::Date;
use normal::Normal;
use std::borrow::Cow;
use std::sync::Arc;
use symbol::SymbolData;
use tables::{ConfigurationFile, Files};

/// What is on a packet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Printed<'a> {
    /// What is printed, typed or read by OCR; up to 2,000 characters.
    pub text: Option<&'a str>,
    /// What the scanner sent, untrimmed; up to 4,096 bytes.
    pub symbol: Option<&'a str>,
}

/// What a studio may decide about reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Policy {
    /// Month-only dates under words.
    pub words_month: MonthRule,
}

/// The label reader: all tables, ready.
#[derive(Debug, Clone)]
pub struct Reader {
    file: ConfigurationFile,
    /// The built-in words with those that packs add for every label.
    lexicon: Lexicon,
    /// The built-in words alone, where packs have added to them.
    plain: Option<Box<Lexicon>>,
    packs: Arc<[Spellings]>,
    fields: FieldReader,
    gs1: Gs1,
    texts: Catalogue,
    origins: Origins,
}

impl Reader {
    /// The reader with the tables compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if a table is unreadable, names an unknown source, or a
    /// question has no text.
    pub fn builtin() -> Result<Self, RuleFault> {
        let Files { configuration, fields, months, lists, ais, origins } = Files::builtin()?;
        Ok(Self {
            lexicon: Lexicon::new(&configuration, &[]),
            fields: FieldReader::new(fields, &months, &configuration),
            plain: None,
            packs: Arc::default(),
            file: configuration,
            texts: because::texts(ais.titles())?,
            gs1: Gs1 { table: ais, lists },
            origins,
        })
    }

    /// The questions that [`FitnessReason::question`] and [`Reading::question`] lead to.
    #[must_use]
    pub fn texts(&self) -> &Catalogue {
        &self.texts
    }

    /// The same in one language; [`Because::says`] is told in it.
    #[must_use]
    pub const fn voice(&self, language: Language) -> Voice<'_> {
        self.texts.voice(language)
    }

    /// Whether small letters, typed where the code of a lot is asked for, say that there is none.
    #[must_use]
    pub fn is_no_code(&self, letters: &str) -> bool {
        self.fields.is_no_code(letters)
    }

    /// Why nothing is read, and what to do.
    #[must_use]
    pub fn refusal(&self, language: Language, code: Refusal) -> String {
        self.texts.fill(language, &because::refusal_key(code), &[])
    }

    /// Where the values of readings come from, each source once.
    #[must_use]
    pub fn basis(&self, topics: Topics) -> Vec<Basis> {
        self.origins.of(topics)
    }

    /// Reads one label as of a day.
    #[must_use]
    pub fn read(&self, printed: &Printed<'_>, as_of: Date, policy: Policy) -> Reading {
        self.read_from(&Lineage::default(), printed, as_of, policy)
    }

    /// Reads one label of which it is told whose it is. What the label says of that
    /// itself counts too.
    #[must_use]
    pub fn read_from(
        &self,
        told: &Lineage<'_>,
        printed: &Printed<'_>,
        as_of: Date,
        policy: Policy,
    ) -> Reading {
        let symbol = printed
            .symbol
            .map(|text| symbol::read(text, &self.gs1, &self.fields.file().swallowed, as_of));
        let known = [Some(*told), symbol.as_ref().map(|symbol| symbol.packet.lineage())];
        let text = printed.text.map(|text| self.read_text(text, known, as_of, policy));
        verdict::judge(text, symbol, as_of, self.fields.file().shelf_life.longest_years)
    }

    /// The latest last day of use that a pack may have on a day: none lasts longer.
    #[must_use]
    pub fn latest_expiry(&self, as_of: Date) -> Date {
        let longest = jiff::Span::new().years(self.fields.file().shelf_life.longest_years);
        as_of.checked_add(longest).unwrap_or(Date::MAX)
    }

    /// Reads element strings without anything else: how many elements and how
    /// many faults. For measuring and for fuzzing.
    #[must_use]
    pub fn count_elements(&self, symbol: &str) -> (usize, usize) {
        symbol::count_elements(symbol, &self.gs1)
    }

    fn read_text<'t>(
        &self,
        text: &'t str,
        known: [Option<Lineage<'_>>; 2],
        as_of: Date,
        policy: Policy,
    ) -> TextData<'t> {
        let mut data =
            TextData { text, normal: None, refusal: None, fields: None, configuration: None };
        let latin = lookalike::latin(text);
        let normal = match Normal::fold(text, &latin) {
            Ok(normal) => normal,
            Err(refusal) => {
                data.refusal = Some(refusal);
                return data;
            }
        };
        let mut fields = self.fields.read(&normal, &self.gs1, as_of, policy);
        fields.taken.sort_unstable();
        let known = known.into_iter().flatten().chain([fields.packet.lineage()]);
        let lexicon = self.lexicon_for(&Lineage::agreed(known));
        let mut read = grammar::read(&normal.raw, &normal.up, &fields.taken, &lexicon);
        if let Some(plain) = &self.plain {
            let own = grammar::read(&normal.raw, &normal.up, &fields.taken, plain);
            packs::ask_where_they_differ(own, &mut read);
        }
        if read.candidates.is_empty() && read.refusal.is_none() {
            self.read_reference(&normal, &fields, &lexicon, &mut read);
        }
        if fields.seen.unread_expiry && fields.until.is_none() {
            let unread = fields.unread.iter().chain(&read.unread);
            fields.until =
                unread.filter_map(|(from, to)| dates::last_year(&normal.letters[*from..*to])).max();
        }
        if matches!(latin, Cow::Owned(_)) {
            note_other_alphabets(text, &mut read);
        }
        data.normal = Some(normal);
        data.fields = Some(fields);
        data.configuration = Some(read);
        data
    }

    /// A catalogue number is often the configuration itself.
    fn read_reference(
        &self,
        normal: &Normal,
        fields: &Fields,
        lexicon: &Lexicon,
        read: &mut Interpreted,
    ) {
        let Some((start, end)) = fields.reference_at else { return };
        let (raw, up) = (&normal.raw[start..end], &normal.up[start..end]);
        let own = grammar::read(raw, up, &[], lexicon);
        let told = own
            .candidates
            .first()
            .is_some_and(|c| c.configuration.grouping.is_some() && c.configuration.count.is_some());
        if !told || own.refusal.is_some() || own.disturbed {
            return;
        }
        read.candidates = own.candidates;
        for candidate in &mut read.candidates {
            candidate.because.push(Because::FromReference);
            candidate.certainty *= lexicon.sure.reference;
        }
        read.confirm = true;
    }
}

/// A letter of another alphabet inside the configuration is asked about.
fn note_other_alphabets(text: &str, read: &mut Interpreted) {
    let sent: Vec<char> = text.chars().collect();
    let foreign = |span: &Span| {
        sent.get(span.start..span.end)
            .is_some_and(|part| part.iter().any(|c| lookalike::is_letter(*c)))
    };
    if read.spans.iter().any(foreign) {
        read.confirm = true;
        for candidate in &mut read.candidates {
            candidate.because.push(Because::OtherAlphabet);
        }
    }
}

/// What the text said, before it is held against the symbol.
pub(crate) struct TextData<'t> {
    text: &'t str,
    normal: Option<Normal>,
    refusal: Option<Refusal>,
    fields: Option<Fields>,
    configuration: Option<Interpreted>,
}
