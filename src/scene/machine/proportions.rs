//! Radii and widths of the picture, as shares of the machine's outer radius.

use crate::setup::{Construction, GeometrySetup};

/// Where everything lies, in outer radii.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Proportions {
    /// Stator surface that faces the gap.
    pub bore: f64,
    /// Where the tooth tip ends and the slot begins.
    pub tip: f64,
    /// Bottom of the slots.
    pub slot_bottom: f64,
    /// The other side of the stator yoke.
    pub yoke: f64,
    /// Magnet face at the gap.
    pub magnet_face: f64,
    /// Magnet back, on the iron.
    pub magnet_back: f64,
    /// The other side of the rotor iron: outside of the bell, or the shaft in an inrunner.
    pub rotor_iron: f64,
    /// The shaft.
    pub shaft: f64,
    /// Width of a tooth.
    pub tooth: f64,
    /// Slot opening along the bore.
    pub opening: f64,
    /// Magnet arc as a share of the pole pitch.
    pub magnet_arc: f64,
    /// Radius inside which nothing with a meaning lies: room for the fields.
    pub hub: f64,
}

impl Proportions {
    /// To scale where there is a geometry; else a machine that is well proportioned for its
    /// slots and poles.
    #[must_use]
    pub fn new(
        construction: Construction,
        n_slots: usize,
        poles: u32,
        geometry: Option<&GeometrySetup>,
    ) -> Self {
        let plain = match construction {
            Construction::Outrunner => Self::plain_outrunner(n_slots, poles),
            Construction::Inrunner => Self::plain_inrunner(n_slots, poles),
        };
        match geometry {
            None => plain,
            Some(geometry) => plain
                .to_scale(construction, n_slots, geometry)
                .unwrap_or(plain),
        }
    }

    fn plain_outrunner(n_slots: usize, poles: u32) -> Self {
        let slots = count(n_slots);
        let pole = TURN / f64::from(poles.max(2));
        let magnet = (0.30 * pole).clamp(0.04, 0.085);
        let iron = (0.22 * pole).clamp(0.035, 0.06);
        let magnet_back = 1.0 - iron;
        let magnet_face = magnet_back - magnet;
        let bore = magnet_face - 0.018;
        let pitch = TURN / slots * bore;
        let depth = (2.2 * pitch).clamp(0.16, 0.33);
        let slot_bottom = bore - depth;
        let yoke = slot_bottom - (0.42 * pitch).clamp(0.05, 0.065);
        Self {
            bore,
            tip: bore - (0.09 * pitch).clamp(0.008, 0.032),
            slot_bottom,
            yoke,
            magnet_face,
            magnet_back,
            rotor_iron: 1.0,
            shaft: 0.055,
            tooth: 0.44 * TURN / slots * slot_bottom,
            opening: 0.22 * pitch,
            magnet_arc: 0.88,
            hub: yoke - 0.008,
        }
    }

    fn plain_inrunner(n_slots: usize, poles: u32) -> Self {
        let slots = count(n_slots);
        let pole = TURN / f64::from(poles.max(2));
        let depth = (1.6 * TURN / slots).clamp(0.16, 0.32);
        let slot_bottom = 0.90;
        let bore = slot_bottom - depth;
        let pitch = TURN / slots * bore;
        let magnet = (0.26 * pole * bore).clamp(0.03, 0.075);
        let magnet_face = bore - 0.018;
        Self {
            bore,
            tip: bore + (0.09 * pitch).clamp(0.008, 0.032),
            slot_bottom,
            yoke: 1.0,
            magnet_face,
            magnet_back: magnet_face - magnet,
            rotor_iron: 0.055,
            shaft: 0.055,
            tooth: 0.50 * pitch,
            opening: 0.22 * pitch,
            magnet_arc: 0.88,
            hub: magnet_face - magnet - 0.015,
        }
    }

    /// The written dimensions over the outer radius; what is not written keeps the plain
    /// machine's share. `None` where the dimensions leave no room for the machine's middle.
    fn to_scale(
        self,
        construction: Construction,
        n_slots: usize,
        geometry: &GeometrySetup,
    ) -> Option<Self> {
        let bore = geometry.bore_radius_m;
        let per_bore = bore / self.bore;
        let out = if construction == Construction::Outrunner {
            1.0
        } else {
            -1.0
        };
        let or_plain = |written: Option<f64>, plain: f64| written.unwrap_or(plain * per_bore);
        let tip_depth = or_plain(geometry.tooth_tip_m, (self.bore - self.tip).abs());
        let slot_depth = or_plain(geometry.slot_depth_m, (self.bore - self.slot_bottom).abs());
        let yoke = or_plain(
            geometry.yoke_thickness_m,
            (self.slot_bottom - self.yoke).abs(),
        );
        let iron = or_plain(
            geometry.rotor_yoke_thickness_m,
            if out > 0.0 {
                self.rotor_iron - self.magnet_back
            } else {
                0.0
            },
        );
        let magnet_face = bore + out * geometry.air_gap_m;
        let magnet_back = magnet_face + out * geometry.magnet_thickness_m;
        let slot_bottom = bore - out * slot_depth;
        let yoke = slot_bottom - out * yoke;
        let outer = if out > 0.0 { magnet_back + iron } else { yoke };
        let shaft = 0.055 * outer;
        // The fields want room; a thick yoke lends them some.
        let hub = if out > 0.0 {
            (yoke - 0.008 * outer).max((slot_bottom - 0.015 * outer).min(0.3 * outer))
        } else {
            magnet_back - 0.015 * outer
        };
        if hub < 2.0 * shaft || yoke <= 0.0 || tip_depth >= slot_depth {
            return None;
        }
        let pitch = TURN / count(n_slots);
        let narrowest = pitch * if out > 0.0 { slot_bottom } else { bore };
        let tooth = or_plain(geometry.tooth_width_m, self.tooth).min(0.9 * narrowest);
        let opening = or_plain(geometry.slot_opening_m, self.opening).min(0.9 * pitch * bore);
        Some(Self {
            bore: bore / outer,
            tip: (bore - out * tip_depth) / outer,
            slot_bottom: slot_bottom / outer,
            yoke: yoke / outer,
            magnet_face: magnet_face / outer,
            magnet_back: magnet_back / outer,
            rotor_iron: if out > 0.0 { 1.0 } else { shaft / outer },
            shaft: shaft / outer,
            tooth: tooth / outer,
            opening: opening / outer,
            magnet_arc: geometry.magnet_arc,
            hub: hub / outer,
        })
    }
}

use std::f64::consts::TAU as TURN;

#[expect(clippy::cast_precision_loss, reason = "a number of slots")]
fn count(n_slots: usize) -> f64 {
    n_slots.max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn everything_lies_in_order_from_the_middle_out() {
        for (slots, poles) in [
            (3, 2),
            (6, 4),
            (9, 6),
            (12, 14),
            (24, 22),
            (36, 42),
            (72, 80),
        ] {
            let o = Proportions::new(Construction::Outrunner, slots, poles, None);
            let radii = [
                o.shaft,
                o.hub,
                o.yoke,
                o.slot_bottom,
                o.tip,
                o.bore,
                o.magnet_face,
                o.magnet_back,
                o.rotor_iron,
            ];
            assert!(radii.is_sorted(), "outrunner {slots}/{poles}: {radii:?}");
            let i = Proportions::new(Construction::Inrunner, slots, poles, None);
            let radii = [
                i.shaft,
                i.hub,
                i.magnet_back,
                i.magnet_face,
                i.bore,
                i.tip,
                i.slot_bottom,
                i.yoke,
            ];
            assert!(radii.is_sorted(), "inrunner {slots}/{poles}: {radii:?}");
        }
    }
}
