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

/// Walks a list from page to page, from its beginning again at its end: what each took.
pub(crate) fn walk(connection: &mut Connection, target: &str, times: usize) -> Vec<Duration> {
    let mut next = target.to_owned();
    let one = |_| {
        let (answer, took) = ask(connection, &Request::get(&next));
        next = match answer.json()["next_cursor"].as_str() {
            Some(cursor) => format!("{target}&cursor={cursor}"),
            None => target.to_owned(),
        };
        took
    };
    (0..times).map(one).collect()
}

pub(crate) fn milliseconds(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}
