//! Setups for comparing simulators: short, varied, each with something that is easy to miss.
//!
//! The machines are invented. Event times are kept away from sample instants where a case has
//! no reason to put them there.

use std::f64::consts::{PI, TAU};
use wyebench::setup::{
    Bench, Change, Chop, Commutation, Connection, Construction, Direction, DriveSetup, EmfConstant,
    EmfSetup, EmfShape, ForcedSetup, Gates, LoadSetup, MachineSetup, PwmSetup, RunSetup, Setup,
    SoftSource, SupplySetup, SwitchSetup,
};

/// rad/s of one rpm.
pub const RPM: f64 = TAU / 60.0;
/// rad of one degree.
pub const DEG: f64 = PI / 180.0;

/// All cases with their names.
pub fn all() -> Vec<(&'static str, Setup)> {
    vec![
        ("high-side chop from rest", high_side_from_rest()),
        ("overrun regenerates", overrun()),
        ("delta, sine", delta_sine()),
        ("delta, trapezoid", delta_trapezoid()),
        ("soft supply", soft_supply()),
        (
            "both-sides chop, gaps in the current",
            both_sides_with_gaps(),
        ),
        ("synchronous chop brakes", synchronous_braking()),
        ("forced start, sine", forced_start()),
        ("reverse with advance and cogging", reverse_with_cogging()),
        ("coast, then brake", coast_then_brake()),
        ("harmonics lift a weight", harmonics_lift()),
        ("stall by dry friction", stall_by_dry_friction()),
        ("weight pulls the rotor back", weight_pulls_back()),
        ("delta coasts above the supply", delta_overrun_coast()),
        ("changes by hand", changes_by_hand()),
    ]
}

/// The case of the speed comparison: an outrunner of 12 slots and 14 poles, from rest, 1 s.
pub fn standard_case() -> Setup {
    let mut setup = base();
    setup.title = "Sluice drive, standard case".into();
    setup.run.duration_s = 1.0;
    setup.run.measure_s = 0.2;
    setup
}

/// 14 poles, star, trapezoid, 20 kHz high-side chop at 60 %, stiff 11.1 V, 20 ms from rest.
fn base() -> Setup {
    Setup {
        title: String::new(),
        machine: MachineSetup {
            construction: Construction::Outrunner,
            slots: 12,
            poles: 14,
            connection: Connection::Star,
            phase_resistance_ohm: Some(0.045),
            phase_inductance_h: Some(18e-6),
            emf: EmfSetup {
                shape: EmfShape::Trapezoid,
                constant: EmfConstant::KvRadPerVs(900.0 * RPM),
            },
            winding: None,
            geometry: None,
            rotor_inertia_kg_m2: 1.2e-5,
            viscous_friction_nm_s: 1e-6,
            dry_friction_nm: 0.0,
            cogging_peak_nm: Some(0.0),
        },
        bench: Bench {
            drive: DriveSetup {
                commutation: Commutation::Position,
                advance_rad: 0.0,
                direction: Direction::Forward,
                gates: Gates::Stepping,
                pwm: Some(PwmSetup {
                    frequency_hz: 20e3,
                    duty: 0.6,
                    chop: Chop::HighSide,
                }),
                forced: None,
                switch: SwitchSetup {
                    on_resistance_ohm: 0.005,
                    parallel: 2,
                    diode_drop_v: 0.7,
                    diode_resistance_ohm: 0.0,
                },
            },
            supply: SupplySetup {
                voltage_v: 11.1,
                source: None,
            },
            load: LoadSetup {
                constant_nm: 0.0,
                gravity_nm: 0.0,
                quadratic_nm_s2: 1.5e-8,
                inertia_kg_m2: 0.0,
            },
        },
        run: RunSetup {
            duration_s: 0.02,
            start_speed_rad_s: 0.0,
            start_angle_rad: 0.0,
            hold_speed: false,
            sample_s: 10e-6,
            measure_s: 0.01,
        },
        changes: Vec::new(),
    }
}

fn set_pwm(bench: &mut Bench, frequency_hz: f64, duty: f64, chop: Chop) {
    bench.drive.pwm = Some(PwmSetup {
        frequency_hz,
        duty,
        chop,
    });
}

/// Adds a change on top of the bench so far.
fn change(setup: &mut Setup, at_s: f64, key: &str, value: &str, how: impl FnOnce(&mut Bench)) {
    let mut bench = setup
        .changes
        .last()
        .map_or_else(|| setup.bench.clone(), |c| c.bench.clone());
    how(&mut bench);
    setup.changes.push(Change {
        at_s,
        key: key.into(),
        value: value.into(),
        bench,
    });
}

/// The ordinary case.
pub fn high_side_from_rest() -> Setup {
    let mut setup = base();
    setup.run.start_angle_rad = 1.7 * DEG;
    setup
}

/// Started well above no-load speed: the EMF drives current back through the diodes.
pub fn overrun() -> Setup {
    let mut setup = base();
    setup.bench.drive.pwm = None;
    setup.run.start_speed_rad_s = 15_000.0 * RPM;
    setup.run.start_angle_rad = 0.4 * DEG;
    setup.run.duration_s = 0.015;
    setup
}

/// Delta with sine EMF: no circulating current, leads decided by line voltages.
pub fn delta_sine() -> Setup {
    let mut setup = base();
    setup.machine.connection = Connection::Delta;
    setup.machine.emf.shape = EmfShape::Sine;
    setup.machine.phase_resistance_ohm = Some(0.12);
    setup.machine.phase_inductance_h = Some(50e-6);
    setup.bench.drive.advance_rad = -30.0 * DEG;
    set_pwm(&mut setup.bench, 16e3, 0.73, Chop::HighSide);
    setup.run.start_speed_rad_s = 2000.0 * RPM;
    setup
}

/// Delta with trapezoid EMF: the third harmonic drives a current round the delta.
pub fn delta_trapezoid() -> Setup {
    let mut setup = delta_sine();
    setup.machine.emf.shape = EmfShape::Trapezoid;
    setup.bench.drive.advance_rad = 0.0;
    set_pwm(&mut setup.bench, 24e3, 0.81, Chop::HighSide);
    setup
}

/// A long cable and a small capacitor: the bridge voltage sags and swings.
pub fn soft_supply() -> Setup {
    let mut setup = base();
    setup.bench.supply.source = Some(SoftSource {
        resistance_ohm: 0.08,
        capacitance_f: 220e-6,
    });
    set_pwm(&mut setup.bench, 11e3, 0.37, Chop::BothSides);
    setup.run.start_speed_rad_s = 1500.0 * RPM;
    setup
}

/// Low duty at speed with both sides off: current dies in each period.
pub fn both_sides_with_gaps() -> Setup {
    let mut setup = base();
    set_pwm(&mut setup.bench, 8e3, 0.33, Chop::BothSides);
    setup.bench.drive.switch.diode_resistance_ohm = 0.004;
    setup.run.start_speed_rad_s = 3500.0 * RPM;
    setup.run.start_angle_rad = 11.0 * DEG;
    setup
}

/// Synchronous chop: when the duty falls the machine brakes into the supply.
pub fn synchronous_braking() -> Setup {
    let mut setup = base();
    set_pwm(&mut setup.bench, 20e3, 0.75, Chop::HighSideSynchronous);
    setup.run.start_speed_rad_s = 6000.0 * RPM;
    setup.run.duration_s = 0.025;
    change(&mut setup, 0.010_013, "drive.pwm.duty", "0.25", |b| {
        set_pwm(b, 20e3, 0.25, Chop::HighSideSynchronous);
    });
    setup
}

/// Aligned, then stepped by a rising clock; sine EMF, some friction and load inertia.
pub fn forced_start() -> Setup {
    let mut setup = base();
    setup.machine.emf.shape = EmfShape::Sine;
    setup.machine.dry_friction_nm = 1.5e-3;
    setup.machine.viscous_friction_nm_s = 2e-4;
    setup.bench.drive.commutation = Commutation::Forced;
    setup.bench.drive.forced = Some(ForcedSetup {
        frequency_hz: 150.0,
        start_frequency_hz: 15.0,
        ramp_s: 0.03,
        start_step: 4,
        align_s: 0.012_003,
    });
    set_pwm(&mut setup.bench, 18e3, 0.27, Chop::HighSide);
    setup.run.start_angle_rad = -7.0 * DEG;
    setup.run.duration_s = 0.055;
    setup.run.measure_s = 0.03;
    setup.run.sample_s = 20e-6;
    setup
}

/// Backwards, with advance, over strong cogging.
pub fn reverse_with_cogging() -> Setup {
    let mut setup = base();
    setup.bench.drive.direction = Direction::Reverse;
    setup.bench.drive.advance_rad = 12.0 * DEG;
    setup.machine.cogging_peak_nm = Some(4e-3);
    setup.machine.dry_friction_nm = 0.8e-3;
    set_pwm(&mut setup.bench, 20e3, 0.45, Chop::HighSide);
    setup.run.start_angle_rad = 3.3 * DEG;
    setup.run.duration_s = 0.03;
    setup
}

/// All switches off at speed, then all lower ones on until the rotor stands.
pub fn coast_then_brake() -> Setup {
    let mut setup = base();
    setup.machine.dry_friction_nm = 8e-3;
    setup.machine.cogging_peak_nm = Some(1e-3);
    setup.run.start_speed_rad_s = 5000.0 * RPM;
    setup.run.duration_s = 0.06;
    setup.run.sample_s = 20e-6;
    change(&mut setup, 0.004_003, "drive.gates", "all-off", |b| {
        b.drive.gates = Gates::AllOff;
    });
    change(&mut setup, 0.009_001, "drive.gates", "all-low", |b| {
        b.drive.gates = Gates::AllLow;
    });
    setup
}

/// EMF with third, fifth and seventh harmonics, lifting a weight; the supply is soft too.
pub fn harmonics_lift() -> Setup {
    let mut setup = base();
    setup.machine.emf = EmfSetup {
        shape: EmfShape::Harmonics(vec![(1, 1.0), (3, 0.12), (5, -0.04), (7, 0.015)]),
        constant: EmfConstant::PhaseVsPerRad(6e-3),
    };
    setup.bench.load.gravity_nm = 25e-3;
    setup.bench.load.inertia_kg_m2 = 4e-6;
    setup.bench.supply.source = Some(SoftSource {
        resistance_ohm: 0.03,
        capacitance_f: 470e-6,
    });
    set_pwm(&mut setup.bench, 20e3, 0.52, Chop::HighSide);
    setup.bench.drive.advance_rad = 5.0 * DEG;
    setup.run.start_speed_rad_s = -400.0 * RPM;
    setup
}

/// A load that the drive cannot carry on: the rotor comes to rest and is held; then the duty
/// rises and it breaks away.
pub fn stall_by_dry_friction() -> Setup {
    let mut setup = base();
    setup.machine.dry_friction_nm = 30e-3;
    setup.bench.load.constant_nm = 90e-3;
    set_pwm(&mut setup.bench, 20e3, 0.06, Chop::HighSide);
    setup.run.start_speed_rad_s = 900.0 * RPM;
    setup.run.start_angle_rad = 0.9 * DEG;
    change(&mut setup, 0.011_007, "drive.pwm.duty", "0.5", |b| {
        set_pwm(b, 20e3, 0.5, Chop::HighSide);
    });
    setup
}

/// A weight stronger than the drive: forward, to rest, backward through many step changes.
pub fn weight_pulls_back() -> Setup {
    let mut setup = base();
    setup.bench.load.gravity_nm = 0.12;
    set_pwm(&mut setup.bench, 20e3, 0.05, Chop::HighSideSynchronous);
    setup.run.start_speed_rad_s = 1500.0 * RPM;
    setup.run.start_angle_rad = 2.3 * DEG;
    setup
}

/// A delta with all legs open whose EMF exceeds the supply: the diodes rectify.
pub fn delta_overrun_coast() -> Setup {
    let mut setup = delta_trapezoid();
    setup.bench.drive.gates = Gates::AllOff;
    setup.bench.supply = SupplySetup {
        voltage_v: 7.0,
        source: Some(SoftSource {
            resistance_ohm: 0.1,
            capacitance_f: 330e-6,
        }),
    };
    setup.run.start_speed_rad_s = 10_000.0 * RPM;
    setup.run.start_angle_rad = 1.1 * DEG;
    setup
}

/// Supply, load, advance, chop and frequency changed during the run.
pub fn changes_by_hand() -> Setup {
    let mut setup = base();
    setup.run.start_speed_rad_s = 3000.0 * RPM;
    setup.run.duration_s = 0.03;
    change(&mut setup, 0.003_003, "supply.voltage", "14.8 V", |b| {
        b.supply.voltage_v = 14.8;
    });
    change(&mut setup, 0.007_004, "load.inertia", "6e-6 kg m2", |b| {
        b.load.inertia_kg_m2 = 6e-6;
    });
    change(&mut setup, 0.011_006, "drive.advance", "20 deg", |b| {
        b.drive.advance_rad = 20.0 * DEG;
    });
    change(&mut setup, 0.015_007, "drive.pwm.chop", "both-sides", |b| {
        set_pwm(b, 20e3, 0.6, Chop::BothSides);
    });
    change(
        &mut setup,
        0.019_011,
        "drive.pwm.frequency",
        "13 kHz",
        |b| {
            set_pwm(b, 13e3, 0.6, Chop::BothSides);
        },
    );
    change(&mut setup, 0.023_013, "load.constant", "60 mNm", |b| {
        b.load.constant_nm = 60e-3;
    });
    setup
}
