//! The etui service: HTTP, use cases, store and events around the craft.
//!
//! ```text
//! main -> http -> studio -> { craft, events, schema } -> store
//! ```
//!
//! Only [`http`] names actix-web and utoipa, reads the clock and draws random
//! bytes; only [`store`] names sled and tokio-postgres; only [`events`] calls others. A use case in [`studio`] gets the time, new
//! ids and entropy as arguments and gives back values and planned writes.

pub mod backups;
mod build;
pub mod cli;
pub mod config;
pub mod demo;
pub mod events;
pub mod http;
#[cfg(test)]
#[path = "../craft/src/laws.rs"]
mod laws;
pub mod log;
mod look;
pub mod maintain;
mod notify;
pub mod panics;
mod progress;
mod settings;
pub mod store;
pub mod studio;

pub use http::background;
