//! What a skin test and the bottles come to for an appointment.
//!
//! Neither softens anything: a verdict gets harder by them or stays. A skin
//! that reacted is a matter for a doctor. A test that was told and does not
//! count, or a bottle that may not be used as it is, is a condition. Where
//! nobody said anything about a test the verdict stays, and the list says by
//! which day one can still be made.

use etui_schema::vocabulary::{Language, Verdict};
use jiff::civil::Date;

use super::gate::severity;
use super::patch_test::{Judgement, Standing};
use super::pigment::{Fitness, Remark};
use super::question::Who;
use super::rulebook::Rulebook;
use super::todo::{Kind, Todo};
use super::typing::PatchTestLimits;

/// A bottle that was judged.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bottle {
    /// Whether it may be used.
    pub fitness: Fitness,
    /// What is to be said about it, gravest first.
    pub remarks: Vec<Remark>,
}

/// Skin test and bottles of an appointment.
#[derive(Debug, Clone, Copy)]
pub struct Materials<'a> {
    /// The test, or the absence of one.
    pub test: &'a Judgement,
    /// Whether anything was said about a test.
    pub told: bool,
    /// The bottles, in the order of the request.
    pub bottles: &'a [Bottle],
}

impl Materials<'_> {
    /// The verdict with test and bottles: as it was, or harder.
    #[must_use]
    pub fn verdict(&self, screened: Verdict) -> Verdict {
        let test = match self.test.standing {
            Standing::Reacted => Verdict::Refer,
            Standing::Met => Verdict::Proceed,
            Standing::Missing
            | Standing::TooLate
            | Standing::Expired
            | Standing::OtherBatch
            | Standing::Unread => {
                if self.told {
                    Verdict::ProceedWithConditions
                } else {
                    Verdict::Proceed
                }
            }
        };
        let fit = self.bottles.iter().all(|bottle| bottle.fitness == Fitness::Usable);
        let bottles = if fit { Verdict::Proceed } else { Verdict::ProceedWithConditions };
        let harder = |a, b| if severity(a) < severity(b) { b } else { a };
        harder(screened, harder(test, bottles))
    }
}

impl Rulebook {
    /// What has to be done about test and bottles, with the latest days. `on`
    /// is the day of the treatment, `made_on` that of the list.
    #[must_use]
    pub fn materials_todo(
        &self,
        limits: &PatchTestLimits,
        materials: &Materials<'_>,
        (on, made_on): (Date, Date),
        language: Language,
    ) -> Vec<Todo> {
        let test = self.test_todo(limits, materials.test, (on, made_on), language);
        let bottles = materials.bottles.iter().enumerate();
        let bottles = bottles.filter_map(|(at, bottle)| self.bottle_todo(at, bottle, on, language));
        let mut list: Vec<Todo> = test.into_iter().chain(bottles).collect();
        for todo in &mut list {
            todo.is_late = todo.due.is_some_and(|due| due < made_on);
        }
        list
    }

    fn test_todo(
        &self,
        limits: &PatchTestLimits,
        test: &Judgement,
        (on, made_on): (Date, Date),
        language: Language,
    ) -> Option<Todo> {
        let words = self.sentences();
        let text = |key: &str| words.get(language, key).to_owned();
        let (kind, due, who, text) = match test.standing {
            Standing::Met => return None,
            Standing::Unread => (Kind::ReadSkinTest, on, Who::Studio, text("todo.read_skin_test")),
            Standing::Reacted => {
                let due = self.refer_lead.before(on);
                (Kind::WrittenView, due, Who::Client, text("patch_test.reacted"))
            }
            Standing::Missing | Standing::TooLate | Standing::Expired | Standing::OtherBatch => {
                let text = self.test_by(limits, test, made_on, language);
                (Kind::SkinTest, test.by, Who::Studio, text)
            }
        };
        Some(Todo { kind, from: "patch_test".into(), text, due: Some(due), is_late: false, who })
    }

    /// By when a test can still be made: in good time, only just, or no more.
    fn test_by(
        &self,
        limits: &PatchTestLimits,
        test: &Judgement,
        made_on: Date,
        language: Language,
    ) -> String {
        let words = self.sentences();
        let (due, better) = (words.day(language, test.by), words.day(language, test.better_by));
        let hours = limits.at_least_h.to_string();
        let (key, values): (&str, Vec<(&str, &str)>) = if made_on <= test.better_by {
            ("todo.skin_test", vec![("due", due.as_str()), ("better", better.as_str())])
        } else if made_on <= test.by {
            ("todo.skin_test_soon", vec![("due", due.as_str())])
        } else {
            ("todo.skin_test_missed", vec![("hours", hours.as_str())])
        };
        words.fill(language, key, &values)
    }

    fn bottle_todo(
        &self,
        at: usize,
        bottle: &Bottle,
        on: Date,
        language: Language,
    ) -> Option<Todo> {
        let why = bottle.remarks.iter().map(|remark| self.pigment_words(*remark, language));
        let why = why.collect::<Vec<_>>().join(" ");
        let (kind, text) = match bottle.fitness {
            Fitness::Usable => return None,
            Fitness::Look => (Kind::PigmentLabel, why),
            Fitness::NotForThisClient | Fitness::NotUsable => {
                let values = [("why", why.as_str())];
                let text = self.sentences().fill(language, "todo.other_pigment", &values);
                (Kind::OtherPigment, text)
            }
        };
        let from = format!("pigment_{}", at + 1).into();
        Some(Todo { kind, from, text, due: Some(on), is_late: false, who: Who::Studio })
    }
}
