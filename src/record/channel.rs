//! One recorded quantity under a pyramid of minima and maxima.
//!
//! ```text
//! level 1   [          min max of 256 samples          ] [ …
//! level 0   [min max of 16] [min max of 16] [min max of 16] …
//! values    v v v v v v v v v v v v v v v v v v v v v v v v …
//! ```
//!
//! The lowest and highest value of any range is found from at most 30 entries of each level, so
//! a plot of a million samples costs as much as its width in pixels, and no peak is skipped.

use std::ops::Range;

/// How many entries of one level make one entry of the next. At 16 a pyramid adds 13 % to the
/// memory of its values.
pub(super) const FAN: usize = 16;

/// Lowest and highest value of a range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MinMax {
    /// Lowest value.
    pub min: f64,
    /// Highest value.
    pub max: f64,
}

impl MinMax {
    /// The range of one value.
    #[must_use]
    pub const fn of(value: f64) -> Self {
        Self {
            min: value,
            max: value,
        }
    }

    /// The smallest range that holds both.
    #[must_use]
    pub const fn and(self, other: Self) -> Self {
        Self {
            min: self.min.min(other.min),
            max: self.max.max(other.max),
        }
    }

    /// Highest minus lowest.
    #[must_use]
    pub fn span(self) -> f64 {
        self.max - self.min
    }
}

/// Minima and maxima of ever longer pieces of a growing list of values.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pyramid {
    /// \[level\]\[entry\]; entry k of level n covers values k·16ⁿ⁺¹ up to (k+1)·16ⁿ⁺¹, and is there
    /// when all of them are.
    levels: Vec<Vec<MinMax>>,
}

impl Pyramid {
    /// Takes in the sixteen values that have just become complete, given all values up to them.
    /// An entry of a higher level is made when it is complete too.
    fn take_last(&mut self, values: &[f64]) {
        let mut entry = fold_values(&values[values.len() - FAN..]);
        for level in 0.. {
            let Some(complete) = entry else { return };
            if level == self.levels.len() {
                self.levels.push(Vec::new());
            }
            let entries = &mut self.levels[level];
            entries.push(complete);
            if !entries.len().is_multiple_of(FAN) {
                return;
            }
            entry = fold(&entries[entries.len() - FAN..]);
        }
    }

    /// Number of levels above the values.
    #[must_use]
    pub fn n_levels(&self) -> usize {
        self.levels.iter().filter(|level| !level.is_empty()).count()
    }
}

fn fold_values(values: &[f64]) -> Option<MinMax> {
    let (mut min, mut max) = (f64::INFINITY, f64::NEG_INFINITY);
    // a comparison with what is not a number is false, and leaves it out
    for value in values {
        min = if *value < min { *value } else { min };
        max = if *value > max { *value } else { max };
    }
    if min <= max {
        Some(MinMax { min, max })
    } else {
        values.first().copied().map(MinMax::of)
    }
}

fn fold(entries: &[MinMax]) -> Option<MinMax> {
    entries.iter().copied().reduce(MinMax::and)
}

/// One quantity over a run: its values at the sampling instants, and their pyramid.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Channel {
    values: Vec<f64>,
    pyramid: Pyramid,
}

impl Channel {
    /// An empty channel with room for so many values.
    #[must_use]
    pub(super) fn with_room(n_values: usize) -> Self {
        let mut levels = Vec::new();
        let mut n_entries = n_values / FAN;
        while n_entries > 0 {
            levels.push(Vec::with_capacity(n_entries));
            n_entries /= FAN;
        }
        Self {
            values: Vec::with_capacity(n_values),
            pyramid: Pyramid { levels },
        }
    }

    /// Empties it; the room stays.
    pub(super) fn clear(&mut self) {
        self.values.clear();
        self.pyramid.levels.iter_mut().for_each(Vec::clear);
    }

    /// Adds the value of the next instant. A value that is not a number is kept, and left out
    /// of minima and maxima.
    pub fn push(&mut self, value: f64) {
        self.put(value);
        if self.values.len().is_multiple_of(FAN) {
            self.complete();
        }
    }

    /// Adds a value and leaves the pyramid to [`Channel::complete`], which whoever adds to many
    /// channels at once calls for all of them after every sixteenth.
    pub(super) fn put(&mut self, value: f64) {
        self.values.push(value);
    }

    /// Takes the last sixteen values into the pyramid.
    pub(super) fn complete(&mut self) {
        self.pyramid.take_last(&self.values);
    }

    /// All values, in order of time.
    #[must_use]
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// The pyramid above the values.
    #[must_use]
    pub const fn pyramid(&self) -> &Pyramid {
        &self.pyramid
    }

    /// Number of values.
    #[must_use]
    pub fn len(&self) -> usize {
        self.values.len()
    }

    /// True before the first value.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.values.is_empty()
    }

    /// Lowest and highest value among those with index in `range`, cut to what is there; `None`
    /// where that is nothing.
    #[must_use]
    pub fn min_max(&self, range: Range<usize>) -> Option<MinMax> {
        let mut first = range.start;
        let mut end = range.end.min(self.values.len());
        let mut found: Option<MinMax> = None;
        let mut take = |entry: MinMax| {
            found = Some(found.map_or(entry, |so_far| so_far.and(entry)));
        };
        let mut levels = self.pyramid.levels.iter();
        let mut below: Option<&Vec<MinMax>> = None;
        loop {
            let entry = |idx: usize| {
                below.map_or_else(|| MinMax::of(self.values[idx]), |entries| entries[idx])
            };
            let Some(above) = levels.next() else {
                (first..end).for_each(|idx| take(entry(idx)));
                return found;
            };
            while first < end && !first.is_multiple_of(FAN) {
                take(entry(first));
                first += 1;
            }
            while first < end && !end.is_multiple_of(FAN) {
                end -= 1;
                take(entry(end));
            }
            if first >= end {
                return found;
            }
            first /= FAN;
            end /= FAN;
            below = Some(above);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn channel(values: &[f64]) -> Channel {
        let mut channel = Channel::default();
        values.iter().for_each(|&value| channel.push(value));
        channel
    }

    proptest! {
        /// The pyramid says what a walk over all values says, for any range.
        #[test]
        fn agrees_with_a_walk(
            values in prop::collection::vec(-1e6..1e6f64, 0..5000),
            a in 0usize..5200,
            b in 0usize..5200,
        ) {
            let channel = channel(&values);
            let end = b.min(values.len());
            let wanted = if a < end { fold_values(&values[a..end]) } else { None };
            prop_assert_eq!(channel.min_max(a..b), wanted);
        }
    }

    /// A peak one sample wide among a hundred thousand is in the answer for the whole.
    #[test]
    fn a_single_peak_is_never_lost() {
        let mut values = vec![1.0; 100_000];
        values[76_543] = 99.0;
        let channel = channel(&values);
        assert_eq!(
            channel.min_max(0..100_000),
            Some(MinMax {
                min: 1.0,
                max: 99.0
            })
        );
        assert_eq!(channel.min_max(76_543..76_544), Some(MinMax::of(99.0)));
        assert_eq!(channel.min_max(76_544..100_000), Some(MinMax::of(1.0)));
    }

    /// 100 000 values: 6250, 390, 24 and 1 complete entries.
    #[test]
    fn grows_by_whole_levels() {
        assert_eq!(channel(&vec![0.0; 100_000]).pyramid().n_levels(), 4);
        assert_eq!(channel(&[0.0; 3]).pyramid().n_levels(), 0);
    }

    #[test]
    fn an_empty_range_has_no_minimum() {
        assert_eq!(channel(&[1.0, 2.0]).min_max(1..1), None);
        assert_eq!(channel(&[]).min_max(0..10), None);
    }
}
