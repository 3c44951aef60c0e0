//! The setup file: from the text a person writes to checked quantities.
//!
//! [`Setup`] is what stands on the bench. Every value in it is in SI units and has been
//! checked: no later room asks again whether poles are even.

mod model;

pub use model::*;
