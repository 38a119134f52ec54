//! The service as the tests start it: the same command line as `etui`.

use std::process::ExitCode;

use tikv_jemallocator::Jemalloc;

#[global_allocator]
static ALLOCATOR: Jemalloc = Jemalloc;

fn main() -> ExitCode {
    etui_service::cli::run()
}
