//! Operating points: where the motor's torque meets what it has to turn.

use std::f64::consts::TAU;
use std::fmt;

use super::build::Build;
use super::heat::{Heat, Side, output_stage};
use super::limits::{Limit, limits};
use super::reach::Reach;
use super::six_step::{Regime, SixStepMachine, SixStepState, SixStepSupply};
use crate::analysis::{Unit, shown};

/// One operating point. SI units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Of the motor in rad/s.
    pub speed_rad_s: f64,
    /// Across the bridge in V.
    pub bridge_v: f64,
    /// Mean electromagnetic torque in N m.
    pub torque_nm: f64,
    /// Ripple of that torque, peak to peak, from commutation alone, in N m.
    pub ripple_pp_nm: f64,
    /// Torque on the shaft, behind the motor's own losses, in N m.
    pub shaft_nm: f64,
    /// Mean current of the two conducting phases, torque over K_t, in A.
    pub motor_current_a: f64,
    /// Mean of the currents at which the chopping switch turns on and off, in A.
    pub switched_a: f64,
    /// RMS current of a phase in A.
    pub phase_rms_a: f64,
    /// Largest current of a phase in A.
    pub phase_peak_a: f64,
    /// RMS current of a leg's two switches together, without their diodes, in A.
    pub switches_rms_a: f64,
    /// Mean current of the pack in A.
    pub pack_current_a: f64,
    /// Power into the controller in W.
    pub input_w: f64,
    /// Heat in the windings in W.
    pub copper_w: f64,
    /// Iron, bearings and air of the motor alone in W.
    pub no_load_loss_w: f64,
    /// Heat of the controller.
    pub heat: Heat,
    /// Power on the motor's shaft in W.
    pub shaft_w: f64,
    /// Shaft power over input power; 0 without load.
    pub efficiency: f64,
    /// Electrical turns per second in Hz.
    pub electrical_frequency_hz: f64,
    /// Part of a step for which the leaving phase still conducts.
    pub commutation_part: f64,
    /// Whether the averaged model holds here, and how the current goes.
    pub regime: Regime,
}

/// What a build will do.
#[derive(Clone, Debug, PartialEq)]
pub struct Prediction {
    /// With nothing on the shaft.
    pub no_load: Point,
    /// With its load.
    pub loaded: Point,
    /// With its load by the dc formula, without inductance.
    pub without_inductance: Point,
    /// Time until the usable charge is gone, in s.
    pub run_time_s: Option<f64>,
    /// Time from rest to nine tenths of the loaded speed in s, with an assumed rotor; `None` where
    /// nothing but the rotor has to be sped up.
    pub time_to_speed_s: Option<f64>,
    /// What is used of each limit that was given, the fullest first.
    pub limits: Vec<Limit>,
    /// Where and how fast a vehicle can go; `None` without one.
    pub reach: Option<Reach>,
    /// Whether the inductance was estimated.
    pub inductance_estimated: bool,
}

impl Prediction {
    /// What the speeds and the time cannot be taken for, in words: a vehicle that does not start, and
    /// a rotor that was assumed.
    #[must_use]
    pub fn moving_words(&self, build: &Build) -> Vec<String> {
        /// Part of the inertia from which an assumed rotor is worth a word.
        const SHARE: f64 = 0.1;
        let mut found = Vec::new();
        if self.reach.is_some_and(|reach| !reach.standstill.starts()) {
            found.push(
                "It does not start on its grade within the limits of current: its speeds and its time to speed are those \
                 without such limits, of one that is pushed off."
                    .to_owned(),
            );
        }
        let gear = &build.gear;
        let rotor_kg_m2 = build.motor.assumed_rotor_kg_m2();
        let load_kg_m2 =
            build.loads.total_inertia_kg_m2() / (gear.ratio * gear.ratio * gear.efficiency);
        let share = rotor_kg_m2 / (rotor_kg_m2 + load_kg_m2);
        if self.time_to_speed_s.is_some() && share > SHARE {
            found.push(format!(
                "Of what is sped up, {:.0} % is the motor's rotor, whose inertia is assumed: the time to speed is as \
                 uncertain.",
                100.0 * share
            ));
        }
        found
    }
}

/// Why there is no operating point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PredictError {
    /// The load holds the motor.
    Stalls {
        /// Torque that the motor can give at a standstill, at its shaft, in N m.
        motor_nm: f64,
        /// Torque that the load asks of it in N m.
        load_nm: f64,
        /// Current that flows then in A.
        current_a: f64,
    },
    /// The load drives the motor faster than the pack can.
    Overrun {
        /// Torque of the load on the motor's shaft, negative, in N m.
        load_nm: f64,
    },
}

impl fmt::Display for PredictError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Stalls { motor_nm, .. } if *motor_nm <= 0.0 => write!(
                f,
                "the motor does not turn even itself: at this voltage and duty it gives less torque than its own \
                 friction takes. More voltage or duty, or less resistance on the way, would let it turn; is a unit wrong?"
            ),
            Self::Stalls {
                motor_nm,
                load_nm,
                current_a,
            } => write!(
                f,
                "the load holds the motor: it asks {} of a shaft that gives {} at a standstill, while {} flow and heat \
                 it. A larger gear ratio, more voltage or duty, a lower Kv or less load would let it turn",
                shown(*load_nm, Unit::NEWTON_METRE, 3),
                shown(*motor_nm, Unit::NEWTON_METRE, 3),
                shown(*current_a, Unit::AMPERE, 3)
            ),
            Self::Overrun { load_nm } => write!(
                f,
                "the load drives the motor, with {}: what it brakes would charge the pack without any control, and \
                 nothing is predicted for that; `wyebench run` simulates it",
                shown(-load_nm, Unit::NEWTON_METRE, 3)
            ),
        }
    }
}

impl std::error::Error for PredictError {}

/// Root of a function that changes sign between `low` and `high`, by the Illinois variant of the
/// false position (M. Dowell, P. Jarratt, *BIT* 11, 1971; from memory).
pub(super) fn root(mut low: f64, mut high: f64, mut at: impl FnMut(f64) -> f64) -> f64 {
    let (mut at_low, mut at_high) = (at(low), at(high));
    let mut middle = low;
    let mut before = high;
    for _ in 0..100 {
        let guess = (low * at_high - high * at_low) / (at_high - at_low);
        middle = if guess > low && guess < high {
            guess
        } else {
            f64::midpoint(low, high)
        };
        let here = at(middle);
        let step = (middle - before).abs();
        before = middle;
        if here == 0.0 || step.min(high - low) <= 1e-11 * high.abs() {
            break;
        }
        if (here > 0.0) == (at_low > 0.0) {
            (low, at_low) = (middle, here);
            at_high *= 0.5;
        } else {
            (high, at_high) = (middle, here);
            at_low *= 0.5;
        }
    }
    middle
}

/// Root of a nearly straight function from two guesses; `None` where the steps do not close in.
fn secant(mut before: f64, mut now: f64, at: &impl Fn(f64) -> f64) -> Option<f64> {
    let (mut at_before, mut at_now) = (at(before), at(now));
    let limit = 2.0 * before.abs();
    for _ in 0..12 {
        let next = now - at_now * (now - before) / (at_now - at_before);
        if !(next > 0.0 && next < limit) {
            return None;
        }
        if (next - now).abs() <= 1e-12 * limit {
            return Some(next);
        }
        (before, at_before) = (now, at_now);
        now = next;
        at_now = at(now);
        if at_now == at_before {
            return None;
        }
    }
    None
}

/// A build with one factor for its on-resistance, ready to be asked.
pub(super) struct Bench<'a> {
    build: &'a Build,
    machine: SixStepMachine,
    /// Of the chopper; 0 takes its mean voltage.
    period_s: f64,
}

/// What a bench says at a speed. SI units.
#[derive(Clone, Copy, Debug)]
pub(super) struct Standing {
    pub(super) state: SixStepState,
    heat: Heat,
    /// Power into the controller: what turns, heats the windings and heats the controller.
    input_w: f64,
    copper_w: f64,
    bridge_v: f64,
}

impl<'a> Bench<'a> {
    pub(super) fn new(build: &'a Build, resistance_factor: f64, with_inductance: bool) -> Self {
        let (motor, controller) = (&build.motor, &build.controller);
        let on_ohm =
            resistance_factor * controller.on_resistance_ohm / f64::from(controller.parallel);
        // of two legs one chops; where its diode takes the off time, that has a drop instead
        let switches = if controller.synchronous {
            1.0
        } else {
            0.5 * (1.0 + controller.duty)
        };
        let inductance_h = if with_inductance {
            motor.inductance_h()
        } else {
            // a nanosecond
            1e-9 * motor.line_resistance_ohm
        };
        Self {
            build,
            machine: SixStepMachine {
                pole_pairs: f64::from(motor.pole_pairs),
                phase_constant_v_s_per_rad: 0.5 / motor.kv_rad_per_v_s,
                resistance_ohm: 0.5 * motor.line_resistance_ohm + switches * on_ohm,
                inductance_h: 0.5 * inductance_h,
            },
            // without inductance the current would have no mean to speak of
            period_s: if with_inductance {
                1.0 / controller.pwm_frequency_hz
            } else {
                0.0
            },
        }
    }

    /// State, heat, power and bridge voltage at a speed, with the pack's sag under all of it.
    pub(super) fn at(&self, speed_rad_s: f64) -> Standing {
        let pack = &self.build.pack;
        let voltage_v = if pack.resistance_ohm > 0.0 {
            let left_v = |voltage_v: f64| {
                let current_a = self.fed(speed_rad_s, voltage_v).input_w / voltage_v;
                pack.voltage_v - pack.resistance_ohm * current_a - voltage_v
            };
            // what generates lifts the bridge above the pack at rest; below half of it there is
            // more current, and no more power
            let most_v = 2.0 * pack.voltage_v;
            secant(pack.voltage_v, 0.98 * pack.voltage_v, &left_v)
                .unwrap_or_else(|| root(1e-3 * pack.voltage_v, most_v, left_v))
        } else {
            pack.voltage_v
        };
        self.fed(speed_rad_s, voltage_v)
    }

    /// The same at a given voltage of the bridge.
    fn fed(&self, speed_rad_s: f64, bridge_v: f64) -> Standing {
        let controller = &self.build.controller;
        let state = self.machine.at(
            speed_rad_s,
            &SixStepSupply {
                voltage_v: bridge_v,
                duty: controller.duty,
                diode_drop_v: controller.diode_drop_v,
                synchronous: controller.synchronous,
                period_s: self.period_s,
            },
        );
        let side = |squares_a2, diode_w| Side {
            squares_a2,
            diode_w,
        };
        let sides = [
            side(state.upper_squares_a2, state.upper_diode_w),
            side(state.lower_squares_a2, state.lower_diode_w),
        ];
        let heat = output_stage(controller, bridge_v, state.switched_a, sides);
        let copper_w =
            1.5 * self.build.motor.line_resistance_ohm * state.phase_rms_a * state.phase_rms_a;
        Standing {
            bridge_v,
            input_w: state.torque_nm * speed_rad_s + copper_w + heat.total_w(),
            copper_w,
            state,
            heat,
        }
    }

    /// Torque of the load on the motor's shaft in N m.
    pub(super) fn load_nm(&self, speed_rad_s: f64) -> f64 {
        self.build.load_nm(speed_rad_s)
    }

    /// Speed that the voltage gives an ideal motor, in rad/s.
    fn ideal_rad_s(&self) -> f64 {
        self.build.controller.duty * self.build.pack.voltage_v * self.build.motor.kv_rad_per_v_s
    }

    /// Speed at which the torque is used up.
    pub(super) fn balance(&self, load: &impl Fn(f64) -> f64) -> Result<f64, PredictError> {
        let own_nm = self.build.motor.no_load_torque_nm();
        let left_nm =
            |speed_rad_s: f64| self.at(speed_rad_s).state.torque_nm - own_nm - load(speed_rad_s);
        let ideal_rad_s = self.ideal_rad_s();
        // a diode that lets no current back lets a motor run up to the whole voltage
        let most_rad_s = if self.build.controller.synchronous {
            ideal_rad_s
        } else {
            ideal_rad_s / self.build.controller.duty
        };
        let (slow, fast) = (1e-3 * ideal_rad_s, 1.2 * most_rad_s);
        if left_nm(slow) <= 0.0 {
            let state = self.at(slow).state;
            return Err(PredictError::Stalls {
                motor_nm: state.torque_nm - own_nm,
                load_nm: load(slow),
                current_a: state.torque_nm * self.build.motor.kv_rad_per_v_s,
            });
        }
        if left_nm(fast) >= 0.0 || load(0.6 * ideal_rad_s) + own_nm < 0.0 {
            return Err(PredictError::Overrun {
                load_nm: load(fast),
            });
        }
        Ok(root(slow, fast, left_nm))
    }

    pub(super) fn point(&self, speed_rad_s: f64) -> Point {
        let motor = &self.build.motor;
        let Standing {
            state,
            heat,
            input_w,
            copper_w,
            bridge_v,
        } = self.at(speed_rad_s);
        let own_nm = motor.no_load_torque_nm();
        let shaft_nm = state.torque_nm - own_nm;
        let shaft_w = shaft_nm * speed_rad_s;
        Point {
            speed_rad_s,
            bridge_v,
            torque_nm: state.torque_nm,
            ripple_pp_nm: state.torque_max_nm - state.torque_min_nm,
            shaft_nm,
            motor_current_a: state.torque_nm * motor.kv_rad_per_v_s,
            switched_a: state.switched_a,
            phase_rms_a: state.phase_rms_a,
            phase_peak_a: state.phase_peak_a,
            pack_current_a: input_w / bridge_v,
            input_w,
            copper_w,
            switches_rms_a: ((state.upper_squares_a2 + state.lower_squares_a2) / 3.0).sqrt(),
            no_load_loss_w: own_nm * speed_rad_s,
            heat,
            shaft_w,
            // without load only rounding is left on the shaft
            efficiency: if shaft_w > 1e-6 * input_w {
                shaft_w / input_w
            } else {
                0.0
            },
            electrical_frequency_hz: f64::from(motor.pole_pairs) * speed_rad_s / TAU,
            commutation_part: state.commutation_s / state.sector_s,
            regime: state.regime,
        }
    }
}

/// The factor of the on-resistance by the junction's temperature, which follows from the point, which
/// follows from the factor: asked in turn until they agree, each guess by a secant through the last two.
#[derive(Debug, Default)]
pub(super) struct Junction {
    /// The last guess, and by how much what came of it was more.
    before: Option<(f64, f64)>,
    n: u32,
}

impl Junction {
    /// Times that they are asked at most.
    const TURNS: u32 = 12;
    /// Difference of the factors at which they agree.
    const SETTLED: f64 = 1e-9;

    /// The next guess after a guess and what came of it; `None` where they agree.
    pub(super) fn next(&mut self, guess: f64, got: f64) -> Option<f64> {
        let more = got - guess;
        self.n += 1;
        if more.abs() < Self::SETTLED || self.n == Self::TURNS {
            return None;
        }
        let by_secant = self.before.and_then(|(guess_before, more_before)| {
            let next = guess - more * (guess - guess_before) / (more - more_before);
            // never farther than as far again
            ((next - got).abs() <= more.abs()).then_some(next)
        });
        self.before = Some((guess, more));
        Some(by_secant.unwrap_or(got))
    }
}

/// The loaded point, and the factor of the on-resistance there: it is that of the junction's
/// temperature, which follows from the point.
///
/// # Errors
/// [`PredictError`].
pub(super) fn settled(build: &Build) -> Result<(Point, f64), PredictError> {
    let mut factor = 1.0;
    let mut junction = Junction::default();
    loop {
        let bench = Bench::new(build, factor, true);
        let point = bench.point(bench.balance(&|speed| bench.load_nm(speed))?);
        match junction.next(factor, point.heat.resistance_factor()) {
            Some(next) => factor = next,
            None => return Ok((point, factor)),
        }
    }
}

/// Predicts what a build will do.
///
/// # Errors
/// [`PredictError`] where the motor cannot turn its load, or is driven by it.
pub fn predict(build: &Build) -> Result<Prediction, PredictError> {
    let nothing = |_: f64| 0.0;
    let (loaded, factor) = settled(build)?;
    let bench = Bench::new(build, factor, true);
    let no_load = bench.point(bench.balance(&nothing)?);
    let plain = Bench::new(build, factor, false);
    let without_inductance = plain.point(plain.balance(&|speed| plain.load_nm(speed))?);
    let run_time_s = build
        .pack
        .capacity_as
        .map(|charge_as| build.pack.usable * charge_as / loaded.pack_current_a);
    Ok(Prediction {
        no_load,
        loaded,
        without_inductance,
        run_time_s,
        time_to_speed_s: time_to_speed_s(&bench, loaded.speed_rad_s),
        limits: limits(build, &loaded),
        reach: Reach::of(build),
        inductance_estimated: build.motor.line_inductance_h.is_none(),
    })
}

/// Time from rest to nine tenths of a speed, by Simpson's rule over inertia / torque left.
fn time_to_speed_s(bench: &Bench<'_>, speed_rad_s: f64) -> Option<f64> {
    const PARTS: u32 = 40;
    let gear = &bench.build.gear;
    let load_kg_m2 =
        bench.build.loads.total_inertia_kg_m2() / (gear.ratio * gear.ratio * gear.efficiency);
    if load_kg_m2 == 0.0 {
        return None;
    }
    let inertia_kg_m2 = load_kg_m2 + bench.build.motor.assumed_rotor_kg_m2();
    let end = 0.9 * speed_rad_s;
    let start = 1e-3 * speed_rad_s;
    let step = (end - start) / f64::from(PARTS);
    let per_torque = |n: u32| {
        let speed = start + step * f64::from(n);
        let left_nm = bench.at(speed).state.torque_nm
            - bench.build.motor.no_load_torque_nm()
            - bench.load_nm(speed);
        1.0 / left_nm
    };
    let mut sum = per_torque(0) + per_torque(PARTS);
    for n in 1..PARTS {
        sum += if n % 2 == 1 { 4.0 } else { 2.0 } * per_torque(n);
    }
    Some(inertia_kg_m2 * (sum * step / 3.0 + start * per_torque(0)))
}
