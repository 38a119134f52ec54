//! Which number is the diameter and which the count.
//!
//! Works on the numbers before and after the grouping code and lists every
//! assignment that the tables allow, the likeliest first. What no rule places
//! is left over, and then nothing is clear.

use super::lexer::{Num, Unit};
use super::lexicon::{Lexicon, Thousandths};
use crate::label::reading::{Because, Reasons};

/// A number and where it stands.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Placed {
    pub(crate) num: Num,
    pub(crate) start: usize,
    pub(crate) end: usize,
    /// Whether it touches the grouping code.
    pub(crate) touches: bool,
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
}

impl Assigned {
    pub(crate) const NOTHING: Self = Self {
        diameter: None,
        count: None,
        pack: None,
        weight: 0.97,
        confirm: false,
        because: Reasons::NONE,
        at: ((0, 0), (0, 0)),
    };

    fn counted(mut self, count: u8, at: Stretch) -> Self {
        self.count = Some(count);
        self.at.1 = at;
        self
    }

    fn sized(mut self, dia: Dia, at: Stretch) -> Self {
        self.diameter = Some(dia.mm);
        self.at.0 = at;
        self.weight *= dia.weight;
        self.confirm |= dia.confirm;
        for reason in dia.because.as_slice() {
            self.because.push(*reason);
        }
        self
    }

    fn saying(mut self, reason: Because) -> Self {
        self.because.push(reason);
        self
    }

    fn asking(mut self, weight: f64) -> Self {
        self.confirm = true;
        self.weight *= weight;
        self
    }
}

/// A diameter that a number may mean.
#[derive(Debug, Clone, Copy)]
struct Dia {
    mm: Thousandths,
    weight: f64,
    confirm: bool,
    because: Reasons,
}

impl Dia {
    fn new(mm: Thousandths, reason: Because) -> Self {
        let mut because = Reasons::NONE;
        because.push(reason);
        Self { mm, weight: 1.0, confirm: false, because }
    }
}

/// The diameters that one number may mean; two at most.
#[derive(Debug, Clone, Copy, Default)]
struct Dias([Option<Dia>; 2]);

impl Dias {
    fn of(mut all: impl Iterator<Item = Dia>) -> Self {
        Self([all.next(), all.next()])
    }

    fn is_empty(&self) -> bool {
        self.0[0].is_none()
    }
}

impl IntoIterator for Dias {
    type Item = Dia;
    type IntoIter = std::iter::Flatten<std::array::IntoIter<Option<Dia>, 2>>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.into_iter().flatten()
    }
}

/// Certainty left where the trade gives a rule and an exception: `etui-model`.
const LIKELY: f64 = 0.8;
/// Certainty left where two readings are about as good.
const EVEN: f64 = 0.6;
/// Certainty left for a reading that only stands beside a better one.
const REMOTE: f64 = 0.3;

/// The list of assignments being made.
pub(crate) struct Numbers<'a> {
    lexicon: &'a Lexicon,
    pub(crate) found: Vec<Assigned>,
    /// Whether the first field is a number that is no size.
    pub(crate) no_size: bool,
    /// Whether a number is left that no rule places.
    pub(crate) left_over: bool,
}

impl<'a> Numbers<'a> {
    pub(crate) fn new(lexicon: &'a Lexicon) -> Self {
        Self { lexicon, found: Vec::with_capacity(2), no_size: false, left_over: false }
    }

    fn add(&mut self, assigned: Assigned) {
        self.found.push(assigned);
    }

    /// The "#" size of a number, with every diameter its sources give.
    fn size(&self, n: u8) -> impl Iterator<Item = Dia> + use<> {
        let row = self.lexicon.sizes.get(usize::from(n)).copied().flatten();
        let first = row.map(|row| {
            let mut dia = Dia::new(row.mm, Because::Size(n, row.mm));
            if row.ranged {
                dia.because.push(Because::SizeRange(n, row.least, row.most));
                dia.weight = 0.88;
            }
            if let Some(pack) = row.pack {
                dia.because.push(Because::FromPack(pack));
            }
            if row.confirm {
                dia.because.push(Because::SizeRare(n));
                dia.confirm = true;
                dia.weight = LIKELY;
            }
            dia
        });
        let also = row.filter(|row| 0 < row.also).map(|row| {
            let mut dia = Dia::new(row.also, Because::SizeRange(n, row.least, row.most));
            dia.confirm = true;
            dia.weight = EVEN;
            dia
        });
        first.into_iter().chain(also)
    }

    fn hundredths(&self, n: u8) -> Option<Dia> {
        let known = self.lexicon.hundredths.get(usize::from(n)).copied().unwrap_or(false);
        known.then(|| Dia::new(u16::from(n) * 10, Because::Hundredths(n)))
    }

    /// Two digits: "#" size or hundredths; the two never meet.
    fn two_digits(&self, n: u8) -> impl Iterator<Item = Dia> + use<> {
        self.size(n).chain(self.hundredths(n))
    }

    /// A literal diameter, with a flag if it is not one that is sold.
    fn literal(&self, mm: Thousandths) -> Option<Dia> {
        let mut dia = Dia::new(mm, Because::Literal);
        let (least, most) = self.lexicon.range;
        if least <= mm && mm <= most {
            return Some(dia);
        }
        if !(100..=600).contains(&mm) || self.lexicon.needle_bars.contains(&mm) {
            return None;
        }
        dia.because.push(Because::OutOfRange(mm));
        dia.confirm = true;
        dia.weight = REMOTE;
        Some(dia)
    }

    fn gauge(&self, n: u32) -> Option<Dia> {
        let n = u8::try_from(n).ok()?;
        let mm = self.lexicon.gauges.iter().find(|g| g.0 == n)?.1;
        let mut dia = Dia::new(mm, Because::Gauge(n));
        dia.confirm = true;
        dia.weight = EVEN;
        Some(dia)
    }

    /// Every diameter the number may mean where a diameter is expected.
    fn diameters(&self, num: Num) -> Dias {
        if num.unit == Some(Unit::Gauge) {
            let slip = u8::try_from(num.value).ok().and_then(|n| self.hundredths(n));
            let slip = slip.map(|dia| Dia { confirm: true, weight: REMOTE, ..dia });
            return Dias::of(self.gauge(num.value).into_iter().chain(slip));
        }
        if num.is_literal() {
            let mut dia = num.millimetres().and_then(|mm| self.literal(mm));
            if let Some(dia) = dia.as_mut().filter(|_| 2 < num.decimals) {
                // The third decimal may be a count whose separator is missing.
                dia.confirm = true;
                dia.weight *= EVEN;
            }
            return Dias::of(dia.into_iter());
        }
        if num.digits == 3 && !num.hash {
            return Dias::of(self.micrometres(num.value).into_iter());
        }
        let Ok(n) = u8::try_from(num.value) else { return Dias::default() };
        match num.digits {
            _ if num.hash => Dias::of(self.size(n)),
            1 => Dias::of(self.size(n)),
            2 => Dias::of(self.two_digits(n)),
            _ => Dias::default(),
        }
    }

    /// Three digits without a unit, if they are a diameter in micrometres.
    fn micrometres(&self, value: u32) -> Option<Dia> {
        let (least, most) = self.lexicon.range;
        let mm = u16::try_from(value).ok().filter(|mm| least <= *mm && *mm <= most)?;
        let read = Dia::new(mm, Because::AssumedMicrometres);
        Some(Dia { confirm: true, weight: EVEN, ..read })
    }

    /// Numbers on both sides of a code.
    pub(crate) fn around(&mut self, before: &[Placed], after: &[Placed], times: bool) {
        match (before, after) {
            ([], []) => self.add(Assigned::NOTHING),
            ([one], []) | ([], [one]) => self.one(*one),
            ([diameter, count], []) => self.pair(*diameter, *count, times),
            ([], [a, b]) => self.code_first_two(*a, *b),
            ([one], [last]) => self.trailing(*one, *last),
            _ => self.too_many(before, after, times),
        }
    }

    /// More numbers than a configuration has: the last two before the code,
    /// or the first two after it; the rest asks.
    fn too_many(&mut self, before: &[Placed], after: &[Placed], times: bool) {
        self.left_over = true;
        let from = self.found.len();
        match before {
            [.., diameter, count] => self.pair(*diameter, *count, times),
            [one] => self.trailing(*one, after[0]),
            [] => self.code_first_two(after[0], after[1]),
        }
        let pack = match (before, after) {
            ([_, _], [last]) => last.num.small().filter(|n| 0 < *n),
            _ => None,
        };
        for assigned in &mut self.found[from..] {
            assigned.pack = pack;
            assigned.because.push(pack.map_or(Because::Beside, Because::MayBePack));
            *assigned = assigned.asking(EVEN);
        }
    }

    /// One number before the code.
    fn one(&mut self, it: Placed) {
        let num = it.num;
        if num.digits == 4 && !num.is_literal() && num.unit.is_none() {
            return self.four(it);
        }
        if num.digits == 3 && !num.is_literal() && num.unit.is_none() {
            return self.three(it);
        }
        if num.is_literal() || num.hash || num.unit.is_some() {
            for dia in self.diameters(num) {
                self.add(Assigned::NOTHING.sized(dia, (it.start, it.end)));
            }
            if it.touches && 1 < num.decimals {
                self.glued_decimal(it);
            }
            if num.hash && self.found.is_empty() {
                self.one_and_one(it);
            }
            return;
        }
        let Some(n) = num.small() else { return };
        if (1..=49).contains(&n) {
            self.lone_count(it, n);
        } else {
            self.one_and_one(it);
        }
    }

    /// One or two digits at the code: the count, unless they are a size too.
    fn lone_count(&mut self, it: Placed, n: u8) {
        let as_count =
            Assigned::NOTHING.counted(n, (it.start, it.end)).saying(Because::CountTouches(n));
        // One digit is a size only with "#".
        let sizes = if it.num.digits == 2 { Dias::of(self.two_digits(n)) } else { Dias::default() };
        if sizes.is_empty() {
            self.add(as_count);
        } else {
            self.add(as_count.asking(LIKELY));
            for dia in sizes {
                let weight = dia.weight * EVEN;
                self.add(
                    Assigned::NOTHING.sized(Dia { weight, ..dia }, (it.start, it.end)).asking(1.0),
                );
            }
        }
        if 10 <= n && !matches!(n, 11..=15 | 18) {
            self.one_and_one_as(it, REMOTE);
        }
    }

    fn one_and_one(&mut self, it: Placed) {
        self.one_and_one_as(it, LIKELY);
    }

    /// Two digits that are no count: one digit of size, one of count.
    fn one_and_one_as(&mut self, it: Placed, weight: f64) {
        let Ok(n) = u8::try_from(it.num.value) else { return };
        if it.num.digits != 2 || n % 10 == 0 {
            return;
        }
        let sizes = Dias::of(self.size(n / 10));
        for dia in sizes {
            let split = self.split(it, 1, dia, n % 10).saying(Because::TooManyToBeCount(n));
            self.add(split.asking(weight));
        }
    }

    /// Diameter in the first `digits` digits, count in the rest.
    fn split(&self, it: Placed, digits: usize, dia: Dia, count: u8) -> Assigned {
        let middle = it.end - usize::from(it.num.digits) + digits;
        Assigned::NOTHING.sized(dia, (it.start, middle)).counted(count, (middle, it.end))
    }

    /// Two digits of diameter, two of count.
    fn four(&mut self, it: Placed) {
        let parts = (it.num.value / 100, it.num.value % 100);
        let (Ok(a), Ok(b)) = (u8::try_from(parts.0), u8::try_from(parts.1)) else { return };
        let count_first = self.lexicon.count_first;
        let turn = count_first && self.two_digits(b).next().is_some();
        if (1..=49).contains(&b) && !turn {
            for dia in self.two_digits(a) {
                self.add(self.split(it, 2, dia, b).saying(Because::TwoAndTwo));
            }
        }
        if self.found.is_empty() && (1..=49).contains(&a) {
            for dia in self.two_digits(b) {
                let mut read = Assigned::NOTHING
                    .counted(a, (it.start, it.end - 2))
                    .sized(dia, (it.end - 2, it.end))
                    .saying(Because::CountFirst);
                if !count_first {
                    read = read.asking(EVEN);
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
    fn without_point(&mut self, it: Placed, a: u8, b: u8) {
        let settled = self.found.iter().any(|read| !read.confirm);
        if settled || 10 <= a || !(1..=49).contains(&b) {
            return;
        }
        if let Some(dia) = self.literal(u16::from(a) * 100).filter(|dia| !dia.confirm) {
            self.add(self.split(it, 2, dia, b).asking(REMOTE));
        }
    }

    /// Three digits: 2 + 1 and 1 + 2; never certain.
    fn three(&mut self, it: Placed) {
        let n = it.num.value;
        let small = |n: u32| u8::try_from(n).unwrap_or(0);
        let two_one = Dias::of(self.two_digits(small(n / 10)));
        let one_two = Dias::of(self.size(small(n / 100)));
        for (digits, sizes, count) in [(2, two_one, small(n % 10)), (1, one_two, small(n % 100))] {
            if (1..=49).contains(&count) {
                for dia in sizes {
                    let read = self.split(it, digits, dia, count).saying(Because::ThreeDigits);
                    self.add(read.asking(LIKELY));
                }
            }
        }
        self.no_size = self.found.is_empty();
    }

    /// `0.303RL`, `0.2511RL`: the separator before the count is missing.
    fn glued_decimal(&mut self, it: Placed) {
        // One to three decimals of a diameter, one or two digits of a count.
        let decimals = usize::from(it.num.decimals).min(6);
        for keep in decimals.saturating_sub(2).max(1)..decimals.min(4) {
            let counted = decimals - keep;
            let cut = if counted == 1 { 10 } else { 100 };
            let (mm, count) = (it.num.fraction / cut, it.num.fraction % cut);
            let scale = [1000, 100, 10, 1][keep];
            let mm = u16::try_from(it.num.value * 1000 + mm * scale).ok();
            let count = u8::try_from(count).ok().filter(|n| (1..=49).contains(n));
            let dia = mm.and_then(|mm| self.literal(mm)).filter(|dia| !dia.confirm);
            if let (Some(dia), Some(count)) = (dia, count) {
                let middle = it.end - counted;
                let read = Assigned::NOTHING
                    .sized(dia, (it.start, middle))
                    .counted(count, (middle, it.end))
                    .saying(Because::Opened);
                self.add(read.asking(if keep == 2 { LIKELY } else { EVEN }));
            }
        }
        // Nothing that touches the code can be clear then.
        for assigned in &mut self.found {
            assigned.confirm = true;
        }
    }

    /// Diameter, then count.
    fn pair(&mut self, diameter: Placed, count: Placed, times: bool) {
        let at = ((diameter.start, diameter.end), (count.start, count.end));
        let Some(n) = count.num.small().filter(|n| (1..=49).contains(n) && !count.num.hash) else {
            return;
        };
        let plain = diameter.num.small().filter(|_| !diameter.num.hash);
        self.needle_bar(diameter, n, at);
        let dias = self.diameters(diameter.num);
        for dia in dias {
            let mut read = Assigned::NOTHING.sized(dia, at.0).counted(n, at.1);
            if plain == Some(18) {
                read = read.saying(Because::MayBeCount(18)).asking(LIKELY);
            }
            if times && plain.is_some() {
                read = read.asking(LIKELY);
            }
            self.add(read);
        }
        if let Some(d) = plain.filter(|d| 0 < *d) {
            let pieces = times || self.lexicon.pack[usize::from(d)] && self.found.is_empty();
            if pieces {
                let mut read = Assigned::NOTHING.counted(n, at.1).saying(Because::MayBePack(d));
                read.pack = Some(d);
                self.add(read.asking(EVEN));
            } else if d == 18 {
                let read = Assigned::NOTHING.counted(18, at.0).saying(Because::MayBeCount(18));
                self.add(read.asking(REMOTE));
            }
        }
        self.no_size = self.found.is_empty();
    }

    /// `0.8 3R`: the bar of an older machine, which says nothing about the
    /// needle; or a size that was given a point.
    fn needle_bar(&mut self, diameter: Placed, count: u8, at: (Stretch, Stretch)) {
        let bar = diameter.num.millimetres().filter(|mm| self.lexicon.needle_bars.contains(mm));
        let Some(mm) = bar.filter(|_| diameter.num.is_literal()) else { return };
        let read = Assigned::NOTHING.counted(count, at.1).saying(Because::NeedleBar(mm));
        self.add(read.asking(EVEN));
        let sizes = Dias::of(self.size(u8::try_from(mm / 100).unwrap_or(0)));
        for dia in sizes {
            self.add(Assigned::NOTHING.sized(dia, at.0).counted(count, at.1).asking(REMOTE));
        }
    }

    /// Count at the code, another number behind it.
    fn trailing(&mut self, one: Placed, last: Placed) {
        let Some(n) = one.num.small().filter(|n| (1..=49).contains(n) && !one.num.hash) else {
            // 1003RL 20, 0.30RL 3: the first is whole by itself.
            self.left_over = true;
            self.one(one);
            let pack = last.num.small().filter(|n| 0 < *n);
            for assigned in &mut self.found {
                assigned.pack = pack;
                assigned.because.push(pack.map_or(Because::Beside, Because::MayBePack));
                *assigned = assigned.asking(EVEN);
            }
            return;
        };
        let counted = Assigned::NOTHING.counted(n, (one.start, one.end));
        let at = (last.start, last.end);
        let plain = last.num.small().filter(|_| !last.num.hash);
        for dia in self.diameters(last.num) {
            let read = counted.sized(dia, at);
            self.add(match plain {
                Some(p) => read.saying(Because::MayBePack(p)).asking(LIKELY),
                None => read,
            });
        }
        if let Some(p) = plain.filter(|p| 0 < *p) {
            let alone = self.found.is_empty();
            let mut read = counted.saying(Because::Pack(p));
            read.pack = Some(p);
            self.add(if alone { read } else { read.asking(EVEN) });
        } else if self.found.is_empty() {
            self.add(counted.saying(Because::Beside).asking(REMOTE));
        }
    }

    /// Two numbers behind a code that begins the label.
    fn code_first_two(&mut self, a: Placed, b: Placed) {
        let written = |num: Num| num.is_literal() || num.hash || num.unit.is_some();
        if written(a.num) && !written(b.num) {
            return self.pair(a, b, false);
        }
        if written(b.num) && !written(a.num) {
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
            *assigned = assigned.asking(EVEN);
        }
        if from != 0 && from < self.found.len() {
            for assigned in &mut self.found {
                assigned.confirm = true;
            }
        }
        self.no_size = self.found.is_empty();
    }

    /// Numbers without any code.
    pub(crate) fn alone(&mut self, numbers: &[Placed]) {
        match numbers {
            [] => self.add(Assigned::NOTHING),
            [one] if one.num.is_literal() || one.num.hash || one.num.unit.is_some() => {
                self.one(Placed { touches: false, ..*one });
            }
            [one] if one.num.digits == 4 => self.alone_four(*one),
            [one] => self.bare(*one),
            [a, b] => {
                self.pair(*a, *b, false);
                if a.num.small().is_some() && !a.num.hash {
                    for assigned in &mut self.found {
                        *assigned = assigned.saying(Because::MayBeLot).asking(EVEN);
                    }
                }
            }
            _ => {}
        }
    }

    fn alone_four(&mut self, it: Placed) {
        self.four(it);
        let value = it.num.value;
        let (a, b) =
            (u8::try_from(value / 100).unwrap_or(0), u8::try_from(value % 100).unwrap_or(0));
        let straight = !self.found.is_empty();
        for assigned in &mut self.found {
            *assigned = assigned.saying(Because::MayBeLot).asking(EVEN);
        }
        if straight && (1..=49).contains(&a) && self.lexicon.sizes[usize::from(b) % 100].is_some() {
            let sizes = Dias::of(self.size(b));
            for dia in sizes {
                let read = Assigned::NOTHING
                    .counted(a, (it.start, it.end - 2))
                    .sized(dia, (it.end - 2, it.end));
                self.add(read.saying(Because::EitherOrder).asking(REMOTE));
            }
        }
    }

    fn bare(&mut self, it: Placed) {
        let Some(n) = it.num.small() else { return };
        let at = (it.start, it.end);
        let sizes = if it.num.digits == 2 { Dias::of(self.two_digits(n)) } else { Dias::default() };
        let several = !sizes.is_empty();
        for dia in sizes {
            self.add(Assigned::NOTHING.sized(dia, at).saying(Because::BareNumber).asking(EVEN));
        }
        if (1..=49).contains(&n) {
            let read = Assigned::NOTHING.counted(n, at).saying(Because::BareNumber);
            self.add(if several { read.asking(EVEN * 0.7) } else { read });
        }
    }

    /// Numbers of a hand tool: pins, and perhaps a diameter.
    pub(crate) fn pins(&mut self, numbers: &[Placed]) {
        match numbers {
            [] => self.add(Assigned::NOTHING),
            [one] => {
                let Some(n) = one.num.small().filter(|n| (1..=49).contains(n)) else {
                    for dia in self.diameters(one.num) {
                        self.add(Assigned::NOTHING.sized(dia, (one.start, one.end)));
                    }
                    return;
                };
                let at = (one.start, one.end);
                let sizes = Dias::of(self.two_digits(n));
                let read = Assigned::NOTHING.counted(n, at).saying(Because::Pins(n));
                self.add(if sizes.is_empty() { read } else { read.asking(LIKELY) });
                for dia in sizes {
                    self.add(Assigned::NOTHING.sized(dia, at).asking(REMOTE));
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
