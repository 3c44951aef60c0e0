//! Lists and ranges as a person writes them: `9,12,15`, `6..20`, `6..20/2`, `0.7..0.9/0.05`.

use crate::setup::{Quantity, parse_quantity};

/// Most values of one list.
const MOST_VALUES: usize = 2000;

/// A list that cannot be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ListError {
    /// What was written.
    pub text: String,
    /// What would be right.
    pub wanted: String,
}

impl std::fmt::Display for ListError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "“{}” is not {}", self.text, self.wanted)
    }
}

impl std::error::Error for ListError {}

fn wrong(text: &str, wanted: &str) -> ListError {
    ListError {
        text: text.to_owned(),
        wanted: wanted.to_owned(),
    }
}

/// Whole numbers, both ends of a range included; without a step a range goes by `step`.
///
/// # Errors
/// [`ListError`] with what would be right.
pub fn whole_numbers(
    text: &str,
    step: u32,
    allowed: std::ops::RangeInclusive<u32>,
) -> Result<Vec<u32>, ListError> {
    let wanted = format!(
        "a list of whole numbers from {} to {}, as in 9,12,15 or 6..20 or 6..20/{}",
        allowed.start(),
        allowed.end(),
        step.max(2)
    );
    let fail = || wrong(text, &wanted);
    let number = |word: &str| -> Result<u32, ListError> {
        let number: u32 = word.trim().parse().map_err(|_| fail())?;
        if allowed.contains(&number) {
            Ok(number)
        } else {
            Err(fail())
        }
    };
    let mut values = Vec::new();
    for word in text.split(',') {
        if let Some((from, to)) = word.split_once("..") {
            let (to, step) = match to.split_once('/') {
                Some((to, by)) => (to, by.trim().parse().map_err(|_| fail())?),
                None => (to, step),
            };
            let (from, to) = (number(from)?, number(to)?);
            if step == 0 || from > to {
                return Err(fail());
            }
            values.extend((from..=to).step_by(step as usize));
        } else {
            values.push(number(word)?);
        }
        if values.len() > MOST_VALUES {
            return Err(fail());
        }
    }
    Ok(distinct(values))
}

/// Plain numbers from 0.01 to 1, as the magnet arcs of a setup; a range needs its step.
///
/// # Errors
/// [`ListError`] with what would be right.
pub fn shares(text: &str) -> Result<Vec<f64>, ListError> {
    let wanted = "a list of numbers from 0.01 to 1, as in 0.7,0.8 or 0.7..0.9/0.05";
    let fail = || wrong(text, wanted);
    let number = |word: &str| -> Result<f64, ListError> {
        let number: f64 = word.trim().parse().map_err(|_| fail())?;
        if (0.01..=1.0).contains(&number) {
            Ok(number)
        } else {
            Err(fail())
        }
    };
    let mut values = Vec::new();
    for word in text.split(',') {
        let Some((from, rest)) = word.split_once("..") else {
            values.push(number(word)?);
            continue;
        };
        let (to, step) = rest.split_once('/').ok_or_else(fail)?;
        let (from, to, step) = (number(from)?, number(to)?, number(step)?);
        // The last step may fall short of the end by rounding.
        let n = ((to - from) / step + 1e-9).floor();
        if !(0.0..=2000.0).contains(&n) {
            return Err(fail());
        }
        let mut k = 0.0;
        while k <= n {
            values.push(super::canonical(from + k * step));
            k += 1.0;
        }
    }
    Ok(distinct(values))
}

/// Lengths above 0, each with its unit.
///
/// # Errors
/// [`ListError`] with what would be right.
pub fn lengths(text: &str) -> Result<Vec<f64>, ListError> {
    let wanted = "a list of lengths above 0 with their units, as in \"0.5 mm,0.6 mm\"";
    let values: Result<Vec<f64>, ListError> = text
        .split(',')
        .map(|word| match parse_quantity(word.trim(), Quantity::Length) {
            Ok(length) if length > 0.0 && length < 0.1 => Ok(length),
            _ => Err(wrong(text, wanted)),
        })
        .collect();
    Ok(distinct(values?))
}

/// Each value once, the first time it comes.
fn distinct<T: PartialEq>(values: Vec<T>) -> Vec<T> {
    let mut kept: Vec<T> = Vec::with_capacity(values.len());
    for value in values {
        if !kept.contains(&value) {
            kept.push(value);
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_and_ranges() {
        assert_eq!(whole_numbers("9,12, 15", 1, 3..=99).unwrap(), [9, 12, 15]);
        assert_eq!(whole_numbers("6..10", 2, 2..=99).unwrap(), [6, 8, 10]);
        assert_eq!(whole_numbers("6..12/3,9", 1, 1..=99).unwrap(), [6, 9, 12]);
        assert_eq!(
            shares("0.7..0.9/0.05").unwrap(),
            [0.7, 0.75, 0.8, 0.85, 0.9]
        );
        assert_eq!(lengths("0.5 mm,0.6 mm").unwrap(), [0.5e-3, 0.6e-3]);
        for bad in [
            "", "9,", "x", "12..9", "9..12/0", "0", "-3", "1e3", "..", "9..", "100",
        ] {
            assert!(whole_numbers(bad, 1, 3..=99).is_err(), "{bad}");
        }
        for bad in [
            "0.7..0.9",
            "0",
            "1e-320",
            "1.2",
            "NaN",
            "0.9..0.7/0.1",
            "0.7..0.9/0",
        ] {
            assert!(shares(bad).is_err(), "{bad}");
        }
        for bad in ["0.5", "0.5 V", "-1 mm", "2 m"] {
            assert!(lengths(bad).is_err(), "{bad}");
        }
    }
}
