//! A panic costs only the work that it happened in.
//!
//! Nothing here is meant to panic. If something does, one request is answered
//! with 500 or one item of a batch is refused; it is counted, and told in one
//! line of the log that names the place in the program and nothing of what was
//! sent.

use std::panic::{self, AssertUnwindSafe, Location, PanicHookInfo};
use std::pin::pin;
use std::sync::LazyLock;
use std::task::Poll;

use prometheus_client::metrics::counter::Counter;

static CAUGHT: LazyLock<Counter> = LazyLock::new(Counter::default);

/// How many panics this process has caught.
#[must_use]
pub fn counted() -> Counter {
    CAUGHT.clone()
}

/// Does some work; `None` if it panicked.
pub fn caught<T>(work: impl FnOnce() -> T) -> Option<T> {
    // What the work had in hand is dropped with it; shared state is behind locks whose poison is
    // looked through, and whose holders only swap values.
    let done = panic::catch_unwind(AssertUnwindSafe(work)).ok();
    if done.is_none() {
        CAUGHT.inc();
    }
    done
}

/// Waits for some work; `None` if it panicked.
pub async fn caught_in<F: Future>(work: F) -> Option<F::Output> {
    let mut work = pin!(work);
    std::future::poll_fn(|context| match caught(|| work.as_mut().poll(context)) {
        Some(Poll::Pending) => Poll::Pending,
        Some(Poll::Ready(done)) => Poll::Ready(Some(done)),
        None => Poll::Ready(None),
    })
    .await
}

/// From now on a panic is one line of the log. Its text is left out: it may
/// quote what a client sent.
pub fn tell_in_log() {
    panic::set_hook(Box::new(|info: &PanicHookInfo<'_>| {
        let at = info.location().map(Location::to_string).unwrap_or_default();
        let thread = std::thread::current();
        let thread = thread.name().unwrap_or("unnamed");
        tracing::error!(at, thread, "panicked");
    }));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_panics_is_caught_and_counted() {
        let before = counted().get();
        assert_eq!(caught(|| 3), Some(3));
        let none: Option<()> = caught(|| panic!("what a client sent"));
        assert_eq!(none, None);
        assert!(before < counted().get());
    }
}
