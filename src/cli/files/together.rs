//! Several files of one run: all of them stand there afterwards, or everything is as it was.
//!
//! A file system renames one file at a time. So what can fail is done first: every byte is written
//! out to the disk. Then each older file gets a second name, the new one takes its place, and
//! where a later one cannot, the older ones come back. Ctrl-C waits until that is through.
//! What is left to chance is a power cut between two renames: then some files are new and some
//! old, each of them whole, and the older ones are still there as `.wyebench-kept-…`.

use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use tempfile::TempPath;

use super::super::interrupt;
use super::{Body, FileError, WholeFile, folder_of};

/// Gives complete files their names, all of them or none.
///
/// A pipe or a device cannot be taken back; it is written out before anything else.
///
/// # Errors
/// [`FileError::Write`] of the first that cannot be written; the older files then stand as they
/// did. [`FileError::NotRestored`] where one of them could not be put back.
pub(crate) fn finish_together(files: Vec<WholeFile>) -> Result<(), FileError> {
    let mut complete = Vec::new();
    for file in files {
        complete.extend(Complete::new(file)?);
    }
    interrupt::undisturbed(|| replace_all(complete))
}

/// A file that is on the disk under its temporary name.
struct Complete {
    path: PathBuf,
    temporary: TempPath,
    _registered: interrupt::Registered,
}

impl Complete {
    /// Writes the rest of a file out to the disk; nothing where it has no name to take.
    fn new(WholeFile { path, body }: WholeFile) -> Result<Option<Self>, FileError> {
        let fail = |error| FileError::Write {
            path: path.clone(),
            error,
        };
        match body {
            Body::Special(mut writer) => {
                writer.flush().map_err(fail)?;
                Ok(None)
            }
            Body::Growing { writer, registered } => {
                let file = writer
                    .into_inner()
                    .map_err(|error| fail(error.into_error()))?;
                file.as_file().sync_all().map_err(fail)?;
                Ok(Some(Self {
                    temporary: file.into_temp_path(),
                    _registered: registered,
                    path,
                }))
            }
        }
    }
}

/// A name that was given, and what stood there before.
struct Replaced {
    path: PathBuf,
    kept: Option<TempPath>,
}

impl Replaced {
    fn take_back(self) -> Result<(), FileError> {
        match self.kept {
            Some(kept) => kept
                .persist(&self.path)
                .map_err(|failed| FileError::NotRestored {
                    path: self.path,
                    // it is all there is of the older file: it must not go with its name
                    kept: failed.path.keep().unwrap_or_default(),
                    error: failed.error,
                }),
            None => fs::remove_file(&self.path).map_err(|error| FileError::Write {
                path: self.path,
                error,
            }),
        }
    }
}

fn replace_all(files: Vec<Complete>) -> Result<(), FileError> {
    let mut replaced = Vec::new();
    for file in files {
        match replace(file) {
            Ok(one) => replaced.push(one),
            Err(error) => {
                // the last first; of what goes wrong on the way back the gravest is told
                let mut error = error;
                for one in replaced.into_iter().rev() {
                    if let Err(graver @ FileError::NotRestored { .. }) = one.take_back() {
                        error = graver;
                    }
                }
                return Err(error);
            }
        }
    }
    // the names themselves, as far as a folder lets that be asked
    for one in &replaced {
        let _ = fs::File::open(folder_of(&one.path)).and_then(|folder| folder.sync_all());
    }
    Ok(())
}

fn replace(file: Complete) -> Result<Replaced, FileError> {
    let Complete {
        path, temporary, ..
    } = file;
    let fail = |error| FileError::Write {
        path: path.clone(),
        error,
    };
    let kept = match fs::symlink_metadata(&path) {
        Ok(metadata) if metadata.is_dir() => return Err(FileError::IsFolder { path }),
        Ok(_) => Some(keep(&path).map_err(fail)?),
        Err(_) => None,
    };
    match temporary.persist(&path) {
        Ok(()) => Ok(Replaced { path, kept }),
        Err(failed) => {
            let error = fail(failed.error);
            if let Some(kept) = kept
                && fs::symlink_metadata(&path).is_err()
            {
                Replaced {
                    path: path.clone(),
                    kept: Some(kept),
                }
                .take_back()?;
            }
            Err(error)
        }
    }
}

/// Gives an older file a second name beside it; where the file system knows one name a file, its
/// only one for the moment.
fn keep(path: &Path) -> io::Result<TempPath> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".wyebench-kept-");
    let kept = builder.make_in(folder_of(path), |name| {
        fs::hard_link(path, name).or_else(|error| {
            if error.kind() == io::ErrorKind::AlreadyExists {
                Err(error)
            } else {
                fs::rename(path, name)
            }
        })
    })?;
    Ok(kept.into_temp_path())
}

#[cfg(test)]
mod tests {
    use super::super::{Format, OutputTarget, write_whole};
    use super::*;

    fn begun(path: &Path, bytes: &[u8]) -> WholeFile {
        let target = OutputTarget::check(path, &[Format::Csv, Format::Vcd, Format::Svg]).unwrap();
        let mut file = WholeFile::begin(&target).unwrap();
        file.write_all(bytes).unwrap();
        file
    }

    /// Names and contents in a folder, in order; a folder as `None`.
    fn contents(folder: &Path) -> Vec<(String, Option<String>)> {
        let mut all: Vec<_> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| {
                let path = entry.unwrap().path();
                let name = path.file_name().unwrap().to_string_lossy().into_owned();
                (name, fs::read_to_string(&path).ok())
            })
            .collect();
        all.sort();
        all
    }

    fn text(name: &str, content: &str) -> (String, Option<String>) {
        (name.to_owned(), Some(content.to_owned()))
    }

    #[test]
    fn all_files_take_their_names_and_nothing_else_is_left() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        write_whole(&at("a.csv"), b"old a").unwrap();
        let files = vec![begun(&at("a.csv"), b"new a"), begun(&at("b.vcd"), b"new b")];
        finish_together(files).unwrap();
        assert_eq!(
            contents(folder.path()),
            [text("a.csv", "new a"), text("b.vcd", "new b")]
        );
    }

    /// While the run went on somebody made a folder of the name of the last file: a file that
    /// was there comes back, one that was not goes, in whatever order they stand.
    #[test]
    fn where_one_name_cannot_be_taken_all_is_as_it_was() {
        for place in 0..3 {
            let folder = tempfile::tempdir().unwrap();
            let at = |name: &str| folder.path().join(name);
            write_whole(&at("a.csv"), b"old a").unwrap();
            let mut files = vec![begun(&at("a.csv"), b"new a"), begun(&at("b.vcd"), b"new b")];
            files.insert(place, begun(&at("c.svg"), b"new c"));
            fs::create_dir(at("c.svg")).unwrap();
            let error = finish_together(files).unwrap_err();
            assert!(
                matches!(&error, FileError::IsFolder { path } if path.ends_with("c.svg")),
                "{error}"
            );
            assert_eq!(
                contents(folder.path()),
                [text("a.csv", "old a"), ("c.svg".to_owned(), None)]
            );
        }
    }

    /// The same where the folder of one file went while the run went on.
    #[test]
    fn where_one_folder_went_all_is_as_it_was() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir(at("away")).unwrap();
        write_whole(&at("a.csv"), b"old a").unwrap();
        let files = vec![
            begun(&at("a.csv"), b"new a"),
            begun(&at("away/b.vcd"), b"new b"),
        ];
        fs::remove_dir_all(at("away")).unwrap();
        let error = finish_together(files).unwrap_err();
        assert!(matches!(error, FileError::Write { .. }), "{error}");
        assert_eq!(contents(folder.path()), [text("a.csv", "old a")]);
    }
}
