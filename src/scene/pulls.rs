//! How far each reading lies from what it should be, in its own standard uncertainty: a point a row.
//!
//! Two standard uncertainties either way hold 95 of 100 sound readings; that band is shaded.

use super::{
    Align, Edge, GAP_POINTS, LINE_BOLD, LINE_THIN, Scene, Shape, TYPE_POINTS, Theme, Width, at,
};
use crate::readings::{BenchSheet, Verdict};

/// What is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct PullsView {
    /// From top to bottom.
    pub rows: Vec<Pull>,
}

/// One reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Pull {
    /// Where it stands: "no-load 2, speed".
    pub name: String,
    /// As noted.
    pub noted: String,
    /// Over its standard uncertainty; `None` where no other reading checks it.
    pub off: Option<f64>,
    /// The same in words.
    pub words: String,
    /// Whether it lies far off.
    pub is_marked: bool,
}

impl PullsView {
    /// The readings of a sheet, each beside what it should be.
    #[must_use]
    pub fn of(sheet: &BenchSheet, verdict: &Verdict) -> Self {
        let rows = verdict.should_be.iter().filter_map(|check| {
            let reading = sheet.readings.get(check.idx)?;
            reading.is_checked().then(|| Pull {
                name: reading.place(),
                noted: reading.shown(reading.value),
                off: check.normalised,
                words: check.words(),
                is_marked: check.is_marked(),
            })
        });
        Self {
            rows: rows.collect(),
        }
    }
}

/// Most rows of one picture, so that it fits a page.
pub const ROWS_OF_A_PAGE: usize = 36;

const WIDTH: f64 = 620.0;
const ROW: f64 = 19.0;
const HEAD: f64 = 46.0;
const MARGIN: f64 = 4.0 * GAP_POINTS;
/// Right end of the names, and of what was noted.
const NAMES: f64 = 190.0;
const NOTED: f64 = 268.0;
/// Both ends of the axis.
const LEFT: f64 = 284.0;
const RIGHT: f64 = 480.0;
/// Standard uncertainties from the middle to either end.
const REACH: f64 = 5.0;
/// Standard uncertainties that hold 95 of 100 (coverage factor 2, JCGM 100:2008, 6.3.3, from memory).
const BAND: f64 = 2.0;
/// Radius of a point.
const POINT: f64 = 4.0;

/// Draws the rows; the scene's size is its size in points.
#[must_use]
pub fn pulls(view: &PullsView, theme: &Theme) -> Scene {
    #[expect(clippy::cast_precision_loss, reason = "some hundreds at most")]
    let rows = view.rows.len() as f64 * ROW;
    let height = HEAD + rows + MARGIN;
    let mut scene = Scene::new(at(0.0, 0.0), at(WIDTH, height));
    let (top, bottom) = (height - HEAD, height - HEAD - rows);
    let x = |off: f64| LEFT + (RIGHT - LEFT) * (0.5 + off.clamp(-REACH, REACH) / (2.0 * REACH));
    let thin = Width::Points(LINE_THIN);
    scene.push(Shape::rect(
        at(x(-BAND), bottom),
        at(x(BAND), top),
        0.0,
        theme.line.with_alpha(90),
        None,
    ));
    let words = |scene: &mut Scene, place, words: &str, align, colour| {
        let size = Width::Points(TYPE_POINTS[0]);
        scene.push(Shape::text(place, words, size, align, colour));
    };
    let middle = x(0.0);
    scene.push(Shape::line(
        at(middle, bottom),
        at(middle, top),
        thin,
        theme.ink_soft,
    ));
    for (mark, text) in [
        (-4.0, "−4 u"),
        (-2.0, "−2"),
        (0.0, "0"),
        (2.0, "2"),
        (4.0, "4 u"),
    ] {
        let foot = at(x(mark), top);
        scene.push(Shape::line(
            foot,
            at(x(mark), top + 5.0),
            thin,
            theme.ink_soft,
        ));
        words(
            &mut scene,
            at(x(mark), top + 13.0),
            text,
            Align::Centre,
            theme.ink_soft,
        );
    }
    let head = top + 30.0;
    words(
        &mut scene,
        at(NAMES, head),
        "reading",
        Align::Right,
        theme.ink_soft,
    );
    words(
        &mut scene,
        at(NOTED, head),
        "as noted",
        Align::Right,
        theme.ink_soft,
    );
    words(
        &mut scene,
        at(middle, head),
        "off, in standard uncertainties u",
        Align::Centre,
        theme.ink_soft,
    );
    for (idx, row) in view.rows.iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "some hundreds at most")]
        let y = top - (idx as f64 + 0.5) * ROW;
        let colour = if row.is_marked {
            theme.caution
        } else {
            theme.ink
        };
        words(&mut scene, at(NAMES, y), &row.name, Align::Right, colour);
        words(&mut scene, at(NOTED, y), &row.noted, Align::Right, colour);
        let text = if row.is_marked {
            format!("! {}", row.words)
        } else {
            row.words.clone()
        };
        words(&mut scene, at(RIGHT + 12.0, y), &text, Align::Left, colour);
        if let Some(off) = row.off.filter(|off| off.is_finite()) {
            point(&mut scene, x(off), y, off, colour, middle);
        }
    }
    scene
}

/// A point on its stem; one that lies beyond the axis is an arrow at its end.
fn point(scene: &mut Scene, x: f64, y: f64, off: f64, colour: super::Colour, middle: f64) {
    let stem = Width::Points(LINE_THIN);
    scene.push(Shape::line(at(middle, y), at(x, y), stem, colour));
    if off.abs() <= REACH {
        let edge = Edge {
            width: Width::Points(0.5 * LINE_BOLD),
            colour,
        };
        scene.push(Shape::disc(at(x, y), POINT, colour, Some(edge)));
        return;
    }
    let tip = at(x + off.signum() * POINT, y);
    let back = x - off.signum() * POINT;
    let (a, b) = (at(back, y - POINT), at(back, y + POINT));
    // counter-clockwise either way
    scene.push(if off > 0.0 {
        Shape::triangle(a, tip, b, colour, None)
    } else {
        Shape::triangle(b, tip, a, colour, None)
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(off: Option<f64>) -> Pull {
        Pull {
            name: "no-load 1, speed".to_owned(),
            noted: "4020 rpm".to_owned(),
            off,
            words: String::new(),
            is_marked: false,
        }
    }

    /// Sound readings are points inside the axis, wild ones arrows at its end, unchecked ones
    /// nothing; and all of it lies within the picture.
    #[test]
    fn points_lie_where_they_should() {
        let offs = [
            Some(0.0),
            Some(-1.9),
            Some(5.0),
            Some(40.0),
            Some(-1e9),
            None,
        ];
        let view = PullsView {
            rows: offs.map(row).to_vec(),
        };
        let scene = pulls(&view, &Theme::LIGHT);
        let discs: Vec<f64> = scene
            .shapes
            .iter()
            .filter_map(|shape| match shape {
                Shape::RingSector { centre, .. } => Some(centre.x),
                _ => None,
            })
            .collect();
        let middle = 0.5 * (LEFT + RIGHT);
        let per_u = (RIGHT - LEFT) / (2.0 * REACH);
        assert_eq!(discs, [middle, middle - 1.9 * per_u, RIGHT]);
        let arrows = |shape: &&Shape| matches!(shape, Shape::Quad { corners, .. } if corners[2] == corners[3]);
        assert_eq!(scene.shapes.iter().filter(arrows).count(), 2);
        for shape in &scene.shapes {
            if let Shape::Quad { corners, .. } = shape {
                assert!(corners.iter().all(|c| c.x >= 0.0 && c.x <= WIDTH));
            }
        }
    }
}
