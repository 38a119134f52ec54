//! `rules/aftercare/parameters.toml`: the numbers every treatment shares.

use etui_schema::kinds::loaded;
use etui_schema::vocabulary::Treatment;
use etui_schema::vocabulary::aftercare::HealingPhase;
use jiff::civil::Time;

use super::dating::QuietHours;
use crate::evidence::Register;
use crate::rules::{self, Origin, Parameter, RuleFault, RuleFile, Span, rule_file};

const FILE: RuleFile = rule_file!("aftercare/parameters.toml");

/// The shared numbers.
#[loaded]
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
#[loaded]
pub(crate) struct Heal {
    pub(crate) from_age_years: u8,
    pub(crate) to_age_years: u8,
    pub(crate) factor: f64,
    pub(crate) sources: HealSources,
}

/// Where the parts of [`Heal`] come from.
#[loaded(PartialEq)]
pub(crate) struct HealSources {
    pub(crate) factor: Origin,
    pub(crate) ages: Origin,
    pub(crate) shape: Origin,
}

/// One phase of healing.
#[loaded]
pub(crate) struct PhaseRow {
    pub(crate) phase: HealingPhase,
    pub(crate) from_day: i32,
    pub(crate) to_day: i32,
    pub(crate) source: Origin,
}

/// The milestones of one treatment.
#[loaded]
pub(crate) struct TreatmentRow {
    pub(crate) treatment: Treatment,
    pub(crate) review_days: Span<i32>,
    pub(crate) refresh_months: Span<i32>,
    pub(crate) next_session_days: Option<Span<i32>>,
}

impl Parameters {
    /// The parameters compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if the file is unreadable, a value lies outside its own
    /// range, a treatment is missing, or a source is unknown.
    pub(crate) fn builtin(register: &Register) -> Result<Self, RuleFault> {
        let parameters: Self = rules::load(register, FILE)?;
        let Heal { from_age_years, to_age_years, factor, sources: _ } = parameters.heal;
        let heals = from_age_years < to_age_years && (1.0..=2.0).contains(&factor);
        let why = "ages must rise and the factor lie in 1 to 2";
        RuleFault::unless(heals, FILE.name, "/heal", why)?;
        match Treatment::ALL.iter().find(|t| parameters.of(**t).is_none()) {
            Some(missing) => {
                Err(RuleFault::new(FILE.name, "/treatment", format!("{missing} has no milestones")))
            }
            None => Ok(parameters),
        }
    }

    /// The hours in which no message is sent where nobody told others, unless it is wanted within them.
    pub(crate) fn night(&self, message_time: Time) -> Option<QuietHours> {
        QuietHours::new(self.night_from.value, self.night_until.value)
            .filter(|night| !night.cover(message_time))
    }

    /// The milestones of a treatment; every treatment has some once loaded.
    pub(crate) fn of(&self, treatment: Treatment) -> Option<&TreatmentRow> {
        self.treatment.iter().find(|row| row.treatment == treatment)
    }
}
