//! What exports, backups, checks and the service itself ask of an engine beyond
//! [`Store`] and [`Read`], so that they name none.

use std::{future::Future, ops::Range};

use tokio::sync::watch;

use super::{Bytes, Order, Read, Store, StoreError, shared::Looked};

/// What a store can do at the moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Health {
    /// Reads and writes.
    Ready,
    /// Reads only: there is too little room on the disk.
    Full,
    /// Neither: the engine failed and is being opened again.
    Reopening(String),
    /// Neither: what is stored is damaged. The text says what was found and what to do.
    Damaged(String),
    /// Neither: it is closing or closed.
    Closed,
}

/// A view that can be walked from end to end without knowing what is in it.
pub trait Walk: Read {
    /// Sequence number of the newest batch in this view.
    fn version(&self) -> u64;

    /// Names of all spaces that have rows, and perhaps of some that had, sorted.
    ///
    /// # Errors
    /// As [`Read::get`].
    fn spaces(&mut self) -> impl Future<Output = Result<Vec<String>, StoreError>> + Send;

    /// About how many rows there are.
    ///
    /// # Errors
    /// As [`Read::get`].
    fn rows(&mut self) -> impl Future<Output = Result<u64, StoreError>> + Send;

    /// As [`Read::scan`], for a space known by name only.
    ///
    /// # Errors
    /// As [`Read::get`].
    fn scan_named(
        &mut self,
        space: &str,
        range: Range<Bytes>,
        order: Order,
        limit: usize,
    ) -> impl Future<Output = Result<Vec<(Bytes, Bytes)>, StoreError>> + Send;
}

/// A store that a service can run on. What is said of others is said by a store that several equal
/// processes serve at once; the defaults are those of one that belongs to one process.
pub trait Serve: Store<Snap: Walk> + Clone {
    /// What it can do at the moment.
    fn health(&self) -> Health;

    /// Wakes whoever waits for something new: holds the sequence number of the newest batch as it
    /// grows.
    fn grown(&self) -> watch::Receiver<u64>;

    /// Refuses new work, finishes what is waiting and lets go of everything. Calling it again does
    /// nothing.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`] when the end is not an orderly one. Nothing acknowledged is lost.
    fn close(&self) -> impl Future<Output = Result<(), StoreError>> + Send;

    /// Whether others may serve it at the same time, so that what they must all have lies in it.
    fn is_shared(&self) -> bool {
        false
    }

    /// What [`shared::LOOKED`](super::shared::LOOKED) holds at a moment that is not before the call;
    /// `None` where nobody else can have changed it.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`] if nobody can be asked: what was known before counts for nothing.
    fn look(&self) -> impl Future<Output = Result<Option<Looked>, StoreError>> + Send {
        async { Ok(None) }
    }

    /// Whether nobody else serves it, nor will before [`Serve::let_in`].
    fn is_alone(&self) -> bool {
        true
    }

    /// From here on others may serve it too: what one does alone at a start is done.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    fn let_in(&self) -> impl Future<Output = Result<(), StoreError>> + Send {
        async { Ok(()) }
    }

    /// Whether this process has the work of which there is one at a time.
    fn leads(&self) -> bool {
        true
    }

    /// Waits until this process has that work, and gives a handle for it: what is committed over
    /// it holds only as long as no other process has taken the work over.
    fn lead(&self) -> impl Future<Output = Self> + Send {
        async { self.clone() }
    }

    /// Waits for the end of what [`Serve::lead`] gave.
    fn over(&self) -> impl Future<Output = ()> + Send {
        std::future::pending()
    }
}
