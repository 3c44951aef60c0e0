//! The averaged six-step machine: its periodic steady state at a fixed speed, with the commutation
//! interval in it, in closed form.
//!
//! The dc-machine formula leaves the inductance out and overstates the torque of a six-step
//! machine at speed, up to 2.6 times in published runs. Here a 60° sector has two intervals. While
//! the leaving phase still carries current, all three conduct, and with equal resistance in all
//! legs each phase by itself obeys
//!
//! ```text
//! L di_k/dt = (v_k − mean v) − (e_k − mean e) − R i_k,     e_leaving = E (1 − 2 t/T), the others ±E
//! ```
//!
//! whose right side is linear in time, so that i_k is an exponential and a straight line. Once the
//! leaving current is gone, two phases are in series: 2 L di/dt = v − 2 E − 2 R i. The current with
//! which a sector begins is the one that two sectors (a high leg leaves, a low leg leaves) return
//! to. Three loop equations of the ideal trapezoid; R. Carlson, M. Lajoie-Mazenc, J. C. dos S.
//! Fagundes, *IEEE Trans. Industry Applications* 28(3), 1992 (recalled), gives the same without
//! resistance.
//!
//! A chopper acts by its mean voltage, and what its edges do within one period is laid over that
//! (`chopper.rs`): the ripple, the diode of the floating leg in the off time, and, without a
//! synchronous lower switch, a current that ceases before the period ends. The mean current is
//! then that of such a period, 2 E + 2 R i takes the place of the mean voltage, and the current is
//! back at once after a commutation, since each period begins at zero. Where the ripple just
//! touches zero both ways of reckoning meet.
//!
//! Assumed: ideal trapezoid, star, no advance, many chopping periods in a sector, the same
//! resistance in every leg. It stops being true where the EMF of a phase exceeds half the voltage
//! (the floating leg's diodes then conduct all the time), where commutation fills the sector, and
//! where a sector is hardly longer than a chopping period; [`Regime`] tells.

use std::f64::consts::FRAC_PI_3;

use super::chopper::{Chopper, Ripple};

/// What the averaged machine is made of. SI units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SixStepMachine {
    /// Pole pairs p.
    pub pole_pairs: f64,
    /// Flat top of one phase's EMF per mechanical speed, k_e in V s/rad.
    pub phase_constant_v_s_per_rad: f64,
    /// Of one phase and one switch, R in ohm.
    pub resistance_ohm: f64,
    /// Self minus mutual of one phase, L in H.
    pub inductance_h: f64,
}

/// What feeds it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SixStepSupply {
    /// Voltage across the bridge, U in V.
    pub voltage_v: f64,
    /// Duty δ of the high leg, above 0 to 1.
    pub duty: f64,
    /// Forward drop of a diode, V_d in V.
    pub diode_drop_v: f64,
    /// Whether the lower switch carries the current in the off time instead of its diode.
    pub synchronous: bool,
    /// Time of one chopping period in s; 0 takes the chopper's mean voltage alone.
    pub period_s: f64,
}

/// Whether the averaged model holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Regime {
    /// It does.
    Continuous,
    /// The leaving phase still conducts when the next step comes.
    CommutationFills,
    /// The current ceases within each chopping period, since a diode lets none back.
    Discontinuous,
    /// The current would reverse within the step.
    Ceases,
    /// A phase's EMF exceeds half the voltage: diodes of the floating leg conduct.
    FloatingLegConducts,
}

impl Regime {
    /// Whether the model does not hold at all.
    #[must_use]
    pub const fn is_outside(self) -> bool {
        !matches!(self, Self::Continuous | Self::Discontinuous)
    }

    /// Why figures in this regime are only about right; `None` where they are right.
    #[must_use]
    pub const fn doubt(self) -> Option<&'static str> {
        match self {
            Self::Continuous => None,
            Self::CommutationFills => Some(
                "The leaving phase still conducts when the next step comes: the model no longer holds here; written as a setup it can be simulated.",
            ),
            Self::Discontinuous => Some(
                "The current ceases within each PWM period: speed then hangs on inductance, PWM frequency and load, not on \
                 duty alone. These figures take that in, to some percent; written as a setup it can be simulated.",
            ),
            Self::Ceases => Some(
                "The current would reverse within the step: the model no longer holds here; written as a setup it can be \
                 simulated.",
            ),
            Self::FloatingLegConducts => Some(
                "A phase's EMF exceeds half the voltage: the diodes of the floating leg conduct, which the model leaves out; \
             written as a setup it can be simulated.",
            ),
        }
    }
}

/// The periodic steady state: means over two sectors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SixStepState {
    /// Mean electromagnetic torque in N m.
    pub torque_nm: f64,
    /// Lowest torque in N m.
    pub torque_min_nm: f64,
    /// Highest torque in N m.
    pub torque_max_nm: f64,
    /// Mean current from the supply in A: what turns and heats, over the voltage.
    pub supply_current_a: f64,
    /// RMS current of a phase in A.
    pub phase_rms_a: f64,
    /// Largest current of a phase in A.
    pub phase_peak_a: f64,
    /// Mean of the currents at which the chopping switch turns on and off, in A.
    pub switched_a: f64,
    /// Heat in R of all three phases in W.
    pub resistive_w: f64,
    /// Mean square of the currents through the upper switches themselves, sum of the three, in A².
    pub upper_squares_a2: f64,
    /// The same of the lower ones.
    pub lower_squares_a2: f64,
    /// Heat in the drop of the upper diodes, all three, in W.
    pub upper_diode_w: f64,
    /// The same of the lower ones.
    pub lower_diode_w: f64,
    /// Time for which the leaving phase conducts, mean of both kinds, in s.
    pub commutation_s: f64,
    /// Time of a sector in s.
    pub sector_s: f64,
    /// Whether the model holds.
    pub regime: Regime,
}

/// Integrals over one sector.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    torque_energy_j: f64,
    /// Of the leaving phase, through its diode.
    leaving_charge_as: f64,
    leaving_squares_a2_s: f64,
    /// Of the phase whose leg chops.
    chopped_charge_as: f64,
    chopped_squares_a2_s: f64,
    squares_a2_s: f64,
    lowest_w: f64,
    highest_w: f64,
    peak_a: f64,
    commutation_s: f64,
    end_a: f64,
    ceases: bool,
    fills: bool,
}

/// Voltages of the legs in one kind of sector, seen so that the leaving current is positive.
#[derive(Clone, Copy, Debug)]
struct Kind {
    leaving_v: f64,
    entering_v: f64,
    staying_v: f64,
    /// The chopped leg's current as parts of the entering and the staying current.
    chopped_parts: [f64; 2],
    /// Currents with which leaving and entering begin, over what the averaged machine has.
    more_a: [f64; 2],
    /// Whether the current ceases in each chopping period, so that none lasts into the next.
    ceases: bool,
    /// Time after a commutation until a period begins anew.
    lost_s: f64,
    /// Mean current below which a chopping period cannot keep the two phases.
    least_a: f64,
}

/// (1 − e^−x)/x, 1 at 0.
pub(super) fn phi1(x: f64) -> f64 {
    if x.abs() < 1e-8 {
        1.0 - 0.5 * x
    } else {
        -libm::expm1(-x) / x
    }
}

/// (x − 1 + e^−x)/x², 1/2 at 0.
pub(super) fn phi2(x: f64) -> f64 {
    if x.abs() < 1e-2 {
        // the series, where the difference would lose digits
        0.5 - x * (1.0 / 6.0 - x * (1.0 / 24.0 - x * (1.0 / 120.0 - x / 720.0)))
    } else {
        (x + libm::expm1(-x)) / (x * x)
    }
}

/// Current after `t` of L di/dt = a + b t − R i.
fn current_a(start_a: f64, a: f64, b: f64, resistance: f64, inductance: f64, t: f64) -> f64 {
    let x = resistance * t / inductance;
    start_a * libm::exp(-x) + t / inductance * (a * phi1(x) + b * t * phi2(x))
}

impl SixStepMachine {
    /// The periodic steady state at a mechanical speed above 0, in rad/s.
    #[must_use]
    pub fn at(&self, speed_rad_s: f64, supply: &SixStepSupply) -> SixStepState {
        let flat_v = self.phase_constant_v_s_per_rad * speed_rad_s;
        let sector_s = FRAC_PI_3 / (self.pole_pairs * speed_rad_s);
        let (u, duty) = (supply.voltage_v, supply.duty);
        let chopper = Chopper {
            voltage_v: u,
            duty,
            period_s: supply.period_s,
            diode_drop_v: supply.diode_drop_v,
            synchronous: supply.synchronous,
            flat_v,
            resistance_ohm: self.resistance_ohm,
            inductance_h: self.inductance_h,
        };
        let ripple = chopper.ripple();
        let high_v = if ripple.ceases {
            // what holds the mean current of such a period
            2.0 * (flat_v + self.resistance_ohm * ripple.mean_a)
        } else {
            duty * u - (1.0 - duty) * chopper.off_drop_v()
        };
        let least_a = ripple.least_a;
        // A commutation comes anywhere in a period, and spoils the rest of what conducts in that one, in
        // the mean half of it, as far as the current handed on falls short of a whole period's. Tuned:
        // with none of it the example's motor with 10 uH at a duty of 0.7 is 4.9 % too strong against
        // the simulation, with twice as much the one with 36 uH at 0.5 is 3.6 % too weak.
        let lost_s = 0.5 * ripple.conducts_s;
        // a high leg leaves through its lower diode; a low leg through its upper one, seen from
        // the other rail with all signs turned
        let kinds = [
            Kind {
                leaving_v: -supply.diode_drop_v,
                entering_v: high_v,
                staying_v: 0.0,
                chopped_parts: [1.0, 0.0],
                // its diode lets no current back; meanwhile the leaving one falls half as much faster
                more_a: [-0.5 * ripple.lead_a, ripple.lead_a],
                ceases: ripple.ceases,
                lost_s,
                least_a,
            },
            Kind {
                leaving_v: -supply.diode_drop_v,
                entering_v: u,
                staying_v: u - high_v,
                chopped_parts: [0.0, -1.0],
                // what its diode still carries the other way
                more_a: [0.5 * ripple.against_a, -ripple.against_a],
                ceases: ripple.ceases,
                lost_s,
                least_a,
            },
        ];
        let both = |start_a: f64| {
            let first = self.follow(start_a, flat_v, sector_s, &kinds[0]);
            let second = self.follow(first.end_a, flat_v, sector_s, &kinds[1]);
            second.end_a.max(0.0)
        };
        // from one pair of sectors to the next the difference shrinks at a nearly constant ratio
        // below one: follow it, and jump to where it leads
        let mut start_a = ((high_v - 2.0 * flat_v) / (2.0 * self.resistance_ohm)).max(0.0);
        let limit_a = (u + supply.diode_drop_v) * sector_s / self.inductance_h;
        start_a = start_a.min(limit_a);
        for _ in 0..200 {
            let next = both(start_a);
            let after = both(next);
            let (step, second_step) = (next - start_a, after - next);
            let jumped = if (step - second_step).abs() > 1e-3 * step.abs() {
                (after + second_step * second_step / (step - second_step)).max(0.0)
            } else {
                after
            };
            let settled = (jumped - start_a).abs() <= 1e-12 * (1e-9 + jumped.abs());
            start_a = jumped;
            if settled {
                break;
            }
        }
        let first = self.sector(start_a, flat_v, sector_s, &kinds[0]);
        let second = self.sector(first.end_a, flat_v, sector_s, &kinds[1]);
        let time_s = 2.0 * sector_s;
        let mean = |part: fn(&Sums) -> f64| (part(&first) + part(&second)) / time_s;
        let regime = if first.fills || second.fills {
            Regime::CommutationFills
        } else if first.ceases || second.ceases {
            Regime::Ceases
        } else if flat_v > 0.5 * u + supply.diode_drop_v {
            Regime::FloatingLegConducts
        } else if ripple.ceases {
            Regime::Discontinuous
        } else {
            Regime::Continuous
        };
        let commutation_s = 0.5 * (first.commutation_s + second.commutation_s);
        let Ripple { floating, .. } = ripple;
        // while the leaving phase conducts, the floating leg is not floating
        let floats = 1.0 - commutation_s / sector_s;
        let torque_w = mean(|sums| sums.torque_energy_j) + floats * floating.torque_w;
        let squares = mean(|sums| sums.squares_a2_s)
            + 2.0 * ripple.deviation_a2
            + floats * floating.squares_a2;
        let on_a = duty * mean(|sums| sums.chopped_charge_as) + ripple.more_on_a;
        let off_a = mean(|sums| sums.chopped_charge_as) - on_a;
        let chopped_a2 = mean(|sums| sums.chopped_squares_a2_s) + ripple.deviation_a2;
        let upper_squares_a2 =
            ripple.on_squares_part * chopped_a2 + floats * floating.on_squares_a2;
        let off_a2 = if supply.synchronous {
            0.0
        } else {
            (1.0 - ripple.on_squares_part) * chopped_a2
        };
        let diode_squares_a2 =
            off_a2 + mean(|sums| sums.leaving_squares_a2_s) + floats * floating.diode_squares_a2;
        // a current that leaves is gone in a time that goes with it: the charge goes with its square
        let spread = |mean_a: f64| {
            if mean_a > 0.0 {
                1.0 + ripple.deviation_a2 / (mean_a * mean_a)
            } else {
                1.0
            }
        };
        // a high leg leaves through a lower diode, a low leg through an upper one and back
        // into the supply
        let upper_a = spread(first.end_a) * second.leaving_charge_as / time_s;
        let lower_a = spread(start_a) * first.leaving_charge_as / time_s
            + if supply.synchronous { 0.0 } else { off_a }
            + floats * floating.diode_a;
        let upper_diode_w = supply.diode_drop_v * upper_a;
        let lower_diode_w = supply.diode_drop_v * lower_a;
        let resistive_w = self.resistance_ohm * squares;
        SixStepState {
            torque_nm: torque_w / speed_rad_s,
            torque_min_nm: first.lowest_w.min(second.lowest_w) / speed_rad_s,
            torque_max_nm: first.highest_w.max(second.highest_w) / speed_rad_s,
            supply_current_a: (torque_w + resistive_w + upper_diode_w + lower_diode_w) / u,
            phase_rms_a: (squares / 3.0).sqrt(),
            phase_peak_a: first.peak_a.max(second.peak_a) + ripple.peak_over_mean_a,
            switched_a: 0.5 * torque_w / flat_v + ripple.switched_over_mean_a,
            resistive_w,
            upper_squares_a2,
            lower_squares_a2: squares - upper_squares_a2 - diode_squares_a2,
            upper_diode_w,
            lower_diode_w,
            commutation_s,
            sector_s,
            regime,
        }
    }

    /// The leaving current after `t`, and how fast it changes.
    fn leaving_a(
        &self,
        start_a: f64,
        flat_v: f64,
        sector_s: f64,
        kind: &Kind,
        t: f64,
    ) -> (f64, f64) {
        let mean_v = (kind.leaving_v + kind.entering_v + kind.staying_v) / 3.0;
        let a = kind.leaving_v - mean_v - 2.0 / 3.0 * flat_v;
        let b = 4.0 / 3.0 * flat_v / sector_s;
        let current = current_a(start_a, a, b, self.resistance_ohm, self.inductance_h, t);
        let slope = (a + b * t - self.resistance_ohm * current) / self.inductance_h;
        (current, slope)
    }

    /// The entering current after `t`.
    fn entering_a(&self, flat_v: f64, sector_s: f64, kind: &Kind, t: f64) -> f64 {
        let mean_v = (kind.leaving_v + kind.entering_v + kind.staying_v) / 3.0;
        let a = kind.entering_v - mean_v - 2.0 / 3.0 * flat_v;
        let b = -2.0 / 3.0 * flat_v / sector_s;
        current_a(
            kind.more_a[1],
            a,
            b,
            self.resistance_ohm,
            self.inductance_h,
            t,
        )
    }

    /// The current of the two phases in series, `t` after they took over.
    fn in_series_a(&self, start_a: f64, flat_v: f64, kind: &Kind, t: f64) -> f64 {
        let waits_s = self.waits_s(start_a, kind);
        if t < waits_s {
            return start_a;
        }
        if kind.ceases {
            return kind.least_a;
        }
        let drive_v = kind.entering_v - kind.staying_v - 2.0 * flat_v;
        let current = current_a(
            start_a.max(kind.least_a),
            drive_v,
            0.0,
            2.0 * self.resistance_ohm,
            2.0 * self.inductance_h,
            t - waits_s,
        );
        current.max(kind.least_a)
    }

    /// How long a current that is handed on stays below that of a whole period.
    fn waits_s(&self, start_a: f64, kind: &Kind) -> f64 {
        if start_a < kind.least_a {
            kind.lost_s * (1.0 - start_a / kind.least_a)
        } else {
            0.0
        }
    }

    /// When the leaving current is gone, what is handed on, and how the sector ends.
    fn follow(&self, start_a: f64, flat_v: f64, sector_s: f64, kind: &Kind) -> Course {
        let start_a = (start_a + kind.more_a[0]).max(0.0);
        let gone_s = self.gone_s(start_a, flat_v, sector_s, kind);
        let commutation_s = gone_s.unwrap_or(sector_s);
        let entered_a = self.entering_a(flat_v, sector_s, kind, commutation_s);
        // what a diode spares a leg that enters brings it no higher than the two phases settle, and
        // no period has less than one that begins at zero
        let drive_v = kind.entering_v - kind.staying_v - 2.0 * flat_v;
        let settles_a = 0.5 * drive_v / self.resistance_ohm;
        let handed_a = if kind.more_a[1] > 0.0 {
            entered_a.min(settles_a.max(entered_a - kind.more_a[1]))
        } else {
            entered_a
        };
        let handed_a = if kind.least_a.is_finite() {
            handed_a.max(0.0)
        } else {
            handed_a
        };
        Course {
            commutation_s,
            fills: gone_s.is_none() && start_a > 0.0,
            handed_a,
            end_a: self.in_series_a(handed_a, flat_v, kind, sector_s - commutation_s),
        }
    }

    /// First zero of the leaving current in a sector; `None` where it stays above.
    ///
    /// Where the current falls it bends upwards (i″ = (b − R i′)/L with b ≥ 0), so Newton's steps
    /// from the start come to its first zero from below and never pass it.
    fn gone_s(&self, start_a: f64, flat_v: f64, sector_s: f64, kind: &Kind) -> Option<f64> {
        if start_a <= 0.0 {
            return Some(0.0);
        }
        let mut t = 0.0;
        for _ in 0..100 {
            let (current, slope) = self.leaving_a(start_a, flat_v, sector_s, kind, t);
            if slope >= 0.0 {
                return None;
            }
            let next = t - current / slope;
            if next >= sector_s {
                return None;
            }
            if next - t <= 1e-15 * sector_s {
                break;
            }
            t = next;
        }
        Some(t)
    }

    /// One sector that begins with `start_a` in the leaving and staying phases.
    fn sector(&self, start_a: f64, flat_v: f64, sector_s: f64, kind: &Kind) -> Sums {
        let course = self.follow(start_a, flat_v, sector_s, kind);
        let Course {
            commutation_s,
            handed_a,
            ..
        } = course;
        let mut sums = Sums {
            lowest_w: f64::INFINITY,
            highest_w: f64::NEG_INFINITY,
            commutation_s,
            fills: course.fills,
            ceases: course.end_a < 0.0 || handed_a < 0.0,
            end_a: course.end_a,
            ..Sums::default()
        };
        // EMF of the leaving phase: E at the start, falling by 2E in the sector
        let emf_v = |t: f64| flat_v * (1.0 - 2.0 * t / sector_s);
        let leaving_from_a = (start_a + kind.more_a[0]).max(0.0);
        let during = |t: f64| {
            let out = self.leaving_a(leaving_from_a, flat_v, sector_s, kind, t).0;
            let into = self.entering_a(flat_v, sector_s, kind, t);
            ([out, into, -(out + into)], emf_v(t))
        };
        let after = |t: f64| {
            let i = self.in_series_a(handed_a, flat_v, kind, t);
            ([0.0, i, -i], emf_v(commutation_s + t))
        };
        sums.add(0.0, commutation_s, flat_v, kind, during);
        let rest_s = sector_s - commutation_s;
        let waits_s = self.waits_s(handed_a, kind).min(rest_s);
        // just before it is over
        sums.add(0.0, waits_s, flat_v, kind, |t| {
            after(t.min(waits_s * (1.0 - f64::EPSILON)))
        });
        sums.add(waits_s, rest_s, flat_v, kind, after);
        sums
    }
}

/// How one sector goes.
#[derive(Clone, Copy, Debug)]
struct Course {
    commutation_s: f64,
    fills: bool,
    handed_a: f64,
    end_a: f64,
}

impl Sums {
    /// Adds an interval by Gauss-Legendre quadrature of eight points; the integrands are
    /// products of exponentials and straight lines.
    fn add(
        &mut self,
        from_s: f64,
        to_s: f64,
        flat_v: f64,
        kind: &Kind,
        at: impl Fn(f64) -> ([f64; 3], f64),
    ) {
        if to_s <= from_s {
            return;
        }
        let power_w = |([out, into, stay], leaving_v): ([f64; 3], f64)| {
            leaving_v * out + flat_v * into - flat_v * stay
        };
        for end in [from_s, to_s] {
            let here = at(end);
            let power = power_w(here);
            self.lowest_w = self.lowest_w.min(power);
            self.highest_w = self.highest_w.max(power);
            for current in here.0 {
                self.peak_a = self.peak_a.max(current.abs());
            }
        }
        let half = 0.5 * (to_s - from_s);
        for (node, weight) in GAUSS_8 {
            let here = at(from_s + half * (1.0 + node));
            let ([out, into, stay], _) = here;
            let power = power_w(here);
            self.lowest_w = self.lowest_w.min(power);
            self.highest_w = self.highest_w.max(power);
            let weight = weight * half;
            self.torque_energy_j += weight * power;
            self.squares_a2_s += weight * (out * out + into * into + stay * stay);
            let [b, c] = kind.chopped_parts;
            let chopped = b * into + c * stay;
            self.leaving_charge_as += weight * out;
            self.leaving_squares_a2_s += weight * out * out;
            self.chopped_charge_as += weight * chopped;
            self.chopped_squares_a2_s += weight * chopped * chopped;
        }
    }
}

/// Nodes and weights on [−1, 1]; M. Abramowitz, I. A. Stegun, *Handbook of Mathematical
/// Functions*, table 25.4.
const GAUSS_8: [(f64, f64); 8] = [
    (-0.960_289_856_497_536_2, 0.101_228_536_290_376_26),
    (-0.796_666_477_413_626_7, 0.222_381_034_453_374_48),
    (-0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (-0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_48),
    (0.960_289_856_497_536_2, 0.101_228_536_290_376_26),
];
