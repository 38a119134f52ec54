//! Answers to one question for several treatments.
//!
//! What was answered on the area for the lips says nothing of the brows. An answer takes the place
//! of the one that was given for the same treatment; one for another treatment stays beside it, so
//! that a spot that changes at the lips is not forgotten over a form for the brows. The answer that
//! was told last stands among `answers`, the rest among `other_answers`. What is of the person
//! whatever the treatment, such as an allergy, has one answer
//! ([`Freshness::is_one_place`](etui_craft::visit::freshness::Freshness::is_one_place)).
//!
//! An answer for which nobody named a treatment may be of any. It too goes by another that is told
//! for none.

use etui_craft::screening::answers::Given;
use etui_craft::visit::{self, Kept};
use etui_schema::answers::Answer;
use etui_schema::clients::{AnswerGiven, ClientRecord, OtherAnswer};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::Treatment;

use super::SealedClient;
use crate::studio::Studio;
use crate::studio::documents::Sent;

fn other(question: &str, answer: Answer, given: AnswerGiven) -> OtherAnswer {
    let AnswerGiven { on, treatment, asked_by } = given;
    OtherAnswer { question: question.to_owned(), answer, on, treatment, asked_by }
}

fn is_one_place(studio: &Studio, id: &str, one: Option<Treatment>, two: Option<Treatment>) -> bool {
    studio.craft.freshness.is_one_place(&studio.craft.rulebook, id, (one, two))
}

impl SealedClient {
    fn treatment_of(&self, id: &str) -> Option<Treatment> {
        self.answered.get(id).and_then(|given| given.treatment)
    }

    /// The answer that one for a treatment would take the place of, with where it comes from.
    pub(super) fn of_place(
        &self,
        studio: &Studio,
        id: &str,
        treatment: Option<Treatment>,
    ) -> Option<(&Answer, AnswerGiven)> {
        let is_here = |asked: Option<Treatment>| is_one_place(studio, id, asked, treatment);
        if let Some(answer) = self.answers.get(id).filter(|_| is_here(self.treatment_of(id))) {
            return Some((answer, self.answered.get(id).cloned().unwrap_or_default()));
        }
        let mut others = self.others.iter().filter(|one| one.question == id);
        let OtherAnswer { answer, on, treatment, asked_by, .. } =
            others.find(|one| is_here(one.treatment))?;
        let (on, treatment, asked_by) = (*on, *treatment, asked_by.clone());
        Some((answer, AnswerGiven { on, treatment, asked_by }))
    }

    /// Puts what was answered first beside what is answered next, with what followed it.
    fn displace(&mut self, studio: &Studio, id: &str) {
        let book = &studio.craft.rulebook;
        let Some(answer) = self.answers.remove(id) else { return };
        let given = self.answered.remove(id).unwrap_or_default();
        self.others.push(other(id, answer, given));
        let follows = |child: &&String| visit::follows(book, child) == Some(id);
        let children: Vec<String> = self.answers.keys().filter(follows).cloned().collect();
        children.iter().for_each(|child| self.displace(studio, child));
    }

    /// Keeps an answer in the place of the one of its treatment.
    pub(super) fn tell(&mut self, studio: &Studio, id: &str, answer: Answer, given: AnswerGiven) {
        let asked = given.treatment;
        if !is_one_place(studio, id, self.treatment_of(id), asked) {
            self.displace(studio, id);
        }
        self.answered.insert(id.to_owned(), given);
        self.answers.insert(id.to_owned(), answer);
        self.others
            .retain(|one| one.question != id || !is_one_place(studio, id, one.treatment, asked));
        self.sort_others();
    }

    /// Lets a day go that was kept for a treatment.
    pub(super) fn untell(&mut self, studio: &Studio, id: &str, asked: Option<Treatment>) {
        if is_one_place(studio, id, self.treatment_of(id), asked) {
            self.answers.remove(id);
            self.answered.remove(id);
        }
        self.others
            .retain(|one| one.question != id || !is_one_place(studio, id, one.treatment, asked));
    }

    /// Lets what was kept before for other treatments stay beside what is told now; where that is
    /// told anew, it speaks for every treatment of what is not of one.
    pub(super) fn set_apart(&mut self, before: &Self, record: &ClientRecord, studio: &Studio) {
        let is_taken_away = |one: &OtherAnswer| {
            record.other_answers.as_ref().is_some_and(|told| !told.contains(one))
        };
        let kept = before.answers.iter().map(|(id, answer)| {
            other(id, answer.clone(), before.answered.get(id).cloned().unwrap_or_default())
        });
        let others = before.others.iter().filter(|one| !is_taken_away(one)).cloned();
        let others = kept.chain(others);
        let stays = |mut one: OtherAnswer| {
            let id = one.question.clone();
            let is_other = before.others.contains(&one);
            let Some(given) = self.answered.get(&id).filter(|_| self.answers.contains_key(&id))
            else {
                return (is_other || self.is_left_behind(studio, before, &id)).then_some(one);
            };
            let places = (one.treatment, given.treatment);
            if is_one_place(studio, &id, places.0, places.1) {
                return None;
            }
            let is_as_before = self.answers.get(&id) == before.answers.get(&id)
                && Some(given) == before.answered.get(&id);
            // What was told later is not taken back by what was told before it.
            if is_as_before || given.on < one.on {
                return Some(one);
            }
            let (book, freshness) = (&studio.craft.rulebook, &studio.craft.freshness);
            one.answer = freshness.beside(book, (&id, &one.answer), places)?;
            Some(one)
        };
        self.others = others.filter_map(stays).collect();
        self.sort_others();
    }

    /// Whether what an answer followed was told for another treatment now.
    fn is_left_behind(&self, studio: &Studio, before: &Self, id: &str) -> bool {
        let Some(parent) = visit::follows(&studio.craft.rulebook, id) else { return false };
        let is_told = self.answers.contains_key(parent);
        let places = (before.treatment_of(parent), self.treatment_of(parent));
        is_told && !is_one_place(studio, parent, places.0, places.1)
    }

    fn sort_others(&mut self) {
        let order = |one: &OtherAnswer| (one.question.clone(), one.treatment.map(|t| t as u8));
        self.others.sort_by_key(order);
    }
}

/// Every answer that is kept, with its day and its treatment.
pub(in crate::studio) fn every_answer(record: &ClientRecord) -> Vec<OtherAnswer> {
    let one = |(id, answer): (&String, &Answer)| {
        other(id, answer.clone(), record.answered.get(id).cloned().unwrap_or_default())
    };
    let others = record.other_answers.iter().flatten().cloned();
    record.answers.iter().map(one).chain(others).collect()
}

/// An answer as a visit hears it.
pub(in crate::studio) fn heard(one: &OtherAnswer) -> Kept<'_> {
    Kept {
        question: &one.question,
        answer: Given::from(&one.answer),
        on: one.on.map(|day| day.0),
        treatment: one.treatment,
    }
}

/// What is told without the answers that followed one of another treatment and were sent back with
/// it: they stand with that one.
pub(super) fn without_followers(
    studio: &Studio,
    record: &ClientRecord,
    before: Option<&SealedClient>,
) -> ClientRecord {
    let mut record = record.clone();
    let Some(before) = before else { return record };
    let asked = |id: &str| {
        let told =
            record.answered.get(id).or(record.given.as_ref()).and_then(|told| told.treatment);
        let is_same = record.answers.get(id) == before.answers.get(id);
        told.or(before.treatment_of(id).filter(|_| is_same))
    };
    let is_moved = |id: &String| {
        let Some(parent) = visit::follows(&studio.craft.rulebook, id) else { return false };
        record.answers.contains_key(parent)
            && before.answers.contains_key(parent)
            && record.answers.get(id) == before.answers.get(id)
            && !is_one_place(studio, parent, before.treatment_of(parent), asked(parent))
            && asked(id) == before.treatment_of(id)
    };
    let moved: Vec<String> = record.answers.keys().filter(|id| is_moved(id)).cloned().collect();
    for id in moved {
        record.answers.remove(&id);
        record.answered.remove(&id);
    }
    record
}

/// Refuses answers for other treatments that are not those that are kept; a patch may leave some
/// out, who sends a whole form knows nothing of them.
pub(super) fn check(
    (record, sent): (&ClientRecord, Sent),
    kept: Option<&SealedClient>,
) -> Option<Fault> {
    let told = record.other_answers.as_ref()?;
    let kept = kept.map(|kept| kept.others.as_slice()).unwrap_or_default();
    if sent == Sent::Patched && told.iter().all(|one| kept.contains(one)) {
        return None;
    }
    let why = "these are not the answers that are kept for other treatments; leave them out and tell \
               the answer under `answers` with its treatment under `answered` or `given`, or take one \
               away by PATCH with a list that lacks it";
    (told != kept).then(|| Fault::new("#/other_answers", FaultCode::Contradiction, why))
}
