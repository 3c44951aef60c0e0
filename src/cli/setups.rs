//! `wyebench check`, `new` and `schema`: the setup file itself.

use std::io::{IsTerminal, Write};
use std::path::Path;

use super::arguments::{CheckArguments, NewArguments};
use super::failure::{setup_text, shown_path};
use super::kind::quoted;
use super::{Failure, Terminal, files, input};
use crate::setup;

/// Reads each setup and says whether it can be used.
pub(crate) fn check(
    arguments: &CheckArguments,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let mut n_wrong = 0;
    for path in &arguments.setups {
        match input::read_setup(path) {
            Ok(_) => writeln!(terminal.out, "{}: ok", path.display())?,
            Err(failure) if arguments.setups.len() == 1 => return Err(failure),
            Err(failure) => {
                n_wrong += 1;
                // Results so far come first, in the order of the files.
                terminal.out.flush()?;
                match failure {
                    Failure::Setup(errors) => {
                        let coloured = std::io::stderr().is_terminal() && super::colour_wanted();
                        let text = setup_text(&errors, coloured);
                        let _ = std::io::stderr().write_all(text.as_bytes());
                    }
                    other => other.report(),
                }
            }
        }
    }
    if n_wrong > 0 {
        return Err(Failure::Setups {
            n_wrong,
            n_read: arguments.setups.len(),
        });
    }
    Ok(())
}

/// Writes a setup to start from.
pub(crate) fn new(arguments: &NewArguments, terminal: &mut Terminal<'_>) -> Result<(), Failure> {
    let name = arguments
        .name
        .strip_suffix(".toml")
        .unwrap_or(&arguments.name);
    let reason = if name.trim().is_empty() {
        Some("it is empty")
    } else if name
        .chars()
        .any(|character| matches!(character, '/' | '\\') || character.is_control())
    {
        Some("it is a name, not a path; change to the folder first")
    } else if name.starts_with(['.', '-']) {
        Some("it begins with a point or a dash")
    } else {
        None
    };
    if let Some(reason) = reason {
        return Err(Failure::Name {
            name: arguments.name.clone(),
            reason,
        });
    }
    let path_text = format!("{name}.toml");
    let path = Path::new(&path_text);
    files::write_new(path, setup::starter(name).as_bytes())?;
    writeln!(terminal.out, "{}", path.display())?;
    let told = shown_path(path);
    let _ = writeln!(
        std::io::stderr(),
        "{told} is written; `wyebench run {}` runs it",
        quoted(&path_text)
    );
    Ok(())
}

/// Prints the schema of the setup file.
pub(crate) fn schema(terminal: &mut Terminal<'_>) -> Result<(), Failure> {
    let text = serde_json::to_string_pretty(&setup::json_schema())?;
    writeln!(terminal.out, "{text}")?;
    Ok(())
}
