//! The rotor turned by hand, its leads on nothing: what a pointer does becomes angle and speed.

use crate::machine::Machine;
use crate::record::Tape;
use crate::sim::{Handling, by_hand, loop_current_a};

/// Time in which the speed follows the hand, in s: a hand on a pointer moves in jerks of a
/// frame, and an EMF that follows those would be noise. Chosen by eye.
const FOLLOW_S: f64 = 0.06;
/// Spacing of the samples, in s: an electrical turn at the speed of a hand takes many.
const SPACING_S: f64 = 5e-4;
/// Samples kept: some 20 s.
const MOST_SAMPLES: usize = 40_000;
/// Below this the rotor stands, in rad/s.
const STILL_RAD_S: f64 = 0.02;
/// Speed of a key that is held, in rad/s: 30 rpm.
pub(super) const KEY_RAD_S: f64 = std::f64::consts::PI;

/// A rotor in a hand.
#[derive(Clone, Debug)]
pub(super) struct Hand {
    machine: Machine,
    theta_mech_rad: f64,
    speed_rad_s: f64,
    time_s: f64,
    /// What the hand has turned since the last frame, in rad.
    moved_rad: f64,
    /// What circulates in a delta, in A, and the mean EMF that drives it, in V.
    loop_current_a: f64,
    mean_emf_v: f64,
    record: Tape,
}

impl Hand {
    /// Takes hold of a rotor at rest at an angle.
    pub(super) fn new(machine: Machine, theta_mech_rad: f64) -> Self {
        let connection = machine.connection;
        let mut hand = Self {
            machine,
            theta_mech_rad,
            speed_rad_s: 0.0,
            time_s: 0.0,
            moved_rad: 0.0,
            loop_current_a: 0.0,
            mean_emf_v: 0.0,
            record: Tape::new(MOST_SAMPLES, connection),
        };
        hand.push(0.0);
        hand
    }

    /// Turns the rotor by an angle until the next frame.
    pub(super) const fn turn(&mut self, by_rad: f64) {
        self.moved_rad += by_rad;
    }

    /// Lets `wall_s` go by. Where nothing moves, time stands still too.
    pub(super) fn advance(&mut self, wall_s: f64) {
        let moved_rad = std::mem::take(&mut self.moved_rad);
        if wall_s <= 0.0 || moved_rad == 0.0 && self.speed_rad_s == 0.0 {
            return;
        }
        let wanted = moved_rad / wall_s;
        let (from_s, from_rad, from_speed) = (self.time_s, self.theta_mech_rad, self.speed_rad_s);
        let share = 1.0 - (-wall_s / FOLLOW_S).exp();
        let mut to_speed = from_speed + (wanted - from_speed) * share;
        if moved_rad == 0.0 && to_speed.abs() < STILL_RAD_S {
            to_speed = 0.0;
        }
        let n_samples = (wall_s / SPACING_S).ceil().clamp(1.0, 400.0);
        let mut done = 0.0;
        while done < n_samples {
            done += 1.0;
            let part = done / n_samples;
            self.time_s = from_s + part * wall_s;
            self.theta_mech_rad = from_rad + part * moved_rad;
            self.speed_rad_s = from_speed + part * (to_speed - from_speed);
            self.push(wall_s / n_samples);
        }
    }

    /// Records the machine as it is now, so long after it was last recorded.
    fn push(&mut self, after_s: f64) {
        let theta_elec_rad = f64::from(self.machine.pole_pairs) * self.theta_mech_rad;
        let emf_v = self.machine.back_emf_v(theta_elec_rad, self.speed_rad_s);
        let mean_emf_v = emf_v.iter().sum::<f64>() / 3.0;
        let means = [self.mean_emf_v, mean_emf_v];
        self.loop_current_a = loop_current_a(&self.machine, self.loop_current_a, means, after_s);
        self.mean_emf_v = mean_emf_v;
        let hand = Handling {
            time_s: self.time_s,
            theta_mech_rad: self.theta_mech_rad,
            speed_rad_s: self.speed_rad_s,
            loop_current_a: self.loop_current_a,
        };
        self.record.push(&by_hand(&self.machine, &hand));
    }

    /// What has been turned.
    pub(super) const fn record(&self) -> &Tape {
        &self.record
    }

    /// Time of the hand, in s.
    pub(super) const fn time_s(&self) -> f64 {
        self.time_s
    }

    /// True while the rotor still moves.
    pub(super) fn is_moving(&self) -> bool {
        self.speed_rad_s != 0.0 || self.moved_rad != 0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::{Setup, built_in};

    fn hand() -> Hand {
        let setup = Setup::parse(built_in(), "built in").unwrap();
        Hand::new(Machine::new(&setup.machine), 0.4)
    }

    /// A hand that turns steadily: the speed comes to that of the hand, and the EMF is that of
    /// the machine at that speed.
    #[test]
    fn a_steady_hand_gives_the_emf_of_its_speed() {
        let peak = |speed: f64| {
            let mut hand = hand();
            for _ in 0..240 {
                hand.turn(speed / 60.0);
                hand.advance(1.0 / 60.0);
            }
            let record = hand.record();
            let last_s = hand.time_s();
            assert!((record.at(last_s).unwrap().speed_rad_s - speed).abs() < 1e-6);
            let recent = record.stretch(last_s - 1.0, last_s);
            recent
                .iter()
                .map(|sample| sample.back_emf_v[0])
                .fold(0.0, f64::max)
        };
        let (slow, fast) = (peak(4.0), peak(8.0));
        assert!((fast / slow - 2.0).abs() < 1e-6, "{slow} {fast}");
    }

    #[test]
    fn a_hand_that_lets_go_leaves_the_rotor_at_rest_where_it_is() {
        let mut hand = hand();
        hand.turn(0.1);
        hand.advance(1.0 / 60.0);
        for _ in 0..60 {
            hand.advance(1.0 / 60.0);
        }
        assert!(!hand.is_moving());
        let now = hand.record().at(hand.time_s()).unwrap();
        assert!((now.theta_mech_rad - 0.5).abs() < 1e-12);
        assert_eq!(now.back_emf_v, [0.0; 3]);
        let before_s = hand.time_s();
        hand.advance(1.0);
        assert_eq!(hand.time_s(), before_s, "time stands still with the rotor");
    }
}
