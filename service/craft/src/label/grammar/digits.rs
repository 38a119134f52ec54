//! One number that is two: `1003`, `103`, `85`, `0.303`.

use super::numbers::{Assigned, Numbers, Placed};
use super::sizes::{Dia, Dias};
use crate::label::reading::Because;

impl Numbers<'_> {
    pub(super) fn one_and_one(&mut self, it: Placed) {
        self.one_and_one_as(it, self.lexicon.sure.likely);
    }

    /// Two digits that are no count: one digit of size, one of count.
    pub(super) fn one_and_one_as(&mut self, it: Placed, weight: f64) {
        let Ok(n) = u8::try_from(it.num.value) else { return };
        if it.num.digits != 2 || n % 10 == 0 {
            return;
        }
        let sizes = Dias::of(self.lexicon.size(n / 10));
        for dia in sizes {
            let split = self.split(it, 1, dia, n % 10).saying(Because::TooManyToBeCount(n));
            self.add(split.asking(weight));
        }
    }

    /// Diameter in the first `digits` digits, count in the rest.
    pub(super) fn split(&self, it: Placed, digits: usize, dia: Dia, count: u8) -> Assigned {
        let middle = it.end - usize::from(it.num.digits) + digits;
        self.nothing().sized(dia, (it.start, middle)).counted(count, (middle, it.end))
    }

    /// Two digits of diameter, two of count.
    pub(super) fn four(&mut self, it: Placed) {
        let parts = (it.num.value / 100, it.num.value % 100);
        let (Ok(a), Ok(b)) = (u8::try_from(parts.0), u8::try_from(parts.1)) else { return };
        let count_first = self.lexicon.count_first;
        let turn = count_first && self.lexicon.two_digits(b).next().is_some();
        if self.counts(b) && !turn {
            for dia in self.lexicon.two_digits(a) {
                self.add(self.split(it, 2, dia, b).saying(Because::TwoAndTwo));
            }
        }
        if self.found.is_empty() && self.counts(a) {
            for dia in self.lexicon.two_digits(b) {
                let mut read = self
                    .nothing()
                    .counted(a, (it.start, it.end - 2))
                    .sized(dia, (it.end - 2, it.end))
                    .saying(Because::CountFirst);
                if !count_first {
                    read = read.asking(self.lexicon.sure.even);
                }
                if let Some(pack) = self.lexicon.count_first_pack {
                    read = read.saying(Because::FromPack(pack));
                }
                self.add(read);
            }
        }
        self.without_point(it, a, b);
        self.no_size = self.found.is_empty();
    }

    /// `0403`: perhaps 0.40 mm without its point.
    pub(super) fn without_point(&mut self, it: Placed, a: u8, b: u8) {
        let settled = self.found.iter().any(|read| !read.confirm);
        if settled || 10 <= a || !self.counts(b) {
            return;
        }
        if let Some(dia) = self.lexicon.literal(u16::from(a) * 100).filter(|dia| !dia.confirm) {
            self.add(self.split(it, 2, dia, b).asking(self.lexicon.sure.remote));
        }
    }

    /// Three digits: 2 + 1 and 1 + 2; never certain.
    pub(super) fn three(&mut self, it: Placed) {
        let n = it.num.value;
        let small = |n: u32| u8::try_from(n).unwrap_or(0);
        let two_one = Dias::of(self.lexicon.two_digits(small(n / 10)));
        let one_two = Dias::of(self.lexicon.size(small(n / 100)));
        for (digits, sizes, count) in [(2, two_one, small(n % 10)), (1, one_two, small(n % 100))] {
            if self.counts(count) {
                for dia in sizes {
                    let read = self.split(it, digits, dia, count).saying(Because::ThreeDigits);
                    self.add(read.asking(self.lexicon.sure.likely));
                }
            }
        }
        if self.found.is_empty() {
            for dia in self.lexicon.diameters(it.num) {
                self.add(self.nothing().sized(dia, it.at()));
            }
        }
        self.no_size = self.found.is_empty();
    }

    /// `0.303RL`, `0.2511RL`: the separator before the count is missing.
    pub(super) fn glued_decimal(&mut self, it: Placed) {
        // One to three decimals of a diameter, one or two digits of a count.
        let decimals = usize::from(it.num.decimals).min(6);
        for keep in decimals.saturating_sub(2).max(1)..decimals.min(4) {
            let counted = decimals - keep;
            let cut = if counted == 1 { 10 } else { 100 };
            let (mm, count) = (it.num.fraction / cut, it.num.fraction % cut);
            let scale = [1000, 100, 10, 1][keep];
            let mm = u16::try_from(it.num.value * 1000 + mm * scale).ok();
            let count = u8::try_from(count).ok().filter(|n| self.counts(*n));
            let dia = mm.and_then(|mm| self.lexicon.literal(mm)).filter(|dia| !dia.confirm);
            if let (Some(dia), Some(count)) = (dia, count) {
                let middle = it.end - counted;
                let read = self
                    .nothing()
                    .sized(dia, (it.start, middle))
                    .counted(count, (middle, it.end))
                    .saying(Because::Opened);
                self.add(read.asking(if keep == 2 {
                    self.lexicon.sure.likely
                } else {
                    self.lexicon.sure.even
                }));
            }
        }
        // Nothing that touches the code can be clear then.
        for assigned in &mut self.found {
            assigned.confirm = true;
        }
    }
}
