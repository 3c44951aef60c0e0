//! Events that depend on the state: which comes first in a piece, and what legs at zero
//! current connect.

use std::f64::consts::FRAC_PI_3;

use super::Simulator;
use super::bridge::{Branches, Path};
use super::expansion::Expansion;
use super::poly::{self, MAX_ORDER, Series};
use super::state::Motion;
use crate::drive::LegState;

/// An event found inside a piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Found {
    /// The rotor passed the end of its sector.
    SectorUp,
    /// The rotor passed the start of its sector, going back.
    SectorDown,
    /// The rotor passed the angle at which the step changes.
    ThresholdUp,
    /// The same, going back.
    ThresholdDown,
    /// The current of a leg that conducts through a diode reached zero.
    CurrentZero(usize),
    /// The terminal of an open leg beside connected ones reached the limit of a diode.
    OpenLeg {
        /// The leg.
        leg: usize,
        /// The upper limit; false: the lower.
        upper: bool,
    },
    /// With all legs open, the EMF between two reached the limit of two diodes.
    OpenPair,
    /// The rotor came to rest.
    SpeedZero,
    /// The torque on the resting rotor exceeded dry friction.
    BreakAway {
        /// In the negative direction.
        negative: bool,
    },
}

/// Voltages within this part of full scale of a limit are decided by where they go.
const VOLTAGE_NOISE: f64 = 1e-10;
/// Angles are exact to some bits of a radian.
const ANGLE_NOISE_RAD: f64 = 2e-15;

impl Simulator {
    /// The first event of the present expansion.
    pub(super) fn search(&self) -> Option<(f64, Found)> {
        let mut first = First {
            tau: 1.0,
            found: None,
        };
        self.search_angle(&mut first);
        self.search_legs(&mut first);
        self.search_motion(&mut first);
        first.found.map(|found| (first.tau, found))
    }

    fn search_angle(&self, first: &mut First) {
        let (phi, order) = (&self.expansion.phi, self.expansion.order);
        let spread = poly::spread(phi, order);
        let (low, high) = (phi[0] - spread, phi[0] + spread);
        let threshold = self.threshold.phi_rad.filter(|&at| low <= at && at <= high);
        if low > 0.0 && high < FRAC_PI_3 && threshold.is_none() || spread == 0.0 {
            return;
        }
        if low <= 0.0 {
            first.offer(phi, order, ANGLE_NOISE_RAD, Found::SectorDown);
        }
        if high >= FRAC_PI_3 {
            first.offer(
                &distance(phi, order, FRAC_PI_3, -1.0),
                order,
                ANGLE_NOISE_RAD,
                Found::SectorUp,
            );
        }
        if let Some(at) = threshold {
            let (sign, found) = if self.threshold.past {
                (1.0, Found::ThresholdDown)
            } else {
                (-1.0, Found::ThresholdUp)
            };
            first.offer(
                &distance(phi, order, at, sign),
                order,
                ANGLE_NOISE_RAD,
                found,
            );
        }
    }

    fn search_legs(&self, first: &mut First) {
        let (x, b) = (&self.expansion, &self.branches);
        for leg in 0..3 {
            let sign = match b.path[leg] {
                Path::LowerDiode => 1.0,
                Path::UpperDiode => -1.0,
                Path::UpperSwitch | Path::LowerSwitch => continue,
                Path::Open => {
                    if b.n_connected > 0 {
                        self.search_open_leg(x, leg, first);
                    }
                    continue;
                }
            };
            let current = &x.current[leg];
            let fall = poly::spread(current, x.order);
            let noise = self.current_noise_a(x.length_s);
            if current[0].abs() > fall && current[0].abs() > noise {
                continue;
            }
            first.offer(
                &times(sign, current, x.order),
                x.order,
                noise,
                Found::CurrentZero(leg),
            );
        }
        if b.n_connected == 0 {
            for (a, c) in PAIRS {
                let margin = pair_margin(x, a, c, self.plant.switch.diode_drop_v);
                first.offer(&margin, x.order, self.voltage_noise_v(), Found::OpenPair);
            }
        }
    }

    fn search_open_leg(&self, x: &Expansion, leg: usize, first: &mut First) {
        let drop_v = self.plant.switch.diode_drop_v;
        let noise = self.voltage_noise_v();
        let open = &x.open_terminal[leg];
        let start = open[0];
        let mut spread = noise + poly::spread(open, x.order);
        if self.plant.soft.is_some() {
            spread += poly::spread(&x.bridge_v, x.order);
        }
        if start - spread <= -drop_v {
            first.offer(
                &lower_margin(x, leg, drop_v),
                x.order,
                noise,
                Found::OpenLeg { leg, upper: false },
            );
        }
        if start + spread >= x.bridge_v[0] + drop_v {
            first.offer(
                &upper_margin(x, leg, drop_v, self.plant.soft.is_some()),
                x.order,
                noise,
                Found::OpenLeg { leg, upper: true },
            );
        }
    }

    fn search_motion(&self, first: &mut First) {
        let (x, plant) = (&self.expansion, &self.plant);
        match self.state.motion {
            Motion::Free { negative } => {
                if plant.dry_nm == 0.0 && plant.quadratic_nm_s2 == 0.0 {
                    return;
                }
                if x.speed[0].abs() > poly::spread(&x.speed, x.order) {
                    return;
                }
                let sign = if negative { -1.0 } else { 1.0 };
                let signed = times(sign, &x.speed, x.order);
                let noise = 1e-12 * self.torque_scale_nm() * x.length_s / plant.inertia_kg_m2;
                first.offer(&signed, x.order, noise, Found::SpeedZero);
            }
            Motion::Held => {
                let change = poly::spread(&x.em_torque, x.order);
                let other_nm = x.cogging[0] - plant.gravity_nm;
                if (x.em_torque[0] + other_nm).abs() + change < plant.dry_nm {
                    return;
                }
                let noise = 1e-12 * self.torque_scale_nm();
                for (sign, negative) in [(-1.0, false), (1.0, true)] {
                    let mut margin = times(sign, &x.em_torque, x.order);
                    margin[0] += plant.dry_nm + sign * other_nm;
                    first.offer(&margin, x.order, noise, Found::BreakAway { negative });
                }
            }
            Motion::Driven => {}
        }
    }

    fn voltage_noise_v(&self) -> f64 {
        VOLTAGE_NOISE * self.scales.voltage_v
    }

    /// What a voltage at its noise drives in the given time.
    fn current_noise_a(&self, length_s: f64) -> f64 {
        self.voltage_noise_v() * length_s / self.plant.lead_inductance_h
    }

    /// Decides what every leg connects, from gates and currents.
    ///
    /// Legs whose current is zero and whose gate is off are decided together: the one
    /// combination in which every open leg is within its limits and every diode's current
    /// grows. Where a value stands on its limit, where it goes decides (the first coefficient
    /// that is not noise), which is what makes a diode start that begins with zero slope.
    pub(super) fn resolve(&mut self) {
        let mut path = [Path::Open; 3];
        let mut undecided = [3; 3];
        let mut n_undecided = 0;
        for leg in 0..3 {
            let current = self.state.current_a[leg];
            path[leg] = match self.legs[leg] {
                LegState::High => Path::UpperSwitch,
                LegState::Low => Path::LowerSwitch,
                LegState::Floating if current > 0.0 => Path::LowerDiode,
                LegState::Floating if current < 0.0 => Path::UpperDiode,
                LegState::Floating => {
                    undecided[n_undecided] = leg;
                    n_undecided += 1;
                    Path::Open
                }
            };
        }
        self.branches = Branches::new(path, self.plant.switch);
        if n_undecided == 0 {
            return;
        }
        if n_undecided == 1 && self.branches.n_connected == 2 && self.decide_at_once(undecided[0]) {
            return;
        }
        if n_undecided == 2
            && self.branches.n_connected == 1
            && self.stays_open([undecided[0], undecided[1]])
        {
            return;
        }
        self.work.n_decisions += 1;
        self.compare_candidates(path, &undecided[..n_undecided]);
    }

    /// One leg beside two that conduct: its terminal voltage tells, unless it is on a limit.
    fn decide_at_once(&mut self, leg: usize) -> bool {
        let (plant, b, state) = (&self.plant, &self.branches, &self.state);
        let shape = plant.shape_at(state.sector, state.phi_rad);
        let speed = if state.motion == Motion::Held {
            0.0
        } else {
            state.speed_rad_s
        };
        let mut star_point = 0.0;
        for other in [b.pair.0, b.pair.1] {
            star_point += 0.5
                * (b.rail_part[other] * state.bridge_v + b.offset_v[other]
                    - (b.ohm[other] + plant.lead_resistance_ohm) * state.current_a[other]
                    - speed * shape[other]);
        }
        let terminal = star_point + speed * shape[leg];
        let below = -plant.switch.diode_drop_v - terminal;
        let above = terminal - state.bridge_v - plant.switch.diode_drop_v;
        let noise = self.voltage_noise_v();
        if below.abs() <= noise || above.abs() <= noise {
            return false;
        }
        if below > 0.0 || above > 0.0 {
            let mut path = b.path;
            path[leg] = if below > 0.0 {
                Path::LowerDiode
            } else {
                Path::UpperDiode
            };
            self.branches = Branches::new(path, plant.switch);
        }
        true
    }

    /// Two legs beside one that is connected, no current anywhere: whether both terminals stand
    /// clear of their limits, so that nothing starts.
    fn stays_open(&self, legs: [usize; 2]) -> bool {
        let (plant, b, state) = (&self.plant, &self.branches, &self.state);
        let shape = plant.shape_at(state.sector, state.phi_rad);
        let speed = if state.motion == Motion::Held {
            0.0
        } else {
            state.speed_rad_s
        };
        let connected = b.pair.0;
        let terminal_v = b.rail_part[connected] * state.bridge_v + b.offset_v[connected];
        let noise = self.voltage_noise_v();
        legs.into_iter().all(|leg| {
            let open_v = terminal_v + speed * (shape[leg] - shape[connected]);
            open_v > noise - plant.switch.diode_drop_v
                && open_v < state.bridge_v + plant.switch.diode_drop_v - noise
        })
    }

    /// The terminal of the one open leg ran into a limit: its diode conducts.
    ///
    /// False where more than one leg is at zero current; then all are decided together.
    pub(super) fn start_diode(&mut self, leg: usize, upper: bool) -> bool {
        if self.branches.n_connected != 2 {
            return false;
        }
        let mut path = self.branches.path;
        path[leg] = if upper {
            Path::UpperDiode
        } else {
            Path::LowerDiode
        };
        self.branches = Branches::new(path, self.plant.switch);
        true
    }

    fn compare_candidates(&mut self, path: [Path; 3], undecided: &[usize]) {
        const CHOICES: [Path; 3] = [Path::Open, Path::LowerDiode, Path::UpperDiode];
        let n_candidates = 3_usize.pow(u32::try_from(undecided.len()).unwrap_or(0));
        // long enough that where a value goes stands out from its noise
        let length_s = self
            .length_limit_s()
            .min(0.1 / self.plant.still_rate.max(0.1));
        let mut trial = std::mem::replace(&mut self.trial, Expansion::new());
        let mut best = (i32::MAX, self.branches);
        for candidate in 0..n_candidates {
            let mut trial_path = path;
            let mut digits = candidate;
            for &leg in undecided {
                trial_path[leg] = CHOICES[digits % 3];
                digits /= 3;
            }
            let branches = Branches::new(trial_path, self.plant.switch);
            let has_diode = undecided.iter().any(|&leg| trial_path[leg].is_diode());
            if has_diode && branches.n_connected < 2 {
                continue;
            }
            trial.expand(&self.plant, &branches, &self.state, length_s, &self.scales);
            let violations = self.violations(&trial, &branches, undecided);
            if violations < best.0 {
                best = (violations, branches);
            }
            if violations == 0 {
                break;
            }
        }
        self.branches = best.1;
        self.trial = trial;
    }

    /// How many of a candidate's conditions fail.
    fn violations(&self, x: &Expansion, b: &Branches, undecided: &[usize]) -> i32 {
        let drop_v = self.plant.switch.diode_drop_v;
        let voltage_noise = self.voltage_noise_v();
        let current_noise = self.current_noise_a(x.length_s);
        let fails =
            |series: &Series, noise: f64| i32::from(poly::leaving_sign(series, x.order, noise) < 0);
        let mut count = 0;
        for &leg in undecided {
            count += match b.path[leg] {
                Path::Open if b.n_connected == 0 => 0,
                Path::Open => {
                    fails(&lower_margin(x, leg, drop_v), voltage_noise)
                        + fails(
                            &upper_margin(x, leg, drop_v, self.plant.soft.is_some()),
                            voltage_noise,
                        )
                }
                Path::LowerDiode => {
                    i32::from(poly::leaving_sign(&x.current[leg], x.order, current_noise) <= 0)
                }
                Path::UpperDiode => {
                    i32::from(poly::leaving_sign(&x.current[leg], x.order, current_noise) >= 0)
                }
                Path::UpperSwitch | Path::LowerSwitch => 0,
            };
        }
        if b.n_connected == 0 {
            for (a, c) in PAIRS {
                count += fails(&pair_margin(x, a, c, drop_v), voltage_noise);
            }
        }
        count
    }
}

/// Ordered pairs of legs.
const PAIRS: [(usize, usize); 6] = [(0, 1), (1, 0), (1, 2), (2, 1), (2, 0), (0, 2)];

/// The earliest event offered so far.
struct First {
    tau: f64,
    found: Option<Found>,
}

impl First {
    #[inline]
    fn offer(&mut self, series: &Series, order: usize, noise: f64, found: Found) {
        if let Some(tau) = poly::first_crossing(series, order, self.tau, noise)
            && (tau < self.tau || self.found.is_none())
        {
            self.tau = tau;
            self.found = Some(found);
        }
    }
}

/// sign · series.
#[inline(always)]
fn times(sign: f64, series: &Series, order: usize) -> Series {
    poly::signed(series, order, sign, sign * series[0])
}

/// sign · (series − at).
#[inline(always)]
fn distance(series: &Series, order: usize, at: f64, sign: f64) -> Series {
    poly::signed(series, order, sign, sign * (series[0] - at))
}

/// Terminal voltage of an open leg above the lower limit.
fn lower_margin(x: &Expansion, leg: usize, drop_v: f64) -> Series {
    let mut out = x.open_terminal[leg];
    out[0] += drop_v;
    out
}

/// Terminal voltage of an open leg below the upper limit.
fn upper_margin(x: &Expansion, leg: usize, drop_v: f64, soft: bool) -> Series {
    let open = &x.open_terminal[leg];
    let mut out = poly::signed(open, x.order, -1.0, x.bridge_v[0] - open[0] + drop_v);
    if soft {
        for k in 1..=x.order {
            out[k] += x.bridge_v[k];
        }
    }
    out
}

/// With all legs open: what the EMF between two of them leaves below V_dc + 2 V_d.
fn pair_margin(x: &Expansion, a: usize, b: usize, drop_v: f64) -> Series {
    let mut out = [0.0; MAX_ORDER + 2];
    for k in 0..=x.order {
        out[k] = x.bridge_v[k] - (x.open_terminal[a][k] - x.open_terminal[b][k]);
    }
    out[0] += 2.0 * drop_v;
    out
}
