//! The questions of a screening, in the words of the interface.

use etui_craft::screening::question::{Kind, Question};
use etui_craft::screening::rulebook::Rulebook;
use etui_schema::places;
use etui_schema::screening_questions::{
    AskIf, QuestionOption, ScreeningQuery, ScreeningQuestion, ScreeningQuestions,
};
use etui_schema::vocabulary::{CivilDate, Language, Treatment};
use jiff::civil::Date;

/// The questions for a treatment on a day.
#[must_use]
pub fn list(
    book: &Rulebook,
    today: Date,
    language: Language,
    query: &ScreeningQuery,
) -> ScreeningQuestions {
    let ScreeningQuery { treatment, on } = *query;
    let on = on.map_or(today, |day| day.0);
    let questions = book.questions(treatment, on, today);
    ScreeningQuestions {
        treatment,
        on: CivilDate(on),
        language,
        revision: book.revision,
        questions: questions.map(|question| shown(book, question, treatment, language)).collect(),
        answers_schema: book.answers_schema(treatment, on, today, language),
    }
}

fn shown(
    book: &Rulebook,
    question: &Question,
    treatment: Treatment,
    language: Language,
) -> ScreeningQuestion {
    let words = book.sentences();
    let (min, max, unit) = match &question.kind {
        Kind::Number { min, max, unit } => (Some(*min), Some(*max), Some(unit.to_string())),
        Kind::YesNo | Kind::Choice { .. } | Kind::Choices { .. } | Kind::Date { .. } => {
            (None, None, None)
        }
    };
    let options = question.offered(words, language, treatment);
    ScreeningQuestion {
        id: question.id.to_string(),
        kind: question.kind.as_str().to_owned(),
        text: question.ask(words, language).to_owned(),
        why: question.why(words, language).to_owned(),
        options: options
            .map(|(option, label)| QuestionOption {
                id: option.id.to_string(),
                label: label.to_owned(),
            })
            .collect(),
        ask_if: ask_if(book, question, treatment),
        optional: question.optional,
        asked_of: question.asked_of.as_str().to_owned(),
        clear_answer: question.clear_answer().and_then(|clear| places::read(&clear).ok()),
        latest: match question.kind {
            Kind::Date { latest } => Some(latest.as_str().to_owned()),
            Kind::YesNo | Kind::Choice { .. } | Kind::Choices { .. } | Kind::Number { .. } => None,
        },
        min,
        max,
        unit,
        pack: question.pack.as_deref().map(str::to_owned),
    }
}

fn ask_if(book: &Rulebook, question: &Question, treatment: Treatment) -> Option<AskIf> {
    let follows = question.follows?;
    let parent = book.all_questions().get(follows.question)?;
    let any_of = match &parent.kind {
        Kind::YesNo => vec!["yes".to_owned()],
        Kind::Choice { .. } | Kind::Choices { .. } | Kind::Date { .. } | Kind::Number { .. } => {
            book.leading_options(question, treatment).into_iter().map(str::to_owned).collect()
        }
    };
    Some(AskIf { question: parent.id.to_string(), any_of })
}
