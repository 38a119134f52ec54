//! From tokens to readings: one code, its numbers, its taper, its marks.

use etui_schema::vocabulary::{Configuration, Grouping, Taper};

use super::lexer::{Tok, Token, Tokens};
use super::lexicon::{Lexicon, Thousandths};
use super::numbers::{Assigned, Numbers, Placed, Stretch};
use crate::label::reading::{Because, Candidate, Reasons, Refusal, Span, SpanKind};
use crate::label::tables::{Mark, Note};

/// What came of a stretch of text.
#[derive(Debug, Clone, Default)]
pub(crate) struct Interpreted {
    /// Readings, best first.
    pub(crate) candidates: Vec<Candidate>,
    /// Whether a person must confirm even a single reading.
    pub(crate) confirm: bool,
    /// Whether something stands there that no rule places.
    pub(crate) disturbed: bool,
    /// Why nothing can be read.
    pub(crate) refusal: Option<Refusal>,
    /// The quantity in the pack, if the first reading has one.
    pub(crate) pack: Option<u8>,
    /// What was read as what, in bytes of the folded text.
    pub(crate) spans: Vec<Span>,
    /// Tokens that mean nothing.
    pub(crate) unread: Vec<Stretch>,
}

impl Interpreted {
    /// One complete reading with nothing to ask.
    pub(crate) fn is_clear(&self) -> bool {
        !self.confirm && !self.disturbed && self.candidates.len() == 1 && self.is_complete()
    }

    /// Whether the first reading has everything.
    pub(crate) fn is_complete(&self) -> bool {
        self.candidates.first().is_some_and(|c| c.missing().next().is_none())
    }
}

/// The tokens, sorted by what they are.
struct Parts {
    code: Option<(u16, Stretch)>,
    taper: Option<(Taper, Stretch)>,
    before: Vec<Placed>,
    after: Vec<Placed>,
    marks: u32,
    times: bool,
    /// A number between two codes, and one before the first.
    two_labels: bool,
    contradiction: bool,
    disturbed: bool,
    unread: Vec<Stretch>,
    spans: Vec<Span>,
}

impl Parts {
    fn has(&self, mark: Mark) -> bool {
        self.marks >> mark as u32 & 1 == 1
    }

    fn numbers(&self) -> Vec<Placed> {
        self.before.iter().chain(&self.after).copied().collect()
    }

    fn sort(tokens: &Tokens, lexicon: &Lexicon) -> Self {
        let mut parts = Self {
            code: None,
            taper: None,
            before: Vec::with_capacity(3),
            after: Vec::new(),
            marks: 0,
            times: false,
            two_labels: false,
            contradiction: false,
            disturbed: tokens.overflow,
            unread: Vec::new(),
            spans: Vec::with_capacity(4),
        };
        for (i, token) in tokens.all.iter().enumerate() {
            let before = i.checked_sub(1).and_then(|i| tokens.all.get(i));
            parts.token(token, before, tokens.all.get(i + 1), lexicon);
        }
        parts
    }

    fn span(&mut self, at: Stretch, kind: SpanKind) {
        self.spans.push(Span { start: at.0, end: at.1, kind });
    }

    fn token(
        &mut self,
        token: &Token,
        before: Option<&Token>,
        next: Option<&Token>,
        lexicon: &Lexicon,
    ) {
        let at = (token.start, token.end);
        match token.tok {
            Tok::Num(num) => {
                let touches = next.is_some_and(|n| n.glued);
                let placed = Placed { num, start: at.0, end: at.1, touches };
                match self.code {
                    None => self.before.push(placed),
                    Some(_) => self.after.push(placed),
                }
            }
            Tok::Code(code) => self.take_code(code, at, lexicon),
            Tok::Taper(taper) => {
                self.contradiction |= self.taper.is_some_and(|(known, _)| known != taper);
                self.taper.get_or_insert((taper, at));
                self.span(at, SpanKind::Taper);
            }
            Tok::Mark(mark) => {
                if mark == Mark::Times {
                    // Between two numbers, or it is a piece of something else.
                    let left = before.is_some_and(|t| matches!(t.tok, Tok::Num(_) | Tok::Code(_)));
                    let right = next.is_some_and(|t| matches!(t.tok, Tok::Num(_)));
                    self.times = left && right;
                    self.disturbed |= !self.times;
                }
                self.marks |= 1 << mark as u32;
                self.span(at, SpanKind::Mark);
            }
            Tok::Noise => self.span(at, SpanKind::PackWord),
            Tok::Unknown => {
                // Long words are a maker's text; short ones may be a broken code.
                let lone = !token.glued && next.is_none_or(|n| !n.glued);
                self.disturbed |= !lone || token.end - token.start < 4;
                self.unread.push(at);
            }
        }
    }

    fn take_code(&mut self, code: u16, at: Stretch, lexicon: &Lexicon) {
        let Some((known, known_at)) = self.code else {
            self.code = Some((code, at));
            self.span(at, SpanKind::Grouping);
            return;
        };
        let text = |c: u16| &lexicon.codes[usize::from(c)];
        let same = text(known).grouping == text(code).grouping;
        let word = |at: Stretch| 4 <= at.1 - at.0;
        self.span(at, SpanKind::Grouping);
        // A code and its word in full say the same thing twice.
        if same && (word(at) || word(known_at)) {
            if text(known).confirm && !text(code).confirm {
                self.code = Some((code, known_at));
            }
            return;
        }
        self.two_labels |= !self.before.is_empty() && !self.after.is_empty();
        self.contradiction = true;
    }
}

/// Reads tokens.
pub(crate) fn interpret(tokens: &Tokens, lexicon: &Lexicon) -> Interpreted {
    let mut parts = Parts::sort(tokens, lexicon);
    let mut result = Interpreted {
        disturbed: parts.disturbed || parts.contradiction,
        unread: std::mem::take(&mut parts.unread),
        ..Interpreted::default()
    };
    if parts.two_labels {
        result.refusal = Some(Refusal::SeveralLabels);
    } else if filiform(&parts) {
        result.refusal = Some(Refusal::Filiform);
    } else {
        read_parts(&mut parts, tokens, lexicon, &mut result);
    }
    result.spans = parts.spans;
    result
}

/// Notes with every reading the packs whose words stand in the text.
pub(crate) fn name_packs(up: &[u8], tokens: &Tokens, lexicon: &Lexicon, read: &mut Interpreted) {
    if lexicon.packs().is_empty() {
        return;
    }
    for token in &tokens.all {
        if !matches!(token.tok, Tok::Code(_) | Tok::Taper(_) | Tok::Noise) {
            continue;
        }
        let Some(pack) = lexicon.pack_of(up, (token.start, token.end)) else { continue };
        for candidate in &mut read.candidates {
            candidate.because.push(Because::FromPack(pack));
        }
    }
}

/// `0.30x40`: diameter x length, without a grouping or with a unit.
fn filiform(parts: &Parts) -> bool {
    let numbers = parts.numbers();
    let [a, b] = numbers.as_slice() else { return false };
    let long = b.num.small().is_some_and(|n| 13 <= n)
        || b.num.is_literal() && b.num.decimals == 0 && 13 <= b.num.value;
    parts.times && parts.code.is_none() && a.num.is_literal() && long
}

fn read_parts(parts: &mut Parts, tokens: &Tokens, lexicon: &Lexicon, result: &mut Interpreted) {
    let mut numbers = Numbers::new(lexicon);
    let pins = parts.code.is_some_and(|(code, _)| lexicon.codes[usize::from(code)].pins);
    let prong = parts.has(Mark::Prong) && parts.code.is_none();
    let lone = parts.has(Mark::Single) || parts.has(Mark::Nano);
    if pins {
        numbers.pins(&parts.numbers());
    } else if prong || (lone && parts.code.is_none()) {
        prongs(parts, prong, &mut numbers);
    } else if parts.code.is_some() {
        numbers.around(&parts.before, &parts.after, parts.times);
    } else {
        numbers.alone(&parts.before);
    }
    result.disturbed |= parts.has(Mark::Prong) && parts.code.is_some();
    result.disturbed |= numbers.left_over;
    let nothing = parts.code.is_none() && parts.taper.is_none() && parts.before.is_empty();
    if nothing && parts.marks == 0 {
        return;
    }
    if numbers.no_size && numbers.found.is_empty() {
        result.refusal = Some(Refusal::NoSuchSize);
        return;
    }
    if numbers.found.is_empty() {
        result.disturbed = true;
        numbers.found.push(Assigned { confirm: true, weight: 0.2, ..Assigned::NOTHING });
    }
    let found = numbers.found;
    spans_of(&found[0], &mut parts.spans);
    result.pack = found[0].pack;
    let by_word = prong || lone;
    if parts.has(Mark::Bugpin) || parts.has(Mark::Standard) {
        for assigned in slang(parts, &found) {
            push_groupings(parts, tokens, lexicon, &assigned, by_word, result);
        }
    } else {
        for assigned in &found {
            push_groupings(parts, tokens, lexicon, assigned, by_word, result);
        }
    }
    result.candidates.sort_by(|a, b| b.certainty.total_cmp(&a.certainty));
    // A word that means nothing may be what is missing.
    result.disturbed |= !result.unread.is_empty() && !result.is_complete();
}

/// `1 prong 0.30`, `single 0.18`, `nano 0.18`: the count is in the word.
fn prongs(parts: &Parts, prong: bool, numbers: &mut Numbers<'_>) {
    let all = parts.numbers();
    if prong {
        // The number in front of the word is the count.
        match all.as_slice() {
            [count] => numbers.around(&[*count], &[], false),
            [a, b] if b.num.is_literal() => numbers.around(&[*b, *a], &[], false),
            [a, b] => numbers.around(&[*a, *b], &[], false),
            _ => {}
        }
        return;
    }
    numbers.alone(&all);
    for assigned in &mut numbers.found {
        if assigned.count.is_none() {
            assigned.count = Some(1);
        }
    }
}

fn spans_of(assigned: &Assigned, spans: &mut Vec<Span>) {
    for (at, kind) in [(assigned.at.0, SpanKind::Diameter), (assigned.at.1, SpanKind::Count)] {
        if at.0 < at.1 {
            spans.push(Span { start: at.0, end: at.1, kind });
        }
    }
    spans.sort_unstable_by_key(|s| s.start);
}

/// Words that stand for a diameter, or that agree with one.
fn slang(parts: &Parts, found: &[Assigned]) -> Vec<Assigned> {
    let words: &[(Mark, Because, [Thousandths; 2])] = &[
        // Slang of the trade, common practice: strict sense first.
        (Mark::Bugpin, Because::Bugpin, [250, 300]),
        (Mark::Standard, Because::Standard, [350, 300]),
    ];
    let mut out = Vec::with_capacity(found.len());
    for assigned in found {
        let mut assigned = *assigned;
        let mut spread = false;
        for (mark, reason, diameters) in words.iter().filter(|w| parts.has(w.0)) {
            match assigned.diameter {
                None if assigned.count.is_some() || parts.code.is_some() => {
                    spread = true;
                    for (i, mm) in diameters.iter().enumerate() {
                        let weight = assigned.weight * if i == 0 { 0.6 } else { 0.5 };
                        let mut read =
                            Assigned { diameter: Some(*mm), weight, confirm: true, ..assigned };
                        read.because.push(*reason);
                        out.push(read);
                    }
                }
                Some(mm) if *mark == Mark::Bugpin && mm <= 300 => {
                    assigned.because.push(Because::BugpinAgrees);
                }
                Some(_) if *mark == Mark::Bugpin => {
                    assigned.because.push(Because::BugpinContradicts);
                    assigned.confirm = true;
                    assigned.weight *= 0.6;
                }
                _ => assigned.because.push(*reason),
            }
        }
        if !spread {
            out.push(assigned);
        }
    }
    out
}

/// One assignment with every grouping its code may mean.
fn push_groupings(
    parts: &Parts,
    tokens: &Tokens,
    lexicon: &Lexicon,
    assigned: &Assigned,
    by_word: bool,
    result: &mut Interpreted,
) {
    let taper = parts.taper.map(|t| t.0);
    let mut draft =
        Draft { assigned: *assigned, taper, grouping: None, note: None, confirm: false };
    let Some((code, _)) = parts.code else {
        if by_word {
            draft.grouping = Some(Grouping::Round);
            draft.note = Some(Because::RoundAlone);
            if assigned.count == Some(1) {
                draft.grouping = Some(Grouping::RoundLiner);
                draft.note = Some(Because::Single);
            }
            let told = draft.grouping == Some(Grouping::RoundLiner);
            draft.confirm = parts.has(Mark::Nano) || !told;
            if parts.has(Mark::Nano) {
                draft.note = Some(Because::Nano);
            }
        }
        draft.push(lexicon, result);
        return;
    };
    let row = &lexicon.codes[usize::from(code)];
    draft.grouping = Some(row.grouping);
    draft.note = row.note.map(reason);
    draft.confirm = row.confirm;
    if tokens.magnum_digit {
        draft.assigned.because.push(Because::MagnumDigit);
        draft.assigned.confirm = true;
    }
    if let Some((other, other_taper)) = tokens.cut_otherwise {
        draft.assigned.because.push(Because::CutOtherwise);
        draft.assigned.confirm = true;
        draft.push(lexicon, result);
        let other = &lexicon.codes[usize::from(other)];
        draft.grouping = Some(other.grouping);
        draft.taper = other_taper;
        draft.assigned.weight *= 0.8;
        draft.push(lexicon, result);
        return;
    }
    draft.push(lexicon, result);
    // What the code may mean besides; not for a label that lacks more anyway
    // and whose only question would be this one.
    let lacks = assigned.diameter.is_none() || assigned.count.is_none();
    if row.also_taper.is_none() && lacks && row.grouping == Grouping::Round {
        return;
    }
    for also in &row.also {
        let mut other = draft;
        other.grouping = Some(*also);
        other.taper = taper.or(row.also_taper);
        other.assigned.weight *= 0.45;
        other.push(lexicon, result);
    }
}

/// A candidate in the making.
#[derive(Clone, Copy)]
struct Draft {
    assigned: Assigned,
    taper: Option<Taper>,
    grouping: Option<Grouping>,
    note: Option<Because>,
    /// Whether the grouping itself should be confirmed.
    confirm: bool,
}

impl Draft {
    fn push(&self, lexicon: &Lexicon, result: &mut Interpreted) {
        let mut because = self.assigned.because;
        let mut weight = self.assigned.weight;
        let mut confirm = self.assigned.confirm;
        if let Some(note) = self.note {
            because.push(note);
            weight *= if self.confirm { 0.75 } else { 0.95 };
        }
        let lacks = self.assigned.diameter.is_none() || self.assigned.count.is_none();
        // "liner or shader" waits until the rest is known.
        let only_round = lacks && matches!(self.grouping, Some(Grouping::Round));
        confirm |= self.confirm && !only_round;
        if let (Some(grouping), Some(count)) = (self.grouping, self.assigned.count)
            && !lexicon.is_usual(grouping, count)
        {
            let magnum = matches!(
                grouping,
                Grouping::WovenMagnum
                    | Grouping::StackedMagnum
                    | Grouping::CurvedMagnum
                    | Grouping::Magnum
            );
            let even = magnum && count.is_multiple_of(2);
            because.push(if even {
                Because::EvenMagnum(count)
            } else {
                Because::UnusualCount(count)
            });
            weight *= 0.7;
            confirm = true;
        }
        if result.disturbed {
            because.push(Because::Beside);
            weight *= 0.5;
        }
        let configuration = Configuration {
            diameter_mm: self.assigned.diameter.map(|mm| f64::from(mm) / 1000.0),
            count: self.assigned.count,
            grouping: self.grouping,
            taper: self.taper,
        };
        push_candidate(
            &mut result.candidates,
            Candidate {
                configuration,
                certainty: weight.clamp(0.01, 0.99),
                tight: self.note == Some(Because::Tight),
                because,
            },
        );
        result.confirm |= confirm;
    }
}

/// Adds a candidate; of two with one configuration the surer stays.
pub(crate) fn push_candidate(candidates: &mut Vec<Candidate>, new: Candidate) {
    match candidates.iter_mut().find(|c| c.configuration == new.configuration) {
        Some(known) if known.certainty < new.certainty => *known = new,
        Some(_) => {}
        None => candidates.push(new),
    }
}

fn reason(note: Note) -> Because {
    match note {
        Note::Tight => Because::Tight,
        Note::TightOrTextured => Because::TightOrTextured,
        Note::LinerAlone => Because::LinerAlone,
        Note::ShaderAlone => Because::ShaderAlone,
        Note::RoundAlone => Because::RoundAlone,
        Note::MagnumAlone => Because::MagnumAlone,
        Note::ShaderOrSlope => Because::ShaderOrSlope,
        Note::StraightMagnum => Because::StraightMagnum,
        Note::HollowOrHard => Because::HollowOrHard,
        Note::RoundMagnum => Because::RoundMagnum,
        Note::HandTool => Because::HandTool,
        Note::StackedAlone => Because::StackedAlone,
    }
}

/// The reasons of a canonical text.
pub(crate) fn exactly() -> Reasons {
    let mut because = Reasons::NONE;
    because.push(Because::Canonical);
    because
}
