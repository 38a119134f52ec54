//! The one task that writes.
//!
//! A group takes two round trips. The first begins a transaction, takes the
//! turn, and reads the heads and whatever the batches expect: each statement
//! sees all that was committed before it began, so what is read behind the lock
//! is the newest there is. Then the group is decided in memory. The second
//! writes the changes and one row of the journal, and commits.

use std::{
    sync::Arc,
    time::{Duration, Instant},
};

use tokio::sync::{mpsc, oneshot};
use tokio_postgres::{Error, Row, error::SqlState, types::ToSql};

use super::{
    Core,
    heads::{Heads, is_head},
    session::{Session, Writing, in_words, unavailable, writer},
    snapshot::placed,
};
use crate::store::{
    Batch, Bytes, Space, StoreError,
    decide::{Changes, Decided, decide},
};

/// Most batches in one group.
const GROUP_BATCHES: usize = 64;
/// Bytes after which a group takes no further batch.
const GROUP_BYTES: usize = 1 << 20;
/// How often other tasks are let run while the callers of the group before are on their way.
const GATHERING: usize = 8;
/// How long a group is tried again before its callers are told to come again.
const PATIENCE: Duration = Duration::from_secs(10);
/// How long it is asked what became of a commit before nobody can say.
const ASKING: Duration = Duration::from_secs(30);
const FIRST_PAUSE: Duration = Duration::from_millis(2);
const LONGEST_PAUSE: Duration = Duration::from_millis(250);

pub(super) type Answer = Result<(), StoreError>;
type Reply = oneshot::Sender<Answer>;

/// What the committer is asked to do.
pub(super) enum Work {
    Commit(Batch, Reply),
    Close(Reply),
}

/// Runs until it is told to close.
pub(super) async fn run(core: Arc<Core>, mut queue: mpsc::Receiver<Work>) {
    let mut committer = Committer { core, session: None, serial: 0 };
    let mut expected = 1;
    while let Some(first) = queue.recv().await {
        let (mut batches, mut replies, mut closing) = (Vec::new(), Vec::new(), None);
        let (mut bytes, mut yields) = (0, 0);
        let mut next = Some(first);
        while let Some(work) = next.take() {
            match work {
                Work::Commit(batch, reply) => {
                    bytes += batch.bytes();
                    batches.push(batch);
                    replies.push(reply);
                }
                Work::Close(reply) => {
                    closing = Some(reply);
                    break;
                }
            }
            while batches.len() < GROUP_BATCHES && bytes < GROUP_BYTES && next.is_none() {
                match queue.try_recv() {
                    Ok(work) => next = Some(work),
                    Err(_) if expected <= batches.len() || GATHERING <= yields => break,
                    Err(_) => {
                        yields += 1;
                        tokio::task::yield_now().await;
                    }
                }
            }
        }
        expected = batches.len();
        for (reply, answer) in replies.into_iter().zip(committer.commit(&batches).await) {
            // A caller that went away does not wait for its answer.
            let _ = reply.send(answer);
        }
        if let Some(reply) = closing {
            committer.session = None;
            // Whoever came behind it was not written.
            queue.close();
            while let Some(Work::Commit(_, late) | Work::Close(late)) = queue.recv().await {
                let _ = late.send(Err(StoreError::Stopping));
            }
            let _ = reply.send(Ok(()));
            return;
        }
    }
}

/// What became of one try.
enum Tried {
    /// The answers can be given.
    Done(Vec<Answer>),
    /// Nothing was written, and another try may succeed.
    Again(String),
    /// Whether it was written must be asked for; if so, these are the answers.
    Lost(Vec<Answer>, u64),
}

pub(super) struct Committer {
    pub(super) core: Arc<Core>,
    pub(super) session: Option<Session<Writing>>,
    /// Of the newest row of the journal that was tried to be written.
    pub(super) serial: i64,
}

impl Committer {
    /// One answer for each batch.
    async fn commit(&mut self, batches: &[Batch]) -> Vec<Answer> {
        if batches.is_empty() {
            return Vec::new();
        }
        let began = Instant::now();
        let answers = self.group(batches).await;
        self.core.state.note(answers.as_ref().err());
        match answers {
            Ok(answers) => {
                self.core.meters.committed(batches.len(), began.elapsed());
                answers
            }
            Err(error) => batches.iter().map(|_| Err(error.clone())).collect(),
        }
    }

    async fn group(&mut self, batches: &[Batch]) -> Result<Vec<Answer>, StoreError> {
        let (began, mut pause) = (Instant::now(), FIRST_PAUSE);
        loop {
            self.core.state.may_write()?;
            match self.attempt(batches).await? {
                Tried::Done(answers) => return Ok(answers),
                Tried::Again(why) if PATIENCE < began.elapsed() => {
                    return Err(StoreError::Unavailable(why));
                }
                Tried::Again(_) => {}
                Tried::Lost(answers, sequence) => {
                    self.core.meters.lost();
                    if self.ask_on().await? {
                        self.core.saw(sequence);
                        return Ok(answers);
                    }
                }
            }
            tokio::time::sleep(pause).await;
            pause = (pause * 2).min(LONGEST_PAUSE);
        }
    }

    async fn attempt(&mut self, batches: &[Batch]) -> Result<Tried, StoreError> {
        let began = Instant::now();
        let session = match self.session.take().filter(|held| !held.client.is_closed()) {
            Some(session) => session,
            None => writer(&self.core.link).await?,
        };
        session.hush();
        let (newest, found) = match first_trip(&session, batches).await {
            Ok(read) => read,
            // Nothing was written: the turn goes with the connection.
            Err(error) => return again_or_fail(&error),
        };
        self.core.meters.had_the_turn(began.elapsed());
        let mut heads = Heads::of(newest.as_ref())?;
        let Decided { answers, mut changes } = decide(batches, |space, key| {
            Ok::<_, StoreError>(match is_head(space.name()) {
                true => heads.value(space.name(), key),
                false => found.get(&(space, key)).cloned().flatten(),
            })
        })?;
        let committed = answers.iter().filter(|answer| answer.is_ok()).count();
        if committed == 0 {
            if session.client.batch_execute("ROLLBACK").await.is_ok() {
                self.session = Some(session);
            }
            return Ok(Tried::Done(answers));
        }
        heads.move_on(&mut changes)?;
        heads.seq += i64::try_from(committed).unwrap_or(1);
        self.serial += 1;
        let end = second_trip(&session, &self.core.writer, self.serial, &heads, &changes).await?;
        match end {
            End::Committed if !session.was_warned() => {
                self.session = Some(session);
                self.core.saw(heads.sequence());
                Ok(Tried::Done(answers))
            }
            End::Refused(error) => again_or_fail(&error),
            End::Committed | End::Lost => Ok(Tried::Lost(answers, heads.sequence())),
        }
    }

    /// Whether the journal has the row that was tried last.
    async fn ask_on(&mut self) -> Result<bool, StoreError> {
        let (began, mut pause) = (Instant::now(), FIRST_PAUSE);
        let lost = self.serial;
        loop {
            match self.ask(lost).await {
                Ok(is_there) => {
                    tracing::info!(is_there, "store.lost_commit_asked_for");
                    return Ok(is_there);
                }
                Err(error) if ASKING < began.elapsed() => {
                    return Err(StoreError::Unknown(error.to_string()));
                }
                Err(_) => {}
            }
            tokio::time::sleep(pause).await;
            pause = (pause * 2).min(LONGEST_PAUSE);
        }
    }

    /// Asks once. Whoever holds the turn is done when we have it; and a write of our own that is
    /// committed proves that all before it is where it must be, also on another server.
    async fn ask(&mut self, lost: i64) -> Result<bool, StoreError> {
        let session = writer(&self.core.link).await?;
        session.hush();
        let (client, says) = (&session.client, &session.says);
        let failed = |error: Error| unavailable(&error);
        client.batch_execute("BEGIN").await.map_err(failed)?;
        client.query_one(&says.turn, &[]).await.map_err(failed)?;
        let row = client
            .query_one(
                "SELECT EXISTS (SELECT 1 FROM journal WHERE writer = $1 AND serial = $2)",
                &[&self.core.writer, &lost],
            )
            .await
            .map_err(failed)?;
        let is_there: bool = row.try_get(0).map_err(failed)?;
        let newest = client.query_opt(&says.heads, &[]).await.map_err(failed)?;
        let mut heads = Heads::of(newest.as_ref())?;
        heads.seq += 1;
        self.serial += 1;
        let nothing = Changes::new();
        let end = second_trip(&session, &self.core.writer, self.serial, &heads, &nothing).await?;
        match end {
            End::Committed if !session.was_warned() => {
                self.session = Some(session);
                Ok(is_there)
            }
            End::Committed | End::Lost => {
                Err(StoreError::Unavailable("the database's answer was lost again".into()))
            }
            End::Refused(error) => Err(unavailable(&error)),
        }
    }

    /// Writes a row of our own before anything is served: a server that takes none, because it is not
    /// the primary any more, is not worked with.
    pub(super) async fn open(core: &Core) -> Result<u64, StoreError> {
        let session = writer(&core.link).await?;
        session.hush();
        let (newest, _) = first_trip(&session, &[]).await.map_err(|error| unavailable(&error))?;
        let mut heads = Heads::of(newest.as_ref())?;
        heads.seq += 1;
        let end = second_trip(&session, &core.writer, 0, &heads, &Changes::new()).await?;
        match end {
            End::Committed if !session.was_warned() => Ok(heads.sequence()),
            End::Committed | End::Lost => {
                Err(StoreError::Unavailable("the first write was not confirmed".into()))
            }
            End::Refused(error) => Err(unavailable(&error)),
        }
    }
}

type Found<'a> = std::collections::BTreeMap<(Space, &'a [u8]), Option<Bytes>>;

/// Begins, takes the turn, reads. Four statements that are sent at once and are four all the same:
/// in one with the lock, the read would see what was before the wait.
async fn first_trip<'a>(
    session: &Session<Writing>,
    batches: &'a [Batch],
) -> Result<(Option<Row>, Found<'a>), Error> {
    let Session { client, says, .. } = session;
    let expected = batches.iter().flat_map(|batch| &batch.expect);
    let expected = expected.map(|(space, key, _)| (*space, key.as_slice()));
    let keys: Vec<(Space, &[u8])> = expected.filter(|(space, _)| !is_head(space.name())).collect();
    let (names, bytes): (Vec<&str>, Vec<&[u8]>) =
        keys.iter().map(|(space, key)| (space.name(), *key)).unzip();
    let given: [&(dyn ToSql + Sync); 2] = [&names, &bytes];
    let (begun, turn, newest, rows) = tokio::join!(
        client.batch_execute("BEGIN ISOLATION LEVEL READ COMMITTED"),
        client.query_one(&says.turn, &[]),
        client.query_opt(&says.heads, &[]),
        async {
            if keys.is_empty() { Ok(Vec::new()) } else { client.query(&says.many, &given).await }
        },
    );
    begun?;
    turn?;
    let (newest, rows) = (newest?, rows?);
    let found = placed(&rows, keys.len())?;
    Ok((newest, keys.into_iter().zip(found).collect()))
}

/// How a transaction ended.
enum End {
    Committed,
    /// Surely not written.
    Refused(Error),
    /// The answer was lost, or says nothing.
    Lost,
}

/// Writes and commits.
async fn second_trip(
    session: &Session<Writing>,
    writer: &uuid::Uuid,
    serial: i64,
    heads: &Heads,
    changes: &Changes<'_>,
) -> Result<End, StoreError> {
    let Session { client, says, .. } = session;
    let (mut put, mut del) = ((Vec::new(), Vec::new(), Vec::new()), (Vec::new(), Vec::new()));
    for (space, keys) in changes {
        for (key, value) in keys {
            if let Some(value) = value {
                put.0.push(space.name());
                put.1.push(&**key);
                put.2.push(&**value);
            } else {
                del.0.push(space.name());
                del.1.push(&**key);
            }
        }
    }
    let (event, audit, hash) = heads.columns()?;
    let puts: [&(dyn ToSql + Sync); 3] = [&put.0, &put.1, &put.2];
    let dels: [&(dyn ToSql + Sync); 2] = [&del.0, &del.1];
    let note: [&(dyn ToSql + Sync); 6] = [&heads.seq, writer, &serial, &event, &audit, &hash];
    let (put_done, del_done, noted, committed) = tokio::join!(
        async { if put.0.is_empty() { Ok(0) } else { client.execute(&says.put, &puts).await } },
        async { if del.0.is_empty() { Ok(0) } else { client.execute(&says.del, &dels).await } },
        client.execute(&says.note, &note),
        client.batch_execute("COMMIT"),
    );
    let refused = put_done.err().or(del_done.err()).or(noted.err());
    Ok(match (refused, committed) {
        (None, Ok(())) => End::Committed,
        // The commit of a transaction that failed is answered as if it were none.
        (Some(error), Ok(())) if error.as_db_error().is_some() => End::Refused(error),
        (None, Err(error)) if is_to_be_tried_again(&error) => End::Refused(error),
        _ => End::Lost,
    })
}

fn is_to_be_tried_again(error: &Error) -> bool {
    let again = [
        SqlState::T_R_SERIALIZATION_FAILURE,
        SqlState::T_R_DEADLOCK_DETECTED,
        SqlState::LOCK_NOT_AVAILABLE,
    ];
    error.code().is_some_and(|code| again.contains(code))
}

/// What to do about something that was surely not written.
fn again_or_fail(error: &Error) -> Result<Tried, StoreError> {
    let is_full = [SqlState::DISK_FULL, SqlState::OUT_OF_MEMORY];
    if error.code().is_some_and(|code| is_full.contains(code)) {
        return Err(StoreError::Full);
    }
    if is_to_be_tried_again(error) || error.as_db_error().is_none() || is_going_down(error) {
        return Ok(Tried::Again(in_words(error)));
    }
    Err(unavailable(error))
}

/// Whether the server ended the connection, not the statement.
fn is_going_down(error: &Error) -> bool {
    error.code().is_some_and(|code| {
        code.code().starts_with("57P") || *code == SqlState::IDLE_IN_TRANSACTION_SESSION_TIMEOUT
    })
}
