//! The window on a setup, or, where none can open, its run without one.

use std::path::Path;

use super::arguments::OpenArguments;
use super::failure::shown_path;
use super::input::read_setup;
use super::{Failure, Terminal, headless};
use crate::setup::{Setup, built_in};

/// Opens the setup that was named.
pub(crate) fn command(
    arguments: &OpenArguments,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let setup = read_setup(&arguments.setup)?;
    let path = Some(arguments.setup.as_path()).filter(|path| path.as_os_str() != "-");
    open(&setup, path, &shown_path(&arguments.setup), terminal)
}

/// Opens the built-in setup: what the program does when nothing is asked.
pub(crate) fn built_in_setup(terminal: &mut Terminal<'_>) -> Result<(), Failure> {
    let name = "the built-in setup";
    let setup =
        Setup::parse(built_in(), name).map_err(|errors| Failure::Setup(Box::new(errors)))?;
    open(&setup, None, name, terminal)
}

#[cfg(feature = "window")]
fn open(
    setup: &Setup,
    path: Option<&Path>,
    what: &str,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    use crate::app::OpenError;
    match crate::app::open(setup, path, None) {
        Ok(()) => Ok(()),
        Err(OpenError::Winding(error)) => Err(error.into()),
        Err(error) => headless::command(setup, what, &error.to_string(), terminal),
    }
}

#[cfg(not(feature = "window"))]
fn open(
    setup: &Setup,
    _path: Option<&Path>,
    what: &str,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    headless::command(setup, what, "this build has no window", terminal)
}
