//! Plain shapes: what a painter on the GPU and the SVG writer both draw.

use super::theme::Colour;

/// A full turn in rad.
pub const TURN: f64 = std::f64::consts::TAU;

/// A place in the bench plane: x to the right, y up, in bench units.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Up.
    pub y: f64,
}

/// Makes a [`Point`].
#[must_use]
pub const fn at(x: f64, y: f64) -> Point {
    Point { x, y }
}

impl Point {
    /// The point at `radius` from the origin in the direction `angle_rad`, counter-clockwise
    /// from the x axis.
    #[must_use]
    pub fn polar(radius: f64, angle_rad: f64) -> Self {
        at(radius * libm::cos(angle_rad), radius * libm::sin(angle_rad))
    }

    /// The point `share` of the way to `other`.
    #[must_use]
    pub fn towards(self, other: Self, share: f64) -> Self {
        self + (other - self) * share
    }

    /// Distance from the origin.
    #[must_use]
    pub fn length(self) -> f64 {
        libm::hypot(self.x, self.y)
    }

    /// The same direction with length 1; the x axis for the origin.
    #[must_use]
    pub fn unit(self) -> Self {
        let length = self.length();
        if length > 0.0 {
            self * (1.0 / length)
        } else {
            at(1.0, 0.0)
        }
    }

    /// Turned a quarter turn counter-clockwise.
    #[must_use]
    pub const fn left(self) -> Self {
        at(-self.y, self.x)
    }

    /// z of the cross product: positive where `other` is counter-clockwise of `self`.
    #[must_use]
    pub const fn cross(self, other: Self) -> f64 {
        self.x * other.y - self.y * other.x
    }
}

impl std::ops::Add for Point {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        at(self.x + other.x, self.y + other.y)
    }
}

impl std::ops::Sub for Point {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        at(self.x - other.x, self.y - other.y)
    }
}

impl std::ops::Mul<f64> for Point {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        at(self.x * factor, self.y * factor)
    }
}

/// A length that either grows with the picture or keeps its size on the screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Width {
    /// Bench units: grows when the picture is enlarged.
    Bench(f64),
    /// Points of the screen (1/72 inch in print): the same at every zoom.
    Points(f64),
}

/// The line round a filled shape, centred on its outline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// How wide.
    pub width: Width,
    /// Its colour.
    pub colour: Colour,
}

/// Dashes along a line, with round ends, in bench units from the line's start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dash {
    /// Length of a dash without its round ends; 0 draws dots.
    pub on: f64,
    /// From the start of one dash to the start of the next; above 0.
    pub period: f64,
    /// Where the first dash starts; let it grow and the dashes run along the line.
    pub offset: f64,
}

/// How a text sits at its anchor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    /// The anchor is the left end of the text.
    Left,
    /// The anchor is the middle.
    Centre,
    /// The anchor is the right end.
    Right,
}

/// Words at a place; the middle of their height is on the anchor.
#[derive(Clone, Debug, PartialEq)]
pub struct Text {
    /// Where.
    pub anchor: Point,
    /// What.
    pub words: String,
    /// Height of the type. Type that comes out below 7 points is left out: it could not be read.
    pub size: Width,
    /// Which end of the words the anchor holds.
    pub align: Align,
    /// Its colour.
    pub colour: Colour,
}

/// Least height of type that is drawn, in points.
pub const LEAST_TYPE_POINTS: f64 = 7.0;

/// Anything that can be drawn. Later shapes cover earlier ones; texts come above all shapes.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A light that fades from its centre to nothing at `radius`.
    Glow {
        /// Middle.
        centre: Point,
        /// Where it has faded.
        radius: f64,
        /// Colour in the middle.
        colour: Colour,
    },
    /// A piece of a ring, or a whole ring or disc, with rounded corners.
    RingSector {
        /// Middle of the ring.
        centre: Point,
        /// Inner radius; 0: a disc or a piece of cake.
        inner: f64,
        /// Outer radius.
        outer: f64,
        /// Direction of the sector's middle in rad.
        middle_rad: f64,
        /// How far it reaches in all, in rad; a turn or more: the whole ring.
        sweep_rad: f64,
        /// Radius of the corners.
        corner: f64,
        /// Inside.
        fill: Colour,
        /// Outline.
        edge: Option<Edge>,
    },
    /// A convex shape of three or four corners, counter-clockwise; a triangle repeats its last.
    Quad {
        /// The corners, before rounding.
        corners: [Point; 4],
        /// Radius of the corners.
        corner: f64,
        /// Inside.
        fill: Colour,
        /// Outline.
        edge: Option<Edge>,
    },
    /// A straight line with round ends.
    Line {
        /// Start.
        from: Point,
        /// End.
        to: Point,
        /// How wide.
        width: Width,
        /// Its colour.
        colour: Colour,
        /// Dashes; `None`: unbroken.
        dash: Option<Dash>,
    },
    /// A part of a circle's line with round ends.
    Arc {
        /// Middle of the circle.
        centre: Point,
        /// Radius of the line's middle.
        radius: f64,
        /// Direction where it starts, in rad.
        start_rad: f64,
        /// How far it goes in rad; positive is counter-clockwise.
        sweep_rad: f64,
        /// How wide.
        width: Width,
        /// Its colour.
        colour: Colour,
        /// Dashes; `None`: unbroken.
        dash: Option<Dash>,
    },
    /// An arrow with a triangular head, its tip at `to`.
    Arrow {
        /// Tail.
        from: Point,
        /// Tip.
        to: Point,
        /// Width of the shaft in bench units.
        width: f64,
        /// Width of the head in bench units; it is as long as it is wide, or as the arrow.
        head: f64,
        /// Inside.
        fill: Colour,
        /// Outline.
        edge: Option<Edge>,
    },
    /// A curve over equal columns, each from the least to the greatest value in it.
    Trace {
        /// The x of the first column.
        left: f64,
        /// From column to column.
        column: f64,
        /// Least and greatest y of each column.
        ranges: Vec<[f64; 2]>,
        /// How wide the line is.
        width: Width,
        /// Its colour.
        colour: Colour,
    },
    /// Words.
    Text(Text),
}

impl Shape {
    /// A filled disc.
    #[must_use]
    pub const fn disc(centre: Point, radius: f64, fill: Colour, edge: Option<Edge>) -> Self {
        Self::ring(centre, 0.0, radius, fill, edge)
    }

    /// A filled whole ring.
    #[must_use]
    pub const fn ring(
        centre: Point,
        inner: f64,
        outer: f64,
        fill: Colour,
        edge: Option<Edge>,
    ) -> Self {
        let (middle_rad, sweep_rad, corner) = (0.0, TURN, 0.0);
        Self::RingSector {
            centre,
            inner,
            outer,
            middle_rad,
            sweep_rad,
            corner,
            fill,
            edge,
        }
    }

    /// An upright rectangle between two opposite corners.
    #[must_use]
    pub fn rect(low: Point, high: Point, corner: f64, fill: Colour, edge: Option<Edge>) -> Self {
        let corners = [low, at(high.x, low.y), high, at(low.x, high.y)];
        Self::Quad {
            corners,
            corner,
            fill,
            edge,
        }
    }

    /// A triangle, counter-clockwise.
    #[must_use]
    pub const fn triangle(a: Point, b: Point, c: Point, fill: Colour, edge: Option<Edge>) -> Self {
        Self::Quad {
            corners: [a, b, c, c],
            corner: 0.0,
            fill,
            edge,
        }
    }

    /// An unbroken straight line.
    #[must_use]
    pub const fn line(from: Point, to: Point, width: Width, colour: Colour) -> Self {
        Self::Line {
            from,
            to,
            width,
            colour,
            dash: None,
        }
    }

    /// Words in the middle of their anchor.
    #[must_use]
    pub fn text(
        anchor: Point,
        words: impl Into<String>,
        size: Width,
        align: Align,
        colour: Colour,
    ) -> Self {
        Self::Text(Text {
            anchor,
            words: words.into(),
            size,
            align,
            colour,
        })
    }
}

/// Lines along a path of several points; dashes run on round the corners.
#[must_use]
pub fn path(points: &[Point], width: Width, colour: Colour, dash: Option<Dash>) -> Vec<Shape> {
    let mut gone = 0.0;
    points
        .windows(2)
        .map(|pair| {
            let (from, to) = (pair[0], pair[1]);
            let dash = dash.map(|dash| Dash {
                offset: dash.offset - gone,
                ..dash
            });
            gone += (to - from).length();
            Shape::Line {
                from,
                to,
                width,
                colour,
                dash,
            }
        })
        .collect()
}

/// A convex shape moved inwards by `inset` on every side: its distinct corners, in order.
///
/// Rounding a corner with a radius is the same as insetting by it and growing by it again; both
/// the painter and the SVG writer do that with what comes back. An inset too large for the
/// shape is made as large as the shape bears.
#[must_use]
pub fn inset_corners(corners: &[Point; 4], inset: f64) -> (Vec<Point>, f64) {
    let mut distinct: Vec<Point> = Vec::with_capacity(4);
    for &corner in corners {
        if distinct
            .iter()
            .all(|&other| (other - corner).length() > 1e-12)
        {
            distinct.push(corner);
        }
    }
    let n = distinct.len();
    if n < 3 {
        return (distinct, 0.0);
    }
    let area: f64 = (0..n)
        .map(|k| distinct[k].cross(distinct[(k + 1) % n]))
        .sum::<f64>()
        / 2.0;
    let round: f64 = (0..n)
        .map(|k| (distinct[(k + 1) % n] - distinct[k]).length())
        .sum();
    // 2·area/perimeter is the inscribed circle's radius of a shape that has one, and less than
    // the largest inset of none that we draw.
    let inset = inset.clamp(0.0, 0.98 * 2.0 * area.max(0.0) / round);
    let moved = (0..n)
        .map(|k| {
            let (before, here, after) = (
                distinct[(k + n - 1) % n],
                distinct[k],
                distinct[(k + 1) % n],
            );
            let (a, b) = ((here - before).unit(), (after - here).unit());
            // The two sides moved left by `inset` meet on the corner's bisector.
            let turn = 1.0 + (a.x * b.x + a.y * b.y);
            here + (a.left() + b.left()) * (inset / turn.max(1e-6))
        })
        .collect();
    (moved, inset)
}

/// A picture: shapes and the part of the plane they are made for.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Scene {
    /// Lower left corner of what should be seen.
    pub low: Point,
    /// Upper right corner.
    pub high: Point,
    /// The shapes, from back to front.
    pub shapes: Vec<Shape>,
}

impl Scene {
    /// An empty picture between two corners.
    #[must_use]
    pub const fn new(low: Point, high: Point) -> Self {
        Self {
            low,
            high,
            shapes: Vec::new(),
        }
    }

    /// Adds a shape in front of all others.
    pub fn push(&mut self, shape: Shape) {
        self.shapes.push(shape);
    }

    /// The middle of what should be seen.
    #[must_use]
    pub fn centre(&self) -> Point {
        self.low.towards(self.high, 0.5)
    }

    /// Points per bench unit with which all of the picture fits a space of that size.
    #[must_use]
    pub fn fit_points(&self, width_points: f64, height_points: f64) -> f64 {
        let size = self.high - self.low;
        (width_points / size.x.max(1e-9)).min(height_points / size.y.max(1e-9))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_square_inset_is_a_smaller_square() {
        let square = [at(0.0, 0.0), at(2.0, 0.0), at(2.0, 2.0), at(0.0, 2.0)];
        let (inner, inset) = inset_corners(&square, 0.5);
        assert!((inset - 0.5).abs() < 1e-12);
        for (got, wanted) in
            inner
                .iter()
                .zip([at(0.5, 0.5), at(1.5, 0.5), at(1.5, 1.5), at(0.5, 1.5)])
        {
            assert!((*got - wanted).length() < 1e-12, "{got:?} {wanted:?}");
        }
    }

    #[test]
    fn an_inset_stops_before_a_shape_turns_inside_out() {
        let square = [at(0.0, 0.0), at(2.0, 0.0), at(2.0, 2.0), at(0.0, 2.0)];
        let (inner, inset) = inset_corners(&square, 9.0);
        assert!(inset < 1.0);
        assert!((inner[1] - inner[0]).x > 0.0);
    }

    #[test]
    fn dashes_run_on_round_a_corner() {
        let dash = Dash {
            on: 0.1,
            period: 1.0,
            offset: 0.25,
        };
        let lines = path(
            &[at(0.0, 0.0), at(3.0, 0.0), at(3.0, 2.0)],
            Width::Points(1.0),
            Colour::CLEAR,
            Some(dash),
        );
        let Shape::Line {
            dash: Some(second), ..
        } = &lines[1]
        else {
            panic!("a dashed line")
        };
        assert!((second.offset - (0.25 - 3.0)).abs() < 1e-12);
    }
}
