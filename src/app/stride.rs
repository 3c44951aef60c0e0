//! How far one step of time goes.

use crate::record::{EventKind, Quantity, Tape};

/// What a step goes to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Stride {
    /// The next edge of the PWM.
    PwmEvent,
    /// The next commutation.
    #[default]
    Commutation,
    /// One turn of the electrical angle on from here.
    ElectricalTurn,
    /// One turn of the rotor on from here.
    MechanicalTurn,
}

impl Stride {
    /// From the shortest.
    pub const ALL: [Self; 4] = [
        Self::PwmEvent,
        Self::Commutation,
        Self::ElectricalTurn,
        Self::MechanicalTurn,
    ];

    /// Its name on the screen.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::PwmEvent => "PWM event",
            Self::Commutation => "commutation",
            Self::ElectricalTurn => "electrical turn",
            Self::MechanicalTurn => "mechanical turn",
        }
    }

    /// Where a step from `time_s` leads; `None` where it leads off the tape.
    #[must_use]
    pub fn target_s(self, tape: &Tape, time_s: f64, later: bool) -> Option<f64> {
        let turn = |angle| tape.turned(angle, time_s, std::f64::consts::TAU, later);
        let event = |wanted: fn(EventKind) -> bool| {
            tape.event(time_s, later, |event| wanted(event.kind))
                .map(|event| event.time_s)
        };
        let target_s = match self {
            Self::PwmEvent => event(|kind| matches!(kind, EventKind::PwmOn | EventKind::PwmOff)),
            Self::Commutation => event(|kind| kind == EventKind::StepChange),
            Self::ElectricalTurn => turn(Quantity::ThetaElec),
            Self::MechanicalTurn => turn(Quantity::ThetaMech),
        }?;
        let [from_s, to_s] = tape.range_s()?;
        (from_s..=to_s).contains(&target_s).then_some(target_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::Live;
    use crate::setup::{Setup, built_in};

    fn live() -> Live {
        let setup = Setup::parse(built_in(), "built in").unwrap();
        let mut live = Live::new(&setup);
        while live.record().range_s().is_some_and(|range| range[1] < 0.1) {
            live.slice(0.1);
        }
        live
    }

    /// On and back again ends where it began, for each stride; the longer strides go farther.
    #[test]
    fn a_step_back_undoes_a_step_on() {
        let live = live();
        let tape = live.record();
        let mut last_s = 0.0;
        for stride in Stride::ALL {
            let start_s = stride.target_s(tape, 0.05, true).unwrap();
            let on_s = stride.target_s(tape, start_s, true).unwrap();
            let back_s = stride.target_s(tape, on_s, false).unwrap();
            assert!(
                (back_s - start_s).abs() < 1e-9,
                "{stride:?} {start_s} {back_s}"
            );
            assert!(on_s - start_s > last_s, "{stride:?}");
            last_s = on_s - start_s;
        }
        assert_eq!(Stride::MechanicalTurn.target_s(tape, 0.0999, true), None);
        assert_eq!(Stride::Commutation.target_s(tape, 0.0, false), None);
    }

    /// Two edges of the PWM to a period of 50 µs; six commutations to an electrical turn.
    #[test]
    fn steps_are_those_of_the_drive() {
        let live = live();
        let tape = live.record();
        let after = |stride: Stride, count: u32| {
            (0..count).fold(0.08, |time_s, _| {
                stride.target_s(tape, time_s, true).unwrap()
            })
        };
        let period_s = after(Stride::PwmEvent, 21) - after(Stride::PwmEvent, 1);
        assert!((period_s - 10.0 * 50e-6).abs() < 1e-9, "{period_s}");
        let first_s = after(Stride::Commutation, 1);
        let six_s = after(Stride::Commutation, 7);
        let turn_s = Stride::ElectricalTurn
            .target_s(tape, first_s, true)
            .unwrap();
        assert!((six_s - turn_s).abs() < 1e-7, "{six_s} {turn_s}");
    }
}
