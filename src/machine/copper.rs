//! The copper of a winding: resistance, mass, and whether it goes into the slots.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use super::geometry::Section;
use crate::setup::{GeometrySetup, WindingSetup};
use crate::winding::Winding;

/// Resistivity of annealed copper at 20 °C in Ω m: 1/58 Ω mm²/m (IEC 60028, read at second
/// hand).
pub const RESISTIVITY_20_OHM_M: f64 = 1e-6 / 58.0;

/// Temperature coefficient of copper's resistance at 20 °C in 1/K (IEC 60228 and IEC 60028, read
/// at second hand).
pub const TEMPERATURE_COEFFICIENT_PER_K: f64 = 0.003_93;

/// Density of copper in kg/m³ (IEC 60028: 8.89 g/cm³ at 20 °C; from memory).
pub const DENSITY_KG_M3: f64 = 8890.0;

/// Bare copper in a slot above this part of its area goes in only with shaped or pressed wire.
///
/// Round wire by hand reaches 0.35 to 0.45; touching circles stop at π/√12 = 0.907 of their own
/// outer diameter, of which enamel, liner and the room for the last turns leave little more than
/// half (common practice, no source).
pub const MOST_SLOT_FILL: f64 = 0.55;

/// Above this the wire goes in only with care (common practice, no source).
pub const TIGHT_SLOT_FILL: f64 = 0.42;

/// Resistivity of copper in Ω m at a temperature in °C: ρ₂₀ (1 + α (T − 20)).
///
/// Holds for −100 to 200 °C within a percent; near absolute zero the straight line fails.
#[must_use]
pub fn resistivity_ohm_m(temperature_c: f64) -> f64 {
    RESISTIVITY_20_OHM_M * (1.0 + TEMPERATURE_COEFFICIENT_PER_K * (temperature_c - 20.0))
}

/// The copper of the whole winding.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Copper {
    /// Length of one turn in m: twice the stack and one end on either side.
    pub mean_turn_m: f64,
    /// Extra length of a turn at one end of the stack, in m.
    pub end_turn_m: f64,
    /// True where the end was not given: half a circle over the distance of the coil sides.
    pub end_turn_estimated: bool,
    /// Turns in series in one path of a phase.
    pub turns_in_series: f64,
    /// Resistance of one phase in ohm at the winding's temperature; `None` without a wire.
    pub phase_resistance_ohm: Option<f64>,
    /// Mass of all copper in kg; `None` without a wire.
    pub mass_kg: Option<f64>,
    /// Bare copper over the area of the slot body; `None` without a wire or without slots.
    pub slot_fill: Option<f64>,
    /// Inductance in H that the ends of the coils add to one phase, an estimate; `None` without
    /// slots. See [`end_inductance_h`].
    pub end_inductance_h: Option<f64>,
}

/// Inductance of the ends of one coil in H: both together as a round ring in air,
/// L = μ₀ N² R (ln(8 R/a) − 7/4), R = end / π, a the radius of a bundle as large as a coil side.
///
/// The ring with an even current over its round section is in E. B. Rosa, F. W. Grover,
/// "Formulas and tables for the calculation of mutual and self-inductance", Bulletin of the
/// Bureau of Standards 8(1), 1912 (from memory). That a coil's ends are one, with the stack's
/// face and other coils far away, is a guess that is good to a third or so (common practice, no
/// source).
#[must_use]
pub fn end_inductance_h(turns: f64, end_turn_m: f64, side_area_m2: f64) -> f64 {
    let radius_m = end_turn_m / PI;
    let bundle_m = (side_area_m2 / PI).sqrt().min(radius_m);
    super::field::MU_0 * turns * turns * radius_m * (libm::log(8.0 * radius_m / bundle_m) - 1.75)
}

impl Copper {
    /// The copper of a winding with so many turns a coil.
    #[must_use]
    pub fn new(
        section: &Section,
        geometry: &GeometrySetup,
        winding: &Winding,
        setup: &WindingSetup,
        turns: u32,
    ) -> Self {
        let end_turn_m = geometry
            .end_turn_m
            .unwrap_or_else(|| estimated_end_turn_m(section, winding, setup));
        let mean_turn_m = 2.0 * (section.stack_length_m + end_turn_m);
        let turns = f64::from(turns);
        let coils = 0.5 * f64::from(winding.slots() * winding.layers());
        let coils_per_path = coils / 3.0 / f64::from(setup.parallel_paths);
        let turns_in_series = turns * coils_per_path;
        let wire_m2 = geometry
            .wire_diameter_m
            .map(|diameter| f64::from(geometry.strands) * 0.25 * PI * diameter * diameter);
        let resistance = |wire_m2: f64| {
            resistivity_ohm_m(geometry.winding_temperature_c) * mean_turn_m * turns_in_series
                / (wire_m2 * f64::from(setup.parallel_paths))
        };
        let per_slot = turns * f64::from(winding.layers());
        Self {
            mean_turn_m,
            end_turn_m,
            end_turn_estimated: geometry.end_turn_m.is_none(),
            turns_in_series,
            phase_resistance_ohm: wire_m2.map(resistance),
            mass_kg: wire_m2.map(|area| DENSITY_KG_M3 * area * mean_turn_m * turns * coils),
            slot_fill: wire_m2
                .zip(section.slot_area_m2())
                .map(|(area, slot)| per_slot * area / slot),
            end_inductance_h: section.slot_area_m2().map(|slot| {
                let side_m2 = slot / f64::from(winding.layers());
                let paths = f64::from(setup.parallel_paths);
                end_inductance_h(turns, end_turn_m, side_m2) * coils_per_path / paths
            }),
        }
    }
}

/// Half a circle over the distance between the two sides of a coil, in the middle of the slot's
/// depth (common practice, no source).
///
/// Sides that share a slot side by side lie a quarter of its width nearer to the tooth.
fn estimated_end_turn_m(section: &Section, winding: &Winding, setup: &WindingSetup) -> f64 {
    let span = f64::from(winding.coil_span().unwrap_or(setup.coil_span));
    let depth_m = section
        .slot
        .map_or(0.0, |slot| f64::midpoint(slot.tip_m, slot.depth_m));
    let radius_m = section.radius_at_depth(depth_m);
    let pitch_m = TAU * radius_m / f64::from(section.slots);
    let beside = super::computed::sides_of(winding) == super::field::slot::Sides::Beside;
    let nearer_m = match section.slot {
        Some(slot) if beside => 0.5 * (pitch_m - slot.tooth_width_m).max(0.0),
        _ => 0.0,
    };
    FRAC_PI_2 * (span * pitch_m - nearer_m)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1 + 0.00393 (T − 20) is the rule R₂ = R₁ (k + T₂)/(k + T₁) with k = 1/α − 20 = 234.45, which
    /// IEC 60228 rounds to 234.5; rows from `machine_relations.toml`, k = 234.5, and the
    /// published table of factors from 25 °C in `worked_examples.toml`, three digits printed.
    #[test]
    fn resistance_follows_temperature_as_the_standards_say() {
        let ratio = |from: f64, to: f64| resistivity_ohm_m(to) / resistivity_ohm_m(from);
        for (from, to, want, tolerance) in [
            (20.0, 100.0, 1.314_341_846_76, 1e-4),
            (20.0, 60.0, 1.157_170_923_38, 1e-4),
            (25.0, 125.0, 1.385_356_454_72, 1e-4),
            (20.0, -20.0, 0.842_829_076_621, 1e-4),
            (25.0, 40.0, 1.058, 6e-4),
            (25.0, 85.0, 1.231, 6e-4),
            (25.0, 200.0, 1.674, 6e-4),
        ] {
            let got = ratio(from, to);
            assert!((got - want).abs() < tolerance, "{from} {to}: {got} {want}");
        }
    }

    /// A ring of radius 100 mm, its bundle of radius 1 mm: μ₀ · 0.1 m · (ln 800 − 1.75) =
    /// 0.620 uH.
    #[test]
    fn the_end_of_a_coil_is_a_ring() {
        let got = end_inductance_h(1.0, 0.1 * PI, PI * 1e-6);
        assert!((got - 0.620e-6).abs() < 1e-9, "{got}");
        assert!((end_inductance_h(9.0, 0.1 * PI, PI * 1e-6) / got - 81.0).abs() < 1e-9);
    }

    /// A hundred metres of 1 mm² wire: 100/58 Ω at 20 °C.
    #[test]
    fn a_known_length_has_its_resistance() {
        let ohm = resistivity_ohm_m(20.0) * 100.0 / 1e-6;
        assert!((ohm - 100.0 / 58.0).abs() < 1e-12);
    }
}
