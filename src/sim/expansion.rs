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
use super::poly::{INVERSE_RANK, MAX_ORDER, Series, ZERO};
use super::recurrence::{Case, Recurrence};
use super::shape::{HarmonicShape, LinearShape, Wave};
use super::state::{Motion, State};

/// The solution on one piece, as series in τ = (t − start) / length.
#[derive(Clone, Debug)]
pub(super) struct Expansion {
    /// Highest order in use.
    pub(super) order: usize,
    /// Length the series are scaled to, in s.
    pub(super) length_s: f64,
    /// Lead currents in A.
    pub(super) current: [Series; 3],
    /// Loop current of a delta in A.
    pub(super) loop_current: Series,
    /// Terminal voltage of an open leg in V; where no leg is connected, against the star point.
    pub(super) open_terminal: [Series; 3],
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
    /// The currents that are free to choose: of all connected legs but the last.
    pub(super) free: [Series; 2],
    /// Speed times angle (straight shapes), and currents weighted with the slopes.
    pub(super) swept: Series,
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
            self.current_a = self.current_a.max(current_a);
            self.speed_rad_s = self.speed_rad_s.max(speed_rad_s);
            self.voltage_v = self.voltage_v.max(voltage_v);
            self.weigh();
        }
    }

    /// With another tolerance.
    pub(super) fn set_tolerance(&mut self, tolerance: f64) {
        self.tolerance = tolerance;
        self.weigh();
    }

    fn weigh(&mut self) {
        self.weights = Weights {
            current: 1.0 / (self.tolerance * self.current_a),
            speed: 1.0 / (SPEED_SHARE * self.tolerance * self.speed_rad_s),
            voltage: 1.0 / (self.tolerance * self.voltage_v),
            phi: 1.0 / self.tolerance,
        };
    }
}

/// Start and slope of the shapes in one sector.
type Lines<'a> = (&'a [f64; N_SHAPES], &'a [f64; N_SHAPES]);

impl Expansion {
    pub(super) const fn new() -> Self {
        Self {
            order: 0,
            length_s: 0.0,
            current: [ZERO; 3],
            loop_current: ZERO,
            open_terminal: [ZERO; 3],
            bridge_v: ZERO,
            speed: ZERO,
            phi: ZERO,
            em_torque: ZERO,
            cogging: ZERO,
            cogging_cosine: ZERO,
            free: [ZERO; 2],
            swept: ZERO,
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
        for leg in 0..3 {
            self.current[leg][0] = state.current_a[leg];
        }
        self.free[0][0] = state.current_a[branches.pair.0];
        self.free[1][0] = state.current_a[branches.pair.1];
        self.loop_current[0] = state.loop_current_a;
        self.speed[0] = state.speed_rad_s;
        self.phi[0] = state.phi_rad;
        self.bridge_v[0] = state.bridge_v;
        let case = Case {
            plant,
            branches,
            motion: state.motion,
            scales,
        };
        let left_out = match &plant.shape {
            LeadShape::Linear { start, slope } if state.motion != Motion::Held => {
                let idx = sector_idx(state.sector);
                let lines = (&start[idx], &slope[idx]);
                if plant.plain {
                    self.expand_straight::<true>(case, lines)
                } else {
                    self.start_cogging(plant, state);
                    self.expand_straight::<false>(case, lines)
                }
            }
            LeadShape::Harmonic(terms) if state.motion != Motion::Held => {
                self.start_cogging(plant, state);
                self.start_waves(terms, state);
                self.expand_harmonic(case, terms)
            }
            _ => {
                self.speed[0] = 0.0;
                self.start_cogging(plant, state);
                let gain = plant.shape_at(state.sector, state.phi_rad);
                self.expand_straight::<false>(case, (&gain, &[0.0; N_SHAPES]))
            }
        };
        if left_out > 1.0 {
            self.shorten(0.9 * libm::pow(left_out, -INVERSE_RANK[MAX_ORDER]));
        }
    }

    fn expand_straight<const PLAIN: bool>(&mut self, case: Case<'_>, lines: Lines<'_>) -> f64 {
        match case.branches.n_connected {
            3 => self.run_straight::<2, PLAIN>(case, lines),
            2 => self.run_straight::<1, PLAIN>(case, lines),
            _ => self.run_straight::<0, PLAIN>(case, lines),
        }
    }

    #[inline(always)]
    fn run_straight<const N: usize, const PLAIN: bool>(
        &mut self,
        case: Case<'_>,
        (start, slope): Lines<'_>,
    ) -> f64 {
        let shape = LinearShape::<N>::new(start, slope, case.branches);
        Recurrence::<N, PLAIN, _>::new(case, &shape, self).run(self)
    }

    fn expand_harmonic(&mut self, case: Case<'_>, terms: &[Harmonic]) -> f64 {
        let shape = HarmonicShape::new(terms, case.plant, case.branches);
        match case.branches.n_connected {
            3 => Recurrence::<2, false, _>::new(case, &shape, self).run(self),
            2 => Recurrence::<1, false, _>::new(case, &shape, self).run(self),
            _ => Recurrence::<0, false, _>::new(case, &shape, self).run(self),
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

    /// Scales every series to a shorter piece.
    fn shorten(&mut self, ratio: f64) {
        self.length_s *= ratio;
        let mut power = 1.0;
        for k in 1..=self.order {
            power *= ratio;
            for series in self
                .current
                .iter_mut()
                .chain(&mut self.open_terminal)
                .chain([
                    &mut self.loop_current,
                    &mut self.bridge_v,
                    &mut self.speed,
                    &mut self.phi,
                    &mut self.em_torque,
                    &mut self.cogging,
                ])
            {
                series[k] *= power;
            }
        }
    }
}
