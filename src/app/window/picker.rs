//! The system's own dialog for files, where there is one, polled between frames.

use std::future::Future;
use std::path::{Path, PathBuf};
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Poll, Wake, Waker};

use egui::Context;

/// Sooner than this, in s, nobody closes a dialog that has just come up.
const SOONEST_S: f64 = 0.4;

type Picked = Option<rfd::FileHandle>;

/// A dialog that is open.
pub(super) struct Picker {
    /// True where it asks for a name to save under.
    pub(super) saving: bool,
    /// True where it asks for a file of the page that is open.
    pub(super) for_page: bool,
    /// When it was opened, in s of the window.
    opened_s: f64,
    future: Pin<Box<dyn Future<Output = Picked>>>,
}

impl std::fmt::Debug for Picker {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let mut debug = f.debug_struct("Picker");
        debug.field("saving", &self.saving).finish_non_exhaustive()
    }
}

/// Asks for a frame when the dialog has an answer.
struct Repaint(Context);

impl Wake for Repaint {
    fn wake(self: Arc<Self>) {
        self.0.request_repaint();
    }
}

impl Picker {
    /// Opens the dialog in a folder, with a name to save under or without.
    pub(super) fn new(folder: &Path, save_as: Option<String>, ctx: &Context) -> Self {
        let dialog = rfd::AsyncFileDialog::new()
            .set_title("Setup")
            .set_directory(folder)
            .add_filter("Setups", &["toml"]);
        let saving = save_as.is_some();
        let future: Pin<Box<dyn Future<Output = Picked>>> = match save_as {
            Some(name) => Box::pin(dialog.set_file_name(name).save_file()),
            None => Box::pin(dialog.pick_file()),
        };
        Self {
            saving,
            for_page: false,
            opened_s: ctx.input(|input| input.time),
            future,
        }
    }

    /// Opens the dialog in a folder, for a table of values.
    pub(super) fn of_table(folder: &Path, ctx: &Context) -> Self {
        let dialog = rfd::AsyncFileDialog::new()
            .set_title("Table")
            .set_directory(folder)
            .add_filter("Comma-separated values", &["csv", "txt", "tsv"]);
        Self {
            saving: false,
            for_page: true,
            opened_s: ctx.input(|input| input.time),
            future: Box::pin(dialog.pick_file()),
        }
    }

    /// True where no person could have answered yet: there is no such dialog.
    pub(super) fn is_missing(&self, ctx: &Context) -> bool {
        ctx.input(|input| input.time) - self.opened_s < SOONEST_S
    }

    /// `None` while a person has not decided; else the path, or that there is none: nothing was
    /// chosen, or the system has no such dialog.
    pub(super) fn poll(&mut self, ctx: &Context) -> Option<Option<PathBuf>> {
        let waker = Waker::from(Arc::new(Repaint(ctx.clone())));
        let mut task = std::task::Context::from_waker(&waker);
        match self.future.as_mut().poll(&mut task) {
            Poll::Ready(picked) => Some(picked.map(|file| file.path().to_path_buf())),
            Poll::Pending => None,
        }
    }
}
