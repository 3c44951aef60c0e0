//! Why a combination does not do, in the words of the bench.

use crate::analysis::{Unit, shown};
use crate::predict::{Limit, PredictError};

/// Why a combination does not meet the goal.
#[derive(Clone, Debug, PartialEq)]
pub enum Miss {
    /// The propeller has no thrust coefficient.
    NoThrust,
    /// The load drives the motor at that speed, with this torque at the motor's shaft in N m.
    Driven(f64),
    /// A limit is passed, or the part of it that is to stay free.
    Over {
        /// The fullest limit.
        limit: Limit,
        /// Part of it that is to stay free.
        margin: f64,
    },
    /// At a standstill, within the limits of the current, it does not get the load moving. Torques
    /// at the load's shaft in N m.
    NoStart {
        /// What it gives.
        gives_nm: f64,
        /// What the load asks.
        asks_nm: f64,
    },
    /// The largest duty that is allowed does not bring it there.
    Short {
        /// What it reaches, in SI units.
        reached: f64,
        /// What is wanted, in SI units.
        wanted: f64,
        /// How both are shown.
        unit: Unit,
        /// The largest duty.
        duty: f64,
    },
    /// With the largest duty it does not turn the load at all.
    Stands(PredictError),
    /// Even at the least duty it turns faster.
    TooMuch,
    /// The pack is empty too early.
    RunTime {
        /// After so many seconds; `None` where the pack's capacity is not given.
        got_s: Option<f64>,
        /// It has to last so long, in s.
        wanted_s: f64,
    },
}

/// What kind of reason it is: reasons are counted by it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct MissKind(pub &'static str);

impl Miss {
    /// The kind of reason.
    #[must_use]
    pub fn kind(&self) -> MissKind {
        MissKind(match self {
            Self::NoThrust => "no thrust",
            Self::Driven(_) => "driven by its load",
            Self::Over { limit, .. } if limit.used.is_infinite() => "junction runs away",
            Self::Over { limit, .. } => limit.name,
            Self::NoStart { .. } => "does not start",
            Self::Short { .. } => "falls short",
            Self::Stands(_) => "does not turn its load",
            Self::TooMuch => "too fast at the least duty",
            Self::RunTime { .. } => "run time",
        })
    }

    /// How far off it is, as a part of what would do; infinite where no part can be said.
    #[must_use]
    pub fn by(&self) -> f64 {
        match self {
            Self::NoThrust | Self::Driven(_) | Self::Stands(_) | Self::TooMuch => f64::INFINITY,
            Self::Over { limit, margin } => limit.part() / (1.0 - margin) - 1.0,
            Self::NoStart { gives_nm, asks_nm } => 1.0 - gives_nm / asks_nm,
            Self::Short {
                reached, wanted, ..
            } => 1.0 - reached / wanted,
            Self::RunTime { got_s, wanted_s } => {
                got_s.map_or(f64::INFINITY, |got_s| 1.0 - got_s / wanted_s)
            }
        }
    }
}

/// "24.0 A of 18.0 A of motor current".
pub(super) fn used_of(limit: &Limit) -> String {
    let value = |value: f64| shown(value, limit.unit_of_figures(), 3);
    format!(
        "{} {} of {}",
        limit.name,
        value(limit.used),
        value(limit.allowed)
    )
}

impl std::fmt::Display for Miss {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let torque = |nm: f64| shown(nm, Unit::NEWTON_METRE, 3);
        match self {
            Self::NoThrust => write!(f, "its thrust coefficient is 0"),
            Self::Driven(torque_nm) => write!(
                f,
                "the load drives the motor, with {}; nothing is predicted for a machine that brakes",
                torque(-torque_nm)
            ),
            Self::Over { limit, .. } if limit.used.is_infinite() => {
                write!(f, "junction runs away: it heats faster than heat leaves")
            }
            Self::Over { limit, margin } => {
                f.write_str(&used_of(limit))?;
                if limit.part() <= 1.0 {
                    write!(f, ", and {:.0} % is to stay free", 100.0 * margin)?;
                }
                Ok(())
            }
            Self::NoStart { gives_nm, asks_nm } => write!(
                f,
                "does not start: {} at the load of {}",
                torque(*gives_nm),
                torque(*asks_nm)
            ),
            Self::Short {
                reached,
                wanted,
                unit,
                duty,
            } => {
                // as many digits as keep the two apart
                let pair = |digits| [*reached, *wanted].map(|value| shown(value, *unit, digits));
                let [reached, wanted] = (3..7)
                    .map(pair)
                    .find(|[reached, wanted]| reached != wanted)
                    .unwrap_or_else(|| pair(7));
                write!(f, "reaches {reached} of {wanted}")?;
                if *duty < 1.0 {
                    write!(f, " at duty {duty:.2}, the most that is allowed")
                } else {
                    write!(f, " fully on")
                }
            }
            Self::Stands(PredictError::Stalls {
                motor_nm, load_nm, ..
            }) => write!(
                f,
                "does not turn its load: {} of {} at the motor's shaft",
                torque(*motor_nm),
                torque(*load_nm)
            ),
            Self::Stands(PredictError::Overrun { .. }) => {
                write!(f, "is driven by its load before it is that fast")
            }
            Self::TooMuch => write!(f, "turns faster than that even at the least duty"),
            Self::RunTime {
                got_s: Some(got_s),
                wanted_s,
            } => write!(
                f,
                "runs {} min of {} min",
                shown(got_s / 60.0, Unit::NUMBER, 4),
                shown(wanted_s / 60.0, Unit::NUMBER, 4)
            ),
            Self::RunTime { got_s: None, .. } => {
                write!(f, "its run time is not known: the pack says no capacity")
            }
        }
    }
}
