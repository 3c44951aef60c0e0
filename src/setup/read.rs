//! From the text to checked values by key, with the place of each.

use std::collections::BTreeMap;

use toml::de::{DeArray, DeTable, DeValue};

use super::check::{Value, check, check_toleranced, check_under, nearest, parted_text, type_name};
use super::keys::{CHANGE_KEYS, KEYS, KeySpec, Sheet, changeable_keys, is_changeable, key_spec};
use super::problem::{Place, Problem};

/// One key that the text gives. `value` is `None` where it did not fit; that is already told.
#[derive(Clone, Debug, Default)]
pub(super) struct Entry {
    pub(super) value: Option<Value>,
    pub(super) key_place: Option<Place>,
    pub(super) value_place: Option<Place>,
    /// Half width of the tolerance that was given with it, in the value's unit.
    pub(super) tolerance: Option<f64>,
}

/// One `[[change]]` as read.
#[derive(Clone, Debug)]
pub(super) struct ReadChange {
    pub(super) at_s: f64,
    pub(super) at_place: Place,
    pub(super) key: &'static str,
    pub(super) value: Value,
    pub(super) written: String,
    pub(super) to_place: Place,
}

/// One table of a list as read.
#[derive(Clone, Debug, Default)]
pub(super) struct ReadItem {
    pub(super) entries: BTreeMap<&'static str, Entry>,
    /// The item itself under the name of its list: where it begins.
    pub(super) tables: BTreeMap<&'static str, Place>,
}

/// Everything the text gives, checked one by one but not yet against each other.
#[derive(Debug, Default)]
pub(super) struct Document {
    pub(super) entries: BTreeMap<&'static str, Entry>,
    /// Where each table that is given begins.
    pub(super) tables: BTreeMap<&'static str, Place>,
    pub(super) changes: Vec<ReadChange>,
    /// Lists other than that of the changes, by name.
    pub(super) lists: BTreeMap<&'static str, Vec<ReadItem>>,
    pub(super) problems: Vec<Problem>,
}

/// Reads a text against what its kind of file may hold.
pub(super) fn read(text: &str, sheet: &Sheet) -> Document {
    let mut document = Document::default();
    let (table, errors) = DeTable::parse_recoverable(text);
    if !errors.is_empty() {
        for error in &errors {
            document
                .problems
                .push(syntax_problem(error, table.get_ref(), text));
        }
        return document;
    }
    if table.get_ref().is_empty() {
        document.problems.push(Problem::Empty);
        return document;
    }
    Walk {
        text,
        sheet: *sheet,
        document: &mut document,
    }
    .table(table.get_ref(), "");
    document
}

fn syntax_problem(error: &toml::de::Error, table: &DeTable<'_>, text: &str) -> Problem {
    // The parser may mark the end of the text, or a place inside a character.
    let place = error.span().map(|span| {
        let mut start = span.start.min(text.len());
        while !text.is_char_boundary(start) {
            start -= 1;
        }
        let mut end = span.end.clamp(start, text.len());
        while !text.is_char_boundary(end) {
            end += 1;
        }
        Place { start, end }
    });
    if error.message().starts_with("duplicate key")
        && let Some(second) = place
    {
        let key = text[second.start..second.end].trim().to_owned();
        let first = last_key_before(table, &key, second.start)
            .or_else(|| header_before(text, &key, second.start));
        return Problem::Twice { key, first, second };
    }
    if let Some(place) = place
        && text[..place.start]
            .trim_end_matches([' ', '\t'])
            .ends_with('=')
    {
        // A bare word after the equals sign, which is the commonest slip.
        let word = text[place.start..place.end].trim();
        let bare = |c: char| c.is_alphanumeric() || " .+-/_\u{b5}\u{3bc}\u{3a9}".contains(c);
        if word.chars().any(char::is_alphabetic) && word.chars().all(bare) {
            return Problem::NoQuotes {
                found: word.to_owned(),
                place,
            };
        }
    }
    Problem::Syntax {
        message: error.message().to_owned(),
        place,
    }
}

/// The last heading `[name]` that begins before a place.
fn header_before(text: &str, name: &str, before: usize) -> Option<Place> {
    let start = text.get(..before)?.rfind(&format!("[{name}]"))? + 1;
    Some(Place {
        start,
        end: start + name.len(),
    })
}

/// The last key of this name that begins before a place.
fn last_key_before(table: &DeTable<'_>, name: &str, before: usize) -> Option<Place> {
    let mut found: Option<Place> = None;
    for (key, value) in table.iter() {
        let span = key.span();
        if key.get_ref() == name && span.start < before {
            found = found.max(Some(span.into()));
        }
        if let DeValue::Table(inner) = value.get_ref() {
            found = found.max(last_key_before(inner, name, before));
        }
    }
    found
}

struct Walk<'a> {
    text: &'a str,
    sheet: Sheet,
    document: &'a mut Document,
}

fn join(table: &str, name: &str) -> String {
    if table.is_empty() {
        name.to_owned()
    } else {
        format!("{table}.{name}")
    }
}

/// The two sides of the sign in a text that carries a tolerance.
fn parted<'a>(value: &'a DeValue<'_>) -> Option<(&'a str, &'a str)> {
    match value {
        DeValue::String(text) => parted_text(text),
        _ => None,
    }
}

/// The keys and tables that may stand in a table.
fn known_in(sheet: &Sheet, table: &str) -> Vec<&'static str> {
    let changes: &'static [KeySpec] = if sheet.has_changes { CHANGE_KEYS } else { &[] };
    let keys = sheet
        .keys
        .iter()
        .chain(changes)
        .filter(|k| k.table() == table)
        .map(|k| k.name());
    let tables = sheet
        .tables
        .iter()
        .filter_map(|(path, _)| match path.rsplit_once('.') {
            Some((parent, name)) => (parent == table).then_some(name),
            None => table.is_empty().then_some(*path),
        });
    keys.chain(tables).collect()
}

impl Walk<'_> {
    fn table(&mut self, table: &DeTable<'_>, path: &str) {
        for (key, value) in table.iter() {
            let child = join(path, key.get_ref());
            let key_place = Place::from(key.span());
            let value_place = Place::from(value.span());
            if child == "change" && self.sheet.has_changes {
                self.changes(value.get_ref(), key_place);
            } else if let Some(known) = self.sheet.lists.iter().find(|list| **list == child) {
                self.list(value.get_ref(), known, key_place);
            } else if let Some((known, _)) = self.sheet.tables.iter().find(|(t, _)| *t == child) {
                match value.get_ref() {
                    DeValue::Table(inner) => {
                        self.document.tables.insert(known, key_place);
                        self.table(inner, known);
                    }
                    other => self.document.problems.push(Problem::WrongType {
                        key: child.clone(),
                        found: type_name(other).to_owned(),
                        wanted: "a table".to_owned(),
                        remedy: if matches!(other, DeValue::Array(_)) {
                            format!("write [{child}] in single brackets: there is one of it")
                        } else {
                            format!("write [{child}] on a line of its own and its keys below")
                        },
                        place: Some(key_place),
                    }),
                }
            } else if let Some(spec) = self.sheet.key_spec(&child) {
                let toleranced = (self.sheet.has_tolerances)
                    .then(|| parted(value.get_ref()))
                    .flatten();
                let (value, tolerance) = match toleranced {
                    Some((nominal, tolerance)) => {
                        check_toleranced(spec, nominal, tolerance, value_place, self.text)
                            .map(|(value, half)| (value, Some(half)))
                    }
                    None => check(spec, value.get_ref(), Some(value_place), self.text)
                        .map(|value| (value, None)),
                }
                .map_err(|problem| self.document.problems.push(problem))
                .map_or((None, None), |(value, tolerance)| (Some(value), tolerance));
                let entry = Entry {
                    value,
                    key_place: Some(key_place),
                    value_place: Some(value_place),
                    tolerance,
                };
                self.document.entries.insert(spec.path, entry);
            } else {
                self.unknown(path, key.get_ref(), key_place);
            }
        }
    }

    /// A list of tables; one in single brackets is a list of one.
    fn list(&mut self, value: &DeValue<'_>, name: &'static str, key_place: Place) {
        let problem = |found: &DeValue<'_>| Problem::WrongType {
            key: name.to_owned(),
            found: type_name(found).to_owned(),
            wanted: "a list of tables".to_owned(),
            remedy: format!("write [[{name}]] with double brackets above each"),
            place: Some(key_place),
        };
        match value {
            DeValue::Table(table) => self.list_item(table, name, key_place),
            DeValue::Array(items) => {
                for item in items {
                    match item.get_ref() {
                        DeValue::Table(table) => {
                            let span = Place::from(item.span());
                            let place = if span.end > span.start {
                                span
                            } else {
                                key_place
                            };
                            self.list_item(table, name, place);
                        }
                        other => self.document.problems.push(problem(other)),
                    }
                }
            }
            other => self.document.problems.push(problem(other)),
        }
    }

    fn list_item(&mut self, table: &DeTable<'_>, name: &'static str, place: Place) {
        let entries = std::mem::take(&mut self.document.entries);
        let tables = std::mem::take(&mut self.document.tables);
        self.document.tables.insert(name, place);
        self.table(table, name);
        let item = ReadItem {
            entries: std::mem::replace(&mut self.document.entries, entries),
            tables: std::mem::replace(&mut self.document.tables, tables),
        };
        self.document.lists.entry(name).or_default().push(item);
    }

    fn unknown(&mut self, table: &str, key: &str, place: Place) {
        let known = known_in(&self.sheet, table);
        let near = nearest(key, known.iter().copied());
        // A key under its right name in the wrong table.
        let mut homes = self
            .sheet
            .keys
            .iter()
            .filter(|k| k.name() == key)
            .map(super::keys::KeySpec::table);
        let belongs_in = match (homes.next(), homes.next()) {
            (Some(home), None) => Some(home),
            _ => None,
        };
        let (table, key) = (table.to_owned(), key.to_owned());
        let nearest = if belongs_in.is_some() { None } else { near };
        self.document.problems.push(Problem::UnknownKey {
            table,
            key,
            nearest,
            belongs_in,
            known,
            place,
        });
    }

    fn changes(&mut self, value: &DeValue<'_>, key_place: Place) {
        let not_tables = |found: &DeValue<'_>| Problem::WrongType {
            key: "change".to_owned(),
            found: type_name(found).to_owned(),
            wanted: "a list of tables".to_owned(),
            remedy: "write [[change]] with double brackets above each change".to_owned(),
            place: Some(key_place),
        };
        let DeValue::Array(items) = value else {
            self.document.problems.push(not_tables(value));
            return;
        };
        self.change_items(items, key_place, &not_tables);
    }

    fn change_items(
        &mut self,
        items: &DeArray<'_>,
        key_place: Place,
        not_tables: &dyn Fn(&DeValue<'_>) -> Problem,
    ) {
        for item in items {
            match item.get_ref() {
                DeValue::Table(table) => {
                    // The header's own span where the parser gives one.
                    let span = Place::from(item.span());
                    let place = if span.end > span.start {
                        span
                    } else {
                        key_place
                    };
                    self.change(table, place);
                }
                other => self.document.problems.push(not_tables(other)),
            }
        }
    }

    fn change(&mut self, table: &DeTable<'_>, place: Place) {
        for (key, _) in table.iter() {
            if !CHANGE_KEYS.iter().any(|k| k.name() == key.get_ref()) {
                self.unknown("change", key.get_ref(), key.span().into());
            }
        }
        let changed = table
            .get("set")
            .and_then(|key| key_spec(key.get_ref().as_str()?));
        for spec in CHANGE_KEYS {
            if !table.contains_key(spec.name()) {
                // What `to` may be depends on the key that it is for.
                let shown = changed.filter(|_| spec.name() == "to").unwrap_or(spec);
                self.document.problems.push(Problem::Missing {
                    key: spec.path.to_owned(),
                    example: shown.example.to_owned(),
                    why: "a change has `at`, `set` and `to`".to_owned(),
                    because: false,
                    place: Some(place),
                });
            }
        }
        let problems = &mut self.document.problems;
        let mut get = |name: &str| {
            let value = table.get(name)?;
            let place = Place::from(value.span());
            let spec = CHANGE_KEYS
                .iter()
                .find(|k| k.name() == name && name != "to")?;
            check(spec, value.get_ref(), Some(place), self.text)
                .map_err(|problem| problems.push(problem))
                .ok()
                .map(|value| (value, place))
        };
        let at = get("at");
        let set = get("set");
        let (Some((Value::Text(key), key_place)), Some(to)) = (set, table.get("to")) else {
            return;
        };
        let to_place = Place::from(to.span());
        let Some(spec) = KEYS.iter().find(|k| k.path == key && is_changeable(k.path)) else {
            let known = key_spec(&key).is_some();
            let nearest = nearest(&key, changeable_keys().map(|k| k.path));
            self.document.problems.push(Problem::NotChangeable {
                key,
                nearest,
                known,
                place: Some(key_place),
            });
            return;
        };
        match check_under(spec, "to", to.get_ref(), Some(to_place), self.text) {
            Ok(value) => {
                let written = match to.get_ref() {
                    DeValue::String(text) => text.to_string(),
                    _ => self.text[to_place.start..to_place.end].to_owned(),
                };
                if let Some((Value::Number(at_s), at_place)) = at {
                    let key = spec.path;
                    self.document.changes.push(ReadChange {
                        at_s,
                        at_place,
                        key,
                        value,
                        written,
                        to_place,
                    });
                }
            }
            Err(problem) => self.document.problems.push(problem),
        }
    }
}
