//! A scene as instances, in runs of one kind.

use std::ops::Range;

use super::camera::{Camera, single};
use super::instances::{Arrow, Glow, Kind, Quad, RingSector, Stroke, Trace};
use crate::scene::{Colour, Dash, Edge, Point, Scene, Shape, TURN, Width, inset_corners};

/// Consecutive shapes that one painter draws in one go.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Run {
    /// Which painter.
    pub kind: Kind,
    /// Which of its instances.
    pub instances: Range<u32>,
}

/// The instances of a scene, and in which order to draw them.
#[derive(Clone, Debug, Default)]
pub struct Batches {
    /// Bytes of the instances of each kind, as in [`Kind::ALL`].
    pub(super) bytes: [Vec<u8>; 6],
    counts: [u32; 6],
    runs: Vec<Run>,
    /// Shapes left out because a number in them is not finite.
    left_out: usize,
}

impl Batches {
    /// Turns the shapes of a scene into instances as the camera sees them.
    #[must_use]
    pub fn new(scene: &Scene, camera: &Camera) -> Self {
        let mut batches = Self::default();
        for shape in &scene.shapes {
            batches.shape(shape, camera);
        }
        batches
    }

    /// In which order to draw what.
    #[must_use]
    pub fn runs(&self) -> &[Run] {
        &self.runs
    }

    /// How many shapes were left out because a number in them is not finite: nothing but numbers
    /// reaches a shader.
    #[must_use]
    pub const fn left_out(&self) -> usize {
        self.left_out
    }

    fn push<I: bytemuck::Pod>(&mut self, kind: Kind, instance: &I, floats: &[f32]) {
        if floats.iter().any(|value| !value.is_finite()) {
            self.left_out += 1;
            return;
        }
        let idx = kind.idx();
        self.bytes[idx].extend_from_slice(bytemuck::bytes_of(instance));
        let count = self.counts[idx];
        self.counts[idx] += 1;
        match self.runs.last_mut() {
            Some(run) if run.kind == kind => run.instances.end = count + 1,
            _ => self.runs.push(Run {
                kind,
                instances: count..count + 1,
            }),
        }
    }

    fn shape(&mut self, shape: &Shape, camera: &Camera) {
        match shape {
            Shape::Glow {
                centre,
                radius,
                colour,
            } => {
                let (centre, radius) = (camera.pixels(*centre), camera.length_px(*radius));
                let glow = Glow {
                    centre,
                    radius,
                    colour: bytes(*colour),
                };
                self.push(Kind::Glow, &glow, &[centre[0], centre[1], radius]);
            }
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
                let (edge_px, edge) = edge_of(*edge, camera);
                let outer_px = camera.length_px(*outer);
                // A disc is a ring whose other rim lies as far beyond its middle.
                let inner_px = if *inner > 0.0 {
                    camera.length_px(*inner)
                } else {
                    -outer_px
                };
                let whole = *sweep_rad >= TURN;
                let sector = RingSector {
                    centre: camera.pixels(*centre),
                    radii: [inner_px, outer_px],
                    middle: [
                        single(libm::cos(*middle_rad)),
                        single(libm::sin(*middle_rad)),
                    ],
                    half_angle: if whole { 4.0 } else { single(sweep_rad / 2.0) },
                    corner: camera.length_px(corner.min(0.499 * (outer - inner))),
                    edge_px,
                    fill: bytes(*fill),
                    edge,
                };
                let [x, y] = sector.centre;
                let [a, b] = sector.middle;
                let floats = [
                    x,
                    y,
                    a,
                    b,
                    inner_px,
                    outer_px,
                    sector.half_angle,
                    sector.corner,
                    edge_px,
                ];
                self.push(Kind::RingSector, &sector, &floats);
            }
            Shape::Quad {
                corners,
                corner,
                fill,
                edge,
            } => {
                self.quad(corners, *corner, *fill, *edge, camera);
            }
            Shape::Line {
                from,
                to,
                width,
                colour,
                dash,
            } => {
                let ([a, b], [c, d]) = (camera.pixels(*from), camera.pixels(*to));
                self.stroke([a, b, c, d], 0.0, *width, *colour, *dash, camera);
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
                // No angle, no line: the shader reads 0 as straight.
                if *sweep_rad != 0.0 {
                    let [x, y] = camera.pixels(*centre);
                    let start = single(start_rad.rem_euclid(TURN));
                    let sweep = single(sweep_rad.clamp(-TURN, TURN));
                    let shape = [x, y, camera.length_px(*radius), start];
                    self.stroke(shape, sweep, *width, *colour, *dash, camera);
                }
            }
            Shape::Arrow {
                from,
                to,
                width,
                head,
                fill,
                edge,
            } => {
                let (edge_px, edge) = edge_of(*edge, camera);
                let ([a, b], [c, d]) = (camera.pixels(*from), camera.pixels(*to));
                let from_to = [a, b, c, d];
                let sizes = [
                    camera.length_px(width / 2.0),
                    camera.length_px(head / 2.0),
                    camera.length_px(head.min((*to - *from).length())),
                    edge_px,
                ];
                let arrow = Arrow {
                    from_to,
                    sizes,
                    fill: bytes(*fill),
                    edge,
                };
                self.push(Kind::Arrow, &arrow, &[from_to, sizes].concat());
            }
            Shape::Trace {
                left,
                column,
                ranges,
                width,
                colour,
            } => {
                let width_px = camera.width_px(*width);
                for (k, pair) in ranges.windows(2).enumerate() {
                    #[expect(clippy::cast_precision_loss, reason = "a number of columns")]
                    let x = left + k as f64 * column;
                    let place = |x: f64, y: f64| camera.pixels(crate::scene::at(x, y));
                    let [x0, low0] = place(x, pair[0][0]);
                    let [x1, low1] = place(x + column, pair[1][0]);
                    let (high0, high1) = (place(x, pair[0][1])[1], place(x, pair[1][1])[1]);
                    let ranges = [low0, high0, low1, high1];
                    let trace = Trace {
                        x: [x0, x1],
                        ranges,
                        width_px,
                        colour: bytes(*colour),
                    };
                    self.push(
                        Kind::Trace,
                        &trace,
                        &[x0, x1, low0, high0, low1, high1, width_px],
                    );
                }
            }
            Shape::Text(_) => {}
        }
    }

    fn quad(
        &mut self,
        corners: &[Point; 4],
        corner: f64,
        fill: Colour,
        edge: Option<Edge>,
        camera: &Camera,
    ) {
        let (inner, radius) = inset_corners(corners, corner);
        let Some(&last) = inner.last() else { return };
        let place = |idx: usize| camera.pixels(*inner.get(idx).unwrap_or(&last));
        let ([a, b], [c, d], [e, f], [g, h]) = (place(0), place(1), place(2), place(3));
        let (edge_px, edge) = edge_of(edge, camera);
        let corner = camera.length_px(radius);
        let fill = bytes(fill);
        let quad = Quad {
            ab: [a, b, c, d],
            cd: [e, f, g, h],
            corner,
            edge_px,
            fill,
            edge,
        };
        self.push(
            Kind::Quad,
            &quad,
            &[a, b, c, d, e, f, g, h, corner, edge_px],
        );
    }

    fn stroke(
        &mut self,
        shape: [f32; 4],
        sweep: f32,
        width: Width,
        colour: Colour,
        dash: Option<Dash>,
        camera: &Camera,
    ) {
        let dash_px = dash.map_or([0.0; 3], |dash| {
            // The pattern repeats, so an offset of many periods is one of less than one.
            let offset = dash.offset.rem_euclid(dash.period.max(1e-12));
            [dash.on, dash.period, offset].map(|units| camera.length_px(units))
        });
        let width_px = camera.width_px(width);
        let stroke = Stroke {
            shape,
            sweep,
            width_px,
            dash_px,
            colour: bytes(colour),
        };
        let [a, b, c, d] = shape;
        let [on, period, offset] = dash_px;
        self.push(
            Kind::Stroke,
            &stroke,
            &[a, b, c, d, sweep, width_px, on, period, offset],
        );
    }
}

const fn bytes(colour: Colour) -> [u8; 4] {
    [colour.r, colour.g, colour.b, colour.a]
}

fn edge_of(edge: Option<Edge>, camera: &Camera) -> (f32, [u8; 4]) {
    edge.map_or((0.0, [0; 4]), |edge| {
        (camera.width_px(edge.width), bytes(edge.colour))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::at;

    fn camera() -> Camera {
        Camera {
            centre: at(0.0, 0.0),
            points_per_unit: 100.0,
            pixels_per_point: 1.0,
            size_px: [200.0, 200.0],
        }
    }

    #[test]
    fn neighbours_of_one_kind_are_one_run() {
        let mut scene = Scene::new(at(-1.0, -1.0), at(1.0, 1.0));
        let ink = Colour::hex(0xFFFFFF);
        let line = Shape::line(at(0.0, 0.0), at(1.0, 0.0), Width::Points(1.0), ink);
        for shape in [
            Shape::disc(at(0.0, 0.0), 0.5, ink, None),
            Shape::disc(at(0.1, 0.0), 0.5, ink, None),
            line.clone(),
            Shape::disc(at(0.2, 0.0), 0.5, ink, None),
        ] {
            scene.push(shape);
        }
        let runs: Vec<(Kind, Range<u32>)> = Batches::new(&scene, &camera())
            .runs()
            .iter()
            .map(|run| (run.kind, run.instances.clone()))
            .collect();
        assert_eq!(
            runs,
            [
                (Kind::RingSector, 0..2),
                (Kind::Stroke, 0..1),
                (Kind::RingSector, 2..3)
            ]
        );
    }

    #[test]
    fn what_is_not_a_number_reaches_no_shader() {
        let mut scene = Scene::new(at(-1.0, -1.0), at(1.0, 1.0));
        scene.push(Shape::disc(at(f64::NAN, 0.0), 0.5, Colour::hex(0), None));
        scene.push(Shape::disc(
            at(0.0, 0.0),
            f64::INFINITY,
            Colour::hex(0),
            None,
        ));
        let batches = Batches::new(&scene, &camera());
        assert_eq!(
            batches.left_out(),
            1,
            "infinity is cut off at the farthest pixel"
        );
        assert_eq!(
            batches.bytes[Kind::RingSector.idx()].len(),
            size_of::<RingSector>()
        );
    }
}
