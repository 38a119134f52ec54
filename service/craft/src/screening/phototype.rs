//! Sun-reaction type by the ten-question score.
//!
//! Ten questions of 0 to 4 points in three blocks: genes (eyes, hair,
//! unexposed skin, freckles), reaction (long sun, depth of tan, tan within
//! hours, face), habits (last exposure, how often the area tans). The sum, 0
//! to 40, falls into one of six types.
//!
//! How good is it? As published, the bands are certain; as an instrument they
//! are weak: 42 % of answers could not be placed in the standard definitions
//! (Eilers et al. 2013), and predictions hit within one type 92 % of the time
//! (He et al. 2014). So a type is given with its neighbours. The type is a
//! reaction to sun, not a colour of skin: a measured colour is better where
//! there is one ([`super::tone`]), and neither is converted into the other.
//!
//! Two refusals. A missing answer gives no type: leaving it out would count as
//! 0 and give a lower one. The eight-question version without the habits ends
//! at 32, so with these bands its darkest skin could never reach type VI; it
//! is named and refused.

use etui_schema::vocabulary::Phototype;

use super::typing::PhototypeLimits;

/// The questions in their order; the last two are the habits.
pub const QUESTIONS: [&str; 10] = [
    "eyes",
    "hair",
    "skin",
    "freckles",
    "long_sun",
    "depth_of_tan",
    "tans_within_hours",
    "face_to_sun",
    "last_exposure",
    "area_tans",
];

/// How many questions the version without habits has.
const WITHOUT_HABITS: usize = 8;

/// What came of the score.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// A type, and the lowest and highest that are still plausible.
    Typed {
        /// The type of the band.
        phototype: Phototype,
        /// Lowest and highest plausible type.
        plausible: (Phototype, Phototype),
    },
    /// Answers are missing.
    Incomplete,
    /// All but the habits were answered: the eight-question version.
    EightQuestions,
}

/// A sun-reaction score.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PhototypeScore {
    /// Points of the answers given.
    pub points: u8,
    /// Points if every missing answer were the highest.
    pub at_most: u8,
    /// What came of it.
    pub outcome: Outcome,
    /// The questions that were not answered.
    pub missing: Vec<&'static str>,
}

/// An answer that does not exist.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{question}` must be a whole number from 0 to {highest}")]
pub struct AnswerError {
    /// Which question.
    pub question: &'static str,
    /// The highest answer.
    pub highest: u8,
}

/// Scores ten answers in the order of [`QUESTIONS`].
///
/// # Errors
/// Every [`AnswerError`] for an answer above the highest.
///
/// ```
/// use etui_craft::{evidence::Register, screening::{phototype::{score, Outcome}, typing::Typing}};
/// use etui_schema::vocabulary::Phototype;
/// let limits = Typing::builtin(&Register::builtin().unwrap()).unwrap().phototype;
/// let mut answers = [Some(2); 10];
/// let typed = score(&limits, &answers).unwrap().outcome;
/// let plausible = (Phototype::II, Phototype::IV);
/// assert_eq!(typed, Outcome::Typed { phototype: Phototype::III, plausible });
/// answers[4] = None;
/// assert_eq!(score(&limits, &answers).unwrap().outcome, Outcome::Incomplete);
/// ```
pub fn score(
    limits: &PhototypeLimits,
    answers: &[Option<u8>; 10],
) -> Result<PhototypeScore, Vec<AnswerError>> {
    let highest = limits.highest_answer;
    let errors: Vec<AnswerError> = QUESTIONS
        .into_iter()
        .zip(answers)
        .filter(|(_, answer)| answer.is_some_and(|answer| highest < answer))
        .map(|(question, _)| AnswerError { question, highest })
        .collect();
    if !errors.is_empty() {
        return Err(errors);
    }
    let points: u8 = answers.iter().flatten().sum();
    let missing: Vec<&'static str> = QUESTIONS
        .into_iter()
        .zip(answers)
        .filter(|(_, answer)| answer.is_none())
        .map(|(question, _)| question)
        .collect();
    let at_most = missing.iter().fold(points, |sum, _| sum.saturating_add(highest));
    let outcome = if missing.is_empty() {
        typed(limits, points)
    } else if missing == QUESTIONS[WITHOUT_HABITS..] {
        Outcome::EightQuestions
    } else {
        Outcome::Incomplete
    };
    Ok(PhototypeScore { points, at_most, outcome, missing })
}

fn typed(limits: &PhototypeLimits, points: u8) -> Outcome {
    let last = limits.up_to.len().saturating_sub(1);
    let at = limits.up_to.iter().position(|band| points <= band.points).unwrap_or(last);
    let doubt = usize::from(limits.steps_of_doubt);
    let band = |at: usize| limits.up_to.get(at.min(last)).map(|band| band.phototype);
    match (band(at), band(at.saturating_sub(doubt)), band(at + doubt)) {
        (Some(phototype), Some(lowest), Some(highest)) => {
            Outcome::Typed { phototype, plausible: (lowest, highest) }
        }
        // No bands at all: nothing can be told.
        _ => Outcome::Incomplete,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Register;
    use crate::screening::typing::Typing;
    use proptest::prelude::*;

    fn limits() -> PhototypeLimits {
        Typing::builtin(&Register::builtin().unwrap()).unwrap().phototype
    }

    /// Ten answers that add up to the sum.
    fn answers(sum: u8) -> [Option<u8>; 10] {
        std::array::from_fn(|nth| {
            let before = 4 * u8::try_from(nth).unwrap();
            Some(sum.saturating_sub(before).min(4))
        })
    }

    #[test]
    fn the_cut_offs_are_those_published() {
        // Ten-question score as published on three pages.
        use Phototype::{I, II, III, IV, V, VI};
        let limits = limits();
        for (points, phototype, lowest, highest) in [
            (0, I, I, II),
            (6, I, I, II),
            (7, II, I, III),
            (13, II, I, III),
            (14, III, II, IV),
            (20, III, II, IV),
            (21, IV, III, V),
            (25, IV, III, V),
            (27, IV, III, V),
            (28, V, IV, VI),
            (34, V, IV, VI),
            (35, VI, V, VI),
            (40, VI, V, VI),
        ] {
            let score = score(&limits, &answers(points)).unwrap();
            assert_eq!(score.points, points);
            let plausible = (lowest, highest);
            assert_eq!(score.outcome, Outcome::Typed { phototype, plausible }, "{points} points");
        }
    }

    #[test]
    fn eight_questions_and_gaps_give_no_type() {
        let limits = limits();
        let mut eight = [Some(4); 10];
        eight[8] = None;
        eight[9] = None;
        let found = score(&limits, &eight).unwrap();
        assert_eq!((found.points, found.at_most), (32, 40));
        assert_eq!(found.outcome, Outcome::EightQuestions);
        assert_eq!(found.missing, ["last_exposure", "area_tans"]);
        for gap in 0..10 {
            let mut answers = [Some(0); 10];
            answers[gap] = None;
            let found = score(&limits, &answers).unwrap();
            assert_eq!((found.outcome, found.missing), (Outcome::Incomplete, vec![QUESTIONS[gap]]));
        }
        let mut five = [Some(1); 10];
        five[3] = Some(5);
        assert_eq!(score(&limits, &five).unwrap_err()[0].question, "freckles");
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

        #[test]
        fn more_points_never_give_a_lower_type(
            given in proptest::array::uniform10(0_u8..=4), at in 0_usize..10,
        ) {
            let limits = limits();
            let mut more = given.map(Some);
            more[at] = Some(4);
            let kind = |answers| match score(&limits, &answers).unwrap().outcome {
                Outcome::Typed { phototype, .. } => phototype,
                other @ (Outcome::Incomplete | Outcome::EightQuestions) => panic!("{other:?}"),
            };
            prop_assert!(kind(given.map(Some)) <= kind(more));
        }
    }
}
