//! Finding the coils in a layout that was written side by side.

use super::{Coil, CoilSide};

/// The shortest coil span that pairs all sides, and the coils; `None` where no one span does.
///
/// With two layers each slot starts one coil and ends one; with one layer it does either. Going
/// round in steps of the span, the first choice fixes all others, so two tries a cycle suffice.
pub(super) fn pair(slots: u32, layers: u32, sides: &[CoilSide]) -> Option<(u32, Vec<Coil>)> {
    (1..slots).find_map(|span| {
        let mut coils = pair_with(slots, layers, sides, span)?;
        coils.sort_unstable_by_key(|coil| coil.from_slot);
        Some((span, coils))
    })
}

/// The coils of one span, or `None` where a cycle of slots does not pair.
fn pair_with(slots: u32, layers: u32, sides: &[CoilSide], span: u32) -> Option<Vec<Coil>> {
    let n_cycles = super::gcd(slots, span);
    let mut coils = Vec::with_capacity(sides.len() / 2);
    for first in 0..n_cycles {
        let cycle: Vec<u32> = (0..slots / n_cycles)
            .map(|step| (first + step * span) % slots)
            .collect();
        let found = if layers == 2 {
            (0..2).find_map(|choice| two_layer_cycle(&cycle, sides, choice))
        } else {
            (0..2).find_map(|choice| one_layer_cycle(&cycle, sides, choice))
        };
        coils.extend(found?);
    }
    Some(coils)
}

/// Pairs a cycle of two-layer slots, the coil of the first slot starting with its given side.
fn two_layer_cycle(cycle: &[u32], sides: &[CoilSide], choice: usize) -> Option<Vec<Coil>> {
    let in_slot = |slot: u32| [sides[2 * slot as usize], sides[2 * slot as usize + 1]];
    let first = in_slot(*cycle.first()?);
    // The second entry of a slot is the starting side where a layout was written by this room.
    let (mut going, closing) = (first[1 - choice], first[choice]);
    let mut coils = Vec::with_capacity(cycle.len());
    for (idx, &slot) in cycle.iter().enumerate() {
        let next = cycle[(idx + 1) % cycle.len()];
        coils.push(coil(slot, next, going));
        if idx + 1 == cycle.len() {
            return (opposite(going) == closing).then_some(coils);
        }
        let [one, other] = in_slot(next);
        going = match opposite(going) {
            end if end == one => other,
            end if end == other => one,
            _ => return None,
        };
    }
    None
}

/// Pairs a cycle of one-layer slots, two by two, from its first or its second slot.
fn one_layer_cycle(cycle: &[u32], sides: &[CoilSide], choice: usize) -> Option<Vec<Coil>> {
    if cycle.len() % 2 == 1 {
        return None;
    }
    (choice..cycle.len())
        .step_by(2)
        .map(|idx| {
            let (slot, next) = (cycle[idx], cycle[(idx + 1) % cycle.len()]);
            let side = sides[slot as usize];
            (opposite(side) == sides[next as usize]).then(|| coil(slot, next, side))
        })
        .collect()
}

/// The other side of the same coil.
const fn opposite(side: CoilSide) -> CoilSide {
    CoilSide {
        phase: side.phase,
        towards_viewer: !side.towards_viewer,
    }
}

/// A coil from its slots and first side.
const fn coil(from_slot: u32, to_slot: u32, first: CoilSide) -> Coil {
    Coil {
        from_slot,
        to_slot,
        phase: first.phase,
        positive: first.towards_viewer,
    }
}
