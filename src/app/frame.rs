//! What the window shows at one instant.

use crate::record::Sample;

/// Everything that is read from the record for one picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Frame {
    /// The solution at the cursor.
    pub now: Sample,
    /// First and last instant on record, in s.
    pub recorded_s: [f64; 2],
}
