//! The painters: a [`Scene`](crate::scene::Scene) on the GPU.
//!
//! One kind of thing is one painter and one shader of the same name in `shaders/`: `glow`,
//! `ring_sector`, `quad`, `stroke`, `arrow`, `trace`. Every shape is one instance of four
//! vertices; its outline is a signed distance in pixels, so that it is crisp at every zoom
//! without multisampling. Vertex, instance and uniform buffers are all that is used, which
//! WebGL2 has too.
//!
//! ```text
//! Scene ─► Camera (f64 bench units → f32 pixels from the middle) ─► Batches ─► Painters
//! ```
//!
//! Words are not drawn here: the window lays them over the picture with its own type.

mod batches;
mod camera;
mod instances;
#[cfg(not(target_arch = "wasm32"))]
mod offscreen;
mod painters;

pub use batches::{Batches, Run};
pub use camera::Camera;
pub use instances::Kind;
#[cfg(not(target_arch = "wasm32"))]
pub use offscreen::{Offscreen, OffscreenError};
pub use painters::{Painters, Prepared};
