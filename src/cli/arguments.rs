//! What can be asked on the command line.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::scene::Theme;
use crate::setup::{Quantity, QuantityError, parse_quantity};

/// A bench for brushless motors that is made of software.
#[derive(Debug, Parser)]
#[command(
    name = "wyebench",
    version,
    about = "A bench for brushless motors that is made of software",
    long_about = "A bench for brushless motors that is made of software: put a motor, a drive, a \
                  supply and a load on it, watch the six steps, read every figure.\n\nWithout a \
                  command it opens the window on the built-in setup; where there is no display it \
                  runs that setup and writes figures and pictures to ./wyebench-out/.",
    after_help = "Exit status: 0 done, 2 the setup or the command line is wrong, 1 anything else.",
    max_term_width = 100
)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub(crate) command: Option<Command>,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Open the window on a setup and run it; without a display, write what it gives
    Open(OpenArguments),
    /// Run a setup and print its figures
    Run(RunArguments),
    /// Run a setup up to an instant and draw the bench then, without a window
    Picture(PictureArguments),
    /// Read setups and say what is wrong with them, without running anything
    Check(CheckArguments),
    /// Start a setup file of your own; an existing file is never overwritten
    New(NewArguments),
    /// Print the JSON schema of the setup file, for editors
    Schema,
    /// Say what the machine is before anything runs: Kv, EMF, winding, cogging
    Inspect(InspectArguments),
    /// Predict what a motor, pack, controller and load will do, from their labels
    Predict(PredictArguments),
    /// Say what motor bench readings tell of, whether they agree, and what is wrong if not
    Readings(ReadingsArguments),
    /// Read waveforms that an instrument saved: EMF of a spun motor, or terminals of a driven one
    Capture(Box<CaptureArguments>),
    /// Choose motor, pack, controller and gear for a goal from a table of parts
    Choose(Box<ChooseArguments>),
    /// Lay out a three-phase winding for slots and poles
    Wind(WindArguments),
    /// Compute every combination of slots, poles, turns, wire and more, side by side
    Compare(Box<CompareArguments>),
    /// Say what other turns, wire or connection make of a measured motor
    Rewind(RewindArguments),
    /// Lessons: open, read, run, check, print as a handout, write your own
    Lesson(LessonArguments),
}

/// How the windings are joined.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(crate) enum ConnectionName {
    /// U2, V2, W2 joined
    #[default]
    Star,
    /// U2-V1, V2-W1, W2-U1
    Delta,
}

/// Light or dark pictures.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(crate) enum ThemeName {
    /// For paper and bright rooms
    Light,
    /// For dark rooms and projectors
    #[default]
    Dark,
}

impl ThemeName {
    /// Its colours.
    pub(crate) const fn theme(self) -> Theme {
        match self {
            Self::Light => Theme::LIGHT,
            Self::Dark => Theme::DARK,
        }
    }
}

#[derive(Debug, Args)]
#[command(after_help = "Example:\n  wyebench open pond.toml")]
pub(crate) struct OpenArguments {
    /// Setup file; - reads standard input
    #[arg(value_name = "SETUP")]
    pub(crate) setup: PathBuf,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  wyebench run pond.toml\n  wyebench run pond.toml --json > figures.json\n  \
                  wyebench run pond.toml --plot strips.png --vcd legs.vcd\n  \
                  wyebench run pond.toml --why efficiency"
)]
pub(crate) struct RunArguments {
    /// Setup file; - reads standard input
    #[arg(value_name = "SETUP")]
    pub(crate) setup: PathBuf,
    /// Print the figures as one JSON object and nothing else
    #[arg(long)]
    pub(crate) json: bool,
    /// Write the sampled waveforms: currents, back-EMF, terminal voltages, torque, legs
    #[arg(long, value_name = "FILE.csv")]
    pub(crate) waveforms: Option<PathBuf>,
    /// Write legs and step as a value change dump (IEEE 1364)
    #[arg(long, value_name = "FILE.vcd")]
    pub(crate) vcd: Option<PathBuf>,
    /// Draw back-EMF, currents, torque, speed and legs of the last electrical turns
    #[arg(long, value_name = "FILE.svg|FILE.png")]
    pub(crate) plot: Option<PathBuf>,
    /// Explain a figure instead of printing all: formula, what went in, source; `all` for each
    #[arg(long, value_name = "FIGURE", conflicts_with = "json")]
    pub(crate) why: Vec<String>,
    /// Theme of the picture
    #[arg(long, value_enum, default_value_t)]
    pub(crate) theme: ThemeName,
}

/// What is on a picture.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(crate) enum What {
    /// The machine in cross-section, with currents and fields
    Machine,
    /// The three legs, the supply and the current's way
    Bridge,
    /// Waveforms and legs round the instant
    Plots,
    /// All three side by side
    #[default]
    All,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  wyebench picture pond.toml --at 12.5ms -o pond.png\n  \
                  wyebench picture pond.toml --at 0.2s --what machine --theme light -o rotor.svg\n\n\
                  A PNG is drawn by a graphics device, or by a software one (on Debian: \
                  mesa-vulkan-drivers); an SVG needs neither."
)]
pub(crate) struct PictureArguments {
    /// Setup file; - reads standard input
    #[arg(value_name = "SETUP")]
    pub(crate) setup: PathBuf,
    /// The instant, with its unit: 12.5ms; left out: the end of the run
    #[arg(long, value_name = "TIME", value_parser = time_s)]
    pub(crate) at: Option<f64>,
    /// What to draw
    #[arg(long, value_enum, default_value_t)]
    pub(crate) what: What,
    /// Where the picture goes
    #[arg(short, long, value_name = "FILE.png|FILE.svg")]
    pub(crate) output: PathBuf,
    /// Width and height in pixels; what is drawn grows with them
    #[arg(long, value_name = "WxH", value_parser = size_px, default_value = "1600x1000")]
    pub(crate) size: [u32; 2],
    /// Theme of the picture
    #[arg(long, value_enum, default_value_t)]
    pub(crate) theme: ThemeName,
}

/// A time with its unit, in s.
fn time_s(text: &str) -> Result<f64, String> {
    match parse_quantity(text, Quantity::Time) {
        Ok(time_s) if time_s >= 0.0 => Ok(time_s),
        Ok(_) => Err("a run begins at 0 s; write 12.5ms, say".to_owned()),
        Err(QuantityError::NoUnit) => Err("the unit is missing; write 12.5ms, say".to_owned()),
        Err(_) => Err("this is no time; write 12.5ms, say".to_owned()),
    }
}

/// Sides of a picture in pixels: what can still be read, to what any device draws.
const SIDES_PX: std::ops::RangeInclusive<u32> = 64..=8192;

/// Width and height in pixels.
fn size_px(text: &str) -> Result<[u32; 2], String> {
    let sides = text
        .split_once(['x', 'X', '×'])
        .map(|(width, height)| [width, height].map(|side| side.trim().parse::<u32>()));
    match sides {
        Some([Ok(width), Ok(height)])
            if SIDES_PX.contains(&width) && SIDES_PX.contains(&height) =>
        {
            Ok([width, height])
        }
        Some([Ok(_), Ok(_)]) => Err(format!(
            "each side is {} to {} pixels",
            SIDES_PX.start(),
            SIDES_PX.end()
        )),
        _ => Err("write width and height in pixels: 1600x1000".to_owned()),
    }
}

#[derive(Debug, Args)]
pub(crate) struct CheckArguments {
    /// Setup files; - reads standard input
    #[arg(value_name = "SETUP", required = true)]
    pub(crate) setups: Vec<PathBuf>,
}

#[derive(Debug, Args)]
pub(crate) struct NewArguments {
    /// Name of the setup; NAME.toml is written to the current folder
    #[arg(value_name = "NAME")]
    pub(crate) name: String,
}

#[derive(Debug, Args)]
pub(crate) struct InspectArguments {
    /// Setup file; - reads standard input
    #[arg(value_name = "SETUP")]
    pub(crate) setup: PathBuf,
    /// Print one JSON object and nothing else
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  wyebench predict --example > fan.toml\n  wyebench predict fan.toml --curves\n  \
                  wyebench predict fan.toml --plot curves.svg --report fan.html\n  \
                  wyebench predict fan.toml --confirm --setup fan_setup.toml"
)]
pub(crate) struct PredictArguments {
    /// Build file: label, pack, controller and load; - reads standard input
    #[arg(value_name = "BUILD", required_unless_present = "example")]
    pub(crate) build: Option<PathBuf>,
    /// Print a build file to start from, and nothing else
    #[arg(long, exclusive = true)]
    pub(crate) example: bool,
    /// Print the figures as one JSON object and nothing else
    #[arg(long, conflicts_with_all = ["why", "curves"])]
    pub(crate) json: bool,
    /// Explain a figure instead of printing all: formula, what went in, source; `all` for each
    #[arg(long, value_name = "FIGURE")]
    pub(crate) why: Vec<String>,
    /// Print the curves against load torque and against duty as tables too
    #[arg(long)]
    pub(crate) curves: bool,
    /// Simulate the predicted point in full and lay both side by side
    #[arg(long)]
    pub(crate) confirm: bool,
    /// Trials from which ranges are taken, 100 to 100000, where inputs carry tolerances: "920 rpm/V ± 5 %"
    #[arg(long, value_name = "N", default_value_t = 1000, value_parser = clap::value_parser!(u32).range(100..=100_000))]
    pub(crate) trials: u32,
    /// Seed of the trials; the same seed gives the same ranges
    #[arg(long, value_name = "SEED", default_value_t = 1)]
    pub(crate) seed: u64,
    /// Write the build as a setup for `run` and `open`; an existing file is not overwritten
    #[arg(long, value_name = "FILE.toml")]
    pub(crate) setup: Option<PathBuf>,
    /// Draw the curves against load torque and against duty
    #[arg(long, value_name = "FILE.svg|FILE.png")]
    pub(crate) plot: Option<PathBuf>,
    /// Write one page with inputs, figures, formulas, curves, limits and cautions, to read or print
    #[arg(long, value_name = "FILE.html")]
    pub(crate) report: Option<PathBuf>,
    /// Theme of the picture
    #[arg(long, value_enum, default_value_t)]
    pub(crate) theme: ThemeName,
}

/// What counts as best.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(crate) enum RankName {
    /// Least power from the pack
    #[default]
    Power,
    /// Longest run time
    RunTime,
    /// Most of every limit free
    Margin,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  wyebench choose --example > goal.toml\n  wyebench choose --example-parts > parts.csv\n  \
                  wyebench choose goal.toml --parts parts.csv -o build.toml\n  wyebench predict build.toml"
)]
pub(crate) struct ChooseArguments {
    /// Goal file: what the load has to do, and parts that are fixed; - reads standard input
    #[arg(value_name = "GOAL", required_unless_present_any = ["example", "example_parts"])]
    pub(crate) goal: Option<PathBuf>,
    /// Table of the parts to choose from, one a row; left out: an invented one
    #[arg(long, value_name = "PARTS.csv")]
    pub(crate) parts: Option<PathBuf>,
    /// Print a goal file to start from, and nothing else
    #[arg(long, exclusive = true)]
    pub(crate) example: bool,
    /// Print the invented table of parts, and nothing else
    #[arg(long, exclusive = true)]
    pub(crate) example_parts: bool,
    /// What counts as best
    #[arg(long, value_enum, default_value_t)]
    pub(crate) by: RankName,
    /// Answers, and lines of reasons, that are printed; files hold all
    #[arg(long, value_name = "N", default_value_t = 10)]
    pub(crate) top: usize,
    /// Write an answer as a build file; an existing file is not overwritten
    #[arg(short, long, value_name = "FILE.toml")]
    pub(crate) output: Option<PathBuf>,
    /// Which answer is written, counted from 1, the best
    #[arg(long, value_name = "N", default_value_t = 1, requires = "output", value_parser = clap::value_parser!(u32).range(1..))]
    pub(crate) pick: u32,
    /// Write all combinations, each with its figures or its reason
    #[arg(long, value_name = "FILE.csv")]
    pub(crate) csv: Option<PathBuf>,
    /// Print one JSON object and nothing else
    #[arg(long, conflicts_with = "why")]
    pub(crate) json: bool,
    /// Explain what the goal asks instead: formula, what went in, source; `all` for each
    #[arg(long, value_name = "FIGURE")]
    pub(crate) why: Vec<String>,
    /// Threads, 1 to 1024; left out: one for each core. The answers are the same with any number
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1024))]
    pub(crate) threads: Option<u32>,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  wyebench readings --example > spare.toml\n  wyebench readings spare.toml\n  \
                  wyebench readings spare.toml --why kv_rpm_per_v\n  wyebench readings spare.toml -o measured.toml\n  \
                  wyebench readings spare.toml --report spare.html"
)]
pub(crate) struct ReadingsArguments {
    /// Readings file: what was counted, claimed and measured; - reads standard input
    #[arg(value_name = "READINGS", required_unless_present = "example")]
    pub(crate) readings: Option<PathBuf>,
    /// Print a readings file to start from, and nothing else
    #[arg(long, exclusive = true)]
    pub(crate) example: bool,
    /// Print one JSON object and nothing else
    #[arg(long, conflicts_with = "why")]
    pub(crate) json: bool,
    /// Explain a figure instead of printing all: formula, what went in, source; `all` for each
    #[arg(long, value_name = "FIGURE")]
    pub(crate) why: Vec<String>,
    /// Write the motor as a setup for `run` and `open`; an existing file is not overwritten
    #[arg(short, long, value_name = "FILE.toml")]
    pub(crate) output: Option<PathBuf>,
    /// Write one page to print: the motor, what contradicts what and why, each reading, sources
    #[arg(long, value_name = "FILE.html")]
    pub(crate) report: Option<PathBuf>,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Columns are named by their heading or their number from 1. Fields may be parted by commas, semicolons, \
                  tabs or blanks, decimals marked by point or comma; lines above the table are passed over.\n\n\
                  Examples:\n  wyebench capture --example > spun.csv\n  wyebench capture spun.csv --speed \"1204 rpm\"\n  \
                  wyebench capture spun.csv --channels CH1,CH2,CH3 --mark CH4\n  \
                  wyebench capture driven.csv --driven --interval \"2 us\"\n  \
                  wyebench capture spun.csv --pole-pairs 7 --over pond.toml --plot both.svg\n  \
                  wyebench capture spun.csv --mark CH4 --report spun.html"
)]
pub(crate) struct CaptureArguments {
    /// CSV of an instrument; - reads standard input
    #[arg(value_name = "FILE.csv", required_unless_present = "example")]
    pub(crate) capture: Option<PathBuf>,
    /// Print an invented capture to start from, and nothing else
    #[arg(long, exclusive = true)]
    pub(crate) example: bool,
    /// The channels are terminals of a motor on its drive, against the negative rail, U V W
    #[arg(long, conflicts_with_all = ["speed", "pole_pairs", "mark", "phases"])]
    pub(crate) driven: bool,
    /// The channels are single windings against the star point; left out: between two leads
    #[arg(long)]
    pub(crate) phases: bool,
    /// Column of the time; left out: the first
    #[arg(long, value_name = "COLUMN", conflicts_with = "interval")]
    pub(crate) time: Option<String>,
    /// Unit of the time column; left out: as its heading says, or s
    #[arg(long, value_name = "UNIT", value_parser = ["s", "ms", "us", "ns"])]
    pub(crate) time_unit: Option<String>,
    /// Spacing of the samples, instead of a column
    #[arg(long, value_name = "TIME")]
    pub(crate) interval: Option<String>,
    /// Columns of one to three channels; left out: the first three that are neither time nor mark
    #[arg(long, value_name = "COLUMN", value_delimiter = ',')]
    pub(crate) channels: Vec<String>,
    /// Unit of the channels; left out: as their headings say, or V
    #[arg(long, value_name = "UNIT", value_parser = ["V", "mV", "kV"])]
    pub(crate) channel_unit: Option<String>,
    /// Column of a mark that comes once a turn
    #[arg(long, value_name = "COLUMN", conflicts_with = "speed")]
    pub(crate) mark: Option<String>,
    /// Speed of the shaft; may carry its uncertainty, "1204 rpm ± 3 rpm"; left out: ± 0.2 %
    #[arg(long, value_name = "SPEED")]
    pub(crate) speed: Option<String>,
    /// Pole pairs, 1 to 1000, where they are known
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub(crate) pole_pairs: Option<u32>,
    /// Expanded uncertainty of the volts in percent; 3: common practice for oscilloscopes, no source
    #[arg(long, value_name = "PERCENT", default_value_t = 3.0)]
    pub(crate) accuracy: f64,
    /// What parts fields; left out: found out
    #[arg(long, value_name = "WORD", value_parser = ["comma", "semicolon", "tab", "blank"], requires = "decimal")]
    pub(crate) delimiter: Option<String>,
    /// What marks decimals; left out: found out
    #[arg(long, value_name = "WORD", value_parser = ["point", "comma"], requires = "delimiter")]
    pub(crate) decimal: Option<String>,
    /// Print one JSON object and nothing else
    #[arg(long, conflicts_with = "why")]
    pub(crate) json: bool,
    /// Explain a figure instead of printing all: formula, what went in, source; `all` for each
    #[arg(long, value_name = "FIGURE")]
    pub(crate) why: Vec<String>,
    /// Draw the capture over the simulated traces of this setup, at the same speed
    #[arg(long, value_name = "SETUP")]
    pub(crate) over: Option<PathBuf>,
    /// Draw the capture
    #[arg(long, value_name = "FILE.svg|FILE.png")]
    pub(crate) plot: Option<PathBuf>,
    /// Write one page to print: what it shows, the picture, sources
    #[arg(long, value_name = "FILE.html")]
    pub(crate) report: Option<PathBuf>,
    /// Theme of the picture
    #[arg(long, value_enum, default_value_t = ThemeName::Light)]
    pub(crate) theme: ThemeName,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  wyebench wind 12 14\n  wyebench wind 12 14 --steps --turns 9\n  \
                  wyebench wind 36 4 --span 8 -o layout.svg\n  wyebench wind --setup pond.toml --steps"
)]
pub(crate) struct WindArguments {
    /// Slots of the stator
    #[arg(
        value_name = "SLOTS",
        required_unless_present = "setup",
        requires = "poles"
    )]
    pub(crate) slots: Option<u32>,
    /// Magnetic poles of the rotor (magnets round it), an even number
    #[arg(value_name = "POLES", required_unless_present = "setup")]
    pub(crate) poles: Option<u32>,
    /// Take slots, poles, layout, turns and connection from a setup file; - reads standard input
    #[arg(long, value_name = "SETUP", conflicts_with_all = ["slots", "poles", "layers", "span", "turns", "connection"])]
    pub(crate) setup: Option<PathBuf>,
    /// Coil sides in a slot: 1 or 2
    #[arg(long, default_value_t = 2, value_name = "N")]
    pub(crate) layers: u32,
    /// Coil span in slots; 1 winds each coil round one tooth
    #[arg(long, default_value_t = 1, value_name = "SLOTS")]
    pub(crate) span: u32,
    /// Turns of a coil, 1 to 100000, for the list and the picture
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub(crate) turns: Option<u32>,
    /// Connection, for the list and the picture
    #[arg(long, value_enum, default_value_t)]
    pub(crate) connection: ConnectionName,
    /// Parallel paths of a phase, 1 to 1200, for the list and the picture; left out: 1, or as in the setup
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1200))]
    pub(crate) paths: Option<u32>,
    /// Print a numbered list to wind by: coil by coil, cross-overs, leads and joints
    #[arg(long, conflicts_with = "json")]
    pub(crate) steps: bool,
    /// Draw the winding unrolled: coils, cross-overs and leads
    #[arg(short, long, value_name = "FILE.svg|FILE.png")]
    pub(crate) output: Option<PathBuf>,
    /// Theme of the picture
    #[arg(long, value_enum, default_value_t = ThemeName::Light)]
    pub(crate) theme: ThemeName,
    /// Print one JSON object and nothing else
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
#[command(
    after_help = "A list is 9,12,15; a range with both ends is 6..20, with a step 6..20/2 or 0.7..0.9/0.05.\n\n\
                  With other slots than the setup's, slot opening and tooth keep their share of the slot \
                  pitch; radial dimensions, magnets and yokes stay, and the magnet arc stays a share of \
                  the pole pitch.\n\nExamples:\n  \
                  wyebench compare fan.toml --slots 9,12 --poles 6..16 --torque \"0.1 Nm\"\n  \
                  wyebench compare fan.toml --turns 6..12 --wire \"0.5 mm,0.6 mm\" --csv turns.csv\n  \
                  wyebench compare fan.toml --poles 6..16 --shard 1/2 --json > a.json\n  \
                  wyebench compare --join a.json b.json --plot cogging.svg"
)]
pub(crate) struct CompareArguments {
    /// Setup file; where it has no [machine.geometry] only the winding is compared
    #[arg(value_name = "SETUP", required_unless_present = "join")]
    pub(crate) setup: Option<PathBuf>,
    /// Slots
    #[arg(long, value_name = "LIST")]
    pub(crate) slots: Option<String>,
    /// Poles; a range without a step goes by 2
    #[arg(long, value_name = "LIST")]
    pub(crate) poles: Option<String>,
    /// Coil spans in slots
    #[arg(long, value_name = "LIST")]
    pub(crate) span: Option<String>,
    /// Coil sides in a slot
    #[arg(long, value_name = "LIST")]
    pub(crate) layers: Option<String>,
    /// Turns of a coil
    #[arg(long, value_name = "LIST")]
    pub(crate) turns: Option<String>,
    /// Bare diameters of one strand, each with its unit
    #[arg(long, value_name = "LIST")]
    pub(crate) wire: Option<String>,
    /// star, delta, or both of them: star,delta
    #[arg(long, value_name = "LIST")]
    pub(crate) connection: Option<String>,
    /// Magnet arcs as parts of the pole pitch
    #[arg(long, value_name = "LIST")]
    pub(crate) magnet_arc: Option<String>,
    /// Give the copper loss at this torque
    #[arg(long, value_name = "QUANTITY")]
    pub(crate) torque: Option<String>,
    /// Run the setup with each machine, for speed and torque ripple
    #[arg(long)]
    pub(crate) run: bool,
    /// Sort the table by this column: a key of the JSON rows
    #[arg(long, value_name = "KEY")]
    pub(crate) sort: Option<String>,
    /// Rows of the table that are printed; files hold all
    #[arg(long, value_name = "N", default_value_t = 40)]
    pub(crate) top: usize,
    /// Write all rows
    #[arg(long, value_name = "FILE.csv")]
    pub(crate) csv: Option<PathBuf>,
    /// Print one JSON object and nothing else
    #[arg(long)]
    pub(crate) json: bool,
    /// Draw two columns against each other
    #[arg(long, value_name = "FILE.svg|FILE.png")]
    pub(crate) plot: Option<PathBuf>,
    /// Column across; left out: the cogging peak
    #[arg(long, value_name = "KEY", requires = "plot")]
    pub(crate) x: Option<String>,
    /// Column upwards; left out: torque per root of loss
    #[arg(long, value_name = "KEY", requires = "plot")]
    pub(crate) y: Option<String>,
    /// Theme of the picture
    #[arg(long, value_enum, default_value_t = ThemeName::Light)]
    pub(crate) theme: ThemeName,
    /// Threads, 1 to 1024; left out: one for each core. The rows are the same with any number
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1024))]
    pub(crate) threads: Option<u32>,
    /// Compute only one part of the candidates: 2/8 is the second of eight
    #[arg(long, value_name = "PART/OF", conflicts_with = "join")]
    pub(crate) shard: Option<String>,
    /// Put parts together that --json wrote, instead of computing
    #[arg(long, value_name = "FILE.json", num_args = 1.., conflicts_with_all = ["setup", "slots", "poles", "span", "layers", "turns", "wire", "connection", "magnet_arc", "torque", "run", "threads"])]
    pub(crate) join: Vec<PathBuf>,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  wyebench rewind --kv \"920 rpm/V\" --resistance \"90 mohm\" --turns 9 --to-turns 12\n  \
                  wyebench rewind --kv \"920 rpm/V\" --resistance \"90 mohm\" --turns 9 --to-connection delta\n  \
                  wyebench rewind --kv \"920 rpm/V\" --resistance \"90 mohm\" --turns 9 --wire \"0.6 mm\" \
                  --to-turns 12 --to-wire \"0.5 mm\" --current \"20 A\""
)]
pub(crate) struct RewindArguments {
    /// Measured Kv: speed over peak line-to-line EMF
    #[arg(long, value_name = "QUANTITY")]
    pub(crate) kv: String,
    /// Measured resistance between two terminals
    #[arg(long, value_name = "QUANTITY")]
    pub(crate) resistance: String,
    /// Measured inductance between two terminals
    #[arg(long, value_name = "QUANTITY")]
    pub(crate) inductance: Option<String>,
    /// A current that the motor is known to carry
    #[arg(long, value_name = "QUANTITY")]
    pub(crate) current: Option<String>,
    /// Current without load
    #[arg(long, value_name = "QUANTITY")]
    pub(crate) no_load_current: Option<String>,
    /// Turns of a coil as it is, 1 to 100000
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub(crate) turns: u32,
    /// Turns of a coil as it shall be, 1 to 100000; left out: the same
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub(crate) to_turns: Option<u32>,
    /// Bare diameter of one strand as it is; without both wires the slots stay as full as they are
    #[arg(long, value_name = "QUANTITY", requires = "to_wire")]
    pub(crate) wire: Option<String>,
    /// Strands in hand as they are, 1 to 10000
    #[arg(long, default_value_t = 1, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=10_000))]
    pub(crate) strands: u32,
    /// Bare diameter of one strand as it shall be
    #[arg(long, value_name = "QUANTITY", requires = "wire")]
    pub(crate) to_wire: Option<String>,
    /// Strands in hand as they shall be, 1 to 10000
    #[arg(long, default_value_t = 1, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=10_000))]
    pub(crate) to_strands: u32,
    /// Connection as it is
    #[arg(long, value_enum, default_value_t)]
    pub(crate) connection: ConnectionName,
    /// Connection as it shall be; left out: the same
    #[arg(long, value_enum)]
    pub(crate) to_connection: Option<ConnectionName>,
    /// The EMF has flat tops of 120 degrees instead of being near a sine
    #[arg(long)]
    pub(crate) trapezoid: bool,
    /// Print one JSON object and nothing else
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct LessonArguments {
    #[command(subcommand)]
    pub(crate) command: LessonCommand,
}

#[derive(Debug, Subcommand)]
pub(crate) enum LessonCommand {
    /// Name the lessons of the course, or those of a folder
    List(LessonListArguments),
    /// Open the window at a lesson, beside the bench
    Open(LessonOpenArguments),
    /// Print a lesson with the numbers of its runs
    Read(LessonReadArguments),
    /// Run a setup of a lesson, or name its runs
    Run(LessonRunArguments),
    /// Check lessons (starts fail, answers pass, numbers hold), or your answer to a task
    Check(LessonCheckArguments),
    /// Write lessons as one HTML page to print, with answers at the end
    Handout(HandoutArguments),
    /// Start a lesson of your own; an existing folder is never overwritten
    New(LessonNewArguments),
}

#[derive(Debug, Args)]
pub(crate) struct LessonListArguments {
    /// Folder of lessons; left out: the course that comes with the program
    #[arg(value_name = "DIR")]
    pub(crate) folder: Option<PathBuf>,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  wyebench lesson open 1\n  wyebench lesson open my-lesson\n\n\
                  Where no window can open, the lesson is printed."
)]
pub(crate) struct LessonOpenArguments {
    /// Number or name of a lesson of the course, or the folder of another one
    #[arg(value_name = "LESSON")]
    pub(crate) lesson: PathBuf,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  wyebench lesson read 1\n  wyebench lesson read star-and-delta --hints 1"
)]
pub(crate) struct LessonReadArguments {
    /// Number or name of a lesson of the course, or the folder of another one
    #[arg(value_name = "LESSON")]
    pub(crate) lesson: PathBuf,
    /// Print hints under each task: 1 a nudge, 2 a way
    #[arg(long, default_value_t = 0, value_name = "LEVEL", value_parser = clap::value_parser!(u8).range(0..=2))]
    pub(crate) hints: u8,
    /// Print hints and worked answers under each task
    #[arg(long)]
    pub(crate) answers: bool,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  wyebench lesson run poles\n  wyebench lesson run poles start\n  \
                  wyebench lesson run poles start --setup mine.toml"
)]
pub(crate) struct LessonRunArguments {
    /// Number or name of a lesson of the course, or the folder of another one
    #[arg(value_name = "LESSON")]
    pub(crate) lesson: PathBuf,
    /// Name of the run; left out: names all runs
    #[arg(value_name = "RUN")]
    pub(crate) run: Option<String>,
    /// Write the run's setup for `run` and `open` instead; an existing file is not overwritten
    #[arg(long, value_name = "FILE.toml", requires = "run")]
    pub(crate) setup: Option<PathBuf>,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  wyebench lesson check my-lesson\n  \
                  wyebench lesson check poles --task more-magnets --answer b\n  \
                  wyebench lesson check poles --task count-the-magnets --answer machine.poles=8\n\n\
                  Exit status 1: the answer is not right yet.")]
pub(crate) struct LessonCheckArguments {
    /// Lessons by number, name or folder, or a folder of lessons; left out: the whole course
    #[arg(value_name = "LESSON|DIR")]
    pub(crate) lessons: Vec<PathBuf>,
    /// Check an answer to this task
    #[arg(long, value_name = "NAME")]
    pub(crate) task: Option<String>,
    /// The answer: a letter, a number with its unit (`--answer=-0.7V` below zero), KEY=VALUE (again for each
    /// key), or an order
    #[arg(long, value_name = "ANSWER", requires = "task", num_args = 1..)]
    pub(crate) answer: Vec<String>,
    /// A setup of yours as the answer to a task on the bench
    #[arg(
        long,
        value_name = "FILE.toml",
        requires = "task",
        conflicts_with = "answer"
    )]
    pub(crate) setup: Option<PathBuf>,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  wyebench lesson handout 4 --output poles.html\n  \
                  wyebench lesson handout --output course.html\n  \
                  wyebench lesson handout 4 6 --students 12 --seed 7 --output class.html"
)]
pub(crate) struct HandoutArguments {
    /// Lessons by number, name or folder; left out: the whole course
    #[arg(value_name = "LESSON")]
    pub(crate) lessons: Vec<PathBuf>,
    /// The page to write
    #[arg(long, short, value_name = "FILE.html")]
    pub(crate) output: PathBuf,
    /// Add a sheet for each of so many students with figures of its own, and a key
    #[arg(long, default_value_t = 0, value_name = "N")]
    pub(crate) students: u32,
    /// The same seed gives the same figures
    #[arg(long, default_value_t = 1, value_name = "S")]
    pub(crate) seed: u64,
}

#[derive(Debug, Args)]
pub(crate) struct LessonNewArguments {
    /// Name of the folder: small letters, digits and dashes
    #[arg(value_name = "NAME")]
    pub(crate) name: String,
}
