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

/// Whether a label leaves sterility unsaid, so that a habit may say it: where it says anything of it
/// that was not understood, somebody looks.
///
/// ```
/// use etui_craft::drawer::leaves_sterility_unsaid;
/// assert!(leaves_sterility_unsaid("0.30 3RL LOT A1 EXP 2028-07"));
/// assert!(!leaves_sterility_unsaid("0.30 3RL LOT A1 EXP 2028-07 sterilization pending"));
/// ```
#[must_use]
pub fn leaves_sterility_unsaid(text: &str) -> bool {
    let lower = text.to_lowercase();
    !SPEAKS_OF_STERILITY.iter().any(|word| lower.contains(word))
}
