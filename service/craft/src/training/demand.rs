//! What a student's practice asks of an appointment.

use etui_schema::skin_assessments::{FieldEvidence, Finding, Override};
use etui_schema::vocabulary::{ArtistStanding, Confidence, Language, PracticeState, Rung, Verdict};

use super::Training;
use super::standing::Held;
use crate::screening::gate::severity;

/// What has to be met before or at an appointment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Demand {
    /// Nothing that would hold was signed for this work: not yet.
    NotPractised,
    /// A named trainer is in the room.
    UnderEye,
    /// Nobody is named, where she who works may be a student.
    NobodyNamed,
}

impl Demand {
    /// What is asked for, of an artist of a standing by what she holds.
    #[must_use]
    pub const fn of(standing: ArtistStanding, held: Held) -> Option<Self> {
        match (standing, held.rung) {
            (ArtistStanding::Artist, _) | (ArtistStanding::Student, Some(Rung::Alone)) => None,
            (ArtistStanding::Student, Some(Rung::PracticeSkin | Rung::UnderEye)) => {
                Some(Self::UnderEye)
            }
            (ArtistStanding::Student, None) => Some(Self::NotPractised),
        }
    }

    /// What is asked for all the same where a trainer answers for it.
    #[must_use]
    pub const fn remains(self) -> Option<Self> {
        match self {
            Self::NotPractised => Some(Self::UnderEye),
            Self::UnderEye | Self::NobodyNamed => None,
        }
    }

    /// The id of its rule.
    #[must_use]
    pub const fn rule(self) -> &'static str {
        match self {
            Self::NotPractised => "training.not_practised",
            Self::UnderEye => "training.under_eye",
            Self::NobodyNamed => "training.nobody_named",
        }
    }

    /// What it asks for.
    #[must_use]
    pub const fn verdict(self) -> Verdict {
        match self {
            // Whoever is not named gets no milder a verdict than a student who is.
            Self::NotPractised | Self::NobodyNamed => Verdict::Hold,
            Self::UnderEye => Verdict::ProceedWithConditions,
        }
    }

    /// A verdict with the demand: as it was, or harder.
    #[must_use]
    pub const fn harden(self, verdict: Verdict) -> Verdict {
        if severity(verdict) < severity(self.verdict()) { self.verdict() } else { verdict }
    }

    /// The keys of its sentences that are put together.
    pub(super) fn keys() -> impl Iterator<Item = String> {
        [Self::NotPractised, Self::UnderEye, Self::NobodyNamed].into_iter().flat_map(|demand| {
            let key = demand.key();
            [format!("{key}_condition"), format!("todo_{key}")]
        })
    }

    const fn key(self) -> &'static str {
        match self {
            Self::NotPractised => "not_practised",
            Self::UnderEye => "under_eye",
            Self::NobodyNamed => "nobody_named",
        }
    }
}

impl Training {
    /// The demand as a finding, for a needle by its canonical text; without one,
    /// nothing could be looked up.
    #[must_use]
    pub fn finding(
        &self,
        demand: Demand,
        (needle, held): (Option<&str>, Held),
        overridden: Option<Override>,
        language: Language,
    ) -> Finding {
        let key = demand.key();
        let mut because = match needle {
            _ if demand == Demand::NobodyNamed => self.fill(language, key, &[]),
            Some(needle) if demand == Demand::UnderEye && held.rung.is_none() => {
                self.fill(language, "under_eye_answered", &[("needle", needle)])
            }
            Some(needle) => self.fill(language, key, &[("needle", needle)]),
            None => self.fill(language, "not_practised_no_needle", &[]),
        };
        let was = match held.state {
            PracticeState::Lapsed => Some("was_lapsed"),
            PracticeState::Withdrawn => Some("was_withdrawn"),
            PracticeState::InDoubt => Some("was_in_doubt"),
            PracticeState::Practising | PracticeState::ReadyToSign | PracticeState::Signed => None,
        };
        if let Some(was) = was {
            because.push(' ');
            because.push_str(self.texts.get(language, was));
        }
        let origin = &self.rules.sign_off.source;
        Finding {
            rule: demand.rule().to_owned(),
            verdict: demand.verdict().into(),
            because,
            condition: Some(self.fill(language, &format!("{key}_condition"), &[])),
            short: None,
            hold_until: None,
            not_before: None,
            waits_for_event: demand.verdict() == Verdict::Hold,
            due: None,
            whom: None,
            law: false,
            overridden,
            pack: None,
            evidence: vec![FieldEvidence {
                field: "condition".to_owned(),
                kind: origin.kind(),
                confidence: Confidence::Medium,
                sources: vec![origin.id().to_string()],
            }],
        }
    }

    /// What has to be done about a demand, in words.
    #[must_use]
    pub fn todo(&self, demand: Demand, needle: Option<&str>, language: Language) -> String {
        let key = format!("todo_{}", demand.key());
        self.fill(language, &key, &[("needle", needle.unwrap_or("?"))])
    }

    /// That a needle was signed for work alone, in words.
    #[must_use]
    pub fn ready_alone(&self, needle: &str, language: Language) -> String {
        self.fill(language, "ready_alone", &[("needle", needle)])
    }

    /// That less was signed for a needle than for the first, in words.
    #[must_use]
    pub fn signed_less(&self, needle: &str, first: &str, language: Language) -> String {
        self.fill(language, "signed_less", &[("needle", needle), ("first", first)])
    }

    /// That somebody told of a sign-off that nobody signed, in words.
    #[must_use]
    pub fn told_only(&self, needle: &str, language: Language) -> String {
        self.fill(language, "told_only", &[("needle", needle)])
    }
}
