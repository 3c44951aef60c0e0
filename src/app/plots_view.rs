//! Where on the axis a person looks: following now, or held; zoom and pan.

use crate::scene::plots::Axis;

/// Seconds of the show that the waveforms reach over, before any zoom.
const SHOW_S: f64 = 6.0;
/// Where now lies on the time axis while it is followed.
const NOW_SHARE: f64 = 0.72;
/// Shortest stretch of time in sight, in s: a nanosecond is below every event.
const SHORTEST_S: f64 = 1e-8;
/// Least angle in sight, in degrees.
const LEAST_DEG: f64 = 1.0;

/// Which part of the axis is in sight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct PlotsView {
    /// Electrical angle instead of time.
    pub(super) folded: bool,
    /// Turns laid over each other when folded.
    pub(super) turns: u32,
    /// Held stretch of time in s; `None`: now is followed.
    pub(super) held_s: Option<[f64; 2]>,
    /// Length in sight while following, as a part of what the pace gives.
    follow_zoom: f64,
    /// Angles in sight when folded, in degrees.
    angles_deg: [f64; 2],
}

impl Default for PlotsView {
    fn default() -> Self {
        Self {
            folded: false,
            turns: 4,
            held_s: None,
            follow_zoom: 1.0,
            angles_deg: [0.0, 360.0],
        }
    }
}

impl PlotsView {
    /// The axis for an instant and a pace.
    pub(super) fn axis(&self, now_s: f64, pace: f64) -> Axis {
        if self.folded {
            let [from, to] = self.angles_deg;
            let turns = self.turns;
            return Axis::Angle { from, to, turns };
        }
        let [from, to] = self.held_s.unwrap_or_else(|| {
            let length_s = (SHOW_S * pace * self.follow_zoom).max(SHORTEST_S);
            // There is nothing before the start: what has been seen grows from the left first.
            let from_s = (now_s - NOW_SHARE * length_s).max(0.0);
            [from_s, from_s + length_s]
        });
        Axis::Time { from, to }
    }

    /// Enlarges by a factor above 1, or the other way, round a share of the axis; while now is
    /// followed, round now.
    pub(super) fn zoom(&mut self, factor: f64, share: f64, axis: &Axis) {
        if self.folded {
            let [from, to] = round_share(axis.ends(), factor, share, LEAST_DEG);
            self.angles_deg = kept_within([from, to], [0.0, 360.0]);
        } else if let Some(ends) = &mut self.held_s {
            *ends = round_share(*ends, factor, share, SHORTEST_S);
        } else {
            self.follow_zoom = (self.follow_zoom / factor).clamp(1e-6, 1e3);
        }
    }

    /// Moves what is in sight by a share of its length; a followed time is held from then on.
    pub(super) fn pan(&mut self, share: f64, axis: &Axis) {
        let [from, to] = axis.ends();
        let by = share * (to - from);
        if self.folded {
            self.angles_deg = kept_within([from + by, to + by], [0.0, 360.0]);
        } else {
            self.held_s = Some([from + by, to + by]);
        }
    }

    /// Shows all that is on record, or the whole turn.
    pub(super) fn fit(&mut self, range_s: [f64; 2]) {
        if self.folded {
            self.angles_deg = [0.0, 360.0];
        } else {
            let [from, to] = range_s;
            self.held_s = Some([from, to.max(from + SHORTEST_S)]);
        }
    }

    /// Follows now again, as far as the pace goes.
    pub(super) fn follow(&mut self) {
        self.held_s = None;
        self.follow_zoom = 1.0;
    }
}

/// Both ends, nearer by the factor to what lies at a share of them.
fn round_share([from, to]: [f64; 2], factor: f64, share: f64, least: f64) -> [f64; 2] {
    let fixed = from + share * (to - from);
    let length = ((to - from) / factor).clamp(least, 1e6);
    let from = fixed - share * length;
    [from, from + length]
}

/// The same stretch, moved or cut so that it lies within another.
fn kept_within([from, to]: [f64; 2], [low, high]: [f64; 2]) -> [f64; 2] {
    let length = (to - from).min(high - low);
    let from = from.clamp(low, high - length);
    [from, from + length]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_under_the_pointer_stays_there() {
        let mut view = PlotsView::default();
        view.fit([0.0, 2.0]);
        let before = view.axis(0.5, 1.0);
        view.zoom(4.0, 0.25, &before);
        let after = view.axis(0.5, 1.0);
        assert!((after.place(0.25) - 0.5).abs() < 1e-12);
        let [from, to] = after.ends();
        assert!((to - from - 0.5).abs() < 1e-12);
        view.zoom(1e30, 0.5, &after);
        let [from, to] = view.axis(0.5, 1.0).ends();
        assert!(to > from, "never to nothing");
    }

    #[test]
    fn a_pan_holds_what_was_followed_and_follow_lets_go() {
        let mut view = PlotsView::default();
        let followed = view.axis(1.0, 1e-3);
        assert!((followed.share(1.0) - NOW_SHARE).abs() < 1e-9);
        view.pan(-0.5, &followed);
        let held = view.axis(9.0, 1e-3);
        assert!((held.ends()[0] - (followed.ends()[0] - 0.003)).abs() < 1e-12);
        view.follow();
        assert!((view.axis(9.0, 1e-3).share(9.0) - NOW_SHARE).abs() < 1e-9);
    }

    #[test]
    fn a_folded_axis_stays_within_a_turn() {
        let mut view = PlotsView {
            folded: true,
            ..PlotsView::default()
        };
        let axis = view.axis(0.0, 1.0);
        view.zoom(2.0, 1.0, &axis);
        assert_eq!(view.axis(0.0, 1.0).ends(), [180.0, 360.0]);
        let axis = view.axis(0.0, 1.0);
        view.pan(3.0, &axis);
        assert_eq!(view.axis(0.0, 1.0).ends(), [180.0, 360.0]);
        let axis = view.axis(0.0, 1.0);
        view.zoom(0.01, 0.5, &axis);
        assert_eq!(view.axis(0.0, 1.0).ends(), [0.0, 360.0]);
    }
}
