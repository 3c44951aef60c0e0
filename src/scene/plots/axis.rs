//! The common axis: time, or the electrical angle with several turns laid over each other.

use crate::record::{Mark, Quantity, Tape};

const TURN: f64 = std::f64::consts::TAU;

/// What lies to the right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Axis {
    /// Time in s.
    Time {
        /// Left end.
        from: f64,
        /// Right end, after `from`.
        to: f64,
    },
    /// Electrical angle in degrees; the last turns up to now lie over each other.
    Angle {
        /// Left end.
        from: f64,
        /// Right end, after `from`.
        to: f64,
        /// How many turns.
        turns: u32,
    },
}

impl Axis {
    /// Both ends.
    #[must_use]
    pub const fn ends(&self) -> [f64; 2] {
        match *self {
            Self::Time { from, to } | Self::Angle { from, to, .. } => [from, to],
        }
    }

    /// 0 at the left end, 1 at the right.
    #[must_use]
    pub fn share(&self, place: f64) -> f64 {
        let [from, to] = self.ends();
        (place - from) / (to - from).max(1e-15)
    }

    /// The place on the axis at a share of its length.
    #[must_use]
    pub fn place(&self, share: f64) -> f64 {
        let [from, to] = self.ends();
        from + share * (to - from)
    }

    /// Where an instant of the run lies on the axis; `None` where nothing is on record then.
    #[must_use]
    pub fn place_of(&self, time_s: f64, tape: &Tape) -> Option<f64> {
        match self {
            Self::Time { .. } => Some(time_s),
            Self::Angle { .. } => {
                let angle = tape.value(crate::record::Trace::Of(Quantity::ThetaElec), time_s)?;
                Some(angle.to_degrees().rem_euclid(360.0))
            }
        }
    }
}

/// A turn of the electrical angle, from 0° to 360°, or the part of it that is on record.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ElectricalTurn {
    /// When it began, in s.
    pub from_s: f64,
    /// When it ended, or now.
    pub to_s: f64,
    /// Angle at its 0° in rad, not wrapped.
    pub zero_rad: f64,
}

/// The turns up to `now_s`, the one that goes on first, at most that many.
#[must_use]
pub fn electrical_turns(tape: &Tape, now_s: f64, most: u32) -> Vec<ElectricalTurn> {
    let mut turns = Vec::new();
    let angle = |time_s: f64| tape.value(crate::record::Trace::Of(Quantity::ThetaElec), time_s);
    let (Some(range_s), Some(now_rad)) = (tape.range_s(), angle(now_s)) else {
        return turns;
    };
    let mut count = libm::floor(now_rad / TURN);
    let (mut to_s, mut to_rad) = (now_s.clamp(range_s[0], range_s[1]), now_rad);
    while turns.len() < most as usize {
        // Which way the rotor came here; how far back the turn began.
        let before_s = to_s - 1e-6 * (to_s - range_s[0]).min(1e-3);
        let came_up = angle(before_s).is_none_or(|before_rad| before_rad <= to_rad);
        let edge_rad = (if came_up { count } else { count + 1.0 }) * TURN;
        let back_rad = (to_rad - edge_rad).abs();
        let next = if came_up { -1.0 } else { 1.0 };
        if back_rad < 1e-9 {
            // Just on an edge: what came before is the neighbour.
            count += next;
            if back_rad == 0.0 && to_s <= range_s[0] {
                break;
            }
            to_rad = edge_rad - next * 1e-8;
            continue;
        }
        let began_s = tape.turned(Quantity::ThetaElec, to_s, back_rad, false);
        let from_s = began_s.unwrap_or(range_s[0]);
        if from_s >= to_s {
            break;
        }
        turns.push(ElectricalTurn {
            from_s,
            to_s,
            zero_rad: count * TURN,
        });
        if began_s.is_none() {
            break;
        }
        (to_s, to_rad) = (from_s, edge_rad);
        count += next;
    }
    turns
}

/// One run of the curves over the axis: a mark at each edge of each column, `None` where the
/// axis is not on record.
pub(super) type Sweep = Vec<Option<Mark>>;

/// The sweeps of an axis with that many columns, oldest first.
pub(super) fn sweeps(axis: &Axis, tape: &Tape, now_s: f64, n_columns: usize) -> Vec<Sweep> {
    #[expect(clippy::cast_precision_loss, reason = "a number of columns")]
    let place = |edge: usize| axis.place(edge as f64 / n_columns.max(1) as f64);
    match axis {
        Axis::Time { .. } => vec![time_sweep(tape, 0.0, n_columns, place)],
        Axis::Angle { turns, .. } => electrical_turns(tape, now_s, turns + 1)
            .iter()
            .rev()
            .map(|turn| turn_sweep(tape, turn, n_columns, place))
            .collect(),
    }
}

/// A sweep of a tape on which everything happened `later_s` earlier than where it is shown.
pub(super) fn time_sweep(
    tape: &Tape,
    later_s: f64,
    n_columns: usize,
    place: impl Fn(usize) -> f64,
) -> Sweep {
    let Some([first_s, last_s]) = tape.range_s() else {
        return vec![None; n_columns + 1];
    };
    let column_s = place(1) - place(0);
    let mut last: Option<Mark> = None;
    (0..=n_columns)
        .map(|edge| {
            let time_s = place(edge) - later_s;
            // The record's ends need not lie on an edge.
            let near = time_s > first_s - column_s && time_s < last_s + column_s;
            let time_s = time_s.clamp(first_s, last_s);
            last = near.then(|| match last {
                Some(earlier) => tape.mark_after(earlier, time_s),
                None => tape.mark(time_s),
            });
            last
        })
        .collect()
}

fn turn_sweep(
    tape: &Tape,
    turn: &ElectricalTurn,
    n_columns: usize,
    place: impl Fn(usize) -> f64,
) -> Sweep {
    let angle = |time_s: f64| {
        tape.value(crate::record::Trace::Of(Quantity::ThetaElec), time_s)
            .unwrap_or(turn.zero_rad)
    };
    let ends = [angle(turn.from_s), angle(turn.to_s)];
    let (low, high) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
    let column_rad = (place(1) - place(0)).to_radians();
    (0..=n_columns)
        .map(|edge| {
            let wanted = turn.zero_rad + place(edge).to_radians();
            let near = wanted > low - column_rad && wanted < high + column_rad;
            near.then(|| {
                let wanted = wanted.clamp(low, high);
                tape.mark(tape.instant_of(Quantity::ThetaElec, wanted, turn.from_s, turn.to_s))
            })
        })
        .collect()
}
