//! Slots, poles, layouts, the star of slots and winding factors: numbers only.
//!
//! This room comes before `setup`, because a setup whose slots and poles admit no balanced
//! three-phase winding is refused while it is read.
//!
//! The idea is the star of slots: each slot is a unit vector at its electrical angle, a coil
//! side adds it with the sign of its current, and everything else (balance, factors of any
//! order, the place of the magnets at θe = 0) is read from the sum.
//!
//! ```
//! use wyebench::winding::{WindReport, Winding, feasible};
//!
//! assert!(feasible(12, 18).is_err());
//! let winding = Winding::lay_out(12, 10, 2, 1)?;
//! println!("{}", WindReport::of(&winding).text());
//! # Ok::<(), wyebench::winding::WindingError>(())
//! ```
//!
//! Slots are counted from 0 counter-clockwise, slot k at k · 360°/slots; people read them from
//! 1. Absent: turns, wire, slot fill, skew and slot openings, which belong to the machine.

mod balance;
mod build;
mod draft;
mod error;
mod factors;
mod feasible;
mod layout;
mod order;
mod pairing;
mod phasor;
mod report;
mod star_picture;

use std::fmt;

use serde::Serialize;

pub use build::{Coil, Winding};
pub use draft::{Draft, PhaseBalance};
pub use error::WindingError;
pub use factors::{Spoke, WindingFactor};
pub use feasible::{Infeasible, InfeasibleReason, MAX_POLES, MAX_SLOTS, feasible, gcd, lcm};
pub use layout::{LayoutError, LayoutErrorKind, format_layout, parse_layout};
pub use order::{CoilOrder, CoilPath, OrderError};
pub use phasor::Phasor;
pub use report::{WindFlag, WindReport};

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

impl Phase {
    /// U, V, W in that order.
    pub const ALL: [Self; 3] = [Self::U, Self::V, Self::W];

    /// 0 for U, 1 for V, 2 for W.
    #[must_use]
    pub const fn idx(self) -> usize {
        self as usize
    }

    /// The letter: `U`, `V` or `W`.
    #[must_use]
    pub const fn letter(self) -> char {
        match self {
            Self::U => 'U',
            Self::V => 'V',
            Self::W => 'W',
        }
    }
}

impl fmt::Display for Phase {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.letter())
    }
}

/// One coil side in a slot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct CoilSide {
    /// The phase it belongs to.
    pub phase: Phase,
    /// True for `+`: positive current comes towards the viewer.
    pub towards_viewer: bool,
}

impl fmt::Display for CoilSide {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}{}",
            if self.towards_viewer { '+' } else { '-' },
            self.phase
        )
    }
}
