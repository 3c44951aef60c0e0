// An arrow: a shaft and a triangular head as one outline.
// Inputs in pixels from the middle of the picture.
struct Arrow {
    // Tail and tip.
    @location(0) from_to: vec4<f32>,
    // Half the shaft's width, half the head's width, length of the head, width of the edge.
    @location(1) sizes: vec4<f32>,
    @location(2) fill: vec4<f32>,
    @location(3) edge: vec4<f32>,
}

struct Pixel {
    @builtin(position) clip: vec4<f32>,
    // In the arrow's axes: x from the tail along it.
    @location(0) place: vec2<f32>,
    @location(1) @interpolate(flat) size: f32,
    @location(2) @interpolate(flat) sizes: vec4<f32>,
    @location(3) @interpolate(flat) fill: vec4<f32>,
    @location(4) @interpolate(flat) edge: vec4<f32>,
}

@vertex
fn vertex(arrow: Arrow, @builtin(vertex_index) index: u32) -> Pixel {
    let span = arrow.from_to.zw - arrow.from_to.xy;
    let size = length(span);
    let along = span / max(size, 1e-6);
    // A round corner of the edge reaches half its width beyond the outline.
    let rim = RIM_PX + 0.5 * arrow.sizes.w;
    let corner = corner_of(index);
    let half = vec2<f32>(0.5 * size, max(arrow.sizes.x, arrow.sizes.y)) + rim;
    let place = vec2<f32>(0.5 * size, 0.0) + corner * half;
    let turned = along * place.x + vec2<f32>(-along.y, along.x) * place.y;
    return Pixel(
        clip_from_px(arrow.from_to.xy + turned), place, size, arrow.sizes, arrow.fill, arrow.edge,
    );
}

@fragment
fn fragment(pixel: Pixel) -> @location(0) vec4<f32> {
    // Upper half only; the lower is its mirror image.
    let place = vec2<f32>(pixel.place.x, abs(pixel.place.y));
    let neck = pixel.size - pixel.sizes.z;
    let thin = pixel.sizes.x;
    let wide = pixel.sizes.y;
    var found = min(
        to_segment(place, vec2<f32>(0.0, 0.0), vec2<f32>(0.0, thin)),
        to_segment(place, vec2<f32>(0.0, thin), vec2<f32>(neck, thin)),
    );
    found = min(found, to_segment(place, vec2<f32>(neck, thin), vec2<f32>(neck, wide)));
    found = min(found, to_segment(place, vec2<f32>(neck, wide), vec2<f32>(pixel.size, 0.0)));
    let in_shaft = place.x > 0.0 && place.x <= neck && place.y < thin;
    let in_head = place.x > neck && place.y < wide * (pixel.size - place.x) / max(pixel.sizes.z, 1e-6);
    let distance = select(found, -found, in_shaft || in_head);
    return to_target(filled(pixel.fill, pixel.edge, distance, pixel.sizes.w));
}
