//! The rule data of the chair, read and checked once.

use etui_schema::kinds::loaded;
use std::sync::Arc;

use etui_schema::vocabulary::Effect;
use etui_schema::vocabulary::chair::{StopScope, TraumaSign};
use serde::Deserialize;

use crate::evidence::{Agreement, Basis, Register};
use crate::rules::{self, Origin, RuleFault, RuleFile, rule_file};
use crate::text::{Catalogue, texts};
use crate::words::words;

const SIGNS: RuleFile = rule_file!("trauma/signs.toml");
const STEPS: RuleFile = rule_file!("trauma/steps.toml");

words! {
    /// What kind of thing a step is.
    StepKind {
        /// Leave the spot.
        LeaveSpot = "leave_spot",
        /// A question to settle first.
        Ask = "ask",
        /// Less pressure and depth.
        LighterHand = "lighter_hand",
        /// A lower rate.
        LowerRate = "lower_rate",
        /// A shorter stroke.
        ShorterStroke = "shorter_stroke",
        /// Another configuration for the rest of the area.
        Configuration = "configuration",
        /// What to do for the skin and the client now.
        Care = "care",
        /// What the touch-up is for.
        TouchUp = "touch_up",
        /// Stop, or when to stop altogether.
        Stop = "stop",
    }
}

/// The turn that work takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Turn {
    /// It goes on, gentler.
    On,
    /// The spot that was named is finished; the rest goes on.
    Spot,
    /// A spot is finished that nobody named.
    Nowhere,
    /// The session ends.
    Session,
}

/// What one sign asks for.
#[loaded(PartialEq)]
pub(super) struct SignRule {
    sign: TraumaSign,
    source: Origin,
    /// Whether it is borne at one spot alone: on the whole area it ends the session.
    #[serde(default)]
    spreads: bool,
    /// Whether it is a sign of hurt skin.
    #[serde(default = "yes")]
    pub(super) hurts: bool,
    stop: Option<StopScope>,
    stop_on_lid: Option<StopScope>,
}

const fn yes() -> bool {
    true
}

impl SignRule {
    pub(super) fn scope(&self, on_lid: bool, whole: bool) -> Option<StopScope> {
        let scope = if on_lid { self.stop_on_lid.max(self.stop) } else { self.stop };
        let ends = whole && (self.spreads || scope.is_some());
        if ends { Some(StopScope::Session) } else { scope }
    }
}

/// One step, and when it is said.
#[loaded]
pub(super) struct StepRule {
    /// Its sentences stand under `<key>.change` and `<key>.because`.
    pub(super) key: Arc<str>,
    pub(super) kind: StepKind,
    pub(super) source: Origin,
    pub(super) agreement: Agreement,
    /// Key of its sentences where what was recorded before stops the work, and not what
    /// is seen now.
    pub(super) earlier: Option<Arc<str>>,
    /// The turns at which it is said.
    pub(super) turns: Vec<Turn>,
    /// The signs that ask for it; all if empty.
    #[serde(default)]
    pub(super) signs: Vec<TraumaSign>,
    /// The signs beside which it is not said.
    #[serde(default)]
    pub(super) not_with: Vec<TraumaSign>,
    /// Whether it is said where one plans ahead, without a sign.
    #[serde(default)]
    pub(super) general: bool,
    /// Said only where the stroke is longer than this, or not told.
    pub(super) above_stroke_mm: Option<f64>,
    /// Said only where the rate is higher than this, or not told.
    pub(super) above_rate_hz: Option<f64>,
    #[serde(default)]
    pub(super) not_on_weak_machine: bool,
    /// Said only where nobody told the place.
    #[serde(default)]
    pub(super) only_without_place: bool,
    /// Said only for signs that are seen now.
    #[serde(default)]
    pub(super) seen_now: bool,
    /// Said only where nobody told the effect.
    #[serde(default)]
    pub(super) only_without_effect: bool,
    /// Said only where the record speaks against the pack in use.
    #[serde(default)]
    pub(super) only_spoilt: bool,
}

/// Which needle may follow.
#[loaded(PartialEq)]
pub(crate) struct NeedleRule {
    source: Origin,
    /// At most so many are named.
    pub(super) most: usize,
    /// The group grows to at most so many times its count.
    pub(super) count_factor: u8,
    /// The least share of the pressure that a change must take away.
    pub(super) least_relief: f64,
    /// The least share of the present needle's desirability that a change must keep.
    pub(super) least_fit: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SignFile {
    sign: Vec<SignRule>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct StepFile {
    needle: NeedleRule,
    step: Vec<StepRule>,
}

/// Everything that the chair is ruled by.
#[derive(Debug, Clone)]
pub struct Rules {
    signs: Vec<SignRule>,
    pub(super) steps: Vec<StepRule>,
    /// Which needle may follow.
    pub(crate) needle: NeedleRule,
    pub(super) texts: Catalogue,
    about: Arc<str>,
}

/// What a needle is said by, beside the steps' own keys.
const NEEDLE_SAYS: [&str; 6] =
    ["gentler", "same", "same_machine_untold", "does_not_fit", "fresh", "no_fresh"];

impl Rules {
    /// Reads the files compiled into this build and checks them.
    ///
    /// # Errors
    /// [`RuleFault`] names what is not sound.
    pub fn builtin(register: &Register) -> Result<Self, RuleFault> {
        let SignFile { sign: mut signs } = rules::load(register, SIGNS)?;
        let StepFile { needle, step: steps } = rules::load(register, STEPS)?;
        // In the order of the words, so that a sign is found by its place.
        signs.sort_by_key(|rule| rule.sign);
        let all = signs.iter().map(|rule| rule.sign).eq(TraumaSign::ALL.iter().copied());
        RuleFault::unless(all, SIGNS.name, "/sign", "each sign must stand once")?;
        let share = 0.0 < needle.least_relief && needle.least_relief < 1.0;
        RuleFault::unless(share, STEPS.name, "/needle/least_relief", "lies between 0 and 1")?;
        let share = 0.0 < needle.least_fit && needle.least_fit <= 1.0;
        RuleFault::unless(share, STEPS.name, "/needle/least_fit", "lies above 0 and up to 1")?;
        let own = steps.iter().flat_map(|rule| {
            // Which needle is said by sentences of its own.
            let needs = rule.kind != StepKind::Configuration;
            needs.then_some(&rule.key).into_iter().chain(&rule.earlier).map(|key| &**key)
        });
        let keys = own.chain(NEEDLE_SAYS);
        let keys = keys.flat_map(|key| ["change", "because"].map(|part| format!("{key}.{part}")));
        let names = TraumaSign::ALL.iter().map(|sign| format!("sign.{sign}"));
        let effects = Effect::ALL.iter().map(|effect| format!("effect.{effect}"));
        let texts = texts!("trauma", keys.chain(names).chain(effects))?;
        Ok(Self { signs, steps, needle, texts, about: "what to do on trauma".into() })
    }

    /// What a sign asks for. Loading has checked that each stands once.
    pub(super) fn sign(&self, sign: TraumaSign) -> &SignRule {
        &self.signs[sign as usize]
    }

    /// The basis of a step.
    pub(super) fn basis(&self, source: &Origin) -> Basis {
        source.basis(Arc::clone(&self.about))
    }
}
