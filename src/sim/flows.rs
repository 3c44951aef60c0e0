//! Where charge and energy flow during a piece: the account that every run closes.

use super::bridge::Branches;
use super::expansion::Expansion;
use super::plant::Plant;
use super::poly::{self, SHORT, Series};
use super::state::Motion;

/// What flowed during a piece, or a part of one. SI.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Flows {
    /// Charge through the bridge from the positive rail in A s.
    pub supply_charge_as: f64,
    /// Energy from the supply, behind its source resistance, in J.
    pub supply_j: f64,
    /// Energy into the bridge in J: bridge voltage times bridge current.
    pub bridge_input_j: f64,
    /// Heat in the windings in J.
    pub copper_j: f64,
    /// Heat in switches and diodes in J.
    pub bridge_j: f64,
    /// Heat of the machine's friction in J.
    pub friction_j: f64,
    /// Work on the load, or on what drives the shaft, in J.
    pub shaft_j: f64,
    /// Integral of the torque on the load in N m s.
    pub load_torque_nm_s: f64,
    /// Mechanical angle gone through in rad.
    pub angle_mech_rad: f64,
}

impl Flows {
    /// Adds another part.
    pub fn add(&mut self, other: &Self) {
        self.supply_charge_as += other.supply_charge_as;
        self.supply_j += other.supply_j;
        self.bridge_input_j += other.bridge_input_j;
        self.copper_j += other.copper_j;
        self.bridge_j += other.bridge_j;
        self.friction_j += other.friction_j;
        self.shaft_j += other.shaft_j;
        self.load_torque_nm_s += other.load_torque_nm_s;
        self.angle_mech_rad += other.angle_mech_rad;
    }

    /// What came between an earlier total and this one.
    #[must_use]
    pub fn since(&self, earlier: &Self) -> Self {
        Self {
            supply_charge_as: self.supply_charge_as - earlier.supply_charge_as,
            supply_j: self.supply_j - earlier.supply_j,
            bridge_input_j: self.bridge_input_j - earlier.bridge_input_j,
            copper_j: self.copper_j - earlier.copper_j,
            bridge_j: self.bridge_j - earlier.bridge_j,
            friction_j: self.friction_j - earlier.friction_j,
            shaft_j: self.shaft_j - earlier.shaft_j,
            load_torque_nm_s: self.load_torque_nm_s - earlier.load_torque_nm_s,
            angle_mech_rad: self.angle_mech_rad - earlier.angle_mech_rad,
        }
    }
}

/// The solution at τ, as far as both the account and the next piece need it.
#[derive(Clone, Copy, Debug)]
pub(super) struct End {
    pub(super) tau: f64,
    /// The free currents in A, 0 where there are fewer.
    pub(super) free_a: [f64; 2],
    /// Loop current of a delta in A.
    pub(super) loop_a: f64,
    pub(super) bridge_v: f64,
    pub(super) speed_rad_s: f64,
    pub(super) phi_rad: f64,
}

impl End {
    #[inline(always)]
    pub(super) fn new<const N: usize, const PLAIN: bool>(
        plant: &Plant,
        x: &Expansion,
        tau: f64,
    ) -> Self {
        let at = |c: &Series| poly::value(c, x.order, tau);
        let free_a = match N {
            0 => [0.0; 2],
            1 => [at(&x.free[0]), 0.0],
            _ => [at(&x.free[0]), at(&x.free[1])],
        };
        Self {
            tau,
            free_a,
            loop_a: if !PLAIN && plant.delta {
                at(&x.loop_current)
            } else {
                0.0
            },
            bridge_v: if !PLAIN && plant.soft.is_some() {
                at(&x.bridge_v)
            } else {
                x.bridge_v[0]
            },
            speed_rad_s: at(&x.speed),
            phi_rad: at(&x.phi),
        }
    }

    /// Whether all of it are numbers.
    #[inline(always)]
    pub(super) fn is_finite(&self) -> bool {
        (self.electrical() + self.speed_rad_s + self.phi_rad).is_finite()
    }

    /// Whether currents and voltage are numbers.
    pub(super) fn is_electrically_finite(&self) -> bool {
        self.electrical().is_finite()
    }

    #[inline(always)]
    fn electrical(&self) -> f64 {
        self.free_a[0] + self.free_a[1] + self.loop_a + self.bridge_v
    }
}

/// Flows of an expansion from its start to τ.
///
/// Squares and products are integrated by quadrature on the series: where they bend little by
/// Lobatto's rule of four points, whose ends are known anyway, else by Gauss's of six or ten.
/// The polynomial is read at the points, which costs less than multiplying series.
#[inline(always)]
pub(super) fn flows<const N: usize, const PLAIN: bool>(
    plant: &Plant,
    branches: &Branches,
    x: &Expansion,
    motion: Motion,
    end: &End,
) -> Flows {
    let mut out = if N > 0 || !PLAIN {
        let at = Electrical::<N, PLAIN> {
            plant,
            branches,
            x,
            end,
        };
        match at.bend() {
            Bend::Little => {
                let inner = [lobatto::NEAR * end.tau, lobatto::FAR * end.tau];
                at.flow(&lobatto::WEIGHTS, |c, at_end| {
                    let [near, far] = poly::values(c, x.order, &inner);
                    [c[0], near, far, at_end]
                })
            }
            Bend::More => at.flow_by(&gauss::SIX),
            Bend::Most => at.flow_by(&gauss::TEN),
        }
    } else {
        Flows::default()
    };
    match motion {
        Motion::Free { negative } => turning(plant, x, negative, end, &mut out),
        Motion::Driven | Motion::Held if PLAIN => {}
        Motion::Driven => driven(plant, x, end.tau, &mut out),
        Motion::Held => {
            let time_s = end.tau * x.length_s;
            let torque_s = x.length_s * poly::integral(&x.em_torque, x.order, end.tau)
                + x.cogging[0] * time_s
                - plant.gravity_nm * time_s;
            let share = if plant.dry_nm > 0.0 {
                (plant.dry_nm - plant.machine_dry_nm) / plant.dry_nm
            } else {
                0.0
            };
            out.load_torque_nm_s = plant.gravity_nm * time_s + share * torque_s;
        }
    }
    out
}

/// How much the square of a series bends: how many points it wants.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Bend {
    /// Four with the ends.
    Little,
    /// Six.
    More,
    /// Ten, exact to order 19: what a piece's products have beyond that is below rounding.
    Most,
}

/// How much the square of `start` + c₁τ + c₂τ² + … bends.
///
/// Four points with the ends are exact to the fifth order and leave at most 1/2100 of the
/// coefficients behind it. The sixth of a square is 2 c₁c₅ + 2 c₂c₄ + c₃², the seventh 2 c₁c₆ +
/// 2 c₂c₅ + 2 c₃c₄, and where what the series has behind its sixth is a millionth, each of the
/// later ones is smaller. Six points are exact to the eleventh order and leave 9e-8 of the
/// coefficients behind it, and each of those has a factor from the sixth on. Within the bounds
/// what is left is below 1e-8 of the square of the first three coefficients' sum.
#[inline(always)]
fn bend(start: f64, c: &Series, order: usize) -> Bend {
    let low = start.abs() + c[1].abs() + c[2].abs();
    let sixth = 2.0 * ((c[1] * c[5]).abs() + (c[2] * c[4]).abs()) + c[3] * c[3];
    let seventh = (c[1] * c[6]).abs() + (c[2] * c[5]).abs() + (c[3] * c[4]).abs();
    let mut behind = 0.0;
    if order > SHORT {
        for coefficient in &c[SHORT + 1..=order] {
            behind += coefficient.abs();
        }
    }
    if sixth + 2.0 * seventh <= 2e-5 * low * low && behind <= 1e-6 * low {
        Bend::Little
    } else if c[SHORT].abs() + behind <= 0.02 * low {
        Bend::More
    } else {
        Bend::Most
    }
}

/// Rate times length up to which the square of a plain plant's current bends little. The current
/// is a sum of decays of at most this rate λ, at worst one that begins at zero, whose square has a
/// sixth coefficient of 0.09 λ⁴ of its second: 2e-5 of it, the bound of [`bend`].
const GENTLE: f64 = 0.12;

/// Part of the speed by which it may change in a piece that counts as steady: with rates up to
/// [`GENTLE`] what the variance leaves out is then below 1e-8 of the square.
const STEADY: f64 = 1e-3;

/// The electrical side of a piece.
struct Electrical<'a, const N: usize, const PLAIN: bool> {
    plant: &'a Plant,
    branches: &'a Branches,
    x: &'a Expansion,
    end: &'a End,
}

impl<const N: usize, const PLAIN: bool> Electrical<'_, N, PLAIN> {
    /// The largest bend of what is multiplied.
    #[inline(always)]
    fn bend(&self) -> Bend {
        let (plant, x) = (self.plant, self.x);
        // where rates alone say so: decays, nothing that a small difference hangs on
        if PLAIN && x.rate_length <= GENTLE {
            return Bend::Little;
        }
        let of = |c: &Series| bend(c[0], c, x.order);
        let mut most = Bend::Little;
        for current in &x.free[..N] {
            most = most.max(of(current));
        }
        if !PLAIN && plant.delta {
            most = most.max(of(&x.loop_current));
        }
        if !PLAIN && plant.soft.is_some() {
            // what flows from the source follows the small difference of two voltages
            most = most.max(bend(x.bridge_v[0] - plant.supply_v, &x.bridge_v, x.order));
        }
        most
    }

    /// By a rule of points between the ends.
    #[inline(never)]
    fn flow_by<const POINTS: usize>(&self, rule: &gauss::Rule<POINTS>) -> Flows {
        let at = rule.at.map(|node| self.end.tau * node);
        self.flow(&rule.weights, |c, _| poly::values(c, self.x.order, &at))
    }

    /// By weights on [0, 1] and the values of a series at their points, told its value at the end.
    #[inline(always)]
    fn flow<const POINTS: usize>(
        &self,
        weights: &[f64; POINTS],
        values: impl Fn(&Series, f64) -> [f64; POINTS],
    ) -> Flows {
        let mut out = Flows::default();
        let (plant, b, x, end) = (self.plant, self.branches, self.x, self.end);
        let time_s = end.tau * x.length_s;
        // drawn from the positive rail, at each point
        let mut drawn_a = [0.0; POINTS];
        if N == 1 {
            let current = values(&x.free[0], end.free_a[0]);
            let weighted: [f64; POINTS] = std::array::from_fn(|k| weights[k] * current[k]);
            let charge = total::<POINTS>(|k| weighted[k]);
            let square = total::<POINTS>(|k| weighted[k] * current[k]);
            let (first, last) = b.pair;
            out.copper_j = time_s * (2.0 * plant.lead_resistance_ohm) * square;
            out.bridge_j = time_s
                * ((b.ohm[first] + b.ohm[last]) * square
                    + (b.drop_v[first] + b.drop_v[last]) * charge.abs());
            out.supply_charge_as = time_s * b.circuit.draw[0] * charge;
            drawn_a = current.map(|current| b.circuit.draw[0] * current);
        } else if N == 2 {
            let first = values(&x.free[0], end.free_a[0]);
            let second = values(&x.free[1], end.free_a[1]);
            let first_weighted: [f64; POINTS] = std::array::from_fn(|k| weights[k] * first[k]);
            let second_weighted: [f64; POINTS] = std::array::from_fn(|k| weights[k] * second[k]);
            let charges = [
                total::<POINTS>(|k| first_weighted[k]),
                total::<POINTS>(|k| second_weighted[k]),
            ];
            let squares = [
                total::<POINTS>(|k| first_weighted[k] * first[k]),
                total::<POINTS>(|k| second_weighted[k] * second[k]),
            ];
            // the third leg's current is minus the sum of the others
            let both = total::<POINTS>(|k| first_weighted[k] * second[k]);
            let squares = [squares[0], squares[1], squares[0] + squares[1] + 2.0 * both];
            let charges = [charges[0], charges[1], charges[0] + charges[1]];
            let legs = [b.pair.0, b.pair.1, b.third];
            let loss =
                |k: usize| b.ohm[legs[k]] * squares[k] + b.drop_v[legs[k]] * charges[k].abs();
            out.copper_j =
                time_s * plant.lead_resistance_ohm * (squares[0] + squares[1] + squares[2]);
            out.bridge_j = time_s * (loss(0) + loss(1) + loss(2));
            let [first_part, second_part] = b.circuit.draw;
            out.supply_charge_as = time_s * (first_part * charges[0] + second_part * charges[1]);
            drawn_a = std::array::from_fn(|k| first_part * first[k] + second_part * second[k]);
        }
        if !PLAIN && plant.delta {
            let mut squared = 0.0;
            for (weight, current) in weights.iter().zip(values(&x.loop_current, end.loop_a)) {
                squared += weight * (current * current);
            }
            out.copper_j += 3.0 * plant.winding_resistance_ohm * time_s * squared;
        }
        if let Some((source_ohm, _)) = plant.soft.filter(|_| !PLAIN) {
            let (mut source, mut input) = (0.0, 0.0);
            let bridge_v = values(&x.bridge_v, end.bridge_v);
            for k in 0..POINTS {
                source += weights[k] * (bridge_v[k] * (plant.supply_v - bridge_v[k]));
                input += weights[k] * (bridge_v[k] * drawn_a[k]);
            }
            out.supply_j = time_s * source / source_ohm;
            out.bridge_input_j = time_s * input;
        } else {
            out.supply_j = plant.supply_v * out.supply_charge_as;
            out.bridge_input_j = out.supply_j;
        }
        out
    }
}

/// The values at all points of a rule together.
#[inline(always)]
fn total<const N: usize>(of: impl Fn(usize) -> f64) -> f64 {
    let mut sum = of(0);
    for k in 1..N {
        sum += of(k);
    }
    sum
}

/// The mechanical side of a rotor that turns.
///
/// The speed's mean is the angle gone through over the time. Where it changes little, what its
/// square and cube have more than those of the mean follows from its variance: a twelfth of the
/// square of its change, as if it changed evenly. For ω = c₀ + c₁τ + c₂τ² + c₃τ³ the integral of
/// (ω − mean)² is c₁²/12 + c₁c₂/6 + 4 c₂²/45 + 3 c₁c₃/20: c₂²/180 and c₁c₃/60 are left out.
#[inline(always)]
fn turning(plant: &Plant, x: &Expansion, negative: bool, end: &End, out: &mut Flows) {
    let tau = end.tau;
    let time_s = tau * x.length_s;
    let angle = (end.phi_rad - x.phi[0]) * plant.per_pole_pair;
    let steady = x.rate_length <= GENTLE && x.spread.speed <= STEADY * x.speed[0].abs();
    let (squared, cubed) = if steady {
        let mean = angle / time_s;
        let change = end.speed_rad_s - x.speed[0];
        let spread = change * change * (1.0 / 12.0);
        (
            time_s * (mean * mean + spread),
            time_s * mean * (mean * mean + 3.0 * spread),
        )
    } else {
        let (squared, cubed) = speed_powers(x, tau);
        (time_s * squared, time_s * cubed)
    };
    let against = plant.against(negative);
    out.angle_mech_rad = angle;
    out.friction_j = plant.viscous_nm_s * squared + against.machine_dry_nm * angle;
    out.shaft_j = against.load_nm * angle + against.drag_nm_s2 * cubed;
    out.load_torque_nm_s = against.load_nm * time_s + against.drag_nm_s2 * squared;
}

/// Means of the speed's square and cube.
#[inline(never)]
fn speed_powers(x: &Expansion, tau: f64) -> (f64, f64) {
    let rule = &gauss::TEN;
    let speed = poly::values(&x.speed, x.order, &rule.at.map(|node| tau * node));
    let (mut squared, mut cubed) = (0.0, 0.0);
    for (weight, speed) in rule.weights.iter().zip(speed) {
        squared += weight * (speed * speed);
        cubed += weight * (speed * speed * speed);
    }
    (squared, cubed)
}

/// The mechanical side of a shaft that is driven at a fixed speed.
fn driven(plant: &Plant, x: &Expansion, tau: f64, out: &mut Flows) {
    let time_s = tau * x.length_s;
    let speed = x.speed[0];
    let mut torque_s = poly::integral(&x.em_torque, x.order, tau);
    if plant.cogging.is_some() {
        torque_s += poly::integral(&x.cogging, x.order, tau);
    }
    let friction_nm = plant.viscous_nm_s * speed
        + if speed == 0.0 {
            0.0
        } else {
            plant.machine_dry_nm.copysign(speed)
        };
    out.angle_mech_rad = speed * time_s;
    out.friction_j = friction_nm * speed * time_s;
    out.load_torque_nm_s = x.length_s * torque_s - friction_nm * time_s;
    out.shaft_j = speed * out.load_torque_nm_s;
}

/// Gauss-Legendre rules, written for [0, 1].
///
/// M. Abramowitz, I. A. Stegun, *Handbook of Mathematical Functions*, table 25.4.
pub(super) mod gauss {
    /// Where a series is read, and what each value weighs.
    pub(in crate::sim) struct Rule<const N: usize> {
        pub(in crate::sim) at: [f64; N],
        pub(in crate::sim) weights: [f64; N],
    }

    /// From the positive nodes on [−1, 1] and their weights.
    const fn rule<const HALF: usize, const N: usize>(nodes: [(f64, f64); HALF]) -> Rule<N> {
        let (mut at, mut weights) = ([0.0; N], [0.0; N]);
        let mut k = 0;
        while k < HALF {
            let (node, weight) = nodes[k];
            (at[k], at[N - 1 - k]) = (0.5 - 0.5 * node, 0.5 + 0.5 * node);
            (weights[k], weights[N - 1 - k]) = (0.5 * weight, 0.5 * weight);
            k += 1;
        }
        Rule { at, weights }
    }

    pub(in crate::sim) const SIX: Rule<6> = rule([
        (0.932_469_514_203_152, 0.171_324_492_379_170_36),
        (0.661_209_386_466_264_5, 0.360_761_573_048_138_6),
        (0.238_619_186_083_196_9, 0.467_913_934_572_691_04),
    ]);
    pub(in crate::sim) const TEN: Rule<10> = rule([
        (0.973_906_528_517_171_7, 0.066_671_344_308_688_14),
        (0.865_063_366_688_984_5, 0.149_451_349_150_580_6),
        (0.679_409_568_299_024_4, 0.219_086_362_515_982_04),
        (0.433_395_394_129_247_2, 0.269_266_719_309_996_4),
        (0.148_874_338_981_631_22, 0.295_524_224_714_752_87),
    ]);
}

/// Lobatto's rule of four points on [0, 1]: the ends and (1 ∓ 1/√5)/2, with weights 1/12 and 5/12.
///
/// M. Abramowitz, I. A. Stegun, *Handbook of Mathematical Functions*, 25.4.32 and table 25.6
/// (there on [−1, 1]; number from memory).
mod lobatto {
    pub(super) const WEIGHTS: [f64; 4] = [1.0 / 12.0, 5.0 / 12.0, 5.0 / 12.0, 1.0 / 12.0];
    pub(super) const NEAR: f64 = 0.276_393_202_250_021;
    pub(super) const FAR: f64 = 0.723_606_797_749_979;
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Gauss's rule of n points is exact for powers below 2n, Lobatto's of four below 6: the
    /// integral of τᵏ from 0 to 1 is 1/(k + 1).
    #[test]
    fn rules_are_exact_for_the_powers_they_promise() {
        fn holds(at: &[f64], weights: &[f64], below: i32) {
            for power in 0..=below {
                let mut sum = 0.0;
                for (node, weight) in at.iter().zip(weights) {
                    sum += weight * node.powi(power);
                }
                let exact = (sum - 1.0 / f64::from(power + 1)).abs() < 1e-15;
                assert_eq!(exact, power < below, "τ^{power}: {sum}");
            }
        }
        holds(&gauss::SIX.at, &gauss::SIX.weights, 12);
        holds(
            &[0.0, lobatto::NEAR, lobatto::FAR, 1.0],
            &lobatto::WEIGHTS,
            6,
        );
        // what ten points leave at τ²⁰ is below rounding: 3e-12 · 1/21
        let (mut sum, ten) = (0.0, &gauss::TEN);
        for (node, weight) in ten.at.iter().zip(&ten.weights) {
            sum += weight * node.powi(19);
        }
        assert!((sum - 0.05).abs() < 1e-15, "{sum}");
    }
}
