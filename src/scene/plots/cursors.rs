//! Cursors A and B: two lines, what every curve is worth there, and the differences.

use super::axis::Axis;
use super::{HEAD, Picture, Row};
use crate::record::{Mark, Trace};
use crate::scene::scale::three_digits;
use crate::scene::{Align, Dash, LINE_THIN, Point, Scene, Shape, TYPE_POINTS, Theme, Width, at};

/// Width of a plate of values, in points.
const PLATE: f64 = 62.0;
/// From line to line of a plate.
const LINE: f64 = 12.0;

impl Picture<'_> {
    pub(super) fn cursors(&self, scene: &mut Scene, top: f64, bottom: f64) {
        let cursors = self.view.cursors;
        if cursors.iter().all(Option::is_none) {
            return;
        }
        for (letter, cursor) in ["A", "B"].into_iter().zip(cursors) {
            let Some(share) = cursor.map(|place| self.view.axis.share(place)) else {
                continue;
            };
            if !(0.0..=1.0).contains(&share) {
                continue;
            }
            let x = self.x(share);
            scene.push(Shape::Line {
                from: at(x, bottom),
                to: at(x, top + 4.0),
                width: Width::Points(LINE_THIN),
                colour: self.theme.ink,
                dash: Some(Dash {
                    on: 3.0,
                    period: 7.0,
                    offset: 0.0,
                }),
            });
            // The handle, by which it is drawn along.
            let (low, high) = (at(x - 7.0, top + 3.0), at(x + 7.0, top + 17.0));
            scene.push(Shape::rect(low, high, 3.0, self.theme.ink, None));
            scene.push(Shape::text(
                low.towards(high, 0.5),
                letter,
                Width::Points(TYPE_POINTS[0]),
                Align::Centre,
                self.theme.ground,
            ));
        }
        let words = head_words(&self.view.axis, cursors, |place| self.instant(place));
        let head_at = at(self.left, -0.5 * HEAD);
        self.label(scene, head_at, words, Align::Left);
    }

    /// The instant at a place of the axis: on a folded one, that of the last turn there.
    fn instant(&self, place: f64) -> Option<f64> {
        self.mark_at(place).map(|mark| mark.time_s)
    }

    fn mark_at(&self, place: f64) -> Option<Mark> {
        match self.view.axis {
            Axis::Time { .. } => {
                let [from_s, to_s] = self.view.tape.range_s()?;
                (from_s..=to_s)
                    .contains(&place)
                    .then(|| self.view.tape.mark(place))
            }
            Axis::Angle { .. } => {
                let share = self.view.axis.share(place);
                let n_columns = self.sweeps.first()?.len().saturating_sub(1);
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "a column, cut to those that are there"
                )]
                let column = (share * super::count(n_columns)).round() as usize;
                let newest_first = self.sweeps.iter().rev();
                newest_first
                    .filter_map(|sweep| *sweep.get(column.min(n_columns))?)
                    .next()
            }
        }
    }

    /// What the curves of a row are worth at the cursors; called with the row's place.
    pub(super) fn cursor_values(&self, scene: &mut Scene, row: Row, top: f64, bottom: f64) {
        let marks = self
            .view
            .cursors
            .map(|cursor| cursor.and_then(|place| self.mark_at(place)));
        let value = |trace: Trace, mark: Option<Mark>| {
            Some(self.view.tape.value_of(trace, mark?)? * row.per_si())
        };
        // Plates lie on the far sides of the two lines.
        let b_is_left = matches!(self.view.cursors, [Some(a), Some(b)] if b < a);
        for (k, mark) in marks.iter().enumerate() {
            let Some(share) = self.view.cursors[k].map(|place| self.view.axis.share(place)) else {
                continue;
            };
            if mark.is_none() || !(0.0..=1.0).contains(&share) {
                continue;
            }
            let to_left = (k == 0) != b_is_left;
            let x = self.x(share);
            let fits_left = x - PLATE - 4.0 > self.left;
            let fits_right = x + PLATE + 4.0 < self.right;
            let left = if to_left && fits_left || !fits_right {
                x - PLATE - 4.0
            } else {
                x + 4.0
            };
            let lines: Vec<(String, crate::scene::Colour)> = row
                .curves()
                .iter()
                .filter_map(|curve| {
                    let words = three_digits(value(curve.trace, *mark)?);
                    Some((format!("{} {words}", curve.short), curve.colour(self.theme)))
                })
                .collect();
            plate(scene, at(left, top - 2.0), bottom, &lines, self.theme);
        }
    }

    /// By how much each curve of a row is higher at B than at A.
    pub(super) fn differences(&self, row: Row) -> Option<String> {
        let [a, b] = self.view.cursors;
        let (a, b) = (self.mark_at(a?)?, self.mark_at(b?)?);
        let value = |trace: Trace, mark| self.view.tape.value_of(trace, mark);
        let differences: Vec<String> = row
            .curves()
            .iter()
            .filter_map(|curve| {
                let difference = (value(curve.trace, b)? - value(curve.trace, a)?) * row.per_si();
                Some(format!("{} {}", curve.short, three_digits(difference)))
            })
            .collect();
        (!differences.is_empty()).then(|| format!("B − A  {}", differences.join("  ")))
    }
}

/// Lines of values on a plate; as many as the row is high enough for.
fn plate(
    scene: &mut Scene,
    left_top: Point,
    bottom: f64,
    lines: &[(String, crate::scene::Colour)],
    theme: &Theme,
) {
    let n_lines = lines
        .iter()
        .scan(left_top.y - 2.0, |y, _| {
            *y -= LINE;
            Some(*y)
        })
        .take_while(|y| *y >= bottom - 1.0)
        .count();
    if n_lines == 0 {
        return;
    }
    let low = at(left_top.x, left_top.y - LINE * super::count(n_lines) - 2.0);
    let high = at(left_top.x + PLATE, left_top.y);
    scene.push(Shape::rect(
        low,
        high,
        3.0,
        theme.plate.with_alpha(240),
        None,
    ));
    for (k, (words, colour)) in lines.iter().take(n_lines).enumerate() {
        scene.push(Shape::text(
            at(
                high.x - 5.0,
                left_top.y - LINE * (super::count(k) + 0.5) - 1.0,
            ),
            words.trim_start(),
            Width::Points(TYPE_POINTS[0]),
            Align::Right,
            *colour,
        ));
    }
}

/// Where the cursors stand, and how far apart.
fn head_words(
    axis: &Axis,
    cursors: [Option<f64>; 2],
    instant: impl Fn(f64) -> Option<f64>,
) -> String {
    let place_words = |place: f64| match axis {
        Axis::Time { .. } => format!("{:.4} ms", place * 1e3),
        Axis::Angle { .. } => format!("{place:.1}°"),
    };
    let mut words: Vec<String> = ["A", "B"]
        .into_iter()
        .zip(cursors)
        .filter_map(|(letter, cursor)| Some(format!("{letter} {}", place_words(cursor?))))
        .collect();
    if let [Some(a), Some(b)] = cursors {
        let between_s = match axis {
            Axis::Time { .. } => Some(b - a),
            Axis::Angle { .. } => {
                words.push(format!("B − A {:.1}°", b - a).replace("A -", "A −"));
                instant(b).zip(instant(a)).map(|(b, a)| b - a)
            }
        };
        if let Some(between_s) = between_s {
            words.push(format!("Δt {}", time_words(between_s)));
            if between_s != 0.0 {
                words.push(format!("1/Δt {}", frequency_words(1.0 / between_s.abs())));
            }
        }
    }
    words.join("    ")
}

/// A time with three digits in the unit that suits it.
fn time_words(time_s: f64) -> String {
    let size = time_s.abs();
    let (per_s, unit) = if size < 1e-6 {
        (1e9, "ns")
    } else if size < 1e-3 {
        (1e6, "µs")
    } else if size < 1.0 {
        (1e3, "ms")
    } else {
        (1.0, "s")
    };
    format!("{} {unit}", three_digits(time_s * per_s))
}

fn frequency_words(frequency_hz: f64) -> String {
    let (per_hz, unit) = if frequency_hz >= 1e6 {
        (1e-6, "MHz")
    } else if frequency_hz >= 1e3 {
        (1e-3, "kHz")
    } else {
        (1.0, "Hz")
    };
    format!("{} {unit}", three_digits(frequency_hz * per_hz))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_head_says_both_places_and_the_difference() {
        let axis = Axis::Time { from: 0.0, to: 1.0 };
        let cursors = [Some(0.2123), Some(0.2125)];
        assert_eq!(
            head_words(&axis, cursors, Some),
            "A 212.3000 ms    B 212.5000 ms    Δt 200 µs    1/Δt 5.00 kHz"
        );
        assert_eq!(head_words(&axis, [None, Some(0.1)], Some), "B 100.0000 ms");
        let axis = Axis::Angle {
            from: 0.0,
            to: 360.0,
            turns: 1,
        };
        let words = head_words(&axis, [Some(90.0), Some(30.0)], |deg| {
            Some(deg / 360.0 / 700.0)
        });
        assert_eq!(
            words,
            "A 90.0°    B 30.0°    B − A −60.0°    Δt −238 µs    1/Δt 4.20 kHz"
        );
    }
}
