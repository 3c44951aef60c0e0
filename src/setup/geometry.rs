//! Dimensions that cannot hold together.

use std::f64::consts::{PI, TAU};

use super::model::{Construction, GeometrySetup};
use super::units::{Quantity, format_quantity};

/// Widest gap, in pole pitches: e^-12 of the flux is left beyond, and no motor turns by that
/// (common practice, no source).
const MOST_GAP_IN_POLE_PITCHES: f64 = 4.0;

/// A length for a message, to a tenth of a micrometre.
fn length(value_m: f64) -> String {
    format_quantity((value_m * 1e7).round() / 1e7, Quantity::Length)
}

/// What cannot hold together in these dimensions with so many slots and poles; each a sentence
/// without a full stop.
#[must_use]
pub fn geometry_problems(
    geometry: &GeometrySetup,
    construction: Construction,
    slots: u32,
    poles: u32,
) -> Vec<String> {
    let mut problems = Vec::new();
    check(
        geometry,
        construction,
        Some(slots),
        Some(poles),
        |reason, _, _| {
            problems.push(reason);
        },
    );
    problems
}

/// Tells `complain` every contradiction: the reason, the remedy, and the keys in it.
///
/// A length of 0 stands for one that is missing or wrong; that is told elsewhere, and nothing is
/// concluded from it here.
pub(super) fn check(
    g: &GeometrySetup,
    construction: Construction,
    slots: Option<u32>,
    poles: Option<u32>,
    mut complain: impl FnMut(String, &'static str, &[&str]),
) {
    let bore = g.bore_radius_m;
    let rotor_m = g.air_gap_m + g.magnet_thickness_m;
    if construction == Construction::Inrunner {
        if g.air_gap_m > 0.0 && g.magnet_thickness_m > 0.0 && rotor_m >= bore {
            complain(
                format!(
                    "gap and magnets take {} of a bore radius of {}: no rotor is left",
                    length(rotor_m),
                    length(bore)
                ),
                "in an inrunner air_gap and magnet_thickness lie inside bore_radius",
                &["bore_radius", "air_gap", "magnet_thickness"],
            );
        } else if let Some(yoke_m) = g.rotor_yoke_thickness_m
            && rotor_m + yoke_m > bore
        {
            complain(
                format!(
                    "gap, magnets and rotor yoke take {} of a bore radius of {}",
                    length(rotor_m + yoke_m),
                    length(bore)
                ),
                "in an inrunner all three lie inside bore_radius",
                &["bore_radius", "rotor_yoke_thickness"],
            );
        }
    }
    // The flux of a pole falls by e^π for each pole pitch that it has to cross.
    let pole_pitch_m = TAU * bore / f64::from(poles.unwrap_or(2).max(2));
    if g.air_gap_m > MOST_GAP_IN_POLE_PITCHES * pole_pitch_m {
        complain(
            format!(
                "an air gap of {} is more than {MOST_GAP_IN_POLE_PITCHES} pole pitches of {}: next \
                 to no flux crosses it",
                length(g.air_gap_m),
                length(pole_pitch_m)
            ),
            "make air_gap smaller; the pole pitch is the bore's circumference over the poles",
            &["bore_radius", "air_gap"],
        );
    }
    if let (Some(tip_m), Some(depth_m)) = (g.tooth_tip_m, g.slot_depth_m)
        && tip_m >= depth_m
    {
        complain(
            format!(
                "a tooth tip {} deep fills a slot {} deep",
                length(tip_m),
                length(depth_m)
            ),
            "tooth_tip is a part of slot_depth, and smaller",
            &["tooth_tip", "slot_depth"],
        );
    }
    let depth_m = g.slot_depth_m.unwrap_or(0.0);
    if construction == Construction::Outrunner {
        let stator_m = depth_m + g.yoke_thickness_m.unwrap_or(0.0);
        if stator_m >= bore {
            complain(
                format!(
                    "slots and yoke take {} of a stator radius of {}",
                    length(stator_m),
                    length(bore)
                ),
                "in an outrunner slot_depth and yoke_thickness lie inside bore_radius",
                &["bore_radius", "slot_depth", "yoke_thickness"],
            );
            return;
        }
    }
    let Some(slots) = slots.filter(|_| g.slotting) else {
        return;
    };
    let pitch_m = |radius_m: f64| TAU * radius_m / f64::from(slots);
    if let Some(opening_m) = g.slot_opening_m
        && opening_m >= pitch_m(bore)
    {
        complain(
            format!(
                "a slot opening of {} is wider than the slot pitch of {} at the bore",
                length(opening_m),
                length(pitch_m(bore))
            ),
            "the pitch is the bore's circumference over the number of slots",
            &["bore_radius", "slot_opening"],
        );
    }
    if let Some(width_m) = g.tooth_width_m {
        // Parallel-sided teeth crowd together on the smaller radius.
        let radius_m = match construction {
            Construction::Inrunner => bore + g.tooth_tip_m.unwrap_or(0.0),
            Construction::Outrunner => bore - depth_m,
        };
        let room_m = 2.0 * radius_m * libm::sin(PI / f64::from(slots));
        if width_m >= room_m {
            complain(
                format!(
                    "teeth {} wide touch: straight across, the slot pitch is {} where the slot is \
                     narrowest",
                    length(width_m),
                    length(room_m)
                ),
                "make tooth_width smaller, or bore_radius larger",
                &["bore_radius", "tooth_width"],
            );
        }
    }
}
