//! Field, EMF, inductance and cogging against finite elements, and against what must hold
//! whatever the machine.
//!
//! The reference is `tests/reference/field_fem.toml`, written by `field_fem.py` beside it:
//! nine sections on three meshes each, iron of relative permeability 1e5. Its own change between
//! the two finest meshes stands in the file.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::cast_precision_loss,
    reason = "a test fails by panicking, says what it saw, and counts samples"
)]

use std::f64::consts::{PI, TAU};

use proptest::prelude::*;
use proptest::test_runner::TestRunner;
use wyebench::machine::Inside;
use wyebench::machine::computed::{Computed, sides_of};
use wyebench::machine::field::SectionField;
use wyebench::machine::field::ring::{Magnets, Ring};
use wyebench::machine::geometry::{Section, SlotShape};
use wyebench::setup::{Construction, Magnetisation, Setup};
use wyebench::sim::Simulator;
use wyebench::winding::Winding;

struct Case {
    table: toml::Table,
}

impl Case {
    fn all() -> Vec<Self> {
        let text = include_str!("reference/field_fem.toml");
        let table: toml::Table = toml::from_str(text).unwrap();
        table["machine"]
            .as_array()
            .unwrap()
            .iter()
            .map(|entry| Self {
                table: entry.as_table().unwrap().clone(),
            })
            .collect()
    }

    fn named(name: &str) -> Self {
        Self::all()
            .into_iter()
            .find(|case| case.name() == name)
            .unwrap()
    }

    fn name(&self) -> &str {
        self.table["name"].as_str().unwrap()
    }

    fn number(&self, key: &str) -> f64 {
        let value = &self.table[key];
        value
            .as_float()
            .unwrap_or_else(|| value.as_integer().unwrap() as f64)
    }

    fn whole(&self, key: &str) -> u32 {
        u32::try_from(self.table[key].as_integer().unwrap()).unwrap()
    }

    fn list(&self, key: &str) -> Vec<f64> {
        self.table[key]
            .as_array()
            .unwrap()
            .iter()
            .map(|v| {
                v.as_float()
                    .unwrap_or_else(|| v.as_integer().unwrap() as f64)
            })
            .collect()
    }

    fn slotted(&self) -> bool {
        self.table["slotting"].as_bool().unwrap()
    }

    fn section(&self) -> Section {
        let outrunner = self.table["construction"].as_str() == Some("outrunner");
        let sign = if outrunner { -1.0 } else { 1.0 };
        let bore = self.number("bore_radius_m");
        let face = bore - sign * self.number("air_gap_m");
        Section {
            slots: self.whole("slots"),
            construction: if outrunner {
                Construction::Outrunner
            } else {
                Construction::Inrunner
            },
            ring: Ring {
                stator_radius_m: bore,
                face_radius_m: face,
                back_radius_m: face - sign * self.number("magnet_thickness_m"),
                permeability: self.number("magnet_permeability"),
            },
            magnets: Magnets {
                pole_pairs: self.whole("poles") / 2,
                remanence_t: self.number("magnet_remanence_t"),
                arc: self.number("magnet_arc"),
                magnetisation: if self.table["magnetisation"].as_str() == Some("parallel") {
                    Magnetisation::Parallel
                } else {
                    Magnetisation::Radial
                },
            },
            stack_length_m: 1.0,
            slot: self.slotted().then(|| SlotShape {
                opening_m: self.number("slot_opening_m"),
                tip_m: self.number("tooth_tip_m"),
                depth_m: self.number("slot_depth_m"),
                tooth_width_m: self.number("tooth_width_m"),
            }),
            sheet_width_m: self.number("slot_opening_m"),
            yoke_thickness_m: 4e-3,
            rotor_yoke_thickness_m: 4e-3,
            estimates: Vec::new(),
        }
    }

    fn winding(&self) -> Winding {
        let span = self.whole("coil_span");
        Winding::lay_out(self.whole("slots"), self.whole("poles"), 2, span).unwrap()
    }

    fn computed(&self) -> Computed {
        Computed::new(&self.section(), &self.winding(), 1, 1)
    }
}

fn line_peak(computed: &Computed) -> f64 {
    let wave = |t: f64| -> f64 {
        computed
            .emf
            .iter()
            .map(|e| {
                let n = f64::from(e.order);
                e.sine_v_s * libm::sin(n * t) + e.cosine_v_s * libm::cos(n * t)
            })
            .sum()
    };
    (0..7200)
        .map(|i| {
            let t = f64::from(i) * TAU / 7200.0;
            (wave(t) - wave(t - TAU / 3.0)).abs()
        })
        .fold(0.0, f64::max)
}

fn rms(values: impl Iterator<Item = f64>) -> f64 {
    let (mut sum, mut n) = (0.0, 0.0);
    for value in values {
        sum += value * value;
        n += 1.0;
    }
    libm::sqrt(sum / n)
}

/// Amplitude of the fundamental of samples over one period.
fn fundamental(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let (mut c, mut s) = (0.0, 0.0);
    for (i, v) in values.iter().enumerate() {
        let t = TAU * i as f64 / n;
        c += v * libm::cos(t);
        s += v * libm::sin(t);
    }
    2.0 * libm::hypot(c, s) / n
}

/// The goals: smooth 0.5 % of the fundamental (field and EMF harmonics), 1 % Kv, 5 % inductance;
/// slotted 3 % field fundamental, 7 % waveform RMS, 3 % EMF fundamental and Kv, 2 % harmonics,
/// 10 % line inductance. What is reached lies far inside and is held to bounds of its own, about
/// twice the largest difference seen: Kv 0.08 %, inductance 0.75 %, EMF and field 0.07 % of the
/// fundamental, waveform 0.22 % RMS.
#[test]
fn field_emf_and_inductance_agree_with_finite_elements() {
    for case in Case::all() {
        let name = case.name();
        let computed = case.computed();
        let kv = 30.0 / PI / line_peak(&computed);
        let kv_error = kv / case.number("kv_rpm_per_v") - 1.0;
        let line = 2.0 * computed.inductance.section_h();
        let line_error = line / case.number("line_inductance_h") - 1.0;
        let emf_error = emf_error(&case, &computed);
        let want = case.list("field_t");
        let pair = TAU / f64::from(case.whole("poles") / 2);
        let angles: Vec<f64> = (0..want.len())
            .map(|i| pair * i as f64 / want.len() as f64)
            .collect();
        let got = computed.field.radial_flux_density_t(0.0, &angles);
        let field_error = fundamental(&got) / fundamental(&want) - 1.0;
        let wave_error = rms(got.iter().zip(&want).map(|(a, b)| a - b)) / rms(want.iter().copied());
        println!(
            "{name}: Kv {:+.3} %, inductance {:+.2} %, EMF {:.3} %, field {:+.3} %, wave {:.2} %",
            100.0 * kv_error,
            100.0 * line_error,
            100.0 * emf_error,
            100.0 * field_error,
            100.0 * wave_error
        );
        let slotted = case.slotted();
        let bound = |smooth: f64, with_slots: f64| if slotted { with_slots } else { smooth };
        assert!(kv_error.abs() < bound(3e-4, 2e-3), "{name} Kv {kv_error}");
        assert!(
            line_error.abs() < bound(1e-3, 1.5e-2),
            "{name} inductance {line_error}"
        );
        assert!(emf_error < bound(8e-4, 1.5e-3), "{name} EMF {emf_error}");
        assert!(
            field_error.abs() < bound(2e-4, 2e-3),
            "{name} field {field_error}"
        );
        assert!(wave_error < bound(5e-4, 5e-3), "{name} wave {wave_error}");
    }
}

/// Largest difference of an EMF harmonic, sine and cosine parts together, over the fundamental.
fn emf_error(case: &Case, computed: &Computed) -> f64 {
    let sine = case.list("emf_sine_v_s");
    let cosine = case.list("emf_cosine_v_s");
    let mut worst = 0.0_f64;
    let mut order = 1;
    for (s, c) in sine.iter().zip(&cosine) {
        let got = computed.emf.iter().find(|term| term.order == order);
        let (gs, gc) = got.map_or((0.0, 0.0), |t| (t.sine_v_s, t.cosine_v_s));
        worst = worst.max(libm::hypot(gs - s, gc - c) / sine[0]);
        order += 2;
    }
    worst
}

/// The goal: period, zeros and sign exact, peak within 20 % where it does not nearly vanish. Held
/// to 2 % of the peak at every angle of one slot pitch, the 12/14 and 12/10 that nearly vanish
/// included: largest seen 0.9 %, and the reference itself moves by up to 2.5 % between meshes.
#[test]
fn cogging_agrees_with_finite_elements() {
    for case in Case::all() {
        let name = case.name();
        let computed = case.computed();
        let want = case.list("torque_nm");
        let peak = want.iter().fold(0.0_f64, |a, b| a.max(b.abs()));
        if !case.slotted() {
            assert!(computed.cogging_nm.is_empty(), "{name}");
            // What the mesh of the reference makes of nothing.
            assert!(peak < 1e-4, "{name} {peak}");
            continue;
        }
        let step = case.number("torque_step_deg").to_radians();
        let mut worst = 0.0_f64;
        for (i, want) in want.iter().enumerate() {
            let theta = i as f64 * step - computed.pole_at_zero_rad;
            worst = worst.max((computed.cogging_at_nm(theta) - want).abs());
        }
        let (got, stable) = computed.cogging_peak_nm();
        println!(
            "{name}: peak {got:.4}, wanted {peak:.4}, off by {:.2} %",
            100.0 * worst / peak
        );
        assert!(worst < 0.02 * peak, "{name}: {worst} of {peak}");
        let slope = computed.cogging_at_nm(1e-5);
        assert_eq!(stable, slope < 0.0, "{name}");
    }
}

/// Period, zeros and symmetry need no reference: lcm(slots, poles) times in a turn, odd about
/// every rest position.
#[test]
fn cogging_repeats_as_often_as_slots_and_poles_say() {
    for case in Case::all().iter().filter(|case| case.slotted()) {
        let computed = case.computed();
        let per_turn =
            wyebench::machine::cogging_per_turn(case.whole("slots"), case.whole("poles"));
        let period = TAU / f64::from(per_turn);
        let (peak, _) = computed.cogging_peak_nm();
        for i in 0..40 {
            let theta = 0.011 * f64::from(i);
            let here = computed.cogging_at_nm(theta);
            assert!((here - computed.cogging_at_nm(theta + period)).abs() < 1e-9 * peak);
            // Sides above one another link a little unequally, and the axis follows.
            let there = computed.cogging_at_nm(-theta);
            assert!((here + there).abs() < 1e-6 * peak, "{}", case.name());
        }
        for zero in [0.0, 0.5 * period, period] {
            assert!(computed.cogging_at_nm(zero).abs() < 1e-6 * peak);
        }
    }
}

/// The usual numbers of modes and sectors against twice as many of the first and more of the
/// second. One
/// sector of equal area and depth, the usual simplification, is 10 % off in inductance where
/// the slot tapers to a third (12/14 here), and that alone would be the whole of the goal.
#[test]
fn finer_modes_change_nothing_that_matters() {
    for case in Case::all().iter().filter(|case| case.slotted()) {
        let name = case.name();
        let winding = case.winding();
        let section = case.section();
        let of = |modes: usize, sectors: usize| {
            let field = SectionField::with_modes(&section, sides_of(&winding), modes, sectors);
            let c = Computed::from_field(field, &winding, 1, 1);
            [
                c.emf[0].sine_v_s,
                c.inductance.section_h(),
                c.cogging_peak_nm().0,
            ]
        };
        let (fine, usual) = (of(30, 14), case.computed());
        let usual = [
            usual.emf[0].sine_v_s,
            usual.inductance.section_h(),
            usual.cogging_peak_nm().0,
        ];
        let ratio = |k: usize| usual[k] / fine[k] - 1.0;
        assert!(ratio(0).abs() < 2e-4, "{name} EMF {}", ratio(0));
        assert!(ratio(1).abs() < 3e-3, "{name} inductance {}", ratio(1));
        assert!(ratio(2).abs() < 2e-2, "{name} cogging {}", ratio(2));
    }
    let case = Case::named("slotted_12_14_outrunner_radial");
    let field = SectionField::with_modes(&case.section(), sides_of(&case.winding()), 15, 1);
    let one = Computed::from_field(field, &case.winding(), 1, 1);
    let off = one.inductance.section_h() / case.computed().inductance.section_h() - 1.0;
    assert!((0.08..0.12).contains(&off), "{off}");
}

/// Loaded minus cogging torque, from the field's stress, is Σ i dλ/dθ, from linkages: the two
/// meet only in the solution. To rounding.
#[test]
fn current_torque_is_current_times_linkage_slope() {
    for case in Case::all() {
        let name = case.name();
        let field = case.computed().field;
        let winding = case.winding();
        let p = f64::from(winding.pole_pairs());
        let currents = [3.0, -1.2, -1.8];
        let ampere_turns: Vec<Vec<f64>> = (0..winding.slots())
            .map(|slot| {
                let sides = winding.sides_in_slot(slot).iter();
                let sign = |towards: bool| if towards { 1.0 } else { -1.0 };
                sides
                    .map(|side| sign(side.towards_viewer) * currents[side.phase.idx()])
                    .collect()
            })
            .collect();
        let linkages = [field.side_linkages(0), field.side_linkages(1)];
        for i in 0..24 {
            let rotor = 0.27 * f64::from(i) + 0.003;
            let got = field.current_torque_nm_per_m(rotor, &ampere_turns);
            let (mut want, mut scale) = (0.0, 0.0);
            for (slot, sides) in ampere_turns.iter().enumerate() {
                let at = TAU * slot as f64 / f64::from(winding.slots()) - rotor;
                for (side, current) in sides.iter().enumerate() {
                    for part in &linkages[side] {
                        let nu = f64::from(part.order) * p;
                        let (sine, cosine) = libm::sincos(nu * at);
                        let slope = -nu * (part.in_phase * cosine - part.quadrature * sine);
                        want += current * slope;
                        scale += (current * slope).abs();
                    }
                }
            }
            assert!(
                (got - want).abs() < 1e-10 * scale,
                "{name} {rotor}: {got} {want}"
            );
        }
    }
}

/// A rotor turned by a pole pitch has all signs turned.
#[test]
fn the_field_changes_sign_after_a_pole_pitch() {
    for case in Case::all() {
        let computed = case.computed();
        let pitch = PI / f64::from(case.whole("poles") / 2);
        let angles = [0.01, 0.2, 1.3];
        let here = computed.field.radial_flux_density_t(0.02, &angles);
        let there = computed.field.radial_flux_density_t(0.02 + pitch, &angles);
        for (a, b) in here.iter().zip(there) {
            assert!((a + b).abs() < 1e-9);
        }
    }
}

/// Two poles of full arc magnetised parallel: a sine, whatever the winding, in a smooth stator.
#[test]
fn a_parallel_two_pole_full_arc_gives_the_fundamental_alone() {
    let computed = Case::named("smooth_3_2_inrunner_parallel").computed();
    let orders: Vec<u32> = computed.emf.iter().map(|term| term.order).collect();
    assert_eq!(orders, [1]);
}

#[test]
fn turns_and_paths_scale_as_they_must() {
    let case = Case::named("slotted_12_10_inrunner_parallel");
    let of = |turns, paths| Computed::new(&case.section(), &case.winding(), turns, paths);
    let (one, nine, halved) = (of(1, 1), of(9, 1), of(9, 2));
    let ratio = |a: f64, b: f64| a / b;
    let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-12 * b, "{a} {b}");
    close(ratio(nine.emf[0].sine_v_s, one.emf[0].sine_v_s), 9.0);
    close(
        ratio(nine.inductance.section_h(), one.inductance.section_h()),
        81.0,
    );
    close(ratio(nine.emf[0].sine_v_s, halved.emf[0].sine_v_s), 2.0);
    close(
        ratio(nine.inductance.section_h(), halved.inductance.section_h()),
        4.0,
    );
    // Cogging is the magnets' and the teeth's alone.
    close(nine.cogging_peak_nm().0, one.cogging_peak_nm().0);
}

#[test]
fn no_magnets_no_emf() {
    let case = Case::named("slotted_12_10_inrunner_parallel");
    let mut section = case.section();
    section.magnets.remanence_t = 0.0;
    let computed = Computed::new(&section, &case.winding(), 9, 1);
    assert!(computed.emf.is_empty());
    assert_eq!(computed.cogging_peak_nm().0, 0.0);
    assert!(computed.inductance.section_h() > 0.0);
}

/// Inductances of the three phases are mutual, and no currents store negative energy.
#[test]
fn the_phase_inductances_are_symmetric_and_positive() {
    for case in Case::all() {
        let m = case.computed().phase_matrix_h;
        for a in 0..3 {
            for b in 0..3 {
                assert!(
                    (m[a][b] - m[b][a]).abs() < 1e-9 * m[0][0],
                    "{}",
                    case.name()
                );
            }
        }
        for i in [
            [1.0, 0.0, 0.0],
            [1.0, -1.0, 0.0],
            [1.0, 1.0, 1.0],
            [2.0, -1.0, -1.0],
        ] {
            let energy: f64 = (0..3)
                .flat_map(|a| (0..3).map(move |b| (a, b)))
                .map(|(a, b)| i[a] * m[a][b] * i[b])
                .sum();
            // Equal currents cancel in every slot of a winding with q = 1/2: nothing is stored.
            assert!(energy > -1e-12 * m[0][0], "{} {i:?}", case.name());
        }
    }
}

/// From millimetres to metres, three slots to a hundred, hairline openings and open slots:
/// whatever the setup room lets through gives finite figures of the right sign.
#[test]
fn odd_machines_stay_finite() {
    let mut runner = TestRunner::deterministic();
    let log = |low: f64, high: f64| (libm::log(low)..libm::log(high)).prop_map(libm::exp);
    let pairs = [
        (12, 14),
        (12, 10),
        (9, 6),
        (3, 2),
        (99, 66),
        (6, 4),
        (12, 74),
    ];
    let machine = (
        0..pairs.len(),
        prop::bool::ANY,
        prop::bool::ANY,
        prop::bool::ANY,
    );
    let lengths = (
        log(1e-3, 5.0),
        log(1e-4, 0.9),
        log(1e-3, 0.9),
        log(1e-4, 0.99),
        log(1e-3, 0.9),
    );
    let shape = (log(1e-3, 0.95), 0.02..0.98_f64, 0.01..1.0_f64, 1.0..2.0_f64);
    let result = runner.run(&(machine, lengths, shape), |(machine, lengths, shape)| {
        let (pair, outrunner, parallel, slotting) = machine;
        let (bore, gap, magnet, opening, depth) = lengths;
        let (tip, tooth, arc, permeability) = shape;
        let ((slots, poles), sign) = (pairs[pair], if outrunner { -1.0 } else { 1.0 });
        let inner = if outrunner { 1.0 } else { 0.45 };
        let face = bore - sign * bore * gap * inner;
        let depth = depth * bore;
        let tip = tip * depth;
        // The narrowest pitch, straight across.
        let narrow = if outrunner { bore - depth } else { bore + tip };
        let opening_m = opening * TAU * bore / f64::from(slots);
        let section = Section {
            slots,
            construction: if outrunner {
                Construction::Outrunner
            } else {
                Construction::Inrunner
            },
            ring: Ring {
                stator_radius_m: bore,
                face_radius_m: face,
                back_radius_m: face - sign * bore * magnet * inner,
                permeability,
            },
            magnets: Magnets {
                pole_pairs: poles / 2,
                remanence_t: 1.2,
                arc,
                magnetisation: if parallel {
                    Magnetisation::Parallel
                } else {
                    Magnetisation::Radial
                },
            },
            stack_length_m: bore,
            slot: slotting.then(|| SlotShape {
                opening_m,
                tip_m: tip,
                depth_m: depth,
                tooth_width_m: tooth * 2.0 * narrow * libm::sin(PI / f64::from(slots)),
            }),
            sheet_width_m: opening_m,
            yoke_thickness_m: bore,
            rotor_yoke_thickness_m: bore,
            estimates: Vec::new(),
        };
        let winding = Winding::lay_out(slots, poles, 2, 1).unwrap();
        let computed = Computed::new(&section, &winding, 1, 1);
        let (gap_h, slot_h) = (computed.inductance.gap_h, computed.inductance.slot_h);
        prop_assert!(gap_h > 0.0 && gap_h.is_finite(), "{gap_h}");
        prop_assert!(gap_h + slot_h > 0.0 && slot_h.is_finite(), "{slot_h}");
        for term in &computed.emf {
            prop_assert!(term.sine_v_s.is_finite() && term.cosine_v_s.is_finite());
        }
        prop_assert!(computed.cogging_peak_nm().0.is_finite());
        let flux = computed.field.radial_flux_density_t(0.1, &[0.0, 0.1]);
        prop_assert!(flux.iter().all(|b| b.abs() < 5.0), "{flux:?}");
        Ok(())
    });
    result.unwrap();
}

/// A setup of a named case, as a person would write it: 30 mm long, ten turns, coasting.
fn coasting(case: &Case) -> Setup {
    let mm = |key: &str| format!("\"{} mm\"", 1e3 * case.number(key));
    let word = |key: &str| case.table[key].as_str().unwrap();
    let text = format!(
        "format = 1\n[machine]\nconstruction = \"{}\"\nslots = {}\npoles = {}\n\
         emf.shape = \"computed\"\nwinding = {{ turns = 10, coil_span = {} }}\n\
         rotor.inertia = \"1e-5 kg m2\"\n[machine.geometry]\nbore_radius = {}\nair_gap = {}\n\
         magnet_thickness = {}\nmagnet_arc = {}\nmagnet_remanence = \"1.2 T\"\n\
         magnetisation = \"{}\"\nstack_length = \"30 mm\"\nslotting = {}\nslot_opening = {}\n\
         tooth_tip = {}\nslot_depth = {}\ntooth_width = {}\nwire_diameter = \"0.5 mm\"\n\
         [drive]\ngates = \"all-off\"\n[supply]\nvoltage = \"100 V\"\n\
         [run]\nduration = \"1 s\"\nhold_speed = true\nstart_speed = \"30 rpm\"\n",
        word("construction"),
        case.whole("slots"),
        case.whole("poles"),
        case.whole("coil_span"),
        mm("bore_radius_m"),
        mm("air_gap_m"),
        mm("magnet_thickness_m"),
        case.number("magnet_arc"),
        word("magnetisation"),
        case.slotted(),
        mm("slot_opening_m"),
        mm("tooth_tip_m"),
        mm("slot_depth_m"),
        mm("tooth_width_m"),
    );
    Setup::parse(&text, case.name()).unwrap()
}

/// What a run has at its terminals and on its shaft is what was computed: the EMF of each phase,
/// lagging by thirds, and cogging that pushes the way it does in the section, a rotor that does
/// not rest at θe = 0 included.
#[test]
fn a_run_has_the_computed_emf_and_cogging() {
    let mut n_unstable = 0;
    for case in Case::all() {
        let name = case.name();
        let setup = coasting(&case);
        let inside = Inside::of(&setup.machine).unwrap();
        let computed = inside.computed.unwrap();
        let p = f64::from(setup.machine.poles / 2);
        let (peak, stable) = computed.cogging_peak_nm();
        n_unstable += usize::from(!stable);
        let mut simulator = Simulator::new(&setup);
        for time_s in [0.013, 0.11, 0.37] {
            simulator.run_until(time_s, &mut ()).unwrap();
            let sample = simulator.now();
            let theta = sample.theta_mech_rad;
            for (k, lag) in [0.0, 1.0, 2.0].into_iter().enumerate() {
                let at = p * theta - lag * TAU / 3.0;
                let want: f64 = computed
                    .emf
                    .iter()
                    .map(|term| {
                        let (s, c) = libm::sincos(f64::from(term.order) * at);
                        term.sine_v_s * s + term.cosine_v_s * c
                    })
                    .sum();
                let got = sample.back_emf_v[k] / sample.speed_rad_s;
                let scale = computed.emf[0].sine_v_s;
                assert!(
                    (got - want).abs() < 1e-9 * scale,
                    "{name} {k}: {got} {want}"
                );
            }
            let per_turn = f64::from(simulator.machine().cogging_per_turn);
            let restoring = if stable { -peak } else { peak };
            let want = restoring * libm::sin(per_turn * theta);
            assert!(
                (sample.torque_nm - want).abs() < 1e-9 * peak.max(1e-9),
                "{name}"
            );
        }
    }
    assert!(
        (1..6).contains(&n_unstable),
        "{n_unstable}: both kinds are met"
    );
}

/// Flux through a tooth and a yoke against what a thin gap makes obvious: a full-pitch magnet's
/// field times the slot pitch over the tooth's width, and half a pole's flux behind a slot.
#[test]
fn iron_carries_the_flux_of_its_pitch() {
    let mut section = Case::named("slotted_24_4_inrunner_radial").section();
    section.magnets.arc = 1.0;
    let bore = section.ring.stator_radius_m;
    section.ring.face_radius_m = bore - 0.2e-3;
    section.ring.back_radius_m = bore - 2.2e-3;
    let slot = section.slot.as_mut().unwrap();
    slot.opening_m = 0.05e-3;
    let tooth_m = slot.tooth_width_m;
    let field = SectionField::new(&section, sides_of(&Winding::lay_out(24, 4, 2, 5).unwrap()));
    let load = field.iron_load();
    let gap_t = 1.2 * 2.0 / (2.0 + 1.05 * 0.2);
    let tooth_t = gap_t * TAU * bore / 24.0 / tooth_m;
    // Half a pole of flux, over 4 mm.
    let yoke_t = gap_t * TAU * bore / 8.0 / section.yoke_thickness_m;
    // Curvature of the magnets, 8 % of their depth over the radius, and leakage at the edges.
    assert!(
        (load.tooth_t.unwrap() / tooth_t - 1.0).abs() < 0.06,
        "{load:?} {tooth_t}"
    );
    assert!(
        (load.yoke_t / yoke_t - 1.0).abs() < 0.06,
        "{load:?} {yoke_t}"
    );
    assert!(
        (load.rotor_yoke_t / yoke_t - 1.0).abs() < 0.06,
        "{load:?} {yoke_t}"
    );
}
