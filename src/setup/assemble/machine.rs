//! The machine of a setup: what must be there, and what must agree.

use super::super::check::Value;
use super::super::model::*;
use super::super::problem::{Place, Problem};
use super::Assembler;
use crate::winding::{CoilOrder, Winding, feasible, parse_layout};

impl Assembler<'_> {
    pub(super) fn machine(&mut self) -> MachineSetup {
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
        let computed = self.word("machine.emf.shape") == "computed";
        // What a computed machine is made of may be left out where it can be computed too.
        let wire = computed && self.given("machine.geometry.wire_diameter");
        let phase_resistance_ohm = self.phase_or_line("resistance", phase_from_line, wire);
        let phase_inductance_h = self.phase_or_line("inductance", phase_from_line, computed);
        let emf = self.emf();
        if computed {
            self.needed_to_compute();
        }
        let machine_fits = fits.then_some(()).and(slots.zip(poles));
        let winding = self
            .has_table("machine.winding")
            .then(|| self.winding(machine_fits));
        let geometry = self
            .has_table("machine.geometry")
            .then(|| self.geometry(construction, slots, poles));
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
            cogging_peak_nm: self
                .maybe_number("machine.cogging.peak")
                .or((!computed).then_some(0.0)),
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

    /// What a computed EMF cannot do without; what is in the tables is asked for by them.
    fn needed_to_compute(&mut self) {
        let place = self.value_place("machine.emf.shape");
        if !self.has_table("machine.geometry") {
            let why = "shape = \"computed\" follows from the dimensions of the section";
            self.missing("machine.geometry.bore_radius", why, place);
        }
        if !self.given("machine.winding.turns") {
            let why = "shape = \"computed\" needs the turns of a coil";
            self.missing("machine.winding.turns", why, place);
        }
    }

    /// `name` or `line_name` of [machine.phase]; exactly one must be given, or at most one where
    /// it `can_be_computed`.
    fn phase_or_line(
        &mut self,
        name: &str,
        phase_from_line: fn(f64) -> f64,
        can_be_computed: bool,
    ) -> Option<f64> {
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
                None
            }
            (true, false) => Some(self.number(&phase)),
            (false, true) => Some(phase_from_line(self.number(&line))),
            (false, false) if can_be_computed => None,
            (false, false) => {
                let place = self.home(&phase);
                let computed = self.word("machine.emf.shape") == "computed";
                let or_compute = if computed {
                    ", or machine.geometry.wire_diameter, and it is computed"
                } else {
                    ""
                };
                let why = format!(
                    "give `{name}` (of one phase winding) or `line_{name}` (between two \
                     terminals){or_compute}"
                );
                self.missing(&phase, &why, place);
                None
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
            (false, false) if word == "computed" => EmfConstant::Computed,
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
            "computed" => EmfShape::Computed(Vec::new()),
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
        let laid = match (&layout, machine, layers, coil_span) {
            (Some(sides), Some((slots, poles)), Some(layers), _) => {
                Winding::from_layout(slots, poles, layers, sides).ok()
            }
            (None, Some((slots, poles)), Some(layers), Some(span)) if laid_out => {
                Winding::lay_out(slots, poles, layers, span).ok()
            }
            _ => None,
        };
        self.parallel_paths(laid.as_ref());
        WindingSetup {
            layers: layers.unwrap_or(2),
            coil_span: coil_span.unwrap_or(1),
            turns: self.maybe_whole("machine.winding.turns"),
            parallel_paths: self.whole("machine.winding.parallel_paths"),
            layout,
        }
    }

    /// Paths whose EMFs differ cannot lie in parallel: what circulates in them is not simulated.
    fn parallel_paths(&mut self, winding: Option<&Winding>) {
        const KEY: &str = "machine.winding.parallel_paths";
        let (Some(winding), Some(paths)) = (winding, self.maybe_whole(KEY)) else {
            return;
        };
        if paths > 1
            && let Err(error) = CoilOrder::of(winding, paths)
        {
            self.contradiction(
                error.to_string(),
                "take a number that it can have; 1 puts all coils of a phase in series",
                &[(KEY, "parallel paths"), ("machine.slots", "slots")],
            );
        }
    }

    fn geometry(
        &mut self,
        construction: Construction,
        slots: Option<u32>,
        poles: Option<u32>,
    ) -> GeometrySetup {
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
            super::super::geometry::check(
                &geometry,
                construction,
                slots,
                poles,
                |reason, remedy, keys| {
                    let marks: Vec<(String, String)> =
                        keys.iter().map(|k| (at(k), k.replace('_', " "))).collect();
                    let marks: Vec<(&str, &str)> = marks
                        .iter()
                        .map(|(k, l)| (k.as_str(), l.as_str()))
                        .collect();
                    self.contradiction(reason, remedy, &marks);
                },
            );
        }
        geometry
    }
}
