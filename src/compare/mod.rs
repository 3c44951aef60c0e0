//! Many machines side by side: every combination of slots, poles, winding, wire and magnets that a
//! person lists, each computed from the dimensions of one base setup.
//!
//! ```text
//! base setup, axes ─► candidates in a fixed order ─► group by group ─► rows
//! ```
//!
//! A *group* shares slots, poles, magnet arc, layers and span, and so one solved field; its
//! candidates differ in connection, turns and wire. Groups know nothing of each other: whoever
//! calls may evaluate them in any order, on any thread or machine, and gets the same rows.
//!
//! **What follows the slots.** Opening and tooth keep their share of the slot pitch: both widths
//! are multiplied by base slots / slots. All radial dimensions, magnets and yokes stay as they
//! are, and the magnet arc stays a share of the pole pitch.
//!
//! Absent: files, threads and tables, which belong to the command line.

mod axes;
mod evaluate;
mod lists;
mod row;

pub use axes::{Axes, Candidate, MAX_CANDIDATES};
pub use evaluate::{CompareError, Comparison, take_run};
pub use lists::{ListError, lengths, shares, whole_numbers};
pub use row::{COLUMNS, Column, Row, canonical, four_digits, picture_columns};
