//! The `wyebench` program.

#[cfg(not(target_arch = "wasm32"))]
fn main() -> std::process::ExitCode {
    wyebench::cli::main(std::env::args_os())
}

/// In a browser the library is the program.
#[cfg(target_arch = "wasm32")]
fn main() {}
