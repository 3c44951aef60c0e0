//! What limits a build first.

use super::build::Build;
use super::point::Point;
use crate::analysis::Unit;

/// How much of one limit is used.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// Of what: "motor current".
    pub name: &'static str,
    /// What the build asks, in `unit`.
    pub used: f64,
    /// What is allowed, in `unit`.
    pub allowed: f64,
    /// A, W, Hz, degC.
    pub unit: &'static str,
}

impl Limit {
    /// Part of the limit that is used; above 1 it is exceeded. A temperature counts from 25 °C.
    #[must_use]
    pub fn part(&self) -> f64 {
        if self.unit == "degC" {
            (self.used - 25.0) / (self.allowed - 25.0)
        } else {
            self.used / self.allowed
        }
    }
}

impl Limit {
    /// Its unit as figures have it.
    #[must_use]
    pub fn unit_of_figures(&self) -> Unit {
        match self.unit {
            "A" => Unit::AMPERE,
            "W" => Unit::WATT,
            "Hz" => Unit::HERTZ,
            _ => Unit::DEGREE_CELSIUS,
        }
    }
}

/// Every limit that was given, the fullest first. A junction that runs away stands first, with
/// an infinite temperature.
#[must_use]
pub fn limits(build: &Build, point: &Point) -> Vec<Limit> {
    let mut found = Vec::new();
    let mut add = |name, used, allowed: Option<f64>, unit| {
        if let Some(allowed) = allowed {
            found.push(Limit {
                name,
                used,
                allowed,
                unit,
            });
        }
    };
    let (motor, pack, controller) = (&build.motor, &build.pack, &build.controller);
    add(
        "motor current",
        point.motor_current_a,
        motor.current_limit_a,
        "A",
    );
    add(
        "motor input power",
        point.input_w - point.heat.total_w(),
        motor.power_limit_w,
        "W",
    );
    add(
        "pack current",
        point.pack_current_a,
        pack.current_limit_a,
        "A",
    );
    add(
        "controller current",
        point.motor_current_a,
        controller.current_limit_a,
        "A",
    );
    add(
        "electrical frequency",
        point.electrical_frequency_hz,
        controller.frequency_limit_hz,
        "Hz",
    );
    if controller.thermal_resistance_k_per_w > 0.0 {
        add(
            "junction temperature",
            point.heat.junction_deg_c.unwrap_or(f64::INFINITY),
            Some(controller.junction_limit_deg_c),
            "degC",
        );
    }
    found.sort_by(|a, b| b.part().total_cmp(&a.part()));
    found
}
