//! Values that know what they measure.

use super::problem::Complaint;
use crate::analysis::{Shown, Unit, shown};
use crate::setup::{Quantity, QuantityError, parse_quantity};

/// What a figure, a quantity or a comparison comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Value {
    /// Yes or no.
    Truth(bool),
    /// A pure number.
    Number(f64),
    /// A value in SI units and what it measures.
    Of(f64, Quantity),
}

/// Every quantity a figure can be.
const QUANTITIES: [Quantity; 18] = [
    Quantity::Speed,
    Quantity::Frequency,
    Quantity::Torque,
    Quantity::Current,
    Quantity::Voltage,
    Quantity::Power,
    Quantity::Time,
    Quantity::Angle,
    Quantity::Resistance,
    Quantity::Inductance,
    Quantity::SpeedPerVoltage,
    Quantity::EmfPerSpeed,
    Quantity::Capacitance,
    Quantity::Inertia,
    Quantity::Length,
    Quantity::FluxDensity,
    Quantity::TorquePerSpeedSquared,
    Quantity::Mass,
];

/// A number with an ASCII minus and a decimal point, with what follows it as it stands.
fn plain_number(text: &str) -> Result<String, Complaint> {
    let text = text.trim().replace('\u{2212}', "-").replace("RPM", "rpm");
    let Some((before, after)) = text.split_once(',') else {
        return Ok(text);
    };
    let n_decimals = after.chars().take_while(char::is_ascii_digit).count();
    let whole = before.trim_start_matches('-');
    let is_decimal = !whole.is_empty()
        && whole.chars().all(|c| c.is_ascii_digit())
        && !after.contains([',', '.'])
        && n_decimals > 0;
    match (is_decimal, n_decimals, whole) {
        (false, ..) => Ok(text),
        // 1,500 may be a thousand and a half, or one and a half
        (true, 3, whole) if whole != "0" => Err(Complaint::Arguments {
            wanted: "it without the comma, as in 1500, or with a decimal point, as in 1.5",
        }),
        _ => Ok(format!("{before}.{after}")),
    }
}

/// a · b = c, in SI units.
const PRODUCTS: [(Quantity, Quantity, Quantity); 6] = [
    (
        Quantity::SpeedPerVoltage,
        Quantity::Voltage,
        Quantity::Speed,
    ),
    (Quantity::EmfPerSpeed, Quantity::Speed, Quantity::Voltage),
    (Quantity::EmfPerSpeed, Quantity::Current, Quantity::Torque),
    (Quantity::Voltage, Quantity::Current, Quantity::Power),
    (Quantity::Resistance, Quantity::Current, Quantity::Voltage),
    (Quantity::Torque, Quantity::Speed, Quantity::Power),
];

impl Value {
    /// A number with its unit, and whether that is percent.
    pub(super) fn literal(digits: &str, written: &str) -> Result<(Self, bool), Complaint> {
        let number: f64 = digits.parse().map_err(|_| Complaint::NotFinite)?;
        if !number.is_finite() {
            return Err(Complaint::NotFinite);
        }
        let unit = written[digits.len()..].trim();
        match unit {
            "" => Ok((Self::Number(number), false)),
            "%" => Ok((Self::Number(number / 100.0), true)),
            _ => Self::quantity(written).map(|value| (value, false)),
        }
    }

    /// A quantity with its unit: `11.1 V`.
    ///
    /// # Errors
    /// No number, or a unit of no figure.
    pub fn quantity(text: &str) -> Result<Self, Complaint> {
        for quantity in QUANTITIES {
            match parse_quantity(text, quantity) {
                Ok(value) => return Ok(Self::Of(value, quantity)),
                Err(QuantityError::NotFinite) => return Err(Complaint::NotFinite),
                Err(_) => {}
            }
        }
        Err(Complaint::UnknownUnit {
            found: text.to_owned(),
        })
    }

    /// What a reader answers: a quantity, a percentage or a pure number.
    ///
    /// # Errors
    /// As [`Value::quantity`].
    pub fn answer(text: &str) -> Result<Self, Complaint> {
        let text = text.trim();
        if let Some(percent) = text.strip_suffix('%') {
            let number: f64 = percent.trim().parse().map_err(|_| Complaint::UnknownUnit {
                found: text.to_owned(),
            })?;
            return if number.is_finite() {
                Ok(Self::Number(number / 100.0))
            } else {
                Err(Complaint::NotFinite)
            };
        }
        match text.parse::<f64>() {
            Ok(number) if number.is_finite() => Ok(Self::Number(number)),
            Ok(_) => Err(Complaint::NotFinite),
            Err(_) => Self::quantity(text),
        }
    }

    /// The same, as a person writes it who was asked for an answer in the unit of `example`: a bare
    /// number has that unit, a decimal may have a comma, a minus may be the long one.
    ///
    /// # Errors
    /// As [`Value::quantity`]; and a comma that may be one of thousands as well.
    pub fn answer_like(text: &str, example: &str) -> Result<Self, Complaint> {
        let text = plain_number(text)?;
        let bare = text.parse::<f64>().ok().filter(|number| number.is_finite());
        let Some(number) = bare else {
            return Self::answer(&text);
        };
        let unit = example
            .trim()
            .trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '+' | '-' | '.' | ' '));
        match unit {
            "" => Ok(Self::Number(number)),
            // 0.35 and 35 are both meant
            "%" if number.abs() <= 1.0 => Ok(Self::Number(number)),
            "%" => Ok(Self::Number(number / 100.0)),
            unit => Self::quantity(&format!("{text} {unit}")),
        }
    }

    /// The quantity that the end of a key names: `mean_speed_rpm`, `i_u_a`.
    #[must_use]
    pub fn of_key(key: &str, value: f64) -> Self {
        const ENDS: [(&str, f64, Quantity); 14] = [
            (
                "rpm_per_v",
                std::f64::consts::PI / 30.0,
                Quantity::SpeedPerVoltage,
            ),
            ("v_s_per_rad", 1.0, Quantity::EmfPerSpeed),
            ("rad_s", 1.0, Quantity::Speed),
            ("rpm", std::f64::consts::PI / 30.0, Quantity::Speed),
            ("rad", 1.0, Quantity::Angle),
            ("hz", 1.0, Quantity::Frequency),
            ("nm", 1.0, Quantity::Torque),
            ("ohm", 1.0, Quantity::Resistance),
            ("a", 1.0, Quantity::Current),
            ("v", 1.0, Quantity::Voltage),
            ("w", 1.0, Quantity::Power),
            ("s", 1.0, Quantity::Time),
            ("h", 1.0, Quantity::Inductance),
            ("kg", 1.0, Quantity::Mass),
        ];
        ENDS.iter()
            .find(|(end, ..)| {
                key.strip_suffix(end)
                    .is_some_and(|head| head.ends_with('_'))
            })
            .map_or(Self::Number(value), |(_, scale, quantity)| {
                Self::Of(value * scale, *quantity)
            })
    }

    /// The number in SI units; `None` for yes or no.
    #[must_use]
    pub const fn number(self) -> Option<f64> {
        match self {
            Self::Truth(_) => None,
            Self::Number(number) | Self::Of(number, _) => Some(number),
        }
    }

    /// What it is, in a sentence.
    #[must_use]
    pub fn what(self) -> &'static str {
        match self {
            Self::Truth(_) => "a yes or no",
            Self::Number(_) => "a pure number",
            Self::Of(_, quantity) => quantity.name(),
        }
    }

    pub(super) fn same_kind(
        self,
        other: Self,
        doing: &'static str,
    ) -> Result<(f64, f64), Complaint> {
        match (self, other) {
            (Self::Number(left), Self::Number(right)) => Ok((left, right)),
            (Self::Of(left, a), Self::Of(right, b)) if a == b => Ok((left, right)),
            _ => Err(self.apart(other, doing)),
        }
    }

    fn apart(self, other: Self, doing: &'static str) -> Complaint {
        Complaint::NotTogether {
            left: self.what(),
            right: other.what(),
            doing,
        }
    }

    fn with(self, number: f64) -> Self {
        match self {
            Self::Of(_, quantity) => Self::Of(number, quantity),
            _ => Self::Number(number),
        }
    }

    pub(super) fn magnitude(self) -> Self {
        self.number().map_or(self, |number| self.with(number.abs()))
    }

    pub(super) fn times(self, factor: f64) -> Result<Self, Complaint> {
        self.number()
            .map(|number| self.with(number * factor))
            .ok_or(self.apart(Self::Number(factor), "be multiplied by"))
    }

    pub(super) fn plus(self, other: Self) -> Result<Self, Complaint> {
        let (left, right) = self.same_kind(other, "be added to")?;
        Ok(self.with(left + right))
    }

    pub(super) fn multiplied(self, other: Self) -> Result<Self, Complaint> {
        match (self, other) {
            (Self::Number(factor), value) | (value, Self::Number(factor)) => value.times(factor),
            (Self::Of(left, a), Self::Of(right, b)) => PRODUCTS
                .iter()
                .find(|(x, y, _)| (*x, *y) == (a, b) || (*x, *y) == (b, a))
                .map(|(_, _, product)| Self::Of(left * right, *product))
                .ok_or(self.apart(other, "be multiplied by")),
            _ => Err(self.apart(other, "be multiplied by")),
        }
    }

    pub(super) fn divided(self, other: Self) -> Result<Self, Complaint> {
        let wrong = self.apart(other, "be divided by");
        match (self, other) {
            (value, Self::Number(divisor)) => value.times(1.0 / divisor),
            (Self::Of(left, a), Self::Of(right, b)) if a == b => Ok(Self::Number(left / right)),
            (Self::Of(left, a), Self::Of(right, b)) => PRODUCTS
                .iter()
                .find_map(|(x, y, product)| match (*product == a, *x == b, *y == b) {
                    (true, true, _) => Some(*y),
                    (true, _, true) => Some(*x),
                    _ => None,
                })
                .map(|quotient| Self::Of(left / right, quotient))
                .ok_or(wrong),
            _ => Err(wrong),
        }
    }

    /// As people read it.
    #[must_use]
    pub fn shown(self, digits: usize, percent: bool) -> Shown {
        match self {
            Self::Truth(truth) => Shown {
                number: if truth { "yes" } else { "no" }.to_owned(),
                unit: String::new(),
            },
            Self::Number(number) if percent => shown(number, Unit::PERCENT, digits),
            // a count is a count
            Self::Number(number) if number.fract() == 0.0 && number.abs() < 1e6 => Shown {
                number: format!("{number}").replace('-', "−"),
                unit: String::new(),
            },
            Self::Number(number) => shown(number, Unit::NUMBER, digits),
            Self::Of(number, quantity) => {
                let (unit, scale) = unit_of(quantity);
                shown(number * scale, unit, digits)
            }
        }
    }
}

/// The unit in which people read a quantity, and how many of it make one SI unit.
fn unit_of(quantity: Quantity) -> (Unit, f64) {
    const PER_RPM: f64 = 30.0 / std::f64::consts::PI;
    const fn prefixed(symbol: &'static str) -> Unit {
        Unit {
            symbol,
            per_si: 1.0,
            prefixed: true,
        }
    }
    const DEGREE: Unit = Unit {
        symbol: "°",
        per_si: 180.0 / std::f64::consts::PI,
        prefixed: false,
    };
    match quantity {
        Quantity::Speed => (Unit::RPM, PER_RPM),
        Quantity::SpeedPerVoltage => (Unit::RPM_PER_VOLT, PER_RPM),
        Quantity::Frequency => (Unit::HERTZ, 1.0),
        Quantity::Torque => (Unit::NEWTON_METRE, 1.0),
        Quantity::Current => (Unit::AMPERE, 1.0),
        Quantity::Voltage => (Unit::VOLT, 1.0),
        Quantity::Power => (Unit::WATT, 1.0),
        Quantity::Time => (Unit::SECOND, 1.0),
        Quantity::Angle => (DEGREE, 1.0),
        Quantity::Resistance => (Unit::OHM, 1.0),
        Quantity::Inductance => (Unit::HENRY, 1.0),
        Quantity::EmfPerSpeed => (prefixed("V s/rad"), 1.0),
        Quantity::Capacitance => (prefixed("F"), 1.0),
        Quantity::Length => (Unit::METRE, 1.0),
        Quantity::FluxDensity => (prefixed("T"), 1.0),
        Quantity::Inertia => (Unit::KILOGRAM_METRE_SQUARED, 1.0),
        Quantity::Mass => (prefixed("g"), 1e3),
        _ => (Unit::NUMBER, 1.0),
    }
}
