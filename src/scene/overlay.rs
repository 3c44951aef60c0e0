//! What an instrument saved over what was simulated, channel under channel on one time axis.
//!
//! The capture is drawn bold, the simulation as a thin broken line on top, so that both are seen
//! where they agree and neither needs its colour to be told.

use super::scale::{Scale, mark_words, marks, round_step};
use super::{
    Align, Colour, GAP_POINTS, LINE_BOLD, LINE_THIN, PHASES, Scene, Shape, TYPE_POINTS, Theme,
    Width, at,
};
use crate::readings::capture::{TraceRow, Traces};

/// A picture of a capture, with or without a simulation.
#[derive(Clone, Copy, Debug)]
pub struct OverlayView<'a> {
    /// Above everything; may be empty.
    pub title: &'a str,
    /// Under it; may be empty.
    pub subtitle: &'a str,
    /// What is drawn.
    pub traces: &'a Traces,
    /// Width and height in points.
    pub size_points: [f64; 2],
}

const MARGIN: f64 = 4.0 * GAP_POINTS;
/// Left of the strips: scales.
const LEFT: f64 = 64.0;
/// Height of the name above a strip, and of the axis below them.
const NAME: f64 = 22.0;
const AXIS: f64 = 40.0;
/// Columns bold and columns from one dash to the next.
const DASH: (usize, usize) = (7, 11);

/// Draws the picture; the scene's size is the size asked for.
#[must_use]
pub fn overlay(view: &OverlayView<'_>, theme: &Theme) -> Scene {
    let [width, height] = view.size_points;
    let mut scene = Scene::new(at(0.0, 0.0), at(width, height));
    let mut top = height - MARGIN;
    for (words, size, colour, line) in [
        (view.title, 2, theme.ink, 24.0),
        (view.subtitle, 1, theme.ink_soft, 20.0),
    ] {
        if !words.is_empty() {
            let size = Width::Points(TYPE_POINTS[size]);
            let place = at(MARGIN, top - 0.5 * line);
            scene.push(Shape::text(place, words, size, Align::Left, colour));
            top -= line;
        }
    }
    let bottom = MARGIN + AXIS;
    #[expect(clippy::cast_precision_loss, reason = "one to three")]
    let n = view.traces.rows.len().max(1) as f64;
    let each = (top - bottom) / n;
    let place = Place {
        left: LEFT,
        right: width - MARGIN,
        span_s: view.traces.span_s,
        theme,
    };
    for (idx, row) in view.traces.rows.iter().enumerate() {
        let high = top - NAME;
        place.strip(
            &mut scene,
            row,
            idx,
            [high - (each - NAME - GAP_POINTS), high],
        );
        top -= each;
    }
    place.axis(&mut scene, bottom);
    legend(&mut scene, view, theme);
    scene
}

/// What the picture shows, for those who cannot see it.
#[must_use]
pub fn overlay_in_words(traces: &Traces) -> String {
    let names: Vec<&str> = traces.rows.iter().map(|row| row.name.as_str()).collect();
    format!(
        "{} from {:.6} s to {:.6} s, saved by an instrument{}",
        names.join(", "),
        traces.span_s.0,
        traces.span_s.1,
        if traces.has_simulation() {
            ", and simulated"
        } else {
            ""
        }
    )
}

struct Place<'a> {
    left: f64,
    right: f64,
    span_s: (f64, f64),
    theme: &'a Theme,
}

impl Place<'_> {
    fn small(&self, scene: &mut Scene, place: super::Point, words: String, align: Align) {
        let size = Width::Points(TYPE_POINTS[0]);
        scene.push(Shape::text(place, words, size, align, self.theme.ink_soft));
    }

    fn strip(&self, scene: &mut Scene, row: &TraceRow, idx: usize, [low, high]: [f64; 2]) {
        let theme = self.theme;
        let name = at(self.left, high + 0.5 * NAME);
        let words = format!("{}, V", row.name);
        let size = Width::Points(TYPE_POINTS[1]);
        scene.push(Shape::text(name, words, size, Align::Left, theme.ink));
        let points = || row.captured.iter().chain(&row.simulated);
        let scale = Scale::round(
            points().map(|p| p.1).fold(0.0, f64::min),
            points().map(|p| p.1).fold(0.0, f64::max),
            4,
        );
        let y = |value: f64| low + (high - low) * scale.share(value);
        for value in scale.marks() {
            let colour = if value.abs() < 1e-9 * scale.step {
                theme.ink_soft
            } else {
                theme.line
            };
            let ends = [at(self.left, y(value)), at(self.right, y(value))];
            scene.push(Shape::line(
                ends[0],
                ends[1],
                Width::Points(0.75 * LINE_THIN),
                colour,
            ));
            let place = at(self.left - 6.0, y(value));
            self.small(scene, place, scale.words(value), Align::Right);
        }
        let phase = PHASES[idx.min(2)];
        let bold = (Width::Points(LINE_BOLD), theme.phase(phase));
        let broken = (Width::Points(1.25 * LINE_THIN), theme.ink);
        self.trace(scene, &row.captured, &y, bold, false);
        self.trace(scene, &row.simulated, &y, broken, true);
    }

    /// A curve as columns of a point each.
    fn trace(
        &self,
        scene: &mut Scene,
        points: &[(f64, f64)],
        y: &impl Fn(f64) -> f64,
        (width, colour): (Width, Colour),
        dashed: bool,
    ) {
        let columns = columns(points, self.span_s, self.right - self.left);
        let shown = |k: usize| !dashed || k % DASH.1 < DASH.0;
        let mut from = 0;
        while from < columns.len() {
            let n = columns[from..]
                .iter()
                .enumerate()
                .take_while(|(k, column)| column.is_some() && shown(from + k))
                .count();
            let ranges: Vec<[f64; 2]> = columns[from..from + n]
                .iter()
                .flatten()
                .map(|range| range.map(y))
                .collect();
            if n > 1 {
                #[expect(clippy::cast_precision_loss, reason = "a number of columns")]
                scene.push(Shape::Trace {
                    left: self.left + from as f64,
                    column: 1.0,
                    ranges,
                    width,
                    colour,
                });
            }
            from += n.max(1);
        }
    }

    fn axis(&self, scene: &mut Scene, y: f64) {
        let (from_s, to_s) = self.span_s;
        let span = to_s - from_s;
        let (unit, per_s) = match span {
            span if span < 2e-3 => ("µs", 1e6),
            span if span < 2.0 => ("ms", 1e3),
            _ => ("s", 1.0),
        };
        let step = round_step(per_s * span / 8.0);
        for mark in marks(per_s * from_s, per_s * to_s, step) {
            let x = self.left + (self.right - self.left) * (mark / per_s - from_s) / span;
            let thin = Width::Points(LINE_THIN);
            scene.push(Shape::line(
                at(x, y),
                at(x, y - 5.0),
                thin,
                self.theme.ink_soft,
            ));
            self.small(
                scene,
                at(x, y - 14.0),
                mark_words(mark, step),
                Align::Centre,
            );
        }
        let words = format!("time, {unit}");
        self.small(scene, at(self.right, y - 32.0), words, Align::Right);
    }
}

/// Least and greatest value of a curve in each of so many columns; straight between two points.
fn columns(points: &[(f64, f64)], span_s: (f64, f64), width: f64) -> Vec<Option<[f64; 2]>> {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some thousands of points at most"
    )]
    let n = width.clamp(0.0, 20_000.0) as usize;
    let mut columns: Vec<Option<[f64; 2]>> = vec![None; n];
    let x = |time_s: f64| width * (time_s - span_s.0) / (span_s.1 - span_s.0);
    let mut take = |column: usize, value: f64| {
        let range = columns[column].get_or_insert([value, value]);
        *range = [range[0].min(value), range[1].max(value)];
    };
    for pair in points.windows(2) {
        let ((x0, v0), (x1, v1)) = ((x(pair[0].0), pair[0].1), (x(pair[1].0), pair[1].1));
        if !(x1 >= 0.0 && x0 <= width && x1 >= x0) {
            continue;
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "0 to the number of columns"
        )]
        let at = |x: f64| (x.max(0.0) as usize).min(n.saturating_sub(1));
        for column in at(x0)..=at(x1) {
            if column >= n {
                continue;
            }
            // both ends of the piece that lies in the column
            #[expect(clippy::cast_precision_loss, reason = "a number of columns")]
            let (from, to) = (column as f64, column as f64 + 1.0);
            for x in [from.max(x0), to.min(x1)] {
                let share = if x1 > x0 { (x - x0) / (x1 - x0) } else { 1.0 };
                take(column, v0 + (v1 - v0) * share.clamp(0.0, 1.0));
            }
        }
    }
    columns
}

fn legend(scene: &mut Scene, view: &OverlayView<'_>, theme: &Theme) {
    let y = MARGIN + 0.2 * AXIS;
    let mut x = LEFT;
    for (words, bold, there) in [
        ("captured", true, true),
        ("simulated", false, view.traces.has_simulation()),
    ] {
        if !there {
            continue;
        }
        let (ends, colour) = ([at(x, y), at(x + 30.0, y)], theme.ink);
        if bold {
            for (idx, phase) in PHASES.iter().enumerate().take(view.traces.rows.len()) {
                #[expect(clippy::cast_precision_loss, reason = "one to three")]
                let up = 4.0 * (idx as f64 - 0.5 * (view.traces.rows.len() as f64 - 1.0));
                let (from, to) = (at(ends[0].x, y + up), at(ends[1].x, y + up));
                scene.push(Shape::line(
                    from,
                    to,
                    Width::Points(LINE_BOLD),
                    theme.phase(*phase),
                ));
            }
        } else {
            #[expect(clippy::cast_precision_loss, reason = "a dozen")]
            let dash = super::Dash {
                on: DASH.0 as f64,
                period: DASH.1 as f64,
                offset: 0.0,
            };
            let width = Width::Points(1.25 * LINE_THIN);
            scene
                .shapes
                .extend(super::path(&ends, width, colour, Some(dash)));
        }
        let size = Width::Points(TYPE_POINTS[0]);
        let place = at(x + 38.0, y);
        scene.push(Shape::text(place, words, size, Align::Left, theme.ink_soft));
        x += 120.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A straight line from one corner to the other passes each column where it should, and what
    /// lies outside the span is left out.
    #[test]
    fn columns_hold_the_line_between_points() {
        let points = [(-1.0, -10.0), (0.0, 0.0), (1.0, 10.0), (2.0, 20.0)];
        let found = columns(&points, (0.0, 1.0), 10.0);
        for (k, range) in found.iter().enumerate() {
            let [low, high] = range.unwrap();
            #[expect(clippy::cast_precision_loss, reason = "ten")]
            let (from, to) = (k as f64, k as f64 + 1.0);
            assert!((low - from).abs() < 1e-12 || k == 0, "{k}: {low}");
            assert!((high - to).abs() < 1e-12 || k == 9, "{k}: {high}");
        }
        assert_eq!(columns(&points[..1], (0.0, 1.0), 4.0), [None; 4]);
    }
}
