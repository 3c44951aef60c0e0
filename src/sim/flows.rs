//! Where charge and energy flow during a piece: the account that every run closes.

use super::bridge::Branches;
use super::expansion::Expansion;
use super::plant::Plant;
use super::poly::{self, Series};
use super::quick::SHORT;
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
    /// Currents of the first two connected legs in A.
    pub(super) first_a: f64,
    pub(super) second_a: f64,
    pub(super) speed_rad_s: f64,
    pub(super) phi_rad: f64,
}

impl End {
    #[inline(always)]
    pub(super) fn new(branches: &Branches, x: &Expansion, tau: f64) -> Self {
        let (first_a, second_a) = match branches.n_connected {
            0 | 1 => (0.0, 0.0),
            2 => {
                let a = poly::value(&x.current[branches.pair.0], x.order, tau);
                (a, -a)
            }
            _ => (
                poly::value(&x.current[branches.pair.0], x.order, tau),
                poly::value(&x.current[branches.pair.1], x.order, tau),
            ),
        };
        Self {
            tau,
            first_a,
            second_a,
            speed_rad_s: poly::value(&x.speed, x.mechanical_order, tau),
            phi_rad: poly::value(&x.phi, x.mechanical_order, tau),
        }
    }
}

/// Flows of an expansion from its start to τ.
///
/// Squares and products are integrated by quadrature on the series: where they bend little by
/// Gauss's rule of three points, or Lobatto's of four whose ends are known anyway, else by Gauss's
/// of ten. The polynomial is read at the points, which costs less than multiplying series.
pub(super) fn flows(
    plant: &Plant,
    branches: &Branches,
    x: &Expansion,
    motion: Motion,
    end: &End,
) -> Flows {
    if x.order == SHORT
        && let Motion::Free { negative } = motion
        && let Some(flows) = short_flows(plant, branches, x, negative, end)
    {
        return flows;
    }
    let bent = bends(&x.current[branches.pair.0], x.order)
        || bends(&x.current[branches.pair.1], x.order)
        || plant.delta && bends(&x.loop_current, x.order)
        || plant.soft.is_some() && {
            // what flows from the source follows the small difference of two voltages
            let mut drop = x.bridge_v;
            drop[0] -= plant.supply_v;
            bends(&drop, x.order)
        }
        // the drag's power goes with the cube of the speed
        || x.speed[2].abs() + x.speed[3].abs() > 1e-4 * x.speed[0].abs();
    if bent {
        flows_at(plant, branches, x, motion, end, &gauss::TEN)
    } else {
        flows_at(plant, branches, x, motion, end, &gauss::THREE)
    }
}

/// Flows of a short piece of the quick circuit; `None` where its series bend too much.
///
/// The speed's mean is the angle gone through over the time; what its square and cube have more
/// than those of the mean follows from its variance, written out to the third order (the
/// integral of (ω − mean)² for ω = c₀ + c₁τ + c₂τ² + c₃τ³).
#[inline(always)]
fn short_flows(
    plant: &Plant,
    branches: &Branches,
    x: &Expansion,
    negative: bool,
    end: &End,
) -> Option<Flows> {
    let tau = end.tau;
    let (first, second) = (branches.pair.0, branches.pair.1);
    let n_connected = branches.n_connected;
    let (a, b) = (&x.current[first], &x.current[second]);
    if !plant.quick
        || x.speed[1].abs() > 1e-2 * x.speed[0].abs()
        || x.speed[2].abs() + x.speed[3].abs() > 1e-4 * x.speed[0].abs()
        || bends(a, SHORT)
        || n_connected == 3 && bends(b, SHORT)
    {
        return None;
    }
    let time_s = tau * x.length_s;
    let mut out = Flows::default();
    if n_connected >= 2 {
        // the ends are known; two points between them
        let (a0, a1) = (a[0], end.first_a);
        let (b0, b1) = (b[0], end.second_a);
        let (near, far) = (lobatto::NEAR * tau, lobatto::FAR * tau);
        let (a2, a3) = (poly::value(a, SHORT, near), poly::value(a, SHORT, far));
        let sum = |ends: f64, inner: f64| lobatto::AT_ENDS * ends + lobatto::INSIDE * inner;
        let aa = sum(a0 * a0 + a1 * a1, a2 * a2 + a3 * a3);
        let charge_a = sum(a0 + a1, a2 + a3);
        let (bb, cc, charge_b) = if n_connected == 2 {
            (aa, 0.0, -charge_a)
        } else {
            let (b2, b3) = (poly::value(b, SHORT, near), poly::value(b, SHORT, far));
            let square = |a: f64, b: f64| (a + b) * (a + b);
            (
                sum(b0 * b0 + b1 * b1, b2 * b2 + b3 * b3),
                sum(
                    square(a0, b0) + square(a1, b1),
                    square(a2, b2) + square(a3, b3),
                ),
                sum(b0 + b1, b2 + b3),
            )
        };
        out.copper_j = time_s * plant.lead_resistance_ohm * (aa + bb + cc);
        let squares = [aa, bb, cc];
        let charges = [charge_a, charge_b, -(charge_a + charge_b)];
        let legs = [first, second, branches.third];
        let (mut bridge, mut supply) = (0.0, 0.0);
        for k in 0..3 {
            let leg = legs[k];
            bridge += branches.ohm[leg] * squares[k];
            if branches.path[leg].is_diode() {
                bridge += plant.switch.diode_drop_v * charges[k].abs();
            }
            supply += branches.rail_part[leg] * charges[k];
        }
        out.bridge_j = time_s * bridge;
        out.supply_charge_as = time_s * supply;
        out.supply_j = plant.supply_v * out.supply_charge_as;
        out.bridge_input_j = out.supply_j;
    }
    let direction = if negative { -1.0 } else { 1.0 };
    let angle = (end.phi_rad - x.phi[0]) * plant.per_pole_pair;
    let mean = angle / time_s;
    let (c1, c2, c3) = (
        tau * x.speed[1],
        tau * tau * x.speed[2],
        tau * tau * tau * x.speed[3],
    );
    let spread =
        c1 * (c1 * (1.0 / 12.0) + c2 * (1.0 / 6.0) + c3 * (3.0 / 20.0)) + c2 * c2 * (4.0 / 45.0);
    let squared = time_s * (mean * mean + spread);
    let cubed = time_s * mean * (mean * mean + 3.0 * spread);
    let load_dry_nm = plant.dry_nm - plant.machine_dry_nm;
    out.angle_mech_rad = angle;
    out.friction_j = plant.viscous_nm_s * squared + plant.machine_dry_nm * direction * angle;
    out.shaft_j = load_dry_nm * direction * angle
        + plant.gravity_nm * angle
        + direction * plant.quadratic_nm_s2 * cubed;
    out.load_torque_nm_s = (load_dry_nm * direction + plant.gravity_nm) * time_s
        + direction * plant.quadratic_nm_s2 * squared;
    Some(out)
}

/// Whether the square of a series bends too much for three points, or four with the ends.
///
/// Both are exact to the fifth order and leave at most 1/2100 of the coefficients behind it. The
/// sixth of a square is 2 c₁c₅ + 2 c₂c₄ + c₃², the seventh 2 c₁c₆ + 2 c₂c₅ + 2 c₃c₄, and where what
/// the series has behind its sixth is a millionth, each of the later ones is smaller. Within the
/// bounds what is left is below 1e-8 of the square of the first three coefficients' sum.
#[inline(always)]
fn bends(c: &Series, order: usize) -> bool {
    let low = c[0].abs() + c[1].abs() + c[2].abs();
    let sixth = 2.0 * ((c[1] * c[5]).abs() + (c[2] * c[4]).abs()) + c[3] * c[3];
    let seventh = (c[1] * c[6]).abs() + (c[2] * c[5]).abs() + (c[3] * c[4]).abs();
    let mut behind = 0.0;
    if order > SHORT {
        for coefficient in &c[SHORT + 1..=order] {
            behind += coefficient.abs();
        }
    }
    sixth + 2.0 * seventh > 2e-5 * low * low || behind > 1e-6 * low
}

#[inline(always)]
fn flows_at<const N: usize>(
    plant: &Plant,
    branches: &Branches,
    x: &Expansion,
    motion: Motion,
    end: &End,
    nodes: &[(f64, f64); N],
) -> Flows {
    let tau = end.tau;
    let time_s = tau * x.length_s;
    let half = 0.5 * tau;
    let at = |node: f64| half + half * node;
    let mut out = Flows::default();
    // electrical side
    if branches.n_connected >= 2 {
        let (first, second, third) = (branches.pair.0, branches.pair.1, branches.third);
        let three_legs = branches.n_connected == 3;
        let (mut squares, mut charges) = ([0.0; 3], [0.0; 3]);
        for &(node, weight) in nodes {
            let a = poly::value(&x.current[first], x.order, at(node));
            let b = if three_legs {
                poly::value(&x.current[second], x.order, at(node))
            } else {
                -a
            };
            let c = -(a + b);
            for (sum, current) in squares.iter_mut().zip([a, b, c]) {
                *sum += weight * current * current;
            }
            charges[0] += weight * a;
            charges[1] += weight * b;
        }
        charges[2] = -(charges[0] + charges[1]);
        let half_s = half * x.length_s;
        out.copper_j = half_s * plant.lead_resistance_ohm * (squares[0] + squares[1] + squares[2]);
        for (leg, square, charge) in [
            (first, squares[0], charges[0]),
            (second, squares[1], charges[1]),
            (third, squares[2], charges[2]),
        ] {
            out.bridge_j += half_s * branches.ohm[leg] * square;
            if branches.path[leg].is_diode() {
                out.bridge_j += half_s * plant.switch.diode_drop_v * charge.abs();
            }
            out.supply_charge_as += half_s * branches.rail_part[leg] * charge;
        }
    }
    if plant.delta {
        let squared = sum_at(nodes, |node| {
            let current = poly::value(&x.loop_current, x.order, at(node));
            current * current
        });
        out.copper_j += 3.0 * plant.winding_resistance_ohm * half * x.length_s * squared;
    }
    if let Some((source_ohm, _)) = plant.soft {
        let source_j = sum_at(nodes, |node| {
            let bridge_v = poly::value(&x.bridge_v, x.order, at(node));
            bridge_v * (plant.supply_v - bridge_v)
        });
        out.supply_j = half * x.length_s * source_j / source_ohm;
        let input_j = sum_at(nodes, |node| {
            let mut current = 0.0;
            for leg in 0..3 {
                current +=
                    branches.rail_part[leg] * poly::value(&x.current[leg], x.order, at(node));
            }
            current * poly::value(&x.bridge_v, x.order, at(node))
        });
        out.bridge_input_j = half * x.length_s * input_j;
    } else {
        out.supply_j = plant.supply_v * out.supply_charge_as;
        out.bridge_input_j = out.supply_j;
    }
    // mechanical side
    let load_dry_nm = plant.dry_nm - plant.machine_dry_nm;
    match motion {
        Motion::Free { negative } => {
            let direction = if negative { -1.0 } else { 1.0 };
            let angle = (end.phi_rad - x.phi[0]) / plant.pole_pairs;
            let (mut squared, mut cubed) = (0.0, 0.0);
            for &(node, weight) in nodes {
                let speed = poly::value(&x.speed, x.mechanical_order, at(node));
                squared += weight * speed * speed;
                cubed += weight * speed * speed * speed;
            }
            let half_s = half * x.length_s;
            let (squared, cubed) = (half_s * squared, half_s * cubed);
            out.angle_mech_rad = angle;
            let gone = direction * angle;
            out.friction_j = plant.viscous_nm_s * squared + plant.machine_dry_nm * gone;
            out.shaft_j = load_dry_nm * gone
                + plant.gravity_nm * angle
                + direction * plant.quadratic_nm_s2 * cubed;
            out.load_torque_nm_s = (load_dry_nm * direction + plant.gravity_nm) * time_s
                + direction * plant.quadratic_nm_s2 * squared;
        }
        Motion::Driven => {
            let speed = x.speed[0];
            let torque_s = x.length_s
                * (poly::integral(&x.em_torque, x.order, tau)
                    + if plant.cogging.is_some() {
                        poly::integral(&x.cogging, x.order, tau)
                    } else {
                        0.0
                    });
            let friction_nm = plant.viscous_nm_s * speed
                + if speed == 0.0 {
                    0.0
                } else {
                    plant.machine_dry_nm.copysign(speed)
                };
            out.angle_mech_rad = speed * time_s;
            out.friction_j = friction_nm * speed * time_s;
            out.load_torque_nm_s = torque_s - friction_nm * time_s;
            out.shaft_j = speed * out.load_torque_nm_s;
        }
        Motion::Held => {
            let torque_s = x.length_s * poly::integral(&x.em_torque, x.order, tau)
                + x.cogging[0] * time_s
                - plant.gravity_nm * time_s;
            let share = if plant.dry_nm > 0.0 {
                load_dry_nm / plant.dry_nm
            } else {
                0.0
            };
            out.load_torque_nm_s = plant.gravity_nm * time_s + share * torque_s;
        }
    }
    out
}

fn sum_at<const N: usize>(nodes: &[(f64, f64); N], integrand: impl Fn(f64) -> f64) -> f64 {
    let mut sum = 0.0;
    for &(node, weight) in nodes {
        sum += weight * integrand(node);
    }
    sum
}

/// Gauss-Legendre nodes and weights on [−1, 1].
///
/// M. Abramowitz, I. A. Stegun, *Handbook of Mathematical Functions*, table 25.4.
pub(super) mod gauss {
    pub(super) const THREE: [(f64, f64); 3] = [
        (-0.774_596_669_241_483_4, 0.555_555_555_555_555_6),
        (0.0, 8.0 / 9.0),
        (0.774_596_669_241_483_4, 0.555_555_555_555_555_6),
    ];
    pub(in crate::sim) const TEN: [(f64, f64); 10] = [
        (-0.973_906_528_517_171_7, 0.066_671_344_308_688_14),
        (-0.865_063_366_688_984_5, 0.149_451_349_150_580_6),
        (-0.679_409_568_299_024_4, 0.219_086_362_515_982_04),
        (-0.433_395_394_129_247_2, 0.269_266_719_309_996_4),
        (-0.148_874_338_981_631_22, 0.295_524_224_714_752_87),
        (0.148_874_338_981_631_22, 0.295_524_224_714_752_87),
        (0.433_395_394_129_247_2, 0.269_266_719_309_996_4),
        (0.679_409_568_299_024_4, 0.219_086_362_515_982_04),
        (0.865_063_366_688_984_5, 0.149_451_349_150_580_6),
        (0.973_906_528_517_171_7, 0.066_671_344_308_688_14),
    ];
}

/// Lobatto's rule of four points on [0, 1]: the ends and (1 ∓ 1/√5)/2, with weights 1/12 and 5/12.
///
/// M. Abramowitz, I. A. Stegun, *Handbook of Mathematical Functions*, 25.4.32 and table 25.6
/// (there on [−1, 1]; number from memory).
mod lobatto {
    pub(super) const AT_ENDS: f64 = 1.0 / 12.0;
    pub(super) const INSIDE: f64 = 5.0 / 12.0;
    pub(super) const NEAR: f64 = 0.276_393_202_250_021;
    pub(super) const FAR: f64 = 0.723_606_797_749_979;
}
