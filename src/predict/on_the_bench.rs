//! What a build could do to people once it is bought and plugged in.

use super::build::Build;
use super::loads::{DOUBTED_TIP_MACH, Propeller};
use super::locked::Locked;
use super::point::Point;
use crate::analysis::caution::{HOT_LEADS_A, Hazards, Told, cautions};
use crate::analysis::{Unit, shown};

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
    found.extend(locked(build));
    if let Some(propeller) = &build.loads.propeller {
        found.extend(turning(propeller, point.speed_rad_s / build.gear.ratio));
    }
    if build.loads.vehicle.is_some() || build.loads.winch.is_some() {
        found.push(
            "What hangs or stands on a slope comes back down when the current goes: a motor is no brake."
                .to_owned(),
        );
    }
    found.extend(cautions(&Hazards {
        told: Told::Prediction,
        supply_voltage_v: build.pack.voltage_v,
        line_back_emf_v: fastest_rad_s / build.motor.kv_rad_per_v_s,
        current_peak_a: point.phase_peak_a,
        heat_w: point.copper_w + point.heat.total_w(),
        speed_rpm: fastest_rad_s * RPM,
        ..Hazards::NONE
    }));
    found
}

/// What flows while the shaft is held, where that is much or more than a part bears.
fn locked(build: &Build) -> Option<String> {
    let locked = Locked::of(build);
    let amperes = |current_a: f64| shown(current_a, Unit::AMPERE, 3);
    let over: Vec<String> = locked
        .passed(build)
        .into_iter()
        .map(|(of, limit_a)| format!("the {of} {}", amperes(limit_a)))
        .collect();
    let beside = if over.is_empty() {
        String::new()
    } else {
        format!(", more than they bear ({})", over.join(", "))
    };
    (locked.current_a >= HOT_LEADS_A || !over.is_empty()).then(|| {
        format!(
            "Locked, jammed or at the start, fully on, {} flow through motor, controller and pack{beside}: seconds of it \
             burn windings, switches and leads unless the controller limits the current. Never hold the shaft; try the \
             first start from a supply that limits.",
            amperes(locked.current_a)
        )
    })
}

/// What a propeller at a speed of its own in rad/s could do.
fn turning(propeller: &Propeller, speed_rad_s: f64) -> Vec<String> {
    let tip_m_s = propeller.tip_m_s(speed_rad_s);
    let mut found = vec![format!(
        "A propeller cuts, and pieces of a broken one fly far: this one turns at {:.0} rpm, its tips at {}. Keep \
         below the speed its maker allows, guard it, stand behind it, and bolt the mount down before the pack is \
         plugged in.",
        speed_rad_s * RPM,
        shown(tip_m_s, Unit::METRE_PER_SECOND, 3)
    )];
    let mach = propeller.tip_mach(speed_rad_s);
    if mach > DOUBTED_TIP_MACH {
        found.push(format!(
            "Tips at {mach:.2} times the speed of sound: few propellers bear that, and one that bursts throws its blades like \
             shot. Above about {DOUBTED_TIP_MACH} of it the coefficients no longer hold either (common practice, no \
             source): less thrust for more power than is predicted here."
        ));
    }
    found
}
