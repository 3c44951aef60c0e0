//! The `wyebench` program.

#[cfg(not(target_arch = "wasm32"))]
fn main() -> std::process::ExitCode {
    wyebench::cli::main(std::env::args_os())
}

/// In a browser there are no arguments: the page's address says what is to stand on the bench.
#[cfg(all(target_arch = "wasm32", feature = "window"))]
fn main() {
    wyebench::app::start();
}

/// The core alone is a library.
#[cfg(all(target_arch = "wasm32", not(feature = "window")))]
fn main() {}
