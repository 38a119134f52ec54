//! What the client tells a tracing subscriber: one event an attempt at the
//! level debug, one a wait at the level info. Never a path, which may carry
//! references of clients, nor a body, nor the token.

use std::time::Duration;

use reqwest::Method;

use crate::error::Error;
use crate::send::Answer;

pub(crate) fn attempt(
    method: &Method,
    attempt: u32,
    took: Duration,
    heard: &Result<Answer, Error>,
) {
    let duration_ms = took.as_secs_f64() * 1e3;
    let method = method.as_str();
    match heard {
        Ok(answer) => tracing::debug!(
            method,
            attempt,
            duration_ms,
            status = answer.status(),
            request.id = answer.request_id(),
            "answered"
        ),
        Err(Error::Problem { problem, .. }) => tracing::debug!(
            method,
            attempt,
            duration_ms,
            status = problem.status,
            code = %problem.code,
            request.id = problem.request_id,
            "refused"
        ),
        Err(Error::Unexpected { status, .. }) => {
            tracing::debug!(method, attempt, duration_ms, status, "not understood");
        }
        Err(Error::Newer(newer)) => {
            let (status, words) = (newer.status, newer.words.len());
            tracing::debug!(method, attempt, duration_ms, status, words, "newer than this client");
        }
        Err(Error::Transport(why)) => {
            let (timeout, connect) = (why.is_timeout(), why.is_connect());
            tracing::debug!(method, attempt, duration_ms, timeout, connect, "not reached");
        }
        Err(Error::Unusable(_)) => {}
    }
}

pub(crate) fn waits(method: &Method, attempt: u32, wait: Duration) {
    let wait_ms = wait.as_secs_f64() * 1e3;
    tracing::info!(method = method.as_str(), attempt, wait_ms, "tries again");
}
