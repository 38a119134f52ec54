//! The rule data of the chair, read and checked once.

use std::sync::Arc;

use etui_schema::vocabulary::EvidenceKind;
use etui_schema::vocabulary::chair::{StopScope, TraumaSign};
use serde::{Deserialize, de::DeserializeOwned};

use crate::evidence::{Basis, EvidenceError, Register};
use crate::text::{Catalogue, TextError};

/// Why the rule data was refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TraumaError {
    /// A file is not readable.
    #[error("trauma rules `{file}`: {why}")]
    Unreadable {
        /// Which file.
        file: &'static str,
        /// What the reader said.
        why: String,
    },
    /// A rule points at a source that is not registered.
    #[error(transparent)]
    Evidence(#[from] EvidenceError),
    /// The sentences are faulty, or one is missing.
    #[error(transparent)]
    Texts(#[from] TextError),
    /// A sign does not stand exactly once.
    #[error("trauma rules: the sign `{sign}` must stand once")]
    Sign {
        /// The sign.
        sign: TraumaSign,
    },
    /// A number that makes no sense.
    #[error("trauma rules: {why}")]
    Number {
        /// What is wrong.
        why: &'static str,
    },
}

/// What kind of thing a step is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StepKind {
    /// Leave the spot.
    LeaveSpot,
    /// A question to settle first.
    Ask,
    /// Less pressure and depth.
    LighterHand,
    /// A lower rate.
    LowerRate,
    /// A shorter stroke.
    ShorterStroke,
    /// Another configuration for the rest of the area.
    Configuration,
    /// What to do for the skin and the client now.
    Care,
    /// What the touch-up is for.
    TouchUp,
    /// Stop, or when to stop altogether.
    Stop,
}

impl StepKind {
    /// The word used in answers.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::LeaveSpot => "leave_spot",
            Self::Ask => "ask",
            Self::LighterHand => "lighter_hand",
            Self::LowerRate => "lower_rate",
            Self::ShorterStroke => "shorter_stroke",
            Self::Configuration => "configuration",
            Self::Care => "care",
            Self::TouchUp => "touch_up",
            Self::Stop => "stop",
        }
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
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SignRule {
    sign: TraumaSign,
    source: Arc<str>,
    stop: Option<StopScope>,
    stop_on_lid: Option<StopScope>,
}

impl SignRule {
    pub(super) fn scope(&self, on_lid: bool) -> Option<StopScope> {
        if on_lid { self.stop_on_lid.max(self.stop) } else { self.stop }
    }
}

/// One step, and when it is said.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct StepRule {
    /// Its sentences stand under `<key>.change` and `<key>.because`.
    pub(super) key: Arc<str>,
    pub(super) kind: StepKind,
    pub(super) source: Arc<str>,
    pub(super) agreement: Arc<str>,
    /// The turns at which it is said.
    pub(super) turns: Vec<Turn>,
    /// The signs that ask for it; all if empty.
    #[serde(default)]
    pub(super) signs: Vec<TraumaSign>,
    /// Whether it is said where one plans ahead, without a sign.
    #[serde(default)]
    pub(super) general: bool,
    /// Said only where the stroke is longer than this, or not told.
    pub(super) above_stroke_mm: Option<f64>,
    /// Said only where the rate is higher than this, or not told.
    pub(super) above_rate_hz: Option<f64>,
    #[serde(default)]
    pub(super) not_on_weak_machine: bool,
    /// Said only where nobody told the effect.
    #[serde(default)]
    pub(super) only_without_effect: bool,
}

/// Which needle may follow.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct NeedleRule {
    source: Arc<str>,
    /// At most so many are named.
    pub(super) most: usize,
    /// The group grows to at most so many times its count.
    pub(super) count_factor: u8,
    /// The least share of the pressure that a change must take away.
    pub(super) least_relief: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SignFile {
    sign: Vec<SignRule>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct StepFile {
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
    register: Register,
    about: Arc<str>,
}

/// Sentences that no step has under its own key.
const OTHER_TEXTS: &[&str] = &[
    "gentler.change",
    "gentler.because",
    "same.change",
    "same.because",
    "does_not_fit.change",
    "does_not_fit.because",
    "caution.stop",
    "caution.spot",
    "caution.on",
    "caution.help",
    "caution.practice",
    "effect.hair_strokes",
    "effect.pixelated",
    "effect.soft_shading",
    "effect.dense_fill",
    "effect.fine_line",
    "effect.bold_line",
    "effect.scalp_dots",
    "effect.areola_shading",
];

impl Rules {
    /// Reads the files compiled into this build and checks them.
    ///
    /// # Errors
    /// [`TraumaError`] names what is not sound.
    pub fn builtin(register: &Register) -> Result<Self, TraumaError> {
        let SignFile { sign } = read("signs", include_str!("../../rules/trauma/signs.toml"))?;
        let StepFile { needle, step } =
            read("steps", include_str!("../../rules/trauma/steps.toml"))?;
        let texts = Catalogue::read(
            include_str!("../../rules/texts/trauma.en.toml"),
            include_str!("../../rules/texts/trauma.de.toml"),
        )?;
        // In the order of the words, so that a sign is found by its place.
        let mut signs = sign;
        signs.sort_by_key(|rule| rule.sign);
        for (at, word) in TraumaSign::ALL.iter().enumerate() {
            if signs.get(at).is_none_or(|rule| rule.sign != *word) {
                return Err(TraumaError::Sign { sign: *word });
            }
        }
        if signs.len() != TraumaSign::ALL.len() {
            return Err(TraumaError::Number { why: "a sign stands twice" });
        }
        if !(0.0 < needle.least_relief && needle.least_relief < 1.0) {
            return Err(TraumaError::Number { why: "least_relief lies between 0 and 1" });
        }
        let rules = Self {
            signs,
            steps: step,
            needle,
            texts,
            register: register.clone(),
            about: "what to do on trauma".into(),
        };
        rules.check()?;
        Ok(rules)
    }

    fn check(&self) -> Result<(), TraumaError> {
        for source in self
            .signs
            .iter()
            .map(|rule| &rule.source)
            .chain(self.steps.iter().map(|rule| &rule.source))
            .chain(std::iter::once(&self.needle.source))
        {
            self.register.get(source)?;
        }
        let own = |rule: &StepRule| {
            // Which needle is said by sentences of its own.
            let needs = rule.kind != StepKind::Configuration;
            needs.then(|| ["change", "because"].map(|part| format!("{}.{part}", rule.key)))
        };
        let keys = self.steps.iter().filter_map(own).flatten();
        for key in keys.chain(OTHER_TEXTS.iter().map(|key| (*key).to_owned())) {
            if !self.texts.has(&key) {
                return Err(TextError::Unknown { key }.into());
            }
        }
        Ok(())
    }

    /// What a sign asks for. Loading has checked that each stands once.
    pub(super) fn sign(&self, sign: TraumaSign) -> &SignRule {
        &self.signs[sign as usize]
    }

    /// The basis of a step. Loading has checked that the source exists; the
    /// fallback claims the least.
    pub(super) fn basis(&self, source: &Arc<str>) -> Basis {
        let kind = self.register.get(source).map_or(EvidenceKind::Memory, |s| s.kind);
        Basis { about: Arc::clone(&self.about), source: Arc::clone(source), kind }
    }
}

fn read<T: DeserializeOwned>(file: &'static str, text: &str) -> Result<T, TraumaError> {
    toml::from_str(text).map_err(|e| TraumaError::Unreadable { file, why: e.to_string() })
}
