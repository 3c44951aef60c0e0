//! Every combination of parts against the goal.

use super::goal::Goal;
use super::miss::{Miss, used_of};
use super::parts::{Axis, Part, Parts};
use crate::predict::{
    Build, DOUBTED_TIP_MACH, Gear, Limit, Locked, MeetError, Met, Point, PredictError, Propeller,
    Regime, Standstill, duty_for, limits,
};

/// Most combinations of one search, so that it ends within minutes and its rows fit into memory.
pub const MOST_COMBINATIONS: u64 = 200_000;

/// What a combination that does comes to. SI units.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// MOSFETs in parallel in each switch: as given, or the least that do.
    pub parallel: u32,
    /// Duty that just meets the goal.
    pub duty: f64,
    /// What happens there.
    pub point: Point,
    /// Run time in s, where the pack's capacity is given.
    pub run_time_s: Option<f64>,
    /// The fullest limit, where one is given.
    pub tightest: Option<Limit>,
    /// Current in A with the shaft locked, fully on, where nothing limits it.
    pub locked_a: f64,
    /// Speed of a propeller's tips in m/s.
    pub tip_m_s: Option<f64>,
    /// Whether those are so fast that the propeller's coefficients are doubted.
    pub tips_doubted: bool,
}

impl Answer {
    /// Why it is good, or how good: power, run time, the fullest limit.
    #[must_use]
    pub fn words(&self) -> String {
        let mut words = String::new();
        if self.parallel > 1 {
            words += &format!("{} MOSFETs in parallel; ", self.parallel);
        }
        words += &format!("{:.3} W from the pack", Digits(self.point.input_w));
        if let Some(time_s) = self.run_time_s {
            words += &format!(", {:.3} min", Digits(time_s / 60.0));
        }
        if let Some(limit) = &self.tightest {
            words += &format!("; fullest: {} ({})", used_of(limit), limit.part_in_words());
        } else {
            words += "; no limit is given";
        }
        if let (Some(tip_m_s), true) = (self.tip_m_s, self.tips_doubted) {
            words += &format!("; tips at {:.3} m/s, too fast", Digits(tip_m_s));
        }
        if self.point.regime != Regime::Continuous {
            words += "; only about";
        }
        words
    }
}

/// A number with so many significant digits.
struct Digits(f64);

impl std::fmt::Display for Digits {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let unit = crate::analysis::Unit::NUMBER;
        f.write_str(&crate::analysis::shown(self.0, unit, f.precision().unwrap_or(3)).number)
    }
}

/// One combination and what came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Its number, from 0.
    pub idx: u64,
    /// Which part of each kind, by [`Axis`].
    pub parts: [usize; 5],
    /// What it comes to, or why it does not do.
    pub outcome: Result<Box<Answer>, Miss>,
}

/// Why nothing can be chosen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ChooseError {
    /// Neither goal nor parts have one of these.
    Without(Axis),
    /// More combinations than are tried.
    TooMany {
        /// How many of each kind, by [`Axis`].
        n_parts: [usize; 5],
    },
}

impl std::fmt::Display for ChooseError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Without(axis) => {
                let word = axis.word();
                write!(
                    f,
                    "there is no {word} to choose from: add rows with `{word}` in the column `part` to the table of \
                     parts, or a [{word}] table to the goal"
                )
            }
            Self::TooMany { n_parts } => {
                let each: Vec<String> = Axis::ALL
                    .iter()
                    .zip(n_parts)
                    .filter(|(_, n)| **n > 1)
                    .map(|(axis, n)| format!("{n} {}s", axis.word()))
                    .collect();
                write!(
                    f,
                    "{} make more than {MOST_COMBINATIONS} combinations: fix a part in the goal, or leave out of the table \
                     what surely will not do",
                    each.join(" with ")
                )
            }
        }
    }
}

impl std::error::Error for ChooseError {}

/// A goal with the parts that are tried for it.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    goal: Goal,
    parts: Parts,
    n_parts: [usize; 5],
    /// Whether the goal itself has a part of each kind, so that those of the table are not tried.
    fixed: [bool; 5],
}

/// What a part of the goal itself is called.
const GIVEN: &str = "as given";

fn given<T: Copy>(value: &Option<T>) -> Option<Vec<Part<T>>> {
    value.map(|value| vec![Part::new(GIVEN, value)])
}

impl Choice {
    /// Puts a goal and parts together: what the goal has is fixed, and a motor may also drive its
    /// load directly.
    ///
    /// # Errors
    /// [`ChooseError`].
    pub fn new(goal: Goal, mut parts: Parts) -> Result<Self, ChooseError> {
        let wants_thrust = matches!(goal.target, super::Target::Thrust(_));
        let mut fixed = [false; 5];
        let mut fix = |axis: Axis, is: bool| fixed[axis as usize] = is;
        fix(Axis::Motor, goal.motor.is_some());
        fix(Axis::Pack, goal.pack.is_some());
        fix(Axis::Controller, goal.controller.is_some());
        fix(Axis::Gear, goal.gear.is_some());
        fix(
            Axis::Propeller,
            goal.loads.propeller.is_some() || !wants_thrust,
        );
        parts.motors = given(&goal.motor).unwrap_or(parts.motors);
        parts.packs = given(&goal.pack).unwrap_or(parts.packs);
        let own = goal.controller.map(|own| (own, goal.parallel_given));
        parts.controllers = given(&own).unwrap_or(parts.controllers);
        if parts.controllers.is_empty() {
            parts
                .controllers
                .push(Part::for_nothing("ideal switches", (goal.ideal, true)));
        }
        let direct = Part::for_nothing(
            "none",
            Gear {
                ratio: 1.0,
                efficiency: 1.0,
            },
        );
        parts.gears = given(&goal.gear).unwrap_or_else(|| {
            parts.gears.insert(0, direct);
            std::mem::take(&mut parts.gears)
        });
        if let Some(own) = given(&goal.loads.propeller) {
            parts.propellers = own;
        } else if !wants_thrust {
            parts.propellers.clear();
        }
        let n_parts = [
            parts.motors.len(),
            parts.packs.len(),
            parts.controllers.len(),
            parts.gears.len(),
            // no propeller is one way to have none
            if wants_thrust {
                parts.propellers.len()
            } else {
                1
            },
        ];
        if let Some(axis) = Axis::ALL
            .into_iter()
            .find(|axis| n_parts[*axis as usize] == 0)
        {
            return Err(ChooseError::Without(axis));
        }
        let n = n_parts
            .iter()
            .try_fold(1_u64, |n, of| n.checked_mul(*of as u64));
        if n.is_none_or(|n| n > MOST_COMBINATIONS) {
            return Err(ChooseError::TooMany { n_parts });
        }
        Ok(Self {
            goal,
            parts,
            n_parts,
            fixed,
        })
    }

    /// The goal.
    #[must_use]
    pub const fn goal(&self) -> &Goal {
        &self.goal
    }

    /// The parts that are tried.
    #[must_use]
    pub const fn parts(&self) -> &Parts {
        &self.parts
    }

    /// How many parts of a kind are tried.
    #[must_use]
    pub const fn n_parts(&self, axis: Axis) -> usize {
        self.n_parts[axis as usize]
    }

    /// Whether the goal itself says the part of this kind, or needs none.
    #[must_use]
    pub const fn is_fixed(&self, axis: Axis) -> bool {
        self.fixed[axis as usize]
    }

    /// How many combinations there are.
    #[must_use]
    pub fn n_combinations(&self) -> u64 {
        self.n_parts.iter().map(|n| *n as u64).product()
    }

    /// What a part is called.
    #[must_use]
    pub fn name(&self, axis: Axis, at: usize) -> &str {
        let parts = &self.parts;
        match axis {
            Axis::Motor => parts.motors.get(at).map(|part| part.name.as_str()),
            Axis::Pack => parts.packs.get(at).map(|part| part.name.as_str()),
            Axis::Controller => parts.controllers.get(at).map(|part| part.name.as_str()),
            Axis::Gear => parts.gears.get(at).map(|part| part.name.as_str()),
            Axis::Propeller => parts.propellers.get(at).map(|part| part.name.as_str()),
        }
        .unwrap_or("none")
    }

    /// The kinds of parts that are chosen; what the goal fixes needs no name.
    pub fn chosen(&self) -> impl Iterator<Item = Axis> + '_ {
        Axis::ALL.into_iter().filter(|axis| !self.is_fixed(*axis))
    }

    /// The names of a combination's parts that are chosen.
    #[must_use]
    pub fn names(&self, row: &Row) -> String {
        let names: Vec<&str> = self
            .chosen()
            .map(|axis| match (axis, row.parts[axis as usize]) {
                (Axis::Gear, 0) => "no gear",
                (axis, at) => self.name(axis, at),
            })
            .collect();
        names.join(" · ")
    }

    /// The propeller of a combination.
    fn propeller(&self, at: usize) -> Option<Propeller> {
        self.parts.propellers.get(at).map(|part| part.value)
    }

    /// Which parts a combination has: motors vary slowest, propellers fastest.
    fn parts_of(&self, idx: u64) -> [usize; 5] {
        let mut rest = idx;
        let mut parts = [0; 5];
        for axis in (0..5).rev() {
            let n = self.n_parts[axis] as u64;
            parts[axis] = usize::try_from(rest % n).unwrap_or(0);
            rest /= n;
        }
        parts
    }

    /// Counts of MOSFETs in parallel that are tried with a controller.
    fn counts(&self, controller: usize) -> std::ops::RangeInclusive<u32> {
        let (controller, is_given) = self.parts.controllers[controller].value;
        if is_given {
            controller.parallel..=controller.parallel
        } else {
            1..=self.goal.most_parallel
        }
    }

    /// The build of a combination, fully on, with the most MOSFETs that are tried.
    fn bare_build(&self, [motor, pack, controller, gear, propeller]: [usize; 5]) -> Build {
        let parts = &self.parts;
        let mut loads = self.goal.loads;
        if loads.propeller.is_none() {
            loads.propeller = self.propeller(propeller);
        }
        let mut controller_value = parts.controllers[controller].value.0;
        controller_value.parallel = *self.counts(controller).end();
        controller_value.duty = 1.0;
        Build {
            title: String::new(),
            motor: parts.motors[motor].value,
            pack: parts.packs[pack].value,
            controller: controller_value,
            gear: parts.gears[gear].value,
            loads,
            tolerances: Vec::new(),
        }
    }

    /// The build of a combination that does, ready for a build file. `None` for a row that does
    /// not do.
    #[must_use]
    pub fn build(&self, row: &Row) -> Option<Build> {
        let answer = row.outcome.as_ref().ok()?;
        let mut build = self.bare_build(row.parts);
        build.title.clone_from(&self.goal.title);
        build.controller.duty = answer.duty;
        build.controller.parallel = answer.parallel;
        let [motor, pack, controller, gear, propeller] = row.parts;
        let parts = &self.parts;
        build.tolerances = self.goal.tolerances.clone();
        build.tolerances.extend(&parts.motors[motor].tolerances);
        build.tolerances.extend(&parts.packs[pack].tolerances);
        build
            .tolerances
            .extend(&parts.controllers[controller].tolerances);
        build.tolerances.extend(&parts.gears[gear].tolerances);
        if let Some(part) = parts.propellers.get(propeller) {
            build.tolerances.extend(&part.tolerances);
        }
        Some(build)
    }

    /// What a combination comes to; `idx` is below [`Self::n_combinations`].
    #[must_use]
    pub fn evaluate(&self, idx: u64) -> Row {
        let parts = self.parts_of(idx);
        let mut build = self.bare_build(parts);
        let outcome = self.known_beforehand(&build).map_or_else(
            || self.counted_up(&mut build, self.counts(parts[Axis::Controller as usize])),
            Err,
        );
        Row {
            idx,
            parts,
            outcome,
        }
    }

    /// Speed of the motor at the goal in rad/s.
    fn motor_rad_s(&self, build: &Build) -> f64 {
        self.goal.target.shaft_rad_s(&build.loads) * build.gear.ratio
    }

    /// Of some limits the fullest, where less of it stays free than is asked.
    fn over(&self, found: impl IntoIterator<Item = Limit>) -> Option<Miss> {
        let margin = self.goal.margin;
        found
            .into_iter()
            .filter(|limit| limit.part() > 1.0 - margin)
            .max_by(|a, b| a.part().total_cmp(&b.part()))
            .map(|limit| Miss::Over { limit, margin })
    }

    /// What the goal alone decides, whatever the duty: currents follow from the torque and the
    /// electrical frequency from the speed.
    fn known_beforehand(&self, build: &Build) -> Option<Miss> {
        let speed_rad_s = self.motor_rad_s(build);
        if !speed_rad_s.is_finite() {
            return Some(Miss::NoThrust);
        }
        let (motor, controller) = (&build.motor, &build.controller);
        let load_nm = build.load_nm(speed_rad_s);
        let torque_nm = load_nm + motor.no_load_torque_nm();
        if torque_nm <= 0.0 {
            return Some(Miss::Driven(load_nm));
        }
        let current_a = torque_nm * motor.kv_rad_per_v_s;
        let frequency_hz = f64::from(motor.pole_pairs) * speed_rad_s / std::f64::consts::TAU;
        let limit = |name, used, allowed: Option<f64>, unit| {
            allowed.map(|allowed| Limit {
                name,
                used,
                allowed,
                from: 0.0,
                unit,
            })
        };
        let found = [
            limit("motor current", current_a, motor.current_limit_a, "A"),
            limit(
                "controller current",
                current_a,
                controller.current_limit_a,
                "A",
            ),
            limit(
                "electrical frequency",
                frequency_hz,
                controller.frequency_limit_hz,
                "Hz",
            ),
        ];
        self.over(found.into_iter().flatten())
    }

    /// The least count of MOSFETs with which it does; else what is missed with the most of them.
    fn counted_up(
        &self,
        build: &mut Build,
        counts: std::ops::RangeInclusive<u32>,
    ) -> Result<Box<Answer>, Miss> {
        let speed_rad_s = self.motor_rad_s(build);
        let most = 1.0 - self.goal.headroom;
        // more of them only lower the resistance: what falls short with the most always does
        if counts.start() < counts.end() {
            self.reaches(build, speed_rad_s, most)?;
        }
        let mut last = Miss::TooMuch;
        for parallel in counts {
            build.controller.parallel = parallel;
            match self.at(build, speed_rad_s, most) {
                Ok(answer) => return Ok(Box::new(answer)),
                Err(miss) => last = miss,
            }
        }
        Err(last)
    }

    /// The duty at which a build starts and gets there.
    fn reaches(&self, build: &Build, speed_rad_s: f64, most: f64) -> Result<Met, Miss> {
        let start = Standstill::of(build);
        if !start.starts() {
            return Err(Miss::NoStart {
                gives_nm: start.load_shaft_nm,
                asks_nm: start.asked_nm,
            });
        }
        duty_for(build, speed_rad_s, most).map_err(|error| match error {
            MeetError::Short(found) => self.short(build, *found, most),
            MeetError::Driven(load_nm) => Miss::Driven(load_nm),
            MeetError::TooMuch => Miss::TooMuch,
        })
    }

    fn short(&self, build: &Build, found: Result<Point, PredictError>, duty: f64) -> Miss {
        let target = self.goal.target;
        match found {
            Ok(point) => Miss::Short {
                reached: target.reached(&build.loads, point.speed_rad_s / build.gear.ratio),
                wanted: target.wanted(),
                unit: target.unit(),
                duty,
            },
            Err(error) => Miss::Stands(error),
        }
    }

    /// A build at the goal, with the count of MOSFETs that it has.
    fn at(&self, build: &mut Build, speed_rad_s: f64, most: f64) -> Result<Answer, Miss> {
        let met = self.reaches(build, speed_rad_s, most)?;
        build.controller.duty = met.duty;
        let found = limits(build, &met.point);
        let tightest = found.first().copied();
        if let Some(miss) = self.over(found) {
            return Err(miss);
        }
        let run_time_s = build
            .pack
            .capacity_as
            .map(|charge_as| build.pack.usable * charge_as / met.point.pack_current_a);
        if let Some(wanted_s) = self.goal.run_time_s
            && run_time_s.is_none_or(|got_s| got_s < wanted_s)
        {
            return Err(Miss::RunTime {
                got_s: run_time_s,
                wanted_s,
            });
        }
        let load_rad_s = met.point.speed_rad_s / build.gear.ratio;
        let tips = build
            .loads
            .propeller
            .map(|propeller| (propeller, load_rad_s));
        Ok(Answer {
            parallel: build.controller.parallel,
            duty: met.duty,
            point: met.point,
            run_time_s,
            tightest,
            locked_a: Locked::of(build).current_a,
            tip_m_s: tips.map(|(propeller, speed_rad_s)| propeller.tip_m_s(speed_rad_s)),
            tips_doubted: tips.is_some_and(|(propeller, speed_rad_s)| {
                propeller.tip_mach(speed_rad_s) > DOUBTED_TIP_MACH
            }),
        })
    }
}
