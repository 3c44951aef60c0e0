//! The section of a machine: checked dimensions, and what is estimated where they are absent.
//!
//! Made from the checked geometry of a setup. Nothing here can be impossible: the setup room
//! refuses dimensions that collide, with both of them marked.

use std::f64::consts::{PI, TAU};

use crate::setup::{Construction, GeometrySetup, MachineSetup};

use super::field::ring::{Magnets, Ring};

/// Flux density in the yokes that an absent yoke thickness is estimated for, in T.
///
/// Electrical sheet bends its curve between 1.4 and 1.7 T (common practice, no source).
const YOKE_FLUX_DENSITY_T: f64 = 1.5;

/// A slot between parallel-sided teeth. Lengths in m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlotShape {
    /// Opening along the bore.
    pub opening_m: f64,
    /// Radial depth of the tooth tip; below `depth_m`.
    pub tip_m: f64,
    /// Radial depth from the bore to the bottom.
    pub depth_m: f64,
    /// Width of the tooth.
    pub tooth_width_m: f64,
}

/// A dimension that was not given.
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    /// The key of `[machine.geometry]` that would give it.
    pub key: &'static str,
    /// What it was taken as, in m.
    pub value_m: f64,
    /// How, as the end of a sentence.
    pub how: &'static str,
}

/// The section of a machine across its shaft, and its length.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Number of slots.
    pub slots: u32,
    /// Rotor inside or outside.
    pub construction: Construction,
    /// Radii of magnets, gap and stator surface.
    pub ring: Ring,
    /// The magnets.
    pub magnets: Magnets,
    /// Axial length of the stack in m.
    pub stack_length_m: f64,
    /// The slots; `None` for a smooth stator.
    pub slot: Option<SlotShape>,
    /// Width over which a coil side lies along the bore of a smooth stator, in m.
    pub sheet_width_m: f64,
    /// Stator yoke, radial, in m.
    pub yoke_thickness_m: f64,
    /// Rotor yoke, radial, in m.
    pub rotor_yoke_thickness_m: f64,
    /// What was not given and is estimated.
    pub estimates: Vec<Estimate>,
}

impl Section {
    /// The section of a setup's machine; `None` without `[machine.geometry]`.
    #[must_use]
    pub fn of(machine: &MachineSetup) -> Option<Self> {
        machine
            .geometry
            .as_ref()
            .map(|geometry| Self::new(machine, geometry))
    }

    fn new(machine: &MachineSetup, g: &GeometrySetup) -> Self {
        let inwards = match machine.construction {
            Construction::Inrunner => 1.0,
            Construction::Outrunner => -1.0,
        };
        let face_radius_m = g.bore_radius_m - inwards * g.air_gap_m;
        let back_radius_m = face_radius_m - inwards * g.magnet_thickness_m;
        let slot = (|| {
            Some(SlotShape {
                opening_m: g.slot_opening_m?,
                tip_m: g.tooth_tip_m?,
                depth_m: g.slot_depth_m?,
                tooth_width_m: g.tooth_width_m?,
            })
        })()
        .filter(|_| g.slotting);
        let mut estimates = Vec::new();
        // Half a pole's flux goes through a yoke: B_gap · pole pitch / 2 at the most.
        let gap_t = g.magnet_remanence_t * g.magnet_thickness_m
            / (g.magnet_thickness_m + g.magnet_permeability * g.air_gap_m);
        let pole_pitch_m = TAU * g.bore_radius_m / f64::from(machine.poles);
        let yoke_m = 0.5 * pole_pitch_m * g.magnet_arc * gap_t / YOKE_FLUX_DENSITY_T;
        let mut or_estimate = |given: Option<f64>, key, room_m: f64| {
            given.unwrap_or_else(|| {
                let value_m = yoke_m.min(0.9 * room_m);
                estimates.push(Estimate {
                    key,
                    value_m,
                    how: "half a pole's flux at 1.5 T",
                });
                value_m
            })
        };
        let stator_room_m = match machine.construction {
            Construction::Inrunner => f64::INFINITY,
            Construction::Outrunner => g.bore_radius_m - g.slot_depth_m.unwrap_or(0.0),
        };
        let rotor_room_m = match machine.construction {
            Construction::Inrunner => back_radius_m,
            Construction::Outrunner => f64::INFINITY,
        };
        let yoke_thickness_m = or_estimate(g.yoke_thickness_m, "yoke_thickness", stator_room_m);
        let rotor_yoke_thickness_m = or_estimate(
            g.rotor_yoke_thickness_m,
            "rotor_yoke_thickness",
            rotor_room_m,
        );
        let half_pitch_m = PI * g.bore_radius_m / f64::from(machine.slots);
        Self {
            slots: machine.slots,
            construction: machine.construction,
            ring: Ring {
                stator_radius_m: g.bore_radius_m,
                face_radius_m,
                back_radius_m,
                permeability: g.magnet_permeability,
            },
            magnets: Magnets {
                pole_pairs: machine.poles / 2,
                remanence_t: g.magnet_remanence_t,
                arc: g.magnet_arc,
                magnetisation: g.magnetisation,
            },
            stack_length_m: g.stack_length_m,
            slot,
            sheet_width_m: g
                .slot_opening_m
                .unwrap_or(half_pitch_m)
                .min(2.0 * half_pitch_m),
            yoke_thickness_m,
            rotor_yoke_thickness_m,
            estimates,
        }
    }

    /// Angle of a slot opening at the bore in rad; `None` for a smooth stator.
    #[must_use]
    pub fn opening_rad(&self) -> Option<f64> {
        let slot = self.slot?;
        Some(slot.opening_m / self.ring.stator_radius_m)
    }

    /// Radius at a depth below the stator surface, in m.
    #[must_use]
    pub fn radius_at_depth(&self, depth_m: f64) -> f64 {
        match self.construction {
            Construction::Inrunner => self.ring.stator_radius_m + depth_m,
            Construction::Outrunner => self.ring.stator_radius_m - depth_m,
        }
    }

    /// Angle of the slot body at a radius in rad: the pitch less the parallel-sided tooth.
    #[must_use]
    pub fn body_rad(&self, slot: &SlotShape, radius_m: f64) -> f64 {
        let tooth = 2.0 * libm::asin((0.5 * slot.tooth_width_m / radius_m).min(1.0));
        (TAU / f64::from(self.slots) - tooth).max(0.0)
    }

    /// Area of the slot body below the tooth tip in m², between two depths.
    ///
    /// ∫ r (2π/Q − 2 asin(w/2r)) dr, in closed form: r² π/Q − r² asin(w/2r) −
    /// (w/2) √(r² − w²/4).
    #[must_use]
    pub fn body_area_m2(&self, slot: &SlotShape, from_m: f64, to_m: f64) -> f64 {
        let half = 0.5 * slot.tooth_width_m;
        let primitive = |radius: f64| {
            let square = radius * radius;
            square * PI / f64::from(self.slots)
                - square * libm::asin((half / radius).min(1.0))
                - half * (square - half * half).max(0.0).sqrt()
        };
        (primitive(self.radius_at_depth(to_m)) - primitive(self.radius_at_depth(from_m))).abs()
    }

    /// Area of one whole slot body in m²: where the wire goes.
    #[must_use]
    pub fn slot_area_m2(&self) -> Option<f64> {
        let slot = self.slot?;
        Some(self.body_area_m2(&slot, slot.tip_m, slot.depth_m))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::Setup;

    fn machine(text: &str) -> MachineSetup {
        Setup::parse(text, "test").unwrap().machine
    }

    pub(crate) const AERATOR: &str = "format = 1\n\
        [machine]\nconstruction = \"outrunner\"\nslots = 12\npoles = 14\n\
        [machine.phase]\nresistance = \"45 mohm\"\ninductance = \"18 uH\"\n\
        [machine.emf]\nshape = \"sine\"\nkv = \"920 rpm/V\"\n\
        [machine.rotor]\ninertia = \"1.2e-5 kg m2\"\n[supply]\nvoltage = \"11.1 V\"\n\
        [machine.geometry]\nbore_radius = \"14 mm\"\nair_gap = \"0.7 mm\"\n\
        magnet_thickness = \"2.5 mm\"\nmagnet_arc = 0.8\nmagnet_remanence = \"1.22 T\"\n\
        stack_length = \"30 mm\"\nslot_opening = \"1.95 mm\"\ntooth_tip = \"1 mm\"\n\
        slot_depth = \"7.5 mm\"\ntooth_width = \"3 mm\"\n";

    #[test]
    fn radii_follow_the_construction() {
        let out = Section::of(&machine(AERATOR)).unwrap();
        assert!((out.ring.face_radius_m - 14.7e-3).abs() < 1e-15);
        assert!((out.ring.back_radius_m - 17.2e-3).abs() < 1e-15);
        let inside = AERATOR.replace("outrunner", "inrunner");
        let inside = Section::of(&machine(&inside)).unwrap();
        assert!((inside.ring.face_radius_m - 13.3e-3).abs() < 1e-15);
        assert!((inside.ring.back_radius_m - 10.8e-3).abs() < 1e-15);
    }

    #[test]
    fn what_is_absent_is_estimated_and_said() {
        let section = Section::of(&machine(AERATOR)).unwrap();
        let keys: Vec<&str> = section.estimates.iter().map(|e| e.key).collect();
        assert_eq!(keys, ["yoke_thickness", "rotor_yoke_thickness"]);
        let given =
            format!("{AERATOR}yoke_thickness = \"2 mm\"\nrotor_yoke_thickness = \"2 mm\"\n");
        assert!(Section::of(&machine(&given)).unwrap().estimates.is_empty());
    }

    #[test]
    fn the_slot_area_is_the_integral_of_its_width() {
        let section = Section::of(&machine(AERATOR)).unwrap();
        let slot = section.slot.unwrap();
        let n = 10_000;
        let step = (slot.depth_m - slot.tip_m) / f64::from(n);
        let sum: f64 = (0..n)
            .map(|i| {
                let r = section.radius_at_depth(slot.tip_m + (f64::from(i) + 0.5) * step);
                r * section.body_rad(&slot, r) * step
            })
            .sum();
        let got = section.slot_area_m2().unwrap();
        assert!((got / sum - 1.0).abs() < 1e-7, "{got} {sum}");
    }
}
