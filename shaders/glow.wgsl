// A light that fades from its centre: (1 - d²)² with d from 0 in the middle to 1 at the radius.
// Inputs in pixels from the middle of the picture.
struct Glow {
    @location(0) centre: vec2<f32>,
    @location(1) radius: f32,
    @location(2) colour: vec4<f32>,
}

struct Pixel {
    @builtin(position) clip: vec4<f32>,
    @location(0) place: vec2<f32>,
    @location(1) @interpolate(flat) colour: vec4<f32>,
}

@vertex
fn vertex(glow: Glow, @builtin(vertex_index) index: u32) -> Pixel {
    let corner = corner_of(index);
    return Pixel(clip_from_px(glow.centre + corner * glow.radius), corner, glow.colour);
}

@fragment
fn fragment(pixel: Pixel) -> @location(0) vec4<f32> {
    let left = max(1.0 - dot(pixel.place, pixel.place), 0.0);
    return to_target(premultiplied(pixel.colour, left * left));
}
