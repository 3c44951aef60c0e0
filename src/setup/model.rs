//! The checked setup: what stands on the bench, in SI units.
//!
//! These types hold values, not text. They are made by the parser in this room, which has
//! checked every range stated here; code that builds them by hand (tests, what-ifs) keeps to
//! the same ranges.

use serde::{Deserialize, Serialize};

use crate::winding::CoilSide;

/// What stands on the bench: one machine, one drive, one supply, one load, and a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Setup {
    /// What a person calls it. May be empty.
    pub title: String,
    /// The motor.
    pub machine: MachineSetup,
    /// What drives, feeds and loads it at the start of the run.
    pub bench: Bench,
    /// How long to run and what to keep.
    pub run: RunSetup,
    /// What a hand on the bench does during the run, times rising.
    pub changes: Vec<Change>,
}

/// The part of a setup that a hand on the bench may change during a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Bench {
    /// Commutation, PWM and switches.
    pub drive: DriveSetup,
    /// Source of the bridge.
    pub supply: SupplySetup,
    /// What the shaft works against.
    pub load: LoadSetup,
}

/// One change during the run.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// When, in s from the start of the run; at least 0.
    pub at_s: f64,
    /// The key that was set, as written: `drive.pwm.duty`.
    pub key: String,
    /// The new value as a person would read it: `0.8`, `11.1 V`.
    pub value: String,
    /// The whole bench from this instant on.
    pub bench: Bench,
}

/// The motor as written.
#[derive(Clone, Debug, PartialEq)]
pub struct MachineSetup {
    /// Rotor inside or outside.
    pub construction: Construction,
    /// Number of slots Q, at least 3 and at most 1200.
    pub slots: u32,
    /// Number of magnetic poles, even, at least 2 and at most 1200; feasible with `slots`.
    pub poles: u32,
    /// Star or delta.
    pub connection: Connection,
    /// Resistance of one phase winding at the temperature of the run, in ohm; at least 0. `None`
    /// only with a computed EMF: it follows from turns and wire.
    pub phase_resistance_ohm: Option<f64>,
    /// Self minus mutual inductance of one phase winding, in H; above 0. `None` only with a
    /// computed EMF: it follows from the section.
    pub phase_inductance_h: Option<f64>,
    /// Back-EMF.
    pub emf: EmfSetup,
    /// Winding; `None`: a balanced two-layer tooth-coil winding is laid out.
    pub winding: Option<WindingSetup>,
    /// Dimensions, where given.
    pub geometry: Option<GeometrySetup>,
    /// Rotor inertia in kg m²; above 0.
    pub rotor_inertia_kg_m2: f64,
    /// Viscous friction in N m s/rad; at least 0.
    pub viscous_friction_nm_s: f64,
    /// Dry friction in N m; at least 0.
    pub dry_friction_nm: f64,
    /// Peak cogging torque in N m; at least 0. `None` only with a computed EMF: it follows from
    /// the section.
    pub cogging_peak_nm: Option<f64>,
}

/// Where the rotor is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Construction {
    /// Rotor inside the stator.
    Inrunner,
    /// Rotor outside the stator: the bell turns.
    Outrunner,
}

/// How the three phase windings are joined. In JSON, as in a setup, `star` or `delta`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Connection {
    /// U2, V2, W2 joined in the star point.
    #[default]
    Star,
    /// U2-V1, V2-W1, W2-U1.
    Delta,
}

impl Connection {
    /// Its word in a setup.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Star => "star",
            Self::Delta => "delta",
        }
    }
}

/// Back-EMF as written: a shape and one constant that scales it.
#[derive(Clone, Debug, PartialEq)]
pub struct EmfSetup {
    /// Unit shape over the electrical angle.
    pub shape: EmfShape,
    /// Scale.
    pub constant: EmfConstant,
}

/// Unit shape s(θe) of the phase back-EMF.
#[derive(Clone, Debug, PartialEq)]
pub enum EmfShape {
    /// Ideal trapezoid: 1 from 30° to 150°, −1 from 210° to 330°, straight lines between.
    Trapezoid,
    /// sin θe.
    Sine,
    /// Σ aₙ sin(n θe): pairs of order n (1 to 199, each once, order 1 present) and amplitude.
    Harmonics(Vec<(u32, f64)>),
    /// Σ aₙ sin(n θe) + bₙ cos(n θe): what magnets, teeth and winding give, as order, a and b. In
    /// a setup the list is empty; the machine made of it fills it.
    Computed(Vec<(u32, f64, f64)>),
}

/// The constant that scales the EMF shape; above 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum EmfConstant {
    /// Mechanical rpm per volt of peak line-to-line EMF, in rad/s per V (SI).
    KvRadPerVs(f64),
    /// Phase constant k_e in V s/rad (mechanical): EMF of a phase = ω k_e s(θe).
    PhaseVsPerRad(f64),
    /// Not given, with a computed shape: it is computed too.
    Computed,
}

/// The winding as written.
#[derive(Clone, Debug, PartialEq)]
pub struct WindingSetup {
    /// Coil sides in a slot: 1 or 2.
    pub layers: u32,
    /// Coil span in slots; at least 1, below `slots`.
    pub coil_span: u32,
    /// Turns of one coil; `None` where not given.
    pub turns: Option<u32>,
    /// Parallel paths of a phase; at least 1.
    pub parallel_paths: u32,
    /// A layout of the person's own, balanced.
    pub layout: Option<Vec<CoilSide>>,
}

/// Direction of magnetisation inside a magnet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Magnetisation {
    /// Along the radius everywhere.
    Radial,
    /// Parallel to the magnet's middle radius.
    Parallel,
}

/// Dimensions of the machine as written. Lengths in m, all above 0.
#[derive(Clone, Debug, PartialEq)]
pub struct GeometrySetup {
    /// Radius of the stator surface that faces the gap.
    pub bore_radius_m: f64,
    /// Magnet to stator.
    pub air_gap_m: f64,
    /// Radial thickness of the magnets.
    pub magnet_thickness_m: f64,
    /// Magnet arc as a part of the pole pitch; from 0.01 to 1.
    pub magnet_arc: f64,
    /// Remanence in T; 0.001 to 2.
    pub magnet_remanence_t: f64,
    /// Relative recoil permeability; 1 to 2.
    pub magnet_permeability: f64,
    /// Radial or parallel.
    pub magnetisation: Magnetisation,
    /// Axial length of the stack.
    pub stack_length_m: f64,
    /// False: a smooth stator ring.
    pub slotting: bool,
    /// Slot opening along the bore.
    pub slot_opening_m: Option<f64>,
    /// Radial depth of the tooth tip.
    pub tooth_tip_m: Option<f64>,
    /// Radial, bore to slot bottom.
    pub slot_depth_m: Option<f64>,
    /// Width of the parallel-sided tooth.
    pub tooth_width_m: Option<f64>,
    /// Stator yoke, radial.
    pub yoke_thickness_m: Option<f64>,
    /// Rotor yoke, radial.
    pub rotor_yoke_thickness_m: Option<f64>,
    /// Bare copper diameter of one strand.
    pub wire_diameter_m: Option<f64>,
    /// Strands in hand; at least 1.
    pub strands: u32,
    /// Extra length of each coil-side end, so that a turn is 2 (stack + end) long; `None`:
    /// estimated.
    pub end_turn_m: Option<f64>,
    /// Winding temperature in °C.
    pub winding_temperature_c: f64,
}

/// The drive as written.
#[derive(Clone, Debug, PartialEq)]
pub struct DriveSetup {
    /// What decides the step.
    pub commutation: Commutation,
    /// Electrical advance in rad, −60° to 60°.
    pub advance_rad: f64,
    /// Direction the drive turns the machine.
    pub direction: Direction,
    /// Whether the gates step, or all legs are held off or low.
    pub gates: Gates,
    /// Chopping; `None`: the active legs are fully on.
    pub pwm: Option<PwmSetup>,
    /// The forced drive; present whenever `commutation` is `Forced`.
    pub forced: Option<ForcedSetup>,
    /// The switches.
    pub switch: SwitchSetup,
}

/// What decides the step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Commutation {
    /// The rotor's angle.
    Position,
    /// A clock.
    Forced,
}

/// Direction of rotation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Positive, counter-clockwise on the screen.
    Forward,
    /// Negative.
    Reverse,
}

/// What the gates do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gates {
    /// Follow the six-step table.
    Stepping,
    /// All six switches off: the motor coasts.
    AllOff,
    /// All three lower switches on: the motor is braked.
    AllLow,
}

/// Edge-aligned PWM.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PwmSetup {
    /// Hz; above 0.
    pub frequency_hz: f64,
    /// On time as a part of the period, 0 to 1.
    pub duty: f64,
    /// Which switches chop.
    pub chop: Chop,
}

/// Which switches chop, and what carries the current in the off time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Chop {
    /// The upper switch of the high leg; its lower diode freewheels.
    HighSide,
    /// The same, with the lower switch of the high leg on in the off time.
    HighSideSynchronous,
    /// Both active legs off; current returns to the supply through the opposite diodes.
    BothSides,
}

/// A drive that steps by the clock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ForcedSetup {
    /// Electrical turns per second after the ramp; above 0.
    pub frequency_hz: f64,
    /// Frequency at the start of the ramp; at least 0; equal to `frequency_hz` without ramp.
    pub start_frequency_hz: f64,
    /// Length of the linear ramp in s; at least 0.
    pub ramp_s: f64,
    /// First step, 1 to 6.
    pub start_step: u8,
    /// Hold of the first step before anything moves on, in s; at least 0.
    pub align_s: f64,
}

/// One switch of the bridge: MOSFETs in parallel, with their body diodes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SwitchSetup {
    /// On-resistance of one MOSFET in ohm; at least 0.
    pub on_resistance_ohm: f64,
    /// How many in parallel; at least 1.
    pub parallel: u32,
    /// Forward drop of the body diode in V; at least 0.
    pub diode_drop_v: f64,
    /// Slope resistance of the conducting diode path in ohm; at least 0.
    pub diode_resistance_ohm: f64,
}

/// The source of the bridge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SupplySetup {
    /// Open-circuit voltage in V; at least 0.
    pub voltage_v: f64,
    /// Source resistance with the capacitor it needs; `None`: a stiff supply.
    pub source: Option<SoftSource>,
}

/// A source with resistance and a capacitor across the bridge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SoftSource {
    /// Ohm; above 0.
    pub resistance_ohm: f64,
    /// F; above 0.
    pub capacitance_f: f64,
}

/// What the shaft works against; the torques add up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoadSetup {
    /// Constant torque that opposes motion, in N m; at least 0.
    pub constant_nm: f64,
    /// Torque of a hanging weight in N m; positive opposes positive rotation.
    pub gravity_nm: f64,
    /// Torque over speed squared, opposing motion, in N m s²/rad²; at least 0.
    pub quadratic_nm_s2: f64,
    /// Inertia of the load at the shaft in kg m²; at least 0.
    pub inertia_kg_m2: f64,
}

/// How the run goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RunSetup {
    /// s; above 0.
    pub duration_s: f64,
    /// Speed at the start in rad/s, signed.
    pub start_speed_rad_s: f64,
    /// Mechanical angle at the start in rad.
    pub start_angle_rad: f64,
    /// True: the shaft is driven at `start_speed_rad_s` whatever the torque.
    pub hold_speed: bool,
    /// Spacing of recorded waveforms in s; above 0.
    pub sample_s: f64,
    /// Steady figures come from this last part of the run, in s; above 0, at most the duration.
    pub measure_s: f64,
}
