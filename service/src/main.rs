//! The `etui` command; everything lies in the library.

use std::process::ExitCode;

use tikv_jemallocator::Jemalloc;

#[global_allocator]
static ALLOCATOR: Jemalloc = Jemalloc;

fn main() -> ExitCode {
    etui_service::cli::run()
}
