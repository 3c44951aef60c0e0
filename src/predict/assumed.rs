//! What a setup made of a build holds that no label told.

use super::build::{Build, ROTOR_TIME_CONSTANT_S};
use super::point::Point;
use crate::setup::{Quantity, Setup, format_quantity};

/// The build as the text of a setup file: what its labels tell, and in comments above what they do
/// not tell and is assumed. The values are those of [`Build::to_setup`].
#[must_use]
pub fn setup_text(build: &Build, point: &Point) -> String {
    let setup = build.to_setup(point);
    let mut text = String::from(
        "# Written by `wyebench predict` from a build. Its labels do not tell what follows; it is assumed:\n",
    );
    for words in assumed(build, &setup) {
        text += &format!("#   {words}\n");
    }
    text += &setup.to_toml();
    text
}

/// One line for each assumption.
fn assumed(build: &Build, setup: &Setup) -> Vec<String> {
    let machine = &setup.machine;
    let mut found = vec![
        "construction: outrunner".to_owned(),
        format!(
            "slots: {}, of tooth coils those of the largest winding factor with {} poles",
            machine.slots, machine.poles
        ),
        "connection: star".to_owned(),
        "shape of the EMF: an ideal trapezoid, without cogging".to_owned(),
        format!(
            "inertia of the rotor: {}, {:.0} ms times Kt²/R (common practice, no source)",
            format_quantity(machine.rotor_inertia_kg_m2, Quantity::Inertia),
            1e3 * ROTOR_TIME_CONSTANT_S
        ),
        "dry friction: the no-load current times Kt, the same at every speed".to_owned(),
    ];
    if build.motor.line_inductance_h.is_none() {
        found.push(
            "inductance: not given; 0.2 ms times the resistance (common practice, no source)"
                .to_owned(),
        );
    }
    if let Some(source) = setup.bench.supply.source {
        found.push(format!(
            "capacitor across the bridge: {}, so large that the pack carries the mean current",
            format_quantity(source.capacitance_f, Quantity::Capacitance)
        ));
    } else {
        found.push("pack: without resistance, so its voltage never sags".to_owned());
    }
    if build.gear.ratio != 1.0 {
        found.push("load: taken to the motor's shaft through the gear".to_owned());
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::predict::{example_build, predict};

    /// Slots, inertia and capacitor once came without a word.
    #[test]
    fn what_is_assumed_stands_in_comments() {
        let build = Build::parse(example_build(), "example").unwrap();
        let point = predict(&build).unwrap().loaded;
        let text = setup_text(&build, &point);
        let setup = Setup::parse(&text, "written").unwrap();
        let plain = build.to_setup(&point).to_toml();
        assert_eq!(setup, Setup::parse(&plain, "plain").unwrap());
        for words in [
            "# Written by",
            "#   slots: 12,",
            "#   inertia",
            "#   capacitor",
            "#   construction",
        ] {
            assert!(text.contains(words), "{words}\n{text}");
        }
    }
}
