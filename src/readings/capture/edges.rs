//! Edges of a signal that goes up and down, noise passed over.

/// One edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Edge {
    /// When the level was passed, in s.
    pub(super) time_s: f64,
    /// Upwards.
    pub(super) rising: bool,
}

/// Edges through `level`; one counts only where the signal goes from `level − reach` to
/// `level + reach` or back. The instant lies between the last sample on the one side of the level
/// and the first on the other: by a straight line, or in the middle of a jump.
pub(super) fn edges(times_s: &[f64], volts: &[f64], level: f64, reach: f64) -> Vec<Edge> {
    let mut found = Vec::new();
    let mut above: Option<bool> = None;
    // last passage of the level itself
    let mut passed = times_s.first().copied().unwrap_or(0.0);
    let mut before: Option<(f64, f64)> = None;
    for (&time_s, &value) in times_s.iter().zip(volts) {
        if let Some((last_s, last)) = before
            && (last < level) != (value < level)
            && value != last
        {
            // a jump tells nothing of where between the two samples it came: the middle
            let part = if (value - last).abs() > 4.0 * reach {
                0.5
            } else {
                (level - last) / (value - last)
            };
            passed = last_s + (time_s - last_s) * part;
        }
        before = Some((time_s, value));
        let now = if value > level + reach {
            Some(true)
        } else if value < level - reach {
            Some(false)
        } else {
            None
        };
        if let Some(now) = now {
            if above.is_some_and(|was| was != now) {
                found.push(Edge {
                    time_s: passed,
                    rising: now,
                });
            }
            above = Some(now);
        }
    }
    found
}

/// Value below which a part of the samples lies.
pub(super) fn level_of(volts: &[f64], part: f64) -> f64 {
    let mut sorted: Vec<f64> = volts.to_vec();
    if sorted.is_empty() {
        return 0.0;
    }
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "an index"
    )]
    let at = (part.clamp(0.0, 1.0) * (sorted.len() - 1) as f64).round() as usize;
    let (_, value, _) = sorted.select_nth_unstable_by(at, f64::total_cmp);
    *value
}

/// Straight line y = a + b x by least squares: a, b and their standard uncertainties from the
/// scatter. `None` for fewer than three points or one x.
pub(super) fn line(points: &[(f64, f64)]) -> Option<(f64, f64, f64, f64)> {
    #[expect(clippy::cast_precision_loss, reason = "a number of edges")]
    let n = points.len() as f64;
    if points.len() < 3 {
        return None;
    }
    let mean_x = points.iter().map(|(x, _)| x).sum::<f64>() / n;
    let mean_y = points.iter().map(|(_, y)| y).sum::<f64>() / n;
    let (mut xx, mut xy) = (0.0, 0.0);
    for (x, y) in points {
        xx += (x - mean_x) * (x - mean_x);
        xy += (x - mean_x) * (y - mean_y);
    }
    if xx <= 0.0 {
        return None;
    }
    let b = xy / xx;
    let a = mean_y - b * mean_x;
    let left: f64 = points
        .iter()
        .map(|(x, y)| {
            let off = y - a - b * x;
            off * off
        })
        .sum();
    let variance = left / (n - 2.0);
    Some((
        a,
        b,
        (variance * (1.0 / n + mean_x * mean_x / xx)).sqrt(),
        (variance / xx).sqrt(),
    ))
}
