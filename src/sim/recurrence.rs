//! The recurrence that makes a series, one coefficient after the other.
//!
//! One piece of code for every circuit. How many currents are free (none, one with two legs
//! connected, two with three) and whether the plant is plain (star, stiff supply, no cogging)
//! are known to the compiler, so that the commonest circuits carry no work for what is zero.
//! The first orders are written out; behind them order follows order until what is left out lies
//! below the tolerance. Speed and angle change little within most pieces, and there products
//! behind the first orders keep no more than their first and newest terms
//! ([`Recurrence::is_lean`]). Where diodes conduct, the first coefficient tells how long a piece can
//! last, and the rest is made for that length ([`Recurrence::reach`]).

use super::bridge::Branches;
use super::expansion::{Expansion, Scales, Weights};
use super::plant::{Cogging, Plant};
use super::poly::{INVERSE_RANK, MAX_ORDER, SHORT, Series, larger, product, smaller};
use super::shape::ShapeSeries;
use super::state::Motion;

/// Orders of a piece without current in a plain plant: nothing but friction and drag moves it.
const COASTING: usize = 3;

/// Part of the length below which a piece that will not go further is made for less.
const WORTH_LESS: f64 = 0.8;

/// Part of the length within which a current that falls counts as gone: no length to aim at.
const SOON: f64 = 0.01;

/// Orders with complete products.
const MEDIUM: usize = 8;

/// Part of the tolerance that goes to what products leave out: it adds up over all pieces.
const LEAN_SHARE: f64 = 0.01;

/// Rate times length of the longest piece. Ours, by counting instructions at 1.2, 1.5, 2 and 4:
/// longer pieces take more orders and complete products, shorter ones are more. Behind order [`MEDIUM`] each
/// coefficient is then less than a quarter of the one before it.
pub(super) const LONGEST: f64 = 2.0;

/// What an expansion is made for.
#[derive(Clone, Copy)]
pub(super) struct Case<'a> {
    pub(super) plant: &'a Plant,
    pub(super) branches: &'a Branches,
    pub(super) motion: Motion,
    pub(super) scales: &'a Scales,
}

/// What the mechanical recurrence needs, scaled to the piece.
struct Mechanics {
    per_inertia: f64,
    electrical_rate: f64,
    drag: f64,
    /// What opposes a small change of the speed from its start: viscous friction and drag.
    damping: f64,
    still_nm: f64,
}

impl Mechanics {
    /// A shaft that is held or driven takes no notice of torque.
    #[inline(always)]
    fn new(plant: &Plant, motion: Motion, length_s: f64, speed_rad_s: f64) -> Self {
        let (moves, negative) = match motion {
            Motion::Free { negative } => (1.0, negative),
            Motion::Driven | Motion::Held => (0.0, false),
        };
        let against = plant.against(negative);
        Self {
            per_inertia: moves * length_s * plant.per_inertia,
            electrical_rate: length_s * plant.pole_pairs,
            drag: against.drag_nm_s2,
            damping: plant.viscous_nm_s + 2.0 * against.drag_nm_s2 * speed_rad_s,
            still_nm: against.still_nm,
        }
    }
}

pub(super) struct Recurrence<'a, const N: usize, const PLAIN: bool, S> {
    case: Case<'a>,
    shape: S,
    mechanics: Mechanics,
    weights: Weights,
    /// Those of the cogging torque and of the bridge's voltage.
    torque_weight: f64,
    bridge_weight: f64,
    /// Length over lead inductance, over loop inductance, over capacitance.
    gain: f64,
    loop_gain: f64,
    bridge_gain: f64,
    /// 1 / source resistance.
    per_source_ohm: f64,
}

impl<'a, const N: usize, const PLAIN: bool, S: ShapeSeries<N>> Recurrence<'a, N, PLAIN, S> {
    #[inline(always)]
    pub(super) fn new(case: Case<'a>, shape: S, x: &Expansion) -> Self {
        let (plant, scales, length_s) = (case.plant, case.scales, x.length_s);
        let (mut loop_gain, mut bridge_gain, mut per_source_ohm) = (0.0, 0.0, 0.0);
        let (mut torque_weight, mut bridge_weight) = (0.0, 0.0);
        if !PLAIN {
            if plant.delta {
                loop_gain = length_s / plant.winding_inductance_h;
            }
            if let Some((source_ohm, capacitance_f)) = plant.soft {
                bridge_gain = length_s / capacitance_f;
                per_source_ohm = 1.0 / source_ohm;
                // as a voltage, and as the source current it stands for
                bridge_weight = scales
                    .weights
                    .voltage
                    .max(scales.weights.current * per_source_ohm);
            }
            if let Some(cogging) = &plant.cogging {
                torque_weight = 1.0
                    / (scales.tolerance
                        * (plant.emf_scale_v_s * scales.current_a + cogging.peak_nm.abs()));
            }
        }
        Self {
            mechanics: Mechanics::new(plant, case.motion, length_s, x.speed[0]),
            weights: scales.weights,
            torque_weight,
            bridge_weight,
            gain: length_s * plant.per_lead_inductance,
            loop_gain,
            bridge_gain,
            per_source_ohm,
            case,
            shape,
        }
    }

    /// Makes the series from their first coefficients. What is left out, relative to what may be
    /// left out: above 1 where the highest order does not reach.
    #[inline(always)]
    pub(super) fn run(mut self, x: &mut Expansion) -> f64 {
        self.step(x, 0, false);
        if N > 0 && self.case.branches.n_diodes > 0 {
            let reach = self.reach(x);
            if reach < WORTH_LESS {
                self.shorten(reach);
                x.shorten_start::<PLAIN>(reach);
            }
        }
        self.step(x, 1, false);
        self.step(x, 2, false);
        if N == 0 && PLAIN && self.left_out(x, COASTING) <= 1.0 {
            self.finish_coasting(x);
            return 1.0;
        }
        self.step(x, 3, false);
        self.step(x, 4, false);
        self.step(x, 5, false);
        let mut order = SHORT;
        let mut left_out = self.left_out(x, order);
        if left_out > 1.0 {
            self.step(x, 6, false);
            self.step(x, 7, false);
            order = MEDIUM;
            left_out = self.left_out(x, order);
        }
        if left_out > 1.0 {
            let lean = self.is_lean(x);
            while left_out > 1.0 && order < MAX_ORDER {
                self.step(x, order, lean);
                order += 1;
                left_out = self.left_out(x, order);
            }
        }
        if order == SHORT {
            self.finish(x, SHORT);
        } else {
            self.finish(x, order);
        }
        left_out
    }

    /// How far a piece goes, as far as the first coefficients tell: to where a little more than
    /// the first of the diodes' currents is gone. 1 where that is the whole length.
    ///
    /// A current that decays at rate λ reaches zero behind where its tangent does, t: at
    /// −ln(1 − λt)/λ = t + λt²/2 + …, and no rate is above that of the series.
    #[inline(always)]
    fn reach(&self, x: &Expansion) -> f64 {
        let b = self.case.branches;
        let mut tangent: f64 = 1.0;
        let mut see = |current: f64, slope: f64| {
            if slope < 0.0 && current > -SOON * slope {
                tangent = smaller(tangent, -current / slope);
            }
        };
        if N == 1 {
            let (_, sign) = b.first_diode;
            see(sign * x.free[0][0], sign * x.free[0][1]);
        } else {
            // all three are connected: the third's is minus the sum of the free currents
            let of_legs = |k: usize| {
                let [first, second] = [x.free[0][k], x.free[1][k]];
                [first, second, -(first + second)]
            };
            let (current, slope) = (of_legs(0), of_legs(1));
            for leg in 0..3 {
                see(
                    b.diode_sign[leg] * current[leg],
                    b.diode_sign[leg] * slope[leg],
                );
            }
        }
        tangent * (1.1 + x.rate_length * tangent)
    }

    /// Goes over to a shorter length.
    #[inline(always)]
    fn shorten(&mut self, ratio: f64) {
        self.gain *= ratio;
        self.loop_gain *= ratio;
        self.bridge_gain *= ratio;
        self.mechanics.per_inertia *= ratio;
        self.mechanics.electrical_rate *= ratio;
        self.shape.shorten(ratio);
    }

    /// Coefficient `k + 1` of everything from those up to `k`. Sums take the newest coefficients
    /// last: they are what the next order waits for.
    #[inline(always)]
    fn step(&self, x: &mut Expansion, k: usize, lean: bool) {
        let (plant, mechanics) = (self.case.plant, &self.mechanics);
        let circuit = &self.case.branches.circuit;
        let inverse = INVERSE_RANK[k + 1];
        let electrical_rate = mechanics.electrical_rate * inverse;
        x.phi[k + 1] = electrical_rate * x.speed[k];
        let (emf, loop_emf) = self.shape.emf(x, k, lean);
        let gain = self.gain * inverse;
        for a in 0..N {
            let mut against = emf[a];
            for c in 0..N {
                against += circuit.ohm[a][c] * x.free[c][k];
            }
            if k == 0 {
                against -= circuit.drive_v[a] + circuit.rail[a] * x.bridge_v[0];
            } else if !PLAIN {
                against -= circuit.rail[a] * x.bridge_v[k];
            }
            x.free[a][k + 1] = -gain * against;
        }
        let torque = self.torque(x, k, lean);
        x.em_torque[k] = torque;
        let mut against = mechanics.drag * inner_square(&x.speed, k, lean);
        if k == 0 {
            against = mechanics.still_nm - mechanics.drag * x.speed[0] * x.speed[0];
        }
        against += mechanics.damping * x.speed[k];
        let mut net = torque - against;
        if !PLAIN {
            if let Some(cogging) = &plant.cogging {
                net += x.cogging[k];
                cogging_step(x, cogging, electrical_rate, k, lean);
            }
            if plant.delta {
                let left = -plant.winding_resistance_ohm * x.loop_current[k] - loop_emf;
                x.loop_current[k + 1] = self.loop_gain * inverse * left;
            }
            if plant.soft.is_some() {
                let mut from_source = -x.bridge_v[k];
                if k == 0 {
                    from_source += plant.supply_v;
                }
                let mut into_bridge = 0.0;
                for a in 0..N {
                    into_bridge += circuit.draw[a] * x.free[a][k];
                }
                x.bridge_v[k + 1] =
                    self.bridge_gain * inverse * (self.per_source_ohm * from_source - into_bridge);
            }
        }
        self.shape.advance(x, electrical_rate, k, lean);
        x.speed[k + 1] = mechanics.per_inertia * inverse * net;
    }

    /// Coefficient `k` of the electromagnetic torque.
    #[inline(always)]
    fn torque(&self, x: &mut Expansion, k: usize, lean: bool) -> f64 {
        let paired = match N {
            2 => {
                let total = x.free[0][k] + x.free[1][k];
                std::array::from_fn(|a| x.free[a][k] + total)
            }
            _ => std::array::from_fn(|a| 2.0 * x.free[a][k]),
        };
        let mut torque = self.shape.torque(x, paired, k, lean);
        if !PLAIN && self.case.plant.delta {
            torque += self.shape.loop_torque(x, k, lean);
        }
        torque
    }

    /// Size of the first coefficients behind order `top`, relative to what may be left out.
    ///
    /// A coefficient is the one before it times rate · length / order; twice that is taken, and
    /// from the last two, since one alone may be small by chance.
    #[inline(always)]
    fn left_out(&self, x: &Expansion, top: usize) -> f64 {
        let (plant, weights) = (self.case.plant, &self.weights);
        let next = (2.0 * x.rate_length * INVERSE_RANK[top + 1]).min(1.0);
        let last_two = |c: &Series| larger(c[top].abs(), next * c[top - 1].abs());
        let mut worst = larger(
            weights.speed * last_two(&x.speed),
            weights.phi * last_two(&x.phi),
        );
        for current in &x.free[..N] {
            worst = larger(weights.current * last_two(current), worst);
        }
        if !PLAIN {
            if plant.delta {
                worst = larger(weights.current * last_two(&x.loop_current), worst);
            }
            if plant.soft.is_some() {
                worst = larger(self.bridge_weight * last_two(&x.bridge_v), worst);
            }
            if plant.cogging.is_some() {
                worst = larger(self.torque_weight * last_two(&x.cogging), worst);
            }
            worst = larger(weights.phi * self.shape.size(x, last_two), worst);
        }
        next * worst
    }

    /// Whether products may keep their first four and newest four terms from here on, where they
    /// are complete up to order [`MEDIUM`].
    ///
    /// All that is then left out of a product, over all orders, is at most the product of what
    /// its two series have behind their first four coefficients; it must change neither current
    /// nor speed by more than its part of the tolerance.
    #[inline(always)]
    fn is_lean(&self, x: &Expansion) -> bool {
        let (mechanics, weights) = (&self.mechanics, &self.weights);
        let tail =
            |c: &Series| c[4].abs() + c[5].abs() + c[6].abs() + c[7].abs() + 2.0 * c[8].abs();
        let (speed, phi) = (tail(&x.speed), tail(&x.phi));
        let next = INVERSE_RANK[MEDIUM + 1];
        let mut torque = mechanics.drag.abs() * speed * speed;
        let mut current = 0.0;
        for free in &x.free[..N] {
            current += 2.0 * tail(free);
        }
        if !PLAIN {
            if let Some(cogging) = &self.case.plant.cogging {
                torque += f64::from(cogging.per_electrical_turn)
                    * mechanics.electrical_rate
                    * speed
                    * (tail(&x.cogging) + tail(&x.cogging_cosine))
                    * next;
            }
            if self.case.plant.delta {
                current += 3.0 * tail(&x.loop_current);
            }
        }
        let (emf, per_current) = self.shape.left_out(x, tail, speed, phi);
        torque += per_current * current;
        emf * next * self.gain * weights.current <= LEAN_SHARE
            && torque * next * mechanics.per_inertia * weights.speed <= LEAN_SHARE
    }

    /// The last coefficient of the torque, which follows from the finished series.
    #[inline(always)]
    fn finish(&self, x: &mut Expansion, order: usize) {
        self.shape.complete(x, order);
        x.em_torque[order] = self.torque(x, order, false);
        x.order = order;
    }

    /// The same for a plain rotor that coasts: orders behind the last are zero.
    #[inline(always)]
    fn finish_coasting(&self, x: &mut Expansion) {
        for k in COASTING + 1..=SHORT {
            x.speed[k] = 0.0;
            x.phi[k] = 0.0;
        }
        for k in COASTING..=SHORT {
            x.em_torque[k] = 0.0;
        }
        x.order = SHORT;
    }
}

/// Coefficient `k + 1` of the cogging torque −Tc sin Nθ and of its companion −Tc cos Nθ.
#[inline(always)]
fn cogging_step(x: &mut Expansion, cogging: &Cogging, rate: f64, k: usize, lean: bool) {
    let rate = rate * f64::from(cogging.per_electrical_turn);
    let sine = product_with(&x.cogging, &x.speed, k, lean);
    let cosine = product_with(&x.cogging_cosine, &x.speed, k, lean);
    x.cogging[k + 1] = rate * cosine;
    x.cogging_cosine[k + 1] = -rate * sine;
}

/// Coefficient `k` of a product; lean, of the first four and newest four coefficients alone.
#[inline(always)]
pub(super) fn product_with(a: &Series, b: &Series, k: usize, lean: bool) -> f64 {
    if lean {
        let old = (a[3] * b[k - 3] + a[k - 3] * b[3]) + (a[2] * b[k - 2] + a[k - 2] * b[2]);
        old + (a[1] * b[k - 1] + a[k - 1] * b[1]) + (a[0] * b[k] + a[k] * b[0])
    } else {
        product(a, b, k)
    }
}

/// Coefficient `k` of the square of a series less its start; lean, of the same coefficients.
#[inline(always)]
pub(super) fn inner_square(a: &Series, k: usize, lean: bool) -> f64 {
    if lean {
        return 2.0 * (a[3] * a[k - 3] + a[2] * a[k - 2] + a[1] * a[k - 1]);
    }
    if k < 2 {
        return 0.0;
    }
    let half = k.div_ceil(2);
    let middle = if k.is_multiple_of(2) {
        0.5 * a[half] * a[half]
    } else {
        0.0
    };
    let mut sum = middle;
    for j in (1..half).rev() {
        sum += a[j] * a[k - j];
    }
    sum + sum
}

/// Coefficient `k` of (a series less its start) · (another); lean, of the same coefficients.
#[inline(always)]
pub(super) fn product_behind(a: &Series, b: &Series, k: usize, lean: bool) -> f64 {
    if k == 0 {
        return 0.0;
    }
    if lean {
        let old = (a[3] * b[k - 3] + a[k - 3] * b[3]) + (a[2] * b[k - 2] + a[k - 2] * b[2]);
        return old + (a[1] * b[k - 1] + a[k - 1] * b[1]) + a[k] * b[0];
    }
    let mut sum = a[k] * b[0];
    for j in (1..k).rev() {
        sum += a[j] * b[k - j];
    }
    sum
}

#[cfg(test)]
mod tests;
