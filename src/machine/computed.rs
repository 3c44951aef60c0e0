//! What a winding in a solved section comes to: EMF, inductance, cogging.

use std::f64::consts::{FRAC_PI_2, TAU};

use super::field::SectionField;
use super::field::slot::Sides;
use super::geometry::Section;
use crate::winding::{Phase, Phasor, Winding};

/// Smallest EMF harmonic that is kept, as a part of the fundamental.
const LEAST_HARMONIC: f64 = 1e-4;

/// Highest EMF order that is kept: what lies above is next to nothing behind a real gap, and
/// each order makes a run slower.
const HIGHEST_EMF_ORDER: u32 = 49;

/// One EMF harmonic of phase U: sine · sin(n θe) + cosine · cos(n θe), in V s/rad.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EmfTerm {
    /// Order n of the electrical angle.
    pub order: u32,
    /// Sine part in V s/rad.
    pub sine_v_s: f64,
    /// Cosine part in V s/rad; 0 where the phase is symmetric about its axis.
    pub cosine_v_s: f64,
}

/// Inductance of one phase, self minus mutual, in H, by where the flux runs.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PhaseInductance {
    /// Through gap and magnets.
    pub gap_h: f64,
    /// Across slots and openings: A in the copper counted from its mean over the opening. In wide
    /// and very shallow slots that difference can be a little below zero; the sum never is.
    pub slot_h: f64,
}

impl PhaseInductance {
    /// Of the whole section: gap and slots.
    #[must_use]
    pub fn section_h(self) -> f64 {
        self.gap_h + self.slot_h
    }
}

/// A wound section, no current in it and with it.
#[derive(Clone, Debug)]
pub struct Computed {
    /// The field it was computed from.
    pub field: SectionField,
    /// EMF of phase U, orders rising.
    pub emf: Vec<EmfTerm>,
    /// Largest difference of V or W from U a third of a turn later, as a part of U's
    /// fundamental.
    pub phase_difference: f64,
    /// Inductance of one phase.
    pub inductance: PhaseInductance,
    /// Inductance matrix of the three phases in H, U V W.
    pub phase_matrix_h: [[f64; 3]; 3],
    /// Cogging torque on the rotor as [k − 1] of Σ (sine sin(k N θ) + cosine cos(k N θ)) in N m,
    /// N = lcm(slots, poles), θ the mechanical angle of the conventions.
    pub cogging_nm: Vec<(f64, f64)>,
    /// Angle from the middle of slot 0, at θe = 0, of the middle of a magnet that is magnetised
    /// outwards, in mechanical rad.
    pub pole_at_zero_rad: f64,
}

/// How the coil sides of a winding lie in a slot.
#[must_use]
pub fn sides_of(winding: &Winding) -> Sides {
    match (winding.layers(), winding.coil_span()) {
        (1, _) => Sides::One,
        (_, Some(span)) if span == 1 || span + 1 == winding.slots() => Sides::Beside,
        (_, Some(_)) => Sides::Stacked,
        (_, None) => Sides::Beside,
    }
}

impl Computed {
    /// Puts `turns` a coil, `parallel_paths` of a phase, into the section.
    #[must_use]
    pub fn new(section: &Section, winding: &Winding, turns: u32, parallel_paths: u32) -> Self {
        let field = SectionField::new(section, sides_of(winding));
        Self::from_field(field, winding, turns, parallel_paths)
    }

    /// The same from a field that is solved already, for coil sides that lie as in it.
    #[must_use]
    pub fn from_field(
        field: SectionField,
        winding: &Winding,
        turns: u32,
        parallel_paths: u32,
    ) -> Self {
        let conductors = f64::from(turns) / f64::from(parallel_paths);
        let length_m = field.section().stack_length_m;
        let p = field.section().magnets.pole_pairs;
        // Λ_n of each phase: λ = Im(Λ exp(−i n p rotor)).
        let sides: Vec<_> = (0..winding.layers() as usize)
            .map(|side| field.side_linkages(side))
            .collect();
        let linkage = |phase: Phase, idx: usize| {
            let order = u64::from(sides[0][idx].order) * u64::from(p);
            let mut sum = Phasor::ZERO;
            for slot in 0..winding.slots() {
                for (side, coil_side) in winding.sides_in_slot(slot).iter().enumerate() {
                    if coil_side.phase != phase {
                        continue;
                    }
                    let slots = u64::from(winding.slots());
                    let at = Phasor::at_turn(order % slots * u64::from(slot) % slots, slots);
                    let part = sides[side][idx];
                    let turned = Phasor {
                        re: at.re * part.in_phase - at.im * part.quadrature,
                        im: at.im * part.in_phase + at.re * part.quadrature,
                    };
                    sum = sum.plus(turned.signed(coil_side.towards_viewer));
                }
            }
            sum
        };
        // e/ω = dλ/dθ = −ν Re(Λ exp(−i ν rotor)): a rising zero of the fundamental is where that
        // is a falling sine of the angle, a quarter turn behind Λ.
        let pole_at_zero_elec_rad = linkage(Phase::U, 0).angle_rad() + FRAC_PI_2;
        let scale = conductors * length_m;
        let term = |phase: Phase, idx: usize| {
            let order = sides[0][idx].order;
            let n = f64::from(order);
            let offset = [0.0, 1.0, 2.0][phase.idx()] * TAU / 3.0;
            let x = linkage(phase, idx).turned(-n * (pole_at_zero_elec_rad + offset));
            let nu = n * f64::from(p) * scale;
            // −ν Re(x exp(−i n θ)) = −ν (re cos + im sin).
            EmfTerm {
                order,
                sine_v_s: -nu * x.im,
                cosine_v_s: -nu * x.re,
            }
        };
        let n_orders = sides[0]
            .iter()
            .take_while(|part| part.order <= HIGHEST_EMF_ORDER)
            .count();
        let all: Vec<EmfTerm> = (0..n_orders).map(|idx| term(Phase::U, idx)).collect();
        let fundamental = all[0].sine_v_s;
        let mut phase_difference = 0.0_f64;
        for (idx, u) in all.iter().enumerate() {
            for phase in [Phase::V, Phase::W] {
                let other = term(phase, idx);
                let difference =
                    libm::hypot(other.sine_v_s - u.sine_v_s, other.cosine_v_s - u.cosine_v_s);
                if fundamental > 0.0 {
                    phase_difference = phase_difference.max(difference / fundamental);
                }
            }
        }
        let least = LEAST_HARMONIC * fundamental;
        let emf = all
            .into_iter()
            .map(|term| {
                let kept = |value: f64| if value.abs() < least { 0.0 } else { value };
                EmfTerm {
                    order: term.order,
                    sine_v_s: kept(term.sine_v_s),
                    cosine_v_s: kept(term.cosine_v_s),
                }
            })
            .filter(|term| term.sine_v_s != 0.0 || term.cosine_v_s != 0.0)
            .collect();
        let pole_at_zero_rad = pole_at_zero_elec_rad / f64::from(p);
        let cogging_nm = cogging(&field, pole_at_zero_rad, length_m);
        let (inductance, phase_matrix_h) =
            inductances(&field, winding, conductors * conductors * length_m);
        Self {
            field,
            emf,
            phase_difference,
            inductance,
            phase_matrix_h,
            cogging_nm,
            pole_at_zero_rad,
        }
    }

    /// Cogging torque in N m at the mechanical angle θ of the conventions.
    #[must_use]
    pub fn cogging_at_nm(&self, theta_mech_rad: f64) -> f64 {
        let section = self.field.section();
        let per_turn = super::cogging_per_turn(section.slots, 2 * section.magnets.pole_pairs);
        let mut sum = 0.0;
        for (&(sine, cosine), k) in self.cogging_nm.iter().zip(1..) {
            let (s, c) = libm::sincos(f64::from(k) * f64::from(per_turn) * theta_mech_rad);
            sum += sine * s + cosine * c;
        }
        sum
    }

    /// Peak for −Tc sin(N θ) in N m: negative where θ = 0 is an unstable rest position.
    #[must_use]
    pub fn signed_cogging_peak_nm(&self) -> f64 {
        let (peak, stable) = self.cogging_peak_nm();
        if stable { peak } else { -peak }
    }

    /// Largest cogging torque in N m, at least 0, and whether θ = 0 is a stable rest position.
    #[must_use]
    pub fn cogging_peak_nm(&self) -> (f64, bool) {
        let section = self.field.section();
        let per_turn = super::cogging_per_turn(section.slots, 2 * section.magnets.pole_pairs);
        let n = 360;
        let step = TAU / f64::from(per_turn) / f64::from(n);
        let peak = (0..n)
            .map(|i| self.cogging_at_nm(f64::from(i) * step).abs())
            .fold(0.0, f64::max);
        let slope: f64 = self
            .cogging_nm
            .iter()
            .zip(1..)
            .map(|(&(sine, _), k)| sine * f64::from(k))
            .sum();
        (peak, slope <= 0.0)
    }
}

fn cogging(field: &SectionField, pole_at_zero_rad: f64, length_m: f64) -> Vec<(f64, f64)> {
    let section = field.section();
    let per_turn = super::cogging_per_turn(section.slots, 2 * section.magnets.pole_pairs);
    field
        .cogging_nm_per_m()
        .into_iter()
        .zip(1..)
        .map(|(torque, k)| {
            let at_zero = f64::from(k) * f64::from(per_turn) * pole_at_zero_rad;
            let (sine, cosine) = libm::sincos(at_zero);
            (torque * length_m * cosine, torque * length_m * sine)
        })
        .collect()
}

fn inductances(
    field: &SectionField,
    winding: &Winding,
    scale: f64,
) -> (PhaseInductance, [[f64; 3]; 3]) {
    let sides = field.side_inductances();
    let slots = winding.slots() as usize;
    let mut gap = [[0.0; 3]; 3];
    let mut slot = [[0.0; 3]; 3];
    let all: Vec<(usize, usize, usize, f64)> = (0..winding.slots())
        .flat_map(|k| {
            winding
                .sides_in_slot(k)
                .iter()
                .enumerate()
                .map(move |(side, coil_side)| {
                    let sign = if coil_side.towards_viewer { 1.0 } else { -1.0 };
                    (k as usize, side, coil_side.phase.idx(), sign)
                })
        })
        .collect();
    for &(slot_a, side_a, phase_a, sign_a) in &all {
        for &(slot_b, side_b, phase_b, sign_b) in &all {
            let distance = (slot_b + slots - slot_a) % slots;
            let pair = side_a * sides.n_sides + side_b;
            let sign = sign_a * sign_b * scale;
            gap[phase_a][phase_b] += sign * sides.gap[distance][pair];
            slot[phase_a][phase_b] += sign * sides.slot[distance][pair];
        }
    }
    // Mean of the three phases.
    let self_minus_mutual = |m: &[[f64; 3]; 3]| {
        let own = m[0][0] + m[1][1] + m[2][2];
        let mutual = m[0][1] + m[1][2] + m[2][0];
        (own - mutual) / 3.0
    };
    let inductance = PhaseInductance {
        gap_h: self_minus_mutual(&gap),
        slot_h: self_minus_mutual(&slot),
    };
    let matrix = std::array::from_fn(|a| std::array::from_fn(|b| gap[a][b] + slot[a][b]));
    (inductance, matrix)
}
