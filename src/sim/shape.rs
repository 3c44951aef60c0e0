//! How the shape of the EMF enters the recurrence: straight within a sector, or as harmonics.
//!
//! The connected legs are seen less their mean, in the free currents of
//! [`Recurrence`](super::recurrence::Recurrence): with g the shapes of the free legs less the
//! mean of all connected ones, the torque of currents i is Σ g (i + Σ i).

use super::bridge::Branches;
use super::expansion::Expansion;
use super::plant::{Harmonic, LOOP, N_SHAPES, Plant};
use super::poly::{Series, ZERO, product};
use super::recurrence::{MEAN, product_with};

/// A shape of the EMF, for `N` free currents.
pub(super) trait ShapeSeries<const N: usize> {
    /// Coefficient `k` of the EMF of the free legs, and of a delta's loop, in V.
    fn emf(&self, x: &mut Expansion, k: usize, lean: bool) -> ([f64; N], f64);
    /// Coefficient `k` of the electromagnetic torque, from each free current plus the sum of
    /// them, and the loop current.
    fn torque(
        &self,
        x: &mut Expansion,
        paired_a: [f64; N],
        loop_a: f64,
        k: usize,
        lean: bool,
    ) -> f64;
    /// Coefficient `k + 1` of what the shape carries along; `rate` is length · p / (k + 1).
    fn advance(&self, x: &mut Expansion, rate: f64, k: usize, lean: bool);
    /// Size of what the shape carries along, relative to the phase constant.
    fn size(&self, x: &Expansion, of: impl Fn(&Series) -> f64) -> f64;
    /// What lean products leave out, from the tails of speed, angle and what the shape carries
    /// along: of the EMF of free legs and of open legs in V, and of the torque per current.
    fn left_out(
        &self,
        x: &Expansion,
        tail: impl Fn(&Series) -> f64,
        speed: f64,
        phi: f64,
    ) -> (f64, f64, f64);
    /// Writes the EMF of an open leg less the mean of the connected ones as its terminal's voltage.
    fn rise(&self, x: &mut Expansion, leg: usize, order: usize);
}

/// start + slope · φ inside one sector. A rotor at rest is one of no slope.
pub(super) struct LinearShape<const N: usize> {
    start: [f64; N],
    slope: [f64; N],
    loop_start: f64,
    loop_slope: f64,
    /// No slope at all, as between the two flat tops that a step connects.
    flat: bool,
    /// All legs less the mean of the connected ones.
    rise_start: [f64; 3],
    rise_slope: [f64; 3],
}

impl<const N: usize> LinearShape<N> {
    #[inline(always)]
    pub(super) fn new(start: &[f64; N_SHAPES], slope: &[f64; N_SHAPES], b: &Branches) -> Self {
        let (rise_start, rise_slope) = (less_mean::<N>(start, b), less_mean::<N>(slope, b));
        let legs = [b.pair.0, b.pair.1];
        let own_slope = std::array::from_fn(|a| rise_slope[legs[a]]);
        Self {
            start: std::array::from_fn(|a| rise_start[legs[a]]),
            flat: own_slope == [0.0; N] && slope[LOOP] == 0.0,
            slope: own_slope,
            loop_start: start[LOOP],
            loop_slope: slope[LOOP],
            rise_start,
            rise_slope,
        }
    }
}

/// Values of the legs less the mean of the connected ones.
#[inline(always)]
fn less_mean<const N: usize>(of: &[f64; N_SHAPES], b: &Branches) -> [f64; 3] {
    if b.n_connected == 0 {
        return [of[0], of[1], of[2]];
    }
    let legs = [b.pair.0, b.pair.1, b.third];
    let mut mean = of[legs[N]];
    for &leg in &legs[..N] {
        mean += of[leg];
    }
    mean *= MEAN[N];
    std::array::from_fn(|leg| of[leg] - mean)
}

impl<const N: usize> ShapeSeries<N> for LinearShape<N> {
    #[inline(always)]
    fn emf(&self, x: &mut Expansion, k: usize, lean: bool) -> ([f64; N], f64) {
        let (speed, swept) = (x.speed[k], product_with(&x.speed, &x.phi, k, lean));
        x.swept[k] = swept;
        (
            std::array::from_fn(|a| self.start[a] * speed + self.slope[a] * swept),
            self.loop_start * speed + self.loop_slope * swept,
        )
    }
    #[inline(always)]
    fn torque(
        &self,
        x: &mut Expansion,
        paired_a: [f64; N],
        loop_a: f64,
        k: usize,
        lean: bool,
    ) -> f64 {
        let mut sum = 3.0 * self.loop_start * loop_a;
        let mut ramp = 3.0 * self.loop_slope * loop_a;
        for a in 0..N {
            sum += self.start[a] * paired_a[a];
            ramp += self.slope[a] * paired_a[a];
        }
        if self.flat {
            return sum;
        }
        x.ramp[k] = ramp;
        sum + product_with(&x.ramp, &x.phi, k, lean)
    }
    #[inline(always)]
    fn advance(&self, _: &mut Expansion, _: f64, _: usize, _: bool) {}
    #[inline(always)]
    fn size(&self, _: &Expansion, _: impl Fn(&Series) -> f64) -> f64 {
        0.0
    }
    #[inline(always)]
    fn left_out(
        &self,
        _: &Expansion,
        _: impl Fn(&Series) -> f64,
        speed: f64,
        phi: f64,
    ) -> (f64, f64, f64) {
        let most = |of: &[f64]| {
            of.iter()
                .fold(0.0, |most: f64, slope| most.max(slope.abs()))
        };
        let steepest = most(&self.slope).max(self.loop_slope.abs());
        (
            steepest * speed * phi,
            most(&self.rise_slope) * speed * phi,
            steepest * phi,
        )
    }
    #[inline(always)]
    fn rise(&self, x: &mut Expansion, leg: usize, order: usize) {
        let (start, slope) = (self.rise_start[leg], self.rise_slope[leg]);
        for k in 0..=order {
            x.open_terminal[leg][k] = start * x.speed[k] + slope * x.swept[k];
        }
    }
}

/// Sine and cosine of one harmonic.
#[derive(Clone, Debug)]
pub(super) struct Wave {
    pub(super) sine: Series,
    pub(super) cosine: Series,
}

/// Σ (p sin nθe + q cos nθe).
pub(super) struct HarmonicShape<'a> {
    terms: &'a [Harmonic],
    branches: &'a Branches,
    delta: bool,
    /// The phase constant.
    scale_v_s: f64,
}

impl<'a> HarmonicShape<'a> {
    pub(super) const fn new(terms: &'a [Harmonic], plant: &Plant, branches: &'a Branches) -> Self {
        Self {
            terms,
            branches,
            delta: plant.delta,
            scale_v_s: plant.emf_scale_v_s,
        }
    }

    /// Coefficient `k` of the shapes of leads and loop.
    #[inline(always)]
    fn shapes(&self, x: &Expansion, k: usize) -> [f64; N_SHAPES] {
        let mut sum = [0.0; N_SHAPES];
        for (wave, term) in x.waves.iter().zip(self.terms) {
            for lead in 0..N_SHAPES {
                sum[lead] += term.sine[lead] * wave.sine[k] + term.cosine[lead] * wave.cosine[k];
            }
        }
        sum
    }
}

impl<const N: usize> ShapeSeries<N> for HarmonicShape<'_> {
    #[inline(always)]
    fn emf(&self, x: &mut Expansion, k: usize, lean: bool) -> ([f64; N], f64) {
        let shapes = self.shapes(x, k);
        let rise = less_mean::<N>(&shapes, self.branches);
        let legs = [self.branches.pair.0, self.branches.pair.1];
        let emf = std::array::from_fn(|a| {
            x.shape[a][k] = rise[legs[a]];
            product_with(&x.speed, &x.shape[a], k, lean)
        });
        x.loop_shape[k] = shapes[LOOP];
        let loop_emf = if self.delta {
            product_with(&x.speed, &x.loop_shape, k, lean)
        } else {
            0.0
        };
        (emf, loop_emf)
    }
    #[inline(always)]
    fn torque(&self, x: &mut Expansion, paired_a: [f64; N], _: f64, k: usize, _: bool) -> f64 {
        let mut sum = 0.0;
        for a in 0..N {
            x.paired[a][k] = paired_a[a];
            sum += product(&x.paired[a], &x.shape[a], k);
        }
        if self.delta {
            sum += 3.0 * product(&x.loop_current, &x.loop_shape, k);
        }
        sum
    }
    #[inline(always)]
    fn advance(&self, x: &mut Expansion, rate: f64, k: usize, lean: bool) {
        for (wave, term) in x.waves.iter_mut().zip(self.terms) {
            let rate = rate * f64::from(term.order);
            wave.sine[k + 1] = rate * product_with(&x.speed, &wave.cosine, k, lean);
            wave.cosine[k + 1] = -rate * product_with(&x.speed, &wave.sine, k, lean);
        }
    }
    #[inline(always)]
    fn size(&self, x: &Expansion, of: impl Fn(&Series) -> f64) -> f64 {
        let mut sum = 0.0;
        for (wave, term) in x.waves.iter().zip(self.terms) {
            sum += term.weight * of(&wave.sine).max(of(&wave.cosine));
        }
        sum
    }
    #[inline(always)]
    fn left_out(
        &self,
        x: &Expansion,
        tail: impl Fn(&Series) -> f64,
        speed: f64,
        _: f64,
    ) -> (f64, f64, f64) {
        // the sum of the waves, and each wave's part in the next coefficient of the other
        let emf = 2.0 * self.scale_v_s * speed * ShapeSeries::<N>::size(self, x, tail);
        (emf, emf, 0.0)
    }
    #[inline(always)]
    fn rise(&self, x: &mut Expansion, leg: usize, order: usize) {
        let mut shape = ZERO;
        for k in 0..=order {
            shape[k] = less_mean::<N>(&self.shapes(x, k), self.branches)[leg];
            x.open_terminal[leg][k] = product(&x.speed, &shape, k);
        }
    }
}
