//! A value that is worked on while nobody looks at it: what the next frame will ask of the run is
//! made on a thread of its own while this frame is put together, drawn and waited for.
//!
//! ```text
//! frame's thread   │ panels, at last work() │ outlines, device, display … │ panels: look │
//! thread beside it                          └── the run goes on ──┘ (back at the first look)
//! ```
//!
//! Whoever looks too early waits. A browser gives the page no threads: there the work is left to
//! whoever asks for its result, as before.

use std::ops::{Deref, DerefMut};

#[cfg(not(target_arch = "wasm32"))]
use std::{
    cell::{Cell, OnceCell},
    sync::mpsc::{Receiver, Sender, channel},
};

/// What is to be done with the value.
#[cfg(not(target_arch = "wasm32"))]
type Work<T> = Box<dyn FnOnce(&mut T) + Send>;

/// The way to the thread beside, and the way back.
#[cfg(not(target_arch = "wasm32"))]
type Ways<T> = (Sender<(Box<T>, Work<T>)>, Receiver<Box<T>>);

/// A value here, or on its way.
#[cfg(not(target_arch = "wasm32"))]
pub(super) struct Ahead<T> {
    here: OnceCell<Box<T>>,
    /// True while the value is away.
    away: Cell<bool>,
    /// There and back; `None` where the system gives no thread.
    thread: Option<Ways<T>>,
}

#[cfg(not(target_arch = "wasm32"))]
impl<T: Send + 'static> Ahead<T> {
    /// Takes the value.
    pub(super) fn new(value: T) -> Self {
        let (to, come) = channel::<(Box<T>, Work<T>)>();
        let (give, back) = channel();
        let run = move || {
            while let Ok((mut value, work)) = come.recv() {
                work(&mut value);
                if give.send(value).is_err() {
                    break;
                }
            }
        };
        let thread = std::thread::Builder::new()
            .name("run".to_owned())
            .spawn(run)
            .ok()
            .map(|_| (to, back));
        Self {
            here: OnceCell::from(Box::new(value)),
            away: Cell::new(false),
            thread,
        }
    }

    /// Lets the value be worked on until somebody looks at it.
    pub(super) fn work(&mut self, work: impl FnOnce(&mut T) + Send + 'static) {
        self.fetch();
        let Some((to, _)) = &self.thread else { return };
        let Some(value) = self.here.take() else {
            return;
        };
        match to.send((value, Box::new(work))) {
            Ok(()) => self.away.set(true),
            Err(refused) => {
                // nobody there to take it: it stays as it is
                self.here = OnceCell::from(refused.0.0);
                self.thread = None;
            }
        }
    }
}

#[cfg(not(target_arch = "wasm32"))]
impl<T> Ahead<T> {
    /// Waits until the value is here.
    fn fetch(&self) {
        if !self.away.replace(false) {
            return;
        }
        let back = self.thread.as_ref().and_then(|(_, back)| back.recv().ok());
        // The thread ends before it gives a value back only by a panic, which has been told.
        let value = back.expect("the thread of the run has come to an end in the middle of it");
        let here = self.here.set(value);
        debug_assert!(here.is_ok(), "a value that was away is not here as well");
    }
}

#[cfg(not(target_arch = "wasm32"))]
impl<T> Deref for Ahead<T> {
    type Target = T;

    fn deref(&self) -> &T {
        self.fetch();
        self.here.get().expect("a value is away or here")
    }
}

#[cfg(not(target_arch = "wasm32"))]
impl<T> DerefMut for Ahead<T> {
    fn deref_mut(&mut self) -> &mut T {
        self.fetch();
        self.here.get_mut().expect("a value is away or here")
    }
}

/// A value that is always here.
#[cfg(target_arch = "wasm32")]
pub(super) struct Ahead<T>(Box<T>);

#[cfg(target_arch = "wasm32")]
impl<T> Ahead<T> {
    /// Takes the value.
    pub(super) fn new(value: T) -> Self {
        Self(Box::new(value))
    }

    /// Leaves the work to whoever asks for its result.
    pub(super) fn work(&mut self, _work: impl FnOnce(&mut T)) {}
}

#[cfg(target_arch = "wasm32")]
impl<T> Deref for Ahead<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.0
    }
}

#[cfg(target_arch = "wasm32")]
impl<T> DerefMut for Ahead<T> {
    fn deref_mut(&mut self) -> &mut T {
        &mut self.0
    }
}

impl<T> std::fmt::Debug for Ahead<T> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Ahead").finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whoever_looks_finds_the_work_done() {
        let mut ahead = Ahead::new(vec![1]);
        for k in 2..50 {
            ahead.work(move |values| values.push(k));
            if k % 3 == 0 {
                assert_eq!(ahead.last(), Some(&k));
            }
        }
        ahead.push(50);
        assert_eq!(*ahead, (1..=50).collect::<Vec<_>>());
    }

    #[test]
    fn a_value_that_is_away_may_be_dropped() {
        let mut ahead = Ahead::new(0);
        ahead.work(|value| *value += 1);
        drop(ahead);
    }
}
