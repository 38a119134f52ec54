//! The service as the tests start it: the same command line as `etui`.

use std::process::ExitCode;

use mimalloc::MiMalloc;

#[global_allocator]
static ALLOCATOR: MiMalloc = MiMalloc;

fn main() -> ExitCode {
    etui_service::cli::run()
}
