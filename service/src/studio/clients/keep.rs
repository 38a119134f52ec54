//! Keeping a client, and what a check notes of her.
//!
//! That the skin reacted in a skin test is told with a check and holds for every later visit, and so
//! does what she answers there and remains, a keloid for good and a medicine for its days
//! ([`visit::noted`]). The check writes it into the client's record, as an answer like any other; it
//! is settled there by an answer, and by nothing that does not speak of it.

use etui_craft::visit;
use etui_craft::visit::record::SKIN_TEST;
use etui_schema::answers::{Answer, Answers};
use etui_schema::clients::{AnswerGiven, ClientRecord};
use etui_schema::vocabulary::{CivilDate, Instant, Reference, Skin};

use super::{CLIENTS, FIELD, Known, SealedClient, StoredClient, held, key_of, read};
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
    pub(super) fn carry_over(&mut self, before: &Self) {
        for (question, answer) in before.noted() {
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
    let happened = Happened::ClientChanged { client_ref: client_ref.clone() };
    let batch = outbox::add(batch, moment, happened)?
        .expect(CLIENTS, key.clone(), held(studio, snap, client_ref).await?)
        .put(CLIENTS, key, encode(&stored)?);
    Ok((stored, batch))
}

/// A date of birth as a check was told it.
#[derive(Debug, Clone, Copy)]
pub(in crate::studio) struct Birth {
    /// What was told.
    pub told: Option<CivilDate>,
    /// Whether she is not of age on the day of the visit.
    pub is_minor: bool,
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
    (born_on, told): (Birth, &[(&Answers, AnswerGiven)]),
    batch: Batch,
) -> Result<Batch, Error> {
    let known = read(studio, snap, client_ref).await?;
    let version = known.as_ref().map_or(1, |known| known.stored.version + 1);
    let begun = SealedClient { is_begun_by_check: true, ..SealedClient::default() };
    let mut record = known.map_or(begun, |known| known.dated(studio));
    let rules = (&studio.craft.rulebook, &studio.craft.freshness);
    // Of two who are told under one reference nobody knows which is she; that one is a child is
    // kept whatever else is.
    let is_new = record.born_on.is_none() && born_on.told.is_some();
    let mut is_changed = is_new && (0 < version - 1 || born_on.is_minor);
    // A day is kept only beside what it is a day of, so that comes first.
    let is_day = |question: &str| visit::is_day(&studio.craft.rulebook, question);
    for ((answers, given), days) in
        [false, true].iter().flat_map(|days| told.iter().map(move |one| (one, *days)))
    {
        for (question, sent) in answers.iter().filter(|(question, _)| is_day(question) == days) {
            let kept = |id: &str| Some(record.of_place(studio, id, given.treatment)?.0);
            if days && !visit::is_led_to(&studio.craft.rulebook, question, kept) {
                continue;
            }
            let Some(answer) = visit::noted(rules, (question, sent), kept(question)) else {
                continue;
            };
            record.tell(studio, question, answer, given.clone());
            record.noted.insert(question.clone());
            is_changed = true;
        }
    }
    if !is_changed {
        return Ok(batch);
    }
    record.born_on = record.born_on.or(born_on.told);
    let kept = (client_ref, access);
    let (_, batch) = keep(studio, snap, moment, kept, (version, &record), batch).await?;
    Ok(batch)
}

/// Under what the origin of the skin stands among those of the answers.
pub(in crate::studio) const SKIN: &str = "skin";

/// All that has an origin.
pub(super) fn told<'a>(answers: &'a Answers, skin: Option<&Skin>) -> impl Iterator<Item = &'a str> {
    answers.keys().map(String::as_str).chain(skin.map(|_| SKIN))
}
