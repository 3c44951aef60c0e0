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

// Corner 0 to 3 of a strip as -1 or 1 in x and y.
fn corner_of(index: u32) -> vec2<f32> {
    return vec2<f32>(f32(index & 1u) * 2.0 - 1.0, f32(index >> 1u) * 2.0 - 1.0);
}
