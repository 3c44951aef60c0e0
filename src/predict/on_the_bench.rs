//! What a build could do to people once it is bought and plugged in.

use super::build::Build;
use super::point::Point;
use crate::analysis::caution::{Hazards, cautions};

/// rpm of one rad/s.
const RPM: f64 = 30.0 / std::f64::consts::PI;

/// The cautions of a build at a point; `fastest_rad_s` is the speed without load. Common practice,
/// no source; the last one defers to local rules and data sheets.
#[must_use]
pub fn bench_cautions(build: &Build, point: &Point, fastest_rad_s: f64) -> Vec<String> {
    let mut found = vec![
        "A lithium pack that is shorted, dented or charged unwatched can burn: fuse it at the pack, and keep to what \
         its own data sheet bears."
            .to_owned(),
    ];
    if build.loads.propeller.is_some() {
        found.push(
            "A propeller cuts, and pieces of a broken one fly far: guard it, stand behind it, and bolt the mount down \
             before the pack is plugged in."
                .to_owned(),
        );
    }
    if build.loads.vehicle.is_some() || build.loads.winch.is_some() {
        found.push(
            "What hangs or stands on a slope comes back down when the current goes: a motor is no brake."
                .to_owned(),
        );
    }
    found.extend(cautions(&Hazards {
        supply_voltage_v: build.pack.voltage_v,
        line_back_emf_v: fastest_rad_s / build.motor.kv_rad_per_v_s,
        current_peak_a: point.phase_peak_a,
        heat_w: point.copper_w + point.heat.total_w(),
        speed_rpm: fastest_rad_s * RPM,
    }));
    found
}
