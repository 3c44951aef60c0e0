//! From checked values to a checked setup: defaults, what must be there, what must agree.

mod bench;
mod machine;

use std::collections::BTreeMap;

use super::check::{Value, check_own, number_fits};
use super::keys::{Absent, KeySpec, Kind, SETUP_SHEET, Sheet};
use super::model::*;
use super::problem::{Place, Problem};
use super::read::{Document, Entry, ReadChange, ReadItem};
use super::units::{Quantity, format_quantity};

/// Asks for the values of keys and keeps the problems that come up.
///
/// Where a value is absent or did not fit, a harmless one stands in for it so that the rest can
/// be looked at too; a setup with such a value never leaves this file, because `problems` is
/// then not empty.
pub(crate) struct Assembler<'a> {
    sheet: Sheet,
    entries: &'a BTreeMap<&'static str, Entry>,
    tables: &'a BTreeMap<&'static str, Place>,
    lists: Option<&'a BTreeMap<&'static str, Vec<ReadItem>>>,
    pub(crate) problems: Vec<Problem>,
}

/// The setup, where nothing is wrong.
pub(super) fn assemble(document: Document) -> Result<Setup, Vec<Problem>> {
    let Document {
        entries,
        tables,
        changes,
        problems,
        ..
    } = document;
    let mut a = Assembler {
        sheet: SETUP_SHEET,
        entries: &entries,
        tables: &tables,
        lists: None,
        problems,
    };
    // Only the present format is known to have the keys looked for below.
    a.whole("format");
    let title = a.text("title").unwrap_or_default();
    let machine = a.machine();
    let n_before = a.problems.len();
    let bench = a.bench();
    let bench_is_whole = a.problems.len() == n_before;
    let run = a.run();
    let mut problems = a.problems;
    match bench_changes(&bench, bench_is_whole, changes, &entries, &mut problems) {
        Some(changes) if problems.is_empty() => Ok(Setup {
            title,
            machine,
            bench,
            run,
            changes,
        }),
        _ => Err(problems),
    }
}

/// A bench from the values of its keys.
pub(super) fn assemble_bench(
    entries: &BTreeMap<&'static str, Entry>,
) -> Result<Bench, Vec<Problem>> {
    let tables = BTreeMap::new();
    let mut a = Assembler {
        sheet: SETUP_SHEET,
        entries,
        tables: &tables,
        lists: None,
        problems: Vec::new(),
    };
    let bench = a.bench();
    if a.problems.is_empty() {
        Ok(bench)
    } else {
        Err(a.problems)
    }
}

/// The bench after each change, each on top of the one before.
fn bench_changes(
    start: &Bench,
    start_is_whole: bool,
    changes: Vec<ReadChange>,
    entries: &BTreeMap<&'static str, Entry>,
    problems: &mut Vec<Problem>,
) -> Option<Vec<Change>> {
    let mut earlier: Option<(f64, Place)> = None;
    for change in &changes {
        if let Some((before_s, before_place)) = earlier
            && change.at_s < before_s
        {
            problems.push(Problem::ChangeOrder {
                at: format_quantity(change.at_s, Quantity::Time),
                before: format_quantity(before_s, Quantity::Time),
                place: Some(change.at_place),
                earlier: Some(before_place),
            });
        }
        earlier = Some((change.at_s, change.at_place));
    }
    // A change is laid on the bench that the file gives; with holes in that nothing can be said.
    let broken = |e: &Entry| e.value.is_none();
    if !start_is_whole
        || entries
            .iter()
            .any(|(k, e)| super::keys::is_changeable(k) && broken(e))
    {
        return None;
    }
    let mut bench = start.clone();
    let mut out = Vec::new();
    for change in changes {
        match super::change::with_value(&bench, change.key, change.value, &change.written) {
            Ok(next) => bench = next,
            Err(problem) => {
                problems.push(problem.at(change.to_place));
                continue;
            }
        }
        out.push(Change {
            at_s: change.at_s,
            key: change.key.to_owned(),
            value: change.written,
            bench: bench.clone(),
        });
    }
    Some(out)
}

impl<'a> Assembler<'a> {
    /// For another kind of file.
    pub(super) fn new(sheet: Sheet, document: &'a Document) -> Self {
        Self {
            sheet,
            entries: &document.entries,
            tables: &document.tables,
            lists: Some(&document.lists),
            problems: document.problems.clone(),
        }
    }

    /// What `make` makes of each table of a list, in the order of the file. Within it the keys of
    /// that table are asked for, under the list's name.
    pub(crate) fn items<T>(&mut self, list: &str, mut make: impl FnMut(&mut Self) -> T) -> Vec<T> {
        let Some(items) = self.lists.and_then(|lists| lists.get(list)) else {
            return Vec::new();
        };
        let (entries, tables) = (self.entries, self.tables);
        let made = items
            .iter()
            .map(|item| {
                (self.entries, self.tables) = (&item.entries, &item.tables);
                make(self)
            })
            .collect();
        (self.entries, self.tables) = (entries, tables);
        made
    }

    /// For one row of a table of parts.
    pub(super) fn of_row(
        sheet: Sheet,
        entries: &'a BTreeMap<&'static str, Entry>,
        tables: &'a BTreeMap<&'static str, Place>,
    ) -> Self {
        Self {
            sheet,
            entries,
            tables,
            lists: None,
            problems: Vec::new(),
        }
    }

    pub(super) fn spec_of(&self, path: &str) -> &'static KeySpec {
        self.sheet
            .key_spec(path)
            .unwrap_or_else(|| panic!("`{path}` is not in the table of keys"))
    }

    fn entry(&self, path: &str) -> Option<&'a Entry> {
        self.entries.get(path)
    }

    /// Whether the text gives this key, right or wrong.
    pub(crate) fn given(&self, path: &str) -> bool {
        self.entries.contains_key(path)
    }

    /// Whether the text gives this table or any key in it.
    pub(crate) fn has_table(&self, table: &str) -> bool {
        let inside = |path: &str| path.strip_prefix(table).is_some_and(|r| r.starts_with('.'));
        self.tables.contains_key(table) || self.entries.keys().any(|path| inside(path))
    }

    /// Where the nearest table that would hold this key begins.
    pub(crate) fn home(&self, path: &str) -> Option<Place> {
        let mut table = path;
        while let Some((parent, _)) = table.rsplit_once('.') {
            if let Some(place) = self.tables.get(parent) {
                return Some(*place);
            }
            table = parent;
        }
        None
    }

    fn key_place(&self, path: &str) -> Option<Place> {
        self.entry(path).and_then(|e| e.key_place)
    }

    fn value_place(&self, path: &str) -> Option<Place> {
        self.entry(path).and_then(|e| e.value_place)
    }

    /// Whether a slip that is told already is why this key is absent: a near name, the right name
    /// in another table, or a table that is none.
    fn excused(&self, path: &str) -> bool {
        let (home, name) = path.rsplit_once('.').unwrap_or(("", path));
        self.problems.iter().any(|problem| match problem {
            Problem::UnknownKey {
                table,
                nearest: Some(near),
                ..
            } => {
                (table == home && *near == name)
                    || path.strip_prefix(table.as_str()).is_some_and(|rest| {
                        rest.trim_start_matches('.')
                            .strip_prefix(near)
                            .is_some_and(|r| r.starts_with('.'))
                    })
            }
            Problem::UnknownKey {
                key,
                belongs_in: Some(right),
                ..
            } => *right == home && key == name,
            Problem::WrongType { key, .. } => path
                .strip_prefix(key.as_str())
                .is_some_and(|rest| rest.starts_with('.')),
            _ => false,
        })
    }

    pub(crate) fn missing(&mut self, path: &str, why: &str, place: Option<Place>) {
        if self.excused(path) {
            return;
        }
        let problem = Problem::Missing {
            key: path.to_owned(),
            example: self.spec_of(path).example.to_owned(),
            why: why.to_owned(),
            because: place.is_some() && place != self.home(path),
            place,
        };
        // several may ask for the same key; that it is not there is told once
        if !self.problems.contains(&problem) {
            self.problems.push(problem);
        }
    }

    /// The value as given or by default; a required one that is absent is told.
    fn value(&mut self, path: &str) -> Option<Value> {
        if let Some(entry) = self.entry(path) {
            return entry.value.clone();
        }
        let spec = self.spec_of(path);
        match spec.absent {
            Absent::Default(text) => check_own(spec, text),
            Absent::Required => {
                let place = self.home(path);
                self.missing(path, "", place);
                None
            }
            Absent::None => None,
        }
    }

    /// Every key that was given with a tolerance, and its half width, in the order of the keys. One
    /// that reaches below what its key allows is told: values drawn there would be no part's.
    pub(crate) fn tolerances(&mut self) -> Vec<(&'static str, f64)> {
        let keys = self.sheet.keys;
        let mut given = Vec::new();
        for spec in keys {
            let Some(entry) = self.entry(spec.path) else {
                continue;
            };
            let Some(half) = entry.tolerance else {
                continue;
            };
            given.push((spec.path, half));
            let Some(Value::Number(value)) = entry.value else {
                continue;
            };
            let low = value - half;
            let Some(place) = self.value_place(spec.path) else {
                continue;
            };
            if number_fits(spec, low) {
                continue;
            }
            let shown = match spec.kind {
                Kind::Quantity { quantity, .. } => format_quantity(three_digits(low), quantity),
                _ => format!("{}", three_digits(low)),
            };
            self.problems.push(Problem::Tolerance {
                key: spec.path.to_owned(),
                reason: format!(
                    "the tolerance reaches down to {shown}, and allowed is {}",
                    spec.kind.allowed()
                ),
                remedy:
                    "95 of 100 values lie within the tolerance: make it smaller, or measure again"
                        .to_owned(),
                place,
            });
        }
        given
    }

    /// Half width of the tolerance that a key was given with.
    pub(crate) fn tolerance(&self, path: &str) -> Option<f64> {
        self.entry(path)?.tolerance
    }

    pub(crate) fn maybe_number(&mut self, path: &str) -> Option<f64> {
        match self.value(path) {
            Some(Value::Number(number)) => Some(number),
            _ => None,
        }
    }

    pub(crate) fn number(&mut self, path: &str) -> f64 {
        self.maybe_number(path).unwrap_or(0.0)
    }

    pub(crate) fn maybe_whole(&mut self, path: &str) -> Option<u32> {
        match self.value(path) {
            Some(Value::Whole(number)) => Some(number),
            _ => None,
        }
    }

    pub(crate) fn whole(&mut self, path: &str) -> u32 {
        self.maybe_whole(path).unwrap_or(1)
    }

    pub(crate) fn word(&mut self, path: &str) -> &'static str {
        match self.value(path) {
            Some(Value::Word(word)) => word,
            _ => "",
        }
    }

    pub(crate) fn flag(&mut self, path: &str) -> bool {
        matches!(self.value(path), Some(Value::Flag(true)))
    }

    pub(crate) fn text(&mut self, path: &str) -> Option<String> {
        match self.value(path) {
            Some(Value::Text(text)) => Some(text),
            _ => None,
        }
    }

    pub(crate) fn contradiction(&mut self, reason: String, remedy: &str, marks: &[(&str, &str)]) {
        let places = marks
            .iter()
            .filter_map(|(path, label)| Some((self.value_place(path)?, (*label).to_owned())))
            .collect();
        self.problems.push(Problem::Contradiction {
            reason,
            remedy: remedy.to_owned(),
            places,
        });
    }
}

/// Without the digits that a difference brings.
fn three_digits(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
}
