//! Loading of the sentences of a rule: which it must have, which it may have,
//! and that every place in them can be filled.

use std::sync::Arc;

use etui_schema::vocabulary::{Language, Verdict};

use super::data::{RawMode, RawRule};
use super::faults::BookProblem;
use super::load::Loader;
use super::rule::Keys;
use crate::text::places;

impl Loader<'_> {
    /// The keys of a rule's sentences.
    pub(super) fn keys(&mut self, at: &str, raw: &RawRule) -> Keys {
        let id = &raw.id;
        let because = self.sentence(at, format!("rule.{id}.because"));
        let say_key = format!("rule.{id}.say");
        let must_say = matches!(raw.verdict, Verdict::Proceed | Verdict::ProceedWithConditions);
        let say = (must_say || self.sentences.has(&say_key)).then(|| self.sentence(at, say_key));
        let avoidable = raw.time.as_ref().is_some_and(|time| time.avoidable);
        let by = avoidable.then(|| self.sentence(at, format!("rule.{id}.by")));
        if let Some(key) = &say {
            self.say_is_whole(at, key, raw);
        }
        if let Some(key) = &by {
            self.has_places(at, key, &["due"]);
        }
        let until = raw.until.as_ref().map(|until| self.sentence(at, format!("until.{until}")));
        let until_dated = raw.until.as_ref().and_then(|id| self.known(format!("until.{id}.dated")));
        for (key, dated) in [(&until, false), (&until_dated, true)] {
            if let Some(key) = key {
                self.until_is_filled(at, key, raw, dated);
            }
        }
        let whom = raw.refer_to.as_ref().map(|whom| self.sentence(at, format!("whom.{whom}")));
        if let Some(whom) = &raw.refer_to {
            self.known(format!("whom.{whom}.accusative"));
        }
        let own = raw.refer_to.as_ref().and_then(|whom| self.known(format!("refer.{whom}")));
        let mut variant = |name: &str| self.known(format!("rule.{id}.{name}"));
        Keys {
            because,
            say,
            by,
            until,
            whom,
            refer: own.unwrap_or_else(|| "refer.sentence".into()),
            topic: variant("topic"),
            law: variant("law"),
            beside: variant("beside"),
            dated: variant("dated"),
            late: variant("late"),
            stays: variant("stays"),
            until_dated,
            client: variant("client"),
            studio: variant("studio"),
        }
    }

    /// The key of a sentence that need not be there.
    fn known(&mut self, key: String) -> Option<Arc<str>> {
        if self.sentences.has(&key) { Some(self.sentence("", key)) } else { None }
    }

    /// An event may name the rule's period and whom to ask, if it has them.
    fn until_is_filled(&mut self, at: &str, key: &Arc<str>, raw: &RawRule, dated: bool) {
        let sentence = self.sentences.get(Language::En, key);
        let filled = places(sentence).into_iter().all(|place| match place {
            "period" | "period_dative" => raw.time.is_some(),
            "date" | "from" => dated,
            "whom" | "whom_accusative" => raw.refer_to.is_some(),
            _ => false,
        });
        if !filled {
            let why = "an event may only name the rule's period and whom to ask";
            self.fault(at, BookProblem::Text { key: key.to_string(), why });
        }
    }

    /// Every number of the rule is said, and every place has a number.
    fn say_is_whole(&mut self, at: &str, key: &Arc<str>, raw: &RawRule) {
        let mut wanted: Vec<&str> = raw.values.keys().map(String::as_str).collect();
        let on_age = raw.when.iter().any(|clause| clause.younger_than_years.is_some());
        if on_age || raw.time.as_ref().is_some_and(|time| time.mode == RawMode::Tell) {
            wanted.push("date");
        }
        if raw.todo.as_ref().is_some_and(|todo| todo.lead.is_some()) {
            wanted.push("due");
        }
        self.has_places(at, key, &wanted);
    }

    fn has_places(&mut self, at: &str, key: &Arc<str>, wanted: &[&str]) {
        let sentence = self.sentences.get(Language::En, key).to_owned();
        let found = places(&sentence);
        let same = wanted.iter().all(|place| found.contains(place))
            && found.iter().all(|place| wanted.contains(place));
        if !same {
            let why =
                "its places must be the rule's values, its date and its due day, and all of them";
            self.fault(at, BookProblem::Text { key: key.to_string(), why });
        }
    }
}
