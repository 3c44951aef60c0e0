//! The same stator with other coils: what turns, wire and connection do to Kv, resistance,
//! inductance and the current it may carry.
//!
//! From a machine measured between two terminals, nothing else about it known. With N turns a
//! coil, copper area A of a turn and everything else alike:
//!
//! ```text
//! Kv ~ 1/N      Kt ~ N      L ~ N²      R ~ N/A     (with the slot as full as before A ~ 1/N, R ~ N²)
//! ```
//!
//! Three windings in delta have a third of the star's resistance and inductance between two
//! terminals. Their Kv is higher by the ratio of the line EMFs: √3 for a sine, 2 for the flat tops
//! of an ideal trapezoid. Kv of a delta counts a winding's own EMF; an instrument between its open
//! leads shows that of a sine as it is, and of the trapezoid 4/3 of its peak (the third harmonic goes
//! round the loop), so that a Kv read there is 3/4 of the one here. (Worked out from the circuit; the rows of
//! `tests/reference/machine_relations.toml` are the check.)
//!
//! ```
//! use wyebench::machine::rewind::{Coils, LineEmf, Measured, rewind};
//! use wyebench::setup::Connection;
//!
//! let measured = Measured { kv_rpm_per_v: 1000.0, line_resistance_ohm: 0.05, line_inductance_h: None,
//!     current_a: Some(20.0), no_load_current_a: None };
//! let coils = |turns| Coils { turns, wire_area_m2: None, connection: Connection::Star };
//! let new = rewind(&measured, &coils(10), &coils(12), LineEmf::Sine);
//! assert!((new.kv_rpm_per_v - 833.333).abs() < 1e-3);
//! assert!((new.line_resistance_ohm - 0.072).abs() < 1e-12);
//! ```

use std::f64::consts::PI;

use crate::setup::Connection;

/// What to mind before a machine that was wound by hand turns. Common practice, no source.
pub const WINDING_CAUTIONS: [&str; 3] = [
    "before the first run, measure from each lead to the iron: nothing may conduct",
    "the first run: from a supply with a current limit, the motor clamped, no propeller; feel for heat",
    "local rules, and the data of wire and varnish, go before these lines",
];

/// What is measured between two terminals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// Speed over peak line-to-line EMF, in rpm/V; above 0.
    pub kv_rpm_per_v: f64,
    /// Between two terminals, in ohm; at least 0.
    pub line_resistance_ohm: f64,
    /// Between two terminals, in H.
    pub line_inductance_h: Option<f64>,
    /// A current that the machine carries for long, in A.
    pub current_a: Option<f64>,
    /// Current without load at some speed, in A.
    pub no_load_current_a: Option<f64>,
}

/// The coils of a stator.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coils {
    /// Turns of one coil, at least 1.
    pub turns: u32,
    /// Copper area of one turn, all strands in hand, in m²; `None` where not known.
    pub wire_area_m2: Option<f64>,
    /// Star or delta.
    pub connection: Connection,
}

/// What the line EMF looks like, for a change of connection.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum LineEmf {
    /// Near a sine, as most machines are: the star's line EMF is √3 of one winding's.
    #[default]
    Sine,
    /// Flat tops of 120°: the star's line EMF is twice one winding's.
    Trapezoid,
}

/// The machine after rewinding.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rewound {
    /// Speed over peak line-to-line EMF, in rpm/V.
    pub kv_rpm_per_v: f64,
    /// Torque per ampere, 60/(2π Kv), in N m/A.
    pub kt_nm_per_a: f64,
    /// Between two terminals, in ohm.
    pub line_resistance_ohm: f64,
    /// Between two terminals, in H.
    pub line_inductance_h: Option<f64>,
    /// The current that heats the copper as much as the measured one did, in A.
    pub current_a: Option<f64>,
    /// Current without load at the same speed, in A.
    pub no_load_current_a: Option<f64>,
    /// Kt over the root of the resistance, against before: torque for the same heat.
    pub torque_per_root_watt: f64,
    /// Copper in the slots against before; 1 where the wires are not both known.
    pub copper: f64,
    /// Whether both wires were known; else the slots are taken as full as before.
    pub wires_known: bool,
}

/// Rewinds a measured machine from one set of coils to another.
#[must_use]
pub fn rewind(measured: &Measured, from: &Coils, to: &Coils, emf: LineEmf) -> Rewound {
    let turns = f64::from(to.turns.max(1)) / f64::from(from.turns.max(1));
    let areas = from.wire_area_m2.zip(to.wire_area_m2);
    let area = areas.map_or(1.0 / turns, |(from, to)| to / from);
    // Of the star over the delta, between two terminals.
    let line_emf = match emf {
        LineEmf::Sine => 3.0_f64.sqrt(),
        LineEmf::Trapezoid => 2.0,
    };
    let (emf_ratio, impedance) = match (from.connection, to.connection) {
        (Connection::Star, Connection::Delta) => (1.0 / line_emf, 1.0 / 3.0),
        (Connection::Delta, Connection::Star) => (line_emf, 3.0),
        _ => (1.0, 1.0),
    };
    let emf_ratio = emf_ratio * turns;
    let resistance = impedance * turns / area;
    let kv_rpm_per_v = measured.kv_rpm_per_v / emf_ratio;
    Rewound {
        kv_rpm_per_v,
        kt_nm_per_a: 30.0 / (PI * kv_rpm_per_v),
        line_resistance_ohm: measured.line_resistance_ohm * resistance,
        line_inductance_h: measured
            .line_inductance_h
            .map(|line| line * impedance * turns * turns),
        // I² R between two terminals is all of the copper loss in six steps, star or delta.
        current_a: measured
            .current_a
            .map(|current| current / resistance.sqrt()),
        // The same torque without load at the same speed.
        no_load_current_a: measured
            .no_load_current_a
            .map(|current| current / emf_ratio),
        torque_per_root_watt: emf_ratio / resistance.sqrt(),
        copper: turns * area,
        wires_known: areas.is_some(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn coils(turns: u32, area: Option<f64>, connection: Connection) -> Coils {
        Coils {
            turns,
            wire_area_m2: area,
            connection,
        }
    }

    const MEASURED: Measured = Measured {
        kv_rpm_per_v: 920.0,
        line_resistance_ohm: 0.09,
        line_inductance_h: Some(36e-6),
        current_a: Some(20.0),
        no_load_current_a: Some(0.8),
    };

    #[test]
    fn there_and_back_is_the_same_machine() {
        let (star, delta) = (Connection::Star, Connection::Delta);
        for emf in [LineEmf::Sine, LineEmf::Trapezoid] {
            let from = coils(9, Some(0.3e-6), star);
            let to = coils(13, Some(0.19e-6), delta);
            let there = rewind(&MEASURED, &from, &to, emf);
            let again = Measured {
                kv_rpm_per_v: there.kv_rpm_per_v,
                line_resistance_ohm: there.line_resistance_ohm,
                line_inductance_h: there.line_inductance_h,
                current_a: there.current_a,
                no_load_current_a: there.no_load_current_a,
            };
            let back = rewind(&again, &to, &from, emf);
            assert!((back.kv_rpm_per_v - 920.0).abs() < 1e-9);
            assert!((back.line_resistance_ohm - 0.09).abs() < 1e-12);
            assert!((back.line_inductance_h.unwrap() - 36e-6).abs() < 1e-15);
            assert!((back.current_a.unwrap() - 20.0).abs() < 1e-12);
        }
    }

    /// The same coils in delta: √3 faster for a sine, a third of the resistance, and the same
    /// torque for the same heat.
    #[test]
    fn delta_is_a_star_of_fewer_turns() {
        let from = coils(9, None, Connection::Star);
        let to = coils(9, None, Connection::Delta);
        let new = rewind(&MEASURED, &from, &to, LineEmf::Sine);
        assert!((new.kv_rpm_per_v / 920.0 - 3.0_f64.sqrt()).abs() < 1e-12);
        assert!((new.line_resistance_ohm - 0.03).abs() < 1e-12);
        assert!((new.torque_per_root_watt - 1.0).abs() < 1e-12);
        assert!((new.current_a.unwrap() - 20.0 * 3.0_f64.sqrt()).abs() < 1e-9);
    }

    /// A thinner wire leaves the slot emptier: Kt stays, heat rises.
    #[test]
    fn a_thinner_wire_costs_torque_for_heat() {
        let from = coils(9, Some(0.4e-6), Connection::Star);
        let to = coils(9, Some(0.3e-6), Connection::Star);
        let new = rewind(&MEASURED, &from, &to, LineEmf::Sine);
        assert!((new.kv_rpm_per_v - 920.0).abs() < 1e-12);
        assert!((new.line_resistance_ohm - 0.12).abs() < 1e-12);
        assert!((new.copper - 0.75).abs() < 1e-12 && new.torque_per_root_watt < 1.0);
    }
}
