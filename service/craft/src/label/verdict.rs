//! Print and symbol together: agreement, conflict, fitness, outcome.

use jiff::civil::Date;

use super::dates::last_of_month;
use super::fields::Seen;
use super::grammar::Interpreted;
use super::reading::{
    Because, Conflict, DateSaid, Fitness, FitnessReason, Origin, Outcome, Packet, Precision,
    Reading, Refusal, Said, Span,
};
use super::{SymbolData, TextData};

/// Puts one reading together.
pub(crate) fn judge(
    text: Option<TextData<'_>>,
    symbol: Option<SymbolData>,
    as_of: Date,
    longest_years: i16,
) -> Reading {
    let mut reading = Reading {
        outcome: Outcome::Refused,
        refusal: None,
        candidates: Vec::new(),
        packet: Packet::default(),
        expires_until: None,
        symbol: None,
        fitness: Fitness::default(),
        spans: Vec::new(),
        unread: Vec::new(),
        conflicts: Vec::new(),
    };
    let mut seen = Seen::default();
    let mut agreed = 0;
    let nothing = text.is_none() && symbol.is_none();
    let text_outcome = text.map(|text| take_text(text, &mut reading, &mut seen));
    let symbol_outcome = symbol.map(|symbol| take_symbol(symbol, &mut reading, &mut agreed));
    reading.outcome = match (text_outcome, symbol_outcome) {
        (Some(Outcome::Refused), Some(of_symbol)) => of_symbol,
        (Some(of_text), _) => of_text,
        (None, Some(of_symbol)) => of_symbol,
        (None, None) => Outcome::Refused,
    };
    if nothing {
        reading.refusal = Some(Refusal::Empty);
    }
    if 0 < agreed && reading.conflicts.is_empty() {
        for candidate in &mut reading.candidates {
            // A tenth of the doubt goes when the pack is known to be read right.
            candidate.certainty += (1.0 - candidate.certainty) * 0.1;
            candidate.because.push(Because::SymbolAgrees);
        }
    }
    fitness(&mut reading, seen, as_of, longest_years);
    reading
}

fn take_text(text: TextData<'_>, reading: &mut Reading, seen: &mut Seen) -> Outcome {
    let TextData { text, normal, refusal, fields, configuration } = text;
    let (Some(normal), Some(fields), Some(read)) = (normal, fields, configuration) else {
        reading.refusal = refusal;
        return Outcome::Refused;
    };
    *seen = fields.seen;
    reading.packet = fields.packet;
    let read_until = reading.packet.expires_on.as_ref().map(DateSaid::latest);
    let bound = fields.bound.unwrap_or(Date::MAX);
    reading.expires_until = read_until.map(|day| day.min(bound)).or(fields.until);
    if let (None, Some(pack)) = (&reading.packet.quantity, read.pack) {
        reading.packet.quantity = Some(Said { value: pack.into(), from: Origin::Text });
    }
    let outcome = outcome(&read, !fields.spans.is_empty());
    if outcome == Outcome::Refused {
        reading.refusal = Some(read.refusal.unwrap_or(Refusal::NotALabel));
    }
    let mut read = read;
    spans(fields.spans, std::mem::take(&mut read.spans), reading);
    let mut unread = read.unread;
    unread.extend(fields.unread);
    unread.sort_unstable();
    let sent = |(start, end)| normal.as_sent(text, start, end).to_owned();
    reading.unread.extend(unread.into_iter().map(sent));
    if outcome != Outcome::Refused {
        reading.candidates = read.candidates;
    }
    outcome
}

fn outcome(read: &Interpreted, has_fields: bool) -> Outcome {
    if read.refusal.is_some() {
        Outcome::Refused
    } else if read.candidates.is_empty() {
        if has_fields { Outcome::Incomplete } else { Outcome::Refused }
    } else if read.is_clear() {
        Outcome::Clear
    } else if read.candidates.len() == 1 && !read.confirm && !read.disturbed {
        Outcome::Incomplete
    } else {
        Outcome::Ambiguous
    }
}

/// Spans in characters of the text as sent.
fn spans(fields: Vec<Span>, mut read: Vec<Span>, reading: &mut Reading) {
    read.extend(fields);
    read.sort_unstable_by_key(|s| (s.start, s.end));
    reading.spans = read;
}

/// Merges what the symbol says; counts the fields on which both agree.
fn take_symbol(symbol: SymbolData, reading: &mut Reading, agreed: &mut u32) -> Outcome {
    let SymbolData { reading: read, mut packet, swallowed } = symbol;
    if let Some(swallowed) = swallowed {
        settle_swallowed(&swallowed, &mut packet, reading);
    }
    let until = [reading.expires_until, packet.expires_on.as_ref().map(DateSaid::latest)];
    let printed = reading.packet.expires_on.is_some();
    let mut merge =
        Merge { conflicts: &mut reading.conflicts, fitness: &mut reading.fitness, agreed };
    let own = &mut reading.packet;
    let scanned = packet.lot.as_ref().map(|said| said.value.clone());
    merge.words("lot", &mut own.lot, packet.lot);
    // Where the two differ, either may be right.
    let kept = own.lot.as_ref().map(|said| said.value.clone());
    own.other_lots.extend(scanned.filter(|code| Some(code) != kept.as_ref()));
    merge.words("gtin", &mut own.gtin, packet.gtin);
    merge.words("serial", &mut own.serial, packet.serial);
    merge.dates("expires_on", &mut own.expires_on, packet.expires_on);
    merge.dates("made_on", &mut own.made_on, packet.made_on);
    // A reference and a quantity may be of another packaging level: no conflict.
    own.reference = own.reference.take().or(packet.reference);
    own.quantity = own.quantity.take().or(packet.quantity);
    let differs = !printed || reading.conflicts.iter().any(|one| one.field == "expires_on");
    // Where print and symbol differ, the earlier of them is the bound.
    reading.expires_until = match until {
        [Some(print), Some(sent)] if differs => Some(print.min(sent)),
        [print, sent] => sent.or(print),
    };
    let faulty = !read.faults.is_empty();
    if faulty {
        reading.fitness.add(FitnessReason::SymbolFaulty);
    }
    reading.symbol = Some(read);
    if faulty { Outcome::Refused } else { Outcome::Incomplete }
}

/// A lot that ends like a date: print decides, or the pack is held.
fn settle_swallowed(
    swallowed: &super::elements::SwallowedDate,
    packet: &mut Packet,
    reading: &mut Reading,
) {
    let printed = match swallowed.field {
        "lot" => reading.packet.lot.as_ref(),
        "serial" => reading.packet.serial.as_ref(),
        _ => reading.packet.reference.as_ref(),
    };
    if printed.is_some_and(|p| same_word(&p.value, &swallowed.whole)) {
        return; // Print carries the long value too, so nothing was swallowed.
    }
    reading.fitness.add(FitnessReason::SwallowedSeparator);
    reading.conflicts.push(Conflict {
        field: swallowed.field.into(),
        text: printed.map_or_else(|| swallowed.own.clone(), |p| p.value.clone()),
        symbol: swallowed.whole.clone(),
    });
    if printed.is_some() {
        reading.fitness.add(FitnessReason::LabelConflict);
    }
    let own = Some(Said { value: swallowed.own.clone(), from: Origin::Symbol });
    match swallowed.field {
        "lot" => packet.lot = own,
        "serial" => packet.serial = own,
        _ => packet.reference = own,
    }
    if packet.expires_on.is_none() {
        packet.expires_on = Some(DateSaid {
            date: swallowed.date,
            precision: Precision::Day,
            also: Vec::new(),
            doubtful: true,
            repaired: false,
            from: Origin::Symbol,
        });
    }
}

struct Merge<'a> {
    conflicts: &'a mut Vec<Conflict>,
    fitness: &'a mut Fitness,
    agreed: &'a mut u32,
}

impl Merge<'_> {
    fn words(
        &mut self,
        field: &'static str,
        own: &mut Option<Said<String>>,
        symbol: Option<Said<String>>,
    ) {
        let Some(symbol) = symbol else { return };
        match own {
            // The symbol's letters are sure; OCR's are not.
            Some(text) if same_word(&text.value, &symbol.value) => {
                *self.agreed += 1;
                *own = Some(symbol);
            }
            Some(text) => {
                let text = text.value.clone();
                self.conflict(Conflict { field: field.into(), text, symbol: symbol.value });
            }
            None => *own = Some(symbol),
        }
    }

    fn conflict(&mut self, conflict: Conflict) {
        self.fitness.add(FitnessReason::LabelConflict);
        if !self.conflicts.iter().any(|known| known.field == conflict.field) {
            self.conflicts.push(conflict);
        }
    }

    /// The earlier of two that contradict each other counts.
    fn dates(&mut self, field: &'static str, own: &mut Option<DateSaid>, symbol: Option<DateSaid>) {
        let Some(symbol) = symbol else { return };
        let Some(text) = own else {
            *own = Some(symbol);
            return;
        };
        if same_date(text, &symbol) {
            *self.agreed += 1;
            // What print left open the symbol settles.
            *own = Some(symbol);
            return;
        }
        let (print, sent) = (text.date.to_string(), symbol.date.to_string());
        self.conflict(Conflict { field: field.into(), text: print, symbol: sent });
        if symbol.date < text.date {
            let later = text.date;
            *text = symbol;
            text.also.push(later);
        } else {
            text.also.push(symbol.date);
        }
    }
}

/// Equal but for case, blanks and what OCR takes for each other.
pub(super) fn same_word(text: &str, symbol: &str) -> bool {
    let fold = |t: &str| {
        let kept = t.bytes().filter(u8::is_ascii_alphanumeric);
        kept.map(|b| super::dates::digit_for(b.to_ascii_uppercase())).collect::<Vec<_>>()
    };
    fold(text) == fold(symbol)
}

/// One of the printed readings is the symbol's day, or both name one month
/// and one of them no day.
fn same_date(text: &DateSaid, symbol: &DateSaid) -> bool {
    let month = text.precision != Precision::Day || symbol.precision != Precision::Day;
    std::iter::once(&text.date).chain(&text.also).any(|day| {
        *day == symbol.date || month && last_of_month(*day) == last_of_month(symbol.date)
    })
}

/// Says whether the pack may be used on the day.
fn fitness(reading: &mut Reading, seen: Seen, as_of: Date, longest_years: i16) {
    let packet = &reading.packet;
    let mut fitness = reading.fitness;
    let longest = jiff::Span::new().years(longest_years);
    let outlasts =
        |from: Date, until: Date| from.checked_add(longest).is_ok_and(|last| last < until);
    if packet.made_on.as_ref().is_some_and(|made| as_of < made.date) {
        fitness.add(FitnessReason::ManufactureImprobable);
    }
    match &packet.expires_on {
        None => {
            fitness.add(FitnessReason::ExpiryUnknown);
            if seen.unread_expiry {
                fitness.add(FitnessReason::ExpiryUnreadable);
            }
            if seen.passed {
                fitness.add(FitnessReason::DateWithoutWord);
            }
        }
        Some(expiry) => {
            // Another word of expiry may stand for an earlier day.
            if seen.unread_expiry {
                fitness.add(FitnessReason::ExpiryUnreadable);
            }
            if expiry.date < as_of {
                fitness.add(FitnessReason::Expired);
            }
            if expiry.doubtful || !expiry.also.is_empty() {
                fitness.add(FitnessReason::AmbiguousExpiry);
            }
            if packet.made_on.as_ref().is_some_and(|made| expiry.date < made.date) {
                fitness.add(FitnessReason::DatesContradict);
            }
            if packet.made_on.as_ref().is_some_and(|made| outlasts(made.date, expiry.date)) {
                fitness.add(FitnessReason::ManufactureImprobable);
            }
            if outlasts(as_of, expiry.date) {
                fitness.add(FitnessReason::ExpiryImprobable);
            }
        }
    }
    for (said, reason) in [
        (seen.not_sterile, FitnessReason::NotSterile),
        (seen.damaged, FitnessReason::Damaged),
        (seen.unproven_word, FitnessReason::ExpiryWordUnproven),
        (seen.struck, FitnessReason::StruckOut),
        (seen.symbol_trace, FitnessReason::SymbolFaulty),
        (seen.two_lots, FitnessReason::LabelConflict),
        (seen.lot_open, FitnessReason::LotUnreadable),
        (seen.not_for_use, FitnessReason::NotForUse),
        (seen.reusable, FitnessReason::Reusable),
        (seen.notice, FitnessReason::CheckPack),
        (reading.outcome == Outcome::Refused, FitnessReason::Unreadable),
        (packet.sterilised_by.is_none() && !seen.not_sterile, FitnessReason::SterilityUnknown),
    ] {
        if said {
            fitness.add(reason);
        }
    }
    reading.fitness = fitness;
}
