//! What exports, backups, checks and the service itself ask of an engine beyond
//! [`Store`] and [`Read`], so that they name none.

use std::{future::Future, ops::Range};

use tokio::sync::watch;

use super::{Bytes, Order, Read, Store, StoreError};

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

/// A store that a service can run on.
pub trait Serve: Store<Snap: Walk> {
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
}
