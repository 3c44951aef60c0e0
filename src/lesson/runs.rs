//! The runs of a lesson: made when they are asked for, once, within limits.

use std::collections::BTreeMap;
use std::rc::Rc;

use super::condition::{Ask, Condition, ConditionError};
use super::front::nearest;
use super::making::Making;
use super::model::{Lesson, RunSpec};
use super::problem::Complaint;
use super::text::{self, Placeholder};
use super::value::Value;
use crate::analysis::{Figure, RunFigures};
use crate::machine::Machine;
use crate::machine::inside::winding_of;
use crate::record::{Quantity as Channel, Record, Sample};
use crate::setup::{EmfShape, Quantity, Setup};

/// Pieces of the solution of one go, where nobody waits for a frame.
const PIECES_OF_A_GO: u32 = 50_000;

/// A run that was made.
#[derive(Clone, Debug)]
pub struct Ran {
    /// What stood on the bench.
    pub setup: Setup,
    /// The setup as written, with what was set.
    pub written: toml::Table,
    /// The figures.
    pub figures: Vec<Figure>,
    /// Waveforms and events; empty where nobody asked for them.
    pub record: Record,
    pub(super) facts: BTreeMap<String, Value>,
}

/// The runs of one lesson.
#[derive(Debug)]
pub struct Runs<'a> {
    lesson: &'a Lesson,
    done: Made,
}

/// Runs that were made, to be kept apart from the lesson between two looks at it.
#[derive(Clone, Debug, Default)]
pub struct Made(BTreeMap<String, Rc<Ran>>);

impl Made {
    /// A run that was made; `recorded`: only with its waveforms.
    #[must_use]
    pub fn run(&self, name: &str, recorded: bool) -> Option<&Rc<Ran>> {
        self.0
            .get(name)
            .filter(|ran| !recorded || ran.record.n_samples() > 0)
    }
}

/// Whose figures a condition means.
#[derive(Clone, Debug, Default)]
pub struct Subject {
    /// The run that bare names mean.
    pub run: Option<Rc<Ran>>,
    /// The reader's figure.
    pub answer: Option<Value>,
}

impl<'a> Runs<'a> {
    /// No run made yet.
    #[must_use]
    pub fn new(lesson: &'a Lesson) -> Self {
        Self::of(lesson, Made::default())
    }

    /// With runs of this lesson that were made before.
    #[must_use]
    pub const fn of(lesson: &'a Lesson, done: Made) -> Self {
        Self { lesson, done }
    }

    /// The runs that were made so far.
    #[must_use]
    pub fn into_made(self) -> Made {
        self.done
    }

    /// The lesson.
    #[must_use]
    pub const fn lesson(&self) -> &'a Lesson {
        self.lesson
    }

    fn spec(&self, name: &str) -> Result<&'a RunSpec, Complaint> {
        self.lesson.run(name).ok_or_else(|| Complaint::Unknown {
            what: "run",
            name: text::harmless(name),
            nearest: nearest(name, self.lesson.runs.iter().map(|run| run.name.as_str())),
        })
    }

    /// A run as the lesson has it. `recorded`: with waveforms.
    ///
    /// # Errors
    /// A setup that cannot be used, a run beyond the limits, or one that stopped.
    pub fn get(&mut self, name: &str, recorded: bool) -> Result<Rc<Ran>, Complaint> {
        if let Some(ran) = self.done.run(name, recorded) {
            return Ok(Rc::clone(ran));
        }
        let ran = Rc::new(self.with(name, &[], recorded)?);
        self.done.0.insert(name.to_owned(), Rc::clone(&ran));
        Ok(ran)
    }

    /// Forgets the waveforms, which take memory.
    pub fn forget_records(&mut self) {
        self.done.0.retain(|_, ran| ran.record.n_samples() == 0);
    }

    /// A run with further keys set.
    ///
    /// # Errors
    /// As [`Runs::get`].
    pub fn with(
        &self,
        name: &str,
        more: &[(String, toml::Value)],
        recorded: bool,
    ) -> Result<Ran, Complaint> {
        let spec = self.spec(name)?;
        let (setup, written) = self.setup_with(spec, more)?;
        run(&spec.name, setup, written, recorded)
    }

    /// The same, to be made in goes.
    ///
    /// # Errors
    /// A setup that cannot be used, or a run beyond the limits.
    pub fn begin(
        &self,
        name: &str,
        more: &[(String, toml::Value)],
        recorded: bool,
    ) -> Result<Making, Complaint> {
        let spec = self.spec(name)?;
        let (setup, written) = self.setup_with(spec, more)?;
        Making::new(&spec.name, setup, written, recorded)
    }

    /// Takes a run that was made in goes, as [`Runs::get`] would have made it.
    pub fn put(&mut self, name: &str, ran: Ran) {
        self.done.0.insert(name.to_owned(), Rc::new(ran));
    }

    /// The setup of a run and the table it was read from.
    ///
    /// # Errors
    /// A setup that cannot be used.
    pub fn setup_with(
        &self,
        spec: &RunSpec,
        more: &[(String, toml::Value)],
    ) -> Result<(Setup, toml::Table), Complaint> {
        let file = format!("{}/{}", self.lesson.files.folder, spec.file);
        let text = self
            .lesson
            .files
            .texts
            .get(&spec.file)
            .map_or("", String::as_str);
        let fail = |errors| Complaint::Setup {
            file: spec.file.clone(),
            errors: Box::new(errors),
        };
        let setup = Setup::parse(text, &file).map_err(fail)?;
        let mut table: toml::Table = text.parse().unwrap_or_default();
        if spec.with.is_empty() && more.is_empty() {
            return Ok((setup, table));
        }
        let mut name = file;
        for (key, value) in spec.with.iter().chain(more) {
            set(&mut table, key, value.clone());
            name += &format!(", {key} = {}", text::harmless(&value.to_string()));
        }
        let text = table.to_string();
        let setup = Setup::parse(&text, &name).map_err(fail)?;
        Ok((setup, table))
    }

    /// Answers what a condition asks.
    ///
    /// # Errors
    /// A name that nothing has, or a run that cannot be made.
    pub fn look(&mut self, subject: &Subject, ask: Ask<'_>) -> Result<Value, Complaint> {
        let (Ask::Fact(path) | Ask::Max(path, _) | Ask::Min(path, _) | Ask::At(path, _)) = ask;
        if path == "answer"
            && let Some(answer) = subject.answer
        {
            return Ok(answer);
        }
        let recorded = !matches!(ask, Ask::Fact(_));
        let (ran, name) = match path.split_once('.') {
            Some((run, name)) if self.lesson.run(run).is_some() => (self.get(run, recorded)?, name),
            _ => match &subject.run {
                Some(ran) => (Rc::clone(ran), path),
                None => {
                    return Err(Complaint::UnknownFact {
                        name: text::harmless(path),
                        nearest: None,
                    });
                }
            },
        };
        match ask {
            Ask::Fact(_) => ran.fact(name),
            Ask::Max(_, span) => ran.extreme(name, span, true),
            Ask::Min(_, span) => ran.extreme(name, span, false),
            Ask::At(_, time_s) => ran.at(name, time_s),
        }
    }

    /// Whether a condition holds.
    ///
    /// # Errors
    /// As [`Condition::holds`].
    pub fn holds(
        &mut self,
        condition: &Condition,
        subject: &Subject,
    ) -> Result<bool, ConditionError> {
        condition.holds(&mut |ask| self.look(subject, ask))
    }

    /// Value of an expression.
    ///
    /// # Errors
    /// As [`Condition::value`].
    pub fn value(
        &mut self,
        condition: &Condition,
        subject: &Subject,
    ) -> Result<Value, ConditionError> {
        condition.value(&mut |ask| self.look(subject, ask))
    }

    /// A text with its numbers put in.
    ///
    /// # Errors
    /// A placeholder that cannot be filled, with its place in the text.
    pub fn fill(
        &mut self,
        markdown: &str,
        subject: &Subject,
    ) -> Result<String, (Complaint, std::ops::Range<usize>)> {
        text::filled(markdown, &mut |wish| self.words(wish, subject))
    }

    fn words(&mut self, wish: &Placeholder, subject: &Subject) -> Result<String, Complaint> {
        // a key of the setup is quoted as it is written
        if let Some(path) = wish.expression.lone_name() {
            let (ran, name) = match path.split_once('.') {
                Some((run, name)) if self.lesson.run(run).is_some() => {
                    (Some(self.get(run, false)?), name)
                }
                _ => (subject.run.clone(), path),
            };
            if let Some(written) = ran.as_ref().and_then(|ran| ran.written(name)) {
                return Ok(text::literal(&as_read(&written)).into_string());
            }
        }
        let value = self
            .value(&wish.expression, subject)
            .map_err(|error| error.complaint)?;
        Ok(spaced(&value, wish.digits, wish.percent))
    }
}

/// A quantity of a setup as people read it: `20 uH` as `20 µH`, `30 deg` as `30°`.
fn as_read(written: &str) -> String {
    let Some((number, unit)) = written.split_once(' ') else {
        return written.to_owned();
    };
    match unit {
        "deg" => format!("{number}°"),
        _ => match unit.strip_prefix('u') {
            Some(rest) if !rest.is_empty() => format!("{number}\u{a0}µ{rest}"),
            _ => format!("{number}\u{a0}{unit}"),
        },
    }
}

/// A value with a no-break space before its unit.
#[must_use]
pub fn spaced(value: &Value, digits: usize, percent: bool) -> String {
    value
        .shown(digits, percent)
        .to_string()
        .replace(" °", "°")
        .replace(' ', "\u{a0}")
}

/// Sets a whole key of a table, making the tables on the way.
fn set(table: &mut toml::Table, key: &str, value: toml::Value) {
    match key.split_once('.') {
        None => {
            table.insert(key.to_owned(), value);
        }
        Some((head, rest)) => {
            let inner = table
                .entry(head)
                .or_insert_with(|| toml::Value::Table(toml::Table::new()));
            if let Some(inner) = inner.as_table_mut() {
                set(inner, rest, value);
            }
        }
    }
}

pub(super) fn get<'t>(table: &'t toml::Table, key: &str) -> Option<&'t toml::Value> {
    match key.split_once('.') {
        None => table.get(key),
        Some((head, rest)) => get(table.get(head)?.as_table()?, rest),
    }
}

impl Ran {
    /// A key of the setup as written.
    #[must_use]
    pub fn written(&self, key: &str) -> Option<String> {
        match get(&self.written, key)? {
            toml::Value::String(text) => Some(text.clone()),
            toml::Value::Table(_) | toml::Value::Array(_) => None,
            other => Some(other.to_string()),
        }
    }

    fn fact(&self, name: &str) -> Result<Value, Complaint> {
        if let Some(value) = self.facts.get(name) {
            return Ok(*value);
        }
        if RunFigures::KEYS.contains(&name) {
            return Err(Complaint::Absent {
                name: name.to_owned(),
            });
        }
        match get(&self.written, name) {
            Some(toml::Value::String(text)) => Value::quantity(text),
            #[expect(clippy::cast_precision_loss, reason = "counts in a setup are small")]
            Some(toml::Value::Integer(n)) => Ok(Value::Number(*n as f64)),
            Some(toml::Value::Float(x)) => Ok(Value::Number(*x)),
            Some(toml::Value::Boolean(flag)) => Ok(Value::Truth(*flag)),
            _ => Err(self.unknown(name)),
        }
    }

    fn unknown(&self, name: &str) -> Complaint {
        let known = self
            .facts
            .keys()
            .map(String::as_str)
            .chain(CHANNELS.iter().map(|(name, _)| *name));
        Complaint::UnknownFact {
            name: text::harmless(name),
            nearest: nearest(name, known),
        }
    }

    fn channel(&self, name: &str) -> Result<Channel, Complaint> {
        CHANNELS
            .iter()
            .find(|(known, _)| *known == name)
            .map(|(_, channel)| *channel)
            .ok_or_else(|| self.unknown(name))
    }

    fn extreme(&self, name: &str, span: Option<(f64, f64)>, max: bool) -> Result<Value, Complaint> {
        let channel = self.channel(name)?;
        let absent = || Complaint::Absent {
            name: name.to_owned(),
        };
        let (from_s, to_s) = match span {
            Some(span) => span,
            None => self.record.span_s().ok_or_else(absent)?,
        };
        let found = self
            .record
            .min_max(channel, from_s, to_s)
            .ok_or_else(absent)?;
        Ok(Value::of_key(name, if max { found.max } else { found.min }))
    }

    fn at(&self, name: &str, time_s: f64) -> Result<Value, Complaint> {
        let channel = self.channel(name)?;
        let idx = self.sample_idx(time_s).ok_or_else(|| Complaint::Absent {
            name: name.to_owned(),
        })?;
        Ok(Value::of_key(
            name,
            self.record.channel(channel).values()[idx],
        ))
    }

    /// The last sample up to a time; `None` where nothing was recorded by then.
    fn sample_idx(&self, time_s: f64) -> Option<usize> {
        let times = self.record.channel(Channel::Time).values();
        // a sample at the very time counts, whatever its last bit
        let after = times.partition_point(|at_s| *at_s <= time_s * (1.0 + 1e-12));
        (time_s >= 0.0).then(|| after.checked_sub(1)).flatten()
    }

    /// The sample at a time, or the last one.
    #[must_use]
    pub fn sample(&self, at_s: Option<f64>) -> Option<Sample> {
        let last = self.record.n_samples().checked_sub(1)?;
        let idx = at_s.map_or(Some(last), |at_s| self.sample_idx(at_s))?;
        self.record.sample(idx)
    }

    /// The states of the legs in the order in which the record has them, `10z` and the like.
    #[must_use]
    pub fn leg_states(&self) -> Vec<String> {
        let mut found: Vec<String> = Vec::new();
        for event in self.record.events() {
            let state: String = event.legs.iter().map(|leg| leg.character()).collect();
            if found.last() != Some(&state) {
                found.push(state);
            }
        }
        found
    }
}

/// Recorded channels by their column names.
pub(super) const CHANNELS: [(&str, Channel); 16] = [
    ("angle_mech_rad", Channel::ThetaMech),
    ("angle_elec_rad", Channel::ThetaElec),
    ("speed_rad_s", Channel::Speed),
    ("i_u_a", Channel::PhaseCurrent(0)),
    ("i_v_a", Channel::PhaseCurrent(1)),
    ("i_w_a", Channel::PhaseCurrent(2)),
    ("e_u_v", Channel::BackEmf(0)),
    ("e_v_v", Channel::BackEmf(1)),
    ("e_w_v", Channel::BackEmf(2)),
    ("v_u_v", Channel::Terminal(0)),
    ("v_v_v", Channel::Terminal(1)),
    ("v_w_v", Channel::Terminal(2)),
    ("torque_nm", Channel::Torque),
    ("supply_current_a", Channel::SupplyCurrent),
    ("supply_voltage_v", Channel::SupplyVoltage),
    ("time_s", Channel::Time),
];

/// A run of a setup, made at once.
///
/// # Errors
/// As [`Runs::get`].
pub(super) fn run(
    name: &str,
    setup: Setup,
    written: toml::Table,
    recorded: bool,
) -> Result<Ran, Complaint> {
    let mut making = Making::new(name, setup, written, recorded)?;
    while !making.advance(PIECES_OF_A_GO)? {}
    making.ran()
}

/// What is known of the machine before it runs; the keys of `wyebench inspect` where it has them.
pub(super) fn facts_of_machine(setup: &Setup, machine: &Machine) -> BTreeMap<String, Value> {
    let count = |n: u32| Value::Number(f64::from(n));
    let mut facts = BTreeMap::from(
        [
            ("slots", count(setup.machine.slots)),
            ("poles", count(setup.machine.poles)),
            ("pole_pairs", count(machine.pole_pairs)),
            ("cogging_per_turn", count(machine.cogging_per_turn)),
            (
                "cogging_peak_nm",
                Value::Of(machine.cogging_peak_nm.abs(), Quantity::Torque),
            ),
            (
                "kv_rpm_per_v",
                Value::Of(machine.kv_rad_per_v_s, Quantity::SpeedPerVoltage),
            ),
            (
                "phase_constant_v_s_per_rad",
                Value::Of(
                    machine.phase_constant_v_s_per_rad
                        * crate::machine::emf::peak_of_phase(&machine.shape),
                    Quantity::EmfPerSpeed,
                ),
            ),
            (
                "emf_fundamental_v_s_per_rad",
                Value::Of(
                    machine.phase_constant_v_s_per_rad * fundamental(&machine.shape),
                    Quantity::EmfPerSpeed,
                ),
            ),
            (
                "phase_resistance_ohm",
                Value::Of(machine.phase_resistance_ohm, Quantity::Resistance),
            ),
            (
                "phase_inductance_h",
                Value::Of(machine.phase_inductance_h, Quantity::Inductance),
            ),
        ]
        .map(|(name, value)| (name.to_owned(), value)),
    );
    if let Some(winding) = winding_of(&setup.machine) {
        let factor = Value::Number(winding.factor(1).total);
        facts.insert("winding_factor".to_owned(), factor);
    }
    facts
}

/// Amplitude of the first harmonic of a unit shape.
fn fundamental(shape: &EmfShape) -> f64 {
    match shape {
        EmfShape::Sine => 1.0,
        EmfShape::Trapezoid => crate::machine::emf::trapezoid_harmonic(1),
        EmfShape::Harmonics(list) => list
            .iter()
            .find(|(order, _)| *order == 1)
            .map_or(0.0, |(_, amplitude)| amplitude.abs()),
        EmfShape::Computed(list) => list
            .iter()
            .find(|(order, ..)| *order == 1)
            .map_or(0.0, |(_, sine, cosine)| libm::hypot(*sine, *cosine)),
    }
}
