//! Brings the text of a setup file, or says why it cannot.

use std::fmt;
use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use miette::Diagnostic;

use crate::setup::MAX_TEXT_BYTES;

/// Why a setup file could not be read.
#[derive(Debug)]
pub enum ReadError {
    /// There is no such file; `nearest` is one in the same folder whose name is near.
    Missing {
        /// As given.
        path: PathBuf,
        /// A file beside it with a near name.
        nearest: Option<PathBuf>,
    },
    /// It is a folder.
    Folder {
        /// As given.
        path: PathBuf,
    },
    /// It may not be read.
    NoPermission {
        /// As given.
        path: PathBuf,
    },
    /// It is larger than any setup.
    TooLarge {
        /// As given.
        path: PathBuf,
        /// Its size in bytes; `None` where it has no end that is known, such as a pipe.
        n_bytes: Option<u64>,
    },
    /// It is not text in UTF-8.
    NotText {
        /// As given.
        path: PathBuf,
        /// First byte that is not UTF-8, counted from 0.
        at_byte: usize,
        /// The line that byte is in, counted from 1.
        line: usize,
    },
    /// The system gave another reason.
    Other {
        /// As given.
        path: PathBuf,
        /// The reason.
        reason: io::Error,
    },
}

impl fmt::Display for ReadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Missing { path, .. } => write!(f, "there is no file {}", path.display()),
            Self::Folder { path } => write!(f, "{} is a folder", path.display()),
            Self::NoPermission { path } => write!(f, "{} may not be read", path.display()),
            Self::TooLarge {
                path,
                n_bytes: Some(n_bytes),
            } => {
                write!(
                    f,
                    "{} has {n_bytes} bytes, too many for a setup",
                    path.display()
                )
            }
            Self::TooLarge {
                path,
                n_bytes: None,
            } => {
                write!(f, "{} is too large for a setup", path.display())
            }
            Self::NotText {
                path,
                at_byte,
                line,
            } => {
                let path = path.display();
                write!(
                    f,
                    "{path} is not text in UTF-8: byte {at_byte}, in line {line}, is not a character"
                )
            }
            Self::Other { path, reason } => {
                write!(f, "{} cannot be read: {reason}", path.display())
            }
        }
    }
}

impl std::error::Error for ReadError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Other { reason, .. } => Some(reason),
            _ => None,
        }
    }
}

impl Diagnostic for ReadError {
    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        let text = match self {
            Self::Missing { nearest: Some(near), .. } => format!("did you mean {}?", near.display()),
            Self::Missing { nearest: None, path } => {
                // `new` takes a name, not a path.
                let told = path.file_name().map_or_else(|| path.display(), |name| Path::new(name).display());
                let place = match path.parent() {
                    Some(folder) if !folder.as_os_str().is_empty() => format!(" in {}", folder.display()),
                    _ => String::new(),
                };
                format!(
                    "`wyebench new {told}`{place} writes a setup with comments to start from; `predict`, \
                     `choose` and `readings` print a file of theirs with --example"
                )
            }
            Self::Folder { .. } => "name the setup file in it, such as FOLDER/bench.toml".to_owned(),
            Self::NoPermission { .. } => "ask for the right to read it, or copy it".to_owned(),
            Self::TooLarge { .. } => format!(
                "a setup is a text of a few kilobytes, at most {MAX_TEXT_BYTES} bytes; is it another file?"
            ),
            Self::NotText { at_byte, .. } if *at_byte < 4 => {
                "a setup is a TOML text; this looks like another kind of file, or UTF-16: save it as UTF-8"
                    .to_owned()
            }
            Self::NotText { .. } => "save it as UTF-8 in the editor; \"u\" and \"ohm\" need no special \
                 characters"
                .to_owned(),
            Self::Other { .. } => return None,
        };
        Some(Box::new(text))
    }
}

/// Reads a setup file of at most [`MAX_TEXT_BYTES`]; more is never taken into memory.
///
/// # Errors
/// What keeps the file from being a text, with a remedy.
pub fn read_setup_file(path: &Path) -> Result<String, ReadError> {
    let told = |reason: io::Error| match reason.kind() {
        io::ErrorKind::NotFound => ReadError::Missing {
            path: path.to_owned(),
            nearest: nearest_file(path),
        },
        io::ErrorKind::PermissionDenied => ReadError::NoPermission {
            path: path.to_owned(),
        },
        io::ErrorKind::IsADirectory => ReadError::Folder {
            path: path.to_owned(),
        },
        _ => ReadError::Other {
            path: path.to_owned(),
            reason,
        },
    };
    let about = std::fs::metadata(path).map_err(told)?;
    if about.is_dir() {
        return Err(ReadError::Folder {
            path: path.to_owned(),
        });
    }
    let limit = u64::try_from(MAX_TEXT_BYTES).unwrap_or(u64::MAX);
    if about.is_file() && about.len() > limit {
        return Err(ReadError::TooLarge {
            path: path.to_owned(),
            n_bytes: Some(about.len()),
        });
    }
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|file| file.take(limit + 1).read_to_end(&mut bytes))
        .map_err(told)?;
    if bytes.len() > MAX_TEXT_BYTES {
        return Err(ReadError::TooLarge {
            path: path.to_owned(),
            n_bytes: None,
        });
    }
    String::from_utf8(bytes).map_err(|error| {
        let at_byte = error.utf8_error().valid_up_to();
        let line = 1 + error.as_bytes()[..at_byte]
            .iter()
            .filter(|b| **b == b'\n')
            .count();
        ReadError::NotText {
            path: path.to_owned(),
            at_byte,
            line,
        }
    })
}

/// A file in the same folder whose name is near.
fn nearest_file(path: &Path) -> Option<PathBuf> {
    let wanted = path.file_name()?.to_str()?;
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty());
    let names = std::fs::read_dir(folder.unwrap_or(Path::new("."))).ok()?;
    let mut near: Vec<(usize, String)> = names
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .map(|name| (strsim::osa_distance(&name, wanted), name))
        .filter(|(distance, name)| *distance <= (name.chars().count() / 4).clamp(1, 3))
        .collect();
    near.sort();
    let (_, name) = near.into_iter().next()?;
    Some(path.with_file_name(name))
}
