//! Reading a setup from a file or from standard input.

use std::io::{self, Read};
use std::path::Path;

use super::kind::FileKind;
use super::{Failure, read_setup_file};
use crate::choose::{Goal, Parts};
use crate::predict::Build;
use crate::readings::BenchSheet;
use crate::readings::capture::MAX_CAPTURE_BYTES;
use crate::setup::{MAX_TEXT_BYTES, Setup, SetupErrors};

/// Reads and checks the setup at `path`; `-` is standard input.
pub(crate) fn read_setup(path: &Path) -> Result<Setup, Failure> {
    Ok(read_as(path, FileKind::Setup, Setup::parse)?.0)
}

/// Reads and checks the build file at `path`, `-` is standard input; and its text as it was.
pub(crate) fn read_build(path: &Path) -> Result<(Build, String), Failure> {
    read_as(path, FileKind::Build, Build::parse)
}

/// Reads and checks the goal file at `path`; `-` is standard input.
pub(crate) fn read_goal(path: &Path) -> Result<Goal, Failure> {
    Ok(read_as(path, FileKind::Goal, Goal::parse)?.0)
}

/// Reads and checks the table of parts at `path`; `-` is standard input.
pub(crate) fn read_parts(path: &Path) -> Result<Parts, Failure> {
    Ok(read_as(path, FileKind::Parts, Parts::parse)?.0)
}

/// Reads and checks the readings file at `path`, `-` is standard input; and its text as it was.
pub(crate) fn read_readings(path: &Path) -> Result<(BenchSheet, String), Failure> {
    read_as(path, FileKind::Readings, BenchSheet::parse)
}

/// Reads a file of a kind; one that is of another kind is told as that, and not by its problems.
fn read_as<T>(
    path: &Path,
    wanted: FileKind,
    parse: impl Fn(&str, &str) -> Result<T, SetupErrors>,
) -> Result<(T, String), Failure> {
    let (text, name) = read_text(path, wanted)?;
    match parse(&text, &name) {
        Ok(value) => Ok((value, text)),
        Err(errors) => Err(match wanted.rather(&text, errors.problems().len()) {
            Some(is) => Failure::OtherKind { name, is, wanted },
            None => Failure::Setup(Box::new(errors)),
        }),
    }
}

/// The bytes of a capture at `path`, one more than is taken where there are too many; `-` is
/// standard input.
pub(crate) fn read_capture(path: &Path) -> Result<Vec<u8>, Failure> {
    let most = u64::try_from(MAX_CAPTURE_BYTES)
        .unwrap_or(u64::MAX)
        .saturating_add(1);
    let mut bytes = Vec::new();
    if path.as_os_str() == "-" {
        let stdin = io::stdin().lock();
        stdin
            .take(most)
            .read_to_end(&mut bytes)
            .map_err(Failure::Input)?;
        return Ok(bytes);
    }
    let told = |reason| Failure::CaptureFile {
        path: path.to_owned(),
        reason,
    };
    std::fs::File::open(path)
        .and_then(|file| file.take(most).read_to_end(&mut bytes))
        .map_err(told)?;
    Ok(bytes)
}

/// The text at `path` and what messages call it.
fn read_text(path: &Path, wanted: FileKind) -> Result<(String, String), Failure> {
    Ok(if path.as_os_str() == "-" {
        (read_stdin()?, "standard input".to_owned())
    } else {
        (
            read_setup_file(path).map_err(|error| Failure::Unreadable { error, wanted })?,
            path.display().to_string(),
        )
    })
}

/// The text on standard input; one that is too long is cut where the parser will refuse it.
fn read_stdin() -> Result<String, Failure> {
    let most = u64::try_from(MAX_TEXT_BYTES)
        .unwrap_or(u64::MAX)
        .saturating_add(1);
    let mut bytes = Vec::new();
    io::stdin()
        .lock()
        .take(most)
        .read_to_end(&mut bytes)
        .map_err(Failure::Input)?;
    if bytes.len() > MAX_TEXT_BYTES {
        return Ok(String::from_utf8_lossy(&bytes).into_owned());
    }
    String::from_utf8(bytes).map_err(|error| {
        let before = &error.as_bytes()[..error.utf8_error().valid_up_to()];
        Failure::InputNotText {
            line: 1 + before.iter().filter(|&&byte| byte == b'\n').count(),
        }
    })
}
