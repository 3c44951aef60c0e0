//! Backwards from what is wanted: which of some parts would do, and why the others would not.
//!
//! A [`Goal`] says what the load has to do, [`Parts`] what lies in the drawers. A [`Choice`] puts
//! every motor, pack, controller, gear and propeller together; [`Choice::evaluate`] finds the duty
//! that just meets the goal, counts MOSFETs up until their junctions stay cool enough, and gives a
//! [`Row`]: an [`Answer`], or what is [`Miss`]ed. [`Summary`] ranks the answers and groups the
//! misses. [`needs`] says what the goal asks of any motor, before parts are looked at.
//!
//! ```
//! use wyebench::choose::{Choice, Goal, Parts, Rank, Summary, example_goal, example_parts};
//! let goal = Goal::parse(example_goal(), "goal").unwrap();
//! let parts = Parts::parse(example_parts(), "parts").unwrap();
//! let choice = Choice::new(goal, parts).unwrap();
//! let rows = (0..100).map(|idx| choice.evaluate(idx)).collect();
//! let summary = Summary::new(&choice, rows, Rank::Power);
//! assert_eq!(summary.n_rows(), 100);
//! ```
//!
//! Everything is the closed forms of [`predict`](mod@crate::predict): absent are whether parts fit each
//! other mechanically, and how they age. Price and mass break ties and decide nothing else.

mod best;
mod goal;
mod miss;
mod needs;
mod parts;
mod search;
mod summary;
mod totals;

pub use best::{AnswerWords, LABELS};
pub use goal::{GOAL_SHEET, Goal, Target, example_goal};
pub use miss::{Miss, MissKind};
pub use needs::{Need, needs};
pub use parts::{Axis, Part, Parts, example_parts};
pub use search::{Answer, Choice, ChooseError, MOST_COMBINATIONS, Row};
pub use summary::{MissTally, PartTally, Rank, Summary};
pub use totals::Totals;
