//! What stands around the machine: drive, supply, load, and the run itself.

use super::super::model::*;
use super::super::problem::Problem;
use super::super::units::{Quantity, format_quantity};
use super::Assembler;

impl Assembler<'_> {
    pub(super) fn bench(&mut self) -> Bench {
        Bench {
            drive: self.drive(),
            supply: self.supply(),
            load: self.load(),
        }
    }

    fn drive(&mut self) -> DriveSetup {
        let commutation = match self.word("drive.commutation") {
            "forced" => Commutation::Forced,
            _ => Commutation::Position,
        };
        let direction = match self.word("drive.direction") {
            "reverse" => Direction::Reverse,
            _ => Direction::Forward,
        };
        let gates = match self.word("drive.gates") {
            "all-off" => Gates::AllOff,
            "all-low" => Gates::AllLow,
            _ => Gates::Stepping,
        };
        let advance_rad = self.number("drive.advance");
        let pwm = self.has_table("drive.pwm").then(|| PwmSetup {
            frequency_hz: self.number("drive.pwm.frequency"),
            duty: self.number("drive.pwm.duty"),
            chop: match self.word("drive.pwm.chop") {
                "high-side-synchronous" => Chop::HighSideSynchronous,
                "both-sides" => Chop::BothSides,
                _ => Chop::HighSide,
            },
        });
        let forced = if self.has_table("drive.forced") {
            Some(self.forced())
        } else {
            if commutation == Commutation::Forced {
                let place = self.value_place("drive.commutation");
                self.missing(
                    "drive.forced.frequency",
                    "commutation = \"forced\" steps by the clock",
                    place,
                );
            }
            None
        };
        let switch = SwitchSetup {
            on_resistance_ohm: self.number("drive.switch.on_resistance"),
            parallel: self.whole("drive.switch.parallel"),
            diode_drop_v: self.number("drive.switch.diode_drop"),
            diode_resistance_ohm: self.number("drive.switch.diode_resistance"),
        };
        DriveSetup {
            commutation,
            advance_rad,
            direction,
            gates,
            pwm,
            forced,
            switch,
        }
    }

    fn forced(&mut self) -> ForcedSetup {
        let (start_key, ramp_key) = ("drive.forced.start_frequency", "drive.forced.ramp");
        let frequency_hz = self.number("drive.forced.frequency");
        self.both(
            (start_key, "a ramp from there to `frequency`"),
            (ramp_key, "a frequency to start from"),
        );
        let start = self.maybe_number(start_key);
        let ramp_s = self.maybe_number(ramp_key).unwrap_or(0.0);
        ForcedSetup {
            frequency_hz,
            // Without a ramp there is no time at which another frequency would hold.
            start_frequency_hz: start.filter(|_| ramp_s > 0.0).unwrap_or(frequency_hz),
            ramp_s,
            #[expect(clippy::cast_possible_truncation, reason = "1 to 6")]
            start_step: self.whole("drive.forced.start_step") as u8,
            align_s: self.number("drive.forced.align"),
        }
    }

    /// Two keys that go together, each with what is missing when it stands alone.
    fn both(&mut self, first: (&str, &str), second: (&str, &str)) {
        let ((alone, why), absent) = match (self.given(first.0), self.given(second.0)) {
            (true, false) => (first, second.0),
            (false, true) => (second, first.0),
            _ => return,
        };
        let spec = self.spec_of(absent);
        self.problems.push(Problem::Needs {
            key: alone.to_owned(),
            needs: format!("`{}` too: {why}", spec.name()),
            remedy: format!(
                "add `{} = {}`, or leave `{}` out",
                spec.name(),
                spec.example,
                self.spec_of(alone).name()
            ),
            place: self.key_place(alone),
            other: None,
        });
    }

    fn supply(&mut self) -> SupplySetup {
        let voltage_v = self.number("supply.voltage");
        self.both(
            (
                "supply.resistance",
                "a source with resistance feeds the bridge through a capacitor",
            ),
            (
                "supply.capacitance",
                "a stiff supply has no use for a capacitor",
            ),
        );
        let resistance = self.maybe_number("supply.resistance");
        let capacitance = self.maybe_number("supply.capacitance");
        let source = resistance
            .zip(capacitance)
            .map(|(resistance_ohm, capacitance_f)| SoftSource {
                resistance_ohm,
                capacitance_f,
            });
        SupplySetup { voltage_v, source }
    }

    fn load(&mut self) -> LoadSetup {
        LoadSetup {
            constant_nm: self.number("load.constant"),
            gravity_nm: self.number("load.gravity"),
            quadratic_nm_s2: self.number("load.quadratic"),
            inertia_kg_m2: self.number("load.inertia"),
        }
    }

    pub(super) fn run(&mut self) -> RunSetup {
        let duration = self.maybe_number("run.duration");
        let measure = self.maybe_number("run.measure");
        let duration_s = duration.unwrap_or(1.0);
        let mut measure_s = measure.unwrap_or(duration_s);
        if measure_s > duration_s {
            if self.given("run.measure") && duration.is_some() {
                let by_default = if self.given("run.duration") {
                    ""
                } else {
                    ", by default,"
                };
                self.contradiction(
                    format!(
                        "the figures would come from the last {} of a run that is only {}{by_default} long",
                        format_quantity(measure_s, Quantity::Time),
                        format_quantity(duration_s, Quantity::Time),
                    ),
                    "make `measure` at most `duration`",
                    &[("run.duration", "length of the run"), ("run.measure", "longer than the run")],
                );
            }
            measure_s = duration_s;
        }
        RunSetup {
            duration_s,
            start_speed_rad_s: self.number("run.start_speed"),
            start_angle_rad: self.number("run.start_angle"),
            hold_speed: self.flag("run.hold_speed"),
            sample_s: self.number("run.sample"),
            measure_s,
        }
    }
}
