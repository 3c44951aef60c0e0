//! What decides the step and the gates, and what a change of the bench means for them.

use std::f64::consts::FRAC_PI_3;

use super::expansion::Expansion;
use super::plant::Plant;
use super::sample::{Event, EventKind};
use super::state::Motion;
use super::{Simulator, Sink};
use crate::drive::clocks::{ForcedClock, PwmClock};
use crate::drive::steps::{self, active_legs, leg_states};
use crate::setup::{Bench, Chop, Commutation, Direction, PwmSetup};

/// Where inside a 60° sector the step of a position-sensed drive changes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Threshold {
    /// Angle inside the sector; `None`: at the sectors' edges.
    pub(super) phi_rad: Option<f64>,
    /// Step count minus sector below the threshold.
    pub(super) shift: i64,
    /// Whether the rotor is past it.
    pub(super) past: bool,
}

impl Threshold {
    /// For an advance that counts positive when step changes come at smaller angles.
    pub(super) fn new(advance_rad: f64, phi_rad: f64, negative: bool) -> Self {
        const EDGE: f64 = 1e-12;
        if advance_rad.abs() < EDGE {
            Self {
                phi_rad: None,
                shift: 0,
                past: false,
            }
        } else if (advance_rad.abs() - FRAC_PI_3).abs() < EDGE {
            Self {
                phi_rad: None,
                shift: if advance_rad > 0.0 { 1 } else { -1 },
                past: false,
            }
        } else {
            let (at, shift) = if advance_rad > 0.0 {
                (FRAC_PI_3 - advance_rad, 0)
            } else {
                (-advance_rad, -1)
            };
            let past = if negative {
                phi_rad > at
            } else {
                phi_rad >= at
            };
            Self {
                phi_rad: Some(at),
                shift,
                past,
            }
        }
    }
}

impl Simulator {
    pub(super) fn stored_sum(&self) -> f64 {
        let stored = self.stored();
        stored.magnetic_j + stored.capacitor_j + stored.kinetic_j + stored.cogging_j
    }

    pub(super) fn change_bench(&mut self, bench: Bench) {
        let before = self.stored_sum();
        let old = std::mem::replace(&mut self.bench, bench);
        self.plant = Plant::new(&self.machine, &self.bench);
        let (drive, old_drive) = (&self.bench.drive, &old.drive);
        match (drive.pwm, &mut self.pwm) {
            (None, pwm) => *pwm = None,
            (Some(setup), pwm @ None) => *pwm = Some(PwmClock::new(setup, self.state.time_s)),
            (Some(_), Some(_)) => {}
        }
        if drive.commutation != old_drive.commutation || drive.direction != old_drive.direction {
            self.start_commutator();
        } else {
            if let (Some(setup), Some(clock)) = (&drive.forced, &mut self.forced)
                && drive.forced != old_drive.forced
            {
                clock.retune(setup, self.state.time_s);
            }
            // a forced clock goes on: advance is nothing to it
            if drive.advance_rad.to_bits() != old_drive.advance_rad.to_bits() {
                self.start_threshold();
            }
        }
        self.take_up_plant();
        self.take_up_motion();
        self.totals.by_hand_j += self.stored_sum() - before;
    }

    /// What brakes may be new: it opposes the motion there is. A held rotor may be freed or loaded; a
    /// driven one stays driven.
    pub(super) fn take_up_motion(&mut self) {
        let speed_rad_s = self.state.speed_rad_s;
        match self.state.motion {
            Motion::Free { .. } if speed_rad_s != 0.0 => {
                let negative = speed_rad_s < 0.0;
                self.state.motion = Motion::Free { negative };
            }
            Motion::Free { .. } => self.decide_motion(),
            Motion::Held if self.standstill_torque_nm().abs() > self.plant.dry_nm => {
                self.decide_motion();
            }
            Motion::Held | Motion::Driven => {}
        }
    }

    /// Sets up the angles at which a position-sensed drive steps, for the present angle.
    fn start_threshold(&mut self) {
        let drive = &self.bench.drive;
        let reverse = drive.direction == Direction::Reverse;
        let advance_rad = if reverse {
            -drive.advance_rad
        } else {
            drive.advance_rad
        };
        self.threshold = Threshold::new(advance_rad, self.state.phi_rad, reverse);
    }

    /// Sets up what decides the step, for the present angle and time.
    pub(super) fn start_commutator(&mut self) {
        self.start_threshold();
        let drive = &self.bench.drive;
        self.forced = match (drive.commutation, &drive.forced) {
            (Commutation::Forced, Some(setup)) => Some(ForcedClock::new(setup, self.state.time_s)),
            _ => None,
        };
        if self.forced.is_some() {
            let sign = self.sense();
            self.forced_slip_reference_turns =
                -sign * self.theta_elec_rad() / std::f64::consts::TAU;
        }
    }

    /// +1 forward, −1 in reverse.
    pub(super) fn sense(&self) -> f64 {
        if self.bench.drive.direction == Direction::Reverse {
            -1.0
        } else {
            1.0
        }
    }

    /// Running count of the step; 0 is step 1.
    pub(super) fn step_count(&self) -> i64 {
        match &self.forced {
            Some(clock) => {
                let start = i64::from(clock.start_step()) - 1;
                match self.bench.drive.direction {
                    Direction::Forward => start + clock.n_changes(),
                    Direction::Reverse => start - clock.n_changes(),
                }
            }
            None => self.state.sector + self.threshold.shift + i64::from(self.threshold.past),
        }
    }

    /// Takes up a new plant: scales, stiff voltage.
    pub(super) fn take_up_plant(&mut self) {
        let plant = &self.plant;
        if plant.soft.is_none() {
            self.state.bridge_v = plant.supply_v;
        }
        let lowest_v = &mut self.totals.lowest_bridge_v;
        *lowest_v = lowest_v.min(self.state.bridge_v);
        let ohm = plant.lead_resistance_ohm + plant.switch.on_ohm.max(plant.switch.diode_ohm);
        let voltage_v = plant
            .supply_v
            .max(self.state.bridge_v.abs())
            .max(plant.emf_scale_v_s * self.state.speed_rad_s.abs())
            .max(1e-6);
        // what the voltage could drive in a tenth of a millisecond, or at most, whichever is less
        let rise_a = voltage_v * 1e-4 / plant.lead_inductance_h;
        let most_a = if ohm > 0.0 { voltage_v / ohm } else { rise_a };
        self.scales.meet(
            1e-3 * rise_a.min(most_a),
            1e-3 * (voltage_v / plant.emf_scale_v_s).min(1e5),
            voltage_v,
        );
        // series that a plant leaves alone stay zero
        self.expansion = Expansion::new();
        self.trial = Expansion::new();
    }

    /// Sets the gates by step, PWM and bench, then what the legs connect.
    pub(super) fn refresh_gates(&mut self, kind: EventKind, sink: &mut impl Sink) {
        let drive = &self.bench.drive;
        let on_part = self.pwm.as_ref().is_none_or(PwmClock::on);
        let chop = drive
            .pwm
            .map_or(Chop::HighSide, |PwmSetup { chop, .. }| chop);
        let step = (self.step_count(), drive.direction);
        if step != self.step {
            self.step = step;
            self.active = active_legs(step.0, step.1);
        }
        self.legs = leg_states(self.active, drive.gates, chop, on_part);
        self.resolve();
        self.tell(kind, sink);
    }

    pub(super) fn tell(&self, kind: EventKind, sink: &mut impl Sink) {
        sink.event(&Event {
            time_s: self.state.time_s,
            kind,
            step: steps::step_number(self.step_count()),
            legs: self.legs,
        });
    }
}
