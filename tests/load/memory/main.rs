//! How the memory behaves with a million treatment records, and how fast
//! durable writes are beside the bare engine.
//!
//! ```text
//! cargo bench -p etui-tests --bench memory            # all of it, a million
//! ETUI_LOAD_RECORDS=20000 cargo bench … -- reads      # one part, smaller
//! ETUI_LOAD_FOLDER=/big/disk …                        # where; kept for the next run
//! ```
//!
//! | part | what is measured | goal |
//! |---|---|---|
//! | `reads` | open after a clean close | under 3 s |
//! | | resident memory, at most | under 400 MB |
//! | | exposures of one lot | under 10 ms + 20 µs a row |
//! | | a page of 100 lots, treatments, due reminders, p99 | under 5 ms |
//! | `writes` | durable writes over 16 connections, against one committer on the bare engine with the same syncs | at least 60 % |
//!
//! The records are made by the service's own use cases and store; what is
//! measured goes over HTTP to a process of its own, one connection kept open.
//! Goals are printed beside the figures and not asserted: a busy machine is no
//! fault of the code.

mod engine;
mod generate;
mod reads;
mod timed;
mod writes;

use etui_service::store::harden_sync;

/// A number out of the environment.
fn setting(name: &str, otherwise: usize) -> usize {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(otherwise)
}

fn main() {
    // Before any thread starts, as in the service: the same syncs on both sides.
    let sync_path = harden_sync();
    let wanted: Vec<String> = std::env::args().skip(1).filter(|a| !a.starts_with('-')).collect();
    let wants = |part: &str| wanted.is_empty() || wanted.iter().any(|one| one == part);
    if !sync_path.is_durable() {
        println!("note: {sync_path}");
    }
    if wants("reads") {
        reads::measure(&sync_path);
    }
    if wants("writes") {
        writes::measure();
    }
}

/// Prints a figure beside its goal.
fn figure(what: &str, found: &str, goal: &str) {
    println!("{what:<52} {found:>16}   goal {goal}");
}
