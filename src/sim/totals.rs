//! Sums that a run keeps: its work, and where the energy went.

use super::flows::Flows;

/// How much work a run was.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Work {
    /// Smooth pieces.
    pub n_pieces: u64,
    /// Pieces that ended in an event located by a root search.
    pub n_located: u64,
    /// Step changes.
    pub n_commutations: u64,
    /// Sum of the orders of all pieces.
    pub n_orders: u64,
    /// Decisions about legs at zero current that needed a comparison of candidates.
    pub n_decisions: u64,
}

/// Energy gone where since the start of the run, in J.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Totals {
    /// Flows summed up.
    pub flows: Flows,
    /// Energy that changes of the bench put in by hand.
    pub by_hand_j: f64,
    /// Energy through the bridge, counted positive both ways, piece by piece.
    pub turnover_j: f64,
    /// Lowest voltage across the bridge at either end of any piece, in V.
    pub lowest_bridge_v: f64,
}

/// Energy stored at an instant, in J.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stored {
    /// In inductances.
    pub magnetic_j: f64,
    /// In the capacitor across the bridge.
    pub capacitor_j: f64,
    /// In the turning masses.
    pub kinetic_j: f64,
    /// In cogging, as in a spring.
    pub cogging_j: f64,
}
