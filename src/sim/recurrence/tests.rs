//! The series of a piece against the equations they solve, written down again as the
//! conventions have them: phase by phase, without free currents or means taken beforehand.

use std::f64::consts::FRAC_PI_3;

use crate::machine::Machine;
use crate::setup::{Bench, Connection, EmfShape, Setup, SoftSource};
use crate::sim::Path;
use crate::sim::bridge::{Branches, Circuits};
use crate::sim::expansion::{Expansion, Scales};
use crate::sim::plant::{LOOP, Plant, sector_idx};
use crate::sim::poly::{RANK, Series, spread, value};
use crate::sim::recurrence::LONGEST;
use crate::sim::state::{Motion, State};

fn setup() -> (Machine, Bench) {
    let setup = Setup::parse(crate::setup::built_in(), "built-in").unwrap();
    let mut bench = setup.bench;
    bench.drive.switch.diode_resistance_ohm = 3e-3;
    (Machine::new(&setup.machine), bench)
}

/// Star and delta, straight and harmonic, with and without cogging and capacitor, light and
/// heavy.
fn plants() -> Vec<Plant> {
    let mut plants = Vec::new();
    let shapes = [
        EmfShape::Trapezoid,
        EmfShape::Harmonics(vec![(1, 1.0), (3, 0.2), (5, -0.1)]),
    ];
    for shape in shapes {
        for connection in [Connection::Star, Connection::Delta] {
            for soft in [false, true] {
                for cogging_nm in [0.0, 2e-3] {
                    for inertia in [0.0, 2e-3] {
                        let (mut machine, mut bench) = setup();
                        machine.shape = shape.clone();
                        machine.connection = connection;
                        machine.cogging_peak_nm = cogging_nm;
                        bench.load.inertia_kg_m2 = inertia;
                        bench.supply.source = soft.then_some(SoftSource {
                            resistance_ohm: 0.02,
                            capacitance_f: 470e-6,
                        });
                        plants.push(Plant::new(&machine, &bench));
                    }
                }
            }
        }
    }
    plants
}

const CIRCUITS: [([Path; 3], [f64; 3]); 6] = [
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
    ([Path::Open; 3], [0.0; 3]),
];

/// Slope of a series at τ, per τ.
fn slope(c: &Series, order: usize, tau: f64) -> f64 {
    let mut sum = 0.0;
    for k in (1..=order).rev() {
        sum = sum * tau + RANK[k] * c[k];
    }
    sum
}

/// What a series leaves of its equation: slope against right-hand side, relative to `scale`.
struct Judge {
    worst: f64,
    wanted: f64,
}

impl Judge {
    fn see(&mut self, got: f64, want: f64, scale: f64, what: &str, case: &str) {
        let off = (got - want).abs() / scale;
        assert!(
            off <= self.wanted,
            "{what}: {got} for {want}, off {off:.1e}, {case}"
        );
        self.worst = self.worst.max(off);
    }
}

/// Every equation at one instant of a piece.
fn compare(x: &Expansion, plant: &Plant, b: &Branches, state: &State, tau: f64, judge: &mut Judge) {
    let case = format!(
        "{:?} delta {} soft {} cogging {} {:?} order {} length {:e}",
        b.path,
        plant.delta,
        plant.soft.is_some(),
        plant.cogging.is_some(),
        state.motion,
        x.order,
        x.length_s
    );
    let at = |c: &Series| value(c, x.order, tau);
    let rate = |c: &Series| slope(c, x.order, tau) / x.length_s;
    let (speed, phi, bridge_v) = (at(&x.speed), at(&x.phi), at(&x.bridge_v));
    let currents: [Series; 3] = [0, 1, 2].map(|leg| x.current(b, leg, 1.0));
    let current = currents.map(|current| at(&current));
    let shape = plant.shape_at(state, phi);
    let emf = [0, 1, 2].map(|leg: usize| speed * shape[leg]);
    // star point of the connected legs: the voltages on their inductances add up to nothing
    let behind = |leg: usize| {
        b.rail_part[leg] * bridge_v + b.offset_v[leg]
            - (b.ohm[leg] + plant.lead_resistance_ohm) * current[leg]
            - emf[leg]
    };
    let connected: Vec<usize> = (0..3).filter(|&leg| b.path[leg] != Path::Open).collect();
    let mut star_point = 0.0;
    for &leg in &connected {
        star_point += behind(leg) / RANK[connected.len()];
    }
    for leg in 0..3 {
        if b.path[leg] != Path::Open && connected.len() > 1 {
            judge.see(
                plant.lead_inductance_h * rate(&currents[leg]),
                behind(leg) - star_point,
                10.0,
                "current",
                &case,
            );
        } else if connected.len() != 1 || b.path[leg] == Path::Open {
            let open = at(&x.open_terminal(plant, b, state, leg));
            judge.see(open, star_point + emf[leg], 10.0, "open terminal", &case);
        }
    }
    let mut torque = 0.0;
    for leg in 0..3 {
        torque += shape[leg] * current[leg];
    }
    if plant.delta {
        let loop_a = at(&x.loop_current);
        torque += 3.0 * loop_a * shape[LOOP];
        judge.see(
            plant.winding_inductance_h * rate(&x.loop_current),
            -plant.winding_resistance_ohm * loop_a - speed * shape[LOOP],
            10.0,
            "loop",
            &case,
        );
    }
    judge.see(at(&x.em_torque), torque, 0.2, "torque", &case);
    let cogging = plant.cogging_torque_nm(state.sector, phi);
    if state.motion == (Motion::Free { negative: false }) {
        let net = torque + cogging
            - plant.viscous_nm_s * speed
            - plant.quadratic_nm_s2 * speed * speed
            - plant.dry_nm
            - plant.gravity_nm;
        judge.see(
            plant.inertia_kg_m2 * rate(&x.speed),
            net,
            0.2,
            "speed",
            &case,
        );
    } else {
        judge.see(rate(&x.speed), 0.0, 1.0, "fixed speed", &case);
    }
    judge.see(
        rate(&x.phi),
        plant.pole_pairs * speed,
        5000.0,
        "angle",
        &case,
    );
    judge.see(at(&x.cogging), cogging, 0.2, "cogging", &case);
    if let Some((source_ohm, capacitance_f)) = plant.soft {
        let mut drawn = 0.0;
        for leg in 0..3 {
            drawn += b.rail_part[leg] * current[leg];
        }
        judge.see(
            capacitance_f * rate(&x.bridge_v),
            (plant.supply_v - bridge_v) / source_ohm - drawn,
            50.0,
            "capacitor",
            &case,
        );
    }
}

/// Every circuit in every sector, short pieces and the longest, a rotor that turns, one that is
/// driven and one that is held: each series solves its equation all along the piece.
#[test]
fn the_series_solve_the_equations() {
    let mut n_of_order = [0; 21];
    let mut judge = Judge {
        worst: 0.0,
        wanted: 1e-7,
    };
    for plant in plants() {
        let mut scales = Scales::new(1e-11);
        scales.meet(50.0, 1000.0, plant.supply_v);
        for (path, current_a) in CIRCUITS {
            let branches = plant.circuits.at(Circuits::idx(path));
            for sector in 0..6 {
                for motion in [
                    Motion::Free { negative: false },
                    Motion::Driven,
                    Motion::Held,
                ] {
                    for part in [0.02, 0.1, 0.4, 1.0] {
                        let speed_rad_s = if motion == Motion::Held { 0.0 } else { 600.0 };
                        let state = State {
                            time_s: 0.0,
                            current_a,
                            loop_current_a: if plant.delta { 3.0 } else { 0.0 },
                            bridge_v: plant.supply_v - if plant.soft.is_some() { 0.4 } else { 0.0 },
                            speed_rad_s,
                            sector,
                            sixth: sector_idx(sector),
                            phi_rad: 0.3 * FRAC_PI_3,
                            motion,
                        };
                        let length_s = (part * LONGEST
                            / plant.series_rate::<false>(speed_rad_s, motion))
                        .min(1e-4);
                        let mut x = Expansion::new();
                        x.expand(&plant, branches, &state, length_s, &scales);
                        n_of_order[x.order] += 1;
                        assert!(spread(&x.phi, x.order) <= x.spread.phi * (1.0 + 1e-12));
                        for tau in [0.0, 0.3, 0.7, 1.0] {
                            compare(&x, &plant, branches, &state, tau, &mut judge);
                        }
                    }
                }
            }
        }
    }
    // the fewest, those written out, and those that may leave terms of products out
    for orders in [6..7, 8..9, 9..12, 12..21] {
        let n: usize = n_of_order[orders.clone()].iter().sum();
        assert!(n >= 10, "orders {orders:?} were used {n} times");
    }
}
