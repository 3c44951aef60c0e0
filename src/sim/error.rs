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
            } => write!(
                f,
                "the run stopped at t = {at_s:.9} s: {n_events} events within {within_s:.1e} s; the drive or the \
                 rotor chatters between two states. Dry friction, inertia or less advance would end it"
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
