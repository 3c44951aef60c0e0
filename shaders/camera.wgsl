// The view: places come as physical pixels from the middle of the picture, y up.
struct Camera {
    // Half the width and height of the picture in pixels.
    half_size_px: vec2<f32>,
    // 1 where the target turns linear light into sRGB itself, else 0.
    target_is_linear: f32,
    unused: f32,
}

@group(0) @binding(0) var<uniform> camera: Camera;

// How far a painter reaches beyond its outline, for the soft rim of the outline.
const RIM_PX: f32 = 1.0;

fn clip_from_px(place: vec2<f32>) -> vec4<f32> {
    return vec4<f32>(place / camera.half_size_px, 0.0, 1.0);
}

// Pieces of a strip along a circle; see `along_circle`.
const STRIP_PIECES: u32 = 32u;

// Corner 0 to 3 of a strip as -1 or 1 in x and y; corner 3 for all that come after it.
fn corner_of(vertex: u32) -> vec2<f32> {
    let index = min(vertex, 3u);
    return vec2<f32>(f32(index & 1u) * 2.0 - 1.0, f32(index >> 1u) * 2.0 - 1.0);
}

// A vertex of a strip along a circle round the origin, from an angle on through another: it covers
// everything between the two radii, and little besides. A box round a thin ring would ask the
// fragment shader about all of its empty middle.
fn along_circle(vertex: u32, start: f32, sweep: f32, inner: f32, outer: f32) -> vec2<f32> {
    let pieces = f32(STRIP_PIECES);
    let angle = start + sweep * f32(vertex >> 1u) / pieces;
    // The outer edge is straight from vertex to vertex, and stays outside the circle.
    let beyond = outer / cos(0.5 * sweep / pieces);
    let radius = select(max(inner, 0.0), beyond, (vertex & 1u) == 1u);
    return radius * vec2<f32>(cos(angle), sin(angle));
}
