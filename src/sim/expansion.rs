//! One piece of a run as power series.
//!
//! Between two events the equations are smooth, and each coefficient of their solution follows
//! from the ones before it (the Taylor method; E. Hairer, S. P. Nørsett, G. Wanner, *Solving
//! Ordinary Differential Equations I*, 2nd ed., section I.8). Products of series are Cauchy
//! products, so EMF (speed × shape), torque (current × shape), drag (speed²) and, through
//! (sin)′ = cos · rate, sine shapes and cogging cost a few multiplications an order. The order
//! is raised until what comes behind lies below the tolerance; where the highest order does not
//! reach, the piece is shortened by scaling the coefficients, at no new work. The recurrence
//! itself is in [`recurrence`](super::recurrence).

use super::bridge::Branches;
use super::plant::{Cogging, Harmonic, LeadShape, N_SHAPES, Plant, sector_idx};
use super::poly::{self, INVERSE_RANK, MAX_ORDER, SHORT, Series, ZERO, product};
use super::recurrence::{Case, Recurrence};
use super::shape::{
    FlatShape, HarmonicShape, LinearShape, Wave, harmonic_shapes, less_mean, swept,
};
use super::state::{Motion, State};

/// The solution on one piece, as series in τ = (t − start) / length.
#[derive(Clone, Debug)]
pub(super) struct Expansion {
    /// Highest order in use.
    pub(super) order: usize,
    /// Length the series are scaled to, in s.
    pub(super) length_s: f64,
    /// Fastest rate times length: how a series falls from order to order.
    pub(super) rate_length: f64,
    pub(super) spread: Spread,
    /// The free currents in A: of all connected legs but the last. Each leg's follow by
    /// [`Branches::of_free`].
    pub(super) free: [Series; 2],
    /// Loop current of a delta in A.
    pub(super) loop_current: Series,
    /// Voltage across the bridge in V.
    pub(super) bridge_v: Series,
    /// Mechanical speed in rad/s.
    pub(super) speed: Series,
    /// Electrical angle inside the sector in rad.
    pub(super) phi: Series,
    /// Electromagnetic torque in N m.
    pub(super) em_torque: Series,
    /// Cogging torque in N m.
    pub(super) cogging: Series,
    /// The same a quarter of its period on.
    pub(super) cogging_cosine: Series,
    /// Heights of leads and loop at the start, and their slopes (straight shapes).
    height: Lead,
    slope: Lead,
    /// Currents weighted with the slopes.
    pub(super) ramp: Series,
    /// Shapes of the free legs and of the loop, and the currents they are multiplied with
    /// (harmonic shapes).
    pub(super) shape: [Series; 2],
    pub(super) loop_shape: Series,
    pub(super) paired: [Series; 2],
    pub(super) waves: Vec<Wave>,
}

/// Part of the tolerance that the speed gets: the turning masses may hold a hundred times the
/// energy that flows, and the account is taken on what flows.
const SPEED_SHARE: f64 = 0.01;

/// What a scale grows beyond what was met, so that a rotor that gathers speed does not move it
/// with every piece.
const HEADROOM: f64 = 1.0625;

/// Sizes against which a coefficient counts as small.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scales {
    pub(super) current_a: f64,
    pub(super) speed_rad_s: f64,
    pub(super) voltage_v: f64,
    /// Allowed size of what a series leaves out, relative to the scales.
    pub(super) tolerance: f64,
    pub(super) weights: Weights,
}

/// What makes 1 of what a series may leave out.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Weights {
    pub(super) current: f64,
    pub(super) speed: f64,
    pub(super) voltage: f64,
    pub(super) phi: f64,
}

impl Scales {
    /// Scales of nothing seen yet.
    pub(super) fn new(tolerance: f64) -> Self {
        Self {
            current_a: 0.0,
            speed_rad_s: 0.0,
            voltage_v: 0.0,
            tolerance,
            weights: Weights::default(),
        }
    }

    /// Grows the scales to what is met.
    #[inline]
    pub(super) fn meet(&mut self, current_a: f64, speed_rad_s: f64, voltage_v: f64) {
        if current_a > self.current_a
            || speed_rad_s > self.speed_rad_s
            || voltage_v > self.voltage_v
        {
            self.grow(current_a, speed_rad_s, voltage_v);
        }
    }

    #[inline(never)]
    fn grow(&mut self, current_a: f64, speed_rad_s: f64, voltage_v: f64) {
        let grown = |scale: f64, met: f64| if met > scale { HEADROOM * met } else { scale };
        self.current_a = grown(self.current_a, current_a);
        self.speed_rad_s = grown(self.speed_rad_s, speed_rad_s);
        self.voltage_v = grown(self.voltage_v, voltage_v);
        self.weigh();
    }

    /// With another tolerance.
    pub(super) fn set_tolerance(&mut self, tolerance: f64) {
        self.tolerance = tolerance;
        self.weigh();
    }

    fn weigh(&mut self) {
        // of what was met, not of what a scale grew beyond it
        let tolerance = self.tolerance / HEADROOM;
        self.weights = Weights {
            current: 1.0 / (tolerance * self.current_a),
            speed: 1.0 / (SPEED_SHARE * tolerance * self.speed_rad_s),
            voltage: 1.0 / (tolerance * self.voltage_v),
            phi: 1.0 / self.tolerance,
        };
    }
}

impl Expansion {
    pub(super) const fn new() -> Self {
        Self {
            order: 0,
            length_s: 0.0,
            rate_length: 0.0,
            spread: Spread {
                speed: 0.0,
                phi: 0.0,
                free: [0.0; 2],
                bridge_v: 0.0,
            },
            free: [ZERO; 2],
            loop_current: ZERO,
            bridge_v: ZERO,
            speed: ZERO,
            phi: ZERO,
            em_torque: ZERO,
            cogging: ZERO,
            cogging_cosine: ZERO,
            height: [0.0; N_SHAPES],
            slope: [0.0; N_SHAPES],
            ramp: ZERO,
            shape: [ZERO; 2],
            loop_shape: ZERO,
            paired: [ZERO; 2],
            waves: Vec::new(),
        }
    }

    /// Expands the solution from `state` over at most `length_s`.
    pub(super) fn expand(
        &mut self,
        plant: &Plant,
        branches: &Branches,
        state: &State,
        length_s: f64,
        scales: &Scales,
    ) {
        self.length_s = length_s;
        self.free[0][0] = state.current_a[branches.pair.0];
        self.free[1][0] = state.current_a[branches.pair.1];
        self.loop_current[0] = state.loop_current_a;
        self.speed[0] = state.speed_rad_s;
        self.phi[0] = state.phi_rad;
        self.bridge_v[0] = state.bridge_v;
        self.rate_length = length_s * plant.series_rate(state.speed_rad_s, state.motion);
        let case = Case {
            plant,
            branches,
            motion: state.motion,
            scales,
        };
        let left_out = match &plant.shape {
            _ if state.motion == Motion::Held => self.expand_held(case, state),
            LeadShape::Linear { start, slope } => {
                let idx = sector_idx(state.sector);
                self.slope = slope[idx];
                for lead in 0..N_SHAPES {
                    self.height[lead] = start[idx][lead] + slope[idx][lead] * state.phi_rad;
                }
                if plant.plain {
                    self.expand_plain(case)
                } else {
                    self.start_cogging(plant, state);
                    self.expand_straight(case)
                }
            }
            LeadShape::Harmonic(terms) => {
                self.start_cogging(plant, state);
                self.start_waves(terms, state);
                self.expand_harmonic(case, terms)
            }
        };
        if left_out > 1.0 {
            self.shorten(0.9 * libm::pow(left_out, -INVERSE_RANK[MAX_ORDER]));
        }
        self.spread = self.spreads(branches.n_free, plant.soft.is_some());
    }

    fn expand_plain(&mut self, case: Case<'_>) -> f64 {
        let (b, slope) = (case.branches, &self.slope);
        match b.n_free {
            2 => self.run_straight::<2, true>(case),
            1 if slope[b.pair.0] != slope[b.pair.1] => self.run_straight::<1, true>(case),
            1 => self.run_flat::<1, true>(case),
            _ => self.run_flat::<0, true>(case),
        }
    }

    fn expand_straight(&mut self, case: Case<'_>) -> f64 {
        match case.branches.n_free {
            2 => self.run_straight::<2, false>(case),
            1 => self.run_straight::<1, false>(case),
            _ => self.run_straight::<0, false>(case),
        }
    }

    #[inline(always)]
    fn run_straight<const N: usize, const PLAIN: bool>(&mut self, case: Case<'_>) -> f64 {
        let rate = self.length_s * case.plant.pole_pairs;
        let shape = LinearShape::<N>::new(&self.height, &self.slope, case.branches, rate);
        Recurrence::<N, PLAIN, _>::new(case, &shape, self).run(self)
    }

    #[inline(always)]
    fn run_flat<const N: usize, const PLAIN: bool>(&mut self, case: Case<'_>) -> f64 {
        let shape = FlatShape::<N>::new(&self.height, case.branches);
        Recurrence::<N, PLAIN, _>::new(case, &shape, self).run(self)
    }

    fn expand_harmonic(&mut self, case: Case<'_>, terms: &[Harmonic]) -> f64 {
        let shape = HarmonicShape::new(terms, case.plant, case.branches);
        match case.branches.n_free {
            2 => Recurrence::<2, false, _>::new(case, &shape, self).run(self),
            1 => Recurrence::<1, false, _>::new(case, &shape, self).run(self),
            _ => Recurrence::<0, false, _>::new(case, &shape, self).run(self),
        }
    }

    fn expand_held(&mut self, case: Case<'_>, state: &State) -> f64 {
        self.speed[0] = 0.0;
        self.start_cogging(case.plant, state);
        self.height = case.plant.shape_at(state.sector, state.phi_rad);
        match case.branches.n_free {
            2 => self.run_flat::<2, false>(case),
            1 => self.run_flat::<1, false>(case),
            _ => self.run_flat::<0, false>(case),
        }
    }

    fn start_cogging(&mut self, plant: &Plant, state: &State) {
        if let Some(Cogging {
            peak_nm,
            per_electrical_turn,
            ..
        }) = plant.cogging
        {
            let (sine, cosine) =
                Plant::sine_cosine(per_electrical_turn, state.sector, state.phi_rad);
            self.cogging[0] = -peak_nm * sine;
            self.cogging_cosine[0] = -peak_nm * cosine;
        }
    }

    fn start_waves(&mut self, terms: &[Harmonic], state: &State) {
        self.waves.resize(
            terms.len(),
            Wave {
                sine: ZERO,
                cosine: ZERO,
            },
        );
        for (wave, term) in self.waves.iter_mut().zip(terms) {
            (wave.sine[0], wave.cosine[0]) =
                Plant::sine_cosine(term.order, state.sector, state.phi_rad);
        }
    }

    /// Current of a leg times `sign`, in A.
    #[inline]
    pub(super) fn current(&self, b: &Branches, leg: usize, sign: f64) -> Series {
        let [first, second] = b.of_free[leg].map(|part| sign * part);
        let mut out = ZERO;
        if self.order == SHORT {
            for k in 0..=SHORT {
                out[k] = first * self.free[0][k] + second * self.free[1][k];
            }
        } else {
            for k in 0..=self.order {
                out[k] = first * self.free[0][k] + second * self.free[1][k];
            }
        }
        out
    }

    /// Terminal voltage of an open leg in V: star point plus EMF. Where no leg is connected, the
    /// star point counts as zero.
    pub(super) fn open_terminal(
        &self,
        plant: &Plant,
        b: &Branches,
        state: &State,
        leg: usize,
    ) -> Series {
        let (order, circuit) = (self.order, &b.circuit);
        let mut out = ZERO;
        match &plant.shape {
            _ if state.motion == Motion::Held => {}
            LeadShape::Linear { .. } => {
                let height = less_mean(&self.height, b, leg);
                let slope = less_mean(&self.slope, b, leg);
                let per_twice_rate = 0.5 / (self.length_s * plant.pole_pairs);
                for k in 0..=order {
                    out[k] =
                        height * self.speed[k] + slope * swept(&self.phi, per_twice_rate, k, false);
                }
            }
            LeadShape::Harmonic(terms) => {
                let mut shape = ZERO;
                for k in 0..=order {
                    shape[k] = less_mean(&harmonic_shapes(terms, &self.waves, k), b, leg);
                    out[k] = product(&self.speed, &shape, k);
                }
            }
        }
        for k in 0..=order {
            for a in 0..b.n_free {
                out[k] -= circuit.mean_ohm[a] * self.free[a][k];
            }
        }
        out[0] += circuit.mean_v + circuit.mean_rail * self.bridge_v[0];
        if plant.soft.is_some() {
            for k in 1..=order {
                out[k] += circuit.mean_rail * self.bridge_v[k];
            }
        }
        out
    }

    #[inline(always)]
    fn spreads(&self, n_free: usize, soft: bool) -> Spread {
        let of = |c: &Series, some: bool| {
            if some {
                poly::spread(c, self.order)
            } else {
                0.0
            }
        };
        Spread {
            speed: of(&self.speed, true),
            phi: of(&self.phi, true),
            free: [of(&self.free[0], n_free > 0), of(&self.free[1], n_free > 1)],
            bridge_v: of(&self.bridge_v, soft),
        }
    }

    /// Voltage of an open terminal at the start and how far it may go from there, without its
    /// series: no bound for shapes other than straight ones.
    #[inline(always)]
    pub(super) fn open_terminal_bound(
        &self,
        plant: &Plant,
        b: &Branches,
        state: &State,
        leg: usize,
    ) -> (f64, f64) {
        let (circuit, spread) = (&b.circuit, &self.spread);
        let mut at = circuit.mean_v + circuit.mean_rail * self.bridge_v[0];
        let mut most = circuit.mean_rail * spread.bridge_v;
        if b.n_free > 0 {
            at -= circuit.mean_ohm[0] * self.free[0][0];
            most += circuit.mean_ohm[0].abs() * spread.free[0];
        }
        match &plant.shape {
            _ if state.motion == Motion::Held => {}
            LeadShape::Linear { .. } => {
                let speed = self.speed[0];
                let height = less_mean(&self.height, b, leg);
                let slope = less_mean(&self.slope, b, leg);
                at += speed * height;
                most += spread.speed * height.abs()
                    + (speed.abs() + spread.speed) * (slope * spread.phi).abs();
            }
            LeadShape::Harmonic(_) => most = f64::INFINITY,
        }
        (at, most)
    }

    /// Scales every series that is read later to a shorter piece.
    fn shorten(&mut self, ratio: f64) {
        self.length_s *= ratio;
        self.rate_length *= ratio;
        let mut power = 1.0;
        for k in 1..=self.order {
            power *= ratio;
            for series in [
                &mut self.loop_current,
                &mut self.bridge_v,
                &mut self.speed,
                &mut self.phi,
                &mut self.em_torque,
                &mut self.cogging,
            ]
            .into_iter()
            .chain(&mut self.free)
            {
                series[k] *= power;
            }
            for wave in &mut self.waves {
                wave.sine[k] *= power;
                wave.cosine[k] *= power;
            }
        }
    }
}

/// How far the series may go from their starts: sums of the magnitudes of all coefficients but
/// the first.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spread {
    pub(super) speed: f64,
    pub(super) phi: f64,
    pub(super) free: [f64; 2],
    pub(super) bridge_v: f64,
}

/// Values of the leads and the loop.
type Lead = [f64; N_SHAPES];
