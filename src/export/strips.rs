//! A picture of a run: strips of back-EMF, current, torque, speed and legs on one time axis.
//!
//! ```text
//! title
//! back-EMF  ┌────────────────────────────┐ U V W and their line styles
//! current   ├────────────────────────────┤
//! torque    ├────────────────────────────┤ mean, ripple
//! speed     ├────────────────────────────┤
//! legs      └──1──┬──2──┬──3──┬──4──┬─ … ┘ what the bars mean
//! figures
//! ```
//!
//! A trace goes through the first, lowest, highest and last value of each column of the
//! picture, so that a peak of one sample stands at its full height whatever the span.

use std::f64::consts::TAU;
use std::fmt::Write as _;

use super::picture::{Anchor, Drawing, Picture, Stroke, place};
use crate::analysis::{Figure, Unit, shown};
use crate::drive::LegState;
use crate::record::{MinMax, Quantity, Record};
use crate::scene::{
    Colour, LINE_BOLD, LINE_THIN, PHASES, TYPE_POINTS, Theme, phase_dash, phase_letter,
};

pub(in crate::export) mod axis;

use axis::Axis;

/// Electrical turns shown where no span is asked for.
pub const TURNS_SHOWN: f64 = 2.0;

/// What a picture of strips is made from.
#[derive(Debug)]
pub struct Strips<'a> {
    /// Above everything.
    pub title: &'a str,
    /// Under it, in smaller type.
    pub subtitle: &'a str,
    /// The run.
    pub record: &'a Record,
    /// Its figures.
    pub figures: &'a [Figure],
    /// Light or dark.
    pub theme: &'a Theme,
    /// First and last instant shown in s; `None`: the last [`TURNS_SHOWN`] electrical turns, or
    /// the whole run where the rotor has not turned so far.
    pub span_s: Option<(f64, f64)>,
}

const WIDTH: f64 = 1200.0;
const EDGE: f64 = 32.0;
/// Where the traces begin and end.
const LEFT: f64 = 184.0;
const RIGHT: f64 = 1016.0;
/// Between two strips.
const GAP: f64 = 12.0;
const HEADER: f64 = 100.0;
const AXIS: f64 = 44.0;
const PLATE: f64 = 168.0;
const LEG_ROW: f64 = 34.0;
const SMALL: f64 = TYPE_POINTS[0];
const WORDS: f64 = TYPE_POINTS[1];
const HEADING: f64 = TYPE_POINTS[2];
const LARGE: f64 = TYPE_POINTS[3];

/// Columns of the picture per point, for traces.
const COLUMNS_PER_POINT: f64 = 2.0;

/// One strip of traces.
struct Strip {
    name: &'static str,
    unit: Unit,
    height: f64,
    traces: Vec<(Quantity, Stroke)>,
    /// Zero is always on the axis.
    with_zero: bool,
}

/// Time to place.
#[derive(Clone, Copy)]
struct Span {
    from_s: f64,
    to_s: f64,
}

impl Span {
    fn x(self, time_s: f64) -> f64 {
        LEFT + (RIGHT - LEFT) * (time_s - self.from_s) / (self.to_s - self.from_s)
    }
}

impl Strips<'_> {
    /// Draws the picture.
    #[must_use]
    pub fn draw(&self) -> Picture {
        let strips = self.strips();
        let span = self.span();
        let traces: f64 = strips.iter().map(|strip| strip.height + GAP).sum();
        let legs = 3.0 * LEG_ROW + 28.0;
        let height = HEADER + traces + legs + AXIS + PLATE + EDGE;
        let mut drawing = Drawing::new(WIDTH, height, self.theme.ground);
        self.header(&mut drawing);
        let mut top = HEADER;
        if let Some(span) = span {
            let bottom = HEADER + traces + legs;
            for strip in &strips {
                self.strip(&mut drawing, strip, top, span);
                top += strip.height + GAP;
            }
            self.legs(&mut drawing, top, span);
            self.time_axis(&mut drawing, bottom, span);
        } else {
            drawing.rect(
                LEFT,
                HEADER,
                RIGHT - LEFT,
                traces + legs,
                8.0,
                self.theme.panel,
            );
            let middle = ((LEFT + RIGHT) / 2.0, HEADER + (traces + legs) / 2.0);
            let words = "nothing was recorded";
            drawing.words(middle, HEADING, Anchor::Middle, self.theme.ink_soft, words);
        }
        self.plate(&mut drawing, HEADER + traces + legs + AXIS);
        let description = self.description(span);
        Picture::new(drawing.finish(), self.title.to_owned(), description)
    }

    /// What a screen reader says.
    fn description(&self, span: Option<Span>) -> String {
        let mut text = format!("{}. ", self.subtitle);
        if let Some(span) = span {
            let time = |time_s| shown(time_s, Unit::SECOND, 4);
            let _ = write!(
                text,
                "Back-EMF, current, torque, speed and legs from {} to {}. ",
                time(span.from_s),
                time(span.to_s)
            );
        }
        for figure in self
            .figures
            .iter()
            .filter(|figure| figure.number().is_some())
        {
            let _ = write!(text, "{}: {}. ", figure.name, figure.shown(3));
        }
        text
    }

    fn phase_strokes(&self) -> [Stroke; 3] {
        PHASES.map(|phase| Stroke {
            colour: self.theme.phase(phase),
            width: LINE_BOLD,
            dashes: phase_dash(phase, LINE_BOLD)
                .map(|dash| vec![dash.on, dash.period - dash.on])
                .unwrap_or_default(),
        })
    }

    fn strips(&self) -> Vec<Strip> {
        let of_phases =
            |of: fn(u8) -> Quantity| (0..3).map(of).zip(self.phase_strokes()).collect::<Vec<_>>();
        let ink = || Stroke::solid(self.theme.ink, LINE_BOLD);
        vec![
            Strip {
                name: "back-EMF",
                unit: Unit::VOLT,
                height: 132.0,
                traces: of_phases(Quantity::BackEmf),
                with_zero: true,
            },
            Strip {
                name: "phase current",
                unit: Unit::AMPERE,
                height: 132.0,
                traces: of_phases(Quantity::PhaseCurrent),
                with_zero: true,
            },
            Strip {
                name: "torque",
                unit: Unit::NEWTON_METRE,
                height: 132.0,
                traces: vec![(Quantity::Torque, ink())],
                with_zero: true,
            },
            Strip {
                name: "speed",
                unit: Unit {
                    per_si: 60.0 / TAU,
                    ..Unit::RPM
                },
                height: 68.0,
                traces: vec![(Quantity::Speed, ink())],
                with_zero: false,
            },
        ]
    }

    fn span(&self) -> Option<Span> {
        let (first_s, last_s) = self.record.span_s()?;
        let (from_s, to_s) = self.span_s.unwrap_or_else(|| {
            let times = self.record.channel(Quantity::Time).values();
            let angles = self.record.channel(Quantity::ThetaElec).values();
            let end = angles.last().copied().unwrap_or(0.0);
            let back = angles
                .iter()
                .rposition(|angle| (end - angle).abs() >= TURNS_SHOWN * TAU);
            (back.map_or(first_s, |idx| times[idx]), last_s)
        });
        (to_s > from_s).then_some(Span { from_s, to_s })
    }

    fn header(&self, drawing: &mut Drawing) {
        let theme = self.theme;
        let title = if self.title.is_empty() {
            "A run without a title"
        } else {
            self.title
        };
        let title = fitting(title, LARGE, WIDTH - 2.0 * EDGE);
        drawing.words((EDGE, 48.0), LARGE, Anchor::Start, theme.ink, &title);
        let subtitle = fitting(self.subtitle, WORDS, WIDTH - 2.0 * EDGE);
        drawing.words(
            (EDGE, 74.0),
            WORDS,
            Anchor::Start,
            theme.ink_soft,
            &subtitle,
        );
    }

    /// Heading and unit to the left of a strip.
    fn heading(&self, drawing: &mut Drawing, top: f64, name: &str, unit: &str) {
        drawing.words(
            (EDGE, top + 20.0),
            WORDS,
            Anchor::Start,
            self.theme.ink,
            name,
        );
        drawing.words(
            (EDGE, top + 37.0),
            SMALL,
            Anchor::Start,
            self.theme.ink_soft,
            unit,
        );
    }

    fn strip(&self, drawing: &mut Drawing, strip: &Strip, top: f64, span: Span) {
        let theme = self.theme;
        drawing.rect(LEFT, top, RIGHT - LEFT, strip.height, 4.0, theme.panel);
        let between = |quantity| self.record.min_max(quantity, span.from_s, span.to_s);
        let found = strip
            .traces
            .iter()
            .filter_map(|(quantity, _)| between(*quantity));
        let Some(found) = found.reduce(MinMax::and) else {
            return;
        };
        let axis = Axis::new(found, strip.unit, strip.with_zero, strip.height);
        let y = |value: f64| top + strip.height * (1.0 - axis.share(value));
        self.heading(drawing, top, strip.name, &axis.unit_words);
        if strip.traces.len() == 1 && strip.with_zero {
            // The band from lowest to highest, and the mean.
            let (high, low) = (y(found.max), y(found.min));
            drawing.rect(
                LEFT,
                high,
                RIGHT - LEFT,
                (low - high).max(0.5),
                0.0,
                theme.plate,
            );
        }
        self.step_lines(drawing, top, strip.height, span);
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
        for (quantity, stroke) in &strip.traces {
            let d = self.trace(*quantity, span, y);
            drawing.path(&d, stroke, "");
        }
        self.aside(drawing, strip, top, y);
    }

    /// What stands to the right of a strip: the phases, or mean and ripple.
    fn aside(&self, drawing: &mut Drawing, strip: &Strip, top: f64, y: impl Fn(f64) -> f64) {
        let theme = self.theme;
        let left = RIGHT + 20.0;
        if strip.traces.len() == 3 {
            let middle = top + strip.height / 2.0;
            for (k, (phase, (_, stroke))) in PHASES.iter().zip(&strip.traces).enumerate() {
                let row = middle + [-24.0, 0.0, 24.0][k];
                drawing.line((left, row), (left + 44.0, row), stroke);
                let at = (left + 58.0, row + 0.36 * WORDS);
                drawing.words(at, WORDS, Anchor::Start, theme.ink, phase_letter(*phase));
            }
            return;
        }
        let of = |key: &str| {
            let figure = self.figures.iter().find(|figure| figure.key == key)?;
            figure
                .number()
                .map(|value| (value, spaced(&figure.shown(3).to_string())))
        };
        let mut row = top + 20.0;
        let mut say = |drawing: &mut Drawing, name: &str, value: &str| {
            drawing.words((left, row), SMALL, Anchor::Start, theme.ink_soft, name);
            drawing.words((left, row + 18.0), WORDS, Anchor::Start, theme.ink, value);
            row += 46.0;
        };
        if strip.name == "torque" {
            if let Some((mean_nm, words)) = of("torque_mean_nm") {
                let stroke = Stroke {
                    colour: theme.ink_soft,
                    width: LINE_THIN,
                    dashes: vec![8.0, 4.0],
                };
                let level = y(mean_nm);
                if level > top && level < top + strip.height {
                    drawing.line((LEFT, level), (RIGHT + 10.0, level), &stroke);
                }
                say(drawing, "mean (broken line)", &words);
            }
            if let Some((_, words)) = of("torque_ripple_pp_nm") {
                say(drawing, "peak to peak (band)", &words);
            }
        } else if let Some((_, words)) = of("mean_speed_rpm") {
            say(drawing, "mean", &words);
        }
    }

    /// A path through first, lowest, highest and last value of each column.
    fn trace(&self, quantity: Quantity, span: Span, y: impl Fn(f64) -> f64) -> String {
        let channel = self.record.channel(quantity);
        let times = self.record.channel(Quantity::Time).values();
        let shown = self.record.between(span.from_s, span.to_s);
        let mut d = String::new();
        let mut go = |x: f64, value: f64| {
            let letter = if d.is_empty() { 'M' } else { 'L' };
            let _ = write!(d, "{letter}{} {}", place(x), place(y(value)));
        };
        #[expect(clippy::cast_precision_loss, reason = "a number of samples")]
        let per_column = shown.len() as f64 / ((RIGHT - LEFT) * COLUMNS_PER_POINT);
        if per_column <= 2.0 {
            for idx in shown {
                go(span.x(times[idx]), channel.values()[idx]);
            }
            return d;
        }
        let mut first = shown.start;
        while first < shown.end {
            let column = ((span.x(times[first]) - LEFT) * COLUMNS_PER_POINT).floor();
            let right = LEFT + (column + 1.0) / COLUMNS_PER_POINT;
            let rest = &times[first..shown.end];
            let n = rest
                .partition_point(|&time_s| span.x(time_s) < right)
                .max(1);
            let range = first..first + n;
            let x = LEFT + (column + 0.5) / COLUMNS_PER_POINT;
            if let Some(found) = channel.min_max(range.clone()) {
                let (begin, end) = (
                    channel.values()[range.start],
                    channel.values()[range.end - 1],
                );
                // The order that makes the shorter way.
                let (early, late) = if begin <= end {
                    (found.min, found.max)
                } else {
                    (found.max, found.min)
                };
                for value in [begin, early, late, end] {
                    go(x, value);
                }
            }
            first = range.end;
        }
        d
    }

    /// The instants in the span where the step changes, and the step from there on.
    fn steps(&self, span: Span) -> Vec<(f64, u8)> {
        let mut step = self.record.gates_at(span.from_s).map(|(step, _)| step);
        let mut found: Vec<(f64, u8)> = step.map(|step| (span.from_s, step)).into_iter().collect();
        for event in self.record.events() {
            if event.time_s > span.from_s && event.time_s < span.to_s && step != Some(event.step) {
                step = Some(event.step);
                found.push((event.time_s, event.step));
            }
        }
        found
    }

    fn step_lines(&self, drawing: &mut Drawing, top: f64, height: f64, span: Span) {
        let stroke = Stroke::solid(self.theme.line, LINE_THIN * 0.5);
        let steps = self.steps(span);
        // More lines than one in four points would be a grey wash that says nothing.
        if steps.len() > 200 {
            return;
        }
        for (time_s, _) in steps.iter().skip(1) {
            let x = span.x(*time_s);
            drawing.line((x, top), (x, top + height), &stroke);
        }
    }

    fn legs(&self, drawing: &mut Drawing, top: f64, span: Span) {
        let theme = self.theme;
        let height = 3.0 * LEG_ROW + 28.0;
        drawing.rect(LEFT, top, RIGHT - LEFT, height, 4.0, theme.panel);
        self.heading(drawing, top, "legs", "what the gates say");
        self.step_lines(drawing, top, height, span);
        for (k, phase) in PHASES.iter().enumerate() {
            #[expect(clippy::cast_precision_loss, reason = "0, 1, 2")]
            let middle = top + 6.0 + LEG_ROW * (k as f64 + 0.5);
            let letter_at = (LEFT - 8.0, middle + 0.36 * WORDS);
            drawing.words(
                letter_at,
                WORDS,
                Anchor::End,
                theme.ink,
                phase_letter(*phase),
            );
            let rail = Stroke::solid(theme.line, LINE_THIN * 0.5);
            drawing.line((LEFT, middle), (RIGHT, middle), &rail);
            let colour = theme.phase(*phase);
            for state in [LegState::High, LegState::Low, LegState::Floating] {
                let pieces = self.pieces(k, state, span);
                bars(drawing, &pieces, state, middle, colour);
            }
        }
        self.step_numbers(drawing, top + 3.0 * LEG_ROW + 22.0, span);
        let left = RIGHT + 20.0;
        for (state, words, row) in [
            (LegState::High, "high", 0.5),
            (LegState::Floating, "floating", 1.5),
            (LegState::Low, "low", 2.5),
        ] {
            let middle = top + 6.0 + LEG_ROW * row;
            bars(
                drawing,
                &[(left, left + 44.0)],
                state,
                middle,
                theme.ink_soft,
            );
            let rail = Stroke::solid(theme.line, LINE_THIN * 0.5);
            drawing.line((left, middle), (left + 44.0, middle), &rail);
            let at = (left + 58.0, middle + 0.36 * WORDS);
            drawing.words(at, WORDS, Anchor::Start, theme.ink, words);
        }
    }

    fn step_numbers(&self, drawing: &mut Drawing, y: f64, span: Span) {
        let theme = self.theme;
        drawing.words((LEFT - 8.0, y), SMALL, Anchor::End, theme.ink_soft, "step");
        let steps = self.steps(span);
        for (k, (time_s, step)) in steps.iter().enumerate() {
            let from = span.x(*time_s);
            let to = steps
                .get(k + 1)
                .map_or(RIGHT, |(next_s, _)| span.x(*next_s));
            if to - from >= 12.0 {
                let at = ((from + to) / 2.0, y);
                drawing.words(at, SMALL, Anchor::Middle, theme.ink_soft, &step.to_string());
            }
        }
    }

    /// Left and right ends of the pieces where a leg is in a state. Pieces too narrow to see
    /// are widened, so that no state disappears, and those that then touch are joined.
    fn pieces(&self, leg: usize, state: LegState, span: Span) -> Vec<(f64, f64)> {
        const NARROWEST: f64 = 0.4;
        let mut found: Vec<(f64, f64)> = Vec::new();
        let mut add = |from_s: f64, to_s: f64| {
            let from = span.x(from_s.max(span.from_s));
            let to = span.x(to_s.min(span.to_s)).max(from + NARROWEST).min(RIGHT);
            match found.last_mut() {
                Some(last) if from - last.1 < NARROWEST => last.1 = last.1.max(to),
                _ => found.push((from, to)),
            }
        };
        let events = self.record.events();
        for (k, event) in events.iter().enumerate() {
            let until_s = events.get(k + 1).map_or(span.to_s, |next| next.time_s);
            let seen = until_s > event.time_s && until_s > span.from_s && event.time_s < span.to_s;
            if seen && event.legs[leg] == state {
                add(event.time_s, until_s);
            }
        }
        found
    }

    fn time_axis(&self, drawing: &mut Drawing, y: f64, span: Span) {
        let theme = self.theme;
        let axis = Axis::of_time(span.from_s, span.to_s);
        for (time_s, words) in &axis.ticks {
            let x = span.x(*time_s);
            let stroke = Stroke::solid(theme.ink_soft, LINE_THIN);
            drawing.line((x, y + 2.0), (x, y + 7.0), &stroke);
            drawing.words((x, y + 21.0), SMALL, Anchor::Middle, theme.ink_soft, words);
        }
        let words = format!("time, {}", axis.unit_words);
        drawing.words((EDGE, y + 21.0), WORDS, Anchor::Start, theme.ink, &words);
    }

    /// Six large figures and six small ones on a plate.
    fn plate(&self, drawing: &mut Drawing, top: f64) {
        const LARGE_KEYS: [(&str, &str); 6] = [
            ("mean_speed_rpm", "mean speed"),
            ("torque_mean_nm", "mean torque"),
            ("torque_ripple_pp_nm", "torque ripple"),
            ("supply_current_mean_a", "supply current"),
            ("shaft_power_w", "shaft power"),
            ("efficiency", "efficiency"),
        ];
        const SMALL_KEYS: [(&str, &str); 6] = [
            ("electrical_frequency_hz", "electrical frequency"),
            ("phase_current_rms_a", "phase current, RMS"),
            ("phase_current_peak_a", "phase current, peak"),
            ("copper_loss_w", "copper loss"),
            ("bridge_loss_w", "bridge loss"),
            ("energy_residual", "energy residual"),
        ];
        let theme = self.theme;
        drawing.rect(
            EDGE,
            top + 12.0,
            WIDTH - 2.0 * EDGE,
            PLATE - 12.0,
            8.0,
            theme.panel,
        );
        let column = (WIDTH - 2.0 * EDGE) / 6.0;
        let said = |key: &str, digits| {
            let figure = self.figures.iter().find(|figure| figure.key == key);
            figure.map_or_else(
                || "–".to_owned(),
                |figure| spaced(&figure.shown(digits).to_string()),
            )
        };
        let mut x = EDGE + 20.0;
        for ((large, large_name), (small, small_name)) in LARGE_KEYS.into_iter().zip(SMALL_KEYS) {
            drawing.words(
                (x, top + 42.0),
                SMALL,
                Anchor::Start,
                theme.ink_soft,
                large_name,
            );
            drawing.words(
                (x, top + 72.0),
                LARGE,
                Anchor::Start,
                theme.ink,
                &said(large, 3),
            );
            drawing.words(
                (x, top + 108.0),
                SMALL,
                Anchor::Start,
                theme.ink_soft,
                small_name,
            );
            let digits = if small == "energy_residual" { 1 } else { 3 };
            drawing.words(
                (x, top + 128.0),
                HEADING,
                Anchor::Start,
                theme.ink,
                &said(small, digits),
            );
            x += column;
        }
        let kind = said("window_kind", 3);
        let words = format!("steady figures over {kind} at the end of the run");
        let at = (WIDTH - EDGE - 20.0, top + 152.0);
        drawing.words(at, SMALL, Anchor::End, theme.ink_soft, &words);
    }
}

/// Bars of a leg's state about the middle of its row: high above, low below, floating open and
/// hatched in the middle.
fn bars(
    drawing: &mut Drawing,
    pieces: &[(f64, f64)],
    state: LegState,
    middle: f64,
    colour: Colour,
) {
    const REACH: f64 = 13.0;
    const HALF_FLOATING: f64 = 3.0;
    let (top, bottom) = match state {
        LegState::High => (middle - REACH, middle),
        LegState::Low => (middle, middle + REACH),
        LegState::Floating => (middle - HALF_FLOATING, middle + HALF_FLOATING),
    };
    let mut d = String::new();
    let mut hatch = String::new();
    for &(from, to) in pieces {
        let (x, right) = (place(from), place(to));
        let (y, low) = (place(top), place(bottom));
        let _ = write!(d, "M{x} {y}H{right}V{low}H{x}Z");
        // Strokes from lower left to upper right, on one grid for all bars.
        const PITCH: f64 = 5.0;
        let mut stroke_x = (from / PITCH).ceil() * PITCH;
        let rise = bottom - top;
        while state == LegState::Floating && stroke_x + rise <= to {
            let (x1, x2) = (place(stroke_x), place(stroke_x + rise));
            let _ = write!(hatch, "M{x1} {low}L{x2} {y}");
            stroke_x += PITCH;
        }
    }
    if d.is_empty() {
        return;
    }
    if state == LegState::Floating {
        let thin = Stroke::solid(colour, LINE_THIN * 0.75);
        drawing.path(&d, &thin, "");
        if !hatch.is_empty() {
            drawing.path(&hatch, &thin, "");
        }
    } else {
        drawing.raw(&format!(
            "<path d=\"{d}\" fill=\"{}\"/>",
            super::picture::hex(colour)
        ));
    }
}

/// A thin space between number and unit.
fn spaced(words: &str) -> String {
    words.replacen(' ', "\u{2009}", 1)
}

/// Words cut to a width in points, for type of a size; a capital is 0.7 of the size wide at
/// most, an ordinary letter half of it.
pub(in crate::export) fn fitting(words: &str, size: f64, width: f64) -> String {
    let mut used = 0.0;
    let mut kept = String::new();
    for character in words.chars() {
        used += size
            * if character.is_lowercase() || !character.is_alphabetic() {
                0.55
            } else {
                0.72
            };
        if used > width - size {
            kept.truncate(kept.trim_end().len());
            kept.push('…');
            break;
        }
        kept.push(character);
    }
    kept
}

#[cfg(test)]
mod tests;
