//! How much was committed, and in how many groups: the fewer groups, the fewer syncs.

use std::sync::LazyLock;

use prometheus_client::metrics::counter::Counter;

static COMMITS: LazyLock<Counter> = LazyLock::new(Counter::default);
static GROUPS: LazyLock<Counter> = LazyLock::new(Counter::default);

/// Batches that this process has committed.
#[must_use]
pub fn commits() -> Counter {
    COMMITS.clone()
}

/// Syncs that they shared.
#[must_use]
pub fn groups() -> Counter {
    GROUPS.clone()
}

/// One group of so many batches is on disk.
pub(crate) fn group(of: usize) {
    COMMITS.inc_by(of as u64);
    GROUPS.inc();
}
