//! The drive: six-step table, commutators, PWM and the states of the bridge.

pub mod clocks;
pub mod hall;
pub mod steps;

use serde::Serialize;

/// What the gates of one leg say: the value characters of IEEE 1364 in text and exports.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
pub enum LegState {
    /// Lower switch on: `0`.
    Low,
    /// Upper switch on: `1`.
    High,
    /// Both switches off: `z`.
    Floating,
}

impl LegState {
    /// The character of IEEE 1364: `1`, `0` or `z`.
    #[must_use]
    pub const fn character(self) -> char {
        match self {
            Self::Low => '0',
            Self::High => '1',
            Self::Floating => 'z',
        }
    }
}
