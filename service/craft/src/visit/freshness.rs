//! For how long, and for which visits, a kept answer holds: rule data.

use etui_schema::kinds::loaded;
use std::collections::HashMap;
use std::sync::Arc;

use etui_schema::answers::{Answer, Answers};
use etui_schema::vocabulary::Treatment;
use jiff::Span;
use jiff::civil::Date;
use serde::Deserialize;

use super::Kept;
use crate::evidence::Register;
use crate::rules::{self, Origin, RuleFault, RuleFile, rule_file};
use crate::screening::answers::Given;
use crate::screening::question::{NONE_OF_THESE, Question};
use crate::screening::rulebook::Rulebook;

const FILE: RuleFile = rule_file!("screening/freshness.toml");
/// No answer holds for longer than ten years.
const MOST_DAYS: u16 = 3660;

/// For which visits an answer holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HoldsFor {
    /// Every visit of this person.
    Person,
    /// Brows, lips and eyelids alike.
    Face,
    /// The treatment it was asked for.
    Area,
    /// The treatment it was asked for, on that day.
    Visit,
}

impl HoldsFor {
    /// Whether a risk that was told for one treatment may be one of another visit: where nobody said
    /// what it was asked for, it may be of any area.
    #[must_use]
    pub(super) fn may_hold(self, asked_for: Option<Treatment>, visit: Treatment) -> bool {
        asked_for.is_none() && self != Self::Visit || self.holds(asked_for, visit)
    }

    /// Whether answers for two treatments, or for none that was named, are of one place.
    fn is_one_place(self, one: Option<Treatment>, other: Option<Treatment>) -> bool {
        one == other || other.is_some_and(|other| self.holds(one, other)) || self == Self::Person
    }

    /// Whether an answer that was asked for one treatment holds for another.
    #[must_use]
    pub fn holds(self, asked_for: Option<Treatment>, visit: Treatment) -> bool {
        match self {
            Self::Person => true,
            Self::Face => asked_for.is_some_and(is_face) && is_face(visit),
            Self::Area | Self::Visit => asked_for == Some(visit),
        }
    }
}

const fn is_face(treatment: Treatment) -> bool {
    match treatment {
        Treatment::Brows | Treatment::Lips | Treatment::Eyeliner => true,
        Treatment::Scalp | Treatment::Areola => false,
    }
}

/// For which visits and how many days an answer reassures.
#[loaded(Copy, PartialEq, Eq)]
pub struct Holds {
    /// For which visits.
    pub holds_for: HoldsFor,
    /// Days from the day it was given to the day of the visit, inclusive.
    pub days: u16,
}

impl Holds {
    /// The last day on which an answer of a day reassures.
    #[must_use]
    pub fn until(self, given_on: Date) -> Date {
        given_on.saturating_add(Span::new().days(i64::from(self.days)))
    }
}

#[loaded]
struct Row {
    pub(super) questions: Vec<Arc<str>>,
    #[serde(default)]
    pub(super) options: Vec<Arc<str>>,
    holds_for: HoldsFor,
    days: u16,
}

/// What is not un-said in passing.
#[loaded(PartialEq, Eq)]
pub(super) struct Remains {
    pub(super) questions: Vec<Arc<str>>,
    #[serde(default)]
    pub(super) options: Vec<Arc<str>>,
    /// For how long after the day that was told with it, or else after it was told;
    /// `None`: for good.
    pub(super) days: Option<u16>,
    /// The options that say how it went on.
    #[serde(default)]
    pub(super) course: Vec<Arc<str>>,
    /// Whether it counts wherever it was asked.
    #[serde(default, rename = "anywhere")]
    pub(super) is_anywhere: bool,
    /// Whether it goes by itself, so that a later answer without it takes it back.
    #[serde(default, rename = "settles")]
    pub(super) does_settle: bool,
}

/// What goes on, and the question for the day of its end.
#[loaded(PartialEq, Eq)]
pub(super) struct Lasted {
    pub(super) question: Arc<str>,
    #[serde(default)]
    pub(super) options: Vec<Arc<str>>,
    pub(super) ended_on: Arc<str>,
}

/// What an answer says beside its own question.
#[loaded(PartialEq, Eq)]
pub(super) struct Implies {
    pub(super) question: Arc<str>,
    #[serde(default)]
    pub(super) options: Vec<Arc<str>>,
    /// The other question.
    pub(super) says: Arc<str>,
    /// The option of the other question; `None`: a yes.
    pub(super) option: Option<Arc<str>>,
}

impl Implies {
    /// Whether an answer says it.
    pub(super) fn is_said_by(&self, question: &str, answer: Given<'_>) -> bool {
        let option = |id: &str| self.options.iter().any(|one| **one == *id);
        *self.question == *question
            && match answer {
                Given::YesNo(yes) => yes,
                Given::Text(id) => option(id),
                Given::Choices(all) => all.iter().any(|id| option(id)),
                Given::Number(_) => false,
            }
    }
}

impl Lasted {
    /// Whether an answer tells that it goes on.
    pub(super) fn is_told_by(&self, answer: Given<'_>) -> bool {
        match answer {
            Given::YesNo(yes) => yes,
            Given::Text(id) => self.option(id),
            Given::Choices(all) => all.iter().any(|id| self.option(id)),
            Given::Number(_) => false,
        }
    }

    pub(super) fn question(&self, id: &str) -> bool {
        *self.question == *id
    }

    pub(super) fn option(&self, id: &str) -> bool {
        self.options.iter().any(|one| **one == *id)
    }
}

impl Remains {
    /// Whether it speaks of a question.
    pub(super) fn question(&self, id: &str) -> bool {
        self.questions.iter().any(|one| **one == *id)
    }

    /// Whether it speaks of an option of its question.
    pub(super) fn option(&self, id: &str) -> bool {
        self.options.is_empty() || self.options.iter().any(|one| **one == *id)
    }
}

#[loaded]
pub(crate) struct File {
    #[serde(rename = "revision")]
    _revision: u32,
    #[serde(rename = "source")]
    _source: Origin,
    otherwise: Holds,
    skin: Holds,
    row: Vec<Row>,
    remains: Vec<Remains>,
    lasted: Vec<Lasted>,
    implies: Vec<Implies>,
    ends: Vec<Arc<str>>,
}

/// The rules of freshness.
///
/// ```
/// use etui_craft::{evidence::Register, visit::freshness::Freshness};
/// assert!(Freshness::builtin(&Register::builtin().unwrap()).is_ok());
/// ```
#[derive(Debug, Clone)]
pub struct Freshness {
    otherwise: Holds,
    /// How long a skin type or a measured colour says that no care is needed.
    pub skin: Holds,
    pub(super) rows: HashMap<(Arc<str>, Option<Arc<str>>), Holds>,
    remains: Vec<Remains>,
    lasted: Vec<Lasted>,
    implies: Vec<Implies>,
    ends: Vec<Arc<str>>,
}

impl Freshness {
    /// The rules compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`]: a file that cannot be read, a source that is not
    /// registered, a question or option with two rows, too many days.
    pub fn builtin(register: &Register) -> Result<Self, RuleFault> {
        let file: File = rules::load(register, FILE)?;
        let mut rows = HashMap::new();
        for (at, Row { questions, options, holds_for, days }) in
            file.row.iter().cloned().enumerate()
        {
            let fault = |why: String| RuleFault::new(FILE.name, format!("/row/{at}"), why);
            if MOST_DAYS < days {
                return Err(fault(format!("days: at most {MOST_DAYS} are accepted")));
            }
            let one =
                || options.iter().cloned().map(Some).chain(options.is_empty().then_some(None));
            for (question, option) in questions.iter().flat_map(|q| one().map(move |o| (q, o))) {
                let key = (question.clone(), option);
                if rows.insert(key, Holds { holds_for, days }).is_some() {
                    return Err(fault(format!("`{question}` stands there twice")));
                }
            }
        }
        let File { otherwise, skin, remains, lasted, implies, ends, .. } = file;
        Ok(Self { otherwise, skin, rows, remains, lasted, implies, ends })
    }

    /// The ends among some answers that lie before a day on which what they end was told to go on,
    /// each with that day. `kept` has the answers that were told before, with their days.
    pub fn ends_too_early<'a>(
        &'a self,
        answers: &'a Answers,
        kept: &'a [Kept<'a>],
    ) -> impl Iterator<Item = (&'a str, Date)> {
        self.lasted.iter().filter_map(move |row| {
            let told = answers.get(&*row.ended_on)?;
            let of = |id: &'a str| kept.iter().filter(move |one| one.question == id);
            let goes_on = of(&row.question).filter(|one| row.is_told_by(one.answer));
            let on = goes_on.filter_map(|one| one.on).max()?;
            let is_new = of(&row.ended_on).all(|one| one.answer != Given::from(told));
            let Answer::Text(day) = told else { return None };
            let is_early = day.parse::<Date>().is_ok_and(|day| day < on);
            (is_new && is_early).then_some((&*row.ended_on, on))
        })
    }

    /// The row of a question or of one of its options.
    #[must_use]
    pub fn row(&self, question: &str, option: Option<&str>) -> Option<Holds> {
        self.rows.get(&(question.into(), option.map(Arc::from))).copied()
    }

    /// What holds for an answer: its own row, that of the whole question, that
    /// of the answer it follows, or what holds for all.
    #[must_use]
    pub fn of(&self, book: &Rulebook, question: &Question, option: Option<&str>) -> Holds {
        let own = option
            .and_then(|option| self.row(&question.id, Some(option)))
            .or_else(|| self.row(&question.id, None));
        let parent = || {
            let parent = book.all_questions().get(question.follows?.question)?;
            let leads = parent.kind.options().iter().enumerate();
            let leads = leads.filter(|(bit, _)| question.is_led_to_by(1 << bit));
            let first = leads.map(|(_, option)| &*option.id).next();
            Some(self.of(book, parent, first))
        };
        own.or_else(parent).unwrap_or(self.otherwise)
    }

    /// Whether an answer that was asked for one treatment takes the place of one that was asked for
    /// another, whatever either says.
    #[must_use]
    pub fn is_one_place(
        &self,
        book: &Rulebook,
        question: &str,
        (one, other): (Option<Treatment>, Option<Treatment>),
    ) -> bool {
        let Some(question) = super::find(book, question).filter(|_| one != other) else {
            return true;
        };
        let options = question.kind.options().iter().map(|option| Some(&*option.id));
        let mut all = options.chain([None]).map(|option| self.of(book, question, option).holds_for);
        all.all(|holds_for| holds_for.is_one_place(one, other))
    }

    /// What an answer for one treatment still says once another was given for another treatment:
    /// the options that hold for its own alone. `None` if that is nothing.
    #[must_use]
    pub fn beside(
        &self,
        book: &Rulebook,
        (question, answer): (&str, &Answer),
        places: (Option<Treatment>, Option<Treatment>),
    ) -> Option<Answer> {
        let (Some(asked), Answer::Choices(told)) = (super::find(book, question), answer) else {
            return Some(answer.clone());
        };
        let stays = |option: &&String| {
            let holds_for = self.of(book, asked, Some(option)).holds_for;
            ***option == *NONE_OF_THESE || !holds_for.is_one_place(places.0, places.1)
        };
        let rest: Vec<String> = told.iter().filter(stays).cloned().collect();
        (!rest.is_empty()).then_some(Answer::Choices(rest))
    }

    /// What is not un-said in passing.
    pub(super) fn remains(&self) -> impl Iterator<Item = &Remains> {
        self.remains.iter()
    }

    /// What goes on until a day that is asked for.
    pub(super) fn lasted(&self) -> impl Iterator<Item = &Lasted> {
        self.lasted.iter()
    }

    /// The questions for a day on which something was over.
    pub(super) fn ends(&self) -> &[Arc<str>] {
        &self.ends
    }

    /// What answers say beside their own question.
    pub(super) fn implies(&self) -> impl Iterator<Item = &Implies> {
        self.implies.iter()
    }
}
