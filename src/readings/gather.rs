//! From the tables of a readings file to its readings, each with its uncertainty.

use std::f64::consts::TAU;

use super::instrument::{Instrument, Measured};
use super::reading::{Between, EmfKind, Gain, Of, Pair, Reading};
use super::sheet::Rows;
use crate::analysis::Unit;
use crate::setup::Assembler;

/// rpm shown, rad/s held.
const RPM: Unit = Unit {
    per_si: 60.0 / TAU,
    ..Unit::RPM
};

/// Gathers readings from the tables of the file.
#[derive(Default)]
pub(super) struct Gather {
    pub(super) readings: Vec<Reading>,
    pub(super) gains: Vec<Gain>,
    /// Unknown values of the rows so far.
    pub(super) n_latents: usize,
}

/// Where a value stands, what it is, and how it was taken.
#[derive(Clone, Copy)]
struct Key<'k> {
    row: usize,
    path: &'k str,
    name: &'static str,
    by: &'k str,
    measured: Measured,
    unit: Unit,
}

impl Gather {
    /// All lists of the file, in their order.
    pub(super) fn rows(&mut self, a: &mut Assembler<'_>) -> Rows {
        let mut count = |list: &str, take: fn(&mut Gather, &mut Assembler<'_>, usize)| {
            let mut row = 0;
            a.items(list, |a| {
                row += 1;
                take(self, a, row);
            })
            .len()
        };
        Rows {
            driven: count("driven", Gather::driven),
            spun: count("spun", Gather::spun),
            resistance: count("resistance", Gather::resistance),
            no_load: count("no_load", Gather::no_load),
            stall: count("stall", Gather::stall),
            run_down: count("run_down", Gather::run_down),
            inductance: count("inductance", Gather::inductance),
        }
    }

    fn latent(&mut self) -> usize {
        self.n_latents += 1;
        self.n_latents - 1
    }

    /// Adds the value of a key where the text gives it.
    fn take(&mut self, a: &mut Assembler<'_>, key: Key<'_>, of: Of) {
        let Some(value) = a.maybe_number(key.path) else {
            return;
        };
        let instrument = Instrument::of_word(key.by).unwrap_or(Instrument::Multimeter);
        let stated = a.tolerance(key.path);
        let (table, _) = key.path.split_once('.').unwrap_or((key.path, ""));
        let (standard, gain) = match stated {
            // what a person states is a reading's own: 95 of 100 lie within, half of it is standard
            Some(half) => (0.5 * half, None),
            None => {
                let accuracy = instrument.accuracy(key.measured);
                let own = 0.5 * libm::hypot(accuracy.own * value, accuracy.least);
                (own, self.gain(instrument, key.measured))
            }
        };
        self.readings.push(Reading {
            row: format!("{} {}", table.replace('_', "-"), key.row),
            name: key.name,
            value,
            unit: key.unit,
            standard,
            gain,
            instrument,
            measured: key.measured,
            stated: stated.is_some(),
            of,
        });
    }

    /// The calibration that all readings of this kind with this instrument share.
    fn gain(&mut self, instrument: Instrument, measured: Measured) -> Option<usize> {
        let accuracy = instrument.accuracy(measured);
        if accuracy.shared <= 0.0 {
            return None;
        }
        let known = |gain: &Gain| gain.instrument == instrument && gain.measured == measured;
        Some(self.gains.iter().position(known).unwrap_or_else(|| {
            self.gains.push(Gain {
                instrument,
                measured,
                standard: 0.5 * accuracy.shared,
            });
            self.gains.len() - 1
        }))
    }

    fn temperature(&mut self, a: &mut Assembler<'_>, row: usize, path: &str) -> usize {
        let latent = self.latent();
        let key = Key {
            row,
            path,
            name: "winding temperature",
            by: "thermometer",
            measured: Measured::Temperature,
            unit: Unit::DEGREE_CELSIUS,
        };
        self.take(a, key, Of::Temperature { latent });
        if !a.given(path)
            && let Some(assumed) = self.readings.last_mut()
        {
            // nobody looked: a room is within 8 K of it
            assumed.standard = 4.0;
        }
        latent
    }

    fn speed(&mut self, a: &mut Assembler<'_>, row: usize, path: &str, by: &str, latent: usize) {
        let name = match path {
            "run_down.from" => "speed at the start",
            "run_down.to" => "speed at the end",
            _ => "speed",
        };
        let key = Key {
            row,
            path,
            name,
            by,
            measured: Measured::Speed,
            unit: RPM,
        };
        self.take(a, key, Of::Speed { latent });
    }

    fn driven(&mut self, a: &mut Assembler<'_>, row: usize) {
        let latent = self.latent();
        let by = a.word("driven.frequency_by");
        let key = Key {
            row,
            path: "driven.frequency",
            name: "frequency",
            by,
            measured: Measured::Frequency,
            unit: Unit::HERTZ,
        };
        self.take(a, key, Of::Frequency { latent });
        let by = a.word("driven.speed_by");
        self.speed(a, row, "driven.speed", by, latent);
    }

    fn spun(&mut self, a: &mut Assembler<'_>, row: usize) {
        let latent = self.latent();
        let by = a.word("spun.speed_by");
        self.speed(a, row, "spun.speed", by, latent);
        let kind = match a.word("spun.emf_kind") {
            "peak" => Some(EmfKind::Peak),
            "peak-to-peak" => Some(EmfKind::PeakToPeak),
            "rms" => Some(EmfKind::Rms),
            "average" => Some(EmfKind::Average),
            _ => None,
        };
        if a.given("spun.emf") && !a.given("spun.emf_kind") {
            let place = a.home("spun.emf_kind");
            a.missing(
                "spun.emf_kind",
                "a voltage that alternates is a peak, an RMS or an average, and they differ by up to half",
                place,
            );
        }
        let between = between(a.word("spun.emf_between"));
        let by = a.word("spun.emf_by");
        if let Some(kind) = kind {
            let key = Key {
                row,
                path: "spun.emf",
                name: kind.name(between),
                by,
                measured: Measured::Emf,
                unit: Unit::VOLT,
            };
            let pair = match a.word("spun.emf_pair") {
                "u_v" => Some(Pair::UV),
                "v_w" => Some(Pair::VW),
                "w_u" => Some(Pair::WU),
                _ => None,
            };
            let of = Of::Emf {
                latent,
                kind,
                between,
                pair: pair.filter(|_| between == Between::Lines),
            };
            self.take(a, key, of);
        }
        let by = a.word("spun.frequency_by");
        let key = Key {
            row,
            path: "spun.frequency",
            name: "frequency",
            by,
            measured: Measured::Frequency,
            unit: Unit::HERTZ,
        };
        self.take(a, key, Of::Frequency { latent });
    }

    fn resistance(&mut self, a: &mut Assembler<'_>, row: usize) {
        let latent = self.temperature(a, row, "resistance.temperature");
        let by = a.word("resistance.by");
        let between = between(a.word("resistance.between"));
        for (pair, path, name) in [
            (Pair::UV, "resistance.u_v", "resistance U to V"),
            (Pair::VW, "resistance.v_w", "resistance V to W"),
            (Pair::WU, "resistance.w_u", "resistance W to U"),
        ] {
            let key = Key {
                row,
                path,
                name,
                by,
                measured: Measured::Resistance,
                unit: Unit::OHM,
            };
            let of = Of::Resistance {
                pair,
                latent,
                between,
                row,
            };
            self.take(a, key, of);
        }
        if !["u_v", "v_w", "w_u"]
            .iter()
            .any(|name| a.given(&format!("resistance.{name}")))
        {
            let place = a.home("resistance.u_v");
            a.missing("resistance.u_v", "a resistance has at least one", place);
        }
    }

    fn no_load(&mut self, a: &mut Assembler<'_>, row: usize) {
        let latent = self.latent();
        let by = a.word("no_load.voltage_by");
        let key = Key {
            row,
            path: "no_load.voltage",
            name: "voltage",
            by,
            measured: Measured::Voltage,
            unit: Unit::VOLT,
        };
        self.take(a, key, Of::NoLoadVoltage { latent });
        let by = a.word("no_load.current_by");
        let key = Key {
            path: "no_load.current",
            name: "current",
            by,
            measured: Measured::Current,
            unit: Unit::AMPERE,
            ..key
        };
        self.take(a, key, Of::NoLoadCurrent { latent });
        let by = a.word("no_load.speed_by");
        self.speed(a, row, "no_load.speed", by, latent);
    }

    fn stall(&mut self, a: &mut Assembler<'_>, row: usize) {
        let latent = self.latent();
        let by = a.word("stall.current_by");
        let key = Key {
            row,
            path: "stall.current",
            name: "current",
            by,
            measured: Measured::Current,
            unit: Unit::AMPERE,
        };
        self.take(a, key, Of::StallCurrent { latent });
        let key = Key {
            path: "stall.torque",
            name: "torque",
            by: "torque-cell",
            measured: Measured::Torque,
            unit: Unit::NEWTON_METRE,
            ..key
        };
        self.take(a, key, Of::StallTorque { latent });
        if a.given("stall.force") || a.given("stall.arm") {
            self.lever(a, row, latent);
        }
        if a.given("stall.voltage") {
            let temperature = self.temperature(a, row, "stall.temperature");
            let by = a.word("stall.voltage_by");
            let key = Key {
                path: "stall.voltage",
                name: "voltage",
                by,
                measured: Measured::Voltage,
                unit: Unit::VOLT,
                ..key
            };
            self.take(
                a,
                key,
                Of::StallVoltage {
                    latent,
                    temperature,
                },
            );
        }
        if !a.given("stall.torque") && !a.given("stall.force") && !a.given("stall.voltage") {
            let place = a.home("stall.torque");
            a.missing(
                "stall.torque",
                "a stall test gives a torque, a force on an arm, or a voltage",
                place,
            );
        }
    }

    /// Force and arm make one torque: their product, the relative uncertainties added in squares
    /// (JCGM 100:2008, 5.1.6).
    fn lever(&mut self, a: &mut Assembler<'_>, row: usize, latent: usize) {
        for (path, other) in [("stall.force", "stall.arm"), ("stall.arm", "stall.force")] {
            if !a.given(path) {
                let place = a.home(path);
                a.missing(path, &format!("`{other}` is given"), place);
            }
        }
        let (force, arm) = (a.maybe_number("stall.force"), a.maybe_number("stall.arm"));
        let (Some(force), Some(arm)) = (force, arm) else {
            return;
        };
        let balance = Instrument::SpringBalance.accuracy(Measured::Force);
        let ruler = Instrument::Ruler.accuracy(Measured::Length);
        let stated = a.tolerance("stall.force");
        let of_force = stated.unwrap_or(libm::hypot(balance.own * force, balance.least)) / force;
        let of_arm = a.tolerance("stall.arm").unwrap_or(ruler.least) / arm;
        let gain = if stated.is_some() {
            None
        } else {
            self.gain(Instrument::SpringBalance, Measured::Force)
        };
        self.readings.push(Reading {
            row: format!("stall {row}"),
            name: "torque, force times arm",
            value: force * arm,
            unit: Unit::NEWTON_METRE,
            standard: 0.5 * force * arm * libm::hypot(of_force, of_arm),
            gain,
            instrument: Instrument::SpringBalance,
            measured: Measured::Torque,
            stated: stated.is_some(),
            of: Of::StallTorque { latent },
        });
    }

    fn run_down(&mut self, a: &mut Assembler<'_>, row: usize) {
        let (from, to) = (self.latent(), self.latent());
        let by = a.word("run_down.speed_by");
        self.speed(a, row, "run_down.from", by, from);
        self.speed(a, row, "run_down.to", by, to);
        let (first, last) = (a.number("run_down.from"), a.number("run_down.to"));
        if last >= first && a.problems.is_empty() {
            a.contradiction(
                "a run-down ends slower than it begins".to_owned(),
                "exchange `from` and `to`",
                &[("run_down.from", "from"), ("run_down.to", "to")],
            );
        }
        let by = a.word("run_down.time_by");
        let added_kg_m2 = a.number("run_down.added_inertia");
        let key = Key {
            row,
            path: "run_down.time",
            name: "time",
            by,
            measured: Measured::Time,
            unit: Unit::SECOND,
        };
        let of = Of::RunDown {
            from,
            to,
            added_kg_m2,
        };
        self.take(a, key, of);
    }

    fn inductance(&mut self, a: &mut Assembler<'_>, row: usize) {
        let by = a.word("inductance.by");
        let key = Key {
            row,
            path: "inductance.line",
            name: "line inductance",
            by,
            measured: Measured::Inductance,
            unit: Unit::HENRY,
        };
        self.take(a, key, Of::Inductance);
    }
}

fn between(word: &str) -> Between {
    if word == "phase" {
        Between::Phase
    } else {
        Between::Lines
    }
}
