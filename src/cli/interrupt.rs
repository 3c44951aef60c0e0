//! Ctrl-C: files in the making go, the program ends with status 1.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

/// Temporary files that are not yet complete.
static GROWING: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

/// Held while files take their names: Ctrl-C waits for that.
static BUSY: Mutex<()> = Mutex::new(());

/// Someone keeps what is done when Ctrl-C comes.
static GENTLE: AtomicBool = AtomicBool::new(false);

/// Ctrl-C came while someone was to stop gently.
static STOPPED: AtomicBool = AtomicBool::new(false);

/// While this lives, the first Ctrl-C is a wish that [`stopped`](Self::stopped) tells; a second
/// one ends the program as ever.
#[derive(Debug)]
pub(crate) struct Gentle(());

/// Asks for Ctrl-C to be a wish.
pub(crate) fn gently() -> Gentle {
    STOPPED.store(false, Ordering::SeqCst);
    GENTLE.store(true, Ordering::SeqCst);
    Gentle(())
}

impl Gentle {
    /// Whether Ctrl-C came.
    #[expect(clippy::unused_self, reason = "only who asked for it may know")]
    pub(crate) fn stopped(&self) -> bool {
        STOPPED.load(Ordering::SeqCst)
    }
}

impl Drop for Gentle {
    fn drop(&mut self) {
        GENTLE.store(false, Ordering::SeqCst);
    }
}

/// Takes care of Ctrl-C from here on. Where the system does not allow it, Ctrl-C ends the
/// program as it always did.
pub(crate) fn install() {
    let _ = ctrlc::set_handler(|| {
        if GENTLE.load(Ordering::SeqCst) && !STOPPED.swap(true, Ordering::SeqCst) {
            return;
        }
        let _through = BUSY.lock();
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

/// Does something short that Ctrl-C must not cut in two.
pub(crate) fn undisturbed<T>(deed: impl FnOnce() -> T) -> T {
    let _busy = BUSY.lock();
    deed()
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
