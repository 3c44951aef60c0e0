//! The figures of a run as a table for a person.

use std::io;

use super::Terminal;
use super::run::Report;
use crate::analysis::{Figure, Group, TABLE_DIGITS, Value};

/// Figures that have a line of their own below the table.
const APART: [&str; 2] = ["warnings", "in_step"];

/// Prints title, figures by group, warnings and cautions.
pub(crate) fn print(title: &str, report: &Report, terminal: &mut Terminal<'_>) -> io::Result<()> {
    let (bold, red, plain) = if terminal.coloured {
        ("\u{1b}[1m", "\u{1b}[31m", "\u{1b}[0m")
    } else {
        ("", "", "")
    };
    let out = &mut *terminal.out;
    if !title.is_empty() {
        // A title must not send control codes to the terminal.
        let title: String = title
            .chars()
            .filter(|character| !character.is_control())
            .collect();
        writeln!(out, "{bold}{title}{plain}")?;
    }
    groups(&report.figures, terminal)?;
    let out = &mut *terminal.out;
    let mut gap = "\n";
    for warning in &report.run_figures.warnings {
        writeln!(out, "{gap}{red}⚠ {warning}{plain}")?;
        gap = "";
    }
    terminal.cautions(&report.cautions)
}

/// Figures under their headings.
pub(crate) fn groups(figures: &[Figure], terminal: &mut Terminal<'_>) -> io::Result<()> {
    let (bold, plain) = if terminal.coloured {
        ("\u{1b}[1m", "\u{1b}[0m")
    } else {
        ("", "")
    };
    let out = &mut *terminal.out;
    let rows = |group: Group| {
        figures
            .iter()
            .filter(move |figure| figure.group == group && !APART.contains(&figure.key))
    };
    let names = figures
        .iter()
        .map(|figure| width(figure.name))
        .max()
        .unwrap_or(0);
    for group in Group::ALL {
        if rows(group).next().is_none() {
            continue;
        }
        writeln!(out, "\n{bold}{}{plain}", group.heading())?;
        for figure in rows(group) {
            writeln!(
                out,
                "  {}{}  {}",
                figure.name,
                " ".repeat(names - width(figure.name)),
                cell(figure)
            )?;
        }
    }
    Ok(())
}

/// Number and unit, the point of all numbers in one column.
fn cell(figure: &Figure) -> String {
    /// Places before the point, a sign included: `−12345`.
    const BEFORE: usize = 6;
    /// Point and places after it.
    const AFTER: usize = 5;
    let digits = if figure.key == "energy_residual" {
        2
    } else {
        TABLE_DIGITS
    };
    let shown = figure.shown(digits);
    match &figure.value {
        Value::Number(_) | Value::Count(_) => {
            let whole = shown.number.find('.').unwrap_or(shown.number.len());
            let before = width(&shown.number[..whole]);
            let after = width(&shown.number[whole..]);
            let cell = format!(
                "{}{}{} {}",
                " ".repeat(BEFORE.saturating_sub(before)),
                shown.number,
                " ".repeat(AFTER.saturating_sub(after)),
                shown.unit
            );
            cell.trim_end().to_owned()
        }
        Value::Words(words) => format!("{}{words}", " ".repeat(BEFORE - 1)),
        Value::Absent(reason) => format!("{}–  ({reason})", " ".repeat(BEFORE - 1)),
    }
}

fn width(words: &str) -> usize {
    words.chars().count()
}
