//! The current of a motor whose shaft is held.

use super::build::Build;
use crate::analysis::{Figure, Group, Input, Unit};

use super::figures::POWER_BALANCE;

/// A motor whose shaft is held while its controller is fully on and limits nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Locked {
    /// Through two phases, two switches and the pack, in A.
    pub current_a: f64,
}

impl Locked {
    /// The locked motor of a build: I = U/(R + 2 R_on/n + R_pack), Ohm's law with all parts cold.
    ///
    /// No inductance, since it lasts, and no limit: what flows where nobody sets one.
    #[must_use]
    pub fn of(build: &Build) -> Self {
        let on_ohm =
            2.0 * build.controller.on_resistance_ohm / f64::from(build.controller.parallel);
        let ohm = build.motor.line_resistance_ohm + on_ohm + build.pack.resistance_ohm;
        Self {
            current_a: build.pack.voltage_v / ohm,
        }
    }

    /// The parts whose largest lasting current it passes, and that current in A.
    #[must_use]
    pub fn passed(&self, build: &Build) -> Vec<(&'static str, f64)> {
        let limits = [
            ("motor", build.motor.current_limit_a),
            ("controller", build.controller.current_limit_a),
            ("pack", build.pack.current_limit_a),
        ];
        let given = limits
            .into_iter()
            .filter_map(|(of, limit_a)| Some((of, limit_a?)));
        given
            .filter(|(_, limit_a)| self.current_a > *limit_a)
            .collect()
    }

    /// As a figure.
    pub(super) fn figure(&self, build: &Build) -> Figure {
        let mut figure = Figure::new(
            (
                "locked_current_a",
                "current with the shaft locked",
                "I_locked",
            ),
            Group::Current,
            (self.current_a, Unit::AMPERE),
            "U / ( R + 2 · R_on / n_par + R_pack )",
            inputs(build),
            POWER_BALANCE,
        );
        figure.note = "Fully on, at the start or in a jam, where no controller limits it. Warm copper lets less through.";
        figure
    }
}

/// What lies between pack and windings at a standstill, fully on: the voltage and all resistances.
pub(super) fn inputs(build: &Build) -> Vec<Input> {
    let (motor, controller) = (&build.motor, &build.controller);
    vec![
        Input::new("U", "pack at rest", build.pack.voltage_v, Unit::VOLT),
        Input::new(
            "R",
            "between two terminals, cold",
            motor.line_resistance_ohm,
            Unit::OHM,
        ),
        Input::new(
            "R_on",
            "of one MOSFET, cold",
            controller.on_resistance_ohm,
            Unit::OHM,
        ),
        Input::new(
            "n_par",
            "MOSFETs in parallel",
            f64::from(controller.parallel),
            Unit::NUMBER,
        ),
        Input::new(
            "R_pack",
            "of cells and leads",
            build.pack.resistance_ohm,
            Unit::OHM,
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::predict::example_build;

    /// 11.1 V over 90 mΩ, two switches of 1.5 mΩ and 30 mΩ of the pack, by hand.
    #[test]
    fn the_example_locked_by_hand() {
        let build = Build::parse(example_build(), "example").unwrap();
        let locked = Locked::of(&build);
        assert!((locked.current_a - 11.1 / 0.123).abs() < 1e-9, "{locked:?}");
        let passed: Vec<_> = locked
            .passed(&build)
            .into_iter()
            .map(|(of, _)| of)
            .collect();
        assert_eq!(passed, ["motor", "controller", "pack"]);
    }
}
