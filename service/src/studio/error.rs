//! Why a use case refused.

use etui_schema::problem::{Fault, FaultCode, Meaning};

use crate::store::StoreError;
use crate::store::index::IndexError;
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
    /// Something named is beyond what the token is limited to.
    Beyond(Fault),
    /// The state of a record stands against it; with what that means to people.
    Conflict(String, Option<Meaning>),
    /// The record is not the one that was read.
    Changed,
    /// The record exists: say which version is meant.
    NeedsVersion,
    /// What the caller has seen is not of this store.
    Gone(String),
    /// An answer that was given before cannot be given again: what it was about was
    /// erased since.
    Erased,
    /// Not while the clock is in doubt.
    Held(String),
    /// The store did not do it.
    Store(StoreError),
    /// A stored record that cannot be read: damaged, its key lost, or of a form
    /// that this build does not know. A fault of that record alone: whoever
    /// reads many goes on without it ([`readable`]). The text goes to the log,
    /// never to the caller.
    Unreadable(String),
    /// Our fault: no random bytes, a value that cannot be written. The text goes
    /// to the log, never to the caller.
    Internal(String),
}

/// Faults of several steps, told at once: whoever mends one does not meet the next.
#[derive(Debug, Default)]
pub struct Faults(Vec<Fault>);

impl Faults {
    /// What a step came to; what it refused is kept for the end.
    ///
    /// # Errors
    /// Everything that is no refusal of values.
    pub fn of<T>(&mut self, step: Result<T, Error>) -> Result<Option<T>, Error> {
        match step {
            Ok(done) => Ok(Some(done)),
            Err(Error::Refused(faults)) => {
                for fault in faults {
                    let known =
                        |one: &Fault| one.pointer == fault.pointer && one.code == fault.code;
                    if !self.0.iter().any(known) {
                        self.0.push(fault);
                    }
                }
                Ok(None)
            }
            Err(other) => Err(other),
        }
    }

    /// What all steps made, if none refused anything.
    ///
    /// # Errors
    /// [`Error::Refused`] with every fault.
    pub fn whole<T>(self, made: Option<T>) -> Result<T, Error> {
        made.filter(|_| self.0.is_empty()).ok_or(Error::Refused(self.0))
    }
}

/// For whoever reads many records: `None` for one that was erased with its
/// client, or that cannot be read. What became of one record never changes what
/// is answered about others.
///
/// # Errors
/// Everything that is not the fault of the record alone.
pub fn readable<T>(found: Result<T, Error>) -> Result<Option<T>, Error> {
    match or_unreadable(found.map(Some))? {
        Found::Read(found) => Ok(found),
        Found::Unreadable => Ok(None),
    }
}

/// One of many records.
pub enum Found<T> {
    /// As it was read; `None` for one that was erased, or is of no concern.
    Read(Option<T>),
    /// It is there and cannot be read; whoever lists says so.
    Unreadable,
}

/// As [`readable`], for whoever tells how many cannot be read.
///
/// # Errors
/// Everything that is not the fault of the record alone.
pub fn or_unreadable<T>(found: Result<Option<T>, Error>) -> Result<Found<T>, Error> {
    match found {
        Ok(found) => Ok(Found::Read(found)),
        Err(Error::NotFound { .. }) => Ok(Found::Read(None)),
        Err(Error::Unreadable(why)) => {
            tell_of_one_left_out(&why);
            Ok(Found::Unreadable)
        }
        Err(
            error @ (Error::Refused(_)
            | Error::Beyond(_)
            | Error::Conflict(..)
            | Error::Changed
            | Error::NeedsVersion
            | Error::Gone(_)
            | Error::Erased
            | Error::Held(_)
            | Error::Store(_)
            | Error::Internal(_)),
        ) => Err(error),
    }
}

fn tell_of_one_left_out(why: &str) {
    tracing::error!(reason = why, "a record cannot be read and is left out");
}

impl Error {
    /// One refused value.
    pub fn at(pointer: impl Into<String>, code: FaultCode, message: impl Into<String>) -> Self {
        Self::Refused(vec![Fault::new(pointer, code, message)])
    }

    /// Against the state of a record.
    pub fn conflict(detail: impl Into<String>) -> Self {
        Self::Conflict(detail.into(), None)
    }

    /// The same with what it means to people.
    #[must_use]
    pub fn means(self, meaning: impl Into<Meaning>) -> Self {
        match self {
            Self::Refused(faults) => {
                let meaning = meaning.into();
                Self::Refused(faults.into_iter().map(|it| it.means(meaning.clone())).collect())
            }
            Self::Beyond(fault) => Self::Beyond(fault.means(meaning)),
            Self::Conflict(detail, _) => Self::Conflict(detail, Some(meaning.into())),
            Self::NotFound { .. }
            | Self::Changed
            | Self::NeedsVersion
            | Self::Gone(_)
            | Self::Erased
            | Self::Held(_)
            | Self::Store(_)
            | Self::Unreadable(_)
            | Self::Internal(_) => self,
        }
    }
}

impl From<StoreError> for Error {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}

impl From<IndexError> for Error {
    fn from(error: IndexError) -> Self {
        match error {
            IndexError::Store(error) => Self::Store(error),
            IndexError::Broken(_) => Self::Unreadable(error.to_string()),
        }
    }
}

impl From<RecordError> for Error {
    fn from(error: RecordError) -> Self {
        let why = error.to_string();
        match error {
            RecordError::Unwritable { .. } => Self::Internal(why),
            RecordError::Unreadable { .. }
            | RecordError::Kind { .. }
            | RecordError::Version { .. } => Self::Unreadable(why),
        }
    }
}
