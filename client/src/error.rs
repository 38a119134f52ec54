//! What can go wrong with a call.

use std::fmt;
use std::time::Duration;

use etui_schema::problem::{ErrorCode, Problem};

use crate::newer::Newer;

/// Why a call has no answer to give.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The service refused, and says why.
    #[error("{problem}")]
    Problem {
        /// What it said; branch on its `code`.
        problem: Box<Problem>,
        /// How long to wait before another attempt, if it said so.
        retry_after: Option<Duration>,
    },
    /// The request or its answer did not get through.
    #[error("the service could not be reached")]
    Transport(#[source] TransportError),
    /// An answer that this client does not understand: another program at
    /// that address, a proxy's own page, or a newer service.
    #[error("unexpected answer with status {status}: {detail}")]
    Unexpected {
        /// The HTTP status.
        status: u16,
        /// What was not understood.
        detail: String,
    },
    /// An answer with words that this client does not know: a newer service.
    #[error("the answer has words that this client does not know, such as `{}` at {}",
        .0.words.first().map_or("", |w| &w.word), .0.words.first().map_or("", |w| &w.pointer))]
    Newer(Box<Newer>),
    /// A setting or an argument with which no request can be made.
    #[error("no request can be made of this: {0}")]
    Unusable(String),
}

impl Error {
    /// The service's error code, if it was the service that refused, with a code that is known
    /// here.
    #[must_use]
    pub fn code(&self) -> Option<ErrorCode> {
        self.problem().and_then(|problem| problem.code.known())
    }

    /// The service's problem body, if it was the service that refused.
    #[must_use]
    pub fn problem(&self) -> Option<&Problem> {
        match self {
            Self::Problem { problem, .. } => Some(problem),
            Self::Transport(_) | Self::Unexpected { .. } | Self::Newer(_) | Self::Unusable(_) => {
                None
            }
        }
    }
}

/// A failure of the connection. What lies behind it is only for reading.
pub struct TransportError(reqwest::Error);

impl TransportError {
    pub(crate) fn new(error: reqwest::Error) -> Self {
        // The address may carry references of clients; a log need not.
        Self(error.without_url())
    }

    /// Whether time ran out.
    #[must_use]
    pub fn is_timeout(&self) -> bool {
        self.0.is_timeout()
    }

    /// Whether no connection came about: the request was certainly not seen.
    #[must_use]
    pub fn is_connect(&self) -> bool {
        self.0.is_connect()
    }
}

impl fmt::Debug for TransportError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(&self.0, f)
    }
}

impl fmt::Display for TransportError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(&self.0, f)
    }
}

impl std::error::Error for TransportError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        self.0.source()
    }
}
