//! What a skin test and the bottles come to for an appointment.
//!
//! Neither softens anything: a verdict gets harder by them or stays. A skin
//! that reacted is a matter for a doctor. No test is never better than a bad
//! one: a test that is missing, does not count or was not read is a condition
//! while one can still be made or read, and a hold once the last day for one is
//! past. A bottle that may not be used as it is, is a condition; so is one that nobody named, and a
//! batch that is not known to be the tested one.

use etui_schema::vocabulary::{Language, Verdict};
use jiff::civil::Date;

use super::gate::severity;
use super::patch_test::{Judgement, Standing};
use super::pigment::{Fitness, Remark};
use super::question::Who;
use super::rulebook::Rulebook;
use super::todo::{Kind, Todo};
use super::typing::PatchTestLimits;
use crate::text;

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
    /// The bottles, in the order of the request.
    pub bottles: &'a [Bottle],
}

impl Materials<'_> {
    /// The verdict with test and bottles, seen from `today`: as it was, or
    /// harder.
    #[must_use]
    pub fn verdict(&self, screened: Verdict, today: Date) -> Verdict {
        let test = match self.test.standing {
            Standing::Reacted => Verdict::Refer,
            Standing::Met => Verdict::Proceed,
            Standing::Unread | Standing::ToCompare => Verdict::ProceedWithConditions,
            Standing::Missing | Standing::TooLate | Standing::Expired | Standing::OtherBatch => {
                if self.test.by < today {
                    Verdict::Hold
                } else {
                    Verdict::ProceedWithConditions
                }
            }
        };
        let fit = self.bottles.iter().all(|bottle| bottle.fitness == Fitness::Usable);
        let bottles = if fit && self.untold().is_none() {
            Verdict::Proceed
        } else {
            Verdict::ProceedWithConditions
        };
        let harder = |a, b| if severity(a) < severity(b) { b } else { a };
        harder(screened, harder(test, bottles))
    }

    /// The sentence on a bottle that nobody named, or whose batch is not known to be the tested one.
    fn untold(&self) -> Option<&'static str> {
        match (self.bottles, self.test.standing) {
            ([], _) => Some("todo.pigment_untold"),
            (_, Standing::ToCompare) => Some("todo.batch_untold"),
            _ => None,
        }
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
        let untold = materials.untold().map(|key| Todo {
            kind: Kind::PigmentLabel,
            from: "pigments".into(),
            text: self.sentences().get(language, key).to_owned(),
            due: Some(on),
            is_late: false,
            who: Who::Studio,
            stays: false,
        });
        let mut list: Vec<Todo> = test.into_iter().chain(bottles).chain(untold).collect();
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
    ) -> Vec<Todo> {
        let words = self.sentences();
        let todo = |kind, due, who, text| Todo {
            kind,
            from: "patch_test".into(),
            text,
            due: Some(due),
            is_late: false,
            who,
            stays: false,
        };
        match test.standing {
            Standing::Met => Vec::new(),
            // What another batch would ask for has its last day whether or not anybody has compared.
            Standing::ToCompare => {
                let is_late = test.by < made_on;
                let due = if made_on <= test.better_by { test.better_by } else { test.by };
                let said = text::day(language, due);
                let key = if is_late { "todo.compare_batch_late" } else { "todo.compare_batch" };
                let text = words.fill(language, key, &[("due", &said)]);
                vec![todo(Kind::SkinTest, if is_late { on } else { due }, Who::Studio, text)]
            }
            Standing::Unread => {
                let look = text::day(language, test.look_by);
                let from = test.look_from.unwrap_or(test.look_by);
                if test.look_by < from {
                    let text =
                        words.fill(language, "todo.read_skin_test_early", &[("look", &look)]);
                    return vec![todo(Kind::ReadSkinTest, test.look_by, Who::Studio, text)];
                }
                let first = from.max(made_on);
                let from = text::day(language, first);
                let days = [("from", &*from), ("look", &*look)];
                let hers = match first < test.look_by {
                    true => "todo.read_skin_test_client",
                    false => "todo.read_skin_test_client_one_day",
                };
                // Without her there is nothing to look at.
                [(Who::Studio, "todo.read_skin_test"), (Who::Client, hers)]
                    .map(|(who, key)| {
                        let text = words.fill(language, key, &days);
                        todo(Kind::ReadSkinTest, test.look_by, who, text)
                    })
                    .into()
            }
            Standing::Reacted => {
                let text = words.get(language, "patch_test.reacted").to_owned();
                vec![todo(Kind::WrittenView, self.refer_lead.before(on), Who::Client, text)]
            }
            Standing::Missing | Standing::TooLate | Standing::Expired | Standing::OtherBatch => {
                let line = |who| (who, self.test_by(limits, test, (who, made_on), language));
                // The day that the sentence says.
                let due = if made_on <= test.better_by { test.better_by } else { test.by };
                [Who::Studio, Who::Client]
                    .into_iter()
                    .map(line)
                    .filter_map(|(who, text)| Some(todo(Kind::SkinTest, due, who, text?)))
                    .collect()
            }
        }
    }

    /// When a test can still be made and looked at: in good time, only just, or
    /// no more. The client hears when to come.
    fn test_by(
        &self,
        limits: &PatchTestLimits,
        test: &Judgement,
        (who, made_on): (Who, Date),
        language: Language,
    ) -> Option<String> {
        let words = self.sentences();
        let from = text::day(language, test.not_before.max(made_on));
        let due = text::day(language, test.by);
        let better = text::day(language, test.better_by);
        let look = text::day(language, test.look_by);
        let hours = limits.at_least_h.to_string();
        let values = [
            ("from", &from),
            ("due", &due),
            ("better", &better),
            ("look", &look),
            ("hours", &hours),
        ];
        let values = values.map(|(place, value)| (place, value.as_str()));
        let is_one_day = test.not_before.max(made_on) >= test.better_by;
        let key = match (made_on <= test.better_by, made_on <= test.by, who) {
            (true, _, Who::Studio) if is_one_day => "todo.skin_test_one_day",
            (true, _, Who::Client) if is_one_day => "todo.skin_test_client_one_day",
            (true, _, Who::Studio) => "todo.skin_test",
            (true, _, Who::Client) => "todo.skin_test_client",
            (false, true, Who::Studio) => "todo.skin_test_soon",
            (false, true, Who::Client) => "todo.skin_test_client_soon",
            (false, false, Who::Studio) => "todo.skin_test_missed",
            (false, false, Who::Client) => return None,
        };
        Some(words.fill(language, key, &values))
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
        let (due, who) = (Some(on), Who::Studio);
        Some(Todo { kind, from, text, due, is_late: false, who, stays: false })
    }
}
