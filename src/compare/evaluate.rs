//! From a candidate to its row.

use super::axes::{Axes, Candidate, MAX_CANDIDATES};
use super::row::{Row, canonical};
use crate::analysis::{Measuring, RunEnd, RunFigures, RunOutcome};
use crate::machine::copper::{Copper, MOST_SLOT_FILL};
use crate::machine::{Inside, Machine, cogging_per_turn};
use crate::setup::{
    Connection, EmfConstant, EmfShape, GeometrySetup, MachineSetup, Setup, WindingSetup,
    geometry_problems,
};
use crate::winding::{CoilOrder, WindFlag, WindReport, Winding};

/// Why a comparison cannot be made at all.
#[derive(Clone, Debug, PartialEq)]
pub enum CompareError {
    /// More candidates than anyone reads.
    TooMany {
        /// How many.
        n_candidates: u64,
    },
    /// The base setup does not have what this needs.
    NeedsGeometry {
        /// The option that asks for it.
        option: &'static str,
    },
    /// Figures need turns.
    NeedsTurns,
}

impl std::fmt::Display for CompareError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::TooMany { n_candidates } => write!(
                f,
                "that is {n_candidates} candidates, and a comparison has at most {MAX_CANDIDATES}: \
                 shorten a list, or widen the step of a range as in 6..20/2"
            ),
            Self::NeedsGeometry { option } => write!(
                f,
                "{option} needs the dimensions of a machine: give the setup [machine.geometry] with \
                 bore_radius, air_gap, magnet_thickness, magnet_remanence and stack_length"
            ),
            Self::NeedsTurns => f.write_str(
                "with [machine.geometry] the turns of a coil are needed too: give --turns, or turns \
                 in [machine.winding]",
            ),
        }
    }
}

impl std::error::Error for CompareError {}

/// A base setup and what is varied about it.
#[derive(Clone, Debug)]
pub struct Comparison {
    base: Setup,
    axes: Axes,
    torque_nm: Option<f64>,
    with_run: bool,
}

impl Comparison {
    /// Checks that the comparison makes sense.
    ///
    /// # Errors
    /// [`CompareError`].
    pub fn new(
        base: Setup,
        axes: Axes,
        torque_nm: Option<f64>,
        with_run: bool,
    ) -> Result<Self, CompareError> {
        let n_candidates = axes.n_candidates();
        if n_candidates > MAX_CANDIDATES {
            return Err(CompareError::TooMany { n_candidates });
        }
        if base.machine.geometry.is_none() {
            for (asked, option) in [
                (torque_nm.is_some(), "--torque"),
                (with_run, "--run"),
                (axes.turns.len() > 1, "--turns"),
                (axes.wires_m.len() > 1, "--wire"),
                (axes.magnet_arcs.len() > 1, "--magnet-arc"),
            ] {
                if asked {
                    return Err(CompareError::NeedsGeometry { option });
                }
            }
        } else if axes.turns.iter().any(Option::is_none) {
            return Err(CompareError::NeedsTurns);
        }
        Ok(Self {
            base,
            axes,
            torque_nm,
            with_run,
        })
    }

    /// What is varied.
    #[must_use]
    pub const fn axes(&self) -> &Axes {
        &self.axes
    }

    /// The rules that hold for every row, as sentences.
    #[must_use]
    pub fn rules(&self) -> Vec<String> {
        let mut rules = Vec::new();
        let machine = &self.base.machine;
        let Some(geometry) = &machine.geometry else {
            rules.push(
                "the setup has no [machine.geometry], so only figures of the winding are known"
                    .to_owned(),
            );
            return rules;
        };
        if geometry.slotting && self.axes.slots.iter().any(|n| *n != machine.slots) {
            rules.push(format!(
                "with other slots than {}, slot opening and tooth keep their share of the slot \
                 pitch; radial dimensions, magnets and yokes stay",
                machine.slots
            ));
        }
        if self.axes.poles.iter().any(|n| *n != machine.poles) {
            rules.push(
                "with other poles the magnet arc keeps its share of the pole pitch".to_owned(),
            );
        }
        if !matches!(machine.emf.shape, EmfShape::Computed(_))
            || machine.phase_resistance_ohm.is_some()
            || machine.phase_inductance_h.is_some()
            || machine.cogging_peak_nm.is_some()
        {
            rules.push(
                "Kv, resistance, inductance and cogging are computed from the dimensions for every \
                 row; what the setup gives for them is not used"
                    .to_owned(),
            );
        }
        rules
    }

    /// The base setup with the machine of a candidate: computed from its dimensions where the base
    /// has them, else with what the base gives for its EMF, resistance and inductance.
    #[must_use]
    pub fn setup_of(&self, candidate: &Candidate) -> Setup {
        let mut setup = self.base.clone();
        let turns = candidate.turns.unwrap_or(1);
        if self.base.machine.geometry.is_some() {
            setup.machine = self.machine(candidate, turns);
            if let Some(geometry) = &mut setup.machine.geometry {
                geometry.wire_diameter_m = candidate.wire_m;
            }
        } else {
            let machine = &mut setup.machine;
            (machine.slots, machine.poles) = (candidate.slots, candidate.poles);
            machine.connection = candidate.connection;
            let mut winding = self.winding_setup(candidate, turns);
            winding.turns = candidate.turns;
            machine.winding = Some(winding);
        }
        setup
    }

    /// The rows of a group, in order; fewer where `stop` says so in between.
    #[must_use]
    pub fn group(&self, group_idx: u64, stop: &dyn Fn() -> bool) -> Vec<Row> {
        let size = self.axes.group_size();
        let candidates: Vec<Candidate> = (group_idx * size..(group_idx + 1) * size)
            .filter_map(|idx| self.axes.candidate(idx))
            .collect();
        let Some(first) = candidates.first() else {
            return Vec::new();
        };
        let shared = self.shared(first);
        let mut rows = Vec::with_capacity(candidates.len());
        for candidate in &candidates {
            if stop() {
                break;
            }
            let row = match &shared {
                Ok(shared) => self.row(candidate, shared),
                Err(reason) => infeasible(candidate, reason.clone()),
            };
            rows.push(row.canonical());
        }
        rows
    }

    /// What all candidates of a group have in common, or why none of them can be.
    fn shared(&self, candidate: &Candidate) -> Result<Shared, String> {
        let winding = self.winding(candidate)?;
        let setup = self.winding_setup(candidate, 1);
        let paths = setup.parallel_paths;
        if paths > 1 {
            CoilOrder::of(&winding, paths).map_err(|error| error.to_string())?;
        }
        let report = WindReport::of(&winding);
        let pulled = report.flags.contains(&WindFlag::UnbalancedPull);
        let inside = match &self.base.machine.geometry {
            None => None,
            Some(_) => {
                let machine = self.machine(candidate, 1);
                if let Some(geometry) = &machine.geometry {
                    let problems = geometry_problems(
                        geometry,
                        machine.construction,
                        candidate.slots,
                        candidate.poles,
                    );
                    if let Some(problem) = problems.into_iter().next() {
                        return Err(problem);
                    }
                }
                let inside = Inside::of(&machine).ok_or("the dimensions give no section")?;
                Some(OneTurn::new(inside, machine, &self.axes.connections))
            }
        };
        Ok(Shared {
            winding,
            factor: report.winding_factor,
            pulled,
            inside,
        })
    }

    fn winding(&self, candidate: &Candidate) -> Result<Winding, String> {
        let base = &self.base.machine;
        let own = base.winding.as_ref().filter(|written| {
            (base.slots, base.poles, written.layers, written.coil_span)
                == (
                    candidate.slots,
                    candidate.poles,
                    candidate.layers,
                    candidate.span,
                )
        });
        let winding = match own.and_then(|written| written.layout.as_ref()) {
            Some(sides) => {
                Winding::from_layout(candidate.slots, candidate.poles, candidate.layers, sides)
            }
            None => Winding::lay_out(
                candidate.slots,
                candidate.poles,
                candidate.layers,
                candidate.span,
            ),
        };
        winding.map_err(|error| error.to_string())
    }

    fn winding_setup(&self, candidate: &Candidate, turns: u32) -> WindingSetup {
        let base = &self.base.machine;
        let written = base.winding.as_ref();
        let same = written.is_some_and(|written| {
            (base.slots, base.poles, written.layers, written.coil_span)
                == (
                    candidate.slots,
                    candidate.poles,
                    candidate.layers,
                    candidate.span,
                )
        });
        WindingSetup {
            layers: candidate.layers,
            coil_span: candidate.span,
            turns: Some(turns),
            parallel_paths: written.map_or(1, |written| written.parallel_paths),
            layout: written
                .filter(|_| same)
                .and_then(|written| written.layout.clone()),
        }
    }

    /// The machine of a candidate, everything about it computed.
    fn machine(&self, candidate: &Candidate, turns: u32) -> MachineSetup {
        let mut machine = self.base.machine.clone();
        let share = f64::from(machine.slots) / f64::from(candidate.slots);
        machine.slots = candidate.slots;
        machine.poles = candidate.poles;
        machine.connection = candidate.connection;
        machine.winding = Some(self.winding_setup(candidate, turns));
        machine.emf.shape = EmfShape::Computed(Vec::new());
        machine.emf.constant = EmfConstant::Computed;
        machine.phase_resistance_ohm = None;
        machine.phase_inductance_h = None;
        machine.cogging_peak_nm = None;
        if let Some(geometry) = &mut machine.geometry {
            fit(geometry, candidate, share);
        }
        machine
    }

    fn row(&self, candidate: &Candidate, shared: &Shared) -> Row {
        let mut row = Row {
            winding_factor: Some(shared.factor),
            cogging_per_turn: Some(cogging_per_turn(candidate.slots, candidate.poles)),
            unbalanced_pull: Some(shared.pulled),
            ..blank(candidate)
        };
        if shared.winding.phase_order_reversed() {
            row.notes.push("the phases follow U, W, V".to_owned());
        }
        let (Some(one_turn), Some(turns)) = (&shared.inside, candidate.turns) else {
            return row;
        };
        let (inside, machine) = (&one_turn.inside, &one_turn.setup);
        let setup = self.winding_setup(candidate, turns);
        let Some(mut geometry) = machine.geometry.clone() else {
            return row;
        };
        geometry.wire_diameter_m = candidate.wire_m;
        let copper = Copper::new(&inside.section, &geometry, &shared.winding, &setup, turns);
        self.figures(&mut row, candidate, one_turn, &copper);
        row.slot_fill = copper.slot_fill;
        row.copper_mass_kg = copper.mass_kg;
        if let Some(fill) = copper.slot_fill.filter(|fill| *fill > MOST_SLOT_FILL) {
            return infeasible(
                candidate,
                format!(
                    "the winding will not go in: bare copper would take {:.0} % of the slot, and \
                     round wire stops below {:.0} %",
                    100.0 * fill,
                    100.0 * MOST_SLOT_FILL
                ),
            );
        }
        if let (Some(wire_m), Some(slot)) = (candidate.wire_m, inside.section.slot)
            && wire_m >= slot.opening_m
        {
            row.notes
                .push("the wire does not pass the slot opening".to_owned());
        }
        if candidate.connection == Connection::Delta {
            row.notes.push(
                "third harmonics circulate in a delta and are not in these figures".to_owned(),
            );
        }
        if self.with_run {
            self.run(&mut row, candidate);
        }
        row
    }

    /// EMF and inductance from the machine with one turn a coil, which they follow as N and N².
    fn figures(&self, row: &mut Row, candidate: &Candidate, one_turn: &OneTurn, copper: &Copper) {
        let turns = f64::from(candidate.turns.unwrap_or(1));
        let mut known = one_turn.machines.iter();
        let Some(machine) = known.find(|machine| machine.connection == candidate.connection) else {
            return;
        };
        let kv_rad_per_v_s = machine.kv_rad_per_v_s / turns;
        row.kv_rpm_per_v = Some(kv_rad_per_v_s * 30.0 / std::f64::consts::PI);
        row.cogging_peak_nm = Some(machine.cogging_peak_nm.abs());
        // Between two terminals: two windings in series, or one beside two.
        let line = match candidate.connection {
            Connection::Star => 2.0,
            Connection::Delta => 2.0 / 3.0,
        };
        let section_h = one_turn
            .inside
            .computed
            .as_ref()
            .map(|computed| computed.inductance.section_h());
        row.line_inductance_h = section_h.map(|section_h| {
            line * (section_h * turns * turns + copper.end_inductance_h.unwrap_or(0.0))
        });
        row.line_resistance_ohm = copper.phase_resistance_ohm.map(|ohm| line * ohm);
        // Kt = 1/Kv in SI; six steps heat the line resistance with the current of the torque.
        let kt_nm_per_a = 1.0 / kv_rad_per_v_s;
        row.motor_constant_nm_per_sqrt_w = row
            .line_resistance_ohm
            .filter(|ohm| *ohm > 0.0)
            .map(|ohm| kt_nm_per_a / ohm.sqrt());
        row.copper_loss_w = self
            .torque_nm
            .zip(row.line_resistance_ohm)
            .map(|(torque_nm, ohm)| {
                let current_a = torque_nm / kt_nm_per_a;
                current_a * current_a * ohm
            });
    }

    /// Runs the base setup with this machine.
    fn run(&self, row: &mut Row, candidate: &Candidate) {
        match self.begin_run(row) {
            Some(mut measuring) => {
                while !measuring.advance(u32::MAX, &mut ()) {}
                take_run(row, measuring.outcome());
            }
            None if candidate.wire_m.is_none() => row
                .notes
                .push("not run: without a wire there is no resistance".to_owned()),
            None => {}
        }
    }

    /// The run of a candidate, for those who make it in goes and then [`take_run`]; `None` where
    /// there is nothing to run: it cannot be built, or has no dimensions or no wire.
    #[must_use]
    pub fn begin_run(&self, row: &Row) -> Option<Measuring> {
        let candidate = self.axes.candidate(row.candidate)?;
        let known = self.base.machine.geometry.is_some() && candidate.wire_m.is_some();
        (known && row.infeasible.is_none()).then(|| Measuring::new(&self.setup_of(&candidate)))
    }
}

/// Takes from a run what a row shows of it.
pub fn take_run(row: &mut Row, outcome: RunOutcome) {
    let Some(window) = outcome.window.as_ref().filter(|_| outcome.error.is_none()) else {
        row.notes.push("the run did not come to its end".to_owned());
        return;
    };
    let end = RunEnd {
        pole_pairs: row.poles / 2,
        final_speed_rad_s: outcome.final_speed_rad_s,
        commutations: outcome.work.n_commutations,
        in_step: outcome.in_step,
        warnings: Vec::new(),
    };
    let (figures, _) = RunFigures::from_totals(window, &outcome.account, &end);
    row.mean_speed_rpm = figures.mean_speed_rpm.map(canonical);
    row.torque_ripple_pp_nm = figures.torque_ripple_pp_nm.map(canonical);
    if !outcome.in_step {
        row.notes.push("the run lost step".to_owned());
    }
}

/// What the candidates of a group have in common.
#[derive(Debug)]
struct Shared {
    winding: Winding,
    factor: f64,
    pulled: bool,
    inside: Option<OneTurn>,
}

/// What is known of the machines of a group with one turn a coil.
#[derive(Debug)]
struct OneTurn {
    inside: Inside,
    setup: MachineSetup,
    /// One for each connection that is compared: within a group nothing else changes the shape of the
    /// EMF, and the peak that Kv counts is searched for in it.
    machines: Vec<Machine>,
}

impl OneTurn {
    fn new(inside: Inside, setup: MachineSetup, connections: &[Connection]) -> Self {
        let mut joined = setup.clone();
        let machines = connections.iter().map(|&connection| {
            joined.connection = connection;
            Machine::with(&joined, Some(&inside))
        });
        Self {
            machines: machines.collect(),
            inside,
            setup,
        }
    }
}

/// Makes the base dimensions those of a candidate; `share` is base slots over its slots.
fn fit(geometry: &mut GeometrySetup, candidate: &Candidate, share: f64) {
    if candidate.magnet_arc.is_some() {
        geometry.magnet_arc = candidate.magnet_arc.unwrap_or(geometry.magnet_arc);
    }
    for width in [&mut geometry.slot_opening_m, &mut geometry.tooth_width_m] {
        *width = width.map(|width| width * share);
    }
}

fn blank(candidate: &Candidate) -> Row {
    Row {
        candidate: candidate.idx,
        slots: candidate.slots,
        poles: candidate.poles,
        layers: candidate.layers,
        coil_span: candidate.span,
        connection: candidate.connection,
        turns: candidate.turns,
        wire_diameter_m: candidate.wire_m,
        magnet_arc: candidate.magnet_arc,
        ..Row::default()
    }
}

fn infeasible(candidate: &Candidate, reason: String) -> Row {
    Row {
        infeasible: Some(reason),
        ..blank(candidate)
    }
}
