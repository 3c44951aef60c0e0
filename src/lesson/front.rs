//! Reading a lesson: sizes first, then the front matter, then the text.

use serde::Deserialize;
use toml::Spanned;

use super::condition::{Condition, ConditionError};
use super::front_tasks::TaskText;
use super::model::{Claim, Lesson, LessonFiles, Part, RunSpec, Task};
use super::problem::{Complaint, LessonErrors, LessonProblem};
use super::sight::{dashed, row_named};
use super::{
    MOST_FILES, MOST_ITEMS, MOST_RUNS, MOST_SETUP_BYTES, MOST_TASKS, MOST_TEXT_BYTES, text,
};
use crate::scene::plots::Row;
use crate::setup::{CHANGE_KEYS, KEYS, Place};

/// The file that every lesson has.
pub const TEXT_FILE: &str = "lesson.md";
/// The line before and after the front matter.
const FENCE: &str = "+++";
/// Names that stand for something else in a condition.
const TAKEN: [&str; 8] = [
    "machine", "drive", "supply", "load", "run", "change", "answer", "task",
];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FrontText {
    format: Spanned<i64>,
    title: String,
    idea: String,
    #[serde(default)]
    terms: Vec<String>,
    plot: Option<Spanned<String>>,
    #[serde(default)]
    claims: Vec<Spanned<String>>,
    #[serde(default)]
    run: Vec<Spanned<RunText>>,
    #[serde(default)]
    task: Vec<Spanned<TaskText>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RunText {
    name: Spanned<String>,
    setup: Spanned<String>,
    #[serde(default)]
    with: toml::Table,
}

/// Reads a lesson from its files.
///
/// # Errors
/// All problems that were found, in the order of the text.
pub fn parse(files: LessonFiles) -> Result<Lesson, LessonErrors> {
    let folder = files.folder.clone();
    let whole = files.texts.get(TEXT_FILE).cloned().unwrap_or_default();
    let fail = |problems| LessonErrors::new(&folder, cut(&whole), problems);
    check_files(&files).map_err(fail)?;
    let (front, front_start, body_start) = split(&whole).map_err(|problem| fail(vec![problem]))?;
    let front: FrontText = toml::from_str(front).map_err(|error| {
        let place = error.span().map(|span| Place {
            start: (front_start + span.start).min(whole.len()),
            end: (front_start + span.end).min(whole.len()),
        });
        let complaint = Complaint::FrontMatter {
            message: error.message().to_owned(),
        };
        fail(vec![LessonProblem { complaint, place }])
    })?;
    let mut reader = Reader {
        text: &whole,
        offset: front_start,
        problems: Vec::new(),
    };
    let lesson = reader.lesson(front, files, body_start);
    if reader.problems.is_empty() {
        Ok(lesson)
    } else {
        Err(fail(reader.problems))
    }
}

/// What of a text an error shows; a huge one is not carried around.
fn cut(text: &str) -> &str {
    let end = (0..=text.len().min(MOST_TEXT_BYTES))
        .rev()
        .find(|&at| text.is_char_boundary(at))
        .unwrap_or(0);
    &text[..end]
}

fn check_files(files: &LessonFiles) -> Result<(), Vec<LessonProblem>> {
    let mut problems: Vec<LessonProblem> = Vec::new();
    if !files.texts.contains_key(TEXT_FILE) {
        problems.push(Complaint::NoText.into());
    }
    if files.texts.len() > MOST_FILES {
        problems.push(
            Complaint::TooMany {
                what: "files",
                n: files.texts.len(),
                allowed: MOST_FILES,
            }
            .into(),
        );
    }
    for (name, text) in &files.texts {
        let (what, allowed) = if name == TEXT_FILE {
            ("a text", MOST_TEXT_BYTES)
        } else {
            ("a setup", MOST_SETUP_BYTES)
        };
        if name != TEXT_FILE && !is_setup_name(name) {
            let name = text::harmless(name);
            problems.push(
                Complaint::Name {
                    what: "a setup of a lesson",
                    name,
                }
                .into(),
            );
        }
        if text.len() > allowed {
            problems.push(
                Complaint::TooLong {
                    what,
                    n_bytes: text.len(),
                    allowed,
                }
                .into(),
            );
        } else if let Some((at, character)) = text::first_hidden(text) {
            let complaint = Complaint::Control {
                code: u32::from(character),
            };
            problems.push(if name == TEXT_FILE {
                let end = at + character.len_utf8();
                LessonProblem::at(complaint, Place { start: at, end })
            } else {
                complaint.into()
            });
        }
    }
    if problems.is_empty() {
        Ok(())
    } else {
        Err(problems)
    }
}

/// Small letters, digits and dashes.
pub(super) fn is_plain_name(name: &str) -> bool {
    !name.is_empty()
        && name.len() <= 60
        && !name.starts_with('-')
        && name
            .chars()
            .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')
}

fn is_setup_name(name: &str) -> bool {
    name.strip_suffix(".toml").is_some_and(is_plain_name)
}

/// Front matter, where it starts, where the body starts.
fn split(whole: &str) -> Result<(&str, usize, usize), LessonProblem> {
    let first = whole.find('\n').map_or(whole.len(), |end| end + 1);
    if whole[..first].trim_end() != FENCE {
        let place = Place {
            start: 0,
            end: first.min(whole.len()),
        };
        return Err(LessonProblem::at(
            Complaint::NoFrontMatter { opened: false },
            place,
        ));
    }
    let mut at = first;
    for line in whole[first..].split_inclusive('\n') {
        if line.trim_end() == FENCE {
            return Ok((&whole[first..at], first, at + line.len()));
        }
        at += line.len();
    }
    let place = Place { start: 0, end: 3 };
    Err(LessonProblem::at(
        Complaint::NoFrontMatter { opened: true },
        place,
    ))
}

pub(super) struct Reader<'a> {
    text: &'a str,
    /// Where the front matter begins.
    offset: usize,
    problems: Vec<LessonProblem>,
}

impl Reader<'_> {
    pub(super) fn place(&self, span: std::ops::Range<usize>) -> Place {
        Place {
            start: self.offset + span.start,
            end: self.offset + span.end,
        }
    }

    pub(super) fn say(&mut self, complaint: Complaint, place: Place) {
        self.problems.push(LessonProblem::at(complaint, place));
    }

    fn lesson(&mut self, front: FrontText, files: LessonFiles, body_start: usize) -> Lesson {
        let top = Place {
            start: 0,
            end: FENCE.len(),
        };
        if *front.format.get_ref() != 1 {
            let found = *front.format.get_ref();
            let place = self.place(front.format.span());
            self.say(Complaint::Format { found }, place);
        }
        for (what, n, allowed) in [
            ("runs", front.run.len(), MOST_RUNS),
            ("tasks", front.task.len(), MOST_TASKS),
            ("claims", front.claims.len(), MOST_ITEMS * 2),
            ("terms", front.terms.len(), MOST_ITEMS * 2),
        ] {
            if n > allowed {
                self.say(Complaint::TooMany { what, n, allowed }, top);
            }
        }
        let runs: Vec<RunSpec> = front
            .run
            .iter()
            .take(MOST_RUNS)
            .map(|run| self.run(run, &files))
            .collect();
        self.no_twins("runs", runs.iter().map(|run| (run.name.clone(), run.place)));
        for name in files.texts.keys().filter(|name| *name != TEXT_FILE) {
            if !runs.iter().any(|run| run.file == *name) {
                self.say(Complaint::Stray { name: name.clone() }, top);
            }
        }
        let claims = front
            .claims
            .iter()
            .take(MOST_ITEMS * 2)
            .filter_map(|claim| {
                let place = self.place(claim.span());
                self.condition(claim)
                    .map(|condition| Claim { condition, place })
            })
            .collect();
        let tasks: Vec<Task> = front
            .task
            .iter()
            .take(MOST_TASKS)
            .filter_map(|task| self.task(task, &runs))
            .collect();
        self.no_twins(
            "tasks",
            tasks.iter().map(|task| (task.name.clone(), task.place)),
        );
        let plot = front.plot.as_ref().and_then(|name| self.plot(name));
        let parts = self.parts(body_start, &tasks);
        Lesson {
            files,
            title: front.title,
            idea: front.idea,
            terms: front.terms,
            plot,
            claims,
            runs,
            tasks,
            parts,
        }
    }

    fn plot(&mut self, name: &Spanned<String>) -> Option<Row> {
        let found = row_named(name.get_ref()).and_then(|idx| Row::ALL.get(idx).copied());
        if found.is_none() {
            let place = self.place(name.span());
            let names: Vec<String> = Row::ALL.iter().map(|row| dashed(*row)).collect();
            let complaint = Complaint::Unknown {
                what: "row of waveforms",
                name: text::harmless(name.get_ref()),
                nearest: nearest(name.get_ref(), names.iter().map(String::as_str)),
            };
            self.say(complaint, place);
        }
        found
    }

    fn no_twins(&mut self, what: &'static str, names: impl Iterator<Item = (String, Place)>) {
        let mut seen = std::collections::BTreeSet::new();
        for (name, place) in names {
            if !seen.insert(name.clone()) {
                self.say(Complaint::Twice { what, name }, place);
            }
        }
    }

    pub(super) fn name(&mut self, name: &Spanned<String>, what: &'static str) -> String {
        let text = name.get_ref().clone();
        if !is_plain_name(&text) || TAKEN.contains(&text.as_str()) {
            let place = self.place(name.span());
            let name = text::harmless(&text);
            self.say(Complaint::Name { what, name }, place);
        }
        text
    }

    fn run(&mut self, run: &Spanned<RunText>, files: &LessonFiles) -> RunSpec {
        let place = self.place(run.span());
        let run = run.get_ref();
        let name = self.name(&run.name, "the name of a run");
        let file = run.setup.get_ref().clone();
        let file_place = self.place(run.setup.span());
        if !is_setup_name(&file) {
            let name = text::harmless(&file);
            self.say(
                Complaint::Name {
                    what: "a setup of a lesson",
                    name,
                },
                file_place,
            );
        } else if !files.texts.contains_key(&file) {
            let nearest = nearest(&file, files.texts.keys().map(String::as_str));
            self.say(
                Complaint::NoSetup {
                    name: file.clone(),
                    nearest,
                },
                file_place,
            );
        }
        let with = self.keys(&run.with, place);
        RunSpec {
            name,
            file,
            with,
            place,
        }
    }

    /// Keys of a setup and their values.
    pub(super) fn keys(&mut self, table: &toml::Table, place: Place) -> Vec<(String, toml::Value)> {
        for key in table.keys() {
            self.key(key, place);
        }
        if table.len() > MOST_ITEMS {
            let (n, allowed) = (table.len(), MOST_ITEMS);
            self.say(
                Complaint::TooMany {
                    what: "keys",
                    n,
                    allowed,
                },
                place,
            );
        }
        table
            .iter()
            .map(|(key, value)| (key.clone(), value.clone()))
            .collect()
    }

    pub(super) fn key(&mut self, key: &str, place: Place) {
        let known = || KEYS.iter().map(|spec| spec.path);
        let changing = CHANGE_KEYS.iter().any(|spec| spec.path == key);
        if changing || !known().any(|path| path == key) {
            let nearest = nearest(key, known());
            let name = text::harmless(key);
            self.say(
                Complaint::Unknown {
                    what: "key of a setup",
                    name,
                    nearest,
                },
                place,
            );
        }
    }

    pub(super) fn condition(&mut self, text: &Spanned<String>) -> Option<Condition> {
        match Condition::parse(text.get_ref()) {
            Ok(condition) => Some(condition),
            Err(error) => {
                let place = self.inner(text, &error);
                self.say(error.complaint, place);
                None
            }
        }
    }

    /// The place of an error inside a quoted text.
    fn inner(&self, text: &Spanned<String>, error: &ConditionError) -> Place {
        let whole = self.place(text.span());
        let raw = self.text.get(whole.start + 1..whole.end.saturating_sub(1));
        if raw == Some(text.get_ref()) {
            Place {
                start: whole.start + 1 + error.place.start,
                end: whole.start + 1 + error.place.end,
            }
        } else {
            whole
        }
    }

    pub(super) fn known_run(&mut self, name: &Spanned<String>, runs: &[RunSpec]) -> String {
        let text = name.get_ref().clone();
        if !runs.iter().any(|run| run.name == text) {
            let place = self.place(name.span());
            let nearest = nearest(&text, runs.iter().map(|run| run.name.as_str()));
            let name = text::harmless(&text);
            self.say(
                Complaint::Unknown {
                    what: "run",
                    name,
                    nearest,
                },
                place,
            );
        }
        text
    }

    /// Splits the body at its tasks.
    fn parts(&mut self, body_start: usize, tasks: &[Task]) -> Vec<Part> {
        let text = self.text;
        let mut parts = Vec::new();
        let mut shown = vec![0; tasks.len()];
        let (mut at, mut begun) = (body_start, body_start);
        let piece = |from: usize, to: usize, parts: &mut Vec<Part>| {
            if !text[from..to].trim().is_empty() {
                parts.push(Part::Text {
                    markdown: text[from..to].to_owned(),
                    start: from,
                });
            }
        };
        for line in text[body_start..].split_inclusive('\n') {
            let name = line
                .trim()
                .strip_prefix("{{task ")
                .and_then(|rest| rest.strip_suffix("}}"));
            if let Some(name) = name.map(str::trim) {
                piece(begun, at, &mut parts);
                begun = at + line.len();
                match tasks.iter().position(|task| task.name == name) {
                    Some(idx) => {
                        shown[idx] += 1;
                        parts.push(Part::Task(idx));
                    }
                    None => {
                        let place = Place {
                            start: at,
                            end: at + line.trim_end().len(),
                        };
                        let nearest = nearest(name, tasks.iter().map(|task| task.name.as_str()));
                        let name = text::harmless(name);
                        self.say(
                            Complaint::Unknown {
                                what: "task",
                                name,
                                nearest,
                            },
                            place,
                        );
                    }
                }
            }
            at += line.len();
        }
        piece(begun, at, &mut parts);
        for (task, n_times) in tasks.iter().zip(shown) {
            if n_times != 1 {
                let name = task.name.clone();
                self.say(
                    Complaint::TaskShown {
                        task: name,
                        n_times,
                    },
                    task.place,
                );
            }
        }
        for part in &parts {
            if let Part::Text { markdown, start } = part {
                text::check(markdown, *start, &mut self.problems);
            }
        }
        parts
    }
}

/// Whether each of `n` items is there once.
pub(super) fn is_order(order: &[usize], n: usize) -> bool {
    let mut sorted = order.to_vec();
    sorted.sort_unstable();
    sorted.into_iter().eq(0..n)
}

/// The name among `known` that is near, if any.
pub(super) fn nearest<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> Option<String> {
    known
        .into_iter()
        .map(|known| (strsim::jaro_winkler(known, name), known))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(likeness, _)| *likeness > 0.8)
        .map(|(_, known)| known.to_owned())
}
