//! Low stretches of legs where both active legs chop: none is held, and only the mean over a chopping
//! period tells which is the low one.
//!
//! In the on time the high leg is at the rail and the low leg at zero, in the off time the diodes put
//! them the other way round: over a period their means are δ and 1 − δ of the supply, the floating leg
//! goes from one to the other, and the low leg is the lowest for two steps. A mean changes over a whole
//! period; the instant itself is where, in the on time, another leg is at zero.

use super::Capture;
use super::driven::Held;

/// Levels that say where a leg is, in V.
#[derive(Clone, Copy, Debug)]
pub(super) struct Levels {
    /// Below it a leg is low.
    pub(super) low_v: f64,
    /// Above it the high leg is on.
    pub(super) on_v: f64,
}

/// Stretches in which a leg has the lowest mean of three, in the order of time; those that touch an
/// end of the capture are left out.
pub(super) fn lowest(
    capture: &Capture,
    period_s: f64,
    spacing_s: f64,
    levels: Levels,
) -> Vec<Held> {
    /// Part of the longest stretch below which one is a flicker where two legs change places.
    const FLICKER: f64 = 0.4;
    let [u, v, w] = capture.channels.as_slice() else {
        return Vec::new();
    };
    let width = window(period_s, spacing_s);
    let means = [u, v, w].map(|channel| moving_mean(&channel.volts, width));
    let n = means[0].len();
    if n < 3 {
        return Vec::new();
    }
    let least = |k: usize| {
        let mut legs = [0, 1, 2];
        legs.sort_by(|a, b| means[*a][k].total_cmp(&means[*b][k]));
        legs[0]
    };
    // a mean stands in the middle of what it is of
    let time = |k: usize| capture.times_s[k] + 0.5 * spacing_s * width_less_one(width);
    let mut runs: Vec<Held> = Vec::new();
    for k in 0..n {
        let (leg, time_s) = (least(k), time(k));
        match runs.last_mut() {
            Some(run) if run.leg == leg => run.to_s = time_s,
            _ => runs.push(Held {
                leg,
                from_s: time_s,
                to_s: time_s,
            }),
        }
    }
    let longest = runs.iter().map(Held::length).fold(0.0, f64::max);
    runs.retain(|run| run.length() > FLICKER * longest);
    // what a flicker cut in two is one again
    let mut joined: Vec<Held> = Vec::new();
    for run in runs {
        match joined.last_mut() {
            Some(last) if last.leg == run.leg => last.to_s = run.to_s,
            _ => joined.push(run),
        }
    }
    for k in 1..joined.len() {
        let (before, after) = (joined[k - 1], joined[k]);
        let rough_s = 0.5 * (before.to_s + after.from_s);
        let at_s = passed_on(capture, [before.leg, after.leg], rough_s, period_s, levels);
        let at_s = at_s.unwrap_or(rough_s);
        (joined[k - 1].to_s, joined[k].from_s) = (at_s, at_s);
    }
    let ends = (time(0), time(n - 1));
    joined.retain(|run| run.from_s > ends.0 && run.to_s < ends.1);
    joined
}

/// When one leg was the low one for the last time and another for the first, near a rough instant: in
/// the on time of the third leg, which is the high one of both steps.
fn passed_on(
    capture: &Capture,
    [before, after]: [usize; 2],
    rough_s: f64,
    period_s: f64,
    levels: Levels,
) -> Option<f64> {
    const REACH: f64 = 1.5;
    let high = 3_usize.checked_sub(before + after)?;
    let times = &capture.times_s;
    let from = times.partition_point(|t| *t < rough_s - REACH * period_s);
    let to = times.partition_point(|t| *t < rough_s + REACH * period_s);
    let is_low = |leg: usize, k: usize| {
        let volts = |leg: usize| capture.channels[leg].volts[k];
        volts(high) > levels.on_v && volts(leg) < levels.low_v
    };
    let first = (from..to).find(|&k| is_low(after, k) && !is_low(before, k))?;
    let last = (from..first).rev().find(|&k| is_low(before, k))?;
    Some(0.5 * (times[last] + times[first]))
}

/// Samples of a chopping period.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "at least 1, at most a million"
)]
fn window(period_s: f64, spacing_s: f64) -> usize {
    (period_s / spacing_s).round().clamp(1.0, 1e6) as usize
}

#[expect(clippy::cast_precision_loss, reason = "a number of samples")]
fn width_less_one(width: usize) -> f64 {
    (width - 1) as f64
}

/// Means of so many values each, one for each place where they fit.
fn moving_mean(values: &[f64], width: usize) -> Vec<f64> {
    let mut sums = Vec::with_capacity(values.len() + 1);
    let mut sum = 0.0;
    sums.push(sum);
    for value in values {
        sum += value;
        sums.push(sum);
    }
    #[expect(clippy::cast_precision_loss, reason = "a number of samples")]
    let over = width as f64;
    sums.windows(width + 1)
        .map(|sums| (sums[width] - sums[0]) / over)
        .collect()
}
