//! What is said of a picture that was read: numbers that it settles, and why it does not.

use etui_schema::drills::Target;
use etui_schema::sheet_readings::{QuantityReading, SheetCannot};
use etui_schema::vocabulary::{Language, Paper, Quantity, QuantityFault, SheetFault};

use super::Training;
use super::drills::spoken;
use super::panels::tidy;
use super::picture::{Quality, doubt, would_do_dpi};
use super::sheet::size_mm;

/// A paper is named where the marks come so near to its size.
const SAME_SIZE: f64 = 0.05;
/// A resolution would do where a number may be off by so much of what is adequate.
const ENOUGH: f64 = 0.4;

/// What a number is told with: how good the picture is, and what a ruler makes of it.
pub(super) struct Told<'a> {
    pub(super) quality: Option<&'a Quality>,
    pub(super) scale: f64,
    pub(super) language: Language,
}

impl Training {
    pub(super) fn cannot(&self, why: SheetFault, language: Language) -> SheetCannot {
        SheetCannot { why: why.into(), text: self.fill(language, &format!("cannot_{why}"), &[]) }
    }

    /// That the marks are those of another sheet, and of which.
    pub(super) fn other_size(
        &self,
        (width, height): (f64, f64),
        told: (f64, f64),
        language: Language,
    ) -> SheetCannot {
        let near = |own: f64, other: f64| (own / other - 1.0).abs() < SAME_SIZE;
        let paper = Paper::ALL.iter().find(|paper| {
            let size = size_mm(**paper);
            near(width, size.0) && near(height, size.1)
        });
        let (width, height) = paper.map_or((width, height), |paper| size_mm(*paper));
        let whole = |value: f64| format!("{value:.0}");
        let values = [
            ("width", whole(width)),
            ("height", whole(height)),
            ("told_width", whole(told.0)),
            ("told_height", whole(told.1)),
        ];
        let named = paper.map_or_else(String::new, |paper| paper.as_str().to_uppercase());
        let mut values: Vec<(&str, &str)> =
            values.iter().map(|(place, value)| (*place, value.as_str())).collect();
        values.push(("paper", &named));
        let key = if paper.is_some() { "cannot_wrong_paper" } else { "cannot_wrong_size" };
        SheetCannot { why: SheetFault::WrongSize.into(), text: self.fill(language, key, &values) }
    }

    /// A number that was read, or that the picture leaves open whether it is adequate: what
    /// lies nearer to a limit than it may be off neither passes nor fails.
    pub(super) fn number(
        &self,
        quantity: Quantity,
        got: f64,
        target: Option<&Target>,
        told: &Told<'_>,
    ) -> QuantityReading {
        let read = QuantityReading { quantity, got: Some(tidy(got)), cannot: None, text: None };
        let Some((target, quality)) = target.zip(told.quality) else { return read };
        let off = doubt(quantity, got, quality);
        let limits = [target.least, target.most];
        let near = limits.into_iter().flatten().map(|limit| (got - limit).abs());
        if off <= near.fold(f64::INFINITY, f64::min) || off <= 0.0 {
            return read;
        }
        let room = match (target.least, target.most) {
            (Some(least), Some(most)) => 0.5 * (most - least),
            (one, other) => one.or(other).unwrap_or(0.0).abs(),
        };
        let wanted = (quantity, target.asked.abs().max(room));
        let dpi = would_do_dpi(wanted, room * ENOUGH, quality);
        let said = |value: f64| spoken(told.language, value, f64::round);
        let values = [
            ("got", said(got)),
            ("off", said(off)),
            ("dpi", dpi.map_or_else(String::new, |dpi| dpi.to_string())),
        ];
        let values = values.each_ref().map(|(place, value)| (*place, value.as_str()));
        let key = if dpi.is_some() { "cannot_too_near" } else { "cannot_too_near_by_hand" };
        let text = Some(self.fill(told.language, key, &values));
        QuantityReading { got: None, cannot: Some(QuantityFault::TooFine.into()), text, ..read }
    }
}
