// Colours come as sRGB with straight alpha and are blended as such, like in SVG.

fn premultiplied(colour: vec4<f32>, coverage: f32) -> vec4<f32> {
    let alpha = colour.a * coverage;
    return vec4<f32>(colour.rgb * alpha, alpha);
}

// A fill with its edge on top of it.
fn filled(fill: vec4<f32>, edge: vec4<f32>, distance_px: f32, edge_px: f32) -> vec4<f32> {
    let below = premultiplied(fill, inside(distance_px));
    let above = premultiplied(edge, on_line(distance_px, edge_px));
    return above + below * (1.0 - above.a);
}

// To the target: a target that encodes sRGB by itself wants linear light.
fn to_target(colour: vec4<f32>) -> vec4<f32> {
    if camera.target_is_linear < 0.5 || colour.a <= 0.0 {
        return colour;
    }
    let straight = colour.rgb / colour.a;
    let low = straight / 12.92;
    let high = pow((straight + 0.055) / 1.055, vec3<f32>(2.4));
    return vec4<f32>(select(high, low, straight <= vec3<f32>(0.04045)) * colour.a, colour.a);
}
