//! Long work that can be left for a while and taken up again: for a browser, whose page stands still
//! as long as anything is computed.
//!
//! Such work is written once, as an `async` function that [`rest`]s now and then and asks for nothing
//! else. Who may take all the time there is does it [`through`]; who may not does it [`InSlices`], one
//! stretch between two rests at a time. What comes of it is the same to the bit.
//!
//! ```
//! use wyebench::slices::{InSlices, rest, through};
//!
//! async fn sum(n: u32) -> u32 {
//!     let mut sum = 0;
//!     for k in 1..=n {
//!         rest().await;
//!         sum += k;
//!     }
//!     sum
//! }
//!
//! assert_eq!(through(sum(4)), 10);
//! let mut slices = InSlices::new(sum(4));
//! let mut n_rests = 0;
//! let found = loop {
//!     match slices.advance() {
//!         Some(found) => break found,
//!         None => n_rests += 1,
//!     }
//! };
//! assert_eq!((found, n_rests), (10, 4));
//! ```

use std::fmt;
use std::future::Future;
use std::pin::{Pin, pin};
use std::task::{Context, Poll, Waker};

/// A place where work may be left for a while. Two of them should be no more than some milliseconds
/// apart.
#[must_use = "work is left where a rest is awaited"]
#[derive(Debug)]
pub struct Rest {
    rested: bool,
}

/// Leaves the work here for a while.
pub const fn rest() -> Rest {
    Rest { rested: false }
}

impl Future for Rest {
    type Output = ();

    fn poll(mut self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<()> {
        if std::mem::replace(&mut self.rested, true) {
            Poll::Ready(())
        } else {
            Poll::Pending
        }
    }
}

/// Does work that waits for nothing but its own rests, to its end.
pub fn through<T>(work: impl Future<Output = T>) -> T {
    let mut work = pin!(work);
    let mut context = Context::from_waker(Waker::noop());
    loop {
        if let Poll::Ready(done) = work.as_mut().poll(&mut context) {
            return done;
        }
    }
}

/// Work that waits for nothing but its own rests, done one slice at a time.
pub struct InSlices<T> {
    work: Option<Pin<Box<dyn Future<Output = T> + Send>>>,
}

impl<T> InSlices<T> {
    /// Nothing of it is done yet.
    pub fn new(work: impl Future<Output = T> + Send + 'static) -> Self {
        Self {
            work: Some(Box::pin(work)),
        }
    }

    /// Goes on to the next rest. What came of the work, once, at its end; `None` before and after.
    pub fn advance(&mut self) -> Option<T> {
        let work = self.work.as_mut()?;
        match work.as_mut().poll(&mut Context::from_waker(Waker::noop())) {
            Poll::Pending => None,
            Poll::Ready(done) => {
                self.work = None;
                Some(done)
            }
        }
    }

    /// Whether it has come to its end.
    #[must_use]
    pub const fn is_done(&self) -> bool {
        self.work.is_none()
    }
}

impl<T> fmt::Debug for InSlices<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("InSlices")
            .field("is_done", &self.is_done())
            .finish()
    }
}
