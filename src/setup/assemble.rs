//! From checked values to a checked setup: defaults, what must be there, what must agree.

use std::collections::BTreeMap;

use super::check::{Value, check_own};
use super::keys::{Absent, KeySpec, key_spec};
use super::model::*;
use super::problem::{Place, Problem};
use super::read::{Document, Entry, ReadChange};
use super::units::{Quantity, format_quantity};
use crate::winding::{Winding, feasible, parse_layout};

/// Asks for the values of keys and keeps the problems that come up.
///
/// Where a value is absent or did not fit, a harmless one stands in for it so that the rest can
/// be looked at too; a setup with such a value never leaves this file, because `problems` is
/// then not empty.
pub(super) struct Assembler<'a> {
    entries: &'a BTreeMap<&'static str, Entry>,
    tables: &'a BTreeMap<&'static str, Place>,
    pub(super) problems: Vec<Problem>,
}

/// The setup, where nothing is wrong.
pub(super) fn assemble(document: Document) -> Result<Setup, Vec<Problem>> {
    let Document {
        entries,
        tables,
        changes,
        problems,
    } = document;
    let mut a = Assembler {
        entries: &entries,
        tables: &tables,
        problems,
    };
    // Only the present format is known to have the keys looked for below.
    a.whole("format");
    let title = a.text("title").unwrap_or_default();
    let machine = a.machine();
    let n_before = a.problems.len();
    let bench = a.bench();
    let bench_is_whole = a.problems.len() == n_before;
    let run = a.run();
    let mut problems = a.problems;
    match bench_changes(&bench, bench_is_whole, changes, &entries, &mut problems) {
        Some(changes) if problems.is_empty() => Ok(Setup {
            title,
            machine,
            bench,
            run,
            changes,
        }),
        _ => Err(problems),
    }
}

/// A bench from the values of its keys.
pub(super) fn assemble_bench(
    entries: &BTreeMap<&'static str, Entry>,
) -> Result<Bench, Vec<Problem>> {
    let tables = BTreeMap::new();
    let mut a = Assembler {
        entries,
        tables: &tables,
        problems: Vec::new(),
    };
    let bench = a.bench();
    if a.problems.is_empty() {
        Ok(bench)
    } else {
        Err(a.problems)
    }
}

/// The bench after each change, each on top of the one before.
fn bench_changes(
    start: &Bench,
    start_is_whole: bool,
    changes: Vec<ReadChange>,
    entries: &BTreeMap<&'static str, Entry>,
    problems: &mut Vec<Problem>,
) -> Option<Vec<Change>> {
    let mut earlier: Option<(f64, Place)> = None;
    for change in &changes {
        if let Some((before_s, before_place)) = earlier
            && change.at_s < before_s
        {
            problems.push(Problem::ChangeOrder {
                at: format_quantity(change.at_s, Quantity::Time),
                before: format_quantity(before_s, Quantity::Time),
                place: Some(change.at_place),
                earlier: Some(before_place),
            });
        }
        earlier = Some((change.at_s, change.at_place));
    }
    // A change is laid on the bench that the file gives; with holes in that nothing can be said.
    let broken = |e: &Entry| e.value.is_none();
    if !start_is_whole
        || entries
            .iter()
            .any(|(k, e)| super::keys::is_changeable(k) && broken(e))
    {
        return None;
    }
    let mut bench = start.clone();
    let mut out = Vec::new();
    for change in changes {
        match super::change::with_value(&bench, change.key, change.value, &change.written) {
            Ok(next) => bench = next,
            Err(problem) => {
                problems.push(problem.at(change.to_place));
                continue;
            }
        }
        out.push(Change {
            at_s: change.at_s,
            key: change.key.to_owned(),
            value: change.written,
            bench: bench.clone(),
        });
    }
    Some(out)
}

/// The table entry of a key that this file asks for.
fn spec_of(path: &str) -> &'static KeySpec {
    key_spec(path).unwrap_or_else(|| panic!("`{path}` is not in the table of keys"))
}

impl<'a> Assembler<'a> {
    fn entry(&self, path: &str) -> Option<&'a Entry> {
        self.entries.get(path)
    }

    /// Whether the text gives this key, right or wrong.
    fn given(&self, path: &str) -> bool {
        self.entries.contains_key(path)
    }

    /// Whether the text gives this table or any key in it.
    fn has_table(&self, table: &str) -> bool {
        let inside = |path: &str| path.strip_prefix(table).is_some_and(|r| r.starts_with('.'));
        self.tables.contains_key(table) || self.entries.keys().any(|path| inside(path))
    }

    /// Where the nearest table that would hold this key begins.
    fn home(&self, path: &str) -> Option<Place> {
        let mut table = path;
        while let Some((parent, _)) = table.rsplit_once('.') {
            if let Some(place) = self.tables.get(parent) {
                return Some(*place);
            }
            table = parent;
        }
        None
    }

    fn key_place(&self, path: &str) -> Option<Place> {
        self.entry(path).and_then(|e| e.key_place)
    }

    fn value_place(&self, path: &str) -> Option<Place> {
        self.entry(path).and_then(|e| e.value_place)
    }

    /// Whether a slip that is told already is why this key is absent: a near name, the right name
    /// in another table, or a table that is none.
    fn excused(&self, path: &str) -> bool {
        let (home, name) = path.rsplit_once('.').unwrap_or(("", path));
        self.problems.iter().any(|problem| match problem {
            Problem::UnknownKey {
                table,
                nearest: Some(near),
                ..
            } => {
                (table == home && *near == name)
                    || path.strip_prefix(table.as_str()).is_some_and(|rest| {
                        rest.trim_start_matches('.')
                            .strip_prefix(near)
                            .is_some_and(|r| r.starts_with('.'))
                    })
            }
            Problem::UnknownKey {
                key,
                belongs_in: Some(right),
                ..
            } => *right == home && key == name,
            Problem::WrongType { key, .. } => path
                .strip_prefix(key.as_str())
                .is_some_and(|rest| rest.starts_with('.')),
            _ => false,
        })
    }

    fn missing(&mut self, path: &str, why: &str, place: Option<Place>) {
        if self.excused(path) {
            return;
        }
        self.problems.push(Problem::Missing {
            key: path.to_owned(),
            example: spec_of(path).example.to_owned(),
            why: why.to_owned(),
            because: place.is_some() && place != self.home(path),
            place,
        });
    }

    /// The value as given or by default; a required one that is absent is told.
    fn value(&mut self, path: &str) -> Option<Value> {
        if let Some(entry) = self.entry(path) {
            return entry.value.clone();
        }
        let spec = spec_of(path);
        match spec.absent {
            Absent::Default(text) => check_own(spec, text),
            Absent::Required => {
                let place = self.home(path);
                self.missing(path, "", place);
                None
            }
            Absent::None => None,
        }
    }

    fn maybe_number(&mut self, path: &str) -> Option<f64> {
        match self.value(path) {
            Some(Value::Number(number)) => Some(number),
            _ => None,
        }
    }

    fn number(&mut self, path: &str) -> f64 {
        self.maybe_number(path).unwrap_or(0.0)
    }

    fn maybe_whole(&mut self, path: &str) -> Option<u32> {
        match self.value(path) {
            Some(Value::Whole(number)) => Some(number),
            _ => None,
        }
    }

    fn whole(&mut self, path: &str) -> u32 {
        self.maybe_whole(path).unwrap_or(1)
    }

    fn word(&mut self, path: &str) -> &'static str {
        match self.value(path) {
            Some(Value::Word(word)) => word,
            _ => "",
        }
    }

    fn flag(&mut self, path: &str) -> bool {
        matches!(self.value(path), Some(Value::Flag(true)))
    }

    fn text(&mut self, path: &str) -> Option<String> {
        match self.value(path) {
            Some(Value::Text(text)) => Some(text),
            _ => None,
        }
    }

    fn contradiction(&mut self, reason: String, remedy: &str, marks: &[(&str, &str)]) {
        let places = marks
            .iter()
            .filter_map(|(path, label)| Some((self.value_place(path)?, (*label).to_owned())))
            .collect();
        self.problems.push(Problem::Contradiction {
            reason,
            remedy: remedy.to_owned(),
            places,
        });
    }

    fn machine(&mut self) -> MachineSetup {
        let construction = match self.word("machine.construction") {
            "outrunner" => Construction::Outrunner,
            _ => Construction::Inrunner,
        };
        let slots = self.maybe_whole("machine.slots");
        let poles = self.maybe_whole("machine.poles");
        let fits = self.slots_and_poles(slots, poles);
        let connection = match self.word("machine.connection") {
            "delta" => Connection::Delta,
            _ => Connection::Star,
        };
        let phase_from_line = match connection {
            Connection::Star => |line: f64| line / 2.0,
            Connection::Delta => |line: f64| 1.5 * line,
        };
        let phase_resistance_ohm = self.phase_or_line("resistance", phase_from_line);
        let phase_inductance_h = self.phase_or_line("inductance", phase_from_line);
        let emf = self.emf();
        let machine_fits = fits.then_some(()).and(slots.zip(poles));
        let winding = self
            .has_table("machine.winding")
            .then(|| self.winding(machine_fits));
        let geometry = self
            .has_table("machine.geometry")
            .then(|| self.geometry(construction, slots));
        MachineSetup {
            construction,
            slots: slots.unwrap_or(3),
            poles: poles.unwrap_or(2),
            connection,
            phase_resistance_ohm,
            phase_inductance_h,
            emf,
            winding,
            geometry,
            rotor_inertia_kg_m2: self.number("machine.rotor.inertia"),
            viscous_friction_nm_s: self.number("machine.rotor.viscous_friction"),
            dry_friction_nm: self.number("machine.rotor.dry_friction"),
            cogging_peak_nm: self.number("machine.cogging.peak"),
        }
    }

    /// Whether both are there and go together; where they do not, that is told.
    fn slots_and_poles(&mut self, slots: Option<u32>, poles: Option<u32>) -> bool {
        let (n_slots, n_poles) = match (slots, poles) {
            (Some(slots), Some(poles)) => (slots, poles),
            // Odd poles are wrong with any slots: three spokes for each pole always divide.
            (None, Some(poles)) if poles % 2 == 1 => (3 * poles.min(400), poles),
            _ => return false,
        };
        match feasible(n_slots, n_poles) {
            Ok(()) => true,
            Err(no) => {
                let remedy = if n_poles % 2 == 1 {
                    Some(format!(
                        "{} or {} poles would be even",
                        n_poles - 1,
                        n_poles + 1
                    ))
                } else {
                    no.remedy_text()
                };
                let odd = n_poles % 2 == 1;
                self.problems.push(Problem::Infeasible {
                    reason: no.reason_text(),
                    remedy,
                    slots: self.value_place("machine.slots").filter(|_| !odd),
                    poles: self.value_place("machine.poles"),
                });
                false
            }
        }
    }

    /// `name` or `line_name` of [machine.phase]; exactly one must be given.
    fn phase_or_line(&mut self, name: &str, phase_from_line: fn(f64) -> f64) -> f64 {
        let phase = format!("machine.phase.{name}");
        let line = format!("machine.phase.line_{name}");
        match (self.given(&phase), self.given(&line)) {
            (true, true) => {
                self.problems.push(Problem::Conflict {
                    remedy: format!(
                        "keep one: `{name}` is of one phase winding, `line_{name}` is what is \
                         measured between two terminals"
                    ),
                    first: self.key_place(&phase),
                    second: self.key_place(&line),
                    first_key: phase,
                    second_key: line,
                });
                0.0
            }
            (true, false) => self.number(&phase),
            (false, true) => phase_from_line(self.number(&line)),
            (false, false) => {
                let place = self.home(&phase);
                let why = format!(
                    "give `{name}` (of one phase winding) or `line_{name}` (between two terminals)"
                );
                self.missing(&phase, &why, place);
                0.0
            }
        }
    }

    fn emf(&mut self) -> EmfSetup {
        let word = self.word("machine.emf.shape");
        let kv = "machine.emf.kv";
        let constant_key = "machine.emf.phase_constant";
        let pairs_key = "machine.emf.harmonics";
        let harmonics = match self.value(pairs_key) {
            Some(Value::Harmonics(pairs)) => Some(pairs),
            _ => None,
        };
        if word == "harmonics" && !self.given(pairs_key) {
            let place = self.value_place("machine.emf.shape");
            self.missing(pairs_key, "shape = \"harmonics\" is made of them", place);
        }
        if !word.is_empty() && word != "harmonics" && self.given(pairs_key) {
            self.problems.push(Problem::Needs {
                key: pairs_key.to_owned(),
                needs: "shape = \"harmonics\"".to_owned(),
                remedy: "write shape = \"harmonics\", or leave the list out".to_owned(),
                place: self.key_place(pairs_key),
                other: self.value_place("machine.emf.shape"),
            });
        }
        let constant = match (self.given(kv), self.given(constant_key)) {
            (true, true) => {
                self.problems.push(Problem::Conflict {
                    first_key: kv.to_owned(),
                    second_key: constant_key.to_owned(),
                    remedy: "each of them scales the EMF: keep one".to_owned(),
                    first: self.key_place(kv),
                    second: self.key_place(constant_key),
                });
                EmfConstant::KvRadPerVs(1.0)
            }
            (true, false) if word == "harmonics" => {
                self.problems.push(Problem::Conflict {
                    first_key: "machine.emf.shape = \"harmonics\"".to_owned(),
                    second_key: kv.to_owned(),
                    remedy: "harmonics are scaled by phase_constant: write `phase_constant = \
                             \"5.19 mV s/rad\"` instead of kv"
                        .to_owned(),
                    first: self.value_place("machine.emf.shape"),
                    second: self.key_place(kv),
                });
                EmfConstant::KvRadPerVs(1.0)
            }
            (true, false) => EmfConstant::KvRadPerVs(self.number(kv)),
            (false, true) => EmfConstant::PhaseVsPerRad(self.number(constant_key)),
            (false, false) => {
                let place = self.home(kv);
                let (key, why) = if word == "harmonics" {
                    (constant_key, "harmonics are scaled by it")
                } else {
                    (kv, "the EMF needs `kv` or `phase_constant`")
                };
                self.missing(key, why, place);
                EmfConstant::KvRadPerVs(1.0)
            }
        };
        let shape = match word {
            "sine" => EmfShape::Sine,
            "harmonics" => EmfShape::Harmonics(harmonics.unwrap_or_default()),
            _ => EmfShape::Trapezoid,
        };
        EmfSetup { shape, constant }
    }

    fn winding(&mut self, machine: Option<(u32, u32)>) -> WindingSetup {
        let layers = self.maybe_whole("machine.winding.layers");
        let coil_span = self.maybe_whole("machine.winding.coil_span");
        let laid_out = !self.given("machine.winding.layout");
        if let (Some(layers), Some(span), Some((slots, poles))) = (layers, coil_span, machine)
            && let Some(error) = Winding::lay_out(slots, poles, layers, span)
                .err()
                .filter(|_| laid_out)
        {
            self.contradiction(
                error.to_string(),
                "coil_span = 1 with layers = 2 can always be laid out",
                &[
                    ("machine.winding.layers", "layers"),
                    ("machine.winding.coil_span", "span"),
                    ("machine.slots", "slots"),
                ],
            );
        }
        let layout = self.text("machine.winding.layout").and_then(|text| {
            let sides = match parse_layout(&text) {
                Ok(sides) => sides,
                Err(error) => {
                    let whole = self.value_place("machine.winding.layout");
                    // In a plain text the word itself can be marked.
                    let place = whole.map(|p| {
                        let start = p.start + 1 + error.span.start;
                        let plain = p.end - p.start == text.len() + 2 && !error.span.is_empty();
                        if plain {
                            Place {
                                start,
                                end: start + error.span.len(),
                            }
                        } else {
                            p
                        }
                    });
                    self.problems.push(Problem::Layout {
                        reason: error.to_string(),
                        remedy: error.remedy_text(),
                        place,
                    });
                    return None;
                }
            };
            if let (Some((slots, poles)), Some(layers)) = (machine, layers)
                && let Err(error) = Winding::from_layout(slots, poles, layers, &sides)
            {
                self.problems.push(Problem::Layout {
                    reason: error.to_string(),
                    remedy: "a layout lists the coil sides slot by slot, as many in each as \
                             there are layers; left out, a balanced one is laid out"
                        .to_owned(),
                    place: self.value_place("machine.winding.layout"),
                });
            }
            Some(sides)
        });
        WindingSetup {
            layers: layers.unwrap_or(2),
            coil_span: coil_span.unwrap_or(1),
            turns: self.maybe_whole("machine.winding.turns"),
            parallel_paths: self.whole("machine.winding.parallel_paths"),
            layout,
        }
    }

    fn geometry(&mut self, construction: Construction, slots: Option<u32>) -> GeometrySetup {
        let at = |name: &str| format!("machine.geometry.{name}");
        let slotting = self.flag("machine.geometry.slotting");
        for name in ["slot_opening", "tooth_tip", "slot_depth", "tooth_width"] {
            if slotting && !self.given(&at(name)) {
                let place = self
                    .key_place("machine.geometry.slotting")
                    .or_else(|| self.home("machine.geometry.slotting"));
                self.missing(
                    &at(name),
                    "a slotted stator needs it; slotting = false makes a smooth ring",
                    place,
                );
            }
        }
        let magnetisation = match self.word("machine.geometry.magnetisation") {
            "parallel" => Magnetisation::Parallel,
            _ => Magnetisation::Radial,
        };
        let geometry = GeometrySetup {
            bore_radius_m: self.number("machine.geometry.bore_radius"),
            air_gap_m: self.number("machine.geometry.air_gap"),
            magnet_thickness_m: self.number("machine.geometry.magnet_thickness"),
            magnet_arc: self.number("machine.geometry.magnet_arc"),
            magnet_remanence_t: self.number("machine.geometry.magnet_remanence"),
            magnet_permeability: self.number("machine.geometry.magnet_permeability"),
            magnetisation,
            stack_length_m: self.number("machine.geometry.stack_length"),
            slotting,
            slot_opening_m: self.maybe_number("machine.geometry.slot_opening"),
            tooth_tip_m: self.maybe_number("machine.geometry.tooth_tip"),
            slot_depth_m: self.maybe_number("machine.geometry.slot_depth"),
            tooth_width_m: self.maybe_number("machine.geometry.tooth_width"),
            yoke_thickness_m: self.maybe_number("machine.geometry.yoke_thickness"),
            rotor_yoke_thickness_m: self.maybe_number("machine.geometry.rotor_yoke_thickness"),
            wire_diameter_m: self.maybe_number("machine.geometry.wire_diameter"),
            strands: self.whole("machine.geometry.strands"),
            end_turn_m: self.maybe_number("machine.geometry.end_turn"),
            winding_temperature_c: self.number("machine.geometry.winding_temperature"),
        };
        if geometry.bore_radius_m > 0.0 {
            super::geometry::check(&geometry, construction, slots, |reason, remedy, keys| {
                let marks: Vec<(String, String)> =
                    keys.iter().map(|k| (at(k), k.replace('_', " "))).collect();
                let marks: Vec<(&str, &str)> = marks
                    .iter()
                    .map(|(k, l)| (k.as_str(), l.as_str()))
                    .collect();
                self.contradiction(reason, remedy, &marks);
            });
        }
        geometry
    }

    fn bench(&mut self) -> Bench {
        Bench {
            drive: self.drive(),
            supply: self.supply(),
            load: self.load(),
        }
    }

    fn drive(&mut self) -> DriveSetup {
        let commutation = match self.word("drive.commutation") {
            "forced" => Commutation::Forced,
            _ => Commutation::Position,
        };
        let direction = match self.word("drive.direction") {
            "reverse" => Direction::Reverse,
            _ => Direction::Forward,
        };
        let gates = match self.word("drive.gates") {
            "all-off" => Gates::AllOff,
            "all-low" => Gates::AllLow,
            _ => Gates::Stepping,
        };
        let advance_rad = self.number("drive.advance");
        let pwm = self.has_table("drive.pwm").then(|| PwmSetup {
            frequency_hz: self.number("drive.pwm.frequency"),
            duty: self.number("drive.pwm.duty"),
            chop: match self.word("drive.pwm.chop") {
                "high-side-synchronous" => Chop::HighSideSynchronous,
                "both-sides" => Chop::BothSides,
                _ => Chop::HighSide,
            },
        });
        let forced = if self.has_table("drive.forced") {
            Some(self.forced())
        } else {
            if commutation == Commutation::Forced {
                let place = self.value_place("drive.commutation");
                self.missing(
                    "drive.forced.frequency",
                    "commutation = \"forced\" steps by the clock",
                    place,
                );
            }
            None
        };
        let switch = SwitchSetup {
            on_resistance_ohm: self.number("drive.switch.on_resistance"),
            parallel: self.whole("drive.switch.parallel"),
            diode_drop_v: self.number("drive.switch.diode_drop"),
            diode_resistance_ohm: self.number("drive.switch.diode_resistance"),
        };
        DriveSetup {
            commutation,
            advance_rad,
            direction,
            gates,
            pwm,
            forced,
            switch,
        }
    }

    fn forced(&mut self) -> ForcedSetup {
        let (start_key, ramp_key) = ("drive.forced.start_frequency", "drive.forced.ramp");
        let frequency_hz = self.number("drive.forced.frequency");
        self.both(
            (start_key, "a ramp from there to `frequency`"),
            (ramp_key, "a frequency to start from"),
        );
        let start = self.maybe_number(start_key);
        let ramp_s = self.maybe_number(ramp_key).unwrap_or(0.0);
        ForcedSetup {
            frequency_hz,
            // Without a ramp there is no time at which another frequency would hold.
            start_frequency_hz: start.filter(|_| ramp_s > 0.0).unwrap_or(frequency_hz),
            ramp_s,
            #[expect(clippy::cast_possible_truncation, reason = "1 to 6")]
            start_step: self.whole("drive.forced.start_step") as u8,
            align_s: self.number("drive.forced.align"),
        }
    }

    /// Two keys that go together, each with what is missing when it stands alone.
    fn both(&mut self, first: (&str, &str), second: (&str, &str)) {
        let ((alone, why), absent) = match (self.given(first.0), self.given(second.0)) {
            (true, false) => (first, second.0),
            (false, true) => (second, first.0),
            _ => return,
        };
        let spec = spec_of(absent);
        self.problems.push(Problem::Needs {
            key: alone.to_owned(),
            needs: format!("`{}` too: {why}", spec.name()),
            remedy: format!(
                "add `{} = {}`, or leave `{}` out",
                spec.name(),
                spec.example,
                spec_of(alone).name()
            ),
            place: self.key_place(alone),
            other: None,
        });
    }

    fn supply(&mut self) -> SupplySetup {
        let voltage_v = self.number("supply.voltage");
        self.both(
            (
                "supply.resistance",
                "a source with resistance feeds the bridge through a capacitor",
            ),
            (
                "supply.capacitance",
                "a stiff supply has no use for a capacitor",
            ),
        );
        let resistance = self.maybe_number("supply.resistance");
        let capacitance = self.maybe_number("supply.capacitance");
        let source = resistance
            .zip(capacitance)
            .map(|(resistance_ohm, capacitance_f)| SoftSource {
                resistance_ohm,
                capacitance_f,
            });
        SupplySetup { voltage_v, source }
    }

    fn load(&mut self) -> LoadSetup {
        LoadSetup {
            constant_nm: self.number("load.constant"),
            gravity_nm: self.number("load.gravity"),
            quadratic_nm_s2: self.number("load.quadratic"),
            inertia_kg_m2: self.number("load.inertia"),
        }
    }

    fn run(&mut self) -> RunSetup {
        let duration = self.maybe_number("run.duration");
        let measure = self.maybe_number("run.measure");
        let duration_s = duration.unwrap_or(1.0);
        let mut measure_s = measure.unwrap_or(duration_s);
        if measure_s > duration_s {
            if self.given("run.measure") && duration.is_some() {
                let by_default = if self.given("run.duration") {
                    ""
                } else {
                    ", by default,"
                };
                self.contradiction(
                    format!(
                        "the figures would come from the last {} of a run that is only {}{by_default} long",
                        format_quantity(measure_s, Quantity::Time),
                        format_quantity(duration_s, Quantity::Time),
                    ),
                    "make `measure` at most `duration`",
                    &[("run.duration", "length of the run"), ("run.measure", "longer than the run")],
                );
            }
            measure_s = duration_s;
        }
        RunSetup {
            duration_s,
            start_speed_rad_s: self.number("run.start_speed"),
            start_angle_rad: self.number("run.start_angle"),
            hold_speed: self.flag("run.hold_speed"),
            sample_s: self.number("run.sample"),
            measure_s,
        }
    }
}
