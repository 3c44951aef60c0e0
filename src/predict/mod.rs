//! Answers before anything is bought: closed forms for motor, pack, controller and load.
//!
//! [`Build`] is what a label, a shop page and a kitchen scale tell; [`predict`] makes a
//! [`Prediction`] of it. The motor is the averaged six-step machine of [`SixStepMachine`], with
//! its commutation interval; the dc formula without inductance stands beside it, since that is
//! what most people reckon with.
//!
//! ```
//! use wyebench::predict::{Build, example_build, predict};
//! let build = Build::parse(example_build(), "example").unwrap();
//! let point = predict(&build).unwrap().loaded;
//! assert!(point.speed_rad_s > 0.0);
//! ```

mod assumed;
mod build;
mod chopper;
mod confirm;
mod curve;
mod doubts;
pub(crate) mod figures;
mod heat;
mod limits;
mod loads;
mod locked;
mod meet;
mod on_the_bench;
mod point;
mod reach;
pub(crate) mod sheet;
mod six_step;
mod spread;
mod vehicle_figures;

pub use assumed::setup_text;
pub use build::{
    Build, Controller, ESTIMATED_TIME_CONSTANT_S, MotorLabel, Pack, ROTOR_TIME_CONSTANT_S,
};
pub(crate) use confirm::slots_for;
pub use confirm::{Confirmed, beside_words, confirm, confirm_in_slices};
pub use curve::{LoadCurve, duty_curve, duty_curve_in_slices, load_curve, load_curve_in_slices};
pub use doubts::{doubts, doubts_of_parts};
pub use figures::figures;
pub use heat::{Heat, RESISTANCE_RISE_PER_K, Side, output_stage};
pub use limits::{Limit, limits};
pub use loads::{
    DOUBTED_TIP_MACH, FREE_FALL_M_S2, Gear, Loads, Propeller, Pump, SOUND_IN_AIR_M_S, Vehicle,
    Winch,
};
pub use locked::Locked;
pub use meet::{MeetError, Met, duty_for};
pub use on_the_bench::bench_cautions;
pub use point::{Point, PredictError, Prediction, predict};
pub use reach::{HeldBy, Reach, Standstill};
pub use sheet::{BUILD_SHEET, example_build};
pub use six_step::{Regime, SixStepMachine, SixStepState, SixStepSupply};
pub use spread::{Influence, Range, Spread, Spreading, spread};
