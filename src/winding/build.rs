//! A laid-out winding: which side of which coil lies in which slot.

use super::error::WindingError;
use super::{CoilSide, Phase, feasible, gcd, lcm};

/// One coil: two sides of opposite sense, `coil span` slots apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Coil {
    /// Slot of the first side, counted from 0.
    pub from_slot: u32,
    /// Slot of the second side, one coil span further counter-clockwise, counted from 0.
    pub to_slot: u32,
    /// The phase it belongs to.
    pub phase: Phase,
    /// True when positive current comes towards the viewer in `from_slot` and goes back in
    /// `to_slot`; false for the other way round.
    pub positive: bool,
}

impl Coil {
    /// The side in `from_slot`.
    #[must_use]
    pub const fn first_side(self) -> CoilSide {
        CoilSide {
            phase: self.phase,
            towards_viewer: self.positive,
        }
    }

    /// The side in `to_slot`.
    #[must_use]
    pub const fn second_side(self) -> CoilSide {
        CoilSide {
            phase: self.phase,
            towards_viewer: !self.positive,
        }
    }
}

/// A balanced three-phase winding in its slots.
///
/// Slots are counted from 0 counter-clockwise, slot k at the mechanical angle k · 360°/slots.
/// With two layers a slot holds two sides: first the one of the coil that ends there, then the
/// one of the coil that starts there, which for tooth coils is their order going
/// counter-clockwise. Made by [`lay_out`](Self::lay_out), [`from_layout`](Self::from_layout) or
/// [`from_coils`](Self::from_coils); whatever made it, it is balanced.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Winding {
    slots: u32,
    poles: u32,
    layers: u32,
    sides: Vec<CoilSide>,
    coils: Vec<Coil>,
    coil_span: Option<u32>,
}

impl Winding {
    /// Lays out the winding that the star of slots gives for these slots and poles.
    ///
    /// A coil from slot k to slot k + span has the electrical angle k · pole pairs / slots turns.
    /// Six belts of 60°, half-open, share the turn: +U round 0°, −W round 60°, +V round 120°,
    /// −U round 180°, +W round 240°, −V round 300°. V so lies 120 electrical degrees after U
    /// counter-clockwise and its EMF lags by 120° in positive rotation. With a whole number of
    /// slots per pole and phase this is the distributed lap winding with 60° belts, chorded by
    /// `coil_span`; with `coil_span` 1 it is the tooth-coil winding.
    ///
    /// With two layers every slot starts one coil. With one layer every slot holds one side, so
    /// slot k starts a coil and slot k + span ends it: for odd spans every second slot starts
    /// one (tooth coils: every second tooth is wound), for a span of 2^a · odd, runs of 2^a
    /// slots start coils and runs of 2^a end them. That set maps onto itself under a third of a
    /// turn of the star, so the result is balanced whenever it exists.
    ///
    /// # Errors
    /// [`WindingError`]: the pair is not [`feasible`]; `layers` is not 1 or 2; `coil_span` is
    /// not within 1 to slots − 1; the span is a whole number of pole pairs, so a coil links
    /// nothing; or one layer cannot be filled with coils of this span.
    ///
    /// ```
    /// use wyebench::winding::Winding;
    /// let winding = Winding::lay_out(12, 14, 2, 1).unwrap();
    /// assert_eq!(winding.tooth_text(), "+U +W -W -V +V +U -U -W +W +V -V -U");
    /// assert!((winding.factor(1).total - 0.933).abs() < 5e-4);
    /// ```
    pub fn lay_out(
        slots: u32,
        poles: u32,
        layers: u32,
        coil_span: u32,
    ) -> Result<Self, WindingError> {
        check_frame(slots, poles, layers)?;
        check_span(slots, poles, coil_span)?;
        let starts: Vec<u32> = if layers == 2 {
            (0..slots).collect()
        } else {
            let run = 1 << coil_span.trailing_zeros();
            if !slots.is_multiple_of(2 * run) {
                return Err(no_single_layer(slots, poles, coil_span));
            }
            (0..slots)
                .filter(|slot| (slot / run).is_multiple_of(2))
                .collect()
        };
        let coils = starts
            .into_iter()
            .map(|slot| coil_by_belt(slots, poles / 2, slot, coil_span))
            .collect();
        Self::checked(slots, poles, layers, coil_span, coils)
    }

    /// Takes a layout written coil by coil for two layers: entry k is the coil from slot k to
    /// slot k + `coil_span`, `+U` for one whose positive current comes towards the viewer in
    /// slot k. For tooth coils that is tooth by tooth.
    ///
    /// # Errors
    /// As [`lay_out`](Self::lay_out) and [`from_layout`](Self::from_layout).
    pub fn from_coils(
        slots: u32,
        poles: u32,
        coil_span: u32,
        coils: &[CoilSide],
    ) -> Result<Self, WindingError> {
        check_frame(slots, poles, 2)?;
        check_span(slots, poles, coil_span)?;
        if coils.len() != slots as usize {
            return Err(WindingError::CoilCount {
                found: coils.len(),
                slots,
            });
        }
        let coils = (0..slots)
            .zip(coils)
            .map(|(from_slot, side)| Coil {
                from_slot,
                to_slot: (from_slot + coil_span) % slots,
                phase: side.phase,
                positive: side.towards_viewer,
            })
            .collect();
        Self::checked(slots, poles, 2, coil_span, coils)
    }

    /// Takes a layout of a person's own, coil side by coil side and slot by slot: `layers`
    /// entries for each slot.
    ///
    /// The sides are kept as written. A layout whose phases follow U, W, V in positive rotation
    /// is taken too, and [`phase_order_reversed`](Self::phase_order_reversed) says so. Coils are
    /// found where one span pairs all sides; where several spans do, the shortest is taken.
    /// Factors never need the pairing.
    ///
    /// # Errors
    /// [`WindingError`]: the frame is not sound (as for [`lay_out`](Self::lay_out)); the number
    /// of entries is not layers · slots; the phases have unequal numbers of sides; a phase has
    /// unequal numbers of `+` and `-`; a phase links no fundamental; or the three phasors are
    /// not equal and 120° apart, with the phase that is off and by how much.
    pub fn from_layout(
        slots: u32,
        poles: u32,
        layers: u32,
        sides: &[CoilSide],
    ) -> Result<Self, WindingError> {
        check_frame(slots, poles, layers)?;
        let wanted = slots as usize * layers as usize;
        if sides.len() != wanted {
            return Err(WindingError::SideCount {
                found: sides.len(),
                slots,
                layers,
            });
        }
        let (coil_span, coils) = super::pairing::pair(slots, layers, sides)
            .map_or((None, Vec::new()), |(span, coils)| (Some(span), coils));
        let winding = Self {
            slots,
            poles,
            layers,
            sides: sides.to_vec(),
            coils,
            coil_span,
        };
        super::balance::check(&winding)?;
        Ok(winding)
    }

    /// Puts the sides of coils of one span into their slots and checks the balance.
    fn checked(
        slots: u32,
        poles: u32,
        layers: u32,
        coil_span: u32,
        coils: Vec<Coil>,
    ) -> Result<Self, WindingError> {
        let filler = CoilSide {
            phase: Phase::U,
            towards_viewer: true,
        };
        let mut sides = vec![filler; (slots * layers) as usize];
        for coil in &coils {
            let (first, second) = if layers == 2 {
                (2 * coil.from_slot + 1, 2 * coil.to_slot)
            } else {
                (coil.from_slot, coil.to_slot)
            };
            sides[first as usize] = coil.first_side();
            sides[second as usize] = coil.second_side();
        }
        let winding = Self {
            slots,
            poles,
            layers,
            sides,
            coils,
            coil_span: Some(coil_span),
        };
        super::balance::check(&winding)?;
        Ok(winding)
    }

    /// Number of slots Q.
    #[must_use]
    pub const fn slots(&self) -> u32 {
        self.slots
    }

    /// Number of poles 2p, even.
    #[must_use]
    pub const fn poles(&self) -> u32 {
        self.poles
    }

    /// Number of pole pairs p.
    #[must_use]
    pub const fn pole_pairs(&self) -> u32 {
        self.poles / 2
    }

    /// Coil sides in a slot: 1 or 2.
    #[must_use]
    pub const fn layers(&self) -> u32 {
        self.layers
    }

    /// All coil sides, slot by slot, `layers` in each.
    #[must_use]
    pub fn sides(&self) -> &[CoilSide] {
        &self.sides
    }

    /// The coil sides in one slot, counted from 0; empty for a slot that is not there.
    #[must_use]
    pub fn sides_in_slot(&self, slot: u32) -> &[CoilSide] {
        if slot >= self.slots {
            return &[];
        }
        let first = (slot * self.layers) as usize;
        &self.sides[first..first + self.layers as usize]
    }

    /// The coils, by rising `from_slot`; empty where a person's own layout has no one span that
    /// pairs its sides.
    #[must_use]
    pub fn coils(&self) -> &[Coil] {
        &self.coils
    }

    /// Span of every coil in slots; `None` where [`coils`](Self::coils) is empty.
    #[must_use]
    pub const fn coil_span(&self) -> Option<u32> {
        self.coil_span
    }

    /// Slots per pole and phase, q = Q / (3 · poles), as a numerator and a denominator in
    /// lowest terms.
    #[must_use]
    pub fn slots_per_pole_and_phase(&self) -> (u32, u32) {
        let divisor = gcd(self.slots, 3 * self.poles);
        (self.slots / divisor, 3 * self.poles / divisor)
    }

    /// Slots per pole and phase as text: `2/7`, or `3` where it is whole.
    #[must_use]
    pub fn q_text(&self) -> String {
        match self.slots_per_pole_and_phase() {
            (whole, 1) => whole.to_string(),
            (over, under) => format!("{over}/{under}"),
        }
    }

    /// How often the star of slots repeats round the stator: gcd(slots, pole pairs).
    #[must_use]
    pub const fn periodicity(&self) -> u32 {
        gcd(self.slots, self.pole_pairs())
    }

    /// Stator sections that see the poles alike but for the sign: gcd(slots, poles).
    #[must_use]
    pub const fn sections(&self) -> u32 {
        gcd(self.slots, self.poles)
    }

    /// True where neighbouring sections see the poles with opposite sign:
    /// gcd(slots, poles) = 2 · gcd(slots, pole pairs).
    #[must_use]
    pub const fn sections_alternate(&self) -> bool {
        self.sections() == 2 * self.periodicity()
    }

    /// Cogging periods in one mechanical turn: lcm(slots, poles).
    #[must_use]
    pub fn cogging_per_turn(&self) -> u64 {
        lcm(self.slots, self.poles)
    }

    /// Into how many equal sections the laid-out sides divide the stator, when a section may be
    /// the one before with all signs turned. With one layer this can be less than
    /// [`sections`](Self::sections). 1 means that nothing opposite balances the radial pull.
    #[must_use]
    pub fn layout_sections(&self) -> u32 {
        let sections = self.sections();
        (1..=sections)
            .rev()
            .filter(|parts| sections.is_multiple_of(*parts))
            .find(|parts| self.repeats_after(self.slots / parts))
            .unwrap_or(1)
    }

    /// The coils tooth by tooth, `..` where no coil starts: `+U .. +V ..`. For coils wider than
    /// one tooth, entry k is the coil that starts in slot k. Empty where coils are not known.
    #[must_use]
    pub fn tooth_text(&self) -> String {
        if self.coils.is_empty() {
            return String::new();
        }
        let mut words = vec!["..".to_owned(); self.slots as usize];
        for coil in &self.coils {
            words[coil.from_slot as usize] = coil.first_side().to_string();
        }
        words.join(" ")
    }

    /// Whether turning the layout by so many slots gives it back, up to the sign of all sides.
    fn repeats_after(&self, shift: u32) -> bool {
        let content = |slot: u32, turned: bool| {
            let mut content: Vec<(Phase, bool)> = self
                .sides_in_slot(slot % self.slots)
                .iter()
                .map(|side| (side.phase, side.towards_viewer != turned))
                .collect();
            content.sort_unstable();
            content
        };
        [false, true].into_iter().any(|turned| {
            (0..self.slots).all(|slot| content(slot, false) == content(slot + shift, turned))
        })
    }
}

/// Checks what every winding needs: a feasible pair and one or two layers.
fn check_frame(slots: u32, poles: u32, layers: u32) -> Result<(), WindingError> {
    feasible(slots, poles).map_err(WindingError::Infeasible)?;
    if layers == 1 || layers == 2 {
        Ok(())
    } else {
        Err(WindingError::Layers { found: layers })
    }
}

/// Checks that coils of this span fit and link flux.
fn check_span(slots: u32, poles: u32, coil_span: u32) -> Result<(), WindingError> {
    if coil_span == 0 || coil_span >= slots {
        return Err(WindingError::Span {
            found: coil_span,
            slots,
        });
    }
    if links_flux(slots, poles, coil_span) {
        Ok(())
    } else {
        Err(WindingError::SpanLinksNothing {
            coil_span,
            slots,
            poles,
        })
    }
}

/// False where a coil spans whole pole pairs, so that north and south in it cancel.
const fn links_flux(slots: u32, poles: u32, coil_span: u32) -> bool {
    !(poles / 2 * coil_span).is_multiple_of(slots)
}

/// The error for one layer, with the nearest spans that would do.
fn no_single_layer(slots: u32, poles: u32, coil_span: u32) -> WindingError {
    let works = |span: &u32| {
        slots.is_multiple_of(2 << span.trailing_zeros()) && links_flux(slots, poles, *span)
    };
    let below = (1..coil_span).rev().find(works);
    let above = (coil_span + 1..slots).find(works);
    WindingError::NoSingleLayer {
        coil_span,
        slots,
        nearest: [below, above].into_iter().flatten().collect(),
    }
}

/// The coil that starts in a slot, by the belt its electrical angle falls into.
///
/// All in whole numbers, so that a spoke on the edge of a belt never depends on rounding: with
/// the angle a/Q turns, the belt is floor(6 a/Q + 1/2).
fn coil_by_belt(slots: u32, pole_pairs: u32, slot: u32, coil_span: u32) -> Coil {
    const BELTS: [(Phase, bool); 6] = [
        (Phase::U, true),
        (Phase::W, false),
        (Phase::V, true),
        (Phase::U, false),
        (Phase::W, true),
        (Phase::V, false),
    ];
    let angle = slot * pole_pairs % slots;
    let belt = (12 * angle + slots) / (2 * slots) % 6;
    let (phase, positive) = BELTS[belt as usize];
    Coil {
        from_slot: slot,
        to_slot: (slot + coil_span) % slots,
        phase,
        positive,
    }
}
