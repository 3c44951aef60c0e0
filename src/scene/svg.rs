//! A scene as SVG.

use std::fmt::Write as _;

use super::{
    Align, Colour, Dash, Edge, LEAST_TYPE_POINTS, Point, Scene, Shape, TURN, Text, Width,
    inset_corners,
};

/// Writes a scene as an SVG of that size in points, the scene fitted and centred in it, on a
/// ground of that colour. `with_text` false leaves the words out (to compare shapes alone).
#[must_use]
pub fn to_svg(scene: &Scene, size_points: [f64; 2], ground: Colour, with_text: bool) -> String {
    let place = [0.0, 0.0, size_points[0], size_points[1]];
    let parts = if with_text {
        SvgParts::All
    } else {
        SvgParts::Shapes
    };
    to_svg_part(scene, place, Some(ground), parts, "")
}

/// Which parts of a scene go into an SVG.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SvgParts {
    /// Shapes, and the words above them.
    All,
    /// Everything but the words.
    Shapes,
    /// The words alone.
    Words,
}

/// Writes a scene as an `svg` element that can stand in another: `place` is left, top, width and
/// height in points, y down. `name` keeps apart what elements of one file refer to by name.
#[must_use]
pub fn to_svg_part(
    scene: &Scene,
    place: [f64; 4],
    ground: Option<Colour>,
    parts: SvgParts,
    name: &str,
) -> String {
    let [left, top, width, height] = place;
    let scale = scene.fit_points(width, height);
    let mut page = Page {
        out: String::new(),
        scale,
        centre: scene.centre(),
        size: [width, height],
        name: name.to_owned(),
    };
    page.open([left, top], ground);
    if parts != SvgParts::Words {
        for shape in &scene.shapes {
            page.shape(shape);
        }
    }
    if parts != SvgParts::Shapes {
        for shape in &scene.shapes {
            if let Shape::Text(text) = shape {
                page.text(text);
            }
        }
    }
    page.out.push_str("</svg>\n");
    page.out
}

struct Page {
    out: String,
    /// Points per bench unit.
    scale: f64,
    /// What lies in the middle.
    centre: Point,
    size: [f64; 2],
    /// Before every name that this element gives to a part of itself.
    name: String,
}

impl Page {
    fn open(&mut self, [left, top]: [f64; 2], ground: Option<Colour>) {
        let [width, height] = self.size;
        let place = if left == 0.0 && top == 0.0 {
            String::new()
        } else {
            format!(" x=\"{}\" y=\"{}\"", number(left), number(top))
        };
        let ground = ground.map_or(String::new(), |colour| {
            format!(
                "<rect width=\"{width}\" height=\"{height}\"{}/>\n",
                paint("fill", colour)
            )
        });
        self.put(&format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\"{place} width=\"{width}\" height=\"{height}\" \
             viewBox=\"0 0 {width} {height}\" fill=\"none\" stroke-linecap=\"round\" \
             stroke-linejoin=\"round\">\n{ground}"
        ));
    }

    fn put(&mut self, text: &str) {
        self.out.push_str(text);
    }

    /// A place on the page: y down.
    fn place(&self, point: Point) -> [f64; 2] {
        [
            self.size[0] / 2.0 + (point.x - self.centre.x) * self.scale,
            self.size[1] / 2.0 - (point.y - self.centre.y) * self.scale,
        ]
    }

    fn xy(&self, point: Point) -> String {
        let [x, y] = self.place(point);
        format!("{} {}", number(x), number(y))
    }

    fn points(&self, width: Width) -> f64 {
        match width {
            Width::Bench(units) => units * self.scale,
            Width::Points(points) => points,
        }
    }

    fn edge(&self, edge: Option<Edge>) -> String {
        edge.map_or(String::new(), |edge| {
            let width = number(self.points(edge.width));
            format!("{} stroke-width=\"{width}\"", paint("stroke", edge.colour))
        })
    }

    /// A filled path with an edge.
    fn filled(&mut self, d: &str, fill: Colour, edge: Option<Edge>) {
        let line = format!(
            "<path d=\"{d}\"{}{}/>\n",
            paint("fill", fill),
            self.edge(edge)
        );
        self.put(&line);
    }

    /// An open path of some width with dashes.
    fn stroked(&mut self, d: &str, width: Width, colour: Colour, dash: Option<Dash>) {
        let dash = dash.map_or(String::new(), |dash| {
            format!(
                " stroke-dasharray=\"{} {}\" stroke-dashoffset=\"{}\"",
                number(dash.on * self.scale),
                number((dash.period - dash.on) * self.scale),
                number(-dash.offset * self.scale),
            )
        });
        let width = number(self.points(width));
        let line = format!(
            "<path d=\"{d}\"{} stroke-width=\"{width}\"{dash}/>\n",
            paint("stroke", colour)
        );
        self.put(&line);
    }

    /// Goes along a circle of `radius` bench units to `to`, counter-clockwise where `sweep_rad`
    /// is positive.
    fn arc_to(&self, radius: f64, sweep_rad: f64, to: Point) -> String {
        let radius = number(radius * self.scale);
        let large = u8::from(sweep_rad.abs() > TURN / 2.0);
        let clockwise_on_page = u8::from(sweep_rad < 0.0);
        format!(
            "A{radius} {radius} 0 {large} {clockwise_on_page} {}",
            self.xy(to)
        )
    }

    fn circle(&self, centre: Point, radius: f64) -> String {
        let (east, west) = (
            centre + Point::polar(radius, 0.0),
            centre + Point::polar(-radius, 0.0),
        );
        let half = TURN / 2.0;
        let (there, back) = (
            self.arc_to(radius, half, west),
            self.arc_to(radius, half, east),
        );
        format!("M{}{there}{back}Z", self.xy(east))
    }

    fn shape(&mut self, shape: &Shape) {
        match shape {
            Shape::Glow {
                centre,
                radius,
                colour,
            } => self.glow(*centre, *radius, *colour),
            Shape::RingSector {
                centre,
                inner,
                outer,
                middle_rad,
                sweep_rad,
                corner,
                fill,
                edge,
            } => {
                let d = if *sweep_rad >= TURN {
                    let hole = if *inner > 0.0 {
                        self.circle(*centre, *inner)
                    } else {
                        String::new()
                    };
                    self.circle(*centre, *outer) + &hole
                } else {
                    self.sector(*centre, *inner, *outer, *middle_rad, *sweep_rad, *corner)
                };
                let line = format!(
                    "<path fill-rule=\"evenodd\" d=\"{d}\"{}{}/>\n",
                    paint("fill", *fill),
                    self.edge(*edge)
                );
                self.put(&line);
            }
            Shape::Quad {
                corners,
                corner,
                fill,
                edge,
            } => {
                let d = self.rounded(corners, *corner);
                self.filled(&d, *fill, *edge);
            }
            Shape::Line {
                from,
                to,
                width,
                colour,
                dash,
            } => {
                let d = format!("M{}L{}", self.xy(*from), self.xy(*to));
                self.stroked(&d, *width, *colour, *dash);
            }
            Shape::Arc {
                centre,
                radius,
                start_rad,
                sweep_rad,
                width,
                colour,
                dash,
            } => {
                let from = *centre + Point::polar(*radius, *start_rad);
                let half = *centre + Point::polar(*radius, start_rad + sweep_rad / 2.0);
                let to = *centre + Point::polar(*radius, start_rad + sweep_rad);
                let there = self.arc_to(*radius, sweep_rad / 2.0, half);
                let on = self.arc_to(*radius, sweep_rad / 2.0, to);
                let d = format!("M{}{there}{on}", self.xy(from));
                self.stroked(&d, *width, *colour, *dash);
            }
            Shape::Arrow {
                from,
                to,
                width,
                head,
                fill,
                edge,
            } => {
                let outline = arrow_outline(*from, *to, *width, *head);
                let places: Vec<String> = outline.iter().map(|point| self.xy(*point)).collect();
                let d = format!("M{}Z", places.join("L"));
                self.filled(&d, *fill, *edge);
            }
            Shape::Trace {
                left,
                column,
                ranges,
                width,
                colour,
            } => {
                self.trace(*left, *column, ranges, *width, *colour);
            }
            Shape::Text(_) => {}
        }
    }

    fn glow(&mut self, centre: Point, radius: f64, colour: Colour) {
        let id = self.out.len();
        let [x, y] = self.place(centre);
        let (x, y, r) = (number(x), number(y), number(radius * self.scale));
        let name = self.name.clone();
        let mut stops = String::new();
        // The painter fades with (1 − d²)², which eight straight pieces follow closely.
        for eighth in 0..=8 {
            let d = f64::from(eighth) / 8.0;
            let share = (1.0 - d * d) * (1.0 - d * d);
            let alpha = number(f64::from(colour.a) / 255.0 * share);
            let _ = write!(
                stops,
                "<stop offset=\"{d}\" stop-color=\"{}\" stop-opacity=\"{alpha}\"/>",
                hex(colour)
            );
        }
        self.put(&format!(
            "<radialGradient id=\"{name}g{id}\" gradientUnits=\"userSpaceOnUse\" cx=\"{x}\" cy=\"{y}\" \
             r=\"{r}\">{stops}</radialGradient>\
             <circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\" fill=\"url(#{name}g{id})\"/>\n"
        ));
    }

    /// A piece of a ring; each corner's circle touches an arc and a straight side.
    fn sector(
        &self,
        centre: Point,
        inner: f64,
        outer: f64,
        middle_rad: f64,
        sweep_rad: f64,
        corner: f64,
    ) -> String {
        let half = sweep_rad / 2.0;
        let place = |radius: f64, angle: f64| centre + Point::polar(radius, middle_rad + angle);
        let corner = corner.min(0.499 * (outer - inner));
        let outer_turn = libm::asin((corner / (outer - corner)).min(1.0));
        let outer_side =
            libm::sqrt(((outer - corner) * (outer - corner) - corner * corner).max(0.0));
        let (inner_turn, inner_side) = if inner > 0.0 {
            let reach = inner + corner;
            (
                libm::asin((corner / reach).min(1.0)),
                libm::sqrt((reach * reach - corner * corner).max(0.0)),
            )
        } else {
            (0.0, 0.0)
        };
        let quarter = TURN / 4.0;
        let mut d = format!("M{}", self.xy(place(inner_side, -half)));
        let _ = write!(d, "L{}", self.xy(place(outer_side, -half)));
        d += &self.arc_to(corner, quarter, place(outer, outer_turn - half));
        d += &self.arc_to(
            outer,
            sweep_rad - 2.0 * outer_turn,
            place(outer, half - outer_turn),
        );
        d += &self.arc_to(corner, quarter, place(outer_side, half));
        let _ = write!(d, "L{}", self.xy(place(inner_side, half)));
        if inner > 0.0 {
            d += &self.arc_to(corner, quarter, place(inner, half - inner_turn));
            let back = 2.0 * inner_turn - sweep_rad;
            d += &self.arc_to(inner, back, place(inner, inner_turn - half));
            d += &self.arc_to(corner, quarter, place(inner_side, -half));
        }
        d + "Z"
    }

    /// A convex shape with rounded corners.
    fn rounded(&self, corners: &[Point; 4], corner: f64) -> String {
        let (inner, radius) = inset_corners(corners, corner);
        let n = inner.len();
        let mut d = String::new();
        for k in 0..n {
            let (here, next, after) = (inner[k], inner[(k + 1) % n], inner[(k + 2) % n]);
            let out = |a: Point, b: Point| (b - a).unit().left() * -radius;
            let (from, to) = (here + out(here, next), next + out(here, next));
            let letter = if k == 0 { 'M' } else { 'L' };
            let _ = write!(d, "{letter}{}L{}", self.xy(from), self.xy(to));
            if radius > 0.0 {
                d += &self.arc_to(radius, 1.0, next + out(next, after));
            }
        }
        d + "Z"
    }

    fn trace(&mut self, left: f64, column: f64, ranges: &[[f64; 2]], width: Width, colour: Colour) {
        let mut d = String::new();
        for (k, pair) in ranges.windows(2).enumerate() {
            #[expect(clippy::cast_precision_loss, reason = "a number of columns")]
            let x = left + k as f64 * column;
            let corners = [
                super::at(x, pair[0][0]),
                super::at(x + column, pair[1][0]),
                super::at(x + column, pair[1][1]),
                super::at(x, pair[0][1]),
            ];
            let places: Vec<String> = corners.iter().map(|point| self.xy(*point)).collect();
            let _ = write!(d, "M{}Z", places.join("L"));
        }
        let edge = Some(Edge { width, colour });
        self.filled(&d, colour, edge);
    }

    fn text(&mut self, text: &Text) {
        let size = self.points(text.size);
        if size < LEAST_TYPE_POINTS {
            return;
        }
        let [x, y] = self.place(text.anchor);
        let anchor = match text.align {
            Align::Left => "start",
            Align::Centre => "middle",
            Align::Right => "end",
        };
        let words = escape(&text.words);
        // The middle of capitals lies 0.36 of the type's height above the line it stands on.
        self.put(&format!(
            "<text x=\"{}\" y=\"{}\" font-family=\"sans-serif\" font-size=\"{}\" \
             text-anchor=\"{anchor}\"{}>{words}</text>\n",
            number(x),
            number(y + 0.36 * size),
            number(size),
            paint("fill", text.colour)
        ));
    }
}

/// The seven corners of an arrow, from the tail's right side round the tip.
pub(crate) fn arrow_outline(from: Point, to: Point, width: f64, head: f64) -> [Point; 7] {
    let along = (to - from).unit();
    let side = along.left();
    let neck = to - along * head.min((to - from).length());
    let (thin, wide) = (side * (width / 2.0), side * (head / 2.0));
    [
        from - thin,
        neck - thin,
        neck - wide,
        to,
        neck + wide,
        neck + thin,
        from + thin,
    ]
}

fn number(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

fn hex(colour: Colour) -> String {
    format!("#{:02x}{:02x}{:02x}", colour.r, colour.g, colour.b)
}

/// ` fill="#rrggbb"` with its opacity where it is not 1.
fn paint(name: &str, colour: Colour) -> String {
    match colour.a {
        0 => String::new(),
        255 => format!(" {name}=\"{}\"", hex(colour)),
        a => format!(
            " {name}=\"{}\" {name}-opacity=\"{}\"",
            hex(colour),
            number(f64::from(a) / 255.0)
        ),
    }
}

fn escape(words: &str) -> String {
    words
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::at;

    #[test]
    fn words_cannot_break_the_file() {
        let mut scene = Scene::new(at(0.0, 0.0), at(1.0, 1.0));
        let size = Width::Points(12.0);
        scene.push(Shape::text(
            at(0.5, 0.5),
            "<a & b>",
            size,
            Align::Left,
            Colour::hex(0),
        ));
        let svg = to_svg(&scene, [100.0, 100.0], Colour::hex(0xFFFFFF), true);
        assert!(svg.contains("&lt;a &amp; b&gt;"));
    }
}
