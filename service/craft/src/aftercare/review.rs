//! The healed result: what is judged, and what to change next time.
//!
//! What the surface shows comes first, on any day: a growing scar, lumps or
//! raised skin go to a doctor and nothing is placed into that skin. What was
//! found before stays until a doctor's word is known ([`Before`]), however mild a
//! later look is. Colour is not judged before the floor of 28 days, after which
//! tattooed skin looked normal again and colour is past its first swings. Then the
//! parts are judged one by one by the share of colour they kept. Where nobody said
//! what the surface shows, it is asked, and nothing is settled.
//!
//! Poor hold on skin that was hurt is never answered with more depth: hurt skin
//! does not hold colour. With no trauma seen, stretch, speed and passes are
//! questioned first. Where it was not told, less pressure is planned.

mod error;

use etui_schema::kinds::loaded;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

pub use etui_schema::reviews::ReviewOutcome as Outcome;
use etui_schema::vocabulary::Treatment;
use etui_schema::vocabulary::aftercare::{HealedColour, HealedSurface, Retention, ReviewZone};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

pub use self::error::ReviewError;
use super::dating::{days_after, days_between};
use super::healing::{Next, after};
use super::parameters::Parameters;
use super::say::{Say, Value};
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
    /// What is known from before.
    pub before: Before,
}

/// What was reported of the work, and found on it, before this look.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Before {
    /// Whether a report that a doctor should see is open.
    pub is_report_open: bool,
    /// Whether a growing scar, lumps or what may be an allergy was found or told
    /// and no doctor has agreed since.
    pub needs_doctor: bool,
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

#[loaded]
pub(crate) struct Rules {
    zones: BTreeMap<Treatment, Vec<ReviewZone>>,
    sources: Sources,
}

#[loaded]
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
        Ok(Self { rules, parameters: Parameters::builtin(register)? })
    }

    /// The parts of a treatment's work that can be judged.
    #[must_use]
    pub fn zones(&self, treatment: Treatment) -> &[ReviewZone] {
        self.rules.zones.get(&treatment).map_or(&[], Vec::as_slice)
    }

    /// First day on which colour is judged.
    #[must_use]
    pub const fn floor_days(&self) -> i32 {
        self.parameters.floor_days.value
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
        if let Some(stopped) = self.stopped(healed, day) {
            return Ok(stopped);
        }
        if day < floor {
            return Ok(self.too_early(healed, day, on(floor)?));
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

    /// What waits for no day: a doctor comes before anything else.
    fn stopped(&self, healed: &Healed, day: i32) -> Option<Judgement> {
        let open = healed.before.is_report_open;
        let key = match healed.surface {
            Some(HealedSurface::GrowingScar | HealedSurface::Lumps | HealedSurface::Raised) => {
                "review_refer"
            }
            _ if healed.before.needs_doctor => "review_refer_before",
            Some(HealedSurface::Unhealed) | None if open => "review_open_report",
            _ => return None,
        };
        let advice = vec![advice(key, Vec::new(), &self.rules.sources.scar)];
        Some(Judgement { day, outcome: Outcome::Refer, not_before: None, advice })
    }

    fn too_early(&self, healed: &Healed, day: i32, earliest: Date) -> Judgement {
        let floor = self.parameters.floor_days.value;
        let say = Say::plain("review_too_early")
            .with("floor", Value::Number(floor))
            .with("days", Value::Number(day))
            .with("date", Value::Date(earliest));
        let basis = vec![self.rules.sources.floor.basis("first day on which a result is judged")];
        let key = "review_too_early".into();
        let mut advice = vec![Advice { key, zones: Vec::new(), say, basis }];
        advice.extend(self.open_report(healed));
        if healed.surface.is_none() {
            advice.push(self::advice("review_ask_surface", Vec::new(), &self.rules.sources.advice));
        }
        Judgement { day, outcome: Outcome::TooEarly, not_before: Some(earliest), advice }
    }

    fn open_report(&self, healed: &Healed) -> Option<Advice> {
        let origin = &self.rules.sources.advice;
        healed.before.is_report_open.then(|| advice("review_open_report", Vec::new(), origin))
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
            None => return stop(Outcome::Ask, "review_ask_surface", &sources.advice),
            Some(HealedSurface::Unhealed) => {
                return stop(Outcome::Wait, "review_unhealed", &sources.advice);
            }
            Some(HealedSurface::Smooth) => false,
            // Those that a doctor has to see were answered before.
            Some(
                HealedSurface::Textured
                | HealedSurface::Raised
                | HealedSurface::GrowingScar
                | HealedSurface::Lumps,
            ) => true,
        };
        let mut said = Vec::from_iter(self.open_report(healed));
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
        // While a report is open nobody knows a day.
        let open = healed.before.is_report_open;
        if today < touch_up && !open {
            let mut wait = advice("review_wait", Vec::new(), &sources.floor);
            wait.say = wait.say.with("date", Value::Date(touch_up));
            said.push(wait);
        }
        let not_before = (!open).then(|| touch_up.max(today));
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
        // What has spread or turned cool often lay too deep: not the same depth again.
        let deep = matches!(healed.colour, Some(HealedColour::Blurred | HealedColour::TooCool));
        let key = match (gone, deep) {
            (true, false) => "review_whole",
            (true, true) => "review_whole_shallower",
            (false, false) => "review_spots",
            (false, true) => "review_spots_shallower",
        };
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

fn advice(key: &str, zones: Vec<ReviewZone>, origin: &Origin) -> Advice {
    Advice { key: key.into(), zones, say: Say::plain(key), basis: vec![origin.basis("advice")] }
}
