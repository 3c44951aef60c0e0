//! What a motor would make the instruments show, and the motor that fits what they showed.
//!
//! Every reading is predicted from the motor (Kv, resistance, inductance, losses, inertia), from what
//! was there in truth when it was taken (a speed, a current, a temperature: one unknown a row), and
//! from the calibrations that readings share. All unknowns are found together by weighted least
//! squares, Gauss-Newton with halved steps. A calibration is an unknown that is known beforehand to
//! be 0 with its standard uncertainty, which is the same as a full covariance matrix of the readings
//! (JCGM 100:2008, 5.2 and F.1.2.3 on correlated inputs, cited from memory).
//!
//! What is positive is held as its logarithm, so that it stays positive and a relative uncertainty is
//! an absolute one.

use std::f64::consts::{PI, TAU};

use super::gradient::Gradient;
use super::reading::{Between, Of, Reading};
use super::sheet::{BenchSheet, Shape};
use super::solve::{Cholesky, Symmetric};
use super::variant::{Extra, Read, Variant};
use crate::setup::Connection;

/// Copper: R(T) = R₂₀ (235 + T)/(235 + 20) with T in °C (IEC 60034-1, read at second hand).
pub const COPPER_ZERO_DEG_C: f64 = 235.0;
/// Temperature to which resistances are taken, in °C.
pub const REFERENCE_DEG_C: f64 = 20.0;

/// Standard uncertainty by which the EMF that a controller sees differs from the open-lead one:
/// the time that commutation takes, its advance, its own drop. Common practice, no source.
pub const DRIVE_STANDARD: f64 = 0.01;

/// Standard uncertainty by which sound windings differ. Common practice, no source.
pub const WINDING_STANDARD: f64 = 0.004;

/// Unknowns of the motor, behind those of the rows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Main {
    /// ln of the peak EMF between two open leads per speed in V s/rad: of a star 1/Kv. It is the
    /// torque per ampere through two leads as well, in star and in delta.
    Emf,
    /// ln of the line resistance at 20 °C in ohm.
    Resistance,
    /// ln of the line inductance in H.
    Inductance,
    /// Constant part of the no-load current in A.
    Constant,
    /// Part of the no-load current per volt of EMF in A/V.
    PerVolt,
    /// ln of the rotor inertia in kg m².
    Inertia,
    /// Shape of the EMF: 1 the trapezoid, −1 the sine.
    Shape,
    /// Relative deviation of the EMF on the controller.
    Drive,
}

const N_MAIN: usize = 8;

/// Standard deviation of a logarithm of which nothing is known beforehand: a factor of twenty.
const BROAD: f64 = 3.0;

/// One way to look at a sheet: the readings with a hypothesis about how they came about.
pub(super) struct Model<'a> {
    pub(super) sheet: &'a BenchSheet,
    pub(super) variant: &'a Variant,
    /// How each reading came about.
    reads: Vec<Read>,
    /// Part of each reading that each fault of unknown size has.
    parts: Vec<Vec<f64>>,
}

/// The motor that fits, and how well.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Fit {
    /// All unknowns.
    pub(super) theta: Vec<f64>,
    /// Sum of squares over readings and calibrations.
    pub(super) chi_square: f64,
    /// ln of the probability of the readings, unknowns averaged over.
    pub(super) log_evidence: f64,
    /// Factor of the inverse covariance.
    pub(super) factor: Cholesky,
}

impl Fit {
    /// Standard uncertainty of a quantity with this gradient.
    pub(super) fn standard(&self, gradient: &[(usize, f64)]) -> f64 {
        self.factor.variance(gradient).max(0.0).sqrt()
    }
}

impl<'a> Model<'a> {
    pub(super) fn new(sheet: &'a BenchSheet, variant: &'a Variant) -> Self {
        let n = sheet.readings.len();
        let mut reads = vec![Read::AsStated; n];
        for &(idx, read) in &variant.reads {
            reads[idx] = read;
        }
        let of_extra = |extra: &Extra| {
            let mut parts = vec![0.0; n];
            for &(idx, part) in &extra.parts {
                parts[idx] = part;
            }
            parts
        };
        Self {
            sheet,
            variant,
            reads,
            parts: variant.extras.iter().map(of_extra).collect(),
        }
    }

    /// Index of an unknown of the motor.
    pub(super) fn main(&self, which: Main) -> usize {
        self.sheet.n_latents + which as usize
    }

    /// Index of a calibration.
    pub(super) fn gain(&self, idx: usize) -> usize {
        self.sheet.n_latents + N_MAIN + idx
    }

    /// Index of the unknown size of a fault.
    pub(super) fn extra(&self, idx: usize) -> usize {
        self.gain(self.sheet.gains.len() + idx)
    }

    pub(super) fn n_unknowns(&self) -> usize {
        self.extra(self.variant.extras.len())
    }

    pub(super) fn connection(&self) -> Connection {
        self.variant
            .connection
            .unwrap_or(self.sheet.motor.connection)
    }

    /// How a reading came about.
    pub(super) fn read(&self, idx: usize) -> Read {
        self.reads[idx]
    }

    /// The unknowns as another day would have them: calibrations taken as right.
    pub(super) fn careful(&self, theta: &[f64]) -> Vec<f64> {
        let mut theta = theta.to_vec();
        for gain in 0..self.sheet.gains.len() {
            theta[self.gain(gain)] = 0.0;
        }
        theta
    }

    /// Standard uncertainty of a reading on its own.
    pub(super) fn own_standard(&self, reading: &Reading) -> f64 {
        match reading.of {
            Of::Resistance { .. } => {
                libm::hypot(reading.standard, WINDING_STANDARD * reading.value)
            }
            _ => reading.standard,
        }
        .max(1e-9 * reading.value.abs())
    }

    /// What the instrument would show, and how that changes with the unknowns. `faulty`: with the
    /// hypothesis's fault, else as if the reading were taken with care.
    pub(super) fn shown(&self, theta: &[f64], idx: usize, faulty: bool) -> (f64, Gradient) {
        let reading = &self.sheet.readings[idx];
        let (mut value, mut gradient) = self.truth(theta, reading, idx, faulty);
        let mut factor = 1.0;
        let mut relative = Gradient::new(&[]);
        if faulty {
            if let Read::Times(times) = self.read(idx) {
                factor *= times;
            }
            for (k, parts) in self.parts.iter().enumerate() {
                if parts[idx] != 0.0 {
                    let size = 1.0 + parts[idx] * theta[self.extra(k)];
                    factor *= size;
                    relative.push((self.extra(k), parts[idx] / size));
                }
            }
        }
        if let Some(gain) = reading.gain {
            let size = 1.0 + theta[self.gain(gain)];
            factor *= size;
            relative.push((self.gain(gain), 1.0 / size));
        }
        value *= factor;
        gradient.scale(factor);
        for &(idx, slope) in relative.slopes() {
            gradient.push((idx, slope * value));
        }
        (value, gradient)
    }

    /// What was there to be read.
    fn truth(&self, theta: &[f64], reading: &Reading, idx: usize, faulty: bool) -> (f64, Gradient) {
        let main = |which| self.main(which);
        let exp = |idx: usize| libm::exp(theta[idx]);
        let proportional = |value: f64, over: &[usize]| {
            let mut gradient = Gradient::new(&[]);
            for &idx in over {
                gradient.push((idx, value));
            }
            (value, gradient)
        };
        let (emf, ohm) = (main(Main::Emf), main(Main::Resistance));
        match reading.of {
            Of::Frequency { latent } => {
                proportional(self.variant.pole_pairs * exp(latent) / TAU, &[latent])
            }
            Of::Speed { latent } => proportional(exp(latent), &[latent]),
            Of::Temperature { latent } => (theta[latent], Gradient::new(&[(latent, 1.0)])),
            Of::Inductance => {
                let henry = main(Main::Inductance);
                proportional(exp(henry), &[henry])
            }
            Of::Emf {
                latent,
                kind,
                between,
                ..
            } => {
                let (kind, between) = match self.read(idx) {
                    Read::Emf(kind, between) if faulty => (kind, between),
                    _ => (kind, between),
                };
                let (trapezoid, sine) = kind.over_line_peak(between, self.connection());
                let (middle, half) = (0.5 * (trapezoid + sine), 0.5 * (trapezoid - sine));
                let shape = main(Main::Shape);
                let peak = exp(latent) * exp(emf);
                let value = peak * (middle + half * theta[shape]);
                let gradient =
                    Gradient::new(&[(latent, value), (emf, value), (shape, peak * half)]);
                (value, gradient)
            }
            Of::Resistance {
                latent, between, ..
            } => {
                let part = match (between, self.connection()) {
                    (Between::Lines, _) => 1.0,
                    (Between::Phase, Connection::Star) => 0.5,
                    (Between::Phase, Connection::Delta) => 1.5,
                };
                let cold = part * exp(ohm) / (COPPER_ZERO_DEG_C + REFERENCE_DEG_C);
                let value = cold * (COPPER_ZERO_DEG_C + theta[latent]);
                (value, Gradient::new(&[(ohm, value), (latent, cold)]))
            }
            Of::NoLoadVoltage { latent } => self.no_load_voltage(theta, latent),
            Of::NoLoadCurrent { latent } => {
                let back = exp(latent) * exp(emf);
                let (constant, per_volt) = (main(Main::Constant), main(Main::PerVolt));
                let rising = theta[per_volt] * back;
                let gradient = Gradient::new(&[
                    (latent, rising),
                    (emf, rising),
                    (constant, 1.0),
                    (per_volt, back),
                ]);
                (theta[constant] + rising, gradient)
            }
            Of::StallCurrent { latent } => proportional(exp(latent), &[latent]),
            Of::StallTorque { latent } => proportional(exp(latent) * exp(emf), &[latent, emf]),
            Of::StallVoltage {
                latent,
                temperature,
            } => {
                let cold = exp(latent) * exp(ohm) / (COPPER_ZERO_DEG_C + REFERENCE_DEG_C);
                let value = cold * (COPPER_ZERO_DEG_C + theta[temperature]);
                (
                    value,
                    Gradient::new(&[(latent, value), (ohm, value), (temperature, cold)]),
                )
            }
            Of::RunDown {
                from,
                to,
                added_kg_m2,
            } => self.run_down(theta, from, to, added_kg_m2),
        }
    }

    /// U = k ω d + R I: what the controller's mean EMF d k ω and the drop of the windings ask for.
    ///
    /// Over the sixty degrees that two leads conduct, the EMF between them has a mean of d times its
    /// peak: 3/π for the sine; for the trapezoid 1 in star, and 7/8 in delta, whose leads show a roof
    /// from 3/4 to 1 and back to 3/4.
    fn no_load_voltage(&self, theta: &[f64], latent: usize) -> (f64, Gradient) {
        let main = |which| self.main(which);
        let [emf, ohm, constant, per_volt, shape, drive] = [
            Main::Emf,
            Main::Resistance,
            Main::Constant,
            Main::PerVolt,
            Main::Shape,
            Main::Drive,
        ]
        .map(main);
        let back = libm::exp(theta[latent] + theta[emf]);
        let r_ohm = libm::exp(theta[ohm]);
        let trapezoid = match self.connection() {
            Connection::Star => 1.0,
            Connection::Delta => 7.0 / 8.0,
        };
        let sine = 3.0 / PI;
        let (middle, half) = (0.5 * (trapezoid + sine), 0.5 * (trapezoid - sine));
        let mean = middle + half * theta[shape];
        let of_drive = 1.0 + theta[drive];
        let current = theta[constant] + theta[per_volt] * back;
        let value = back * mean * of_drive + r_ohm * current;
        let by_back = back * (mean * of_drive + r_ohm * theta[per_volt]);
        let gradient = Gradient::new(&[
            (latent, by_back),
            (emf, by_back),
            (ohm, r_ohm * current),
            (constant, r_ohm),
            (per_volt, r_ohm * back),
            (shape, back * half * of_drive),
            (drive, back * mean),
        ]);
        (value, gradient)
    }

    /// t = J ∫ dω / (T₀ + b ω) from the end's speed to the start's, with T₀ = k I₀ and b = k² G.
    ///
    /// Newton's law of a rotor that only its own losses slow. The integral is (ω₁ − ω₂)/(T₀ + b ω₂) ·
    /// ln(1 + x)/x with x = b (ω₁ − ω₂)/(T₀ + b ω₂).
    fn run_down(&self, theta: &[f64], from: usize, to: usize, added: f64) -> (f64, Gradient) {
        let main = |which| self.main(which);
        let [emf, constant, per_volt, inertia] =
            [Main::Emf, Main::Constant, Main::PerVolt, Main::Inertia].map(main);
        let k = libm::exp(theta[emf]);
        let (first, last) = (libm::exp(theta[from]), libm::exp(theta[to]));
        let own = libm::exp(theta[inertia]);
        let (dry, viscous) = (k * theta[constant], k * k * theta[per_volt]);
        let integral = |dry: f64, viscous: f64| slowing(dry, viscous, first, last);
        let total = own + added;
        let value = total * integral(dry, viscous);
        // two torques that are both small are varied by a part of what they add up to
        let step = 1e-5 * (dry.abs() + viscous.abs() * first).max(1e-30);
        let by_dry =
            total * (integral(dry + step, viscous) - integral(dry - step, viscous)) / (2.0 * step);
        let turn = step / first.max(1e-9);
        let by_viscous =
            total * (integral(dry, viscous + turn) - integral(dry, viscous - turn)) / (2.0 * turn);
        let torque = |omega: f64| positive(dry + viscous * omega);
        let gradient = Gradient::new(&[
            (from, total * first / torque(first)),
            (to, -total * last / torque(last)),
            (emf, by_dry * dry + by_viscous * 2.0 * viscous),
            (constant, by_dry * k),
            (per_volt, by_viscous * k * k),
            (inertia, own * integral(dry, viscous)),
        ]);
        (value, gradient)
    }

    /// Adds what is known beforehand: 1/σ², and the middle.
    fn priors(&self, start: &[f64]) -> Vec<(f64, f64, bool)> {
        let sheet = self.sheet;
        // weak ones do not count as readings
        let weak = |middle: f64, sigma: f64| (1.0 / (sigma * sigma), middle, false);
        let known = |middle: f64, sigma: f64| (1.0 / (sigma * sigma), middle, true);
        let mut priors = vec![weak(0.0, 1.0); self.n_unknowns()];
        for idx in 0..sheet.n_latents {
            priors[idx] = weak(start[idx], BROAD);
        }
        for reading in &sheet.readings {
            if let Of::Temperature { latent } = reading.of {
                priors[latent] = weak(start[latent], 1e3);
            }
        }
        let main = |which| self.main(which);
        for which in [Main::Emf, Main::Resistance, Main::Inductance, Main::Inertia] {
            priors[main(which)] = weak(start[main(which)], BROAD);
        }
        let (amperes, volts) = no_load_scale(sheet);
        priors[main(Main::Constant)] = weak(start[main(Main::Constant)], 10.0 * amperes);
        let per_volt = if sheet.rows.no_load > 1 { 10.0 } else { 1e-6 };
        priors[main(Main::PerVolt)] = weak(0.0, per_volt * amperes / volts);
        // a shape that nobody looked at lies anywhere between: half a width over √3 (4.3.7)
        priors[main(Main::Shape)] = match sheet.motor.shape {
            Shape::Unknown => known(0.0, 1.0 / 3.0_f64.sqrt()),
            Shape::Trapezoid => known(1.0, 1e-6),
            Shape::Sine => known(-1.0, 1e-6),
        };
        priors[main(Main::Drive)] = known(0.0, DRIVE_STANDARD);
        for (idx, gain) in sheet.gains.iter().enumerate() {
            priors[self.gain(idx)] = known(0.0, gain.standard);
        }
        for (idx, extra) in self.variant.extras.iter().enumerate() {
            priors[self.extra(idx)] = known(0.0, extra.sigma);
        }
        priors
    }

    /// Unknowns that are known beforehand, each with 1/σ²: what counts as a reading of its own.
    pub(super) fn known(&self) -> Vec<(usize, f64)> {
        let start = vec![0.0; self.n_unknowns()];
        let priors = self.priors(&start);
        priors
            .iter()
            .enumerate()
            .filter(|(_, (_, _, counts))| *counts)
            .map(|(idx, (weight, ..))| (idx, *weight))
            .collect()
    }

    /// Sum of squares, and with `matrix` the normal equations.
    fn squares(
        &self,
        theta: &[f64],
        priors: &[(f64, f64, bool)],
        mut matrix: Option<(&mut Symmetric, &mut Vec<f64>)>,
    ) -> (f64, f64) {
        let (mut chi_square, mut weak) = (0.0, 0.0);
        for (idx, reading) in self.sheet.readings.iter().enumerate() {
            if matches!(self.read(idx), Read::Loose(_)) {
                continue;
            }
            let (value, gradient) = self.shown(theta, idx, true);
            let sigma = self.own_standard(reading);
            let off = (reading.value - value) / sigma;
            chi_square += off * off;
            if let Some((normal, right)) = &mut matrix {
                let weight = 1.0 / (sigma * sigma);
                for (k, &(row, slope)) in gradient.slopes().iter().enumerate() {
                    right[row] += off * slope / sigma;
                    for &(column, other) in &gradient.slopes()[..=k] {
                        normal.add(row, column, slope * other * weight);
                    }
                }
            }
        }
        for (idx, &(weight, middle, counts)) in priors.iter().enumerate() {
            let off = middle - theta[idx];
            *(if counts { &mut chi_square } else { &mut weak }) += weight * off * off;
            if let Some((normal, right)) = &mut matrix {
                normal.add(idx, idx, weight);
                right[idx] += weight * off;
            }
        }
        (chi_square, weak)
    }

    /// The motor that fits best; `None` where none can be found, or where half the sum of squares
    /// stays above `hopeless` after the first steps. `near` is where a like model has its best.
    pub(super) fn fit(&self, near: Option<&[f64]>, hopeless: f64) -> Option<Fit> {
        const MOST_STEPS: usize = 40;
        /// Steps after which the sum of squares is known well enough to give up.
        const FIRST_STEPS: usize = 3;
        let start = super::start::start(self);
        let priors = self.priors(&start);
        let mut theta = near.map_or(start, <[f64]>::to_vec);
        let n = self.n_unknowns();
        let mut right = vec![0.0; n];
        let mut normal = Symmetric::zero(n);
        let (mut chi_square, mut weak) =
            self.squares(&theta, &priors, Some((&mut normal, &mut right)));
        let mut factor = normal.factor()?;
        for step in 0..MOST_STEPS {
            let now = chi_square + weak;
            if !now.is_finite() || (step >= FIRST_STEPS && 0.5 * now > hopeless) {
                return None;
            }
            factor.solve(&mut right);
            let Some(next) = self.step(&theta, &right, &priors, now) else {
                break;
            };
            let gained = now - next.chi_square - next.weak;
            (theta, chi_square, weak) = (next.theta, next.chi_square, next.weak);
            right = next.right;
            factor = next.normal.factor()?;
            if gained < 1e-6 + 1e-7 * now {
                break;
            }
        }
        let known: f64 = priors.iter().map(|(weight, ..)| libm::log(*weight)).sum();
        let of_readings: f64 = (self.sheet.readings.iter().enumerate())
            .map(|(idx, reading)| match self.read(idx) {
                Read::Loose(log_density) => log_density,
                _ => -libm::log(self.own_standard(reading) * TAU.sqrt()),
            })
            .sum();
        let log_evidence =
            -0.5 * (chi_square + weak) + 0.5 * known - 0.5 * factor.log_determinant() + of_readings;
        log_evidence.is_finite().then_some(Fit {
            theta,
            chi_square,
            log_evidence,
            factor,
        })
    }

    /// Goes along a step, halved until the squares do not grow; `None` where they grow either way.
    fn step(
        &self,
        theta: &[f64],
        step: &[f64],
        priors: &[(f64, f64, bool)],
        now: f64,
    ) -> Option<Stepped> {
        let n = theta.len();
        // a logarithm that moves by more than this at once leaves what the slopes are true for
        let widest = step
            .iter()
            .fold(0.0_f64, |most, value| most.max(value.abs()));
        let mut part = if widest > 50.0 { 50.0 / widest } else { 1.0 };
        for _ in 0..14 {
            let theta: Vec<f64> = theta.iter().zip(step).map(|(a, b)| a + part * b).collect();
            let (mut normal, mut right) = (Symmetric::zero(n), vec![0.0; n]);
            let (chi_square, weak) = self.squares(&theta, priors, Some((&mut normal, &mut right)));
            let then = chi_square + weak;
            if then.is_finite() && then <= now * (1.0 + 1e-12) + 1e-12 {
                return Some(Stepped {
                    theta,
                    chi_square,
                    weak,
                    normal,
                    right,
                });
            }
            part *= 0.5;
        }
        None
    }
}

/// Where a step led.
struct Stepped {
    theta: Vec<f64>,
    chi_square: f64,
    weak: f64,
    normal: Symmetric,
    right: Vec<f64>,
}

/// The largest current and voltage without load, to size what is not known.
pub(super) fn no_load_scale(sheet: &BenchSheet) -> (f64, f64) {
    let most = |wanted: fn(&Of) -> bool| {
        sheet
            .readings
            .iter()
            .filter(|reading| wanted(&reading.of))
            .map(|reading| reading.value)
            .fold(0.0_f64, f64::max)
    };
    let amperes = most(|of| matches!(of, Of::NoLoadCurrent { .. }));
    let volts = most(|of| matches!(of, Of::NoLoadVoltage { .. }));
    (
        if amperes > 0.0 { amperes } else { 1.0 },
        if volts > 0.0 { volts } else { 1.0 },
    )
}

/// A torque that slows, kept above zero while a fit is under way.
fn positive(torque_nm: f64) -> f64 {
    torque_nm.max(1e-12)
}

/// ∫ dω / (dry + viscous ω) from `last` to `first`.
fn slowing(dry: f64, viscous: f64, first: f64, last: f64) -> f64 {
    let at_end = positive(dry + viscous * last);
    let at_start = positive(dry + viscous * first);
    let x = at_start / at_end - 1.0;
    let log_over = if x.abs() < 1e-8 {
        1.0 - 0.5 * x
    } else {
        libm::log1p(x) / x
    };
    (first - last) / at_end * log_over
}
