// A piece of a ring with rounded corners, a whole ring, or a disc.
// Inputs in pixels from the middle of the picture, angles in rad.
struct RingSector {
    @location(0) centre: vec2<f32>,
    // Inner and outer radius; inner below 0: a disc.
    @location(1) radii: vec2<f32>,
    // Direction of the middle, as cosine and sine.
    @location(2) middle: vec2<f32>,
    // Half the angle it covers; above pi: the whole ring.
    @location(3) half_angle: f32,
    @location(4) corner: f32,
    @location(5) edge_px: f32,
    @location(6) fill: vec4<f32>,
    @location(7) edge: vec4<f32>,
}

struct Pixel {
    @builtin(position) clip: vec4<f32>,
    // In the sector's axes: x along its middle.
    @location(0) place: vec2<f32>,
    @location(1) @interpolate(flat) radii: vec2<f32>,
    // Half angle, corner, width of the edge.
    @location(2) @interpolate(flat) sizes: vec3<f32>,
    @location(3) @interpolate(flat) fill: vec4<f32>,
    @location(4) @interpolate(flat) edge: vec4<f32>,
}

const QUARTER_TURN: f32 = 1.5707963;
const HALF_TURN: f32 = 3.1415927;

@vertex
fn vertex(sector: RingSector, @builtin(vertex_index) index: u32) -> Pixel {
    let rim = RIM_PX + 0.5 * sector.edge_px;
    let outer = sector.radii.y;
    let inner = sector.radii.x - rim;
    var place: vec2<f32>;
    if sector.half_angle < QUARTER_TURN {
        // The box round the sector in its own axes.
        let side = outer * sin(sector.half_angle);
        let low = vec2<f32>(max(sector.radii.x, 0.0) * cos(sector.half_angle), -side);
        let high = vec2<f32>(outer, side);
        let share = corner_of(index) * 0.5 + 0.5;
        place = mix(low - rim, high + rim, share);
    } else {
        // Beyond its sides the rim takes a wider angle, the wider the nearer to the middle.
        var half_sweep = HALF_TURN;
        if inner > rim {
            half_sweep = min(sector.half_angle + 1.6 * rim / inner, HALF_TURN);
        }
        place = along_circle(index, -half_sweep, 2.0 * half_sweep, inner, outer + rim);
    }
    let x = sector.middle;
    let turned = x * place.x + vec2<f32>(-x.y, x.x) * place.y;
    return Pixel(
        clip_from_px(sector.centre + turned),
        place,
        sector.radii,
        vec3<f32>(sector.half_angle, sector.corner, sector.edge_px),
        sector.fill,
        sector.edge,
    );
}

@fragment
fn fragment(pixel: Pixel) -> @location(0) vec4<f32> {
    let radius = length(pixel.place);
    let middle = 0.5 * (pixel.radii.x + pixel.radii.y);
    let across = abs(radius - middle) - 0.5 * (pixel.radii.y - pixel.radii.x);
    var distance = across;
    if pixel.sizes.x < HALF_TURN {
        // Both sides are one after folding; the side is a ray from the centre.
        let folded = vec2<f32>(pixel.place.x, abs(pixel.place.y));
        let ray = vec2<f32>(cos(pixel.sizes.x), sin(pixel.sizes.x));
        let beside = dot(folded, vec2<f32>(-ray.y, ray.x));
        // The two outlines meet at right angles, so corners round like those of a box.
        let both = vec2<f32>(across, beside) + pixel.sizes.y;
        distance = length(max(both, vec2<f32>(0.0))) + min(max(both.x, both.y), 0.0) - pixel.sizes.y;
    }
    return to_target(filled(pixel.fill, pixel.edge, distance, pixel.sizes.z));
}
