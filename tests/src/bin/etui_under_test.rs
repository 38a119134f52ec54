//! The service as the tests start it: the same command line as `etui`.

use std::process::ExitCode;

fn main() -> ExitCode {
    etui_service::cli::run()
}
