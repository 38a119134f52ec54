//! Keeping a client, and what a check notes of her.
//!
//! That the skin reacted in a skin test is told with a check and holds for every later visit, and so
//! does what she answers there and remains, a keloid for good and a medicine for its days
//! ([`visit::noted`]). The check writes it into the client's record, as an answer like any other; it
//! is settled there by an answer, and by nothing that does not speak of it.

use etui_craft::visit::record::SKIN_TEST;
use etui_craft::visit::{self, Kept};
use etui_schema::answers::{Answer, Answers};
use etui_schema::clients::{AnswerGiven, ClientRecord};
use etui_schema::vocabulary::{CivilDate, Instant, Reference, Skin, SkinSign};

use super::{CLIENTS, FIELD, Known, SealedClient, StoredClient};
use super::{every_answer, heard, held, key_of, read};
use crate::store::Batch;
use crate::store::record::encode;
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::outbox::{self, Happened};
use crate::studio::vault::Access;

impl SealedClient {
    /// What a check has noted here goes by another answer alone: who sends her form knows nothing
    /// of it.
    pub(super) fn carry_over(&mut self, before: &Self, studio: &Studio) {
        if self.born_on.is_none() && before.is_birth_noted {
            self.born_on = before.born_on;
        }
        self.is_birth_noted = before.is_birth_noted && self.born_on == before.born_on;
        // What no answer leads to any more was answered with the one that did.
        let leads = |told: &Answers, id: &str| {
            let book = &studio.craft.rulebook;
            visit::follows(book, id).is_none_or(|parent| !told.contains_key(parent))
                || visit::is_led_to(book, id, |id| told.get(id))
        };
        let told = self.answers.clone();
        for (question, answer) in before.noted().filter(|(id, _)| leads(&told, id)) {
            if self.answers.get(question).is_some_and(|told| told != answer) {
                continue;
            }
            if !self.answers.contains_key(question) {
                self.answers.insert(question.to_owned(), answer.clone());
                let given = before.answered.get(question).cloned().unwrap_or_default();
                self.answered.insert(question.to_owned(), given);
            }
            self.noted.insert(question.to_owned());
        }
    }

    /// What checks have noted.
    fn noted(&self) -> impl Iterator<Item = (&str, &Answer)> {
        let is_noted = |id: &str| id == SKIN_TEST || self.noted.contains(id);
        let all = self.answers.iter().map(|(id, answer)| (id.as_str(), answer));
        all.filter(move |(id, _)| is_noted(id))
    }

    /// Whether anything was told beside what checks have noted.
    fn is_told(&self) -> bool {
        // Of before checks noted more than this.
        let tested_alone = || self.answers.keys().eq([SKIN_TEST]);
        let is_bare = || self.born_on.is_none() && self.skin.is_none() && tested_alone();
        !self.is_begun_by_check && !is_bare()
    }
}

impl SealedClient {
    /// Notes what was answered and remains; whether that is something.
    fn note(&mut self, studio: &Studio, answers: &Answers, given: &AnswerGiven) -> bool {
        let (book, freshness) = (&studio.craft.rulebook, &studio.craft.freshness);
        let known = every_answer(&self.clone().record());
        let known: Vec<Kept<'_>> = known.iter().map(heard).collect();
        // An end that the check did not believe is none.
        let early: Vec<&str> = freshness.ends_too_early(answers, &known).map(|one| one.0).collect();
        let is_told = |id: &str| answers.contains_key(id) && !early.contains(&id);
        let mut is_changed = false;
        // A day is kept only beside what it is a day of, so that comes first.
        let (days, rest): (Vec<_>, Vec<_>) =
            answers.iter().partition(|(id, _)| visit::is_day(book, id));
        for (id, sent) in rest {
            if !self.note_one(studio, (id, sent), given) {
                continue;
            }
            is_changed = true;
            for end in visit::goes_on((book, freshness), (id, sent), is_told) {
                self.untell(studio, end, given.treatment);
            }
            for (says, implied) in visit::implied(freshness, (id, sent)) {
                self.note_one(studio, (says, &implied), given);
            }
        }
        for (id, sent) in days.into_iter().filter(|(id, _)| is_told(id)) {
            let kept = |id: &str| Some(self.of_place(studio, id, given.treatment)?.0);
            if visit::is_led_to(book, id, kept) {
                is_changed |= self.note_one(studio, (id, sent), given);
            }
        }
        is_changed
    }

    /// Notes what was seen of the skin, beside what is kept of it; whether that is something. What
    /// is kept stays of its day: a sign that is seen today says nothing new of its colour.
    fn note_skin(
        &mut self,
        studio: &Studio,
        seen: Option<&Skin>,
        told: &[(&Answers, AnswerGiven)],
    ) -> bool {
        let (Some(seen), Some((_, given))) = (seen, told.first()) else { return false };
        let seen = Skin { age_years: None, ..seen.clone() };
        if seen == Skin::default() {
            return false;
        }
        let is_scarred = seen.signs.contains(&SkinSign::Scarred);
        let joined = visit::joined_skin(&studio.craft.rulebook, self.skin.clone(), Some(seen));
        let from = self.answered.entry(SKIN.to_owned()).or_insert_with(|| given.clone());
        // Scars that were seen for two treatments are of neither alone.
        let spreads = is_scarred && from.treatment.is_some() && from.treatment != given.treatment;
        if spreads {
            from.treatment = None;
        }
        let is_more = joined != self.skin;
        self.skin = joined;
        is_more || spreads
    }

    /// Notes one answer; whether it was not known, or known of an earlier day.
    fn note_one(
        &mut self,
        studio: &Studio,
        (id, sent): (&str, &Answer),
        given: &AnswerGiven,
    ) -> bool {
        let rules = (&studio.craft.rulebook, &studio.craft.freshness);
        let kept = self.of_place(studio, id, given.treatment);
        let answer = visit::noted(rules, (id, sent), kept.as_ref().map(|kept| kept.0));
        let Some(answer) = answer else { return false };
        let same = kept.filter(|kept| *kept.0 == answer && given.on <= kept.1.on);
        let from = same.map(|kept| kept.1);
        if from.is_some() && self.noted.contains(id) {
            return false;
        }
        self.tell(studio, id, answer, from.unwrap_or_else(|| given.clone()));
        self.noted.insert(id.to_owned());
        true
    }
}

impl Known {
    /// Whether anything was told of the client beside what checks have noted.
    pub(in crate::studio) fn is_told(&self) -> bool {
        self.record.is_told()
    }

    /// What is kept of the client.
    pub(in crate::studio) fn kept(&self, studio: &Studio) -> ClientRecord {
        self.dated(studio).record()
    }
}

/// Adds to a batch that a client is kept so, and that others are told.
pub(super) async fn keep(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (client_ref, access): (&Reference, &Access),
    (version, record): (u64, &SealedClient),
    batch: Batch,
) -> Result<(StoredClient, Batch), Error> {
    let key = key_of(studio, client_ref);
    let stored = StoredClient {
        client_ref: client_ref.clone(),
        version,
        updated_at: Instant(moment.now),
        sealed: access.seal(moment, (CLIENTS, &key, FIELD), record)?,
    };
    let happened = Happened::client(client_ref.clone());
    let batch = outbox::add(batch, moment, happened)?
        .expect(CLIENTS, key.clone(), held(studio, snap, client_ref).await?)
        .put(CLIENTS, key, encode(&stored)?);
    Ok((stored, batch))
}

/// What a check was told of a client beside answers.
#[derive(Debug, Clone, Copy)]
pub(in crate::studio) struct ToldOf<'a> {
    /// Her date of birth.
    pub born_on: Option<CivilDate>,
    /// Whether she is not of age on the day of the visit.
    pub is_minor: bool,
    /// Her skin.
    pub skin: Option<&'a Skin>,
}

/// Adds to a batch that what was answered and remains is kept of the client. One of whom nothing was
/// kept has a record with that alone.
///
/// # Errors
/// What the store met.
pub(in crate::studio) async fn note(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (client_ref, access): (&Reference, &Access),
    (told_of, told): (ToldOf<'_>, &[(&Answers, AnswerGiven)]),
    batch: Batch,
) -> Result<Batch, Error> {
    let known = read(studio, snap, client_ref).await?;
    let version = known.as_ref().map_or(1, |known| known.stored.version + 1);
    let begun = SealedClient { is_begun_by_check: true, ..SealedClient::default() };
    let mut record = known.map_or(begun, |known| known.dated(studio));
    // Of two who are told under one reference nobody knows which is she; that one is a child is
    // kept whatever else is.
    let is_new = record.born_on.is_none() && told_of.born_on.is_some();
    let mut is_changed = is_new && (1 < version || told_of.is_minor);
    for (answers, given) in told {
        is_changed |= record.note(studio, answers, given);
    }
    is_changed |= record.note_skin(studio, told_of.skin, told);
    if !is_changed {
        return Ok(batch);
    }
    record.is_birth_noted |= is_new;
    record.born_on = record.born_on.or(told_of.born_on);
    let kept = (client_ref, access);
    let (_, batch) = keep(studio, snap, moment, kept, (version, &record), batch).await?;
    Ok(batch)
}

/// Under what the origin of the skin stands among those of the answers.
pub(in crate::studio) const SKIN: &str = "skin";

/// The same of the age that was told with the skin, where it is of another day.
pub(in crate::studio) const AGE: &str = "age_years";

/// All that has an origin.
pub(super) fn told<'a>(answers: &'a Answers, skin: Option<&Skin>) -> impl Iterator<Item = &'a str> {
    answers.keys().map(String::as_str).chain(skin.map(|_| SKIN))
}
