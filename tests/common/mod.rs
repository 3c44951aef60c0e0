//! Machines and bridges that several tests draw.

use wyebench::drive::LegState::{Floating, High, Low};
use wyebench::scene::{Scene, Theme, bridge, machine};
use wyebench::setup::{Connection, Construction};
use wyebench::winding::{CoilSide, Winding};

/// Two layers of tooth coils as the winding room lays them out.
fn tooth_coils(slots: u32, poles: u32) -> Vec<[Option<CoilSide>; 2]> {
    let winding = Winding::lay_out(slots, poles, 2, 1).unwrap();
    (0..slots)
        .map(|slot| {
            let sides = winding.sides_in_slot(slot);
            [sides.first().copied(), sides.get(1).copied()]
        })
        .collect()
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
            words: wyebench::scene::Width::Points(13.0),
        };
        (name.to_owned(), bridge::bridge(&view, theme))
    })
    .collect()
}
