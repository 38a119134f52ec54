//! Dates with the month's name or its Roman number.

use jiff::civil::Date;

use super::days::{Day, is_persian, short, ymd};
use super::groups::{Group, Mark, Piece};
use super::{Precision, PrintedDate, has_year};

/// Forms with the month's name or its Roman number.
pub(super) fn with_name(groups: &[Group], as_of: Date, date: &mut PrintedDate) {
    let mask = groups.iter().find_map(|g| match g.piece {
        Piece::Name(mask) => Some(mask),
        Piece::Roman(n) => Some(1 << (n - 1)),
        Piece::Digits(..) | Piece::Era(_) => None,
    });
    let roman = groups.iter().any(|g| matches!(g.piece, Piece::Roman(_)));
    // A single digit that touches a word may be dirt.
    let touches = groups.iter().zip(groups.iter().skip(1)).any(|(g, next)| {
        let lone = |g: &Group| matches!(g.piece, Piece::Digits(_, 1));
        (lone(g) || lone(next)) && next.glued
    });
    let first = groups.first().is_some_and(|g| g.glued && matches!(g.piece, Piece::Digits(_, 1)));
    date.doubtful |= roman || touches || first;
    for month in (1..=24).filter(|m| mask.is_some_and(|mask| mask >> (m - 1) & 1 == 1)) {
        with_month(groups, month, as_of, date);
    }
    // Between or beside the year, never before the day.
    let leads = matches!(groups, [Group { piece: Piece::Roman(_), .. }, _, _]);
    if roman && (leads || !has_year(groups)) {
        date.readings.clear();
    }
}

/// The groups of `14 7月 2028`: a month that its mark names, and marks of nothing else. Behind the
/// year the mark of the year is missing, which is another matter.
pub(super) fn with_marked_month(groups: &[Group]) -> Option<Vec<Group>> {
    let [first, ..] = groups else { return None };
    if matches!(first.piece, Piece::Digits(_, 4)) || !has_year(groups) {
        return None;
    }
    let month = |g: &Group| match (g.piece, g.mark) {
        (Piece::Digits(n @ 1..=12, 1 | 2), Some(Mark::Month)) => {
            Some(Group { piece: Piece::Name(1 << (n - 1)), mark: None, ..*g })
        }
        (Piece::Digits(..), None) => Some(*g),
        _ => None,
    };
    let all: Option<Vec<Group>> = groups.iter().map(month).collect();
    let names = |all: &Vec<Group>| all.iter().filter(|g| matches!(g.piece, Piece::Name(_))).count();
    all.filter(|all| names(all) == 1)
}

fn with_month(groups: &[Group], month: u32, as_of: Date, date: &mut PrintedDate) {
    let shape: Vec<Option<(u32, usize)>> = groups
        .iter()
        .map(|g| match g.piece {
            Piece::Digits(n, digits) => Some((n, digits)),
            Piece::Name(_) | Piece::Roman(_) | Piece::Era(_) => None,
        })
        .collect();
    // A month of the Persian year belongs to such a year, and no other does.
    let year = shape.iter().flatten().find(|part| part.1 == 4).map(|part| part.0);
    if 12 < month || year.is_some_and(is_persian) {
        let Some(month) = month.checked_sub(12) else { return };
        match *shape.as_slice() {
            [None, Some((y, 4))] | [Some((y, 4)), None] => date.add_persian(y, month, None),
            [Some((d, 1 | 2)), None, Some((y, 4))]
            | [Some((y, 4)), None, Some((d, 1 | 2))]
            | [None, Some((d, 1 | 2)), Some((y, 4))]
            | [Some((y, 4)), Some((d, 1 | 2)), None] => date.add_persian(y, month, Some(d)),
            _ => {}
        }
        return;
    }
    match *shape.as_slice() {
        [None, Some((y, 4))] | [Some((y, 4)), None] => {
            date.add(ymd(y, month, 1), Precision::Month);
        }
        [None, Some((y, 2))] => {
            date.add(short(y, month, 1, as_of), Precision::Month);
            date.doubtful = true;
        }
        [Some((d, 1 | 2)), None, Some((y, 4))]
        | [Some((y, 4)), None, Some((d, 1 | 2))]
        | [None, Some((d, 1 | 2)), Some((y, 4))] => date.add(ymd(y, month, d), Precision::Day),
        [Some((y, 4)), Some((d, 1 | 2)), None] if day_before_name(groups) => {
            date.add(ymd(y, month, d), Precision::Day);
            date.doubtful = true;
        }
        [Some((a, x @ (1 | 2))), None, Some((b, 2))] => {
            date.add(short(b, month, a, as_of), Precision::Day);
            date.add(if x == 2 { short(a, month, b, as_of) } else { Day::Never }, Precision::Day);
            date.doubtful = true;
        }
        [None, Some((d, 1 | 2)), Some((y, 2))] => {
            date.add(short(y, month, d, as_of), Precision::Day);
            date.doubtful = true;
        }
        _ => {}
    }
}

/// A dot makes the number before the name a day behind the year, as in Latvia; without
/// it the number may be a month and the name dirt.
fn day_before_name(groups: &[Group]) -> bool {
    matches!(groups, [_, day, name] if day.sign.is_none() && name.sign == Some('.'))
}
