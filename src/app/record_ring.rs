//! The last stretch of a run, kept in memory.

use std::collections::VecDeque;

use crate::record::Sample;

/// Samples rising in time, the oldest dropped when there are too many.
#[derive(Clone, Debug)]
pub struct RecordRing {
    samples: VecDeque<Sample>,
    most: usize,
}

impl RecordRing {
    /// An empty record of at most that many samples, at least 2.
    #[must_use]
    pub fn new(most: usize) -> Self {
        Self {
            samples: VecDeque::new(),
            most: most.max(2),
        }
    }

    /// Adds a sample. One that is not later than the last replaces it.
    pub fn push(&mut self, sample: Sample) {
        while self
            .samples
            .back()
            .is_some_and(|last| last.time_s >= sample.time_s)
        {
            self.samples.pop_back();
        }
        if self.samples.len() == self.most {
            self.samples.pop_front();
        }
        self.samples.push_back(sample);
    }

    /// First and last instant in s; `None` while nothing is on record.
    #[must_use]
    pub fn range_s(&self) -> Option<[f64; 2]> {
        Some([self.samples.front()?.time_s, self.samples.back()?.time_s])
    }

    /// The solution at an instant: straight lines between two samples, states of the earlier.
    /// Before the first and after the last, that sample. `None` while nothing is on record.
    #[must_use]
    pub fn at(&self, time_s: f64) -> Option<Sample> {
        let after = self
            .samples
            .partition_point(|sample| sample.time_s <= time_s);
        let earlier = self.samples.get(after.saturating_sub(1))?;
        Some(match self.samples.get(after) {
            Some(later) if after > 0 => between(earlier, later, time_s),
            _ => *earlier,
        })
    }

    /// The samples from one instant to another, with one more on each side where there is one.
    #[must_use]
    pub fn stretch(&self, from_s: f64, to_s: f64) -> Vec<Sample> {
        let first = self
            .samples
            .partition_point(|sample| sample.time_s <= from_s);
        let last = self.samples.partition_point(|sample| sample.time_s < to_s);
        let last = (last + 1).min(self.samples.len());
        self.samples
            .range(first.saturating_sub(1).min(last)..last)
            .copied()
            .collect()
    }

    /// The nearest instant after (or before) `time_s` at which the step changes.
    #[must_use]
    pub fn step_change(&self, time_s: f64, later: bool) -> Option<f64> {
        let changes = self.samples.iter().zip(self.samples.iter().skip(1));
        let mut changes = changes
            .filter(|(a, b)| a.step != b.step)
            .map(|(_, b)| b.time_s);
        if later {
            changes.find(|change_s| *change_s > time_s)
        } else {
            changes.take_while(|change_s| *change_s < time_s).last()
        }
    }

    /// The largest current in any lead, in A.
    #[must_use]
    pub fn largest_current_a(&self) -> f64 {
        let currents = self.samples.iter().flat_map(|sample| sample.line_current_a);
        currents
            .map(f64::abs)
            .filter(|current| current.is_finite())
            .fold(0.0, f64::max)
    }
}

fn between(a: &Sample, b: &Sample, time_s: f64) -> Sample {
    let share = (time_s - a.time_s) / (b.time_s - a.time_s);
    let mix = |a: f64, b: f64| a + (b - a) * share;
    let mix3 = |a: [f64; 3], b: [f64; 3]| std::array::from_fn(|k| mix(a[k], b[k]));
    Sample {
        time_s,
        theta_mech_rad: mix(a.theta_mech_rad, b.theta_mech_rad),
        theta_elec_rad: mix(a.theta_elec_rad, b.theta_elec_rad),
        speed_rad_s: mix(a.speed_rad_s, b.speed_rad_s),
        phase_current_a: mix3(a.phase_current_a, b.phase_current_a),
        line_current_a: mix3(a.line_current_a, b.line_current_a),
        back_emf_v: mix3(a.back_emf_v, b.back_emf_v),
        terminal_v: mix3(a.terminal_v, b.terminal_v),
        em_torque_nm: mix(a.em_torque_nm, b.em_torque_nm),
        torque_nm: mix(a.torque_nm, b.torque_nm),
        supply_current_a: mix(a.supply_current_a, b.supply_current_a),
        supply_voltage_v: mix(a.supply_voltage_v, b.supply_voltage_v),
        step: a.step,
        legs: a.legs,
    }
}

/// Samples for the tests of this room.
#[cfg(test)]
pub(super) mod tests_support {
    use super::*;
    use crate::drive::LegState;

    /// A sample at rest in that step.
    pub(crate) fn sample(time_s: f64, step: u8) -> Sample {
        Sample {
            time_s,
            theta_mech_rad: 10.0 * time_s,
            theta_elec_rad: 70.0 * time_s,
            speed_rad_s: 10.0,
            phase_current_a: [1.0, -1.0, 0.0],
            line_current_a: [1.0, -1.0, 0.0],
            back_emf_v: [0.0; 3],
            terminal_v: [0.0; 3],
            em_torque_nm: 0.0,
            torque_nm: 0.0,
            supply_current_a: 1.0,
            supply_voltage_v: 11.1,
            step,
            legs: [LegState::High, LegState::Low, LegState::Floating],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::tests_support::sample;
    use super::*;

    #[test]
    fn the_oldest_goes_when_the_record_is_full() {
        let mut record = RecordRing::new(3);
        for k in 0..5 {
            record.push(sample(f64::from(k), 1));
        }
        assert_eq!(record.range_s(), Some([2.0, 4.0]));
    }

    #[test]
    fn between_samples_the_rotor_moves_on_and_the_legs_stay() {
        let mut record = RecordRing::new(10);
        record.push(sample(1.0, 1));
        record.push(sample(2.0, 2));
        let now = record.at(1.25).unwrap();
        assert!((now.theta_mech_rad - 12.5).abs() < 1e-12);
        assert_eq!((now.step, record.at(2.0).unwrap().step), (1, 2));
        assert!(
            (record.at(0.0).unwrap().time_s - 1.0).abs() < 1e-12,
            "the first before it"
        );
        assert!(
            (record.at(9.0).unwrap().time_s - 2.0).abs() < 1e-12,
            "the last after it"
        );
        assert_eq!(RecordRing::new(4).at(1.0), None);
    }

    #[test]
    fn a_stretch_reaches_one_sample_beyond_each_end() {
        let mut record = RecordRing::new(10);
        for k in 0..8 {
            record.push(sample(f64::from(k), 1));
        }
        let times: Vec<f64> = record
            .stretch(2.5, 4.5)
            .iter()
            .map(|sample| sample.time_s)
            .collect();
        assert_eq!(times, [2.0, 3.0, 4.0, 5.0]);
    }
}
