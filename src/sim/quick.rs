//! The commonest circuit, quickly: star, stiff supply, linear shape, no cogging, two or three
//! legs connected, rotor turning.
//!
//! The recurrences are those of [`Expansion::expand`] with everything left out that is zero
//! here, a fixed number of orders so that the compiler lays them out without loops, and one
//! thing more: speed and angle change little within a piece, so behind the first orders only
//! the products with their first two coefficients are kept. What is left out and what comes
//! after the last order are compared with the tolerance at the end; where they are not below
//! it, more orders are taken, and at last the general recurrence. The property test
//! that tightens the tolerance sends pieces from here to there and so holds the two together.

use super::bridge::Branches;
use super::expansion::{Expansion, SPEED_SHARE, Scales};
use super::plant::{N_SHAPES, Plant};
use super::poly::{INVERSE_RANK, Series, product, square};

/// Orders with complete products.
const FULL: usize = 6;

/// Orders of a short piece.
pub(super) const SHORT: usize = 6;
/// Orders of a piece without current.
const COASTING: usize = 4;
/// Orders of a piece in between.
pub(super) const MEDIUM: usize = 8;
/// Orders of a longer piece.
pub(super) const LONG: usize = 14;

/// Start and slope of the shapes in the present sector.
pub(super) type Shape<'a> = (&'a [f64; N_SHAPES], &'a [f64; N_SHAPES]);

/// A series while it is made: a local that the compiler keeps in registers.
type Local = [f64; LONG + 2];

/// A local series that begins with the given value.
#[inline(always)]
fn from_start(c: &Series) -> Local {
    let mut local = [0.0; LONG + 2];
    local[0] = c[0];
    local
}

/// Keeps the coefficients of a local series.
#[inline(always)]
fn keep<const TOP: usize>(c: &mut Series, local: &Local) {
    c[1..=TOP].copy_from_slice(&local[1..=TOP]);
}

/// What the mechanical recurrence needs, scaled to the piece.
struct Mechanics {
    per_inertia: f64,
    electrical_rate: f64,
    viscous: f64,
    drag: f64,
    still_nm: f64,
}

impl Mechanics {
    #[inline(always)]
    fn new(plant: &Plant, length_s: f64, negative: bool) -> Self {
        let direction = if negative { -1.0 } else { 1.0 };
        Self {
            per_inertia: length_s / plant.inertia_kg_m2,
            electrical_rate: length_s * plant.pole_pairs,
            viscous: plant.viscous_nm_s,
            drag: direction * plant.quadratic_nm_s2,
            still_nm: direction * plant.dry_nm + plant.gravity_nm,
        }
    }

    /// Coefficient K + 1 of speed and angle from the torque's coefficient K.
    #[inline(always)]
    fn advance<const K: usize>(&self, speed: &mut Local, phi: &mut Local, torque_nm: f64) {
        let squared = if K < FULL {
            square(speed, K)
        } else {
            2.0 * speed[0] * speed[K]
        };
        let mut net = torque_nm - self.viscous * speed[K] - self.drag * squared;
        if K == 0 {
            net -= self.still_nm;
        }
        speed[K + 1] = net * (self.per_inertia * INVERSE_RANK[K + 1]);
        phi[K + 1] = (self.electrical_rate * INVERSE_RANK[K + 1]) * speed[K];
    }
}

/// Coefficient K of a product with the angle, complete in the first orders; behind them with
/// the first two and the newest two coefficients.
#[inline(always)]
fn with_angle<const K: usize>(a: &Local, phi: &Local) -> f64 {
    if K < FULL {
        product(a, phi, K)
    } else {
        a[0] * phi[K] + a[1] * phi[K - 1] + a[K - 1] * phi[1] + a[K] * phi[0]
    }
}

/// Writes out a step for every order below `TOP`, so that each order is a constant to the
/// compiler.
macro_rules! each_order {
    ($top:ident, $step:ident) => {
        $step!(0);
        $step!(1);
        $step!(2);
        $step!(3);
        $step!(4);
        $step!(5);
        if $top > SHORT {
            $step!(6);
            $step!(7);
        }
        if $top > MEDIUM {
            $step!(8);
            $step!(9);
            $step!(10);
            $step!(11);
            $step!(12);
            $step!(13);
        }
    };
}

/// Share with which the coefficient before the last one counts: the last alone may be small by
/// chance. Ours: from one to the next a coefficient falls by rate · length / order, by 40 at
/// order 8 where rate · length is 0.2, the longest of the medium pieces.
const CHANCE: f64 = 1.0 / 64.0;

/// Size of the last coefficients of a series.
#[inline(always)]
fn last_two(c: &Local, top: usize) -> f64 {
    c[top].abs().max(CHANCE * c[top - 1].abs())
}

/// What a piece may leave out.
struct Limits {
    current_a: f64,
    speed_rad_s: f64,
    phi_rad: f64,
    voltage_v: f64,
    /// Size of the first coefficient behind the last one, relative to the last ones: each is the
    /// one before times rate · length / order, and twice that is taken.
    next: f64,
}

impl Limits {
    #[inline(always)]
    fn new(scales: &Scales, rate_length: f64, top: usize) -> Self {
        Self {
            current_a: scales.tolerance * scales.current_a,
            speed_rad_s: SPEED_SHARE * scales.tolerance * scales.speed_rad_s,
            phi_rad: scales.tolerance,
            voltage_v: scales.tolerance * scales.voltage_v,
            next: (2.0 * rate_length * INVERSE_RANK[top + 1]).min(1.0),
        }
    }
}

/// Whether a piece is accurate: what comes after its last coefficients is below the tolerance,
/// and, where products were left out, the speed changes so little that they fall from order to
/// order and the first of them (at order `FULL`) would not have changed current, speed or the
/// voltage of an open terminal by more than the tolerance.
#[inline(always)]
fn is_accurate<const TOP: usize>(
    (speed, phi): (&Local, &Local),
    current: &Local,
    (slope, open_slope): (f64, f64),
    (per_inductance, mechanics): (f64, &Mechanics),
    limits: &Limits,
) -> bool {
    let behind = |c: &Local| limits.next * last_two(c, TOP);
    let ends = behind(current) <= limits.current_a
        && behind(speed) <= limits.speed_rad_s
        && behind(phi) <= limits.phi_rad;
    if TOP <= FULL {
        return ends;
    }
    let swept = left_out(speed, phi);
    let slope = slope.abs() * INVERSE_RANK[FULL + 1];
    ends && speed[1].abs() + speed[2].abs() <= 0.1 * speed[0].abs()
        && slope * swept * per_inductance <= limits.current_a
        && open_slope.abs() * swept <= limits.voltage_v
        && (slope * left_out(current, phi)
            + mechanics.drag.abs() * INVERSE_RANK[FULL + 1] * left_out(speed, speed))
            * mechanics.per_inertia
            <= limits.speed_rad_s
}

/// The largest terms left out of a product at order `FULL`.
#[inline(always)]
fn left_out(a: &Local, b: &Local) -> f64 {
    (a[2] * b[4]).abs() + (a[3] * b[3]).abs() + (a[4] * b[2]).abs()
}

/// No current: at most one leg connected. The rotor goes on by itself, and the series tell when
/// an open terminal meets a diode.
pub(super) fn expand_open(
    x: &mut Expansion,
    plant: &Plant,
    b: &Branches,
    scales: &Scales,
    shape: Shape<'_>,
    negative: bool,
) -> bool {
    // nothing but friction and drag moves the series: a few orders do
    const TOP: usize = COASTING;
    let (start, slope) = shape;
    let mechanics = Mechanics::new(plant, x.length_s, negative);
    let (mut speed, mut phi) = (from_start(&x.speed), from_start(&x.phi));
    mechanics.advance::<0>(&mut speed, &mut phi, 0.0);
    mechanics.advance::<1>(&mut speed, &mut phi, 0.0);
    mechanics.advance::<2>(&mut speed, &mut phi, 0.0);
    mechanics.advance::<3>(&mut speed, &mut phi, 0.0);
    let swept: [f64; TOP + 1] = std::array::from_fn(|k| product(&speed, &phi, k));
    for leg in 0..3 {
        for k in 0..=TOP {
            x.emf[leg][k] = start[leg] * speed[k] + slope[leg] * swept[k];
        }
        x.emf[leg][TOP + 1..=SHORT].fill(0.0);
        x.current[leg][1..=SHORT].fill(0.0);
    }
    keep::<SHORT>(&mut x.speed, &speed);
    keep::<SHORT>(&mut x.phi, &phi);
    let connected = b.pair.0;
    let volt = b.rail_part[connected] * x.bridge_v[0] + b.offset_v[connected];
    for leg in 0..3 {
        for k in 0..=SHORT {
            x.open_terminal[leg][k] = x.emf[leg][k] - x.emf[connected][k];
        }
        x.open_terminal[leg][0] += volt;
    }
    x.order = SHORT;
    x.mechanical_order = SHORT;
    let limits = Limits::new(scales, x.length_s * plant.quick_rate, TOP);
    limits.next * last_two(&speed, TOP) <= limits.speed_rad_s
        && limits.next * last_two(&phi, TOP) <= limits.phi_rad
}

/// Two legs in series, `TOP` orders. False where that is not accurate enough.
pub(super) fn expand_two<const TOP: usize>(
    x: &mut Expansion,
    plant: &Plant,
    b: &Branches,
    scales: &Scales,
    shape: Shape<'_>,
    negative: bool,
) -> bool {
    let (start, slope) = shape;
    let (first, second, third) = (b.pair.0, b.pair.1, b.third);
    let length_s = x.length_s;
    let mechanics = Mechanics::new(plant, length_s, negative);
    let bridge_v = x.bridge_v[0];
    let volt = |leg: usize| b.rail_part[leg] * bridge_v + b.offset_v[leg];
    let gain = 0.5 * length_s * plant.per_lead_inductance;
    let (drive_v, common_v) = (
        volt(first) - volt(second),
        0.5 * (volt(first) + volt(second)),
    );
    let ohm = 2.0 * plant.lead_resistance_ohm + b.ohm[first] + b.ohm[second];
    let half_ohm_difference = 0.5 * (b.ohm[first] - b.ohm[second]);
    let (emf_start, emf_slope) = (start[first] - start[second], slope[first] - slope[second]);
    // open terminal: star point plus its EMF
    let open_start = start[third] - 0.5 * (start[first] + start[second]);
    let open_slope = slope[third] - 0.5 * (slope[first] + slope[second]);

    let (mut speed, mut phi) = (from_start(&x.speed), from_start(&x.phi));
    let mut current = from_start(&x.current[first]);
    let mut open = [0.0; LONG + 2];
    let flat = emf_slope == 0.0;
    macro_rules! step {
        ($k:literal) => {
            let swept = with_angle::<$k>(&speed, &phi);
            let mut left = -ohm * current[$k] - emf_start * speed[$k] - emf_slope * swept;
            let mut terminal =
                -half_ohm_difference * current[$k] + open_start * speed[$k] + open_slope * swept;
            if $k == 0 {
                left += drive_v;
                terminal += common_v;
            }
            open[$k] = terminal;
            let mut torque_nm = emf_start * current[$k];
            if !flat {
                torque_nm += emf_slope * with_angle::<$k>(&current, &phi);
            }
            mechanics.advance::<$k>(&mut speed, &mut phi, torque_nm);
            current[$k + 1] = (gain * INVERSE_RANK[$k + 1]) * left;
        };
    }
    each_order!(TOP, step);
    keep::<TOP>(&mut x.speed, &speed);
    keep::<TOP>(&mut x.phi, &phi);
    keep::<TOP>(&mut x.current[first], &current);
    for k in 1..=TOP {
        x.current[second][k] = -current[k];
    }
    x.current[third][1..=TOP].fill(0.0);
    x.open_terminal[third][..=TOP].copy_from_slice(&open[..=TOP]);
    x.order = TOP;
    x.mechanical_order = TOP;
    is_accurate::<TOP>(
        (&speed, &phi),
        &current,
        (emf_slope, open_slope),
        (gain, &mechanics),
        &Limits::new(scales, length_s * plant.quick_rate, TOP),
    )
}

/// Three legs connected, `TOP` orders. False where that is not accurate enough.
pub(super) fn expand_three<const TOP: usize>(
    x: &mut Expansion,
    plant: &Plant,
    b: &Branches,
    scales: &Scales,
    shape: Shape<'_>,
    negative: bool,
) -> bool {
    let (start, slope) = shape;
    let length_s = x.length_s;
    let mechanics = Mechanics::new(plant, length_s, negative);
    let bridge_v = x.bridge_v[0];
    let gain = length_s * plant.per_lead_inductance;
    let third = 1.0 / 3.0;
    let volt: [f64; 3] = std::array::from_fn(|leg| b.rail_part[leg] * bridge_v + b.offset_v[leg]);
    let volt_mean = (volt[0] + volt[1] + volt[2]) * third;
    let start_mean = (start[0] + start[1] + start[2]) * third;
    let slope_mean = (slope[0] + slope[1] + slope[2]) * third;
    let (volt_u, volt_v) = (volt[0] - volt_mean, volt[1] - volt_mean);
    let (start_u, start_v) = (start[0] - start_mean, start[1] - start_mean);
    let (slope_u, slope_v) = (slope[0] - slope_mean, slope[1] - slope_mean);
    // torque Σ s_k i_k with i_W = −(i_U + i_V)
    let (torque_start_u, torque_start_v) = (start[0] - start[2], start[1] - start[2]);
    let (torque_slope_u, torque_slope_v) = (slope[0] - slope[2], slope[1] - slope[2]);
    // resistive drop minus its mean, in terms of i_U and i_V
    let (ru, rv, rw) = (b.ohm[0], b.ohm[1], b.ohm[2]);
    let lead_ohm = plant.lead_resistance_ohm;
    let (mean_u, mean_v) = ((ru - rw) * third, (rv - rw) * third);
    let (uu, uv) = (lead_ohm + ru - mean_u, -mean_v);
    let (vu, vv) = (-mean_u, lead_ohm + rv - mean_v);

    let (mut speed, mut phi) = (from_start(&x.speed), from_start(&x.phi));
    let (mut u, mut v) = (from_start(&x.current[0]), from_start(&x.current[1]));
    let mut ramp = [0.0; LONG + 2];
    macro_rules! step {
        ($k:literal) => {
            let swept = with_angle::<$k>(&speed, &phi);
            let mut left_u = -uu * u[$k] - uv * v[$k] - start_u * speed[$k] - slope_u * swept;
            let mut left_v = -vu * u[$k] - vv * v[$k] - start_v * speed[$k] - slope_v * swept;
            if $k == 0 {
                left_u += volt_u;
                left_v += volt_v;
            }
            ramp[$k] = torque_slope_u * u[$k] + torque_slope_v * v[$k];
            let torque_nm =
                torque_start_u * u[$k] + torque_start_v * v[$k] + with_angle::<$k>(&ramp, &phi);
            mechanics.advance::<$k>(&mut speed, &mut phi, torque_nm);
            let scale = gain * INVERSE_RANK[$k + 1];
            u[$k + 1] = scale * left_u;
            v[$k + 1] = scale * left_v;
        };
    }
    each_order!(TOP, step);
    keep::<TOP>(&mut x.speed, &speed);
    keep::<TOP>(&mut x.phi, &phi);
    keep::<TOP>(&mut x.current[0], &u);
    keep::<TOP>(&mut x.current[1], &v);
    for k in 0..=TOP {
        x.current[2][k] = -(u[k] + v[k]);
    }
    x.order = TOP;
    x.mechanical_order = TOP;
    let most = slope_u
        .abs()
        .max(slope_v.abs())
        .max(torque_slope_u.abs())
        .max(torque_slope_v.abs());
    let limits = Limits::new(scales, length_s * plant.quick_rate, TOP);
    is_accurate::<TOP>((&speed, &phi), &u, (most, 0.0), (gain, &mechanics), &limits)
        && is_accurate::<TOP>((&speed, &phi), &v, (most, 0.0), (gain, &mechanics), &limits)
}

#[cfg(test)]
mod tests {
    use super::super::bridge::Path;
    use super::super::poly::value;
    use super::super::state::{Motion, State};
    use super::*;
    use crate::machine::Machine;
    use crate::setup::Setup;

    /// Every circuit the quick way takes, at lengths that use each of its orders, in every
    /// sector: against the general recurrence, at three instants of the piece.
    #[test]
    fn the_quick_and_the_general_way_are_one_solution() {
        let setup = Setup::parse(crate::setup::built_in(), "built-in").unwrap();
        let mut machine = Machine::new(&setup.machine);
        machine.cogging_peak_nm = 0.0;
        machine.shape = crate::setup::EmfShape::Trapezoid;
        let mut bench = setup.bench;
        bench.supply.source = None;
        bench.load.quadratic_nm_s2 = 1.5e-8;
        bench.load.constant_nm = 2e-3;
        let light = Plant::new(&machine, &bench);
        bench.load.inertia_kg_m2 = 2e-3;
        let heavy = Plant::new(&machine, &bench);
        assert!(light.quick && heavy.quick);
        let scales = Scales {
            current_a: 50.0,
            speed_rad_s: 1000.0,
            voltage_v: light.supply_v,
            tolerance: 1e-11,
        };
        let circuits: [([Path; 3], [f64; 3]); 5] = [
            (
                [Path::UpperSwitch, Path::LowerSwitch, Path::Open],
                [20.0, -20.0, 0.0],
            ),
            (
                [Path::Open, Path::LowerDiode, Path::UpperDiode],
                [0.0, 8.0, -8.0],
            ),
            (
                [Path::UpperSwitch, Path::LowerSwitch, Path::UpperDiode],
                [25.0, -15.0, -10.0],
            ),
            (
                [Path::LowerDiode, Path::LowerSwitch, Path::LowerDiode],
                [5.0, -9.0, 4.0],
            ),
            ([Path::Open, Path::LowerSwitch, Path::Open], [0.0; 3]),
        ];
        let mut n_quick = [0; MAX_TOP];
        let mut compare = |plant: &Plant, path: [Path; 3], current_a: [f64; 3]| {
            let general_plant = Plant {
                quick: false,
                ..plant.clone()
            };
            let branches = Branches::new(path, plant.switch);
            for sector in 0..6 {
                for decay in [0.01, 0.05, 0.09, 0.15, 0.3, 0.7] {
                    for speed_rad_s in [150.0, 700.0] {
                        let state = State {
                            time_s: 0.0,
                            current_a,
                            loop_current_a: 0.0,
                            bridge_v: plant.supply_v,
                            speed_rad_s,
                            sector,
                            phi_rad: 0.2,
                            motion: Motion::Free { negative: false },
                        };
                        let length_s = decay / plant.circuit_rate;
                        let (mut quick, mut general) = (Expansion::new(), Expansion::new());
                        quick.expand(plant, &branches, &state, length_s, &scales);
                        general.expand(&general_plant, &branches, &state, length_s, &scales);
                        // a piece that the quick way gave up went through the general one
                        if quick.torque_known {
                            continue;
                        }
                        n_quick[quick.order] += 1;
                        let near = |a: &Series, b: &Series, scale: f64, what: &str| {
                            for tau in [0.3, 0.7, 1.0] {
                                let (a, b) =
                                    (value(a, quick.order, tau), value(b, general.order, tau));
                                assert!(
                                    (a - b).abs() <= 1e-10 * scale,
                                    "{what} {path:?} sector {sector} decay {decay}: {a} {b}"
                                );
                            }
                        };
                        for leg in 0..3 {
                            near(
                                &quick.current[leg],
                                &general.current[leg],
                                scales.current_a,
                                "current",
                            );
                            if path[leg] == Path::Open && branches.n_connected > 0 {
                                near(
                                    &quick.open_terminal[leg],
                                    &general.open_terminal[leg],
                                    10.0 * scales.voltage_v,
                                    "open terminal",
                                );
                            }
                        }
                        near(&quick.speed, &general.speed, scales.speed_rad_s, "speed");
                        near(&quick.phi, &general.phi, 1.0, "angle");
                    }
                }
            }
        };
        for (path, current_a) in circuits {
            compare(&light, path, current_a);
            compare(&heavy, path, current_a);
        }
        for order in [SHORT, MEDIUM, LONG] {
            assert!(
                n_quick[order] >= 10,
                "order {order} was used {} times",
                n_quick[order]
            );
        }
    }

    const MAX_TOP: usize = LONG + 1;
}
