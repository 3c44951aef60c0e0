//! Work that would hold a frame: on a thread of its own, and in a browser, which has none, in slices
//! between frames.

#[cfg(not(target_arch = "wasm32"))]
use std::sync::Arc;
#[cfg(not(target_arch = "wasm32"))]
use std::sync::mpsc::{Receiver, TryRecvError, channel};

use egui::Context;

#[cfg(target_arch = "wasm32")]
use super::outside;
use crate::slices::InSlices;

/// Work that is under way. Dropped, it is given up at its next rest.
#[derive(Debug)]
pub(super) struct Job<T> {
    #[cfg(not(target_arch = "wasm32"))]
    answer: Receiver<T>,
    /// Gone with the job, and seen by the thread.
    #[cfg(not(target_arch = "wasm32"))]
    _wanted: Arc<()>,
    #[cfg(target_arch = "wasm32")]
    slices: InSlices<T>,
    #[cfg(target_arch = "wasm32")]
    ctx: Context,
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

#[cfg(not(target_arch = "wasm32"))]
impl<T: Send + 'static> Job<T> {
    /// Begins; a frame is asked for when it is done.
    pub(super) fn begin(ctx: &Context, work: impl Future<Output = T> + Send + 'static) -> Self {
        let (sender, answer) = channel();
        let wanted = Arc::new(());
        let still_wanted = Arc::downgrade(&wanted);
        let ctx = ctx.clone();
        std::thread::spawn(move || {
            let mut slices = InSlices::new(work);
            while still_wanted.strong_count() > 0 {
                if let Some(done) = slices.advance() {
                    // a page that was left no longer listens
                    let _ = sender.send(done);
                    ctx.request_repaint();
                    return;
                }
            }
        });
        Self {
            answer,
            _wanted: wanted,
        }
    }

    /// Looks whether it is done.
    pub(super) fn poll(&mut self) -> Progress<T> {
        match self.answer.try_recv() {
            Ok(answer) => Progress::Done(answer),
            Err(TryRecvError::Empty) => Progress::UnderWay,
            Err(TryRecvError::Disconnected) => Progress::Lost,
        }
    }
}

#[cfg(target_arch = "wasm32")]
impl<T: Send + 'static> Job<T> {
    /// Begins; frames are asked for until it is done.
    pub(super) fn begin(ctx: &Context, work: impl Future<Output = T> + Send + 'static) -> Self {
        ctx.request_repaint();
        Self {
            slices: InSlices::new(work),
            ctx: ctx.clone(),
        }
    }

    /// Goes on as far as a frame bears, and looks whether it is done.
    pub(super) fn poll(&mut self) -> Progress<T> {
        let last_s = self.ctx.input(|input| f64::from(input.unstable_dt));
        let mut done = None;
        outside::within_long_frame(last_s, |_| {
            done = self.slices.advance();
            !self.slices.is_done()
        });
        match done {
            Some(done) => Progress::Done(done),
            None if self.slices.is_done() => Progress::Lost,
            None => {
                self.ctx.request_repaint();
                Progress::UnderWay
            }
        }
    }
}
