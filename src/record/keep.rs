//! The recorder: samples by channel, and the events.

use std::ops::Range;

use super::channel::FAN;
use super::{Channel, Event, MinMax, Sample};
use crate::drive::LegState;

/// A recorded quantity, one channel each.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// Time in s.
    Time,
    /// Mechanical rotor angle in rad.
    ThetaMech,
    /// Electrical rotor angle in rad.
    ThetaElec,
    /// Mechanical speed in rad/s.
    Speed,
    /// Current of a phase winding in A; 0, 1, 2 for U, V, W.
    PhaseCurrent(u8),
    /// Current of a lead in A.
    LineCurrent(u8),
    /// Back-EMF of a phase in V.
    BackEmf(u8),
    /// Voltage of a terminal in V.
    Terminal(u8),
    /// Electromagnetic torque in N m.
    EmTorque,
    /// Electromagnetic plus cogging torque in N m.
    Torque,
    /// Supply current in A.
    SupplyCurrent,
    /// Voltage across the bridge in V.
    SupplyVoltage,
}

/// Number of channels.
const N_CHANNELS: usize = 20;

impl Quantity {
    /// Its place among the channels.
    fn channel_idx(self) -> usize {
        let of_phase = |first: usize, phase_idx: u8| first + usize::from(phase_idx.min(2));
        match self {
            Self::Time => 0,
            Self::ThetaMech => 1,
            Self::ThetaElec => 2,
            Self::Speed => 3,
            Self::PhaseCurrent(phase_idx) => of_phase(4, phase_idx),
            Self::LineCurrent(phase_idx) => of_phase(7, phase_idx),
            Self::BackEmf(phase_idx) => of_phase(10, phase_idx),
            Self::Terminal(phase_idx) => of_phase(13, phase_idx),
            Self::EmTorque => 16,
            Self::Torque => 17,
            Self::SupplyCurrent => 18,
            Self::SupplyVoltage => 19,
        }
    }
}

/// What a run leaves, as it grows: one channel per quantity, gates, and events.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Record {
    channels: [Channel; N_CHANNELS],
    gates: Vec<(u8, [LegState; 3])>,
    events: Vec<Event>,
}

impl Record {
    /// An empty record with room for so many samples.
    #[must_use]
    pub(super) fn with_room(n_samples: usize) -> Self {
        Self {
            channels: std::array::from_fn(|_| Channel::with_room(n_samples)),
            gates: Vec::with_capacity(n_samples),
            events: Vec::new(),
        }
    }

    /// Empties it; the room stays.
    pub(super) fn clear(&mut self) {
        self.channels.iter_mut().for_each(Channel::clear);
        self.gates.clear();
        self.events.clear();
    }

    /// Adds the next sample; times rise.
    pub fn push_sample(&mut self, sample: &Sample) {
        let [iu, iv, iw] = sample.phase_current_a;
        let [lu, lv, lw] = sample.line_current_a;
        let [eu, ev, ew] = sample.back_emf_v;
        let [vu, vv, vw] = sample.terminal_v;
        let values: [f64; N_CHANNELS] = [
            sample.time_s,
            sample.theta_mech_rad,
            sample.theta_elec_rad,
            sample.speed_rad_s,
            iu,
            iv,
            iw,
            lu,
            lv,
            lw,
            eu,
            ev,
            ew,
            vu,
            vv,
            vw,
            sample.em_torque_nm,
            sample.torque_nm,
            sample.supply_current_a,
            sample.supply_voltage_v,
        ];
        for (channel, value) in self.channels.iter_mut().zip(values) {
            channel.put(value);
        }
        self.gates.push((sample.step, sample.legs));
        if self.gates.len().is_multiple_of(FAN) {
            self.channels.iter_mut().for_each(Channel::complete);
        }
    }

    /// Adds the next event; times do not fall.
    pub fn push_event(&mut self, event: Event) {
        self.events.push(event);
    }

    /// Number of samples.
    #[must_use]
    pub fn n_samples(&self) -> usize {
        self.gates.len()
    }

    /// The sample with this index; `None` past the end.
    #[must_use]
    pub fn sample(&self, sample_idx: usize) -> Option<Sample> {
        let &(step, legs) = self.gates.get(sample_idx)?;
        let value = |quantity: Quantity| self.channel(quantity).values()[sample_idx];
        let phases = |of: fn(u8) -> Quantity| [value(of(0)), value(of(1)), value(of(2))];
        Some(Sample {
            time_s: value(Quantity::Time),
            theta_mech_rad: value(Quantity::ThetaMech),
            theta_elec_rad: value(Quantity::ThetaElec),
            speed_rad_s: value(Quantity::Speed),
            phase_current_a: phases(Quantity::PhaseCurrent),
            line_current_a: phases(Quantity::LineCurrent),
            back_emf_v: phases(Quantity::BackEmf),
            terminal_v: phases(Quantity::Terminal),
            em_torque_nm: value(Quantity::EmTorque),
            torque_nm: value(Quantity::Torque),
            supply_current_a: value(Quantity::SupplyCurrent),
            supply_voltage_v: value(Quantity::SupplyVoltage),
            step,
            legs,
        })
    }

    /// All samples in order of time.
    pub fn samples(&self) -> impl Iterator<Item = Sample> + '_ {
        (0..self.n_samples()).filter_map(|sample_idx| self.sample(sample_idx))
    }

    /// The channel of a quantity.
    #[must_use]
    pub fn channel(&self, quantity: Quantity) -> &Channel {
        &self.channels[quantity.channel_idx()]
    }

    /// All events in order of time.
    #[must_use]
    pub fn events(&self) -> &[Event] {
        &self.events
    }

    /// First and last recorded instant in s; `None` before the first sample.
    #[must_use]
    pub fn span_s(&self) -> Option<(f64, f64)> {
        let times = self.channel(Quantity::Time).values();
        Some((*times.first()?, *times.last()?))
    }

    /// Indices of the samples from `from_s` (included) up to `to_s` (included).
    #[must_use]
    pub fn between(&self, from_s: f64, to_s: f64) -> Range<usize> {
        let times = self.channel(Quantity::Time).values();
        let first = times.partition_point(|&time_s| time_s < from_s);
        let end = times.partition_point(|&time_s| time_s <= to_s);
        first..end.max(first)
    }

    /// Lowest and highest value of a quantity between two instants, both included.
    #[must_use]
    pub fn min_max(&self, quantity: Quantity, from_s: f64, to_s: f64) -> Option<MinMax> {
        self.channel(quantity).min_max(self.between(from_s, to_s))
    }

    /// Step and gates at an instant, from the last event at or before it; `None` before any.
    #[must_use]
    pub fn gates_at(&self, time_s: f64) -> Option<(u8, [LegState; 3])> {
        let after = self.events.partition_point(|event| event.time_s <= time_s);
        let event = self.events.get(after.checked_sub(1)?)?;
        Some((event.step, event.legs))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::EventKind;

    fn sample(idx: u32) -> Sample {
        let x = f64::from(idx);
        Sample {
            time_s: x * 1e-5,
            theta_mech_rad: x,
            theta_elec_rad: 7.0 * x,
            speed_rad_s: 2.0 + x,
            phase_current_a: [x, -x, 3.0],
            line_current_a: [x, -x, 4.0],
            back_emf_v: [5.0, x, 6.0],
            terminal_v: [7.0, 8.0, x],
            em_torque_nm: 9.0 + x,
            torque_nm: 10.0 + x,
            supply_current_a: 11.0 - x,
            supply_voltage_v: 12.0 + x,
            step: 4,
            legs: [LegState::Low, LegState::High, LegState::Floating],
        }
    }

    /// What went in comes out, bit for bit.
    #[test]
    fn gives_back_each_sample() {
        let mut record = Record::default();
        (0..100).for_each(|idx| record.push_sample(&sample(idx)));
        assert_eq!(record.n_samples(), 100);
        assert!(
            record
                .samples()
                .zip(0..)
                .all(|(kept, idx)| kept == sample(idx))
        );
        assert_eq!(record.sample(100), None);
    }

    #[test]
    fn finds_a_span_of_time() {
        let mut record = Record::default();
        (0..100).for_each(|idx| record.push_sample(&sample(idx)));
        assert_eq!(record.between(10.5e-5, 20.5e-5), 11..21);
        let found = record
            .min_max(Quantity::PhaseCurrent(1), 10.5e-5, 20.5e-5)
            .unwrap();
        assert_eq!((found.min, found.max), (-20.0, -11.0));
        assert_eq!(record.min_max(Quantity::Torque, 1.0, 2.0), None);
    }

    #[test]
    fn the_gates_are_those_of_the_last_event() {
        let mut record = Record::default();
        let event = |time_s, step| Event {
            time_s,
            kind: EventKind::StepChange,
            step,
            legs: [LegState::Floating; 3],
        };
        record.push_event(event(0.5, 1));
        record.push_event(event(1.0, 2));
        assert_eq!(record.gates_at(0.4), None);
        assert_eq!(record.gates_at(1.0).map(|(step, _)| step), Some(2));
        assert_eq!(record.gates_at(0.99).map(|(step, _)| step), Some(1));
    }
}
