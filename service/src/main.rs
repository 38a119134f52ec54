//! The `etui` command; everything lies in the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    etui_service::cli::run()
}
