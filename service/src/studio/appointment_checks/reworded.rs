//! Which answers differ between two checks, in words: what came and what went by its own
//! name, and a question by what it is about.

use etui_craft::screening::question::{Kind, NONE_OF_THESE, Question};
use etui_craft::text;
use etui_schema::answers::Answer;
use etui_schema::appointment_checks::{AnswerState, AnswerUsed, AppointmentCheck};
use etui_schema::vocabulary::{CivilDate, Treatment};

use super::compare::Told;
use super::readiness::Words;

/// What was heard of the answers since, each in its own words.
#[derive(Default)]
struct Heard {
    told: Vec<String>,
    withdrawn: Vec<String>,
    open: Vec<String>,
}

impl Told<'_> {
    /// Which answers are new, other, gone, or open again.
    pub(super) fn changed_answers(
        &self,
        before: &AppointmentCheck,
        now: &AppointmentCheck,
    ) -> Vec<String> {
        if before.answers_used.is_empty() {
            return Vec::new();
        }
        let find = |list: &[AnswerUsed], id: &str| {
            list.iter()
                .find(|one| one.question == id && one.state != AnswerState::NotAsked)
                .cloned()
        };
        let mut heard = Heard::default();
        for one in &now.answers_used {
            let (was, is) = (find(&before.answers_used, &one.question), one);
            self.changed(&mut heard, now.treatment, was.as_ref(), is);
        }
        let gone = before.answers_used.iter().filter(|one| {
            one.state == AnswerState::Used && find(&now.answers_used, &one.question).is_none()
        });
        let gone = gone.filter_map(|one| Some(self.about(self.question(&one.question)?)));
        let gone = gone.map(str::to_owned).collect();
        [
            self.listed("told", heard.told),
            self.listed("withdrawn", heard.withdrawn),
            self.listed("answer_open", heard.open),
            self.listed("answer_gone", gone),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn changed(
        &self,
        heard: &mut Heard,
        treatment: Treatment,
        was: Option<&AnswerUsed>,
        is: &AnswerUsed,
    ) {
        let Some(question) = self.question(&is.question) else { return };
        let about = self.about(question);
        let open = is.state == AnswerState::Stale;
        match was {
            Some(was) if was.answer == is.answer => {
                heard.open.extend((was.state != is.state && open).then(|| about.to_owned()));
            }
            None if is.state != AnswerState::Used => {}
            _ => {
                let was = was.map(|was| &was.answer);
                let (told, withdrawn) = self.options(question, was, &is.answer, treatment);
                if told.is_empty() && withdrawn.is_empty() {
                    let now = self.answer(question, &is.answer, treatment);
                    let before = was.map(|was| self.answer(question, was, treatment));
                    let key = if before.is_some() { "now_not" } else { "now" };
                    let before = before.unwrap_or_default();
                    let values = [("about", about), ("now", &*now), ("before", &*before)];
                    heard.told.push(self.say(key, &values));
                }
                heard.told.extend(told);
                heard.withdrawn.extend(withdrawn);
            }
        }
    }

    /// The options that came and those that went, where one may tell several.
    fn options(
        &self,
        question: &Question,
        was: Option<&Answer>,
        is: &Answer,
        treatment: Treatment,
    ) -> (Vec<String>, Vec<String>) {
        let chosen = |answer: Option<&Answer>| match answer {
            Some(Answer::Choices(list)) => list.clone(),
            _ => Vec::new(),
        };
        let (was, is) = (chosen(was), chosen(Some(is)));
        let without = |one: &[String], other: &[String]| -> Vec<String> {
            let of = one.iter().filter(|id| *id != NONE_OF_THESE && !other.contains(id));
            of.map(|id| self.label(question, id, treatment)).collect()
        };
        (without(&is, &was), without(&was, &is))
    }

    /// An answer in words.
    fn answer(&self, question: &Question, answer: &Answer, treatment: Treatment) -> String {
        let language = self.words.language;
        let label = |id: &str| self.label(question, id, treatment);
        match answer {
            Answer::YesNo(yes) => self.say(if *yes { "yes" } else { "no" }, &[]),
            Answer::Number(number) => text::number(language, &number.to_string()),
            Answer::Text(text) => match (&question.kind, text.parse::<CivilDate>()) {
                (Kind::Date { .. }, Ok(day)) => self.words.day(day.0),
                _ => label(text),
            },
            Answer::Choices(list) if list.is_empty() => label(NONE_OF_THESE),
            Answer::Choices(list) => list.iter().map(|id| label(id)).collect::<Vec<_>>().join(", "),
        }
    }

    fn label(&self, question: &Question, id: &str, treatment: Treatment) -> String {
        let Words { sentences, language } = self.words;
        let mut offered = question.offered(sentences, language, treatment);
        let found = offered.find(|(option, _)| *option.id == *id);
        found.map_or_else(|| id.to_owned(), |(_, label)| label.to_owned())
    }
}
