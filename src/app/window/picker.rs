//! The system's own dialog for files, where there is one, and files that are dropped in: polled
//! between frames.

use std::path::Path;
use std::sync::Arc;
use std::task::{Poll, Wake, Waker};

use egui::{Context, DroppedFileHandle};

use crate::app::outside::{self, Bringing, Brought, Purpose};

/// Sooner than this, in s, nobody closes a dialog that has just come up.
const SOONEST_S: f64 = 0.4;

/// A dialog that is open.
pub(super) struct Picker {
    /// What it is open for.
    pub(super) purpose: Purpose,
    /// When it was opened, in s of the window.
    opened_s: f64,
    future: Bringing,
}

impl std::fmt::Debug for Picker {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let mut debug = f.debug_struct("Picker");
        debug
            .field("purpose", &self.purpose)
            .finish_non_exhaustive()
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
        let (purpose, future) = match save_as {
            Some(name) => (Purpose::Save, outside::pick_name(folder, &name)),
            None => (Purpose::Open, outside::pick(folder)),
        };
        Self::of(purpose, future, ctx)
    }

    /// Takes up what was dropped in; `page`: onto a page that reads files.
    pub(super) fn dropped(file: &DroppedFileHandle, page: bool, ctx: &Context) -> Self {
        let purpose = if page { Purpose::Page } else { Purpose::Drop };
        Self::of(purpose, outside::dropped(file, purpose), ctx)
    }

    fn of(purpose: Purpose, future: Bringing, ctx: &Context) -> Self {
        Self {
            purpose,
            opened_s: ctx.input(|input| input.time),
            future,
        }
    }

    /// Opens the dialog in a folder, for a table of values that the page that is open reads.
    pub(super) fn of_table(folder: &Path, ctx: &Context) -> Self {
        Self::of(Purpose::Page, outside::pick_table(folder), ctx)
    }

    /// True where no person could have answered yet: there is no such dialog.
    pub(super) fn is_missing(&self, ctx: &Context) -> bool {
        ctx.input(|input| input.time) - self.opened_s < SOONEST_S
    }

    /// `None` while a person has not decided; else what was brought, or that nothing was: nothing
    /// was chosen, or the system has no such dialog.
    pub(super) fn poll(&mut self, ctx: &Context) -> Option<Option<Brought>> {
        let waker = Waker::from(Arc::new(Repaint(ctx.clone())));
        let mut task = std::task::Context::from_waker(&waker);
        match self.future.as_mut().poll(&mut task) {
            Poll::Ready(brought) => Some(brought),
            Poll::Pending => None,
        }
    }
}
