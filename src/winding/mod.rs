//! Slots, poles, layouts, the star of slots and winding factors: numbers only.
//!
//! This room comes before `setup`, because a setup whose slots and poles admit no balanced
//! three-phase winding is refused while it is read.

use serde::Serialize;

/// One of the three phases.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub enum Phase {
    /// Phase U.
    U,
    /// Phase V, 120 electrical degrees after U in positive rotation.
    V,
    /// Phase W, 240 electrical degrees after U in positive rotation.
    W,
}

/// One coil side in a slot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct CoilSide {
    /// The phase it belongs to.
    pub phase: Phase,
    /// True for `+`: positive current comes towards the viewer.
    pub towards_viewer: bool,
}
