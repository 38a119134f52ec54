//! The pre-appointment check: screening, needle, readiness, to-do list and
//! aftercare in one answer, kept as given.

mod keep;

pub use keep::{CheckTrace, list, newest, upcoming_with};
