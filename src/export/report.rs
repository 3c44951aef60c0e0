//! Figures on paper: one HTML page that needs nothing beside it, for A4 and Letter.
//!
//! [`Report`] is the page in the making: headings, figures, tables, pictures and cautions, each
//! text escaped. [`prediction_report`] fills one with a build, [`readings_report`] with what was
//! measured of a motor, [`capture_report`] with a waveform.

mod capture;
mod prediction;
mod readings;

pub use capture::{CapturePage, capture_report};
pub use prediction::{PredictionPage, prediction_report};
pub use readings::{ReadingsPage, readings_report};

use std::fmt::Write as _;

use super::page::{escaped, head};
use super::picture::{Picture, PictureError};
use crate::analysis::{Figure, Group, TABLE_DIGITS, Value, shown};
use crate::readings::Estimate;
use crate::scene::{Colour, Scene, Theme, to_svg};

/// Digits in an explanation.
const WHY_DIGITS: usize = 5;

/// The face of pictures on paper.
const PAPER: Theme = Theme {
    panel: Colour::hex(0xFF_FF_FF),
    ..Theme::LIGHT
};

/// A page in the making.
#[derive(Clone, Debug)]
pub struct Report {
    out: String,
}

/// How a cell of a table stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cell {
    /// Words, to the left.
    Words,
    /// A number with its unit, to the right.
    Number,
}

impl Report {
    /// A page of that title.
    #[must_use]
    pub fn new(title: &str) -> Self {
        let head = head(title, include_str!("report.css"));
        let mut out = head.replace("<body>", "<body class=\"report\">");
        let _ = writeln!(out, "<h1>{}</h1>", escaped(title));
        Self { out }
    }

    /// A heading; one that begins a page stands at its top.
    pub fn heading(&mut self, words: &str, begins_page: bool) {
        let class = if begins_page { " class=\"page\"" } else { "" };
        let _ = writeln!(self.out, "<h2{class}>{}</h2>", escaped(words));
    }

    /// A paragraph.
    pub fn words(&mut self, words: &str) {
        let _ = writeln!(self.out, "<p>{}</p>", escaped(words));
    }

    /// A paragraph in small type.
    pub fn small(&mut self, words: &str) {
        let _ = writeln!(self.out, "<p class=\"small\">{}</p>", escaped(words));
    }

    /// The text of a file as it is.
    pub fn file(&mut self, text: &str) {
        let _ = writeln!(self.out, "<pre><code>{}</code></pre>", escaped_lines(text));
    }

    /// A few values in large type, each with its name.
    pub fn in_short<'a>(&mut self, values: impl IntoIterator<Item = (String, &'a str)>) {
        self.out += "<ul class=\"short\">\n";
        for (value, name) in values {
            let _ = writeln!(
                self.out,
                "<li><span class=\"value\">{}</span><span class=\"name\">{}</span></li>",
                escaped(&value),
                escaped(name)
            );
        }
        self.out += "</ul>\n";
    }

    /// A sentence that says whether something is wrong; its beginning stands out.
    pub fn verdict(&mut self, lead: &str, rest: &str, is_caution: bool) {
        let class = if is_caution { " class=\"over\"" } else { "" };
        let mark = if is_caution { "\u{26a0} " } else { "" };
        let _ = writeln!(
            self.out,
            "<p class=\"verdict\"><strong{class}>{mark}{}</strong>{}</p>",
            escaped(lead),
            escaped(rest)
        );
    }

    /// Items one under the other, numbered or not; each with what is said under it.
    pub fn items(&mut self, items: &[(String, Vec<String>)], numbered: bool) {
        let list = if numbered { "ol" } else { "ul" };
        let _ = writeln!(self.out, "<{list}>");
        for (words, under) in items {
            let _ = write!(self.out, "<li>{}", escaped(words));
            for line in under {
                let _ = write!(
                    self.out,
                    "<br><span class=\"small\">{}</span>",
                    escaped(line)
                );
            }
            self.out += "</li>\n";
        }
        let _ = writeln!(self.out, "</{list}>");
    }

    /// A table; each column says how it stands. A row that is over something is marked.
    pub fn table(&mut self, columns: &[(&str, Cell)], rows: &[(Vec<String>, bool)]) {
        let class = |cell: Cell| match cell {
            Cell::Words => "",
            Cell::Number => " class=\"number\"",
        };
        self.out += "<table>\n<thead><tr>";
        for (name, cell) in columns {
            let _ = write!(self.out, "<th{}>{}</th>", class(*cell), escaped(name));
        }
        self.out += "</tr></thead>\n<tbody>\n";
        for (cells, over) in rows {
            self.out += if *over { "<tr class=\"over\">" } else { "<tr>" };
            for (words, (_, cell)) in cells.iter().zip(columns) {
                let _ = write!(self.out, "<td{}>{}</td>", class(*cell), escaped(words));
            }
            self.out += "</tr>\n";
        }
        self.out += "</tbody>\n</table>\n";
    }

    /// Figures under their headings, each with its value in words.
    pub fn figures<'a>(&mut self, figures: impl Iterator<Item = (&'a Figure, String)> + Clone) {
        self.out += "<div class=\"figures\">\n";
        for group in Group::ALL {
            let rows: Vec<(Vec<String>, bool)> = figures
                .clone()
                .filter(|(figure, _)| figure.group == group)
                .map(|(figure, words)| (vec![figure.name.to_owned(), words], false))
                .collect();
            if !rows.is_empty() {
                let columns = [(group.heading(), Cell::Words), ("", Cell::Number)];
                self.table(&columns, &rows);
            }
        }
        self.out += "</div>\n";
    }

    /// Where each figure comes from: formula, what went in, source, note.
    pub fn explanations<'a>(&mut self, figures: impl Iterator<Item = (&'a Figure, String)>) {
        self.out += "<dl class=\"why\">\n";
        for (figure, words) in figures {
            let symbol = if figure.symbol.is_empty() {
                figure.name
            } else {
                figure.symbol
            };
            let _ = write!(
                self.out,
                "<dt>{}: {}</dt>\n<dd>",
                escaped(figure.name),
                escaped(&words)
            );
            let mut line = |class: &str, words: &str| {
                let _ = write!(self.out, "<p{class}>{}</p>", escaped(words));
            };
            if !figure.formula.is_empty() {
                line("", &format!("{symbol} = {}", figure.formula));
                let inputs: Vec<String> = figure
                    .inputs
                    .iter()
                    .map(|input| {
                        let value = shown(input.value, input.unit, WHY_DIGITS);
                        format!("{} = {value} ({})", input.symbol, input.name)
                    })
                    .collect();
                if !inputs.is_empty() {
                    line("", &format!("with {}", inputs.join("; ")));
                }
            }
            if !figure.note.is_empty() {
                line("", figure.note);
            }
            line(" class=\"source\"", &format!("Source: {}", figure.source));
            self.out += "</dd>\n";
        }
        self.out += "</dl>\n";
    }

    /// A picture of that size in points with a caption, drawn into the page itself.
    ///
    /// # Errors
    /// [`PictureError`].
    pub fn picture(
        &mut self,
        svg: String,
        [width, height]: [f64; 2],
        title: &str,
        caption: &str,
    ) -> Result<(), PictureError> {
        let svg = Picture::new(svg, title.to_owned(), caption.to_owned()).svg()?;
        // so that it is scaled to the page, and not cut
        let head = svg.split('>').next().unwrap_or_default();
        let svg = if head.contains("viewBox") {
            svg
        } else {
            let view_box = format!("<svg viewBox=\"0 0 {width} {height}\" ");
            svg.replacen("<svg ", &view_box, 1)
        };
        let _ = writeln!(
            self.out,
            "<figure>{svg}<figcaption>{}</figcaption></figure>",
            escaped(caption)
        );
        Ok(())
    }

    /// A scene as wide as the page, its words beside it.
    ///
    /// # Errors
    /// [`PictureError`].
    pub fn scene(&mut self, scene: &Scene, title: &str, caption: &str) -> Result<(), PictureError> {
        let size = scene.high - scene.low;
        let size = [size.x, size.y];
        self.picture(to_svg(scene, size, PAPER.panel, true), size, title, caption)
    }

    /// What can hurt somebody.
    pub fn cautions<'a>(&mut self, cautions: impl IntoIterator<Item = &'a str>) {
        self.out += "<ul class=\"cautions\">\n";
        for caution in cautions {
            let _ = writeln!(self.out, "<li>{}</li>", escaped(caution));
        }
        self.out += "</ul>\n";
    }

    /// The page.
    #[must_use]
    pub fn finish(mut self) -> String {
        self.out += "</body>\n</html>\n";
        self.out
    }
}

/// A text of several lines, each escaped.
fn escaped_lines(text: &str) -> String {
    let lines: Vec<String> = text
        .lines()
        .map(|line| escaped(&line.replace('\t', "    ")))
        .collect();
    lines.join("\n")
}

/// The value, or why there is none.
fn value_words(figure: &Figure) -> String {
    match figure.value {
        Value::Absent(reason) => format!("– ({reason})"),
        _ => figure.shown(TABLE_DIGITS).to_string(),
    }
}

/// Figures with their values as a table has them.
fn with_values(figures: &[Figure]) -> impl Iterator<Item = (&Figure, String)> + Clone {
    figures.iter().map(|figure| (figure, value_words(figure)))
}

/// Figures with their values and ranges.
fn with_ranges(estimates: &[Estimate]) -> impl Iterator<Item = (&Figure, String)> + Clone {
    estimates
        .iter()
        .map(|estimate| (&estimate.figure, estimate.words()))
}
