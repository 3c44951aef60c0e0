// A line with round ends, straight or along a circle, unbroken or in dashes.
// Inputs in pixels from the middle of the picture, angles in rad.
struct Stroke {
    // Straight: start and end. Along a circle: its centre, then its radius and the angle
    // where the line begins.
    @location(0) shape: vec4<f32>,
    // Along a circle: the angle it goes through, not 0, positive counter-clockwise. Straight: 0.
    @location(1) sweep: f32,
    @location(2) width_px: f32,
    // Length of a dash, from dash to dash, where the first begins; period 0: unbroken.
    @location(3) dash_px: vec3<f32>,
    @location(4) colour: vec4<f32>,
}

struct Pixel {
    @builtin(position) clip: vec4<f32>,
    @location(0) place: vec2<f32>,
    @location(1) @interpolate(flat) shape: vec4<f32>,
    // Sweep, width.
    @location(2) @interpolate(flat) sizes: vec2<f32>,
    @location(3) @interpolate(flat) dash_px: vec3<f32>,
    @location(4) @interpolate(flat) colour: vec4<f32>,
}

const TURN: f32 = 6.2831853;

@vertex
fn vertex(stroke: Stroke, @builtin(vertex_index) index: u32) -> Pixel {
    let rim = RIM_PX + 0.5 * max(stroke.width_px, 1.0);
    let corner = corner_of(index);
    var place: vec2<f32>;
    if stroke.sweep == 0.0 {
        // A box along the line.
        let from_to = stroke.shape.zw - stroke.shape.xy;
        let size = length(from_to);
        let along = select(vec2<f32>(1.0, 0.0), from_to / max(size, 1e-6), size > 1e-6);
        let side = vec2<f32>(-along.y, along.x);
        let middle = 0.5 * (stroke.shape.xy + stroke.shape.zw);
        place = middle + along * corner.x * (0.5 * size + rim) + side * corner.y * rim;
    } else {
        let radius = stroke.shape.z;
        // Round ends reach beyond the line's own angle.
        var sweep = TURN;
        if radius > 2.0 * rim {
            sweep = min(abs(stroke.sweep) + 3.2 * rim / (radius - rim), TURN);
        }
        let start = stroke.shape.w + 0.5 * (stroke.sweep - sweep);
        let along = along_circle(index, start, sweep, radius - rim, radius + rim);
        place = stroke.shape.xy + along;
    }
    let sizes = vec2<f32>(stroke.sweep, stroke.width_px);
    return Pixel(clip_from_px(place), place, stroke.shape, sizes, stroke.dash_px, stroke.colour);
}

// Distance along the line from its start, its length, and the distance beside it.
fn along_and_beside(pixel: Pixel) -> vec3<f32> {
    let sweep = pixel.sizes.x;
    if sweep == 0.0 {
        let from_to = pixel.shape.zw - pixel.shape.xy;
        let size = length(from_to);
        let along = from_to / max(size, 1e-6);
        let from_start = pixel.place - pixel.shape.xy;
        let beside = along.x * from_start.y - along.y * from_start.x;
        return vec3<f32>(dot(from_start, along), size, beside);
    }
    let from_centre = pixel.place - pixel.shape.xy;
    let radius = pixel.shape.z;
    // The angle from the middle of the line, -pi to pi, so that the cut lies opposite it.
    let middle = pixel.shape.w + 0.5 * sweep;
    let turned = atan2(from_centre.y, from_centre.x) - middle;
    let angle = turned - TURN * round(turned / TURN);
    let along = radius * (0.5 * abs(sweep) + angle * sign(sweep));
    return vec3<f32>(along, radius * abs(sweep), length(from_centre) - radius);
}

// Distance to the piece of the line from `start` to `end`, both along it.
fn to_piece(pixel: Pixel, place: vec3<f32>, start: f32, end: f32) -> f32 {
    let over = max(max(start - place.x, place.x - end), 0.0);
    if over == 0.0 || pixel.sizes.x == 0.0 {
        return length(vec2<f32>(over, place.z));
    }
    // Past the end of a piece along a circle, the distance to the end itself.
    let end_along = clamp(place.x, start, end);
    let angle = pixel.shape.w + sign(pixel.sizes.x) * end_along / pixel.shape.z;
    let at_end = pixel.shape.xy + pixel.shape.z * vec2<f32>(cos(angle), sin(angle));
    return length(pixel.place - at_end);
}

@fragment
fn fragment(pixel: Pixel) -> @location(0) vec4<f32> {
    let place = along_and_beside(pixel);
    let size = place.y;
    let period = pixel.dash_px.y;
    var distance = 1e6;
    if period <= 0.0 {
        distance = to_piece(pixel, place, 0.0, size);
    } else {
        let first = floor((place.x - pixel.dash_px.z) / period);
        // The dash here, the one before it and the next, each cut off at the line's ends.
        for (var step = -1; step <= 1; step++) {
            let start = (first + f32(step)) * period + pixel.dash_px.z;
            let end = start + pixel.dash_px.x;
            if end >= 0.0 && start <= size {
                distance = min(distance, to_piece(pixel, place, max(start, 0.0), min(end, size)));
            }
        }
    }
    let drawn = max(pixel.sizes.y, 1.0);
    let coverage = inside(distance - 0.5 * drawn) * min(pixel.sizes.y, 1.0);
    return to_target(premultiplied(pixel.colour, coverage));
}
