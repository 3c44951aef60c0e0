//! Rows of waveforms over one time axis, with the line of now through all of them.
//!
//! One bench unit is one point of the screen: a column of a trace is a point wide and reaches
//! from the least to the greatest value in its time, so no peak disappears.

use super::{
    Align, Colour, Edge, LINE_BOLD, LINE_THIN, Scene, Shape, TYPE_POINTS, Theme, Width, at, steps,
};
use crate::drive::LegState;
use crate::record::Sample;
use crate::winding::Phase;

/// Where on the time axis a picture looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimeWindow {
    /// Left end in s.
    pub from_s: f64,
    /// Right end in s; after `from_s`.
    pub to_s: f64,
    /// Now, in s.
    pub now_s: f64,
}

impl TimeWindow {
    /// 0 at the left end, 1 at the right.
    fn share(&self, time_s: f64) -> f64 {
        (time_s - self.from_s) / (self.to_s - self.from_s).max(1e-15)
    }
}

/// One curve of a row.
struct Curve {
    value: fn(&Sample) -> f64,
    colour: Colour,
    phase: Option<Phase>,
}

/// Left of the curves: scale and names.
const MARGIN: f64 = 52.0;
/// From row to row, with the name of the next between them.
const GAP: f64 = 21.0;
/// Least height of a row, in points: the ends of its scale and its unit must be readable.
const LEAST_ROW: f64 = 44.0;

/// Draws the rows into a space of that size: currents of the leads, back-EMF, torque, and the
/// states of the legs. `samples` rise in time and should reach beyond the window on both sides.
#[must_use]
pub fn rows(samples: &[Sample], window: TimeWindow, size_points: [f64; 2], theme: &Theme) -> Scene {
    let [width, height] = size_points;
    let mut scene = Scene::new(at(0.0, -height), at(width, 0.0));
    let strip = 84.0_f64.min(0.25 * height);
    // As many rows as fit, the currents first.
    let n_rows = ((height - strip - 0.9 * GAP) / (LEAST_ROW + GAP))
        .floor()
        .clamp(1.0, 3.0);
    let row = ((height - strip - (n_rows + 1.0) * GAP) / n_rows).max(8.0);
    let phases = |value: [fn(&Sample) -> f64; 3]| {
        Phase::ALL.map(|phase| Curve {
            value: value[phase.idx()],
            colour: theme.phase(phase),
            phase: Some(phase),
        })
    };
    let currents: [fn(&Sample) -> f64; 3] = [
        |s| s.line_current_a[0],
        |s| s.line_current_a[1],
        |s| s.line_current_a[2],
    ];
    let emf: [fn(&Sample) -> f64; 3] = [
        |s| s.back_emf_v[0],
        |s| s.back_emf_v[1],
        |s| s.back_emf_v[2],
    ];
    let torque = [Curve {
        value: |s| s.torque_nm * 1000.0,
        colour: theme.ink,
        phase: None,
    }];
    let mut top = -0.9 * GAP;
    let all = [
        ("lead currents", "A", &phases(currents)[..]),
        ("back-EMF", "V", &phases(emf)[..]),
        ("torque", "mNm", &torque[..]),
    ];
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "1 to 3"
    )]
    for (name, unit, curves) in all.into_iter().take(n_rows as usize) {
        let frame = RowFrame {
            left: MARGIN,
            right: width - 6.0,
            top,
            bottom: top - row,
        };
        frame.draw(&mut scene, samples, window, (name, unit), curves, theme);
        top -= row + GAP;
    }
    let frame = RowFrame {
        left: MARGIN,
        right: width - 6.0,
        top,
        bottom: top - strip,
    };
    frame.legs(&mut scene, samples, window, theme);
    let x = frame.x(window.share(window.now_s).clamp(0.0, 1.0));
    scene.push(Shape::line(
        at(x, -height),
        at(x, 0.0),
        Width::Points(LINE_THIN),
        theme.ink,
    ));
    scene
}

struct RowFrame {
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
}

impl RowFrame {
    fn x(&self, share: f64) -> f64 {
        self.left + share * (self.right - self.left)
    }

    fn draw(
        &self,
        scene: &mut Scene,
        samples: &[Sample],
        window: TimeWindow,
        (name, unit): (&str, &str),
        curves: &[Curve],
        theme: &Theme,
    ) {
        let largest = samples
            .iter()
            .flat_map(|sample| curves.iter().map(|curve| (curve.value)(sample).abs()))
            .filter(|value| value.is_finite())
            .fold(0.0, f64::max);
        let full = round_up(largest);
        let middle = self.top.midpoint(self.bottom);
        let y = |value: f64| middle + value / full * 0.5 * (self.top - self.bottom);
        let edge = Some(Edge {
            width: Width::Points(LINE_THIN),
            colour: theme.line,
        });
        let (low, high) = (at(self.left, self.bottom), at(self.right, self.top));
        scene.push(Shape::rect(low, high, 0.0, Colour::CLEAR, edge));
        let thin = Width::Points(LINE_THIN);
        scene.push(Shape::line(
            at(self.left, middle),
            at(self.right, middle),
            thin,
            theme.line,
        ));
        let type_size = Width::Points(TYPE_POINTS[0]);
        for (value, y) in [(full, self.top - 7.0), (-full, self.bottom + 7.0)] {
            let words = format!(
                "{}{}",
                if value < 0.0 { "−" } else { "" },
                plain(value.abs())
            );
            let anchor = at(self.left - 6.0, y);
            scene.push(Shape::text(
                anchor,
                words,
                type_size,
                Align::Right,
                theme.ink_soft,
            ));
        }
        let anchor = at(self.left - 6.0, middle);
        scene.push(Shape::text(
            anchor,
            unit,
            type_size,
            Align::Right,
            theme.ink_soft,
        ));
        for curve in curves {
            let columns = columns(samples, window, self.right - self.left, curve.value);
            let ranges: Vec<Option<[f64; 2]>> = columns
                .into_iter()
                .map(|range| range.map(|range| range.map(y)))
                .collect();
            traces(scene, self.left, &ranges, curve, theme);
        }
        let (size, ink) = (Width::Points(TYPE_POINTS[0]), theme.ink_soft);
        scene.push(Shape::text(
            at(self.left, self.top + 9.0),
            name,
            size,
            Align::Left,
            ink,
        ));
    }

    fn legs(&self, scene: &mut Scene, samples: &[Sample], window: TimeWindow, theme: &Theme) {
        let lane = (self.top - self.bottom) / 3.0;
        for (leg, phase) in Phase::ALL.into_iter().enumerate() {
            #[expect(clippy::cast_precision_loss, reason = "0 to 2")]
            let top = self.top - lane * leg as f64;
            let bottom = top - 0.8 * lane;
            let anchor = at(self.left - 6.0, top.midpoint(bottom));
            let letter = phase.letter();
            let type_size = Width::Points(TYPE_POINTS[0]);
            scene.push(Shape::text(
                anchor,
                letter,
                type_size,
                Align::Right,
                theme.phase(phase),
            ));
            for (from, to, state) in spans(samples, window, leg) {
                let (low, high) = (at(self.x(from), bottom), at(self.x(to), top));
                steps::leg_state(scene, low, high, state, true, theme);
            }
        }
    }
}

/// A curve in its phase's line style: pieces of whole columns with gaps between.
fn traces(scene: &mut Scene, left: f64, ranges: &[Option<[f64; 2]>], curve: &Curve, theme: &Theme) {
    // Columns drawn and columns left out, by turns.
    let (on, off) = match curve.phase {
        None | Some(Phase::U) => (usize::MAX, 0),
        Some(Phase::V) => (14, 6),
        Some(Phase::W) => (2, 4),
    };
    let width = Width::Points(if curve.phase.is_some() {
        LINE_BOLD
    } else {
        1.5
    });
    let mut push = |first: usize, piece: &mut Vec<[f64; 2]>| {
        if piece.len() > 1 {
            #[expect(clippy::cast_precision_loss, reason = "a number of columns")]
            let left = left + first as f64;
            let ranges = std::mem::take(piece);
            let colour = curve.colour;
            scene.push(Shape::Trace {
                left,
                column: 1.0,
                ranges,
                width,
                colour,
            });
        }
        piece.clear();
    };
    debug_assert!(theme.ink.a == 255, "curves cover what is below");
    let mut piece = Vec::new();
    let mut first = 0;
    for (k, range) in ranges.iter().enumerate() {
        let drawn = off == 0 || k % (on + off) <= on;
        match range {
            Some(range) if drawn => {
                if piece.is_empty() {
                    first = k;
                }
                piece.push(*range);
            }
            _ => push(first, &mut piece),
        }
    }
    push(first, &mut piece);
}

/// Least and greatest value in each of the columns, a point wide; `None` where nothing was
/// recorded. The curve is straight between samples.
fn columns(
    samples: &[Sample],
    window: TimeWindow,
    width: f64,
    value: fn(&Sample) -> f64,
) -> Vec<Option<[f64; 2]>> {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "points"
    )]
    let n_columns = width.clamp(0.0, 20_000.0) as usize;
    let mut ranges: Vec<Option<[f64; 2]>> = vec![None; n_columns];
    let mut take = |column: usize, value: f64| {
        if let Some(range) = ranges.get_mut(column) {
            let [low, high] = range.unwrap_or([value, value]);
            *range = Some([low.min(value), high.max(value)]);
        }
    };
    for pair in samples.windows(2) {
        let (from, to) = (
            window.share(pair[0].time_s) * width,
            window.share(pair[1].time_s) * width,
        );
        let (a, b) = (value(&pair[0]), value(&pair[1]));
        if !(from.is_finite() && to.is_finite() && a.is_finite() && b.is_finite()) || to < 0.0 {
            continue;
        }
        if from > width {
            break;
        }
        let at_x = |x: f64| {
            if to > from {
                a + (b - a) * (x - from) / (to - from)
            } else {
                b
            }
        };
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "columns"
        )]
        let (first, last) = (from.max(0.0) as usize, to.min(width).max(0.0) as usize);
        for column in first..=last {
            #[expect(clippy::cast_precision_loss, reason = "columns")]
            let (left, right) = (column as f64, column as f64 + 1.0);
            take(column, at_x(left.max(from)));
            take(column, at_x(right.min(to)));
        }
    }
    ranges
}

/// Stretches of the window in which a leg's state stays the same, as shares of the window.
fn spans(samples: &[Sample], window: TimeWindow, leg: usize) -> Vec<(f64, f64, LegState)> {
    let mut spans: Vec<(f64, f64, LegState)> = Vec::new();
    for pair in samples.windows(2) {
        let from = window.share(pair[0].time_s).clamp(0.0, 1.0);
        let to = window.share(pair[1].time_s).clamp(0.0, 1.0);
        if to <= from {
            continue;
        }
        let state = pair[0].legs[leg];
        match spans.last_mut() {
            Some(last) if last.2 == state && (last.1 - from).abs() < 1e-9 => last.1 = to,
            _ => spans.push((from, to, state)),
        }
    }
    spans
}

/// The next of 1, 2, 5, 10 … at or above a value; 1 for nothing.
fn round_up(value: f64) -> f64 {
    if value.is_nan() || value <= 1e-9 {
        return 1.0;
    }
    let decade = libm::pow(10.0, libm::floor(libm::log10(value)));
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|step| step * decade)
        .find(|full| *full >= value * 0.999_999)
        .unwrap_or(10.0 * decade)
}

/// A round number without needless zeros.
fn plain(value: f64) -> String {
    let text = format!("{value:.6}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(time_s: f64, torque_nm: f64) -> Sample {
        Sample {
            time_s,
            theta_mech_rad: 0.0,
            theta_elec_rad: 0.0,
            speed_rad_s: 0.0,
            phase_current_a: [0.0; 3],
            line_current_a: [0.0; 3],
            back_emf_v: [0.0; 3],
            terminal_v: [0.0; 3],
            em_torque_nm: torque_nm,
            torque_nm,
            supply_current_a: 0.0,
            supply_voltage_v: 0.0,
            step: 1,
            legs: [LegState::High, LegState::Low, LegState::Floating],
        }
    }

    #[test]
    fn a_peak_of_one_sample_among_thousands_is_seen() {
        let mut samples: Vec<Sample> = (0..5000).map(|k| sample(f64::from(k), 0.0)).collect();
        samples[3210].torque_nm = 7.0;
        let window = TimeWindow {
            from_s: 0.0,
            to_s: 4999.0,
            now_s: 0.0,
        };
        let columns = columns(&samples, window, 100.0, |s| s.torque_nm);
        let peak = columns
            .iter()
            .flatten()
            .map(|range| range[1])
            .fold(0.0, f64::max);
        assert!((peak - 7.0).abs() < 1e-12);
        assert!(
            columns.iter().all(Option::is_some),
            "no hole where samples are"
        );
    }

    #[test]
    fn few_samples_still_make_an_unbroken_line() {
        let samples = [sample(0.0, 0.0), sample(1.0, 1.0)];
        let window = TimeWindow {
            from_s: 0.0,
            to_s: 1.0,
            now_s: 0.5,
        };
        let columns = columns(&samples, window, 50.0, |s| s.torque_nm);
        for (k, range) in columns.iter().enumerate() {
            let [low, high] = range.unwrap();
            let x = k as f64 / 50.0;
            assert!(
                (low - x).abs() < 1e-9 && (high - x - 0.02).abs() < 1e-9,
                "{k} {low} {high}"
            );
        }
    }

    #[test]
    fn scales_end_on_round_numbers() {
        for (value, wanted) in [
            (0.0, 1.0),
            (0.13, 0.2),
            (2.0, 2.0),
            (2.1, 5.0),
            (67.0, 100.0),
        ] {
            assert!((round_up(value) - wanted).abs() < 1e-9, "{value}");
        }
        assert_eq!(plain(0.2), "0.2");
        assert_eq!(plain(100.0), "100");
    }
}
