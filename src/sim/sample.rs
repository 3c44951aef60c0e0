//! What a run tells: the solution at an instant, and what happened when.

use crate::drive::LegState;

/// The solution at one instant, as the columns of the waveform file hold it.
///
/// Arrays are in the order U, V, W. Voltages refer to the negative rail.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Time from the start of the run in s.
    pub time_s: f64,
    /// Mechanical rotor angle in rad, not wrapped.
    pub theta_mech_rad: f64,
    /// Electrical rotor angle in rad, pole pairs times the mechanical one, not wrapped.
    pub theta_elec_rad: f64,
    /// Mechanical speed in rad/s.
    pub speed_rad_s: f64,
    /// Currents of the phase windings in A, positive into the machine.
    pub phase_current_a: [f64; 3],
    /// Currents of the three leads in A, positive into the machine; in star those of the phases.
    pub line_current_a: [f64; 3],
    /// Phase back-EMF in V.
    pub back_emf_v: [f64; 3],
    /// Terminal voltages in V.
    pub terminal_v: [f64; 3],
    /// Electromagnetic torque in N m, without cogging.
    pub em_torque_nm: f64,
    /// Electromagnetic plus cogging torque in N m.
    pub torque_nm: f64,
    /// Sum of the leg currents from the positive rail in A; negative: into it.
    pub supply_current_a: f64,
    /// Voltage across the bridge in V.
    pub supply_voltage_v: f64,
    /// The step, 1 to 6.
    pub step: u8,
    /// What the gates say, at this instant, PWM included.
    pub legs: [LegState; 3],
}

/// Something that happened at an instant of the run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Event {
    /// When, in s.
    pub time_s: f64,
    /// What.
    pub kind: EventKind,
    /// The step from this instant on, 1 to 6.
    pub step: u8,
    /// What the gates say from this instant on.
    pub legs: [LegState; 3],
}

/// What happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EventKind {
    /// The run begins.
    Start,
    /// The active legs are switched on: a PWM period begins.
    PwmOn,
    /// The active legs are switched off by the PWM.
    PwmOff,
    /// The step changed.
    StepChange,
    /// A diode began to conduct (leg 0, 1, 2; upper or lower).
    DiodeOn {
        /// Leg U, V, W as 0, 1, 2.
        leg: u8,
        /// Upper diode; false: lower.
        upper: bool,
    },
    /// A diode stopped conducting: the leg is open.
    DiodeOff {
        /// Leg U, V, W as 0, 1, 2.
        leg: u8,
    },
    /// The rotor came to rest and is held by dry friction.
    Stuck,
    /// The rotor broke away from rest.
    BrokeAway,
    /// The rotor passed through zero speed.
    Reversal,
    /// A change of the bench took effect.
    Change {
        /// Index into the setup's list of changes; `None`: made by hand while it runs.
        idx: Option<u32>,
    },
    /// The run ends.
    End,
}
