// A convex shape of three or four corners with rounded corners.
// Inputs in pixels from the middle of the picture; corners counter-clockwise, already moved
// inwards by the radius of the rounding; a triangle repeats its last corner.
struct Quad {
    @location(0) ab: vec4<f32>,
    @location(1) cd: vec4<f32>,
    @location(2) corner: f32,
    @location(3) edge_px: f32,
    @location(4) fill: vec4<f32>,
    @location(5) edge: vec4<f32>,
}

struct Pixel {
    @builtin(position) clip: vec4<f32>,
    @location(0) place: vec2<f32>,
    @location(1) @interpolate(flat) ab: vec4<f32>,
    @location(2) @interpolate(flat) cd: vec4<f32>,
    // Corner, width of the edge.
    @location(3) @interpolate(flat) sizes: vec2<f32>,
    @location(4) @interpolate(flat) fill: vec4<f32>,
    @location(5) @interpolate(flat) edge: vec4<f32>,
}

@vertex
fn vertex(quad: Quad, @builtin(vertex_index) index: u32) -> Pixel {
    let rim = RIM_PX + quad.corner + 0.5 * quad.edge_px;
    let low = min(min(quad.ab.xy, quad.ab.zw), min(quad.cd.xy, quad.cd.zw)) - rim;
    let high = max(max(quad.ab.xy, quad.ab.zw), max(quad.cd.xy, quad.cd.zw)) + rim;
    let place = mix(low, high, corner_of(index) * 0.5 + 0.5);
    let sizes = vec2<f32>(quad.corner, quad.edge_px);
    return Pixel(clip_from_px(place), place, quad.ab, quad.cd, sizes, quad.fill, quad.edge);
}

@fragment
fn fragment(pixel: Pixel) -> @location(0) vec4<f32> {
    let a = pixel.ab.xy;
    let b = pixel.ab.zw;
    let c = pixel.cd.xy;
    let d = pixel.cd.zw;
    let place = pixel.place;
    var found = vec2<f32>(dot(place - a, place - a), 1.0);
    found = with_side(found, place, a, b);
    found = with_side(found, place, b, c);
    found = with_side(found, place, c, d);
    found = with_side(found, place, d, a);
    let distance = found.y * sqrt(found.x) - pixel.sizes.x;
    return to_target(filled(pixel.fill, pixel.edge, distance, pixel.sizes.y));
}
