//! Samples and extremes, from the steps the integrator takes.

use super::Options;
use super::figures::Extremes;
use super::piece::Piece;
use super::watch::Step;
use wyebench::record::Sample;
use wyebench::setup::Setup;

/// Takes samples and extremes from accepted steps.
#[derive(Clone, Debug)]
pub struct Recorder {
    /// Samples so far.
    pub samples: Vec<Sample>,
    spacing: f64,
    n_samples: usize,
    inside_steps: bool,
    /// When the present piece began, in s.
    pub piece_start: f64,
    /// Whether extremes are taken.
    pub want_extremes: bool,
    /// Extremes so far.
    pub extremes: Extremes,
}

impl Recorder {
    /// Records nothing.
    pub const fn none() -> Self {
        Self {
            samples: Vec::new(),
            spacing: 1.0,
            n_samples: 0,
            inside_steps: false,
            piece_start: 0.0,
            want_extremes: false,
            extremes: Extremes::NONE,
        }
    }

    /// Records extremes.
    pub fn extremes_only() -> Self {
        Self {
            want_extremes: true,
            ..Self::none()
        }
    }

    /// For a run.
    pub fn new(setup: &Setup, options: &Options) -> Self {
        let n_samples = (setup.run.duration_s / setup.run.sample_s + 1e-9).floor() as usize + 1;
        Self {
            samples: Vec::with_capacity(n_samples),
            spacing: setup.run.sample_s,
            n_samples,
            inside_steps: !options.stop_at_samples,
            ..Self::none()
        }
    }

    /// Instant of the next sample; infinite after the last.
    pub fn next_time(&self) -> f64 {
        if self.samples.len() < self.n_samples {
            self.samples.len() as f64 * self.spacing
        } else {
            f64::INFINITY
        }
    }

    /// Takes the sample that is due.
    pub fn push(&mut self, piece: &Piece, y: &[f64]) {
        let time_s = self.next_time();
        let state = piece.state(y);
        let flow = piece.flow(y);
        let (em_torque_nm, cogging) = piece.torques(y);
        self.samples.push(Sample {
            time_s,
            theta_mech_rad: state.theta,
            theta_elec_rad: piece.machine.pole_pairs * state.theta,
            speed_rad_s: state.omega,
            phase_current_a: state.i,
            line_current_a: flow.lead,
            back_emf_v: piece.emf(y),
            terminal_v: flow.terminal,
            em_torque_nm,
            torque_nm: em_torque_nm + cogging,
            supply_current_a: piece.supply_current(flow.lead),
            supply_voltage_v: state.v_dc,
            step: piece.step,
            legs: piece.legs,
        });
    }

    /// Takes what an accepted step holds.
    pub fn take<const N: usize>(&mut self, piece: &Piece, step: &Step<N>) {
        if self.inside_steps {
            loop {
                let x = self.next_time() - self.piece_start;
                // A sample at the very end belongs to the next piece.
                if x > step.x1 - same_instant(self.piece_start) {
                    break;
                }
                let y = step.at(x.max(step.x0));
                self.push(piece, &y);
            }
        }
        if self.want_extremes {
            self.take_extremes(piece, step);
        }
    }

    fn take_extremes<const N: usize>(&mut self, piece: &Piece, step: &Step<N>) {
        const PARTS: usize = 8;
        let torque = |y: &[f64; N]| {
            let (em, cogging) = piece.torques(y);
            em + cogging
        };
        let spacing = (step.x1 - step.x0) / PARTS as f64;
        let y_at = |j: usize| match j {
            0 => step.y0,
            PARTS => step.y1,
            _ => step.at(step.x0 + spacing * j as f64),
        };
        let points: [[f64; N]; PARTS + 1] = std::array::from_fn(y_at);
        for k in 0..3 {
            let values = points.map(|y| piece.state(&y).i[k]);
            let read = |x: f64| piece.state(&step.at(x)).i[k];
            let high = highest(&values, step.x0, spacing, read);
            let low = -highest(&values.map(|v| -v), step.x0, spacing, |x| -read(x));
            let peak = high.abs().max(low.abs());
            self.extremes.current_peak = self.extremes.current_peak.max(peak);
        }
        let values = points.map(|y| torque(&y));
        let high = highest(&values, step.x0, spacing, |x| torque(&step.at(x)));
        let low = -highest(&values.map(|v| -v), step.x0, spacing, |x| {
            -torque(&step.at(x))
        });
        self.extremes.torque_max = self.extremes.torque_max.max(high);
        self.extremes.torque_min = self.extremes.torque_min.min(low);
    }
}

/// Highest of a function known at equal spacings, refined where it is highest inside.
fn highest(values: &[f64], x0: f64, spacing: f64, read: impl Fn(f64) -> f64) -> f64 {
    let mut top = 0;
    for (j, v) in values.iter().enumerate() {
        if *v > values[top] {
            top = j;
        }
    }
    if top == 0 || top + 1 == values.len() {
        return values[top];
    }
    let (a, b, c) = (values[top - 1], values[top], values[top + 1]);
    let curve = a - 2.0 * b + c;
    if curve >= 0.0 {
        return b;
    }
    let shift = 0.5 * (a - c) / curve;
    b.max(read(x0 + spacing * (top as f64 + shift)))
}

/// Two instants this close in s are one.
pub fn same_instant(t: f64) -> f64 {
    1e-14_f64.max(8.0 * f64::EPSILON * t)
}
