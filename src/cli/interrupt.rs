//! Ctrl-C: files in the making go, the program ends with status 1.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Mutex;

/// Temporary files that are not yet complete.
static GROWING: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

/// Takes care of Ctrl-C from here on. Where the system does not allow it, Ctrl-C ends the
/// program as it always did.
pub(crate) fn install() {
    let _ = ctrlc::set_handler(|| {
        if let Ok(growing) = GROWING.lock() {
            for path in growing.iter() {
                let _ = std::fs::remove_file(path);
            }
        }
        // behind a progress bar, or behind the ^C a terminal shows
        let _ = writeln!(
            std::io::stderr(),
            "\nwyebench: stopped before its end; no half file was left"
        );
        std::process::exit(1);
    });
}

/// A file that is to go on Ctrl-C, until this is dropped.
#[derive(Debug)]
pub(crate) struct Registered(PathBuf);

/// Registers a temporary file.
pub(crate) fn register(path: &Path) -> Registered {
    if let Ok(mut growing) = GROWING.lock() {
        growing.push(path.to_path_buf());
    }
    Registered(path.to_path_buf())
}

impl Drop for Registered {
    fn drop(&mut self) {
        if let Ok(mut growing) = GROWING.lock() {
            growing.retain(|path| *path != self.0);
        }
    }
}
