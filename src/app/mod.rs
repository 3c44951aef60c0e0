//! The window: the machine large on the left, bridge and waveforms on the right, figures below,
//! time at the bottom.
//!
//! Everything on the screen is read from the record at one instant, the cursor. The time control
//! moves the cursor; scrubbing never touches the simulation. No physics is here.
#![expect(
    clippy::disallowed_methods,
    reason = "the window rounds and turns as the platform does; nothing here feeds back into a run"
)]

mod address;
mod ahead;
mod beside;
mod by_hand;
mod candidates;
mod capturing;
mod checking;
mod choosing;
mod course;
mod drawer;
mod figures;
mod file_field;
mod form_page;
mod frame;
mod hand;
mod job;
mod keys;
mod live;
#[cfg(not(target_arch = "wasm32"))]
mod native;
mod outside;
mod parts;
mod picture;
mod plots_panel;
mod plots_showing;
mod plots_view;
mod prediction;
mod rail;
mod rewrite;
mod sheet_form;
mod shelf;
mod standing;
mod stride;
mod style;
mod time_control;
#[cfg(target_arch = "wasm32")]
mod web;
mod window;

pub use crate::scene::Shown;
pub use frame::Frame;
pub use keys::{Deed, KEYS, KeyLine};
pub use live::Live;
pub use standing::Standing;
pub use stride::Stride;
pub use time_control::TimeControl;
#[cfg(target_arch = "wasm32")]
pub use web::start;
pub use window::{App, Telling};

#[cfg(not(target_arch = "wasm32"))]
pub use native::{OpenError, open};
