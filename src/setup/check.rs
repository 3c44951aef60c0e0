//! One value of the file against its entry in the table of keys.

use toml::de::{DeArray, DeString, DeValue};

use super::keys::{Bound, KeySpec, Kind};
use super::problem::{Place, Problem};
use super::units::{Quantity, QuantityError, parse_quantity};

/// A value that fits its key: in SI units and in range.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Value {
    Number(f64),
    Whole(u32),
    Word(&'static str),
    Flag(bool),
    Text(String),
    Harmonics(Vec<(u32, f64)>),
}

/// The nearest of some words, where one is near enough to be a slip.
pub(super) fn nearest<'a>(word: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let plain = |s: &str| s.to_lowercase().replace(['-', ' '], "_");
    let word = plain(word);
    let n_chars = word.chars().count();
    known
        .map(|k| (strsim::osa_distance(&plain(k), &word), k))
        .filter(|(distance, k)| *distance <= (n_chars.min(k.len()) / 3).max(1))
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, k)| k)
}

/// What a value is, as a person would say it.
pub(super) fn type_name(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// A plain number as written and as read; `None` for everything that is not a plain number.
fn plain_number(value: &DeValue<'_>) -> Option<(String, f64)> {
    match value {
        DeValue::Integer(i) => {
            let number = i128::from_str_radix(i.as_str(), i.radix());
            #[expect(clippy::cast_precision_loss, reason = "far past every range here")]
            Some((i.to_string(), number.map_or(f64::INFINITY, |n| n as f64)))
        }
        DeValue::Float(f) => Some((f.to_string(), f.as_str().parse().unwrap_or(f64::NAN))),
        _ => None,
    }
}

/// Checks `value` against `spec`; `source` is the text that `place` points into.
pub(super) fn check(
    spec: &KeySpec,
    value: &DeValue<'_>,
    place: Option<Place>,
    source: &str,
) -> Result<Value, Problem> {
    check_under(spec, spec.name(), value, place, source)
}

/// The same for a value that stands under another name, as the `to` of a change does: remedies
/// show the line as the person has to write it.
pub(super) fn check_under(
    spec: &KeySpec,
    name: &str,
    value: &DeValue<'_>,
    place: Option<Place>,
    source: &str,
) -> Result<Value, Problem> {
    let wrong_type = |wanted: &str, remedy: String| Problem::WrongType {
        key: spec.path.to_owned(),
        found: type_name(value).to_owned(),
        wanted: wanted.to_owned(),
        remedy,
        place,
    };
    let as_in = format!("write it as in `{name} = {}`", spec.example);
    match spec.kind {
        Kind::Quantity { quantity, min, max } => match value {
            DeValue::String(text) => {
                let si = parse_quantity(text, quantity)
                    .map_err(|e| quantity_problem(spec, name, quantity, text, e, place, source))?;
                if in_range(si, min, max, Some(quantity)) {
                    return Ok(Value::Number(si));
                }
                Err(Problem::OutOfRange {
                    key: spec.path.to_owned(),
                    found: text.to_string(),
                    allowed: spec.kind.allowed(),
                    hint: if spec.path == "supply.resistance" && si == 0.0 {
                        Some("For a stiff supply leave resistance and capacitance out".to_owned())
                    } else {
                        prefix_hint(text, quantity, min, max)
                    },
                    place,
                })
            }
            DeValue::Integer(_) | DeValue::Float(_) => {
                let (found, number) = plain_number(value).unwrap_or_default();
                if number.is_finite() {
                    let (key, example) =
                        (spec.path.to_owned(), format!("{name} = {}", spec.example));
                    Err(Problem::NoUnit {
                        key,
                        found,
                        quantity,
                        example,
                        place,
                    })
                } else {
                    Err(not_finite(spec, found, place))
                }
            }
            _ => Err(wrong_type("a number with its unit in a text", as_in)),
        },
        Kind::Number { min, max } => {
            let Some((found, number)) = plain_number(value) else {
                let remedy = match value {
                    DeValue::String(text) => plain_remedy(name, text).unwrap_or(as_in),
                    _ => as_in,
                };
                return Err(wrong_type("a plain number", remedy));
            };
            if !number.is_finite() {
                return Err(not_finite(spec, found, place));
            }
            if in_range(number, min, max, None) {
                return Ok(Value::Number(number));
            }
            let hint = (max.text == "1" && (5.0..=100.0).contains(&number))
                .then(|| format!("{found} % is {}", number / 100.0));
            let (key, allowed) = (spec.path.to_owned(), spec.kind.allowed());
            Err(Problem::OutOfRange {
                key,
                found,
                allowed,
                hint,
                place,
            })
        }
        Kind::Whole { min, max } => {
            let Some((found, number)) = plain_number(value) else {
                let remedy = match value {
                    DeValue::String(text) => plain_remedy(name, text).unwrap_or(as_in),
                    _ => as_in,
                };
                return Err(wrong_type("a whole number", remedy));
            };
            if number.is_nan() || (number.is_infinite() && matches!(value, DeValue::Float(_))) {
                return Err(not_finite(spec, found, place));
            }
            if matches!(value, DeValue::Float(_)) {
                let whole = number.fract() == 0.0;
                let remedy = if whole && number.abs() < 1e9 {
                    format!("write `{name} = {number}`")
                } else {
                    as_in
                };
                return Err(wrong_type(
                    "a whole number, without a decimal point",
                    remedy,
                ));
            }
            if number >= f64::from(min) && number <= f64::from(max) {
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "in range"
                )]
                return Ok(Value::Whole(number as u32));
            }
            let (key, allowed) = (spec.path.to_owned(), spec.kind.allowed());
            let hint = (spec.path == "format")
                .then(|| "This program reads format 1; a newer one may read this file".to_owned());
            Err(Problem::OutOfRange {
                key,
                found,
                allowed,
                hint,
                place,
            })
        }
        Kind::Word { words, not_yet } => {
            let DeValue::String(text) = value else {
                return Err(wrong_type("one of its words", as_in));
            };
            if let Some(word) = words.iter().find(|w| *w == text) {
                return Ok(Value::Word(word));
            }
            let key = spec.path.to_owned();
            if let Some((_, instead)) = not_yet.iter().find(|(w, _)| w == text) {
                return Err(Problem::NotSimulated {
                    key,
                    word: text.to_string(),
                    instead,
                    place,
                });
            }
            let nearest = nearest(text, words.iter().copied());
            Err(Problem::UnknownWord {
                key,
                found: text.to_string(),
                words,
                nearest,
                place,
            })
        }
        Kind::Flag => match value {
            DeValue::Boolean(flag) => Ok(Value::Flag(*flag)),
            DeValue::String(text) if matches!(text.as_ref(), "true" | "false") => Err(wrong_type(
                "true or false",
                format!("write `{name} = {text}` without quotes"),
            )),
            _ => Err(wrong_type("true or false", as_in)),
        },
        Kind::Text => match value {
            DeValue::String(text) => Ok(Value::Text(text.to_string())),
            _ => Err(wrong_type("a text", as_in)),
        },
        Kind::Harmonics => match value {
            DeValue::Array(pairs) => harmonics(pairs, place).map(Value::Harmonics),
            _ => Err(wrong_type("a list of [order, amplitude] pairs", as_in)),
        },
    }
}

/// The two sides of the sign in a text that carries a tolerance, `±`, `+-` or `+/-`; `None` where it
/// carries none.
#[must_use]
pub fn parted_text(text: &str) -> Option<(&str, &str)> {
    ["\u{b1}", "+-", "+/-"]
        .iter()
        .find_map(|sign| text.split_once(sign))
}

/// Checks a value with its tolerance, the two sides of the sign in `"920 rpm/V ± 5 %"`. The
/// tolerance is a part of the value in percent, or a quantity of the same kind.
pub(super) fn check_toleranced(
    spec: &KeySpec,
    nominal: &str,
    tolerance: &str,
    place: Place,
    source: &str,
) -> Result<(Value, f64), Problem> {
    let fails = |reason: &str, remedy: String| Problem::Tolerance {
        key: spec.path.to_owned(),
        reason: reason.to_owned(),
        remedy,
        place,
    };
    let example = || format!("write it as in `{} = \"{nominal}\u{b1} 5 %\"`", spec.name());
    let value = match spec.kind {
        Kind::Quantity { .. } => check(
            spec,
            &DeValue::String(DeString::Borrowed(nominal.trim())),
            Some(place),
            source,
        )?,
        Kind::Number { .. } => {
            let number = DeValue::parse(nominal.trim())
                .map_err(|_| fails("a plain number stands before the tolerance", example()))?;
            check(spec, number.get_ref(), Some(place), source)?
        }
        _ => {
            return Err(fails(
                "it is counted or chosen, not measured, and has no tolerance",
                format!("write `{} = {}`", spec.name(), spec.example),
            ));
        }
    };
    let Value::Number(number) = value else {
        return Err(fails("it has no tolerance", example()));
    };
    let half = if let Some(percent) = tolerance.trim().strip_suffix('%') {
        percent
            .trim()
            .parse::<f64>()
            .map(|percent| percent / 100.0 * number.abs())
            .map_err(|_| fails("the tolerance is no number of percent", example()))?
    } else {
        match spec.kind {
            Kind::Quantity { quantity, .. } => {
                parse_quantity(tolerance, quantity).map_err(|_| {
                    fails(
                        "the tolerance is neither percent nor a quantity of the same kind",
                        example(),
                    )
                })?
            }
            _ => tolerance
                .trim()
                .parse()
                .map_err(|_| fails("the tolerance is no number", example()))?,
        }
    };
    if half.is_finite() && half >= 0.0 {
        Ok((value, half))
    } else {
        Err(fails("the tolerance is below zero or no number", example()))
    }
}

/// The value of a text written in the table of keys, which is right by construction.
pub(super) fn check_own(spec: &KeySpec, text: &str) -> Option<Value> {
    check(spec, &raw(spec, text), None, "").ok()
}

/// A value text without the quotes that a file would need, as the kind of `spec` takes it.
pub(super) fn raw<'a>(spec: &KeySpec, text: &'a str) -> DeValue<'a> {
    let plain = matches!(
        spec.kind,
        Kind::Number { .. } | Kind::Whole { .. } | Kind::Flag | Kind::Harmonics
    ) || text.trim().parse::<f64>().is_ok();
    plain
        .then(|| DeValue::parse(text.trim()).ok())
        .flatten()
        .map_or_else(
            || DeValue::String(DeString::Borrowed(text)),
            toml::Spanned::into_inner,
        )
}

/// Whether a finite number, in SI units, lies in the range of its key.
pub(super) fn number_fits(spec: &KeySpec, value: f64) -> bool {
    match spec.kind {
        Kind::Quantity { quantity, min, max } => in_range(value, min, max, Some(quantity)),
        Kind::Number { min, max } => in_range(value, min, max, None),
        _ => false,
    }
}

fn in_range(value: f64, min: Bound, max: Bound, quantity: Option<Quantity>) -> bool {
    let end = |bound: Bound| match quantity {
        Some(quantity) => parse_quantity(bound.text, quantity).unwrap_or(f64::NAN),
        None => bound.text.parse().unwrap_or(f64::NAN),
    };
    let (least, most) = (end(min), end(max));
    (value > least || (min.included && value == least))
        && (value < most || (max.included && value == most))
}

fn not_finite(spec: &KeySpec, found: String, place: Option<Place>) -> Problem {
    Problem::NotFinite {
        key: spec.path.to_owned(),
        found,
        allowed: spec.kind.allowed(),
        place,
    }
}

/// For a plain number that was written as a text.
fn plain_remedy(name: &str, text: &str) -> Option<String> {
    if let Some(percent) = text.trim().strip_suffix('%') {
        let part = percent.trim().parse::<f64>().ok()? / 100.0;
        return Some(format!("write it as a part of 1: `{name} = {part}`"));
    }
    let number = text.trim().parse::<f64>().ok().filter(|n| n.is_finite())?;
    Some(format!("write `{name} = {number}` without quotes"))
}

/// Asks whether `M` was written for `m`, or the other way round.
fn prefix_hint(text: &str, quantity: Quantity, min: Bound, max: Bound) -> Option<String> {
    let at = text.find(['M', 'm'])?;
    let other = if text[at..].starts_with('M') {
        "m"
    } else {
        "M"
    };
    let swapped = format!("{}{other}{}", &text[..at], &text[at + 1..]);
    let si = parse_quantity(&swapped, quantity).ok()?;
    in_range(si, min, max, Some(quantity)).then(|| {
        format!(
            "M is mega (a million), m is milli (a thousandth): was \"{}\" meant?",
            swapped.trim()
        )
    })
}

fn quantity_problem(
    spec: &KeySpec,
    name: &str,
    quantity: Quantity,
    text: &str,
    error: QuantityError,
    place: Option<Place>,
    source: &str,
) -> Problem {
    let key = spec.path.to_owned();
    let example = format!("{name} = {}", spec.example);
    let found = text.to_owned();
    // The unit alone can be marked where the text stands in the file as it is read.
    let of_unit = |at: usize, unit: &str| {
        let place = place?;
        let start = place.start + 1 + at;
        let end = start + unit.len();
        if source.get(start..end) == Some(unit) {
            Some(Place { start, end })
        } else {
            Some(place)
        }
    };
    match error {
        QuantityError::NoNumber => Problem::NoNumber {
            key,
            found,
            example,
            place,
        },
        QuantityError::NumberForm { written } => Problem::NumberForm {
            key,
            found,
            written,
            place,
        },
        QuantityError::NotFinite => not_finite(spec, format!("\"{found}\""), place),
        QuantityError::NoUnit => Problem::NoUnit {
            key,
            found: format!("\"{found}\""),
            quantity,
            example,
            place,
        },
        QuantityError::UnknownUnit { unit, at, nearest } => {
            let place = of_unit(at, &unit);
            Problem::UnknownUnit {
                key,
                unit,
                quantity,
                nearest,
                place,
            }
        }
        QuantityError::OtherQuantity {
            unit,
            at,
            is,
            nearest,
        } => {
            let place = of_unit(at, &unit);
            Problem::OtherQuantity {
                key,
                unit,
                is,
                quantity,
                nearest,
                place,
            }
        }
    }
}

/// Highest order of a harmonic that is taken.
const MAX_ORDER: u32 = 199;
/// Greatest amplitude of a harmonic, relative to the phase constant.
const MAX_AMPLITUDE: f64 = 100.0;

fn harmonics(pairs: &DeArray<'_>, place: Option<Place>) -> Result<Vec<(u32, f64)>, Problem> {
    let inside = |span: std::ops::Range<usize>| place.map(|_| Place::from(span));
    let bad = |reason: String, place: Option<Place>| Problem::Harmonics {
        reason,
        remedy: format!(
            "write pairs of order (1 to {MAX_ORDER}, each once, order 1 among them) and amplitude, \
             as in `harmonics = [[1, 1.0], [3, 0.08]]`"
        ),
        place,
    };
    let mut out: Vec<(u32, f64)> = Vec::new();
    for item in pairs {
        let at = inside(item.span());
        let pair = item.get_ref().as_array().filter(|pair| pair.len() == 2);
        let Some(pair) = pair else {
            return Err(bad(
                "a harmonic is a pair of order and amplitude".to_owned(),
                at,
            ));
        };
        let order = match pair.first().map(toml::Spanned::get_ref) {
            Some(value @ DeValue::Integer(_)) => plain_number(value)
                .map(|(_, n)| n)
                .filter(|n| (1.0..=f64::from(MAX_ORDER)).contains(n)),
            _ => None,
        };
        let Some(order) = order else {
            return Err(bad(
                format!("the order of a harmonic is a whole number from 1 to {MAX_ORDER}"),
                at,
            ));
        };
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "1 to 199"
        )]
        let order = order as u32;
        let amplitude = pair
            .get(1)
            .and_then(|v| plain_number(v.get_ref()))
            .map(|(_, n)| n);
        let Some(amplitude) = amplitude.filter(|a| a.abs() <= MAX_AMPLITUDE) else {
            return Err(bad(
                format!(
                    "the amplitude of a harmonic is a number from -{MAX_AMPLITUDE} to {MAX_AMPLITUDE}"
                ),
                at,
            ));
        };
        if out.iter().any(|(n, _)| *n == order) {
            return Err(bad(format!("harmonic {order} is given twice"), at));
        }
        out.push((order, amplitude));
    }
    match out.iter().find(|(order, _)| *order == 1) {
        None => Err(bad(
            "harmonic 1, the fundamental, is missing".to_owned(),
            place,
        )),
        Some((_, amplitude)) if *amplitude <= 0.0 => Err(bad(
            "the amplitude of harmonic 1, the fundamental, is not above 0".to_owned(),
            place,
        )),
        Some(_) => Ok(out),
    }
}
