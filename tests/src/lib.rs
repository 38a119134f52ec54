//! The harness of the black-box tests: a real server on port 0 with its data
//! in a temporary folder, in this process ([`running`]) or in one of its own
//! ([`child`]); requests byte for byte ([`wire`]); the interface as its own
//! document tells it ([`document`]); what one document promised and another no
//! longer keeps ([`compatible`]); and one good request an operation
//! ([`tour`]), from which the examples in `openapi/` are recorded.

pub mod afternoons;
pub mod child;
pub mod compatible;
pub mod database;
pub mod differences;
pub mod document;
pub mod engine;
pub mod happenings;
pub mod keep_alive;
pub mod receiver;
pub mod running;
pub mod scans;
pub mod tour;
pub mod wire;

use std::path::PathBuf;

/// A zone in which it is about noon at a moment: by night no message goes out.
#[must_use]
pub fn zone_by_day(now: jiff::Timestamp) -> String {
    let hour = now.to_zoned_datetime(jiff::tz::TimeZone::UTC).hour();
    // The names say how far it is to UTC, and not from there.
    format!("Etc/GMT{:+}", hour - 12)
}

/// The folder of the checked-in documents.
#[must_use]
pub fn openapi_folder() -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../openapi"))
}
