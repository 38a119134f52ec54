//! Why a quantity is held as close as it is: a reason for each number that is judged.

use etui_schema::drills::QuantityReason;
use etui_schema::vocabulary::{DrillLevel, Language, Quantity};

use super::Training;
use super::panels::Plan;
use crate::text;

impl Training {
    /// One reason for each quantity that the panels are judged by.
    pub(super) fn reasons(
        &self,
        plans: &[Plan],
        level: DrillLevel,
        language: Language,
    ) -> Vec<QuantityReason> {
        let judged = |quantity: &&Quantity| {
            plans.iter().flat_map(|plan| &plan.targets).any(|target| target.quantity == **quantity)
        };
        let reason = |quantity: &Quantity| {
            let (key, values) = self.reason(*quantity, level);
            let values = values.map(|value| text::number(language, &format!("{value}")));
            let [a, b] = &values;
            let because = self.fill(language, key, &[("room", a.as_str()), ("most", b.as_str())]);
            QuantityReason { quantity: *quantity, because }
        };
        Quantity::ALL.iter().filter(judged).map(reason).collect()
    }

    fn reason(&self, quantity: Quantity, level: DrillLevel) -> (&'static str, [f64; 2]) {
        let rules = &self.rules.drills;
        let level = rules.level(level);
        let percent = |share: f64| (100.0 * share).round();
        let (key, room) = match quantity {
            Quantity::Count => ("why_count", 0.0),
            Quantity::Doubled => ("why_doubled", rules.doubled.value),
            Quantity::Skipped | Quantity::Gaps => ("why_none", 0.0),
            Quantity::Overworked => ("why_overworked", 0.0),
            Quantity::SpacingMm | Quantity::PerCm2 => ("why_share", percent(level.spacing)),
            Quantity::TrendPerMm => ("why_share", percent(level.width)),
            Quantity::MarkMm => ("why_mark", percent(level.width)),
            Quantity::WidthMm => ("why_width", percent(level.width)),
            Quantity::SpacingCv | Quantity::WidthCv => ("why_spread", percent(level.cv)),
            Quantity::OffLineMm | Quantity::StraightnessMm | Quantity::RadiusSdMm => {
                ("why_line", level.off_line_mm)
            }
            Quantity::Regularity => {
                return (
                    "why_regularity",
                    [rules.regularity_least.value, rules.regularity_most.value],
                );
            }
            Quantity::BareSquareMm => ("why_bare_square", rules.bare_square.value),
            Quantity::LiftOff => ("why_lift_off", percent(rules.lift_off.value)),
            Quantity::BowMm => ("why_bow", rules.bow_tolerance_mm.value),
            Quantity::ClosureMm => ("why_closure", rules.closure_mm.value),
            Quantity::Cover => ("why_cover", percent(rules.cover_tolerance.value)),
            Quantity::Evenness | Quantity::Stripes => ("why_chance", rules.evenness.value),
        };
        (key, [room, 0.0])
    }
}
