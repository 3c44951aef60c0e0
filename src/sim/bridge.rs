//! What each leg of the bridge connects: switch, diode or nothing.
//!
//! A leg whose gate is on is a resistance to its rail, both ways. A leg with both switches off
//! and current in it conducts through a diode: positive current (into the motor) through the
//! lower, negative through the upper. At zero current it is open while its terminal stays
//! within a diode drop of the rails.

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
    pub(super) n_connected: usize,
    /// The first two connected legs (where there are as many).
    pub(super) pair: (usize, usize),
    /// The leg beside the pair.
    pub(super) third: usize,
}

impl Branches {
    pub(super) fn new(path: [Path; 3], switch: super::plant::Switch) -> Self {
        let mut branches = Self {
            path,
            rail_part: [0.0; 3],
            offset_v: [0.0; 3],
            ohm: [0.0; 3],
            n_connected: 0,
            pair: (0, 1),
            third: 2,
        };
        let mut connected = [3; 3];
        for leg in 0..3 {
            let (rail_part, offset_v, ohm) = match path[leg] {
                Path::UpperSwitch => (1.0, 0.0, switch.on_ohm),
                Path::LowerSwitch => (0.0, 0.0, switch.on_ohm),
                Path::UpperDiode => (1.0, switch.diode_drop_v, switch.diode_ohm),
                Path::LowerDiode => (0.0, -switch.diode_drop_v, switch.diode_ohm),
                Path::Open => continue,
            };
            branches.rail_part[leg] = rail_part;
            branches.offset_v[leg] = offset_v;
            branches.ohm[leg] = ohm;
            connected[branches.n_connected] = leg;
            branches.n_connected += 1;
        }
        branches.pair = match branches.n_connected {
            0 => (0, 1),
            1 => (connected[0], (connected[0] + 1) % 3),
            _ => (connected[0], connected[1]),
        };
        branches.third = 3 - branches.pair.0 - branches.pair.1;
        branches
    }
}
