//! Which slots and poles admit a balanced three-phase winding, and what lies near those that do not.

use std::fmt;

/// Most slots that are laid out: well above the several hundred of the largest ring machines
/// (common practice, no source), and low enough that no input makes a layout run away.
pub const MAX_SLOTS: u32 = 1200;

/// Most poles that are laid out; see [`MAX_SLOTS`].
pub const MAX_POLES: u32 = 1200;

/// Greatest common divisor; `gcd(n, 0)` is `n`.
#[must_use]
pub const fn gcd(a: u32, b: u32) -> u32 {
    let (mut a, mut b) = (a, b);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

/// Least common multiple; 0 where either is 0. Wide, because two `u32` can exceed one.
#[must_use]
pub fn lcm(a: u32, b: u32) -> u64 {
    match gcd(a, b) {
        0 => 0,
        divisor => u64::from(a / divisor) * u64::from(b),
    }
}

/// Why a number of slots and a number of poles do not go together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum InfeasibleReason {
    /// There is no slot to put a coil side in.
    NoSlots,
    /// There is no pole.
    NoPoles,
    /// Magnets come as pairs of north and south, so their number is even.
    OddPoles,
    /// More slots than [`MAX_SLOTS`].
    TooManySlots,
    /// More poles than [`MAX_POLES`].
    TooManyPoles,
    /// Three equal phases need a number of slots divisible by three.
    SlotsNotByThree,
    /// The star of slots has a number of spokes that three phases cannot share.
    SpokesNotByThree {
        /// Distinct directions in the star of slots: slots / gcd(slots, pole pairs).
        spokes: u32,
        /// gcd(slots, pole pairs).
        periodicity: u32,
    },
}

/// No balanced three-phase winding exists: the pair, the reason, and the nearest pairs that have one.
///
/// `Display` gives the reason and the neighbours as two plain sentences.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Infeasible {
    /// Slots asked for.
    pub slots: u32,
    /// Poles asked for.
    pub poles: u32,
    /// Why it cannot be wound.
    pub reason: InfeasibleReason,
    /// Feasible pairs near it, as (slots, poles): the same slots with the next fewer and next
    /// more poles, then the same poles with the next fewer and next more slots. Empty where
    /// none is near.
    pub neighbours: Vec<(u32, u32)>,
}

impl Infeasible {
    /// The reason as one sentence without the neighbours.
    #[must_use]
    pub fn reason_text(&self) -> String {
        let (slots, poles) = (self.slots, self.poles);
        match self.reason {
            InfeasibleReason::NoSlots => "a winding needs slots, and there are none".to_owned(),
            InfeasibleReason::NoPoles => "a rotor needs poles, and there are none".to_owned(),
            InfeasibleReason::OddPoles => format!(
                "{poles} poles cannot be: north and south alternate round the rotor, so poles are even"
            ),
            InfeasibleReason::TooManySlots => {
                format!("{slots} slots are more than the {MAX_SLOTS} that are laid out here")
            }
            InfeasibleReason::TooManyPoles => {
                format!("{poles} poles are more than the {MAX_POLES} that are laid out here")
            }
            InfeasibleReason::SlotsNotByThree => {
                format!("{slots} slots cannot be shared equally by three phases")
            }
            InfeasibleReason::SpokesNotByThree {
                spokes,
                periodicity,
            } => format!(
                "{slots} slots with {poles} poles have no balanced three-phase winding: \
                 slots / (3 · gcd(slots, pole pairs)) = {slots} / (3 · {periodicity}) is not a whole \
                 number, so the {spokes} direction{} of the star of slots cannot be shared by three \
                 phases",
                if spokes == 1 { "" } else { "s" }
            ),
        }
    }

    /// The neighbours as one sentence, or `None` where there is none.
    #[must_use]
    pub fn remedy_text(&self) -> Option<String> {
        let pairs: Vec<String> = self
            .neighbours
            .iter()
            .map(|(slots, poles)| format!("{slots} slots with {poles} poles"))
            .collect();
        let (last, first) = pairs.split_last()?;
        Some(if first.is_empty() {
            format!("the nearest that works is {last}")
        } else {
            format!("the nearest that work are {} and {last}", first.join(", "))
        })
    }
}

impl fmt::Display for Infeasible {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.reason_text())?;
        match self.remedy_text() {
            Some(remedy) => write!(f, "; {remedy}"),
            None => Ok(()),
        }
    }
}

impl std::error::Error for Infeasible {}

/// Says whether a balanced three-phase winding exists for these slots and poles.
///
/// It does when slots / (3 · gcd(slots, pole pairs)) is a whole number: the star of slots then
/// has a number of spokes that three phases share equally, and turning it by a third of a turn
/// maps it onto itself. The rule is that of N. Bianchi, M. Dai Pre, "Use of the star of slots in
/// designing fractional-slot single-layer synchronous motors", IEE Proc. Electric Power
/// Applications 153(3), 2006 (recalled from memory), and follows from the symmetry just named.
///
/// # Errors
/// [`Infeasible`] with the reason and the nearest pairs that work: no slots, no poles, an odd
/// number of poles, more than [`MAX_SLOTS`] or [`MAX_POLES`], or the rule above not met.
///
/// ```
/// use wyebench::winding::feasible;
/// assert!(feasible(12, 14).is_ok());
/// let no = feasible(9, 18).unwrap_err();
/// assert_eq!(no.neighbours, [(9, 16), (9, 20), (27, 18)]);
/// ```
pub fn feasible(slots: u32, poles: u32) -> Result<(), Infeasible> {
    match reason_against(slots, poles) {
        None => Ok(()),
        Some(reason) => Err(Infeasible {
            slots,
            poles,
            reason,
            neighbours: neighbours(slots, poles),
        }),
    }
}

/// The cheapest reason against a pair, or `None` where it can be wound.
fn reason_against(slots: u32, poles: u32) -> Option<InfeasibleReason> {
    if slots == 0 {
        return Some(InfeasibleReason::NoSlots);
    }
    if poles == 0 {
        return Some(InfeasibleReason::NoPoles);
    }
    if poles % 2 == 1 {
        return Some(InfeasibleReason::OddPoles);
    }
    if slots > MAX_SLOTS {
        return Some(InfeasibleReason::TooManySlots);
    }
    if poles > MAX_POLES {
        return Some(InfeasibleReason::TooManyPoles);
    }
    if !slots.is_multiple_of(3) {
        return Some(InfeasibleReason::SlotsNotByThree);
    }
    let periodicity = gcd(slots, poles / 2);
    let spokes = slots / periodicity;
    (!spokes.is_multiple_of(3)).then_some(InfeasibleReason::SpokesNotByThree {
        spokes,
        periodicity,
    })
}

/// Feasible pairs with the same slots, then with the same poles: the next lower and next higher.
fn neighbours(slots: u32, poles: u32) -> Vec<(u32, u32)> {
    let works = |slots: u32, poles: u32| reason_against(slots, poles).is_none();
    let mut found = Vec::new();
    if slots.is_multiple_of(3) && (1..=MAX_SLOTS).contains(&slots) {
        let below = (1..poles.min(MAX_POLES + 1))
            .rev()
            .find(|&poles| works(slots, poles));
        let above = (poles.saturating_add(1)..=MAX_POLES).find(|&poles| works(slots, poles));
        found.extend(
            [below, above]
                .into_iter()
                .flatten()
                .map(|poles| (slots, poles)),
        );
    }
    if poles.is_multiple_of(2) && (1..=MAX_POLES).contains(&poles) {
        let below = (1..slots.min(MAX_SLOTS + 1))
            .rev()
            .find(|&slots| works(slots, poles));
        let above = (slots.saturating_add(1)..=MAX_SLOTS).find(|&slots| works(slots, poles));
        found.extend(
            [below, above]
                .into_iter()
                .flatten()
                .map(|slots| (slots, poles)),
        );
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn divisors_and_multiples() {
        assert_eq!(
            (gcd(12, 7), gcd(12, 10), gcd(9, 0), gcd(0, 4)),
            (1, 2, 9, 4)
        );
        assert_eq!((lcm(12, 14), lcm(9, 6), lcm(0, 4)), (84, 18, 0));
    }

    #[test]
    fn every_neighbour_is_feasible_and_near() {
        for slots in 0..60 {
            for poles in 0..60 {
                let Err(no) = feasible(slots, poles) else {
                    continue;
                };
                for (near_slots, near_poles) in no.neighbours {
                    assert!(
                        feasible(near_slots, near_poles).is_ok(),
                        "{near_slots}/{near_poles}"
                    );
                    assert!(near_slots == slots || near_poles == poles);
                }
            }
        }
    }

    #[test]
    fn each_reason_is_said() {
        let reason = |slots, poles| feasible(slots, poles).map_err(|no| no.reason);
        assert_eq!(reason(0, 4), Err(InfeasibleReason::NoSlots));
        assert_eq!(reason(12, 0), Err(InfeasibleReason::NoPoles));
        assert_eq!(reason(12, 7), Err(InfeasibleReason::OddPoles));
        assert_eq!(reason(10, 8), Err(InfeasibleReason::SlotsNotByThree));
        assert_eq!(
            reason(12, 18),
            Err(InfeasibleReason::SpokesNotByThree {
                spokes: 4,
                periodicity: 3
            })
        );
        assert_eq!(reason(u32::MAX, 2), Err(InfeasibleReason::TooManySlots));
        assert_eq!(
            reason(12, u32::MAX - 1),
            Err(InfeasibleReason::TooManyPoles)
        );
    }

    #[test]
    fn the_message_names_reason_and_remedy() {
        let text = feasible(12, 18).unwrap_err().to_string();
        assert!(text.contains("12 / (3 · 3)"), "{text}");
        assert!(
            text.contains("12 slots with 16 poles, 12 slots with 20 poles"),
            "{text}"
        );
    }
}
