//! What is printed on a packet besides the configuration.
//!
//! ```text
//! field    = word [ punctuation ] value       ; in any order, OCR variants read
//! word     = "LOT" / "REF" / "SN" / "EXP" / "USE BY" / "MFG" / "STERILE" …
//! quantity = 1*4DIGIT ( "PCS" / "PIECES" … ) / ( "QTY" / "BOX OF" … ) 1*4DIGIT
//! sterile  = "STERILE" [ "|" ] [ "EO" / "R" / "A" / "STEAM" ]
//! printed  = 2*( "(" ai ")" value )           ; the symbol's own text
//! ```
//!
//! Words come from `rules/label/fields.toml`. The word stays with its date,
//! since "use by" a month and EXP a month do not end on the same day.

mod pairs;
mod words;

use jiff::civil::Date;

use super::dates::{self, Precision, PrintedDate};
use super::gs1::{Gs1, check_digit_fits};
use super::normal::Normal;
use super::reading::{DateSaid, Method, Origin, Packet, Said, Span, SpanKind};
use super::tables::{Field, FieldFile, TableError};
use super::{MonthRule, Policy};
use words::Lists;

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
}

/// What was found.
#[derive(Debug, Clone, Default)]
pub(crate) struct Fields {
    pub(crate) packet: Packet,
    pub(crate) seen: Seen,
    /// In bytes of the folded text.
    pub(crate) spans: Vec<Span>,
    /// Stretches that are read, in order.
    pub(crate) taken: Vec<(usize, usize)>,
    /// Dates without a word, that no rule placed.
    pub(crate) unread: Vec<(usize, usize)>,
    /// Where the catalogue number stands.
    pub(crate) reference_at: Option<(usize, usize)>,
}

/// Reads fields.
#[derive(Debug, Clone)]
pub(crate) struct FieldReader {
    lists: Lists,
    file: FieldFile,
}

impl FieldReader {
    pub(crate) fn new(file: FieldFile) -> Result<Self, TableError> {
        let empty = |words: &[String]| {
            words.iter().any(|w| !w.starts_with(|c: char| c.is_ascii_uppercase()))
        };
        let bad = file.field.iter().any(|f| empty(&f.words))
            || file.method.iter().any(|m| empty(&m.words))
            || empty(&file.pieces.words);
        if bad {
            return Err(TableError::Row {
                file: "fields",
                row: "words".into(),
                why: "a word begins with a capital letter".into(),
            });
        }
        Ok(Self { lists: Lists::new(&file), file })
    }

    /// The scripts that are folded before anything else is read.
    pub(crate) fn file(&self) -> &FieldFile {
        &self.file
    }

    /// Finds every field of a text.
    pub(crate) fn read(&self, text: &Normal, gs1: &Gs1, as_of: Date, policy: Policy) -> Fields {
        let mut scan = Scan {
            reader: self,
            gs1,
            text,
            as_of,
            policy,
            found: Fields::default(),
            loose: Vec::new(),
            digits_in_chunk: false,
        };
        scan.run();
        scan.place_loose_dates();
        scan.found
    }
}

struct Scan<'a> {
    reader: &'a FieldReader,
    gs1: &'a Gs1,
    text: &'a Normal,
    as_of: Date,
    policy: Policy,
    found: Fields,
    /// Dates without a word: the date and where it stands.
    loose: Vec<(PrintedDate, usize, usize)>,
    digits_in_chunk: bool,
}

impl Scan<'_> {
    fn run(&mut self) {
        let up = self.text.up.as_slice();
        let mut at = 0;
        while at < up.len() {
            let byte = up[at];
            let begins = at == 0 || !up[at - 1].is_ascii_alphanumeric();
            if begins {
                self.digits_in_chunk = false;
            }
            let end = if byte.is_ascii_alphanumeric() {
                self.word(at, begins)
            } else if byte == b'(' && up.get(at + 1).is_some_and(u8::is_ascii_digit) {
                self.printed_elements(at)
            } else {
                None
            };
            self.digits_in_chunk |= byte.is_ascii_digit();
            at = end.unwrap_or(at).max(at + 1);
        }
    }

    /// A field that begins here; where it ends.
    fn word(&mut self, at: usize, begins: bool) -> Option<usize> {
        let up = self.text.up.as_slice();
        if !begins {
            // Glued to a configuration: only the words that cannot be codes.
            if !up[at].is_ascii_uppercase() {
                return None;
            }
            let (field, end) = self.reader.lists.fields.glued(up, at)?;
            let strong = match field {
                Field::Sterile | Field::NotSterile => true,
                Field::Lot | Field::ExpirySymbol | Field::Reference => {
                    let open = up.get(end).is_some_and(u8::is_ascii_alphabetic);
                    self.digits_in_chunk && 3 <= end - at && !open
                }
                Field::Serial
                | Field::Gtin
                | Field::Quantity
                | Field::ExpiryWords
                | Field::ExpiryFrom
                | Field::Made
                | Field::NotAgain
                | Field::SingleUse
                | Field::SamePatient
                | Field::Reusable
                | Field::Notice
                | Field::Damaged => false,
            };
            return if strong { self.field(field, at, end) } else { None };
        }
        if let Some((field, end, _)) = self.reader.lists.fields.at(up, at) {
            return self.field(field, at, end);
        }
        // A word with its value glued on: STERILEEO.
        if let Some((Field::Sterile, end)) = self.reader.lists.fields.glued(up, at) {
            return self.field(Field::Sterile, at, end);
        }
        if up[at].is_ascii_digit() {
            return self.pieces(at).or_else(|| self.loose_date(at));
        }
        let month = up.get(at..at + 3)?;
        let named = self.reader.file.month.iter().any(|m| m.words[0].as_bytes() == month);
        if named { self.loose_date(at) } else { None }
    }

    fn field(&mut self, field: Field, at: usize, end: usize) -> Option<usize> {
        let kind = match field {
            Field::Lot => return self.identity(at, end, SpanKind::Lot),
            Field::Reference => return self.identity(at, end, SpanKind::Reference),
            Field::Serial => return self.identity(at, end, SpanKind::Serial),
            Field::Gtin => return self.gtin(at, end),
            Field::Quantity => return self.quantity(at, end),
            Field::ExpirySymbol | Field::ExpiryWords | Field::ExpiryFrom | Field::Made => {
                return self.dated(field, at, end);
            }
            Field::Sterile => return Some(self.sterile(at, end)),
            Field::NotSterile => {
                self.found.seen.not_sterile = true;
                SpanKind::Sterility
            }
            Field::NotAgain => SpanKind::Notice,
            Field::Notice => {
                self.found.seen.notice = true;
                SpanKind::Notice
            }
            Field::Damaged => {
                self.found.seen.damaged = true;
                SpanKind::Damage
            }
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
        self.found.spans.push(Span { start, end, kind });
    }

    /// Where a value begins behind its word.
    fn value_at(&self, end: usize) -> usize {
        let skipped = |b: &&u8| {
            matches!(**b, b' ' | b':' | b'.' | b'#' | b'=' | b'-' | b'/' | b'|' | b']' | b'[')
        };
        end + self.text.up[end..].iter().take_while(skipped).count()
    }

    #[expect(clippy::wildcard_enum_match_arm, reason = "three of many kinds of span are codes")]
    fn identity(&mut self, at: usize, end: usize, kind: SpanKind) -> Option<usize> {
        let start = self.value_at(end);
        let up = &self.text.up;
        let part =
            |b: &&u8| b.is_ascii_alphanumeric() || matches!(**b, b'-' | b'.' | b'_' | b'/' | b'+');
        let len = up[start..].iter().take_while(part).count();
        let value = &self.text.raw[start..start + len];
        let trimmed =
            value.len() - value.iter().rev().take_while(|b| !b.is_ascii_alphanumeric()).count();
        // The next field's word is no value of this one.
        let word = self.reader.lists.fields.at(up, start).is_some_and(|(_, _, exact)| exact);
        if trimmed == 0 || word {
            return None;
        }
        let stop = start + trimmed;
        let value = said(String::from_utf8_lossy(&self.text.raw[start..stop]).into_owned());
        let packet = &mut self.found.packet;
        let slot = match kind {
            SpanKind::Lot => &mut packet.lot,
            SpanKind::Serial => &mut packet.serial,
            _ => {
                self.found.reference_at = Some((start, stop));
                &mut packet.reference
            }
        };
        if slot.is_none() {
            *slot = value;
        }
        self.take(at, stop, kind);
        Some(stop)
    }

    fn gtin(&mut self, at: usize, end: usize) -> Option<usize> {
        let start = self.value_at(end);
        let digits = digits(&self.text.up[start..]);
        let value = &self.text.up[start..start + digits];
        if !matches!(digits, 8 | 12 | 13 | 14) || !check_digit_fits(value) {
            return None;
        }
        self.found.packet.gtin = said(format!("{:0>14}", String::from_utf8_lossy(value)));
        self.take(at, start + digits, SpanKind::Gtin);
        Some(start + digits)
    }

    fn quantity(&mut self, at: usize, end: usize) -> Option<usize> {
        let start = self.value_at(end);
        let digits = digits(&self.text.up[start..]);
        if !(1..=4).contains(&digits) {
            return None;
        }
        let after = start + digits;
        let behind = after + usize::from(self.text.up.get(after) == Some(&b' '));
        let stop = self.reader.lists.pieces.at(&self.text.up, behind).map_or(after, |p| p.1);
        self.found.packet.quantity = said(number(&self.text.up[start..after]));
        self.take(at, stop, SpanKind::Quantity);
        Some(stop)
    }

    /// `20 PCS`.
    fn pieces(&mut self, at: usize) -> Option<usize> {
        let up = &self.text.up;
        let digits = digits(&up[at..]);
        if 4 < digits || (0 < at && up[at - 1] == b'.') {
            return None;
        }
        let after = at + digits;
        let behind = after + usize::from(matches!(up.get(after), Some(b' ' | b'/')));
        let (_, stop, _) = self.reader.lists.pieces.at(up, behind)?;
        self.found.packet.quantity = said(number(&up[at..after]));
        self.take(at, stop, SpanKind::Quantity);
        Some(stop)
    }

    fn sterile(&mut self, at: usize, end: usize) -> usize {
        let start = self.value_at(end);
        let start = start + usize::from(self.text.up.get(start) == Some(&b'('));
        let method = self.reader.lists.methods.at(&self.text.up, start).filter(|(m, _, _)| {
            // One letter is a method only in the box beside the word.
            start - end <= 3 || !matches!(m, Method::Irradiation | Method::Aseptic)
        });
        let (method, stop) = method.map_or((Method::NotTold, end), |(m, stop, _)| (m, stop));
        let known = self.found.packet.sterilised_by.as_ref().map(|s| s.value);
        if known.is_none_or(|known| known == Method::NotTold) {
            self.found.packet.sterilised_by = said(method);
        }
        self.take(at, stop, SpanKind::Sterility);
        stop
    }

    fn dated(&mut self, field: Field, at: usize, end: usize) -> Option<usize> {
        let start = self.value_at(end);
        let months = &self.reader.file.month;
        let made = field == Field::Made;
        let Some((date, len)) = dates::read(&self.text.up[start..], months, self.as_of) else {
            self.found.seen.unread_expiry |= !made && start < self.text.up.len();
            return None;
        };
        let said = date_said(&date, field, self.policy);
        let slot =
            if made { &mut self.found.packet.made_on } else { &mut self.found.packet.expires_on };
        match slot {
            None => *slot = Some(said),
            Some(known) if known.date == said.date => {}
            // Twice with two values: the earlier counts, and a person looks.
            Some(known) => {
                let (first, second) = (known.date.min(said.date), known.date.max(said.date));
                known.date = first;
                known.also.push(second);
                known.doubtful = true;
            }
        }
        let kind = if made { SpanKind::MadeOn } else { SpanKind::ExpiresOn };
        self.take(at, start + len, kind);
        Some(start + len)
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

/// The day a printed date stands for, with the word it was printed under.
fn date_said(date: &PrintedDate, field: Field, policy: Policy) -> DateSaid {
    let mut all = Vec::with_capacity(date.readings.len() + 1);
    for (day, precision) in &date.readings {
        let before = dates::last_of_month_before(*day);
        match (precision, field) {
            (Precision::Month, Field::Made) => all.push(day.first_of_month()),
            (Precision::Month, Field::ExpiryFrom) => all.push(before),
            (Precision::Month, Field::ExpiryWords) => match policy.words_month {
                MonthRule::Earlier => all.extend([before, *day]),
                MonthRule::EndOfMonth => all.push(*day),
                MonthRule::EndOfMonthBefore => all.push(before),
            },
            (Precision::Day, Field::ExpiryFrom) => all.push(day.yesterday().unwrap_or(*day)),
            _ => all.push(*day),
        }
    }
    all.sort_unstable();
    all.dedup();
    let first = all.first().copied().unwrap_or_default();
    DateSaid {
        date: first,
        precision: date.readings.first().map_or(Precision::Day, |r| r.1),
        also: all.split_off(1.min(all.len())),
        doubtful: date.doubtful || 1 < date.readings.len(),
        from: Origin::Text,
    }
}
