//! Predictions in closed form against published runs, and against the simulation.

mod kit;

use kit::{RPM, close, number, plain_motor, reference, rows, run};
use wyebench::predict::{
    Build, HeldBy, PredictError, RESISTANCE_RISE_PER_K, Regime, Side, SixStepMachine,
    SixStepSupply, Standstill, confirm, duty_for, example_build, figures, load_curve, output_stage,
    predict, spread,
};
use wyebench::setup::{Chop, EmfConstant, PwmSetup};

/// Periodic steady states of an ideal six-step drive, `six_step_runs.toml` (a published servo,
/// figures derived by numerical integration, 0.5 % stated there).
#[test]
fn averaged_model_meets_the_published_servo() {
    let table = reference("six_step_runs.toml");
    let servo = table["servo_310v"].as_table().unwrap();
    for row in rows(&table, "six_step_run") {
        let (u_v, rpm) = (number(row, "u_v"), number(row, "rpm"));
        let machine = SixStepMachine {
            pole_pairs: 2.0,
            phase_constant_v_s_per_rad: number(row, "phase_flat_top_v") / (rpm * RPM),
            resistance_ohm: number(servo, "r_ll_ohm") / 2.0,
            inductance_h: number(servo, "l_ll_h") / 2.0,
        };
        let state = machine.at(
            rpm * RPM,
            &SixStepSupply {
                voltage_v: u_v,
                duty: 1.0,
                diode_drop_v: 0.0,
                synchronous: false,
                period_s: 0.0,
            },
        );
        let tolerance = number(row, "tolerance_percent") / 100.0;
        let check = |key: &str, got: f64| {
            close(
                &format!("{u_v} V, {rpm} rpm, {:?}: {key}", state.regime),
                got,
                number(row, key),
                tolerance,
                0.0,
            );
        };
        check("torque_mean_nm", state.torque_nm);
        check("torque_min_nm", state.torque_min_nm);
        check("torque_max_nm", state.torque_max_nm);
        check("i_dc_mean_a", state.supply_current_a);
        check("i_phase_rms_a", state.phase_rms_a);
        check("copper_w", state.resistive_w);
        check("p_mech_w", state.torque_nm * rpm * RPM);
        check("p_in_w", u_v * state.supply_current_a);
    }
}

/// Against full simulations with a chopper, over inductances from none to much: at half and
/// three quarters of the speed that the mean voltage gives.
#[test]
fn averaged_model_stands_beside_the_simulation() {
    for (henry, duty, part_of_speed, synchronous) in [
        (5e-6, 1.0, 0.5, true),
        (40e-6, 1.0, 0.75, true),
        (40e-6, 0.6, 0.5, true),
        (40e-6, 0.6, 0.75, true),
        (40e-6, 0.4, 0.5, false),
        (100e-6, 0.8, 0.5, false),
    ] {
        let mut setup = plain_motor();
        setup.title = format!("{henry} H, {duty}, {part_of_speed}, {synchronous}");
        setup.machine.slots = 12;
        setup.machine.poles = 14;
        setup.machine.phase_resistance_ohm = Some(0.05);
        setup.machine.phase_inductance_h = Some(henry);
        let constant = 5e-3;
        setup.machine.emf.constant = EmfConstant::PhaseVsPerRad(constant);
        setup.bench.drive.switch.diode_drop_v = 0.7;
        setup.bench.supply.voltage_v = 12.0;
        if duty < 1.0 {
            setup.bench.drive.pwm = Some(PwmSetup {
                frequency_hz: 40e3,
                duty,
                chop: if synchronous {
                    Chop::HighSideSynchronous
                } else {
                    Chop::HighSide
                },
            });
        }
        let speed_rad_s = part_of_speed * duty * 12.0 / (2.0 * constant);
        setup.run.hold_speed = true;
        setup.run.start_speed_rad_s = speed_rad_s;
        setup.run.duration_s = 0.06;
        setup.run.measure_s = 0.03;
        let run = run(&setup);
        let machine = SixStepMachine {
            pole_pairs: 7.0,
            phase_constant_v_s_per_rad: constant,
            resistance_ohm: 0.05,
            inductance_h: henry,
        };
        let state = machine.at(
            speed_rad_s,
            &SixStepSupply {
                voltage_v: 12.0,
                duty,
                diode_drop_v: 0.7,
                synchronous,
                period_s: 1.0 / 40e3,
            },
        );
        assert_eq!(state.regime, Regime::Continuous, "{}", setup.title);
        let window = run.window();
        // the chopper's edges are what the model leaves out
        let tolerance = if duty < 1.0 { 0.01 } else { 1e-4 };
        let check = |what: &str, got: f64, want: f64| {
            close(
                &format!("{}: {what}", setup.title),
                got,
                want,
                tolerance,
                0.0,
            );
        };
        let torque_nm = run.mean(window.torque_nm_s);
        check("torque", state.torque_nm, torque_nm);
        check(
            "supply current",
            state.supply_current_a,
            run.mean(window.supply_charge_as),
        );
        check(
            "phase rms",
            state.phase_rms_a,
            run.mean(window.phase_current_squared_s[0]).sqrt(),
        );
        check(
            "root of the resistive heat",
            state.resistive_w.sqrt(),
            run.mean(window.copper_j).sqrt(),
        );
        // what the dc formula without inductance would have said
        let without_l_nm = 2.0 * constant * (duty * 12.0 - 2.0 * constant * speed_rad_s) / 0.1;
        assert!(without_l_nm > 1.15 * torque_nm, "{}", setup.title);
    }
}

/// The example with some keys changed; a value of `None` takes the line out.
fn build(changes: &[(&str, Option<&str>)]) -> Build {
    let mut text = String::new();
    let mut used = vec![false; changes.len()];
    let mut table = String::new();
    for line in example_build().lines() {
        if line.starts_with('[') {
            table = line.trim_matches(['[', ']']).to_owned();
        }
        let name = line.split('=').next().unwrap_or("").trim();
        let at = changes
            .iter()
            .position(|(key, _)| *key == format!("{table}.{name}"));
        match at {
            Some(at) => {
                used[at] = true;
                if let Some(value) = changes[at].1 {
                    text += &format!("{name} = {value}\n");
                }
            }
            None => text += &format!("{line}\n"),
        }
    }
    assert!(used.iter().all(|used| *used), "{changes:?}");
    Build::parse(&text, "build").expect("a changed example is still a build")
}

/// The example without its propeller, as a nearly ideal dc machine.
fn nearly_dc(row: &toml::Table, voltage_key: &str) -> Build {
    let quoted = |value: f64, unit: &str| format!("\"{value} {unit}\"");
    let ohm = number(row, "r_ll_ohm");
    let v = number(row, voltage_key);
    let mut build = build(&[
        (
            "motor.kv",
            Some(&quoted(number(row, "kv_rpm_per_v"), "rpm/V")),
        ),
        ("motor.line_resistance", Some(&quoted(ohm, "ohm"))),
        ("motor.line_inductance", Some(&quoted(1e-4 * ohm, "mH"))),
        ("motor.poles", Some("2")),
        (
            "motor.no_load_current",
            Some(&quoted(number(row, "i0_a"), "A")),
        ),
        ("motor.no_load_voltage", Some(&quoted(v, "V"))),
        ("pack.voltage", Some(&quoted(v, "V"))),
        ("pack.resistance", None),
        ("controller.on_resistance", None),
        ("controller.diode_drop", None),
        ("controller.switching_time", None),
        ("controller.duty", Some("1.0")),
    ]);
    build.loads = wyebench::predict::Loads::default();
    build
}

/// No load, maximum power and best efficiency, `machine_relations.toml` (derived; the formulas
/// also in motor makers' catalogues, recalled there): what the averaged machine comes to with
/// 0.1 µs of winding.
#[test]
fn dc_rows() {
    let table = reference("machine_relations.toml");
    for row in rows(&table, "dc_row") {
        let build = nearly_dc(row, "v");
        let curve = load_curve(&build, 5).unwrap();
        let what = |key: &str| format!("{} rpm/V: {key}", number(row, "kv_rpm_per_v"));
        let check = |key: &str, got: f64, tolerance: f64| {
            close(&what(key), got, number(row, key), tolerance, 0.0);
        };
        check("no_load_rpm", curve.points[0].speed_rad_s / RPM, 1e-3);
        check("p_max_w", curve.most_power.shaft_w, 1e-3);
        // the place of a flat top is found among 200 speeds only
        check("rpm_at_p_max", curve.most_power.speed_rad_s / RPM, 6e-3);
        check("i_at_p_max_a", curve.most_power.motor_current_a, 6e-3);
        check("eta_max", curve.best_efficiency.efficiency, 2e-3);
    }
}

/// Motor, battery with resistance, chopper and quadratic load, `machine_relations.toml` (derived).
#[test]
fn load_rows() {
    let table = reference("machine_relations.toml");
    for row in rows(&table, "load_row") {
        let mut build = nearly_dc(row, "battery_v");
        build.pack.resistance_ohm = number(row, "battery_ohm");
        build.controller.duty = number(row, "duty");
        build.controller.synchronous = true;
        // continuous current, as the table has it: 0.1 µs of chopper before 20 µs of winding
        build.controller.pwm_frequency_hz = 1e7;
        build.motor.line_inductance_h = Some(20e-6 * number(row, "r_ll_ohm"));
        build.loads.quadratic_nm_s2 = number(row, "load_nm_s2");
        let point = predict(&build).unwrap().loaded;
        let check = |key: &str, got: f64| {
            close(
                &format!("{} V: {key}", number(row, "battery_v")),
                got,
                number(row, key),
                3e-3,
                0.0,
            );
        };
        check("rpm", point.speed_rad_s / RPM);
        check("motor_current_a", point.motor_current_a);
        check("battery_current_a", point.pack_current_a);
        check("shaft_torque_nm", point.shaft_nm);
        check("shaft_power_w", point.shaft_w);
        check("battery_terminal_v", point.bridge_v);
    }
}

/// Examples of textbooks, `worked_examples.toml`: a motor known by its speed without load runs at
/// another voltage against a torque, and against what is left of its power.
#[test]
fn textbook_motors_run_as_printed() {
    let table = reference("worked_examples.toml");
    let of = |id: &str, part: &str| {
        let rows = rows(&table, "example");
        let row = rows.iter().find(|row| row["id"].as_str() == Some(id));
        row.unwrap()[part].as_table().unwrap().clone()
    };
    let dc = |kv: f64, ohm: f64, i0_a: f64, v: f64| {
        let mut row = toml::Table::new();
        for (key, value) in [
            ("kv_rpm_per_v", kv),
            ("r_ll_ohm", ohm),
            ("i0_a", i0_a),
            ("v", v),
        ] {
            row.insert(key.to_owned(), value.into());
        }
        nearly_dc(&row, "v")
    };
    // T. J. E. Miller: 6000 rpm at 120 V without load; at 60 V against 0.5 Nm
    let (input, answer) = (of("miller_pm_dc", "input"), of("miller_pm_dc", "answer"));
    let kv = number(&input, "no_load_rpm") / number(&input, "v0");
    let mut build = dc(kv, number(&input, "r"), 0.0, number(&input, "v"));
    build.loads.constant_nm = number(&input, "torque");
    let point = predict(&build).unwrap().loaded;
    let kt = build.motor.torque_constant_nm_per_a();
    // seven digits are printed; 0.1 us of winding costs some parts in ten thousand
    close("Ke", kt, number(&answer, "ke"), 1e-6, 0.0);
    close(
        "current",
        point.motor_current_a,
        number(&answer, "i"),
        1e-3,
        0.0,
    );
    close(
        "speed",
        point.speed_rad_s / RPM,
        number(&answer, "rpm"),
        1e-3,
        0.0,
    );
    // Fitzgerald, Kingsley, Umans: 1.25 A at 50 V and 2100 rpm without load; 48 V and 1700 rpm loaded.
    // The book rounds its constant to two digits, which is 2 % of the power: its own tolerance of 3 %.
    let (input, answer) = (
        of("fitzgerald_pm_dc", "input"),
        of("fitzgerald_pm_dc", "answer"),
    );
    let (ohm, i0_a) = (number(&input, "r"), number(&input, "i0"));
    let kv = number(&input, "rpm0") / (number(&input, "v0") - ohm * i0_a);
    let mut build = dc(kv, ohm, i0_a, number(&input, "v"));
    let omega = number(&input, "rpm") * RPM;
    let (loss_w, em_w) = (number(&answer, "loss_w"), number(&answer, "p_em"));
    close(
        "Km",
        build.motor.torque_constant_nm_per_a(),
        number(&answer, "km"),
        0.03,
        0.0,
    );
    close(
        "loss",
        build.motor.no_load_torque_nm() * number(&input, "rpm0") * RPM,
        loss_w,
        0.03,
        0.0,
    );
    build.loads.constant_nm = em_w / omega - build.motor.no_load_torque_nm();
    let point = predict(&build).unwrap().loaded;
    close("speed", point.speed_rad_s, omega, 0.03, 0.0);
    close(
        "power",
        point.torque_nm * point.speed_rad_s,
        em_w,
        0.03,
        0.0,
    );
}

/// What follows from a published servo's label, `six_step_runs.toml` (derived there): speed without
/// load at its supply, torque at its stall current, and the time constant of its winding.
#[test]
fn a_servos_label_is_read_as_its_maker_means_it() {
    let table = reference("six_step_runs.toml");
    let servo = table["servo_310v"].as_table().unwrap();
    let derived = table["servo_310v_derived"].as_table().unwrap();
    let mut row = toml::Table::new();
    for (key, value) in [
        ("kv_rpm_per_v", 1e3 / number(servo, "ke_v_per_krpm")),
        ("r_ll_ohm", number(servo, "r_ll_ohm")),
        ("i0_a", 0.0),
        ("v", number(servo, "supply_v")),
    ] {
        row.insert(key.to_owned(), value.into());
    }
    let mut build = nearly_dc(&row, "v");
    build.motor.line_inductance_h = Some(number(servo, "l_ll_h"));
    build.motor.pole_pairs = 2;
    let motor = &build.motor;
    let kt = motor.torque_constant_nm_per_a();
    // twelve digits are printed
    close("Ke", kt, number(derived, "ke_v_s_per_rad"), 1e-11, 0.0);
    let time_s = motor.inductance_h() / motor.line_resistance_ohm;
    close(
        "time constant",
        time_s,
        number(derived, "electrical_time_constant_s"),
        1e-11,
        0.0,
    );
    // the maker's own torque constant is 0.6 % larger, in the last of its two digits
    let stall_nm = kt * number(servo, "stall_current_a");
    close(
        "stall",
        stall_nm,
        number(derived, "torque_at_stall_current_nm"),
        7e-3,
        0.0,
    );
    let no_load = predict(&build).unwrap().no_load;
    close(
        "no load",
        no_load.speed_rad_s / RPM,
        number(derived, "no_load_rpm_at_310v"),
        1e-3,
        0.0,
    );
}

/// Kv times volts is within 3 % of the speed without load. Common practice, no source: readings
/// of 520 rpm/V and 920 rpm/V motors at 7.4 V and 11.1 V.
#[test]
fn kv_times_volts_is_the_speed_without_load() {
    for (kv, volts, rpm) in [
        (520.0, 7.4, 3750.0),
        (520.0, 11.1, 5644.0),
        (920.0, 7.4, 6780.0),
        (920.0, 11.1, 10_500.0),
    ] {
        let build = build(&[
            ("motor.kv", Some(&format!("\"{kv} rpm/V\""))),
            ("pack.voltage", Some(&format!("\"{volts} V\""))),
            ("controller.duty", Some("1.0")),
        ]);
        let got = predict(&build).unwrap().no_load.speed_rad_s / RPM;
        // with the losses of the example's motor, which those motors need not have had
        close("no load", got, rpm, 0.05, 0.0);
        // the label's rule itself
        close("Kv times volts", kv * volts, rpm, 0.03, 0.0);
    }
}

/// The predicted point against the simulation, held there and left to find its own speed.
#[test]
fn the_example_is_confirmed_by_a_run() {
    // the chopper's edges are what the prediction leaves out
    for (duty, tolerance) in [("1.0", 5e-4), ("0.7", 0.015)] {
        let build = build(&[("controller.duty", Some(duty))]);
        let point = predict(&build).unwrap().loaded;
        let simulated = confirm(&build, &point).unwrap();
        close(
            "torque",
            point.torque_nm,
            simulated.torque_nm,
            tolerance,
            0.0,
        );
        close(
            "rms",
            point.phase_rms_a,
            simulated.phase_rms_a,
            tolerance,
            0.0,
        );
        close(
            "copper",
            point.copper_w,
            simulated.copper_w,
            2.0 * tolerance,
            0.0,
        );
        close(
            "bridge",
            point.heat.conduction_w + point.heat.diode_w,
            simulated.bridge_w,
            0.03,
            0.0,
        );
        let mut setup = build.to_setup(&point);
        assert!(setup.bench.supply.voltage_v >= point.bridge_v);
        setup.run.start_speed_rad_s *= 0.9;
        let free = run(&setup);
        close(
            "free speed",
            free.mean_speed_rpm(),
            point.speed_rad_s / RPM,
            0.003,
            0.0,
        );
        close(
            "load",
            free.mean(free.window().load_torque_nm_s),
            point.shaft_nm,
            0.006,
            0.0,
        );
    }
}

/// The setup that is written reads back as it was: the pack at rest with its resistance, and no
/// number longer than what is known of it.
#[test]
fn the_written_setup_is_a_setup() {
    let build = build(&[]);
    let setup = build.to_setup(&predict(&build).unwrap().loaded);
    let text = setup.to_toml();
    let again = wyebench::setup::Setup::parse(&text, "written").unwrap();
    assert_eq!(again, setup);
    close(
        "pack",
        again.bench.supply.voltage_v,
        build.pack.voltage_v,
        1e-15,
        0.0,
    );
    let source = again.bench.supply.source.unwrap();
    close(
        "source",
        source.resistance_ohm,
        build.pack.resistance_ohm,
        1e-15,
        0.0,
    );
    let digits = |word: &str| word.chars().filter(char::is_ascii_digit).count();
    let longest = text.split(['"', ' ']).map(digits).max().unwrap();
    assert!(longest <= 7, "{text}");
    assert_eq!(again.machine.poles, 14);
    close(
        "quadratic",
        again.bench.load.quadratic_nm_s2,
        setup.bench.load.quadratic_nm_s2,
        1e-12,
        0.0,
    );
}

/// Junction and resistance settle together, and past R_th · P · a = 1 they do not settle.
#[test]
fn the_junction_is_where_heat_in_is_heat_out() {
    let mut controller = build(&[]).controller;
    controller.thermal_resistance_k_per_w = 60.0;
    let side = |squares_a2, diode_w| Side {
        squares_a2,
        diode_w,
    };
    let (upper, lower) = (side(300.0, 0.5), side(600.0, 1.5));
    let heat = output_stage(&controller, 11.1, 20.0, [upper, lower]);
    let junction = heat.junction_deg_c.unwrap();
    // from the temperature back to the heat, of the lower side, where two thirds of it are
    let hot_ohm = controller.on_resistance_ohm * (1.0 + RESISTANCE_RISE_PER_K * (junction - 25.0));
    let want_w = (600.0 * hot_ohm / 2.0 + 1.5) / 6.0;
    close("heat of one", heat.per_mosfet_w, want_w, 1e-12, 0.0);
    close("junction", junction, 25.0 + 60.0 * want_w, 1e-12, 0.0);
    assert!(!heat.upper_is_hotter);
    // ½ · 11.1 V · 20 A · 100 ns · 20 kHz
    close("switching", heat.switching_w, 0.222, 1e-12, 0.0);
    // the factor is that of all conduction
    close(
        "conduction",
        heat.conduction_w,
        900.0 * controller.on_resistance_ohm / 2.0 * heat.resistance_factor(),
        1e-12,
        0.0,
    );
    // with the diodes on the other side, that one is the hotter
    let turned = output_stage(
        &controller,
        11.1,
        20.0,
        [side(600.0, 1.5), side(300.0, 0.5)],
    );
    assert!(turned.upper_is_hotter);
    close(
        "heat of one, turned",
        turned.per_mosfet_w - turned.switching_w / 6.0,
        heat.per_mosfet_w,
        0.02,
        0.0,
    );
    let runaway = output_stage(
        &controller,
        11.1,
        100.0,
        [side(15_000.0, 0.0), side(15_000.0, 0.0)],
    );
    assert_eq!(runaway.junction_deg_c, None);
    assert!(runaway.per_mosfet_w.is_finite());
}

/// Loads by hand: numbers put into the formulas of their docs.
#[test]
fn loads_by_hand() {
    let build = Build::parse(
        r#"
        format = 1
        [motor]
        kv = "200 rpm/V"
        line_resistance = "0.1 ohm"
        poles = 14
        no_load_current = "0.5 A"
        no_load_voltage = "10 V"
        [pack]
        voltage = "24 V"
        [gear]
        ratio = 4.0
        efficiency = 0.9
        [vehicle]
        mass = "40 kg"
        wheel_diameter = "200 mm"
        grade = 0.0
        rolling_coefficient = 0.01
        [winch]
        mass = "1 kg"
        drum_diameter = "100 mm"
        [pump]
        head = "2 m"
        flow = "60 l/min"
        speed = "60 rpm"
        efficiency = 0.5
        [propeller]
        diameter = "1 m"
        thrust_coefficient = 0.1
        power_coefficient = 0.05
        density = "1.2 kg/m3"
        "#,
        "loads",
    )
    .unwrap();
    let loads = &build.loads;
    let one_turn_a_second = 60.0 * RPM;
    let (vehicle, pump, propeller) = (
        loads.vehicle.unwrap(),
        loads.pump.unwrap(),
        loads.propeller.unwrap(),
    );
    close(
        "rolling",
        vehicle.drag_n(0.0),
        40.0 * 9.80665 * 0.01,
        1e-12,
        0.0,
    );
    // 1000 · 9.80665 · 2 m · 1 l/s / 0.5 = 39.2266 W at one turn a second
    close(
        "pump",
        pump.torque_nm(one_turn_a_second) * one_turn_a_second,
        39.2266,
        1e-12,
        0.0,
    );
    close(
        "pump, half speed",
        pump.torque_nm(0.5 * one_turn_a_second),
        39.2266 / one_turn_a_second / 4.0,
        1e-12,
        0.0,
    );
    close(
        "thrust",
        propeller.thrust_n(one_turn_a_second),
        0.12,
        1e-12,
        0.0,
    );
    close(
        "propeller",
        propeller.torque_nm(one_turn_a_second) * one_turn_a_second,
        0.06,
        1e-12,
        0.0,
    );
    let winch_nm = 9.80665 * 0.05;
    close(
        "sum at rest",
        loads.torque_nm(0.0),
        winch_nm + 0.1 * vehicle.drag_n(0.0),
        1e-12,
        0.0,
    );
    close(
        "inertia",
        loads.total_inertia_kg_m2(),
        40.0 * 0.01 + 0.0025,
        1e-12,
        0.0,
    );
    // power through the gear, at the predicted point
    let point = predict(&build).unwrap().loaded;
    let load_rad_s = point.speed_rad_s / 4.0;
    close(
        "power through the gear",
        point.shaft_w * 0.9,
        loads.torque_nm(load_rad_s) * load_rad_s,
        1e-9,
        0.0,
    );
    assert!(predict(&build).unwrap().time_to_speed_s.unwrap() > 0.0);
}

/// A load that is too much, one that drives, and mistakes in the file.
#[test]
fn what_cannot_be_predicted_is_said() {
    let mut heavy = build(&[]);
    heavy.loads.constant_nm = 5.0;
    let error = predict(&heavy).unwrap_err();
    assert!(matches!(error, PredictError::Stalls { load_nm, .. } if load_nm >= 5.0));
    assert!(error.to_string().contains("larger gear ratio"), "{error}");
    // so little duty that the diodes take all of it
    let idle = build(&[("controller.duty", Some("0.001"))]);
    let error = predict(&idle).unwrap_err().to_string();
    assert!(error.contains("does not turn even itself"), "{error}");
    let mut downhill = build(&[]);
    downhill.loads.propeller = None;
    downhill.loads.vehicle = Some(wyebench::predict::Vehicle {
        mass_kg: 80.0,
        wheel_radius_m: 0.1,
        grade: -0.3,
        rolling_coefficient: 0.01,
        drag_area_m2: 0.0,
        density_kg_m3: 1.2,
    });
    assert!(matches!(
        predict(&downhill),
        Err(PredictError::Overrun { .. })
    ));
    let text = example_build()
        .replace("poles = 14", "poles = 13")
        .replace("voltage = \"11.1 V\"", "voltage = \"11.1 A\"")
        .replace("duty = 0.9", "duty = 1.9")
        .replace("[propeller]", "[properler]");
    let errors = Build::parse(&text, "slips.toml").unwrap_err();
    let told: Vec<String> = errors
        .problems()
        .iter()
        .map(|problem| format!("{problem} / {}", problem.remedy().unwrap_or_default()))
        .collect();
    insta::assert_snapshot!(told.join("\n"));
}

/// Every figure of the example is a number and explains itself with a source.
#[test]
fn figures_explain_themselves() {
    let build = build(&[]);
    let prediction = predict(&build).unwrap();
    let list = figures(&build, &prediction);
    assert!(list.len() > 20);
    for figure in &list {
        assert!(
            figure.number().is_some_and(f64::is_finite),
            "{}",
            figure.key
        );
        let why = figure.why();
        assert!(why.contains("formula") && why.contains("source"), "{why}");
    }
    // the parts are the whole
    let number = |key: &str| {
        list.iter()
            .find(|figure| figure.key == key)
            .and_then(|figure| figure.number())
            .unwrap()
    };
    let parts = number("shaft_power_w")
        + number("copper_loss_w")
        + number("own_loss_w")
        + number("controller_conduction_w")
        + number("controller_diodes_w")
        + number("controller_switching_w");
    close("power balance", parts, number("input_power_w"), 1e-3, 0.0);
}

/// Tolerances: a figure that is proportional to one input carries that input's tolerance; two
/// independent ones add as the root of their squares (JCGM 100, law of propagation, from memory);
/// and the seed decides every number.
#[test]
fn tolerances_propagate() {
    let only = |changes: &[(&str, Option<&str>)]| {
        let mut all = vec![
            ("motor.line_resistance", Some("\"90 mohm\"")),
            ("motor.line_inductance", Some("\"36 uH\"")),
            ("motor.no_load_current", Some("\"0.6 A\"")),
            ("propeller.power_coefficient", Some("0.045")),
        ];
        all.extend_from_slice(changes);
        build(&all)
    };
    let kv = only(&[]);
    let got = spread(&kv, 1000, 7).unwrap();
    assert_eq!((got.n_trials, got.n_without_point), (1000, 0));
    assert_eq!(spread(&kv, 1000, 7).unwrap(), got, "the same seed");
    assert_ne!(spread(&kv, 1000, 8).unwrap(), got, "another seed");
    let of = |spread: &wyebench::predict::Spread, key: &str| {
        spread
            .ranges
            .iter()
            .find(|range| range.key == key)
            .unwrap()
            .clone()
    };
    // without load the speed is Kv times nearly all of the voltage
    let speed = of(&got, "no_load_speed_rpm");
    close(
        "half width",
        (speed.high - speed.low) / 2.0 / speed.middle,
        0.05,
        0.05,
        0.0,
    );
    assert_eq!(speed.influences[0].key, "motor.kv");
    assert!(speed.influences[0].share > 0.999, "{speed:?}");
    // run time goes with the charge and with one over the current
    let both = only(&[
        ("motor.kv", Some("\"920 rpm/V\"")),
        ("pack.capacity", Some("\"2200 mAh ± 10 %\"")),
        ("propeller.diameter", Some("\"230 mm ± 1 %\"")),
    ]);
    let got = spread(&both, 1000, 7).unwrap();
    let time = of(&got, "run_time_min");
    let current = of(&got, "pack_current_a");
    let half = |range: &wyebench::predict::Range| (range.high - range.low) / 2.0 / range.middle;
    let want = (0.1_f64.powi(2) + half(&current).powi(2)).sqrt();
    close("both", half(&time), want, 0.08, 0.0);
    assert_eq!(time.influences[0].key, "pack.capacity");
    let sum: f64 = time
        .influences
        .iter()
        .map(|influence| influence.share)
        .sum();
    close("shares", sum, 1.0, 0.08, 0.0);
    assert!(spread(&only(&[("motor.kv", Some("\"920 rpm/V\""))]), 100, 1).is_none());
}

/// Every number of a build file may carry a tolerance, and counts and words may not.
#[test]
fn tolerances_have_their_own_messages() {
    let told = |from: &str, to: &str| {
        let text = example_build().replace(from, to);
        assert_ne!(text, example_build());
        let errors = Build::parse(&text, "slip.toml").unwrap_err();
        let problem = &errors.problems()[0];
        format!("{problem} / {}", problem.remedy().unwrap_or_default())
    };
    let all = [
        told("poles = 14", "poles = \"14 ± 1\""),
        told("920 rpm/V ± 5 %", "920 rpm/V ± five"),
        told("920 rpm/V ± 5 %", "920 rpm/V ± -5 %"),
        told("920 rpm/V ± 5 %", "920 ± 5 %"),
        told("0.6 A ± 0.2 A", "0.6 A ± 0.2 V"),
    ];
    insta::assert_snapshot!(all.join("\n"));
    // plus-minus as it can be typed
    let text = example_build().replace('±', "+-");
    assert_eq!(Build::parse(&text, "typed").unwrap().tolerances.len(), 5);
}

const TROLLEY: &str = r#"
format = 1
title = "Cargo trolley \"no. 2\""
[motor]
kv = "120 rpm/V"
line_resistance = "90 mohm"
poles = 20
no_load_current = "0.9 A"
no_load_voltage = "24 V"
current_limit = "30 A"
[pack]
voltage = "25.9 V ± 2 %"
resistance = "60 mohm"
current_limit = "40 A"
[controller]
on_resistance = "2 mohm"
duty = 0.5
ambient = "31 degC ± 4 degC"
synchronous = true
parallel = 3
[gear]
ratio = 6.0
efficiency = 0.9
[vehicle]
mass = "80 kg"
wheel_diameter = "250 mm"
grade = 0.08
rolling_coefficient = "0.02 ± 0.005"
drag_area = "0.6 m2"
[load]
constant = "0.3 Nm"
"#;

/// A build that is written reads back as it was, tolerances and all.
#[test]
fn a_written_build_is_that_build() {
    for text in [example_build(), TROLLEY] {
        let build = Build::parse(text, "given").unwrap();
        let written = build.to_toml();
        let again = Build::parse(&written, "written").unwrap_or_else(|e| panic!("{written}\n{e}"));
        let mut rounded = again.clone();
        // percent come back as a quantity, to the last digit but one
        for ((key, half), (other, was)) in rounded.tolerances.iter_mut().zip(&build.tolerances) {
            assert_eq!(key, other);
            close(key, *half, *was, 1e-12, 0.0);
            *half = *was;
        }
        assert_eq!(rounded, build, "{written}");
        assert_eq!(again.to_toml(), written);
    }
}

/// Start on the hill and steepest grade by hand, and speeds that a prediction at full duty gives.
///
/// m g (sin α + c cos α) with α from the grade, as textbooks of vehicle dynamics have it (T. D.
/// Gillespie, chapter 4, cited from memory).
#[test]
fn a_vehicle_on_its_hill_by_hand() {
    let build = Build::parse(TROLLEY, "trolley").unwrap();
    let prediction = predict(&build).unwrap();
    let reach = prediction.reach.unwrap();
    // 30 A of the motor are less than the 25.9 V/(90 + 2·2/3 + 60) mΩ = 171 A that it would draw
    let start = reach.standstill;
    assert_eq!((start.current_a, start.held_by), (30.0, HeldBy::Motor));
    let given_nm = 6.0 * 0.9 * (30.0 - 0.9) / (120.0 * RPM);
    close("given", start.load_shaft_nm, given_nm, 1e-12, 0.0);
    let alpha = 0.08_f64.atan();
    let weight_n = 80.0 * 9.80665;
    let asked_nm = 0.125 * weight_n * (libm::sin(alpha) + 0.02 * libm::cos(alpha)) + 0.3;
    close("asked", start.asked_nm, asked_nm, 1e-12, 0.0);
    assert!(start.starts());
    // on the steepest grade both are equal
    let steep = reach.steepest_grade.atan();
    let needed_nm = 0.125 * weight_n * (libm::sin(steep) + 0.02 * libm::cos(steep)) + 0.3;
    close("steepest", needed_nm, given_nm, 1e-12, 0.0);
    let speed = |grade: f64| {
        let mut build = build.clone();
        build.controller.duty = 1.0;
        build.loads.vehicle.as_mut().unwrap().grade = grade;
        predict(&build).unwrap().loaded.speed_rad_s / 6.0 * 0.125
    };
    close("level", reach.level_m_s.unwrap(), speed(0.0), 1e-12, 0.0);
    close(
        "grade",
        reach.on_grade_m_s.unwrap(),
        speed(0.08),
        1e-12,
        0.0,
    );
    assert!(reach.level_m_s.unwrap() > reach.on_grade_m_s.unwrap());
    let list = figures(&build, &prediction);
    let of = |key: &str| list.iter().find(|figure| figure.key == key).unwrap();
    assert_eq!(of("starts_on_grade").shown(4).number, "yes");
    close(
        "grade",
        of("steepest_start_grade").number().unwrap(),
        reach.steepest_grade,
        1e-12,
        0.0,
    );
    for key in [
        "start_current_a",
        "start_torque_nm",
        "top_speed_level_m_s",
        "starts_on_grade",
    ] {
        let why = of(key).why();
        assert!(why.contains("formula") && why.contains("source"), "{why}");
    }
    // ten times as heavy it does not start, and says so instead of a number
    let mut heavy = build.clone();
    heavy.loads.vehicle.as_mut().unwrap().mass_kg = 800.0;
    assert!(!Standstill::of(&heavy).starts());
    // a push beyond the weight: 0.2 kg on 25 kg of push
    let mut light = build;
    light.loads.vehicle.as_mut().unwrap().mass_kg = 0.2;
    assert!(
        predict(&light)
            .unwrap()
            .reach
            .unwrap()
            .steepest_grade
            .is_infinite()
    );
}

/// What holds the current of a standing motor: each limit in turn, by hand.
#[test]
fn a_standing_motor_draws_what_limits_let_it() {
    let text = TROLLEY.replace("current_limit = \"30 A\"\n", "");
    let mut build = Build::parse(&text, "trolley").unwrap();
    build.pack.current_limit_a = None;
    let held = |build: &Build| {
        let start = Standstill::of(build);
        (start.current_a, start.held_by)
    };
    let ohm = 0.09 + 2.0 * 0.002 / 3.0;
    let (current_a, by) = held(&build);
    close("resistance", current_a, 25.9 / (ohm + 0.06), 1e-12, 0.0);
    assert_eq!(by, HeldBy::Resistance);
    // 40 A of the pack at 25.9 V − 2.4 V are 940 W, all of it heat in the winding and switches
    build.pack.current_limit_a = Some(40.0);
    let (current_a, by) = held(&build);
    close(
        "pack",
        current_a * current_a * ohm,
        40.0 * (25.9 - 2.4),
        1e-12,
        0.0,
    );
    assert_eq!(by, HeldBy::Pack);
    // a pack that holds the current down more than the motor does gives the most at half its
    // voltage, chopped: 25.9²/(4 · 0.3) W
    let mut weak = build.clone();
    weak.pack.resistance_ohm = 0.3;
    weak.pack.current_limit_a = None;
    let (current_a, by) = held(&weak);
    close(
        "most power",
        current_a * current_a * ohm,
        25.9 * 25.9 / 1.2,
        1e-12,
        0.0,
    );
    assert_eq!(by, HeldBy::MostPower);
    assert!(current_a > 25.9 / (ohm + 0.3));
    // 50 A are more than that asks, 20 A less
    weak.pack.current_limit_a = Some(50.0);
    assert_eq!(held(&weak), (current_a, HeldBy::MostPower));
    weak.pack.current_limit_a = Some(20.0);
    let (limited_a, by) = held(&weak);
    close(
        "pack, weak",
        limited_a * limited_a * ohm,
        20.0 * (25.9 - 6.0),
        1e-12,
        0.0,
    );
    assert_eq!(by, HeldBy::Pack);
    build.controller.current_limit_a = Some(35.0);
    assert_eq!(held(&build), (35.0, HeldBy::Controller));
    build.motor.current_limit_a = Some(34.0);
    assert_eq!(held(&build), (34.0, HeldBy::Motor));
}

/// The duty for a speed and the speed at a duty are two ways of saying one thing.
#[test]
fn the_duty_for_a_speed_gives_that_speed() {
    for (duty, ambient_deg_c) in [
        ("0.3", 25.0),
        ("0.65", 25.0),
        ("0.9", 25.0),
        ("1.0", 25.0),
        ("1.0", -50.0),
    ] {
        let mut build = build(&[("controller.duty", Some(duty))]);
        build.controller.ambient_deg_c = ambient_deg_c;
        let point = predict(&build).unwrap().loaded;
        let met = duty_for(&build, point.speed_rad_s, 1.0).unwrap();
        close("duty", met.duty, duty.parse().unwrap(), 1e-7, 0.0);
        close(
            "current",
            met.point.pack_current_a,
            point.pack_current_a,
            1e-6,
            0.0,
        );
    }
}

/// Draws below zero were thrown away, and the "95 % range" was that of another distribution;
/// switching that outlasts its period came to 497 degC without a word.
#[test]
fn values_that_no_part_has_are_refused() {
    let told = |from: &str, to: &str| {
        let text = example_build().replace(from, to);
        assert_ne!(text, example_build(), "{from}");
        let errors = Build::parse(&text, "fan.toml").expect_err(to);
        let [problem] = errors.problems() else {
            panic!("{to}: {:?}", errors.problems());
        };
        assert!(!problem.marks().is_empty() && problem.remedy().is_some());
        problem.to_string()
    };
    assert_eq!(
        told("\"90 mohm ± 10 %\"", "\"90 mohm ± 300 %\""),
        "`motor.line_resistance`: the tolerance reaches down to -180 mohm, and allowed is above 0 ohm, at most 10 kohm"
    );
    told("\"90 mohm ± 10 %\"", "\"90 mohm ± 90 mohm\"");
    told("\"0.6 A ± 0.2 A\"", "\"0.6 A ± 0.7 A\"");
    // as far as to nothing is a no-load current still
    let text = example_build().replace("± 0.2 A", "± 0.6 A");
    assert!(Build::parse(&text, "fan.toml").is_ok());
    assert_eq!(
        told("\"100 ns\"", "\"100 us\""),
        "switching takes 100 µs of a chopping period of 50.0 µs"
    );
    assert_eq!(
        told("\"0.6 A ± 0.2 A\"", "\"20 A\""),
        "the motor takes 20.0 A with nothing on the shaft, and bears 18 A"
    );
    assert_eq!(
        told(
            "[controller]",
            "[controller]\nambient = \"120 degC\"\njunction_limit = \"100 degC\""
        ),
        "the air has 120 degC, and the junctions may have 100 degC"
    );
}
/// The example with a chopper of its own, all else as its label says.
fn chopped(duty: f64, inductance: &str, frequency: &str, synchronous: bool) -> Build {
    let mut build = build(&[
        ("motor.line_inductance", Some(&format!("\"{inductance}\""))),
        (
            "controller.pwm_frequency",
            Some(&format!("\"{frequency}\"")),
        ),
        ("controller.duty", Some(&format!("{duty:?}"))),
    ]);
    build.controller.synchronous = synchronous;
    build
}

/// Broke: without a synchronous lower switch a small current ceases within the chopping period, and
/// the motor runs faster than the mean voltage lets it (385 rpm were predicted where 510 came). Now
/// the point is held beside the simulation, over duties, inductances and frequencies.
#[test]
fn a_current_that_ceases_is_predicted() {
    let mut n_ceasing = 0;
    for (inductance, frequency, synchronous) in [
        ("36 uH", "20 kHz", false),
        ("36 uH", "20 kHz", true),
        ("150 uH", "20 kHz", false),
        ("36 uH", "48 kHz", false),
        ("12 uH", "20 kHz", false),
    ] {
        for duty in [0.05, 0.1, 0.2, 0.4, 0.7, 0.95] {
            let build = chopped(duty, inductance, frequency, synchronous);
            let Ok(prediction) = predict(&build) else {
                // with so little it does not turn itself
                assert!(duty < 0.1, "{inductance}, {frequency}, {duty}");
                continue;
            };
            let point = prediction.loaded;
            let ceases = point.regime == Regime::Discontinuous;
            assert!(ceases || point.regime == Regime::Continuous, "{point:?}");
            assert!(!(ceases && synchronous), "a switch lets it back");
            n_ceasing += u32::from(ceases);
            let simulated = confirm(&build, &point).unwrap();
            for (name, _, got, want) in simulated.beside(&point) {
                let what = format!("{inductance}, {frequency}, {synchronous}, {duty}: {name}");
                // heat goes with the square of what else is compared; that of the bridge beside all heat
                let (tolerance, rest) = match name {
                    "heat in the windings" => (0.11, 0.0),
                    "heat in switches and diodes" => (0.06, 0.03 * simulated.copper_w),
                    _ => (0.06, 0.0),
                };
                close(&what, got, want, tolerance, rest);
            }
        }
    }
    assert!(n_ceasing >= 5, "{n_ceasing}");
}

/// The same build free to turn settles where it was predicted, from below and to the same load.
#[test]
fn a_ceasing_current_gives_the_speed_of_a_free_run() {
    for (duty, ceases) in [
        (0.1, true),
        (0.15, true),
        (0.2, true),
        (0.3, true),
        (0.4, false),
    ] {
        let build = chopped(duty, "36 uH", "20 kHz", false);
        let point = predict(&build).unwrap().loaded;
        assert_eq!(point.regime == Regime::Discontinuous, ceases, "{duty}");
        let mut setup = build.to_setup(&point);
        setup.run.duration_s = 2.0;
        setup.run.measure_s = 0.3;
        let free = run(&setup);
        close(
            &format!("free speed at {duty}"),
            free.mean_speed_rpm(),
            point.speed_rad_s / RPM,
            0.01,
            0.0,
        );
    }
}

/// Broke: 3 uH at 8 kHz and half duty gave 4721 rpm with 23 A of a ripple that reverses, where a
/// diode lets nothing reverse: the simulation turns at 9924 rpm.
#[test]
fn a_motor_of_little_inductance_runs_up_to_the_voltage() {
    let mut build = chopped(0.5, "3 uH", "8 kHz", false);
    build.loads.propeller.as_mut().unwrap().diameter_m = 0.1;
    let point = predict(&build).unwrap().loaded;
    assert_eq!(point.regime, Regime::Discontinuous);
    let mut setup = build.to_setup(&point);
    setup.run.duration_s = 2.0;
    setup.run.measure_s = 0.3;
    let free = run(&setup);
    close(
        "free speed",
        free.mean_speed_rpm(),
        point.speed_rad_s / RPM,
        0.005,
        0.0,
    );
    // little more than one period in a step: currents are only about right
    let simulated = confirm(&build, &point).unwrap();
    close("rms", point.phase_rms_a, simulated.phase_rms_a, 0.1, 0.0);
}

/// Over the duty nothing jumps where the current begins to flow all the time.
#[test]
fn figures_go_on_smoothly_where_the_current_no_longer_ceases() {
    let at = |duty: f64| {
        predict(&chopped(duty, "36 uH", "20 kHz", false))
            .unwrap()
            .loaded
    };
    // the last duty at which it ceases, to 1e-7
    let (mut low, mut high) = (0.2, 0.9);
    assert_eq!(at(low).regime, Regime::Discontinuous);
    assert_eq!(at(high).regime, Regime::Continuous);
    while high - low > 1e-7 {
        let middle = f64::midpoint(low, high);
        if at(middle).regime == Regime::Discontinuous {
            low = middle;
        } else {
            high = middle;
        }
    }
    let (before, after) = (at(low), at(high));
    for (what, a, b) in [
        ("speed", before.speed_rad_s, after.speed_rad_s),
        ("current", before.motor_current_a, after.motor_current_a),
        ("rms", before.phase_rms_a, after.phase_rms_a),
        ("peak", before.phase_peak_a, after.phase_peak_a),
        ("pack", before.pack_current_a, after.pack_current_a),
        ("diodes", before.heat.diode_w, after.heat.diode_w),
        ("switching", before.heat.switching_w, after.heat.switching_w),
        ("one", before.heat.per_mosfet_w, after.heat.per_mosfet_w),
    ] {
        close(what, a, b, 1e-5, 0.0);
    }
}

/// The printed formula of the bridge's voltage gives the printed value, with ripple and switching in
/// the pack's current; and the parts are the whole.
#[test]
fn the_packs_sag_is_that_of_the_packs_current() {
    let mut soft = chopped(0.4, "36 uH", "20 kHz", false);
    soft.pack.resistance_ohm = 0.1;
    let point = predict(&soft).unwrap().loaded;
    close(
        "bridge",
        point.bridge_v,
        soft.pack.voltage_v - soft.pack.resistance_ohm * point.pack_current_a,
        1e-9,
        0.0,
    );
    close(
        "power",
        point.input_w,
        point.shaft_w + point.no_load_loss_w + point.copper_w + point.heat.total_w(),
        1e-9,
        0.0,
    );
}

/// Broke: where the model does not hold, what it could not place was called heat of diodes, 585 W of
/// diodes without a drop.
#[test]
fn diodes_without_a_drop_have_no_heat() {
    let mut build = build(&[
        ("motor.line_inductance", Some("\"2 mH\"")),
        ("controller.diode_drop", None),
        ("controller.duty", Some("1.0")),
    ]);
    build.loads.constant_nm = 0.05;
    let point = predict(&build).unwrap().loaded;
    assert!(point.regime.is_outside(), "{point:?}");
    close("diodes", point.heat.diode_w, 0.0, 0.0, 1e-12);
}

/// The lower side carries the off time: at little duty it is the hotter, by the simulation's own
/// waveforms 3.74 W of each lower switch against 0.27 W of each upper one.
#[test]
fn the_hotter_side_has_the_junction() {
    let build = Build::parse(
        r#"
        format = 1
        [motor]
        kv = "60 rpm/V"
        line_resistance = "100 mohm"
        line_inductance = "300 uH"
        poles = 14
        no_load_current = "0.5 A"
        no_load_voltage = "24 V"
        [pack]
        voltage = "24 V"
        [controller]
        on_resistance = "4 mohm"
        diode_drop = "0.8 V"
        thermal_resistance = "20 K/W"
        duty = 0.4
        [load]
        constant = "3 Nm"
        "#,
        "hub",
    )
    .unwrap();
    let heat = predict(&build).unwrap().loaded.heat;
    assert!(!heat.upper_is_hotter);
    close("lower", heat.per_mosfet_w, 3.74, 0.05, 0.0);
    close("junction", heat.junction_deg_c.unwrap(), 100.0, 0.04, 0.0);
}

/// A hill's weight hangs and its rolling drag drags: m g sin α against m g c cos α, by hand. With
/// both on the drag's side the hill pulled too little and dragged too much.
#[test]
fn a_hill_hangs_by_its_grade_alone() {
    let text = TROLLEY
        .replace("mass = \"80 kg\"", "mass = \"40 kg\"")
        .replace("wheel_diameter = \"250 mm\"", "wheel_diameter = \"200 mm\"")
        .replace("grade = 0.08", "grade = 0.3")
        .replace("\"0.02 ± 0.005\"", "0.2")
        .replace("ratio = 6.0\nefficiency = 0.9", "ratio = 10.0")
        .replace("[load]\nconstant = \"0.3 Nm\"\n", "");
    let build = Build::parse(&text, "hill").unwrap();
    let point = predict(&build).unwrap().loaded;
    let load = build.to_setup(&point).bench.load;
    let alpha = 0.3_f64.atan();
    let weight_nm = 0.1 * 40.0 * 9.80665 / 10.0;
    // six digits are written
    close(
        "hangs",
        load.gravity_nm,
        weight_nm * libm::sin(alpha),
        1e-5,
        0.0,
    );
    close(
        "drags",
        load.constant_nm,
        0.2 * weight_nm * libm::cos(alpha),
        1e-5,
        0.0,
    );
    close("hangs", load.gravity_nm, 1.12717, 1e-5, 0.0);
    close("drags", load.constant_nm, 0.751_446, 1e-5, 0.0);
}

/// What a build may hold and a setup may not is said before anything is written.
#[test]
fn a_setup_that_no_run_takes_is_refused() {
    for (key, value, told) in [
        (
            "motor.line_inductance",
            "\"1 nH\"",
            "machine.phase.inductance",
        ),
        (
            "controller.pwm_frequency",
            "\"0.5 Hz\"",
            "drive.pwm.frequency",
        ),
    ] {
        let odd = build(&[(key, Some(value))]);
        let point = predict(&odd).unwrap().loaded;
        let errors = odd.checked_setup(&point).unwrap_err();
        let problem = errors.problems()[0].to_string();
        assert!(problem.contains(told), "{problem}");
    }
    let usual = build(&[]);
    let point = predict(&usual).unwrap().loaded;
    assert_eq!(usual.checked_setup(&point).unwrap(), usual.to_setup(&point));
}

/// A rotor that decides the time is counted, and said to be assumed; a vehicle that does not start
/// has its speeds with a word of caution.
#[test]
fn what_moves_is_not_promised() {
    let text = TROLLEY.replace(
        "[vehicle]",
        "[winch]\nmass = \"100 kg\"\ndrum_diameter = \"50 mm\"\n[vehicle]",
    );
    let text = text[..text.find("[vehicle]").unwrap()].replace("ratio = 6.0", "ratio = 100.0");
    let winch = Build::parse(&text, "winch").unwrap();
    let prediction = predict(&winch).unwrap();
    // 100 kg · (25 mm)²/(100² · 0.9) beside 20 ms · Kt²/R
    let kt = winch.motor.torque_constant_nm_per_a();
    let (load, rotor) = (100.0 * 0.025 * 0.025 / 9000.0, 0.02 * kt * kt / 0.09);
    assert!(rotor > 100.0 * load);
    // at least the time that nine tenths take at the largest torque there is
    let most_nm = kt * 0.5 * 25.9 / (0.09 + 0.06);
    let least_s = (load + rotor) * 0.9 * prediction.loaded.speed_rad_s / most_nm;
    let got_s = prediction.time_to_speed_s.unwrap();
    assert!(got_s > least_s, "{got_s} {least_s}");
    let words = prediction.moving_words(&winch).join(" ");
    assert!(words.contains("inertia is assumed"), "{words}");
    let mut heavy = Build::parse(TROLLEY, "trolley").unwrap();
    assert_eq!(predict(&heavy).unwrap().moving_words(&heavy).len(), 0);
    heavy.motor.current_limit_a = Some(5.0);
    let words = predict(&heavy).unwrap().moving_words(&heavy).join(" ");
    assert!(words.contains("does not start"), "{words}");
}

/// An inductance that was estimated is said to be one, and which way it errs is so.
#[test]
fn an_estimated_inductance_errs_the_way_it_says() {
    let given = build(&[]);
    assert_eq!(given.motor.inductance_words(), None);
    let without = build(&[("motor.line_inductance", None)]);
    let words = without.motor.inductance_words().unwrap();
    assert!(
        words.contains("18.00 µH") && words.contains("slower still"),
        "{words}"
    );
    let speed = |build: &Build| predict(build).unwrap().loaded.speed_rad_s;
    let less = build(&[("motor.line_inductance", Some("\"9 uH\""))]);
    assert!(speed(&given) < speed(&without) && speed(&without) < speed(&less));
}
