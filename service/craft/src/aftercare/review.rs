//! The healed result: what is judged, and what to change next time.
//!
//! Nothing is judged before the floor of 28 days, after which tattooed skin
//! looked normal again and colour is past its first swings. What the surface
//! shows comes first: a growing scar or lumps go to a doctor and nothing is
//! placed into that skin. Then the parts are judged one by one by the share of
//! colour they kept.
//!
//! Poor hold on skin that was hurt is never answered with more depth: hurt skin
//! does not hold colour. With no trauma seen, stretch, speed and passes are
//! questioned first. Where it was not told, less pressure is planned.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

pub use etui_schema::reviews::ReviewOutcome as Outcome;
use etui_schema::vocabulary::Treatment;
use etui_schema::vocabulary::aftercare::{HealedColour, HealedSurface, Retention, ReviewZone};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::Deserialize;

use super::dating::{days_after, days_between};
use super::healing::{Next, after};
use super::parameters::Parameters;
use super::say::{Say, Value};
use super::texts;
use crate::evidence::{Basis, Register};
use crate::rules::{self, Origin, RuleFault, RuleFile, rule_file};

const FILE: RuleFile = rule_file!("aftercare/review.toml");

/// What is seen on the healed work.
#[derive(Debug, Clone, PartialEq)]
pub struct Healed {
    /// What was treated.
    pub treatment: Treatment,
    /// End of the last session.
    pub performed_at: Timestamp,
    /// When it is looked at.
    pub reviewed_at: Timestamp,
    /// The client's zone, in which days are counted.
    pub zone: TimeZone,
    /// Age, for the earliest touch-up.
    pub age_years: Option<u8>,
    /// Share of the colour that is left, part by part.
    pub kept: Vec<(ReviewZone, Retention)>,
    /// How the colour compares with the plan.
    pub colour: Option<HealedColour>,
    /// What the surface shows.
    pub surface: Option<HealedSurface>,
    /// Whether trauma was seen during the session.
    pub trauma_seen: Option<bool>,
}

/// Why a healed result cannot be judged.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReviewError {
    /// Looked at before it was done.
    #[error(
        "the review of {reviewed_at} lies before the treatment of {performed_at}; it must not be earlier"
    )]
    BeforeTreatment {
        /// When it is looked at.
        reviewed_at: Timestamp,
        /// When the session was.
        performed_at: Timestamp,
    },
    /// No part was told.
    #[error("no part was judged; at least one is needed, `whole` if they are all alike")]
    NothingKept,
    /// A part that this treatment does not have.
    #[error("`{zone}` is no part of {treatment}; accepted: {accepted}")]
    Zone {
        /// Its place in the list.
        index: usize,
        /// Which one.
        zone: ReviewZone,
        /// Of what.
        treatment: Treatment,
        /// What would be accepted.
        accepted: String,
    },
    /// The same part twice.
    #[error("`{zone}` is told twice; tell each part once")]
    Twice {
        /// Place of the second one.
        index: usize,
        /// Which one.
        zone: ReviewZone,
    },
    /// The calendar ends before the touch-up.
    #[error("the treatment lies too late in the calendar; years up to 9000 are accepted")]
    OutOfCalendar,
}

impl ReviewError {
    /// Pointer to the field that is at fault.
    #[must_use]
    pub fn pointer(&self) -> String {
        match self {
            Self::BeforeTreatment { .. } => "/reviewed_at".to_owned(),
            Self::NothingKept => "/zones".to_owned(),
            Self::Zone { index, .. } | Self::Twice { index, .. } => format!("/zones/{index}/zone"),
            Self::OutOfCalendar => "/performed_at".to_owned(),
        }
    }
}

/// One piece of advice.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    /// Stable key.
    pub key: Arc<str>,
    /// The parts it is about; empty for all.
    pub zones: Vec<ReviewZone>,
    /// What it says.
    pub say: Say,
    /// Where it comes from.
    pub basis: Vec<Basis>,
}

/// What a review comes to.
#[derive(Debug, Clone, PartialEq)]
pub struct Judgement {
    /// Day of the review, counted from the session (day 0).
    pub day: i32,
    /// What is to happen.
    pub outcome: Outcome,
    /// First day on which it can be judged, or worked over: for `too_early`
    /// the one, for `touch_up` the other.
    pub not_before: Option<Date>,
    /// What to change, most important first.
    pub advice: Vec<Advice>,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Rules {
    zones: BTreeMap<Treatment, Vec<ReviewZone>>,
    sources: Sources,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct Sources {
    floor: Origin,
    scar: Origin,
    colour: Origin,
    advice: Origin,
    trauma: Origin,
}

/// The rules of the review.
#[derive(Debug, Clone)]
pub struct Reviews {
    rules: Rules,
    parameters: Parameters,
}

impl Reviews {
    /// The rules compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if a treatment has no parts, or a source or text is
    /// unknown.
    pub fn builtin(register: &Register) -> Result<Self, RuleFault> {
        let rules: Rules = rules::load(register, FILE)?;
        if let Some(missing) = Treatment::ALL.iter().find(|t| !rules.zones.contains_key(t)) {
            return Err(RuleFault::new(FILE.name, "/zones", format!("{missing} has no parts")));
        }
        texts::catalogue()?.require(FILE.name, KEYS)?;
        Ok(Self { rules, parameters: Parameters::builtin(register)? })
    }

    /// The parts of a treatment's work that can be judged.
    #[must_use]
    pub fn zones(&self, treatment: Treatment) -> &[ReviewZone] {
        self.rules.zones.get(&treatment).map_or(&[], Vec::as_slice)
    }

    /// Judges a healed result.
    ///
    /// # Errors
    /// Every [`ReviewError`] at once.
    pub fn judge(&self, healed: &Healed) -> Result<Judgement, Vec<ReviewError>> {
        let faults = self.faults(healed);
        if !faults.is_empty() {
            return Err(faults);
        }
        let date = |at: Timestamp| at.to_zoned_datetime(healed.zone.clone()).date();
        let session = date(healed.performed_at);
        let day = days_between(session, date(healed.reviewed_at));
        let floor = self.parameters.floor_days.value;
        let on = |days| days_after(session, days).map_err(|_| vec![ReviewError::OutOfCalendar]);
        if day < floor {
            return Ok(self.too_early(day, floor, on(floor)?));
        }
        let age = healed.age_years;
        let rested = after(&self.parameters, healed.treatment, Next::TouchUp, age);
        let touch_up = on(rested.days)?;
        Ok(self.judge_healed(healed, day, touch_up, date(healed.reviewed_at)))
    }

    fn faults(&self, healed: &Healed) -> Vec<ReviewError> {
        let mut faults = Vec::new();
        if healed.reviewed_at < healed.performed_at {
            faults.push(ReviewError::BeforeTreatment {
                reviewed_at: healed.reviewed_at,
                performed_at: healed.performed_at,
            });
        }
        if healed.kept.is_empty() {
            faults.push(ReviewError::NothingKept);
        }
        let allowed = self.zones(healed.treatment);
        let mut seen = BTreeSet::new();
        for (index, (zone, _)) in healed.kept.iter().enumerate() {
            if !allowed.contains(zone) {
                let accepted: Vec<&str> = allowed.iter().map(|zone| zone.as_str()).collect();
                faults.push(ReviewError::Zone {
                    index,
                    zone: *zone,
                    treatment: healed.treatment,
                    accepted: accepted.join(", "),
                });
            } else if !seen.insert(*zone) {
                faults.push(ReviewError::Twice { index, zone: *zone });
            }
        }
        faults
    }

    fn too_early(&self, day: i32, floor: i32, earliest: Date) -> Judgement {
        let say = Say::plain("review_too_early")
            .with("floor", Value::Number(floor))
            .with("days", Value::Number(day))
            .with("date", Value::Date(earliest));
        let basis = vec![self.rules.sources.floor.basis("first day on which a result is judged")];
        let advice = vec![Advice { key: "review_too_early".into(), zones: Vec::new(), say, basis }];
        Judgement { day, outcome: Outcome::TooEarly, not_before: Some(earliest), advice }
    }

    fn judge_healed(&self, healed: &Healed, day: i32, touch_up: Date, today: Date) -> Judgement {
        let sources = &self.rules.sources;
        let stop = |outcome, key, origin: &Origin| Judgement {
            day,
            outcome,
            not_before: None,
            advice: vec![advice(key, Vec::new(), origin)],
        };
        let marked = match healed.surface {
            Some(HealedSurface::GrowingScar | HealedSurface::Lumps) => {
                return stop(Outcome::Refer, "review_refer", &sources.scar);
            }
            Some(HealedSurface::Unhealed) => {
                return stop(Outcome::Wait, "review_unhealed", &sources.advice);
            }
            Some(HealedSurface::Textured | HealedSurface::Raised) => true,
            Some(HealedSurface::Smooth) | None => false,
        };
        let mut said = Vec::new();
        if marked {
            said.push(advice("review_leave_scar", Vec::new(), &sources.trauma));
        }
        let lost = self.hold(healed, marked, &mut said);
        let lighter = self.colour(healed, &mut said);
        if !lost && !lighter {
            if said.is_empty() {
                said.push(advice("review_nothing", Vec::new(), &sources.advice));
            }
            return Judgement { day, outcome: Outcome::Nothing, not_before: None, advice: said };
        }
        if today < touch_up {
            let mut wait = advice("review_wait", Vec::new(), &sources.floor);
            wait.say = wait.say.with("date", Value::Date(touch_up));
            said.push(wait);
        }
        let not_before = Some(touch_up.max(today));
        Judgement { day, outcome: Outcome::TouchUp, not_before, advice: said }
    }

    /// What the parts that lost colour ask for; whether there are any.
    fn hold(&self, healed: &Healed, marked: bool, said: &mut Vec<Advice>) -> bool {
        let sources = &self.rules.sources;
        let lost: Vec<ReviewZone> = healed
            .kept
            .iter()
            .filter(|(_, kept)| *kept < Retention::From75)
            .map(|(zone, _)| *zone)
            .collect();
        if lost.is_empty() {
            return false;
        }
        let gone = healed.kept.iter().all(|(_, kept)| *kept == Retention::Under25);
        let key = if gone { "review_whole" } else { "review_spots" };
        said.push(advice(key, lost.clone(), &sources.advice));
        let key = match healed.trauma_seen {
            _ if marked => "review_trauma",
            Some(true) => "review_trauma",
            Some(false) => "review_stretch",
            None => "review_trauma_unknown",
        };
        said.push(advice(key, lost, &sources.trauma));
        let best = healed.kept.iter().map(|(_, kept)| *kept).max();
        let worst = healed.kept.iter().map(|(_, kept)| *kept).min();
        let apart = matches!(
            (worst, best),
            (Some(Retention::Under25), Some(Retention::From50To75 | Retention::From75))
                | (Some(Retention::From25To50), Some(Retention::From75))
        );
        if apart {
            said.push(advice("review_uneven_zones", Vec::new(), &sources.advice));
        }
        true
    }

    /// What the colour asks for; whether that is a touch-up.
    fn colour(&self, healed: &Healed, said: &mut Vec<Advice>) -> bool {
        let (key, touch_up) = match healed.colour {
            None | Some(HealedColour::AsPlanned) => return false,
            Some(HealedColour::TooLight) => ("review_lighter", true),
            Some(HealedColour::TooDark) => ("review_darker", false),
            Some(HealedColour::TooCool) => ("review_cool", true),
            Some(HealedColour::TooWarm) => ("review_warm", true),
            Some(HealedColour::Blurred) => ("review_blurred", false),
        };
        let mut one = advice(key, Vec::new(), &self.rules.sources.advice);
        if healed.colour == Some(HealedColour::TooDark) {
            one.basis.push(self.rules.sources.colour.basis("that colour goes on fading"));
        }
        said.push(one);
        touch_up
    }
}

/// Every text a review can say.
const KEYS: &[&str] = &[
    "review_too_early",
    "review_refer",
    "review_unhealed",
    "review_leave_scar",
    "review_nothing",
    "review_spots",
    "review_whole",
    "review_trauma",
    "review_stretch",
    "review_trauma_unknown",
    "review_lighter",
    "review_darker",
    "review_cool",
    "review_warm",
    "review_blurred",
    "review_uneven_zones",
    "review_wait",
];

fn advice(key: &str, zones: Vec<ReviewZone>, origin: &Origin) -> Advice {
    Advice { key: key.into(), zones, say: Say::plain(key), basis: vec![origin.basis("advice")] }
}
