//! Screening: craft's findings in the words of the interface.

use etui_craft::refusal::Refusal;
use etui_craft::screening::age;
use etui_craft::screening::answers::{Answers as ReadAnswers, Given};
use etui_craft::screening::country::Country;
use etui_craft::screening::faults::{Fault as CraftFault, Problem};
use etui_craft::screening::gate::{Assessment, Case, Finding as CraftFinding, Visit};
use etui_craft::screening::rule::Grounds;
use etui_craft::screening::rulebook::Rulebook;
use etui_craft::screening::score::Score as CraftScore;
use etui_craft::visit::{self, Kept, Voices};
use etui_schema::answers::Answers;
use etui_schema::clients::ClientRecord;
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::skin_assessments::{
    Contribution, EvidenceShare, FieldEvidence, Finding, Override, RulebookUsed, Score, ScoreRange,
    SkinAssessment, SkinAssessmentRequest,
};
use etui_schema::vocabulary::{CivilDate, Language, Skin, Treatment};

use super::craft::Craft;
use super::error::Error;
use super::outcome::{self, Outcome};

/// Something planned lies at most so far ahead.
const PLANNED_YEARS: i64 = 2;

/// Screens a case.
///
/// # Errors
/// [`Error::Refused`] with every fault: an unknown question, an answer of
/// another kind or out of range, a contradiction, an override of the law.
pub fn assess(
    craft: &Craft,
    country: Option<Country>,
    today: jiff::civil::Date,
    language: Language,
    request: &SkinAssessmentRequest,
) -> Result<SkinAssessment, Error> {
    let SkinAssessmentRequest { treatment, on, born_on, as_of, answers, skin, overrides } = request;
    let book = &craft.rulebook;
    let words = (book, language);
    let visit = Visit {
        treatment: *treatment,
        on: on.0,
        on_in_studio: on.0,
        country,
        as_of: as_of.map_or(today, |day| day.0),
        born_on: born_on.0,
    };
    if let Some(fault) = other_age(skin.as_ref(), "#/skin", (born_on.0, on.0)) {
        return Err(Error::Refused(vec![fault]));
    }
    let use_it =
        |assessment: &Assessment<'_>| answer(book, assessment, &visit, overrides, language);
    if today < visit.as_of {
        // Seen from a day to come, what has not happened is still no day that has been.
        let given = answers.iter().map(|(id, answer)| (id.as_str(), Given::from(answer)));
        ReadAnswers::read(book, &Visit { as_of: today, ..visit }, given)
            .map_err(|faults| refused(words, &faults))?;
    }
    let mut found = if visit.as_of < today {
        let read = of_before(craft, language, &visit, today, answers)?;
        screened_as_read(words, &visit, &read, skin.as_ref(), overrides, use_it)?
    } else {
        screened(words, &visit, answers, skin.as_ref(), overrides, use_it)?
    };
    if today < visit.as_of {
        found.cautions.insert(0, book.looks_ahead(visit.as_of, language));
    }
    Ok(found)
}

/// Answers of a day that is past: what has grown old since is asked again, as in a check of what is
/// kept.
fn of_before(
    craft: &Craft,
    language: Language,
    visit: &Visit,
    today: jiff::civil::Date,
    answers: &Answers,
) -> Result<ReadAnswers, Error> {
    let given = answers.iter().map(|(id, answer)| (id.as_str(), Given::from(answer)));
    let given: Vec<(&str, Given<'_>)> = given.collect();
    let words = (&craft.rulebook, language);
    // What cannot be read is refused where it stands.
    ReadAnswers::read(&craft.rulebook, visit, given.iter().copied())
        .map_err(|faults| refused(words, &faults))?;
    let kept = given.into_iter().map(|(question, answer)| Kept {
        question,
        answer,
        on: Some(visit.as_of),
        treatment: Some(visit.treatment),
    });
    let kept: Vec<Kept<'_>> = kept.collect();
    let voices = Voices { kept: &kept, ..Voices::default() };
    // Seen from today; but for what is older, the visit is the same.
    let seen = Visit { as_of: today, ..*visit };
    let heard = visit::gather(&craft.rulebook, &craft.freshness, &seen, &voices);
    Ok(heard.map_err(|faults| refused(words, &faults))?.answers)
}

/// That an age of the skin is not that of the date of birth. A year more or less is none: it may have
/// been told before a birthday.
pub(super) fn other_age(
    skin: Option<&Skin>,
    at: &str,
    (born_on, on): (jiff::civil::Date, jiff::civil::Date),
) -> Option<Fault> {
    let told = i16::from(skin?.age_years?);
    let years = age::on(born_on, on)?;
    (1 < (years - told).abs()).then(|| {
        let why = "the date of birth gives another age on that day";
        let fault = Fault::new(format!("{at}/age_years"), FaultCode::Contradiction, why);
        fault.means(Refusal::AgeOtherwise)
    })
}

/// Runs the gate and hands its outcome to `use_it`.
///
/// # Errors
/// As [`assess`].
pub fn screened<T>(
    words: (&Rulebook, Language),
    visit: &Visit,
    answers: &Answers,
    skin: Option<&Skin>,
    overrides: &[Override],
    use_it: impl FnOnce(&Assessment<'_>) -> T,
) -> Result<T, Error> {
    let given = answers.iter().map(|(id, answer)| (id.as_str(), Given::from(answer)));
    let read =
        ReadAnswers::read(words.0, visit, given).map_err(|faults| refused(words, &faults))?;
    screened_as_read(words, visit, &read, skin, overrides, use_it)
}

/// The same with answers that were read already.
///
/// # Errors
/// As [`assess`], but for answers.
pub fn screened_as_read<T>(
    words: (&Rulebook, Language),
    visit: &Visit,
    read: &ReadAnswers,
    skin: Option<&Skin>,
    overrides: &[Override],
    use_it: impl FnOnce(&Assessment<'_>) -> T,
) -> Result<T, Error> {
    let case = Case { visit: *visit, answers: read, skin, overrides };
    let assessment = words.0.assess(&case).map_err(|faults| refused(words, &faults))?;
    Ok(use_it(&assessment))
}

/// What is wrong with answers that are to be kept: a question that is not
/// known, an answer that fits it for no treatment, a contradiction. They are
/// read as for a check of each treatment, on a day far enough ahead that what
/// is planned lies before it.
pub fn unusable(book: &Rulebook, today: jiff::civil::Date, record: &ClientRecord) -> Vec<Fault> {
    let ahead = today.saturating_add(jiff::Span::new().years(PLANNED_YEARS));
    let born_on = record.born_on.map_or(jiff::civil::Date::MIN, |day| day.0);
    let read = |treatment: &Treatment| {
        let visit = Visit {
            treatment: *treatment,
            on: ahead,
            on_in_studio: ahead,
            as_of: today,
            born_on,
            country: None,
        };
        let all = record.answers.iter().map(|(id, answer)| (id.as_str(), Given::from(answer)));
        ReadAnswers::read(book, &visit, all).err().unwrap_or_default()
    };
    let found: Vec<Vec<CraftFault>> = Treatment::ALL.iter().map(read).collect();
    let everywhere = |fault: &CraftFault| found.iter().all(|faults| faults.contains(fault));
    let mut faults: Vec<CraftFault> = Vec::new();
    for fault in found.iter().flatten() {
        let counts = matches!(fault.problem, Problem::Contradiction { .. }) || everywhere(fault);
        if counts && !faults.contains(fault) {
            faults.push(fault.clone());
        }
    }
    faults.iter().map(fault_of).collect()
}

/// The faults of the craft at their places, with what is said to whoever answered.
pub(super) fn refused((book, language): (&Rulebook, Language), faults: &[CraftFault]) -> Error {
    let said = |fault: &CraftFault| fault_of(fault).saying(book.refusal(&fault.problem, language));
    Error::Refused(faults.iter().map(said).collect())
}

fn fault_of(fault: &CraftFault) -> Fault {
    let place = format!("#{}", fault.pointer);
    Fault::new(place, code_of(&fault.problem), fault.problem.to_string())
}

fn code_of(problem: &Problem) -> FaultCode {
    match problem {
        Problem::UnknownQuestion { .. } => FaultCode::UnknownField,
        Problem::Kind { .. } => FaultCode::WrongType,
        Problem::NotOffered { .. } => FaultCode::NotAllowed,
        Problem::TooLate { .. } | Problem::TooEarly { .. } | Problem::OutOfRange { .. } => {
            FaultCode::OutOfRange
        }
        Problem::Contradiction { .. } => FaultCode::Contradiction,
        Problem::UnknownRule { .. } => FaultCode::UnknownReference,
        Problem::LawStands { .. } => FaultCode::NotAllowed,
        Problem::Reason { .. } => FaultCode::WrongLength,
        Problem::OverriddenTwice { .. } => FaultCode::Duplicate,
        Problem::ImplausibleColour { .. } => FaultCode::OutOfRange,
    }
}

/// The outcome in the words of the interface.
#[must_use]
pub fn answer(
    book: &Rulebook,
    assessment: &Assessment<'_>,
    visit: &Visit,
    overrides: &[Override],
    language: Language,
) -> SkinAssessment {
    let Assessment {
        treatment: _,
        born_on: _,
        verdict,
        hold_until,
        not_before,
        waits_for_event,
        findings,
        unanswered,
        ends_sooner,
        unused,
        idle_overrides,
        is_tone_unknown,
        wanted_on_the_day: _,
        looks_back,
        score,
    } = assessment;
    let idle = idle_overrides.iter().filter_map(|at| overrides.get(*at));
    let idle = idle.map(|one| book.idle_override(&one.rule, language));
    let leap_day = book.leap_day(assessment, language).map(str::to_owned);
    let back = looks_back.then(|| book.looks_back(visit.on, language));
    let waits = book.waits(findings, visit.on, language);
    let remarks: Vec<String> = back.into_iter().chain(leap_day).chain(idle).collect();
    let look = is_tone_unknown.then(|| book.tone_unknown(language).to_owned());
    let findings: Vec<Finding> = findings
        .iter()
        .zip(book.conditions(findings, visit.on, language))
        .map(|(finding, condition)| {
            finding_of(book, (finding, condition), visit, overrides, language)
        })
        .collect();
    let (hold_until, not_before) = (hold_until.map(CivilDate), not_before.map(CivilDate));
    let open = unanswered.len();
    let outcome = Outcome {
        verdict: *verdict,
        hold_until,
        not_before,
        findings: &findings,
        waits: &waits,
        open,
        others_refer: false,
    };
    let says = outcome::summary(book.sentences(), &outcome, language);
    SkinAssessment {
        verdict: (*verdict).into(),
        says,
        as_of: CivilDate(visit.as_of),
        hold_until,
        not_before,
        waits_for_event: *waits_for_event,
        findings,
        unanswered: unanswered.iter().chain(ends_sooner).map(|one| one.id.to_string()).collect(),
        not_used: unused.iter().map(|question| question.id.to_string()).collect(),
        score: score_of(book, score, language),
        rulebook: rulebook_used(book),
        cautions: look.into_iter().chain(remarks).chain(cautions(book, language)).collect(),
    }
}

fn finding_of(
    book: &Rulebook,
    (finding, condition): (&CraftFinding<'_>, String),
    visit: &Visit,
    overrides: &[Override],
    language: Language,
) -> Finding {
    let CraftFinding {
        rule,
        verdict,
        hold_until,
        not_before,
        waits_for_event,
        stays: _,
        due,
        is_late: _,
        is_dated: _,
        is_ahead: _,
        is_beside: _,
        tells: _,
        law: is_law,
        overridden,
    } = finding;
    let country = visit.country.filter(|_| *is_law && !rule.law);
    let law = country.and_then(|country| book.law_of(country)).map(|law| &law.grounds);
    Finding {
        rule: rule.id.to_string(),
        verdict: (*verdict).into(),
        because: book.because(finding, language).to_owned(),
        condition: Some(condition).filter(|text| !text.is_empty()),
        short: book.short(finding, visit.on, language),
        hold_until: hold_until.map(CivilDate),
        not_before: not_before.map(CivilDate),
        waits_for_event: *waits_for_event,
        due: due.map(CivilDate),
        whom: book.whom(finding, language).map(str::to_owned),
        law: *is_law,
        overridden: overridden.and_then(|at| overrides.get(at)).cloned(),
        pack: rule.pack.as_deref().map(str::to_owned),
        evidence: law.into_iter().chain(&rule.grounds).map(evidence_of).collect(),
    }
}

fn evidence_of(grounds: &Grounds) -> FieldEvidence {
    let Grounds { field, sources, evidence, confidence } = grounds;
    FieldEvidence {
        field: field.as_str().to_owned(),
        kind: *evidence,
        confidence: *confidence,
        sources: sources.iter().map(ToString::to_string).collect(),
    }
}

fn score_of(book: &Rulebook, score: &CraftScore<'_>, language: Language) -> Score {
    let CraftScore { points, at_most, band, contributions, evidence_share } = score;
    Score {
        points: *points,
        range: ScoreRange { min: *points, max: *at_most },
        band: band.map(|band| band.id.to_string()),
        advice: band.map_or_else(Vec::new, |band| book.band_advice(band, language).to_vec()),
        contributions: contributions
            .iter()
            .map(|given| Contribution {
                rule: given.rule.id.to_string(),
                points: given.points,
                counted: given.counted,
            })
            .collect(),
        evidence_share: evidence_share
            .iter()
            .map(|(kind, points)| EvidenceShare { kind: *kind, points: *points })
            .collect(),
        statement: book.score_statement(language).to_owned(),
        evidence: evidence_of(book.points_grounds()),
    }
}

/// Which rules were applied.
#[must_use]
pub fn rulebook_used(book: &Rulebook) -> RulebookUsed {
    RulebookUsed {
        name: book.name.to_string(),
        revision: book.revision,
        digest: book.digest.clone(),
        packs: book.packs.iter().map(|pack| pack.name.to_string()).collect(),
    }
}

/// What every screening says of itself.
#[must_use]
pub fn cautions(book: &Rulebook, language: Language) -> Vec<String> {
    book.cautions(language).map(str::to_owned).to_vec()
}
