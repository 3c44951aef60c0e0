//! The commonest circuit, quickly: star, stiff supply, linear shape, no cogging, two or three
//! legs connected, rotor turning.
//!
//! The recurrences are those of [`Expansion::expand`] with everything left out that is zero
//! here, and one thing more: speed and angle change little within a piece, so their series end
//! several orders before those of the currents. From there on the circuit is linear with
//! constant coefficients and an order costs a few multiplications. A property test holds this
//! path against the general one.

use super::bridge::Branches;
use super::expansion::{Expansion, Scales};
use super::plant::{N_SHAPES, Plant};
use super::poly::{INVERSE_RANK, Series, product, square};

/// Orders after which this path gives up and the general one takes over.
const QUICK_ORDERS: usize = 14;

/// What the mechanical recurrence needs, scaled to the piece.
struct Mechanics {
    per_inertia: f64,
    electrical_rate: f64,
    viscous: f64,
    drag: f64,
    still_nm: f64,
    speed_weight: f64,
    tolerance: f64,
}

impl Mechanics {
    fn new(plant: &Plant, scales: &Scales, length_s: f64, negative: bool) -> Self {
        let direction = if negative { -1.0 } else { 1.0 };
        Self {
            per_inertia: length_s / plant.inertia_kg_m2,
            electrical_rate: length_s * plant.pole_pairs,
            viscous: plant.viscous_nm_s,
            drag: direction * plant.quadratic_nm_s2,
            still_nm: direction * plant.dry_nm + plant.gravity_nm,
            speed_weight: 1.0 / scales.speed_rad_s,
            tolerance: scales.tolerance,
        }
    }

    /// Coefficient k + 1 of speed and angle; gives their size.
    #[inline(always)]
    fn advance(&self, speed: &mut Series, phi: &mut Series, torque_nm: f64, k: usize) -> f64 {
        let mut net = torque_nm - self.viscous * speed[k] - self.drag * square(speed, k);
        if k == 0 {
            net -= self.still_nm;
        }
        let next_speed = net * self.per_inertia * INVERSE_RANK[k + 1];
        let next_phi = self.electrical_rate * INVERSE_RANK[k + 1] * speed[k];
        speed[k + 1] = next_speed;
        phi[k + 1] = next_phi;
        (next_speed * self.speed_weight).abs().max(next_phi.abs())
    }
}

/// Lead currents and what of the shape they meet, two legs in series.
pub(super) fn expand_two(
    x: &mut Expansion,
    plant: &Plant,
    b: &Branches,
    scales: &Scales,
    shape: (&[f64; N_SHAPES], &[f64; N_SHAPES]),
    negative: bool,
) -> bool {
    let (start, slope) = shape;
    let (first, second, third) = (b.pair.0, b.pair.1, b.third);
    let length_s = x.length_s;
    let mechanics = Mechanics::new(plant, scales, length_s, negative);
    let bridge_v = x.bridge_v[0];
    let volt = |leg: usize| b.rail_part[leg] * bridge_v + b.offset_v[leg];
    let gain = 0.5 * length_s / plant.lead_inductance_h;
    let (drive_v, common_v) = (volt(first) - volt(second), 0.5 * (volt(first) + volt(second)));
    let ohm = 2.0 * plant.lead_resistance_ohm + b.ohm[first] + b.ohm[second];
    let half_ohm_difference = 0.5 * (b.ohm[first] - b.ohm[second]);
    let (emf_start, emf_slope) = (start[first] - start[second], slope[first] - slope[second]);
    // open terminal: star point plus its EMF
    let open_start = start[third] - 0.5 * (start[first] + start[second]);
    let open_slope = slope[third] - 0.5 * (slope[first] + slope[second]);
    let current_weight = 1.0 / scales.current_a;

    let [u, v, w] = &mut x.current;
    let (current, other, rest) = match (first, second) {
        (0, 1) => (u, v, w),
        (0, 2) => (u, w, v),
        _ => (v, w, u),
    };
    let (speed, phi, open) = (&mut x.speed, &mut x.phi, &mut x.open_terminal[third]);
    let flat = emf_slope == 0.0;
    let mut k = 0;
    let mut was_small = false;
    loop {
        let swept = product(speed, phi, k);
        let mut left = -ohm * current[k] - emf_start * speed[k] - emf_slope * swept;
        let mut terminal = -half_ohm_difference * current[k] + open_start * speed[k] + open_slope * swept;
        if k == 0 {
            left += drive_v;
            terminal += common_v;
        }
        let next = gain * INVERSE_RANK[k + 1] * left;
        open[k] = terminal;
        let mut torque_nm = emf_start * current[k];
        if !flat {
            torque_nm += emf_slope * product(current, phi, k);
        }
        let size = mechanics.advance(speed, phi, torque_nm, k);
        current[k + 1] = next;
        k += 1;
        let small = size <= mechanics.tolerance;
        if small && was_small {
            break;
        }
        was_small = small;
        if k == QUICK_ORDERS {
            return false;
        }
    }
    let n_mechanical = k;
    // mechanics stand still from here: the current alone goes on
    let rate = -gain * ohm;
    while (current[k] * current_weight).abs() > mechanics.tolerance {
        if k == QUICK_ORDERS {
            return false;
        }
        open[k] = -half_ohm_difference * current[k];
        current[k + 1] = rate * INVERSE_RANK[k + 1] * current[k];
        k += 1;
    }
    open[k] = 0.0;
    for order in n_mechanical..=k {
        // the last mechanical coefficients are below the tolerance
        speed[order] = 0.0;
        phi[order] = 0.0;
    }
    for order in 0..=k {
        other[order] = -current[order];
        rest[order] = 0.0;
    }
    x.order = k;
    x.mechanical_order = n_mechanical.min(k);
    true
}

/// The same with three legs connected.
pub(super) fn expand_three(
    x: &mut Expansion,
    plant: &Plant,
    b: &Branches,
    scales: &Scales,
    shape: (&[f64; N_SHAPES], &[f64; N_SHAPES]),
    negative: bool,
) -> bool {
    let (start, slope) = shape;
    let length_s = x.length_s;
    let mechanics = Mechanics::new(plant, scales, length_s, negative);
    let bridge_v = x.bridge_v[0];
    let gain = length_s / plant.lead_inductance_h;
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
    let current_weight = 1.0 / scales.current_a;

    let [u, v, w] = &mut x.current;
    let (speed, phi, ramp) = (&mut x.speed, &mut x.phi, &mut x.ramp_current);
    let mut k = 0;
    let mut was_small = false;
    loop {
        let swept = product(speed, phi, k);
        let mut left_u = -uu * u[k] - uv * v[k] - start_u * speed[k] - slope_u * swept;
        let mut left_v = -vu * u[k] - vv * v[k] - start_v * speed[k] - slope_v * swept;
        if k == 0 {
            left_u += volt_u;
            left_v += volt_v;
        }
        let scale = gain * INVERSE_RANK[k + 1];
        let (next_u, next_v) = (scale * left_u, scale * left_v);
        ramp[k] = torque_slope_u * u[k] + torque_slope_v * v[k];
        let torque_nm = torque_start_u * u[k] + torque_start_v * v[k] + product(ramp, phi, k);
        let size = mechanics.advance(speed, phi, torque_nm, k);
        u[k + 1] = next_u;
        v[k + 1] = next_v;
        k += 1;
        let small = size <= mechanics.tolerance;
        if small && was_small {
            break;
        }
        was_small = small;
        if k == QUICK_ORDERS {
            return false;
        }
    }
    let n_mechanical = k;
    while (u[k].abs().max(v[k].abs())) * current_weight > mechanics.tolerance {
        if k == QUICK_ORDERS {
            return false;
        }
        let scale = -gain * INVERSE_RANK[k + 1];
        let (next_u, next_v) = (scale * (uu * u[k] + uv * v[k]), scale * (vu * u[k] + vv * v[k]));
        u[k + 1] = next_u;
        v[k + 1] = next_v;
        k += 1;
    }
    for order in n_mechanical..=k {
        speed[order] = 0.0;
        phi[order] = 0.0;
    }
    for order in 0..=k {
        w[order] = -(u[order] + v[order]);
    }
    x.order = k;
    x.mechanical_order = n_mechanical.min(k);
    true
}
