//! The last stretch of a run, kept while it goes on, with everything a picture asks of it.
//!
//! ```text
//! oldest ─► [ part ][ part ][ part ][ part, growing ] ◄─ newest
//!             └ samples under their pyramids, the events, and the integral of the torque
//! ```
//!
//! A part that is full never changes again, so a copy of the tape shares all of them: keeping a
//! trace to compare with costs one part. When there are too many samples the oldest part goes.
//!
//! Two samples may share an instant: the first is the solution before an event, the second after
//! it. So a voltage that jumps is drawn as a jump, at every zoom.

use std::collections::VecDeque;
use std::ops::Range;
use std::sync::Arc;

use super::channel::FAN;
use super::{Channel, Event, MinMax, Quantity, Record, Sample};
use crate::drive::LegState;
use crate::setup::Connection;

/// Samples in a part.
const PART: usize = 16_384;

/// Samples of a column from which on its ends are widened to whole entries of the pyramid.
const DENSE: usize = 16 * FAN;

/// Samples that a search looks at first.
const NEAR: usize = 256;

/// A curve that can be asked of a tape.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Trace {
    /// A recorded quantity.
    Of(Quantity),
    /// Back-EMF between two terminals in V: 0, 1, 2 for U against V, V against W, W against U,
    /// as an open machine would show it.
    LineBackEmf(u8),
}

#[derive(Clone, Debug)]
struct Part {
    record: Record,
    line_emf: [Channel; 3],
    /// Integral of the torque from the tape's beginning up to each sample, in N m s.
    torque_nm_s: Vec<f64>,
}

impl Part {
    /// An empty part, with room for all that it will hold: what grows is never moved.
    fn new() -> Self {
        Self {
            record: Record::with_room(PART),
            line_emf: std::array::from_fn(|_| Channel::with_room(PART)),
            torque_nm_s: Vec::with_capacity(PART),
        }
    }

    /// Empties it, to be filled again.
    fn clear(&mut self) {
        self.record.clear();
        self.line_emf.iter_mut().for_each(Channel::clear);
        self.torque_nm_s.clear();
    }

    fn channel(&self, trace: Trace) -> &Channel {
        match trace {
            Trace::Of(quantity) => self.record.channel(quantity),
            Trace::LineBackEmf(pair) => &self.line_emf[usize::from(pair.min(2))],
        }
    }

    fn times(&self) -> &[f64] {
        self.record.channel(Quantity::Time).values()
    }
}

/// Where an instant lies on a tape.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mark {
    /// The instant in s.
    pub time_s: f64,
    /// Samples at or before it.
    pub n_before: usize,
}

/// Samples and events rising in time, the oldest dropped when there are too many.
#[derive(Clone, Debug)]
pub struct Tape {
    parts: VecDeque<Arc<Part>>,
    most_parts: usize,
    connection: Connection,
    last: Option<Sample>,
    /// Integral of the torque up to the last sample; a part may begin with an event.
    torque_nm_s: f64,
}

impl Tape {
    /// An empty tape that keeps at least that many samples, of a machine connected so.
    #[must_use]
    pub fn new(most_samples: usize, connection: Connection) -> Self {
        Self {
            parts: VecDeque::new(),
            most_parts: most_samples.div_ceil(PART) + 1,
            connection,
            last: None,
            torque_nm_s: 0.0,
        }
    }

    /// From here on the machine is connected so.
    pub const fn set_connection(&mut self, connection: Connection) {
        self.connection = connection;
    }

    /// Adds a sample. One earlier than the last belongs to another run: what was there goes.
    pub fn push(&mut self, sample: &Sample) {
        let last = self.last;
        if last.is_some_and(|last| last.time_s > sample.time_s) {
            self.parts.clear();
            self.torque_nm_s = 0.0;
        } else if let Some(last) = last {
            let gone_s = sample.time_s - last.time_s;
            self.torque_nm_s += 0.5 * (last.torque_nm + sample.torque_nm) * gone_s;
        }
        self.last = Some(*sample);
        let torque_nm_s = self.torque_nm_s;
        let emf = sample.back_emf_v;
        let line_emf: [f64; 3] = match self.connection {
            Connection::Star => std::array::from_fn(|k| emf[k] - emf[(k + 1) % 3]),
            // A third of what drives the loop drops in each winding, whatever the frequency.
            Connection::Delta => {
                let mean = (emf[0] + emf[1] + emf[2]) / 3.0;
                emf.map(|emf| emf - mean)
            }
        };
        let part = self.growing();
        part.record.push_sample(sample);
        for (channel, value) in part.line_emf.iter_mut().zip(line_emf) {
            channel.put(value);
        }
        if part.record.n_samples().is_multiple_of(FAN) {
            part.line_emf.iter_mut().for_each(Channel::complete);
        }
        part.torque_nm_s.push(torque_nm_s);
    }

    /// Adds an event; times do not fall.
    pub fn push_event(&mut self, event: Event) {
        self.growing().record.push_event(event);
    }

    /// The part that grows; a new one where the last is full.
    fn growing(&mut self) -> &mut Part {
        if self
            .parts
            .back()
            .is_none_or(|part| part.record.n_samples() >= PART)
        {
            // The oldest is written anew, unless a kept trace still shares it.
            let oldest = if self.parts.len() == self.most_parts {
                self.parts.pop_front()
            } else {
                None
            };
            let mut part = oldest.and_then(Arc::into_inner).unwrap_or_else(Part::new);
            part.clear();
            self.parts.push_back(Arc::new(part));
        }
        let last = self.parts.len() - 1;
        Arc::make_mut(&mut self.parts[last])
    }

    /// Number of samples.
    #[must_use]
    pub fn n_samples(&self) -> usize {
        self.parts.back().map_or(0, |part| {
            (self.parts.len() - 1) * PART + part.record.n_samples()
        })
    }

    /// The last sample.
    #[must_use]
    pub const fn last(&self) -> Option<&Sample> {
        self.last.as_ref()
    }

    fn sample(&self, idx: usize) -> Option<Sample> {
        self.parts.get(idx / PART)?.record.sample(idx % PART)
    }

    fn value_at(&self, trace: Trace, idx: usize) -> Option<f64> {
        let part = self.parts.get(idx / PART)?;
        part.channel(trace).values().get(idx % PART).copied()
    }

    fn time_at(&self, idx: usize) -> Option<f64> {
        self.value_at(Trace::Of(Quantity::Time), idx)
    }

    /// First and last instant in s; `None` while nothing is on record.
    #[must_use]
    pub fn range_s(&self) -> Option<[f64; 2]> {
        let first = self.parts.front()?.times().first()?;
        Some([*first, self.last()?.time_s])
    }

    /// Where an instant lies.
    #[must_use]
    pub fn mark(&self, time_s: f64) -> Mark {
        let after = self.parts.partition_point(|part| {
            let first = part.times().first();
            first.is_none_or(|first_s| *first_s <= time_s)
        });
        let n_before = after.checked_sub(1).map_or(0, |idx| {
            idx * PART + self.parts[idx].times().partition_point(|t| *t <= time_s)
        });
        Mark { time_s, n_before }
    }

    /// The same, found from a mark at or before it: marks one after the other cost little.
    #[must_use]
    pub fn mark_after(&self, earlier: Mark, time_s: f64) -> Mark {
        if time_s < earlier.time_s {
            return self.mark(time_s);
        }
        let before = |idx: usize| self.time_at(idx).is_some_and(|at_s| at_s <= time_s);
        // Samples up to `start` lie at or before the instant; those from `end` on do not.
        let (mut start, mut stride) = (earlier.n_before, 1);
        while before(start + stride - 1) {
            start += stride;
            stride *= 2;
        }
        let mut end = start + stride - 1;
        while start < end {
            let middle = usize::midpoint(start, end);
            if before(middle) {
                start = middle + 1;
            } else {
                end = middle;
            }
        }
        Mark {
            time_s,
            n_before: start,
        }
    }

    /// The value of a trace at a mark: a straight line between two samples; `None` off the tape.
    #[must_use]
    pub fn value_of(&self, trace: Trace, mark: Mark) -> Option<f64> {
        let earlier = mark.n_before.checked_sub(1)?;
        let (a_s, a) = (self.time_at(earlier)?, self.value_at(trace, earlier)?);
        let later = mark.n_before;
        let Some((b_s, b)) = self.time_at(later).zip(self.value_at(trace, later)) else {
            return (mark.time_s <= a_s).then_some(a);
        };
        let share = if b_s > a_s {
            (mark.time_s - a_s) / (b_s - a_s)
        } else {
            0.0
        };
        Some(a + (b - a) * share)
    }

    /// The value of a trace at an instant; `None` off the tape.
    #[must_use]
    pub fn value(&self, trace: Trace, time_s: f64) -> Option<f64> {
        self.value_of(trace, self.mark(time_s))
    }

    /// Lowest and highest value of the curve between two marks, its ends included; `None` where
    /// nothing was recorded.
    #[must_use]
    pub fn min_max(&self, trace: Trace, from: Mark, to: Mark) -> Option<MinMax> {
        let [from, to] = if from.time_s <= to.time_s {
            [from, to]
        } else {
            [to, from]
        };
        let ends = [from, to].map(|end| self.value_of(trace, end));
        self.with_ends(trace, from.n_before..to.n_before, ends)
    }

    /// Lowest and highest value among the samples with index in `range` and at both ends of a stretch.
    fn with_ends(
        &self,
        trace: Trace,
        range: Range<usize>,
        ends: [Option<f64>; 2],
    ) -> Option<MinMax> {
        let [first, last] = ends.map(|end| end.map(MinMax::of));
        [first, self.among(trace, range), last]
            .into_iter()
            .flatten()
            .reduce(MinMax::and)
    }

    /// The same for a column of a picture: where very many samples lie between the marks, their
    /// ends are widened to whole sixteens, so that no single sample has to be fetched. A peak is
    /// then seen up to 15 samples, a part of the column's width, beside its place, and never lost.
    #[must_use]
    pub fn column(&self, trace: Trace, from: Mark, to: Mark) -> Option<MinMax> {
        let first = from.n_before.min(to.n_before);
        let end = from.n_before.max(to.n_before);
        if end - first < DENSE {
            return self.min_max(trace, from, to);
        }
        let end = end.next_multiple_of(FAN).min(self.n_samples());
        self.among(trace, first / FAN * FAN..end)
    }

    /// [`Tape::column`] between each two neighbours of `edges`; `None` where an edge is missing. The
    /// value at an edge is found once for the two columns that meet there.
    #[must_use]
    pub fn columns(&self, trace: Trace, edges: &[Option<Mark>]) -> Vec<Option<MinMax>> {
        let mut known: Option<(Mark, Option<f64>)> = None;
        let column = |pair: &[Option<Mark>]| {
            let (from, to) = (pair[0]?, pair[1]?);
            let first = from.n_before.min(to.n_before);
            let end = from.n_before.max(to.n_before);
            if end - first >= DENSE {
                return self.column(trace, from, to);
            }
            let at_from = match known {
                Some((mark, value)) if mark == from => value,
                _ => self.value_of(trace, from),
            };
            let at_to = self.value_of(trace, to);
            known = Some((to, at_to));
            self.with_ends(trace, first..end, [at_from, at_to])
        };
        edges.windows(2).map(column).collect()
    }

    /// Lowest and highest value among the samples with index in `range`.
    fn among(&self, trace: Trace, range: Range<usize>) -> Option<MinMax> {
        let mut found: Option<MinMax> = None;
        let mut start = range.start;
        while start < range.end {
            let part_idx = start / PART;
            let end = range.end.min((part_idx + 1) * PART);
            let part = self.parts.get(part_idx)?;
            let first = part_idx * PART;
            let here = part.channel(trace).min_max(start - first..end - first);
            found = match (found, here) {
                (Some(a), Some(b)) => Some(a.and(b)),
                (a, b) => a.or(b),
            };
            start = end;
        }
        found
    }

    /// The solution at an instant: straight lines between two samples, legs and step of the last
    /// event. Before the first and after the last, that sample. `None` on an empty tape.
    #[must_use]
    pub fn at(&self, time_s: f64) -> Option<Sample> {
        let after = self.mark(time_s).n_before;
        let earlier = self.sample(after.saturating_sub(1))?;
        let mut sample = match self.sample(after) {
            Some(later) if after > 0 => between(&earlier, &later, time_s),
            _ => earlier,
        };
        if let Some((step, legs)) = self.gates_at(sample.time_s) {
            (sample.step, sample.legs) = (step, legs);
        }
        Some(sample)
    }

    /// The samples from one instant to another, with one more on each side where there is one.
    #[must_use]
    pub fn stretch(&self, from_s: f64, to_s: f64) -> Vec<Sample> {
        let first = self.mark(from_s).n_before.saturating_sub(1);
        let end = (self.mark(to_s).n_before + 1).min(self.n_samples());
        (first..end).filter_map(|idx| self.sample(idx)).collect()
    }

    /// Mean of electromagnetic plus cogging torque between two instants in N m.
    #[must_use]
    pub fn mean_torque_nm(&self, from_s: f64, to_s: f64) -> Option<f64> {
        let up_to = |time_s: f64| {
            let mark = self.mark(time_s);
            let earlier = mark.n_before.checked_sub(1)?;
            let sum = self.parts[earlier / PART].torque_nm_s.get(earlier % PART)?;
            let trace = Trace::Of(Quantity::Torque);
            let (at_s, at, now) = (
                self.time_at(earlier)?,
                self.value_at(trace, earlier)?,
                self.value_of(trace, mark)?,
            );
            Some(sum + 0.5 * (at + now) * (time_s - at_s))
        };
        let mean = (up_to(to_s)? - up_to(from_s)?) / (to_s - from_s);
        mean.is_finite().then_some(mean)
    }

    /// Step and legs at an instant, from the last event at or before it; `None` before any.
    #[must_use]
    pub fn gates_at(&self, time_s: f64) -> Option<(u8, [LegState; 3])> {
        self.event_near(time_s, false, |_| true, true)
            .map(|event| (event.step, event.legs))
    }

    /// The nearest event of a kind after (or before) an instant.
    #[must_use]
    pub fn event(
        &self,
        time_s: f64,
        later: bool,
        wanted: impl Fn(&Event) -> bool,
    ) -> Option<Event> {
        self.event_near(time_s, later, wanted, false)
    }

    fn event_near(
        &self,
        time_s: f64,
        later: bool,
        wanted: impl Fn(&Event) -> bool,
        at_too: bool,
    ) -> Option<Event> {
        let split = |part: &Part, at_too: bool| {
            let before = |event: &Event| event.time_s < time_s || at_too && event.time_s <= time_s;
            part.record.events().partition_point(before)
        };
        // An event lies in the part whose samples are about it, or at the beginning of the next,
        // before its first sample: look from there, part by part.
        let about = self.parts.partition_point(|part| {
            let first = part.times().first();
            first.is_none_or(|first_s| *first_s <= time_s)
        });
        if later {
            let parts = self.parts.range(about.saturating_sub(1)..);
            parts.into_iter().find_map(|part| {
                let events = &part.record.events()[split(part, true)..];
                events.iter().copied().find(|event| wanted(event))
            })
        } else {
            let parts = self.parts.range(..(about + 1).min(self.parts.len()));
            parts.rev().find_map(|part| {
                let events = &part.record.events()[..split(part, at_too)];
                events.iter().rev().copied().find(|event| wanted(event))
            })
        }
    }

    /// The events from one instant (left out) to another (included), in order of time; of more
    /// than `most`, the first.
    pub fn events_between(
        &self,
        from_s: f64,
        to_s: f64,
        most: usize,
    ) -> impl Iterator<Item = &Event> {
        let first = self.parts.partition_point(|part| {
            let last = part.record.events().last();
            last.is_none_or(|event| event.time_s <= from_s)
        });
        self.parts
            .range(first..)
            .flat_map(move |part| {
                let events = part.record.events();
                let start = events.partition_point(|event| event.time_s <= from_s);
                &events[start..]
            })
            .take_while(move |event| event.time_s <= to_s)
            .take(most)
    }

    /// The nearest instant after (or before) `time_s` at which an angle has gone through
    /// `turn_rad` since (or had that to go), in whichever direction.
    #[must_use]
    pub fn turned(&self, angle: Quantity, time_s: f64, turn_rad: f64, later: bool) -> Option<f64> {
        let trace = Trace::Of(angle);
        let mark = self.mark(time_s);
        let start = self.value_of(trace, mark)?;
        let out = |range: &MinMax| range.max >= start + turn_rad || range.min <= start - turn_rad;
        let level = |end: f64| {
            if end > start {
                start + turn_rad
            } else {
                start - turn_rad
            }
        };
        if later {
            let idx = self.first(trace, mark.n_before..self.n_samples(), out)?;
            let (from, to) = (idx.saturating_sub(1), idx);
            self.passed(trace, from, to, level(self.value_at(trace, to)?))
        } else {
            let idx = self.last_of(trace, 0..mark.n_before, out)?;
            let (from, to) = (idx, (idx + 1).min(self.n_samples() - 1));
            self.passed(trace, from, to, level(self.value_at(trace, from)?))
        }
    }

    /// The instant between two samples at which a trace has that value.
    fn passed(&self, trace: Trace, from: usize, to: usize, level: f64) -> Option<f64> {
        let (a_s, b_s) = (self.time_at(from)?, self.time_at(to)?);
        let (a, b) = (self.value_at(trace, from)?, self.value_at(trace, to)?);
        let share = (level - a) / (b - a);
        Some(if share.is_finite() {
            a_s + (b_s - a_s) * share.clamp(0.0, 1.0)
        } else {
            b_s
        })
    }

    /// The first sample of a range of which `wanted` is true, where it is true of a range
    /// exactly if it is true of a sample in it.
    fn first(
        &self,
        trace: Trace,
        range: Range<usize>,
        wanted: impl Fn(&MinMax) -> bool,
    ) -> Option<usize> {
        // In ever longer strides: what is near is found without a look at all the rest.
        let (mut start, mut end) = (range.start, range.start);
        let mut stride = NEAR;
        while self.among(trace, start..end).filter(&wanted).is_none() {
            if end >= range.end {
                return None;
            }
            (start, end) = (end, (end + stride).min(range.end));
            stride *= 2;
        }
        while end - start > 1 {
            let middle = usize::midpoint(start, end);
            if self.among(trace, start..middle).filter(&wanted).is_some() {
                end = middle;
            } else {
                start = middle;
            }
        }
        Some(start)
    }

    /// The last such sample.
    fn last_of(
        &self,
        trace: Trace,
        range: Range<usize>,
        wanted: impl Fn(&MinMax) -> bool,
    ) -> Option<usize> {
        let (mut start, mut end) = (range.end, range.end);
        let mut stride = NEAR;
        while self.among(trace, start..end).filter(&wanted).is_none() {
            if start <= range.start {
                return None;
            }
            (start, end) = (start.saturating_sub(stride).max(range.start), start);
            stride *= 2;
        }
        while end - start > 1 {
            let middle = usize::midpoint(start, end);
            if self.among(trace, middle..end).filter(&wanted).is_some() {
                start = middle;
            } else {
                end = middle;
            }
        }
        Some(start)
    }

    /// The instant from `from_s` to `to_s` at which an angle that only rises, or only falls,
    /// there has that value; the nearer end where it never has.
    #[must_use]
    pub fn instant_of(&self, angle: Quantity, value_rad: f64, from_s: f64, to_s: f64) -> f64 {
        let trace = Trace::Of(angle);
        let (mut start, mut end) = (self.mark(from_s).n_before, self.mark(to_s).n_before);
        let ends = (self.value(trace, from_s), self.value(trace, to_s));
        let (Some(first), Some(last)) = ends else {
            return from_s;
        };
        let rises = last >= first;
        let reached = |value: f64| (value >= value_rad) == rises || value == value_rad;
        if reached(first) {
            return from_s;
        }
        if !reached(last) {
            return to_s;
        }
        while start < end {
            let middle = usize::midpoint(start, end);
            if self.value_at(trace, middle).is_some_and(reached) {
                end = middle;
            } else {
                start = middle + 1;
            }
        }
        self.passed(trace, start.saturating_sub(1), start, value_rad)
            .map_or(to_s, |time_s| time_s.clamp(from_s, to_s))
    }
}

fn between(a: &Sample, b: &Sample, time_s: f64) -> Sample {
    let share = (time_s - a.time_s) / (b.time_s - a.time_s).max(f64::MIN_POSITIVE);
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

#[cfg(test)]
mod tests;
