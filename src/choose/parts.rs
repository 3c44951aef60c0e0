//! The parts that lie in the drawers: a table, one part a row.

use super::goal::duty_is_sought;
use crate::predict::sheet::{self, KEYS, own_and_build_keys};
use crate::predict::{Controller, Gear, MotorLabel, Pack, Propeller};
use crate::setup::{
    Absent, Assembler, KeySpec, Kind, Quantity as Q, SetupErrors, Sheet, from, key, parse_rows,
    quantity,
};

use Absent::None as Nothing;

/// A part with its name.
#[derive(Clone, Debug, PartialEq)]
pub struct Part<T> {
    /// What the table calls it.
    pub name: String,
    /// What it is.
    pub value: T,
    /// Keys with a tolerance, as a build has them.
    pub tolerances: Vec<(&'static str, f64)>,
    /// What it costs, in the money of the table, where it says so.
    pub price: Option<f64>,
    /// Mass in kg, where the table says it.
    pub mass_kg: Option<f64>,
}

impl<T> Part<T> {
    /// A part without tolerances.
    #[must_use]
    pub fn new(name: &str, value: T) -> Self {
        Self {
            name: name.to_owned(),
            value,
            tolerances: Vec::new(),
            price: None,
            mass_kg: None,
        }
    }

    /// What stands where there is no part: it costs and weighs nothing.
    pub(super) fn for_nothing(name: &str, value: T) -> Self {
        Self {
            price: Some(0.0),
            mass_kg: Some(0.0),
            ..Self::new(name, value)
        }
    }

    fn tolerated(self, tolerances: Vec<(&'static str, f64)>) -> Self {
        Self { tolerances, ..self }
    }

    /// The same with another thing in it.
    fn with<U>(self, value: U) -> Part<U> {
        Part {
            name: self.name,
            value,
            tolerances: self.tolerances,
            price: self.price,
            mass_kg: self.mass_kg,
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
    /// Taken out.
    None,
}

/// Keys of parts that no build file has: what they cost and weigh.
#[rustfmt::skip]
const OWN: [KeySpec; 9] = [
    key("motor.price", PRICE, Nothing, "24.50", PRICE_ABOUT),
    key("pack.price", PRICE, Nothing, "24.50", PRICE_ABOUT),
    key("controller.price", PRICE, Nothing, "24.50", PRICE_ABOUT),
    key("gear.price", PRICE, Nothing, "24.50", PRICE_ABOUT),
    key("propeller.price", PRICE, Nothing, "24.50", PRICE_ABOUT),
    key("pack.mass", MASS, Nothing, "\"180 g\"", "of the pack"),
    key("controller.mass", MASS, Nothing, "\"25 g\"", "of the controller with its leads"),
    key("gear.mass", MASS, Nothing, "\"60 g\"", "of gear or belt with its wheels"),
    key("propeller.mass", MASS, Nothing, "\"12 g\"", "of the propeller"),
];
const PRICE: Kind = Kind::Number {
    min: from("0"),
    max: from("1e9"),
};
const PRICE_ABOUT: &str = "in any money, the same for all parts";
const MASS: Kind = quantity(Q::Mass, from("0 g"), "1000 kg");

const N_KEYS: usize = OWN.len() + KEYS.len();

static ALL: [KeySpec; N_KEYS] = own_and_build_keys(OWN);

/// What a table of parts may hold.
static PARTS_SHEET: Sheet = Sheet {
    keys: &ALL,
    tables: sheet::TABLES,
    lists: &[],
    has_changes: false,
    has_tolerances: true,
};

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
        let rows = parse_rows(text, source_name, &PARTS_SHEET, &kinds, |kind, name, a| {
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
            let own = |a: &mut Assembler<'_>, name: &str| {
                let mut keys = PARTS_SHEET.keys.iter();
                let key = keys.find(|spec| spec.table() == kind && spec.name() == name)?;
                a.maybe_number(key.path)
            };
            Part {
                price: own(a, "price"),
                mass_kg: own(a, "mass"),
                ..Part::new(name, part)
            }
            .tolerated(a.tolerances())
        })?;
        let mut parts = Self::default();
        for mut part in rows {
            match std::mem::replace(&mut part.value, Any::None) {
                Any::Motor(value) => parts.motors.push(part.with(value)),
                Any::Pack(value) => parts.packs.push(part.with(value)),
                Any::Controller(value, given) => parts.controllers.push(part.with((value, given))),
                Any::Gear(value) => parts.gears.push(part.with(value)),
                Any::Propeller(value) => parts.propellers.push(part.with(value)),
                Any::None => {}
            }
        }
        Ok(parts)
    }
}
