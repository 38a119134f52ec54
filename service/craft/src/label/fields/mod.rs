//! What is printed on a packet besides the configuration.
//!
//! ```text
//! field    = word [ punctuation ] value       ; in any order, OCR variants read
//! word     = "LOT" / "REF" / "SN" / "EXP" / "USE BY" / "MFG" / "STERILE" …
//! quantity = 1*4DIGIT ( "PCS" / "PIECES" … ) / ( "QTY" / "BOX OF" … ) 1*4DIGIT
//! dated    = word region                      ; up to the next field
//! printed  = 2*( "(" ai ")" value )           ; the symbol's own text
//! ```
//!
//! Words come from `rules/label/fields.toml`, in the languages that packets
//! carry. The word stays with its date, since "use by" a month and EXP a month
//! do not end on the same day. What the words about sterility say together is
//! judged at the end, in `sterile`.

mod around;
mod beside;
mod conditional;
mod denied;
mod elsewhere;
mod expiry;
mod general;
mod less;
pub(super) mod lists;
mod lot;
mod maker;
mod near;
mod own_word;
mod pairs;
mod region;
mod said;
mod stained;
mod sterile;
mod struck;
mod traces;
mod values;
pub(super) mod words;

use jiff::civil::Date;

use super::Policy;
use super::dates::{self, PrintedDate};
use super::fold::{Class, class};
use super::gs1::Gs1;
use super::normal::Normal;
use super::reading::{Origin, Packet, Said, Span, SpanKind};
use super::tables::{ConfigurationFile, Field, FieldFile, MonthFile};
use lists::{Context, Lists, Means};
use words::Found;

/// Remarks that only matter for fitness.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Seen {
    pub(crate) not_sterile: bool,
    pub(crate) damaged: bool,
    pub(crate) reusable: bool,
    pub(crate) notice: bool,
    /// A date that no word introduces and no rule placed lies before the day
    /// asked about: it may be the expiry.
    pub(crate) passed: bool,
    /// Something stood behind a word of expiry and was not read.
    pub(crate) unread_expiry: bool,
    /// The word of expiry is known from no source.
    pub(crate) unproven_word: bool,
    /// A word, or a negation that belongs to nothing, may say that it is not to be used.
    pub(crate) not_for_use: bool,
    /// Something is struck through, or has marks over it that are of no letter.
    pub(crate) struck: bool,
    /// Something looks like the data of a symbol and was not read as such.
    pub(crate) symbol_trace: bool,
    /// Two lots are printed, and a recall of either is meant for it.
    pub(crate) two_lots: bool,
    /// Something stands beside the code of a lot that may be a part of it.
    pub(crate) lot_open: bool,
}

/// What was found.
#[derive(Debug, Clone, Default)]
pub(crate) struct Fields {
    pub(crate) packet: Packet,
    pub(crate) seen: Seen,
    /// In places of the folded text.
    pub(crate) spans: Vec<Span>,
    /// Stretches that are read, in order.
    pub(crate) taken: Vec<(usize, usize)>,
    /// Dates that stand there and were not read.
    pub(crate) unread: Vec<(usize, usize)>,
    /// The latest day that the digits behind a word of expiry allow where they are no date.
    pub(crate) until: Option<Date>,
    /// The least of the days that the dates right behind words of expiry allow.
    pub(crate) bound: Option<Date>,
    /// Where the catalogue number stands.
    pub(crate) reference_at: Option<(usize, usize)>,
}

/// Reads fields.
#[derive(Debug, Clone)]
pub(crate) struct FieldReader {
    lists: Lists,
    dates: dates::Reader,
    file: FieldFile,
}

impl FieldReader {
    pub(crate) fn new(
        file: FieldFile,
        months: &MonthFile,
        configuration: &ConfigurationFile,
    ) -> Self {
        let dates = dates::Reader::new(months, &file.date);
        Self { lists: Lists::new(&file, configuration, &dates.months), dates, file }
    }

    /// Whether small letters stand for no code of a lot.
    pub(crate) fn is_no_code(&self, letters: &str) -> bool {
        self.lists.no_code.contains(letters)
    }

    /// The data.
    pub(crate) fn file(&self) -> &FieldFile {
        &self.file
    }

    /// Finds every field of a text.
    pub(crate) fn read(&self, text: &Normal, gs1: &Gs1, as_of: Date, policy: Policy) -> Fields {
        let words = self.words(&text.letters);
        let mut scan = Scan {
            reader: self,
            gs1,
            text,
            as_of,
            policy,
            found: Fields::default(),
            loose: Vec::new(),
            sterile: Vec::new(),
            speaks: dates::Languages::default(),
            heard: words
                .iter()
                .fold(dates::Languages::default(), |all, (_, word)| all.and(word.means.languages)),
            words,
            contexts: Vec::new(),
            notices: Vec::new(),
            open: expiry::Open::default(),
            period_months: None,
            chunk: None,
        };
        scan.contexts = scan.all_contexts();
        scan.notices = scan.all_conditional();
        scan.run();
        scan.place_period();
        let free = scan.claim_loose_dates();
        scan.place_loose_dates(free);
        scan.tell_stained();
        scan.tell_conditional();
        scan.tell_maker();
        scan.tell_elsewhere();
        scan.judge_sterility();
        scan.tell_negations();
        scan.tell_struck();
        scan.tell_traces();
        scan.found
    }

    /// All words of fields in a text, in order.
    fn words(&self, letters: &[char]) -> Vec<(usize, Found<Means>)> {
        let begun = (0..letters.len()).filter(|at| begins(letters, *at));
        begun.filter_map(|at| Some((at, self.lists.field(letters, at)?))).collect()
    }
}

struct Scan<'a> {
    reader: &'a FieldReader,
    gs1: &'a Gs1,
    text: &'a Normal,
    as_of: Date,
    policy: Policy,
    found: Fields,
    /// Every word of a field, and where it begins.
    words: Vec<(usize, Found<Means>)>,
    /// Every word, and what it says to those around it.
    contexts: Vec<(usize, usize, Option<Context>)>,
    /// Sentences under a condition, and where they end.
    notices: Vec<(usize, usize)>,
    /// Dates without a word: the date and where it stands.
    loose: Vec<(PrintedDate, usize, usize)>,
    /// Words about sterility, in order.
    sterile: Vec<sterile::Hit>,
    /// The languages of the label's words, from the first such word on.
    speaks: dates::Languages,
    /// The same, wherever they stand.
    heard: dates::Languages,
    /// Words of expiry without a date so far.
    open: expiry::Open,
    /// A shelf life in place of an expiry.
    period_months: Option<i16>,
    /// Where the present run of letters and digits begins, if it has a digit.
    chunk: Option<usize>,
}

/// Whether a word can begin here.
fn begins(text: &[char], at: usize) -> bool {
    let before = at.checked_sub(1).and_then(|i| text.get(i)).map_or(Class::Other, |c| class(*c));
    let here = text.get(at).map_or(Class::Other, |c| class(*c));
    here != Class::Other && (before == Class::Other || before == Class::Sign || here == Class::Sign)
}

impl Scan<'_> {
    fn run(&mut self) {
        let letters = self.text.letters.as_slice();
        let mut run = 0;
        let mut at = 0;
        while at < letters.len() {
            let here = class(letters[at]);
            if begins(letters, at) {
                run = at;
                self.chunk = None;
            }
            let end = match here {
                Class::Other => self.printed_elements_at(at),
                Class::Digit | Class::Letter | Class::Sign => self.word(at, begins(letters, at)),
            };
            if here == Class::Digit {
                self.chunk = Some(run);
            }
            at = end.unwrap_or(at).max(at + 1);
        }
    }

    fn printed_elements_at(&mut self, at: usize) -> Option<usize> {
        let letters = &self.text.letters;
        let bracket = letters[at] == '(' && letters.get(at + 1).is_some_and(char::is_ascii_digit);
        if bracket {
            return self.printed_elements(at);
        }
        // Signs such as the hourglass are words too.
        let found = self.reader.lists.field(letters, at)?;
        self.field(found.means, at, found.end)
    }

    /// A field that begins here; where it ends.
    fn word(&mut self, at: usize, begins: bool) -> Option<usize> {
        let letters = self.text.letters.as_slice();
        if !begins {
            return self.glued(at);
        }
        if let Ok(known) = self.words.binary_search_by_key(&at, |(start, _)| *start) {
            let (_, found) = self.words[known];
            return self.field(found.means, at, found.end);
        }
        // A word with its value glued on: STERILEEO.
        if let Some(found) = self.reader.lists.fields.glued(letters, at)
            && found.means.field == Field::Sterile
            && self.reader.lists.methods.at(letters, found.end).is_some()
        {
            return self.field(found.means, at, found.end);
        }
        if letters[at].is_ascii_digit() {
            return self.pieces(at).or_else(|| self.loose_date(at));
        }
        self.loose_date(at)
    }

    /// Glued to a configuration: only the words that cannot be codes.
    fn glued(&mut self, at: usize) -> Option<usize> {
        let letters = self.text.letters.as_slice();
        if class(letters[at]) != Class::Letter {
            return None;
        }
        let found = self.reader.lists.fields.glued(letters, at)?;
        let (field, end) = (found.means.field, found.end);
        let open = letters.get(end).is_some_and(|c| class(*c) == Class::Letter);
        let strong = match field {
            Field::NotSterile => true,
            Field::Sterile => {
                let closed = !open || self.reader.lists.methods.at(letters, end).is_some();
                closed && self.chunk.is_some_and(|from| self.is_configuration(from, at))
            }
            Field::Lot | Field::ExpirySymbol | Field::Reference => {
                self.chunk.is_some() && 3 <= end - at && !open
            }
            Field::Serial
            | Field::Gtin
            | Field::Quantity
            | Field::ExpiryWords
            | Field::ExpiryBefore
            | Field::ExpiryFrom
            | Field::ExpiryBehind
            | Field::Made
            | Field::Aside
            | Field::Sterilise
            | Field::NotAgain
            | Field::Known
            | Field::SingleUse
            | Field::SamePatient
            | Field::Reusable
            | Field::Notice
            | Field::Damaged
            | Field::Doubtful
            | Field::NotForUse => false,
        };
        if strong { self.field(found.means, at, end) } else { None }
    }

    fn field(&mut self, means: Means, at: usize, end: usize) -> Option<usize> {
        if means.languages.any() {
            self.speaks = self.heard;
        }
        let kind = match means.field {
            Field::Lot => return self.identity(at, end, SpanKind::Lot),
            Field::Reference => return self.identity(at, end, SpanKind::Reference),
            Field::Serial => return self.identity(at, end, SpanKind::Serial),
            Field::Gtin => return self.gtin(at, end),
            Field::Quantity => return self.quantity(at, end),
            Field::ExpirySymbol
            | Field::ExpiryWords
            | Field::ExpiryBefore
            | Field::ExpiryFrom
            | Field::Made
            | Field::Aside => return self.dated(means, at, end),
            Field::ExpiryBehind => return Some(self.dated_before(means, at, end)),
            Field::Sterile => return Some(self.claim(means, at, end)),
            Field::Sterilise => {
                self.sterile.push(sterile::Hit::new(at, end, sterile::Says::Verb));
                SpanKind::Sterility
            }
            Field::NotSterile => {
                self.sterile.push(sterile::Hit::new(at, end, sterile::Says::Not));
                SpanKind::Sterility
            }
            Field::NotAgain | Field::Known => SpanKind::Notice,
            Field::Notice => {
                if let Some(stop) = self.torn(at, end) {
                    let first = self.reader.lists.field(&self.text.letters[..stop], at)?;
                    return self.field(first.means, at, first.end);
                }
                if let Some((start, means)) = self.expiry_at_end(at, end) {
                    self.take(at, start, SpanKind::ExpiresOn);
                    return self.dated(means, start, end);
                }
                self.found.seen.notice = true;
                SpanKind::Notice
            }
            Field::Damaged => self.damage(at, end, true),
            Field::Doubtful => self.damage(at, end, false),
            Field::NotForUse => self.not_for_use(at, end),
            Field::SingleUse => {
                self.found.packet.single_use = said(true);
                SpanKind::SingleUse
            }
            Field::SamePatient | Field::Reusable => {
                self.found.packet.single_use = said(false);
                self.found.seen.reusable = true;
                SpanKind::SingleUse
            }
        };
        self.take(at, end, kind);
        Some(end)
    }

    fn take(&mut self, start: usize, end: usize, kind: SpanKind) {
        self.found.taken.push((start, end));
        self.found.spans.push(Span { start, end, kind: kind.into() });
    }
}

fn said<T>(value: T) -> Option<Said<T>> {
    Some(Said { value, from: Origin::Text })
}

fn digits(text: &[u8]) -> usize {
    text.iter().take_while(|b| b.is_ascii_digit()).count()
}

fn number(digits: &[u8]) -> u32 {
    digits.iter().fold(0, |n, b| n * 10 + u32::from(b - b'0'))
}
