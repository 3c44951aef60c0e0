//! The six steps.
//!
//! | step | θe | U | V | W |
//! |---|---|---|---|---|
//! | 1 | 30°–90° | 1 | 0 | z |
//! | 2 | 90°–150° | 1 | z | 0 |
//! | 3 | 150°–210° | z | 1 | 0 |
//! | 4 | 210°–270° | 0 | 1 | z |
//! | 5 | 270°–330° | 0 | z | 1 |
//! | 6 | 330°–30° | z | 0 | 1 |
//!
//! Positive rotation, no advance. Reverse rotation runs the table backwards with 1 and 0
//! exchanged.

use super::LegState;
use crate::setup::{Chop, Direction, Gates};

/// High, low and floating leg (0 U, 1 V, 2 W) of steps 1 to 6 in positive rotation.
const TABLE: [[u8; 3]; 6] = [
    [0, 1, 2],
    [0, 2, 1],
    [1, 2, 0],
    [1, 0, 2],
    [2, 0, 1],
    [2, 1, 0],
];

/// The active legs of one step, as indices 0 U, 1 V, 2 W.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ActiveLegs {
    /// The leg whose upper switch is on.
    pub high: usize,
    /// The leg whose lower switch is on.
    pub low: usize,
    /// The leg with both switches off.
    pub floating: usize,
}

/// The active legs of a step given by a running count (any integer; 0 is step 1).
#[must_use]
pub fn active_legs(step_count: i64, direction: Direction) -> ActiveLegs {
    let [first, second, floating] = TABLE[step_idx(step_count)].map(usize::from);
    match direction {
        Direction::Forward => ActiveLegs {
            high: first,
            low: second,
            floating,
        },
        Direction::Reverse => ActiveLegs {
            high: second,
            low: first,
            floating,
        },
    }
}

/// The step number 1 to 6 of a running count.
#[must_use]
pub fn step_number(step_count: i64) -> u8 {
    [1, 2, 3, 4, 5, 6][step_idx(step_count)]
}

/// What the gates of the three legs say, U V W.
///
/// `on_part` is true in the on part of the PWM period, and always without PWM.
#[must_use]
pub fn leg_states(active: ActiveLegs, gates: Gates, chop: Chop, on_part: bool) -> [LegState; 3] {
    match gates {
        Gates::AllOff => [LegState::Floating; 3],
        Gates::AllLow => [LegState::Low; 3],
        Gates::Stepping => {
            let (high, low) = match (on_part, chop) {
                (true, _) => (LegState::High, LegState::Low),
                (false, Chop::HighSide) => (LegState::Floating, LegState::Low),
                (false, Chop::HighSideSynchronous) => (LegState::Low, LegState::Low),
                (false, Chop::BothSides) => (LegState::Floating, LegState::Floating),
            };
            let mut legs = [LegState::Floating; 3];
            legs[active.high] = high;
            legs[active.low] = low;
            legs
        }
    }
}

fn step_idx(step_count: i64) -> usize {
    usize::try_from(step_count.rem_euclid(6)).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The table of the conventions page, as text.
    #[test]
    fn six_steps_read_as_the_table() {
        let text = |direction, on| -> Vec<String> {
            (0..6)
                .map(|n| {
                    leg_states(
                        active_legs(n, direction),
                        Gates::Stepping,
                        Chop::HighSide,
                        on,
                    )
                    .map(LegState::character)
                    .iter()
                    .collect()
                })
                .collect()
        };
        assert_eq!(
            text(Direction::Forward, true),
            ["10z", "1z0", "z10", "01z", "0z1", "z01"]
        );
        assert_eq!(
            text(Direction::Reverse, true),
            ["01z", "0z1", "z01", "10z", "1z0", "z10"]
        );
        assert_eq!(
            text(Direction::Forward, false),
            ["z0z", "zz0", "zz0", "0zz", "0zz", "z0z"]
        );
    }
}
