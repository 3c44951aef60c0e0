//! Output files: checked before the run, whole or not at all afterwards.
//!
//! A file grows under a temporary name in the folder where it will stand and takes its own name
//! when it is complete; until then an older file of that name stays as it was. Several files of
//! one run take their names together or not at all (`finish_together`).

use std::fs;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use super::interrupt;

mod together;

pub(crate) use together::finish_together;

/// Kinds of files this program writes, each by its extension.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// Waveforms.
    Csv,
    /// Legs.
    Vcd,
    /// A picture of lines.
    Svg,
    /// A picture of pixels.
    Png,
    /// Figures.
    Json,
    /// A setup.
    Toml,
    /// A page to print.
    Html,
}

impl Format {
    /// The extension, without a point.
    #[must_use]
    pub const fn extension(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::Vcd => "vcd",
            Self::Svg => "svg",
            Self::Png => "png",
            Self::Json => "json",
            Self::Toml => "toml",
            Self::Html => "html",
        }
    }
}

/// What is wrong with an output file.
#[derive(Debug)]
pub enum FileError {
    /// The extension says none of the formats that would do.
    Extension {
        /// The path.
        path: PathBuf,
        /// What would do.
        allowed: Vec<Format>,
    },
    /// The folder is not there.
    NoFolder {
        /// The path.
        path: PathBuf,
        /// The folder.
        folder: PathBuf,
    },
    /// The path is a folder.
    IsFolder {
        /// The path.
        path: PathBuf,
    },
    /// A file stands where a folder is to be made.
    NotFolder {
        /// The path.
        path: PathBuf,
    },
    /// The file is there, and must not be overwritten.
    Exists {
        /// The path.
        path: PathBuf,
    },
    /// The folder or the file does not let itself be written.
    NotWritable {
        /// The path.
        path: PathBuf,
        /// What the system said.
        error: io::Error,
    },
    /// An older file that had made way for a new one could not be put back.
    NotRestored {
        /// The path.
        path: PathBuf,
        /// Where the older file is.
        kept: PathBuf,
        /// What the system said.
        error: io::Error,
    },
    /// Writing failed on the way.
    Write {
        /// The path.
        path: PathBuf,
        /// What the system said.
        error: io::Error,
    },
}

impl FileError {
    /// True where another command line would have helped; false where writing itself failed.
    #[must_use]
    pub const fn is_of_command_line(&self) -> bool {
        !matches!(self, Self::Write { .. } | Self::NotRestored { .. })
    }
}

impl std::fmt::Display for FileError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Extension { path, allowed } => {
                let allowed: Vec<String> = allowed
                    .iter()
                    .map(|format| format!(".{}", format.extension()))
                    .collect();
                write!(
                    f,
                    "`{}` must end in {}",
                    path.display(),
                    allowed.join(" or ")
                )
            }
            Self::NoFolder { path, folder } => write!(
                f,
                "`{}` cannot be written: there is no folder `{}`",
                path.display(),
                folder.display()
            ),
            Self::IsFolder { path } => write!(f, "`{}` is a folder, not a file", path.display()),
            Self::NotFolder { path } => write!(
                f,
                "`{0}` is a file, and a folder `{0}` is needed for what is written: rename or move that file, or work \
                 in another folder",
                path.display()
            ),
            Self::Exists { path } => {
                write!(
                    f,
                    "`{}` is there already and stays as it is; take another name",
                    path.display()
                )
            }
            Self::NotRestored { path, kept, error } => write!(
                f,
                "`{}` could not be put back after another file failed: {error}; what it was is kept as `{}`",
                path.display(),
                kept.display()
            ),
            Self::NotWritable { path, error } | Self::Write { path, error } => {
                write!(f, "`{}` cannot be written: {error}", path.display())
            }
        }
    }
}

impl std::error::Error for FileError {}

/// A place for a file that has been checked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OutputTarget {
    path: PathBuf,
    format: Format,
}

impl OutputTarget {
    /// Checks what an option names, where it was given.
    ///
    /// # Errors
    /// As [`OutputTarget::check`].
    pub fn asked(path: Option<&Path>, allowed: &[Format]) -> Result<Option<Self>, FileError> {
        path.map(|path| Self::check(path, allowed)).transpose()
    }

    /// Checks that a file of one of these formats can be written at `path`, without leaving a
    /// trace. The folder must be there; what the path names must be no folder.
    ///
    /// # Errors
    /// [`FileError`], every variant but `Exists` and `Write`.
    pub fn check(path: &Path, allowed: &[Format]) -> Result<Self, FileError> {
        let path = path.to_path_buf();
        let is_folder = fs::metadata(&path).is_ok_and(|metadata| metadata.is_dir())
            || path.to_string_lossy().ends_with(std::path::MAIN_SEPARATOR);
        if is_folder || path.file_name().is_none() {
            return Err(FileError::IsFolder { path });
        }
        let extension = path
            .extension()
            .map(|extension| extension.to_string_lossy().to_lowercase());
        let named = allowed
            .iter()
            .copied()
            .find(|format| Some(format.extension()) == extension.as_deref());
        let format = match (named, allowed) {
            (Some(format), _) => format,
            // A pipe or a device has no extension and needs none where one format is possible.
            (None, [only]) if is_special(&path) => *only,
            _ => {
                return Err(FileError::Extension {
                    path,
                    allowed: allowed.to_vec(),
                });
            }
        };
        let target = Self { path, format };
        if is_special(&target.path) {
            return Ok(target);
        }
        let folder = folder_of(&target.path);
        if !fs::metadata(&folder).is_ok_and(|metadata| metadata.is_dir()) {
            return Err(FileError::NoFolder {
                path: target.path,
                folder,
            });
        }
        if fs::metadata(&target.path).is_ok_and(|metadata| metadata.permissions().readonly()) {
            let error = io::Error::new(io::ErrorKind::PermissionDenied, "it is write-protected");
            return Err(FileError::NotWritable {
                path: target.path,
                error,
            });
        }
        // The only sure question whether a folder takes a file is to put one there.
        match tempfile::tempfile_in(&folder) {
            Ok(_) => Ok(target),
            Err(error) => Err(FileError::NotWritable {
                path: target.path,
                error,
            }),
        }
    }

    /// The path as given.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The format that its extension says.
    #[must_use]
    pub const fn format(&self) -> Format {
        self.format
    }
}

/// A pipe or a device, which is written as it is and never replaced.
fn is_special(path: &Path) -> bool {
    fs::metadata(path).is_ok_and(|metadata| !metadata.is_file() && !metadata.is_dir())
}

fn folder_of(path: &Path) -> PathBuf {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_path_buf(),
        _ => PathBuf::from("."),
    }
}

/// A file in the making.
#[derive(Debug)]
pub struct WholeFile {
    /// Where it will stand, links followed.
    path: PathBuf,
    body: Body,
}

#[derive(Debug)]
enum Body {
    Growing {
        writer: BufWriter<NamedTempFile>,
        registered: interrupt::Registered,
    },
    Special(BufWriter<fs::File>),
}

impl WholeFile {
    /// Begins a file.
    ///
    /// # Errors
    /// [`FileError::Write`].
    pub fn begin(target: &OutputTarget) -> Result<Self, FileError> {
        Self::begin_at(target.path())
    }

    fn begin_at(path: &Path) -> Result<Self, FileError> {
        let fail = |error| FileError::Write {
            path: path.to_path_buf(),
            error,
        };
        if is_special(path) {
            let file = fs::OpenOptions::new()
                .write(true)
                .open(path)
                .map_err(fail)?;
            return Ok(Self {
                path: path.to_path_buf(),
                body: Body::Special(BufWriter::new(file)),
            });
        }
        // A link stays a link: what it points to is replaced.
        let path_behind_links = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
        let mut builder = tempfile::Builder::new();
        builder.prefix(".wyebench-");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // As any new file: what the umask leaves of this; or as the file that it replaces.
            let permissions = fs::metadata(&path_behind_links)
                .map_or(fs::Permissions::from_mode(0o666), |metadata| {
                    metadata.permissions()
                });
            builder.permissions(permissions);
        }
        let file = builder
            .tempfile_in(folder_of(&path_behind_links))
            .map_err(fail)?;
        let registered = interrupt::register(file.path());
        let writer = BufWriter::new(file);
        Ok(Self {
            path: path_behind_links,
            body: Body::Growing { writer, registered },
        })
    }

    /// Gives the complete file its name; an older file of that name is replaced.
    ///
    /// # Errors
    /// [`FileError::Write`]; the older file then stays.
    pub fn finish(self) -> Result<(), FileError> {
        self.finish_as(false)
    }

    /// The same, where no file of that name may be there.
    ///
    /// # Errors
    /// [`FileError::Exists`], [`FileError::Write`].
    pub fn finish_new(self) -> Result<(), FileError> {
        self.finish_as(true)
    }

    fn finish_as(self, must_be_new: bool) -> Result<(), FileError> {
        let Self { path, body } = self;
        let fail = |error| FileError::Write {
            path: path.clone(),
            error,
        };
        match body {
            Body::Special(mut writer) => writer.flush().map_err(fail),
            Body::Growing { writer, registered } => {
                let file = writer
                    .into_inner()
                    .map_err(|error| fail(error.into_error()))?;
                let done = if must_be_new {
                    file.persist_noclobber(&path)
                } else {
                    file.persist(&path)
                };
                drop(registered);
                match done {
                    Ok(_) => Ok(()),
                    Err(error) if error.error.kind() == io::ErrorKind::AlreadyExists => {
                        Err(FileError::Exists { path })
                    }
                    Err(error) => Err(fail(error.error)),
                }
            }
        }
    }
}

impl Write for WholeFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match &mut self.body {
            Body::Growing { writer, .. } => writer.write(bytes),
            Body::Special(writer) => writer.write(bytes),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match &mut self.body {
            Body::Growing { writer, .. } => writer.flush(),
            Body::Special(writer) => writer.flush(),
        }
    }
}

/// Writes a file, whole or not at all.
///
/// # Errors
/// [`FileError::Write`].
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), FileError> {
    let mut file = WholeFile::begin_at(path)?;
    file.write_all(bytes).map_err(|error| FileError::Write {
        path: path.to_path_buf(),
        error,
    })?;
    file.finish()
}

/// Writes a file, whole or not at all, where none of that name is.
///
/// # Errors
/// [`FileError::Exists`], [`FileError::Write`].
pub fn write_new(path: &Path, bytes: &[u8]) -> Result<(), FileError> {
    if fs::symlink_metadata(path).is_ok() {
        return Err(FileError::Exists {
            path: path.to_path_buf(),
        });
    }
    let mut file = WholeFile::begin_at(path)?;
    file.write_all(bytes).map_err(|error| FileError::Write {
        path: path.to_path_buf(),
        error,
    })?;
    file.finish_new()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap();
        entries
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect()
    }

    #[test]
    fn an_unfinished_file_leaves_the_older_one() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        write_whole(&path, b"old").unwrap();
        let target = OutputTarget::check(&path, &[Format::Csv]).unwrap();
        let mut file = WholeFile::begin(&target).unwrap();
        file.write_all(b"new and longer").unwrap();
        drop(file);
        assert_eq!(fs::read(&path).unwrap(), b"old");
        assert_eq!(names(folder.path()), ["a.csv"]);
        let mut file = WholeFile::begin(&target).unwrap();
        file.write_all(b"new").unwrap();
        file.finish().unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"new");
        assert_eq!(names(folder.path()), ["a.csv"]);
    }

    #[test]
    fn a_new_file_never_replaces_another() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("pond.toml");
        write_new(&path, b"mine").unwrap();
        assert!(matches!(
            write_new(&path, b"other"),
            Err(FileError::Exists { .. })
        ));
        assert_eq!(fs::read(&path).unwrap(), b"mine");
        assert_eq!(names(folder.path()), ["pond.toml"]);
    }

    #[test]
    fn a_bad_place_is_told_before_the_run() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let check = |path: &Path| OutputTarget::check(path, &[Format::Svg, Format::Png]);
        assert!(matches!(
            check(&at("a.jpeg")),
            Err(FileError::Extension { .. })
        ));
        assert!(matches!(check(&at("a")), Err(FileError::Extension { .. })));
        assert!(matches!(
            check(&at("no/a.svg")),
            Err(FileError::NoFolder { .. })
        ));
        assert!(matches!(
            check(folder.path()),
            Err(FileError::IsFolder { .. })
        ));
        assert_eq!(check(&at("A.PNG")).unwrap().format(), Format::Png);
        assert_eq!(names(folder.path()), Vec::<String>::new(), "no trace");
    }

    #[cfg(unix)]
    #[test]
    fn files_are_as_open_as_any_other() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let (ours, plain) = (folder.path().join("a"), folder.path().join("b"));
        write_whole(&ours, b"").unwrap();
        fs::File::create(&plain).unwrap();
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode();
        assert_eq!(mode(&ours), mode(&plain));
    }

    #[cfg(unix)]
    #[test]
    fn a_link_stays_a_link() {
        let folder = tempfile::tempdir().unwrap();
        let (real, link) = (
            folder.path().join("real.csv"),
            folder.path().join("link.csv"),
        );
        write_whole(&real, b"old").unwrap();
        std::os::unix::fs::symlink(&real, &link).unwrap();
        write_whole(&link, b"new").unwrap();
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::read(&real).unwrap(), b"new");
    }
}
