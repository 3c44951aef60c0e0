//! Events that depend on the state: which comes first in a piece, and what legs at zero
//! current connect.

use std::f64::consts::FRAC_PI_3;

use super::Simulator;
use super::bridge::{Branches, Circuits, Path};
use super::expansion::Expansion;
use super::poly::{self, MAX_ORDER, SHORT, Series, Short, larger};
use super::state::Motion;
use crate::drive::LegState;

/// A leg by its number: 0, 1, 2.
pub(super) type Leg = u8;

/// The number of a leg.
pub(super) fn leg_number(leg: usize) -> Leg {
    [0, 1, 2][leg]
}

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
    CurrentZero(Leg),
    /// The terminal of an open leg beside connected ones reached the limit of a diode.
    OpenLeg {
        /// The leg.
        leg: Leg,
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
    /// Where the present expansion of a circuit ends, 1 at the most, and with which event.
    #[inline(always)]
    pub(super) fn search<const N: usize, const PLAIN: bool>(
        &self,
        b: &Branches,
    ) -> (f64, Option<Found>) {
        let mut first = First {
            tau: 1.0,
            found: None,
        };
        self.search_angle(&mut first);
        self.search_legs::<N, PLAIN>(b, &mut first);
        self.search_motion::<PLAIN>(&mut first);
        (first.tau, first.found)
    }

    #[inline(always)]
    fn search_angle(&self, first: &mut First) {
        let (phi, order) = (&self.expansion.phi, self.expansion.order);
        let (spread, speed) = (&self.expansion.spread, self.expansion.speed[0]);
        let (low, high) = (phi[0] - spread.phi, phi[0] + spread.phi);
        let inside = (low > 0.0) & (high < FRAC_PI_3);
        if inside && self.threshold.phi_rad.is_none() {
            return;
        }
        // a rotor that turns one way all along passes no angle the other way
        let down = (low <= 0.0) & (speed < spread.speed);
        let up = (high >= FRAC_PI_3) & (-speed < spread.speed);
        let threshold = self.threshold.phi_rad.filter(|&at| low <= at && at <= high);
        if !(down | up) && threshold.is_none() || spread.phi == 0.0 {
            return;
        }
        if down {
            first.offer_distance(phi, order, (0.0, 1.0), ANGLE_NOISE_RAD, Found::SectorDown);
        }
        if up {
            let edge = (FRAC_PI_3, -1.0);
            first.offer_distance(phi, order, edge, ANGLE_NOISE_RAD, Found::SectorUp);
        }
        if let Some(at) = threshold {
            let (sign, found) = if self.threshold.past {
                (1.0, Found::ThresholdDown)
            } else {
                (-1.0, Found::ThresholdUp)
            };
            first.offer_distance(phi, order, (at, sign), ANGLE_NOISE_RAD, found);
        }
    }

    #[inline(always)]
    fn search_legs<const N: usize, const PLAIN: bool>(&self, b: &Branches, first: &mut First) {
        let x = &self.expansion;
        if N > 0 && b.n_diodes > 0 {
            let noise = self.current_noise_a(x.length_s);
            if N == 1 {
                // of two diodes both stop at once
                let (leg, sign) = b.first_diode;
                if sign * x.free[0][0] <= larger(x.spread.free[0], noise) {
                    let found = Found::CurrentZero(leg_number(leg));
                    first.offer_distance(&x.free[0], x.order, (0.0, sign), noise, found);
                }
            } else {
                // seldom more than one, often none: asked all at once
                let near = self.near_zero(b, noise);
                if near[0] | near[1] | near[2] {
                    for leg in 0..3 {
                        if near[leg] {
                            first.offer_current(x, b, leg, noise);
                        }
                    }
                }
            }
        }
        // the legs behind the connected ones
        match N {
            0 if b.n_connected == 0 => self.search_open_pairs(first),
            0 => {
                self.search_open_leg::<N, PLAIN>(b, 0, first);
                self.search_open_leg::<N, PLAIN>(b, 1, first);
            }
            1 => self.search_open_leg::<N, PLAIN>(b, 0, first),
            _ => {}
        }
    }

    #[inline(never)]
    fn search_open_pairs(&self, first: &mut First) {
        let x = &self.expansion;
        let open = [0, 1, 2].map(|leg| self.open_terminal(leg));
        for (a, c) in PAIRS {
            let margin = pair_margin(x, &open[a], &open[c], self.plant.switch.diode_drop_v);
            first.offer(&margin, x.order, self.voltage_noise_v(), Found::OpenPair);
        }
    }

    /// Of three connected legs: whether the current of one that conducts through a diode may
    /// reach zero, or stands there.
    #[inline(always)]
    fn near_zero(&self, b: &Branches, noise: f64) -> [bool; 3] {
        let [first, second] = self.expansion.spread.free;
        let fall = [first, second, first + second];
        [0, 1, 2].map(|leg: usize| {
            let sign = b.diode_sign[leg];
            let start = sign * self.state.current_a[leg];
            (sign != 0.0) & (start <= larger(fall[leg], noise))
        })
    }

    #[inline(always)]
    fn search_open_leg<const N: usize, const PLAIN: bool>(
        &self,
        b: &Branches,
        which: usize,
        first: &mut First,
    ) {
        let drop_v = self.plant.switch.diode_drop_v;
        let noise = self.voltage_noise_v();
        let x = &self.expansion;
        let slack = noise + if PLAIN { 0.0 } else { x.spread.bridge_v };
        let (start, most) = x.open_terminal_bound::<N, PLAIN>(&self.plant, b, &self.state, which);
        let (low, high) = (start - most - slack, start + most + slack);
        if (low > -drop_v) & (high < x.bridge_v[0] + drop_v) {
            return;
        }
        self.follow_open_leg(b.legs()[N + 1 + which], slack, first);
    }

    /// An open leg whose terminal may reach a limit.
    #[inline(never)]
    fn follow_open_leg(&self, leg: usize, slack: f64, first: &mut First) {
        let drop_v = self.plant.switch.diode_drop_v;
        let noise = self.voltage_noise_v();
        let x = &self.expansion;
        let open = self.open_terminal(leg);
        let most = slack + poly::spread(&open, x.order);
        if open[0] - most <= -drop_v {
            let margin = lower_margin(&open, drop_v);
            first.offer(
                &margin,
                x.order,
                noise,
                Found::OpenLeg {
                    leg: leg_number(leg),
                    upper: false,
                },
            );
        }
        if open[0] + most >= x.bridge_v[0] + drop_v {
            let margin = upper_margin(x, &open, drop_v, self.plant.soft.is_some());
            let found = Found::OpenLeg {
                leg: leg_number(leg),
                upper: true,
            };
            first.offer(&margin, x.order, noise, found);
        }
    }

    fn open_terminal(&self, leg: usize) -> Series {
        self.expansion
            .open_terminal(&self.plant, self.branches(), &self.state, leg)
    }

    #[inline(always)]
    fn search_motion<const PLAIN: bool>(&self, first: &mut First) {
        let (x, plant) = (&self.expansion, &self.plant);
        match self.state.motion {
            // no plain piece has a rotor that is held or driven
            Motion::Held | Motion::Driven if PLAIN => {}
            Motion::Free { negative } => {
                if x.speed[0].abs() > x.spread.speed {
                    return;
                }
                if plant.dry_nm == 0.0 && plant.quadratic_nm_s2 == 0.0 {
                    return;
                }
                let sign = if negative { -1.0 } else { 1.0 };
                let noise = 1e-12 * self.torque_scale_nm() * x.length_s / plant.inertia_kg_m2;
                first.offer_distance(&x.speed, x.order, (0.0, sign), noise, Found::SpeedZero);
            }
            Motion::Held => {
                let change = poly::spread(&x.em_torque, x.order);
                let other_nm = x.cogging[0] - plant.gravity_nm;
                if (x.em_torque[0] + other_nm).abs() + change < plant.dry_nm {
                    return;
                }
                let noise = 1e-12 * self.torque_scale_nm();
                for (sign, negative) in [(-1.0, false), (1.0, true)] {
                    let start = plant.dry_nm + sign * (x.em_torque[0] + other_nm);
                    let margin: Series = poly::signed(&x.em_torque, x.order, sign, start);
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
        // by table, all legs alike: no jump that a processor cannot foresee
        let path = [0, 1, 2].map(|leg: usize| {
            let current = self.state.current_a[leg];
            let flows = usize::from(current < 0.0) + 2 * usize::from(current > 0.0);
            PATHS[self.legs[leg] as usize][flows]
        });
        self.circuit = Circuits::idx(path);
        let b = self.branches();
        let decided = match b.n_connected {
            3 => true,
            2 => self.decide_at_once(b.third),
            1 => self.stays_open(),
            _ => false,
        };
        if !decided {
            self.work.n_decisions += 1;
            self.compare_candidates(path);
        }
    }

    /// One leg beside two that conduct: its terminal voltage tells, unless it is on a limit.
    fn decide_at_once(&mut self, leg: usize) -> bool {
        let (plant, b, state) = (&self.plant, self.branches(), &self.state);
        let mut terminal = b.circuit.mean_v + b.circuit.mean_rail * state.bridge_v
            - b.circuit.mean_ohm[0] * state.current_a[b.pair.0];
        if state.motion != Motion::Held {
            terminal += state.speed_rad_s * plant.open_shape(b, state, 0);
        }
        let below = -plant.switch.diode_drop_v - terminal;
        let above = terminal - state.bridge_v - plant.switch.diode_drop_v;
        let noise = self.voltage_noise_v();
        if below.abs() <= noise || above.abs() <= noise {
            return false;
        }
        if below > 0.0 || above > 0.0 {
            self.conduct(leg, above > 0.0);
        }
        true
    }

    /// Two legs beside one that is connected, no current anywhere: whether both terminals stand
    /// clear of their limits, so that nothing starts.
    fn stays_open(&self) -> bool {
        let (plant, b, state) = (&self.plant, self.branches(), &self.state);
        let speed = if state.motion == Motion::Held {
            0.0
        } else {
            state.speed_rad_s
        };
        let connected = b.pair.0;
        let terminal_v = b.rail_part[connected] * state.bridge_v + b.offset_v[connected];
        let noise = self.voltage_noise_v();
        [0, 1].into_iter().all(|which| {
            let open_v = terminal_v + speed * plant.open_shape(b, state, which);
            open_v > noise - plant.switch.diode_drop_v
                && open_v < state.bridge_v + plant.switch.diode_drop_v - noise
        })
    }

    /// The terminal of the one open leg ran into a limit: its diode conducts.
    ///
    /// False where more than one leg is at zero current; then all are decided together.
    pub(super) fn start_diode(&mut self, leg: usize, upper: bool) -> bool {
        if self.branches().n_connected != 2 {
            return false;
        }
        self.conduct(leg, upper);
        true
    }

    /// Lets a diode of a leg conduct.
    fn conduct(&mut self, leg: usize, upper: bool) {
        let mut path = self.branches().path;
        path[leg] = if upper {
            Path::UpperDiode
        } else {
            Path::LowerDiode
        };
        self.circuit = Circuits::idx(path);
    }

    #[cold]
    #[inline(never)]
    fn compare_candidates(&mut self, path: [Path; 3]) {
        const CHOICES: [Path; 3] = [Path::Open, Path::LowerDiode, Path::UpperDiode];
        let undecided: Vec<usize> = (0..3).filter(|&leg| path[leg] == Path::Open).collect();
        let undecided = &undecided[..];
        let n_candidates = 3_usize.pow(u32::try_from(undecided.len()).unwrap_or(0));
        // long enough that where a value goes stands out from its noise
        let length_s = self
            .length_limit_s::<false>()
            .min(0.1 / self.plant.still_rate.max(0.1));
        let mut trial = std::mem::replace(&mut self.trial, Expansion::new());
        let mut best = (i32::MAX, path);
        for candidate in 0..n_candidates {
            let mut trial_path = path;
            let mut digits = candidate;
            for &leg in undecided {
                trial_path[leg] = CHOICES[digits % 3];
                digits /= 3;
            }
            let branches = self.plant.circuits.at(Circuits::idx(trial_path));
            let has_diode = undecided.iter().any(|&leg| trial_path[leg].is_diode());
            if has_diode && branches.n_connected < 2 {
                continue;
            }
            trial.expand(&self.plant, branches, &self.state, length_s, &self.scales);
            let violations = self.violations(&trial, branches, undecided);
            if violations < best.0 {
                best = (violations, trial_path);
            }
            if violations == 0 {
                break;
            }
        }
        self.circuit = Circuits::idx(best.1);
        self.trial = trial;
    }

    /// How many of a candidate's conditions fail.
    fn violations(&self, x: &Expansion, b: &Branches, undecided: &[usize]) -> i32 {
        let drop_v = self.plant.switch.diode_drop_v;
        let voltage_noise = self.voltage_noise_v();
        let current_noise = self.current_noise_a(x.length_s);
        let fails =
            |series: &Series, noise: f64| i32::from(poly::leaving_sign(series, x.order, noise) < 0);
        let open = |leg: usize| x.open_terminal(&self.plant, b, &self.state, leg);
        let leaving =
            |leg: usize| poly::leaving_sign(&x.current(b, leg, 1.0), x.order, current_noise);
        let mut count = 0;
        for &leg in undecided {
            count += match b.path[leg] {
                Path::Open if b.n_connected == 0 => 0,
                Path::Open => {
                    let open = open(leg);
                    let upper = upper_margin(x, &open, drop_v, self.plant.soft.is_some());
                    fails(&lower_margin(&open, drop_v), voltage_noise)
                        + fails(&upper, voltage_noise)
                }
                Path::LowerDiode => i32::from(leaving(leg) <= 0),
                Path::UpperDiode => i32::from(leaving(leg) >= 0),
                Path::UpperSwitch | Path::LowerSwitch => 0,
            };
        }
        if b.n_connected == 0 {
            let open = [0, 1, 2].map(open);
            for (a, c) in PAIRS {
                count += fails(&pair_margin(x, &open[a], &open[c], drop_v), voltage_noise);
            }
        }
        count
    }
}

/// What a leg connects by its gate, with no current, current out of the motor, and into it; the
/// last entry has no meaning.
const PATHS: [[Path; 4]; 3] = {
    let mut paths = [[Path::Open; 4]; 3];
    paths[LegState::High as usize] = [Path::UpperSwitch; 4];
    paths[LegState::Low as usize] = [Path::LowerSwitch; 4];

    paths[LegState::Floating as usize] =
        [Path::Open, Path::UpperDiode, Path::LowerDiode, Path::Open];
    paths
};

/// Ordered pairs of legs.
const PAIRS: [(usize, usize); 6] = [(0, 1), (1, 0), (1, 2), (2, 1), (2, 0), (0, 2)];

/// The earliest event offered so far.
struct First {
    tau: f64,
    found: Option<Found>,
}

impl First {
    #[inline(always)]
    fn offer<const LEN: usize>(
        &mut self,
        series: &[f64; LEN],
        order: usize,
        noise: f64,
        found: Found,
    ) {
        if let Some(tau) = poly::first_crossing(series, order, self.tau, noise)
            && (tau < self.tau || self.found.is_none())
        {
            self.tau = tau;
            self.found = Some(found);
        }
    }

    /// Offers sign · (series − at).
    #[inline(never)]
    fn offer_distance(
        &mut self,
        c: &Series,
        order: usize,
        (at, sign): (f64, f64),
        noise: f64,
        found: Found,
    ) {
        let start = sign * (c[0] - at);
        if order == SHORT {
            let short: Short = poly::signed(c, order, sign, start);
            self.offer(&short, order, noise, found);
        } else {
            let series: Series = poly::signed(c, order, sign, start);
            self.offer(&series, order, noise, found);
        }
    }

    /// Offers the current of a leg that conducts through a diode.
    #[inline(never)]
    fn offer_current(&mut self, x: &Expansion, b: &Branches, leg: usize, noise: f64) {
        let (sign, found) = (b.diode_sign[leg], Found::CurrentZero(leg_number(leg)));
        if x.order == SHORT {
            let current: Short = x.current(b, leg, sign);
            self.offer(&current, x.order, noise, found);
        } else {
            let current: Series = x.current(b, leg, sign);
            self.offer(&current, x.order, noise, found);
        }
    }
}

/// Terminal voltage of an open leg above the lower limit.
fn lower_margin(open: &Series, drop_v: f64) -> Series {
    let mut out = *open;
    out[0] += drop_v;
    out
}

/// Terminal voltage of an open leg below the upper limit.
fn upper_margin(x: &Expansion, open: &Series, drop_v: f64, soft: bool) -> Series {
    let mut out: Series = poly::signed(open, x.order, -1.0, x.bridge_v[0] - open[0] + drop_v);
    if soft {
        for k in 1..=x.order {
            out[k] += x.bridge_v[k];
        }
    }
    out
}

/// With all legs open: what the EMF between two of them leaves below V_dc + 2 V_d.
fn pair_margin(x: &Expansion, a: &Series, b: &Series, drop_v: f64) -> Series {
    let mut out = [0.0; MAX_ORDER + 2];
    for k in 0..=x.order {
        out[k] = x.bridge_v[k] - (a[k] - b[k]);
    }
    out[0] += 2.0 * drop_v;
    out
}
