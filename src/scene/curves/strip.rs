//! One strip: its grid, its curve, its marks.

use super::{LINE, MARK_ROWS, Mark, PANEL, Sample, Strip};
use crate::scene::scale::Scale;
use crate::scene::{
    Align, Colour, Dash, Edge, LINE_THIN, Point, Scene, Shape, TYPE_POINTS, Theme, Width, at, path,
};

/// Widths of a double line: all of it, and the gap in it.
const DOUBLE: [f64; 2] = [3.2, 1.2];
/// Dashes of one that is only about right.
const ABOUT: Dash = Dash {
    on: 5.0,
    period: 11.0,
    offset: 0.0,
};
/// Radius of a sign.
const SIGN: f64 = 4.5;

/// Where the strips of a panel lie.
#[derive(Clone, Copy)]
pub(super) struct Frame<'a> {
    pub(super) theme: &'a Theme,
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) top: f64,
    pub(super) range: [f64; 2],
}

impl Frame<'_> {
    fn x(&self, value: f64) -> f64 {
        let [low, high] = self.range;
        self.left + (self.right - self.left) * (value - low) / (high - low).max(1e-300)
    }

    fn words(&self, scene: &mut Scene, place: Point, words: &str, align: Align, colour: Colour) {
        let size = Width::Points(TYPE_POINTS[0]);
        scene.push(Shape::text(place, words, size, align, colour));
    }

    /// Marks of the common axis.
    fn x_scale(&self) -> Scale {
        Scale::round(self.range[0], self.range[1], 8)
    }

    /// Names of the marks above the strips, in as few rows as keep them apart.
    pub(super) fn names(&self, scene: &mut Scene, marks: &[Mark]) {
        let mut taken: Vec<Vec<[f64; 2]>> = vec![Vec::new(); MARK_ROWS];
        for mark in marks.iter().filter(|mark| self.shows(mark)) {
            #[expect(clippy::cast_precision_loss, reason = "a short name")]
            let half = 3.2 * mark.name.chars().count() as f64;
            let least = self.right - (PANEL - 90.0);
            let centre = self
                .x(mark.x)
                .clamp(least + half, (self.right - half).max(least + half));
            let span = [centre - half - 6.0, centre + half + 6.0];
            let free = |row: &Vec<[f64; 2]>| row.iter().all(|o| span[1] < o[0] || span[0] > o[1]);
            let Some(row) = taken.iter().position(free) else {
                continue;
            };
            taken[row].push(span);
            #[expect(clippy::cast_precision_loss, reason = "a few rows")]
            let y = self.top + (row as f64 + 0.5) * LINE;
            self.words(
                scene,
                at(centre, y),
                mark.name,
                Align::Centre,
                self.theme.ink,
            );
            // from the name to the strips
            let foot = at(self.x(mark.x), self.top);
            let from = at(self.x(mark.x), y - 0.5 * LINE);
            let thin = Width::Points(LINE_THIN);
            scene.push(Shape::line(from, foot, thin, self.theme.line));
        }
    }

    fn shows(&self, mark: &Mark) -> bool {
        mark.x >= self.range[0] && mark.x <= self.range[1]
    }

    /// Grid, name, limit and curve.
    pub(super) fn strip(
        &self,
        scene: &mut Scene,
        strip: &Strip,
        scale: &Scale,
        [low, high]: [f64; 2],
    ) {
        let theme = self.theme;
        let thin = Width::Points(LINE_THIN);
        let y = |value: f64| low + (high - low) * scale.share(value);
        let name = at(self.left, high + 11.0);
        self.words(scene, name, &strip.name, Align::Left, theme.ink);
        for mark in scale.marks() {
            let (from, to) = (at(self.left, y(mark)), at(self.right, y(mark)));
            scene.push(Shape::line(from, to, thin, theme.line));
            let place = at(self.left - 8.0, y(mark));
            self.words(
                scene,
                place,
                &scale.words(mark),
                Align::Right,
                theme.ink_soft,
            );
        }
        for mark in self.x_scale().marks() {
            let x = self.x(mark);
            if x <= self.right + 0.5 {
                scene.push(Shape::line(at(x, low), at(x, high), thin, theme.line));
            }
        }
        for (piece, about) in pieces(&strip.curve, self.range) {
            let points: Vec<Point> = piece.iter().map(|s| at(self.x(s.x), y(s.y))).collect();
            self.double_line(scene, &points, about);
        }
        if let Some((limit, words)) = &strip.limit
            && y(*limit) < high
        {
            self.limit(scene, y(*limit), words);
        }
    }

    /// The line of a limit with its sign: a triangle, since no typeface is sure to have one.
    fn limit(&self, scene: &mut Scene, y: f64, words: &str) {
        let theme = self.theme;
        let thin = Width::Points(1.25 * LINE_THIN);
        scene.push(Shape::line(
            at(self.left, y),
            at(self.right, y),
            thin,
            theme.caution,
        ));
        #[expect(clippy::cast_precision_loss, reason = "a few words")]
        let width = 6.2 * words.chars().count() as f64 + 24.0;
        let [left, middle] = [self.right - width, y + 9.0];
        let plate = [at(left - 3.0, y + 2.0), at(self.right, y + 17.0)];
        scene.push(Shape::rect(plate[0], plate[1], 3.0, theme.plate, None));
        let [a, b] = [at(left + 2.0, middle - 5.0), at(left + 14.0, middle - 5.0)];
        let tip = at(left + 8.0, middle + 5.5);
        scene.push(Shape::triangle(a, b, tip, theme.caution, None));
        let line = Width::Points(1.3);
        let [from, to] = [at(left + 8.0, middle + 1.6), at(left + 8.0, middle - 0.9)];
        scene.push(Shape::line(from, to, line, theme.plate));
        let dot = at(left + 8.0, middle - 3.2);
        scene.push(Shape::disc(dot, 0.8, theme.plate, None));
        self.words(
            scene,
            at(self.right - 4.0, middle),
            words,
            Align::Right,
            theme.caution,
        );
    }

    /// A closed form: two thin lines, dashed where it is only about right.
    pub(super) fn double_line(&self, scene: &mut Scene, points: &[Point], about: bool) {
        let dash = about.then_some(ABOUT);
        for (width, colour) in DOUBLE.into_iter().zip([self.theme.ink, self.theme.panel]) {
            for shape in path(points, Width::Points(width), colour, dash) {
                scene.push(shape);
            }
        }
    }

    /// The marked points of a strip, each on a line through all strips.
    pub(super) fn marks(
        &self,
        scene: &mut Scene,
        marks: &[Mark],
        row: usize,
        scale: &Scale,
        [low, high]: [f64; 2],
    ) {
        for mark in marks.iter().filter(|mark| self.shows(mark)) {
            let x = self.x(mark.x);
            if !mark.simulated {
                let thin = Width::Points(LINE_THIN);
                // through the name of the strip too, so that the line is one
                let above = at(x, high + super::NAME);
                scene.push(Shape::line(at(x, low), above, thin, self.theme.ink_soft));
            }
            if let Some(value) = mark.values.get(row) {
                let y = low + (high - low) * scale.share(*value);
                self.sign(scene, at(x, y), mark.simulated);
            }
        }
    }

    /// A ring for what was predicted, a disc for what was simulated.
    pub(super) fn sign(&self, scene: &mut Scene, place: Point, simulated: bool) {
        let theme = self.theme;
        if simulated {
            scene.push(Shape::disc(place, 0.6 * SIGN, theme.ink, None));
            return;
        }
        let edge = Edge {
            width: Width::Points(1.5),
            colour: theme.ink,
        };
        scene.push(Shape::disc(place, SIGN, theme.panel, Some(edge)));
    }

    /// Marks and words of the axis.
    pub(super) fn axis(&self, scene: &mut Scene, name: &str, bottom: f64) {
        let scale = self.x_scale();
        for mark in scale.marks() {
            let x = self.x(mark);
            if x <= self.right + 0.5 {
                let place = at(x, bottom - 11.0);
                self.words(
                    scene,
                    place,
                    &scale.words(mark),
                    Align::Centre,
                    self.theme.ink_soft,
                );
            }
        }
        let place = at(self.right, bottom - 11.0 - LINE);
        self.words(scene, place, name, Align::Right, self.theme.ink_soft);
    }
}

/// The curve in pieces that are all right or all only about; neighbours share a point.
fn pieces(curve: &[Option<Sample>], [low, high]: [f64; 2]) -> Vec<(Vec<Sample>, bool)> {
    let mut pieces: Vec<(Vec<Sample>, bool)> = Vec::new();
    let mut before: Option<Sample> = None;
    for sample in curve {
        let inside = sample.filter(|s| s.x >= low && s.x <= high && s.y.is_finite());
        if let (Some(sample), Some(before)) = (inside, before) {
            let about = sample.about || before.about;
            match pieces.last_mut() {
                Some((piece, same)) if *same == about && piece.last() == Some(&before) => {
                    piece.push(sample);
                }
                _ => pieces.push((vec![before, sample], about)),
            }
        }
        before = inside;
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_meet_and_gaps_stay() {
        let sample = |x: f64, about| Some(Sample { x, y: x, about });
        let curve = [
            sample(0.0, false),
            sample(1.0, false),
            sample(2.0, true),
            sample(3.0, true),
            None,
            sample(5.0, false),
            sample(6.0, false),
            sample(9.0, false),
        ];
        let found: Vec<(Vec<f64>, bool)> = pieces(&curve, [0.0, 7.0])
            .into_iter()
            .map(|(piece, about)| (piece.iter().map(|s| s.x).collect(), about))
            .collect();
        assert_eq!(
            found,
            [
                (vec![0.0, 1.0], false),
                (vec![1.0, 2.0, 3.0], true),
                (vec![5.0, 6.0], false)
            ]
        );
    }
}
