//! Setup files as the window opens and keeps them, and what the window remembers of a person.
//!
//! Nothing else of the window knows files, and this knows them through [`super::outside`], so that
//! in a browser they lie in its storage. A file is written whole or not at all; what is
//! remembered is a convenience, and a damaged memory is an empty one.

use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};

use miette::{GraphicalReportHandler, GraphicalTheme};

use super::course::Progress;
use super::outside;
use crate::setup::{MAX_TEXT_BYTES, Setup};

/// What a person is told about a file that did not do what was asked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Refusal {
    /// In a few words.
    pub(super) title: String,
    /// The whole of it, with lines and marks where there are some.
    pub(super) words: String,
}

/// Columns of an error text.
const COLUMNS: usize = 84;

/// Reads a setup file: the setup, and the text that says it.
///
/// # Errors
/// Why it cannot be read, or what is wrong with it.
pub(super) fn read(path: &Path) -> Result<(Setup, String), Refusal> {
    let refuse = |words: String| Refusal {
        title: format!("{} was not opened", name_of(path)),
        words,
    };
    let size = outside::size(path).map_err(|error| refuse(io_words(path, &error)))?;
    let Some(n_bytes) = size else {
        let words = format!("{} is a folder; name a setup file in it.", path.display());
        return Err(refuse(words));
    };
    if n_bytes > MAX_TEXT_BYTES as u64 {
        let path = path.display();
        return Err(refuse(format!(
            "{path} has {n_bytes} bytes, too many for a setup; 1 MiB is the most."
        )));
    }
    let bytes = outside::read(path).map_err(|error| refuse(io_words(path, &error)))?;
    parse(&bytes, &name_of(path))
}

/// All of a file of at most so many bytes.
///
/// # Errors
/// Why it cannot be read.
pub(super) fn bytes(path: &Path, most: usize) -> Result<Vec<u8>, String> {
    let size = outside::size(path).map_err(|error| io_words(path, &error))?;
    let Some(n_bytes) = size else {
        return Err(format!(
            "{} is a folder; name a file in it.",
            path.display()
        ));
    };
    if n_bytes > most as u64 {
        let path = path.display();
        return Err(format!("{path} has {n_bytes} bytes; {most} are the most."));
    }
    outside::read(path).map_err(|error| io_words(path, &error))
}

/// A setup from the bytes of a file of that name, with its text.
///
/// # Errors
/// What is wrong with it.
pub(super) fn parse(bytes: &[u8], name: &str) -> Result<(Setup, String), Refusal> {
    let refuse = |words: String| Refusal {
        title: format!("{name} was not opened"),
        words,
    };
    let text = std::str::from_utf8(bytes)
        .map_err(|error| refuse(format!("{name} is not text in UTF-8: {error}.")))?;
    let setup = Setup::parse(text, name).map_err(|errors| refuse(report(&errors)))?;
    Ok((setup, text.to_owned()))
}

/// What is wrong with a text, with its lines and marks.
pub(super) fn report(errors: &dyn miette::Diagnostic) -> String {
    let handler = GraphicalReportHandler::new_themed(GraphicalTheme::unicode_nocolor())
        .with_width(COLUMNS)
        .with_links(false);
    let mut words = String::new();
    match handler.render_report(&mut words, errors) {
        Ok(()) => words.trim_end().to_owned(),
        Err(_) => errors.to_string(),
    }
}

/// A sentence in lines that a dialog shows whole.
pub(super) fn in_lines(words: &str) -> String {
    let mut lines = String::new();
    let mut n_chars = 0;
    for word in words.split_whitespace() {
        let n = word.chars().count();
        if n_chars > 0 && n_chars + 1 + n > COLUMNS {
            lines.push('\n');
            n_chars = 0;
        } else if n_chars > 0 {
            lines.push(' ');
            n_chars += 1;
        }
        lines.push_str(word);
        n_chars += n;
    }
    lines
}

/// Writes a text to a file, whole or not at all: what stood there stays until all of the new
/// text lies beside it.
///
/// # Errors
/// Why it cannot be written.
pub(super) fn write(path: &Path, text: &str) -> Result<(), Refusal> {
    outside::write_whole(path, text).map_err(|error| Refusal {
        title: format!("{} was not saved", name_of(path)),
        words: io_words(path, &error),
    })
}

/// True where a file is there and says something else than this text: another program has
/// written it.
pub(super) fn says_other(path: &Path, text: Option<&str>) -> bool {
    outside::read(path).is_ok_and(|there| text.is_none_or(|text| there != text.as_bytes()))
}

/// The last part of a path.
pub(super) fn name_of(path: &Path) -> String {
    path.file_name().map_or_else(
        || path.display().to_string(),
        |name| name.to_string_lossy().into_owned(),
    )
}

fn io_words(path: &Path, error: &io::Error) -> String {
    let path = path.display();
    match error.kind() {
        io::ErrorKind::NotFound => format!("There is no {path}."),
        io::ErrorKind::PermissionDenied => format!("{path}: {error}; this is not allowed to you."),
        _ => format!("{path}: {error}."),
    }
}

/// A line of a folder's list.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Entry {
    /// False sorts first: folders stand before files.
    pub(super) is_file: bool,
    /// Its name.
    pub(super) name: String,
    /// Where it is.
    pub(super) path: PathBuf,
}

/// Most lines of a folder's list.
const MOST_ENTRIES: usize = 500;

/// Folders and setup files in a folder, hidden ones left out. Empty where it cannot be read.
pub(super) fn list(folder: &Path) -> Vec<Entry> {
    let mut entries: Vec<Entry> = outside::list(folder)
        .filter_map(|path| {
            let name = name_of(&path);
            let is_file = !outside::is_folder(&path);
            let wanted = !is_file || path.extension().is_some_and(|kind| kind == "toml");
            (wanted && !name.starts_with('.')).then_some(Entry {
                is_file,
                name,
                path,
            })
        })
        .take(MOST_ENTRIES)
        .collect();
    entries.sort();
    entries
}

/// Most setups in the list of recent ones.
const MOST_RECENT: usize = 8;
/// The file of the memory.
const MEMORY_FILE: &str = "window.toml";
/// The file of what was done in the course.
const COURSE_FILE: &str = "course.toml";

/// A text that was kept, empty where there is none.
fn kept(path: &Path) -> String {
    let bytes = outside::read(path).unwrap_or_default();
    String::from_utf8(bytes).unwrap_or_default()
}

/// What the window remembers from one day to the next.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Memory {
    /// Where it is kept; `None`: nowhere.
    folder: Option<PathBuf>,
    /// Setups opened or saved, the latest first.
    pub(super) recent: Vec<PathBuf>,
    /// True for the light face.
    pub(super) light: bool,
    /// Times larger than usual; 1 where nothing is remembered.
    pub(super) scale: Option<f32>,
    /// Names of the hints that were put away.
    pub(super) hints_gone: Vec<String>,
    /// How far the person has come in the course.
    pub(super) course: Progress,
}

impl Memory {
    /// What is kept in that folder. What cannot be read there is as if it had never been.
    pub(super) fn load(folder: &Path) -> Self {
        let text = kept(&folder.join(MEMORY_FILE));
        let table: toml::Table = text.parse().unwrap_or_default();
        let strings = |key: &str| -> Vec<String> {
            let values = table.get(key).and_then(toml::Value::as_array);
            let values = values.into_iter().flatten();
            values
                .filter_map(|value| value.as_str().map(str::to_owned))
                .collect()
        };
        #[expect(clippy::cast_possible_truncation, reason = "a scale near 1")]
        let scale = table
            .get("scale")
            .and_then(toml::Value::as_float)
            .map(|scale| scale as f32)
            .filter(|scale| (0.5..=3.0).contains(scale));
        let mut recent: Vec<PathBuf> = strings("recent").into_iter().map(PathBuf::from).collect();
        recent.truncate(MOST_RECENT);
        Self {
            folder: Some(folder.to_path_buf()),
            recent,
            light: table.get("light").and_then(toml::Value::as_bool) == Some(true),
            scale,
            hints_gone: strings("hints_gone"),
            course: Progress::parse(&kept(&folder.join(COURSE_FILE))),
        }
    }

    /// Keeps it. A memory that cannot be kept is not worth a word: the window works without.
    pub(super) fn keep(&self) {
        let Some(folder) = &self.folder else { return };
        let mut table = BTreeMap::new();
        let strings = |words: &[String]| {
            let words = words.iter().cloned().map(toml::Value::String);
            toml::Value::Array(words.collect())
        };
        let recent: Vec<String> = self
            .recent
            .iter()
            .map(|path| path.to_string_lossy().into_owned())
            .collect();
        table.insert("recent", strings(&recent));
        table.insert("hints_gone", strings(&self.hints_gone));
        table.insert("light", toml::Value::Boolean(self.light));
        if let Some(scale) = self.scale {
            table.insert("scale", toml::Value::Float(f64::from(scale)));
        }
        let text = toml::to_string(&table).unwrap_or_default();
        let files = [(MEMORY_FILE, text), (COURSE_FILE, self.course.to_text())];
        for (name, text) in files {
            let path = folder.join(name);
            if says_other(&path, Some(&text)) || !outside::exists(&path) {
                let _ =
                    outside::make_folder(folder).and_then(|()| outside::write_whole(&path, &text));
            }
        }
    }

    /// Puts a setup at the head of the recent ones.
    pub(super) fn add(&mut self, path: &Path) {
        let path = outside::one_path(path);
        self.recent.retain(|other| *other != path);
        self.recent.insert(0, path);
        self.recent.truncate(MOST_RECENT);
        self.keep();
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;
    use crate::setup::built_in;

    #[test]
    fn a_sentence_is_broken_at_its_blanks() {
        let words = "one two ".repeat(30);
        let lines = in_lines(&words);
        assert!(lines.lines().all(|line| line.len() <= COLUMNS), "{lines}");
        assert_eq!(lines.lines().count(), 3);
        assert!(lines.split_whitespace().eq(words.split_whitespace()));
        assert_eq!(in_lines(""), "");
    }

    #[test]
    fn a_setup_comes_back_whole() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("pond.toml");
        let setup = Setup::parse(built_in(), "built in").unwrap();
        write(&path, &setup.to_toml()).unwrap();
        assert_eq!(read(&path).unwrap(), (setup.clone(), setup.to_toml()));
        assert_eq!(
            list(folder.path()).len(),
            1,
            "nothing else is left beside it"
        );
    }

    #[test]
    fn a_bad_file_is_refused_with_its_line() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("odd.toml");
        fs::write(&path, built_in().replace("poles = 14", "poles = 13")).unwrap();
        let refusal = read(&path).unwrap_err();
        assert_eq!(refusal.title, "odd.toml was not opened");
        assert!(refusal.words.contains("odd.toml:10:9"), "{}", refusal.words);
        assert!(read(folder.path()).unwrap_err().words.contains("folder"));
        let missing = read(&folder.path().join("none.toml")).unwrap_err();
        assert!(missing.words.starts_with("There is no "), "{missing:?}");
    }

    #[test]
    fn a_place_that_cannot_be_written_is_said_and_nothing_lost() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("no such folder").join("a.toml");
        let refusal = write(&path, "format = 1").unwrap_err();
        assert_eq!(refusal.title, "a.toml was not saved");
    }

    #[test]
    fn a_damaged_memory_is_an_empty_one_and_is_kept_anew() {
        let folder = tempfile::tempdir().unwrap();
        for damaged in ["recent = [", "recent = 7\nscale = \"large\"", "\0\u{1}"] {
            fs::write(folder.path().join(MEMORY_FILE), damaged).unwrap();
            let mut memory = Memory::load(folder.path());
            assert!(memory.recent.is_empty() && memory.scale.is_none());
            memory.light = true;
            memory.add(&folder.path().join("a.toml"));
            assert_eq!(Memory::load(folder.path()), memory);
        }
    }

    #[test]
    fn the_latest_setup_stands_first_and_once() {
        let mut memory = Memory::default();
        for name in ["a", "b", "a", "c"] {
            memory.add(Path::new(name));
        }
        let names: Vec<_> = memory.recent.iter().map(|path| name_of(path)).collect();
        assert_eq!(names, ["c", "a", "b"]);
    }
}
