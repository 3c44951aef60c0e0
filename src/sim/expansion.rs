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
use super::plant::{Cogging, Harmonic, LOOP, LeadShape, Plant};
use super::poly::{self, INVERSE_RANK, MAX_ORDER, Series, ZERO, product};
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
    #[cold]
    #[inline(never)]
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
        let plain = plant.is_plain(state.motion);
        let n_free = branches.n_free;
        for_circuit!(
            (plain, n_free),
            self.expand_as(plant, branches, state, length_s, scales)
        );
    }

    /// The same, of a circuit with `N` free currents; plain: that of a plain plant whose rotor
    /// is free.
    #[inline(always)]
    pub(super) fn expand_as<const N: usize, const PLAIN: bool>(
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
        self.rate_length = length_s * plant.series_rate::<PLAIN>(state.speed_rad_s, state.motion);
        let case = Case {
            plant,
            branches,
            motion: state.motion,
            scales,
        };
        let left_out = match &plant.shape {
            LeadShape::Linear { .. } if PLAIN => {
                let free = &branches.seen[state.sixth].free;
                let flat = FlatShape::new(std::array::from_fn(|a| free[a].at(state.phi_rad)), 0.0);
                if N == 2 || N == 1 && free[0].slope != 0.0 {
                    let slope = std::array::from_fn(|a| free[a].slope);
                    let shape = LinearShape::new(flat, slope, 0.0, length_s * plant.pole_pairs);
                    Recurrence::<N, true, _>::new(case, shape, self).run(self)
                } else {
                    Recurrence::<N, true, _>::new(case, flat, self).run(self)
                }
            }
            shape => self.expand_any::<N>(case, shape, state),
        };
        if left_out > 1.0 {
            self.shorten(0.9 * libm::pow(left_out, -INVERSE_RANK[MAX_ORDER]));
        }
        self.spread = self.spreads::<N, PLAIN>(plant);
    }

    /// Of any plant.
    #[inline(never)]
    fn expand_any<const N: usize>(
        &mut self,
        case: Case<'_>,
        shape: &LeadShape,
        state: &State,
    ) -> f64 {
        let plant = case.plant;
        self.start_cogging(plant, state);
        match shape {
            _ if state.motion == Motion::Held => {
                self.speed[0] = 0.0;
                let height = plant.shape_at(state, state.phi_rad);
                let shape = FlatShape::<N>::of_leads(&height, case.branches);
                Recurrence::<N, false, _>::new(case, shape, self).run(self)
            }
            LeadShape::Linear { start, slope } => {
                let free = &case.branches.seen[state.sixth].free;
                let (start, loop_slope) = (start[state.sixth][LOOP], slope[state.sixth][LOOP]);
                let flat = FlatShape::new(
                    std::array::from_fn(|a| free[a].at(state.phi_rad)),
                    start + loop_slope * state.phi_rad,
                );
                let slope = std::array::from_fn(|a| free[a].slope);
                let rate = self.length_s * plant.pole_pairs;
                let shape = LinearShape::<N>::new(flat, slope, loop_slope, rate);
                Recurrence::<N, false, _>::new(case, shape, self).run(self)
            }
            LeadShape::Harmonic(terms) => {
                self.start_waves(terms, state);
                let shape = HarmonicShape::new(terms, plant, case.branches);
                Recurrence::<N, false, _>::new(case, shape, self).run(self)
            }
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

    /// Current of a leg times `sign`, in A: all of the series, or a short one.
    #[inline]
    pub(super) fn current<const LEN: usize>(
        &self,
        b: &Branches,
        leg: usize,
        sign: f64,
    ) -> [f64; LEN] {
        let [first, second] = b.of_free[leg].map(|part| sign * part);
        std::array::from_fn(|k| first * self.free[0][k] + second * self.free[1][k])
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
            LeadShape::Linear { slope, .. } => {
                let height = less_mean(&plant.shape_at(state, state.phi_rad), b, leg);
                let slope = less_mean(&slope[state.sixth], b, leg);
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
    fn spreads<const N: usize, const PLAIN: bool>(&self, plant: &Plant) -> Spread {
        let of = |c: &Series, some: bool| {
            if some {
                poly::spread(c, self.order)
            } else {
                0.0
            }
        };
        let speed = of(&self.speed, true);
        Spread {
            speed,
            // each coefficient is length · p / k of one of the speed
            phi: self.length_s * plant.pole_pairs * (self.speed[0].abs() + 0.5 * speed),
            free: [of(&self.free[0], N > 0), of(&self.free[1], N > 1)],
            bridge_v: of(&self.bridge_v, !PLAIN && plant.soft.is_some()),
        }
    }

    /// Voltage of the terminal of an open leg, by its place behind the connected ones, at the
    /// start and how far it may go from there, without its series: no bound for shapes other than
    /// straight ones.
    #[inline(always)]
    pub(super) fn open_terminal_bound<const N: usize, const PLAIN: bool>(
        &self,
        plant: &Plant,
        b: &Branches,
        state: &State,
        which: usize,
    ) -> (f64, f64) {
        let (circuit, spread) = (&b.circuit, &self.spread);
        let mut at = circuit.mean_v + circuit.mean_rail * self.bridge_v[0];
        let mut most = if PLAIN {
            0.0
        } else {
            circuit.mean_rail * spread.bridge_v
        };
        if N > 0 {
            at -= circuit.mean_ohm[0] * self.free[0][0];
            most += circuit.mean_ohm[0].abs() * spread.free[0];
        }
        match &plant.shape {
            _ if !PLAIN && state.motion == Motion::Held => {}
            LeadShape::Linear { .. } => {
                let speed = self.speed[0];
                let open = b.seen[state.sixth].open[which];
                let height = open.at(state.phi_rad);
                at += speed * height;
                most += spread.speed * height.abs()
                    + (speed.abs() + spread.speed) * (open.slope * spread.phi).abs();
            }
            LeadShape::Harmonic(_) => most = f64::INFINITY,
        }
        (at, most)
    }

    /// Scales what is made of the series to a shorter piece, where that is no more than its first
    /// coefficients.
    #[inline(always)]
    pub(super) fn shorten_start<const PLAIN: bool>(&mut self, ratio: f64) {
        if !PLAIN {
            self.order = 1;
            return self.shorten(ratio);
        }
        self.length_s *= ratio;
        self.rate_length *= ratio;
        for series in [&mut self.speed, &mut self.phi]
            .into_iter()
            .chain(&mut self.free)
        {
            series[1] *= ratio;
        }
    }

    /// Scales every series to a shorter piece.
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
                &mut self.cogging_cosine,
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
