//! What limits a build first.

use super::build::Build;
use super::point::Point;
use crate::analysis::{Unit, shown};

/// How much of one limit is used.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// Of what: "motor current".
    pub name: &'static str,
    /// What the build asks, in `unit`.
    pub used: f64,
    /// What is allowed, in `unit`.
    pub allowed: f64,
    /// Where nothing of it is used, in `unit`: 0, or the air's temperature.
    pub from: f64,
    /// A, W, Hz, degC.
    pub unit: &'static str,
}

impl Limit {
    /// Part of the limit that is used, counted from where nothing of it is: above 1 it is exceeded.
    /// Infinite where even that is too much, as in air hotter than a junction may be.
    #[must_use]
    pub fn part(&self) -> f64 {
        if self.allowed > self.from {
            (self.used - self.from) / (self.allowed - self.from)
        } else {
            f64::INFINITY
        }
    }

    /// That part in words: "64 %"; of a temperature "6 % up from the air's 25 °C".
    #[must_use]
    pub fn part_in_words(&self) -> String {
        let percent = 100.0 * self.part();
        if self.unit == "degC" && percent.is_finite() {
            let air = shown(self.from, Unit::DEGREE_CELSIUS, 3);
            format!("{percent:.0} % up from the air's {air}")
        } else if percent.is_finite() {
            format!("{percent:.0} %")
        } else {
            "–".to_owned()
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
    let (motor, pack, controller) = (&build.motor, &build.pack, &build.controller);
    let mut found = Vec::new();
    let mut add = |name, used, allowed: Option<f64>, unit| {
        if let Some(allowed) = allowed {
            found.push(Limit {
                name,
                used,
                allowed,
                from: if unit == "degC" {
                    controller.ambient_deg_c
                } else {
                    0.0
                },
                unit,
            });
        }
    };
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

#[cfg(test)]
mod tests {
    use super::*;

    /// 32.2 °C of 150 °C was told as 6 %, counted from 25 °C, in air of 30 °C too.
    #[test]
    fn a_temperature_counts_from_the_air() {
        let mut limit = Limit {
            name: "junction temperature",
            used: 32.2,
            allowed: 150.0,
            from: 25.0,
            unit: "degC",
        };
        assert_eq!(limit.part_in_words(), "6 % up from the air's 25.0 °C");
        limit.from = 30.0;
        assert!(
            (limit.part() - 2.2 / 120.0).abs() < 1e-12,
            "{}",
            limit.part()
        );
        limit.from = 150.0;
        assert!(limit.part() > 1.0);
    }
}
