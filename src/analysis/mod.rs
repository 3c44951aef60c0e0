//! Figures of a run: steady values over the measuring window and the energy account.
//!
//! The simulator hands over [`WindowTotals`] and an [`EnergyAccount`];
//! [`RunFigures::from_totals`] makes the contract's figures of them, and for each a [`Figure`]
//! that says by which formula, from what, and after whom. [`why`] prints that.

pub mod caution;
mod figure;
mod figures;
mod number;
pub mod spectrum;

pub use figure::{
    Figure, FigureNames, Group, Input, Source, TABLE_DIGITS, UnknownFigure, Value, check_key, why,
};
pub use figures::{RunEnd, Scales};
pub use number::{Shown, Unit, shown, shown_ends, shown_with_range, signed_percent};

pub mod measure;

pub use measure::{Measuring, RunOutcome, run, run_simulator};

mod trailing;

pub use trailing::Trailing;

use serde::Serialize;

/// What the measuring window is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum WindowKind {
    /// Whole mechanical turns.
    MechanicalTurns,
    /// Whole electrical turns; not one mechanical turn fitted.
    ElectricalTurns,
    /// Plain time; not one electrical turn fitted.
    Time,
}

/// Integrals over the measuring window, exact for the solution (not sums of samples).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WindowTotals {
    /// First instant in s.
    pub start_s: f64,
    /// Last instant in s.
    pub end_s: f64,
    /// What the window is made of.
    pub kind: WindowKind,
    /// Whole turns of that kind in the window; 0 for plain time.
    pub turns: u32,
    /// Mechanical angle gone through in rad, signed.
    pub angle_mech_rad: f64,
    /// Integral of electromagnetic plus cogging torque in N m s.
    pub torque_nm_s: f64,
    /// Integral of that torque squared in N² m² s.
    pub torque_squared_s: f64,
    /// Lowest value of that torque in N m.
    pub torque_min_nm: f64,
    /// Highest value of that torque in N m.
    pub torque_max_nm: f64,
    /// Integral of the torque on the load (or on what drives the shaft) in N m s.
    pub load_torque_nm_s: f64,
    /// Charge through the bridge from the positive rail in A s.
    pub supply_charge_as: f64,
    /// Integral of that current squared in A² s.
    pub supply_current_squared_s: f64,
    /// Integrals of the phase winding currents squared in A² s, U V W.
    pub phase_current_squared_s: [f64; 3],
    /// Largest magnitude of any phase winding current in A.
    pub phase_current_peak_a: f64,
    /// Energy into the bridge in J.
    pub supply_energy_j: f64,
    /// Work on the load (or on what drives the shaft) in J.
    pub shaft_work_j: f64,
    /// Heat in the windings in J.
    pub copper_j: f64,
    /// Heat in switches and diodes in J.
    pub bridge_j: f64,
    /// Heat from viscous and dry friction of the machine in J.
    pub friction_j: f64,
    /// Step changes.
    pub commutations: u64,
}

/// Where the energy of the whole run went, in J.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EnergyAccount {
    /// From the supply, behind its source resistance.
    pub supply_j: f64,
    /// Work on the load, or on what drives the shaft.
    pub shaft_j: f64,
    /// Heat from friction of the machine.
    pub friction_j: f64,
    /// Heat in the windings.
    pub copper_j: f64,
    /// Heat in switches and diodes.
    pub bridge_j: f64,
    /// Change of the energy stored in inductances.
    pub magnetic_change_j: f64,
    /// Change of the energy stored in the capacitor.
    pub capacitor_change_j: f64,
    /// Change of the energy stored in the turning masses.
    pub kinetic_change_j: f64,
    /// Change of the energy stored by cogging (a spring).
    pub cogging_change_j: f64,
    /// Energy that changes of the bench put in by hand (an inertia coupled on, say).
    pub by_hand_j: f64,
    /// Energy through the bridge, counted positive both ways: what a residual is compared with
    /// where what went in came back.
    pub turnover_j: f64,
}

/// The steady figures of a run, with the keys of the setup format; SI, finite or null.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RunFigures {
    /// Mean speed over the window, mechanical rpm.
    pub mean_speed_rpm: Option<f64>,
    /// Speed at the end of the run, mechanical rpm.
    pub final_speed_rpm: Option<f64>,
    /// Electrical turns per second, mean over the window.
    pub electrical_frequency_hz: Option<f64>,
    /// Mean of electromagnetic plus cogging torque.
    pub torque_mean_nm: Option<f64>,
    /// Max minus min of that torque.
    pub torque_ripple_pp_nm: Option<f64>,
    /// Standard deviation of that torque over time.
    pub torque_ripple_rms_nm: Option<f64>,
    /// Mean torque on the load, or on what drives the shaft.
    pub load_torque_mean_nm: Option<f64>,
    /// Mean supply current.
    pub supply_current_mean_a: Option<f64>,
    /// RMS supply current.
    pub supply_current_rms_a: Option<f64>,
    /// RMS phase current, mean of the three.
    pub phase_current_rms_a: Option<f64>,
    /// Largest phase current.
    pub phase_current_peak_a: Option<f64>,
    /// Mean power into the bridge.
    pub supply_power_w: Option<f64>,
    /// Mean power on the load.
    pub shaft_power_w: Option<f64>,
    /// Mean heat in the windings.
    pub copper_loss_w: Option<f64>,
    /// Mean heat in switches and diodes.
    pub bridge_loss_w: Option<f64>,
    /// Mean heat of friction.
    pub friction_loss_w: Option<f64>,
    /// Shaft power over supply power; null unless both are positive.
    pub efficiency: Option<f64>,
    /// What the energy account of the whole run leaves over, relative.
    pub energy_residual: Option<f64>,
    /// Length of the window.
    pub window_s: Option<f64>,
    /// What the window is made of.
    pub window_kind: WindowKind,
    /// Step changes of the whole run.
    pub commutations: u64,
    /// False when a forced drive has lost the rotor.
    pub in_step: bool,
    /// What a person should know.
    pub warnings: Vec<String>,
}
