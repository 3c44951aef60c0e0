//! One chopping period of two phases in series: ripple, the current that ceases, and the diode of
//! the floating leg.
//!
//! The upper switch of one leg (a) is on for δ T; the lower one of another (b) all the time; the
//! third leg (c) floats. In the off time a's current goes on through its lower diode, or through
//! its lower switch where that is driven too:
//!
//! ```text
//! current of a     ╱╲            the current rises by U − 2 E, falls by V_d + 2 E, and stays
//!                 ╱   ╲          at zero where it gets there: a diode lets none back
//!             ───╱      ╲────
//!                on  off  none
//! ```
//!
//! That is the buck converter of the textbooks in discontinuous conduction, with 2 E as its output
//! (N. Mohan, T. M. Undeland, W. P. Robbins, *Power Electronics*, chapter on dc-dc converters; R.
//! W. Erickson, D. Maksimović, *Fundamentals of Power Electronics*, chapter 5; both from memory),
//! here with resistance: every piece is an exponential.
//!
//! In the off time the terminals of a and b lie near the negative rail, and the EMF of c, where it
//! is negative, pulls its terminal below that: its lower diode conducts, through b, beside a. With
//! all resistances equal the three legs follow their own equations as in `six_step.rs`, with
//! e_c held still for the period. Since that current is back at zero once a period, the mean
//! voltage on a and b in series is not changed by it; it brakes in continuous conduction, and takes
//! a part of the energy that the inductance gives back.
//!
//! Assumed: the EMF does not change within a period, and a period finds its steady state at once.

use super::six_step::{phi1, phi2};

/// A chopper with what it feeds. SI units.
#[derive(Clone, Copy, Debug)]
pub(super) struct Chopper {
    /// Across the bridge, U.
    pub(super) voltage_v: f64,
    /// δ.
    pub(super) duty: f64,
    /// T; 0 for none.
    pub(super) period_s: f64,
    /// V_d.
    pub(super) diode_drop_v: f64,
    /// Whether the lower switch takes the current in the off time.
    pub(super) synchronous: bool,
    /// Flat top of one phase's EMF, E.
    pub(super) flat_v: f64,
    /// Of one phase and one switch.
    pub(super) resistance_ohm: f64,
    /// Of one phase.
    pub(super) inductance_h: f64,
}

/// What the chopper's edges lay over its mean, with two phases in series.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ripple {
    /// Whether the current ceases in each period.
    pub(super) ceases: bool,
    /// Mean current where it ceases, in A.
    pub(super) mean_a: f64,
    /// Mean current of a period that begins at zero: no later one has less, in A. Without a diode
    /// that lets none back there is no such bound.
    pub(super) least_a: f64,
    /// Time for which a period that begins at zero conducts, in s.
    pub(super) conducts_s: f64,
    /// What of a's mean current comes from the supply besides δ of it, in A.
    pub(super) more_on_a: f64,
    /// Mean square of the deviation of one phase's current from its mean, in A².
    pub(super) deviation_a2: f64,
    /// Part of the mean square of a's current that flows in the on time.
    pub(super) on_squares_part: f64,
    /// How far the highest current of a phase lies above the mean, in A.
    pub(super) peak_over_mean_a: f64,
    /// How far the mean of the currents at turning on and off lies above the mean, in A.
    pub(super) switched_over_mean_a: f64,
    /// Mean lead of the current of a chopped leg that enters, in A: its diode lets none back while
    /// it is still near zero.
    pub(super) lead_a: f64,
    /// Mean current of the floating leg's diode as the leg's low time begins, in A.
    pub(super) against_a: f64,
    /// What the floating leg's diode adds, mean over the sectors.
    pub(super) floating: Floating,
}

/// What the floating leg's diode changes.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Floating {
    /// Power into the EMFs in W.
    pub(super) torque_w: f64,
    /// Mean squares of the three phases in A².
    pub(super) squares_a2: f64,
    /// Of them through the upper switch, and through diodes.
    pub(super) on_squares_a2: f64,
    pub(super) diode_squares_a2: f64,
    /// Mean current of lower diodes in A.
    pub(super) diode_a: f64,
}

/// Integrals over one period.
#[derive(Clone, Copy, Debug, Default)]
struct Pass {
    /// Of a's current in the on time and in the off time, and of c's.
    on_as: f64,
    off_as: f64,
    floating_as: f64,
    /// Time for which a conducts.
    conducts_s: f64,
    /// Of a's squared current in the on time, of a's in all, and of all three.
    on_a2_s: f64,
    a_a2_s: f64,
    c_a2_s: f64,
    squares_a2_s: f64,
    /// Currents of a and c at the end; a's when it turned off.
    end_a: f64,
    end_floating_a: f64,
    off_a: f64,
    /// Largest current of b.
    peak_a: f64,
}

/// (x − 2 (1 − e^−x) + (1 − e^−2x)/2)/x³, 1/3 at 0: the mean of ((1 − e^−s)/x)² for s from 0 to x.
fn phi_squared(x: f64) -> f64 {
    if x.abs() < 0.1 {
        // the series Σ (−1)^n (2^n − 2)/n! s^n of (1 − e^−s)², where the difference loses digits
        1.0 / 3.0
            - x * (1.0 / 4.0
                - x * (7.0 / 60.0
                    - x * (1.0 / 24.0
                        - x * (31.0 / 2520.0 - x * (1.0 / 320.0 - x * 127.0 / 181_440.0)))))
    } else {
        (x + 2.0 * libm::expm1(-x) - 0.5 * libm::expm1(-2.0 * x)) / (x * x * x)
    }
}

/// 1/n! from n = 2 on, as far as arguments up to a fifth want them.
const OVER_FACTORIALS: [f64; 10] = [
    1.0 / 2.0,
    1.0 / 6.0,
    1.0 / 24.0,
    1.0 / 120.0,
    1.0 / 720.0,
    1.0 / 5_040.0,
    1.0 / 40_320.0,
    1.0 / 362_880.0,
    1.0 / 3_628_800.0,
    1.0 / 39_916_800.0,
];

/// What all currents of one stretch have in common, x = R t/L of it.
#[derive(Clone, Copy, Debug)]
struct Stretch {
    time_s: f64,
    x: f64,
    first: f64,
    second: f64,
    first_of_double: f64,
    squared: f64,
}

impl Stretch {
    fn new(time_s: f64, x: f64) -> Self {
        let (first, second, first_of_double) = if x.abs() < 0.1 {
            // the series of φ₂ = (e^−x − 1 + x)/x², and φ₁ = 1 − x φ₂
            let second = |x: f64| {
                let from_last = OVER_FACTORIALS.iter().rev();
                from_last.fold(0.0, |sum, factor| factor - x * sum)
            };
            (
                1.0 - x * second(x),
                second(x),
                1.0 - 2.0 * x * second(2.0 * x),
            )
        } else {
            (phi1(x), phi2(x), phi1(2.0 * x))
        };
        Self {
            time_s,
            x,
            first,
            second,
            first_of_double,
            squared: phi_squared(x),
        }
    }

    /// Of a current that obeys L di/dt = f − R i over it: its end, its integral, that of its square.
    fn course(&self, start_a: f64, per_s: f64) -> [f64; 3] {
        let rise_a = per_s * self.time_s;
        let end_a = start_a * (1.0 - self.x * self.first) + rise_a * self.first;
        let charge_as = self.time_s * (start_a * self.first + rise_a * self.second);
        let squares_a2_s = self.time_s
            * (start_a * start_a * self.first_of_double
                + start_a * rise_a * self.first * self.first
                + rise_a * rise_a * self.squared);
        [end_a, charge_as, squares_a2_s]
    }
}

/// The two parts of a period: a's upper switch on, and off.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Leg {
    On,
    Off,
}

impl Chopper {
    /// Voltage that a's off path takes.
    pub(super) const fn off_drop_v(&self) -> f64 {
        if self.synchronous {
            0.0
        } else {
            self.diode_drop_v
        }
    }

    /// The steady ripple, the floating leg's part in it averaged over the sectors.
    pub(super) fn ripple(&self) -> Ripple {
        let mut found = Ripple {
            ceases: false,
            mean_a: 0.0,
            least_a: f64::NEG_INFINITY,
            conducts_s: 0.0,
            more_on_a: 0.0,
            deviation_a2: 0.0,
            on_squares_part: self.duty,
            peak_over_mean_a: 0.0,
            switched_over_mean_a: 0.0,
            lead_a: 0.0,
            against_a: 0.0,
            floating: Floating::default(),
        };
        if self.period_s == 0.0 || self.duty >= 1.0 {
            return found;
        }
        let per_s = 1.0 / self.period_s;
        let from_zero = self.pass(0.0, 0.0, None);
        let (start_a, plain) = self.settled(None);
        let mean_a = (plain.on_as + plain.off_as) * per_s;
        found.more_on_a = plain.on_as * per_s - self.duty * mean_a;
        found.deviation_a2 = (plain.a_a2_s * per_s - mean_a * mean_a).max(0.0);
        found.peak_over_mean_a = plain.peak_a - mean_a;
        found.switched_over_mean_a = 0.5 * (start_a + plain.off_a) - mean_a;
        if plain.a_a2_s > 0.0 {
            found.on_squares_part = plain.on_a2_s / plain.a_a2_s;
        }
        if !self.synchronous {
            found.conducts_s = from_zero.conducts_s;
            found.least_a = (from_zero.on_as + from_zero.off_as) * per_s;
            found.ceases = from_zero.end_a == 0.0;
        }
        if found.ceases {
            found.mean_a = mean_a;
        }
        found.floating = self.floating(&plain);
        if self.floats_below_v() > -self.flat_v {
            let (_, pass) = self.settled(Some(-self.flat_v));
            found.against_a = pass.floating_as * per_s;
        }
        if !self.synchronous {
            found.lead_a = self.lead_a();
        }
        found
    }

    /// EMF of the floating leg below which its diode conducts in the off time.
    fn floats_below_v(&self) -> f64 {
        0.5 * self.off_drop_v() - self.diode_drop_v
    }

    /// How much more current, in the mean over all places of the period, a leg has that begins to
    /// chop at zero current while another still leaves through its lower diode.
    ///
    /// In the on time the current rises by s₁ = (2 U + V_d − 2 E)/3L, in the off time it would fall
    /// by s₀ = (V_d + 2 E)/3L, but not below zero. A leg that begins in the off time stays at zero
    /// until that ends, and one that begins late in the on time is at zero again before the next. The
    /// mean of what is not lost, over a place evenly spread in the period, is
    /// ½ s₀ (1 − δ) T ((1 − δ) + ρ δ) with ρ = s₀ (1 − δ)/(s₁ δ), at most 1.
    fn lead_a(&self) -> f64 {
        let per_h = 1.0 / (3.0 * self.inductance_h);
        let rises = (2.0 * self.voltage_v + self.diode_drop_v - 2.0 * self.flat_v) * per_h;
        let falls = (self.diode_drop_v + 2.0 * self.flat_v) * per_h;
        let off = 1.0 - self.duty;
        let part = (falls * off / (rises * self.duty)).clamp(0.0, 1.0);
        0.5 * falls * off * self.period_s * (off + part * self.duty)
    }

    /// What the diode of the floating leg changes, mean over all places of its EMF: a straight line
    /// between E and −E, of which it conducts below (V_off/2 − V_d).
    fn floating(&self, plain: &Pass) -> Floating {
        /// Nodes and weights on [0, 1]; M. Abramowitz, I. A. Stegun, *Handbook of Mathematical
        /// Functions*, table 25.4, n = 4.
        const GAUSS_4: [(f64, f64); 4] = [
            (0.069_431_844_202_973_71, 0.173_927_422_568_726_92),
            (0.330_009_478_207_571_87, 0.326_072_577_431_273_07),
            (0.669_990_521_792_428_1, 0.326_072_577_431_273_07),
            (0.930_568_155_797_026_3, 0.173_927_422_568_726_92),
        ];
        let mut sum = Floating::default();
        let from_v = self.floats_below_v();
        let span_v = from_v + self.flat_v;
        if span_v <= 0.0 {
            return sum;
        }
        let part = span_v / (2.0 * self.flat_v);
        for (node, weight) in GAUSS_4 {
            let floating_v = from_v - node * span_v;
            let (_, pass) = self.settled(Some(floating_v));
            let weight = weight * part / self.period_s;
            let more_as = pass.on_as + pass.off_as - plain.on_as - plain.off_as;
            sum.torque_w += weight
                * (2.0 * self.flat_v * more_as + (self.flat_v + floating_v) * pass.floating_as);
            sum.squares_a2 += weight * (pass.squares_a2_s - plain.squares_a2_s);
            sum.on_squares_a2 += weight * (pass.on_a2_s - plain.on_a2_s);
            sum.diode_a += weight * pass.floating_as;
            sum.diode_squares_a2 += weight * pass.c_a2_s;
            if !self.synchronous {
                sum.diode_a += weight * (pass.off_as - plain.off_as);
                let off_a2_s = |pass: &Pass| pass.a_a2_s - pass.on_a2_s;
                sum.diode_squares_a2 += weight * (off_a2_s(&pass) - off_a2_s(plain));
            }
        }
        sum
    }

    /// The period that begins as it ends: a's current at its start, and what happens in it.
    ///
    /// The floating leg's current follows its own equation, and is gone by the end of nearly every
    /// on time. Where a's current does not cease the period is a straight line in its start with
    /// the slope e^(−R T/L): one step leads to where both ends are equal.
    fn settled(&self, floating_v: Option<f64>) -> (f64, Pass) {
        let mut pass = self.pass(0.0, 0.0, floating_v);
        for _ in 0..20 {
            let before_a = pass.end_floating_a;
            if before_a == 0.0 {
                break;
            }
            pass = self.pass(0.0, before_a, floating_v);
            if (pass.end_floating_a - before_a).abs() <= 1e-12 * before_a {
                break;
            }
        }
        if !self.synchronous && pass.end_a == 0.0 {
            return (0.0, pass);
        }
        let falls = -libm::expm1(-self.resistance_ohm * self.period_s / self.inductance_h);
        let start_a = pass.end_a / falls;
        (start_a, self.pass(start_a, pass.end_floating_a, floating_v))
    }

    /// Follows one period.
    fn pass(&self, start_a: f64, start_floating_a: f64, floating_v: Option<f64>) -> Pass {
        let mut pass = Pass {
            end_a: start_a,
            end_floating_a: start_floating_a,
            ..Pass::default()
        };
        self.part(&mut pass, Leg::On, self.duty * self.period_s, floating_v);
        pass.off_a = pass.end_a;
        self.part(
            &mut pass,
            Leg::Off,
            (1.0 - self.duty) * self.period_s,
            floating_v,
        );
        pass
    }

    /// Follows the on time or the off time, from one change of a diode to the next.
    fn part(&self, pass: &mut Pass, leg: Leg, time_s: f64, floating_v: Option<f64>) {
        let mut left_s = time_s;
        let both_ways = self.synchronous;
        // a's diode and c's can each end once
        for _ in 0..4 {
            let [of_a, of_c] = self.three_legs_v(leg, floating_v.unwrap_or(0.0));
            let floats = floating_v.is_some()
                && (pass.end_floating_a > 0.0 || (leg == Leg::Off && of_c > 0.0));
            let (alone_v, conducts) = match leg {
                Leg::On => {
                    let alone_v = 0.5 * self.voltage_v - self.flat_v;
                    (alone_v, both_ways || pass.end_a > 0.0 || alone_v > 0.0)
                }
                Leg::Off => (
                    -0.5 * self.off_drop_v() - self.flat_v,
                    both_ways || pass.end_a > 0.0,
                ),
            };
            let (of_a, of_c) = match (conducts, floats) {
                (true, true) => (of_a, of_c),
                (true, false) => (alone_v, 0.0),
                (false, _) if pass.end_floating_a > 0.0 => {
                    let floating_v = floating_v.unwrap_or(0.0);
                    (0.0, -0.5 * (self.diode_drop_v + floating_v + self.flat_v))
                }
                (false, _) => return,
            };
            let a_gone_s = if conducts && !both_ways {
                self.gone_s(pass.end_a, of_a)
            } else {
                f64::INFINITY
            };
            let c_gone_s = if pass.end_floating_a > 0.0 {
                self.gone_s(pass.end_floating_a, of_c)
            } else {
                f64::INFINITY
            };
            let step_s = left_s.min(a_gone_s).min(c_gone_s);
            self.add(pass, leg, step_s, [of_a, of_c]);
            if conducts {
                pass.conducts_s += step_s;
            }
            if a_gone_s <= step_s {
                pass.end_a = 0.0;
            }
            if c_gone_s <= step_s {
                pass.end_floating_a = 0.0;
            }
            left_s -= step_s;
            if left_s <= 0.0 {
                return;
            }
        }
    }

    /// Driving voltages of a and c while all three legs conduct: v_k − mean v − (e_k − mean e).
    fn three_legs_v(&self, leg: Leg, floating_v: f64) -> [f64; 2] {
        let a_v = match leg {
            Leg::On => self.voltage_v,
            Leg::Off => -self.off_drop_v(),
        };
        let mean_v = (a_v - self.diode_drop_v - floating_v) / 3.0;
        [
            a_v - mean_v - self.flat_v,
            -self.diode_drop_v - mean_v - floating_v,
        ]
    }

    /// When a current that obeys L di/dt = f − R i is gone; infinite where it does not go.
    fn gone_s(&self, start_a: f64, drive_v: f64) -> f64 {
        if drive_v >= 0.0 {
            return f64::INFINITY;
        }
        let y = -start_a * self.resistance_ohm / drive_v;
        let shortened = if y > 0.0 { libm::log1p(y) / y } else { 1.0 };
        -self.inductance_h * start_a / drive_v * shortened
    }

    fn add(&self, pass: &mut Pass, leg: Leg, time_s: f64, [of_a, of_c]: [f64; 2]) {
        let x = self.resistance_ohm * time_s / self.inductance_h;
        let slopes = [of_a, of_c].map(|drive_v| drive_v / self.inductance_h);
        let (start_a, start_c) = (pass.end_a, pass.end_floating_a);
        let stretch = Stretch::new(time_s, x);
        let a = stretch.course(start_a, slopes[0]);
        let c = stretch.course(start_c, slopes[1]);
        let b = stretch.course(start_a + start_c, slopes[0] + slopes[1]);
        match leg {
            Leg::On => {
                pass.on_as += a[1];
                pass.on_a2_s += a[2];
            }
            Leg::Off => pass.off_as += a[1],
        }
        pass.floating_as += c[1];
        pass.a_a2_s += a[2];
        pass.c_a2_s += c[2];
        pass.squares_a2_s += a[2] + b[2] + c[2];
        pass.peak_a = pass.peak_a.max(start_a + start_c).max(b[0]);
        (pass.end_a, pass.end_floating_a) = (a[0], c[0]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chopper(duty: f64, flat_v: f64, inductance_h: f64, synchronous: bool) -> Chopper {
        Chopper {
            voltage_v: 12.0,
            duty,
            period_s: 50e-6,
            diode_drop_v: 0.7,
            synchronous,
            flat_v,
            resistance_ohm: 0.05,
            inductance_h,
        }
    }

    /// Without resistance the textbooks' means of discontinuous conduction: a triangle of height
    /// (U − V) δ T/L that falls by V + V_d.
    #[test]
    fn the_textbooks_triangle() {
        let mut machine = chopper(0.2, 3.0, 20e-6, false);
        machine.resistance_ohm = 1e-9;
        let ripple = machine.ripple();
        let (rise_v, fall_v) = (12.0 - 6.0, 6.7);
        let peak_a = rise_v * 0.2 * 50e-6 / 40e-6;
        let conducts = 0.2 * (1.0 + rise_v / fall_v);
        let mean_a = 0.5 * peak_a * conducts;
        assert!(ripple.ceases);
        let near = |got: f64, want: f64| assert!((got / want - 1.0).abs() < 1e-7, "{got} {want}");
        near(ripple.mean_a, mean_a);
        near(ripple.more_on_a, 0.5 * peak_a * 0.2 - 0.2 * mean_a);
        near(
            ripple.deviation_a2,
            peak_a * peak_a * conducts / 3.0 - mean_a * mean_a,
        );
        near(ripple.peak_over_mean_a, peak_a - mean_a);
        near(ripple.least_a, mean_a);
    }

    /// Power from the supply is what turns, heats and is lost in diodes, in every kind of period.
    #[test]
    fn power_is_kept_in_every_period() {
        for synchronous in [false, true] {
            for duty in [0.05, 0.3, 0.6, 0.95] {
                for flat_v in [0.1, 1.0, 2.5, 5.5] {
                    if synchronous && flat_v > 6.0 * duty {
                        // a generator, which is no business of this
                        continue;
                    }
                    for inductance_h in [2e-6, 20e-6, 400e-6] {
                        for floating in [None, Some(-1.0), Some(-0.5), Some(-0.1)] {
                            let machine = chopper(duty, flat_v, inductance_h, synchronous);
                            let floating_v = floating.map(|part: f64| part * flat_v);
                            let (_, pass) = machine.settled(floating_v);
                            let turns = 2.0 * flat_v * (pass.on_as + pass.off_as)
                                + (flat_v + floating_v.unwrap_or(0.0)) * pass.floating_as;
                            let heat = 0.05 * pass.squares_a2_s;
                            let off_as = if synchronous { 0.0 } else { pass.off_as };
                            let lost = 0.7 * (off_as + pass.floating_as);
                            let given = 12.0 * pass.on_as;
                            let scale = 1e-12 + turns.abs() + heat + lost;
                            assert!(
                                (given - turns - heat - lost).abs() < 1e-8 * scale,
                                "{machine:?} {floating:?}: {given} {turns} {heat} {lost}"
                            );
                        }
                    }
                }
            }
        }
    }

    /// Where the ripple just touches zero, both ways of reckoning give the same.
    #[test]
    fn the_boundary_is_crossed_without_a_step() {
        let at = |flat_v: f64| chopper(0.5, flat_v, 20e-6, false).ripple();
        let (mut low, mut high) = (0.1, 5.9);
        assert!(!at(low).ceases && at(high).ceases);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if at(middle).ceases {
                high = middle;
            } else {
                low = middle;
            }
        }
        let (before, after) = (at(low), at(high));
        let mean_a = (0.5 * 12.0 - 0.5 * 0.7 - 2.0 * low) / 0.1;
        let near = |got: f64, want: f64| assert!((got / want - 1.0).abs() < 1e-6, "{got} {want}");
        near(mean_a, after.mean_a);
        near(before.least_a, after.mean_a);
        near(before.more_on_a, after.more_on_a);
        near(before.deviation_a2, after.deviation_a2);
        near(before.floating.torque_w, after.floating.torque_w);
        near(before.floating.diode_a, after.floating.diode_a);
    }

    /// The series and the difference meet.
    #[test]
    fn the_mean_of_the_square_is_smooth() {
        let (below, above) = (phi_squared(0.1 - 1e-12), phi_squared(0.1 + 1e-12));
        assert!((below - above).abs() < 1e-9, "{below} {above}");
        assert!((phi_squared(0.0) - 1.0 / 3.0).abs() < 1e-15);
    }
}
