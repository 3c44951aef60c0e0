//! What the iron has to carry: the check on the one thing this room leaves out.

use std::f64::consts::PI;

use super::SectionField;
use super::stator::real;

/// Largest flux densities in T over all rotor positions, no current, if iron carried whatever
/// comes.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct IronLoad {
    /// In a tooth's parallel part; `None` for a smooth stator.
    pub tooth_t: Option<f64>,
    /// In the stator yoke behind a slot.
    pub yoke_t: f64,
    /// In the rotor yoke between two magnets, from the flux at the magnets' face: a little less
    /// than there is.
    pub rotor_yoke_t: f64,
}

impl SectionField {
    /// Flux of one tooth, of the yoke behind a slot and of the rotor yoke, over their widths.
    ///
    /// The flux between two lines along the shaft is the difference of A: between neighbouring
    /// slot openings for a tooth, between an opening and the far side of the yoke, where A is 0.
    #[must_use]
    pub fn iron_load(&self) -> IronLoad {
        const N_POSITIONS: u32 = 90;
        let section = &self.section;
        let p = f64::from(section.magnets.pole_pairs);
        let at_face: Vec<f64> = self
            .harmonics
            .iter()
            .map(|harmonic| {
                let (radial, tangential) = section.magnets.harmonic_t(harmonic.order);
                let nu = real(harmonic.nu);
                section
                    .ring
                    .potential(nu, radial, tangential, section.ring.face_radius_m)
            })
            .collect();
        let half_pitch = PI / f64::from(section.slots);
        let (mut tooth, mut yoke, mut rotor) = (0.0_f64, 0.0_f64, 0.0_f64);
        for i in 0..N_POSITIONS {
            let angle = PI / p * f64::from(i) / f64::from(N_POSITIONS);
            let (mut across, mut behind, mut back) = (0.0, 0.0, 0.0);
            for (harmonic, face) in self.harmonics.iter().zip(&at_face) {
                let nu = real(harmonic.nu);
                let opening = harmonic.response.as_ref().map_or(1.0, |r| r.opening);
                let amplitude = harmonic.amplitude * opening;
                let (sine, cosine) = libm::sincos(nu * angle);
                // sin ν(x + h) − sin ν(x − h) about the middle of the tooth.
                across += 2.0 * amplitude * cosine * libm::sin(nu * half_pitch);
                behind += amplitude * sine;
                back += face * sine;
            }
            tooth = tooth.max(across.abs());
            yoke = yoke.max(behind.abs());
            rotor = rotor.max(back.abs());
        }
        IronLoad {
            tooth_t: section.slot.map(|slot| tooth / slot.tooth_width_m),
            yoke_t: yoke / section.yoke_thickness_m,
            rotor_yoke_t: rotor / section.rotor_yoke_thickness_m,
        }
    }
}
