//! One reading, and what it says about the motor.

use std::f64::consts::{FRAC_1_SQRT_2, FRAC_2_PI};

use super::instrument::{Instrument, Measured};
use crate::analysis::{Unit, shown, shown_with_range};
use crate::setup::Connection;

/// One value as read. SI units.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// The table it stands in and which of these it is: `no-load 2`.
    pub row: String,
    /// What was read there.
    pub name: &'static str,
    /// The value.
    pub value: f64,
    /// Unit in which it is shown.
    pub unit: Unit,
    /// Its own standard uncertainty.
    pub standard: f64,
    /// The calibration that it shares with other readings, by index.
    pub gain: Option<usize>,
    /// What it was read with.
    pub instrument: Instrument,
    /// What kind of quantity.
    pub measured: Measured,
    /// Whether the person stated the uncertainty.
    pub stated: bool,
    /// What it says about the motor.
    pub of: Of,
}

impl Reading {
    /// Row and name: `no-load 2, speed`.
    #[must_use]
    pub fn place(&self) -> String {
        format!("{}, {}", self.row, self.name)
    }

    /// The value as people read it.
    #[must_use]
    pub fn shown(&self, value: f64) -> String {
        shown(value, self.unit, 4).to_string()
    }

    /// The value as noted with its own expanded uncertainty, stated or by its instrument's class; what
    /// it shares with other readings of the instrument left out.
    #[must_use]
    pub fn with_range(&self) -> String {
        shown_with_range(
            self.value,
            super::estimate::COVERAGE * self.standard,
            self.unit,
        )
    }

    /// What of the EMF it is and between which points, where it is one.
    #[must_use]
    pub const fn emf(&self) -> Option<(EmfKind, Between)> {
        match self.of {
            Of::Emf { kind, between, .. } => Some((kind, between)),
            _ => None,
        }
    }

    /// Whether it was read by an instrument, and is no setting or assumption.
    #[must_use]
    pub fn is_checked(&self) -> bool {
        self.measured != Measured::Temperature
    }
}

/// A calibration that readings share: the instrument shows (1 + g) times the truth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gain {
    /// Of which instrument.
    pub instrument: Instrument,
    /// Reading which quantity.
    pub measured: Measured,
    /// Standard uncertainty of g.
    pub standard: f64,
}

/// What of an alternating voltage was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EmfKind {
    /// From zero to the highest value.
    Peak,
    /// From the lowest to the highest value.
    PeakToPeak,
    /// Root of the mean square.
    Rms,
    /// Mean of the rectified voltage.
    Average,
}

impl EmfKind {
    /// What a person calls it.
    #[must_use]
    pub const fn name(self, between: Between) -> &'static str {
        match (self, between) {
            (Self::Peak, Between::Lines) => "line EMF, peak",
            (Self::PeakToPeak, Between::Lines) => "line EMF, peak to peak",
            (Self::Rms, Between::Lines) => "line EMF, RMS",
            (Self::Average, Between::Lines) => "line EMF, rectified average",
            (Self::Peak, Between::Phase) => "EMF of one winding, peak",
            (Self::PeakToPeak, Between::Phase) => "EMF of one winding, peak to peak",
            (Self::Rms, Between::Phase) => "EMF of one winding, RMS",
            (Self::Average, Between::Phase) => "EMF of one winding, rectified average",
        }
    }

    /// This value over the peak of the EMF between two open leads, for the ideal trapezoid and for
    /// the sine.
    ///
    /// Star, between lines: trapezoid 1, RMS √20/6 = 0.745 356, mean 2/3; sine 1, 1/√2, 2/π. One
    /// winding has half the line's peak as a trapezoid, RMS √7/3 and mean 5/6 of its own, and 1/√3 of
    /// everything as a sine.
    ///
    /// In delta the leads show what is not common to the three windings, e − (e_u + e_v + e_w)/3: of
    /// a trapezoid 4/3 of the winding's peak, RMS √15/6 = 0.645 497 and mean 7/12 of that, so that one
    /// winding opened has 3/4 of it as its peak. A sine shows as it is.
    ///
    /// Integrals of the shapes; of star and of one winding the numbers stand in
    /// `tests/reference/machine_relations.toml`, a delta's are held against the simulation
    /// (`tests/readings.rs`).
    #[must_use]
    pub fn over_line_peak(self, between: Between, connection: Connection) -> (f64, f64) {
        let (trapezoid, sine) = match (self, between, connection) {
            (Self::Peak, ..) => (1.0, 1.0),
            (Self::PeakToPeak, ..) => (2.0, 2.0),
            (Self::Rms, Between::Phase, _) => (7.0_f64.sqrt() / 3.0, FRAC_1_SQRT_2),
            (Self::Rms, Between::Lines, Connection::Star) => (20.0_f64.sqrt() / 6.0, FRAC_1_SQRT_2),
            (Self::Rms, Between::Lines, Connection::Delta) => {
                (15.0_f64.sqrt() / 6.0, FRAC_1_SQRT_2)
            }
            (Self::Average, Between::Phase, _) => (5.0 / 6.0, FRAC_2_PI),
            (Self::Average, Between::Lines, Connection::Star) => (2.0 / 3.0, FRAC_2_PI),
            (Self::Average, Between::Lines, Connection::Delta) => (7.0 / 12.0, FRAC_2_PI),
        };
        match between {
            Between::Lines => (trapezoid, sine),
            Between::Phase => {
                let (of_trapezoid, of_sine) = winding_over_line_peak(connection);
                (of_trapezoid * trapezoid, of_sine * sine)
            }
        }
    }
}

/// Peak of one winding's EMF over that between two open leads, for the ideal trapezoid and for the
/// sine: half and 1/√3 in star, 3/4 and 1 in delta ([`EmfKind::over_line_peak`]).
pub(super) fn winding_over_line_peak(connection: Connection) -> (f64, f64) {
    match connection {
        Connection::Star => (0.5, 1.0 / 3.0_f64.sqrt()),
        Connection::Delta => (0.75, 1.0),
    }
}

/// Between which points.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Between {
    /// Two leads.
    Lines,
    /// The two ends of one winding.
    Phase,
}

/// Two leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pair {
    /// U and V.
    UV,
    /// V and W.
    VW,
    /// W and U.
    WU,
}

/// What a reading says about the motor. `latent` is the index of what was there in truth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Of {
    /// Electrical frequency: p ω / 2π.
    Frequency {
        /// Speed.
        latent: usize,
    },
    /// Speed ω.
    Speed {
        /// Speed.
        latent: usize,
    },
    /// EMF at the open leads.
    Emf {
        /// Speed.
        latent: usize,
        /// What of it.
        kind: EmfKind,
        /// Where.
        between: Between,
        /// Which two leads, where that was noted.
        pair: Option<Pair>,
    },
    /// Resistance between two leads, or of one winding.
    Resistance {
        /// Which leads.
        pair: Pair,
        /// Temperature.
        latent: usize,
        /// Where.
        between: Between,
        /// Which table, counted from 1.
        row: usize,
    },
    /// Temperature of the winding.
    Temperature {
        /// Temperature.
        latent: usize,
    },
    /// Voltage at the controller without load.
    NoLoadVoltage {
        /// Speed.
        latent: usize,
    },
    /// Current without load.
    NoLoadCurrent {
        /// Speed.
        latent: usize,
    },
    /// Current at the stall.
    StallCurrent {
        /// Current.
        latent: usize,
    },
    /// Torque at the stall.
    StallTorque {
        /// Current.
        latent: usize,
    },
    /// Voltage at the stall.
    StallVoltage {
        /// Current.
        latent: usize,
        /// Temperature.
        temperature: usize,
    },
    /// Time from one speed to another.
    RunDown {
        /// Speed at the start.
        from: usize,
        /// Speed at the end.
        to: usize,
        /// Inertia put on for the test in kg m².
        added_kg_m2: f64,
    },
    /// Inductance between two leads.
    Inductance,
}
