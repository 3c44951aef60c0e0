//! Which rows there are, and the curves in each.

use crate::record::{Quantity, Trace};
use crate::scene::{Colour, Theme};
use crate::winding::Phase;

/// A row of waveforms over the common axis.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Row {
    /// Back-EMF of the three windings.
    PhaseBackEmf,
    /// Back-EMF between the terminals.
    LineBackEmf,
    /// Voltages of the terminals against the negative rail.
    TerminalVoltages,
    /// Currents in the leads.
    LeadCurrents,
    /// Currents in the windings; in star those of the leads.
    WindingCurrents,
    /// Electromagnetic plus cogging torque, with its mean and its ripple.
    Torque,
    /// Mechanical speed.
    Speed,
    /// Current from the positive rail into the bridge.
    SupplyCurrent,
    /// States of the three legs.
    Legs,
}

/// One curve of a row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curve {
    /// What of the tape it shows.
    pub trace: Trace,
    /// Its name in full, as in a list of all curves.
    pub name: &'static str,
    /// Its letters beside a value.
    pub short: &'static str,
    /// The phase that gives it hue and line style, where it belongs to one.
    pub phase: Option<Phase>,
}

impl Curve {
    const fn phase(trace: Trace, name: &'static str, short: &'static str, phase: Phase) -> Self {
        Self {
            trace,
            name,
            short,
            phase: Some(phase),
        }
    }

    const fn plain(trace: Trace, name: &'static str) -> Self {
        Self {
            trace,
            name,
            short: "",
            phase: None,
        }
    }

    /// Its colour.
    #[must_use]
    pub const fn colour(&self, theme: &Theme) -> Colour {
        match self.phase {
            Some(phase) => theme.phase(phase),
            None => theme.ink,
        }
    }
}

/// Three curves of the phases, from one kind of trace.
macro_rules! phases {
    ($of:expr, $name:literal) => {
        const {
            [
                Curve::phase($of(0), concat!($name, " U"), "U", Phase::U),
                Curve::phase($of(1), concat!($name, " V"), "V", Phase::V),
                Curve::phase($of(2), concat!($name, " W"), "W", Phase::W),
            ]
        }
    };
}

const fn line_current(leg: u8) -> Trace {
    Trace::Of(Quantity::LineCurrent(leg))
}
const fn phase_current(leg: u8) -> Trace {
    Trace::Of(Quantity::PhaseCurrent(leg))
}
const fn back_emf(leg: u8) -> Trace {
    Trace::Of(Quantity::BackEmf(leg))
}
const fn terminal(leg: u8) -> Trace {
    Trace::Of(Quantity::Terminal(leg))
}

const PHASE_EMF: [Curve; 3] = phases!(back_emf, "back-EMF");
const TERMINALS: [Curve; 3] = phases!(terminal, "terminal voltage");
const LEADS: [Curve; 3] = phases!(line_current, "lead current");
const WINDINGS: [Curve; 3] = phases!(phase_current, "winding current");
const LINE_EMF: [Curve; 3] = [
    Curve::phase(Trace::LineBackEmf(0), "line back-EMF U−V", "U−V", Phase::U),
    Curve::phase(Trace::LineBackEmf(1), "line back-EMF V−W", "V−W", Phase::V),
    Curve::phase(Trace::LineBackEmf(2), "line back-EMF W−U", "W−U", Phase::W),
];
const TORQUE: [Curve; 1] = [Curve::plain(Trace::Of(Quantity::Torque), "torque")];
const SPEED: [Curve; 1] = [Curve::plain(Trace::Of(Quantity::Speed), "speed")];
const SUPPLY: [Curve; 1] = [Curve::plain(
    Trace::Of(Quantity::SupplyCurrent),
    "supply current",
)];

impl Row {
    /// All rows, in the order in which they stand.
    pub const ALL: [Self; 9] = [
        Self::LeadCurrents,
        Self::WindingCurrents,
        Self::PhaseBackEmf,
        Self::LineBackEmf,
        Self::TerminalVoltages,
        Self::Torque,
        Self::Speed,
        Self::SupplyCurrent,
        Self::Legs,
    ];

    /// Its name on the screen.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::PhaseBackEmf => "phase back-EMF",
            Self::LineBackEmf => "line back-EMF",
            Self::TerminalVoltages => "terminal voltages",
            Self::LeadCurrents => "lead currents",
            Self::WindingCurrents => "winding currents",
            Self::Torque => "torque",
            Self::Speed => "speed",
            Self::SupplyCurrent => "supply current",
            Self::Legs => "legs",
        }
    }

    /// The unit in which people read it; empty for the legs.
    #[must_use]
    pub const fn unit(self) -> &'static str {
        match self {
            Self::PhaseBackEmf | Self::LineBackEmf | Self::TerminalVoltages => "V",
            Self::LeadCurrents | Self::WindingCurrents | Self::SupplyCurrent => "A",
            Self::Torque => "mNm",
            Self::Speed => "rpm",
            Self::Legs => "",
        }
    }

    /// The unit's size: values in SI times this are in [`Row::unit`].
    #[must_use]
    pub const fn per_si(self) -> f64 {
        match self {
            Self::Torque => 1e3,
            Self::Speed => 30.0 / std::f64::consts::PI,
            _ => 1.0,
        }
    }

    /// Its curves; none for the legs.
    #[must_use]
    pub const fn curves(self) -> &'static [Curve] {
        match self {
            Self::PhaseBackEmf => &PHASE_EMF,
            Self::LineBackEmf => &LINE_EMF,
            Self::TerminalVoltages => &TERMINALS,
            Self::LeadCurrents => &LEADS,
            Self::WindingCurrents => &WINDINGS,
            Self::Torque => &TORQUE,
            Self::Speed => &SPEED,
            Self::SupplyCurrent => &SUPPLY,
            Self::Legs => &[],
        }
    }

    /// Whether zero always lies in the scale, and in its middle.
    pub(super) const fn about_zero(self) -> bool {
        matches!(
            self,
            Self::PhaseBackEmf | Self::LineBackEmf | Self::LeadCurrents | Self::WindingCurrents
        )
    }

    /// Whether zero always lies in the scale.
    pub(super) const fn with_zero(self) -> bool {
        !matches!(self, Self::Speed)
    }
}
