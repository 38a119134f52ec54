//! Loading of questions.

use std::sync::Arc;

use super::data::{RawAskIf, RawKind, RawOption, RawQuestion, Stage};
use super::faults::BookProblem;
use super::load::Loader;
use super::question::{Choice, Follows, Kind, NONE_OF_THESE, Question, Treatments, YES};

/// Most options of one question: they are the bits of one word.
const MOST_OPTIONS: usize = 30;

impl Loader<'_> {
    /// Reads one question and adds it, whether or not faults were found.
    pub(super) fn question(&mut self, at: &str, raw: &RawQuestion) {
        self.id(at, &raw.id, !self.question_ids.contains_key(raw.id.as_str()));
        self.contradicts(
            at,
            raw.stage == Stage::Day && raw.ask_if.is_some(),
            "a follow-up is asked when its question is, and has no day of its own",
        );
        let (follows, inherited) = match &raw.ask_if {
            Some(ask_if) => match self.follows(at, ask_if) {
                Some((follows, treatments)) => (Some(follows), treatments),
                None => return,
            },
            None => (None, Treatments::ALL),
        };
        let own = raw.treatments.as_deref().map_or(inherited, Treatments::of);
        let treatments = own.and(inherited);
        if treatments.is_empty() {
            let why = format!("`{}` is asked for no treatment", raw.id);
            self.fault(at, BookProblem::Unreachable { why });
        }
        let Some(kind) = self.kind(at, raw, treatments) else { return };
        let ask_key = self.sentence(at, format!("question.{}.ask", raw.id));
        let why_key = self.why_key(at, raw, follows);
        let question = Question {
            id: raw.id.as_str().into(),
            pack: self.pack.clone(),
            kind,
            treatments,
            follows,
            optional: raw.optional,
            wanted_on_the_day: raw.wanted_on_the_day,
            stage: follows.map_or(raw.stage, |follows| self.questions[follows.question].stage),
            asked_of: raw.asked_of,
            ask_key,
            why_key,
        };
        self.question_ids.insert(question.id.clone(), self.questions.len());
        self.questions.push(question);
    }

    /// The sentence that says why; a follow-up may share its question's.
    fn why_key(&mut self, at: &str, raw: &RawQuestion, follows: Option<Follows>) -> Arc<str> {
        let own = format!("question.{}.why", raw.id);
        match follows {
            Some(follows) if !self.sentences.has(&own) => {
                self.questions[follows.question].why_key.clone()
            }
            _ => self.sentence(at, own),
        }
    }

    fn kind(&mut self, at: &str, raw: &RawQuestion, treatments: Treatments) -> Option<Kind> {
        let is_choice = matches!(raw.kind, RawKind::Choice | RawKind::Choices);
        self.contradicts(
            at,
            is_choice == raw.options.is_empty(),
            "a choice, and only it, has options",
        );
        let has_clear = raw.clear.is_some();
        self.contradicts(
            at,
            (raw.kind == RawKind::Choice) != has_clear,
            "a single choice, and only it, names its clear option",
        );
        let has_limits = raw.min.is_some() || raw.max.is_some() || raw.unit.is_some();
        self.contradicts(at, has_limits && raw.kind != RawKind::Number, "only a number has limits");
        match raw.kind {
            RawKind::YesNo => Some(Kind::YesNo),
            RawKind::Date => Some(Kind::Date { latest: raw.latest }),
            RawKind::Number => self.number(at, raw),
            RawKind::Choice => {
                let options = self.options(at, &raw.id, &raw.options, treatments)?;
                let clear = raw.clear.as_deref().unwrap_or_default();
                let found = options.iter().position(|option| &*option.id == clear);
                if found.is_none() {
                    let id = clear.to_owned();
                    self.fault(&format!("{at}/clear"), BookProblem::Unknown { what: "option", id });
                }
                found.map(|clear| Kind::Choice { options, clear })
            }
            RawKind::Choices => {
                let mut options = self.options(at, &raw.id, &raw.options, treatments)?;
                let key = self.sentence(at, format!("option.{NONE_OF_THESE}"));
                options.push(Choice { id: NONE_OF_THESE.into(), treatments, key });
                Some(Kind::Choices { options })
            }
        }
    }

    fn number(&mut self, at: &str, raw: &RawQuestion) -> Option<Kind> {
        match (raw.min, raw.max, &raw.unit) {
            (Some(min), Some(max), Some(unit))
                if min.is_finite() && max.is_finite() && min < max =>
            {
                Some(Kind::Number { min, max, unit: unit.as_str().into() })
            }
            _ => {
                let accepted = "finite `min` below `max`, and a `unit`".to_owned();
                self.fault(at, BookProblem::Range { what: "a number question".into(), accepted });
                None
            }
        }
    }

    fn options(
        &mut self,
        at: &str,
        question: &str,
        raw: &[RawOption],
        treatments: Treatments,
    ) -> Option<Vec<Choice>> {
        if MOST_OPTIONS < raw.len() {
            let accepted = format!("at most {MOST_OPTIONS} options");
            self.fault(at, BookProblem::Range { what: "the number of options".into(), accepted });
            return None;
        }
        let mut options: Vec<Choice> = Vec::with_capacity(raw.len() + 1);
        for (nth, option) in raw.iter().enumerate() {
            let at = format!("{at}/options/{nth}");
            let is_new =
                option.id != NONE_OF_THESE && options.iter().all(|other| *other.id != *option.id);
            self.id(&at, &option.id, is_new);
            let offered =
                option.treatments.as_deref().map_or(treatments, Treatments::of).and(treatments);
            if offered.is_empty() {
                let why = format!("option `{}` is offered for no treatment", option.id);
                self.fault(&at, BookProblem::Unreachable { why });
            }
            let key = self.sentence(&at, format!("option.{question}.{}", option.id));
            options.push(Choice { id: option.id.as_str().into(), treatments: offered, key });
        }
        Some(options)
    }

    /// The answers a follow-up depends on, and where they can be given.
    fn follows(&mut self, at: &str, raw: &RawAskIf) -> Option<(Follows, Treatments)> {
        let (question, mask) = self.chosen(&format!("{at}/ask_if"), &raw.question, &raw.any_of)?;
        Some((Follows { question, mask }, self.offered(question, mask)))
    }

    /// The bits of some answers to a question: of the options named, or of
    /// *yes* if the question is a yes/no.
    pub(super) fn chosen(&mut self, at: &str, id: &str, any_of: &[String]) -> Option<(usize, u32)> {
        let Some(question) = self.question_ids.get(id).copied() else {
            self.fault(at, BookProblem::Unknown { what: "earlier question", id: id.to_owned() });
            return None;
        };
        let kind = self.questions[question].kind.clone();
        if kind == Kind::YesNo {
            self.contradicts(at, !any_of.is_empty(), "a yes/no question has no options");
            return Some((question, YES));
        }
        let clear = match &kind {
            Kind::Choice { clear, .. } => Some(*clear),
            Kind::YesNo | Kind::Choices { .. } | Kind::Date { .. } | Kind::Number { .. } => {
                kind.options().len().checked_sub(1)
            }
        };
        let mut mask = 0;
        for option in any_of {
            match kind.options().iter().position(|known| *known.id == **option) {
                Some(bit) if Some(bit) != clear => mask |= 1 << bit,
                Some(_) => self.contradicts(at, true, "nothing may depend on the clear answer"),
                None => {
                    self.fault(at, BookProblem::Unknown { what: "option", id: option.clone() });
                }
            }
        }
        if mask == 0 {
            let why = format!("no answer to `{id}` leads here");
            self.fault(at, BookProblem::Unreachable { why });
            return None;
        }
        Some((question, mask))
    }

    /// For which treatments one of the answers can be given.
    pub(super) fn offered(&self, question: usize, mask: u32) -> Treatments {
        let question = &self.questions[question];
        if question.kind == Kind::YesNo {
            return question.treatments;
        }
        let none = Treatments::of(&[]);
        question.kind.options().iter().enumerate().fold(none, |set, (bit, option)| {
            if mask & (1 << bit) == 0 { set } else { set.or(option.treatments) }
        })
    }
}
