//! A setup written over the text it came from: only what has changed is touched, so that a
//! person's comments, units and order of lines stay.

use std::collections::BTreeMap;

use toml::Value;
use toml_edit::{DocumentMut, Item, Table};

use crate::setup::Setup;

/// A key with the tables it lies in.
type Path = Vec<String>;

/// The text with the changes between two setups, `old` being what it says now. `None` where the
/// changes cannot be placed in it: it would not read back as `new`.
pub(super) fn rewritten(text: &str, old: &Setup, new: &Setup) -> Option<String> {
    let mut document: DocumentMut = text.parse().ok()?;
    let (before, after) = (leaves(old)?, leaves(new)?);
    let paths: std::collections::BTreeSet<&Path> = before.keys().chain(after.keys()).collect();
    for path in paths {
        let wanted = after.get(path);
        if before.get(path) != wanted {
            place(&mut document, path, wanted)?;
        }
    }
    let text = document.to_string();
    let reads_back = Setup::parse(&text, "rewritten").is_ok_and(|setup| setup == *new);
    reads_back.then_some(text)
}

/// All values of a setup as it writes itself, by path.
fn leaves(setup: &Setup) -> Option<BTreeMap<Path, Value>> {
    fn add(table: toml::Table, above: &[String], out: &mut BTreeMap<Path, Value>) {
        for (key, value) in table {
            let mut path = above.to_vec();
            path.push(key);
            match value {
                Value::Table(table) => add(table, &path, out),
                value => {
                    out.insert(path, value);
                }
            }
        }
    }
    let mut out = BTreeMap::new();
    add(setup.to_toml().parse().ok()?, &[], &mut out);
    Some(out)
}

/// Puts a value at a path, or takes it away. `None` where the text has something else there.
fn place(document: &mut DocumentMut, path: &[String], wanted: Option<&Value>) -> Option<()> {
    let (key, tables) = path.split_last()?;
    let mut item = document.as_item_mut();
    for name in tables {
        let table = item.as_table_like_mut()?;
        if table.get(name).is_none() {
            if wanted.is_none() {
                return Some(());
            }
            table.insert(name, Item::Table(Table::new()));
        }
        item = table.get_mut(name)?;
    }
    let table = item.as_table_like_mut()?;
    let Some(wanted) = wanted else {
        table.remove(key);
        return Some(());
    };
    let mut value: toml_edit::Value = wanted.to_string().parse().ok()?;
    match table.get_mut(key) {
        Some(Item::Value(there)) => {
            // What stands round the value, a comment behind it say, stays.
            *value.decor_mut() = there.decor().clone();
            *there = value;
        }
        Some(_) => return None,
        None => {
            table.insert(key, Item::Value(value));
        }
    }
    Some(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::{Connection, built_in};

    fn built() -> Setup {
        Setup::parse(built_in(), "built in").unwrap()
    }

    #[test]
    fn what_has_not_changed_stays_to_the_letter() {
        assert_eq!(
            rewritten(built_in(), &built(), &built()).as_deref(),
            Some(built_in())
        );
        let mut new = built();
        new.machine.connection = Connection::Delta;
        new.bench.supply.voltage_v = 14.8;
        let text = rewritten(built_in(), &built(), &new).unwrap();
        assert_eq!(Setup::parse(&text, "again").unwrap(), new);
        let other: Vec<_> = text
            .lines()
            .zip(built_in().lines())
            .filter(|(now, before)| now != before)
            .map(|(now, _)| now)
            .collect();
        assert_eq!(
            other,
            [
                "connection = \"delta\"             # star | delta; left out: star",
                "voltage = \"14.8 V\""
            ]
        );
    }

    /// A table that the text has not gets one; a value written under another key cannot be
    /// changed in place, and the whole is written anew.
    #[test]
    fn what_cannot_be_placed_is_refused() {
        let mut new = built();
        new.bench.drive.commutation = crate::setup::Commutation::Forced;
        new.bench.drive.forced = Some(crate::setup::ForcedSetup {
            frequency_hz: 50.0,
            start_frequency_hz: 50.0,
            ramp_s: 0.0,
            start_step: 1,
            align_s: 0.0,
        });
        let text = rewritten(built_in(), &built(), &new).unwrap();
        assert!(text.contains("[drive.forced]") && text.contains("# Tidemill"));
        let line = built_in().replace("resistance = \"45 mohm\"", "line_resistance = \"90 mohm\"");
        let old = Setup::parse(&line, "line").unwrap();
        let mut new = old.clone();
        new.machine.phase_resistance_ohm = Some(0.05);
        assert_eq!(rewritten(&line, &old, &new), None);
        assert_eq!(rewritten("not = [toml", &old, &new), None);
    }
}
