//! Wyebench: a bench for brushless motors that is made of software.
//!
//! Put a motor, a drive, a supply and a load on it, watch the six steps, read every figure.
//! Data flows one way, room by room, and a room imports only rooms before it:
//!
//! ```text
//! winding ─► setup ─► machine ─┐
//!                     drive  ──┴─► sim ─► record ─► analysis ─► export, cli
//!                                              ├─► scene ─► view ─► app
//!                                              └─► lesson
//! ```
//!
//! The core (everything but `export`, `cli`, `view` and `app`) knows no screen, no file, no clock and no
//! thread, and compiles for `wasm32-unknown-unknown`.

pub mod analysis;
#[cfg(feature = "window")]
pub mod app;
pub mod choose;
#[cfg(not(target_arch = "wasm32"))]
pub mod cli;
pub mod compare;
pub mod drive;
#[cfg(not(target_arch = "wasm32"))]
pub mod export;
pub mod lesson;
pub mod machine;
pub mod predict;
pub mod readings;
pub mod record;
pub mod scene;
pub mod setup;
pub mod sim;
pub mod slices;
#[cfg(feature = "window")]
pub mod view;
pub mod winding;
