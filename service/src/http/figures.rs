//! What is counted, in OpenMetrics.
//!
//! | name | kind | labels |
//! |---|---|---|
//! | `etui_requests_total` | counter | `operation`, `status` |
//! | `etui_request_seconds` | histogram | `operation` |
//! | `etui_panics_total` | counter | |
//!
//! No label holds a reference, an id of a client or anything from a body.

use std::time::Duration;

use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::encoding::text::encode;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::histogram::{Histogram, exponential_buckets};
use prometheus_client::registry::Registry;

use crate::panics::counted;

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
        more(&mut registry);
        Self { registry, answered, took }
    }

    pub(crate) fn count(&self, operation: &'static str, status: u16, took: Duration) {
        self.answered.get_or_create(&Answered { operation, status: status.into() }).inc();
        self.took.get_or_create(&Called { operation }).observe(took.as_secs_f64());
    }

    /// The text that a collector reads.
    pub(crate) fn text(&self) -> Result<String, std::fmt::Error> {
        let mut out = String::new();
        encode(&mut out, &self.registry)?;
        Ok(out)
    }
}
