//! Tolerances: how far figures may be off when what they rest on is only known so well.

use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};
use rand_distr::StandardNormal;

use super::build::Build;
use super::figures::figures;
use super::point::predict;
use super::sheet::BUILD_SHEET;
use crate::setup::value_in_range;

/// Standard deviations from the middle that hold 95 of 100 values of a normal distribution.
const OF_95_PERCENT: f64 = 1.959_963_984_540_054;

/// A figure's 95 % range.
#[derive(Clone, Debug, PartialEq)]
pub struct Range {
    /// The figure's key.
    pub key: &'static str,
    /// 2.5 % of the trials lie below, in the figure's unit.
    pub low: f64,
    /// Half of them lie below.
    pub middle: f64,
    /// 2.5 % lie above.
    pub high: f64,
    /// The inputs by how much of this figure's spread goes with them, the largest first.
    pub influences: Vec<Influence>,
}

/// How much of a figure's spread goes with one input.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Influence {
    /// The input's key.
    pub key: &'static str,
    /// Square of the correlation of input and figure over the trials, 0 to 1.
    pub share: f64,
}

/// What many trials give.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread {
    /// Trials that had an operating point.
    pub n_trials: usize,
    /// Trials in which the load held the motor, or drove it.
    pub n_without_point: usize,
    /// Ranges, in the order of the figures.
    pub ranges: Vec<Range>,
}

/// Predicts a build many times with its toleranced inputs drawn anew, from a seed: the same seed
/// gives the same numbers.
///
/// Each input is drawn from a normal distribution whose 95 % range is its tolerance, independent
/// of the others, and drawn again where it leaves what its key allows. A Monte Carlo propagation
/// of distributions in the sense of JCGM 101:2008 (the guide's supplement on it; named from
/// memory), with percentiles as the range. `None` where no input carries a tolerance.
#[must_use]
pub fn spread(build: &Build, n_trials: usize, seed: u64) -> Option<Spread> {
    let mut spreading = Spreading::new(build, seed)?;
    for _ in 0..n_trials {
        spreading.advance();
    }
    Some(spreading.spread())
}

/// The same trial by trial, for those who must not wait for all of them: to the bit what [`spread`]
/// gives of as many trials.
#[derive(Debug)]
pub struct Spreading {
    build: Build,
    random: ChaCha8Rng,
    /// What was drawn of each toleranced input, trial by trial.
    inputs: Vec<Vec<f64>>,
    /// What each figure came to, trial by trial.
    outputs: Vec<(&'static str, Vec<f64>)>,
    n_trials: usize,
    n_without_point: usize,
}

impl Spreading {
    /// Before the first trial. `None` where no input carries a tolerance.
    #[must_use]
    pub fn new(build: &Build, seed: u64) -> Option<Self> {
        if build.tolerances.is_empty() {
            return None;
        }
        Some(Self {
            random: ChaCha8Rng::seed_from_u64(seed),
            inputs: vec![Vec::new(); build.tolerances.len()],
            outputs: Vec::new(),
            n_trials: 0,
            n_without_point: 0,
            build: build.clone(),
        })
    }

    /// How many trials were made.
    #[must_use]
    pub const fn n_trials(&self) -> usize {
        self.n_trials
    }

    /// Makes one more trial.
    pub fn advance(&mut self) {
        self.n_trials += 1;
        let (trial, drawn) = draw(&self.build, &mut self.random);
        let Ok(prediction) = predict(&trial) else {
            self.n_without_point += 1;
            return;
        };
        for (column, value) in self.inputs.iter_mut().zip(drawn) {
            column.push(value);
        }
        for figure in figures(&trial, &prediction) {
            let value = figure.number().unwrap_or(f64::NAN);
            match self.outputs.iter_mut().find(|(key, _)| *key == figure.key) {
                Some((_, column)) => column.push(value),
                None => self.outputs.push((figure.key, vec![value])),
            }
        }
    }

    /// What the trials so far give.
    #[must_use]
    pub fn spread(&self) -> Spread {
        let ranges = self
            .outputs
            .iter()
            .filter(|(_, column)| column.iter().all(|value| value.is_finite()))
            .map(|(key, column)| range(key, column, &self.build, &self.inputs))
            .collect();
        Spread {
            n_trials: self.n_trials - self.n_without_point,
            n_without_point: self.n_without_point,
            ranges,
        }
    }
}

/// One trial, and what was drawn.
fn draw(build: &Build, random: &mut ChaCha8Rng) -> (Build, Vec<f64>) {
    let mut trial = build.clone();
    let mut drawn = Vec::with_capacity(build.tolerances.len());
    for &(key, half) in &build.tolerances {
        let per_given = Build::held_per_given(key);
        let Some(number) = trial.number_mut(key) else {
            drawn.push(0.0);
            continue;
        };
        let nominal = *number;
        // a draw in many thousands lies outside what the key allows; a hundred in a row are a
        // tolerance that has no meaning, and then the nominal value stands
        for _ in 0..100 {
            let normal: f64 = random.sample(StandardNormal);
            let value = nominal + per_given * half / OF_95_PERCENT * normal;
            if value_in_range(&BUILD_SHEET, key, value / per_given) {
                *number = value;
                break;
            }
        }
        drawn.push(*number);
    }
    (trial, drawn)
}

fn range(key: &'static str, column: &[f64], build: &Build, inputs: &[Vec<f64>]) -> Range {
    let mut sorted = column.to_vec();
    sorted.sort_by(f64::total_cmp);
    let mut influences: Vec<Influence> = build
        .tolerances
        .iter()
        .zip(inputs)
        .map(|(&(key, _), input)| Influence {
            key,
            share: correlation_squared(input, column),
        })
        .collect();
    influences.sort_by(|a, b| b.share.total_cmp(&a.share));
    Range {
        key,
        low: percentile(&sorted, 0.025),
        middle: percentile(&sorted, 0.5),
        high: percentile(&sorted, 0.975),
        influences,
    }
}

/// Value below which a part of sorted values lies, by straight lines between them.
fn percentile(sorted: &[f64], part: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else {
        return f64::NAN;
    };
    #[expect(clippy::cast_precision_loss, reason = "a count of trials")]
    let at = part * last as f64;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "0 to the last index"
    )]
    let below = at.floor() as usize;
    let above = (below + 1).min(last);
    sorted[below] + (at - at.floor()) * (sorted[above] - sorted[below])
}

/// Square of Pearson's correlation of two columns; 0 where one of them does not vary.
fn correlation_squared(a: &[f64], b: &[f64]) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a count of trials")]
    let n = a.len() as f64;
    let mean = |column: &[f64]| column.iter().sum::<f64>() / n;
    let (mean_a, mean_b) = (mean(a), mean(b));
    let (mut aa, mut bb, mut ab) = (0.0, 0.0, 0.0);
    for (a, b) in a.iter().zip(b) {
        let (a, b) = (a - mean_a, b - mean_b);
        aa += a * a;
        bb += b * b;
        ab += a * b;
    }
    if aa * bb > 0.0 {
        ab * ab / (aa * bb)
    } else {
        0.0
    }
}
