//! Any text is taken or refused with reasons, never with a panic; what is written reads back.

#![expect(
    clippy::disallowed_methods,
    reason = "test values; no platforms are compared"
)]

use proptest::prelude::*;
use wyebench::setup::*;
use wyebench::winding::{CoilOrder, Winding};

/// A value between two ends, spread over the powers of ten between them.
fn spread(least: f64, most: f64) -> impl Strategy<Value = f64> {
    (least.ln()..most.ln()).prop_map(move |x| x.exp().clamp(least, most))
}

fn or_zero(least: f64, most: f64) -> impl Strategy<Value = f64> {
    prop_oneof![1 => Just(0.0), 4 => spread(least, most)]
}

fn machine() -> impl Strategy<Value = MachineSetup> {
    let frame = (
        prop_oneof![Just(Construction::Inrunner), Just(Construction::Outrunner)],
        prop_oneof![Just((12, 14)), Just((9, 8)), Just((36, 6)), Just((3, 2))],
        prop_oneof![Just(Connection::Star), Just(Connection::Delta)],
    );
    let shape = prop_oneof![
        Just(EmfShape::Trapezoid),
        Just(EmfShape::Sine),
        (0.1..2.0, -0.3..0.3).prop_map(|(a, b)| EmfShape::Harmonics(vec![(5, b), (1, a)])),
    ];
    let constant = prop_oneof![
        spread(1e-3, 1e4).prop_map(EmfConstant::KvRadPerVs),
        spread(1e-5, 10.0).prop_map(EmfConstant::PhaseVsPerRad),
    ];
    let rest = (
        or_zero(1e-6, 1e3),
        spread(1e-9, 1.0),
        spread(1e-9, 1e3),
        or_zero(1e-9, 1.0),
    );
    let torques = (or_zero(1e-6, 10.0), or_zero(1e-6, 10.0));
    let winding = prop::option::of((1..3u32, 1..3u32, prop::option::of(1..200u32), 1..4u32));
    let geometry = prop::option::of((spread(0.005, 0.5), 0.1..1.0, prop::bool::ANY, -40.0..180.0));
    (frame, shape, constant, rest, torques, winding, geometry).prop_map(
        |(frame, shape, constant, rest, torques, winding, geometry)| {
            let (construction, (slots, poles), connection) = frame;
            let constant = match (&shape, constant) {
                (EmfShape::Harmonics(_), EmfConstant::KvRadPerVs(k)) => {
                    EmfConstant::PhaseVsPerRad(k / 1e3)
                }
                (_, constant) => constant,
            };
            MachineSetup {
                construction,
                slots,
                poles,
                connection,
                phase_resistance_ohm: Some(rest.0),
                phase_inductance_h: Some(rest.1),
                emf: EmfSetup { shape, constant },
                winding: winding.map(|(layers, coil_span, turns, parallel_paths)| {
                    // An odd number of slots has no single layer.
                    let layers = if slots % 2 == 1 { 2 } else { layers };
                    let coil_span = coil_span.min(slots - 1);
                    // paths of unequal EMF are refused
                    let can = Winding::lay_out(slots, poles, layers, coil_span)
                        .is_ok_and(|winding| CoilOrder::of(&winding, parallel_paths).is_ok());
                    WindingSetup {
                        layers,
                        coil_span,
                        turns,
                        parallel_paths: if can { parallel_paths } else { 1 },
                        layout: None,
                    }
                }),
                geometry: geometry.map(|(bore_radius_m, part, parallel, celsius)| GeometrySetup {
                    bore_radius_m,
                    air_gap_m: bore_radius_m * 0.05 * part,
                    magnet_thickness_m: bore_radius_m * 0.2 * part,
                    magnet_arc: part,
                    magnet_remanence_t: 2.0 * part,
                    magnet_permeability: 1.0 + part / 2.0,
                    magnetisation: if parallel {
                        Magnetisation::Parallel
                    } else {
                        Magnetisation::Radial
                    },
                    stack_length_m: bore_radius_m * 2.0,
                    slotting: false,
                    slot_opening_m: None,
                    tooth_tip_m: None,
                    slot_depth_m: parallel.then_some(bore_radius_m * 0.5),
                    tooth_width_m: None,
                    yoke_thickness_m: None,
                    rotor_yoke_thickness_m: None,
                    wire_diameter_m: parallel.then_some(0.0006),
                    strands: 1,
                    end_turn_m: None,
                    winding_temperature_c: celsius,
                }),
                rotor_inertia_kg_m2: rest.2,
                viscous_friction_nm_s: rest.3,
                dry_friction_nm: torques.0,
                cogging_peak_nm: Some(torques.1),
            }
        },
    )
}

fn bench() -> impl Strategy<Value = Bench> {
    let choices = (
        prop_oneof![Just(Direction::Forward), Just(Direction::Reverse)],
        prop_oneof![
            Just(Gates::Stepping),
            Just(Gates::AllOff),
            Just(Gates::AllLow)
        ],
        prop_oneof![
            Just(Chop::HighSide),
            Just(Chop::HighSideSynchronous),
            Just(Chop::BothSides)
        ],
        -1.04..1.04,
    );
    let pwm = prop::option::of((spread(10.0, 1e6), 0.0..=1.0));
    let forced = prop::option::of((spread(0.01, 1e4), 0.0..50.0, or_zero(1e-3, 10.0), 1..=6u8));
    let switch = (or_zero(1e-6, 10.0), 1..9u32, 0.0..2.0, or_zero(1e-6, 1.0));
    let supply = (
        0.0..1000.0,
        prop::option::of((spread(1e-5, 10.0), spread(1e-8, 1.0))),
    );
    let load = (
        or_zero(1e-6, 10.0),
        -1.0..1.0,
        or_zero(1e-12, 1.0),
        or_zero(1e-9, 1.0),
    );
    (choices, pwm, forced, switch, supply, load, prop::bool::ANY).prop_map(
        |((direction, gates, chop, advance_rad), pwm, forced, switch, supply, load, clock)| Bench {
            drive: DriveSetup {
                commutation: if clock && forced.is_some() {
                    Commutation::Forced
                } else {
                    Commutation::Position
                },
                advance_rad,
                direction,
                gates,
                pwm: pwm.map(|(frequency_hz, duty)| PwmSetup {
                    frequency_hz,
                    duty,
                    chop,
                }),
                forced: forced.map(|(frequency_hz, start, ramp_s, start_step)| ForcedSetup {
                    frequency_hz,
                    start_frequency_hz: if ramp_s > 0.0 { start } else { frequency_hz },
                    ramp_s,
                    start_step,
                    align_s: ramp_s / 3.0,
                }),
                switch: SwitchSetup {
                    on_resistance_ohm: switch.0,
                    parallel: switch.1,
                    diode_drop_v: switch.2,
                    diode_resistance_ohm: switch.3,
                },
            },
            supply: SupplySetup {
                voltage_v: supply.0,
                source: supply.1.map(|(resistance_ohm, capacitance_f)| SoftSource {
                    resistance_ohm,
                    capacitance_f,
                }),
            },
            load: LoadSetup {
                constant_nm: load.0,
                gravity_nm: load.1,
                quadratic_nm_s2: load.2,
                inertia_kg_m2: load.3,
            },
        },
    )
}

fn setup() -> impl Strategy<Value = Setup> {
    let run = (
        spread(1e-3, 1e3),
        -1e3..1e3,
        -7.0..7.0,
        prop::bool::ANY,
        spread(1e-7, 1.0),
        0.1..1.0,
    );
    ("\\PC{0,20}", machine(), bench(), run, 0.0..20.0f64).prop_map(
        |(title, machine, bench, run, volts)| {
            let mut changed = bench.clone();
            changed.supply.voltage_v = volts;
            let change = Change {
                at_s: volts / 30.0,
                key: "supply.voltage".to_owned(),
                value: format_quantity(volts, Quantity::Voltage),
                bench: changed,
            };
            Setup {
                title,
                machine,
                bench,
                run: RunSetup {
                    duration_s: run.0,
                    start_speed_rad_s: run.1,
                    start_angle_rad: run.2,
                    hold_speed: run.3,
                    sample_s: run.4,
                    measure_s: run.0 * run.5,
                },
                changes: vec![change],
            }
        },
    )
}

proptest! {
    #[test]
    fn a_written_setup_reads_back_exactly(setup in setup()) {
        let text = setup.to_toml();
        match Setup::parse(&text, "written") {
            Ok(again) => prop_assert_eq!(again, setup),
            Err(errors) => {
                let told: Vec<String> = errors.problems().iter().map(ToString::to_string).collect();
                prop_assert!(false, "{told:?}\n{text}");
            }
        }
    }

    #[test]
    fn any_change_of_the_text_is_taken_or_refused(
        edits in prop::collection::vec((prop::num::usize::ANY, 0..40usize, "\\PC{0,6}|[\\[\\]\"=\n,.#{}]{0,3}"), 1..5),
    ) {
        let mut chars: Vec<char> = built_in().chars().collect();
        for (at, cut, with) in edits {
            let at = at % (chars.len() + 1);
            let end = (at + cut).min(chars.len());
            chars.splice(at..end, with.chars());
        }
        let text: String = chars.into_iter().collect();
        match Setup::parse(&text, "mutated") {
            Ok(setup) => prop_assert_eq!(Setup::parse(&setup.to_toml(), "again").unwrap(), setup),
            Err(errors) => {
                prop_assert!(!errors.problems().is_empty());
                for problem in errors.problems() {
                    prop_assert!(problem.remedy().is_some());
                    for (place, _) in problem.marks() {
                        prop_assert!(text.get(place.start..place.end).is_some(), "{problem}");
                    }
                }
            }
        }
    }

    #[test]
    fn any_key_takes_any_value_or_refuses_it(
        key_idx in 0..100usize,
        value in "\\PC{0,12}|[-+]?[0-9]{1,3}(\\.[0-9])? ?(V|mohm|Hz|s|Nm|deg|uF)?",
    ) {
        let bench = Setup::parse(built_in(), "built in").unwrap().bench;
        let n_keys = changeable_keys().count();
        let spec = changeable_keys().nth(key_idx % n_keys).unwrap();
        if let Err(problem) = set_key(&bench, spec.path, &value) {
            prop_assert!(problem.remedy().is_some());
        }
    }
}

/// Every changeable key changes the bench it is set on, and nothing else.
#[test]
fn each_changeable_key_can_be_set() {
    let text = format!(
        "{}\n[drive.forced]\nfrequency = \"60 Hz\"\nstart_frequency = \"5 Hz\"\nramp = \"0.4 s\"\n",
        built_in()
    );
    let bench = Setup::parse(&text, "all tables").unwrap().bench;
    for spec in changeable_keys() {
        let value = match spec.kind {
            Kind::Quantity { quantity, .. } => format!("3 {}", quantity.units()[0]),
            Kind::Number { .. } => "0.25".to_owned(),
            Kind::Whole { .. } => "3".to_owned(),
            Kind::Word { words, .. } => words[1].to_owned(),
            _ => panic!("{} holds nothing that a hand can set", spec.path),
        };
        let value = if spec.path == "drive.advance" {
            "3 deg".to_owned()
        } else {
            value
        };
        let next = set_key(&bench, spec.path, &value)
            .unwrap_or_else(|p| panic!("{} to {value}: {p}", spec.path));
        assert_ne!(next, bench, "{} = {value} changes nothing", spec.path);
    }
}
