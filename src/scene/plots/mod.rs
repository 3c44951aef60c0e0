//! Rows of waveforms over one axis, with the line of now through all of them.
//!
//! One bench unit is one point of the screen: a column of a trace is a point wide and reaches
//! from the least to the greatest value in it, so no peak disappears at any zoom. The cost of a
//! picture goes with its width, not with what was recorded: see [`Tape`].
//!
//! ```text
//!        A 1.20 ms   B 1.60 ms   B − A 0.40 ms   1/Δt 2.50 kHz
//!  lead currents · A     B − A  U 1.2  V −3.4
//!   5 ┤ ~~~~~~~~~A~~~~~~~~~~B~~~~~~~│now
//!  −5 ┤          ┊          ┊       │
//!      212.4     212.6     212.8 ms
//! ```

mod axis;
mod cursors;
mod legs;
mod row;
mod spectrum;
mod trace;

pub use super::scale::three_digits;
pub use axis::{Axis, ElectricalTurn, electrical_turns};
pub use row::{Curve, Row};
pub use spectrum::{SpectrumView, spectrum_picture};

use super::scale::{Scale, mark_words, marks, round_step};
use super::{Align, Colour, Edge, LINE_THIN, Point, Scene, Shape, TYPE_POINTS, Theme, Width, at};
use crate::record::{MinMax, Quantity, Tape, Trace};
use axis::{Sweep, sweeps, time_sweep};
use trace::{Look, draw_trace};

/// Traces that were kept to compare with.
#[derive(Clone, Copy, Debug)]
pub struct Kept<'a> {
    /// What was recorded then.
    pub tape: &'a Tape,
    /// Which instant of it was now, in s.
    pub now_s: f64,
    /// By how much later it is shown on a time axis, in s.
    pub later_s: f64,
}

/// What is plotted, and how a person looks at it.
#[derive(Clone, Copy, Debug)]
pub struct PlotView<'a> {
    /// What was recorded.
    pub tape: &'a Tape,
    /// Now, in s.
    pub now_s: f64,
    /// The rows that are wanted; as many as fit are drawn, the first first.
    pub rows: &'a [Row],
    /// The common axis.
    pub axis: Axis,
    /// Cursors A and B: places on the axis, in s or in degrees.
    pub cursors: [Option<f64>; 2],
    /// Traces to compare with.
    pub kept: Option<Kept<'a>>,
    /// A curve that is pointed at, by its row and its place there: the others stand back.
    pub lit: Option<(Row, usize)>,
}

/// Left of the curves: scale and names.
const MARGIN: f64 = 52.0;
/// Right of the curves.
const RIGHT: f64 = 8.0;
/// From row to row, with the name of the next between them.
const GAP: f64 = 21.0;
/// Least height of a row: the ends of its scale must be readable.
const LEAST_ROW: f64 = 34.0;
/// Height of the words of the axis.
const AXIS: f64 = 16.0;
/// Height of the words of the cursors.
const HEAD: f64 = 18.0;
/// By how much the line of now stands out of a row at either end.
const NOW_BEYOND: f64 = 2.0;

/// Where in a picture of that width the axis begins and ends, from the left, in points.
#[must_use]
pub fn span_points(width: f64) -> [f64; 2] {
    [MARGIN, (width - RIGHT).max(MARGIN + 1.0)]
}

/// How many of the rows fit a picture of that height.
#[must_use]
pub fn n_rows_that_fit(rows: &[Row], height: f64) -> usize {
    let mut left = height - AXIS - HEAD;
    rows.iter()
        .take_while(|row| {
            left -= GAP + least_height(**row);
            left >= 0.0
        })
        .count()
        .max(usize::from(!rows.is_empty()))
}

const fn least_height(row: Row) -> f64 {
    if matches!(row, Row::Legs) {
        48.0
    } else {
        LEAST_ROW
    }
}

/// The rows that fit, the first first, and how far below the upper edge of the picture the curves
/// of each begin and end, in points. The name stands above them.
#[must_use]
pub fn row_spans(rows: &[Row], height: f64, cursors: bool) -> Vec<(Row, [f64; 2])> {
    let shown = &rows[..n_rows_that_fit(rows, height)];
    let head = if cursors { HEAD } else { 0.0 };
    // Rows share the height; the legs need no more than some.
    let free = height - AXIS - head - GAP * count(shown.len());
    let n_legs = count(shown.iter().filter(|row| **row == Row::Legs).count());
    let n_curves = count(shown.len()) - n_legs;
    let legs = if n_curves > 0.0 {
        (free / count(shown.len())).clamp(24.0, 84.0)
    } else {
        free.max(24.0)
    };
    let each = ((free - n_legs * legs) / n_curves.max(1.0)).max(16.0);
    let mut top = head + 0.9 * GAP;
    shown
        .iter()
        .map(|row| {
            let bottom = top + if *row == Row::Legs { legs } else { each };
            let span = [top, bottom];
            top = bottom + GAP;
            (*row, span)
        })
        .collect()
}

/// Draws the rows into a space of that size.
#[must_use]
pub fn plots(view: &PlotView<'_>, size_points: [f64; 2], theme: &Theme) -> Scene {
    let [width, height] = size_points;
    let mut scene = Scene::new(at(0.0, -height), at(width, 0.0));
    let cursors = view.cursors.iter().any(Option::is_some);
    let spans = row_spans(view.rows, height, cursors);
    let [left, right] = span_points(width);
    let picture = Picture {
        view,
        theme,
        left,
        right,
        sweeps: sweeps(&view.axis, view.tape, view.now_s, whole(right - left)),
        kept: view.kept.map(|kept| picture_kept(view, kept, right - left)),
        ripple: spans
            .iter()
            .any(|(row, _)| *row == Row::Torque)
            .then(|| Ripple::of(view))
            .flatten(),
    };
    let head = if cursors { HEAD } else { 0.0 };
    let first_top = -head - 0.9 * GAP;
    let mut last_bottom = first_top;
    for (row, [top, bottom]) in &spans {
        last_bottom = -bottom;
        picture.row(&mut scene, *row, -top, last_bottom);
    }
    picture.axis_words(&mut scene, last_bottom);
    picture.now_line(&mut scene, &spans);
    picture.cursors(&mut scene, first_top, last_bottom);
    scene
}

fn picture_kept(view: &PlotView<'_>, kept: Kept<'_>, width: f64) -> Vec<Sweep> {
    match view.axis {
        Axis::Time { .. } => {
            #[expect(clippy::cast_precision_loss, reason = "a number of columns")]
            let place = |edge: usize| view.axis.place(edge as f64 / width.max(1.0));
            vec![time_sweep(kept.tape, kept.later_s, whole(width), place)]
        }
        Axis::Angle { from, to, .. } => {
            let one = Axis::Angle { from, to, turns: 1 };
            sweeps(&one, kept.tape, kept.now_s, whole(width))
        }
    }
}

#[expect(clippy::cast_precision_loss, reason = "a few")]
const fn count(n: usize) -> f64 {
    n as f64
}

/// Whole columns of a point.
fn whole(width: f64) -> usize {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "points of a screen"
    )]
    let whole = width.clamp(1.0, 20_000.0) as usize;
    whole
}

/// A picture in the making.
struct Picture<'a> {
    view: &'a PlotView<'a>,
    theme: &'a Theme,
    left: f64,
    right: f64,
    sweeps: Vec<Sweep>,
    kept: Option<Vec<Sweep>>,
    /// Where the torque is shown.
    ripple: Option<Ripple>,
}

impl Picture<'_> {
    fn x(&self, share: f64) -> f64 {
        self.left + share * (self.right - self.left)
    }

    fn row(&self, scene: &mut Scene, row: Row, top: f64, bottom: f64) {
        let theme = self.theme;
        let aside = self
            .differences(row)
            .or_else(|| self.ripple_words(row))
            .or_else(|| self.code_words(row));
        let words = aside.map_or_else(
            || row_words(row),
            |aside| format!("{}     {aside}", row_words(row)),
        );
        let beside = 5.4 * count(words.chars().count());
        self.label(scene, at(self.left, top + 9.0), words, Align::Left);
        self.phase_key(scene, row, [self.left + beside + 24.0, top + 9.0]);
        if row == Row::Legs {
            self.legs(scene, top, bottom);
            return;
        }
        let ranges = |tape: &Tape, sweeps: &[Sweep], curve: &Curve| -> Vec<Vec<Option<MinMax>>> {
            let shown = |range: MinMax| MinMax {
                min: range.min * row.per_si(),
                max: range.max * row.per_si(),
            };
            let columns = |sweep: &Sweep| {
                let mut columns = tape.columns(curve.trace, sweep);
                for column in &mut columns {
                    *column = column.map(shown);
                }
                columns
            };
            sweeps.iter().map(columns).collect()
        };
        let curves: Vec<_> = row
            .curves()
            .iter()
            .map(|curve| (curve, ranges(self.view.tape, &self.sweeps, curve)))
            .collect();
        let kept: Vec<_> = match (&self.kept, self.view.kept) {
            (Some(sweeps), Some(kept)) => row
                .curves()
                .iter()
                .map(|curve| (curve, ranges(kept.tape, sweeps, curve)))
                .collect(),
            _ => Vec::new(),
        };
        let all = curves.iter().chain(&kept);
        let found = all
            .flat_map(|(_, sweeps)| sweeps.iter().flatten().flatten().copied())
            .filter(|range| range.min.is_finite() && range.max.is_finite())
            .reduce(MinMax::and);
        let scale = scale_of(row, found, top - bottom);
        let y = |value: f64| bottom + scale.share(value) * (top - bottom);
        let thin = Width::Points(LINE_THIN);
        let (low, high) = (at(self.left, bottom), at(self.right, top));
        if row == Row::Torque {
            self.ripple(scene, &y);
        }
        let edge = Some(Edge {
            width: thin,
            colour: theme.line,
        });
        scene.push(Shape::rect(low, high, 0.0, Colour::CLEAR, edge));
        for mark in scale.marks() {
            let (from, to) = (at(self.left, y(mark)), at(self.right, y(mark)));
            scene.push(Shape::line(from, to, thin, theme.line));
            // The ends of the scale stand inside the row's height.
            let place = y(mark).clamp(bottom + 5.0, top - 5.0);
            let words = scale.words(mark);
            self.label(scene, at(self.left - 6.0, place), words, Align::Right);
        }
        let n_sweeps = self.sweeps.len();
        let lit = self.view.lit.filter(|(lit, _)| *lit == row);
        let is_lit = |idx: usize| lit.is_none_or(|(_, curve)| curve == idx);
        // What is pointed at comes last, and so on top.
        let order = (0..curves.len()).filter(|idx| !is_lit(*idx));
        for idx in order.chain((0..curves.len()).filter(|idx| is_lit(*idx))) {
            let (curve, sweeps) = &curves[idx];
            for (age, sweep) in sweeps.iter().enumerate() {
                let last = age + 1 == n_sweeps;
                let look = match (is_lit(idx), last) {
                    (false, _) => Look::Back,
                    (true, true) => Look::Now,
                    (true, false) => Look::Before,
                };
                draw_trace(scene, self.left, sweep, &y, curve, look, theme);
            }
        }
        for (curve, sweeps) in &kept {
            for sweep in sweeps {
                draw_trace(scene, self.left, sweep, &y, curve, Look::Kept, theme);
            }
        }
        self.cursor_values(scene, row, top, bottom);
    }

    /// Which line is of which phase, at the end of the row's name: a piece of each with its letter.
    fn phase_key(&self, scene: &mut Scene, row: Row, [from, y]: [f64; 2]) {
        /// Length of a piece, in columns, and from one to the next in points.
        const PIECE: usize = 18;
        const NEXT: f64 = 40.0;
        let curves = row.curves();
        let left = self.right - NEXT * count(curves.len());
        if left < from || curves.iter().any(|curve| curve.phase.is_none()) {
            return;
        }
        for (k, curve) in curves.iter().enumerate() {
            let Some(phase) = curve.phase else { continue };
            let left = left + NEXT * count(k);
            let piece = vec![Some(MinMax::of(0.0)); PIECE];
            draw_trace(scene, left, &piece, &|_| y, curve, Look::Now, self.theme);
            scene.push(Shape::text(
                at(left + count(PIECE) + 5.0, y),
                phase.letter(),
                Width::Points(TYPE_POINTS[0]),
                Align::Left,
                curve.colour(self.theme),
            ));
        }
    }

    /// Words of the quiet kind.
    fn label(&self, scene: &mut Scene, place: Point, words: impl Into<String>, align: Align) {
        let size = Width::Points(TYPE_POINTS[0]);
        scene.push(Shape::text(place, words, size, align, self.theme.ink_soft));
    }

    /// What the letters of the legs' states stand for.
    fn code_words(&self, row: Row) -> Option<String> {
        let room = self.right - self.left > 250.0;
        (row == Row::Legs && room).then(|| LEG_CODE_WORDS.to_owned())
    }

    /// Mean and ripple of the torque, in words.
    fn ripple_words(&self, row: Row) -> Option<String> {
        if row != Row::Torque {
            return None;
        }
        let ripple = self.ripple.as_ref()?;
        let swing = ripple.high - ripple.low;
        // what rounding leaves of a mean that is none
        let mean = if ripple.mean.abs() < 1e-4 * swing {
            0.0
        } else {
            ripple.mean
        };
        if self.right - self.left < 330.0 {
            return Some(format!(
                "mean {}, ripple {}",
                three_digits(mean),
                three_digits(swing)
            ));
        }
        Some(format!(
            "mean {}, ripple {} mNm over {}",
            three_digits(mean),
            three_digits(swing),
            ripple.words
        ))
    }

    /// A band as high as the ripple, and the line of the mean.
    fn ripple(&self, scene: &mut Scene, y: &impl Fn(f64) -> f64) {
        let Some(ripple) = &self.ripple else {
            return;
        };
        let [left, right] = match self.view.axis {
            Axis::Time { .. } => ripple
                .span_s
                .map(|time_s| self.x(self.view.axis.share(time_s).clamp(0.0, 1.0))),
            Axis::Angle { .. } => [self.left, self.right],
        };
        let (low, high) = (at(left, y(ripple.low)), at(right, y(ripple.high)));
        scene.push(Shape::rect(low, high, 0.0, self.theme.plate, None));
        scene.push(Shape::line(
            at(left, y(ripple.mean)),
            at(right, y(ripple.mean)),
            Width::Points(LINE_THIN),
            self.theme.ink_soft,
        ));
    }

    /// Marks and words of the axis under the last row.
    fn axis_words(&self, scene: &mut Scene, bottom: f64) {
        let [from, to] = self.view.axis.ends();
        let most = ((self.right - self.left) / 96.0).max(1.0);
        let (unit, per_unit, step) = match self.view.axis {
            Axis::Angle { .. } => ("°", 1.0, angle_step((to - from) / most)),
            Axis::Time { .. } => {
                let step_s = round_step((to - from) / most);
                if step_s < 1e-6 {
                    (" µs", 1e6, step_s * 1e6)
                } else if step_s < 0.1 {
                    (" ms", 1e3, step_s * 1e3)
                } else {
                    (" s", 1.0, step_s)
                }
            }
        };
        let y = bottom - 9.0;
        let n_shown = marks(from * per_unit, to * per_unit, step);
        for (k, mark) in n_shown.iter().enumerate() {
            let x = self.x(self.view.axis.share(mark / per_unit));
            let tick = Shape::line(
                at(x, bottom),
                at(x, bottom - 3.0),
                Width::Points(LINE_THIN),
                self.theme.ink_soft,
            );
            scene.push(tick);
            let mut words = mark_words(*mark, step);
            if k + 1 == n_shown.len() || unit == "°" {
                words += unit;
            }
            // Words at the ends stay inside the picture.
            let reach = 3.2 * count(words.chars().count());
            let x = x.clamp(reach, (self.right + RIGHT - reach).max(reach));
            self.label(scene, at(x, y), words, Align::Centre);
        }
    }

    /// Now, through the curves and not through the words over them.
    fn now_line(&self, scene: &mut Scene, spans: &[(Row, [f64; 2])]) {
        let place = self.view.axis.place_of(self.view.now_s, self.view.tape);
        let Some(share) = place.map(|place| self.view.axis.share(place)) else {
            return;
        };
        if (0.0..=1.0).contains(&share) {
            let x = self.x(share);
            let width = Width::Points(LINE_THIN);
            for (_, [top, bottom]) in spans {
                let (from, to) = (at(x, -bottom - NOW_BEYOND), at(x, -top + NOW_BEYOND));
                scene.push(Shape::line(from, to, width, self.theme.ink));
            }
        }
    }
}

/// The codes of a leg, as IEEE 1364 names the values of a wire: 1, 0 and z.
const LEG_CODE_WORDS: &str = "1: high   0: low   z: floating";

fn row_words(row: Row) -> String {
    if row.unit().is_empty() {
        row.name().to_owned()
    } else {
        format!("{} · {}", row.name(), row.unit())
    }
}

/// Least value at the end of a scale about zero, in the row's unit: what is smaller is nothing to look at.
const LEAST_SCALE: f64 = 0.01;

fn scale_of(row: Row, found: Option<MinMax>, height: f64) -> Scale {
    let found = found.unwrap_or(MinMax::of(0.0));
    if row.about_zero() {
        return Scale::about_zero(found.max.max(-found.min).max(LEAST_SCALE));
    }
    let most = if height > 90.0 { 4 } else { 2 };
    if row.with_zero() {
        let (low, high) = (found.min.min(0.0), found.max.max(0.0));
        Scale::round(low, high.max(low + LEAST_SCALE), most)
    } else {
        Scale::round(found.min, found.max, most)
    }
}

/// Whole divisions of a turn.
fn angle_step(least: f64) -> f64 {
    [1.0, 5.0, 10.0, 30.0, 60.0, 90.0]
        .into_iter()
        .find(|step| *step >= least)
        .unwrap_or(120.0)
}

/// Most electrical turns that mean and ripple are taken over.
const MOST_TURNS: u32 = 50;

/// Mean and ripple of the torque in mNm, and over what they are taken.
struct Ripple {
    mean: f64,
    low: f64,
    high: f64,
    span_s: [f64; 2],
    words: String,
}

impl Ripple {
    /// Over the whole electrical turns in sight that end now; where none fits, over all that is
    /// in sight.
    fn of(view: &PlotView<'_>) -> Option<Self> {
        let tape = view.tape;
        let [first_s, last_s] = tape.range_s()?;
        let now_s = view.now_s.clamp(first_s, last_s);
        let (earliest_s, most) = match view.axis {
            Axis::Time { from, .. } => (from.max(first_s), MOST_TURNS),
            Axis::Angle { turns, .. } => (first_s, turns.max(1)),
        };
        let mut from_s = now_s;
        let mut turns = 0;
        while turns < most {
            let turn = tape.turned(Quantity::ThetaElec, from_s, super::TURN, false);
            match turn.filter(|began_s| *began_s >= earliest_s && *began_s < from_s) {
                Some(began_s) => from_s = began_s,
                None => break,
            }
            turns += 1;
        }
        let words = match turns {
            0 => "what is in sight".to_owned(),
            1 => "1 electrical turn".to_owned(),
            n => format!("{n} electrical turns"),
        };
        if turns == 0 {
            from_s = earliest_s;
        }
        if from_s >= now_s {
            return None;
        }
        let per_si = Row::Torque.per_si();
        let trace = Trace::Of(Quantity::Torque);
        let range = tape.min_max(trace, tape.mark(from_s), tape.mark(now_s))?;
        Some(Self {
            mean: tape.mean_torque_nm(from_s, now_s)? * per_si,
            low: range.min * per_si,
            high: range.max * per_si,
            span_s: [from_s, now_s],
            words,
        })
    }
}

#[cfg(test)]
mod tests;
