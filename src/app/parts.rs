//! What a person points at, in words: its name and its present values.

use super::Shown;
use crate::analysis::{Unit, shown};
use crate::drive::LegState;
use crate::record::Sample;
use crate::scene::bridge::{Way, way};
use crate::scene::machine::{Part, magnet_rad};
use crate::setup::MachineSetup;

/// A part of machine or bridge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Pointed {
    /// A coil side or a magnet.
    Part(Part),
    /// Leg U, V, W as 0, 1, 2.
    Leg(usize),
}

/// Digits of a value.
const DIGITS: usize = 3;
/// Below this, in A, a lead carries nothing that is worth a word.
const NO_CURRENT_A: f64 = 1e-9;

/// All parts that can be pointed at: legs, coil sides slot by slot, magnets.
pub(super) fn all(shown: &Shown) -> Vec<Pointed> {
    let legs = (0..3).map(Pointed::Leg);
    let sides = shown.sides.iter().enumerate().flat_map(|(slot, layers)| {
        let there = (0..2).filter(|layer| layers[*layer].is_some());
        there.map(move |layer| Pointed::Part(Part::CoilSide { slot, layer }))
    });
    let magnets = (0..shown.poles).map(|pole| Pointed::Part(Part::Magnet { pole }));
    legs.chain(sides).chain(magnets).collect()
}

/// What a person calls it: the same at every instant.
pub(super) fn name(pointed: Pointed, shown: &Shown) -> String {
    match pointed {
        Pointed::Leg(leg) => format!("Leg {}", ["U", "V", "W"][leg]),
        Pointed::Part(Part::Magnet { pole }) => {
            let kind = if pole % 2 == 0 { "north" } else { "south" };
            format!("Magnet {} of {}, {kind}", pole + 1, shown.poles)
        }
        Pointed::Part(Part::CoilSide { slot, layer }) => {
            let side = shown.sides.get(slot).and_then(|layers| layers[layer]);
            let Some(side) = side else {
                return "No coil side".to_owned();
            };
            let sign = if side.towards_viewer { "+" } else { "−" };
            let letter = side.phase.letter();
            let tooth = neighbour_tooth(slot, layer, shown);
            format!("Coil side {sign}{letter}, slot {}{tooth}", slot + 1)
        }
    }
}

/// The tooth beside a side of a tooth coil: tooth n lies between slot n and the next.
fn neighbour_tooth(slot: usize, layer: usize, shown: &Shown) -> String {
    if shown.coil_span != 1 {
        return String::new();
    }
    let n_slots = shown.sides.len();
    let tooth = if layer == 1 {
        slot
    } else {
        (slot + n_slots - 1) % n_slots
    };
    format!(", tooth {}", tooth + 1)
}

/// Its present values, each with its name.
pub(super) fn values(
    pointed: Pointed,
    shown_now: &Shown,
    setup: &MachineSetup,
    now: &Sample,
) -> Vec<(&'static str, String)> {
    match pointed {
        Pointed::Leg(leg) => leg_values(leg, now),
        Pointed::Part(Part::Magnet { pole }) => {
            let view = shown_now.view(now, 1.0);
            let degrees = magnet_rad(&view, pole).to_degrees().rem_euclid(360.0);
            let facing = if pole % 2 == 0 { "N" } else { "S" };
            vec![
                ("pole at the gap", facing.to_owned()),
                ("middle at", format!("{degrees:.1}° mechanical")),
            ]
        }
        Pointed::Part(Part::CoilSide { slot, layer }) => {
            let side = shown_now.sides.get(slot).and_then(|layers| layers[layer]);
            side.map_or_else(Vec::new, |side| {
                let current_a = now.phase_current_a[side.phase.idx()];
                let towards = (current_a > 0.0) == side.towards_viewer;
                let way = match (current_a.abs() > NO_CURRENT_A, towards) {
                    (false, _) => "no current",
                    (true, true) => "towards you (dot)",
                    (true, false) => "away from you (cross)",
                };
                let mut values = vec![
                    ("phase", side.phase.letter().to_string()),
                    (
                        "phase current",
                        shown(current_a, Unit::AMPERE, DIGITS).to_string(),
                    ),
                    ("flows", way.to_owned()),
                ];
                values.extend(turns_values(setup, current_a));
                values.push((
                    "EMF of the phase",
                    shown(now.back_emf_v[side.phase.idx()], Unit::VOLT, DIGITS).to_string(),
                ));
                values
            })
        }
    }
}

/// Turns of a coil and what they carry together, where the setup tells them.
fn turns_values(setup: &MachineSetup, current_a: f64) -> Vec<(&'static str, String)> {
    let winding = setup.winding.as_ref();
    let Some((turns, paths)) = winding.and_then(|w| Some((w.turns?, w.parallel_paths))) else {
        return vec![("turns", "not given in the setup".to_owned())];
    };
    let ampere_turns = f64::from(turns) * current_a / f64::from(paths.max(1));
    let words = shown(ampere_turns, Unit::AMPERE, DIGITS).to_string();
    let mut values = vec![("turns of the coil", turns.to_string())];
    if paths > 1 {
        values.push(("parallel paths", paths.to_string()));
    }
    values.push(("turns times current", words));
    values
}

fn leg_values(leg: usize, now: &Sample) -> Vec<(&'static str, String)> {
    let (state, current_a) = (now.legs[leg], now.line_current_a[leg]);
    let gates = match state {
        LegState::High => "1, upper switch on",
        LegState::Low => "0, lower switch on",
        LegState::Floating => "z, both switches off",
    };
    let path = if current_a.abs() <= NO_CURRENT_A {
        "nothing"
    } else {
        match way(state, current_a) {
            Way::UpperSwitch => "the upper switch",
            Way::LowerSwitch => "the lower switch",
            Way::UpperDiode => "the upper diode",
            Way::LowerDiode => "the lower diode",
        }
    };
    vec![
        ("state", gates.to_owned()),
        (
            "terminal voltage",
            shown(now.terminal_v[leg], Unit::VOLT, DIGITS).to_string(),
        ),
        (
            "lead current",
            shown(current_a, Unit::AMPERE, DIGITS).to_string(),
        ),
        ("flows through", path.to_owned()),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::live::tests_support::at_rest;
    use crate::setup::{Setup, built_in};

    #[test]
    fn a_part_has_a_name_and_values() {
        let setup = Setup::parse(built_in(), "built in").unwrap();
        let shown = Shown::new(&setup).unwrap();
        let parts = all(&shown);
        assert_eq!(parts.len(), 3 + 24 + 14);
        // 1 A into U, out of V; slot 1 holds +U and its neighbour (wind 12 14).
        let now = Sample {
            phase_current_a: [1.0, -1.0, 0.0],
            line_current_a: [1.0, -1.0, 0.0],
            ..at_rest()
        };
        let side = Pointed::Part(Part::CoilSide { slot: 0, layer: 1 });
        assert!(name(side, &shown).starts_with("Coil side +U, slot 1, tooth 1"));
        let said = values(side, &shown, &setup.machine, &now);
        assert!(
            said.contains(&("turns times current", "9.00 A".to_owned())),
            "{said:?}"
        );
        assert!(said.contains(&("flows", "towards you (dot)".to_owned())));
        assert_eq!(name(Pointed::Leg(2), &shown), "Leg W");
        let said = values(Pointed::Leg(2), &shown, &setup.machine, &now);
        assert!(said.contains(&("flows through", "nothing".to_owned())));
    }
}
