//! Reading a setup from a file or from standard input.

use std::io::{self, Read};
use std::path::Path;

use super::{Failure, read_setup_file};
use crate::choose::{Goal, Parts};
use crate::predict::Build;
use crate::readings::BenchSheet;
use crate::readings::capture::MAX_CAPTURE_BYTES;
use crate::setup::{MAX_TEXT_BYTES, Setup};

/// Reads and checks the setup at `path`; `-` is standard input.
pub(crate) fn read_setup(path: &Path) -> Result<Setup, Failure> {
    let (text, name) = read_text(path)?;
    Setup::parse(&text, &name).map_err(|errors| Failure::Setup(Box::new(errors)))
}

/// Reads and checks the build file at `path`, `-` is standard input; and its text as it was.
pub(crate) fn read_build(path: &Path) -> Result<(Build, String), Failure> {
    let (text, name) = read_text(path)?;
    let build = Build::parse(&text, &name).map_err(|errors| Failure::Setup(Box::new(errors)))?;
    Ok((build, text))
}

/// Reads and checks the goal file at `path`; `-` is standard input.
pub(crate) fn read_goal(path: &Path) -> Result<Goal, Failure> {
    let (text, name) = read_text(path)?;
    Goal::parse(&text, &name).map_err(|errors| Failure::Setup(Box::new(errors)))
}

/// Reads and checks the table of parts at `path`; `-` is standard input.
pub(crate) fn read_parts(path: &Path) -> Result<Parts, Failure> {
    let (text, name) = read_text(path)?;
    Parts::parse(&text, &name).map_err(|errors| Failure::Setup(Box::new(errors)))
}

/// Reads and checks the readings file at `path`, `-` is standard input; and its text as it was.
pub(crate) fn read_readings(path: &Path) -> Result<(BenchSheet, String), Failure> {
    let (text, name) = read_text(path)?;
    let sheet = BenchSheet::parse(&text, &name);
    let sheet = sheet.map_err(|errors| Failure::Setup(Box::new(errors)))?;
    Ok((sheet, text))
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
fn read_text(path: &Path) -> Result<(String, String), Failure> {
    Ok(if path.as_os_str() == "-" {
        (read_stdin()?, "standard input".to_owned())
    } else {
        (
            read_setup_file(path).map_err(Failure::Unreadable)?,
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
