//! The terminals of a motor on its drive: steps, chopping, and where the floating phase crosses zero.
//!
//! ```text
//! terminal  ▐█▐█▐█▐█╱▔╲___________╱▔
//!            high    f   low       f      chopped high, floating, held low, floating
//! ```
//!
//! A leg that is held low stays below a twelfth of the supply for longer than a chopping period, and
//! nothing else does; the middles of those stretches give the steps. It holds for drives that chop
//! the high leg and hold the low one. Where both active legs chop no leg is held, and the mean over a
//! chopping period tells the same (`averaged`).

use std::fmt;

use super::Capture;
use super::averaged::{Levels, lowest};
use super::edges::{Edge, edges, level_of, line};
use crate::drive::LegState;
use crate::slices::{rest, through};

/// What is known beside the waveforms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DrivenOptions {
    /// Standard uncertainty of the volts, as a part: the gain of the instrument.
    pub gain_standard: f64,
}

/// What a driven motor's terminals show. SI units; every `_standard` is a standard uncertainty.
#[derive(Clone, Debug)]
pub struct Driven {
    /// Voltage of the upper rail over the lower, in V, and its standard uncertainty: the gain of the
    /// instrument, beside which half of all samples leave nothing of the scatter.
    pub supply_v: (f64, f64),
    /// Chopping frequency in Hz and its standard uncertainty; `None`: not chopped.
    pub pwm_hz: Option<(f64, f64)>,
    /// Whether both active legs chop.
    pub both_sides: bool,
    /// Part of the period that the high leg is on, and its standard uncertainty.
    pub duty: Option<(f64, f64)>,
    /// Electrical turns per second and its standard uncertainty.
    pub frequency_hz: Option<(f64, f64)>,
    /// Steps of one electrical turn, U V W, from the middle of the stretch; three channels only.
    pub steps: Vec<[LegState; 3]>,
    /// Whether they run as the table of six steps does (true), backwards (false), or neither.
    pub forward: Option<bool>,
    /// Where in the step the floating phase crosses half the supply, 0 to 1: mean, its standard
    /// uncertainty, and how many crossings it comes from.
    pub zero_crossing: Option<(f64, f64, usize)>,
    /// Middle of a low stretch of the first channel, near the middle of the capture, in s.
    pub low_middle_s: Option<f64>,
}

impl Driven {
    /// By how many electrical degrees the steps come early: a crossing in the middle of the step is
    /// none.
    #[must_use]
    pub fn advance_deg(&self) -> Option<(f64, f64)> {
        self.zero_crossing
            .map(|(at, standard, _)| (60.0 * (at - 0.5), 60.0 * standard))
    }

    /// Steps a second: six to an electrical turn.
    #[must_use]
    pub fn commutation_hz(&self) -> Option<(f64, f64)> {
        self.frequency_hz.map(|(f, u)| (6.0 * f, 6.0 * u))
    }
}

/// Why a capture says nothing.
#[derive(Clone, Debug, PartialEq)]
pub enum DrivenError {
    /// Nothing goes up and down.
    Flat,
    /// Too few samples for each chopping period.
    TooCoarse,
    /// Too much lies beyond what should be the rails: no switches hold these terminals.
    NoRails {
        /// Part of the samples that do.
        beyond: f64,
    },
    /// No leg is low for long: too short a stretch, or both legs chop and there are not three channels.
    NoSteps,
}

impl fmt::Display for DrivenError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Flat => write!(f, "no channel goes up and down: was the drive on?"),
            Self::TooCoarse => write!(
                f,
                "there are fewer than six samples for a chopping period; sample faster to see duty and steps"
            ),
            Self::NoRails { beyond } => write!(
                f,
                "no two rails can be told: {:.0} % of the samples lie beyond what most of them keep to. If the motor is \
                 turned from outside with its leads open, say that it is spun",
                100.0 * beyond
            ),
            Self::NoSteps => write!(
                f,
                "no terminal is held low for longer than a chopping period: save two electrical turns or more, as \
                 voltages against the negative rail; all three terminals of a drive that chops both active legs"
            ),
        }
    }
}

impl std::error::Error for DrivenError {}

/// Part of the supply below which a leg counts as low.
const LOW: f64 = 0.08;
/// Part of the supply above which a leg counts as high.
const HIGH: f64 = 0.8;

/// Part of the supply by which a sample may lie beyond a rail and still belong to it, and the part of
/// the samples that may lie farther out: ringing of an edge is brief, the crest of a wave is a third of
/// it.
const BEYOND: f64 = 0.1;
const MOST_BEYOND: f64 = 0.1;

/// Part of the supply at which a pulse of the high leg begins and ends.
const ON: f64 = 0.85;

/// A stretch in which a leg is the low one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Held {
    pub(super) leg: usize,
    pub(super) from_s: f64,
    pub(super) to_s: f64,
}

impl Held {
    pub(super) fn length(&self) -> f64 {
        self.to_s - self.from_s
    }

    fn middle(&self) -> f64 {
        0.5 * (self.from_s + self.to_s)
    }
}

/// Reads what the terminals show.
///
/// # Errors
/// [`DrivenError`].
pub fn driven(capture: &Capture, options: &DrivenOptions) -> Result<Driven, DrivenError> {
    through(driven_in_slices(capture, options))
}

/// The same, with rests.
///
/// # Errors
/// [`DrivenError`].
pub async fn driven_in_slices(
    capture: &Capture,
    options: &DrivenOptions,
) -> Result<Driven, DrivenError> {
    let (low, high) = rails(capture).await;
    let supply_v = high - low;
    if !(supply_v > 0.0 && supply_v.is_finite()) {
        return Err(DrivenError::Flat);
    }
    rest().await;
    let beyond = beyond(capture, low, high);
    if beyond > MOST_BEYOND {
        return Err(DrivenError::NoRails { beyond });
    }
    let switching = edges_of_all(capture, low + 0.5 * supply_v, 0.2 * supply_v).await;
    if switching.iter().all(Vec::is_empty) {
        return Err(DrivenError::Flat);
    }
    let spacing_s = capture.spacing_s();
    let period = chopping(&switching);
    if period.is_some_and(|(period, _)| period < 6.0 * spacing_s) {
        return Err(DrivenError::TooCoarse);
    }
    let mut held = held_low(
        capture,
        low,
        supply_v,
        period.map(|(period, _)| period),
        spacing_s,
    )
    .await;
    let both_sides = held.is_empty() && period.is_some() && capture.channels.len() == 3;
    if let (true, Some((period, _))) = (both_sides, period) {
        let levels = Levels {
            low_v: low + LOW * supply_v,
            on_v: low + ON * supply_v,
        };
        rest().await;
        held = lowest(capture, period, spacing_s, levels);
    }
    let both_sides = both_sides && !held.is_empty();
    let duty = match period {
        None => None,
        Some((period, _)) => {
            // near the rail: where the current ceases in the off time a terminal rises to the EMF,
            // which may lie above the middle
            let pulses = edges_of_all(capture, low + ON * supply_v, 0.08 * supply_v).await;
            duty(&pulses, period, spacing_s, both_sides)
        }
    };
    rest().await;
    let mut found = Driven {
        supply_v: (supply_v, supply_v * options.gain_standard),
        both_sides,
        pwm_hz: period.map(|(period, standard)| (1.0 / period, standard / (period * period))),
        duty,
        frequency_hz: None,
        steps: Vec::new(),
        forward: None,
        zero_crossing: None,
        low_middle_s: low_middle(&held, capture),
    };
    let turns = turn_time(&held, capture.channels.len());
    found.frequency_hz = turns.map(|(turn, u)| (1.0 / turn, u / (turn * turn)));
    if found.frequency_hz.is_none() && period.is_none() {
        return Err(DrivenError::NoSteps);
    }
    if let (3, Some((turn_s, _))) = (capture.channels.len(), turns) {
        sequence(&mut found, capture, &held, low, turn_s);
    }
    Ok(found)
}

/// The two levels: the median of what lies below the middle, and of what lies above it, so that
/// neither diodes nor floating legs shift them.
async fn rails(capture: &Capture) -> (f64, f64) {
    let mut ends = (f64::INFINITY, f64::NEG_INFINITY);
    for channel in &capture.channels {
        rest().await;
        ends.0 = ends.0.min(level_of(&channel.volts, 0.02));
        rest().await;
        ends.1 = ends.1.max(level_of(&channel.volts, 0.98));
    }
    let middle = 0.5 * (ends.0 + ends.1);
    let all = || {
        capture
            .channels
            .iter()
            .flat_map(|channel| channel.volts.iter().copied())
    };
    rest().await;
    let below: Vec<f64> = all().filter(|value| *value < middle).collect();
    rest().await;
    let low = level_of(&below, 0.5);
    rest().await;
    let above: Vec<f64> = all().filter(|value| *value >= middle).collect();
    rest().await;
    (low, level_of(&above, 0.5))
}

/// Part of the samples that lie beyond the rails.
#[expect(clippy::cast_precision_loss, reason = "a number of samples")]
fn beyond(capture: &Capture, low: f64, high: f64) -> f64 {
    let reach = BEYOND * (high - low);
    let (mut n, mut all) = (0_usize, 0_usize);
    for channel in &capture.channels {
        let out = |value: &&f64| **value < low - reach || **value > high + reach;
        n += channel.volts.iter().filter(out).count();
        all += channel.volts.len();
    }
    n as f64 / all.max(1) as f64
}

/// The edges of every channel.
async fn edges_of_all(capture: &Capture, level: f64, reach: f64) -> Vec<Vec<Edge>> {
    let mut found = Vec::with_capacity(capture.channels.len());
    for channel in &capture.channels {
        rest().await;
        found.push(edges(&capture.times_s, &channel.volts, level, reach));
    }
    found
}

/// Chopping period and its standard uncertainty: the grid that most rising edges lie on.
fn chopping(switching: &[Vec<Edge>]) -> Option<(f64, f64)> {
    let mut rising: Vec<f64> = Vec::new();
    let mut gaps: Vec<f64> = Vec::new();
    for list in switching {
        let own: Vec<f64> = list.iter().filter(|e| e.rising).map(|e| e.time_s).collect();
        gaps.extend(own.windows(2).map(|pair| pair[1] - pair[0]));
        rising.extend(own);
    }
    if gaps.len() < 12 {
        return None;
    }
    gaps.sort_by(f64::total_cmp);
    let rough = gaps[gaps.len() / 2];
    let longest = gaps[gaps.len() - 1];
    let near: Vec<f64> = gaps
        .iter()
        .copied()
        .filter(|gap| (gap / rough - 1.0).abs() < 0.2)
        .collect();
    let n_long = gaps.iter().filter(|gap| **gap > 2.5 * rough).count();
    // without chopping the gaps are turns, all alike, or turns and the notches of commutation by turns
    if longest < 2.5 * rough || near.len() < 3 * n_long {
        return None;
    }
    #[expect(clippy::cast_precision_loss, reason = "a number of edges")]
    let mut period = near.iter().sum::<f64>() / near.len() as f64;
    rising.sort_by(f64::total_cmp);
    // from the nearest edges outwards: the period is known better with each lap
    let mut standard = period;
    let origin = rising[0];
    let span = rising[rising.len() - 1] - origin;
    let mut reach = 16.0 * period;
    loop {
        let points: Vec<(f64, f64)> = rising
            .iter()
            .filter(|&&t| t - origin <= reach)
            .map(|&t| (((t - origin) / period).round(), t - origin))
            .filter(|(k, t)| (t - k * period).abs() < 0.25 * period)
            .collect();
        let Some((_, slope, _, u)) = line(&points) else {
            break;
        };
        (period, standard) = (slope, u);
        if reach >= span {
            break;
        }
        reach *= 2.0;
    }
    (period > 0.0).then_some((period, standard))
}

/// Part of the period that is on, from pulses within it: mean of the middle half, and its standard
/// uncertainty with that of the sampling.
///
/// Where both legs chop, the low leg's pulses are the high leg's gaps: those above one half are the high
/// leg's, for a motor that drives its load takes more from the supply than it gives back.
fn duty(
    switching: &[Vec<Edge>],
    period: f64,
    spacing_s: f64,
    both_sides: bool,
) -> Option<(f64, f64)> {
    let mut parts: Vec<f64> = Vec::new();
    for list in switching {
        for three in list.windows(3) {
            let whole = three[2].time_s - three[0].time_s;
            if three[0].rising && (whole / period - 1.0).abs() < 0.1 {
                parts.push((three[1].time_s - three[0].time_s) / whole);
            }
        }
    }
    if both_sides {
        parts.retain(|part| *part > 0.5);
    }
    if parts.len() < 8 {
        return None;
    }
    parts.sort_by(f64::total_cmp);
    // pulses of a floating leg are cut short at either end: the middle half is the chopped leg's
    let middle = &parts[parts.len() / 4..parts.len() - parts.len() / 4];
    #[expect(clippy::cast_precision_loss, reason = "a number of pulses")]
    let n = middle.len() as f64;
    let mean = middle.iter().sum::<f64>() / n;
    let scatter = middle
        .iter()
        .map(|part| (part - mean) * (part - mean))
        .sum::<f64>()
        / n;
    // both edges lie somewhere between two samples: rectangular, two of half a width (JCGM 100:2008,
    // 4.3.7). Where the samples keep step with the chopping every pulse is off alike.
    let of_samples = spacing_s / period / 6.0_f64.sqrt();
    let alike = scatter.sqrt() < 0.25 * of_samples;
    let standard = if alike {
        of_samples
    } else {
        (scatter + of_samples * of_samples).sqrt() / n.sqrt()
    };
    Some((mean, standard))
}

/// Stretches in which a leg is held low, in the order of time.
async fn held_low(
    capture: &Capture,
    low: f64,
    supply_v: f64,
    period: Option<f64>,
    spacing_s: f64,
) -> Vec<Held> {
    let least_s = period.map_or(8.0 * spacing_s, |period| 1.6 * period);
    let (first, last) = (
        capture.times_s.first().copied().unwrap_or(0.0),
        capture.times_s.last().copied().unwrap_or(0.0),
    );
    let mut found = Vec::new();
    for (leg, channel) in capture.channels.iter().enumerate() {
        rest().await;
        let list = edges(
            &capture.times_s,
            &channel.volts,
            low + LOW * supply_v,
            0.03 * supply_v,
        );
        for pair in list.windows(2) {
            let (from_s, to_s) = (pair[0].time_s, pair[1].time_s);
            let inside = from_s > first && to_s < last;
            if !pair[0].rising && inside && to_s - from_s > least_s {
                found.push(Held { leg, from_s, to_s });
            }
        }
    }
    // of a leg's stretches only the long ones are the step: the others are notches of a floating leg
    let longest = found.iter().map(Held::length).fold(0.0, f64::max);
    found.retain(|h| h.length() > 0.6 * longest);
    found.sort_by(|a, b| a.middle().total_cmp(&b.middle()));
    found
}

/// Time of an electrical turn: a straight line through the middles, one a turn of each leg.
fn turn_time(held: &[Held], n_channels: usize) -> Option<(f64, f64)> {
    let mut best: Option<(f64, f64, usize)> = None;
    for leg in 0..n_channels {
        let own: Vec<f64> = held
            .iter()
            .filter(|h| h.leg == leg)
            .map(Held::middle)
            .collect();
        let (first, second) = match own.as_slice() {
            [first, second, ..] => (*first, *second),
            _ => continue,
        };
        let rough = second - first;
        let points: Vec<(f64, f64)> = own
            .iter()
            .map(|t| (((t - first) / rough).round(), *t))
            .collect();
        let (turn, standard) = match line(&points) {
            Some((_, slope, _, standard)) => (slope, standard),
            None => (rough, 0.05 * rough),
        };
        if turn > 0.0 && best.is_none_or(|(.., n)| own.len() > n) {
            best = Some((turn, standard, own.len()));
        }
    }
    best.map(|(turn, standard, _)| (turn, standard))
}

fn low_middle(held: &[Held], capture: &Capture) -> Option<f64> {
    let middle = 0.5 * (capture.times_s.first()? + capture.times_s.last()?);
    held.iter()
        .filter(|one| one.leg == 0)
        .map(Held::middle)
        .min_by(|a, b| (a - middle).abs().total_cmp(&(b - middle).abs()))
}

/// Steps, their direction, and the crossings of the floating phase.
fn sequence(found: &mut Driven, capture: &Capture, held: &[Held], low: f64, turn_s: f64) {
    let step_s = turn_s / 6.0;
    let mut sectors: Vec<(f64, [LegState; 3])> = Vec::new();
    for one in held {
        // a leg is low for two steps: one on either side of the middle
        for (from_s, to_s) in [
            (one.middle() - step_s, one.middle()),
            (one.middle(), one.middle() + step_s),
        ] {
            let others: Vec<usize> = (0..3).filter(|leg| *leg != one.leg).collect();
            let means = others
                .iter()
                .map(|&leg| mean_within(capture, leg, from_s, to_s));
            let means: Option<Vec<f64>> = means.collect();
            let Some(means) = means else { continue };
            let high = others[usize::from(means[1] > means[0])];
            let mut legs = [LegState::Floating; 3];
            legs[one.leg] = LegState::Low;
            legs[high] = LegState::High;
            sectors.push((from_s, legs));
        }
    }
    sectors.sort_by(|a, b| a.0.total_cmp(&b.0));
    let begin = sectors.len().saturating_sub(6) / 2;
    found.steps = sectors
        .iter()
        .skip(begin)
        .take(6)
        .map(|(_, legs)| *legs)
        .collect();
    found.forward = direction(&sectors);
    let mut at: Vec<f64> = Vec::new();
    for (from_s, legs) in &sectors {
        if let Some(crossing) = crossing(
            capture,
            *from_s,
            step_s,
            legs,
            low + HIGH * found.supply_v.0,
        ) {
            at.push(crossing);
        }
    }
    if at.len() > 2 {
        #[expect(clippy::cast_precision_loss, reason = "a number of crossings")]
        let n = at.len() as f64;
        let mean = at.iter().sum::<f64>() / n;
        let scatter = at.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / (n - 1.0);
        found.zero_crossing = Some((mean, (scatter / n).sqrt(), at.len()));
    }
}

fn mean_within(capture: &Capture, leg: usize, from_s: f64, to_s: f64) -> Option<f64> {
    let (from, to) = rows(capture, from_s, to_s)?;
    let values = &capture.channels[leg].volts[from..to];
    #[expect(clippy::cast_precision_loss, reason = "a number of samples")]
    let n = values.len() as f64;
    Some(values.iter().sum::<f64>() / n)
}

/// Rows between two instants; `None` where the stretch is cut off.
fn rows(capture: &Capture, from_s: f64, to_s: f64) -> Option<(usize, usize)> {
    let times = &capture.times_s;
    if from_s < *times.first()? || to_s > *times.last()? {
        return None;
    }
    let from = times.partition_point(|t| *t < from_s);
    let to = times.partition_point(|t| *t < to_s);
    (to > from + 2).then_some((from, to))
}

/// Whether most steps follow each other as in the table of six steps, or as in it backwards.
fn direction(sectors: &[(f64, [LegState; 3])]) -> Option<bool> {
    use crate::drive::steps::{active_legs, leg_states};
    use crate::setup::{Chop, Direction, Gates};
    let number = |legs: &[LegState; 3]| {
        (0..6_i64).find(|&n| {
            let active = active_legs(n, Direction::Forward);
            leg_states(active, Gates::Stepping, Chop::HighSide, true) == *legs
        })
    };
    let (mut up, mut down) = (0_usize, 0_usize);
    for pair in sectors.windows(2) {
        let (Some(a), Some(b)) = (number(&pair[0].1), number(&pair[1].1)) else {
            continue;
        };
        match (b - a).rem_euclid(6) {
            1 => up += 1,
            5 => down += 1,
            _ => {}
        }
    }
    let n = sectors.len().saturating_sub(1);
    if 10 * up > 8 * n && n > 0 {
        Some(true)
    } else if 10 * down > 8 * n && n > 0 {
        Some(false)
    } else {
        None
    }
}

/// Where in a step the floating phase passes the middle of the two others while the high leg is above
/// `on_v`: a straight line through most of the step.
fn crossing(
    capture: &Capture,
    from_s: f64,
    step_s: f64,
    legs: &[LegState; 3],
    on_v: f64,
) -> Option<f64> {
    let place = |state| legs.iter().position(|leg| *leg == state);
    let (high, low) = (place(LegState::High)?, place(LegState::Low)?);
    let floating = place(LegState::Floating)?;
    let volts = |leg: usize, k: usize| capture.channels[leg].volts[k];
    // the ends belong to the commutation
    let (from, to) = rows(capture, from_s + 0.3 * step_s, from_s + 0.95 * step_s)?;
    let points: Vec<(f64, f64)> = (from..to)
        .filter(|&k| volts(high, k) > on_v)
        .map(|k| {
            let x = (capture.times_s[k] - from_s) / step_s;
            (
                x,
                volts(floating, k) - 0.5 * (volts(high, k) + volts(low, k)),
            )
        })
        .collect();
    let (a, b, ..) = line(&points)?;
    let at = -a / b;
    (0.0..=1.0).contains(&at).then_some(at)
}
