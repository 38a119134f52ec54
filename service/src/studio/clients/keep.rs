//! Keeping a client, and what a check notes of her.
//!
//! That the skin reacted in a skin test is told with a check and holds for every later visit. So
//! the check writes it into the client's record, as an answer like any other; it is settled there by
//! a no, and by nothing that does not speak of it.

use etui_craft::visit::record::SKIN_TEST;
use etui_schema::answers::{Answer, Answers};
use etui_schema::clients::{AnswerGiven, ClientRecord};
use etui_schema::vocabulary::{Instant, Reference, Skin};

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
    /// What a check has noted here goes by a no alone: who sends her form knows nothing of it.
    pub(super) fn carry_over(&mut self, before: Option<&Known>, studio: &Studio) {
        let noted = before.and_then(|b| Some((b, b.record.answers.get(SKIN_TEST)?)));
        let Some((before, answer)) = noted.filter(|_| !self.answers.contains_key(SKIN_TEST)) else {
            return;
        };
        let given = before.record.given(SKIN_TEST, before.day(studio));
        self.answers.insert(SKIN_TEST.to_owned(), answer.clone());
        self.answered.insert(SKIN_TEST.to_owned(), given);
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

/// Adds to a batch that a question is answered with a yes in the client's record, unless it
/// already is. A client of whom nothing was kept has a record with that alone.
///
/// # Errors
/// What the store met.
pub(in crate::studio) async fn keep_yes(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (client_ref, access): (&Reference, &Access),
    (question, given): (&str, AnswerGiven),
    batch: Batch,
) -> Result<Batch, Error> {
    let known = read(studio, snap, client_ref).await?;
    let version = known.as_ref().map_or(1, |known| known.stored.version + 1);
    let mut record = known.map(|known| known.dated(studio)).unwrap_or_default();
    let yes = Answer::YesNo(true);
    if record.answers.get(question) == Some(&yes) {
        return Ok(batch);
    }
    record.answers.insert(question.to_owned(), yes);
    record.answered.insert(question.to_owned(), given);
    let kept = (client_ref, access);
    let (_, batch) = keep(studio, snap, moment, kept, (version, &record), batch).await?;
    Ok(batch)
}

/// Whether anything was told of a client beside what a check has noted.
pub(in crate::studio) fn is_told(record: &ClientRecord) -> bool {
    record.born_on.is_some()
        || record.skin.is_some()
        || !record.answers.keys().eq([SKIN_TEST].iter())
}

/// Under what the origin of the skin stands among those of the answers.
pub(in crate::studio) const SKIN: &str = "skin";

/// All that has an origin.
pub(super) fn told<'a>(answers: &'a Answers, skin: Option<&Skin>) -> impl Iterator<Item = &'a str> {
    answers.keys().map(String::as_str).chain(skin.map(|_| SKIN))
}
