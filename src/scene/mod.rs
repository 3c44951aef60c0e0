//! What to draw: pictures as plain shapes and numbers.
//!
//! A picture is a [`Scene`]: filled and stroked shapes, dashes that run, and words at anchors,
//! from back to front. Nothing here knows a screen. The painters of the window draw a scene on
//! the GPU, [`to_svg`] writes the same scene as a file, and the two are compared in a test.
//!
//! ```text
//!            y                     angles counter-clockwise from the x axis,
//!            │                     lengths in bench units; widths of lines and sizes of type
//!            └── x                 either in bench units or in points of the screen
//! ```
//!
//! - [`machine`]: the cross-section with its currents and fields,
//! - [`bridge`]: the three legs, the supply and the path of the current,
//! - [`curves`]: what a build does against load torque and against duty,
//! - [`developed`]: the winding unrolled, with its cross-overs and leads,
//! - [`dial`]: the mechanical and the electrical angle,
//! - [`hall`]: the Hall sensors over an electrical turn,
//! - [`overlay`]: what an instrument saved over what was simulated,
//! - [`phasors`]: the coil sides of each phase added up,
//! - [`plots`]: waveforms over one time axis,
//! - [`pulls`]: how far each reading is off,
//! - [`scatter`]: marks over two axes,
//! - [`steps`]: the six-step table and the logic strip,
//! - [`Theme`]: every colour, width and size, in one place.

pub mod bridge;
pub mod curves;
pub mod developed;
pub mod dial;
pub mod hall;
pub mod machine;
pub mod overlay;
pub mod phasors;
pub mod plots;
pub mod pulls;
mod scale;
pub mod scatter;
mod shape;
mod shown;
pub mod steps;
mod svg;
mod theme;

pub use shape::*;
pub use shown::Shown;
pub use svg::{SvgParts, to_svg, to_svg_part};
pub use theme::*;
