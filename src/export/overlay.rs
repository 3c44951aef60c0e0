//! What an instrument saved over what was simulated, channel under channel on one time axis.
//!
//! The capture is drawn bold, the simulation as a thin broken line on top, so that both are seen
//! where they agree and neither needs its colour to be told.

use std::fmt::Write as _;

use super::picture::{Anchor, Drawing, Picture, Stroke, place};
use super::strips::axis::Axis;
use super::strips::fitting;
use crate::analysis::Unit;
use crate::record::MinMax;
use crate::scene::{LINE_BOLD, LINE_THIN, PHASES, TYPE_POINTS, Theme};

/// A picture of a capture, with or without a simulation.
#[derive(Debug)]
pub struct Overlay<'a> {
    /// Above everything.
    pub title: &'a str,
    /// Under it.
    pub subtitle: &'a str,
    /// Channels, three at most.
    pub rows: Vec<Row>,
    /// First and last instant in s.
    pub span_s: (f64, f64),
    /// Light or dark.
    pub theme: &'a Theme,
}

/// One channel: instants in s and values in V.
#[derive(Clone, Debug, Default)]
pub struct Row {
    /// Its name.
    pub name: String,
    /// As the instrument saved it.
    pub capture: Vec<(f64, f64)>,
    /// As simulated; empty: there is none.
    pub simulated: Vec<(f64, f64)>,
}

const WIDTH: f64 = 1200.0;
const EDGE: f64 = 32.0;
const LEFT: f64 = 184.0;
const RIGHT: f64 = 1016.0;
const GAP: f64 = 12.0;
const HEADER: f64 = 100.0;
const STRIP: f64 = 180.0;
const AXIS: f64 = 56.0;
const SMALL: f64 = TYPE_POINTS[0];
const WORDS: f64 = TYPE_POINTS[1];
const LARGE: f64 = TYPE_POINTS[3];

impl Overlay<'_> {
    /// Draws the picture.
    #[must_use]
    pub fn draw(&self) -> Picture {
        #[expect(clippy::cast_precision_loss, reason = "one to three")]
        let strips = self.rows.len() as f64 * (STRIP + GAP);
        let mut drawing = Drawing::new(WIDTH, HEADER + strips + AXIS, self.theme.ground);
        let theme = self.theme;
        let width = WIDTH - 2.0 * EDGE;
        let title = fitting(self.title, LARGE, width);
        drawing.words((EDGE, 48.0), LARGE, Anchor::Start, theme.ink, &title);
        let subtitle = fitting(self.subtitle, WORDS, width);
        drawing.words(
            (EDGE, 74.0),
            WORDS,
            Anchor::Start,
            theme.ink_soft,
            &subtitle,
        );
        let mut top = HEADER;
        for (idx, row) in self.rows.iter().enumerate() {
            self.strip(&mut drawing, row, idx, top);
            top += STRIP + GAP;
        }
        self.time_axis(&mut drawing, top);
        let description = format!(
            "{}. {} from {:.6} s to {:.6} s, saved by an instrument{}.",
            self.subtitle,
            self.rows
                .iter()
                .map(|row| row.name.as_str())
                .collect::<Vec<_>>()
                .join(", "),
            self.span_s.0,
            self.span_s.1,
            if self.has_simulation() {
                ", and simulated"
            } else {
                ""
            }
        );
        Picture::new(drawing.finish(), self.title.to_owned(), description)
    }

    fn has_simulation(&self) -> bool {
        self.rows.iter().any(|row| !row.simulated.is_empty())
    }

    fn x(&self, time_s: f64) -> f64 {
        let (from_s, to_s) = self.span_s;
        LEFT + (RIGHT - LEFT) * (time_s - from_s) / (to_s - from_s)
    }

    fn strip(&self, drawing: &mut Drawing, row: &Row, idx: usize, top: f64) {
        let theme = self.theme;
        drawing.rect(LEFT, top, RIGHT - LEFT, STRIP, 4.0, theme.panel);
        let name = fitting(&row.name, WORDS, LEFT - EDGE - 60.0);
        drawing.words((EDGE, top + 20.0), WORDS, Anchor::Start, theme.ink, &name);
        let shown = |points: &[(f64, f64)]| -> Vec<(f64, f64)> {
            let inside = |time_s: f64| (self.span_s.0..=self.span_s.1).contains(&time_s);
            points
                .iter()
                .copied()
                .filter(|(time_s, _)| inside(*time_s))
                .collect()
        };
        let (capture, simulated) = (shown(&row.capture), shown(&row.simulated));
        let values = capture
            .iter()
            .chain(&simulated)
            .map(|(_, value)| MinMax::of(*value));
        let Some(found) = values.reduce(MinMax::and) else {
            return;
        };
        let axis = Axis::new(found, Unit::VOLT, true, STRIP);
        let at = (EDGE, top + 37.0);
        drawing.words(at, SMALL, Anchor::Start, theme.ink_soft, &axis.unit_words);
        let y = |value: f64| top + STRIP * (1.0 - axis.share(value));
        for (value, words) in &axis.ticks {
            let colour = if *value == 0.0 {
                theme.ink_soft
            } else {
                theme.line
            };
            let stroke = Stroke::solid(colour, LINE_THIN * 0.75);
            drawing.line((LEFT, y(*value)), (RIGHT, y(*value)), &stroke);
            let at = (LEFT - 8.0, y(*value) + 0.36 * SMALL);
            drawing.words(at, SMALL, Anchor::End, theme.ink_soft, words);
        }
        let phase = PHASES[idx.min(2)];
        let bold = Stroke::solid(theme.phase(phase), LINE_BOLD);
        let broken = Stroke {
            colour: theme.ink,
            width: LINE_THIN,
            dashes: vec![6.0, 4.0],
        };
        for (points, stroke) in [(&capture, &bold), (&simulated, &broken)] {
            drawing.path(&self.path(points, y), stroke, "");
        }
        let left = RIGHT + 20.0;
        for (k, (words, stroke)) in [("captured", &bold), ("simulated", &broken)]
            .into_iter()
            .enumerate()
        {
            if k == 1 && simulated.is_empty() {
                continue;
            }
            let row = top + 0.5 * STRIP + [-14.0, 14.0][k];
            drawing.line((left, row), (left + 44.0, row), stroke);
            drawing.words(
                (left + 54.0, row + 0.36 * WORDS),
                WORDS,
                Anchor::Start,
                theme.ink,
                words,
            );
        }
    }

    /// A path through the lowest and highest value of each half point, in the order in which they
    /// come.
    fn path(&self, points: &[(f64, f64)], y: impl Fn(f64) -> f64) -> String {
        let mut d = String::new();
        let mut go = |x: f64, value: f64| {
            let letter = if d.is_empty() { 'M' } else { 'L' };
            let _ = write!(d, "{letter}{} {}", place(x), place(y(value)));
        };
        let column = |time_s: f64| (2.0 * self.x(time_s)).floor();
        for group in points.chunk_by(|a, b| column(a.0) == column(b.0)) {
            let low = group.iter().min_by(|a, b| a.1.total_cmp(&b.1));
            let high = group.iter().max_by(|a, b| a.1.total_cmp(&b.1));
            if let (Some(low), Some(high)) = (low, high) {
                let (first, second) = if low.0 <= high.0 {
                    (low, high)
                } else {
                    (high, low)
                };
                go(self.x(first.0), first.1);
                if group.len() > 1 {
                    go(self.x(second.0), second.1);
                }
            }
        }
        d
    }

    fn time_axis(&self, drawing: &mut Drawing, y: f64) {
        let theme = self.theme;
        let axis = Axis::of_time(self.span_s.0, self.span_s.1);
        for (time_s, words) in &axis.ticks {
            let x = self.x(*time_s);
            let stroke = Stroke::solid(theme.ink_soft, LINE_THIN);
            drawing.line((x, y + 2.0), (x, y + 7.0), &stroke);
            drawing.words((x, y + 21.0), SMALL, Anchor::Middle, theme.ink_soft, words);
        }
        let words = format!("time, {}", axis.unit_words);
        drawing.words((EDGE, y + 21.0), WORDS, Anchor::Start, theme.ink, &words);
    }
}
