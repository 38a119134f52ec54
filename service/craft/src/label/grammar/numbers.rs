//! Which number is the diameter and which the count.
//!
//! Works on the numbers before and after the grouping code and lists every
//! assignment that the tables allow, the likeliest first. What no rule places
//! is left over, and then nothing is clear.

use super::lexicon::{Lexicon, Thousandths};
use super::num::Num;
use super::sizes::{Dia, Dias};
use crate::label::reading::{Because, Reasons};

/// A number and where it stands.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Placed {
    pub(crate) num: Num,
    pub(crate) start: usize,
    pub(crate) end: usize,
    /// Whether it touches the grouping code.
    pub(crate) touches: bool,
    /// Whether white space stands before it.
    pub(crate) blank: bool,
}

impl Placed {
    pub(super) fn at(self) -> Stretch {
        (self.start, self.end)
    }
}

/// A stretch of the text; empty if nothing was read from it.
pub(crate) type Stretch = (usize, usize);

/// One assignment.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Assigned {
    pub(crate) diameter: Option<Thousandths>,
    pub(crate) count: Option<u8>,
    pub(crate) pack: Option<u8>,
    pub(crate) weight: f64,
    pub(crate) confirm: bool,
    pub(crate) because: Reasons,
    pub(crate) at: (Stretch, Stretch),
    pub(crate) pack_at: Stretch,
}

impl Assigned {
    /// Neither diameter nor count.
    pub(crate) fn nothing(weight: f64) -> Self {
        Self {
            diameter: None,
            count: None,
            pack: None,
            weight,
            confirm: false,
            because: Reasons::NONE,
            at: ((0, 0), (0, 0)),
            pack_at: (0, 0),
        }
    }

    pub(super) fn counted(mut self, count: u8, at: Stretch) -> Self {
        self.count = Some(count);
        self.at.1 = at;
        self
    }

    pub(super) fn sized(mut self, dia: Dia, at: Stretch) -> Self {
        self.diameter = Some(dia.mm);
        self.at.0 = at;
        self.weight *= dia.weight;
        self.confirm |= dia.confirm;
        for reason in dia.because.as_slice() {
            self.because.push(*reason);
        }
        self
    }

    pub(super) fn packed(mut self, pack: u8, at: Stretch) -> Self {
        self.pack = Some(pack);
        self.pack_at = at;
        self
    }

    pub(super) fn saying(mut self, reason: Because) -> Self {
        self.because.push(reason);
        self
    }

    pub(super) fn asking(mut self, weight: f64) -> Self {
        self.confirm = true;
        self.weight *= weight;
        self
    }
}

/// The list of assignments being made.
pub(crate) struct Numbers<'a> {
    pub(super) lexicon: &'a Lexicon,
    pub(crate) found: Vec<Assigned>,
    /// Whether the first field is a number that is no size.
    pub(crate) no_size: bool,
    /// Whether a number is left that no rule places.
    pub(crate) left_over: bool,
    /// A number that says the diameter once more.
    pub(crate) again: Option<Stretch>,
}

impl<'a> Numbers<'a> {
    pub(crate) fn new(lexicon: &'a Lexicon) -> Self {
        Self {
            lexicon,
            found: Vec::with_capacity(2),
            no_size: false,
            left_over: false,
            again: None,
        }
    }

    pub(super) fn nothing(&self) -> Assigned {
        Assigned::nothing(self.lexicon.sure.plain)
    }

    pub(super) fn counts(&self, n: u8) -> bool {
        (1..=self.lexicon.most).contains(&n)
    }

    /// A number that may be how many needles there are.
    pub(super) fn as_count(&self, num: Num) -> Option<u8> {
        num.small().filter(|n| self.counts(*n) && !num.hash)
    }

    pub(super) fn add(&mut self, assigned: Assigned) {
        self.found.push(assigned);
    }

    /// Numbers on both sides of a code.
    pub(crate) fn around(&mut self, before: &[Placed], after: &[Placed], times: bool) {
        if self.told_twice(before, after, times) {
            return;
        }
        match (before, after) {
            ([], []) => self.add(self.nothing()),
            ([one], []) | ([], [one]) => self.one(*one),
            ([diameter, count], []) => self.pair(*diameter, *count, times),
            ([], [a, b]) => self.code_first_two(*a, *b),
            ([one], [last]) if one.num.is_written() && self.as_count(last.num).is_some() => {
                // 0.30 RL 3; glued to the code the number may be two.
                self.pair(*one, *last, times);
                for assigned in &mut self.found {
                    assigned.confirm |= one.touches;
                }
            }
            ([one], [last]) => self.trailing(*one, *last, times),
            _ => self.too_many(before, after, times),
        }
    }

    /// `1003RL 0.30 mm`, `#10 0.30 3RL`: the diameter stands there in two ways
    /// that agree, so one of them can be left out.
    pub(super) fn told_twice(&mut self, before: &[Placed], after: &[Placed], times: bool) -> bool {
        let all = || before.iter().chain(after);
        let enough = 2 < all().count() || all().any(|it| it.num.digits == 4);
        let written = all().position(|it| it.num.is_written()).filter(|_| enough);
        let Some(it) = written.and_then(|index| all().nth(index).copied()) else { return false };
        let Some(dia) = self.lexicon.diameters(it.num).into_iter().next() else { return false };
        let without = |side: &[Placed]| -> Vec<Placed> {
            side.iter().filter(|other| other.start != it.start).copied().collect()
        };
        let mut rest = Self::new(self.lexicon);
        rest.around(&without(before), &without(after), times);
        let agrees = !rest.left_over
            && rest.found.first().is_some_and(|read| read.diameter == Some(dia.mm))
            && rest.found.first().is_some_and(|read| read.count.is_some());
        if agrees {
            self.found = rest.found;
            self.found.truncate(1);
            self.again = Some(it.at());
        }
        agrees
    }

    /// More numbers than a configuration has: the last two before the code,
    /// or the first two after it; the rest asks.
    pub(super) fn too_many(&mut self, before: &[Placed], after: &[Placed], times: bool) {
        self.left_over = true;
        let from = self.found.len();
        match before {
            [others @ .., diameter, count] => {
                self.pair(*diameter, *count, times);
                // Another diameter before it may as well be the one.
                for other in others.iter().filter(|it| it.num.is_written()) {
                    self.pair(*other, *count, times);
                }
            }
            [one] => {
                for last in after
                    .iter()
                    .take(1)
                    .chain(after.iter().skip(1).filter(|it| it.num.is_written()))
                {
                    self.trailing(*one, *last, times);
                }
            }
            [] => self.code_first_two(after[0], after[1]),
        }
        let last = match (before, after) {
            ([_, _], [last]) => Some(*last),
            _ => None,
        };
        self.with_pack(from, last);
    }

    /// A number behind a whole reading may be the pack's quantity, or anything.
    pub(super) fn with_pack(&mut self, from: usize, last: Option<Placed>) {
        let pack = last.and_then(|last| Some((last.num.small().filter(|n| 0 < *n)?, last.at())));
        let even = self.lexicon.sure.even;
        for assigned in &mut self.found[from..] {
            if let Some((pieces, at)) = pack {
                *assigned = assigned.packed(pieces, at);
            }
            let reason = pack.map_or(Because::Beside, |(n, _)| Because::MayBePack(n));
            *assigned = assigned.saying(reason).asking(even);
        }
    }

    /// One number before the code.
    pub(super) fn one(&mut self, it: Placed) {
        let num = it.num;
        if num.digits == 4 && !num.is_literal() && num.unit.is_none() {
            return self.four(it);
        }
        if num.digits == 3 && !num.is_literal() && num.unit.is_none() {
            return self.three(it);
        }
        let nought = num.value == 0 && !num.is_literal();
        if num.is_written() || nought {
            for dia in self.lexicon.diameters(num) {
                self.add(self.nothing().sized(dia, it.at()));
            }
            if it.touches && 1 < num.decimals && num.unit.is_none() {
                self.glued_decimal(it);
            }
            if num.hash && self.found.is_empty() {
                self.one_and_one(it);
            }
            self.no_size = self.found.is_empty();
            return;
        }
        let Some(n) = num.small() else { return };
        if self.counts(n) {
            self.lone_count(it, n);
        } else {
            self.one_and_one(it);
        }
    }

    /// One or two digits at the code: the count, unless they are a size too.
    pub(super) fn lone_count(&mut self, it: Placed, n: u8) {
        let as_count = self.nothing().counted(n, it.at()).saying(Because::CountTouches(n));
        // One digit is a size only with "#".
        let sizes =
            if it.num.digits == 2 { Dias::of(self.lexicon.two_digits(n)) } else { Dias::default() };
        if sizes.is_empty() {
            self.add(as_count);
        } else {
            self.add(as_count.asking(self.lexicon.sure.likely));
            for dia in sizes {
                let weight = self.lexicon.sure.second;
                self.add(self.nothing().sized(dia, it.at()).asking(weight));
            }
        }
        let usual = n < 64 && self.lexicon.two_digit_counts >> n & 1 == 1;
        if 10 <= n && !usual {
            self.one_and_one_as(it, self.lexicon.sure.remote);
        }
    }

    /// Diameter, then count.
    pub(super) fn pair(&mut self, diameter: Placed, count: Placed, times: bool) {
        let at = ((diameter.start, diameter.end), (count.start, count.end));
        let Some(n) = self.as_count(count.num) else { return };
        let plain = diameter.num.small().filter(|_| !diameter.num.hash);
        let sure = &self.lexicon.sure;
        let (likely, even, remote) = (sure.likely, sure.even, sure.remote);
        self.needle_bar(diameter, n, at);
        let loose = plain.filter(|d| self.is_loose(*d, count));
        for dia in self.lexicon.diameters(diameter.num) {
            let mut read = self.nothing().sized(dia, at.0).counted(n, at.1);
            if plain == Some(18) {
                read = read.saying(Because::MayBeCount(18)).asking(likely);
            }
            if let Some(d) = loose {
                read = read.saying(Because::MayBePack(d));
            }
            if times && plain.is_some() || loose.is_some() {
                read = read.asking(likely);
            }
            self.add(read);
        }
        if let Some(d) = plain.filter(|d| 0 < *d) {
            let usual = self.lexicon.pack[usize::from(d)] && self.found.is_empty();
            if times || usual || loose.is_some() {
                let read = self.nothing().counted(n, at.1).saying(Because::MayBePack(d));
                self.add(read.packed(d, at.0).asking(even));
            } else if d == 18 {
                let read = self.nothing().counted(18, at.0).saying(Because::MayBeCount(18));
                self.add(read.asking(remote));
            }
        }
        self.no_size = self.found.is_empty();
    }

    /// `12 5RL`: a size number that is also a usual quantity, apart from a count
    /// of one digit, may be either, as it may be behind the code.
    pub(super) fn is_loose(&self, n: u8, count: Placed) -> bool {
        let size = self.lexicon.sizes.get(usize::from(n)).is_some_and(Option::is_some);
        size && self.lexicon.pack[usize::from(n)] && count.num.digits == 1 && count.blank
    }

    /// `0.8 3R`: the bar of an older machine, which says nothing about the
    /// needle; or a size that was given a point.
    pub(super) fn needle_bar(&mut self, diameter: Placed, count: u8, at: (Stretch, Stretch)) {
        let bar = diameter.num.millimetres().filter(|mm| self.lexicon.needle_bars.contains(mm));
        // Bars are told with one decimal; 0.60 is a size that nobody sells.
        let Some(mm) = bar.filter(|_| diameter.num.decimals == 1) else { return };
        let read = self.nothing().counted(count, at.1).saying(Because::NeedleBar(mm));
        self.add(read.asking(self.lexicon.sure.even));
        let sizes = Dias::of(self.lexicon.size(u8::try_from(mm / 100).unwrap_or(0)));
        for dia in sizes {
            self.add(
                self.nothing()
                    .sized(dia, at.0)
                    .counted(count, at.1)
                    .asking(self.lexicon.sure.remote),
            );
        }
    }

    /// Count at the code, another number behind it.
    pub(super) fn trailing(&mut self, one: Placed, last: Placed, times: bool) {
        let Some(n) = self.as_count(one.num) else {
            // 1003RL 20, 0.30RL 3: the first is whole by itself.
            self.left_over = true;
            self.one(one);
            self.with_pack(0, Some(last));
            return;
        };
        let counted = self.nothing().counted(n, one.at());
        let plain = last.num.small().filter(|_| !last.num.hash);
        let sure = &self.lexicon.sure;
        let (likely, even) = (sure.likely, sure.even);
        self.needle_bar(last, n, (last.at(), one.at()));
        let sizes = self.lexicon.diameters(last.num);
        for dia in sizes {
            let read = counted.sized(dia, last.at());
            self.add(match plain.filter(|p| 0 < *p) {
                Some(p) => {
                    read.saying(Because::MayBePack(p)).asking(if times { even } else { likely })
                }
                None => read,
            });
        }
        if let Some(p) = plain.filter(|p| 0 < *p) {
            let read = counted.saying(Because::Pack(p)).packed(p, last.at());
            // Behind a sign of multiplication a quantity is what is meant.
            self.add(match (sizes.is_empty(), times) {
                (true, _) => read,
                (false, true) => read.asking(likely),
                (false, false) => read.asking(even),
            });
        } else if self.found.is_empty() && last.num.is_written() {
            self.no_size = true;
        } else if self.found.is_empty() {
            let remote = self.lexicon.sure.remote;
            self.add(counted.saying(Because::Beside).asking(remote));
        }
        if times {
            self.found.sort_by(|a, b| b.weight.total_cmp(&a.weight));
        }
    }

    /// Two numbers behind a code that begins the label.
    pub(super) fn code_first_two(&mut self, a: Placed, b: Placed) {
        if a.num.is_written() && !b.num.is_written() {
            return self.pair(a, b, false);
        }
        if b.num.is_written() && !a.num.is_written() {
            return self.pair(b, a, false);
        }
        self.pair(a, b, false);
        let straight = self.found.iter().filter(|r| r.diameter.is_some()).count();
        self.found.truncate(straight);
        let from = self.found.len();
        self.pair(b, a, false);
        self.found.retain(|r| r.diameter.is_some());
        // Count, then a bare number: that one may as well be the pack.
        for assigned in &mut self.found[from..] {
            assigned.because.push(Because::EitherOrder);
            *assigned = assigned.asking(self.lexicon.sure.even);
        }
        if from != 0 && from < self.found.len() {
            for assigned in &mut self.found {
                assigned.confirm = true;
            }
        }
        self.no_size = self.found.is_empty();
    }
}
