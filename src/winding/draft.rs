//! A layout while a person changes it, coil side by coil side: out of balance most of the time.
//!
//! [`Winding`] is balanced whatever made it. A draft need not be: it says of each phase how far it
//! is off, so that the way back can be seen, and becomes a winding once nothing is off.

use std::f64::consts::TAU;

use super::factors::side_sum;
use super::phasor::{Phasor, wrapped};
use super::{CoilSide, Phase, Winding, WindingError};

/// A layout in the making.
#[derive(Clone, Debug, PartialEq)]
pub struct Draft {
    slots: u32,
    poles: u32,
    layers: u32,
    sides: Vec<CoilSide>,
    /// The other side of the coil that a side belongs to, by index; empty where coils of one span
    /// were not known.
    partners: Vec<usize>,
}

/// One phase of a draft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PhaseBalance {
    /// Which.
    pub phase: Phase,
    /// Sides with `+`.
    pub towards: usize,
    /// Sides with `-`.
    pub away: usize,
    /// The sum of its side phasors for the fundamental over a third of all sides: its length is
    /// the winding factor where the phase has its fair share of them.
    pub phasor: Phasor,
    /// How many electrical degrees it is from its place beside the reference, in the sense of
    /// rotation that the draft is nearest to; −180 to 180. 0 where a phase links nothing.
    pub off_deg: f64,
    /// True for the phase that the others are seen from: the one that most of them agree with.
    pub is_reference: bool,
}

/// Lengths and angles in rad below this are none.
const NOTHING: f64 = 1e-9;

impl Draft {
    /// Begins with a winding as it is.
    #[must_use]
    pub fn of(winding: &Winding) -> Self {
        let layers = winding.layers();
        let mut partners = vec![usize::MAX; winding.sides().len()];
        for coil in winding.coils() {
            let place = |slot: u32, side: CoilSide, later: bool| {
                let first = (slot * layers) as usize;
                let mut places = first..first + layers as usize;
                let free = |place: &usize| {
                    winding.sides()[*place] == side && partners[*place] == usize::MAX
                };
                // As laid out, a coil starts in the later entry of its slot and ends in the
                // earlier one.
                if later {
                    places.rev().find(free)
                } else {
                    places.find(free)
                }
            };
            let ends = place(coil.from_slot, coil.first_side(), true).zip(place(
                coil.to_slot,
                coil.second_side(),
                false,
            ));
            if let Some((from, to)) = ends {
                partners[from] = to;
                partners[to] = from;
            }
        }
        if partners.contains(&usize::MAX) {
            partners.clear();
        }
        Self {
            slots: winding.slots(),
            poles: winding.poles(),
            layers,
            sides: winding.sides().to_vec(),
            partners,
        }
    }

    /// Slots of the stator.
    #[must_use]
    pub const fn slots(&self) -> u32 {
        self.slots
    }

    /// Poles of the rotor.
    #[must_use]
    pub const fn poles(&self) -> u32 {
        self.poles
    }

    /// Coil sides in a slot.
    #[must_use]
    pub const fn layers(&self) -> u32 {
        self.layers
    }

    /// All coil sides, slot by slot, [`layers`](Self::layers) in each.
    #[must_use]
    pub fn sides(&self) -> &[CoilSide] {
        &self.sides
    }

    /// The place of the other side of the same coil; `None` where coils are not known.
    #[must_use]
    pub fn partner(&self, place: usize) -> Option<usize> {
        self.partners.get(place).copied()
    }

    /// Puts a side into its place; with `whole_coil` the other side of the coil follows, with the
    /// opposite sign. False where that changes nothing, or there is no such place.
    pub fn put(&mut self, place: usize, side: CoilSide, whole_coil: bool) -> bool {
        let before = self.sides.clone();
        if let Some(here) = self.sides.get_mut(place) {
            *here = side;
        }
        if let (true, Some(other)) = (whole_coil, self.partner(place)) {
            self.sides[other] = CoilSide {
                phase: side.phase,
                towards_viewer: !side.towards_viewer,
            };
        }
        self.sides != before
    }

    /// The side that comes after one when a place is asked for the next: +U, −U, +V, −V, +W, −W,
    /// and +U again.
    #[must_use]
    pub const fn next(side: CoilSide) -> CoilSide {
        CoilSide {
            phase: match (side.phase, side.towards_viewer) {
                (phase, true) => phase,
                (Phase::U, false) => Phase::V,
                (Phase::V, false) => Phase::W,
                (Phase::W, false) => Phase::U,
            },
            towards_viewer: !side.towards_viewer,
        }
    }

    /// How the three phases stand to each other, U, V, W.
    #[must_use]
    pub fn balance(&self) -> [PhaseBalance; 3] {
        #[expect(clippy::cast_precision_loss, reason = "a few thousand sides")]
        let share = self.sides.len() as f64 / 3.0;
        let phasors = Phase::ALL.map(|phase| self.phasor(phase, 1).over(share));
        let linked = phasors.map(|phasor| phasor.magnitude() > NOTHING);
        let off_rad = |idx: usize, from: usize, sense: f64| {
            if !linked[from] || !linked[idx] {
                return 0.0;
            }
            #[expect(clippy::cast_precision_loss, reason = "0, 1, 2")]
            let place = sense * TAU * (idx as f64 - from as f64) / 3.0;
            wrapped(phasors[idx].angle_rad() - phasors[from].angle_rad() - place)
        };
        // Seen from the phase that most others agree with, in the sense in which they do.
        let disagreement = |from: usize, sense: f64| {
            let mut worst = [0.0, 0.0];
            for idx in 0..3 {
                let longer = phasors[idx].magnitude() - phasors[from].magnitude();
                let off = off_rad(idx, from, sense).abs();
                worst[0] += f64::from(u8::from(off > NOTHING || longer.abs() > NOTHING));
                worst[1] += off + longer.abs();
            }
            worst
        };
        let mut best = (0, 1.0);
        for from in (0..3).filter(|from| linked[*from]) {
            for sense in [1.0, -1.0] {
                let [n_off, off] = disagreement(from, sense);
                let [n_best, least] = disagreement(best.0, best.1);
                // Of two that agree alike, rounding apart, the first.
                if n_off < n_best || (n_off <= n_best && off < least - NOTHING) {
                    best = (from, sense);
                }
            }
        }
        let (from, sense) = best;
        Phase::ALL.map(|phase| {
            let count = |towards: bool| {
                let alike =
                    |side: &&CoilSide| side.phase == phase && side.towards_viewer == towards;
                self.sides.iter().filter(alike).count()
            };
            PhaseBalance {
                phase,
                towards: count(true),
                away: count(false),
                phasor: phasors[phase.idx()],
                off_deg: off_rad(phase.idx(), from, sense).to_degrees(),
                is_reference: phase.idx() == from,
            }
        })
    }

    /// Sum of the coil-side phasors of a phase for order n of the field, as
    /// [`Winding::phasor`](Winding::phasor).
    #[must_use]
    pub fn phasor(&self, phase: Phase, order: u32) -> Phasor {
        let order_mech = u64::from(order) * u64::from(self.poles / 2);
        side_sum(self.slots, self.layers, &self.sides, phase, order_mech)
    }

    /// Angle and sign of each side of a phase for the fundamental, in the order of the slots: what
    /// [`phasor`](Self::phasor) adds up.
    #[must_use]
    pub fn spokes(&self, phase: Phase) -> Vec<Phasor> {
        let (slots, pairs) = (u64::from(self.slots), u64::from(self.poles / 2));
        let per_slot = self.sides.chunks_exact(self.layers as usize);
        let mut spokes = Vec::new();
        for (slot, sides) in (0..slots).zip(per_slot) {
            for side in sides.iter().filter(|side| side.phase == phase) {
                let unit = Phasor::at_turn(pairs * slot % slots, slots);
                spokes.push(unit.signed(side.towards_viewer));
            }
        }
        spokes
    }

    /// The winding that it is.
    ///
    /// # Errors
    /// What is out of balance, as [`Winding::from_layout`].
    pub fn winding(&self) -> Result<Winding, WindingError> {
        Winding::from_layout(self.slots, self.poles, self.layers, &self.sides)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn side(phase: Phase, towards_viewer: bool) -> CoilSide {
        CoilSide {
            phase,
            towards_viewer,
        }
    }

    #[test]
    fn an_untouched_draft_is_the_winding_it_came_from() {
        for (slots, poles, layers, span) in
            [(12, 14, 2, 1), (9, 6, 2, 1), (24, 4, 2, 5), (12, 10, 1, 1)]
        {
            let winding = Winding::lay_out(slots, poles, layers, span).unwrap();
            let draft = Draft::of(&winding);
            assert_eq!(draft.winding().unwrap().sides(), winding.sides());
            let factor = winding.factor(1).total;
            for phase in draft.balance() {
                assert!((phase.phasor.magnitude() - factor).abs() < 1e-12);
                assert!(phase.off_deg.abs() < 1e-9);
                assert_eq!(phase.towards, phase.away);
            }
            for place in 0..draft.sides().len() {
                let other = draft.partner(place).unwrap();
                assert_eq!(draft.partner(other), Some(place));
                assert_ne!(
                    draft.sides()[place].towards_viewer,
                    draft.sides()[other].towards_viewer
                );
            }
        }
    }

    /// Six clicks on a place go through all sides and come back.
    #[test]
    fn every_side_comes_by_in_turn() {
        let mut here = side(Phase::U, true);
        let mut seen = Vec::new();
        for _ in 0..6 {
            seen.push(here.to_string());
            here = Draft::next(here);
        }
        assert_eq!(seen, ["+U", "-U", "+V", "-V", "+W", "-W"]);
        assert_eq!(here, side(Phase::U, true));
    }

    /// One coil of a 12/14 turned round: its phase makes half the EMF of the others (three coils
    /// for, one against), and turned back all is well again.
    #[test]
    fn a_coil_wound_the_wrong_way_round_is_told() {
        let winding = Winding::lay_out(12, 14, 2, 1).unwrap();
        let mut draft = Draft::of(&winding);
        let here = draft.sides()[1];
        let turned = side(here.phase, !here.towards_viewer);
        assert!(draft.put(1, turned, true));
        assert!(matches!(
            draft.winding(),
            Err(WindingError::Unbalanced { .. })
        ));
        let [u, v, w] = draft.balance();
        assert_eq!((u.towards, u.away), (v.towards, v.away));
        let ratio = u.phasor.magnitude() / v.phasor.magnitude();
        assert!((ratio - 0.5).abs() < 0.02, "{ratio}");
        assert!((v.phasor.magnitude() - w.phasor.magnitude()).abs() < 1e-12);
        // V and W agree, so it is U that is off: by the 15° between its coils and their sum.
        assert!(v.off_deg.abs() < 1e-9 && w.off_deg.abs() < 1e-9 && v.is_reference);
        assert!((u.off_deg.abs() - 15.0).abs() < 1e-9, "{}", u.off_deg);
        assert!(draft.put(1, here, true));
        assert_eq!(draft, Draft::of(&winding));
        assert!(!draft.put(999, here, true), "no such place, no change");
    }

    /// One side alone: the phase goes out oftener than it comes back.
    #[test]
    fn a_lone_side_does_not_cancel() {
        let mut draft = Draft::of(&Winding::lay_out(12, 10, 2, 1).unwrap());
        let here = draft.sides()[0];
        draft.put(0, side(here.phase, !here.towards_viewer), false);
        assert!(matches!(
            draft.winding(),
            Err(WindingError::SignsDoNotCancel { .. })
        ));
    }
}
