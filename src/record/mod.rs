//! What a run leaves: samples of the solution and the list of events.
//!
//! [`Record`] keeps them: one [`Channel`] per quantity, each under a [`Pyramid`] of minima and
//! maxima, so that a peak is seen at every zoom without walking over all samples.

mod channel;
mod keep;

pub use channel::{Channel, MinMax, Pyramid};
pub use keep::{Quantity, Record};

mod sampler;

pub use crate::sim::{Event, EventKind, Sample};
pub use sampler::Sampler;
