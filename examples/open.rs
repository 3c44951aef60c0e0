//! Opens the window on a setup file, or on the built-in setup.
//!
//! `cargo run --example open -- my_motor.toml`

use wyebench::setup::{Setup, built_in};

#[expect(clippy::disallowed_methods, reason = "a program reads its file itself")]
fn main() -> Result<(), Box<dyn std::error::Error>> {
    let setup = match std::env::args().nth(1) {
        None => Setup::parse(built_in(), "built-in setup")?,
        Some(path) => Setup::parse(&std::fs::read_to_string(&path)?, &path)?,
    };
    wyebench::app::open(&setup)?;
    Ok(())
}
