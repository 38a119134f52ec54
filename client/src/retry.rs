//! How often and how long to try again.
//!
//! The wait before attempt *n* + 1 is `first_wait · 2^(n-1)`, at most
//! `longest_wait`, of which a random half is taken off, so that many clients
//! that were refused together do not come back together. A `Retry-After`
//! replaces it; one that is longer than `longest_wait` ends the attempts.

use std::time::Duration;

use etui_schema::problem::ErrorCode;
use uuid::Uuid;

use crate::error::Error;

/// Limits of repetition.
///
/// ```
/// use etui_client::Retries;
/// assert_eq!(Retries::none().attempts, 1);
/// assert!(1 < Retries::default().attempts);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Retries {
    /// Attempts in all, the first included; 0 counts as 1.
    pub attempts: u32,
    /// The wait before the second attempt, before jitter.
    pub first_wait: Duration,
    /// No wait is longer; a service that asks for more gets no more attempts.
    pub longest_wait: Duration,
}

impl Retries {
    /// One attempt only.
    #[must_use]
    pub const fn none() -> Self {
        Self { attempts: 1, first_wait: Duration::ZERO, longest_wait: Duration::ZERO }
    }

    /// The wait after the failed attempt number `attempt` (from 1), or
    /// `None` if there is to be no other.
    pub(crate) fn wait_after(&self, attempt: u32, error: &Error, luck: f64) -> Option<Duration> {
        if self.attempts <= attempt || !may_pass(error) {
            return None;
        }
        if let Error::Problem { retry_after: Some(asked), .. } = error {
            return (*asked <= self.longest_wait).then_some(*asked);
        }
        let doublings = (attempt - 1).min(16);
        let grown = self.first_wait.saturating_mul(1 << doublings).min(self.longest_wait);
        Some(grown.mul_f64(1.0 - 0.5 * luck.clamp(0.0, 1.0)))
    }
}

impl Default for Retries {
    /// Four attempts; waits from 0.1 s, none longer than 10 s.
    fn default() -> Self {
        Self {
            attempts: 4,
            first_wait: Duration::from_millis(100),
            longest_wait: Duration::from_secs(10),
        }
    }
}

/// Whether the failure is of a kind that passes by itself.
pub(crate) fn may_pass(error: &Error) -> bool {
    match error {
        Error::Transport(_) => true,
        Error::Problem { problem, .. } => match problem.code.known() {
            Some(code) => matches!(
                code,
                ErrorCode::RateLimited
                    | ErrorCode::Unavailable
                    | ErrorCode::InProgress
                    | ErrorCode::Timeout
            ),
            // A code that is newer than this client: its status says as much.
            None => matches!(problem.status, 408 | 429 | 503),
        },
        // A proxy before the service, in its own words.
        Error::Unexpected { status, .. } => matches!(status, 502..=504),
        Error::Newer(_) | Error::Unusable(_) => false,
    }
}

/// A new idempotency key.
#[expect(
    clippy::disallowed_methods,
    reason = "the client is outside the service and makes its own keys"
)]
pub(crate) fn new_key() -> Uuid {
    Uuid::now_v7()
}

/// A number from 0 to 1 out of the random bytes of an id.
pub(crate) fn luck() -> f64 {
    f64::from(u16::from_be_bytes([new_key().as_bytes()[14], new_key().as_bytes()[15]]))
        / f64::from(u16::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(code: ErrorCode, retry_after_s: Option<u64>) -> Error {
        Error::Problem {
            problem: Box::new(etui_schema::problem::Problem {
                type_: String::new(),
                title: String::new(),
                status: code.status(),
                detail: String::new(),
                instance: String::new(),
                code: code.into(),
                request_id: String::new(),
                says: None,
                errors: Vec::new(),
            }),
            retry_after: retry_after_s.map(Duration::from_secs),
        }
    }

    #[test]
    fn waits_grow_and_are_bounded() {
        let limits = Retries {
            attempts: 6,
            first_wait: Duration::from_millis(100),
            longest_wait: Duration::from_millis(500),
        };
        let busy = refused(ErrorCode::Unavailable, None);
        for (attempt, luck, want_ms) in [
            (1, 0.0, Some(100)),
            (1, 1.0, Some(50)),
            (2, 0.0, Some(200)),
            (3, 0.0, Some(400)),
            (4, 0.0, Some(500)),
            (5, 0.5, Some(375)),
            (6, 0.0, None),
        ] {
            let got = limits.wait_after(attempt, &busy, luck);
            assert_eq!(got, want_ms.map(Duration::from_millis), "attempt {attempt}, luck {luck}");
        }
    }

    #[test]
    fn a_wait_that_the_service_asks_for_is_kept_or_ends_it() {
        let limits = Retries::default();
        for (asked_s, want_s) in [(0, Some(0)), (1, Some(1)), (10, Some(10)), (11, None)] {
            let error = refused(ErrorCode::RateLimited, Some(asked_s));
            let got = limits.wait_after(1, &error, 0.5);
            assert_eq!(got, want_s.map(Duration::from_secs), "asked for {asked_s} s");
        }
    }

    #[test]
    fn what_does_not_pass_by_itself_is_not_repeated() {
        for code in ErrorCode::ALL {
            let passes = matches!(code.status(), 408 | 429 | 503) || *code == ErrorCode::InProgress;
            let got = Retries::default().wait_after(1, &refused(*code, None), 0.0);
            assert_eq!(got.is_some(), passes, "{code}");
        }
    }

    #[test]
    fn luck_is_a_fraction() {
        for _ in 0..100 {
            assert!((0.0..=1.0).contains(&luck()));
        }
    }
}
