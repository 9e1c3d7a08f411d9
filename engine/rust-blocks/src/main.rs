//! The program that runs Rust blocks, `benchleaf-rust`: the command line starts it, asks it to compile blocks and to run
//! them, a line of JSON each way (see `benchleaf_core::host::wire`), and ends it. It is three programs in one, as
//! `evcxr` wants it: this host, the process that user code is loaded into, and a wrapper of the compiler.

mod compose;
mod findings;
mod host;
mod limits;
mod prelude;
mod reply;
mod rust_type;
mod watch;

use std::process::ExitCode;

fn main() -> ExitCode {
    // The process that user code runs in limits itself before it loads any.
    if std::env::var_os("EVCXR_IS_RUNTIME").is_some() && !limits::for_blocks() {
        return ExitCode::FAILURE;
    }
    evcxr::runtime_hook();
    host::run(std::env::args_os().skip(1))
}
