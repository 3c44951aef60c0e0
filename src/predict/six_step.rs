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
//! Assumed: ideal trapezoid, star, no advance, the chopper's mean voltage instead of its edges,
//! the switches' resistance in every leg. It stops being true where the current is so small that
//! it ceases within a PWM period, where the EMF of a phase exceeds half the voltage (the floating
//! leg's diodes then conduct), and where commutation fills the sector; [`Regime`] tells.

use std::f64::consts::FRAC_PI_3;

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
}

/// Whether the averaged model holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Regime {
    /// It does.
    Continuous,
    /// The leaving phase still conducts when the next step comes.
    CommutationFills,
    /// The current would reverse: with a chopper it ceases instead.
    Ceases,
    /// A phase's EMF exceeds half the voltage: diodes of the floating leg conduct.
    FloatingLegConducts,
}

impl Regime {
    /// Why figures in this regime are only about right; `None` where they are right.
    #[must_use]
    pub const fn doubt(self) -> Option<&'static str> {
        match self {
            Self::Continuous => None,
            Self::CommutationFills => Some(
                "The leaving phase still conducts when the next step comes: the model no longer holds here; written as a setup it can be simulated.",
            ),
            Self::Ceases => Some(
                "The current ceases within the step or the PWM period: the real motor turns somewhat faster than this; \
             written as a setup it can be simulated.",
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
    /// Mean current from the supply in A.
    pub supply_current_a: f64,
    /// RMS current of a phase in A.
    pub phase_rms_a: f64,
    /// Largest current of a phase in A.
    pub phase_peak_a: f64,
    /// Heat in R of all three phases in W.
    pub resistive_w: f64,
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
    supply_charge_as: f64,
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
    /// Supply current as parts of the leaving, entering and staying currents.
    supply_parts: [f64; 3],
}

/// (1 − e^−x)/x, 1 at 0.
fn phi1(x: f64) -> f64 {
    if x.abs() < 1e-8 {
        1.0 - 0.5 * x
    } else {
        -libm::expm1(-x) / x
    }
}

/// (x − 1 + e^−x)/x², 1/2 at 0.
fn phi2(x: f64) -> f64 {
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
        let off_drop_v = if supply.synchronous {
            0.0
        } else {
            supply.diode_drop_v
        };
        let high_v = duty * u - (1.0 - duty) * off_drop_v;
        // a high leg leaves through its lower diode; a low leg through its upper one, seen from
        // the other rail with all signs turned
        let kinds = [
            Kind {
                leaving_v: -supply.diode_drop_v,
                entering_v: high_v,
                staying_v: 0.0,
                supply_parts: [0.0, duty, 0.0],
            },
            Kind {
                leaving_v: -supply.diode_drop_v,
                entering_v: u,
                staying_v: u - high_v,
                supply_parts: [-1.0, 0.0, -duty],
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
        let squares = mean(|sums| sums.squares_a2_s);
        let regime = if first.fills || second.fills {
            Regime::CommutationFills
        } else if first.ceases || second.ceases {
            Regime::Ceases
        } else if flat_v > 0.5 * u + supply.diode_drop_v {
            Regime::FloatingLegConducts
        } else {
            Regime::Continuous
        };
        SixStepState {
            torque_nm: mean(|sums| sums.torque_energy_j) / speed_rad_s,
            torque_min_nm: first.lowest_w.min(second.lowest_w) / speed_rad_s,
            torque_max_nm: first.highest_w.max(second.highest_w) / speed_rad_s,
            supply_current_a: mean(|sums| sums.supply_charge_as),
            phase_rms_a: (squares / 3.0).sqrt(),
            phase_peak_a: first.peak_a.max(second.peak_a),
            resistive_w: self.resistance_ohm * squares,
            commutation_s: 0.5 * (first.commutation_s + second.commutation_s),
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
        current_a(0.0, a, b, self.resistance_ohm, self.inductance_h, t)
    }

    /// The current of the two phases in series, `t` after they took over.
    fn in_series_a(&self, start_a: f64, flat_v: f64, kind: &Kind, t: f64) -> f64 {
        let drive_v = kind.entering_v - kind.staying_v - 2.0 * flat_v;
        current_a(
            start_a,
            drive_v,
            0.0,
            2.0 * self.resistance_ohm,
            2.0 * self.inductance_h,
            t,
        )
    }

    /// When the leaving current is gone, what is handed on, and how the sector ends.
    fn follow(&self, start_a: f64, flat_v: f64, sector_s: f64, kind: &Kind) -> Course {
        let gone_s = self.gone_s(start_a, flat_v, sector_s, kind);
        let commutation_s = gone_s.unwrap_or(sector_s);
        let handed_a = self.entering_a(flat_v, sector_s, kind, commutation_s);
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
        let during = |t: f64| {
            let out = self.leaving_a(start_a, flat_v, sector_s, kind, t).0;
            let into = self.entering_a(flat_v, sector_s, kind, t);
            ([out, into, -(out + into)], emf_v(t))
        };
        let after = |t: f64| {
            let i = self.in_series_a(handed_a, flat_v, kind, t);
            ([0.0, i, -i], emf_v(commutation_s + t))
        };
        sums.add(0.0, commutation_s, flat_v, kind, during);
        sums.add(0.0, sector_s - commutation_s, flat_v, kind, after);
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
            let [a, b, c] = kind.supply_parts;
            self.supply_charge_as += weight * (a * out + b * into + c * stay);
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
