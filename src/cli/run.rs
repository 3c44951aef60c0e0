//! `wyebench run`: simulate, print the figures, write the files.

use std::cell::RefCell;
use std::io::Write;
use std::path::Path;

use serde::Serialize;

use super::arguments::{RunArguments, ThemeName};
use super::files::{Format, OutputTarget, WholeFile, finish_together};
use super::progress::Progress;
use super::{Failure, Terminal, input, table};
use crate::analysis::caution::{Hazards, STANDING_RPM, Told, cautions};
use crate::analysis::{
    self, Figure, RunEnd, RunFigures, RunOutcome, Scales, WindowTotals, check_key,
};
use crate::export::csv::WaveformWriter;
use crate::export::strips::Strips;
use crate::export::vcd::{Analogue, DumpError, LegDump};
use crate::machine::Machine;
use crate::record::{Event, Record, Sample, Sampler};
use crate::scene::Theme;
use crate::setup::{Bench, Chop, Commutation, Connection, Construction, Gates, Setup};
use crate::sim::{Piece, Sink};

/// rpm of one rad/s.
const RPM: f64 = 30.0 / std::f64::consts::PI;

/// Files that a run writes, checked.
#[derive(Debug, Default)]
pub(crate) struct Wanted {
    pub(crate) waveforms: Option<OutputTarget>,
    pub(crate) vcd: Option<OutputTarget>,
    pub(crate) plots: Vec<OutputTarget>,
    pub(crate) theme: ThemeName,
}

impl Wanted {
    /// Whether anything is written that needs samples.
    const fn sampled(&self) -> bool {
        self.waveforms.is_some() || !self.plots.is_empty()
    }
}

/// What a run came to.
#[derive(Debug)]
pub(crate) struct Report {
    pub(crate) run_figures: RunFigures,
    pub(crate) figures: Vec<Figure>,
    pub(crate) cautions: Vec<String>,
}

/// What `--json` prints of a run: the keys of the contract, and the cautions.
#[derive(Debug, Serialize)]
pub(crate) struct RunJson<'a> {
    #[serde(flatten)]
    figures: &'a RunFigures,
    cautions: &'a [String],
}

impl Report {
    /// As one JSON object.
    pub(crate) fn json(&self) -> RunJson<'_> {
        RunJson {
            figures: &self.run_figures,
            cautions: &self.cautions,
        }
    }
}

pub(crate) fn command(
    arguments: &RunArguments,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    for asked in &arguments.why {
        check_key(&RunFigures::KEYS, asked)?;
    }
    let target = |path: &Option<std::path::PathBuf>, formats: &[Format]| {
        path.as_deref()
            .map(|path: &Path| OutputTarget::check(path, formats))
            .transpose()
    };
    let wanted = Wanted {
        waveforms: target(&arguments.waveforms, &[Format::Csv])?,
        vcd: target(&arguments.vcd, &[Format::Vcd])?,
        plots: target(&arguments.plot, &[Format::Svg, Format::Png])?
            .into_iter()
            .collect(),
        theme: arguments.theme,
    };
    let setup = input::read_setup(&arguments.setup)?;
    let report = run_setup(&setup, &wanted)?;
    if arguments.json {
        terminal.json(&report.json())?;
    } else if arguments.why.is_empty() {
        table::print(&setup.title, &report, terminal)?;
    } else {
        terminal.explain(&report.figures, &arguments.why)?;
    }
    Ok(())
}

/// Samples that a picture keeps in memory at most: some gigabyte. Files that are written as the run
/// goes have no such limit.
const MOST_PLOTTED: f64 = 5e6;

/// Runs a setup and writes the files that are wanted; all of them, or on a failure none.
///
/// # Errors
/// [`Failure`] of the run or of a file.
pub(crate) fn run_setup(setup: &Setup, wanted: &Wanted) -> Result<Report, Failure> {
    let n_samples = setup.run.duration_s / setup.run.sample_s;
    if !wanted.plots.is_empty() && n_samples > MOST_PLOTTED {
        return Err(Failure::TooManySamples {
            n_samples,
            at_most: MOST_PLOTTED,
            sample_s: setup.run.duration_s / MOST_PLOTTED,
        });
    }
    let samples = RefCell::new(Vec::new());
    let mut listener = Listener::new(setup, wanted, &samples)?;
    let outcome = if wanted.sampled() {
        let take = |sample: &Sample| samples.borrow_mut().push(*sample);
        let mut sampler = Sampler::new(setup.run.sample_s, setup.run.duration_s, take);
        analysis::run(setup, &mut (&mut sampler, &mut listener))
    } else {
        analysis::run(setup, &mut listener)
    };
    let kept = listener.finish()?;
    let report = outcome
        .window
        .map(|window| report(setup, &outcome, &window, &kept));
    let mut files = kept.files;
    for target in &wanted.plots {
        let figures = report.as_ref().map_or(&[][..], |report| &report.figures);
        files.push(draw(setup, &kept.record, figures, target, wanted.theme)?);
    }
    // a run that stopped early keeps what it recorded
    finish_together(files)?;
    match (outcome.error, report) {
        (Some(error), _) => Err(Failure::Run(error)),
        (None, Some(report)) => Ok(report),
        (None, None) => Err(Failure::NoWindow),
    }
}

fn report(setup: &Setup, outcome: &RunOutcome, window: &WindowTotals, kept: &Kept) -> Report {
    let machine = Machine::new(&setup.machine);
    let per_s = 1.0 / (window.end_s - window.start_s);
    let stands = stands(setup, window);
    let end = RunEnd {
        pole_pairs: machine.pole_pairs,
        final_speed_rad_s: outcome.final_speed_rad_s,
        commutations: outcome.work.n_commutations,
        in_step: outcome.in_step,
        warnings: warnings(setup, outcome, stands),
        scales: Scales::of(setup, &machine),
    };
    let (run_figures, figures) = RunFigures::from_totals(window, &outcome.account, &end);
    let hazards = Hazards {
        told: Told::Run,
        // what flows back lifts the bridge above the source
        supply_voltage_v: highest_supply_v(setup).max(kept.highest_bridge_v),
        line_back_emf_v: kept.fastest_rad_s / machine.kv_rad_per_v_s,
        current_peak_a: kept.current_peak_a.max(window.phase_current_peak_a),
        returned_a: -window.supply_charge_as * per_s,
        returned_w: -window.supply_energy_j * per_s,
        heat_w: (window.copper_j + window.bridge_j) * per_s,
        stands,
        speed_rpm: kept.fastest_rad_s * RPM,
    };
    Report {
        run_figures,
        figures,
        cautions: cautions(&hazards),
    }
}

fn draw(
    setup: &Setup,
    record: &Record,
    figures: &[Figure],
    target: &OutputTarget,
    theme: ThemeName,
) -> Result<WholeFile, Failure> {
    let picture = Strips {
        title: &setup.title,
        subtitle: &subtitle(setup),
        record,
        figures,
        theme: match theme {
            ThemeName::Light => &Theme::LIGHT,
            ThemeName::Dark => &Theme::DARK,
        },
        span_s: None,
    }
    .draw();
    /// Sharp on a screen of twice the usual density.
    const PIXELS_PER_POINT: f32 = 2.0;
    let bytes = match target.format() {
        Format::Png => picture.png(PIXELS_PER_POINT)?,
        _ => picture.svg()?.into_bytes(),
    };
    let mut file = WholeFile::begin(target)?;
    write_all(&mut file, &bytes, target)?;
    Ok(file)
}

fn write_all(file: &mut WholeFile, bytes: &[u8], target: &OutputTarget) -> Result<(), Failure> {
    file.write_all(bytes).map_err(|error| {
        Failure::File(super::files::FileError::Write {
            path: target.path().to_path_buf(),
            error,
        })
    })
}

/// The bench in one line.
fn subtitle(setup: &Setup) -> String {
    let machine = &setup.machine;
    let drive = &setup.bench.drive;
    let construction = match machine.construction {
        Construction::Inrunner => "inrunner",
        Construction::Outrunner => "outrunner",
    };
    let connection = match machine.connection {
        Connection::Star => "star",
        Connection::Delta => "delta",
    };
    let mut parts = vec![format!(
        "{construction}, {} slots, {} poles, {connection}",
        machine.slots, machine.poles
    )];
    parts.push(match (drive.gates, drive.commutation) {
        (Gates::AllOff, _) => "all gates off".to_owned(),
        (Gates::AllLow, _) => "all lower switches on".to_owned(),
        (Gates::Stepping, Commutation::Position) => "steps by position".to_owned(),
        (Gates::Stepping, Commutation::Forced) => "steps by the clock".to_owned(),
    });
    if drive.advance_rad != 0.0 {
        parts.push(format!("advance {:.1}°", drive.advance_rad.to_degrees()).replace('-', "−"));
    }
    if let Some(pwm) = drive.pwm {
        let chop = match pwm.chop {
            Chop::HighSide => "high-side",
            Chop::HighSideSynchronous => "high-side, synchronous",
            Chop::BothSides => "both sides",
        };
        let frequency = analysis::shown(pwm.frequency_hz, analysis::Unit::HERTZ, 3);
        parts.push(format!("{frequency}, duty {}, {chop}", pwm.duty));
    }
    parts.push(analysis::shown(setup.bench.supply.voltage_v, analysis::Unit::VOLT, 3).to_string());
    parts.join(" · ")
}

/// What the drive is set to when the run ends.
fn bench_at_end(setup: &Setup) -> &Bench {
    let made = setup
        .changes
        .iter()
        .rev()
        .find(|change| change.at_s < setup.run.duration_s);
    made.map_or(&setup.bench, |change| &change.bench)
}

/// Whether the motor stands in the measuring window while the drive steps it.
fn stands(setup: &Setup, window: &WindowTotals) -> bool {
    let mean_rpm = window.angle_mech_rad / (window.end_s - window.start_s) * RPM;
    bench_at_end(setup).drive.gates == Gates::Stepping && mean_rpm.abs() < STANDING_RPM
}

/// The highest voltage that the supply is set to at any time.
fn highest_supply_v(setup: &Setup) -> f64 {
    let changes = setup
        .changes
        .iter()
        .map(|change| change.bench.supply.voltage_v);
    changes.fold(setup.bench.supply.voltage_v, f64::max)
}

/// Keys that were changed when the forced drive had already begun to step, and are of its start alone.
fn late_for_the_start(setup: &Setup) -> Vec<&str> {
    const OF_THE_START: [&str; 3] = [
        "drive.forced.start_frequency",
        "drive.forced.start_step",
        "drive.forced.align",
    ];
    let (mut before, mut began_s) = (&setup.bench.drive, 0.0);
    let mut found = Vec::new();
    for change in &setup.changes {
        let drive = &change.bench.drive;
        let starts = drive.commutation != before.commutation || drive.direction != before.direction;
        if starts {
            began_s = change.at_s;
        }
        let forced = before
            .forced
            .filter(|_| before.commutation == Commutation::Forced);
        let steps = forced.is_some_and(|forced| change.at_s >= began_s + forced.align_s);
        if !starts && steps && OF_THE_START.contains(&change.key.as_str()) {
            found.push(change.key.as_str());
        }
        before = drive;
    }
    found
}

fn warnings(setup: &Setup, outcome: &RunOutcome, stands: bool) -> Vec<String> {
    let mut found = Vec::new();
    // a forced drive turns slowly or has lost the rotor, which has words of its own; who holds the shaft knows
    let follows = bench_at_end(setup).drive.commutation == Commutation::Position;
    if stands && follows && outcome.account.supply_j > 0.0 && !setup.run.hold_speed {
        found.push(
            "The motor does not turn: load and friction hold it, and what the supply gives turns into heat. More \
             voltage or duty, or less load, would let it turn."
                .to_owned(),
        );
    }
    if !outcome.in_step {
        let by = outcome.slip_turns.map_or(String::new(), |turns| {
            format!(" and fell behind by {turns:.1} electrical turns in all")
        });
        found.push(format!(
            "The rotor lost its step{by}; a longer ramp, a lower frequency, more voltage or less load would keep it."
        ));
    }
    if let (Some(turns), true) = (outcome.slip_turns, outcome.in_step)
        && turns.abs() >= 0.75
    {
        found.push(format!(
            "The rotor is in step at the end, but on the way there it slipped by {:.0} electrical turns.",
            turns.abs()
        ));
    }
    if outcome.lowest_bridge_v < 0.0 {
        found.push(format!(
            "The capacitor was drawn down to {:.2} V: below zero the diodes of the legs would hold it, which is not \
             simulated. A larger capacitance or a lower source resistance avoids it.",
            outcome.lowest_bridge_v
        ));
    }
    let drive = &setup.bench.drive;
    if setup.machine.connection == Connection::Delta
        && drive.commutation == Commutation::Position
        && drive.gates == Gates::Stepping
        && drive.advance_rad == 0.0
    {
        found.push(
            "In delta the steps follow the EMF of winding U, which leads the EMF between the lines by 30°: \
             drive.advance = \"-30 deg\" puts the steps where a drive that sees only the leads has them."
                .to_owned(),
        );
    }
    let benches =
        || std::iter::once(&setup.bench).chain(setup.changes.iter().map(|change| &change.bench));
    if benches().any(|bench| {
        bench.drive.commutation == Commutation::Forced && bench.drive.advance_rad != 0.0
    }) {
        found.push(
            "drive.advance has no effect while the steps are forced: the clock makes them, wherever the rotor is."
                .to_owned(),
        );
    }
    if benches().any(|bench| bench.drive.forced.is_some())
        && benches().all(|bench| bench.drive.commutation == Commutation::Position)
    {
        found.push(
            "[drive.forced] has no effect: the steps follow the rotor's position; drive.commutation = \"forced\" \
             puts them on the clock."
                .to_owned(),
        );
    }
    let of_the_start = late_for_the_start(setup);
    if !of_the_start.is_empty() {
        found.push(format!(
            "Changes of what a forced drive starts with, after its start, had no effect: {}.",
            of_the_start.join(", ")
        ));
    }
    let late: Vec<&str> = setup
        .changes
        .iter()
        .filter(|change| change.at_s >= setup.run.duration_s)
        .map(|change| change.key.as_str())
        .collect();
    if !late.is_empty() {
        found.push(format!(
            "Changes after the end of the run had no effect: {}.",
            late.join(", ")
        ));
    }
    found
}

/// What listens to a run: files that grow with it, and what a picture needs.
struct Listener<'a> {
    /// The samples of the piece that comes next, left there by the sampler before it.
    samples: &'a RefCell<Vec<Sample>>,
    waveforms: Option<WaveformWriter<WholeFile>>,
    dump: Option<LegDump<WholeFile>>,
    record: Option<Record>,
    progress: Progress,
    /// The first thing that went wrong; the rest of the run is then only waited for.
    failure: Option<Failure>,
    fastest_rad_s: f64,
    current_peak_a: f64,
    highest_bridge_v: f64,
}

/// What is left when a run has ended.
struct Kept {
    files: Vec<WholeFile>,
    record: Record,
    fastest_rad_s: f64,
    current_peak_a: f64,
    highest_bridge_v: f64,
}

impl<'a> Listener<'a> {
    fn new(
        setup: &Setup,
        wanted: &Wanted,
        samples: &'a RefCell<Vec<Sample>>,
    ) -> Result<Self, Failure> {
        let waveforms = match &wanted.waveforms {
            Some(target) => Some(WaveformWriter::new(
                WholeFile::begin(target)?,
                setup.machine.connection,
            )?),
            None => None,
        };
        let dump = match &wanted.vcd {
            Some(target) => Some(LegDump::new(WholeFile::begin(target)?, Analogue::None)?),
            None => None,
        };
        let record = (!wanted.plots.is_empty()).then(Record::default);
        Ok(Self {
            samples,
            waveforms,
            dump,
            record,
            progress: Progress::new(setup.run.duration_s),
            failure: None,
            fastest_rad_s: 0.0,
            current_peak_a: 0.0,
            highest_bridge_v: 0.0,
        })
    }

    /// Keeps for the picture the ends of all pieces, where the corners of the curves are, and
    /// the samples between.
    fn keep(&mut self, sample: &Sample) {
        let Some(record) = &mut self.record else {
            return;
        };
        if record
            .span_s()
            .is_none_or(|(_, last_s)| sample.time_s > last_s)
        {
            record.push_sample(sample);
        }
    }

    fn finish(self) -> Result<Kept, Failure> {
        if let Some(failure) = self.failure {
            return Err(failure);
        }
        let mut files = Vec::new();
        if let Some(waveforms) = self.waveforms {
            files.push(waveforms.finish()?);
        }
        if let Some(dump) = self.dump {
            files.push(dump.finish()?);
        }
        Ok(Kept {
            files,
            record: self.record.unwrap_or_default(),
            fastest_rad_s: self.fastest_rad_s,
            current_peak_a: self.current_peak_a,
            highest_bridge_v: self.highest_bridge_v,
        })
    }
}

impl Sink for Listener<'_> {
    fn piece(&mut self, piece: &Piece<'_>) {
        self.progress.at(piece.end_s());
        let end = piece.sample(piece.end_s());
        self.fastest_rad_s = self.fastest_rad_s.max(end.speed_rad_s.abs());
        self.highest_bridge_v = self.highest_bridge_v.max(end.supply_voltage_v);
        for current_a in end.phase_current_a {
            self.current_peak_a = self.current_peak_a.max(current_a.abs());
        }
        if self.failure.is_some() {
            return;
        }
        for sample in self.samples.take() {
            self.keep(&sample);
            if let Some(waveforms) = &mut self.waveforms
                && self.failure.is_none()
            {
                self.failure = waveforms.sample(&sample).err().map(Failure::from);
            }
        }
        self.keep(&end);
    }

    fn event(&mut self, event: &Event) {
        if let Some(record) = &mut self.record {
            record.push_event(*event);
        }
        if let Some(dump) = &mut self.dump
            && self.failure.is_none()
        {
            let result: Result<(), DumpError> = dump.event(event);
            self.failure = result.err().map(Failure::from);
        }
    }
}
