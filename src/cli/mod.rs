//! The command line: files in, figures and files out, one exit status.
//!
//! Results go to standard output and nothing else does; messages, warnings about files and the
//! progress bar go to standard error. Exit status 0: done; 2: the setup or the command line is
//! wrong; 1: anything else.

#![expect(
    clippy::disallowed_methods,
    reason = "this room is where files, clocks and the terminal are"
)]

mod arguments;
mod capture;
mod choose;
mod compare;
mod failure;
pub mod files;
mod headless;
mod input;
mod inspect;
mod interrupt;
mod kind;
mod lesson;
pub mod lesson_files;
mod lists;
mod open;
mod picture;
mod predict;
mod progress;
mod read;
mod readings;
mod rewind;
mod run;
mod say;
mod setups;
mod table;
mod wind;

use std::ffi::OsString;
use std::io::{IsTerminal, Write};
use std::process::ExitCode;

use clap::{CommandFactory as _, FromArgMatches as _};

pub use arguments::Arguments;
use arguments::Command;
pub use compare::JoinError;
pub use failure::Failure;
pub use kind::FileKind;
pub use read::{ReadError, read_setup_file};

/// Where results and messages go, and whether they are coloured.
pub(crate) struct Terminal<'a> {
    /// Results.
    pub(crate) out: &'a mut dyn Write,
    /// Colour on standard output.
    pub(crate) coloured: bool,
}

/// Runs the program with these arguments, the first of which is its own name.
#[must_use]
pub fn main(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let parsed = with_negative_values(Arguments::command())
        .try_get_matches_from(arguments)
        .and_then(|matches| Arguments::from_arg_matches(&matches));
    let arguments = match parsed {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version go to standard output with status 0, mistakes to standard error
            // with 2. That nobody reads them any more is no failure.
            let _ = error.print();
            return ExitCode::from(if error.use_stderr() { 2 } else { 0 });
        }
    };
    interrupt::install();
    let stdout = std::io::stdout();
    let coloured = stdout.is_terminal() && colour_wanted();
    let mut lock = std::io::BufWriter::new(stdout.lock());
    let mut terminal = Terminal {
        out: &mut lock,
        coloured,
    };
    let result = dispatch(arguments, &mut terminal);
    let result = result.and_then(|()| lock.flush().map_err(Failure::Output));
    match result {
        Ok(()) => ExitCode::SUCCESS,
        // Whoever read the results has had enough: `wyebench schema | head -1`.
        Err(Failure::Output(error)) if error.kind() == std::io::ErrorKind::BrokenPipe => {
            ExitCode::SUCCESS
        }
        Err(failure) => {
            failure.report();
            ExitCode::from(failure.status())
        }
    }
}

/// Lets every option that takes one value take `-3 V` too, which is then refused with what would be
/// right, rather than be looked for among the options.
fn with_negative_values(command: clap::Command) -> clap::Command {
    command
        .mut_args(|arg| {
            let one = arg.get_action().takes_values() && arg.get_num_args().is_none();
            if one && !arg.is_positional() {
                arg.allow_hyphen_values(true)
            } else {
                arg
            }
        })
        .mut_subcommands(with_negative_values)
}

/// The wish of <https://no-color.org>, and terminals that cannot.
fn colour_wanted() -> bool {
    std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty())
        && std::env::var_os("TERM").is_none_or(|term| term != "dumb")
}

fn dispatch(arguments: Arguments, terminal: &mut Terminal<'_>) -> Result<(), Failure> {
    match arguments.command {
        Some(Command::Run(arguments)) => run::command(&arguments, terminal),
        Some(Command::Picture(arguments)) => picture::command(&arguments),
        Some(Command::Check(arguments)) => setups::check(&arguments, terminal),
        Some(Command::New(arguments)) => setups::new(&arguments, terminal),
        Some(Command::Schema) => setups::schema(terminal),
        Some(Command::Inspect(arguments)) => inspect::command(&arguments, terminal),
        Some(Command::Predict(arguments)) => predict::command(&arguments, terminal),
        Some(Command::Readings(arguments)) => readings::command(&arguments, terminal),
        Some(Command::Capture(arguments)) => capture::command(&arguments, terminal),
        Some(Command::Choose(arguments)) => choose::command(&arguments, terminal),
        Some(Command::Wind(arguments)) => wind::command(&arguments, terminal),
        Some(Command::Compare(arguments)) => compare::command(&arguments, terminal),
        Some(Command::Rewind(arguments)) => rewind::command(&arguments, terminal),
        Some(Command::Lesson(arguments)) => lesson::command(&arguments.command, terminal),
        Some(Command::Open(arguments)) => open::command(&arguments, terminal),
        None => open::built_in_setup(terminal),
    }
}
