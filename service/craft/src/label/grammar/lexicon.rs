//! The words of the configuration grammar, looked up at a place of the text.

use std::collections::BTreeSet;

use etui_schema::vocabulary::{Grouping, Taper};

use super::parameters::{Certainty, Inch, Slang};
use crate::label::spellings::{Spellings, closed_up};
use crate::label::tables::{Code, ConfigurationFile, Mark, MarkWord, Size, TaperWord};

/// What a word is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Piece {
    /// Index into [`Lexicon::codes`].
    Code(u16),
    Taper(Taper),
    Mark(Mark),
    Noise,
}

#[derive(Debug, Clone)]
struct Entry {
    text: Box<[u8]>,
    piece: Piece,
    /// How unlikely it is inside a run of letters.
    weakness: u8,
    /// The pack it comes from.
    pack: Option<u8>,
}

/// A diameter in thousandths of a millimetre.
pub(crate) type Thousandths = u16;

/// Sizes by number.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct SizeRow {
    pub(crate) mm: Thousandths,
    pub(crate) least: Thousandths,
    pub(crate) most: Thousandths,
    pub(crate) also: Thousandths,
    pub(crate) ranged: bool,
    pub(crate) confirm: bool,
    /// The pack it comes from.
    pub(crate) pack: Option<u8>,
}

/// Inches, in thousandths of a millimetre.
#[derive(Debug, Clone)]
pub(crate) struct InchRow {
    pub(crate) mm: f64,
    pub(crate) tolerance: Thousandths,
    pub(crate) values: Vec<Thousandths>,
    /// Without a unit, in ten-thousandths of an inch.
    pub(crate) bare: (u32, u32),
}

impl InchRow {
    fn new(file: &Inch) -> Self {
        let bare = |inch: f64| u32::from(thousandths(inch)) * 10;
        Self {
            mm: file.mm,
            tolerance: thousandths(file.tolerance_mm),
            values: file.values_mm.iter().map(|mm| thousandths(*mm)).collect(),
            bare: (bare(file.bare_least), bare(file.bare_most)),
        }
    }

    /// The diameter nearest to so many ten-thousandths of an inch.
    pub(crate) fn nearest(&self, n: u32) -> Option<Thousandths> {
        let exact = thousandths(f64::from(n) * self.mm / 10_000.0);
        let off = |value: &&Thousandths| value.abs_diff(exact);
        self.values.iter().min_by_key(off).filter(|v| off(v) <= self.tolerance).copied()
    }
}

/// A hypodermic gauge is told to the nearest 0.005 mm.
fn gauge(mm: f64) -> Thousandths {
    (thousandths(mm) + 2) / 5 * 5
}

/// Words, sizes and counts, ready for reading.
#[derive(Debug, Clone)]
pub(crate) struct Lexicon {
    entries: Vec<Entry>,
    /// Range of `entries` by first letter.
    first: [(u16, u16); 26],
    pub(crate) codes: Vec<Code>,
    pub(crate) sizes: [Option<SizeRow>; 100],
    pub(crate) hundredths: [bool; 100],
    pub(crate) pack: [bool; 256],
    pub(crate) needle_bars: Vec<Thousandths>,
    pub(crate) gauges: Vec<(u8, Thousandths)>,
    pub(crate) range: (Thousandths, Thousandths),
    /// Diameter by the number of zeros, less one.
    pub(crate) zeros: [Option<Thousandths>; 3],
    /// Words that stand for diameters: strict sense first; the thickest that fits.
    pub(crate) slang: Vec<(Mark, Vec<Thousandths>, Option<Thousandths>)>,
    pub(crate) inch: InchRow,
    /// From here on a length is the shaft's, in thousandths of a millimetre.
    pub(crate) shaft: u32,
    /// From here on a length alone makes it an acupuncture needle, in whole
    /// millimetres.
    pub(crate) filiform: u32,
    /// Bit n: n is a usual count of two digits.
    pub(crate) two_digit_counts: u64,
    /// The most needles of a grouping.
    pub(crate) most: u8,
    pub(crate) sure: Certainty,
    /// Bit n: count n is usual for the grouping.
    usual: [u64; Grouping::ALL.len()],
    pub(crate) count_first: bool,
    /// The pack that says that the count comes first.
    pub(crate) count_first_pack: Option<u8>,
    /// Whether packs have added to it.
    has_packs: bool,
}

/// Millimetres as thousandths.
pub(crate) fn thousandths(mm: f64) -> Thousandths {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to the type's range first"
    )]
    let n = (mm * 1000.0).round().clamp(0.0, 65_535.0) as Thousandths;
    n
}

fn bits(counts: &[u8]) -> u64 {
    counts.iter().fold(0, |bits, n| bits | 1_u64 << (n % 64))
}

fn slang(row: &Slang) -> (Mark, Vec<Thousandths>, Option<Thousandths>) {
    let values = row.values_mm.iter().map(|mm| thousandths(*mm)).collect();
    (row.mark, values, row.most_mm.map(thousandths))
}

impl Lexicon {
    /// The built-in words, and those of packs, each with its number; the first pack
    /// wins.
    pub(crate) fn new(file: &ConfigurationFile, packs: &[(u8, &Spellings)]) -> Self {
        let mut lexicon = Self {
            entries: Vec::new(),
            first: [(0, 0); 26],
            codes: Vec::new(),
            sizes: [None; 100],
            hundredths: [false; 100],
            pack: [false; 256],
            needle_bars: file.needle_bar.values_mm.iter().map(|mm| thousandths(*mm)).collect(),
            gauges: file.gauge.iter().map(|g| (g.number, gauge(g.mm))).collect(),
            range: (thousandths(file.range.least_mm), thousandths(file.range.most_mm)),
            zeros: [None; 3],
            slang: file.slang.iter().map(slang).collect(),
            inch: InchRow::new(&file.inch),
            shaft: u32::from(thousandths(file.shaft.least_mm)),
            filiform: u32::from(thousandths(file.filiform.least_mm)) / 1000,
            two_digit_counts: bits(&file.counts.usual_two_digits),
            most: file.counts.most,
            sure: file.certainty.clone(),
            usual: [0; Grouping::ALL.len()],
            count_first: packs.iter().any(|(_, pack)| pack.count_first),
            count_first_pack: packs.iter().find(|(_, p)| p.count_first).map(|(n, _)| *n),
            has_packs: !packs.is_empty(),
        };
        let mut seen = BTreeSet::new();
        for (number, pack) in packs {
            let (code, taper, noise) = (&pack.code, &pack.taper, &pack.noise);
            lexicon.words(&mut seen, Some(*number), code, taper, &[], noise);
        }
        lexicon.words(&mut seen, None, &file.code, &file.taper, &file.mark, &file.noise.words);
        for size in &file.size {
            lexicon.put_size(size, None);
        }
        // The first pack wins, so it comes last.
        for (number, pack) in packs.iter().rev() {
            for size in &pack.size {
                lexicon.put_size(size, Some(*number));
            }
        }
        for n in &file.hundredths.values {
            lexicon.hundredths[usize::from(*n) % 100] = true;
        }
        for n in &file.pack.quantities {
            lexicon.pack[usize::from(*n)] = true;
        }
        for row in &file.usual {
            lexicon.usual[row.grouping as usize] = bits(&row.counts);
        }
        for row in &file.zeros {
            if let Some(slot) = usize::from(row.digits).checked_sub(1) {
                lexicon.zeros[slot % 3] = Some(thousandths(row.mm));
            }
        }
        lexicon.sort();
        lexicon
    }

    /// Whether a "#" size is known.
    pub(crate) fn has_size(&self, number: u8) -> bool {
        self.sizes[usize::from(number) % 100].is_some()
    }

    /// Whether the count raises no eyebrow.
    pub(crate) fn is_usual(&self, grouping: Grouping, count: u8) -> bool {
        count < 64 && self.usual[grouping as usize] >> count & 1 == 1
    }

    fn words<'a>(
        &mut self,
        seen: &mut BTreeSet<&'a str>,
        pack: Option<u8>,
        codes: &'a [Code],
        tapers: &'a [TaperWord],
        marks: &'a [MarkWord],
        noise: &'a [String],
    ) {
        // The first entry of a text wins, so that packs come before ours.
        let mut add = |entries: &mut Vec<Entry>, text: &'a str, piece, weakness| {
            if seen.insert(text) {
                entries.push(Entry { text: text.as_bytes().into(), piece, weakness, pack });
            }
        };
        for code in codes {
            let weak = if code.text.len() == 1 { 2 } else { 0 };
            let index = u16::try_from(self.codes.len()).unwrap_or(u16::MAX);
            add(&mut self.entries, &code.text, Piece::Code(index), weak);
            self.codes.push(code.clone());
        }
        for taper in tapers {
            add(&mut self.entries, &taper.text, Piece::Taper(taper.taper), u8::from(taper.weak));
        }
        for mark in marks {
            let weak = if mark.weak { 2 } else { 0 };
            add(&mut self.entries, &mark.text, Piece::Mark(mark.mark), weak);
        }
        for word in noise {
            add(&mut self.entries, word, Piece::Noise, 1);
        }
    }

    fn put_size(&mut self, size: &Size, pack: Option<u8>) {
        let mm = thousandths(size.mm);
        self.sizes[usize::from(size.number) % 100] = Some(SizeRow {
            mm,
            least: size.least_mm.map_or(mm, thousandths),
            most: size.most_mm.map_or(mm, thousandths),
            also: size.also_mm.first().map_or(0, |mm| thousandths(*mm)),
            ranged: size.least_mm.is_some() || size.most_mm.is_some(),
            confirm: size.confirm,
            pack,
        });
    }

    /// By first letter, longest first.
    fn sort(&mut self) {
        self.entries.sort_by(|a, b| {
            a.text.first().cmp(&b.text.first()).then(b.text.len().cmp(&a.text.len()))
        });
        for letter in b'A'..=b'Z' {
            let from = self.entries.partition_point(|e| e.text[0] < letter);
            let to = self.entries.partition_point(|e| e.text[0] <= letter);
            let short = |n: usize| u16::try_from(n).unwrap_or(u16::MAX);
            self.first[usize::from(letter - b'A')] = (short(from), short(to));
        }
    }

    fn starting(&self, letter: u8) -> &[Entry] {
        let (from, to) = self.first[usize::from(letter.wrapping_sub(b'A')) % 26];
        &self.entries[usize::from(from)..usize::from(to)]
    }

    /// Whether packs have added to it.
    pub(crate) const fn has_packs(&self) -> bool {
        self.has_packs
    }

    /// Whether a text means something, however its parts are joined.
    pub(crate) fn knows(&self, text: &str) -> bool {
        let text = closed_up(text);
        let same = |known: &Entry| known.text.iter().filter(|b| **b != b' ').eq(text.as_bytes());
        self.entries.iter().any(same)
    }

    /// The pack from which the word of a stretch comes.
    pub(crate) fn pack_of(&self, text: &[u8], (start, end): (usize, usize)) -> Option<u8> {
        let letter = text.get(start).filter(|b| b.is_ascii_uppercase())?;
        let entry =
            self.starting(*letter).iter().find(|e| phrase(text, start, &e.text) == Some(end));
        entry?.pack
    }

    /// The longest word at a place that ends there as a word: no letter
    /// follows, unless the word itself ends in a digit.
    pub(crate) fn word(&self, text: &[u8], at: usize) -> Option<(Piece, usize)> {
        self.starting(text[at]).iter().find_map(|entry| {
            let end = phrase(text, at, &entry.text)?;
            let closed = entry.text.last().is_some_and(u8::is_ascii_digit)
                || !text.get(end).is_some_and(u8::is_ascii_alphabetic);
            closed.then_some((entry.piece, end))
        })
    }

    /// Every way to begin a run of letters with a word: piece, length, weakness.
    pub(crate) fn beginnings<'a>(
        &'a self,
        run: &'a [u8],
    ) -> impl Iterator<Item = (Piece, usize, u8)> + 'a {
        self.starting(run[0])
            .iter()
            .filter(|e| run.starts_with(&e.text))
            .map(|e| (e.piece, e.text.len(), e.weakness))
    }
}

/// Whether a word stands at a place, and where it ends; a blank in the word
/// stands for white space, any of `. - _ /`, or for nothing.
pub(crate) fn phrase(text: &[u8], at: usize, word: &[u8]) -> Option<usize> {
    let mut end = at;
    for letter in word {
        if *letter == b' ' {
            while text
                .get(end)
                .is_some_and(|b| b.is_ascii_whitespace() || matches!(b, b'.' | b'-' | b'_' | b'/'))
            {
                end += 1;
            }
        } else if text.get(end) == Some(letter) {
            end += 1;
        } else {
            return None;
        }
    }
    Some(end)
}
