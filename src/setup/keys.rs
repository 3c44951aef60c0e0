//! The one table of keys: what each holds, its range, its default, and a word about it.
//!
//! The parser, the writer, the JSON Schema and the list of changeable keys all read this table,
//! so none of them can know a key that the others do not. The ranges are wide: they shut out
//! what no machine can have (and slips of a prefix, `M` for `m`), not what is unusual. They are
//! common practice, no source.

use super::units::Quantity;

/// One end of a range: a text with its unit, and whether the end itself is allowed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bound {
    /// The end, written as in a file: `0 ohm`, `1200`.
    pub text: &'static str,
    /// Whether the end itself is allowed.
    pub included: bool,
}

/// What a key holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// Number and unit in a string.
    Quantity {
        /// Of what.
        quantity: Quantity,
        /// Least.
        min: Bound,
        /// Greatest.
        max: Bound,
    },
    /// A plain number.
    Number {
        /// Least.
        min: Bound,
        /// Greatest.
        max: Bound,
    },
    /// A plain whole number, both ends allowed.
    Whole {
        /// Least.
        min: u32,
        /// Greatest.
        max: u32,
    },
    /// One of these words.
    Word {
        /// Words that are simulated.
        words: &'static [&'static str],
        /// Words that are known but not simulated yet, each with what to use instead.
        not_yet: &'static [(&'static str, &'static str)],
    },
    /// `true` or `false`.
    Flag,
    /// Free text.
    Text,
    /// A list of [order, amplitude] pairs.
    Harmonics,
}

impl Kind {
    /// The allowed range or words as a person reads them: `above 0 H, at most 10 H`.
    #[must_use]
    pub fn allowed(&self) -> String {
        match self {
            Self::Quantity { min, max, .. } | Self::Number { min, max } => {
                let least = if min.included { "from" } else { "above" };
                let most = match (min.included, max.included) {
                    (_, false) => ", below",
                    (true, true) => " to",
                    (false, true) => ", at most",
                };
                format!("{least} {}{most} {}", min.text, max.text)
            }
            Self::Whole { min, max } if min == max => min.to_string(),
            Self::Whole { min, max } => format!("a whole number from {min} to {max}"),
            Self::Word { words, .. } => words.join(", "),
            Self::Flag => "true or false".to_owned(),
            Self::Text => "a text".to_owned(),
            Self::Harmonics => "a list of [order, amplitude]".to_owned(),
        }
    }
}

/// What holds where a key is absent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Absent {
    /// It must be there, in its table where that is optional.
    Required,
    /// This, written as in a file.
    Default(&'static str),
    /// Nothing is assumed.
    None,
}

/// One key of the setup file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KeySpec {
    /// Where it stands: `machine.phase.resistance`.
    pub path: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// What holds where it is absent.
    pub absent: Absent,
    /// A value as it is written in the file, quotes included.
    pub example: &'static str,
    /// What it is, in one phrase.
    pub about: &'static str,
}

impl KeySpec {
    /// The table it stands in; empty at the top of the file.
    #[must_use]
    pub fn table(&self) -> &'static str {
        self.path.rsplit_once('.').map_or("", |(table, _)| table)
    }

    /// Its own name without the table.
    #[must_use]
    pub fn name(&self) -> &'static str {
        self.path
            .rsplit_once('.')
            .map_or(self.path, |(_, name)| name)
    }
}

/// What one kind of file may hold: its keys and tables.
#[derive(Clone, Copy, Debug)]
pub struct Sheet {
    /// Every key, in the order in which they are written.
    pub keys: &'static [KeySpec],
    /// Every table, with what it describes.
    pub tables: &'static [(&'static str, &'static str)],
    /// Tables that may stand any number of times, each in double brackets: `[[no_load]]`.
    pub lists: &'static [&'static str],
    /// Whether it may have a list of `[[change]]`.
    pub has_changes: bool,
    /// Whether a number may carry a tolerance: `"920 rpm/V ± 5 %"`.
    pub has_tolerances: bool,
}

/// The setup file.
pub const SETUP_SHEET: Sheet = Sheet {
    keys: KEYS,
    tables: TABLES,
    lists: &[],
    has_changes: true,
    has_tolerances: false,
};

impl Sheet {
    /// The entry of a key.
    #[must_use]
    pub fn key_spec(&self, path: &str) -> Option<&'static KeySpec> {
        self.keys.iter().find(|spec| spec.path == path)
    }
}

/// A bound that is allowed itself.
#[must_use]
pub const fn from(text: &'static str) -> Bound {
    Bound {
        text,
        included: true,
    }
}

/// A bound that is not allowed itself.
#[must_use]
pub const fn above(text: &'static str) -> Bound {
    Bound {
        text,
        included: false,
    }
}

/// A quantity from `min` to `max`, the latter included.
#[must_use]
pub const fn quantity(quantity: Quantity, min: Bound, max: &'static str) -> Kind {
    Kind::Quantity {
        quantity,
        min,
        max: from(max),
    }
}

const fn words(words: &'static [&'static str]) -> Kind {
    Kind::Word {
        words,
        not_yet: &[],
    }
}

/// One entry of a table of keys.
#[must_use]
pub const fn key(
    path: &'static str,
    kind: Kind,
    absent: Absent,
    example: &'static str,
    about: &'static str,
) -> KeySpec {
    KeySpec {
        path,
        kind,
        absent,
        example,
        about,
    }
}

use Absent::{Default, Required};
use Quantity as Q;

const LENGTH: Kind = quantity(Q::Length, from("1 um"), "10 m");
const TORQUE: Kind = quantity(Q::Torque, from("0 Nm"), "100 kNm");
const RESISTANCE: Kind = quantity(Q::Resistance, from("0 ohm"), "10 kohm");
const INDUCTANCE: Kind = quantity(Q::Inductance, from("1 nH"), "10 H");

/// Every table of the file, with what it describes.
pub const TABLES: &[(&str, &str)] = &[
    ("machine", "The motor."),
    (
        "machine.phase",
        "One phase winding, or what is measured between two terminals.",
    ),
    (
        "machine.emf",
        "The back-EMF: its shape and one constant that scales it.",
    ),
    (
        "machine.winding",
        "The winding; absent: balanced two-layer tooth coils are laid out.",
    ),
    (
        "machine.geometry",
        "Dimensions: drawn to scale, and what shape = \"computed\" follows from.",
    ),
    ("machine.rotor", "What turns."),
    (
        "machine.cogging",
        "The torque of magnets and teeth without current.",
    ),
    ("drive", "What decides the steps."),
    (
        "drive.pwm",
        "Chopping; absent: the active legs are fully on.",
    ),
    (
        "drive.forced",
        "A drive that steps by the clock, with commutation = \"forced\".",
    ),
    ("drive.switch", "One MOSFET of the bridge; absent: ideal."),
    ("supply", "The source of the bridge."),
    ("load", "What the shaft works against; the torques add up."),
    ("run", "How long to run and what to keep."),
    (
        "change",
        "What a hand on the bench does during the run, in time order.",
    ),
];

/// Every key of the file but those of `[[change]]`, in the order in which they are written.
pub const KEYS: &[KeySpec] = &[
    key(
        "format",
        Kind::Whole { min: 1, max: 1 },
        Required,
        "1",
        "version of this file format",
    ),
    key(
        "title",
        Kind::Text,
        Default(""),
        "\"Sluice drive\"",
        "what a person calls the setup",
    ),
    key(
        "machine.construction",
        words(&["inrunner", "outrunner"]),
        Default("inrunner"),
        "\"outrunner\"",
        "rotor inside or outside of the stator",
    ),
    key(
        "machine.slots",
        Kind::Whole { min: 3, max: 1200 },
        Required,
        "12",
        "number of slots",
    ),
    key(
        "machine.poles",
        Kind::Whole { min: 2, max: 1200 },
        Required,
        "14",
        "number of magnetic poles round the rotor, even",
    ),
    key(
        "machine.connection",
        words(&["star", "delta"]),
        Default("star"),
        "\"star\"",
        "how the three phase windings are joined",
    ),
    key(
        "machine.phase.resistance",
        RESISTANCE,
        Absent::None,
        "\"45 mohm\"",
        "resistance of one phase winding; or give line_resistance; absent with a computed EMF: computed",
    ),
    key(
        "machine.phase.line_resistance",
        RESISTANCE,
        Absent::None,
        "\"90 mohm\"",
        "resistance measured between two terminals; instead of resistance",
    ),
    key(
        "machine.phase.inductance",
        INDUCTANCE,
        Absent::None,
        "\"18 uH\"",
        "inductance of one phase winding, self minus mutual; or give line_inductance; absent with a computed EMF: computed",
    ),
    key(
        "machine.phase.line_inductance",
        INDUCTANCE,
        Absent::None,
        "\"36 uH\"",
        "inductance measured between two terminals; instead of inductance",
    ),
    key(
        "machine.emf.shape",
        words(&["trapezoid", "sine", "harmonics", "computed"]),
        Required,
        "\"trapezoid\"",
        "shape of the phase back-EMF over the electrical angle",
    ),
    key(
        "machine.emf.kv",
        quantity(Q::SpeedPerVoltage, from("0.001 rpm/V"), "1e6 rpm/V"),
        Absent::None,
        "\"920 rpm/V\"",
        "mechanical speed per volt of peak line-to-line EMF, in delta of one winding's own; or give phase_constant",
    ),
    key(
        "machine.emf.phase_constant",
        quantity(Q::EmfPerSpeed, from("1e-6 V s/rad"), "10000 V s/rad"),
        Absent::None,
        "\"5.19 mV s/rad\"",
        "EMF of one phase per mechanical speed, at shape 1; instead of kv",
    ),
    key(
        "machine.emf.harmonics",
        Kind::Harmonics,
        Absent::None,
        "[[1, 1.0], [3, 0.08], [5, -0.03]]",
        "pairs of order and amplitude of the sines that make the shape",
    ),
    key(
        "machine.winding.layers",
        Kind::Whole { min: 1, max: 2 },
        Default("2"),
        "2",
        "coil sides in a slot",
    ),
    key(
        "machine.winding.coil_span",
        Kind::Whole { min: 1, max: 1199 },
        Default("1"),
        "1",
        "coil span in slots, below the number of slots",
    ),
    key(
        "machine.winding.turns",
        Kind::Whole {
            min: 1,
            max: 100_000,
        },
        Absent::None,
        "9",
        "turns of one coil",
    ),
    key(
        "machine.winding.parallel_paths",
        Kind::Whole { min: 1, max: 1200 },
        Default("1"),
        "1",
        "parallel paths of a phase",
    ),
    key(
        "machine.winding.layout",
        Kind::Text,
        Absent::None,
        "\"+U -U -V +V +W -W -U +U +V -V -W +W\"",
        "a layout of one's own: signed phase letters, coil side by coil side",
    ),
    key(
        "machine.geometry.bore_radius",
        LENGTH,
        Required,
        "\"14 mm\"",
        "radius of the stator surface that faces the gap",
    ),
    key(
        "machine.geometry.air_gap",
        LENGTH,
        Required,
        "\"0.7 mm\"",
        "from magnet to stator",
    ),
    key(
        "machine.geometry.magnet_thickness",
        LENGTH,
        Required,
        "\"2.5 mm\"",
        "radial thickness of the magnets",
    ),
    key(
        "machine.geometry.magnet_arc",
        // of the narrowest the fundamental is a hundredth of a full arc's
        Kind::Number {
            min: from("0.01"),
            max: from("1"),
        },
        Required,
        "0.8",
        "magnet arc as a part of the pole pitch",
    ),
    key(
        "machine.geometry.magnet_remanence",
        quantity(Q::FluxDensity, from("1 mT"), "2 T"),
        Required,
        "\"1.22 T\"",
        "remanence of the magnets",
    ),
    key(
        "machine.geometry.magnet_permeability",
        Kind::Number {
            min: from("1"),
            max: from("2"),
        },
        Default("1.05"),
        "1.05",
        "relative recoil permeability of the magnets",
    ),
    key(
        "machine.geometry.magnetisation",
        words(&["radial", "parallel"]),
        Default("radial"),
        "\"radial\"",
        "direction of magnetisation inside a magnet",
    ),
    key(
        "machine.geometry.stack_length",
        LENGTH,
        Required,
        "\"30 mm\"",
        "axial length of the stack",
    ),
    key(
        "machine.geometry.slotting",
        Kind::Flag,
        Default("true"),
        "true",
        "false: a smooth stator ring",
    ),
    key(
        "machine.geometry.slot_opening",
        LENGTH,
        Absent::None,
        "\"1.95 mm\"",
        "slot opening along the bore",
    ),
    key(
        "machine.geometry.tooth_tip",
        LENGTH,
        Absent::None,
        "\"1 mm\"",
        "radial depth of the tooth tip",
    ),
    key(
        "machine.geometry.slot_depth",
        LENGTH,
        Absent::None,
        "\"7.5 mm\"",
        "radial, from bore to slot bottom",
    ),
    key(
        "machine.geometry.tooth_width",
        LENGTH,
        Absent::None,
        "\"4.2 mm\"",
        "width of the parallel-sided tooth",
    ),
    key(
        "machine.geometry.yoke_thickness",
        LENGTH,
        Absent::None,
        "\"3.5 mm\"",
        "radial thickness of the stator yoke",
    ),
    key(
        "machine.geometry.rotor_yoke_thickness",
        LENGTH,
        Absent::None,
        "\"3 mm\"",
        "radial thickness of the rotor yoke",
    ),
    key(
        "machine.geometry.wire_diameter",
        LENGTH,
        Absent::None,
        "\"0.6 mm\"",
        "bare copper diameter of one strand",
    ),
    key(
        "machine.geometry.strands",
        Kind::Whole {
            min: 1,
            max: 10_000,
        },
        Default("1"),
        "1",
        "strands in hand",
    ),
    key(
        "machine.geometry.end_turn",
        LENGTH,
        Absent::None,
        "\"12 mm\"",
        "extra length of each coil-side end: a turn is twice the stack and twice this; absent: estimated",
    ),
    key(
        "machine.geometry.winding_temperature",
        quantity(Q::Temperature, from("-100 degC"), "400 degC"),
        Default("20 degC"),
        "\"20 degC\"",
        "temperature of the winding",
    ),
    key(
        "machine.rotor.inertia",
        quantity(Q::Inertia, from("1e-12 kg m2"), "1e6 kg m2"),
        Required,
        "\"1.2e-5 kg m2\"",
        "moment of inertia of the rotor",
    ),
    key(
        "machine.rotor.viscous_friction",
        quantity(Q::TorquePerSpeed, from("0 Nm s/rad"), "1000 Nm s/rad"),
        Default("0 Nm s/rad"),
        "\"1e-6 Nm s/rad\"",
        "friction torque per speed",
    ),
    key(
        "machine.rotor.dry_friction",
        TORQUE,
        Default("0 Nm"),
        "\"1.5 mNm\"",
        "friction torque that does not depend on speed",
    ),
    key(
        "machine.cogging.peak",
        TORQUE,
        // Nothing, or with a computed EMF what the section gives.
        Absent::None,
        "\"2 mNm\"",
        "peak cogging torque; the order is lcm(slots, poles); absent: none, or computed",
    ),
    key(
        "drive.commutation",
        Kind::Word {
            words: &["position", "forced"],
            not_yet: &[(
                "sensed",
                "use \"position\" (steps by the rotor's angle) or \"forced\" (steps by the clock)",
            )],
        },
        Default("position"),
        "\"position\"",
        "what decides the step: the rotor's angle or a clock",
    ),
    key(
        "drive.advance",
        quantity(Q::Angle, from("-60 deg"), "60 deg"),
        Default("0 deg"),
        "\"10 deg\"",
        "electrical angle by which each step comes earlier",
    ),
    key(
        "drive.direction",
        words(&["forward", "reverse"]),
        Default("forward"),
        "\"forward\"",
        "direction in which the drive turns the machine",
    ),
    key(
        "drive.gates",
        words(&["stepping", "all-off", "all-low"]),
        Default("stepping"),
        "\"stepping\"",
        "stepping, or all off (coast), or all lower switches on (brake)",
    ),
    key(
        "drive.pwm.frequency",
        quantity(Q::Frequency, from("1 Hz"), "10 MHz"),
        Required,
        "\"20 kHz\"",
        "PWM frequency",
    ),
    key(
        "drive.pwm.duty",
        Kind::Number {
            min: from("0"),
            max: from("1"),
        },
        Required,
        "0.6",
        "on time as a part of the PWM period",
    ),
    key(
        "drive.pwm.chop",
        words(&["high-side", "high-side-synchronous", "both-sides"]),
        Default("high-side"),
        "\"high-side\"",
        "which switches chop",
    ),
    key(
        "drive.forced.frequency",
        quantity(Q::Frequency, from("1 mHz"), "100 kHz"),
        Required,
        "\"65 Hz\"",
        "electrical turns per second, after the ramp",
    ),
    key(
        "drive.forced.start_frequency",
        quantity(Q::Frequency, from("0 Hz"), "100 kHz"),
        Absent::None,
        "\"5 Hz\"",
        "electrical turns per second at the start of the ramp",
    ),
    key(
        "drive.forced.ramp",
        quantity(Q::Time, from("0 s"), "10000 s"),
        Absent::None,
        "\"0.5 s\"",
        "length of the linear ramp",
    ),
    key(
        "drive.forced.start_step",
        Kind::Whole { min: 1, max: 6 },
        Default("1"),
        "1",
        "first step",
    ),
    key(
        "drive.forced.align",
        quantity(Q::Time, from("0 s"), "10000 s"),
        Default("0 s"),
        "\"0.2 s\"",
        "hold of the first step before anything moves on",
    ),
    key(
        "drive.switch.on_resistance",
        RESISTANCE,
        Default("0 ohm"),
        "\"5 mohm\"",
        "on-resistance of one MOSFET",
    ),
    key(
        "drive.switch.parallel",
        Kind::Whole { min: 1, max: 1000 },
        Default("1"),
        "2",
        "MOSFETs in parallel that make one switch",
    ),
    key(
        "drive.switch.diode_drop",
        quantity(Q::Voltage, from("0 V"), "100 V"),
        Default("0 V"),
        "\"0.7 V\"",
        "forward drop of the body diode",
    ),
    key(
        "drive.switch.diode_resistance",
        RESISTANCE,
        Default("0 ohm"),
        "\"2 mohm\"",
        "slope resistance of the conducting diode",
    ),
    key(
        "supply.voltage",
        quantity(Q::Voltage, from("0 V"), "10 kV"),
        Required,
        "\"11.1 V\"",
        "open-circuit voltage",
    ),
    key(
        "supply.resistance",
        quantity(Q::Resistance, from("1 uohm"), "10 kohm"),
        Absent::None,
        "\"20 mohm\"",
        "source resistance, together with capacitance; absent: a stiff supply",
    ),
    key(
        "supply.capacitance",
        quantity(Q::Capacitance, from("1 nF"), "1000 F"),
        Absent::None,
        "\"470 uF\"",
        "capacitance across the bridge, together with resistance",
    ),
    key(
        "load.constant",
        TORQUE,
        Default("0 Nm"),
        "\"10 mNm\"",
        "constant torque against motion",
    ),
    key(
        "load.gravity",
        quantity(Q::Torque, from("-100 kNm"), "100 kNm"),
        Default("0 Nm"),
        "\"5 mNm\"",
        "torque of a hanging weight; positive opposes positive rotation",
    ),
    key(
        "load.quadratic",
        quantity(
            Q::TorquePerSpeedSquared,
            from("0 Nm s2/rad2"),
            "1000 Nm s2/rad2",
        ),
        Default("0 Nm s2/rad2"),
        "\"1.5e-8 Nm s2/rad2\"",
        "torque over speed squared, against motion",
    ),
    key(
        "load.inertia",
        quantity(Q::Inertia, from("0 kg m2"), "1e6 kg m2"),
        Default("0 kg m2"),
        "\"2e-5 kg m2\"",
        "moment of inertia of the load at the shaft",
    ),
    key(
        "run.duration",
        quantity(Q::Time, from("1 us"), "100000 s"),
        Default("1 s"),
        "\"1 s\"",
        "length of the run",
    ),
    key(
        "run.start_speed",
        quantity(Q::Speed, from("-1e6 rpm"), "1e6 rpm"),
        Default("0 rpm"),
        "\"3000 rpm\"",
        "speed at the start, signed",
    ),
    key(
        "run.start_angle",
        quantity(Q::Angle, from("-36000 deg"), "36000 deg"),
        Default("0 deg"),
        "\"15 deg\"",
        "mechanical angle at the start",
    ),
    key(
        "run.hold_speed",
        Kind::Flag,
        Default("false"),
        "true",
        "true: the shaft is driven at start_speed whatever the torque",
    ),
    key(
        "run.sample",
        quantity(Q::Time, from("1 ns"), "1000 s"),
        Default("10 us"),
        "\"10 us\"",
        "spacing of recorded waveforms",
    ),
    key(
        "run.measure",
        quantity(Q::Time, from("100 ns"), "100000 s"),
        // Where the run is shorter than this, the whole of it.
        Default("0.2 s"),
        "\"0.2 s\"",
        "steady figures come from the end of the run, this long",
    ),
];

/// The keys of one `[[change]]`; `to` holds what the key named by `set` holds.
pub const CHANGE_KEYS: &[KeySpec] = &[
    key(
        "change.at",
        quantity(Q::Time, from("0 s"), "100000 s"),
        Required,
        "\"0.15 s\"",
        "when, from the start of the run",
    ),
    key(
        "change.set",
        Kind::Text,
        Required,
        "\"drive.pwm.duty\"",
        "a key of drive, supply or load",
    ),
    key(
        "change.to",
        Kind::Text,
        Required,
        "0.8",
        "the new value, with the unit that key needs",
    ),
];

/// The entry of a key.
#[must_use]
pub fn key_spec(path: &str) -> Option<&'static KeySpec> {
    KEYS.iter()
        .chain(CHANGE_KEYS)
        .find(|spec| spec.path == path)
}

/// The keys that may change while the bench runs: all of drive, supply and load.
pub fn changeable_keys() -> impl Iterator<Item = &'static KeySpec> {
    KEYS.iter().filter(|spec| is_changeable(spec.path))
}

pub(super) fn is_changeable(path: &str) -> bool {
    ["drive.", "supply.", "load."]
        .iter()
        .any(|group| path.starts_with(group))
}
