//! What happens by the clock: PWM edges, forced steps; and the six-step table.

use wyebench::drive::LegState;
use wyebench::setup::{Chop, Direction, DriveSetup, ForcedSetup, Gates, PwmSetup};

/// High and low leg of steps 1 to 6, forward.
const TABLE: [(usize, usize); 6] = [(0, 1), (0, 2), (1, 2), (1, 0), (2, 0), (2, 1)];

/// What the gates say.
pub fn gates(drive: &DriveSetup, step: u8, pwm_on: bool) -> [LegState; 3] {
    match drive.gates {
        Gates::AllOff => return [LegState::Floating; 3],
        Gates::AllLow => return [LegState::Low; 3],
        Gates::Stepping => {}
    }
    let (mut high, mut low) = TABLE[usize::from(step) - 1];
    if drive.direction == Direction::Reverse {
        std::mem::swap(&mut high, &mut low);
    }
    let mut legs = [LegState::Floating; 3];
    legs[high] = LegState::High;
    legs[low] = LegState::Low;
    if let (Some(pwm), false) = (&drive.pwm, pwm_on) {
        match pwm.chop {
            Chop::HighSide => legs[high] = LegState::Floating,
            Chop::HighSideSynchronous => legs[high] = LegState::Low,
            Chop::BothSides => {
                legs[high] = LegState::Floating;
                legs[low] = LegState::Floating;
            }
        }
    }
    legs
}

/// Step of a sector counted from θe = 30°.
pub fn step_of_sector(sector: i64) -> u8 {
    sector.rem_euclid(6) as u8 + 1
}

/// The free-running PWM.
#[derive(Clone, Copy, Debug)]
pub struct PwmClock {
    base: f64,
    period: f64,
    idx: u64,
    duty: f64,
    /// True in the on part.
    pub on: bool,
    /// The next edge (or period without edge) in s.
    pub next: f64,
    off_pending: bool,
}

impl PwmClock {
    /// Starts a period at `at`.
    pub fn new(pwm: &PwmSetup, at: f64) -> Self {
        let mut clock = Self {
            base: at,
            period: 1.0 / pwm.frequency_hz,
            idx: 0,
            duty: pwm.duty,
            on: true,
            next: at,
            off_pending: false,
        };
        clock.begin_period();
        clock
    }

    fn begin_period(&mut self) {
        self.on = self.duty > 0.0;
        self.off_pending = self.on && self.duty < 1.0;
        let part = if self.off_pending { self.duty } else { 1.0 };
        self.next = self.base + (self.idx as f64 + part) * self.period;
    }

    /// Passes the edge at `next`; the settings of a new period are taken from `pwm`.
    pub fn advance(&mut self, pwm: &PwmSetup) {
        if self.off_pending {
            self.off_pending = false;
            self.on = false;
            self.next = self.base + (self.idx + 1) as f64 * self.period;
            return;
        }
        let period = 1.0 / pwm.frequency_hz;
        if period.to_bits() == self.period.to_bits() {
            self.idx += 1;
        } else {
            self.base = self.next;
            self.idx = 0;
            self.period = period;
        }
        self.duty = pwm.duty;
        self.begin_period();
    }
}

/// The clock of a forced drive.
#[derive(Clone, Copy, Debug)]
pub struct ForcedClock {
    forced: ForcedSetup,
    /// Turns commanded up to `counted_from`, less the integral up to there.
    offset: f64,
    /// Steps taken.
    steps: u64,
    /// The next step in s; infinite where it never comes.
    pub next: f64,
}

impl ForcedClock {
    /// At rest on the first step at t = 0.
    pub fn new(forced: ForcedSetup) -> Self {
        let mut clock = Self {
            forced,
            offset: 0.0,
            steps: 0,
            next: 0.0,
        };
        clock.find_next();
        clock
    }

    /// Commanded turns at `t` under the present settings.
    fn turns(&self, t: f64) -> f64 {
        let f = &self.forced;
        let since = t - f.align_s;
        if since <= 0.0 {
            return 0.0;
        }
        let in_ramp = since.min(f.ramp_s);
        let slope = if f.ramp_s > 0.0 {
            (f.frequency_hz - f.start_frequency_hz) / f.ramp_s
        } else {
            0.0
        };
        in_ramp * (f.start_frequency_hz + 0.5 * slope * in_ramp)
            + (since - in_ramp) * f.frequency_hz
    }

    fn find_next(&mut self) {
        let f = &self.forced;
        let wanted = (self.steps + 1) as f64 / 6.0 - self.offset;
        let ramp_turns = 0.5 * (f.start_frequency_hz + f.frequency_hz) * f.ramp_s;
        let since = if wanted <= ramp_turns && f.ramp_s > 0.0 {
            let slope = (f.frequency_hz - f.start_frequency_hz) / f.ramp_s;
            let root = (f.start_frequency_hz * f.start_frequency_hz + 2.0 * slope * wanted).sqrt();
            2.0 * wanted / (f.start_frequency_hz + root)
        } else {
            f.ramp_s + (wanted - ramp_turns) / f.frequency_hz
        };
        self.next = f.align_s + since;
    }

    /// Passes the step at `next`.
    pub fn advance(&mut self) {
        self.steps += 1;
        self.find_next();
    }

    /// Takes new settings at `t`; the commanded angle goes on without a jump.
    pub fn change(&mut self, forced: ForcedSetup, t: f64) {
        let before = self.offset + self.turns(t);
        self.forced = forced;
        self.offset = 0.0;
        self.offset = before - self.turns(t);
        self.find_next();
    }
}
