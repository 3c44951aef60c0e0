//! One key of a standing bench set to another value, with the checks of the file.

use std::collections::BTreeMap;

use super::assemble::assemble_bench;
use super::check::{Value, check, nearest, raw};
use super::keys::{KEYS, changeable_keys, is_changeable, key_spec};
use super::model::Bench;
use super::problem::{Place, Problem};
use super::read::Entry;
use super::write::bench_values;

/// The bench with `key` set to the value that `value_text` gives: `0.8`, `11.1 V`, `reverse`.
///
/// The value is checked as the same key in a file is, quotes apart.
///
/// ```
/// use wyebench::setup::{Setup, built_in, set_key};
/// let bench = Setup::parse(built_in(), "built in").unwrap().bench;
/// let faster = set_key(&bench, "drive.pwm.duty", "0.8").unwrap();
/// assert_eq!(faster.drive.pwm.unwrap().duty, 0.8);
/// assert!(set_key(&bench, "supply.voltage", "12").is_err());
/// ```
///
/// # Errors
/// A key that cannot change, a value that does not fit it, or a bench that could not be: a duty
/// without PWM, a source resistance without a capacitor.
pub fn set_key(bench: &Bench, key: &str, value_text: &str) -> Result<Bench, Box<Problem>> {
    let Some(spec) = KEYS.iter().find(|k| k.path == key && is_changeable(k.path)) else {
        return Err(Box::new(Problem::NotChangeable {
            key: key.to_owned(),
            nearest: nearest(key, changeable_keys().map(|k| k.path)),
            known: key_spec(key).is_some(),
            place: None,
        }));
    };
    let value = check(spec, &raw(spec, value_text), None, "")?;
    with_value(bench, spec.path, value, value_text).map_err(Box::new)
}

/// The bench with a checked value in the place of one key.
pub(super) fn with_value(
    bench: &Bench,
    key: &'static str,
    value: Value,
    written: &str,
) -> Result<Bench, Problem> {
    let mut entries: BTreeMap<&'static str, Entry> = bench_values(bench)
        .into_iter()
        .map(|(key, value)| {
            (
                key,
                Entry {
                    value: Some(value),
                    ..Entry::default()
                },
            )
        })
        .collect();
    entries.insert(
        key,
        Entry {
            value: Some(value),
            ..Entry::default()
        },
    );
    assemble_bench(&entries).map_err(|problems| {
        let (reason, remedy) = match problems.first() {
            Some(Problem::Missing { key: missing, .. }) => {
                let table = missing.rsplit_once('.').map_or("", |(table, _)| table);
                (
                    format!("there is no [{table}]"),
                    format!("give [{table}] in the setup; what is to change must stand on the bench from the start"),
                )
            }
            Some(Problem::Needs { needs, .. }) => (
                format!("it needs {needs}"),
                "give both in the setup; what is to change must stand on the bench from the start".to_owned(),
            ),
            Some(other) => (other.to_string(), other.remedy().unwrap_or_default()),
            None => Default::default(),
        };
        let (key, value) = (key.to_owned(), written.to_owned());
        Problem::Change { key, value, reason, remedy, place: None }
    })
}

impl Problem {
    /// The same with a place, where it has none yet.
    pub(super) fn at(mut self, at: Place) -> Self {
        if let Self::Change { place, .. } = &mut self {
            place.get_or_insert(at);
        }
        self
    }
}
