//! The one thread that writes.

use std::{
    fs::File,
    sync::{
        Arc,
        mpsc::{Receiver, RecvTimeoutError},
    },
    time::Duration,
};

use tokio::sync::oneshot;

use super::{
    Core, Slot,
    engine::{Applied, Engine, EngineError},
    marks::{AckFile, ClosedMark},
    open,
};
use crate::store::{Batch, StoreError, counts};

/// Most batches in one group.
const GROUP_BATCHES: usize = 64;
/// Bytes after which a group takes no further batch.
const GROUP_BYTES: usize = 1 << 20;
/// A sleep while the callers of the group before are on their way.
const GATHERING: Duration = Duration::from_micros(50);
/// Most such sleeps for one group.
const MOST_SLEEPS: u32 = 6;
/// The first pause before a failed engine is opened again; doubled each time.
const FIRST_PAUSE: Duration = Duration::from_millis(100);
const LONGEST_PAUSE: Duration = Duration::from_secs(5);

type Reply = oneshot::Sender<Result<(), StoreError>>;

/// What the committer is asked to do.
pub(super) enum Work {
    Commit(Batch, Reply),
    Close(Reply),
    /// Look whether damage was reported.
    Wake,
}

/// Runs until it is told to close; `lock` keeps other processes out of the folder until then.
pub(super) fn run(core: &Arc<Core>, queue: &Receiver<Work>, ack: AckFile, lock: File) {
    let mut committer = Committer { core, ack, pause: FIRST_PAUSE };
    let mut expected = 1;
    while let Some(first) = committer.next(queue) {
        let Group { batches, replies, closing } = Group::gather(first, queue, expected);
        expected = batches.len();
        for (reply, answer) in replies.into_iter().zip(committer.commit(&batches)) {
            // A caller that went away does not wait for its answer.
            let _ = reply.send(answer);
        }
        if let Some(reply) = closing {
            let answer = committer.close();
            // The folder is free before the answer says so.
            drop(lock);
            let _ = reply.send(answer);
            return;
        }
    }
    // All handles are gone without a close: still leave the store in good order.
    let _ = committer.close();
}

/// What goes to disk together.
#[derive(Default)]
struct Group {
    batches: Vec<Batch>,
    replies: Vec<Reply>,
    closing: Option<Reply>,
}

impl Group {
    /// Takes what is waiting, and waits a little for the rest when the group before was larger:
    /// its callers have just been answered, and some are on their way with the next batch. Each
    /// sync that is saved pays for many such pauses; a caller who is alone never waits.
    fn gather(first: Work, queue: &Receiver<Work>, expected: usize) -> Self {
        let mut group = Self::default();
        let mut bytes = group.take(first);
        let mut sleeps = 0;
        while group.batches.len() < GROUP_BATCHES && bytes < GROUP_BYTES && group.closing.is_none()
        {
            match queue.try_recv() {
                Ok(work) => bytes += group.take(work),
                Err(_) if expected <= group.batches.len() || MOST_SLEEPS <= sleeps => break,
                // Asleep, since to be woken for each of them would take longer than they do.
                Err(_) => {
                    std::thread::sleep(GATHERING);
                    sleeps += 1;
                }
            }
        }
        group
    }

    /// Adds one thing to do; how many bytes it brings.
    fn take(&mut self, work: Work) -> usize {
        match work {
            Work::Commit(batch, reply) => {
                let bytes = batch.bytes();
                self.batches.push(batch);
                self.replies.push(reply);
                bytes
            }
            Work::Close(reply) => {
                self.closing = Some(reply);
                0
            }
            Work::Wake => 0,
        }
    }
}

struct Committer<'a> {
    core: &'a Arc<Core>,
    ack: AckFile,
    pause: Duration,
}

impl Committer<'_> {
    /// The next thing to do; opens a failed engine again while it waits.
    fn next(&mut self, queue: &Receiver<Work>) -> Option<Work> {
        loop {
            let reopening = self.core.damage.get().is_none()
                && matches!(
                    &*self.core.slot.blocking_read(),
                    Slot::Shut(StoreError::Unavailable(_))
                );
            if !reopening {
                return queue.recv().ok();
            }
            match queue.recv_timeout(self.pause) {
                Ok(work) => return Some(work),
                Err(RecvTimeoutError::Disconnected) => return None,
                Err(RecvTimeoutError::Timeout) => self.reopen(),
            }
        }
    }

    /// One answer for each batch.
    fn commit(&mut self, batches: &[Batch]) -> Vec<Result<(), StoreError>> {
        if let Some(why) = self.core.damage.get() {
            self.shut(StoreError::Damaged(why.clone()));
        }
        if batches.is_empty() {
            return Vec::new();
        }
        let all = |error: &StoreError| batches.iter().map(|_| Err(error.clone())).collect();
        if let Slot::Shut(error) = &*self.core.slot.blocking_read() {
            return all(error);
        }
        if self.core.is_full() {
            return all(&StoreError::Full);
        }
        match self.write(batches) {
            Ok(answers) => answers,
            Err(error) => all(&self.fail(error)),
        }
    }

    fn write(&mut self, batches: &[Batch]) -> Result<Vec<Result<(), StoreError>>, EngineError> {
        let oldest = self.core.views().oldest();
        let Applied { answers, sequence } = match &mut *self.core.slot.blocking_write() {
            Slot::Open(engine) => engine.apply(batches, oldest)?,
            Slot::Shut(_) => return Err(EngineError::Failed("the engine is closed".into())),
        };
        if answers.iter().any(Result::is_ok) {
            // Shared with the readers, who go on at the version before.
            if let Slot::Open(engine) = &*self.core.slot.blocking_read() {
                engine.flush()?;
            }
            self.core.views().durable = sequence;
            counts::group(answers.iter().filter(|answer| answer.is_ok()).count());
            self.core.grown.send_replace(sequence);
            if let Err(error) = self.ack.write(sequence) {
                tracing::warn!(%error, "store.ack_not_written");
            }
        }
        Ok(answers)
    }

    /// Takes the engine out of service; what its group is to be answered.
    fn fail(&mut self, error: EngineError) -> StoreError {
        match error {
            EngineError::Damaged(why) => {
                tracing::error!(%why, "store.damaged");
                let why = self.core.damage.get_or_init(|| open::advice(&why)).clone();
                self.shut(StoreError::Damaged(why.clone()));
                StoreError::Damaged(why)
            }
            EngineError::Failed(why) => {
                tracing::error!(%why, "store.failed");
                let state = format!("the engine failed ({why}) and is being opened again");
                self.shut(StoreError::Unavailable(state));
                self.pause = FIRST_PAUSE;
                StoreError::Unknown(why)
            }
        }
    }

    fn reopen(&mut self) {
        match open::reopen(&self.core.config) {
            Ok((engine, sequence)) => {
                tracing::info!(sequence, "store.reopened");
                let mut slot = self.core.slot.blocking_write();
                let mut views = self.core.views();
                views.next_instance(sequence);
                views.state = None;
                *slot = Slot::Open(Box::new(engine));
            }
            Err(EngineError::Damaged(why)) => {
                self.fail(EngineError::Damaged(why));
            }
            Err(EngineError::Failed(why)) => {
                tracing::warn!(%why, "store.reopen_failed");
                self.pause = (self.pause * 2).min(LONGEST_PAUSE);
            }
        }
    }

    fn close(&mut self) -> Result<(), StoreError> {
        let Some(engine) = self.shut_with(StoreError::Stopping) else { return Ok(()) };
        let sequence = self.core.views().durable;
        let unmarked = |why: String| {
            tracing::error!(%why, "store.close_failed");
            StoreError::Unavailable(format!("the end could not be marked as orderly: {why}"))
        };
        engine.close().map_err(|error| unmarked(error.to_string()))?;
        self.ack
            .sync()
            .and_then(|()| ClosedMark::write(&self.core.config, sequence))
            .map_err(|error| unmarked(error.to_string()))
    }

    fn shut(&self, state: StoreError) {
        if let Some(engine) = self.shut_with(state) {
            engine.release();
        }
    }

    fn shut_with(&self, state: StoreError) -> Option<Box<Engine>> {
        let mut slot = self.core.slot.blocking_write();
        self.core.views().state = Some(state.clone());
        match std::mem::replace(&mut *slot, Slot::Shut(state)) {
            Slot::Open(engine) => Some(engine),
            Slot::Shut(_) => None,
        }
    }
}
