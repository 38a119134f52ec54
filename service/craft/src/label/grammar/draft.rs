//! Candidates in the making: an assignment of numbers, and what its code means.

use etui_schema::vocabulary::{Configuration, Grouping, Taper};

use super::interpret::Interpreted;
use super::lexer::Tokens;
use super::lexicon::Lexicon;
use super::numbers::Assigned;
use super::parts::Parts;
use crate::label::reading::{Because, Candidate};
use crate::label::tables::{Mark, Note};

/// One assignment with every grouping its code may mean.
pub(super) fn push_groupings(
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
            draft.note = Some(Because::Noted(Note::RoundAlone));
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
    draft.note = row.note.map(Because::Noted);
    draft.confirm = row.confirm;
    if parts.t_alone {
        draft.assigned.because.push(Because::TAlone);
        draft.assigned.confirm = true;
    }
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
        draft.assigned.weight *= lexicon.sure.other_cut;
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
        other.assigned.weight *= lexicon.sure.other_meaning;
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
            weight *=
                if self.confirm { lexicon.sure.open_code } else { lexicon.sure.remarked_code };
        }
        let lacks = self.assigned.diameter.is_none() || self.assigned.count.is_none();
        // "liner or shader" waits until the rest is known.
        let only_round = lacks && matches!(self.grouping, Some(Grouping::Round));
        confirm |= self.confirm && !only_round;
        if let (Some(grouping), Some(count)) = (self.grouping, self.assigned.count)
            && !lexicon.is_usual(grouping, count)
        {
            let even = is_magnum(grouping) && count.is_multiple_of(2);
            because.push(if even {
                Because::EvenMagnum(count)
            } else {
                Because::UnusualCount(count)
            });
            weight *= lexicon.sure.unusual_count;
            confirm = true;
        }
        if result.disturbed {
            because.push(Because::Beside);
            weight *= lexicon.sure.beside;
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
                certainty: weight.clamp(0.0, 1.0),
                tight: self.note == Some(Because::Noted(Note::Tight)),
                because,
            },
        );
        result.confirm |= confirm;
    }
}

/// Whether two rows are called a magnum, of which usual ones are odd.
const fn is_magnum(grouping: Grouping) -> bool {
    match grouping {
        Grouping::WovenMagnum
        | Grouping::StackedMagnum
        | Grouping::CurvedMagnum
        | Grouping::Magnum => true,
        Grouping::RoundLiner
        | Grouping::RoundShader
        | Grouping::Round
        | Grouping::HollowLiner
        | Grouping::Flat
        | Grouping::SlopedFlat
        | Grouping::HandBlade => false,
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
