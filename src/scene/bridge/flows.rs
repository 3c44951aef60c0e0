//! Which part of the bridge carries how much.

use super::MARK_PERIOD;
use crate::drive::LegState;

/// The way a leg's current takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// Through the upper switch.
    UpperSwitch,
    /// Through the lower switch.
    LowerSwitch,
    /// Through the upper diode, back to the positive rail.
    UpperDiode,
    /// Through the lower diode, from the negative rail.
    LowerDiode,
}

impl Way {
    /// True where the way leads to the positive rail.
    #[must_use]
    pub const fn is_upper(self) -> bool {
        matches!(self, Self::UpperSwitch | Self::UpperDiode)
    }

    /// True where a diode carries the current.
    #[must_use]
    pub const fn is_diode(self) -> bool {
        matches!(self, Self::UpperDiode | Self::LowerDiode)
    }
}

/// The way of a leg's current, positive into the machine. A switch that is on carries both
/// directions; a floating leg's current flows through the lower diode where it is positive.
#[must_use]
pub fn way(state: LegState, lead_current_a: f64) -> Way {
    match state {
        LegState::High => Way::UpperSwitch,
        LegState::Low => Way::LowerSwitch,
        LegState::Floating if lead_current_a > 0.0 => Way::LowerDiode,
        LegState::Floating => Way::UpperDiode,
    }
}

/// Currents in A of every part of the bridge, towards the machine.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Flows {
    /// Leads of U, V, W.
    pub lead_a: [f64; 3],
    /// Positive rail before leg U, between U and V, between V and W; positive away from the
    /// source.
    pub plus_a: [f64; 3],
    /// The same of the negative rail.
    pub minus_a: [f64; 3],
    /// Through the source from its negative to its positive end.
    pub source_a: f64,
    /// Through the capacitor the same way: positive while it discharges.
    pub capacitor_a: f64,
}

impl Flows {
    /// Follows the currents of the leads back to the source. `source_a` is the current of the
    /// source behind its resistance; `None`: a stiff source without a capacitor gives it all.
    #[must_use]
    pub fn new(legs: [LegState; 3], lead_a: [f64; 3], source_a: Option<f64>) -> Self {
        let from = |upper: bool, leg: usize| {
            if way(legs[leg], lead_a[leg]).is_upper() == upper {
                lead_a[leg]
            } else {
                0.0
            }
        };
        let beyond = |upper: bool| {
            let (u, v, w) = (from(upper, 0), from(upper, 1), from(upper, 2));
            [u + v + w, v + w, w]
        };
        let (plus_a, minus_a) = (beyond(true), beyond(false));
        let source_a = source_a.unwrap_or(plus_a[0]);
        Self {
            lead_a,
            plus_a,
            minus_a,
            source_a,
            capacitor_a: plus_a[0] - source_a,
        }
    }
}

/// How far the marks on every path have run, in bench units; the same parts as in [`Flows`].
///
/// It grows with the charge that has passed, so a mark never jumps, whatever the current does.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Travel {
    /// Leads, with the switches or diodes that feed them.
    pub lead: [f64; 3],
    /// Positive rail.
    pub plus: [f64; 3],
    /// Negative rail.
    pub minus: [f64; 3],
    /// Source.
    pub source: f64,
    /// Capacitor.
    pub capacitor: f64,
}

impl Travel {
    /// Lets the marks run on: `per_ampere` is bench units for each ampere, that is the time
    /// passed multiplied by how fast an ampere is shown.
    pub fn advance(&mut self, flows: &Flows, per_ampere: f64) {
        let run = |travel: &mut f64, current_a: f64| {
            *travel = (*travel + current_a * per_ampere).rem_euclid(MARK_PERIOD);
        };
        for leg in 0..3 {
            run(&mut self.lead[leg], flows.lead_a[leg]);
            run(&mut self.plus[leg], flows.plus_a[leg]);
            run(&mut self.minus[leg], flows.minus_a[leg]);
        }
        run(&mut self.source, flows.source_a);
        run(&mut self.capacitor, flows.capacitor_a);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use LegState::{Floating as Z, High as H, Low as L};

    /// Kirchhoff at the source: what comes over the positive rail goes back over the negative.
    #[test]
    fn what_leaves_comes_back() {
        for legs in [[H, L, Z], [Z, H, L], [Z, L, Z], [L, L, L], [Z, Z, Z]] {
            for lead in [[3.0, -2.0, -1.0], [-3.0, 1.0, 2.0], [2.0, -2.0, 0.0]] {
                let flows = Flows::new(legs, lead, None);
                let sum = flows.plus_a[0] + flows.minus_a[0];
                assert!(sum.abs() < 1e-12, "{legs:?} {lead:?} {flows:?}");
            }
        }
    }

    /// Conventions, "Circuit": a floating leg with positive current flows through the lower
    /// diode, with negative through the upper.
    #[test]
    fn a_floating_leg_takes_the_diode_of_its_current() {
        assert_eq!(way(Z, 1.0), Way::LowerDiode);
        assert_eq!(way(Z, -1.0), Way::UpperDiode);
        // Step 1 in the off time of high-side chopping: U is off and freewheels from below, so
        // nothing comes from the supply.
        let flows = Flows::new([Z, L, Z], [2.0, -2.0, 0.0], None);
        assert_eq!(flows.plus_a, [0.0; 3]);
        assert_eq!(flows.minus_a, [0.0, -2.0, 0.0]);
    }
}
