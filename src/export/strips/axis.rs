//! Scales: a range with some air, round numbers to mark it, and the unit they are in.

use crate::analysis::{Unit, shown};
use crate::record::MinMax;

/// A scale of values.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::export) struct Axis {
    low: f64,
    high: f64,
    /// Values and their words, rising.
    pub(in crate::export) ticks: Vec<(f64, String)>,
    /// The unit of the words, with its prefix.
    pub(in crate::export) unit_words: String,
}

/// Points between two marks at least, so that their words stand apart.
const TICK_POINTS: f64 = 24.0;

impl Axis {
    /// A scale for the range found, on a strip of some height in points.
    pub(in crate::export) fn new(found: MinMax, unit: Unit, with_zero: bool, height: f64) -> Self {
        let found = if with_zero {
            found.and(MinMax::of(0.0))
        } else {
            found
        };
        let largest = found.min.abs().max(found.max.abs());
        // A flat trace is not blown up to its rounding: at least 2 % of the value is shown.
        let least = if largest > 0.0 { 0.02 * largest } else { 1.0 };
        let air = 0.5 * (least - found.span()).max(0.0) + 0.08 * found.span().max(least);
        let at_zero = |end: f64| with_zero && end == 0.0 && found.span() > 0.0;
        let low = if at_zero(found.min) {
            -0.4 * air
        } else {
            found.min - air
        };
        let high = if at_zero(found.max) {
            0.4 * air
        } else {
            found.max + air
        };
        Self::marked(
            low,
            high,
            largest,
            unit,
            (height / TICK_POINTS).clamp(2.0, 6.0),
        )
    }

    /// The scale of time, to its very ends.
    pub(in crate::export) fn of_time(from_s: f64, to_s: f64) -> Self {
        Self::marked(
            from_s,
            to_s,
            from_s.abs().max(to_s.abs()),
            Unit::SECOND,
            9.0,
        )
    }

    fn marked(low: f64, high: f64, largest: f64, unit: Unit, n_most: f64) -> Self {
        // Prefix: that of the largest value, for all marks.
        let unit_words = shown(largest, unit, 3).unit;
        let power = match unit_words.strip_suffix(unit.symbol).unwrap_or("") {
            "p" => 1e12,
            "n" => 1e9,
            "µ" => 1e6,
            "m" => 1e3,
            "k" => 1e-3,
            "M" => 1e-6,
            "G" => 1e-9,
            "T" => 1e-12,
            _ => 1.0,
        };
        let factor = power * unit.per_si;
        let (step, places) = round_step((high - low) * factor / n_most);
        let mut ticks = Vec::new();
        let mut n = (low * factor / step).ceil();
        while n * step <= high * factor && ticks.len() < 50 {
            let value = n * step;
            let words = format!("{value:.places$}").replace('-', "−");
            ticks.push((if n == 0.0 { 0.0 } else { value / factor }, words));
            n += 1.0;
        }
        for (value, words) in &mut ticks {
            if *value == 0.0 {
                *words = "0".to_owned();
            }
        }
        Self {
            low,
            high,
            ticks,
            unit_words,
        }
    }

    /// Where a value stands: 0 at the foot, 1 at the top.
    pub(in crate::export) fn share(&self, value: f64) -> f64 {
        (value - self.low) / (self.high - self.low)
    }
}

/// The least of 1, 2, 5 times a power of ten that is not below `least`, and the places after
/// the point that its multiples need.
fn round_step(least: f64) -> (f64, usize) {
    if !(least.is_finite() && least > 0.0) {
        return (1.0, 0);
    }
    let text = format!("{least:e}");
    let exponent: i32 = text
        .split_once('e')
        .and_then(|(_, e)| e.parse().ok())
        .unwrap_or(0);
    for (digit, up) in [(1.0, 0), (2.0, 0), (5.0, 0), (1.0, 1)] {
        let exponent = exponent + up;
        // A power of ten read from text is the nearest there is.
        let step = digit * format!("1e{exponent}").parse::<f64>().unwrap_or(1.0);
        if step >= least {
            return (step, usize::try_from(-exponent).unwrap_or(0));
        }
    }
    (least, 3)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(axis: &Axis) -> Vec<&str> {
        axis.ticks.iter().map(|(_, words)| words.as_str()).collect()
    }

    #[test]
    fn marks_are_round_numbers_in_one_unit() {
        let axis = Axis::new(
            MinMax {
                min: -8.3,
                max: 8.1,
            },
            Unit::AMPERE,
            true,
            130.0,
        );
        assert_eq!(words(&axis), ["−5", "0", "5"]);
        let axis = Axis::new(
            MinMax {
                min: 0.041,
                max: 0.063,
            },
            Unit::NEWTON_METRE,
            true,
            130.0,
        );
        assert_eq!(
            (words(&axis), axis.unit_words.as_str()),
            (vec!["0", "20", "40", "60"], "mNm")
        );
        let axis = Axis::of_time(0.996, 1.0);
        assert_eq!(axis.unit_words, "s");
        assert_eq!(words(&axis)[..2], ["0.9960", "0.9965"]);
    }

    #[test]
    fn a_flat_or_empty_range_has_a_scale() {
        let axis = Axis::new(MinMax::of(0.0), Unit::VOLT, true, 130.0);
        assert!(axis.share(0.0) > 0.0 && axis.share(0.0) < 1.0, "{axis:?}");
        let axis = Axis::new(MinMax::of(5000.0), Unit::RPM, false, 68.0);
        assert!((axis.share(5000.0) - 0.5).abs() < 1e-9);
        assert!(axis.ticks.len() >= 2, "{axis:?}");
    }
}
