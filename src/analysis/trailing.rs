//! Measuring while a run goes on: a window that trails behind an instant.
//!
//! A run that is watched has no end to count turns back from. So what flows is summed up turn
//! by electrical turn as it happens, and any whole number of the latest turns makes a window:
//!
//! ```text
//!   turns passed     3     4     5     6     7     8   now
//!   sums          ───┴─────┴─────┴─────┴─────┴─────┴────│
//!   window                 ├──── one mechanical turn ───┤   of four pole pairs
//! ```
//!
//! Where the rotor stands or creeps, sums end after a share of the longest window too, and the
//! window is plain time.

use std::collections::VecDeque;
use std::f64::consts::TAU;

use super::measure::{NOTHING, Sums};
use super::{WindowKind, WindowTotals};
use crate::record::{Event, EventKind};
use crate::sim::{Piece, Sink};

/// Parts of the longest window after which sums end though no turn has passed.
const PARTS: f64 = 32.0;
/// Most stretches kept: at some 200 bytes each 6 MB.
const MOST: usize = 32_768;

/// What flowed between two neighbouring instants.
#[derive(Clone, Copy, Debug)]
struct Stretch {
    start_s: f64,
    end_s: f64,
    /// The electrical turn that was completed (or, backwards, begun) at the end, where one was.
    turn: Option<i64>,
    /// Counts the machines that stood on the bench.
    era: u32,
    pole_pairs: u32,
    sums: Sums,
}

/// A sink that can say the steady figures at any instant not too long ago.
#[derive(Clone, Debug)]
pub struct Trailing {
    longest_s: f64,
    kept: VecDeque<Stretch>,
    open: Stretch,
    /// Electrical turns passed so far; `None` until the first piece.
    turn: Option<i64>,
}

impl Trailing {
    /// For a machine of so many pole pairs, at least 1, and windows of at most `longest_s`
    /// (above 0), as `run.measure` has it.
    #[must_use]
    pub const fn new(pole_pairs: u32, longest_s: f64) -> Self {
        Self {
            longest_s,
            kept: VecDeque::new(),
            open: Stretch {
                start_s: 0.0,
                end_s: 0.0,
                turn: None,
                era: 0,
                pole_pairs,
                sums: NOTHING,
            },
            turn: None,
        }
    }

    /// Another machine is on the bench from now on: no window reaches over this instant.
    pub fn other_machine(&mut self, pole_pairs: u32) {
        self.close(self.open.end_s, None);
        self.turn = None;
        self.open.era += 1;
        self.open.pole_pairs = pole_pairs;
    }

    /// The window that ends at `at_s` or, in whole turns, at the last turn completed before it:
    /// as many mechanical turns as fit into `wish_s`, at least one; where not one fits into the
    /// longest window, electrical turns by the same rule; else plain time, as long as the
    /// longest window. With it the pole pairs of the machine that turned. `None` where nothing
    /// is kept of that time.
    #[must_use]
    pub fn window(&self, at_s: f64, wish_s: f64) -> Option<(WindowTotals, u32)> {
        let n_ended = self.kept.partition_point(|stretch| stretch.end_s <= at_s);
        let last_idx = n_ended.checked_sub(1)?;
        let last = &self.kept[last_idx];
        for (kind, per_turn) in [
            (WindowKind::MechanicalTurns, i64::from(last.pole_pairs)),
            (WindowKind::ElectricalTurns, 1),
        ] {
            if let Some((from_idx, to_idx, turns)) =
                self.whole_turns(last_idx, at_s, wish_s, per_turn)
            {
                let totals = self.sum(from_idx..=to_idx, kind, turns);
                return Some((totals, last.pole_pairs));
            }
        }
        let first_idx = (0..=last_idx)
            .rev()
            .take_while(|idx| {
                let stretch = &self.kept[*idx];
                stretch.era == last.era && last.end_s - stretch.start_s <= self.longest_s
            })
            .last()
            .unwrap_or(last_idx);
        let totals = self.sum(first_idx..=last_idx, WindowKind::Time, 0);
        Some((totals, last.pole_pairs))
    }

    /// First and last stretch of a window of whole turns, and how many.
    fn whole_turns(
        &self,
        last_idx: usize,
        at_s: f64,
        wish_s: f64,
        per_turn: i64,
    ) -> Option<(usize, usize, u32)> {
        let era = self.kept[last_idx].era;
        let turn_at = |idx: usize| {
            let stretch = &self.kept[idx];
            (stretch.era == era).then_some(stretch.turn).flatten()
        };
        let to_idx = (0..=last_idx).rev().find(|idx| turn_at(*idx).is_some())?;
        let (end_s, end_turn) = (self.kept[to_idx].end_s, turn_at(to_idx)?);
        let mut found = None;
        for idx in (0..to_idx).rev() {
            let length_s = end_s - self.kept[idx].end_s;
            if self.kept[idx].era != era
                || length_s > self.longest_s
                || found.is_some() && length_s > wish_s
            {
                break;
            }
            let Some(turn) = turn_at(idx) else { continue };
            let gone = (end_turn - turn).abs();
            // A rotor that has stopped since is not described by the turns before.
            let fresh = at_s - end_s <= 2.0 * length_s;
            if gone > 0 && gone % per_turn == 0 && fresh {
                found = Some((idx + 1, to_idx, u32::try_from(gone / per_turn).ok()?));
            }
        }
        found
    }

    fn sum(
        &self,
        stretches: std::ops::RangeInclusive<usize>,
        kind: WindowKind,
        turns: u32,
    ) -> WindowTotals {
        let span_s = [
            self.kept[*stretches.start()].start_s,
            self.kept[*stretches.end()].end_s,
        ];
        let mut sums = NOTHING;
        for stretch in self.kept.range(stretches) {
            sums.add_sums(&stretch.sums);
        }
        sums.totals(span_s, kind, turns)
    }

    /// Ends the open stretch and begins the next.
    fn close(&mut self, at_s: f64, turn: Option<i64>) {
        if at_s > self.open.start_s {
            self.open.end_s = at_s;
            self.open.turn = turn;
            if self.kept.len() == MOST {
                self.kept.pop_front();
            }
            self.kept.push_back(self.open);
        } else if let (Some(last), Some(_)) = (self.kept.back_mut(), turn) {
            last.turn = turn;
        }
        self.open.start_s = at_s;
        self.open.end_s = at_s;
        self.open.turn = None;
        self.open.sums = NOTHING;
    }

    fn add(&mut self, piece: &Piece<'_>, from_s: f64, to_s: f64) {
        let part_s = self.longest_s / PARTS;
        let mut from_s = from_s;
        while to_s - self.open.start_s > part_s {
            let cut_s = (self.open.start_s + part_s).max(from_s);
            if cut_s <= from_s && self.open.end_s > self.open.start_s {
                self.close(from_s, None);
                continue;
            }
            if cut_s <= from_s {
                break;
            }
            self.open.sums.add(piece, from_s, cut_s);
            self.close(cut_s, None);
            from_s = cut_s;
        }
        if to_s > from_s {
            self.open.sums.add(piece, from_s, to_s);
        }
        self.open.end_s = to_s;
    }
}

impl Sink for Trailing {
    fn piece(&mut self, piece: &Piece<'_>) {
        let (start_s, end_s) = (piece.start_s(), piece.end_s());
        // A piece that ends on a turn has passed it, rounding or not.
        #[expect(clippy::cast_possible_truncation, reason = "turns of a run")]
        let turn_at = |time_s| (piece.theta_elec_rad(time_s) / TAU + 1e-9).floor() as i64;
        let after = turn_at(end_s);
        let before = self.turn.unwrap_or_else(|| turn_at(start_s));
        self.turn = Some(after);
        if before == after {
            self.add(piece, start_s, end_s);
            return;
        }
        #[expect(clippy::cast_precision_loss, reason = "turns of a run")]
        let passed_rad = before.max(after) as f64 * TAU;
        let at_s = piece.time_at_theta_elec(passed_rad).clamp(start_s, end_s);
        self.add(piece, start_s, at_s);
        self.close(at_s, Some(before.max(after)));
        self.add(piece, at_s, end_s);
    }

    fn event(&mut self, event: &Event) {
        if event.kind == EventKind::StepChange {
            self.open.sums.commutations += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::{Setup, built_in};
    use crate::sim::Simulator;

    /// The same run measured at its end by the measuring room and by a trailing window of the
    /// same turns: the same integrals, to the rounding of sums in another order.
    #[test]
    fn a_window_of_the_same_turns_has_the_same_integrals() {
        let mut setup = Setup::parse(built_in(), "built in").unwrap();
        setup.run.duration_s = 0.12;
        setup.run.measure_s = 0.03;
        let mut simulator = Simulator::new(&setup);
        let mut trailing = Trailing::new(7, setup.run.measure_s);
        simulator.run_until(0.12, &mut trailing).unwrap();
        let (ended, pole_pairs) = trailing.window(0.12, setup.run.measure_s).unwrap();
        assert_eq!((ended.kind, pole_pairs), (WindowKind::MechanicalTurns, 7));
        assert!(ended.turns >= 2, "{}", ended.turns);
        // A run that ends where this window ends.
        setup.run.duration_s = ended.end_s;
        let wanted = crate::analysis::run(&setup, &mut ()).window.unwrap();
        assert_eq!(wanted.turns, ended.turns);
        for (what, got, want) in [
            ("start", ended.start_s, wanted.start_s),
            ("angle", ended.angle_mech_rad, wanted.angle_mech_rad),
            ("torque", ended.torque_nm_s, wanted.torque_nm_s),
            ("squares", ended.torque_squared_s, wanted.torque_squared_s),
            ("lowest", ended.torque_min_nm, wanted.torque_min_nm),
            ("highest", ended.torque_max_nm, wanted.torque_max_nm),
            ("energy", ended.supply_energy_j, wanted.supply_energy_j),
            ("copper", ended.copper_j, wanted.copper_j),
        ] {
            assert!(
                (got - want).abs() <= 1e-7 * want.abs(),
                "{what}: {got} {want}"
            );
        }
        assert!(ended.commutations.abs_diff(wanted.commutations) <= 1);
    }

    #[test]
    fn a_short_wish_is_one_turn_and_an_older_instant_has_its_own() {
        let setup = Setup::parse(built_in(), "built in").unwrap();
        let mut simulator = Simulator::new(&setup);
        let mut trailing = Trailing::new(7, 0.2);
        simulator.run_until(0.3, &mut trailing).unwrap();
        let (late, _) = trailing.window(0.3, 0.0).unwrap();
        let (early, _) = trailing.window(0.2, 0.0).unwrap();
        assert_eq!((late.turns, early.turns), (1, 1));
        assert!(early.end_s <= 0.2 && late.end_s > 0.28);
        assert!((late.angle_mech_rad - TAU).abs() < 1e-9);
        // Not one turn is through after 8 ms.
        let (first, _) = trailing.window(0.008, 0.0).unwrap();
        assert_ne!(first.kind, WindowKind::MechanicalTurns);
    }

    #[test]
    fn a_rotor_that_stands_is_measured_over_plain_time() {
        let text = built_in().replace("duty = 0.6", "duty = 0.0");
        let setup = Setup::parse(&text, "still").unwrap();
        let mut simulator = Simulator::new(&setup);
        let mut trailing = Trailing::new(7, 0.2);
        simulator.run_until(0.5, &mut trailing).unwrap();
        let (still, _) = trailing.window(0.5, 0.0).unwrap();
        assert_eq!(still.kind, WindowKind::Time);
        assert_eq!(still.angle_mech_rad, 0.0);
        assert!((still.end_s - still.start_s - 0.2).abs() < 0.01);
    }

    #[test]
    fn no_window_reaches_over_another_machine() {
        let setup = Setup::parse(built_in(), "built in").unwrap();
        let mut simulator = Simulator::new(&setup);
        let mut trailing = Trailing::new(7, 0.2);
        simulator.run_until(0.1, &mut trailing).unwrap();
        trailing.other_machine(7);
        simulator.run_until(0.13, &mut trailing).unwrap();
        let (window, _) = trailing.window(0.13, 0.2).unwrap();
        assert!(window.start_s >= 0.1, "{}", window.start_s);
    }
}
