//! How fast the motor is shown, and where the cursor stands.

use super::RecordRing;

/// Seconds of the motor for each second of the show, from slowest to fastest.
const PACES: [f64; 16] = [
    1e-5, 2e-5, 5e-5, 1e-4, 2e-4, 5e-4, 1e-3, 2e-3, 5e-3, 1e-2, 2e-2, 5e-2, 0.1, 0.2, 0.5, 1.0,
];

/// Run, pause, pace and cursor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimeControl {
    /// True while the show runs.
    pub running: bool,
    /// The instant that is shown, in s of the run.
    pub cursor_s: f64,
    pace_idx: usize,
}

impl Default for TimeControl {
    /// Paused at the start, two hundred times slower than life: an electrical turn of a small
    /// motor takes about a third of a second.
    fn default() -> Self {
        Self {
            running: false,
            cursor_s: 0.0,
            pace_idx: 8,
        }
    }
}

impl TimeControl {
    /// Seconds of the motor for each second of the show.
    #[must_use]
    pub const fn pace(&self) -> f64 {
        PACES[self.pace_idx]
    }

    /// The pace in words: what a millisecond of the motor takes.
    #[must_use]
    pub fn pace_words(&self) -> String {
        let ms = 1e-3 / self.pace();
        if self.pace_idx + 1 == PACES.len() {
            "as fast as life".to_owned()
        } else if ms >= 1.0 {
            format!("1 ms of the motor takes {} s", round(ms))
        } else {
            format!("{} ms of the motor take 1 s", round(1e3 * self.pace()))
        }
    }

    /// Shows the motor slower; false where it is the slowest already.
    pub const fn slower(&mut self) -> bool {
        let can = self.can_slow();
        self.pace_idx -= can as usize;
        can
    }

    /// Shows the motor faster; false where it is the fastest already.
    pub const fn faster(&mut self) -> bool {
        let can = self.can_hurry();
        self.pace_idx += can as usize;
        can
    }

    /// True while a slower pace is left.
    #[must_use]
    pub const fn can_slow(&self) -> bool {
        self.pace_idx > 0
    }

    /// True while a faster pace is left.
    #[must_use]
    pub const fn can_hurry(&self) -> bool {
        self.pace_idx + 1 < PACES.len()
    }

    /// Where the cursor would stand after `wall_s` of the show.
    #[must_use]
    pub fn ahead_s(&self, wall_s: f64) -> f64 {
        self.cursor_s
            + if self.running {
                wall_s * self.pace()
            } else {
                0.0
            }
    }

    /// Moves the cursor by what `wall_s` of the show are worth, within what is on record. With
    /// nothing more to come, the show pauses at the end.
    pub fn advance(&mut self, wall_s: f64, record: &RecordRing, more_to_come: bool) {
        let Some([from_s, to_s]) = record.range_s() else {
            return;
        };
        let wanted_s = self.ahead_s(wall_s);
        self.cursor_s = wanted_s.clamp(from_s, to_s);
        if wanted_s > to_s && !more_to_come {
            self.running = false;
        }
    }

    /// Moves the cursor to the next step change, or the one before. Stays where there is none.
    pub fn step(&mut self, record: &RecordRing, later: bool) {
        if let Some(change_s) = record.step_change(self.cursor_s, later) {
            self.cursor_s = change_s;
        }
    }
}

/// Up to three significant digits of one of the paces' round numbers.
fn round(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_pace_says_what_it_does() {
        let mut time = TimeControl::default();
        assert_eq!(time.pace_words(), "5 ms of the motor take 1 s");
        assert!(time.slower() && time.slower());
        assert_eq!(time.pace_words(), "1 ms of the motor takes 1 s");
        assert!(time.slower());
        assert_eq!(time.pace_words(), "1 ms of the motor takes 2 s");
        while time.faster() {}
        assert_eq!(time.pace_words(), "as fast as life");
        time.slower();
        assert_eq!(time.pace_words(), "500 ms of the motor take 1 s");
    }

    fn record_of(last_s: f64) -> RecordRing {
        let mut record = RecordRing::new(10);
        for (time_s, step) in [(0.0, 1), (last_s / 2.0, 1), (last_s, 2)] {
            record.push(crate::app::record_ring::tests_support::sample(time_s, step));
        }
        record
    }

    #[test]
    fn the_show_pauses_only_where_nothing_more_will_come() {
        let record = record_of(0.002);
        let mut time = TimeControl {
            running: true,
            ..TimeControl::default()
        };
        time.advance(0.1, &record, false);
        assert!(time.running && (time.cursor_s - 0.0005).abs() < 1e-15);
        time.advance(10.0, &record, true);
        assert!(time.running && (time.cursor_s - 0.002).abs() < 1e-15);
        time.advance(10.0, &record, false);
        assert!(!time.running);
    }

    #[test]
    fn a_step_goes_to_the_change_and_no_farther() {
        let record = record_of(0.002);
        let mut time = TimeControl::default();
        time.step(&record, true);
        assert!((time.cursor_s - 0.002).abs() < 1e-15);
        time.step(&record, true);
        assert!(
            (time.cursor_s - 0.002).abs() < 1e-15,
            "no change after the last"
        );
    }
}
