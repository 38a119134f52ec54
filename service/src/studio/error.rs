//! Why a use case refused.

use etui_schema::problem::{Fault, FaultCode};

use crate::store::StoreError;
use crate::store::record::RecordError;

/// Why a use case refused. What it means over HTTP is decided at the edge.
#[derive(Debug)]
pub enum Error {
    /// There is no such record.
    NotFound {
        /// What was looked for.
        what: &'static str,
        /// Under which id or reference.
        id: String,
    },
    /// Values were refused, each with its place.
    Refused(Vec<Fault>),
    /// The state of a record stands against it.
    Conflict(String),
    /// The record is not the one that was read.
    Changed,
    /// The record exists: say which version is meant.
    NeedsVersion,
    /// What the caller has seen is not of this store.
    Gone(String),
    /// Not while the clock is in doubt.
    Held(String),
    /// The store did not do it.
    Store(StoreError),
    /// Our fault: a stored value or a sealed value that cannot be read, no
    /// random bytes. The text goes to the log, never to the caller.
    Internal(String),
}

impl Error {
    /// One refused value.
    pub fn at(pointer: impl Into<String>, code: FaultCode, message: impl Into<String>) -> Self {
        Self::Refused(vec![Fault::new(pointer, code, message)])
    }
}

impl From<StoreError> for Error {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}

impl From<RecordError> for Error {
    fn from(error: RecordError) -> Self {
        Self::Internal(error.to_string())
    }
}
