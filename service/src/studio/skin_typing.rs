//! Skin typing: sun-reaction type and measured colour.

use etui_craft::screening::difference::{delta_e_1976, delta_e_2000, seen};
use etui_craft::screening::phototype::{Outcome, QUESTIONS, score};
use etui_craft::screening::tone::{class, hue_degrees, ita_degrees};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::skin_typing::{
    ColourDifference, PhototypeAnswer, PhototypeRequest, SkinColour, SkinColourRequest,
};
use etui_schema::vocabulary::Language;

use super::Craft;
use super::error::Error;

/// Scores a sun-reaction questionnaire.
///
/// # Errors
/// [`Error::Refused`] for an answer that does not exist.
pub fn phototype(
    craft: &Craft,
    language: Language,
    request: &PhototypeRequest,
) -> Result<PhototypeAnswer, Error> {
    let PhototypeRequest {
        eyes,
        hair,
        skin,
        freckles,
        long_sun,
        depth_of_tan,
        tans_within_hours,
        face_to_sun,
        last_exposure,
        area_tans,
    } = *request;
    let answers = [
        eyes,
        hair,
        skin,
        freckles,
        long_sun,
        depth_of_tan,
        tans_within_hours,
        face_to_sun,
        last_exposure,
        area_tans,
    ];
    let limits = &craft.typing.phototype;
    let scored = score(limits, &answers).map_err(|errors| {
        let fault = |error: &etui_craft::screening::phototype::AnswerError| {
            Fault::new(format!("#/{}", error.question), FaultCode::OutOfRange, error.to_string())
        };
        Error::Refused(errors.iter().map(fault).collect())
    })?;
    let (outcome, phototype, plausible) = match scored.outcome {
        Outcome::Typed { phototype, plausible: (low, high) } => {
            ("typed", Some(phototype), vec![low, high])
        }
        Outcome::Incomplete => ("incomplete", None, Vec::new()),
        Outcome::EightQuestions => ("eight_questions", None, Vec::new()),
    };
    debug_assert_eq!(QUESTIONS.len(), answers.len());
    Ok(PhototypeAnswer {
        outcome: outcome.to_owned(),
        points: scored.points,
        at_most: scored.at_most,
        phototype,
        plausible,
        missing: scored.missing.iter().map(|id| (*id).to_owned()).collect(),
        statement: craft.rulebook.phototype_statement(language).to_owned(),
        basis: vec![
            limits.source.basis("bands of the score"),
            limits.doubt_source.basis("one step of doubt"),
        ],
    })
}

/// Classes a measured colour and compares it with another.
///
/// # Errors
/// [`Error::Refused`] for a colour that no skin has.
pub fn colour(
    craft: &Craft,
    language: Language,
    request: &SkinColourRequest,
) -> Result<SkinColour, Error> {
    let SkinColourRequest { lab, site, other } = *request;
    let typing = &craft.typing;
    let angle = ita_degrees(lab)
        .map_err(|error| Error::at("#/lab/b", FaultCode::OutOfRange, error.to_string()))?;
    let mut basis = vec![typing.tone.source.basis("classes of the angle")];
    let difference = other.map(|other| {
        let delta = delta_e_2000(lab, other);
        ColourDifference {
            delta_e_2000: delta,
            delta_e_1976: delta_e_1976(lab, other),
            seen: seen(&typing.difference, delta).as_str().to_owned(),
        }
    });
    if difference.is_some() {
        basis.push(typing.difference.source.basis("words for the difference"));
        let rests_on = typing.difference.rests_on.iter();
        basis.extend(rests_on.map(|source| source.basis("what a difference means")));
    }
    Ok(SkinColour {
        ita_degrees: angle,
        class: class(&typing.tone, angle).as_str().to_owned(),
        hue_degrees: hue_degrees(lab),
        site,
        difference,
        statement: craft.rulebook.colour_statement(language).to_owned(),
        basis,
    })
}
