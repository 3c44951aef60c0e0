//! One smooth piece: the equations of the present topology and the functions to watch.
//!
//! States are scaled: three winding currents, speed, electrical angle gone through since the
//! start of the piece, bridge voltage; then the integrals since the start of the piece.

use super::circuit::{Circuit, Flow, Link, StarFactors};
use super::figures::N_INTEGRALS;
use super::machine::{Machine, Shape, THIRD_OF_TURN, sector_start, trapezoid_in};
use super::{N_STATES, Options};
use std::f64::consts::{FRAC_PI_3, FRAC_PI_6, TAU};
use wyebench::drive::LegState;
use wyebench::setup::{Bench, Setup};

/// What the states are divided by.
#[derive(Clone, Copy, Debug)]
pub struct Scales {
    /// A.
    pub current: f64,
    /// Mechanical rad/s.
    pub speed: f64,
    /// V.
    pub voltage: f64,
    /// N m.
    pub torque: f64,
    /// s, for the integrals.
    pub time: f64,
}

impl Scales {
    /// From the largest the setup can hold.
    pub fn new(setup: &Setup, machine: &Machine) -> Self {
        let benches =
            || std::iter::once(&setup.bench).chain(setup.changes.iter().map(|c| &c.bench));
        let supply = benches().map(|b| b.supply.voltage_v).fold(0.0, f64::max);
        let start = setup.run.start_speed_rad_s.abs();
        let voltage = supply.max(2.0 * machine.k_e * start).max(0.01);
        let speed = if setup.run.hold_speed && start > 0.0 {
            start
        } else {
            start.max(voltage / (2.0 * machine.k_e))
        };
        let switch = setup.bench.drive.switch;
        let impedance = 2.0 * machine.resistance
            + 2.0 * switch.on_resistance_ohm / f64::from(switch.parallel)
            + machine.inductance * 500.0;
        let current = voltage / impedance;
        Self {
            current,
            speed,
            voltage,
            torque: 2.0 * machine.k_e * current,
            time: 1e-4,
        }
    }

    /// What the integrals are divided by, in the order of `figures`.
    fn integrals(&self) -> [f64; N_INTEGRALS] {
        let (i, t) = (self.current, self.time);
        let energy = self.voltage * i * t;
        let mut all = [energy; N_INTEGRALS];
        all[0] = self.torque * t;
        all[1] = self.torque * self.torque * t;
        all[2] = self.torque * t;
        all[3] = i * t;
        for square in &mut all[4..8] {
            *square = i * i * t;
        }
        all
    }
}

/// How the rotor moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Motion {
    /// Positive speed.
    Forward,
    /// Negative speed.
    Backward,
    /// About zero speed, with nothing that could hold it.
    Free,
    /// Held at zero by dry friction and constant load.
    Stuck,
    /// Driven at the start speed.
    Held,
}

/// A function that is positive until something happens.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Watched {
    /// Current of a conducting diode.
    DiodeCurrent(usize),
    /// Terminal of an open leg above the lower diode's limit.
    AboveLow(usize),
    /// Terminal of an open leg below the upper diode's limit.
    BelowHigh(usize),
    /// All legs open: largest voltage between terminals below two drops and the supply.
    AllOpen,
    /// Electrical angle below the next step change.
    StepUp,
    /// Electrical angle above the previous step change.
    StepDown,
    /// Electrical angle below the next EMF corner.
    CornerUp,
    /// Electrical angle above the previous EMF corner.
    CornerDown,
    /// Speed has not yet come to zero.
    Moving,
    /// Torque below what holds the rotor.
    Holding,
    /// Speed still about zero.
    AboutZero,
    /// Mechanical angle not yet (sign +1) or still (−1) below a given one; for the window only.
    Angle,
}

/// Most functions watched at once.
pub const MAX_WATCHED: usize = 12;

/// State in SI units.
#[derive(Clone, Copy, Debug)]
pub struct State {
    /// Winding currents in A.
    pub i: [f64; 3],
    /// Mechanical speed in rad/s.
    pub omega: f64,
    /// Mechanical angle in rad.
    pub theta: f64,
    /// Bridge voltage in V.
    pub v_dc: f64,
}

/// The equations of one topology.
#[derive(Clone, Debug)]
pub struct Piece {
    /// The machine.
    pub machine: Machine,
    /// Its circuit.
    pub circuit: Circuit,
    /// What connects each leg.
    pub links: [Link; 3],
    /// What the gates say.
    pub legs: [LegState; 3],
    /// The step.
    pub step: u8,
    /// How the rotor moves.
    pub motion: Motion,
    /// Supply and load.
    pub bench: Bench,
    /// Sector of the EMF, trapezoid only.
    pub corner_sector: i64,
    /// Sector of the commutation with its offset in electrical rad; `None` by the clock.
    pub step_sector: Option<(i64, f64)>,
    /// Mechanical angle at the start of the piece.
    pub theta0: f64,
    /// Scales of the states.
    pub scales: Scales,
    /// Event margin, scaled.
    pub event_margin: f64,
    /// Target of `Watched::Angle` and the direction in which it is reached.
    pub angle_target: (f64, f64),
    star: Option<StarFactors>,
    positive_rail: [f64; 3],
    theta_elec0: f64,
    corner_x0: f64,
    corner: [(f64, f64); 3],
    integral_scales: [f64; N_INTEGRALS],
    watched: [Watched; MAX_WATCHED],
    n_watched: usize,
}

impl Piece {
    /// A piece with everything still to be filled in by the event loop.
    pub fn new(setup: &Setup, options: &Options) -> Self {
        let machine = Machine::new(&setup.machine);
        let scales = Scales::new(setup, &machine);
        let circuit = circuit_of(&machine, &setup.bench);
        Self {
            circuit,
            links: [Link::Open; 3],
            legs: [LegState::Floating; 3],
            step: 1,
            motion: Motion::Free,
            bench: setup.bench.clone(),
            corner_sector: 0,
            step_sector: None,
            theta0: 0.0,
            scales,
            event_margin: options.event_margin,
            angle_target: (0.0, 1.0),
            star: None,
            positive_rail: [0.0; 3],
            theta_elec0: 0.0,
            corner_x0: 0.0,
            corner: [(0.0, 0.0); 3],
            integral_scales: scales.integrals(),
            watched: [Watched::Angle; MAX_WATCHED],
            n_watched: 0,
            machine,
        }
    }

    /// Takes another bench.
    pub fn set_bench(&mut self, bench: &Bench) {
        self.bench = bench.clone();
        self.circuit = circuit_of(&self.machine, bench);
    }

    /// Torque that holds at standstill and opposes motion, in N m.
    pub fn dry_level(&self) -> f64 {
        self.machine.dry + self.bench.load.constant_nm
    }

    /// Inertia of all that turns, in kg m².
    pub fn inertia(&self) -> f64 {
        self.machine.inertia + self.bench.load.inertia_kg_m2
    }

    /// Sets the angle at the start and what depends on it and on the links, before anything is
    /// asked for.
    pub fn place(&mut self, theta: f64) {
        self.star = self.circuit.star_factors(self.links);
        self.positive_rail = self
            .links
            .map(|link| f64::from(u8::from(link.on_positive_rail())));
        self.theta0 = theta;
        let theta_elec = self.machine.pole_pairs * theta;
        self.theta_elec0 = theta_elec.rem_euclid(TAU);
        self.corner_x0 = theta_elec - sector_start(self.corner_sector) - FRAC_PI_6;
        self.corner = [0, 1, 2].map(|phase| trapezoid_in(self.corner_sector, phase));
    }

    /// Lists what is to be watched in this topology.
    pub fn list_watched(&mut self) {
        self.n_watched = 0;
        let open = self.links.iter().filter(|&&l| l == Link::Open).count();
        for k in 0..3 {
            match self.links[k] {
                Link::DiodeHigh | Link::DiodeLow => self.watch(Watched::DiodeCurrent(k)),
                Link::Open if open < 3 => {
                    self.watch(Watched::AboveLow(k));
                    self.watch(Watched::BelowHigh(k));
                }
                _ => {}
            }
        }
        if open == 3 {
            self.watch(Watched::AllOpen);
        }
        let turning = self.motion != Motion::Stuck;
        let backward = self.motion == Motion::Backward;
        let forward = self.motion == Motion::Forward;
        if turning && self.step_sector.is_some() {
            if !backward {
                self.watch(Watched::StepUp);
            }
            if !forward {
                self.watch(Watched::StepDown);
            }
        }
        if turning && matches!(self.machine.shape, Shape::Trapezoid) {
            if !backward {
                self.watch(Watched::CornerUp);
            }
            if !forward {
                self.watch(Watched::CornerDown);
            }
        }
        match self.motion {
            Motion::Forward | Motion::Backward => self.watch(Watched::Moving),
            Motion::Free => self.watch(Watched::AboutZero),
            Motion::Stuck => self.watch(Watched::Holding),
            Motion::Held => {}
        }
    }

    /// Watches for the target angle and nothing else.
    pub fn watch_angle_only(&mut self, target: f64, direction: f64) {
        self.angle_target = (target, direction);
        self.n_watched = 0;
        self.watch(Watched::Angle);
    }

    fn watch(&mut self, watched: Watched) {
        self.watched[self.n_watched] = watched;
        self.n_watched += 1;
    }

    /// What is watched.
    pub fn watched(&self) -> &[Watched] {
        &self.watched[..self.n_watched]
    }

    /// Scaled states of an SI state; integrals zero.
    pub fn scaled<const N: usize>(&self, state: &State) -> [f64; N] {
        let mut y = [0.0; N];
        for k in 0..3 {
            y[k] = state.i[k] / self.scales.current;
        }
        y[3] = state.omega / self.scales.speed;
        y[4] = self.machine.pole_pairs * (state.theta - self.theta0);
        y[5] = state.v_dc / self.scales.voltage;
        y
    }

    /// SI state of scaled states.
    pub fn state(&self, y: &[f64]) -> State {
        let s = &self.scales;
        State {
            i: [y[0] * s.current, y[1] * s.current, y[2] * s.current],
            omega: y[3] * s.speed,
            theta: self.theta0 + y[4] / self.machine.pole_pairs,
            v_dc: y[5] * s.voltage,
        }
    }

    /// Integrals in SI units of scaled states; empty states give zeros.
    pub fn integrals(&self, y: &[f64]) -> [f64; N_INTEGRALS] {
        let mut all = [0.0; N_INTEGRALS];
        if y.len() > N_STATES {
            for (k, value) in all.iter_mut().enumerate() {
                *value = y[N_STATES + k] * self.integral_scales[k];
            }
        }
        all
    }

    /// Unit EMFs of the three phases, `gone` electrical rad into the piece.
    #[inline]
    fn unit_emf(&self, gone: f64) -> [f64; 3] {
        match &self.machine.shape {
            Shape::Trapezoid => {
                let x = self.corner_x0 + gone;
                self.corner.map(|(middle, slope)| middle + slope * x)
            }
            shape @ Shape::Sines(_) => {
                let x = self.theta_elec0 + gone;
                [0.0, THIRD_OF_TURN, 2.0 * THIRD_OF_TURN].map(|offset| shape.at(x - offset))
            }
        }
    }

    /// EMFs in V.
    #[inline]
    pub fn emf(&self, y: &[f64]) -> [f64; 3] {
        let flux = self.machine.k_e * self.scales.speed * y[3];
        self.unit_emf(y[4]).map(|s| s * flux)
    }

    #[inline]
    fn cogging_torque(&self, gone: f64) -> f64 {
        if self.machine.cogging == 0.0 {
            return 0.0;
        }
        let theta = self.theta0 + gone / self.machine.pole_pairs;
        -self.machine.cogging * libm::sin(self.machine.cogging_order * theta)
    }

    /// Electromagnetic torque and cogging torque in N m.
    #[inline]
    pub fn torques(&self, y: &[f64]) -> (f64, f64) {
        let s = self.unit_emf(y[4]);
        let sum = y[0] * s[0] + y[1] * s[1] + y[2] * s[2];
        (
            sum * self.machine.k_e * self.scales.current,
            self.cogging_torque(y[4]),
        )
    }

    /// The circuit at an instant.
    #[inline]
    pub fn flow(&self, y: &[f64]) -> Flow {
        let c = self.scales.current;
        let i = [y[0] * c, y[1] * c, y[2] * c];
        let v_dc = y[5] * self.scales.voltage;
        self.flow_of(i, self.emf(y), v_dc)
    }

    #[inline]
    fn flow_of(&self, i: [f64; 3], e: [f64; 3], v_dc: f64) -> Flow {
        match &self.star {
            Some(star) => star.flow(i, e, v_dc),
            None => self.circuit.solve(self.links, i, e, v_dc),
        }
    }

    /// Sum of the leg currents from the positive rail in A.
    #[inline]
    pub fn supply_current(&self, lead: [f64; 3]) -> f64 {
        let on = self.positive_rail;
        on[0] * lead[0] + on[1] * lead[1] + on[2] * lead[2]
    }

    /// Sign of motion, and the square of speed with the sign of the load torque that it makes.
    #[inline]
    fn sign_and_square(&self, omega: f64) -> (f64, f64) {
        let sign = match self.motion {
            Motion::Forward => 1.0,
            Motion::Backward => -1.0,
            Motion::Free | Motion::Stuck => 0.0,
            Motion::Held if omega == 0.0 => 0.0,
            Motion::Held => omega.signum(),
        };
        let square = if self.motion == Motion::Free {
            omega * omega.abs()
        } else {
            sign * omega * omega
        };
        (sign, square)
    }

    /// The equations.
    #[inline]
    pub fn rhs(&self, y: &[f64], dy: &mut [f64]) {
        let s = &self.scales;
        let m = &self.machine;
        let load = &self.bench.load;
        let i = [y[0] * s.current, y[1] * s.current, y[2] * s.current];
        let omega = y[3] * s.speed;
        let v_dc = y[5] * s.voltage;
        let unit = self.unit_emf(y[4]);
        let flux = m.k_e * omega;
        let flow = self.flow_of(i, unit.map(|u| u * flux), v_dc);
        let per_l = 1.0 / (m.inductance * s.current);
        for k in 0..3 {
            dy[k] = flow.winding_l_di[k] * per_l;
        }
        let em = m.k_e * (i[0] * unit[0] + i[1] * unit[1] + i[2] * unit[2]);
        let torque = em + self.cogging_torque(y[4]);
        let (sign, square) = self.sign_and_square(omega);
        let viscous = m.viscous * omega;
        dy[3] = match self.motion {
            Motion::Stuck | Motion::Held => 0.0,
            _ => {
                let net = torque
                    - viscous
                    - sign * self.dry_level()
                    - load.gravity_nm
                    - load.quadratic_nm_s2 * square;
                net / (self.inertia() * s.speed)
            }
        };
        dy[4] = if self.motion == Motion::Stuck {
            0.0
        } else {
            m.pole_pairs * omega
        };
        let i_dc = self.supply_current(flow.lead);
        let from_source = match self.bench.supply.source {
            None => {
                dy[5] = 0.0;
                i_dc
            }
            Some(source) => {
                let i_source = (self.bench.supply.voltage_v - v_dc) / source.resistance_ohm;
                dy[5] = (i_source - i_dc) / (source.capacitance_f * s.voltage);
                i_source
            }
        };
        if dy.len() == N_STATES {
            return;
        }
        let load_torque = match self.motion {
            Motion::Held => torque - viscous - sign * m.dry,
            Motion::Stuck => {
                let level = self.dry_level();
                let share = if level > 0.0 {
                    load.constant_nm / level
                } else {
                    0.0
                };
                load.gravity_nm + share * (torque - load.gravity_nm)
            }
            _ => sign * load.constant_nm + load.gravity_nm + load.quadratic_nm_s2 * square,
        };
        let squares = i.map(|i| i * i);
        let mut bridge = 0.0;
        for (link, i) in self.links.iter().zip(flow.lead) {
            bridge += match link {
                Link::SwitchHigh | Link::SwitchLow => self.circuit.switch * i * i,
                Link::DiodeHigh | Link::DiodeLow => {
                    self.circuit.diode_drop * i.abs() + self.circuit.diode_slope * i * i
                }
                Link::Open => 0.0,
            };
        }
        let rates: [f64; N_INTEGRALS] = [
            torque,
            torque * torque,
            load_torque,
            i_dc,
            i_dc * i_dc,
            squares[0],
            squares[1],
            squares[2],
            v_dc * i_dc,
            v_dc * from_source,
            load_torque * omega,
            m.resistance * (squares[0] + squares[1] + squares[2]),
            bridge,
            viscous * omega + m.dry * sign * omega,
        ];
        for k in 0..N_INTEGRALS {
            dy[N_STATES + k] = rates[k] / self.integral_scales[k];
        }
    }

    /// The watched functions, scaled, with the event margin added.
    pub fn watch_values(&self, y: &[f64], out: &mut [f64; MAX_WATCHED]) {
        let s = &self.scales;
        let flow = self.flow(y);
        let v_dc = y[5] * s.voltage;
        let drop = self.circuit.diode_drop;
        for (value, watched) in out.iter_mut().zip(self.watched()) {
            let plain = match *watched {
                Watched::DiodeCurrent(k) if self.links[k] == Link::DiodeLow => {
                    flow.lead[k] / s.current
                }
                Watched::DiodeCurrent(k) => -flow.lead[k] / s.current,
                Watched::AboveLow(k) => (flow.terminal[k] + drop) / s.voltage,
                Watched::BelowHigh(k) => (v_dc + drop - flow.terminal[k]) / s.voltage,
                Watched::AllOpen => flow.all_open_margin / s.voltage,
                Watched::StepUp => -self.past_step(y[4], 1),
                Watched::StepDown => self.past_step(y[4], 0),
                Watched::CornerUp => FRAC_PI_6 - self.corner_x0 - y[4],
                Watched::CornerDown => self.corner_x0 + y[4] + FRAC_PI_6,
                Watched::Moving if self.motion == Motion::Backward => -y[3],
                Watched::Moving => y[3],
                Watched::Holding => (self.dry_level() - self.net_at_rest(y).abs()) / s.torque,
                Watched::AboutZero => 1e-6 - y[3].abs(),
                Watched::Angle => {
                    let (target, direction) = self.angle_target;
                    let theta = self.theta0 + y[4] / self.machine.pole_pairs;
                    direction * (target - theta)
                }
            };
            *value = plain + self.event_margin;
        }
    }

    /// Electrical rad past the lower end of the commutation sector `ahead` of the present one.
    fn past_step(&self, gone: f64, ahead: i64) -> f64 {
        match self.step_sector {
            // The two large numbers first, so that the small one is not rounded with them.
            Some((sector, offset)) => {
                let theta_elec = self.machine.pole_pairs * self.theta0 + offset;
                (theta_elec - sector_start(sector)) - FRAC_PI_3 * ahead as f64 + gone
            }
            None => f64::INFINITY,
        }
    }

    /// Torque that friction must hold at standstill, in N m.
    pub fn net_at_rest(&self, y: &[f64]) -> f64 {
        let (em, cogging) = self.torques(y);
        em + cogging - self.bench.load.gravity_nm
    }

    /// Lowest of the watched functions.
    pub fn least_watched(&self, y: &[f64]) -> f64 {
        let mut values = [f64::INFINITY; MAX_WATCHED];
        self.watch_values(y, &mut values);
        values[..self.n_watched]
            .iter()
            .fold(f64::INFINITY, |least, &v| least.min(v))
    }
}

fn circuit_of(machine: &Machine, bench: &Bench) -> Circuit {
    let switch = &bench.drive.switch;
    Circuit {
        delta: machine.delta,
        resistance: machine.resistance,
        switch: switch.on_resistance_ohm / f64::from(switch.parallel),
        diode_drop: switch.diode_drop_v,
        diode_slope: switch.diode_resistance_ohm,
    }
}
