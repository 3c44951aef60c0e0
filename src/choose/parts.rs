//! The parts that lie in the drawers: a table, one part a row.

use super::goal::{GOAL_SHEET, duty_is_sought};
use crate::predict::sheet;
use crate::predict::{Controller, Gear, MotorLabel, Pack, Propeller};
use crate::setup::{SetupErrors, parse_rows};

/// A part with its name.
#[derive(Clone, Debug, PartialEq)]
pub struct Part<T> {
    /// What the table calls it.
    pub name: String,
    /// What it is.
    pub value: T,
    /// Keys with a tolerance, as a build has them.
    pub tolerances: Vec<(&'static str, f64)>,
}

impl<T> Part<T> {
    /// A part without tolerances.
    #[must_use]
    pub fn new(name: &str, value: T) -> Self {
        Self {
            name: name.to_owned(),
            value,
            tolerances: Vec::new(),
        }
    }
}

/// The kinds of parts, in the order in which combinations are counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Axis {
    /// Motors.
    Motor,
    /// Packs.
    Pack,
    /// Controllers.
    Controller,
    /// Gears.
    Gear,
    /// Propellers.
    Propeller,
}

impl Axis {
    /// All of them in order.
    pub const ALL: [Self; 5] = [
        Self::Motor,
        Self::Pack,
        Self::Controller,
        Self::Gear,
        Self::Propeller,
    ];

    /// What the column `part` calls it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        ["motor", "pack", "controller", "gear", "propeller"][self as usize]
    }
}

/// Parts by kind, in the order of the table. SI units.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Parts {
    /// Motors.
    pub motors: Vec<Part<MotorLabel>>,
    /// Packs.
    pub packs: Vec<Part<Pack>>,
    /// Controllers, and whether the table says how many MOSFETs each has in parallel.
    pub controllers: Vec<Part<(Controller, bool)>>,
    /// Gears.
    pub gears: Vec<Part<Gear>>,
    /// Propellers.
    pub propellers: Vec<Part<Propeller>>,
}

enum Any {
    Motor(MotorLabel),
    Pack(Pack),
    Controller(Controller, bool),
    Gear(Gear),
    Propeller(Propeller),
}

/// The table of parts that comes with the program: invented, of the Tidemill evening workshop.
#[must_use]
pub fn example_parts() -> &'static str {
    include_str!("parts.csv")
}

impl Parts {
    /// Reads a table of parts, comma-separated values. `source_name` is what messages call it.
    ///
    /// # Errors
    /// All problems of the text in its order, each with line, column, place and remedy.
    pub fn parse(text: &str, source_name: &str) -> Result<Self, SetupErrors> {
        let kinds = Axis::ALL.map(Axis::word);
        let rows = parse_rows(text, source_name, &GOAL_SHEET, &kinds, |kind, name, a| {
            let part = match kind {
                "motor" => Any::Motor(sheet::motor(a)),
                "pack" => Any::Pack(sheet::pack(a)),
                "controller" => {
                    duty_is_sought(a);
                    Any::Controller(sheet::controller(a), a.given("controller.parallel"))
                }
                "gear" => Any::Gear(sheet::gear(a)),
                _ => Any::Propeller(sheet::propeller(a)),
            };
            (name.to_owned(), part, a.tolerances())
        })?;
        let mut parts = Self::default();
        for (name, part, tolerances) in rows {
            match part {
                Any::Motor(value) => parts.motors.push(Part {
                    name,
                    value,
                    tolerances,
                }),
                Any::Pack(value) => parts.packs.push(Part {
                    name,
                    value,
                    tolerances,
                }),
                Any::Controller(value, given) => parts.controllers.push(Part {
                    name,
                    value: (value, given),
                    tolerances,
                }),
                Any::Gear(value) => parts.gears.push(Part {
                    name,
                    value,
                    tolerances,
                }),
                Any::Propeller(value) => parts.propellers.push(Part {
                    name,
                    value,
                    tolerances,
                }),
            }
        }
        Ok(parts)
    }
}
