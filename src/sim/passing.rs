//! What happens at the end of a piece: the clocks' edges and the events of the state.

use std::f64::consts::FRAC_PI_3;

use super::sample::EventKind;
use super::search::{Found, leg_number};
use super::state::Motion;
use super::{Simulator, Sink, plant};
use crate::setup::{Commutation, Gates};

impl Simulator {
    pub(super) fn next_due(&self, until_s: f64) -> (f64, Due) {
        let mut next = (until_s, Due::Until);
        if let Some(pwm) = &self.pwm {
            let at = pwm.next_edge_s();
            if at < next.0 {
                next = (at, Due::Pwm);
            }
        }
        if let Some(forced) = &self.forced {
            let at = forced.next_change_s();
            if at < next.0 {
                next = (at, Due::ForcedStep);
            }
        }
        if let Some(change) = self.changes.get(self.n_changes)
            && change.at_s <= next.0
        {
            next = (change.at_s, Due::Change);
        }
        next
    }

    pub(super) fn pass_due(&mut self, due: Due, sink: &mut impl Sink) {
        match due {
            Due::Until => {}
            Due::Pwm => {
                let Some((clock, setup)) = self.pwm.as_mut().zip(self.bench.drive.pwm) else {
                    return;
                };
                let was_on = clock.on();
                clock.pass_edge(setup);
                if clock.on() != was_on {
                    let kind = if clock.on() {
                        EventKind::PwmOn
                    } else {
                        EventKind::PwmOff
                    };
                    self.refresh_gates(kind, sink);
                }
            }
            Due::ForcedStep => {
                if let Some(clock) = &mut self.forced {
                    clock.pass_change();
                }
                self.work.n_commutations += 1;
                self.refresh_gates(EventKind::StepChange, sink);
            }
            Due::Change => {
                let idx = self.n_changes;
                self.n_changes += 1;
                self.change_bench(self.changes[idx].bench.clone());
                self.refresh_gates(
                    EventKind::Change {
                        idx: u32::try_from(idx).ok(),
                    },
                    sink,
                );
            }
        }
    }

    pub(super) fn pass_found(&mut self, found: Found, sink: &mut impl Sink) {
        match found {
            Found::SectorUp | Found::SectorDown => {
                let up = found == Found::SectorUp;
                self.state
                    .enter(self.state.sector + if up { 1 } else { -1 });
                self.state.phi_rad = if up { 0.0 } else { FRAC_PI_3 };
                if self.threshold.phi_rad.is_some() {
                    self.threshold.past = !up;
                } else {
                    self.pass_step(sink);
                }
            }
            Found::ThresholdUp | Found::ThresholdDown => {
                if let Some(phi_rad) = self.threshold.phi_rad {
                    self.state.phi_rad = phi_rad;
                }
                self.threshold.past = found == Found::ThresholdUp;
                self.pass_step(sink);
            }
            Found::CurrentZero(leg) => {
                self.stop_current(usize::from(leg));
                self.resolve();
                self.tell(EventKind::DiodeOff { leg }, sink);
            }
            Found::OpenLeg { .. } | Found::OpenPair => {
                let before = self.branches().path;
                let started = match found {
                    Found::OpenLeg { leg, upper } => self.start_diode(usize::from(leg), upper),
                    _ => false,
                };
                if !started {
                    self.resolve();
                }
                for leg in 0..3 {
                    let path = self.branches().path[leg];
                    if path != before[leg] && path.is_diode() {
                        self.tell(
                            EventKind::DiodeOn {
                                leg: leg_number(leg),
                                upper: path.is_upper(),
                            },
                            sink,
                        );
                    }
                }
            }
            Found::SpeedZero => {
                self.state.speed_rad_s = 0.0;
                self.decide_motion();
                let kind = if self.state.motion == Motion::Held {
                    EventKind::Stuck
                } else {
                    EventKind::Reversal
                };
                self.tell(kind, sink);
            }
            Found::BreakAway { negative } => {
                self.state.motion = Motion::Free { negative };
                self.tell(EventKind::BrokeAway, sink);
            }
        }
    }

    /// The rotor passed an angle at which a position-sensed drive steps.
    pub(super) fn pass_step(&mut self, sink: &mut impl Sink) {
        if self.bench.drive.commutation == Commutation::Position
            && self.bench.drive.gates == Gates::Stepping
        {
            self.work.n_commutations += 1;
            self.refresh_gates(EventKind::StepChange, sink);
        }
    }

    /// Sets the current of a leg to exactly zero and what follows from it.
    pub(super) fn stop_current(&mut self, leg: usize) {
        let n_connected = self.branches().n_connected;
        let current = &mut self.state.current_a;
        current[leg] = 0.0;
        let (a, b) = ((leg + 1) % 3, (leg + 2) % 3);
        if n_connected == 2 {
            current[a] = 0.0;
            current[b] = 0.0;
        } else {
            let half = 0.5 * (current[a] - current[b]);
            current[a] = half;
            current[b] = -half;
        }
    }

    /// At zero speed: which way the rotor goes, if any.
    pub(super) fn decide_motion(&mut self) {
        let torque_nm = self.standstill_torque_nm();
        let noise_nm = 1e-12 * self.torque_scale_nm();
        let was_negative = self.state.motion == (Motion::Free { negative: true });
        self.state.motion = if torque_nm.abs() <= self.plant.dry_nm && self.plant.dry_nm > 0.0 {
            Motion::Held
        } else if torque_nm.abs() > noise_nm {
            Motion::Free {
                negative: torque_nm < 0.0,
            }
        } else {
            Motion::Free {
                negative: if self.started {
                    !was_negative
                } else {
                    was_negative
                },
            }
        };
    }

    /// All torque on the standing rotor but dry friction, in N m.
    pub(super) fn standstill_torque_nm(&self) -> f64 {
        let shape = self.plant.shape_at(&self.state, self.state.phi_rad);
        let mut torque = self
            .plant
            .cogging_torque_nm(self.state.sector, self.state.phi_rad)
            - self.plant.gravity_nm;
        for leg in 0..3 {
            torque += shape[leg] * self.state.current_a[leg];
        }
        if self.plant.delta {
            torque += 3.0 * shape[plant::LOOP] * self.state.loop_current_a;
        }
        torque
    }

    pub(super) fn torque_scale_nm(&self) -> f64 {
        self.plant.emf_scale_v_s * self.scales.current_a
            + self.plant.dry_nm
            + self.plant.gravity_nm.abs()
            + self.machine.cogging_peak_nm.abs()
    }
}

/// What a clock announces.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Due {
    Until,
    Pwm,
    ForcedStep,
    Change,
}
