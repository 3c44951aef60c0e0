//! Conditions and expressions of a lesson: a small typed grammar, and nothing that runs code.
//!
//! ```text
//! condition  = clause { "or" clause }
//! clause     = term { "and" term }
//! term       = "not" term | comparison
//! comparison = sum [ ("<" | ">" | "<=" | ">=" | "=") sum [ "within" number unit ] ]
//! sum        = product { ("+" | "-") product }
//! product    = factor { ("*" | "/") factor }
//! factor     = number [ unit ] | name [ "(" sum { "," sum } ")" ] | "(" condition ")" | "-" factor
//! name       = [ run "." ] figure | [ run "." ] table "." key | "answer"
//! ```
//!
//! A dash between two letters is part of a name (`half-load.efficiency`); a minus has room round it.
//!
//! Values carry what they measure: rpm cannot be compared with amperes. `=` needs `within`,
//! since no figure of a run is a round number. Length and depth are limited.

use super::grammar::Parser;
use super::problem::Complaint;
use super::tokens::{Token, What, tokens};
use super::value::Value;
use crate::setup::{Place, Quantity};

/// Longest condition in bytes.
pub const MOST_CONDITION_BYTES: usize = 600;

/// A condition or an expression that has been read.
#[derive(Clone, Debug, PartialEq)]
pub struct Condition {
    text: String,
    node: Node,
}

/// What a condition wants to know of a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ask<'a> {
    /// A figure, a fact of the machine, a key of the setup, or the reader's answer.
    Fact(&'a str),
    /// Highest value of a recorded channel, in all or between two times in s.
    Max(&'a str, Option<(f64, f64)>),
    /// Lowest value, likewise.
    Min(&'a str, Option<(f64, f64)>),
    /// Value of a recorded channel at a time in s.
    At(&'a str, f64),
}

#[derive(Clone, Debug, PartialEq)]
pub(super) struct Node {
    pub(super) kind: Kind,
    pub(super) place: Place,
}

#[derive(Clone, Debug, PartialEq)]
pub(super) enum Kind {
    Literal(Value),
    Fact(String),
    Call(Function, Vec<Node>),
    Negative(Box<Node>),
    Arithmetic(char, Box<Node>, Box<Node>),
    Compare {
        sign: Sign,
        left: Box<Node>,
        right: Box<Node>,
        within: Option<Tolerance>,
    },
    Not(Box<Node>),
    Both(Box<Node>, Box<Node>),
    Either(Box<Node>, Box<Node>),
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Sign {
    Less,
    Greater,
    AtMost,
    AtLeast,
    Equal,
}

/// How far two values may be apart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tolerance {
    /// A part of the value on the right.
    Share(f64),
    /// A value of the same kind.
    Absolute(Value),
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Function {
    Max,
    Min,
    At,
    Abs,
    /// Turns per second as a speed.
    Rpm,
}

impl Function {
    pub(super) fn named(name: &str) -> Option<Self> {
        Some(match name {
            "max" => Self::Max,
            "min" => Self::Min,
            "at" => Self::At,
            "abs" => Self::Abs,
            "rpm" => Self::Rpm,
            _ => return None,
        })
    }
}

/// What is wrong with a condition, and where in its text.
#[derive(Clone, Debug, PartialEq)]
pub struct ConditionError {
    /// What.
    pub complaint: Complaint,
    /// Bytes of the condition's own text.
    pub place: Place,
}

impl Condition {
    /// Reads a condition.
    ///
    /// # Errors
    /// [`ConditionError`] with the place in `text`.
    pub fn parse(text: &str) -> Result<Self, ConditionError> {
        let whole = Place {
            start: 0,
            end: text.len(),
        };
        if text.len() > MOST_CONDITION_BYTES {
            return Err(ConditionError {
                complaint: Complaint::TooLong {
                    what: "a condition",
                    n_bytes: text.len(),
                    allowed: MOST_CONDITION_BYTES,
                },
                place: whole,
            });
        }
        let node = Parser::new(text)?.whole()?;
        Ok(Self {
            text: text.to_owned(),
            node,
        })
    }

    /// As written.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The parts that must all hold, as written; one where it has no `and` at its top.
    #[must_use]
    pub fn clauses(&self) -> Vec<Self> {
        let mut depth = 0_i32;
        let mut cuts = vec![(0, 0)];
        for token in tokens(&self.text).unwrap_or_default() {
            match token.what {
                What::Sign("(") => depth += 1,
                What::Sign(")") => depth -= 1,
                What::Name(word) if depth == 0 && word == "or" => return vec![self.clone()],
                What::Name(word) if depth == 0 && word == "and" => {
                    cuts.push((token.place.start, token.place.end));
                }
                _ => {}
            }
        }
        let ends = cuts.iter().skip(1).map(|cut| cut.0);
        let ends = ends.chain([self.text.len()]);
        cuts.iter()
            .zip(ends)
            .map(|(cut, end)| Self::parse(self.text[cut.1..end].trim()))
            .collect::<Result<_, _>>()
            .unwrap_or_else(|_| vec![self.clone()])
    }

    /// Every name of a fact or channel in it.
    #[must_use]
    pub fn names(&self) -> Vec<&str> {
        let mut found = Vec::new();
        gather(&self.node, &mut found);
        found
    }

    /// The one name, where the expression is nothing else.
    #[must_use]
    pub fn lone_name(&self) -> Option<&str> {
        match &self.node.kind {
            Kind::Fact(name) => Some(name),
            _ => None,
        }
    }

    /// Its value. `look` answers what it asks.
    ///
    /// # Errors
    /// [`ConditionError`]: a name that is not there, values that do not go together, or a number
    /// that is not finite.
    pub fn value(
        &self,
        look: &mut dyn FnMut(Ask<'_>) -> Result<Value, Complaint>,
    ) -> Result<Value, ConditionError> {
        evaluate(&self.node, look)
    }

    /// Whether it holds.
    ///
    /// # Errors
    /// As [`Condition::value`], and where it is a number and not a condition.
    pub fn holds(
        &self,
        look: &mut dyn FnMut(Ask<'_>) -> Result<Value, Complaint>,
    ) -> Result<bool, ConditionError> {
        truth(&self.node, look)
    }
}

fn gather<'a>(node: &'a Node, found: &mut Vec<&'a str>) {
    match &node.kind {
        Kind::Literal(_) => {}
        Kind::Fact(name) => found.push(name),
        Kind::Call(_, inner) => inner.iter().for_each(|inner| gather(inner, found)),
        Kind::Negative(inner) | Kind::Not(inner) => gather(inner, found),
        Kind::Arithmetic(_, left, right)
        | Kind::Compare { left, right, .. }
        | Kind::Both(left, right)
        | Kind::Either(left, right) => {
            gather(left, found);
            gather(right, found);
        }
    }
}

type Look<'a> = &'a mut dyn FnMut(Ask<'_>) -> Result<Value, Complaint>;

fn evaluate(node: &Node, look: Look<'_>) -> Result<Value, ConditionError> {
    let at = |complaint| ConditionError {
        complaint,
        place: node.place,
    };
    let value = match &node.kind {
        Kind::Literal(value) => *value,
        Kind::Fact(name) => look(Ask::Fact(name)).map_err(at)?,
        Kind::Call(function, inner) => call(*function, inner, node.place, look)?,
        Kind::Negative(inner) => evaluate(inner, look)?.times(-1.0).map_err(at)?,
        Kind::Arithmetic(sign, left, right) => {
            let (left, right) = (evaluate(left, look)?, evaluate(right, look)?);
            match sign {
                '+' => left.plus(right),
                '-' => right.times(-1.0).and_then(|right| left.plus(right)),
                '*' => left.multiplied(right),
                _ => left.divided(right),
            }
            .map_err(at)?
        }
        Kind::Compare {
            sign,
            left,
            right,
            within,
        } => {
            let (left, right) = (evaluate(left, look)?, evaluate(right, look)?);
            Value::Truth(compare(*sign, left, right, *within).map_err(at)?)
        }
        Kind::Not(inner) => Value::Truth(!truth(inner, look)?),
        // both sides always, so that a mistake in the second one is seen
        Kind::Both(left, right) => {
            let (left, right) = (truth(left, look)?, truth(right, look)?);
            Value::Truth(left && right)
        }
        Kind::Either(left, right) => {
            let (left, right) = (truth(left, look)?, truth(right, look)?);
            Value::Truth(left || right)
        }
    };
    if value.number().is_some_and(|number| !number.is_finite()) {
        return Err(at(Complaint::NotFinite));
    }
    Ok(value)
}

fn truth(node: &Node, look: Look<'_>) -> Result<bool, ConditionError> {
    match evaluate(node, look)? {
        Value::Truth(truth) => Ok(truth),
        value => Err(ConditionError {
            complaint: Complaint::NotACondition {
                found: value.what(),
            },
            place: node.place,
        }),
    }
}

fn call(
    function: Function,
    inner: &[Node],
    place: Place,
    look: Look<'_>,
) -> Result<Value, ConditionError> {
    let at = |complaint| ConditionError { complaint, place };
    let wanted = |wanted: &'static str| at(Complaint::Arguments { wanted });
    match function {
        Function::Abs => match inner {
            [one] => Ok(evaluate(one, look)?.magnitude()),
            _ => Err(wanted("abs(figure)")),
        },
        Function::Rpm => match inner {
            [one] => match evaluate(one, look)? {
                Value::Of(hertz, Quantity::Frequency) => {
                    Ok(Value::Of(hertz * std::f64::consts::TAU, Quantity::Speed))
                }
                value => Err(at(Complaint::NotTogether {
                    left: value.what(),
                    right: "a frequency",
                    doing: "be taken where is needed",
                })),
            },
            _ => Err(wanted("rpm(frequency)")),
        },
        Function::At => match inner {
            [channel, time] => {
                let time_s = seconds(time, look)?;
                look(Ask::At(channel_of(channel)?, time_s)).map_err(at)
            }
            _ => Err(wanted("at(channel, time)")),
        },
        Function::Max | Function::Min => {
            let (channel, span) = match inner {
                [channel] => (channel, None),
                [channel, from, to] => (channel, Some((seconds(from, look)?, seconds(to, look)?))),
                _ => return Err(wanted("max(channel) or max(channel, from, to)")),
            };
            let channel = channel_of(channel)?;
            look(if function == Function::Max {
                Ask::Max(channel, span)
            } else {
                Ask::Min(channel, span)
            })
            .map_err(at)
        }
    }
}

fn channel_of(node: &Node) -> Result<&str, ConditionError> {
    match &node.kind {
        Kind::Fact(name) => Ok(name),
        _ => Err(ConditionError {
            complaint: Complaint::Arguments {
                wanted: "the name of a recorded channel, such as i_u_a",
            },
            place: node.place,
        }),
    }
}

fn seconds(node: &Node, look: Look<'_>) -> Result<f64, ConditionError> {
    match evaluate(node, look)? {
        Value::Of(time_s, Quantity::Time) => Ok(time_s),
        value => Err(ConditionError {
            complaint: Complaint::NotTogether {
                left: value.what(),
                right: "a time",
                doing: "be taken where is needed",
            },
            place: node.place,
        }),
    }
}

fn compare(
    sign: Sign,
    left: Value,
    right: Value,
    within: Option<Tolerance>,
) -> Result<bool, Complaint> {
    let (l, r) = left.same_kind(right, "be compared with")?;
    Ok(match sign {
        Sign::Less => l < r,
        Sign::Greater => l > r,
        Sign::AtMost => l <= r,
        Sign::AtLeast => l >= r,
        Sign::Equal => match within {
            Some(tolerance) => near(left, right, tolerance)?,
            None => return Err(Complaint::NoTolerance),
        },
    })
}

/// Whether two values of a kind are near each other.
///
/// # Errors
/// Values of different kinds.
pub(super) fn near(left: Value, right: Value, within: Tolerance) -> Result<bool, Complaint> {
    let (l, r) = left.same_kind(right, "be compared with")?;
    let room = match within {
        Tolerance::Share(share) => share * r.abs(),
        Tolerance::Absolute(value) => value.same_kind(right, "be a tolerance of")?.0,
    };
    Ok((l - r).abs() <= room)
}

/// Reads a tolerance: `2 %`, `5 rpm`.
///
/// # Errors
/// Anything else.
pub fn parse_tolerance(text: &str) -> Result<Tolerance, ConditionError> {
    let bad = || ConditionError {
        complaint: Complaint::Arguments {
            wanted: "a tolerance such as \"2 %\" or \"5 rpm\"",
        },
        place: Place {
            start: 0,
            end: text.len(),
        },
    };
    match tokens(text)?.as_slice() {
        [
            Token {
                what: What::Number { value, percent },
                ..
            },
        ] if value.number().is_some_and(|number| number >= 0.0) => Ok(tolerance(*value, *percent)),
        _ => Err(bad()),
    }
}

pub(super) fn tolerance(value: Value, percent: bool) -> Tolerance {
    match value {
        Value::Number(share) if percent => Tolerance::Share(share),
        value => Tolerance::Absolute(value),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn look(ask: Ask<'_>) -> Result<Value, Complaint> {
        Ok(match ask {
            Ask::Fact("slow.mean_speed_rpm") => {
                Value::Of(1500.0 * std::f64::consts::PI / 30.0, Quantity::Speed)
            }
            Ask::Fact("torque_mean_nm") => Value::Of(0.02, Quantity::Torque),
            Ask::Fact("torque_ripple_pp_nm") => Value::Of(0.004, Quantity::Torque),
            Ask::Fact("in_step") => Value::Truth(true),
            Ask::Max("i_u_a", None) => Value::Of(12.0, Quantity::Current),
            Ask::At("i_u_a", time_s) => Value::Of(1e3 * time_s, Quantity::Current),
            Ask::Fact(name) | Ask::Max(name, _) | Ask::Min(name, _) | Ask::At(name, _) => {
                return Err(Complaint::UnknownFact {
                    name: name.to_owned(),
                    nearest: None,
                });
            }
        })
    }

    fn holds(text: &str) -> Result<bool, Complaint> {
        Condition::parse(text)
            .and_then(|condition| condition.holds(&mut look))
            .map_err(|error| error.complaint)
    }

    #[test]
    fn a_condition_falls_into_what_must_hold_together() {
        let parts = |text: &str| -> Vec<String> {
            let all = Condition::parse(text).unwrap().clauses();
            all.iter().map(|part| part.text().to_owned()).collect()
        };
        let wanted = "torque_mean_nm > 1 mNm and not in_step and max(i_u_a) = 3 A within 1 %";
        assert_eq!(
            parts(wanted),
            [
                "torque_mean_nm > 1 mNm",
                "not in_step",
                "max(i_u_a) = 3 A within 1 %"
            ]
        );
        assert_eq!(parts("in_step or torque_mean_nm > 1 mNm").len(), 1);
    }

    #[test]
    fn figures_are_compared_with_quantities() {
        for (text, wanted) in [
            ("slow.mean_speed_rpm = 1500 rpm within 1 %", true),
            ("slow.mean_speed_rpm = 1520 rpm within 10 rpm", false),
            ("slow.mean_speed_rpm = rpm(100 Hz) / 4 within 0.1 %", true),
            ("torque_ripple_pp_nm / torque_mean_nm < 15 %", false),
            (
                "torque_ripple_pp_nm < 0.15 * torque_mean_nm or in_step",
                true,
            ),
            ("not in_step and torque_mean_nm > 1 mNm", false),
            ("not (in_step and torque_mean_nm > 30 mNm)", true),
            (
                "max(i_u_a) >= 12 A and at(i_u_a, 3 ms) = 3 A within 1 mA",
                true,
            ),
            (
                "torque_mean_nm * slow.mean_speed_rpm = 3.14 W within 1 %",
                true,
            ),
            ("-torque_mean_nm < 0 mNm", true),
        ] {
            assert_eq!(holds(text), Ok(wanted), "{text}");
        }
    }

    #[test]
    fn what_does_not_go_together_is_refused() {
        for text in [
            "slow.mean_speed_rpm < 3 A",
            "slow.mean_speed_rpm = 1500 rpm",
            "torque_mean_nm",
            "torque_mean_nm < ",
            "torque_mean_nm < 5",
            "torque_mean_nm < 5 parsec",
            "torque_mean_nm < 5 mNm extra",
            "ripple < 5 mNm",
            "exec(1)",
            "torque_mean_nm / 0 < 5 mNm",
            "1 / 0 < 2",
            "; rm",
            "",
        ] {
            assert!(holds(text).is_err(), "{text}");
        }
        let deep = "(".repeat(200) + "in_step" + &")".repeat(200);
        assert!(matches!(holds(&deep), Err(Complaint::TooDeep { .. })));
        let minus = "-".repeat(400) + "1 < 2";
        assert!(matches!(holds(&minus), Err(Complaint::TooDeep { .. })));
        let not = "not ".repeat(120) + "in_step";
        assert!(matches!(holds(&not), Err(Complaint::TooDeep { .. })));
        let long = "in_step and ".repeat(100_000) + "in_step";
        assert!(matches!(holds(&long), Err(Complaint::TooLong { .. })));
    }
}
