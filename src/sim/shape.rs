//! How the shape of the EMF enters the recurrence: straight within a sector, or as harmonics.
//!
//! The connected legs are seen less their mean, in the free currents of
//! [`Recurrence`](super::recurrence::Recurrence): with g the shapes of the free legs less the
//! mean of all connected ones, the torque of currents i is Σ g (i + Σ i).

use super::bridge::{Branches, MEAN};
use super::expansion::Expansion;
use super::plant::{Harmonic, LOOP, N_SHAPES, Plant};
use super::poly::{MAX_ORDER, RANK, Series, product};
use super::recurrence::{inner_square, product_behind, product_with};

/// A shape of the EMF, for `N` free currents.
pub(super) trait ShapeSeries<const N: usize> {
    /// Coefficient `k` of the EMF of the free legs, and of a delta's loop, in V. The angle is
    /// known up to coefficient `k + 1`.
    fn emf(&self, x: &mut Expansion, k: usize, lean: bool) -> ([f64; N], f64);
    /// Coefficient `k` of the torque of the free currents, from each plus the sum of them.
    fn torque(&self, x: &mut Expansion, paired_a: [f64; N], k: usize, lean: bool) -> f64;
    /// Coefficient `k` of the torque of a delta's loop current.
    fn loop_torque(&self, x: &Expansion, k: usize, lean: bool) -> f64;
    /// Goes over to a shorter length.
    fn shorten(&mut self, ratio: f64);
    /// Coefficient `k + 1` of what the shape carries along; `rate` is length · p / (k + 1).
    fn advance(&self, x: &mut Expansion, rate: f64, k: usize, lean: bool);
    /// Coefficient `k` of the shape itself, which the torque of the last order needs.
    fn complete(&self, x: &mut Expansion, k: usize);
    /// Size of what the shape carries along, relative to the phase constant.
    fn size(&self, x: &Expansion, of: impl Fn(&Series) -> f64) -> f64;
    /// What lean products leave out, from the tails of speed, angle and what the shape carries
    /// along: of the EMF of free legs in V, and of the torque per current.
    fn left_out(
        &self,
        x: &Expansion,
        tail: impl Fn(&Series) -> f64,
        speed: f64,
        phi: f64,
    ) -> (f64, f64);
}

/// A shape that the connected legs see stand still: between the two flat tops that a step
/// connects, and of a rotor that is held.
pub(super) struct FlatShape<const N: usize> {
    height: [f64; N],
    loop_height: f64,
}

impl<const N: usize> FlatShape<N> {
    /// From the heights of the free legs less the mean, and of the loop.
    #[inline(always)]
    pub(super) const fn new(height: [f64; N], loop_height: f64) -> Self {
        Self {
            height,
            loop_height,
        }
    }

    /// From the heights of all leads.
    #[inline(always)]
    pub(super) fn of_leads(height: &[f64; N_SHAPES], b: &Branches) -> Self {
        let [first, second] = of_free_legs(height, b);
        Self::new(std::array::from_fn(|a| [first, second][a]), height[LOOP])
    }
}

impl<const N: usize> ShapeSeries<N> for FlatShape<N> {
    #[inline(always)]
    fn emf(&self, x: &mut Expansion, k: usize, _: bool) -> ([f64; N], f64) {
        let speed = x.speed[k];
        (
            self.height.map(|height| height * speed),
            self.loop_height * speed,
        )
    }
    #[inline(always)]
    fn torque(&self, _: &mut Expansion, paired_a: [f64; N], _: usize, _: bool) -> f64 {
        dot(self.height, paired_a)
    }
    #[inline(always)]
    fn loop_torque(&self, x: &Expansion, k: usize, _: bool) -> f64 {
        3.0 * self.loop_height * x.loop_current[k]
    }
    #[inline(always)]
    fn shorten(&mut self, _: f64) {}
    #[inline(always)]
    fn advance(&self, _: &mut Expansion, _: f64, _: usize, _: bool) {}
    #[inline(always)]
    fn complete(&self, _: &mut Expansion, _: usize) {}
    #[inline(always)]
    fn size(&self, _: &Expansion, _: impl Fn(&Series) -> f64) -> f64 {
        0.0
    }
    #[inline(always)]
    fn left_out(&self, _: &Expansion, _: impl Fn(&Series) -> f64, _: f64, _: f64) -> (f64, f64) {
        (0.0, 0.0)
    }
}

/// A straight shape inside one sector, from its height at the start of the piece: with φ the
/// angle less that at the start, height + slope · φ.
///
/// The EMF of a slope is the rate of a linkage: with r = length · p and φ' = r ω in the piece's
/// own time, ω φ = (φ²)' / 2r, and a square has half the products.
pub(super) struct LinearShape<const N: usize> {
    flat: FlatShape<N>,
    slope: [f64; N],
    loop_slope: f64,
    /// 1/2r.
    per_twice_rate: f64,
}

impl<const N: usize> LinearShape<N> {
    /// From heights at the start of the piece, slopes and r.
    #[inline(always)]
    pub(super) fn new(
        flat: FlatShape<N>,
        slope: [f64; N],
        loop_slope: f64,
        electrical_rate: f64,
    ) -> Self {
        Self {
            flat,
            slope,
            loop_slope,
            per_twice_rate: 0.5 / electrical_rate,
        }
    }
}

/// Σ a c.
#[inline(always)]
fn dot<const N: usize>(a: [f64; N], c: [f64; N]) -> f64 {
    match N {
        0 => 0.0,
        1 => a[0] * c[0],
        _ => a[0] * c[0] + a[1] * c[1],
    }
}

/// Coefficient `k` of ω φ from φ, the angle less that at the start, with 1/2r.
#[inline(always)]
pub(super) fn swept(phi: &Series, per_twice_rate: f64, k: usize, lean: bool) -> f64 {
    RANK[k + 1] * per_twice_rate * inner_square(phi, k + 1, lean)
}

/// The free legs' part of [`less_mean`], zero where there are fewer.
#[inline(always)]
pub(super) fn of_free_legs(of: &[f64; N_SHAPES], b: &Branches) -> [f64; 2] {
    let legs = [b.pair.0, b.pair.1, b.third];
    let mut mean = of[legs[b.n_free]];
    for &leg in &legs[..b.n_free] {
        mean += of[leg];
    }
    mean *= MEAN[b.n_free];
    std::array::from_fn(|a| {
        if a < b.n_free {
            of[legs[a]] - mean
        } else {
            0.0
        }
    })
}

/// The value of an open leg less the mean of the connected ones; less nothing where none is.
#[inline(always)]
pub(super) fn less_mean(of: &[f64; N_SHAPES], b: &Branches, leg: usize) -> f64 {
    match b.n_connected {
        0 => of[leg],
        1 => of[leg] - of[b.pair.0],
        _ => of[leg] - 0.5 * (of[b.pair.0] + of[b.pair.1]),
    }
}

impl<const N: usize> ShapeSeries<N> for LinearShape<N> {
    #[inline(always)]
    fn emf(&self, x: &mut Expansion, k: usize, lean: bool) -> ([f64; N], f64) {
        let swept = swept(&x.phi, self.per_twice_rate, k, lean);
        let (mut emf, mut loop_emf) = self.flat.emf(x, k, lean);
        if k > 0 {
            for a in 0..N {
                emf[a] += self.slope[a] * swept;
            }
            loop_emf += self.loop_slope * swept;
        }
        (emf, loop_emf)
    }
    #[inline(always)]
    fn torque(&self, x: &mut Expansion, paired_a: [f64; N], k: usize, lean: bool) -> f64 {
        x.ramp[k] = dot(self.slope, paired_a);
        product_behind(&x.phi, &x.ramp, k, lean) + self.flat.torque(x, paired_a, k, lean)
    }
    #[inline(always)]
    fn loop_torque(&self, x: &Expansion, k: usize, lean: bool) -> f64 {
        let behind = product_behind(&x.phi, &x.loop_current, k, lean);
        3.0 * self.loop_slope * behind + self.flat.loop_torque(x, k, lean)
    }
    #[inline(always)]
    fn shorten(&mut self, ratio: f64) {
        self.per_twice_rate /= ratio;
    }
    #[inline(always)]
    fn advance(&self, _: &mut Expansion, _: f64, _: usize, _: bool) {}
    #[inline(always)]
    fn complete(&self, _: &mut Expansion, _: usize) {}
    #[inline(always)]
    fn size(&self, _: &Expansion, _: impl Fn(&Series) -> f64) -> f64 {
        0.0
    }
    #[inline(always)]
    fn left_out(&self, _: &Expansion, _: impl Fn(&Series) -> f64, _: f64, phi: f64) -> (f64, f64) {
        let mut steepest = self.loop_slope.abs();
        for slope in self.slope {
            steepest = steepest.max(slope.abs());
        }
        let most_rank = RANK[MAX_ORDER + 1];
        (
            steepest * phi * phi * most_rank * self.per_twice_rate,
            steepest * phi,
        )
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
        harmonic_shapes(self.terms, &x.waves, k)
    }
}

/// Coefficient `k` of the shapes of leads and loop, from the waves of their harmonics.
#[inline(always)]
pub(super) fn harmonic_shapes(terms: &[Harmonic], waves: &[Wave], k: usize) -> [f64; N_SHAPES] {
    let mut sum = [0.0; N_SHAPES];
    for (wave, term) in waves.iter().zip(terms) {
        for lead in 0..N_SHAPES {
            sum[lead] += term.sine[lead] * wave.sine[k] + term.cosine[lead] * wave.cosine[k];
        }
    }
    sum
}

impl<const N: usize> ShapeSeries<N> for HarmonicShape<'_> {
    #[inline(always)]
    fn emf(&self, x: &mut Expansion, k: usize, lean: bool) -> ([f64; N], f64) {
        ShapeSeries::<N>::complete(self, x, k);
        let emf = std::array::from_fn(|a| product_with(&x.speed, &x.shape[a], k, lean));
        let loop_emf = if self.delta {
            product_with(&x.speed, &x.loop_shape, k, lean)
        } else {
            0.0
        };
        (emf, loop_emf)
    }
    #[inline(always)]
    fn torque(&self, x: &mut Expansion, paired_a: [f64; N], k: usize, _: bool) -> f64 {
        let mut sum = 0.0;
        for a in 0..N {
            x.paired[a][k] = paired_a[a];
            sum += product(&x.paired[a], &x.shape[a], k);
        }
        sum
    }
    #[inline(always)]
    fn loop_torque(&self, x: &Expansion, k: usize, _: bool) -> f64 {
        3.0 * product(&x.loop_current, &x.loop_shape, k)
    }
    #[inline(always)]
    fn shorten(&mut self, _: f64) {}
    #[inline(always)]
    fn advance(&self, x: &mut Expansion, rate: f64, k: usize, lean: bool) {
        for (wave, term) in x.waves.iter_mut().zip(self.terms) {
            let rate = rate * f64::from(term.order);
            wave.sine[k + 1] = rate * product_with(&x.speed, &wave.cosine, k, lean);
            wave.cosine[k + 1] = -rate * product_with(&x.speed, &wave.sine, k, lean);
        }
    }
    #[inline(always)]
    fn complete(&self, x: &mut Expansion, k: usize) {
        let shapes = self.shapes(x, k);
        let of_legs = of_free_legs(&shapes, self.branches);
        for a in 0..N {
            x.shape[a][k] = of_legs[a];
        }
        x.loop_shape[k] = shapes[LOOP];
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
    ) -> (f64, f64) {
        // the sum of the waves, and each wave's part in the next coefficient of the other
        let emf = 2.0 * self.scale_v_s * speed * ShapeSeries::<N>::size(self, x, tail);
        (emf, 0.0)
    }
}
