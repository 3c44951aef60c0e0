//! The strip of the legs' states, from the events.

use super::Picture;
use super::axis::Axis;
use crate::drive::LegState;
use crate::scene::steps::leg_state;
use crate::scene::{Align, Colour, Edge, LINE_THIN, Scene, Shape, TYPE_POINTS, Width, at};
use crate::winding::Phase;

/// States of a leg within a column, one bit each.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Mask(u8);

impl Mask {
    const fn of(state: LegState) -> Self {
        Self(match state {
            LegState::High => 1,
            LegState::Low => 2,
            LegState::Floating => 4,
        })
    }

    /// The state, where it is one.
    const fn one(self) -> Option<LegState> {
        match self.0 {
            1 => Some(LegState::High),
            2 => Some(LegState::Low),
            4 => Some(LegState::Floating),
            _ => None,
        }
    }

    const fn holds(self, state: LegState) -> bool {
        self.0 & Self::of(state).0 != 0
    }
}

/// A stretch of the axis, as shares, in which what a leg does stays the same.
type Span = (f64, f64, Mask);

/// Events of a column that are looked at; chopping shows all its states within two periods.
const MOST_EVENTS: usize = 8;

impl Picture<'_> {
    /// Three lanes, one for each leg.
    pub(super) fn legs(&self, scene: &mut Scene, top: f64, bottom: f64) {
        let lane = (top - bottom) / 3.0;
        let spans = self.leg_spans();
        for (leg, phase) in Phase::ALL.into_iter().enumerate() {
            let top = top - lane * super::count(leg);
            let bottom = top - 0.8 * lane;
            scene.push(Shape::text(
                at(self.left - 6.0, top.midpoint(bottom)),
                phase.letter(),
                Width::Points(TYPE_POINTS[0]),
                Align::Right,
                self.theme.phase(phase),
            ));
            for (from, to, mask) in &spans[leg] {
                let (low, high) = (at(self.x(*from), bottom), at(self.x(*to), top));
                match mask.one() {
                    Some(state) => leg_state(scene, low, high, state, true, self.theme),
                    None => self.chopped(scene, low, high, *mask),
                }
            }
        }
    }

    /// Several states in turn, too close to be told apart: quieter, all that occur.
    fn chopped(
        &self,
        scene: &mut Scene,
        low: crate::scene::Point,
        high: crate::scene::Point,
        mask: Mask,
    ) {
        let third = (high.y - low.y) / 3.0;
        let ink = self.theme.ink_soft;
        let mut bar = |from: f64, to: f64, fill: Colour, edge: Option<Edge>| {
            scene.push(Shape::rect(
                at(low.x, from),
                at(high.x, to),
                0.0,
                fill,
                edge,
            ));
        };
        if mask.holds(LegState::High) {
            bar(high.y - third, high.y, ink, None);
        }
        if mask.holds(LegState::Low) {
            bar(low.y, low.y + third, ink, None);
        }
        if mask.holds(LegState::Floating) {
            let edge = Edge {
                width: Width::Points(LINE_THIN),
                colour: ink,
            };
            bar(low.y + third, high.y - third, Colour::CLEAR, Some(edge));
        }
    }

    fn leg_spans(&self) -> [Vec<Span>; 3] {
        let mut spans: [Vec<Span>; 3] = Default::default();
        let mut push = |from: f64, to: f64, masks: [Mask; 3]| {
            for (spans, mask) in spans.iter_mut().zip(masks) {
                match spans.last_mut() {
                    Some(last) if last.2 == mask && (last.1 - from).abs() < 1e-9 => last.1 = to,
                    _ if to > from => spans.push((from, to, mask)),
                    _ => {}
                }
            }
        };
        // The last sweep is the one that goes on; before it only the one that it completes.
        let tape = self.view.tape;
        let mut covered = vec![false; self.sweeps.first().map_or(0, Vec::len)];
        let mut chosen: Vec<(usize, usize)> = Vec::new();
        for (sweep_idx, sweep) in self.sweeps.iter().enumerate().rev().take(2) {
            for column in 0..sweep.len().saturating_sub(1) {
                let there = sweep[column].is_some() && sweep[column + 1].is_some();
                if there && !covered[column] {
                    covered[column] = true;
                    chosen.push((column, sweep_idx));
                }
            }
        }
        chosen.sort_unstable();
        let n_columns = super::count(covered.len().saturating_sub(1).max(1));
        for (column, sweep_idx) in chosen {
            let sweep = &self.sweeps[sweep_idx];
            let (Some(a), Some(b)) = (sweep[column], sweep[column + 1]) else {
                continue;
            };
            let (from_s, to_s) = (a.time_s.min(b.time_s), a.time_s.max(b.time_s));
            let Some((_, start)) = tape.gates_at(from_s) else {
                continue;
            };
            let (left, right) = (
                super::count(column) / n_columns,
                super::count(column + 1) / n_columns,
            );
            let events: Vec<_> = tape
                .events_between(from_s, to_s, MOST_EVENTS)
                .filter(|event| event.time_s < to_s)
                .collect();
            let changes = |leg: usize| {
                let mut last = start[leg];
                events
                    .iter()
                    .filter(|event| {
                        std::mem::replace(&mut last, event.legs[leg]) != event.legs[leg]
                    })
                    .count()
            };
            let exact =
                matches!(self.view.axis, Axis::Time { .. }) && (0..3).all(|leg| changes(leg) <= 1);
            if exact && !events.is_empty() {
                // One change at its very place.
                let (mut from, mut legs) = (left, start);
                for event in &events {
                    let at = left + (event.time_s - from_s) / (to_s - from_s) * (right - left);
                    push(from, at, legs.map(Mask::of));
                    (from, legs) = (at, event.legs);
                }
                push(from, right, legs.map(Mask::of));
            } else {
                let masks = std::array::from_fn(|leg| {
                    let all = events.iter().map(|event| Mask::of(event.legs[leg]).0);
                    Mask(all.fold(Mask::of(start[leg]).0, |mask, bit| mask | bit))
                });
                push(left, right, masks);
            }
        }
        spans
    }
}
