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
