//! What instruments are good for where nobody says: defaults by class.
//!
//! Each default has a part that every reading of one instrument shares (its calibration), and a
//! part that comes anew with each reading (how it is read off, the last digit). All are expanded
//! uncertainties with a coverage factor of 2, about 95 % (JCGM 100:2008, 6.3.3, cited from memory);
//! the standard uncertainty is half of them.

/// What was read with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Instrument {
    /// Optical tachometer with a reflective mark.
    Tachometer,
    /// Flashing lamp that makes a mark stand still.
    Stroboscope,
    /// Counts electrical turns over a gate time.
    FrequencyCounter,
    /// The frequency that a drive was set to.
    Setting,
    /// Two-wire handheld meter.
    Multimeter,
    /// Current through two leads, voltage taken by two others.
    FourWire,
    /// Oscilloscope, read by its cursors or its measuring functions.
    Scope,
    /// Spring balance on a lever.
    SpringBalance,
    /// Torque read directly, on a beam or a cell.
    TorqueCell,
    /// Ruler or tape.
    Ruler,
    /// Stopwatch started and stopped by hand.
    Stopwatch,
    /// Inductance meter or bridge.
    InductanceMeter,
    /// Thermometer against the winding.
    Thermometer,
}

/// What kind of quantity an instrument read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Measured {
    /// Speed of the shaft.
    Speed,
    /// Electrical frequency.
    Frequency,
    /// Alternating voltage.
    Emf,
    /// Direct voltage.
    Voltage,
    /// Resistance.
    Resistance,
    /// Current.
    Current,
    /// Force.
    Force,
    /// Torque.
    Torque,
    /// Length.
    Length,
    /// Time.
    Time,
    /// Inductance.
    Inductance,
    /// Temperature.
    Temperature,
}

/// How well an instrument reads, as expanded uncertainties (coverage factor 2).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Accuracy {
    /// Part of the reading that all readings of this instrument share: its calibration.
    pub shared: f64,
    /// Part of the reading that comes anew each time.
    pub own: f64,
    /// Amount in SI units that comes anew each time: last digit, contacts, a hand's delay.
    pub least: f64,
    /// Where the numbers come from.
    pub source: &'static str,
}

/// Not one of the numbers below stands in a standard; data sheets of one's own instruments win.
const PRACTICE: &str = "common practice, no source";

/// rad/s of one rpm.
const RPM: f64 = std::f64::consts::TAU / 60.0;

impl Instrument {
    /// What a person calls it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Tachometer => "tachometer",
            Self::Stroboscope => "stroboscope",
            Self::FrequencyCounter => "frequency counter",
            Self::Setting => "setting of the drive",
            Self::Multimeter => "multimeter",
            Self::FourWire => "four-wire meter",
            Self::Scope => "oscilloscope",
            Self::SpringBalance => "spring balance",
            Self::TorqueCell => "torque cell",
            Self::Ruler => "ruler",
            Self::Stopwatch => "stopwatch",
            Self::InductanceMeter => "inductance meter",
            Self::Thermometer => "thermometer",
        }
    }

    /// The instrument of a word in the file.
    #[must_use]
    pub fn of_word(word: &str) -> Option<Self> {
        Some(match word {
            "tachometer" => Self::Tachometer,
            "stroboscope" => Self::Stroboscope,
            "frequency-counter" => Self::FrequencyCounter,
            "setting" => Self::Setting,
            "multimeter" => Self::Multimeter,
            "four-wire" => Self::FourWire,
            "scope" => Self::Scope,
            "spring-balance" => Self::SpringBalance,
            "torque-cell" => Self::TorqueCell,
            "ruler" => Self::Ruler,
            "stopwatch" => Self::Stopwatch,
            "inductance-meter" => Self::InductanceMeter,
            "thermometer" => Self::Thermometer,
            _ => return None,
        })
    }

    /// What it is good for where nobody says.
    #[must_use]
    pub const fn accuracy(self, measured: Measured) -> Accuracy {
        let (shared, own, least) = match (self, measured) {
            // crystal clock; what wanders is the motor's speed while it is read
            (Self::Tachometer, _) => (0.0005, 0.002, RPM),
            (Self::Stroboscope, _) => (0.001, 0.003, RPM),
            (Self::FrequencyCounter, _) => (0.0002, 0.001, 0.02),
            (Self::Setting, _) => (0.001, 0.0005, 0.01),
            (Self::Scope, Measured::Frequency | Measured::Time) => (0.0005, 0.005, 0.0),
            // eight bits over the screen, three percent of gain
            (Self::Scope, _) => (0.03, 0.01, 0.005),
            (Self::Multimeter, Measured::Emf) => (0.012, 0.005, 0.005),
            (Self::Multimeter, Measured::Voltage) => (0.005, 0.002, 0.01),
            (Self::Multimeter, Measured::Current) => (0.015, 0.005, 0.01),
            // leads and clips come with every reading
            (Self::Multimeter, _) => (0.008, 0.005, 0.05),
            (Self::FourWire, _) => (0.005, 0.003, 0.0001),
            (Self::SpringBalance, _) => (0.02, 0.02, 0.02),
            (Self::TorqueCell, _) => (0.01, 0.01, 0.0005),
            (Self::Ruler, _) => (0.0, 0.0, 0.001),
            // a hand at either end
            (Self::Stopwatch, _) => (0.0, 0.0, 0.3),
            (Self::InductanceMeter, _) => (0.02, 0.02, 0.2e-6),
            (Self::Thermometer, _) => (0.0, 0.0, 3.0),
        };
        Accuracy {
            shared,
            own,
            least,
            source: PRACTICE,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_has_its_instrument() {
        for word in [
            "tachometer",
            "stroboscope",
            "frequency-counter",
            "setting",
            "multimeter",
            "four-wire",
            "scope",
            "spring-balance",
            "torque-cell",
            "ruler",
            "stopwatch",
            "inductance-meter",
            "thermometer",
        ] {
            assert!(Instrument::of_word(word).is_some(), "{word}");
        }
        assert_eq!(Instrument::of_word("finger"), None);
    }
}
