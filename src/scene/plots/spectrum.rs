//! The amplitudes of one curve against the order of the harmonic.

use super::{AXIS, Curve, GAP, Row, span_points};
use crate::analysis::spectrum::Spectrum;
use crate::scene::scale::{Scale, mark_words, marks, round_step, three_digits};
use crate::scene::{Align, LINE_BOLD, LINE_THIN, Scene, Shape, TYPE_POINTS, Theme, Width, at};

/// What is drawn of a spectrum.
#[derive(Clone, Copy, Debug)]
pub struct SpectrumView<'a> {
    /// The amplitudes, in SI.
    pub spectrum: &'a Spectrum,
    /// The row that gives the unit.
    pub row: Row,
    /// Which of its curves.
    pub curve: Curve,
    /// Highest order in sight.
    pub highest_order: f64,
    /// Electrical frequency in Hz, where it is one: the axis then says both.
    pub electrical_hz: Option<f64>,
}

/// Draws a spectrum into a space of that size: a line for each bin, the largest with their
/// values.
#[must_use]
pub fn spectrum_picture(view: &SpectrumView<'_>, size_points: [f64; 2], theme: &Theme) -> Scene {
    let [width, height] = size_points;
    let mut scene = Scene::new(at(0.0, -height), at(width, 0.0));
    let [left, right] = span_points(width);
    let (top, bottom) = (-2.0 * GAP, -(height - 2.0 * AXIS).max(3.0 * GAP));
    let spectrum = view.spectrum;
    let per_si = view.row.per_si();
    let in_sight: Vec<(f64, f64)> = spectrum
        .amplitudes
        .iter()
        .enumerate()
        .map(|(bin, amplitude)| (spectrum.order(bin), amplitude.abs() * per_si))
        .take_while(|(order, _)| *order <= view.highest_order)
        .collect();
    let largest = in_sight.iter().fold(0.0_f64, |most, bin| most.max(bin.1));
    let scale = Scale::round(0.0, largest.max(1e-9), 4);
    let y = |value: f64| bottom + scale.share(value) * (top - bottom);
    let x = |order: f64| left + 6.0 + order / view.highest_order * (right - left - 12.0);
    let thin = Width::Points(LINE_THIN);
    let size = Width::Points(TYPE_POINTS[0]);
    let mut label = |place, words: String, align| {
        scene.push(Shape::text(place, words, size, align, theme.ink_soft));
    };
    let turns = match spectrum.turns {
        1 => "1 whole electrical turn".to_owned(),
        n => format!("{n} whole electrical turns"),
    };
    label(
        at(left, -0.5 * GAP),
        format!(
            "{} · {}, amplitude over {turns}, {} window",
            view.curve.name,
            view.row.unit(),
            spectrum.window.name()
        ),
        Align::Left,
    );
    for mark in scale.marks() {
        label(at(left - 6.0, y(mark)), scale.words(mark), Align::Right);
    }
    let step = round_step(view.highest_order * 64.0 / (right - left)).max(1.0);
    for mark in marks(0.0, view.highest_order, step) {
        let words = if mark == 0.0 {
            "mean".to_owned()
        } else {
            mark_words(mark, step)
        };
        label(at(x(mark), bottom - 10.0), words, Align::Centre);
    }
    let under = view
        .electrical_hz
        .filter(|hz| hz.is_finite() && *hz > 0.0)
        .map_or_else(
            || "order of the harmonic".to_owned(),
            |hz| format!("order of the harmonic; 1 is {} Hz", three_digits(hz)),
        );
    let middle = f64::midpoint(left, right);
    label(at(middle, bottom - 10.0 - AXIS), under, Align::Centre);
    // The largest say their value; neighbours of one that does stay silent.
    let mut by_size: Vec<&(f64, f64)> = in_sight
        .iter()
        .filter(|bin| bin.1 > 0.03 * largest)
        .collect();
    by_size.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut said: Vec<f64> = Vec::new();
    for (order, amplitude) in by_size {
        if said.len() >= 12
            || said
                .iter()
                .any(|other| (x(*other) - x(*order)).abs() < 34.0)
        {
            continue;
        }
        said.push(*order);
        let place = at(x(*order), y(*amplitude) + 8.0);
        label(place, three_digits(*amplitude), Align::Centre);
    }
    for mark in scale.marks() {
        scene.push(Shape::line(
            at(left, y(mark)),
            at(right, y(mark)),
            thin,
            theme.line,
        ));
    }
    for (bin, (order, amplitude)) in in_sight.iter().enumerate() {
        // Harmonics are bold; what lies between them does not repeat with the turn.
        let bar = if bin % spectrum.turns.max(1) as usize == 0 {
            2.0 * LINE_BOLD
        } else {
            LINE_THIN
        };
        scene.push(Shape::line(
            at(x(*order), y(0.0)),
            at(x(*order), y(*amplitude)),
            Width::Points(bar),
            view.curve.colour(theme),
        ));
    }
    scene
}
