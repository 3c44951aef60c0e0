//! A piece of a run: the solution between two events, to be read at any instant of it.

use super::Path;
use super::bridge::Branches;
use super::expansion::Expansion;
use super::plant::{self, Plant};
use super::poly::{self, INVERSE_RANK, MAX_ORDER, Series};
use super::quick::SHORT;
use super::state::{Motion, State};
use crate::drive::{LegState, steps};
use crate::record::Sample;

/// The solution between two events.
#[derive(Clone, Copy, Debug)]
pub struct Piece<'a> {
    pub(super) plant: &'a Plant,
    pub(super) branches: &'a Branches,
    pub(super) expansion: &'a Expansion,
    /// State at the start.
    pub(super) state: &'a State,
    /// Part of the expansion that was used, 0 to 1.
    pub(super) end_tau: f64,
    pub(super) end_s: f64,
    pub(super) step_count: i64,
    pub(super) legs: [LegState; 3],
}

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

/// What else is measured over a window: only wanted where figures are taken.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Moments {
    /// Integral of electromagnetic plus cogging torque in N m s.
    pub torque_nm_s: f64,
    /// Integral of that torque squared in N² m² s.
    pub torque_squared_s: f64,
    /// Integral of the supply current squared in A² s.
    pub supply_current_squared_s: f64,
    /// Integrals of the phase winding currents squared in A² s.
    pub phase_current_squared_s: [f64; 3],
}

impl Piece<'_> {
    /// Time of the first instant in s.
    #[must_use]
    pub const fn start_s(&self) -> f64 {
        self.state.time_s
    }

    /// Time of the last instant in s.
    #[must_use]
    pub const fn end_s(&self) -> f64 {
        self.end_s
    }

    /// Order of the series.
    #[must_use]
    pub const fn order(&self) -> usize {
        self.expansion.order
    }

    /// What the three legs connect.
    #[must_use]
    pub const fn paths(&self) -> [Path; 3] {
        self.branches.path
    }

    /// The series' own time of an instant of this piece.
    fn tau(&self, time_s: f64) -> f64 {
        ((time_s - self.state.time_s) / self.expansion.length_s).clamp(0.0, self.end_tau)
    }

    /// Electrical angle in rad, not wrapped, at an instant of this piece.
    #[must_use]
    pub fn theta_elec_rad(&self, time_s: f64) -> f64 {
        let phi = poly::value(&self.expansion.phi, self.expansion.order, self.tau(time_s));
        plant::theta_elec_rad(self.state.sector, phi)
    }

    /// The instant at which the electrical angle passes a value that lies in this piece, in s.
    #[must_use]
    pub fn time_at_theta_elec(&self, theta_elec_rad: f64) -> f64 {
        let origin = plant::theta_elec_rad(self.state.sector, 0.0);
        let at = |tau: f64| {
            poly::value(&self.expansion.phi, self.expansion.order, tau) - (theta_elec_rad - origin)
        };
        let (mut low, mut high) = (0.0, self.end_tau);
        let rising = at(high) >= at(low);
        for _ in 0..200 {
            let middle = f64::midpoint(low, high);
            if middle <= low || middle >= high {
                break;
            }
            if (at(middle) < 0.0) == rising {
                low = middle;
            } else {
                high = middle;
            }
        }
        self.state.time_s + high * self.expansion.length_s
    }

    /// The solution at an instant of this piece.
    #[must_use]
    pub fn sample(&self, time_s: f64) -> Sample {
        let tau = self.tau(time_s);
        let x = self.expansion;
        let order = x.order;
        let phi = poly::value(&x.phi, order, tau);
        let speed = poly::value(&x.speed, order, tau);
        let bridge_v = poly::value(&x.bridge_v, order, tau);
        let line: [f64; 3] = {
            let u = poly::value(&x.current[0], order, tau);
            let v = poly::value(&x.current[1], order, tau);
            let w = poly::value(&x.current[2], order, tau);
            if self.branches.n_connected == 3 {
                [u, v, -(u + v)]
            } else {
                [u, v, w]
            }
        };
        let loop_current = poly::value(&x.loop_current, order, tau);
        let shape = self.plant.shape_at(self.state.sector, phi);
        let emf: [f64; 3] = std::array::from_fn(|leg| shape[leg] * speed);
        let phase_current_a = winding_currents(self.plant.delta, line, loop_current);
        let back_emf_v = if self.plant.delta {
            // e_U − mean = e*_U − e*_V, and the mean is the loop's EMF
            let mean = shape[plant::LOOP] * speed;
            [
                mean + emf[0] - emf[1],
                mean + emf[1] - emf[2],
                mean + emf[2] - emf[0],
            ]
        } else {
            emf
        };
        let mut em_torque_nm = 0.0;
        for leg in 0..3 {
            em_torque_nm += line[leg] * shape[leg];
        }
        if self.plant.delta {
            em_torque_nm += 3.0 * loop_current * shape[plant::LOOP];
        }
        let torque_nm = em_torque_nm + self.plant.cogging_torque_nm(self.state.sector, phi);
        let theta_elec_rad = plant::theta_elec_rad(self.state.sector, phi);
        let mut supply_current_a = 0.0;
        for leg in 0..3 {
            supply_current_a += self.branches.rail_part[leg] * line[leg];
        }
        Sample {
            time_s,
            theta_mech_rad: theta_elec_rad / self.plant.pole_pairs,
            theta_elec_rad,
            speed_rad_s: speed,
            phase_current_a,
            line_current_a: line,
            back_emf_v,
            terminal_v: self.terminals(line, emf, bridge_v),
            em_torque_nm,
            torque_nm,
            supply_current_a,
            supply_voltage_v: bridge_v,
            step: steps::step_number(self.step_count),
            legs: self.legs,
        }
    }

    /// Terminal voltages from currents, lead EMF and bridge voltage.
    fn terminals(&self, line: [f64; 3], emf: [f64; 3], bridge_v: f64) -> [f64; 3] {
        let b = self.branches;
        let driven =
            |leg: usize| b.rail_part[leg] * bridge_v + b.offset_v[leg] - b.ohm[leg] * line[leg];
        let mut star_point = 0.0;
        if b.n_connected == 0 {
            star_point = floating_star_point(emf, bridge_v, self.plant.switch.diode_drop_v);
        } else {
            let mut n = 0.0;
            for leg in 0..3 {
                if b.path[leg] != Path::Open {
                    star_point +=
                        driven(leg) - self.plant.lead_resistance_ohm * line[leg] - emf[leg];
                    n += 1.0;
                }
            }
            star_point /= n;
        }
        std::array::from_fn(|leg| {
            if b.path[leg] == Path::Open {
                star_point + emf[leg]
            } else {
                driven(leg)
            }
        })
    }

    /// Flows from the start of the piece to an instant of it.
    #[must_use]
    pub fn flows_until(&self, time_s: f64) -> Flows {
        flows(
            self.plant,
            self.branches,
            self.expansion,
            self.state.motion,
            self.tau(time_s),
        )
    }

    /// Flows over the whole piece.
    #[must_use]
    pub fn flows(&self) -> Flows {
        flows(
            self.plant,
            self.branches,
            self.expansion,
            self.state.motion,
            self.end_tau,
        )
    }

    /// Integrals of squares and torque between two instants of the piece.
    #[must_use]
    pub fn moments(&self, from_s: f64, to_s: f64) -> Moments {
        let (from, to) = (self.tau(from_s), self.tau(to_s));
        let (a, b) = (self.moments_to(from), self.moments_to(to));
        Moments {
            torque_nm_s: b.torque_nm_s - a.torque_nm_s,
            torque_squared_s: b.torque_squared_s - a.torque_squared_s,
            supply_current_squared_s: b.supply_current_squared_s - a.supply_current_squared_s,
            phase_current_squared_s: std::array::from_fn(|k| {
                b.phase_current_squared_s[k] - a.phase_current_squared_s[k]
            }),
        }
    }

    fn moments_to(&self, tau: f64) -> Moments {
        if tau == 0.0 {
            return Moments::default();
        }
        let (x, order) = (self.expansion, self.expansion.order);
        let torque = self.torque_series();
        let bridge = bridge_current(self.branches, x);
        let windings = self.winding_series();
        Moments {
            torque_nm_s: x.length_s * poly::integral(&torque, order, tau),
            torque_squared_s: x.length_s * integral_of_product(&torque, &torque, order, tau),
            supply_current_squared_s: x.length_s
                * integral_of_product(&bridge, &bridge, order, tau),
            phase_current_squared_s: windings
                .map(|series| x.length_s * integral_of_product(&series, &series, order, tau)),
        }
    }

    fn torque_series(&self) -> Series {
        let mut torque = self.expansion.torque_series(self.plant, self.state.sector);
        if self.state.motion == Motion::Held {
            torque[0] += self.expansion.cogging[0];
        } else {
            for (sum, cogging) in torque.iter_mut().zip(&self.expansion.cogging) {
                *sum += cogging;
            }
        }
        torque
    }

    fn winding_series(&self) -> [Series; 3] {
        let x = self.expansion;
        if !self.plant.delta {
            return x.current;
        }
        std::array::from_fn(|leg| {
            std::array::from_fn(|k| {
                x.loop_current[k] + (x.current[leg][k] - x.current[(leg + 1) % 3][k]) / 3.0
            })
        })
    }

    /// Lowest and highest electromagnetic plus cogging torque between two instants, in N m.
    #[must_use]
    pub fn torque_range_nm(&self, from_s: f64, to_s: f64) -> (f64, f64) {
        range(
            &self.torque_series(),
            self.expansion.order,
            self.tau(from_s),
            self.tau(to_s),
        )
    }

    /// Largest magnitude of any phase winding current between two instants, in A.
    #[must_use]
    pub fn phase_current_peak_a(&self, from_s: f64, to_s: f64) -> f64 {
        let mut peak: f64 = 0.0;
        for series in self.winding_series() {
            let (low, high) = range(
                &series,
                self.expansion.order,
                self.tau(from_s),
                self.tau(to_s),
            );
            peak = peak.max(high.max(-low));
        }
        peak
    }
}

/// Where the star point lies when nothing holds it: all legs leak alike to both rails, which
/// puts the mean of the terminals at mid-rail, unless a diode holds one terminal at its limit.
fn floating_star_point(emf: [f64; 3], bridge_v: f64, diode_drop_v: f64) -> f64 {
    let mean = (emf[0] + emf[1] + emf[2]) / 3.0;
    let lowest = emf[0].min(emf[1]).min(emf[2]);
    let highest = emf[0].max(emf[1]).max(emf[2]);
    let at_least = -diode_drop_v - lowest;
    let at_most = bridge_v + diode_drop_v - highest;
    (0.5 * bridge_v - mean).min(at_most).max(at_least)
}

/// Winding currents from lead currents and the loop current of a delta.
pub(super) fn winding_currents(delta: bool, line: [f64; 3], loop_current_a: f64) -> [f64; 3] {
    if delta {
        std::array::from_fn(|leg| loop_current_a + (line[leg] - line[(leg + 1) % 3]) / 3.0)
    } else {
        line
    }
}

fn bridge_current(branches: &Branches, x: &Expansion) -> Series {
    std::array::from_fn(|k| {
        let mut sum = 0.0;
        for leg in 0..3 {
            sum += branches.rail_part[leg] * x.current[leg][k];
        }
        sum
    })
}

/// Flows of an expansion from its start to τ.
///
/// Squares and products are integrated by Gauss-Legendre quadrature on the series, with three
/// points where they bend little, else with ten: the polynomial is read at the points, which
/// costs less than multiplying series.
pub(super) fn flows(
    plant: &Plant,
    branches: &Branches,
    x: &Expansion,
    motion: Motion,
    tau: f64,
) -> Flows {
    if x.order == SHORT
        && let Motion::Free { negative } = motion
        && let Some(flows) = short_flows(plant, branches, x, negative, tau)
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
        flows_at(plant, branches, x, motion, tau, &gauss::TEN)
    } else {
        flows_at(plant, branches, x, motion, tau, &gauss::THREE)
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
    tau: f64,
) -> Option<Flows> {
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
        let half = 0.5 * tau;
        let (mut aa, mut bb, mut cc, mut charge_a, mut charge_b) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for (node, weight) in gauss::THREE {
            let at = half + half * node;
            let i_a = poly::value(a, SHORT, at);
            aa += weight * i_a * i_a;
            charge_a += weight * i_a;
            if n_connected == 3 {
                let i_b = poly::value(b, SHORT, at);
                let i_c = i_a + i_b;
                bb += weight * i_b * i_b;
                cc += weight * i_c * i_c;
                charge_b += weight * i_b;
            }
        }
        if n_connected == 2 {
            (bb, charge_b) = (aa, -charge_a);
        }
        let half_s = half * x.length_s;
        out.copper_j = half_s * plant.lead_resistance_ohm * (aa + bb + cc);
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
        out.bridge_j = half_s * bridge;
        out.supply_charge_as = half_s * supply;
        out.supply_j = plant.supply_v * out.supply_charge_as;
        out.bridge_input_j = out.supply_j;
    }
    let direction = if negative { -1.0 } else { 1.0 };
    let angle = (poly::value(&x.phi, SHORT, tau) - x.phi[0]) / plant.pole_pairs;
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

/// Whether the square of a series bends too much for three points.
///
/// They are exact to the fifth order and leave some 1/2800 of the coefficient of the sixth,
/// which in a square is 2 c₁c₅ + 2 c₂c₄ + c₃²; with these bounds that is below 1e-8 of the
/// square of the first three coefficients' sum.
#[inline(always)]
fn bends(series: &Series, order: usize) -> bool {
    let low = series[0].abs() + series[1].abs() + series[2].abs();
    let mut high = 0.0;
    if order == SHORT {
        for coefficient in &series[4..=SHORT] {
            high += coefficient.abs();
        }
    } else {
        for coefficient in &series[4..=order.max(4)] {
            high += coefficient.abs();
        }
    }
    high > 1e-5 * low || series[3].abs() > 1e-3 * low
}

#[inline(always)]
fn flows_at<const N: usize>(
    plant: &Plant,
    branches: &Branches,
    x: &Expansion,
    motion: Motion,
    tau: f64,
    nodes: &[(f64, f64); N],
) -> Flows {
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
            let angle =
                (poly::value(&x.phi, x.mechanical_order, tau) - x.phi[0]) / plant.pole_pairs;
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
mod gauss {
    pub(super) const THREE: [(f64, f64); 3] = [
        (-0.774_596_669_241_483_4, 0.555_555_555_555_555_6),
        (0.0, 8.0 / 9.0),
        (0.774_596_669_241_483_4, 0.555_555_555_555_555_6),
    ];
    pub(super) const TEN: [(f64, f64); 10] = [
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

/// Integral of the product of two series from 0 to τ: every product term where the series are
/// long, those up to their order where it is at most 8 (the rest is below the tolerance).
fn integral_of_product(a: &Series, b: &Series, order: usize, tau: f64) -> f64 {
    let mut sum = 0.0;
    if order > 8 {
        for m in (order + 1..=2 * order).rev() {
            let mut term = 0.0;
            for j in m - order..=order {
                term += a[j] * b[m - j];
            }
            #[expect(clippy::cast_precision_loss, reason = "at most 41")]
            let rank = (m + 1) as f64;
            sum = sum * tau + term / rank;
        }
    }
    for m in (0..=order).rev() {
        sum = sum * tau + poly::product(a, b, m) * INVERSE_RANK[m + 1];
    }
    sum * tau
}

/// Lowest and highest value of a series between two τ.
fn range(c: &Series, order: usize, from: f64, to: f64) -> (f64, f64) {
    let (at_from, at_to) = (poly::value(c, order, from), poly::value(c, order, to));
    let (mut low, mut high) = (at_from.min(at_to), at_from.max(at_to));
    let mut bend = 0.0;
    for k in 2..=order {
        bend += poly::RANK[k] * c[k].abs();
    }
    if c[1].abs() > bend {
        return (low, high);
    }
    // shift to the start, then walk from turning point to turning point
    let slope: Series = std::array::from_fn(|k| {
        if k < MAX_ORDER + 1 {
            poly::RANK[k + 1] * c[k + 1]
        } else {
            0.0
        }
    });
    let top = order.saturating_sub(1);
    let mut noise = 0.0;
    for coefficient in &slope[..=top] {
        noise += 1e-13 * coefficient.abs();
    }
    let mut start = from;
    for _ in 0..order {
        let shifted = shift(&slope, top, start);
        let rising = poly::leaving_sign(&shifted, top, noise);
        if rising == 0 {
            break;
        }
        let falling: Series = std::array::from_fn(|k| f64::from(rising) * shifted[k]);
        let Some(turn) =
            poly::first_crossing(&falling, top, to - start, noise).filter(|&turn| turn > 0.0)
        else {
            break;
        };
        start += turn;
        if start >= to {
            break;
        }
        let at = poly::value(c, order, start);
        low = low.min(at);
        high = high.max(at);
    }
    (low, high)
}

/// A series about another point of τ.
fn shift(c: &Series, order: usize, by: f64) -> Series {
    let mut out = *c;
    for level in 0..order {
        for k in (level..order).rev() {
            out[k] += by * out[k + 1];
        }
    }
    out
}
