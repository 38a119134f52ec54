//! `rules/aftercare/parameters.toml`: the numbers every treatment shares.

use etui_schema::vocabulary::Treatment;
use etui_schema::vocabulary::aftercare::HealingPhase;
use jiff::civil::Time;
use serde::Deserialize;

use super::data::{LoadError, Origin, Parameter, Sourced, Span, read, settle};
use crate::evidence::Register;

const FILE: &str = "parameters.toml";

/// The shared numbers.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Parameters {
    pub(crate) revision: u32,
    pub(crate) message_time: Parameter<Time>,
    pub(crate) night_from: Parameter<Time>,
    pub(crate) night_until: Parameter<Time>,
    pub(crate) soonest_minutes: Parameter<i32>,
    pub(crate) between_minutes: Parameter<i32>,
    pub(crate) grace_hours: Parameter<i32>,
    pub(crate) open_end_days: Parameter<i32>,
    pub(crate) opens: Parameter<Time>,
    pub(crate) heal: Heal,
    pub(crate) floor_days: Parameter<i32>,
    pub(crate) scabs_off_day: Parameter<i32>,
    pub(crate) healed_after_scabs_days: Span<i32>,
    pub(crate) touch_up_usual_days: Span<i32>,
    pub(crate) touch_up_closes_days: Parameter<i32>,
    pub(crate) phase: Vec<PhaseRow>,
    pub(crate) treatment: Vec<TreatmentRow>,
}

/// How healing slows with age.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Heal {
    pub(crate) from_age_years: u8,
    pub(crate) to_age_years: u8,
    pub(crate) factor: f64,
    pub(crate) sources: HealSources,
}

/// Where the parts of [`Heal`] come from.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct HealSources {
    pub(crate) factor: Origin,
    pub(crate) ages: Origin,
    pub(crate) shape: Origin,
}

/// One phase of healing.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct PhaseRow {
    pub(crate) phase: HealingPhase,
    pub(crate) from_day: i32,
    pub(crate) to_day: i32,
    pub(crate) source: Origin,
}

/// The milestones of one treatment.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct TreatmentRow {
    pub(crate) treatment: Treatment,
    pub(crate) review_days: Span<i32>,
    pub(crate) refresh_months: Span<i32>,
    #[serde(default)]
    pub(crate) next_session_days: Option<Span<i32>>,
}

impl Sourced for Parameters {
    fn origins(&mut self) -> Vec<&mut Origin> {
        let mut origins = vec![
            &mut self.message_time.source,
            &mut self.night_from.source,
            &mut self.night_until.source,
            &mut self.soonest_minutes.source,
            &mut self.between_minutes.source,
            &mut self.grace_hours.source,
            &mut self.open_end_days.source,
            &mut self.opens.source,
            &mut self.heal.sources.factor,
            &mut self.heal.sources.ages,
            &mut self.heal.sources.shape,
            &mut self.floor_days.source,
            &mut self.scabs_off_day.source,
            &mut self.healed_after_scabs_days.source,
            &mut self.touch_up_usual_days.source,
            &mut self.touch_up_closes_days.source,
        ];
        origins.extend(self.phase.iter_mut().map(|row| &mut row.source));
        for row in &mut self.treatment {
            origins.push(&mut row.review_days.source);
            origins.push(&mut row.refresh_months.source);
            origins.extend(row.next_session_days.as_mut().map(|span| &mut span.source));
        }
        origins
    }
}

impl Parameters {
    /// The parameters compiled into this build.
    ///
    /// # Errors
    /// [`LoadError`] if the file is unreadable, a value lies outside its own
    /// range, a treatment is missing, or a source is unknown.
    pub(crate) fn builtin(register: &Register) -> Result<Self, LoadError> {
        let mut parameters: Self =
            read(FILE, include_str!("../../rules/aftercare/parameters.toml"))?;
        settle([&mut parameters], register)?;
        parameters.check()?;
        Ok(parameters)
    }

    fn check(&self) -> Result<(), LoadError> {
        let numbers = [
            ("soonest_minutes", &self.soonest_minutes),
            ("between_minutes", &self.between_minutes),
            ("grace_hours", &self.grace_hours),
            ("open_end_days", &self.open_end_days),
            ("floor_days", &self.floor_days),
            ("scabs_off_day", &self.scabs_off_day),
            ("touch_up_closes_days", &self.touch_up_closes_days),
        ];
        for (key, number) in numbers {
            if !number.in_range() {
                return Err(row(key, "its value lies outside `least` to `most`"));
            }
        }
        let heal = &self.heal;
        if heal.to_age_years <= heal.from_age_years || !(1.0..=2.0).contains(&heal.factor) {
            return Err(row("heal", "ages must rise and the factor lie in 1 to 2"));
        }
        match Treatment::ALL.iter().find(|t| self.of(**t).is_none()) {
            Some(missing) => Err(row(missing.as_str(), "has no milestones")),
            None => Ok(()),
        }
    }

    /// The milestones of a treatment; every treatment has some once loaded.
    pub(crate) fn of(&self, treatment: Treatment) -> Option<&TreatmentRow> {
        self.treatment.iter().find(|row| row.treatment == treatment)
    }
}

fn row(key: &str, fault: &'static str) -> LoadError {
    LoadError::Row { file: FILE, key: key.to_owned(), fault }
}
