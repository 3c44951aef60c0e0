//! What is known of the inside of a machine from its dimensions, its winding and its wire.

use std::f64::consts::{PI, TAU};

use super::computed::{Computed, sides_of};
use super::copper::{Copper, MOST_SLOT_FILL, TIGHT_SLOT_FILL};
use super::field::SectionField;
use super::field::slot::Sides;
use super::geometry::Section;
use crate::setup::{
    Construction, EmfConstant, EmfShape, MachineSetup, Quantity, WindingSetup, format_quantity,
};
use crate::winding::Winding;

/// Flux density in T above which electrical sheet takes more current than it is worth: the bend
/// of its curve lies at 1.5 to 1.8 T (common practice, no source).
const SATURATED_T: f64 = 1.8;

/// Section, winding, field and copper of a machine with `[machine.geometry]`.
#[derive(Clone, Debug)]
pub struct Inside {
    /// The section.
    pub section: Section,
    /// The winding; `None` where none can be laid out for these slots and poles.
    pub winding: Option<Winding>,
    /// EMF, inductance and cogging; `None` without turns or winding.
    pub computed: Option<Computed>,
    /// The copper; `None` without turns or winding.
    pub copper: Option<Copper>,
    /// The field, where `computed` has none.
    bare_field: Option<SectionField>,
}

/// The winding of a setup's machine: its own layout, the one that its keys lay out, or balanced
/// tooth coils in two layers; `None` where the last does not exist.
#[must_use]
pub fn winding_of(machine: &MachineSetup) -> Option<Winding> {
    let (slots, poles) = (machine.slots, machine.poles);
    let winding = match &machine.winding {
        None => Winding::lay_out(slots, poles, 2, 1),
        Some(written) => match &written.layout {
            Some(sides) => Winding::from_layout(slots, poles, written.layers, sides),
            None => Winding::lay_out(slots, poles, written.layers, written.coil_span),
        },
    };
    winding.ok()
}

impl Inside {
    /// Computes what the setup's geometry allows; `None` without geometry.
    #[must_use]
    pub fn of(machine: &MachineSetup) -> Option<Self> {
        let section = Section::of(machine)?;
        let geometry = machine.geometry.as_ref()?;
        let winding = winding_of(machine);
        let written: Option<(&WindingSetup, u32)> = machine
            .winding
            .as_ref()
            .and_then(|written| Some((written, written.turns?)));
        let (mut computed, mut copper, mut bare_field) = (None, None, None);
        match (&winding, written) {
            (Some(winding), Some((written, turns))) => {
                let paths = written.parallel_paths;
                computed = Some(Computed::new(&section, winding, turns, paths));
                copper = Some(Copper::new(&section, geometry, winding, written, turns));
            }
            (winding, _) => {
                let sides = winding.as_ref().map_or(Sides::One, sides_of);
                bare_field = Some(SectionField::new(&section, sides));
            }
        }
        Some(Self {
            section,
            winding,
            computed,
            copper,
            bare_field,
        })
    }

    /// Inductance of one phase in H, self minus mutual: gap, slots and, where there are slots,
    /// the ends of the coils.
    #[must_use]
    pub fn phase_inductance_h(&self) -> Option<f64> {
        let section_h = self.computed.as_ref()?.inductance.section_h();
        let ends_h = self.copper.and_then(|copper| copper.end_inductance_h);
        Some(section_h + ends_h.unwrap_or(0.0))
    }

    /// Radial flux density in the middle of the gap over one pole pair, no current, the rotor
    /// where θe = 0: the angle from the middle of a north magnet in mechanical rad, and T,
    /// positive out of that magnet.
    #[must_use]
    pub fn gap_field(&self, n_samples: u32) -> Vec<(f64, f64)> {
        let p = f64::from(self.section.magnets.pole_pairs);
        let (field, outward_rad) = match (&self.computed, &self.bare_field) {
            (Some(computed), _) => (&computed.field, computed.pole_at_zero_rad),
            (None, Some(field)) => {
                let pole = self
                    .winding
                    .as_ref()
                    .map_or(0.0, Winding::pole_at_zero_elec_rad);
                (field, pole / p)
            }
            (None, None) => return Vec::new(),
        };
        // North faces the gap: outwards in an inrunner, inwards in an outrunner.
        let (north_rad, sign) = match self.section.construction {
            Construction::Inrunner => (outward_rad, 1.0),
            Construction::Outrunner => (outward_rad + PI / p, -1.0),
        };
        let angles: Vec<f64> = (0..n_samples)
            .map(|i| TAU / p * f64::from(i) / f64::from(n_samples))
            .collect();
        let at: Vec<f64> = angles.iter().map(|angle| north_rad + angle).collect();
        let flux = field.radial_flux_density_t(outward_rad, &at);
        angles
            .into_iter()
            .zip(flux.into_iter().map(|b| sign * b))
            .collect()
    }

    /// What a person should know of these figures: what is estimated, where each comes from, and
    /// what will not do. Sentences without a full stop.
    #[must_use]
    pub fn notes(&self, machine: &MachineSetup) -> Vec<String> {
        let mut notes = Vec::new();
        let length = |value: f64| format_quantity(rounded(value), Quantity::Length);
        if let Some(copper) = &self.copper {
            if copper.end_turn_estimated {
                notes.push(format!(
                    "end_turn is not given: {} is an estimate, half a circle over the distance of \
                     the coil sides",
                    length(copper.end_turn_m)
                ));
            }
            self.fill_notes(machine, copper, &mut notes);
        }
        for estimate in &self.section.estimates {
            notes.push(format!(
                "{} is not given: {} would carry {}",
                estimate.key,
                length(estimate.value_m),
                estimate.how
            ));
        }
        self.iron_notes(&mut notes);
        if matches!(machine.emf.shape, EmfShape::Computed(_)) {
            self.origin_notes(machine, &mut notes);
        }
        notes
    }

    /// Iron that would have to carry more than it can.
    fn iron_notes(&self, notes: &mut Vec<String>) {
        let field = self.computed.as_ref().map(|computed| &computed.field);
        let Some(field) = field.or(self.bare_field.as_ref()) else {
            return;
        };
        let load = field.iron_load();
        for (what, flux_t) in [
            ("the teeth", load.tooth_t.unwrap_or(0.0)),
            ("the stator yoke", load.yoke_t),
            ("the rotor yoke", load.rotor_yoke_t),
        ] {
            if flux_t > SATURATED_T {
                notes.push(format!(
                    "{what} would have to carry {flux_t:.1} T, and iron ends near {SATURATED_T} T: \
                     the real machine has less flux, a higher Kv and other cogging than computed"
                ));
            }
        }
    }

    fn fill_notes(&self, machine: &MachineSetup, copper: &Copper, notes: &mut Vec<String>) {
        let length = |value: f64| format_quantity(rounded(value), Quantity::Length);
        if let Some(fill) = copper.slot_fill {
            let percent = (100.0 * fill).round();
            if fill > MOST_SLOT_FILL {
                notes.push(format!(
                    "the winding will not go in: bare copper would take {percent} % of the slot, \
                     and round wire stops below {} %",
                    (100.0 * MOST_SLOT_FILL).round()
                ));
            } else if fill > TIGHT_SLOT_FILL {
                notes.push(format!(
                    "the slot is tight: {percent} % of it is bare copper, which takes careful \
                     winding by hand"
                ));
            }
        }
        let wire_m = machine.geometry.as_ref().and_then(|g| g.wire_diameter_m);
        if let (Some(wire_m), Some(slot)) = (wire_m, self.section.slot)
            && wire_m >= slot.opening_m
        {
            notes.push(format!(
                "a wire of {} does not pass a slot opening of {}: it has to be threaded from the \
                 end",
                length(wire_m),
                length(slot.opening_m)
            ));
        }
    }

    fn origin_notes(&self, machine: &MachineSetup, notes: &mut Vec<String>) {
        let henry = |value: f64| format_quantity(rounded(value), Quantity::Inductance);
        if self.section.slot.is_none() {
            notes.push(format!(
                "the stator is smooth: its coil sides are sheets {} wide on the bore",
                format_quantity(rounded(self.section.sheet_width_m), Quantity::Length)
            ));
        }
        if let Some(computed) = &self.computed {
            let parts = computed.inductance;
            let ends = self.copper.and_then(|copper| copper.end_inductance_h);
            let ends = match ends {
                Some(ends) => format!("about {} in the ends of the coils", henry(ends)),
                None => "nothing for the ends of the coils".to_owned(),
            };
            let inductance = format!(
                "{} through the gap, {} across the slots, {ends}",
                henry(parts.gap_h),
                henry(parts.slot_h),
            );
            match machine.phase_inductance_h {
                None => notes.push(format!("phase inductance is computed: {inductance}")),
                Some(given) => notes.push(format!(
                    "phase inductance {} is given and used; computed it is {} ({inductance})",
                    henry(given),
                    henry(self.phase_inductance_h().unwrap_or_default())
                )),
            }
            if computed.phase_difference > 0.01 {
                notes.push(format!(
                    "the phases are not alike in this layout: V or W differs from U by {} % of \
                     the fundamental, and a run takes all three as U",
                    (100.0 * computed.phase_difference).round()
                ));
            }
            if machine.emf.constant != EmfConstant::Computed {
                notes.push(
                    "the size of the EMF is given and used; only its shape is computed".to_owned(),
                );
            }
        }
        let ohm = |value: f64| format_quantity(rounded(value), Quantity::Resistance);
        let computed_ohm = self.copper.and_then(|copper| copper.phase_resistance_ohm);
        match (machine.phase_resistance_ohm, computed_ohm) {
            (None, Some(_)) => {
                notes.push("phase resistance is computed from turns and wire".to_owned());
            }
            (Some(given), Some(computed)) => notes.push(format!(
                "phase resistance {} is given and used; turns and wire give {}",
                ohm(given),
                ohm(computed)
            )),
            _ => {}
        }
        if machine.cogging_peak_nm.is_some() {
            notes.push("cogging is given and used, not computed".to_owned());
        }
    }
}

/// Four digits, for words.
fn rounded(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let scale = libm::pow(10.0, 3.0 - libm::floor(libm::log10(value.abs())));
    (value * scale).round() / scale
}
