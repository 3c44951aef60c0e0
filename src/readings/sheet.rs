//! The readings file: what was counted, what the label claims, and what was measured how.

use super::gather::Gather;
use super::reading::{Gain, Reading};
use crate::setup::{
    Absent, Assembler, Bound, Connection, Construction, KeySpec, Kind, Quantity as Q, SetupErrors,
    Sheet, above, from, key, parse_sheet, quantity,
};

/// A bench sheet: everything that was read, in SI units.
#[derive(Clone, Debug, PartialEq)]
pub struct BenchSheet {
    /// What a person calls it.
    pub title: String,
    /// What was counted and looked at.
    pub motor: Counted,
    /// What the label claims.
    pub label: Label,
    /// Everything that was measured, in the order of the tables.
    pub readings: Vec<Reading>,
    /// Calibrations that readings share.
    pub gains: Vec<Gain>,
    /// Unknown values of the rows, one each: speeds, currents and temperatures that were there.
    pub n_latents: usize,
    /// How many tables of each kind there are: driven, spun, resistance, no-load, stall, run-down.
    pub rows: Rows,
}

/// What was counted and looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Counted {
    /// Magnets round the rotor, one for each pole.
    pub magnets: Option<u32>,
    /// Slots of the stator.
    pub slots: Option<u32>,
    /// Rotor inside or outside.
    pub construction: Construction,
    /// How the windings are joined.
    pub connection: Connection,
    /// Shape of the EMF.
    pub shape: Shape,
}

/// What is known of the EMF's shape.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// Flat tops of 120° between phase and star point.
    Trapezoid,
    /// A sine.
    Sine,
    /// Nobody looked: anything between the two.
    Unknown,
}

/// What the label claims.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Label {
    /// Kv in rad/s per volt of peak line EMF.
    pub kv_rad_per_v_s: Option<f64>,
    /// Between two terminals in ohm.
    pub line_resistance_ohm: Option<f64>,
    /// Magnetic poles.
    pub poles: Option<u32>,
    /// Current without load in A.
    pub no_load_current_a: Option<f64>,
    /// At this voltage in V.
    pub no_load_voltage_v: Option<f64>,
}

/// How many tables of each kind there are.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Rows {
    /// `[[driven]]`
    pub driven: usize,
    /// `[[spun]]`
    pub spun: usize,
    /// `[[resistance]]`
    pub resistance: usize,
    /// `[[no_load]]`
    pub no_load: usize,
    /// `[[stall]]`
    pub stall: usize,
    /// `[[run_down]]`
    pub run_down: usize,
    /// `[[inductance]]`
    pub inductance: usize,
}

const TABLES: &[(&str, &str)] = &[
    ("motor", "What was counted and looked at."),
    ("label", "What the label or the shop page claims."),
    ("driven", "Led round by a clock: frequency and speed."),
    ("spun", "Turned from outside, leads open: speed and EMF."),
    ("resistance", "Resistance between the terminals."),
    (
        "no_load",
        "On its controller, fully on, nothing on the shaft.",
    ),
    (
        "stall",
        "Direct current through two leads, the shaft held by a lever.",
    ),
    (
        "run_down",
        "Let go at speed, leads open, until it is slower.",
    ),
    ("inductance", "Inductance between the terminals."),
];

const LISTS: &[&str] = &[
    "driven",
    "spun",
    "resistance",
    "no_load",
    "stall",
    "run_down",
    "inductance",
];

const fn words(words: &'static [&'static str]) -> Kind {
    Kind::Word {
        words,
        not_yet: &[],
    }
}

const ZERO_V: Bound = above("0 V");
const SPEED: Kind = quantity(Q::Speed, above("0 rpm"), "1e6 rpm");
const FREQUENCY: Kind = quantity(Q::Frequency, above("0 Hz"), "1 MHz");
const VOLTAGE: Kind = quantity(Q::Voltage, ZERO_V, "2000 V");
const CURRENT: Kind = quantity(Q::Current, above("0 A"), "10000 A");
const OHMS: Kind = quantity(Q::Resistance, above("0 ohm"), "10 kohm");
const TORQUE: Kind = quantity(Q::Torque, above("0 Nm"), "100 kNm");
const HENRY: Kind = quantity(Q::Inductance, from("1 nH"), "10 H");
const DEGREES: Kind = quantity(Q::Temperature, from("-60 degC"), "250 degC");
const SPEED_BY: Kind = words(&["tachometer", "stroboscope", "scope"]);
const FREQUENCY_BY: Kind = words(&["frequency-counter", "scope", "setting"]);
const VOLTS_BY: Kind = words(&["multimeter", "scope"]);
const OHMS_BY: Kind = words(&["multimeter", "four-wire"]);
const BETWEEN: Kind = words(&["lines", "phase"]);

use Absent::{Default, None as Nothing, Required};

/// Keys of a readings file. Ranges are wide; common practice, no source.
#[rustfmt::skip]
const KEYS: &[KeySpec] = &[
    key("format", Kind::Whole { min: 1, max: 1 }, Required, "1", "version of this file format"),
    key("title", Kind::Text, Default(""), "\"Motor from the spares box\"", "what a person calls the sheet"),
    key("motor.magnets", Kind::Whole { min: 2, max: 400 }, Nothing, "14", "magnets counted round the rotor"),
    key("motor.slots", Kind::Whole { min: 3, max: 1200 }, Nothing, "12", "slots counted on the stator"),
    key("motor.construction", words(&["inrunner", "outrunner"]), Default("outrunner"), "\"outrunner\"", "rotor inside or outside of the stator"),
    key("motor.connection", words(&["star", "delta"]), Default("star"), "\"star\"", "how the windings are joined; matters where one winding was measured"),
    key("motor.emf_shape", words(&["trapezoid", "sine", "unknown"]), Default("unknown"), "\"unknown\"", "shape of the EMF; unknown: anything between"),
    key("label.kv", quantity(Q::SpeedPerVoltage, from("0.1 rpm/V"), "1e6 rpm/V"), Nothing, "\"920 rpm/V\"", "claimed speed per volt"),
    key("label.line_resistance", OHMS, Nothing, "\"90 mohm\"", "claimed, between two terminals"),
    key("label.poles", Kind::Whole { min: 2, max: 400 }, Nothing, "14", "claimed poles"),
    key("label.no_load_current", CURRENT, Nothing, "\"0.6 A\"", "claimed"),
    key("label.no_load_voltage", VOLTAGE, Nothing, "\"10 V\"", "voltage of that claim"),
    key("driven.frequency", FREQUENCY, Required, "\"65 Hz\"", "electrical turns per second of the drive"),
    key("driven.frequency_by", FREQUENCY_BY, Default("setting"), "\"setting\"", "read with"),
    key("driven.speed", SPEED, Required, "\"557 rpm\"", "of the shaft"),
    key("driven.speed_by", SPEED_BY, Default("tachometer"), "\"tachometer\"", "read with"),
    key("spun.speed", SPEED, Required, "\"1200 rpm\"", "of the shaft"),
    key("spun.speed_by", SPEED_BY, Default("tachometer"), "\"tachometer\"", "read with"),
    key("spun.emf", VOLTAGE, Nothing, "\"1.3 V\"", "voltage at the open leads"),
    key("spun.emf_kind", words(&["peak", "peak-to-peak", "rms", "average"]), Nothing, "\"peak\"", "what of it: average is that of the rectified voltage"),
    key("spun.emf_between", BETWEEN, Default("lines"), "\"lines\"", "between two leads, or one winding alone"),
    key("spun.emf_pair", words(&["u_v", "v_w", "w_u"]), Nothing, "\"u_v\"", "between which two leads; three rows at one speed tell shorted turns"),
    key("spun.emf_by", VOLTS_BY, Default("multimeter"), "\"scope\"", "read with"),
    key("spun.frequency", FREQUENCY, Nothing, "\"140 Hz\"", "electrical turns per second at the leads"),
    key("spun.frequency_by", words(&["frequency-counter", "scope"]), Default("frequency-counter"), "\"frequency-counter\"", "read with"),
    key("resistance.u_v", OHMS, Nothing, "\"91 mohm\"", "between the leads U and V"),
    key("resistance.v_w", OHMS, Nothing, "\"91 mohm\"", "between the leads V and W"),
    key("resistance.w_u", OHMS, Nothing, "\"91 mohm\"", "between the leads W and U"),
    key("resistance.temperature", DEGREES, Default("20 degC"), "\"21 degC\"", "of the winding then"),
    key("resistance.between", BETWEEN, Default("lines"), "\"lines\"", "two leads, or one winding alone: its first and second letter then name it"),
    key("resistance.by", OHMS_BY, Default("multimeter"), "\"four-wire\"", "read with"),
    key("no_load.voltage", VOLTAGE, Required, "\"10 V\"", "at the controller, fully on"),
    key("no_load.voltage_by", VOLTS_BY, Default("multimeter"), "\"multimeter\"", "read with"),
    key("no_load.current", CURRENT, Required, "\"0.6 A\"", "from the supply"),
    key("no_load.current_by", words(&["multimeter"]), Default("multimeter"), "\"multimeter\"", "read with"),
    key("no_load.speed", SPEED, Nothing, "\"9150 rpm\"", "of the shaft"),
    key("no_load.speed_by", SPEED_BY, Default("tachometer"), "\"tachometer\"", "read with"),
    key("stall.current", CURRENT, Required, "\"8 A\"", "direct, through two leads"),
    key("stall.current_by", words(&["multimeter"]), Default("multimeter"), "\"multimeter\"", "read with"),
    key("stall.torque", TORQUE, Nothing, "\"83 mNm\"", "largest on turning the lever by hand; or force and arm"),
    key("stall.force", quantity(Q::Force, above("0 N"), "1e6 N"), Nothing, "\"0.83 N\"", "at the end of the lever"),
    key("stall.arm", quantity(Q::Length, from("1 mm"), "10 m"), Nothing, "\"100 mm\"", "of the lever"),
    key("stall.voltage", VOLTAGE, Nothing, "\"0.75 V\"", "between the two leads, at the motor"),
    key("stall.voltage_by", VOLTS_BY, Default("multimeter"), "\"multimeter\"", "read with"),
    key("stall.temperature", DEGREES, Default("25 degC"), "\"25 degC\"", "of the winding then"),
    key("run_down.from", SPEED, Required, "\"6000 rpm\"", "speed at the start"),
    key("run_down.to", SPEED, Required, "\"2000 rpm\"", "speed at the end"),
    key("run_down.speed_by", SPEED_BY, Default("tachometer"), "\"tachometer\"", "both read with"),
    key("run_down.time", quantity(Q::Time, above("0 s"), "10000 s"), Required, "\"0.8 s\"", "from one to the other"),
    key("run_down.time_by", words(&["stopwatch", "scope"]), Default("stopwatch"), "\"stopwatch\"", "read with"),
    key("run_down.added_inertia", quantity(Q::Inertia, from("0 kg m2"), "1e4 kg m2"), Default("0 kg m2"), "\"2e-5 kg m2\"", "of a disc put on for the test, as known"),
    key("inductance.line", HENRY, Required, "\"36 uH\"", "between two terminals, mean over the rotor's positions"),
    key("inductance.by", words(&["inductance-meter"]), Default("inductance-meter"), "\"inductance-meter\"", "read with"),
];

/// What a readings file may hold.
pub const READINGS_SHEET: Sheet = Sheet {
    keys: KEYS,
    tables: TABLES,
    lists: LISTS,
    has_changes: false,
    has_tolerances: true,
};

/// Most readings that are taken: a sheet of paper holds some dozens, and the work grows with the cube.
pub const MOST_READINGS: usize = 200;

impl BenchSheet {
    /// Reads a readings file. `source_name` is what messages call it.
    ///
    /// # Errors
    /// All problems of the text in the order of the file, each with its place and remedy.
    pub fn parse(text: &str, source_name: &str) -> Result<Self, SetupErrors> {
        parse_sheet(text, source_name, &READINGS_SHEET, make)
    }
}

/// The readings file the program shows as an example.
#[must_use]
pub fn example_sheet() -> &'static str {
    include_str!("example.toml")
}

fn make(a: &mut Assembler<'_>) -> BenchSheet {
    a.whole("format");
    let motor = Counted {
        magnets: a.maybe_whole("motor.magnets"),
        slots: a.maybe_whole("motor.slots"),
        construction: if a.word("motor.construction") == "inrunner" {
            Construction::Inrunner
        } else {
            Construction::Outrunner
        },
        connection: if a.word("motor.connection") == "delta" {
            Connection::Delta
        } else {
            Connection::Star
        },
        shape: match a.word("motor.emf_shape") {
            "trapezoid" => Shape::Trapezoid,
            "sine" => Shape::Sine,
            _ => Shape::Unknown,
        },
    };
    for path in ["motor.magnets", "label.poles"] {
        if a.maybe_whole(path).is_some_and(|n| !n.is_multiple_of(2)) {
            a.contradiction(
                format!("`{path}` is odd: magnets stand round a rotor in pairs of north and south"),
                "count again; where each pole is made of several magnets, count poles",
                &[(path, "an odd number")],
            );
        }
    }
    let label = Label {
        kv_rad_per_v_s: a.maybe_number("label.kv"),
        line_resistance_ohm: a.maybe_number("label.line_resistance"),
        poles: a.maybe_whole("label.poles"),
        no_load_current_a: a.maybe_number("label.no_load_current"),
        no_load_voltage_v: a.maybe_number("label.no_load_voltage"),
    };
    let mut gather = Gather::default();
    let rows = gather.rows(a);
    if gather.readings.len() > MOST_READINGS && a.problems.is_empty() {
        a.contradiction(
            format!(
                "{} readings are more than the {MOST_READINGS} that are worked out at once",
                gather.readings.len()
            ),
            "take the mean of repeated readings, or split the sheet",
            &[],
        );
    }
    if gather.readings.is_empty() && a.problems.is_empty() {
        a.contradiction(
            "nothing was measured".to_owned(),
            "add a table such as [[spun]], [[resistance]] or [[no_load]]; `wyebench readings --example` prints a whole sheet",
            &[],
        );
    }
    BenchSheet {
        title: a.text("title").unwrap_or_default(),
        motor,
        label,
        readings: gather.readings,
        gains: gather.gains,
        n_latents: gather.n_latents,
        rows,
    }
}
