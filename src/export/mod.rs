//! Files that a run leaves: waveforms, logic traces and pictures.
//!
//! Each is made in memory or into any writer; whoever calls decides where it goes. The same
//! run gives the same bytes: no date, no machine name, no order that may change.
//!
//! - [`csv`]: the sampled waveforms, the columns of the setup format,
//! - [`handout`]: lessons on paper, one HTML page,
//! - [`report`]: a prediction, a check or a capture on paper, one HTML page,
//! - [`vcd`]: the legs and the step as a value change dump (IEEE 1364),
//! - [`strips`]: a picture of a run, SVG, and [`picture`] the same as PNG,
//! - [`sheet`]: pictures of the bench at one instant, side by side.

pub mod csv;
pub mod handout;
pub(crate) mod page;
pub mod picture;
pub mod report;
pub mod sheet;
pub mod strips;
#[cfg(test)]
pub(crate) mod synthetic;
pub mod vcd;
