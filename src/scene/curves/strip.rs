//! One strip: its grid, its curve, its marks.

use super::{LINE, MARK_ROWS, Mark, Sample, Strip};
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
/// How far inside the strips a name of a mark begins.
const NAMES_IN: f64 = 6.0;
/// Radius of a sign.
const SIGN: f64 = 4.5;

/// About how wide words of the smallest type are, in points.
pub(super) fn width_of(words: &str) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a few words")]
    let n = words.chars().count() as f64;
    5.2 * n
}

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

    /// Names of predicted marks above the strips, in as few rows as keep them apart.
    pub(super) fn names(&self, scene: &mut Scene, marks: &[Mark]) {
        let mut taken: Vec<Vec<[f64; 2]>> = vec![Vec::new(); MARK_ROWS];
        let mut placed = Vec::new();
        for mark in marks
            .iter()
            .filter(|mark| self.shows(mark) && !mark.simulated)
        {
            let half = 0.5 * width_of(mark.name);
            let least = self.left + NAMES_IN;
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
            let (from, foot) = (at(self.x(mark.x), y), at(self.x(mark.x), self.top));
            let thin = Width::Points(LINE_THIN);
            scene.push(Shape::line(from, foot, thin, self.theme.ink_soft));
            placed.push((at(centre, y), half, mark.name));
        }
        // on plates, so that no line goes through a name
        for (place, half, name) in placed {
            let reach = at(half + 2.0, 7.5);
            let plate = Shape::rect(place - reach, place + reach, 0.0, self.theme.panel, None);
            scene.push(plate);
            self.words(scene, place, name, Align::Centre, self.theme.ink);
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
        if let Some((limit, _)) = &strip.limit
            && y(*limit) < high
        {
            let bold = Width::Points(1.25 * LINE_THIN);
            let (from, to) = (at(self.left, y(*limit)), at(self.right, y(*limit)));
            scene.push(Shape::line(from, to, bold, theme.caution));
        }
    }

    /// Name and limit in words, on plates above the lines of the marks.
    pub(super) fn labels(
        &self,
        scene: &mut Scene,
        strip: &Strip,
        scale: &Scale,
        [low, high]: [f64; 2],
    ) {
        let middle = at(self.left, high + 11.0);
        let (from, to) = (
            middle - at(1.0, 8.0),
            middle + at(width_of(&strip.name), 8.0),
        );
        scene.push(Shape::rect(from, to, 0.0, self.theme.panel, None));
        self.words(scene, middle, &strip.name, Align::Left, self.theme.ink);
        if let Some((limit, words)) = &strip.limit {
            let y = low + (high - low) * scale.share(*limit);
            if y < high {
                self.limit(scene, y, words);
            }
        }
    }

    /// What a limit is, with a sign: a triangle, since no typeface is sure to have one.
    fn limit(&self, scene: &mut Scene, y: f64, words: &str) {
        let theme = self.theme;
        let left = self.right - 1.1 * width_of(words) - 26.0;
        let middle = y + 10.0;
        let plate = [at(left - 3.0, y + 2.0), at(self.right, y + 18.0)];
        scene.push(Shape::rect(plate[0], plate[1], 3.0, theme.plate, None));
        let [a, b] = [at(left + 2.0, middle - 5.0), at(left + 14.0, middle - 5.0)];
        let tip = at(left + 8.0, middle + 5.5);
        scene.push(Shape::triangle(a, b, tip, theme.caution, None));
        let line = Width::Points(1.3);
        let [from, to] = [at(left + 8.0, middle + 1.6), at(left + 8.0, middle - 0.9)];
        scene.push(Shape::line(from, to, line, theme.plate));
        let dot = at(left + 8.0, middle - 3.2);
        scene.push(Shape::disc(dot, 0.8, theme.plate, None));
        let place = at(self.right - 3.0, middle);
        self.words(scene, place, words, Align::Right, theme.caution);
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

    /// The lines of predicted marks through a strip and its name.
    pub(super) fn mark_lines(&self, scene: &mut Scene, marks: &[Mark], [low, high]: [f64; 2]) {
        for mark in marks
            .iter()
            .filter(|mark| self.shows(mark) && !mark.simulated)
        {
            let (from, to) = (
                at(self.x(mark.x), low),
                at(self.x(mark.x), high + super::NAME),
            );
            let thin = Width::Points(LINE_THIN);
            scene.push(Shape::line(from, to, thin, self.theme.ink_soft));
        }
    }

    /// The marked points of a strip.
    pub(super) fn marks(
        &self,
        scene: &mut Scene,
        marks: &[Mark],
        row: usize,
        scale: &Scale,
        [low, high]: [f64; 2],
    ) {
        for mark in marks.iter().filter(|mark| self.shows(mark)) {
            if let Some(value) = mark.values.get(row) {
                let y = low + (high - low) * scale.share(*value);
                self.sign(scene, at(self.x(mark.x), y), mark.simulated);
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
