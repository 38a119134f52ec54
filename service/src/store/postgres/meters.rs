//! What is counted of the database, for `/metrics`.
//!
//! | name | kind | what |
//! |---|---|---|
//! | `etui_store_group_batches` | histogram | batches committed together |
//! | `etui_store_commit_seconds` | histogram | from the first packet of a group to its answer |
//! | `etui_store_turn_wait_seconds` | histogram | of that, until the turn was had and the rows were read |
//! | `etui_store_pool_waiting` | gauge | views that wait for a connection |
//! | `etui_store_lost_commits_total` | counter | commits whose answer was lost and asked for |

use std::time::Duration;

use prometheus_client::metrics::{
    counter::Counter,
    gauge::Gauge,
    histogram::{Histogram, exponential_buckets},
};
use prometheus_client::registry::Registry;

/// The figures of one store.
#[derive(Debug)]
pub(super) struct Meters {
    batches: Histogram,
    commit: Histogram,
    turn: Histogram,
    waiting: Gauge,
    lost: Counter,
}

/// One view that waits; it waits no longer when this is dropped.
pub(super) struct Waiting<'a>(&'a Gauge);

impl Drop for Waiting<'_> {
    fn drop(&mut self) {
        self.0.dec();
    }
}

impl Meters {
    pub(super) fn new() -> Self {
        Self {
            batches: Histogram::new(exponential_buckets(1.0, 2.0, 7)),
            // 0.2 ms to 6.5 s.
            commit: Histogram::new(exponential_buckets(200e-6, 2.0, 16)),
            turn: Histogram::new(exponential_buckets(200e-6, 2.0, 16)),
            waiting: Gauge::default(),
            lost: Counter::default(),
        }
    }

    pub(super) fn register(&self, registry: &mut Registry) {
        let Self { batches, commit, turn, waiting, lost } = self;
        let registry = registry.sub_registry_with_prefix("store");
        registry.register("group_batches", "Batches committed together", batches.clone());
        registry.register("commit_seconds", "Time of a group to its answer", commit.clone());
        registry.register("turn_wait_seconds", "Of that, until it could decide", turn.clone());
        registry.register("pool_waiting", "Views that wait for a connection", waiting.clone());
        registry.register("lost_commits", "Commits whose answer was asked for", lost.clone());
    }

    pub(super) fn waiting(&self) -> Waiting<'_> {
        self.waiting.inc();
        Waiting(&self.waiting)
    }

    pub(super) fn committed(&self, batches: usize, took: Duration) {
        self.batches.observe(f64::from(u32::try_from(batches).unwrap_or(u32::MAX)));
        self.commit.observe(took.as_secs_f64());
    }

    pub(super) fn had_the_turn(&self, took: Duration) {
        self.turn.observe(took.as_secs_f64());
    }

    pub(super) fn lost(&self) {
        self.lost.inc();
    }
}
