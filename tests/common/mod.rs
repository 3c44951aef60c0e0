//! Machines and bridges that several tests draw.

use wyebench::drive::LegState::{Floating, High, Low};
use wyebench::scene::{Scene, Theme, bridge, machine};
use wyebench::setup::{Connection, Construction};
use wyebench::winding::{CoilSide, Phase};

/// Balanced tooth coils, shared out by the sixths of the star of slots.
pub(crate) fn tooth_coils(slots: u32, poles: u32) -> Vec<[Option<CoilSide>; 2]> {
    let mut sides = vec![[None; 2]; slots as usize];
    for tooth in 0..slots {
        let sixth = (u64::from(tooth) * u64::from(poles / 2) * 6 / u64::from(slots)) % 6;
        let (phase, towards_viewer) = [
            (Phase::U, true),
            (Phase::W, false),
            (Phase::V, true),
            (Phase::U, false),
            (Phase::W, true),
            (Phase::V, false),
        ][sixth as usize];
        sides[tooth as usize][1] = Some(CoilSide {
            phase,
            towards_viewer,
        });
        let next = ((tooth + 1) % slots) as usize;
        sides[next][0] = Some(CoilSide {
            phase,
            towards_viewer: !towards_viewer,
        });
    }
    sides
}

/// Machines of both kinds, few slots and many.
pub(crate) fn machines(theme: &Theme) -> Vec<(String, Scene)> {
    [
        (Construction::Outrunner, 12, 14, Connection::Star),
        (Construction::Inrunner, 12, 10, Connection::Delta),
        (Construction::Inrunner, 9, 6, Connection::Star),
        (Construction::Outrunner, 72, 80, Connection::Star),
    ]
    .into_iter()
    .map(|(construction, slots, poles, connection)| {
        let sides = tooth_coils(slots, poles);
        let view = machine::MachineView {
            construction,
            poles,
            sides: &sides,
            coil_span: 1,
            connection,
            geometry: None,
            theta_mech_rad: 0.9 / f64::from(poles / 2),
            phase_current_a: [2.1, -1.6, -0.5],
            full_current_a: 2.5,
        };
        (
            format!("{construction:?} {slots}/{poles}"),
            machine::machine(&view, theme),
        )
    })
    .collect()
}

/// A step with its freewheel, and a chopped off time.
pub(crate) fn bridges(theme: &Theme) -> Vec<(String, Scene)> {
    [
        (
            "step with freewheel",
            [High, Low, Floating],
            [3.0, -2.2, -0.8],
            true,
        ),
        (
            "off time",
            [Floating, Low, Floating],
            [2.0, -2.0, 0.0],
            false,
        ),
    ]
    .into_iter()
    .map(|(name, legs, lead_a, capacitor)| {
        let flows = bridge::Flows::new(legs, lead_a, None);
        let mut travel = bridge::Travel::default();
        travel.advance(&flows, 0.05);
        let view = bridge::BridgeView {
            legs,
            flows,
            travel,
            capacitor,
            source_words: "11.1 V",
            full_current_a: 4.0,
        };
        (name.to_owned(), bridge::bridge(&view, theme))
    })
    .collect()
}
