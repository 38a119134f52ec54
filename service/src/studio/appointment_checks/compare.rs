//! What differs between two answers to the same booking, and why in words.
//!
//! Two checks are the same if nobody would call them different: the verdict, its
//! days, what spoke, what is to be done and by when, the needles that are offered
//! with their lots, the rules to the letter. `before` and `now` hold keys, for
//! programs; `because` is for people: which answer changed, which lot was called
//! back, which day it is.

use etui_craft::screening::question::{Kind, Question};
use etui_craft::screening::rulebook::Rulebook;
use etui_craft::text;
use etui_schema::answers::Answer;
use etui_schema::appointment_checks::{
    AnswerState, AnswerUsed, AppointmentCheck, Difference, OfferedNeedle,
};
use etui_schema::skin_assessments::Finding;
use etui_schema::vocabulary::{CivilDate, Treatment};

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

    fn new_findings(&self, before: &AppointmentCheck, now: &AppointmentCheck) -> Vec<String> {
        let is_new = |finding: &&Finding| before.findings.iter().all(|b| b.rule != finding.rule);
        let said = |finding: &Finding| self.say("finding", &[("why", &finding.because)]);
        now.findings.iter().filter(is_new).map(said).collect()
    }

    /// Which answers are new, other, gone, or open again.
    fn changed_answers(&self, before: &AppointmentCheck, now: &AppointmentCheck) -> Vec<String> {
        if before.answers_used.is_empty() {
            return Vec::new();
        }
        let find = |list: &[AnswerUsed], id: &str| {
            list.iter()
                .find(|one| one.question == id && one.state != AnswerState::NotAsked)
                .cloned()
        };
        let mut told = Vec::new();
        for one in &now.answers_used {
            let (was, is) = (find(&before.answers_used, &one.question), one);
            told.extend(self.changed(now.treatment, was.as_ref(), is));
        }
        let gone = before.answers_used.iter().filter(|one| {
            one.state == AnswerState::Used && find(&now.answers_used, &one.question).is_none()
        });
        told.extend(gone.filter_map(|one| {
            let question = self.question(&one.question)?;
            Some(self.say("answer_gone", &[("question", self.ask(question))]))
        }));
        told
    }

    fn changed(
        &self,
        treatment: Treatment,
        was: Option<&AnswerUsed>,
        is: &AnswerUsed,
    ) -> Option<String> {
        let question = self.question(&is.question)?;
        let ask = self.ask(question);
        let now = self.answer(question, &is.answer, treatment);
        let open = is.state == AnswerState::Stale;
        match was {
            Some(was) if was.answer == is.answer && (was.state == is.state || !open) => None,
            Some(was) if was.answer == is.answer => {
                Some(self.say("answer_open", &[("question", ask), ("before", &now)]))
            }
            Some(was) => {
                let before = self.answer(question, &was.answer, treatment);
                let values = [("question", ask), ("before", &*before), ("now", &*now)];
                Some(self.say("answer", &values))
            }
            None if is.state == AnswerState::Used => {
                Some(self.say("answer_new", &[("question", ask), ("now", &now)]))
            }
            None => None,
        }
    }

    /// A question of the book; none for one that is no more.
    pub(super) fn question(&self, id: &str) -> Option<&Question> {
        self.book.question(id).and_then(|at| self.book.all_questions().get(at))
    }

    pub(super) fn ask<'q>(&'q self, question: &'q Question) -> &'q str {
        question.ask(self.words.sentences, self.words.language)
    }

    /// An answer in words.
    fn answer(&self, question: &Question, answer: &Answer, treatment: Treatment) -> String {
        let Words { sentences, language } = self.words;
        let label = |id: &str| {
            let mut offered = question.offered(sentences, language, treatment);
            let found = offered.find(|(option, _)| *option.id == *id);
            found.map_or_else(|| id.to_owned(), |(_, label)| label.to_owned())
        };
        match answer {
            Answer::YesNo(yes) => self.say(if *yes { "yes" } else { "no" }, &[]),
            Answer::Number(number) => text::number(language, &number.to_string()),
            Answer::Text(text) => match (&question.kind, text.parse::<CivilDate>()) {
                (Kind::Date { .. }, Ok(day)) => self.words.day(day.0),
                _ => label(text),
            },
            Answer::Choices(list) if list.is_empty() => label("none_of_these"),
            Answer::Choices(list) => list.iter().map(|id| label(id)).collect::<Vec<_>>().join(", "),
        }
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
    let counts = check.answers_used.iter().filter(|one| match one.state {
        AnswerState::Used | AnswerState::Stale | AnswerState::Contradicts => true,
        AnswerState::NotAsked | AnswerState::NotUsed => false,
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
