//! Scales with marks at round numbers, for every plot.

/// A scale from `low` to `high` with marks at the multiples of `step`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Scale {
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) step: f64,
}

impl Scale {
    /// A scale that holds both values, with at most `most` steps between them. It ends on a
    /// quarter of a step: tight, and still while the values move a little.
    pub(super) fn round(low: f64, high: f64, most: u32) -> Self {
        let (low, high) = if low.is_finite() && high.is_finite() && low <= high {
            (low, high)
        } else {
            (0.0, 1.0)
        };
        // A value that stands still still gets a scale: a thousandth of itself, or one.
        let least = (1e-3 * low.abs().max(high.abs())).max(1e-9);
        let (low, high) = if high - low < least {
            let middle = f64::midpoint(low, high);
            (middle - 0.5 * least, middle + 0.5 * least)
        } else {
            (low, high)
        };
        let step = round_step((high - low) / f64::from(most.max(1)));
        let grain = step / 4.0;
        Self {
            low: libm::floor(low / grain + 1e-6) * grain,
            high: libm::ceil(high / grain - 1e-6) * grain,
            step,
        }
    }

    /// A scale that holds all values and ends on marks, some six steps long.
    pub(super) fn whole(values: impl Iterator<Item = f64>) -> Self {
        let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        });
        let range = if high - low > 1e-9 * high.abs().max(1e-300) {
            high - low
        } else {
            high.abs().max(1e-9)
        };
        let step = round_step(range / 6.0);
        let low = libm::floor(low / step);
        let n_steps = (libm::ceil(high / step) - low).clamp(1.0, 40.0);
        Self {
            low: low * step,
            high: (low + n_steps) * step,
            step,
        }
    }

    /// The same length to both sides of zero.
    pub(super) fn about_zero(largest: f64) -> Self {
        let step = round_step(if largest > 1e-9 { largest } else { 1.0 });
        Self {
            low: -step,
            high: step,
            step,
        }
    }

    /// 0 at the low end, 1 at the high end.
    pub(super) fn share(&self, value: f64) -> f64 {
        (value - self.low) / (self.high - self.low)
    }

    /// The marks.
    pub(super) fn marks(&self) -> Vec<f64> {
        marks(self.low, self.high, self.step)
    }

    /// A mark in words, with as many places as the step needs.
    pub(super) fn words(&self, mark: f64) -> String {
        mark_words(mark, self.step)
    }
}

/// The multiples of `step` from `low` to `high`, at most a hundred.
pub(super) fn marks(low: f64, high: f64, step: f64) -> Vec<f64> {
    let first = libm::ceil(low / step - 1e-6);
    (0..100)
        .map(|k| (first + f64::from(k)) * step)
        .take_while(|mark| *mark <= high + 1e-6 * step)
        .collect()
}

/// A multiple of `step` with as many places as the step needs.
pub(super) fn mark_words(mark: f64, step: f64) -> String {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "0 to 9"
    )]
    let places = (-libm::floor(libm::log10(step) + 1e-9)).clamp(0.0, 9.0) as usize;
    let mark = if mark.abs() < 0.5 * step { 0.0 } else { mark };
    format!("{mark:.places$}").replace('-', "−")
}

/// The next of 1, 2, 5, 10 … at or above a value above 0.
pub(super) fn round_step(value: f64) -> f64 {
    if !value.is_finite() || value <= 0.0 {
        return 1.0;
    }
    let decade = libm::pow(10.0, libm::floor(libm::log10(value)));
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|step| step * decade)
        .find(|full| *full >= value * 0.999_999)
        .unwrap_or(10.0 * decade)
}

/// A value with three significant digits, without an exponent, with a true minus.
#[must_use]
pub fn three_digits(value: f64) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    let size = value.abs();
    let places = if size < 1e-9 {
        0
    } else {
        #[expect(clippy::cast_possible_truncation, reason = "an exponent of ten")]
        let exponent = libm::floor(libm::log10(size * 1.000_5)) as i32;
        (2 - exponent).clamp(0, 6)
    };
    #[expect(clippy::cast_sign_loss, reason = "0 to 6")]
    let words = format!("{value:.*}", places as usize);
    let zero = words
        .trim_start_matches('-')
        .chars()
        .all(|c| matches!(c, '0' | '.'));
    if zero {
        "0".to_owned()
    } else {
        words.replace('-', "−")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_are_tight_and_round() {
        for (low, high, wanted) in [
            (0.0, 45.2, (0.0, 50.0, 20.0)),
            (5_876.2, 5_877.9, (5_874.0, 5_880.0, 2.0)),
            (-0.3, 11.1, (-1.25, 11.25, 5.0)),
            (0.0, 0.0, (0.0, 0.0, 0.0)),
        ] {
            let scale = Scale::round(low, high, 3);
            assert!(scale.low <= low && scale.high >= high, "{scale:?}");
            assert!((scale.high - scale.low) / scale.step < 3.51, "{scale:?}");
            if wanted.2 > 0.0 {
                assert!((scale.step - wanted.2).abs() < 1e-9, "{scale:?}");
                assert!((scale.low - wanted.0).abs() < 1e-6, "{scale:?}");
            }
        }
        for (value, wanted) in [(0.13, 0.2), (2.0, 2.0), (2.1, 5.0), (67.0, 100.0)] {
            assert!((round_step(value) - wanted).abs() < 1e-9, "{value}");
        }
    }

    #[test]
    fn values_have_three_digits() {
        for (value, wanted) in [
            (0.0, "0"),
            (-0.000_000_01, "0"),
            (1.234_5, "1.23"),
            (-12.345, "−12.3"),
            (9.996, "10.0"),
            (5_877.3, "5877"),
            (0.012_345, "0.0123"),
        ] {
            assert_eq!(three_digits(value), wanted);
        }
        assert_eq!(mark_words(212.4, 0.2), "212.4");
        assert_eq!(mark_words(-5.0, 5.0), "−5");
    }
}
