//! Screening: may this skin be treated, when, and under which conditions?

use crate::answers::{Answers, MOST_ANSWERS};
use crate::kinds::{sent, told};
use crate::open::Open;
use crate::vocabulary::{CivilDate, Confidence, EvidenceKind, Reference, Skin, Treatment, Verdict};
use crate::written::NAMED;

/// A case to be screened.
#[sent(free)]
pub struct SkinAssessmentRequest {
    /// What is to be treated.
    pub treatment: Treatment,
    /// The local day of the treatment.
    pub on: CivilDate,
    /// Date of birth.
    pub born_on: CivilDate,
    /// The day the answers are true for; the studio's today if absent.
    pub as_of: Option<CivilDate>,
    /// Answers by question id; `GET /v1/screening-questions` lists them.
    #[serde(default, skip_serializing_if = "Answers::is_empty")]
    #[garde(length(max = MOST_ANSWERS))]
    #[schemars(extend("maxProperties" = MOST_ANSWERS))]
    pub answers: Answers,
    /// What is known of the skin.
    #[garde(dive)]
    pub skin: Option<Skin>,
    /// Findings that somebody answers for. The law cannot be overridden.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 50), dive)]
    pub overrides: Vec<Override>,
}

/// Somebody answers for a finding.
#[sent(Eq, free)]
pub struct Override {
    /// The rule's id.
    #[garde(length(chars, min = 1, max = 80))]
    pub rule: String,
    /// Why, in words, 3 to 500 characters.
    #[garde(length(chars, min = 3, max = 500), pattern(NAMED))]
    pub reason: String,
    /// Who, by the studio's reference.
    pub by_ref: Reference,
}

/// The outcome of a screening.
#[told]
pub struct SkinAssessment {
    /// What it comes to.
    pub verdict: Open<Verdict>,
    /// The same in a few sentences, to be read aloud.
    #[serde(default)]
    pub says: String,
    /// The day the answers were taken to be true for.
    pub as_of: CivilDate,
    /// The latest day of all holds that stand, if all of them end by their day:
    /// not before it. Absent while one of them waits for an event or a person.
    pub hold_until: Option<CivilDate>,
    /// The latest day that any hold that stands names. Never say it alone while
    /// `waits_for_event`: the event first, the day as "not before".
    pub not_before: Option<CivilDate>,
    /// Whether a hold waits for an event, or for a person's word.
    pub waits_for_event: bool,
    /// Every rule that spoke, hardest first.
    pub findings: Vec<Finding>,
    /// Questions that still want an answer, by id.
    pub unanswered: Vec<String>,
    /// Questions that were answered but serve other treatments, by id.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub not_used: Vec<String>,
    /// The caution score.
    pub score: Score,
    /// Which rules were applied.
    pub rulebook: RulebookUsed,
    /// The usual cautions.
    pub cautions: Vec<String>,
}

/// One rule that spoke.
#[told]
pub struct Finding {
    /// The rule's id.
    pub rule: String,
    /// What it asks for here. `proceed` is a note.
    pub verdict: Open<Verdict>,
    /// Why it stands there, in words.
    pub because: String,
    /// What to do, or to know, in words.
    pub condition: Option<String>,
    /// What it means for the client, in one sentence.
    pub short: Option<String>,
    /// For a hold that ends by its day alone, and after all others: that day.
    pub hold_until: Option<CivilDate>,
    /// For a hold: not before this day, if a day is known; an event or a person
    /// may be open beside it.
    pub not_before: Option<CivilDate>,
    /// Whether it waits for an event, or for a person's word.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub waits_for_event: bool,
    /// For a wait that can still pass in time: it must begin by this day.
    pub due: Option<CivilDate>,
    /// Whom to ask, if somebody else must look.
    pub whom: Option<String>,
    /// Whether it is law, which nothing overrides.
    pub law: bool,
    /// Who answers for it, if it was overridden. It stays visible.
    pub overridden: Option<Override>,
    /// The pack that contributed or tightened it, several joined by `+`; absent
    /// if it is built in.
    pub pack: Option<String>,
    /// What each field of the rule stands on.
    pub evidence: Vec<FieldEvidence>,
}

/// What one field of a rule stands on.
#[told(Eq)]
pub struct FieldEvidence {
    /// `condition`, `wait`, `values`, `lead` or `points`.
    pub field: String,
    /// Kind of the best evidence.
    pub kind: EvidenceKind,
    /// How sure we are that the value is right as stated.
    pub confidence: Confidence,
    /// Ids in `GET /v1/sources`, best first.
    pub sources: Vec<String>,
}

/// The caution score: it changes conditions, session plan and follow-up, and
/// never softens a rule.
#[told]
pub struct Score {
    /// Points that are certain.
    pub points: u16,
    /// Points if every open answer were the best and the worst.
    pub range: ScoreRange,
    /// The band; absent if the range spans two.
    pub band: Option<String>,
    /// What the band changes in the session's plan and in the follow-up.
    pub advice: Vec<String>,
    /// What gave points.
    pub contributions: Vec<Contribution>,
    /// Points by the evidence behind them; they add up to `points`.
    pub evidence_share: Vec<EvidenceShare>,
    /// What the score is and is not.
    pub statement: String,
    /// What points, caps and bands stand on.
    pub evidence: FieldEvidence,
}

/// From, to.
#[told(Copy, Eq)]
pub struct ScoreRange {
    /// At least.
    pub min: u16,
    /// At most.
    pub max: u16,
}

/// What one rule gave.
#[told(Eq)]
pub struct Contribution {
    /// The rule's id.
    pub rule: String,
    /// Its points.
    pub points: u16,
    /// How many counted under the cap of its group.
    pub counted: u16,
}

/// Points of one kind of evidence.
#[told(Copy, Eq)]
pub struct EvidenceShare {
    /// The kind.
    pub kind: EvidenceKind,
    /// Its points.
    pub points: u16,
}

/// Which rules were applied.
#[told(Eq)]
pub struct RulebookUsed {
    /// Its name.
    pub name: String,
    /// Rises with every change.
    pub revision: u32,
    /// SHA-256 over its data, hexadecimal.
    pub digest: String,
    /// Packs that were applied, in order.
    pub packs: Vec<String>,
}
