//! The course that comes with the program: the folders of `lessons/`, built in.

use std::sync::OnceLock;

use super::front::{TEXT_FILE, parse};
use super::glossary::Glossary;
use super::model::{Lesson, LessonFiles};
use super::problem::LessonErrors;

/// A folder of the course and its files, by name.
type Folder = (&'static str, &'static [(&'static str, &'static str)]);

macro_rules! folders {
    ($($folder:literal: $($file:literal)+;)+) => {
        &[$(($folder, &[$(($file, include_str!(concat!("../../lessons/", $folder, "/", $file)))),+])),+]
    };
}

/// In the order of the course. `tests/lessons.rs` holds this against the folder.
const FOLDERS: &[Folder] = folders! {
    "01-why-a-magnet-turns": "lesson.md" "mobile.toml";
    "02-six-steps": "lesson.md" "slow.toml";
    "03-high-low-floating": "lesson.md" "sluice.toml";
    "04-poles": "lesson.md" "trolley.toml";
    "05-star-and-delta": "aerator.toml" "lesson.md";
    "06-back-emf-and-kv": "driven.toml" "free.toml" "lesson.md";
    "07-load-current-stall": "lesson.md" "trolley.toml";
    "08-pwm": "fan.toml" "lesson.md";
    "09-torque-ripple": "lesson.md" "sluice.toml";
    "10-advance": "blower.toml" "lesson.md";
    "11-winding-factors": "lesson.md" "winder.toml";
    "12-cogging": "lesson.md" "mobile.toml";
    "13-starting-by-the-clock": "lesson.md" "sluice.toml";
    "14-mosfets-and-heat": "lesson.md" "trolley.toml";
    "15-inrunner-and-outrunner": "inside.toml" "lesson.md" "outside.toml";
    "16-a-bench-day": "label.toml" "lesson.md" "motor.toml";
};

/// Names of the folders in the order of the course.
pub fn folders() -> impl Iterator<Item = &'static str> {
    FOLDERS.iter().map(|(name, _)| *name)
}

/// The files of a lesson of the course, by the whole name of its folder.
#[must_use]
pub fn files(folder: &str) -> Option<LessonFiles> {
    let (name, files) = FOLDERS.iter().find(|(name, _)| *name == folder)?;
    Some(LessonFiles {
        folder: (*name).to_owned(),
        texts: files
            .iter()
            .map(|(name, text)| ((*name).to_owned(), (*text).to_owned()))
            .collect(),
    })
}

/// The folder that a person means: its number (`4`, `04`), its name with or without the number,
/// or a part that only one name has.
#[must_use]
pub fn folder_named(asked: &str) -> Option<&'static str> {
    let asked = asked.trim().trim_end_matches('/');
    if let Ok(number) = asked.parse::<u32>() {
        return folders().find(|name| {
            name.split('-')
                .next()
                .is_some_and(|first| first.parse() == Ok(number))
        });
    }
    let title = |name: &'static str| name.split_once('-').map_or(name, |(_, title)| title);
    if let Some(name) = folders().find(|name| *name == asked || title(name) == asked) {
        return Some(name);
    }
    let mut parts = folders().filter(|name| !asked.is_empty() && title(name).contains(asked));
    let only = parts.next()?;
    parts.next().is_none().then_some(only)
}

/// A lesson of the course; `None` where no folder is meant.
#[must_use]
pub fn lesson(asked: &str) -> Option<Result<Lesson, LessonErrors>> {
    folder_named(asked).and_then(files).map(parse)
}

/// The glossary of the course.
#[must_use]
pub fn glossary() -> &'static Glossary {
    static GLOSSARY: OnceLock<Glossary> = OnceLock::new();
    GLOSSARY.get_or_init(|| Glossary::parse(include_str!("../../lessons/glossary.md")))
}

/// Whether a folder's text is its `lesson.md`; for who shows the files.
#[must_use]
pub fn is_text(name: &str) -> bool {
    name == TEXT_FILE
}
