//! What differs between two answers to the same booking, and why in words.
//!
//! Two checks are the same if nobody would call them different: the verdict, its
//! days, what spoke, what is to be done and by when, the needles that are offered
//! with their lots, the rules to the letter. `before` and `now` hold keys, for
//! programs; `because` is for people: which answer changed, which lot was called
//! back, which day it is.

use etui_craft::screening::question::Question;
use etui_craft::screening::rulebook::Rulebook;
use etui_schema::appointment_checks::{AnswerState, AppointmentCheck, Difference, OfferedNeedle};
use etui_schema::skin_assessments::Finding;
use etui_schema::vocabulary::CivilDate;

use super::readiness::Words;

/// What the words of a comparison are made with.
#[derive(Clone, Copy)]
pub(super) struct Told<'a> {
    pub book: &'a Rulebook,
    pub words: Words<'a>,
    /// Codes of lots that the earlier check offered and that were called back.
    pub recalled: &'a [String],
    /// The studio's day on which the earlier check was made.
    pub since: jiff::civil::Date,
}

/// What differs, part by part, and why as far as it can be told.
#[must_use]
pub(super) fn differences(
    before: &AppointmentCheck,
    now: &AppointmentCheck,
    told: Told<'_>,
) -> Vec<Difference> {
    let pair = |of: fn(&AppointmentCheck) -> String| (of(before), of(now));
    let parts = [
        ("verdict", pair(|check| check.verdict.to_string())),
        ("hold_until", pair(days)),
        ("findings", pair(findings)),
        ("answers", pair(answers)),
        ("unanswered", pair(|check| check.unanswered.join(", "))),
        ("score", pair(score)),
        ("first_needle", pair(|check| needles(check).next().unwrap_or_default())),
        ("needles", pair(|check| listed(needles(check)))),
        ("lots", pair(lots)),
        ("patch_test", pair(patch_test)),
        ("pigments", pair(pigments)),
        ("readiness", pair(readiness)),
        ("todo", pair(todo)),
        ("rulebook", pair(rulebook)),
    ];
    let differs = |(part, (before, now)): &(&str, (String, String))| {
        // Checks of before did not tell which answers they used.
        before != now && (*part != "answers" || !before.is_empty())
    };
    parts
        .into_iter()
        .filter(differs)
        .map(|(part, (was, is))| Difference {
            part: part.to_owned(),
            because: told.why(part, before, now),
            before: was,
            now: is,
        })
        .collect()
}

impl Told<'_> {
    pub(super) fn say(&self, key: &str, values: &[(&str, &str)]) -> String {
        self.words.fill(&format!("changed.{key}"), values)
    }

    fn why(&self, part: &str, before: &AppointmentCheck, now: &AppointmentCheck) -> String {
        let moved = before.on != now.on || before.starts_at != now.starts_at;
        match part {
            "first_needle" | "needles" | "lots" => self.stock(),
            "readiness" => self.say("readiness", &[]),
            "rulebook" => self.rules(before, now),
            "patch_test" | "pigments" if moved => self.say("moved", &[]),
            "patch_test" | "pigments" => self.say("materials", &[]),
            _ => self.reasons(part, moved, before, now),
        }
    }

    fn stock(&self) -> String {
        if self.recalled.is_empty() {
            return self.say("stock", &[]);
        }
        self.say("recalled", &[("lots", &self.recalled.join(", "))])
    }

    /// The reasons that can be told, most telling first.
    fn reasons(
        &self,
        part: &str,
        moved: bool,
        before: &AppointmentCheck,
        now: &AppointmentCheck,
    ) -> String {
        if before.treatment != now.treatment {
            return self.say("treatment", &[]);
        }
        let mut reasons = self.changed_answers(before, now);
        if before.rulebook != now.rulebook {
            reasons.push(self.rules(before, now));
        }
        if moved {
            reasons.push(self.say("moved", &[]));
        }
        if part == "findings" || part == "verdict" {
            reasons.extend(self.new_findings(before, now));
        }
        if reasons.is_empty() {
            let since = self.words.day(self.since);
            reasons.push(self.say("time", &[("date", &since)]));
        }
        reasons.join(" ")
    }

    /// What each new finding is about, once; one without a topic in its own words.
    fn new_findings(&self, before: &AppointmentCheck, now: &AppointmentCheck) -> Vec<String> {
        let is_new = |finding: &&Finding| before.findings.iter().all(|b| b.rule != finding.rule);
        let (mut topics, mut said) = (Vec::new(), Vec::new());
        for finding in now.findings.iter().filter(is_new) {
            match self.find(&format!("rule.{}.topic", finding.rule)) {
                Some(topic) => topics.push(topic.to_owned()),
                None => said.push(finding.because.clone()),
            }
        }
        self.listed("finding", topics).into_iter().chain(once(said)).collect()
    }

    /// A sentence with a list of things, each once; none for none.
    pub(super) fn listed(&self, key: &str, all: Vec<String>) -> Option<String> {
        let all = once(all);
        (!all.is_empty()).then(|| self.say(key, &[("list", &all.join("; "))]))
    }

    fn find(&self, key: &str) -> Option<&str> {
        self.words.sentences.find(self.words.language, key)
    }

    /// What a question is about.
    pub(super) fn about<'q>(&'q self, question: &'q Question) -> &'q str {
        question.about(self.words.sentences, self.words.language)
    }

    /// A question of the book; none for one that is no more.
    pub(super) fn question(&self, id: &str) -> Option<&Question> {
        self.book.question(id).and_then(|at| self.book.all_questions().get(at))
    }

    /// What changed in the rules: a revision of what is built in, or packs.
    fn rules(&self, before: &AppointmentCheck, now: &AppointmentCheck) -> String {
        let (was, is) = (&before.rulebook, &now.rulebook);
        if was.revision != is.revision {
            let numbers = [("from", was.revision.to_string()), ("to", is.revision.to_string())];
            let numbers = numbers.each_ref().map(|(place, number)| (*place, number.as_str()));
            return self.say("revised", &numbers);
        }
        let added = is.packs.iter().filter(|pack| !was.packs.contains(pack));
        let gone = was.packs.iter().filter(|pack| !is.packs.contains(pack));
        let told: Vec<String> = added
            .map(|pack| self.say("pack_added", &[("pack", pack)]))
            .chain(gone.map(|pack| self.say("pack_gone", &[("pack", pack)])))
            .collect();
        if told.is_empty() { self.say("pack_changed", &[]) } else { told.join(" ") }
    }
}

/// Each of them once, in their order.
fn once(all: Vec<String>) -> Vec<String> {
    let mut kept: Vec<String> = Vec::with_capacity(all.len());
    for one in all {
        if !kept.contains(&one) {
            kept.push(one);
        }
    }
    kept
}

fn listed(parts: impl Iterator<Item = String>) -> String {
    parts.collect::<Vec<_>>().join(", ")
}

fn dated(day: Option<CivilDate>) -> String {
    day.map_or_else(String::new, |day| format!(" {day}"))
}

fn days(check: &AppointmentCheck) -> String {
    check.hold_until.or(check.not_before).map_or_else(String::new, |day| day.to_string())
}

fn findings(check: &AppointmentCheck) -> String {
    let named = check.findings.iter().map(|finding| {
        let Finding { rule, verdict, hold_until, not_before, due, .. } = finding;
        format!("{rule}: {verdict}{}{}", dated(hold_until.or(*not_before)), dated(*due))
    });
    listed(named)
}

/// The answers that count or should.
fn answers(check: &AppointmentCheck) -> String {
    let counts = check.answers_used.iter().filter(|one| {
        one.state.known().is_none_or(|state| match state {
            AnswerState::Used | AnswerState::Stale | AnswerState::Contradicts => true,
            AnswerState::NotAsked | AnswerState::NotUsed => false,
        })
    });
    listed(counts.map(|one| {
        let said = serde_json::to_string(&one.answer).unwrap_or_default();
        format!("{}: {said} ({})", one.question, one.state)
    }))
}

fn score(check: &AppointmentCheck) -> String {
    format!("{} to {}", check.score.range.min, check.score.range.max)
}

fn offered(check: &AppointmentCheck) -> impl Iterator<Item = &OfferedNeedle> {
    check.needles.iter().flat_map(|needles| &needles.ranked)
}

fn needles(check: &AppointmentCheck) -> impl Iterator<Item = String> {
    offered(check).map(|needle| needle.canonical.clone())
}

fn lots(check: &AppointmentCheck) -> String {
    let all = offered(check).flat_map(|needle| &needle.lots);
    listed(all.map(|lot| lot.lot_id.to_string()))
}

fn patch_test(check: &AppointmentCheck) -> String {
    check.patch_test.as_ref().map_or_else(String::new, |test| test.standing.to_string())
}

fn pigments(check: &AppointmentCheck) -> String {
    listed(check.pigments.iter().map(|pigment| pigment.fitness.as_str().to_owned()))
}

fn readiness(check: &AppointmentCheck) -> String {
    let lacking = check.readiness.iter().filter(|ready| !ready.ready);
    listed(lacking.map(|ready| ready.about.clone()))
}

/// Keys of the list, with what has become late and the latest days.
fn todo(check: &AppointmentCheck) -> String {
    let late = |late: bool| if late { " (late)" } else { "" };
    let named = check.todo.iter();
    listed(named.map(|item| format!("{}{}{}", item.key, late(item.late), dated(item.due))))
}

fn rulebook(check: &AppointmentCheck) -> String {
    let used = &check.rulebook;
    let packs = used.packs.join("+");
    format!("{} {} {packs} {}", used.name, used.revision, used.digest)
}
