//! Causes in plain words: what it is, how it shows, what to do about it.

use super::causes::Cause;
use super::instrument::Measured;
use super::judge::{Ranked, Suspect, Verdict};
use super::sheet::BenchSheet;

/// Letter of a phase.
const fn letter(phase: u8) -> char {
    match phase {
        0 => 'U',
        1 => 'V',
        _ => 'W',
    }
}

impl Cause {
    /// What it is, in a line.
    #[must_use]
    pub fn title(self, sheet: &BenchSheet) -> String {
        match self {
            Self::AllRight => "all is as noted".to_owned(),
            Self::PoleCount => "the magnets were miscounted".to_owned(),
            Self::TachometerMarks => "the tachometer sees other than one mark a turn".to_owned(),
            Self::StroboscopeAlias => "the stroboscope stood still at another speed".to_owned(),
            Self::ScopeAlias => "the oscilloscope sampled too slowly (aliasing)".to_owned(),
            Self::LostStep(row) => {
                format!("the rotor had lost the step of its drive (driven {row})")
            }
            Self::PeakForRms => "a peak was noted as RMS".to_owned(),
            Self::RmsForPeak => "an RMS was noted as peak".to_owned(),
            Self::AverageForRms => "a rectified average was noted as RMS".to_owned(),
            Self::PeakToPeakForPeak => "peak to peak was noted as peak".to_owned(),
            Self::PhaseForLine => "one winding was measured instead of two leads".to_owned(),
            Self::WarmWinding(row) => {
                format!("the winding was warmer than noted (resistance {row})")
            }
            Self::BadJoint(phase) => format!("a bad joint in phase {}", letter(phase)),
            Self::ShortedTurns(phase) => format!("shorted turns in phase {}", letter(phase)),
            Self::OtherConnection => "star was taken for delta, or delta for star".to_owned(),
            Self::InstrumentOff(instrument, measured) => {
                format!("the {} is off ({})", instrument.name(), quantity(measured))
            }
            Self::Slip(idx) => sheet.readings.get(idx).map_or_else(
                || "a slip in one reading".to_owned(),
                |reading| {
                    format!(
                        "a slip in {}: {}",
                        reading.place(),
                        reading.shown(reading.value)
                    )
                },
            ),
        }
    }

    /// Its name in JSON.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::AllRight => "all-right",
            Self::PoleCount => "pole-count",
            Self::TachometerMarks => "tachometer-marks",
            Self::StroboscopeAlias => "stroboscope-alias",
            Self::ScopeAlias => "scope-alias",
            Self::LostStep(_) => "lost-step",
            Self::PeakForRms => "peak-for-rms",
            Self::RmsForPeak => "rms-for-peak",
            Self::AverageForRms => "average-for-rms",
            Self::PeakToPeakForPeak => "peak-to-peak-for-peak",
            Self::PhaseForLine => "phase-for-line",
            Self::WarmWinding(_) => "warm-winding",
            Self::BadJoint(_) => "bad-joint",
            Self::ShortedTurns(_) => "shorted-turns",
            Self::OtherConnection => "other-connection",
            Self::InstrumentOff(..) => "instrument-off",
            Self::Slip(_) => "slip",
        }
    }

    /// How it comes about, and what helps.
    #[must_use]
    pub const fn remedy(self) -> &'static str {
        match self {
            Self::AllRight => "",
            Self::PoleCount => {
                "Each magnet is one pole, and two are a pair; where a pole is made of several pieces, count changes \
                 of side."
            }
            Self::TachometerMarks => {
                "A second reflection (a bright blade, a screw, the other end of the tape) counts as a turn. One strip \
                 on a dull black shaft helps."
            }
            Self::StroboscopeAlias => {
                "The picture also stands still at half and a third of the speed, and with several marks at multiples. \
                 Go down from above: the highest speed with a single mark is the true one."
            }
            Self::ScopeAlias => {
                "Take a shorter time base, so that one turn fills the screen, and look whether the frequency stays."
            }
            Self::LostStep(_) => {
                "A rotor out of step trembles and hums, or creeps. Start slowly, raise the frequency slowly, more \
                 voltage; then read again."
            }
            Self::PeakForRms | Self::RmsForPeak => {
                "An oscilloscope shows the peak, a meter the RMS; for a sine one is 1.41 of the other, for a \
                 trapezoid's line 1.34."
            }
            Self::AverageForRms => {
                "A meter without \"true RMS\" on it takes the rectified average; the two differ by a tenth unless it \
                 corrects for a sine."
            }
            Self::PeakToPeakForPeak => "Half of peak to peak is the peak.",
            Self::PhaseForLine => {
                "Between a lead and the star point there is one winding: 0.58 of the line's EMF for a sine, half of \
                 it for a trapezoid, and half its resistance."
            }
            Self::WarmWinding(_) => {
                "Copper rises by 0.39 % for each kelvin. Let it lie until it is as warm as the room, then measure."
            }
            Self::BadJoint(_) => {
                "Two of three pairs are higher by the same amount (in star). Look at plug, solder and crimp of that \
                 lead first, then at the star point; a joint that is warm to the touch under current is found."
            }
            Self::ShortedTurns(_) => {
                "Two of three pairs are lower by the same amount (in star), in resistance and in EMF alike. Spin it \
                 with open leads: it brakes and warms. Do not run it."
            }
            Self::OtherConnection => {
                "The same coils in delta have 1/√3 of the star's line EMF and a third of its line resistance. Look \
                 whether three ends meet in a star point, or two at each lead."
            }
            Self::InstrumentOff(..) => "Check it on something known, or read with another one.",
            Self::Slip(_) => "A digit, a range, a unit, a loose clip: take it once more.",
        }
    }
}

impl Ranked {
    /// What it is, in a line.
    #[must_use]
    pub fn title(&self, sheet: &BenchSheet) -> String {
        let first = self.cause.title(sheet);
        match self.also {
            None => first,
            Some(other) => format!("{first}, and {}", other.title(sheet)),
        }
    }

    /// How it comes about, and what helps: one for each cause.
    #[must_use]
    pub fn remedies(&self) -> Vec<&'static str> {
        let all = [Some(self.cause), self.also];
        let words = all.into_iter().flatten().map(Cause::remedy);
        words.filter(|words| !words.is_empty()).collect()
    }
}

/// What a kind of quantity is called.
#[must_use]
pub(super) const fn quantity(measured: Measured) -> &'static str {
    match measured {
        Measured::Speed => "speed",
        Measured::Frequency => "frequency",
        Measured::Emf => "alternating voltage",
        Measured::Voltage => "direct voltage",
        Measured::Resistance => "resistance",
        Measured::Current => "current",
        Measured::Force => "force",
        Measured::Torque => "torque",
        Measured::Length => "length",
        Measured::Time => "time",
        Measured::Inductance => "inductance",
        Measured::Temperature => "temperature",
    }
}

impl Suspect {
    /// What it is.
    #[must_use]
    pub fn title(self, sheet: &BenchSheet) -> String {
        match self {
            Self::Reading(idx) => sheet.readings.get(idx).map_or_else(String::new, |reading| {
                format!(
                    "{}, {} by {}",
                    reading.place(),
                    reading.shown(reading.value),
                    reading.instrument.name()
                )
            }),
            Self::Instrument(instrument, measured) => {
                format!("every {} by the {}", quantity(measured), instrument.name())
            }
            Self::Count => sheet.motor.magnets.map_or_else(String::new, |magnets| {
                format!("the count of {magnets} magnets")
            }),
        }
    }
}

impl Verdict {
    /// Frequencies and speeds that say no whole number of pole pairs, or another one than was
    /// counted, in sentences.
    ///
    /// A synchronous machine turns at 60 f / p or not at all: in step there is no slip.
    #[must_use]
    pub fn slips(&self, sheet: &BenchSheet) -> Vec<String> {
        /// Standard uncertainties beyond which a number is another one.
        const SURE: f64 = 4.0;
        let mut told = Vec::new();
        for check in &self.pole_pairs {
            let Some(reading) = sheet.readings.get(check.idx) else {
                continue;
            };
            let nearest = check.value.round().max(1.0);
            let row = &reading.row;
            let counted = sheet.motor.magnets.map(|magnets| 0.5 * f64::from(magnets));
            if (check.value - nearest).abs() > SURE * check.standard {
                told.push(format!(
                    "{row}: 60 f/n is {:.3}, and pole pairs are whole. A synchronous machine turns in step or not at \
                     all, it cannot slip{}",
                    check.value,
                    counted.map_or_else(
                        || ": one of the two readings is wrong, or it had lost the step.".to_owned(),
                        |p| format!(
                            ": with {p} pole pairs {} is {} in step.",
                            reading.shown(reading.value),
                            crate::analysis::shown(
                                60.0 * reading.value / p,
                                crate::analysis::Unit::RPM,
                                4
                            )
                        )
                    )
                ));
            } else if let Some(p) = counted
                && (p - nearest).abs() > 0.5
            {
                told.push(format!(
                    "{row}: frequency and speed say {nearest} pole pairs, {} magnets are {p}.",
                    2.0 * p
                ));
            }
        }
        told
    }
}
