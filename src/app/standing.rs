//! What stands on the bench, and what stood there before.

use crate::machine::inside::winding_of;
use crate::setup::{
    Chop, Commutation, Connection, EmfConstant, EmfShape, ForcedSetup, Problem, PwmSetup, Setup,
    SetupErrors, WindingSetup, set_key,
};
use crate::winding::Winding;

/// Most changes that can be taken back.
const MOST_UNDONE: usize = 200;

/// The setup that runs, with the ones before it. Only a setup that passed all checks gets here.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    setup: Setup,
    before: Vec<Setup>,
    after: Vec<Setup>,
}

impl Standing {
    /// A bench without a past.
    #[must_use]
    pub const fn new(setup: Setup) -> Self {
        Self {
            setup,
            before: Vec::new(),
            after: Vec::new(),
        }
    }

    /// What stands there now.
    #[must_use]
    pub const fn setup(&self) -> &Setup {
        &self.setup
    }

    /// True where a change can be taken back.
    #[must_use]
    pub const fn can_undo(&self) -> bool {
        !self.before.is_empty()
    }

    /// True where a change that was taken back can be made again.
    #[must_use]
    pub const fn can_redo(&self) -> bool {
        !self.after.is_empty()
    }

    /// Sets one key to a value as a person writes it: `11.1 V`, `14`, `delta`. True where that
    /// changes anything. `same_gesture` joins it to the change before, as while a slider moves.
    ///
    /// # Errors
    /// What is wrong with the value, and what would be right; the bench stays as it was.
    pub fn set(&mut self, key: &str, text: &str, same_gesture: bool) -> Result<bool, String> {
        let mut next = self.setup.clone();
        if key.starts_with("machine.") {
            self.set_machine(&mut next, key, text)?;
            next = Setup::parse(&next.to_toml(), "bench").map_err(|errors| first(&errors))?;
        } else if key == "drive.commutation"
            && text == "forced"
            && next.bench.drive.forced.is_none()
        {
            next.bench.drive.commutation = Commutation::Forced;
            next.bench.drive.forced = Some(FORCED);
        } else {
            next.bench = set_key(&next.bench, key, text).map_err(|problem| words(&problem))?;
        }
        Ok(self.take(next, same_gesture))
    }

    /// Gives a drive that is fully on a PWM, fully on at first. False where it has one.
    pub fn add_pwm(&mut self) -> bool {
        let mut next = self.setup.clone();
        next.bench.drive.pwm.get_or_insert(FULLY_ON);
        self.take(next, false)
    }

    /// Winds the machine so. Where the setup gives the EMF's constant, it goes with the winding
    /// factor, as with the same turns; resistance and inductance stay as they are given. True where
    /// that changes anything.
    ///
    /// # Errors
    /// What the checks of a setup have against it; the bench stays as it was.
    pub fn wind(&mut self, winding: &Winding) -> Result<bool, String> {
        let mut next = self.setup.clone();
        let machine = &mut next.machine;
        let Some(before) = winding_of(machine) else {
            return Err("the winding on the bench is not known".to_owned());
        };
        let (layers, span) = (winding.layers(), winding.coil_span());
        let own = machine.winding.take();
        let laid_out = span
            .and_then(|span| Winding::lay_out(winding.slots(), winding.poles(), layers, span).ok())
            .is_some_and(|plain| plain.sides() == winding.sides());
        machine.winding = Some(WindingSetup {
            layers,
            coil_span: span.or(own.as_ref().map(|own| own.coil_span)).unwrap_or(1),
            turns: own.as_ref().and_then(|own| own.turns),
            parallel_paths: own.as_ref().map_or(1, |own| own.parallel_paths),
            layout: (!laid_out).then(|| winding.sides().to_vec()),
        });
        let share = winding.factor(1).total / before.factor(1).total;
        match &mut machine.emf.constant {
            EmfConstant::KvRadPerVs(kv) => *kv /= share,
            EmfConstant::PhaseVsPerRad(k_e) => *k_e *= share,
            EmfConstant::Computed => {}
        }
        let next = Setup::parse(&next.to_toml(), "bench").map_err(|errors| first(&errors))?;
        Ok(self.take(next, false))
    }

    /// Puts a whole setup there, as one change. False where that is what stands there already.
    pub fn put(&mut self, setup: Setup) -> bool {
        self.take(setup, false)
    }

    fn take(&mut self, next: Setup, same_gesture: bool) -> bool {
        if next == self.setup {
            return false;
        }
        let last = std::mem::replace(&mut self.setup, next);
        if !(same_gesture && self.can_undo()) {
            self.before.push(last);
            if self.before.len() > MOST_UNDONE {
                self.before.remove(0);
            }
        }
        self.after.clear();
        true
    }

    fn set_machine(&self, next: &mut Setup, key: &str, text: &str) -> Result<(), String> {
        let machine = &mut next.machine;
        let count = || {
            text.trim()
                .parse::<u32>()
                .map_err(|_| format!("“{text}” is not a whole number; write 12, say"))
        };
        match key {
            "machine.slots" => machine.slots = count()?,
            "machine.poles" => machine.poles = count()?,
            "machine.connection" => {
                machine.connection = if text == "delta" {
                    Connection::Delta
                } else {
                    Connection::Star
                };
            }
            "machine.emf.shape" => {
                machine.emf.shape = match text {
                    "trapezoid" => EmfShape::Trapezoid,
                    "sine" => EmfShape::Sine,
                    "computed" => EmfShape::Computed(Vec::new()),
                    _ => {
                        return Err(
                            "amplitudes of harmonics are written in the setup file".to_owned()
                        );
                    }
                };
            }
            _ => return Err(format!("{key} cannot change while the bench runs")),
        }
        Ok(())
    }

    /// Takes the last change back. False where there is none.
    pub fn undo(&mut self) -> bool {
        let Some(earlier) = self.before.pop() else {
            return false;
        };
        self.after.push(std::mem::replace(&mut self.setup, earlier));
        true
    }

    /// Makes the last change that was taken back again. False where there is none.
    pub fn redo(&mut self) -> bool {
        let Some(later) = self.after.pop() else {
            return false;
        };
        self.before.push(std::mem::replace(&mut self.setup, later));
        true
    }
}

/// The clock that a drive gets which had none: 50 electrical turns a second, no ramp.
const FORCED: ForcedSetup = ForcedSetup {
    frequency_hz: 50.0,
    start_frequency_hz: 50.0,
    ramp_s: 0.0,
    start_step: 1,
    align_s: 0.0,
};

/// The PWM that a drive gets which had none.
const FULLY_ON: PwmSetup = PwmSetup {
    frequency_hz: 20e3,
    duty: 1.0,
    chop: Chop::HighSide,
};

fn first(errors: &SetupErrors) -> String {
    errors
        .problems()
        .first()
        .map_or_else(|| errors.to_string(), words)
}

fn words(problem: &Problem) -> String {
    problem.remedy().map_or_else(
        || problem.to_string(),
        |remedy| format!("{problem}: {remedy}"),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::built_in;

    fn standing() -> Standing {
        Standing::new(Setup::parse(built_in(), "built in").unwrap())
    }

    #[test]
    fn a_bad_value_leaves_the_last_good_one() {
        let mut bench = standing();
        let before = bench.clone();
        for (key, text) in [
            ("supply.voltage", "12"),
            ("drive.pwm.duty", "1.5"),
            ("machine.poles", "13"),
            ("machine.slots", "many"),
            ("machine.slots", "11"),
        ] {
            let why = bench.set(key, text, false).unwrap_err();
            assert!(why.len() > 8, "{key}: {why}");
            assert_eq!(bench, before, "{key}");
        }
    }

    #[test]
    fn changes_are_taken_back_and_made_again() {
        let mut bench = standing();
        assert_eq!(bench.set("machine.poles", "10", false), Ok(true));
        assert_eq!(bench.set("drive.pwm.duty", "0.7", false), Ok(true));
        assert_eq!(bench.set("drive.pwm.duty", "0.8", true), Ok(true));
        assert!(bench.undo());
        assert_eq!(
            bench.setup().bench.drive.pwm.unwrap().duty,
            0.6,
            "one gesture, one change"
        );
        assert!(bench.undo() && !bench.can_undo());
        assert_eq!(
            bench,
            Standing {
                after: bench.after.clone(),
                ..standing()
            }
        );
        assert!(bench.redo() && bench.redo() && !bench.redo());
        assert_eq!(
            (
                bench.setup().machine.poles,
                bench.setup().bench.drive.pwm.unwrap().duty
            ),
            (10, 0.8)
        );
    }

    /// One layer in a 12/14 has the factor cos 15° = 0.9659 instead of (2 + √3)/4 = 0.9330 (worked
    /// from the star of slots): with the same turns Kv falls by that much, and undo takes it back.
    #[test]
    fn a_given_kv_goes_with_the_winding_factor() {
        let kv = |bench: &Standing| match bench.setup().machine.emf.constant {
            EmfConstant::KvRadPerVs(kv) => kv,
            _ => 0.0,
        };
        let mut bench = standing();
        let before = kv(&bench);
        let one_layer = Winding::lay_out(12, 14, 1, 1).unwrap();
        assert_eq!(bench.wind(&one_layer), Ok(true));
        let share = kv(&bench) / before;
        assert!((share - 0.933_012_7 / 0.965_925_8).abs() < 1e-6, "{share}");
        let winding = bench.setup().machine.winding.clone().unwrap();
        assert_eq!((winding.layers, winding.layout), (1, None));
        assert_eq!(winding.turns, Some(9), "the turns stay");
        assert!(bench.undo() && kv(&bench) == before);
    }

    #[test]
    fn a_drive_without_a_clock_gets_one() {
        let mut bench = standing();
        assert_eq!(bench.set("drive.commutation", "forced", false), Ok(true));
        assert_eq!(
            Setup::parse(&bench.setup().to_toml(), "again").unwrap(),
            *bench.setup()
        );
    }
}
