//! What the window needs of the world outside it, once for a desktop and once for a browser.
//!
//! Both sides offer the same functions, so that no panel asks where it runs: setup files and what
//! is remembered (real files here, the browser's storage there), dialogs and drops, the name of
//! the window, the whole screen, and the address of the page. What the two sides cannot both do
//! is told by [`FILES`].

#[cfg(not(target_arch = "wasm32"))]
mod native;
#[cfg(target_arch = "wasm32")]
mod web;

use std::path::PathBuf;

#[cfg(not(target_arch = "wasm32"))]
pub(super) use native::*;
#[cfg(target_arch = "wasm32")]
pub(super) use web::*;

/// What a browser's frame has for work that can wait, in s: half of a frame at 60 a second, and
/// half of it too where drawing is slow, but never so much that a key is felt to lag.
const FRAME_S: [f64; 2] = [8e-3, 40e-3];

/// Does work piece by piece until it says that nothing is left, or a browser's frame has no time
/// for more; there the work is told how many pieces to take between two looks at the clock. True
/// while something is left.
pub(super) fn within_frame(work: impl FnMut(u32) -> bool) -> bool {
    within(FRAME_S[0], work)
}

/// The same for work that is waited for: the longer the last frame took, in s, the more of it.
pub(super) fn within_long_frame(last_s: f64, work: impl FnMut(u32) -> bool) -> bool {
    within((0.5 * last_s).clamp(FRAME_S[0], FRAME_S[1]), work)
}

fn within(most_s: f64, mut work: impl FnMut(u32) -> bool) -> bool {
    let began_s = clock_s();
    loop {
        if !work(PIECES_PER_LOOK) {
            return false;
        }
        if clock_s() - began_s > most_s {
            return true;
        }
    }
}

/// What a dialog or a drop brings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Brought {
    /// A place in the file system.
    Path(PathBuf),
    /// A file's name and all of it, from where no path leads.
    #[cfg_attr(
        not(target_arch = "wasm32"),
        expect(dead_code, reason = "on a desktop every file has a path")
    )]
    Bytes(String, Vec<u8>),
    /// A file that could not be read, and why.
    #[cfg_attr(
        not(target_arch = "wasm32"),
        expect(dead_code, reason = "on a desktop a path is read later")
    )]
    Unread(String, String),
}

/// Why a dialog is open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Purpose {
    /// To choose a setup.
    Open,
    /// To choose a name to save under.
    Save,
    /// None is open: a file was dropped in.
    Drop,
    /// To choose a table for the page that is open, or one was dropped onto it.
    Page,
}
