//! Reads a lesson's folder, and nothing beside it.

use std::fmt;
use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use crate::lesson::{LessonFiles, MOST_FILES, MOST_TEXT_BYTES, TEXT_FILE, text};

/// Why a folder is no lesson.
#[derive(Debug)]
pub enum FolderError {
    /// There is no such folder, and no lesson of the course of that name.
    Missing {
        /// As given.
        path: PathBuf,
    },
    /// It is a file.
    NotAFolder {
        /// As given.
        path: PathBuf,
    },
    /// There is no lesson.md in it.
    NoText {
        /// As given.
        path: PathBuf,
    },
    /// Something in it that is neither lesson.md nor a setup.
    Foreign {
        /// The folder.
        path: PathBuf,
        /// Its name, fit to be printed.
        name: String,
        /// What it is: "a link", "a folder", "a file of another kind".
        what: &'static str,
    },
    /// More files than a lesson has.
    TooMany {
        /// As given.
        path: PathBuf,
    },
    /// A file larger than a lesson needs.
    TooLarge {
        /// The file.
        path: PathBuf,
        /// Its size.
        n_bytes: u64,
    },
    /// A file that is not text in UTF-8.
    NotText {
        /// The file.
        path: PathBuf,
    },
    /// The system gave another reason.
    Other {
        /// The file or folder.
        path: PathBuf,
        /// The reason.
        reason: io::Error,
    },
}

impl fmt::Display for FolderError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Missing { path } => write!(
                f,
                "there is no lesson `{0}` in the course and no folder `{0}`; `wyebench lesson list` names the lessons",
                path.display()
            ),
            Self::NotAFolder { path } => write!(
                f,
                "`{}` is a file; a lesson is the folder that holds lesson.md",
                path.display()
            ),
            Self::NoText { path } => write!(
                f,
                "`{}` has no {TEXT_FILE}; `wyebench lesson new NAME` writes a lesson to start from",
                path.display()
            ),
            Self::Foreign { path, name, what } => write!(
                f,
                "`{}` holds {what}, `{name}`: beside lesson.md a lesson has setups in its own folder, named in small \
                 letters, digits and dashes with .toml",
                path.display()
            ),
            Self::TooMany { path } => write!(
                f,
                "`{}` holds more than {MOST_FILES} files, more than a lesson has",
                path.display()
            ),
            Self::TooLarge { path, n_bytes } => write!(
                f,
                "`{}` has {n_bytes} bytes; a file of a lesson has at most {MOST_TEXT_BYTES}",
                path.display()
            ),
            Self::NotText { path } => {
                write!(
                    f,
                    "`{}` is not text in UTF-8; save it as UTF-8",
                    path.display()
                )
            }
            Self::Other { path, reason } => {
                write!(f, "`{}` cannot be read: {reason}", path.display())
            }
        }
    }
}

impl std::error::Error for FolderError {}

/// Reads the files of a lesson. Links, folders and files of other kinds are refused, not followed.
///
/// # Errors
/// [`FolderError`].
pub fn read_folder(path: &Path) -> Result<LessonFiles, FolderError> {
    let other = |path: &Path| {
        let path = path.to_path_buf();
        move |reason: io::Error| FolderError::Other { path, reason }
    };
    let about = fs::metadata(path).map_err(|reason| match reason.kind() {
        io::ErrorKind::NotFound => FolderError::Missing {
            path: path.to_path_buf(),
        },
        _ => other(path)(reason),
    })?;
    if !about.is_dir() {
        return Err(FolderError::NotAFolder {
            path: path.to_path_buf(),
        });
    }
    let whole = fs::canonicalize(path).map_err(other(path))?;
    let folder = whole
        .file_name()
        .map(|name| text::harmless(&name.to_string_lossy()))
        .unwrap_or_default();
    let mut files = LessonFiles {
        folder,
        texts: std::collections::BTreeMap::new(),
    };
    for (n, entry) in fs::read_dir(path).map_err(other(path))?.enumerate() {
        if n >= MOST_FILES {
            return Err(FolderError::TooMany {
                path: path.to_path_buf(),
            });
        }
        let entry = entry.map_err(other(path))?;
        let kind = entry.file_type().map_err(other(&entry.path()))?;
        let foreign = |what| FolderError::Foreign {
            path: path.to_path_buf(),
            name: text::harmless(&entry.file_name().to_string_lossy()),
            what,
        };
        if !kind.is_file() {
            return Err(foreign(if kind.is_symlink() {
                "a link"
            } else if kind.is_dir() {
                "a folder"
            } else {
                "something that is no file"
            }));
        }
        let Ok(name) = entry.file_name().into_string() else {
            return Err(foreign("a file of another kind"));
        };
        if name != TEXT_FILE && !name.ends_with(".toml") {
            return Err(foreign("a file of another kind"));
        }
        let text = read_small(&entry.path())?;
        files.texts.insert(name, text);
    }
    if files.texts.contains_key(TEXT_FILE) {
        Ok(files)
    } else {
        Err(FolderError::NoText {
            path: path.to_path_buf(),
        })
    }
}

/// A file of limited size; more of it is never taken into memory.
fn read_small(path: &Path) -> Result<String, FolderError> {
    let limit = MOST_TEXT_BYTES as u64;
    let other = |reason| FolderError::Other {
        path: path.to_path_buf(),
        reason,
    };
    let mut bytes = Vec::new();
    fs::File::open(path)
        .and_then(|file| file.take(limit + 1).read_to_end(&mut bytes))
        .map_err(other)?;
    if bytes.len() as u64 > limit {
        let n_bytes = fs::metadata(path).map_or(limit + 1, |about| about.len());
        return Err(FolderError::TooLarge {
            path: path.to_path_buf(),
            n_bytes,
        });
    }
    String::from_utf8(bytes).map_err(|_| FolderError::NotText {
        path: path.to_path_buf(),
    })
}
