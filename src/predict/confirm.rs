//! A predicted point against a full simulation of it.

use super::build::Build;
use super::point::Point;
use crate::analysis::{Measuring, Unit, shown};
use crate::setup::{
    Bench, Chop, Commutation, Connection, Construction, Direction, DriveSetup, EmfConstant,
    EmfSetup, EmfShape, Gates, LoadSetup, MachineSetup, PwmSetup, RunSetup, Setup, SetupErrors,
    SoftSource, SupplySetup, SwitchSetup,
};
use crate::slices::{rest, through};
use crate::winding::{Winding, gcd};

/// What a simulation says at a predicted speed. SI units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Confirmed {
    /// Mean electromagnetic torque in N m.
    pub torque_nm: f64,
    /// Torque over K_t in A.
    pub motor_current_a: f64,
    /// RMS current of a phase in A.
    pub phase_rms_a: f64,
    /// Mean current of the supply in A.
    pub supply_current_a: f64,
    /// Heat in the windings in W.
    pub copper_w: f64,
    /// Heat in switches and diodes, switching apart, in W.
    pub bridge_w: f64,
}

impl Confirmed {
    /// Name, unit, predicted and simulated value of what both say about a point. Supply current
    /// and heat of the bridge are those without switching, which the simulation has none of.
    #[must_use]
    pub fn beside(&self, point: &Point) -> [(&'static str, Unit, f64, f64); 6] {
        let predicted_a = (point.input_w - point.heat.switching_w) / point.bridge_v;
        let bridge_w = point.heat.conduction_w + point.heat.diode_w;
        [
            (
                "torque",
                Unit::NEWTON_METRE,
                point.torque_nm,
                self.torque_nm,
            ),
            (
                "motor current",
                Unit::AMPERE,
                point.motor_current_a,
                self.motor_current_a,
            ),
            (
                "phase current, RMS",
                Unit::AMPERE,
                point.phase_rms_a,
                self.phase_rms_a,
            ),
            (
                "supply current",
                Unit::AMPERE,
                predicted_a,
                self.supply_current_a,
            ),
            (
                "heat in the windings",
                Unit::WATT,
                point.copper_w,
                self.copper_w,
            ),
            (
                "heat in switches and diodes",
                Unit::WATT,
                bridge_w,
                self.bridge_w,
            ),
        ]
    }
}

/// How far predicted and simulated values of a point may be trusted to agree, in words.
#[must_use]
pub fn beside_words(build: &Build, point: &Point) -> String {
    if point.regime.is_outside() {
        return "At this point the model of the prediction no longer holds: go by the simulated values.".to_owned();
    }
    if build.controller.duty >= 1.0 {
        return "Without a chopper both agree to some parts in ten thousand.".to_owned();
    }
    let periods = build.controller.pwm_frequency_hz / (6.0 * point.electrical_frequency_hz);
    format!(
        "The prediction lays the chopper's edges over its mean, as if a step held very many PWM periods; here it holds {}.",
        shown(periods, Unit::NUMBER, 3).number
    )
}

impl Build {
    /// The same as a setup, where the bench takes it: a build may hold values beyond what a setup
    /// may, such as less inductance.
    ///
    /// # Errors
    /// What the setup's text would be refused for, with the place in it.
    pub fn checked_setup(&self, point: &Point) -> Result<Setup, SetupErrors> {
        let setup = self.to_setup(point);
        Setup::parse(&setup.to_toml(), "the setup of this build").map(|_| setup)
    }

    /// The build as a setup for the bench. What a label does not tell is chosen: the slots (tooth
    /// coils of the largest winding factor for these poles), an ideal trapezoid, and a rotor
    /// inertia of 20 ms times K_t²/R; and where the pack has resistance a capacitor across the bridge
    /// large enough that the pack carries the mean current, as the prediction takes it. What is
    /// computed is rounded to six digits. Loads are taken to the motor's shaft through the gear; a
    /// weight or slope becomes a torque that hangs there, at any speed.
    #[must_use]
    pub fn to_setup(&self, point: &Point) -> Setup {
        let (motor, controller, gear) = (&self.motor, &self.controller, &self.gear);
        let through = gear.ratio * gear.efficiency;
        let loads = &self.loads;
        // torque at standstill that hangs, and that drags, and the part with the speed squared
        let hanging = self.loads.winch.map_or(0.0, |winch| {
            winch.drum_radius_m * winch.mass_kg * super::FREE_FALL_M_S2
        }) + loads.vehicle.map_or(0.0, |vehicle| {
            vehicle.wheel_radius_m * vehicle.grade_force_n()
        });
        let dragging = loads.torque_nm(0.0) - hanging;
        let squared = loads.torque_nm(1.0) - loads.torque_nm(0.0);
        Setup {
            title: self.title.clone(),
            machine: MachineSetup {
                construction: Construction::Outrunner,
                slots: slots_for(2 * motor.pole_pairs),
                poles: 2 * motor.pole_pairs,
                connection: Connection::Star,
                phase_resistance_ohm: Some(six_digits(0.5 * motor.line_resistance_ohm)),
                phase_inductance_h: Some(six_digits(0.5 * motor.inductance_h())),
                emf: EmfSetup {
                    shape: EmfShape::Trapezoid,
                    constant: EmfConstant::KvRadPerVs(motor.kv_rad_per_v_s),
                },
                winding: None,
                geometry: None,
                rotor_inertia_kg_m2: six_digits(motor.assumed_rotor_kg_m2()),
                viscous_friction_nm_s: 0.0,
                dry_friction_nm: six_digits(motor.no_load_torque_nm()),
                cogging_peak_nm: Some(0.0),
            },
            bench: Bench {
                drive: DriveSetup {
                    commutation: Commutation::Position,
                    advance_rad: 0.0,
                    direction: Direction::Forward,
                    gates: Gates::Stepping,
                    pwm: (controller.duty < 1.0).then_some(PwmSetup {
                        frequency_hz: controller.pwm_frequency_hz,
                        duty: controller.duty,
                        chop: if controller.synchronous {
                            Chop::HighSideSynchronous
                        } else {
                            Chop::HighSide
                        },
                    }),
                    forced: None,
                    switch: SwitchSetup {
                        on_resistance_ohm: six_digits(
                            controller.on_resistance_ohm * point.heat.resistance_factor(),
                        ),
                        parallel: controller.parallel,
                        diode_drop_v: controller.diode_drop_v,
                        diode_resistance_ohm: 0.0,
                    },
                },
                supply: SupplySetup {
                    voltage_v: self.pack.voltage_v,
                    source: self.source(),
                },
                load: LoadSetup {
                    constant_nm: six_digits(dragging.max(0.0) / through),
                    gravity_nm: six_digits(hanging / through),
                    quadratic_nm_s2: six_digits(squared / (through * gear.ratio * gear.ratio)),
                    inertia_kg_m2: six_digits(
                        loads.total_inertia_kg_m2() / (gear.ratio * gear.ratio * gear.efficiency),
                    ),
                },
            },
            run: RunSetup {
                duration_s: 1.0,
                start_speed_rad_s: six_digits(point.speed_rad_s / RAD_S_PER_RPM) * RAD_S_PER_RPM,
                start_angle_rad: 0.0,
                hold_speed: false,
                sample_s: 10e-6,
                measure_s: 0.2,
            },
            changes: Vec::new(),
        }
    }

    /// The pack as a source, where it has resistance.
    fn source(&self) -> Option<SoftSource> {
        /// Chopping periods in the time constant of pack and capacitor.
        const PERIODS: f64 = 10.0;
        /// Least resistance that a setup takes.
        const LEAST_OHM: f64 = 1e-6;
        let resistance_ohm = self.pack.resistance_ohm;
        (resistance_ohm >= LEAST_OHM).then(|| {
            let wanted_f = PERIODS / (self.controller.pwm_frequency_hz * resistance_ohm);
            SoftSource {
                resistance_ohm,
                capacitance_f: digits(wanted_f.clamp(1e-9, 1e3), 1),
            }
        })
    }
}

/// rad/s of one rpm.
const RAD_S_PER_RPM: f64 = std::f64::consts::PI / 30.0;

/// A computed value without the digits that nothing vouches for.
fn six_digits(value: f64) -> f64 {
    digits(value, 6)
}

fn digits(value: f64, n: usize) -> f64 {
    let text = format!("{value:.*e}", n.saturating_sub(1));
    text.parse().unwrap_or(value)
}

/// Slots of the tooth-coil winding with the largest factor; 3 for each pole where no tooth coils
/// are balanced.
pub(crate) fn slots_for(poles: u32) -> u32 {
    let mut best = (0.0, 3 * poles);
    for slots in (3..=3 * poles).step_by(3) {
        if let Ok(winding) = Winding::lay_out(slots, poles, 2, 1) {
            let factor = winding.factor(1).total;
            // an unbalanced pull is no good choice
            if factor > best.0 + 1e-9 && gcd(slots, poles) > 1 {
                best = (factor, slots);
            }
        }
    }
    best.1
}

/// Simulates a predicted point, the shaft held at its speed, over whole turns.
///
/// Torque and currents may then be laid side by side at one speed; free to turn, both would settle
/// where their own torque is used up.
#[must_use]
pub fn confirm(build: &Build, point: &Point) -> Option<Confirmed> {
    through(confirm_in_slices(build, point))
}

/// The same, with rests.
pub async fn confirm_in_slices(build: &Build, point: &Point) -> Option<Confirmed> {
    /// Pieces of the solution between two rests: some milliseconds.
    const PIECES_AT_ONCE: u32 = 4000;
    let mut setup = build.to_setup(point);
    // at the point: the pack's sag is in it
    setup.bench.supply = SupplySetup {
        voltage_v: point.bridge_v,
        source: None,
    };
    setup.run.start_speed_rad_s = point.speed_rad_s;
    let turn_s = std::f64::consts::TAU / point.speed_rad_s;
    let settle_s = 10.0 * build.motor.inductance_h() / build.motor.line_resistance_ohm;
    setup.run.hold_speed = true;
    setup.run.duration_s = settle_s + 3.0 * turn_s;
    setup.run.measure_s = 2.5 * turn_s;
    let mut measuring = Measuring::new(&setup);
    while !measuring.advance(PIECES_AT_ONCE, &mut ()) {
        rest().await;
    }
    let window = measuring.outcome().window?;
    let per_s = 1.0 / (window.end_s - window.start_s);
    let torque_nm = window.torque_nm_s * per_s;
    let squares: f64 = window.phase_current_squared_s.iter().sum();
    Some(Confirmed {
        torque_nm,
        motor_current_a: torque_nm * build.motor.kv_rad_per_v_s,
        phase_rms_a: (squares / 3.0 * per_s).sqrt(),
        supply_current_a: window.supply_charge_as * per_s,
        copper_w: window.copper_j * per_s,
        bridge_w: window.bridge_j * per_s,
    })
}
