//! From bench units in f64 to pixels in f32.

use glam::{DAffine2, DVec2, dvec2};

use crate::scene::{Point, Scene, Width};

/// Which part of the bench plane a picture shows, and how large.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Camera {
    /// What lies in the middle of the picture.
    pub centre: Point,
    /// Points of the screen per bench unit; above 0.
    pub points_per_unit: f64,
    /// Physical pixels per point; above 0.
    pub pixels_per_point: f64,
    /// Width and height of the picture in physical pixels.
    pub size_px: [f64; 2],
}

/// Largest coordinate in pixels that is handed to a shader; everything farther out is out of
/// any picture, and f32 still counts in hundredths of a pixel there.
const FARTHEST_PX: f64 = 100_000.0;

impl Camera {
    /// Shows all of a scene in the middle of a picture of that size.
    #[must_use]
    pub fn fit(scene: &Scene, size_px: [f64; 2], pixels_per_point: f64) -> Self {
        let [width, height] = size_px.map(|pixels| pixels / pixels_per_point);
        Self {
            centre: scene.centre(),
            points_per_unit: scene.fit_points(width, height),
            pixels_per_point,
            size_px,
        }
    }

    /// Physical pixels per bench unit.
    #[must_use]
    pub fn pixels_per_unit(&self) -> f64 {
        self.points_per_unit * self.pixels_per_point
    }

    /// Pixels from the middle of the picture, y up, for a place of the bench in f64.
    #[must_use]
    pub fn pixels_from_bench(&self) -> DAffine2 {
        DAffine2::from_scale(DVec2::splat(self.pixels_per_unit()))
            * DAffine2::from_translation(-dvec2(self.centre.x, self.centre.y))
    }

    /// Pixels from the picture's upper left corner, y down, to places of the bench.
    #[must_use]
    pub fn bench_from_corner(&self) -> DAffine2 {
        let [width, height] = self.size_px;
        let middle_from_corner = DAffine2::from_scale(dvec2(1.0, -1.0))
            * DAffine2::from_translation(-dvec2(width / 2.0, height / 2.0));
        self.pixels_from_bench().inverse() * middle_from_corner
    }

    /// A place as pixels from the middle of the picture, y up. The centre is taken away before
    /// f64 becomes f32.
    #[must_use]
    pub fn pixels(&self, place: Point) -> [f32; 2] {
        let pixels = self
            .pixels_from_bench()
            .transform_point2(dvec2(place.x, place.y));
        [single(pixels.x), single(pixels.y)]
    }

    /// A length of the bench in pixels.
    #[must_use]
    pub fn length_px(&self, units: f64) -> f32 {
        single(units * self.pixels_per_unit())
    }

    /// A width in pixels.
    #[must_use]
    pub fn width_px(&self, width: Width) -> f32 {
        match width {
            Width::Bench(units) => self.length_px(units),
            Width::Points(points) => single(points * self.pixels_per_point),
        }
    }

    /// A width in points.
    #[must_use]
    pub fn width_points(&self, width: Width) -> f64 {
        match width {
            Width::Bench(units) => units * self.points_per_unit,
            Width::Points(points) => points,
        }
    }

    /// The place in the bench plane under a pixel counted from the picture's upper left corner.
    #[must_use]
    pub fn place_at(&self, pixel: [f64; 2]) -> Point {
        let place = self
            .bench_from_corner()
            .transform_point2(DVec2::from_array(pixel));
        crate::scene::at(place.x, place.y)
    }
}

/// The one place where f64 becomes f32. What is not a number stays so, and is left out by
/// [`Batches`](super::Batches).
#[expect(clippy::cast_possible_truncation, reason = "this is where it is meant")]
pub(super) const fn single(value: f64) -> f32 {
    value.clamp(-FARTHEST_PX, FARTHEST_PX) as f32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::at;

    #[test]
    fn far_from_the_origin_a_pixel_is_still_a_pixel() {
        let camera = Camera {
            centre: at(1.0e6, -1.0e6),
            points_per_unit: 1.0e5,
            pixels_per_point: 2.0,
            size_px: [800.0, 600.0],
        };
        let [x, y] = camera.pixels(at(1.0e6 + 1.0e-4, -1.0e6 - 2.0e-4));
        assert!(
            (x - 20.0).abs() < 0.01 && (y + 40.0).abs() < 0.01,
            "{x} {y}"
        );
        let back = camera.place_at([420.0, 340.0]);
        assert!((back - at(1.0e6 + 1.0e-4, -1.0e6 - 2.0e-4)).length() < 1.0e-8);
    }
}
