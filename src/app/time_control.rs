//! How fast the motor is shown, and where the cursor stands.

use super::Stride;
use crate::record::Tape;

/// Seconds of the motor for each second of the show at the slowest.
pub(super) const SLOWEST: f64 = 1e-6;

/// Run, pause, pace and cursor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimeControl {
    /// True while the show runs.
    pub running: bool,
    /// The instant that is shown, in s of the run.
    pub cursor_s: f64,
    /// How far a step goes.
    pub stride: Stride,
    pace: f64,
    /// Of what the show should have gone on of late, the share that the run kept up with.
    kept_up: f64,
}

/// Seconds of the show over which it is told whether the run keeps up.
const KEPT_UP_SHOW_S: f64 = 1.0;
/// Below this share it is said.
const NOT_KEPT_UP: f64 = 0.95;

impl Default for TimeControl {
    /// Paused at the start, two hundred times slower than life: an electrical turn of a small
    /// motor takes about a third of a second.
    fn default() -> Self {
        Self {
            running: false,
            cursor_s: 0.0,
            stride: Stride::default(),
            pace: 5e-3,
            kept_up: 1.0,
        }
    }
}

impl TimeControl {
    /// Seconds of the motor for each second of the show: a millionth to 1, which is life.
    #[must_use]
    pub const fn pace(&self) -> f64 {
        self.pace
    }

    /// Sets the pace; what lies outside the range becomes its end.
    pub fn set_pace(&mut self, pace: f64) {
        if pace.is_finite() {
            // Near one of the round paces it is that.
            let round = round_below(pace * 1.015);
            let pace = if (round / pace - 1.0).abs() < 0.015 {
                round
            } else {
                pace
            };
            self.pace = pace.clamp(SLOWEST, 1.0);
            self.kept_up = 1.0;
        }
    }

    /// The pace in words: what a second of the show is of the motor.
    #[must_use]
    pub fn pace_words(&self) -> String {
        let words = format!("1 s here = {} there", time_words(self.pace));
        if self.running && self.kept_up < NOT_KEPT_UP {
            let kept_up = time_words(self.pace * self.kept_up);
            return format!("{words}; this computer manages {kept_up}");
        }
        words
    }

    /// Shows the motor slower: the next of 1, 2, 5, 10 … below. False where it is the slowest.
    pub fn slower(&mut self) -> bool {
        let can = self.can_slow();
        if can {
            self.pace = round_below(self.pace * 0.999).max(SLOWEST);
            self.kept_up = 1.0;
        }
        can
    }

    /// Shows the motor faster. False where it is the fastest already.
    pub fn faster(&mut self) -> bool {
        let can = self.can_hurry();
        if can {
            // The rounds are their own mirror images: 1/5, 1/2, 1.
            self.pace = (1.0 / round_below(0.999 / self.pace)).min(1.0);
            self.kept_up = 1.0;
        }
        can
    }

    /// True while a slower pace is left.
    #[must_use]
    pub fn can_slow(&self) -> bool {
        self.pace > SLOWEST * 1.001
    }

    /// True while a faster pace is left.
    #[must_use]
    pub fn can_hurry(&self) -> bool {
        self.pace < 0.999
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
    pub fn advance(&mut self, wall_s: f64, record: &Tape, more_to_come: bool) {
        let Some([from_s, to_s]) = record.range_s() else {
            return;
        };
        let (before_s, wanted_s) = (self.cursor_s, self.ahead_s(wall_s));
        self.cursor_s = wanted_s.clamp(from_s, to_s);
        let share = (self.cursor_s - before_s) / (wanted_s - before_s);
        if more_to_come && share.is_finite() {
            let new = (wall_s / KEPT_UP_SHOW_S).clamp(0.0, 1.0);
            self.kept_up += (share.clamp(0.0, 1.0) - self.kept_up) * new;
        }
        if wanted_s > to_s && !more_to_come {
            self.running = false;
        }
    }

    /// Moves the cursor by one stride through what is on record. False where that leads off it;
    /// the cursor then stays.
    pub fn step(&mut self, record: &Tape, later: bool) -> bool {
        let target_s = self.stride.target_s(record, self.cursor_s, later);
        if let Some(target_s) = target_s {
            self.cursor_s = target_s;
        }
        target_s.is_some()
    }
}

/// A time with up to three digits, and its unit.
fn time_words(time_s: f64) -> String {
    let (per_s, unit) = if time_s < 0.999_5e-3 {
        (1e6, "µs")
    } else if time_s < 0.999_5 {
        (1e3, "ms")
    } else {
        (1.0, "s")
    };
    let value = format!("{:.2}", time_s * per_s);
    let value = match value.split_once('.') {
        Some((whole, _)) if whole.len() > 2 => whole,
        _ => value.trim_end_matches('0').trim_end_matches('.'),
    };
    format!("{value} {unit}")
}

/// The greatest of 1, 2, 5, 10 … at or below a value above 0.
fn round_below(value: f64) -> f64 {
    let decade = 10.0_f64.powf(value.log10().floor());
    [5.0, 2.0, 1.0]
        .into_iter()
        .map(|step| step * decade)
        .find(|round| *round <= value * (1.0 + 1e-9))
        .unwrap_or(decade)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Sample;
    use crate::record::{Event, EventKind};
    use crate::setup::Connection;

    #[test]
    fn the_pace_says_what_it_does() {
        let mut time = TimeControl::default();
        assert_eq!(time.pace_words(), "1 s here = 5 ms there");
        assert!(time.slower());
        assert_eq!(time.pace_words(), "1 s here = 2 ms there");
        time.set_pace(40e-6);
        assert_eq!(time.pace_words(), "1 s here = 40 µs there");
        time.set_pace(0.037_2);
        assert_eq!(time.pace_words(), "1 s here = 37.2 ms there");
        let mut n_faster = 0;
        while time.faster() {
            n_faster += 1;
        }
        assert_eq!(n_faster, 5, "50, 100, 200, 500 ms and life");
        assert_eq!(time.pace_words(), "1 s here = 1 s there");
        let mut n_slower = 0;
        while time.slower() {
            n_slower += 1;
        }
        assert_eq!(n_slower, 18, "three to each of six decades");
        assert_eq!(time.pace_words(), "1 s here = 1 µs there");
    }

    fn tape_of(last_s: f64) -> Tape {
        let mut tape = Tape::new(10, Connection::Star);
        for time_s in [0.0, last_s / 2.0, last_s] {
            tape.push(&Sample {
                time_s,
                ..crate::app::live::tests_support::at_rest()
            });
        }
        tape.push_event(Event {
            time_s: last_s,
            kind: EventKind::StepChange,
            step: 2,
            legs: [crate::drive::LegState::Floating; 3],
        });
        tape
    }

    #[test]
    fn the_show_pauses_only_where_nothing_more_will_come() {
        let record = tape_of(0.002);
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
        let record = tape_of(0.002);
        let mut time = TimeControl::default();
        assert!(time.step(&record, true));
        assert!((time.cursor_s - 0.002).abs() < 1e-15);
        assert!(!time.step(&record, true), "no change after the last");
        assert!((time.cursor_s - 0.002).abs() < 1e-15);
    }
}
