//! A capture beside the same thing simulated, slice by slice.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_3, TAU};

use super::{Capture, Channel, Driven, DrivenOptions, Found, Spun, driven};
use crate::record::Sample;
use crate::setup::{Connection, Gates, Setup};
use crate::sim::{Piece, RunError, Simulator, Sink};

/// Two electrical turns round the middle of a capture.
#[derive(Clone, Debug, PartialEq)]
pub struct Traces {
    /// One for each channel.
    pub rows: Vec<TraceRow>,
    /// First and last instant in s.
    pub span_s: (f64, f64),
}

/// One channel: instants in s and values in V.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TraceRow {
    /// Its name.
    pub name: String,
    /// As the instrument saved it.
    pub captured: Vec<(f64, f64)>,
    /// As simulated; empty: there is none.
    pub simulated: Vec<(f64, f64)>,
}

impl Traces {
    /// What is shown of a capture.
    #[must_use]
    pub fn of(capture: &Capture, found: &Found) -> Self {
        let first = capture.times_s.first().copied().unwrap_or(0.0);
        let last = capture.times_s.last().copied().unwrap_or(1.0);
        let middle = 0.5 * (first + last);
        let all = 0.5 * (last - first);
        let half = found.frequency_hz().map_or(all, |hz| (1.0 / hz).min(all));
        let span_s = (middle - half, middle + half);
        // one sample more at either end, so that the line reaches the edges
        let from = capture.times_s.partition_point(|t| *t < span_s.0);
        let to = capture.times_s.partition_point(|t| *t <= span_s.1);
        let range = from.saturating_sub(1)..(to + 1).min(capture.times_s.len());
        let row = |channel: &Channel| TraceRow {
            name: channel.name.clone(),
            captured: range
                .clone()
                .map(|k| (capture.times_s[k], channel.volts[k]))
                .collect(),
            simulated: Vec::new(),
        };
        Self {
            rows: capture.channels.iter().map(row).collect(),
            span_s,
        }
    }

    /// Whether there is a simulation beside it.
    #[must_use]
    pub fn has_simulation(&self) -> bool {
        self.rows.iter().any(|row| !row.simulated.is_empty())
    }
}

/// A setup's run that is laid over a capture: of a spun motor its shaft held at the captured speed
/// with open leads, of a driven one the run as the setup has it.
#[derive(Debug)]
pub struct OverRun {
    simulator: Simulator,
    keep: Keep,
    end_s: f64,
    lay: Lay,
    span_s: (f64, f64),
}

/// How samples become channels.
#[derive(Debug)]
enum Lay {
    /// EMF of windings or between open leads; the first instant is that of the span.
    Spun { shows: Shows, backwards: bool },
    /// Terminals: the middle of a captured low stretch, where there is one.
    Driven { low_middle_s: Option<f64> },
}

/// What an instrument on a motor with open leads shows of its windings' EMFs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Shows {
    /// Each winding alone.
    Windings,
    /// U−V, V−W, W−U of a star.
    LinesOfStar,
    /// The same of a delta: each winding less the mean of all, which goes round the loop.
    LinesOfDelta,
}

impl Shows {
    fn of(self, e: [f64; 3]) -> [f64; 3] {
        let [u, v, w] = e;
        match self {
            Self::Windings => e,
            Self::LinesOfStar => [u - v, v - w, w - u],
            Self::LinesOfDelta => e.map(|own| own - (u + v + w) / 3.0),
        }
    }
}

impl OverRun {
    /// Prepares the run. `phases`: the channels are single windings.
    #[must_use]
    pub fn new(setup: &Setup, found: &Found, traces: &Traces, phases: bool) -> Self {
        let span_s = traces.span_s;
        match found {
            Found::Spun(spun) => Self::spun(setup, spun, span_s, phases),
            Found::Driven(driven) => Self::driven(setup, driven, span_s),
        }
    }

    fn spun(setup: &Setup, spun: &Spun, span_s: (f64, f64), phases: bool) -> Self {
        const PER_TURN: f64 = 500.0;
        let p = f64::from(setup.machine.poles) / 2.0;
        let speed = spun
            .speed_rad_s
            .map_or(TAU * spun.frequency_hz / p, |(speed, _)| speed);
        let mut turned = setup.clone();
        turned.changes.clear();
        turned.bench.drive.gates = Gates::AllOff;
        turned.run.hold_speed = true;
        turned.run.start_speed_rad_s = speed;
        let shows = match (phases, turned.machine.connection) {
            (true, _) => Shows::Windings,
            (false, Connection::Star) => Shows::LinesOfStar,
            (false, Connection::Delta) => Shows::LinesOfDelta,
        };
        // U's EMF is sin θe, that between U and V of a star is in front of it by 30°
        let ahead = match shows {
            Shows::LinesOfStar => FRAC_PI_3,
            Shows::Windings | Shows::LinesOfDelta => FRAC_PI_2,
        };
        let phase = spun
            .waves
            .first()
            .map_or(0.0, |wave| wave.first().phase_rad);
        let back = p * speed * (spun.middle_s - span_s.0);
        turned.run.start_angle_rad = (ahead - phase - back) / p;
        Self {
            simulator: Simulator::new(&turned),
            keep: Keep::new(0.0, TAU / (p * speed * PER_TURN)),
            end_s: span_s.1 - span_s.0,
            lay: Lay::Spun {
                shows,
                // channels that follow backwards have two leads exchanged
                backwards: spun.lags_deg.first().is_some_and(|lag| *lag < 0.0),
            },
            span_s,
        }
    }

    fn driven(setup: &Setup, captured: &Driven, span_s: (f64, f64)) -> Self {
        /// Samples of what is shown; chopping needs a dozen a period to be seen.
        const SHOWN: f64 = 2000.0;
        let span = span_s.1 - span_s.0;
        let end_s = setup.run.duration_s;
        Self {
            simulator: Simulator::new(setup),
            // four spans at the end, so that one can be cut out that lies right
            keep: Keep::new(
                (end_s - 4.0 * span).max(0.0),
                setup.run.sample_s.min(span / SHOWN),
            ),
            end_s,
            lay: Lay::Driven {
                low_middle_s: captured.low_middle_s,
            },
            span_s,
        }
    }

    /// Runs on by so many pieces of the solution at most. True once it has come to its end.
    ///
    /// # Errors
    /// [`RunError`] where the run cannot go on.
    pub fn advance(&mut self, pieces: u32) -> Result<bool, RunError> {
        self.simulator
            .run_past(self.end_s, pieces, &mut self.keep)?;
        Ok(self.simulator.time_s() >= self.end_s)
    }

    /// How much of the run is done, 0 to 1.
    #[must_use]
    pub fn share(&self) -> f64 {
        (self.simulator.time_s() / self.end_s.max(1e-12)).clamp(0.0, 1.0)
    }

    /// Lays what was simulated over the captured traces.
    pub fn finish(self, traces: &mut Traces) {
        let samples = self.keep.samples;
        match self.lay {
            Lay::Spun { shows, backwards } => {
                for sample in samples {
                    let lines = shows.of(sample.back_emf_v);
                    for (idx, row) in traces.rows.iter_mut().enumerate() {
                        let from = if backwards {
                            [0, 2, 1][idx.min(2)]
                        } else {
                            idx.min(2)
                        };
                        row.simulated
                            .push((self.span_s.0 + sample.time_s, lines[from]));
                    }
                }
            }
            Lay::Driven { low_middle_s } => {
                let shift = self.span_s.1 - samples.last().map_or(0.0, |sample| sample.time_s);
                let own = low_middle(&samples);
                let shift = match (low_middle_s, own) {
                    (Some(captured), Some(own)) => captured - own,
                    _ => shift,
                };
                let inside = |time_s: f64| time_s >= self.span_s.0 && time_s <= self.span_s.1;
                for sample in samples.iter().filter(|s| inside(s.time_s + shift)) {
                    for (idx, row) in traces.rows.iter_mut().enumerate() {
                        row.simulated
                            .push((sample.time_s + shift, sample.terminal_v[idx.min(2)]));
                    }
                }
            }
        }
    }
}

/// Middle of a low stretch of the simulated terminals.
fn low_middle(samples: &[Sample]) -> Option<f64> {
    let simulated = Capture {
        times_s: samples.iter().map(|sample| sample.time_s).collect(),
        channels: (0..3)
            .map(|leg| Channel {
                name: String::new(),
                volts: samples.iter().map(|s| s.terminal_v[leg]).collect(),
            })
            .collect(),
        mark: None,
        time_base: String::new(),
        bad: Vec::new(),
        n_bad: 0,
    };
    let exact = DrivenOptions { gain_standard: 0.0 };
    driven(&simulated, &exact).ok()?.low_middle_s
}

/// Keeps samples from an instant on.
#[derive(Debug)]
struct Keep {
    from_s: f64,
    spacing_s: f64,
    samples: Vec<Sample>,
}

impl Keep {
    /// Samples kept at most: eight electrical turns need far fewer.
    const MOST: usize = 400_000;

    const fn new(from_s: f64, spacing_s: f64) -> Self {
        Self {
            from_s,
            spacing_s,
            samples: Vec::new(),
        }
    }

    fn next_s(&self) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "a number of samples")]
        let n = self.samples.len() as f64;
        self.from_s + n * self.spacing_s
    }
}

impl Sink for Keep {
    fn piece(&mut self, piece: &Piece<'_>) {
        while self.next_s() < piece.end_s() && self.samples.len() < Self::MOST {
            let sample = piece.sample(self.next_s());
            self.samples.push(sample);
        }
    }
}
