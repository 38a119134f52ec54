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

/// The folder of the checked-in documents.
#[must_use]
pub fn openapi_folder() -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../openapi"))
}
