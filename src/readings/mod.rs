//! Readings from a real bench: what motor they tell of, and whether they can all be true.
//!
//! [`BenchSheet`] is what somebody noted, each value with how well it is known. [`judge`] fits one
//! motor to all of it by weighted least squares and weighs what may have gone wrong; [`figures`] are
//! the motor's figures with their ranges. [`capture`] reads waveforms that
//! an instrument saved.
//!
//! ```
//! use wyebench::readings::{BenchSheet, example_sheet, figures, judge};
//! let sheet = BenchSheet::parse(example_sheet(), "example").unwrap();
//! let verdict = judge(&sheet).unwrap();
//! assert!(figures(&sheet, &verdict).iter().any(|e| e.figure.key == "kv_rpm_per_v"));
//! ```
//!
//! A number may carry its expanded uncertainty, `"1.30 V ± 2 %"`: 95 of 100 readings lie within it,
//! and half of it is the standard uncertainty (coverage factor 2, JCGM 100:2008, 6.3.3). Without one
//! the class of its instrument gives a default ([`Instrument::accuracy`]).
//!
//! Deliberately absent: three slips at once, cogging, the temperature of the magnets.

pub mod capture;
mod causes;
mod estimate;
mod figures;
mod gather;
mod gradient;
mod instrument;
mod judge;
mod model;
mod motor;
mod next;
mod opinion;
mod reading;
mod relations;
mod sheet;
mod solve;
mod start;
mod variant;
mod words;

pub use causes::Cause;
pub use estimate::{COVERAGE, Estimate};
pub use figures::{LabelCheck, figures, label_checks};
pub use instrument::{Accuracy, Instrument, Measured};
pub use judge::{Check, NoMotor, PolePairCheck, Ranked, Suspect, Verdict, judge, judge_in_slices};
pub use model::{COPPER_ZERO_DEG_C, DRIVE_STANDARD, REFERENCE_DEG_C, WINDING_STANDARD};
pub use motor::{Unfinished, setup_text};
pub use next::NextStep;
pub use opinion::{Opinion, U_IN_WORDS, bench_cautions, delta_in_words, percent};
pub use reading::{Between, EmfKind, Gain, Of, Pair, Reading};
pub use sheet::{
    BenchSheet, Counted, Label, MOST_READINGS, READINGS_SHEET, Rows, Shape, example_sheet,
};
pub use solve::chi_square_exceeded;
