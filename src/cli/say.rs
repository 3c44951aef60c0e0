//! What every command says in the same way: titles, explanations, one JSON object, cautions.

use std::io;
use std::path::Path;

use serde::Serialize;

use super::{Failure, Terminal};
use crate::analysis::{Figure, why};

impl Terminal<'_> {
    /// Before and after what should stand out, where there are colours.
    pub(crate) const fn red(&self) -> (&'static str, &'static str) {
        if self.coloured {
            ("\u{1b}[31m", "\u{1b}[0m")
        } else {
            ("", "")
        }
    }

    /// A person's title, which must not send control codes to the terminal; none where it is empty.
    pub(crate) fn title(&mut self, title: &str, after: &str) -> io::Result<()> {
        let title: String = title.chars().filter(|c| !c.is_control()).collect();
        if title.is_empty() {
            return Ok(());
        }
        writeln!(self.out, "{title}{after}")
    }

    /// Formula, inputs and source of the figures that were asked for.
    pub(crate) fn explain(&mut self, figures: &[Figure], asked: &[String]) -> Result<(), Failure> {
        let texts: Result<Vec<String>, _> = asked.iter().map(|key| why(figures, key)).collect();
        writeln!(self.out, "{}", texts?.join("\n\n"))?;
        Ok(())
    }

    /// One JSON object and the end of its line.
    pub(crate) fn json(&mut self, object: &impl Serialize) -> Result<(), Failure> {
        serde_json::to_writer_pretty(&mut *self.out, object).map_err(|error| {
            if error.is_io() {
                Failure::Output(error.into())
            } else {
                Failure::Json(error)
            }
        })?;
        writeln!(self.out)?;
        Ok(())
    }

    /// What can hurt somebody, under its heading; nothing where nothing can.
    pub(crate) fn cautions(&mut self, cautions: &[String]) -> io::Result<()> {
        if cautions.is_empty() {
            return Ok(());
        }
        let (red, plain) = self.red();
        writeln!(self.out, "\nOn a real bench")?;
        for words in cautions {
            writeln!(self.out, "  {red}⚠{plain} {words}")?;
        }
        Ok(())
    }

    /// Names the files that were written, in a last line; nothing where none was.
    pub(crate) fn wrote<'a>(
        &mut self,
        paths: impl IntoIterator<Item = Option<&'a Path>>,
    ) -> io::Result<()> {
        let names: Vec<String> = paths
            .into_iter()
            .flatten()
            .map(|path| path.display().to_string())
            .collect();
        if names.is_empty() {
            return Ok(());
        }
        writeln!(self.out, "\nwritten: {}", names.join(", "))
    }

    /// Words in lines of at most a hundred characters.
    pub(crate) fn wrapped(&mut self, first: &str, rest: &str, words: &str) -> io::Result<()> {
        const WIDTH: usize = 100;
        let mut line = first.to_owned();
        let mut n_words = 0;
        for word in words.split_whitespace() {
            let longer = line.chars().count() + usize::from(n_words > 0) + word.chars().count();
            if n_words > 0 && longer > WIDTH {
                writeln!(self.out, "{line}")?;
                line = rest.to_owned();
                n_words = 0;
            }
            if n_words > 0 {
                line.push(' ');
            }
            line.push_str(word);
            n_words += 1;
        }
        writeln!(self.out, "{line}")
    }
}
