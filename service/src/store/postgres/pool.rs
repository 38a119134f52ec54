//! Connections for reading: at most so many, opened when they are needed, kept
//! when they are not.

use std::{
    sync::{Arc, Mutex, PoisonError},
    time::Duration,
};

use tokio::sync::{OwnedSemaphorePermit, Semaphore};

use super::{
    meters::Meters,
    session::{Reading, Session, reader},
    settings::Link,
};
use crate::store::StoreError;

/// Most views at the same time. Four do as well as sixteen on two cores; the rest is for views that
/// are held while something is computed.
const PLACES: usize = 16;
/// How long a view may wait for a connection.
const PATIENCE: Duration = Duration::from_secs(10);

pub(super) struct Pool {
    places: Arc<Semaphore>,
    idle: Mutex<Vec<Session<Reading>>>,
}

/// A connection that somebody reads over; its place is free when it is dropped.
pub(super) struct Taken {
    pub(super) session: Session<Reading>,
    place: OwnedSemaphorePermit,
}

impl Pool {
    pub(super) fn new() -> Self {
        Self { places: Arc::new(Semaphore::new(PLACES)), idle: Mutex::default() }
    }

    /// A connection, on the store's own runtime.
    pub(super) async fn take(&self, link: &Link, meters: &Meters) -> Result<Taken, StoreError> {
        let busy = || StoreError::Unavailable("every connection to the database is in use".into());
        let waiting = meters.waiting();
        let place = tokio::time::timeout(PATIENCE, Arc::clone(&self.places).acquire_owned()).await;
        drop(waiting);
        let place = place.map_err(|_| busy())?.map_err(|_| StoreError::Stopping)?;
        while let Some(session) = self.pop() {
            if !session.client.is_closed() {
                return Ok(Taken { session, place });
            }
        }
        Ok(Taken { session: reader(link).await?, place })
    }

    /// Ends the view that was read over a connection, and keeps it for the next one.
    pub(super) async fn give_back(&self, taken: Taken) {
        let Taken { session, place } = taken;
        if session.client.batch_execute("ROLLBACK").await.is_ok() {
            self.idle().push(session);
        }
        drop(place);
    }

    /// No view is given out any more.
    pub(super) fn close(&self) {
        self.places.close();
        self.idle().clear();
    }

    fn pop(&self) -> Option<Session<Reading>> {
        self.idle().pop()
    }

    fn idle(&self) -> std::sync::MutexGuard<'_, Vec<Session<Reading>>> {
        self.idle.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
