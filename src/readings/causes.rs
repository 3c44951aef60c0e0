//! What may have gone wrong: each cause as one or several ways in which the readings came about.
//!
//! A cause has a weight from before anything was read (how often such a slip comes up) and variants
//! that share it. The weights are judgement: common practice, no source. What decides are the
//! readings, unless they say nothing.

use super::instrument::{Instrument, Measured};
use super::reading::{Between, EmfKind, Of, Pair, Reading};
use super::relations::{driven, emf_of_pair, temperature_of, times_of_pair};
use super::sheet::BenchSheet;
use super::variant::{Extra, Read, Variant, pole_pairs};
use crate::setup::Connection;

/// What a contradiction may come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// Nothing went wrong.
    AllRight,
    /// Magnets were counted as pairs, each pole as two, or one was missed.
    PoleCount,
    /// The tachometer sees more or fewer marks in a turn than it thinks.
    TachometerMarks,
    /// The stroboscope's picture stood still at another speed.
    StroboscopeAlias,
    /// The oscilloscope sampled too slowly and showed a lower frequency.
    ScopeAlias,
    /// The rotor had lost the step of its drive; which `[[driven]]`, counted from 1.
    LostStep(usize),
    /// A value noted as RMS is a peak.
    PeakForRms,
    /// A value noted as peak is an RMS.
    RmsForPeak,
    /// A value noted as RMS is the rectified average.
    AverageForRms,
    /// A value noted as peak is from the lowest to the highest.
    PeakToPeakForPeak,
    /// One winding was measured where two leads are noted.
    PhaseForLine,
    /// The winding was warmer than noted; which `[[resistance]]`, counted from 1.
    WarmWinding(usize),
    /// A bad joint in one phase: U, V, W are 0, 1, 2.
    BadJoint(u8),
    /// Shorted turns in one phase: U, V, W are 0, 1, 2.
    ShortedTurns(u8),
    /// Star was taken for delta, or delta for star.
    OtherConnection,
    /// An instrument is off in all its readings.
    InstrumentOff(Instrument, Measured),
    /// A slip in one reading, by index.
    Slip(usize),
}

impl Cause {
    /// The weight from before the readings, against 1 for all being right. A cause that is told by
    /// its index shares its weight with its like.
    fn weight(self, sheet: &BenchSheet) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "a number of readings")]
        let share = |n: usize| 1.0 / n.max(1) as f64;
        match self {
            Self::AllRight => 1.0,
            Self::PoleCount | Self::TachometerMarks => 0.04,
            Self::LostStep(_) => 0.03 * share(sheet.rows.driven),
            Self::StroboscopeAlias | Self::ScopeAlias => 0.03,
            Self::PeakForRms | Self::RmsForPeak | Self::PeakToPeakForPeak => 0.03,
            Self::AverageForRms | Self::PhaseForLine | Self::OtherConnection => 0.02,
            Self::WarmWinding(_) => 0.04 * share(sheet.rows.resistance),
            Self::BadJoint(_) => 0.02 / 3.0,
            Self::ShortedTurns(_) => 0.01 / 3.0,
            Self::InstrumentOff(..) => 0.004,
            Self::Slip(_) => 0.02 * share(sheet.readings.len()),
        }
    }

    /// Whether repeating the reading with care would show it again: it is in the motor.
    #[must_use]
    pub const fn is_in_motor(self) -> bool {
        matches!(self, Self::BadJoint(_) | Self::ShortedTurns(_))
    }
}

/// Ways to go wrong of one cause, with shares that add up to one at most.
struct Ways<'a> {
    sheet: &'a BenchSheet,
    out: Vec<Variant>,
}

/// All ways in which the readings may have come about, all right first.
pub(super) fn variants(sheet: &BenchSheet) -> Vec<Variant> {
    let mut ways = Ways {
        sheet,
        out: Vec::new(),
    };
    ways.add(Cause::AllRight, 1.0, Vec::new(), None);
    ways.pole_counts();
    ways.tachometer();
    ways.aliases();
    ways.lost_steps();
    ways.emf_kinds();
    ways.warm_windings();
    ways.phases();
    ways.connection();
    ways.instruments();
    ways.slips();
    ways.out
}

/// Natural logarithm of the hundredfold range in which a slip leaves a value.
fn log_range() -> f64 {
    libm::log(100.0)
}

/// A value that says nothing lies anywhere within a factor of ten either way.
fn loose(value: f64) -> Read {
    Read::Loose(-libm::log(value.abs() * log_range()))
}

impl Ways<'_> {
    fn indices(&self, wanted: impl Fn(&Reading) -> bool) -> Vec<usize> {
        let readings = self.sheet.readings.iter().enumerate();
        readings
            .filter(|(_, reading)| wanted(reading))
            .map(|(idx, _)| idx)
            .collect()
    }

    /// One way, for each number of pole pairs that may be.
    fn add(&mut self, cause: Cause, share: f64, reads: Vec<(usize, Read)>, extra: Option<Extra>) {
        self.add_with(cause, share, reads, extra, |_| {});
    }

    /// The same, each of them changed alike.
    fn add_with(
        &mut self,
        cause: Cause,
        share: f64,
        reads: Vec<(usize, Read)>,
        extra: Option<Extra>,
        change: impl Fn(&mut Variant),
    ) {
        for (pole_pairs, part) in pole_pairs(self.sheet, &reads) {
            let mut variant = Variant {
                cause,
                also: None,
                weight: cause.weight(self.sheet) * share * part,
                pole_pairs,
                pole_pairs_part: part,
                reads: reads.clone(),
                extras: extra.clone().into_iter().collect(),
                connection: None,
                label_times: (1.0, 1.0),
            };
            change(&mut variant);
            self.out.push(variant);
        }
    }

    /// All of these readings alike, or one of them alone.
    fn all_or_one(
        &mut self,
        cause: Cause,
        share: f64,
        found: &[usize],
        read: impl Fn(usize) -> Read,
    ) {
        let Some(first) = found.first() else {
            return;
        };
        if found.len() == 1 {
            self.add(cause, share, vec![(*first, read(*first))], None);
            return;
        }
        let all = found.iter().map(|&idx| (idx, read(idx))).collect();
        self.add(cause, 0.7 * share, all, None);
        #[expect(clippy::cast_precision_loss, reason = "a number of readings")]
        let each = 0.3 * share / found.len() as f64;
        for &idx in found {
            self.add(cause, each, vec![(idx, read(idx))], None);
        }
    }

    fn pole_counts(&mut self) {
        let Some(magnets) = self.sheet.motor.magnets else {
            return;
        };
        let counted = 0.5 * f64::from(magnets);
        let mut add = |pole_pairs: f64, share: f64| {
            if pole_pairs >= 1.0 && pole_pairs.fract() == 0.0 {
                self.add_with(Cause::PoleCount, share, Vec::new(), None, |way| {
                    way.pole_pairs = pole_pairs;
                });
            }
        };
        add(2.0 * counted, 0.35);
        add(0.5 * counted, 0.35);
        add(counted + 1.0, 0.12);
        add(counted - 1.0, 0.12);
    }

    fn tachometer(&mut self) {
        let of = |instrument: Instrument| {
            self.indices(|reading| {
                reading.instrument == instrument && reading.measured == Measured::Speed
            })
        };
        let (tachometer, stroboscope) = (of(Instrument::Tachometer), of(Instrument::Stroboscope));
        self.all_or_one(Cause::TachometerMarks, 0.6, &tachometer, |_| {
            Read::Times(2.0)
        });
        for (times, share) in [(0.5, 0.2), (3.0, 0.15), (1.0 / 3.0, 0.05)] {
            let reads = tachometer.iter().map(|&idx| (idx, Read::Times(times)));
            if !tachometer.is_empty() {
                self.add(Cause::TachometerMarks, share, reads.collect(), None);
            }
        }
        // a mark stands still too where the lamp flashes once in two turns, or twice in one
        for (times, share) in [(0.5, 0.5), (2.0, 0.3), (1.0 / 3.0, 0.1), (3.0, 0.1)] {
            self.all_or_one(Cause::StroboscopeAlias, share, &stroboscope, |_| {
                Read::Times(times)
            });
        }
    }

    fn aliases(&mut self) {
        let found = self.indices(|reading| {
            reading.instrument == Instrument::Scope && reading.measured == Measured::Frequency
        });
        let values: Vec<f64> = self.sheet.readings.iter().map(|r| r.value).collect();
        self.all_or_one(Cause::ScopeAlias, 1.0, &found, |idx| loose(values[idx]));
    }

    /// The speed of a rotor out of step is anything below that of its drive, and far more often slow
    /// than nearly as fast: it hardly gets along. Density 3 (1 − x)² of x, speed over that in step:
    /// common practice, no source.
    fn lost_steps(&mut self) {
        for (frequency, speed, row) in driven(self.sheet) {
            for (pole_pairs, _) in pole_pairs(self.sheet, &[]) {
                let readings = &self.sheet.readings;
                let in_step = std::f64::consts::TAU * readings[frequency].value / pole_pairs;
                let left = 1.0 - readings[speed].value / in_step;
                if left > 0.005 {
                    let read = Read::Loose(libm::log(3.0 * left * left / in_step));
                    self.add(Cause::LostStep(row), 1.0, vec![(speed, read)], None);
                    break;
                }
            }
        }
    }

    fn emf_kinds(&mut self) {
        let of = |wanted: &[EmfKind], between: Option<Between>| {
            self.indices(|reading| match reading.of {
                Of::Emf {
                    kind, between: at, ..
                } => wanted.contains(&kind) && between.is_none_or(|between| between == at),
                _ => false,
            })
        };
        let (rms, peak) = (of(&[EmfKind::Rms], None), of(&[EmfKind::Peak], None));
        let every = [
            EmfKind::Peak,
            EmfKind::PeakToPeak,
            EmfKind::Rms,
            EmfKind::Average,
        ];
        let lines = of(&every, Some(Between::Lines));
        let stated: Vec<(EmfKind, Between)> = self
            .sheet
            .readings
            .iter()
            .map(|reading| reading.emf().unwrap_or((EmfKind::Peak, Between::Lines)))
            .collect();
        for (cause, found, kind) in [
            (Cause::PeakForRms, &rms, EmfKind::Peak),
            (Cause::AverageForRms, &rms, EmfKind::Average),
            (Cause::RmsForPeak, &peak, EmfKind::Rms),
            (Cause::PeakToPeakForPeak, &peak, EmfKind::PeakToPeak),
        ] {
            self.all_or_one(cause, 1.0, found, |idx| Read::Emf(kind, stated[idx].1));
        }
        if self.sheet.motor.connection == Connection::Star {
            let read = |idx: usize| Read::Emf(stated[idx].0, Between::Phase);
            self.all_or_one(Cause::PhaseForLine, 0.8, &lines, read);
            let ohms = self.indices(|reading| {
                matches!(reading.of, Of::Resistance { between, .. } if between == Between::Lines)
            });
            self.all_or_one(Cause::PhaseForLine, 0.2, &ohms, |_| Read::Times(0.5));
        }
    }

    fn warm_windings(&mut self) {
        /// Warmer than noted by so many K, each with its neighbourhood.
        const STEPS_K: [f64; 3] = [20.0, 43.0, 70.0];
        const HALF_STEP_K: f64 = 12.0;
        for row in 1..=self.sheet.rows.resistance {
            let found = self.indices(
                |reading| matches!(reading.of, Of::Resistance { row: at, .. } if at == row),
            );
            let noted = found
                .iter()
                .find_map(|&idx| match self.sheet.readings[idx].of {
                    Of::Resistance { latent, .. } => temperature_of(self.sheet, latent),
                    _ => None,
                });
            let zero = super::model::COPPER_ZERO_DEG_C + noted.unwrap_or(20.0);
            for step in STEPS_K {
                let times = 1.0 + step / zero;
                let reads = found.iter().map(|&idx| (idx, Read::Times(times))).collect();
                let extra = Extra {
                    sigma: HALF_STEP_K / zero,
                    parts: found.iter().map(|&idx| (idx, 1.0)).collect(),
                };
                self.add(Cause::WarmWinding(row), 1.0 / 3.0, reads, Some(extra));
            }
        }
    }

    /// One phase off by a part d of its own, for several d: its resistance, and where turns are shorted
    /// its EMF too. A joint takes no part in the EMF of open leads.
    fn phases(&mut self) {
        const MORE: [f64; 4] = [0.1, 0.3, 0.8, 2.0];
        const LESS: [f64; 3] = [-0.08, -0.2, -0.45];
        let readings = || self.sheet.readings.iter().enumerate();
        let ohms: Vec<(usize, Pair)> = readings()
            .filter_map(|(idx, reading)| match reading.of {
                Of::Resistance {
                    pair,
                    between: Between::Lines,
                    ..
                } => Some((idx, pair)),
                _ => None,
            })
            .collect();
        let star = self.sheet.motor.connection == Connection::Star;
        // in delta a current goes round the loop, and the EMF at the leads is not that of the windings
        let emfs: Vec<(usize, Pair)> = readings()
            .filter_map(|(idx, reading)| match reading.of {
                Of::Emf { pair, .. } => pair.filter(|_| star).map(|pair| (idx, pair)),
                _ => None,
            })
            .collect();
        for phase in 0..3_u8 {
            if ohms.len() > 1 {
                self.one_phase(Cause::BadJoint(phase), phase, &MORE, &ohms, &[]);
            }
            if ohms.len() > 1 || emfs.len() > 1 {
                self.one_phase(Cause::ShortedTurns(phase), phase, &LESS, &ohms, &emfs);
            }
        }
    }

    fn one_phase(
        &mut self,
        cause: Cause,
        phase: u8,
        sizes: &[f64],
        ohms: &[(usize, Pair)],
        emfs: &[(usize, Pair)],
    ) {
        let connection = self.sheet.motor.connection;
        let all = |d: f64| -> Vec<(usize, f64)> {
            let ohms = ohms
                .iter()
                .map(|&(idx, pair)| (idx, times_of_pair(connection, phase, d, pair)));
            let emfs = emfs
                .iter()
                .map(|&(idx, pair)| (idx, emf_of_pair(phase, d, pair)));
            ohms.chain(emfs).collect()
        };
        #[expect(clippy::cast_precision_loss, reason = "a handful")]
        let share = 1.0 / sizes.len() as f64;
        for &d in sizes {
            let (times, near) = (all(d), all(1.6 * d));
            let part = times
                .iter()
                .zip(&near)
                .map(|((idx, times), (_, near))| (*idx, near / times - 1.0));
            let extra = Extra {
                sigma: 1.0,
                parts: part.collect(),
            };
            let reads = times.iter().map(|&(idx, times)| (idx, Read::Times(times)));
            self.add(cause, share, reads.collect(), Some(extra));
        }
    }

    /// The label, or what was measured of one winding, is for the other connection.
    fn connection(&mut self) {
        let other = match self.sheet.motor.connection {
            Connection::Star => Connection::Delta,
            Connection::Delta => Connection::Star,
        };
        let one_winding = self.sheet.readings.iter().any(|reading| {
            matches!(
                reading.of,
                Of::Emf {
                    between: Between::Phase,
                    ..
                } | Of::Resistance {
                    between: Between::Phase,
                    ..
                }
            )
        });
        if one_winding {
            self.add_with(Cause::OtherConnection, 0.5, Vec::new(), None, |way| {
                way.connection = Some(other);
            });
        }
        let label = &self.sheet.label;
        if label.kv_rad_per_v_s.is_some() || label.line_resistance_ohm.is_some() {
            let root = 3.0_f64.sqrt();
            // the same coils in delta: line EMF over √3, line resistance over 3
            let times = match self.sheet.motor.connection {
                Connection::Star => (1.0 / root, 1.0 / 3.0),
                Connection::Delta => (root, 3.0),
            };
            for (times, share) in [(times, 0.35), ((1.0 / times.0, 1.0 / times.1), 0.15)] {
                self.add_with(Cause::OtherConnection, share, Vec::new(), None, |way| {
                    way.label_times = times;
                });
            }
        }
    }

    fn instruments(&mut self) {
        let mut seen: Vec<(Instrument, Measured)> = Vec::new();
        for reading in &self.sheet.readings {
            let which = (reading.instrument, reading.measured);
            if reading.is_checked() && !seen.contains(&which) {
                seen.push(which);
            }
        }
        for (instrument, measured) in seen {
            let found = self.indices(|reading| {
                (reading.instrument, reading.measured) == (instrument, measured)
            });
            if found.len() > 1 {
                let extra = Extra {
                    sigma: 0.25,
                    parts: found.iter().map(|&idx| (idx, 1.0)).collect(),
                };
                let cause = Cause::InstrumentOff(instrument, measured);
                self.add(cause, 1.0, Vec::new(), Some(extra));
            }
        }
    }

    fn slips(&mut self) {
        for idx in 0..self.sheet.readings.len() {
            let reading = &self.sheet.readings[idx];
            if reading.is_checked() {
                let read = loose(reading.value);
                self.add(Cause::Slip(idx), 1.0, vec![(idx, read)], None);
            }
        }
    }
}
