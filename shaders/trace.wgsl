// A curve over equal columns: each instance joins the range of one column to that of the next.
// Inputs in pixels from the middle of the picture.
struct Trace {
    // x of this column and of the next.
    @location(0) x: vec2<f32>,
    // Least and greatest y of this column, then of the next.
    @location(1) ranges: vec4<f32>,
    @location(2) width_px: f32,
    @location(3) colour: vec4<f32>,
}

struct Pixel {
    @builtin(position) clip: vec4<f32>,
    @location(0) place: vec2<f32>,
    @location(1) @interpolate(flat) x: vec2<f32>,
    @location(2) @interpolate(flat) ranges: vec4<f32>,
    @location(3) @interpolate(flat) width_px: f32,
    @location(4) @interpolate(flat) colour: vec4<f32>,
}

@vertex
fn vertex(trace: Trace, @builtin(vertex_index) index: u32) -> Pixel {
    let rim = RIM_PX + 0.5 * max(trace.width_px, 1.0);
    let low = vec2<f32>(trace.x.x, min(trace.ranges.x, trace.ranges.z)) - rim;
    let high = vec2<f32>(trace.x.y, max(trace.ranges.y, trace.ranges.w)) + rim;
    let place = mix(low, high, corner_of(index) * 0.5 + 0.5);
    return Pixel(
        clip_from_px(place), place, trace.x, trace.ranges, trace.width_px, trace.colour,
    );
}

@fragment
fn fragment(pixel: Pixel) -> @location(0) vec4<f32> {
    let a = vec2<f32>(pixel.x.x, pixel.ranges.x);
    let b = vec2<f32>(pixel.x.y, pixel.ranges.z);
    let c = vec2<f32>(pixel.x.y, pixel.ranges.w);
    let d = vec2<f32>(pixel.x.x, pixel.ranges.y);
    let place = pixel.place;
    var found = vec2<f32>(dot(place - a, place - a), 1.0);
    found = with_side(found, place, a, b);
    found = with_side(found, place, b, c);
    found = with_side(found, place, c, d);
    found = with_side(found, place, d, a);
    let drawn = max(pixel.width_px, 1.0);
    let distance = found.y * sqrt(found.x) - 0.5 * drawn;
    return to_target(premultiplied(pixel.colour, inside(distance) * min(pixel.width_px, 1.0)));
}
