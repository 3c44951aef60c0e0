//! What to draw: pictures as plain shapes and numbers.
//!
//! - [`Theme`]: every colour, width and size, in one place.

mod theme;

pub use theme::*;

/// Dashes along a line, with round ends, in bench units from the line's start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dash {
    /// Length of a dash without its round ends; 0 draws dots.
    pub on: f64,
    /// From the start of one dash to the start of the next; above 0.
    pub period: f64,
    /// Where the first dash starts; let it grow and the dashes run along the line.
    pub offset: f64,
}
