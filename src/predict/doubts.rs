//! What a prediction rests on that nobody measured, and where it stops being true.

use super::build::Build;
use super::point::{Point, Prediction};

/// What keeps the figures of a prediction from being taken at their word: an estimated inductance, an
/// averaged model that does not hold, parts that are taken as ideal, limits that nobody gave. One
/// sentence or two each; empty where there is nothing to say.
#[must_use]
pub fn doubts(build: &Build, prediction: &Prediction) -> Vec<String> {
    let mut found: Vec<String> = build.motor.inductance_words().into_iter().collect();
    found.extend(prediction.moving_words(build));
    found.extend(doubts_of_parts(build, &prediction.loaded));
    found
}

/// The same of a point alone, without what is said of the inductance.
#[must_use]
pub fn doubts_of_parts(build: &Build, point: &Point) -> Vec<String> {
    let mut found: Vec<String> = point
        .regime
        .doubt()
        .map(str::to_owned)
        .into_iter()
        .collect();
    found.extend(ideal(build));
    found.extend(unlimited(build));
    found
}

/// Parts of which nothing, or zero, is given.
fn ideal(build: &Build) -> Option<String> {
    let controller = &build.controller;
    let parts = [
        (
            controller.on_resistance_ohm <= 0.0,
            "switches without resistance",
            "controller.on_resistance",
        ),
        (
            controller.diode_drop_v <= 0.0,
            "diodes without a drop",
            "controller.diode_drop",
        ),
        (
            controller.duty < 1.0 && controller.switching_time_s <= 0.0,
            "switching in no time",
            "controller.switching_time",
        ),
        (
            build.pack.resistance_ohm <= 0.0,
            "a pack whose voltage never sags",
            "pack.resistance",
        ),
    ];
    let (names, keys) = told(&parts)?;
    Some(format!(
        "Taken as ideal, since nothing or 0 is given: {names} ({keys}). Real parts lose there: expect less speed, more \
         heat, a shorter run."
    ))
}

/// Limits of which nothing is given, so that nothing is held against them.
fn unlimited(build: &Build) -> Option<String> {
    let (motor, controller) = (&build.motor, &build.controller);
    let parts = [
        (
            motor.current_limit_a.is_none() && motor.power_limit_w.is_none(),
            "the motor's current or power",
            "motor.current_limit, motor.power_limit",
        ),
        (
            build.pack.current_limit_a.is_none(),
            "the pack's current",
            "pack.current_limit",
        ),
        (
            controller.current_limit_a.is_none(),
            "the controller's current",
            "controller.current_limit",
        ),
        (
            controller.thermal_resistance_k_per_w <= 0.0,
            "the junctions' temperature",
            "controller.thermal_resistance",
        ),
    ];
    let (names, keys) = told(&parts)?;
    Some(format!(
        "Taken as unlimited, since nothing is given: {names} ({keys}). Nothing here says whether the parts bear it."
    ))
}

/// Names and keys of what holds, as two lists in words.
fn told(parts: &[(bool, &str, &str)]) -> Option<(String, String)> {
    let held = || parts.iter().filter(|(holds, ..)| *holds);
    held().next()?;
    let names: Vec<&str> = held().map(|(_, name, _)| *name).collect();
    let keys: Vec<&str> = held().map(|(.., key)| *key).collect();
    Some((names.join(", "), keys.join(", ")))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::predict::{example_build, predict};

    fn of(text: &str) -> Vec<String> {
        let build = Build::parse(text, "a test").unwrap();
        doubts(&build, &predict(&build).unwrap())
    }

    #[test]
    fn the_example_leaves_nothing_out() {
        assert_eq!(of(example_build()), Vec::<String>::new());
    }

    /// A build without a controller printed conduction 0 W, switching 0 W and said nothing.
    #[test]
    fn what_is_left_out_is_said() {
        let text = "format = 1\n[motor]\nkv = \"920 rpm/V\"\nline_resistance = \"90 mohm\"\n\
                    line_inductance = \"36 uH\"\npoles = 14\nno_load_current = \"0.6 A\"\n\
                    no_load_voltage = \"10 V\"\n[pack]\nvoltage = \"11.1 V\"\n\
                    [load]\nconstant = \"20 mNm\"\n";
        let found = of(text);
        assert_eq!(found.len(), 2, "{found:?}");
        assert!(
            found[0].starts_with(
                "Taken as ideal, since nothing or 0 is given: switches without resistance, diodes without a drop, \
                 a pack whose voltage never sags"
            ),
            "{found:?}"
        );
        assert!(
            found[1].contains("the motor's current or power, the pack's current"),
            "{found:?}"
        );
        let more =
            format!("{text}[controller]\non_resistance = \"3 mohm\"\ndiode_drop = \"0.7 V\"\n");
        let found = of(&more);
        assert!(
            found[0].contains(": a pack whose voltage never sags (pack.resistance)."),
            "{found:?}"
        );
    }
}
