//! Marks over two axes, each with a name where there is room for it.

use super::scale::Scale;
use super::{Align, Edge, LINE_THIN, Point, Scene, Shape, TYPE_POINTS, Theme, Width, at};

/// What is drawn.
#[derive(Clone, Debug)]
pub struct ScatterView<'a> {
    /// Above the picture.
    pub title: &'a str,
    /// Name and unit of the axes, x and y.
    pub axes: [&'a str; 2],
    /// Places, and the name of each mark.
    pub marks: &'a [([f64; 2], String)],
}

/// Left of the marks and below them: the words of the axes.
const LOW: Point = at(84.0, 58.0);
/// Right of the marks and above them.
const RIGHT: f64 = 40.0;
const ABOVE: f64 = 56.0;
/// Radius of a mark.
const MARK: f64 = 4.0;

/// Where the marks lie in a picture of that size: lower left and upper right.
fn place_of([width, height]: [f64; 2]) -> [Point; 2] {
    let high = at(
        (width - RIGHT).max(LOW.x + 1.0),
        (height - ABOVE).max(LOW.y + 1.0),
    );
    [LOW, high]
}

/// Draws the marks into a picture of that size in points.
#[must_use]
pub fn scatter(view: &ScatterView<'_>, size_points: [f64; 2], theme: &Theme) -> Scene {
    let [width, height] = size_points;
    let [low, high] = place_of(size_points);
    let mut scene = Scene::new(at(0.0, 0.0), at(width, height));
    let mut words = |place, words: &str, size: usize, align, colour| {
        let size = Width::Points(TYPE_POINTS[size]);
        scene.push(Shape::text(place, words, size, align, colour));
    };
    words(
        at(24.0, height - 20.0),
        view.title,
        2,
        Align::Left,
        theme.ink,
    );
    words(
        at(24.0, height - 40.0),
        view.axes[1],
        1,
        Align::Left,
        theme.ink_soft,
    );
    words(
        at(high.x, 18.0),
        view.axes[0],
        1,
        Align::Right,
        theme.ink_soft,
    );
    if view.marks.is_empty() {
        let place = low.towards(high, 0.5);
        words(
            place,
            "no candidate has both figures",
            1,
            Align::Centre,
            theme.ink_soft,
        );
        return scene;
    }
    let scales = [0, 1].map(|axis| Scale::whole(view.marks.iter().map(|(place, _)| place[axis])));
    let x = |value: f64| low.x + (high.x - low.x) * scales[0].share(value);
    let y = |value: f64| low.y + (high.y - low.y) * scales[1].share(value);
    let thin = Width::Points(LINE_THIN);
    for value in scales[0].marks() {
        let (from, to) = (at(x(value), low.y), at(x(value), high.y));
        scene.push(Shape::line(from, to, thin, theme.line));
        let size = Width::Points(TYPE_POINTS[0]);
        let place = at(x(value), low.y - 16.0);
        let text = scales[0].words(value);
        scene.push(Shape::text(
            place,
            text,
            size,
            Align::Centre,
            theme.ink_soft,
        ));
    }
    for value in scales[1].marks() {
        let (from, to) = (at(low.x, y(value)), at(high.x, y(value)));
        scene.push(Shape::line(from, to, thin, theme.line));
        let size = Width::Points(TYPE_POINTS[0]);
        let place = at(low.x - 8.0, y(value));
        let text = scales[1].words(value);
        scene.push(Shape::text(place, text, size, Align::Right, theme.ink_soft));
    }
    let mut taken: Vec<[Point; 2]> = Vec::new();
    let edge = Edge {
        width: thin,
        colour: theme.panel,
    };
    for (place, _) in view.marks {
        let centre = at(x(place[0]), y(place[1]));
        scene.push(Shape::disc(centre, MARK, theme.ink, Some(edge)));
        let half = at(MARK, MARK);
        taken.push([centre - half, centre + half]);
    }
    for (idx, (place, name)) in view.marks.iter().enumerate() {
        let centre = at(x(place[0]), y(place[1]));
        #[expect(clippy::cast_precision_loss, reason = "a short name")]
        let width = 6.2 * name.chars().count() as f64;
        let free = |low: Point, high: Point| {
            taken.iter().enumerate().all(|(other, [l, h])| {
                other == idx || high.x < l.x || low.x > h.x || high.y < l.y || low.y > h.y
            })
        };
        for (align, left) in [
            (Align::Left, centre.x + 7.0),
            (Align::Right, centre.x - 7.0 - width),
        ] {
            let corners = [at(left, centre.y - 6.0), at(left + width, centre.y + 6.0)];
            let inside = corners[0].x > low.x && corners[1].x < size_points[0] - 4.0;
            if inside && free(corners[0], corners[1]) {
                let anchor = match align {
                    Align::Right => at(left + width, centre.y),
                    _ => at(left, centre.y),
                };
                let size = Width::Points(TYPE_POINTS[0]);
                scene.push(Shape::text(anchor, name.as_str(), size, align, theme.ink));
                taken.push(corners);
                break;
            }
        }
    }
    scene
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One mark, equal marks and wide ranges all lie within the axes.
    #[test]
    fn marks_lie_within_the_axes() {
        for places in [
            vec![[1.0, 2.0]],
            vec![[0.0, 0.0], [0.0, 0.0]],
            vec![[-3.0, 1e-9], [5e6, 2e-9]],
        ] {
            let marks: Vec<([f64; 2], String)> = places
                .into_iter()
                .map(|place| (place, "12/14".to_owned()))
                .collect();
            let view = ScatterView {
                title: "t",
                axes: ["x", "y"],
                marks: &marks,
            };
            let [low, high] = place_of([900.0, 620.0]);
            let scene = scatter(&view, [900.0, 620.0], &Theme::LIGHT);
            for shape in &scene.shapes {
                if let Shape::RingSector { centre, .. } = shape {
                    assert!(
                        centre.x >= low.x - 1.0 && centre.x <= high.x + 1.0,
                        "{centre:?}"
                    );
                    assert!(
                        centre.y >= low.y - 1.0 && centre.y <= high.y + 1.0,
                        "{centre:?}"
                    );
                }
            }
        }
    }
}
