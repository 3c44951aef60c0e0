//! What can be wrong with a winding.

use std::fmt;

use super::{Infeasible, Phase};

/// Why a winding cannot be laid out, or a person's own layout not be taken.
///
/// `Display` says what is wrong and, where it is sure, what would be right.
#[derive(Clone, Debug, PartialEq)]
pub enum WindingError {
    /// Slots and poles do not go together.
    Infeasible(Infeasible),
    /// A slot holds one or two coil sides here.
    Layers {
        /// Layers asked for.
        found: u32,
    },
    /// A coil spans at least one slot and less than the whole turn.
    Span {
        /// Span asked for, in slots.
        found: u32,
        /// Slots of the stator.
        slots: u32,
    },
    /// A coil of this span covers whole pole pairs, so the flux in it cancels.
    SpanLinksNothing {
        /// Span in slots.
        coil_span: u32,
        /// Slots of the stator.
        slots: u32,
        /// Poles of the rotor.
        poles: u32,
    },
    /// Coils of this span cannot fill every slot with one side.
    NoSingleLayer {
        /// Span in slots.
        coil_span: u32,
        /// Slots of the stator.
        slots: u32,
        /// The next shorter and next longer span that can; empty where none can.
        nearest: Vec<u32>,
    },
    /// A layout has the wrong number of coil sides.
    SideCount {
        /// Coil sides written.
        found: usize,
        /// Slots of the stator.
        slots: u32,
        /// Coil sides in a slot.
        layers: u32,
    },
    /// A layout coil by coil has the wrong number of coils.
    CoilCount {
        /// Coils written.
        found: usize,
        /// Slots of the stator, and so coils of a two-layer winding.
        slots: u32,
    },
    /// The phases do not have equally many coil sides.
    UnequalPhases {
        /// Sides of U, V and W.
        counts: [usize; 3],
    },
    /// A phase does not come back as often as it goes.
    SignsDoNotCancel {
        /// The phase.
        phase: Phase,
        /// Its `+` sides.
        towards: usize,
        /// Its `-` sides.
        away: usize,
    },
    /// The coil sides of a phase cancel for the fundamental.
    NoFlux {
        /// The phase.
        phase: Phase,
        /// True where the same text is balanced when its second entry is taken as the first: it
        /// was probably written tooth by tooth, beginning in the middle of a slot.
        balanced_when_shifted: bool,
    },
    /// The phasors are not equal and 120° apart; the phase that is furthest off.
    Unbalanced {
        /// The phase.
        phase: Phase,
        /// Its EMF over that of phase U; 1 where only the angle is off.
        magnitude_ratio: f64,
        /// How many electrical degrees it is away from where it should be after phase U.
        angle_off_deg: f64,
        /// As for [`NoFlux`](Self::NoFlux).
        balanced_when_shifted: bool,
    },
}

/// The hint for a layout that is balanced one entry later.
const SHIFTED: &str = "; entries are read slot by slot, and the same entries beginning with the \
                       second would be balanced: move the first entry to the end";

impl fmt::Display for WindingError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Infeasible(no) => no.fmt(f),
            Self::Layers { found } => {
                write!(
                    f,
                    "{found} layers are not laid out here: a slot holds 1 or 2 coil sides"
                )
            }
            Self::Span { found, slots } => write!(
                f,
                "a coil span of {found} does not fit {slots} slots: 1 to {} does",
                slots - 1
            ),
            Self::SpanLinksNothing {
                coil_span,
                slots,
                poles,
            } => write!(
                f,
                "a coil over {coil_span} of {slots} slots covers {} whole pole pairs of {poles} \
                 poles: north and south in it cancel, and it gives no EMF",
                u64::from(poles / 2) * u64::from(*coil_span) / u64::from(*slots)
            ),
            Self::NoSingleLayer {
                coil_span,
                slots,
                nearest,
            } => {
                write!(
                    f,
                    "one layer in {slots} slots cannot be filled with coils over {coil_span} \
                     slots: slots pair up only where slots / gcd(slots, span) is even"
                )?;
                match nearest.as_slice() {
                    [] if slots % 2 == 1 => {
                        f.write_str("; an odd number of slots needs two layers")
                    }
                    [] => f.write_str("; two layers would do"),
                    [span] => write!(f, "; the nearest span that can is {span}"),
                    [span, .., other] => {
                        write!(f, "; the nearest spans that can are {span} and {other}")
                    }
                }
            }
            Self::SideCount {
                found,
                slots,
                layers,
            } => write!(
                f,
                "the layout has {found} coil sides; {slots} slots with {layers} layer{} need {}",
                if *layers == 1 { "" } else { "s" },
                u64::from(*slots) * u64::from(*layers)
            ),
            Self::CoilCount { found, slots } => write!(
                f,
                "the layout has {found} coils; two layers in {slots} slots need {slots}"
            ),
            Self::UnequalPhases { counts: [u, v, w] } => write!(
                f,
                "the phases are not equally long: U has {u} coil sides, V {v}, W {w}"
            ),
            Self::SignsDoNotCancel {
                phase,
                towards,
                away,
            } => write!(
                f,
                "phase {phase} has {towards} sides with + and {away} with -: every coil has one \
                 of each"
            ),
            Self::NoFlux {
                phase,
                balanced_when_shifted,
            } => {
                write!(
                    f,
                    "the coil sides of phase {phase} cancel: it links no flux of the magnets"
                )?;
                f.write_str(if *balanced_when_shifted { SHIFTED } else { "" })
            }
            Self::Unbalanced {
                phase,
                magnitude_ratio,
                angle_off_deg,
                balanced_when_shifted,
            } => {
                write!(
                    f,
                    "the layout is not balanced: the EMF of phase {phase} is {magnitude_ratio:.4} \
                     times that of phase U and {angle_off_deg:+.2} electrical degrees away from \
                     its place"
                )?;
                f.write_str(if *balanced_when_shifted { SHIFTED } else { "" })
            }
        }
    }
}

impl std::error::Error for WindingError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Infeasible(no) => Some(no),
            _ => None,
        }
    }
}
