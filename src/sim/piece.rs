//! A piece of a run: the solution between two events, to be read at any instant of it.

use super::Path;
use super::Sample;
use super::bridge::Branches;
use super::expansion::Expansion;
use super::flows::{self, End, Flows};
use super::plant::{self, Plant};
use super::poly::{self, MAX_ORDER, Series};
use super::state::{Motion, State};
use crate::drive::{LegState, steps};

/// The solution between two events.
#[derive(Clone, Copy, Debug)]
pub struct Piece<'a> {
    pub(super) plant: &'a Plant,
    pub(super) branches: &'a Branches,
    pub(super) expansion: &'a Expansion,
    /// State at the start.
    pub(super) state: &'a State,
    /// What flows in all of it.
    pub(super) flows: &'a Flows,
    /// Part of the expansion that was used, 0 to 1.
    pub(super) end_tau: f64,
    pub(super) end_s: f64,
    pub(super) step_count: i64,
    pub(super) legs: [LegState; 3],
}

/// Up to this order the rule of six points does for what is measured.
const GENTLE_ORDER: usize = 8;

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
        let line = self.line_currents(poly::value(&x.free[0], order, tau), || {
            poly::value(&x.free[1], order, tau)
        });
        let loop_current = poly::value(&x.loop_current, order, tau);
        let shape = self.plant.shape_at(self.state, phi);
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

    /// Currents of the legs from the free ones.
    #[inline]
    fn line_currents(&self, first_a: f64, second_a: impl FnOnce() -> f64) -> [f64; 3] {
        let b = self.branches;
        let mut line = [0.0; 3];
        if b.n_free > 0 {
            let second_a = if b.n_free == 2 { second_a() } else { -first_a };
            line[b.pair.0] = first_a;
            line[b.pair.1] = second_a;
            if b.n_free == 2 {
                line[b.third] = -(first_a + second_a);
            }
        }
        line
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
        let tau = self.tau(time_s);
        let plain = self.plant.is_plain(self.state.motion);
        for_circuit!((plain, self.branches.n_free), self.flows_as(tau))
    }

    /// Flows over the whole piece.
    #[must_use]
    pub const fn flows(&self) -> Flows {
        *self.flows
    }

    #[inline(never)]
    fn flows_as<const N: usize, const PLAIN: bool>(&self, tau: f64) -> Flows {
        let (plant, x) = (self.plant, self.expansion);
        let end = End::new::<N, PLAIN>(plant, x, tau);
        flows::flows::<N, PLAIN>(plant, self.branches, x, self.state.motion, &end)
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

    /// By Gauss's rule of six points, exact to order 11, or of ten, exact to order 19: what a
    /// piece's products have beyond that is below rounding. Of a term of order 12 the rule of six
    /// leaves out 9e-8 ((6!)⁴ / (13 (12!)²): Abramowitz and Stegun, 25.4.30). A piece that eight
    /// orders describe to 1e-10 changes at a rate of some 0.3 over its length (0.3⁹/9! = 5e-11), its
    /// square at twice that: 0.6¹²/12! is 5e-12 of it.
    fn moments_to(&self, tau: f64) -> Moments {
        if tau == 0.0 {
            Moments::default()
        } else if self.expansion.order <= GENTLE_ORDER {
            self.moments_by(&flows::gauss::SIX, tau)
        } else {
            self.moments_by(&flows::gauss::TEN, tau)
        }
    }

    fn moments_by<const N: usize>(&self, rule: &flows::gauss::Rule<N>, tau: f64) -> Moments {
        let mut out = Moments::default();
        let (x, order) = (self.expansion, self.expansion.order);
        let torque = self.torque_series();
        let at = rule.at.map(|node| tau * node);
        let values = |c: &Series, wanted: bool| {
            if wanted {
                poly::values(c, order, &at)
            } else {
                [0.0; N]
            }
        };
        let torque_nm = values(&torque, true);
        let n_free = self.branches.n_free;
        let (first, second) = (
            values(&x.free[0], n_free > 0),
            values(&x.free[1], n_free > 1),
        );
        let loop_a = values(&x.loop_current, self.plant.delta);
        for (k, weight) in rule.weights.into_iter().enumerate() {
            let line = self.line_currents(first[k], || second[k]);
            let mut bridge_a = 0.0;
            for leg in 0..3 {
                bridge_a += self.branches.rail_part[leg] * line[leg];
            }
            let windings = winding_currents(self.plant.delta, line, loop_a[k]);
            out.torque_squared_s += weight * torque_nm[k] * torque_nm[k];
            out.supply_current_squared_s += weight * bridge_a * bridge_a;
            for (sum, current) in out.phase_current_squared_s.iter_mut().zip(windings) {
                *sum += weight * current * current;
            }
        }
        let scale = tau * x.length_s;
        out.torque_squared_s *= scale;
        out.supply_current_squared_s *= scale;
        out.phase_current_squared_s = out.phase_current_squared_s.map(|sum| sum * scale);
        out.torque_nm_s = x.length_s * poly::integral(&torque, order, tau);
        out
    }

    fn torque_series(&self) -> Series {
        let mut torque = self.expansion.em_torque;
        if self.state.motion == Motion::Held {
            torque[0] += self.expansion.cogging[0];
        } else {
            for k in 0..=self.expansion.order {
                torque[k] += self.expansion.cogging[k];
            }
        }
        torque
    }

    fn winding_series(&self) -> [Series; 3] {
        let x = self.expansion;
        let line: [Series; 3] = [0, 1, 2].map(|leg| x.current(self.branches, leg, 1.0));
        if !self.plant.delta {
            return line;
        }
        std::array::from_fn(|leg| {
            std::array::from_fn(|k| {
                x.loop_current[k] + (line[leg][k] - line[(leg + 1) % 3][k]) / 3.0
            })
        })
    }

    /// Lowest and highest electromagnetic plus cogging torque between two instants and of what is
    /// `known` of others, in N m. A piece that cannot reach beyond that is not searched.
    #[must_use]
    pub fn torque_range_nm(&self, from_s: f64, to_s: f64, known: (f64, f64)) -> (f64, f64) {
        let torque = self.torque_series();
        let to = self.tau(to_s);
        let (least, most) = bounds(&torque, self.expansion.order, to);
        if known.0 <= least && most <= known.1 {
            return known;
        }
        let (low, high) = range(&torque, self.expansion.order, self.tau(from_s), to);
        (known.0.min(low), known.1.max(high))
    }

    /// Largest magnitude of any phase winding current between two instants, or what is `known` of
    /// others where that is larger, in A. A current that cannot be larger is not searched.
    #[must_use]
    pub fn phase_current_peak_a(&self, from_s: f64, to_s: f64, known_a: f64) -> f64 {
        let (from, to) = (self.tau(from_s), self.tau(to_s));
        let (x, order) = (self.expansion, self.expansion.order);
        let most = |c: &Series| {
            let (least, most) = bounds(c, order, to);
            most.max(-least)
        };
        // in star the windings carry the free currents, and the third what is left of two
        let within = match self.branches.n_free {
            _ if self.plant.delta => false,
            0 => true,
            1 => most(&x.free[0]) <= known_a,
            _ => most(&x.free[0]) + most(&x.free[1]) <= known_a,
        };
        if within {
            return known_a;
        }
        let mut peak = known_a;
        for series in self.winding_series() {
            if most(&series) > peak {
                let (low, high) = range(&series, order, from, to);
                peak = peak.max(high.max(-low));
            }
        }
        peak
    }
}

/// What a series cannot leave between 0 and τ: its first value, and all other terms to either side,
/// with room for the rounding of its values.
fn bounds(c: &Series, order: usize, tau: f64) -> (f64, f64) {
    let mut reach = 0.0;
    for k in (1..=order).rev() {
        reach = (reach + c[k].abs()) * tau;
    }
    let reach = reach + 1e-14 * (reach + c[0].abs());
    (c[0] - reach, c[0] + reach)
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
