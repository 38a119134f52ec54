//! What is gathered for a visit: whose word counts, and how fresh it is.
//!
//! A check before an appointment is made from three voices:
//!
//! 1. what the studio has on **record** ([`record`]: its own sessions in the
//!    area, what was reported on them and how they healed),
//! 2. what was **sent** with the check, which is of that day and that area,
//! 3. what is **kept** of the client, each answer with the day on which it was
//!    given and the treatment it was asked for.
//!
//! The record goes before what was sent, and what was sent before what is kept.
//! What is kept counts as long as it is fresh ([`freshness`]):
//!
//! * a *yes* stays until it is said to have ended, and a told day never ages;
//! * a *no*, a *none of these* and a figure grow old and are then asked again;
//! * an answer on the area holds for that area only, and for none if nobody
//!   said which was meant;
//! * an option that was not offered was not answered;
//! * a follow-up belongs to the answer it followed: with a new answer it is
//!   asked anew.
//!
//! What has grown old goes on speaking where it is a risk, and no longer
//! reassures ([`Reopened`]). That gives the law of this room: remove a kept
//! answer, let it age, move it to another area, tell it twice, and no question
//! that was open is closed by it.
//!
//! What a client told once and what does not go by itself (a keloid, an allergy)
//! is not un-said by what is sent without it, nor is what was done to her lately
//! (`remains`): it counts, and is named. What may have ended since is taken back, and named.
//!
//! What was sent and remains goes into what is kept ([`noted`]).
//!
//! What is kept is never the fault of a request. An answer to a question that
//! is no more, or that no longer fits what was sent, is left out and named.

pub mod freshness;
mod judge;
mod noted;
pub mod record;
mod remains;
mod skin;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;
use std::sync::Arc;

pub use etui_schema::appointment_checks::AnswerState as State;
use etui_schema::vocabulary::Treatment;
use jiff::civil::Date;

use self::freshness::Freshness;
use self::judge::Judged;
pub use self::noted::{follows, goes_on, implied, is_day, is_led_to, noted};
use self::record::Record;
pub use self::remains::Withdrawn;
use self::remains::{Graver, Weighed};
pub use self::skin::{joined_skin, kept_skin};
use crate::screening::answers::{Answers, Given, Reopened};
use crate::screening::faults::{Fault, Problem, step};
use crate::screening::gate::Visit;
use crate::screening::question::Question;
use crate::screening::rulebook::Rulebook;

/// The questions for earlier work in the area, and for its day.
const EARLIER_WORK: (&str, &str) = ("previous_pmu_in_area", "previous_pmu_on");

/// An answer that is kept of a client.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kept<'a> {
    /// The question's id.
    pub question: &'a str,
    /// What was answered.
    pub answer: Given<'a>,
    /// The day on which it was given; `None` if that is not known, which is as
    /// good as very long ago.
    pub on: Option<Date>,
    /// The treatment it was asked for, if anybody said.
    pub treatment: Option<Treatment>,
}

/// The voices that are heard.
#[derive(Debug, Clone, Copy, Default)]
pub struct Voices<'a> {
    /// What was sent, for this visit.
    pub sent: &'a [(&'a str, Given<'a>)],
    /// Whether what was sent is long past the sender: in a replay a question
    /// that is no more is left out like one of a kept answer, and no fault.
    pub sent_long_ago: bool,
    /// What is kept of the client.
    pub kept: &'a [Kept<'a>],
    /// What the studio has on record of the area.
    pub record: Record<'a>,
}

/// An answer that was heard, and what became of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heard {
    /// The question's id.
    pub question: Arc<str>,
    /// The day on which it was given; the day of the check for what was sent.
    pub on: Option<Date>,
    /// The treatment it was asked for.
    pub treatment: Option<Treatment>,
    /// Whether it is kept of the client and was not sent.
    pub is_kept: bool,
    /// What became of it.
    pub state: State,
    /// Options of which it no longer says, or never said, that they are not so.
    pub open: Vec<Arc<str>>,
    /// The last day on which it still reassures; `None` if it does not age, or
    /// if it does not count.
    pub good_until: Option<Date>,
}

/// What was gathered.
#[derive(Debug, Clone, PartialEq)]
pub struct Gathered {
    /// The answers, read for the visit.
    pub answers: Answers,
    /// Every answer that was heard, in the order of the questions.
    pub heard: Vec<Heard>,
    /// Whether the studio's record stands where somebody told otherwise, or
    /// where nobody told anything.
    pub record_counted: bool,
    /// What of the kept answers asked for more than what was sent, which counts: what may
    /// have ended since.
    pub withdrawn: Vec<Withdrawn>,
}

/// Gathers the answers for a visit.
///
/// # Errors
/// Every [`Fault`] of what was sent, its pointer beginning with `/answers`.
/// What is kept is never a fault.
pub fn gather(
    book: &Rulebook,
    freshness: &Freshness,
    visit: &Visit,
    voices: &Voices<'_>,
) -> Result<Gathered, Vec<Fault>> {
    let mut heard = Hearing::new(book, freshness, visit, voices);
    heard.settle()?;
    let record_counted = heard.record(&voices.record);
    let answers = heard.read()?;
    let withdrawn = heard.weighed.withdrawn.clone();
    Ok(Gathered { answers, heard: heard.told(), record_counted, withdrawn })
}

/// What is heard, while it is put together.
struct Hearing<'a> {
    book: &'a Rulebook,
    freshness: &'a Freshness,
    visit: &'a Visit,
    sent_long_ago: bool,
    sent: BTreeMap<&'a str, Given<'a>>,
    kept: Vec<(Kept<'a>, Judged)>,
    /// Sent answers that were left out in a replay.
    left_out: Vec<&'a str>,
    /// How long what was sent will be good.
    sent_until: BTreeMap<&'a str, Date>,
    /// What is kept, held against what was sent.
    weighed: Weighed<'a>,
    /// What the record answers, by question.
    record: Vec<(&'static str, Said)>,
    /// The question for the day of the last work, where somebody may have worked there since the
    /// session on record.
    work_since: Option<Reopened>,
}

/// An answer that nobody sent.
enum Said {
    Yes,
    Text(String),
    Choices(Vec<String>),
}

impl Said {
    fn given(&self) -> Given<'_> {
        match self {
            Self::Yes => Given::YesNo(true),
            Self::Text(text) => Given::Text(text),
            Self::Choices(all) => Given::Choices(all),
        }
    }
}

impl<'a> Hearing<'a> {
    fn new(
        book: &'a Rulebook,
        freshness: &'a Freshness,
        visit: &'a Visit,
        voices: &Voices<'a>,
    ) -> Self {
        let sent: BTreeMap<&str, Given<'_>> = voices.sent.iter().copied().collect();
        let weighed = remains::weigh(book, freshness, visit, &sent, voices.kept);
        let kept = judge::all((book, freshness), visit, (&sent, &weighed), voices.kept);
        let until = |id: &'a str, given: Given<'_>| {
            let question = find(book, id)?;
            let until = judge::lasts(book, freshness, visit, question, (given, visit.as_of));
            until.map(|day| (id, day))
        };
        let sent_until = sent.iter().filter_map(|(id, given)| until(id, *given)).collect();
        Self {
            book,
            visit,
            sent_long_ago: voices.sent_long_ago,
            sent,
            kept,
            left_out: Vec::new(),
            sent_until,
            weighed,
            record: Vec::new(),
            freshness,
            work_since: None,
        }
    }

    /// Leaves out what stands in the way and was not sent now, until the rest
    /// can be read.
    fn settle(&mut self) -> Result<(), Vec<Fault>> {
        loop {
            let Err(faults) = self.read() else { return Ok(()) };
            let before = self.weight();
            for fault in &faults {
                self.leave_out(fault);
            }
            if self.weight() == before {
                return Err(faults);
            }
        }
    }

    /// How much is still heard; falls with everything that is left out.
    fn weight(&self) -> usize {
        self.sent.len() + self.kept.iter().filter(|(_, judged)| judged.counts).count()
    }

    /// Leaves out the kept answer that a fault speaks of: the one at its place,
    /// or the one that what was sent contradicts.
    fn leave_out(&mut self, fault: &Fault) {
        let place = |id: &str| format!("/answers/{}", step(id));
        let at = |id: &str| place(id) == fault.pointer;
        let other = |id: &str| matches!(&fault.problem, Problem::Contradiction { other, .. } if *other == place(id));
        let kept = |wanted: &dyn Fn(&str) -> bool, kept: &[(Kept<'a>, Judged)]| {
            kept.iter().position(|(kept, judged)| judged.counts && wanted(kept.question))
        };
        let found = kept(&at, &self.kept).or_else(|| kept(&other, &self.kept));
        if let Some((_, judged)) = found.and_then(|found| self.kept.get_mut(found)) {
            *judged = Judged::not_used();
        } else if self.sent_long_ago {
            let gone: Vec<&str> = self.sent.keys().copied().filter(|id| at(id)).collect();
            for id in gone {
                self.sent.remove(id);
                self.left_out.push(id);
            }
        }
    }

    /// Lets the record stand where nobody knows of a session, or only of an
    /// earlier one; whether it does. What is on record of reports, reviews and skin
    /// tests always stands.
    fn record(&mut self, record: &Record<'_>) -> bool {
        if record.is_unsettled {
            self.record.push((record::UNSETTLED, Said::Yes));
        }
        if let Some(result) = record.result {
            self.record.push((record::RESULT, Said::Text(result.to_owned())));
        }
        if record.has_scarred {
            self.record.push((record::SCARRED, Said::Yes));
        }
        if record.has_reacted {
            self.record.push((record::SKIN_TEST, Said::Yes));
        }
        let Some(last) = record.last_session else { return false };
        let told = |id: &str| {
            let kept =
                || self.kept.iter().find(|(kept, judged)| judged.counts && kept.question == id);
            let sent = || self.sent.get(id).copied();
            self.weighed.graver(id).or_else(sent).or_else(|| kept().map(|(kept, _)| kept.answer))
        };
        let day = match told(EARLIER_WORK.1) {
            Some(Given::Text(day)) => day.parse::<Date>().ok(),
            _ => None,
        };
        let yes = told(EARLIER_WORK.0) == Some(Given::YesNo(true));
        if yes && day.is_some_and(|day| last <= day) {
            return false;
        }
        self.work_since = self.work_since(last);
        self.record.push((EARLIER_WORK.0, Said::Yes));
        self.record.push((EARLIER_WORK.1, Said::Text(last.to_string())));
        true
    }

    /// Asks for the day of the last work if nobody has told lately of work beside the session on
    /// record, and it is long enough ago for some to have been done elsewhere.
    fn work_since(&self, last: Date) -> Option<Reopened> {
        let question = self.book.question(EARLIER_WORK.1)?;
        let asked = self.book.all_questions().get(question)?;
        let lately = self.freshness.of(self.book, asked, None).until(last);
        let is_fresh = |(kept, judged): &&(Kept<'_>, Judged)| {
            judged.counts && judged.state == State::Used && kept.question != EARLIER_WORK.0
                || judged.counts && kept.answer == Given::YesNo(false)
        };
        let about = |id: &str| [EARLIER_WORK.0, EARLIER_WORK.1].contains(&id);
        let is_kept =
            self.kept.iter().filter(|one| about(one.0.question)).any(|one| is_fresh(&one));
        let is_sent = self.sent.contains_key(EARLIER_WORK.1)
            || self.sent.get(EARLIER_WORK.0) == Some(&Given::YesNo(false));
        let asks = lately < self.visit.on && !is_sent && !is_kept;
        asks.then_some(Reopened { question, bits: u32::MAX })
    }

    fn read(&self) -> Result<Answers, Vec<Fault>> {
        let by_record = |id: &str| self.record.iter().any(|(question, _)| *question == id);
        let kept =
            self.kept.iter().filter(|(kept, judged)| judged.counts && !by_record(kept.question));
        let sent = self.sent.iter().filter(|(id, _)| !by_record(id));
        let mut given: Vec<(&str, Given<'_>)> =
            sent.map(|(id, given)| (*id, self.weighed.graver(id).unwrap_or(*given))).collect();
        let mut reopened: Vec<Reopened> = Vec::new();
        for (kept, judged) in kept {
            given.push((kept.question, judged.answer(kept.answer)));
            reopened.extend(judged.reopened);
            reopened.extend(judged.reopens);
        }
        reopened.extend(self.work_since);
        let known = self.record.iter().filter(|(id, _)| find(self.book, id).is_some());
        given.extend(known.map(|(id, said)| (*id, said.given())));
        Answers::read_reopened(self.book, self.visit, given, &reopened)
    }

    fn told(&self) -> Vec<Heard> {
        let visit = self.visit;
        let sent = self.sent.keys().map(|id| Heard {
            question: Arc::from(*id),
            on: Some(visit.as_of),
            treatment: Some(visit.treatment),
            is_kept: false,
            state: if self.weighed.graver(id).is_some() { State::NotUsed } else { State::Used },
            open: Vec::new(),
            good_until: self.sent_until.get(id).copied(),
        });
        let graver = self.weighed.graver.iter().filter(|one| self.sent.contains_key(one.place));
        let graver = graver.map(|Graver { kept, .. }| Heard {
            question: Arc::from(kept.question),
            on: kept.on,
            treatment: kept.treatment,
            is_kept: true,
            state: State::Contradicts,
            open: Vec::new(),
            good_until: None,
        });
        let gone = self.left_out.iter().map(|id| Heard {
            question: Arc::from(*id),
            on: Some(visit.as_of),
            treatment: Some(visit.treatment),
            is_kept: false,
            state: State::NotUsed,
            open: Vec::new(),
            good_until: None,
        });
        let kept = self.kept.iter().map(|(kept, judged)| Heard {
            question: Arc::from(kept.question),
            on: kept.on,
            treatment: kept.treatment,
            is_kept: true,
            state: judged.state,
            open: judged.open.clone(),
            good_until: judged.good_until,
        });
        let mut heard: Vec<Heard> = sent.chain(gone).chain(graver).chain(kept).collect();
        let place =
            |id: &str| self.book.all_questions().iter().position(|question| *question.id == *id);
        heard.sort_by_cached_key(|one| {
            let place = place(&one.question);
            (place.is_none(), place, one.question.clone(), one.on)
        });
        // What counts in place of another answer may be heard for itself too.
        heard.dedup_by(|next, one| {
            next.is_kept && one.is_kept && next.question == one.question && next.on == one.on
        });
        heard
    }
}

/// The question of an id.
fn find<'b>(book: &'b Rulebook, id: &str) -> Option<&'b Question> {
    book.question(id).and_then(|index| book.all_questions().get(index))
}
