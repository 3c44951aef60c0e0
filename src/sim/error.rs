//! What a run cannot go through.

use std::fmt;

/// Why a run stopped before its end. What was recorded until then is kept.
#[derive(Clone, Debug, PartialEq)]
pub enum RunError {
    /// Events follow each other without time passing (Zeno's paradox, or chatter).
    Chatter {
        /// Where it happened, in s.
        at_s: f64,
        /// Events in the last moment.
        n_events: u32,
        /// Length of that moment in s.
        within_s: f64,
        /// Speed of the rotor there in rad/s.
        speed_rad_s: f64,
    },
    /// The solution changes so fast by itself that next to no time passes in a piece.
    Stiff {
        /// Where it happened, in s.
        at_s: f64,
        /// Pieces in the last moment.
        n_pieces: u32,
        /// Length of that moment in s.
        within_s: f64,
        /// Speed of the rotor there in rad/s.
        speed_rad_s: f64,
    },
    /// A quantity left the range of numbers.
    Overflow {
        /// Where it happened, in s.
        at_s: f64,
        /// Which quantity.
        quantity: &'static str,
    },
}

impl fmt::Display for RunError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Chatter {
                at_s,
                n_events,
                within_s,
                speed_rad_s,
            } => write!(
                f,
                "the run stopped at t = {at_s:.9} s: {n_events} events within {within_s:.1e} s, at {:.3e} rpm. Either a \
                 load drives the rotor faster and faster (see load.gravity, machine.rotor.inertia and the EMF \
                 constant), or drive and rotor chatter between two states (dry friction, inertia or less advance \
                 would end it)",
                speed_rad_s * 30.0 / std::f64::consts::PI
            ),
            Self::Stiff {
                at_s,
                n_pieces,
                within_s,
                speed_rad_s,
            } => write!(
                f,
                "the run stopped at t = {at_s:.9} s: {n_pieces} pieces of the solution within {within_s:.1e} s, at {:.3e} rpm: \
                 something changes within less than a nanosecond. Check what is very small (machine.rotor.inertia, \
                 machine.phase.inductance, supply.capacitance) against what is very large (load.quadratic, \
                 machine.phase.resistance)",
                speed_rad_s * 30.0 / std::f64::consts::PI
            ),
            Self::Overflow { at_s, quantity } => write!(
                f,
                "the run stopped at t = {at_s:.9} s: the {quantity} left the range of numbers. A load that drives \
                 the shaft without limit does that; check load.gravity, the inertia and the constants"
            ),
        }
    }
}

impl std::error::Error for RunError {}
