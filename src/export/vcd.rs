//! Legs and step as a value change dump (IEEE 1364), for any viewer of logic traces.
//!
//! The legs are three wires `U`, `V`, `W` with the values `1`, `0`, `z` of the conventions, the
//! step is a three-bit vector. Times are those of the events, rounded to a picosecond. The file
//! has no date: the same run gives the same bytes.

use std::io::Write;

use vcd::{IdCode, SimulationCommand, TimescaleUnit, Value, VarType};

use crate::drive::LegState;
use crate::record::{Event, Sample};

/// Whether analogue traces go along, as `real` variables.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Analogue {
    /// Legs and step alone.
    #[default]
    None,
    /// Phase currents, speed and torque at the sampling instants too.
    Samples,
}

/// Why a dump could not be written.
#[derive(Debug)]
pub enum DumpError {
    /// The writer failed.
    Write(std::io::Error),
    /// Events must come in order of time.
    OutOfOrder {
        /// Where the dump stood, in s.
        last_s: f64,
        /// What came then, in s.
        time_s: f64,
    },
}

impl std::fmt::Display for DumpError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Write(error) => write!(f, "{error}"),
            Self::OutOfOrder { last_s, time_s } => {
                write!(f, "an event at {time_s} s came after one at {last_s} s")
            }
        }
    }
}

impl std::error::Error for DumpError {}

impl From<std::io::Error> for DumpError {
    fn from(error: std::io::Error) -> Self {
        Self::Write(error)
    }
}

const PICOSECONDS_PER_S: f64 = 1e12;

/// Everything the dump shows at one instant.
#[derive(Clone, Copy, Debug, PartialEq)]
struct State {
    legs: [LegState; 3],
    step: u8,
    reals: [f64; N_REALS],
}

const N_REALS: usize = 5;
const REAL_NAMES: [&str; N_REALS] = ["i_u_a", "i_v_a", "i_w_a", "speed_rad_s", "torque_nm"];

/// Writes events, and samples where wanted, as they come in order of time.
///
/// Several events may fall on one picosecond; the dump then shows the last of them.
pub struct LegDump<W: Write> {
    writer: vcd::Writer<Held<W>>,
    analogue: Analogue,
    legs: [IdCode; 3],
    step: IdCode,
    reals: Vec<IdCode>,
    /// The instant not yet written, and what holds from it on.
    pending: Option<(u64, State)>,
    written: Option<State>,
    last_s: f64,
}

/// A writer that can be taken back: the dump's own library keeps what it is given.
struct Held<W>(Option<W>);

fn closed() -> std::io::Error {
    std::io::Error::other("the dump is finished")
}

impl<W: Write> Write for Held<W> {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.as_mut().ok_or_else(closed)?.write(bytes)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.0.as_mut().ok_or_else(closed)?.flush()
    }
}

impl<W: Write> std::fmt::Debug for LegDump<W> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("LegDump")
            .field("analogue", &self.analogue)
            .field("last_s", &self.last_s)
            .finish_non_exhaustive()
    }
}

impl<W: Write> LegDump<W> {
    /// Writes the header.
    ///
    /// # Errors
    /// [`DumpError::Write`].
    pub fn new(writer: W, analogue: Analogue) -> Result<Self, DumpError> {
        let mut writer = vcd::Writer::new(Held(Some(writer)));
        writer.comment("legs of the bridge: 1 upper switch on, 0 lower switch on, z both off")?;
        writer.timescale(1, TimescaleUnit::PS)?;
        writer.add_module("bridge")?;
        let legs = [
            writer.add_wire(1, "U")?,
            writer.add_wire(1, "V")?,
            writer.add_wire(1, "W")?,
        ];
        let step = writer.add_wire(3, "step")?;
        let mut reals = Vec::new();
        if analogue == Analogue::Samples {
            for name in REAL_NAMES {
                reals.push(writer.add_var(VarType::Real, 64, name, None)?);
            }
        }
        writer.upscope()?;
        writer.enddefinitions()?;
        Ok(Self {
            writer,
            analogue,
            legs,
            step,
            reals,
            pending: None,
            written: None,
            last_s: 0.0,
        })
    }

    /// Takes the next event.
    ///
    /// # Errors
    /// [`DumpError`]; events and samples must come in order of time.
    pub fn event(&mut self, event: &Event) -> Result<(), DumpError> {
        let reals = self
            .pending
            .map_or([0.0; N_REALS], |(_, state)| state.reals);
        self.take(
            event.time_s,
            State {
                legs: event.legs,
                step: event.step,
                reals,
            },
        )
    }

    /// Takes the next sample; does nothing unless analogue traces were asked for.
    ///
    /// # Errors
    /// [`DumpError`]; events and samples must come in order of time.
    pub fn sample(&mut self, sample: &Sample) -> Result<(), DumpError> {
        if self.analogue == Analogue::None {
            return Ok(());
        }
        let [u, v, w] = sample.phase_current_a;
        let reals = [u, v, w, sample.speed_rad_s, sample.torque_nm];
        // The gates are those of the events; before the first event the sample's own.
        let (legs, step) = self
            .pending
            .map_or((sample.legs, sample.step), |(_, state)| {
                (state.legs, state.step)
            });
        self.take(sample.time_s, State { legs, step, reals })
    }

    fn take(&mut self, time_s: f64, state: State) -> Result<(), DumpError> {
        if time_s.is_nan() || time_s < self.last_s {
            return Err(DumpError::OutOfOrder {
                last_s: self.last_s,
                time_s,
            });
        }
        self.last_s = time_s;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "not negative; a run of more than 200 days would saturate"
        )]
        let tick = (time_s * PICOSECONDS_PER_S).round() as u64;
        if let Some((pending_tick, pending)) = self.pending
            && pending_tick < tick
        {
            self.write(pending_tick, pending)?;
        }
        self.pending = Some((tick, state));
        Ok(())
    }

    /// Writes what has changed at an instant.
    fn write(&mut self, tick: u64, state: State) -> Result<(), DumpError> {
        if self.written == Some(state) {
            return Ok(());
        }
        self.writer.timestamp(tick)?;
        let before = self.written;
        if before.is_none() {
            self.writer.begin(SimulationCommand::Dumpvars)?;
        }
        for k in 0..3 {
            if before.is_none_or(|before| before.legs[k] != state.legs[k]) {
                self.writer
                    .change_scalar(self.legs[k], value(state.legs[k]))?;
            }
        }
        if before.is_none_or(|before| before.step != state.step) {
            let bit = |n: u8| {
                if state.step >> n & 1 == 1 {
                    Value::V1
                } else {
                    Value::V0
                }
            };
            self.writer
                .change_vector(self.step, [bit(2), bit(1), bit(0)])?;
        }
        for (k, &id) in self.reals.iter().enumerate() {
            if before.is_none_or(|before| before.reals[k] != state.reals[k]) {
                self.writer.change_real(id, state.reals[k])?;
            }
        }
        if before.is_none() {
            self.writer.end()?;
        }
        self.written = Some(state);
        Ok(())
    }

    /// Writes what is still held back and the end of the run, and gives the writer back.
    ///
    /// # Errors
    /// [`DumpError::Write`].
    pub fn finish(mut self) -> Result<W, DumpError> {
        if let Some((tick, state)) = self.pending {
            let shown = self.written;
            self.write(tick, state)?;
            if shown == Some(state) {
                // A last time mark, so that a viewer shows the run to its end.
                self.writer.timestamp(tick)?;
            }
        }
        self.writer.flush()?;
        self.writer
            .writer()
            .0
            .take()
            .ok_or_else(|| DumpError::Write(closed()))
    }
}

const fn value(leg: LegState) -> Value {
    match leg {
        LegState::Low => Value::V0,
        LegState::High => Value::V1,
        LegState::Floating => Value::Z,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::synthetic;
    use crate::record::EventKind;

    fn dump(events: &[Event]) -> String {
        let mut bytes = Vec::new();
        let mut dump = LegDump::new(&mut bytes, Analogue::None).unwrap();
        events.iter().for_each(|event| dump.event(event).unwrap());
        dump.finish().unwrap();
        String::from_utf8(bytes).unwrap()
    }

    fn event(time_s: f64, kind: EventKind, step: u8, legs: [LegState; 3]) -> Event {
        Event {
            time_s,
            kind,
            step,
            legs,
        }
    }

    /// The whole file for three events, one of them without a change and two in one picosecond.
    #[test]
    fn a_short_dump_reads_like_this() {
        use LegState::{Floating as Z, High as H, Low as L};
        let text = dump(&[
            event(0.0, EventKind::Start, 1, [H, L, Z]),
            event(1e-6, EventKind::DiodeOff { leg: 2 }, 1, [H, L, Z]),
            event(2e-6, EventKind::StepChange, 2, [H, Z, L]),
            event(2e-6, EventKind::PwmOff, 2, [Z, Z, L]),
            event(3e-6, EventKind::End, 2, [Z, Z, L]),
        ]);
        assert_eq!(
            text,
            "$comment\n    legs of the bridge: 1 upper switch on, 0 lower switch on, z both off\n\
             $end\n$timescale 1 ps $end\n$scope module bridge $end\n$var wire 1 ! U $end\n\
             $var wire 1 \" V $end\n$var wire 1 # W $end\n$var wire 3 $ step $end\n\
             $upscope $end\n$enddefinitions $end\n#0\n$dumpvars\n1!\n0\"\nz#\nb001 $\n$end\n\
             #2000000\nz!\nz\"\n0#\nb010 $\n#3000000\n"
        );
    }

    /// The crate's own reader finds the six steps of the table in order.
    #[test]
    fn reads_back_as_the_six_steps() {
        let record = synthetic::run();
        let mut bytes = Vec::new();
        let mut dump = LegDump::new(&mut bytes, Analogue::Samples).unwrap();
        let mut samples = record.samples().peekable();
        for event in record.events() {
            while let Some(sample) = samples.next_if(|sample| sample.time_s < event.time_s) {
                dump.sample(&sample).unwrap();
            }
            dump.event(event).unwrap();
        }
        dump.finish().unwrap();
        let mut parser = vcd::Parser::new(&bytes[..]);
        let header = parser.parse_header().unwrap();
        assert_eq!(header.date, None);
        let step = header.find_var(&["bridge", "step"]).unwrap().code;
        let mut steps = Vec::new();
        for command in parser {
            if let vcd::Command::ChangeVector(id, bits) = command.unwrap()
                && id == step
            {
                steps.push(
                    bits.iter()
                        .fold(0, |n, bit| 2 * n + u8::from(bit == Value::V1)),
                );
            }
        }
        assert!(steps.len() > 12);
        assert!(
            steps.windows(2).all(|pair| pair[1] == pair[0] % 6 + 1),
            "{steps:?}"
        );
    }

    #[test]
    fn time_cannot_run_backwards() {
        let mut dump = LegDump::new(Vec::new(), Analogue::None).unwrap();
        dump.event(&event(1.0, EventKind::Start, 1, [LegState::Low; 3]))
            .unwrap();
        let back = dump.event(&event(0.5, EventKind::End, 1, [LegState::Low; 3]));
        assert!(matches!(back, Err(DumpError::OutOfOrder { .. })));
        let nan = dump.event(&event(f64::NAN, EventKind::End, 1, [LegState::Low; 3]));
        assert!(nan.is_err());
    }
}
