//! Cutting a run of letters into a code, a taper, a mark and pack words.

use etui_schema::vocabulary::Taper;

use super::lexicon::{Lexicon, Piece};
use crate::label::tables::Mark;

pub(super) type Pieces = Vec<(Piece, usize)>;
/// Another meaning of the same letters: a code and perhaps a taper.
pub(super) type Rival = (u16, Option<Taper>);

/// The best way to cut a run of letters into words, and another one that is
/// nearly as good: at most one code and one taper, no letter left over.
pub(super) fn cut(run: &[u8], lexicon: &Lexicon) -> Option<(Pieces, Option<Rival>)> {
    // The longest sensible run: a code, a taper, a mark and a pack word.
    if 24 < run.len() {
        return None;
    }
    let mut ways: Vec<(u8, Pieces)> = Vec::new();
    let mut so_far = Vec::with_capacity(4);
    cut_on(run, lexicon, 0, &mut so_far, &mut ways);
    ways.sort_by_key(|way| way.0);
    let mut ways = ways.into_iter();
    let (weakness, best) = ways.next()?;
    let own = meaning(&best);
    let other = ways
        .take_while(|(other, _)| *other < weakness + 3)
        .map(|(_, pieces)| meaning(&pieces))
        .find(|other| *other != own)
        .and_then(|(code, taper)| code.map(|code| (code, taper)));
    Some((best, other))
}

/// The code and the taper of a cut.
pub(super) fn meaning(pieces: &Pieces) -> (Option<u16>, Option<Taper>) {
    let mut code = None;
    let mut taper = None;
    for (piece, _) in pieces {
        match piece {
            Piece::Code(c) => code = Some(*c),
            Piece::Taper(t) => taper = Some(*t),
            Piece::Mark(_) | Piece::Noise => {}
        }
    }
    (code, taper)
}

fn cut_on(
    run: &[u8],
    lexicon: &Lexicon,
    weakness: u8,
    so_far: &mut Pieces,
    ways: &mut Vec<(u8, Pieces)>,
) {
    if run.is_empty() {
        ways.push((weakness, so_far.clone()));
        return;
    }
    if 4 <= so_far.len() || 16 <= ways.len() {
        return;
    }
    for (piece, len, own) in lexicon.beginnings(run) {
        let clash = so_far.iter().any(|(before, _)| {
            matches!(
                (before, piece),
                (Piece::Code(_), Piece::Code(_)) | (Piece::Taper(_), Piece::Taper(_))
            )
        });
        // Signs between numbers and units are words of their own.
        let sign = matches!(
            piece,
            Piece::Mark(
                Mark::Times
                    | Mark::Millimetre
                    | Mark::Micrometre
                    | Mark::Gauge
                    | Mark::Inch
                    | Mark::Thousandth
                    | Mark::Number
            )
        );
        if clash || sign || (piece == Piece::Noise && len < 4) {
            continue;
        }
        so_far.push((piece, len));
        cut_on(&run[len..], lexicon, weakness + own, so_far, ways);
        so_far.pop();
    }
}

/// Letters that were written apart: a code, a taper, nothing of one letter.
pub(super) fn whole(joined: &[u8], lexicon: &Lexicon) -> Option<(Pieces, Option<Rival>)> {
    let found = match lexicon.word(joined, 0) {
        Some((piece, end)) if end == joined.len() => Some((vec![(piece, end)], None)),
        _ => cut(joined, lexicon),
    };
    let fits = |(piece, len): &(Piece, usize)| {
        2 <= *len && matches!(piece, Piece::Code(_) | Piece::Taper(_))
    };
    found.filter(|(pieces, _)| pieces.iter().all(fits))
}
