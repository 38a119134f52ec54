//! What a figure rests on: requests over one kept connection, and their times.

use std::time::{Duration, Instant};

use etui_tests::keep_alive::Connection;
use etui_tests::wire::{Answer, Request};

/// Sends a request; its answer, which must be a good one, and the time it took.
pub(crate) fn ask(connection: &mut Connection, request: &Request) -> (Answer, Duration) {
    let started = Instant::now();
    let answer = connection.ask(request).expect("an answer");
    let took = started.elapsed();
    assert!(answer.status < 300, "{}: {}", request.target, answer.text());
    (answer, took)
}

/// The value below which this share of all lies.
pub(crate) fn quantile(all: &mut [Duration], share: f64) -> Duration {
    all.sort_unstable();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "a place in a list of a few thousand"
    )]
    let place = ((all.len() as f64) * share) as usize;
    all.get(place.min(all.len().saturating_sub(1))).copied().unwrap_or_default()
}
