//! A progress bar for runs that take longer than a second, on a terminal only.

use std::io::IsTerminal;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// Parts the bar is divided into.
const PARTS: f64 = 1000.0;

/// How far a run is.
#[derive(Debug)]
pub(crate) struct Progress {
    begun: Instant,
    duration_s: f64,
    wanted: bool,
    bar: Option<ProgressBar>,
    n_calls: u32,
}

impl Progress {
    /// For a run of some length in s.
    pub(crate) fn new(duration_s: f64) -> Self {
        let wanted = std::io::stderr().is_terminal();
        Self {
            begun: Instant::now(),
            duration_s,
            wanted,
            bar: None,
            n_calls: 0,
        }
    }

    /// The run has come to `time_s`.
    pub(crate) fn at(&mut self, time_s: f64) {
        // The clock costs more than a piece of the run; it is asked now and then.
        self.n_calls = self.n_calls.wrapping_add(1);
        if !self.wanted || !self.n_calls.is_multiple_of(1024) {
            return;
        }
        if self.bar.is_none() && self.begun.elapsed() > Duration::from_secs(1) {
            let target = ProgressDrawTarget::stderr_with_hz(10);
            let bar = ProgressBar::with_draw_target(Some(1000), target);
            if let Ok(style) =
                ProgressStyle::with_template("running [{bar:40}] {percent} %, {eta} left")
            {
                bar.set_style(style.progress_chars("=> "));
            }
            self.bar = Some(bar);
        }
        if let Some(bar) = &self.bar {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "0 to 1000"
            )]
            bar.set_position((PARTS * (time_s / self.duration_s).clamp(0.0, 1.0)) as u64);
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}
