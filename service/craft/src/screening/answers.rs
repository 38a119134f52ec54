//! Reading a client's answers.
//!
//! Answers are a map from question id to what was [`Given`]: yes or no, an
//! option, a list of options, a day `YYYY-MM-DD`, a number. Reading checks
//! every one of them and reports all faults at once. Two answers contradict
//! each other if a follow-up has an answer although its question rules it
//! out, or if [`NONE_OF_THESE`] stands beside another option. An empty list
//! says nothing: the question is unanswered, as one that was not asked. An
//! untouched group of boxes is no clean bill; only [`NONE_OF_THESE`] is.
//!
//! Questions of other treatments are accepted, not used, and named
//! ([`Answers::unused`]). An option that the treatment does not offer is
//! refused: nothing that was told is dropped in silence. Whoever keeps answers
//! for several treatments keeps them by treatment.

use etui_schema::answers::Answer as Told;
use etui_schema::vocabulary::CivilDate;
use jiff::civil::Date;

use super::age;
use super::faults::{Fault, Problem, step};
use super::gate::Visit;
use super::question::{Choice, Kind, Latest, NONE_OF_THESE, Question, Stage, YES};
use super::rulebook::Rulebook;

/// The bit of a *no*.
pub(super) const NO: u32 = 2;

/// One answer as the client gave it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Given<'a> {
    /// Yes or no.
    YesNo(bool),
    /// A number.
    Number(f64),
    /// One option, or a day.
    Text(&'a str),
    /// Several options.
    Choices(&'a [String]),
}

impl<'a> From<&'a Told> for Given<'a> {
    fn from(answer: &'a Told) -> Self {
        match answer {
            Told::YesNo(yes) => Self::YesNo(*yes),
            Told::Number(number) => Self::Number(*number),
            Told::Text(text) => Self::Text(text),
            Told::Choices(all) => Self::Choices(all),
        }
    }
}

/// One answer, read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Slot {
    /// Not answered.
    Empty,
    /// Bits of the options; for a yes/no, [`YES`] or [`NO`].
    Chosen(u32),
    /// A day.
    Day(Date),
    /// A number.
    Number(f64),
}

/// Whether something is so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Tri {
    No,
    Unknown,
    Yes,
}

/// A client's answers, read against one rulebook, treatment and day.
#[derive(Debug, Clone, PartialEq)]
pub struct Answers {
    /// One slot a question of the book.
    pub(super) slots: Vec<Slot>,
    /// Whether the question is to be answered.
    pub(super) asked: Vec<Tri>,
    /// Questions that were answered but serve other treatments.
    unused: Vec<usize>,
    /// Bits of each question that are not known any more ([`Reopened`]).
    open: Vec<u32>,
}

/// A question that is to be asked again although what was answered still
/// counts where a rule may speak on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reopened {
    /// Index of the question in the book.
    pub question: usize,
    /// The bits of its options that may be so by now; any bit stands for a
    /// number or a day.
    pub bits: u32,
}

impl Answers {
    /// Reads answers.
    ///
    /// # Errors
    /// Every [`Fault`], its pointer beginning with `/answers`: an unknown
    /// question, an answer of another kind or out of range, a day that has
    /// not come yet, a contradiction.
    pub fn read<'a>(
        book: &Rulebook,
        visit: &Visit,
        given: impl IntoIterator<Item = (&'a str, Given<'a>)>,
    ) -> Result<Self, Vec<Fault>> {
        Self::read_reopened(book, visit, given, &[])
    }

    /// Reads answers of which some have grown old: what they say counts, and
    /// what they no longer rule out is open.
    ///
    /// # Errors
    /// As [`Answers::read`].
    pub fn read_reopened<'a>(
        book: &Rulebook,
        visit: &Visit,
        given: impl IntoIterator<Item = (&'a str, Given<'a>)>,
        reopened: &[Reopened],
    ) -> Result<Self, Vec<Fault>> {
        let mut faults = Vec::new();
        let mut open = vec![0; book.questions.len()];
        for again in reopened {
            if let Some(bits) = open.get_mut(again.question) {
                *bits |= again.bits;
            }
        }
        let mut slots = vec![Slot::Empty; book.questions.len()];
        for (id, value) in given {
            let read = match book.question_ids.get(id) {
                Some(index) => {
                    read(&book.questions[*index], visit, value).map(|slot| (*index, slot))
                }
                None => Err(Problem::UnknownQuestion { id: id.chars().take(60).collect() }),
            };
            match read {
                Ok((index, slot)) => slots[index] = slot,
                Err(problem) => {
                    faults.push(Fault { pointer: format!("/answers/{}", step(id)), problem });
                }
            }
        }
        let unused = unused(book, visit, &mut slots);
        let asked = asked(book, visit, &slots, &open);
        contradictions(book, &slots, &asked, &mut faults);
        if faults.is_empty() { Ok(Self { slots, asked, unused, open }) } else { Err(faults) }
    }

    /// The questions that are still to be answered, in the order of asking:
    /// required, asked for sure, and empty or open again.
    pub fn unanswered<'b>(&self, book: &'b Rulebook) -> impl Iterator<Item = &'b Question> {
        self.untold(book).filter(|question| !question.optional)
    }

    /// Every question for the visit without an answer that counts, be it optional or not.
    pub(super) fn untold<'b>(&self, book: &'b Rulebook) -> impl Iterator<Item = &'b Question> {
        let known = self.slots.iter().zip(&self.open).zip(&self.asked);
        known
            .zip(&book.questions)
            .filter(|(((slot, open), asked), _)| {
                **asked == Tri::Yes && (**slot == Slot::Empty || **open != 0)
            })
            .map(|(_, question)| question)
    }

    /// Whether one of these bits of a question is open again.
    pub(super) fn is_open(&self, question: usize, bits: u32) -> bool {
        self.open.get(question).is_some_and(|open| open & bits != 0)
    }

    /// The questions that were answered and serve other treatments only.
    pub fn unused<'b>(&self, book: &'b Rulebook) -> impl Iterator<Item = &'b Question> {
        self.unused.iter().map(|index| &book.questions[*index])
    }
}

/// Whether an answer can be read for a question.
pub(crate) fn fits(question: &Question, visit: &Visit, given: Given<'_>) -> bool {
    read(question, visit, given).is_ok()
}

fn read(question: &Question, visit: &Visit, given: Given<'_>) -> Result<Slot, Problem> {
    match (&question.kind, given) {
        (Kind::YesNo, Given::YesNo(yes)) => Ok(Slot::Chosen(if yes { YES } else { NO })),
        (Kind::Choice { options, .. }, Given::Text(id)) => {
            bit(question, visit, options, id).map(Slot::Chosen)
        }
        (Kind::Choices { options }, Given::Choices(list)) => {
            choices(question, visit, options, list)
        }
        (Kind::Date { latest }, Given::Text(text)) => match text.parse::<CivilDate>() {
            Ok(day) => in_time(*latest, visit, day.0).map(Slot::Day),
            Err(_) => Err(wanted(question)),
        },
        (Kind::Number { min, max, unit }, Given::Number(found)) => {
            if *min <= found && found <= *max {
                return Ok(Slot::Number(found));
            }
            Err(Problem::OutOfRange { found, min: *min, max: *max, unit: unit.to_string() })
        }
        _ => Err(wanted(question)),
    }
}

/// What a question would accept, in words.
fn wanted(question: &Question) -> Problem {
    let options = || {
        let ids: Vec<&str> = question.kind.options().iter().map(|option| &*option.id).collect();
        ids.join(", ")
    };
    let wanted = match &question.kind {
        Kind::YesNo => "true or false".to_owned(),
        Kind::Choice { .. } => format!("one of: {}", options()),
        Kind::Choices { .. } => format!("a list, each once, out of: {}", options()),
        Kind::Date { .. } => "a calendar day written YYYY-MM-DD".to_owned(),
        Kind::Number { min, max, unit } => format!("a number from {min} to {max} {unit}"),
    };
    Problem::Kind { kind: question.kind.as_str(), wanted }
}

/// The bit of an option, which the treatment must offer if it asks the question.
fn bit(question: &Question, visit: &Visit, options: &[Choice], id: &str) -> Result<u32, Problem> {
    let found = options.iter().position(|option| *option.id == *id);
    let bit = found.ok_or_else(|| wanted(question))?;
    let is_asked = question.treatments.has(visit.treatment);
    if is_asked && !options[bit].treatments.has(visit.treatment) {
        let offered = options.iter().filter(|option| option.treatments.has(visit.treatment));
        let offered: Vec<&str> = offered.map(|option| &*option.id).collect();
        return Err(Problem::NotOffered { offered: offered.join(", ") });
    }
    Ok(1 << bit)
}

fn choices(
    question: &Question,
    visit: &Visit,
    options: &[Choice],
    list: &[String],
) -> Result<Slot, Problem> {
    let mut mask = 0_u32;
    for id in list {
        let bit = bit(question, visit, options, id)?;
        if mask & bit != 0 {
            return Err(wanted(question));
        }
        mask |= bit;
    }
    let none = 1_u32 << (options.len() - 1);
    if mask == 0 {
        return Ok(Slot::Empty);
    }
    if mask & none != 0 && mask != none {
        let why = "`none_of_these` stands alone";
        return Err(Problem::Contradiction { other: NONE_OF_THESE.to_owned(), why });
    }
    Ok(Slot::Chosen(mask))
}

fn in_time(latest: Latest, visit: &Visit, day: Date) -> Result<Date, Problem> {
    if day < visit.born_on {
        let why = "the day of birth";
        return Err(Problem::TooEarly { found: day, earliest: visit.born_on, why });
    }
    let limit = match latest {
        Latest::Open => None,
        Latest::Today => Some((visit.today(), by_name(visit))),
        Latest::Treatment => Some((visit.on, "the day of the treatment")),
    };
    match limit {
        Some((limit, why)) if limit < day => {
            Err(Problem::TooLate { found: day, latest: limit, why })
        }
        _ => Ok(day),
    }
}

/// What the last day is on which something can have been.
fn by_name(visit: &Visit) -> &'static str {
    if visit.on < visit.as_of { "the day of the visit" } else { "today" }
}

/// Empties what serves other treatments, so that no rule sees it.
fn unused(book: &Rulebook, visit: &Visit, slots: &mut [Slot]) -> Vec<usize> {
    let mut unused = Vec::new();
    for (index, question) in book.questions.iter().enumerate() {
        if slots[index] == Slot::Empty {
            continue;
        }
        if !question.treatments.has(visit.treatment) {
            slots[index] = Slot::Empty;
            unused.push(index);
        }
    }
    unused
}

/// Whether each question is asked; parents stand before their follow-ups.
fn asked(book: &Rulebook, visit: &Visit, slots: &[Slot], open: &[u32]) -> Vec<Tri> {
    let mut asked: Vec<Tri> = Vec::with_capacity(slots.len());
    for (question, slot) in book.questions.iter().zip(slots) {
        let answered = *slot != Slot::Empty;
        let is = if !question.treatments.has(visit.treatment) {
            Tri::No
        } else if let Some(follows) = question.follows {
            match slots[follows.question] {
                Slot::Chosen(mask) if mask & follows.mask != 0 => Tri::Yes,
                Slot::Chosen(_) if open[follows.question] & follows.mask != 0 => Tri::Unknown,
                Slot::Empty if asked[follows.question] != Tri::No => Tri::Unknown,
                Slot::Empty | Slot::Chosen(_) | Slot::Day(_) | Slot::Number(_) => Tri::No,
            }
        } else if !answered && is_later(question.stage, visit) {
            Tri::No
        } else {
            Tri::Yes
        };
        asked.push(is);
    }
    asked
}

/// Whether a stage has not come yet: its questions are not open.
fn is_later(stage: Stage, visit: &Visit) -> bool {
    stage == Stage::Record || stage == Stage::Day && visit.today() < visit.on
}

/// Follow-ups that say something although their question rules them out.
fn contradictions(book: &Rulebook, slots: &[Slot], asked: &[Tri], faults: &mut Vec<Fault>) {
    for (index, question) in book.questions.iter().enumerate() {
        let Some(follows) = question.follows else { continue };
        let says = !matches!(
            (slots[index], &question.kind),
            (Slot::Empty, _) | (Slot::Chosen(NO), Kind::YesNo)
        );
        if says && asked[index] == Tri::No && slots[follows.question] != Slot::Empty {
            faults.push(Fault {
                pointer: format!("/answers/{}", question.id),
                problem: Problem::Contradiction {
                    other: format!("/answers/{}", book.questions[follows.question].id),
                    why: "that answer rules this one out",
                },
            });
        }
    }
}

/// Checks the days of a visit.
pub(super) fn check_visit(book: &Rulebook, visit: &Visit, faults: &mut Vec<Fault>) {
    let mut fault = |problem| faults.push(Fault { pointer: "/born_on".to_owned(), problem });
    let (found, today) = (visit.born_on, visit.today());
    if today < found {
        fault(Problem::TooLate { found, latest: today, why: by_name(visit) });
    } else if age::on(found, today).is_some_and(|age| i16::from(book.oldest_years) < age) {
        let earliest = today.saturating_sub(jiff::Span::new().years(i64::from(book.oldest_years)));
        fault(Problem::TooEarly {
            found,
            earliest,
            why: "the birth of the oldest client believed",
        });
    }
}
