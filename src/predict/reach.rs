//! Whether a load lets itself be started, and where and how fast a vehicle can go.

use super::build::Build;
use super::loads::{FREE_FALL_M_S2, Vehicle};
use super::point::{PredictError, settled};

/// What holds the current of a standing motor down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HeldBy {
    /// Resistance on the way from the pack through switches and winding.
    Resistance,
    /// The largest lasting current of the motor.
    Motor,
    /// The largest lasting current of the controller.
    Controller,
    /// The largest lasting current of the pack, of which a chopper makes more.
    Pack,
    /// The pack's own resistance: with half of its voltage left it gives the most power, of which a
    /// chopper makes more current than there is fully on.
    MostPower,
}

/// A motor at a standstill, its controller giving as much as all limits let it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standstill {
    /// Current of the two conducting phases in A.
    pub current_a: f64,
    /// What holds it there.
    pub held_by: HeldBy,
    /// Torque on the load's shaft, behind gear and no-load torque, in N m.
    pub load_shaft_nm: f64,
    /// Torque that the load asks at rest in N m.
    pub asked_nm: f64,
}

impl Standstill {
    /// The standing motor of a build, whatever its duty.
    ///
    /// Fully on, I = U/(R + 2 R_on/n + R_pack). Chopped, the pack gives I_pack (U − R_pack I_pack),
    /// which at rest heats R + 2 R_on/n alone, so that I = √(I_pack (U − R_pack I_pack)/(R + 2 R_on/n)),
    /// with I_pack up to the pack's limit, or to U/(2 R_pack), where its power is largest (maximum
    /// power transfer of the textbooks of circuits). Where that is more than it gives fully on, it is
    /// fully on.
    /// Torque g η K_t (I − I₀): of the ideal trapezoid, the same in every position; cogging and
    /// the inductance of the chopper's ripple are left out.
    #[must_use]
    pub fn of(build: &Build) -> Self {
        let (motor, pack, controller) = (&build.motor, &build.pack, &build.controller);
        let on_ohm = 2.0 * controller.on_resistance_ohm / f64::from(controller.parallel);
        let ohm = motor.line_resistance_ohm + on_ohm;
        let locked_a = pack.voltage_v / (ohm + pack.resistance_ohm);
        // the most power of the pack; without resistance there is no such place
        let matched_a = pack.voltage_v / (2.0 * pack.resistance_ohm);
        let limit_a = pack.current_limit_a.unwrap_or(f64::INFINITY);
        let from_pack_a =
            |from_a: f64| (from_a * (pack.voltage_v - pack.resistance_ohm * from_a) / ohm).sqrt();
        let (mut current_a, mut held_by) = if limit_a < locked_a.min(matched_a) {
            (from_pack_a(limit_a), HeldBy::Pack)
        } else if matched_a < locked_a {
            (from_pack_a(matched_a), HeldBy::MostPower)
        } else {
            (locked_a, HeldBy::Resistance)
        };
        for (limit_a, by) in [
            (motor.current_limit_a, HeldBy::Motor),
            (controller.current_limit_a, HeldBy::Controller),
        ] {
            if let Some(limit_a) = limit_a
                && limit_a < current_a
            {
                (current_a, held_by) = (limit_a, by);
            }
        }
        let own_a = motor.no_load_current_a;
        let shaft_nm = motor.torque_constant_nm_per_a() * (current_a - own_a).max(0.0);
        Self {
            current_a,
            held_by,
            load_shaft_nm: build.gear.ratio * build.gear.efficiency * shaft_nm,
            asked_nm: build.loads.torque_nm(0.0),
        }
    }

    /// Whether it gets the load moving.
    #[must_use]
    pub fn starts(&self) -> bool {
        self.load_shaft_nm > self.asked_nm
    }
}

/// Where and how fast a vehicle can go.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reach {
    /// At rest on the given grade.
    pub standstill: Standstill,
    /// Steepest grade on which it starts, rise over run; infinite where none is too steep.
    pub steepest_grade: f64,
    /// Steady speed on the level, fully on, in m/s.
    pub level_m_s: Result<f64, PredictError>,
    /// Steady speed on the given grade, fully on, in m/s.
    pub on_grade_m_s: Result<f64, PredictError>,
}

impl Reach {
    /// Of the build's vehicle, where it has one.
    #[must_use]
    pub fn of(build: &Build) -> Option<Self> {
        let vehicle = build.loads.vehicle?;
        let standstill = Standstill::of(build);
        let mut others = build.loads;
        others.vehicle = None;
        let push_n = (standstill.load_shaft_nm - others.torque_nm(0.0)) / vehicle.wheel_radius_m;
        let speed_m_s = |grade: f64| {
            let mut build = build.clone();
            build.controller.duty = 1.0;
            build.loads.vehicle = Some(Vehicle { grade, ..vehicle });
            let (point, _) = settled(&build)?;
            Ok(point.speed_rad_s / build.gear.ratio * vehicle.wheel_radius_m)
        };
        Some(Self {
            standstill,
            steepest_grade: steepest_grade(&vehicle, push_n),
            level_m_s: speed_m_s(0.0),
            on_grade_m_s: speed_m_s(vehicle.grade),
        })
    }
}

/// Grade whose weight and rolling drag are a push at the wheel: m g (sin α + c cos α) = F has
/// α = asin(F / (m g √(1 + c²))) − atan c, from the sine of a sum.
fn steepest_grade(vehicle: &Vehicle, push_n: f64) -> f64 {
    let c = vehicle.rolling_coefficient;
    let part = push_n / (vehicle.mass_kg * FREE_FALL_M_S2 * libm::hypot(1.0, c));
    if part >= 1.0 {
        return f64::INFINITY;
    }
    libm::tan(libm::asin(part.max(-1.0)) - libm::atan(c))
}
