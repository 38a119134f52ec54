//! Which diameters a number may mean.

use super::lexicon::{Lexicon, Thousandths};
use super::num::{Num, Unit};
use crate::label::reading::{Because, Reasons};

/// A diameter that a number may mean.
#[derive(Debug, Clone, Copy)]
pub(super) struct Dia {
    pub(super) mm: Thousandths,
    pub(super) weight: f64,
    pub(super) confirm: bool,
    pub(super) because: Reasons,
}

impl Dia {
    pub(super) fn new(mm: Thousandths, reason: Because) -> Self {
        let mut because = Reasons::NONE;
        because.push(reason);
        Self { mm, weight: 1.0, confirm: false, because }
    }
}

/// The diameters that one number may mean; two at most.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Dias([Option<Dia>; 2]);

impl Dias {
    pub(super) fn of(mut all: impl Iterator<Item = Dia>) -> Self {
        Self([all.next(), all.next()])
    }

    pub(super) fn is_empty(&self) -> bool {
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

impl Lexicon {
    /// The "#" size of a number, with every diameter its sources give.
    pub(super) fn size(&self, n: u8) -> impl Iterator<Item = Dia> + use<> {
        let row = self.sizes.get(usize::from(n)).copied().flatten();
        let first = row.map(|row| {
            let mut dia = Dia::new(row.mm, Because::Size(n, row.mm));
            if row.ranged {
                dia.because.push(Because::SizeRange(n, row.least, row.most));
                dia.weight = self.sure.ranged_size;
            }
            if let Some(pack) = row.pack {
                dia.because.push(Because::FromPack(pack));
            }
            if row.confirm {
                dia.because.push(Because::SizeRare(n));
                dia.confirm = true;
                dia.weight = self.sure.likely;
            }
            dia
        });
        let also = row.filter(|row| 0 < row.also).map(|row| {
            let mut dia = Dia::new(row.also, Because::SizeRange(n, row.least, row.most));
            dia.confirm = true;
            dia.weight = self.sure.even;
            dia
        });
        first.into_iter().chain(also)
    }

    pub(super) fn hundredths(&self, n: u8) -> Option<Dia> {
        let known = self.hundredths.get(usize::from(n)).copied().unwrap_or(false);
        known.then(|| Dia::new(u16::from(n) * 10, Because::Hundredths(n)))
    }

    /// Two digits: "#" size or hundredths; the two never meet.
    pub(super) fn two_digits(&self, n: u8) -> impl Iterator<Item = Dia> + use<> {
        self.size(n).chain(self.hundredths(n))
    }

    /// A literal diameter, if it is one that is sold.
    pub(super) fn literal(&self, mm: Thousandths) -> Option<Dia> {
        let (least, most) = self.range;
        (least <= mm && mm <= most).then(|| Dia::new(mm, Because::Literal))
    }

    /// Zeros alone: slang that nobody is sure of.
    fn zeros(&self, num: Num) -> Option<Dia> {
        let plain = num.value == 0 && !num.is_literal() && num.unit.is_none();
        let slot = usize::from(num.digits).checked_sub(1).filter(|_| plain)?;
        let mm = self.zeros.get(slot).copied().flatten()?;
        Some(Dia { confirm: true, weight: self.sure.even, ..Dia::new(mm, Because::Zeros(mm)) })
    }

    /// Inches, written with their unit or too thin to be millimetres.
    fn inches(&self, num: Num) -> Option<Dia> {
        let n = num.inches()?;
        let mm = self.inch.nearest(n).filter(|mm| self.literal(*mm).is_some())?;
        let said = Because::Inches(u16::try_from(n).unwrap_or(u16::MAX), mm);
        let mut dia = Dia::new(mm, said);
        if num.unit.is_none() {
            dia.because.push(Because::AssumedInches);
            dia.confirm = true;
            dia.weight = self.sure.likely;
        }
        Some(dia)
    }

    /// A diameter with a decimal point, a sign or a unit of length.
    fn written(&self, num: Num) -> Option<Dia> {
        if matches!(num.unit, Some(Unit::Inch | Unit::Thousandth)) {
            return self.inches(num);
        }
        let (least, most) = self.inch.bare;
        let thin = num.unit.is_none()
            && 3 <= num.decimals
            && num.inches().is_some_and(|n| least <= n && n <= most);
        if thin {
            return self.inches(num);
        }
        let mut dia = num.millimetres().and_then(|mm| self.literal(mm))?;
        if 2 < num.told_decimals() && num.unit.is_none() {
            // The third decimal may be a count whose separator is missing.
            dia.confirm = true;
            dia.weight *= self.sure.even;
        }
        Some(dia)
    }

    pub(super) fn gauge(&self, n: u32) -> Option<Dia> {
        let n = u8::try_from(n).ok()?;
        let mm = self.gauges.iter().find(|g| g.0 == n)?.1;
        let mut dia = Dia::new(mm, Because::Gauge(n));
        dia.confirm = true;
        dia.weight = self.sure.even;
        Some(dia)
    }

    /// Every diameter the number may mean where a diameter is expected.
    pub(super) fn diameters(&self, num: Num) -> Dias {
        if num.unit == Some(Unit::Gauge) {
            let slip = u8::try_from(num.value).ok().and_then(|n| self.hundredths(n));
            let slip = slip.map(|dia| Dia { confirm: true, weight: self.sure.remote, ..dia });
            return Dias::of(self.gauge(num.value).into_iter().chain(slip));
        }
        if num.is_literal() {
            return Dias::of(self.written(num).into_iter());
        }
        if let Some(zeros) = self.zeros(num) {
            return Dias::of(std::iter::once(zeros));
        }
        if num.digits == 3 && !num.hash {
            let thousandths = Num { unit: Some(Unit::Thousandth), ..num };
            let dia = self.micrometres(num.value).or_else(|| {
                // 012: thousandths of an inch.
                let mut dia = self.inches(thousandths).filter(|_| num.value < 100)?;
                dia.because.push(Because::AssumedInches);
                Some(Dia { confirm: true, weight: self.sure.likely, ..dia })
            });
            return Dias::of(dia.into_iter());
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
    pub(super) fn micrometres(&self, value: u32) -> Option<Dia> {
        let (least, most) = self.range;
        let mm = u16::try_from(value).ok().filter(|mm| least <= *mm && *mm <= most)?;
        let read = Dia::new(mm, Because::AssumedMicrometres);
        Some(Dia { confirm: true, weight: self.sure.even, ..read })
    }
}

#[cfg(test)]
mod tests {
    use crate::label::tables::Files;

    /// Needle gauge comparison chart: 30G 0.3112, 31G 0.2604, 32G 0.2350 mm.
    #[test]
    fn hypodermic_gauges_are_those_of_the_chart_and_run_the_other_way() {
        let gauges = Files::builtin().unwrap().configuration.gauge;
        for (number, want) in [(30, 0.3112), (31, 0.2604), (32, 0.2350)] {
            let told = gauges.iter().find(|g| g.number == number).unwrap().mm;
            assert!((told - want).abs() < 1e-4, "{number}G {told}");
        }
        assert!(gauges.windows(2).all(|w| w[0].number < w[1].number && w[1].mm < w[0].mm));
    }
}
