//! What the law of a place asks before a student works alone.
//!
//! Nothing of it is built in: a rules pack brings it, with the law that says so. A pack
//! only adds: of several each has to be met, none shortens what practice asks, and
//! nobody answers for what is wanting.

use std::collections::BTreeMap;
use std::sync::Arc;

use etui_schema::packs::{PackCounted, PackSource, PackTraining};
use etui_schema::skin_assessments::{FieldEvidence, Finding};
use etui_schema::vocabulary::{Confidence, EvidenceKind, Language, Treatment, Verdict};
use jiff::civil::Date;
use jiff::{SignedDuration, Span, Timestamp};
use serde_json::Value;

use super::Training;
use crate::evidence::Register;
use crate::rules::{RuleFault, shape};
use crate::screening::faults::{BookFault, BookFaults, BookProblem};
use crate::trauma::SESSION;

/// The id of the rule by which a place speaks.
pub const PLACE_RULE: &str = "training.place";

/// What one pack asks for.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Place {
    pack: Arc<str>,
    /// The law as it is cited.
    cite: String,
    asks: PackTraining,
}

/// Treatments at which a trainer has confirmed that she was there.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Confirmed {
    /// Of whatever.
    pub all: u32,
    /// Of the treatment in question.
    pub of_treatment: u32,
}

/// What a place asks for and an artist does not have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanting<'a> {
    place: &'a Place,
    asked: u32,
    have: u32,
}

/// Work of one artist that begins sooner after the last is the same work, recorded twice (model
/// parameter).
const APART: SignedDuration = SignedDuration::from_mins(15);

/// A treatment that was confirmed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Counted {
    /// Of whom.
    pub client: String,
    /// What was treated.
    pub treatment: Treatment,
    /// When.
    pub at: Timestamp,
}

impl Confirmed {
    /// How many treatments of one artist these are. What is recorded twice is one: nobody works on
    /// two at one moment, and a client's area is one session a day.
    #[must_use]
    pub fn of(all: &[Counted], treatment: Treatment) -> Self {
        let all: Vec<&Counted> = all.iter().collect();
        let of: Vec<&Counted> =
            all.iter().copied().filter(|one| one.treatment == treatment).collect();
        Self { all: distinct(&all), of_treatment: distinct(&of) }
    }
}

/// At most so many treatments, whichever of them are doubles.
fn distinct(all: &[&Counted]) -> u32 {
    let mut sessions: BTreeMap<(&str, Treatment), Vec<Timestamp>> = BTreeMap::new();
    for one in all {
        sessions.entry((&one.client, one.treatment)).or_default().push(one.at);
    }
    let sessions = sessions.into_values().map(|times| apart(times, SESSION)).sum();
    apart(all.iter().map(|one| one.at).collect(), APART).min(sessions)
}

/// How many of these moments lie at least so far apart.
fn apart(mut times: Vec<Timestamp>, least: SignedDuration) -> u32 {
    times.sort_unstable();
    let (mut count, mut last) = (0, None::<Timestamp>);
    for at in times {
        if last.is_none_or(|last| least <= at.duration_since(last)) {
            (count, last) = (count + 1, Some(at));
        }
    }
    count
}

impl Place {
    fn asked(&self) -> u32 {
        let PackTraining { first_treatments_under_eye, least_treatments, .. } = &self.asks;
        (*first_treatments_under_eye).max(*least_treatments).map_or(0, u32::from)
    }

    fn have(&self, confirmed: Confirmed) -> u32 {
        match self.asks.counted {
            PackCounted::All => confirmed.all,
            PackCounted::Treatment => confirmed.of_treatment,
        }
    }

    fn law(&self) -> String {
        format!("{}, {}", self.cite, self.asks.section)
    }

    fn evidence(&self) -> FieldEvidence {
        FieldEvidence {
            field: "condition".to_owned(),
            kind: EvidenceKind::Law,
            confidence: Confidence::High,
            sources: vec![self.asks.source.clone()],
        }
    }
}

impl Training {
    /// These rules, and what a rules pack says of a place, if it does.
    ///
    /// # Errors
    /// [`BookFaults`] for a source that is none or no law, and for a pack that asks for
    /// nothing.
    pub fn with_place(
        &self,
        register: &Register,
        name: &str,
        pack: &Value,
    ) -> Result<Self, BookFaults> {
        let fault = |pointer: &str, problem| {
            let (file, pointer) = (name.to_owned(), pointer.to_owned());
            BookFaults(vec![BookFault { file, pointer, problem }])
        };
        let Some(told) = pack.get("training") else { return Ok(self.clone()) };
        let below = |member: &'static str| {
            move |told: RuleFault| {
                let pointer = format!("/{member}{}", told.pointer);
                fault(&pointer, BookProblem::Unreadable { why: told.why })
            }
        };
        let asks: PackTraining = shape(name, told).map_err(below("training"))?;
        let own: Vec<PackSource> = match pack.get("source") {
            Some(sources) => shape(name, sources).map_err(below("source"))?,
            None => Vec::new(),
        };
        let own = own.iter().find(|one| one.id == asks.source).map(|one| (&one.cite, one.kind));
        let registered = register.get(&asks.source).ok().map(|one| (&one.cite, one.kind));
        let Some((cite, kind)) = own.or(registered) else {
            let problem = BookProblem::Source { id: asks.source };
            return Err(fault("/training/source", problem));
        };
        if kind != EvidenceKind::Law {
            let why = "what a place asks of training is told with the law that says so".to_owned();
            return Err(fault("/training/source", BookProblem::Evidence { why }));
        }
        let PackTraining { students_per_trainer, trainer_years, .. } = asks;
        let small = [students_per_trainer, trainer_years].map(|one| one.map(u16::from));
        let counts = [asks.first_treatments_under_eye, asks.least_treatments];
        if counts.iter().chain(&small).all(Option::is_none) {
            let why = "a number of treatments, of students or of years is wanted".to_owned();
            return Err(fault("/training", BookProblem::Contradiction { why }));
        }
        let mut next = self.clone();
        next.places.push(Place { pack: name.into(), cite: cite.clone(), asks });
        Ok(next)
    }

    /// Whether a place asks for anything.
    #[must_use]
    pub fn has_places(&self) -> bool {
        !self.places.is_empty()
    }

    /// What is wanting before a student works alone, by the law of each place.
    pub fn wanting(&self, confirmed: Confirmed) -> impl Iterator<Item = Wanting<'_>> {
        self.places.iter().filter_map(move |place| {
            let (asked, have) = (place.asked(), place.have(confirmed));
            (have < asked).then_some(Wanting { place, asked, have })
        })
    }

    /// The law by which a trainer who has worked since a day, or since nobody knows when,
    /// may not train yet, and how many years it asks for.
    #[must_use]
    pub fn too_young(&self, licensed_on: Option<Date>, on: Date) -> Option<(u8, String)> {
        let place = |place: &&Place| {
            let years = place.asks.trainer_years.unwrap_or(0);
            let span = Span::new().years(i64::from(years));
            0 < years && licensed_on.is_none_or(|since| on < since.saturating_add(span))
        };
        let place = self.places.iter().find(place)?;
        place.asks.trainer_years.map(|years| (years, place.law()))
    }

    /// What is wanting as a finding, which nothing overrides.
    #[must_use]
    pub fn place_finding(&self, wanting: Wanting<'_>, language: Language) -> Finding {
        let Wanting { place, asked, have } = wanting;
        let (law, asked, have) = (place.law(), asked.to_string(), have.to_string());
        let values = [("law", law.as_str()), ("asked", &asked), ("have", &have)];
        let mut condition = self.fill(language, "place_condition", &[]);
        condition.push_str(&self.of_trainer(std::slice::from_ref(place), language));
        Finding {
            rule: PLACE_RULE.to_owned(),
            verdict: Verdict::ProceedWithConditions.into(),
            because: self.fill(language, "place", &values),
            condition: Some(condition),
            short: None,
            hold_until: None,
            not_before: None,
            waits_for_event: false,
            due: None,
            whom: None,
            law: true,
            overridden: None,
            pack: Some(place.pack.to_string()),
            evidence: vec![place.evidence()],
        }
    }

    /// Adds to a finding what the places ask of the trainer in the room, with their laws.
    pub fn add_places(&self, finding: &mut Finding, language: Language) {
        let said = self.of_trainer(&self.places, language);
        if let Some(condition) = finding.condition.as_mut().filter(|_| !said.is_empty()) {
            condition.push_str(&said);
            finding.evidence.extend(self.places.iter().map(Place::evidence));
        }
    }

    /// Of several numbers the one that asks for most.
    fn of_trainer(&self, places: &[Place], language: Language) -> String {
        let ratio = places.iter().filter_map(|place| place.asks.students_per_trainer).min();
        let years = places.iter().filter_map(|place| place.asks.trainer_years).max();
        let told = [("place_ratio", ratio), ("place_years", years)].into_iter();
        let told = told.filter_map(|(key, number)| Some((key, number?)));
        let say = |(key, number): (&str, u8)| {
            format!(" {}", self.fill(language, key, &[("n", &number.to_string())]))
        };
        told.map(say).collect()
    }

    /// What has to be done about it, in words.
    #[must_use]
    pub fn todo_place(&self, language: Language) -> String {
        self.fill(language, "todo_place", &[])
    }
}

impl std::fmt::Display for Wanting<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { place, asked, have } = self;
        write!(
            f,
            "by `{}` ({}) a student works alone once a trainer has confirmed {asked} treatments; {have} are confirmed",
            place.pack,
            place.law()
        )
    }
}
