//! What each leg of the bridge connects: switch, diode or nothing.
//!
//! A leg whose gate is on is a resistance to its rail, both ways. A leg with both switches off
//! and current in it conducts through a diode: positive current (into the motor) through the
//! lower, negative through the upper. At zero current it is open while its terminal stays
//! within a diode drop of the rails.

use super::plant::{LeadShape, N_SHAPES, Switch};
use super::shape::{less_mean, of_free_legs};

/// What a leg connects its terminal to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Path {
    /// The upper switch.
    UpperSwitch,
    /// The lower switch.
    LowerSwitch,
    /// The upper diode: current flows out of the motor into the positive rail.
    UpperDiode,
    /// The lower diode: current flows from the negative rail into the motor.
    LowerDiode,
    /// Nothing.
    Open,
}

impl Path {
    /// Whether the path is a diode.
    #[must_use]
    pub const fn is_diode(self) -> bool {
        matches!(self, Self::UpperDiode | Self::LowerDiode)
    }

    /// Whether the path leads to the positive rail.
    #[must_use]
    pub const fn is_upper(self) -> bool {
        matches!(self, Self::UpperSwitch | Self::UpperDiode)
    }
}

/// The circuit of the present paths: terminal voltage v = rail_part · V_dc + offset − ohm · i.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Branches {
    pub(super) path: [Path; 3],
    pub(super) rail_part: [f64; 3],
    pub(super) offset_v: [f64; 3],
    pub(super) ohm: [f64; 3],
    /// Drop of the diode that conducts, 0 where none does.
    pub(super) drop_v: [f64; 3],
    /// The sign that a conducting diode's current keeps, 0 where none conducts.
    pub(super) diode_sign: [f64; 3],
    pub(super) n_connected: usize,
    pub(super) n_diodes: usize,
    /// The first leg that conducts through a diode, and the sign that the first free current keeps
    /// by it where that is the only one.
    pub(super) first_diode: (usize, f64),
    /// The first two connected legs (where there are as many).
    pub(super) pair: (usize, usize),
    /// The leg beside the pair.
    pub(super) third: usize,
    /// Currents that are free to choose: those of all connected legs but the last.
    pub(super) n_free: usize,
    /// The current of each leg, as parts of the free currents.
    pub(super) of_free: [[f64; 2]; 3],
    pub(super) circuit: Circuit,
    /// What is seen of a straight shape in each sixth of a turn; nothing of other shapes.
    pub(super) seen: [Seen; 6],
}

/// What a circuit sees of a straight shape inside one 60° sector: every leg less the mean of the
/// connected ones.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Seen {
    /// Of the free currents' legs.
    pub(super) free: [Straight; 2],
    /// Of the first two legs behind the connected ones.
    pub(super) open: [Straight; 2],
}

/// A straight line over the angle inside a sector.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Straight {
    start: f64,
    pub(super) slope: f64,
}

impl Straight {
    #[inline(always)]
    pub(super) fn at(self, phi_rad: f64) -> f64 {
        self.start + self.slope * phi_rad
    }
}

/// The connected legs in their free currents. The last leg's is minus the sum of the others; the
/// star point follows because the currents' changes sum to zero, so every voltage below is that
/// of a leg less the mean of the connected legs.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Circuit {
    /// Voltage that does not change, in V; the rail's part of it, and the resistances in ohm.
    pub(super) drive_v: [f64; 2],
    pub(super) rail: [f64; 2],
    pub(super) ohm: [[f64; 2]; 2],
    /// Part of each free current that is drawn from the positive rail.
    pub(super) draw: [f64; 2],
    /// The same means for the star point.
    pub(super) mean_v: f64,
    pub(super) mean_rail: f64,
    pub(super) mean_ohm: [f64; 2],
}

/// One part of the connected legs, by the number of free currents. With none, no leg or one may
/// be connected: an open leg's values are zero.
pub(super) const MEAN: [f64; 3] = [1.0, 0.5, 1.0 / 3.0];

impl Branches {
    fn new(path: [Path; 3], switch: Switch, lead_ohm: f64) -> Self {
        let (mut rail_part, mut offset_v, mut ohm, mut drop_v) =
            ([0.0; 3], [0.0; 3], [0.0; 3], [0.0; 3]);
        let mut connected = [3; 3];
        let mut n_connected = 0;
        for leg in 0..3 {
            (rail_part[leg], offset_v[leg], ohm[leg]) = match path[leg] {
                Path::UpperSwitch => (1.0, 0.0, switch.on_ohm),
                Path::LowerSwitch => (0.0, 0.0, switch.on_ohm),
                Path::UpperDiode => (1.0, switch.diode_drop_v, switch.diode_ohm),
                Path::LowerDiode => (0.0, -switch.diode_drop_v, switch.diode_ohm),
                Path::Open => continue,
            };
            drop_v[leg] = offset_v[leg].abs();
            connected[n_connected] = leg;
            n_connected += 1;
        }
        let pair = match n_connected {
            0 => (0, 1),
            1 => (connected[0], (connected[0] + 1) % 3),
            _ => (connected[0], connected[1]),
        };
        let third = 3 - pair.0 - pair.1;
        let n_free = n_connected.saturating_sub(1);
        let legs = [pair.0, pair.1, third];
        let mut of_free = [[0.0; 2]; 3];
        for a in 0..n_free {
            of_free[legs[a]][a] = 1.0;
            of_free[legs[n_free]][a] = -1.0;
        }
        let diode_sign = path.map(|path| match path {
            Path::LowerDiode => 1.0,
            Path::UpperDiode => -1.0,
            Path::UpperSwitch | Path::LowerSwitch | Path::Open => 0.0,
        });
        let first_diode = (0..3)
            .find(|&leg| diode_sign[leg] != 0.0)
            .map_or((0, 0.0), |leg| (leg, diode_sign[leg] * of_free[leg][0]));
        let mut branches = Self {
            path,
            rail_part,
            offset_v,
            ohm,
            drop_v,
            diode_sign,
            first_diode,
            n_connected,
            n_diodes: path.iter().filter(|path| path.is_diode()).count(),
            pair,
            third,
            n_free,
            of_free,
            circuit: Circuit::default(),
            seen: [Seen::default(); 6],
        };
        branches.circuit = branches.in_free_currents(legs, lead_ohm);
        branches
    }

    /// All legs, the connected ones first.
    #[inline(always)]
    pub(super) const fn legs(&self) -> [usize; 3] {
        [self.pair.0, self.pair.1, self.third]
    }

    /// Looks at a sector of a straight shape: its heights at the start, and their slopes.
    fn see(&self, start: &[f64; N_SHAPES], slope: &[f64; N_SHAPES]) -> Seen {
        let legs = [self.pair.0, self.pair.1, self.third];
        let mut seen = Seen::default();
        let (starts, slopes) = (of_free_legs(start, self), of_free_legs(slope, self));
        for a in 0..self.n_free {
            seen.free[a] = Straight {
                start: starts[a],
                slope: slopes[a],
            };
        }
        for (open, &leg) in seen.open.iter_mut().zip(&legs[self.n_connected..]) {
            *open = Straight {
                start: less_mean(start, self, leg),
                slope: less_mean(slope, self, leg),
            };
        }
        seen
    }

    fn in_free_currents(&self, legs: [usize; 3], lead_ohm: f64) -> Circuit {
        let n_free = self.n_free;
        let mean =
            |of: &[f64; 3]| MEAN[n_free] * legs[..=n_free].iter().map(|&leg| of[leg]).sum::<f64>();
        let mut circuit = Circuit {
            mean_v: mean(&self.offset_v),
            mean_rail: mean(&self.rail_part),
            ..Circuit::default()
        };
        let last = legs[n_free];
        for a in 0..n_free {
            circuit.mean_ohm[a] = MEAN[n_free] * (self.ohm[legs[a]] - self.ohm[last]);
        }
        for a in 0..n_free {
            let leg = legs[a];
            circuit.drive_v[a] = self.offset_v[leg] - circuit.mean_v;
            circuit.rail[a] = self.rail_part[leg] - circuit.mean_rail;
            circuit.draw[a] = self.rail_part[leg] - self.rail_part[last];
            for c in 0..n_free {
                circuit.ohm[a][c] = -circuit.mean_ohm[c];
            }
            circuit.ohm[a][a] += lead_ohm + self.ohm[leg];
        }
        circuit
    }
}

/// Ways a leg may go.
const N_PATHS: usize = 5;

/// The circuits of all combinations of paths, made once.
#[derive(Clone, Debug)]
pub(super) struct Circuits(Box<[Branches]>);

impl Circuits {
    pub(super) fn new(switch: Switch, lead_ohm: f64, shape: &LeadShape) -> Self {
        use Path::{LowerDiode, LowerSwitch, Open, UpperDiode, UpperSwitch};
        const PATHS: [Path; N_PATHS] = [UpperSwitch, LowerSwitch, UpperDiode, LowerDiode, Open];
        let mut all = Vec::with_capacity(N_PATHS * N_PATHS * N_PATHS);
        for u in PATHS {
            for v in PATHS {
                for w in PATHS {
                    let mut branches = Branches::new([u, v, w], switch, lead_ohm);
                    if let LeadShape::Linear { start, slope } = shape {
                        branches.seen =
                            std::array::from_fn(|sixth| branches.see(&start[sixth], &slope[sixth]));
                    }
                    all.push(branches);
                }
            }
        }
        Self(all.into_boxed_slice())
    }

    /// Which circuit the given paths make.
    #[inline]
    pub(super) fn idx([u, v, w]: [Path; 3]) -> usize {
        (u as usize * N_PATHS + v as usize) * N_PATHS + w as usize
    }

    /// A circuit by its [`idx`](Self::idx).
    #[inline]
    pub(super) fn at(&self, idx: usize) -> &Branches {
        &self.0[idx]
    }
}
