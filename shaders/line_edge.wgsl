// Outlines from signed distances in pixels: negative inside.

// How much of a pixel at this distance from a straight outline lies inside it.
fn inside(distance_px: f32) -> f32 {
    return clamp(0.5 - distance_px, 0.0, 1.0);
}

// The same for a line of that width along the outline. A line thinner than a pixel is drawn a
// pixel wide and fainter, so that it never breaks up.
fn on_line(distance_px: f32, width_px: f32) -> f32 {
    let drawn = max(width_px, 1.0);
    return inside(abs(distance_px) - 0.5 * drawn) * min(width_px, 1.0);
}

// Distance to the piece from `a` to `b`.
fn to_segment(place: vec2<f32>, a: vec2<f32>, b: vec2<f32>) -> f32 {
    let along = b - a;
    let share = clamp(dot(place - a, along) / max(dot(along, along), 1e-12), 0.0, 1.0);
    return length(place - a - along * share);
}

// One side of a closed outline, counter-clockwise: x keeps the least squared distance, y the
// sign (even-odd rule). Start with (dot(place - a, place - a), 1) for any corner a.
fn with_side(so_far: vec2<f32>, place: vec2<f32>, a: vec2<f32>, b: vec2<f32>) -> vec2<f32> {
    let distance = to_segment(place, a, b);
    let over_a = place.y >= a.y;
    let under_b = place.y < b.y;
    let left_of = (b.x - a.x) * (place.y - a.y) > (b.y - a.y) * (place.x - a.x);
    let crossed = (over_a && under_b && left_of) || !(over_a || under_b || left_of);
    let sign = select(so_far.y, -so_far.y, crossed);
    return vec2<f32>(min(so_far.x, distance * distance), sign);
}
