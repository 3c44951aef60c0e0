//! Curves of several quantities in strips that share one axis below, with marked points.
//!
//! A closed form is a thin double line, dashed where it is only about right. A point that was
//! predicted is a ring, one that was simulated a disc.

mod of_build;
mod strip;

pub use of_build::{build_curves, panels_of_build, panels_of_build_in_slices};

use super::scale::Scale;
use super::{Align, GAP_POINTS, LINE_THIN, Scene, Shape, TYPE_POINTS, Theme, Width, at};
use strip::{Frame, width_of};

/// A picture of one panel or several side by side.
#[derive(Clone, Debug, PartialEq)]
pub struct CurvesView {
    /// Above the picture; may be empty.
    pub title: String,
    /// Side by side; strips of one number share their scale.
    pub panels: Vec<Panel>,
    /// Width of a panel in points: [`PANEL_POINTS`] or more.
    pub panel_points: f64,
}

/// Strips over one axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Panel {
    /// What is varied: "against load torque, at duty 0.90".
    pub heading: String,
    /// A word on what is missing; may be empty.
    pub gap: String,
    /// Name and unit of the axis.
    pub axis: String,
    /// Both ends of the axis.
    pub range: [f64; 2],
    /// From top to bottom.
    pub strips: Vec<Strip>,
    /// Points with a name.
    pub marks: Vec<Mark>,
}

/// One quantity.
#[derive(Clone, Debug, PartialEq)]
pub struct Strip {
    /// Name and unit.
    pub name: String,
    /// Short unit, for values in words.
    pub unit: &'static str,
    /// The curve, along the axis; `None` where there is nothing.
    pub curve: Vec<Option<Sample>>,
    /// Value at the top, where it is not left to the curve: 100 for percent.
    pub top: Option<f64>,
    /// A limit that should not be passed, and what it is.
    pub limit: Option<(f64, String)>,
}

/// A point of a curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Along the axis.
    pub x: f64,
    /// Upwards.
    pub y: f64,
    /// Whether it is only about right.
    pub about: bool,
}

/// A point with a name.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// What it is called.
    pub name: &'static str,
    /// Whether a full simulation says so.
    pub simulated: bool,
    /// Place along the axis.
    pub x: f64,
    /// Value in each strip.
    pub values: Vec<f64>,
}

/// Least width of a panel in points.
pub const PANEL_POINTS: f64 = 560.0;
/// Left of the strips: scales.
const LEFT: f64 = 64.0;
/// Right of them.
const RIGHT: f64 = 20.0;
/// Height of a strip, and of the name above it.
const STRIP: f64 = 116.0;
const NAME: f64 = 24.0;
/// A line of words.
const LINE: f64 = 18.0;
/// Lines for the names of marks above the strips.
const MARK_ROWS: usize = 3;
const MARGIN: f64 = 4.0 * GAP_POINTS;

/// Draws the panels; the scene's size is its size in points.
#[must_use]
pub fn curves(view: &CurvesView, theme: &Theme) -> Scene {
    #[expect(clippy::cast_precision_loss, reason = "a handful")]
    let count = |n: usize| n as f64;
    let n_strips = view
        .panels
        .iter()
        .map(|p| p.strips.len())
        .max()
        .unwrap_or(0);
    let n_marks = view.panels.iter().map(|p| p.marks.len()).max().unwrap_or(0);
    let title = if view.title.is_empty() { 0.0 } else { 28.0 };
    let top_of_strips = MARGIN + title + LINE + count(MARK_ROWS) * LINE;
    let strips = count(n_strips) * (NAME + STRIP);
    let axis = 2.0 * LINE + GAP_POINTS;
    let height = top_of_strips + strips + axis + count(n_marks + 1) * LINE + 1.5 * MARGIN;
    let panel_points = view.panel_points.max(PANEL_POINTS);
    let width = panel_points * count(view.panels.len().max(1));
    let mut scene = Scene::new(at(0.0, 0.0), at(width, height));
    let words = |scene: &mut Scene, [x, down]: [f64; 2], text: &str, size: usize, soft: bool| {
        let colour = if soft { theme.ink_soft } else { theme.ink };
        scene.push(Shape::text(
            at(x, height - down),
            text,
            Width::Points(TYPE_POINTS[size]),
            Align::Left,
            colour,
        ));
    };
    if !view.title.is_empty() {
        words(&mut scene, [MARGIN, MARGIN + 8.0], &view.title, 2, false);
    }
    let scales: Vec<Scale> = (0..n_strips).map(|at| scale_of(view, at)).collect();
    for (n, panel) in view.panels.iter().enumerate() {
        let left = panel_points * count(n);
        let head = MARGIN + title + 0.5 * LINE;
        words(&mut scene, [left + MARGIN, head], &panel.heading, 1, false);
        if !panel.gap.is_empty() {
            scene.push(Shape::text(
                at(left + panel_points - RIGHT, height - head),
                panel.gap.as_str(),
                Width::Points(TYPE_POINTS[0]),
                Align::Right,
                theme.ink_soft,
            ));
        }
        let frame = Frame {
            theme,
            left: left + LEFT,
            right: left + panel_points - RIGHT,
            top: height - top_of_strips,
            range: panel.range,
        };
        frame.names(&mut scene, &panel.marks);
        for (row, (strip, scale)) in panel.strips.iter().zip(&scales).enumerate() {
            let high = frame.top - count(row) * (NAME + STRIP) - NAME;
            let ends = [high - STRIP, high];
            frame.strip(&mut scene, strip, scale, ends);
            frame.mark_lines(&mut scene, &panel.marks, ends);
            frame.labels(&mut scene, strip, scale, ends);
            frame.marks(&mut scene, &panel.marks, row, scale, ends);
        }
        let bottom = frame.top - count(panel.strips.len()) * (NAME + STRIP);
        frame.axis(&mut scene, &panel.axis, bottom);
        for (row, mark) in panel.marks.iter().enumerate() {
            let down = top_of_strips + strips + axis + (count(row) + 0.5) * LINE;
            let place = at(left + MARGIN + 5.0, height - down);
            frame.sign(&mut scene, place, mark.simulated);
            let text = mark_in_words(panel, mark);
            words(&mut scene, [left + MARGIN + 16.0, down], &text, 0, true);
        }
    }
    legend(&mut scene, view, MARGIN, theme);
    scene
}

/// "operating point: 7340 rpm, 13.4 A, 82.1 %, 131 W".
fn mark_in_words(panel: &Panel, mark: &Mark) -> String {
    let values: Vec<String> = panel
        .strips
        .iter()
        .zip(&mark.values)
        .map(|(strip, value)| format!("{} {}", super::scale::three_digits(*value), strip.unit))
        .collect();
    format!("{}: {}", mark.name, values.join(", "))
}

/// A scale from zero that holds the strip of every panel.
fn scale_of(view: &CurvesView, at: usize) -> Scale {
    let mut high = 0.0_f64;
    let mut low = 0.0_f64;
    let fixed = view
        .panels
        .iter()
        .find_map(|panel| panel.strips.get(at)?.top);
    for panel in &view.panels {
        let Some(strip) = panel.strips.get(at) else {
            continue;
        };
        let inside = |x: f64| x >= panel.range[0] && x <= panel.range[1];
        let curve = strip.curve.iter().flatten().filter(|s| inside(s.x));
        let marks = panel.marks.iter().filter_map(|mark| mark.values.get(at));
        for value in curve.map(|sample| sample.y).chain(marks.copied()) {
            high = high.max(value);
            low = low.min(value);
        }
    }
    Scale::round(low, fixed.unwrap_or(1.02 * high), 4)
}

/// What the kinds of lines and points mean, as far as they occur.
fn legend(scene: &mut Scene, view: &CurvesView, y: f64, theme: &Theme) {
    let samples = || {
        view.panels
            .iter()
            .flat_map(|panel| &panel.strips)
            .flat_map(|strip| strip.curve.iter().flatten())
    };
    let about = samples().any(|sample| sample.about);
    let simulated = (view.panels.iter()).any(|panel| panel.marks.iter().any(|m| m.simulated));
    let mut x = MARGIN;
    let frame = Frame {
        theme,
        left: 0.0,
        right: 1.0,
        top: 0.0,
        range: [0.0, 1.0],
    };
    let mut entry = |scene: &mut Scene, draw: &dyn Fn(&mut Scene, f64), text: &str| {
        draw(scene, x);
        scene.push(Shape::text(
            at(x + 36.0, y),
            text,
            Width::Points(TYPE_POINTS[0]),
            Align::Left,
            theme.ink_soft,
        ));
        x += 36.0 + width_of(text) + MARGIN;
    };
    let line = |about: bool| {
        move |scene: &mut Scene, x: f64| {
            let ends = [at(x, y), at(x + 28.0, y)];
            frame.double_line(scene, &ends, about);
        }
    };
    entry(scene, &line(false), "closed form");
    if about {
        entry(scene, &line(true), "only about: the model leaves its range");
    }
    let sign = |simulated: bool| {
        move |scene: &mut Scene, x: f64| frame.sign(scene, at(x + 22.0, y), simulated)
    };
    entry(scene, &sign(false), "predicted");
    if simulated {
        entry(scene, &sign(true), "simulated in full");
    }
    scene.push(Shape::line(
        at(MARGIN, y + 0.75 * LINE),
        at(scene.high.x - MARGIN, y + 0.75 * LINE),
        Width::Points(LINE_THIN),
        theme.line,
    ));
}
