//! What the craft says about its values, in the words of the wire.

use etui_craft::evidence::Basis;
use etui_schema::service;

/// Where values came from.
#[must_use]
pub fn basis(all: &[Basis]) -> Vec<service::Basis> {
    all.iter()
        .map(|Basis { about, source, kind }| service::Basis {
            about: about.to_string(),
            source: source.to_string(),
            kind: *kind,
        })
        .collect()
}
