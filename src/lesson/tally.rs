//! Every run of the course, and the setup that the program starts with: the same bits on every
//! machine, in a browser too. What is counted here is counted there, and a test compares.

use super::making::Making;
use super::problem::Complaint;
use super::runs::Runs;
use super::{course, parse};
use crate::setup::{Setup, built_in};

/// What stands for the setup that the program starts with among the folders.
const BUILT_IN: &str = "built-in";

/// Folder and name of every run, in the order of the course.
#[must_use]
pub fn names() -> Vec<[String; 2]> {
    let mut names = vec![[BUILT_IN.to_owned(), String::new()]];
    for folder in course::folders() {
        let lesson = course::files(folder).and_then(|files| parse(files).ok());
        let runs = lesson.into_iter().flat_map(|lesson| lesson.runs);
        names.extend(runs.map(|run| [folder.to_owned(), run.name]));
    }
    names
}

/// The figures that are numbers of one of them, each as `folder/run key bits`, the bits of the
/// double in hexadecimal.
///
/// # Errors
/// A run that there is not, or that cannot be made.
pub fn lines([folder, name]: &[String; 2]) -> Result<Vec<String>, Complaint> {
    let unknown = || Complaint::Unknown {
        what: "run",
        name: format!("{folder}/{name}"),
        nearest: None,
    };
    let figures = if folder == BUILT_IN {
        let setup = Setup::parse(built_in(), BUILT_IN).map_err(|errors| Complaint::Setup {
            file: BUILT_IN.to_owned(),
            errors: Box::new(errors),
        })?;
        let mut making = Making::new(BUILT_IN, setup, toml::Table::new(), false)?;
        while !making.advance(u32::MAX)? {}
        making.ran()?.figures
    } else {
        let files = course::files(folder).ok_or_else(unknown)?;
        let lesson = parse(files).map_err(|_| unknown())?;
        Runs::new(&lesson).get(name, false)?.figures.clone()
    };
    let numbers = figures.iter().filter_map(|figure| {
        // zero without a sign: which of both a maximum gives is the processor's choice
        let bits = (figure.number()? + 0.0).to_bits();
        Some(format!("{folder}/{name} {} {bits:016x}", figure.key))
    });
    Ok(numbers.collect())
}
