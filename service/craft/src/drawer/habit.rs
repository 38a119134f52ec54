//! A supplier's habits.

use crate::label::{MonthRule, Whose};

/// How a supplier prints its packs.
#[derive(Debug, Clone, Copy)]
pub struct Habit<'a> {
    /// Whose packs it speaks of.
    pub whose: Whose<'a>,
    /// Which day it means by a month.
    pub month: Option<MonthRule>,
    /// Whether its packs are sterile although the label does not say so.
    pub sterile: Option<bool>,
}

/// What a label says of sterility, or of packs that never were sterile, in the letters of its
/// language. Common practice, no source.
const SPEAKS_OF_STERILITY: &[&str] = &[
    "steril",
    "stéril",
    "stéryl",
    "asept",
    "unster",
    "autoclav",
    "autoklav",
    "автоклав",
    "disinf",
    "desinf",
    "désinf",
    "dezinf",
    "dezynf",
    "дезинф",
    "дезінф",
    "sanitis",
    "sanitiz",
    "keimfrei",
    "keimarm",
    "消毒",
    "소독",
    "стерил",
    "στείρ",
    "στειρ",
    "sótthrei",
    "trùng",
    "ปลอดเชื้อ",
    "灭菌",
    "滅菌",
    "无菌",
    "無菌",
    "멸균",
    "무균",
    "معقم",
    "استریل",
    "סטריל",
    "עוקר",
    "निर्जम",
    "raw",
    "bulk",
    "rohware",
    "training",
    "practice",
    "practise",
    "übung",
    "demo",
    "dummy",
    "muster",
];

/// Pieces into which a word of sterility is torn at most.
const PIECES: usize = 5;
/// What is left of such a word at its end.
const ENDS: [&str; 4] = ["rile", "eril", "teril", "rilis"];

/// Whether a label leaves sterility unsaid, so that a habit may say it: where it says anything of it
/// that was not understood, somebody looks.
///
/// ```
/// use etui_craft::drawer::leaves_sterility_unsaid;
/// assert!(leaves_sterility_unsaid("0.30 3RL LOT A1 EXP 2028-07"));
/// assert!(!leaves_sterility_unsaid("0.30 3RL LOT A1 EXP 2028-07 sterilization pending"));
/// assert!(!leaves_sterility_unsaid("0.30 3RL LOT A1 EXP 2028-07 STE RI"));
/// assert!(!leaves_sterility_unsaid("0.30 3RL LOT A1 EXP 2028-07 ???RILE"));
/// assert!(!leaves_sterility_unsaid("0.30 3RL LOT A1 EXP 2028-07 STRILE"));
/// assert!(leaves_sterility_unsaid("0.30 3RL LOT A1 EXP 2028-07 Master Ink"));
/// ```
#[must_use]
pub fn leaves_sterility_unsaid(text: &str) -> bool {
    let lower = text.to_lowercase();
    !SPEAKS_OF_STERILITY.iter().any(|word| lower.contains(word)) && !has_torn_word(&lower)
}

/// Whether a word of sterility stands there in pieces, or its end alone.
fn has_torn_word(lower: &str) -> bool {
    let mut words = lower.split(|c: char| !c.is_alphabetic()).filter(|word| !word.is_empty());
    std::iter::from_fn(|| {
        let rest = words.clone();
        let first = words.next()?;
        let joined: String = rest.take(PIECES).collect();
        let torn = first == "ster" || joined.starts_with("steri");
        Some(torn || is_near(first) || ENDS.iter().any(|end| first.starts_with(end)))
    })
    .any(|torn| torn)
}

/// Whether a word is one of sterility with a letter lost, wrong or too many.
fn is_near(word: &str) -> bool {
    ["steril", "sterile", "steriel", "sterilized"].iter().any(|whole| {
        let same = word.bytes().zip(whole.bytes()).take_while(|(one, other)| one == other).count();
        let word = |from: usize| word.as_bytes().get(from..).unwrap_or_default();
        let whole = |from: usize| whole.as_bytes().get(from..).unwrap_or_default();
        let next = same + 1;
        word(next) == whole(next) || word(next) == whole(same) || word(same) == whole(next)
    })
}
