//! Numbers without a grouping code, and those of hand tools.

use super::num::{Num, Unit};
use super::numbers::{Numbers, Placed};
use super::sizes::Dias;
use crate::label::reading::Because;

impl Numbers<'_> {
    /// Numbers without any code.
    pub(crate) fn alone(&mut self, numbers: &[Placed]) {
        match numbers {
            [] => self.add(self.nothing()),
            [one] if one.num.is_written() => {
                self.one(Placed { touches: false, ..*one });
            }
            [one] if one.num.digits == 4 => self.alone_four(*one),
            [one] => self.bare(*one),
            [a, b] => {
                self.pair(*a, *b, false);
                if a.num.small().is_some() && !a.num.hash {
                    for assigned in &mut self.found {
                        *assigned =
                            assigned.saying(Because::MayBeLot).asking(self.lexicon.sure.even);
                    }
                }
            }
            _ => {}
        }
    }

    pub(super) fn alone_four(&mut self, it: Placed) {
        self.four(it);
        let value = it.num.value;
        let (a, b) =
            (u8::try_from(value / 100).unwrap_or(0), u8::try_from(value % 100).unwrap_or(0));
        let straight = !self.found.is_empty();
        for assigned in &mut self.found {
            *assigned = assigned.saying(Because::MayBeLot).asking(self.lexicon.sure.even);
        }
        if straight && self.counts(a) && self.lexicon.sizes[usize::from(b) % 100].is_some() {
            let sizes = Dias::of(self.lexicon.size(b));
            for dia in sizes {
                let read = self
                    .nothing()
                    .counted(a, (it.start, it.end - 2))
                    .sized(dia, (it.end - 2, it.end));
                self.add(read.saying(Because::EitherOrder).asking(self.lexicon.sure.remote));
            }
        }
    }

    pub(super) fn bare(&mut self, it: Placed) {
        let sure = &self.lexicon.sure;
        let (even, remote, bare_count) = (sure.even, sure.remote, sure.bare_count);
        let sizes = self.lexicon.diameters(it.num);
        let several = !sizes.is_empty();
        for dia in sizes {
            self.add(self.nothing().sized(dia, it.at()).saying(Because::BareNumber).asking(even));
        }
        let Some(n) = it.num.small().filter(|n| self.counts(*n)) else { return };
        let read = self.nothing().counted(n, it.at()).saying(Because::BareNumber);
        self.add(if several { read.asking(bare_count) } else { read });
        let inches = Num { unit: Some(Unit::Thousandth), ..it.num };
        for dia in self.lexicon.diameters(inches).into_iter().filter(|_| !several && 10 <= n) {
            self.add(self.nothing().sized(dia, it.at()).saying(Because::BareNumber).asking(remote));
        }
    }

    /// Numbers of a hand tool: pins, and perhaps a diameter.
    pub(crate) fn pins(&mut self, numbers: &[Placed]) {
        match numbers {
            [] => self.add(self.nothing()),
            [one] => {
                let Some(n) = one.num.small().filter(|n| self.counts(*n)) else {
                    for dia in self.lexicon.diameters(one.num) {
                        self.add(self.nothing().sized(dia, one.at()));
                    }
                    return;
                };
                let at = (one.start, one.end);
                let sizes = Dias::of(self.lexicon.two_digits(n));
                let read = self.nothing().counted(n, at).saying(Because::Pins(n));
                self.add(if sizes.is_empty() {
                    read
                } else {
                    read.asking(self.lexicon.sure.likely)
                });
                for dia in sizes {
                    self.add(self.nothing().sized(dia, at).asking(self.lexicon.sure.remote));
                }
            }
            [a, b] => {
                let (dia, count) = if b.num.is_literal() { (*b, *a) } else { (*a, *b) };
                self.pair(dia, count, false);
                for assigned in &mut self.found {
                    if let Some(n) = assigned.count {
                        assigned.because.push(Because::Pins(n));
                    }
                }
            }
            _ => {}
        }
    }
}
