//! A prediction on paper: one HTML page that needs nothing beside it, for A4 and Letter.
//!
//! [`Report`] is the page in the making: headings, figures, tables, pictures and cautions, each
//! text escaped. [`prediction_report`] fills one with a build; a page about readings from a bench
//! can be made of the same pieces.

use std::fmt::Write as _;

use super::page::{escaped, head};
use super::picture::{Picture, PictureError};
use crate::analysis::{Figure, Group, TABLE_DIGITS, Unit, Value, shown};
use crate::predict::{Build, Confirmed, Limit, Prediction, Spread};
use crate::scene::curves::{CurvesView, Panel, curves};
use crate::scene::{Colour, Theme, to_svg};

/// Digits in an explanation.
const WHY_DIGITS: usize = 5;

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

    /// A few figures in large type.
    pub fn in_short<'a>(&mut self, figures: impl IntoIterator<Item = &'a Figure>) {
        self.out += "<ul class=\"short\">\n";
        for figure in figures {
            let _ = writeln!(
                self.out,
                "<li><span class=\"value\">{}</span><span class=\"name\">{}</span></li>",
                escaped(&figure.shown(TABLE_DIGITS).to_string()),
                escaped(figure.name)
            );
        }
        self.out += "</ul>\n";
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

    /// Figures under their headings.
    pub fn figures(&mut self, figures: &[Figure]) {
        self.out += "<div class=\"figures\">\n";
        for group in Group::ALL {
            let rows: Vec<(Vec<String>, bool)> = figures
                .iter()
                .filter(|figure| figure.group == group)
                .map(|figure| (vec![figure.name.to_owned(), value_words(figure)], false))
                .collect();
            if !rows.is_empty() {
                let columns = [(group.heading(), Cell::Words), ("", Cell::Number)];
                self.table(&columns, &rows);
            }
        }
        self.out += "</div>\n";
    }

    /// Where each figure comes from: formula, what went in, source, note.
    pub fn explanations(&mut self, figures: &[Figure]) {
        self.out += "<dl class=\"why\">\n";
        for figure in figures {
            let symbol = if figure.symbol.is_empty() {
                figure.name
            } else {
                figure.symbol
            };
            let _ = write!(
                self.out,
                "<dt>{}: {}</dt>\n<dd>",
                escaped(figure.name),
                escaped(&value_words(figure))
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

/// What a page about a prediction shows.
#[derive(Clone, Copy, Debug)]
pub struct PredictionPage<'a> {
    /// The build file as it was read.
    pub text: &'a str,
    /// What it says.
    pub build: &'a Build,
    /// What was predicted.
    pub prediction: &'a Prediction,
    /// The figures of that.
    pub figures: &'a [Figure],
    /// 95 % ranges, where inputs carry tolerances.
    pub spread: Option<&'a Spread>,
    /// The same point simulated, where that was asked.
    pub confirmed: Option<&'a Confirmed>,
    /// The curves, where the motor turns.
    pub panels: &'a [Panel],
    /// What can hurt somebody.
    pub cautions: &'a [String],
}

/// Figures in large type at the top, as far as there are.
const IN_SHORT: [&str; 9] = [
    "thrust_n",
    "road_speed_m_s",
    "line_speed_m_s",
    "flow_m3_s",
    "speed_rpm",
    "motor_current_a",
    "input_power_w",
    "efficiency",
    "run_time_min",
];

/// Ground of the pictures: paper.
const PAPER: Colour = Colour::hex(0xFF_FF_FF);

/// The page of a prediction: inputs as given, figures, limits, curves, ranges, the simulated point,
/// and where each figure comes from.
///
/// # Errors
/// [`PictureError`].
pub fn prediction_report(page: &PredictionPage<'_>) -> Result<String, PictureError> {
    let title = if page.build.title.trim().is_empty() {
        "Prediction of a build"
    } else {
        &page.build.title
    };
    let mut report = Report::new(title);
    report.small(
        "What this motor, pack, controller and load will do together, in closed form from their labels. Nothing here was \
         measured.",
    );
    let by_key = |key: &&str| page.figures.iter().find(|figure| figure.key == *key);
    report.in_short(IN_SHORT.iter().filter_map(by_key));
    if let Some(doubt) = page.prediction.loaded.regime.doubt() {
        report.words(doubt);
    }
    if page.prediction.inductance_estimated {
        report.words(&format!(
            "No inductance is given: {} between terminals is an estimate. The truth lies between these figures and the dc \
             formula's.",
            shown(page.build.motor.inductance_h(), Unit::HENRY, TABLE_DIGITS)
        ));
    }
    if !page.cautions.is_empty() {
        report.cautions(page.cautions.iter().map(String::as_str));
    }
    report.heading("Figures", false);
    report.figures(page.figures);
    if !page.prediction.limits.is_empty() {
        report.heading("Limits, the fullest first", false);
        limits(&mut report, &page.prediction.limits);
    }
    pictures(&mut report, page.panels)?;
    if let Some(spread) = page.spread {
        report.heading("95 % ranges, and the inputs they come from", false);
        ranges(&mut report, page.figures, spread);
    }
    if let Some(confirmed) = page.confirmed {
        report.heading("The same point, simulated in full", false);
        beside(&mut report, page, confirmed);
    }
    report.heading("What was given", false);
    report.file(page.text);
    report.heading("Where each figure comes from", true);
    report.explanations(page.figures);
    Ok(report.finish())
}

fn limits(report: &mut Report, limits: &[Limit]) {
    let columns = [
        ("of", Cell::Words),
        ("used", Cell::Number),
        ("allowed", Cell::Number),
        ("part", Cell::Number),
        ("", Cell::Words),
    ];
    let rows: Vec<_> = limits
        .iter()
        .map(|limit| {
            let unit = limit.unit_of_figures();
            let over = limit.part() > 1.0;
            let used = if limit.used.is_finite() {
                shown(limit.used, unit, TABLE_DIGITS).to_string()
            } else {
                "runs away".to_owned()
            };
            let cells = vec![
                limit.name.to_owned(),
                used,
                shown(limit.allowed, unit, TABLE_DIGITS).to_string(),
                if limit.part().is_finite() {
                    format!("{:.0} %", 100.0 * limit.part())
                } else {
                    "–".to_owned()
                },
                if over { "⚠ over" } else { "" }.to_owned(),
            ];
            (cells, over)
        })
        .collect();
    report.table(&columns, &rows);
}

/// Each panel of the curves as a picture of its own, as wide as the page.
fn pictures(report: &mut Report, panels: &[Panel]) -> Result<(), PictureError> {
    let theme = Theme {
        panel: PAPER,
        ..Theme::LIGHT
    };
    for panel in panels {
        report.heading(&panel.heading, true);
        let view = CurvesView {
            title: String::new(),
            panels: vec![Panel {
                heading: String::new(),
                ..panel.clone()
            }],
        };
        let scene = curves(&view, &theme);
        let size = scene.high - scene.low;
        let svg = to_svg(&scene, [size.x, size.y], theme.panel, true);
        let caption = format!(
            "{}: speed, motor current, efficiency and shaft power. Rings are predicted points; dashes are only about right.",
            panel.heading
        );
        report.picture(svg, [size.x, size.y], &panel.heading, &caption)?;
    }
    Ok(())
}

fn ranges(report: &mut Report, figures: &[Figure], spread: &Spread) {
    let columns = [
        ("figure", Cell::Words),
        ("from", Cell::Number),
        ("to", Cell::Number),
        ("inputs, by their share", Cell::Words),
    ];
    let rows: Vec<_> = spread
        .ranges
        .iter()
        .filter_map(|range| {
            let figure = figures.iter().find(|figure| figure.key == range.key)?;
            let value = |value: f64| shown(value, figure.unit, TABLE_DIGITS).to_string();
            let inputs: Vec<String> = range
                .influences
                .iter()
                .filter(|influence| influence.share >= 0.02)
                .take(3)
                .map(|influence| format!("{} {:.0} %", influence.key, 100.0 * influence.share))
                .collect();
            let cells = vec![
                figure.name.to_owned(),
                value(range.low),
                value(range.high),
                inputs.join(", "),
            ];
            Some((cells, false))
        })
        .collect();
    report.table(&columns, &rows);
    report.small(&format!(
        "Of {} trials with the toleranced inputs drawn anew{}.",
        spread.n_trials,
        if spread.n_without_point > 0 {
            format!(
                "; in {} more the motor did not turn its load",
                spread.n_without_point
            )
        } else {
            String::new()
        }
    ));
}

/// Predicted and simulated, side by side.
fn beside(report: &mut Report, page: &PredictionPage<'_>, confirmed: &Confirmed) {
    let columns = [
        ("", Cell::Words),
        ("predicted", Cell::Number),
        ("simulated", Cell::Number),
        ("differs", Cell::Number),
    ];
    let rows: Vec<_> = confirmed
        .beside(&page.prediction.loaded)
        .into_iter()
        .map(|(name, unit, predicted, simulated)| {
            let value = |value: f64| shown(value, unit, TABLE_DIGITS).to_string();
            let cells = vec![
                name.to_owned(),
                value(predicted),
                value(simulated),
                format!("{:+.1} %", 100.0 * (predicted / simulated - 1.0)).replace('-', "−"),
            ];
            (cells, false)
        })
        .collect();
    report.table(&columns, &rows);
    report.small(
        "The shaft held at the predicted speed. The prediction takes the chopper's mean voltage and ripple, and leaves out \
         the diode of the floating leg in the off time.",
    );
}
