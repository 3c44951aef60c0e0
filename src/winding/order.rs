//! In which order the coils of a winding are wound and joined, path by path.
//!
//! The coils of a phase are taken in series going round counter-clockwise, from one that begins a
//! run of neighbours. Any order in series gives the same EMF; this one has short cross-overs.
//! Parallel paths need equal EMFs, order by order, or a current circulates in them: coils whose
//! phasors are alike are dealt out evenly, and where that is not possible there are no such paths.

use super::{Coil, Phase, Winding, gcd};

/// Coils of one phase in series, in the order of winding.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CoilPath {
    /// The phase.
    pub phase: Phase,
    /// Which of the phase's parallel paths, from 0.
    pub path_idx: u32,
    /// The coils from lead 1 to lead 2.
    pub coils: Vec<Coil>,
}

/// Every coil of a winding in its order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CoilOrder {
    /// Phase by phase, path by path.
    pub paths: Vec<CoilPath>,
    /// Parallel paths of a phase.
    pub n_parallel: u32,
    /// Every number of parallel paths with equal EMFs, rising from 1.
    pub possible_parallel: Vec<u32>,
    /// True where no one span pairs the sides and concentric coils were taken.
    pub concentric: bool,
}

/// Why a winding has no order of coils.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum OrderError {
    /// Sides of the layout do not pair into coils.
    NoCoils,
    /// So many parallel paths would not have equal EMFs.
    Parallel {
        /// What was asked for.
        found: u32,
        /// What can be had.
        possible: Vec<u32>,
    },
}

impl std::fmt::Display for OrderError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoCoils => f.write_str(
                "the coil sides of this layout do not pair into coils: a side and its return lie \
                 in the same slot",
            ),
            Self::Parallel { found, possible } => {
                let words: Vec<String> = possible.iter().map(u32::to_string).collect();
                write!(
                    f,
                    "{found} parallel paths of a phase would not have equal EMFs, and a current \
                     would circulate in them; this winding can have {}",
                    words.join(" or ")
                )
            }
        }
    }
}

impl std::error::Error for OrderError {}

impl Coil {
    /// The slot that a turn passes first, towards the drive end, when it is wound from lead 1.
    #[must_use]
    pub const fn up_slot(self) -> u32 {
        if self.positive {
            self.from_slot
        } else {
            self.to_slot
        }
    }

    /// The slot that a turn comes back through.
    #[must_use]
    pub const fn down_slot(self) -> u32 {
        if self.positive {
            self.to_slot
        } else {
            self.from_slot
        }
    }
}

impl CoilOrder {
    /// Orders the coils for so many parallel paths of a phase.
    ///
    /// # Errors
    /// [`OrderError`].
    ///
    /// ```
    /// use wyebench::winding::{CoilOrder, Winding};
    /// let winding = Winding::lay_out(12, 14, 2, 1)?;
    /// let order = CoilOrder::of(&winding, 1).unwrap();
    /// let teeth: Vec<u32> = order.paths[0].coils.iter().map(|coil| coil.from_slot + 1).collect();
    /// assert_eq!(teeth, [6, 7, 12, 1]);
    /// # Ok::<(), wyebench::winding::WindingError>(())
    /// ```
    pub fn of(winding: &Winding, n_parallel: u32) -> Result<Self, OrderError> {
        let concentric = winding.coils().is_empty();
        let all = if concentric {
            concentric_coils(winding)?
        } else {
            winding.coils().to_vec()
        };
        let phases = Phase::ALL.map(|phase| {
            let coils: Vec<Coil> = all.iter().copied().filter(|c| c.phase == phase).collect();
            coils
        });
        let possible_parallel = possible(winding, &phases);
        if !possible_parallel.contains(&n_parallel) {
            return Err(OrderError::Parallel {
                found: n_parallel,
                possible: possible_parallel,
            });
        }
        let mut paths = Vec::new();
        let mut wanted: Option<(u32, i8)> = None;
        for (phase, coils) in Phase::ALL.into_iter().zip(phases) {
            let coils = from_a_start(winding, coils, wanted);
            if let (Phase::U, Some(first)) = (phase, coils.first()) {
                let order: i8 = if winding.phase_order_reversed() {
                    -1
                } else {
                    1
                };
                wanted = Some((phase_angle(winding, *first), order));
            }
            if let Some((angle, order)) = wanted {
                let third = 2 * winding.slots();
                let step = if order > 0 { third } else { 2 * third };
                wanted = Some(((angle + step) % (6 * winding.slots()), order));
            }
            paths.extend(deal(winding, phase, &coils, n_parallel));
        }
        Ok(Self {
            paths,
            n_parallel,
            possible_parallel,
            concentric,
        })
    }

    /// The paths of one phase.
    pub fn of_phase(&self, phase: Phase) -> impl Iterator<Item = &CoilPath> {
        self.paths.iter().filter(move |path| path.phase == phase)
    }
}

/// Electrical angle of a coil of its own span, as a part of 6 Q: coils of one span that agree
/// here have the same EMF of every odd order.
fn phase_angle(winding: &Winding, coil: Coil) -> u32 {
    let slots = winding.slots();
    let place = 6 * (coil.from_slot * winding.pole_pairs() % slots);
    (place + if coil.positive { 0 } else { 3 * slots }) % (6 * slots)
}

/// What two coils must have in common to be exchangeable: angle and span.
fn class(winding: &Winding, coil: Coil) -> (u32, u32) {
    let slots = winding.slots();
    let span = (coil.to_slot + slots - coil.from_slot) % slots;
    (phase_angle(winding, coil), span)
}

/// Numbers of parallel paths that share every class of coils evenly, in all phases.
fn possible(winding: &Winding, phases: &[Vec<Coil>; 3]) -> Vec<u32> {
    let mut common = 0;
    for coils in phases {
        let mut classes: Vec<(u32, u32)> = coils.iter().map(|c| class(winding, *c)).collect();
        classes.sort_unstable();
        for run in classes.chunk_by(|a, b| a == b) {
            common = gcd(u32::try_from(run.len()).unwrap_or(1), common);
        }
    }
    (1..=common.max(1))
        .filter(|n| common.max(1).is_multiple_of(*n))
        .collect()
}

/// Turns a phase's coils so that they begin where a run of neighbours begins: in phase U with a
/// positive coil, in the others with the coil a third of an electrical turn later where one is.
fn from_a_start(winding: &Winding, mut coils: Vec<Coil>, wanted: Option<(u32, i8)>) -> Vec<Coil> {
    let n = coils.len();
    if n == 0 {
        return coils;
    }
    let slots = winding.slots();
    let begins = |idx: usize| {
        let (before, here) = (coils[(idx + n - 1) % n], coils[idx]);
        n == 1 || (before.from_slot + 1) % slots != here.from_slot
    };
    let fits = |idx: usize| match wanted {
        Some((angle, _)) => phase_angle(winding, coils[idx]) == angle,
        None => coils[idx].positive,
    };
    let start = (0..n)
        .find(|&idx| begins(idx) && fits(idx))
        .or_else(|| (0..n).find(|&idx| fits(idx)))
        .or_else(|| (0..n).find(|&idx| begins(idx)))
        .unwrap_or(0);
    coils.rotate_left(start);
    coils
}

/// Deals coils out to paths: of each class, as many to each path, neighbours together.
fn deal(winding: &Winding, phase: Phase, coils: &[Coil], n_parallel: u32) -> Vec<CoilPath> {
    let mut paths: Vec<CoilPath> = (0..n_parallel)
        .map(|path_idx| CoilPath {
            phase,
            path_idx,
            coils: Vec::new(),
        })
        .collect();
    for (idx, coil) in coils.iter().enumerate() {
        let same = |other: &&Coil| class(winding, **other) == class(winding, *coil);
        let n_class = coils.iter().filter(same).count();
        let before = coils[..idx].iter().filter(same).count();
        paths[before * n_parallel as usize / n_class]
            .coils
            .push(*coil);
    }
    paths
}

/// Coils of a layout that no one span pairs: of each phase, a side towards the viewer goes with
/// the nearest side after it that is still free, the inner ones first, as brackets do.
fn concentric_coils(winding: &Winding) -> Result<Vec<Coil>, OrderError> {
    let mut coils = Vec::new();
    for phase in Phase::ALL {
        let sides: Vec<(u32, bool)> = (0..winding.slots())
            .flat_map(|slot| {
                let here = winding.sides_in_slot(slot).iter();
                here.filter(|side| side.phase == phase)
                    .map(move |side| (slot, side.towards_viewer))
            })
            .collect();
        // Begin after the place where most are closed; there none is open.
        let (mut open, mut least, mut start) = (0_i32, 0, 0);
        for (idx, (_, towards)) in sides.iter().enumerate() {
            open += if *towards { 1 } else { -1 };
            if open < least {
                (least, start) = (open, idx + 1);
            }
        }
        let mut stack = Vec::new();
        for step in 0..sides.len() {
            let (slot, towards) = sides[(start + step) % sides.len()];
            if towards {
                stack.push(slot);
                continue;
            }
            let from_slot = stack.pop().ok_or(OrderError::NoCoils)?;
            if from_slot == slot {
                return Err(OrderError::NoCoils);
            }
            coils.push(Coil {
                from_slot,
                to_slot: slot,
                phase,
                positive: true,
            });
        }
        if !stack.is_empty() {
            return Err(OrderError::NoCoils);
        }
    }
    coils.sort_unstable_by_key(|coil| (coil.from_slot, coil.to_slot));
    Ok(coils)
}

#[cfg(test)]
mod tests {
    use super::super::{Phasor, feasible, parse_layout};
    use super::*;

    fn emf(winding: &Winding, path: &CoilPath, order: u32) -> Phasor {
        path.coils.iter().fold(Phasor::ZERO, |sum, coil| {
            let up = winding.slot_phasor(coil.up_slot(), order);
            let down = winding.slot_phasor(coil.down_slot(), order);
            sum.plus(up).plus(down.signed(false))
        })
    }

    /// Each coil once; paths of a phase alike; all paths of a phase together are the phase.
    #[test]
    fn every_path_has_the_same_emf_and_no_coil_is_lost() {
        let mut n_checked = 0;
        for slots in (3..=48).step_by(3) {
            for poles in (2..=40).step_by(2) {
                if feasible(slots, poles).is_err() {
                    continue;
                }
                for (layers, span) in [(2, 1), (1, 1), (2, (slots / poles).max(1))] {
                    let Ok(winding) = Winding::lay_out(slots, poles, layers, span) else {
                        continue;
                    };
                    let all = CoilOrder::of(&winding, 1).unwrap().possible_parallel;
                    for n_parallel in all {
                        let order = CoilOrder::of(&winding, n_parallel).unwrap();
                        let mut coils: Vec<Coil> =
                            order.paths.iter().flat_map(|p| p.coils.clone()).collect();
                        coils.sort_unstable_by_key(|coil| coil.from_slot);
                        assert_eq!(coils, winding.coils());
                        for phase in Phase::ALL {
                            for harmonic in [1, 3, 5, 7] {
                                let whole = winding.phasor(phase, harmonic);
                                for path in order.of_phase(phase) {
                                    let part = emf(&winding, path, harmonic);
                                    let n = f64::from(n_parallel);
                                    let off = (part.re * n - whole.re).abs()
                                        + (part.im * n - whole.im).abs();
                                    assert!(off < 1e-9, "{slots}/{poles} {layers} {span}");
                                }
                            }
                        }
                        n_checked += 1;
                    }
                }
            }
        }
        assert!(n_checked > 300, "{n_checked}");
    }

    /// 9 slots and 6 poles repeat three times: up to three paths. 12 and 14: two stator halves.
    /// 9 and 8 never repeat (the numbers follow from the star of slots).
    #[test]
    fn parallel_paths_are_told() {
        let paths = |slots, poles| {
            let winding = Winding::lay_out(slots, poles, 2, 1).unwrap();
            CoilOrder::of(&winding, 1).unwrap().possible_parallel
        };
        assert_eq!(paths(9, 6), [1, 3]);
        assert_eq!(paths(12, 14), [1, 2]);
        assert_eq!(paths(12, 8), [1, 2, 4]);
        assert_eq!(paths(9, 8), [1]);
        let winding = Winding::lay_out(9, 8, 2, 1).unwrap();
        let error = CoilOrder::of(&winding, 3).unwrap_err();
        assert!(
            error.to_string().contains("this winding can have 1"),
            "{error}"
        );
    }

    /// Belts of two slots, wound one inside the other: spans 5 and 7 where one span would be 6.
    #[test]
    fn brackets_give_concentric_coils() {
        let text = "+U +U -W -W +V +V -U -U +W +W -V -V +U +U -W -W +V +V -U -U +W +W -V -V";
        let winding = Winding::from_layout(24, 4, 1, &parse_layout(text).unwrap()).unwrap();
        let coils = concentric_coils(&winding).unwrap();
        assert_eq!(coils.len(), 12);
        for coil in coils {
            let span = (coil.to_slot + 24 - coil.from_slot) % 24;
            assert!(span == 5 || span == 7, "{coil:?}");
        }
    }
}
