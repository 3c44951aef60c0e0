//! Work that would hold a frame: on a thread of its own, and in a browser, which has none, at once.

use std::sync::mpsc::{Receiver, TryRecvError, channel};

use egui::Context;

/// Work that is under way.
#[derive(Debug)]
pub(super) struct Job<T> {
    answer: Receiver<T>,
}

/// How far it is.
#[derive(Debug)]
pub(super) enum Progress<T> {
    /// It goes on.
    UnderWay,
    /// It came to its end.
    Done(T),
    /// It never will: what did it is gone.
    Lost,
}

impl<T: Send + 'static> Job<T> {
    /// Whether it is done when it has begun.
    pub(super) const AT_ONCE: bool = cfg!(target_arch = "wasm32");

    /// Begins; a frame is asked for when it is done.
    pub(super) fn begin(ctx: &Context, work: impl FnOnce() -> T + Send + 'static) -> Self {
        let (sender, answer) = channel();
        let ctx = ctx.clone();
        let run = move || {
            // a page that was left no longer listens
            let _ = sender.send(work());
            ctx.request_repaint();
        };
        #[cfg(not(target_arch = "wasm32"))]
        std::thread::spawn(run);
        #[cfg(target_arch = "wasm32")]
        run();
        Self { answer }
    }

    /// Looks whether it is done.
    pub(super) fn poll(&self) -> Progress<T> {
        match self.answer.try_recv() {
            Ok(answer) => Progress::Done(answer),
            Err(TryRecvError::Empty) => Progress::UnderWay,
            Err(TryRecvError::Disconnected) => Progress::Lost,
        }
    }
}
