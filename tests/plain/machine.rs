//! The machine: unit EMF shapes, the phase constant, cogging.

use std::f64::consts::{FRAC_PI_3, FRAC_PI_6, TAU};
use wyebench::setup::{Connection, EmfConstant, EmfShape, MachineSetup};

/// Distance of two phases in electrical angle.
pub const THIRD_OF_TURN: f64 = TAU / 3.0;

/// What of the machine the equations use.
#[derive(Clone, Debug)]
pub struct Machine {
    /// True for delta.
    pub delta: bool,
    /// Phase resistance in ohm.
    pub resistance: f64,
    /// Phase inductance in H.
    pub inductance: f64,
    /// Pole pairs.
    pub pole_pairs: f64,
    /// Phase constant in V s/rad.
    pub k_e: f64,
    /// Unit EMF shape.
    pub shape: Shape,
    /// Rotor inertia in kg m².
    pub inertia: f64,
    /// Viscous friction in N m s/rad.
    pub viscous: f64,
    /// Dry friction in N m.
    pub dry: f64,
    /// Cogging peak in N m.
    pub cogging: f64,
    /// Cogging periods in a turn.
    pub cogging_order: f64,
}

/// Unit EMF shape.
#[derive(Clone, Debug)]
pub enum Shape {
    /// Ideal trapezoid.
    Trapezoid,
    /// Σ aₙ sin(n x).
    Sines(Vec<(f64, f64)>),
}

impl Shape {
    /// s(x) anywhere; the trapezoid with all its corners.
    pub fn at(&self, x: f64) -> f64 {
        match self {
            Self::Trapezoid => {
                let turn = x.rem_euclid(TAU);
                // The triangle of height 3 at 90° and -3 at 270°, cut off at ±1.
                let half = if turn < TAU / 2.0 {
                    TAU / 4.0 - (turn - TAU / 4.0).abs()
                } else {
                    (turn - 0.75 * TAU).abs() - TAU / 4.0
                };
                (half / FRAC_PI_6).clamp(-1.0, 1.0)
            }
            Self::Sines(terms) => terms.iter().map(|&(n, a)| a * libm::sin(n * x)).sum(),
        }
    }

    /// Largest magnitude of `f` over a turn, `f` made of this shape.
    fn peak_of(f: impl Fn(f64) -> f64) -> f64 {
        const POINTS: usize = 20_000;
        let spacing = TAU / POINTS as f64;
        let magnitude = |x: f64| f(x).abs();
        let best = (0..POINTS)
            .map(|j| j as f64 * spacing)
            .max_by(|&a, &b| magnitude(a).total_cmp(&magnitude(b)))
            .unwrap_or(0.0);
        // Golden section between the two neighbours of the best point.
        let shrink = 0.5 * (5.0_f64.sqrt() - 1.0);
        let (mut low, mut high) = (best - spacing, best + spacing);
        for _ in 0..80 {
            let (a, b) = (high - shrink * (high - low), low + shrink * (high - low));
            if magnitude(a) > magnitude(b) {
                high = b;
            } else {
                low = a;
            }
        }
        magnitude(0.5 * (low + high)).max(magnitude(best))
    }
}

/// Greatest common divisor.
const fn gcd(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { gcd(b, a % b) }
}

impl Machine {
    /// From the setup.
    pub fn new(setup: &MachineSetup) -> Self {
        let delta = setup.connection == Connection::Delta;
        let shape = match &setup.emf.shape {
            EmfShape::Trapezoid => Shape::Trapezoid,
            EmfShape::Sine => Shape::Sines(vec![(1.0, 1.0)]),
            EmfShape::Harmonics(list) => {
                Shape::Sines(list.iter().map(|&(n, a)| (f64::from(n), a)).collect())
            }
            EmfShape::Computed(_) => unreachable!("no plain case is computed"),
        };
        let k_e = match setup.emf.constant {
            EmfConstant::PhaseVsPerRad(k_e) => k_e,
            EmfConstant::Computed => unreachable!("no plain case is computed"),
            EmfConstant::KvRadPerVs(kv) => {
                let line_peak = match (&setup.emf.shape, delta) {
                    (EmfShape::Trapezoid, false) => 2.0,
                    (EmfShape::Sine, false) => 3.0_f64.sqrt(),
                    (EmfShape::Trapezoid | EmfShape::Sine, true) => 1.0,
                    (_, false) => Shape::peak_of(|x| shape.at(x) - shape.at(x - THIRD_OF_TURN)),
                    (_, true) => Shape::peak_of(|x| shape.at(x)),
                };
                1.0 / (kv * line_peak)
            }
        };
        let order = setup.slots / gcd(setup.slots, setup.poles) * setup.poles;
        Self {
            delta,
            resistance: setup.phase_resistance_ohm.expect("a plain case gives it"),
            inductance: setup.phase_inductance_h.expect("a plain case gives it"),
            pole_pairs: f64::from(setup.poles / 2),
            k_e,
            shape,
            inertia: setup.rotor_inertia_kg_m2,
            viscous: setup.viscous_friction_nm_s,
            dry: setup.dry_friction_nm,
            cogging: setup.cogging_peak_nm.expect("a plain case gives it"),
            cogging_order: f64::from(order),
        }
    }
}

/// The sixth of an electrical turn that holds an angle, counted from 30°; not wrapped.
pub fn sector_of(theta_elec: f64) -> i64 {
    ((theta_elec - FRAC_PI_6) / FRAC_PI_3).floor() as i64
}

/// Lower end of a sector in electrical rad.
pub fn sector_start(sector: i64) -> f64 {
    FRAC_PI_6 + FRAC_PI_3 * sector as f64
}

/// The trapezoid's value in the middle of a sector and its slope there, for one phase
/// (0, 1, 2), the sector counted from θe = 30°.
pub fn trapezoid_in(sector: i64, phase: usize) -> (f64, f64) {
    match (sector - 2 * phase as i64).rem_euclid(6) {
        0 | 1 => (1.0, 0.0),
        2 => (0.0, -1.0 / FRAC_PI_6),
        3 | 4 => (-1.0, 0.0),
        _ => (0.0, 1.0 / FRAC_PI_6),
    }
}
