//! What of a run the waveforms show, and what is reckoned and said of it.

use egui::Response;

use crate::analysis::spectrum::Spectrum;
use crate::record::{Quantity, Tape, Trace};
use crate::scene::plots::{Row, span_points};
use crate::scene::{Scene, Shape, Theme, Width, at};

/// How much larger letters are in the one plot of a presenter.
const AFAR: f64 = 1.5;

/// Traces that a person kept, and what was now then.
#[derive(Clone, Debug)]
pub(super) struct KeptTape {
    pub(super) tape: Tape,
    pub(super) now_s: f64,
}

/// What of the run the panel shows.
#[derive(Clone, Copy, Debug)]
pub(super) struct Showing<'a> {
    /// What was recorded.
    pub(super) tape: &'a Tape,
    /// Now, in s.
    pub(super) now_s: f64,
    /// Seconds of the motor for each second of the show.
    pub(super) pace: f64,
    /// The waveforms alone, without controls: what a room full of people looks at.
    pub(super) bare: bool,
    /// This row alone, in letters that read from afar.
    pub(super) only: Option<Row>,
    /// A row that is pointed at: it is there, and a line is drawn round it.
    pub(super) marked: Option<Row>,
    /// A curve of that row, by its place in it: the others stand back.
    pub(super) lit: Option<usize>,
    /// Another run of the same time to compare with, in the place of kept traces.
    pub(super) beside: Option<&'a Tape>,
}

impl Showing<'_> {
    /// By how much letters and margins are larger than at a desk.
    pub(super) const fn larger(&self) -> f64 {
        if self.only.is_some() { AFAR } else { 1.0 }
    }

    /// Where in a picture the axis begins and ends, from the left, in points.
    pub(super) fn span(&self, response: &Response) -> [f64; 2] {
        let by = self.larger();
        span_points(f64::from(response.rect.width()) / by).map(|place| place * by)
    }
}

/// The same picture with its letters as much larger as it is.
pub(super) fn enlarged(mut scene: Scene, by: f64) -> Scene {
    for shape in &mut scene.shapes {
        if let Shape::Text(text) = shape
            && let Width::Points(points) = &mut text.size
        {
            *points *= by;
        }
    }
    scene
}

/// The electrical frequency: turns of the electrical angle in a second.
pub(super) fn electrical_hz(showing: &Showing<'_>, speed_rad_s: f64) -> f64 {
    let angle = |angle| showing.tape.value(Trace::Of(angle), showing.now_s);
    let pole_pairs = angle(Quantity::ThetaElec)
        .zip(angle(Quantity::ThetaMech))
        .map_or(f64::NAN, |(elec, mech)| (elec / mech).round());
    (pole_pairs * speed_rad_s / std::f64::consts::TAU).abs()
}

/// By how much later kept traces are shown on the time axis: their now lies at now, or up to an
/// electrical turn before it, so that the rotor stands alike.
pub(super) fn later_s(kept: &KeptTape, showing: &Showing<'_>) -> f64 {
    let theta = |tape: &Tape, time_s| tape.value(Trace::Of(Quantity::ThetaElec), time_s);
    let plain = showing.now_s - kept.now_s;
    let Some((now, then)) = theta(showing.tape, showing.now_s).zip(theta(&kept.tape, kept.now_s))
    else {
        return plain;
    };
    let back_rad = (then - now).rem_euclid(std::f64::consts::TAU);
    kept.tape
        .turned(Quantity::ThetaElec, kept.now_s, back_rad, false)
        .map_or(plain, |alike_s| showing.now_s - alike_s)
}

pub(super) fn spectrum_words(spectrum: &Spectrum, name: &str) -> String {
    let fundamental = spectrum.harmonic(1).unwrap_or(0.0);
    format!(
        "Spectrum of {name} over {} electrical turns, fundamental {fundamental:.4} in SI",
        spectrum.turns
    )
}

/// A picture of words alone.
pub(super) fn empty(words: &str, [width, height]: [f64; 2], theme: &Theme) -> Scene {
    use crate::scene::{Align, TYPE_POINTS};
    let mut scene = Scene::new(at(0.0, -height), at(width, 0.0));
    scene.push(Shape::text(
        at(width / 2.0, -height / 2.0),
        words,
        Width::Points(TYPE_POINTS[1]),
        Align::Centre,
        theme.ink_soft,
    ));
    scene
}
