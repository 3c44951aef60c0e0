//! Quantities with their units: `"45 mohm"`, `"1.2e-5 kg m2"`, `"920 rpm/V"`.
//!
//! A quantity is a decimal number and a unit. SI prefixes shift the decimal exponent of the
//! written number before it becomes a binary one, so `"18 uH"` and `"0.018 mH"` are the same
//! bits; only `rpm` and `deg` need a multiplication.

use std::f64::consts::PI;
use std::fmt;

/// What kind of quantity a key holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// Resistance in ohm.
    Resistance,
    /// Inductance in H.
    Inductance,
    /// Capacitance in F.
    Capacitance,
    /// Voltage in V.
    Voltage,
    /// Current in A: of motors, packs and controllers in a build, of readings; no key of a setup.
    Current,
    /// Frequency in Hz.
    Frequency,
    /// Time in s.
    Time,
    /// Time in s of something that lasts minutes or hours: of a goal, never of a setup.
    RunningTime,
    /// Length in m.
    Length,
    /// Flux density in T.
    FluxDensity,
    /// Angle in rad.
    Angle,
    /// Speed of rotation in rad/s.
    Speed,
    /// Speed per voltage in rad/s per V.
    SpeedPerVoltage,
    /// EMF per speed in V s/rad.
    EmfPerSpeed,
    /// Torque in N m.
    Torque,
    /// Moment of inertia in kg m².
    Inertia,
    /// Torque per speed in N m s/rad.
    TorquePerSpeed,
    /// Torque per speed squared in N m s²/rad².
    TorquePerSpeedSquared,
    /// Temperature in °C.
    Temperature,
    /// Force in N.
    Force,
    /// Mass in kg.
    Mass,
    /// Power in W.
    Power,
    /// Charge in A s: the capacity of a pack.
    Charge,
    /// Mass per volume in kg/m³.
    Density,
    /// Area in m².
    Area,
    /// Volume per time in m³/s.
    Flow,
    /// Temperature rise per power in K/W.
    ThermalResistance,
    /// Speed along a road or a line in m/s.
    LinearSpeed,
}

impl Quantity {
    /// Its name with an article, as it stands in a sentence: "an inductance".
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Resistance => "a resistance",
            Self::Inductance => "an inductance",
            Self::Capacitance => "a capacitance",
            Self::Voltage => "a voltage",
            Self::Current => "a current",
            Self::Frequency => "a frequency",
            Self::Time => "a time",
            Self::RunningTime => "a running time",
            Self::Length => "a length",
            Self::FluxDensity => "a flux density",
            Self::Angle => "an angle",
            Self::Speed => "a speed",
            Self::SpeedPerVoltage => "a speed per voltage",
            Self::EmfPerSpeed => "a voltage per speed",
            Self::Torque => "a torque",
            Self::Inertia => "an inertia",
            Self::TorquePerSpeed => "a torque per speed",
            Self::TorquePerSpeedSquared => "a torque per speed squared",
            Self::Temperature => "a temperature",
            Self::Force => "a force",
            Self::Mass => "a mass",
            Self::Power => "a power",
            Self::Charge => "a charge",
            Self::Density => "a density",
            Self::Area => "an area",
            Self::Flow => "a flow",
            Self::ThermalResistance => "a thermal resistance",
            Self::LinearSpeed => "a speed along a line",
        }
    }

    /// The units a person would use for it, the first being the one in which values are held.
    #[must_use]
    pub fn units(self) -> &'static [&'static str] {
        match self {
            Self::Resistance => &["ohm", "mohm", "kohm"],
            Self::Inductance => &["H", "mH", "uH"],
            Self::Capacitance => &["F", "mF", "uF", "nF"],
            Self::Voltage => &["V", "mV", "kV"],
            Self::Current => &["A", "mA"],
            Self::Frequency => &["Hz", "kHz", "MHz"],
            Self::Time => &["s", "ms", "us"],
            Self::RunningTime => &["s", "min", "h"],
            Self::Length => &["m", "mm", "cm"],
            Self::FluxDensity => &["T", "mT"],
            Self::Angle => &["rad", "deg"],
            Self::Speed => &["rad/s", "rpm"],
            Self::SpeedPerVoltage => &["rad/s/V", "rpm/V"],
            Self::EmfPerSpeed => &["V s/rad", "mV s/rad"],
            Self::Torque => &["Nm", "mNm", "uNm"],
            Self::Inertia => &["kg m2", "g cm2"],
            Self::TorquePerSpeed => &["Nm s/rad", "mNm s/rad", "uNm s/rad"],
            Self::TorquePerSpeedSquared => &["Nm s2/rad2", "mNm s2/rad2", "uNm s2/rad2"],
            Self::Temperature => &["degC"],
            Self::Force => &["N", "mN", "kN", "kgf"],
            Self::Mass => &["kg", "g"],
            Self::Power => &["W", "mW", "kW"],
            Self::Charge => &["A s", "mAh", "Ah"],
            Self::Density => &["kg/m3"],
            Self::Area => &["m2", "cm2"],
            Self::Flow => &["m3/s", "l/min"],
            Self::ThermalResistance => &["K/W"],
            Self::LinearSpeed => &["m/s", "km/h", "mm/s"],
        }
    }

    /// The units in a row, for a message: `ohm, mohm, kohm`.
    #[must_use]
    pub fn unit_list(self) -> String {
        self.units().join(", ")
    }
}

/// One unit and its spellings.
pub(super) struct Unit {
    pub(super) quantity: Quantity,
    pub(super) spellings: &'static [&'static str],
    /// The SI prefixes that may stand before it.
    pub(super) prefixes: &'static str,
    /// Decimal exponent to the SI unit, prefix apart.
    exp10: i32,
    /// What remains after the exponent: 1 for all but turns and degrees.
    scale: f64,
}

const fn unit(
    quantity: Quantity,
    spellings: &'static [&'static str],
    prefixes: &'static str,
    exp10: i32,
    scale: f64,
) -> Unit {
    Unit {
        quantity,
        spellings,
        prefixes,
        exp10,
        scale,
    }
}

/// Radians per second in one revolution per minute.
const RPM: f64 = 2.0 * PI / 60.0;
/// Radians in one degree.
const DEG: f64 = PI / 180.0;

/// Every unit that is understood. Spellings are in the form that [`normalise`] leaves.
pub(super) const UNITS: &[Unit] = &[
    unit(
        Quantity::Resistance,
        &["ohm", "Ohm", "ohms", "Ohms"],
        "numkM",
        0,
        1.0,
    ),
    unit(Quantity::Inductance, &["H"], "num", 0, 1.0),
    unit(Quantity::Capacitance, &["F"], "pnum", 0, 1.0),
    unit(Quantity::Voltage, &["V"], "umk", 0, 1.0),
    unit(Quantity::Current, &["A"], "num", 0, 1.0),
    unit(Quantity::Frequency, &["Hz"], "mkM", 0, 1.0),
    // before `Time`, which names what `s` is where neither is wanted
    unit(Quantity::RunningTime, &["s"], "num", 0, 1.0),
    unit(Quantity::RunningTime, &["min"], "", 0, 60.0),
    unit(Quantity::RunningTime, &["h"], "", 0, 3600.0),
    unit(Quantity::Time, &["s"], "num", 0, 1.0),
    unit(Quantity::Time, &["min"], "", 0, 60.0),
    unit(Quantity::Length, &["m"], "numc", 0, 1.0),
    unit(Quantity::FluxDensity, &["T"], "m", 0, 1.0),
    unit(Quantity::Angle, &["rad"], "m", 0, 1.0),
    unit(Quantity::Angle, &["deg", "degree", "degrees"], "", 0, DEG),
    unit(Quantity::Speed, &["rad/s"], "", 0, 1.0),
    unit(Quantity::Speed, &["rpm", "1/min", "rev/min"], "", 0, RPM),
    unit(Quantity::Speed, &["rps", "1/s", "rev/s"], "", 0, 2.0 * PI),
    unit(
        Quantity::SpeedPerVoltage,
        &["rad/s/V", "rad/(s V)", "rad/(V s)"],
        "",
        0,
        1.0,
    ),
    unit(Quantity::SpeedPerVoltage, &["rpm/V"], "", 0, RPM),
    unit(
        Quantity::EmfPerSpeed,
        &["V s/rad", "Vs/rad", "V/(rad/s)"],
        "um",
        0,
        1.0,
    ),
    unit(Quantity::Torque, &["Nm", "N m"], "numk", 0, 1.0),
    unit(Quantity::Torque, &["Ncm", "N cm"], "", -2, 1.0),
    unit(Quantity::Inertia, &["kg m2", "kgm2"], "", 0, 1.0),
    unit(Quantity::Inertia, &["kg cm2", "kgcm2"], "", -4, 1.0),
    unit(Quantity::Inertia, &["kg mm2", "kgmm2"], "", -6, 1.0),
    unit(Quantity::Inertia, &["g m2"], "", -3, 1.0),
    unit(Quantity::Inertia, &["g cm2", "gcm2"], "", -7, 1.0),
    unit(Quantity::Inertia, &["g mm2", "gmm2"], "", -9, 1.0),
    unit(
        Quantity::TorquePerSpeed,
        &[
            "Nm s/rad",
            "N m s/rad",
            "Nms/rad",
            "Nm/(rad/s)",
            "N m/(rad/s)",
        ],
        "num",
        0,
        1.0,
    ),
    unit(
        Quantity::TorquePerSpeedSquared,
        &["Nm s2/rad2", "N m s2/rad2", "Nms2/rad2"],
        "pnum",
        0,
        1.0,
    ),
    unit(Quantity::Temperature, &["degC", "C"], "", 0, 1.0),
    unit(Quantity::Force, &["N"], "mk", 0, 1.0),
    // of a balance with a scale in kilograms; standard gravity, exact by definition
    unit(Quantity::Force, &["kgf"], "", 0, 9.80665),
    unit(Quantity::Force, &["gf"], "", -3, 9.80665),
    unit(Quantity::Mass, &["kg"], "", 0, 1.0),
    unit(Quantity::Mass, &["g"], "", -3, 1.0),
    unit(Quantity::Power, &["W"], "mk", 0, 1.0),
    unit(Quantity::Charge, &["A s", "As"], "", 0, 1.0),
    unit(Quantity::Charge, &["Ah"], "m", 0, 3600.0),
    unit(Quantity::Density, &["kg/m3"], "", 0, 1.0),
    unit(Quantity::Area, &["m2"], "", 0, 1.0),
    unit(Quantity::Area, &["cm2"], "", -4, 1.0),
    unit(Quantity::Flow, &["m3/s"], "", 0, 1.0),
    unit(Quantity::Flow, &["l/s"], "", -3, 1.0),
    unit(Quantity::Flow, &["l/min"], "", -3, 1.0 / 60.0),
    unit(Quantity::Flow, &["l/h"], "", -3, 1.0 / 3600.0),
    unit(Quantity::ThermalResistance, &["K/W", "degC/W"], "", 0, 1.0),
    unit(Quantity::LinearSpeed, &["m/s"], "mc", 0, 1.0),
    unit(Quantity::LinearSpeed, &["km/h"], "", 0, 1.0 / 3.6),
    unit(Quantity::LinearSpeed, &["m/min"], "", 0, 1.0 / 60.0),
];

const fn prefix_exp10(prefix: char) -> i32 {
    match prefix {
        'p' => -12,
        'n' => -9,
        'u' => -6,
        'm' => -3,
        'c' => -2,
        'k' => 3,
        'M' => 6,
        _ => 0,
    }
}

/// A unit that was understood: which, and the prefix before it.
#[derive(Clone, Copy)]
struct PrefixedUnit {
    unit: &'static Unit,
    exp10: i32,
}

/// Why a text is not the quantity that is wanted. Offsets are bytes into the text.
#[derive(Clone, Debug, PartialEq)]
pub enum QuantityError {
    /// It does not begin with a number.
    NoNumber,
    /// The number has a comma or other mark inside; `written` would be right.
    NumberForm {
        /// The same with a decimal point.
        written: String,
    },
    /// NaN, infinite, or too large to be a number here.
    NotFinite,
    /// Nothing follows the number.
    NoUnit,
    /// No unit of ours.
    UnknownUnit {
        /// The unit as written.
        unit: String,
        /// Where it starts.
        at: usize,
        /// A unit of the right quantity that is near.
        nearest: Option<String>,
    },
    /// A unit of another quantity.
    OtherQuantity {
        /// The unit as written.
        unit: String,
        /// Where it starts.
        at: usize,
        /// What it measures.
        is: Quantity,
        /// A unit of the right quantity that differs only in upper and lower case.
        nearest: Option<String>,
    },
}

/// Reads `text` as a value of `quantity`, in SI units.
///
/// ```
/// use wyebench::setup::{Quantity, parse_quantity};
/// assert_eq!(parse_quantity("18 uH", Quantity::Inductance), Ok(18e-6));
/// assert!(parse_quantity("18 ms", Quantity::Inductance).is_err());
/// ```
///
/// # Errors
/// What is wrong with the number or the unit.
pub fn parse_quantity(text: &str, quantity: Quantity) -> Result<f64, QuantityError> {
    let (number, unit_text, at) = split(text)?;
    let unit_form = normalise(unit_text);
    if unit_form.is_empty() {
        return Err(QuantityError::NoUnit);
    }
    let mut other = None;
    for candidate in find_units(&unit_form) {
        if candidate.unit.quantity == quantity {
            let value = scaled(number, candidate).ok_or(QuantityError::NotFinite)?;
            return if value.is_finite() {
                Ok(value)
            } else {
                Err(QuantityError::NotFinite)
            };
        }
        other = Some(candidate.unit.quantity);
    }
    let unit = unit_text.to_owned();
    Err(match other {
        Some(is) => {
            let nearest = same_but_for_case(&unit_form, quantity);
            QuantityError::OtherQuantity {
                unit,
                at,
                is,
                nearest,
            }
        }
        None => {
            let nearest = nearest_unit(&unit_form, quantity);
            QuantityError::UnknownUnit { unit, at, nearest }
        }
    })
}

/// Number part, unit part as written, and where the unit starts.
fn split(text: &str) -> Result<(&str, &str, usize), QuantityError> {
    let start = text.len() - text.trim_start().len();
    let body = text.trim();
    let signless = body.trim_start_matches(['+', '-']);
    let lower = signless.to_ascii_lowercase();
    if ["nan", "inf", "infinity"].iter().any(|word| {
        lower
            .strip_prefix(word)
            .is_some_and(|rest| !rest.starts_with(char::is_alphabetic))
    }) {
        return Err(QuantityError::NotFinite);
    }
    let bytes = body.as_bytes();
    let digits = |mut i: usize| {
        while bytes.get(i).is_some_and(u8::is_ascii_digit) {
            i += 1;
        }
        i
    };
    let sign = usize::from(matches!(bytes.first(), Some(b'+' | b'-')));
    let whole_end = digits(sign);
    let mut end = whole_end;
    if bytes.get(end) == Some(&b'.') {
        end = digits(end + 1);
    }
    let n_digits = body[sign..end].bytes().filter(u8::is_ascii_digit).count();
    if n_digits == 0 {
        return Err(QuantityError::NoNumber);
    }
    if let Some(mark @ (b',' | b'_' | b'\'')) = bytes.get(end)
        && digits(end + 1) > end + 1
    {
        let (head, tail) = (&body[..end], &body[end + 1..]);
        let joint = if *mark == b',' && !head.contains('.') {
            "."
        } else {
            ""
        };
        return Err(QuantityError::NumberForm {
            written: format!("{head}{joint}{tail}"),
        });
    }
    if let Some(b'e' | b'E') = bytes.get(end) {
        let sign_end = end + 1 + usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let exp_end = digits(sign_end);
        if exp_end > sign_end {
            end = exp_end;
        }
    }
    let unit_part = body[end..].trim_start();
    let at = start + body.len() - unit_part.len();
    Ok((&body[..end], unit_part, at))
}

/// The unit in the spelling of the table: ASCII, one space between factors, none round `/`.
fn normalise(unit: &str) -> String {
    let mut out = String::with_capacity(unit.len());
    for c in unit.chars() {
        match c {
            '\u{b5}' | '\u{3bc}' => out.push('u'),
            '\u{3a9}' | '\u{2126}' => out.push_str("ohm"),
            '\u{b2}' => out.push('2'),
            '^' => {}
            '\u{b0}' => out.push_str("deg"),
            '\u{b7}' | '\u{22c5}' | '*' | '\u{2219}' => out.push(' '),
            c if c.is_whitespace() => out.push(' '),
            c => out.push(c),
        }
    }
    let mut text = out.split_whitespace().collect::<Vec<_>>().join(" ");
    for (from, to) in [
        (" /", "/"),
        ("/ ", "/"),
        ("( ", "("),
        (" )", ")"),
        ("deg C", "degC"),
    ] {
        text = text.replace(from, to);
    }
    text
}

/// All readings of a unit text; more than one only where quantities share a spelling.
fn find_units(form: &str) -> impl Iterator<Item = PrefixedUnit> {
    UNITS.iter().filter_map(move |unit| {
        unit.spellings.iter().find_map(|spelling| {
            let prefix = form.strip_suffix(spelling)?;
            let mut chars = prefix.chars();
            match (chars.next(), chars.next()) {
                (None, _) => Some(PrefixedUnit {
                    unit,
                    exp10: unit.exp10,
                }),
                (Some(p), None) if unit.prefixes.contains(p) => Some(PrefixedUnit {
                    unit,
                    exp10: unit.exp10 + prefix_exp10(p),
                }),
                _ => None,
            }
        })
    })
}

/// The written number in SI units, rounded once where the unit is a power of ten.
fn scaled(number: &str, unit: PrefixedUnit) -> Option<f64> {
    let (mantissa, exponent) = match number.find(['e', 'E']) {
        Some(i) => {
            let (mantissa, exponent) = number.split_at(i);
            // An exponent past all i32 still decides between zero and too large.
            let sign = if exponent[1..].starts_with('-') {
                -1
            } else {
                1
            };
            (
                mantissa,
                exponent[1..].parse::<i32>().unwrap_or(sign * 1_000_000),
            )
        }
        None => (number, 0),
    };
    let exp10 = exponent.saturating_add(unit.exp10);
    let value: f64 = format!("{mantissa}e{exp10}").parse().ok()?;
    Some(value * unit.unit.scale)
}

fn candidates(quantity: Quantity) -> impl Iterator<Item = String> {
    UNITS
        .iter()
        .filter(move |u| u.quantity == quantity)
        .flat_map(|u| {
            std::iter::once(String::new())
                .chain(u.prefixes.chars().map(String::from))
                .map(|p| format!("{p}{}", u.spellings[0]))
        })
}

fn same_but_for_case(form: &str, quantity: Quantity) -> Option<String> {
    let hits: Vec<_> = candidates(quantity)
        .filter(|u| u.eq_ignore_ascii_case(form))
        .collect();
    // "MHZ" could be two things; then nothing is said.
    if let [one] = &hits[..] {
        Some(one.clone())
    } else {
        None
    }
}

fn nearest_unit(form: &str, quantity: Quantity) -> Option<String> {
    if let Some(unit) = same_but_for_case(form, quantity) {
        return Some(unit);
    }
    // A spelling that differs only in its spaces.
    let squeezed = |s: &str| s.replace(' ', "");
    if let Some(unit) = candidates(quantity).find(|u| squeezed(u) == squeezed(form)) {
        return Some(unit);
    }
    candidates(quantity)
        .filter(|u| u.len() > 2)
        .map(|u| (strsim::osa_distance(&u, form), u))
        .filter(|(d, u)| *d <= 1 || (*d == 2 && u.len() > 5))
        .min_by_key(|(d, _)| *d)
        .map(|(_, u)| u)
}

/// Writes a value of `quantity` with the unit a person would take, such that
/// [`parse_quantity`] gives back exactly `value`.
///
/// `value` is finite and in SI units.
#[must_use]
pub fn format_quantity(value: f64, quantity: Quantity) -> String {
    let units = quantity.units();
    if value == 0.0 {
        // A zero angle or speed is written in the unit people read; minus zero keeps its sign.
        let unit = match quantity {
            Quantity::Angle => "deg",
            Quantity::Speed => "rpm",
            _ => units[0],
        };
        return format!(
            "{}0 {unit}",
            if value.is_sign_negative() { "-" } else { "" }
        );
    }
    let mut best: Option<(usize, String)> = None;
    for (rank, name) in units.iter().enumerate() {
        let Some(prefixed) = find_units(name).find(|u| u.unit.quantity == quantity) else {
            continue;
        };
        let Some(number) = number_in(value, prefixed) else {
            continue;
        };
        let text = format!("{number} {name}");
        if parse_quantity(&text, quantity) != Ok(value) {
            continue;
        }
        let magnitude = number.parse::<f64>().map_or(0.0, f64::abs);
        let odd = if (1.0..1000.0).contains(&magnitude) {
            0
        } else {
            3
        };
        let cost = 4 * (number.len() + odd) + rank;
        if best.as_ref().is_none_or(|(c, _)| cost < *c) {
            best = Some((cost, text));
        }
    }
    best.map_or_else(|| format!("{value:e} {}", units[0]), |(_, text)| text)
}

/// The number that stands before the unit; `None` where no short one gives back `value`.
fn number_in(value: f64, unit: PrefixedUnit) -> Option<String> {
    if unit.unit.scale == 1.0 {
        return Some(shifted(&format!("{value:e}"), -unit.exp10));
    }
    let number = value / unit.unit.scale;
    let mut texts = (0..=16).map(|digits| shifted(&trimmed(&format!("{number:.digits$e}")), 0));
    texts.find(|t| t.parse::<f64>().is_ok_and(|n| n * unit.unit.scale == value))
}

/// Drops the zeros at the end of a mantissa.
fn trimmed(scientific: &str) -> String {
    let (mantissa, exponent) = scientific.split_once('e').unwrap_or((scientific, "0"));
    let mantissa = if mantissa.contains('.') {
        mantissa.trim_end_matches('0').trim_end_matches('.')
    } else {
        mantissa
    };
    format!("{mantissa}e{exponent}")
}

/// A number in scientific form, times a power of ten, written the way people write it.
fn shifted(scientific: &str, by: i32) -> String {
    let (mantissa, exponent) = scientific.split_once('e').unwrap_or((scientific, "0"));
    let exp10 = exponent.parse::<i32>().unwrap_or(0) + by;
    let (sign, mantissa) = match mantissa.strip_prefix('-') {
        Some(rest) => ("-", rest),
        None => ("", mantissa),
    };
    let digits: String = mantissa.chars().filter(|c| *c != '.').collect();
    let n_digits = i32::try_from(digits.len()).unwrap_or(i32::MAX);
    match exp10 {
        -3..=-1 => {
            let zeros = "0".repeat(usize::try_from(-exp10 - 1).unwrap_or(0));
            format!("{sign}0.{zeros}{digits}")
        }
        0..=5 if n_digits <= exp10 + 1 => {
            let zeros = "0".repeat(usize::try_from(exp10 + 1 - n_digits).unwrap_or(0));
            format!("{sign}{digits}{zeros}")
        }
        0..=5 => {
            let (whole, part) = digits.split_at(usize::try_from(exp10 + 1).unwrap_or(0));
            format!("{sign}{whole}.{part}")
        }
        _ => {
            let (head, tail) = digits.split_at(1);
            let point = if tail.is_empty() { "" } else { "." };
            format!("{sign}{head}{point}{tail}e{exp10}")
        }
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    // Factors: SI Brochure, 9th edition (2019), tables 5 to 8 (from memory: prefixes, degree,
    // minute); one revolution is 2 pi rad.
    #[test]
    fn spellings_people_use_read_alike() {
        let same: &[(Quantity, f64, &[&str])] = &[
            (
                Quantity::Resistance,
                0.045,
                &["45 mohm", "45mohm", "45 mΩ", "0.045 ohm", "4.5e-5 kohm"],
            ),
            (
                Quantity::Inductance,
                18e-6,
                &["18 uH", "18 µH", "18 μH", "0.018 mH", "+18e-6 H"],
            ),
            (
                Quantity::Inertia,
                1.2e-5,
                &[
                    "1.2e-5 kg m2",
                    "1.2e-5 kg·m²",
                    "120 g cm2",
                    "1.2e-5 kg m^2",
                    "120 g*cm^2",
                ],
            ),
            (
                Quantity::TorquePerSpeed,
                1e-6,
                &[
                    "1e-6 Nm s/rad",
                    "1 uNm s/rad",
                    "1e-6 N m s / rad",
                    "1 µN·m·s/rad",
                ],
            ),
            (
                Quantity::TorquePerSpeedSquared,
                1.5e-8,
                &["1.5e-8 Nm s2/rad2", "15 nNm s2/rad2", "1.5e-8 N·m·s²/rad²"],
            ),
            (
                Quantity::Torque,
                0.0015,
                &["1.5 mNm", "1.5 mN m", "0.15 N cm", "0.0015 N·m"],
            ),
            (
                Quantity::EmfPerSpeed,
                0.00519,
                &["5.19 mV s/rad", "5.19 mV·s/rad", "5.19 mVs/rad"],
            ),
            (
                Quantity::Speed,
                100.0 * 2.0 * PI / 60.0,
                &["100 rpm", "100 1/min"],
            ),
            (Quantity::Angle, PI / 6.0, &["30 deg", "30°", "30 °"]),
            (
                Quantity::Temperature,
                20.0,
                &["20 degC", "20 °C", "20 deg C"],
            ),
        ];
        for (quantity, value, texts) in same {
            for text in *texts {
                let got =
                    parse_quantity(text, *quantity).unwrap_or_else(|e| panic!("{text}: {e:?}"));
                // One rounding in the unit's factor.
                assert!(
                    (got - value).abs() <= 2.0 * f64::EPSILON * value.abs(),
                    "{text}: {got:e}"
                );
            }
        }
    }

    #[test]
    fn newton_milliseconds_are_not_newton_metre_seconds() {
        assert!(matches!(
            parse_quantity("1 N ms/rad", Quantity::TorquePerSpeed),
            Err(QuantityError::UnknownUnit { .. })
        ));
    }

    #[test]
    fn a_wrong_unit_is_told_apart_from_an_unknown_one() {
        let wrong = parse_quantity("18 ms", Quantity::Inductance);
        assert!(matches!(
            wrong,
            Err(QuantityError::OtherQuantity {
                is: Quantity::Time,
                at: 3,
                ..
            })
        ));
        let case = parse_quantity("20 KHZ", Quantity::Frequency);
        assert!(
            matches!(&case, Err(QuantityError::UnknownUnit { nearest: Some(n), .. }) if n == "kHz"),
            "{case:?}"
        );
        let nm = parse_quantity("2 nm", Quantity::Torque);
        assert!(
            matches!(
                &nm,
                Err(QuantityError::OtherQuantity {
                    is: Quantity::Length,
                    ..
                })
            ),
            "{nm:?}"
        );
        assert_eq!(
            parse_quantity("45", Quantity::Resistance),
            Err(QuantityError::NoUnit)
        );
        assert_eq!(
            parse_quantity("ohm", Quantity::Resistance),
            Err(QuantityError::NoNumber)
        );
        assert_eq!(
            parse_quantity("11,1 V", Quantity::Voltage),
            Err(QuantityError::NumberForm {
                written: "11.1 V".into()
            })
        );
        for text in [
            "nan V",
            "inf V",
            "-inf V",
            "1e400 V",
            "1e99999999999 V",
            "NaN",
        ] {
            assert_eq!(
                parse_quantity(text, Quantity::Voltage),
                Err(QuantityError::NotFinite),
                "{text}"
            );
        }
    }

    #[test]
    fn every_listed_unit_is_understood() {
        for unit in UNITS {
            for name in unit.quantity.units() {
                assert!(
                    parse_quantity(&format!("1 {name}"), unit.quantity).is_ok(),
                    "{name}"
                );
            }
            for spelling in unit.spellings {
                let readings = find_units(spelling).filter(|u| u.unit.quantity == unit.quantity);
                assert_eq!(readings.count(), 1, "{spelling} has one reading");
            }
        }
    }

    #[test]
    fn values_are_written_the_way_people_write_them() {
        let cases = [
            (0.045, Quantity::Resistance, "45 mohm"),
            (18e-6, Quantity::Inductance, "18 uH"),
            (20e3, Quantity::Frequency, "20 kHz"),
            (11.1, Quantity::Voltage, "11.1 V"),
            (920.0 * RPM, Quantity::SpeedPerVoltage, "920 rpm/V"),
            (-30.0 * DEG, Quantity::Angle, "-30 deg"),
            (0.0, Quantity::Speed, "0 rpm"),
            (1.2e-5, Quantity::Inertia, "120 g cm2"),
        ];
        for (value, quantity, text) in cases {
            assert_eq!(format_quantity(value, quantity), text);
        }
    }

    proptest! {
        #[test]
        fn what_is_written_reads_back_exactly(
            value in proptest::num::f64::NORMAL | proptest::num::f64::SUBNORMAL,
            idx in 0..UNITS.len(),
        ) {
            let quantity = UNITS[idx].quantity;
            let text = format_quantity(value, quantity);
            prop_assert_eq!(parse_quantity(&text, quantity), Ok(value), "{}", text);
        }

        #[test]
        fn no_text_panics(text in "\\PC{0,24}") {
            let _ = parse_quantity(&text, Quantity::Torque);
        }
    }
}
