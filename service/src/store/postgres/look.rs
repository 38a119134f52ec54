//! Looks at what others may have changed, for any number of callers over one
//! connection.
//!
//! Callers are gathered like the batches of a commit: whoever comes while a look
//! is under way waits for the next one. So no answer is older than its question,
//! and a look costs one round trip however many wait for it. While nobody asks it
//! looks by itself now and then, so that whoever waits for something new is woken
//! by what other processes write.

use std::{sync::Arc, time::Duration};

use tokio::sync::{mpsc, oneshot};
use tokio_postgres::types::ToSql;

use super::{
    Core,
    heads::Heads,
    session::{Reading, Session, reader, unavailable},
    snapshot::placed,
};
use crate::store::{
    StoreError,
    shared::{LOOKED, Looked},
};

/// Pause between two looks that nobody asked for.
const PACE: Duration = Duration::from_millis(200);
/// Longest time for a look: a caller waits no longer for a database that does not answer.
const PATIENCE: Duration = Duration::from_secs(4);

pub(super) type Asked = oneshot::Sender<Result<Looked, StoreError>>;

/// Looks until the store is closed.
pub(super) async fn run(core: Arc<Core>, mut questions: mpsc::UnboundedReceiver<Asked>) {
    let mut closing = core.closing.subscribe();
    let mut session = None;
    loop {
        let mut waiting = Vec::new();
        tokio::select! {
            _ = closing.wait_for(|closing| *closing) => return,
            first = questions.recv() => match first {
                Some(first) => waiting.push(first),
                None => return,
            },
            () = tokio::time::sleep(PACE) => {}
        }
        while let Ok(next) = questions.try_recv() {
            waiting.push(next);
        }
        let late = || StoreError::Unavailable("the database does not answer".into());
        let found = tokio::time::timeout(PATIENCE, look(&core, &mut session)).await;
        let found = found.unwrap_or_else(|_| Err(late()));
        if found.is_err() {
            session = None;
        }
        for caller in waiting {
            // One that went away does not wait for its answer.
            let _ = caller.send(found.clone());
        }
    }
}

/// Looks once; over a new connection if the one that was kept turns out to be dead.
async fn look(core: &Core, kept: &mut Option<Session<Reading>>) -> Result<Looked, StoreError> {
    if let Some(session) = kept.as_ref().filter(|session| !session.client.is_closed()) {
        match look_over(core, session).await {
            Err(_) if session.client.is_closed() => {}
            found => return found,
        }
    }
    let session = reader(&core.link).await?;
    let found = look_over(core, &session).await;
    *kept = Some(session);
    found
}

async fn look_over(core: &Core, session: &Session<Reading>) -> Result<Looked, StoreError> {
    let (spaces, keys): (Vec<&str>, Vec<&[u8]>) =
        LOOKED.iter().map(|(space, key)| (space.name(), *key)).unzip();
    let wanted: [&(dyn ToSql + Sync); 2] = [&spaces, &keys];
    let (newest, rows) = tokio::join!(
        session.client.query_opt(&session.says.heads, &[]),
        session.client.query(&session.says.many, &wanted),
    );
    let failed = |error: tokio_postgres::Error| unavailable(&error);
    let newest = newest.map_err(failed)?;
    let found = placed(&rows.map_err(failed)?, keys.len()).map_err(failed)?;
    core.saw(Heads::of(newest.as_ref())?.sequence());
    let broken = |_| StoreError::Unavailable("the database answered something else".into());
    Looked::try_from(found).map_err(broken)
}
