//! What is counted, in OpenMetrics.
//!
//! | name | kind | labels |
//! |---|---|---|
//! | `etui_requests_total` | counter | `operation`, `status` |
//! | `etui_request_seconds` | histogram | `operation` |
//! | `etui_panics_total` | counter | |
//! | `etui_outbox_lag_events`, `etui_deliveries_pending`, `etui_deliveries_dead` | gauge | |
//! | `etui_lots_held`, `etui_lease_overdue_seconds`, `etui_backup_age_seconds` | gauge | |
//! | `etui_commits_total`, `etui_commit_groups_total` | counter | |
//!
//! The gauges are read from the store when they are asked for. A backup that was never made has the
//! age -1.
//!
//! No label holds a reference, an id of a client or anything from a body.

use std::time::Duration;

use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::encoding::text::encode;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::histogram::{Histogram, exponential_buckets};
use prometheus_client::registry::Registry;

use crate::panics::counted;
use crate::store::counts::{commits, groups};
use crate::studio::standing::Standing;

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Answered {
    operation: &'static str,
    status: u32,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Called {
    operation: &'static str,
}

/// The figures of one process.
#[derive(Debug)]
pub(crate) struct Figures {
    registry: Registry,
    answered: Family<Answered, Counter>,
    took: Family<Called, Histogram>,
    stand: Gauges,
}

/// How things stand.
#[derive(Debug, Default)]
struct Gauges {
    outbox_lag: Gauge,
    pending: Gauge,
    dead: Gauge,
    held_lots: Gauge,
    lease_overdue: Gauge,
    backup_age: Gauge,
}

impl Gauges {
    fn register(&self, registry: &mut Registry) {
        let Self { outbox_lag, pending, dead, held_lots, lease_overdue, backup_age } = self;
        for (name, help, gauge) in [
            ("outbox_lag_events", "Events that the slowest subscription has not seen", outbox_lag),
            ("deliveries_pending", "Deliveries to be tried", pending),
            ("deliveries_dead", "Deliveries that were given up", dead),
            ("lots_held", "Lots that wait for a person", held_lots),
            ("lease_overdue_seconds", "Since when the oldest lease has run out", lease_overdue),
            ("backup_age_seconds", "Age of the newest backup; -1 without one", backup_age),
        ] {
            registry.register(name, help, gauge.clone());
        }
    }

    fn set(&self, standing: &Standing) {
        let Self { outbox_lag, pending, dead, held_lots, lease_overdue, backup_age } = self;
        let number = |of: u64| i64::try_from(of).unwrap_or(i64::MAX);
        outbox_lag.set(number(standing.outbox_lag));
        pending.set(number(standing.pending));
        dead.set(number(standing.dead));
        held_lots.set(number(standing.held_lots));
        lease_overdue.set(number(standing.lease_overdue_s));
        backup_age.set(standing.backup_age_s.map_or(-1, number));
    }
}

impl Figures {
    /// The figures; `more` adds those of the store.
    pub(crate) fn new(more: impl FnOnce(&mut Registry)) -> Self {
        let mut registry = Registry::with_prefix("etui");
        let answered = Family::<Answered, Counter>::default();
        // 50 µs to 1.6 s: stateless answers at the low end, a stalled disk at the high one.
        let took = Family::<Called, Histogram>::new_with_constructor(|| {
            Histogram::new(exponential_buckets(50e-6, 2.0, 16))
        });
        registry.register("requests", "Requests answered", answered.clone());
        registry.register("request_seconds", "Time from head to answer", took.clone());
        registry.register("panics", "Panics caught; each cost one request or item", counted());
        registry.register("commits", "Batches that were committed", commits());
        registry.register("commit_groups", "Syncs that they shared", groups());
        more(&mut registry);
        let stand = Gauges::default();
        stand.register(&mut registry);
        Self { registry, answered, took, stand }
    }

    pub(crate) fn count(&self, operation: &'static str, status: u16, took: Duration) {
        self.answered.get_or_create(&Answered { operation, status: status.into() }).inc();
        self.took.get_or_create(&Called { operation }).observe(took.as_secs_f64());
    }

    /// The text that a collector reads, with how things stand now if that could be seen.
    pub(crate) fn text(&self, standing: Option<&Standing>) -> Result<String, std::fmt::Error> {
        if let Some(standing) = standing {
            self.stand.set(standing);
        }
        let mut out = String::new();
        encode(&mut out, &self.registry)?;
        Ok(out)
    }
}
