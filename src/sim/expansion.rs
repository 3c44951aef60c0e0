//! One piece of a run as power series.
//!
//! Between two events the equations are smooth, and each coefficient of their solution follows
//! from the ones before it (the Taylor method; E. Hairer, S. P. Nørsett, G. Wanner, *Solving
//! Ordinary Differential Equations I*, 2nd ed., section I.8). Products of series are Cauchy
//! products, so EMF (speed × shape), torque (current × shape), drag (speed²) and, through
//! (sin)′ = cos · rate, sine shapes and cogging cost a few multiplications an order. The order
//! is raised until two coefficients in a row lie below the tolerance; where the highest order
//! does not reach, the piece is shortened by scaling the coefficients, at no new work.

use super::bridge::Branches;
use super::plant::{Cogging, Harmonic, LOOP, LeadShape, N_SHAPES, Plant, sector_idx};
use super::poly::{INVERSE_RANK, MAX_ORDER, Series, product, square};
use super::state::{Motion, State};

const ZERO: Series = [0.0; MAX_ORDER + 2];

/// The solution on one piece, as series in τ = (t − start) / length.
#[derive(Clone, Debug)]
pub(super) struct Expansion {
    /// Highest order in use.
    pub(super) order: usize,
    /// Highest order of speed and angle that is not zero.
    pub(super) mechanical_order: usize,
    /// Whether `em_torque` was written.
    pub(super) torque_known: bool,
    /// Length the series are scaled to, in s.
    pub(super) length_s: f64,
    /// Lead currents in A.
    pub(super) current: [Series; 3],
    /// Loop current of a delta in A.
    pub(super) loop_current: Series,
    /// EMF of the leads in V.
    pub(super) emf: [Series; 3],
    /// Terminal voltage of an open leg in V, where another leg is connected.
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
    /// Slope-weighted currents (linear shapes).
    pub(super) ramp_current: Series,
    cogging_cosine: Series,
    waves: Vec<Wave>,
    /// Shapes of leads and loop (harmonic shapes).
    shape: [Series; N_SHAPES],
}

/// Sine and cosine of one harmonic, and their products with the speed.
#[derive(Clone, Debug)]
struct Wave {
    sine: Series,
    cosine: Series,
}

/// Part of the tolerance that the speed gets: the turning masses may hold a hundred times the
/// energy that flows, and the account is taken on what flows.
pub(super) const SPEED_SHARE: f64 = 0.01;

/// Sizes against which a coefficient counts as small.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scales {
    pub(super) current_a: f64,
    pub(super) speed_rad_s: f64,
    pub(super) voltage_v: f64,
    /// Allowed size of the last coefficients, relative to the scales.
    pub(super) tolerance: f64,
}

impl Expansion {
    pub(super) fn new() -> Self {
        Self {
            order: 0,
            length_s: 0.0,
            current: [ZERO; 3],
            loop_current: ZERO,
            emf: [ZERO; 3],
            open_terminal: [ZERO; 3],
            mechanical_order: 0,
            torque_known: false,
            bridge_v: ZERO,
            speed: ZERO,
            phi: ZERO,
            em_torque: ZERO,
            cogging: ZERO,
            ramp_current: ZERO,
            cogging_cosine: ZERO,
            waves: Vec::new(),
            shape: [ZERO; N_SHAPES],
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
        self.loop_current[0] = state.loop_current_a;
        self.speed[0] = state.speed_rad_s;
        self.phi[0] = state.phi_rad;
        self.bridge_v[0] = state.bridge_v;
        self.start_cogging(plant, state);
        match (&plant.shape, state.motion) {
            (_, Motion::Held) => {
                let gain = plant.shape_at(state.sector, state.phi_rad);
                self.run(plant, branches, state, scales, &HeldRotor { gain });
            }
            (LeadShape::Linear { start, slope }, motion) => {
                let idx = sector_idx(state.sector);
                if let Motion::Free { negative } = motion
                    && plant.quick
                    && self.expand_quickly(
                        plant,
                        branches,
                        scales,
                        (&start[idx], &slope[idx]),
                        negative,
                    )
                {
                    return;
                }
                self.run(
                    plant,
                    branches,
                    state,
                    scales,
                    &LinearShape {
                        start: start[idx],
                        slope: slope[idx],
                    },
                );
            }
            (LeadShape::Harmonic(terms), _) => {
                self.start_waves(terms, state);
                self.run(plant, branches, state, scales, &HarmonicShape { terms });
            }
        }
    }

    /// The commonest circuits; false where the general way must be taken.
    #[inline]
    fn expand_quickly(
        &mut self,
        plant: &Plant,
        branches: &Branches,
        scales: &Scales,
        shape: (&[f64; N_SHAPES], &[f64; N_SHAPES]),
        negative: bool,
    ) -> bool {
        use super::quick::{LONG, MEDIUM, SHORT, expand_open, expand_three, expand_two};
        // of the fastest circuit there is; the expansion itself tells whether it was accurate
        let decay = self.length_s * plant.circuit_rate;
        let n_connected = branches.n_connected;
        let mut done = false;
        if n_connected < 2 {
            done = expand_open(self, plant, branches, scales, shape, negative);
        } else {
            if decay < 0.1 {
                done = if n_connected == 2 {
                    expand_two::<SHORT>(self, plant, branches, scales, shape, negative)
                } else {
                    expand_three::<SHORT>(self, plant, branches, scales, shape, negative)
                };
            }
            if !done && decay < 0.2 {
                done = if n_connected == 2 {
                    expand_two::<MEDIUM>(self, plant, branches, scales, shape, negative)
                } else {
                    expand_three::<MEDIUM>(self, plant, branches, scales, shape, negative)
                };
            }
            if !done && decay < 0.8 {
                done = if n_connected == 2 {
                    expand_two::<LONG>(self, plant, branches, scales, shape, negative)
                } else {
                    expand_three::<LONG>(self, plant, branches, scales, shape, negative)
                };
            }
        }
        if done {
            self.torque_known = false;
        }
        done
    }

    /// Electromagnetic torque as a series in N m.
    pub(super) fn torque_series(&self, plant: &Plant, sector: i64) -> Series {
        if self.torque_known {
            return self.em_torque;
        }
        // only a linear shape in star leaves it out
        let LeadShape::Linear { start, slope } = &plant.shape else {
            return self.em_torque;
        };
        let idx = sector_idx(sector);
        let mut ramp = ZERO;
        let mut torque = ZERO;
        for k in 0..=self.order {
            for leg in 0..3 {
                torque[k] += start[idx][leg] * self.current[leg][k];
                ramp[k] += slope[idx][leg] * self.current[leg][k];
            }
            torque[k] += product(&ramp, &self.phi, k);
        }
        torque
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

    /// The recurrence itself, one order after the other.
    #[inline(always)]
    fn run(
        &mut self,
        plant: &Plant,
        branches: &Branches,
        state: &State,
        scales: &Scales,
        shape: &impl ShapeSeries,
    ) {
        let length_s = self.length_s;
        let per_inductance = length_s / plant.lead_inductance_h;
        let per_inertia = length_s / plant.inertia_kg_m2;
        let electrical_rate = length_s * plant.pole_pairs;
        let moves = matches!(state.motion, Motion::Free { .. });
        let direction = match state.motion {
            Motion::Free { negative: true } => -1.0,
            _ => 1.0,
        };
        let drag = direction * plant.quadratic_nm_s2;
        let still_nm = direction * plant.dry_nm + plant.gravity_nm;
        let (current_weight, speed_weight, voltage_weight) = (
            1.0 / scales.current_a,
            1.0 / (SPEED_SHARE * scales.speed_rad_s),
            1.0 / scales.voltage_v,
        );
        let total_ohm: [f64; 3] =
            std::array::from_fn(|leg| plant.lead_resistance_ohm + branches.ohm[leg]);
        let cogging_weight = plant
            .cogging
            .map_or(0.0, |cogging| 1.0 / cogging.peak_nm.abs());
        let (first, second) = branches.pair;
        let mut error_before = f64::INFINITY;
        let mut k = 0;
        let last_error = loop {
            let inverse = INVERSE_RANK[k + 1];
            let at_start = if k == 0 { 1.0 } else { 0.0 };
            let loop_emf = shape.emf(self, k);
            // voltage left for the inductances, before the star point is known
            let rail = self.bridge_v[k];
            let mut current_error = 0.0;
            match branches.n_connected {
                3 => {
                    let left: [f64; 3] = std::array::from_fn(|leg| {
                        branches.rail_part[leg] * rail + branches.offset_v[leg] * at_start
                            - total_ohm[leg] * self.current[leg][k]
                            - self.emf[leg][k]
                    });
                    let mean = (left[0] + left[1] + left[2]) * (1.0 / 3.0);
                    let u = (left[0] - mean) * per_inductance * inverse;
                    let v = (left[1] - mean) * per_inductance * inverse;
                    self.current[0][k + 1] = u;
                    self.current[1][k + 1] = v;
                    self.current[2][k + 1] = -(u + v);
                    current_error = u.abs().max(v.abs());
                }
                2 => {
                    let left = |leg: usize| {
                        branches.rail_part[leg] * rail + branches.offset_v[leg] * at_start
                            - total_ohm[leg] * self.current[leg][k]
                            - self.emf[leg][k]
                    };
                    let (a, b) = (left(first), left(second));
                    self.open_terminal[branches.third][k] =
                        0.5 * (a + b) + self.emf[branches.third][k];
                    let next = 0.5 * (a - b) * per_inductance * inverse;
                    self.current[first][k + 1] = next;
                    self.current[second][k + 1] = -next;
                    self.current[branches.third][k + 1] = 0.0;
                    current_error = next.abs();
                }
                1 => {
                    let star_point = branches.rail_part[first] * rail
                        + branches.offset_v[first] * at_start
                        - self.emf[first][k];
                    for leg in 0..3 {
                        self.current[leg][k + 1] = 0.0;
                        self.open_terminal[leg][k] = star_point + self.emf[leg][k];
                    }
                }
                _ => {
                    for leg in 0..3 {
                        self.current[leg][k + 1] = 0.0;
                    }
                }
            }
            if plant.delta {
                let next = (-plant.winding_resistance_ohm * self.loop_current[k] - loop_emf)
                    * (length_s / plant.winding_inductance_h)
                    * inverse;
                self.loop_current[k + 1] = next;
                current_error = current_error.max(next.abs());
            }
            let torque = shape.torque(self, plant.delta, k);
            self.em_torque[k] = torque;
            let mut error = current_error * current_weight;
            if moves {
                let mut net = torque - plant.viscous_nm_s * self.speed[k] - still_nm * at_start;
                if drag != 0.0 {
                    net -= drag * square(&self.speed, k);
                }
                if plant.cogging.is_some() {
                    net += self.cogging[k];
                }
                let next = net * per_inertia * inverse;
                self.speed[k + 1] = next;
                error = error.max(next.abs() * speed_weight);
            } else {
                self.speed[k + 1] = 0.0;
            }
            if !matches!(state.motion, Motion::Held) {
                let next = electrical_rate * inverse * self.speed[k];
                self.phi[k + 1] = next;
                error = error.max(next.abs());
                if let Some(Cogging {
                    per_electrical_turn,
                    ..
                }) = plant.cogging
                {
                    let rate = electrical_rate * inverse * f64::from(per_electrical_turn);
                    let sine = rate * product(&self.speed, &self.cogging_cosine, k);
                    let cosine = -rate * product(&self.speed, &self.cogging, k);
                    self.cogging[k + 1] = sine;
                    self.cogging_cosine[k + 1] = cosine;
                    error = error.max(sine.abs().max(cosine.abs()) * cogging_weight);
                }
                error = error.max(shape.advance(self, electrical_rate * inverse, k));
            } else {
                self.phi[k + 1] = 0.0;
                self.cogging[k + 1] = 0.0;
            }
            if let Some((source_ohm, capacitance_f)) = plant.soft {
                let mut bridge_current = 0.0;
                for leg in 0..3 {
                    bridge_current += branches.rail_part[leg] * self.current[leg][k];
                }
                let source_current = (plant.supply_v * at_start - rail) / source_ohm;
                let next = (source_current - bridge_current) * (length_s / capacitance_f) * inverse;
                self.bridge_v[k + 1] = next;
                // as a voltage, and as the source current it stands for
                error = error.max(next.abs() * voltage_weight.max(current_weight / source_ohm));
            } else {
                self.bridge_v[k + 1] = 0.0;
            }
            k += 1;
            // two in a row: one alone may be small by chance
            let last_two = error.max(error_before);
            if last_two <= scales.tolerance && k >= 3 || k == MAX_ORDER {
                break last_two;
            }
            error_before = error;
        };
        self.order = k;
        self.mechanical_order = k;
        self.torque_known = true;
        // torque and EMF are known one order less far
        self.em_torque[k] = 0.0;
        for series in self.emf.iter_mut().chain(&mut self.open_terminal) {
            series[k] = 0.0;
        }
        if plant.cogging.is_none() {
            self.cogging[..=k].fill(0.0);
        }
        if k == MAX_ORDER && last_error > scales.tolerance {
            let ratio = 0.9 * libm::pow(scales.tolerance / last_error, INVERSE_RANK[MAX_ORDER]);
            self.shorten(ratio);
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
                .chain(&mut self.emf)
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

/// How a shape of the EMF enters the recurrence.
trait ShapeSeries {
    /// Writes coefficient k of the leads' EMF and gives that of the loop.
    fn emf(&self, x: &mut Expansion, k: usize) -> f64;
    /// Coefficient k of the electromagnetic torque.
    fn torque(&self, x: &mut Expansion, delta: bool, k: usize) -> f64;
    /// Coefficient k + 1 of whatever the shape carries along, and its size relative to the
    /// shape's; `rate` is length · p / (k + 1).
    fn advance(&self, x: &mut Expansion, rate: f64, k: usize) -> f64;
}

/// A rotor at rest: no EMF, and torque in proportion to the currents.
struct HeldRotor {
    gain: [f64; N_SHAPES],
}

impl ShapeSeries for HeldRotor {
    #[inline(always)]
    fn emf(&self, x: &mut Expansion, k: usize) -> f64 {
        for emf in &mut x.emf {
            emf[k] = 0.0;
        }
        0.0
    }
    #[inline(always)]
    fn torque(&self, x: &mut Expansion, delta: bool, k: usize) -> f64 {
        let mut sum = if delta {
            3.0 * self.gain[LOOP] * x.loop_current[k]
        } else {
            0.0
        };
        for leg in 0..3 {
            sum += self.gain[leg] * x.current[leg][k];
        }
        sum
    }
    #[inline(always)]
    fn advance(&self, _: &mut Expansion, _: f64, _: usize) -> f64 {
        0.0
    }
}

/// start + slope · φ inside one sector.
struct LinearShape {
    start: [f64; N_SHAPES],
    slope: [f64; N_SHAPES],
}

impl ShapeSeries for LinearShape {
    #[inline(always)]
    fn emf(&self, x: &mut Expansion, k: usize) -> f64 {
        let (speed, swept) = (x.speed[k], product(&x.speed, &x.phi, k));
        for leg in 0..3 {
            x.emf[leg][k] = self.start[leg] * speed + self.slope[leg] * swept;
        }
        self.start[LOOP] * speed + self.slope[LOOP] * swept
    }
    #[inline(always)]
    fn torque(&self, x: &mut Expansion, delta: bool, k: usize) -> f64 {
        let mut sum = 0.0;
        let mut ramp = 0.0;
        for leg in 0..3 {
            sum += self.start[leg] * x.current[leg][k];
            ramp += self.slope[leg] * x.current[leg][k];
        }
        if delta {
            sum += 3.0 * self.start[LOOP] * x.loop_current[k];
            ramp += 3.0 * self.slope[LOOP] * x.loop_current[k];
        }
        x.ramp_current[k] = ramp;
        sum + product(&x.ramp_current, &x.phi, k)
    }
    #[inline(always)]
    fn advance(&self, _: &mut Expansion, _: f64, _: usize) -> f64 {
        0.0
    }
}

/// Σ (p sin nθe + q cos nθe).
struct HarmonicShape<'a> {
    terms: &'a [Harmonic],
}

impl ShapeSeries for HarmonicShape<'_> {
    #[inline(always)]
    fn emf(&self, x: &mut Expansion, k: usize) -> f64 {
        for lead in 0..N_SHAPES {
            let mut sum = 0.0;
            for (wave, term) in x.waves.iter().zip(self.terms) {
                sum += term.sine[lead] * wave.sine[k] + term.cosine[lead] * wave.cosine[k];
            }
            x.shape[lead][k] = sum;
        }
        for leg in 0..3 {
            x.emf[leg][k] = product(&x.speed, &x.shape[leg], k);
        }
        product(&x.speed, &x.shape[LOOP], k)
    }
    #[inline(always)]
    fn torque(&self, x: &mut Expansion, delta: bool, k: usize) -> f64 {
        let mut sum = if delta {
            3.0 * product(&x.loop_current, &x.shape[LOOP], k)
        } else {
            0.0
        };
        for leg in 0..3 {
            sum += product(&x.current[leg], &x.shape[leg], k);
        }
        sum
    }
    #[inline(always)]
    fn advance(&self, x: &mut Expansion, rate: f64, k: usize) -> f64 {
        let mut size: f64 = 0.0;
        for (wave, term) in x.waves.iter_mut().zip(self.terms) {
            let rate = rate * f64::from(term.order);
            let sine = rate * product(&x.speed, &wave.cosine, k);
            let cosine = -rate * product(&x.speed, &wave.sine, k);
            wave.sine[k + 1] = sine;
            wave.cosine[k + 1] = cosine;
            size = size.max(term.weight * sine.abs().max(cosine.abs()));
        }
        size
    }
}
