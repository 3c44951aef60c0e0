//! The setup file: from the text a person writes to checked quantities.
//!
//! [`Setup`] is what stands on the bench. Every value in it is in SI units and has been
//! checked: no later room asks again whether poles are even.
//!
//! ```text
//! text ─► read (values by key, each checked alone) ─► assemble (defaults, agreement) ─► Setup
//!              ▲                                                                        │
//!              └────────── keys: the one table of what a file may hold ─────────────────┤
//! text ◄─ write ◄───────────────────────────────────────────────────────────────────────┘
//! ```
//!
//! All problems of a text are collected in the order of the file:
//!
//! ```
//! use wyebench::setup::Setup;
//! let errors = Setup::parse("format = 1\n[machine]\nslots = 12\npole = 14\n", "mine").unwrap_err();
//! assert!(errors.problems().iter().any(|p| p.remedy().is_some_and(|r| r.contains("`poles`"))));
//! ```
//!
//! This room reads no file: whoever calls it brings the text.

mod assemble;
mod cells;
mod change;
mod check;
mod geometry;
mod keys;
mod link;
mod model;
mod problem;
mod read;
mod rows;
mod schema;
mod starter;
mod units;
mod write;

pub(crate) use assemble::Assembler;
pub use change::set_key;
pub use check::parted_text;
pub use geometry::geometry_problems;
pub use keys::{
    Absent, Bound, CHANGE_KEYS, KEYS, KeySpec, Kind, SETUP_SHEET, Sheet, TABLES, above,
    changeable_keys, from, key, key_spec, quantity,
};
pub use link::{LinkError, MAX_LINK_CHARS, from_link, to_link};
pub use model::*;
pub use problem::{Place, Problem, SetupErrors};
pub(crate) use rows::parse_rows;
pub use schema::json_schema;
pub use starter::starter;
pub use units::{Quantity, QuantityError, format_quantity, parse_quantity};

/// Largest text that is taken as a setup, in bytes: 1 MiB.
///
/// A setup with a thousand changes is a tenth of this.
pub const MAX_TEXT_BYTES: usize = 1 << 20;

/// The setup that the program starts with, as a text with comments.
#[must_use]
pub fn built_in() -> &'static str {
    include_str!("built_in.toml")
}

impl Setup {
    /// Reads a setup. `source_name` is what messages call the text, as a rule the file's name.
    ///
    /// # Errors
    /// All problems of the text in the order of the file, each with its place and remedy.
    pub fn parse(text: &str, source_name: &str) -> Result<Self, SetupErrors> {
        let (text, document) = document_of(text, source_name, &SETUP_SHEET)?;
        assemble::assemble(document)
            .map_err(|problems| SetupErrors::new(text, source_name, problems))
    }
}

/// Reads a file of another kind with the same care: `make` asks for its keys, and what it makes
/// counts where no problem came up.
///
/// # Errors
/// All problems of the text in the order of the file, each with its place and remedy.
pub(crate) fn parse_sheet<T>(
    text: &str,
    source_name: &str,
    sheet: &Sheet,
    make: impl FnOnce(&mut Assembler<'_>) -> T,
) -> Result<T, SetupErrors> {
    let (text, document) = document_of(text, source_name, sheet)?;
    let mut assembler = Assembler::new(*sheet, &document);
    let made = make(&mut assembler);
    if assembler.problems.is_empty() {
        Ok(made)
    } else {
        Err(SetupErrors::new(text, source_name, assembler.problems))
    }
}

/// Whether a number in SI units lies in the range of its key.
pub(crate) fn value_in_range(sheet: &Sheet, key: &str, value: f64) -> bool {
    sheet
        .key_spec(key)
        .is_some_and(|spec| check::number_fits(spec, value))
}

fn document_of<'a>(
    text: &'a str,
    source_name: &str,
    sheet: &Sheet,
) -> Result<(&'a str, read::Document), SetupErrors> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let fail = |problems| Err(SetupErrors::new(text, source_name, problems));
    if text.len() > MAX_TEXT_BYTES {
        return fail(vec![Problem::TooLarge {
            n_bytes: text.len(),
            allowed: MAX_TEXT_BYTES,
        }]);
    }
    let document = read::read(text, sheet);
    if document.entries.is_empty()
        && document.tables.is_empty()
        && document.lists.is_empty()
        && !document.problems.is_empty()
    {
        // Not TOML or nothing in it: what is missing would only be noise.
        return fail(document.problems);
    }
    Ok((text, document))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    /// The example of the setup file's own description.
    #[test]
    fn the_built_in_setup_reads_in_si_units() {
        let setup = Setup::parse(built_in(), "built in").unwrap();
        let machine = &setup.machine;
        assert_eq!((machine.slots, machine.poles), (12, 14));
        assert_eq!(machine.phase_resistance_ohm, Some(0.045));
        assert_eq!(machine.phase_inductance_h, Some(18e-6));
        let EmfConstant::KvRadPerVs(kv) = machine.emf.constant else {
            panic!("kv is written")
        };
        // 2 pi / 60 rad/s in one rpm; one rounding.
        assert!((kv - 920.0 * 2.0 * PI / 60.0).abs() < 1e-13 * kv);
        assert_eq!(setup.bench.drive.pwm.unwrap().frequency_hz, 20e3);
        assert_eq!(setup.bench.supply.source.unwrap().capacitance_f, 470e-6);
        assert_eq!(setup.bench.load.quadratic_nm_s2, 1.5e-8);
        assert_eq!(setup.run.sample_s, 1e-5);
    }

    #[test]
    fn line_values_become_phase_values() {
        let of = |connection: &str| {
            let text = built_in()
                .replace(
                    "connection = \"star\"",
                    &format!("connection = \"{connection}\""),
                )
                .replace("resistance = \"45 mohm\"", "line_resistance = \"90 mohm\"")
                .replace("inductance = \"18 uH\"", "line_inductance = \"36 uH\"");
            Setup::parse(&text, "line").unwrap().machine
        };
        // Two windings in series between star terminals; one winding beside two in delta.
        assert_eq!(of("star").phase_resistance_ohm, Some(0.045));
        assert_eq!(of("star").phase_inductance_h, Some(18e-6));
        assert_eq!(of("delta").phase_resistance_ohm, Some(0.135));
        assert!((of("delta").phase_inductance_h.unwrap() - 54e-6).abs() < 1e-20);
    }

    #[test]
    fn what_is_left_out_takes_its_default() {
        let text = "format = 1\n[machine]\nslots = 12\npoles = 14\n\
            phase = { resistance = \"0 ohm\", inductance = \"18 uH\" }\n\
            emf = { shape = \"sine\", phase_constant = \"5 mV s/rad\" }\n\
            rotor.inertia = \"1e-5 kg m2\"\n[supply]\nvoltage = \"11.1 V\"\n\
            [run]\nduration = \"50 ms\"\n";
        let setup = Setup::parse(text, "least").unwrap();
        assert_eq!(setup.machine.construction, Construction::Inrunner);
        assert_eq!(setup.machine.connection, Connection::Star);
        assert_eq!(setup.machine.winding, None);
        let drive = &setup.bench.drive;
        assert_eq!(
            (drive.commutation, drive.gates),
            (Commutation::Position, Gates::Stepping)
        );
        assert_eq!(
            (drive.pwm, drive.forced, drive.switch.parallel),
            (None, None, 1)
        );
        assert_eq!(drive.switch.on_resistance_ohm, 0.0);
        assert_eq!(setup.bench.supply.source, None);
        assert_eq!(setup.run.sample_s, 1e-5);
        assert_eq!(
            setup.run.measure_s, 0.05,
            "0.2 s, but not more than the run"
        );
        assert_eq!(Setup::parse(&setup.to_toml(), "again").unwrap(), setup);
    }

    #[test]
    fn every_default_and_example_fits_its_own_key() {
        for spec in KEYS.iter().chain(CHANGE_KEYS) {
            if let Absent::Default(text) = spec.absent {
                assert!(
                    check::check_own(spec, text).is_some(),
                    "{}: {text}",
                    spec.path
                );
            }
            if spec.path != "change.to" {
                let value = toml::de::DeValue::parse(spec.example).unwrap().into_inner();
                let got = check::check(spec, &value, None, "");
                assert!(got.is_ok(), "{}: {got:?}", spec.path);
            }
        }
    }

    #[test]
    fn changes_add_up() {
        let text = format!(
            "{}\n[[change]]\nat = \"0.15 s\"\nset = \"drive.pwm.duty\"\nto = 0.80\n\
             [[change]]\nat = \"0.2 s\"\nset = \"supply.voltage\"\nto = \"10 V\"\n",
            built_in()
        );
        let setup = Setup::parse(&text, "changes").unwrap();
        let last = &setup.changes[1];
        assert_eq!((last.at_s, last.value.as_str()), (0.2, "10 V"));
        assert_eq!(setup.changes[0].value, "0.80");
        assert_eq!(last.bench.drive.pwm.unwrap().duty, 0.8);
        assert_eq!(last.bench.supply.voltage_v, 10.0);
        assert_eq!(setup.bench.supply.voltage_v, 11.1);
        assert_eq!(Setup::parse(&setup.to_toml(), "again").unwrap(), setup);
    }
}
