//! One curve as a band of columns.

use super::Curve;
use crate::record::MinMax;
use crate::scene::{Colour, LINE_BOLD, LINE_THIN, Scene, Shape, Theme, Width};
use crate::winding::Phase;

/// Which of the curves of one quantity it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Look {
    /// The present one: bold.
    Now,
    /// An earlier turn under it: thin.
    Before,
    /// Beside one that is pointed at: thin and pale.
    Back,
    /// Kept to compare with: a thin double line.
    Kept,
}

/// Draws a curve in its phase's line style. A thin unbroken line lies under dashes and dots, so
/// that no peak falls into a gap.
pub(super) fn draw_trace(
    scene: &mut Scene,
    left: f64,
    ranges: &[Option<MinMax>],
    y: &impl Fn(f64) -> f64,
    curve: &Curve,
    look: Look,
    theme: &Theme,
) {
    let colour = curve.colour(theme);
    let columns: Vec<Option<[f64; 2]>> = ranges
        .iter()
        .map(|range| {
            range
                .filter(|range| range.min.is_finite() && range.max.is_finite())
                .map(|range| [y(range.min), y(range.max)])
        })
        .collect();
    let mut push = |columns: &[Option<[f64; 2]>], points: f64, colour: Colour| {
        for (first, ranges) in unbroken(columns) {
            #[expect(clippy::cast_precision_loss, reason = "a number of columns")]
            scene.push(Shape::Trace {
                left: left + first as f64,
                column: 1.0,
                ranges,
                width: Width::Points(points),
                colour,
            });
        }
    };
    let bold = match curve.phase {
        Some(_) => LINE_BOLD,
        None => 1.5,
    };
    match look {
        Look::Before => push(&columns, LINE_THIN, colour.towards(theme.panel, 0.35)),
        Look::Back => push(&columns, LINE_THIN, colour.towards(theme.panel, 0.6)),
        Look::Kept => {
            for side in [-1.5, 1.5] {
                let shifted: Vec<_> = columns
                    .iter()
                    .map(|range| range.map(|[low, high]| [low + side, high + side]))
                    .collect();
                push(&shifted, 0.75, colour.towards(theme.ink, 0.3));
            }
        }
        // So many turns to a column that the curve is a band: what lies under it stays in sight.
        Look::Now if curve.phase.is_some() && is_band(&columns) => {
            push(&columns, LINE_THIN, colour.with_alpha(BAND_ALPHA));
            for end in [0, 1] {
                let edge: Vec<_> = columns
                    .iter()
                    .map(|range| range.map(|ends| [ends[end]; 2]))
                    .collect();
                push(&edge, LINE_THIN, colour);
            }
        }
        Look::Now => match dashes(curve.phase) {
            None => push(&columns, bold, colour),
            Some((on, off)) => {
                push(&columns, LINE_THIN, colour);
                let dashed: Vec<_> = columns
                    .iter()
                    .enumerate()
                    .map(|(k, range)| range.filter(|_| k % (on + off) <= on))
                    .collect();
                push(&dashed, 1.25 * bold, colour);
            }
        },
    }
}

/// Opacity of a band.
const BAND_ALPHA: u8 = 90;
/// Height of a column that is a band and not a line, in points.
const BAND_HEIGHT: f64 = 10.0;

/// Whether half of the columns and more are high, each beside its like.
fn is_band(columns: &[Option<[f64; 2]>]) -> bool {
    let high = |range: &[f64; 2]| range[1] - range[0] > BAND_HEIGHT;
    let n_there = columns.iter().flatten().count();
    let n_high = columns
        .windows(2)
        .filter(|pair| match (&pair[0], &pair[1]) {
            (Some(a), Some(b)) => {
                let common = a[1].min(b[1]) - a[0].max(b[0]);
                high(a) && high(b) && common > 0.5 * (a[1] - a[0]).max(b[1] - b[0])
            }
            _ => false,
        })
        .count();
    2 * n_high > n_there
}

/// Columns bold and columns thin by turns; `None` for unbroken.
const fn dashes(phase: Option<Phase>) -> Option<(usize, usize)> {
    match phase {
        None | Some(Phase::U) => None,
        Some(Phase::V) => Some((14, 8)),
        Some(Phase::W) => Some((2, 5)),
    }
}

/// The pieces without a gap, each with its first column.
fn unbroken(columns: &[Option<[f64; 2]>]) -> Vec<(usize, Vec<[f64; 2]>)> {
    let mut pieces: Vec<(usize, Vec<[f64; 2]>)> = Vec::new();
    let mut open = false;
    for (k, range) in columns.iter().enumerate() {
        match (range, pieces.last_mut()) {
            (Some(range), Some((_, piece))) if open => piece.push(*range),
            (Some(range), _) => pieces.push((k, vec![*range])),
            (None, _) => {}
        }
        open = range.is_some();
    }
    pieces.retain(|(_, piece)| piece.len() > 1);
    pieces
}
