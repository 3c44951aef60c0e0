//! The terminal: files in, words out.

mod read;

pub use read::{ReadError, read_setup_file};
