//! Which kind of file a text is, so that a file given to the wrong command is told as that.

use crate::choose::{Goal, Parts};
use crate::predict::Build;
use crate::readings::BenchSheet;
use crate::setup::{Setup, SetupErrors};

/// The kinds of files that people write.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FileKind {
    /// What stands on the bench.
    Setup,
    /// Label, pack, controller and load.
    Build,
    /// What a load has to do.
    Goal,
    /// The parts in the drawers.
    Parts,
    /// What somebody measured.
    Readings,
}

impl FileKind {
    /// What it is called, with an article.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Setup => "a setup",
            Self::Build => "a build file",
            Self::Goal => "a goal file",
            Self::Parts => "a table of parts",
            Self::Readings => "a readings file",
        }
    }

    /// A command that takes the file of this name.
    #[must_use]
    pub fn command(self, name: &str) -> String {
        let name = quoted(name);
        match self {
            Self::Setup => format!("wyebench run {name}"),
            Self::Build => format!("wyebench predict {name}"),
            Self::Goal => format!("wyebench choose {name}"),
            Self::Parts => format!("wyebench choose GOAL --parts {name}"),
            Self::Readings => format!("wyebench readings {name}"),
        }
    }

    /// How to get one to start from.
    #[must_use]
    pub const fn example(self) -> &'static str {
        match self {
            Self::Setup => "`wyebench new NAME` writes a setup with comments to start from",
            Self::Build => "`wyebench predict --example` prints a build file to start from",
            Self::Goal => "`wyebench choose --example` prints a goal file to start from",
            Self::Parts => {
                "`wyebench choose --example-parts` prints a table of parts to start from"
            }
            Self::Readings => "`wyebench readings --example` prints a readings file to start from",
        }
    }

    /// How many problems a text has as this kind.
    fn n_problems(self, text: &str) -> usize {
        let count = |errors: SetupErrors| errors.problems().len();
        match self {
            Self::Setup => Setup::parse(text, "").err().map_or(0, count),
            Self::Build => Build::parse(text, "").err().map_or(0, count),
            Self::Goal => Goal::parse(text, "").err().map_or(0, count),
            Self::Parts => Parts::parse(text, "").err().map_or(0, count),
            Self::Readings => BenchSheet::parse(text, "").err().map_or(0, count),
        }
    }

    /// The kind that a text surely is, where it is not this one: its tables say so, and it has fewer
    /// problems as that one than the `n_problems` that it has as this one.
    #[must_use]
    pub fn rather(self, text: &str, n_problems: usize) -> Option<Self> {
        let is = of_tables(text)?;
        (is != self && is.n_problems(text) < n_problems).then_some(is)
    }
}

/// Tables that only a readings file has.
const READINGS: [&str; 8] = [
    "label",
    "driven",
    "spun",
    "resistance",
    "no_load",
    "stall",
    "run_down",
    "inductance",
];

/// The kind that the tables of a text say; `None` where it is no such text.
fn of_tables(text: &str) -> Option<FileKind> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let Ok(tables) = toml::from_str::<toml::Table>(text) else {
        let header = text
            .lines()
            .find(|line| !line.trim_start().starts_with('#'))?;
        let mut columns = header.split(',').map(str::trim);
        return columns
            .any(|column| column == "part")
            .then_some(FileKind::Parts);
    };
    let has = |name: &str| tables.contains_key(name);
    if has("machine") {
        Some(FileKind::Setup)
    } else if has("goal") {
        Some(FileKind::Goal)
    } else if READINGS.iter().any(|name| has(name)) {
        Some(FileKind::Readings)
    } else {
        (has("motor") || has("pack")).then_some(FileKind::Build)
    }
}

/// A name as a shell takes it.
pub(crate) fn quoted(name: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "-_./\\:+,@%".contains(c);
    if !name.is_empty() && name.chars().all(plain) {
        name.to_owned()
    } else {
        format!("\"{name}\"")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::choose::{example_goal, example_parts};
    use crate::predict::example_build;
    use crate::readings::example_sheet;
    use crate::setup::starter;

    #[test]
    fn every_kind_is_known_by_its_tables() {
        let setup = starter("pond");
        let all = [
            (FileKind::Setup, setup.as_str()),
            (FileKind::Build, example_build()),
            (FileKind::Goal, example_goal()),
            (FileKind::Parts, example_parts()),
            (FileKind::Readings, example_sheet()),
        ];
        for (kind, text) in all {
            for (wanted, _) in all {
                let n = wanted.n_problems(text);
                let rather = (n > 0).then(|| wanted.rather(text, n)).flatten();
                let expected = (kind != wanted).then_some(kind);
                assert_eq!(rather, expected, "{kind:?} given as {wanted:?}");
            }
        }
    }

    #[test]
    fn a_slip_does_not_make_another_kind() {
        let text = starter("pond").replace("poles = ", "polse = ");
        assert_eq!(FileKind::Setup.rather(&text, 2), None);
        assert_eq!(FileKind::Setup.rather("format = 1\n", 5), None);
    }

    #[test]
    fn names_with_blanks_are_quoted() {
        assert_eq!(quoted("pond.toml"), "pond.toml");
        assert_eq!(quoted("a b.toml"), "\"a b.toml\"");
    }
}
