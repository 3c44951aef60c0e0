//! Numbers as people read them: a few significant digits, and the prefix that fits.

/// A unit as a figure carries it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unit {
    /// What is printed: `Nm`, `rpm`; empty for a pure number.
    pub symbol: &'static str,
    /// How many of this unit make one SI unit: 100 for percent of a ratio, else mostly 1.
    pub per_si: f64,
    /// Whether prefixes go before it: mNm, but never krpm.
    pub prefixed: bool,
}

impl Unit {
    const fn prefixed(symbol: &'static str) -> Self {
        Self {
            symbol,
            per_si: 1.0,
            prefixed: true,
        }
    }

    const fn plain(symbol: &'static str) -> Self {
        Self {
            symbol,
            per_si: 1.0,
            prefixed: false,
        }
    }

    /// A pure number.
    pub const NUMBER: Self = Self::plain("");
    /// A ratio shown in percent.
    pub const PERCENT: Self = Self {
        symbol: "%",
        per_si: 100.0,
        prefixed: false,
    };
    /// Mechanical turns per minute; the value itself is in rpm.
    pub const RPM: Self = Self::plain("rpm");
    /// Radian per second.
    pub const RADIAN_PER_SECOND: Self = Self::plain("rad/s");
    /// Radian.
    pub const RADIAN: Self = Self::plain("rad");
    /// Hertz.
    pub const HERTZ: Self = Self::prefixed("Hz");
    /// Second.
    pub const SECOND: Self = Self::prefixed("s");
    /// Newton metre.
    pub const NEWTON_METRE: Self = Self::prefixed("Nm");
    /// Newton metre second.
    pub const NEWTON_METRE_SECOND: Self = Self::prefixed("Nm s");
    /// Newton metre squared, second.
    pub const NEWTON_METRE_SQUARED_SECOND: Self = Self::plain("N²m² s");
    /// Ampere.
    pub const AMPERE: Self = Self::prefixed("A");
    /// Ampere second.
    pub const AMPERE_SECOND: Self = Self::prefixed("A s");
    /// Ampere squared, second.
    pub const AMPERE_SQUARED_SECOND: Self = Self::plain("A² s");
    /// Volt.
    pub const VOLT: Self = Self::prefixed("V");
    /// Watt.
    pub const WATT: Self = Self::prefixed("W");
    /// Joule.
    pub const JOULE: Self = Self::prefixed("J");
    /// Minute; the value itself is in minutes.
    pub const MINUTE: Self = Self::plain("min");
    /// Metre.
    pub const METRE: Self = Self::prefixed("m");
    /// Ohm.
    pub const OHM: Self = Self::prefixed("ohm");
    /// Henry.
    pub const HENRY: Self = Self::prefixed("H");
    /// Degree Celsius.
    pub const DEGREE_CELSIUS: Self = Self::plain("°C");
    /// Kelvin per watt.
    pub const KELVIN_PER_WATT: Self = Self::plain("K/W");
    /// Newton.
    pub const NEWTON: Self = Self::prefixed("N");
    /// Metre per second.
    pub const METRE_PER_SECOND: Self = Self::plain("m/s");
    /// Cubic metre per second.
    pub const CUBIC_METRE_PER_SECOND: Self = Self::plain("m³/s");
    /// Litre per minute of a flow in m³/s.
    pub const LITRE_PER_MINUTE: Self = Self {
        symbol: "l/min",
        per_si: 60_000.0,
        prefixed: false,
    };
    /// Mechanical rpm per volt; the value itself is in rpm/V.
    pub const RPM_PER_VOLT: Self = Self::plain("rpm/V");
    /// Kilogram.
    pub const KILOGRAM: Self = Self::plain("kg");
    /// Kilogram per cubic metre.
    pub const KILOGRAM_PER_CUBIC_METRE: Self = Self::plain("kg/m³");
    /// Square metre.
    pub const SQUARE_METRE: Self = Self::plain("m²");
    /// Kilogram metre squared.
    pub const KILOGRAM_METRE_SQUARED: Self = Self::plain("kg m²");
    /// Newton metre per ampere.
    pub const NEWTON_METRE_PER_AMPERE: Self = Self::prefixed("Nm/A");
}

/// The SI prefixes in use, by power of ten.
const PREFIXES: [(i32, &str); 9] = [
    (-12, "p"),
    (-9, "n"),
    (-6, "µ"),
    (-3, "m"),
    (0, ""),
    (3, "k"),
    (6, "M"),
    (9, "G"),
    (12, "T"),
];

/// A value as printed: digits and unit apart, so that a table can align them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shown {
    /// `38.40`
    pub number: String,
    /// `mNm`; empty for a pure number.
    pub unit: String,
}

impl std::fmt::Display for Shown {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.number)?;
        if self.unit.is_empty() {
            Ok(())
        } else {
            write!(f, " {}", self.unit)
        }
    }
}

/// A difference as a share of what it is a difference from, in percent with its sign: 0.021 is
/// "+2.1 %". The minus sign is the true one (U+2212); a share that is not finite is a dash.
#[must_use]
pub fn signed_percent(share: f64) -> String {
    if share.is_finite() {
        format!("{:+.1} %", 100.0 * share).replace('-', "−")
    } else {
        "–".to_owned()
    }
}

/// A value with `digits` significant digits (1 to 15) and the prefix that puts 1 to 999 before
/// the point, where the unit takes prefixes.
///
/// The minus sign is the true one (U+2212). A value that is not finite is shown as a dash.
#[must_use]
pub fn shown(value: f64, unit: Unit, digits: usize) -> Shown {
    let dash = || Shown {
        number: "–".to_owned(),
        unit: String::new(),
    };
    if !value.is_finite() {
        return dash();
    }
    let digits = digits.clamp(1, 15);
    let scaled = value * unit.per_si;
    // Rounding comes first, so that 999.96 becomes 1.000 k and not 1000.
    let scientific = format!("{:.*e}", digits - 1, scaled.abs());
    let Some((mantissa, exponent)) = scientific.split_once('e') else {
        return dash();
    };
    let Ok(exponent) = exponent.parse::<i32>() else {
        return dash();
    };
    let figures: String = mantissa.chars().filter(char::is_ascii_digit).collect();
    let sign = if scaled < 0.0 { "−" } else { "" };
    if figures.bytes().all(|digit| digit == b'0') {
        return Shown {
            number: "0".to_owned(),
            unit: unit.symbol.to_owned(),
        };
    }

    let (power, prefix) = prefix_of(exponent, unit);
    let shift = exponent - power;
    let number = if (-4..=6).contains(&shift) {
        place_point(&figures, shift)
    } else {
        let fraction = &figures[1..];
        let point = if fraction.is_empty() { "" } else { "." };
        format!("{}{point}{fraction}e{shift}", &figures[..1])
    };
    Shown {
        number: format!("{sign}{number}"),
        unit: format!("{prefix}{}", unit.symbol),
    }
}

/// The prefix that puts a value of that power of ten between 1 and 999.
fn prefix_of(exponent: i32, unit: Unit) -> (i32, &'static str) {
    if !unit.prefixed {
        return (0, "");
    }
    let wanted = exponent.div_euclid(3) * 3;
    let found = PREFIXES.iter().copied().find(|(power, _)| *power == wanted);
    // beyond all prefixes: 1.3e-18 Nm, not 1.3e-6 pNm
    found.unwrap_or((0, ""))
}

/// A value and its range in one unit: `10.51 ± 0.21 mNm/A`. The range has two significant digits,
/// and the value ends at the same place (JCGM 100:2008, 7.2.6).
///
/// Where the range is 0 or none, the value alone with four digits.
#[must_use]
pub fn shown_with_range(value: f64, range: f64, unit: Unit) -> String {
    const RANGE_DIGITS: usize = 2;
    let alone = || shown(value, unit, 4).to_string();
    let (scaled, range) = (value * unit.per_si, range * unit.per_si);
    if !(scaled.is_finite() && range.is_finite() && range > 0.0) {
        return alone();
    }
    let Some(last) = exponent_of(range, RANGE_DIGITS).map(|exponent| exponent - 1) else {
        return alone();
    };
    let mut pair = in_one_unit(&[scaled, range], last, unit);
    let (Some(range), Some(value)) = (pair.pop(), pair.pop()) else {
        return alone();
    };
    let words = format!("{} ± {} {}", value.number, range.number, range.unit);
    words.trim_end().to_owned()
}

/// Both ends of a range in one unit, the larger with so many significant digits (1 to 15) and both
/// to the same place: `0.95`, `1.05 A`.
#[must_use]
pub fn shown_ends(ends: [f64; 2], unit: Unit, digits: usize) -> [Shown; 2] {
    let each = || ends.map(|end| shown(end, unit, digits));
    let scaled = ends.map(|end| end * unit.per_si);
    if !scaled.iter().all(|end| end.is_finite()) {
        return each();
    }
    let largest = scaled[0].abs().max(scaled[1].abs());
    let digits = digits.clamp(1, 15);
    let Some(exponent) = exponent_of(largest, digits) else {
        return each();
    };
    let last = exponent - i32::try_from(digits).unwrap_or(1) + 1;
    let pair = in_one_unit(&scaled, last, unit);
    <[Shown; 2]>::try_from(pair).unwrap_or_else(|_| each())
}

/// Power of ten of the first digit, once rounded to so many; `None` for 0.
fn exponent_of(value: f64, digits: usize) -> Option<i32> {
    let scientific = format!("{:.*e}", digits - 1, value.abs());
    let (mantissa, exponent) = scientific.split_once('e')?;
    let zero = mantissa.bytes().all(|byte| matches!(byte, b'0' | b'.'));
    exponent.parse().ok().filter(|_| !zero)
}

/// Values with the prefix of the largest, each rounded to 10^`last`.
fn in_one_unit(scaled: &[f64], last: i32, unit: Unit) -> Vec<Shown> {
    let largest = scaled
        .iter()
        .fold(0.0_f64, |most, value| most.max(value.abs()));
    let exponent = exponent_of(largest, 15).unwrap_or(0).max(last);
    // 999.96 to one place is 1.0 k
    let rounds_up =
        largest + 0.5 * libm::exp10(f64::from(last)) >= libm::exp10(f64::from(exponent + 1));
    let (power, prefix) = prefix_of(exponent + i32::from(rounds_up), unit);
    let places = power - last;
    let number = |value: f64| {
        let value = value / libm::exp10(f64::from(power));
        let words = match usize::try_from(places) {
            Ok(places) => format!("{value:.*}", places.min(15)),
            Err(_) => {
                let grain = libm::exp10(f64::from(-places));
                format!("{:.0}", libm::round(value / grain) * grain)
            }
        };
        let zero = words.bytes().all(|byte| matches!(byte, b'-' | b'0' | b'.'));
        let words = words.trim_start_matches('-');
        if value < 0.0 && !zero {
            format!("−{words}")
        } else {
            words.to_owned()
        }
    };
    scaled
        .iter()
        .map(|value| Shown {
            number: number(*value),
            unit: format!("{prefix}{}", unit.symbol),
        })
        .collect()
}

/// Puts the point into a row of digits; the first digit stands for 10^`exponent`.
fn place_point(figures: &str, exponent: i32) -> String {
    match usize::try_from(exponent) {
        Err(_) => {
            let zeros = usize::try_from(-exponent - 1).unwrap_or(0);
            format!("0.{}{figures}", "0".repeat(zeros))
        }
        Ok(exponent) if exponent + 1 >= figures.len() => {
            format!("{figures}{}", "0".repeat(exponent + 1 - figures.len()))
        }
        Ok(exponent) => format!("{}.{}", &figures[..=exponent], &figures[exponent + 1..]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(value: f64, unit: Unit, digits: usize) -> String {
        shown(value, unit, digits).to_string()
    }

    #[test]
    fn a_difference_has_its_sign() {
        assert_eq!(signed_percent(0.021), "+2.1 %");
        assert_eq!(signed_percent(-0.012), "−1.2 %");
        assert_eq!(signed_percent(f64::NAN), "–");
    }

    #[test]
    fn picks_the_prefix_that_fits() {
        assert_eq!(text(0.038_4, Unit::NEWTON_METRE, 4), "38.40 mNm");
        assert_eq!(text(1.2e-5, Unit::AMPERE, 3), "12.0 µA");
        assert_eq!(text(20_000.0, Unit::HERTZ, 3), "20.0 kHz");
        assert_eq!(text(-2.5, Unit::AMPERE, 3), "−2.50 A");
        assert_eq!(text(0.0, Unit::WATT, 4), "0 W");
        assert_eq!(text(-0.0, Unit::WATT, 4), "0 W");
    }

    #[test]
    fn rounds_before_it_picks() {
        assert_eq!(text(999.96, Unit::WATT, 4), "1.000 kW");
        assert_eq!(text(0.999_6, Unit::AMPERE, 3), "1.00 A");
        assert_eq!(text(0.999_4, Unit::AMPERE, 3), "999 mA");
    }

    #[test]
    fn speeds_and_ratios_take_no_prefix() {
        assert_eq!(text(5_873.42, Unit::RPM, 4), "5873 rpm");
        assert_eq!(text(12_346.0, Unit::RPM, 4), "12350 rpm");
        assert_eq!(text(0.8731, Unit::PERCENT, 3), "87.3 %");
        assert_eq!(text(3.2e-12, Unit::NUMBER, 2), "3.2e-12");
        assert_eq!(text(0.001_5, Unit::NUMBER, 2), "0.0015");
    }

    /// One unit for both, whatever the range alone would have taken.
    #[test]
    fn value_and_range_share_their_unit() {
        let text = |value, range, unit| shown_with_range(value, range, unit);
        let torque = Unit::NEWTON_METRE_PER_AMPERE;
        assert_eq!(text(0.010_512, 0.000_208, torque), "10.51 ± 0.21 mNm/A");
        assert_eq!(text(920.4, 11.6, Unit::RPM_PER_VOLT), "920 ± 12 rpm/V");
        assert_eq!(text(12_345.0, 148.0, Unit::RPM), "12350 ± 150 rpm");
        assert_eq!(text(-2e-6, 5e-5, Unit::AMPERE), "−2 ± 50 µA");
        assert_eq!(text(1e-9, 5e-5, Unit::AMPERE), "0 ± 50 µA");
        assert_eq!(text(0.999_96, 0.0012, Unit::VOLT), "1.0000 ± 0.0012 V");
        assert_eq!(text(0.873, 0.004, Unit::PERCENT), "87.30 ± 0.40 %");
        assert_eq!(text(7.0, 0.05, Unit::NUMBER), "7.000 ± 0.050");
        assert_eq!(text(7.0, 0.0, Unit::VOLT), "7.000 V");
        assert_eq!(text(7.0, f64::NAN, Unit::VOLT), "7.000 V");
    }

    #[test]
    fn ends_of_a_range_share_their_unit() {
        let ends = |low, high, unit| shown_ends([low, high], unit, 3).map(|end| end.to_string());
        assert_eq!(ends(0.951, 1.052, Unit::AMPERE), ["0.95 A", "1.05 A"]);
        assert_eq!(ends(0.951, 0.972, Unit::AMPERE), ["951 mA", "972 mA"]);
        assert_eq!(ends(-1.0, 20.0, Unit::WATT), ["−1.0 W", "20.0 W"]);
        assert_eq!(ends(7_310.0, 7_404.0, Unit::RPM), ["7310 rpm", "7400 rpm"]);
        assert_eq!(ends(0.0, 0.0, Unit::WATT), ["0 W", "0 W"]);
        assert_eq!(ends(f64::NAN, 1.0, Unit::WATT), ["–", "1.00 W"]);
    }

    #[test]
    fn what_is_not_a_number_is_a_dash() {
        assert_eq!(text(f64::NAN, Unit::WATT, 4), "–");
        assert_eq!(text(f64::INFINITY, Unit::WATT, 4), "–");
        assert_eq!(text(1e-300, Unit::WATT, 3), "1.00e-300 W");
    }
}
