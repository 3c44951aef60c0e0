//! What a run leaves: samples of the solution and the list of events.
//!
//! [`Record`] keeps them: one [`Channel`] per quantity, each under a [`Pyramid`] of minima and
//! maxima, so that a peak is seen at every zoom without walking over all samples. [`Tape`] keeps
//! the last stretch of a run that goes on while it is watched.

mod channel;
mod keep;

pub use channel::{Channel, MinMax, Pyramid};
pub use keep::{Quantity, Record};

mod sampler;
mod tape;
mod taping;

pub use crate::sim::{Event, EventKind, Sample};
pub use sampler::Sampler;
pub use tape::{Mark, Tape, Trace};
pub use taping::Taping;
