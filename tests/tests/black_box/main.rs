//! The service from outside: over HTTP, on port 0, with its data in a
//! temporary folder. One program for all of it, so that it is linked once.
//!
//! | module | what it holds the service to |
//! |---|---|
//! | [`client`] | the client crate: typed calls, what it repeats and what not |
//! | [`document`] | the OpenAPI document is whole, and the service does what it says |
//! | [`drift`] | `openapi/` is what this build makes |
//! | [`matrix`] | every operation × every way to ask wrongly |
//! | [`nasty`] | hostile bytes: a clear refusal, and the service goes on |
//! | [`process`] | start, stop, kill |

mod client;
mod document;
mod drift;
mod matrix;
mod nasty;
mod process;
