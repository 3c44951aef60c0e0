//! The clocks of the drive: PWM and the forced drive. Both are functions of time alone, so
//! their edges are computed, never accumulated.

use crate::setup::{ForcedSetup, PwmSetup};

/// Edge-aligned PWM that runs freely.
///
/// On from the start of a period for duty · period. A change of duty or frequency takes effect
/// at the next period; a step change does not restart it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PwmClock {
    origin_s: f64,
    periods: f64,
    frequency_hz: f64,
    duty: f64,
    on: bool,
    next_edge_s: f64,
}

impl PwmClock {
    /// A clock whose first period begins at `origin_s` with its on part.
    #[must_use]
    pub fn new(setup: PwmSetup, origin_s: f64) -> Self {
        let mut clock = Self {
            origin_s,
            periods: 0.0,
            frequency_hz: setup.frequency_hz,
            duty: setup.duty,
            on: setup.duty > 0.0,
            next_edge_s: 0.0,
        };
        clock.next_edge_s = clock.edge_s();
        clock
    }

    /// Whether the period is in its on part.
    #[must_use]
    pub const fn on(&self) -> bool {
        self.on
    }

    /// Time of the next edge, or of the next period where duty is 0 or 1, in s.
    #[must_use]
    pub const fn next_edge_s(&self) -> f64 {
        self.next_edge_s
    }

    fn edge_s(&self) -> f64 {
        if self.on && self.duty < 1.0 {
            self.origin_s + (self.periods + self.duty) / self.frequency_hz
        } else {
            self.origin_s + (self.periods + 1.0) / self.frequency_hz
        }
    }

    /// Passes the edge that [`next_edge_s`](Self::next_edge_s) announced. `setup` is what the
    /// bench says now: it takes effect where a new period begins.
    pub fn pass_edge(&mut self, setup: PwmSetup) {
        if self.on && self.duty < 1.0 {
            self.on = false;
            self.next_edge_s = self.edge_s();
            return;
        }
        if setup.frequency_hz.to_bits() == self.frequency_hz.to_bits() {
            self.periods += 1.0;
        } else {
            self.origin_s += (self.periods + 1.0) / self.frequency_hz;
            self.periods = 0.0;
            self.frequency_hz = setup.frequency_hz;
        }
        self.duty = setup.duty;
        self.on = self.duty > 0.0;
        self.next_edge_s = self.edge_s();
    }
}

/// The forced drive: a commanded electrical angle that is the integral of the commanded
/// frequency (hold, linear ramp, constant), in turns.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ForcedClock {
    /// Time at which the commanded angle starts to move.
    origin_s: f64,
    /// Commanded turns at `origin_s`.
    origin_turns: f64,
    start_frequency_hz: f64,
    ramp_s: f64,
    frequency_hz: f64,
    /// Step changes that have happened.
    n_changes: i64,
    /// When it began to hold its first step, and which that is, 1 to 6.
    began_s: f64,
    start_step: u8,
    /// The ramp as it was last asked for.
    asked_ramp_s: f64,
}

impl ForcedClock {
    /// A clock that begins to hold its first step at `time_s`.
    #[must_use]
    pub fn new(setup: &ForcedSetup, time_s: f64) -> Self {
        Self {
            origin_s: time_s + setup.align_s,
            origin_turns: 0.0,
            start_frequency_hz: setup.start_frequency_hz,
            ramp_s: setup.ramp_s,
            frequency_hz: setup.frequency_hz,
            n_changes: 0,
            began_s: time_s,
            start_step: setup.start_step,
            asked_ramp_s: setup.ramp_s,
        }
    }

    /// The step that it began with, 1 to 6.
    #[must_use]
    pub const fn start_step(&self) -> u8 {
        self.start_step
    }

    /// Step changes so far; counts up whatever the direction.
    #[must_use]
    pub const fn n_changes(&self) -> i64 {
        self.n_changes
    }

    /// Commanded frequency in Hz at `time_s`; 0 while the first step is held.
    #[must_use]
    pub fn frequency_at_hz(&self, time_s: f64) -> f64 {
        let since = time_s - self.origin_s;
        if since < 0.0 {
            0.0
        } else if since < self.ramp_s {
            self.start_frequency_hz
                + (self.frequency_hz - self.start_frequency_hz) * since / self.ramp_s
        } else {
            self.frequency_hz
        }
    }

    /// Commanded electrical angle in turns at `time_s`.
    #[must_use]
    pub fn turns_at(&self, time_s: f64) -> f64 {
        let since = (time_s - self.origin_s).max(0.0);
        let in_ramp = since.min(self.ramp_s);
        let ramp_turns = if self.ramp_s > 0.0 {
            let slope = (self.frequency_hz - self.start_frequency_hz) / self.ramp_s;
            (self.start_frequency_hz + 0.5 * slope * in_ramp) * in_ramp
        } else {
            0.0
        };
        self.origin_turns + ramp_turns + self.frequency_hz * (since - in_ramp)
    }

    /// Time of the next step change: step n + 1 begins when the commanded angle reaches n/6.
    #[must_use]
    pub fn next_change_s(&self) -> f64 {
        #[expect(
            clippy::cast_precision_loss,
            reason = "a count of steps stays far below 2^53"
        )]
        let turns = ((self.n_changes + 1) as f64 / 6.0 - self.origin_turns).max(0.0);
        let ramp_turns = 0.5 * (self.start_frequency_hz + self.frequency_hz) * self.ramp_s;
        let since = if turns < ramp_turns {
            // f0 t + a t²/2 = turns, in the form that does not cancel
            let slope = (self.frequency_hz - self.start_frequency_hz) / self.ramp_s;
            let root = (self.start_frequency_hz.powi(2) + 2.0 * slope * turns)
                .max(0.0)
                .sqrt();
            2.0 * turns / (self.start_frequency_hz + root)
        } else {
            self.ramp_s + (turns - ramp_turns) / self.frequency_hz
        };
        self.origin_s + since
    }

    /// Passes the step change that [`next_change_s`](Self::next_change_s) announced.
    pub fn pass_change(&mut self) {
        self.n_changes += 1;
    }

    /// Takes over a changed setup at `time_s` without a jump of the commanded angle.
    ///
    /// While the first step is held everything is taken over. Once the angle moves, the way to the
    /// frequency leads from the present one over what is left of the ramp, or over the whole of a new
    /// one; what the drive starts with (first step, hold, first frequency) is of its next start.
    pub fn retune(&mut self, setup: &ForcedSetup, time_s: f64) {
        if time_s < self.origin_s {
            let began = Self::new(setup, self.began_s);
            *self = Self {
                origin_s: began.origin_s.max(time_s),
                ..began
            };
            return;
        }
        self.origin_turns = self.turns_at(time_s);
        self.start_frequency_hz = self.frequency_at_hz(time_s);
        self.ramp_s = if setup.ramp_s.to_bits() == self.asked_ramp_s.to_bits() {
            (self.ramp_s - (time_s - self.origin_s)).max(0.0)
        } else {
            setup.ramp_s
        };
        self.asked_ramp_s = setup.ramp_s;
        self.frequency_hz = setup.frequency_hz;
        self.origin_s = time_s;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::Chop;

    #[test]
    fn pwm_edges_lie_on_the_grid_and_duty_waits_for_the_period() {
        let mut setup = PwmSetup {
            frequency_hz: 20e3,
            duty: 0.6,
            chop: Chop::HighSide,
        };
        let mut clock = PwmClock::new(setup, 0.0);
        assert!(clock.on());
        assert_eq!(clock.next_edge_s(), 0.6 / 20e3);
        setup.duty = 0.25;
        clock.pass_edge(setup);
        assert!(!clock.on());
        assert_eq!(clock.next_edge_s(), 1.0 / 20e3);
        clock.pass_edge(setup);
        assert!(clock.on());
        assert_eq!(clock.next_edge_s(), 1.25 / 20e3);
        setup.duty = 0.0;
        clock.pass_edge(setup);
        clock.pass_edge(setup);
        assert!(!clock.on());
        assert_eq!(clock.next_edge_s(), 3.0 / 20e3);
    }

    #[test]
    fn forced_steps_follow_the_integral_of_the_frequency() {
        let setup = ForcedSetup {
            frequency_hz: 65.0,
            start_frequency_hz: 5.0,
            ramp_s: 0.5,
            start_step: 1,
            align_s: 0.2,
        };
        let mut clock = ForcedClock::new(&setup, 0.0);
        for n in 1..200_i32 {
            let at = clock.next_change_s();
            assert!((clock.turns_at(at) - f64::from(n) / 6.0).abs() < 1e-12);
            clock.pass_change();
        }
        assert_eq!(clock.frequency_at_hz(0.1), 0.0);
        assert_eq!(clock.frequency_at_hz(0.45), 35.0);
        assert_eq!(clock.frequency_at_hz(9.0), 65.0);
    }
}
