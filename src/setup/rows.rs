//! A table of parts as comma-separated values: one part a row, read against the same table of keys
//! as the file that the part would stand in.
//!
//! ```text
//! part,  name,          kv,        line_resistance, poles, voltage
//! motor, bell 920,      920 rpm/V, 90 mohm,         14,
//! pack,  three cells,   ,          ,                ,      11.1 V
//! ```
//!
//! Mistakes are told with line, column and the place of their cell.

use std::collections::BTreeMap;

use toml::de::DeValue;

use super::assemble::Assembler;
use super::cells::{Cell, Line, lines_of, told};
use super::check::{check, check_toleranced, nearest, parted_text, raw};
use super::keys::{KeySpec, Kind, Sheet};
use super::problem::{Place, Problem, SetupErrors};
use super::read::Entry;
use super::{MAX_TEXT_BYTES, Quantity};

/// Problems that are told of one file; a file with more is as a rule another kind of file.
const MOST_PROBLEMS: usize = 40;

/// Columns that belong to no key: which kind of part, what it is called, and words for oneself.
const PART: &str = "part";
const NAME: &str = "name";
const NOTE: &str = "note";

/// Reads a table of parts of these kinds, each of which is a table of `sheet`. `make` asks for the
/// keys of one part; what it makes counts where no problem came up.
///
/// # Errors
/// All problems of the text in its order, each with line, column, place and remedy.
pub(crate) fn parse_rows<T>(
    text: &str,
    source_name: &str,
    sheet: &Sheet,
    kinds: &[&'static str],
    mut make: impl FnMut(&'static str, &str, &mut Assembler<'_>) -> T,
) -> Result<Vec<T>, SetupErrors> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let fail = |problems| Err(SetupErrors::new(text, source_name, problems));
    if text.len() > MAX_TEXT_BYTES {
        return fail(vec![Problem::TooLarge {
            n_bytes: text.len(),
            allowed: MAX_TEXT_BYTES,
        }]);
    }
    let lines = match lines_of(text) {
        Ok(lines) => lines,
        Err(problem) => return fail(vec![problem]),
    };
    let Some((head, rows)) = lines.split_first() else {
        return fail(vec![told(
            "there is no part in it".to_owned(),
            format!("the first line names the columns: {PART}, {NAME}, and the keys of the parts"),
            Vec::new(),
        )]);
    };
    let mut reader = Reader {
        sheet,
        kinds,
        columns: Vec::new(),
        names: BTreeMap::new(),
        problems: Vec::new(),
    };
    reader.columns(head);
    if !reader.problems.is_empty() {
        // Without its columns no row can be read.
        return fail(reader.problems);
    }
    let mut made = Vec::with_capacity(rows.len());
    for line in rows {
        if reader.problems.len() >= MOST_PROBLEMS {
            reader.problems.push(told(
                format!("lines after line {} were not looked at", line.number),
                "correct the ones above first".to_owned(),
                Vec::new(),
            ));
            break;
        }
        made.extend(reader.row(line, &mut make));
    }
    if reader.problems.is_empty() {
        Ok(made)
    } else {
        fail(reader.problems)
    }
}

struct Reader<'a> {
    sheet: &'a Sheet,
    kinds: &'a [&'static str],
    columns: Vec<String>,
    /// Kind and name of each part, and its line.
    names: BTreeMap<(&'static str, String), usize>,
    problems: Vec<Problem>,
}

impl Reader<'_> {
    /// The keys that a column of this name may hold, one for each kind of part.
    fn keys(&self, column: &str) -> impl Iterator<Item = &'static KeySpec> {
        let (keys, kinds) = (self.sheet.keys, self.kinds);
        keys.iter()
            .filter(move |spec| spec.name() == column && kinds.contains(&spec.table()))
    }

    fn columns(&mut self, head: &Line) {
        for cell in &head.cells {
            let name = cell.text.as_str();
            let at = |label: &str| vec![(cell.place, label.to_owned())];
            if name.is_empty() && std::ptr::eq(cell, head.cells.last().unwrap_or(cell)) {
                // a comma at the end of the line
            } else if self.columns.iter().any(|known| known == name) {
                self.problems.push(told(
                    format!("line {}: the column `{name}` is there twice", head.number),
                    "keep one of the two".to_owned(),
                    at("again here"),
                ));
            } else if ![PART, NAME, NOTE].contains(&name) && self.keys(name).next().is_none() {
                let known = self
                    .sheet
                    .keys
                    .iter()
                    .filter(|spec| self.kinds.contains(&spec.table()))
                    .map(KeySpec::name);
                let own = [PART, NAME, NOTE];
                let remedy = nearest(name, own.iter().copied().chain(known)).map_or_else(
                    || {
                        format!(
                            "columns are the keys of a build file without their table; words for yourself stand in \
                             a column `{NOTE}`"
                        )
                    },
                    |near| format!("did you mean `{near}`?"),
                );
                self.problems.push(told(
                    format!("line {}: `{}` is no column", head.number, short(name)),
                    remedy,
                    at("not known"),
                ));
            }
            self.columns.push(name.to_owned());
        }
        for needed in [PART, NAME] {
            if !self.columns.iter().any(|column| column == needed) {
                let place = head.cells.first().map(|cell| cell.place);
                self.problems.push(told(
                    format!("line {}: the column `{needed}` is missing", head.number),
                    format!("the first line names the columns, {PART} and {NAME} among them"),
                    place
                        .map(|place| (place, "the columns".to_owned()))
                        .into_iter()
                        .collect(),
                ));
            }
        }
    }

    fn cell<'l>(&self, line: &'l Line, column: &str) -> Option<&'l Cell> {
        let at = self.columns.iter().position(|name| name == column)?;
        line.cells.get(at).filter(|cell| !cell.text.is_empty())
    }

    /// One part, where its row says which.
    fn row<T>(
        &mut self,
        line: &Line,
        make: &mut impl FnMut(&'static str, &str, &mut Assembler<'_>) -> T,
    ) -> Option<T> {
        let n_before = self.problems.len();
        if let Some(cell) = line
            .cells
            .get(self.columns.len()..)
            .and_then(|more| more.iter().find(|cell| !cell.text.is_empty()))
        {
            self.problems.push(told(
                format!("line {}: there are more cells than columns", line.number),
                "a cell with a comma in it stands in double quotes, and numbers have a decimal point".to_owned(),
                vec![(cell.place, "no column".to_owned())],
            ));
            return None;
        }
        let kind = self.kind(line);
        let name = self.name(line, kind);
        let (kind, name) = (kind?, name?);
        let mut entries = BTreeMap::new();
        for (column, cell) in self.columns.clone().iter().zip(&line.cells) {
            if cell.text.is_empty() || [PART, NAME, NOTE].contains(&column.as_str()) {
                continue;
            }
            if let Some((path, entry)) = self.entry(line.number, kind, column, cell) {
                entries.insert(path, entry);
            }
        }
        let place = self.cell(line, NAME).map(|cell| cell.place);
        let tables: BTreeMap<&'static str, Place> =
            place.map(|place| (kind, place)).into_iter().collect();
        let mut assembler = Assembler::of_row(*self.sheet, &entries, &tables);
        let part = make(kind, &name, &mut assembler);
        let found = assembler.problems;
        // what cells that did not fit come to together says nothing
        let broken = self.problems.len() > n_before;
        let counts = |problem: &Problem| !broken || matches!(problem, Problem::Missing { .. });
        for problem in found.into_iter().filter(counts) {
            self.problems
                .push(retold(problem, line.number, kind, self.sheet));
        }
        (self.problems.len() == n_before).then_some(part)
    }

    fn kind(&mut self, line: &Line) -> Option<&'static str> {
        let cell = self.cell(line, PART);
        let written = cell.map_or("", |cell| cell.text.as_str());
        let known = self.kinds.iter().find(|kind| **kind == written);
        if known.is_none() {
            let near = nearest(written, self.kinds.iter().copied());
            let remedy = near.map_or_else(
                || format!("a part is one of: {}", self.kinds.join(", ")),
                |near| format!("did you mean `{near}`?"),
            );
            let reason = if written.is_empty() {
                format!(
                    "line {}, column `{PART}` is empty: which part is it?",
                    line.number
                )
            } else {
                format!(
                    "line {}, column `{PART}`: `{}` is no part",
                    line.number,
                    short(written)
                )
            };
            let place = cell.or(line.cells.first()).map(|cell| cell.place);
            let places = place.map(|place| (place, "this part".to_owned()));
            self.problems
                .push(told(reason, remedy, places.into_iter().collect()));
        }
        known.copied()
    }

    fn name(&mut self, line: &Line, kind: Option<&'static str>) -> Option<String> {
        let Some(cell) = self.cell(line, NAME) else {
            let place = line.cells.first().map(|cell| cell.place);
            self.problems.push(told(
                format!("line {}, column `{NAME}` is empty", line.number),
                "give each part a name; the list of what would do calls it by that".to_owned(),
                place
                    .map(|place| (place, "this part".to_owned()))
                    .into_iter()
                    .collect(),
            ));
            return None;
        };
        // a name must not send control codes to a terminal
        let name: String = cell.text.chars().filter(|c| !c.is_control()).collect();
        if let Some(kind) = kind
            && let Some(first) = self.names.insert((kind, name.clone()), line.number)
        {
            self.problems.push(told(
                format!(
                    "line {}, column `{NAME}`: line {first} has a {kind} of that name already",
                    line.number
                ),
                "call them differently, or leave one out".to_owned(),
                vec![(cell.place, "again".to_owned())],
            ));
        }
        Some(name)
    }

    fn entry(
        &mut self,
        line: usize,
        kind: &'static str,
        column: &str,
        cell: &Cell,
    ) -> Option<(&'static str, Entry)> {
        let Some(spec) = self.keys(column).find(|spec| spec.table() == kind) else {
            let homes: Vec<&str> = self.keys(column).map(KeySpec::table).collect();
            self.problems.push(told(
                format!("line {line}, column `{column}`: a {kind} has none"),
                format!("leave the cell empty; it is for a {}", homes.join(" or a ")),
                vec![(cell.place, "of another part".to_owned())],
            ));
            return None;
        };
        let checked = match parted_text(&cell.text).filter(|_| self.sheet.has_tolerances) {
            Some((nominal, tolerance)) => {
                check_toleranced(spec, nominal, tolerance, cell.place, "")
                    .map(|(value, half)| (value, Some(half)))
            }
            None => check(spec, &value_of(spec, &cell.text), Some(cell.place), "")
                .map(|value| (value, None)),
        };
        match checked {
            Ok((value, tolerance)) => Some((
                spec.path,
                Entry {
                    value: Some(value),
                    key_place: Some(cell.place),
                    value_place: Some(cell.place),
                    tolerance,
                },
            )),
            Err(problem) => {
                self.problems.push(retold(problem, line, kind, self.sheet));
                // given, if wrong: not told as missing too
                let place = Some(cell.place);
                let entry = Entry {
                    value: None,
                    key_place: place,
                    value_place: place,
                    tolerance: None,
                };
                Some((spec.path, entry))
            }
        }
    }
}

/// What a cell holds, as the file of the key would write it.
fn value_of<'a>(spec: &KeySpec, text: &'a str) -> DeValue<'a> {
    match (spec.kind, text) {
        (Kind::Quantity { .. }, _) => DeValue::String(text.into()),
        // as spreadsheets write them
        (Kind::Flag, "TRUE") => DeValue::Boolean(true),
        (Kind::Flag, "FALSE") => DeValue::Boolean(false),
        _ => raw(spec, text),
    }
}

/// A problem of a key in the words of a table: line, column, and a cell as it would be right.
fn retold(problem: Problem, line: usize, kind: &str, sheet: &Sheet) -> Problem {
    let example = |key: &str| {
        sheet
            .key_spec(key)
            .map_or("", |spec| spec.example)
            .trim_matches('"')
    };
    let column = |key: &str| key.rsplit('.').next().unwrap_or(key).to_owned();
    let units = |quantity: Quantity| quantity.unit_list();
    let (key, remedy) = match &problem {
        Problem::Missing { key, .. } => {
            let about = sheet.key_spec(key).map_or("", |spec| spec.about);
            return told(
                format!(
                    "line {line}, column `{}` is empty: a {kind} needs it",
                    column(key)
                ),
                format!("write it as in {} ({about})", example(key)),
                problem
                    .marks()
                    .into_iter()
                    .map(|(place, _)| (place, format!("this {kind}")))
                    .collect(),
            );
        }
        Problem::Contradiction {
            reason,
            remedy,
            places,
        } => {
            let reason = reason.replace(&format!("`{kind}."), "`");
            return told(
                format!("line {line}: {reason}"),
                remedy.clone(),
                places.clone(),
            );
        }
        Problem::NoUnit { key, quantity, .. } => (
            key,
            format!(
                "number and unit stand in the cell, as in {}; units: {}",
                example(key),
                units(*quantity)
            ),
        ),
        Problem::NoNumber { key, .. } => {
            (key, format!("begin with a number, as in {}", example(key)))
        }
        Problem::WrongType { key, .. } => (key, format!("write it as in {}", example(key))),
        Problem::Tolerance { key, .. } => (
            key,
            format!("write it as in {} \u{b1} 5 %, or without", example(key)),
        ),
        Problem::NumberForm { key, .. }
        | Problem::UnknownUnit { key, .. }
        | Problem::OtherQuantity { key, .. }
        | Problem::NotFinite { key, .. }
        | Problem::OutOfRange { key, .. }
        | Problem::UnknownWord { key, .. } => (key, problem.remedy().unwrap_or_default()),
        _ => return problem,
    };
    let reason = problem
        .to_string()
        .replace(&format!("`{key}`"), &format!("column `{}`", column(key)));
    let reason = format!("line {line}, {reason}");
    told(reason, remedy, problem.marks())
}

/// The first words of something that may be long.
fn short(text: &str) -> String {
    const MOST: usize = 40;
    let mut words: String = text
        .chars()
        .filter(|c| !c.is_control())
        .take(MOST)
        .collect();
    if text.chars().count() > MOST {
        words.push('…');
    }
    words
}
