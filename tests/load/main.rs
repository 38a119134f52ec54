//! What etui costs, in one run, and what became dearer since the last.
//!
//! ```text
//! cargo bench -p etui-tests --bench cost                 # everything; rewrites the tables in FIGURES.md
//! cargo bench -p etui-tests --bench cost -- calls writes # some parts; the others keep their figures
//! ETUI_LOAD_RECORDS=20000 …                              # fewer records; ETUI_LOAD_FOLDER=DIR keeps what was made
//! ETUI_LOAD_KEEP=1 …                                     # prints, and leaves FIGURES.md as it is
//! ```
//!
//! | part | what is measured |
//! |---|---|
//! | `craft` | the craft's own benchmarks, on one core |
//! | `start` | start to the first answer, memory at rest, size of the program |
//! | `calls` | processor time of calls beside an echo of the answer, over one connection and over 16 |
//! | `writes` | durable checks and treatments, deliveries and clients over 16 connections, against the bare engine with the same rows |
//! | `crowds` | claims by 64 connections, 16 writers on the packs of one lot |
//! | `reads` | opening and reading a million records |
//! | `growth` | cost against the number of records, and the exponent that is read off |
//!
//! Nothing is asserted: a busy machine is no fault of the code. What counts are
//! ratios, each measured beside what it is a ratio to; [`ledger`] keeps them.
//! Processor time is what the kernel counted for the serving process. The load
//! comes from this process; the service and the echo are processes of their own
//! with the same number of workers and are measured in turns.

mod calls;
mod craft;
mod crowds;
mod echo;
mod engine;
mod figures;
mod generate;
mod growth;
mod ledger;
mod load;
mod reads;
mod timed;
mod writes;

use std::process::ExitCode;

use etui_service::store::harden_sync;
use ledger::Ledger;

/// The service as it is measured.
const PROGRAM: &str = env!("CARGO_BIN_EXE_etui_under_test");

/// One part of the run: it notes its figures.
type Part<'p> = &'p dyn Fn(&mut Ledger);

/// A number out of the environment.
fn setting(name: &str, otherwise: usize) -> usize {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(otherwise)
}

fn main() -> ExitCode {
    let wanted: Vec<String> = std::env::args().skip(1).collect();
    if wanted.iter().any(|argument| argument == echo::FLAG) {
        return echo::serve();
    }
    let wanted: Vec<&String> = wanted.iter().filter(|part| !part.starts_with('-')).collect();
    // Before any thread starts, as in the service: the same syncs on both sides.
    let sync_path = harden_sync();
    if !sync_path.is_durable() {
        println!("note: {sync_path}");
    }
    let mut ledger = Ledger::begin();
    let parts: [(&str, Part<'_>); 7] = [
        ("craft", &craft::measure),
        ("start", &calls::start_and_memory),
        ("calls", &calls::measure),
        ("writes", &|ledger| writes::measure(ledger, &sync_path)),
        ("crowds", &|ledger| crowds::measure(ledger, &sync_path)),
        ("reads", &|ledger| reads::measure(ledger, &sync_path)),
        ("growth", &|ledger| growth::measure(ledger, &sync_path)),
    ];
    for part in &wanted {
        if parts.iter().all(|(name, _)| name != part) {
            let known: Vec<&str> = parts.iter().map(|(name, _)| *name).collect();
            eprintln!("there is no part `{part}`; there are {}", known.join(", "));
            return ExitCode::FAILURE;
        }
    }
    for (name, measure) in parts {
        if wanted.is_empty() || wanted.iter().any(|part| *part == name) {
            measure(&mut ledger);
        }
    }
    ledger.close(setting("ETUI_LOAD_KEEP", 0) == 0)
}
